"""Units against fixed points, checks by their errors, places by their bounds."""

import numpy as np
import numpy.testing as npt
import pytest
import xarray as xr
from hypothesis import given
from hypothesis import strategies as st
from records import weather

from climwin.core.errors import RecordError
from climwin.core.schema import (
    VARIABLES,
    Garden,
    Station,
    apply,
    check_choice,
    check_units,
    difference_from_celsius,
    from_celsius,
    to_celsius,
    variable,
)

# --- units --------------------------------------------------------------------------------


# Fixed points: the two scales meet at -40; water freezes and boils; 100 degF by definition.
@pytest.mark.parametrize(
    ("celsius", "fahrenheit"), [(-40, -40), (0, 32), (100, 212), (340 / 9, 100)]
)
def test_fixed_points_of_the_two_scales(celsius, fahrenheit):
    assert to_celsius(fahrenheit, "F") == pytest.approx(celsius)
    assert from_celsius(celsius, "F") == pytest.approx(fahrenheit)
    assert to_celsius(celsius, "C") == from_celsius(celsius, "C") == celsius


@given(st.floats(-100, 100), st.floats(-100, 100))
def test_a_difference_converts_without_the_offset(warm, cold):
    expected = from_celsius(warm, "F") - from_celsius(cold, "F")
    assert difference_from_celsius(warm - cold, "F") == pytest.approx(expected, abs=1e-9)
    assert difference_from_celsius(warm - cold, "C") == warm - cold


def test_arrays_keep_their_labels():
    values = xr.DataArray([32.0, 50.0], dims="time")
    assert to_celsius(values, "F").dims == ("time",)
    npt.assert_allclose(to_celsius(values, "F"), [0, 10])


def test_another_scale_is_refused():
    for convert in (to_celsius, from_celsius, difference_from_celsius):
        with pytest.raises(ValueError, match="one of C, F; got 'K'"):
            convert(280.0, "K")


def test_units_are_checked_and_the_way_to_convert_is_given():
    values = xr.DataArray([1.0], dims="time", name="tmin", attrs={"units": "degC"})
    check_units(values, "degC")
    with pytest.raises(ValueError, match=r"must be in degC, got 'degF'\. Convert it first"):
        check_units(values.assign_attrs(units="degF"), "degC")
    with pytest.raises(ValueError, match="must be in mm, got None"):
        check_units(values.drop_attrs(), "mm")


# --- variables and choices ----------------------------------------------------------------


def test_a_variable_comes_with_its_unit_checked():
    record = weather(years=1)
    xr.testing.assert_identical(variable(record, "tmax"), record["tmax"])
    with pytest.raises(ValueError, match=r"no 'precip' \(daily precipitation\).*tmin, tmax, tmean"):
        variable(record, "precip")
    record["tmin"].attrs["units"] = "K"
    with pytest.raises(ValueError, match="'tmin' must be in degC, got 'K'"):
        variable(record, "tmin")


def test_variables_have_the_units_of_the_package():
    assert {each.units for each in VARIABLES.values()} == {"degC", "mm"}


def test_a_choice_is_one_of_those_allowed():
    check_choice("cover", "fleece", ["none", "fleece"])
    with pytest.raises(ValueError, match=r"cover must be one of none, fleece; got 'igloo'"):
        check_choice("cover", "igloo", ["none", "fleece"])


# --- places -------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("place", "highest"),
    [
        # 6910 for 691 m is no garden: nothing is grown above 5000 m (from memory).
        (lambda *at: Garden("mill", *at), 5000),
        (lambda *at: Station("X1", "mill", *at), 9000),
    ],
)
@pytest.mark.parametrize(
    ("label", "low", "high"),
    [("latitude", -90, 90), ("longitude", -180, 180), ("elevation", -500, None)],
)
def test_a_place_lies_on_the_globe(place, highest, label, low, high):
    high = highest if high is None else high
    position = {"latitude": 46.1, "longitude": 7.2, "elevation": 640.0}
    for value in (low, high):
        assert getattr(place(*(position | {label: value}).values()), label) == value
    refused = f"{label} of 'mill' must lie between {low} and {high},"
    for value in (low - 0.1, high + 0.1, np.nan):
        with pytest.raises(ValueError, match=refused):
            place(*(position | {label: value}).values())


def test_a_place_has_a_name():
    with pytest.raises(ValueError, match="A place needs a name"):
        Garden("  ", 46.1, 7.2)
    with pytest.raises(ValueError, match=r"its name, its latitude and its longitude.*got 46\.1 as"):
        Garden(46.1, 7.2, "mill")
    with pytest.raises(ValueError, match=r"latitude of 'mill' must be a number.*got '46,1'"):
        Garden("mill", "46,1", 7.2)
    assert Garden("mill", 46.1, 7.2).elevation is None


# --- kernels over labelled arrays ---------------------------------------------------------


def test_a_kernel_passes_other_dimensions_through_and_dask_stays_lazy():
    values = xr.DataArray(np.arange(12.0).reshape(3, 4), dims=("station", "time"))
    mean = apply(lambda v: v.mean(axis=-1), values, core=[["time"]])
    assert mean.dims == ("station",)
    npt.assert_array_equal(mean, [1.5, 5.5, 9.5])
    lazy = apply(lambda v: v.mean(axis=-1), values.chunk({"station": 1}), core=[["time"]])
    assert lazy.chunks is not None
    npt.assert_array_equal(lazy, mean)


def test_a_kernel_of_one_station_sees_one_at_a_time():
    values = xr.DataArray(np.arange(12.0).reshape(3, 4), dims=("station", "time"))
    shapes = []

    def kernel(v):
        shapes.append(v.shape)
        return v[::-1], v.max()

    turned, largest = apply(
        kernel, values, core=[["time"]], out=[["time"], []], dtypes=[float, float], each=True
    )
    npt.assert_array_equal(turned, values[:, ::-1])
    npt.assert_array_equal(largest, [3, 7, 11])
    assert set(shapes) == {(4,)}


@pytest.mark.parametrize(
    ("wrong", "said"),
    [
        (lambda _: None, "xarray Dataset with tmin and tmax, got NoneType"),
        (lambda daily: daily["tmin"], "got DataArray"),
        (lambda daily: daily.to_dataframe(), "got DataFrame"),
        (lambda daily: daily.rename(time="date"), "the dimension 'time'.*got the dimensions date"),
        (lambda daily: daily.drop_vars("time"), "the dimension 'time' with its dates"),
        (lambda daily: daily.assign_coords(time=np.arange(daily.sizes["time"])), "type int64"),
        (lambda daily: daily.assign_coords(time=daily["time"].astype(str)), "must hold dates"),
        (lambda daily: daily.astype(object), "'tmin' must hold numbers, got the type object"),
        (lambda daily: daily > 0, "'tmin' must hold numbers, got the type bool"),
    ],
)
def test_what_is_no_record_is_refused(wrong, said):
    daily = weather(1, years=1)
    given = wrong(daily)
    if isinstance(given, xr.Dataset):  # not all operations keep what a unit is told by
        given["tmin"].attrs = daily["tmin"].attrs
    with pytest.raises(RecordError, match=said):
        variable(given, "tmin")


def test_dates_of_another_calendar_are_dates():
    daily = weather(1, years=1).convert_calendar("noleap")
    npt.assert_array_equal(variable(daily, "tmin"), daily["tmin"])
