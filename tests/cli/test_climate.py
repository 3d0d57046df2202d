"""Commands on a place's climate: frosts by date, and the mild spell of every year."""

import datetime as dt
import re

import numpy as np
import pandas as pd
import pytest

import climwin as cw
from climwin.cli.main import _with_negative_values, main
from climwin.io.exports import to_csv
from climwin.io.samples import sample


@pytest.fixture(scope="module")
def whole(tmp_path_factory, pellbrook):
    """Pellbrook's record without a gap: each year's answer is sure."""
    daily = pellbrook.daily.interpolate_na("time")
    return to_csv(daily, tmp_path_factory.mktemp("whole") / "whole.csv")


@pytest.fixture
def run(capsys, tmp_path, monkeypatch, whole):
    monkeypatch.chdir(tmp_path)

    def command(name, *arguments):
        assert main([name, str(whole), *arguments]) == 0
        return capsys.readouterr().out

    return command


def last_frosts(path, limit_c):
    """Day of each year's last night at or below a limit in January to July, counted by hand."""
    frame = pd.read_csv(path, comment="#", parse_dates=["time"]).set_index("time")
    cold = frame.index[(frame["tmin"] <= limit_c) & (frame.index.month < 8)]
    return [day.day_of_year for day in cold.to_series().groupby(cold.year).max()]


def day_of(text):
    return dt.datetime.strptime(f"{' '.join(text.split())} 2001", "%d %b %Y").timetuple().tm_yday


@pytest.mark.parametrize(("typed", "limit_c"), [("0C", 0.0), ("28.4F", -2.0)])
def test_the_dates_are_those_that_the_years_passed(run, whole, typed, limit_c):
    told = run("freezes", "--nights", typed)
    days = last_frosts(whole, limit_c)
    rows = re.findall(r"(\d)\Win\W10 +(\d+\W\w+) +(\d+\W\w+)", told)
    assert [row[0] for row in rows] == ["9", "5", "1"]
    for chance, spring, _ in rows:
        # Hazen's plotting positions; the dates told are smoothed by a kernel of a few days.
        plain = np.quantile(days, 1 - int(chance) / 10, method="hazen")
        assert abs(day_of(spring) - plain) < 4
    autumn = [day_of(row[2]) for row in rows]
    assert autumn == sorted(autumn, reverse=True)


def test_the_odds_of_a_day_are_about_the_share_of_the_years(run, whole):
    told = run("freezes", "--nights", "0C", "--on", "05-10", "--on", "10-01")
    share = np.mean(np.array(last_frosts(whole, 0.0)) >= day_of("10 May"))
    [percent] = re.findall(r"On 10 May or later in spring: (\d+) %", told)
    assert abs(int(percent) / 100 - share) < 0.06
    assert re.search(
        r"On 1 Oct or earlier in autumn: \d+ %, likely in \d+ to \d+ of the next ten", told
    )
    assert "caution: Odds are counts of past years, not a forecast." in told


def test_the_reader_of_degf_gets_fahrenheit(run):
    told = run("freezes", "--units", "F")
    assert re.findall(r"Nights of .*", told) == [
        "Nights of 32 °F or colder",
        "Nights of 28.4 °F or colder",
    ]


def test_the_table_and_the_picture_are_written(run, tmp_path):
    run("freezes", "--out", "frosts.csv")
    table = pd.read_csv(tmp_path / "frosts.csv", comment="#")
    assert set(table["threshold"]) == {0.0, -2.0}
    assert (tmp_path / "frosts.png").stat().st_size > 10_000


def test_each_week_has_its_spread_and_its_years(run, whole, tmp_path):
    told = run("weeks", "--crop", "cauliflower", "--out", "weeks.csv")
    rows = re.findall(r"^from (\d+\W\w+) +(.*)$", told, re.MULTILINE)
    frame = pd.read_csv(whole, comment="#", parse_dates=["time"]).set_index("time")
    # 29 February counts with the 28th.
    later = frame.index.is_leap_year & (frame.index.day_of_year > 59)
    mean = frame["tmean"].groupby([frame.index.year, frame.index.day_of_year - later]).mean()
    day = mean.index.get_level_values(1)
    limits = cw.bearable_band(cw.crop("cauliflower"))
    assert len(rows) == 52
    for first, row in rows:
        *degrees, cold, cool, good, warm, hot = (
            int(each.replace("\N{MINUS SIGN}", "-")) for each in row.split()
        )
        assert cold + cool + good + warm + hot == 40
        near = abs((day - day_of(first) - 3 + 182) % 365 - 182) <= 7
        for told_c, quantile in zip(degrees, (0.1, 0.5, 0.9), strict=True):
            assert abs(told_c - mean[near].quantile(quantile)) < 0.6  # 29 February; rounding
        last = 365 if first.startswith("24\N{NO-BREAK SPACE}Dec") else day_of(first) + 6
        week = mean[(day >= day_of(first)) & (day <= last)]
        of_years = week.groupby(level=0).mean()
        assert cold == (of_years < limits.low_c).sum()
        assert hot == (of_years > limits.high_c).sum()
    assert (tmp_path / "weeks.png").stat().st_size > 10_000


def test_every_year_stands_beside_the_need(run, whole):
    told = run("spells", "--crop", "cauliflower", "--need", "100", "--out", "years.csv")
    rows = re.findall(r"^(\d{4}) +\d+\W\w+ +\d+\W\w+ +(\d+) +yes", told, re.MULTILINE)
    [enough, years] = map(int, re.search(r"long enough .* in (\d+) of (\d+) years", told).groups())
    assert years == len(rows) == 40
    assert enough == sum(int(days) >= 100 for _, days in rows)
    assert 0 < enough < years
    assert "The need of 100 days was given." in told
    windows = cw.usable_windows(cw.read_daily(whole), cw.crop("cauliflower"))
    length = windows["length"].sel(part="longest")
    assert [int(days) for _, days in rows] == length.astype(int).values.tolist()


def test_a_start_gives_the_need_of_its_own(run):
    early, late = (
        int(re.search(r"outdoors for (\d+) days", run("spells", *start))[1])
        for start in (
            ("--crop", "cauliflower", "--sow", "04-01"),
            ("--crop", "cauliflower", "--raise", "04-01", "--weeks", "6"),
        )
    )
    assert early > late


def test_no_spell_is_too_short_for_what_stands_through_the_winter(run):
    told = run("spells", "--crop", "garlic")
    assert "the plants stand through the winter" in told
    assert "too short" not in told


def test_the_sample_itself_says_which_years_a_gap_hides(capsys, tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    assert main(["spells", str(sample()), "--crop", "cauliflower"]) == 0
    told = capsys.readouterr().out
    assert len(re.findall("no: a gap hides it", told)) == 2
    assert not list(tmp_path.iterdir())


@pytest.mark.parametrize(
    ("typed", "taken"),
    [
        (["--warmer", "-3F"], ["--warmer=-3F"]),
        (["--nights", "-.5C", "--lat", "-46.1"], ["--nights=-.5C", "--lat=-46.1"]),
        (["a.csv", "-2C"], ["a.csv", "-2C"]),
        (["--force", "--few-years"], ["--force", "--few-years"]),
    ],
)
def test_values_below_zero_are_no_options(typed, taken):
    assert _with_negative_values(typed) == taken
