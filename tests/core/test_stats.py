"""Statistics against NumPy, SciPy and published examples."""

import warnings

import numpy as np
import numpy.testing as npt
import pytest
import smoothing
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import optimize
from scipy import stats as scipy_stats

from climwin.core.errors import DataGapError
from climwin.core.stats import (
    KINDS,
    LEAST_BANDWIDTH,
    LEAST_YEARS,
    PER_DEGREE,
    PLOTTING,
    between,
    bootstrap_interval,
    bootstrap_ranks,
    check_years,
    kernel_of,
    kernel_quantile,
    kernel_share_above,
    mann_kendall,
    next_interval,
    next_worth,
    odds_interval,
    paired_difference,
    pairwise_slopes,
    position,
    smoothed_share,
    sorted_quantile,
    theil_sen,
    variance_of_level,
    wilson,
    within_reach,
    worth_at_level,
    z_of,
)

TENTHS = st.integers(-400, 400).map(lambda n: n / 10)
SHARES = st.sampled_from([0, 0.05, 0.1, 0.25, 1 / 3, 0.5, 0.75, 0.9, 0.99, 1])
METHODS = st.sampled_from(list(PLOTTING))

# Twenty invented freeze dates, day of the year.
DATES = np.array([98, 101, 103, 104, 106, 107, 108, 110, 110, 112])
DATES = np.append(DATES, [113, 115, 117, 118, 119, 121, 123, 126, 130, 134]).astype(float)
# A published exercise of Mann and Kendall's test, worked by hand: S = 54, Z = 2.9058, p = 0.00366
# (mathcs.holycross.edu/~little/Montserrat/MannKendallByHand.txt, read).
WORKED = np.array([12.9, 14.8, 13.2, 15.7, 13.8, 15.6, 12.9, 11, 17.3, 15.9, 19, 18.3, 20.1, 21.7])


# --- quantiles ----------------------------------------------------------------------------


@given(
    st.lists(st.lists(TENTHS | st.just(np.nan), min_size=5, max_size=40), min_size=1, max_size=4),
    SHARES,
    METHODS,
)
def test_sorted_quantile_is_numpys_to_the_last_bit(samples, share, method):
    values = np.full((len(samples), 40), np.nan)
    for row, sample in zip(values, samples, strict=True):
        row[: len(sample)] = sample
    values.sort(axis=-1)
    count = (~np.isnan(values)).sum(-1)
    with warnings.catch_warnings(action="ignore"):  # a sample without a value
        expected = np.nanquantile(values, share, axis=-1, method=method)
    npt.assert_array_equal(sorted_quantile(values, count, share, method), expected)


# Quantiles at 10, 50 and 90 % by the formulas of Hyndman and Fan (1996), types 6, 7, 8 and 5.
@pytest.mark.parametrize(
    ("method", "expected"),
    [
        ("weibull", [101.2, 112.5, 129.6]),
        ("linear", [102.8, 112.5, 126.4]),
        ("median_unbiased", [101.7333, 112.5, 128.5333]),
        ("hazen", [102.0, 112.5, 128.0]),
    ],
)
def test_quantile_types_of_hyndman_and_fan(method, expected):
    found = [sorted_quantile(DATES, np.array(20), share, method) for share in (0.1, 0.5, 0.9)]
    npt.assert_allclose(found, expected, atol=5e-5)


# Shares (i - a) / (n + 1 - 2 a) of the 1st, 2nd, 10th and last of 20: Weibull a = 0, Hazen a = 1/2.
@pytest.mark.parametrize(
    ("method", "expected"),
    [
        ("weibull", [0.04762, 0.09524, 0.47619, 0.95238]),
        ("hazen", [0.025, 0.075, 0.475, 0.975]),
    ],
)
def test_plotting_positions(method, expected):
    npt.assert_allclose(position(20, np.array(expected), method), [0, 1, 9, 19], atol=2e-4)


def test_unknown_quantile_type_is_refused():
    with pytest.raises(ValueError, match=r"method must be one of .*hazen.*median_unbiased.*'best'"):
        position(20, 0.5, "best")


@pytest.mark.parametrize(
    ("values", "share", "expected"),
    [
        ([-np.inf, 4.0, 8.0], 0.5, 4.0),
        ([-np.inf, 4.0, 8.0], 0.45, -np.inf),  # leans on what never happened
        ([4.0, 8.0, np.inf], 0.55, np.inf),
        ([4.0, 8.0, np.inf], 0.5, 8.0),
        ([4.0, np.inf, np.inf], 0.9, np.inf),
        ([-np.inf, -np.inf, -np.inf], 0.9, -np.inf),
    ],
)
def test_quantile_never_invents_a_value_beyond_an_endless_one(values, share, expected):
    assert sorted_quantile(np.array(values), np.array(3), share, "hazen") == expected


# --- shares -------------------------------------------------------------------------------

# Newcombe, "Two-sided confidence intervals for the single proportion," Statistics in Medicine 17
# (1998): 81/263, 15/148, 0/20, 1/29, printed there to 4 places (from memory), here as computed
# alike by SciPy, R and statsmodels; 23/60 is the worked example of vassarstats.net (read); the
# rest are the counts of 30 years. 95 %.
WILSON_95 = [
    (81, 263, 0.255289, 0.366210),
    (15, 148, 0.062386, 0.160487),
    (0, 20, 0.0, 0.161125),
    (1, 29, 0.006113, 0.171755),
    (23, 60, 0.270883, 0.509824),
    (0, 30, 0.0, 0.113513),
    (1, 30, 0.005909, 0.166704),
    (3, 30, 0.034600, 0.256211),
    (15, 30, 0.331541, 0.668459),
    (27, 30, 0.743789, 0.965400),
    (30, 30, 0.886487, 1.0),
]


@pytest.mark.parametrize(("hits", "count", "low", "high"), WILSON_95)
def test_wilson_of_published_examples(hits, count, low, high):
    found = wilson(np.array(hits), np.array(count), 0.95)
    npt.assert_allclose(found, (low, high), atol=5e-7)


@given(st.integers(1, 400).flatmap(lambda n: st.tuples(st.integers(0, n), st.just(n))))
@settings(max_examples=50)
def test_wilson_is_scipys(pair):
    hits, count = pair
    oracle = scipy_stats.binomtest(hits, count).proportion_ci(0.9, "wilson")
    npt.assert_allclose(wilson(np.array(hits), np.array(count)), oracle, atol=1e-12)


def test_wilson_of_nothing_is_missing():
    assert np.isnan(wilson(np.array([0]), np.array([0]))).all()


def test_z_of_a_level():
    npt.assert_allclose(z_of(0.95), scipy_stats.norm.ppf(0.975), rtol=1e-12)


# --- slopes -------------------------------------------------------------------------------


def test_theil_sen_of_a_published_series():
    # Slope and 95 % interval of the worked series by SciPy: 0.566667, 0.325 to 0.866667.
    npt.assert_allclose(theil_sen(np.arange(14), WORKED, 0.95), (0.566667, 0.325, 0.866667), 1e-6)


@given(st.lists(TENTHS | st.just(np.nan), min_size=3, max_size=40), st.sampled_from([0.8, 0.9]))
def test_theil_sen_is_scipys(values, level):
    y, x = np.array(values), np.arange(1990, 1990 + len(values))
    held = ~np.isnan(y)
    found = theil_sen(x, y, level)
    if held.sum() < 3:
        assert np.isnan(found).all()
    else:
        slope, _, low, high = scipy_stats.theilslopes(y[held], x[held], alpha=level)
        npt.assert_allclose(found, (slope, low, high), rtol=1e-12, atol=1e-12)


def test_mann_kendall_of_a_published_exercise():
    assert mann_kendall(WORKED) == pytest.approx(0.00366, abs=5e-6)


@given(st.lists(st.integers(0, 9), min_size=3, max_size=30))
def test_mann_kendall_by_its_definition(values):
    n = len(values)
    pairs = [(values[i], values[j]) for i in range(n) for j in range(i + 1, n)]
    score = sum(late > early for early, late in pairs) - sum(late < early for early, late in pairs)
    ties = [values.count(v) for v in set(values)]
    spread = sum(t * (t - 1) * (2 * t + 5) for t in ties)
    variance = (n * (n - 1) * (2 * n + 5) - spread) / 18
    z = 0.0 if score == 0 else (abs(score) - 1) / np.sqrt(variance)
    npt.assert_allclose(mann_kendall(np.array(values)), 2 * scipy_stats.norm.sf(z), atol=1e-12)


def test_mann_kendall_leaves_gaps_out():
    gaps = np.insert(WORKED, 3, np.nan)
    assert mann_kendall(gaps) == mann_kendall(WORKED)
    assert np.isnan(mann_kendall(np.array([1.0, np.nan, 2.0])))
    assert mann_kendall(np.array([4.0, 4.0, 4.0])) == 1.0


@given(st.lists(TENTHS, min_size=3, max_size=20))
def test_trend_turned_round_is_as_sure_and_has_the_other_sign(values):
    y = np.array(values)
    slope, low, high = theil_sen(np.arange(len(y)), y)
    back = theil_sen(np.arange(len(y)), y[::-1])
    npt.assert_allclose(back, (-slope, -high, -low), atol=1e-12)
    npt.assert_allclose(mann_kendall(y[::-1]), mann_kendall(y), atol=1e-12)


# --- pairs --------------------------------------------------------------------------------

# Agresti and Min's 95 % interval of a complete response before and after consolidation therapy
# (Cavo et al. 2012: 6 only before, 16 only after, of 161): -0.0621 (-0.1182 to -0.0045), from the
# tests of the R package contingencytables (file read), which goes with chapter 8 of Fagerland,
# Lydersen and Laake's "Statistical Analysis of Contingency Tables" (title from memory).


def test_paired_difference_of_a_published_example():
    found = paired_difference(np.array(6), np.array(16), np.array(161), 0.95)
    npt.assert_allclose(found, (-0.0621, -0.1182, -0.0045), atol=5e-5)


def test_paired_difference_by_hand():
    # 7 years only the first, 2 only the second, of 30. With half a year more in each of four cells:
    # (7.5 - 2.5) / 32 = 0.15625; root of (10 - 25 / 32) = 3.03624, by 32 and 1.644854: 0.156067.
    found = paired_difference(np.array(7), np.array(2), np.array(30))
    npt.assert_allclose(found, (5 / 30, 0.000183, 0.312317), atol=1e-6)


def test_paired_difference_of_no_years_is_missing():
    found = paired_difference(np.array([0, 1]), np.array([0, 0]), np.array([0, 4]))
    assert np.isnan([part[0] for part in found]).all()
    assert not np.isnan([part[1] for part in found]).any()


def test_paired_difference_stays_between_minus_1_and_1():
    difference, low, high = paired_difference(np.array([9, 0]), np.array([0, 9]), np.array([9, 9]))
    npt.assert_array_equal(difference, [1, -1])
    assert high[0] == 1
    assert low[1] == -1


@pytest.mark.parametrize("chances", [(0.3, 0.1), (0.1, 0.1), (0.4, 0.02)])
def test_paired_interval_holds_the_truth_about_as_often_as_it_says(chances):
    rng = np.random.default_rng(4)
    counts = rng.multinomial(30, [*chances, 1 - sum(chances)], size=20_000)
    _, low, high = paired_difference(counts[:, 0], counts[:, 1], np.full(20_000, 30))
    truth = chances[0] - chances[1]
    assert 0.88 < np.mean((low <= truth) & (truth <= high)) < 0.95


# --- edges of the kernels -----------------------------------------------------------------


def test_fewer_than_ten_known_years_are_refused_unless_asked_for():
    assert LEAST_YEARS == 10
    check_years(10, few_years=False)
    check_years(0, few_years=True)
    told = "Too few years for odds: the record has 9 known years, and 10 are needed. Take a longer"
    with pytest.raises(DataGapError, match=told):
        check_years(9, few_years=False)


@pytest.mark.parametrize("share", [0.05, 0.1, 0.3, 1 / 3, 0.7, 0.95])
def test_linear_positions_are_numpys_to_the_last_bit(share):
    for n in range(1, 200):
        found = sorted_quantile(np.arange(n, dtype=float) ** 2, np.array(n), share, "linear")
        assert found == np.quantile(np.arange(n, dtype=float) ** 2, share)


def test_between_an_endless_value_and_another_all_is_endless():
    t = np.array([0, 0.25, 0.5, 0.75])
    endless = np.full(4, np.inf)
    npt.assert_array_equal(between(-endless, np.full(4, 5.0), t), -endless)
    npt.assert_array_equal(between(np.full(4, 5.0), endless, t), [5, np.inf, np.inf, np.inf])
    npt.assert_array_equal(between(endless, endless, t), endless)


def test_wilson_stays_between_0_and_1():
    count = np.arange(1, 500)
    assert (wilson(count, count)[1] <= 1).all()
    assert (wilson(0 * count, count)[0] >= 0).all()
    assert (wilson(count, count)[1] > 0.999_999).all()


# --- bootstrap ----------------------------------------------------------------------------


def test_bootstrap_ranks_are_resamples_in_order():
    ranks = bootstrap_ranks(30, 4000)
    assert ranks.shape == (4000, 30)
    assert (np.diff(ranks, axis=-1) >= 0).all()
    # each place is drawn as often as any other: 4000 times, give or take 5 standard deviations
    times = np.bincount(ranks.ravel(), minlength=30)
    assert len(times) == 30
    assert np.abs(times - 4000).max() < 5 * np.sqrt(120_000 * (1 / 30) * (29 / 30))
    # a resample leaves a place out with probability (1 - 1/30)^30
    left_out = np.mean([0 not in row for row in ranks.tolist()])
    assert left_out == pytest.approx((1 - 1 / 30) ** 30, abs=0.04)
    with pytest.raises(ValueError, match="read-only"):
        ranks[0, 0] = 1


def test_the_bootstrap_interval_is_scipys():
    sample = np.sort(np.random.default_rng(1).normal(10, 3, 40))
    low, high = bootstrap_interval(sample[bootstrap_ranks(40, 5000)].mean(axis=-1))
    expected = scipy_stats.bootstrap(
        (sample,), np.mean, confidence_level=0.9, n_resamples=20_000, method="percentile", rng=2
    ).confidence_interval
    # both are drawn: the ends of such an interval scatter by 0.02 of its width or so
    assert low == pytest.approx(expected.low, abs=0.04)
    assert high == pytest.approx(expected.high, abs=0.04)


def test_the_bootstrap_interval_holds_its_share_and_endless_ones_stay_at_the_end():
    estimates = np.arange(1001.0)[::-1]
    assert bootstrap_interval(estimates) == (50.0, 950.0)
    assert bootstrap_interval(np.where(estimates > 940, np.inf, estimates)) == (50.0, np.inf)
    two = np.stack([estimates, 2 * estimates], axis=-1)
    npt.assert_array_equal(bootstrap_interval(two), [[50, 100], [950, 1900]])


# --- odds of the years to come ------------------------------------------------------------

ODDS = np.array([[0.0, 0.03, 0.5, np.nan, 0.5], [0.81, 1.0, 1.0, 0.2, 0.81]])
WORTH = np.array([[8.0, 12.5, 0.0, 30.0, 0.7], [40.0, 3.0, 25.6, np.nan, 40.0]])


def jeffreys(odds, worth):
    """SciPy's beta distribution after `worth` years, or None where nothing is known."""
    if not (odds >= 0 and worth > 0):
        return None
    return odds * worth + 0.5, (1 - odds) * worth + 0.5


def test_intervals_of_odds_are_scipys():
    low, high = odds_interval(ODDS, WORTH)
    least, most = next_interval(ODDS, WORTH, 7)
    for place, odds in np.ndenumerate(ODDS):
        known = jeffreys(odds, WORTH[place])
        found = low[place], high[place], least[place], most[place]
        if known is None:
            assert np.isnan(found).all()
            continue
        ends = scipy_stats.beta(*known).ppf([0.05, 0.95])
        numbers = scipy_stats.betabinom(7, *known).ppf([0.05, 0.95])
        expected = 0.0 if odds == 0 else ends[0], 1.0 if odds == 1 else ends[1], *numbers
        npt.assert_allclose(found, expected, rtol=1e-9)


@given(
    st.integers(0, 60).map(lambda n: n / 60),
    st.floats(0.51, 100),
    st.integers(1, 30),
)
def test_the_number_of_coming_years_is_scipys(odds, worth, years):
    one, other = scipy_stats.betabinom(years, *jeffreys(odds, worth)).interval(0.9)
    found = next_interval(np.float64(odds), np.float64(worth), years)
    npt.assert_array_equal(found, (one, other))
    # turned round, the years without the event
    low, high = next_interval(np.float64(1 - odds), np.float64(worth), years)
    npt.assert_array_equal((years - high, years - low), found)


def test_unless_asked_otherwise_the_coming_years_are_ten():
    npt.assert_array_equal(next_interval(ODDS, WORTH), next_interval(ODDS, WORTH, 10))
    pair = odds_interval(0.25, WORTH[0, :2])  # one value of odds for several worths
    npt.assert_array_equal(pair, odds_interval(np.full(2, 0.25), WORTH[0, :2]))


@pytest.mark.parametrize("kind", list(KINDS))
def test_years_are_worth_less_for_the_next_ten(kind):
    worth = np.array([0.5, 12.0, 30.0, 1e9])
    for climate, drift in (("record", KINDS[kind].record), ("today", KINDS[kind].today)):
        found = next_worth(worth, kind, climate)
        npt.assert_allclose(1 / found, 1 / worth + 1 / drift, rtol=1e-12)  # variances add up


def test_an_unknown_kind_of_event_is_refused():
    with pytest.raises(ValueError, match=r"^kind must be one of .*spring freeze.*got 'hail'"):
        next_worth(np.array([30.0]), "hail", "record")


@given(st.floats(0.05, 0.95), st.floats(10, 200), st.floats(0, 0.05))
def test_the_variance_of_the_level_adds_to_that_of_the_odds(odds, worth, variance):
    found = worth_at_level(np.array([worth]), np.array([odds]), variance)
    npt.assert_allclose(odds * (1 - odds) / found, odds * (1 - odds) / worth + variance, rtol=1e-9)


def test_odds_of_0_or_1_count_as_half_a_year_of_all():
    worth, least = np.array([30.0, 7.5]), np.array([0.5 / 31, 0.5 / 8.5])
    expected = 1 / (1 / worth + 0.01 / (least * (1 - least)))
    npt.assert_allclose(worth_at_level(worth, np.zeros(2), 0.01), expected, rtol=1e-12)
    npt.assert_allclose(worth_at_level(worth, np.ones(2), 0.01), expected, rtol=1e-12)
    npt.assert_array_equal(worth_at_level(worth, least, 0.0), worth)
    # half a year of all of 30 is 0.016: odds of 0.02 count as they are, those of 0.01 do not
    more, same = (worth_at_level(worth[:1], np.array([odds]), 0.01) for odds in (0.02, 0.01))
    npt.assert_allclose(1 / more, 1 / 30 + 0.01 / (0.02 * 0.98))
    npt.assert_allclose(same, expected[:1], rtol=1e-12)


@pytest.mark.parametrize("kind", list(KINDS))
def test_the_variance_from_the_level_is_that_of_a_normal_quantity(kind):
    odds = np.linspace(0.1, 0.9, 17)
    moved = PER_DEGREE.get(kind, 0) * 0.3  # in its own standard deviations
    density = scipy_stats.norm.pdf(scipy_stats.norm.ppf(odds))
    found = variance_of_level(odds, kind, 0.3)
    npt.assert_allclose(found, (density * moved) ** 2, rtol=0.12)
    npt.assert_allclose(found[8], moved**2 / (2 * np.pi), rtol=1e-12)  # exact at one half
    npt.assert_array_equal(variance_of_level(np.array([-0.1, 0, 1, 1.2]), kind, 0.3), 0)


def test_a_smoothed_share_is_the_mean_under_jeffreys_prior():
    hits, count = np.array([0, 3, 30, 1, 0]), np.array([30, 12, 30, 1, 0])
    found = smoothed_share(hits, count)
    npt.assert_allclose(found[:4], scipy_stats.beta(hits + 0.5, count - hits + 0.5).mean()[:4])
    assert np.isnan(found[4])
    npt.assert_allclose(within_reach(np.array([0, 0.3, 1.0]), 12), [0.5 / 13, 0.3, 12.5 / 13])


# --- smoothed dates -----------------------------------------------------------------------


@pytest.mark.parametrize("values", [DATES, np.append(DATES, [np.inf, -np.inf, 180.5]), WORKED])
def test_the_kernel_is_silvermans_and_keeps_the_variance(values):
    centres, width = kernel_of(values)
    drawn, there = centres[np.isfinite(centres)], values[np.isfinite(values)]
    npt.assert_allclose([(centre, width) for centre in drawn], smoothing.normals(values))
    npt.assert_array_equal(centres[~np.isfinite(values)], values[~np.isfinite(values)])
    assert drawn.var(ddof=1) + width**2 == pytest.approx(there.var(ddof=1))


def test_the_kernel_of_dates_close_together_is_half_a_day_wide():
    for values in ([], [7.0], [7.0, 7.0, np.inf], [np.inf, np.inf]):
        centres, width = kernel_of(np.array(values))
        npt.assert_array_equal(centres, values)
        assert width == LEAST_BANDWIDTH == 0.5
    assert kernel_of(np.array([7.0, 7.5, 8.0]))[1] == 0.5
    assert kernel_of(np.array([100.0, 140.0]))[1] > 5  # two dates have a spread


KERNEL_SAMPLES = [
    DATES,
    np.append(DATES, [np.inf] * 3 + [-np.inf] * 2),
    np.array([60.0, 61.0, 140.0, 200.5, 203.0, np.inf]),
    np.array([100.0, 100.0, 100.0]),
    np.array([12.25]),
]


@pytest.mark.parametrize("values", KERNEL_SAMPLES)
def test_smoothed_shares_and_days_are_each_others_inverse(values):
    n = len(values)
    days = np.array([-90.0, 12.0, 61.5, 100.0, 111.2, 127.0, 202.0, 500.0])
    expected = [
        min(max(smoothing.above(values, d), 0.5 / (n + 1)), 1 - 0.5 / (n + 1)) for d in days
    ]
    npt.assert_allclose(kernel_share_above(values, days), expected, rtol=1e-9)

    beyond, before = np.mean(values == np.inf), np.mean(values == -np.inf)
    shares = np.concatenate([[0.0, beyond, 1 - before, 1.0], np.linspace(0.023, 0.977, 40)])
    found = kernel_quantile(values, shares)
    for share, day in zip(shares, found, strict=True):
        if share <= beyond:
            assert day == np.inf
        elif share >= 1 - before:
            assert day == -np.inf
        else:
            true = optimize.brentq(lambda d, p=share: smoothing.above(values, d) - p, -99, 500)
            assert day == pytest.approx(true, abs=0.1)


@pytest.mark.parametrize("values", KERNEL_SAMPLES)
def test_the_smoothed_day_is_interpolated_between_tenths_of_a_day(values):
    normals = np.array(smoothing.normals(values))
    middles, widths = normals[:, :1], normals[:, 1:]
    ends = middles.min() - 5 * widths.max(), middles.max() + 5 * widths.max()
    tenths = np.arange(*ends, 0.1)
    above = scipy_stats.norm.sf(tenths, middles, widths).sum(axis=0) / len(values)
    above += np.mean(values == np.inf)
    # also shares so rare that the end of the five widths is the answer
    beyond, before = np.mean(values == np.inf), np.mean(values == -np.inf)
    rare = np.array([1e-9, 1e-5, 1e-3, 0.05])
    shares = np.concatenate([beyond + rare, 1 - before - rare, np.linspace(0.3, 0.7, 31)])
    expected = np.interp(-shares, -above, tenths)
    npt.assert_allclose(kernel_quantile(values, shares), expected, atol=1e-6)
    npt.assert_allclose(kernel_quantile(values, shares[::-1]), expected[::-1], atol=1e-6)


def test_smoothed_days_of_years_without_the_event_are_endless():
    values = np.array([-np.inf, np.inf, np.inf, np.inf])
    found = kernel_quantile(values, np.array([0.2, 0.75, 0.76, 1.0]))
    npt.assert_array_equal(found, [np.inf, np.inf, -np.inf, -np.inf])
    assert np.isnan(kernel_share_above(np.array([]), np.array([1.0, 2.0]))).tolist() == [True, True]


def test_slopes_of_pairs_are_in_order_and_leave_out_pairs_of_one_time():
    slopes, score = pairwise_slopes(np.array([1, 1, 2, 4]), np.array([3.0, 5.0, 4.0, 4.0]))
    # pairs: (2 at one time), 1/1, 1/3, -1/1, -1/3, 0/2; signs of the rises: + + + - - 0
    npt.assert_allclose(slopes, [-1, -1 / 3, 0, 1 / 3, 1])
    assert score == 1
