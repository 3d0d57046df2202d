"""Sentences on what would make a poor way of growing a crop work."""

from __future__ import annotations

from collections.abc import Sequence

from climwin.core.formatting import temperature
from climwin.core.schema import Units
from climwin.core.seasons import day_name, day_number
from climwin.crops.naming import is_plural, plural
from climwin.planning.ways import Tried, best_of
from climwin.report.sentences import harvests, years
from climwin.shelter.verdict import heat_to


def what_would_mend(tried: Sequence[Tried], mended: Sequence[Tried], units: Units) -> list[str]:
    """What would make a crop work where no way works well; empty where one does.

    Parameters
    ----------
    tried : sequence of Tried
        The ways as they stand, see `ways.try_plans`.
    mended : sequence of Tried
        From `ways.mends`.
    units : {"C", "F"}
        Of the temperatures.
    """
    best = best_of(tried)
    if best.works or best.plan.crop.is_perennial:
        return []
    crop = plural(best.plan.crop)
    begin = (
        f"No way of growing {crop} works well here: the best gives a good harvest in "
        f"{_good(best)}, and any harvest in {harvests(best.odds)}."
    )
    if not int(best.odds["harvested"]):
        begin = f"No way of growing {crop} gave a harvest here in any of {_known(best)}."
    if not mended:
        last = "Choose a crop that suits the place."
        if best.plan.crop.season == "warm":
            they = "they stay" if is_plural(best.plan.crop) else "it stays"
            last = (
                f"A greenhouse in which {they} until the harvest may do it, but is not tried here. "
                "Otherwise choose a crop that suits the place."
            )
        return [
            f"{begin} An early variety, heat for the young plants or a warm room for them would "
            f"not change that. {last}"
        ]
    changes = "; ".join(f"{_change(each, units)}, {_good(each)}" for each in mended)
    return [f"{begin} What would help, and the good harvests it would bring: {changes}."]


def _good(each: Tried) -> str:
    return f"{int(each.odds['good'])} of {_known(each)}"


def _known(each: Tried) -> str:
    return years(int(each.odds["known"]))


def _change(each: Tried, units: Units) -> str:
    start = day_name(day_number(each.plan.start))
    if each.change == "heat":
        floor = each.plan.covered_by.floor_c
        heat = temperature(heat_to(0.0 if floor is None else floor, units), units)
        return f"heat the {each.plan.cover} to {heat} and start on {start}"
    if each.change == "warm room":
        return f"raise the plants in a warm room with lights from {start}"
    return f"grow an early variety from {start}"
