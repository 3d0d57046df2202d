"""The model held against published planting calendars.

A *group* is a place, a crop and a way of starting it; its windows are those that calendars give for
it there, each counted once however many calendars give it. Only rows that somebody read are scored
(`how` is ``read``), not those recalled from memory.
"""

from __future__ import annotations

import csv
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from functools import cache

import numpy as np
from agreement import model, records
from agreement.dates import Window, best_day, far_from, name_of, smoothed

CALENDARS = records.SHARED / "reference" / "planting" / "calendars.csv"
GARDEN_LISTS = ("Cornell Cooperative Extension", "Clemson University Extension")
"""Beginnings of the sources that list vegetables, among those that name soybeans."""
LIKELY = 0.8
"""Odds from which a harvest counts as told."""
GRACE_DAYS = 10
"""The best date may lie this far outside a window: windows are published by thirds of a month."""
FAR_DAYS = 21
"""Days further than this from every window should not be told, although no calendar calls them
wrong: many list one season only, or one end."""


# --- what is published --------------------------------------------------------------------


@dataclass(frozen=True)
class Group:
    """Published windows of a crop started in one way at one place."""

    place: str
    crop: str
    method: str
    windows: tuple[Window, ...]

    @property
    def half(self) -> str:
        """Half of the places, ``"A"`` or ``"B"``."""
        return records.half(self.place)

    @property
    def both_ends(self) -> bool:
        """Whether a calendar gives both ends of one of its windows."""
        return any(window.both_ends for window in self.windows)

    def __str__(self) -> str:
        return f"{self.place}, {self.crop}, {self.method}"


@cache
def published() -> tuple[tuple[Group, ...], dict[str, int]]:
    """All groups that can be scored, and how many rows were left aside for which reason."""
    windows: dict[tuple[str, str, str], list[Window]] = {}
    left_aside: dict[str, int] = {}
    with CALENDARS.open(encoding="utf-8") as file:
        for row in csv.DictReader(file):
            why = _why_not(row)
            if why:
                left_aside[why] = left_aside.get(why, 0) + 1
                continue
            window = Window.published(row["earliest"], row["latest"])
            group = windows.setdefault((row["place"], crop_of(row), row["method"]), [])
            if window not in group:
                group.append(window)
    # Place by place, so that what the model prepares for a record serves all its crops.
    groups = (Group(*key, tuple(windows[key])) for key in windows)
    return tuple(sorted(groups, key=lambda group: group.place)), left_aside


def crop_of(row: dict[str, str]) -> str:
    """The catalogue's crop that a row means: soybeans in lists for gardens are picked green."""
    if row["crop"] == "soybean" and row["source"].startswith(GARDEN_LISTS):
        return "vegetable soybean"
    return row["crop"]


def _why_not(row: dict[str, str]) -> str:
    """Why a row is not scored; empty if it is."""
    if row["how"] != "read":
        return "recalled from memory"
    if row["place"] not in records.PLACES:
        return "no daily record of the place"
    if not model.is_annual(row["crop"]):
        return "stands for years: no start to choose"
    return ""


# --- scores -------------------------------------------------------------------------------


@dataclass(frozen=True)
class WindowScore:
    """What the model says of one published window.

    Parameters
    ----------
    told : float
        Odds of a harvest, mean over the middle half of the window.
    reason : str
        What fails most of the years that fail there.
    span : Span or None
        Of the recommended spans the one that shares most days with the window.
    covered, covered_by_all : float
        Share of the window's days that lie in that span; that lie in any recommended span.
    best_inside : bool
        Whether the span's best date lies in the window, give or take `GRACE_DAYS`.
    """

    window: Window
    told: float
    reason: str
    span: model.Span | None
    covered: float
    covered_by_all: float
    best_inside: bool


@dataclass(frozen=True)
class GroupScore:
    """What the model says of a group.

    Parameters
    ----------
    windows : tuple of WindowScore
        Each of its windows.
    best : int
        Day of the year with the highest expected crop, smoothed over 15 days.
    best_inside : bool
        Whether it lies in one of the windows, give or take `GRACE_DAYS`.
    worth_inside : float
        Highest expected crop in the windows as a share of the year's highest, both smoothed.
    far_days, far_told : int
        Days more than `FAR_DAYS` outside all windows; those with odds of `LIKELY` or more.
    """

    group: Group
    windows: tuple[WindowScore, ...]
    best: int
    best_inside: bool
    worth_inside: float
    far_days: int
    far_told: int

    @property
    def told(self) -> float:
        """Mean of the windows' odds."""
        return float(np.mean([window.told for window in self.windows]))

    @property
    def far_share(self) -> float:
        """Share of the far days that are told; 0 where there are no far days."""
        return self.far_told / self.far_days if self.far_days else 0.0


def score(group: Group) -> GroupScore:
    """Ask the model about a group and compare."""
    swept = model.sweep(group.place, group.crop, group.method)
    spans = model.spans(group.place, group.crop, group.method)
    best = best_day(swept.expected_crop)
    worth = smoothed(swept.expected_crop)
    inside = np.concatenate([window.days() for window in group.windows]) - 1
    far = far_from(group.windows, FAR_DAYS)
    return GroupScore(
        group=group,
        windows=tuple(score_window(window, swept, spans) for window in group.windows),
        best=best,
        best_inside=any(window.distance(best) <= GRACE_DAYS for window in group.windows),
        worth_inside=float(worth[inside].max() / worth.max()) if worth.max() > 0 else 0.0,
        far_days=int(far.sum()),
        far_told=int((swept.share[far] >= LIKELY).sum()),
    )


def score_window(window: Window, swept: model.Sweep, spans: Sequence[model.Span]) -> WindowScore:
    """Compare one published window with a sweep and with the recommended spans."""
    middle = window.middle_half().days() - 1
    span = nearest_span(window, spans)
    recommended = [Window(each.first, each.last).days() for each in spans]
    in_any = np.isin(window.days(), np.concatenate([[], *recommended]))
    return WindowScore(
        window=window,
        told=mean_share(swept.share[middle]),
        reason=main_reason(swept, middle),
        span=span,
        covered=window.overlap(Window(span.first, span.last)) / len(window) if span else 0.0,
        covered_by_all=float(in_any.mean()),
        best_inside=span is not None and window.distance(span.best) <= GRACE_DAYS,
    )


def mean_share(shares: np.ndarray) -> float:
    """Mean over the days whose odds are known; 0 where none are."""
    known = shares[~np.isnan(shares)]
    return float(known.mean()) if len(known) else 0.0


def nearest_span(window: Window, spans: Sequence[model.Span]) -> model.Span | None:
    """The span that shares most days with the window, None if none shares any.

    Of several that share as many, the one whose best date lies nearest.
    """

    def nearness(span: model.Span) -> tuple[int, int]:
        return window.overlap(Window(span.first, span.last)), -window.distance(span.best)

    nearest = max(spans, key=nearness, default=None)
    return nearest if nearest and nearness(nearest)[0] else None


def main_reason(swept: model.Sweep, days: np.ndarray) -> str:
    """What fails most of the years that fail on some days (counted from 0); empty if none does."""
    shares = {why: mean_share(of[days]) for why, of in swept.failed_by.items()}
    why = max(shares, key=shares.__getitem__, default="")
    return why if shares.get(why, 0.0) > 0 else ""


@cache
def scores() -> tuple[GroupScore, ...]:
    """Scores of all groups."""
    return tuple(score(group) for group in published()[0])


# --- the summary --------------------------------------------------------------------------


@dataclass(frozen=True)
class Summary:
    """Shares over a set of groups, 0 to 1.

    Parameters
    ----------
    groups, windows : int
        How many.
    told : float
        Groups told with odds of `LIKELY` or more, by the mean of their windows.
    best_inside : float
        Groups whose best date of the year lies in a window.
    windows_told : float
        Windows told with odds of `LIKELY` or more.
    span_covers_half : float
        Windows of which one recommended span covers at least half.
    spans_cover_half : float
        The same of all recommended spans together: a window of six months lies in two seasons.
    span_best_inside : float
        Windows that hold the best date of that span.
    far : float
        Mean over groups of the share of far days that are told.
    far_pooled : float
        Far days told among the far days of all groups together.
    """

    groups: int
    windows: int
    told: float
    median_told: float
    best_inside: float
    windows_told: float
    span_covers_half: float
    spans_cover_half: float
    span_best_inside: float
    far: float
    far_pooled: float


def summary(scored: Iterable[GroupScore]) -> Summary:
    """Shares over some scores."""
    groups = list(scored)
    windows = [window for group in groups for window in group.windows]
    return Summary(
        groups=len(groups),
        windows=len(windows),
        told=_share(group.told >= LIKELY for group in groups),
        median_told=float(np.median([group.told for group in groups])),
        best_inside=_share(group.best_inside for group in groups),
        windows_told=_share(window.told >= LIKELY for window in windows),
        span_covers_half=_share(window.covered >= 0.5 for window in windows),
        spans_cover_half=_share(window.covered_by_all >= 0.5 for window in windows),
        span_best_inside=_share(window.best_inside for window in windows),
        far=float(np.mean([group.far_share for group in groups])),
        far_pooled=sum(group.far_told for group in groups)
        / max(sum(group.far_days for group in groups), 1),
    )


def _share(flags: Iterable[bool]) -> float:
    return float(np.mean(list(flags)))


def sets() -> dict[str, Callable[[Group], bool]]:
    """Sets of groups that the summary is made for, by name."""
    chosen: dict[str, Callable[[Group], bool]] = {
        "all places": lambda group: bool(group.place),
        "places with frost": lambda group: records.has_frost(group.place),
        "half A": lambda group: group.half == "A",
        "half A, both ends given": lambda group: group.half == "A" and group.both_ends,
        "half B": lambda group: group.half == "B",
        "half B, both ends given": lambda group: group.half == "B" and group.both_ends,
    }
    for place in sorted({group.place for group in published()[0]}):
        chosen[place] = lambda group, place=place: group.place == place
    return chosen


# --- misses -------------------------------------------------------------------------------


@dataclass(frozen=True)
class Miss:
    """One way in which the model disagrees with a calendar."""

    kind: str
    place: str
    crop: str
    method: str
    window: str
    told: str
    reason: str


MISS_KINDS = ("told too low", "best date outside", "span covers too little", "far days told")


def misses(scored: Iterable[GroupScore]) -> list[Miss]:
    """Every miss, by kind and place."""
    found = [miss for group in scored for miss in _misses_of(group)]
    return sorted(found, key=lambda miss: (MISS_KINDS.index(miss.kind), miss.place, miss.crop))


def _misses_of(scored: GroupScore) -> list[Miss]:
    group = scored.group
    name = (group.place, group.crop, group.method)
    windows = "; ".join(map(str, group.windows))
    found = []
    for each in scored.windows:
        if each.told < LIKELY:
            told = f"odds {each.told:.2f}"
            found.append(Miss("told too low", *name, str(each.window), told, each.reason))
        if each.covered < 0.5:
            told = _span_text(each.span)
            why = f"covers {each.covered:.0%}; odds in the window {each.told:.2f}"
            why += f", {each.reason}" if each.told < LIKELY else ""
            found.append(Miss("span covers too little", *name, str(each.window), told, why))
    if not scored.best_inside:
        away = min(window.distance(scored.best) for window in group.windows)
        told = f"best {name_of(scored.best)}, {away} days outside"
        why = f"expected crop in the windows up to {scored.worth_inside:.0%} of the best"
        found.append(Miss("best date outside", *name, windows, told, why))
    if scored.far_share > 0.2 and records.has_frost(group.place):
        told = f"{scored.far_share:.0%} of {scored.far_days} far days"
        found.append(Miss("far days told", *name, windows, told, _one_season(group)))
    return found


def _span_text(span: model.Span | None) -> str:
    if span is None:
        return "no span touches it"
    return f"{Window(span.first, span.last)}, best {name_of(span.best)}"


def _one_season(group: Group) -> str:
    """Why the far days of a group may be right all the same."""
    if len(group.windows) == 1:
        one = group.windows[0]
        return "one window published" + ("" if one.both_ends else ", with one end")
    return f"{len(group.windows)} windows published"
