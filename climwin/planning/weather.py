"""One station's weather, asked how many days of something lie in a stretch of a plan's days.

One difference of running sums answers for every start date of every year. The sums are kept, so
that plans with the same limits share them.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, NamedTuple

import numpy as np
import xarray as xr

from climwin.climate.soil import soil_temperature
from climwin.climate.windows import running_mean_bounds, within_band
from climwin.core.schema import TOLERANCE_C, apply, variable
from climwin.core.seasons import DAYS, by_year, coldest_day, warmest_day
from climwin.crops.catalogue import Limits
from climwin.planning.plan import OUTDOORS, Plan
from climwin.shelter.covers import COVERS, under_cover

SOWING_DEPTH_M = 0.05

_Masks = Callable[[], tuple[np.ndarray, ...]]


@dataclass(frozen=True, slots=True)
class Count:
    """Days of something: at least, and at most, given what is missing."""

    least: np.ndarray
    most: np.ndarray

    def __add__(self, other: Count) -> Count:
        return Count(self.least + other.least, self.most + other.most)

    @property
    def known(self) -> np.ndarray:
        """The days; missing where a gap leaves them open."""
        return np.where(self.least == self.most, self.least, np.nan)


class Weather:
    """Years of one station, as days counted from each start.

    Parameters
    ----------
    tmean, tsoil : ndarray, shape (years, 365)
        Daily mean of the air, and of the soil at sowing depth. [degC]
    tmins : mapping of ndarray, shape (years, 365)
        Daily minimum under each cover. [degC]
    rising : ndarray, shape (365,)
        Whether a day of the year lies between the coldest and the warmest.
    longest : int
        Last day, counted from a start, that is asked about.
    starts : slice
        Which days of the year are starts, counted from 0.

    Notes
    -----
    Counts have the shape (years, starts) and run from `begin` days after the start to before `end`.
    """

    def __init__(
        self,
        tmean: np.ndarray,
        tsoil: np.ndarray,
        tmins: Mapping[str, np.ndarray],
        *,
        rising: np.ndarray,
        longest: int,
        starts: slice = slice(None),
    ) -> None:
        room = ((1, 1 + longest // DAYS), (0, 0))  # years without data, before and after
        roomy = [np.pad(g, room, constant_values=np.nan) for g in (tmean, tsoil, *tmins.values())]
        self._week = running_mean_bounds(roomy[0])
        self._soil = roomy[1], running_mean_bounds(roomy[1], 1)[1]  # seen, and could have been
        nights = [(grid, running_mean_bounds(grid, 1)[0]) for grid in roomy[2:]]
        self._nights = dict(zip(tmins, nights, strict=True))
        self.rising = rising
        self._years, self._starts = len(tmean), starts
        self._sums: dict[tuple[object, ...], list[np.ndarray]] = {}
        self.none = Count(*np.zeros((2, len(tmean), len(range(DAYS)[starts])), dtype=np.int32))

    def every(self, days: int) -> Count:
        """The same number of days from every start."""
        return Count(self.none.least + days, self.none.most + days)

    def in_band(self, band: Limits, begin: int, end: int) -> Count:
        """Days whose 7-day mean lies in the band."""
        low, high = self._week
        return Count(
            *self._count(
                ("in", band.low_c, band.high_c),
                lambda: (within_band(low, high, band), within_band(high, low, band)),
                begin,
                end,
            )
        )

    def too_hot(self, band: Limits, begin: int, end: int) -> np.ndarray:
        """Days whose 7-day mean surely lies above the band."""
        limit = band.high_c + TOLERANCE_C
        return self._count(("hot", limit), lambda: (self._week[0] > limit,), begin, end)[0]

    def too_cold(self, band: Limits, begin: int, end: int) -> np.ndarray:
        """Days whose 7-day mean surely lies below the band."""
        limit = band.low_c - TOLERANCE_C
        return self._count(("cold", limit), lambda: (self._week[1] < limit,), begin, end)[0]

    def freezes(self, cover: str, limit_c: float, begin: int, end: int) -> tuple[Count, Count]:
        """Nights at or below a limit under a cover, on the rise of the year and on its fall."""

        def masks() -> tuple[np.ndarray, ...]:
            frozen = [night <= limit_c + TOLERANCE_C for night in self._nights[cover]]
            return tuple(mask & half for half in (self.rising, ~self.rising) for mask in frozen)

        counts = self._count(("freeze", cover, limit_c), masks, begin, end)
        return Count(*counts[:2]), Count(*counts[2:])

    def warm_soil(self, limit_c: float, begin: int, end: int) -> Count:
        """Days on which the soil at sowing depth is at or above a limit."""

        def masks() -> tuple[np.ndarray, ...]:
            return tuple(soil >= limit_c - TOLERANCE_C for soil in self._soil)

        return Count(*self._count(("soil", limit_c), masks, begin, end))

    def _count(
        self, key: tuple[object, ...], masks: _Masks, begin: int, end: int
    ) -> list[np.ndarray]:
        if key not in self._sums:
            self._sums[key] = [_running_sum(mask) for mask in masks()]
        size, first, after = self._years * DAYS, DAYS + begin, DAYS + end
        days = [s[after : after + size] - s[first : first + size] for s in self._sums[key]]
        return [each.reshape(self._years, DAYS)[:, self._starts] for each in days]


def _running_sum(mask: np.ndarray) -> np.ndarray:
    sums = np.zeros(mask.size + 1, dtype=np.int32)
    np.cumsum(mask, out=sums[1:])
    return sums


# --- every station of a record ------------------------------------------------------------


class Result(NamedTuple):
    """Name, dimensions and type of an array that a kernel makes."""

    name: str
    dims: tuple[str, ...] = ("season", "start_day")
    dtype: Any = float


def over_stations(
    kernel: Callable[[Weather], tuple[np.ndarray, ...]],
    daily: xr.Dataset,
    plans: Sequence[Plan],
    *,
    results: Sequence[Result],
    sizes: Mapping[str, int],
    start_day: int | None = None,
) -> xr.Dataset:
    """Lay a kernel over the weather of each station of a record.

    Parameters
    ----------
    kernel : callable
        Takes a `Weather` that answers for the plans, returns an array for each of `results`.
    daily : Dataset, dims (..., time)
        Needs ``tmin`` and ``tmean``, and ``tmax`` for plans under a cover. [degC]
    plans : sequence of Plan
        What is asked about.
    results : sequence of Result
        Two or more. Dimensions ``season`` and ``start_day`` are those of a count.
    sizes : mapping
        Lengths of the other dimensions.
    start_day : int, optional
        The one day of the year to start on; every day where it is left out.

    Returns
    -------
    Dataset, dims (..., those of each result)

    Raises
    ------
    ValueError
        If there is no plan.
    """
    if not plans:
        msg = "There is no plan to judge, got an empty sequence. Give at least one climwin.Plan."
        raise ValueError(msg)
    covers = sorted({piece.cover for plan in plans for piece in plan.pieces()})
    grids = _grids(daily, covers)
    longest = max(plan.crop.days for plan in plans)
    starts = slice(None) if start_day is None else slice(start_day - 1, start_day)

    def of_station(
        coldest: int, warmest: int, tmean: np.ndarray, tsoil: np.ndarray, *tmins: np.ndarray
    ) -> tuple[np.ndarray, ...]:
        rising = (np.arange(1, DAYS + 1) - coldest) % DAYS < (warmest - coldest) % DAYS
        nights = dict(zip(covers, tmins, strict=True))
        return kernel(Weather(tmean, tsoil, nights, rising=rising, longest=longest, starts=starts))

    labels = {"season": grids[0]["year"].values, "start_day": np.arange(1, DAYS + 1)[starts]}
    made = {dim for result in results for dim in result.dims}
    arrays = apply(
        of_station,
        coldest_day(daily),
        warmest_day(daily),
        *grids,
        core=[[], [], *[["year", "day_of_year"]] * len(grids)],
        out=[result.dims for result in results],
        sizes={d: len(label) for d, label in labels.items() if d in made} | dict(sizes),
        dtypes=[result.dtype for result in results],
        each=True,
    )
    out = xr.Dataset({r.name: array for r, array in zip(results, arrays, strict=True)})
    return out.assign_coords({dim: label for dim, label in labels.items() if dim in made})


def check_one_place(daily: xr.Dataset, asker: str) -> None:
    """Refuse a record of several places where the answer is a list of its own for each.

    Raises
    ------
    ValueError
        Says which dimensions there are, and how to choose a place.
    """
    dims = variable(daily, "tmin").dims
    if dims != ("time",):
        msg = (
            f"{asker} takes the record of one place, got dimensions {', '.join(map(str, dims))}. "
            "Choose one first, such as daily.sel(station=...)."
        )
        raise ValueError(msg)


def _grids(daily: xr.Dataset, covers: Sequence[str]) -> list[xr.DataArray]:
    """Years of the daily mean of the air and the soil, and of the minimum under each cover."""
    tmean, tmin = variable(daily, "tmean"), variable(daily, "tmin")
    tmins = [tmin if c == OUTDOORS else under_cover(daily, COVERS[c])["tmin"] for c in covers]
    return [by_year(da) for da in (tmean, soil_temperature(tmean, SOWING_DEPTH_M), *tmins)]
