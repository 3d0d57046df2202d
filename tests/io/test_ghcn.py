"""NOAA's GHCN-Daily layouts, a value at a time."""

import pytest
from written import dly

from climwin.core.errors import RecordError
from climwin.io.ghcn import detect_layout, observations


def test_a_month_of_dly_is_unfolded():
    line = dly("TMIN", [(-128, " "), (-9999, " "), (35, "S")])
    assert len(line) == 269  # columns of a record, NOAA's readme
    assert detect_layout(line) == "dly"
    values = list(observations("mill.csv", iter([(7, line), (8, dly("SNOW", [(3, " ")]))]), "dly"))
    assert values == [
        (7, "XX000000001", "2001-02-01", "TMIN", "-128", ""),
        (7, "XX000000001", "2001-02-03", "TMIN", "35", "S"),
    ]


def test_a_dly_line_cut_at_its_last_blanks_is_whole():
    line = dly("TMAX", [(5, " ")]).rstrip()
    assert len(line) == 266  # the value of day 31, "-9999", ends there
    (one,) = observations("mill.csv", iter([(1, line)]), "dly")
    assert (one.day, one.value) == ("2001-02-01", "5")


@pytest.mark.parametrize("length", [29, 100, 261, 265])
def test_a_dly_line_cut_within_its_days_is_refused(length):
    line = dly("TMAX", [(12345, "E")] * 31)[:length]
    with pytest.raises(RecordError, match=f"line 4, is truncated: it has {length} characters"):
        list(observations("mill.csv", iter([(4, line)]), "dly"))


def test_rows_of_a_station_are_unfolded():
    head = "ID,DATE,ELEMENT,DATA_VALUE,M_FLAG,Q_FLAG,S_FLAG,OBS_TIME"
    rows = [
        "XX000000001,20010203,TMAX,56,,,S,",
        "XX000000001,20010203,PRCP,0,T,,S,0700",
        "XX000000001,20010203,TMIN,-128,,I,S,",
        "XX000000001,20010203,TAVG,-9999,,,,",
        "XX000000001,20010203,SNWD,50,,,S,",
    ]
    assert detect_layout(head) == detect_layout(rows[0]) == "by station"
    values = list(observations("mill.csv", iter(enumerate([head, *rows], start=1)), "by station"))
    assert [(one.line, one.element, one.value, one.quality) for one in values] == [
        (2, "TMAX", "56", ""),
        (3, "PRCP", "0", ""),
        (4, "TMIN", "-128", "I"),
    ]


@pytest.mark.parametrize(
    "text", ["date,tmin,tmax", "2001-02-03,1,2", "XX000000001", "Station;Date"]
)
def test_a_table_is_no_layout_of_noaa(text):
    assert detect_layout(text) is None


@pytest.mark.parametrize("kind", ["dly", "by station"])
def test_a_line_of_another_layout_is_named(kind):
    with pytest.raises(
        RecordError, match=f"mill.csv, line 9, is not of the GHCN-Daily {kind} layout: 'frost'"
    ):
        list(observations("mill.csv", iter([(9, "frost")]), kind))
