"""Dates chosen from some years and judged on others: by plain loops, and against known odds."""

from functools import lru_cache

import numpy as np
import numpy.testing as npt
import pytest
from hypothesis import example, given
from hypothesis import strategies as st
from planning import plain_choice
from scipy import stats

from climwin.core.seasons import DAYS
from climwin.core.stats import wilson, within_reach, worth_at_level
from climwin.planning import selection
from climwin.planning.selection import (
    BLOCK_YEARS,
    LEAST_BLOCKS,
    Blocks,
    _around,
    _best_of_run,
    _largest_deviations,
    best_run,
    best_start,
    block_count,
    blocks_of,
    chosen_elsewhere,
    circular_mean,
    elsewhere_interval,
    judge_choice,
    judged_best,
    judged_elsewhere,
    near_best,
    runs_of_year,
    simultaneous_band,
    sums_by_block,
)


def choose_and_judge(harvested, known, worth):
    """Harvests and known years of the best date, judged on years left out, and `stable`."""
    blocks = Blocks(harvested, known, worth, np.zeros_like(worth))
    day, stable = chosen_elsewhere(blocks)
    return *judged_elsewhere(blocks, day), stable


def exact(hits, count, level):
    """Clopper and Pearson's interval of a share, by SciPy."""
    return np.array(exact_table(count, level))[hits].T


@lru_cache
def exact_table(count, level):
    return [stats.binomtest(k, count).proportion_ci(level, "exact") for k in range(count + 1)]


def curve():
    """True odds by start date: a broad top of 0.7 in spring."""
    return 0.7 * np.exp(-(((np.arange(DAYS) - 120) / 25) ** 4))


def years_of(odds, seasons, rng, alike=12.0, lag_one=0.0):
    """Harvests of some years: neighbouring dates share their luck, and so do years in a row."""
    noise = rng.normal(size=(seasons, DAYS))
    for year in range(1, seasons):
        noise[year] = lag_one * noise[year - 1] + np.sqrt(1 - lag_one**2) * noise[year]
    kernel = np.exp(-((np.minimum(np.arange(DAYS), DAYS - np.arange(DAYS)) / alike) ** 2) / 2)
    smooth = np.fft.ifft(np.fft.fft(noise) * np.fft.fft(kernel)).real
    smooth /= np.sqrt((kernel**2).sum())
    from scipy.special import ndtr

    return ndtr(smooth) < odds


@pytest.mark.parametrize("seasons", [1, 4, 5, 9, 10, 17, 25, 40, 43])
def test_blocks_are_of_years_that_follow_each_other(seasons):
    block = blocks_of(seasons)
    plain = np.zeros(seasons, int)
    for number, (first, after) in enumerate(plain_choice.blocks(seasons)):
        plain[first:after] = number
    npt.assert_array_equal(block, plain)
    assert block_count(seasons) == block.max() + 1
    if seasons >= LEAST_BLOCKS:
        assert block.max() + 1 >= LEAST_BLOCKS
    assert np.bincount(block).max() <= 2 * BLOCK_YEARS - 1
    values = np.random.default_rng(0).normal(size=(seasons, 3))
    sums = sums_by_block(values)
    assert sums.shape == (3, block.max() + 1)
    npt.assert_allclose(sums.sum(-1), values.sum(0))


@pytest.mark.parametrize("seed", range(6))
def test_judgement_on_years_left_out_is_that_of_plain_loops(seed):
    rng = np.random.default_rng(seed)
    seasons = int(rng.integers(10, 34))
    harvested = years_of(curve(), seasons, rng)
    known = rng.random((seasons, DAYS)) > 0.1
    harvested &= known
    worth = harvested * (100 + rng.normal(0, 10, DAYS))
    hits, years, stable = choose_and_judge(
        *(sums_by_block(1.0 * each) for each in (harvested, known, worth))
    )
    assert (hits, years) == plain_choice.judged(harvested, known, worth)
    assert ((stable >= 0) & (stable <= 1)).all()
    best = int(rng.integers(100, 140))
    blocks = Blocks(*(sums_by_block(1.0 * each) for each in (harvested, known, worth, worth)))
    allowed, judged = judged_best(blocks, chosen_elsewhere(blocks)[0], best)
    assert judged == years
    assert allowed == pytest.approx(plain_choice.judged_best(harvested, known, worth, best))
    means = worth.sum(0) / np.maximum(known.sum(0), 1)
    for given_stable in (None, stable):
        plain = plain_choice.best_day(means, known.any(0), given_stable)
        assert best_start(means, known.any(0), given_stable) == plain


def test_a_lucky_day_is_not_the_best_date():
    # A broad top at day 120; day 200 is a little higher through the first five years alone.
    worth = np.tile(50 * curve(), (25, 1))
    worth[:5, 200] = 180.0
    known = np.ones_like(worth)
    _, _, stable = choose_and_judge(*(sums_by_block(each) for each in (known, known, worth)))
    means = worth.mean(0)
    assert means.argmax() == 200
    assert stable[200] == pytest.approx(0.8)  # near the best wherever those years are among them
    assert stable[120] == pytest.approx(0.2)
    # Of dates near the best only those make up the run that stay so whichever block is left out.
    means[200] = 36.0
    stable = np.where(np.abs(np.arange(DAYS) - 120) <= 9, 1.0, 0.6)
    stable[200] = 0.8
    assert best_run(means, known.all(0), stable=stable) == (111, 19)
    assert abs(best_start(means, known.all(0), stable) - 120) <= 9
    assert best_run(means, known.all(0))[0] == 200  # the lucky day, had nobody looked


def test_the_run_near_the_best():
    def run(worth, known=1):
        return best_run(worth, np.broadcast_to(known, DAYS) > 0)

    worth = np.zeros(DAYS)
    worth[[363, 364, 0, 1, 2]] = 9.5  # round the year's end
    worth[1] = 10.0
    worth[100:130] = 8.9  # more than a tenth below the best
    assert run(worth) == (363, 5)
    assert run(np.full(DAYS, 3.0)) == (0, 365)
    assert run(np.zeros(DAYS)) == (0, 1)
    known = np.zeros(DAYS, int)
    known[50] = 1
    assert run(worth, known) == (50, 1)


@given(st.integers(0, DAYS - 1))
def test_any_rule_is_judged_in_each_block_by_the_day_it_chose_without_it(day):
    rng = np.random.default_rng(day)
    harvested = rng.random((DAYS, 6)) * 5
    known = np.full((DAYS, 6), 5.0)
    blocks = Blocks(harvested, known, harvested, harvested)
    seen = []

    def choose(others):
        seen.append(others.known[day])
        return day

    hits, years = judge_choice(blocks, choose)
    assert hits == pytest.approx(harvested[day].sum())
    assert years == 30
    assert seen == [25] * 6  # each time without the five years of the block


def test_nothing_is_added_where_all_choices_agree_or_did_better_than_the_best():
    rng = np.random.default_rng(3)
    harvested = rng.integers(0, 6, (DAYS, 6)).astype(float)
    blocks = Blocks(harvested, np.full((DAYS, 6), 5.0), harvested, harvested)
    same = np.full(6, 40)
    assert judged_best(blocks, same, 40) == judged_elsewhere(blocks, same)
    harvested[40] = 5.0  # the best of all never fails, the others never give a harvest
    harvested[41] = 0.0
    hits, years = judged_best(blocks, np.full(6, 41), 40)
    assert (hits, years) == (15.0, 30.0)  # half of what a choice without the best would cost
    harvested[42] = [5.0, 5.0, 5.0, 0.0, 0.0, 0.0]
    harvested[43] = [5.0, 5.0, 5.0, 1.0, 1.0, 1.0]
    lucky = np.array([42, 42, 42, 43, 43, 43])  # 18 harvests where they judge; all years: 15 and 18
    assert judged_elsewhere(blocks, lucky) == (18.0, 30.0)
    assert judged_best(blocks, lucky, 43) == (18.0, 30.0)  # not more than the best itself has


@given(
    st.floats(0, 1),
    st.floats(1, 200),
    st.floats(0, 0.5),
)
def test_the_odds_lie_inside_their_interval(share, years, error):
    low, high = elsewhere_interval(np.array(share * years), np.array(years), error=error)
    told = share * years / years
    assert 0 <= low <= told <= high <= 1
    assert low <= within_reach(told, years) <= high
    surer_low, surer_high = elsewhere_interval(np.array(share * years), np.array(years))
    assert low <= surer_low + 1e-12
    assert surer_high <= high + 1e-12


def test_an_interval_without_years_is_missing():
    assert np.isnan(elsewhere_interval(np.array(0.0), np.array(0.0))).all()


@pytest.mark.parametrize("seasons", [15, 40])
def test_the_share_elsewhere_is_not_too_good_and_its_interval_covers(seasons):
    # A flat top of 80 days: whichever date is chosen, its odds are 0.6, so the years that chose it
    # praise it too much.
    odds = 0.6 * (np.abs(np.arange(DAYS) - 120) <= 40)
    rng = np.random.default_rng(5)
    own, elsewhere, covered = [], [], []
    for _ in range(300):
        harvested = years_of(odds, seasons, rng, alike=4.0)
        known = np.ones_like(harvested)
        sums = [sums_by_block(1.0 * each) for each in (harvested, known, harvested)]
        without, stable = chosen_elsewhere(Blocks(*sums, sums[0]))
        day = best_start(harvested.mean(0), known.all(0), stable)
        hits, years = judged_best(Blocks(*sums, sums[0]), without, day)
        truth = odds[day]
        low, high = elsewhere_interval(np.array(hits), np.array(years))
        own.append(harvested[:, day].mean() - truth)
        elsewhere.append(hits / years - truth)
        covered.append(low <= truth <= high)
    assert np.mean(own) > 0.04
    assert abs(np.mean(elsewhere)) < 0.03
    assert 0.84 <= np.mean(covered) <= 0.97


@pytest.mark.parametrize("lag_one", [0.0, 0.3])
def test_the_band_holds_the_whole_curve_and_is_no_wider_than_that_of_dates_each_for_itself(lag_one):
    rng = np.random.default_rng(11)
    held, pointwise = [], []
    for _ in range(300):
        harvested = years_of(curve(), 40, rng, lag_one=lag_one)
        known, hits = np.ones_like(harvested), harvested.sum(0)
        low, high = simultaneous_band(harvested, known)
        held.append(((low <= curve()) & (curve() <= high)).all())
        each_low, each_high = exact(hits, 40, 0.9)
        pointwise.append(((each_low <= curve()) & (curve() <= each_high)).all())
        assert (low <= each_low + 1e-12).all()
        assert (high >= each_high - 1e-12).all()
    widest = exact(hits, 40, 1 - 0.1 / DAYS)  # of as many dates as if each stood for itself
    assert (low >= widest[0] - 1e-12).all()
    assert (high <= widest[1] + 1e-12).all()
    assert 0.86 <= np.mean(held) <= 0.99
    assert np.mean(pointwise) < 0.6


def test_a_band_of_unknown_years_is_missing():
    nothing = np.zeros((5, DAYS), bool)
    low, high = simultaneous_band(nothing, nothing)
    assert np.isnan(low).all()
    assert np.isnan(high).all()


def test_a_block_sums_its_years_and_leaves_missing_ones_out():
    values = np.arange(20 * DAYS, dtype=float).reshape(20, DAYS)
    values[3, :5] = values[7, 2] = np.nan
    found, block = sums_by_block(values), blocks_of(20)
    assert found.shape == (DAYS, block.max() + 1)
    for day in (0, 2, 4, 5, 364):
        for number in range(block.max() + 1):
            own = [values[year, day] for year in range(20) if block[year] == number]
            assert found[day, number] == sum(each for each in own if not np.isnan(each))


# --- the circle of the year ---------------------------------------------------------------

MASKS = st.lists(st.tuples(st.integers(0, DAYS - 1), st.integers(1, 80)), max_size=5)


def circle(runs):
    mask = np.zeros(DAYS, bool)
    for first, length in runs:
        mask[(first + np.arange(length)) % DAYS] = True
    return mask


@given(MASKS)
def test_each_run_on_the_circle_begins_and_ends_where_the_plain_loop_has_it(runs):
    mask = circle(runs)
    found = runs_of_year(mask)
    begins = [day for day in range(DAYS) if mask[day] and not mask[day - 1]]
    assert sorted(first for first, _ in found) == begins
    for first, length in found:
        days = [(first + n) % DAYS for n in range(length)]
        assert mask[days].all()
        assert not mask[(first + length) % DAYS]
    assert sum(length for _, length in found) == mask.sum()
    assert runs_of_year(np.ones(DAYS, bool)) == [(0, DAYS)]


@given(MASKS, st.integers(1, 21), st.integers(0, 2**32 - 1))
@example([], 15, 0)
@example([(3, 9)], 15, 0)
def test_the_mean_around_a_day_leaves_missing_days_out(runs, width, seed):
    values = np.random.default_rng(seed).normal(size=(2, DAYS))
    values[:, circle(runs)] = np.nan
    found = circular_mean(values, width)
    for day in range(0, DAYS, 7):
        around = [(day + n - width // 2) % DAYS for n in range(width)]
        for row in range(2):
            known = [values[row, n] for n in around if not np.isnan(values[row, n])]
            if known:
                assert found[row, day] == pytest.approx(sum(known) / len(known))
            else:
                assert np.isnan(found[row, day])


@pytest.mark.parametrize("within", [0.0, 0.1, 0.3])
def test_the_run_is_as_wide_as_what_it_may_lie_below_the_best(within):
    """The worth falls by a hundredth a day from day 180 on, to both sides."""
    worth = np.maximum(0.01, 1 - 0.01 * np.abs(np.arange(DAYS) - 180.0))
    reach = round(100 * within)
    known = np.ones(DAYS, bool)
    assert best_run(worth, known, within) == (180 - reach, 2 * reach + 1)
    near, best = near_best(worth, known, within)
    assert best == 180
    assert near.sum() == 2 * reach + 1


def test_the_band_is_that_of_a_plain_loop_over_resamples_and_dates():
    rng = np.random.default_rng(3)
    known = rng.random((12, 9)) < 0.9
    harvested = known & (rng.random((12, 9)) < np.linspace(0, 1, 9))
    weights = np.random.default_rng(0).normal(size=(selection._RESAMPLES, 12))
    furthest = []
    for of_years in weights:
        largest = 0.0
        for date in range(9):
            hits, years = harvested[:, date].sum(), known[:, date].sum()
            drawn = sum(
                weight * (came - hits / years)
                for weight, came, is_known in zip(
                    of_years, harvested[:, date], known[:, date], strict=True
                )
                if is_known
            )
            share = (hits + 1) / (years + 2)
            largest = max(largest, abs(drawn) / np.sqrt(share * (1 - share) * years))
        furthest.append(largest)
    reach = max(np.quantile(furthest, 0.9), stats.norm.ppf(0.95))
    tail = stats.norm.sf(reach / np.sqrt(selection.COUNTED_YEAR))
    found = simultaneous_band(harvested, known, 0.9)
    for date in range(9):
        hits, years = int(harvested[:, date].sum()), int(known[:, date].sum())
        ends = stats.binomtest(hits, years).proportion_ci(1 - 2 * tail, method="exact")
        assert [each[date] for each in found] == pytest.approx([ends.low, ends.high], abs=1e-6)


@pytest.mark.parametrize("agree", ["some", "first", "all"])
def test_the_largest_deviation_of_each_resample_is_that_of_a_plain_loop(agree):
    """Dates that do as the date before, or on which all years agree, change nothing."""
    rng = np.random.default_rng(5)
    came = (rng.random((11, 12)) < np.linspace(0.1, 0.9, 12)).astype(float)
    came[:, [4, 5, 8]] = came[:, [3, 3, 7]]  # as the date before
    came[:, 10] = 1.0
    if agree == "first":
        came[:, 0] = 0.0
    elif agree == "all":
        came[:] = [float(date % 2) for date in range(12)]
    hits, counted = came.sum(axis=0), np.full(12, 11.0)
    residual = came - hits / counted
    found = _largest_deviations(residual, hits, counted)
    weights = np.random.default_rng(0).normal(size=(selection._RESAMPLES, 11))
    share = (hits + 1) / (counted + 2)
    errors = np.sqrt(share * (1 - share) * counted)
    assert found.shape == (selection._RESAMPLES,)
    for resample, of_years in enumerate(weights):
        largest = max(abs(sum(of_years * residual[:, date])) / errors[date] for date in range(12))
        assert found[resample] == pytest.approx(largest, abs=1e-12)


@pytest.mark.parametrize(("hits", "known", "error"), [(6.5, 10, 0.0), (6, 10, 0.2), (30, 40, 0.1)])
def test_the_interval_elsewhere_counts_fewer_years_and_the_error_of_the_level(hits, known, error):
    low, high = elsewhere_interval(np.array(hits), np.array(known), error=error)
    share = hits / known
    worth = worth_at_level(np.array(0.7 * known), np.array(share), np.array(error**2))
    assert (worth < 0.7 * known) == (error > 0)
    npt.assert_allclose([low, high], wilson(worth * share, worth))


def test_of_several_good_days_the_one_with_the_best_known_fortnight_leads():
    """A day that is not known counts for nothing of its neighbours' fortnight."""
    rng = np.random.default_rng(2)
    for _ in range(20):
        worth = np.where(rng.random(DAYS) < 0.5, 1.0, rng.uniform(0.95, 1.0, DAYS))
        known = rng.random(DAYS) < 0.7
        first, days = best_run(worth, known)
        around = []
        for day in range(DAYS):
            near = [(day + k) % DAYS for k in range(-7, 8)]
            of_known = [worth[each] for each in near if known[each]]
            around.append(sum(of_known) / len(of_known) if of_known else 0.0)
        npt.assert_allclose(_around(worth, known), around)
        run = [(first + n) % DAYS for n in range(days)]
        assert best_start(worth, known) == max(run, key=lambda day: around[day])
        assert _best_of_run(first, days, np.array(around)) == max(run, key=lambda day: around[day])


@pytest.mark.parametrize("seasons", [1, 2, 3, 4])
def test_a_short_record_has_a_block_for_each_year(seasons):
    assert blocks_of(seasons).tolist() == list(range(seasons))


def test_a_best_date_of_a_single_known_year_is_judged_on_that_year():
    """Of five blocks one is known: nothing is known of the choice in the others."""
    one = np.zeros((3, 5))
    one[0, 2] = 1.0
    blocks = Blocks(one, one, 80 * one, 0.8 * one)
    assert judged_best(blocks, np.zeros(5, int), 0) == (1.0, 1.0)
    failed = Blocks(0 * one, one, 0 * one, 0 * one)
    assert judged_best(failed, np.zeros(5, int), 0) == (0.0, 1.0)


def test_the_allowance_for_fewer_years_goes_half_way_to_the_best_and_not_below_nothing():
    """Dates are known in the blocks of which something is told, one year in each."""

    def judged(harvested, known, day, best=0):
        tables = (np.array(each, float) for each in (harvested, known, harvested, harvested))
        return judged_best(Blocks(*tables), np.array(day), best)

    never = [0, 0, 0, 0, 0]
    # The one year of the best date was a harvest; that of the date chosen for block 1 was none.
    assert judged([[1, 0, 0, 0, 0], never], [[1, 0, 0, 0, 0], [0, 1, 0, 0, 0]], [1] * 5) == (0.5, 1)
    # A date that did well in other years failed in its own; the best one never came to anything.
    one = [[0] * 5, [1, 1, 1, 1, 0]], [[0] * 5, [1] * 5], [0, 0, 0, 0, 1]
    assert judged(*one) == (0.0, 1)
