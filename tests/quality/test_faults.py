"""Plausible but wrong records: each fault is seen, and nothing is said of sound ones.

`faults.py` measures the same on many real records; here every large fault goes into the invented
sample, and where the real records are at hand, into Albany's.
"""

import datetime as dt
import sys
from pathlib import Path

import numpy as np
import pytest
import records
from agreement.records import PLACES

sys.path.insert(0, str(Path(__file__).parent))

from injected import FAULTS, TODAY, table_of, verdict, written

import climwin as cw
from climwin.cli.main import main
from climwin.io.daily import read_daily
from climwin.io.departure import CHECK_FIRST
from climwin.io.plausibility import departures
from climwin.io.samples import sample
from climwin.report.sentences_caveats import record_caveats

EVIDENCE = {
    "years in degF": "degF stand there among degC",
    "degF from one year on": "degF stand there among degC",
    "months in degF": "the same month of the other years",
    "years in kelvin": "kelvin stand there among degC",
    "years ten times too large": "ten times too large",
    "months ten times too large": "ten times too large there",
    "years ten times too small": "ten times too small",
    "all values too small": "smaller than anywhere on land",
    "decimal points lost": "cannot be right and were set aside",
    "minus signs lost": "above freezing on",
    "winter clipped to zero": "above freezing on",
    "frost left out": "above freezing on",
    "minus signs lost in spring": "minus signs are missing",
    "frost of spring left out": "frost was left out",
    "a year copied": "years are copies of another",
    "a year copied, give or take 0.3 degC": "years are copies of another",
    "months copied": "months occur twice in the record",
    "seasons half a year late": "days later than in the others",
    "dates late": "turns 60 days later",
    "dates in the future": "lie in the future",
    "years of another century": "years from all others",
    "day and month swapped": "jumps from date to date",
    "shuffled within months": "little to do with that of the day before",
    "shuffled within years": "little to do with that of the day before",
    "columns out of step": "matches the minimum of 10 days",
    "maximum a day late": "be a day late",
    "maximum a day early": "be a day early",
    "maximum the same as minimum": "minimum and maximum are the same",
    "maximum made from minimum": "9.0 °C above the minimum",
    "columns swapped": "the minimum lies above the maximum on most days",
    "maximum of another year": "nothing to do with each other",
    "mean above the maximum": "outside its minimum and maximum",
    "mean read at one hour": "of the way from the minimum to the maximum",
    "two stations in turns by day": "of every other day differs",
    "two stations mixed at random": "rise and fall together, and not with the days beside",
    "two stations in turns by year": "alternate between high and low",
    "zeros for missing days": "is 0 °C on",
    "99.9 for missing days": "cannot be right and were set aside",
    "spikes of 30 degC": "cannot be right and were set aside",
    "last value carried forward": "repeat both temperatures of the day before",
    "gaps filled by straight lines": "follow a straight line",
    "means of months for days": "were set aside",
    "smoothed over 15 days": "from day to day, at the median",
    "rounded to 10 degC": "four times as often as any value near it",
    "soil or water for air": "may have stood in soil, in water or indoors",
    "a heated room for outdoors": "may have stood in soil, in water or indoors",
    "the mean in place of the maximum": "times that of the other years",
    "the mean for the maximum, one season": "there are months in a row, from",
    "rounded to some degC": "in steps of 5.0 °C",
    "converted from degF twice": "converted from Fahrenheit twice",
    "degF less 32, not divided": "that of the other years",
    "a model without memory": "little to do with that of the day before",
    "another place": "where that is about",
}
"""What is said, among other things, of each large fault."""


@pytest.fixture(scope="module")
def invented():
    return read_daily(sample())


def place_of(daily):
    return daily.assign_attrs({"latitude": 46.1, "elevation": 420.0} | daily.attrs)


def test_every_fault_has_its_evidence():
    assert set(EVIDENCE) == {fault.name for fault in FAULTS}
    assert len(FAULTS) >= 25


@pytest.mark.parametrize("number", range(len(FAULTS)), ids=lambda n: FAULTS[n].name)
def test_a_large_fault_in_the_invented_sample_is_refused_or_doubted(invented, tmp_path, number):
    fault = FAULTS[number]
    table = table_of(place_of(invented), years=20)
    said, text, every = verdict(
        fault.put(table, True, np.random.default_rng(number)), tmp_path / "record.csv"
    )
    assert said in ("refused", "doubted")
    assert text.startswith(("record.csv cannot be right", CHECK_FIRST))
    assert EVIDENCE[fault.name].lower() in every.lower()


def test_two_units_are_never_answered_by_a_unit_for_all(invented, tmp_path):
    table = table_of(invented, years=20)
    for fault in FAULTS[:2]:
        for large in (False, True):
            faulty = fault.put(table, large, np.random.default_rng(0))
            said, text, _ = verdict(faulty, tmp_path / "record.csv")
            assert said == "refused"
            assert "put all years in one unit" in text
            assert "units=" not in text


@pytest.mark.parametrize("name", ["pellbrook_valley.csv", "pellbrook_hill.csv"])
def test_the_invented_samples_are_sound(name):
    assert departures(read_daily(sample(name)), TODAY) == ()


@pytest.mark.parametrize("name", PLACES)
def test_a_clean_real_record_is_sound(name):
    path = records.SHARED / "records" / f"{name}.csv"
    if not path.exists():
        pytest.skip("the real records are not here")
    place = PLACES[name]
    daily = read_daily(path).assign_attrs(latitude=place.latitude, elevation=place.elevation)
    assert departures(daily, TODAY) == ()


def test_a_doubtful_record_in_a_list_of_stations_is_named(invented, tmp_path):
    shuffled = next(fault for fault in FAULTS if fault.name == "shuffled within months")
    table = table_of(invented, years=20)
    written(table, tmp_path / "sound.csv")
    written(shuffled.put(table, True, np.random.default_rng(0)), tmp_path / "odd.csv")
    listed = "station,latitude,longitude,record\nA,46.1,7.2,sound.csv\nB,46.1,7.2,odd.csv\n"
    (tmp_path / "list.csv").write_text(listed)
    stations = cw.read_stations(tmp_path / "list.csv")
    results = cw.run_stations(stations, [cw.crop("pea")], tmp_path / "out.nc")
    assert results["reason"].values[0] == ""
    assert results["reason"].values[1].startswith(CHECK_FIRST)


@pytest.mark.parametrize("command", ["inspect", "suits", "calendar"])
def test_a_command_says_a_doubt_about_the_record_first(
    invented, tmp_path, monkeypatch, capsys, command
):
    shuffled = next(fault for fault in FAULTS if fault.name == "shuffled within months")
    odd = shuffled.put(table_of(invented, years=12), True, np.random.default_rng(0))
    written(odd, tmp_path / "odd.csv")
    monkeypatch.chdir(tmp_path)
    crop = ["--crop", "pea"] if command == "calendar" else []
    assert main([command, "odd.csv", *crop]) == 0
    assert capsys.readouterr().out.startswith(
        f"caution: {CHECK_FIRST}The minimum of a day has little"
    )


def test_a_club_says_the_doubts_of_its_gardens_first(invented, tmp_path, monkeypatch, capsys):
    shuffled = next(fault for fault in FAULTS if fault.name == "shuffled within months")
    table = table_of(invented, years=12)
    written(table, tmp_path / "sound.csv")
    written(shuffled.put(table, True, np.random.default_rng(0)), tmp_path / "odd.csv")
    (tmp_path / "club.toml").write_text(
        'name = "Pellbrook club"\ncrop = "pea"\ngardens = [\n'
        '{ name = "Mill", record = "sound.csv", latitude = 46.1, longitude = 7.2 },\n'
        '{ name = "Terrace", record = "odd.csv", latitude = 46.1, longitude = 7.2 },\n]\n'
    )
    monkeypatch.chdir(tmp_path)
    assert main(["club", "club.toml"]) == 0
    first, *rest = capsys.readouterr().out.splitlines()
    assert first.startswith(f"caution: Terrace: {CHECK_FIRST}The minimum of a day has little")
    assert not any("Mill: Check" in line for line in rest)
    verdicts = [line for line in rest if not line.startswith("caution: ")]
    assert [line.partition(": ")[0] for line in verdicts[1:-1]] == ["Mill", "Terrace"]
    assert verdicts[-1] == "club.html"


def test_a_doubt_about_the_record_comes_before_all_others(invented):
    daily = invented.sel(time=slice("1985", "2000")).copy(deep=True)
    daily["tmax"] = daily["tmin"].assign_attrs(daily["tmax"].attrs)
    said = record_caveats(daily, dt.date(2026, 1, 1))
    first = [text.startswith(CHECK_FIRST) for text in said]
    assert first[0]
    assert first == sorted(first, reverse=True)
    assert any("stops in 2000" in text for text in said)
