"""Sentences of a season: each number is the result's, and each claim turns with it."""

import re
from functools import cache

import icalendar
import numpy as np
import pytest
import xarray as xr

import climwin as cw
from climwin.report import sentences_season as said
from climwin.report.season_calendar import season_calendar


@cache
def pellbrook_mill():
    return cw.read_daily(cw.sample())


def running(until="2024-05-14"):
    return pellbrook_mill().sel(time=slice(None, until))


@pytest.fixture(scope="module")
def so_far():
    return cw.season_so_far(running())


@pytest.fixture(scope="module")
def pea():
    return cw.outlook(cw.Plan(cw.crop("pea"), "04-10"), running(), sown="04-10")


@pytest.fixture(scope="module")
def bean():
    return cw.outlook(cw.Plan(cw.crop("snap bean"), "05-10"), running())


def test_a_rank_is_told_from_its_nearer_end(so_far):
    [heat] = [line for line in said.season_lines(so_far, "C") if line.startswith("Heat above 5")]
    rank, of = (int(so_far[name].sel(quantity="heat_sum")) for name in ("rank", "ranked"))
    place = of + 1 - rank
    assert place == 5
    assert f"the 5th most of {of} years" in heat
    first = so_far.copy(deep=True)
    first["rank"].loc[{"quantity": "heat_sum"}] = 1
    assert "the least of 38 years" in " ".join(said.season_lines(first, "C"))
    assert "Heat above 41 °F: 769 °F days" in " ".join(said.season_lines(so_far, "F"))


def test_what_is_not_known_is_not_made_up(so_far):
    gap = so_far.copy(deep=True)
    for name in ("rank", "ranked", "so_far"):
        gap[name].loc[{"quantity": "heat_sum"}] = np.nan
    assert said.season_lines(gap, "C")[0] == "Heat above 5 °C: not known, too many days are missing"
    dry = cw.season_so_far(running().drop_vars("precip"))
    assert not any("Rain" in line for line in said.season_lines(dry, "C"))


def test_odds_of_another_freeze_are_told_with_their_dates(so_far):
    spring = said.freeze_lines(so_far, "C")[0]
    row = so_far.isel(threshold=0).sel(side="last spring")
    hits = round(float(row["share"]) * int(row["known"]))
    assert f"it came in {hits} of {int(row['known'])} years" in spring
    assert "the latest so far was on 23 Apr" in spring
    assert f"one in ten from {said.day_of(row['date'].sel(level=0.1))} on" in spring
    assert "one in two" not in spring  # the odds are below that already
    late = cw.season_so_far(running("2024-06-20"))
    assert said.freeze_lines(late, "C")[0].startswith("No night of 0 °C or colder came this late")


def test_a_standing_crop_is_told_by_its_stage_and_dates(pea):
    heading = said.outlook_heading(pea)
    assert heading.startswith(
        "Pea, sown outdoors on 10 Apr 2024. Latest stage by the growing model: "
    )
    assert str(pea["stage_now"].item()) in heading
    lines = said.outlook_lines(pea, "C")
    harvest = pea.sel(event="harvest")
    days = [said.day_of(harvest[f"date_{end}"]) for end in ("mid", "low", "high")]
    assert f"Harvest: {days[0]} ({days[1]} to {days[2]} nine times in ten)" in lines[1]
    assert "Emergence" not in " ".join(lines)  # it has come
    assert any(said.ODDS_AS_EVER in line for line in lines)
    width = (pea["told_high"] - pea["told_low"])[-1] / np.timedelta64(1, "D")
    assert f"now to within {round(float(width))} days" in lines[-1]


@pytest.mark.parametrize(
    ("given", "words"),
    [
        ({"stage_now": ""}, "nothing shows yet on 14 May 2024"),
        ({"stage_now": "flowers"}, "Latest stage by the growing model: flowers, from 20 May"),
        ({"has_failed": True}, "it has failed by now: "),
    ],
)
def test_a_crop_is_told_where_it_stands(monkeypatch, given, words):
    monkeypatch.setattr(said, "_why", lambda _: "killed by frost")
    ahead = xr.Dataset(
        {
            "has_failed": False,
            "stage_now": "flowers",
            "date_mid": ("event", np.array(["2024-05-20"], "datetime64[D]")),
        }
        | given,
        {"event": ["flowers"]},
        {"crop": "pea", "on": "2024-05-14", "sown": "2024-04-10", "plan": "sown outdoors 10 Apr"},
    )
    text = said.outlook_heading(ahead)
    assert text.startswith("Pea, sown outdoors on 10 Apr 2024. ")
    assert words in text
    unsown = ahead.assign_attrs(sown="")
    assert said.outlook_heading(unsown).startswith("Pea. ")
    before = unsown.expand_dims(start=1)
    assert said.outlook_heading(before) == "Pea, not yet started on 14 May 2024:"


def test_where_the_season_says_no_more_past_years_are_shown(pea):
    early = pea.copy()
    early["says_more"] = pea["says_more"] & False
    lines = " ".join(said.outlook_lines(early, "C"))
    usual = pea.sel(event="harvest")
    assert f"Harvest: {said.day_of(usual['usual_mid'])}" in lines
    assert said.TOO_EARLY in lines
    assert said.TOO_EARLY not in " ".join(said.outlook_lines(pea, "C"))


def test_few_traces_are_no_interval(pea):
    few = pea.copy(deep=True)
    few["seen"].loc[{"event": "harvest"}] = 4
    [line] = [text for text in said.outlook_lines(few, "C") if text.startswith("Harvest")]
    assert "comes in 4 years only" in line
    assert "nine times" not in line


def test_a_crop_to_start_is_told_by_its_soil_and_its_starts(bean):
    lines = said.outlook_lines(bean, "C")
    assert "The soil at 5 cm is likely to reach 15.6 °C" in lines[0]
    last = bean["start"].values[(bean["odds"] >= 0.8).values][-1]
    assert f"Odds of 8 in 10 or more for a start up to {said.day_of(last)}." in lines
    row = bean.isel(start=0)
    assert any(
        f"a harvest in {int(row['harvested'])} of {int(row['known'])} years" in line
        for line in lines
    )
    far = bean.copy()
    far["soil_says_more"] = bean["soil_says_more"] & False
    assert said.SOIL_AS_EVER in said.outlook_lines(far, "C")[0]


def test_missing_days_are_said():
    record = running()
    gone = record["time"].dt.strftime("%Y-%m-%d").isin(["2024-05-05", "2024-05-06"])
    notes = said.season_notes(cw.season_so_far(record.where(~gone)))
    assert notes[0].startswith("2 days of the last year are missing")
    late = cw.season_so_far(record, on="2024-05-20")
    assert said.season_notes(late) == [
        "The record ends on 14 May 2024: the 5 days since then are taken from each past year."
    ]
    assert said.season_notes(cw.season_so_far(record)) == []


@pytest.mark.parametrize("which", ["pea", "bean"])
def test_the_calendar_has_the_dates_to_come(which, request):
    ahead = request.getfixturevalue(which)
    content = season_calendar(ahead)
    assert content == season_calendar(ahead)
    events = icalendar.Calendar.from_ical(content).walk("VEVENT")
    days = {str(event["SUMMARY"]): event["DTSTART"].dt for event in events}
    if which == "pea":
        harvest = ahead["date_mid"].sel(event="harvest").values.astype("datetime64[D]").item()
        assert days["Pea: harvest"] == harvest
        assert "Pea: emergence" not in days
    else:
        last = ahead["start"].values[(ahead["odds"] >= 0.8).values][-1]
        assert days["Snap bean: last day to start"] == last.astype("datetime64[D]").item()
    notes = " ".join(str(event["DESCRIPTION"]) for event in events)
    assert "no weather forecast" in notes


def level_of(**given):
    """A night's odds at one limit, made up by hand."""
    day = np.datetime64("2024-05-20")
    columns = {
        "known": 40,
        "share": 0.55,
        "odds": 0.6,
        "low": 0.45,
        "high": 0.72,
        "came": np.datetime64("2024-05-03"),
    }
    dates = {"date": [0, 12], "date_low": [-3, 8], "date_high": [4, 19]}
    row = xr.Dataset(columns | given, coords={"level": [0.5, 0.1]})
    for name, days in dates.items():
        row[name] = ("level", day + np.array(days, "timedelta64[D]"))
    return row


def test_another_night_of_frost_has_its_odds_its_years_and_its_dates_in_place():
    text = said._spring_line(level_of(), "0 °C or colder")
    assert "odds 60 % (45 % to 72 %)" in text
    assert "it came in 22 of 40 years" in text
    assert "the latest so far was on 3 May" in text
    down = text.split("down to ")[1]
    assert down.startswith("one in two from 20 May on (17 May to 24 May)")
    assert "one in ten from 1 Jun on (28 May to 8 Jun)" in down


def test_a_frost_that_came_so_late_in_no_year_has_no_odds():
    text = said._spring_line(level_of(share=0.0), "0 °C or colder")
    assert text.startswith("No night of 0 °C or colder came this late in spring in 40 years")
    assert "odds" not in text


def test_the_first_night_of_autumn_has_come_or_has_its_odds():
    came = said._autumn_line(level_of(), "0 °C or colder")
    assert came == "The first autumn night of 0 °C or colder came on 3 May."
    none = np.datetime64("NaT", "D")
    ahead = said._autumn_line(level_of(came=none), "0 °C or colder")
    assert "came" not in ahead
    assert ahead.index("one in ten by 1 Jun") < ahead.index("one in two by 20 May")
    never = level_of(came=none)
    never["date"] = ("level", np.array(["NaT"] * 2, "datetime64[D]"))
    rare = said._autumn_line(never, "0 °C or colder")
    assert rare.startswith("A night of 0 °C or colder is rare in autumn")
    assert "fewer than one in ten of 40 years" in rare


@pytest.mark.parametrize(
    ("odds", "last"),
    [
        ([0.9, 0.85, 0.7, 0.3], "6 May"),
        ([0.5, 0.85, 0.9, 0.3], "11 May, from 6 May on"),
        ([0.9, 0.3, 0.85, 0.9], "1 May"),
        ([0.1, 0.2, 0.3, 0.4], ""),
        ([0.9, 0.9, 0.9, 0.9], "16 May"),
    ],
)
def test_the_last_start_is_that_of_the_first_run_with_the_odds(odds, last):
    starts = np.datetime64("2024-05-01") + 5 * np.arange(4) * np.timedelta64(1, "D")
    ahead = xr.Dataset({"odds": ("start", odds)}, coords={"start": starts})
    assert said._last_start(ahead, 0.8) == last


@pytest.mark.parametrize(
    ("name", "value", "units", "text"),
    [
        ("frost_nights", 12.0, "F", "12"),
        ("rain", 254.0, "C", "254"),
        ("rain", 254.0, "F", "10.0"),
        ("mean_temperature", 10.0, "F", "50.0"),
        ("soil_temperature", 10.0, "C", "10.0"),
    ],
)
def test_nights_and_rain_are_no_temperatures(name, value, units, text):
    assert said._amount(name, value, units) == text


def test_a_quantity_so_far_stands_before_the_usual_one():
    columns = {
        "so_far": 300.0,
        "usual": 250.0,
        "usual_low": 180.0,
        "usual_high": 320.0,
        "rank": 3,
        "ranked": 40,
    }
    quantities = {name: ("quantity", [value]) for name, value in columns.items()}
    quantities["by_year"] = (("quantity", "year"), [[250.0]])
    row = xr.Dataset(quantities, {"quantity": ["rain"]}, {"base_c": 5.0})
    text = said._quantity_line(row, "rain", "C")
    assert text.startswith("Rain: 300 mm, the 3rd ")
    assert text.endswith("usually 250 (180 to 320 in 8 years of 10)")


def test_days_that_were_not_measured_are_one_or_many():
    one = " ".join(said.season_notes(xr.Dataset(attrs={"bridged_days": 1})))
    assert "1 day of the last year is missing" in one
    assert "up to five in a row are bridged" in one
    many = said.season_notes(xr.Dataset(attrs={"days_behind": 3, "through": "2024-05-14"}))
    assert many[0].startswith("The record ends on 14 May 2024: the 3 days since then are taken")
    assert said.season_notes(xr.Dataset()) == []


def odds_of(usual):
    columns = {
        "known": 38,
        "harvested": 30,
        "odds": 0.77,
        "low": 0.62,
        "high": 0.88,
        "harvest_usual_odds": usual,
        "harvest_usual_low": 0.55,
        "harvest_usual_high": 0.81,
    }
    failures = ["too hot", "bolted", "chilled"]
    failed_by = {"failed_by": ("failure", [2, 5, 0])}
    return xr.Dataset(columns | failed_by, {"failure": failures})


def test_a_standing_crops_odds_and_what_fails_it_are_in_their_places():
    text, fails = said._odds_lines(odds_of(0.7))
    assert "weather of 30 of 38 past years" in text
    assert "odds 77 % (62 % to 88 %)" in text
    assert "70 % (55 % to 81 %)" in text
    assert fails == "Why it fails in the others: bolted in 5, too hot in 2."
    assert "%" not in said._odds_lines(odds_of(np.nan))[0].split("88 %")[1]


def test_the_harvest_narrows_from_its_first_width_to_the_last():
    day = np.datetime64("2024-07-01")
    at = {"told": np.array(["2024-04-10", "2024-05-14"], "datetime64[D]")}
    ahead = xr.Dataset(
        {
            "told_low": ("told", day - np.array([10, 5], "timedelta64[D]")),
            "told_high": ("told", day + np.array([10, 3], "timedelta64[D]")),
            "told_share": ("told", [1.0, 1.0]),
            "known": 38,
        },
        coords=at,
    )
    (text,) = said._narrowing(ahead)
    assert text.startswith("On 10 Apr the first harvest could be told to within 20 days")
    assert text.endswith("now to within 8 days.")


@pytest.mark.parametrize("text", [said.ODDS_AS_EVER, said.TOO_EARLY, said.SOIL_AS_EVER])
def test_a_season_that_tells_nothing_yet_is_said_to_tell_no_more(text):
    assert re.search(r"\b(no|not|nothing|too early)\b", text, re.IGNORECASE)
    assert "fewer" not in text


@pytest.mark.parametrize("says_more", [True, False])
def test_soil_that_warms_is_told_by_its_depth_its_limit_and_its_days(says_more):
    day, step = np.datetime64("2024-05-20"), np.timedelta64(1, "D")
    columns = {
        f"warm_{end}": day + off * step for end, off in (("mid", 0), ("low", -6), ("high", 9))
    }
    usual = {f"usual_{name}": date + 12 * step for name, date in columns.items()}
    ahead = xr.Dataset(columns | usual | {"soil_says_more": says_more}, attrs={"warm_soil_c": 15.0})
    text = said._warm_line(ahead, "C")
    assert "The soil at 5 cm is likely to reach 15 °C" in text
    if says_more:
        assert "by 20 May (14 May to 29 May nine times in ten)" in text
        assert said.SOIL_AS_EVER not in text
    else:
        assert "by 1 Jun (26 May to 10 Jun nine times in ten)" in text
        assert text.endswith(said.SOIL_AS_EVER)


def test_events_at_one_time_are_told_once_and_those_that_came_are_not():
    days = np.array(["2024-05-20"] * 2 + ["2024-06-20"], "datetime64[D]")
    dates = {f"date_{end}": ("event", days.copy()) for end in ("low", "mid", "high")}
    ahead = xr.Dataset(
        dates | {"has_come": ("event", [False] * 3)}, {"event": ["bulb", "ripe", "end"]}
    )
    assert [str(row["event"].item()) for row in said.events_to_come(ahead)] == ["bulb", "end"]
    for end in ("low", "mid", "high"):
        later = ahead.copy(deep=True)
        later[f"date_{end}"][1] = np.datetime64("2024-05-28")
        assert len(said.events_to_come(later)) == 3  # one end apart is another spread
