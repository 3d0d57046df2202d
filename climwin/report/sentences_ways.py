"""Sentences on ways of growing a crop: what to do, and what would make a poor one work."""

from __future__ import annotations

from collections.abc import Sequence

import xarray as xr

from climwin.core.formatting import counted, temperature
from climwin.core.schema import Units
from climwin.core.seasons import day_name, day_number
from climwin.core.wording import article
from climwin.crops.naming import plural
from climwin.planning.plan import Plan
from climwin.planning.ways import Tried, best_of
from climwin.report.sentences import best_run_of, harvests, years
from climwin.shelter.verdict import heat_to


def instruction(plan: Plan, swept: xr.Dataset) -> str:
    """What to do, as one says it to somebody: "sow it in place between 16 May and 20 Jun".

    Parameters
    ----------
    plan : Plan
        The way.
    swept : Dataset, dims (start_day)
        The same way by start date, from `sweep_start_dates`; a perennial has none.
    """
    if plan.crop.is_perennial:
        return "it is a perennial and comes up by itself"
    run = best_run_of(swept)
    if run is None:
        when = f"on {day_name(day_number(plan.start))}"
    elif run[0] == run[1]:
        when = f"on {day_name(run[0])}"
    else:
        when = f"between {day_name(run[0])} and {day_name(run[1])}"
    if plan.plants == "bought":
        text = f"set out bought plants {when}"
    elif plan.weeks_under_cover:
        where = (
            "under fleece" if plan.cover == "fleece" else f"in {article(plan.cover)} {plan.cover}"
        )
        verb = "start it" if plan.is_planted else "sow it"
        weeks = counted(plan.weeks_under_cover, "week")
        text = f"{verb} {where} {when}, and set it out {weeks} later"
    elif plan.is_planted:
        text = f"plant it in place {when}"
    else:
        text = f"sow it in place {when}"
    if plan.fleece_weeks:
        text += f", under fleece for {counted(plan.fleece_weeks, 'week')}"
    return text


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
        return [
            f"{begin} An early variety, heat for the young plants or a warm room for them would "
            "not change that. Choose a crop that suits the place."
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
