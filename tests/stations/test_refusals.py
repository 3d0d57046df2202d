"""What the store and the search refuse: what was given, what is allowed, and what to do."""

import datetime as dt
import errno
import os
from functools import partial

import numpy as np
import pytest
import xarray as xr
from refusing import refused
from standin import StandIn, pointed_at

from climwin.core.errors import StationError
from climwin.core.schema import Garden, Station
from climwin.stations import cache, gazetteer, history, search
from climwin.stations.meteostat_client import RetryPolicy

BUSY = RetryPolicy(timeout=20, attempts=2, backoff=0.01)
HOW = ("Write decimal degrees ('46.10, 7.20')", "degrees and minutes")


@pytest.fixture
def kept(tmp_path, kept_station):
    """A store of one station."""
    (tmp_path / "station-PLB01.nc").write_bytes(kept_station)
    return tmp_path


refused = partial(refused, kind=(StationError, ValueError))


# --- the store ----------------------------------------------------------------------------


def test_an_identifier_is_made_of_letters_and_digits(tmp_path):
    refused(
        lambda: cache.path_of("../x", tmp_path),
        "'../x' is not a station identifier: these are made of letters and digits",
        "such as '10637'",
        "Find one with climwin.find_stations",
    )


def test_a_station_that_is_not_stored_is_told_beside_those_that_are(kept, tmp_path_factory):
    refused(
        lambda: cache.stored_path("NOPE1", kept),
        "The local store has no station 'NOPE1'; it holds PLB01.",
        "Download one with climwin.fetch_history",
    )
    empty = tmp_path_factory.mktemp("empty")
    refused(lambda: cache.stored_path("NOPE1", empty), "it holds no station yet.")


def test_who_waits_for_another_program_is_told_for_how_long_and_what_to_do(tmp_path):
    def again():
        with cache.locked("PLB01", tmp_path, timeout=0.05):
            pass

    with cache.locked("PLB01", tmp_path):
        refused(
            again,
            "Another program has been fetching station PLB01 for over 0.05 s.",
            "Wait for it, or end it and try again; what it fetched is kept.",
        )


def test_a_damaged_file_that_cannot_be_moved_is_told_with_both_reasons(kept, monkeypatch):
    path = kept / "station-PLB01.nc"
    path.write_bytes(b"half")

    def replace(*_):
        raise PermissionError(errno.EACCES, os.strerror(errno.EACCES))

    monkeypatch.setattr(type(path), "replace", replace)
    refused(
        lambda: cache.load("PLB01", kept),
        "station-PLB01.nc is damaged (",
        "), and cannot be set aside (Permission denied).",
        "Remove it, and fetch the station again.",
    )


def test_years_that_the_store_lacks_are_told_beside_those_it_has(kept):
    refused(
        lambda: history.refresh_history("PLB01", [1950, 1951], where=kept),
        "The store has no 1950, 1951 of station PLB01; it has 2001 to 2010.",
        "Fetch further years with climwin.fetch_history",
    )


@pytest.mark.parametrize(
    ("faults", "why"),
    [
        ({}, "None of its days is over yet."),
        ({2030: "the server is busy"}, "2030: the server is busy."),
    ],
)
def test_a_history_of_which_nothing_came_says_why(faults, why):
    station = Station("PLB01", "Pellbrook Mill", 46.1, 7.2)
    refused(
        lambda: history._select(None, station, range(2030, 2031), faults, ""),
        "No history of Pellbrook Mill (PLB01) could be fetched.",
        why,
    )


def test_nothing_doubtful_to_fetch_again_asks_for_the_years(kept):
    refused(
        lambda: history.refresh_history("PLB01", where=kept),
        "No year of station PLB01 is doubtful.",
        "Name the years to fetch again.",
    )


# --- stations -----------------------------------------------------------------------------


@pytest.fixture
def server():
    with StandIn(today=dt.date(2024, 9, 10)) as server, pointed_at(server):
        yield server


def test_a_period_that_ends_before_it_begins_is_told_in_its_order():
    refused(
        lambda: search.whole_years(2020, 2010),
        "must not end before it begins, got 2020 to 2010.",
    )


def test_where_no_station_lies_a_wider_search_is_advised(server, tmp_path):
    garden = Garden("Mid Ocean", 0.0, -30.0)
    refused(
        lambda: search.find_stations(garden, radius_km=40, where=tmp_path, retry_policy=BUSY),
        "No station lies within 40 km of 'Mid Ocean'.",
        "Look further: climwin.find_stations(garden, radius_km=80).",
    )


def test_a_list_that_cannot_be_had_says_why(server, tmp_path):
    server.fail("500", "stations.db")
    refused(
        lambda: search.find_stations(Garden("x", 46, 7), where=tmp_path, retry_policy=BUSY),
        "The list of stations could not be downloaded: the server answered 500.",
    )


def test_an_unknown_station_is_told_with_where_to_find_one(server, tmp_path):
    refused(
        lambda: history.fetch_history("NOPE1", 2000, where=tmp_path, retry_policy=BUSY),
        "There is no station 'NOPE1'. Find one with climwin.find_stations",
    )


def test_a_station_without_a_history_is_told_by_name_and_number(server, tmp_path):
    refused(
        lambda: history.fetch_history("PLB06", 2000, 2001, where=tmp_path, retry_policy=BUSY),
        "No history of Silent Field (PLB06) could be fetched.",
        "2000-2001: the provider has no file, or no temperature in it.",
    )


def record_at(**attrs):
    days = np.arange(np.datetime64("2000-01-01"), np.datetime64("2002-01-01"))
    time = ("time", days.astype("datetime64[ns]"))
    return xr.Dataset({"tmin": ("time", np.zeros(len(days)))}, {"time": time}, attrs=attrs)


def test_neighbours_need_a_place_a_number_and_a_station(server, tmp_path):
    options = {"where": tmp_path, "retry_policy": BUSY}
    refused(
        lambda: history.fetch_neighbours(record_at(), **options),
        "The record does not say where its station is. Give its degrees north in",
        "latitude",
        "longitude likewise",
    )
    here = record_at(latitude=60.0, longitude=10.0, station_name="Lone Point", station_id="PLB07")
    refused(lambda: history.fetch_neighbours(here, most=0, **options), "must be 1 or more, got 0.")
    refused(
        lambda: history.fetch_neighbours(here, radius_km=20, **options),
        "No other station within 20 km of Lone Point has a history.",
    )


# --- places -------------------------------------------------------------------------------


def test_a_place_without_a_name_is_refused_with_how_to_write_one():
    refused(
        lambda: gazetteer.locate("  "),
        "The name of a place is empty, got '  '.",
        "Write a town's name, or coordinates.",
        *HOW,
    )


def test_a_position_off_the_globe_is_told_with_its_limits():
    refused(
        lambda: gazetteer.parse_position("95, 7"),
        "'95, 7' is off the globe: latitude goes to 90, longitude to 180 degrees.",
        *HOW,
    )
    assert gazetteer.parse_position("90, 180") == (90.0, 180.0)


def test_a_position_that_is_none_is_told_with_how_to_write_one():
    refused(
        lambda: gazetteer.parse_position("46.1, 7.2, 3.0"),
        "'46.1, 7.2, 3.0' cannot be read as a position.",
        *HOW,
    )
