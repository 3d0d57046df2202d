"""Historical traces: this year's days so far, joined to the rest of each past year.

The technique is that of ensemble streamflow prediction [1]_: the state of today is run forward with
the weather of every past year in turn, and the spread of what comes of it is the spread of what may
come. Nothing in it is a weather forecast.

References
----------
.. [1] G. N. Day, "Extended streamflow forecasting using NWSRFS," Journal of Water Resources
   Planning and Management, vol. 111, pp. 157-170, 1985 (pages from memory).
"""

from __future__ import annotations

from collections.abc import Callable, Hashable
from typing import NamedTuple

import numpy as np

from climwin.climate.radiation import solar_radiation_kernel
from climwin.climate.response import hourly_curve
from climwin.climate.soil import Bed, soil_kernel
from climwin.core.memo import Latest
from climwin.core.runs import true_runs
from climwin.core.seasons import ONE_DAY, date_of, is_leap, split_dates
from climwin.planning.growth import HARVEST, OPEN, grow
from climwin.planning.perennial import stand
from climwin.planning.phases import NEVER
from climwin.planning.plan import Plan
from climwin.planning.site import (
    PLACES_KEPT,
    SETTLING_DAYS,
    SHORT_GAP_DAYS,
    FilledSites,
    Site,
    Surroundings,
    running_sum,
    trailing_mean,
)
from climwin.shelter.covers import Cover, inside_kernel

LEAD_DAYS = 400
"""Days before a start that a trace begins: what soil, hardening and winter rest remember. [day]"""


class Joint(NamedTuple):
    """Where this year's days end and those of the past years begin; days of the record.

    Parameters
    ----------
    first_date : numpy.datetime64
        First day of the record.
    seam : int
        First day that is taken from the past years.
    begin, end : int
        First day of the traces, and the day after their last; may lie beyond the record.
    shifts : ndarray of int, shape (traces,)
        Calendar years from this year to that of each trace; negative for past years.
    hidden_until : int
        Days from the seam on and before this one are never looked at: a hindcast has the days that
        came after it was asked in the same record.
    hidden_from : int, optional
        First of these days, where it is not the seam.
    """

    first_date: np.datetime64
    seam: int
    begin: int
    end: int
    shifts: np.ndarray
    hidden_until: int = NEVER
    hidden_from: int | None = None

    @property
    def length(self) -> int:
        """Days of each trace."""
        return self.end - self.begin

    def sources(self, lost: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        """Day of the record that each day of each trace is taken from.

        Parameters
        ----------
        lost : ndarray of bool, shape (days,)
            Days of the record in a gap that is too long to bridge.

        Returns
        -------
        source : ndarray of int, shape (traces, days)
            -1 where the record has no such day: it lies outside it, or was hidden.
        is_own : ndarray of bool, shape (days,)
            Whether it is this year's own day.
        """
        day = np.arange(self.begin, self.end)
        year, of_year, is_leap_day = split_dates(self.first_date + day * ONE_DAY)
        years = year + self.shifts[:, None]
        dates = date_of(years, np.broadcast_to(of_year, years.shape))
        dates = dates + ONE_DAY * (is_leap(years) & is_leap_day)  # else 28 February once more
        source = ((dates - self.first_date) / ONE_DAY).astype(int)
        hidden_from = self.seam if self.hidden_from is None else self.hidden_from
        hidden = (source >= hidden_from) & (source < self.hidden_until)
        source = np.where((source < 0) | (source >= len(lost)) | hidden, -1, source)
        is_own = (day < self.seam) & (day >= 0)
        is_own &= ~lost[np.clip(day, 0, len(lost) - 1)]
        return np.where(is_own, day, source), is_own


class TraceSurroundings(Surroundings):
    """Temperatures around a plant outdoors in every trace, one trace after the other.

    What a day's hours make is taken over from the record; it is worked out anew for the days beside
    a seam, whose nights run into other days than they did.
    """

    def __init__(self, site: TraceSite, soil_at: Callable[[float], np.ndarray], bed: str | Bed):
        super().__init__(site.tmin, site.tmax, site.day_length, site.radiation, soil_at)
        self._site, self._bed = site, bed

    def of_hours(self, key: Hashable, daily: Callable[[np.ndarray], np.ndarray]) -> np.ndarray:
        """As for `Surroundings`."""
        return self.once(key, lambda: self._of_hours(key, daily))

    def _of_hours(self, key: Hashable, daily: Callable[[np.ndarray], np.ndarray]) -> np.ndarray:
        site = self._site
        values = site.past.outdoors(self._bed).of_hours(key, daily)[site.source].ravel()
        if site.own is not site.past:
            own = site.own.outdoors(self._bed).of_hours(key, daily)[site.source].ravel()
            values = np.where(site.is_own, own, values)
        values[site.changed] = daily(self._changed_hours)
        return values

    @property
    def _changed_hours(self) -> np.ndarray:
        around = self._site.changed[:, None] + np.array([-1, 0, 1])
        around = np.clip(around, 0, len(self.tmin) - 1)
        return hourly_curve(self.tmin[around], self.tmax[around], self.day_length[around])[:, 1]


class TraceSite(Site):
    """Weather of one station in every trace, one trace after the other.

    A life in the third trace is looked up like any other, so that all traces are grown at once; one
    that runs past the end of its trace is the caller's to leave out.

    Parameters
    ----------
    own : Site
        The record as it was measured, from which this year's days are.
    past : Site
        The same or one moved to another climate, from which all other days are.
    joint : Joint
    source, is_own : ndarray
        From `Joint.sources`.
    """

    def __init__(
        self, own: Site, past: Site, joint: Joint, source: np.ndarray, is_own: np.ndarray
    ) -> None:
        self.own, self.past, self.latitude = own, past, own.latitude
        self.traces, self.length = source.shape
        self.source = np.where(source < 0, 0, source)
        self.is_own = np.tile(is_own, self.traces)
        self.tmin, self.tmax = (
            np.where(is_own, of_own[self.source], of_past[self.source]).ravel()
            for of_own, of_past in ((own.tmin, past.tmin), (own.tmax, past.tmax))
        )
        dates = joint.first_date + np.arange(joint.begin, joint.end) * ONE_DAY
        self._first_date = dates[0]
        calendar = Site(dates[0], np.zeros(self.length), np.zeros(self.length), own.latitude)
        self._days = calendar.day_of_year
        self.dates = np.tile(dates, self.traces)
        self.day_of_year = np.tile(calendar.day_of_year, self.traces)
        self.day_length = np.tile(calendar.day_length, self.traces)
        self.radiation = solar_radiation_kernel(
            self.tmin, self.tmax, self.latitude, self.day_of_year
        )
        self._surroundings = Latest(PLACES_KEPT)
        self.changed = np.flatnonzero(_beside_seams(source, is_own).ravel())

    @property
    def usual_mean(self) -> np.ndarray:
        """Smoothed climatology of the daily mean of the record, shape (365,). [degC]"""
        return self.past.usual_mean

    @property
    def whole(self) -> Site:
        """The record that the days to come are from."""
        return self.past

    def _in_the_open(self, bed: str | Bed) -> Surroundings:
        return TraceSurroundings(self, self._soil_of(self.tmin, self.tmax, bed), bed)

    def _inside(self, cover: Cover, bed: str | Bed) -> Surroundings:
        rows = zip(*(self._by_trace(each) for each in (self.tmin, self.tmax)), strict=True)
        inside = [inside_kernel(cover, low, high, self._first_date) for low, high in rows]
        tmin, tmax = (np.concatenate(each) for each in zip(*inside, strict=True))
        soil_at = self._soil_of(tmin, tmax, bed)
        if cover.name != "fleece":
            soil_at = self._soil_inside(tmin, tmax)
        return Surroundings(tmin, tmax, self.day_length, self.radiation, soil_at)

    def soil_at(self, depth_m: float) -> np.ndarray:
        """Bare soil at a depth, shape (traces * days,). [degC]"""
        return self._soil_of(self.tmin, self.tmax, "bare")(depth_m)

    def _soil_inside(self, tmin: np.ndarray, tmax: np.ndarray) -> Callable[[float], np.ndarray]:
        """Soil of a covered space, which has the mean of its air at any depth."""
        rows = [trailing_mean(row, 2) for row in self._by_trace((tmin + tmax) / 2)]
        means = np.concatenate(rows)
        return lambda _: means

    def _by_trace(self, values: np.ndarray) -> np.ndarray:
        return values.reshape(self.traces, self.length)

    def _soil_of(
        self, tmin: np.ndarray, tmax: np.ndarray, bed: str | Bed
    ) -> Callable[[float], np.ndarray]:
        """Soil of each trace by itself: it remembers the days of its own trace alone."""

        def soil_at(depth_m: float) -> np.ndarray:
            means, sun = self._by_trace((tmin + tmax) / 2), self._by_trace(self.radiation)
            return np.concatenate(
                [
                    soil_kernel(mean, light, self._days, depth=depth_m, cover=bed)
                    for mean, light in zip(means, sun, strict=True)
                ]
            )

        return soil_at


def _beside_seams(source: np.ndarray, is_own: np.ndarray) -> np.ndarray:
    """Days whose neighbours are not those that they have in the record, shape (traces, days)."""
    parted = source[:, 1:] != source[:, :-1] + 1
    parted |= is_own[1:] != is_own[:-1]
    beside = np.zeros(source.shape, bool)
    beside[:, 1:] |= parted
    beside[:, :-1] |= parted
    beside[:, [0, -1]] = True
    return beside


class Lives(NamedTuple):
    """What becomes of some starts in every trace; days of the record, missing where none.

    Shape (traces, starts), ``begins`` (traces, starts, stages).
    """

    reason: np.ndarray
    """Number of the reason in `growth.REASONS`, `HARVEST`, or `OPEN` where it cannot be told."""
    stage: np.ndarray
    up: np.ndarray
    set_out: np.ndarray
    begins: np.ndarray
    ripe: np.ndarray
    last: np.ndarray
    failed: np.ndarray
    """Day on which it failed."""
    growth: np.ndarray


def lives_in_traces(
    plan: Plan, own: FilledSites, past: Site, joint: Joint, starts: np.ndarray
) -> Lives:
    """Grow a plan from some starts in every trace.

    Parameters
    ----------
    plan : Plan
        Its own start plays no part.
    own : FilledSites
        The record as it was measured.
    past : Site
        From which the days to come are: `own.usual`, or the same moved to another climate.
    joint : Joint
    starts : ndarray of int, shape (starts,)
        Days of the record, which may lie beyond it; inside the traces.

    Returns
    -------
    Lives
        Open are those that need a day which the record has not, or which lies in a gap of more
        than `SHORT_GAP_DAYS` of a past year, or that run past the end of their trace.
    """
    lost = long_gaps(own.missing)
    source, is_own = joint.sources(lost)
    site = TraceSite(own.usual, past, joint, source, is_own)
    row = np.arange(site.traces)[:, None] * site.length
    begin = row + starts - joint.begin
    if plan.crop.is_perennial:
        life = stand(site, plan.crop, begin.ravel())
    else:
        life = grow(site, plan.crop, plan.way, begin.ravel())
    shape = (site.traces, len(starts))
    until = np.where(life.reason == HARVEST, life.last, life.touched_until).reshape(shape)
    past_end = until >= row + site.length
    unseen = running_sum(((source < 0) | lost[site.source]).ravel())
    needed_from = np.maximum(begin - SETTLING_DAYS, row)
    is_open = past_end | (unseen[np.minimum(until, len(site))] > unseen[needed_from])
    is_open |= life.reason.reshape(shape) == OPEN

    def days(values: np.ndarray) -> np.ndarray:
        """Days of the traces laid end to end as days of the record."""
        laid = values.reshape(*shape, -1)
        there = (laid < (row + site.length)[..., None]) & ~is_open[..., None]
        out = np.where(there, laid - (row - joint.begin)[..., None], np.nan)
        return out if values.ndim > 1 else out[..., 0]

    reason = np.where(is_open, OPEN, life.reason.reshape(shape))
    failed = (reason != OPEN) & (reason != HARVEST)
    return Lives(
        reason=reason,
        stage=np.where(failed, life.stage.reshape(shape), -1),
        up=days(life.up),
        set_out=days(life.set_out),
        begins=days(life.begins),
        ripe=days(life.ripe),
        last=np.where(reason == HARVEST, days(life.last), np.nan),
        failed=np.where(failed, days(life.touched_until), np.nan),
        growth=np.where(reason == HARVEST, life.growth.reshape(shape), np.nan),
    )


def long_gaps(missing: np.ndarray) -> np.ndarray:
    """Days in a gap of more than `SHORT_GAP_DAYS`, or at an end of the record; shape (days,)."""
    out = np.zeros(len(missing), bool)
    for begin, end in zip(*true_runs(missing), strict=True):
        out[begin:end] = end - begin > SHORT_GAP_DAYS or begin == 0 or end == len(missing)
    return out
