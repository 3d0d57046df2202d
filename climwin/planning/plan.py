"""Plans: a crop, a start date, and a way of starting it."""

from __future__ import annotations

from dataclasses import dataclass
from numbers import Real
from typing import Literal

from climwin.climate.soil import BEDS, Bed
from climwin.core.errors import InputError, Parameter
from climwin.core.formatting import as_typed
from climwin.core.schema import check_choice
from climwin.core.seasons import day_name, day_number
from climwin.core.wording import article, say
from climwin.crops.model import Crop
from climwin.planning.phases import Way
from climwin.shelter.covers import COVERS, Cover

OUTDOORS = "none"
MOST_WEEKS = 20
"""Longest time under cover, or under fleece, that a plan takes. [weeks]"""
SHORTEST_SHARE = 0.5
"""Share of the days of an early variety below which days on a packet are a slip of the pen."""
LONGEST_TIMES = 3.0
"""Days on a packet, as a multiple of those of a late variety, above which they are a slip: a winter
radish takes twice as long as a late one of spring (common practice)."""
MOST_PACKET_DAYS = 300.0
"""Most days on a packet that a plan takes: garlic stands for 275."""

PLANTED = ("tubers", "cloves", "sets", "slips", "roots")
"""What is planted outdoors, where other crops are sown."""

Plants = Literal["own", "bought"]


def usual_cover(crop: Crop) -> str:
    """Where plants of a crop are usually raised (common practice).

    Tender crops come up and grow on in the warmth of a house; hardy ones do in a cold frame.
    """
    return "room with lights" if crop.season == "warm" else "cold frame"


@dataclass(frozen=True, slots=True)
class Plan:
    """A way of growing a crop.

    Parameters
    ----------
    crop : Crop
        What is grown.
    start : str
        Month and day of sowing or planting, such as ``"04-20"``; of setting out where plants are
        bought. A perennial has no start to choose: its year is judged whatever stands here.
    weeks_under_cover : int
        Weeks from sowing to setting out; 0 is sown in place.
    cover : str
        Where it is raised, one of `covers.COVERS`, or the name of `space`.
    fleece_weeks : int
        Weeks under fleece after setting out, or after sowing in place.
    earliness : {"early", "main", "late"} or float
        Of the variety, or the days on its packet, counted as the crop's `Maturity` says.
    bed : str or Bed
        What covers the soil, one of `soil.BEDS`, or the garden's own from `fit_soil`.
    plants : {"own", "bought"}
        Whether plants are raised, or bought at the usual age and set out on `start`.
    space : Cover, optional
        The gardener's own covered space, from `fit_cover`; its name is the plan's `cover`.

    Examples
    --------
    >>> import climwin as cw
    >>> cw.Plan(cw.crop("cauliflower"), "03-05", 6, "cold frame").name
    'sown in a cold frame 5 Mar'
    """

    crop: Crop
    start: str
    weeks_under_cover: int = 0
    cover: str = OUTDOORS
    fleece_weeks: int = 0
    earliness: str | float = "main"
    bed: str | Bed = "bare"
    plants: Plants = "own"
    space: Cover | None = None

    def __post_init__(self) -> None:
        if not isinstance(self.crop, Crop):
            msg = " must be a crop, such as climwin.crop('pea'), got "
            raise InputError(Parameter("crop"), f"{msg}{self.crop!r}.")
        if not isinstance(self.start, str):
            msg = f" is month and day, such as '04-20', got {self.start!r}."
            raise InputError(Parameter("start"), msg)
        day_number(self.start)
        if isinstance(self.bed, str):
            check_choice("bed", self.bed, BEDS)
        check_choice("plants", self.plants, ("own", "bought"))
        self._check_cover()
        self._check_earliness()

    def _check_cover(self) -> None:
        if self.space is None:
            check_choice("cover", self.cover, COVERS)
        elif self.cover != self.space.name:
            msg = f" must be the name of the space, {self.space.name!r}, got {self.cover!r}."
            raise InputError(Parameter("cover"), msg)
        for name in ("weeks_under_cover", "fleece_weeks"):
            weeks = getattr(self, name)
            is_number = isinstance(weeks, Real)
            if not is_number or not 0 <= weeks <= MOST_WEEKS or weeks != int(weeks):
                msg = f" must be whole weeks from 0 to {MOST_WEEKS}, got {weeks!r}."
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
        if self.plants == "bought" and self.weeks_under_cover:
            advice = "Bought plants are set out on the start date: give no "
            given = f", got {self.weeks_under_cover}."
            raise InputError(advice, Parameter("weeks_under_cover"), given)

    def _check_earliness(self) -> None:
        if isinstance(self.earliness, str):
            check_choice("earliness", self.earliness, ("early", "main", "late"))
            return
        maturity = self.crop.maturity
        low = SHORTEST_SHARE * maturity.early if maturity is not None else 0.0
        high = (
            min(LONGEST_TIMES * maturity.late, MOST_PACKET_DAYS) if maturity else MOST_PACKET_DAYS
        )
        if not low <= self.earliness <= high:
            msg = (
                f" as days on the packet of {self.crop.name} must lie between {as_typed(low)} and "
                f"{as_typed(high)}, got {as_typed(self.earliness)}. Or give early, main or late."
            )
            raise InputError(Parameter("earliness"), msg)

    @property
    def covered_by(self) -> Cover:
        """The covered space it is raised in."""
        return COVERS[self.cover] if self.space is None else self.space

    @property
    def name(self) -> str:
        """What a gardener would call it."""
        if self.crop.is_perennial:
            return say("plan_perennial")
        day = day_name(day_number(self.start))
        if self.plants == "bought":
            name = say("plan_bought", start=day)
        elif self.weeks_under_cover:
            kind = "plan_raised_planted" if self.is_planted else "plan_raised"
            name = say(kind, where=self._raised_where(), start=day)
        elif self.is_planted:
            name = say("plan_planted", start=day)
        else:
            name = say("plan_sown", start=day)
        if self.fleece_weeks:
            name = say("with_fleece", plan=name, count=self.fleece_weeks)
        return name

    @property
    def is_planted(self) -> bool:
        """Whether tubers, cloves, sets, slips or roots are planted, and no seed sown."""
        return self.crop.propagation in PLANTED

    def _raised_where(self) -> str:
        """Under which cover the seedlings stand, in words."""
        if self.cover == "fleece":
            return say("under_fleece")
        return say("in_cover", article=article(self.cover), cover=self.cover)

    @property
    def way(self) -> Way:
        """The plan as phases of days, for `growth.grow`."""
        phases: list[tuple[int, Cover | None]] = []
        if self.weeks_under_cover:
            phases.append((7 * int(self.weeks_under_cover), self.covered_by))
        if self.fleece_weeks:
            phases.append((7 * int(self.fleece_weeks), COVERS["fleece"]))
        phases.append((0, None))
        return Way(
            phases=tuple(phases),
            raised=bool(self.weeks_under_cover),
            bought=self.plants == "bought",
            bed=self.bed,
            earliness=self.earliness,
        )


def start_verb(plan: Plan) -> str:
    """What the gardener does on the start date: sow, plant or set out.

    Examples
    --------
    >>> import climwin as cw
    >>> [start_verb(cw.Plan(cw.crop(name), "04-10")) for name in ("pea", "potato")]
    ['sow', 'plant']
    """
    if plan.plants == "bought":
        return "set out"
    return "plant" if plan.is_planted else "sow"


def place_of(plan: Plan) -> str:
    """Where it is sown or planted, such as ``"outdoors"`` or ``"in a cold frame"``."""
    if plan.plants == "bought":
        return "as bought plants"
    if plan.cover == "room with lights":
        return "indoors"
    if plan.cover == "fleece":
        return say("under_fleece")
    if plan.weeks_under_cover:
        return say("in_cover", article=article(plan.cover), cover=plan.cover)
    return "outdoors under fleece" if plan.fleece_weeks else "outdoors"
