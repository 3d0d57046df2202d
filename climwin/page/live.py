"""Numbers for the page's live chart: every crop in its usual ways, begun on any day.

The page's own crop can be raised for other weeks too, in the gardener's own space where it is known
and under any usual cover. The chart is the notebook panel's own, see `climwin.widgets.payload`;
what the panel works out in the background, the page brings along.
"""

from __future__ import annotations

import base64
import gzip
import json
from collections.abc import Sequence
from dataclasses import replace
from typing import Any

from climwin.core.schema import Units
from climwin.crops.catalogue import crop, crop_names
from climwin.crops.model import Crop
from climwin.planning.plan import MOST_WEEKS, OUTDOORS, Plan
from climwin.report.garden import GardenReport, usual_plans
from climwin.widgets import payload
from climwin.widgets.payload import PERENNIAL_START
from climwin.widgets.state import (
    Spaces,
    State,
    covers_offered,
    first_state,
    plan_of,
    span_of,
    usual_ways,
    way_of,
    with_plan,
)

WEEKS_OF_OTHERS = (2, 4, 6, 8)
"""Weeks under cover that are offered of a crop that is usually started outdoors, where one of the
page's plans raises it (common practice)."""

_PLAIN = str.maketrans("&<>", ",./")
"""Letters of base85 that HTML would take for its own, and what stands for them."""


def numbers(report: GardenReport, units: Units) -> str:
    """All that the live chart needs, as JSON that is zipped and written as text, in base85.

    Parameters
    ----------
    report : GardenReport
        The chart opens on its crop, its need and its first two plans.
    units : {"C", "F"}
        Unit of the temperatures shown at first.
    """
    chosen = {name: crop(name) for name in crop_names()} | {report.crop.name: report.crop}
    state = _first(report, units)
    spaces = _spaces(report)
    states = [state, *(_afresh(state, each, spaces) for each in chosen.values())]
    record = payload.record_numbers(report.daily, report.garden.name)
    record["bands"] = [[_hundredths(t) for t in band] for band in record["bands"]]
    given = {
        "numbers": {
            "record": record,
            "crops": [payload.crop_numbers(each) for each in chosen.values()],
            "constants": {**payload.constants(), "covers": covers_offered(spaces)},
        },
        "state": state,
        "offered": {"crop": report.crop.name, "weeks": weeks_offered(report)},
        "plans": _outcomes(
            report, _plans_of(states, chosen, spaces) + _under_other_covers(report, spaces)
        ),
    }
    text = json.dumps(given, ensure_ascii=False, separators=(",", ":"), allow_nan=False)
    zipped = base64.b85encode(gzip.compress(text.encode(), 9, mtime=0)).decode("ascii")
    return zipped.translate(_PLAIN)


def _hundredths(temperature: float | None) -> float | None:
    """A temperature that is only shown, in hundredths."""
    return None if temperature is None else round(temperature, 2)


def _first(report: GardenReport, units: Units) -> State:
    state = first_state(report.crop, span_of(report.daily), units)
    for which, plan in enumerate(_two_plans(report)):
        state = with_plan(state, which, plan)
    state["need"] = report.given_need_days
    return state


def _spaces(report: GardenReport) -> Spaces:
    """The gardener's own covered spaces that plants are raised in, by name."""
    return {plan.cover: plan.space for plan in report.plans if plan.space is not None}


def _two_plans(report: GardenReport) -> list[Plan]:
    """The two plans of the chart: the page's first two, or its one and the crop's other way."""
    plans = report.plans
    if len(plans) > 1:
        return list(plans[:2])
    plan = plans[0] if plans else usual_plans(report.crop, report.daily)[-1]
    for other in usual_plans(report.crop, report.daily):
        if bool(other.weeks_under_cover) != bool(plan.weeks_under_cover):
            return [plan, other]
    return [plan, plan]  # the crop is grown in one way alone


def _afresh(state: State, grown: Crop, spaces: Spaces) -> State:
    """State after another crop was chosen in the chart."""
    ways = usual_ways(grown, [way["cover"] for way in state["ways"]], spaces)
    return {**state, "crop": grown.name, "ways": ways, "starts": [None, None]}


def _plans_of(states: list[State], chosen: dict[str, Crop], spaces: Spaces) -> list[Plan]:
    """The two plans of each state."""
    return [
        plan_of(chosen[each["crop"]], each, which, spaces) for each in states for which in (0, 1)
    ]


def weeks_offered(report: GardenReport) -> list[int]:
    """Weeks under cover that the page can answer for its own crop; none where nobody raises it.

    They are none, those of its plans, and the usual ones with a week more to either side; of a crop
    that is usually started outdoors, `WEEKS_OF_OTHERS`.
    """
    weeks = report.crop.weeks_under_cover
    own = {plan.weeks_under_cover for plan in _two_plans(report)}
    if report.crop.is_perennial or (weeks is None and not any(own)):
        return []
    usual: Sequence[int] = WEEKS_OF_OTHERS
    if weeks is not None:
        usual = range(max(weeks.fewest - 1, 1), min(weeks.most + 1, MOST_WEEKS) + 1)
    return sorted({0, *usual, *own})


def _under_other_covers(report: GardenReport, spaces: Spaces) -> list[Plan]:
    """The page's own plans, raised for each number of weeks that is offered, under each cover."""
    return [
        replace(
            plan,
            weeks_under_cover=weeks,
            cover=cover if weeks else OUTDOORS,
            plants="own",
            space=spaces.get(cover) if weeks else None,
        )
        for plan in _two_plans(report)
        for cover in covers_offered(spaces)  # one after another: few places' weather is kept
        for weeks in weeks_offered(report)
    ]


def _outcomes(report: GardenReport, plans: list[Plan]) -> dict[str, Any]:
    """Outcome of each different plan in every year, for each start day.

    In the climate whose odds lead, as in the page's own table of the ways. Of ``ways`` and of
    ``outcomes`` the columns: numbers of one kind beside each other zip a tenth smaller.
    """
    on_any_day = [replace(plan, start=PERENNIAL_START) for plan in plans]
    different = list(dict.fromkeys(on_any_day))
    outcomes = payload.outcomes(different, report.ahead.daily)
    ways = [{"crop": plan.crop.name, "way": way_of(plan, "")} for plan in different]
    return {"ways": _columns(ways), "outcomes": _columns(outcomes)}


def _columns(rows: Sequence[dict[str, Any]]) -> dict[str, list[Any]]:
    """What rows of the same names have under each name."""
    return {name: [row[name] for row in rows] for name in rows[0]}
