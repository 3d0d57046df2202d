"""Findings in plain words: results in, sentences out."""

from __future__ import annotations

import re

import numpy as np
import xarray as xr

from climwin.climate.hindcast import FIRST_YEARS, LEAST_FOLLOWED
from climwin.climate.trends import CLEAR_P
from climwin.core.formatting import (
    INCH_MM,
    between,
    days_long,
    difference_as_given,
    fixed,
    number,
    on_day,
    plain,
)
from climwin.core.formatting import date as date
from climwin.core.formatting import percent as percent
from climwin.core.formatting import span as span
from climwin.core.formatting import temperature as temperature
from climwin.core.formatting import weeks as weeks
from climwin.core.formatting import years as years
from climwin.core.provenance import scenario_in, scenario_of
from climwin.core.schema import VARIABLES, Units, from_celsius
from climwin.core.seasons import DAYS, day_name, day_number, day_of_year
from climwin.core.stats import FEW_YEARS, LEAST_YEARS, LEVEL
from climwin.core.status import UNKNOWN
from climwin.core.wording import WINDOW_NAMES, article, capitalized, say
from climwin.crops.bands import bearable_band, comfortable_band
from climwin.crops.model import Crop, Limits
from climwin.crops.naming import is_plural, plural
from climwin.io.quality import KINDS, describe
from climwin.planning.growth import COLD, GOOD_GROWTH, HOT, REASONS
from climwin.planning.over_sites import calendar_years
from climwin.planning.plan import OUTDOORS, Plan
from climwin.planning.schedule import best_dates as find_best_dates
from climwin.planning.spans import SEASONS
from climwin.report.garden import GardenReport
from climwin.report.spells import needs, spells, stands_through_winter
from climwin.shelter.covers import COVERS, Cover
from climwin.stations.cache import attribution

_SAID = {
    "title": "Record",
    "comment": "The file says",
    "missing_years": "Missing years",
    "short_years": "Years cut short",
    "doubtful_years": "Years in doubt",
}
NEVER = say("never_so_likely")
LEAST_ASKED = 10
"""Least number of earlier years for a sentence on how past odds did (common practice)."""

CAUTIONS = (
    "Odds are counts of past years, not a forecast.",
    "Your garden may be several degrees colder or warmer than the station. A thermometer there for "
    "one season will tell you how much.",
    "Under cover, ventilate on sunny days. Use heaters and electricity only as their makers and "
    "local rules allow, beware of fumes, and have wiring done by a licensed person.",
    "Buy certified seed and planting stock where your region has plant-health rules. Ask your "
    "local advisory service before you rely on a date.",
)


def band(crop: Crop, units: Units) -> str:
    """The daily means between which a crop's window is counted."""
    return limits(bearable_band(crop), units)


def finding(report: GardenReport, units: Units = "C") -> str:
    """The finding on the mild spell, led by the scenario where the weather was not as observed."""
    label, found = scenario_in(scenario_of(report.daily), units), long_enough(report)
    return f"{capitalized(label)}: {found[0].lower()}{found[1:]}" if label else found


def long_enough(report: GardenReport) -> str:
    """In how many years the mild spell was long enough, for one way of growing or for two."""
    if stands_through_winter(report) and not report.crop.is_perennial:
        return say("spell_through_winter", crop=plural(report.crop))
    zones, ways = spells(report).counts, needs(report)
    common = {
        "spell": WINDOW_NAMES[report.part],
        "crop": plural(report.crop),
        "enough": zones[2],
        "years": years(sum(zones)),
    }
    if len(ways) == 1 or not zones[1]:
        return say("spell_long_enough", **common)
    shorter, longer = ways
    return say(
        "spell_long_enough_ways",
        **common,
        way=longer.way,
        easier=shorter.way,
        enough_of_easier=zones[1] + zones[2],
    )


def two_bands(report: GardenReport, units: Units) -> str:
    """What is left of the mild spells if only days count in which the crop is comfortable.

    Nothing where limits were chosen by hand, or where as many years are long enough.
    """
    wide, narrow = report.shorter, report.shorter_in_comfort
    known = int(wide["known"])
    is_own = report.band == bearable_band(report.crop)
    is_fewer = int(narrow["known"]) == known and int(narrow["shorter"]) > int(wide["shorter"])
    if not (is_own and is_fewer):
        return ""
    name = plural(report.crop)
    in_comfort = say(
        "spell_in_comfort",
        crop=name,
        need=report.need_days,
        enough=known - int(narrow["shorter"]),
        years=years(known),
    )
    return (
        f"{capitalized(name)} can take days with a mean of "
        f"{limits(bearable_band(report.crop), units)}, and a mild spell counts them all. "
        f"{in_comfort.removesuffix('.')} ({limits(comfortable_band(report.crop), units)})."
    )


def need(report: GardenReport) -> str:
    """Source of the number of days that the crop needs."""
    if report.given_need_days is not None:
        return f"The need of {report.need_days} days was given."
    plan = report.plans[0]
    if not int(report.ahead.odds[0]["harvested"]):
        return (
            f"No year gave a harvest; the {report.need_days} days needed are those on the seed "
            "packet."
        )
    if report.crop.is_perennial:
        return (
            f"It takes {report.need_days} days from bloom, or first growth, to the end of the "
            "harvest."
        )
    return (
        f"{_begun_on(plan)}, the plants stand outdoors for {report.need_days} days before the "
        "first harvest of a typical year."
    )


def window_and_harvest(report: GardenReport) -> list[str]:
    """Why the window and the harvests of the first plan do not contradict each other.

    A window can be too short in a year with a harvest, and long enough in one without: what a
    reader would take for a contradiction is said with its reason.
    """
    grown = report.evaluated[0]
    window = report.window.reindex(season=grown["season"])
    # A gap in the spell may leave its length open, though the harvest is known.
    known = grown["harvested"].notnull()
    short = known & (window["length_most"] < report.need_days)
    long_enough = known & (window["length_least"] >= report.need_days)
    harvest = grown["harvested"] == 1
    texts = []
    in_short, all_short = int((short & harvest).sum()), int(short.sum())
    if in_short:
        texts.append(_despite_short_window(report, in_short, all_short))
    elif all_short:
        texts.append(f"None of {_of_years(all_short, 'too short a spell')} gave a harvest.")
    failed = grown.where(long_enough & ~harvest, drop=True)
    if failed.sizes["season"]:
        causes = failures_by_stage(failed, total_is_told=True)
        texts.append(
            f"Of {_of_years(int(long_enough.sum()), 'a long enough spell')}, "
            f"{failed.sizes['season']} gave no harvest ({causes}){_as_they_were(report)}. "
            f"{capitalized(_blind_to(report))}"
        )
    if texts:
        first = texts[0]
        texts[0] = f"{_begun_on(report.plans[0])}: {first[0].lower()}{first[1:]}"
    return texts


def _as_they_were(report: GardenReport) -> str:
    """Note that years count as they were, if harvests elsewhere are those of today's climate."""
    return "" if report.today is None else ", counting the years as they were"


def _blind_to(report: GardenReport) -> str:
    """What a window does not see."""
    if report.crop.is_perennial:
        return "a mild spell says nothing about the winter before it, nor about single frosts."
    return (
        "a mild spell counts whenever it comes, whatever the date you sow on and whatever single "
        "hot days and cold nights it holds."
    )


def _of_years(count: int, what: str) -> str:
    return f"the {years(count)} with {what}"


def _despite_short_window(report: GardenReport, harvests: int, short: int) -> str:
    enough, less = report.growth_by_window
    years_so = _of_years(short, "too short a spell")
    in_years = (
        f"all {years_so.removeprefix('the ')}" if harvests == short else f"{harvests} of {years_so}"
    )
    it, dislikes, was = (
        ("they", "do not like", "were")
        if is_plural(report.crop)
        else ("it", "does not like", "was")
    )
    how = f"grew on through weeks {it} {dislikes}"
    if report.crop.winter is not None and report.need_days > DAYS / 2:
        how = "hardly grew in winter, and made up for it in spring"
    text = f"In {in_years} {it} gave a harvest all the same. {capitalized(it)} {how}"
    if np.isnan(enough):
        return f"{text} (growth {fixed(less, 2)})."
    if less >= enough:
        return (
            f"{text}, and {was} none the worse (growth {fixed(less, 2)}, otherwise "
            f"{fixed(enough, 2)})."
        )
    return f"{text} (growth {fixed(less, 2)} in such years, otherwise {fixed(enough, 2)})."


def how_sure(report: GardenReport) -> str:
    """In how many of the next ten years the window is likely too short, and its long-run odds.

    Today's climate leads where the record can be moved to it; how many the record as it is says
    comes next. Then the years that could not be told.
    """
    found, today = report.shorter, report.shorter_today
    leads, of_today = (found, "") if today is None else (today, "_today")
    text = say(f"next_years_too_short{of_today}", next=next_years(leads))
    if today is not None:
        now, before = next_years(today), next_years(found)
        name = "next_years_by_the_record_too" if now == before else "next_years_by_the_record"
        text += f" {say(name, next=before)}"
    long_run = say(
        f"long_run_too_short{of_today}",
        years=years(int(leads["known"])),
        low=percent(float(leads["low"])),
        high=percent(float(leads["high"])),
    )
    text = " ".join([text, long_run, say("what_odds_cover")])
    # The caveats mention the years that depend on draws.
    left_out = int(found["unknown"]) - int(found["leaning"])
    if left_out:
        text += " " + say("years_hidden_by_gaps", count=left_out)
    if int(found["known"]) < LEAST_YEARS:
        text += f" {FEW_YEARS}"
    return text


def next_years(odds: xr.Dataset, prefix: str = "") -> str:
    """How many of the next ten years are likely, such as ``2 to 6``."""
    low, high = (float(odds[f"{prefix}next_{end}"]) for end in ("low", "high"))
    if np.isnan(low):
        return say("unknown_number")
    return fixed(low) if low == high else say("span", first=fixed(low), last=fixed(high))


def looked_back(report: GardenReport) -> str:
    """How often ranges of the next ten years, given in earlier years, would have held.

    Nothing where fewer than ten years could be asked, which prove nothing; see
    `climwin.hindcast`.
    """
    # The first can be asked after 30 years, the last while enough years follow it.
    if calendar_years(report.daily) < FIRST_YEARS + LEAST_ASKED + LEAST_FOLLOWED - 1:
        return ""
    found = report.hindcast
    if found is None:
        return ""
    judged = (found["followed"] >= LEAST_FOLLOWED).any("question")
    asked = found["year"].where(judged, drop=True).values
    if len(asked) < LEAST_ASKED:
        return ""
    rule = "record" if report.today is None else "today"
    held = {name: float(found["held"].sel(kind="all", rule=name)) for name in (rule, "count")}
    return (
        f"Had you asked at the end of each year from {int(asked[0])} to {int(asked[-1])}, the "
        f"ranges given for the next ten years would have held {percent(held[rule])} of the time; "
        f"those of a plain count of 30 years, {percent(held['count'])}."
    )


def drift(report: GardenReport) -> str:
    """The trend of the window's length, and what it does not prove."""
    slope, p = float(report.shorter["trend"]), float(report.shorter["trend_p"])
    if np.isnan(slope):
        return "Too few years to speak of a trend."
    if abs(slope) < 0.05:
        return "The mild spell has grown neither longer nor shorter."
    way = "longer" if slope > 0 else "shorter"
    change = f"{fixed(abs(slope), int(abs(slope) < 10))} days a decade {way}"
    if p < CLEAR_P:
        return f"The mild spell has become {change} over these years. A past trend need not go on."
    return f"No clear trend: the mild spell became {change}, no more than chance would bring."


def _begun_on(plan: Plan) -> str:
    """How and when a plan begins, as a sentence opens with it."""
    if plan.crop.is_perennial:
        return plan_title(plan)
    start = day_name(day_number(plan.start))
    in_prose = f"on {on_day(day_number(plan.start))}"
    return capitalized(plan.name.replace(start, in_prose).removeprefix("bought plants, "))


def plan_title(plan: Plan) -> str:
    """A plan as the heading of a column."""
    return capitalized(plan.name)


def failures(odds: xr.Dataset) -> str:
    """Reasons for the failed years, most frequent first."""
    counts = {
        reason_in_words(str(r)): int(n)
        for r, n in zip(odds["reason"].values, odds["failed_by"].values, strict=True)
    }
    return _counted(counts)


def reason(year: xr.Dataset) -> str:
    """What failed one year of an evaluated plan, with the stage where that matters."""
    text, stage = str(year["reason"].item()), str(year["stage"].item())
    if stage and text == REASONS[HOT]:
        return f"{text} for the {stage}"
    if stage and text == REASONS[COLD]:
        return f"{text} {_AT_STAGE.get(stage, f'at the {stage} stage')}"
    return reason_in_words(text)


_AT_STAGE = {
    "seedling": "as seedlings",
    "young plant": "as young plants",
    "leaf growth": "while in leaf",
    "flowers": "in flower",
}
"""When cold killed a crop, in a gardener's words."""

_IN_WORDS = {
    "no bed workable": "soil too cold or too wet to work",
    "did not come up: too cold": "did not come up in cold soil",
    "did not come up: too hot": "did not come up in hot soil",
    "chilled": "stunted by chilly days",
    "cold need not met": "winter too mild",
    "day length": "days too short or too long",
    "not ripe before the end": "not ripe in time",
    "killed inside: too cold": "killed by cold under cover",
    "killed inside: scorched": "scorched under cover",
    "winter kill": "killed by winter",
}
"""Reasons whose wording in a sentence differs from that in `REASONS`."""


def reason_in_words(listed: str) -> str:
    """A reason of `climwin.planning.growth.REASONS` as a sentence says it.

    Examples
    --------
    >>> reason_in_words("not ripe before the end"), reason_in_words("bolted")
    ('not ripe in time', 'bolted')
    """
    return _IN_WORDS.get(listed, listed)


def _cause_of_each_year(evaluated: xr.Dataset) -> list[str]:
    """What failed each year without a harvest, in order of years, see `reason`."""
    failed = evaluated.where(evaluated["harvested"] == 0, drop=True)
    return [reason(failed.isel(season=i)) for i in range(failed.sizes["season"])]


def failures_by_stage(evaluated: xr.Dataset, *, total_is_told: bool = False) -> str:
    """Causes of the years without a harvest, each with its count, most frequent first.

    A single cause has no count where the number of these years stands beside it already.
    """
    causes = _cause_of_each_year(evaluated)
    counts = {cause: causes.count(cause) for cause in dict.fromkeys(causes)}
    return causes[0] if total_is_told and len(counts) == 1 else _counted(counts)


def causes_by_stage(evaluated: xr.Dataset) -> list[str]:
    """Causes of the years without a harvest, most frequent first."""
    causes = _cause_of_each_year(evaluated)
    return sorted(dict.fromkeys(causes), key=causes.count, reverse=True)


def main_failure(evaluated: xr.Dataset) -> str:
    """What failed at least half of the years without a harvest; empty if nothing did."""
    causes = _cause_of_each_year(evaluated)
    most = max(dict.fromkeys(causes), key=causes.count, default="")
    return most if 2 * causes.count(most) >= len(causes) > 0 else ""


def _counted(counts: dict[str, int]) -> str:
    most_first = sorted(counts.items(), key=lambda each: -each[1])
    reasons = [say("years_failed_by", reason=name, count=n) for name, n in most_first if n]
    return ", ".join(reasons) or "none"


def comparison(plan: Plan, other: Plan, compared: xr.Dataset) -> str:
    """Two plans against each other on the same years."""
    if alike := did_alike(compared):
        return alike
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


def did_alike(compared: xr.Dataset) -> str:
    """Statement that two plans had harvests in the same years, or none; empty if they differ."""
    known, both = int(compared["known"]), int(compared["both"])
    if not known or int(compared["only_plan"]) or int(compared["only_other"]):
        return ""
    if not both:
        return say("both_never", years=years(known))
    return say("both_always", both=both, years=years(known))


_FORMED_IN = {"head initiation": "heads", "tuber set": "tubers", "silking": "ears"}
"""What a stage that is named for what goes on in it forms."""


def conditions(plan: Plan) -> list[str]:
    """What fails a year of a plan, each in a clause."""
    crop = plan.crop
    if crop.perennial is not None:
        fails = ["the winter kills it", "it gets too little winter cold to break its rest"]
        if crop.perennial.bloom is not None:
            fails.append("frost kills its flower buds, in winter or in bloom")
        return [*fails, "its harvest is not ripe before the season ends"]
    fails = [
        "the soil is too cold to work in time",
        "the soil is too cold or too hot for it to come up",
    ]
    if plan.weeks_under_cover:
        fails = ["cold or heat kills it under cover"]
    hot = [_FORMED_IN.get(stage.name, stage.name) for stage in crop.stages if stage.heat]
    may_apply = (
        (crop.chilling is not None, "cool weather stunts it"),
        (any(s.setting for s in crop.stages), "it is too cold or too hot for its fruit to set"),
        (bool(hot), f"heat spoils its {' or its '.join(dict.fromkeys(hot))}"),
        (bool(crop.cold_bolting or crop.vernalization or crop.long_day_bolting), "it bolts"),
        (crop.winter is not None, "the winter kills it, or is too mild for it"),
        (crop.bulbing is not None, "the days do not get long enough for bulbs"),
    )
    return [
        *fails,
        "a cold night kills it (hardened plants survive colder ones)",
        *(clause for applies, clause in may_apply if applies),
        "it is not ripe before the season ends",
    ]


def growth(odds: xr.Dataset) -> str:
    """How well it grew in the years with a harvest, as a share of what temperature allows."""
    return "no harvest" if np.isnan(odds["growth"]) else fixed(float(odds["growth"]), 2)


CHOSEN = (
    "Best dates are chosen several times over, each time with some years left out, and judged on "
    "those years alone. In the years that chose it, a date looks better than it is."
)

JUDGED = (
    "The rows above judge each way on its own date, in every year. The count beside the best dates "
    "is stricter: it judges each year by dates that were chosen without it. These come from fewer "
    "years, so a little is added. The long-run range of a way that starts on its best date is "
    "found likewise. That is why one way can have two counts."
)
"""Why a table of ways can have two counts of harvests for one of them."""

GOOD = (
    f"A harvest is called good if the temperatures allowed at least {plain(GOOD_GROWTH)} of full "
    "growth while the harvested part was forming (common practice)."
)


def good_years(odds: xr.Dataset) -> str:
    """In how many of the years the harvest was a good one."""
    return f"{int(odds['good'])} of {years(int(odds['known']))}"


def harvests(odds: xr.Dataset) -> str:
    """In how many of the years there was a harvest."""
    return f"{int(odds['harvested'])} of {years(int(odds['known']))}"


def days_outdoors(evaluated: xr.Dataset) -> str:
    """How long the plants stand outdoors before the first harvest."""
    days = evaluated["days_outdoors"].dropna("season").values
    if not len(days) or not days.any():  # what is cut as it sprouts waits for nothing
        return ""
    few, many = np.quantile(days, (0.1, 0.9), method="hazen")
    middle = int(np.median(days))  # as the need is counted
    if round(few) == round(many):
        return days_long(middle)
    return f"{days_long(middle)} ({between(few, many)} in 8 years out of 10)"


def cover_lift(plan: Plan, units: Units) -> str:
    """How much warmer the cover of a plan is assumed to be, and the source."""
    names = [plan.covered_by] if plan.cover != OUTDOORS else []
    texts = [_lift(each, units) for each in names]
    if plan.fleece_weeks and plan.cover != "fleece":
        texts.append(_lift(COVERS["fleece"], units))
    return " ".join(texts)


def _lift(cover: Cover, units: Units) -> str:
    night, day = (float(line.inside(0.0)) for line in (cover.coldest, cover.warmest))
    name = cover.name if cover.name == "fleece" else f"{article(cover.name)} {cover.name}"
    if cover.days:
        return (
            f"{capitalized(name)} is as warm as your logger found over {cover.days} days: a night "
            f"of {temperature(0, units)} outdoors is {temperature(night, units)} inside."
            f"{_left_open(cover, units)}"
        )
    if cover.coldest.slope == 0:
        return (
            f"{capitalized(name)} is taken to have {temperature(night, units)} at night and "
            f"{temperature(day, units)} by day ({cover.source})."
        )
    by_night, by_day = (difference_as_given(each, units) for each in (night, day))
    heated = ""
    if cover.floor_c is not None:
        heated = f", and never colder than {temperature(cover.floor_c, units)}"
    return (
        f"{capitalized(name)} is taken to be {by_night} warmer at night and {by_day} "
        f"by day{heated}, with vents open on bright days ({cover.source}). A thermometer "
        "inside yours will tell you more."
    )


def _left_open(cover: Cover, units: Units) -> str:
    """How far lines that a short log allows lie apart; the growing model takes one of them."""
    inside = [float(line.inside(0.0)) for line in cover.coldest.drawn]
    if not inside:
        return ""
    low, high = np.quantile(inside, ((1 - LEVEL) / 2, (1 + LEVEL) / 2))
    if high - low < _OPEN_C:
        return ""
    return (
        f" So short a log also allows {temperature(low, units)} to {temperature(high, units)}, so "
        "the odds of the earliest dates are less sure than they look. Let it run on."
    )


_OPEN_C = 2.0  # width of what the log allows from which it is said (our choice)


# --- recommended dates --------------------------------------------------------------------


def recommended(spans: xr.Dataset | None, done: str) -> list[str]:
    """Spans of recommended dates, each in a sentence; none for a perennial.

    `done` is what is done on the date: sown, planted or set out.
    """
    if spans is None:
        return []
    return [recommended_span(spans.isel(span=i), done) for i in range(spans.sizes["span"])]


def recommended_span(row: xr.Dataset, done: str) -> str:
    """One season's span of dates: odds, kind of variety, harvest, what it is best for."""
    days = [float(row[name]) for name in ("first_day", "last_day")]
    dates = day_name(days[0]) if days[0] == days[1] else span(*days)
    early, late = float(row["harvest_first"]), float(row["harvest_last"])
    season = str(row["season"].item())
    if season == SEASONS[-1] and late <= DAYS:  # begun in January, say, and harvested that year
        season = "before midwinter"
    text = (
        f"{capitalized(season)}: {dates} ({_varieties(row)}). "
        f"{capitalized(done)} about {day_name(float(row['best_day']))}, it gave a "
        f"harvest in {percent(float(row['elsewhere_share']))} of the years that had no part in "
        f"the choice (likely {interval(elsewhere(row))}). From that date a good one came in "
        f"{percent(float(row['good_share']))} of all years"
    )
    if np.isfinite(early):
        text += f". The harvest begins {harvest_span(early, late)}"
    best_for = str(row["best_for"].item()).replace("started", done)
    return f"{text}. Best for {best_for}."


def _varieties(row: xr.Dataset) -> str:
    """The kinds of variety for which a span's dates hold."""
    days = int((row["last_day"] - row["first_day"]) % DAYS) + 1
    early = int(row["early_days"])
    kind = f"{row['earliness'].item()} varieties"
    if not 0 < early < days:
        return kind
    if row["earliness"] == "early":
        return f"{kind}; on {days - early} of these {days} days main ones do as well"
    return f"{kind}; on {early} of these {days} days early ones are safer"


def harvest_span(first: float, last: float) -> str:
    """Two days after 31 December before the start, with the year where it is the next one."""
    text = day_name(first) if round(first) == round(last) else span(first, last)
    return f"{text} of the next year" if last > DAYS else text


def average(report: GardenReport) -> str:
    """The window of the average curve, which is not the average window."""
    usual = float(report.window["average_length"])
    if np.isnan(report.median_length):
        return say("average_window_only", count=round(usual))
    if not round(usual) and not report.median_length:
        return say("average_window_none")
    if round(usual) == DAYS and report.median_length == DAYS:
        return say("average_window_all_year")
    return say("average_window", count=round(usual), median=fixed(report.median_length))


def after_freeze(crop: Crop, units: Units) -> str:
    """How freezes bound the window."""
    killed = temperature(crop.killed_at_c, units, 1)
    if crop.is_perennial:
        return ""
    return f", after the last night of {killed} or colder, which kills young plants"


def likely_next(odds: xr.Dataset) -> str:
    """In how many of the next ten years a plan is likely to come to a harvest."""
    return f"likely {next_years(odds)} of the next ten"


def plan_ahead(report: GardenReport, number: int) -> str:
    """In how many of the next ten years a plan is likely to come to a harvest, in a sentence."""
    found = next_years(report.odds[number])
    which = "" if report.plans[number].crop.is_perennial else " from this date"
    if report.today is None:
        return f"A harvest{which} is likely in {found} of the next ten years."
    now = next_years(report.today.odds[number])
    same = "_too" if now == found else ""
    before = say(f"next_years_by_the_record{same}", next=found)
    likely = f"a harvest{which} is likely in {now} of the next ten years"
    return f"In today's climate {likely}. {before}"


def interval(odds: xr.Dataset) -> str:
    """Long-run odds of a plan, as a range."""
    return say("span", first=percent(float(odds["low"])), last=percent(float(odds["high"])))


def best_dates(swept: xr.Dataset) -> str:
    """Best start dates of a sweep, and their odds in years left out when the dates were chosen."""
    run = best_run_of(swept)
    if run is None:
        return say("no_best_dates")
    dates = run_of_dates(*run)
    date, best = day_name(float(swept["best_day"])), percent(float(swept["elsewhere_share"]))
    return say("best_dates", dates=dates, date=date, best=best)


ANY_TIME_DAYS = 330
"""Days from which a run of dates takes up the whole year, as told (common practice)."""


def run_of_dates(first: float, last: float) -> str:
    """The dates from one to another, as a table has them; a run may take up the whole year.

    Examples
    --------
    >>> run_of_dates(64, 64), run_of_dates(340, 40), run_of_dates(12, 11)
    ('5 Mar', '6 Dec to 9 Feb', 'almost any time of year')
    """
    if first == last:
        return day_name(first)
    return say("any_time") if is_any_time(first, last) else span(first, last)


def is_any_time(first: float, last: float) -> bool:
    """Whether a run of dates takes up nearly the whole year."""
    return (last - first) % DAYS >= ANY_TIME_DAYS


def best_run_of(swept: xr.Dataset) -> tuple[int, int] | None:
    """First and last of the best start days, if any comes to a harvest."""
    return find_best_dates(swept) if float(swept["share"].max()) > 0 else None


def elsewhere(odds: xr.Dataset) -> xr.Dataset:
    """Odds of a chosen date in years left out when it was chosen."""
    return xr.Dataset({end: odds[f"elsewhere_{end}"] for end in ("share", "low", "high")})


def harvest_begins(swept: xr.Dataset) -> str:
    """When the harvest of one start date of a sweep begins."""
    first, middle, last = swept["harvest_day"].values
    if np.isnan(middle):
        return say("no_harvest")
    return say("harvest_begins", middle=date(middle), first=date(first), last=date(last))


def variety(plan: Plan) -> str:
    """The kind of variety a plan grows."""
    if isinstance(plan.earliness, str):
        return f"{article(plan.earliness)} {plan.earliness} variety"
    return f"a variety of {plain(plan.earliness)} days"


def set_out(plan: Plan) -> str:
    """When the plants leave the cover."""
    if plan.crop.is_perennial:
        return "stands there already"
    if plan.plants == "bought":
        return day_name(day_number(plan.start))
    if not plan.weeks_under_cover:
        return plan.name.removesuffix(f" {day_name(day_number(plan.start))}")
    return day_name(day_number(plan.start) + 7 * plan.weeks_under_cover)


def ready(timetable: xr.Dataset) -> str:
    """When the harvest begins, as a spread over the years, from `timetable.plan_dates`."""
    harvest = timetable.sel(event="harvest")
    return spread(harvest, "begin") or "in no year so far"


def spread(row: xr.Dataset, end: str = "begin") -> str:
    """An event's date in the middle year and in 8 years of 10; empty where no year came so far."""
    middle = float(row[f"{end}_day"])
    if np.isnan(middle):
        return ""
    first, last = (float(row[f"{end}_{edge}"]) for edge in ("first", "last"))
    if round(first) == round(last):
        return harvest_span(middle, middle)
    return f"{harvest_span(middle, middle)} ({span(first, last)} in 8 years out of 10)"


def outcome(evaluated: xr.Dataset, year: int) -> str:
    """What became of a plan in one year."""
    if year not in evaluated["season"].values:
        return ""
    found = evaluated.sel(season=year)
    harvested = float(found["harvested"])
    if np.isnan(harvested):
        return UNKNOWN
    if not harvested:
        return reason(found)
    return "good harvest" if float(found["growth"]) >= GOOD_GROWTH else "harvest"


def day_of(when: xr.DataArray) -> str:
    """Date without its year, such as ``"3 Jun"``."""
    stamp = when.values
    return "" if np.isnat(stamp) else day_name(int(day_of_year(stamp[None])[0]))


def length(window: xr.Dataset) -> str:
    """Length of one year's window, or what its gaps leave open."""
    if window["status"].item() == UNKNOWN:
        least, most = int(window["length_least"]), int(window["length_most"])
        return UNKNOWN if (least, most) == (0, DAYS) else f"{least} to {most}"
    return f"{int(window['length'])}"


def limits(range_c: Limits, units: Units) -> str:
    """A range of temperature."""
    low, high = (from_celsius(v, units) for v in (range_c.low_c, range_c.high_c))
    return f"{between(low, high)} °{units}"


def freezes_in_other_climate(report: GardenReport) -> str:
    """Middle freeze dates in the climate that does not lead; nothing where there is one alone."""
    if report.today is None:
        return ""
    is_today = report.leading("spring freeze") == "today"
    other = report if is_today else report.today
    middle = other.freeze_odds.isel(threshold=0).sel(odds=0.5)
    days = [float(middle[name]) for name in ("last_spring", "first_autumn")]
    dates = " and ".join(date(day) for day in days if not np.isnan(day))
    are = "dates are" if not np.isnan(days).any() else "date is"
    if is_today:
        told, elsewhere = "are for today's climate", "Counting all years as they were"
    else:
        told, elsewhere = "count all years as they were", "In today's climate"
    other_dates = f" {elsewhere}, the typical {are} {dates}." if dates else ""
    return f"These dates {told}.{other_dates}"


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
        text += f" The typical last one of spring is likely between {date(low)} and {date(high)}."
    return text


def frost_free_days(odds: xr.Dataset) -> str:
    """Days without such a night in half of the years, and in nine of ten."""
    half, most = (float(odds["freeze_free_days"].sel(odds=share)) for share in (0.5, 0.9))
    if np.isnan(half):
        return "Half of the years or more had no such night between spring and autumn."
    text = f"Half of the years had {fixed(half)} days or more without such a night"
    return f"{text}." if np.isnan(most) else f"{text}; nine in ten had {fixed(most)} or more."


def set_aside(daily: xr.Dataset, units: Units = "C") -> list[str]:
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
                value = _value_in(kept.values[run[0]], VARIABLES[name].units, units)
                told.append(f"{when} {name} {value}: {test}")
    return sorted(told)


def _value_in(value: float, unit: str, units: Units) -> str:
    """A daily value with its unit: degC and mm, or degF and inches."""
    if units == "C":
        return f"{number(value, 1)} {unit}"
    if unit == "degC":
        return f"{number(float(from_celsius(value, units)), 1)} degF"
    return f"{number(value / INCH_MM, 2)} in"


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
