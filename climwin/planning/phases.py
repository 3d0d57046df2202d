"""A way of growing as phases of days, and days counted through them."""

from __future__ import annotations

from collections.abc import Callable, Hashable
from copy import copy
from dataclasses import dataclass

import numpy as np

from climwin.climate.soil import Bed
from climwin.planning.site import Site, Surroundings
from climwin.shelter.covers import Cover

NEVER = np.iinfo(np.int32).max
"""A day that does not come, or not within the record."""

SCORCHED_AT_C = 45.0
"""Air inside a cover that kills leaves within the hour (common practice; the lethal temperatures of
leaves lie between 45 and 55 degC, from memory: Levitt 1980)."""


@dataclass(frozen=True)
class Way:
    """A way of growing, as phases of days.

    Parameters
    ----------
    phases : tuple of (days, cover)
        Days from the start under each cover, in order; `None` is outdoors. The last phase lasts to
        the end, whatever its days.
    raised : bool
        Whether the first phase is in pots, from which plants are set out.
    bought : bool
        Whether it starts with the setting out of plants of the usual age.
    bed : str or Bed
        What covers the soil, one of `climwin.climate.soil.BEDS` or the garden's own.
    earliness : str or float
        See `heat_to_harvest`.
    """

    phases: tuple[tuple[int, Cover | None], ...]
    raised: bool
    bought: bool
    bed: str | Bed
    earliness: str | float


class PhasedDays:
    """Days counted from each start through the phases of a way of growing.

    Values of a day are those of the surroundings that the phase has on it.
    """

    def __init__(self, site: Site, way: Way, starts: np.ndarray) -> None:
        self.size, self.starts = len(site), starts
        lengths = np.array([days for days, _ in way.phases])
        edges = np.concatenate([[0], np.cumsum(lengths)])
        self.edges = [np.minimum(starts + edge, self.size) for edge in edges[:-1]]
        self.edges.append(np.full_like(starts, self.size))
        self.around = [
            site.outdoors(way.bed) if cover is None else site.under(cover, way.bed)
            for _, cover in way.phases
        ]

    def of(self, lives: np.ndarray) -> PhasedDays:
        """These days for some of the starts, given by their positions."""
        some = copy(self)
        some.starts = self.starts[lives]
        some.edges = [edge[lives] for edge in self.edges]
        return some

    def clipped(self, day: np.ndarray) -> np.ndarray:
        """Days beyond the record as its end."""
        return np.minimum(day, self.size)

    def is_in_last_phase(self, day: np.ndarray) -> bool:
        """Whether all days lie in the last phase, so that earlier ones need not be searched."""
        return len(self.around) == 1 or bool((day >= self.edges[-2]).all())

    def sums(self, key: Hashable, daily: Callable[[Surroundings], np.ndarray]) -> list[np.ndarray]:
        """Running sums of daily values in each phase's surroundings, made once for a key."""
        return [each.sums(key, daily) for each in self.around]

    def soil_sums(
        self, key: Hashable, daily: Callable[[Surroundings], np.ndarray]
    ) -> list[np.ndarray]:
        """Running sums of daily values that depend on the soil, made once for a key."""
        return [each.soil_sums(key, daily) for each in self.around]

    def between(self, sums: list[np.ndarray], begin: np.ndarray, end: np.ndarray) -> np.ndarray:
        """Sum over the days from `begin` to before `end`."""
        begin, end = self.clipped(begin), self.clipped(end)
        if self.is_in_last_phase(begin):
            return sums[-1][np.maximum(end, begin)] - sums[-1][begin]
        total = np.zeros(len(self.starts))
        for phase, running in enumerate(sums):
            first = np.maximum(begin, self.edges[phase])
            last = np.maximum(np.minimum(end, self.edges[phase + 1]), first)
            total += running[last] - running[first]
        return total

    def mean(self, sums: list[np.ndarray], begin: np.ndarray, end: np.ndarray) -> np.ndarray:
        """Mean over the days from `begin` to before `end`."""
        days = np.maximum(self.clipped(end) - self.clipped(begin), 1)
        return self.between(sums, begin, end) / days

    def reached(
        self, sums: list[np.ndarray], begin: np.ndarray, need: np.ndarray | float
    ) -> np.ndarray:
        """First day by whose beginning the sum since `begin` is `need`; `NEVER` beyond the record.

        The sum must not fall, which holds for heat and for rates.
        """
        position = self.clipped(begin)
        if self.is_in_last_phase(position):
            day = np.searchsorted(sums[-1], sums[-1][position] + need - 1e-9)
            np.maximum(day, position, out=day)
            np.copyto(day, NEVER, where=(day > self.size) | (begin >= NEVER))
            return day
        left = np.broadcast_to(np.asarray(need, float), self.starts.shape)
        day = np.full(len(self.starts), NEVER)
        for phase, running in enumerate(sums):
            first = np.maximum(position, self.edges[phase])
            last = np.maximum(self.edges[phase + 1], first)
            before = running[first]
            here = running[last] - before
            ends = np.flatnonzero((day == NEVER) & (left <= here + 1e-9))
            target = before[ends] + left[ends]
            day[ends] = np.maximum(np.searchsorted(running, target - 1e-9), first[ends])
            left = left - here
            position = last
        return np.where(begin >= NEVER, NEVER, day)

    def first(self, upcoming: list[np.ndarray], begin: np.ndarray, end: np.ndarray) -> np.ndarray:
        """First day from `begin` to before `end` of those that `next_day` gives by phase."""
        begin, end = self.clipped(begin), self.clipped(end)
        if self.is_in_last_phase(begin):
            day = upcoming[-1][begin]
            return np.where(day < end, day, NEVER)
        day = np.full(len(self.starts), NEVER)
        for phase in reversed(range(len(upcoming))):
            from_day = np.maximum(begin, self.edges[phase])
            night = upcoming[phase][from_day]
            day = np.where(night < np.minimum(end, self.edges[phase + 1]), night, day)
        return day

    def phase_of(self, day: np.ndarray) -> np.ndarray:
        """Number of the phase in which a day lies."""
        phase = np.zeros(len(self.starts), int)
        for edge in self.edges[1:-1]:
            phase += day >= edge
        return phase


def next_day(mask: np.ndarray) -> np.ndarray:
    """First day from each day on, that day included, on which a mask holds; shape (days + 1,)."""
    out = np.full(len(mask) + 1, NEVER)
    place = np.flatnonzero(mask)
    out[place] = place
    np.minimum.accumulate(out[::-1], out=out[::-1])
    return out


def next_scorching(around: Surroundings) -> np.ndarray:
    """First day from each day on that scorches what grows there, see `next_day`."""
    return around.once("scorches", lambda: next_day(around.tmax >= SCORCHED_AT_C))
