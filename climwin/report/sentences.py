"""Findings in plain words: results in, sentences out."""

from __future__ import annotations

import re

import numpy as np
import xarray as xr

from climwin.core.provenance import scenario_of
from climwin.core.schema import VARIABLES, Units, from_celsius
from climwin.core.seasons import day_name, day_number, day_of_year
from climwin.core.stats import FEW_YEARS, LEAST_YEARS
from climwin.core.status import UNKNOWN
from climwin.crops.catalogue import Crop, Limits
from climwin.io.quality import KINDS, describe
from climwin.planning.evaluate import best_dates as find_best_dates
from climwin.planning.plan import Plan
from climwin.report.garden import GardenReport
from climwin.stations.cache import attribution

PARTS = {"longest": "Usable window", "rise": "Spring window", "fall": "Autumn window"}
_SAID = {
    "title": "Record",
    "comment": "The file says",
    "missing_years": "Missing years",
    "short_years": "Years cut short",
}
NEVER = "never so likely"

CAUTIONS = (
    "Odds are counts of past years, not a forecast: next year may be unlike any of them.",
    "A station's thermometer stands in open air at about 2 m. A hollow, a wall or a slope of your "
    "own can be several degrees colder or warmer; a thermometer in your garden tells.",
    "Covered spaces: ventilate on sunny days; keep heaters, fumes and electricity to what their "
    "makers and local rules allow, and have wiring done by a licensed person.",
    "Buy certified seed and planting stock where your region has plant-health rules, and ask your "
    "local advisory service before you rely on a date.",
)


def temperature(value_c: float, units: Units, digits: int = 0) -> str:
    """Temperature with its unit, such as ``"45 °F"``."""
    rounded = round(float(from_celsius(value_c, units)), digits) + 0.0  # no minus before a zero
    number = f"{rounded:g}".replace("-", "\N{MINUS SIGN}")
    return f"{number} °{units}"


def band(crop: Crop, units: Units) -> str:
    """A crop's band of daily mean temperature."""
    return limits(crop.band, units)


def date(day: float) -> str:
    """Day of the year in words, or that it never comes to it."""
    return NEVER if np.isnan(day) else day_name(day)


def span(low: float, high: float) -> str:
    """Two dates, low to high; an end that does not exist stays open."""
    return (
        f"{'…' if np.isnan(low) else day_name(low)} to {'…' if np.isnan(high) else day_name(high)}"
    )


def percent(share: float) -> str:
    """Share as a whole percentage."""
    return "unknown" if np.isnan(share) else f"{100 * share:.0f} %"


def years(count: int) -> str:
    """Number of years in words that agree."""
    return f"{count} year" + ("" if count == 1 else "s")


def too_short(report: GardenReport) -> str:
    """The finding on the window."""
    found = report.shorter
    finding = (
        f"{PARTS[report.part]} shorter than the {report.need_days} days {report.crop.name} needs "
        f"in {int(found['shorter'])} of {years(int(found['known']))}"
    )
    what_if = scenario_of(report.daily)
    if what_if:
        return f"{what_if.capitalize()}: {finding[0].lower()}{finding[1:]}".replace("degc", "degC")
    return finding


def how_sure(report: GardenReport) -> str:
    """The interval of the share, and the years that could not be told, in words."""
    found = report.shorter
    text = (
        f"From {years(int(found['known']))} of weather, the true odds of too short a window lie "
        f"between {percent(float(found['low']))} and {percent(float(found['high']))} "
        "(nine chances in ten)."
    )
    unknown = int(found["unknown"])
    if unknown:
        left = "it is" if unknown == 1 else "they are"
        text += f" In {years(unknown)} a gap in the record hides the answer; {left} left out."
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
    if p < 0.1:
        return (
            f"The window has become {change} over these years. A trend of the past need not go on."
        )
    return (
        f"No clear trend: the window's length changed by {change}, no more than chance brings "
        f"(p = {p:.2f}). That does not prove that nothing changes."
    )


def plan_title(plan: Plan) -> str:
    """A plan as the head of a column."""
    return plan.name[0].upper() + plan.name[1:]


def plan_odds(plan: Plan, odds: xr.Dataset) -> str:
    """One plan's odds in a sentence."""
    return (
        f"{plan_title(plan)}: {plan.crop.name} succeeds in {int(odds['succeeded'])} of "
        f"{years(int(odds['known']))}"
    )


def failures(odds: xr.Dataset) -> str:
    """What failed the other years, most frequent first."""
    counts = {
        str(r): int(n) for r, n in zip(odds["reason"].values, odds["failed_by"].values, strict=True)
    }
    told = [f"{name} {n}" for name, n in sorted(counts.items(), key=lambda c: -c[1]) if n]
    return ", ".join(told) or "none"


def comparison(plan: Plan, other: Plan, compared: xr.Dataset) -> str:
    """Two plans against each other on the same years."""
    first, second = int(compared["only_plan"]), int(compared["only_other"])
    known = int(compared["known"])
    text = (
        f"Of the {years(known)} known for both, only “{plan.name}” succeeded in {first} and only "
        f"“{other.name}” in {second}; both did in {int(compared['both'])}, neither in "
        f"{int(compared['neither'])}."
    )
    low, high = float(compared["low"]), float(compared["high"])
    if low > 0:
        return f"{text} The first is the better way here."
    if high < 0:
        return f"{text} The second is the better way here."
    return f"{text} The years are too few, or the ways too alike, to say which is better."


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
    shares = [float(odds["share"].fillna(-1)) for odds in report.odds]
    best = int(np.argmax(shares))
    return plan_odds(report.plans[best], report.odds[best]) + "."


def headline(report: GardenReport) -> str:
    """The finding in two sentences: the window, and which way does best."""
    return f"{too_short(report)}. {best_way(report)}"


def average(report: GardenReport) -> str:
    """The window of the average curve, which is not the average window."""
    usual = float(report.window["average_length"])
    middle = float(report.window["length"].median())
    return (
        f"The average curve alone promises {usual:.0f} days; of the real windows half were "
        f"shorter than {middle:.0f}."
    )


def after_freeze(crop: Crop, units: Units) -> str:
    """How freezes bound the window."""
    killed = temperature(crop.killed_at_c, units, 1)
    return f", after the last night of {killed} or colder that kills young plants"


def interval(odds: xr.Dataset) -> str:
    """Interval of a plan's odds."""
    return f"{percent(float(odds['low']))} to {percent(float(odds['high']))}"


def best_dates(swept: xr.Dataset) -> str:
    """Best run of start dates of a sweep, with the odds it reaches."""
    share = swept["share"]
    if not float(share.max()) > 0:
        return "none: it succeeds from no start date"
    first, last = find_best_dates(swept)
    top = percent(float(share.max()))
    days = " to ".join(dict.fromkeys([day_name(first), day_name(last)]))
    return f"{days} (up to {top})"


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
