"""Usable days: those of every year with temperatures that suit a crop.

There are three criteria for a usable day. To allow for missing values, a day can be usable for
sure, or possibly.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import NamedTuple

import numpy as np
import xarray as xr

from climwin.climate.heat import hours_within
from climwin.climate.imputation import DRAWS, draw_gaps
from climwin.climate.resolution import slack, steps
from climwin.core.errors import Attribute, InputError
from climwin.core.schema import TOLERANCE_C, apply, check_choice, variable
from climwin.core.seasons import by_year, seen_range
from climwin.crops.model import Limits

MEAN_DAYS = 7
"""Length of the running mean that decides whether its middle day is usable. [day]"""
DECIMALS = 6
"""Decimals of a daily mean that count, as in the live chart: beyond them a mean is no reading, and
the last bit of a running mean would decide on which side of the band's edge it falls."""
LEAST_HOURS = 12
"""Least number of hours in the band for a day that is usable by its hours. [h]"""


# --- running means ------------------------------------------------------------------------


def running_mean(grid: np.ndarray, beyond: np.ndarray, days: int = MEAN_DAYS) -> np.ndarray:
    """Centred running mean, across the ends of years.

    Parameters
    ----------
    grid : ndarray, shape (years, 365)
        Calendar years of one station.
    beyond : ndarray, shape (365,)
        Values assumed beyond the record's ends, by day of the year.
    days : int
        Length of the mean, odd.

    Returns
    -------
    ndarray, shape (years, 365)
    """
    half = days // 2
    series = grid.ravel()
    if half:
        series = np.concatenate([beyond[-half:], series, beyond[:half]])
    total = sum(series[shift : shift + grid.size] for shift in range(days))
    return np.asarray(total).reshape(grid.shape) / days


def running_mean_bounds(grid: np.ndarray, days: int = MEAN_DAYS) -> tuple[np.ndarray, np.ndarray]:
    """Bounds of a centred running mean, given what missing days could be.

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
    lowest, highest = seen_range(grid)
    missing = np.isnan(grid)
    least = running_mean(np.where(missing, lowest, grid), lowest, days)
    greatest = running_mean(np.where(missing, highest, grid), highest, days)
    return least, greatest


# --- usable days --------------------------------------------------------------------------


def within_band(
    low: np.ndarray,
    high: np.ndarray,
    band: Limits,
    slacks: tuple[np.ndarray | float, np.ndarray | float] = (TOLERANCE_C, TOLERANCE_C),
) -> np.ndarray:
    """Whether the range from `low` to `high` lies in the band, with a tolerance at each end."""
    return (low >= band.low_c - slacks[0]) & (high <= band.high_c + slacks[1])


class Criterion(NamedTuple):
    """A criterion for a usable day: the grids that it reads, and the days that it accepts."""

    grids: Callable[[xr.Dataset, Sequence[Limits]], list[xr.DataArray]]
    """Function that gives the grids of a record, dims (..., year, day_of_year), preceded by
    ``band`` if they depend on it."""
    usable: Callable[..., tuple[np.ndarray, np.ndarray]]
    """Kernel that takes the bands, the `Bounds` of each temperature that it reads, and its other
    grids, and gives the days usable for sure and possibly, shape (bands, ...)."""
    reads: tuple[str, ...]
    """Temperatures that come first among its grids; none if it reads hours instead."""
    days: int = 1
    """Length of the centred mean of the temperatures that it reads. [day]"""

    def masks(self, bands: Sequence[Limits], *grids: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        """Days usable for sure and possibly, shape (bands, years, 365)."""
        count = len(self.reads)
        bounds = [running_mean_bounds(grid, self.days) for grid in grids[:count]]
        return self.usable(bands, *bounds, *grids[count:])


Bounds = tuple[np.ndarray, np.ndarray]
"""The least and the greatest that a temperature, or its running mean, can be. [degC]"""


def _usable_by_mean(bands: Sequence[Limits], tmean: Bounds) -> tuple[np.ndarray, np.ndarray]:
    least, greatest = tmean
    sure = np.stack([within_band(least, greatest, band) for band in bands])
    possible = np.stack([within_band(greatest, least, band) for band in bands])
    return sure, possible


def _usable_by_extremes(
    bands: Sequence[Limits],
    tmin: Bounds,
    tmax: Bounds,
    tmin_step: np.ndarray,
    tmax_step: np.ndarray,
) -> tuple[np.ndarray, np.ndarray]:
    # A running mean of one day is the day itself, or the bounds of a missing one.
    (least_tmin, greatest_tmin), (least_tmax, greatest_tmax) = tmin, tmax
    sure, possible = [], []
    for band in bands:
        slacks = slack(band.low_c, tmin_step), slack(band.high_c, tmax_step)
        sure.append(within_band(least_tmin, greatest_tmax, band, slacks))
        possible.append(within_band(greatest_tmin, least_tmax, band, slacks))
    return np.stack(sure), np.stack(possible)


def _usable_by_hours(_: Sequence[Limits], hours: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    sure = hours >= LEAST_HOURS
    return sure, sure | np.isnan(hours)


def _means(daily: xr.Dataset, _: Sequence[Limits]) -> list[xr.DataArray]:
    return [by_year(variable(daily, "tmean")).round(DECIMALS)]


def _extremes(daily: xr.Dataset, _: Sequence[Limits]) -> list[xr.DataArray]:
    grids = [by_year(variable(daily, name)) for name in ("tmin", "tmax")]
    in_steps = [steps(grid).broadcast_like(grid).transpose(*grid.dims) for grid in grids]
    return [*grids, *in_steps]


def _hours_in_bands(daily: xr.Dataset, bands: Sequence[Limits]) -> list[xr.DataArray]:
    if "latitude" not in {*daily.attrs, *daily.coords}:
        msg = (
            "Hours need the latitude, for the length of the day; the record does not have it. "
            "Give it, in degrees north: ",
            Attribute("latitude", 46.1),
            ".",
        )
        raise InputError(*msg)
    latitude = daily["latitude"] if "latitude" in daily.coords else daily.attrs["latitude"]
    tmin, tmax = variable(daily, "tmin"), variable(daily, "tmax")
    hours = [hours_within(tmin, tmax, latitude, low=band.low_c, high=band.high_c) for band in bands]
    return [by_year(xr.concat(hours, "band").rename("hours"))]


def drawn_hours(daily: xr.Dataset, bands: Sequence[Limits]) -> xr.DataArray:
    """Hours in the bands in each draw of the gaps, dims (..., draw, band, year, day_of_year).

    Known days are the same in each draw; only the others are computed, because hours are slow.
    """
    known = _hours_in_bands(daily, bands)[0]
    station = [dim for dim in daily["tmin"].dims if dim != "time"]
    missing = (daily["tmin"] + daily["tmax"]).isnull().any(station).values
    # The hours of a day depend on the days before and after it, which must be drawn as well.
    needed = np.convolve(missing, np.ones(5), "same") > 0
    latitude = {key: daily.attrs[key] for key in ("latitude",) if key in daily.attrs}
    drawn = draw_gaps(daily)
    drawn = drawn.sel(time=daily["time"].values[needed]).assign_attrs(latitude)
    if not needed.any():
        return known.expand_dims(draw=DRAWS).transpose(..., "draw", *known.dims)
    hours = _hours_in_bands(drawn, bands)[0]
    full = hours.reindex(year=known["year"]).transpose(..., "draw", "band", "year", "day_of_year")
    return known.fillna(full).transpose(*full.dims)


CRITERIA = {
    "mean": Criterion(_means, _usable_by_mean, ("tmean",), MEAN_DAYS),
    "extremes": Criterion(_extremes, _usable_by_extremes, ("tmin", "tmax")),
    "hours": Criterion(_hours_in_bands, _usable_by_hours, ()),
}
"""Criteria for a usable day: its 7-day mean, its own extremes, or half of its hours lie in the
band."""


def core_dims(grids: Sequence[xr.DataArray]) -> list[list[str]]:
    """Dimensions of each grid that a kernel consumes."""
    consumed = ("draw", "band", "year", "day_of_year")
    return [[dim for dim in consumed if dim in grid.dims] for grid in grids]


def usable_days(daily: xr.Dataset, band: Limits, *, criterion: str = "mean") -> xr.Dataset:
    """Which days of every year are usable, for sure and possibly.

    Parameters
    ----------
    daily : Dataset, dims (..., time)
        Needs ``tmean``, or ``tmin`` and ``tmax``, and for ``"hours"`` the latitude. [degC]
    band : Limits
        Temperatures that suit the crop. [degC]
    criterion : {"mean", "extremes", "hours"}
        The centred 7-day mean of the daily mean lies in the band; or tmin >= low and tmax <= high;
        or at least 12 of the day's 24 reconstructed hours lie in the band.

    Returns
    -------
    Dataset, dims (..., year, day_of_year)
        ``sure`` and ``possible``, which differ where missing values could change the answer, given
        what has been observed at that time of the year.

    Raises
    ------
    ValueError
        If the criterion is unknown, or the record lacks what it needs.

    See Also
    --------
    usable_windows : The longest run of such days in every year.

    Examples
    --------
    >>> import climwin as cw
    >>> daily = cw.read_daily(cw.sample())
    >>> band = cw.Limits(low_c=7.2, high_c=21.0, source="example")
    >>> days = cw.usable_days(daily, band)
    >>> days["sure"].sel(year=2010).sum().item()
    118
    """
    check_choice("criterion", criterion, CRITERIA)
    chosen = CRITERIA[criterion]
    grids = chosen.grids(daily, [band])

    def kernel(*grids: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        sure, possible = chosen.masks([band], *grids)
        return sure[0], possible[0]

    sure, possible = apply(
        kernel,
        *grids,
        core=core_dims(grids),
        out=[["year", "day_of_year"]] * 2,
        dtypes=[bool] * 2,
        each=True,
    )
    out = xr.Dataset({"sure": sure, "possible": possible})
    return out.assign_attrs({key: grids[0].attrs[key] for key in ("first_date", "last_date")})
