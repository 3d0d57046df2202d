"""How often a covered space suits a stage: against plain loops, simulation and what must hold."""

import datetime as dt
import itertools
import statistics
from dataclasses import replace

import numpy as np
import numpy.testing as npt
import pandas as pd
import pytest
import xarray as xr
from hypothesis import example, given, settings
from hypothesis import strategies as st
from records import daily, days
from scipy import stats

from climwin.climate.level import todays_climate
from climwin.core.errors import DataGapError
from climwin.core.status import OBSERVED, UNKNOWN
from climwin.crops.bands import bearable_band
from climwin.crops.catalogue import crop
from climwin.shelter.covers import COVERS, Cover, Response
from climwin.shelter.risk import _too_cold, _too_hot, check_space, space_odds

DEGC = {"units": "degC"}
_CAULIFLOWER = crop("cauliflower")
_FIRST = _CAULIFLOWER.stages[0]
_COLD = replace(_FIRST.cold, damaged_at_c=-1.0, killed_at_c=-2.0)
PLANT = replace(_CAULIFLOWER, stages=(replace(_FIRST, cold=_COLD), *_CAULIFLOWER.stages[1:]))
"""A crop whose first stage a night of -2 degC kills."""
BAND = bearable_band(PLANT)
FRAME = Cover(
    name="frame",
    coldest=Response(intercept_c=3.0, slope=0.9, spread_c=1.5),
    warmest=Response(intercept_c=5.0, slope=1.2, spread_c=2.0),
    source="test",
)
EXACT = Cover(
    name="frame",
    coldest=Response(intercept_c=3.0, slope=0.9),
    warmest=Response(intercept_c=5.0, slope=1.2),
    source="test",
)


def weather(first="2001-01-01", last="2010-12-31", seed=0):
    """Invented outdoor extremes of Pellbrook."""
    rng = np.random.default_rng(seed)
    time = days(first, last)
    year = np.cos(2 * np.pi * (np.arange(len(time)) - 15) / 365.25)
    tmin = 5 - 9 * year + rng.normal(0, 4, len(time))
    return daily(time, tmin=tmin, tmax=tmin + rng.uniform(4, 15, len(time)))


# --- chances ------------------------------------------------------------------------------


def test_chances_are_those_of_a_normal_scatter():
    # The tolerance of every threshold is 0.05 degC: whole degF are kept as rounded tenths of degC.
    outdoors = weather(last="2001-12-31")
    cold = _too_cold(outdoors["tmin"].values, FRAME, -2)
    hot = _too_hot(outdoors["tmax"].values, FRAME, 30)
    npt.assert_allclose(cold, stats.norm.cdf(-1.95, 3 + 0.9 * outdoors["tmin"], 1.5))
    npt.assert_allclose(hot, stats.norm.sf(29.95, 5 + 1.2 * outdoors["tmax"], 2.0))


def test_chances_are_shares_of_simulated_days():
    draw = np.random.default_rng(1).normal(size=100_000)
    cold = (3 + 0.9 * -4 + 1.5 * draw <= -1.95).mean()
    hot = (5 + 1.2 * 21 + 2 * draw >= 29.95).mean()
    npt.assert_allclose(_too_cold(np.array([-4.0]), FRAME, -2), [cold], atol=0.006)
    npt.assert_allclose(_too_hot(np.array([21.0]), FRAME, 30), [hot], atol=0.006)


def test_without_scatter_a_chance_is_yes_or_no_and_a_heater_makes_it_no():
    tmin, tmax = np.array([-3, 0, np.nan]), np.array([5, 34.97, 36])
    npt.assert_array_equal(_too_cold(tmin, COVERS["none"], 0), [1, 1, np.nan])
    npt.assert_array_equal(_too_hot(tmax, COVERS["none"], 35), [0, 1, 1])
    heated = COVERS["frost-free greenhouse"]
    npt.assert_array_equal(_too_cold(tmin, heated, 0), [0, 0, np.nan])
    assert (_too_cold(tmin, heated, 4)[:2] > 0.1).all()


# --- year by year -------------------------------------------------------------------------


@settings(max_examples=25)
@given(first=st.integers(1, 365), length=st.integers(1, 365), seed=st.integers(0, 50))
def test_years_against_a_plain_loop(first, length, seed):
    outdoors = weather(last="2004-12-31", seed=seed)
    last = (first + length - 2) % 365 + 1
    odds = space_odds(outdoors, EXACT, PLANT, first, last, hot_c=30.0)
    values = {}  # of each year and day of a year of 365 days; 29 February belongs to the 28th
    for time, low, high in zip(
        outdoors["time"].values.astype("datetime64[D]").tolist(),
        outdoors["tmin"].values,
        outdoors["tmax"].values,
        strict=True,
    ):
        leap = (time.month, time.day) == (2, 29)
        key = time.replace(day=28) if leap else time
        was = values.get(key, (np.inf, -np.inf))
        values[key] = (min(was[0], low), max(was[1], high))
    for year in range(2001, 2005):
        cold = hot = lost = 0
        for n in range(length):
            turn, day = divmod(first - 1 + n, 365)
            plain = dt.date(2001, 1, 1) + dt.timedelta(days=day)
            low, high = values.get(plain.replace(year=year + turn), (None, None))
            lost += low is None
            cold += low is not None and 3 + 0.9 * low <= -1.95
            hot += low is not None and 5 + 1.2 * high >= 29.95
        row = odds.sel(year=year)
        if lost == 0:
            npt.assert_allclose([row["cold_days"], row["hot_days"]], [cold, hot])
            npt.assert_array_equal([row["cold_chance"], row["hot_chance"]], [cold > 0, hot > 0])
        elif 2 * lost > length:
            assert row["cold_status"] == row["hot_status"] == UNKNOWN


def test_scatter_makes_the_chance_of_a_simulated_year():
    outdoors = weather(last="2001-12-31")
    odds = space_odds(outdoors, FRAME, PLANT, "03-15", "04-20").isel(year=0)
    spring = outdoors.sel(time=slice("2001-03-15", "2001-04-20"))
    draw = np.random.default_rng(1).normal(size=(50_000, 37))
    cold = 3 + 0.9 * spring["tmin"].values + 1.5 * draw <= -1.95
    npt.assert_allclose(odds["cold_days"], cold.sum(1).mean(), atol=0.02)
    npt.assert_allclose(odds["cold_chance"], cold.any(1).mean(), atol=0.01)
    assert 0.05 < float(odds["cold_chance"]) < 0.95


def test_how_often_is_the_share_of_known_years_with_its_interval():
    outdoors = weather()
    gone = outdoors.where(outdoors["time"].dt.year != 2004).map(lambda v: v.assign_attrs(DEGC))
    odds = space_odds(gone, EXACT, PLANT, "03-15", "04-20")
    assert list(odds["cold_status"].values == UNKNOWN) == [year == 2004 for year in odds["year"]]
    hits = int(np.nansum(odds["cold_chance"]))
    worth = 0.8 * 9  # years follow each other
    beta = stats.beta(hits / 9 * worth + 0.5, (1 - hits / 9) * worth + 0.5)
    assert int(odds["cold_known"]) == 9
    npt.assert_allclose(odds["cold_share"], hits / 9)
    assert odds["cold_share"].attrs == {
        "units": "1",
        "long_name": "share of years with a day too cold",
    }
    bounds = [odds["cold_share_low"], odds["cold_share_high"]]
    npt.assert_allclose(bounds, beta.ppf([0.05, 0.95]), atol=1e-9)
    assert 0 <= odds["cold_next_low"] < 10 * hits / 9 < odds["cold_next_high"] <= 10


def test_lines_that_a_logger_leaves_open_widen_the_interval():
    # Two lines, as likely as each other: nights 2 degC colder or warmer than the one between.
    lines = tuple(Response(intercept_c=each, slope=0.9) for each in (1.0, 5.0))
    open_cover = replace(
        EXACT,
        coldest=replace(EXACT.coldest, drawn=lines),
        warmest=replace(EXACT.warmest, drawn=(EXACT.warmest,) * 2),
    )
    outdoors = weather()
    odds = space_odds(outdoors, open_cover, PLANT, "04-20", "05-10")
    by_line = [
        space_odds(outdoors, replace(EXACT, coldest=each), PLANT, "04-20", "05-10")
        for each in lines
    ]
    shares = [float(each["cold_share"]) for each in by_line]
    assert shares[0] > shares[1]
    share = np.mean(shares)
    for name in ("cold_share", "cold_chance", "cold_days"):
        npt.assert_allclose(odds[name], np.mean([each[name] for each in by_line], axis=0))
    variance = share * (1 - share) / 10 + np.var(shares)
    worth = 0.8 * share * (1 - share) / variance  # years follow each other
    beta = stats.beta(share * worth + 0.5, (1 - share) * worth + 0.5)
    bounds = [odds["cold_share_low"], odds["cold_share_high"]]
    npt.assert_allclose(bounds, beta.ppf([0.05, 0.95]), atol=1e-9)
    assert odds["hot_share_low"] == by_line[0]["hot_share_low"]  # as lines that agree


def test_a_gap_counts_only_where_it_could_change_the_answer():
    outdoors = weather()
    gap = (outdoors["time"] >= np.datetime64("2005-03-20")) & (
        outdoors["time"] <= np.datetime64("2005-03-22")
    )
    holed = outdoors.where(~gap).map(lambda v: v.assign_attrs(DEGC))
    spring = space_odds(holed, EXACT, PLANT, "03-15", "04-20").sel(year=2005)
    assert spring["cold_status"] == UNKNOWN  # a March night has been cold enough
    assert np.isnan(spring["cold_days"])
    assert spring["hot_status"] == OBSERVED  # no March day was ever near as hot
    room = space_odds(holed, COVERS["room with lights"], PLANT, "03-15", "04-20").sel(year=2005)
    assert room["cold_status"] == OBSERVED


def test_a_period_may_run_over_the_years_end_and_the_record_may_end_within():
    outdoors = weather(last="2003-01-31")
    odds = space_odds(outdoors, EXACT, PLANT, "12-01", "02-28")
    assert list(odds["cold_status"].values) == [OBSERVED, UNKNOWN, UNKNOWN]
    winter = outdoors["tmin"].sel(time=slice("2001-12-01", "2002-02-28"))
    assert float(odds["cold_days"][0]) == int((3 + 0.9 * winter <= -1.95).sum())


def test_a_southern_spring_is_counted_as_its_own():
    south = weather()  # 184 days on, 15 March becomes 15 September
    south = south.assign_coords(time=south["time"] + np.timedelta64(184, "D"))
    odds = space_odds(south, EXACT, PLANT, "09-15", "10-21")
    for year in range(2001, 2011):
        spring = south["tmin"].sel(time=slice(f"{year}-09-15", f"{year}-10-21"))
        expected = int((3 + 0.9 * spring <= -1.95).sum())
        assert float(odds["cold_days"].sel(year=year)) == expected
    assert odds["cold_status"].sel(year=2011) == UNKNOWN
    assert float(odds["cold_days"].sum()) > 5


@settings(max_examples=20)
@given(st.floats(0, 6), st.floats(0, 10))
def test_more_lift_is_never_colder_and_never_less_hot(cold_step, hot_step):
    outdoors = weather(last="2003-12-31")
    warmer = Cover(
        name="warmer",
        coldest=Response(intercept_c=3.0 + cold_step, slope=0.9, spread_c=1.5),
        warmest=Response(intercept_c=5.0 + hot_step, slope=1.2, spread_c=2.0),
        source="test",
    )
    one = space_odds(outdoors, FRAME, PLANT, "03-15", "05-20")
    other = space_odds(outdoors, warmer, PLANT, "03-15", "05-20")
    assert (other["cold_days"] <= one["cold_days"]).all()
    assert (other["hot_days"] >= one["hot_days"]).all()


def test_stations_pass_through_and_dask_stays_lazy():
    many = xr.concat([weather(seed=1), weather(seed=2)], "station", join="exact")
    eager = space_odds(many, FRAME, PLANT, "03-15", "04-20")
    lazy = space_odds(many.chunk({"station": 1}), FRAME, PLANT, "03-15", "04-20")
    assert lazy["cold_share_low"].chunks is not None
    xr.testing.assert_allclose(eager, lazy.compute())
    for n, seed in enumerate((1, 2)):
        one = space_odds(weather(seed=seed), FRAME, PLANT, "03-15", "04-20")
        xr.testing.assert_allclose(eager.isel(station=n), one)


def test_a_day_that_is_none_teaches():
    with pytest.raises(ValueError, match="between 1 and 365, got 366"):
        space_odds(weather(), FRAME, PLANT, 1, 366)
    with pytest.raises(ValueError, match="'02-30' is not a day of the year"):
        space_odds(weather(), FRAME, PLANT, "02-30", "03-30")


@pytest.mark.parametrize("side", ["cold", "hot"])
def test_results_say_what_they_are(side):
    odds = space_odds(weather(last="2002-12-31"), EXACT, PLANT, "03-15", 110, hot_c=31.0)
    odds_of_a_day = f"years with a day too {side}"
    labels = {
        "days": ("days", f"days too {side} to be expected"),
        "chance": ("1", f"chance of a day too {side}"),
        "status": ("1", f"whether days too {side} are known"),
        "share": ("1", f"share of {odds_of_a_day}"),
        "odds": ("1", f"odds of a day too {side} in a year"),
        "share_low": ("1", f"share of {odds_of_a_day}, lower bound"),
        "share_high": ("1", f"share of {odds_of_a_day}, upper bound"),
        "next_low": ("years", f"of the next 10 {odds_of_a_day}, lower bound"),
        "next_high": ("years", f"of the next 10 {odds_of_a_day}, upper bound"),
        "known": ("1", "known years"),
    }
    for name, (units, long_name) in labels.items():
        assert odds[f"{side}_{name}"].attrs == {"units": units, "long_name": long_name}
    assert len(odds) == 2 * len(labels)
    assert odds.attrs == {
        "cover": "frame",
        "cover_source": "test",
        "stage": PLANT.stages[0].name,
        "first_day": 74,
        "last_day": 110,
        "hot_c": 31.0,
        "interval": 0.9,
        "climate": "record",
        "next_years": 10,
    }
    last = space_odds(weather(last="2002-12-31"), EXACT, PLANT, 1, 30, stage=PLANT.stages[-1].name)
    assert last.attrs["stage"] == PLANT.stages[-1].name
    assert last.attrs["hot_c"] == 35


def test_half_of_a_period_must_be_known_and_what_is_known_is_counted():
    # 20 days from 1 March, in a room where nothing can be too cold or too hot
    room = COVERS["room with lights"]
    for lost, known in ((9, True), (10, True), (11, False)):
        outdoors = weather(last="2003-12-31")
        gone = (outdoors["time"] >= np.datetime64("2002-03-03")) & (
            outdoors["time"] < np.datetime64("2002-03-03") + np.timedelta64(lost, "D")
        )
        holed = outdoors.where(~gone).map(lambda v: v.assign_attrs(DEGC))
        odds = space_odds(holed, room, PLANT, "03-01", "03-20")
        assert (odds["cold_status"].sel(year=2002) == OBSERVED) == known
        assert odds["cold_status"].sel(year=[2001, 2003]).values.tolist() == [OBSERVED] * 2
        assert odds["cold_known"] == (3 if known else 2)
        npt.assert_allclose(odds["cold_days"].sel(year=2002), 0 if known else np.nan, atol=1e-12)


def test_a_record_without_one_known_period_has_no_odds():
    outdoors = weather(last="2002-12-31")
    spring = outdoors["time"].dt.month.isin([3, 4])
    odds = space_odds(
        outdoors.where(~spring).map(lambda v: v.assign_attrs(DEGC)), EXACT, PLANT, 70, 100
    )
    assert odds["cold_known"] == odds["hot_known"] == 0
    for name in ("days", "chance", "share", "odds", "share_low", "share_high", "next_low"):
        assert np.isnan(odds[f"cold_{name}"]).all()


def test_a_gap_in_summer_may_hide_heat_and_none_of_the_cold():
    outdoors = weather()
    gone = (outdoors["time"].dt.year == 2005) & outdoors["time"].dt.dayofyear.isin([190, 191, 192])
    holed = outdoors.where(~gone).map(lambda v: v.assign_attrs(DEGC))
    summer = space_odds(holed, EXACT, PLANT, "06-15", "08-10").sel(year=2005)
    assert (summer["cold_status"], summer["hot_status"]) == (OBSERVED, UNKNOWN)


def test_a_time_of_which_nothing_is_known_hides_nothing_in_a_heated_room():
    # No spring was ever measured from 20 March to 20 May: there it could have been anything.
    outdoors = weather(last="2004-12-31")
    spring = outdoors["time"].dt.dayofyear
    holed = outdoors.where((spring < 79) | (spring > 140)).map(lambda v: v.assign_attrs(DEGC))
    room = space_odds(holed, COVERS["room with lights"], PLANT, "02-01", "04-08")
    assert (room["cold_status"] == OBSERVED).all()
    assert (room["hot_status"] == OBSERVED).all()
    frame = space_odds(holed, FRAME, PLANT, "02-01", "04-08")
    assert (frame["cold_status"] == UNKNOWN).all()


def test_of_years_that_never_had_it_the_interval_is_jeffreys():
    odds = space_odds(weather(), EXACT, PLANT, "06-15", "07-20", hot_c=-20.0)
    worth = 0.8 * 10  # years follow each other
    assert (odds["cold_share"], odds["hot_share"]) == (0, 1)
    npt.assert_allclose(odds["cold_share_high"], stats.beta(0.5, worth + 0.5).ppf(0.95))
    npt.assert_allclose(odds["hot_share_low"], stats.beta(worth + 0.5, 0.5).ppf(0.05))


@pytest.mark.parametrize(("climate", "drift"), [("record", 10), ("today", 12)])
def test_the_next_ten_years_have_a_climate_of_their_own(climate, drift):
    # What an endless record would be worth, by the hindcast (tests/odds/RESULTS.md).
    outdoors, told = weather(last="2020-12-31"), []
    for hot_c in (18.0, 22.0, 26.0, 30.0, 34.0):
        odds = space_odds(outdoors, FRAME, PLANT, 74, 90, hot_c=hot_c, climate=climate)
        share, worth = float(odds["hot_share"]), 1 / (1 / (0.8 * 20) + 1 / drift)
        ahead = stats.betabinom(10, share * worth + 0.5, (1 - share) * worth + 0.5)
        told.append((float(odds["hot_next_low"]), float(odds["hot_next_high"])))
        assert told[-1] == ahead.interval(0.9)
    assert len(set(told)) >= 3


def test_each_station_has_the_variance_of_its_own_lines():
    lines = tuple(Response(intercept_c=each, slope=0.9) for each in (1.0, 5.0))
    open_cover = replace(
        EXACT,
        coldest=replace(EXACT.coldest, drawn=lines),
        warmest=replace(EXACT.warmest, drawn=(EXACT.warmest,) * 2),
    )
    alone = [weather(last="2006-12-31", seed=seed) for seed in (1, 2)]
    alone[1] = alone[1].assign(tmin=(alone[1]["tmin"] + 6).assign_attrs(DEGC))
    many = xr.concat(alone, "station", join="exact")
    odds = space_odds(many, open_cover, PLANT, "04-20", "05-10")
    for n, record in enumerate(alone):
        one = space_odds(record, open_cover, PLANT, "04-20", "05-10")
        xr.testing.assert_allclose(odds.isel(station=n), one)
    assert odds["cold_share"][0] != odds["cold_share"][1]


def test_a_heater_keeps_off_a_cold_that_it_is_set_above():
    # The tolerance of every threshold is 0.05 degC: a heater just within it does not keep off.
    night = np.array([-8.0])
    for floor, kept in ((-1.94, True), (-1.95, False), (-1.97, False), (-2.1, False)):
        chance = _too_cold(night, replace(FRAME, floor_c=floor), -2.0)
        assert (chance == 0).all() == kept
        assert (_too_cold(night + 90, replace(FRAME, floor_c=floor), -2.0) == 0).all()


def test_odds_for_todays_climate_are_those_of_the_moved_record():
    outdoors = weather(last="2020-12-31")
    warming = 0.05 * (outdoors["time"].dt.year - 2001)
    warmer = outdoors.assign({name: outdoors[name] + warming for name in outdoors})
    warmer = warmer.map(lambda v: v.assign_attrs(DEGC))
    as_it_was, today = (
        space_odds(warmer, FRAME, PLANT, "03-15", "04-20", climate=each)
        for each in ("record", "today")
    )
    assert today.attrs["climate"] == "today"
    assert float(today["cold_days"].sum()) < float(as_it_was["cold_days"].sum())
    moved = space_odds(todays_climate(warmer), FRAME, PLANT, "03-15", "04-20")
    xr.testing.assert_identical(moved, today)


# --- a logged period ----------------------------------------------------------------------


def within(celsius):
    return BAND.low_c - 0.05 <= celsius <= BAND.high_c + 0.05


def logged(time, values):
    coords = {"time": np.asarray(time, "datetime64[s]")}
    return xr.Dataset({"temperature": ("time", np.asarray(values, float), DEGC)}, coords)


def test_a_logged_period_by_hand():
    # Hourly; a hole of 5 h after 04:00, left out. Each reading stands for half the hour on either
    # side: 0.5 h at the ends and beside the hole.
    time = [f"2026-03-01T{hour:02d}:00" for hour in (0, 1, 2, 3, 4, 9, 10, 11)]
    low, high = BAND.low_c, BAND.high_c
    readings = [low - 1, low - 0.05, high + 0.05, high + 1, -2, 10, 36, low]
    check = check_space(logged(time, readings), PLANT)
    assert check.hours == 4 + 2
    assert check.hours_below == 0.5 + 0.5  # the first, and -2 before the hole
    assert check.hours_above == 1 + 1
    assert check.hours_in_band == 1 + 1 + 0.5 + 0.5
    assert (check.coldest_c, str(check.coldest_at)) == (-2, "2026-03-01T04:00:00")
    assert (check.hottest_c, str(check.hottest_at)) == (36, "2026-03-01T10:00:00")
    assert check.too_cold == check.too_hot == ("2026-03-01",)


@pytest.mark.parametrize("every_h", [0.5, 1.0, 3.0, 4.0, 6.0])
def test_hours_are_counted_however_seldom_the_logger_reads(every_h):
    readings = int(10 * 24 / every_h) + 1
    time = np.datetime64("2026-03-01T00:00:00") + np.timedelta64(int(3600 * every_h), "s") * (
        np.arange(readings)
    )
    whole = check_space(logged(time, np.full(readings, BAND.low_c + 1)), PLANT)
    assert whole.hours == whole.hours_in_band == pytest.approx(240)
    lost = np.delete(time, [20, 21, 22, 23, 24, 25, 26])
    holed = check_space(logged(lost, np.full(len(lost), BAND.low_c + 1)), PLANT)
    assert holed.hours == pytest.approx(240 - 8 * every_h)  # the hole is left out


@settings(max_examples=40)
@given(
    st.lists(st.integers(0, 4000), min_size=1, max_size=60, unique=True),
    st.integers(0, 99),
)
@example([0, 1, 2, 3, 256, 509, 2175, 2422, 2797], 0)  # its last gap is just the longest allowed
def test_hours_add_up_against_a_plain_loop(minutes, seed):
    time = pd.Timestamp("2026-03-01") + pd.to_timedelta(sorted(minutes), unit="min")
    heat = np.random.default_rng(seed).normal(12, 14, len(time)).round(1)
    check = check_space(logged(time, heat), PLANT, hot_c=30)
    inside = total = 0.0
    # In minutes, so that a gap of just the longest length is not lost to rounding.
    gaps = [later - earlier for earlier, later in itertools.pairwise(sorted(minutes))]
    longest = max(180, 1.5 * min(360, statistics.median(gaps))) if gaps else 180
    for n, gap in enumerate(gaps):
        if gap <= longest:
            total += gap / 60
            inside += sum(gap / 120 for k in (n, n + 1) if within(heat[k]))
    npt.assert_allclose(check.hours, total, atol=1e-9)
    npt.assert_allclose(check.hours_in_band, inside, atol=1e-9)
    npt.assert_allclose(check.hours_in_band + check.hours_below + check.hours_above, check.hours)
    assert set(check.too_cold) == {
        f"{t:%Y-%m-%d}" for t, h in zip(time, heat, strict=True) if h <= -1.95
    }
    assert set(check.too_hot) == {
        f"{t:%Y-%m-%d}" for t, h in zip(time, heat, strict=True) if h >= 29.95
    }


def test_a_period_without_readings_teaches():
    logger = logged(["2026-03-01T00:00"], [5]).sel(time=slice("2027-01-01", "2027-02-01"))
    with pytest.raises(DataGapError, match="no readings in this period"):
        check_space(logger, PLANT)
    logger = logged(["2026-03-01T00:00"], [50])
    logger["temperature"].attrs["units"] = "degF"
    with pytest.raises(ValueError, match="must be in degC, got 'degF'"):
        check_space(logger, PLANT)
