"""Years asked for, judged and settled, against the stand-in server."""

import datetime as dt
import threading
import time
from concurrent.futures import Future

import numpy as np
import numpy.testing as npt
import pytest
from standin import STATIONS, StandIn, pointed_at, weather

from climwin.core.schema import VARIABLES, Station
from climwin.stations import cache, download
from climwin.stations.cache import ABSENT, COMPLETE, DOUBTFUL, FAILED, SHORT
from climwin.stations.meteostat_client import RetryPolicy

QUICK = RetryPolicy(timeout=0.5, attempts=3, backoff=0.01)
BUSY = RetryPolicy(timeout=20, attempts=3, backoff=0.01)  # long enough on a busy machine
MILL = Station("PLB01", "Pellbrook Mill", 46.10, 7.20, 610)
NOW = dt.datetime(2024, 9, 10, 6, 0)
TODAY = NOW.date()
SPAN = (dt.date(1980, 1, 1), dt.date(2024, 9, 9))


@pytest.fixture
def server():
    with StandIn(today=TODAY) as server, pointed_at(server):
        yield server


def bring(*asked, station=MILL, span=SPAN, retry_policy=BUSY):
    """Every year asked for, by its number; each is handed over once."""
    got = {}

    def keep(piece):
        year = int(piece["year"][0])
        assert year not in got
        got[year] = piece

    download.download_years(station, asked, keep, span=span, now=NOW, retry_policy=retry_policy)
    assert set(got) == set(asked)
    return got


def status(piece):
    return int(piece["status"][0])


def fault(piece):
    return str(piece["fault"].values[0])


# --- what came ----------------------------------------------------------------------------


def test_a_whole_year_is_what_the_server_holds(server):
    year = bring(2000)[2000]
    sent = weather(STATIONS[0], 2000, TODAY)
    for name, column in {"tmin": "tmin", "tmax": "tmax", "tmean": "temp", "precip": "prcp"}.items():
        npt.assert_array_equal(year[name], sent[column])
        assert year[name].attrs == VARIABLES[name]._asdict()
        assert year[name].dtype == np.float64
    assert year.sizes["time"] == 366
    assert (status(year), fault(year), year["sources"].item()) == (COMPLETE, "", "ghcnd")


def test_the_running_year_ends_yesterday_and_forecasts_are_counted(server):
    year = bring(2024)[2024]
    held = year["tmin"].dropna("time")["time"].values.astype("datetime64[D]")
    assert held[-1] == np.datetime64("2024-09-09")
    assert int(year["future_days"][0]) == 10  # today and nine days to come
    assert status(year) == COMPLETE


def test_model_fill_is_left_out_also_where_sources_are_mixed(server):
    # include_model_data=False would let the second one through
    server.edit(1999, 10, "tmin_source", "dwd_mosmix")
    server.edit(1999, 11, "tmin_source", "isd_lite dwd_mosmix")
    server.edit(1999, 12, "tmax_source", "metno_forecast")
    year = bring(1999)[1999]
    assert np.flatnonzero(np.isnan(year["tmin"])).tolist() == [10, 11]
    assert np.flatnonzero(np.isnan(year["tmax"])).tolist() == [12]
    assert int(year["model_days"][0]) == 3
    assert year["sources"].item() == "ghcnd"
    assert fault(year) == ""


def test_a_year_that_is_mostly_model_says_so(server):
    for day in range(60):
        for name in ("tmin", "tmax", "temp", "prcp"):
            server.edit(1999, day, f"{name}_source", "dwd_mosmix")
    year = bring(1999)[1999]
    assert fault(year) == "60 days are model-filled, and left out"
    assert int(np.isnan(year["tmin"]).sum()) == 60


def test_mixed_sources_are_counted_and_kept(server):
    server.edit(1999, 10, "tmin_source", "isd_lite metar")  # two sources in one value
    server.edit(1999, 11, "tmax_source", "isd_lite")  # minimum and maximum of two sources
    server.edit(1999, 12, "prcp_source", "isd_lite")  # rain does not shift a freeze
    year = bring(1999)[1999]
    assert int(year["mixed_days"][0]) == 2
    assert year["sources"].item() == "ghcnd isd_lite metar"
    assert not np.isnan(year["tmin"]).any()


def test_a_value_without_a_source_is_kept_and_counted(server):
    server.fail("no source")
    year = bring(1999)[1999]
    assert int(year["unsourced_days"][0]) == 1
    assert int(np.isnan(year["tmin"]).sum()) == 0
    assert status(year) == COMPLETE


def test_values_beyond_any_weather_are_dropped_by_meteostat(server):
    server.edit(1999, 20, "tmin", -999.0)
    assert np.flatnonzero(np.isnan(bring(1999)[1999]["tmin"])).tolist() == [20]


def test_the_store_keeps_what_is_brought_under_the_same_names(server):
    year = bring(1999)[1999]
    assert set(year.data_vars) == {*cache.VALUES, *cache._YEAR_VARIABLES}
    meant = {COMPLETE: "complete", SHORT: "short", ABSENT: "absent", FAILED: "failed"}
    meant[DOUBTFUL] = "doubtful"
    assert dict(enumerate(cache.STATUS)) == meant


# --- what was due -------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("year", "span", "first", "last"),
    [
        (1999, None, "1999-01-01", "1999-12-31"),
        (1980, (dt.date(1980, 5, 1), dt.date(2024, 1, 1)), "1980-05-01", "1980-12-31"),
        (2010, (dt.date(1980, 5, 1), dt.date(2010, 3, 9)), "2010-01-01", "2010-03-09"),
        (2024, SPAN, "2024-01-01", "2024-08-10"),  # 31 days behind today
    ],
)
def test_days_that_are_due(year, span, first, last):
    assert [f"{day}" for day in download._due(year, span, TODAY)] == [first, last]


DAYS = np.arange("1999-01-01", "2000-01-01", dtype="datetime64[D]")
WHOLE = (dt.date(1999, 1, 1), dt.date(1999, 12, 31))


@pytest.mark.parametrize(
    ("missing", "words"),
    [
        (slice(0, 0), ""),
        (slice(100, 127), ""),  # a gap of 27 days within is a gap, not a cut
        (slice(100, 140), "325 of 365 days due, 1999-01-01 to 1999-12-31"),
        (slice(364, 365), "364 of 365 days due, 1999-01-01 to 1999-12-30"),
        (slice(0, 5), "360 of 365 days due, 1999-01-06 to 1999-12-31"),
        (slice(179, 365), "179 of 365 days due, 1999-01-01 to 1999-06-28"),
        (slice(0, 365), ""),  # nothing at all is told apart
    ],
)
def test_a_cut_is_told_from_a_gap(missing, words):
    came = np.ones(365, dtype=bool)
    came[missing] = False
    assert download._shortfall({"tmin": came, "tmax": came}, DAYS, WHOLE) == words


def test_a_lost_month_or_a_lost_extreme_is_no_whole_year():
    whole = np.ones(365, dtype=bool)
    for lost, words in (
        (slice(0, 0), ""),
        (slice(40, 67), ""),  # 27 days
        (slice(31, 59), "28 days in a row without a daily maximum air temperature"),  # a February
        (slice(0, 365), "no daily maximum air temperature at all"),
    ):
        tmax = whole.copy()
        tmax[lost] = False
        assert download._shortfall({"tmin": whole, "tmax": tmax}, DAYS, WHOLE) == words


# --- asked again, and settled -------------------------------------------------------------


@pytest.mark.parametrize("kind", ["404", "403", "429", "500", "cut", "html", "reset", "empty"])
def test_a_fault_that_passes_leaves_nothing_behind(server, kind):
    server.fail(kind, times=6)
    got = bring(*range(1995, 2003))
    assert {status(piece) for piece in got.values()} == {COMPLETE}
    assert not any(np.isnan(piece["tmin"]).any() for piece in got.values())


def test_half_a_year_once_is_noticed_and_made_good(server):
    # well formed, so that meteostat says nothing: 179 days
    server.fail("half", "/1999/", times=1)
    year = bring(1999)[1999]
    assert (status(year), int(year["rows"][0])) == (COMPLETE, 365)
    assert server.count("/1999/") == 2


def test_half_a_year_twice_alike_is_kept_and_named(server):
    server.fail("half", "/1999/")
    year = bring(1999)[1999]
    assert status(year) == SHORT
    assert fault(year) == "179 of 365 days due, 1999-01-01 to 1999-06-28"
    assert int(np.isfinite(year["tmin"]).sum()) == 179
    assert server.count("/1999/") == 2


def test_half_a_year_that_cannot_be_confirmed_is_kept_but_not_final(server):
    server.fail("half", "/1999/", times=1)
    server.fail("500", "/1999/")
    year = bring(1999)[1999]
    assert status(year) == FAILED
    assert fault(year) == ("179 of 365 days due, 1999-01-01 to 1999-06-28; the server answered 500")
    assert int(np.isfinite(year["tmin"]).sum()) == 179


def test_no_file_is_confirmed_within_the_inventory_and_believed_outside(server):
    server.fail("404", "/1999/")
    got = bring(1975, 1999)
    assert {y: status(piece) for y, piece in got.items()} == {1975: ABSENT, 1999: ABSENT}
    assert (server.count("/1975/"), server.count("/1999/")) == (1, 2)
    assert np.isnan(got[1999]["tmin"]).all()


def test_a_failure_is_no_confirmation_of_an_absence(server):
    server.fail("404", "/1999/", times=1)
    server.fail("500", "/1999/")
    assert status(bring(1999)[1999]) == FAILED


def test_one_year_that_fails_for_good_is_named_and_the_rest_is_whole(server):
    server.fail("500", "/1999/")
    got = bring(*range(1995, 2003))
    assert (status(got[1999]), fault(got[1999])) == (FAILED, "the server answered 500")
    assert {status(piece) for year, piece in got.items() if year != 1999} == {COMPLETE}
    assert server.count("/1999/") == BUSY.attempts


def test_no_more_calls_than_allowed_are_under_way(server):
    under_way, most, three = set(), [], threading.Event()
    body = server.body

    def watched(path):
        under_way.add(path)
        most.append(len(under_way))
        if len(under_way) == 3:
            three.set()
        assert three.wait(60)  # a busy machine may start the third call late
        time.sleep(0.02)  # time for one call too many
        answer = body(path)
        under_way.discard(path)
        return answer

    server.body = watched
    bring(*range(1990, 2002), retry_policy=RetryPolicy(100, 1, 0.01, parallel=3))
    assert max(most) == 3


# --- silence ------------------------------------------------------------------------------


def test_a_silent_server_is_given_up_after_one_round_of_calls(server):
    server.fail("hang")
    got = bring(*range(1985, 2025), retry_policy=QUICK)
    assert {status(piece) for piece in got.values()} == {FAILED}
    assert len(server.asked) < 2 * QUICK.parallel
    told = {fault(piece) for piece in got.values()}
    assert told == {"no answer within 0.5 s", "not asked for: no connection"}


@pytest.fixture
def silent(server, monkeypatch):
    """Years that no answer comes for, each with how often: no clock decides which they are."""
    ask, times = download.download_year, {}

    def ask_or_wait(station_id, year, *, timeout):
        if times.get(year, 0) > 0:
            times[year] -= 1
            server.asked.append(f"/{year}/")
            msg = f"no answer within {timeout} s"
            raise TimeoutError(msg)
        return ask(station_id, year, timeout=timeout)

    def at_once(work, year):
        """The same as in a thread, one call after the other."""
        answer = Future()
        try:
            answer.set_result(work(year))
        except Exception as error:
            answer.set_exception(error)
        return answer

    monkeypatch.setattr(download, "download_year", ask_or_wait)
    monkeypatch.setattr(download, "run_in_thread", at_once)
    return times


def test_a_server_that_falls_silent_keeps_what_came(server, silent):
    silent.update(dict.fromkeys(range(1990, 2000), 99))
    got = bring(*range(1985, 2000))
    whole = {year for year, piece in got.items() if status(piece) == COMPLETE}
    assert whole == set(range(1985, 1990))
    assert len(server.asked) < 5 + BUSY.attempts * 2 * BUSY.parallel


def test_a_year_that_hangs_once_is_asked_again(server, silent):
    silent[1999] = 1
    got = bring(1998, 1999, 2000)
    assert {status(piece) for piece in got.values()} == {COMPLETE}
    assert server.count("/1999/") == 2


def test_nobody_listening_ends_in_words(monkeypatch):
    with StandIn(today=TODAY) as closed, pointed_at(closed):
        closed._server.server_close()
        got = bring(1999, 2000)
    assert {fault(piece) for piece in got.values()} == {"no connection"}
