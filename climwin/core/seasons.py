"""Days of a 365-day year, and the cut that turns a record into seasons.

A daily series is laid out on a grid of calendar years, `by_year`; a season is a row of that grid
that begins on another day, `cut_seasons`. Only that day depends on the hemisphere. 29 February is
merged into 28 February.
"""

from __future__ import annotations

import datetime as dt
import re
from contextlib import suppress
from functools import lru_cache
from typing import TYPE_CHECKING, TypeVar

import numpy as np
from numpy.lib.stride_tricks import sliding_window_view

from climwin.core.errors import Call, DataGapError, InputError
from climwin.core.memo import remembered
from climwin.core.schema import apply, variable
from climwin.core.wording import MONTHS

if TYPE_CHECKING:
    import xarray as xr

Labelled = TypeVar("Labelled", "xr.DataArray", "xr.Dataset")

DAYS = 365
LEAP_DAY = 59
"""Day of the year of 28 February, into which 29 February is merged."""

_FIRST_HALF = 183
"""Days of the first half of a season; the second has 182."""

ONE_DAY = np.timedelta64(1, "D")
MONTH_STARTS = np.cumsum([0, 31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30])
"""Days of the year, counted from 0, on which the months begin."""
_MERGE = {"tmin": np.fmin, "tmax": np.fmax}  # a freeze on 29 February is not lost; else the mean


# --- days of the year ---------------------------------------------------------------------


def day_number(text: str) -> int:
    """Day of the year, 1 to 365, of a date written as month and day.

    Parameters
    ----------
    text : str
        ``"04-20"``, ``"20 Apr"`` or ``"Apr 20"``; with a slash or a dot, in either order if only
        one order gives a date: ``"4/15"`` and ``"15.4."``, not ``"4/5"``.

    Raises
    ------
    ValueError
        If there is no such date in a year of 365 days, or it could be two dates.
    """
    numeric = re.fullmatch(r"(\d{1,2})-(\d{1,2})", text.strip())
    words = re.fullmatch(r"(?:(\d{1,2}) ([A-Za-z]{3,9})|([A-Za-z]{3,9}) (\d{1,2}))", text.strip())
    month = day = 0
    if numeric:
        month, day = int(numeric[1]), int(numeric[2])
    elif words:
        name, day = (words[2] or words[3])[:3].title(), int(words[1] or words[4])
        month = MONTHS.index(name) + 1 if name in MONTHS else 0
    elif re.fullmatch(r"\d{1,2}[/.] ?\d{1,2}\.?", text.strip()) and len(_days_meant(text)) == 1:
        [(month, day)] = _days_meant(text)
    try:
        return int(dt.date(2001, month, day).strftime("%j"))
    except ValueError:
        meant = [
            f"'{dt.date(2001, month, day):%m-%d}' ({day} {MONTHS[month - 1]})"
            for month, day in _days_meant(text)
        ]
        if len(meant) > 1:
            msg = f"{text!r} may be {' or '.join(meant)}. Write the one that you mean."
            raise InputError(msg) from None
        hint = f" Did you mean {' or '.join(meant)}?" if meant else ""
        msg = (
            f"{text!r} is not a day of the year. "
            "Write month and day, such as '04-20' or '20 Apr'; 29 February counts as '02-28'."
            f"{hint}"
        )
        raise InputError(msg) from None


def _days_meant(text: str) -> list[tuple[int, int]]:
    """Months and days that someone may have meant by two numbers.

    The two may be in either order; a year before or after them is ignored.
    """
    numbers = [int(part) for part in re.findall(r"\d+", re.sub(r"\b\d{4}\b", "", text))]
    if len(numbers) != 2 or re.search("[A-Za-z]", text):
        return []
    first, second = numbers
    found = []
    for month, day in dict.fromkeys(((first, second), (second, first))):
        with suppress(ValueError):
            dt.date(2001, month, day)
            found.append((month, day))
    return found


def checked_day(day: int | str) -> int:
    """Day of the year given as its number, or as a date that `day_number` reads; 1 to 365."""
    number = day_number(day) if isinstance(day, str) else day
    if not 1 <= number <= DAYS:
        msg = f"A day of the year lies between 1 and {DAYS}, got {day}. Or write it as '05-10'."
        raise InputError(msg)
    return number


def day_name(day: float) -> str:
    """Day of the year as people write it, such as ``"20 Apr"``; days past 365 wrap round."""
    number = (int(np.floor(day + 0.5)) - 1) % DAYS + 1
    month = int(np.searchsorted(MONTH_STARTS, number - 1, side="right"))
    return f"{number - MONTH_STARTS[month - 1]} {MONTHS[month - 1]}"


def day_of_year(time: xr.DataArray | np.ndarray) -> np.ndarray:
    """Day of the 365-day year of each date: 1 to 365, 29 February as 59."""
    return split_dates(np.asarray(time))[1]


def split_dates(time: np.ndarray) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Year, day of the 365-day year, and whether it is 29 February, of each date.

    Those of a record's days are remembered, and read only: many functions ask for them.
    """
    dates = time.astype("datetime64[D]")
    if dates.ndim == 1 and len(dates) and (np.diff(dates) == ONE_DAY).all():
        return _split_days(dates[0], len(dates))
    return _split(dates)


@lru_cache(maxsize=8)
def _split_days(first: np.datetime64, count: int) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    parts = _split(first + np.arange(count) * ONE_DAY)
    for part in parts:
        part.setflags(write=False)
    return parts


def _split(dates: np.ndarray) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    years = dates.astype("datetime64[Y]")
    year = years.astype(int) + 1970
    ordinal = (dates - years.astype("datetime64[D]")).astype(int) + 1
    leap = is_leap(year)
    return year, ordinal - (leap & (ordinal > LEAP_DAY)), leap & (ordinal == LEAP_DAY + 1)


def is_leap(year: np.ndarray) -> np.ndarray:
    """Whether each year of the Gregorian calendar is a leap year."""
    return (year % 4 == 0) & ((year % 100 != 0) | (year % 400 == 0))


def date_of(year: np.ndarray, day: np.ndarray) -> np.ndarray:
    """Date of a day of the 365-day year, as ``datetime64[D]``; days may run past either end.

    Parameters
    ----------
    year, day : array_like, same shape
        Year, and day of the year counted from 1; NaN gives NaT.
    """
    year, day = np.broadcast_arrays(np.asarray(year, float), np.asarray(day, float))
    known = np.isfinite(year) & np.isfinite(day)
    count = np.where(known, day, 1).astype(int) - 1
    full = np.where(known, year, 1970).astype(int) + count // DAYS
    ordinal = count % DAYS
    start = (full - 1970).astype("datetime64[Y]").astype("datetime64[D]")
    date = start + ONE_DAY * (ordinal + (is_leap(full) & (ordinal >= LEAP_DAY)))
    return np.where(known, date, np.datetime64("NaT", "D"))


def every_day(first: np.datetime64, last: np.datetime64) -> np.ndarray:
    """Each date from `first` to `last`, inclusive, as ``datetime64[s]``."""
    return np.arange(first, last + ONE_DAY, dtype="datetime64[D]").astype("datetime64[s]")


# --- from a series to a grid of years -----------------------------------------------------


def record_dates(da: xr.DataArray) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Year, day of the year and whether it is 29 February, of each date of a daily series.

    Raises
    ------
    DataGapError
        If it has no days.
    ValueError
        If it has a date twice, or endless values.
    """
    time = np.asarray(da["time"])
    if not len(time):
        msg = f"{da.name!r} has no days at all."
        raise DataGapError(msg)
    if len(np.unique(time.astype("datetime64[D]"))) != len(time):
        msg = f"{da.name!r} holds the same date twice. Read it with "
        raise InputError(msg, Call("read_daily", ("path",)), ", or drop one.")
    if da.chunks is None and np.isinf(da.values).any():
        endless = int(np.isinf(da.values).sum())
        msg = f"{da.name!r} holds endless values, {endless} in all. Make them missing."
        raise InputError(msg)
    return split_dates(time)


@remembered
def by_year(da: xr.DataArray) -> xr.DataArray:
    """Daily series on a grid of calendar years by days of the year.

    Parameters
    ----------
    da : DataArray, dims (..., time)
        Daily values; days may be missing, in any order, no date twice.

    Returns
    -------
    DataArray, dims (..., year, day_of_year)
        NaN where there was no value. 29 February is merged into 28 February: the lower of two
        minima, the higher of two maxima, otherwise the mean.
    """
    time = np.asarray(da["time"])
    year, day, leap = record_dates(da)
    years = np.arange(year.min(), year.max() + 1)
    merge = _MERGE.get(str(da.name), _mean_of_two)

    row = year - years[0]
    usual = np.flatnonzero(~leap)
    source = np.full(len(years) * DAYS, -1)  # the day that each cell of the grid holds
    source[row[usual] * DAYS + day[usual] - 1] = usual

    def kernel(values: np.ndarray) -> np.ndarray:
        cells = values.astype(float, order="C").take(source, axis=-1)
        cells[..., source < 0] = np.nan
        grid = cells.reshape(*values.shape[:-1], len(years), DAYS)
        february = (..., row[leap], LEAP_DAY - 1)
        grid[february] = merge(grid[february], values[..., leap])
        return grid

    out = apply(
        kernel,
        da,
        core=[["time"]],
        out=[["year", "day_of_year"]],
        sizes={"year": len(years), "day_of_year": DAYS},
    )
    seen = time[_has_value(da)] if da.chunks is None else time
    seen = seen if len(seen) else time
    span = {"first_date": str(seen.min())[:10], "last_date": str(seen.max())[:10]}
    out = out.assign_coords(year=years, day_of_year=np.arange(1, DAYS + 1))
    return out.rename(da.name).assign_attrs(da.attrs | span)


def _has_value(da: xr.DataArray) -> np.ndarray:
    """Days with a value anywhere, so that trailing empty days do not lengthen a record."""
    other = [name for name in da.dims if name != "time"]
    return np.asarray(da.notnull().any(other))


def _mean_of_two(a: np.ndarray, b: np.ndarray) -> np.ndarray:
    return np.where(np.isnan(a), b, np.where(np.isnan(b), a, (a + b) / 2))


# --- the year's cut -----------------------------------------------------------------------


@remembered
def smoothed_year(grid: xr.DataArray) -> xr.DataArray:
    """The place's smoothed climatology: mean of each day, as its first two harmonics.

    Parameters
    ----------
    grid : DataArray, dims (..., year, day_of_year)
        From `by_year`.

    Returns
    -------
    DataArray, dims (..., day_of_year)
        All NaN if fewer than 200 days of the year have any value.
    """
    days = [["day_of_year"]]
    return apply(smoothed, grid, core=[["year", "day_of_year"]], out=days).assign_attrs(grid.attrs)


def smoothed(grid: np.ndarray, harmonics: int = 2) -> np.ndarray:
    """Kernel of `smoothed_year`: shape (..., years, 365) to (..., 365)."""
    return np.apply_along_axis(_in_harmonics, -1, usual_days(grid), harmonics)


def usual_days(grid: np.ndarray) -> np.ndarray:
    """Mean of each day over the years: shape (..., years, 365) to (..., 365)."""
    present = ~np.isnan(grid)
    count = present.sum(-2)
    total = np.where(present, grid, 0.0).sum(-2)
    return np.where(count > 0, total / np.maximum(count, 1), np.nan)


def mean_by_day(values: np.ndarray, day: np.ndarray) -> np.ndarray:
    """Mean of the values of each day of the year, shape (365,); NaN where there is none.

    Parameters
    ----------
    values : ndarray, shape (n,)
        None missing.
    day : ndarray of int, shape (n,)
        Day of the year of each, 1 to 365.
    """
    count = np.bincount(day - 1, minlength=DAYS)
    total = np.bincount(day - 1, weights=values, minlength=DAYS)
    return np.where(count > 0, total / np.maximum(count, 1), np.nan)


def _in_harmonics(mean: np.ndarray, harmonics: int) -> np.ndarray:
    present = ~np.isnan(mean)
    if present.sum() < 200:
        return np.full(DAYS, np.nan)
    angle = 2 * np.pi * np.arange(DAYS) / DAYS
    waves = [wave(k * angle) for k in range(1, harmonics + 1) for wave in (np.cos, np.sin)]
    design = np.stack([np.ones(DAYS), *waves], axis=-1)
    weights, *_ = np.linalg.lstsq(design[present], mean[present], rcond=None)
    return design @ weights


def coldest_day(daily: xr.Dataset) -> xr.DataArray:
    """Day of the year on which the smoothed climatology of the daily minimum is lowest.

    Parameters
    ----------
    daily : Dataset, dims (..., time)
        Needs ``tmin``.

    Returns
    -------
    DataArray, dims (...)
        1 to 365: the cut of the freeze seasons.

    Raises
    ------
    DataGapError
        If the record is too sparse to have a climatology.

    Examples
    --------
    >>> import climwin as cw
    >>> daily = cw.read_daily(cw.sample())
    >>> int(cw.coldest_day(daily))  # 14 December
    348
    """
    return extreme_days(by_year(variable(daily, "tmin")))[0]


def warmest_day(daily: xr.Dataset) -> xr.DataArray:
    """Day of the year on which the smoothed climatology of the daily minimum is highest."""
    return extreme_days(by_year(variable(daily, "tmin")))[1]


def extreme_days(grid: xr.DataArray) -> tuple[xr.DataArray, xr.DataArray]:
    """Coldest and warmest day of the smoothed climatology of a grid.

    Parameters
    ----------
    grid : DataArray, dims (..., year, day_of_year)
        Daily minima, from `by_year`. [degC]

    Returns
    -------
    coldest, warmest : DataArray, dims (...)
        1 to 365, as `coldest_day` gives them.

    Raises
    ------
    DataGapError
        If the record is too sparse to have a climatology.
    """
    curve = smoothed_year(grid)
    if curve.chunks is None and bool(curve.isnull().all()):
        msg = (
            "The record is too thin to have a usual year: fewer than 200 days of the year hold any "
            "value. Give a record of some whole years."
        )
        raise DataGapError(msg)
    filled = curve.fillna(0.0)
    coldest, warmest = (
        (day + 1).rename("first_day").drop_attrs().assign_attrs(long_name="day of the year")
        for day in (filled.argmin("day_of_year"), filled.argmax("day_of_year"))
    )
    return coldest, warmest


def offset(first_day: np.ndarray | int) -> np.ndarray:
    """Days from 1 January of a season's year to the season's first day; may be negative.

    A season carries the number of the calendar year that holds its middle, so a southern summer
    belongs to the year of its January.
    """
    first = np.asarray(first_day)
    return np.where(first <= DAYS // 2 + 1, first - 1, first - 1 - DAYS)


def offset_of(first_day: xr.DataArray) -> xr.DataArray:
    """`offset` of labelled days, such as that of each station."""
    days: xr.DataArray = apply(offset, first_day, core=[[]], dtypes=[int])
    return days


def cut_seasons(
    grid: np.ndarray, first_day: int, beyond: np.ndarray | float = np.nan
) -> np.ndarray:
    """Seasons of one station: rows of a calendar grid, moved to begin on `first_day`.

    Parameters
    ----------
    grid : ndarray, shape (years, 365)
        Calendar years, from `by_year`.
    first_day : int
        Day of the year on which a season begins.
    beyond : float or ndarray, shape (365,)
        Values assumed beyond the record's ends, by day of the year.

    Returns
    -------
    ndarray, shape (years, 365)
        One season for each calendar year.
    """
    row = np.broadcast_to(np.asarray(beyond, grid.dtype), (1, DAYS))
    flat = np.concatenate([row, grid, row]).ravel()
    start = DAYS + int(offset(first_day))
    return flat[start : start + grid.size].reshape(grid.shape).copy()


def keep_inside(result: Labelled, grid: xr.DataArray, first_day: xr.DataArray) -> Labelled:
    """Drop the seasons that the record hardly covers.

    This one rule decides which seasons count, for one garden, a club, many stations and the panels.
    A season stays if more than half of its first or of its second half lies between the first and
    the last day with a value. Each half is then known or unknown by itself: a record that ends in
    June has that year's spring, but its autumn is unknown.
    """
    first, last = (np.datetime64(grid.attrs[k], "D") for k in ("first_date", "last_date"))
    year = result["season"].values
    starts = date_of(year, np.atleast_1d(offset(first_day.values).ravel())[:, None] + 1)
    middles, ends = starts + _FIRST_HALF * ONE_DAY, starts + DAYS * ONE_DAY
    inside = np.zeros(len(year), bool)
    for since, until in ((starts, middles), (middles, ends)):
        days = np.minimum(until, last + ONE_DAY) - np.maximum(since, first)
        inside |= (2 * days > until - since).any(axis=0)
    return result.isel(season=inside).assign_coords(first_day=first_day)


def season_dates(day: xr.DataArray, first_day: xr.DataArray) -> xr.DataArray:
    """Dates of days of the season, counted from 0; NaN becomes NaT.

    Parameters
    ----------
    day : DataArray, dims (..., season, ...)
        Day of the season.
    first_day : DataArray
        Day of the year on which the seasons begin.
    """
    return apply(
        lambda d, s, f: date_of(s, offset(f) + d + 1),
        day,
        day["season"],
        first_day,
        core=[[], [], []],
        dtypes=["datetime64[D]"],
    ).astype("datetime64[s]")


# --- what a missing day could have been ---------------------------------------------------


def seen_range(grid: np.ndarray, half_width: int = 15) -> tuple[np.ndarray, np.ndarray]:
    """Lowest and highest value observed near each day of the year, over all years.

    A missing day could be anything that has been observed at its time of the year. This bounds it,
    so that a gap counts only where it could change an answer.

    Parameters
    ----------
    grid : ndarray, shape (years, 365)
        Calendar years of one station.
    half_width : int
        Days on either side that count as near.

    Returns
    -------
    lowest, highest : ndarray, shape (365,)
        Infinite (negative, positive) where nothing near was ever observed.
    """
    # np.fmin and np.fmax pass over missing values.
    return seen_near(np.fmin.reduce(grid, axis=0), np.fmax.reduce(grid, axis=0), half_width)


def seen_near(
    lowest: np.ndarray, highest: np.ndarray, half_width: int = 15
) -> tuple[np.ndarray, np.ndarray]:
    """`seen_range` from the lowest and the highest value of each day itself, shape (..., 365)."""
    near = np.arange(-half_width, DAYS + half_width)

    def around(of_day: np.ndarray) -> np.ndarray:
        """Values of the days near each day of the year, shape (..., 365, days)."""
        wrapped = of_day.take(near, axis=-1, mode="wrap")
        return sliding_window_view(wrapped, 2 * half_width + 1, axis=-1)

    lowest = np.fmin.reduce(around(lowest), axis=-1)
    highest = np.fmax.reduce(around(highest), axis=-1)
    unseen = np.isnan(lowest)
    return np.where(unseen, -np.inf, lowest), np.where(unseen, np.inf, highest)
