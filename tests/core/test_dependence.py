"""Tests and intervals of correlated years: by plain loops, pymannkendall and simulation."""

import following
import numpy as np
import numpy.testing as npt
import pymannkendall
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats as scipy_stats

from climwin.core.dependence import (
    LAG_ONES,
    SHORT_YEARS,
    _by_lag_one,
    contrast_variance,
    effective_years,
    lag_one_weights,
    quantile_interval,
    rank_inflation,
    shift_reach,
    slope_beside,
    trend_test,
    whitening,
)
from climwin.core.stats import mann_kendall, sorted_quantile, theil_sen

YEARS = np.arange(1980, 2010)


@pytest.fixture
def rng():
    return np.random.default_rng(7)


# --- years that take after the one before, by explicit matrices ------------------------------


@pytest.mark.parametrize("lag_one", [-0.4, 0.0, 0.3, 0.9])
def test_whitening_is_the_inverse_of_the_cholesky_factor(rng, lag_one):
    years = np.sort(rng.choice(np.arange(1950, 2000), 24, replace=False))
    covariance = following.covariance(years, lag_one)
    values, weights = rng.normal(size=(3, 24)), rng.normal(size=24)
    white = np.linalg.solve(np.linalg.cholesky(covariance), values.T).T
    ours = whitening(years, lag_one)
    npt.assert_allclose(ours.whiten(values), white, atol=1e-12)
    assert ours.log_determinant == pytest.approx(np.linalg.slogdet(covariance)[1])
    npt.assert_allclose(values @ ours.of_values(weights), white @ weights)
    own, with_next = ours.of_squares
    squares = values**2 @ own + (values[:, 1:] * values[:, :-1]) @ with_next
    npt.assert_allclose(squares, (white**2).sum(-1))


def test_the_variance_of_a_contrast_is_that_of_its_covariance(rng):
    years = np.sort(rng.choice(np.arange(1950, 2000), 24, replace=False))
    contrast = rng.normal(size=24)
    plain = [contrast @ following.covariance(years, each) @ contrast for each in LAG_ONES]
    npt.assert_allclose(contrast_variance(years, contrast), plain)


# --- by plain loops and an independent package ----------------------------------------------


@given(st.lists(st.integers(0, 40).map(float) | st.just(np.nan), min_size=20, max_size=32))
@settings(max_examples=25, deadline=None)
def test_a_trend_by_plain_loops(values):
    values = np.array(values)
    held = values[np.isfinite(values)]
    years = np.arange(1990, 1990 + len(values))
    straight = len(held) < SHORT_YEARS or np.ptp(np.diff(held)) == 0 or len(np.unique(held)) < 3
    if straight:  # nothing is left beside a straight line: no correlation can be weighed
        return
    npt.assert_allclose(trend_test(years, values), following.trend(years, values), rtol=1e-6)


@pytest.mark.parametrize(("n", "slope"), [(8, 0.0), (12, 0.1)])
def test_a_short_trend_is_ranked_among_series_without_one(rng, n, slope):
    years = np.sort(rng.choice(np.arange(2000, 2000 + n + 3), n, replace=False))
    values = following.process(0.2, n, rng)[0] + slope * (years - 2000)
    found = following.averaged_chance(years, values)
    assert _by_lag_one(years, values[None]).chance(0.0)[0] == pytest.approx(found, rel=1e-6)
    still = following.process(0.2, n, rng, 150)
    none = np.array([following.averaged_chance(np.arange(n), each) for each in still])
    # two standard deviations of a share of 150 near one half
    assert trend_test(years, values)[3] == pytest.approx(np.mean(none <= found), abs=0.08)


def test_the_interval_of_a_short_trend_has_the_slopes_that_its_test_allows(rng):
    years = np.arange(2010, 2024)
    values = following.process(0.3, 14, rng)[0] + 0.08 * (years - 2010)
    slope, low, high, _ = trend_test(years, values)
    assert slope == theil_sen(years, values)[0]
    assert low < slope < high
    for end, further in ((low, -1e-3), (high, 1e-3)):
        assert trend_test(years, values - end * years)[3] == pytest.approx(0.1, abs=2e-3)
        assert trend_test(years, values - (end + further) * years)[3] < 0.1
        assert trend_test(years, values - (end - further) * years)[3] > 0.1
    # neither the unit nor the level matters
    other = trend_test(years, 1.8 * values + 32)
    npt.assert_allclose(other, [1.8 * slope, 1.8 * low, 1.8 * high, trend_test(years, values)[3]])


def test_a_short_trend_of_values_that_are_alike_or_in_line():
    years = np.arange(12)
    assert trend_test(years, np.full(12, 7.3)) == (0, 0, 0, 1)
    slope, low, high, p = trend_test(years, 3.0 * years)
    npt.assert_allclose([slope, low, high], 3.0, atol=1e-3)
    assert p < 0.001


@pytest.mark.parametrize("columns", ["mean", "trend", "step"])
def test_weights_are_the_residual_likelihood(rng, columns):
    years = np.sort(rng.choice(np.arange(1950, 2000), 24, replace=False))
    values = following.process(0.5, 24, rng)[0] + 0.02 * (years - 1950)
    fitted = [np.ones(24)]
    if columns == "trend":
        fitted.append(years - years.mean())
    if columns == "step":
        fitted.append((years > 1980).astype(float))
    ours = lag_one_weights(years, values, np.stack(fitted))
    npt.assert_allclose(ours, following.weights(years, values, fitted), rtol=1e-7)
    assert ours.sum() == pytest.approx(1)


def test_neither_a_trend_nor_the_unit_changes_what_is_thought_of_the_correlation(rng):
    values = following.process(0.3, 30, rng)[0]
    columns = np.stack([np.ones(30), YEARS - YEARS.mean()])
    plain = lag_one_weights(YEARS, values, columns)
    npt.assert_allclose(lag_one_weights(YEARS, 1.8 * values + 0.4 * YEARS, columns), plain)


def test_independent_years_have_the_classical_test_and_slope(rng):
    values = rng.normal(size=30) + 0.03 * np.arange(30)
    package = pymannkendall.original_test(values)
    assert mann_kendall(values) == pytest.approx(package.p, rel=1e-9)
    slope, low, high, _ = trend_test(YEARS, values)
    assert slope == pytest.approx(package.slope)
    assert slope == theil_sen(YEARS, values)[0]
    assert low < slope < high
    inflation = rank_inflation(YEARS, np.arange(30) - 14.5)
    assert inflation[LAG_ONES == 0] == pytest.approx(1)
    assert (np.diff(inflation[LAG_ONES < 0.9]) > 0).all()  # near 1 a short record is one long drift


@pytest.mark.parametrize("lag_one", [0.2, 0.4, 0.6])
def test_the_variance_is_hamed_and_raos_as_a_package_has_it(lag_one):
    # Of a long series the package's estimate of the correlations is good: its variance is ours.
    values = following.process(lag_one, 3000, np.random.default_rng(3))[0]
    theirs = pymannkendall.hamed_rao_modification_test(values, lag=8).var_s
    classical = pymannkendall.original_test(values).var_s
    # for long series the inflation no longer changes with the length
    ours = rank_inflation(np.arange(400), np.arange(400) - 199.5)[lag_one == LAG_ONES]
    assert theirs / classical == pytest.approx(float(ours[0]), rel=0.1)


def test_a_slope_beside_a_step_by_statistics_of_independent_years(rng):
    # Where all weight lies on no correlation the test is that of least squares.
    years = np.arange(12)
    step = (years >= 5).astype(float)
    values = 0.5 * years + 3 * step  # exactly: nothing is left over
    slope, p = slope_beside(years, values, [5])
    assert slope == pytest.approx(0.5)
    assert p < 1e-6
    noisy = following.process(0.0, 120, rng)[0]
    long = np.arange(120)
    slope, p = slope_beside(long, noisy + 0.002 * long, [60])
    design = np.stack([np.ones(120), long, long >= 60], -1).astype(float)
    fit, left, *_ = np.linalg.lstsq(design, noisy + 0.002 * long, rcond=None)
    assert slope == pytest.approx(fit[1], abs=1e-3)
    deviation = np.sqrt(left[0] / 117 * np.linalg.inv(design.T @ design)[1, 1])
    assert p == pytest.approx(2 * scipy_stats.t.sf(abs(fit[1]) / deviation, 117), abs=0.1)


def test_a_slope_cannot_be_told_from_too_few_years_or_from_its_own_step():
    assert np.isnan(slope_beside(np.arange(3), np.array([1.0, 2.0, 4.0]), [1])).all()
    assert np.isnan(slope_beside(np.arange(9), np.full(9, np.nan), [])).all()
    # a step before the first year is no step
    assert slope_beside(np.arange(9), np.arange(9.0), [-5])[0] == pytest.approx(1)


# --- intervals of quantiles -------------------------------------------------------------------


def test_effective_years_fall_as_years_take_after_each_other():
    n = 60
    means = [
        np.mean(
            [
                effective_years(np.arange(n), each)
                for each in following.process(r, n, np.random.default_rng(1), 200)
            ]
        )
        for r in (0.0, 0.3, 0.6)
    ]
    assert 0.9 * n < means[0] < 1.02 * n
    # by the sum over lags of the correlation of years beyond the median
    for lag_one, mean in zip((0.3, 0.6), means[1:], strict=True):
        lags = np.arange(1, n)
        sums = 1 + 2 * ((1 - lags / n) * 2 / np.pi * np.arcsin(lag_one**lags)).sum()
        assert mean == pytest.approx(n / sums, rel=0.12)


def test_effective_years_ask_for_ranks_alone(rng):
    values = following.process(0.4, 25, rng)[0]
    plain = effective_years(np.arange(25), values)
    assert effective_years(np.arange(25), np.exp(values)) == pytest.approx(plain)
    endless = np.where(values == values.min(), -np.inf, values)
    assert effective_years(np.arange(25), endless) == pytest.approx(plain)
    assert effective_years(np.arange(2), values[:2]) == 2


def test_within_the_sample_the_interval_is_jeffreys_read_through_its_quantiles(rng):
    sample = np.sort(rng.normal(120, 10, 200))
    shares = np.array([0.2, 0.5, 0.9])
    low, high = quantile_interval(sample, 150.0, shares)
    count = np.array(200)
    for at, share in enumerate(shares):
        beta = scipy_stats.beta(share * 150 + 0.5, (1 - share) * 150 + 0.5)
        for end, bound in ((0.05, low), (0.95, high)):
            expected = sorted_quantile(sample, count, float(beta.ppf(end)), "hazen")
            assert bound[at] == pytest.approx(float(expected), rel=1e-9)


def test_an_interval_goes_on_beyond_a_small_sample_and_stays_open_at_endless_values():
    sample = np.arange(100.0, 110.0)
    low, high = quantile_interval(sample, 10.0, np.array([0.1, 0.9]))
    assert low[0] < 100
    assert high[1] > 109
    mirrored = quantile_interval(-sample[::-1], 10.0, np.array([0.1, 0.9]))
    npt.assert_allclose(mirrored, (-high[::-1], -low[::-1]))
    endless = np.concatenate([[-np.inf, -np.inf, -np.inf], sample])
    low, high = quantile_interval(endless, 13.0, np.array([0.1, 0.5]))
    assert low[0] == -np.inf
    assert np.isfinite(high)[1]
    assert np.isnan(quantile_interval(np.array([]), 0.0, np.array([0.5]))).all()


@given(st.lists(st.integers(0, 60).map(float), min_size=3, max_size=40), st.floats(2, 40))
def test_an_interval_is_in_order_and_holds_the_quantile(values, worth):
    sample, shares = np.sort(values), np.array([0.1, 0.5, 0.9])
    low, high = quantile_interval(sample, worth, shares)
    assert (low <= high).all()
    assert (np.diff(low) >= -1e-9).all()
    assert (np.diff(high) >= -1e-9).all()
    middle = [sorted_quantile(sample, np.array(len(sample)), p, "hazen") for p in shares]
    assert (low <= np.array(middle) + 1e-9).all()
    assert (high >= np.array(middle) - 1e-9).all()


# --- in simulated records ---------------------------------------------------------------------


@pytest.mark.simulated
@pytest.mark.parametrize(
    ("n", "lag_one"), [(10, 0.0), (10, 0.4), (15, 0.2), (20, 0.2), (30, 0.0), (30, 0.4)]
)
def test_the_trend_test_fires_at_its_rate_and_sens_interval_covers(n, lag_one):
    series = following.process(lag_one, n, np.random.default_rng(11), 1200)
    years = np.arange(n)
    found = np.array([trend_test(years, each + 0.04 * years) for each in series])
    covered = (found[:, 1] <= 0.04) & (found[:, 2] >= 0.04)
    null = np.array([trend_test(years, each)[3] for each in series])
    # two points of allowance, and two standard deviations of 1200 draws
    assert np.mean(null < 0.1) == pytest.approx(0.1, abs=0.02 + 0.017)
    assert covered.mean() == pytest.approx(0.9, abs=0.02 + 0.017)
    if n >= 20:
        naive = np.mean([mann_kendall(each) < 0.1 for each in series])
        assert (naive > 0.14) == (lag_one > 0)


@pytest.mark.parametrize("lag_one", [0.0, 0.3])
def test_a_quantile_of_ten_years_is_covered(lag_one):
    truth = scipy_stats.norm.ppf([0.1, 0.5, 0.9])
    inside = []
    for each in following.process(lag_one, 10, np.random.default_rng(2), 800):
        worth = effective_years(np.arange(10), each)
        low, high = quantile_interval(np.sort(each), worth, np.array([0.1, 0.5, 0.9]))
        inside.append((low <= truth) & (truth <= high))
    covered = np.mean(inside, axis=0)
    assert (covered > 0.86 - 0.02).all()
    assert (covered < 0.95 + 0.02).all()


def test_a_shift_of_halves_is_covered():
    late = np.arange(30) >= 15
    reaches = [
        shift_reach(np.arange(30), each, late, 0.9)
        for each in following.process(0.4, 30, np.random.default_rng(5), 40)
    ]
    assert np.mean(reaches) > 1.2 * scipy_stats.norm.ppf(0.95)
