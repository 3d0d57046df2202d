"""Rain: wet days, weekly precipitation, and the odds of a dry spell.

A missing day could have been wet or dry; it counts only where that matters.
"""

from __future__ import annotations

import numpy as np
import xarray as xr

from climwin.core.errors import InputError, Parameter
from climwin.core.formatting import as_typed
from climwin.core.odds import odds_of
from climwin.core.provenance import provenance
from climwin.core.schema import apply, check_units, variable
from climwin.core.seasons import DAYS, checked_day, date_of, every_day, record_dates
from climwin.core.status import NONE, OBSERVED, UNKNOWN

WET_MM = 1.0
"""A day with at least this much precipitation is wet (ETCCDI). [mm]"""
SPELL_DAYS = 7
"""Number of dry days in a row that is hard on young plants after planting out (common practice)."""
WEEK_DAYS = 7


# --- days and weeks -----------------------------------------------------------------------


def wet_days(precip: xr.DataArray) -> xr.DataArray:
    """Whether each day is wet.

    Parameters
    ----------
    precip : DataArray, any shape
        Daily precipitation. [mm]

    Returns
    -------
    DataArray, shape of `precip`
        1 on a day with at least 1 mm, 0 on one with less, NaN where unknown.

    References
    ----------
    .. [1] ETCCDI, "Climate change indices: definitions of the 27 core indices": CDD counts days
       with less than 1 mm, CWD days with at least 1 mm.

    Examples
    --------
    >>> import climwin as cw
    >>> daily = cw.read_daily(cw.sample())
    >>> int(cw.wet_days(daily["precip"]).sel(time="2010").sum())
    96
    """
    check_units(precip, "mm")
    wet = (precip >= WET_MM).where(precip.notnull()).rename("wet")
    wet.attrs = {"units": "1", "long_name": f"{as_typed(WET_MM)} mm of precipitation or more"}
    return wet


def week_sums(precip: xr.DataArray) -> xr.DataArray:
    """Precipitation of the seven days around each day; `day_bands` gives its usual spread.

    Parameters
    ----------
    precip : DataArray, dims (..., time)
        Daily precipitation. [mm]

    Returns
    -------
    DataArray, dims (..., time)
        Sum from three days before to three days after, on every day of the record; NaN where one of
        the seven is missing. [mm]

    Raises
    ------
    ValueError
        If a date occurs twice.
    DataGapError
        If there are no days.

    Examples
    --------
    >>> import climwin as cw
    >>> daily = cw.read_daily(cw.sample())
    >>> cw.week_sums(daily["precip"]).sel(time="2010-05-04").round(1).item()
    0.3
    """
    check_units(precip, "mm")
    sums = apply(_week_sums, _on_every_day(precip), core=[["time"]], out=[["time"]])
    words = {"long_name": "precipitation of the seven days around", "units": "mm"}
    return sums.rename("precip_week").assign_attrs({**precip.attrs, **words})


def _week_sums(precip: np.ndarray) -> np.ndarray:
    half = WEEK_DAYS // 2
    edge = np.full((*precip.shape[:-1], half), np.nan)
    around = np.concatenate([edge, precip, edge], axis=-1)
    days = precip.shape[-1]
    return np.sum([around[..., shift : shift + days] for shift in range(WEEK_DAYS)], axis=0)


def _on_every_day(da: xr.DataArray) -> xr.DataArray:
    """The series on every day from its first to its last."""
    record_dates(da)  # refuses a series without days, or with a date twice
    time = np.asarray(da["time"]).astype("datetime64[D]")
    return da.reindex(time=every_day(time.min(), time.max()))


# --- dry spells ---------------------------------------------------------------------------


def dry_spells(daily: xr.Dataset, first_day: int | str, last_day: int | str) -> xr.Dataset:
    """Longest dry spell of every year within a period, such as the weeks after planting out.

    Parameters
    ----------
    daily : Dataset, dims (..., time)
        Needs ``precip``. [mm]
    first_day, last_day : int or str
        The period: days of the year, or dates such as ``"05-10"``. It may extend over the end of
        the year.

    Returns
    -------
    Dataset, dims (..., season)
        By year of the period's first day: ``longest``, the number of dry days in a row within it
        (of a spell that reaches beyond it, only the days inside count); ``status``; and
        ``longest_least`` and ``longest_most``, which bound it if a gap leaves it unknown. A year is
        left out if less than half of its period lies within the record. [days]

    Raises
    ------
    ValueError
        If a day is not a day of the year, the record has no precipitation, or a date occurs twice.
    DataGapError
        If there are no days.

    See Also
    --------
    dry_spell_odds : How often a spell is this long.

    Notes
    -----
    Days are calendar days: a spell over 29 February includes it.

    Examples
    --------
    >>> import climwin as cw
    >>> daily = cw.read_daily(cw.sample())
    >>> spells = cw.dry_spells(daily, "05-10", "06-30")
    >>> spells["longest"].sel(season=[2009, 2010]).values.tolist()
    [19.0, 9.0]
    """
    first, last = checked_day(first_day), checked_day(last_day)
    wet = wet_days(_on_every_day(variable(daily, "precip")))
    years, place, is_past_end = _stretches(wet["time"].values, first, (last - first) % DAYS)

    def kernel(wet: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        # Append an unknown day, which positions of -1 (outside the record) pick.
        unknown = np.full((*wet.shape[:-1], 1), np.nan)
        days = np.concatenate([wet, unknown], axis=-1)[..., place]
        days[..., is_past_end] = 1  # wet, so that no spell reaches beyond the period
        surely_dry, possibly_dry = days == 0, days != 1
        return _longest_run(surely_dry), _longest_run(possibly_dry)

    least, most = apply(
        kernel,
        wet,
        core=[["time"]],
        out=[["season"]] * 2,
        sizes={"season": len(years)},
        dtypes=[int] * 2,
    )
    out = xr.Dataset({"longest": least.where(least == most), "longest_least": least})
    out["longest_most"] = most
    for name in out:
        out[name].attrs = {"units": "days"}
    out["status"] = apply(_status, least, most, core=[[], []], dtypes=["<U8"])
    out["status"].attrs = {}
    return out.assign_coords(season=years).assign_attrs(
        provenance(daily), first_day=first, last_day=last
    )


def _status(least: np.ndarray, most: np.ndarray) -> np.ndarray:
    return np.select([least != most, most == 0], [UNKNOWN, NONE], OBSERVED)


def _stretches(
    time: np.ndarray, first: int, length: int
) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Positions of each year's period on an axis of every day.

    Returns
    -------
    years : ndarray, shape (seasons,)
        Years of which at least half of the period lies on the axis.
    place : ndarray, shape (seasons, days)
        Positions on the axis; -1 outside it.
    is_past_end : ndarray of bool, shape (seasons, days)
        Whether a day lies after the period's end.
    """
    axis = time.astype("datetime64[D]").astype(int)
    year = time.astype("datetime64[Y]").astype(int) + 1970
    years = np.arange(year[0] - 1, year[-1] + 1)  # the first may begin in the year before
    start = date_of(years, np.array(first)).astype(int)
    end = date_of(years, np.array(first + length)).astype(int)
    days_on_axis = np.minimum(end, axis[-1]) - np.maximum(start, axis[0]) + 1
    mostly_there = 2 * days_on_axis >= end - start + 1
    years, start, end = years[mostly_there], start[mostly_there], end[mostly_there]
    day = start[:, None] + np.arange(length + 2)  # 29 February may be one more
    is_off = (day < axis[0]) | (day > axis[-1])
    return years, np.where(is_off, -1, day - axis[0]), day > end[:, None]


def _longest_run(dry: np.ndarray) -> np.ndarray:
    """Largest number of true values in a row along the last axis."""
    run = longest = np.zeros(dry.shape[:-1], int)
    for today in np.moveaxis(dry, -1, 0):
        run = (run + 1) * today
        longest = np.maximum(longest, run)
    return longest


def dry_spell_odds(
    daily: xr.Dataset, first_day: int | str, last_day: int | str, *, days: int = SPELL_DAYS
) -> xr.Dataset:
    """How often there is a dry spell within a period of the year.

    Parameters
    ----------
    daily : Dataset, dims (..., time)
        Needs ``precip``. [mm]
    first_day, last_day : int or str
        The period, as for `dry_spells`.
    days : int
        Number of dry days in a row that makes a spell.

    Returns
    -------
    Dataset, dims (...)
        ``dry``, the number of years with such a spell, of ``known`` years, and the number of
        ``unknown`` ones; their ``share``; ``odds``, ``low`` to ``high`` and ``next_low`` to
        ``next_high`` as for `harvest_odds`.

    Raises
    ------
    ValueError
        If `days` is longer than the period, a day is not a day of the year, the record has no
        precipitation, or a date occurs twice.
    DataGapError
        If there are no days.

    Notes
    -----
    Odds are counts of past years, not a forecast. A year whose longest spell is unknown still
    counts if its bounds decide the answer.

    Examples
    --------
    >>> import climwin as cw
    >>> daily = cw.read_daily(cw.sample())
    >>> odds = cw.dry_spell_odds(daily, "05-10", "06-30", days=14)
    >>> print(f"dry for two weeks in {odds['dry'].item()} of {odds['known'].item()} years")
    dry for two weeks in 10 of 40 years
    """
    spells = dry_spells(daily, first_day, last_day)
    length = (spells.attrs["last_day"] - spells.attrs["first_day"]) % DAYS + 1
    if not 1 <= days <= length:
        msg = f" must lie between 1 and {length}, the length of the period; got {days}."
        raise InputError(Parameter("days"), msg)
    least, most = spells["longest_least"], spells["longest_most"]
    dry = (least >= days).sum("season")
    known = ((least >= days) | (most < days)).sum("season")
    out = xr.Dataset(
        {
            "dry": dry,
            "known": known,
            "unknown": spells.sizes["season"] - known,
        }
    )
    for name in out:
        out[name].attrs = {"units": "1"}
    odds = odds_of(dry, known, kind="other", climate="record")
    return out.assign(odds).assign_attrs(spells.attrs | odds.attrs, days=days)
