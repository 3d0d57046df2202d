"""Move the years of a record to today's level, to allow for a climate that has changed.

A count of all years assumes that each is as likely to come again. If it has become warmer, the
early years are too cold for that. Moving all temperatures by one shift keeps the weather of the
years, with its spells and frosts, and puts it at today's level.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
import xarray as xr

from climwin.climate.breakpoints import detect_breakpoints, yearly_means
from climwin.core.dependence import contrast_variance, lag_one_weights
from climwin.core.errors import InputError, Parameter
from climwin.core.formatting import as_typed, signed
from climwin.core.provenance import CLIMATE, LEVEL_ERROR, climate_of, with_note
from climwin.core.schema import (
    Units,
    apply,
    check_choice,
    difference_from_celsius,
    variable,
)
from climwin.core.stats import KINDS

CLIMATES = ("record", "today")
"""The climates that odds can be of: all years as they were, or moved to today's level."""
HALF_LIFE = 5.0
"""Half-life of the weight of a year in today's level; in a hindcast on long records three years did
no better (``tests/odds/RESULTS.md``). [year]"""
WARMING_C, WARMING_SPREAD_C = 0.02, 0.02
"""What is expected of a place's trend before its record is looked at, and its spread. The less a
record tells of its own trend, the more it is drawn to this. [degC per year]

The globe warms by 0.2 degC a decade, likely 0.1 to 0.3 (IPCC 2018, Global Warming of 1.5 degC,
Summary for Policymakers, A.1.1). Land has warmed by 0.32 a decade from 1981 to 2019; countries by
less than 0.15 to 0.65, so that nearly all lie within two spreads of the rate (Shen et al. 2022,
"Temperature trends in some major countries from the 1980s to 2019," Journal of Geographical
Sciences, vol. 32, pp. 79-100; only the abstract was read). Drawn to 0.3, odds were no better on
real records. On simulated ones of 10 to 20 years the best dates of a place that does not warm were
told 3.8 to 4.5 points too high, where 0.2 leaves 2.5 to 2.9 (``tests/odds``). So 0.2 stays."""
WARMING_SINCE = 1975
"""Last year before that warming. Change points of the global mean show no other rate since about
1970 (Cahill, Rahmstorf and Parnell 2015, "Change points of global temperature," Environmental
Research Letters, vol. 10; only the abstract was read); all reconstructions warm since 1975 at the
latest, and many places on land since about 1980 (Aghaei, Phillips and Kantz 2025, "Change point
detection in ERA5 ground temperature time series," arXiv:2507.15045)."""
LEAST_LEVEL_YEARS = 10
"""Least number of years with a mean for moving a record. In the hindcast (``tests/odds``) the moved
years beat a plain count of the same years from 10 on."""

OWN_TREND_YEARS = 25
"""Years from which on a record's own trend counts for more than the usual warming."""

MILD_C = 0.0
"""Mean minimum of the coldest month above which a place counts as mild. [degC]"""
_FREEZES = ("spring freeze", "autumn freeze", "freeze-free days")
_MOVED = ("tmin", "tmax")


def in_climate(daily: xr.Dataset, climate: str = "record") -> xr.Dataset:
    """A record as it is, or moved to today's level.

    Parameters
    ----------
    daily : Dataset, dims (..., time)
        A daily record.
    climate : {"record", "today"}
        Climate of the odds to be computed, see `todays_climate`.

    Returns
    -------
    Dataset, as `daily`
        A record that was already moved is returned unchanged.

    Raises
    ------
    ValueError
        If the climate is neither of the two.
    """
    check_choice("climate", climate, CLIMATES)
    if climate == "record" or climate_of(daily) == "today":
        return daily
    return todays_climate(daily)


def todays_climate(daily: xr.Dataset, half_life: float = HALF_LIFE) -> xr.Dataset:
    """The same history with the temperatures of every year moved to today's level.

    Parameters
    ----------
    daily : Dataset, dims (..., time)
        ``tmin`` or ``tmax`` or both, and other variables. [degC]
    half_life : float
        Half-life of the weight of a year in today's level. [year]

    Returns
    -------
    Dataset, as `daily`
        ``tmin`` and ``tmax`` moved by one shift each, the same for all days of all years, and
        ``tmean`` by the mean of the two; precipitation and quality flags are unchanged. The
        attribute ``climate`` is ``"today"``, ``todays_tmin_shift_c`` and ``todays_tmax_shift_c``
        are the shifts [degC], ``todays_error_c`` is the standard error of their mean [degC], which
        the intervals of odds allow for, and ``climate_note`` says what was done. A record that is
        not moved keeps the climate ``"record"``, and its note says why.

    Raises
    ------
    ValueError
        If the half-life is not positive, or the record has neither extreme.

    See Also
    --------
    warm_by : Shift a history by any amount.

    Notes
    -----
    A year's level is the mean departure of its days from the usual year, if at least 330 have a
    value. The shift is the exponentially weighted mean level, with this half-life, minus the plain
    mean level. Such a mean lags some years behind, so the linear trend through all years carries it
    on to the last one. The less certain the trend is, the more it is drawn to the usual warming,
    0.2 degC a decade since 1975: nearly all the way after 10 years, by half after 25, by a fifth
    after 40. Fewer than 10 years with a level give no shift.

    If there is a clear sudden step (see `detect_breakpoints`), the station may have been moved. The
    shift is then that of the years after the step, and none if these are fewer than 10.

    Days of a moved record are not measurements. It shows today's climate as far as the record
    tells, and is not a forecast: the shift does not extend into the future.

    Examples
    --------
    >>> import climwin as cw
    >>> daily = cw.read_daily(cw.sample())
    >>> today = cw.todays_climate(daily)
    >>> today.attrs["climate"], round(today.attrs["todays_tmin_shift_c"], 1)
    ('today', 0.6)
    """
    if not half_life > 0:
        msg = f" is a number of years above 0, got {as_typed(half_life)}."
        raise InputError(Parameter("half_life"), msg)
    names = [name for name in _MOVED if name in daily]
    if not names:
        variable(daily, "tmin")  # raises an error that says what the record lacks
    steps = first_years_after_steps(daily)
    found = {name: _shift_of(variable(daily, name), steps.get(name), half_life) for name in names}
    shifts = {name: shift for name, (shift, _) in found.items()}
    if not any(bool((shift != 0).any()) for shift in shifts.values()):
        return daily.assign_attrs(climate_note=_why_not(daily, steps))
    out = daily.copy()
    for name, shift in shifts.items():
        out = _moved(out, name, shift)
    if "tmean" in daily:
        middle = xr.concat(list(shifts.values()), "variable").mean("variable")
        out = _moved(out, "tmean", middle)
    facts = {f"todays_{name}_shift_c": shift.values.tolist() for name, shift in shifts.items()}
    # Both extremes share their weather, so the error of their mean is not smaller.
    facts[LEVEL_ERROR] = float(np.mean([error.mean() for _, error in found.values()]))
    note = f"every year moved to today's level: {_in_words(shifts)}{_steps_note(steps)}"
    return with_note(out, note).assign_attrs({CLIMATE: "today", "climate_note": note} | facts)


def leading_climate(daily: xr.Dataset, kind: str) -> str:
    """The climate whose odds lead for a kind of event at a place, ``"today"`` or ``"record"``.

    Today's climate leads, because its odds were better in a hindcast on long records, clearly so
    for heat; for windows in mild places alone they were a little worse, within chance. For freezes
    in mild places the record leads, because today's level did not help (``tests/odds``).

    Parameters
    ----------
    daily : Dataset, dims (time)
        Record of one place. [degC]
    kind : str
        One of `stats.KINDS`.
    """
    check_choice("kind", kind, KINDS)
    return "record" if kind in _FREEZES and is_mild(daily) else "today"


def is_mild(daily: xr.Dataset) -> bool:
    """Whether the coldest month of one place has a mean minimum above freezing."""
    monthly = variable(daily, "tmin").groupby("time.month").mean()
    return bool(monthly.min() > MILD_C)


def years_with_mean(daily: xr.Dataset) -> int:
    """Number of years of which the level is known, of the station that has most."""
    counts = [
        int(yearly_means(daily[name]).notnull().sum("year").max())
        for name in _MOVED
        if name in daily
    ]
    return max(counts, default=0)


def _moved(daily: xr.Dataset, name: str, shift: xr.DataArray) -> xr.Dataset:
    """The record with one variable shifted, including its values that were set aside."""
    for each in (name, f"{name}_set_aside"):
        if each in daily:
            attrs, dims = daily[each].attrs, daily[each].dims
            daily[each] = (daily[each] + shift).transpose(*dims).assign_attrs(attrs)
    return daily


def first_years_after_steps(daily: xr.Dataset) -> dict[str, xr.DataArray]:
    """First year after a clear sudden step of each extreme; NaN if there is none.

    Empty if the record lacks one of the extremes.
    """
    if not {*_MOVED} <= {*daily}:
        return {}
    found = detect_breakpoints(daily)
    first = found["break_year"].where(found["kind"].isin(["step", "step or drift"]))
    return {name: first.sel(variable=name, drop=True) for name in _MOVED}


class Shift(NamedTuple):
    """Today's level minus the plain mean of the yearly levels. [degC]"""

    by: float
    error: float
    """Its standard error."""


NO_SHIFT = Shift(0.0, 0.0)


def _shift_of(
    values: xr.DataArray, step: xr.DataArray | None, half_life: float
) -> tuple[xr.DataArray, xr.DataArray]:
    """Shift of a variable by station, and its standard error."""
    yearly = yearly_means(values)
    found = apply(
        lambda year, level, first: level_shift(year, level, first, half_life),
        yearly["year"],
        yearly,
        xr.DataArray(np.nan) if step is None else step,
        core=[["year"], ["year"], []],
        out=[[], []],
        dtypes=[float] * 2,
        each=True,
    )
    shift, error = (each.compute().drop_vars(set(each.coords) - set(each.dims)) for each in found)
    return shift, error


def level_shift(
    year: np.ndarray, level: np.ndarray, first_year: float = np.nan, half_life: float = HALF_LIFE
) -> Shift:
    """Today's level minus the plain mean of the yearly levels, see `todays_climate`.

    Parameters
    ----------
    year, level : ndarray, shape (years,)
        Years, and their mean departures; NaN is ignored. [degC]
    first_year : float
        Earlier years are ignored; NaN to use all.
    half_life : float
        Half-life of the weight of a year. [year]

    Returns
    -------
    Shift
        0 for fewer than `LEAST_LEVEL_YEARS` known years. Its error allows for autocorrelated years,
        and for a trend that was drawn too far. [degC]
    """
    known = np.isfinite(level)
    if np.isfinite(first_year):
        known &= year >= first_year
    count = int(known.sum())
    if count < LEAST_LEVEL_YEARS:
        return NO_SHIFT
    year = year[known].astype(float)
    expected = WARMING_C * np.maximum(year - WARMING_SINCE, 0)
    own = level[known] - expected  # what the place does beside the warming that is expected
    weight = 0.5 ** ((year[-1] - year) / half_life)
    weight /= weight.sum()
    looks_back = year[-1] - weight @ year
    since_middle = year - year.mean()
    slope_of = since_middle / (since_middle @ since_middle)  # slope_of @ own is the slope
    slope = slope_of @ own
    left = own - own.mean() - slope * since_middle
    variance = left @ left / (count - 2)
    kept = WARMING_SPREAD_C**2 / (WARMING_SPREAD_C**2 + variance * (slope_of @ slope_of))
    contrast = weight - 1 / count + kept * looks_back * slope_of
    shift = expected[-1] - expected.mean() + contrast @ own
    lag_ones = lag_one_weights(year, own, np.stack([np.ones(count), since_middle]))
    noise = variance * float(lag_ones @ contrast_variance(year, contrast))
    drawn_too_far = (1 - kept) * looks_back * WARMING_SPREAD_C
    return Shift(float(shift), float(np.sqrt(noise + drawn_too_far**2)))


# --- in words -----------------------------------------------------------------------------


def shift_in_words(moved: xr.Dataset, units: Units = "C") -> str:
    """Describe how a record was moved to today's level, or why it was not.

    Parameters
    ----------
    moved : Dataset
        From `todays_climate`, of one place.
    units : {"C", "F"}
        Units of the shifts.

    Examples
    --------
    >>> import climwin as cw
    >>> from climwin.climate.level import shift_in_words
    >>> today = cw.todays_climate(cw.read_daily(cw.sample()))
    >>> shift_in_words(today, "F")
    "Every year is moved to today's level: nights by +1.0 °F, days by +1.0 °F"
    """
    shifts = {name: moved.attrs.get(f"todays_{name}_shift_c") for name in _NAMED}
    parts = [
        f"{_NAMED[name]} by {signed(float(difference_from_celsius(shift, units)), 1)} °{units}"
        for name, shift in shifts.items()
        if isinstance(shift, float)
    ]
    if not parts:
        return str(moved.attrs["climate_note"])
    return f"Every year is moved to today's level: {', '.join(parts)}"


def assumed_warming(daily: xr.Dataset) -> str:
    """Say that the usual warming is assumed, of a record that hardly shows its own; else empty."""
    if years_with_mean(daily) >= OWN_TREND_YEARS:
        return ""
    return (
        "So few years hardly show how fast this place is warming, so the warming of the whole "
        "globe is assumed."
    )


_NAMED = {"tmin": "nights", "tmax": "days"}
"""What the shifts are of, in a sentence."""


def _in_words(shifts: dict[str, xr.DataArray]) -> str:
    parts = []
    for name, shift in shifts.items():
        ends = [signed(float(end), 2) for end in (shift.min(), shift.max())]
        by = " to ".join(dict.fromkeys(ends))
        parts.append(f"{_NAMED[name]} by {by} degC")
    return ", ".join(parts)


def _steps_note(steps: dict[str, xr.DataArray]) -> str:
    """A note on steps, after which only later years count, if there are any."""
    parts = [
        f"{_NAMED[name]} from {int(first.item())} on" if not first.dims else _NAMED[name]
        for name, first in steps.items()
        if bool(first.notnull().any())
    ]
    if not parts:
        return ""
    return f"; after a sudden step only the years since count for it: {', '.join(parts)}"


def _why_not(daily: xr.Dataset, steps: dict[str, xr.DataArray]) -> str:
    """Why a record was not moved."""
    count = years_with_mean(daily)
    if count < LEAST_LEVEL_YEARS:
        return (
            f"not moved to today's level: {count} years have a mean, {LEAST_LEVEL_YEARS} are needed"
        )
    return (
        "not moved to today's level: a sudden step cuts the record, and fewer than "
        f"{LEAST_LEVEL_YEARS} years have come since{_steps_note(steps)}"
    )
