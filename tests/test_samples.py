"""The invented sample data, by plain definitions: what they hold, and what the demos lean on."""

from __future__ import annotations

import re
import runpy
from functools import cache
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

import climwin as cw
from climwin.crops.catalogue import read_crop
from climwin.io.daily import read_daily
from climwin.io.loggers import read_logger
from climwin.trials.analysis import read_trial, trial_result

SAMPLES = Path(__file__).parents[1] / "data_samples"
MADE = [
    *("bed_trial.csv", "frame_logger.csv", "past_sowings.csv"),
    *("pellbrook_hill.csv", "pellbrook_valley.csv"),
]
STATIONS = pytest.mark.parametrize("name", ["valley", "hill"])
VARIABLES = ["tmin", "tmax", "tmean", "precip"]
SLIP, SHIFTED = "2000-08-19", "2003-08-05"  # extremes crossed; decimal point left out


def table(name: str) -> pd.DataFrame:
    return pd.read_csv(SAMPLES / name, comment="#")


@cache
def raw(name: str) -> pd.DataFrame:
    """A station's days as they stand in the file."""
    days = table(f"pellbrook_{name}.csv")
    return days.set_index(pd.DatetimeIndex(days.pop("date")))


def sound(name: str) -> pd.DataFrame:
    """A station's days without the gaps, the slips and the stuck sensor's month."""
    return raw(name).drop(pd.DatetimeIndex([SLIP, SHIFTED])).drop(dates("2009-07")).dropna()


def dates(first: str, last: str | None = None) -> pd.DatetimeIndex:
    return pd.Series(0, pd.date_range("1985-01-01", "2024-12-31"))[first : last or first].index


def departures(values: pd.Series) -> pd.Series:
    """Values less the mean of their day of the year."""
    return values - values.groupby([values.index.month, values.index.day]).transform("mean")


# --- the files ----------------------------------------------------------------------------


def test_script_writes_the_same_bytes(tmp_path):
    runpy.run_path(str(SAMPLES / "make_samples.py"))["main"](tmp_path)
    assert sorted(path.name for path in tmp_path.iterdir()) == MADE
    for name in MADE:
        assert (tmp_path / name).read_bytes() == (SAMPLES / name).read_bytes(), name


@pytest.mark.parametrize("name", [*MADE, "own_crop.toml"])
def test_heads_say_invented(name):
    assert (SAMPLES / name).read_text(encoding="utf-8").startswith("# Invented")


def test_samples_are_small():
    assert sum((SAMPLES / name).stat().st_size for name in MADE) < 3_000_000


@STATIONS
def test_forty_years_of_days(name):
    assert raw(name).index.equals(pd.date_range("1985-01-01", "2024-12-31"))
    assert list(raw(name)) == VARIABLES
    texts = pd.read_csv(SAMPLES / f"pellbrook_{name}.csv", comment="#", dtype=str)[VARIABLES]
    written = {text for text in texts.to_numpy().ravel() if isinstance(text, str)}
    assert all(re.fullmatch(r"-?\d+\.\d", text) for text in written)
    assert "-0.0" not in written


@pytest.mark.parametrize(
    ("name", "place"),
    [
        ("valley", ("Pellbrook Mill", 46.10, 7.20, 420)),
        ("hill", ("Pellbrook Pass", 46.13, 7.24, 905)),
    ],
)
def test_heads_say_where(name, place):
    attrs = read_daily(SAMPLES / f"pellbrook_{name}.csv").attrs
    keys = ("station_name", "latitude", "longitude", "elevation")
    assert tuple(attrs[key] for key in keys) == place


# --- what is wrong with them, on purpose --------------------------------------------------

GAPS = {
    "valley": [
        *("1986-02-11", "1999-12-25", "2005-08-02", "2012-11-19"),
        ("1993-07-11", "1993-07-19"),
        ("2016-04-12", "2016-05-02"),
        ("1990-10-01", "1990-10-31"),
    ],
    "hill": [
        *("1988-03-03", "2007-01-16", "2007-01-17", "2021-11-05"),
        ("1996-12-28", "1997-01-14"),
    ],
}


@STATIONS
def test_gaps(name):
    spans = [(gap, gap) if isinstance(gap, str) else gap for gap in GAPS[name]]
    lost = sorted(day for span in spans for day in dates(*span))
    for variable in VARIABLES:
        assert list(raw(name).index[raw(name)[variable].isna()]) == lost


@STATIONS
@pytest.mark.parametrize("variable", ["tmin", "tmax", "tmean"])
def test_stuck_sensor(name, variable):
    held = raw(name)[variable].dropna()
    runs = held.groupby((held != held.shift()).cumsum())
    longest = held.index[runs.transform("size") > 5]
    stuck = (name, variable) == ("valley", "tmin")
    assert list(longest) == (list(dates("2009-07-01", "2009-07-30")) if stuck else [])


@STATIONS
def test_minimum_above_maximum_but_once(name):
    days = raw(name).dropna()
    wrong = days.index[days["tmin"] > days["tmax"]]
    assert list(wrong) == (list(dates(SLIP)) if name == "valley" else [])
    assert sound(name)["tmean"].between(sound(name)["tmin"], sound(name)["tmax"]).all()


def test_decimal_point_left_out():
    hill = raw("hill")
    assert list(hill.index[hill["tmax"] > 45]) == list(dates(SHIFTED))
    assert raw("valley")["tmax"].max() < 45


# --- weather ------------------------------------------------------------------------------


def test_year_of_the_valley():
    valley = sound("valley")["tmean"]
    mean = valley.groupby(valley.index.month).mean()
    assert (mean.idxmin(), mean.idxmax()) == (1, 7)
    assert -3 < mean[1] < -1
    assert 23.5 < mean[7] < 25
    assert mean[4] - mean[3] < (mean[9] - mean[10]) / 2  # spring holds back, autumn does not


@STATIONS
def test_weather_lasts_and_winter_varies_most(name):
    away = departures(sound(name)["tmean"])
    assert 0.6 < away.corr(away.shift(freq="D")) < 0.85
    month = away.index.month
    assert away[month.isin([12, 1, 2])].std() > 1.3 * away[month.isin([6, 7, 8])].std()


@STATIONS
def test_wet_and_dry_days(name):
    days = sound(name)
    wet = days["precip"] > 0
    assert 0.25 < wet.mean() < 0.4
    after = wet.groupby(wet.shift()).mean()
    assert after[True] > after[False] + 0.2
    amounts = days["precip"][wet]
    assert 500 < amounts.sum() / 40 < 1000
    assert amounts.mean() > 1.3 * amounts.median()  # many small ones, few large
    swing = (days["tmax"] - days["tmin"]).groupby(wet).mean()
    assert swing[False] > 1.3 * swing[True]


def test_mean_is_near_the_middle_but_not_it():
    off = sound("valley").eval("tmean - (tmin + tmax) / 2")
    assert abs(off.mean()) < 0.1
    assert 0.2 < off.std() < 1
    days = sound("valley").dropna()
    assert ((days["tmin"] <= days["tmean"]) & (days["tmean"] <= days["tmax"])).all()


def test_slow_warming():
    away = departures(sound("valley")["tmean"])
    years = away.groupby(away.index.year).mean()
    assert 0.1 < 10 * np.polyfit(years.index, years, 1)[0] < 0.4  # 0.25 degC a decade put in
    assert 0.2 < years.std() < 1


def test_hill_is_colder():
    fall = (sound("valley") - sound("hill")).mean() / (0.905 - 0.420)
    assert 5 < fall["tmax"] < 6.5
    assert 1 < fall["tmin"] < fall["tmax"] - 1


def test_stations_share_their_weather():
    valley, hill = (departures(sound(name)["tmean"]) for name in ("valley", "hill"))
    assert 0.9 < valley.corr(hill) < 0.99


# --- what a cool crop meets in the valley -------------------------------------------------

YEARS = range(1985, 2025)


def freezes(year: int, limit: float = 0.0) -> pd.DatetimeIndex:
    tmin = raw("valley")["tmin"][str(year)]
    return tmin.index[tmin <= limit]


def test_freezes_come_late_and_early():
    spring = [freezes(y)[freezes(y).month < 7].max().day_of_year for y in YEARS if y != 2016]
    autumn = [freezes(y)[freezes(y).month > 7].min().day_of_year for y in YEARS if y != 1990]
    assert 125 <= np.median(spring) <= 130  # 5 to 10 May
    assert 278 <= np.median(autumn) <= 283  # 5 to 10 October
    assert 6 < np.std(spring, ddof=1) < 12


def spring_window(year: int) -> int:
    """Longest run of mild weeks that starts before July, by a plain loop."""
    mild = raw("valley")["tmean"].rolling(7, center=True).mean().between(7.15, 23.95)
    last = freezes(year, -2.2)[freezes(year, -2.2).month < 7].max()
    best, run, broken = 0, [], 0
    for day in dates(f"{year}-01-01", f"{year}-12-31"):
        if day > last and mild[day] and (run or day.month < 7):
            run, broken = [run[0] if run else day, day], 0
            best = max(best, (run[1] - run[0]).days + 1)
        elif run:
            broken += 1
            run = run if broken <= 3 else []
    return best


def test_spring_is_often_too_short_for_cauliflower():
    lengths = np.array([spring_window(year) for year in YEARS if year != 2016])
    assert 0.55 <= (lengths < 75).mean() <= 0.75
    assert 35 <= lengths.min() < 50
    assert np.percentile(lengths, 90) < 120
    assert lengths.std(ddof=1) > 12


def test_gaps_leave_one_spring_and_one_autumn_unknown():
    daily = read_daily(SAMPLES / "pellbrook_valley.csv")
    # 45 to 75 degF, and dead at 28: Knott's Handbook, Michigan State University Extension.
    band = cw.Limits(low_c=7.2, high_c=23.9, source="Knott's Handbook 1997")
    windows = cw.usable_windows(daily, band, killed_at=-2.2).sel(part="rise")
    freeze = cw.freeze_dates(daily)
    for found, status, year in (
        (windows, "status", 2016),
        (freeze, "last_spring_status", 2016),
        (freeze, "first_autumn_status", 1990),
    ):
        assert list(found["season"].values[found[status] == "unknown"]) == [year]


def test_raised_in_a_frame_does_better():
    """The sample's story: an early variety, set out by the end of March, against sown in place."""
    daily, crop = read_daily(SAMPLES / "pellbrook_valley.csv"), cw.crop("cauliflower")
    frame = cw.Plan(crop, "02-15", 6, "cold frame", earliness="early")
    in_place = cw.Plan(crop, "04-20", earliness="early")
    assert float(cw.compare_plans(frame, in_place, daily)["low"]) > 0.1
    assert "too hot" in set(cw.evaluate_plan(in_place, daily)["reason"].values)


# --- the frame, the bed, the gardener's own crop ------------------------------------------


def test_logger_hours():
    log = table("frame_logger.csv")
    time = pd.DatetimeIndex(log["time"])
    assert (time[0], time[-1]) == (
        pd.Timestamp("2023-03-10 00:00"),
        pd.Timestamp("2023-05-20 23:00"),
    )
    assert time.duplicated().sum() == 1
    assert len(pd.date_range(time[0], time[-1], freq="h").difference(time)) == 6
    kept = read_logger(SAMPLES / "frame_logger.csv")
    assert kept.sizes["time"] == len(log) - 1


def test_frame_is_milder_by_night_and_hot_by_day():
    log = table("frame_logger.csv")
    heat = log["temperature"].groupby(pd.DatetimeIndex(log["time"]).normalize())
    outdoors = raw("valley")["2023-03-10":"2023-05-20"]
    night, day = heat.min() - outdoors["tmin"], heat.max() - outdoors["tmax"]
    assert 2.3 < night.mean() < 3.3
    assert day.between(4, 12).all()
    clear = outdoors["tmax"] - outdoors["tmin"]
    assert night.corr(clear) < -0.2
    assert day.corr(clear) > 0.5


def test_trial_sheet():
    trial = table("bed_trial.csv")
    assert len(trial) == 16
    assert set(zip(trial["block"], trial["treatment"], strict=True)) == {
        (block, how) for block in range(1, 9) for how in ("raised in a frame", "sown in place")
    }
    lost = trial[trial["weight_g"].isna()]
    assert list(lost["notes"].str.startswith("missing")) == [True]
    assert trial["heads"].dropna().between(0, 10).all()
    result = trial_result(
        read_trial(SAMPLES / "bed_trial.csv"), "weight_g", against="sown in place"
    )
    raised = result.sel(treatment="raised in a frame")
    assert (int(raised["pairs"]), int(raised["left_out"])) == (7, 1)
    assert 0.05 < float(raised["difference"] / raised["mean_against"]) < 0.3
    weight = trial.set_index(["block", "treatment"])["weight_g"]
    gaps = weight[:, "raised in a frame"] - weight[:, "sown in place"]
    assert (gaps < 0).any()  # it is no sure thing


def test_past_sowings():
    past = table("past_sowings.csv")
    assert len(past) == 20
    assert set(past["way"]) == {"cold frame", "in place"}
    assert (past["harvested"].isna() == past["failed"].notna()).all()  # one of the two
    assert set(past["failed"].dropna()) == {"too hot", "other"}
    raised = past[past["way"] == "cold frame"]
    days = pd.DatetimeIndex(raised["set_out"]) - pd.DatetimeIndex(raised["sown"])
    assert days.days.isin(range(39, 46)).all()
    # of an early variety, all harvests sooner than the days on its packet let one expect
    fit = cw.fit_earliness(
        cw.read_sowings(SAMPLES / "past_sowings.csv"),
        read_daily(SAMPLES / "pellbrook_valley.csv"),
    )
    assert float(fit["high"][0]) < 50


def test_own_crop():
    own = read_crop(SAMPLES / "own_crop.toml")
    assert own.name == "Pellbrook winter radish"
    assert (own.maturity.early, own.maturity.late) == (58, 85)
    assert own.response.temperatures == (4, 16, 21, 32)
