"""Runs against `itertools.groupby`."""

from itertools import groupby

import numpy as np
import numpy.testing as npt
from hypothesis import given
from hypothesis import strategies as st

from climwin.core.runs import equal_runs, true_runs


def by_hand(values):
    """First position, the one after the last, and value of each run."""
    for value, run in groupby(enumerate(values), key=lambda item: item[1]):
        places = [place for place, _ in run]
        yield places[0], places[-1] + 1, value


@given(st.lists(st.booleans(), max_size=40))
def test_runs_of_true_elements_are_those_of_a_loop(mask):
    begin, end = true_runs(np.array(mask, bool))
    expected = [(first, after) for first, after, value in by_hand(mask) if value]
    assert list(zip(begin.tolist(), end.tolist(), strict=True)) == expected


@given(st.lists(st.integers(-1, 2), max_size=40), st.sampled_from([int, float]))
def test_runs_of_equal_neighbours_are_those_of_a_loop(values, kind):
    begin, end = equal_runs(np.array(values, kind))
    expected = [(first, after) for first, after, _ in by_hand(values)]
    assert list(zip(begin.tolist(), end.tolist(), strict=True)) == expected


def test_a_missing_value_is_a_run_of_its_own():
    begin, end = equal_runs(np.array([1.0, np.nan, np.nan, 2.0, 2.0]))
    npt.assert_array_equal(begin, [0, 1, 2, 3])
    npt.assert_array_equal(end, [1, 2, 3, 5])
