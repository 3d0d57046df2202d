"""What a column is by its name, and NOAA's layouts unfolded."""

import re

import pytest
from written import dly

from climwin.core.schema import RecordError
from climwin.io import layouts


def found(*names, **given):
    return {r: (c.position, c.unit) for r, c in layouts.roles("mill.csv", names, given).items()}


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
    assert found(name) == {role: (0, unit)}


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
    assert found(name) == {}


def test_a_name_given_comes_before_the_name_known():
    assert found("tmin", "Low (°F)", tmin="low (°f)") == {"tmin": (1, "degF")}


def test_two_columns_that_could_be_the_same_are_refused():
    message = (
        "two columns that could be tmin: 'tmin' and 'Low'. Say which: columns={'tmin': 'Low'}."
    )
    with pytest.raises(RecordError, match=re.escape(message)):
        found("tmin", "Low")


def test_a_place_said_twice_is_taken_once():
    assert found("lat", "latitude") == {"latitude": (0, None)}


def test_a_name_given_that_is_not_there_is_answered_with_those_that_are():
    with pytest.raises(RecordError, match=r"no column 'Lo', given for tmin. It has 'date', 'Low'"):
        found("date", "Low", tmin="Lo")
    with pytest.raises(RecordError, match="more than one column 'Low', given for tmin"):
        found("Low", "Low", tmin="Low")


def test_only_what_is_read_can_be_given():
    with pytest.raises(ValueError, match=r"a key of columns must be one of date, year, .*'frost'"):
        found("Low", frost="Low")


def test_long_heads_are_cut():
    assert layouts.listed(["a"] * 22).endswith("'a' and 2 more")


def test_flags_stand_beside_the_values():
    names = ["TMIN", "TMIN_ATTRIBUTES", "TMAX"]
    assert layouts.flag_columns(names, layouts.roles("mill.csv", names)) == {"tmin": 1}


# --- GHCN-Daily ---------------------------------------------------------------------------


def test_a_month_of_dly_is_unfolded():
    line = dly("TMIN", [(-128, " "), (-9999, " "), (35, "S")])
    assert len(line) == 269  # columns of a record, NOAA's readme
    assert layouts.layout(line) == "dly"
    seen = list(
        layouts.observations("mill.csv", iter([(7, line), (8, dly("SNOW", [(3, " ")]))]), "dly")
    )
    assert seen == [
        (7, "XX000000001", "2001-02-01", "TMIN", "-128", ""),
        (7, "XX000000001", "2001-02-03", "TMIN", "35", "S"),
    ]


def test_a_dly_line_cut_at_its_last_blanks_is_whole():
    (one,) = layouts.observations("mill.csv", iter([(1, dly("TMAX", [(5, " ")])[:29])]), "dly")
    assert (one.day, one.value) == ("2001-02-01", "5")


def test_rows_of_a_station_are_unfolded():
    head = "ID,DATE,ELEMENT,DATA_VALUE,M_FLAG,Q_FLAG,S_FLAG,OBS_TIME"
    rows = [
        "XX000000001,20010203,TMAX,56,,,S,",
        "XX000000001,20010203,PRCP,0,T,,S,0700",
        "XX000000001,20010203,TMIN,-128,,I,S,",
        "XX000000001,20010203,TAVG,-9999,,,,",
        "XX000000001,20010203,SNWD,50,,,S,",
    ]
    assert layouts.layout(head) == layouts.layout(rows[0]) == "by station"
    seen = list(
        layouts.observations("mill.csv", iter(enumerate([head, *rows], start=1)), "by station")
    )
    assert [(one.line, one.element, one.value, one.quality) for one in seen] == [
        (2, "TMAX", "56", ""),
        (3, "PRCP", "0", ""),
        (4, "TMIN", "-128", "I"),
    ]


@pytest.mark.parametrize(
    "text", ["date,tmin,tmax", "2001-02-03,1,2", "XX000000001", "Station;Date"]
)
def test_a_table_is_no_layout_of_noaa(text):
    assert layouts.layout(text) is None


@pytest.mark.parametrize("kind", ["dly", "by station"])
def test_a_line_of_another_layout_is_named(kind):
    with pytest.raises(
        RecordError, match=f"mill.csv, line 9, is not of the GHCN-Daily {kind} layout: 'frost'"
    ):
        list(layouts.observations("mill.csv", iter([(9, "frost")]), kind))
