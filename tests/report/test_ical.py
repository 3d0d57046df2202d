"""A dated plan as iCalendar: read back by `icalendar`, and held against RFC 5545 itself."""

import datetime as dt
import re
from dataclasses import replace

import icalendar
import numpy as np
import pytest
import vobject
import xarray as xr
from hypothesis import given
from hypothesis import strategies as st
from records import side_by_side, weather
from refusing import refused

from climwin.crops.catalogue import crop
from climwin.planning.evaluate import evaluate_plan
from climwin.planning.plan import Plan
from climwin.planning.timetable import plan_dates
from climwin.report import ical
from climwin.report.ical import CAUTION, DOUBTS_NOTED, Event, plan_events, to_ical
from climwin.report.season_calendar import season_events
from climwin.report.sentences_season import NOT_A_FORECAST

STAMP = dt.datetime(2027, 1, 31, 12, tzinfo=dt.UTC)
SOW = Event(
    title="Sow cauliflower in the cold frame",
    date_first=dt.date(2027, 3, 9),
    date_last=dt.date(2027, 3, 15),
    note="A harvest in 31 of 39 years",
)
SET_OUT = Event(
    title="Set out", date_first=dt.date(2027, 4, 20), date_last=dt.date(2027, 4, 20), note=""
)

PROVENANCE = {"credit": "the station at Pellbrook", "licence": "CC BY 4.0"}


def placed(record):
    """The record with a latitude."""
    return record.assign_attrs(latitude=50.0)


CONTROLS = re.compile(r"[\x00-\x1f\x7f-\x9f]")

lines = st.text(st.characters(exclude_categories=["Cs"]), max_size=200)
titles = lines.filter(lambda text: CONTROLS.sub(" ", text).strip())
dates = st.dates(dt.date(1900, 1, 1), dt.date(2200, 12, 31))


def parsed(*events, name="Pellbrook"):
    calendar = icalendar.Calendar.from_ical(to_ical(events, name=name, stamp=STAMP))
    return calendar, calendar.walk("VEVENT")


def test_dates_and_words_are_read_back():
    calendar, (sow, set_out) = parsed(SET_OUT, SOW)
    assert calendar["X-WR-CALNAME"] == "Pellbrook"
    assert str(sow["SUMMARY"]) == SOW.title
    assert str(sow["DESCRIPTION"]) == f"{SOW.note}\n{CAUTION}"
    assert sow["DTSTART"].dt == SOW.date_first
    assert sow["DTSTAMP"].dt == STAMP
    assert str(set_out["DESCRIPTION"]) == CAUTION
    assert not any(part.errors for part in (calendar, sow, set_out))


def test_the_end_is_the_day_after_the_last():
    # RFC 5545, 3.6.1: "a multi-day event scheduled from June 28th, 2007 to July 8th, 2007
    # inclusively" has DTSTART;VALUE=DATE:20070628 and DTEND;VALUE=DATE:20070709.
    first, last = dt.date(2007, 6, 28), dt.date(2007, 7, 8)
    raw = to_ical(
        [Event(title="Bolting", date_first=first, date_last=last)], name="Pellbrook", stamp=STAMP
    )
    assert b"\r\nDTSTART;VALUE=DATE:20070628\r\n" in raw
    assert b"\r\nDTEND;VALUE=DATE:20070709\r\n" in raw


def test_an_identifier_outlives_a_change_of_the_odds_but_not_of_the_dates():
    (before,), (after,), (later,) = (
        parsed(Event(title="Sow", date_first=SOW.date_first, date_last=last, note=note))[1]
        for last, note in (
            (SOW.date_last, "8 of 10"),
            (SOW.date_last, "7 of 10"),
            (SOW.date_first, ""),
        )
    )
    assert before["UID"] == after["UID"] != later["UID"]
    assert parsed(SOW, name="Hillside")[1][0]["UID"] != parsed(SOW)[1][0]["UID"]


def test_same_events_give_the_same_bytes_in_any_order():
    one, other = (
        to_ical(events, name="Pellbrook", stamp=STAMP)
        for events in ([SOW, SET_OUT], [SET_OUT, SOW])
    )
    assert one == other


def test_a_stamp_of_another_zone_is_written_in_universal_time():
    zone = dt.timezone(dt.timedelta(hours=2))
    local = dt.datetime(2027, 1, 31, 14, tzinfo=zone)
    assert to_ical([SOW], name="Pellbrook", stamp=local) == to_ical(
        [SOW], name="Pellbrook", stamp=STAMP
    )


@pytest.mark.parametrize(
    "title",
    ["Säen; Blumenkohl, früh", "לשתול כרובית", "زراعة القرنبيط", 'back\\slash "quoted": 50 %'],
)
def test_titles_of_any_script_stand_as_they_are(title):
    (event,) = parsed(Event(title=title, date_first=SOW.date_first, date_last=SOW.date_last))[1]
    assert str(event["SUMMARY"]) == title


def test_a_title_cannot_smuggle_in_an_event_of_its_own():
    sly = "Sow\r\nEND:VEVENT\r\nBEGIN:VEVENT\r\nSUMMARY:Intruder"
    calendar, events = parsed(
        Event(title=sly, date_first=SOW.date_first, date_last=SOW.date_last, note=sly), name=sly
    )
    assert len(events) == len(calendar.subcomponents) == 1
    assert str(events[0]["SUMMARY"]) == "Sow END:VEVENT BEGIN:VEVENT SUMMARY:Intruder"
    assert str(events[0]["DESCRIPTION"]).startswith(sly.replace("\r", ""))


@given(title=titles, note=lines, name=titles, first=dates, days=st.integers(0, 400))
def test_whatever_is_written_is_read_back(title, note, name, first, days):
    event = Event(
        title=title, note=note, date_first=first, date_last=first + dt.timedelta(days=days)
    )
    raw = to_ical([event], name=name, stamp=STAMP)
    # RFC 5545, 3.1: "Lines of text SHOULD NOT be longer than 75 octets, excluding the line break";
    # every line ends with CRLF, and no control character but those of a break stands within.
    rows = raw.split(b"\r\n")
    assert max(map(len, rows)) <= 75
    assert not any(byte < 0x20 or byte == 0x7F for row in rows for byte in row)
    words = " ".join(CONTROLS.sub(" ", title).split())
    # Two parsers written apart from each other read the same.
    (read,) = icalendar.Calendar.from_ical(raw).walk("VEVENT")
    other = vobject.readOne(raw.decode())
    assert str(read["SUMMARY"]) == other.vevent.summary.value == words
    assert str(read["DESCRIPTION"]) == other.vevent.description.value
    assert other.x_wr_calname.value == " ".join(CONTROLS.sub(" ", name).split())
    assert (read["DTSTART"].dt, read["DTEND"].dt) == (first, event.date_last + dt.timedelta(days=1))


def test_what_is_no_event_is_refused():
    with pytest.raises(
        ValueError, match=r"needs a title, got an empty one\. Say what is to be done, such as 'Sow'"
    ):
        Event(title=" \x00", date_first=SOW.date_first, date_last=SOW.date_last)
    with pytest.raises(
        ValueError, match=r"'Sow' ends on 2027-03-09, before it begins on 2027-03-15\. Swap"
    ):
        Event(title="Sow", date_first=SOW.date_last, date_last=SOW.date_first)
    with pytest.raises(ValueError, match=r"needs a time zone.*datetime\.UTC"):
        to_ical([SOW], name="Pellbrook", stamp=dt.datetime(2027, 1, 31))
    with pytest.raises(ValueError, match=r"'[^']+' of [\d-]+ is given twice\. Tell them") as twice:
        to_ical([SOW, SOW], name="Pellbrook", stamp=STAMP)
    # Titles such as it advises are told apart, and are of the same kind as those it refused.
    titles = re.findall(r"'([^']+)'", str(twice.value).partition("such as")[2])
    assert [title.partition(" ")[0] for title in titles] == ["Sow", "Sow"]
    to_ical([replace(SOW, title=title) for title in titles], name="Pellbrook", stamp=STAMP)


# --- from a dated plan --------------------------------------------------------------------


def test_a_dated_plan_becomes_events():
    plan = Plan(crop("cauliflower"), "04-20", 6, "cold frame")
    record = placed(weather())
    dated, years = plan_dates(plan, record), evaluate_plan(plan, record)
    events = {event.title: event for event in plan_events(dated, 2028)}
    sow, set_out = events["Sow cauliflower in the cold frame"], events["Set out cauliflower"]
    assert sow.date_first == sow.date_last == dt.date(2028, 4, 20)
    assert set_out.date_first == set_out.date_last == dt.date(2028, 6, 1)
    harvests = int((years["outcome"] == "harvest").sum())
    assert f"a harvest in {harvests} of {int(dated['known'])} years" in sow.note
    curd = events["Cauliflower: curd"]
    begins = years["stage_begin"].sel(stage_name="curd").dropna("season")
    after = (begins - years["start"]).dropna("season") / np.timedelta64(1, "D")
    middle = dt.date(2028, 4, 20) + dt.timedelta(days=float(after.median()))
    assert abs((curd.date_first - middle).days) <= 1
    assert "In 8 years of 10 it begins between " in curd.note
    assert len(parsed(*events.values())[1]) == len(events)


def test_what_is_planted_is_up_at_once_and_may_run_over_the_years_end():
    dated = plan_dates(Plan(crop("garlic"), "10-20"), placed(weather()))
    plant, *stages = plan_events(dated, 2027)
    assert plant.title == "Plant garlic in place"
    assert "Garlic: emergence" not in [event.title for event in stages]
    assert stages[-1].title == "Garlic: harvest"
    assert stages[-1].date_last.year == 2028


def test_a_perennial_has_nothing_to_be_sown():
    events = plan_events(plan_dates(Plan(crop("apple"), "04-01"), placed(weather())), 2027)
    assert [event.title for event in events] == ["Apple: bloom or first growth", "Apple: harvest"]
    assert all(event.date_first.year == 2027 for event in events)


def test_a_stage_that_no_year_came_to_is_left_out():
    cold = placed(weather(mean=-5.0))
    events = plan_events(plan_dates(Plan(crop("tomato"), "05-20"), cold), 2027)
    assert [event.title for event in events] == ["Sow tomato in place"]
    assert "a harvest in 0 of " in events[0].note


def test_a_plan_dated_for_several_places_is_refused():
    dated = plan_dates(Plan(crop("garlic"), "10-20"), placed(side_by_side(weather(1), weather(2))))
    with pytest.raises(ValueError, match=r"one place, got dimensions .*Choose one station first"):
        plan_events(dated, 2027)


def test_the_doubts_are_said_once_and_pointed_at_from_the_other_dates():
    dated = plan_dates(Plan(crop("pea"), "04-10"), placed(weather()))
    minded = dated.assign_attrs(comment="The station is far.\nThe record is old.")
    first, *others = plan_events(minded, 2027)
    assert "Caution: The station is far.\nCaution: The record is old." in first.note
    assert others
    for event in others:
        assert "Caution: " not in event.note
        assert DOUBTS_NOTED in event.note
    assert all(DOUBTS_NOTED not in event.note for event in plan_events(dated, 2027))


def test_the_notes_say_whom_the_weather_is_from():
    dated = plan_dates(Plan(crop("pea"), "04-10"), placed(weather()).assign_attrs(PROVENANCE))
    said = "Weather data: the station at Pellbrook; licence: CC BY 4.0."
    assert all(event.note.endswith(said) for event in plan_events(dated, 2027))


def row_of(**values):
    return xr.Dataset({name: ((), value) for name, value in values.items()})


def test_a_note_on_a_job_counts_harvests_and_one_on_a_stage_says_when_and_what_cold_did():
    job = ical._action_note(row_of(harvested=31, known=39, good=17, low=0.66, high=0.89))
    assert job.startswith("From this start: a harvest in 31 of 39 years")
    assert re.search(r"\(66 % to 89 % in the long run, nine (times|chances) in ten\)", job)
    assert "a good one in 17" in job
    first, second = ical._stage_note(
        row_of(begin_first=180.0, begin_last=205.0, seen=33, killed=4, known=39)
    ).split("\n")
    assert re.search(r"8 years of 10 it begins between 29 Jun and 24 Jul", first)
    assert "33 years came so far" in first
    assert second == "Cold ended it at this stage in 4 of 39 years."


def season_row(odds, start):
    day = np.datetime64(start)
    step = np.timedelta64(1, "D")
    return {
        "odds": odds,
        "harvested": round(38 * odds),
        "good": round(30 * odds),
        "harvest_low": day + 80 * step,
        "harvest_mid": day + 90 * step,
        "harvest_high": day + 104 * step,
    }


def test_the_last_day_to_start_is_the_last_with_the_odds_and_a_later_one_has_less():
    starts = ["2024-05-01", "2024-05-11", "2024-05-21"]
    rows = [season_row(odds, start) for odds, start in zip((0.95, 0.82, 0.4), starts, strict=True)]
    columns = {name: ("start", [row[name] for row in rows]) for name in rows[0]}
    ahead = xr.Dataset(
        columns | {"known": 38},
        {"start": np.array(starts, "datetime64[D]")},
        {
            "crop_plural": "peas",
            "start_verb": "sow",
            "harvest_verb": "picked",
            "on": "2024-04-25",
        },
    )
    last, harvest = season_events(ahead)
    assert last.title == "Peas: last day to sow"
    assert last.date_first == dt.date(2024, 5, 11)
    note, no_forecast = last.note.split("\n")
    assert "From a later date, a good harvest is much less likely" in note
    assert "the weather of 31 of 38 past years, odds 82 %" in note
    assert no_forecast == NOT_A_FORECAST
    assert harvest.title == "Peas: first picked, from that day"
    assert harvest.date_first == dt.date(2024, 8, 9)
    between, no_forecast = harvest.note.split("\n")
    assert between.startswith(
        "Nine times in ten it comes between 30 Jul and 23 Aug, if the crop gets"
    )
    assert no_forecast == NOT_A_FORECAST
    assert season_events(ahead.assign(odds=ahead["odds"] * 0.8)) == []


@pytest.mark.parametrize(
    ("text", "claims"),
    [
        (CAUTION, ("describe past years", "no forecast", "Watch the weather before you plant")),
        (DOUBTS_NOTED, ("How far to trust these dates is noted on the first of them",)),
    ],
)
def test_notes_of_a_date_bear_their_cautions(text, claims):
    assert [claim for claim in claims if claim not in text] == []


def test_a_stage_has_its_spread_and_how_often_cold_ended_it_there():
    row = xr.Dataset(
        {"begin_first": 190.0, "begin_last": 215.0, "seen": 31, "killed": 4, "known": 39}
    )
    note = ical._stage_note(row)
    assert "In 8 years of 10 it begins between 9 Jul and 3 Aug; 31 years came so far." in note
    assert "Cold ended it at this stage in 4 of 39 years." in note


def test_a_calendar_of_several_stations_is_refused_until_one_is_chosen():
    dated = xr.Dataset({"killed": (("station", "event"), np.zeros((2, 1)))})
    refused(
        lambda: plan_events(dated, 2027),
        "Events are of the dated plan of one place, got dimensions station, event.",
        "Choose one station first, with .sel().",
    )
