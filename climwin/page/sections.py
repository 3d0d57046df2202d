"""Sections of the page to share: a report in, plain words, tables and pictures out.

Each function makes one section, as values for the template's macro of the same name.
"""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Callable
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

import numpy as np
import xarray as xr

from climwin.core.formatting import fixed, in_ten
from climwin.core.schema import VARIABLES, Units
from climwin.core.seasons import DAYS, day_name, day_number
from climwin.core.status import UNKNOWN
from climwin.crops.explain import explain_crop
from climwin.crops.model import Crop
from climwin.page import assets
from climwin.page.html import Fragment, fill_macro
from climwin.page.live import numbers
from climwin.page.season import running_season
from climwin.page.space import space_and_mends
from climwin.planning.plan import Plan
from climwin.plot import freeze, style, summary
from climwin.plot import plans as plot_plans
from climwin.report import sentences, sentences_climate
from climwin.report.garden import GardenReport
from climwin.report.ical import at_once
from climwin.report.sentences_caveats import caveats, report_departures
from climwin.report.sentences_garden import suiting as suiting_sentence
from climwin.report.sentences_garden import way
from climwin.report.sentences_perennial import winter_story

if TYPE_CHECKING:
    from matplotlib.figure import Figure

Content = dict[str, Any]

SHOWN_CROPS = 20
"""Crops that the page lists in the open; the others stand folded below."""

_CHANCES = (0.9, 0.5, 0.1)


@dataclass(frozen=True)
class Page:
    """What one page shows.

    Parameters
    ----------
    report : GardenReport
        Of one garden.
    units : {"C", "F"}
        Unit of the temperatures.
    made : date or None
        Date of the page.
    """

    report: GardenReport
    units: Units
    made: dt.date | None
    _contents: dict[str, Content] = field(default_factory=dict, repr=False, compare=False)

    def section(self, name: str) -> Fragment:
        """One section of the page, one of `SECTIONS`."""
        return fill_macro("parts.html.j2", name, self.content(name))

    def content(self, name: str) -> Content:
        """What a section says, worked out once: the sheet says some of it again."""
        if name not in self._contents:
            self._contents[name] = SECTIONS[name](self)
        return self._contents[name]


# --- the answer ---------------------------------------------------------------------------


def finding(page: Page) -> Content:
    """The finding in one sentence, and which way does best."""
    report = page.report
    scenario = style.scenario_key(style.facts(report.windows, report.daily.attrs))
    return {
        "place": f"{report.garden.full_name}, {report.crop.name}",
        "check": report_departures(report, page.made, page.units),
        "scenario": scenario[:1].upper() + scenario[1:],
        "finding": sentences.finding(report),
        "best": sentences.best_way(report),
        "failures": sentences.failures_by_stage(report.evaluated[report.best]),
        "better": sentences.better_start(report),
        "winter": winter_story(report, page.units),
        "bands": sentences.two_bands(report, page.units),
        "need": sentences.need(report),
        "both": sentences.window_and_harvest(report),
    }


def picture(page: Page) -> Content:
    """The figure that answers, and how to read it."""
    report = page.report

    def figure(narrow: bool) -> Figure:
        drawing = summary.plot_summary(report, units=page.units, narrow=narrow)
        drawing.suptitle("")  # it stands above, as the page's heading
        return drawing

    return {
        "figure": assets.drawn(figure),
        "alt": f"{sentences.too_short(report)}. {sentences.average(report)}",
        "years": sentences.years(report.window.sizes["season"]),
        "crop": report.crop.name,
        "band": sentences.limits(report.band, page.units),
        "after_freeze": sentences.after_freeze(report.crop, page.units),
    }


def live(page: Page) -> Content:
    """Numbers for the chart that a hand can move."""
    own = [plan.space.name for plan in page.report.plans if plan.space is not None]
    return {
        "numbers": numbers(page.report, page.units),
        "crop": page.report.crop.name,
        "own_space": own[0] if own else "",
    }


def dates(page: Page) -> Content:
    """What to do and when: each way's dates with their odds, the best way first."""
    report = page.report
    return {
        "crop": report.crop.name,
        "ways": [_way(page, i) for i in report.best_first],
        "chosen": "" if report.crop.is_perennial else sentences.CHOSEN,
    }


def _way(page: Page, number: int) -> Content:
    report = page.report
    plan, odds, evaluated = report.plans[number], report.odds[number], report.evaluated[number]
    leading = report.of_climate(report.leading("harvest"))
    notes = "\n".join(caveats(report, page.made, page.units))
    timetable = report.timetables[number].assign_attrs(comment=notes)
    year = assets.next_year(plan, report.daily, page.made)
    in_order = timetable.sortby("begin_day")
    names = [str(name) for name in in_order["event"].values if not at_once(timetable, str(name))]
    rows = [_event(in_order.sel(event=name), plan) for name in names]
    return {
        "title": sentences.plan_title(plan),
        "harvests": sentences.harvests(odds),
        "good": sentences.good_years(odds),
        "ahead": sentences.plan_ahead(report, number),
        "next": f"{sentences.next_years(leading.odds[number])} (nine chances in ten)",
        "interval": sentences.interval(odds),
        "never": not int(odds["harvested"]),
        "growth": sentences.growth(odds),
        "ready": sentences.ready(timetable),
        "outdoors": sentences.days_outdoors(evaluated),
        "failures": sentences.failures_by_stage(evaluated),
        "cover": sentences.cover_lift(plan, page.units),
        "recommended": sentences.recommended(report.recommended[number]),
        "perennial": plan.crop.is_perennial,
        "variety": sentences.variety(plan),
        "best": sentences.starts(plan, report.swept[number]),
        "outside": _outside(plan, report.swept[number]),
        "rows": [row for row in rows if row["when"]],
        "year": year,
        "file": assets.calendar(report, timetable, year, page.made),
    }


def _outside(plan: Plan, swept: xr.Dataset) -> str:
    """The plan's start where it is not among the best dates."""
    best = None if plan.crop.is_perennial else sentences.best_run_of(swept)
    if best is None:
        return ""
    first, last = best
    start = day_number(plan.start)
    return "" if (start - first) % DAYS <= (last - first) % DAYS else day_name(start)


def _event(row: xr.Dataset, plan: Plan) -> Content:
    """One line of a timetable: what, when, how far it may shift, and the years that froze."""
    name = str(row["event"].item())
    begin, end, first, last = (
        float(row[key]) for key in ("begin_day", "end_day", "begin_first", "begin_last")
    )
    where = f"in the {plan.cover}" if plan.weeks_under_cover else "in place"
    does = {"start": f"{_starts_by(plan)} {where}", "set out": "Set out in the open"}
    if plan.plants == "bought":
        does["start"] = "Set out"
    known = np.isfinite([begin, end, first, last]).all()
    when = sentences.harvest_span(begin, max(begin, end)) if known else ""
    spread = known and name not in does and round(first) != round(last)
    return {
        "what": does.get(name) or f"{name[:1].upper()}{name[1:]}",
        "when": when,
        "shift": sentences.span(first, last) if spread else "",
        "killed": "" if name in does else f"{int(row['killed'])} of {int(row['known'])}",
        "does": name in does,
    }


def _starts_by(plan: Plan) -> str:
    return "Plant" if plan.is_planted else "Sow"


def sheet(page: Page) -> Content:
    """The summary on paper: the dates first, for the shed's door."""
    report = page.report
    return {
        **page.content("finding"),
        "ways": [_column(way) for way in page.content("dates")["ways"]],
        "sure": sentences.how_sure(report),
        "freezes": freeze_table(_leading_freezes(report).freeze_odds.isel(threshold=0), page),
        "cautions": page.content("cautions")["cautions"],
        "source": sentences.sources(report)[1],
        "made": page.made,
    }


def _column(way: Content) -> Content:
    """A way of growing on the sheet: what to do, the last stage, and the odds."""
    shown = [row for row in way["rows"] if row["does"]]
    shown.append(way["rows"][-1])
    rows = [(row["what"], row["when"]) for row in shown]
    rows.append(("A harvest in", way["harvests"]))
    rows.append(("A good one in", way["good"]))
    rows.append(("Of the next ten years, likely", way["next"]))
    outside = f"; {way['outside']} is not among them" if way["outside"] else ""
    if way["best"]:
        rows.append(("Largest crop if started", way["best"] + outside))
    return {"title": way["title"], "rows": rows}


def sure(page: Page) -> Content:
    """How sure that is, in words."""
    report = page.report
    drift = sentences.drift(report)
    return {
        "how_sure": sentences.how_sure(report),
        "looked_back": sentences.looked_back(report),
        "drift": drift,
        "chance": "p = " in drift,
        "average": sentences.average(report),
        "doubts": caveats(report, page.made, page.units),
    }


# --- the ways, side by side ---------------------------------------------------------------

_PLAN_ROWS = (
    ("A harvest in", "harvests"),
    ("In how many of the next ten years", "next"),
    ("In the long run, nine chances in ten", "interval"),
    ("A good harvest in", "good"),
    ("Growth in the years with a harvest", "growth"),
    ("What failed the other years", "failures"),
    ("Start dates with the largest crop", "best"),
    ("Set out", "set_out"),
    ("First harvest", "ready"),
    ("Outdoors before it", "outdoors"),
)

_PERENNIAL_ROWS = (
    *(row for row in _PLAN_ROWS if row[1] not in ("best", "set_out", "outdoors")),
    ("From bloom, or first growth, to the first harvest", "outdoors"),
)


def plans(page: Page) -> Content:
    """The ways of growing it, in the same years."""
    report = page.report
    names = [plan.name for plan in report.plans]
    swept = dict(zip(names, report.swept, strict=True))
    first_day = int(report.windows["first_day"])

    def figure(narrow: bool) -> Figure:
        return plot_plans.start_dates(
            swept, attrs=report.daily.attrs, first_day=first_day, narrow=narrow
        )

    best = [f"{name}: best started {sentences.best_dates(odds)}" for name, odds in swept.items()]
    others = zip(report.plans[1:], report.comparisons, strict=True)
    has_choice = not report.crop.is_perennial  # nobody chooses its start
    ways = [_plan(report, i) for i in range(len(names))]
    rows = _PLAN_ROWS if has_choice else _PERENNIAL_ROWS
    return {
        "rows": [row for row in rows if any(way[row[1]] for way in ways)],
        "plans": ways,
        "figure": assets.drawn(figure) if has_choice else None,
        "alt": "Odds by start date. " + "; ".join(best),
        "comparisons": [sentences.comparison(report.plans[0], other, c) for other, c in others],
        "conditions": list(dict.fromkeys(c for p in report.plans for c in sentences.conditions(p))),
        "good": sentences.GOOD,
    }


def _plan(report: GardenReport, number: int) -> Content:
    plan, odds = report.plans[number], report.odds[number]
    leading = report.of_climate(report.leading("harvest"))
    return {
        "title": sentences.plan_title(plan),
        "harvests": sentences.harvests(odds),
        "good": sentences.good_years(odds),
        "next": f"{sentences.next_years(leading.odds[number])} (nine chances in ten)",
        "interval": sentences.interval(odds),
        "growth": sentences.growth(odds),
        "failures": sentences.failures_by_stage(report.evaluated[number]),
        "best": sentences.starts(plan, report.swept[number]),
        "set_out": sentences.set_out(plan),
        "ready": sentences.ready(report.timetables[number]),
        "outdoors": sentences.days_outdoors(report.evaluated[number]),
    }


# --- freezes, years, crops ----------------------------------------------------------------


def _file(table: xr.Dataset, what: str, page: Page) -> assets.Download:
    """A table to keep."""
    notes = caveats(page.report, page.made, page.units)
    return assets.table(table, f"{page.report.garden.name} {what}", notes)


def space(page: Page) -> Content:
    """When the gardener's own space serves, and what would make a crop work that does badly."""
    return {"said": space_and_mends(page.report, page.units)}


def freezes(page: Page) -> Content:
    """The odds of a freeze by date."""
    report = _leading_freezes(page.report)
    odds = report.freeze_odds

    def figure(narrow: bool) -> Figure:
        return freeze.freeze_curve(report.freeze_chance, odds, units=page.units, narrow=narrow)

    tables = [odds.sel(threshold=threshold) for threshold in odds["threshold"].values]
    first = tables[0]
    return {
        "figure": assets.drawn(figure),
        "alt": sentences_climate.freeze_dates_at(first, float(first["threshold"]), page.units),
        "tables": [freeze_table(table, page) for table in tables],
        "other_climate": sentences.freezes_in_other_climate(page.report),
        "file": _file(odds, "freeze odds", page),
    }


def _leading_freezes(report: GardenReport) -> GardenReport:
    """The report of the climate whose odds of a freeze come first."""
    return report.of_climate(report.leading("spring freeze"))


def freeze_table(odds: xr.Dataset, page: Page) -> Content:
    """Dates of a freeze at one threshold, by their odds."""
    threshold = float(odds["threshold"])
    kills = threshold == page.report.crop.killed_at_c
    return {
        "nights": f"Nights of {sentences_climate.colder(threshold, page.units)}",
        "meaning": _meaning(page.report.crop) if kills else "",
        "rows": [chance_row(odds.sel(odds=chance)) for chance in _CHANCES],
        "note": sentences.freeze_note(odds),
    }


def _meaning(crop: Crop) -> str:
    """What a night at the crop's own threshold does."""
    if crop.is_perennial:
        return f", which spoil the fruit or shoots of {crop.name}"
    return f", which kill young {crop.name} in the open"


def chance_row(odds: xr.Dataset) -> Content:
    """Dates of a freeze at one level of odds."""
    days = float(odds["freeze_free_days"])
    return {
        "chance": in_ten(float(odds["odds"])),
        "spring": sentences.date(float(odds["last_spring"])),
        "autumn": sentences.date(float(odds["first_autumn"])),
        "days": "no limit" if np.isnan(days) else fixed(days),
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
    if least >= report.need_days:
        enough = "yes"
    elif most < report.need_days:
        enough = "no"
    else:
        enough = UNKNOWN
    return {
        "year": season,
        "start": sentences.day_of(year["start"]),
        "end": sentences.day_of(year["end"]),
        "length": sentences.length(year),
        "enough": enough,
        "plans": [sentences.outcome(evaluated, season) for evaluated in report.evaluated],
    }


def _with_outcomes(report: GardenReport) -> xr.Dataset:
    """Windows of the years, and beside them what became of each plan."""
    table = report.window
    columns = ("outcome", "reason", "stage", "growth", "harvest_begin")
    for plan, evaluated in zip(report.plans, report.evaluated, strict=True):
        named = {key: f"{key}: {plan.name}" for key in columns}
        table = table.merge(
            evaluated[list(named)].rename(named), join="left", compat="no_conflicts"
        )
    return table.assign_attrs(report.window.attrs)


def suiting(page: Page) -> Content:
    """Crops that suit this place, the best first, each in the way that does best."""
    by_rank = page.report.ranked_crops.sortby("rank")
    _, first = np.unique(by_rank["crop"].values, return_index=True)
    best = by_rank.isel(plan=np.sort(first))
    own = page.report.crop.name
    rows = [_suited(best.isel(plan=i), own) for i in range(best.sizes["plan"])]
    return {
        "finding": suiting_sentence(page.report.ranked_crops),
        "rows": rows[:SHOWN_CROPS],
        "others": rows[SHOWN_CROPS:],
        "file": _file(by_rank, "crops that suit", page),
    }


def _suited(row: xr.Dataset, own: str) -> Content:
    limit = str(row["limit"].item())
    days = [float(row[f"{end}_day"]) for end in ("first", "last")]
    harvested, known = (round(float(row[f"elsewhere_{name}"])) for name in ("harvested", "known"))
    return {
        "crop": str(row["crop"].item()),
        "own": row["crop"].item() == own,
        "way": way(row),
        "dates": "" if row["propagation"] == "perennial" else _dates(*days),
        "harvests": f"{harvested} of {known}" if known else UNKNOWN,
        "good": sentences.percent(float(row["good_share"])),
        "growth": "" if np.isnan(row["growth"]) else fixed(float(row["growth"]), 2),
        "limit": limit if known else "too many gaps in the record",
    }


def _dates(first: float, last: float) -> str:
    if np.isnan(first):
        return "none"
    return sentences.date(first) if first == last else sentences.span(first, last)


# --- where it comes from ------------------------------------------------------------------


def sources(page: Page) -> Content:
    """Where the numbers come from, what is missing, the licence, and who set the limits."""
    report = page.report
    return {
        "sources": named_sources(report),
        "history": str(report.daily.attrs.get("history", "")).replace("degC", "°C").splitlines(),
        "crop": report.crop.name,
        "explained": explain_crop(report.crop, page.units).split("\n\n"),
    }


def named_sources(report: GardenReport) -> list[str]:
    """Where the numbers come from, variables called what people call them."""
    return [_ISO.sub(_as_date, _named(text)) for text in sentences.sources(report)]


_ISO = re.compile(r"(\d{4})-(\d\d)-(\d\d)")


def _as_date(iso: re.Match[str]) -> str:
    """A date as the page writes all others."""
    year, month, day = map(int, iso.groups())
    return f"{day} {day_name(day_number(f'{month:02}-01')).split()[1]} {year}"


def _named(text: str) -> str:
    """A line on a variable, led by the name that people use."""
    key, colon, rest = text.partition(": ")
    if key not in VARIABLES:
        return text
    name = VARIABLES[key].long_name
    return f"{name[:1].upper()}{name[1:]}{colon}{rest}"


def cautions(page: Page) -> Content:
    """What to mind, and when the page was made."""
    from climwin import __version__

    texts = [*sentences.CAUTIONS, *page.report.crop.cautions]
    return {"cautions": texts, "made": page.made, "version": __version__}


SECTIONS: dict[str, Callable[[Page], Content]] = {
    "sheet": sheet,
    "finding": finding,
    "picture": picture,
    "live": live,
    "dates": dates,
    "season": lambda page: running_season(page.report, page.units, page.made),
    "sure": sure,
    "plans": plans,
    "space": space,
    "freezes": freezes,
    "yearly": yearly,
    "suiting": suiting,
    "sources": sources,
    "cautions": cautions,
}
"""Each section by the name of its macro in ``templates/parts.html.j2``."""
