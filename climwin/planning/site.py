"""The weather of one station as a plant meets it, day by day: outdoors, under a cover, in the soil.

A `Site` is made once for a record and answers for every crop: what several crops ask of the same
weather (hours of the day, soil, the response to the same temperatures) is worked out once.
"""

from __future__ import annotations

from collections import OrderedDict
from collections.abc import Callable, Hashable, Mapping
from dataclasses import dataclass, field
from functools import cached_property
from hashlib import blake2b
from threading import Lock
from typing import Any, TypeVar

import numpy as np

from climwin.climate.heat import day_length
from climwin.climate.imputation import covered_days, draw_temperatures
from climwin.climate.radiation import solar_radiation_kernel
from climwin.climate.response import hourly_curve, loss_of_day, mean_above, response_of_day
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

T = TypeVar("T")

CardinalTemperatures = tuple[float, float, float, float]


class Surroundings:
    """Temperatures around a plant, day by day; what is made of them is made when first read.

    Parameters
    ----------
    tmin, tmax : ndarray, shape (days,)
        Daily extremes. [degC]
    day_length : ndarray, shape (days,)
        From sunrise to sunset. [h]
    soil_at : callable
        Takes a depth [m], gives the soil's temperature there, shape (days,). [degC]
    like : Surroundings, optional
        Those of the same record with other values on a few days: what a day's hours make is then
        worked out on these days alone.
    """

    def __init__(
        self,
        tmin: np.ndarray,
        tmax: np.ndarray,
        day_length: np.ndarray,
        soil_at: Callable[[float], np.ndarray],
        like: Surroundings | None = None,
    ) -> None:
        self.tmin, self.tmax = tmin, tmax
        self._day_length, self._soil_at, self._like = day_length, soil_at, like
        self._made: dict[Hashable, np.ndarray] = {}

    @cached_property
    def soil_sowing(self) -> np.ndarray:
        """Soil at 5 cm, shape (days,). [degC]"""
        return self._soil_at(SOWING_DEPTH_M)

    @cached_property
    def soil_bed(self) -> np.ndarray:
        """Soil at 10 cm, shape (days,). [degC]"""
        return self._soil_at(BED_DEPTH_M)

    @cached_property
    def hours(self) -> np.ndarray:
        """Temperature of each hour, shape (days, 24). [degC]"""
        return hourly_curve(self.tmin, self.tmax, self._day_length)

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
        return response_of_day(self.above, cardinal)

    def hot_loss(self, cardinal: CardinalTemperatures) -> np.ndarray:
        """What the hours above the optimum take from each day's growth, 0 to 1, shape (days,)."""
        return loss_of_day(self.above, cardinal)

    def above(self, celsius: float) -> np.ndarray:
        """Mean of how much each day's hours exceed a temperature, shape (days,). [degC]"""
        return self.of_hours(("above", celsius), lambda hours: mean_above(hours, celsius))

    def of_hours(self, key: Hashable, daily: Callable[[np.ndarray], np.ndarray]) -> np.ndarray:
        """What a function makes of the hours of each day, shape (days,), made once for a key.

        Parameters
        ----------
        key : hashable
            Names the function.
        daily : callable
            Takes hours, shape (days, 24) [degC], gives a value for each day.
        """
        return self.once(key, lambda: self._of_hours(key, daily))

    def _of_hours(self, key: Hashable, daily: Callable[[np.ndarray], np.ndarray]) -> np.ndarray:
        if self._like is None:
            return daily(self.hours)
        values = self._like.of_hours(key, daily).copy()
        values[self._other_days] = daily(self._other_hours)
        return values

    @cached_property
    def _other_days(self) -> np.ndarray:
        """Days on which the hours are not those of `like`: each leans on the days beside it."""
        assert self._like is not None
        differs = (self.tmin != self._like.tmin) | (self.tmax != self._like.tmax)
        near = differs.copy()
        near[1:] |= differs[:-1]
        near[:-1] |= differs[1:]
        return np.flatnonzero(near)

    @cached_property
    def _other_hours(self) -> np.ndarray:
        """Hours of those days, each drawn with the day before and the day after it."""
        around = self._other_days[:, None] + np.array([-1, 0, 1])
        around = np.clip(around, 0, len(self.tmin) - 1)
        return hourly_curve(self.tmin[around], self.tmax[around], self._day_length[around])[:, 1]

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
    like : Site, optional
        The same record with other values on a few days, such as other values in its gaps. What days
        have in common is then worked out once.
    """

    def __init__(
        self,
        first_day: np.datetime64,
        tmin: np.ndarray,
        tmax: np.ndarray,
        latitude: float,
        like: Site | None = None,
    ) -> None:
        self.tmin, self.tmax, self.latitude, self._like = tmin, tmax, latitude, like
        self._surroundings: dict[object, Surroundings] = {}
        if like is None:
            self.dates = first_day + np.arange(len(tmin)) * np.timedelta64(1, "D")
            self.day_of_year = day_of_year(self.dates)
            self.day_length = np.asarray(day_length(latitude, self.day_of_year.astype(float)))
            self.radiation = solar_radiation_kernel(tmin, tmax, latitude, self.day_of_year)
        else:
            self.dates, self.day_of_year = like.dates, like.day_of_year
            self.day_length, self.radiation = like.day_length, like.radiation.copy()
            other = np.flatnonzero((tmin != like.tmin) | (tmax != like.tmax))
            self.radiation[other] = solar_radiation_kernel(
                tmin[other], tmax[other], latitude, self.day_of_year[other]
            )

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
        key = ("outdoors", bed)
        if key not in self._surroundings:
            like = None if self._like is None else self._like.outdoors(bed)
            self._surroundings[key] = self._over_soil(self.tmin, self.tmax, bed, like)
        return self._surroundings[key]

    def soil_at(self, depth_m: float) -> np.ndarray:
        """Bare soil at a depth, shape (days,). [degC]"""
        return self._soil((self.tmin + self.tmax) / 2, depth_m, "bare")

    def _soil(self, tmean: np.ndarray, depth_m: float, bed: str | Bed) -> np.ndarray:
        return soil_kernel(tmean, self.radiation, self.day_of_year, depth=depth_m, cover=bed)

    def under(self, cover: Cover, bed: str | Bed = "bare") -> Surroundings:
        """Air inside a covered space. The soil inside is taken to have the mean of its air."""
        key = (cover, bed)
        if key not in self._surroundings:
            like = None if self._like is None else self._like.under(cover, bed)
            tmin, tmax = inside_kernel(cover, self.tmin, self.tmax, self.dates[0])
            if cover.name == "fleece":  # it lies on the bed: the soil below still takes the sun
                self._surroundings[key] = self._over_soil(tmin, tmax, bed, like)
            else:
                self._surroundings[key] = Surroundings(
                    tmin,
                    tmax,
                    self.day_length,
                    lambda _: trailing_mean((tmin + tmax) / 2, 2),
                    like,
                )
        return self._surroundings[key]

    def _over_soil(
        self, tmin: np.ndarray, tmax: np.ndarray, bed: str | Bed, like: Surroundings | None
    ) -> Surroundings:
        def soil_at(depth_m: float) -> np.ndarray:
            return self._soil((tmin + tmax) / 2, depth_m, bed)

        return Surroundings(tmin, tmax, self.day_length, soil_at, like)


# --- a record several times over ----------------------------------------------------------


class DrawnSurroundings(Surroundings):
    """Temperatures around a plant in every draw of the gaps, one draw after the other.

    Most days are the same in each draw: what their hours make is taken over from the record itself,
    and worked out anew for the days that differ.

    Parameters
    ----------
    site : DrawnSite
        Whose days they are.
    tmin, tmax : ndarray, shape (draws, days)
        Daily extremes, of the whole record. [degC]
    soil_at : callable
        As for `Surroundings`, of the days of the site.
    usual : Surroundings
        Those of the record itself.
    """

    def __init__(
        self,
        site: DrawnSite,
        tmin: np.ndarray,
        tmax: np.ndarray,
        soil_at: Callable[[float], np.ndarray],
        usual: Surroundings,
    ) -> None:
        super().__init__(site.laid_out(tmin), site.laid_out(tmax), site.day_length, soil_at)
        self._site, self._usual = site, usual

    def _of_hours(self, key: Hashable, daily: Callable[[np.ndarray], np.ndarray]) -> np.ndarray:
        values = np.tile(self._usual.of_hours(key, daily)[self._site.kept], self._site.draws)
        values[self._site.changed] = daily(self._changed_hours)
        return values

    @cached_property
    def _changed_hours(self) -> np.ndarray:
        """Hours of the days that differ, each drawn with the day before and the day after it."""
        around = self._site.changed[:, None] + np.array([-1, 0, 1])
        around = np.clip(around, 0, len(self.tmin) - 1)
        return hourly_curve(self.tmin[around], self.tmax[around], self._day_length[around])[:, 1]


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
        self.tmin, self.tmax = self.laid_out(tmin), self.laid_out(tmax)
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

    def laid_out(self, values: np.ndarray) -> np.ndarray:
        """Values of the whole record, shape (draws, days), as days of this site."""
        return np.asarray(values[:, self.kept].ravel())

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

    def outdoors(self, bed: str | Bed = "bare") -> Surroundings:
        """Open air over soil under a bed's cover, one of `climwin.climate.soil.BEDS`."""
        key = ("outdoors", bed)
        if key not in self._surroundings:
            low, high = self._of_record
            self._surroundings[key] = DrawnSurroundings(
                self, low, high, self._soil_of(low, high, bed), self.usual.outdoors(bed)
            )
        return self._surroundings[key]

    def soil_at(self, depth_m: float) -> np.ndarray:
        """Bare soil at a depth, shape (days,). [degC]"""
        return self._soil_of(*self._of_record, "bare")(depth_m)

    def under(self, cover: Cover, bed: str | Bed = "bare") -> Surroundings:
        """Air inside a covered space. The soil inside is taken to have the mean of its air."""
        key = (cover, bed)
        if key not in self._surroundings:
            first, rows = self.usual.dates[0], zip(*self._of_record, strict=True)
            inside = [inside_kernel(cover, low, high, first) for low, high in rows]
            tmin, tmax = (np.array(each) for each in zip(*inside, strict=True))
            soil_at = self._soil_of(tmin, tmax, bed)
            if cover.name != "fleece":
                means = np.array([trailing_mean(mean, 2) for mean in (tmin + tmax) / 2])
                soil_at = lambda _: self.laid_out(means)  # noqa: E731
            self._surroundings[key] = DrawnSurroundings(
                self, tmin, tmax, soil_at, self.usual.under(cover, bed)
            )
        return self._surroundings[key]

    def _soil_of(
        self, tmin: np.ndarray, tmax: np.ndarray, bed: str | Bed
    ) -> Callable[[float], np.ndarray]:
        """Soil under air of shape (draws, days): it remembers more than a piece of days holds."""

        def soil_at(depth_m: float) -> np.ndarray:
            day, each = self.usual.day_of_year, []
            sun = solar_radiation_kernel(*self._of_record, self.latitude, day)
            for mean, light in zip((tmin + tmax) / 2, sun, strict=True):
                each.append(soil_kernel(mean, light, day, depth=depth_m, cover=bed))
            return self.laid_out(np.array(each))

        return soil_at


def _within(days: np.ndarray, reach: int) -> np.ndarray:
    """Days that lie at most so many days from one of `days`; all boolean, of shape (days,)."""
    place = np.flatnonzero(days)
    out = np.zeros(len(days) + 1, dtype=int)
    np.add.at(out, np.maximum(place - reach, 0), 1)
    np.add.at(out, np.minimum(place + reach + 1, len(days)), -1)
    return np.asarray(np.cumsum(out)[:-1] > 0)


def running_sum(values: np.ndarray) -> np.ndarray:
    """Sum of all days before each day, shape (days + 1,)."""
    sums = np.zeros(len(values) + 1)
    np.cumsum(values, out=sums[1:])
    return sums


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
    nearby : mapping of str to ndarray, shape (days,)
        What joined stations estimate for them, see `join_stations`. [degC]
    """

    usual: Site
    extremes: tuple[Site, ...]
    missing: np.ndarray
    measured: tuple[np.ndarray, np.ndarray]
    nearby: Mapping[str, np.ndarray] = field(default_factory=dict)

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
        draws = draw_temperatures(self._series, self.usual.day_of_year, GROWN_DRAWS)
        return np.stack([draws["tmin"], draws["tmax"]])

    @cached_property
    def uncovered(self) -> np.ndarray:
        """Days on which an extreme is missing and no station nearby covers it, shape (days,)."""
        return ~(covered_days(self._series, "tmin") & covered_days(self._series, "tmax"))

    @property
    def _series(self) -> dict[str, np.ndarray]:
        return dict(zip(("tmin", "tmax"), self.measured, strict=True)) | dict(self.nearby)

    _made: dict[Hashable, Any] = field(default_factory=dict, repr=False, compare=False)

    def once(self, key: Hashable, make: Callable[[], T]) -> T:
        """What `make` gives, made once for a key as long as the record's sites are remembered."""
        if key not in self._made:
            self._made[key] = make()
        made: T = self._made[key]
        return made


_sites: OrderedDict[bytes, FilledSites] = OrderedDict()
_lock = Lock()


def filled_sites(
    first_day: np.datetime64,
    tmin: np.ndarray,
    tmax: np.ndarray,
    latitude: float,
    nearby: Mapping[str, np.ndarray] | None = None,
) -> FilledSites:
    """Sites of a record, remembered by its content, so that a changed value is never overlooked."""
    nearby = nearby or {}
    digest = blake2b(digest_size=16)
    digest.update(f"{first_day} {latitude} {sorted(nearby)}".encode())
    for values in (tmin, tmax, *(nearby[name] for name in sorted(nearby))):
        digest.update(np.ascontiguousarray(values).tobytes())
    key = digest.digest()
    with _lock:
        if key in _sites:
            _sites.move_to_end(key)
            return _sites[key]
    sites = _fill(first_day, tmin, tmax, latitude, nearby)
    with _lock:
        _sites[key] = sites
        while len(_sites) > SITES_KEPT:
            _sites.popitem(last=False)
    return sites


def _fill(
    first_day: np.datetime64,
    tmin: np.ndarray,
    tmax: np.ndarray,
    latitude: float,
    nearby: Mapping[str, np.ndarray],
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
    site = Site(first_day, usual[0], usual[1], latitude)
    extremes = (Site(first_day, low, high, latitude, like=site) for low, high in (coldest, warmest))
    return FilledSites(site, tuple(extremes), missing, (tmin, tmax), nearby)


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
