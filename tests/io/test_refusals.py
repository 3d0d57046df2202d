"""What files are refused for: what was given, what is allowed, and what to do.

Each number that a refusal gives is counted again here, and what it advises is then done.
"""

import re
from functools import partial

import numpy as np
import pandas as pd
import pytest
import xarray as xr
from records import weather
from refusing import refused
from written import a_grid, dly

from climwin.core.errors import RecordError
from climwin.io import delimited, exports, files, ghcn, grids
from climwin.io.daily import read_daily, read_unchecked
from climwin.io.loggers import PLAUSIBLE_C, read_logger
from climwin.io.structured import LARGEST, MOST_DOTS, from_toml, read_toml

refused = partial(refused, kind=RecordError)
ROME = "Europe/Rome"


@pytest.fixture
def file(tmp_path):
    def write(text, name="mill.csv"):
        path = tmp_path / name
        path.write_bytes(text if isinstance(text, bytes) else text.encode())
        return path

    return write


def table(**columns):
    """Rows of a table with a header."""
    return pd.DataFrame(columns).to_csv(index=False, float_format="%.2f")


def log(times, temperatures):
    return table(time=pd.DatetimeIndex(times).strftime("%Y-%m-%d %H:%M"), temperature=temperatures)


def day_and_night(times):
    """Readings of an ordinary spring."""
    return 12 - 6 * np.cos(2 * np.pi * (pd.DatetimeIndex(times).hour - 3) / 24)


# --- loggers ------------------------------------------------------------------------------


def test_a_logger_without_readings_is_to_be_exported_again(file):
    refused(lambda: read_logger(file("")), "mill.csv is empty", "again from the logger")
    head = "time,temperature\n"
    refused(
        lambda: read_logger(file(head)),
        "mill.csv has no readings below its header",
        "Export",
        "again",
    )


def test_columns_without_a_known_name_are_named_above_the_values_or_said(file):
    path = file("When,Warmth\n2026-03-01 10:00,5\n2026-03-01 11:00,6\n")
    refused(
        lambda: read_logger(path),
        "no header with 'time' and 'temperature'",
        "begins with 'When,Warmth'",
        "above the values, or say which they are: columns={'time': ",
    )
    columns = {"time": "When", "temperature": "Warmth"}
    assert read_logger(path, columns=columns).sizes["time"] == 2
    # What is asked for is what was given.
    refused(
        lambda: read_logger(path, columns={"time": "When", "temperature": "Heat"}),
        "with 'When' and 'Heat'",
    )


def test_one_of_two_columns_is_said_by_a_name_that_only_it_has(file):
    path = file("time,temp in,temp out\n2026-03-01 10:00,5,1\n2026-03-01 11:00,6,2\n")
    refused(
        lambda: read_logger(path),
        "the temperature may be any of the columns 'temp in', 'temp out'",
        "a name that occurs only once",
        "columns={'temperature': 'temp in'}",
    )
    assert float(read_logger(path, columns={"temperature": "temp out"})["temperature"][0]) == 1


@pytest.mark.parametrize("season", ["spring", "autumn"])
def test_a_clock_that_was_not_set_to_summer_time_needs_no_zone(file, season):
    days = {"spring": ("2026-03-27", "2026-03-31"), "autumn": ("2026-10-20", "2026-10-30")}[season]
    times = pd.date_range(*days, freq="h")
    path = file(log(times, day_and_night(times)))
    claims = {
        "spring": ("2026-03-29 02:00:00 did not exist in Europe/Rome", "clocks went forward"),
        "autumn": (
            "the hour from 2026-10-25 02:00:00 occurs once",
            "Europe/Rome showed it twice, at the end of summer time",
        ),
    }[season]
    line = 2 + times.get_loc("2026-03-29 02:00" if season == "spring" else "2026-10-25 02:00")
    refused(
        lambda: read_logger(path, zone=ROME),
        f"mill.csv, line {line}: ",
        *claims,
        "was not set to summer time: leave zone out",
    )
    assert read_logger(path).sizes["time"] == len(times)


def test_a_clock_put_back_from_summer_time_needs_its_zone(file):
    there = pd.date_range("2026-10-23 12:00", "2026-10-26 12:00", freq="10min", tz="UTC")
    shown = there.tz_convert(ROME).tz_localize(None)
    path = file(log(shown, day_and_night(there)))
    back = int(np.flatnonzero(np.diff(shown.to_numpy()) < np.timedelta64(0, "s"))[0]) + 1
    refused(
        lambda: read_logger(path),
        f"line {back + 2}: the clock goes back by an hour, to {shown[back]}",
        "as at the end of summer time",
        "zone that it was set to: zone='Europe/Rome'",
    )
    assert read_logger(path, zone=ROME).sizes["time"] == len(shown)


def test_two_loggers_in_a_file_are_told_by_the_times_that_come_twice(file):
    times = pd.date_range("2026-03-01", periods=48, freq="h")
    other = times[20:]
    together = [*times, *other], [*day_and_night(times), *day_and_night(other) + 2]
    refused(
        lambda: read_logger(file(log(*together))),
        f"line {len(times) + 2}: two clocks or two loggers",
        f"{len(other)} times occur again with another temperature, the first at {other[0]}",
        "each logger its own file",
    )


def test_times_with_an_offset_need_the_zone_that_days_are_split_by(file):
    path = file("time,temp\n2026-05-01T10:00+02:00,7\n2026-05-01T11:00+02:00,8\n")
    refused(
        lambda: read_logger(path),
        "its times with an offset from universal time",
        "zone is needed to split days at local midnight",
        "zone='Europe/Rome'",
    )
    assert str(read_logger(path, zone=ROME)["time"].values[0]) == "2026-05-01T09:00:00"


def test_one_reading_a_day_is_no_loggers(file):
    path = file("time,temperature\n2026-01-01,5\n2026-01-02,6\n2026-01-03,6\n")
    refused(
        lambda: read_logger(path), "at most one reading a day", "daily record with", "read_daily"
    )


def test_readings_no_garden_has_stand_beside_the_limits_of_those_it_has(file):
    times = pd.date_range("2026-03-01", periods=240, freq="h")
    told = day_and_night(times) * 1.8 + 32
    low, high = PLAUSIBLE_C
    first = int(np.flatnonzero(told > high)[0])
    refused(
        lambda: read_logger(file(log(times, told))),
        f"line {first + 2}: {told[first]:.1f} degC when read as degC",
        f"the median of all readings is {np.median(told):.1f}",
        f"stays between {low:.0f} and {high:.0f} degC, its median below 40",
        "Are they degF? Then give units='F'.",
    )
    assert read_logger(file(log(times, told)), units="F").sizes["time"] == len(times)


# --- tables of days -----------------------------------------------------------------------

DAYS = pd.date_range("2001-01-01", periods=1000)
STATION = "A1,2001-05-03,3\nB2,2001-05-04,4\n"


@pytest.mark.parametrize(
    ("text", "claims"),
    [
        ("", ("mill.csv is empty", "only blank lines and comments", "another file")),
        ("date,tmin\n", ("nothing after its header in line 1", "another file")),
        (
            "# invented\n\ndate,low night\n2001-05-03,1\n",
            (
                "no temperature column that is known by its name",
                "'date', 'low night'",
                "columns={'tmin': 'date'}",
                "a line with names above them",
            ),
        ),
        ("when,tmin\nmonday,1\n", ("no date column", "'when', 'tmin'", "columns={'date': 'when'}")),
        (
            "date,tmin (K)\n2001-05-03,280\n",
            ("'tmin (K)' is in kelvin", "Subtract 273.15 from each value", "name the column degC"),
        ),
        (f"station_id,date,tmin\n{STATION}", ("holds 2 stations: 'A1', 'B2'", "Keep one")),
        (
            "date,tmin\n04/05/2001,1\n06/05/2001,2\n",
            (
                "line 2: '04/05/2001' may be day/month or month/day",
                "no date in the file shows which",
                "dates='%d/%m/%Y' or dates='%m/%d/%Y'",
            ),
        ),
        (
            "date,tmin\n2001-05-03,1\nMay,2\n",
            ("dates cannot be read, 1 in all: line 3 'May'", "2001-05-03, within 1700 to 2200"),
        ),
        (
            "date,tmin\n44000,1\n44001,2\n",
            ("dates cannot be read, 2 in all", "spreadsheet's day numbers", "format", "as dates"),
        ),
        (
            "date,tmin\n2001-05-02T23:00:00Z,1\n2001-05-03T23:00:00Z,2\n",
            (
                "line 2: '2001-05-02T23:00:00Z' has a time with a zone",
                "local day may be another",
                "local days, such as 2001-05-03, without a time",
            ),
        ),
        (
            "date,tmin\n2001-05-03,1\n2001-05-04,cold\n",
            ("values of 'tmin' are not numbers, 1 in all: line 3 'cold'", "or leave them empty"),
        ),
        ("date,tmin\n2001-05-03,\n", ("no temperatures: all values are missing", "another file")),
        (
            "date,tmin\n2001-05-03,1\n2001-05-03,2\n",
            ("two values of tmin, 1 in all: line 3 '2001-05-03 2'", "one row for each day"),
        ),
        (
            "date,tmin,tmax\n2001-05-03,1,5\n2001-05-04,2\n",
            (
                "lines do not have the 3 fields of the header, 1 in all: line 3 has 2",
                "Decimal commas need semicolons between the columns",
            ),
        ),
    ],
)
def test_a_table_that_is_no_record_says_where_and_what_to_do(file, text, claims):
    refused(lambda: read_unchecked(file(text)), *claims)


def test_the_years_told_are_those_that_are_read(file):
    said = refused(
        lambda: read_unchecked(file("date,tmin\n2001-05-03,1\n1002-05-03,1\n")), "within"
    )
    first, last = (int(each) for each in re.search(r"within (\d+) to (\d+)", said).groups())
    for year, is_read in ((first - 1, False), (first, True), (last, True), (last + 1, False)):
        assert bool(np.isnat(delimited.dates([f"{year}-05-03"]).days[0])) is not is_read


def test_a_loggers_file_is_no_record_of_days(file):
    times = pd.date_range("2001-05-01", periods=240, freq="h")
    text = table(date=times.strftime("%Y-%m-%d"), temp=day_and_night(times) + np.arange(240) / 100)
    refused(
        lambda: read_unchecked(file(text)),
        "24 readings a day: it is a logger's file",
        "A record has one row a day, with the lowest and the highest temperature of the day",
        "under cover are read with",
        "read_logger",
        "beside a record of the outdoors",
    )


def test_a_swapped_minimum_and_maximum_are_counted(file):
    wave = 10 - 9 * np.cos(2 * np.pi * np.arange(1000) / 365.25)
    low, high = wave + 5, wave - 5
    low[:30] = np.nan  # days that say nothing
    swapped = int((low > high).sum())
    high[40:60] = low[40:60] + 5  # a few days are right
    days = int((~np.isnan(low)).sum())
    refused(
        lambda: read_unchecked(file(table(date=DAYS, tmin=low, tmax=high))),
        f"the minimum lies above the maximum on {swapped - 20} of {days} days",
        "swapped: correct their names in the header",
    )
    right = read_unchecked(file(table(date=DAYS, tmax=low, tmin=high)))
    assert float((right["tmax"] - right["tmin"]).median()) == pytest.approx(10)


def medians_of_months(values):
    return pd.Series(values, DAYS).groupby(DAYS.month).median()


def test_two_units_among_the_columns_are_told_by_the_warmest_month_of_each(file):
    wave = 10 - 9 * np.cos(2 * np.pi * np.arange(1000) / 365.25)
    low, high = wave - 5, (wave + 5) * 1.8 + 32
    text = table(date=DAYS, tmin=low, tmax=high)
    warmest = [round(float(medians_of_months(values).max())) for values in (low, high)]
    refused(
        lambda: read_unchecked(file(text)),
        "minimum and maximum seem to be in different units. Read as degC, the warmest month",
        f"{warmest[0]} degC in the minimum and {warmest[1]} degC in the maximum",
        "in each column's name, such as 'tmax (degF)', or put both in one",
    )
    named = read_unchecked(file(text.replace("tmax", "tmax (degF)", 1)))
    assert float(named["tmax"].max()) == pytest.approx((wave + 5).max(), abs=0.01)


def test_a_wrong_unit_is_told_by_the_warmest_month(file):
    wave = 10 - 9 * np.cos(2 * np.pi * np.arange(1000) / 365.25)
    path = file(table(date=DAYS, tmin=(wave - 5) * 1.8 + 32, tmax=(wave + 5) * 1.8 + 32))
    warmest = round(float(medians_of_months(wave * 1.8 + 32).max()))
    refused(
        lambda: read_unchecked(path),
        "the unit of 'tmean' looks wrong. Read as degC, its warmest month",
        f"{warmest} degC, which no place that grows food has",
        "Say units='F'",
    )
    assert float(read_unchecked(path, units="F")["tmean"].max()) == pytest.approx(19, abs=0.1)


def test_a_unit_that_is_given_may_not_contradict_the_header(file):
    path = file("date,tmin (degC)\n2001-05-03,1\n")
    refused(
        lambda: read_unchecked(path, units="F"),
        "'tmin (degC)' says degC, but the values would be degF",
        "Leave units out, or correct the name",
    )


def test_a_column_of_the_same_role_and_a_given_name_that_is_not_there_are_told(file):
    refused(
        lambda: read_unchecked(file("date,tmin,Low\n2001-05-03,1,2\n")),
        "two columns that could be tmin: 'tmin' and 'Low'",
        "Say which: columns={'tmin': 'Low'}",
    )
    for head, often in (("date,tmax", "no column"), ("date,Lo,Lo", "more than one column")):
        path = file(f"{head}\n2001-05-03,1{',1' * (head.count(',') - 1)}\n")
        refused(
            lambda path=path: read_unchecked(path, columns={"tmin": "Lo"}),
            f"has {often} 'Lo', given for tmin",
            "It has 'date', ",
        )
    with pytest.raises(ValueError, match=r"must be one of .*tmin.*; got 'frost'"):
        read_unchecked(path, columns={"frost": "Lo"})


# --- NOAA's files -------------------------------------------------------------------------


def test_noaas_file_takes_no_options_and_needs_temperatures(file):
    path = file(dly("TMIN", [(-128, " ")]))
    with pytest.raises(ValueError, match="its units, columns and dates are fixed") as caught:
        read_unchecked(path, units="F")
    assert "Leave units, columns and dates out" in str(caught.value)
    refused(
        lambda: read_unchecked(file(dly("PRCP", [(10, " ")]))),
        "no values of TMIN, TMAX or TAVG",
        "another station",
    )


def test_a_cut_line_has_fewer_characters_than_a_month(file):
    line = dly("TMAX", [(12345, "E")] * 31)
    refused(
        lambda: list(ghcn.observations("mill.dly", iter([(4, line[:100])]), "dly")),
        "mill.dly, line 4, is truncated: it has 100 characters",
        "a month has at least 266",  # 21 of its head, 30 days of 8, and the value of day 31
        "Fetch the file again",
    )
    refused(
        lambda: list(ghcn.observations("mill.dly", iter([(9, "frost")]), "dly")),
        "line 9, is not of the GHCN-Daily dly layout: 'frost'",
        "Fetch the file again, or delete the line",
    )


# --- any text -----------------------------------------------------------------------------


def test_a_file_that_is_too_large_is_to_keep_one_station(file, monkeypatch):
    path = file("date,tmin\n2001-05-03,1\n2001-05-04,2\n")
    one_station = "Keep one station"
    monkeypatch.setattr(delimited, "MAX_BYTES", 20)
    size = path.stat().st_size
    refused(
        lambda: delimited.encoding(path),
        f"mill.csv has {size} bytes, and at most 20 are read",
        f"{one_station} and only the columns of date, temperature and precipitation",
    )
    monkeypatch.setattr(delimited, "MAX_BYTES", size)
    monkeypatch.setattr(delimited, "MAX_LINES", 2)
    refused(
        lambda: delimited.encoding(path),
        "mill.csv has 3 lines, and at most 2 are read",
        f"{one_station}, with one line for each day",
    )
    monkeypatch.setattr(delimited, "MAX_LINE", 11)
    refused(
        lambda: list(delimited.lines(path, "utf-8")),
        "line 2: a daily record has fewer than 2 lines, of fewer than 11 characters",
        f"{one_station}, with one line for each day",
    )
    refused(
        lambda: delimited.encoding(file(b"d\0a\0")),
        "not plain text in UTF-8: it has zero bytes, as UTF-16",
        "and spreadsheet files do",
        "Save it as 'CSV UTF-8'",
    )


def test_a_form_of_dates_needs_year_month_and_day_and_the_one_advised_has_them():
    with pytest.raises(ValueError, match="does not say year, month and day") as caught:
        delimited.dates(["1/1/2001"], "%d/%m")
    said = str(caught.value)
    assert "Write it with %Y, %m and %d" in said
    form, day = said.split("such as '")[1].split("' for ")
    assert delimited.dates([day.rstrip(".")], form).days.astype(str).tolist() == ["2001-11-23"]


def test_a_file_that_claims_too_much_or_cannot_be_written_says_so(tmp_path):
    path = tmp_path / "a.nc"
    weather(1, years=1).to_netcdf(path)
    with pytest.raises(ValueError, match=r"claims to have [\d,]+ bytes, and at most 10 ") as caught:
        files.check_declared_size(path, 10)
    assert "Is it a daily record?" in str(caught.value)

    def write(target):
        with files.atomic_write(target) as part:
            part.write_text("a")

    gone = tmp_path / "gone" / "a.csv"
    refused(
        lambda: write(gone),
        f"{gone} cannot be written: there is no folder {gone.parent}",
        "Make it first",
        kind=OSError,
    )
    gone.parent.mkdir()
    write(gone)
    taken = tmp_path / "folder"
    taken.mkdir()
    (taken / "file").write_text("a")
    refused(
        lambda: write(taken),
        f"{taken} cannot be written (",
        "Is the disk full, or the folder read-only?",
        "An earlier version of the file is unchanged",
        kind=OSError,
    )
    assert (taken / "file").read_text() == "a"


def test_what_is_no_file_is_told_from_what_cannot_be_one(tmp_path):
    refused(lambda: files.file_size(tmp_path), f"{tmp_path} is a folder, a pipe or a device")
    unnamed = tmp_path / "a\0b.csv"
    refused(
        lambda: files.file_size(unnamed),
        f"{str(unnamed)!r} cannot be the name of a file (",
        "another",
    )


def test_an_exports_name_ends_as_its_kind_does(tmp_path):
    record = weather(1, years=1)
    for write, right in ((exports.to_csv, ".csv"), (exports.to_netcdf, ".nc")):
        refused(
            lambda write=write: write(record, tmp_path / "a.txt"),
            f"must end in {right}, got 'a.txt'",
            "Rename it",
            kind=ValueError,
        )


# --- TOML ---------------------------------------------------------------------------------


def test_a_toml_file_that_cannot_be_read_says_how_to_write_it(file, tmp_path):
    read = partial(from_toml, dict)
    big = b"#" * (LARGEST + 1)
    refused(lambda: read(big, "a.toml"), "a.toml is larger than 1 MB", "the right file?")
    dots = b"\n" + b"." * (MOST_DOTS + 1)
    refused(lambda: read(dots, "a.toml"), f"a.toml, line 2: over {MOST_DOTS} dots in a line")
    refused(
        lambda: read(b'a = 1\nb = "\xfc"\n', "a.toml"),
        "a.toml, line 2: not UTF-8",
        "plain text with the encoding UTF-8",
    )
    said = refused(
        lambda: read(b"a = 850 ft", "a.toml"),
        "a.toml is not TOML",
        "Write key = value, with double quotes around text",
        "around a number that has a unit, such as ",
    )
    assert said.endswith('"850 ft".')
    (tmp_path / "garden.toml").write_text("a = 1")
    refused(
        lambda: read_toml(dict, tmp_path / "gardn.toml"),
        "gardn.toml cannot be read: No such file",
        f"Did you mean {tmp_path / 'garden.toml'}?",
    )
    refused(
        lambda: read_toml(dict, tmp_path / "zzz" / "x.toml"),
        "cannot be read: No such file",
        "the path of a TOML file",
    )


# --- grids --------------------------------------------------------------------------------


@pytest.fixture(scope="module")
def cells():
    return [weather(n, years=2) for n in range(6)]


def test_a_grid_without_an_extreme_says_how_to_mark_it(cells):
    grid = a_grid(cells)
    without = grid.drop_vars("tmin")
    refused(
        lambda: grids.as_daily(without),
        "No daily minimum air temperature is recognised among tmax",
        "standard_name='air_temperature' and cell_methods='time: minimum'",
    )
    marked = without.assign(night=grid["tmin"])  # has those attributes
    xr.testing.assert_equal(grids.as_daily(marked)["tmin"], grids.as_daily(grid)["tmin"])
    refused(lambda: grids.as_daily(grid[["time"]]), "recognised among no variables")


def test_a_grid_of_which_both_could_be_it_keeps_one(cells):
    grid = a_grid(cells)
    refused(
        lambda: grids.as_daily(grid.assign(other=grid["tmin"])),
        "other and tmin could each be the daily minimum air temperature",
        "Keep one",
    )
    refused(
        lambda: grids.as_daily(grid.isel(time=0, drop=True)),
        "No time is recognised among lat, lon",
        "standard_name='time'",
    )


def test_a_grids_wrong_unit_is_told_by_the_median_of_a_year(cells):
    grid = a_grid(cells)
    grid["tmax"].attrs["units"] = "degC"
    said = refused(
        lambda: grids.as_daily(grid),
        "'tmax' says its units are 'degC', but then the median of a year's daily maximum",
        " degC. They look like K: correct its units",
    )
    told = int(said.split(" is ")[1].split(" degC")[0])
    assert told == pytest.approx(float(grid["tmax"].isel(time=slice(366)).median()), abs=1.5)
    grid["tmax"].attrs["units"] = "m"
    refused(lambda: grids.as_daily(grid), "'tmax' must be in K, degC or degF; its units are 'm'")


def test_a_grids_extremes_alike_or_swapped_are_counted(cells):
    grid = a_grid(cells)
    same = grid.assign(tmin=grid["tmax"].assign_attrs(grid["tmin"].attrs))
    refused(
        lambda: grids.as_daily(same),
        "The minimum 'tmin' and the maximum 'tmax' are the same on 100 % of days",
        "Was one of them saved twice, or a mean for both?",
        "the extremes of each day",
    )
    swapped = grid.copy(deep=True)
    swapped["tmin"].values[:], swapped["tmax"].values[:] = grid["tmax"], grid["tmin"]
    refused(
        lambda: grids.as_daily(swapped),
        "The minimum 'tmin' is above the maximum 'tmax' on 100 % of days",
        "swapped? Correct their names",
    )


def test_a_grids_codes_for_missing_are_to_be_marked(cells):
    grid = a_grid(cells)
    coded = grid.assign(tmax=grid["tmax"].where(grid["lat"] > grid["lat"].min(), -9999.0))
    refused(
        lambda: grids.as_daily(coded),
        "'tmax' holds values such as -9999 K, which no place on Earth has",
        "If they mean missing, say so in its attribute _FillValue",
    )


def test_a_grid_of_the_other_hemisphere_is_told_by_its_warm_months(cells):
    grid = a_grid(cells)
    south = grid.assign_coords(lat=("lat", -grid["lat"].values, grid["lat"].attrs))
    said = refused(
        lambda: grids.as_daily(south),
        "warm months are those of the other hemisphere's summer: June to August differ by",
        "from December to February in the wrong direction",
        "sign of the latitude right, and are the dates?",
    )
    means = (grid["tmin"] + grid["tmax"]).isel(time=slice(366)) / 2
    month = means["time"].dt.month
    summer = means.where(month.isin([6, 7, 8])).mean()
    winter = means.where(month.isin([12, 1, 2])).mean()
    told = int(said.split("differ by ")[1].split(" degC")[0])
    assert told == pytest.approx(float(summer - winter), abs=2)


def test_a_grid_is_of_days_each_once(cells):
    grid = a_grid(cells)
    refused(
        lambda: grids.as_daily(xr.concat([grid, grid], "time")),
        "Some days are repeated",
        "daily values: resample(time='1D') first",
    )
    refused(
        lambda: grids.as_daily(grid.resample(time="7D").mean(keep_attrs=True)),
        "It has a value every 7 days.",
        "Frosts and windows are counted by the day: give daily minima and maxima",
        "not means of a longer time",
    )


def test_stations_of_a_grid_need_a_place_and_are_not_too_many(cells, monkeypatch):
    daily = grids.as_daily(a_grid(cells))
    refused(
        lambda: grids.as_stations(daily.drop_vars("latitude")),
        "needs the coordinates latitude and longitude, got ",
        "Add them",
        kind=ValueError,
    )
    monkeypatch.setattr(grids, "_MOST_CELLS", 4)
    refused(
        lambda: grids.as_stations(daily),
        "The grid has 6 cells, and at most 4 can be handled. Cut out a part first",
        kind=ValueError,
    )
    assert grids.as_stations(daily.isel(longitude=[0, 1])).sizes["station"] == 4


def test_a_file_that_is_no_grid_is_named_with_the_cause(file):
    path = file("no", "no.nc")
    refused(lambda: grids.open_grid(path), f"{path} cannot be used as daily weather: ")


def test_a_checked_record_is_read_as_an_unchecked_one_is(file):
    record = weather(3, years=3)
    text = table(date=record["time"].values, tmin=record["tmin"], tmax=record["tmax"])
    assert read_daily(file(text)).sizes["time"] == record.sizes["time"]
