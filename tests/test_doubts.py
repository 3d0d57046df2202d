"""Where a number could mislead: every hazard is seen in words wherever a headline number is.

A table in DEVELOPERS.md names each hazard with what is said; this file makes a record for each.
The headline numbers all stand on the page (window, freezes, plans, dates, comparison, bands), and
the page says the doubts once, in *How sure is that?*; commands that give a number say them before.
"""

import datetime as dt
import html

import numpy as np
import pytest
import records

import climwin as cw
from climwin import words, words_doubts
from climwin.cli import main
from climwin.club_parts import ClubPage
from climwin.club_parts import part as club_part
from climwin.exports import to_csv
from climwin.page_parts import part
from climwin.page_tables import Page
from climwin.words_doubts import doubts, record_doubts

TODAY = dt.date(2023, 3, 1)
HERE = cw.Garden("here", 50.0, 5.0, 300.0)
STATION = {"latitude": 50.0, "longitude": 5.0, "elevation": 300.0}


def clean():
    """Twenty-four years to 2022, at the garden, whole and steady."""
    return records.weather(8, years=24).assign_attrs(STATION)


def added(record, degrees):
    """The record with `degrees` added to all temperatures."""
    out = record.copy()
    for name in ("tmin", "tmax", "tmean"):
        out[name] = (record[name] + degrees).assign_attrs(record[name].attrs)
    return out


def moved_away(record):
    """A station moved downhill in 2012."""
    return added(record, 2.5 * (record["time"].dt.year >= 2012))


def warmed_up(record):
    """A degree in ten years."""
    return added(record, 0.1 * (record["time"].dt.year - 1999))


def holed(record):
    """Two springs of five with most days of April and May gone."""
    time = record["time"].dt
    gone = time.month.isin([4, 5]) & (time.year % 5 < 2) & (time.day > 6)
    return record.where(~gone)


HAZARDS = {
    "old": (
        lambda record: record.sel(time=slice("2010")),
        HERE,
        "The record ends in 2010, 13 years ago.",
    ),
    "moved": (moved_away, HERE, "The record changes all at once: nights from 2012 on 2"),
    "warming": (warmed_up, HERE, "It has grown warmer here, by 0.9 °C in ten years."),
    "holes": (holed, HERE, "Days are missing mostly in Apr and May: 3"),
    "height": (
        lambda record: record,
        cw.Garden("up", 50.0, 5.0, 520.0),
        "The garden lies 220 m above the station, whose own numbers these are: it may be about "
        "1.4 °C colder, by the usual 6.5 °C in 1000 m.",
    ),
    "distance": (
        lambda record: record,
        cw.Garden("off", 51.0, 5.0, 300.0),
        "The station lies 111 km from the garden",  # a degree of latitude: 111 km
    ),
}
OF_RECORD = ("old", "moved", "warming", "holes")


def report_of(record, garden=HERE, **given):
    crop = cw.crop("pea")
    plans = [cw.Plan(crop, "03-20"), cw.Plan(crop, "04-10")]
    return cw.garden_report(garden, record, plans=plans, **given)


def plain(shown):
    """A part of a page as it reads, numbers not glued to their units."""
    return html.unescape(shown.html).replace("\N{NO-BREAK SPACE}", " ")


def test_a_sound_record_has_no_doubts():
    assert doubts(report_of(clean()), TODAY) == ()
    assert record_doubts(clean(), TODAY) == ()
    assert "mislead" not in part("sure", Page(report_of(clean()), "C", TODAY)).html


@pytest.mark.parametrize("name", HAZARDS)
def test_each_hazard_is_seen_alone_on_the_page_and_the_clubs(name):
    change, garden, said = HAZARDS[name]
    report = report_of(change(clean()), garden)
    told = doubts(report, TODAY)
    assert any(text.startswith(said) for text in told)
    assert len(told) == 1
    assert said in plain(part("sure", Page(report, "C", TODAY)))
    club = ClubPage("club", (report, report), "C", TODAY)
    assert said in plain(club_part("sources", club))


@pytest.mark.parametrize("name", OF_RECORD)
def test_what_is_amiss_with_a_record_is_told_whatever_is_asked_of_it(name):
    change, _, said = HAZARDS[name]
    assert any(text.startswith(said) for text in record_doubts(change(clean()), TODAY))


def test_holes_bound_the_odds_of_too_short_a_window():
    report = report_of(holed(clean()))
    gap = report.window.where(report.window["status"] == "unknown", drop=True)
    report = report_of(holed(clean()), need_days=int(gap["length_least"].min()) + 1)
    found = report.shorter
    short, known, unknown = (int(found[name]) for name in ("shorter", "known", "unknown"))
    assert unknown > 0
    (said,) = doubts(report, TODAY)
    assert f"it would be {short + unknown} of {known + unknown} years" in said
    assert said.endswith(f"were none, {short} of {known + unknown} years.")


def test_holes_in_months_that_do_not_matter_are_left_out():
    record = clean()
    autumn = record["time"].dt.month.isin([11]) & (record["time"].dt.year % 2 == 0)
    report = report_of(record.where(~autumn))
    assert doubts(report, TODAY) == ()
    assert record_doubts(report.daily, TODAY)[0].startswith("Days are missing mostly in Nov: 50 %")


def test_warming_holds_the_latest_years_against_all():
    report = report_of(warmed_up(clean()))
    late = cw.odds_shorter(report.windows.isel(season=slice(-15, None)), report.need_days)
    short, known = (int(late[name].sel(part=report.part)) for name in ("shorter", "known"))
    assert f"in {short} of the latest {known} years" in doubts(report, TODAY)[0]


def test_a_record_moved_to_the_garden_is_not_said_to_lie_elsewhere():
    up = HAZARDS["height"][1]
    assert doubts(report_of(cw.to_garden(clean(), up), up), TODAY) == ()


def test_differences_are_said_without_the_offset_in_fahrenheit():
    report = report_of(clean(), HAZARDS["height"][1])
    assert "about 2.6 °F colder, by the usual 11.7 °F in 1000 m" in doubts(report, TODAY, "F")[0]


def test_without_a_date_or_places_nothing_is_guessed():
    old = clean().sel(time=slice("2012"))
    old.attrs = {}
    assert doubts(report_of(old, HAZARDS["height"][1])) == ()


def test_a_record_ends_with_its_last_value_though_the_file_goes_on():
    padded = clean().where(clean()["time"].dt.year <= 2010)
    assert record_doubts(padded, TODAY)[0].startswith("The record ends in 2010, 13 years ago.")


def test_distances_are_those_of_the_globe():
    # A quarter of the way round the equator; from pole to pole half of it: 6371 km times pi / 2.
    quarter = pytest.approx(6371 * np.pi / 2)
    assert words_doubts.apart_km((0, 0), (0, 90)) == quarter
    assert words_doubts.apart_km((90, 0), (0, 17)) == quarter


# --- few years ----------------------------------------------------------------------------


def test_fewer_than_ten_years_are_refused_unless_asked_for():
    short = clean().sel(time=slice("2007"))
    with pytest.raises(cw.DataGapError, match=r"9 can be told from the record, 10 are the least"):
        report_of(short)
    report = report_of(short, few_years=True)
    assert words.FEW_YEARS in part("sure", Page(report, "C", TODAY)).html
    assert words.FEW_YEARS in part("sheet", Page(report, "C", TODAY)).html
    club = ClubPage("club", (report, report), "C", TODAY)
    assert words.FEW_YEARS in club_part("sources", club).html
    assert record_doubts(short, TODAY)[0] == words.FEW_YEARS


@pytest.fixture(scope="module")
def short(tmp_path_factory):
    """A file of six years of a moved station."""
    file = tmp_path_factory.mktemp("short") / "short.csv"
    to_csv(clean().sel(time=slice("2004")), file)
    return str(file)


@pytest.mark.parametrize(
    "asked",
    [
        ("page", "--place", "x", "--lat", "50", "--lon", "5", "--crop", "pea"),
        ("suits", "--season", "cool"),
        ("sowings", "--crop", "pea", "--sow", "04-01"),
        ("dates", "--crop", "pea", "--sow", "04-01"),
    ],
    ids=lambda asked: asked[0],
)
def test_every_command_that_gives_odds_refuses_few_years_or_says_so(
    short, asked, capsys, tmp_path, monkeypatch
):
    monkeypatch.chdir(tmp_path)
    command = [asked[0], short, *asked[1:]]
    assert main(command) == 1
    assert "10 are the least" in (refused := capsys.readouterr().err)
    assert "go on with --few-years" in refused
    assert main([*command, "--few-years"]) == 0
    assert words.FEW_YEARS in capsys.readouterr().out


def test_a_look_at_a_record_tells_its_doubts(short, capsys, tmp_path):
    file = tmp_path / "moved.csv"
    to_csv(moved_away(clean()), file)
    assert main(["look", str(file)]) == 0
    assert "mind: The record changes all at once: nights from 2012 on 2" in capsys.readouterr().out
    assert main(["look", short]) == 0
    assert f"mind: {words.FEW_YEARS}" in capsys.readouterr().out
