"""What a column is, by its name."""

import re

import pytest

from climwin.core.errors import RecordError
from climwin.io.columns import column_roles, flag_columns, list_names


def roles(*names, **given):
    """What each column is, with its position and unit."""
    return {r: (c.position, c.unit) for r, c in column_roles("mill.csv", names, given).items()}


# --- names --------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("name", "role", "unit"),
    [
        ("tmin", "tmin", None),
        ("TMIN", "tmin", None),
        ("t_min", "tmin", None),
        ("TN", "tmin", None),
        ("TNK", "tmin", None),
        ("Low", "tmin", None),
        ("Low °F", "tmin", "degF"),
        ("min temp", "tmin", None),
        ("MinTemp", "tmin", None),
        ("minTempC", "tmin", "degC"),
        ("min_temp_f", "tmin", "degF"),
        ("Minimum temperature (°C)", "tmin", "degC"),
        ("Minimum temperature (ºC)", "tmin", "degC"),
        ("Minimum temperature [℃]", "tmin", "degC"),
        ("temperature_2m_min (°C)", "tmin", "degC"),
        ("TMIN (Degrees Fahrenheit)", "tmin", "degF"),
        ("Temperatura mínima", "tmin", None),
        ("Temp. mín. (°C)", "tmin", "degC"),
        ("Tmin in °C", "tmin", "degC"),
        ("Tmin (K)", "tmin", "K"),
        ("Tmax(C)", "tmax", "degC"),
        ("High", "tmax", None),
        ("TX", "tmax", None),
        ("Température maximale", "tmax", None),
        ("tavg", "tmean", None),
        ("temp", "tmean", None),
        ("Temperature (°C)", "tmean", "degC"),
        ("T2M_MAX", "tmax", None),
        ("PRCP", "precip", None),
        ("Rain (in)", "precip", "in"),
        ("Rain in mm", "precip", "mm"),
        ("Niederschlag", "precip", None),
        ("Precipitación (mm)", "precip", "mm"),
        ("Daily rainfall total (mm)", "precip", "mm"),
        ("Date", "date", None),
        ("Datum", "date", None),
        ("MESS_DATUM", "date", None),
        ("Fecha", "date", None),
        ("time", "time", None),
        ("Year", "year", None),
        ("Mes", "month", None),
        ("day", "day", None),
        ("STATION", "station_id", None),
        ("ELEVATION", "elevation", None),
    ],
)
def test_a_column_is_known_by_its_name(name, role, unit):
    assert roles(name) == {role: (0, unit)}


@pytest.mark.parametrize(
    "name",
    [
        "",
        "tmin_flag",
        "tmin_set_aside",
        "TMIN_ATTRIBUTES",
        "min humidity",
        "dew point min",
        "soil temp min",
        "TOBS",
        "SNOW",
        "wind max",
        "Et0(mm)",
        "max (mm)",
        "rain (°C)",
        "minutes",
        "rownames",
    ],
)
def test_another_thing_is_not_taken_for_it(name):
    assert roles(name) == {}


def test_a_name_given_comes_before_the_name_known():
    assert roles("tmin", "Low (°F)", tmin="low (°f)") == {"tmin": (1, "degF")}


def test_two_columns_that_could_be_the_same_are_refused():
    message = (
        "two columns that could be tmin: 'tmin' and 'Low'. Say which: columns={'tmin': 'Low'}."
    )
    with pytest.raises(RecordError, match=re.escape(message)):
        roles("tmin", "Low")


def test_a_place_said_twice_is_taken_once():
    assert roles("lat", "latitude") == {"latitude": (0, None)}


def test_a_name_given_that_is_not_there_is_answered_with_those_that_are():
    with pytest.raises(RecordError, match=r"no column 'Lo', given for tmin. It has 'date', 'Low'"):
        roles("date", "Low", tmin="Lo")
    with pytest.raises(RecordError, match="more than one column 'Low', given for tmin"):
        roles("Low", "Low", tmin="Low")


def test_only_what_is_read_can_be_given():
    with pytest.raises(ValueError, match=r"a key of columns must be one of date, year, .*'frost'"):
        roles("Low", frost="Low")


def test_long_heads_are_cut():
    assert list_names(["a"] * 22).endswith("'a' and 2 more")


def test_flags_stand_beside_the_values():
    names = ["TMIN", "TMIN_ATTRIBUTES", "TMAX"]
    assert flag_columns(names, column_roles("mill.csv", names)) == {"tmin": 1}


@pytest.mark.parametrize(
    ("role", "name"), [("precip", "tmax"), ("tmean", "tmin"), ("tmax", "rain")]
)
def test_a_column_given_for_what_its_name_does_not_say_is_refused(role, name):
    with pytest.raises(RecordError, match=f"{name!r} is given for {role}, and its name says"):
        column_roles("file.csv", ["date", "tmin", "tmax", "rain"], {role: name})


def test_a_column_of_temperatures_may_be_any_of_them():
    assert column_roles("file.csv", ["date", "temp"], {"tmin": "temp"})["tmin"].position == 1
