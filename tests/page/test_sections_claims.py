"""What a page's tables and sections claim, against the numbers that they were given."""

import re
from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest
import xarray as xr
from reading import codes_of, live_numbers

import climwin as cw
from climwin.core.seasons import day_name
from climwin.page import season as running
from climwin.page import sections, start
from climwin.page.sections import Page, history_in
from climwin.planning.growth import HARVEST, OPEN
from climwin.planning.plan import start_verb
from climwin.report import sentences
from climwin.report import sentences_decision as words
from climwin.widgets.payload import GOOD_HARVEST
from climwin.widgets.state import way_of


@pytest.fixture(scope="module")
def page(pellbrook):
    return Page(pellbrook, "C", None)


def row_of(**values):
    return xr.Dataset({name: ((), value) for name, value in values.items()})


# --- ways side by side --------------------------------------------------------------------


def test_each_row_of_the_ways_has_what_its_head_says(page, pellbrook):
    content = page.content("ways")
    heads = {key: label for label, key in content["rows"]}
    for way, number in zip(content["ways"], pellbrook.best_first, strict=True):
        grown, odds = pellbrook.ahead.evaluated[number], pellbrook.ahead.odds[number]
        came = grown["harvested"].values
        harvests, known = int(np.nansum(came)), int(np.isfinite(came).sum())
        assert heads["harvests"] == "A harvest in"
        assert way["harvests"] == f"{harvests} of {known} years"
        assert heads["good"].startswith("A good one")
        assert way["good"] == f"{int(odds['good'])} of {known} years"
        assert int(odds["good"]) <= harvests
        assert "next ten years" in heads["next"]
        assert "long run" in heads["interval"]
        assert "%" in way["interval"]
        assert "%" not in way["next"]
        assert "failed" in heads["failures"]
        failed = [int(text.split()[0]) for text in way["failures"].split(", ")]
        assert sum(failed) == known - harvests
        begins = pellbrook.timetables[number].sel(event="harvest")
        assert heads["ready"] == "Cut from"
        assert way["ready"].startswith(day_name(float(begins["begin_day"])))
        plan = pellbrook.plans[number]
        assert heads["start"] == "Sow"
        assert way["start"] == {"03-05": "5 Mar", "04-20": "20 Apr"}[plan.start]
        assert bool(way["set_out"]) is bool(plan.weeks_under_cover)
        assert heads["best"] == "Best dates"
        assert "before the harvest" in heads["outdoors"]


def test_a_date_that_was_asked_is_counted_alike_all_over_the_page(page, pellbrook):
    """First screen, table of the ways and live chart: a reader compares them."""
    chart = live_numbers(page.content("live")["numbers"])
    columns = dict(zip(pellbrook.best_first, page.content("ways")["ways"], strict=True))
    given = [row for row in page.decision.rows if row.is_given]
    assert given
    for row in given:
        assert columns[row.number]["harvests"] == f"{row.harvested} of {row.known} years"
        own = {"crop": row.plan.crop.name, "way": way_of(row.plan, "")}
        [found] = [
            plan["outcomes"] for plan in chart["plans"] if {key: plan[key] for key in own} == own
        ]
        on_day = codes_of(found)[:, row.start - 1]
        assert np.isin(on_day, (HARVEST, GOOD_HARVEST)).sum() == row.harvested
        assert (on_day != OPEN).sum() == row.known
    # Both climates would not do: on the years as they were the count is another.
    recorded = [
        int(cw.harvest_odds(cw.evaluate_plan(row.plan, pellbrook.daily))["harvested"])
        for row in given
    ]
    assert recorded != [row.harvested for row in given]


def test_a_date_that_was_chosen_has_one_range_all_over_the_page():
    """First screen, table of the ways and live chart: that of years not used to choose it."""
    garden = cw.Garden("Pellbrook allotments", 46.1, 7.2, 640)
    report = cw.garden_report(garden, cw.read_daily(cw.sample()), crop=cw.crop("garlic"))
    page = Page(report, "C", None)
    (row,) = (row for row in page.decision.rows if row.number == 0)
    said = words.likely(row)
    assert page.content("ways")["ways"][0]["interval"] == said
    chart = live_numbers(page.content("live")["numbers"])
    own = {"crop": "garlic", "way": way_of(row.plan, "")}
    (outcomes,) = (
        each["outcomes"] for each in chart["plans"] if own == {key: each[key] for key in own}
    )
    assert outcomes["best_date"] == row.start
    low, high = outcomes["best_interval"]
    assert sentences.interval(row_of(low=low, high=high)) == said
    assert low < float(report.ahead.odds[0]["low"])  # its own years alone would praise it more


def test_a_crop_that_stands_for_years_has_no_start_to_choose():
    keys = {key for _, key in sections._PERENNIAL_ROWS}
    assert not keys & {"start", "set_out", "best"}
    [outdoors] = [label for label, key in sections._PERENNIAL_ROWS if key == "outdoors"]
    assert outdoors == "From bloom, or first growth, to harvest"


@pytest.mark.parametrize(
    ("crop", "given", "does"),
    [
        ("pea", {}, "sow"),
        ("potato", {}, "plant"),
        ("tomato", {"plants": "bought"}, "set out"),
    ],
)
def test_what_the_gardener_does_is_that_of_the_plan(crop, given, does):
    assert start_verb(cw.Plan(cw.crop(crop), "04-20", **given)) == does


def event(name, begin, first, last, end=None):
    days = {"begin_day": begin, "begin_first": first, "begin_last": last}
    return row_of(**days, end_day=begin if end is None else end, killed=4, known=39).assign_coords(
        event=name
    )


def test_a_job_has_its_day_and_a_stage_has_its_spread_and_what_killed_it():
    sown = cw.Plan(cw.crop("pea"), "04-10")
    raised = cw.Plan(cw.crop("cauliflower"), "03-05", 6, "cold frame")
    job = sections._event(event("start", 100.0, 100.0, 100.0), sown)
    assert (job["what"], job["when"], job["shift"]) == ("Sow outdoors", "10 Apr", "")
    assert (job["does"], job["killed"]) == (True, "")
    assert sections._event(event("start", 64.0, 64, 64), raised)["what"] == "Sow in the cold frame"
    out = sections._event(event("set out", 106.0, 106.0, 106.0), raised)
    assert out["what"] == "Set out outdoors"
    stage = sections._event(event("harvest", 190.0, 180.0, 205.0, 200.0), sown)
    assert (stage["what"], stage["does"]) == ("Harvest", False)
    assert stage["when"] == "9 Jul to 19 Jul"
    assert stage["shift"] == "29 Jun to 24 Jul"
    assert stage["killed"] == "4 of 39"
    never = sections._event(event("harvest", np.nan, np.nan, np.nan), sown)
    assert (never["when"], never["shift"]) == ("", "")


def test_the_figure_of_dates_is_said_way_by_way(page, pellbrook):
    content = page.content("ways")
    assert "no part" in " ".join(content["chosen"].split()) or "left out" in content["chosen"]
    parts = content["alt"].removeprefix("Years with a harvest by date. ").split("; ")
    assert len(parts) == len(pellbrook.plans)
    for number, part in enumerate(parts):  # the best dates of the first screen
        [best] = [r for r in page.decision.rows if r.is_best and r.number == number]
        dates = sentences.span(best.first, best.last)
        assert part.lower() == f"{words.way_of(best.plan, pellbrook.plans)}: best {dates}".lower()


# --- the decision's rows ------------------------------------------------------------------


def test_the_row_that_leads_and_the_one_that_fails_are_marked(page):
    content = page.content("decision")
    for shown, row in zip(content["rows"], page.decision.rows, strict=True):
        assert float(shown["share"]) == pytest.approx(100 * row.share, abs=0.06)
        assert float(shown["low"]) == pytest.approx(100 * row.low, abs=0.06)
        assert float(shown["low"]) + float(shown["width"]) == pytest.approx(
            100 * row.high, abs=0.15
        )
    kinds = [shown["kind"] for shown in content["rows"]]
    assert kinds[0] == "lead"
    assert kinds.count("lead") == 1
    for kind, row in list(zip(kinds, page.decision.rows, strict=True))[1:]:
        assert kind == ("poor" if row.harvested < row.known / 2 else "")


@pytest.mark.parametrize(("share", "kind"), [(0.3, "poor"), (0.7, "")])
def test_a_way_that_fails_in_most_years_is_marked_where_it_does_not_lead(page, share, kind):
    chosen = page.decision
    other = replace(chosen.rows[-1], share=share)
    assert other.is_poor == (kind == "poor")
    assert sections._row(chosen, other)["kind"] == kind
    assert sections._row(chosen, chosen.lead)["kind"] == "lead"


# --- frosts -------------------------------------------------------------------------------


def test_a_level_of_odds_has_spring_before_autumn():
    row = row_of(odds=0.1, last_spring=132.0, first_autumn=275.0, freeze_free_days=143.0)
    shown = sections.chance_row(row)
    assert (shown["spring"], shown["autumn"], shown["days"]) == ("12 May", "2 Oct", "143")
    assert "1 in 10" in shown["chance"]
    endless = sections.chance_row(row.assign(freeze_free_days=np.nan))
    assert endless["days"] == "no limit"


@pytest.mark.parametrize(
    ("crop", "said", "not_said"),
    [("pea", "kill young peas", "spoil"), ("apple", "spoil the fruit", "kill")],
)
def test_a_killing_night_kills_the_young_and_spoils_the_fruit_of_old_ones(crop, said, not_said):
    text = sections._meaning(cw.crop(crop))
    assert said in text
    assert not_said not in text


# --- years --------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("least", "most", "enough"),
    [(70, 70, "yes"), (60, 60, "yes"), (59, 59, "no"), (40, 70, "unknown"), (60, 80, "yes")],
)
def test_a_year_is_long_enough_if_its_gaps_cannot_make_it_too_short(least, most, enough):
    day = np.datetime64("2001-04-20")
    window = xr.Dataset(
        {
            "length": ("season", [float(least)]),
            "length_least": ("season", [float(least)]),
            "length_most": ("season", [float(most)]),
            "status": ("season", ["unknown" if least < most else "observed"]),
            "start": ("season", [day]),
            "end": ("season", [day + np.timedelta64(least, "D")]),
        },
        {"season": [2001]},
    )
    report = SimpleNamespace(window=window, need_days=60, evaluated=[])
    shown = sections._year(report, 2001)
    assert shown["enough"] == enough
    assert shown["start"] == "20 Apr"
    assert shown["year"] == 2001


# --- crops that suit ----------------------------------------------------------------------


def suited(**given):
    values = {
        "crop": "pea",
        "limit": "too hot",
        "first_day": 64.0,
        "last_day": 106.0,
        "elsewhere_harvested": 31.0,
        "elsewhere_known": 39.0,
        "propagation": "seed",
        "good_share": 0.42,
        "growth": 0.73,
        "weeks": 0,
        "cover": "none",
    }
    return sections._suited(row_of(**values | given), "pea")


def test_a_crop_that_suits_is_ones_own_or_not_and_has_its_harvests_and_its_limit():
    shown = suited()
    assert (shown["own"], shown["harvests"], shown["good"]) == (True, "31 of 39", "42 %")
    assert (shown["growth"], shown["limit"], shown["dates"]) == (
        "0.73",
        "too hot",
        "5 Mar to 16 Apr",
    )
    assert suited(crop="leek")["own"] is False
    hidden = suited(elsewhere_known=0.0)
    assert hidden["harvests"] == "unknown"
    assert hidden["limit"] == "too many gaps in the record"
    assert suited(propagation="perennial")["dates"] == ""
    assert suited(first_day=np.nan)["dates"] == "none"
    assert suited(first_day=64.0, last_day=64.0)["dates"] == "5 Mar"


# --- lines of a source --------------------------------------------------------------------


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("tmin: 3 of 9 days", "Daily minimum air temperature: 3 of 9 days"),
        ("tmax: 3 of 9 days", "Daily maximum air temperature: 3 of 9 days"),
        ("Licence: x", "Licence: x"),
    ],
)
def test_a_line_on_a_variable_is_led_by_its_name(text, said):
    assert sections._named(text) == said


# --- the running season -------------------------------------------------------------------


@pytest.mark.parametrize(
    ("start_of_plan", "on", "started"),
    [
        ("04-20", "2024-06-01", "2024-04-20"),
        ("04-20", "2024-04-10", None),  # its next start is nearer than its last
        ("11-15", "2025-02-01", "2024-11-15"),
        ("03-01", "2024-12-20", None),
    ],
)
def test_a_plan_has_started_if_its_last_start_is_nearer_than_the_next(start_of_plan, on, started):
    plan = cw.Plan(cw.crop("pea"), start_of_plan)
    found = running._started(plan, np.datetime64(on))
    assert (None if found is None else str(found)) == started
    assert running._started(cw.Plan(cw.crop("apple"), "04-01"), np.datetime64(on)) is None


# --- the form to begin with ---------------------------------------------------------------


@pytest.mark.parametrize(
    ("field", "word", "other"),
    [
        ("units", "units", "latitude"),
        ("latitude", "latitude", "longitude"),
        ("longitude", "longitude", "latitude"),
        ("place", "Place", "Crop"),
        ("elevation", "Height", "Place"),
        ("crop", "Crop", "Place"),
    ],
)
def test_an_error_in_the_form_names_its_field(field, word, other):
    assert word in start._FIELDS[field]
    assert other not in start._FIELDS[field]


def test_the_units_of_a_file_are_those_chosen_or_those_it_says():
    assert start._unit("F") == "F"
    assert start._unit("C") == "C"
    assert start._unit("") is None


@pytest.mark.parametrize(
    ("text", "units", "said"),
    [
        # 1.44 and 0.55 degC are differences: by 9/5, and without the 32.
        ("tmin by +1.44 degC", "F", "nights by +2.59 °F"),
        ("tmax by -0.50 degC", "F", "days by \N{MINUS SIGN}0.90 °F"),
        ("moved: tmin by +1.44 degC", "C", "nights by +1.44 °C"),
        ("tmin by -0.20 to +0.55 degC", "F", "nights by \N{MINUS SIGN}0.36 to +0.99 °F"),
        ("tmin taken as degC", "F", "tmin taken as °C"),
    ],
)
def test_what_was_done_with_a_record_is_said_in_the_readers_units(text, units, said):
    assert said in history_in(text, units)


def test_captions_say_what_their_marks_are():
    stages, starts = running._STAGES_CAPTION, running._STARTS_CAPTION
    for mark, claim in (
        ("Thick line", "this year, by the growing model"),
        ("Amber bars", "between which each stage comes nine times in ten, from here on"),
        ("Pale band", "the same from past years alone"),
    ):
        assert re.search(rf"{mark}: [^.]*{claim}", stages)
    assert "a date to begin, with the likely dates of its first harvest" in starts
    assert "the tick is a typical year" in starts
    assert "past years with a harvest, and in brackets with a good one" in starts
    assert "past years stand as they were, not moved to today's climate" in running.AS_THEY_WERE
    assert "Each line is a year as it was" in sections.YEARS_AS_THEY_WERE
    assert "move the years to today's climate" in sections.YEARS_AS_THEY_WERE


def test_seedlings_under_lights_stand_indoors():
    raised = cw.Plan(cw.crop("tomato"), "04-01", 6, "room with lights")
    assert sections._event(event("start", 91.0, 91.0, 91.0), raised)["what"] == (
        "Sow indoors under lights"
    )
    heads = {key: label for label, key in sections._ROWS}
    assert heads["next"] == "Likely in the next ten years"
    assert heads["interval"].startswith("Likely range")


@pytest.mark.parametrize(
    ("row", "claims"),
    [
        ("ready", r"^\{harvest\} from$"),
        ("harvests", r"^A harvest in"),
        ("good", r"^A good one in"),
        ("interval", r"in the long run$"),
        ("growth", r"\bthe best is 1\b"),
        ("failures", r"^Years it failed\b.*\bwhy"),
        ("outdoors", r"^Outdoors before the harvest"),
        ("best", r"^Best dates"),
        ("set_out", r"^Set out"),
    ],
)
def test_a_row_of_the_ways_says_what_stands_in_it(row, claims):
    heads = {key: label for label, key in sections._ROWS}
    assert re.search(claims, heads[row])


def test_a_perennials_way_goes_from_bloom_or_growth_to_its_harvest():
    heads = {key: label for label, key in sections._PERENNIAL_ROWS}
    assert heads["outdoors"] == "From bloom, or first growth, to harvest"
    assert not {"start", "set_out", "best"} & {*heads}


@pytest.mark.parametrize(("kills", "is_said"), [(True, True), (False, False)])
def test_only_the_crops_own_threshold_is_said_to_kill(page, pellbrook, kills, is_said):
    odds = pellbrook.freeze_odds
    own = odds["threshold"].values == pellbrook.crop.killed_at_c
    table = sections.freeze_table(odds.isel(threshold=int(np.flatnonzero(own == kills)[0])), page)
    assert bool(table["meaning"]) is is_said
    assert table["nights"].startswith("Nights of ")


def test_dates_of_a_source_are_written_as_the_pages_own(pellbrook):
    found = sections._ISO.sub(sections._as_date, "fetched 2024-03-09, to 1991-12-31")
    assert found == "fetched 9 Mar 2024, to 31 Dec 1991"


@pytest.mark.parametrize(
    ("harvested", "known", "dates"), [(31.0, 39.0, "5 Mar to 16 Apr"), (0.0, 39.0, "none")]
)
def test_a_crop_without_a_date_has_no_way_and_no_good_years(harvested, known, dates):
    day = 64.0 if harvested else np.nan
    shown = suited(elsewhere_harvested=harvested, elsewhere_known=known, first_day=day)
    assert shown["dates"] == dates
    assert bool(shown["way"]) is bool(harvested)
    assert bool(shown["good"]) is bool(harvested)
    assert bool(shown["growth"]) is bool(harvested)


def test_best_dates_of_an_early_variety_are_said_to_be(page):
    [row, *_] = [each for each in page.decision.rows if each.is_best]
    early = replace(row, is_early=True, is_first_season=True)
    for each, said in ((row, ""), (early, ", early variety")):
        text = sections._best_dates(SimpleNamespace(rows=(each,)), each.number)
        assert text.endswith(f"{said} ({each.harvested} of {each.known})")
