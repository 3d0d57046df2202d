"""Steps of readings found again, and the half step that moved readings need."""

import numpy as np
import numpy.testing as npt
import pytest
import xarray as xr
from hypothesis import given, settings
from hypothesis import strategies as st
from records import SHARED, common_years, daily, days, side_by_side, weather

import climwin as cw
from climwin.climate.resolution import resolution, slack, steps
from climwin.core.schema import TOLERANCE_C
from climwin.core.seasons import by_year

FAHRENHEIT = 5 / 9


def read_in(record, step):
    """The record as a thermometer with such a step shows it, stored in tenths of degC."""
    if step == FAHRENHEIT:
        return record.map(lambda v: (((v * 1.8 + 32).round() - 32) / 1.8).round(1), keep_attrs=True)
    return record.map(lambda v: ((v / step).round() * step).round(1), keep_attrs=True)


@given(st.integers(0, 10_000), st.sampled_from([0.1, 0.5, FAHRENHEIT, 1.0]), st.sampled_from([0, 0.3]))
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


def test_slack_is_half_a_step_and_never_less_than_the_tolerance():
    for step in (0.1, 0.5, FAHRENHEIT, 1.0):
        grid = by_year(read_in(weather(1), step)["tmin"])
        npt.assert_allclose(slack(grid), max(step / 2, TOLERANCE_C))
        npt.assert_allclose(steps(grid), step)


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


def season_lengths(grid, threshold):
    """Days between the freezes of calendar years, of a place whose summer is in July."""
    frozen = grid <= threshold
    spring = 181 - frozen[:, :182][:, ::-1].argmax(axis=1)
    autumn = 182 + frozen[:, 182:].argmax(axis=1)
    return autumn - spring - 1


def test_resampled_odds_of_whole_degrees_are_near_the_truth():
    # Invented weather of known odds: a wave, and spells that end at about 0 degC in May and October.
    def years_of(count, seed):
        rng = np.random.default_rng(seed)
        day = np.arange(count * 365)
        spell = rng.normal(0, 3.2, len(day))
        for i in day[1:]:
            spell[i] += 0.6 * spell[i - 1]
        celsius = 4 - 13 * np.cos(2 * np.pi * (day - 20) / 365) + spell
        fahrenheit = (celsius * 1.8 + 32).round()
        return ((fahrenheit - 32) / 1.8).round(1).reshape(count, 365)

    truth = np.quantile(season_lengths(years_of(3000, 99), 0.0), [0.5, 0.1])
    errors, holds = [], []
    time = common_years(daily(days("1981-01-01", "2010-12-31")))["time"].values
    for seed in range(12):
        record = daily(time, tmin=years_of(30, seed).ravel())
        odds = cw.freeze_odds(record, method="resampled", levels=(0.5, 0.9))
        errors.append(odds["freeze_free_days"].values - truth)
        low, high = odds["freeze_free_days_low"].values, odds["freeze_free_days_high"].values
        holds.append((low <= truth) & (truth <= high))
    spread = np.std(errors, axis=0) / np.sqrt(len(errors))
    # Without the half step the season came out 2.2 days too long.
    assert (np.abs(np.mean(errors, axis=0)) < 0.5 + 2 * spread).all()
    assert np.mean(holds) > 0.75
