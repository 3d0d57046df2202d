"""Calls to unmodified meteostat, against the stand-in server."""

import datetime as dt
import logging
import os
import socket
import sqlite3
import threading
import time
import urllib.error

import meteostat
import numpy as np
import numpy.testing as npt
import pytest
from standin import STATIONS, StandIn, pointed_at, weather

from climwin.core.schema import Station
from climwin.stations import provider
from climwin.stations.provider import LIST, Patience

QUICK = Patience(timeout=0.4, attempts=3, backoff=0.01)
BUSY = Patience(timeout=20, attempts=3, backoff=0.01)  # long enough on a busy machine
MILL = Station("PLB01", "Pellbrook Mill", 46.10, 7.20, 610)


@pytest.fixture
def server():
    with StandIn() as server, pointed_at(server):
        yield server


def ask(year, station=MILL):
    with provider.settings():
        return provider.start(provider.ask_year, station, year).result(5)


# --- one year -----------------------------------------------------------------------------


def test_meteostat_delivers_what_the_server_holds(server):
    frame = ask(1999).droplevel("source")
    sent = weather(STATIONS[0], 1999, server.today)
    for column in ("temp", "tmin", "tmax", "prcp"):
        npt.assert_array_equal(frame[column].to_numpy(float), sent[column])
    assert server.count("/daily/1999/PLB01") == 1


def test_a_year_without_a_file_is_nothing_and_no_error(server):
    assert ask(1979) is None


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
        ("cut", "the file came cut short", True),
        ("html", "no data file, or a damaged one", True),
        ("reset", r"no connection \(ConnectionResetError\)", False),
    ],
)
def test_what_meteostat_only_logs_is_raised_and_told_in_words(server, kind, words, reached):
    server.fail(kind)
    with pytest.raises(Exception) as caught:  # noqa: PT011 - of any kind, the words count
        ask(1999)
    told, was_reached = provider.in_words(caught.value)
    assert was_reached is reached
    with pytest.raises(RuntimeError, match=words):
        raise RuntimeError(told)


def test_the_reason_is_heard_though_the_user_has_silenced_the_log(server, monkeypatch):
    monkeypatch.setattr(logging.getLogger("meteostat"), "level", logging.CRITICAL)
    server.fail("500")
    with pytest.raises(urllib.error.HTTPError, match="500"):
        ask(1999)
    assert logging.getLogger("meteostat").level == logging.CRITICAL


def test_with_all_logging_off_nothing_is_not_taken_for_no_file(server):
    server.fail("500")
    logging.disable(logging.CRITICAL)
    try:
        with pytest.raises(RuntimeError, match="logging is off"):
            ask(1999)
    finally:
        logging.disable(logging.NOTSET)


def test_another_thread_is_not_blamed(server):
    # one of several side by side fails; the others must not see its log
    server.fail("500", "/1999/")
    with provider.settings():
        calls = {year: provider.start(provider.ask_year, MILL, year) for year in range(1997, 2002)}
        failed = {year for year, call in calls.items() if call.exception(5)}
    assert failed == {1999}


# --- what is left alone -------------------------------------------------------------------


def test_settings_come_back_and_nothing_else_is_touched(server, monkeypatch, tmp_path):
    monkeypatch.setattr(meteostat.config, "cache_enable", True)
    monkeypatch.setattr(meteostat.config, "cache_directory", str(tmp_path / "theirs"))
    monkeypatch.setattr(meteostat.config, "include_model_data", False)
    before = dict(vars(meteostat.config))
    with provider.settings():
        assert not meteostat.config.cache_enable
        assert meteostat.config.include_model_data
        provider.start(provider.ask_year, MILL, 1999).result(5)
    assert vars(meteostat.config) == before
    assert not (tmp_path / "theirs").exists()
    assert socket.getdefaulttimeout() is None
    assert logging.getLogger("meteostat").propagate


def test_settings_come_back_after_an_error():
    before = dict(vars(meteostat.config))
    with pytest.raises(KeyError), provider.settings(network_timeout=1):
        raise KeyError
    assert vars(meteostat.config) == before


def test_a_call_that_hangs_holds_up_nothing():
    release = threading.Event()
    began = time.monotonic()
    answer = provider.start(release.wait, 30)
    with pytest.raises(TimeoutError):
        answer.result(0.05)
    assert time.monotonic() - began < 5
    assert all(thread.daemon for thread in threading.enumerate() if "run" in thread.name)
    release.set()
    assert answer.result(5) is True


def test_sources_are_graded_and_credited_as_meteostat_does():
    assert provider.model_sources() == {"dwd_mosmix", "metno_forecast"}
    # GHCN-Daily has no attribution of its own, and meteostat's .attribution leaves it out
    assert provider.credited(["isd_lite", "dwd_daily", "ghcnd", "dwd_poi", "mine"]) == [
        "Deutscher Wetterdienst",
        "NOAA GHCN-Daily",
        "NOAA ISD Lite",
        "mine",
    ]


# --- the list of stations -----------------------------------------------------------------


def test_the_list_is_fetched_once_and_kept(server, tmp_path):
    for _ in range(2):
        path, fault = provider.station_list(tmp_path, patience=QUICK)
    assert (path, fault) == (tmp_path / LIST, "")
    assert server.count("stations.db") == 1
    assert [p.name for p in tmp_path.iterdir()] == [LIST]


@pytest.mark.parametrize("kind", ["404", "403", "429", "500", "cut", "html", "reset"])
def test_the_list_is_asked_for_again_after_a_fault(server, tmp_path, kind):
    server.fail(kind, "stations.db", times=2)
    path, fault = provider.station_list(tmp_path, patience=BUSY)
    assert not fault
    assert provider.lookup(path, "PLB03").name == "Pellbrook Pass"


@pytest.mark.parametrize("kind", ["404", "500", "cut", "html", "reset", "hang"])
def test_without_a_list_there_is_a_reason_and_no_file(server, tmp_path, kind):
    server.fail(kind, "stations.db")
    path, fault = provider.station_list(tmp_path, patience=QUICK)
    assert fault
    assert not path.exists()


@pytest.mark.parametrize("kind", ["500", "cut", "html", "hang"])
def test_a_stale_list_serves_where_it_cannot_be_refreshed(server, tmp_path, kind):
    path, _ = provider.station_list(tmp_path, patience=QUICK)
    old = time.time() - 2 * provider.LIST_AGE.total_seconds()
    os.utime(path, (old, old))
    server.fail(kind, "stations.db")
    kept, fault = provider.station_list(tmp_path, patience=QUICK)
    assert fault
    assert provider.lookup(kept, "PLB01").elevation == 610
    server.mend()
    assert provider.station_list(tmp_path, patience=QUICK)[1] == ""


def test_a_slow_list_is_waited_for_while_it_grows(server, tmp_path, monkeypatch):
    # it takes three times the patience: that the file grows is the sign of life
    list_of = sqlite3.connect(":memory:")
    list_of.deserialize(server.station_list())
    list_of.execute("CREATE TABLE more AS SELECT zeroblob(500000) AS much")
    list_of.commit()
    body = list_of.serialize()
    list_of.close()

    def slowly(self, status, *_):
        self.send_response(status)
        self.end_headers()
        for start in range(0, len(body), len(body) // 12):
            self.wfile.write(body[start : start + len(body) // 12])
            time.sleep(0.1)

    monkeypatch.setattr(server.handler, "send", slowly)
    path, fault = provider.station_list(tmp_path, patience=QUICK)
    assert not fault
    assert provider.lookup(path, "PLB01") == MILL


def test_a_list_without_an_inventory_is_not_taken(server, tmp_path):
    hollow = sqlite3.connect(":memory:")
    hollow.deserialize(server.station_list())
    hollow.execute("DELETE FROM inventory")
    hollow.commit()
    body = hollow.serialize()
    hollow.close()
    server.station_list = lambda: body
    path, fault = provider.station_list(tmp_path, patience=QUICK)
    assert "no data file, or a damaged one" in fault
    assert not path.exists()


def test_an_unknown_station_is_nothing(server, tmp_path):
    path, _ = provider.station_list(tmp_path, patience=QUICK)
    assert provider.lookup(path, "NOPE1") is None


def test_holdings_are_daily_ones_as_shares(server, tmp_path):
    path, _ = provider.station_list(tmp_path, patience=QUICK)
    held = provider.holdings(path, ["PLB01", "PLB02", "PLB06"])
    mill = held.loc[("PLB01", "tmin")]
    assert mill["first"].date() == dt.date(1980, 1, 1)  # not the monthly provider's 1900
    assert mill["last"].date() == server.today - dt.timedelta(days=1)
    assert mill["share"] == pytest.approx(0.99)
    assert held.loc[("PLB02", "tmean"), "share"] == pytest.approx(0.90)
    assert "PLB06" not in held.index.get_level_values("station")


def held_by(path, *rows):
    """Holdings of a list whose inventory has these rows only."""
    db = sqlite3.connect(path)
    db.execute("DELETE FROM inventory")
    db.executemany("INSERT INTO inventory VALUES (?,?,?,?,?,?)", rows)
    db.commit()
    db.close()
    return provider.holdings(path, ["PLB01"])


def test_holdings_of_every_make(server, tmp_path):
    path, _ = provider.station_list(tmp_path, patience=QUICK)
    span = ("1990-01-01", "2020-12-31")
    assert provider.holdings(path, ["PLB06"]).empty
    assert held_by(path, ("PLB01", "climat", "tmin", *span, 1.0)).empty  # monthly only
    # shares instead of per cent; one not given
    held = held_by(
        path, ("PLB01", "ghcnd", "tmin", *span, 0.8), ("PLB01", "ghcnd", "tmax", *span, None)
    )
    assert held.loc[("PLB01", "tmin"), "share"] == 0.8
    assert np.isnan(held.loc[("PLB01", "tmax"), "share"])
    # hourly providers count where no daily one does
    hourly = ("PLB01", "isd_lite", "temp", "1970-01-01", "2020-12-31", 90.0)
    held = held_by(path, hourly, ("PLB01", "daily", "tmin", *span, 95.0))
    assert held.loc[("PLB01", "tmean"), "first"].year == 1970
    assert held.loc[("PLB01", "tmin"), "share"] == pytest.approx(0.95)
