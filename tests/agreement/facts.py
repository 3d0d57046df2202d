"""Facts of the trade as checks of the model (common practice).

Every gardener of a cold continental place or of a mild coast knows them; a model that breaks one is
wrong whatever its scores.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from functools import cache

import numpy as np
from agreement import model, records
from agreement.calendars import LIKELY, mean_share
from agreement.dates import DAYS, Window, name_of, on_circle
from agreement.usual import best_start

CONTINENTAL = "Albany_NY"
"""Cold continental: nights of -25 degC in winter, last frost in early May, warm summers."""
HOT_SUMMERS = "Clemson_SC"
"""Summer days of 32 degC and nights of 20 degC from late June to late August."""
LONG_SPRINGS = ("PrinceGeorge_BC", "Dublin_IE")
"""Where the weeks after the thaw are cool enough for cloves planted in spring to split."""
MILD_COASTS = ("Dublin_IE", "WilliamHead_BC")
"""Winters that hardly freeze; summer days of 19 degC at Dublin, of 21 degC at William Head."""
LAST_FROST_DAYS = 21
"""Potatoes are planted two to three weeks after the last frost at the latest."""
SLACK_C = 0.05
"""Whole degF are stored as rounded tenths of degC."""


@dataclass(frozen=True)
class Fact:
    """A fact of the trade, what the model says, and whether that agrees."""

    name: str
    told: str
    met: bool


def fahrenheit(degrees: float) -> float:
    """A temperature in degF as degC."""
    return (degrees - 32) / 1.8


@cache
def facts() -> tuple[Fact, ...]:
    """All facts."""
    return tuple(fact for check in CHECKS for fact in check())


# --- odds ---------------------------------------------------------------------------------


def _odds(place: str, crop: str, method: str, first: str, last: str) -> float:
    days = Window.published(first, last).days()
    return mean_share(model.sweep(place, crop, method).share[days - 1])


def _peas() -> Iterator[Fact]:
    odds = _odds(CONTINENTAL, "pea", "sown", "04-11", "04-20")
    yield Fact("Albany: peas sown in mid April crop", f"odds {odds:.2f}", odds >= LIKELY)
    touched = _touched("pea", "sown", "04-11", "04-20")
    yield Fact("Albany: peas are recommended from mid April", *touched)


def _garlic() -> Iterator[Fact]:
    odds = _odds(CONTINENTAL, "garlic", "sown", "10-01", "10-31")
    yield Fact("Albany: garlic planted in October crops", f"odds {odds:.2f}", odds >= LIKELY)
    touched = _touched("garlic", "sown", "10-01", "10-31")
    yield Fact("Albany: garlic is recommended for October", *touched)
    summer = _odds(CONTINENTAL, "garlic", "sown", "06-15", "06-30")
    name = "Albany: garlic planted in late June does not crop"
    yield Fact(name, f"odds {summer:.2f}", summer < 0.5)


def _garlic_in_spring() -> Iterator[Fact]:
    for place in LONG_SPRINGS:
        crop = model.sweep(place, "garlic", "sown").expected_crop
        seasons = (("09-15", "11-30"), ("02-01", "05-31"))
        days = (Window.published(*season).days() - 1 for season in seasons)
        autumn, spring = (float(np.nanmax(crop[each])) for each in days)
        share = spring / autumn if autumn else np.inf
        name = f"{place}: garlic planted in autumn makes a larger crop than in spring"
        yield Fact(name, f"in spring {share:.2f} of it", share < 1)


def _touched(
    crop: str, method: str, first: str, last: str, place: str = CONTINENTAL
) -> tuple[str, bool]:
    """The recommended spans of a crop at a place, and whether one meets a window."""
    window = Window.published(first, last)
    spans = [Window(span.first, span.last) for span in model.spans(place, crop, method)]
    text = "; ".join(map(str, spans)) or "no date recommended"
    return text, any(window.overlap(span) for span in spans)


def _tomatoes() -> Iterator[Fact]:
    odds = _odds(CONTINENTAL, "tomato", "transplanted", "05-21", "05-31")
    name = "Albany: tomatoes set out in late May crop nearly every year"
    yield Fact(name, f"odds {odds:.2f}", odds >= 0.9)


# --- hot summers --------------------------------------------------------------------------


def _in_hot_summers() -> Iterator[Fact]:
    odds = _odds(HOT_SUMMERS, "lettuce", "sown", "06-21", "07-20")
    yield Fact("Clemson: lettuce sown around July bolts", f"odds {odds:.2f}", odds < 0.5)
    touched = _touched("lettuce", "sown", "08-15", "09-15", HOT_SUMMERS)
    yield Fact("Clemson: lettuce is recommended from late August", *touched)
    told, touches = _touched("potato", "sown", "05-21", "06-30", HOT_SUMMERS)
    yield Fact("Clemson: potatoes are not recommended from late May on", told, not touches)


# --- a mild coast -------------------------------------------------------------------------


def _peppers() -> Iterator[Fact]:
    for place in MILD_COASTS:
        _, best, odds = best_start(place, "sweet pepper")
        told = f"odds {odds:.2f} on the best date, {name_of(best)}"
        yield Fact(f"{place}: sweet peppers do not ripen outdoors", told, odds < 0.5)


def _lettuce() -> Iterator[Fact]:
    for place in MILD_COASTS:
        days = days_standing(model.sweep(place, "lettuce", "sown"))
        name = f"{place}: lettuce grows for nine months of the year"
        yield Fact(name, f"{days} days", days >= 0.75 * DAYS)


def days_standing(swept: model.Sweep) -> int:
    """Days of the year on which a sowing with odds of `LIKELY` or more stands in the bed."""
    standing = np.zeros(DAYS, bool)
    for start in np.flatnonzero(swept.share >= LIKELY):
        wait = min(int(swept.days_to_harvest[start]), DAYS - 1)
        standing[(start + np.arange(wait + 1)) % DAYS] = True
    return int(standing.sum())


# --- potatoes -----------------------------------------------------------------------------


def _potatoes() -> Iterator[Fact]:
    """Planted where the soil has 45 to 55 degF, in spring."""
    first, last = (model.soil_reaches(CONTINENTAL, fahrenheit(f)) for f in (45, 55))
    planting = Window(first, max(first, last))
    odds = mean_share(model.sweep(CONTINENTAL, "potato", "sown").share[planting.days() - 1])
    name = "Albany: potatoes planted in soil of 45 to 55 degF crop"
    yield Fact(name, f"{planting}: odds {odds:.2f}", odds >= LIKELY)
    yield from _potatoes_recommended()
    day = int(on_circle((planting.first + planting.last) // 2))
    life = model.life(CONTINENTAL, "potato", "sown", day)
    begun = f"planted {name_of(day)}"
    up, ripe = life.days_to_emergence, life.days_to_harvest
    name = "Albany: potatoes are up two to four weeks after planting"
    yield Fact(name, f"{begun}: {up:.0f} days", 14 <= up <= 28)
    name = "Albany: potatoes are mature 90 to 120 days after planting"
    yield Fact(name, f"{begun}: {ripe:.0f} days", 90 <= ripe <= 120)
    cold = model.response_at("potato", fahrenheit(40))
    name = "potatoes struggle at 40 degF: a quarter of full growth at most"
    yield Fact(name, f"{cold:.2f} of full growth", cold <= 0.25)
    damaged, killed = model.cold_limits("potato")
    name = "potato leaves survive to about 30 degF: alive there, harmed at 28 degF"
    told = f"harmed at {damaged:.1f}, killed at {killed:.1f} degC"
    yield Fact(
        name, told, killed <= fahrenheit(30) + SLACK_C and damaged >= fahrenheit(28) - SLACK_C
    )


def _potatoes_recommended() -> Iterator[Fact]:
    latest = records.usual_last_frost(CONTINENTAL) + LAST_FROST_DAYS
    spans = [span for span in model.spans(CONTINENTAL, "potato", "sown") if span.first <= 200]
    told = "; ".join(f"from {name_of(span.first)}, best {name_of(span.best)}" for span in spans)
    told = told or "no spring date recommended"
    first = min((span.first for span in spans), default=DAYS)
    best = min((span.best for span in spans), default=DAYS)
    told = f"{told}; latest {name_of(latest)}"
    by = "by three weeks after the last frost"
    yield Fact(f"Albany: potatoes are recommended {by}", told, first <= latest)
    yield Fact(f"Albany: the best spring date for potatoes is {by}", told, best <= latest)


CHECKS: tuple[Callable[[], Iterator[Fact]], ...] = (
    _peas,
    _garlic,
    _garlic_in_spring,
    _tomatoes,
    _peppers,
    _lettuce,
    _in_hot_summers,
    _potatoes,
)
