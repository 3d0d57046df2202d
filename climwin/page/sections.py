"""Sections of the page to share: a report in, plain words, tables and pictures out.

Each function makes one section, as values for the template's macro of the same name.
"""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Callable
from dataclasses import dataclass, field, replace
from functools import cached_property
from typing import TYPE_CHECKING, Any

import numpy as np
import xarray as xr

from climwin.climate.freeze import SHOWN_ODDS
from climwin.core.formatting import fixed, in_ten, signed
from climwin.core.schema import VARIABLES, Units, difference_from_celsius
from climwin.core.seasons import day_name, day_number
from climwin.core.status import UNKNOWN
from climwin.core.wording import MONTHS, WINDOW_NAMES, capitalized
from climwin.crops.explain import explain_crop
from climwin.crops.model import Crop
from climwin.crops.naming import plural
from climwin.page import assets
from climwin.page.html import Fragment, fill_macro
from climwin.page.live import numbers, weeks_offered
from climwin.page.season import running_season
from climwin.page.space import space_and_mends
from climwin.planning.plan import Plan, start_verb
from climwin.plot import freeze, style, summary
from climwin.plot import plans as plot_plans
from climwin.plot.comfort import plot_comfort
from climwin.report import sentences, sentences_climate
from climwin.report import sentences_decision as words
from climwin.report.decision import Decision, Row, decide
from climwin.report.garden import GardenReport
from climwin.report.ical import at_once
from climwin.report.sentences_caveats import caveats, chart_climate, report_departures
from climwin.report.sentences_garden import best_starts, way
from climwin.report.sentences_garden import suiting as suiting_sentence
from climwin.report.sentences_perennial import winter_story
from climwin.report.spells import needs, spells, stands_through_winter

if TYPE_CHECKING:
    from matplotlib.figure import Figure

Content = dict[str, Any]

SHOWN_CROPS = 10
"""Crops that the page lists in the open; the others stand folded below."""


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

    @cached_property
    def decision(self) -> Decision:
        """What to do, chosen by rule."""
        return decide(self.report)

    @cached_property
    def lead_dates(self) -> tuple[Plan, xr.Dataset]:
        """The plan of the row that leads, at the dates that lead, and its timetable."""
        lead = self.decision.lead
        if lead.was_asked:
            return lead.plan, self.report.timetables[lead.number]
        plan = replace(lead.plan, start=day_name(lead.start))
        if lead.is_early:
            plan = replace(plan, earliness="early")
        return plan, self.report.dates_at(lead.number, plan.start, plan.earliness)

    @cached_property
    def caveats(self) -> tuple[str, ...]:
        """Where the page's numbers could mislead, which each file to keep says too."""
        return caveats(self.report, self.made, self.units)

    def section(self, name: str) -> Fragment:
        """One section of the page, one of `SECTIONS`."""
        return fill_macro("parts.html.j2", name, self.content(name), self.units)

    def content(self, name: str) -> Content:
        """What a section says, worked out once: the sheet says some of it again."""
        if name not in self._contents:
            self._contents[name] = SECTIONS[name](self)
        return self._contents[name]


# --- the decision -------------------------------------------------------------------------


def decision(page: Page) -> Content:
    """The verdict, the numbers behind it, one row a way, the worst doubt, and what to do next."""
    report = page.report
    chosen = page.decision
    # As in the figures: some weeks at the end of a record are no year of it.
    years = np.intersect1d(report.daily["time"].dt.year, report.window["season"])
    lead = chosen.lead
    heads, dates = words.columns_of_dates(report, chosen.rows)
    return {
        "place": report.garden.full_name,
        "crop": report.crop.name,
        "years": f"{sentences.years(len(years))}, {years[0]}\N{EN DASH}{years[-1]}",
        "scenario": words.scenario(report, page.units),
        "check": report_departures(report, page.made, page.units),
        "verdict": words.verdict(report),
        "numbers": words.numbers_behind(report),
        "heads": heads,
        "rows": [
            {**_row(chosen, row), "dates": each}
            for row, each in zip(chosen.rows, dates, strict=True)
        ],
        "judged": words.has_best_dates(report),
        "doubt": words.worst_doubt(report, page.made, page.units),
        "file": _calendar_of(page) if lead.harvested else None,
    }


def _row(chosen: Decision, row: Row) -> Content:
    """One row of the decision: its name, and its odds as a bar and a count."""
    return {
        "name": words.row_name(chosen, row),
        "share": fixed(100 * row.share, 1),
        "low": fixed(100 * row.low, 1),
        "width": fixed(100 * (row.high - row.low), 1),
        "likely": words.likely(row),
        "count": words.row_count(row),
        "kind": "lead" if row is chosen.lead else "poor" if row.is_poor else "",
    }


def _calendar_of(page: Page) -> assets.Download:
    """The dates of the row that leads, as a calendar file."""
    plan, timetable = page.lead_dates
    notes = "\n".join(page.caveats)
    year = assets.next_year(plan, page.report.daily, page.made)
    return assets.calendar(page.report, timetable.assign_attrs(comment=notes), year, page.made)


def reason(page: Page) -> Content:
    """Why years fail, and the figure of the mild spells."""
    report = page.report

    def figure(narrow: bool) -> Figure:
        drawing = summary.plot_summary(report, narrow=narrow)
        drawing.suptitle("")  # the text above says it
        return drawing

    shown = words.shows_spells(report)
    heading = words.reason_heading(report)
    has_one_count = len(needs(report)) == 1 or not spells(report).counts[1]
    is_said = heading == words.spell_finding(report) and has_one_count
    return {
        "heading": heading,
        "texts": words.reason(report, page.units),
        "winter": winter_story(report, page.units),
        "finding": words.spell_title(report) if shown and not is_said else "",
        "figure": assets.drawn(figure, page.units) if shown else None,
        "alt": f"{words.spell_title(report)}. {sentences.average(report)}",
        "band": sentences.limits(report.band, page.units),
        "crop": plural(report.crop),
        "after_freeze": sentences.after_freeze(report.crop, page.units),
    }


def live(page: Page) -> Content:
    """Numbers for the chart that a hand can move."""
    return {
        "numbers": numbers(page.report, page.units),
        "crop": plural(page.report.crop),
        "has_weeks": bool(weeks_offered(page.report)),
        "has_dates": not page.report.crop.is_perennial,
        "is_raised": page.report.crop.weeks_under_cover is not None,
        "climate": chart_climate(page.report),
    }


# --- when to do what ----------------------------------------------------------------------

_ROWS = (
    ("{start}", "start"),
    ("Set out", "set_out"),
    ("{harvest} from", "ready"),
    ("A harvest in", "harvests"),
    ("A good one in", "good"),
    ("Likely in the next ten years", "next"),
    ("Likely range in the long run", "interval"),
    ("Growth when harvested (the best is 1)", "growth"),
    ("Years it failed, and why", "failures"),
    ("Outdoors before the harvest", "outdoors"),
    ("Best dates", "best"),
)
_PERENNIAL_ROWS = (
    *(row for row in _ROWS if row[1] not in ("start", "best", "set_out", "outdoors")),
    ("From bloom, or first growth, to harvest", "outdoors"),
)


def ways(page: Page) -> Content:
    """Each way of growing with its dates and odds, side by side, and what to do when."""
    report = page.report
    has_choice = not report.crop.is_perennial  # a perennial has no start to choose
    columns = [_way(page, i) for i in report.best_first]
    heads = {
        "start": capitalized(" or ".join(dict.fromkeys(start_verb(plan) for plan in report.plans))),
        "harvest": capitalized(report.crop.harvest_verb),
    }
    rows = _ROWS if has_choice else _PERENNIAL_ROWS
    others = zip(report.plans[1:], report.comparisons, strict=True)
    return {
        "crop": plural(report.crop),
        "ways": columns,
        "rows": [
            (label.format_map(heads), key)
            for label, key in rows
            if any(way[key] for way in columns)
        ],
        "comparisons": [
            words.ways_compared(report.plans[0], other, compared, report.plans)
            for other, compared in others
        ],
        "figure": assets.drawn_once(_start_dates(page), page.units) if has_choice else None,
        "alt": f"Years with a harvest by date. {best_starts(_best_of_ways(page))}",
        "judged": sentences.JUDGED if any(way["best"] for way in columns) else "",
        "chosen": sentences.CHOSEN if has_choice else "",
        "conditions": list(dict.fromkeys(c for p in report.plans for c in sentences.conditions(p))),
        "good": sentences.GOOD,
    }


def _best_dates(chosen: Decision, number: int) -> str:
    """Best dates of a way, as the first screen has them."""
    for row in chosen.rows:
        if row.is_best and row.number == number:
            early = ", early variety" if row.is_early else ""
            return f"{_dates(row.first, row.last)}{early} ({words.row_count(row)})"
    return ""


def _best_of_ways(page: Page) -> dict[str, tuple[int, int] | None]:
    """First and last best day of each way; of dates that need no better ones, the sweep's."""
    report = page.report
    found = {
        words.way_of(plan, report.plans): sentences.best_run_of(odds)
        for plan, odds in zip(report.plans, report.ahead.swept, strict=True)
    }
    for row in page.decision.rows:
        if row.is_best and not row.is_early:  # the curves are of the varieties that were asked
            found[words.way_of(row.plan, report.plans)] = row.first, row.last
    return found


def _start_dates(page: Page) -> Figure:
    """Figure of the odds of each way by its start date."""
    report = page.report
    swept = {
        words.way_of(plan, report.plans): odds
        for plan, odds in zip(report.plans, report.ahead.swept, strict=True)
    }
    first_day = style.year_start(int(report.windows["first_day"]))
    return plot_plans.start_dates(
        swept,
        best=_best_of_ways(page),
        attrs=report.ahead.daily.attrs,
        first_day=first_day,
        place=_place_and_years(report),
        narrow=True,
    )


def _place_and_years(report: GardenReport) -> str:
    return style.place_and_years(report.garden.name, report.window["season"].values)


def _way(page: Page, number: int) -> Content:
    """One way of growing with its dates, odds and file, as the template's columns have it."""
    report = page.report
    plan, odds = report.plans[number], report.ahead.odds[number]
    evaluated = report.ahead.evaluated[number]
    notes = "\n".join(page.caveats)
    timetable = report.timetables[number].assign_attrs(comment=notes)
    year = assets.next_year(plan, report.daily, page.made)
    has_failed = int(odds["harvested"]) < int(odds["known"])
    hopeless = any(row.is_hopeless for row in page.decision.rows if row.number == number)
    started = "any date" if hopeless else day_name(day_number(plan.start))
    return {
        "title": words.titles(report)[number],
        "hopeless": hopeless,
        "start": "" if plan.crop.is_perennial else started,
        "set_out": "" if hopeless or not plan.weeks_under_cover else sentences.set_out(plan),
        "harvests": sentences.harvests(odds),
        "good": sentences.good_years(odds),
        "ahead": sentences.plan_ahead(report, number),
        "next": sentences.next_years(odds),
        "interval": sentences.interval(_long_run(report, number)),
        "never": not int(odds["harvested"]),
        "growth": sentences.growth(odds),
        "ready": sentences.ready(timetable),
        "outdoors": sentences.days_outdoors(evaluated),
        "failures": _failures(page, number) if has_failed else "",
        "cover": sentences.cover_lift(plan, page.units),
        "recommended": sentences.recommended(report.recommended[number], words.begun(plan)),
        "perennial": plan.crop.is_perennial,
        "variety": sentences.variety(plan),
        "best": _best_dates(page.decision, number),
        "rows": _events(timetable, plan),
        "losses": not plan.crop.is_perennial and bool(timetable["killed"].sum()),
        "year": year,
        "file": assets.calendar(report, timetable, year, page.made),
    }


def _long_run(report: GardenReport, number: int) -> xr.Dataset:
    """Long-run odds of a way; at its best date those of years that had no part in choosing it."""
    plan, swept = report.plans[number], report.ahead.swept[number]
    is_chosen = not plan.crop.is_perennial and day_number(plan.start) == swept["best_day"]
    return sentences.elsewhere(swept) if is_chosen else report.ahead.odds[number]


def _failures(page: Page, number: int) -> str:
    """What failed the years of a way; of one that never gives a harvest, on its kindest date."""
    for row in page.decision.rows:
        if row.is_hopeless and row.number == number:
            return words.failures_at_best(page.report, row)
    return sentences.failures_by_stage(page.report.ahead.evaluated[number])


def _events(timetable: xr.Dataset, plan: Plan) -> list[Content]:
    """Lines of a timetable in the order of their dates, without those that have no date."""
    in_order = timetable.sortby("begin_day")
    names = [str(name) for name in in_order["event"].values if not at_once(timetable, str(name))]
    rows = [_event(in_order.sel(event=name), plan) for name in names]
    return [row for row in rows if row["when"]]


def _event(row: xr.Dataset, plan: Plan) -> Content:
    """One line of a timetable: what, when, how far it may shift, and the years that froze."""
    name = str(row["event"].item())
    begin, end, first, last = (
        float(row[key]) for key in ("begin_day", "end_day", "begin_first", "begin_last")
    )
    where = f"in the {plan.cover}" if plan.weeks_under_cover else "outdoors"
    where = where.replace("in the room with lights", "indoors under lights")
    does = {"start": f"{capitalized(start_verb(plan))} {where}", "set out": "Set out outdoors"}
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


def sheet(page: Page) -> Content:
    """What the first printed page adds to the decision: jobs, frosts, cautions, for the shed."""
    report = page.report
    return {
        "jobs": _jobs(page),
        "name": words.row_name(page.decision, page.decision.lead),
        "freezes": freeze_table(_leading_freezes(report).freeze_odds.isel(threshold=0), page),
        "cautions": page.content("cautions")["cautions"],
        "source": history_in(sentences.sources(report)[1], page.units),
        "made": words.full_date(page.made),
    }


def _jobs(page: Page) -> list[tuple[str, str, str]]:
    """Jobs and stages of the row that leads: what, when, and between which days it begins."""
    plan, timetable = page.lead_dates
    if page.decision.lead.is_hopeless:
        return []
    return [(row["what"], row["when"], row["shift"]) for row in _events(timetable, plan)]


def sure(page: Page) -> Content:
    """How sure that is, in words."""
    report = page.report
    return {
        "how_sure": words.how_sure(report),
        "spells": words.shows_spells(report),
        "looked_back": sentences.looked_back(report),
        "drift": sentences.drift(report),
        "average": sentences.average(report),
        "limits": words.limits_doubt(report, page.units),
        "doubts": page.caveats,
    }


# --- freezes, years, crops ----------------------------------------------------------------


def _file(table: xr.Dataset, what: str, page: Page) -> assets.Download:
    """A table to keep."""
    return assets.table(table, f"{page.report.garden.name} {what}", page.caveats)


def space(page: Page) -> Content:
    """When the gardener's own space serves, and what would make a crop work that does badly."""
    found = page.report.space_verdict
    return {
        "name": "" if found is None else found.attrs["cover"],
        "said": space_and_mends(page.report, page.units),
    }


def freezes(page: Page) -> Content:
    """The odds of a freeze by date."""
    report = _leading_freezes(page.report)
    odds = report.freeze_odds
    if odds.attrs.get("changes"):
        odds = odds.assign_attrs(changes=history_in(str(odds.attrs["changes"]), page.units))

    figure = freeze.freeze_curve(
        report.freeze_chance, odds, units=page.units, place=_place_and_years(report), narrow=True
    )
    tables = [odds.sel(threshold=threshold) for threshold in odds["threshold"].values]
    first = tables[0]
    return {
        "figure": assets.drawn_once(figure, page.units),
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
    days = [odds[half].sel(odds=list(SHOWN_ODDS)) for half in ("last_spring", "first_autumn")]
    has_dates = any(bool(each.notnull().any()) for each in days)
    return {
        "nights": f"Nights of {sentences_climate.colder(threshold, page.units)}",
        "meaning": _meaning(page.report.crop) if kills else "",
        "rows": [chance_row(odds.sel(odds=chance)) for chance in SHOWN_ODDS] if has_dates else [],
        "between": sentences.frost_free_days(odds),
        "note": sentences.freeze_note(odds),
    }


def _meaning(crop: Crop) -> str:
    """What a night at the crop's own threshold does."""
    if crop.is_perennial:
        return f", which spoil the fruit or shoots of {plural(crop)}"
    return f", which kill young {plural(crop)} in the open"


def chance_row(odds: xr.Dataset) -> Content:
    """Dates of a freeze at one level of odds."""
    days = float(odds["freeze_free_days"])
    return {
        "chance": in_ten(float(odds["odds"])),
        "spring": sentences.date(float(odds["last_spring"])),
        "autumn": sentences.date(float(odds["first_autumn"])),
        "days": "no limit" if np.isnan(days) else fixed(days),
    }


def comfort(page: Page) -> Content:
    """In how many years each week suits the crop."""
    report = page.report
    figure = plot_comfort(report, units=page.units, narrow=True)
    return {
        "figure": assets.drawn_once(figure, page.units),
        "alt": words.comfort_title(report),
        "crop": plural(report.crop),
        "likes": sentences.limits(report.comfortable, page.units),
        "bears": sentences.limits(report.band, page.units),
        "bands": sentences.two_bands(report, page.units),
        "need": sentences.need(report),
        "both": sentences.window_and_harvest(report) if page.decision.most.harvested else [],
    }


YEARS_AS_THEY_WERE = (
    "Each line is a year as it was. Counts of harvests elsewhere on this page move the years to "
    "today's climate, so they may differ."
)


def yearly(page: Page) -> Content:
    """The window of every year, and what became of each plan in it."""
    report = page.report
    return {
        "window": WINDOW_NAMES[report.part],
        "crop": plural(report.crop),
        # Of a crop that stands through the winter no spell could be long enough.
        "need": report.need_days if _is_held_by_spells(report) else 0,
        "plans": words.titles(report),
        "rows": [_year(report, int(season)) for season in report.window["season"].values],
        "climate": "" if report.today is None else YEARS_AS_THEY_WERE,
        "file": _file(_with_outcomes(report), "year by year", page),
    }


def _is_held_by_spells(report: GardenReport) -> bool:
    return report.crop.is_perennial or not stands_through_winter(report)


def _year(report: GardenReport, season: int) -> Content:
    """One year's window, and what became of each plan in it."""
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
    ranked = page.report.ahead.ranked_crops
    by_rank = ranked.sortby("rank")
    _, first = np.unique(by_rank["crop"].values, return_index=True)
    best = by_rank.isel(plan=np.sort(first))
    own = page.report.crop.name
    rows = [_suited(best.isel(plan=i), own) for i in range(best.sizes["plan"])]
    return {
        "finding": suiting_sentence(ranked),
        "rows": rows[:SHOWN_CROPS],
        "others": rows[SHOWN_CROPS:],
        "file": _file(by_rank, "crops that suit", page),
    }


def _suited(row: xr.Dataset, own: str) -> Content:
    """One crop of the list of crops that suit: its way, dates, counts and limit."""
    limit = str(row["limit"].item())
    days = [float(row[f"{end}_day"]) for end in ("first", "last")]
    harvested, known = (round(float(row[f"elsewhere_{name}"])) for name in ("harvested", "known"))
    growth = "" if np.isnan(row["growth"]) else fixed(float(row["growth"]), 2)
    is_perennial = row["propagation"] == "perennial"
    has_none = bool(known) and not harvested  # what a date did in the years that chose it is no use
    return {
        "crop": str(row["crop"].item()),
        "own": row["crop"].item() == own,
        "way": "" if has_none else way(row),
        "dates": "none" if has_none else "" if is_perennial else _dates(*days),
        "harvests": f"{harvested} of {known}" if known else UNKNOWN,
        "good": "" if has_none else sentences.percent(float(row["good_share"])),
        "growth": "" if has_none else growth,
        "limit": limit if known else "too many gaps in the record",
    }


def _dates(first: float, last: float) -> str:
    if np.isnan(first):
        return "none"
    return sentences.run_of_dates(first, last)


# --- where it comes from ------------------------------------------------------------------


def sources(page: Page) -> Content:
    """Where the numbers come from, what is missing, the licence, and who set the limits."""
    report = page.report
    return {
        "sources": named_sources(report, page.units),
        "history": history_in(str(report.daily.attrs.get("history", "")), page.units).splitlines(),
        "crop": report.crop.name,
        "explained": explain_crop(report.crop, page.units).split("\n\n"),
    }


def named_sources(report: GardenReport, units: Units = "C") -> list[str]:
    """Where the numbers come from, variables called what people call them."""
    told = (_named(text) for text in sentences.sources(report))
    return [_ISO.sub(_as_date, history_in(text, units)) for text in told]


_ISO = re.compile(r"(\d{4})-(\d\d)-(\d\d)")


def _as_date(iso: re.Match[str]) -> str:
    """A date as the page writes all others."""
    year, month, day = map(int, iso.groups())
    return f"{day} {MONTHS[month - 1]} {year}"


_CHANGE = re.compile(r"by ([+\N{MINUS SIGN}-]?\d+\.\d+)(?: to ([+\N{MINUS SIGN}-]?\d+\.\d+))? degC")


def history_in(text: str, units: Units) -> str:
    """What was done with a record, in the reader's units and by the names that people use.

    Examples
    --------
    >>> history_in("every year moved: tmin by +1.44 degC", "F")
    'every year moved: nights by +2.59 °F'
    """
    for name, called in (("tmin", "nights"), ("tmax", "days"), ("tmean", "daily means")):
        text = re.sub(rf"\b{name} by ", f"{called} by ", text)

    def change(found: re.Match[str]) -> str:
        ends = (float(end.replace("\N{MINUS SIGN}", "-")) for end in found.groups() if end)
        shown = (signed(float(difference_from_celsius(end, units)), 2) for end in ends)
        return f"by {' to '.join(shown)} °{units}"

    return _CHANGE.sub(change, text).replace("degC", "°C")


def _named(text: str) -> str:
    """A line on a variable, led by the name that people use."""
    key, colon, rest = text.partition(": ")
    if key not in VARIABLES:
        return text
    name = VARIABLES[key].long_name
    return f"{name[:1].upper()}{name[1:]}{colon}{rest}"


def cautions(page: Page) -> Content:
    """What to mind, and when the page was made."""
    return cautions_of(page.report.crop, page.made)


def cautions_of(crop: Crop, made: dt.date | None) -> Content:
    """What to mind of odds, covers and a crop, and when and by what a page was made."""
    from climwin import __version__

    texts = [*sentences.CAUTIONS, *crop.cautions]
    return {"cautions": texts, "made": words.full_date(made), "version": __version__}


SECTIONS: dict[str, Callable[[Page], Content]] = {
    "decision": decision,
    "space": space,
    "sheet": sheet,
    "reason": reason,
    "live": live,
    "sure": sure,
    "ways": ways,
    "season": lambda page: running_season(page.report, page.units, page.made),
    "freezes": freezes,
    "comfort": comfort,
    "yearly": yearly,
    "suiting": suiting,
    "sources": sources,
    "cautions": cautions,
}
"""Each section by the name of its macro in ``templates/parts.html.j2``."""
