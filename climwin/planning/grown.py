"""A plan's life in every year of one place, gaps allowed for."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property, lru_cache
from typing import NamedTuple

import numpy as np

from climwin.climate.imputation import LEAST_MEASURED
from climwin.core.seasons import ONE_DAY, date_of
from climwin.core.stats import between, neighbours
from climwin.planning.growth import GOOD_GROWTH, HARVEST, OPEN, Life, grow
from climwin.planning.perennial import COLD_BEFORE_START, REST_BEFORE, stand
from climwin.planning.phases import NEVER
from climwin.planning.plan import Plan
from climwin.planning.site import (
    ANNUAL_REACH,
    GROWN_DRAWS,
    PERENNIAL_REACH,
    SETTLING_DAYS,
    SOIL_REMEMBERS_DAYS,
    DrawnSite,
    FilledSites,
    Site,
    running_sum,
)

HARVEST_LEVELS = (0.1, 0.5, 0.9)
"""Shares of the harvested years by which the harvest has begun."""


class Calendar(NamedTuple):
    """Day of the record of each start date in each year.

    Parameters
    ----------
    years : ndarray of int, shape (seasons,)
        Calendar years of the record.
    first_date : numpy.datetime64
        First day of the record.
    size : int
        Days of the record, from its first to its last.
    """

    years: np.ndarray
    first_date: np.datetime64
    size: int

    def place(self, start_days: np.ndarray) -> np.ndarray:
        """Day of the record of each start, shape (seasons, start_days); may lie outside it."""
        first, last = int(self.years[0]), int(self.years[-1])
        return _places(first, last, self.first_date, tuple(start_days.tolist()))


@lru_cache(maxsize=16)
def _places(
    first_year: int, last_year: int, first_date: np.datetime64, start_days: tuple[int, ...]
) -> np.ndarray:
    """Day of the record of each start: the same for every plan that is grown on it."""
    years = np.arange(first_year, last_year + 1)
    dates = date_of(years[:, None], np.array(start_days)[None, :])
    place: np.ndarray = ((dates - first_date) / ONE_DAY).astype(int)
    place.setflags(write=False)
    return place


class Drawn(NamedTuple):
    """Lives of the starts that gaps leave open, in each draw of the gaps."""

    season: np.ndarray
    """Row of each start in a `Grown`, shape (starts,)."""
    start: np.ndarray
    """Its column, shape (starts,)."""
    reason: np.ndarray
    """Shape (starts, draws)."""
    growth: np.ndarray
    """Shape (starts, draws), missing where there is no harvest."""
    yield_index: np.ndarray
    """Shape (starts, draws). [MJ m-2]"""
    harvest_begin: np.ndarray
    """Days from the start to the first harvest, shape (starts, draws); missing without one."""

    def laid_out(self, values: np.ndarray, shape: tuple[int, ...]) -> np.ndarray:
        """Values by season, start day and draw, missing for the starts that are not drawn."""
        out = np.full((*shape, values.shape[-1]), np.nan)
        out[self.season, self.start] = values
        return out

    @property
    def harvested(self) -> np.ndarray:
        """1 for a harvest, 0 for a failure, missing where the record ends too soon to say."""
        return np.where(self.reason == OPEN, np.nan, self.reason == HARVEST)

    @property
    def good(self) -> np.ndarray:
        """1 for a good harvest, 0 for any other outcome, missing as in `harvested`."""
        is_good = (self.reason == HARVEST) & (self.growth >= GOOD_GROWTH)
        return np.where(self.reason == OPEN, np.nan, is_good)


@dataclass(frozen=True)
class Grown:
    """A plan's life in every year from some start dates.

    What is read of it comes as arrays of shape (seasons, start_days), laid out when it is first
    read: a sweep reads a few of them, thousands of times.

    Parameters
    ----------
    life : Life
        Of the starts that lie inside the record.
    outcome : ndarray of int, shape (starts,)
        Number of the reason in `REASONS`, `HARVEST`, or `OPEN`: also where a gap leaves it open.
    starts : ndarray of int, shape (starts,)
        Days of the record on which they are.
    inside : ndarray of bool, shape (seasons, start_days)
        Where they belong.
    drawn : Drawn or None
        The starts that a gap leaves open, drawn; none where there are none.
    place : ndarray of int, shape (seasons, start_days)
        Day of the record of each start, also of those outside it.
    """

    life: Life
    outcome: np.ndarray
    starts: np.ndarray
    inside: np.ndarray
    drawn: Drawn | None
    place: np.ndarray

    @cached_property
    def reason(self) -> np.ndarray:
        """Outcomes, `OPEN` outside the record."""
        return self._laid_out(self.outcome, OPEN)

    @cached_property
    def stage(self) -> np.ndarray:
        """Number of the stage in which it failed, -1 before emergence and where it did not."""
        return self._laid_out(np.where(self._known, self.life.stage, -1), -1)

    @cached_property
    def emergence(self) -> np.ndarray:
        """Days from the start to emergence, missing where it does not come to it."""
        return self._since_start(self.life.up)

    @cached_property
    def set_out(self) -> np.ndarray:
        """Days from the start to the setting out."""
        return self._since_start(self.life.set_out)

    @cached_property
    def harvest_begin(self) -> np.ndarray:
        """Days from the start to the first harvest."""
        return self._since_start(self.life.ripe)

    @cached_property
    def harvest_quantiles(self) -> np.ndarray:
        """`harvest_begin` by which shares of the harvests have begun, see `HARVEST_LEVELS`."""
        return quantiles_of_years(self.harvest_begin, HARVEST_LEVELS)

    @cached_property
    def harvest_end(self) -> np.ndarray:
        """Days from the start to the end of the harvest."""
        return self._since_start(self.life.last)

    @cached_property
    def begins(self) -> np.ndarray:
        """Days from the start to each stage, shape (seasons, start_days, stages)."""
        return self._since_start(self.life.begins)

    @cached_property
    def growth(self) -> np.ndarray:
        """Growth of each harvest, see `Life`."""
        return self._laid_out(np.where(self._known, self.life.growth, np.nan), np.nan)

    @cached_property
    def yield_index(self) -> np.ndarray:
        """Light used for growth, as a measure of the crop; 0 in a failed year. [MJ m-2]"""
        return self._laid_out(np.where(self._known, self.life.yield_index, np.nan), np.nan)

    @cached_property
    def _known(self) -> np.ndarray:
        return self.outcome != OPEN

    def _since_start(self, day: np.ndarray) -> np.ndarray:
        shape = (-1,) + (1,) * (day.ndim - 1)
        there = (day < NEVER) & self._known.reshape(shape)
        return self._laid_out(np.where(there, day - self.starts.reshape(shape), np.nan), np.nan)

    def _laid_out(self, values: np.ndarray, empty: float) -> np.ndarray:
        shape = (*self.inside.shape, *values.shape[1:])
        if len(values) == self.inside.size:
            return values.reshape(shape)
        out = np.full(shape, empty, dtype=values.dtype)
        out[self.inside] = values
        return out


def drawn_outcomes(grown: Grown) -> tuple[np.ndarray, np.ndarray]:
    """Whether a start ends in a harvest, and in a good one, by draw; missing where not drawn.

    Shape (seasons, start_days, draws).
    """
    if grown.drawn is None:
        nothing = np.full((*grown.reason.shape, GROWN_DRAWS), np.nan)
        return nothing, nothing
    drawn, shape = grown.drawn, grown.reason.shape
    return drawn.laid_out(drawn.harvested, shape), drawn.laid_out(drawn.good, shape)


def quantiles_of_years(days: np.ndarray, shares: Sequence[float]) -> np.ndarray:
    """Quantiles over the years, shape (start_days, shares); missing where there is no harvest."""
    by_start = np.array(days.T, order="C")  # a copy: it is sorted in place
    missing = np.isnan(by_start)
    count = len(days) - missing.sum(axis=-1)
    by_start[missing] = np.inf
    by_start.sort(axis=-1)
    below, above, t = neighbours(count[:, None], np.array(shares), "hazen")
    low, high = (np.take_along_axis(by_start, rank, -1) for rank in (below, above))
    return np.where(count[:, None] > 0, between(low, high, t), np.nan)


def grow_plan(plan: Plan, sites: FilledSites, calendar: Calendar, start_days: np.ndarray) -> Grown:
    """Grow a plan in every year from the given days of the year, gaps allowed for.

    A year is left open if its gaps change the outcome: it is grown with every missing day as cold,
    and as warm, as was ever seen near its time of the year, and must end alike. That is no proof: a
    night may be colder than was ever seen, and values in between may bring another end than both.
    Of 10,000 years that count as known, 1 to 4 end otherwise (``tests/odds/GAPS.md``). To grow them
    in all draws as well would find most of these, but make a page half as slow again.

    What is open is grown again in each draw of the gaps, unless less than half of its days was
    measured.
    """
    place = calendar.place(start_days)
    inside = (place >= 0) & (place < calendar.size)
    inside &= sites.usual.has_usual_year  # otherwise its soil and its winter are unknown
    starts = place[inside]
    life = _life(plan, sites.usual, starts)
    outcome, drawn = life.reason.copy(), None
    if sites.missing.any():
        # A perennial's year begins with the rest of the winter before it.
        before = COLD_BEFORE_START + REST_BEFORE if plan.crop.is_perennial else SETTLING_DAYS
        begin = np.maximum(starts - before, 0)
        remembered = np.maximum(starts - max(before, SOIL_REMEMBERS_DAYS), 0)
        # Colder or warmer days lengthen or shorten a life, so look a while beyond its usual end.
        end = np.minimum(life.touched_until + 60, calendar.size)
        missing_before = running_sum(sites.missing)
        touched = np.flatnonzero(missing_before[end] > missing_before[remembered])
        opened = touched[_may_end_otherwise(plan, sites, starts[touched], outcome[touched])]
        to_draw = opened[outcome[opened] != OPEN]
        outcome[opened] = OPEN
        if len(to_draw):
            to_draw = to_draw[_can_be_drawn(sites, begin[to_draw], end[to_draw])]
        if len(to_draw):
            season, start = (axis[to_draw] for axis in np.nonzero(inside))
            in_draws = sites.drawn(_reach(plan))
            drawn = Drawn(season, start, *_lives_by_draw(plan, in_draws, starts[to_draw]))
    return Grown(life, outcome, starts, inside, drawn, place)


def _reach(plan: Plan) -> tuple[int, int]:
    """Days before and after a gap whose lives it may change, see `DrawnSite`."""
    return PERENNIAL_REACH if plan.crop.is_perennial else ANNUAL_REACH


def _may_end_otherwise(
    plan: Plan, sites: FilledSites, starts: np.ndarray, reason: np.ndarray
) -> np.ndarray:
    """Whether starts end otherwise with every missing day as cold, or as warm, as was ever seen.

    Parameters
    ----------
    plan : Plan
        What is grown.
    sites : FilledSites
        Of one station.
    starts : ndarray of int, shape (starts,)
        Days of the record.
    reason : ndarray of int, shape (starts,)
        How they end with the gaps filled as usual, see `Life`.
    """
    if not len(starts):
        return np.zeros(0, dtype=bool)
    at_extremes = sites.extremes(_reach(plan))
    extremes = _lives_by_draw(plan, at_extremes, starts, only_outcome=True).reason.T
    alike = (extremes == HARVEST) == (reason == HARVEST)
    alike &= (extremes == OPEN) == (reason == OPEN)
    return ~alike.all(axis=0)


def _can_be_drawn(sites: FilledSites, begin: np.ndarray, end: np.ndarray) -> np.ndarray:
    """Whether most days from `begin` to before `end` were measured, and all others can be drawn.

    A day that joined stations cover counts as measured.
    """
    uncovered, hopeless = (
        running_sum(days)[end] - running_sum(days)[begin]
        for days in (sites.uncovered, sites.cannot_be_drawn)
    )
    return (uncovered <= (1 - LEAST_MEASURED) * (end - begin)) & (hopeless == 0)


class _LivesByDraw(NamedTuple):
    """The last fields of a `Drawn`, shape (starts, draws)."""

    reason: np.ndarray
    growth: np.ndarray
    yield_index: np.ndarray
    harvest_begin: np.ndarray


def _lives_by_draw(
    plan: Plan, site: DrawnSite, starts: np.ndarray, *, only_outcome: bool = False
) -> _LivesByDraw:
    """Lives from some starts in each draw of the gaps."""
    place = site.place_of(starts)
    # Draw by draw, because days in order are found faster.
    life = _life(plan, site, place.T.ravel(), only_outcome)

    def by_draw(values: np.ndarray) -> np.ndarray:
        return np.ascontiguousarray(values.reshape(site.draws, len(starts)).T)

    ended = np.where(life.reason == HARVEST, life.ripe, life.touched_until)
    past_end = by_draw(ended) >= site.end_of(starts)

    return _LivesByDraw(
        reason=np.where(past_end, OPEN, by_draw(life.reason)),
        growth=by_draw(life.growth),
        yield_index=by_draw(life.yield_index),
        harvest_begin=np.where(
            (by_draw(life.reason) == HARVEST) & ~past_end, by_draw(life.ripe) - place, np.nan
        ),
    )


def _life(plan: Plan, site: Site, starts: np.ndarray, only_outcome: bool = False) -> Life:
    if plan.crop.is_perennial:
        return stand(site, plan.crop, starts)
    return grow(site, plan.crop, plan.way, starts, only_outcome=only_outcome)
