"""Names, heads and advice of pages and their files, each followed to what it names."""

import re
from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest
import xarray as xr

import climwin as cw
from climwin.core.errors import Call, Parameter
from climwin.core.schema import InputError
from climwin.page import club, club_file, sections, start
from climwin.page import season as running
from climwin.page.sections import Page
from climwin.report import sentences
from climwin.report import sentences_decision as words


@pytest.fixture(scope="module")
def page(pellbrook):
    return Page(pellbrook, "C", None)


# --- years and ways -----------------------------------------------------------------------


def test_the_file_of_years_names_each_column_by_what_it_holds_and_whose_it_is(pellbrook):
    table = sections._with_outcomes(pellbrook)
    for plan, evaluated in zip(pellbrook.plans, pellbrook.evaluated, strict=True):
        for key in ("outcome", "reason", "stage", "growth", "harvest_begin"):
            own = evaluated[key].sel(season=table["season"])
            xr.testing.assert_equal(
                table[f"{key}: {plan.name}"].drop_attrs().rename(None),
                own.drop_attrs().rename(None),
            )


def test_a_way_that_fails_in_some_year_says_why_and_one_under_cover_when_it_is_set_out(page):
    report = page.report
    for number, plan in enumerate(report.plans):
        shown, odds = sections._way(page, number), report.ahead.odds[number]
        has_failed = int(odds["harvested"]) < int(odds["known"])
        assert bool(shown["failures"]) is has_failed
        assert bool(shown["set_out"]) is bool(plan.weeks_under_cover)
        assert shown["never"] is (int(odds["harvested"]) == 0)
        assert shown["start"] in {"5 Mar", "20 Apr"}
        assert shown["title"] == words.titles(report)[number]
        counts = [int(n) for n in re.findall(r"(\d+) (?:years?|of)", shown["harvests"])]
        assert counts[0] == int(odds["harvested"])


def test_a_hopeless_way_has_no_date_of_its_own(page, monkeypatch):
    number = next(n for n, plan in enumerate(page.report.plans) if plan.weeks_under_cover)
    other = Page(page.report, "C", None)
    rows = [SimpleNamespace(number=number, is_hopeless=True, is_best=False)]
    monkeypatch.setitem(vars(other), "decision", SimpleNamespace(rows=rows))
    monkeypatch.setattr(sections, "_failures", lambda *_: "")
    shown = sections._way(other, number)
    assert (shown["start"], shown["set_out"]) == ("any date", "")


def test_the_head_of_the_page_counts_the_years_of_the_record(page):
    years = np.unique(page.report.daily["time"].dt.year)
    shown = page.content("decision")["years"]
    assert shown == f"{len(years)} years, {years.min()}\N{EN DASH}{years.max()}"


def test_weeks_before_the_first_year_are_no_year_of_the_page_as_in_its_figures(page):
    cut = page.report.daily.sel(
        time=slice(f"{page.report.daily['time'].dt.year[0].item()}-11-21", None)
    )
    report = cw.garden_report(page.report.garden, cut, plans=page.report.plans)
    whole = np.unique(page.report.daily["time"].dt.year)[1:]
    shown = Page(report, "C", None).content("decision")["years"]
    assert shown == f"{len(whole)} years, {whole[0]}\N{EN DASH}{whole[-1]}"
    assert sections._place_and_years(report).endswith(f", {whole[0]}\N{EN DASH}{whole[-1]}")


def test_a_picture_of_spells_is_read_out_as_its_title_and_the_average_year(page):
    shown = page.content("reason")
    title, average = words.spell_title(page.report), sentences.average(page.report)
    assert shown["alt"] == f"{title}. {average}"


@pytest.mark.parametrize("is_heading", [True, False])
def test_the_count_of_mild_spells_is_said_once_above_their_figure(page, monkeypatch, is_heading):
    heading = words.spell_finding(page.report) if is_heading else "Why 20 April fails: too hot"
    monkeypatch.setattr(words, "reason_heading", lambda _: heading)
    monkeypatch.setattr(sections, "needs", lambda _: [60])  # one crop, one need
    shown = sections.reason(Page(page.report, "C", None))
    assert shown["heading"] == heading
    assert shown["finding"] == ("" if is_heading else words.spell_title(page.report))


@pytest.mark.parametrize("has_best", [True, False])
def test_two_counts_of_a_way_are_explained_where_it_has_best_dates(page, monkeypatch, has_best):
    if not has_best:
        monkeypatch.setattr(sections, "_best_dates", lambda *_: "")
    content = sections.ways(Page(page.report, "C", None))
    assert any(way["best"] for way in content["ways"]) is has_best
    assert content["judged"] == (sentences.JUDGED if has_best else "")


@pytest.mark.parametrize("is_moved", [True, False])
def test_years_are_told_to_stand_as_they_were_where_counts_move_them(page, is_moved):
    report = page.report if is_moved else page.report.today  # itself of that climate
    shown = sections.yearly(Page(report, "C", None))["climate"]
    assert shown == (sections.YEARS_AS_THEY_WERE if is_moved else "")


def test_a_table_to_keep_bears_the_garden_s_name_and_what_it_holds(page):
    kept = sections._file(xr.Dataset({"n": ("year", [1])}), "year by year", page)
    assert kept.name == "pellbrook-allotments-year-by-year.csv"


def test_freezes_are_those_of_the_climate_that_leads_in_spring(page):
    report = sections._leading_freezes(page.report)
    leading = page.report.of_climate(page.report.leading("spring freeze"))
    xr.testing.assert_identical(report.freeze_odds, leading.freeze_odds)


@pytest.mark.parametrize("leading", ["record", "today"])
def test_freezes_of_a_page_follow_spring_where_autumn_has_another_climate(leading):
    other = {"record": "today", "today": "record"}[leading]
    report = SimpleNamespace(
        leading=lambda kind: leading if kind == "spring freeze" else other,
        of_climate=lambda climate: f"the report of {climate}",
    )
    assert sections._leading_freezes(report) == f"the report of {leading}"


# --- the club -----------------------------------------------------------------------------


def test_a_doubt_is_told_after_the_name_of_its_garden(monkeypatch):
    told = {"Low": ["minus signs are missing"], "High": []}
    reports = [
        SimpleNamespace(garden=cw.Garden(name, 46.0, 7.0), daily=xr.Dataset(), given_need_days=None)
        for name in told
    ]
    monkeypatch.setattr(club, "report_departures", lambda each, *_: told[each.garden.name])
    shown = club.ClubPage("club", reports, "C", None)
    assert shown.doubts == ["Low: minus signs are missing"]


def test_a_garden_far_above_its_station_is_doubted_on_the_clubs_page(monkeypatch):
    monkeypatch.setattr(club, "report_departures", lambda *_: [])
    station = xr.Dataset(attrs={"latitude": 46.0, "longitude": 7.0, "elevation": 420})
    reports = [
        SimpleNamespace(
            garden=cw.Garden(f"{height} up", 46.0, 7.0, height),
            daily=station,
            given_need_days=None,
        )
        for height in (500, 719, 1378)
    ]
    (told,) = club.ClubPage("club", reports, "C", None).doubts
    assert told.startswith("1378 up: Your garden is 958 m above the station")
    assert "If 1378 was meant in feet, write 1378ft." in told


def test_a_club_is_made_of_as_many_gardens_as_its_refusal_asks_for():
    members = [
        club_file.Member(name=name, record=f"{name}.csv", latitude=46.0, longitude=7.0)
        for name in ("Low", "High", "Low")
    ]

    def made(*which):
        return club_file.Club(name="c", crop="pea", gardens=tuple(members[n] for n in which))

    for wrong in ((), (0,), (0, 2)):
        with pytest.raises(
            InputError, match="compares two gardens or more, each with a name of its own; got"
        ):
            made(*wrong)
    made(0, 1)


@pytest.mark.parametrize("elevation", [304.8, "304.8 m", "1000 ft"])
def test_a_height_in_feet_is_that_in_metres(elevation):
    given = {"name": "Low", "record": "low.csv", "latitude": 46.0, "longitude": 7.0}
    member = club_file.Member(**given, elevation=elevation)
    assert member.height_m == pytest.approx(304.8)


# --- the form -----------------------------------------------------------------------------


@pytest.mark.parametrize("name", ["latitude", "longitude"])
def test_the_line_that_the_form_advises_is_read_from_a_file(tmp_path, name):
    line = re.search("“(# [^”]+)”", start._FIELDS[name])[1]
    known = re.sub(rf"(?m)^# {name}:.*$", line, cw.sample().read_text("utf-8"))
    path = tmp_path / "own.csv"
    path.write_text(known, "utf-8")
    value = float(line.split(":")[1])
    assert cw.read_daily(path).attrs[name] == value


def test_what_the_form_names_stands_on_the_form():
    form = start.start_form()
    shown = {getattr(field, "description", "") for field in vars(form).values()}
    for parameter in ("place", "elevation", "crop", "units"):
        told = start._FIELDS[parameter]
        named = re.search("“([^”]+)”", told)
        assert (named[1] if named else told) in shown
    menu = re.search("“([^”]+)”", start._INSTEAD["crop_names"])[1]
    assert menu in shown
    assert start._INSTEAD["find_stations"] == "a larger town near you"


def test_a_missing_file_is_told_by_its_name_before_what_is_wrong_with_it():
    error = FileNotFoundError(2, "No such file", "own.csv")
    assert start._worded(error, "C") == "own.csv: No such file."
    assert start._worded(ValueError("as it is"), "C") == "as it is"
    told = start._in_the_form(Parameter("place"))
    assert told == start._FIELDS["place"]
    assert start._in_the_form(Call("sample")) == start._INSTEAD["sample"]
    assert start._in_the_form(Parameter("need_days")) == "need days"


# --- the running season -------------------------------------------------------------------


@pytest.mark.parametrize(("begun", "verb", "said"), [(True, "sow", "sown"), (False, "sow", "")])
def test_only_of_a_plan_that_has_begun_its_start_is_assumed(
    monkeypatch, pellbrook, begun, verb, said
):
    daily = pellbrook.daily.sel(time=slice(None, "2024-06-10"))
    report = replace(pellbrook, daily=daily)
    day = np.datetime64("2024-04-20") if begun else None
    monkeypatch.setattr(running, "_started", lambda *_: day)
    monkeypatch.setattr(running, "season_so_far", lambda *_, **__: None)
    ahead = xr.Dataset({"odds": ("start", [0.2, 0.7])}, attrs={"start_verb": verb})
    monkeypatch.setattr(running, "outlook", lambda *_, **__: ahead)
    monkeypatch.setattr(running, "season_content", lambda *_: {})
    shown = running.running_season(report, "C", None)
    assert shown["odds"] == "70 %"
    assert shown["assumed"] == (
        f"This assumes that the crop was {said} on the plan's date." if begun else ""
    )
