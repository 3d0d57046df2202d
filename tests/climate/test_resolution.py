"""Steps of readings found again, and the half step that moved readings need."""

import numpy as np
import numpy.testing as npt
import pytest
import scipy.signal
import xarray as xr
from hypothesis import given, settings
from hypothesis import strategies as st
from records import SHARED, common_years, daily, days, side_by_side, weather

import climwin as cw
from climwin.climate.resolution import resolution, slack, step_kernel
from climwin.core.resampling import simulated_seasons
from climwin.core.schema import TOLERANCE_C

FAHRENHEIT = 5 / 9


def read_in(record, step):
    """The record as a thermometer with such a step shows it, stored in tenths of degC."""
    if step == FAHRENHEIT:
        return record.map(lambda v: (((v * 1.8 + 32).round() - 32) / 1.8).round(1), keep_attrs=True)
    return record.map(lambda v: ((v / step).round() * step).round(1), keep_attrs=True)


@given(
    st.integers(0, 10_000), st.sampled_from([0.1, 0.5, FAHRENHEIT, 1.0]), st.sampled_from([0, 0.3])
)
@settings(max_examples=25)
def test_the_step_is_found_with_and_without_gaps(seed, step, gaps):
    found = resolution(read_in(weather(seed, gaps=gaps), step))
    npt.assert_allclose(found["tmin"], step)
    npt.assert_allclose(found["tmax"], step)


@pytest.mark.parametrize("step", [0.5, FAHRENHEIT, 1.0])
@pytest.mark.parametrize("by", [0.013, -1.3, 0.61])
def test_a_moved_record_is_still_known_by_its_step(step, by):
    record = read_in(weather(3), step)
    moved = record.map(lambda values: values + by, keep_attrs=True)
    npt.assert_allclose(resolution(moved)["tmin"], step)
    by_month = xr.DataArray(np.linspace(-1, 1, 12), dims="month", coords={"month": range(1, 13)})
    offsets = by_month.sel(month=record["time"].dt.month).drop_vars("month")
    of_garden = record.map(lambda values: values + offsets, keep_attrs=True)
    npt.assert_allclose(resolution(of_garden)["tmin"], step)
    height = cw.Garden("Upper Pellbrook", latitude=46.1, longitude=7.2, elevation=620)
    up = cw.adjust_to_garden(record.assign_attrs(elevation=420), height)
    npt.assert_allclose(resolution(up)["tmax"], step)


@given(st.sampled_from([0.1, 0.5, 5 / 9, 1.0]), st.integers(0, 9))
@settings(deadline=None, max_examples=20)
def test_whole_tenths_are_judged_like_any_other_readings(step, seed):
    """Tenths are looked up, others are not: a hair off the tenths makes them others."""
    rng = np.random.default_rng(seed)
    grid = np.round(np.round(rng.normal(5, 9, (6, 365)) / step) * step, 1)
    grid[rng.random(grid.shape) < 0.05] = np.nan
    npt.assert_array_equal(step_kernel(grid), step_kernel(grid + 1e-9))


def test_a_change_of_the_thermometer_is_seen_in_its_year():
    record = weather(1, years=6)
    late = record["time"].dt.year >= 2002
    changed = record.where(late, read_in(record, FAHRENHEIT))
    for name in changed:
        changed[name].attrs = record[name].attrs
    npt.assert_allclose(resolution(changed)["tmin"], [FAHRENHEIT] * 3 + [0.1] * 3)


def test_a_year_of_few_readings_is_taken_like_the_others():
    record = read_in(weather(1), 1.0)
    kept = (record["time"].dt.year != 2001) | (record["time"].dt.day == 3)
    thinned = record.where(kept)
    for name in thinned:
        thinned[name].attrs = record[name].attrs
    npt.assert_allclose(resolution(thinned)["tmin"], 1.0)


def test_stations_pass_through():
    both = side_by_side(read_in(weather(1), FAHRENHEIT), read_in(weather(2), 0.1))
    found = resolution(both)["tmin"]
    npt.assert_allclose(found.isel(station=0), FAHRENHEIT)
    npt.assert_allclose(found.isel(station=1), 0.1)


@pytest.mark.parametrize(
    ("threshold", "step", "expected"),
    [
        (0.0, FAHRENHEIT, 5 / 18),
        (-2.2, FAHRENHEIT, 5 / 18),  # 28 degF, as a rounded tenth
        (-28 / 9, FAHRENHEIT, TOLERANCE_C),  # 26.4 degF, which no such thermometer shows
        (-20 / 9, FAHRENHEIT, 5 / 18),  # 28 degF to the last bit
        (-2.0, FAHRENHEIT, TOLERANCE_C),
        (-2.0, 1.0, 0.5),
        (-2.1, 1.0, TOLERANCE_C),
        (-2.5, 0.5, 0.25),
        (-2.1, 0.1, TOLERANCE_C),
        (-np.inf, 1.0, TOLERANCE_C),
        (0.0, np.nan, TOLERANCE_C),
    ],
)
def test_slack_is_half_a_step_where_the_threshold_is_a_reading(threshold, step, expected):
    assert slack(threshold, step) == pytest.approx(expected)


@pytest.mark.parametrize("step", [0.1, 0.5, FAHRENHEIT, 1.0])
@pytest.mark.parametrize("by", [0.0, 0.17, -0.4])
def test_a_moved_reading_meets_a_threshold_as_often_as_the_temperature_does(step, by):
    # Temperatures within half a step of the threshold read as it. Moved by `by`, what counts is
    # how many of them lie `by` lower: the share of all temperatures, within the grain of a step.
    rng = np.random.default_rng(0)
    celsius = rng.normal(0, 4, 200_000)
    readings = (celsius / step).round() * step
    expected = (celsius + by <= 0.0 + step / 2).mean()
    counted = (readings + by <= 0.0 + slack(0.0, step)).mean()
    grain = step / 2 * 0.1  # half a step, at the density of a normal of 4 degC
    assert abs(counted - expected) <= grain + 0.005


def test_real_records_are_read_in_the_units_of_their_country():
    # American observers read whole degF; so did Canadian ones to the change of 1977 and 1978.
    folder = SHARED / "records"
    if not folder.exists():
        pytest.skip("the records are not here")
    for place in ("Albany_NY", "Wooster_OH"):
        npt.assert_allclose(resolution(cw.read_daily(folder / f"{place}.csv"))["tmin"], FAHRENHEIT)
    npt.assert_allclose(resolution(cw.read_daily(folder / "Dublin_IE.csv"))["tmin"], 0.1)
    head = resolution(cw.read_daily(folder / "WilliamHead_BC.csv"))["tmin"]
    npt.assert_allclose(head.sel(year=slice(1961, 1976)), FAHRENHEIT)
    npt.assert_allclose(head.sel(year=slice(1978, None)), 0.5)


def test_a_record_without_extremes_is_refused():
    time = np.arange("2001-01-01", "2002-01-01", dtype="datetime64[D]")
    with pytest.raises(ValueError, match="has no 'tmin'"):
        resolution(daily(time, tmean=np.zeros(365)))


# --- what the slack is for ----------------------------------------------------------------


@pytest.mark.parametrize("step", [FAHRENHEIT, 1.0])
def test_moving_a_record_by_little_moves_its_freezes_by_little(step):
    # Readings lie on 0.0: without half a step all of them are free of frost 0.01 degC up.
    record = read_in(weather(2, years=4, mean=8), step)
    up, down = (record.map(lambda v, by=by: v + by, keep_attrs=True) for by in (0.01, -0.01))
    for name in ("last_spring_day", "first_autumn_day", "freeze_free_days"):
        here, warmer, colder = (cw.freeze_dates(each)[name] for each in (record, up, down))
        xr.testing.assert_equal(here, warmer)
        xr.testing.assert_equal(here, colder)


def test_extremes_of_a_moved_record_still_meet_the_band():
    record = read_in(weather(2, mean=12), FAHRENHEIT)
    band = cw.Limits(low_c=0.0, high_c=21.1, source="example")  # 32 and 70 degF
    usable = [
        cw.usable_days(each, band, criterion="extremes")["sure"]
        for each in (record, record.map(lambda v: v + 0.1, keep_attrs=True))
    ]
    xr.testing.assert_equal(*usable)


def season_lengths(seasons, threshold):
    """Days between the freezes of years whose middle is the warmest, a plain way."""
    frozen = seasons <= threshold
    spring = 181 - frozen[:, :182][:, ::-1].argmax(axis=1)
    autumn = 182 + frozen[:, 182:].argmax(axis=1)
    return autumn - spring - 1


def in_whole_fahrenheit(count, seed):
    """Invented years, shape (count, 365): a wave and its spells, as read in whole degF. [degC]"""
    noise = np.random.default_rng(seed).normal(0, 3.2, count * 365)
    spell = scipy.signal.lfilter([1], [1, -0.6], noise)
    day = np.arange(count * 365)
    celsius = 4 - 13 * np.cos(2 * np.pi * (day - 20) / 365) + spell
    return (((celsius * 1.8 + 32).round() - 32) / 1.8).round(1).reshape(count, 365)


def test_simulated_seasons_of_whole_degrees_are_as_long_as_those_they_come_from():
    truth = season_lengths(in_whole_fahrenheit(20_000, 99), 0.0)
    median, short = np.quantile(truth, [0.5, 0.1])
    shares = []
    for seed in range(40):
        grid = in_whole_fahrenheit(30, seed)
        simulated = simulated_seasons(grid - slack(0.0, FAHRENHEIT), 1, 1000)
        lengths = season_lengths(simulated, 0.0)
        shares.append([(lengths >= median).mean(), (lengths >= short).mean()])
    expected = [(truth >= median).mean(), (truth >= short).mean()]
    # Compared with 32 degF itself, simulated values make the first 0.055 and the second 0.02 too
    # large. The standard error of 40 records is 0.01 and 0.004.
    npt.assert_allclose(np.mean(shares, axis=0), expected, atol=0.03)


def test_resampled_odds_of_a_long_record_of_whole_degrees_are_those_of_its_years():
    time = common_years(daily(days("1001-01-01", "2000-12-31")))["time"].values
    grid = in_whole_fahrenheit(1000, 1)
    odds = cw.freeze_odds(daily(time, tmin=grid.ravel()), method="resampled", levels=(0.5, 0.9))
    truth = np.quantile(season_lengths(grid, 0.0), [0.5, 0.1])
    npt.assert_allclose(odds["freeze_free_days"], truth, atol=1.0)
