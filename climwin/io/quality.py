"""Set aside values that cannot be right, and report the coverage of a record by month."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np
import xarray as xr

from climwin.core.errors import InputError
from climwin.core.formatting import counted, number
from climwin.core.runs import equal_runs, true_runs
from climwin.core.schema import MEASURED_SOURCE, TOLERANCE_C, VARIABLES, apply, variable
from climwin.core.seasons import DAYS, ONE_DAY, every_day, split_dates
from climwin.core.stats import sorted_quantile, z_of

KINDS = ("out_of_range", "flat_line", "far_from_season", "spike", "min_above_max")
"""Kinds of flags, in order of testing; a value that fails one test is not seen by the next."""
OUT_OF_RANGE, FLAT_LINE, FAR_FROM_SEASON, SPIKE, MIN_ABOVE_MAX = range(1, 6)

RANGES = {
    "tmin": (-89.2, 56.7),
    "tmax": (-89.2, 56.7),
    "tmean": (-89.2, 56.7),
    "precip": (0.0, 1825.0),
}
"""Lowest and highest values ever measured: Vostok 1983 and Greenland Ranch 1913 [degC], in 24 hours
at Foc-Foc, La Réunion, 1966 [mm]. World Meteorological Organization, "World Weather and Climate
Extremes Archive"; from memory."""
FLAT_DAYS = 20
"""Number of identical days in a row that makes a flat line (Durre et al. 2010, from memory)."""
SPIKE_C = 25.0
"""A larger difference from both the day before and the day after is a spike (same source).
[degC]"""
SPREADS = 6.0
"""Largest distance from the season's median, in standard deviations (same source)."""
SEASON_C = 10.0
"""Values closer than this to the season's median are never flagged (common practice): where the
weather hardly changes, one cool, wet day is six standard deviations. [degC]"""
SEASON_HALF_WIDTH, SEASON_COUNT = 15, 100
"""Days on either side that make a season, and the least number of values in all years (as
above)."""

_BLOCK = 5  # days that share a season; 73 blocks make a year
_TAIL = 0.1  # share of the sample in each tail, where spread is measured


# --- the check ----------------------------------------------------------------------------


def quality_control(daily: xr.Dataset) -> xr.Dataset:
    """Set aside the values that cannot be right.

    Parameters
    ----------
    daily : Dataset, dims (..., time)
        Any of ``tmin``, ``tmax``, ``tmean`` [degC] and ``precip`` [mm], as read or checked before.

    Returns
    -------
    Dataset, dims (..., time)
        The record without its flagged values. For each variable, ``<name>_flag`` says which test a
        value failed (its number in `KINDS`, from 1; 0 for none), and ``<name>_set_aside`` keeps
        that value. A ``tmean`` derived from tmin and tmax is missing where either is set aside.

    Notes
    -----
    A value is set aside if

    - it lies outside what was ever measured [2]_;
    - it is one of 20 or more identical days in a row, missing days not counted [1]_;
    - it differs from its season's median by more than 6 standard deviations [1]_ and 10 degC. The
      season is all days within 15 of its date (17 for some, as 5 days share one season), in all
      years; the standard deviation is that of the side it lies on, from the 10th or 90th
      percentile, so that neither a long tail nor a few wild values mislead it;
    - it differs by more than 25 degC from the days before and after, the same way [1]_;
    - the minimum is above the maximum; then both are.

    Precipitation is tested for its range only.

    References
    ----------
    .. [1] I. Durre, M. J. Menne, B. E. Gleason, T. G. Houston and R. S. Vose, "Comprehensive
       automated quality assurance of daily surface observations," Journal of Applied Meteorology
       and Climatology, vol. 49, pp. 1615-1633, 2010. Limits from memory.
    .. [2] World Meteorological Organization, "World Weather and Climate Extremes Archive".

    Examples
    --------
    >>> import climwin as cw
    >>> daily = cw.read_daily(cw.sample())
    >>> checked = cw.quality_control(daily)
    >>> int((checked["tmin_flag"] > 0).sum())  # values set aside
    31
    """
    extremes = {"tmin", "tmax"} <= set(daily)
    derived = extremes and "derived_from" in daily.get("tmean", daily["tmin"]).attrs
    names = [name for name in RANGES if name in daily and not (derived and name == "tmean")]
    values = {name: _as_read(daily, name) for name in names}
    time = np.asarray(daily["time"]).astype("datetime64[D]")
    flags = {name: _flags(values[name], name, time) for name in names}
    if extremes:
        sound = (flags["tmin"] == 0) & (flags["tmax"] == 0)
        above = sound & (values["tmin"] > values["tmax"] + TOLERANCE_C)
        for name in ("tmin", "tmax"):
            flags[name] = (flags[name] + MIN_ABOVE_MAX * above).astype(np.int8)  # 0 before
    parts: dict[str, xr.Variable] = {}
    for name in names:
        parts |= _parted(name, values[name], flags[name])
    if derived:
        mean = daily["tmean"].variable
        kept, _ = _kept_and_aside(mean, (flags["tmin"] > 0) | (flags["tmax"] > 0))
        parts["tmean"] = _described(kept, mean.attrs)
    return daily.assign(parts).assign_attrs(history=_with_line(str(daily.attrs.get("history", ""))))


def _as_read(daily: xr.Dataset, name: str) -> xr.Variable:
    """A variable with values put back that an earlier check set aside.

    It goes without its coordinates: all have those of the record, and need not be aligned.
    """
    values = variable(daily, name)
    aside = daily.get(f"{name}_set_aside")
    return values.variable if aside is None else values.fillna(aside).variable


def _parted(name: str, values: xr.Variable, flags: xr.Variable) -> dict[str, xr.Variable]:
    """A variable without its flagged values, the flags, and the values taken out."""
    units, long_name = VARIABLES[name][:2]
    meaning = {
        "long_name": f"quality flag of {long_name}",
        "standard_name": "quality_flag",
        "flag_values": np.arange(len(KINDS) + 1, dtype=np.int8),
        "flag_meanings": " ".join(("not_flagged", *KINDS)),
    }
    aside = {"units": units, "long_name": f"{long_name}, values set aside"}
    attrs = {**values.attrs, "ancillary_variables": f"{name}_flag {name}_set_aside"}
    kept, out = _kept_and_aside(values, flags > 0)
    return {
        name: _described(kept, attrs),
        f"{name}_flag": _described(flags, meaning),
        f"{name}_set_aside": _described(out, aside),
    }


def _kept_and_aside(values: xr.Variable, flagged: xr.Variable) -> tuple[xr.Variable, xr.Variable]:
    """Values without the flagged ones, and the flagged ones alone."""

    def kernel(values: np.ndarray, flagged: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        return np.where(flagged, np.nan, values), np.where(flagged, values, np.nan)

    kept, aside = apply(kernel, values, flagged, core=[[], []], out=[[], []], dtypes=[float, float])
    return kept, aside


def _described(values: xr.Variable, attrs: dict[str, Any]) -> xr.Variable:
    """The same values with these attributes alone."""
    out = values.copy(deep=False)
    out.attrs = attrs
    return out


def _with_line(history: str) -> str:
    """The history with a line on what was checked, once."""
    line = f"checked, and rejected: {', '.join(kind.replace('_', ' ') for kind in KINDS)}"
    return history if line in history else f"{history}\n{line}".strip()


def _flags(values: xr.Variable, name: str, time: np.ndarray) -> xr.Variable:
    """Which test each value fails, 0 for none."""
    joined = np.diff(time) == ONE_DAY
    tests: dict[int, Callable[[np.ndarray], np.ndarray]] = {
        OUT_OF_RANGE: lambda values: _outside(values, *RANGES[name])
    }
    if name != "precip":
        tests[FLAT_LINE] = _flat
        tests[FAR_FROM_SEASON] = lambda values: _far(values, time)
        tests[SPIKE] = lambda values: _spike(values, joined)

    def kernel(values: np.ndarray) -> np.ndarray:
        flags = np.zeros(values.shape, np.int8)
        for kind, test in tests.items():
            flags[test(np.where(flags == 0, values, np.nan))] = kind
        return flags

    return apply(kernel, values, core=[["time"]], out=[["time"]], dtypes=[np.int8], each=True)


def _outside(values: np.ndarray, low: float, high: float) -> np.ndarray:
    return (values < low - TOLERANCE_C) | (values > high + TOLERANCE_C)


def _flat(values: np.ndarray) -> np.ndarray:
    """Runs of the same value; missing days do not interrupt them."""
    out = np.zeros(values.shape, bool)
    present = np.flatnonzero(~np.isnan(values))
    begin, end = equal_runs(values[present])
    out[present] = np.repeat(end - begin >= FLAT_DAYS, end - begin)
    return out


def _far(values: np.ndarray, time: np.ndarray) -> np.ndarray:
    """Values too many standard deviations from the median of their season in all years."""
    year, day, leap = split_dates(time)
    grid = np.full((DAYS, np.ptp(year) + 1), np.nan)
    grid[day[~leap] - 1, (year - year.min())[~leap]] = values[~leap]
    centre = np.arange(_BLOCK // 2, DAYS, _BLOCK)
    around = np.arange(-SEASON_HALF_WIDTH, SEASON_HALF_WIDTH + 1)
    sample = grid[(centre[:, None] + around) % DAYS].reshape(len(centre), -1)
    sample.sort(axis=-1)
    count = (~np.isnan(sample)).sum(axis=-1)
    low, middle, high = (
        np.where(count >= SEASON_COUNT, sorted_quantile(sample, count, share, "linear"), np.nan)
        for share in (_TAIL, 0.5, 1 - _TAIL)
    )
    spreads = SPREADS / z_of(1 - 2 * _TAIL)
    below = middle - np.maximum((middle - low) * spreads, SEASON_C)
    above = middle + np.maximum((high - middle) * spreads, SEASON_C)
    block = (day - 1) // _BLOCK
    return (values < below[block]) | (values > above[block])


def _spike(values: np.ndarray, joined: np.ndarray) -> np.ndarray:
    """Days far above, or far below, both the day before and the day after."""
    rise = np.where(joined, np.diff(values), np.nan)
    up, down = rise > SPIKE_C, rise < -SPIKE_C
    inner = (up[:-1] & down[1:]) | (down[:-1] & up[1:])
    out = np.zeros(values.shape, bool)
    out[1:-1] = inner
    return out


# --- what a record holds ------------------------------------------------------------------


def coverage(daily: xr.Dataset) -> xr.Dataset:
    """Report what a record has, what is missing and what was set aside.

    Parameters
    ----------
    daily : Dataset, dims (..., time)
        A checked record, or one as read, of which nothing was set aside.

    Returns
    -------
    Dataset, dims (variable, ..., year, month)
        ``days`` of each month within the record, and how many of them are ``present`` (observed),
        ``set_aside`` (by ``kind``) and ``missing``; ``filled`` is the number of the last two that
        joined stations cover, see `join_stations`. ``longest_gap``, dims (variable, ..., year), is
        the longest run of days without an observed value within each year. Of the whole record,
        dims (variable, ...): ``first_date`` and ``last_date`` with such a value, the
        ``longest_gap_overall`` and the ``longest_gap_date`` on which it began; NaT if there is
        none.

    Examples
    --------
    >>> import climwin as cw
    >>> daily = cw.read_daily(cw.sample())
    >>> minima = cw.coverage(daily).sel(variable="tmin")
    >>> [int(minima[name].sum()) for name in ("present", "set_aside", "missing")]
    [14514, 31, 65]
    """
    time = np.asarray(daily["time"]).astype("datetime64[D]")
    days = every_day(time.min(), time.max())
    names = [name for name in VARIABLES if name in daily]
    parts = []
    for name in names:
        present = daily[name].notnull()
        flags = daily.get(f"{name}_flag", xr.zeros_like(present, dtype=np.int8))
        source = daily.get(f"{name}_source", xr.zeros_like(present, dtype=np.int8))
        present, flags, filled = (
            da.reindex(time=days, fill_value=0) for da in (present, flags, source > MEASURED_SOURCE)
        )
        parts.append(_coverage_of(present, flags, filled, days))
    out = xr.concat(parts, dim=xr.DataArray(names, dims="variable", name="variable"))
    out["days"] = _by_month(xr.DataArray(np.ones(len(days), bool), dims="time"), days)
    out["missing"] = -(out["present"] + out["set_aside"].sum("kind") - out["days"])
    out.attrs = {key: daily.attrs[key] for key in ("title", "source") if key in daily.attrs}
    years = np.unique(split_dates(days)[0])
    return out.assign_coords(year=years, month=np.arange(1, 13), kind=list(KINDS))


def _coverage_of(
    present: xr.DataArray, flags: xr.DataArray, filled: xr.DataArray, days: np.ndarray
) -> xr.Dataset:
    """Coverage of one variable on a complete axis of days."""
    year, present = split_dates(days)[0], present.astype(bool)
    kinds = xr.DataArray(np.arange(1, len(KINDS) + 1), dims="kind")
    gaps, facts = apply(
        lambda present: _facts(present, year - year[0]),
        present,
        core=[["time"]],
        out=[["year"], ["fact"]],
        sizes={"year": int(year[-1] - year[0] + 1), "fact": 4},
        dtypes=[int, int],
        each=True,
    )
    dates = days[0] + facts.where(facts >= 0) * np.timedelta64(86400, "s")
    out = {
        "present": _by_month(present, days),
        "set_aside": _by_month(flags == kinds, days),
        "filled": _by_month(filled, days),
        "longest_gap": gaps,
        "longest_gap_overall": facts.isel(fact=0),
        "longest_gap_date": dates.isel(fact=1),
        "first_date": dates.isel(fact=2),
        "last_date": dates.isel(fact=3),
    }
    return xr.Dataset({key: _described(da, {}) for key, da in out.items()})


def _facts(present: np.ndarray, row: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Longest gap of each year, and four facts about the record in days from its first.

    The facts are the length and the start of the longest gap, and the first and the last day with a
    value; -1 if there is none.
    """
    gaps = np.zeros(row[-1] + 1, int)
    begin, end = equal_runs(np.where(present, -1, row))  # a gap over New Year is two
    is_gap = ~present[begin]
    np.maximum.at(gaps, row[begin[is_gap]], (end - begin)[is_gap])
    begin, end = true_runs(~present)
    lengths = end - begin
    longest = [lengths.max(), begin[lengths.argmax()]] if len(begin) else [0, -1]
    days = np.flatnonzero(present)
    return gaps, np.array([*longest, *(days[[0, -1]] if len(days) else (-1, -1))])


def _by_month(mask: xr.DataArray, days: np.ndarray) -> xr.DataArray:
    """Number of days of each month on which `mask` is true."""
    month = days.astype("datetime64[M]").astype(int)
    month -= month[0] // 12 * 12
    starts = np.flatnonzero(np.append(True, np.diff(month) > 0))
    years = int(month[-1] // 12 + 1)

    def kernel(mask: np.ndarray) -> np.ndarray:
        out = np.zeros((*mask.shape[:-1], years * 12), int)
        out[..., month[starts]] = np.add.reduceat(mask.astype(int), starts, axis=-1)
        return out.reshape(*mask.shape[:-1], years, 12)

    sizes = {"year": years, "month": 12}
    return apply(kernel, mask, core=[["time"]], out=[list(sizes)], sizes=sizes, dtypes=[int])


def describe(coverage: xr.Dataset) -> list[str]:
    """Describe the coverage of a record, in one sentence for each variable.

    Parameters
    ----------
    coverage : Dataset, dims (variable, year, month)
        From `coverage`, of one station.

    Raises
    ------
    ValueError
        If it has several stations.
    """
    more = set(coverage["longest_gap_overall"].dims) - {"variable"}
    if more:
        msg = f"One station at a time: choose from {', '.join(map(str, more))} with .isel()."
        raise InputError(msg)
    return [_sentence(coverage.sel(variable=name)) for name in coverage["variable"].values]


_IN_WORDS = {
    "out_of_range": "out of range",
    "flat_line": "the same for weeks",
    "far_from_season": "far from the season's",
    "spike": "far from the days beside",
    "min_above_max": "with the minimum above the maximum",
}
"""Kinds of flags after a count of values."""


def _sentence(one: xr.Dataset) -> str:
    """Coverage of one variable in a sentence."""
    name, days = one["variable"].item(), int(one["days"].sum())
    present, missing = int(one["present"].sum()), int(one["missing"].sum())
    kinds = one["set_aside"].sum(("year", "month")).to_series()
    aside = [f"{number(times)} {_IN_WORDS[str(kind)]}" for kind, times in kinds.items() if times]
    text = f"{name}: {number(present)} of {counted(days, 'day')}"
    if present:
        first, last = (str(one[key].values)[:10] for key in ("first_date", "last_date"))
        text += f" from {first} to {last}"
    text += f"; {number(missing)} missing; rejected: {', '.join(aside) or 'none'}"
    if filled := int(one["filled"].sum()):
        text += f"; filled from stations nearby: {number(filled)}"
    if gap := int(one["longest_gap_overall"]):
        text += (
            f"; longest gap {counted(gap, 'day')} from {str(one['longest_gap_date'].values)[:10]}"
        )
    return f"{text}."
