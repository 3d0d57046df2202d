"""Usable days: the days of every year on which a crop finds temperatures it grows in.

Three measures, each with what missing values leave open: a day is usable for sure, or possibly.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import xarray as xr

from climwin.crops import Limits
from climwin.heat import hours_within
from climwin.schema import TOLERANCE_C, apply, check_choice, variable
from climwin.seasons import by_year, seen_range

MEAN_DAYS = 7
LEAST_HOURS = 12


def running_mean_bounds(grid: np.ndarray, days: int = MEAN_DAYS) -> tuple[np.ndarray, np.ndarray]:
    """Least and greatest that a centred running mean can be, given what missing days could be.

    Parameters
    ----------
    grid : ndarray, shape (years, 365)
        Calendar years of one station; the mean runs across their ends.
    days : int
        Length of the mean, odd.

    Returns
    -------
    least, greatest : ndarray, shape (years, 365)
        Equal where no day of the mean is missing.
    """
    low, high = seen_range(grid)
    gap = np.isnan(grid)
    bounds = [running_mean(np.where(gap, fill, grid), fill, days) for fill in (low, high)]
    return bounds[0], bounds[1]


def running_mean(grid: np.ndarray, beyond: np.ndarray, days: int = MEAN_DAYS) -> np.ndarray:
    """Centred mean of `days` days; past either end of the record stands `beyond`, shape (365,)."""
    half = days // 2
    flat = np.concatenate([beyond[-half:], grid.ravel(), beyond[:half]]) if half else grid.ravel()
    total = sum(flat[i : i + grid.size] for i in range(days))
    return np.asarray(total).reshape(grid.shape) / days


def _by_mean(daily: xr.Dataset, band: Limits) -> xr.Dataset:
    def kernel(tmean: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        least, greatest = running_mean_bounds(tmean)
        return inside(least, greatest, band), inside(greatest, least, band)

    return _masks(kernel, variable(daily, "tmean"))


def _by_extremes(daily: xr.Dataset, band: Limits) -> xr.Dataset:
    def kernel(tmin: np.ndarray, tmax: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        (cold, mild), (cool, hot) = (running_mean_bounds(grid, 1) for grid in (tmin, tmax))
        return inside(cold, hot, band), inside(mild, cool, band)

    return _masks(kernel, variable(daily, "tmin"), variable(daily, "tmax"))


def _by_hours(daily: xr.Dataset, band: Limits) -> xr.Dataset:
    if "latitude" not in {*daily.attrs, *daily.coords}:
        msg = (
            "Hours need the latitude, for the length of the day; the record does not hold it. "
            "Set daily.attrs['latitude'], in degrees north."
        )
        raise ValueError(msg)
    latitude = daily["latitude"] if "latitude" in daily.coords else daily.attrs["latitude"]
    tmin, tmax = variable(daily, "tmin"), variable(daily, "tmax")
    hours = hours_within(tmin, tmax, latitude, low=band.low_c, high=band.high_c)

    def kernel(hours: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        return hours >= LEAST_HOURS, (hours >= LEAST_HOURS) | np.isnan(hours)

    return _masks(kernel, hours.rename("hours"))


MEASURES: dict[str, Callable[[xr.Dataset, Limits], xr.Dataset]] = {
    "mean": _by_mean,
    "extremes": _by_extremes,
    "hours": _by_hours,
}
"""What makes a day usable: its 7-day mean, its own extremes, or half of its hours in the band."""


def inside(low: np.ndarray, high: np.ndarray, band: Limits) -> np.ndarray:
    """Whether all between `low` and `high` lies in the band. [degC]."""
    return (low >= band.low_c - TOLERANCE_C) & (high <= band.high_c + TOLERANCE_C)


def _masks(kernel: Callable[..., tuple[np.ndarray, ...]], *series: xr.DataArray) -> xr.Dataset:
    axes = ["year", "day_of_year"]
    grids = [by_year(da) for da in series]
    masks = apply(
        kernel,
        *grids,
        core=[axes] * len(grids),
        out=[axes] * 2,
        dtypes=[bool] * 2,
        each=True,
    )
    out = xr.Dataset(dict(zip(("sure", "possible"), masks, strict=True)))
    return out.assign_attrs({k: grids[0].attrs[k] for k in ("first_date", "last_date")})


def usable_days(daily: xr.Dataset, band: Limits, *, measure: str = "mean") -> xr.Dataset:
    """Which days of every year are usable, for sure and possibly.

    Parameters
    ----------
    daily : Dataset, dims (..., time)
        Needs ``tmean``, or ``tmin`` and ``tmax``, and for ``"hours"`` the latitude. [degC]
    band : Limits
        Temperatures the crop grows in. [degC]
    measure : {"mean", "extremes", "hours"}
        The centred 7-day mean of the daily mean lies in the band; or tmin >= low and tmax <= high;
        or at least 12 of the day's 24 reconstructed hours lie in the band.

    Returns
    -------
    Dataset, dims (..., year, day_of_year)
        ``sure`` and ``possible``: they differ where missing values could make the difference,
        given what has been seen at that time of the year.

    Raises
    ------
    ValueError
        If the measure is not one of these, or the record lacks what it needs.
    """
    check_choice("measure", measure, MEASURES)
    return MEASURES[measure](daily, band)
