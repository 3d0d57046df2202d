"""The live chart in a browser: the library's own rules to the letter, and a panel in JupyterLab."""

import re
from contextlib import contextmanager
from dataclasses import replace
from pathlib import Path
from urllib.parse import urlsplit

import nbformat
import numpy as np
import pytest
import records
from desk import jupyterlab, open_notebook
from house import PACKAGE
from reading import plan_odds

import climwin as cw
from climwin.cli.lab import copy_notebooks
from climwin.climate.freeze import SHOWN_ODDS
from climwin.climate.level import in_climate, leading_climate
from climwin.climate.usable import running_mean_bounds
from climwin.core import formatting
from climwin.core.dialect import american_dates, in_dialect
from climwin.core.seasons import (
    DAYS,
    by_year,
    date_of,
    day_name,
    day_number,
    offset,
    seen_range,
)
from climwin.core.text import unbroken
from climwin.core.wording import TEMPLATES, say
from climwin.crops.bands import bearable_band
from climwin.crops.naming import plural
from climwin.report import sentences, sentences_decision
from climwin.report.garden import GardenReport
from climwin.report.spells import spells
from climwin.widgets import front_end, payload
from climwin.widgets.panels import panel
from climwin.widgets.state import with_killing_night

MODULES = (
    *("calendar", "dialect", "formatting", "freezes", "outcomes", "sentences"),
    *("spells", "statistics", "unpack", "windows", "wording"),
)
"""Modules of the front end without a document: their functions are called one by one."""
PARTS = ("longest", "rise", "fall")
OWN = bearable_band(cw.crop("cauliflower"))
"""Limits that the panels of these tests begin with."""
PICTURES = Path(__file__).parent / "pictures"
"""Screenshots, for a human eye."""


@contextmanager
def quiet(browser, **options):
    """A page in whose console no error stands at the end."""
    opened = browser.new_page(**options)
    wrong = []
    opened.on("console", lambda m: wrong.append(m.text) if m.type == "error" else None)
    opened.on("pageerror", lambda error: wrong.append(str(error)))
    yield opened
    opened.close()
    assert wrong == []


def serve_sources(route):
    """Answer a page's request for a file of the package, so that no server is needed."""
    path = PACKAGE / urlsplit(route.request.url).path.lstrip("/")
    if path.suffix in {".js", ".json"}:
        kind = {".js": "text/javascript", ".json": "application/json"}[path.suffix]
        route.fulfill(body=path.read_text("utf-8"), content_type=kind)
    else:
        route.fulfill(body="<!doctype html><title>rules</title>", content_type="text/html")


@pytest.fixture(scope="module")
def rules(browser):
    """Calls the front end's own modules: a function of them in JavaScript, and its arguments."""
    imports = ", ".join(f'import("/widgets/js/src/{name}.js")' for name in MODULES)
    with quiet(browser) as page:
        page.route("**/*", serve_sources)
        page.goto("http://front-end.invalid/")
        page.evaluate(f"""async () => {{
            window.rules = Object.assign({{}}, ...await Promise.all([{imports}]));
        }}""")
        yield lambda body, *given: page.evaluate(f"(g) => ({body})(window.rules, ...g)", given)


def number(value):
    """As JSON has it: a number, or None for one that is missing."""
    return None if value is None or np.isnan(value) else float(value)


# --- windows ------------------------------------------------------------------------------


def at(latitude, record):
    return record.assign_attrs(latitude=latitude)


PLACES = {
    "valley": lambda: cw.read_daily(cw.sample()),
    "gaps": lambda: at(48.0, records.weather(3, 9, gaps=0.03)),
    "south": lambda: at(-38.0, records.moved(records.weather(5, 6, gaps=0.01))),
    "hot": lambda: at(28.0, records.weather(7, 6, mean=19.0, swing=9.0)),
    "mild": lambda: at(50.0, records.weather(11, 5, mean=14.0, swing=5.0, gaps=0.01)),
    "whole degrees": lambda: at(48.0, records.weather(4, 30, gaps=0.02).round()),
    "cut short": lambda: at(
        46.0, records.weather(2, 5).sel(time=slice("1999-05-17", "2003-10-02"))
    ),
}


@pytest.fixture(scope="module", params=PLACES)
def place(request):
    return PLACES[request.param]()


BANDS = [
    *((7.2, 23.9, -2.2, 75), (4.0, 18.0, -8.0, 60), (10.0, 30.0, 0.0, 90), (15.0, 35.0, 1.0, 99)),
    *((7.25, 21.05, -1.15, 365), (12.0, 14.0, 2.0, 1), (-4.0, 45.0, -4.5, 200)),
    *((4.0, 45.0, 11.0, 120), (-30.0, 15.0, -3.0, 150)),  # summer, or winter, never stops it
    *((low, low + 6.0 + n, low - 1.5 * n, 40 + 9 * n) for n, low in enumerate(range(-4, 14, 2))),
]
"""Low, high, killing night, need. [degC, days]"""
ENDS = [("low", "low"), ("high", "high"), ("next_low", "nextLow"), ("next_high", "nextHigh")]
"""Ends of both intervals, as the library and as the front end call them."""


def test_windows_are_the_librarys_to_the_day(rules, place):
    cases = [dict(zip(("low", "high", "killed", "need"), band, strict=True)) for band in BANDS]
    computed = rules(
        """(r, record, cases, constants) => {
            const open = r.unpackRecord(record);
            return cases.map((limits) => {
                const windows = r.usableWindows(open, limits);
                const odds = ["longest", "rise", "fall"].map((part) =>
                    r.oddsShorter(windows, part, limits.need, constants));
                return { ...windows, odds };
            });
        }""",
        payload.record_numbers(place, "here"),
        cases,
        payload.constants(),
    )
    for band, shown in zip(BANDS, computed, strict=True):
        low, high, killed, need = band
        limits = cw.Limits(low_c=low, high_c=high, source="")
        windows = cw.usable_windows(place, limits, killed_at=killed)
        assert [row["year"] for row in shown["rows"]] == windows["season"].values.tolist()
        assert shown["firstDay"] == int(windows["first_day"])
        assert shown["hasTwoWindows"] == bool(windows["has_two_windows"])
        odds = cw.odds_shorter(windows, need)
        for n, part in enumerate(PARTS if shown["hasTwoWindows"] else ["longest"]):
            assert_same_part(shown, part, windows.sel(part=part))
            of_part = odds.sel(part=part)
            for name in ("shorter", "known", "unknown", "leaning"):
                assert shown["odds"][n][name] == int(of_part[name])
            for name, theirs in [("odds", "odds"), *ENDS]:
                expected = pytest.approx(float(of_part[name]), nan_ok=True, abs=1e-9)
                assert number_of(shown["odds"][n][theirs]) == expected


def test_what_each_day_can_be_is_the_librarys_to_the_last_bit(rules, place):
    padded = {
        name: np.pad(by_year(place[name]).values.round(6), ((1, 1), (0, 0)), constant_values=np.nan)
        for name in ("tmean", "tmin")
    }
    unseen = np.isnan(padded["tmin"])
    minima = (
        np.where(unseen, seen_range(padded["tmin"])[0], padded["tmin"]),
        np.where(unseen, np.inf, padded["tmin"]),
    )
    bounds = rules(
        """(r, record) => {
            const open = r.unpackRecord(record);
            const text = (values) => Array.from(values, String);
            return ["running_mean", "minimum"].map((name) =>
                [text(open[name].low), text(open[name].high)]);
        }""",
        payload.record_numbers(place, "here"),
    )
    for shown, expected in zip(bounds, (running_mean_bounds(padded["tmean"]), minima), strict=True):
        for ours, theirs in zip(shown, expected, strict=True):
            values = np.array([each.replace("Infinity", "inf") for each in ours], float)
            np.testing.assert_array_equal(values, theirs.ravel())


def assert_same_part(shown, part, windows):
    rows = [row[part] for row in shown["rows"]]
    assert [row["status"] for row in rows] == windows["status"].values.tolist()
    for key, name in (("least", "length_least"), ("most", "length_most")):
        assert [row[key] for row in rows] == windows[name].values.tolist()
    assert [row.get("usable") for row in rows] == [number(v) for v in windows["usable_days"].values]
    for name in ("start", "end"):
        day = np.array([row.get(name, np.nan) for row in rows], float)
        dates = date_of(windows["season"].values, offset(shown["firstDay"]) + day + 1)
        np.testing.assert_array_equal(dates, windows[name].values.astype("datetime64[D]"))
    average = shown["average"][part]
    length = average["end"] - average["start"] + 1 if average["end"] >= 0 else 0
    assert length == float(windows["average_length"])


def report_with(daily, low, high, killed, need):
    crop = with_killing_night(cw.crop("cauliflower"), killed)
    garden, band = cw.Garden("here", 46, 7), cw.Limits(low_c=low, high_c=high, source="")
    plans = (cw.Plan(crop, "03-05", 6, "cold frame"),)
    return GardenReport(garden, daily, plans, need, band)


def test_the_window_is_said_as_the_library_says_it(rules, place):
    for low, high, killed, need in BANDS[:3]:
        report = report_with(place, low, high, killed, need)
        said = rules(
            """(r, record, limits, start, constants) => {
                const open = r.unpackRecord(record);
                const windows = r.usableWindows(open, limits);
                const kind = r.windowOfPlan(windows, start, 6);
                const odds = r.oddsShorter(windows, kind, limits.need, constants);
                const shift = open.todays_shift;
                const moved = shift && r.usableWindows(open, r.limitsOfToday(limits, shift));
                const of = (part) => r.oddsShorter(moved, part, limits.need, constants, "today");
                const today = moved && (of(kind).known ? of(kind) : of("longest"));
                const needs = r.needsOf([], limits.need);
                const spells = r.spellsOf(windows, kind, needs);
                return [r.spellFinding(kind, "cauliflower", needs, spells),
                    r.howSure(odds, today, constants.least_years),
                    r.averageWindow(windows, kind)];
            }""",
            payload.record_numbers(place, "here"),
            {"low": low, "high": high, "killed": killed, "need": need},
            day_number("03-05"),
            payload.constants(),
        )
        assert said == [
            sentences.finding(report),
            sentences.how_sure(report),
            sentences.average(report),
        ]


@pytest.mark.parametrize("name", ["cauliflower", "pea", "tomato", "lettuce"])
def test_what_is_left_in_comfort_is_the_librarys(rules, place, name):
    crop = cw.crop(name)
    plans = (cw.Plan(crop, "03-05"),)
    needs = (20, 60, 100)
    shown = rules(
        """(r, record, crop, needs, start, constants) => {
            const open = r.unpackRecord(record);
            const { low, high, killed, comfortable } = crop;
            const windows = r.usableWindows(open, { low, high, killed });
            const inComfort = r.usableWindows(open,
                { low: comfortable[0], high: comfortable[1], killed });
            const kind = r.windowOfPlan(windows, start, 0);
            return needs.map((need) => {
                const [odds, other] = [windows, inComfort].map((each) =>
                    r.oddsShorter(each, kind, need, constants));
                return r.inComfortOnly(crop.plural, need, odds, other);
            });
        }""",
        payload.record_numbers(place, "here"),
        payload.crop_numbers(crop),
        needs,
        day_number("03-05"),
        payload.constants(),
    )
    for need, said in zip(needs, shown, strict=True):
        report = GardenReport(cw.Garden("here", 46, 7), place, plans, need)
        whole = sentences.two_bands(report, "C")
        assert bool(said) == bool(whole)
        assert said.removesuffix(".") in whole


PAIRS = [
    *(("cauliflower", 6, {}), ("tomato", 8, {}), ("potato", 0, {"fleece_weeks": 3})),
    *(("lettuce", 0, {"plants": "bought"}), ("apple", 0, {})),
]
"""Crops, with the weeks under cover of the first of two ways and what else is its own."""


@pytest.mark.parametrize(("name", "weeks", "more"), PAIRS)
@pytest.mark.parametrize("where", ["valley", "gaps", "south", "hot"])
def test_the_mild_spells_are_sorted_as_in_the_still_figure(rules, where, name, weeks, more):
    daily, crop = PLACES[where](), cw.crop(name)
    cover = "cold frame" if weeks else "none"
    raised = cw.Plan(crop, "03-05", weeks, cover, **more)
    plans = (raised, cw.Plan(crop, "05-10"))
    for need in (None, 70):
        report = GardenReport(cw.Garden("here", 46, 7), daily, plans, need)
        shown = rules(
            """(r, record, crop, plans, need, kind) => {
                const { low, high, killed } = crop;
                const windows = r.usableWindows(r.unpackRecord(record), { low, high, killed });
                const needs = r.needsOf(plans, need);
                const spells = r.spellsOf(windows, kind, needs);
                return { ...spells, needs, labels: needs.map(r.needLabel),
                    said: r.spellFinding(kind, crop.plural, needs, spells) };
            }""",
            payload.record_numbers(daily, "here"),
            payload.crop_numbers(crop),
            [
                {**as_the_panel_has_it(plan), "needDays": days}
                for plan, days in zip(plans, report.needs, strict=True)
            ],
            need,
            report.part,
        )
        found = spells(report)
        told = [(each["days"], each["way"], each.get("since", "")) for each in shown["needs"]]
        assert told == [(need.days, need.way, need.since) for need in found.needs]
        assert shown["labels"] == [need.label for need in found.needs]
        assert tuple(shown["counts"]) == found.counts
        years = shown["years"]
        assert [each["year"] for each in years] == found.years.tolist()
        zones = [-1 if each["zone"] is None else each["zone"] for each in years]
        assert zones == found.zone.tolist()
        for key, theirs in (("length", found.length), ("start", found.start)):
            days = np.array([number_of(each[key]) for each in years], float)
            np.testing.assert_array_equal(days, theirs)
        assert shown["said"] == sentences.finding(report)


# --- freezes ------------------------------------------------------------------------------

THRESHOLDS = [0.0, -2.2, 3.0, -12.0, -40.0]


def test_freeze_odds_are_the_librarys(rules, place):
    computed = rules(
        """(r, record, thresholds, levels) => {
            const open = r.unpackRecord(record);
            return thresholds.map((threshold) => {
                const dates = r.freezeDates(open, threshold - open.freeze_shift, threshold);
                const at = (half) => levels.map((level) => r.freezeDay(dates, half, level));
                return { ...r.freezeChance(open, dates), days: [at("spring"), at("autumn")] };
            });
        }""",
        payload.record_numbers(place, "here"),
        THRESHOLDS,
        list(SHOWN_ODDS),
    )
    led = in_climate(place, leading_climate(place, "spring freeze"))
    # Drawn nights come in hundredths of a degree: where the record is moved by less, one of them in
    # one draw may fall on the other side of a threshold.
    near, near_days = (1e-12, 1e-9) if led is place else (1e-3, 0.1)
    all_odds = cw.freeze_odds(led, THRESHOLDS, levels=SHOWN_ODDS, method="smoothed")
    for threshold, shown in zip(THRESHOLDS, computed, strict=True):
        chance = cw.freeze_chance(cw.freeze_dates(led, threshold))
        odds = all_odds.sel(threshold=threshold)
        names = ("last_spring", "first_autumn")
        for half, name, days in zip(("spring", "autumn"), names, shown["days"], strict=True):
            np.testing.assert_allclose(np.array(shown[half], float), chance[name], atol=near)
            np.testing.assert_allclose(np.array(days, float), odds[name], atol=near_days)


# --- plans --------------------------------------------------------------------------------


def ways(name):
    """Two ways of growing a crop, their start dates left open; a perennial has one."""
    crop = cw.crop(name)
    if crop.is_perennial or not crop.weeks_under_cover:
        return [cw.Plan(crop, "04-01"), cw.Plan(crop, "04-01", earliness="early")]
    weeks = crop.weeks_under_cover.usual
    return [cw.Plan(crop, "04-01", weeks, "cold frame"), cw.Plan(crop, "04-01")]


def as_the_panel_has_it(plan):
    return {
        "start": day_number(plan.start),
        "weeks": plan.weeks_under_cover,
        "cover": plan.cover,
        "fleece": plan.fleece_weeks,
        "plants": plan.plants,
        "isPerennial": plan.crop.is_perennial,
        "isPlanted": plan.is_planted,
    }


@pytest.mark.parametrize("name", ["cauliflower", "tomato", "potato", "garlic", "apple"])
@pytest.mark.parametrize("where", ["valley", "gaps", "south"])
def test_plans_are_counted_and_said_as_the_library_does(rules, where, name):
    # As a panel has it: in today's climate; the last two places have too few years to be moved.
    daily, first = cw.todays_climate(PLACES[where]()), ways(name)
    packed = payload.outcomes(first, daily)
    swept = [cw.sweep_start_dates(plan, daily) for plan in first]
    for starts in (("03-05", "04-20"), ("07-08", "07-24"), ("12-30", "10-10")):
        plans = [replace(plan, start=start) for plan, start in zip(first, starts, strict=True)]
        shown = rules(
            """(r, packed, plans, crops, constants) => {
                const grids = plans.map((_, i) => r.outcomeGrid(packed[i]));
                const outcomes = plans.map((plan, i) => grids[i].on(plan.start));
                const odds = outcomes.map((each) => r.countOutcomes(each, constants));
                return {
                    counts: odds,
                    intervals: odds.map((each, i) =>
                        r.harvestIntervals(each, grids[i], plans[i].start, constants)),
                    need: plans.map((plan, i) => grids[i].needDays(plan.start)),
                    odds: plans.map((plan, i) => r.planOdds(plan, crops, odds[i])),
                    failures: odds.map((each) => r.failures(each, constants.failure_reasons)),
                    interval: odds.map((each, i) =>
                        r.interval(r.harvestIntervals(each, grids[i], plans[i].start, constants))),
                    begins: plans.map((plan, i) =>
                        r.harvestBegins(grids[i].harvestDays(plan.start))),
                    pairs: r.comparePlans(...outcomes, constants),
                    comparison: r.comparison(...plans, r.comparePlans(...outcomes, constants)),
                };
            }""",
            packed,
            [as_the_panel_has_it(plan) for plan in plans],
            plural(cw.crop(name)),
            payload.constants(),
        )
        report = GardenReport(cw.Garden("here", 46, 7), daily, tuple(plans))
        for counts, odds in zip(shown["counts"], report.odds, strict=True):
            for key in ("harvested", "known", "good", "leaning"):
                assert counts[key] == int(odds[key])
            share = pytest.approx(float(odds["share"]), nan_ok=True, abs=1e-12)
            assert number_of(counts["share"]) == share
            assert counts["failed"] == odds["failed_by"].values.tolist()
        # How harvests hang on the level is told by those of the dates around, too.
        days = [1 if plan.crop.is_perennial else day_number(plan.start) for plan in plans]
        on_day = [odds_from(*each) for each in zip(plans, swept, days, strict=True)]
        for ends, odds in zip(shown["intervals"], on_day, strict=True):
            for key, theirs in ENDS:
                # What the level adds comes in thousandths.
                expected = pytest.approx(float(odds[key]), nan_ok=True, abs=1e-3)
                assert number_of(ends[theirs]) == expected
        assert shown["need"] == list(report.needs)
        assert shown["odds"] == [plan_odds(*each) for each in zip(plans, report.odds, strict=True)]
        assert shown["interval"] == [sentences.interval(odds) for odds in on_day]
        assert shown["begins"] == [sentences.harvest_begins(odds) for odds in on_day]
        compared = cw.compare_plans(*plans, daily)
        assert [shown["pairs"][key] for key in ("both", "onlyFirst", "onlySecond", "neither")] == [
            int(compared[key]) for key in ("both", "only_plan", "only_other", "neither")
        ]
        for end in ("low", "high"):
            expected = pytest.approx(float(compared[end]), nan_ok=True, abs=1e-9)
            assert number_of(shown["pairs"][end]) == expected
        assert shown["comparison"] == sentences.comparison(*plans, compared)


def odds_from(plan, swept, day):
    """Odds of a start day; of the best one, those of years that had no part in choosing it."""
    odds = swept.sel(start_day=day)
    if plan.crop.is_perennial or day != swept["best_day"]:
        return odds
    return odds.assign({end: odds[f"elsewhere_{end}"] for end in ("low", "high")})


def number_of(value):
    return np.nan if value is None else value


@pytest.mark.parametrize("name", ["cauliflower", "tomato", "potato", "garlic"])
@pytest.mark.parametrize("where", ["valley", "gaps", "hot"])
def test_every_start_date_and_the_best_are_the_librarys(rules, where, name):
    daily, plans = PLACES[where](), ways(name)
    for plan, packed in zip(plans, payload.outcomes(plans, daily), strict=True):
        swept = cw.sweep_start_dates(plan, daily)
        shown = rules(
            """(r, packed, constants) => {
                const grid = r.outcomeGrid(packed);
                const shares = r.harvestShares(grid, constants);
                const longRun = (day) => {
                    const counts = r.countOutcomes(grid.on(day), constants);
                    const { low, high } = r.harvestIntervals(counts, grid, day, constants);
                    return [low, high];
                };
                return { shares, best: r.bestDates({ ...grid, shares }), none:
                    r.bestDates({ ...grid, shares, bestDates: null }),
                    judged: longRun(grid.bestDate),
                    beside: longRun((grid.bestDate % 365) + 1) };
            }""",
            packed,
            payload.constants(),
        )
        shares = np.array([number_of(share) for share in shown["shares"]])
        np.testing.assert_allclose(shares, swept["share"].values, atol=1e-12)
        # The best date was chosen by the years that praise it: its odds are those of other years.
        judged = [float(swept[f"elsewhere_{end}"]) for end in ("low", "high")]
        assert shown["judged"] == pytest.approx(judged, nan_ok=True, abs=1e-4)
        beside = swept.sel(start_day=packed["best_date"] % DAYS + 1)
        own = [float(beside[end]) for end in ("low", "high")]
        assert shown["beside"] == pytest.approx(own, nan_ok=True, abs=1e-3)
        assert shown["best"] == sentences.best_dates(swept)
        assert tuple(packed["best_dates"]) == cw.best_dates(swept)
        assert shown["none"] == say("no_best_dates")


# --- numbers, dates and templates ---------------------------------------------------------------

AWKWARD = [
    *(np.arange(-40, 400) / 8),
    *(1.005, 0.05, 0.15, 0.35, 2.675, 99.95, 99.5, 999999.4, 1e-9, -1e-9, 0.0, -0.0),
    *(-40.0, -25.6, -17.8, -17.75, -0.05, -0.04, -0.5, -1.5, -2.5, 37.7, 1e6),
]
"""Exact halves, halves that are none in binary, zeros with and without a sign, large and small."""


@pytest.mark.parametrize("digits", [0, 1])
def test_numbers_are_written_as_python_does(rules, digits):
    shown = rules("(r, values, digits) => values.map((v) => r.fixed(v, digits))", AWKWARD, digits)
    assert shown == [formatting.fixed(value, digits) for value in AWKWARD]
    assert {"-0", "-0.0"}.isdisjoint(shown)
    small = [value for value in AWKWARD if abs(value) < 1000]  # the front end says no larger ones
    shown = rules("(r, values, digits) => values.map((v) => r.number(v, digits))", small, digits)
    assert shown == [formatting.number(value, digits) for value in small]


@pytest.mark.parametrize("units", ["C", "F"])
@pytest.mark.parametrize("digits", [0, 1])
def test_temperatures_are_written_as_python_does(rules, units, digits):
    values = [value for value in AWKWARD if abs(value) < 500]
    shown = rules(
        "(r, values, units, digits) => values.map((v) => r.temperature(v, units, digits))",
        values,
        units,
        digits,
    )
    assert shown == [formatting.temperature(value, units, digits) for value in values]
    below = [text for text in shown if text.startswith("\N{MINUS SIGN}")]
    assert below
    assert not [text for text in shown if "-" in text or text.startswith("\N{MINUS SIGN}0 ")]
    assert {text[-3:] for text in shown} == {f" °{units}"}  # a plain blank, which may wrap


def test_shares_years_and_spans_are_written_as_python_does(rules):
    shares = [0.0, 0.005, 0.015, 0.025, 0.125, 0.495, 0.625, 0.995, 1.0, *np.arange(1, 40) / 39]
    assert rules("(r, v) => v.map(r.percent)", shares) == [formatting.percent(v) for v in shares]
    assert rules("(r) => r.percent(NaN)") == formatting.percent(np.nan)
    counts = [0, 1, 2, 21, 101]
    assert rules("(r, v) => v.map(r.years)", counts) == [formatting.years(n) for n in counts]
    assert rules("(r) => [r.date(NaN), r.date(59.5)]") == [
        formatting.date(np.nan),
        formatting.date(59.5),
    ]
    ends = [(1.0, 365.0), (-3.0, None), (None, 400.5), (None, None)]
    assert rules("(r, pairs) => pairs.map((pair) => r.span(...pair))", ends) == [
        formatting.span(*(np.nan if end is None else end for end in pair)) for pair in ends
    ]


def test_dates_are_written_and_read_as_python_does(rules):
    days = [float(d) for d in np.arange(-400, 800, 0.5)]
    assert rules("(r, days) => days.map(r.dayName)", days) == [day_name(d) for d in days]
    names = [day_name(d) for d in range(1, 366)] + ["12-31", "Apr 20", "1 january"]
    assert rules("(r, names) => names.map(r.dayNumber)", names) == [day_number(n) for n in names]
    wrong = ["31 Apr", "02-29", "0 Jan", "13-01", "soon", ""]
    assert rules("(r, names) => names.map(r.dayNumber)", wrong) == [0] * len(wrong)


def test_american_dates_are_written_as_python_does(rules):
    texts = [f"Sown {day_name(d)} to {day_name(d + 40)}, 12 of 39" for d in range(1, 366)]
    texts += ["3\N{EN DASH}13 July", "9 May 1985: 12 days", "Mar 5", "1.5 May", "in 5 Marches"]
    texts += ["31 December\N{EN DASH}14 January", "5\N{NO-BREAK SPACE}March", "20 Apr 40 of 41"]
    shown = rules("(r, texts) => texts.map(r.americanDates)", texts)
    assert shown == [american_dates(text) for text in texts]
    assert shown[0] == "Sown Jan 1 to Feb 10, 12 of 39"
    assert shown[365:369] == ["July 3\N{EN DASH}13", "May 9, 1985: 12 days", "Mar 5", "1.5 May"]


@pytest.mark.parametrize("units", ["C", "F"])
def test_a_reader_s_english_is_the_same_in_python(rules, units):
    texts = ["The odds of a freeze", "Freezes end by 5 May.", "freezing; see late-freeze.csv"]
    texts += ["a/freeze/b", "a freeze.", "freeze.csv", "no freeze\N{EN DASH}3 June"]
    shown = rules("(r, texts, units) => texts.map((t) => r.inDialect(t, units))", texts, units)
    assert shown == in_dialect(texts, units)
    assert shown[0] == {"C": "The odds of a frost", "F": texts[0]}[units]


def test_numbers_stay_with_their_units_as_in_python(rules):
    texts = [
        "12 of 39 years, on 5 May",
        "at \N{MINUS SIGN}7 °C in 8 % of 1 year",
        "a 3 degree",
        "of 39",
    ]
    texts += ["3 days in 75 Marches", "10 to 12 of the next ten", "16 weeks, 2 Junes"]
    assert rules("(r, texts) => texts.map(r.unbroken)", texts) == [unbroken(t) for t in texts]
    shown = """(r, text) => {
        const root = document.createElement("div");
        root.innerHTML = `<p>${text}</p><svg><text>${text}</text></svg>`;
        for (const units of ["C", "F", "F"]) r.speak(root, units);
        return [...root.querySelectorAll("p, text")].map((each) => each.textContent);
    }"""
    text = "12 of 39 years, on 5 May"
    assert rules(shown, text) == [american_dates(unbroken(text)), american_dates(text)]


@pytest.mark.parametrize("units", ["C", "F"])
def test_what_is_read_out_is_in_the_readers_english_too(rules, units):
    text = "No freeze after 5 May"
    said = """(r, text, units) => {
        const root = document.createElement("div");
        root.innerHTML = "<p></p>";
        const [part] = root.children;
        const names = ["aria-label", "aria-valuetext", "title"];
        for (const name of names) part.setAttribute(name, text);
        for (const shown of ["C", "F", units]) r.speak(root, shown);
        return names.map((name) => part.getAttribute(name));
    }"""
    assert rules(said, text, units) == [in_dialect(text, units)] * 3


@pytest.mark.parametrize("count", [0, 1, 2, 75])
def test_every_template_is_filled_in_as_python_does(rules, count):
    names = sorted(TEMPLATES)
    placeholders = {name: re.findall(r"\{(\w+)\}", str(TEMPLATES[name])) for name in names}
    values = {
        name: {each: f"<{each}>" for each in placeholders[name]} | {"count": count}
        for name in names
    }
    shown = rules("(r, v) => Object.keys(v).map((name) => r.say(name, v[name]))", values)
    assert shown == [say(name, **values[name]) for name in names]


def test_plans_are_named_as_python_does(rules):
    crop = cw.crop("cauliflower")
    plans = [
        cw.Plan(crop, "04-20"),
        cw.Plan(crop, "04-20", 0, fleece_weeks=1),
        cw.Plan(crop, "12-31", 6, "cold frame", 3),
        cw.Plan(crop, "01-01", 4, "fleece"),
        cw.Plan(crop, "03-05", 6, "unheated greenhouse"),
        cw.Plan(crop, "05-05", plants="bought"),
        cw.Plan(cw.crop("potato"), "04-20"),
        cw.Plan(cw.crop("asparagus"), "04-03"),
    ]
    shown = rules("(r, plans) => plans.map(r.planName)", [as_the_panel_has_it(p) for p in plans])
    assert shown == [plan.name for plan in plans]
    assert len(set(shown)) == len(plans)


# --- a panel on a bare page -----------------------------------------------------------------


@pytest.fixture(scope="module")
def given():
    """What a panel of the sample holds, all parts of it."""
    crop = cw.crop("cauliflower")
    plans = [cw.Plan(crop, "03-05", 6, "cold frame"), cw.Plan(crop, "04-20")]
    logger = cw.read_logger(cw.sample("frame_logger.csv"))
    shown = panel(cw.read_daily(cw.sample()), plans=plans, logger=logger)
    return {name: getattr(shown, name) for name in ("numbers", "results", "state", "parts")}


@contextmanager
def bare_page(browser, given):
    """A panel on a page of its own, and the states that its hand has made."""
    with quiet(browser, viewport={"width": 1280, "height": 900}) as page:
        page.set_content(
            "<!doctype html><html lang=en><title>panel</title><main><h1>Page</h1><h2>Panel</h2>"
            f"<style>{front_end.style()}</style><div id=panel></div></main>"
        )
        page.evaluate("(given) => (window.given = given)", given)
        page.evaluate(
            """async (script) => {
                const address = URL.createObjectURL(new Blob([script], {type: "text/javascript"}));
                const { mount } = await import(address);
                const root = document.getElementById("panel");
                mount(root, window.given, (state) => { window.state = state; });
            }""",
            front_end.widget_script(),
        )
        page.wait_for_function("document.querySelector('.finding')?.textContent")
        yield page


@pytest.fixture
def bare(browser, given):
    with bare_page(browser, given) as page:
        yield page


def words_of(located):
    """Text with plain blanks, where it keeps numbers with their units on one line."""
    return located.inner_text().replace("\N{NO-BREAK SPACE}", " ")


def finding(page):
    return words_of(page.locator(".climwin .finding"))


def test_the_panel_of_a_season_gives_python_what_was_chosen(browser):
    given = {
        "state": {"crop": "pea", "sown": "04-10", "on": "2024-05-15", "units": "C"},
        "crops": ["pea", "potato"],
        "message": "",
        "drawings": ["<svg><text>wide</text></svg>", "<svg><text>narrow</text></svg>"],
        "finding": "Peas from 20 June",
        "lines": ["Peas from 20 June", "This is no forecast."],
    }
    with quiet(browser) as page:
        page.set_content("<!doctype html><html lang=en><title>season</title><div id=panel></div>")
        page.evaluate(
            """async ([script, given]) => {
                const address = URL.createObjectURL(new Blob([script], {type: "text/javascript"}));
                const { default: season } = await import(address);
                const listeners = {};
                window.give = (name, value) => { given[name] = value; listeners[name](); };
                window.close = season.render({
                    el: document.getElementById("panel"),
                    model: {
                        get: (name) => given[name],
                        set: (name, value) => { window.chosen = value; },
                        save_changes: () => {},
                        on: (event, heard) => { listeners[event.split(":")[1]] = heard; },
                        off: (event) => { delete listeners[event.split(":")[1]]; },
                    },
                });
                window.listening = () => Object.keys(listeners).length;
            }""",
            [front_end.season_script(), given],
        )
        heading, *lines = given["lines"]
        assert page.locator("li").all_inner_texts() == lines
        assert page.locator(".crop").inner_text() == heading
        assert page.locator(".finding").inner_text() == "Peas from 20 June."
        pictures = page.get_by_role("img", name="Peas from 20 June.")
        assert pictures.all_inner_texts() == ["wide", "narrow"]
        assert page.get_by_label("Sown or planted on").input_value() == "04-10"
        page.get_by_label("Crop").select_option("potato")
        assert page.evaluate("window.chosen") == {**given["state"], "crop": "potato"}
        page.get_by_label("Sown or planted on").fill(" 04-20 ")
        page.get_by_label("Sown or planted on").press("Enter")
        assert page.evaluate("window.chosen.sown") == "04-20"
        page.get_by_label("As it stood on").fill("2024-06")
        page.evaluate("window.give('lines', ['An answer', 'to an earlier choice.'])")
        assert page.get_by_label("As it stood on").input_value() == "2024-06"  # still being typed
        assert page.get_by_label("Crop").input_value() == "pea"  # as the state has it
        assert not page.get_by_role("alert").is_visible()
        page.evaluate("window.give('message', 'sown is a day such as 04-28')")
        assert page.get_by_role("alert").inner_text() == "sown is a day such as 04-28"
        page.evaluate("window.close()")
        assert page.evaluate("window.listening()") == 0


def settled(page):
    page.evaluate("() => new Promise((done) => requestAnimationFrame(() => setTimeout(done)))")


def test_axe_finds_nothing(bare):
    from axe_playwright_python.sync_playwright import Axe

    violations = Axe().run(bare).response["violations"]
    assert [(each["id"], [node["html"] for node in each["nodes"]]) for each in violations] == []


def test_every_control_is_reached_and_named_by_keyboard(bare):
    names = []
    for _ in range(70):
        bare.keyboard.press("Tab")
        names.append(
            bare.evaluate(
                "() => { const at = document.activeElement; "
                "return at.labels?.[0]?.textContent || at.ariaLabel || at.textContent; }"
            )
        )
    wanted = {"Too hot above", "Too cold below", "Killed by a night of", "Days it needs", "Crop"}
    wanted |= {
        "Read a date",
        "Sown or planted on",
        "Weeks under cover",
        "Raised in",
        "Variety",
        "°C",
    }
    assert wanted <= set(names)


def test_arrows_move_by_strides_and_pages_by_ten(bare):
    for label, keys, wanted in (
        (
            "Too cold below",
            ["ArrowUp", "ArrowRight", "ArrowLeft", "PageDown"],
            f"{OWN.low_c - 4.5:.1f}",
        ),
        ("Days it needs", ["ArrowRight", "PageUp", "End", "ArrowDown"], "364"),
        ("Read a date", ["PageUp", "ArrowLeft"], "10 May"),
    ):
        slider = bare.get_by_label(label, exact=True)
        slider.focus()
        for key in keys:
            bare.keyboard.press(key)
            settled(bare)
        assert bare.get_by_label(f"{label}, in figures").input_value() == wanted
    weeks = bare.get_by_label("Weeks under cover", exact=True).first
    weeks.focus()
    bare.keyboard.press("ArrowRight")
    assert [way["weeks"] for way in bare.evaluate("window.state.ways")] == [7, 0]


def test_limits_upside_down_are_named_and_change_nothing(bare):
    before = finding(bare)
    field = bare.get_by_label("Too hot above, in figures")
    field.fill("3")
    settled(bare)
    low = formatting.temperature(OWN.low_c, "C", 1)
    wrong = f"Too cold below {low} and too hot above 3 °C leave nothing between."
    assert wrong in bare.inner_text(".climwin")
    assert field.get_attribute("aria-invalid") == "true"
    assert finding(bare) == before
    assert bare.evaluate("window.state") is None
    field.blur()
    assert field.input_value() == f"{OWN.high_c:.1f}"
    for text, said in (
        *(("", "write a number"), ("200", "No crop has a limit of 200 °C"), ("26.4", "")),
    ):
        field.fill(text)
        assert said in bare.inner_text(".climwin")
    assert bare.evaluate("window.state.limits") == [OWN.low_c, 26.4]


def test_the_killing_night_and_the_need_move_and_go_back(bare):
    back = bare.get_by_role("button", name="own limits")
    assert back.is_disabled()
    bare.get_by_label("Killed by a night of, in figures").fill("-5")
    assert bare.evaluate("[window.state.limits, window.state.killed]") == [None, -5]
    bare.get_by_label("Days it needs, in figures").fill("61")
    settled(bare)
    days = bare.locator(".strip").nth(1).locator("svg[role=img]").text_content()
    assert "61 days needed" in days
    assert "days needed sown" not in days  # a need given by hand holds for both
    back.click()
    settled(bare)
    assert bare.evaluate("[window.state.killed, window.state.need]") == [None, None]
    assert back.is_disabled()


def test_an_early_variety_is_asked_of_python(bare):
    bare.get_by_label("Variety").nth(1).select_option("early")
    settled(bare)
    assert [way["earliness"] for way in bare.evaluate("window.state.ways")] == ["main", "early"]
    assert "waiting" in bare.locator(".strip").nth(2).get_attribute("class")


def test_a_perennial_shows_its_years_and_no_start(browser):
    shown = panel(PLACES["valley"](), "apple")
    names = ("numbers", "results", "state", "parts")
    with bare_page(browser, {name: getattr(shown, name) for name in names}) as page:
        plans = page.locator(".strip").nth(2)
        odds = plan_odds(shown.plan, shown.report.ahead.odds[0])
        assert odds in words_of(plans.locator(".said"))
        assert not page.get_by_label("Sown or planted on", exact=True).first.is_visible()
        years = shown.years[1] - shown.years[0] + 1
        assert plans.locator("svg[role=img] rect").count() == years
        assert finding(page) == f"{sentences.finding(shown.report)}."


def test_two_panels_of_one_notebook_keep_their_own_choices_and_names(bare, given):
    fahrenheit = {**given, "state": {**given["state"], "units": "F"}}
    bare.evaluate(
        """async ([script, given]) => {
            const address = URL.createObjectURL(new Blob([script], {type: "text/javascript"}));
            const { mount } = await import(address);
            const root = document.createElement("div");
            document.querySelector("main").append(root);
            mount(root, given, () => {});
        }""",
        [front_end.widget_script(), fahrenheit],
    )
    bare.wait_for_function("document.querySelectorAll('.finding').length === 2")
    chosen = bare.locator(".radios input:checked")
    units = [
        value for value in chosen.evaluate_all("all => all.map((e) => e.value)") if value in "CF"
    ]
    assert units == ["C", "F"]
    names = bare.locator("[id]").evaluate_all("all => all.map((each) => each.id)")
    assert len(set(names)) == len(names)


def test_days_in_comfort_are_shaded_only_inside_the_picture(browser):
    cool = at(48.0, records.weather(3, 9, mean=9.0, swing=7.0))
    shown = panel(cool, "tomato")  # comfortable at temperatures that this place never has
    names = ("numbers", "results", "state", "parts")
    with bare_page(browser, {name: getattr(shown, name) for name in names}) as page:
        top = float(page.locator("line.limit.high").first.get_attribute("y1"))
        bands = page.locator("svg:has(line.limit.high) rect.band").evaluate_all(
            "all => all.filter((e) => e.getBBox().height > 0).map((e) => e.getBBox().y)"
        )
        assert bands
        assert min(bands) >= top


def test_what_is_not_judged_yet_is_not_claimed(bare):
    plans = bare.locator(".strip").nth(2)
    said = words_of(plans.locator(".said"))
    sown = cw.Plan(cw.crop("cauliflower"), "04-20")
    odds = cw.harvest_odds(cw.evaluate_plan(sown, PLACES["valley"](), climate="today"))
    assert plan_odds(sown, odds) in said
    bare.get_by_label("Crop", exact=True).select_option("tomato")
    settled(bare)
    assert "tomato" in finding(bare)
    assert words_of(plans.locator(".said")) == said
    assert "waiting" in plans.get_attribute("class")


def drag(page, mark, across, up):
    """Take hold of a mark in a chart and move it by some pixels."""
    mark.hover()  # waits until it stands still: a chart above may be drawn late and push it down
    at = mark.bounding_box()
    x, y = at["x"] + at["width"] / 2, at["y"] + at["height"] / 2
    page.mouse.down()
    page.mouse.move(x + across, y - up, steps=3)
    page.mouse.up()
    settled(page)


def test_dragging_takes_hold_of_a_limit_a_plan_and_the_date(bare):
    charts = bare.locator(".strip svg[role=img]")
    drag(bare, charts.nth(1).locator("circle.high"), 0, 20)
    assert 24.5 < bare.evaluate("window.state.limits?.[1]") < 32
    drag(bare, charts.nth(2).locator("circle.first"), 60, 0)
    assert day_number("03-30") < bare.evaluate("window.state.starts[0]") < day_number("04-30")
    drag(bare, charts.nth(1).locator("circle.need").first, -60, 0)
    assert bare.evaluate("window.state.need") < 106
    charts.nth(0).click(position={"x": 500, "y": 60})
    assert day_number("07-01") < bare.evaluate("window.state.date") < day_number("09-01")


def test_it_stays_whole_in_a_narrow_column_and_at_twice_the_size(bare):
    for width, zoom in ((1280, 2), (390, 1), (290, 1)):
        bare.set_viewport_size({"width": width, "height": 900})
        bare.evaluate("(zoom) => (document.body.style.zoom = zoom)", zoom)
        bare.wait_for_timeout(200)
        root = bare.locator("#panel")
        assert root.evaluate("(el) => el.scrollWidth <= el.clientWidth")
        sizes = root.evaluate(
            """(el) => [...el.querySelectorAll("svg text")].map((t) =>
                parseFloat(getComputedStyle(t).fontSize))"""
        )
        assert min(sizes) >= 11
        assert bare.evaluate(OVERLAPPING, ["^\\d+ days", "^\\d+( weeks)?$"]) == []


OVERLAPPING = """(patterns) => {
    const written = [...document.querySelectorAll(".strip:nth-of-type(2) svg[role=img] text")];
    const boxes = patterns.flatMap((pattern) => {
        const alike = written.filter((text) => new RegExp(pattern).test(text.textContent));
        return alike.map((text) => [pattern, text.textContent, text.getBoundingClientRect()]);
    });
    return boxes.flatMap(([kind, text, a], i) => boxes.slice(i + 1)
        .filter(([other, , b]) => other === kind && a.left < b.right && b.left < a.right
            && a.top < b.bottom && b.top < a.bottom)
        .map(([, name]) => `${text} / ${name}`));
}"""
"""Names of needs that stand on each other, and of weeks."""


# --- a panel in JupyterLab --------------------------------------------------------------------


@pytest.fixture(scope="module")
def desk(tmp_path_factory):
    """JupyterLab on copies of the notebooks, one with a cell more that tells what was chosen."""
    folder = copy_notebooks(tmp_path_factory.mktemp("desk"))
    path = folder / "how_often_too_short.ipynb"
    book = nbformat.read(path, 4)
    end = next(i for i, cell in enumerate(book.cells) if cell.source.endswith("\nview")) + 1
    book.cells = [*book.cells[:end], nbformat.v4.new_code_cell("view.limits, view.need_days")]
    nbformat.write(book, path)
    _shorten_the_start(folder)
    with jupyterlab(folder, tmp_path_factory.mktemp("own")) as address:
        yield address


def _shorten_the_start(folder):
    """The notebook to begin with on twelve years, which answer sooner."""
    short = cw.read_daily(cw.sample()).sel(time=slice("2013", None))
    cw.to_csv(short, folder / "short.csv")
    path = folder / "start_here.ipynb"
    book = nbformat.read(path, 4)
    [values] = [cell for cell in book.cells if "parameters" in cell.metadata.get("tags", [])]
    assert 'record = ""' in values.source
    values.source = values.source.replace('record = ""', 'record = "short.csv"')
    nbformat.write(book, path)


def test_the_form_answers_without_a_line_of_code(browser, desk, tmp_path):
    hill = cw.read_daily(cw.sample("pellbrook_hill.csv")).sel(time=slice("2013", None))
    cw.to_csv(hill, tmp_path / "hill.csv")
    report = cw.garden_report(cw.garden_of(hill), hill, crop=cw.crop("pea"))
    with quiet(browser, viewport={"width": 1280, "height": 1000}) as page:
        try:
            open_notebook(page, desk, "start_here.ipynb")
            answer = page.locator(".climwin-answer")
            answer.wait_for(timeout=120_000)
            assert "Pellbrook Mill · cauliflower" in answer.inner_text()
            assert page.locator(".climwin .finding").inner_text()
            page.mouse.move(700, 500)
            page.mouse.wheel(0, -100_000)  # JupyterLab keeps only the cells in sight

            message = page.locator(".widget-html-content")
            crop = page.get_by_label("Crop", exact=True).locator("visible=true").first
            crop.fill("potatoe")
            crop.press("Enter")
            page.get_by_role("button", name="Show the answer").click()
            message.filter(has_text="Nearest: potato").wait_for(timeout=60_000)
            assert "menu of “Crop” lists all" in message.inner_text()

            with page.expect_file_chooser() as chosen:
                page.get_by_role("button", name="Daily weather (CSV)").click()
            chosen.value.set_files(tmp_path / "hill.csv")
            page.get_by_role("button", name="hill.csv").wait_for(timeout=60_000)
            crop.fill("pea")
            crop.press("Enter")
            page.get_by_label("Shown in").select_option(label="°F, feet and inches")
            page.get_by_role("button", name="Show the answer").click()
            message.filter(has_text="The answer is below").wait_for(timeout=120_000)
            page.screenshot(path=PICTURES / "start-1280.png")
            words = answer.inner_text().replace("\N{NO-BREAK SPACE}", " ")
            assert american_dates(sentences_decision.verdict(report)) in words
            assert american_dates(sentences_decision.numbers_behind(report)) in words
            link = page.get_by_role("link", name="pellbrook-pass-pea.html")
            assert "pellbrook-pass-pea.html" in link.get_attribute("href")
            assert page.request.get(link.get_attribute("href")).ok
        finally:
            page.evaluate("window.jupyterapp.serviceManager.sessions.shutdownAll()")


def test_a_slider_moves_the_picture_and_the_words_in_jupyterlab(browser, desk):
    PICTURES.mkdir(exist_ok=True)
    with quiet(browser, viewport={"width": 1280, "height": 1000}) as page:
        open_notebook(page, desk, "how_often_too_short.ipynb")
        page.wait_for_selector(".climwin .finding:not(:empty)", timeout=60_000)
        page.locator(".climwin .place").evaluate("(el) => el.scrollIntoView()")
        page.screenshot(path=PICTURES / "panel-1280.png")
        high = page.get_by_label("Too hot above", exact=True)
        figures = page.get_by_label("Too hot above, in figures")
        picture = page.locator(".climwin .strip svg[role=img]")

        before, drawn = finding(page), picture.inner_html()
        assert before.startswith("The longest mild spell was long enough for cauliflower")
        high.focus()
        for _ in range(8):
            page.keyboard.press("ArrowRight")
        settled(page)
        warmer = OWN.high_c + 4  # eight strides of half a degree
        assert figures.input_value() == f"{warmer:.1f}"
        assert finding(page) != before
        assert picture.inner_html() != drawn
        assert high.get_attribute("aria-valuetext") == f"{warmer:.1f} °C"

        page.get_by_label("°F", exact=True).check()
        settled(page)
        fahrenheit = formatting.temperature(warmer, "F")
        assert figures.input_value() == fahrenheit.split()[0]
        assert fahrenheit in picture.inner_html()
        page.get_by_label("°C", exact=True).check()
        settled(page)
        assert figures.input_value() == f"{warmer:.1f}"

        page.wait_for_selector(".climwin:not(.at-work)")
        page.evaluate(
            "() => { const { content } = window.jupyterapp.shell.currentWidget;"
            " content.activeCellIndex = content.widgets.length - 1;"
            " return window.jupyterapp.commands.execute('notebook:run-cell'); }"
        )
        page.wait_for_function(f"document.body.innerText.includes('high_c={warmer:g}')")
        page.set_viewport_size({"width": 800, "height": 1000})
        page.wait_for_timeout(300)
        page.locator(".climwin .place").evaluate("(el) => el.scrollIntoView()")
        page.screenshot(path=PICTURES / "panel-800.png")
