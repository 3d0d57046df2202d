"""The weather of one station as a plant meets it, day by day: outdoors, under a cover, in the soil.

A `Site` is made once for a record and answers for every crop: what several crops ask of the same
weather (hours of the day, soil, the response to the same temperatures) is worked out once.
"""

from __future__ import annotations

from collections import OrderedDict
from collections.abc import Callable, Hashable
from dataclasses import dataclass, field
from functools import cached_property
from hashlib import blake2b
from threading import Lock
from typing import Any

import numpy as np

from climwin.climate.heat import day_length
from climwin.climate.imputation import draw_temperatures
from climwin.climate.radiation import solar_radiation_kernel
from climwin.climate.response import daily_response, hot_side_loss, hourly_curve
from climwin.climate.soil import Bed, soil_kernel
from climwin.core.seasons import DAYS, day_of_year, seen_range, smoothed
from climwin.shelter.covers import Cover, inside_kernel

SOWING_DEPTH_M, BED_DEPTH_M = 0.05, 0.10
"""Where seed lies, and where a spade tells whether a bed can be worked. [m]"""
GROWN_DRAWS = 8
"""Draws of the gaps in which a plan is grown, where they leave a start open: growing takes long."""
REACH_DAYS = 500
"""Days on either side of a gap that are kept of each draw: longer than any life and the rest before
it. [day]"""
SITES_KEPT = 4
"""How many records' sites are remembered: those of a page, and of its rival scenario."""

CardinalTemperatures = tuple[float, float, float, float]


@dataclass(frozen=True)
class Surroundings:
    """Temperatures around a plant, day by day.

    Parameters
    ----------
    tmin, tmax : ndarray, shape (days,)
        Daily extremes. [degC]
    soil_sowing, soil_bed : ndarray, shape (days,)
        Soil at 5 and at 10 cm. [degC]
    make_hours : callable
        Gives the temperature of each hour, shape (days, 24); called when it is first needed. [degC]
    """

    tmin: np.ndarray
    tmax: np.ndarray
    soil_sowing: np.ndarray
    soil_bed: np.ndarray
    make_hours: Callable[[], np.ndarray] = field(repr=False)
    _made: dict[Hashable, np.ndarray] = field(default_factory=dict, repr=False)

    @cached_property
    def hours(self) -> np.ndarray:
        """Temperature of each hour, shape (days, 24). [degC]"""
        return self.make_hours()

    @cached_property
    def tmean(self) -> np.ndarray:
        """Middle of the extremes, shape (days,). [degC]"""
        return (self.tmin + self.tmax) / 2

    @cached_property
    def recent_mean(self) -> np.ndarray:
        """Mean of the last 14 days, which hardens plants, shape (days,). [degC]"""
        return trailing_mean(self.tmean, 14)

    def response(self, cardinal: CardinalTemperatures) -> np.ndarray:
        """Response of growth to each day, 0 to 1, shape (days,)."""
        return self.once(("response", cardinal), lambda: daily_response(self.hours, cardinal))

    def hot_loss(self, cardinal: CardinalTemperatures) -> np.ndarray:
        """What the hours above the optimum take from each day's growth, 0 to 1, shape (days,)."""
        return self.once(("hot loss", cardinal), lambda: hot_side_loss(self.hours, cardinal))

    def once(self, key: Hashable, make: Callable[[], np.ndarray]) -> np.ndarray:
        """What `make` gives, made once: several crops ask the same of one weather."""
        if key not in self._made:
            self._made[key] = make()
        return self._made[key]

    def sums(self, key: Hashable, daily: Callable[[Surroundings], np.ndarray]) -> np.ndarray:
        """Running sum of daily values, see `running_sum`, made once for a key."""
        return self.once(("sums", key), lambda: running_sum(daily(self)))


class Site:
    """Weather of one station, without gaps, as a plant meets it.

    Parameters
    ----------
    first_day : numpy.datetime64
        Of the record.
    tmin, tmax : ndarray, shape (days,)
        Daily extremes outdoors, every day from the first. [degC]
    latitude : float
        Degrees, north positive.
    """

    def __init__(
        self, first_day: np.datetime64, tmin: np.ndarray, tmax: np.ndarray, latitude: float
    ) -> None:
        self.tmin, self.tmax, self.latitude = tmin, tmax, latitude
        self.dates = first_day + np.arange(len(tmin)) * np.timedelta64(1, "D")
        self.day_of_year = day_of_year(self.dates)
        self.day_length = np.asarray(day_length(latitude, self.day_of_year.astype(float)))
        self.radiation = solar_radiation_kernel(tmin, tmax, latitude, self.day_of_year)
        self._surroundings: dict[object, Surroundings] = {}

    def __len__(self) -> int:
        return len(self.tmin)

    @cached_property
    def usual_mean(self) -> np.ndarray:
        """Smoothed climatology of the daily mean, shape (365,). [degC]"""
        return smoothed(_grid(self.day_of_year, (self.tmin + self.tmax) / 2))

    @property
    def has_usual_year(self) -> bool:
        """Whether enough days of the year hold a value to know its usual course."""
        return bool(np.isfinite(self.usual_mean).all())

    @cached_property
    def coldest_day(self) -> int:
        """Day of the year, counted from 1, on which the climatology is lowest."""
        return int(np.argmin(self.usual_mean)) + 1

    @cached_property
    def is_falling(self) -> np.ndarray:
        """Whether a day lies between the warmest and the coldest of the year, shape (days,)."""
        warmest = int(np.argmax(self.usual_mean)) + 1
        fall = (self.coldest_day - warmest) % DAYS
        return (self.day_of_year - warmest) % DAYS < fall

    def outdoors(self, bed: str | Bed = "bare") -> Surroundings:
        """Open air over soil under a bed's cover, one of `climwin.climate.soil.BEDS`."""
        return self._around(("outdoors", bed), self.tmin, self.tmax, bed)

    def surroundings_of(self, key: tuple[Any, str | Bed]) -> Surroundings:
        """Those of a key of `outdoors` or `under`."""
        cover, bed = key
        return self.outdoors(bed) if cover == "outdoors" else self.under(cover, bed)

    def soil_at(self, depth_m: float) -> np.ndarray:
        """Bare soil at a depth, shape (days,). [degC]"""
        return self._soil((self.tmin + self.tmax) / 2, depth_m, "bare")

    def _soil(self, tmean: np.ndarray, depth_m: float, bed: str | Bed) -> np.ndarray:
        return soil_kernel(tmean, self.radiation, self.day_of_year, depth=depth_m, cover=bed)

    def under(self, cover: Cover, bed: str | Bed = "bare") -> Surroundings:
        """Air inside a covered space. The soil inside is taken to have the mean of its air."""
        key = (cover, bed)
        if key not in self._surroundings:
            tmin, tmax = self._inside(cover)
            if cover.name == "fleece":  # it lies on the bed: the soil below still takes the sun
                return self._around(key, tmin, tmax, bed)
            soil = trailing_mean((tmin + tmax) / 2, 2)
            self._surroundings[key] = self._surround(key, tmin, tmax, soil, soil)
        return self._surroundings[key]

    def _around(
        self, key: tuple[Any, str | Bed], tmin: np.ndarray, tmax: np.ndarray, bed: str | Bed
    ) -> Surroundings:
        if key not in self._surroundings:
            tmean = (tmin + tmax) / 2
            shallow, deep = (self._soil(tmean, d, bed) for d in (SOWING_DEPTH_M, BED_DEPTH_M))
            self._surroundings[key] = self._surround(key, tmin, tmax, shallow, deep)
        return self._surroundings[key]

    def _inside(self, cover: Cover) -> tuple[np.ndarray, np.ndarray]:
        return inside_kernel(cover, self.tmin, self.tmax, self.dates[0])

    def _surround(
        self,
        _: tuple[Any, str | Bed],
        tmin: np.ndarray,
        tmax: np.ndarray,
        shallow: np.ndarray,
        deep: np.ndarray,
    ) -> Surroundings:
        return Surroundings(
            tmin, tmax, shallow, deep, lambda: hourly_curve(tmin, tmax, self.day_length)
        )


# --- a record several times over ----------------------------------------------------------


@dataclass(frozen=True)
class DrawnSurroundings(Surroundings):
    """Temperatures around a plant in every draw of the gaps, one draw after the other.

    Most days are the same in each draw: what takes long is taken over from the record itself, and
    worked out anew for the days that differ.

    Parameters
    ----------
    usual : Surroundings
        Those of the record itself.
    kept : ndarray of int
        Which of its days stand here, in each draw.
    changed : ndarray of int
        Places of the days that differ from it.
    changed_hours : ndarray, shape (changed, 24)
        Temperature of their hours. [degC]
    """

    usual: Surroundings = field(kw_only=True, repr=False)
    kept: np.ndarray = field(kw_only=True, repr=False)
    changed: np.ndarray = field(kw_only=True, repr=False)
    changed_hours: np.ndarray = field(kw_only=True, repr=False)

    def response(self, cardinal: CardinalTemperatures) -> np.ndarray:
        """Response of growth to each day, 0 to 1, shape (days,)."""
        return self.once(
            ("response", cardinal),
            lambda: self._patched(
                self.usual.response(cardinal), daily_response(self.changed_hours, cardinal)
            ),
        )

    def hot_loss(self, cardinal: CardinalTemperatures) -> np.ndarray:
        """What the hours above the optimum take from each day's growth, 0 to 1, shape (days,)."""
        return self.once(
            ("hot loss", cardinal),
            lambda: self._patched(
                self.usual.hot_loss(cardinal), hot_side_loss(self.changed_hours, cardinal)
            ),
        )

    def _patched(self, usual: np.ndarray, changed: np.ndarray) -> np.ndarray:
        out = np.tile(usual[self.kept], len(self.tmin) // len(self.kept))
        out[self.changed] = changed
        return out


class DrawnSite(Site):
    """Weather of one station around its gaps, in every draw of them, one draw after the other.

    Of each draw it holds the days within `REACH_DAYS` of a gap, laid end to end. A life from a
    start in the third draw is then looked up like any other, so that all draws are grown at once.
    A life that runs past the end of such a piece is the caller's to leave out, see `end_of`.

    Parameters
    ----------
    usual : Site
        The record itself, its gaps bridged.
    tmin, tmax : ndarray, shape (draws, days)
        Daily extremes outdoors, of the whole record. [degC]
    missing : ndarray of bool, shape (days,)
        Days that were drawn.
    """

    def __init__(
        self, usual: Site, tmin: np.ndarray, tmax: np.ndarray, missing: np.ndarray
    ) -> None:
        self.usual, self.latitude, self.draws = usual, usual.latitude, len(tmin)
        self._of_record = tmin, tmax
        self.kept = np.flatnonzero(_within(missing, REACH_DAYS))
        self.tmin, self.tmax = self._laid_out(tmin), self._laid_out(tmax)
        self.dates = np.tile(usual.dates[self.kept], self.draws)
        self.day_of_year = np.tile(usual.day_of_year[self.kept], self.draws)
        self.day_length = np.tile(usual.day_length[self.kept], self.draws)
        self.radiation = solar_radiation_kernel(
            self.tmin, self.tmax, self.latitude, self.day_of_year
        )
        self._surroundings = {}
        # The night on either side of a drawn day runs into the days beside it.
        self.changed = np.flatnonzero(np.tile(_within(missing, 1)[self.kept], self.draws))

    @cached_property
    def usual_mean(self) -> np.ndarray:
        """Smoothed climatology of the daily mean, shape (365,). [degC]"""
        return self.usual.usual_mean

    def place_of(self, day: np.ndarray) -> np.ndarray:
        """Where days of the record, near a gap, lie in each draw: shape (days, draws)."""
        first = len(self.kept) * np.arange(self.draws)
        return np.asarray(np.searchsorted(self.kept, day)[:, None] + first)

    def end_of(self, day: np.ndarray) -> np.ndarray:
        """Where the pieces of days of the record end, in each draw: shape (days, draws)."""
        last = np.append(np.diff(self.kept) > 1, True)  # the last day of each piece
        ends = np.flatnonzero(last) + 1
        end = ends[np.searchsorted(ends, np.searchsorted(self.kept, day), side="right")]
        return np.asarray(end[:, None] + len(self.kept) * np.arange(self.draws))

    def _laid_out(self, values: np.ndarray) -> np.ndarray:
        """Values of shape (draws, days) as days of this site."""
        return np.asarray(values[:, self.kept].ravel())

    def _soil(self, tmean: np.ndarray, depth_m: float, bed: str | Bed) -> np.ndarray:
        # The soil remembers more than a piece holds: it is that of the whole record.
        del tmean
        each = []
        for low, high in zip(*self._of_record, strict=True):
            sun = solar_radiation_kernel(low, high, self.latitude, self.usual.day_of_year)
            day = self.usual.day_of_year
            each.append(soil_kernel((low + high) / 2, sun, day, depth=depth_m, cover=bed))
        return self._laid_out(np.array(each))

    def _inside(self, cover: Cover) -> tuple[np.ndarray, np.ndarray]:
        first = self.usual.dates[0]
        each = [
            inside_kernel(cover, low, high, first)
            for low, high in zip(*self._of_record, strict=True)
        ]
        coldest, warmest = (np.array(rows) for rows in zip(*each, strict=True))
        return self._laid_out(coldest), self._laid_out(warmest)

    def _surround(
        self,
        key: tuple[Any, str | Bed],
        tmin: np.ndarray,
        tmax: np.ndarray,
        shallow: np.ndarray,
        deep: np.ndarray,
    ) -> Surroundings:
        usual = self.usual.surroundings_of(key)
        around = np.clip(self.changed[:, None] + np.arange(-1, 2), 0, len(tmin) - 1)
        hours = hourly_curve(tmin[around], tmax[around], self.day_length[around])[:, 1]

        def all_hours() -> np.ndarray:
            out = np.tile(usual.hours[self.kept], (self.draws, 1))
            out[self.changed] = hours
            return out

        return DrawnSurroundings(
            tmin,
            tmax,
            shallow,
            deep,
            all_hours,
            usual=usual,
            kept=self.kept,
            changed=self.changed,
            changed_hours=hours,
        )


def _within(days: np.ndarray, reach: int) -> np.ndarray:
    """Days that lie at most so many days from one of `days`; all boolean, of shape (days,)."""
    place = np.flatnonzero(days)
    out = np.zeros(len(days) + 1, dtype=int)
    np.add.at(out, np.maximum(place - reach, 0), 1)
    np.add.at(out, np.minimum(place + reach + 1, len(days)), -1)
    return np.asarray(np.cumsum(out)[:-1] > 0)


def running_sum(values: np.ndarray) -> np.ndarray:
    """Sum of all days before each day, shape (days + 1,)."""
    return np.concatenate([[0.0], np.cumsum(values, dtype=float)])


def trailing_mean(values: np.ndarray, days: int) -> np.ndarray:
    """Mean of each day and those before it, up to `days` of them; fewer at the beginning."""
    sums = np.concatenate([[0.0], np.cumsum(values)])
    end = np.arange(1, len(values) + 1)
    begin = np.maximum(end - days, 0)
    return (sums[end] - sums[begin]) / (end - begin)


def _grid(day: np.ndarray, values: np.ndarray) -> np.ndarray:
    """Values on rows of 365 days, 29 February left out by its day of the year; gaps are NaN."""
    row = np.cumsum(np.concatenate([[0], (np.diff(day) < 0).astype(int)]))
    grid = np.full((row[-1] + 1, DAYS), np.nan)
    grid[row, day - 1] = values
    return grid


# --- records with gaps --------------------------------------------------------------------


@dataclass(frozen=True)
class FilledSites:
    """A record's site, and the same with its gaps at the coldest and at the warmest.

    Parameters
    ----------
    usual : Site
        Gaps of up to five days bridged, longer ones as in a usual year.
    extremes : tuple of Site
        Every missing day as cold, and as warm, as was ever seen near its time of the year; empty
        where nothing is missing.
    missing : ndarray, shape (days,)
        Whether a day lacks an extreme.
    measured : tuple of ndarray, shape (days,)
        The minimum and the maximum as they were measured. [degC]
    """

    usual: Site
    extremes: tuple[Site, ...]
    missing: np.ndarray
    measured: tuple[np.ndarray, np.ndarray]

    @cached_property
    def drawn(self) -> DrawnSite:
        """The record in each of `GROWN_DRAWS` draws of its gaps; where not drawn, as `usual`."""
        filled = []
        for values, draws, usual in zip(
            self.measured, self._draws, (self.usual.tmin, self.usual.tmax), strict=True
        ):
            of_draws = np.repeat(values[None], GROWN_DRAWS, axis=0)
            of_draws[:, self.missing] = np.where(np.isnan(draws), usual[self.missing], draws)
            filled.append(of_draws)
        return DrawnSite(self.usual, filled[0], filled[1], self.missing)

    @cached_property
    def cannot_be_drawn(self) -> np.ndarray:
        """Missing days at a time of the year that no year was measured at, shape (days,)."""
        out = np.zeros(len(self.missing), dtype=bool)
        out[self.missing] = np.isnan(self._draws).any(axis=(0, 1))
        return out

    @cached_property
    def _draws(self) -> np.ndarray:
        """Minima and maxima of the missing days, shape (2, draws, missing). [degC]"""
        series = dict(zip(("tmin", "tmax"), self.measured, strict=True))
        draws = draw_temperatures(series, self.usual.day_of_year, GROWN_DRAWS)
        return np.stack([draws["tmin"], draws["tmax"]])


_sites: OrderedDict[bytes, FilledSites] = OrderedDict()
_lock = Lock()


def filled_sites(
    first_day: np.datetime64, tmin: np.ndarray, tmax: np.ndarray, latitude: float
) -> FilledSites:
    """Sites of a record, remembered by its content, so that a changed value is never overlooked."""
    digest = blake2b(digest_size=16)
    digest.update(f"{first_day} {latitude}".encode())
    for values in (tmin, tmax):
        digest.update(np.ascontiguousarray(values).tobytes())
    key = digest.digest()
    with _lock:
        if key in _sites:
            _sites.move_to_end(key)
            return _sites[key]
    sites = _fill(first_day, tmin, tmax, latitude)
    with _lock:
        _sites[key] = sites
        while len(_sites) > SITES_KEPT:
            _sites.popitem(last=False)
    return sites


def _fill(
    first_day: np.datetime64, tmin: np.ndarray, tmax: np.ndarray, latitude: float
) -> FilledSites:
    missing = np.isnan(tmin) | np.isnan(tmax)
    if not missing.any():
        return FilledSites(Site(first_day, tmin, tmax, latitude), (), missing, (tmin, tmax))
    day = day_of_year(first_day + np.arange(len(tmin)) * np.timedelta64(1, "D"))
    usual, coldest, warmest = [], [], []
    for values in (tmin, tmax):
        known = np.where(missing, np.nan, values)
        grid = _grid(day, known)
        usual.append(_bridged(known, smoothed(grid)[day - 1]))
        lowest, highest = seen_range(grid)
        seen = np.isfinite(lowest[day - 1])
        coldest.append(np.where(missing, np.where(seen, lowest[day - 1], usual[-1]), values))
        warmest.append(np.where(missing, np.where(seen, highest[day - 1], usual[-1]), values))
    sites = [Site(first_day, low, high, latitude) for low, high in (usual, coldest, warmest)]
    return FilledSites(sites[0], tuple(sites[1:]), missing, (tmin, tmax))


def _bridged(values: np.ndarray, usual: np.ndarray, longest: int = 5) -> np.ndarray:
    """Missing values from the days beside a short gap, and from a usual year in a long one."""
    missing = np.isnan(values)
    known = np.flatnonzero(~missing)
    if not len(known):
        return values
    place = np.arange(len(values))
    bridge = np.interp(place, known, values[known])
    before = np.maximum.accumulate(np.where(missing, -1, place))
    after = np.minimum.accumulate(np.where(missing, len(values), place)[::-1])[::-1]
    short = (before >= 0) & (after < len(values)) & (after - before - 1 <= longest)
    return np.where(missing, np.where(short, bridge, usual), values)
