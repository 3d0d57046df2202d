"""Bands of daily means that are comfortable, and bearable, for a crop, from its response.

Windows of the year use a crop's band. Both bands follow from the crop's response: the temperatures
of a day with a given mean allow a share of full growth, and the day is comfortable from one share
on, and bearable from a lower one. If the crop's heat limits are reached before its response falls,
they end the band.
"""

from __future__ import annotations

from functools import lru_cache
from math import pi

import numpy as np

from climwin.core.errors import InputError
from climwin.core.formatting import fixed, percent
from climwin.crops.model import REFERENCE_DAYS, Crop, Heat, Limits

COMFORTABLE, BEARABLE = 0.8, 0.3
"""Least share of full growth that a day must allow.

Chosen so that the lower ends agree with the best and the outermost monthly means of Knott's
Handbook for Vegetable Growers (Maynard & Hochmuth 1997), 56 crops: their medians lie 0.5 and 0.8
degC above the handbook's. The upper ends lie 4.3 and 2.1 degC above, because the handbook's best
means the best quality, and a monthly mean includes hotter days. `tests/crops/test_bands.py`
compares them.
"""
STEP_C = 0.1
"""Step between the daily means that are tried. [degC]"""

_DAY = np.sin(2 * pi * (np.arange(24) + 0.5) / 24)
"""Sine wave over 24 hours, in halves of the day's range."""


@lru_cache
def comfortable_band(crop: Crop) -> Limits:
    """Daily means at which a crop reaches at least four fifths of its full growth.

    Parameters
    ----------
    crop : Crop
        A crop of the catalogue, or your own.

    Returns
    -------
    Limits
        Band of the daily mean. [degC]

    Raises
    ------
    ValueError
        If the crop's heat limits leave no band.

    Examples
    --------
    >>> import climwin as cw
    >>> band = cw.comfortable_band(cw.crop("cauliflower"))
    >>> band.low_c, band.high_c
    (14.0, 23.1)
    """
    hottest = [_comfortable_until(stage.heat, _half(crop)) for stage in crop.stages if stage.heat]
    return _band(crop, COMFORTABLE, hottest)


@lru_cache
def bearable_band(crop: Crop) -> Limits:
    """Daily means at which a crop still grows and does not fail because of heat.

    Parameters
    ----------
    crop : Crop
        A crop of the catalogue, or your own.

    Returns
    -------
    Limits
        Band of the daily mean. [degC]

    Raises
    ------
    ValueError
        If the crop's heat limits leave no band.

    Examples
    --------
    >>> import climwin as cw
    >>> band = cw.bearable_band(cw.crop("pea"))
    >>> band.low_c, band.high_c
    (7.5, 26.0)
    """
    hottest = [_bearable_until(stage.heat, _half(crop)) for stage in crop.stages if stage.heat]
    # No afternoon above the temperature at which growth ends.
    hottest.append((crop.response.maximum_c - _half(crop), "its maximum, which no day may pass"))
    return _band(crop, BEARABLE, hottest)


def _band(crop: Crop, share: float, hottest: list[tuple[float, str]]) -> Limits:
    response = crop.response
    means = np.arange(response.base_c - 10, response.maximum_c + 10, STEP_C)
    shares = _shares(means, response.temperatures, _half(crop))
    # No day fits entirely into a narrow optimum, so shares are then relative to its best day.
    inside = means[shares >= min(share, 0.95 * shares.max())]
    low, high = float(inside[0]), float(inside[-1])
    source = f"read off its response: at least {percent(share)} of full growth ({response.source})"
    limit, limited_by = min(hottest, default=(np.inf, ""))
    if limit < high:
        high = limit
        source = f"{source}; upper end: {limited_by}"
    if not low < high:
        msg = (
            f"Crop {crop.name!r}: its heat limits end at a daily mean of {fixed(high, 1)} degC, "
            f"below {fixed(low, 1)} degC, where it begins to grow well. Check its heat and "
            "response tables."
        )
        raise InputError(msg, parameter="crop")
    return Limits(low_c=round(low, 1), high_c=round(high, 1), source=source)


def _shares(
    means: np.ndarray, response: tuple[float, float, float, float], half: float
) -> np.ndarray:
    """Mean response over 24 hours that follow a sine wave around each mean."""
    base, optimum_from, optimum_to, maximum = response
    hours = means[:, None] + half * _DAY
    rise = (hours - base) / (optimum_from - base)
    fall = (maximum - hours) / (maximum - optimum_to)
    return np.asarray(np.clip(np.minimum(rise, fall), 0, 1).mean(axis=1))


def _half(crop: Crop) -> float:
    """Half of the range between a day's minimum and maximum. [degC]"""
    return REFERENCE_DAYS[crop.season][1]


def _comfortable_until(heat: Heat, half: float) -> tuple[float, str]:
    """Daily mean from which heat reduces the harvest, and its source."""
    return _lowest(heat, heat.maximum_from_c, heat.minimum_from_c, heat.mean_from_c, half)


def _bearable_until(heat: Heat, half: float) -> tuple[float, str]:
    """Daily mean from which heat makes the crop fail, and its source."""
    return _lowest(heat, heat.maximum_fails_c, heat.minimum_fails_c, heat.mean_fails_c, half)


def _lowest(
    heat: Heat, maximum: float | None, minimum: float | None, mean: float | None, half: float
) -> tuple[float, str]:
    if heat.maximum_fails_c is not None and heat.minimum_fails_c is not None:
        # Cool nights offset hot days, so the two are averaged, as in the growing model.
        assert maximum is not None
        assert minimum is not None
        return (maximum + minimum) / 2, f"its heat limits ({heat.source})"
    ends = [np.inf if mean is None else mean]
    ends.append(np.inf if maximum is None else maximum - half)
    ends.append(np.inf if minimum is None else minimum + half)
    return min(ends), f"its heat limits ({heat.source})"
