"""The state of a live panel, as plain values that JSON can carry, and what they mean in Python.

- ``crop``: name of the crop
- ``limits``: low and high of the window's band where they were moved, else None [degC]
- ``killed``: night that kills it young, where that was moved, else None [degC]
- ``need``: days needed of a window where they were moved, else None
- ``window``: kind of window that is shown, ``""`` for the one that the first plan aims at
- ``units``: unit of the temperatures shown, ``"C"`` or ``"F"``
- ``date``: day of the year that is read
- ``threshold``: night that counts as a freeze [degC]
- ``years``: first and last year that count
- ``ways``: the two ways of growing, see `way_of`
- ``starts``: start day of each, None for its best date
- ``inside``: stage grown under cover, ``""`` for the first one
- ``hot``: temperature that scorches under cover [degC]
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from types import MappingProxyType
from typing import Any

import xarray as xr

from climwin.core.errors import DataGapError, InputError, Parameter
from climwin.core.formatting import as_typed
from climwin.core.schema import Garden, Units, check_choice
from climwin.core.seasons import DAYS, day_name, day_number
from climwin.crops.bands import bearable_band
from climwin.crops.model import Crop, Limits
from climwin.planning.plan import OUTDOORS, Plan, usual_cover
from climwin.shelter.covers import COVERS, Cover
from climwin.shelter.risk import HOT_C
from climwin.widgets.payload import PERENNIAL_START

BY_HAND = "moved by hand in the panel"
"""Source of a limit that is not the crop's own."""

State = dict[str, Any]

Spaces = Mapping[str, Cover]
"""Covered spaces of the gardener's own by name, as a state refers to them."""

NO_SPACES: Spaces = MappingProxyType({})


def first_state(crop: Crop, years: tuple[int, int], units: Units) -> State:
    """State of a panel before anything is moved.

    Raises
    ------
    ValueError
        If the units are unknown.
    """
    check_choice("units", units, ("C", "F"))
    return {
        "crop": crop.name,
        "limits": None,
        "killed": None,
        "need": None,
        "window": "",
        "units": units,
        "date": day_number("05-01"),
        "threshold": 0.0,
        "years": list(years),
        "ways": usual_ways(crop),
        "starts": [None, None],
        "inside": "",
        "hot": HOT_C,
    }


def usual_ways(
    crop: Crop, covers: Sequence[str] | None = None, spaces: Spaces = NO_SPACES
) -> list[State]:
    """The two ways that a crop is first shown in: raised, where it usually is, and sown in place.

    Parameters
    ----------
    crop : Crop
        What is grown.
    covers : sequence of str, optional
        The cover of each, remembered even where no weeks are spent under it; the crop's usual one
        where left out.
    spaces : mapping
        The gardener's own, which a cover may be.
    """
    covers = [usual_cover(crop)] * 2 if covers is None else covers
    weeks = crop.weeks_under_cover
    usual = weeks.usual if weeks and not crop.is_perennial else 0
    plans = [
        Plan(
            crop,
            PERENNIAL_START,
            usual,
            covers[0] if usual else OUTDOORS,
            space=spaces.get(covers[0]) if usual else None,
        ),
        Plan(crop, PERENNIAL_START),
    ]
    return [way_of(plan, cover) for plan, cover in zip(plans, covers, strict=True)]


def covers_offered(spaces: Spaces) -> list[str]:
    """Covers to raise plants in: the gardener's own first, then the usual ones."""
    usual = (name for name in COVERS if name != OUTDOORS)
    return list(dict.fromkeys([*spaces, *usual]))


def way_of(plan: Plan, cover: str) -> State:
    """A plan without its crop and start; `cover` is remembered where it has no weeks under one."""
    return {
        "weeks": plan.weeks_under_cover,
        "cover": plan.cover if plan.weeks_under_cover else cover,
        "fleece": plan.fleece_weeks,
        "earliness": plan.earliness,
        "bed": plan.bed,
        "plants": plan.plants,
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
        msg = "The record has no days at all."
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


def with_killing_night(crop: Crop, killed: float | None) -> Crop:
    """A crop with another night that kills it young; the same crop for None.

    Raises
    ------
    ValueError
        If it is no temperature that a night can have.
    """
    if killed is None or killed == crop.killed_at_c:
        return crop
    first, *later = crop.stages
    damaged = max(first.cold.damaged_at_c, killed)
    cold = replace(first.cold, killed_at_c=killed, damaged_at_c=damaged, source=BY_HAND)
    return replace(crop, stages=(replace(first, cold=cold), *later))


def limits_of(crop: Crop, state: State) -> Limits:
    """Band of daily means that the window is laid on: the crop's own, or as it was moved."""
    if state["limits"] is None:
        return bearable_band(crop)
    low, high = state["limits"]
    return Limits(low_c=low, high_c=high, source=BY_HAND)


def checked_need(days: int) -> int:
    """Days that a crop needs, if it can be so many.

    Raises
    ------
    ValueError
        If they are not from 1 to 365.
    """
    if not 0 < days <= DAYS:
        msg = f" must lie between 1 and {DAYS}, got {days!r}."
        raise InputError(Parameter("need_days"), msg)
    return int(days)


def with_limits(state: State, crop: Crop, limits: Limits, killed: float) -> State:
    """State with the limits moved, `crop` being the one with those before.

    Raises
    ------
    ValueError
        If the night that kills is not colder than the band.
    """
    if not killed < limits.low_c:
        advice = (
            f" must lie below the band, which begins at {as_typed(limits.low_c)} degC, "
            f"got {as_typed(killed)}."
        )
        raise InputError(Parameter("killed_at"), advice)
    before = limits_of(crop, state)
    moved = dict(state)
    if (limits.low_c, limits.high_c) != (before.low_c, before.high_c):
        moved["limits"] = [limits.low_c, limits.high_c]
    if killed != crop.killed_at_c:
        moved["killed"] = killed
    return moved


# --- plans --------------------------------------------------------------------------------


def plan_of(crop: Crop, state: State, which: int, spaces: Spaces = NO_SPACES) -> Plan:
    """One of the two plans; where its start is the best date, on a date that plays no part."""
    way, start = state["ways"][which], state["starts"][which]
    return Plan(
        crop,
        PERENNIAL_START if start is None else day_name(start),
        weeks_under_cover=way["weeks"],
        cover=way["cover"] if way["weeks"] else OUTDOORS,
        fleece_weeks=way["fleece"],
        earliness=way["earliness"],
        bed=way["bed"],
        plants=way["plants"],
        space=spaces.get(way["cover"]) if way["weeks"] else None,
    )


def with_plan(state: State, which: int, plan: Plan) -> State:
    """State with one of the two plans set; a perennial has no start to choose."""
    starts, ways = list(state["starts"]), list(state["ways"])
    starts[which] = None if plan.crop.is_perennial else day_number(plan.start)
    ways[which] = way_of(plan, ways[which]["cover"])
    return {**state, "starts": starts, "ways": ways}
