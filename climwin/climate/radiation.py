"""Solar radiation: above the atmosphere, and at the ground."""

from __future__ import annotations

from typing import TypeVar

import numpy as np
import xarray as xr

from climwin.climate.heat import check_latitude
from climwin.core.schema import apply, check_units
from climwin.core.seasons import day_of_year

Numbers = TypeVar("Numbers", float, np.ndarray, xr.DataArray)

SOLAR_CONSTANT = 0.0820
"""Solar constant of FAO-56. [MJ m-2 min-1]"""
INLAND, COAST = 0.16, 0.19
"""Transmission per square root of the day's range in degC, inland and on the coast (FAO-56,
equation 50). [degC-0.5]"""
CLEAR_SKY = 0.75
"""Transmission of a cloudless sky at sea level (FAO-56, equation 36)."""

_MINUTES = 24 * 60
_UNITS = {"units": "MJ m-2 day-1"}


def extraterrestrial_radiation(
    latitude: float | np.ndarray | xr.DataArray, day: Numbers
) -> Numbers:
    """Daily solar radiation on level ground without an atmosphere.

    Parameters
    ----------
    latitude : float, ndarray or DataArray
        Degrees, north positive.
    day : float, ndarray or DataArray
        Day of the year, 1 to 365.

    Returns
    -------
    float, ndarray or DataArray, of the shape of both together
        Radiation; 0 in the polar night. [MJ m-2 day-1]

    Raises
    ------
    ValueError
        If a latitude is not between -90 and 90 degrees.

    Notes
    -----
    FAO-56 [1]_, equations 21 to 25.

    References
    ----------
    .. [1] R. G. Allen, L. S. Pereira, D. Raes and M. Smith, "Crop evapotranspiration: guidelines
       for computing crop water requirements," FAO Irrigation and Drainage Paper 56, 1998.

    Examples
    --------
    3 September at 20 degrees south:

    >>> import climwin as cw
    >>> round(float(cw.extraterrestrial_radiation(-20, 246)), 1)
    32.2
    """
    check_latitude(latitude)
    north = np.radians(latitude)
    turn = 2 * np.pi * day / 365
    nearness = 1 + 0.033 * np.cos(turn)  # inverse square of the relative distance to the sun
    declination = 0.409 * np.sin(turn - 1.39)
    sunset = np.arccos(np.clip(-np.tan(north) * np.tan(declination), -1, 1))  # hour angle
    height = sunset * np.sin(north) * np.sin(declination) + np.cos(north) * np.cos(
        declination
    ) * np.sin(sunset)
    return _MINUTES / np.pi * SOLAR_CONSTANT * height * nearness


def solar_radiation_kernel(
    tmin: np.ndarray,
    tmax: np.ndarray,
    latitude: float | np.ndarray,
    day_of_year: np.ndarray,
    krs: float = INLAND,
) -> np.ndarray:
    """Kernel of `solar_radiation`: radiation at the ground from a day's temperature range.

    Parameters
    ----------
    tmin, tmax : ndarray, shape (..., time)
        Daily extremes. [degC]
    latitude : float, or ndarray that broadcasts with the extremes
        Degrees, north positive.
    day_of_year : ndarray, shape (time,)
        1 to 365.
    krs : float
        `INLAND` or `COAST`. [degC-0.5]

    Returns
    -------
    ndarray, shape (..., time)
        NaN where either extreme is; 0 where they are in the wrong order. [MJ m-2 day-1]
    """
    let_through = np.minimum(krs * np.sqrt(np.maximum(tmax - tmin, 0)), CLEAR_SKY)
    return let_through * extraterrestrial_radiation(latitude, day_of_year)


def solar_radiation(
    tmin: xr.DataArray,
    tmax: xr.DataArray,
    latitude: float | xr.DataArray,
    *,
    coast: bool = False,
) -> xr.DataArray:
    """Daily solar radiation at the ground, estimated from the day's temperature range.

    Parameters
    ----------
    tmin, tmax : DataArray, dims (..., time)
        Daily air temperature extremes. [degC]
    latitude : float or DataArray
        Degrees north; a DataArray for several stations.
    coast : bool
        Whether the place is near a large body of water, which reduces the temperature range under
        the same sun.

    Returns
    -------
    DataArray, dims (..., time)
        NaN where either extreme is. [MJ m-2 day-1]

    Raises
    ------
    ValueError
        If a temperature is not in degC, or a latitude lies beyond the poles.

    Notes
    -----
    Hargreaves and Samani's formula as in FAO-56 [1]_, equation 50, limited to a cloudless day at
    sea level. A clear day has a larger range than a cloudy one, so the range stands for cloudiness.
    It can be far off on a single day, and is meant for means of weeks.

    References
    ----------
    .. [1] R. G. Allen, L. S. Pereira, D. Raes and M. Smith, "Crop evapotranspiration: guidelines
       for computing crop water requirements," FAO Irrigation and Drainage Paper 56, 1998.

    Examples
    --------
    >>> import climwin as cw
    >>> daily = cw.read_daily(cw.sample())
    >>> radiation = cw.solar_radiation(daily["tmin"], daily["tmax"], 46.1)
    >>> radiation.sel(time=slice("2010-06-01", "2010-06-30")).mean().round(1).item()
    27.3
    """
    check_units(tmin, "degC")
    check_units(tmax, "degC")
    check_latitude(latitude)
    krs = COAST if coast else INLAND
    day = day_of_year(tmin["time"])
    out = apply(
        lambda low, high, north: solar_radiation_kernel(low, high, north[..., None], day, krs),
        tmin,
        tmax,
        xr.DataArray(latitude),
        core=[["time"], ["time"], []],
        out=[["time"]],
    )
    return out.rename("radiation").assign_attrs(
        _UNITS, long_name="solar radiation at the ground", model="Hargreaves and Samani (FAO-56)"
    )
