"""Findings in plain words: results in, sentences out."""

from __future__ import annotations

import re

import numpy as np
import xarray as xr

from climwin.climate.trends import CLEAR_P
from climwin.core.formatting import date as date
from climwin.core.formatting import fixed
from climwin.core.formatting import percent as percent
from climwin.core.formatting import span as span
from climwin.core.formatting import temperature as temperature
from climwin.core.formatting import years as years
from climwin.core.provenance import scenario_of
from climwin.core.schema import VARIABLES, Units, from_celsius
from climwin.core.seasons import day_name, day_number, day_of_year
from climwin.core.stats import FEW_YEARS, LEAST_YEARS
from climwin.core.status import UNKNOWN
from climwin.core.wording import WINDOW_NAMES, capitalized, say
from climwin.crops.model import Crop, Limits
from climwin.io.quality import KINDS, describe
from climwin.planning.evaluate import best_dates as find_best_dates
from climwin.planning.plan import Plan
from climwin.report.garden import GardenReport
from climwin.stations.cache import attribution

PARTS = WINDOW_NAMES
_SAID = {
    "title": "Record",
    "comment": "The file says",
    "missing_years": "Missing years",
    "short_years": "Years cut short",
}
NEVER = say("never_so_likely")

CAUTIONS = (
    "Odds are counts of past years, not a forecast: next year may be unlike any of them.",
    "A station's thermometer stands in open air at about 2 m. A hollow, a wall or a slope of your "
    "own can be several degrees colder or warmer; a thermometer in your garden tells.",
    "Covered spaces: ventilate on sunny days; keep heaters, fumes and electricity to what their "
    "makers and local rules allow, and have wiring done by a licensed person.",
    "Buy certified seed and planting stock where your region has plant-health rules, and ask your "
    "local advisory service before you rely on a date.",
)


def band(crop: Crop, units: Units) -> str:
    """A crop's band of daily mean temperature."""
    return limits(crop.band, units)


def too_short(report: GardenReport) -> str:
    """The finding on the window."""
    found = report.shorter
    finding = say(
        "window_too_short",
        window=WINDOW_NAMES[report.part],
        count=report.need_days,
        crop=report.crop.name,
        shorter=int(found["shorter"]),
        years=years(int(found["known"])),
    )
    what_if = scenario_of(report.daily)
    if what_if:
        return f"{what_if.capitalize()}: {finding[0].lower()}{finding[1:]}".replace("degc", "degC")
    return finding


def how_sure(report: GardenReport) -> str:
    """The interval of the share, and the years that could not be told, in words."""
    found = report.shorter
    text = say(
        "true_odds_too_short",
        years=years(int(found["known"])),
        low=percent(float(found["low"])),
        high=percent(float(found["high"])),
    )
    unknown = int(found["unknown"])
    if unknown:
        text += " " + say("years_hidden_by_gaps", count=unknown)
    if int(found["known"]) < LEAST_YEARS:
        text += f" {FEW_YEARS}"
    return text


def drift(report: GardenReport) -> str:
    """The trend of the window's length, and what it does not prove."""
    slope, p = float(report.shorter["trend"]), float(report.shorter["trend_p"])
    if np.isnan(slope):
        return "Too few years to speak of a trend."
    if abs(slope) < 0.05:
        return "The window's length shows no trend. That does not prove that nothing changes."
    way = "longer" if slope > 0 else "shorter"
    change = f"{abs(slope):.1f} days a decade {way}"
    if p < CLEAR_P:
        return (
            f"The window has become {change} over these years. A trend of the past need not go on."
        )
    return (
        f"No clear trend: the window's length changed by {change}, no more than chance brings "
        f"(p = {p:.2f}). That does not prove that nothing changes."
    )


def plan_title(plan: Plan) -> str:
    """A plan as the head of a column."""
    return capitalized(plan.name)


def plan_odds(plan: Plan, odds: xr.Dataset) -> str:
    """One plan's odds in a sentence."""
    return say(
        "plan_harvested",
        plan=plan_title(plan),
        crop=plan.crop.name,
        harvested=int(odds["harvested"]),
        years=years(int(odds["known"])),
        good=int(odds["good"]),
    )


def failures(odds: xr.Dataset) -> str:
    """What failed the other years, most frequent first."""
    counts = {
        str(r): int(n) for r, n in zip(odds["reason"].values, odds["failed_by"].values, strict=True)
    }
    most_first = sorted(counts.items(), key=lambda each: -each[1])
    reasons = [say("years_failed_by", reason=name, count=n) for name, n in most_first if n]
    return ", ".join(reasons) or say("none_failed")


def comparison(plan: Plan, other: Plan, compared: xr.Dataset) -> str:
    """Two plans against each other on the same years."""
    text = say(
        "plans_compared",
        years=years(int(compared["known"])),
        first=plan.name,
        second=other.name,
        only_first=int(compared["only_plan"]),
        only_second=int(compared["only_other"]),
        both=int(compared["both"]),
        neither=int(compared["neither"]),
    )
    low, high = float(compared["low"]), float(compared["high"])
    verdict = "neither_is_better"
    if low > 0:
        verdict = "first_is_better"
    elif high < 0:
        verdict = "second_is_better"
    return f"{text} {say(verdict)}"


def conditions(plan: Plan) -> list[str]:
    """What a year must give for a plan to succeed in it."""
    needs = plan.conditions
    nights = "no night" if not needs.killing_freezes else f"at most {needs.killing_freezes} nights"
    told = [
        f"at least {percent(needs.share_in_band)} of each stage's days outdoors lie in its band",
        f"{nights} so cold that it kills the stage",
    ]
    if needs.warm_soil and not plan.weeks_under_cover and not plan.crop.wakes:
        told.append("the soil is warm enough to sow for five days up to the start")
    return told


def best_way(report: GardenReport) -> str:
    """The plan with the best odds, in a sentence."""
    return plan_odds(report.plans[report.best], report.odds[report.best]) + "."


def headline(report: GardenReport) -> str:
    """The finding in two sentences: the window, and which way does best."""
    return f"{too_short(report)}. {best_way(report)}"


def average(report: GardenReport) -> str:
    """The window of the average curve, which is not the average window."""
    usual = float(report.window["average_length"])
    if np.isnan(report.median_length):
        return say("average_window_only", count=round(usual))
    return say("average_window", count=round(usual), median=fixed(report.median_length))


def after_freeze(crop: Crop, units: Units) -> str:
    """How freezes bound the window."""
    killed = temperature(crop.killed_at_c, units, 1)
    return f", after the last night of {killed} or colder that kills young plants"


def interval(odds: xr.Dataset) -> str:
    """Interval of a plan's odds."""
    return say("span", first=percent(float(odds["low"])), last=percent(float(odds["high"])))


def best_dates(swept: xr.Dataset) -> str:
    """Best run of start dates of a sweep, with the odds it reaches."""
    share = swept["share"]
    if not float(share.max()) > 0:
        return say("no_best_dates")
    first, last = find_best_dates(swept)
    top = percent(float(share.max()))
    dates = day_name(first) if first == last else span(first, last)
    return say("best_dates", dates=dates, best=top)


def harvest_begins(swept: xr.Dataset) -> str:
    """When the harvest of one start date of a sweep begins."""
    first, middle, last = swept["harvest_day"].values
    if np.isnan(middle):
        return say("no_harvest")
    return say("harvest_begins", middle=date(middle), first=date(first), last=date(last))


def starts(plan: Plan, swept: xr.Dataset) -> str:
    """Best start dates of a plan; none to tell where its crop wakes by itself."""
    return "" if plan.crop.wakes else best_dates(swept)


def set_out(plan: Plan) -> str:
    """When the plants leave the cover."""
    if plan.crop.wakes:
        return "stands there already"
    if not plan.weeks_under_cover:
        return "sown in place"
    return day_name(day_number(plan.start) + 7 * plan.weeks_under_cover)


def ready(plan: Plan) -> str:
    """Usual end of the harvest."""
    return day_name(day_number(plan.start) + plan.crop.days - 1)


def outcome(judged: xr.Dataset, year: int) -> str:
    """What became of a plan in one year."""
    if year not in judged["season"].values:
        return ""
    found = judged.sel(season=year)
    success = float(found["success"])
    return "unknown" if np.isnan(success) else "yes" if success else str(found["reason"].item())


def day_of(when: xr.DataArray) -> str:
    """Date without its year, such as ``"3 Jun"``."""
    stamp = when.values
    return "" if np.isnat(stamp) else day_name(int(day_of_year(stamp[None])[0]))


def length(window: xr.Dataset) -> str:
    """Length of one year's window, or what its gaps leave open."""
    if window["status"].item() == UNKNOWN:
        return f"{int(window['length_least'])} to {int(window['length_most'])}"
    return f"{int(window['length'])}"


def limits(range_c: Limits, units: Units) -> str:
    """A range of temperature."""
    low, high = (from_celsius(v, units) for v in (range_c.low_c, range_c.high_c))
    return f"{low:.0f} to {high:.0f} °{units}"


def freeze_note(odds: xr.Dataset) -> str:
    """Years behind the odds of a freeze, and how wide their middle is."""
    names = [
        f"{half}_{kind}" for half in ("last_spring", "first_autumn") for kind in ("known", "frozen")
    ]
    counts = {name: int(odds[name]) for name in names}
    middle = odds.sel(odds=0.5)
    text = (
        f"Years with such a night: in spring {counts['last_spring_frozen']} of "
        f"{counts['last_spring_known']}, in autumn {counts['first_autumn_frozen']} of "
        f"{counts['first_autumn_known']}."
    )
    low, high = float(middle["last_spring_low"]), float(middle["last_spring_high"])
    if np.isfinite(low) and np.isfinite(high):
        text += f" The middle spring date could as well be any from {span(low, high)}."
    return text


def set_aside(daily: xr.Dataset) -> list[str]:
    """Values that were set aside, day by day or run by run, and what they failed."""
    told = []
    for name in (v for v in VARIABLES if f"{v}_set_aside" in daily):
        kept = daily[f"{name}_set_aside"].dropna("time")
        failed = daily[f"{name}_flag"].sel(time=kept["time"]).values
        days = kept["time"].values.astype("datetime64[D]")
        new = (np.diff(days).astype(int) > 1) | (np.diff(failed) != 0) | (np.diff(kept.values) != 0)
        for run in np.split(np.arange(len(days)), np.flatnonzero(new) + 1):
            if len(run):
                first, last = str(days[run[0]]), str(days[run[-1]])
                when = first if first == last else f"{first} to {last}"
                test = KINDS[int(failed[run[0]]) - 1].replace("_", " ")
                value = f"{kept.values[run[0]]:.1f} {VARIABLES[name].units}"
                told.append(f"{when} {name} {value}: {test}")
    return sorted(told)


def _prose(text: str) -> str:
    """A note on a record in one line, without its ``key: value`` lines."""
    return " ".join(line for line in text.splitlines() if not re.match(r"[a-z_]+: ", line))


def sources(report: GardenReport) -> list[str]:
    """Where the record comes from, what it holds and lacks, and its licence."""
    attrs = report.daily.attrs
    told = [f"{said}: {_prose(attrs[key])}" for key, said in _SAID.items() if attrs.get(key)]
    told.insert(1, attribution(report.daily).replace("degC", "°C"))
    told += describe(report.coverage)
    return told
