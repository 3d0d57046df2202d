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


@pytest.fixture
def dataset(array):
    return xr.Dataset({"tmin": array, "tmax": array + 8}, {"station": "S1"}, {"title": "a garden"})


@pytest.mark.parametrize(
    "change",
    [
        lambda d: d,
        lambda d: d["tmax"].values.__setitem__(3, 99.0),  # in place
        lambda d: d.assign_attrs(title="another garden"),
        lambda d: d.assign(tmax=d["tmax"].assign_attrs(units="K")),
        lambda d: d.rename(tmax="tmean"),
        lambda d: d.drop_vars("tmax"),
        lambda d: d.assign_coords(station="S2"),
        lambda d: d.assign_coords(threshold=[0.0, -2.0]),  # of no variable
        lambda d: d.assign_coords(time=TIME + np.timedelta64(1, "D")),
    ],
    ids=[
        "nothing",
        "value",
        "title",
        "units",
        "name",
        "variable",
        "station",
        "coordinate",
        "dates",
    ],
)
def test_a_dataset_is_known_by_all_it_holds(dataset, counted, change, request):
    doubled, calls = counted
    doubled(dataset)
    changed = change(dataset)
    doubled(dataset.copy(deep=True) if changed is None else changed.copy(deep=True))
    assert len(calls) == (1 if request.node.callspec.id == "nothing" else 2)


def test_a_caller_may_write_to_a_dataset(dataset, counted):
    doubled, calls = counted
    expected = 2 * dataset["tmax"].values
    for _ in range(3):
        result = doubled(dataset)
        np.testing.assert_array_equal(result["tmax"], expected)
        assert "spoilt" not in {*result.attrs, *result["tmax"].attrs, *result}
        result["tmax"].values[:] = np.nan
        result["tmax"].attrs["spoilt"] = result.attrs["spoilt"] = True
        result["spoilt"] = 1
    assert len(calls) == 1


def test_a_dataset_with_a_lazy_variable_is_computed_each_time(dataset, counted):
    doubled, calls = counted
    lazy = dataset.assign(tmax=dataset["tmax"].chunk(time=100))
    for _ in range(2):
        doubled(lazy)
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


def test_only_the_latest_are_remembered(array, counted, monkeypatch):
    doubled, calls = counted
    fit = 5
    monkeypatch.setattr(memo, "KEPT_BYTES", fit * doubled(array, -1).nbytes)
    for factor in range(fit + 1):
        doubled(array, factor)
    assert len(calls) == fit + 2
    doubled(array, fit)
    assert len(calls) == fit + 2
    doubled(array, 0)
    assert len(calls) == fit + 3


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
