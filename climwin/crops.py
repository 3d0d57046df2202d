"""Crops: named stages with the limits they prefer and survive, every number with its source.

The catalogue is one TOML file a crop in ``climwin/data/crops``; a gardener's own has the same form.
"""

from __future__ import annotations

import tomllib
from dataclasses import dataclass, field
from functools import lru_cache
from importlib.resources import files
from pathlib import Path
from typing import Any, Literal

from climwin.schema import check_choice

COMMON_PRACTICE, FROM_MEMORY = "common practice", "from memory"

Season = Literal["cool", "warm"]
Place = Literal["soil", "air"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Limits:
    """A range of temperature, and where it is published. [degC]"""

    low_c: float
    high_c: float
    source: str

    def __post_init__(self) -> None:
        if not self.low_c < self.high_c:
            msg = f"low_c must lie below high_c, got low_c={self.low_c} and high_c={self.high_c}."
            raise ValueError(msg)


@dataclass(frozen=True, slots=True, kw_only=True)
class Minimum:
    """The lowest daily minimum that something lives through, and where it is published. [degC]"""

    low_c: float
    source: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Span:
    """How many days something takes: usual, fewest and most."""

    usual: int
    fewest: int
    most: int
    source: str

    def __post_init__(self) -> None:
        if not 0 < self.fewest <= self.usual <= self.most:
            msg = (
                "days must be ordered 0 < fewest <= usual <= most, "
                f"got fewest={self.fewest}, usual={self.usual}, most={self.most}."
            )
            raise ValueError(msg)


@dataclass(frozen=True, slots=True, kw_only=True)
class Germination:
    """Soil temperatures for sowing or planting, and days to emergence at some of them. [degC]"""

    minimum_c: float
    optimum_low_c: float
    optimum_high_c: float
    maximum_c: float
    source: str
    days_at_c: tuple[tuple[float, float], ...] = ()
    days_source: str = ""

    def __post_init__(self) -> None:
        ladder = (self.minimum_c, self.optimum_low_c, self.optimum_high_c, self.maximum_c)
        if list(ladder) != sorted(ladder):
            msg = (
                "soil temperatures must be ordered minimum_c <= optimum_low_c <= optimum_high_c "
                f"<= maximum_c, got {', '.join(map(str, ladder))}."
            )
            raise ValueError(msg)
        if self.days_at_c and not self.days_source:
            msg = "days_at_c is given without days_source. Say where the days are published."
            raise ValueError(msg)


@dataclass(frozen=True, slots=True, kw_only=True)
class Stage:
    """One stage of a crop's life.

    Parameters
    ----------
    name : str
        What growers call it.
    days : Span
        How long it lasts.
    prefers : Limits
        Daily mean temperatures it does best in. [degC]
    tolerates : Limits
        Daily mean temperatures it still grows in: the stage's band. [degC]
    survives : Minimum
        Lowest daily minimum it lives through. [degC]
    place : {"soil", "air"}
        In the soil no air frost kills it; in the air it does.
    """

    name: str
    days: Span
    prefers: Limits
    tolerates: Limits
    survives: Minimum
    place: Place = "air"

    def __post_init__(self) -> None:
        check_choice("place", self.place, ("soil", "air"))
        ladder = (self.survives.low_c, self.tolerates.low_c, self.prefers.low_c)
        if list(ladder) != sorted(ladder) or self.prefers.high_c > self.tolerates.high_c:
            msg = (
                f"Stage {self.name!r}: limits must be ordered survives.low_c <= tolerates.low_c <= "
                "prefers.low_c and prefers.high_c <= tolerates.high_c, "
                f"got {', '.join(map(str, ladder))} and {self.prefers.high_c}, "
                f"{self.tolerates.high_c}."
            )
            raise ValueError(msg)


@dataclass(frozen=True, slots=True, kw_only=True)
class Crop:
    """A crop: what it tolerates, stage by stage, and for how long.

    Parameters
    ----------
    name, botanical : str
        The grower's name and the botanical one.
    family : str
        Kind of crop, such as ``"brassica"``.
    season : {"cool", "warm"}
        The weather it wants.
    germination : Germination
        Soil temperatures for sowing or planting.
    stages : tuple of Stage
        In order, from sowing or planting to the end of harvest.
    band : Limits
        Daily mean temperatures between which it grows: the band of the usable window. [degC]
    weeks_under_cover : Span, optional
        Weeks from sowing to setting out, where it is raised under cover. [weeks]
    cautions : tuple of str
        What to mind, in the grower's words.
    """

    name: str
    botanical: str
    family: str
    season: Season
    germination: Germination
    stages: tuple[Stage, ...]
    band: Limits
    weeks_under_cover: Span | None = None
    cautions: tuple[str, ...] = field(default=())

    def __post_init__(self) -> None:
        check_choice("season", self.season, ("cool", "warm"))
        if not self.stages:
            msg = f"Crop {self.name!r} has no stages. Give at least one [[stages]] table."
            raise ValueError(msg)
        names = [stage.name for stage in self.stages]
        if len(set(names)) < len(names):
            msg = (
                f"Crop {self.name!r} names a stage twice: {', '.join(names)}. "
                "Each needs a name of its own."
            )
            raise ValueError(msg)

    @property
    def days(self) -> int:
        """Usual days from sowing or planting to the end of harvest."""
        return sum(stage.days.usual for stage in self.stages)

    @property
    def need_days(self) -> int:
        """Usual days above ground: what the crop asks of a usable window."""
        return sum(stage.days.usual for stage in self.stages if stage.place == "air")

    @property
    def killed_at_c(self) -> float:
        """Lowest daily minimum that the first stage above ground survives. [degC]"""
        return next(
            (s.survives.low_c for s in self.stages if s.place == "air"),
            self.stages[0].survives.low_c,
        )
