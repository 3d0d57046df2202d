"""Shares over draws against plain means, and their worth against a simulation of gappy years."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from climwin.core.draws import count_over_draws, of_each_draw
from climwin.core.stats import wilson


@given(st.lists(st.sampled_from([0.0, 1.0, np.nan]), min_size=1, max_size=30), st.integers(0, 1000))
def test_share_is_the_mean_over_draws_of_each_draws_share(known, seed):
    happened = np.array(known)
    drawn = np.random.default_rng(seed).integers(0, 2, (len(happened), 10)).astype(float)
    found = count_over_draws(happened, drawn)
    shares = [
        np.mean([d if np.isnan(k) else k for k, d in zip(happened, column, strict=True)])
        for column in drawn.T
    ]
    assert found.share == pytest.approx(np.mean(shares))
    assert found.years == len(happened)
    assert found.leaning == np.isnan(happened).sum()
    assert 0 < found.worth <= found.years


def test_years_that_no_draw_decides_are_left_out():
    happened = np.array([1.0, np.nan, np.nan, 0.0])
    drawn = np.array([[np.nan, np.nan], [1.0, np.nan], [1.0, 1.0], [np.nan, np.nan]])
    found = count_over_draws(happened, drawn)
    assert (found.years, found.leaning) == (3, 1)
    assert found.share == pytest.approx(2 / 3)


def test_no_year_has_no_share():
    found = count_over_draws(np.array([np.nan]), np.full((1, 4), np.nan))
    assert np.isnan(found.share)
    assert (found.years, found.worth) == (0, 0)


def test_known_years_are_worth_themselves_and_doubtful_ones_less_and_less():
    drawn = np.tile([0.0, 1.0], (20, 10))
    worth = []
    for lost in (0, 2, 5, 10):
        happened = np.tile([0.0, 1.0], 10)
        happened[:lost] = np.nan
        worth.append(float(count_over_draws(happened, drawn).worth))
    assert worth[0] == 20
    assert worth == sorted(worth, reverse=True)
    # Years of which nothing is known are worth about as much as if they were not there.
    assert worth[-1] == pytest.approx(10 * 20 / 15, rel=0.2)


def holds(share_open, rng, truth=0.4):
    """How often the interval of thirty years holds the truth, a share of them left to draws."""
    held = []
    for _ in range(3000):
        chance = rng.beta(0.8, 1.2, 30)  # mean 0.4: some years are nearly sure, some are not
        happened = (rng.random(30) < chance).astype(float)
        is_open = rng.random(30) < share_open
        drawn = (rng.random((30, 8)) < chance[:, None]).astype(float)
        found = count_over_draws(np.where(is_open, np.nan, happened), drawn)
        low, high = wilson(found.share * found.worth, found.worth)
        held.append(low <= truth <= high)
    return np.mean(held)


def test_the_interval_holds_at_its_rate_where_years_hang_on_draws():
    rng = np.random.default_rng(0)
    assert 0.87 <= holds(0.0, rng) <= 0.93
    assert 0.87 <= holds(0.2, rng) <= 0.95
    # Chances drawn from a model that is right scatter less than outcomes do, so Rubin's rule, which
    # adds to the interval, holds more often than it says: never less.
    assert holds(0.5, rng) >= 0.9


def test_stations_pass_through():
    happened = np.array([[1.0, np.nan], [0.0, 0.0]])
    drawn = np.array([[[0.0, 0.0], [1.0, 0.0]], [[0.0, 0.0], [0.0, 0.0]]])
    found = count_over_draws(happened, drawn)
    assert found.share == pytest.approx([0.75, 0.0])
    assert found.leaning.tolist() == [1, 0]


@given(st.lists(st.lists(st.sampled_from([-np.inf, 3.0, 4.5]), min_size=3, max_size=3), min_size=1))
def test_draws_that_agree_are_asked_once_and_each_gets_its_own_answer(samples):
    asked = []

    def function(sample):
        asked.append(tuple(sample))
        return np.array([sample[0], sample.sum()])

    found = of_each_draw(function, np.array(samples))
    assert found.tolist() == [[sample[0], sum(sample)] for sample in samples]
    assert sorted(asked) == sorted({tuple(sample) for sample in samples})
