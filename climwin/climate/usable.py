"""Usable days: the days of every year on which a crop finds temperatures it grows in.

Three measures, each with what missing values leave open: a day is usable for sure, or possibly.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import NamedTuple

import numpy as np
import xarray as xr

from climwin.climate.heat import hours_within
from climwin.core.schema import TOLERANCE_C, apply, check_choice, variable
from climwin.core.seasons import by_year, seen_range
from climwin.crops.catalogue import Limits

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


class Measure(NamedTuple):
    """What makes a day usable: what it looks at, and the days it finds for several bands."""

    grids: Callable[[xr.Dataset, Sequence[Limits]], list[xr.DataArray]]
    """Of a record: dims (..., year, day_of_year), before them ``band`` where bands differ."""
    masks: Callable[..., tuple[np.ndarray, np.ndarray]]
    """Bands and grids to days usable for sure and possibly, shape (bands, years, 365)."""


def _by_mean(bands: Sequence[Limits], tmean: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    least, greatest = running_mean_bounds(tmean)
    return _each(least, greatest, bands), _each(greatest, least, bands)


def _by_extremes(
    bands: Sequence[Limits], tmin: np.ndarray, tmax: np.ndarray
) -> tuple[np.ndarray, np.ndarray]:
    (cold, mild), (cool, hot) = (running_mean_bounds(grid, 1) for grid in (tmin, tmax))
    return _each(cold, hot, bands), _each(mild, cool, bands)


def _by_hours(_: Sequence[Limits], hours: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    enough = hours >= LEAST_HOURS
    return enough, enough | np.isnan(hours)


def _each(low: np.ndarray, high: np.ndarray, bands: Sequence[Limits]) -> np.ndarray:
    return np.stack([inside(low, high, band) for band in bands])


def _years_of(*names: str) -> Callable[[xr.Dataset, Sequence[Limits]], list[xr.DataArray]]:
    return lambda daily, _: [by_year(variable(daily, name)) for name in names]


def _hours(daily: xr.Dataset, bands: Sequence[Limits]) -> list[xr.DataArray]:
    if "latitude" not in {*daily.attrs, *daily.coords}:
        msg = (
            "Hours need the latitude, for the length of the day; the record does not hold it. "
            "Set daily.attrs['latitude'], in degrees north."
        )
        raise ValueError(msg)
    latitude = daily["latitude"] if "latitude" in daily.coords else daily.attrs["latitude"]
    tmin, tmax = variable(daily, "tmin"), variable(daily, "tmax")
    hours = [hours_within(tmin, tmax, latitude, low=b.low_c, high=b.high_c) for b in bands]
    return [by_year(xr.concat(hours, "band").rename("hours"))]


MEASURES = {
    "mean": Measure(_years_of("tmean"), _by_mean),
    "extremes": Measure(_years_of("tmin", "tmax"), _by_extremes),
    "hours": Measure(_hours, _by_hours),
}
"""What makes a day usable: its 7-day mean, its own extremes, or half of its hours in the band."""


def cores(grids: Sequence[xr.DataArray]) -> list[list[str]]:
    """Dimensions that a measure's kernel consumes of each of its grids."""
    axes = ("band", "year", "day_of_year")
    return [[dim for dim in axes if dim in grid.dims] for grid in grids]


def inside(low: np.ndarray, high: np.ndarray, band: Limits) -> np.ndarray:
    """Whether all between `low` and `high` lies in the band. [degC]."""
    return (low >= band.low_c - TOLERANCE_C) & (high <= band.high_c + TOLERANCE_C)


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
    look = MEASURES[measure]
    grids = look.grids(daily, [band])
    found = apply(
        lambda *grids: tuple(mask[0] for mask in look.masks([band], *grids)),
        *grids,
        core=cores(grids),
        out=[["year", "day_of_year"]] * 2,
        dtypes=[bool] * 2,
        each=True,
    )
    out = xr.Dataset(dict(zip(("sure", "possible"), found, strict=True)))
    return out.assign_attrs({k: grids[0].attrs[k] for k in ("first_date", "last_date")})
