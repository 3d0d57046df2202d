"""What the page to share says, part by part: a report in, plain words and pictures out.

Each function makes one part, as values for the template's macro of the same name.
"""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

import xarray as xr

from climwin.core.schema import VARIABLES, Units
from climwin.core.seasons import DAYS, day_name, day_number
from climwin.crops.model import Stage
from climwin.page import assets
from climwin.page.live import numbers
from climwin.page.tables import Content, Page, freeze_table
from climwin.planning.evaluate import best_dates
from climwin.planning.plan import Plan
from climwin.planning.timetable import dated_plan
from climwin.plot import style, summary
from climwin.report import sentences
from climwin.report.caveats import caveats
from climwin.report.garden import GardenReport

if TYPE_CHECKING:
    from matplotlib.figure import Figure

# --- the answer ---------------------------------------------------------------------------


def finding(page: Page) -> Content:
    """The finding in one sentence, and which way does best."""
    report = page.report
    label = style.scenario_key(style.facts(report.windows, report.daily.attrs))
    return {
        "place": f"{report.garden.name}, {report.crop.name}",
        "scenario": label[:1].upper() + label[1:],
        "finding": sentences.too_short(report),
        "best": sentences.best_way(report),
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
        "band": sentences.band(report.crop, page.units),
        "after_freeze": sentences.after_freeze(report.crop, page.units),
    }


def live(page: Page) -> Content:
    """Numbers for the chart that a hand can move."""
    return {"numbers": numbers(page.report, page.units), "crop": page.report.crop.name}


def dates(page: Page) -> Content:
    """What to do and when: each way's dates with their odds, the best way first."""
    report = page.report
    shares = [float(odds["share"].fillna(-1)) for odds in report.odds]
    order = sorted(range(len(shares)), key=lambda i: -shares[i])
    return {"crop": report.crop.name, "ways": [_way(page, i) for i in order]}


def _way(page: Page, number: int) -> Content:
    report = page.report
    plan, odds = report.plans[number], report.odds[number]
    minded = "\n".join(caveats(report, page.made, page.units))
    dated = dated_plan(plan, report.daily).assign_attrs(comment=minded)
    year = assets.next_year(plan, report.daily, page.made)
    rows = [_event(dated.sel(event=name), plan) for name in map(str, dated["event"].values)]
    return {
        "title": sentences.plan_title(plan),
        "worked": f"{int(odds['succeeded'])} of {sentences.years(int(odds['known']))}",
        "interval": sentences.interval(odds),
        "never": not int(odds["succeeded"]),
        "best": sentences.starts(plan, report.swept[number]),
        "outside": _outside(plan, report.swept[number]),
        "rows": rows,
        "year": year,
        "file": assets.calendar(report, dated, year, page.made),
    }


def _outside(plan: Plan, swept: xr.Dataset) -> str:
    """The plan's start where it is not among the best dates."""
    if plan.crop.wakes or not float(swept["share"].max()) > 0:
        return ""
    first, last = best_dates(swept)
    start = day_number(plan.start)
    return "" if (start - first) % DAYS <= (last - first) % DAYS else day_name(start)


def _event(row: xr.Dataset, plan: Plan) -> Content:
    """One line of a timetable: what, when, how far it may shift, and the years that froze."""
    name = str(row["event"].item())
    begin, end, first, last = (
        float(row[key]) for key in ("begin_day", "end_day", "begin_first", "end_last")
    )
    cover = f"in the {plan.cover}" if plan.weeks_under_cover else "in place"
    does = {"start": f"Sow or plant {cover}", "set out": "Set out in the open"}
    if plan.crop.wakes and name == "start":
        does, name = {}, "wakes by itself"
    return {
        "what": does.get(name) or f"{name[:1].upper()}{name[1:]}",
        "when": sentences.span(begin, end) if end > begin else day_name(begin),
        "shift": "" if name in does or first == last else sentences.span(first, last),
        "killed": f"{int(row['killed'])} of {int(row['killed_known'])}",
        "does": name in does,
    }


def sheet(page: Page) -> Content:
    """The summary on paper: the dates first, for the shed's door."""
    report = page.report
    return {
        **finding(page),
        "ways": [_column(way) for way in dates(page)["ways"]],
        "sure": sentences.how_sure(report),
        "freezes": freeze_table(report.freeze_odds.isel(threshold=0), page),
        "cautions": cautions(page)["cautions"],
        "source": sentences.sources(report)[1],
        "made": page.made,
    }


def _column(way: Content) -> Content:
    """A way of growing on the sheet: what to do, the last stage, and the odds."""
    does, last = [row for row in way["rows"] if row["does"]], way["rows"][-1]
    told = [*((row["what"], row["when"]) for row in does), (last["what"], last["when"])]
    outside = f"; {way['outside']} is not among them" if way["outside"] else ""
    told.append(("Worked in", way["worked"]))
    if way["best"]:
        told.append(("Best start dates", way["best"] + outside))
    return {"title": way["title"], "rows": told}


def sure(page: Page) -> Content:
    """How sure that is, in words."""
    report = page.report
    drift = sentences.drift(report)
    return {
        "how_sure": sentences.how_sure(report),
        "drift": drift,
        "chance": "p = " in drift,
        "average": sentences.average(report),
        "doubts": caveats(report, page.made, page.units),
    }


# --- where it comes from ------------------------------------------------------------------


def sources(page: Page) -> Content:
    """Where the numbers come from, what is missing, the licence, and who set the limits."""
    report = page.report
    return {
        "sources": named_sources(report),
        "history": str(report.daily.attrs.get("history", "")).replace("degC", "°C").splitlines(),
        "crop": report.crop.name,
        "stages": [_stage(stage, page.units) for stage in report.crop.stages],
    }


def named_sources(report: GardenReport) -> list[str]:
    """Where the numbers come from, variables called what people call them."""
    return [_ISO.sub(_as_date, _named(text)) for text in sentences.sources(report)]


_ISO = re.compile(r"(\d{4})-(\d\d)-(\d\d)")


def _as_date(found: re.Match[str]) -> str:
    """A date as the page writes all others."""
    year, month, day = map(int, found.groups())
    return f"{day} {day_name(day_number(f'{month:02}-01')).split()[1]} {year}"


def _named(text: str) -> str:
    """A line on a variable, led by the name that people use."""
    key, colon, rest = text.partition(": ")
    if key not in VARIABLES:
        return text
    name = VARIABLES[key].long_name
    return f"{name[:1].upper()}{name[1:]}{colon}{rest}"


def _stage(stage: Stage, units: Units) -> Content:
    told = (stage.days, stage.tolerates, stage.survives)
    return {
        "name": stage.name,
        "days": f"{stage.days.usual} ({stage.days.fewest} to {stage.days.most})",
        "band": sentences.limits(stage.tolerates, units),
        "killed": sentences.temperature(stage.survives.low_c, units, 1),
        "source": "; ".join(dict.fromkeys(part.source for part in told)),
    }


def cautions(page: Page) -> Content:
    """What to mind, and when the page was made."""
    from climwin import __version__

    told = [*sentences.CAUTIONS, *page.report.crop.cautions]
    return {"cautions": told, "made": page.made, "version": __version__}
