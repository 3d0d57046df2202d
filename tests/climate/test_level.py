"""Today's level: against plain weighted means, and what it must leave alone."""

import numpy as np
import numpy.testing as npt
import pytest
import records
import scipy.stats
import xarray as xr
from hypothesis import given, settings
from hypothesis import strategies as st

import climwin as cw
from climwin.batch.results import station_results
from climwin.climate.freeze import freeze_chance, freeze_dates, freeze_odds
from climwin.climate.level import (
    HALF_LIFE,
    LEAST_LEVEL_YEARS,
    WARMING_C,
    WARMING_SINCE,
    WARMING_SPREAD_C,
    in_climate,
    level_shift,
    todays_climate,
)
from climwin.climate.windows import odds_shorter, usable_windows
from climwin.core.provenance import climate_of
from climwin.planning.evaluate import evaluate_plan, harvest_odds


def warming(years: int = 40, per_decade: float = 0.5, seed: int = 1, **tmax) -> xr.Dataset:
    """Invented years that grow steadily warmer."""
    record = records.weather(seed, years=years)
    since = (record["time"].dt.year - record["time"].dt.year[0]) + record["time"].dt.dayofyear / 365
    for name in ("tmin", "tmax", "tmean"):
        slope = tmax.get("tmax", per_decade) if name == "tmax" else per_decade
        record[name] = (record[name] + slope / 10 * since).assign_attrs(record[name].attrs)
    return record


def plain_shift(record: xr.Dataset, name: str, half_life: float = HALF_LIFE) -> float:
    """The shift by plain loops over whole years, and SciPy's straight line."""
    yearly = record[name].groupby("time.year").mean().to_series()
    expected = {year: WARMING_C * max(year - WARMING_SINCE, 0) for year in yearly.index}
    own = yearly - [expected[year] for year in yearly.index]
    last, total, weights, looks_back = yearly.index[-1], 0.0, 0.0, 0.0
    for year, mean in own.items():
        weight = 2.0 ** (-(last - year) / half_life)
        total += weight * mean
        weights += weight
        looks_back += weight * (last - year)
    line = scipy.stats.linregress(own.index, own)
    kept = WARMING_SPREAD_C**2 / (WARMING_SPREAD_C**2 + line.stderr**2)
    carried_on = total / weights + kept * line.slope * looks_back / weights
    return carried_on + expected[last] - yearly.mean()


@pytest.mark.parametrize("half_life", [3.0, 5.0, 20.0])
def test_the_shift_is_the_weighted_mean_carried_on_by_the_trend_less_the_plain_one(half_life):
    record = warming()
    today = todays_climate(record, half_life)
    for name in ("tmin", "tmax"):
        by = plain_shift(record, name, half_life)
        assert today.attrs[f"todays_{name}_shift_c"] == pytest.approx(by, abs=0.01)
        moved = today[name] - record[name]
        assert float(moved.max() - moved.min()) < 1e-9  # every day of every year alike
        assert float(moved[0]) == pytest.approx(by, abs=0.01)
    assert climate_of(today) == "today"


def test_a_steady_trend_is_moved_to_the_last_year():
    shift = todays_climate(warming(per_decade=1.0)).attrs["todays_tmin_shift_c"]
    assert shift == pytest.approx(1.95, abs=0.35)  # the middle of 40 years lies that far below
    # A mean with a half-life of five years would look back about seven.
    exact = level_shift(np.arange(400.0), 0.1 * np.arange(400.0))
    assert exact.by == pytest.approx(0.1 * (399 - 199.5), rel=1e-6)
    assert exact.error == pytest.approx(0.0, abs=1e-6)


def autoregressive(rng, years, lag_one):
    """Yearly levels of spread 0.7 that take after the year before. [degC]"""
    noise = rng.normal(size=years)
    for year in range(1, years):
        noise[year] = lag_one * noise[year - 1] + np.sqrt(1 - lag_one**2) * noise[year]
    return 0.7 * noise


@pytest.mark.parametrize("lag_one", [0.0, 0.3])
@pytest.mark.parametrize("per_decade", [0.0, 0.4])
def test_the_level_is_found_and_its_error_is_what_it_says(lag_one, per_decade):
    rng, years, count = np.random.default_rng(8), 35, 250
    trend = per_decade / 10 * (np.arange(years) - (years - 1))  # today's true level is 0
    series = [trend + autoregressive(rng, years, lag_one) for _ in range(count)]
    shifts = [level_shift(np.arange(years), each) for each in series]
    miss = np.array([shift.by + each.mean() for shift, each in zip(shifts, series, strict=True)])
    # Of a steady 0.4 degC a decade the weighted mean alone misses a quarter of a degree.
    assert abs(miss.mean()) < 0.05 + 3 * miss.std() / np.sqrt(count)
    of_mean = 0.7**2 / years * (1 + lag_one) / (1 - lag_one)
    error = np.sqrt(np.array([shift.error for shift in shifts]) ** 2 + of_mean)
    assert 0.84 <= np.mean(np.abs(miss) < 1.645 * error) <= 0.96


def test_intervals_of_todays_odds_allow_for_the_error_of_the_level():
    today = todays_climate(warming().assign_attrs(latitude=46.0))
    certain = today.assign_attrs(todays_error_c=0.0)
    for said in (
        lambda each: freeze_chance(freeze_dates(each)).sel(day_of_year=120),
        lambda each: harvest_odds(evaluate_plan(cw.Plan(cw.crop("pea"), "04-10"), each)),
    ):
        known, doubtful = said(certain), said(today)
        name = "last_spring_" if "last_spring_low" in known else ""
        assert doubtful[f"{name}low"] <= known[f"{name}low"]
        assert doubtful[f"{name}high"] >= known[f"{name}high"]
    chance = freeze_chance(freeze_dates(certain))["last_spring"]
    middle = int(abs(chance - 0.5).argmin("day_of_year")) + 1
    wide, narrow = (
        float(odds["last_spring_high"] - odds["last_spring_low"])
        for odds in (
            freeze_chance(freeze_dates(each)).sel(day_of_year=middle) for each in (today, certain)
        )
    )
    assert wide > 1.02 * narrow


def test_minima_and_maxima_have_a_shift_each_and_the_mean_their_middle():
    record = warming(tmax=-0.3)
    today = todays_climate(record)
    low, high = (today.attrs[f"todays_{name}_shift_c"] for name in ("tmin", "tmax"))
    assert low > 0.4
    assert high < 0
    middle = float((today["tmean"] - record["tmean"])[0])
    assert middle == pytest.approx((low + high) / 2)


def test_where_nothing_has_changed_years_are_hardly_moved():
    shifts = [
        todays_climate(warming(per_decade=0.0, seed=seed)).attrs.get("todays_tmin_shift_c", 0.0)
        for seed in range(6)
    ]
    assert abs(np.mean(shifts)) < 0.1
    assert np.abs(shifts).max() < 0.4


def test_a_short_record_is_moved_by_the_usual_warming_and_little_by_its_own_trend():
    rng, last = np.random.default_rng(5), 2024
    year = np.arange(last - 9, last + 1)
    usual = WARMING_C * (year - year.mean())[-1]
    shifts = [level_shift(year, rng.normal(0, 0.7, 10)).by for _ in range(300)]
    still = [level_shift(year - 200, rng.normal(0, 0.7, 10)).by for _ in range(300)]
    assert np.mean(shifts) == pytest.approx(usual, abs=0.06)  # no trend of its own
    assert np.mean(still) == pytest.approx(0.0, abs=0.06)  # nor was any expected that long ago


@given(st.integers(0, 3), st.sampled_from([0.01, 0.03]))
@settings(max_examples=6)
def test_missing_days_hardly_move_the_level(seed, share):
    record = warming()
    rng = np.random.default_rng(seed)
    gone = xr.DataArray(rng.random(record.sizes["time"]) < share, dims="time")
    # Summers are lost more often: a mean of temperatures would take such years for cold.
    summer = record["time"].dt.month.isin([6, 7])
    gone |= summer & xr.DataArray(rng.random(record.sizes["time"]) < 5 * share, dims="time")
    holed = record.where(~gone).map(lambda each: each.assign_attrs(units="degC"))
    whole, thin = (todays_climate(each) for each in (record, holed))
    for name in ("tmin", "tmax"):
        key = f"todays_{name}_shift_c"
        assert thin.attrs[key] == pytest.approx(whole.attrs[key], abs=0.05)


def test_a_record_too_short_is_not_moved_and_says_so():
    record = warming(years=LEAST_LEVEL_YEARS - 1)
    today = todays_climate(record)
    xr.testing.assert_equal(today, record)
    assert climate_of(today) == "record"
    assert f"9 years have a mean, {LEAST_LEVEL_YEARS} are needed" in today.attrs["climate_note"]
    assert climate_of(todays_climate(warming(years=LEAST_LEVEL_YEARS))) == "today"


def test_a_step_is_not_taken_for_climate():
    record = records.weather(2, years=60)
    last = int(record["time"].dt.year[-1])
    later = record["time"].dt.year > last - 30
    for name in ("tmin", "tmax", "tmean"):
        record[name] = (record[name] + 3.0 * later).assign_attrs(record[name].attrs)
    assert plain_shift(record, "tmin") > 1.2  # what the step alone would do
    today = todays_climate(record)
    assert abs(today.attrs["todays_tmin_shift_c"]) < 0.4
    assert f"nights from {last - 29} on" in today.attrs["climate_note"]


def test_a_step_with_few_years_after_it_leaves_the_years_where_they_are():
    record = records.weather(2, years=45)
    later = record["time"].dt.year > int(record["time"].dt.year[-1]) - 8
    for name in ("tmin", "tmax", "tmean"):
        record[name] = (record[name] + 4.0 * later).assign_attrs(record[name].attrs)
    today = todays_climate(record)
    xr.testing.assert_equal(today, record)
    assert climate_of(today) == "record"
    assert "a sudden step cuts the record" in today.attrs["climate_note"]


def test_each_station_has_its_own_shift():
    one, other = warming(seed=1), warming(seed=2, per_decade=-0.4)
    both = xr.concat([one, other], xr.DataArray(["a", "b"], dims="station", name="station"))
    today = todays_climate(both)
    for place, alone in (("a", one), ("b", other)):
        expected = todays_climate(alone)
        for name in ("tmin", "tmax", "tmean"):
            npt.assert_allclose(today[name].sel(station=place), expected[name])
    assert len(today.attrs["todays_tmin_shift_c"]) == 2


# --- wherever odds are told ---------------------------------------------------------------


@pytest.fixture(scope="module")
def record():
    return cw.read_daily(cw.sample())


PEA = cw.Plan(cw.crop("pea"), "04-10")


@pytest.mark.parametrize(
    "ask",
    [
        lambda daily, **how: freeze_dates(daily, **how),
        lambda daily, **how: freeze_odds(daily, levels=(0.5,), **how),
        lambda daily, **how: usable_windows(daily, cw.crop("pea"), **how),
        lambda daily, **how: cw.evaluate_plan(PEA, daily, **how),
        lambda daily, **how: cw.compare_plans(PEA, cw.Plan(cw.crop("pea"), "05-10"), daily, **how),
        lambda daily, **how: cw.plan_dates(PEA, daily, **how),
        lambda daily, **how: cw.space_odds(
            daily, cw.COVERS["cold frame"], cw.crop("pea"), "03-01", "04-20", **how
        ),
        lambda daily, **how: cw.sensitivity(daily, cw.crop("pea"), 110, steps=(0,), **how),
        lambda daily, **how: cw.compare_criteria(daily, cw.crop("pea"), 110, **how),
    ],
)
def test_todays_odds_are_those_of_the_moved_record(record, ask):
    by_name, by_hand = ask(record, climate="today"), ask(todays_climate(record))
    xr.testing.assert_identical(by_name, by_hand)
    as_it_was = ask(record)
    assert not by_name.equals(as_it_was)
    assert climate_of(by_name) == "today"
    assert climate_of(as_it_was) == "record"


def test_a_moved_record_is_not_moved_again(record):
    today = in_climate(record, "today")
    assert in_climate(today, "today") is today
    assert in_climate(today, "record") is today
    assert in_climate(record, "record") is record


def test_the_next_years_are_better_known_in_todays_climate(record):
    widths = {}
    for climate in ("record", "today"):
        dates = freeze_dates(record, climate=climate)
        found = freeze_chance(dates).sel(day_of_year=slice(100, 150))
        widths[climate] = float(
            (found["last_spring_next_high"] - found["last_spring_next_low"]).sum()
        )
    assert widths["today"] < widths["record"]


def test_warmer_years_bring_earlier_freezes_and_other_windows():
    record = warming(per_decade=0.8)
    plain, today = (freeze_odds(record, levels=(0.5,), climate=c) for c in ("record", "today"))
    assert float(today["last_spring"][0]) < float(plain["last_spring"][0]) - 1
    assert float(today["first_autumn"][0]) > float(plain["first_autumn"][0]) + 1
    band = cw.Limits(low_c=7.0, high_c=40.0, source="test")
    longer = [
        usable_windows(record, band, climate=c)["length"].sel(part="longest").mean()
        for c in ("record", "today")
    ]
    assert longer[1] > longer[0] + 2
    odds = odds_shorter(usable_windows(record, band, climate="today"), 60)
    assert climate_of(odds) == "today"


# --- refused ------------------------------------------------------------------------------


def test_another_climate_is_refused(record):
    with pytest.raises(ValueError, match="climate must be one of record, today; got 'future'"):
        freeze_dates(record, climate="future")


@pytest.mark.parametrize("half_life", [0, -5.0, np.nan])
def test_a_half_life_must_be_positive(record, half_life):
    with pytest.raises(ValueError, match="half_life is a number of years above 0"):
        todays_climate(record, half_life)


def test_a_record_without_an_extreme_cannot_be_moved(record):
    with pytest.raises(ValueError, match="no 'tmin'"):
        todays_climate(record[["tmean"]])


def test_many_stations_are_answered_in_todays_climate(record):
    station = record.expand_dims(station=["a"]).assign_coords(latitude=("station", [46.1]))
    by_name = station_results(station, [cw.crop("pea")], climate="today")
    by_hand = station_results(todays_climate(station), [cw.crop("pea")])
    xr.testing.assert_identical(by_name, by_hand)
    plain = station_results(station, [cw.crop("pea")])
    assert not by_name["last_spring"].equals(plain["last_spring"])
    for name in ("shorter_odds", "shorter_next_low", "last_spring_next_high"):
        assert by_name[name].attrs["units"] == "1"
        assert by_name[name].attrs["long_name"]
