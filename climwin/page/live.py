"""Numbers for the page's live chart: every crop, both ways of growing it, begun on any day.

The chart is the notebook panel's own, see `climwin.widgets.payload`; what the panel works out in
the background, the page brings along.
"""

from __future__ import annotations

import base64
import gzip
import json
from dataclasses import replace
from typing import Any

from climwin.core.schema import Units
from climwin.crops.catalogue import crop, crop_names
from climwin.crops.model import Crop
from climwin.planning.plan import Plan
from climwin.report.garden import GardenReport, usual_plans
from climwin.widgets import payload
from climwin.widgets.payload import PERENNIAL_START
from climwin.widgets.state import State, first_state, plan_of, span_of, usual_ways, with_plan
from climwin.widgets.tasks import inputs_of


def numbers(report: GardenReport, units: Units) -> str:
    """All that the live chart needs, as packed text: gzip in base64.

    Parameters
    ----------
    report : GardenReport
        The chart opens on its crop, its need and its first two plans.
    units : {"C", "F"}
        Unit of the temperatures shown at first.
    """
    chosen = {name: crop(name) for name in crop_names()} | {report.crop.name: report.crop}
    state = _first(report, units)
    states = [state, *(_afresh(state, each) for each in chosen.values())]
    given = {
        "numbers": {
            "record": payload.record_numbers(report.daily, report.garden.name),
            "crops": [payload.crop_numbers(each) for each in chosen.values()],
            "constants": payload.constants(),
        },
        "state": state,
        "plans": _outcomes(report, states, chosen),
    }
    text = json.dumps(given, separators=(",", ":"), allow_nan=False)
    return base64.b64encode(gzip.compress(text.encode(), 9, mtime=0)).decode("ascii")


def _first(report: GardenReport, units: Units) -> State:
    state = first_state(report.crop, span_of(report.daily), units)
    for which, plan in enumerate(_two(report)):
        state = with_plan(state, which, plan)
    state["need"] = report.given_need_days
    return state


def _two(report: GardenReport) -> list[Plan]:
    """The first two plans; beside a single one the crop's other usual way, if it has one.

    The chart knows the usual covers alone: plans in a space of the gardener's own are left out.
    """
    plans = [plan for plan in report.plans if plan.space is None]
    if len(plans) > 1:
        return plans[:2]
    plan = plans[0] if plans else usual_plans(report.crop, report.daily)[-1]
    for other in usual_plans(report.crop, report.daily):
        if bool(other.weeks_under_cover) != bool(plan.weeks_under_cover):
            return [plan, other]
    return [plan, plan]  # the crop is grown in one way alone


def _afresh(state: State, grown: Crop) -> State:
    """State after another crop has been picked in the chart."""
    ways = usual_ways(grown, [way["cover"] for way in state["ways"]])
    return {**state, "crop": grown.name, "ways": ways, "starts": [None, None]}


def _outcomes(
    report: GardenReport, states: list[State], chosen: dict[str, Crop]
) -> list[dict[str, Any]]:
    """What became of the two plans of each state in every year, begun on any day."""
    plans = [
        replace(plan_of(chosen[each["crop"]], each, which), start=PERENNIAL_START)  # on any day
        for each in states
        for which in (0, 1)
    ]
    different = list(dict.fromkeys(plans))
    outcomes = dict(zip(different, payload.outcomes(different, report.daily), strict=True))
    return [
        # A crop that is grown in one way alone has it once.
        {"inputs": inputs_of("plans", state), "plans": [outcomes[plan] for plan in two]}
        for state, two in zip(states, _in_twos(plans), strict=True)
    ]


def _in_twos(plans: list[Plan]) -> list[list[Plan]]:
    """Plans two by two, and once where both are the same."""
    return [list(dict.fromkeys(plans[i : i + 2])) for i in range(0, len(plans), 2)]
