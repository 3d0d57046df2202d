"""Each year's mild spell against what the crop needs of it."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from climwin.core.seasons import DAYS, day_name, day_number, day_of_year
from climwin.core.wording import say
from climwin.planning.plan import Plan
from climwin.report.garden import GardenReport


class Need(NamedTuple):
    """Days that a crop needs of a mild spell, and for which way of growing.

    Parameters
    ----------
    days : int
    way : str
        Such as ``"sown outdoors"``; empty where it holds for every way.
    since : str
        The day on which the crop is begun outdoors, such as ``"20 Apr"``; empty where ``way`` is.
    is_raised : bool
        Whether the plants come from under cover.
    is_set_out : bool
        Whether they are set out on that day, raised or bought. Days of what is sown or planted are
        counted from when it is up.
    """

    days: int
    way: str = ""
    since: str = ""
    is_raised: bool = False
    is_set_out: bool = False

    @property
    def label(self) -> str:
        """What is needed, for the line at it."""
        needed = say("days_needed", count=self.days)
        key = "needed_by_way" if self.is_set_out else "needed_once_up"
        return say(key, needed=needed, way=self.way, since=self.since) if self.way else needed


class Spells(NamedTuple):
    """The longest mild spell of each year against what the crop needs.

    Parameters
    ----------
    years : ndarray of int, shape (seasons,)
    length : ndarray, shape (seasons,)
        Days; of a year whose gaps hide the dates but settle the answer the least that it was, and
        missing where the answer itself is hidden.
    start : ndarray, shape (seasons,)
        Day on the axis, counted from its first; missing where a gap hides it, or there is none.
    zone : ndarray of int, shape (seasons,)
        0 too short either way, 1 long enough for the way with the shorter need, 2 for both, and -1
        hidden by a gap.
    needs : list of Need
        See `needs`.
    """

    years: np.ndarray
    length: np.ndarray
    start: np.ndarray
    zone: np.ndarray
    needs: list[Need]

    @property
    def counts(self) -> tuple[int, int, int]:
        """Years in each zone."""
        few, some, many = (int((self.zone == zone).sum()) for zone in (0, 1, 2))
        return few, some, many


def spells(report: GardenReport) -> Spells:
    """Sort the years of a report by the length of their mild spell."""
    window, ways = report.window, needs(report)
    lines = [ways[0].days, ways[-1].days]  # the same twice where there is one need
    least, most, length = (
        np.asarray(window[name].values, float) for name in ("length_least", "length_most", "length")
    )

    def zone_of(days: np.ndarray) -> np.ndarray:
        return np.where(days >= lines[1], 2, np.where(days >= lines[0], 1, 0))

    low, high = zone_of(least), zone_of(most)
    settled = (low == high) & np.isfinite(least) & np.isfinite(most)
    zone = np.where(settled, low, -1)
    dated = np.isfinite(length) & ~np.isnat(window["start"].values)
    filled = window["start"].fillna(np.datetime64("2001-01-01"))
    first_day = int(report.windows["first_day"])
    start = np.where(dated, (day_of_year(filled) - first_day) % DAYS, np.nan)
    return Spells(
        window["season"].values, np.where(np.isfinite(length), length, least), start, zone, ways
    )


def needs(report: GardenReport) -> list[Need]:
    """Days that the crop needs of a mild spell, and the way for which it holds: at most two.

    The shorter one comes first. A need given by hand holds for every way.
    """
    if report.given_need_days is not None:
        return [Need(report.given_need_days)]
    found: dict[str, Need] = {}
    for plan, days in zip(report.plans, report.needs, strict=True):
        way = _way_of_need(plan)
        is_raised = plan.plants == "own" and bool(plan.weeks_under_cover)
        is_set_out = is_raised or plan.plants == "bought"
        found.setdefault(way, Need(days, way, _since(plan), is_raised, is_set_out))
    two = sorted(list(found.values())[:2], key=lambda need: need.days)
    return two if len({need.days for need in two}) > 1 else [Need(report.need_days)]


def stands_through_winter(report: GardenReport) -> bool:
    """Whether the crop stands outdoors for so long that no mild spell could hold its life."""
    through = report.crop.winter is not None and report.need_days > DAYS / 2
    return through or report.crop.is_perennial


def _way_of_need(plan: Plan) -> str:
    if plan.plants == "own" and plan.weeks_under_cover:
        return say("after_cover", count=plan.weeks_under_cover)
    if plan.crop.is_perennial:
        return ""
    if plan.plants == "bought":
        return say("set_out_bought")
    if plan.is_planted:
        return say("planted_under_fleece" if plan.fleece_weeks else "planted_outdoors")
    return say("sown_under_fleece" if plan.fleece_weeks else "sown_outdoors")


def _since(plan: Plan) -> str:
    """From when the crop stands outdoors: plants set out early need more days than later ones."""
    weeks = plan.weeks_under_cover if plan.plants == "own" else 0
    return day_name(day_number(plan.start) + 7 * weeks)
