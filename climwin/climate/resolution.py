"""The step in which a record was read, and the tolerance that thresholds need for it.

A thermometer read in whole degrees Fahrenheit shows 32 for anything from 31.5 to 32.5. Nights "at
or below 32" in such a record include these readings, so the threshold is half a step higher. On the
readings themselves any tolerance below a step counts the same nights; once they are moved, to a
garden or to another climate, only half a step does. A threshold that the thermometer cannot show,
such as -2.0 degC on one of whole degF, is a temperature and gets no half step.
"""

from __future__ import annotations

import numpy as np
import xarray as xr

from climwin.core.memo import remembered
from climwin.core.schema import TOLERANCE_C, apply, variable
from climwin.core.seasons import MONTH_STARTS, by_year

TENTHS = 0.1
STEPS = (1.0, 5 / 9, 0.5)
"""Steps coarser than tenths that are tested, the widest first: whole degC, whole degF, half degC.
[degC]"""
CLEAR = 0.8
"""Least closeness of readings to a step's grid, 0 to 1. Whole degF rounded to tenths of degC reach
0.95, whole degC 1; tenths reach 0.2 by chance."""
LEAST_READINGS = 60
"""Least number of readings for finding a year's step; otherwise it gets that of the other years."""


def resolution(daily: xr.Dataset) -> xr.Dataset:
    """The step in which the extremes of each year were read.

    Parameters
    ----------
    daily : Dataset, dims (..., time)
        ``tmin``, ``tmax`` or both. [degC]

    Returns
    -------
    Dataset, dims (..., year)
        ``tmin``, ``tmax``: 1 where a year was read in whole degC, 0.556 (5/9) in whole degF, 0.5 in
        half degC, else 0.1. [degC]

    Raises
    ------
    ValueError
        If the record has neither.

    Notes
    -----
    Readings in steps of s lie on a grid, so their angles 2 pi value / s are equal, wherever the
    grid begins. The length of the mean of their unit vectors [1]_, month by month, is 1 on a grid
    and near 0 off it; its mean over the months decides. So the step is found even if each month was
    moved by one amount. Readings are not judged one by one, because a reading in tenths lies on the
    grid of whole degF with a chance of one in six.

    References
    ----------
    .. [1] K. V. Mardia and P. E. Jupp, "Directional Statistics," Wiley, 2000, section 2.3 (from
       memory).

    Examples
    --------
    >>> import climwin as cw
    >>> daily = cw.read_daily(cw.sample())
    >>> cw.resolution(daily)["tmin"].max().item()
    0.1
    """
    names = [name for name in ("tmin", "tmax") if name in daily]
    if not names:
        variable(daily, "tmin")
    out = xr.Dataset({name: steps(by_year(variable(daily, name))) for name in names})
    for name in names:
        out[name].attrs = {"units": "degC", "long_name": f"step in which {name} was read"}
    return out


@remembered
def steps(grid: xr.DataArray) -> xr.DataArray:
    """Step of each year's readings, dims (..., year), see `resolution`. [degC]

    Parameters
    ----------
    grid : DataArray, dims (..., year, day_of_year)
        From `seasons.by_year`. [degC]
    """
    out: xr.DataArray = apply(
        step_kernel, grid, core=[["year", "day_of_year"]], out=[["year"]], each=True
    )
    return out


def slack(threshold: np.ndarray | float, step: np.ndarray | float) -> np.ndarray:
    """Tolerance of a threshold: half a step if the threshold is a possible reading.

    All thresholds that are compared with readings use it. Means, sums and values derived from
    readings use `TOLERANCE_C`, as do thresholds that are not possible readings. Half a step also
    covers whole degF stored as rounded tenths of degC: it is five times their rounding.

    Parameters
    ----------
    threshold : float or ndarray
        Threshold. [degC]
    step : float or ndarray, broadcasts with `threshold`
        From `steps`; NaN counts as tenths. [degC]

    Returns
    -------
    ndarray
        Tolerance. [degC]

    Examples
    --------
    28 degF on a thermometer of whole degF, and -2 degC on the same:

    >>> from climwin.climate.resolution import slack
    >>> slack([-2.2, -2.0], 5 / 9).round(3).tolist()
    [0.278, 0.05]
    """
    threshold, step = np.asarray(threshold, float), np.nan_to_num(step, nan=TENTHS)
    # Readings are multiples of the step, since 0 degC is 32 degF; infinite thresholds are not.
    marks = np.where(np.isfinite(threshold), threshold, 0.5 * step) / step
    is_reading = np.abs(marks - np.round(marks)) * step <= TOLERANCE_C + 1e-9
    return np.maximum(np.where(is_reading, step / 2, 0.0), TOLERANCE_C)


def step_kernel(grid: np.ndarray) -> np.ndarray:
    """Kernel of `steps` for one station: shape (years, 365) to (years,)."""
    values, place = _distinct(grid)
    angle_of = 2 * np.pi * values
    clear = np.stack([_on_grid(angle_of / step, place) for step in STEPS], axis=-1) >= CLEAR
    found = np.where(clear.any(-1), np.array(STEPS)[clear.argmax(-1)], TENTHS)
    readings = (~np.isnan(grid)).sum(-1)
    can_tell = readings >= LEAST_READINGS
    if not can_tell.any():
        return np.full(len(grid), TENTHS)
    usual, count = np.unique(found[can_tell], return_counts=True)
    return np.where(can_tell, found, usual[count.argmax()])


def _distinct(grid: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Readings, and which of them each day has, shape (years, 365).

    Whole tenths are few, so that each is looked at once; others are taken day by day.
    """
    missing = np.isnan(grid)
    tenths = np.rint(np.where(missing, 0.0, grid) * 10).astype(int)
    if not (missing | (tenths / 10 == grid)).all():
        return grid.ravel(), np.arange(grid.size).reshape(grid.shape)
    values = np.append(np.arange(tenths.min(), tenths.max() + 1) / 10, np.nan)
    return values, np.where(missing, len(values) - 1, tenths - tenths.min())


def _on_grid(angle: np.ndarray, place: np.ndarray) -> np.ndarray:
    """Closeness of each year's readings to a grid, 0 to 1, shape (years,).

    Few readings would be close by chance, so months are weighted by their readings.

    Parameters
    ----------
    angle : ndarray, shape (readings,)
        Where each reading lies between the marks of the grid, NaN where missing. [radian]
    place : ndarray of int, shape (years, 365)
        Reading of each day.
    """
    measured = ~np.isnan(angle)
    vectors = np.where(measured, np.exp(1j * np.nan_to_num(angle)), 0)
    of_month = np.add.reduceat(vectors[place], MONTH_STARTS, axis=-1)
    length = np.abs(of_month).sum(-1)
    return np.asarray(length / np.maximum(measured[place].sum(-1), 1))
