"""Trends of yearly values, and comparisons of early with late years and of periods."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import TypeVar

import numpy as np
import xarray as xr

from climwin.core.dependence import shift_reach, trend_per_decade
from climwin.core.errors import Call, InputError, Parameter
from climwin.core.formatting import counted, fixed, signed
from climwin.core.provenance import provenance
from climwin.core.schema import apply
from climwin.core.seasons import DAYS, split_dates
from climwin.core.stats import LEVEL, z_of

History = TypeVar("History", xr.DataArray, xr.Dataset)
Result = TypeVar("Result", xr.DataArray, xr.Dataset)

LATEST = (30, 15)
"""Numbers of latest years for comparison with all years: 30 as in the WMO's normals, 15 by common
practice."""
CLEAR_P = 0.1
"""A trend is clear if Mann-Kendall's p is below this (common practice; 0.1 goes with the 90 %
intervals). All of climwin uses this threshold."""

_YEAR_DIMS = ("season", "year")
_DIRECTIONS = {"day of the year": ("earlier", "later"), "days": ("shorter", "longer")}


# --- trend --------------------------------------------------------------------------------


def trend(yearly: xr.DataArray) -> xr.Dataset:
    """Trend of a yearly value: Theil-Sen slope and Mann-Kendall test.

    Parameters
    ----------
    yearly : DataArray, dims (..., season) or (..., year)
        Numbers, or dates, which are counted in days from 1 January of the season's own year, with
        29 February as 28 February.

    Returns
    -------
    Dataset, dims (...)
        ``slope`` with its 90 % interval ``low`` to ``high``, in the value's unit per decade;
        ``p``, two-sided; ``known``, the number of years with a value. NaN for fewer than 3.

    Raises
    ------
    ValueError
        If `yearly` has no dimension of years, or has neither numbers nor dates.

    See Also
    --------
    compare_halves : The early half of the years compared with the late one.

    Notes
    -----
    Years without a value, such as those without a freeze, are ignored. Interval and p allow for
    autocorrelation as Hamed and Rao do [3]_, averaged over lag-one correlations by how well each
    fits the residuals, see `climwin.core.dependence.trend_test`. Of fewer than 20 years they come
    from generalised least squares, see `short_trend` there. In simulations of 10 to 80 years with a
    correlation of 0 to 0.4, the test at 0.1 then rejects in 0.08 to 0.12 of the records without a
    trend. If years are taken as independent it rejects in up to 0.26, and with published
    corrections that plug in estimated correlations in 0.10 to 0.30.

    References
    ----------
    .. [1] P. K. Sen, "Estimates of the regression coefficient based on Kendall's tau," Journal of
       the American Statistical Association, vol. 63, pp. 1379-1389, 1968.
    .. [2] H. B. Mann, "Nonparametric tests against trend," Econometrica, vol. 13, pp. 245-259,
       1945.
    .. [3] K. H. Hamed and A. R. Rao, "A modified Mann-Kendall trend test for autocorrelated data,"
       Journal of Hydrology, vol. 204, pp. 182-196, 1998.

    Examples
    --------
    >>> import climwin as cw
    >>> daily = cw.read_daily(cw.sample())
    >>> spring = cw.trend(cw.freeze_dates(daily)["last_spring"])
    >>> print(f"{spring['slope'].item():.1f} {spring['slope'].attrs['units']}")
    -1.1 days per decade
    """
    values = _numbers(yearly)
    dim = _year_dim(values)
    results = apply(
        trend_per_decade,
        values[dim],
        values,
        core=[[dim]] * 2,
        out=[[]] * 4,
        dtypes=[float] * 4,
        each=True,
    )
    out = xr.Dataset(dict(zip(("slope", "low", "high", "p"), results, strict=True)))
    out["known"] = values.notnull().sum(dim)
    units = values.attrs.get("units", "1")
    for name in out:
        out[name].attrs = {"units": "1" if name in ("p", "known") else _per_decade(units)}
    span = _span(values[dim].values)
    return out.assign_attrs(provenance(yearly), value_units=units, years=span, interval=LEVEL)


def _year_dim(yearly: xr.DataArray | xr.Dataset) -> str:
    """Name of the dimension of years."""
    for dim in _YEAR_DIMS:
        if dim in yearly.dims:
            return dim
    dims = ", ".join(map(str, yearly.dims)) or "none"
    msg = (
        f"A trend needs a value for each year, along {' or '.join(_YEAR_DIMS)}; got the "
        f"dimensions {dims}. Give a yearly result, such as one of ",
        Call("freeze_dates", ("daily",)),
        ".",
    )
    raise InputError(*msg)


def _numbers(yearly: xr.DataArray) -> xr.DataArray:
    """Yearly values as numbers, in order of time, with their unit."""
    dim = _year_dim(yearly)
    values = yearly.sortby(dim)
    if values.dtype.kind not in "Mbiuf":
        msg = (
            f"A trend needs numbers or dates; {yearly.name!r} has {values.dtype}. "
            "Choose another variable of the result."
        )
        raise InputError(msg)
    if values.dtype.kind != "M":
        return values.astype(float)
    days = apply(_days_from_january, values, values[dim], core=[[], []])
    return days.assign_attrs(units="day of the year")


def _days_from_january(dates: np.ndarray, own_year: np.ndarray) -> np.ndarray:
    """Days from 1 January of a season's own year (day 1), in years of 365 days."""
    year, day, _ = split_dates(dates)
    return np.where(np.isnat(dates), np.nan, (year - own_year) * DAYS + day)


def _per_decade(units: str) -> str:
    """Unit of a slope of values in `units`."""
    if units == "1":
        return " per decade"
    return f"{'days' if units == 'day of the year' else units} per decade"


def _span(years: np.ndarray) -> str:
    return f"{years.min()}-{years.max()}" if len(years) else ""


def describe_trend(result: xr.Dataset, what: str) -> str:
    """Describe a trend in a sentence, including what it does not prove.

    Parameters
    ----------
    result : Dataset
        From `trend`, of one place.
    what : str
        Name of the quantity, such as ``"Last spring freeze"``.

    Raises
    ------
    ValueError
        If `result` has several places or periods.

    Examples
    --------
    >>> import climwin as cw
    >>> daily = cw.read_daily(cw.sample())
    >>> spring = cw.trend(cw.freeze_dates(daily)["last_spring"])
    >>> print(cw.describe_trend(spring, "Last freeze of spring").split(" (")[0])
    Last freeze of spring: no clear trend; 1.1 days per decade earlier is no more than chance brings
    """
    if result["slope"].ndim:
        msg = f"One trend at a time: choose from {', '.join(map(str, result.dims))} with .isel()."
        raise InputError(msg)
    slope, low, high, p = (float(result[name]) for name in ("slope", "low", "high", "p"))
    if np.isnan(slope):
        return f"{what}: too few years to speak of a trend."
    down, up = _DIRECTIONS.get(result.attrs["value_units"], ("lower", "higher"))
    unit = result["slope"].attrs["units"].replace("deg", "°")
    change = f"{fixed(abs(slope), 1)} {unit} {up if slope > 0 else down}"
    known = counted(int(result["known"]), "year")
    interval = f"likely {signed(low, 1)} to {signed(high, 1)}, from {known}"
    if p < CLEAR_P:
        return (
            f"{what}: {change} ({interval}). A trend of the past need not go on, and does not say "
            "what caused it."
        )
    return (
        f"{what}: no clear trend; {change} is no more than chance brings ({interval}). That does "
        "not prove that nothing changes."
    )


# --- early and late years -----------------------------------------------------------------


def compare_halves(yearly: xr.DataArray) -> xr.Dataset:
    """Compare the early half of the years with the late half.

    Parameters
    ----------
    yearly : DataArray, dims (..., season) or (..., year)
        As for `trend`. If the number of years is odd, the middle one belongs to neither half.

    Returns
    -------
    Dataset, dims (...)
        ``early`` and ``late``, the medians, in the value's unit, dates as days of the year;
        ``difference``, late minus early, by Hodges and Lehmann, with its 90 % interval ``low`` to
        ``high``; ``early_known`` and ``late_known``, the numbers of years with a value. The
        attributes ``early_years`` and ``late_years`` give the years. The interval allows for
        autocorrelation, as in `trend`.

    Raises
    ------
    ValueError
        If `yearly` has no dimension of years, or has neither numbers nor dates.

    See Also
    --------
    trend : A slope over all years.

    Examples
    --------
    >>> import climwin as cw
    >>> daily = cw.read_daily(cw.sample())
    >>> halves = cw.compare_halves(cw.freeze_dates(daily)["freeze_free_days"])
    >>> halves.attrs["early_years"], halves["early"].item()
    ('1985-2004', 153.0)
    >>> halves.attrs["late_years"], halves["late"].item()
    ('2005-2024', 155.0)
    """
    values = _numbers(yearly)
    dim = _year_dim(values)
    results = apply(
        _halves,
        values[dim],
        values,
        core=[[dim]] * 2,
        out=[[]] * 7,
        dtypes=[float] * 5 + [int] * 2,
        each=True,
    )
    units = values.attrs.get("units", "1")
    difference_units = "days" if units == "day of the year" else units
    units_of = {
        "early": units,
        "late": units,
        "difference": difference_units,
        "low": difference_units,
        "high": difference_units,
        "early_known": "1",
        "late_known": "1",
    }
    out = xr.Dataset(dict(zip(units_of, results, strict=True)))
    for name in out:
        out[name].attrs = {"units": units_of[str(name)]}
    years, half = values[dim].values, values.sizes[dim] // 2
    spans = {"early_years": _span(years[:half]), "late_years": _span(years[len(years) - half :])}
    return out.assign_attrs(provenance(yearly), **spans, interval=LEVEL)


def _halves(years: np.ndarray, values: np.ndarray) -> tuple[float, ...]:
    """Kernel of `compare_halves`, for one place."""
    half, place = len(values) // 2, np.arange(len(values))
    is_late = place >= len(values) - half
    known = np.isfinite(values) & ((place < half) | is_late)
    early, late = values[known & ~is_late], values[known & is_late]
    reach = None
    if len(early) and len(late):
        reach = shift_reach(years[known], values[known], is_late[known], LEVEL)
    return (
        np.median(early) if len(early) else np.nan,
        np.median(late) if len(late) else np.nan,
        *hodges_lehmann(early, late, reach=reach),
        len(early),
        len(late),
    )


def hodges_lehmann(
    early: np.ndarray, late: np.ndarray, level: float = LEVEL, *, reach: float | None = None
) -> tuple[float, float, float]:
    """Shift from one sample to another: the median of all differences, with its interval.

    Parameters
    ----------
    early, late : ndarray, shapes (m,) and (n,)
        Samples without missing values.
    level : float
        Confidence, 0 to 1.
    reach : float, optional
        Half width of the interval in standard deviations of the independent test, for
        autocorrelated years, from `climwin.core.dependence.shift_reach`. Default: that of `level`.

    Returns
    -------
    shift, low, high : float
        NaN if a sample is empty; the interval also if the samples are too small for one.

    Notes
    -----
    The interval contains the shifts that the Mann-Whitney test does not reject, by the normal
    approximation with continuity correction [2]_.

    References
    ----------
    .. [1] J. L. Hodges and E. L. Lehmann, "Estimates of location based on rank tests," The Annals
       of Mathematical Statistics, vol. 34, pp. 598-611, 1963.
    .. [2] M. Hollander and D. A. Wolfe, "Nonparametric Statistical Methods," Wiley, 1999, as the
       documentation of SAS/STAT's NPAR1WAY states it; the continuity is ours.
    """
    m, n = len(early), len(late)
    if not m * n:
        return np.nan, np.nan, np.nan
    shifts = np.sort(np.subtract.outer(late, early), axis=None)
    reach = z_of(level) if reach is None else reach
    rank = int((m * n + 1) / 2 - reach * np.sqrt(m * n * (m + n + 1) / 12))
    low, high = (shifts[rank - 1], shifts[-rank]) if rank > 0 else (np.nan, np.nan)
    return float(np.median(shifts)), float(low), float(high)


# --- periods ------------------------------------------------------------------------------


def compare_periods(
    function: Callable[[History], Result], history: History, *, latest: Sequence[int] = LATEST
) -> Result:
    """Compute a result for all years and for the latest ones.

    Parameters
    ----------
    function : callable
        Takes a history, returns a Dataset or a DataArray, such as `climwin.freeze_odds`.
    history : Dataset or DataArray, dims (..., time) or (..., season)
        A daily record, cut by calendar years, or yearly results, cut by seasons.
    latest : sequence of int
        Numbers of latest years.

    Returns
    -------
    Dataset or DataArray, dims (period, ...)
        The function's results; `period` gives the years, such as ``"1985-2024"``, all years first.
        Periods that are not shorter than the history are left out.

    Raises
    ------
    ValueError
        If a number of years is not positive, or the history has neither days nor years.

    Notes
    -----
    A period that begins on 1 January cuts a southern season in two, so with a daily record the
    first spring of each shorter period is unknown there. Yearly results are not cut.

    Examples
    --------
    >>> import climwin as cw
    >>> daily = cw.read_daily(cw.sample())
    >>> odds = cw.compare_periods(cw.freeze_odds, daily, latest=[15])
    >>> odds["period"].values.tolist()
    ['1985-2024', '2010-2024']
    >>> odds["last_spring"].sel(odds=0.5).round().values.tolist()
    [126.0, 121.0]
    """
    if not all(years > 0 for years in latest):
        msg = f" are numbers of years, 1 or more, got {', '.join(map(str, latest))}."
        raise InputError(Parameter("latest"), msg)
    dim = "time" if "time" in history.dims else _year_dim(history)
    year: np.ndarray = np.asarray(history[dim])
    if dim == "time":
        year = split_dates(year)[0]
    first: int = year.min()
    last: int = year.max()
    # A period as long as the history would only repeat it.
    first_years = [first, *(last - years + 1 for years in latest if years <= last - first)]
    periods = [f"{first_year}-{last}" for first_year in first_years]
    return xr.concat(
        [function(history.isel({dim: year >= first_year})) for first_year in first_years],
        xr.DataArray(periods, dims="period", name="period"),
        data_vars="all",
        coords="different",
        compat="equals",
        join="outer",
        combine_attrs="drop_conflicts",
    )
