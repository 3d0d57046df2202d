"""The local store: whole files or none, read by many, with their credits."""

import os
import threading

import cf_xarray  # noqa: F401 - registers .cf
import numpy as np
import pandas as pd
import pytest
import xarray as xr

from climwin.core.errors import StationError
from climwin.stations import cache


@pytest.fixture
def path(kept_station, tmp_path):
    path = tmp_path / "station-PLB01.nc"
    path.write_bytes(kept_station)
    return path


# --- where it is --------------------------------------------------------------------------


def test_the_folder_is_the_one_given_else_the_environments_else_the_users(monkeypatch, tmp_path):
    monkeypatch.setenv("CLIMWIN_DATA", str(tmp_path / "env"))
    assert cache.folder(tmp_path / "given") == tmp_path / "given"
    assert cache.folder() == tmp_path / "env"
    monkeypatch.delenv("CLIMWIN_DATA")
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path / "home"))
    assert cache.folder().name == "climwin"


@pytest.mark.parametrize("bad", ["", "../PLB01", "a/b", "a\\b", "PLB01\n", "x" * 41, "é", "$0001"])
def test_an_identifier_is_no_path(bad, tmp_path):
    with pytest.raises(ValueError, match="not a station identifier"):
        cache.path_of(bad, tmp_path)


# --- in and out ---------------------------------------------------------------------------


def test_what_is_saved_comes_back(path, tmp_path):
    record = cache.load("PLB01", tmp_path)
    path.unlink()
    assert cache.save(record, tmp_path) == path
    xr.testing.assert_identical(cache.load("PLB01", tmp_path), record)
    assert record["time"].dtype == np.dtype("datetime64[s]")
    assert record["tmin"].attrs["units"] == "degC"
    assert {"latitude", "longitude", "elevation"} <= set(record.attrs)


def test_what_is_not_kept_is_nothing(tmp_path):
    assert cache.load("PLB01", tmp_path) is None


def test_saving_changes_nothing_in_memory(path, tmp_path):
    record = cache.load("PLB01", tmp_path)
    before = record.copy(deep=True)
    cache.save(record, tmp_path)
    xr.testing.assert_identical(record, before)


def test_a_failed_save_leaves_the_old_file(path, tmp_path, monkeypatch):
    record, before = cache.load("PLB01", tmp_path), path.read_bytes()

    def full(*_):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "fsync", full)
    with pytest.raises(OSError, match="No space"):
        cache.save(record, tmp_path)
    assert path.read_bytes() == before


def test_readers_never_see_half_a_file(path, tmp_path):
    record, seen, stop = cache.load("PLB01", tmp_path), [], threading.Event()

    began = threading.Barrier(4, timeout=60)

    def read():
        began.wait()
        while not stop.is_set():
            seen.append(cache.load("PLB01", tmp_path) is not None)

    readers = [threading.Thread(target=read) for _ in range(3)]
    for reader in readers:
        reader.start()
    began.wait()
    saved = 0
    while saved < 15 or len(seen) < 4:
        cache.save(record, tmp_path)
        saved += 1
    stop.set()
    for reader in readers:
        reader.join()
    assert len(seen) > 3
    assert all(seen)


# --- damage -------------------------------------------------------------------------------


def cut(body):
    return body[: len(body) // 2]


@pytest.mark.parametrize(
    "spoil", [cut, lambda _: b"", lambda _: b"<!DOCTYPE html>", lambda b: b[:100] + b"\0" * 9000]
)
def test_a_damaged_file_is_set_aside_with_a_message(path, tmp_path, spoil):
    path.write_bytes(spoil(path.read_bytes()))
    with pytest.warns(UserWarning, match=r"station-PLB01.nc .* is damaged .* set aside as") as told:
        assert cache.load("PLB01", tmp_path) is None
    assert not path.exists()
    assert path.with_name("station-PLB01.nc.damaged").exists()
    [text] = [str(each.message) for each in told]
    assert text.startswith("station-PLB01.nc in the local store is damaged (")
    assert text.endswith(
        "). It is set aside as station-PLB01.nc.damaged; the station will be fetched again when it "
        "is next needed."
    )


def test_every_changed_byte_of_the_values_is_noticed(path, tmp_path):
    body = path.read_bytes()
    values = cache.load("PLB01", tmp_path)["tmin"].values.tobytes()
    at = body.index(values[:800])
    rng = np.random.default_rng(1)
    for step in rng.integers(0, len(values), 5):
        changed = bytearray(body)
        changed[at + step] ^= 0x10
        path.write_bytes(bytes(changed))
        with pytest.warns(UserWarning, match="is damaged"):
            assert cache.load("PLB01", tmp_path) is None


def test_a_file_of_another_station_or_of_another_make_is_not_used(path, tmp_path):
    other = path.with_name("station-PLB09.nc")
    other.write_bytes(path.read_bytes())
    with pytest.warns(UserWarning, match="it is of station 'PLB01'"):
        assert cache.load("PLB09", tmp_path) is None
    xr.Dataset({"tmin": ("time", [1.0])}).to_netcdf(other)
    with pytest.warns(UserWarning, match="it lacks tmax"):
        assert cache.load("PLB09", tmp_path) is None


def test_days_out_of_order_are_damage(path, tmp_path):
    record = cache.load("PLB01", tmp_path)
    cache.save(record.isel(time=slice(None, None, -1)), tmp_path)
    with (
        pytest.warns(UserWarning, match="its days are not in order"),
        pytest.raises(StationError, match=r"was damaged in the store\. Fetch it again"),
    ):
        cache.export("PLB01", tmp_path / "mine.csv", tmp_path)


def test_a_file_that_may_not_be_read_is_not_called_damaged(path, tmp_path, monkeypatch):
    def refused(*_, **__):
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr(xr, "open_dataset", refused)
    with pytest.raises(PermissionError):
        cache.load("PLB01", tmp_path)
    assert path.exists()


# --- the file for others ------------------------------------------------------------------


def test_the_file_opens_in_plain_xarray_and_says_what_it_is(path):
    with xr.open_dataset(path) as opened:
        opened.load()
    assert opened.attrs["licence"] == "CC BY 4.0, https://creativecommons.org/licenses/by/4.0/"
    assert opened.attrs["license"] == opened.attrs["licence"]
    assert opened.attrs["credit"] == "Meteostat (https://meteostat.net), NOAA GHCN-Daily"
    assert opened.attrs["meteostat_version"]
    assert "PLB01" in opened.attrs["source"]
    assert opened["retrieved"].dtype.kind == "M"
    assert opened.sizes == {"time": 3652, "year": 10}


def test_the_file_keeps_to_cf(path):
    with xr.open_dataset(path) as opened:
        opened.load()
    assert opened.attrs["Conventions"] == "CF-1.8"
    names = opened.cf.standard_names
    assert set(names["air_temperature"]) == {"tmin", "tmax", "tmean"}
    assert names["lwe_thickness_of_precipitation_amount"] == ["precip"]
    assert opened.cf.axes == {"T": ["time"]}
    assert opened.cf.coordinates["latitude"] == ["latitude"]
    assert opened.cf.coordinates["longitude"] == ["longitude"]
    assert opened.cf.cf_roles == {"timeseries_id": ["station_id"]}
    assert opened["status"].cf.is_flag_variable
    assert (opened["status"].cf == "complete").all()
    assert opened["tmin"].attrs["cell_methods"] == "time: minimum"
    # CF before 1.9 knows no integers of 64 bits
    with xr.open_dataset(path, decode_cf=False) as raw:
        assert not any(raw[name].dtype == np.int64 for name in raw.variables)


# --- what the user does -------------------------------------------------------------------


def test_listing_says_what_is_held(path, tmp_path):
    row = cache.listing(tmp_path).loc["PLB01"]
    assert row["name"] == "Pellbrook Mill"
    assert (row["first_year"], row["last_year"], row["days"]) == (2001, 2010, 3652)
    assert row["years_with_faults"] == 0
    assert row["kilobytes"] == round(path.stat().st_size / 1024)


def test_listing_an_empty_store(tmp_path):
    assert cache.listing(tmp_path / "none").empty


def test_remove(path, tmp_path):
    cache.remove("PLB01", tmp_path)
    assert not path.exists()
    with pytest.raises(StationError, match="no station 'PLB01'; it holds no station yet"):
        cache.remove("PLB01", tmp_path)


def test_export_as_netcdf_is_the_file_itself(path, tmp_path):
    out = cache.export("PLB01", tmp_path / "mine.nc", tmp_path)
    assert out.read_bytes() == path.read_bytes()


def test_export_as_csv_has_its_credits_on_top(path, tmp_path):
    out = cache.export("PLB01", tmp_path / "mine.csv", tmp_path)
    head = [line for line in out.read_text().splitlines() if line.startswith("#")]
    assert "CC BY 4.0" in head[1]
    assert "degC and mm; missing is empty" in head[2]
    table = pd.read_csv(out, comment="#", index_col="date", parse_dates=True)
    record = cache.load("PLB01", tmp_path)
    np.testing.assert_array_equal(table["tmin"], record["tmin"])
    assert list(table.columns) == ["tmin", "tmax", "tmean", "precip"]


def test_export_refuses_what_it_cannot_write(path, tmp_path):
    with pytest.raises(ValueError, match=r"exported to \.nc or \.csv, got 'mine\.xlsx'"):
        cache.export("PLB01", tmp_path / "mine.xlsx", tmp_path)
    with pytest.raises(StationError, match="it holds PLB01"):
        cache.export("PLB07", tmp_path / "mine.nc", tmp_path)


def test_attribution_names_source_licence_and_changes():
    daily = xr.Dataset(attrs={"credit": "Meteostat, NOAA", "licence": "CC BY 4.0", "changes": "x"})
    assert (
        cache.attribution(daily) == "Weather data: Meteostat, NOAA; licence: CC BY 4.0. Changed: x."
    )
    own = xr.Dataset(attrs={"source": "own.csv"})
    assert cache.attribution(own) == "Weather data: own.csv."
    assert cache.attribution(xr.Dataset()) == "Weather data: source not stated."


# --- one at a time ------------------------------------------------------------------------


def test_the_lock_is_held_by_one_and_says_whom_to_wait_for(tmp_path):
    with (
        cache.locked("PLB01", tmp_path),
        pytest.raises(StationError, match="Another program has been fetching station PLB01"),
        cache.locked("PLB01", tmp_path, timeout=0.05),
    ):
        pass
    with cache.locked("PLB01", tmp_path, timeout=0.05):
        pass
