"""Heat within the day: day length, hourly temperatures from daily extremes, degree-days."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from itertools import pairwise
from typing import NamedTuple, TypeVar

import numpy as np
import xarray as xr

from climwin.core.errors import InputError, Parameter
from climwin.core.measures import check_most_celsius
from climwin.core.schema import TOLERANCE_C, apply, check_choice, check_units
from climwin.core.seasons import ONE_DAY, checked_day, day_of_year, record_dates

Numbers = TypeVar("Numbers", float, np.ndarray, xr.DataArray)

HIGHEST_BASE_C, HIGHEST_LIMIT_C = 25.0, 60.0
"""Highest base of degree-days, and highest other limit: bases of crops and pests are 0 to 16 degC,
which is 32 to 61 degF, and no air is warmer than 57 degC (common practice). [degC]"""
HOURS = 24
MAXIMUM_LAG = 1.86
"""Lag of the maximum behind noon: Parton and Logan's a, for air at 1.5 m. [h]"""
NIGHT_DECAY = 2.20
"""Rate of cooling at night: their b."""
MINIMUM_LAG = -0.17
"""Lag of the minimum behind sunrise: their c. [h]"""
SHORTEST_DAY, LONGEST_DAY = 4.0, 20.0
"""Limits of the day length in the hourly curve (common practice). [h]"""

_SUN_EDGE = 0.8333  # depth of the sun's centre when its upper edge is seen on the horizon [degrees]


# --- day length ---------------------------------------------------------------------------


def day_length(latitude: float | xr.DataArray, day: Numbers) -> Numbers:
    """Time from sunrise to sunset.

    Parameters
    ----------
    latitude : float or DataArray
        Degrees, north positive.
    day : float, ndarray or DataArray
        Day of the year, 1 to 365.

    Returns
    -------
    float, ndarray or DataArray, of the shape of both together
        Day length; 24 in the polar day, 0 in the polar night. [h]

    Raises
    ------
    ValueError
        If a latitude is not between -90 and 90 degrees.

    Notes
    -----
    The CBM model [1]_, with sunrise and sunset at the sun's upper edge and usual refraction.

    References
    ----------
    .. [1] W. C. Forsythe, E. J. Rykiel, R. S. Stahl, H. Wu and R. M. Schoolfield, "A model
       comparison for daylength as a function of latitude and day of the year," Ecological
       Modelling, vol. 80, pp. 87-95, 1995.

    Examples
    --------
    Midsummer and midwinter at 46 degrees north:

    >>> import climwin as cw
    >>> round(float(cw.day_length(46.1, 172)), 1), round(float(cw.day_length(46.1, 355)), 1)
    (15.8, 8.6)
    """
    check_latitude(latitude)
    revolution = 0.2163108 + 2 * np.arctan(0.9671396 * np.tan(0.00860 * (day - 186)))
    declination = np.arcsin(0.39795 * np.cos(revolution))
    north = np.radians(latitude)
    rise = (np.sin(np.radians(_SUN_EDGE)) + np.sin(north) * np.sin(declination)) / (
        np.cos(north) * np.cos(declination)
    )
    return HOURS - HOURS / np.pi * np.arccos(np.clip(rise, -1, 1))


def check_latitude(latitude: float | np.ndarray | xr.DataArray) -> None:
    """Refuse a latitude beyond the poles.

    Raises
    ------
    ValueError
        If it is not between -90 and 90 degrees.
    """
    if not np.all(np.abs(latitude) <= 90):
        msg = f" must lie between -90 and 90 degrees, got {np.asarray(latitude)}."
        raise InputError(Parameter("latitude"), msg)


def record_latitude(daily: xr.Dataset) -> float | xr.DataArray | None:
    """Latitude of a record, from a coordinate by station or an attribute; None if it has none."""
    if "latitude" in daily.coords:
        return daily["latitude"]
    return float(daily.attrs["latitude"]) if "latitude" in daily.attrs else None


# --- hours --------------------------------------------------------------------------------


def hourly_temperatures(
    tmin: xr.DataArray, tmax: xr.DataArray, latitude: float | xr.DataArray
) -> xr.DataArray:
    """Hourly air temperatures from daily extremes: a sine by day, a decay by night.

    Parameters
    ----------
    tmin, tmax : DataArray, dims (..., time)
        Daily air temperature extremes. [degC]
    latitude : float or DataArray
        Degrees north; a DataArray for several stations.

    Returns
    -------
    DataArray, dims (..., time, hour)
        At each full hour, 0 to 23, of local solar time. [degC]

    Raises
    ------
    ValueError
        If a temperature is not in degC, or a latitude lies beyond the poles.

    Notes
    -----
    The curve of Parton and Logan [1]_ with their parameters for air at 1.5 m. Hours before the
    minimum depend on the sunset of the day before, those after sunset on the next day's minimum. An
    hour is NaN if an extreme that it depends on is missing, so part of the night is missing next to
    a gap and at either end of the record.

    The published night curve ends above the minimum, by about a ninth of its fall from sunset, and
    then steps down to the minimum shortly before sunrise. This step is left as published.

    Day lengths are limited to 4 to 20 hours, since the curve would not reach its maximum in a
    shorter day, nor come down from it in a longer one. Near the poles it is a rough guess.

    References
    ----------
    .. [1] W. J. Parton and J. A. Logan, "A model for diurnal variation in soil and air
       temperature," Agricultural Meteorology, vol. 23, pp. 205-216, 1981.

    See Also
    --------
    hours_within : How many of these hours lie within limits.

    Examples
    --------
    >>> import climwin as cw
    >>> daily = cw.read_daily(cw.sample()).sel(time=slice("2010-05-01", "2010-05-03"))
    >>> hourly = cw.hourly_temperatures(daily["tmin"], daily["tmax"], latitude=46.1)
    >>> hourly.sel(time="2010-05-02", hour=[5, 14]).round(1).values.tolist()
    [3.9, 22.3]
    """

    def stack(days: _Days) -> np.ndarray:
        return np.stack(list(_each_hour(days)), axis=-1)

    out = _by_day(stack, tmin, tmax, latitude, hour=HOURS)
    return (
        out.rename("hourly")
        .assign_coords(hour=np.arange(HOURS))
        .assign_attrs(
            units="degC", long_name="hourly air temperature", model="Parton and Logan (1981)"
        )
    )


def hours_within(
    tmin: xr.DataArray,
    tmax: xr.DataArray,
    latitude: float | xr.DataArray,
    *,
    low: float = -np.inf,
    high: float = np.inf,
) -> xr.DataArray:
    """Number of hours of each day between two limits, above one, or below one.

    Parameters
    ----------
    tmin, tmax : DataArray, dims (..., time)
        Daily air temperature extremes. [degC]
    latitude : float or DataArray
        Degrees north; a DataArray for several stations.
    low, high : float
        Limits, both inclusive. `low` alone counts the hours at or above it, `high` alone those at
        or below it. [degC]

    Returns
    -------
    DataArray, dims (..., time)
        How many of the 24 hours of `hourly_temperatures` lie within; NaN if any of them is. [h]

    Raises
    ------
    ValueError
        If the limits are not in order, a temperature is not in degC, or a latitude lies beyond the
        poles.

    See Also
    --------
    usable_days : Days on which, by one criterion, half of the hours lie in a crop's band.

    Examples
    --------
    >>> import climwin as cw
    >>> daily = cw.read_daily(cw.sample()).sel(time=slice("2010-05-01", "2010-05-03"))
    >>> hours = cw.hours_within(daily["tmin"], daily["tmax"], latitude=46.1, low=10)
    >>> hours.sel(time="2010-05-02").item()
    14.0
    """
    check_most_celsius("low", low, HIGHEST_LIMIT_C)
    if high < np.inf:
        check_most_celsius("high", high, HIGHEST_LIMIT_C)
    if not low < high:
        got = Parameter("low", low), " and ", Parameter("high", high)
        raise InputError(
            Parameter("low"), " must lie below ", Parameter("high"), ", got ", *got, "."
        )

    def count(days: _Days) -> np.ndarray:
        hours = np.zeros(days.at_sunset.shape)
        for celsius in _each_hour(days):
            is_within = (celsius >= low - TOLERANCE_C) & (celsius <= high + TOLERANCE_C)
            hours += np.where(np.isnan(celsius), np.nan, is_within)
        return hours

    out = _by_day(count, tmin, tmax, latitude)
    return out.rename("hours").assign_attrs(
        units="h", low_c=low, high_c=high, model="Parton and Logan (1981)"
    )


class _Days(NamedTuple):
    """Quantities that the curve of each day depends on; arrays whose last axis is time."""

    length: np.ndarray  # of the day, within the limits of the curve [h]
    dawn: np.ndarray  # hour of the minimum
    sunset: np.ndarray  # hour
    tmin: np.ndarray
    tmax: np.ndarray
    at_sunset: np.ndarray  # temperature
    last_sunset: np.ndarray  # temperature, of the day before
    next_tmin: np.ndarray


def _by_day(
    kernel: Callable[[_Days], np.ndarray],
    tmin: xr.DataArray,
    tmax: xr.DataArray,
    latitude: float | xr.DataArray,
    **added: int,
) -> xr.DataArray:
    """Apply a kernel of days to a record; `added` are new dimensions with their lengths."""
    check_units(tmin, "degC")
    check_units(tmax, "degC")
    dates = np.asarray(tmin["time"]).astype("datetime64[D]")
    is_gap = np.diff(dates) != ONE_DAY  # between each date and the next
    length = day_length(latitude, tmin["time"].copy(data=day_of_year(dates)))
    return apply(
        lambda low, high, length: kernel(_days(low, high, length, is_gap)),
        tmin,
        tmax,
        length,
        core=[["time"]] * 3,
        out=[["time", *added]],
        sizes=added,
    )


def _days(tmin: np.ndarray, tmax: np.ndarray, length: np.ndarray, is_gap: np.ndarray) -> _Days:
    length = np.clip(length, SHORTEST_DAY, LONGEST_DAY)
    sine_at_sunset = np.sin(np.pi * (length - MINIMUM_LAG) / (length + 2 * MAXIMUM_LAG))
    at_sunset = tmin + (tmax - tmin) * sine_at_sunset
    last_sunset, next_tmin = np.roll(at_sunset, 1, axis=-1), np.roll(tmin, -1, axis=-1)
    return _Days(
        length=length,
        dawn=HOURS / 2 - length / 2 + MINIMUM_LAG,
        sunset=HOURS / 2 + length / 2,
        tmin=tmin,
        tmax=tmax,
        at_sunset=at_sunset,
        last_sunset=np.where(np.append(True, is_gap), np.nan, last_sunset),
        next_tmin=np.where(np.append(is_gap, True), np.nan, next_tmin),
    )


def _each_hour(days: _Days) -> Iterator[np.ndarray]:
    """Yield the temperatures of all days at each hour."""
    night = HOURS - days.length
    for hour in range(HOURS):
        decay_of_last_night = np.exp(-NIGHT_DECAY * (hour + HOURS - days.sunset) / night)
        decay_of_next_night = np.exp(-NIGHT_DECAY * (hour - days.sunset) / night)
        angle = np.pi * (hour - days.dawn) / (days.length + 2 * MAXIMUM_LAG)
        before_dawn = days.tmin + (days.last_sunset - days.tmin) * decay_of_last_night
        by_day = days.tmin + (days.tmax - days.tmin) * np.sin(angle)
        after_sunset = days.next_tmin + (days.at_sunset - days.next_tmin) * decay_of_next_night
        yield np.select(
            [hour < days.dawn, hour <= days.sunset], [before_dawn, by_day], after_sunset
        )


# --- degree-days --------------------------------------------------------------------------


def degree_days(
    tmin: xr.DataArray,
    tmax: xr.DataArray,
    base: float,
    *,
    upper: float = np.inf,
    method: str = "single sine",
) -> xr.DataArray:
    """Heat of each day above a base temperature.

    Parameters
    ----------
    tmin, tmax : DataArray, any shape
        Daily air temperature extremes. [degC]
    base : float
        Temperature at or below which nothing is counted. [degC]
    upper : float
        Temperature above which nothing more is counted (horizontal cut-off). [degC]
    method : {"mean", "clipped mean", "single sine"}
        The mean of the extremes, clipped to base and upper; the mean of the clipped extremes; or
        the area between the limits under a sine through the extremes.

    Returns
    -------
    DataArray, shape of `tmin`
        Degree-days; NaN where either extreme is. [degC day]

    Raises
    ------
    ValueError
        If the method is unknown, the limits are not in order, or a temperature is not in degC.

    Notes
    -----
    The two means are methods 1 and 2 of McMaster and Wilhelm [1]_, which differ where the minimum
    lies below the base. The single sine is Baskerville and Emin's [2]_; with a horizontal cut-off
    it is the heat above the base minus that above the upper limit [3]_.

    References
    ----------
    .. [1] G. S. McMaster and W. W. Wilhelm, "Growing degree-days: one equation, two
       interpretations," Agricultural and Forest Meteorology, vol. 87, pp. 291-300, 1997.
    .. [2] G. L. Baskerville and P. Emin, "Rapid estimation of heat accumulation from maximum and
       minimum temperatures," Ecology, vol. 50, pp. 514-517, 1969.
    .. [3] F. G. Zalom et al., "Degree-days: the calculation and use of heat units in pest
       management," University of California Leaflet 21373, 1983 (title from memory).

    See Also
    --------
    heat_since : Their running sum from a day of each year.

    Examples
    --------
    >>> import climwin as cw
    >>> daily = cw.read_daily(cw.sample()).sel(time="2010")
    >>> heat = cw.degree_days(daily["tmin"], daily["tmax"], base=10)
    >>> round(heat.sum().item())
    1719
    """
    check_choice("method", method, METHODS)
    check_most_celsius("base", base, HIGHEST_BASE_C)
    if upper < np.inf:
        check_most_celsius("upper", upper, HIGHEST_LIMIT_C)
    if not base < upper:
        got = Parameter("base", base), " and ", Parameter("upper", upper)
        must = Parameter("upper"), " must lie above ", Parameter("base")
        raise InputError(*must, ", got ", *got, ".")
    check_units(tmin, "degC")
    check_units(tmax, "degC")
    kernel, source = METHODS[method]
    out = apply(lambda low, high: kernel(low, high, base, upper), tmin, tmax, core=[[], []])
    return out.rename("degree_days").assign_attrs(
        units="degC day", base_c=base, upper_c=upper, method=f"{method}, {source}"
    )


def heat_since(heat: xr.DataArray, first_day: int | str = 1) -> xr.DataArray:
    """Running sum of heat since a day of the year, year by year.

    Parameters
    ----------
    heat : DataArray, dims (..., time)
        Heat of each day, such as from `degree_days`. [degC day]
    first_day : int or str
        Day on which every year's sum begins: a day of the year, or a date such as ``"04-20"``.

    Returns
    -------
    DataArray, dims (..., time)
        Sum up to and including each day. NaN from a gap until the next start, and before the first
        start. [degC day]

    Raises
    ------
    ValueError
        If `first_day` is not a day of the year, or the record has a date twice.

    Examples
    --------
    >>> import climwin as cw
    >>> daily = cw.read_daily(cw.sample())
    >>> heat = cw.degree_days(daily["tmin"], daily["tmax"], base=10)
    >>> round(cw.heat_since(heat, "04-20").sel(time="2010-07-01").item())
    567
    """
    first = checked_day(first_day)
    _, day, is_leap_day = record_dates(heat)
    starts = np.flatnonzero((day == first) & ~is_leap_day)
    dates = np.asarray(heat["time"]).astype("datetime64[D]")
    out = apply(
        lambda values: _running_sum(values, starts, dates), heat, core=[["time"]], out=[["time"]]
    )
    return out.rename("heat").assign_attrs(heat.attrs, first_day=first)


def _running_sum(heat: np.ndarray, starts: np.ndarray, dates: np.ndarray) -> np.ndarray:
    """Kernel of `heat_since`: `starts` are the positions at which a sum begins."""
    sums = np.full(heat.shape, np.nan)
    for start, end in pairwise([*starts, len(dates)]):
        # A date that is not in the record is a gap as well, after which positions run ahead of
        # dates.
        is_on_time = (dates[start:end] - dates[start]).astype(int) == np.arange(end - start)
        values = np.where(is_on_time, heat[..., start:end], np.nan)
        sums[..., start:end] = np.cumsum(values, axis=-1)
    return sums


def _mean(tmin: np.ndarray, tmax: np.ndarray, base: float, upper: float) -> np.ndarray:
    return np.clip((tmin + tmax) / 2, base, upper) - base


def _clipped_mean(tmin: np.ndarray, tmax: np.ndarray, base: float, upper: float) -> np.ndarray:
    return (np.clip(tmin, base, upper) + np.clip(tmax, base, upper)) / 2 - base


def _single_sine(tmin: np.ndarray, tmax: np.ndarray, base: float, upper: float) -> np.ndarray:
    above = _sine_above(tmin, tmax, base)
    return above - _sine_above(tmin, tmax, upper) if np.isfinite(upper) else above


def _sine_above(tmin: np.ndarray, tmax: np.ndarray, limit: float) -> np.ndarray:
    """Area above a limit under a sine through the extremes. [degC day]"""
    mean = (tmin + tmax) / 2
    amplitude = np.maximum((tmax - tmin) / 2, 1e-9)  # not 0 if the extremes are equal
    crossing = np.arcsin(np.clip((limit - mean) / amplitude, -1, 1))
    return ((mean - limit) * (np.pi / 2 - crossing) + amplitude * np.cos(crossing)) / np.pi


class Method(NamedTuple):
    """A method of counting degree-days, and its source."""

    kernel: Callable[[np.ndarray, np.ndarray, float, float], np.ndarray]
    source: str


METHODS = {
    "mean": Method(_mean, "McMaster and Wilhelm (1997) method 1"),
    "clipped mean": Method(_clipped_mean, "McMaster and Wilhelm (1997) method 2"),
    "single sine": Method(_single_sine, "Baskerville and Emin (1969)"),
}
