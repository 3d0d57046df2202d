"""What commands say, against what they were given: each claim, and the claim it must not be."""

import datetime as dt
import re
from types import SimpleNamespace

import numpy as np
import pandas as pd
import pytest
import xarray as xr
from scipy import stats

import climwin as cw
from climwin.batch.stations import ANSWERED
from climwin.cli import (
    batch,
    diary,
    growing,
    notes,
    place,
    planning,
    record,
    season,
    space,
    stations,
)
from climwin.cli.main import main
from climwin.core.stats import FEW_YEARS
from climwin.crops.bands import bearable_band
from climwin.io.departure import CHECK_FIRST
from climwin.page import club as pages
from climwin.report import sentences_decision
from climwin.report.sentences_caveats import CHECK_PLACE
from climwin.shelter.covers import Response
from climwin.shelter.risk import SpaceCheck

DAY = np.timedelta64(1, "D")


def row_of(**values):
    return xr.Dataset({name: ((), value) for name, value in values.items()})


def shown(capsys, *arguments):
    code = main([str(each) for each in arguments])
    captured = capsys.readouterr()
    return code, captured.out, captured.err


# --- a covered space ----------------------------------------------------------------------

CHECK = SpaceCheck(
    hours=240.0,
    hours_in_band=170.0,
    hours_below=45.0,
    hours_above=25.0,
    coldest_c=-3.0,
    coldest_at=np.datetime64("2027-03-04T05:30"),
    hottest_c=38.0,
    hottest_at=np.datetime64("2027-03-19T14:10"),
    too_cold=("2027-03-04", "2027-03-05"),
    too_hot=(),
)


def test_logged_hours_below_the_band_are_colder_and_those_above_it_warmer():
    hours, ends, cold, hot = space._checked(CHECK, cw.crop("cauliflower"), "C")
    assert "170 of 240 hours" in hours
    low, high = re.search(r"hours were right for growth, (\S+) °C to (\S+) °C;", hours).groups()
    band = bearable_band(cw.crop("cauliflower"))
    assert (float(low), float(high)) == (band.low_c, band.high_c)
    assert re.search(r"45 were colder, 25 warmer$", hours)
    # Readings at the ends stand for half an hour: the counts said add up all the same.
    halves = CHECK._replace(hours=2159.0, hours_in_band=787.5, hours_below=1371.5, hours_above=0.0)
    hours, *_ = space._checked(halves, cw.crop("cauliflower"), "C")
    counts = [int(each.replace(",", "")) for each in re.findall(r"(?<!\S)[\d,]+(?= )", hours)]
    right, every, colder, warmer = (n for n in counts if n == 0 or n > 100)
    assert every == right + colder + warmer
    assert re.search(r"coldest -?\W?3\.0 °C on 4 Mar 2027 at 05:30, hottest 38\.0 °C", ends)
    assert ends.endswith("on 19 Mar 2027 at 14:10")
    assert cold.strip() == "days too cold: 4 Mar 2027, 5 Mar 2027"
    assert hot.strip() == "days too hot: none"
    turned = CHECK._replace(too_cold=(), too_hot=tuple(f"2027-03-{n:02}" for n in range(1, 9)))
    _, _, cold, hot = space._checked(turned, cw.crop("cauliflower"), "C")
    assert "none" in cold
    assert hot.strip() == "days too hot: 8, from 1 Mar 2027 to 8 Mar 2027"


@pytest.mark.parametrize("units", ["C", "F"])
def test_the_line_of_a_space_gives_the_inside_for_the_outdoors_in_either_unit(units):
    """Inside is 4 + 0.8 times outdoors by night, 9 + 1.1 times by day, in degC."""
    night = Response(intercept_c=4.0, slope=0.8, slope_error=0.05, spread_c=1.5, freedom=40)
    day = Response(intercept_c=9.0, slope=1.1, slope_error=0.02, spread_c=3.0, freedom=40)
    cover = SimpleNamespace(coldest=night, warmest=day, days=42)
    for line, name, fit in zip(
        space._response(cover, units), ("minimum", "maximum"), (night, day), strict=True
    ):
        a, b = re.search(r"inside = ([\d.]+) °. \+ ([\d.]+) x outdoors", line).groups()
        outdoors_c = 10.0
        inside_c = fit.intercept_c + fit.slope * outdoors_c
        outdoors, inside = (
            value if units == "C" else 32 + 1.8 * value for value in (outdoors_c, inside_c)
        )
        assert float(a) + float(b) * outdoors == pytest.approx(inside, abs=0.06)
        assert line.strip().startswith(f"{name} inside")
        reach = stats.t.ppf(0.95, 40) * fit.slope_error
        low, high = re.search(r"\(likely ([\d.]+) to ([\d.]+)\)", line).groups()
        assert (float(low), float(high)) == pytest.approx(
            (fit.slope - reach, fit.slope + reach), abs=0.006
        )
        spread = fit.spread_c * (1 if units == "C" else 1.8)
        assert f"; of 42 days, two in three are within {spread:.1f} °{units} of it" in line


# --- trials -------------------------------------------------------------------------------


@pytest.mark.parametrize(("difference", "spread"), [(0.5, 1.0), (2.0, 3.0)])
def test_so_many_pairs_see_the_difference_in_four_trials_of_five(capsys, difference, spread):
    _, out, _ = shown(
        capsys, *("trial", "size", "--difference", difference, "--spread", spread, "--unit", "kg")
    )
    pairs = int(out.split()[0])

    def power(n):
        bound = stats.t.ppf(0.975, n - 1)
        off = np.sqrt(n) * difference / spread
        return stats.nct.sf(bound, n - 1, off) + stats.nct.cdf(-bound, n - 1, off)

    assert power(pairs) >= 0.8 > power(pairs - 1)
    assert f"see a difference of {difference:g} kg in 4 trials of 5" in out
    assert f"single pairs differ by about {spread:g} kg" in out
    assert "pairs" in out.split()[1]


def test_more_than_two_ways_are_laid_out_in_blocks(capsys):
    given = ("--difference", "2", "--spread", "3", "--treatments", "4")
    _, out, _ = shown(capsys, "trial", "size", *given)
    assert re.match(r"\d+ blocks of 4 see a difference of 2 in", out)


def test_the_plan_on_screen_is_that_of_the_sheet(capsys, tmp_path):
    sheet = tmp_path / "sheet.csv"
    _, out, _ = shown(capsys, *("trial", "plan", "early", "late", "--blocks", "5", "--out", sheet))
    table = pd.read_csv(sheet, comment="#", dtype=str)
    for block, plots in table.groupby("block"):
        [line] = [each for each in out.splitlines() if each.startswith(f"block {block}: ")]
        told = [each.split(" ", 1) for each in line.split(": ")[1].split(" | ")]
        assert told == plots[["plot", "treatment"]].to_numpy().tolist()


# --- dates --------------------------------------------------------------------------------


def suits_row(**given):
    values = {
        "crop": "pea",
        "elsewhere_harvested": 31.0,
        "elsewhere_known": 39.0,
        "limit": "too hot",
        "weeks": 0,
        "cover": "none",
        "propagation": "seed",
        "first_day": 64.0,
        "last_day": 106.0,
        "earliness": "main",
        "good_share": 0.42,
        "growth": 0.73,
    }
    return row_of(**values | given)


def test_a_crop_that_suits_has_its_harvests_its_growth_its_dates_and_else_its_limit():
    line = planning._suits_line(suits_row())
    assert re.search(r"^pea +31 of 39 years +good +42 % +growth 0\.73 +outdoors", line)
    assert "start 5 Mar to 16 Apr; else too hot" in line
    assert "early" not in line
    raised = planning._suits_line(suits_row(weeks=6, cover="cold frame", earliness="early"))
    assert "6 weeks under cover (cold frame), start 5 Mar to 16 Apr, early varieties;" in raised
    never = planning._suits_line(suits_row(elsewhere_harvested=0.0))
    assert "0 of 39 years" in never
    assert "else" not in never
    assert not re.search("good|growth|start", never)
    assert never.endswith("; too hot")
    stands = planning._suits_line(suits_row(propagation="perennial"))
    assert "stands for years" in stands
    assert "start" not in stands


def test_a_span_of_the_calendar_has_its_start_before_its_harvest():
    row = row_of(
        crop="leek",
        method="sow",
        first_day=64,
        best_day=78,
        last_day=106,
        harvest_first=190.0,
        harvest_last=215.0,
        earliness="early",
        elsewhere_share=0.83,
        best_for="the longest season",
    )
    line = planning._calendar_line(row)
    assert re.search(
        r"^leek +sow +5 Mar to 16 Apr +best 19 Mar +83 % +harvest begins 9 Jul to 3 Aug; ", line
    )
    assert line.endswith("early variety: the longest season")
    main_variety = planning._calendar_line(row.assign(earliness=((), "main")))
    assert "early" not in main_variety


def timetable(**given):
    """Sown on day 100, harvested about day 200; of 40 years, 30 with a harvest, 18 a good one."""
    values = {
        "known": 40,
        "harvested": 30,
        "good": 18,
        "leaning": 0,
        "next_low": 6.0,
        "next_high": 9.0,
        "low": 0.61,
        "high": 0.86,
    }
    events = {
        "begin_day": [200.0, 100.0, np.nan],
        "begin_first": [190.0, 100.0, np.nan],
        "begin_last": [215.0, 100.0, np.nan],
        "killed": [4, 0, 0],
    }
    columns = {name: ((), value) for name, value in (values | given).items()}
    columns |= {name: ("event", each) for name, each in events.items()}
    return xr.Dataset(columns, {"event": ["harvest", "start", "bolting"]})


def test_a_plans_dates_come_in_order_each_with_its_own_spread():
    plan = cw.Plan(cw.crop("pea"), "04-10")
    first, *rest = planning._dates_lines(plan, timetable(), 2027)
    assert "a harvest in 30 of 40 years" in first
    assert "likely 6 to 9 of the next ten" in first
    assert "61 % to 86 % in the long run" in first
    assert re.search(r"in the long run, nine (times|chances) in ten\)", first)  # of a 90 % range
    assert first.endswith("a good one in 18")
    start, harvest, never = rest
    assert start.startswith("10 Apr 2027  sow outdoors")
    assert "8 years of 10" not in start
    assert harvest.startswith("19 Jul 2027  harvest")
    assert "9 Jul to 3 Aug in 8 years of 10" in harvest
    assert re.search(r"killed or too late here in 4 years$", harvest)
    assert never == "no year came as far as: bolting"
    gaps = planning._dates_lines(plan, timetable(leaning=3), 2027)[1]
    assert gaps.startswith("In 3 years more, gaps in the record hide the answer")


@pytest.mark.parametrize(
    ("crop", "given", "said"),
    [
        ("pea", {}, "sow outdoors"),
        ("potato", {}, "plant outdoors"),
        ("potato", {"weeks_under_cover": 4, "cover": "cold frame"}, "plant in the cold frame"),
        ("tomato", {"weeks_under_cover": 6, "cover": "room with lights"}, "sow in the room with"),
        ("leek", {"plants": "bought"}, "set out the bought plants"),
    ],
)
def test_the_first_of_a_plans_dates_says_what_a_gardener_does(crop, given, said):
    plan = cw.Plan(cw.crop(crop), "04-10", **given)
    lines = planning._dates_lines(plan, timetable(), 2027)
    [line] = [text for text in lines if text.startswith("10 Apr 2027")]
    assert line.startswith(f"10 Apr 2027  {said}")


# --- past sowings -------------------------------------------------------------------------


def sowing(**given):
    values = {
        "start": np.datetime64("2018-03-03"),
        "crop": "cauliflower",
        "way": "cold frame",
        "failed": "",
        "harvest": np.datetime64("2018-06-28"),
        "odds": 0.74,
        "expected_first": np.datetime64("2018-06-20"),
        "expected_last": np.datetime64("2018-07-11"),
        "reason": "",
        "outcome": "harvest",
        "model_date": np.datetime64("2018-07-01"),
    }
    return row_of(**values | given)


def test_a_sowing_is_told_by_what_came_what_was_told_and_what_its_model_has():
    line = diary._line(sowing())
    came, model = line.split("; the model of that year: ")
    assert came.startswith("2018-03-03  cauliflower, cold frame")
    assert re.search(r"harvest 28 Jun +odds 74 %, harvest begins 20 Jun to 11 Jul$", came)
    assert model == "harvest 1 Jul"
    failed = diary._line(sowing(failed="too hot", outcome="failed", reason="bolted"))
    came, model = failed.split("; the model of that year: ")
    assert "too hot" in came
    assert model == "bolted"
    hidden = diary._line(sowing(outcome="unknown"))
    assert hidden.endswith("the model of that year: a gap hides it")


# --- the season ---------------------------------------------------------------------------


def record_until(last):
    time = np.arange(np.datetime64("2020-01-01"), np.datetime64(last) + DAY)
    values = np.cos(np.arange(len(time)) / 58.0)
    unit = {"units": "degC"}
    daily = xr.Dataset(
        {"tmin": ("time", 5 - 9 * values, unit), "tmax": ("time", 14 - 9 * values, unit)},
        {"time": time.astype("datetime64[ns]")},
    )
    return daily.assign_attrs(latitude=46.0)


@pytest.mark.parametrize("ago", [2, 10, 200, 1200])
def test_a_record_that_ended_long_ago_is_asked_of_its_own_day_and_this_is_said(ago):
    today = np.datetime64(dt.date.today())
    daily = record_until(today - ago * DAY)
    on, said = season._date(daily, SimpleNamespace(on=None))
    if ago < 200:
        assert (on, said) == (today, [])
        return
    assert on == today - (ago - 1) * DAY
    [text] = said
    years = today.item().year - (today - ago * DAY).item().year  # as its caveat counts them
    assert f"ended {ago} days ago" in text or f"ended {years} years ago" in text
    assert ("days" in text) == (ago < 730)
    assert "not today" in text
    assert str(on)[:4] in text


# --- stations -----------------------------------------------------------------------------


def table():
    columns = {
        "name": ["Oxhey", "Farmere"],
        "distance_km": [16.09344, 40.0],
        "height_difference_m": [-100.0, np.nan],
        "share_present": [0.97, 0.5],
    }
    out = pd.DataFrame(columns, index=pd.Index(["A", "B"], name="station_id"))
    spans = {"tmin": (1980, 2020), "tmax": (1985, 2019), "tmean": (None, None)}
    for name in ("tmin", "tmax", "tmean", "precip", "snow", "wind", "sun"):
        first, last = spans.get(name, (1990, 2010))
        out[f"{name}_first"] = pd.array([first, 1990], "Int64")
        out[f"{name}_last"] = pd.array([last, 2010], "Int64")
    return out


@pytest.mark.parametrize(
    ("units", "far", "away", "high", "lower"),
    [("C", "km", "16", "higher_m", "100"), ("F", "miles", "10", "higher_ft", "328")],
)
def test_the_table_of_stations_is_in_one_system_and_a_lower_station_is_negative(
    units, far, away, high, lower
):
    text = stations._in_words(table(), units)
    head, *_ = text.splitlines()
    assert far in head.split()
    assert high in head.split()
    oxhey = next(line for line in text.splitlines() if "Oxhey" in line).split()
    assert oxhey[2] == away
    assert oxhey[3] in (f"-{lower}", f"\N{MINUS SIGN}{lower}")
    assert "1980-2020" in oxhey
    assert "1985-2019" in oxhey
    assert oxhey[-2:] == ["97", "%"]
    assert "none" in oxhey  # of the mean
    farmere = next(line for line in text.splitlines() if "Farmere" in line).split()
    assert farmere[3] == "?"


STORE = [
    {
        "station_id": "A1",
        "name": "Oxhey",
        "year": 1994,
        "status": "short",
        "fault": "lacks its maximum",
        "retrieved": dt.datetime(2026, 11, 3),
        "sources": "",
    }
]


def test_years_that_are_not_whole_are_named_with_their_fault_and_when_they_came(
    monkeypatch, capsys
):
    monkeypatch.setattr("climwin.stations.history.check_store", lambda: pd.DataFrame(STORE))
    stations.store_check(stations.StoreCheckOptions())
    line, advice = capsys.readouterr().out.splitlines()
    assert line.split("  ")[:3] == ["A1", "Oxhey", "1994"]
    assert "short: lacks its maximum; fetched 2026-11-03, sources: none" in line
    assert re.search(r"refresh ID`, or .* years after the ID", advice)
    monkeypatch.setattr("climwin.stations.history.check_store", lambda: pd.DataFrame([]))
    stations.store_check(stations.StoreCheckOptions())
    assert re.match(r"No year in .* is short, absent or doubtful", capsys.readouterr().out)


@pytest.mark.parametrize("left", [True, False])
def test_what_is_still_short_after_a_refresh_is_said(monkeypatch, capsys, left):
    table = pd.DataFrame(STORE)
    table = table if left else table.assign(station_id="B2")  # another station's fault
    monkeypatch.setattr("climwin.stations.history.check_store", lambda: table)
    monkeypatch.setattr("climwin.stations.history.refresh_history", lambda *_, **__: "aside.nc")
    stations.store_refresh(stations.StoreRefreshOptions("A1", ()))
    before, after = capsys.readouterr().out.splitlines()
    assert before.endswith("as it was: aside.nc")
    sound = "A1 has no short or doubtful year any more"
    assert after == sound if not left else after.startswith("still short, 1994: lacks its maximum")


def test_what_is_removed_is_no_longer_stored(monkeypatch, capsys):
    removed = []
    monkeypatch.setattr("climwin.stations.cache.remove", removed.append)
    stations.store_remove(stations.StoreRemoveOptions("A1"))
    assert (removed, capsys.readouterr().out) == (["A1"], "A1 is no longer stored\n")


@pytest.mark.parametrize(
    ("given", "whose"),
    [
        ({}, None),
        ({"name": "Ours"}, "asked"),
        ({"latitude": 46.0, "longitude": 7.0}, "asked"),
        ({"elevation": 640.0}, "the record's"),
    ],
)
def test_a_history_is_fetched_for_the_garden_that_was_asked_for(monkeypatch, given, whose):
    monkeypatch.setattr(stations, "garden_at", lambda _: "asked")
    monkeypatch.setattr(stations, "garden_of_record", lambda *_: "the record's")
    asked = dict.fromkeys(("name", "latitude", "longitude", "elevation")) | given
    assert stations._garden(place.PlaceOptions(**asked), xr.Dataset()) == whose


def test_no_gap_is_said_to_be_filled_and_the_page_is_of_the_station_asked(monkeypatch, capsys):
    record = xr.Dataset(attrs={"station_id": "A1", "history": "read\njoined with B2"})
    weight = (("variable", "neighbour"), [[0.4, 0.0]])
    rated = xr.Dataset({"weight": weight}, {"neighbour": ["B2", "C3"]})
    monkeypatch.setattr("climwin.stations.history.fetch_neighbours", lambda *_, **__: [])
    monkeypatch.setattr("climwin.climate.joining.rate_neighbours", lambda *_: rated)
    monkeypatch.setattr("climwin.climate.joining.join_stations", lambda *_: record)
    for words in ("joined", "rated_table"):
        monkeypatch.setattr(f"climwin.report.sentences_joining.{words}", lambda *_: "")
    stations._say_joined(record)
    assert capsys.readouterr().out.splitlines()[-2:] == [
        "The record has no gap that they could fill.",
        "For a page: `climwin page --station A1 --fill-from B2`",
    ]


@pytest.mark.parametrize(("height", "is_left_out"), [(None, True), (640.0, False)])
def test_each_station_of_the_list_has_its_reason_and_heights_count_where_known(
    monkeypatch, capsys, height, is_left_out
):
    found = table().assign(reason=["near, and whole", "far"])
    monkeypatch.setattr("climwin.stations.search.find_stations", lambda *_, **__: found)
    monkeypatch.setattr(stations, "garden_at", lambda _: cw.Garden("Ours", 46.0, 7.0, height))
    period = SimpleNamespace(first_year=None, last_year=None)
    options = SimpleNamespace(radius_km=50.0, place=None, period=period, shown_units="C")
    stations.stations(options)
    out = capsys.readouterr().out
    assert re.search(r"^around Ours", out)
    assert ("give the garden's with --elevation" in out) is is_left_out
    why = out.split("Why in this order:\n")[1].splitlines()
    assert why[:2] == ["A  Oxhey: near, and whole", "B  Farmere: far"]


# --- many stations ------------------------------------------------------------------------


def test_doubtful_records_are_named_and_those_of_few_years_too(capsys):
    names = [f"S{n}" for n in range(8)]
    reasons = [f"{n + 1} % of its days lack a minimum." for n in range(6)]
    reasons += [FEW_YEARS, f"9 % of its days lack a minimum. {FEW_YEARS}"]
    results = xr.Dataset(
        {"status": ("station", [ANSWERED] * 8), "reason": ("station", reasons)},
        {"station": names},
    )
    batch._say_doubts(results)
    lines = capsys.readouterr().out.splitlines()
    assert lines[:5] == [f"caution: S{n}: {n + 1} % of its days lack a minimum." for n in range(5)]
    assert re.search(r"records of 2 stations more are in doubt too", lines[5])  # S5 and S7
    assert re.search(r"not checked for so many records: whether a station was moved", lines[6])
    assert ", whether it has grown warmer, and whether a record ended" in lines[6]
    assert re.search(r"ended long ago\. Check one with `climwin inspect`", lines[6])
    assert len(lines) == 7


# --- notes --------------------------------------------------------------------------------


def test_odds_of_few_years_are_a_hint_and_of_no_garden_the_records_own(monkeypatch, capsys):
    monkeypatch.setattr(
        "climwin.report.sentences_caveats.record_caveats", lambda *_, **__: ("It is far.",)
    )
    garden = cw.Garden("Ours", 46.0, 7.0)
    for known, given in ((9, None), (10, None), (10, garden)):
        notes.say_caveats_of_odds(xr.Dataset(), given, known=known, few_years=True)
        out = capsys.readouterr().out
        assert (FEW_YEARS in out) is (known < 10)
        assert ("numbers are those of the record's own spot" in out) is (given is None)
        assert ("with --lat, --lon and --elevation" in out) is (given is None)
        assert "caution: It is far." in out


def test_what_makes_a_record_worthless_is_said_before_its_facts_and_the_rest_after(
    monkeypatch, capsys
):
    told = (f"{CHECK_FIRST}it is of two units.", "It is old.")
    _says(told, monkeypatch, capsys)


def test_another_place_is_said_before_a_records_facts_and_no_doubt_is_lost(monkeypatch, capsys):
    told = (f"{CHECK_PLACE}it is far.", f"{CHECK_FIRST}it is of two units.", "It is old.")
    _says(told, monkeypatch, capsys)


def _says(told, monkeypatch, capsys):
    """That all doubts but the last come before the facts."""
    monkeypatch.setattr("climwin.report.sentences_caveats.record_caveats", lambda *_, **__: told)
    notes.say_caveats(xr.Dataset(), None, ["tmin: 12 days missing"])
    lines = capsys.readouterr().out.splitlines()
    *first, last = [f"caution: {text}" for text in told]
    assert lines == [*first, "tmin: 12 days missing", last]


# --- a record -----------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("accept", "neighbours", "adjusted", "said"),
    [
        ((), ("a", "b"), "out.csv", "look at the list first, then add --accept and a number"),
        ((1,), ("a",), "out.csv", "two neighbours or more give: add --neighbour for each"),
        ((1,), ("a", "b"), None, "--accept needs a file to write: add --adjusted and its name"),
    ],
)
def test_what_an_adjustment_still_needs_is_what_is_lacking(accept, neighbours, adjusted, said):
    options = SimpleNamespace(accept=accept, neighbours=neighbours, adjusted=adjusted)
    with pytest.raises(ValueError, match=said):
        record._check_adjusting(options)


def test_a_look_at_a_record_tells_the_steps_it_was_read_in(capsys):
    _, out, _ = shown(capsys, "inspect", cw.sample())
    assert re.search(r"^Minima were read in", out, re.MULTILINE)


# --- crops --------------------------------------------------------------------------------


@pytest.mark.parametrize("kind", ["early", "main", "late"])
def test_a_kind_of_variety_is_taken_by_its_name(kind):
    assert growing.earliness(kind.upper()) == kind
    assert growing.earliness("65") == 65.0


def test_the_catalogue_lists_each_crop_with_its_season_and_its_days(capsys):
    _, out, _ = shown(capsys, "crops", "cool")
    lines = {line[:22].strip(): line[22:] for line in out.splitlines()}
    cool = [crop for crop in map(cw.crop, cw.crop_names()) if crop.season == "cool"]
    assert sorted(lines) == sorted(crop.name for crop in cool)
    for crop in cool:
        line = lines[crop.name]
        assert line.split()[0] == "cool"
        assert ("perennial" in line) is (crop.maturity is None)
        if crop.maturity is not None:
            assert re.search(rf"\b{crop.maturity.main:g} days", line)


def test_a_crop_of_the_list_stands_with_its_season_its_family_its_days_and_its_botanical_name(
    capsys,
):
    _, out, _ = shown(capsys, "crops", "cool")
    for line in out.splitlines():
        plant = cw.crop(line[:22].strip())
        assert line[22:].strip().startswith(plant.season)
        assert line.endswith(plant.botanical)
        after = line.split(plant.family)[1]
        assert re.match(r" +(perennial|[\d,]+ days) ", after)


# --- where it is --------------------------------------------------------------------------


@pytest.mark.parametrize(("away", "is_said"), [(3.0, True), (0.0, False)])
def test_a_garden_named_as_a_town_far_from_its_record_is_taken_to_lie_at_the_record(
    monkeypatch, away, is_said
):
    town = SimpleNamespace(people=90000, latitude=46.1 + away, longitude=7.2, label="Ash, in X")
    monkeypatch.setattr("climwin.stations.gazetteer.places", lambda _: [town])
    text = place._town_elsewhere("Ash", 46.1, 7.2)
    assert bool(text) is is_said
    if is_said:
        assert text.startswith(
            "The garden is taken to lie where the record was measured, at 46.10N"
        )
        assert "far from Ash, in X." in text
        assert text.endswith("If it lies in the town, give the town's position.")


@pytest.mark.parametrize(
    ("latitude", "longitude", "given", "lacking"),
    [(46.1, None, "--lat", "--lon"), (None, 7.2, "--lon", "--lat")],
)
def test_half_a_position_lacks_its_other_half(latitude, longitude, given, lacking):
    half = SimpleNamespace(latitude=latitude, longitude=longitude, name=None, elevation=None)
    with pytest.raises(ValueError, match=f"got {given} alone. Add {lacking}"):
        place.garden_at(half)


@pytest.mark.parametrize("is_blank", [True, False])
def test_how_a_file_is_to_be_read_is_refused_where_none_was_given(monkeypatch, is_blank):
    monkeypatch.setattr(season, "garden_at", lambda _: "the garden")
    monkeypatch.setattr(season, "fetched", lambda *_: "its history")
    options = SimpleNamespace(
        record=None, place=None, station=None, shown_units="C",
        reading=SimpleNamespace(is_blank=is_blank),
    )  # fmt: skip
    if is_blank:
        assert season._record(options) == ("its history", "the garden")
        return
    with pytest.raises(ValueError, match="--record-units, --dates and --column say how a file is"):
        season._record(options)


# --- a club -------------------------------------------------------------------------------


def test_each_garden_of_a_club_is_named_with_its_verdict_and_the_numbers_behind_it(
    monkeypatch, capsys, tmp_path
):
    gardens = [SimpleNamespace(garden=SimpleNamespace(name=name)) for name in ("Mill", "Hill")]
    made = SimpleNamespace(doubts=[], verdict="Every garden can", reports=gardens)
    monkeypatch.setattr(pages, "club_page", lambda *_, **__: made)
    monkeypatch.setattr(pages, "save_club", lambda _, out: out)
    words = (("verdict", "Sow at {}"), ("numbers_behind", "{} gave 8 of 9."))
    for name, said in words:
        monkeypatch.setattr(
            sentences_decision, name, lambda report, said=said: said.format(report.garden.name)
        )
    file = tmp_path / "club.toml"
    file.write_text("", "utf-8")
    assert main(["club", str(file), "--out", str(tmp_path / "club.html")]) == 0
    first, *lines = capsys.readouterr().out.splitlines()
    assert first == "Every garden can."
    assert lines[:2] == [
        "Mill: Sow at Mill. Mill gave 8 of 9.",
        "Hill: Sow at Hill. Hill gave 8 of 9.",
    ]
