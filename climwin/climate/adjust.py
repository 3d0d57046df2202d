"""Adjust a station's record to the garden, by height or by offsets from a logger."""

from __future__ import annotations

from collections.abc import Mapping
from typing import NamedTuple

import numpy as np
import xarray as xr

from climwin.climate._monthly import MONTHS, lag_one_correlation, on_every_day
from climwin.core.errors import Attribute, Call, DataGapError, InputError, Parameter
from climwin.core.formatting import metres, plain
from climwin.core.geo import LAPSE_C_PER_KM
from climwin.core.provenance import check_alike, with_note
from climwin.core.schema import Garden, check_choice, variable
from climwin.core.wording import MONTHS as MONTH_NAMES
from climwin.io.logger_plausibility import refuse_against_outdoors

_LEAST_LAPSE, _MOST_LAPSE = 0.1, 30.0
"""Bounds of a lapse rate: less may be per metre, more is no air (common practice). [degC/km]"""

TEMPERATURES = ("tmin", "tmax", "tmean")

LEAST_DAYS = 14
"""Least number of common days of a logger and the station. [day]"""

DAYS_OF_A_MONTH = 5
"""Least number of days for a month to count; others follow their neighbours. [day]"""

_YEAR_DAYS = 365.25
_YEAR_SHARE = 0.15  # of the spread of single days, by which a month differs from year to year
_MONTHS_VARIANCE = 0.2
"""Usual variance of a month's mean between years, as a share of that of single days: stations of
1985 to 2014 have 0.15 to 0.28."""
_LEAST_YEARS = 10  # of a station's record, for a share of its own (our choice)
_WHOLE_MONTH = 25  # least number of days of a month in it (common practice) [day]
_BORROWED_DAYS = 5  # weight, in days, of the spread of all months in that of one month (our choice)
_DEPARTURE_C = 2.0  # least prior size of departures from the lapse rate (our choice)
_WAVES = (1.0, 0.5, 0.25)
"""Prior sizes of the first three harmonics relative to the mean. Mean and first harmonic are
equally large, so that one season says almost nothing about the opposite one (our choice)."""
_ALIKE_OVER_MONTHS = 0.25  # correlation of the errors of a logger's months; 0.5 and 0.7 hold worse
_LEAST_ERROR_C = 0.1

_WORDS = {"tmin": "minimum", "tmax": "maximum", "tmean": "mean"}


def adjust_to_garden(
    daily: xr.Dataset,
    garden: Garden,
    *,
    lapse: float | Mapping[str, float] = LAPSE_C_PER_KM,
    offsets: xr.Dataset | None = None,
) -> xr.Dataset:
    """Adjust station temperatures to the garden, by height or by measured offsets.

    Parameters
    ----------
    daily : Dataset, dims (..., time)
        The station's record; its ``elevation`` [m] is an attribute, or a coordinate by station.
    garden : Garden
        The garden; without an elevation the station's is used, and a note says so.
    lapse : float or mapping
        Lapse rate, for all variables or by name. An extreme that a mapping leaves out is not
        adjusted; a mean that it leaves out gets the mean of both extremes. [degC/km]
    offsets : Dataset, dims (month), optional
        From `measured_offsets`. Their departures from the lapse rate become a smooth curve through
        the year, shrunk towards the lapse rate where few days and years were measured.

    Returns
    -------
    Dataset, as `daily`
        ``tmin, tmax, tmean`` adjusted; the attributes ``history`` and ``changes`` say how.

    Raises
    ------
    ValueError
        If the garden's height is given and the station's is not known, or `lapse` is no rate in
        degC/km, or names another variable.

    See Also
    --------
    measured_offsets : Offsets from a logger in the garden itself.

    Notes
    -----
    Minimum, maximum and mean move together: one that was not measured gets the departure of the
    others, and the mean stays between the extremes.

    6.5 degC/km is the lapse rate of the standard atmosphere [1]_. Near the ground it differs: 5.4
    to 5.8 over the year in northern Italy [2]_; in the Cascades 2.5 to 3.5 for the minimum of late
    summer and 6.5 to 7.5 for the maximum of spring [3]_. On clear, calm nights a valley floor can
    be colder than the slope above it (common practice). No lapse rate describes that, but a season
    of the garden's own logger does.

    References
    ----------
    .. [1] ICAO Doc 7488, Manual of the ICAO Standard Atmosphere; ISO 2533.
    .. [2] C. Rolland, 2003: yearly mean lapse rates in northern Italy.
    .. [3] J. R. Minder, P. W. Mote and J. D. Lundquist, 2010: lapse rates in the Cascades.

    Examples
    --------
    A garden 200 m above its station, 6.5 degC/km colder:

    >>> import climwin as cw
    >>> daily = cw.read_daily(cw.sample())
    >>> garden = cw.Garden("Upper Pellbrook", latitude=46.1, longitude=7.2, elevation=620)
    >>> moved = cw.adjust_to_garden(daily, garden)
    >>> round((moved["tmin"] - daily["tmin"]).mean().item(), 2)
    -1.3
    """
    height_km, how = _height_above_station(daily, garden)
    rates = _rates(lapse)
    names = [name for name in TEMPERATURES if name in daily]
    changes = {name: -rates[name] * height_km for name in names}
    if offsets is not None:
        day = daily["time"].dt.dayofyear
        departures = {
            name: departure(offsets, name, changes.get(name, 0.0), day)
            for name in TEMPERATURES
            if name in offsets
        }
        for name in names:
            changes[name] = changes[name] + _departure_or_mean_of_others(departures, name)
    out = daily.copy()
    for name in names:
        out[name] = (variable(daily, name) + changes[name]).transpose(*daily[name].dims)
        if (aside := f"{name}_set_aside") in daily:
            moved = (daily[aside] + changes[name]).transpose(*daily[aside].dims)
            out[aside] = moved.assign_attrs(daily[aside].attrs)
    out = in_order(out)
    for name in names:
        out[name].attrs = daily[name].attrs
    if garden.elevation is not None:
        out = _with_elevation(out, garden.elevation)
        how += f", {_in_words(rates)} colder for each 1000 m up"
    if offsets is not None:
        how = (
            f"by offsets measured in {_measured_months(offsets)}, as a smooth curve through the "
            f"year, closer to the lapse rate where less was measured; other months {how}"
        )
    return with_note(out, f"temperatures moved to {garden.full_name}, {how}")


def _rates(lapse: float | Mapping[str, float]) -> dict[str, float]:
    """Lapse rates by name; a mean without its own gets the mean of both extremes."""
    given = lapse if isinstance(lapse, Mapping) else {"tmin": lapse}
    for name, rate in given.items():
        check_choice("lapse", name, TEMPERATURES)
        if not (rate == 0 or _LEAST_LAPSE <= abs(rate) <= _MOST_LAPSE):
            bounds = f"{plain(_LEAST_LAPSE)} to {plain(_MOST_LAPSE)}"
            msg = (
                f" is in degC per km: 0, or {bounds} on either side of it, got {rate}. "
                f"{plain(LAPSE_C_PER_KM)} is usual."
            )
            raise InputError(Parameter("lapse"), msg)
    if not isinstance(lapse, Mapping):
        return dict.fromkeys(TEMPERATURES, float(lapse))
    rates = {name: float(lapse.get(name, 0.0)) for name in ("tmin", "tmax")}
    return rates | {"tmean": float(lapse.get("tmean", (rates["tmin"] + rates["tmax"]) / 2))}


def _departure_or_mean_of_others(
    departures: Mapping[str, xr.DataArray], name: str
) -> xr.DataArray | float:
    """The departure of a variable, or the mean of the others' if it was not measured.

    So minimum, maximum and mean move together.
    """
    if name in departures:
        return departures[name]
    if not departures:
        return 0.0
    extremes = [departures[each] for each in ("tmin", "tmax") if each in departures]
    several = extremes or list(departures.values())
    return sum(several[1:], several[0]) / len(several)


def in_order(daily: xr.Dataset) -> xr.Dataset:
    """Put minimum and maximum in order, and the mean between them."""
    out = daily.copy()
    if {"tmin", "tmax"} <= {*daily}:
        crossed = daily["tmin"] > daily["tmax"]
        out["tmin"] = daily["tmin"].where(~crossed, daily["tmax"])
        out["tmax"] = daily["tmax"].where(~crossed, daily["tmin"])
        if "tmean" in daily:
            # The mean may be rounded to just outside the extremes; a missing extreme is no bound.
            low, high = out["tmin"].fillna(-np.inf), out["tmax"].fillna(np.inf)
            out["tmean"] = daily["tmean"].clip(low, high)
    return out


def departure(
    offsets: xr.Dataset, name: str, rule_c: xr.DataArray | float, day: xr.DataArray
) -> xr.DataArray:
    """Departure of the garden from the lapse rate, smooth through the year.

    Parameters
    ----------
    offsets : Dataset, dims (month)
        From `measured_offsets`.
    name : str
        Name of the variable.
    rule_c : DataArray or float
        Garden minus station, by the lapse rate. [degC]
    day : DataArray, dims (time)
        Days of the year.

    Returns
    -------
    DataArray, dims (..., time)
        Posterior mean of a constant and three harmonics, given the measured months; near 0, the
        lapse rate, where little was measured. [degC]
    """
    covariance, weights = _posterior(offsets, name, rule_c)
    is_measured = offsets[f"{name}_days"].values >= DAYS_OF_A_MONTH
    gain = np.zeros((len(covariance), len(is_measured)))
    gain[:, is_measured] = covariance @ weights
    waves = _waves(day.values) @ gain
    by_offsets = xr.DataArray(waves @ np.where(is_measured, offsets[name].values, 0.0), dims="time")
    by_rule = xr.DataArray(waves @ is_measured.astype(float), dims="time")
    return by_offsets - by_rule * rule_c


def _waves(day: np.ndarray) -> np.ndarray:
    """Constant and three harmonics on days of the year, shape (days, 7)."""
    turn = 2 * np.pi * np.asarray(day, float)[:, None] * np.arange(1, 4) / _YEAR_DAYS
    return np.concatenate([np.ones((len(turn), 1)), np.cos(turn), np.sin(turn)], axis=1)


def _posterior(
    offsets: xr.Dataset, name: str, rule_c: xr.DataArray | float
) -> tuple[np.ndarray, np.ndarray]:
    """Covariance of the coefficients, shape (7, 7), and weights of the measured months, (7, n).

    The product of both has what each month's offset adds to each coefficient. Generalised
    least squares on the measured months, with normal priors about 0 (ridge regression).
    The prior is as wide as the mean departure that was measured, less its error, if that is more
    than 2 degC (empirical Bayes): a place that is far off the lapse rate is not drawn back to it.
    """
    is_measured = offsets[f"{name}_days"].values >= DAYS_OF_A_MONTH
    errors = np.maximum(offsets[f"{name}_se"].values[is_measured], _LEAST_ERROR_C)
    alike = np.full((len(errors), len(errors)), _ALIKE_OVER_MONTHS)
    np.fill_diagonal(alike, 1.0)
    waves = _waves(offsets[f"{name}_middle"].values[is_measured])
    of_months = alike * np.outer(errors, errors)
    weights = waves.T @ np.linalg.inv(of_months)
    size = _DEPARTURE_C
    if len(errors):
        apart = offsets[name].values[is_measured].mean() - float(np.mean(rule_c))
        size = max(size, float(np.sqrt(max(apart**2 - of_months.mean(), 0.0))))
    sizes = size * np.array([1.0, *_WAVES, *_WAVES])
    return np.linalg.inv(np.diag(1 / sizes**2) + weights @ waves), weights


def _height_above_station(daily: xr.Dataset, garden: Garden) -> tuple[xr.DataArray, str]:
    """Height of the garden above the station [km], and in words."""
    if garden.elevation is None:
        return xr.DataArray(0.0), "at the height of the station, because the garden's is not given"
    station = daily.coords.get("elevation", daily.attrs.get("elevation"))
    if station is None:
        msg = (
            "The height of the station is not known. Give its metres in ",
            Attribute("elevation"),
            ", or leave the garden's elevation out.",
        )
        raise InputError(*msg)
    height = garden.elevation - xr.DataArray(station)
    if height.size > 1:
        return height / 1000, "by height"
    side = "above" if height.item() >= 0 else "below"
    return height / 1000, f"{metres(height.item())} {side} the station"


def _in_words(rates: Mapping[str, float]) -> str:
    """Lapse rates in words, as one number if all are equal."""
    rate_of = {name: rates.get(name, 0.0) for name in TEMPERATURES}
    if len(set(rate_of.values())) == 1:
        return f"{plain(rate_of['tmin'])} °C"
    return ", ".join(f"{_WORDS[name]} {plain(rate)} °C" for name, rate in rate_of.items())


def _with_elevation(daily: xr.Dataset, elevation: float) -> xr.Dataset:
    """The record at a new height; that of a single station is kept beside it."""
    if "elevation" in daily.coords:
        return daily.assign_coords(elevation=xr.full_like(daily["elevation"], elevation))
    measured_at = daily.attrs.get("station_elevation", daily.attrs["elevation"])
    return daily.assign_attrs(elevation=elevation, station_elevation=measured_at)


def _measured_months(offsets: xr.Dataset) -> str:
    """The months that have an offset, and the number of days for each variable."""
    names = [name for name in TEMPERATURES if name in offsets]
    is_measured = np.any(
        [offsets[f"{name}_days"].values >= DAYS_OF_A_MONTH for name in names], axis=0
    )
    months = ", ".join(MONTH_NAMES[m - 1] for m in offsets["month"].values[is_measured])
    days = ", ".join(
        f"{_WORDS[name]} from {int(offsets[f'{name}_days'].sum())} days" for name in names
    )
    return f"{months} ({days})"


def measured_offsets(daily: xr.Dataset, logger: xr.Dataset) -> xr.Dataset:
    """Monthly offsets of the garden's own logger from the station, with standard errors.

    Parameters
    ----------
    daily : Dataset, dims (time)
        The station's record.
    logger : Dataset, dims (time)
        Daily ``tmin``, ``tmax``, ``tmean`` (any of them) of a logger in the garden, in a screen.

    Returns
    -------
    Dataset, dims (month)
        For each variable: the mean difference, garden minus station [degC]; ``<name>_se``, its
        standard error as an estimate for that month in other years [degC]; ``<name>_days`` and
        ``<name>_years``, the numbers of days and years; ``<name>_middle``, the mean day of the
        year. NaN in months without a common day. A month with fewer than five days is listed but
        not used.

    Raises
    ------
    DataGapError
        If the two have fewer than 14 days in common.
    RecordError
        If the logger cannot belong to the record, such as one in degF.
    ValueError
        If it has no daily temperature, more than one place, or minimum and maximum swapped.

    See Also
    --------
    adjust_to_garden : Applies these offsets.

    Notes
    -----
    The standard error has two parts. First, neighbouring days are correlated: n differences count
    as n (1 - r) / (1 + r) independent ones, where r is the lag-one correlation over all months, at
    least 0 [1]_. Second, a month differs from year to year by more than its days suggest. Where two
    places share their weather, by 0.15 of the spread of single days; where they share none, by as
    much as the station's own months do, which its record tells (0.4 to 0.5, if it has ten years).
    In between, the two variances are weighted by the correlation of the days. The 0.15 was chosen
    on ten pairs of stations of 1985 to 2014 in Illinois, Iowa, Ohio and Nebraska. A month of few
    days borrows its spread from the others.

    References
    ----------
    .. [1] F. W. Zwiers and H. von Storch, "Taking serial correlation into account in tests of the
       mean," Journal of Climate, 1995, as NCL's ``equiv_sample_size`` states it.

    Examples
    --------
    A year of the hill's station stands in for a logger in a garden up there:

    >>> import climwin as cw
    >>> valley = cw.read_daily(cw.sample())
    >>> hill = cw.read_daily(cw.sample("pellbrook_hill.csv"))
    >>> offsets = cw.measured_offsets(valley, hill.sel(time=slice("2023-03-01", "2024-05-31")))
    >>> offsets["tmin"].sel(month=4).round(1).item(), offsets["tmin_days"].sel(month=4).item()
    (-1.6, 60)
    """
    names = _measured_names(daily, logger)
    out = xr.Dataset(coords={"month": MONTHS})
    for name in names:
        station, garden = on_every_day(variable(daily, name), variable(logger, name))
        months = _months_of(garden - station, _between_years(station, garden))
        for key, (column, units, long_name) in {
            "": (months.mean, "degC", f"garden less station, {name}"),
            "_se": (months.error, "degC", f"standard error of {name} in other years"),
            "_days": (months.days, "1", "days behind it"),
            "_years": (months.years, "1", "years that they are from"),
            "_middle": (months.middle, "1", "their middle, day of the year"),
        }.items():
            out[f"{name}{key}"] = ("month", column, {"units": units, "long_name": long_name})
    days = max(int(out[f"{name}_days"].sum()) for name in names)
    _refuse_few(days)
    return out


def _refuse_few(days: int) -> None:
    """Refuse a logger with too few days in common with the station."""
    if days < LEAST_DAYS:
        shared = "no day" if not days else f"only {days} day{'s' * (days > 1)}"
        msg = (
            f"The logger and the station have {shared} with a temperature in common; at least "
            f"{LEAST_DAYS} are needed, a month in each season is better. Fetch the station's "
            "history for the logger's days, or let the logger run longer."
        )
        raise DataGapError(msg)


def _measured_names(daily: xr.Dataset, logger: xr.Dataset) -> list[str]:
    """The temperatures that both have; a logger that cannot belong to the record is refused."""
    check_alike(daily, logger)
    names = [name for name in TEMPERATURES if name in daily and name in logger]
    if not names:
        there = ", ".join(map(str, logger)) or "nothing"
        text = (
            "The logger needs tmin, tmax or tmean of each day, as the record has them; it has "
            f"{there}. Readings become days by "
        )
        raise InputError(text, Call("logger_days", ("logger",)), ".")
    for record in (daily, logger):
        dims = [str(each) for each in record[names].sizes]
        if dims != ["time"]:
            msg = (
                f"Offsets are measured at one place, got dimensions {', '.join(dims)}. Choose one "
                "station first, with .sel()."
            )
            raise InputError(msg)
        if not record.sizes["time"]:
            _refuse_few(0)
    refuse_against_outdoors(logger, daily)
    if {"tmin", "tmax"} <= {*logger} and float((logger["tmin"] > logger["tmax"]).mean()) > 0.5:
        msg = "The logger's tmin is above its tmax on most days. Are they swapped? Rename them."
        raise InputError(msg)
    return names


class _Months(NamedTuple):
    """Differences of garden and station by month, shape (12,) each; see `measured_offsets`."""

    mean: np.ndarray
    error: np.ndarray
    days: np.ndarray
    years: np.ndarray
    middle: np.ndarray


def _between_years(station: xr.DataArray, garden: xr.DataArray) -> float:
    """Variance of a month's difference between years, as a share of that of single days.

    Parameters
    ----------
    station, garden : DataArray, dims (time)
        On an axis of every day. [degC]
    """
    time = station["time"].dt
    month = np.asarray(time.month) - 1
    here, there = _less_their_mean(station.values, garden.values, month)
    scale = np.sqrt((here**2).sum() * (there**2).sum())
    shared = float(np.clip((here * there).sum() / scale, 0.0, 1.0)) if scale > 0 else 0.0
    each = (np.asarray(time.year) - int(time.year.min())) * 12 + month
    return shared * _YEAR_SHARE**2 + (1 - shared) * _months_variance(station.values, each)


def _less_their_mean(
    station: np.ndarray, garden: np.ndarray, month: np.ndarray
) -> tuple[np.ndarray, np.ndarray]:
    """Both series on their common days, each less its mean of the month."""
    both = np.isfinite(station) & np.isfinite(garden)
    month = month[both]
    days = np.maximum(np.bincount(month, minlength=12), 1)
    one, other = (
        values[both] - (np.bincount(month, values[both], minlength=12) / days)[month]
        for values in (station, garden)
    )
    return one, other


def _months_variance(values: np.ndarray, month: np.ndarray) -> float:
    """Variance of monthly means between years over that of days within their month.

    Parameters
    ----------
    values : ndarray, shape (days,)
        A station's record, NaN where missing. [degC]
    month : ndarray of int, shape (days,)
        Months since the first January.
    """
    known = np.isfinite(values)
    size = 12 * (month.max() // 12 + 1)
    days = np.bincount(month[known], minlength=size)
    mean = np.bincount(month[known], values[known], minlength=size) / np.maximum(days, 1)
    squares = np.bincount(month[known], (values - mean[month])[known] ** 2, minlength=size)
    is_whole = (days >= _WHOLE_MONTH).reshape(-1, 12)
    if (is_whole.sum(axis=0) < _LEAST_YEARS).any():
        return _MONTHS_VARIANCE
    within = (squares / np.maximum(days - 1, 1)).reshape(-1, 12)[is_whole].mean()
    of_years = np.where(is_whole, mean.reshape(-1, 12), np.nan)
    between = float(np.nanvar(of_years, axis=0, ddof=1).mean())
    return between / float(within) if within > 0 else _MONTHS_VARIANCE


def _months_of(difference: xr.DataArray, between_years: float) -> _Months:
    """Monthly statistics of differences on an axis of every day; see `_between_years`."""
    values = difference.values
    is_known = np.isfinite(values)
    time = difference["time"].dt
    month, year, day = (np.asarray(each) for each in (time.month, time.year, time.dayofyear))
    index = month[is_known] - 1
    days = np.bincount(index, minlength=12)
    with np.errstate(invalid="ignore"):
        mean = np.bincount(index, values[is_known], minlength=12) / days
        middle = np.bincount(index, day[is_known], minlength=12) / days
    apart = np.full(values.shape, np.nan)
    apart[is_known] = values[is_known] - mean[index]
    squares = np.bincount(index, apart[is_known] ** 2, minlength=12)
    freedom = np.maximum(days - 1, 0)
    pooled = squares.sum() / max(freedom.sum(), 1)
    variance = (squares + _BORROWED_DAYS * pooled) / (freedom + _BORROWED_DAYS)
    alike = lag_one_correlation(apart)
    years = np.array([len(np.unique(year[is_known & (month == m)])) for m in MONTHS])
    with np.errstate(divide="ignore", invalid="ignore"):
        of_days = variance * (1 + alike) / (1 - alike) / days
        error = np.sqrt(of_days + between_years * variance / years)
    return _Months(mean, np.where(days > 0, error, np.nan), days, years, middle)
