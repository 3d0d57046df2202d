"""Smoothed odds and their intervals: against SciPy's distributions and plain sums."""

import numpy as np
import numpy.testing as npt
import pytest
import smoothing
import xarray as xr
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats as scipy_stats

from climwin.core.odds import odds_of
from climwin.core.stats import (
    COUNTED_YEAR,
    KINDS,
    kernel_of,
    kernel_quantile,
    kernel_share_above,
    next_interval,
    next_worth,
    odds_interval,
    smoothed_share,
)

ODDS = st.floats(0.001, 0.999)
WORTH = st.floats(1, 80)
DAYS = st.lists(st.integers(60, 160).map(float), min_size=2, max_size=40)


@given(ODDS, WORTH)
def test_the_interval_of_the_odds_is_scipys_beta(odds, worth):
    low, high = odds_interval(np.array(odds), np.array(worth))
    beta = scipy_stats.beta(odds * worth + 0.5, (1 - odds) * worth + 0.5)
    npt.assert_allclose([low, high], beta.ppf([0.05, 0.95]), atol=1e-9)


@given(ODDS, WORTH, st.integers(1, 15))
@settings(max_examples=60)
def test_the_next_years_are_scipys_beta_binomial(odds, worth, years):
    low, high = next_interval(np.array(odds), np.array(worth), years)
    of_next = scipy_stats.betabinom(years, odds * worth + 0.5, (1 - odds) * worth + 0.5)
    assert (low, high) == (of_next.ppf(0.05), of_next.ppf(0.95))


def test_intervals_of_many_odds_at_once_and_of_none():
    odds = np.array([[0.2, np.nan, 0.0], [0.5, 1.0, 0.3]])
    worth = np.array([20.0, 20.0, 0.0])
    low, high = odds_interval(odds, worth)
    first, last = next_interval(odds, worth)
    unknown = np.array([[False, True, True], [False, False, True]])
    for each in (low, high, first, last):
        npt.assert_array_equal(np.isnan(each), unknown)
    assert high[1, 1] == 1
    assert last[1, 1] == 10
    assert 0 < low[1, 1] < 1


def test_less_than_one_in_twenty_lies_beyond_either_end_and_more_with_the_end():
    rng = np.random.default_rng(0)
    odds, worth = np.array(0.3), np.array(10.0)
    low, high = next_interval(odds, worth)
    drawn = rng.binomial(10, rng.beta(0.3 * 10 + 0.5, 0.7 * 10 + 0.5, 20_000))
    assert np.mean(drawn < low) <= 0.05 < np.mean(drawn <= low)
    assert np.mean(drawn > high) <= 0.05 < np.mean(drawn >= high)


def test_a_share_is_drawn_to_one_half_and_never_0_or_1():
    npt.assert_allclose(smoothed_share(np.array([0, 15, 30]), np.array(30)), [1 / 62, 0.5, 61 / 62])
    assert np.isnan(smoothed_share(np.array(0), np.array(0)))


@pytest.mark.parametrize("climate", ["record", "today"])
@pytest.mark.parametrize("kind", KINDS)
def test_years_are_worth_less_for_the_next_ten_and_never_more_than_the_drift(kind, climate):
    worth = np.array([5.0, 10, 30, 100, 1e9])
    ahead = next_worth(worth, kind, climate)
    assert (np.diff(ahead) > 0).all()
    assert (ahead < worth).all()
    drift = getattr(KINDS[kind], climate)
    assert ahead[-1] == pytest.approx(drift, rel=1e-6)
    npt.assert_allclose(1 / ahead, 1 / worth + 1 / drift)  # two sources of doubt add up


def test_thirty_years_are_worth_what_the_hindcast_of_eleven_records_found():
    # Of the plain count of 30 years, with the 5 to 95 % range that the hindcast gave.
    found = {
        "spring freeze": (7, 12),
        "autumn freeze": (12, 18),
        "freeze-free days": (6, 10),
        "heat": (4, 8),
    }
    for kind, (low, high) in found.items():
        assert low <= next_worth(np.array(30.0), kind, "record") <= high


# --- kernel -------------------------------------------------------------------------------


@given(DAYS, st.integers(0, 5), st.integers(0, 5), st.floats(40, 180))
def test_the_share_above_is_a_plain_sum_of_normal_tails(days, none, ever, at):
    sample = [-np.inf] * none + days + [np.inf] * ever
    least = 0.5 / (len(sample) + 1)
    expected = min(max(smoothing.above(sample, at), least), 1 - least)
    found = kernel_share_above(np.array(sample), np.array([at]))
    assert found[0] == pytest.approx(expected, abs=1e-9)


@given(DAYS, st.integers(0, 5), st.integers(0, 5), st.floats(0.05, 0.95))
@settings(max_examples=50)
def test_a_quantile_turns_the_share_above_round(days, none, ever, share):
    sample = [-np.inf] * none + days + [np.inf] * ever
    at = kernel_quantile(np.array(sample), np.array([share]))[0]
    if share <= ever / len(sample):
        assert at == np.inf
    elif share >= 1 - none / len(sample):
        assert at == -np.inf
    else:
        assert smoothing.above(sample, at) == pytest.approx(share, abs=0.01)


@given(DAYS)
def test_the_kernel_leaves_a_sample_its_mean_and_variance(days):
    centres, width = kernel_of(np.array(days))
    assert centres.mean() == pytest.approx(np.mean(days))
    # That of the days is between the one divided by n and the one divided by n - 1; half a day is
    # the least width, whatever it adds.
    together = centres.var() + (width**2 if width > 0.5 else 0.0)
    assert together <= np.var(days, ddof=1) + 1e-9
    if width > 0.5:
        assert together >= np.var(days) - 1e-9


@given(DAYS, st.integers(0, 5), st.integers(0, 5), st.lists(st.floats(0.01, 0.99), min_size=1))
@settings(max_examples=50)
def test_a_quantile_is_read_off_every_tenth_of_a_day(days, none, ever, shares):
    sample, share = np.array([-np.inf] * none + days + [np.inf] * ever), np.array(shares)
    centres, width = kernel_of(sample)
    there, count = centres[np.isfinite(centres)], len(sample)
    at = np.arange(min(there) - 5 * width, max(there) + 5 * width, 0.1)
    tails = scipy_stats.norm.sf(at[:, None], there, width).mean(axis=-1)
    above = tails * (len(days) / count) + ever / count
    found = kernel_quantile(sample, share)
    # Between clusters of days the share is level, and any day of the level has it.
    is_steep = np.abs(np.interp(share, above[::-1], np.gradient(above)[::-1])) > 1e-6
    finite = np.isfinite(found) & is_steep
    expected = np.interp(-share, -above, at)
    assert found[finite] == pytest.approx(expected[finite], abs=1e-6)


def test_the_width_is_silvermans_and_at_least_half_a_day():
    sample = scipy_stats.norm(100, 10).rvs(50, random_state=1)
    deviation = np.std(sample, ddof=1)
    silverman = 0.9 * min(deviation, scipy_stats.iqr(sample) / 1.34) * 50**-0.2
    _, width = kernel_of(sample)
    assert width == pytest.approx(silverman / np.hypot(1, silverman / deviation))
    centres, same = kernel_of(np.append(sample, [np.inf, -np.inf]))
    assert same == width
    assert centres[-2:].tolist() == [np.inf, -np.inf]
    for alike in (np.full(20, 100.0), np.array([np.inf]), np.array([100.0, np.inf])):
        centres, width = kernel_of(alike)
        npt.assert_array_equal(centres, alike)
        assert width == 0.5


# --- how often the intervals hold ---------------------------------------------------------


def followed(years: int, lag_one: float, trials: int = 1500) -> np.ndarray:
    """Normal years that follow each other, shape (trials, years)."""
    rng = np.random.default_rng(3)
    values = rng.normal(size=(trials, years))
    for year in range(1, years):
        new = np.sqrt(1 - lag_one**2) * values[:, year]
        values[:, year] = lag_one * values[:, year - 1] + new
    return values


@pytest.mark.parametrize("lag_one", [0.0, 0.3])
@pytest.mark.parametrize("years", [10, 20, 40])
def test_smoothed_odds_are_true_on_average_and_their_interval_holds(years, lag_one):
    true = np.array([0.1, 0.2, 0.5, 0.8])
    at = scipy_stats.norm.isf(true)
    # Days with a spread of ten, so that half a day is little.
    sample = 10 * followed(years, lag_one)
    odds = np.array([kernel_share_above(each, 10 * at) for each in sample])
    assert abs(odds.mean(axis=0) - true).max() < 0.02
    low, high = odds_interval(odds, np.array(float(years)))
    held = ((low <= true) & (true <= high)).mean()
    assert 0.86 <= held <= 0.965


@pytest.mark.parametrize("lag_one", [0.0, 0.3])
@pytest.mark.parametrize("years", [10, 20, 40])
def test_intervals_of_counts_hold(years, lag_one):
    true = np.array([0.1, 0.2, 0.35, 0.5, 0.65, 0.8])
    share = (followed(years, lag_one)[..., None] > scipy_stats.norm.isf(true)).mean(axis=1)
    low, high = odds_interval(share, np.array(COUNTED_YEAR * years))
    held = ((low <= true) & (true <= high)).mean()
    assert 0.86 <= held <= 0.95


# --- labelled -----------------------------------------------------------------------------


def test_odds_have_the_same_names_everywhere_and_pass_stations_through():
    hits = xr.DataArray([0, 12, 30, 0], dims="station")
    known = xr.DataArray([30, 30, 30, 0], dims="station")
    found = odds_of(hits, known, kind="other", climate="record")
    assert set(found) == {"share", "odds", "low", "high", "next_low", "next_high"}
    npt.assert_allclose(found["share"], [0, 0.4, 1, np.nan])
    npt.assert_allclose(found["odds"], [1 / 62, 12 / 30, 61 / 62, np.nan])
    assert found["next_high"][0] >= 1  # none of 30 is not never
    assert found["next_low"][2] <= 9
    assert found.attrs == {"interval": 0.9, "next_years": 10}
    assert {found[name].attrs["units"] for name in ("share", "odds", "low", "high")} == {"1"}
    assert found["next_low"].attrs["units"] == "years"


def test_smoothed_odds_are_taken_where_there_are_any():
    hits, known = xr.DataArray([3, 3], dims="part"), xr.DataArray([10, 10], dims="part")
    smoothed = xr.DataArray([0.22, np.nan], dims="part")
    found = odds_of(hits, known, kind="window", climate="record", smoothed=smoothed)
    npt.assert_allclose(found["odds"], [0.22, 3 / 10])
    npt.assert_allclose(found["share"], 0.3)


def test_an_unknown_kind_is_refused():
    with pytest.raises(ValueError, match=r"kind must be one of spring freeze, .* got 'hail'"):
        next_worth(np.array(3.0), "hail", "record")
