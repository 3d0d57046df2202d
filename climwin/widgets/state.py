"""The state of a live panel, as plain values that JSON can carry, and what they mean in Python.

- ``crop``: name of the crop
- ``stage``: name of the stage whose limits are shown, ``""`` for the whole crop
- ``limits``: limits that were moved, by stage, see `with_moved_limits`
- ``needs``: days needed where they were moved, by stage
- ``window``: kind of window that is shown, ``""`` for the one that the first plan aims at
- ``units``: unit of the temperatures shown, ``"C"`` or ``"F"``
- ``date``: day of the year that is read
- ``threshold``: night that counts as a freeze [degC]
- ``years``: first and last year that count
- ``ways``: the two ways of growing
- ``starts``: start day of each, None for its best date
- ``inside``: stage grown under cover, ``""`` for the first one above ground
- ``hot``: temperature that scorches under cover [degC]
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import Any

import xarray as xr

from climwin.core.schema import DataGapError, Garden, Units, check_choice
from climwin.core.seasons import DAYS, day_name, day_number
from climwin.crops.catalogue import Minimum
from climwin.crops.model import Crop, Limits, Stage
from climwin.planning.plan import OUTDOORS, Conditions, Plan
from climwin.shelter.risk import HOT_C

BY_HAND = "moved by hand in the panel"
"""Source of a limit that is not the crop's own."""

State = dict[str, Any]


def first_state(crop: Crop, years: tuple[int, int], units: Units) -> State:
    """State of a panel before anything is moved.

    Raises
    ------
    ValueError
        If the units are none.
    """
    check_choice("units", units, ("C", "F"))
    weeks = crop.weeks_under_cover
    return {
        "crop": crop.name,
        "stage": "",
        "limits": {},
        "needs": {},
        "window": "",
        "units": units,
        "date": day_number("05-01"),
        "threshold": 0.0,
        "years": list(years),
        "ways": [_way(n, "cold frame", 0, Conditions()) for n in (weeks.usual if weeks else 0, 0)],
        "starts": [None, None],
        "inside": "",
        "hot": HOT_C,
    }


def _way(weeks: int, cover: str, fleece: int, conditions: Conditions) -> State:
    """A way of growing, and what a year must give. The cover is named even where no weeks are."""
    return {
        "weeks": weeks,
        "cover": cover,
        "fleece": fleece,
        "share": conditions.share_in_band,
        "nights": conditions.killing_freezes,
        "warm_soil": conditions.warm_soil,
    }


def units_of(state: State) -> Units:
    """Unit of the temperatures shown."""
    return "F" if state["units"] == "F" else "C"


def garden_of(daily: xr.Dataset) -> Garden:
    """The place that a record is from, by what it says of itself."""
    name = str(daily.attrs.get("station_name") or daily.attrs.get("title") or "this place")
    latitude = float(daily.attrs.get("latitude", 0.0))
    longitude = float(daily.attrs.get("longitude", 0.0))
    return Garden(name, latitude, longitude, daily.attrs.get("elevation"))


def span_of(daily: xr.Dataset) -> tuple[int, int]:
    """First and last year of a record.

    Raises
    ------
    DataGapError
        If it has no day.
    """
    if not daily.sizes.get("time"):
        msg = "The record holds no day at all."
        raise DataGapError(msg)
    first, last = (int(str(daily["time"].values[end])[:4]) for end in (0, -1))
    return first, last


def within(daily: xr.Dataset, years: Sequence[int | None]) -> xr.Dataset:
    """The record from the first of two years to the last.

    Raises
    ------
    DataGapError
        If it has no day of these years; the text says which it has.
    """
    first, last = years
    begin, end = span_of(daily)
    if not (first and last and max(first, begin) <= min(last, end)):
        span = " to ".join("…" if year is None else str(year) for year in years)
        msg = f"No day of the years {span} is in the record; it runs from {begin} to {end}."
        raise DataGapError(msg)
    return daily.sel(time=slice(str(first), str(last)))


# --- crops --------------------------------------------------------------------------------


def with_moved_limits(crop: Crop, limits: Mapping[str, Sequence[float]]) -> Crop:
    """A crop with limits moved by hand.

    Parameters
    ----------
    crop : Crop
        As it is in its file.
    limits : mapping
        By stage above ground its low and high limit and the night that kills it; by ``""`` low and
        high of the whole crop's band. [degC]

    Raises
    ------
    ValueError
        If they are not in order.
    """
    stages = tuple(
        _with_moved_limits(stage, *limits[stage.name]) if stage.name in limits else stage
        for stage in crop.stages
    )
    band = _by_hand(*limits[""]) if "" in limits else crop.band
    return replace(crop, stages=stages, band=band)


def _with_moved_limits(stage: Stage, low: float, high: float, killed: float) -> Stage:
    """A stage with other limits. What it prefers is cut to them, or becomes them."""
    tolerates = _by_hand(low, high)
    prefers_low = max(stage.prefers.low_c, low)
    prefers_high = min(stage.prefers.high_c, high)
    prefers = tolerates
    if prefers_low < prefers_high:
        prefers = replace(stage.prefers, low_c=prefers_low, high_c=prefers_high)
    survives = Minimum(low_c=killed, source=BY_HAND)
    return replace(stage, tolerates=tolerates, prefers=prefers, survives=survives)


def _by_hand(low: float, high: float) -> Limits:
    return Limits(low_c=low, high_c=high, source=BY_HAND)


def limits_of(crop: Crop, stage_name: str) -> tuple[Limits, float]:
    """Limits of a stage, ``""`` for the whole crop, and the night that kills. [degC]."""
    if not stage_name:
        return crop.band, crop.killed_at_c
    stage = stage_of(crop, stage_name)
    return stage.tolerates, stage.survives.low_c


def need_of(crop: Crop, state: State) -> int:
    """Days that the panel counts as needed, by a stage or by the whole crop."""
    name = state["stage"]
    own = stage_of(crop, name).days.usual if name else crop.need_days
    return int(state["needs"].get(name, own))


def checked_need(days: int) -> int:
    """Days that a crop needs, if it can be so many.

    Raises
    ------
    ValueError
        If they are not from 1 to 365.
    """
    if not 0 < days <= DAYS:
        msg = f"need_days must lie between 1 and {DAYS}, got {days!r}."
        raise ValueError(msg)
    return int(days)


def stage_of(crop: Crop, name: str) -> Stage:
    """A stage above ground by name, the first where none is named.

    Raises
    ------
    ValueError
        If the crop has none of that name.
    """
    above = {stage.name: stage for stage in crop.stages if stage.place == "air"}
    chosen = name or next(iter(above), "")
    check_choice(f"stage of {crop.name}", chosen, above)
    return above[chosen]


def with_limits(state: State, crop: Crop, limits: Limits, killed: float) -> State:
    """State with the limits that are shown moved, `crop` being the one with those before.

    What kills the whole crop is what kills its first stage above ground.
    """
    low, high = limits.low_c, limits.high_c
    changed = dict(state["limits"])
    if state["stage"]:
        changed[state["stage"]] = [low, high, killed]
        return {**state, "limits": changed}
    if (low, high) != (crop.band.low_c, crop.band.high_c):
        changed[""] = [low, high]
    if killed != crop.killed_at_c:
        first = stage_of(crop, "")
        own = first.tolerates
        changed[first.name] = [max(own.low_c, killed), own.high_c, killed]
    return {**state, "limits": changed}


# --- plans --------------------------------------------------------------------------------


def plan_of(crop: Crop, state: State, which: int) -> Plan:
    """One of the two plans; where its start is the best date, on a date that plays no part."""
    way, start = state["ways"][which], state["starts"][which]
    conditions = Conditions(
        share_in_band=way["share"],
        killing_freezes=way["nights"],
        warm_soil=way["warm_soil"],
    )
    cover = way["cover"] if way["weeks"] else OUTDOORS
    return Plan(crop, day_name(start or 1), way["weeks"], cover, way["fleece"], conditions)


def with_plan(state: State, which: int, plan: Plan) -> State:
    """State with one of the two plans set; a crop that begins by itself has no start to choose."""
    cover = plan.cover if plan.weeks_under_cover else state["ways"][which]["cover"]
    starts, ways = list(state["starts"]), list(state["ways"])
    starts[which] = None if plan.crop.wakes else day_number(plan.start)
    ways[which] = _way(plan.weeks_under_cover, cover, plan.fleece_weeks, plan.conditions)
    return {**state, "starts": starts, "ways": ways}
