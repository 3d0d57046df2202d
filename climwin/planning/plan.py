"""Plans: a crop, a start date, and a way of starting it."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import NamedTuple

from climwin.core.errors import InputError, Parameter
from climwin.core.schema import check_choice
from climwin.core.seasons import day_name, day_number
from climwin.core.wording import article, say
from climwin.crops.catalogue import Crop, Stage
from climwin.shelter.covers import COVERS

OUTDOORS = "none"


@dataclass(frozen=True, slots=True, kw_only=True)
class Conditions:
    """What a year must give for a plan to succeed in it.

    Parameters
    ----------
    share_in_band : float
        Least share of each stage's days outdoors whose 7-day mean lies in its band, 0 to 1.
    killing_freezes : int
        Most nights at or below what the stage survives.
    warm_soil : bool
        Whether the soil at sowing depth must have been warm enough for 5 days, sown in place.
    """

    share_in_band: float = 0.7
    killing_freezes: int = 0
    warm_soil: bool = True

    def __post_init__(self) -> None:
        if not 0 <= self.share_in_band <= 1:
            msg = f"share_in_band is a share between 0 and 1, got {self.share_in_band!r}."
            raise ValueError(msg)
        if self.killing_freezes < 0:
            msg = f"killing_freezes is a number of nights, 0 or more, got {self.killing_freezes!r}."
            raise ValueError(msg)


class Piece(NamedTuple):
    """Days of a plan spent in one stage under one cover, counted from the start."""

    stage: Stage
    begin: int
    end: int
    cover: str


@dataclass(frozen=True, slots=True)
class Plan:
    """A way of growing a crop.

    Parameters
    ----------
    crop : Crop
        What is grown.
    start : str
        Month and day of sowing or planting, such as ``"04-20"``.
    weeks_under_cover : int
        Weeks from sowing to setting out; 0 is sown in place.
    cover : str
        Where it is raised, one of `covers.COVERS`.
    fleece_weeks : int
        Weeks under fleece after setting out, or after sowing in place.
    conditions : Conditions
        What a year must give.
    """

    crop: Crop
    start: str
    weeks_under_cover: int = 0
    cover: str = OUTDOORS
    fleece_weeks: int = 0
    conditions: Conditions = field(default_factory=Conditions)

    def __post_init__(self) -> None:
        day_number(self.start)
        check_choice("cover", self.cover, COVERS)
        longest = self.crop.days // 7
        for name in ("weeks_under_cover", "fleece_weeks"):
            weeks = getattr(self, name)
            if not 0 <= weeks <= longest:
                msg = (
                    f" must lie between 0 and {longest}, the life of {self.crop.name}; "
                    f"got {weeks!r}."
                )
                raise InputError(Parameter(name), msg)
        if (self.weeks_under_cover > 0) != (self.cover != OUTDOORS):
            pieces = (
                "A plan under cover needs both weeks and a cover, got ",
                Parameter("weeks_under_cover", self.weeks_under_cover),
                " and ",
                Parameter("cover", self.cover),
                ". Sown in place has neither.",
            )
            raise InputError(*pieces)

    @property
    def name(self) -> str:
        """What a gardener would call it."""
        day = day_name(day_number(self.start))
        if self.crop.wakes:
            return say("plan_wakes", start=day)
        if self.weeks_under_cover:
            name = say("plan_raised", where=self._raised_where(), start=day)
        else:
            name = say("plan_sown", start=day)
        if self.fleece_weeks:
            name = say("with_fleece", plan=name, count=self.fleece_weeks)
        return name

    def _raised_where(self) -> str:
        """Under which cover the seedlings stand, in words."""
        if self.cover == "fleece":
            return say("under_fleece")
        return say("in_cover", article=article(self.cover), cover=self.cover)

    def pieces(self) -> Iterator[Piece]:
        """Its life in pieces of one stage under one cover, in order."""
        out = 7 * self.weeks_under_cover
        bare = out + 7 * self.fleece_weeks
        covers = ((0, out, self.cover), (out, bare, "fleece"), (bare, self.crop.days, OUTDOORS))
        begin = 0
        for stage in self.crop.stages:
            end = begin + stage.days.usual
            for since, until, cover in covers:
                if max(begin, since) < min(end, until):
                    yield Piece(stage, max(begin, since), min(end, until), cover)
            begin = end
