"""What is counted of a plan in every year of a station, and what became of the year."""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import reduce
from operator import add
from typing import TypeVar

import numpy as np

from climwin.planning.plan import OUTDOORS, Conditions, Piece, Plan
from climwin.planning.weather import Count, Weather

WARM_SOIL_DAYS = 5
REASONS = ("late freeze", "autumn freeze", "soil too cold", "too hot", "too cold")
"""Why a year fails, in the order in which they are looked at."""

OPEN, SUCCEEDED = -1, -2
"""Fates of a year beside the numbers of `REASONS`: a gap hides it, and success."""

Counted = TypeVar("Counted", Count, "StageTally")

_OPEN_AIR = (OUTDOORS, "fleece")
"""Covers under which the days count as outdoors."""


@dataclass(frozen=True, slots=True)
class StageTally:
    """Days of a stage outdoors, and how many of them lie in, above and below its band."""

    days: int
    within: Count
    hot: np.ndarray
    cold: np.ndarray

    def __add__(self, other: StageTally) -> StageTally:
        return StageTally(
            self.days + other.days,
            self.within + other.within,
            self.hot + other.hot,
            self.cold + other.cold,
        )

    @property
    def share(self) -> np.ndarray:
        """Share of the days in the band; missing where a gap hides it, or there are no days."""
        return self.within.known / (self.days or np.nan)

    def enough(self, share: float) -> tuple[np.ndarray, np.ndarray]:
        """Whether so large a share of the days lies in the band, for sure and possibly."""
        need = math.ceil(share * self.days - 1e-9)
        return self.within.least >= need, self.within.most >= need


@dataclass(frozen=True, slots=True)
class Tally:
    """What is counted of a plan: its stages, killing nights on the rise and fall, warm soil."""

    conditions: Conditions
    stages: list[StageTally]
    late: Count
    autumn: Count
    warm: Count

    @property
    def outdoors(self) -> StageTally:
        """All stages together."""
        return reduce(add, self.stages)

    @property
    def fate(self) -> np.ndarray:
        """What became of each year: the number of a reason, `SUCCEEDED` or `OPEN`."""
        limit = self.conditions.killing_freezes
        soil_days = WARM_SOIL_DAYS if self.conditions.warm_soil else 0
        nights = self.late + self.autumn
        enough = [stage.enough(self.conditions.share_in_band) for stage in self.stages]
        sure, possible = (np.logical_and.reduce(each) for each in zip(*enough, strict=True))
        sure &= (nights.most <= limit) & (self.warm.least >= soil_days)
        possible &= (nights.least <= limit) & (self.warm.most >= soil_days)
        hotter = reduce(add, (stage.hot - stage.cold for stage in self.stages)) >= 0
        soil_cold, late = self.warm.most < soil_days, self.late.least > limit
        met = (hotter, soil_cold, nights.least > limit, late, possible, sure)
        settled = [each * np.int8(rank) for rank, each in enumerate(met, start=1)]
        return np.int8(len(REASONS) - 1) - reduce(np.maximum, settled)  # the last that is met


def tally(plan: Plan, weather: Weather) -> Tally:
    """Count what a plan's conditions ask about, for every start of every year."""
    pieces = list(plan.pieces())
    outdoors = [p for p in pieces if p.cover in _OPEN_AIR and p.stage.place == "air"]
    none = weather.none
    nothing = StageTally(0, none, none.least, none.least)
    stages = [
        _total([_outdoors(piece, weather) for piece in outdoors if piece.stage is stage], nothing)
        for stage in plan.crop.stages
    ]
    warm = weather.every(WARM_SOIL_DAYS)
    if not plan.weeks_under_cover and not plan.crop.wakes:
        warm = weather.warm_soil(plan.crop.germination.minimum_c, 1 - WARM_SOIL_DAYS, 1)
    return Tally(plan.conditions, stages, *killing_nights(pieces, weather), warm)


def killing_nights(pieces: list[Piece], weather: Weather) -> tuple[Count, Count]:
    """Nights that kill what stands above ground, on the rise of the year and on its fall."""
    above = [piece for piece in pieces if piece.stage.place == "air"]
    nights = [weather.freezes(p.cover, p.stage.survives.low_c, p.begin, p.end) for p in above]
    late, autumn = (_total([night[half] for night in nights], weather.none) for half in (0, 1))
    return late, autumn


def _total(counts: list[Counted], nothing: Counted) -> Counted:
    return reduce(add, counts) if counts else nothing


def _outdoors(piece: Piece, weather: Weather) -> StageTally:
    span = piece.stage.tolerates, piece.begin, piece.end
    return StageTally(
        piece.end - piece.begin,
        weather.in_band(*span),
        weather.too_hot(*span),
        weather.too_cold(*span),
    )


def count_fates(fate: np.ndarray) -> tuple[np.ndarray, ...]:
    """Years that succeeded, are known, are open, and failed by each reason (on a last axis)."""
    unknown = (fate == OPEN).sum(axis=0)
    failed_by = np.stack([(fate == code).sum(axis=0) for code in range(len(REASONS))], axis=-1)
    return (fate == SUCCEEDED).sum(axis=0), len(fate) - unknown, unknown, failed_by
