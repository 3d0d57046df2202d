"""Usable days against plain loops over the days around each."""

import numpy as np
import numpy.testing as npt
import pandas as pd
import pytest
import xarray as xr
from hypothesis import given, settings
from hypothesis import strategies as st
from records import HALF_A_YEAR, common_years, missing, moved, side_by_side, weather, weathers

from climwin.climate.heat import hours_within
from climwin.climate.usable import MEASURES, running_mean, running_mean_bounds, usable_days
from climwin.core.seasons import DAYS, by_year, seen_range
from climwin.crops.catalogue import Limits


def band(low, high):
    return Limits(low_c=low, high_c=high, source="test")


BAND = band(7.23, 18.07)
"""Between tenths, so that rounding decides nothing."""


def filled(grid, beyond):
    """Values of the record, each gap, and 3 days past either end, with what `beyond` has."""
    held = np.where(np.isnan(grid), beyond, grid).ravel()
    return np.concatenate([beyond[-3:], held, beyond[:3]])


# --- the running mean ---------------------------------------------------------------------


def test_running_mean_is_pandas_own_away_from_the_ends():
    grid = by_year(weather(1)["tmean"]).values
    oracle = pd.Series(grid.ravel()).rolling(7, center=True).mean().to_numpy()
    mean = running_mean(grid, np.zeros(DAYS)).ravel()
    npt.assert_allclose(mean[3:-3], oracle[3:-3], atol=1e-12)


def test_running_mean_takes_what_stands_beyond_the_record():
    beyond = np.arange(1.0, DAYS + 1)
    mean = running_mean(np.zeros((1, DAYS)), beyond)
    assert mean[0, 0] == pytest.approx((363 + 364 + 365) / 7)
    assert mean[0, -1] == pytest.approx((1 + 2 + 3) / 7)
    assert mean[0, 10] == 0


@given(weathers(gaps=0.05))
@settings(max_examples=10)
def test_running_mean_bounds_are_the_extreme_fills(record):
    grid = by_year(record["tmean"]).values
    for found, beyond in zip(running_mean_bounds(grid), seen_range(grid), strict=True):
        series = filled(grid, beyond)
        expected = [series[i : i + 7].mean() for i in range(grid.size)]
        npt.assert_allclose(found.ravel(), expected, atol=1e-9)


# --- the measures -------------------------------------------------------------------------


@given(weathers(gaps=0.05), st.sampled_from([BAND, band(-2.01, 9.03), band(14.02, 31.0)]))
@settings(max_examples=15)
def test_days_by_mean_are_a_plain_loop(record, limits):
    grid = by_year(record["tmean"]).values
    low, high = (filled(grid, beyond) for beyond in seen_range(grid))
    found = usable_days(record, limits)
    for day in range(0, grid.size, 5):
        least, greatest = low[day : day + 7].mean(), high[day : day + 7].mean()
        sure = limits.low_c - 0.05 <= least and greatest <= limits.high_c + 0.05
        possible = greatest >= limits.low_c - 0.05 and least <= limits.high_c + 0.05
        assert found["sure"].values.ravel()[day] == sure
        assert found["possible"].values.ravel()[day] == possible


@given(weathers(gaps=0.05))
@settings(max_examples=10)
def test_days_by_extremes_are_a_plain_loop(record):
    tmin, tmax = (by_year(record[name]).values for name in ("tmin", "tmax"))
    wide = band(-1.03, 24.02)
    found = usable_days(record, wide, measure="extremes")
    for year, day in np.argwhere(np.isfinite(tmin + tmax))[::7]:
        inside = wide.low_c - 0.05 <= tmin[year, day] and tmax[year, day] <= wide.high_c + 0.05
        assert found["sure"].values[year, day] == inside
        assert found["possible"].values[year, day] == inside
    (coldest, mildest), (coolest, hottest) = seen_range(tmin), seen_range(tmax)
    for year, day in np.argwhere(np.isnan(tmin)):
        too_hot = tmax[year, day] > wide.high_c + 0.05
        hottest_it_was = hottest[day] if np.isnan(tmax[year, day]) else tmax[year, day]
        coolest_it_was = coolest[day] if np.isnan(tmax[year, day]) else tmax[year, day]
        sure = coldest[day] >= wide.low_c - 0.05 and hottest_it_was <= wide.high_c + 0.05
        possible = mildest[day] >= wide.low_c - 0.05 and coolest_it_was <= wide.high_c + 0.05
        assert found["sure"].values[year, day] == sure
        assert found["possible"].values[year, day] == (possible and not too_hot)


def test_days_by_hours_are_half_of_the_hours_in_the_band():
    record = weather(3, gaps=0.02).assign_attrs(latitude=46.1)
    hours = hours_within(record["tmin"], record["tmax"], 46.1, low=BAND.low_c, high=BAND.high_c)
    grid = by_year(hours).values
    found = usable_days(record, BAND, measure="hours")
    npt.assert_array_equal(found["sure"], grid >= 12)
    npt.assert_array_equal(found["possible"], (grid >= 12) | np.isnan(grid))
    assert 0.1 < found["sure"].mean() < 0.6


def test_limits_are_met_with_a_little_slack():
    record = weather(1)
    record = record.assign(tmean=xr.full_like(record["tmean"], 7.2))
    for limits, usable in (
        (band(7.24, 9), True),
        (band(7.26, 9), False),
        (band(1, 7.16), True),
        (band(1, 7.14), False),
    ):
        found = usable_days(record, limits).sel(year=2000)
        assert (found["sure"] == usable).all()
        assert (found["possible"] == usable).all()


@given(weathers(gaps=0.05), st.sampled_from(list(MEASURES)))
@settings(max_examples=10)
def test_a_sure_day_is_a_possible_one_and_without_gaps_they_are_the_same(record, measure):
    record = record.assign_attrs(latitude=46.1)
    found = usable_days(record, BAND, measure=measure)
    assert (found["possible"] >= found["sure"]).all()
    whole = ~np.isnan(record["tmin"] + record["tmax"])
    near = whole.rolling(time=7, center=True).sum() == 7  # no measure looks further than 3 days
    near = by_year(near.astype(float).rename("near")) == 1
    npt.assert_array_equal(found["sure"].where(near), found["possible"].where(near))


def test_gap_matters_within_three_days_alone():
    # At the end of March this place may be warm enough or too cold, so each of 7 means is in doubt.
    record = weather(1)
    whole, gap = (usable_days(r, BAND) for r in (record, missing(record, "2000-03-29")))
    doubt = (gap["possible"] & ~gap["sure"]).values & (whole["possible"] == whole["sure"]).values
    assert np.argwhere(doubt).tolist() == [[1, 88 - 1 + n] for n in range(-3, 4)]
    assert (whole == gap).where(~doubt, True).to_dataarray().all()


# --- stations, dask, the south ------------------------------------------------------------


@pytest.mark.parametrize("measure", list(MEASURES))
def test_stations_pass_through(measure):
    alone = weather(1, gaps=0.02), weather(2, gaps=0.02, coldest=202)
    alone = [r.assign_coords(latitude=deg) for r, deg in zip(alone, (46.1, -41.3), strict=True)]
    found = usable_days(side_by_side(*alone), BAND, measure=measure)
    for n, record in enumerate(alone):
        own = usable_days(record, BAND, measure=measure)
        for name in ("sure", "possible"):
            npt.assert_array_equal(found[name][n], own[name])


@pytest.mark.parametrize("measure", list(MEASURES))
def test_dask_stays_lazy(measure):
    both = side_by_side(weather(1, gaps=0.02), weather(2, coldest=202)).assign_attrs(latitude=46.1)
    lazy = usable_days(both.chunk(station=1, time=300), BAND, measure=measure)
    assert lazy["sure"].chunks is not None
    xr.testing.assert_equal(lazy.compute(), usable_days(both, BAND, measure=measure))


@given(weathers())
@settings(max_examples=5)
def test_southern_days_are_the_same_half_a_year_later(record):
    north, south = (
        usable_days(r, BAND)["sure"].values.ravel() for r in (common_years(record), moved(record))
    )
    inside = slice(3, common_years(record).sizes["time"] - 3)  # within 3 days of an end it matters
    npt.assert_array_equal(north[inside], south[HALF_A_YEAR:][inside])


# --- errors -------------------------------------------------------------------------------


def test_unknown_measure_is_refused():
    with pytest.raises(ValueError, match="one of mean, extremes, hours; got 'median'"):
        usable_days(weather(), BAND, measure="median")


def test_hours_need_the_latitude():
    with pytest.raises(ValueError, match=r"Hours need the latitude.*Set daily.attrs\['latitude'\]"):
        usable_days(weather(), BAND, measure="hours")


def test_what_the_measure_needs_must_be_there():
    with pytest.raises(
        ValueError, match=r"no 'tmean' \(daily mean air temperature\); it holds tmin, tmax"
    ):
        usable_days(weather().drop_vars("tmean"), BAND)
