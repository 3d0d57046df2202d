"""The stations around a garden, from the stand-in's list."""

import os
import time

import numpy as np
import pandas as pd
import pytest
from standin import StandIn, pointed_at

from climwin.core.errors import StationError
from climwin.core.schema import Garden
from climwin.stations import meteostat_client, search
from climwin.stations.meteostat_client import LIST_FILE, RetryPolicy
from climwin.stations.search import find_stations

QUICK = RetryPolicy(timeout=0.4, attempts=2, backoff=0.01)
BUSY = RetryPolicy(timeout=20, attempts=2, backoff=0.01)  # long enough on a busy machine
GARDEN = Garden("Pellbrook", 46.10, 7.20, 640)


@pytest.fixture
def server():
    with StandIn() as server, pointed_at(server):
        yield server


@pytest.fixture
def table(server, tmp_path):
    return find_stations(GARDEN, first_year=1991, last_year=2020, where=tmp_path, retry_policy=BUSY)


def test_distance_height_and_years(table):
    assert table.loc["PLB01", "distance_km"] == pytest.approx(0, abs=0.1)
    # one degree of latitude is 111.2 km on a sphere of 6371 km
    great_circle = 6371 * np.arccos(
        np.sin(np.radians(46.1)) * np.sin(np.radians(46.4))
        + np.cos(np.radians(46.1)) * np.cos(np.radians(46.4)) * np.cos(np.radians(0.35))
    )
    assert table.loc["PLB05", "distance_km"] == pytest.approx(great_circle, abs=0.01)
    assert table.loc["PLB03", "height_difference_m"] == 1250
    assert table.loc["PLB04", ["tmin_first", "tmax_first"]].tolist() == [2015, 2015]
    assert table.loc["PLB01", "precip_first"] == 1980  # not 1900, the monthly provider's


def test_share_of_the_period_by_the_inventory(table):
    # 2015 to 2020 of 1991 to 2020: 6 of 30 years, 99 % of them
    assert table.loc["PLB04", "share_present"] == pytest.approx(0.2 * 0.99, abs=0.001)
    assert table.loc["PLB05", "share_present"] == pytest.approx(0.70)
    assert table.loc["PLB06", "share_present"] == 0


def test_the_best_is_long_complete_near_and_like_in_height(table):
    assert table.index[0] == "PLB01"
    assert table.index[-1] == "PLB06"  # it holds nothing
    assert table["score"].is_monotonic_decreasing


@pytest.mark.parametrize(
    ("column", "better", "worse"),
    [
        ("distance_km", 5.0, 20.0),
        ("height_difference_m", -30.0, 300.0),
        ("share", 0.95, 0.60),
        ("first", "1991-01-01", "2009-01-01"),
    ],
)
def test_each_ground_counts_alone(column, better, worse):
    frames = {"distance_km": 5.0, "height_difference_m": 0.0, "share": 0.9, "first": "1980-01-01"}
    scores = []
    for value in (better, worse):
        facts = frames | {column: value}
        near = pd.DataFrame(
            {
                "timezone": "",
                "distance": facts["distance_km"] * 1000,
                "elevation": 640 + facts["height_difference_m"],
            },
            index=["X"],
        )
        rows = [("X", name) for name in meteostat_client.COLUMNS]
        available = pd.DataFrame(
            {
                "first": pd.Timestamp(facts["first"]),
                "last": pd.Timestamp("2024-12-31"),
                "share": facts["share"],
            },
            index=pd.MultiIndex.from_tuples(rows, names=["station", "variable"]),
        )
        scores.append(search._scored(near, available, GARDEN, (1991, 2020))["score"].item())
    assert scores[0] > scores[1] > 0


@pytest.mark.parametrize(
    ("shares", "present"),
    [
        ({"tmin": 0.9, "tmax": 0.9}, 0.9),  # no rain at all
        ({"tmin": 0.9, "tmax": 0.9, "precip": 0.2}, 0.9),
        ({"tmin": 0.4, "tmax": 0.9, "precip": 0.9}, 0.4),
        ({"tmin": 0.9, "tmax": 0.4, "precip": 0.9}, 0.4),
        ({"tmin": 0.9, "precip": 0.9}, 0.0),
    ],
)
def test_a_station_s_days_count_where_it_has_both_minimum_and_maximum(shares, present):
    near = pd.DataFrame({"timezone": "", "distance": 0.0, "elevation": 640}, index=["X"])
    rows = pd.MultiIndex.from_product([["X"], shares], names=["station", "variable"])
    held = {"first": pd.Timestamp("1980-01-01"), "last": pd.Timestamp("2024-12-31")}
    available = pd.DataFrame(held | {"share": [*shares.values()]}, index=rows)
    found = search._scored(near, available, GARDEN, (1991, 2020))
    assert found["share_present"].item() == pytest.approx(present)


def test_reason_in_words(table):
    assert table.loc["PLB01", "reason"] == (
        "0 km away; 30 m lower; 99 % of the days of 1991 to 2020 (record 1980 to "
        f"{table.loc['PLB01', 'tmin_last']}); at the same spot: PLB02"
    )
    assert "1250 m higher" in table.loc["PLB03", "reason"]
    assert "no minimum and maximum of 1991 to 2020" in table.loc["PLB06", "reason"]


def test_stations_at_one_spot_are_folded_into_the_best(table, server, tmp_path):
    assert "PLB02" not in table.index
    assert table.loc["PLB01", "same_spot"] == "PLB02"
    early = find_stations(
        GARDEN, first_year=1955, last_year=1979, where=tmp_path, retry_policy=BUSY
    )
    assert early.loc["PLB02", "same_spot"] == "PLB01"


def test_the_table_says_whom_it_is_from(table):
    assert table.attrs["credit"] == "Meteostat (https://meteostat.net)"
    licence, address = table.attrs["licence"].split(", ")
    assert licence == "CC BY 4.0"
    assert address == "https://creativecommons.org/licenses/by/4.0/"


def test_a_garden_without_a_height_leaves_it_out_of_account(server, tmp_path):
    table = find_stations(Garden("Pellbrook", 46.10, 7.20), where=tmp_path, retry_policy=BUSY)
    assert table["height_difference_m"].isna().all()
    assert table.index[0] == "PLB01"
    assert "m higher" not in table.loc["PLB03", "reason"]


def test_nothing_within_the_radius_says_what_to_do(server, tmp_path):
    with pytest.raises(StationError, match=r"No station lies within 50 km.*radius_km=100"):
        find_stations(Garden("Far", -30, 20, 500), where=tmp_path, retry_policy=BUSY)


def test_a_southern_garden_by_the_date_line_is_measured_the_short_way():
    assert search._same_spot(np.array([-45.0, 179.999, 10]), np.array([-45.0, -179.999, 20]))
    assert not search._same_spot(np.array([-45.0, 179.0, 10]), np.array([-45.0, -179.0, 20]))
    assert not search._same_spot(np.array([-45.0, 179.999, 10]), np.array([-45.0, -179.999, 90]))


def test_a_period_that_ends_before_it_begins(tmp_path):
    with pytest.raises(ValueError, match="must not end before it begins, got 2020 to 1991"):
        find_stations(GARDEN, first_year=2020, last_year=1991, where=tmp_path)


# --- the list when things go wrong --------------------------------------------------------


@pytest.mark.parametrize("kind", ["404", "500", "cut", "html", "reset", "hang"])
def test_without_a_list_there_is_one_clear_error(server, tmp_path, kind):
    server.fail(kind, "stations.db")
    with pytest.raises(StationError, match=r"list of stations.*Use a file.*sample.*try again"):
        find_stations(GARDEN, where=tmp_path, retry_policy=QUICK if kind == "hang" else BUSY)


def test_a_stale_list_serves_with_a_warning(server, tmp_path):
    find_stations(GARDEN, where=tmp_path, retry_policy=BUSY)
    old = time.time() - 2 * meteostat_client.LIST_AGE.total_seconds()
    os.utime(tmp_path / LIST_FILE, (old, old))
    server.fail("500", "stations.db")
    with pytest.warns(UserWarning, match="could not be refreshed"):
        table = find_stations(GARDEN, where=tmp_path, retry_policy=BUSY)
    assert table.index[0] == "PLB01"


@pytest.mark.parametrize("damage", [b"", b"<html>", None])
def test_a_list_damaged_on_disk_is_fetched_anew(server, tmp_path, damage):
    find_stations(GARDEN, where=tmp_path, retry_policy=BUSY)
    body = (tmp_path / LIST_FILE).read_bytes()
    (tmp_path / LIST_FILE).write_bytes(body[:5000] if damage is None else damage)
    assert find_stations(GARDEN, where=tmp_path, retry_policy=BUSY).index[0] == "PLB01"
    assert (tmp_path / LIST_FILE).read_bytes() == body
