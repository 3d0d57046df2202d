"""The sensible ways of growing a crop at a place, each at its best date, and help for poor ones.

Sown or planted in place, the same under fleece, and raised under cover: in the gardener's own
space where its logger is there, over the number of weeks that does best.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

import xarray as xr

from climwin.climate.level import in_climate, leading_climate
from climwin.climate.soil import Bed
from climwin.core.errors import InputError
from climwin.core.seasons import DAYS, day_number
from climwin.crops.model import Crop
from climwin.planning.evaluate import evaluate_plan, harvest_odds
from climwin.planning.plan import OUTDOORS, Plan, usual_cover
from climwin.planning.schedule import at_best_date
from climwin.shelter.covers import Cover
from climwin.shelter.verdict import HEAT_MARGIN_C

FLEECE_WEEKS = 4
"""Weeks of fleece that are tried: until a crop has grown into it (common practice)."""

WEEKS_TRIED = (4, 8)
"""Weeks under cover that are tried of a crop that is usually sown in place (common practice)."""

WORKS_WELL = 0.8
"""Share of years with a harvest from which a way works (common practice)."""

GOOD_ENOUGH = 0.5
"""Share of years with a good harvest below which a way is worth mending (common practice)."""

WORTH = 0.1
"""Least gain in the share of good harvests for a change to be worth saying (common practice)."""

EARLIER_DAYS = 7
"""Least gain in days at the start for fleece to be worth its trouble (common practice)."""


@dataclass(frozen=True)
class Tried:
    """A way of growing a crop, and its odds of a harvest.

    Parameters
    ----------
    plan : Plan
        The way and its date.
    odds : Dataset
        From `harvest_odds`.
    change : str
        What makes it another way than the best one: ``"heat"``, ``"early variety"`` or
        ``"warm room"``; empty for a way as it stands.
    """

    plan: Plan
    odds: xr.Dataset
    change: str = ""

    @property
    def rank(self) -> tuple[float, float, float]:
        """Share of years with a good harvest, with any, and growth: the larger, the better."""
        good, share, growth = (
            float(self.odds[name].fillna(-1)) for name in ("good_share", "share", "growth")
        )
        return good, share, growth

    @property
    def works(self) -> bool:
        """Whether most years give a harvest, and half of them a good one."""
        good, share, _ = self.rank
        return share >= WORKS_WELL and good >= GOOD_ENOUGH


def sensible_plans(
    crop: Crop,
    daily: xr.Dataset,
    *,
    space: Cover | None = None,
    weeks: int | None = None,
    earliness: str | float = "main",
    bed: str | Bed = "bare",
) -> tuple[Plan, ...]:
    """Ways of growing a crop that are worth comparing, each at its best date.

    Dates and ways are chosen in the climate whose odds of a harvest lead, see `leading_climate`.

    Parameters
    ----------
    crop : Crop
        What is grown.
    daily : Dataset, dims (time)
        Needs ``tmin`` and ``tmax`` [degC], and its latitude.
    space : Cover, optional
        The gardener's own covered space, from `fit_cover`; the crop's usual one where left out.
    weeks : int, optional
        Under cover; else those of the crop's usual ones that do best.
    earliness : {"early", "main", "late"} or float
        Of all plans, see `Plan`.
    bed : str or Bed
        Of all plans, see `Plan`.

    Returns
    -------
    tuple of Plan
        Raised under cover, in place, and in place under fleece where that has clearly better odds,
        or as good ones a week or more earlier, on a date too early without it; a perennial has one
        way.

    Examples
    --------
    >>> import climwin as cw
    >>> daily = cw.read_daily(cw.sample())
    >>> space = cw.COVERS["unheated greenhouse"]
    >>> [plan.name for plan in cw.sensible_plans(cw.crop("potato"), daily, space=space)]
    ['planted in an unheated greenhouse 7 Apr', 'planted outdoors 29 Apr']
    """
    if crop.is_perennial:
        return (Plan(crop, "01-01"),)
    ahead = in_climate(daily, leading_climate(daily, "harvest"))
    sown = Plan(crop, "04-01", earliness=earliness, bed=bed)
    in_place = at_best_date(sown, ahead)
    fleeced = at_best_date(replace(sown, fleece_weeks=FLEECE_WEEKS), ahead)
    cover = usual_cover(crop) if space is None else space.name
    raised = [
        at_best_date(replace(sown, weeks_under_cover=each, cover=cover, space=space), ahead)
        for each in ([weeks] if weeks else _weeks_tried(crop))
    ]
    best_raised = best_of(try_plans(raised, ahead)).plan
    if _fleece_helps(in_place, fleeced, ahead):
        return best_raised, in_place, fleeced
    return best_raised, in_place


def _weeks_tried(crop: Crop) -> Sequence[int]:
    """Weeks under cover to choose from: the crop's own, where it is usually raised."""
    usual = crop.weeks_under_cover
    if usual is None:
        return WEEKS_TRIED
    return sorted({usual.fewest, usual.usual, usual.most})


def _fleece_helps(in_place: Plan, fleeced: Plan, daily: xr.Dataset) -> bool:
    """Whether fleece has clearly better odds: on its own date, a week or more before the other's.

    On a date that does as well without it, nobody would lay fleece.
    """
    without = replace(fleeced, fleece_weeks=0)
    bare, same_day, under = (each.odds for each in try_plans([in_place, without, fleeced], daily))
    days_earlier = (day_number(in_place.start) - day_number(fleeced.start)) % DAYS
    is_earlier = EARLIER_DAYS <= days_earlier <= DAYS // 2 and bool(under["share"] >= bare["low"])
    worst = float(bare["share"]) if not is_earlier else float(same_day["share"])
    return float(under["low"]) > worst


def try_plans(plans: Iterable[Plan], daily: xr.Dataset) -> list[Tried]:
    """Each plan with its odds of a harvest by a history, in the climate that it is of."""
    return [Tried(plan, harvest_odds(evaluate_plan(plan, daily))) for plan in plans]


def best_of(tried: Sequence[Tried]) -> Tried:
    """The way with most good harvests; if equal, with most harvests, then with most growth."""
    if not tried:
        msg = "There is no plan to choose from, got none."
        raise InputError(msg)
    return max(tried, key=lambda each: each.rank)


def mends(tried: Sequence[Tried], daily: xr.Dataset) -> list[Tried]:
    """Changes that would make a crop work if none of its ways works well, the best first.

    Parameters
    ----------
    tried : sequence of Tried
        The ways as they stand, from `try_plans`.
    daily : Dataset, dims (time)
        The same history, in the same climate.

    Returns
    -------
    list of Tried
        Heat in the covered space, up to what keeps the plants alive; an earlier variety; plants
        raised in a warm room instead: each at its best date, where it adds ten points or more to
        the share of good harvests of the best way. Empty where that works well, and for perennials.
    """
    best = best_of(tried)
    if best.works or best.plan.crop.is_perennial:
        return []
    raised = [each for each in tried if each.plan.weeks_under_cover]
    changed = [(replace(best.plan, earliness="early"), "early variety")]
    if raised:
        plan = best_of(raised).plan
        heated = replace(
            plan.covered_by, floor_c=plan.crop.stage().cold.killed_at_c + HEAT_MARGIN_C
        )
        if plan.covered_by.floor_c is None and plan.cover not in (OUTDOORS, "room with lights"):
            changed.append((replace(plan, cover=heated.name, space=heated), "heat"))
        if plan.cover != "room with lights":
            warm = replace(plan, cover="room with lights", space=None)
            changed.append((warm, "warm room"))
    at_best = ((at_best_date(plan, daily), change) for plan, change in changed)
    found = [
        Tried(plan, harvest_odds(evaluate_plan(plan, daily)), change) for plan, change in at_best
    ]
    worth = [each for each in found if each.rank[0] >= best.rank[0] + WORTH - 1e-9]
    return sorted(worth, key=lambda each: each.rank, reverse=True)
