"""Many stations: the same answers however they are worked out, and nothing lost on the way."""

import os
import signal
import sys
import time
import tracemalloc
from functools import partial

import cf_xarray  # noqa: F401
import cloudpickle
import dask
import numpy as np
import numpy.testing as npt
import pandas as pd
import pytest
import xarray as xr
from records import side_by_side, weather
from refusing import refused
from written import write_station

from climwin.batch import run as module
from climwin.batch import stations
from climwin.batch.checkpoint import Checkpoint
from climwin.batch.results import station_results
from climwin.batch.run import station_table
from climwin.batch.stations import (
    StationRecord,
    batch_results,
    batches_of_record,
    blocks_of_record,
)
from climwin.core.schema import Station
from climwin.core.seasons import day_name
from climwin.crops.catalogue import crop

CROPS = [crop("cauliflower"), crop("pea")]
run = partial(module.run_stations, few_years=True)  # four years do for what is asked here


@pytest.fixture(scope="module")
def daily():
    """Seven stations, of which the third holds too little and the fifth lies in the south."""
    kinds = [
        {"gaps": 0.01},
        {"mean": 15.0, "swing": 13.0},
        {},
        {"mean": 6.0},
        {"coldest": 202},
        {},
        {},
    ]
    alone = [weather(n, years=4, **kind) for n, kind in enumerate(kinds)]
    alone[2] = alone[2].where(alone[2]["time"].dt.month < 4)
    places = {"latitude": ("station", 46.0 + np.arange(7)), "longitude": ("station", [7.0] * 7)}
    return side_by_side(*alone).assign_coords(places).assign_attrs(source="invented")


@pytest.fixture(scope="module")
def found(daily, tmp_path_factory):
    out = tmp_path_factory.mktemp("many") / "region.nc"
    with run(daily, CROPS, out, batch_size=3) as opened:
        return opened.load()


def same(found, other):
    """The same numbers and words, whatever width the file gives them."""
    xr.testing.assert_equal(found, other.load())
    other.close()


# --- what comes out -----------------------------------------------------------------------


def test_answers_are_those_of_the_stations_together(daily, found):
    held = np.arange(7) != 2
    expected = station_results(daily.isel(station=held), CROPS)
    for name in expected.data_vars:
        npt.assert_array_equal(found[name].isel(station=held), expected[name], err_msg=name)
    assert found["status"].values.tolist() == [0, 0, 1, 0, 0, 0, 0]
    assert found["reason"].values[2].startswith("the record is too thin")
    assert found.attrs["source"] == "invented"


def test_a_reason_is_why_there_are_no_results_or_what_to_mind(found):
    assert found["reason"].attrs["long_name"] == "why it has no results, or what to mind"
    failed = found["status"].values == 1
    assert all(found["reason"].values[failed])
    assert any(found["reason"].values[~failed])  # four years are few


def test_size_of_a_batch_does_not_matter(daily, found, tmp_path):
    same(found, run(daily, CROPS, tmp_path / "r.nc", batch_size=100))


def test_lazy_record_from_a_file_gives_the_same(daily, found, tmp_path):
    daily.drop_encoding().to_netcdf(tmp_path / "daily.nc")
    with xr.open_dataset(tmp_path / "daily.nc", chunks={"station": 2}) as lazy:
        same(found, run(lazy, CROPS, tmp_path / "r.nc", batch_size=2))


def test_zarr_holds_what_netcdf_does(daily, found, tmp_path):
    pytest.importorskip("zarr")
    same(found, run(daily, CROPS, tmp_path / "r.zarr", batch_size=3))


def test_file_is_read_by_its_cf_attributes(found):
    assert found.attrs["Conventions"] == "CF-1.11"
    assert found.cf["timeseries_id"].name == "station"
    assert found.cf["latitude"].name == "latitude"
    assert (found["status"].cf == "failed").values.tolist() == [n == 2 for n in range(7)]


def test_list_of_stations_with_their_places(tmp_path):
    places = [write_station(tmp_path, f"{n}.csv", weather(n, years=2 + n)) for n in range(2)]
    places.append(StationRecord(Station("gone", "x", 1, 2), tmp_path / "gone.csv"))
    with run(places, CROPS[1:], tmp_path / "list.nc", batch_size=2) as found:
        assert found["name"].values.tolist() == ["0.csv", "1.csv", "x"]
        assert found["latitude"].values.tolist() == [46, 46, 1]
        assert found["season"].values.tolist() == [1999, 2000, 2001]
        assert np.isnan(found["elevation"]).all()
        assert found["status"].values.tolist() == [0, 0, 1]  # the last batch has no answer at all


def test_no_answer_at_all_still_names_the_reasons(daily, tmp_path):
    thin = daily.isel(station=[2])
    with run(thin, CROPS, tmp_path / "r.nc") as found:
        assert found["reason"].values[0].startswith("the record is too thin")
    assert pd.read_csv(tmp_path / "r.csv")["status"].tolist() == ["failed"]


# --- the table ----------------------------------------------------------------------------


def test_table_has_a_row_for_each_station_crop_and_window(found):
    rows = station_table(found).set_index(["station", "crop", "part"])
    split = found["has_two_windows"].values
    assert len(rows) == 7 * 2 + 2 * split.sum() > 14
    row = rows.loc["station 1", "cauliflower", "longest"]
    one = found.sel(station="station 1", crop="cauliflower")
    assert row["shorter_share"] == one["shorter_share"].sel(part="longest")
    assert row["window_median"] == one["window_median"].sel(part="longest")
    assert row["last_spring_freeze"] == day_name(
        float(one["last_spring"].sel(threshold=0, odds=0.5))
    )
    assert row["raise_first"] == day_name(float(one["best_first"].sel(way="under cover")))
    assert rows.loc["station 2"]["status"].tolist() == ["failed"] * 2
    assert rows.loc["station 2"]["sow_first"].tolist() == [""] * 2


# --- in chunks, and in parts ----------------------------------------------------------------


def counted(daily, reads, fails=False):
    """The record in one chunk, and a list to which each reading of a variable adds."""

    def read(values):
        if fails:
            raise OSError("the disk is gone")
        reads.append(values.shape)
        return values

    lazy = daily.chunk(station=-1)
    for name in ("tmin", "tmax", "tmean"):
        lazy[name].data = lazy[name].data.map_blocks(read, dtype=float, meta=np.empty((0, 0)))
    return lazy


def test_a_chunk_of_several_batches_is_read_once(daily, found, tmp_path):
    reads = []
    same(found, run(counted(daily, reads), CROPS, tmp_path / "r.nc", batch_size=2))
    assert reads == [(7, daily.sizes["time"])] * 3  # variables


def test_blocks_stay_within_the_memory_they_may_take(daily, monkeypatch):
    lazy = daily.chunk(station=-1)
    assert blocks_of_record(daily, 2) == [range(n, n + 1) for n in range(4)]  # in memory
    assert blocks_of_record(lazy, 2) == [range(4)]
    assert blocks_of_record(daily.chunk(station=4), 2) == [range(2), range(2, 4)]
    monkeypatch.setattr(stations, "BLOCK_BYTES", 2 * 2 * 3 * 8 * daily.sizes["time"])
    assert blocks_of_record(lazy, 2) == [range(2), range(2, 4)]


def test_a_block_that_cannot_be_read_names_its_stations(daily, tmp_path):
    with run(counted(daily, [], fails=True), CROPS, tmp_path / "r.nc", batch_size=2) as found:
        assert found["status"].values.tolist() == [1] * 7
        assert set(found["reason"].values) == {"the disk is gone"}


def test_a_cluster_reads_a_block_for_its_batches(daily, found, tmp_path, cluster):
    lazy = daily.chunk(station=-1)
    address = cluster.scheduler_address
    same(found, run(lazy, CROPS, tmp_path / "r.nc", batch_size=2, cluster=address))


def joined_of(found, count, folder):
    """The file joined from so many copies of one station's part, and the most memory it took."""
    parts, part = Checkpoint(folder / "r.nc", ["a run"]), found.isel(station=[0])
    part["reason"] = part["reason"].astype(object)
    for n in range(count):
        parts.write(n, part)
    names = [f"S{n}" for n in range(count)]
    tracemalloc.start()
    parts.join(count, xr.Dataset(coords={"station": names}))
    most = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    return folder / "r.nc", most


def test_joining_more_parts_takes_no_more_memory(found, tmp_path):
    for name in ("few", "many"):
        (tmp_path / name).mkdir()
    joined_of(found, 2, tmp_path / "few")  # what is imported at first is not counted
    (tmp_path / "few" / "r.nc").unlink()
    _, few = joined_of(found, 3, tmp_path / "few")
    path, many = joined_of(found, 30, tmp_path / "many")
    assert many < 1.5 * few
    with xr.open_dataset(path) as joined:
        assert joined.sizes["station"] == 30
        last = joined.isel(station=[29]).drop_vars("station").load()
        first = found.isel(station=[0]).drop_vars(["station", "latitude", "longitude"])
        xr.testing.assert_equal(last, first)


@pytest.mark.parametrize("ending", [".nc", ".zarr"])
def test_parts_of_other_years_keep_their_types(found, tmp_path, ending):
    """A year that one part lacks is unknown there; counts and flags stay whole numbers."""
    parts = Checkpoint(tmp_path / f"r{ending}", ["a run"])
    early = found.isel(station=[0], season=slice(0, 3))
    late = found.isel(station=[1], season=slice(1, None))
    for n, part in enumerate((early, late)):
        parts.write(n, part.assign(reason=part["reason"].astype(object)))
    parts.join(2, found[["latitude"]].drop_vars("longitude").isel(station=[0, 1]))
    with xr.open_dataset(tmp_path / f"r{ending}") as joined:
        assert joined["season"].values.tolist() == found["season"].values.tolist()
        for name, values in found.data_vars.items():
            assert joined[name].dtype.kind == values.dtype.kind, name
        unknown = found["window_status"].attrs["flag_meanings"].split().index("unknown")
        assert (joined["window_status"].isel(station=0, season=-1) == unknown).all()
        assert (joined["window_status"].isel(station=1, season=0) == unknown).all()
        for n, part in enumerate((early, late)):
            own = joined.isel(station=n).sel(season=part["season"])
            npt.assert_array_equal(own["window_length"], part["window_length"][0])
            npt.assert_array_equal(own["window_start"], part["window_start"][0])


def test_a_result_is_compressed_and_a_part_is_a_chunk(daily, tmp_path):
    with run(daily, CROPS, tmp_path / "r.nc", batch_size=3) as found:
        stored = found["bands"].encoding
        assert stored["zlib"]
        assert stored["chunksizes"] == (3, *found["bands"].shape[1:])


# --- stopped, and gone on with ------------------------------------------------------------


class StopError(Exception):
    pass


def test_run_that_was_stopped_goes_on(daily, found, tmp_path, monkeypatch):
    out, seen = tmp_path / "r.nc", []

    def stop_in_the_middle(done, total):
        seen.append((done, total))
        if done >= 4:
            raise StopError

    with pytest.raises(StopError):
        run(daily, CROPS, out, batch_size=2, progress=stop_in_the_middle)
    assert not out.exists()
    kept = sorted(path.name for path in (tmp_path / "r.nc.parts").glob("*.nc"))
    assert kept
    asked = []
    monkeypatch.setattr(
        module,
        "batch_results",
        lambda b, c, **few: (asked.extend(b.names), batch_results(b, c, **few))[1],
    )
    again = run(daily, CROPS, out, batch_size=2, progress=lambda *at: seen.append(at))
    assert len(asked) < 7  # what was kept was not asked for again
    assert seen[-1] == (7, 7)
    same(found, again)
    assert sorted(path.name for path in tmp_path.iterdir()) == ["r.csv", "r.nc"]


def test_a_stopped_run_leaves_nothing_at_work(daily, tmp_path, monkeypatch):
    begun, ended = [], []

    def slowly(batch, crops, **few):
        begun.append(batch)
        answer = batch_results(batch, crops, **few)
        if len(begun) > 1:
            time.sleep(0.5)
        ended.append(batch)
        return answer

    monkeypatch.setattr(module, "batch_results", slowly)
    with pytest.raises(StopError), dask.config.set(num_workers=3):
        run(daily, CROPS[:1], tmp_path / "r.nc", batch_size=1, progress=stop)
    assert len(begun) == len(ended) > 1


def test_a_record_changed_meanwhile_is_computed_again(tmp_path, monkeypatch):
    records = [write_station(tmp_path, f"{n}.csv", weather(n, years=4)) for n in range(3)]

    def stop_after_two(done, _):
        if done >= 2:
            raise StopError

    with pytest.raises(StopError):
        run(records, CROPS[:1], tmp_path / "r.nc", batch_size=1, progress=stop_after_two)
    parts = sorted((tmp_path / "r.nc.parts").glob("*.nc"))
    changed = int(parts[0].stem)
    write_station(tmp_path, f"{changed}.csv", weather(9, years=4, mean=13.0))
    asked = []
    monkeypatch.setattr(
        module,
        "batch_results",
        lambda b, c, **few: (asked.extend(b.names), batch_results(b, c, **few))[1],
    )
    with pytest.warns(UserWarning, match="computed again, 1 station in all"):
        again = run(records, CROPS[:1], tmp_path / "r.nc", batch_size=1).load()
    again.close()
    done = {int(part.stem) for part in parts} - {changed}
    assert sorted(asked) == [f"{n}.csv" for n in range(3) if n not in done]
    with run(records, CROPS[:1], tmp_path / "fresh.nc", batch_size=1) as fresh:
        xr.testing.assert_equal(again, fresh.load())


@pytest.mark.parametrize("change", ["crops", "batch_size", "stations"])
def test_parts_of_another_run_are_refused(daily, tmp_path, change):
    out = tmp_path / "r.nc"
    with pytest.raises(StopError):
        run(daily, CROPS, out, batch_size=2, progress=stop)
    given = {"stations": daily, "crops": CROPS, "batch_size": 2}
    given[change] = {"crops": CROPS[:1], "batch_size": 3, "stations": daily.isel(station=[0, 1])}[
        change
    ]
    refused(
        lambda: run(given["stations"], given["crops"], out, batch_size=given["batch_size"]),
        "r.nc.parts holds parts of another run: other stations, crops or size of a batch.",
        "Remove that folder, or give another file.",
    )


def stop(*_):
    raise StopError


# --- a cluster ----------------------------------------------------------------------------


@pytest.fixture(scope="module")
def cluster():
    distributed = pytest.importorskip("distributed")
    with distributed.LocalCluster(
        n_workers=2, threads_per_worker=1, processes=True, dashboard_address=None
    ) as running:
        yield running


def test_cluster_gives_the_same(daily, found, tmp_path, cluster):
    same(
        found,
        run(daily, CROPS, tmp_path / "r.nc", batch_size=2, cluster=cluster.scheduler_address),
    )


def test_worker_killed_in_the_middle_costs_nothing(daily, found, tmp_path, cluster):
    killed = []

    def kill_one(done, total):
        if not killed:
            killed.append(next(iter(cluster.workers.values())).pid)
            os.kill(killed[0], signal.SIGKILL)

    address = cluster.scheduler_address
    same(
        found,
        run(daily, CROPS, tmp_path / "r.nc", batch_size=1, cluster=address, progress=kill_one),
    )
    assert killed


def test_workers_on_this_machine_give_the_same(daily, found, tmp_path):
    same(found, run(daily, CROPS, tmp_path / "r.nc", batch_size=2, workers=2))


@pytest.mark.parametrize("lazy", [False, True])
def test_a_worker_is_sent_its_own_stations_alone(daily, lazy):
    """Before, each batch took the whole record along: of twice the stations, four times as much."""

    def sent(stations):
        names = [f"s{n}" for n in range(stations)]
        many = daily.isel(station=[0] * stations).assign_coords(station=names)
        many = many.chunk(station=5) if lazy else many
        batches = batches_of_record(many, 5)
        tasks = module._tasks(many, batches, 5, range(len(batches)))
        return [len(cloudpickle.dumps((each.batches, each.read))) for each in tasks]

    few, more = sent(10), sent(40)
    assert len(more) == 4 * len(few)
    assert max(more) < 1.1 * max(few)


def test_few_stations_are_cut_into_batches_for_all_cores():
    sizes = {count: module.usual_batch(count) for count in (1, 40, 400, 250_000)}
    assert sizes == {1: 10, 40: 10, 400: 25, 250_000: 100}
    assert module.usual_workers(3) is None


@pytest.mark.parametrize(
    ("cores", "memory_gb", "workers"),
    [
        (64, 8, 7),  # a container with many cores and little memory
        (2, 64, 2),
        (4, 4.5, 3),
        (1, 64, None),  # threads do
        (64, 2, None),
    ],
)
def test_processes_are_as_many_as_cores_and_memory_allow(monkeypatch, cores, memory_gb, workers):
    monkeypatch.setattr("dask.system.CPU_COUNT", cores)
    monkeypatch.setattr("distributed.system.MEMORY_LIMIT", memory_gb * 1e9)
    assert module.usual_workers(module.WORTH_WORKERS + 1) == workers
    assert module.usual_workers(module.WORTH_WORKERS) is None


# Workers do not have the tests on their path: what they are to run goes to them whole.
cloudpickle.register_pickle_by_value(sys.modules[__name__])


def die(*_):
    os.kill(os.getpid(), signal.SIGKILL)


def test_batch_that_kills_its_workers_is_named(daily, tmp_path, cluster, monkeypatch):
    def deadly(batch, crops, **few):
        return die() if "station 3" in batch.names else batch_results(batch, crops, **few)

    monkeypatch.setattr(module, "batch_results", deadly)
    with run(
        daily.isel(station=[0, 3]),
        CROPS,
        tmp_path / "r.nc",
        batch_size=1,
        cluster=cluster.scheduler_address,
    ) as found:
        assert found["status"].values.tolist() == [0, 1]
        assert found["reason"].values[1]


def test_a_scheduler_that_does_not_answer_leaves_nothing_behind(daily, tmp_path):
    """Before, every file written later in the process waited for that scheduler, and failed."""
    pytest.importorskip("distributed")
    with pytest.raises(ValueError, match="no scheduler at 'nowhere://1' that answers"):
        run(daily, CROPS, tmp_path / "r.nc", cluster="nowhere://1")
    assert dask.config.get("scheduler", None) is None
    daily.isel(station=0).to_netcdf(tmp_path / "later.nc", engine="netcdf4")


# --- errors -------------------------------------------------------------------------------


def test_result_is_never_overwritten(daily, tmp_path):
    (tmp_path / "r.nc").write_text("mine")
    with pytest.raises(ValueError, match=r"r\.nc is there already\. Remove it, or give another"):
        run(daily, CROPS, tmp_path / "r.nc")


@pytest.mark.parametrize(
    ("change", "told"),
    [
        ({"crops": []}, "at least one crop"),
        ({"batch_size": 0}, "batch_size is a number of stations, 1 or more; got 0"),
        ({"workers": 0}, "workers is a number of processes, 1 or more; got 0"),
        ({"workers": 2, "cluster": "tcp://1"}, "Give one of the two"),
        ({"out": "r.txt"}, r"^The result's name must end in \.nc or \.zarr; got 'r\.txt'"),
        ({"stations": []}, "Stations need an id each, got none"),
        ({"stations": weather()}, "need a dimension 'station' with their ids, got time"),
    ],
)
def test_what_cannot_be_asked_says_why(daily, tmp_path, change, told):
    given = {"stations": daily, "crops": CROPS, "out": "r.nc"} | change
    stations, crops, out = (given.pop(name) for name in ("stations", "crops", "out"))
    with pytest.raises(ValueError, match=told):
        run(stations, crops, tmp_path / out, **given)


def test_a_record_without_stations_or_their_latitudes_says_how_to_give_them(daily, tmp_path):
    refused(
        lambda: run(weather(), CROPS, tmp_path / "r.nc"),
        "Many stations need a dimension 'station' with their ids, got time.",
        "Convert a grid first, see climwin.io.grids.as_stations.",
    )
    refused(
        lambda: run(daily.drop_vars("latitude"), CROPS, tmp_path / "r.nc"),
        "Many stations need the latitude of each, in degrees north",
        "for the sun and the length of the day.",
        "Give it as a coordinate 'latitude' beside the stations.",
    )


def test_a_cluster_is_an_address_with_its_port(daily, tmp_path):
    distributed = pytest.importorskip("distributed")
    said = refused(
        lambda: run(daily, CROPS, tmp_path / "r.nc", cluster="10.0.0.1"),
        "cluster must be an address with its port, such as tcp://127.0.0.1:",
        "got '10.0.0.1'",
    )
    assert f":{distributed.Scheduler.default_port}, got" in said


def test_ids_and_variables_are_checked_first(daily, tmp_path):
    twice = daily.isel(station=[0, 1]).assign_coords(station=["A", "A"])
    with pytest.raises(ValueError, match="Stations need an id each, got twice A"):
        run(twice, CROPS, tmp_path / "r.nc")
    with pytest.raises(ValueError, match="The record has no 'tmax'"):
        run(daily.drop_vars("tmax"), CROPS, tmp_path / "r.nc")
