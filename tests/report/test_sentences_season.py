"""Sentences of a season: each number is the result's, and each claim turns with it."""

import re
from functools import cache
from pathlib import Path

import icalendar
import numpy as np
import pytest
import xarray as xr
from results import read_block

import climwin as cw
from climwin.report import season_calendar as season_calendar_of
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
    assert f"the 5th highest of {of} years" in heat
    first = so_far.copy(deep=True)
    first["rank"].loc[{"quantity": "heat_sum"}] = 1
    assert "the lowest of 38 years" in " ".join(said.season_lines(first, "C"))
    assert "Heat above 41 °F: 769 °F days" in " ".join(said.season_lines(so_far, "F"))


@pytest.mark.parametrize(
    ("on", "through", "heading"),
    [
        ("2024-05-15", "2024-05-14", "From 14 December 2023 to 14 May 2024, compared"),
        ("2024-12-20", "2024-12-19", "From 14 December to 19 December 2024, compared"),
        ("2024-12-14", "2024-12-13", "The record has no day since 14 December 2024 yet"),
    ],
)
def test_a_season_says_since_when_it_runs(so_far, on, through, heading):
    at = so_far.assign_attrs(on=on, through=through, first_day=348)
    assert said.season_heading(at).startswith(heading)
    is_compared = ", compared with the same dates of past years:" in said.season_heading(at)
    assert is_compared is heading.startswith("From")
    assert bool(said.season_lines(at, "C")) is (through > "2024-12-13" or on < "2024-12-01")


def test_of_a_harvest_that_is_over_no_odds_are_given():
    daily = cw.read_daily(cw.sample())
    ahead = cw.outlook(cw.Plan(cw.crop("pea"), "04-28"), daily, on="2024-12-31", sown="04-28")
    picked = str(ahead["date_mid"].sel(event="last harvest").values.astype("datetime64[D]"))
    assert picked.startswith("2024-07-")
    day = f"{int(picked[-2:])} July"
    assert said.finding(ahead) == f"Peas should have been picked by {day}"
    [line] = said.outlook_lines(ahead, "C")
    assert "is over" in line
    assert day in line


@pytest.mark.parametrize(
    ("last", "when"), [("07-19", "lasted from 4 July to 19 July"), ("07-04", "came on 4 July")]
)
def test_a_harvest_of_several_days_lasted_and_one_of_a_day_came(last, when):
    dates = np.array(["2024-07-04", f"2024-{last}"], "datetime64[s]")
    ahead = xr.Dataset(
        {
            "date_mid": ("event", dates),
            "has_come": ("event", [True, True]),
            "has_failed": False,
        },
        {"event": ["harvest", "last harvest"]},
    )
    (line,) = said._standing_lines(ahead)
    assert line == f"By the growing model the harvest is over: it {when}."
    ahead = ahead.assign(seen=("event", [30, 30]), known=38)
    ahead = ahead.assign_attrs(crop_plural="peas", harvest_verb="picked")
    assert said.finding(ahead) == f"Peas should have been picked by {int(last[-2:])} July"


def test_what_is_not_known_is_not_made_up(so_far):
    gap = so_far.copy(deep=True)
    for name in ("rank", "ranked", "so_far"):
        gap[name].loc[{"quantity": "heat_sum"}] = np.nan
    assert "Heat above 5 °C: not known, too many days are missing" in said.season_lines(gap, "C")
    gap["days_ahead"] = gap["days_ahead"] * np.nan
    assert not any("a typical year." in line for line in said.season_lines(gap, "C"))
    dry = cw.season_so_far(running().drop_vars("precip"))
    assert not any("Rain" in line for line in said.season_lines(dry, "C"))


def test_odds_of_another_freeze_are_told_with_their_dates(so_far):
    spring = said.freeze_lines(so_far, "C")[0]
    row = so_far.isel(threshold=0).sel(side="last spring")
    hits = round(float(row["share"]) * int(row["known"]))
    assert f"one came after this date in {hits} of {int(row['known'])} years" in spring
    assert "The latest so far this year was on 23 April." in spring
    falls = row["date"].sel(level=0.1).dt
    assert f"one in ten by {int(falls.day)} {falls.strftime('%B').item()} (likely" in spring
    assert "one in two" not in spring  # the odds are below that already
    late = cw.season_so_far(running("2024-06-20"))
    assert said.freeze_lines(late, "C")[0].startswith("No night of 0 °C or colder came this late")


def test_a_standing_crop_is_told_by_its_stage_and_dates(pea):
    heading = said.outlook_heading(pea)
    assert heading.startswith(
        "Peas, sown outdoors on 10 April 2024. Latest stage by the growing model: "
    )
    assert f"{pea['stage_now'].item()}, reached on 8 May." in heading
    lines = said.outlook_lines(pea, "C")
    harvest = pea.sel(event="harvest")
    days = [int(harvest[f"date_{end}"].dt.day) for end in ("mid", "low", "high")]
    assert lines[1].startswith(
        f"First picked: {days[0]} July, likely {days[1]}\N{EN DASH}{days[2]} July. By past years"
    )
    assert "Emergence" not in " ".join(lines)  # it has come
    assert any(said.ODDS_AS_EVER in line for line in lines)
    width = (pea["expected_high"] - pea["expected_low"])[-1] / np.timedelta64(1, "D")
    assert f"now they span {round(float(width)) + 1} days" in lines[-1]  # both ends count


@pytest.mark.parametrize(
    ("given", "words"),
    [
        ({"stage_now": ""}, "nothing shows yet on 14 May 2024"),
        ({"stage_now": "flowers"}, "Latest stage by the growing model: flowers, reached on 20 May"),
        (
            {"date_mid": ("event", np.array(["2024-04-10"], "datetime64[D]"))},  # the day it began
            "10 April 2024. Still in the first stage by the growing model: flowers.",
        ),
        ({"has_failed": True}, "By the growing model the crop has failed: killed by frost."),
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
        {
            "crop_plural": "peas",
            "start_verb": "sow",
            "where": "outdoors",
            "on": "2024-05-14",
            "sown": "2024-04-10",
        },
    )
    text = said.outlook_heading(ahead)
    assert text.startswith("Peas, sown outdoors on 10 April 2024. ")
    assert words in text
    unsown = ahead.assign_attrs(sown="")
    assert said.outlook_heading(unsown).startswith("Peas. ")
    before = unsown.expand_dims(start=1)
    assert said.outlook_heading(before) == "Peas, not yet sown on 14 May 2024:"


def test_where_the_season_says_no_more_past_years_are_shown(pea):
    early = pea.copy()
    early["says_more"] = pea["says_more"] & False
    lines = " ".join(said.outlook_lines(early, "C"))
    usual = pea.sel(event="harvest")["usual_mid"].dt
    assert f"First picked: {int(usual.day)} {usual.strftime('%B').item()}, likely" in lines
    assert "By past years alone" not in lines
    assert said.TOO_EARLY in lines
    assert said.TOO_EARLY not in " ".join(said.outlook_lines(pea, "C"))


def test_few_traces_are_no_interval(pea):
    few = pea.copy(deep=True)
    few["seen"].loc[{"event": "harvest"}] = 4
    [line] = [text for text in said.outlook_lines(few, "C") if text.startswith("First picked")]
    assert "only with the weather of 4 past years" in line
    assert "likely" not in line


def test_a_crop_to_start_is_told_by_its_soil_and_its_starts(bean):
    lines = said.outlook_lines(bean, "C")
    assert "The soil at a depth of 5 cm should reach 15.6 °C" in lines[0]
    last = bean["start"][(bean["odds"] >= 0.8).values][-1].dt
    until = f"{int(last.day)} {last.strftime('%B').item()}"
    assert f"Sown by {until}, the crop comes to a harvest at least 8 years in 10." in lines
    best = bean.isel(start=int(bean["good"].argmax("start")))
    most = f"in {int(best['good'])} of {int(best['known'])} years."
    assert any(line.startswith("Good harvests are most") and line.endswith(most) for line in lines)
    row = bean.isel(start=0)
    day, middle, low = (said.day_of(row[name]) for name in ("start", "harvest_mid", "harvest_low"))
    assert (
        f"Sown {day}: a harvest in {int(row['harvested'])} of {int(row['known'])} years, a good "
        f"one in {int(row['good'])}; first picked {middle} ("
    ) in "\n".join(lines)
    assert low.split()[0] in lines[-len(said.starts_table(bean)["rows"])].rpartition("(")[2]
    few = said.outlook_lines(bean, "C", each_start=False)
    assert len(few) == len(lines) - len(said.starts_table(bean)["rows"])
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
        "The record ends on 14 May 2024. The 5 days since then are taken from each past year in "
        "turn."
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
        assert days["Peas: first picked"] == harvest
        assert "Peas: emergence" not in days
    else:
        last = ahead["start"].values[said.worth_starting(ahead)][-1]
        assert days["Snap beans: last day to sow"] == last.astype("datetime64[D]").item()
    notes = " ".join(str(event["DESCRIPTION"]) for event in events)
    assert "not a weather forecast" in notes


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
    assert "one came after this date in 22 of 40 years (likely 45 to 72 in 100)" in text
    assert "The latest so far this year was on 3 May." in text
    down = text.split("fall to ")[1]
    assert down.startswith("one in two by 20 May (likely 17\N{EN DASH}24 May)")
    assert "one in ten by 1 June (likely 28 May\N{EN DASH}8 June)" in down


def test_a_frost_that_came_so_late_in_no_year_has_no_odds():
    text = said._spring_line(level_of(share=0.0), "0 °C or colder")
    assert text.startswith("No night of 0 °C or colder came this late in spring in any of 40 ")
    assert "odds" not in text


def test_the_first_night_of_autumn_has_come_or_has_its_odds():
    came = said._autumn_line(level_of(), "0 °C or colder")
    assert came == "The first autumn night of 0 °C or colder came on 3 May."
    none = np.datetime64("NaT", "D")
    ahead = said._autumn_line(level_of(came=none), "0 °C or colder")
    assert ahead.startswith("The first autumn night of 0 °C or colder comes by ")
    assert "came" not in ahead
    assert "comes by 1 June in one year in ten (likely" in ahead
    assert ahead.index("1 June in one year in ten") < ahead.index("20 May in one year in two")
    never = level_of(came=none)
    never["date"] = ("level", np.array(["NaT"] * 2, "datetime64[D]"))
    rare = said._autumn_line(never, "0 °C or colder")
    assert rare.startswith("A night of 0 °C or colder is rare in autumn")
    assert "fewer than one in ten of 40 years" in rare


@pytest.mark.parametrize(
    ("odds", "last"),
    [
        ([0.9, 0.85, 0.7, 0.3], "by 6 May"),
        ([0.5, 0.85, 0.9, 0.3], "between 6 May and 11 May"),
        ([0.9, 0.3, 0.85, 0.9], "by 1 May"),
        ([0.1, 0.2, 0.3, 0.4], ""),
        ([0.9, 0.9, 0.9, 0.9], "by 16 May"),
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
    assert text.endswith("a typical year has 250, eight years in ten 180 to 320")


def test_days_that_were_not_measured_are_one_or_many():
    one = " ".join(said.season_notes(xr.Dataset(attrs={"bridged_days": 1})))
    assert "1 day of the last year is missing." in one
    assert "Up to five in a row are filled in" in one
    many = said.season_notes(xr.Dataset(attrs={"days_behind": 3, "through": "2024-05-14"}))
    assert many[0].startswith("The record ends on 14 May 2024. The 3 days since then are taken")
    assert said.season_notes(xr.Dataset()) == []


def odds_of(usual):
    columns = {
        "known": 38,
        "harvested": 30,
        "odds": 0.77,
        "low": 0.62,
        "high": 0.88,
        "harvest_usual_odds": usual,
        "harvest_usual_share": 0.75,
        "harvest_usual_known": 36,
        "harvest_usual_low": 0.55,
        "harvest_usual_high": 0.81,
    }
    failures = ["too hot", "bolted", "chilled"]
    failed_by = {"failed_by": ("failure", [2, 5, 0])}
    return xr.Dataset(columns | failed_by, {"failure": failures})


def test_a_standing_crops_odds_and_what_fails_it_are_in_their_places():
    text, fails = said._odds_lines(odds_of(0.7))
    assert text.startswith(
        "Carried on with the weather of each past year, the crop comes to a harvest in 30 of 38 "
        "(likely 62 to 88 in 100)."
    )
    assert "still stood on this date, 27 of 36 gave a harvest (likely 55 to 81 in 100)." in text
    assert fails == "Why it fails in the others: bolted in 5, too hot in 2."
    three = odds_of(0.7).assign(failed_by=("failure", [2, 5, 3]))
    assert said._odds_lines(three)[1].endswith(
        ": bolted in 5, stunted by chilly days in 3, too hot in 2."
    )
    assert said._odds_lines(odds_of(np.nan))[0].endswith("(likely 62 to 88 in 100).")


def test_the_harvest_narrows_from_its_first_width_to_the_last():
    day = np.datetime64("2024-07-01")
    at = {"as_of": np.array(["2024-04-10", "2024-05-14"], "datetime64[D]")}
    ahead = xr.Dataset(
        {
            "expected_low": ("as_of", day - np.array([10, 5], "timedelta64[D]")),
            "expected_high": ("as_of", day + np.array([10, 3], "timedelta64[D]")),
            "expected_share": ("as_of", [1.0, 1.0]),
            "known": 38,
        },
        coords=at,
    )
    (text,) = said._narrowing(ahead)
    assert text.startswith("On 10 April the likely dates of the first harvest spanned 21 days")
    assert text.endswith("now they span 9 days.")


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
    attrs = {"warm_soil_c": 15.0, "on": "2024-05-12"}
    ahead = xr.Dataset(columns | usual | {"soil_says_more": says_more}, attrs=attrs)
    text = said._warm_line(ahead, "C")
    assert "The soil at a depth of 5 cm should reach 15 °C" in text
    if says_more:
        warm = said._warm_line(ahead.assign_attrs(on="2024-06-01"), "C")
        assert warm == (
            "The soil at a depth of 5 cm has passed 15 °C, from which the seed comes up well."
        )
        assert "15 °C, warm enough for the seed to come up well, by " in text
        assert "by 20 May (likely 14\N{EN DASH}29 May)" in text
        assert said.SOIL_AS_EVER not in text
    else:
        assert "by 1 June (likely 26 May\N{EN DASH}10 June)" in text
        assert text.endswith(said.SOIL_AS_EVER)


@pytest.mark.parametrize(
    ("event", "named"),
    [("harvest", "First picked"), ("last harvest", "Last picked"), ("flowers", "Flowers")],
)
def test_a_harvest_begins_with_the_first_and_ends_with_the_last(event, named):
    ahead = xr.Dataset(attrs={"harvest_verb": "picked"})
    assert said.event_name(xr.Dataset({"event": event}), ahead) == named


@pytest.mark.parametrize("units", ["C", "F"])
def test_what_was_counted_so_far_has_its_depth_its_days_and_its_limit(so_far, units):
    titles = {name: said._title(name, so_far, units) for name in said.QUANTITIES}
    zero, base = {"C": ("0 °C", "5 °C"), "F": ("32 °F", "41 °F")}[units]
    assert titles["frost_nights"] == f"Nights of {zero} or colder"
    assert titles["heat_sum"] == f"Heat above {base}"
    assert titles["soil_temperature"].endswith(f", modelled, last {said.SOIL_DAYS} days")


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


# --- the finding --------------------------------------------------------------------------


def standing(**changed):
    """A crop that stands, made up by hand: what its harvest comes to."""
    day, step = np.datetime64("2024-07-05"), np.timedelta64(1, "D")
    columns = {
        "has_failed": False,
        "known": 38,
        "says_more": True,
        "has_come": ("event", [False]),
        "seen": ("event", [30]),
        "date_mid": ("event", [day]),
        "usual_mid": ("event", [day + 6 * step]),
    }
    attrs = {"crop_plural": "peas", "crop_be": "are", "harvest_verb": "picked"}
    return xr.Dataset(columns | changed, {"event": ["harvest"]}, attrs)


@pytest.mark.parametrize(
    ("changed", "finding"),
    [
        ({}, "Expect to pick the first peas about 5 July"),
        ({"says_more": False}, "Expect to pick the first peas about 11 July"),
        ({"seen": ("event", [19])}, "Expect to pick the first peas about 5 July"),
        ({"seen": ("event", [18])}, "Peas are a gamble: 18 harvests in 38 years"),
        ({"seen": ("event", [0])}, "No past year's weather brings the peas to a harvest now"),
        ({"has_failed": True}, "By the growing model the peas will give no harvest"),
        ({"has_come": ("event", [True])}, "Peas should be ready to pick by now"),
    ],
)
def test_the_finding_is_a_date_a_gamble_or_a_failure(changed, finding):
    text = said.finding(standing(**changed))
    assert text == finding
    assert len(text.split()) <= 11


@pytest.mark.parametrize(
    ("odds", "good", "finding"),
    [
        ([0.9, 0.9, 0.85, 0.3], [20, 24, 12, 0], "There is time to sow peas until 11 May"),
        ([0.9, 0.9, 0.85, 0.3], [20, 24, 11, 0], "There is time to sow peas until 6 May"),
        ([0.9, 0.9, 0.85, 0.3], [2, 24, 12, 0], "Sow peas between 6 May and 11 May"),
        ([0.7, 0.7, 0.6, 0.3], [20, 24, 12, 0], "Sowing peas from now on is a gamble"),
        ([0.0, 0.0, 0.0, 0.0], [0, 0, 0, 0], "No date in the next half-year suits peas"),
    ],
)
def test_the_finding_of_a_crop_to_start_is_until_when_good_harvests_follow(odds, good, finding):
    starts = np.datetime64("2024-05-01") + 5 * np.arange(4) * np.timedelta64(1, "D")
    harvested = ("start", [round(38 * each) for each in odds])
    columns = {"odds": ("start", odds), "good": ("start", good), "harvested": harvested}
    attrs = {"crop_plural": "peas", "start_verb": "sow"}
    text = said.finding(xr.Dataset(columns, {"start": starts}, attrs))
    assert text == finding
    assert len(text.split()) <= 11


@pytest.mark.parametrize(
    ("days", "text"),
    [
        (10.6, "the season is 11 days ahead of a typical year."),
        (-3.2, "the season is 3 days behind a typical year."),
        (1.2, "the season is 1 day ahead of a typical year."),
        (0.3, "the season is neither early nor late."),
        (np.nan, ""),
    ],
)
def test_an_early_season_is_ahead_and_a_late_one_behind(days, text):
    told = said.early_or_late(xr.Dataset({"days_ahead": days}))
    assert told.endswith(text)
    assert bool(told) == bool(text)


def test_a_date_that_is_always_the_same_has_no_range():
    day, step = np.datetime64("2024-05-24"), np.timedelta64(1, "D")
    names = [f"{prefix}_{end}" for prefix in ("date", "usual") for end in ("low", "mid", "high")]
    row = xr.Dataset(dict.fromkeys(names, day) | {"seen": 38}, {"event": "set out"})
    ahead = xr.Dataset({"says_more": True}, attrs={"harvest_verb": "picked"})
    assert said._event_line(row, ahead) == "Set out: 24 May."
    later = row.assign(usual_mid=day + 2 * step, usual_high=day + 4 * step)
    assert said._event_line(later, ahead) == (
        "Set out: 24 May. By past years alone: 26 May, likely 24\N{EN DASH}28 May."
    )


@pytest.mark.parametrize(
    ("odds", "good", "is_said"),
    [
        ([0.85, 0.2], [5, 0], True),
        ([0.85, 0.2], [6, 0], False),  # as good half as often
        ([0.85, 0.2], [1, 7], False),
        ([0.7, 0.2], [1, 0], False),  # no harvest as sure
    ],
)
def test_later_dates_are_said_to_give_smaller_harvests_only_where_all_do(odds, good, is_said):
    ahead = xr.Dataset({"good": ("start", [12, 10, *good]), "odds": ("start", [0.95, 0.9, *odds])})
    later = ahead.isel(start=slice(2, None))
    assert said._only_good_ones_fail(later, ahead) is is_said


def test_the_table_of_starts_has_a_head_for_each_of_its_cells(bean):
    table = said.starts_table(bean)
    assert table["heads"] == ["Sown", "A harvest", "A good one", "First picked", "Likely range"]
    most = int(bean["known"].max())
    caption = f"What comes of each date with the weather of the past {most} years"
    assert table["caption"] == caption
    _, harvests, good, *_ = table["rows"][0]
    first = bean.isel(start=int(np.flatnonzero(bean["harvested"] > 0)[0]))
    assert (harvests, good) == (
        f"{int(first['harvested'])} of {int(first['known'])}",
        f"{int(first['good'])}",
    )


@pytest.mark.parametrize(("odds", "told"), [([0.9, 0.9, 0.2], 1), ([0.9, 0.6, 0.2], 2)])
def test_a_last_date_with_two_odds_is_told_once(bean, odds, told):
    few = bean.isel(start=slice(0, 3)).copy(deep=True)
    few["odds"][:] = odds
    lines = [line for line in said._start_lines(few, "C", each_start=False) if "at least" in line]
    assert len(lines) == told
    assert "at least 8 years in 10" in lines[0]
    assert ("at least 5 years in 10" in lines[-1]) is (told == 2)


def test_the_date_after_which_harvests_are_smaller_is_the_last_worth_starting_on(monkeypatch, bean):
    monkeypatch.setattr(said, "_only_good_ones_fail", lambda *_: True)
    after = said._in_prose(bean["start"][said.last_worth_starting(bean)])
    done = bean.attrs["start_verb"].replace("sow", "Sown").replace("plant", "Planted")
    lines = said._start_lines(bean, "C", each_start=False)
    assert f"{done} after {after}, it gives a good harvest at most half as often." in lines


# --- what past years and tests of the season have shown -----------------------------------


RESULTS = Path(__file__).parents[1] / "odds" / "RESULTS.md"


def measured():
    """Rows of the table of seasons looked back at, by their first cell."""
    table = read_block(RESULTS, "season").split("\n\n")[0].strip().splitlines()
    heads, _, *rows = ([cell.strip() for cell in line.strip("|").split("|")] for line in table)
    return {row[0]: dict(zip(heads, row, strict=True)) for row in rows}


def test_what_a_look_back_is_said_to_have_shown_is_what_was_measured():
    rows = measured()
    held = rows["all three crops"]["held, of 0.90"]
    text = said.LOOKED_BACK
    assert f"{100 * float(held):.0f} of 100 harvests came within their likely dates" in text
    assert "where 90 should" in text
    assert "on fourteen long records" in text
    assert re.search(r"years of\s+fourteen records", RESULTS.read_text("utf-8"))
    gains = {
        name: [int(each) for each in re.findall(r"-?\d+", row["gain (%)"])]
        for name, row in rows.items()
        if name.endswith("of its time over")
    }
    first, before, after = (
        next(gain for name, gain in gains.items() if name.startswith(f"{share}%"))
        for share in (0, 25, 50)
    )
    assert first[1] <= 0 <= first[2]
    assert "Early on, knowing the season so far gains" in text
    late = text.split("gains")[1]
    assert late.startswith(" nothing; halfway to the harvest, it cuts the error by about half")
    assert before[0] <= 50 <= after[0]


def test_the_first_count_was_no_surer_guide_where_the_gain_is_not_proven():
    rows = measured()
    column = "odds: Brier gain (%)"
    _, low, high = map(int, re.findall(r"-?\d+", rows["all three crops"][column]))
    assert low <= 0 <= high
    assert "the first count was no surer guide than the second, so weigh both" in said.ODDS_AS_EVER
    text, _ = said._odds_lines(odds_of(0.7))
    first, second = text.index("comes to a harvest in"), text.index("still stood on this date")
    assert first < second < text.index(said.ODDS_AS_EVER)


def test_longer_gaps_are_taken_from_past_years_and_short_ones_from_the_days_beside():
    [note] = said.season_notes(xr.Dataset(attrs={"bridged_days": 8}))
    assert "8 days of the last year are missing." in note
    assert "Up to five in a row are filled in from the days beside them" in note
    assert "longer gaps from each past year" in note


@pytest.mark.parametrize("name", said._PLACES)
def test_the_nearer_end_is_named_and_the_far_one_is_not(name):
    """Ranks go from the smallest value up."""
    low, high = {
        "heat_sum": ("lowest", "highest"),
        "mean_temperature": ("coldest", "warmest"),
        "soil_temperature": ("coldest", "warmest"),
        "frost_nights": ("fewest", "most"),
        "rain": ("driest", "wettest"),
    }[name]
    for rank, place in ((1, low), (2, f"2nd {low}"), (39, f"2nd {high}"), (40, high)):
        row = xr.Dataset({"rank": rank, "ranked": 40})
        assert said._place(row, name) == f"the {place} of 40 years"
    assert said._place(xr.Dataset({"rank": 20, "ranked": 40}), name).startswith("about the middle")


@pytest.mark.parametrize(
    ("low", "high", "told"),
    [
        ("2024-09-28", "2024-10-09", r"^likely 28 Sep.*9 Oct"),
        ("2024-09-28", "NaT", r"^likely 28 September or later$"),
        ("NaT", "2024-10-09", r"^likely 9 October or earlier$"),
        ("NaT", "NaT", r"^hard to say$"),
    ],
)
def test_a_range_that_is_open_at_one_end_says_at_which(low, high, told):
    ends = {
        f"date_{end}": ("level", [np.datetime64(day, "D")])
        for end, day in (("low", low), ("high", high))
    }
    assert re.search(told, said._dates(xr.Dataset(ends, {"level": [0.5]}), 0.5))


def test_odds_of_a_freeze_are_those_of_past_years_from_the_date_on():
    assert "The season so far has not been shown to change them" in said.FREEZES_AS_EVER
    assert "those of past years from this date on" in said.FREEZES_AS_EVER
    assert "has not been shown to change them" in said.FREEZES_AS_EVER
    assert said.SOIL_AS_EVER.startswith("So far ahead")
    assert "says no more about it than past years do" in said.SOIL_AS_EVER
    assert said.TOO_EARLY == (
        "It is too early in this crop's life for the season to say more than past years do: these "
        "are the dates of past years."
    )
    assert said.ODDS_AS_EVER.startswith("Tested on long records, the first count was no surer")
    assert "This is not a weather forecast" in said.NOT_A_FORECAST
    assert "the days to come are taken from each past year in turn" in said.NOT_A_FORECAST
    assert "leave out doubt about the crop's limits" in said.NOT_A_FORECAST


@pytest.mark.parametrize("days", [-12.0, 0.0, 12.0])
def test_it_is_by_its_heat_that_a_season_is_early(days):
    text = said.early_or_late(xr.Dataset({"days_ahead": days}))
    assert text.startswith("By its heat so far the season is ")


def test_another_night_comes_this_spring_and_its_odds_fall():
    text = said._spring_line(level_of(), "0 °C or colder")
    assert text.startswith("Another night of 0 °C or colder may come this spring: one came after")
    lines = said.freeze_lines(
        xr.concat(
            [level_of(), level_of(came=np.datetime64("NaT", "D"))],
            xr.DataArray(["last spring", "first autumn"], dims="side", name="side"),
        ).expand_dims(threshold=[-2.0]),
        "C",
    )
    assert [re.search(r"night of (.*?) (may|comes)", line)[1] for line in lines] == [
        "\N{MINUS SIGN}2 °C or colder"
    ] * 2
    assert " The odds fall to one in two by " in text


@pytest.mark.parametrize(
    ("reason", "stage", "why"),
    [
        ("chilled", "seedling", "stunted by chilly days (seedling), on 3 May"),
        ("no bed workable", "", "soil too cold or too wet to work, on 3 May"),
    ],
)
def test_what_failed_a_crop_has_its_stage_where_there_is_one_and_its_day(reason, stage, why):
    ahead = xr.Dataset(
        {
            "outcome": ("year", ["unknown", "failed"]),
            "stage": ("year", ["", stage]),
            "reason": ("year", ["", reason]),
            "failed_on": ("year", np.array(["NaT", "2024-05-03"], "datetime64[D]")),
        }
    )
    assert said._why(ahead) == why


@pytest.mark.parametrize(
    ("seen", "told"),
    [
        (0, "does not come with the weather of any past year."),
        (3, "only with the weather of 3 past years, 4\N{EN DASH}19 July."),
    ],
)
def test_an_event_of_few_years_has_their_number_and_their_dates(seen, told):
    days = np.array(["2024-07-04", "2024-07-19", "2024-07-10"], "datetime64[D]")
    columns = {"date": ("year", days), "seen": seen}
    row = xr.Dataset(columns, {"event": "harvest"})
    ahead = xr.Dataset({"says_more": True}, attrs={"harvest_verb": "picked"})
    assert said._event_line(row, ahead) == f"First picked: {told}"


@pytest.mark.parametrize(("count", "shown"), [(13, 13), (14, 7), (3, 3)])
def test_of_many_starts_every_other_one_is_shown(count, shown):
    step = np.timedelta64(1, "D")
    starts = np.datetime64("2024-05-01") + 5 * np.arange(count + 1) * step
    columns = {
        "harvested": [20] * count + [0],  # the last start gives no harvest, and has no row
        "known": [38] * (count + 1),
        "good": [12] * (count + 1),
        "harvest_low": starts + 60 * step,
        "harvest_mid": starts + 70 * step,
        "harvest_high": starts + 80 * step,
    }
    ahead = xr.Dataset({n: ("start", v) for n, v in columns.items()}, {"start": starts})
    rows = said._start_rows(ahead)
    assert len(rows) == shown
    assert rows[0][:4] == ("1 May", "20 of 38", "12", "10 Jul")
    assert rows[1][0] == ("6 May" if shown == count else "11 May")


def starts_of(odds, good, verb="sow"):
    """Starts five days apart from 1 May on, each with its odds and its good harvests of 38."""
    step = np.timedelta64(1, "D")
    starts = np.datetime64("2024-05-01") + 5 * np.arange(len(odds)) * step
    columns = {
        "odds": odds,
        "harvested": np.round(38 * np.array(odds)),
        "good": good,
        "known": [38] * len(odds),
        "harvest_low": starts + 60 * step,
        "harvest_mid": starts + 70 * step,
        "harvest_high": starts + 80 * step,
    }
    attrs = {"start_verb": verb, "harvest_verb": "picked", "warm_soil_c": np.nan}
    return xr.Dataset({n: ("start", v) for n, v in columns.items()}, {"start": starts}, attrs)


@pytest.mark.parametrize(
    ("verb", "done"), [("sow", "Sown"), ("plant", "Planted"), ("set out", "Set out")]
)
def test_each_start_is_told_by_what_is_done_on_its_date(verb, done):
    ahead = starts_of([0.95, 0.9, 0.85, 0.6, 0.0], [20, 24, 5, 3, 0], verb)
    lines = said._start_lines(ahead, "C", each_start=True)
    assert lines[:4] == [
        f"{done} by 11 May, the crop comes to a harvest at least 8 years in 10.",
        f"{done} by 16 May, the crop comes to a harvest at least 5 years in 10.",
        f"{done} after 6 May, it gives a good harvest at most half as often.",
        f"Good harvests are most frequent if it is {done.lower()} about 6 May: in 24 of 38 years.",
    ]
    span = "5\N{EN DASH}25 Jul"  # 60 and 80 days after 6 May
    assert len(lines) == 8
    assert said._start_lines(ahead, "C", each_start=False) == lines[:4]
    assert lines[5] == (
        f"{done} 6 May: a harvest in 34 of 38 years, a good one in 24; first picked 15 Jul ({span})"
    )
    assert (
        said.outlook_heading(ahead.assign_attrs(crop_plural="peas", on="2024-05-01"))
        == f"Peas, not yet {done.lower()} on 1 May 2024:"
    )
    events = season_calendar_of.season_events(ahead.assign_attrs(crop_plural="peas"))
    assert [event.title for event in events] == [
        f"Peas: last day to {verb}",
        "Peas: first picked, from that day",
    ]
    assert events[0].note.startswith("From a later date, a good harvest is much less likely. ")
    never = starts_of([0.0, 0.0], [0, 0], verb)
    assert said._start_lines(never, "C", each_start=True) == [
        "No date in the next half-year leads to a harvest."
    ]


def test_a_date_to_come_has_this_seasons_spread_and_then_that_of_past_years():
    day, step = np.datetime64("2024-07-05"), np.timedelta64(1, "D")
    ends = (("low", -4), ("mid", 0), ("high", 6))
    columns = {f"date_{end}": day + off * step for end, off in ends}
    columns |= {f"usual_{end}": day + (off + 5) * step for end, off in ends}
    row = xr.Dataset(columns | {"seen": 38}, {"event": "harvest"})
    ahead = xr.Dataset({"says_more": True}, attrs={"harvest_verb": "picked"})
    now, past = "5 July, likely 1\N{EN DASH}11 July", "10 July, likely 6\N{EN DASH}16 July"
    assert said._event_line(row, ahead) == f"First picked: {now}. By past years alone: {past}."
    alone = row.assign({f"usual_{end}": np.datetime64("NaT", "D") for end, _ in ends})
    assert said._event_line(alone, ahead) == f"First picked: {now}."
    early = ahead.assign(says_more=False)
    assert said._event_line(row, early) == f"First picked: {past}."


def test_a_day_in_the_calendar_has_the_past_years_that_bring_a_harvest():
    row = xr.Dataset({"harvested": 30, "known": 38, "odds": 0.77})
    assert season_calendar_of._odds(row) == (
        "A harvest with the weather of 30 of 38 past years, odds 77 %."
    )


@pytest.mark.parametrize(("late", "days"), [(9, "between 28 Jun and 14 Jul"), (-7, "on 28 Jun")])
def test_a_day_in_the_calendar_comes_within_its_range_nine_times_in_ten(late, days):
    day, step = np.datetime64("2024-07-05"), np.timedelta64(1, "D")
    row = xr.Dataset({"date_low": day - 7 * step, "date_mid": day, "date_high": day + late * step})
    event = season_calendar_of._event("Peas", row, "date", "Odds.")
    assert event.date_first == day.astype(object)
    assert event.note.startswith(
        f"Nine times in ten it comes {days}, if the crop gets that far. Odds.\n"
    )
