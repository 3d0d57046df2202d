"""The current season compared with past years, and the freezes still to come.

This is not a weather forecast: the coming days are those of past years.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Sequence
from typing import NamedTuple

import numpy as np
import xarray as xr

from climwin.climate.freeze import check_cold_limit, season_limits
from climwin.climate.heat import HIGHEST_BASE_C, METHODS
from climwin.climate.level import in_climate
from climwin.climate.resolution import steps
from climwin.climate.soil import soil_temperature
from climwin.core.dependence import effective_years, share_ends
from climwin.core.errors import Call, DataGapError, InputError, Parameter
from climwin.core.formatting import counted
from climwin.core.measures import check_most_celsius
from climwin.core.odds import odds_of
from climwin.core.provenance import climate_of, provenance
from climwin.core.schema import apply, variable
from climwin.core.seasons import (
    DAYS,
    ONE_DAY,
    by_year,
    checked_day,
    coldest_day,
    cut_seasons,
    date_of,
    offset,
    seen_range,
    split_dates,
    warmest_day,
)
from climwin.core.stats import (
    LEVEL,
    check_years,
    kernel_quantile,
    kernel_share_above,
    sorted_quantile,
)

BASE_C = 5.0
"""Base of a season's heat sum, as for cool crops (common practice). [degC]"""
FREEZES_C = (0.0, -2.2)
"""Thresholds of a freeze: 32 and 28 degF, as in tables of freeze odds. [degC]"""
FALLING_ODDS = (0.5, 0.1)
"""Odds whose dates are given: one in two, and one in ten."""
MOST_BEHIND = 31
"""Largest number of days since the record's end for describing this season. [day]"""
SOIL_DAYS = 5
"""Number of days before the date whose mean is the current soil temperature. [day]"""
SOWING_DEPTH_M = 0.05
LONGEST_BRIDGE = 5
"""Largest number of missing days in a row that are interpolated. [day]"""
LEAST_RISE = 2.0
"""Least rise of a typical year's heat sum, over the last fortnight, for telling how many days this
season is ahead: where it hardly rises, a little heat is many days (common practice).
[degC day per day]"""
LEAST_RAIN_DAYS = 0.95
"""Least share of days with a reading for a season's sum of rain."""

QUANTITIES = ("heat_sum", "mean_temperature", "soil_temperature", "frost_nights", "rain")
"""Quantities that are compared with past years."""
QUANTITY_UNITS = ("degC day", "degC", "degC", "nights", "mm")


class Asked(NamedTuple):
    """The date of a question about the current season."""

    on: np.datetime64
    """The date; this day and later ones are unknown."""
    through: np.datetime64
    """The last day that is known, before `on`."""
    left_out: int
    """Number of days of the record from `on` onwards, which are ignored."""

    @property
    def behind(self) -> int:
        """Number of unknown days between the end of the record and the date. [day]"""
        return int((self.on - self.through) / ONE_DAY) - 1


def asked_on(
    daily: xr.Dataset, on: str | dt.date | np.datetime64 | None
) -> tuple[xr.Dataset, Asked]:
    """The record before a date, and the date with the last known day.

    Parameters
    ----------
    daily : Dataset, dims (..., time)
        Needs ``tmin`` and ``tmax``. [degC]
    on : str, date or datetime64, optional
        Date, such as ``"2024-05-15"``. Default: the day after the record's last. The day itself is
        not over, so it is ignored in the record.

    Raises
    ------
    ValueError
        If `on` is not a date.
    DataGapError
        If the record has no day before it, or ends more than `MOST_BEHIND` days before it.
    """
    low, high = variable(daily, "tmin"), variable(daily, "tmax")
    others = [name for name in low.dims if name != "time"]
    known = np.asarray((low.notnull() & high.notnull()).any(others))
    dates = np.asarray(daily["time"]).astype("datetime64[D]")
    seen = np.sort(dates[known])
    if not len(seen):
        msg = "The record has no day with both a minimum and a maximum."
        raise DataGapError(msg)
    day = seen[-1] + ONE_DAY if on is None else _date(on)
    before = seen[seen < day]
    if not len(before):
        msg = f"The record begins on {seen[0]}: it has no day before {day}."
        raise DataGapError(msg, parameter="on")
    through = before[-1]
    asked = Asked(day, through, int((dates >= day).sum()))
    if asked.behind > MOST_BEHIND:
        late = (
            f"The record's last day before {day} is {through}, {counted(asked.behind, 'day')} "
            f"earlier: it says nothing about this season. {MOST_BEHIND} days are the most. Add "
            "newer days to the record, fetch a station's history with "
        )
        raise DataGapError(
            late,
            Call("fetch_history", ("place",)),
            ", or ask for an earlier date, such as ",
            Parameter("on", str(through + ONE_DAY)),
            ".",
            parameter="on",
        )
    return daily.isel(time=dates <= through), asked


def _date(given: str | dt.date | np.datetime64) -> np.datetime64:
    """A date that was given, checked."""
    day = whole_date(given)
    if day is None:
        msg = f" is a date such as '2024-05-15', got {given!r}."
        raise InputError(Parameter("on"), msg)
    return day


def whole_date(given: str | dt.date | np.datetime64) -> np.datetime64 | None:
    """A full date; None for anything else."""
    try:
        if isinstance(given, str):
            given = dt.date.fromisoformat(given.strip())
        if isinstance(given, dt.date):
            return np.datetime64(given.isoformat(), "D")
        return None if np.isnat(given) else np.datetime64(str(given)[:10], "D")
    except (ValueError, TypeError):
        return None


def season_so_far(
    daily: xr.Dataset,
    *,
    on: str | dt.date | np.datetime64 | None = None,
    since: int | str | None = None,
    base: float = BASE_C,
    threshold: Sequence[float] = FREEZES_C,
    climate: str = "record",
    few_years: bool = False,
) -> xr.Dataset:
    """Compare the current season with past years, and give the odds of coming freezes.

    Parameters
    ----------
    daily : Dataset, dims (..., time)
        Needs ``tmin`` and ``tmax``; ``precip`` for rain, a latitude for the soil. It must extend
        into this year. [degC, mm]
    on : str, date or datetime64, optional
        The date, such as ``"2024-05-15"``; this day and later ones are still to come, and are
        ignored in the record. Default: the day after the record's last.
    since : int or str, optional
        Day of the year on which sums begin. Default: the coldest day of the place's year.
    base : float
        Base of the heat sum. [degC]
    threshold : sequence of float
        A freeze is a minimum at or below it. [degC]
    climate : {"record", "today"}
        Climate of the coming freezes: past years as they were, or moved to today's level.
    few_years : bool
        Whether to allow fewer than ten past years.

    Returns
    -------
    Dataset
        By ``quantity`` (`QUANTITIES`): ``so_far``, from `since` to the last known day (soil
        temperature at 5 cm is the mean of the last five days); its ``rank`` among this and the past
        years, 1 for the lowest, of ``ranked`` years; ``usual``, the median past year, between
        ``usual_low`` and ``usual_high`` in 8 of 10; ``by_year``, dims (..., season, quantity), the
        value of each year. NaN where a gap leaves it open: up to five missing days in a row are
        interpolated. ``heat_course``, dims (..., season, day): the heat sum by day of the season.
        ``days_ahead``: days by which the heat sum is ahead of the median course of past years,
        negative where it is behind; NaN where that course hardly rises, see `LEAST_RISE`. [day]

        By ``threshold`` and ``side``, ``"last spring"`` or ``"first autumn"``: ``share`` of past
        years with a freeze from the date on (before midsummer, after it), its smoothed ``odds``,
        ``low`` to ``high`` (90 %), of ``known`` years. ``date``, dims (..., threshold, side,
        level): from when the odds of another freeze in spring are no more than one in two, and one
        in ten; by when those of the first in autumn have risen to one in ten, and one in two;
        ``date_low`` to ``date_high`` (90 %). ``came``: the latest freeze of this spring, and the
        first of this autumn; NaT if there was none so far.

        Attributes: ``on``, ``through``, ``bridged_days``, ``days_behind``, ``first_day``.

    Raises
    ------
    ValueError
        If the date, the day of the year or the climate is not allowed.
    DataGapError
        If the record does not extend into this season, or has fewer than ten past years.

    See Also
    --------
    outlook : The coming dates of a crop.

    Examples
    --------
    >>> import climwin as cw
    >>> daily = cw.read_daily(cw.sample())
    >>> so_far = cw.season_so_far(daily, on="2024-05-15")
    >>> heat = so_far.sel(quantity="heat_sum")
    >>> int(heat["so_far"]), int(heat["rank"]), int(heat["ranked"])
    (427, 34, 38)
    """
    check_most_celsius("base", base, HIGHEST_BASE_C)
    for each in np.ravel(threshold):
        check_cold_limit("threshold", float(each))
    record, asked = asked_on(daily, on)
    first = xr.DataArray(checked_day(since)) if since is not None else coldest_day(record)
    place = season_place(asked.on, first)
    out = _ranked(record, asked, first, place, base, few_years)
    out = out.merge(_freezes(record, asked, threshold, climate))
    return out.assign_attrs(
        provenance(record),
        on=str(asked.on),
        through=str(asked.through),
        days_behind=asked.behind,
        days_left_out=asked.left_out,
        bridged_days=_bridged_days(record, asked),
        base_c=base,
        interval=LEVEL,
        climate=climate,
    )


def season_place(on: np.datetime64, first: xr.DataArray) -> tuple[xr.DataArray, xr.DataArray]:
    """Season of a date, and its day of that season, from 0; dims (...)."""
    year, day, _ = split_dates(np.array([on]))

    def kernel(first_day: int) -> tuple[int, int]:
        start = int(offset(first_day))
        into = (int(year[0]) - 1) * DAYS + int(day[0]) - 1 - start  # days since year 1 began
        season, of_season = divmod(into, DAYS)
        return season + 1, of_season

    season, of_season = apply(kernel, first, core=[[]], out=[[], []], dtypes=[int] * 2, each=True)
    return season, of_season


# --- this season among the past ones ------------------------------------------------------


def _ranked(
    record: xr.Dataset,
    asked: Asked,
    first: xr.DataArray,
    place: tuple[xr.DataArray, xr.DataArray],
    base: float,
    few_years: bool,
) -> xr.Dataset:
    """The season's quantities beside those of past years, and its rank among them.

    `place` is the season of the date, and the date's day of it, see `season_place`.
    """
    days = place[1] - asked.behind
    by_season, course = _of_every_season(record, first, days, base, int(place[0].max()))
    past = by_season.where(by_season["season"] < place[0])
    own = by_season.where(by_season["season"] == place[0]).max("season")
    known = past.notnull().sum("season")
    if bool((days > 0).any()):  # on its first day a season has nothing to be ranked by
        check_years(int(known.sel(quantity="mean_temperature").max()), few_years=few_years)
    out = xr.Dataset({"so_far": own, "by_year": by_season})
    out["heat_course"] = course.assign_coords(day=np.arange(DAYS)).assign_attrs(units="degC day")
    out["days_ahead"] = apply(
        lambda course, own, days: _days_ahead(course, float(own), int(days)),
        course.where(course["season"] < place[0]),
        own.sel(quantity="heat_sum", drop=True),
        days,
        core=[["season", "day"], [], []],
        dtypes=[float],
        each=True,
    )
    below = (past < own).sum("season") + ((past == own).sum("season") + 1) // 2
    has_both = own.notnull() & (known > 0)
    out["rank"] = (1 + below).where(has_both)
    out["ranked"] = (known + 1).where(has_both)
    for name, share in (("usual_low", 0.1), ("usual", 0.5), ("usual_high", 0.9)):
        out[name] = apply(
            lambda values, share=share: _quantile(values, share), past, core=[["season"]]
        )
    return out.assign_coords(
        quantity_units=("quantity", list(QUANTITY_UNITS)), this_season=place[0]
    ).assign_attrs(first_day=first.values.tolist())


def _of_every_season(
    record: xr.Dataset, first: xr.DataArray, days: xr.DataArray, base: float, this_season: int
) -> tuple[xr.DataArray, xr.DataArray]:
    """Quantities of each season through its first `days` days, and its heat sum day by day."""
    tmin, tmax, soil = (
        _through_season(by_year(values), this_season)
        for values in (
            variable(record, "tmin"),
            variable(record, "tmax"),
            soil_temperature(record, SOWING_DEPTH_M),
        )
    )
    rain = xr.full_like(tmin, np.nan)
    if "precip" in record:
        rain = _through_season(by_year(variable(record, "precip")), this_season)
    names = ["year", "day_of_year"]
    years = tmin["year"].values
    by_season, course = apply(
        lambda low, high, soil, rain, step, first, days: _of_seasons(
            low, high, soil, rain, base, step, int(first), int(days)
        ),
        tmin,
        tmax,
        soil,
        rain,
        steps(tmin),
        first,
        days,
        core=[names] * 4 + [["year"], [], []],
        out=[["season", "quantity"], ["season", "day"]],
        sizes={"season": len(years), "quantity": len(QUANTITIES), "day": DAYS},
        dtypes=[float] * 2,
        each=True,
    )
    by_season = by_season.assign_coords(season=years, quantity=list(QUANTITIES))
    return by_season, course.assign_coords(season=years)


def _through_season(grid: xr.DataArray, season: int) -> xr.DataArray:
    """A grid of years through that of a season, which may begin in the December before it."""
    last = max(int(grid["year"][-1]), season)
    return grid.reindex(year=np.arange(int(grid["year"][0]), last + 1))


def _days_ahead(course: np.ndarray, own: float, days: int) -> float:
    """Days from the date to the one on which the median course reaches this season's heat sum.

    Parameters
    ----------
    course : array, shape (seasons, days of the year)
        Heat sums of past seasons; incomplete ones are left out. [degC day]
    own : float
        This season's heat sum at the end of its last known day. [degC day]
    days : int
        Number of known days of this season.
    """
    whole = course[~np.isnan(course).any(axis=1)]
    if not len(whole) or np.isnan(own) or days < 15:
        return np.nan
    median = np.median(whole, axis=0)
    since = days - 15
    if median[days - 1] - median[since] < LEAST_RISE * (days - 1 - since) or own > median[-1]:
        return np.nan
    return float(np.interp(own, median, np.arange(len(median)))) - (days - 1)


def _quantile(values: np.ndarray, share: float) -> np.ndarray:
    count = (~np.isnan(values)).sum(axis=-1)
    ordered = np.sort(values, axis=-1)  # missing ones last
    return sorted_quantile(ordered, count, share, "hazen")


def _of_seasons(
    low: np.ndarray,
    high: np.ndarray,
    soil: np.ndarray,
    rain: np.ndarray,
    base: float,
    step: np.ndarray,
    first: int,
    days: int,
) -> tuple[np.ndarray, np.ndarray]:
    """Quantities of every season through its first `days` days, and its heat sum day by day.

    Shapes (seasons, quantities) and (seasons, 365).
    """
    low, high = (_bridged(each) for each in (low, high))
    heat = METHODS["single sine"].kernel(low, high, base, np.inf)
    course = np.cumsum(cut_seasons(heat, first), axis=1)
    if days <= 0:
        return np.full((len(low), len(QUANTITIES)), np.nan), course
    frozen = np.where(np.isnan(low), np.nan, low <= season_limits(0.0, step, 1))
    until, recent = slice(days), slice(max(days - SOIL_DAYS, 0), days)

    def season(grid: np.ndarray, part: slice = until) -> np.ndarray:
        return cut_seasons(grid, first)[:, part]

    readings = season(rain)
    measured = (~np.isnan(readings)).mean(axis=1) >= LEAST_RAIN_DAYS
    quantities = np.stack(
        [
            season(heat).sum(axis=1),
            season((low + high) / 2).mean(axis=1),
            season(soil, recent).mean(axis=1),
            season(frozen).sum(axis=1),
            np.where(measured, np.nansum(readings, axis=1), np.nan),
        ],
        axis=-1,
    )
    return quantities, course


def _bridged(grid: np.ndarray) -> np.ndarray:
    """Interpolate short gaps of a grid of years."""
    flat = grid.ravel()
    missing = np.isnan(flat)
    known = np.flatnonzero(~missing)
    if not missing.any() or not len(known):
        return grid
    place = np.arange(len(flat))
    before = np.maximum.accumulate(np.where(missing, -1, place))
    after = np.minimum.accumulate(np.where(missing, len(flat), place)[::-1])[::-1]
    short = (before >= 0) & (after < len(flat)) & (after - before - 1 <= LONGEST_BRIDGE)
    bridge = np.interp(place, known, flat[known])
    return np.where(missing & short, bridge, flat).reshape(grid.shape)


def _bridged_days(record: xr.Dataset, asked: Asked) -> int:
    """Number of missing days in the last year before the date. [day]"""
    begin = asked.through - DAYS * ONE_DAY
    low, high = variable(record, "tmin"), variable(record, "tmax")
    others = [name for name in low.dims if name != "time"]
    known = np.asarray((low.notnull() & high.notnull()).any(others))
    dates = np.asarray(record["time"]).astype("datetime64[D]")[known]
    first = max(begin, dates.min() if len(dates) else begin)
    return int((asked.through - first) / ONE_DAY) + 1 - len(np.unique(dates[dates >= first]))


# --- freezes to come ----------------------------------------------------------------------

SIDES = ("last spring", "first autumn")


def _freezes(
    record: xr.Dataset, asked: Asked, threshold: Sequence[float], climate: str
) -> xr.Dataset:
    thresholds = np.ravel(threshold).astype(float)
    first, warmest = coldest_day(record), warmest_day(record)
    season, day = season_place(asked.on, first)
    own = by_year(variable(record, "tmin"))
    past = by_year(variable(in_climate(record, climate), "tmin"))
    years = own["year"].values
    by_level = ["threshold", "side"]
    results = apply(
        _freeze_kernel(thresholds, years),
        own,
        past,
        steps(own),
        first,
        warmest,
        season,
        day,
        core=[["year", "day_of_year"]] * 2 + [["year"]] + [[]] * 4,
        out=[by_level] * 5 + [[*by_level, "level"]] * 3,
        sizes={"threshold": len(thresholds), "side": 2, "level": len(FALLING_ODDS)},
        dtypes=[float] * 8,
        each=True,
    )
    names = ("hits", "known", "smoothed", "worth", "came_day")
    of_side = dict(zip((*names, "day", "day_low", "day_high"), results, strict=True))
    odds = [
        odds_of(
            of_side["hits"].isel(side=n),
            of_side["known"].isel(side=n),
            kind=kind,
            climate=climate_of(record) if climate == "record" else climate,
            smoothed=of_side["smoothed"].isel(side=n),
            worth=of_side["worth"].isel(side=n),
        )
        for n, kind in enumerate(("spring freeze", "autumn freeze"))
    ]
    out: xr.Dataset = xr.concat(odds, "side")[["share", "odds", "low", "high"]]
    out["known"] = of_side["known"]
    dates = {"came": "came_day", "date": "day", "date_low": "day_low", "date_high": "day_high"}
    for name, days in dates.items():
        of_season = of_side[days] + apply(offset, first, core=[[]], dtypes=[int]) + 1
        out[name] = apply(
            date_of, season, np.floor(of_season + 0.5), core=[[], []], dtypes=["datetime64[D]"]
        ).astype("datetime64[s]")
    return out.assign_coords(
        threshold=("threshold", thresholds, {"units": "degC"}),
        side=list(SIDES),
        level=list(FALLING_ODDS),
    )


def _freeze_kernel(
    thresholds: np.ndarray, years: np.ndarray
) -> Callable[..., tuple[np.ndarray, ...]]:
    def kernel(
        own: np.ndarray,
        past: np.ndarray,
        step: np.ndarray,
        first: int,
        warmest: int,
        season: int,
        day: int,
    ) -> tuple[np.ndarray, ...]:
        midsummer = max((int(warmest) - int(first)) % DAYS, 1)
        lowest = np.roll(seen_range(past)[0], 1 - int(first))
        of_past, of_own = (cut_seasons(each, int(first)) for each in (past, own))
        is_past = years < season
        levels = np.array(FALLING_ODDS)
        rows = []
        for each in thresholds:
            limits = season_limits(each, step, int(first))
            sure = of_past <= limits
            could = np.where(np.isnan(of_past), lowest, of_past) <= limits
            this = (of_own <= limits)[years == season]
            frozen = this.any(axis=0) if len(this) else np.zeros(DAYS, bool)
            frozen = frozen & (np.arange(DAYS) < day)
            spring = _last_freezes(sure[is_past], could[is_past], midsummer)
            autumn = _next_freezes(sure[is_past], could[is_past], max(midsummer, int(day)))
            is_spring = day < midsummer
            rows.append(
                [
                    _freezes_from(spring, years[is_past], day, levels, later=True)
                    if is_spring
                    else _nothing(len(levels)),
                    _freezes_from(autumn, years[is_past], day, levels, later=False),
                ]
            )
            came = [np.flatnonzero(frozen[:midsummer]), np.flatnonzero(frozen[midsummer:])]
            rows[-1][0]["came"] = came[0][-1] if len(came[0]) else np.nan
            rows[-1][1]["came"] = midsummer + came[1][0] if len(came[1]) else np.nan
        names = ("hits", "known", "smoothed", "worth", "came", "day", "low", "high")
        return tuple(np.array([[side[name] for side in row] for row in rows]) for name in names)

    return kernel


def _last_freezes(sure: np.ndarray, could: np.ndarray, midsummer: int) -> np.ndarray:
    """Last freeze of each spring as a day of the season: infinite if none, NaN if unknown."""

    def last(frozen: np.ndarray) -> np.ndarray:
        before = frozen[:, :midsummer][:, ::-1]
        return np.where(before.any(1), midsummer - 1.0 - before.argmax(1), -np.inf)

    found, possible = last(sure), last(could)
    return np.where(found == possible, found, np.nan)


def _next_freezes(sure: np.ndarray, could: np.ndarray, since: int) -> np.ndarray:
    """First freeze of each season from a day on: infinite if none, NaN if unknown."""

    def first(frozen: np.ndarray) -> np.ndarray:
        after = frozen[:, since:]
        return (
            np.where(after.any(1), since + 1.0 * after.argmax(1), np.inf)
            if after.size
            else (np.full(len(frozen), np.inf))
        )

    found, possible = first(sure), first(could)
    return np.where(found == possible, found, np.nan)


def _freezes_from(
    freezes: np.ndarray, years: np.ndarray, day: int, levels: np.ndarray, *, later: bool
) -> dict[str, np.ndarray | float]:
    """Odds of a freeze from a day on, and the days on which they reach some levels."""
    there = ~np.isnan(freezes)
    sample, year = freezes[there], years[there]
    if not len(sample):
        return _nothing(len(levels))
    worth = effective_years(year, sample)
    hits = float((sample >= day).sum() if later else np.isfinite(sample).sum())
    shares = levels if later else 1 - levels
    least, most = share_ends(1 - shares, worth)
    days = [kernel_quantile(np.sort(sample), each) for each in (shares, 1 - least, 1 - most)]
    days = [np.where(np.isfinite(each), np.maximum(each, day), np.nan) for each in days]
    smoothed = float(kernel_share_above(sample, np.array([day - 0.5]))[0]) if later else np.nan
    return {
        "hits": hits,
        "known": float(len(sample)),
        "smoothed": smoothed,
        "worth": worth,
        "came": np.nan,
        "day": days[0],
        "low": days[1],
        "high": days[2],
    }


def _nothing(levels: int) -> dict[str, np.ndarray | float]:
    missing = np.full(levels, np.nan)
    return {
        "hits": np.nan,
        "known": 0.0,
        "smoothed": np.nan,
        "worth": np.nan,
        "came": np.nan,
        "day": missing,
        "low": missing,
        "high": missing,
    }
