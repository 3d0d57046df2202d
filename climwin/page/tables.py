"""The page's tables, and the pictures that go with them: a report in, plain words out.

Each function makes one part of the page, as values for the template's macro of the same name.
"""

from __future__ import annotations

import datetime as dt
from typing import TYPE_CHECKING, Any, NamedTuple

import numpy as np
import xarray as xr

from climwin.climate.freeze import freeze_chance, freeze_dates
from climwin.core.schema import Units
from climwin.core.status import UNKNOWN
from climwin.crops.catalogue import crop, crop_names
from climwin.page import assets
from climwin.planning.suitability import rank_crops
from climwin.plot import freeze
from climwin.plot import plans as plot_plans
from climwin.report import sentences, sentences_climate
from climwin.report.caveats import caveats
from climwin.report.garden import GardenReport
from climwin.report.sentences_garden import suiting as words_suiting
from climwin.report.sentences_garden import way

if TYPE_CHECKING:
    from matplotlib.figure import Figure

Content = dict[str, Any]

SHOWN_CROPS = 20
"""Crops that the page lists in the open; the others stand folded below."""

_CHANCES = (0.9, 0.5, 0.1)


class Page(NamedTuple):
    """What a page is made of: a report, the unit of its temperatures, and the date of the day."""

    report: GardenReport
    units: Units
    made: dt.date | None


# --- the ways, side by side ---------------------------------------------------------------

_PLAN_ROWS = (
    ("Worked in", "worked"),
    ("True odds, nine chances in ten", "interval"),
    ("What failed the other years", "failures"),
    ("Start dates that do best here", "best"),
    ("Set out", "set_out"),
    ("Ready by", "ready"),
)


def plans(page: Page) -> Content:
    """The ways of growing it, judged on the same years."""
    report = page.report
    names = [plan.name for plan in report.plans]
    swept = dict(zip(names, report.swept, strict=True))
    cut = int(report.windows["first_day"])

    def figure(narrow: bool) -> Figure:
        return plot_plans.start_dates(swept, attrs=report.daily.attrs, first_day=cut, narrow=narrow)

    told = [f"{name}: best started {sentences.best_dates(found)}" for name, found in swept.items()]
    others = zip(report.plans[1:], report.comparisons, strict=True)
    chosen = [plan for plan in report.plans if not plan.crop.wakes]
    return {
        "rows": [row for row in _PLAN_ROWS if chosen or row[1] not in ("best", "set_out")],
        "plans": [_plan(report, i) for i in range(len(names))],
        "figure": assets.drawn(figure) if chosen else None,
        "alt": "Odds by start date. " + "; ".join(told),
        "comparisons": [sentences.comparison(report.plans[0], other, c) for other, c in others],
        "conditions": list(dict.fromkeys(c for p in report.plans for c in sentences.conditions(p))),
    }


def _plan(report: GardenReport, number: int) -> Content:
    plan, odds = report.plans[number], report.odds[number]
    return {
        "title": sentences.plan_title(plan),
        "worked": f"{int(odds['succeeded'])} of {sentences.years(int(odds['known']))}",
        "interval": sentences.interval(odds),
        "failures": sentences.failures(odds),
        "best": sentences.best_dates(report.swept[number]),
        "set_out": sentences.set_out(plan),
        "ready": sentences.ready(plan),
    }


# --- freezes, years, crops ----------------------------------------------------------------


def _file(table: xr.Dataset, what: str, page: Page) -> assets.Download:
    """A table to keep."""
    minds = caveats(page.report, page.made, page.units)
    return assets.table(table, f"{page.report.garden.name} {what}", minds)


def freezes(page: Page) -> Content:
    """The odds of a freeze by date."""
    report = page.report
    odds = report.freeze_odds
    thresholds = odds["threshold"].values
    chance = freeze_chance(freeze_dates(report.daily, list(thresholds)))

    def figure(narrow: bool) -> Figure:
        return freeze.freeze_curve(chance, odds, units=page.units, narrow=narrow)

    tables = [odds.sel(threshold=threshold) for threshold in thresholds]
    first = tables[0]
    return {
        "figure": assets.drawn(figure),
        "alt": sentences_climate.freeze_dates_at(first, float(first["threshold"]), page.units),
        "tables": [freeze_table(found, page) for found in tables],
        "file": _file(odds, "freeze odds", page),
    }


def freeze_table(odds: xr.Dataset, page: Page) -> Content:
    """Dates of a freeze at one threshold, by their odds."""
    threshold = float(odds["threshold"])
    kills = threshold == page.report.crop.killed_at_c
    return {
        "nights": f"Nights of {sentences_climate.colder(threshold, page.units)}",
        "meaning": f", which kill {page.report.crop.name} in the open" if kills else "",
        "rows": [chance_row(odds.sel(odds=chance)) for chance in _CHANCES],
        "note": sentences.freeze_note(odds),
    }


def chance_row(odds: xr.Dataset) -> Content:
    """Dates of a freeze at one level of odds."""
    days = float(odds["freeze_free_days"])
    return {
        "chance": f"{10 * float(odds['odds']):.0f} in 10",
        "spring": sentences.date(float(odds["last_spring"])),
        "autumn": sentences.date(float(odds["first_autumn"])),
        "days": "no limit" if np.isnan(days) else f"{days:.0f}",
    }


def yearly(page: Page) -> Content:
    """The window of every year, and what became of each plan in it."""
    report = page.report
    return {
        "window": sentences.PARTS[report.part],
        "crop": report.crop.name,
        "need": report.need_days,
        "plans": [sentences.plan_title(plan) for plan in report.plans],
        "rows": [_year(report, int(season)) for season in report.window["season"].values],
        "file": _file(_with_outcomes(report), "year by year", page),
    }


def _year(report: GardenReport, season: int) -> Content:
    year = report.window.sel(season=season)
    least, most = (float(year[f"length_{end}"]) for end in ("least", "most"))
    enough = "yes" if least >= report.need_days else "no" if most < report.need_days else "unknown"
    return {
        "year": season,
        "start": sentences.day_of(year["start"]),
        "end": sentences.day_of(year["end"]),
        "length": sentences.length(year),
        "enough": enough,
        "plans": [sentences.outcome(judged, season) for judged in report.judged],
    }


def _with_outcomes(report: GardenReport) -> xr.Dataset:
    """Windows of the years, and beside them whether each plan succeeded and what failed it."""
    table = report.window
    for plan, judged in zip(report.plans, report.judged, strict=True):
        named = {key: f"{key}: {plan.name}" for key in ("success", "reason")}
        table = table.merge(judged[list(named)].rename(named), join="left")
    return table.assign_attrs(report.window.attrs)


def suiting(page: Page) -> Content:
    """Crops that suit this place, the best first, each in the way that does best."""
    own = page.report.crop
    names = dict.fromkeys([*crop_names(), own.name])
    chosen = [own if name == own.name else crop(name) for name in names]
    found = rank_crops(page.report.daily, chosen)
    ranked = found.sortby("rank")
    _, first = np.unique(ranked["crop"].values, return_index=True)
    best = ranked.isel(plan=np.sort(first))
    rows = [_suited(best.isel(plan=i), own.name) for i in range(best.sizes["plan"])]
    return {
        "finding": words_suiting(found),
        "rows": rows[:SHOWN_CROPS],
        "others": rows[SHOWN_CROPS:],
        "file": _file(ranked, "crops that suit", page),
    }


def _suited(row: xr.Dataset, own: str) -> Content:
    limit = str(row["limit"].item())
    days = [float(row[f"{end}_day"]) for end in ("first", "last")]
    known = int(row["known"])
    return {
        "crop": str(row["crop"].item()),
        "own": row["crop"].item() == own,
        "way": way(row),
        "dates": _dates(*days),
        "worked": f"{int(row['succeeded'])} of {known}" if known else UNKNOWN,
        "limit": limit or ("nothing, so far" if known else "too many gaps in the record"),
    }


def _dates(first: float, last: float) -> str:
    if np.isnan(first):
        return "never"
    return sentences.date(first) if first == last else sentences.span(first, last)
