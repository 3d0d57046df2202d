"""Batches: lists of stations read, and a station that fails named without stopping another."""

import re
from functools import partial

import numpy as np
import numpy.testing as npt
import pytest
import xarray as xr
from records import side_by_side, weather
from refusing import refused
from written import write_station

from climwin.batch import stations
from climwin.batch.results import STATUSES, station_results
from climwin.batch.run import run_stations
from climwin.batch.stations import (
    ANSWERED,
    FAILED,
    StationRecord,
    batches_of_list,
    batches_of_record,
    read_stations,
)
from climwin.core.errors import Call, Parameter, RecordError, StationError
from climwin.core.schema import Station
from climwin.core.stats import FEW_YEARS
from climwin.crops.catalogue import crop
from climwin.io.samples import sample
from climwin.stations.search import WHAT_TO_DO

CROPS = [crop("pea")]
batch_results = partial(
    stations.batch_results, few_years=True
)  # a few years do for what is asked here


def placed(*records):
    """Records of stations side by side, each at its latitude."""
    daily = side_by_side(*records)
    north = np.full(len(records), 46.0)
    return daily.assign_coords(latitude=("station", north))


def together(*records):
    daily = placed(*records)
    (batch,) = batches_of_record(daily, 100)
    return batch_results(batch, CROPS)


# --- a list of stations -------------------------------------------------------------------


def test_list_of_stations(tmp_path):
    path = tmp_path / "stations.csv"
    path.write_text(
        "\ufeffstation,name,latitude,longitude,elevation,record,units\n"
        "A1,Upper Pellbrook,46.1,7.2,2100 ft,records/a.csv,C\n"
        "B2,,46.2,7.3,,,\n",
        "utf-8",
    )
    assert read_stations(path) == [
        StationRecord(
            Station("A1", "Upper Pellbrook", 46.1, 7.2, 2100 * 0.3048),
            tmp_path / "records" / "a.csv",
            "C",
        ),
        StationRecord(Station("B2", "B2", 46.2, 7.3)),
    ]


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("station,lat\n", "lacks the columns latitude, longitude. A list of stations has station"),
        ("station,latitude,longitude\nB,high,7\n", "line 2: latitude must be a number"),
        ("station,latitude,longitude\n\x1b[31m,46,7\n", "line 2: a station's id is made of"),
        ("station,latitude,longitude\nA,96,7\n", "line 2: latitude of 'A' must lie between"),
        ("station,latitude,longitude\n,46,7\n", "line 2: a station"),
        ("station,latitude,longitude\nA,46,\n", "line 2: longitude must be a number, got ''"),
        ("station,latitude,longitude\nA,4_6,7\n", "line 2: latitude must be a number, got '4_6'"),
        ("station,latitude,longitude\nA,\u0664\u0666,7\n", "line 2: latitude must be a number"),
        (
            "station,latitude,longitude\nA,46\n",
            "the 3 fields of the header, 1 in all: line 2 has 2",
        ),
        ("station,latitude,longitude,units\nA,46,7,K\n", "line 2: units must be one of C, F"),
    ],
)
def test_list_that_cannot_be_used_says_where(tmp_path, text, told):
    (tmp_path / "list.csv").write_text(text)
    with pytest.raises(RecordError, match=told):
        read_stations(tmp_path / "list.csv")


def test_an_id_is_as_long_as_it_may_be_said_to_be(tmp_path):
    path, head = tmp_path / "list.csv", "station,latitude,longitude\n"
    path.write_text(f"{head}{'A' * 41},46,7\n")
    said = refused(lambda: read_stations(path), "a station's id is made of 1 to 40 letters, digits")
    most = int(re.search(r"1 to (\d+) letters, digits, blanks and _ \. : -; got 'A", said)[1])
    longest = f"{'A b_c.d:e-9' * most:.{most}}"
    path.write_text(f"{head}{longest},46,7\n")
    assert [each.station.id for each in read_stations(path)] == [longest]


@pytest.mark.parametrize(("wrong", "more"), [(5, ""), (6, "; and 1 more"), (9, "; and 4 more")])
def test_a_list_of_wrong_lines_names_five_of_them_and_counts_the_others(tmp_path, wrong, more):
    path = tmp_path / "list.csv"
    path.write_text("station,latitude,longitude\n" + "A,96,7\n" * wrong)
    said = refused(lambda: read_stations(path), f"{path}, line 2: latitude of 'A'")
    assert [int(line) for line in re.findall(r"line (\d+): latitude", said)] == [2, 3, 4, 5, 6]
    _, last = said.split("line 6: ")
    assert last.endswith(more or "96.0")
    assert ("more" in last) is bool(more)
    with path.open("a") as file:
        file.write("B,46,7\n")
    with pytest.warns(UserWarning, match="left out") as heard:
        assert [each.station.id for each in read_stations(path)] == ["B"]
    [text] = [str(each.message) for each in heard]
    assert text.startswith(f"{path}: {wrong} lines left out. line 2: latitude of 'A'")
    assert text.endswith(f"{more or '96.0'}.")


def test_one_bad_line_stops_no_other_station(tmp_path):
    path = tmp_path / "list.csv"
    path.write_text(
        "station,latitude,longitude\nA,46,7\nB,high,7\nA,47,8\n\u202eC,46,7\nD,45,7\nE,46\n",
        "utf-8",
    )
    with pytest.warns(UserWarning, match="4 lines left out") as heard:
        kept = read_stations(path)
    assert [(each.station.id, each.station.latitude) for each in kept] == [("A", 46), ("D", 45)]
    (text,) = [str(each.message) for each in heard]
    assert text.startswith(f"{path}: 4 lines left out. ")
    for told in ("line 3: latitude must be a number", "line 4: the station 'A' is listed above"):
        assert told in text
    assert "line 5: a station's id" in text
    assert "line 7 has 2" in text


@pytest.mark.parametrize(("coldest", "is_doubted"), [(20, False), (202, True)])
def test_a_record_that_is_doubted_is_to_be_checked_first(coldest, is_doubted):
    """A year that is warmest in January, in the north."""
    record = weather(8, years=12, coldest=coldest).assign_attrs(latitude=46.0)
    said = stations._doubt(record, Station("A", "A", 46.0, 7.0))
    assert said.startswith("Check the record first: The year is warmest about ") is is_doubted
    assert bool(said) is is_doubted


def test_a_record_of_another_place_than_its_line_says_is_doubted(tmp_path):
    text = "# latitude: 46.1\n# longitude: 7.2\n# elevation: 420\n"
    table = weather(8, years=12)[["tmin", "tmax"]].to_dataframe().to_csv()
    (tmp_path / "mill.csv").write_text(text + "date" + table.removeprefix("time"))
    (tmp_path / "list.csv").write_text(
        "station,latitude,longitude,elevation,record\nHere,46.1,7.2,420,mill.csv\n"
        "Turned,7.2,46.1,420,mill.csv\nFeet,46.1,7.2,1460,mill.csv\n"
        "FewerFeet,46.1,7.2,1378,mill.csv\nBelow,46.1,7.2,-420,mill.csv\n"
        "Near,46.1,7.2,700,mill.csv\nGone,46.1,7.2,420,mil.csv\n"
    )
    results = run_stations(read_stations(tmp_path / "list.csv"), CROPS, tmp_path / "out.nc")
    here, turned, feet, fewer, below, near, gone = results["reason"].values
    says = "Check the place first: the list says"
    assert fewer.startswith(f"{says} 1378 m, and the record 420 m. If 1378 was meant in feet")
    assert below.startswith(f"{says} -420 m, and the record 420 m. It is -420 m, below the sea")
    assert "Check" not in near
    assert gone == "mil.csv: no such file. Correct the list's column 'record'."
    assert "Check" not in here
    assert turned.startswith("Check the place first: the station of this record is 5,7")
    assert "km from the place in the list" in turned
    assert feet.startswith("Check the place first: the place in the list is 1040 m above")


def test_place_without_a_file_has_its_history_fetched(monkeypatch):
    monkeypatch.setattr(stations, "fetch_history", lambda station: f"history of {station.id}")
    assert StationRecord(Station("B2", "B2", 46.2, 7.3)).read() == "history of B2"


# --- answered for, or named ---------------------------------------------------------------


def test_batches_hold_all_stations_in_order():
    daily = placed(*(weather(n, years=2) for n in range(5)))
    cut = batches_of_record(daily, 2)
    assert [batch.names for batch in cut] == [
        ["station 0", "station 1"],
        ["station 2", "station 3"],
        ["station 4"],
    ]
    (record,), failed = cut[1].read()
    assert not failed
    xr.testing.assert_equal(record, daily.isel(station=[2, 3]))


def test_a_batch_is_the_whole_answer_of_its_stations():
    records = weather(1, years=4), weather(2, years=4, gaps=0.02)
    found = together(*records)
    xr.testing.assert_equal(
        found.drop_vars(["status", "reason"]), station_results(placed(*records), CROPS)
    )
    assert found["status"].values.tolist() == [ANSWERED] * 2
    assert found["reason"].values.tolist() == [FEW_YEARS] * 2


@pytest.mark.parametrize("name", ["tmin", "tmean"])
def test_thin_station_is_named_and_changes_no_other(name):
    whole, thin = weather(1, years=4), weather(2, years=4)
    thin[name] = thin[name].where(thin["time"].dt.month < 7)
    found = together(thin, whole)
    assert found["status"].values.tolist() == [FAILED, ANSWERED]
    assert found["reason"].values[0] == (
        f"the record is too thin: fewer than 200 days of the year have any {name}"
    )
    own = together(whole).assign_coords(station=["station 1"])
    xr.testing.assert_equal(found.isel(station=[1]), own)
    lost = found.isel(station=0)
    assert lost["bands"].isnull().all()
    assert (lost["shorter_known"] == 0).all()
    assert (lost["window_status"] == STATUSES.index("unknown")).all()


def test_station_whose_answer_fails_is_named_and_changes_no_other(monkeypatch):
    def answers_but_one(daily, crops, **given):
        if "station 1" in daily["station"]:
            raise ZeroDivisionError("no\n  luck")
        return station_results(daily, crops, **given)

    records = [weather(n, years=3) for n in range(3)]
    expected = together(*records)
    monkeypatch.setattr(stations, "station_results", answers_but_one)
    found = together(*records)
    assert found["reason"].values.tolist() == [FEW_YEARS, "no luck", FEW_YEARS]
    xr.testing.assert_equal(
        found.isel(station=[0, 2]).drop_vars("reason"),
        expected.isel(station=[0, 2]).drop_vars("reason"),
    )


def test_what_a_function_would_mend_is_advised_in_words_of_a_list():
    """A list has no calls: what each would do stands in its place."""
    advised = stations._reason(StationError("No station answered. ", *WHAT_TO_DO))
    assert "a file of your own (the column 'record' of the list)" in advised
    assert "the invented sample (it comes with climwin)" in advised
    logger = RecordError("A logger under cover is read with ", Call("read_logger", ("path",)), ".")
    assert stations._reason(logger) == "A logger under cover is read with `climwin space`."
    assert sample().is_file()
    sooner = StationError("Ask for less: ", Parameter("first_year", 2001), ".")
    assert stations._reason(sooner) == "Ask for less: first year 2001."


def test_a_station_of_few_years_is_named_unless_it_was_asked_for():
    long, short = weather(1, years=11), weather(2, years=9)
    (batch,) = batches_of_record(placed(long, short.reindex(time=long["time"])), 100)
    found = stations.batch_results(batch, CROPS)
    assert found["status"].values.tolist() == [ANSWERED, FAILED]
    assert found["reason"].values[1] == (
        "too few years for odds: the record has 9 known years, and 10 are needed"
    )
    assert found.isel(station=1)["best_share"].isnull().all()
    asked = batch_results(batch, CROPS)
    assert asked["status"].values.tolist() == [ANSWERED] * 2
    assert asked["reason"].values.tolist() == ["", FEW_YEARS]
    assert asked.isel(station=1)["best_share"].notnull().any()


def test_records_that_cannot_be_read_are_named(tmp_path):
    good = write_station(tmp_path, "good.csv", weather(1, years=3))
    bad = write_station(tmp_path, "bad.csv", weather(2, years=3))
    bad.record.write_text("date,tmin\n2000-01-01,1\n")
    gone = StationRecord(Station("gone", "gone", 46, 7), tmp_path / "gone.csv")
    (batch,) = batches_of_list([bad, good, gone], 100)
    found = batch_results(batch, CROPS)
    assert found["status"].values.tolist() == [FAILED, ANSWERED, FAILED]
    assert found["reason"].values[0].startswith("The record has no 'tmax'")
    assert "gone.csv" in found["reason"].values[2]
    (batch,) = batches_of_list([gone], 100)
    assert set(batch_results(batch, CROPS).data_vars) == {"status", "reason"}


def test_batch_that_cannot_be_read_names_all_its_stations():
    def read():
        raise OSError("disk gone")

    found = batch_results(stations.Batch(["A", "B"], read), CROPS)
    assert found["reason"].values.tolist() == ["disk gone"] * 2


def test_records_of_different_years_stand_placed(tmp_path):
    early = weather(1, years=4)  # 1999 to 2002
    late = weather(2, years=4).assign_coords(time=early["time"] + np.timedelta64(1461, "D"))
    places = [
        write_station(tmp_path, "early.csv", early),
        write_station(tmp_path, "late.csv", late),
    ]
    (batch,) = batches_of_list(places, 100)
    found = batch_results(batch, CROPS)
    assert found["season"].values.tolist() == list(range(1999, 2007))
    unknown = (found["window_status"] == STATUSES.index("unknown")).all(["crop", "part"])
    assert unknown.sel(station="early.csv", season=slice(2003, None)).all()
    assert unknown.sel(station="late.csv", season=slice(None, 2002)).all()
    for place in places:  # and each is what it would be alone
        alone = batch_results(batches_of_list([place], 1)[0], CROPS)
        xr.testing.assert_equal(
            found.sel(station=[place.station.id], season=alone["season"]), alone
        )
    years = found["shorter_known"] + found["shorter_unknown"]
    npt.assert_array_equal(years.sel(part="longest"), 4)
    npt.assert_array_equal(years, 4 * (found["has_two_windows"] | (found["part"] == "longest")))


def test_answer_does_not_hang_on_the_stations_beside():
    # Records from March to October: northern and southern seasons would lie in it differently.
    cut = slice("1999-03-10", "2002-10-20")
    records = [weather(1).sel(time=cut), weather(2, coldest=202).sel(time=cut)]
    found = together(*records)
    for n, record in enumerate(records):
        alone = together(record).assign_coords(station=[f"station {n}"])
        xr.testing.assert_equal(found.isel(station=[n]), alone)
    assert found["season"].values.tolist() == [1999, 2000, 2001, 2002]
