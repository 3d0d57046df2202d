"""How growth answers temperature: a share, 0 to 1, and the heat that comes together from it.

A response is laid on hours, not on the mean of a day. Above a base of 10 degC a day from 2 to
16 degC brings nothing by its mean, and 1.7 degC days by its hours; a day from 20 to 36 degC is
perfect by its mean, while its afternoon is too hot. Any response with a bend in it needs the hours.
"""

from __future__ import annotations

from typing import Protocol

import numpy as np
import xarray as xr

from climwin.climate.heat import HOURS, check_latitude, day_length
from climwin.core.schema import apply, check_units
from climwin.core.seasons import day_of_year

WARMEST_HOUR = 15.0
"""Of local solar time, when the maximum is reached (common practice)."""
MEAN_DAY = 12.0
"""Day length over the year, the same everywhere, for a record whose latitude is not known. [h]"""

_MIDDLES = np.arange(HOURS) + 0.5  # of the hours


class CardinalTemperatures(Protocol):
    """What `temperature_response` asks of a crop's response; `crops.model.Cardinal` is one."""

    @property
    def temperatures(self) -> tuple[float, float, float, float]:
        """Base, lower and upper end of the optimum, maximum. [degC]"""


# --- kernels ------------------------------------------------------------------------------


def hourly_curve(
    tmin: np.ndarray, tmax: np.ndarray, day_length: np.ndarray | float = MEAN_DAY
) -> np.ndarray:
    """Temperature in the middle of each hour, from the extremes of days that follow each other.

    Parameters
    ----------
    tmin, tmax : ndarray, shape (..., time)
        Daily extremes of every day from the first to the last, missing ones as NaN. [degC]
    day_length : ndarray, shape (..., time), or float
        From sunrise to sunset. [h]

    Returns
    -------
    ndarray, shape (..., time, 24)
        At 0:30, 1:30 ... 23:30 of local solar time. A day is missing where its own minimum or
        maximum is, and only there: at either end of the record and beside a missing day, the
        neighbour's extreme is taken to be the day's own. [degC]

    Notes
    -----
    Half a cosine from the minimum at sunrise to the maximum at 15:00, and another down to the next
    minimum, after the curve of de Wit [1]_ whose maximum stands at 14:00.

    The choice was measured against a year or two of hourly readings at six places between 26 and
    55 degrees (Miami, Melbourne, Greensboro, two of New York, Sand Point). The response of single
    days, by four sets of cardinal temperatures, is off by a root mean square of 0.034, 0.037 with
    Parton and Logan's curve (`hourly_temperatures`) and 0.07 with the daily mean, most of which is
    weather that no curve of two extremes can know. Hour by hour Parton and Logan's is the better,
    by 1.6 against 2.0 degC, so hours are counted with it; but its long days are too warm as a
    whole, which a sum over months would carry along.

    References
    ----------
    .. [1] C. T. de Wit et al., "Simulation of Assimilation, Respiration and Transpiration of
       Crops," Pudoc, 1978 (from memory).
    """
    sunrise = np.asarray(HOURS / 2 - day_length / 2)[..., None]
    last_tmax = _or_own(np.roll(tmax, 1, axis=-1), tmax, 0)
    next_tmin = _or_own(np.roll(tmin, -1, axis=-1), tmin, -1)
    since_warmest = (_MIDDLES - WARMEST_HOUR) % HOURS
    fall = HOURS + sunrise - WARMEST_HOUR
    falling = (1 + np.cos(np.pi * since_warmest / fall)) / 2
    rising = (1 - np.cos(np.pi * (_MIDDLES - sunrise) / (WARMEST_HOUR - sunrise))) / 2
    night, afternoon = sunrise > _MIDDLES, _MIDDLES > WARMEST_HOUR
    low = np.where(afternoon, next_tmin[..., None], tmin[..., None])
    high = np.where(night, last_tmax[..., None], tmax[..., None])
    hours = low + (high - low) * np.where(night | afternoon, falling, rising)
    return np.where(np.isnan(tmin + tmax)[..., None], np.nan, hours)


def _or_own(neighbour: np.ndarray, own: np.ndarray, end: int) -> np.ndarray:
    """A neighbouring day's extreme; the day's own at the end of the record, and beside a gap."""
    neighbour[..., end] = np.nan
    return np.where(np.isnan(neighbour), own, neighbour)


def trapezoid(
    celsius: np.ndarray, base: float, optimum_from: float, optimum_to: float, maximum: float
) -> np.ndarray:
    """Response to a temperature: 0 up to the base and from the maximum on, 1 in the optimum.

    Parameters
    ----------
    celsius : ndarray, any shape
        [degC]
    base, optimum_from, optimum_to, maximum : float
        Cardinal temperatures. [degC]

    Returns
    -------
    ndarray, shape of `celsius`
        Straight lines in between; missing where the temperature is.

    Examples
    --------
    >>> trapezoid(np.array([12.0, 25.0, 33.0]), 7, 22, 28, 38).round(4)
    array([0.3333, 1.    , 0.5   ])
    """
    rise = (celsius - base) / (optimum_from - base)
    fall = (maximum - celsius) / (maximum - optimum_to)
    return np.clip(np.minimum(rise, fall), 0, 1)


def daily_response(
    hours: np.ndarray, cardinal: tuple[float, float, float, float]
) -> np.ndarray:
    """Mean of the trapezoid over each day's hours.

    Parameters
    ----------
    hours : ndarray, shape (..., time, 24)
        From `hourly_curve`, made once for all crops. [degC]
    cardinal : tuple of four floats
        Base, lower and upper end of the optimum, maximum. [degC]

    Returns
    -------
    ndarray, shape (..., time)
        0 to 1, missing where any hour is.
    """
    return trapezoid(hours, *cardinal).mean(axis=-1)


def hot_side_loss(hours: np.ndarray, cardinal: tuple[float, float, float, float]) -> np.ndarray:
    """What the hours above the optimum take from each day's response, 0 to 1.

    Parameters
    ----------
    hours : ndarray, shape (..., time, 24)
        From `hourly_curve`. [degC]
    cardinal : tuple of four floats
        Base, lower and upper end of the optimum, maximum. [degC]

    Returns
    -------
    ndarray, shape (..., time)
        Mean over the hours of the fall from 1 at the end of the optimum to 0 at the maximum.
    """
    *_, optimum_to, maximum = cardinal
    return np.clip((hours - optimum_to) / (maximum - optimum_to), 0, 1).mean(axis=-1)
