"""The model held against what is really grown, what is called reliable, and when it is harvested.

``usual_dates.csv`` (growers' acreage and dates), ``outcomes.csv`` (what institutes and master
gardeners say of a crop at a place), ``harvest.csv`` (usual harvest periods).
"""

from __future__ import annotations

import csv
import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from functools import cache
from pathlib import Path

import numpy as np
from agreement import calendars, model, records
from agreement.dates import Window, best_day, name_of, on_circle

PLANTING = records.SHARED / "reference" / "planting"
GRACE_DAYS = 14
"""A harvest told may lie this far outside the usual period: many are given by months."""

Levels = tuple[float, float]
GROWN, NOT_GROWN, ANY = (0.8, 1.01), (0.0, 0.5), (0.0, 1.01)
CLAIMS: dict[str, Levels] = {
    "grown commercially": GROWN,
    "called reliable": GROWN,
    "not grown outdoors": NOT_GROWN,
    "called marginal": ANY,
    "grown in gardens": ANY,
}
"""Odds of a harvest that a claim asks for: at least the first, less than the second. The last two
claims ask for nothing; they are told for the reader."""
MARGINAL_BELOW = 0.8
"""Where statements about a crop at a place conflict and one calls it marginal, odds below this
agree with that one: what is marginal is not reliable."""


@dataclass(frozen=True)
class Claim:
    """What a source says of a crop at a place, and the odds the model tells.

    Parameters
    ----------
    claim : str
        One of `CLAIMS`.
    read : bool
        Whether somebody read the source; else it was recalled from memory.
    at : str
        The dates that the odds are for: the source's own, the model's best, or those of a plant
        that stands for years.
    odds : float
        Odds of a harvest.
    met : bool
        Whether they agree with the claim, or with another on the same crop and place.
    """

    place: str
    crop: str
    method: str
    claim: str
    read: bool
    at: str
    odds: float
    met: bool


@dataclass(frozen=True)
class Harvest:
    """A usual harvest period and the harvests that the model tells.

    Parameters
    ----------
    planted : str
        Where the planting dates come from.
    told : tuple of int
        Median day of the first harvest, one for each planting window.
    met : bool
        Whether one of them lies in the period, give or take `GRACE_DAYS`.
    all_met : bool
        Whether all of them do.
    """

    place: str
    crop: str
    method: str
    period: Window
    planted: str
    told: tuple[int, ...]
    met: bool
    all_met: bool


# --- rows ---------------------------------------------------------------------------------


def rows(name: str) -> Iterator[dict[str, str]]:
    """Rows of a file whose place has a daily record; ``place`` becomes the record's name.

    Some name a region and the record that stands for it: ``New York (Albany_NY)``.
    """
    with Path(PLANTING / name).open(encoding="utf-8") as file:
        for row in csv.DictReader(file):
            place = record_of(row["place"])
            if place:
                yield row | {"place": place}


def record_of(place: str) -> str:
    """Name of the record that stands for a place, empty where there is none."""
    named = re.search(r"\((\w+)\)$", place)
    name = named.group(1) if named else place
    return name if name in records.PLACES else ""


def method_of(row: dict[str, str]) -> str:
    """How a row's crop is started, as its column or its note says; empty where neither does."""
    if row.get("method"):
        return row["method"]
    note = row["note"]
    if note.startswith("sown"):
        return "sown"
    return "transplanted" if "set out" in note or "started indoors" in note else ""


def period(row: dict[str, str], what: str) -> Window | None:
    """The window ``what_begin`` to ``what_end`` of a row, None unless both ends are given."""
    begin, end = row[f"{what}_begin"], row[f"{what}_end"]
    return Window.published(begin, end) if begin and end else None


# --- claims -------------------------------------------------------------------------------

STATEMENTS = {
    "reliable": "called reliable",
    "marginal": "called marginal",
    "not outdoors": "not grown outdoors",
}
COMMERCIAL = {
    "yes": "grown commercially",
    "no": "not grown outdoors",
    "not said": "grown in gardens",
}


@cache
def claims() -> tuple[Claim, ...]:
    """Every claim about a crop at a place that has a record."""
    found = [_claim(row, COMMERCIAL[row["commercially_grown"]]) for row in rows("usual_dates.csv")]
    found += [_claim(row, STATEMENTS[row["statement"]]) for row in rows("outcomes.csv")]
    return tuple(settle(found))


def _claim(row: dict[str, str], claim: str) -> Claim:
    place, crop = row["place"], row["crop"]
    read = row["how"] == "read"
    if not model.is_annual(crop):
        odds = model.standing(place, crop).share
        return Claim(place, crop, "", claim, read, "stands for years", odds, agrees(claim, odds))
    planting = period(row, "planting") if "planting_begin" in row else None
    if planting:
        method = method_of(row) or model.usual_method(crop)
        days = planting.middle_half().days() - 1
        at, odds = str(planting), calendars.mean_share(model.sweep(place, crop, method).share[days])
    else:
        method, best, odds = best_start(place, crop, method_of(row))
        at = f"best date {name_of(best)}" if odds else "best date: none crops"
    return Claim(place, crop, method, claim, read, at, odds, agrees(claim, odds))


def best_start(place: str, crop: str, method: str = "") -> tuple[str, int, float]:
    """Way of starting, best date, and its odds; the likeliest way where none is given."""
    ways = []
    for way in (method,) if method else model.methods(crop):
        swept = model.sweep(place, crop, way)
        best = best_day(swept.expected_crop)
        ways.append((way, best, float(np.nan_to_num(swept.share[best - 1]))))
    return max(ways, key=lambda way: way[2])


def agrees(claim: str, odds: float) -> bool:
    """Whether odds lie in what a claim asks for."""
    least, below = CLAIMS[claim]
    return least <= odds < below


def settle(found: Sequence[Claim]) -> list[Claim]:
    """Claims that conflict with another on the same crop and place count as met if either is."""
    return [replace(claim, met=claim.met or _other_met(claim, found)) for claim in found]


def _other_met(claim: Claim, found: Sequence[Claim]) -> bool:
    """Whether the odds of a claim agree with a different one on the same crop and place."""
    others = {
        other.claim
        for other in found
        if (other.place, other.crop) == (claim.place, claim.crop) and other.claim != claim.claim
    }
    if "called marginal" in others and claim.odds < MARGINAL_BELOW:
        return True
    return any(agrees(other, claim.odds) for other in others if CLAIMS[other] != ANY)


# --- harvests -----------------------------------------------------------------------------


@cache
def harvests() -> tuple[Harvest, ...]:
    """Every usual harvest period with both ends, at a place with a record, from what was read."""
    found = []
    for name in ("usual_dates.csv", "harvest.csv"):
        for row in rows(name):
            when = period(row, "harvest")
            if when and row["how"] == "read":
                found.append(_harvest(row, when))
    return tuple(found)


def _harvest(row: dict[str, str], when: Window) -> Harvest:
    place, crop = row["place"], row["crop"]
    if not model.is_annual(crop):
        day = model.standing(place, crop).harvest
        told = () if day is None else (day,)
        return compared(place, crop, "", when, "stands for years", told)
    method = method_of(row) or model.usual_method(crop)
    own = period(row, "planting") if "planting_begin" in row else None
    if own:
        planted, plantings = "the row's own dates", [(method, own)]
    else:
        planted, plantings = _plantings(place, crop, row.get("method", ""), method)
    told = tuple(
        day for how, window in plantings for day in first_harvests(place, crop, how, window)
    )
    return compared(place, crop, method, when, planted, told)


def compared(
    place: str, crop: str, method: str, when: Window, planted: str, told: tuple[int, ...]
) -> Harvest:
    """Harvests told beside a usual period."""
    inside = [when.distance(day) <= GRACE_DAYS for day in told]
    return Harvest(
        place, crop, method, when, planted, told, any(inside), bool(inside) and all(inside)
    )


def _plantings(
    place: str, crop: str, given: str, method: str
) -> tuple[str, list[tuple[str, Window]]]:
    """Planting windows for a harvest row without its own: a calendar's, else the model's."""
    published = [
        (group.method, window)
        for group in calendars.published()[0]
        if (group.place, group.crop) == (place, crop) and given in ("", group.method)
        for window in group.windows
    ]
    if published:
        return "a planting calendar", published
    spans = model.spans(place, crop, method)
    if spans:
        return "recommended dates", [(method, Window(span.first, span.last)) for span in spans]
    best = best_day(model.sweep(place, crop, method).expected_crop)
    return "the best date", [(method, Window(best, best))]


def first_harvests(place: str, crop: str, method: str, planting: Window) -> list[int]:
    """Median day of the first harvest from the middle half of a planting window; none if never."""
    days = planting.middle_half().days()
    waits = model.sweep(place, crop, method).days_to_harvest[days - 1]
    if np.isnan(waits).all():
        return []
    from_first = np.arange(len(days)) + waits  # counted on from the window's first middle day
    return [int(on_circle(int(days[0] + np.nanmedian(from_first))))]
