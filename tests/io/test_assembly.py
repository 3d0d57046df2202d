"""Days put in order, the mean, and units that cannot be right."""

import numpy as np
import numpy.testing as npt
import pytest
from records import days

from climwin.core.schema import RecordError
from climwin.io.assembly import Found, Series, record


def found(unit="degC", time=None, **values):
    """A file with one value a line from line 2 on."""
    out = Found("mill.csv")
    for name, array in values.items():
        array = np.asarray(array, float)
        axis = days("2001-01-01", "2001-12-31")[: len(array)] if time is None else time
        out.series[name] = Series(
            np.asarray(axis, "datetime64[D]"), array, np.arange(2, 2 + len(array)), unit
        )
    return out


def a_year(mean, swing=12.0):
    """Daily means of a northern year: cosine about `mean`, warmest in July."""
    return mean - swing * np.cos(2 * np.pi * (np.arange(365) - 15) / 365)


# --- days ---------------------------------------------------------------------------------


def test_days_are_put_in_order_and_told():
    time = ["2001-05-04", "2001-05-02", "2001-05-02"]
    out = record(found(time=time, tmin=[1, 2, 2]))
    npt.assert_array_equal(out["tmin"], [2, np.nan, 1])
    assert out.attrs["history"].splitlines() == [
        "tmin put in order of date",
        "repeated values of tmin dropped: 1",
        "days between the first and the last are not in the file: 1",
    ]


def test_a_day_with_two_values_is_refused_and_with_a_blank_and_a_value_is_not():
    time = ["2001-05-02", "2001-05-02"]
    with pytest.raises(
        RecordError, match="days have two values of tmin, 1 in all: line 3 '2001-05-02 3'"
    ):
        record(found(time=time, tmin=[2, 3]))
    npt.assert_array_equal(record(found(time=time, tmin=[np.nan, 3]))["tmin"], [3])


def test_a_variable_without_values_is_left_out_and_told():
    out = record(found(tmin=[1, 2], precip=[np.nan, np.nan]))
    assert list(out) == ["tmin"]
    assert "precip left out: all its values are missing" in out.attrs["history"]
    with pytest.raises(RecordError, match="holds no temperature: all values are missing"):
        record(found(tmin=[np.nan], precip=[1]))


# --- the mean -----------------------------------------------------------------------------


def test_a_mean_of_ones_own_is_kept():
    out = record(found(tmin=[1, 2], tmax=[5, 9], tmean=[2, 7]))
    npt.assert_array_equal(out["tmean"], [2, 7])
    assert "derived_from" not in out["tmean"].attrs


def test_a_mean_made_from_the_extremes_is_known():
    out = record(found(tmin=[1.1, 2], tmax=[5.2, 9], tmean=[3.2, 5.5]))  # 3.15 to tenths
    npt.assert_array_equal(out["tmean"], [3.2, 5.5])
    assert out["tmean"].attrs["derived_from"] == "tmin tmax"


def test_a_missing_or_patchy_mean_is_half_of_the_extremes():
    for given in ({}, {"tmean": [np.nan] * 2 + [4.0] * 8}):
        out = record(found(tmin=[1.0] * 10, tmax=[5.0] * 10, **given))
        npt.assert_array_equal(out["tmean"], [3.0] * 10)
        assert out["tmean"].attrs["derived_from"] == "tmin tmax"
        assert out["tmean"].attrs["units"] == "degC"
        assert list(out) == ["tmin", "tmax", "tmean"]
    assert "the mean in the file is left out" in out.attrs["history"]


def test_there_is_no_mean_of_one_extreme():
    assert list(record(found(tmax=[5, 9]))) == ["tmax"]


# --- units --------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("unit", "name", "value", "inside"),
    [
        ("degC", "tmin", 3.5, 3.5),
        ("degF", "tmin", 14.0, -10.0),  # 14 degF is 18 below freezing, 10 K
        ("tenths of degC", "tmin", 35, 3.5),
        ("mm", "precip", 3.5, 3.5),
        ("tenths of mm", "precip", 35, 3.5),
        ("cm", "precip", 0.35, 3.5),
        ("in", "precip", 1.0, 25.4),  # exact, by definition of the inch
    ],
)
def test_values_come_out_in_degc_and_mm(unit, name, value, inside):
    file = found(tmin=[1.0])
    file.series[name] = file.series["tmin"]._replace(values=np.array([value]), unit=unit)
    assert float(record(file)[name][0]) == pytest.approx(inside, abs=1e-12)


def test_degf_read_as_degc_are_refused():
    fahrenheit = a_year(10) * 1.8 + 32
    message = "unit of 'tmean' looks wrong. Read as degC, .* median of 71 degC.* Say units='F'"
    with pytest.raises(RecordError, match=message):
        record(found(tmin=fahrenheit - 9, tmax=fahrenheit + 9))


def test_degc_read_as_degf_are_refused():
    message = "Read as degF, .* median of -6 degC.* Say units='C'"
    with pytest.raises(RecordError, match=message):
        record(found("degF", tmin=a_year(10) - 5, tmax=a_year(10) + 5))


def test_a_wrong_unit_that_the_head_says_is_to_be_corrected_there():
    file = found("degF", tmin=a_year(10) - 5, tmax=a_year(10) + 5)
    file.series = {name: series._replace(said=True) for name, series in file.series.items()}
    with pytest.raises(RecordError, match="Correct the unit in the column's name"):
        record(file)


def test_minimum_and_maximum_the_wrong_way_round_are_refused():
    swapped = found(tmin=a_year(10) + 5, tmax=a_year(10) - 5)
    with pytest.raises(
        RecordError, match=r"above the maximum on 365 of 365 days\..*wrong way round"
    ):
        record(swapped)


def test_a_few_minima_above_the_maximum_are_left_to_the_checks():
    tmin, tmax = a_year(10) - 5, a_year(10) + 5
    tmin[:182] = tmax[:182] + 1  # as many as can be
    assert record(found(tmin=tmin, tmax=tmax)).sizes["time"] == 365


@pytest.mark.parametrize("unit", ["degC", "degF"])
def test_tenths_and_kelvin_are_refused(unit):
    with pytest.raises(RecordError, match=r"Tenths or kelvin\? Convert the values first"):
        record(found(unit, tmin=a_year(283)))


def test_a_cold_valley_in_degf_and_a_winter_alone_are_believed():
    valley = a_year(-2.0, 13.0)  # July nights near freezing, days of 22 degC
    tmin, tmax = (valley - 10) * 1.8 + 32, (valley + 10) * 1.8 + 32
    assert record(found("degF", tmin=tmin, tmax=tmax)).sizes["time"] == 365
    assert record(found("degF", tmin=tmin[:60], tmax=tmax[:60])).sizes["time"] == 60


def test_death_valley_is_believed():
    # July 2018: mean 42.3 degC, the hottest month on record (Guinness World Records)
    july = days("2018-07-01", "2018-07-31")
    assert record(found(time=july, tmin=[35.5] * 31, tmax=[49.0] * 31)).sizes["time"] == 31
    assert record(found(time=july, tmax=[49.0] * 31)).sizes["time"] == 31


# --- what the record says of itself -------------------------------------------------------


def test_the_place_goes_with_the_record():
    file = found(tmin=[1.0])
    file.place = {
        "station_id": "XX1",
        "latitude": "46.1",
        "elevation": "-999.9",
        "longitude": "east",
    }
    out = record(file)
    assert out.attrs["title"] == "Daily record of XX1"
    assert out.attrs["latitude"] == 46.1
    assert not {"longitude", "elevation"} & set(out.attrs)
    assert out.attrs["licence"] == "not stated in the file"
