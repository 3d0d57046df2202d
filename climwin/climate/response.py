"""Response of growth to temperature, 0 to 1, and thermal time.

A response is computed for hours, not for the daily mean. With a base of 10 degC, a day from 2 to 16
degC gives no heat by its mean, but 1.7 degC days by its hours; a day from 20 to 36 degC is perfect
by its mean, but its afternoon is too hot. Any nonlinear response needs the hours.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import xarray as xr

from climwin.climate.heat import HOURS, check_latitude, day_length
from climwin.core.schema import apply, check_units
from climwin.core.seasons import day_of_year
from climwin.crops.model import Cardinal

WARMEST_HOUR = 15.0
"""Hour of the maximum, in local solar time (common practice). [h]"""
MEAN_DAY = 12.0
"""Mean day length over the year, for records without a latitude. [h]"""

_MIDDLES = np.arange(HOURS) + 0.5  # middle of each hour


# --- response and heat of days ------------------------------------------------------------


def temperature_response(
    tmin: xr.DataArray,
    tmax: xr.DataArray,
    response: Cardinal,
    *,
    latitude: float | xr.DataArray | None = None,
) -> xr.DataArray:
    """Share of full growth that temperature allows a crop on each day.

    Parameters
    ----------
    tmin, tmax : DataArray, dims (..., time)
        Daily air temperature extremes. [degC]
    response : Cardinal
        A crop's cardinal temperatures, such as ``crop.response``.
    latitude : float or DataArray, optional
        Degrees north, for the hour of the minimum; a DataArray for several stations. Without it all
        days are 12 hours long, which changes the response of a day by 0.002 on average at 45
        degrees latitude, and by 0.004 at 60.

    Returns
    -------
    DataArray, dims (..., time)
        Mean over the day's 24 hours, 0 to 1; NaN where, and only where, either extreme is.

    Raises
    ------
    ValueError
        If a temperature is not in degC, or a latitude lies beyond the poles.

    Notes
    -----
    The response of an hour is a trapezoid: 0 up to the base, linear up to the optimum, 1 within it,
    and linear down to 0 at the maximum. Published cardinal temperatures were fitted with this form
    [1]_ [2]_, each of its parameters has one meaning, and it is linear between base and optimum, as
    degree-days are. With Wang and Engel's smooth curve [3]_ in its place, also by hours, the
    planting dates of four crops moved by at most 4 days.

    References
    ----------
    .. [1] K. J. Boote, J. W. Jones, G. Hoogenboom and N. B. Pickering, "The CROPGRO model for grain
       legumes," in Understanding Options for Agricultural Production, Kluwer, 1998 (from memory).
    .. [2] P. Paredes et al., the growth stages and heat sums of vegetables revised for FAO-56, 2025
       (from memory).
    .. [3] E. Wang and T. Engel, "Simulation of phenological development of wheat crops,"
       Agricultural Systems, vol. 58, pp. 1-24, 1998 (from memory).

    Examples
    --------
    >>> import climwin as cw
    >>> daily = cw.read_daily(cw.sample())
    >>> share = cw.temperature_response(daily["tmin"], daily["tmax"], cw.crop("pea").response)
    >>> share.sel(time="2010-05-01").round(2).item()
    0.37
    """
    check_units(tmin, "degC")
    check_units(tmax, "degC")
    dates = np.asarray(tmin["time"]).astype("datetime64[D]")
    place = (dates - dates.min()).astype(int)
    days = day_of_year(dates.min() + np.arange(place.max() + 1))

    def kernel(low: np.ndarray, high: np.ndarray, north: float) -> np.ndarray:
        tmin, tmax = np.full((2, len(days)), np.nan)
        tmin[place], tmax[place] = low, high
        length = MEAN_DAY if np.isnan(north) else day_length(north, days)
        hours = hourly_curve(tmin, tmax, length)
        return daily_response(hours, response.temperatures)[place]

    north = xr.DataArray(np.nan if latitude is None else latitude)
    check_latitude(north.fillna(0) if latitude is None else north)
    out = apply(kernel, tmin, tmax, north, core=[["time"], ["time"], []], out=[["time"]], each=True)
    return out.rename("response").assign_attrs(
        units="1", long_name="response of growth to temperature", cardinal_c=response.temperatures
    )


def thermal_time(
    tmin: xr.DataArray,
    tmax: xr.DataArray,
    response: Cardinal,
    *,
    latitude: float | xr.DataArray | None = None,
) -> xr.DataArray:
    """Thermal time of each day: the response times the span from base to optimum.

    Parameters
    ----------
    tmin, tmax, response, latitude
        As for `temperature_response`.

    Returns
    -------
    DataArray, dims (..., time)
        Degree-days: as above the base up to the optimum, constant within it, less above it. [degC
        day]

    Raises
    ------
    ValueError
        If a temperature is not in degC, or a latitude lies beyond the poles.

    Examples
    --------
    >>> import climwin as cw
    >>> daily = cw.read_daily(cw.sample())
    >>> pea = cw.crop("pea")
    >>> heat = cw.thermal_time(daily["tmin"], daily["tmax"], pea.response)
    >>> heat.sel(time="2010-05-01").round(1).item()
    5.5
    """
    share = temperature_response(tmin, tmax, response, latitude=latitude)
    base, optimum_from, _, _ = response.temperatures
    return (
        (share * (optimum_from - base))
        .rename("thermal_time")
        .assign_attrs(share.attrs, units="degC day", long_name="thermal time of the day")
    )


# --- kernels ------------------------------------------------------------------------------


def hourly_curve(
    tmin: np.ndarray, tmax: np.ndarray, length: np.ndarray | float = MEAN_DAY
) -> np.ndarray:
    """Temperature in the middle of each hour, from the extremes of successive days.

    Parameters
    ----------
    tmin, tmax : ndarray, shape (..., time)
        Extremes of every day, NaN where missing. [degC]
    length : ndarray, shape (..., time), or float
        Day length, from sunrise to sunset. [h]

    Returns
    -------
    ndarray, shape (..., time, 24)
        At 0:30, 1:30 ... 23:30 of local solar time. A day is NaN where, and only where, its own
        minimum or maximum is: at either end of the record and beside a missing day, the neighbour's
        extreme is replaced by the day's own. [degC]

    Notes
    -----
    Half a cosine from the minimum at sunrise to the maximum at 15:00, and another down to the next
    minimum, after the curve of de Wit [1]_ whose maximum stands at 14:00.

    The choice was tested on a year of hourly readings at each of four places, three in New York and
    Melbourne (``tests/agreement/hours.py``). For four sets of cardinal temperatures, the response
    of single days has a root mean square error of 0.032; with Parton and Logan's curve
    (`hourly_temperatures`) it is 0.035, with the daily mean 0.063. Most of the 0.032 is weather
    that two extremes cannot tell; day length accounts for less than 0.001. Typical years of Miami,
    Greensboro and Sand Point, 26 to 55 degrees north, agree. For single hours Parton and Logan's
    curve is better (1.8 against 2.3 degC), so counts of hours use it. But it makes long days too
    warm as a whole: a year of Albany's extremes at 60 degrees north gives a cucumber 5 % more heat
    than at 30, while the cosine gives the same.

    References
    ----------
    .. [1] C. T. de Wit et al., "Simulation of Assimilation, Respiration and Transpiration of
       Crops," Pudoc, 1978 (from memory).
    """
    tmin, tmax = np.asarray(tmin, float), np.asarray(tmax, float)
    last_tmax = _or_own(np.roll(tmax, 1, axis=-1), tmax, 0)
    next_tmin = _or_own(np.roll(tmin, -1, axis=-1), tmin, -1)
    return hours_of_days(tmin, tmax, last_tmax, next_tmin, length)


def hours_of_days(
    tmin: np.ndarray,
    tmax: np.ndarray,
    last_tmax: np.ndarray,
    next_tmin: np.ndarray,
    length: np.ndarray | float = MEAN_DAY,
) -> np.ndarray:
    """`hourly_curve` of days that need not follow one another.

    Parameters
    ----------
    tmin, tmax : ndarray, shape (...)
        Extremes of each day, NaN where missing. [degC]
    last_tmax, next_tmin : ndarray, shape (...)
        Maximum of the day before, and minimum of the day after. [degC]
    length : ndarray, shape (...), or float
        Day length, from sunrise to sunset. [h]

    Returns
    -------
    ndarray, shape (..., 24)
    """
    # Days of equal length share the shape of their curve, which is computed once for each length.
    lengths, which = np.unique(length, return_inverse=True)
    which = which.reshape(np.shape(length))
    sunrise = (HOURS / 2 - lengths / 2)[:, None]
    fall = HOURS + sunrise - WARMEST_HOUR
    falling = (1 + np.cos(np.pi * ((_MIDDLES - WARMEST_HOUR) % HOURS) / fall)) / 2
    rising = (1 - np.cos(np.pi * (_MIDDLES - sunrise) / (WARMEST_HOUR - sunrise))) / 2
    night = sunrise > _MIDDLES
    share = np.where(night | (_MIDDLES > WARMEST_HOUR), falling, rising)
    missing = np.isnan(tmin + tmax)
    hours = np.empty((HOURS, *missing.shape))
    for hour, middle in enumerate(_MIDDLES):
        low = next_tmin if middle > WARMEST_HOUR else tmin
        high = np.where(night[which, hour], last_tmax, tmax)
        hours[hour] = np.where(missing, np.nan, low + (high - low) * share[which, hour])
    return np.moveaxis(hours, 0, -1)


def _or_own(neighbour: np.ndarray, own: np.ndarray, end: int) -> np.ndarray:
    """A neighbouring day's extreme, or the day's own at the end of the record and beside a gap."""
    neighbour[..., end] = np.nan
    return np.where(np.isnan(neighbour), own, neighbour)


def trapezoid(
    celsius: np.ndarray, base: float, optimum_from: float, optimum_to: float, maximum: float
) -> np.ndarray:
    """Response to temperature: 0 up to the base and above the maximum, 1 in the optimum.

    Parameters
    ----------
    celsius : ndarray, any shape
        Temperature. [degC]
    base, optimum_from, optimum_to, maximum : float
        Cardinal temperatures. [degC]

    Returns
    -------
    ndarray, shape of `celsius`
        Response, linear in between; NaN where the temperature is.

    Examples
    --------
    >>> trapezoid(np.array([12.0, 25.0, 33.0]), 7, 22, 28, 38).round(4)
    array([0.3333, 1.    , 0.5   ])
    """
    rise = (celsius - base) / (optimum_from - base)
    fall = (maximum - celsius) / (maximum - optimum_to)
    return np.clip(np.minimum(rise, fall), 0, 1)


def daily_response(hours: np.ndarray, cardinal: tuple[float, float, float, float]) -> np.ndarray:
    """Mean of the trapezoid over each day's hours.

    Parameters
    ----------
    hours : ndarray, shape (..., time, 24)
        From `hourly_curve`. [degC]
    cardinal : tuple of four floats
        Base, lower and upper end of the optimum, maximum. [degC]

    Returns
    -------
    ndarray, shape (..., time)
        Response, 0 to 1; NaN where any hour is.
    """
    return response_of_day(lambda celsius: mean_above(hours, celsius), cardinal)


def mean_above(hours: np.ndarray, celsius: float) -> np.ndarray:
    """Mean excess of each day's hours over a temperature.

    Parameters
    ----------
    hours : ndarray, shape (..., time, 24)
        From `hourly_curve`. [degC]
    celsius : float
        Temperature. [degC]

    Returns
    -------
    ndarray, shape (..., time)
        Mean excess, 0 if no hour exceeds it; NaN where any hour is. [degC]
    """
    total = np.zeros(hours.shape[:-1])
    for hour in range(HOURS):  # one hour at a time, which fits into the processor's cache
        total += np.maximum(hours[..., hour] - celsius, 0)
    return total / HOURS


def response_of_day(
    above: Callable[[float], np.ndarray], cardinal: tuple[float, float, float, float]
) -> np.ndarray:
    """`daily_response` from `mean_above` at the four cardinal temperatures.

    A trapezoid is the sum of four ramps that begin at its corners. Crops share many cardinal
    temperatures, so few ramps are needed for all of them.
    """
    base, optimum_from, _, _ = cardinal
    rise = (above(base) - above(optimum_from)) / (optimum_from - base)
    return np.clip(rise - loss_of_day(above, cardinal), 0, 1)


def loss_of_day(
    above: Callable[[float], np.ndarray], cardinal: tuple[float, float, float, float]
) -> np.ndarray:
    """Loss of each day's response from hours above the optimum.

    Parameters
    ----------
    above : callable
        Mean excess of the day's hours over a temperature, see `mean_above`.
    cardinal : tuple of four floats
        Base, lower and upper end of the optimum, maximum. [degC]

    Returns
    -------
    ndarray
        Loss: 0 if no hour is too hot, 1 if all reach the maximum; NaN where any hour is.
    """
    _, _, optimum_to, maximum = cardinal
    return np.clip((above(optimum_to) - above(maximum)) / (maximum - optimum_to), 0, 1)
