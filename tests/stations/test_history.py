"""History, end to end: unmodified meteostat, the stand-in server, a store of its own."""

import datetime as dt
import os
import signal
import subprocess
import sys
import time
import warnings

import numpy as np
import numpy.testing as npt
import pytest
import xarray as xr
from standin import STATIONS, StandIn, pointed_at, weather

from climwin.core.errors import StationError
from climwin.core.schema import Garden, Station
from climwin.report.sentences_caveats import record_caveats
from climwin.stations import cache, download, history
from climwin.stations.history import fetch_history, fetch_neighbours
from climwin.stations.meteostat_client import LIST_FILE, RETRY_POLICY, RetryPolicy

BUSY = RetryPolicy(timeout=20, attempts=3, backoff=0.01)  # long enough on a busy machine
GARDEN = Garden("Pellbrook", 46.10, 7.20, 640)
NOW = dt.datetime(2024, 9, 10, 6, 0)
TODAY = NOW.date()
FIRST, LAST = 1998, 2001


@pytest.fixture
def clock(monkeypatch):
    """The time it is, to be turned on."""
    now = [NOW]
    monkeypatch.setattr(history, "_now", lambda: now[0])
    return now


@pytest.fixture
def server(clock):
    with StandIn(today=TODAY) as server, pointed_at(server):
        yield server


def fetch(where, first=FIRST, last=LAST, place="PLB01", **options):
    return fetch_history(place, first, last, where=where, **{"retry_policy": BUSY} | options)


def sent(first, last, column="tmin", today=TODAY):
    """What the server holds, observed days only."""
    years = [weather(STATIONS[0], year, today) for year in range(first, last + 1)]
    parts = [year[column][year["tmin_source"] != "dwd_mosmix"] for year in years]
    return np.concatenate(parts)


# --- what is brought ----------------------------------------------------------------------


def test_forty_years_of_an_invented_station(server, tmp_path):
    daily = fetch(tmp_path, 1985, 2024, GARDEN)
    npt.assert_array_equal(daily["tmin"], sent(1985, 2024))
    npt.assert_array_equal(daily["tmax"], sent(1985, 2024, "tmax"))
    npt.assert_array_equal(daily["tmean"], sent(1985, 2024, "temp"))
    npt.assert_array_equal(daily["precip"], sent(1985, 2024, "prcp"))
    days = daily["time"].values.astype("datetime64[D]")
    npt.assert_array_equal(days, np.arange("1985-01-01", "2024-09-10", dtype="datetime64[D]"))
    assert daily["time"].dtype == np.dtype("datetime64[s]")
    checked = {f"{name}_{what}" for name in cache.VALUES for what in ("flag", "set_aside")}
    assert set(daily) == {*cache.VALUES, *checked}
    assert server.count("/daily/") == 40


def test_what_it_rests_on_travels_with_it(server, tmp_path):
    server.edit(1999, 11, "tmin_source", "isd_lite metar")
    server.edit(1999, 12, "tmin_source", "isd_lite dwd_mosmix")
    daily = fetch(tmp_path, 1998, 2024, GARDEN)
    facts = daily.attrs
    assert facts["sources"] == "1998: ghcnd; 1999: ghcnd isd_lite metar; 2000-2024: ghcnd"
    assert facts["credit"] == (
        "Meteostat (https://meteostat.net), METAR, NOAA GHCN-Daily, NOAA ISD Lite"
    )
    assert facts["licence"] == "CC BY 4.0, https://creativecommons.org/licenses/by/4.0/"
    assert (facts["model_days"], facts["mixed_source_days"]) == ("1999: 1", "1999: 1")
    assert facts["future_days"] == "2024: 10"
    assert "on 1 day sources are mixed" in facts["day_boundary"]
    assert facts["age_days"] == 0
    assert facts["missing_years"] == facts["short_years"] == facts["not_refreshed"] == ""
    assert "station Pellbrook Mill (PLB01) chosen for Pellbrook: 0 km away" in facts["history"]
    assert (facts["station_id"], facts["elevation"]) == ("PLB01", 610.0)
    line = cache.attribution(daily)
    assert "NOAA GHCN-Daily" in line
    assert "model-filled and future days left out" in line


def test_a_station_may_be_given_by_itself(server, tmp_path):
    daily = fetch(tmp_path, place=Station("PLB03", "Pass", 46.18, 7.25))
    assert daily.attrs["station_name"] == "Pass"
    assert server.count("stations.db") == 0
    assert fetch(tmp_path, place="PLB04", first=2016, last=2017).attrs["elevation"] == 640


def test_a_station_given_by_its_id_alone_keeps_its_name(server, tmp_path):
    fetch(tmp_path, 1998, 1999)
    bare = Station("PLB01", "PLB01", 46.1, 7.2, 610)
    assert fetch(tmp_path, 1998, 2001, bare).attrs["station_name"] == "Pellbrook Mill"


def test_unless_told_thirty_whole_years_and_the_running_one(server, tmp_path):
    daily = fetch(tmp_path, first=None, last=None)
    whole = dt.datetime.now(dt.UTC).year - 30
    assert f"{daily['time'].values[0]}"[:10] == f"{whole}-01-01"
    assert f"{daily['time'].values[-1]}"[:10] == "2024-09-09"


def test_a_value_that_cannot_be_right_is_set_aside(server, tmp_path):
    server.edit(1999, 200, "tmin", 39.0)  # a night in July
    daily = fetch(tmp_path)
    day = np.datetime64("1999-07-20")
    assert np.isnan(daily["tmin"].sel(time=day))
    assert float(daily["tmin_set_aside"].sel(time=day)) == 39.0


def test_progress_is_told_year_by_year(server, tmp_path):
    told = []
    server.fail("500", "/1999/")
    with pytest.warns(UserWarning, match="missing years"):
        fetch(tmp_path, progress=lambda *news: told.append(news))
    assert [done for done, _, _ in told] == [1, 2, 3, 4]
    assert {total for _, total, _ in told} == {4}
    assert "1999: the server answered 500" in {text for _, _, text in told}


# --- what was fetched wrong heals ---------------------------------------------------------


def without_a_maximum(server, year, days):
    for day in days:
        for column in ("tmax", "tmax_source"):
            server.edit(year, day, column, "")


@pytest.mark.parametrize(
    ("days", "fault"),
    [
        (range(365), "no daily maximum air temperature at all"),
        (range(120, 151), "31 days in a row without a daily maximum air temperature"),
    ],
)
def test_a_year_without_its_maximum_is_requested_again(server, clock, tmp_path, days, fault):
    without_a_maximum(server, 1999, days)
    with pytest.warns(UserWarning, match=f"short years: 1999: {fault}"):
        fetch(tmp_path)
    (row,) = history.check_store(tmp_path).to_dict("records")
    assert (row["year"], row["status"], row["fault"]) == (1999, "short", fault)
    assert row["sources"] == "ghcnd"
    server.edits.clear()
    clock[0] = NOW + dt.timedelta(days=29)
    before = server.count("/1999/")
    with pytest.warns(UserWarning, match="short years"):
        fetch(tmp_path)  # not again within 30 days
    assert server.count("/1999/") == before
    clock[0] = NOW + dt.timedelta(days=31)
    daily = fetch(tmp_path)
    assert not daily["tmax"].sel(time="1999").isnull().any()
    assert history.check_store(tmp_path).empty


def test_a_year_with_impossible_values_is_stored_as_doubtful(server, clock, tmp_path):
    for day in range(10, 365, 15):  # wild values, far from the days beside them
        server.edit(1999, day, "tmax", 55.0)
    with pytest.warns(UserWarning, match="doubtful years: 1999: 24 of 730 minima and maxima"):
        fetch(tmp_path)
    (row,) = history.check_store(tmp_path).to_dict("records")
    assert (row["year"], row["status"]) == (1999, "doubtful")
    assert row["fault"] == "24 of 730 minima and maxima cannot be right"
    assert cache.load("PLB01", tmp_path)["status"].sel(year=1999) == history.DOUBTFUL
    server.edits.clear()
    with pytest.warns(UserWarning, match="doubtful years"):
        fetch(tmp_path)  # not again within 30 days
    assert len(history.check_store(tmp_path)) == 1
    clock[0] = NOW + dt.timedelta(days=31)
    daily = fetch(tmp_path)
    assert float(daily["tmax"].sel(time="1999-07-05")) == pytest.approx(
        float(sent(1999, 1999, "tmax")[185])
    )
    assert history.check_store(tmp_path).empty


def in_fahrenheit(value):
    return round(value * 9 / 5 + 32, 1)


def test_a_year_in_another_unit_is_stored_as_doubtful(server, clock, tmp_path):
    for column in ("tmin", "tmax"):
        for day, value in enumerate(sent(2003, 2003, column)):
            server.edit(2003, day, column, in_fahrenheit(float(value)))
    with pytest.warns(UserWarning, match="doubtful years: 2003: "):
        fetch(tmp_path, 1999, 2009)
    (row,) = history.check_store(tmp_path).to_dict("records")
    assert (row["year"], row["status"]) == (2003, "doubtful")
    server.edits.clear()
    clock[0] = NOW + dt.timedelta(days=31)
    daily = fetch(tmp_path, 1999, 2009)
    npt.assert_allclose(daily["tmax"].sel(time="2003"), sent(2003, 2003, "tmax"))
    assert history.check_store(tmp_path).empty


def test_a_copied_year_is_stored_as_doubtful(server, tmp_path):
    for column in ("tmin", "tmax"):
        for day, value in enumerate(sent(2002, 2002, column)):
            server.edit(2003, day, column, float(value))
    with pytest.warns(UserWarning, match="doubtful years: 200[23]: "):
        fetch(tmp_path, 1999, 2009)
    assert 2003 in history.check_store(tmp_path)["year"].tolist()


def test_a_store_of_an_earlier_version_heals(server, clock, tmp_path):
    # It called a year complete that lacks its maximum.
    fetch(tmp_path)
    record = cache.load("PLB01", tmp_path)
    in_year = record["time"].dt.year == 2000
    record["tmax"] = record["tmax"].where(~in_year)
    cache.save(record, tmp_path)
    (row,) = history.check_store(tmp_path).to_dict("records")
    assert (row["year"], row["status"]) == (2000, "short")
    clock[0] = NOW + dt.timedelta(days=31)
    assert not fetch(tmp_path)["tmax"].isnull().any()


def put_in_fahrenheit(server, year):
    for column in ("tmin", "tmax"):
        for day, value in enumerate(sent(year, year, column)):
            server.edit(year, day, column, in_fahrenheit(float(value)))


def stored_as(where, year):
    """The status of a year in the store, as the file has it."""
    return int(cache.load("PLB01", where)["status"].sel(year=year))


def test_a_year_that_came_first_is_judged_when_others_join_it(server, clock, tmp_path):
    put_in_fahrenheit(server, 2003)
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        fetch(tmp_path, 2003, 2003)
    with pytest.warns(UserWarning, match="doubtful years: 2003: "):
        fetch(tmp_path, 1999, 2009)
    assert stored_as(tmp_path, 2003) == history.DOUBTFUL
    server.edits.clear()
    clock[0] = NOW + dt.timedelta(days=31)
    npt.assert_allclose(
        fetch(tmp_path, 1999, 2009)["tmax"].sel(time="2003"), sent(2003, 2003, "tmax")
    )


def test_killed_before_the_checks_the_next_run_makes_them(server, tmp_path, monkeypatch):
    def killed(_):
        raise KeyboardInterrupt

    put_in_fahrenheit(server, 2003)
    with monkeypatch.context() as during:
        during.setattr(history, "_checked", killed)
        with pytest.raises(KeyboardInterrupt):
            fetch(tmp_path, 1999, 2009)
    assert stored_as(tmp_path, 2003) != history.DOUBTFUL  # all years came, none is judged
    with pytest.warns(UserWarning, match="doubtful years: 2003: "):
        daily = fetch(tmp_path, 1999, 2009)
    assert daily.attrs["years_in_doubt"] == "2003"


def test_a_history_that_met_fewer_checks_is_checked_again(server, clock, tmp_path, monkeypatch):
    put_in_fahrenheit(server, 2003)
    with monkeypatch.context() as before, warnings.catch_warnings():
        warnings.simplefilter("ignore")
        before.setattr(history, "CHECKS", history.CHECKS - 1)
        before.setattr(history, "doubtful_years", lambda _: {})
        fetch(tmp_path, 1999, 2009)
    assert stored_as(tmp_path, 2003) != history.DOUBTFUL
    with pytest.warns(UserWarning, match="doubtful years: 2003: "):
        fetch(tmp_path, 1999, 2009)
    server.edits.clear()
    clock[0] = NOW + dt.timedelta(days=31)
    assert fetch(tmp_path, 1999, 2009).attrs["years_in_doubt"] == ""
    assert history.check_store(tmp_path).empty


@pytest.mark.parametrize(
    "spoil", [without_a_maximum, lambda server, *_: put_in_fahrenheit(server, 2003)]
)
def test_a_better_year_that_lacks_one_day_is_taken(server, clock, tmp_path, spoil):
    spoil(server, 2003, range(365))
    with pytest.warns(UserWarning, match="(short|doubtful) years: 2003"):
        fetch(tmp_path, 1999, 2009)
    server.edits.clear()
    for column in ("tmin", "tmin_source", "tmax", "tmax_source"):
        server.edit(2003, 99, column, "")
    clock[0] = NOW + dt.timedelta(days=31)
    daily = fetch(tmp_path, 1999, 2009).sel(time="2003")
    assert stored_as(tmp_path, 2003) == history.COMPLETE
    assert daily["tmax"].isnull().values.nonzero()[0].tolist() == [99]
    npt.assert_allclose(np.delete(daily["tmax"], 99), np.delete(sent(2003, 2003, "tmax"), 99))


def test_doubtful_years_are_said_before_anything_else(server, tmp_path):
    put_in_fahrenheit(server, 2003)
    put_in_fahrenheit(server, 2006)
    with pytest.warns(UserWarning, match="doubtful years: 2003: "):
        daily = fetch(tmp_path, 1999, 2009)
    first = record_caveats(daily)[0]
    assert first == (
        "Check the record first: 2003 and 2006 of the history of station PLB01 failed the checks "
        "when they were downloaded. Download those years again: "
        "`climwin store refresh PLB01 2003 2006`."
    )
    server.edits.clear()
    history.refresh_history("PLB01", [2003, 2006], where=tmp_path, retry_policy=BUSY)
    assert not any(
        "failed the checks" in text for text in record_caveats(fetch(tmp_path, 1999, 2009))
    )


def test_refresh_fetches_again_and_leaves_the_old_file_beside(server, tmp_path):
    server.edit(1999, 185, "tmin", 11.5)
    fetch(tmp_path)
    old = cache.path_of("PLB01", tmp_path).read_bytes()
    server.edits.clear()
    with pytest.raises(StationError, match="No year of station PLB01 is doubtful"):
        history.refresh_history("PLB01", where=tmp_path, retry_policy=BUSY)
    with pytest.raises(
        ValueError,
        match=r"has no 1971 of station PLB01; it has 1998 to 2001\. Fetch further years with c",
    ):
        history.refresh_history("PLB01", [1971], where=tmp_path, retry_policy=BUSY)
    aside = history.refresh_history("PLB01", [1999], where=tmp_path, retry_policy=BUSY)
    assert aside.read_bytes() == old
    assert aside.name == "station-PLB01.nc.before-2024-09-10"
    assert cache.station_ids(tmp_path) == ["PLB01"]
    assert float(fetch(tmp_path)["tmin"].sel(time="1999-07-05")) == pytest.approx(
        float(sent(1999, 1999)[185])
    )


def test_refresh_does_not_take_a_shorter_year(server, tmp_path):
    fetch(tmp_path)
    server.fail("half", "/1999/")
    with pytest.warns(UserWarning, match=r"Not refreshed: 1999: .*the 365 days of before serve"):
        history.refresh_history("PLB01", [1999], where=tmp_path, retry_policy=BUSY)
    assert not fetch(tmp_path)["tmin"].isnull().any()


# --- faults: never a silently short record ------------------------------------------------

KINDS = ("404", "403", "429", "500", "cut", "html", "reset", "half", "no source", "hang", "empty")


@pytest.fixture
def silent_at_once(server, monkeypatch):
    """Years that the server would hang on end as after the timeout, without the wait.

    A machine that is busy for a second is then never taken for a server that is silent.
    """
    ask = download.download_year

    def ask_or_wait(station_id, year, *, timeout):
        if server.fault(f"/daily/{year}/{station_id}.csv.gz") == "hang":
            msg = f"no answer within {timeout} s"
            raise TimeoutError(msg)
        return ask(station_id, year, timeout=timeout)

    monkeypatch.setattr(download, "download_year", ask_or_wait)


def told_and_held(where):
    """Days held by year, and the years that the record or an error names."""
    with warnings.catch_warnings(record=True) as heard:
        warnings.simplefilter("always")
        try:
            daily = fetch(where)
        except StationError as error:
            return {}, f"{error}"
    named = "".join(daily.attrs[key] for key in ("missing_years", "short_years"))
    assert bool(named) == any("Daily history" in f"{w.message}" for w in heard)
    assert daily.sizes["time"] == 1461
    days = daily["tmin"].groupby("time.year").count()
    return dict(zip(days["year"].values.tolist(), days.values.tolist(), strict=True)), named


@pytest.mark.parametrize("kind", KINDS)
def test_a_fault_that_passes_ends_in_a_full_record(server, tmp_path, request, kind):
    if kind == "hang":
        request.getfixturevalue("silent_at_once")
    server.fail(kind, "/1999/", times=1)
    held, named = told_and_held(tmp_path)
    assert not named
    assert held == {year: 365 + (year % 4 == 0) for year in range(FIRST, LAST + 1)}


@pytest.mark.parametrize("kind", KINDS)
def test_a_fault_of_one_year_that_stays_is_named(server, tmp_path, request, kind):
    if kind == "hang":
        request.getfixturevalue("silent_at_once")
    server.fail(kind, "/1999/")
    held, named = told_and_held(tmp_path)
    whole = 365 if kind == "no source" else 179 if kind == "half" else 0
    assert held.pop(1999) == whole
    assert named.startswith("1999: ") or (kind == "no source" and not named)
    assert held == {y: 365 + (y % 4 == 0) for y in range(FIRST, LAST + 1) if y != 1999}


@pytest.mark.parametrize("kind", KINDS)
def test_a_fault_of_all_years_that_stays_is_one_error_or_named(server, tmp_path, request, kind):
    if kind == "hang":
        request.getfixturevalue("silent_at_once")
    server.fail(kind, "/daily/")
    held, told = told_and_held(tmp_path)
    if kind == "no source":
        assert not told
    elif kind == "half":
        assert all(f"{year}: 179 of 36" in told for year in range(FIRST, LAST + 1))
    else:
        assert not held
        assert "No history of Pellbrook Mill" in told
        assert "Use a file of your own" in told


def test_years_before_the_station_began_are_named(server, tmp_path):
    with pytest.warns(UserWarning, match="missing years: 1977-1979: the provider has no file"):
        daily = fetch(tmp_path, 1977, 1983)
    assert np.isnan(daily["tmin"].sel(time=slice("1977", "1979"))).all()
    npt.assert_array_equal(daily["tmin"].sel(time=slice("1980", "1983")), sent(1980, 1983))


def test_a_station_that_holds_nothing(server, tmp_path):
    with pytest.raises(StationError, match=r"No history of Silent Field .*provider has no file"):
        fetch(tmp_path, place="PLB06")


def test_an_unknown_station_says_how_to_find_one(server, tmp_path):
    with pytest.raises(StationError, match=r"no station 'NOPE1'.*climwin.find_stations"):
        fetch(tmp_path, place="NOPE1")


def test_an_identifier_that_is_a_path_is_refused(tmp_path):
    with pytest.raises(ValueError, match="not a station identifier"):
        fetch(tmp_path, place="../../etc")


# --- kept ---------------------------------------------------------------------------------


def test_what_is_kept_is_not_asked_for_again(server, tmp_path):
    first = fetch(tmp_path)
    server.asked.clear()
    again = fetch(tmp_path)
    xr.testing.assert_identical(again, first)
    assert server.asked == []


def test_only_the_years_still_wanted_are_fetched(server, tmp_path):
    fetch(tmp_path, 1996, 1997)
    server.asked.clear()
    daily = fetch(tmp_path, 1995, 1999)
    assert sorted(path.split("/")[2] for path in server.asked) == ["1995", "1998", "1999"]
    npt.assert_array_equal(daily["tmin"], sent(1995, 1999))


def test_years_apart_are_served_as_one_axis(server, tmp_path):
    fetch(tmp_path, 1990, 1991)
    fetch(tmp_path, 1995, 1996)
    server.fail("500")
    with pytest.warns(UserWarning, match="1992-1994: the server answered 500"):
        daily = fetch(tmp_path, 1990, 1996)
    assert daily.sizes["time"] == 2557
    assert int(daily["tmin"].isnull().sum()) == 366 + 365 + 365


def test_what_came_stays_and_what_failed_is_fetched_next_time(server, tmp_path):
    server.fail("500", "/1999/")
    with pytest.warns(UserWarning, match="missing years: 1999: the server answered 500"):
        fetch(tmp_path)
    server.mend()
    server.asked.clear()
    npt.assert_array_equal(fetch(tmp_path)["tmin"], sent(FIRST, LAST))
    assert server.asked == ["/daily/1999/PLB01.csv.gz"]


def test_the_running_year_is_refreshed_after_a_day(server, clock, tmp_path):
    fetch(tmp_path, 2022, 2024)
    clock[0] = NOW + dt.timedelta(hours=20)
    server.asked.clear()
    fetch(tmp_path, 2022, 2024)
    assert server.asked == []
    later = NOW + dt.timedelta(days=2)
    clock[0], server.today = later, later.date()
    daily = fetch(tmp_path, 2022, 2024)
    assert server.asked == ["/daily/2024/PLB01.csv.gz"]
    npt.assert_array_equal(daily["tmin"], sent(2022, 2024, today=later.date()))


def test_a_year_is_closed_a_month_after_its_end(server, clock, tmp_path):
    # in early January a provider is still adding to December
    clock[0], server.today = dt.datetime(2025, 1, 20), dt.date(2025, 1, 20)
    fetch(tmp_path, 2024, 2024)
    clock[0], server.today = dt.datetime(2025, 3, 1), dt.date(2025, 3, 1)
    server.asked.clear()
    fetch(tmp_path, 2024, 2024)
    assert server.count("/2024/") == 1
    clock[0] = dt.datetime(2026, 3, 1)
    server.asked.clear()
    fetch(tmp_path, 2024, 2024)
    assert server.asked == []


def test_a_refresh_that_brings_less_does_not_replace_what_is_kept(server, clock, tmp_path):
    fetch(tmp_path, 2023, 2024)
    later = NOW + dt.timedelta(days=5)
    clock[0], server.today = later, later.date()
    server.fail("half", "/2024/")
    with pytest.warns(UserWarning, match="not refreshed: 2024: 179 of .* the 253 days of before"):
        daily = fetch(tmp_path, 2023, 2024)
    npt.assert_array_equal(daily["tmin"][: 365 + 253], sent(2023, 2024))


# --- offline ------------------------------------------------------------------------------


def test_offline_the_store_serves_and_its_age_is_shown(server, clock, tmp_path):
    first = fetch(tmp_path, 2020, 2024)
    server.fail("reset", "")
    clock[0] = NOW + dt.timedelta(days=9)
    with pytest.warns(UserWarning, match="not refreshed: 2024: no connection"):
        daily = fetch(tmp_path, 2020, 2024, place=GARDEN)
    assert daily.attrs["age_days"] == 9
    assert daily.attrs["retrieved_at"] == first.attrs["retrieved_at"]
    held = daily["tmin"].sel(time=slice(None, "2024-09-09"))
    npt.assert_array_equal(held, first["tmin"])
    assert np.isnan(daily["tmin"].sel(time=slice("2024-09-10", None))).all()


def test_offline_closed_years_are_served_without_a_word(server, tmp_path):
    first = fetch(tmp_path)
    server.fail("hang", "")
    server.asked.clear()
    xr.testing.assert_identical(fetch(tmp_path), first)
    assert server.asked == []


@pytest.mark.parametrize("listed", [True, False])
def test_offline_an_unknown_station_is_an_error_within_15_s(server, tmp_path, listed):
    # a server that swallows everything is asked for one round only, however slow this machine is
    if listed:
        fetch(tmp_path, place="PLB04", first=2016, last=2016)
    server.fail("hang", "")
    server.asked.clear()
    with pytest.raises(StationError, match=r"Use a file of your own .*sample.*try again"):
        fetch_history("PLB01", 1990, where=tmp_path, retry_policy=RetryPolicy(1.0, 3, 1 / 8))
    assert server.count("stations.db") == (not listed)
    # calls that begin while the first round is given up are not waited for
    assert server.count("daily") < (2 * RETRY_POLICY.parallel if listed else 1)
    assert RETRY_POLICY.timeout < 15


def test_offline_a_garden_without_a_list_is_an_error_within_15_s(tmp_path):
    with StandIn() as closed, pointed_at(closed):
        closed._server.server_close()
        began = time.monotonic()
        with pytest.raises(
            StationError,
            match=r"stations could not be downloaded: no connection.*try again",
        ):
            fetch_history(GARDEN, 1990, where=tmp_path)
    assert time.monotonic() - began < 15


def test_a_damaged_file_is_set_aside_and_fetched_anew(server, tmp_path):
    first = fetch(tmp_path)
    path = tmp_path / "station-PLB01.nc"
    path.write_bytes(path.read_bytes()[:9000])
    with pytest.warns(UserWarning, match="is damaged .* set aside"):
        daily = fetch(tmp_path)
    npt.assert_array_equal(daily["tmin"], first["tmin"])
    assert path.with_name("station-PLB01.nc.damaged").exists()


# --- several processes, one store ---------------------------------------------------------

SCRIPT = """  # meteostat is told by the environment alone
import hashlib, sys
from climwin.stations.history import fetch_history
from climwin.stations.meteostat_client import RetryPolicy
# on a busy machine a server is slow, not silent
daily = fetch_history(sys.argv[1], 1985, 2024, retry_policy=RetryPolicy(timeout=100))
values = b"".join(daily[name].values.tobytes() for name in ("tmin", "tmax", "tmean", "precip"))
print(daily.sizes["time"], hashlib.sha256(values).hexdigest(), repr(daily.attrs["missing_years"]))
"""


def process(server, where, station="PLB01"):
    """Another Python, with meteostat pointed at the server by its settings."""
    env = os.environ | server.settings | {"CLIMWIN_DATA": str(where), "HOME": str(where)}
    command = [sys.executable, "-c", SCRIPT, station]
    pipe = subprocess.PIPE
    return subprocess.Popen(command, env=env, stdout=pipe, stderr=pipe, text=True)


def test_processes_on_a_cold_store_agree(tmp_path):
    with StandIn(today=dt.date(2025, 3, 1)) as server:
        running = [process(server, tmp_path) for _ in range(4)]
        results = [one.communicate(timeout=300) for one in running]
    assert {errors for _, errors in results} == {""}
    assert len({out for out, _ in results}) == 1
    assert results[0][0].startswith("14610 ")
    assert results[0][0].endswith(" ''\n")
    assert server.count("/daily/") == 40  # one fetched, three waited and read
    # nothing damaged, nothing half written, and no cache of meteostat's own
    kept = {LIST_FILE, "station-PLB01.nc", "station-PLB01.nc.lock"}
    assert {path.name for path in tmp_path.iterdir()} <= kept


def test_killed_in_the_middle_the_next_run_goes_on(tmp_path, monkeypatch):
    with StandIn(today=dt.date(2025, 3, 1)) as server:
        body = server.body

        def at_most_twenty(path):
            """Years that come later wait until the run is killed."""
            if server.count("/daily/") > 20:
                server.wait_released()
            return body(path)

        monkeypatch.setattr(server, "body", at_most_twenty)
        victim = process(server, tmp_path)
        deadline = time.monotonic() + 300
        while not (tmp_path / "station-PLB01.nc").exists() and time.monotonic() < deadline:
            time.sleep(0.01)
        victim.send_signal(signal.SIGKILL)
        victim.communicate()
        monkeypatch.setattr(server, "body", body)
        kept = cache.load("PLB01", tmp_path)["year"].values.tolist()
        assert 0 < len(kept) < 40
        server.asked.clear()
        server.fail("half", "/2024/")
        out, errors = process(server, tmp_path).communicate(timeout=300)
    assert "short years: 2024: 179 of 366 days due" in errors
    assert "Traceback" not in errors
    assert out.startswith("14610 ")
    asked = {int(path.split("/")[2]) for path in server.asked if "daily" in path}
    assert asked == set(range(1985, 2025)) - set(kept)
    values = cache.load("PLB01", tmp_path)["tmin"].sel(time=slice(None, "2023"))
    npt.assert_array_equal(values, sent(1985, 2023))


# --- stations around ----------------------------------------------------------------------


def test_neighbours_are_fetched_for_the_records_own_years(server, tmp_path):
    daily = fetch(tmp_path)
    told = []
    neighbours = fetch_neighbours(
        daily, where=tmp_path, retry_policy=BUSY, progress=lambda *each: told.append(each)
    )
    ids = [each.attrs["station_id"] for each in neighbours]
    assert "PLB01" not in ids  # its own station
    assert "PLB06" not in ids  # has no history at all
    assert {"PLB03", "PLB05"} <= {*ids}
    for each in neighbours:
        years = each["time"].dt.year
        assert (int(years.min()), int(years.max())) == (FIRST, LAST)
    assert [done for done, *_ in told] == [*range(1, told[0][1] + 1)]
    one = fetch_neighbours(daily, most=1, where=tmp_path, retry_policy=BUSY)
    assert len(one) == 1


def test_neighbours_of_nowhere_are_refused(server, tmp_path):
    daily = fetch(tmp_path)
    nowhere = daily.assign_attrs(
        {key: value for key, value in daily.attrs.items() if key != "latitude"}
    )
    with pytest.raises(
        ValueError, match=r"does not say where its station is.*daily.attrs\['latitude'\]"
    ):
        fetch_neighbours(nowhere.drop_attrs(deep=False), where=tmp_path)
    with pytest.raises(ValueError, match="most must be 1 or more, got 0"):
        fetch_neighbours(daily, most=0, where=tmp_path)
