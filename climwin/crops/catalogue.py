"""Crops: named stages with the limits they prefer and survive, every number with its source.

The catalogue is one TOML file a crop in ``climwin/data/crops``; a gardener's own has the same form.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from functools import lru_cache
from importlib.resources import files
from pathlib import Path
from typing import Literal

from climwin.core.errors import Call, InputError, nearest_names
from climwin.core.schema import check_choice
from climwin.io.structured import from_toml, read_toml

COMMON_PRACTICE, FROM_MEMORY = "common practice", "from memory"
"""Sources of numbers that are not published, or that nobody could look up again."""

Season = Literal["cool", "warm"]
Place = Literal["soil", "air"]
Begin = Literal["sown", "by itself"]


def _check_celsius(**temperatures: float) -> None:
    """Refuse what can hardly be degC, such as a number left in degF."""
    for name, value in temperatures.items():
        if not -60 <= value <= 60:
            msg = f"{name} must lie between -60 and 60 degC, got {value}. Is it in degF?"
            raise ValueError(msg)


@dataclass(frozen=True, slots=True, kw_only=True)
class Limits:
    """A range of temperature, and where it is published. [degC]"""

    low_c: float
    high_c: float
    source: str

    def __post_init__(self) -> None:
        _check_celsius(low_c=self.low_c, high_c=self.high_c)
        if not self.low_c < self.high_c:
            msg = f"low_c must lie below high_c, got low_c={self.low_c} and high_c={self.high_c}."
            raise ValueError(msg)


@dataclass(frozen=True, slots=True, kw_only=True)
class Minimum:
    """How cold it may get: a daily minimum at or below `low_c` kills. [degC]"""

    low_c: float
    source: str

    def __post_init__(self) -> None:
        _check_celsius(low_c=self.low_c)


@dataclass(frozen=True, slots=True, kw_only=True)
class Span:
    """How long something takes: usual, fewest and most. [days, or weeks where the field says so]"""

    usual: int
    fewest: int
    most: int
    source: str

    def __post_init__(self) -> None:
        if not 0 < self.fewest <= self.usual <= self.most:
            msg = (
                "A span must be ordered 0 < fewest <= usual <= most, "
                f"got fewest={self.fewest}, usual={self.usual}, most={self.most}."
            )
            raise ValueError(msg)


@dataclass(frozen=True, slots=True, kw_only=True)
class HeatSum:
    """Degree-days above a base that something takes, and where they are published. [degC day]"""

    base_c: float
    total: float
    source: str

    def __post_init__(self) -> None:
        _check_celsius(base_c=self.base_c)
        if not self.total > 0:
            msg = f"total must be more than 0 degree-days, got {self.total}."
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
        _check_celsius(minimum_c=self.minimum_c, maximum_c=self.maximum_c)
        if list(ladder) != sorted(ladder):
            msg = (
                "soil temperatures must be ordered minimum_c <= optimum_low_c <= optimum_high_c "
                f"<= maximum_c, got {', '.join(map(str, ladder))}."
            )
            raise ValueError(msg)
        soil = [celsius for celsius, _ in self.days_at_c]
        if soil != sorted(set(soil)) or any(not days > 0 for _, days in self.days_at_c):
            msg = (
                "days_at_c must be pairs of a rising soil temperature and days above 0, "
                f"got {', '.join(f'[{c}, {d}]' for c, d in self.days_at_c)}."
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
        Daily minima above this it lives through; one at or below it kills. [degC]
    place : {"soil", "air"}
        Before it shows above ground, its limits are temperatures of the soil, and no air frost
        kills it; in the air they are temperatures of the air.
    degree_days : HeatSum, optional
        Heat it takes, where that is published. [degC day]
    """

    name: str
    days: Span
    prefers: Limits
    tolerates: Limits
    survives: Minimum
    place: Place = "air"
    degree_days: HeatSum | None = None

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
        Daily mean temperatures between which it grows: the band of the usable window. Handbooks
        give such limits for monthly means. [degC]
    weeks_under_cover : Span, optional
        From sowing to setting out, where it is raised under cover. [weeks]
    begins : {"sown", "by itself"}
        Whether a grower chooses its start, or it wakes each spring where it stands.
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
    begins: Begin = "sown"
    cautions: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        check_choice("season", self.season, ("cool", "warm"))
        check_choice("begins", self.begins, ("sown", "by itself"))
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
    def wakes(self) -> bool:
        """Whether it begins by itself: then there is no start to choose."""
        return self.begins == "by itself"

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
        """Daily minimum at or below which the first stage above ground is killed. [degC]"""
        return next(
            (s.survives.low_c for s in self.stages if s.place == "air"),
            self.stages[0].survives.low_c,
        )


# --- the catalogue and a gardener's own file ----------------------------------------------


@lru_cache
def crop_names() -> tuple[str, ...]:
    """Names of the crops in the catalogue, in the order of the alphabet."""
    names = [file.name for file in files("climwin.crops").joinpath("data").iterdir()]
    found = [name[:-5].replace("-", " ") for name in names if name.endswith(".toml")]
    return tuple(sorted(found, key=str.casefold))


def crop(name: str) -> Crop:
    """Crop of the catalogue.

    Parameters
    ----------
    name : str
        One of `crop_names`; capitals, spaces and hyphens do not matter.

    Raises
    ------
    ValueError
        If there is none of that name; the text has the nearest ones.
    """
    known = {_plain(each): each for each in crop_names()}
    if _plain(name) not in known:
        near = nearest_names(name, crop_names())
        nearest = f" Nearest: {', '.join(near)}." if near else ""
        msg = (
            f"The catalogue has no crop {name!r}.{nearest} ",
            Call("crop_names"),
            " lists all; ",
            Call("read_crop", ("path",)),
            " reads a file of your own.",
        )
        raise InputError(*msg, parameter="crop")
    return _from_catalogue(known[_plain(name)])


def _plain(name: str) -> str:
    return re.sub(r"[\s_-]+", " ", name).strip().casefold()


@lru_cache
def _from_catalogue(name: str) -> Crop:
    file = f"{name.replace(' ', '-')}.toml"
    return from_toml(Crop, files("climwin.crops").joinpath("data", file).read_bytes(), file)


def read_crop(path: str | Path) -> Crop:
    """Crop from a gardener's own TOML file, of the same form as the catalogue's.

    Parameters
    ----------
    path : str or Path
        A UTF-8 file of at most 1 MB.

    Raises
    ------
    RecordError
        If the file cannot be used; the text names the file, the table and key, what was given and
        what is allowed.
    """
    return read_toml(Crop, path)
