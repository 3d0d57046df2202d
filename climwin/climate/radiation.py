"""Sun: what arrives above the air, and how much of it reaches the ground."""

from __future__ import annotations

from typing import TypeVar

import numpy as np
import xarray as xr

from climwin.climate.heat import check_latitude
from climwin.core.schema import apply, check_units
from climwin.core.seasons import day_of_year

Numbers = TypeVar("Numbers", float, np.ndarray, xr.DataArray)

SOLAR_CONSTANT = 0.0820
"""Of FAO-56. [MJ m-2 min-1]"""
INLAND, COAST = 0.16, 0.19
"""Share of the sun let through, per square root of a degC of the day's range, where land rules the
weather and beside a large water (FAO-56, equation 50). [degC-0.5]"""
CLEAR_SKY = 0.75
"""Share that a cloudless sky lets through at sea level (FAO-56, equation 36)."""

_MINUTES = 24 * 60
_UNITS = {"units": "MJ m-2 day-1"}


def extraterrestrial_radiation(
    latitude: float | np.ndarray | xr.DataArray, day: Numbers
) -> Numbers:
    """Sun that a day would bring to level ground if there were no air.

    Parameters
    ----------
    latitude : float, ndarray or DataArray
        Degrees, north positive.
    day : float, ndarray or DataArray
        Day of the year, 1 to 365.

    Returns
    -------
    float, ndarray or DataArray, of the shape of both together
        0 in the polar night. [MJ m-2 day-1]

    Raises
    ------
    ValueError
        If a latitude is not one of this earth.

    Notes
    -----
    FAO-56 [1]_, equations 21 to 25.

    References
    ----------
    .. [1] R. G. Allen, L. S. Pereira, D. Raes and M. Smith, "Crop evapotranspiration: guidelines
       for computing crop water requirements," FAO Irrigation and Drainage Paper 56, 1998.

    Examples
    --------
    3 September, 20 degrees south:

    >>> round(float(extraterrestrial_radiation(-20, 246)), 1)
    32.2
    """
    check_latitude(latitude)
    north = np.radians(latitude)
    turn = 2 * np.pi * day / 365
    nearness = 1 + 0.033 * np.cos(turn)  # of the sun, as the inverse square of its distance
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
    """Sun at the ground, from a day's range of temperature: the kernel of `solar_radiation`.

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
        Missing where either extreme is; 0 where they are in the wrong order. [MJ m-2 day-1]
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
    """Sun that reaches the ground on each day, from the day's range of temperature.

    Parameters
    ----------
    tmin, tmax : DataArray, dims (..., time)
        Daily air temperature extremes. [degC]
    latitude : float or DataArray
        Degrees north, by station where they differ.
    coast : bool
        Whether the place lies beside a large water, whose air keeps the range small under the same
        sun.

    Returns
    -------
    DataArray, dims (..., time)
        Missing where either extreme is. [MJ m-2 day-1]

    Raises
    ------
    ValueError
        If a temperature is not in degC, or a latitude lies beyond the poles.

    Notes
    -----
    Hargreaves and Samani's formula as FAO-56 gives it [1]_, equation 50, never above a cloudless
    day at sea level. A clear day warms far above its night and a cloudy one does not, so the range
    stands for the clouds. On one day it can be far off; it is meant for means of weeks.

    References
    ----------
    .. [1] R. G. Allen, L. S. Pereira, D. Raes and M. Smith, "Crop evapotranspiration: guidelines
       for computing crop water requirements," FAO Irrigation and Drainage Paper 56, 1998.

    Examples
    --------
    >>> import climwin as cw
    >>> daily = cw.read_daily(cw.sample())
    >>> radiation = cw.solar_radiation(daily["tmin"], daily["tmax"], 46.1)
    >>> float(radiation.min()) > 0
    True
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
