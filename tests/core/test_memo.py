"""Results are remembered by content: what changed is computed anew, what did not is not."""

import threading

import numpy as np
import pytest
import xarray as xr

from climwin.core import memo
from climwin.core.memo import remembered
from climwin.core.seasons import by_year

TIME = np.arange("2001-01-01", "2004-01-01", dtype="datetime64[D]").astype("datetime64[s]")


@pytest.fixture
def array():
    values = np.random.default_rng(1).normal(10, 5, len(TIME))
    return xr.DataArray(values, {"time": TIME}, ("time",), "tmin", {"units": "degC"})


@pytest.fixture
def counted():
    """A remembered function, and the list of its calls that were computed."""
    calls = []

    @remembered
    def doubled(array, factor=2.0):
        calls.append(factor)
        return factor * array

    return doubled, calls


def test_the_same_is_computed_once(array, counted):
    doubled, calls = counted
    first = doubled(array)
    for again in (array, array.copy(deep=True)):
        xr.testing.assert_identical(doubled(again), first)
    assert len(calls) == 1


@pytest.mark.parametrize(
    "change",
    [
        lambda a: a.values.__setitem__(3, 99.0),  # in place
        lambda a: a.attrs.__setitem__("units", "K"),
        lambda a: a.rename("tmax"),
        lambda a: a.assign_coords(time=TIME + np.timedelta64(1, "D")),
        lambda a: a.assign_coords(station="S1"),
        lambda a: a.astype("float32"),
        lambda a: a.isel(time=slice(None, -1)),
    ],
    ids=["value", "attribute", "name", "dates", "coordinate", "type", "length"],
)
def test_what_changed_is_computed_anew(array, counted, change):
    doubled, calls = counted
    doubled(array)
    changed = change(array)
    doubled(array if changed is None else changed)
    assert len(calls) == 2


def test_plain_values_count_with_their_kind(array, counted):
    doubled, calls = counted
    for factor in (2.0, 3.0, 2, True):
        doubled(array, factor)
    doubled(array, factor=3.0)  # by name is another call
    assert calls == [2.0, 3.0, 2, True, 3.0]


def test_a_caller_may_write_to_a_result(array, counted):
    doubled, calls = counted
    for _ in range(3):
        result = doubled(array)
        np.testing.assert_array_equal(result, 2 * array.values)
        result.values[:] = np.nan
        result.attrs["units"] = "spoilt"
    assert len(calls) == 1


def test_only_the_latest_are_remembered(array, counted):
    doubled, calls = counted
    for factor in range(memo.LATEST + 1):
        doubled(array, factor)
    doubled(array, memo.LATEST)
    assert len(calls) == memo.LATEST + 1
    doubled(array, 0)
    assert len(calls) == memo.LATEST + 2


def test_large_lazy_and_object_arrays_are_computed_each_time(array, counted, monkeypatch):
    doubled, calls = counted
    lazy = array.chunk(time=100)
    named = array.assign_coords(label=("time", np.full(len(TIME), None, dtype=object)))
    for each in (lazy, named):
        doubled(each)
        doubled(each)
    assert doubled(lazy).chunks is not None
    assert len(calls) == 5
    monkeypatch.setattr(memo, "LARGEST", array.nbytes - 1)
    doubled(array)
    doubled(array)
    assert len(calls) == 7


def test_an_error_is_not_remembered(array):
    twice = xr.concat([array, array], "time")
    for _ in range(2):
        with pytest.raises(ValueError, match="holds the same date twice"):
            by_year(twice)


def test_threads_get_their_own_answers(array, counted):
    doubled, _ = counted
    wrong = []

    def ask(factor):
        results = (doubled(array, factor).values for _ in range(50))
        wrong.extend(each for each in results if not np.array_equal(each, factor * array.values))

    threads = [threading.Thread(target=ask, args=(float(n),)) for n in range(8)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert wrong == []
