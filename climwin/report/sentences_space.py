"""Sentences on a covered space: from when it is warm enough, and what would help."""

from __future__ import annotations

import math

import numpy as np
import xarray as xr

from climwin.core.formatting import number, temperature, years
from climwin.core.schema import Units
from climwin.report.sentences_decision import month_name, on_day
from climwin.shelter.verdict import OFTEN, SELDOM, heat_to

_LEVEL_C = 0.5
"""A mean less than this below the limit counts as reaching it (common practice). [degC]"""


def verdict(found: xr.Dataset, units: Units = "C", *, name: str = "the space") -> list[str]:
    """From when a covered space serves for young plants, and in which months it does not.

    Parameters
    ----------
    found : Dataset, dims (month)
        From `space_verdict`.
    units : {"C", "F"}
        Of the temperatures.
    name : str
        What to call the space.

    Returns
    -------
    list of str
        A sentence on the cold, one on growth where the plants would stand still, and one on heat
        where it scorches them. Where the logger's days are in doubt only that they are; where its
        clock is, that first.
    """
    plants = f"young {found.attrs['crop']} plants"
    doubt = found.attrs.get("days_in_doubt", "")
    if doubt == "dates":
        return [not_told(name, plants)]
    condition = [only_if_clock(name)] if doubt == "clock" else []
    return [*condition, *_cold(found, units, name, plants), *_slow(found, units), *_hot(found)]


def not_told(name: str, plants: str) -> str:
    """Note that a logger's days may be others than those outdoors, so that no verdict is given."""
    return (
        f"Whether {name} is warm enough for {plants} is not told: its logger's days do not match "
        "those of the record. Correct its dates, or give the record of its place."
    )


def only_if_clock(name: str) -> str:
    """Note that a verdict rests on a clock that may be wrong."""
    return f"What is said of {name} holds only if its logger's clock is right."


def _cold(found: xr.Dataset, units: Units, name: str, plants: str) -> list[str]:
    safe = float(found["safe_from"])
    worst = _worst(found, "cold")
    if not np.isfinite(found["cold_share"].values).any():
        return [
            f"Whether {name} is warm enough for {plants} is unknown: the record lacks its nights."
        ]
    if safe == 0:
        text = f"For {plants} {name} is warm enough all winter in nine years of ten"
    elif math.isnan(safe):
        text = f"For {plants} {name} is not warm enough in any month in nine years of ten"
    else:
        text = f"For {plants} {name} is good enough from {on_day(safe)} in nine years of ten"
    if not worst:
        return [f"{text}."]
    heat = temperature(heat_to(float(found["heat"]), units), units)
    return [f"{text}; it is too cold {worst}. Heat to {heat} would keep them alive."]


def _worst(found: xr.Dataset, side: str) -> str:
    """When many years have such a day, and the count of the worst month."""
    share, known = found[f"{side}_share"].values, found[f"{side}_known"].values
    risky = [n for n in _in_season(share) if share[n] > SELDOM]
    if not risky:
        return ""
    worst = max(risky, key=lambda n: share[n])
    count = f"{number(share[worst] * known[worst])} of {years(int(known[worst]))}"
    if len(risky) == 1:
        return f"in {month_name(worst + 1)} in {count}"
    return f"{_months(risky)} (in {month_name(worst + 1)} in {count})"


def _months(numbers: list[int]) -> str:
    """When some months that follow each other are, counted from 0."""
    if len(numbers) == 12:
        return "all year"
    first, last = (month_name(numbers[end] + 1) for end in (0, -1))
    return f"in {first}" if first == last else f"from {first} to {last}"


def _in_season(risk: np.ndarray) -> list[int]:
    """The months, counted from 0, in the order of the year that has the worst in its middle."""
    worst = int(np.nanargmax(risk)) if np.isfinite(risk).any() else 0
    return [(worst + 6 + n) % 12 for n in range(12)]


def _slow(found: xr.Dataset, units: Units) -> list[str]:
    """Note that plants survive but hardly grow."""
    limit, mean = float(found.attrs["grows_from_c"]), found["mean"].values
    lives = found["cold_share"].values <= OFTEN
    still = [n for n in _in_season(-mean) if lives[n] and mean[n] < limit - _LEVEL_C]
    if not still:
        return []
    coldest = min(still, key=lambda n: mean[n])
    return [
        f"Where it does not kill them, they hardly grow there {_months(still)}: a middling "
        f"{month_name(coldest + 1)} has {temperature(mean[coldest], units)} inside, and "
        f"{found.attrs['crop']} begins to grow at {temperature(limit, units)}."
    ]


def _hot(found: xr.Dataset) -> list[str]:
    worst = _worst(found, "hot")
    return [f"On bright days it is too hot {worst}: open it."] if worst else []
