"""The decision in words: a verdict of at most eleven words, the numbers behind it, the reason."""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Iterable, Sequence

import numpy as np
import xarray as xr

from climwin.core.formatting import (
    days_long,
    difference_as_given,
    fixed,
    percent,
    temperature,
)
from climwin.core.formatting import on_day as on_day
from climwin.core.odds import odds_of
from climwin.core.provenance import scenario_in, scenario_of
from climwin.core.schema import Units, variable
from climwin.core.seasons import DAYS, by_year, day_name, day_number, smoothed
from climwin.core.wording import FULL_MONTHS, capitalized, say
from climwin.crops.model import Crop
from climwin.crops.naming import is_plural, plural
from climwin.planning.growth import HOT, NOT_RIPE, REASONS
from climwin.planning.plan import Plan, place_of, start_verb
from climwin.planning.spans import AS_GOOD
from climwin.report import sentences
from climwin.report.decision import EVEN, RELIABLE, Decision, Row, decide
from climwin.report.garden import LIMITS_OFF_C, GardenReport
from climwin.report.sentences_caveats import HOW_FILLED, doubts, few_years
from climwin.report.spells import needs, spells, stands_through_winter

MOST_WORDS = 11
"""Words of a verdict, at most."""

WONDERED_AT = 0.05
"""By how much another way's odds are higher before a reader wonders why it does not lead."""
LONG_SPAN = 40
"""Days from which recommended dates are told as a span, where nobody asked for a date."""

SELDOM, ALMOST_NEVER = 0.2, 0.05
"""Shares of harvests that are said in these words (the style sheet's)."""

WORTH_A_REASON = 0.1
"""Share of failed years from which it is worth saying what failed them (common practice)."""

_LOSSES = (
    (0.295, "one year in four fails"),
    (0.365, "one year in three fails"),
    (0.45, "two years in five fail"),
)
"""What is lost of a way that fails so often at most; beyond them, about half of the years."""


# --- dates and ways -----------------------------------------------------------------------


def month_name(number: int) -> str:
    """A month by its number, as prose has it.

    Examples
    --------
    >>> month_name(1), month_name(5)
    ('January', 'May')
    """
    return FULL_MONTHS[number - 1]


def day_range(first: float, last: float) -> str:
    """Two days of the year as prose has them.

    Examples
    --------
    >>> day_range(184, 194), day_range(129, 165), day_range(64, 64)
    ('3–13 July', '9 May–14 June', '5 March')
    """  # noqa: RUF002 (the dash of a range)
    begin, end = on_day(first), on_day(last)
    if begin == end:
        return begin
    if begin.split()[1] == end.split()[1]:
        begin = begin.split()[0]
    return f"{begin}\N{EN DASH}{end}"


def full_date(day: dt.date | None) -> str:
    """A date with its year, as prose has it; empty where there is none.

    Examples
    --------
    >>> full_date(dt.date(2026, 11, 7))
    '7 November 2026'
    """
    if day is None:
        return ""
    return f"{day.day} {month_name(day.month)} {day.year}"


def part_of_month(day: float) -> str:
    """A day of the year told roughly.

    Examples
    --------
    >>> part_of_month(64), part_of_month(135), part_of_month(365)
    ('early March', 'mid-May', 'late December')
    """
    number, month = on_day(day).split()
    if int(number) <= 10:
        return f"early {month}"
    return f"mid-{month}" if int(number) <= 20 else f"late {month}"


def begun(plan: Plan) -> str:
    """What was done on the date: sown, planted, or set out."""
    return {"set out": "set out", "plant": "planted", "sow": "sown"}[start_verb(plan)]


_DOING = {"set out": "setting out", "plant": "planting", "sow": "sowing"}


def _ways_differ(decision: Decision) -> bool:
    return len({place_of(row.plan) for row in decision.rows}) > 1


# --- the verdict --------------------------------------------------------------------------


def words(text: str) -> int:
    """Words of a text; a number is one."""
    return len(text.split())


def _shortest_fit(versions: Iterable[str]) -> str:
    """The first version of at most eleven words, or else the last one."""
    text = ""
    for text in versions:
        if words(text) <= MOST_WORDS:
            break
    return text


def verdict(report: GardenReport) -> str:
    """The decision in at most eleven words, chosen by rule.

    Examples
    --------
    >>> import climwin as cw
    >>> daily = cw.read_daily(cw.sample())
    >>> garden = cw.Garden("Pellbrook allotments", 46.1, 7.2, 640)
    >>> report = cw.garden_report(garden, daily, plans=[cw.Plan(cw.crop("cauliflower"), "04-20")])
    >>> verdict(report)
    'Sow cauliflower in early June, not on 20 April'
    """
    decision = decide(report)
    lead, name = decision.lead, plural(report.crop)
    years, harvests = decision.most.known, decision.most.harvested
    if decision.has_few_years:
        return f"Too little history to say: {sentences.years(lead.known)}"
    if not harvests:
        outdoors = " outdoors" if any(row.plan.weeks_under_cover for row in decision.rows) else ""
        return f"Do not count on {name}{outdoors} here"
    if decision.most.share < EVEN:
        be = "are" if is_plural(report.crop) else "is"
        crop = capitalized(name)
        if decision.most.share < SELDOM:
            seldom = "almost never" if decision.most.share < ALMOST_NEVER else "seldom"
            does = "crop" if is_plural(report.crop) else "crops"
            return _shortest_fit(
                [
                    f"{crop} {seldom} {does} here: at best {harvests} of {years} years",
                    f"{crop} {seldom} {does}: {harvests} of {years} years",
                ]
            )
        return _shortest_fit(
            [
                f"{crop} {be} a gamble here: at best {harvests} of {years} years",
                f"{crop}: a gamble, at best {harvests} of {years} years",
            ]
        )
    if report.crop.is_perennial:
        return _verdict_of_perennial(report, lead)
    return _shortest_fit(_advice(decision, name))


def _verdict_of_perennial(report: GardenReport, lead: Row) -> str:
    crop = capitalized(plural(report.crop))
    s = "" if is_plural(report.crop) else "s"
    if lead.grows_poorly:
        return f"{crop} crop{s} here, but poorly"
    if lead.share >= 0.95:
        return f"{crop} crop{s} here almost every year"
    if lead.share >= RELIABLE:
        return f"{crop} crop{s} here in most years"
    return f"{crop} crop{s} here, but {_loss(lead.share)}"


def _advice(decision: Decision, name: str) -> list[str]:
    """The advice in several lengths, the longest first."""
    lead = decision.lead
    where = f" {place_of(lead.plan)}" if _ways_differ(decision) else ""
    does = capitalized(start_verb(lead.plan))
    when = f"on {on_day(lead.start)}" if not lead.is_best else f"in {part_of_month(lead.start)}"
    nobody_asked = decision.same_way_asked().is_best
    if nobody_asked and sentences.is_any_time(lead.first, lead.last):
        when = f"at {say('any_time')}"
    elif nobody_asked and (lead.last - lead.first) % DAYS > LONG_SPAN:
        when = f"from {part_of_month(lead.first)} to {part_of_month(lead.last)}"
    core = f"{does} {name}{where} {when}"
    bare = f"{does} {name} {when}"
    if lead.share < RELIABLE:
        loss = _loss(lead.share)
        about = f"in {part_of_month(lead.start)}"
        short = f"{does} {name}{where} {about if lead.is_best else when}"
        return [f"{core}; {loss}", f"{short}; {loss}", f"{bare}; {loss}", core, bare]
    if lead.grows_poorly:
        s = "" if is_plural(lead.plan.crop) else "s"
        poor = "; expect a poor harvest"
        shorter = [f"{bare}; poor harvests", f"{capitalized(name)} grow{s} poorly here"]
        return [f"{core}{poor}", f"{bare}{poor}", *shorter]
    versions = [f"{core}{rest}" for rest in _beside_it(decision)]
    if lead.was_asked and not lead.is_best and not where:
        versions.append(f"{on_day(lead.start)} is a good time to {start_verb(lead.plan)} {name}")
    return [*versions, core, bare]


def _beside_it(decision: Decision) -> list[str]:
    """What to say of the date that was asked, of a surer season, or else of the other way."""
    lead, asked, other = decision.lead, decision.same_way_asked(), decision.other_way()
    if asked is not lead and asked.is_given:
        return [f", not on {on_day(asked.start)}"]
    surer = decision.surer_season()
    if surer is not None:
        return [f"; {season_of(surer)} is surer"]
    if other is None:
        return []
    as_good = other.does_as_well_as(lead) and lead.is_early >= other.is_early
    where = place_of(other.plan)
    if as_good and where == "outdoors":
        return ["; outdoors does as well", "; outdoors works too"]
    if as_good and other.plan.weeks_under_cover:
        cover = where.removeprefix("in ") if where != "indoors" else "a start indoors"
        return [f"; {cover} {'gains little' if other.share <= lead.high else 'is surer'}"]
    return [f", not {where}"] if other.share < EVEN else []


def season_of(row: Row) -> str:
    """The season in which best dates lie, in a word: in the dates' own hemisphere."""
    return row.season.split()[0] if row.season else part_of_month(row.start)


def _loss(share: float) -> str:
    """How often a way fails, as a gardener would say it."""
    fails = 1 - share
    return next((text for most, text in _LOSSES if fails <= most), "about half the years fail")


# --- the numbers behind it ----------------------------------------------------------------


def numbers_behind(report: GardenReport) -> str:
    """The counts that the verdict rests on, in a sentence or two."""
    decision = decide(report)
    lead, asked = decision.lead, decision.same_way_asked()
    name, years = plural(report.crop), sentences.years(lead.known)
    if report.crop.is_perennial:
        text = f"{capitalized(name)} gave a harvest in {lead.harvested} of {years}"
        return f"{text}{', but a poor one' if lead.grows_poorly else ''}."
    if not decision.most.harvested:
        # An early variety may do better, which the mends say where it is worth saying.
        none = "no main variety" if lead.plan.earliness == "main" else "none"
        text = f"In {years} {none} gave a harvest outdoors, whatever the date"
        raised = [place_of(row.plan) for row in decision.rows if row.plan.weeks_under_cover]
        return f"{text}, even if raised {raised[0]}." if raised else f"{text}."
    which = _early(name) if lead.is_early else name
    text = f"{capitalized(_short_way(lead))}, {which} gave a harvest in {lead.harvested} of {years}"
    text += ", but a poor one" if lead.grows_poorly else ""
    if asked is not lead and asked.is_given:
        main = f"{_main_variety(lead, asked)} " if _main_variety(lead, asked) else ""
        text += f"; {main}on {on_day(asked.start)}, in {asked.harvested} of {asked.known}"
        if asked.share >= lead.low:
            text += ", but a smaller one"
    surer = decision.surer_season()
    if surer is not None:
        text += f"; {_when(surer)}, in {row_count(surer)}"
    text += "."
    return text + _other_way(decision) + _own_space(decision)


def _early(name: str) -> str:
    """An early variety of a crop; squash of early summer is not what is meant."""
    is_of_a_season = name.partition(" ")[0] in ("spring", "summer", "winter")
    return f"early varieties of {name}" if is_of_a_season else f"early {name}"


def _other_way(decision: Decision) -> str:
    """What the best other way does; empty where there is none."""
    lead, other = decision.lead, decision.other_way()
    if other is None:
        return ""
    text = f" {capitalized(_way_and_variety(lead, other))}: {other.harvested} of {other.known}"
    if other.share >= lead.low and other.yield_index < AS_GOOD * lead.yield_index:
        text += ", but a smaller crop"
    if lead.share + WONDERED_AT < other.share and lead.share >= other.low:
        text += ". That difference may be chance"
    return f"{text}."


def _main_variety(lead: Row, row: Row) -> str:
    """Which variety a row is of, where an early one leads; empty where both are of one kind."""
    return sentences.variety(row.plan) if lead.is_early and not row.is_early else ""


def _way_and_variety(lead: Row, row: Row) -> str:
    """Another way in a few words, with its variety where that is not of the kind that leads."""
    early = "an early variety" if row.is_early and not lead.is_early else ""
    return ", ".join(filter(None, [_short_way(row), _main_variety(lead, row), early]))


def _own_space(decision: Decision) -> str:
    """What the gardener's own space does, where neither of the first two ways uses it."""
    others = [row for row in decision.rows if row not in (decision.lead, decision.other_way())]
    own = max((row for row in others if row.plan.space), key=lambda row: row.share, default=None)
    if own is None:
        return ""
    weeks = sentences.weeks(own.plan.weeks_under_cover)
    after = f"{weeks} under cover, set out about {on_day(own.set_out)}"
    way = capitalized(_way_and_variety(decision.lead, own))
    return f" {way}, {after}: {own.harvested} of {own.known}."


def _when(row: Row) -> str:
    if row.is_hopeless:
        return "on any date"
    return f"{'about' if row.is_best else 'on'} {on_day(row.start)}"


def _short_way(row: Row) -> str:
    """Another way and its dates in a few words."""
    return f"{begun(row.plan)} {place_of(row.plan)} {_when(row)}"


def titles(report: GardenReport) -> list[str]:
    """Each plan of a report as the head of a column; without a date that nobody gave."""
    hopeless = {row.number for row in decide(report).rows if row.is_hopeless}
    return [
        capitalized(f"{begun(plan)} {place_of(plan)}") if number in hopeless else way_title(plan)
        for number, plan in enumerate(report.plans)
    ]


def way_title(plan: Plan) -> str:
    """A way of growing and its date as the head of a column.

    Examples
    --------
    >>> import climwin as cw
    >>> way_title(cw.Plan(cw.crop("cauliflower"), "03-05", 6, "cold frame"))
    'Sown in a cold frame 5 Mar'
    """
    if plan.crop.is_perennial:
        return capitalized(plan.name)
    return capitalized(f"{begun(plan)} {place_of(plan)} {day_name(day_number(plan.start))}")


def way_of(plan: Plan, plans: Iterable[Plan]) -> str:
    """A way without its date where its place tells it apart, for a curve over all dates."""
    alone = sum(place_of(each) == place_of(plan) for each in plans) == 1
    return f"{begun(plan)} {place_of(plan)}" if alone else plan.name


def ways_compared(plan: Plan, other: Plan, compared: xr.Dataset, plans: Sequence[Plan] = ()) -> str:
    """Two ways against each other on the same years, in a sentence or two.

    `plans` are all ways of the page: one whose place does not tell it apart is named by its date.
    """
    counts = {name: int(compared[name]) for name in ("only_plan", "only_other", "both", "neither")}
    first, second = (_name_of_way(each, [plan, other, *plans]) for each in (plan, other))
    if alike := sentences.did_alike(compared):
        return f"{capitalized(first)} and {second}: {alike[:1].lower()}{alike[1:]}"
    text = (
        f"Of the same {sentences.years(int(compared['known']))}, {first} alone gave a harvest in "
        f"{counts['only_plan']}, {second} alone in {counts['only_other']}, both in "
        f"{counts['both']}, neither in {counts['neither']}."
    )
    better = first if float(compared["low"]) > 0 else second
    if float(compared["low"]) > 0 or float(compared["high"]) < 0:
        return f"{text} {capitalized(better)} is the better bet here."
    return f"{text} {say('neither_is_better')}"


def _name_of_way(plan: Plan, plans: Iterable[Plan]) -> str:
    """A way as a sentence names it, by its place or else by its date."""
    if any(place_of(each) == place_of(plan) and each != plan for each in plans):
        doing = _DOING[start_verb(plan)]
        return f"{doing} {place_of(plan).removeprefix('as ')} on {on_day(day_number(plan.start))}"
    if plan.plants == "bought":
        return "the bought plants"
    if plan.cover == "room with lights":
        return "the start indoors"
    if plan.weeks_under_cover:
        return f"the {plan.cover}"
    return "the bed under fleece" if plan.fleece_weeks else "the open ground"


def row_name(decision: Decision, row: Row) -> str:
    """A row of the ways as the table heads it."""
    if row.plan.crop.is_perennial:
        return capitalized(row.plan.name)
    whose = "best dates" if row.is_best else "your date"
    others = [each for each in decision.rows if each.number == row.number and each is not row]
    surer = decision.surer_season()
    if row.is_early:
        whose = "early variety"
    elif surer is not None and row in (decision.lead, surer):
        whose = f"{season_of(row)} dates"
    elif row.is_best and row.was_asked and any(each.is_early for each in others):
        whose = f"{row.plan.earliness} variety"  # beside an early one, which brings it forward
    where = capitalized(place_of(row.plan).removeprefix("in a ").removeprefix("in an "))
    same = [other for other in decision.asked if place_of(other.plan) == place_of(row.plan)]
    if len(same) > 1:  # two plans that differ in the date or the variety alone
        where = f"{where}, {row.plan.earliness} variety" if _varieties_differ(same) else where
    if row.plan.weeks_under_cover:
        where = f"{where} for {sentences.weeks(row.plan.weeks_under_cover)}"
    return where if row.is_hopeless else f"{where}, {whose}"


def _varieties_differ(rows: list[Row]) -> bool:
    return len({row.plan.earliness for row in rows}) > 1


Dates = tuple[tuple[str, str], ...]
"""Dates of a row, and beside each the range of dates that do as well, or nothing."""


def row_dates(row: Row) -> Dates:
    """Dates of a row for a table: sown or planted, set out, and harvested from.

    Each is a date, and beside it the range of dates that do as well, or nothing.
    """
    if row.is_hopeless:
        return ("any date", ""), ("", ""), ("", "")
    started = "" if row.plan.crop.is_perennial else day_name(row.start)
    as_well = "" if row.first == row.last else short_range(row.first, row.last)
    if sentences.is_any_time(row.first, row.last):
        as_well = say("any_time")
    set_out = "" if np.isnan(row.set_out) else day_name(row.set_out)
    first, last = row.harvest
    harvest = "" if np.isnan(first) else short_range(first, last)
    next_year = "next year" if last > DAYS else ""
    return (started, as_well), (set_out, ""), (harvest, next_year)


def short_range(first: float, last: float) -> str:
    """Two days of the year as a table has them.

    Examples
    --------
    >>> short_range(262, 272), short_range(129, 165)
    ('19–29 Sep', '9 May–14 Jun')
    """  # noqa: RUF002 (the dash of a range)
    begin, end = day_name(first), day_name(last)
    if begin == end:
        return begin
    if begin.split()[1] == end.split()[1] and last - first < 31:
        begin = begin.split()[0]
    return f"{begin}\N{EN DASH}{end}"


def row_count(row: Row) -> str:
    """Years with a harvest, of so many."""
    return f"{row.harvested} of {row.known}"


def heads_of_dates(report: GardenReport) -> tuple[str, str, str]:
    """What the three dates of a row are, by what the gardener does with the crop."""
    done = dict.fromkeys(capitalized(begun(plan)) for plan in report.plans)
    return " / ".join(done), "Set out", f"{capitalized(report.crop.harvest_verb)} from"


def columns_of_dates(report: GardenReport, rows: Sequence[Row]) -> tuple[list[str], list[Dates]]:
    """Heads and dates of a table of rows, without the columns in which no row has a date."""
    dates = [row_dates(row) for row in rows]
    heads = heads_of_dates(report)
    said = [i for i in range(len(heads)) if any(each[i][0] for each in dates)]
    return [heads[i] for i in said], [tuple(each[i] for i in said) for each in dates]


def has_best_dates(report: GardenReport) -> bool:
    """Whether any row is of dates that were chosen here."""
    return any(row.is_best for row in decide(report).rows)


# --- how sure -----------------------------------------------------------------------------


def how_sure(report: GardenReport) -> list[str]:
    """How sure the advice is, and then how sure the mild spell, where that says anything."""
    texts = [harvests_ahead(report)]
    if shows_spells(report):
        of_which = _whose_spell(report)
        return [*texts, f"{of_which}{sentences.how_sure(report)}"]
    return [f"{texts[0]} {say('what_odds_cover')}", *few_years(report)]


def _whose_spell(report: GardenReport) -> str:
    """For which way of growing mild spells are counted, where two ways need different days."""
    way = spell_way(report)
    return f"Mild spells are counted here for {plural(report.crop)} {way}. " if way else ""


def spell_way(report: GardenReport) -> str:
    """The way of growing for which mild spells are counted; empty where all need the same days."""
    ways = [need.way for need in needs(report) if need.days == report.need_days]
    return ways[0] if ways and len(needs(report)) > 1 else ""


def harvests_ahead(report: GardenReport) -> str:
    """In how many of the next ten years the dates to follow are likely to give a harvest."""
    lead = decide(report).lead
    odds = report.ahead.odds[lead.number]
    if lead.is_best:  # judged on the years that had no part in choosing them
        counts = (xr.DataArray(float(count)) for count in (lead.harvested, lead.known))
        odds = odds_of(*counts, kind="harvest", climate=report.leading("harvest"))
    way = f"{_short_way(lead)}, "
    text = (
        f"{'' if report.crop.is_perennial else way}{plural(report.crop)} "
        f"{'are' if is_plural(report.crop) else 'is'} likely to give a harvest in "
        f"{sentences.next_years(odds)} of the next ten years. From {sentences.years(lead.known)} "
        f"of weather, the long-run share of years with a harvest is likely {likely(lead)}."
    )
    return capitalized(text)


# --- the doubt ----------------------------------------------------------------------------

NO_FORECAST = "Past years are not a forecast."


def worst_doubt(report: GardenReport, made: dt.date | None, units: Units) -> str:
    """The doubt that weighs most, as one or two sentences.

    Caveats come in the order of their weight: first what makes a record worthless, then its age, a
    sudden step, warming, gaps, and last that the station is not the garden.
    """
    first = next(iter((*few_years(report), *doubts(report, made, units))), None)
    if first is None:
        return (
            f"{NO_FORECAST} Your garden may be several degrees colder or warmer than the station."
        )
    return f"{_in_brief(first)} {NO_FORECAST}"


_SENTENCE_ENDS = r"(?<!\bSt)(?<!\bMt)(?<!\bFt)(?<!\bPt)(?<! [A-Z])\. (?=[A-Z])"
"""Not St. Gallen, nor an initial in a station's name."""


def _in_brief(doubt: str) -> str:
    """The first two sentences of a doubt, without what stands in brackets.

    The whole of it stands further down on the page, with how sure it is and how gaps are filled.
    """
    brief = re.sub(r" \([^()]*\)", "", doubt)
    sentences_of_it = re.split(_SENTENCE_ENDS, brief)[:2]
    said = [text for text in sentences_of_it if not text.startswith(HOW_FILLED)]
    return ". ".join(said).rstrip(".") + "."


# --- the reason ---------------------------------------------------------------------------


def reason_heading(report: GardenReport) -> str:
    """What fails the crop here, or how long its weather lasts, as a finding."""
    decision = decide(report)
    failing = decision.failing()
    if failing is None:
        if report.crop.is_perennial:
            return _few_lost(report, decision)
        if stands_through_winter(report):
            be = "stand" if is_plural(report.crop) else "stands"
            return f"{capitalized(plural(report.crop))} {be} through the winter"
        return spell_finding(report)
    cause = _main_cause(report, decision, failing)
    heading = f"Why {_what_fails(report, decision, failing)}"
    return f"{heading}: {cause}" if cause else heading


def _few_lost(report: GardenReport, decision: Decision) -> str:
    """What took the harvests of a perennial that does well."""
    lead = decision.lead
    if lead.harvested == lead.known:
        return "No year failed"
    cause = _main_cause(report, decision, lead)
    return f"Few years failed: {cause}" if cause else "Few years failed"


def _what_fails(report: GardenReport, decision: Decision, row: Row) -> str:
    """The date, the way or the years that a heading gives the reason of."""
    fails = "fails" if row.share < EVEN else "does worse"
    if row.is_given and decision.most.harvested and not report.crop.is_perennial:
        return f"{on_day(row.start)} {'fails' if row.share < EVEN else 'often fails'}"
    if row.number == decision.lead.number or not decision.most.harvested:
        fail = "fail" if is_plural(report.crop) else "fails"
        return f"{_they(report.crop)} {fail}" if row.share < EVEN else "some years fail"
    doing = _DOING[start_verb(row.plan)]
    place = place_of(row.plan).removeprefix("as ")
    return f"{doing} {place} {fails}"


def _main_cause(report: GardenReport, decision: Decision, row: Row) -> str:
    """What failed at least half of the years without a harvest; empty if nothing did."""
    if not decision.most.harvested and not report.crop.is_perennial:
        return sentences.reason_in_words(_kindest_failure(report, row)[1])
    return sentences.main_failure(report.ahead.evaluated[row.number])


def spell_finding(report: GardenReport) -> str:
    """In how many years the mild spell was long enough, or too short if most were."""
    spell = capitalized(spell_of(report))
    known, short = _spells_of_lead(report)
    if not known:
        return f"{spell}: too many gaps to say how long"
    years = sentences.years(known)
    if not short:
        return f"{spell} was long enough in all {years}"
    if 2 * short > known and decide(report).lead.share >= RELIABLE:
        name, do = capitalized(plural(report.crop)), "do" if is_plural(report.crop) else "does"
        return f"{name} {do} well without an unbroken mild spell"
    if 2 * short > known:
        return f"{spell} was too short in {short} of {years}"
    return f"{spell} was long enough in {known - short} of {years}"


def _spells_of_lead(report: GardenReport) -> tuple[int, int]:
    """Years whose mild spell is known, and in how many it was too short for the way that leads.

    Counted as the figure counts them.
    """
    found = spells(report)
    short, between, enough = found.counts
    lead = decide(report).lead
    wants_more = report.given_need_days is None and (
        report.needs[lead.number] == found.needs[-1].days > found.needs[0].days
    )
    return short + between + enough, short + between if wants_more else short


def shows_spells(report: GardenReport) -> bool:
    """Whether mild spells say anything of the crop: of one that never ripens no need is known."""
    is_known = report.given_need_days is not None or bool(decide(report).most.harvested)
    return is_known and not stands_through_winter(report)


def spell_of(report: GardenReport) -> str:
    """What a sentence calls the window of a year."""
    return {
        "longest": "the longest mild spell",
        "rise": "spring's mild spell",
        "fall": "autumn's mild spell",
    }[report.part]


def reason(report: GardenReport, units: Units = "C") -> list[str]:
    """Why years fail, what the dates to follow change, and the mild spell: short sentences.

    Parameters
    ----------
    report : GardenReport
        Of one garden.
    units : {"C", "F"}
        Of the temperatures said.
    """
    decision = decide(report)
    if not decision.most.harvested and not report.crop.is_perennial:
        return [_why_never(report, decision)]
    failing = decision.failing()
    row = failing or min(decision.asked, key=lambda each: each.share)
    failed = report.ahead.odds[row.number]  # of the climate that the row is of
    years, lost = int(failed["known"]), int(failed["known"]) - int(failed["harvested"])
    texts = []
    if lost > WORTH_A_REASON * years and (failing or decision.same_way_asked() is row):
        texts += _why_it_fails(report, decision.lead, row, years, lost)
    if failing is not None:
        texts += _when_it_comes(report, decision, failing, units)
    told = failing or decision.lead  # as the heading has it
    return [*texts, *_spell_against_need(report, decision, told, is_failing=failing is not None)]


def _why_it_fails(report: GardenReport, lead: Row, row: Row, years: int, lost: int) -> list[str]:
    """What failed the years of a row: with counts only where they are those of its line.

    A best date is judged on years that had no part in choosing it; these are all years at one date,
    whose counts are others.
    """
    grown = report.ahead.evaluated[row.number]
    causes = sentences.causes_by_stage(grown)
    if not row.is_best:
        they = _main_variety(lead, row) or _they(report.crop)
        way = they if report.crop.is_perennial else f"{_short_way(row)}, {they}"
        said = sentences.failures_by_stage(grown, total_is_told=True)
        often = f"{'all' if lost == years else f'{lost} of'} {sentences.years(years)}"
        return [f"{capitalized(way)} failed in {often}: {said}."]
    if len(causes) == 1:
        return []
    often, *seldom = causes
    return [f"Years without a harvest: mostly {often}; otherwise {', '.join(seldom)}."]


def _they(crop: Crop) -> str:
    """The crop as a sentence goes on about it."""
    return "they" if is_plural(crop) else "it"


EARLY_ENDS = (
    "no bed workable",
    "did not come up: too cold",
    "did not come up: too hot",
    "killed by cold",
    "chilled",
    "killed inside: too cold",
    "winter kill",
)
"""What ends a crop that was begun in the wrong season, of `climwin.planning.growth.REASONS`."""


def _kindest_failure(report: GardenReport, row: Row) -> tuple[int, str, int, int]:
    """Of a way that never gives a harvest, the date on which fewest years fail by the season.

    Its day of the year, what fails most years on it, how many of them, and of how many.
    """
    failed = report.ahead.swept[row.number]["failed_by"]
    early = failed.sel(reason=list(EARLY_ENDS)).sum("reason")
    start = int(early["start_day"].values[int(np.argmin(early.values))])
    there = failed.sel(start_day=start)
    cause = str(there["reason"].values[int(np.argmax(there.values))])
    return start, cause, int(there.max()), int(there.sum())


def _why_never(report: GardenReport, decision: Decision) -> str:
    """What fails even on the kindest date, where no date gives a harvest."""
    row = decision.failing() or decision.lead
    start, _, count, years = _kindest_failure(report, row)  # the heading names the cause
    when = part_of_month(start)
    every = "every year"
    if count < years:
        every += f", in {count} of {sentences.years(years)} for that reason"
    return (
        f"Even {begun(row.plan)} {place_of(row.plan)} in {when}, the kindest time, "
        f"{_they(report.crop)} failed in {every}."
    )


def failures_at_best(report: GardenReport, row: Row) -> str:
    """What fails a way that never gives a harvest, on the date on which it comes furthest."""
    start = _kindest_failure(report, row)[0]
    failed = report.ahead.swept[row.number]["failed_by"].sel(start_day=start)
    counts = sorted(zip(failed.values, failed["reason"].values, strict=True), reverse=True)
    said = ", ".join(f"{int(n)} {sentences.reason_in_words(str(why))}" for n, why in counts if n)
    return f"{begun(row.plan)} in {part_of_month(start)}: {said}"


def _when_it_comes(report: GardenReport, decision: Decision, row: Row, units: Units) -> list[str]:
    """When the stage came that failed, and when it comes on the dates to follow."""
    years = report.ahead.evaluated[row.number]
    failed = years.where(years["harvested"] == 0, drop=True)
    causes = [sentences.reason(failed.isel(season=i)) for i in range(failed.sizes["season"])]
    main = sentences.main_failure(years)
    if not main or report.crop.is_perennial or row.is_hopeless:
        return []
    failed = failed.isel(season=[i for i, cause in enumerate(causes) if cause == main])
    cause = str(failed["reason"].values[0])
    is_hot = cause == REASONS[HOT]
    if not (is_hot or cause == REASONS[NOT_RIPE]):
        return []
    name = str(failed["stage"].values[0]) if is_hot else row.plan.crop.stages[-1].name
    if not name:
        return []
    came = _usual_day(failed["stage_begin"].sel(stage_name=name), failed["start"], row.start)
    lead = decision.lead
    comes, ends = _days_of_stage(report, lead, name) if lead is not row else (np.nan, np.nan)
    begins, ended = _days_of_stage(report, row, name)
    lasted = ended - begins if np.isfinite(ended - begins) else 7.0 * _STAGE_WEEKS
    if np.isnan(came):
        return []
    text = f"{capitalized(_formed(name))} about {on_day(came)}"
    heat = _usual_mean(report, came, came + lasted)
    if is_hot:
        text += f", in days with a mean of {temperature(heat, units)}"
    else:
        text += ", too late to ripen"
    texts = [f"{text}."]
    if np.isnan(comes) or np.isnan(ends):
        return texts
    later_heat = _usual_mean(report, comes, ends)
    earlier = (comes - lead.start) % DAYS + lead.start < came
    if later_heat < heat - CLEARLY_COOLER_C if is_hot else earlier:
        at = f", at {temperature(later_heat, units)}" if is_hot else ""
        texts.append(f"{capitalized(_short_way(lead))}, {_forms(name)} about {on_day(comes)}{at}.")
    return texts


CLEARLY_COOLER_C = 1.0
"""How much cooler a stage has to be on other dates, to be worth saying (common practice). [degC]"""
_STAGE_WEEKS = 4
"""Weeks of a stage of which no year tells how long it lasts (common practice)."""
SOME_TIME_LONGER_DAYS = 21
"""By how much the mild spell outlasts the need where that is no reason (common practice)."""
_FORM = ("heads", "hearts", "curd", "bulbs", "roots", "tubers", "pods", "fruit", "sprouts", "ears")
"""Stages that are a part of the plant, which forms."""


def _formed(stage: str) -> str:
    return f"the {stage} {'formed' if stage in _FORM else 'came'}"


def _forms(stage: str) -> str:
    they = stage.endswith("s")
    return f"{'they' if they else 'it'} {'form' if stage in _FORM else 'come'}{'' if they else 's'}"


def _usual_day(begins: xr.DataArray, starts: xr.DataArray, start: int) -> float:
    """The middle one of some dates as a day of the year, counted on from the start's."""
    days = ((begins - starts) / np.timedelta64(1, "D")).dropna("season")
    return float(np.median(days.values)) + start if days.size else np.nan


def _days_of_stage(report: GardenReport, row: Row, stage: str) -> tuple[float, float]:
    """When a stage begins and ends in a typical year of a row; missing if it never does."""
    if row.was_asked:
        timetable = report.timetables[row.number]
    else:
        timetable = report.dates_at(row.number, day_name(row.start))
    if stage not in timetable["event"].values:
        return np.nan, np.nan
    there = timetable.sel(event=stage)
    return float(there["begin_day"]), float(there["end_day"])


def _usual_mean(report: GardenReport, begin: float, end: float) -> float:
    """Usual daily mean from one day of the year to another. [degC]"""
    usual = smoothed(by_year(variable(report.ahead.daily, "tmean")).values)
    days = np.arange(int(begin), max(int(end), int(begin) + 1))
    return float(usual[(days - 1) % DAYS].mean())


def _spell_against_need(
    report: GardenReport, decision: Decision, row: Row, *, is_failing: bool
) -> list[str]:
    """How long the crop stands outdoors, against how long it is mild: one story with the reason."""
    crop, lead = report.crop, decision.lead
    if crop.is_perennial:
        return []
    middle = report.median_length
    need = report.needs[row.number] if report.given_need_days is None else report.given_need_days
    name, are_many = _who_needs(report, decision, row)
    want = "want" if are_many else "wants"
    needed = f"{name} {want} {weeks_long(need)} outdoors"
    if np.isnan(middle):
        return [f"{capitalized(needed)}."]
    if stands_through_winter(report) and is_failing:
        return []
    if stands_through_winter(report):
        return [
            f"{capitalized(_they(crop))} {want} {weeks_long(need)} outdoors.",
            "In winter the plants hardly grow: what counts is that they live through it, and that "
            "spring is long enough.",
        ]
    as_long = weeks_long(middle) == weeks_long(need)
    lasts = "about as long" if as_long else weeks_long(middle)
    spell = _spell_lasts(report, middle, lasts)
    they = "They put" if are_many else "It puts"
    puts_up = (
        f"{they} up with some days too cold or too hot, so a year can succeed without an unbroken "
        "spell."
    )
    if not is_failing:
        texts = [f"{capitalized(needed)}, {'but' if middle < need else 'and'} {spell}."]
        grown, length = report.evaluated[row.number], report.window["length"]
        short = length.reindex(season=grown["season"]) < need
        despite = int((short & (grown["harvested"] == 1)).sum())
        return [*texts, puts_up] if despite > WORTH_A_REASON * grown.sizes["season"] else texts
    if middle >= need:
        if not _fails_by_its_date(report, row) or middle < need + SOME_TIME_LONGER_DAYS:
            return [f"{capitalized(needed)}, and {spell}."]
        text = f"It is mild for long enough here: {needed}, and {spell}."
        same_way = lead.number == row.number and lead is not row
        matters = "date and the variety that matter" if lead.is_early else "date that matters"
        return [f"{text} It is the {matters}." if same_way else text]
    only = spell if as_long else _spell_lasts(report, middle, f"only {lasts}")
    texts = [f"{capitalized(needed)}, but {only}."]
    return [*texts, puts_up] if lead.share >= RELIABLE and lead.number == row.number else texts


def _who_needs(report: GardenReport, decision: Decision, row: Row) -> tuple[str, bool]:
    """Whose need is told, and whether it is a plural: the variety's, where an early one leads."""
    name = plural(report.crop)
    if decision.lead.is_early and report.given_need_days is None:
        return f"{sentences.variety(row.plan)} of {name}", False
    return name, is_plural(report.crop)


def _spell_lasts(report: GardenReport, middle: float, lasts: str) -> str:
    """How long the mild spell lasts; where it has no end, that it has none."""
    if middle >= DAYS - 7:
        return "a typical year stays mild throughout"
    return f"{spell_of(report)} lasts {lasts} in a typical year"


def _fails_by_its_date(report: GardenReport, row: Row) -> bool:
    """Whether most failed years did so by the weather of a stage, which another date would miss."""
    cause = sentences.main_failure(report.ahead.evaluated[row.number])
    return cause.startswith((REASONS[HOT], sentences.reason_in_words(REASONS[NOT_RIPE])))


def weeks_long(days: float) -> str:
    """A length of time: days under three weeks, weeks above."""
    if days < 21:
        return days_long(days)
    return f"{fixed(days / 7)} weeks"


# --- the window figure --------------------------------------------------------------------


def spell_title(report: GardenReport) -> str:
    """How often the mild spell was long enough, as the title of the window figure."""
    return sentences.long_enough(report)


def comfort_title(report: GardenReport) -> str:
    """How many weeks of the year suit the crop in most years, as the title of their figure."""
    weeks = report.comfort
    most = weeks["years"].sel(state="comfortable") > 0.5 * weeks["known"]
    cold = weeks["years"].sel(state=["too cold", "too hot"]).sum("state") > 0.5 * weeks["known"]
    good, bad = int(most.sum()), int(cold.sum())
    be = "are" if is_plural(report.crop) else "is"
    if not good:  # many a crop does well where it seldom grows at its fastest
        grow = "grow" if is_plural(report.crop) else "grows"
        slow = len(weeks["week"]) - bad
        return (
            f"In most years {plural(report.crop)} {grow} here in {sentences.weeks(slow)}, though "
            "none is warm enough, or cool enough, for full growth"
        )
    return (
        f"In most years {plural(report.crop)} {be} comfortable here for {sentences.weeks(good)}; "
        f"{sentences.weeks(bad)} {'is' if bad == 1 else 'are'} too cold or too hot"
    )


def limits_doubt(report: GardenReport, units: Units) -> str:
    """How far the odds of too short a spell would move if the crop's limits were 2 degC off.

    This doubt is often larger than that of the weather's luck, which the likely range covers.
    """
    off = report.shorter_if_limits_off
    if off is None or not shows_spells(report):
        return ""
    few, many = off
    if not float(few["share"]) < float(many["share"]):
        return ""
    off_by = difference_as_given(LIMITS_OFF_C, units)
    if int(few["known"]) == int(many["known"]):
        span = say("span", first=int(few["shorter"]), last=int(many["shorter"]))
        often = f"{span} of {sentences.years(int(few['known']))}"
    else:  # gaps hide other years under other limits
        span = say("span", first=percent(float(few["share"])), last=percent(float(many["share"])))
        often = f"{span} of the years"
    return (
        f"Nobody knows a crop's limits to the degree. With limits off by {off_by} either way, the "
        f"mild spell would be too short in {often}."
    )


def scenario(report: GardenReport, units: Units = "C") -> str:
    """The label of a scenario; empty where the weather was observed."""
    label = scenario_in(scenario_of(report.daily), units)
    return label[:1].upper() + label[1:].replace("deg", "°") if label else ""


def likely(row: Row) -> str:
    """The likely range of a row's odds, for a table or a label."""
    return say("span", first=percent(row.low), last=percent(row.high))
