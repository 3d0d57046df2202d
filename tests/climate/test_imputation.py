"""Drawn gaps against the plain conditional distribution of a whole block, and against what was."""

import numpy as np
import numpy.testing as npt
import pytest
import scipy.stats
import xarray as xr
from hypothesis import given, settings
from hypothesis import strategies as st
from records import daily, days, side_by_side, weather, weathers

from climwin import draw_gaps
from climwin.climate.imputation import (
    Autoregression,
    draw_departures,
    drawn_grids,
    fit_autoregression,
    usual_year,
)
from climwin.core.schema import TOLERANCE_C
from climwin.core.seasons import by_year, day_of_year

NAMES = ("tmin", "tmax", "tmean")


def losing(record, lost):
    """The record without the days of a mask."""
    out = record.where(xr.DataArray(~lost, dims="time"))
    for name in out:
        out[name].attrs = record[name].attrs
    return out


# --- the kernel ---------------------------------------------------------------------------

STEP = np.array([[0.6, 0.1], [-0.1, 0.5]])
NOISE = np.array([[0.5, 0.2], [0.2, 0.6]])
MODEL = Autoregression(
    np.broadcast_to(STEP, (12, 2, 2)),
    np.broadcast_to(NOISE, (12, 2, 2)),
    np.broadcast_to(np.eye(2), (12, 2, 2)),
)


def plain_covariance(count):
    """Covariance of `count` days in a row, the first of covariance 1, as one big matrix."""
    # Each day is a sum of all noises so far: write the days as a matrix times independent noises.
    root = np.linalg.cholesky(NOISE)
    days_of = np.zeros((2 * count, 2 * count))
    days_of[:2, :2] = np.eye(2)
    for day in range(1, count):
        here, before = slice(2 * day, 2 * day + 2), slice(2 * day - 2, 2 * day)
        days_of[here] = STEP @ days_of[before]
        days_of[here, here] += root
    return days_of @ days_of.T


@pytest.mark.parametrize(
    "lost",
    [
        [(3, 0), (3, 1)],
        [(3, 0), (3, 1), (4, 0), (4, 1), (5, 0), (5, 1)],
        [(2, 0)],
        [(2, 0), (3, 1), (4, 0), (4, 1)],
        [(0, 0), (0, 1), (1, 0), (1, 1)],
        [(6, 0), (6, 1), (7, 0), (7, 1)],
        [(1, 0), (1, 1), (3, 0), (3, 1), (6, 1)],
    ],
)
def test_draws_have_the_conditional_distribution_of_the_whole_block(lost):
    # Schur's complement of the covariance of all eight days, written separately.
    values = np.random.default_rng(3).normal(size=(8, 2))
    missing = np.zeros((8, 2), dtype=bool)
    for day, number in lost:
        missing[day, number] = True
    flat = missing.ravel()
    covariance = plain_covariance(8)
    known = covariance[np.ix_(~flat, ~flat)]
    across = covariance[np.ix_(flat, ~flat)]
    weights = across @ np.linalg.inv(known)
    mean = weights @ values.ravel()[~flat]
    left = covariance[np.ix_(flat, flat)] - weights @ across.T

    gappy = np.where(missing, np.nan, values).T
    draws = 40_000
    gaps = draw_departures(gappy, np.zeros(8, dtype=int), MODEL, draws, np.random.default_rng(0))
    npt.assert_array_equal(gaps.place, np.flatnonzero(missing.any(axis=1)))
    drawn = np.moveaxis(gaps.values, 1, -1).reshape(draws, -1)  # day by day, as `flat` is
    in_gap = missing[gaps.place].ravel()
    error = 5 / np.sqrt(draws)
    npt.assert_allclose(drawn[:, in_gap].mean(axis=0), mean, atol=error)
    npt.assert_allclose(np.cov(drawn[:, in_gap].T), left.squeeze(), atol=2 * error)
    # What was measured on such a day is itself in every draw.
    measured = values[gaps.place].ravel()[~in_gap]
    npt.assert_array_equal(drawn[:, ~in_gap], np.broadcast_to(measured, (draws, len(measured))))


def test_fit_finds_the_model_that_made_a_series():
    rng, count = np.random.default_rng(1), 40_000
    root, series = np.linalg.cholesky(NOISE), np.zeros((count, 2))
    for day in range(1, count):
        series[day] = STEP @ series[day - 1] + root @ rng.normal(size=2)
    series[rng.random((count, 2)) < 0.05] = np.nan
    model = fit_autoregression(series.T, np.arange(count) % 365 + 1)
    npt.assert_allclose(model.step, MODEL.step, atol=0.06)  # each month has a quarter of the days
    npt.assert_allclose(model.noise, MODEL.noise, atol=0.05)


def test_usual_year_is_the_wave_that_made_a_series():
    rng, day = np.random.default_rng(0), np.tile(np.arange(1, 366), 200)
    angle = 2 * np.pi * day / 365
    mean, spread = 10 - 12 * np.cos(angle), 3 + np.cos(angle)
    found = usual_year(mean + spread * rng.normal(size=len(day)), day)
    npt.assert_allclose(found[0], mean[:365], atol=0.15)
    # The square of the spread is a wave with two harmonics, as it is smoothed.
    npt.assert_allclose(found[1], spread[:365], atol=0.1)


# --- a record -----------------------------------------------------------------------------


def test_lost_days_are_drawn_without_bias_and_as_wide_as_they_err(albany):
    lost = np.random.default_rng(2).random(albany.sizes["time"]) < 0.05
    drawn = draw_gaps(losing(albany, lost), draws=40)
    for name in NAMES:
        truth, draws = albany[name].values[lost], drawn[name].values[:, lost]
        error = draws.mean(axis=0) - truth
        assert abs(error.mean()) < 3 * error.std() / np.sqrt(len(truth))
        # The truth is one more draw: its rank among the draws is any, with the same chance.
        rank = (draws < truth).mean(axis=0)
        assert (rank.mean(), (rank < 0.1).mean(), (rank > 0.9).mean()) == pytest.approx(
            (0.5, 0.1, 0.1), abs=0.04
        )
        # To draw without the days around would err by the spread of all days.
        departures = truth - albany[name].values.mean()
        assert error.std() < 0.4 * departures.std()


def test_an_extreme_that_is_known_tells_of_the_other(albany):
    lost = np.random.default_rng(2).random(albany.sizes["time"]) < 0.05
    alone = albany.copy(deep=True)
    alone["tmin"].values[lost] = np.nan
    errors = []
    for gappy in (alone, losing(albany, lost)):
        drawn = draw_gaps(gappy)["tmin"].values[:, lost].mean(axis=0)
        errors.append(np.sqrt(np.mean((drawn - albany["tmin"].values[lost]) ** 2)))
    assert errors[0] < 0.95 * errors[1]


@given(weathers())
@settings(max_examples=15)
def test_what_was_measured_stays_and_no_minimum_lies_above_its_maximum(record):
    drawn = draw_gaps(record, draws=5)
    for name in NAMES:
        known = record[name].notnull()
        assert (drawn[name] == record[name]).where(known, True).all()
        assert drawn[name].notnull().all()
    assert (drawn["tmin"] <= drawn["tmax"]).all()
    assert (drawn["tmin"] - TOLERANCE_C <= drawn["tmean"]).all()
    assert (drawn["tmean"] <= drawn["tmax"] + TOLERANCE_C).all()


@given(st.integers(0, 1000))
@settings(max_examples=5)
def test_a_seed_gives_the_same_draws(seed):
    record = weather(4, gaps=0.05)
    one, two, other = (draw_gaps(record, draws=3, seed=each) for each in (seed, seed, seed + 1))
    xr.testing.assert_identical(one, two)
    assert not one["tmin"].equals(other["tmin"])


def test_a_mean_that_was_measured_is_drawn_for_itself():
    record = weather(3, gaps=0.0)
    own = record["tmean"] + np.random.default_rng(0).normal(0, 0.8, record.sizes["time"])
    record["tmean"] = own.clip(record["tmin"], record["tmax"]).assign_attrs(record["tmean"].attrs)
    lost = np.random.default_rng(1).random(record.sizes["time"]) < 0.1
    record["tmean"] = record["tmean"].where(~xr.DataArray(lost, dims="time"))
    drawn = draw_gaps(record)
    middle = (record["tmin"] + record["tmax"]) / 2
    apart = (drawn["tmean"] - middle).values[:, lost]
    assert apart.std() == pytest.approx(0.8, abs=0.15)
    assert abs(apart.mean()) < 0.1


def test_days_that_the_record_leaves_out_are_drawn_too():
    record = weather(5)
    thinned = record.isel(time=np.delete(np.arange(record.sizes["time"]), [100, 101, 500]))
    drawn = draw_gaps(thinned, draws=2)
    npt.assert_array_equal(drawn["time"].values, record["time"].values)
    assert drawn["tmin"].notnull().all()


def test_a_month_that_no_year_has_is_not_drawn():
    record = weather(5, gaps=0.02)
    record = losing(record, record["time"].dt.month.isin([3, 4, 5]).values)
    drawn = draw_gaps(record, draws=2)
    missing = drawn["tmin"].isnull().all("draw")
    assert missing.sel(time=drawn["time"].dt.month == 4).all()
    assert not missing.sel(time=drawn["time"].dt.month == 7).any()


def test_stations_pass_through_each_by_itself():
    one, two = weather(1, gaps=0.03), weather(2, gaps=0.03)
    both = draw_gaps(side_by_side(one, two), draws=3)
    assert both["tmin"].dims == ("draw", "station", "time")
    for number, record in enumerate((one, two)):
        alone = draw_gaps(record, draws=3)
        for name in NAMES:
            npt.assert_allclose(both[name].isel(station=number), alone[name])


def test_lazy_records_stay_lazy():
    record = weather(1, gaps=0.03)
    lazy = draw_gaps(record.chunk(time=-1), draws=3)
    assert lazy["tmin"].chunks is not None
    npt.assert_allclose(lazy["tmin"], draw_gaps(record, draws=3)["tmin"])


def test_a_thin_station_is_left_as_it_is():
    record = daily(days("2001-01-01", "2001-03-31"), tmin=np.arange(90.0), tmax=np.arange(90.0) + 5)
    record["tmin"][10] = np.nan
    drawn = draw_gaps(record, draws=2)
    assert drawn["tmin"].isnull().sum() == 2
    npt.assert_array_equal(drawn["tmax"].isel(draw=0), record["tmax"])


def test_draws_fall_as_often_below_freezing_as_the_days_that_were_lost(albany):
    time = albany["time"]
    near = time.dt.month.isin([4, 5, 10]).values  # about one night in three freezes
    lost = near & (np.random.default_rng(5).random(len(near)) < 0.3)
    drawn = draw_gaps(losing(albany, lost))["tmin"].values[:, lost] <= 0.28  # whole degF
    frozen = albany["tmin"].values[lost] <= 0.28
    bounds = scipy.stats.binomtest(int(frozen.sum()), len(frozen)).proportion_ci(0.99)
    assert bounds.low <= drawn.mean() <= bounds.high


def test_grids_are_drawn_from_the_first_to_the_last_day_measured():
    record = weather(2, gaps=0.03)
    lost = (record["time"].values < np.datetime64("1999-03-01")) | (
        record["time"].values > np.datetime64("2002-10-31")
    )
    grids = {name: by_year(losing(record, lost)[name]).values for name in NAMES}
    drawn = drawn_grids(grids, 3)
    for name in NAMES:
        missing = np.isnan(drawn[name])
        npt.assert_array_equal(missing.any(0), missing.all(0))
        assert missing[:, 0, :59].all()
        assert missing[:, -1, 304:].all()
        assert not missing[:, 0, 59:].any()
        assert not missing[:, -1, :304].any()


# --- bad input ----------------------------------------------------------------------------


def test_no_draws_are_refused():
    with pytest.raises(ValueError, match="draws must be 1 or more, got 0"):
        draw_gaps(weather(0), draws=0)


def test_a_record_without_temperatures_is_refused():
    record = daily(days("2001-01-01", "2001-12-31"), precip=np.zeros(365))
    with pytest.raises(ValueError, match="none of tmin, tmax, tmean"):
        draw_gaps(record)


def test_the_day_of_the_year_is_that_of_the_record():
    # Draws of a hot day and of a cold one lie where the place's year does.
    record = weather(0, years=4)
    day = day_of_year(record["time"].values)
    lost = np.isin(day, [20, 202])
    drawn = draw_gaps(losing(record, lost))["tmean"]
    cold, hot = (drawn.values[:, day == each].mean() for each in (20, 202))
    assert hot - cold == pytest.approx(22, abs=4)  # twice the swing of the invented year


def test_one_temperature_alone_is_drawn_as_well():
    record = weather(3, years=3, gaps=0.02)[["tmin"]]
    drawn = draw_gaps(record, draws=4)
    assert drawn["tmin"].dims == ("draw", "time")
    assert not drawn["tmin"].isnull().any()
