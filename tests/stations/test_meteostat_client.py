"""Meteostat's files, downloaded and read, against the stand-in server."""

import datetime as dt
import gzip
import io
import logging
import os
import socket
import sqlite3
import threading
import time
import urllib.request
from concurrent.futures import ThreadPoolExecutor
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from types import SimpleNamespace

import meteostat
import numpy as np
import numpy.testing as npt
import pandas as pd
import pytest
from standin import STATIONS, StandIn, pointed_at, weather

from climwin.core.schema import Station
from climwin.stations import meteostat_client
from climwin.stations.history import fetch_history
from climwin.stations.meteostat_client import LIST_FILE, RetryPolicy, download_year, station_list

QUICK = RetryPolicy(timeout=0.4, attempts=3, backoff=0.01)
BUSY = RetryPolicy(timeout=20, attempts=3, backoff=0.01)  # long enough on a busy machine
PATIENT = RetryPolicy(timeout=200, attempts=3, backoff=0.01)  # while a test holds the server up
MILL = Station("PLB01", "Pellbrook Mill", 46.10, 7.20, 610)


@pytest.fixture
def server():
    with StandIn() as server, pointed_at(server):
        yield server


def ask(year):
    return download_year(MILL.id, year, timeout=5)


def by_meteostat(year):
    """The same year by meteostat's own call, without its cache."""
    series = meteostat.daily(
        meteostat.Station(id=MILL.id, latitude=MILL.latitude, longitude=MILL.longitude),
        dt.date(year, 1, 1),
        dt.date(year, 12, 31),
        parameters=[meteostat.Parameter(each) for each in ("tmin", "tmax", "temp", "prcp")],
    )
    return series.fetch(squash=False)


# --- one year -----------------------------------------------------------------------------


def test_a_year_is_what_the_server_holds(server):
    frame = ask(1999).droplevel("source")
    sent = weather(STATIONS[0], 1999, server.today)
    for column in ("temp", "tmin", "tmax", "prcp"):
        npt.assert_array_equal(frame[column].to_numpy(float), sent[column])
    assert server.count("/daily/1999/PLB01") == 1


@pytest.mark.parametrize("year", [1985, 1999, 2000, "running"])  # early years have fewer columns
def test_a_year_is_read_as_meteostat_reads_it(server, monkeypatch, year):
    monkeypatch.setattr(meteostat.config, "cache_enable", False)
    year = server.today.year if year == "running" else year
    server.edit(year, 3, "tmin", -999.0)  # meteostat drops it
    server.edit(year, 4, "tmin", -3.14159)  # and rounds this
    server.edit(year, 5, "tmax", None)
    server.edit(year, 6, "tmax_source", "isd_lite metar")
    pd.testing.assert_frame_equal(ask(year), by_meteostat(year), check_like=True)


def test_a_year_without_a_file_is_nothing_and_no_error(server):
    assert ask(1979) is None


def test_a_file_without_a_row_is_nothing_and_no_error(server):
    server.fail("empty")
    assert ask(1999) is None


def test_a_value_without_a_source_is_handed_on(server):
    # meteostat's own fetch() raises AttributeError here
    server.fail("no source")
    frame = ask(1999)
    unsourced = frame[frame.index.get_level_values("source").isna()]
    assert len(unsourced) == 1
    assert unsourced["tmin"].notna().all()


@pytest.mark.parametrize(
    ("kind", "words", "reached"),
    [
        ("403", "the server answered 403", True),
        ("429", "the server answered 429", True),
        ("500", "the server answered 500", True),
        ("cut", "the file was truncated", True),
        ("html", "not a data file, or a damaged one", True),
        ("reset", r"no connection$", False),
    ],
)
def test_a_failure_is_raised_and_put_in_words(server, kind, words, reached):
    server.fail(kind)
    with pytest.raises(Exception) as caught:  # noqa: PT011 - of any kind, the words count
        ask(1999)
    text, was_reached = meteostat_client.describe_error(caught.value)
    assert was_reached is reached
    with pytest.raises(RuntimeError, match=words):
        raise RuntimeError(text)


def test_one_failure_of_several_in_parallel_is_that_of_its_year(server):
    server.fail("500", "/1999/")
    years = range(1997, 2002)
    calls = {year: meteostat_client.run_in_thread(ask, year) for year in years}
    assert {year for year, call in calls.items() if call.exception(60)} == {1999}


def test_a_server_that_hangs_is_left_after_the_timeout(server):
    server.fail("hang")
    began = time.monotonic()
    with pytest.raises(TimeoutError):
        download_year(MILL.id, 1999, timeout=0.2)
    assert time.monotonic() - began < 30  # the server itself would hang for 60 s


def test_proxies_of_meteostats_settings_are_used(server, monkeypatch):
    # the stand-in serves as the proxy: it answers a request for a whole URL by its path
    monkeypatch.setattr(meteostat.config, "network_proxies", {"http": server.address})
    monkeypatch.setattr(
        meteostat.config, "daily_endpoint", "http://127.0.0.2:9/daily/{year}/{station}.csv.gz"
    )
    asked = []

    def answer(path):
        asked.append(path)
        return gzip.compress(b"year,month,day,tmin,tmin_source\n1999,1,1,-3.5,ghcnd\n")

    monkeypatch.setattr(server, "body", answer)
    assert ask(1999)["tmin"].tolist() == [-3.5]
    assert asked == ["http://127.0.0.2:9/daily/1999/PLB01.csv.gz"]


# --- what belongs to the whole process is left alone --------------------------------------

LARGE = bytes(5 * meteostat_client.LARGEST_YEAR)
"""What another thread downloads: more than any yearly file may have."""


@pytest.fixture
def elsewhere():
    """Address of another server, with one large file."""

    class Handler(BaseHTTPRequestHandler):
        def log_message(self, *_):
            pass

        def do_GET(self):
            self.send_response(200)
            self.send_header("Content-Length", f"{len(LARGE)}")
            self.end_headers()
            self.wfile.write(LARGE)

    with ThreadingHTTPServer(("127.0.0.1", 0), Handler) as other:
        threading.Thread(target=other.serve_forever, args=(0.02,), daemon=True).start()
        yield f"http://127.0.0.1:{other.server_port}/large.bin"
        other.shutdown()


def process_state():
    """What belongs to the whole process and a fetch could be tempted to change."""
    log = logging.getLogger("meteostat")
    return {
        "opener": getattr(urllib.request, "_opener", None),
        "settings": dict(vars(meteostat.config)),
        "log": (log.level, log.propagate, tuple(log.handlers)),
        "timeout": socket.getdefaulttimeout(),
    }


def test_another_thread_downloads_undisturbed_during_a_fetch(
    server, elsewhere, tmp_path, monkeypatch
):
    body, downloaded = server.body, threading.Event()

    def held_up(path):
        """The fetch goes on only when the other thread has downloaded in the midst of it."""
        assert downloaded.wait(60)
        return body(path)

    monkeypatch.setattr(server, "body", held_up)
    opener = urllib.request.build_opener()
    urllib.request.install_opener(opener)  # the program's own
    try:
        before, states, sizes = process_state(), [], []
        with ThreadPoolExecutor(1) as pool:
            fetched = pool.submit(
                fetch_history, "PLB01", 1990, 2009, where=tmp_path, retry_policy=PATIENT
            )
            while not fetched.done():
                states.append(process_state())
                with urllib.request.urlopen(elsewhere, timeout=60) as answer:
                    sizes.append(len(answer.read()))
                if len(sizes) == 4:
                    downloaded.set()
        assert fetched.result().sizes["time"] == 7305  # 20 years, five of them leap
        assert len(sizes) >= 4
        assert set(sizes) == {len(LARGE)}
        assert all(state == before for state in states)
        assert process_state() == before
    finally:
        urllib.request.install_opener(None)


def test_meteostats_own_calls_go_on_during_a_fetch(server, tmp_path, monkeypatch):
    # a program that uses meteostat for itself, with a cache and without model data
    monkeypatch.setattr(meteostat.config, "cache_directory", str(tmp_path / "theirs"))
    monkeypatch.setattr(meteostat.config, "include_model_data", False)
    body, theirs_came = server.body, threading.Event()

    def held_up(path):
        """A year of ours is under way until theirs has come."""
        if "/199" in path:
            assert theirs_came.wait(60)
        return body(path)

    monkeypatch.setattr(server, "body", held_up)
    year = server.today.year
    with ThreadPoolExecutor(1) as pool:
        ours = tmp_path / "ours"
        fetched = pool.submit(fetch_history, "PLB01", 1990, 2009, where=ours, retry_policy=PATIENT)
        theirs = by_meteostat(year)
        theirs_came.set()
        fetched.result()
    assert set(theirs.index.get_level_values("source")) == {"ghcnd"}
    assert len(list((tmp_path / "theirs").iterdir())) == 1  # their year, and none of ours


def test_a_call_that_hangs_holds_up_nothing():
    release = threading.Event()
    before, began = {*threading.enumerate()}, time.monotonic()
    answer = meteostat_client.run_in_thread(release.wait, 30)
    with pytest.raises(TimeoutError):
        answer.result(0.05)
    assert time.monotonic() - began < 20  # the call itself would take 30 s
    [hanging] = {*threading.enumerate()} - before
    assert hanging.daemon
    release.set()
    assert answer.result(60) is True


def test_sources_are_graded_and_credited_as_meteostat_does():
    assert meteostat_client.model_sources() == {"dwd_mosmix", "metno_forecast"}
    # GHCN-Daily has no attribution of its own, and meteostat's .attribution leaves it out
    assert meteostat_client.credits_for(["isd_lite", "dwd_daily", "ghcnd", "dwd_poi", "mine"]) == [
        "Deutscher Wetterdienst",
        "NOAA GHCN-Daily",
        "NOAA ISD Lite",
        "mine",
    ]


# --- the list of stations -----------------------------------------------------------------


def test_the_list_is_downloaded_once_and_stored(server, tmp_path):
    for _ in range(2):
        path, fault = station_list(tmp_path, retry_policy=BUSY)
    assert (path, fault) == (tmp_path / LIST_FILE, "")
    assert server.count("stations.db") == 1
    assert [p.name for p in tmp_path.iterdir()] == [LIST_FILE]


@pytest.mark.parametrize("kind", ["404", "403", "429", "500", "cut", "html", "reset"])
def test_the_list_is_asked_for_again_after_a_fault(server, tmp_path, kind):
    server.fail(kind, "stations.db", times=2)
    path, fault = station_list(tmp_path, retry_policy=BUSY)
    assert not fault
    assert meteostat_client.find_station(path, "PLB03").name == "Pellbrook Pass"


@pytest.mark.parametrize("kind", ["404", "500", "cut", "html", "reset", "hang"])
def test_without_a_list_there_is_a_reason_and_no_file(server, tmp_path, kind):
    server.fail(kind, "stations.db")
    path, fault = station_list(tmp_path, retry_policy=QUICK if kind == "hang" else BUSY)
    assert fault
    assert not path.exists()


@pytest.mark.parametrize("kind", ["500", "cut", "html", "hang"])
def test_a_stale_list_serves_where_it_cannot_be_refreshed(server, tmp_path, kind):
    path, _ = station_list(tmp_path, retry_policy=BUSY)
    old = time.time() - 2 * meteostat_client.LIST_AGE.total_seconds()
    os.utime(path, (old, old))
    server.fail(kind, "stations.db")
    quick = QUICK if kind == "hang" else BUSY
    kept, fault = station_list(tmp_path, retry_policy=quick)
    assert fault
    assert meteostat_client.find_station(kept, "PLB01").elevation == 610
    server.mend()
    assert station_list(tmp_path, retry_policy=BUSY)[1] == ""


def test_a_slow_list_is_waited_for_while_it_grows(server, tmp_path, monkeypatch):
    # it takes four times the timeout: that the file grows is the sign of life
    now = [0.0]

    class Slow(io.BytesIO):
        def read1(self, _=-1):
            now[0] += BUSY.timeout / 3  # on a clock of our own: nobody waits
            return super().read1(len(server.station_list()) // 11)

    monkeypatch.setattr(meteostat_client, "_open_url", lambda *_: Slow(server.station_list()))
    clock = SimpleNamespace(time=time.time, monotonic=lambda: now[0], sleep=time.sleep)
    monkeypatch.setattr(meteostat_client, "time", clock)
    path, fault = station_list(tmp_path, retry_policy=BUSY)
    assert now[0] > 4 * BUSY.timeout
    assert not fault
    assert meteostat_client.find_station(path, "PLB01") == MILL


def test_a_list_without_an_inventory_is_not_taken(server, tmp_path):
    hollow = sqlite3.connect(":memory:")
    hollow.deserialize(server.station_list())
    hollow.execute("DELETE FROM inventory")
    hollow.commit()
    body = hollow.serialize()
    hollow.close()
    server.station_list = lambda: body
    path, fault = station_list(tmp_path, retry_policy=BUSY)
    assert "not a data file, or a damaged one" in fault
    assert not path.exists()


def test_an_unknown_station_is_nothing(server, tmp_path):
    path, _ = station_list(tmp_path, retry_policy=BUSY)
    assert meteostat_client.find_station(path, "NOPE1") is None


def test_the_inventory_is_that_of_daily_data_as_shares(server, tmp_path):
    path, _ = station_list(tmp_path, retry_policy=BUSY)
    rows = meteostat_client.inventory(path, ["PLB01", "PLB02", "PLB06"])
    mill = rows.loc[("PLB01", "tmin")]
    assert mill["first"].date() == dt.date(1980, 1, 1)  # not the monthly provider's 1900
    assert mill["last"].date() == server.today - dt.timedelta(days=1)
    assert mill["share"] == pytest.approx(0.99)
    assert rows.loc[("PLB02", "tmean"), "share"] == pytest.approx(0.90)
    assert "PLB06" not in rows.index.get_level_values("station")


def inventory_of(path, *rows):
    """Inventory of a list that has these rows only."""
    db = sqlite3.connect(path)
    db.execute("DELETE FROM inventory")
    db.executemany("INSERT INTO inventory VALUES (?,?,?,?,?,?)", rows)
    db.commit()
    db.close()
    return meteostat_client.inventory(path, ["PLB01"])


def test_one_bad_row_of_the_list_stops_no_other(server, tmp_path):
    path, _ = station_list(tmp_path, retry_policy=BUSY)
    before = meteostat_client.stations_within(path, 46.1, 7.2, 100)
    db = sqlite3.connect(path)
    bad = [
        ("../../x", 46.1, 7.2, 600),
        ("A\x1b[31m", 46.1, 7.2, 600),
        ("A" * 41, 46.1, 7.2, 600),
    ]
    for station, *place in bad:
        row = (station, "CH", "VS", *place, "Europe/Zurich")
        db.execute("INSERT INTO stations VALUES (?,?,?,?,?,?,?)", row)
        db.execute("INSERT INTO names VALUES (?,'en','Bad')", (station,))
    db.execute("UPDATE stations SET elevation = 99999 WHERE id = 'PLB03'")
    db.execute(
        "UPDATE names SET name = ? WHERE station = 'PLB01'", ("Mill\x1b]0;x\x07 \u202etolp",)
    )
    db.commit()
    db.close()
    with pytest.warns(UserWarning, match="3 rows of the list of stations have an invalid") as heard:
        near = meteostat_client.stations_within(path, 46.1, 7.2, 100)
    assert str(heard[0].message).isprintable()
    assert sorted(near.index) == sorted(before.index)
    assert np.isnan(near.loc["PLB03", "elevation"])
    assert near.loc["PLB01", "name"] == "Mill]0;x tolp"


def test_an_absurd_row_of_the_inventory_changes_no_other(server, tmp_path):
    path, _ = station_list(tmp_path, retry_policy=BUSY)
    span = ("1990-01-01", "2020-12-31")
    rows = inventory_of(
        path,
        ("PLB01", "daily", "tmin", *span, 0.8),
        ("PLB01", "daily", "tmax", *span, 1e9),
        ("PLB01", "daily", "prcp", "2020-12-31", "1990-01-01", 0.5),
        ("PLB01", "daily", "temp", "yesterday", "2020-12-31", 0.5),
    )
    assert rows.loc[("PLB01", "tmin"), "share"] == 0.8
    assert np.isnan(rows.loc[("PLB01", "tmax"), "share"])
    assert {name for _, name in rows.index} == {"tmin", "tmax"}


def test_inventories_of_every_kind(server, tmp_path):
    path, _ = station_list(tmp_path, retry_policy=BUSY)
    span = ("1990-01-01", "2020-12-31")
    assert meteostat_client.inventory(path, ["PLB06"]).empty
    assert inventory_of(path, ("PLB01", "climat", "tmin", *span, 1.0)).empty  # monthly only
    # shares instead of per cent; one not given
    rows = inventory_of(
        path, ("PLB01", "ghcnd", "tmin", *span, 0.8), ("PLB01", "ghcnd", "tmax", *span, None)
    )
    assert rows.loc[("PLB01", "tmin"), "share"] == 0.8
    assert np.isnan(rows.loc[("PLB01", "tmax"), "share"])
    # hourly providers count where no daily one does
    hourly = ("PLB01", "isd_lite", "temp", "1970-01-01", "2020-12-31", 90.0)
    rows = inventory_of(path, hourly, ("PLB01", "daily", "tmin", *span, 95.0))
    assert rows.loc[("PLB01", "tmean"), "first"].year == 1970
    assert rows.loc[("PLB01", "tmin"), "share"] == pytest.approx(0.95)
