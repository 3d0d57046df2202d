"""The weather of one station as a plant meets it, day by day: outdoors, under a cover, in the soil.

A `Site` is made once for a record and answers for every crop: what several crops ask of the same
weather (hours of the day, soil, the response to the same temperatures) is worked out once.
"""

from __future__ import annotations

from collections import OrderedDict
from collections.abc import Callable, Hashable, Mapping
from dataclasses import dataclass, field
from functools import cached_property, partial
from hashlib import blake2b
from threading import Lock
from typing import Any, TypeVar

import numpy as np

from climwin.climate.heat import day_length
from climwin.climate.imputation import covered_days, draw_temperatures
from climwin.climate.radiation import solar_radiation_kernel
from climwin.climate.response import (
    hourly_curve,
    hours_of_days,
    loss_of_day,
    mean_above,
    response_of_day,
)
from climwin.climate.soil import Bed, soil_column, soil_kernel
from climwin.core.memo import Latest
from climwin.core.seasons import DAYS, day_of_year, seen_range, smoothed
from climwin.shelter.covers import Cover, inside_kernel

SOWING_DEPTH_M, BED_DEPTH_M = 0.05, 0.10
"""Where seed lies, and where a spade tells whether a bed can be worked. [m]"""
GROWN_DRAWS = 8
"""Draws of the gaps in which a plan is grown, where they leave a start open: growing takes long."""
ANNUAL_REACH, PERENNIAL_REACH = (420, 470), (720, 800)
"""Days before and after a gap that are kept of each draw: no life that it touches begins before
them, or ends after them. A perennial's year may begin with the rest of the winter before it, and
its first winter be the one after it. [day]"""
HARDENING_DAYS = 14
"""Days whose mean hardens plants (from memory: see `growth.HARDENED_AT_C`). [day]"""
SETTLING_DAYS = 14
"""Days before a start whose weather affects its soil and its hardening most. [day]"""
SOIL_REMEMBERS_DAYS = 60
"""Days before a start whose weather its soil still shows: all earlier ones together weigh 0.01 in
bare soil at 5 cm, and 0.03 at 10 cm. [day]"""
SHORT_GAP_DAYS = 5
"""Most missing days in a row that are bridged from the days beside them. [day]"""
LATEST = 32
"""Daily values and sums of one weather that are remembered: those of a plan or two."""
PLACES_KEPT = 3
"""Places around a plant whose weather is remembered: outdoors, and two covers."""
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
    radiation : ndarray, shape (days,)
        Sun at the ground outdoors. [MJ m-2 day-1]
    soil_at : callable
        Takes a depth [m], gives the soil's temperature there, shape (days,). [degC]
    """

    def __init__(
        self,
        tmin: np.ndarray,
        tmax: np.ndarray,
        day_length: np.ndarray,
        radiation: np.ndarray,
        soil_at: Callable[[float], np.ndarray],
    ) -> None:
        self.tmin, self.tmax = tmin, tmax
        self.day_length, self.radiation, self._soil_at = day_length, radiation, soil_at
        self._made = Latest[np.ndarray](LATEST)

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
        return hourly_curve(self.tmin, self.tmax, self.day_length)

    @cached_property
    def tmean(self) -> np.ndarray:
        """Middle of the extremes, shape (days,). [degC]"""
        return (self.tmin + self.tmax) / 2

    @cached_property
    def recent_mean(self) -> np.ndarray:
        """Mean of the last 14 days, which hardens plants, shape (days,). [degC]"""
        return trailing_mean(self.tmean, HARDENING_DAYS)

    def response(self, cardinal: CardinalTemperatures) -> np.ndarray:
        """Response of growth to each day, 0 to 1, shape (days,)."""
        return self.once(("response", cardinal), lambda: response_of_day(self.above, cardinal))

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
        return self.once(key, lambda: daily(self.hours))

    def once(self, key: Hashable, make: Callable[[], np.ndarray]) -> np.ndarray:
        """What `make` gives, made once for the latest keys: several plans ask the same."""
        return self._made.once(key, make)

    def each_day(self, daily: Callable[[Surroundings], np.ndarray]) -> np.ndarray:
        """What a function makes of each day's air and light, shape (days,).

        Parameters
        ----------
        daily : callable
            Takes surroundings, gives a value for each of their days that depends on that day alone,
            and not on the soil, which remembers the days before.
        """
        return daily(self)

    def sums(self, key: Hashable, daily: Callable[[Surroundings], np.ndarray]) -> np.ndarray:
        """Running sum of daily values, see `running_sum` and `each_day`, made once for a key."""
        return self.once(("sums", key), lambda: running_sum(self.each_day(daily)))

    def soil_sums(self, key: Hashable, daily: Callable[[Surroundings], np.ndarray]) -> np.ndarray:
        """Running sum of daily values that depend on the soil, made once for a key."""
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
        self._surroundings = Latest[Surroundings](PLACES_KEPT)
        self.dates = first_day + np.arange(len(tmin)) * np.timedelta64(1, "D")
        self.day_of_year = day_of_year(self.dates)
        self.day_length = np.asarray(day_length(latitude, self.day_of_year.astype(float)))
        self.radiation = solar_radiation_kernel(tmin, tmax, latitude, self.day_of_year)

    def __len__(self) -> int:
        return len(self.tmin)

    @cached_property
    def usual_mean(self) -> np.ndarray:
        """Smoothed climatology of the daily mean, shape (365,). [degC]"""
        return smoothed(_grid(self.day_of_year, (self.tmin + self.tmax) / 2))

    @cached_property
    def sum_of_means(self) -> np.ndarray:
        """Running sum of the daily mean temperatures outdoors, see `running_sum`. [degC day]"""
        return running_sum((self.tmin + self.tmax) / 2)

    @property
    def whole(self) -> Site:
        """The record that its days are from: itself, but for draws and traces."""
        return self

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
        return self._surroundings.once(("outdoors", bed), lambda: self._in_the_open(bed))

    def _in_the_open(self, bed: str | Bed) -> Surroundings:
        return self._over_soil(self.tmin, self.tmax, bed)

    def soil_at(self, depth_m: float) -> np.ndarray:
        """Bare soil at a depth, shape (days,). [degC]"""
        mean = (self.tmin + self.tmax) / 2
        return soil_kernel(mean, self.radiation, self.day_of_year, depth=depth_m, cover="bare")

    def under(self, cover: Cover, bed: str | Bed = "bare") -> Surroundings:
        """Air inside a covered space. The soil inside is taken to have the mean of its air."""
        return self._surroundings.once((cover, bed), lambda: self._inside(cover, bed))

    def _inside(self, cover: Cover, bed: str | Bed) -> Surroundings:
        tmin, tmax = inside_kernel(cover, self.tmin, self.tmax, self.dates[0])
        if cover.name == "fleece":  # it lies on the bed: the soil below still takes the sun
            return self._over_soil(tmin, tmax, bed)
        return Surroundings(
            tmin,
            tmax,
            self.day_length,
            self.radiation,
            lambda _: trailing_mean((tmin + tmax) / 2, 2),
        )

    def _over_soil(self, tmin: np.ndarray, tmax: np.ndarray, bed: str | Bed) -> Surroundings:
        soil_at = soil_column((tmin + tmax) / 2, self.radiation, self.day_of_year, cover=bed)
        return Surroundings(tmin, tmax, self.day_length, self.radiation, soil_at)


# --- a record several times over ----------------------------------------------------------


class DistinctDays(Surroundings):
    """The days of drawn surroundings, each once: those of the record, and those that draws change.

    Most days are the same in each draw. Values that depend on a day alone are computed here, then
    laid out over all draws. The days are in no order, and have no soil.

    Parameters
    ----------
    site : DrawnSite
        Whose days they are.
    tmin, tmax : ndarray, shape (draws, days)
        Daily extremes, of the whole record. [degC]
    usual : Surroundings
        Those of the record itself.
    """

    def __init__(
        self, site: DrawnSite, tmin: np.ndarray, tmax: np.ndarray, usual: Surroundings
    ) -> None:
        changed, self._kept, self._usual = site.changed, site.kept, usual

        def distinct(of_record: np.ndarray, of_draws: np.ndarray) -> np.ndarray:
            return np.concatenate([of_record[site.kept], site.laid_out(of_draws)[changed]])

        day_length, radiation = (
            np.concatenate([of_record[site.kept], of_site[changed]])
            for of_record, of_site in (
                (site.usual.day_length, site.day_length),
                (site.usual.radiation, site.radiation),
            )
        )
        super().__init__(
            distinct(usual.tmin, tmin),
            distinct(usual.tmax, tmax),
            day_length,
            radiation,
            _no_soil,
        )
        recent = [trailing_mean(mean, HARDENING_DAYS) for mean in (tmin + tmax) / 2]
        self.recent_mean = distinct(usual.recent_mean, np.array(recent))
        # Hours of the days that differ in them, each drawn with the day before and the day after.
        draw, place = np.divmod(changed, len(site.kept))
        self._has_other_hours = site.has_other_hours[place]
        draw, day = draw[self._has_other_hours], site.kept[place[self._has_other_hours]]
        before, after = np.maximum(day - 1, 0), np.minimum(day + 1, tmin.shape[1] - 1)
        self._other_hours = hours_of_days(
            tmin[draw, day],
            tmax[draw, day],
            tmax[draw, before],
            tmin[draw, after],
            site.usual.day_length[day],
        )
        self._place = place

    def of_hours(self, key: Hashable, daily: Callable[[np.ndarray], np.ndarray]) -> np.ndarray:
        """As for `Surroundings`: taken over from the record itself, and made of what differs."""

        def make() -> np.ndarray:
            of_record = self._usual.of_hours(key, daily)[self._kept]
            of_changed = of_record[self._place]
            of_changed[self._has_other_hours] = daily(self._other_hours)
            return np.concatenate([of_record, of_changed])

        return self.once(key, make)


def _no_soil(depth_m: float) -> np.ndarray:
    msg = "Soil remembers the days before, so that it differs from draw to draw on every day."
    raise NotImplementedError(msg)


class DrawnSurroundings(Surroundings):
    """Temperatures around a plant in every draw of the gaps, one draw after the other.

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
        laid_out = (site.laid_out(tmin), site.laid_out(tmax))
        super().__init__(*laid_out, site.day_length, site.radiation, soil_at)
        self._distinct = DistinctDays(site, tmin, tmax, usual)
        self._place = np.tile(np.arange(len(site.kept)), site.draws)
        self._place[site.changed] = len(site.kept) + np.arange(len(site.changed))

    @cached_property
    def recent_mean(self) -> np.ndarray:
        """As for `Surroundings`."""
        return self._distinct.recent_mean[self._place]

    def of_hours(self, key: Hashable, daily: Callable[[np.ndarray], np.ndarray]) -> np.ndarray:
        """As for `Surroundings`."""
        return self._distinct.of_hours(key, daily)[self._place]

    def each_day(self, daily: Callable[[Surroundings], np.ndarray]) -> np.ndarray:
        """As for `Surroundings`: of each distinct day once."""
        return daily(self._distinct)[self._place]


class DrawnSite(Site):
    """Weather of one station around its gaps, in every draw of them, one draw after the other.

    Of each draw it holds the days within reach of a gap, laid end to end. A life from a
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
    reach : tuple of int
        Days before and after a gap that are within its reach.
    """

    def __init__(
        self,
        usual: Site,
        tmin: np.ndarray,
        tmax: np.ndarray,
        missing: np.ndarray,
        reach: tuple[int, int],
    ) -> None:
        self.usual, self.latitude, self.draws = usual, usual.latitude, len(tmin)
        self._of_record = tmin, tmax
        self.kept = np.flatnonzero(_reached(missing, *reach))
        self.tmin, self.tmax = self.laid_out(tmin), self.laid_out(tmax)
        self.dates = np.tile(usual.dates[self.kept], self.draws)
        self.day_of_year = np.tile(usual.day_of_year[self.kept], self.draws)
        self.day_length = np.tile(usual.day_length[self.kept], self.draws)
        self._radiation = solar_radiation_kernel(tmin, tmax, usual.latitude, usual.day_of_year)
        self.radiation = self.laid_out(self._radiation)
        self._surroundings = Latest(PLACES_KEPT)
        # The night on either side of a drawn day runs into the days beside it; plants are hardened
        # by the days before.
        self.has_other_hours = _reached(missing, 1, 1)[self.kept]
        changed = _reached(missing, 1, HARDENING_DAYS)
        self.changed = np.flatnonzero(np.tile(changed[self.kept], self.draws))

    @cached_property
    def usual_mean(self) -> np.ndarray:
        """Smoothed climatology of the daily mean, shape (365,). [degC]"""
        return self.usual.usual_mean

    @property
    def whole(self) -> Site:
        """The record itself, its gaps bridged."""
        return self.usual

    def laid_out(self, values: np.ndarray) -> np.ndarray:
        """Values of the whole record, shape (draws, days), as days of this site."""
        return _laid_out(values, self.kept)

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

    def _in_the_open(self, bed: str | Bed) -> Surroundings:
        low, high = self._of_record
        soil_at = self._soil_of(low, high, bed)
        return DrawnSurroundings(self, low, high, soil_at, self.usual.outdoors(bed))

    def soil_at(self, depth_m: float) -> np.ndarray:
        """Bare soil at a depth, shape (days,). [degC]"""
        return self._soil_of(*self._of_record, "bare")(depth_m)

    def _inside(self, cover: Cover, bed: str | Bed) -> Surroundings:
        first, rows = self.usual.dates[0], zip(*self._of_record, strict=True)
        inside = [inside_kernel(cover, low, high, first) for low, high in rows]
        tmin, tmax = (np.array(each) for each in zip(*inside, strict=True))
        soil_at = self._soil_of(tmin, tmax, bed)
        if cover.name != "fleece":
            means = np.array([trailing_mean(mean, 2) for mean in (tmin + tmax) / 2])
            soil_at = partial(_inside_soil, self.laid_out(means))
        return DrawnSurroundings(self, tmin, tmax, soil_at, self.usual.under(cover, bed))

    def _soil_of(
        self, tmin: np.ndarray, tmax: np.ndarray, bed: str | Bed
    ) -> Callable[[float], np.ndarray]:
        """Soil under air of shape (draws, days), made from all days: soil remembers weeks."""
        day, kept = self.usual.day_of_year, self.kept  # not the site, which holds this in turn
        columns = [
            soil_column(mean, of_draw, day, cover=bed)
            for mean, of_draw in zip((tmin + tmax) / 2, self._radiation, strict=True)
        ]

        def soil_at(depth_m: float) -> np.ndarray:
            return _laid_out(np.array([column(depth_m) for column in columns]), kept)

        return soil_at


def _inside_soil(soil: np.ndarray, _: float) -> np.ndarray:
    """Soil inside a cover, at any depth. [degC]"""
    return soil


def _laid_out(values: np.ndarray, kept: np.ndarray) -> np.ndarray:
    """Some days of values of shape (draws, days), one draw after the other."""
    return np.asarray(values[:, kept].ravel())


def _reached(days: np.ndarray, before: int, after: int) -> np.ndarray:
    """Days from so many days before to so many after one of `days`; boolean, of shape (days,)."""
    place = np.flatnonzero(days)
    out = np.zeros(len(days) + 1, dtype=int)
    np.add.at(out, np.maximum(place - before, 0), 1)
    np.add.at(out, np.minimum(place + after + 1, len(days)), -1)
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
    missing : ndarray, shape (days,)
        Whether a day lacks an extreme.
    measured : tuple of ndarray, shape (days,)
        The minimum and the maximum as they were measured. [degC]
    limits : tuple of ndarray, shape (2, days)
        The same, each twice: with every missing day as cold, and as warm, as was ever seen near its
        time of the year. [degC]
    nearby : mapping of str to ndarray, shape (days,)
        What joined stations estimate for them, see `join_stations`. [degC]
    """

    usual: Site
    missing: np.ndarray
    measured: tuple[np.ndarray, np.ndarray]
    limits: tuple[np.ndarray, np.ndarray]
    nearby: Mapping[str, np.ndarray] = field(default_factory=dict)
    _made: Latest[Any] = field(default_factory=Latest, repr=False, compare=False)

    def extremes(self, reach: tuple[int, int]) -> DrawnSite:
        """The record with its gaps at their coldest and at their warmest, as two draws."""
        return self.once(
            ("extremes", reach), lambda: DrawnSite(self.usual, *self.limits, self.missing, reach)
        )

    def drawn(self, reach: tuple[int, int]) -> DrawnSite:
        """The record in each of `GROWN_DRAWS` draws of its gaps; where not drawn, as `usual`."""
        return self.once(("drawn", reach), lambda: self._drawn(reach))

    def _drawn(self, reach: tuple[int, int]) -> DrawnSite:
        filled = []
        for values, draws, usual in zip(
            self.measured, self._draws, (self.usual.tmin, self.usual.tmax), strict=True
        ):
            of_draws = np.repeat(values[None], GROWN_DRAWS, axis=0)
            of_draws[:, self.missing] = np.where(np.isnan(draws), usual[self.missing], draws)
            filled.append(of_draws)
        return DrawnSite(self.usual, filled[0], filled[1], self.missing, reach)

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

    def once(self, key: Hashable, make: Callable[[], T]) -> T:
        """What `make` gives, made once for a key as long as the record's sites are remembered."""
        made: T = self._made.once(key, make)
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
        measured = tmin, tmax
        twice = tmin[None].repeat(2, axis=0), tmax[None].repeat(2, axis=0)
        return FilledSites(Site(first_day, tmin, tmax, latitude), missing, measured, twice)
    day = day_of_year(first_day + np.arange(len(tmin)) * np.timedelta64(1, "D"))
    usual, limits = [], []
    for values in (tmin, tmax):
        known = np.where(missing, np.nan, values)
        grid = _grid(day, known)
        usual.append(_bridged(known, smoothed(grid)[day - 1]))
        lowest, highest = seen_range(grid)
        seen = np.isfinite(lowest[day - 1])
        ends = [np.where(seen, end[day - 1], usual[-1]) for end in (lowest, highest)]
        limits.append(np.where(missing, np.array(ends), values))
    site = Site(first_day, usual[0], usual[1], latitude)
    return FilledSites(site, missing, (tmin, tmax), (limits[0], limits[1]), nearby)


def _bridged(values: np.ndarray, usual: np.ndarray) -> np.ndarray:
    """Missing values from the days beside a short gap, and from a usual year in a long one."""
    missing = np.isnan(values)
    known = np.flatnonzero(~missing)
    if not len(known):
        return values
    place = np.arange(len(values))
    bridge = np.interp(place, known, values[known])
    before = np.maximum.accumulate(np.where(missing, -1, place))
    after = np.minimum.accumulate(np.where(missing, len(values), place)[::-1])[::-1]
    short = (before >= 0) & (after < len(values)) & (after - before - 1 <= SHORT_GAP_DAYS)
    return np.where(missing, np.where(short, bridge, usual), values)
