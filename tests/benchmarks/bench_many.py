"""Many stations from end to end: what one costs, on threads and on processes, and the joining.

The region is made batch by batch where it is asked for, so that no disk is measured. Each way runs
in a process of its own, whose memory and CPU are told, with those of the processes that it started.
"""

from __future__ import annotations

import os
import shutil
import signal
import time
from collections.abc import Iterator, Sequence
from pathlib import Path
from tempfile import TemporaryDirectory

import dask
import xarray as xr
from alone import Told, alone, most_memory, tell
from invented import region, without_gaps
from race import Row

from climwin.batch.checkpoint import Checkpoint
from climwin.batch.results import station_results
from climwin.batch.run import run_stations
from climwin.batch.stations import batch_results, batches_of_record
from climwin.crops.catalogue import crop

THREE = [crop(name) for name in ("cauliflower", "potato", "pea")]
ONE = [crop("pea")]
YEARS, FEW = 40, 4
"""Years of a station that is timed by itself, and of one of thousands."""
ASKED_A_SECOND = 250
"""Stations that two cores were asked to answer in a second."""
GAPS = "1 % missing"
WAYS = ("1 thread", "2 threads", "2 processes", "2 workers of a LocalCluster, one killed")


# --- one station of a batch ---------------------------------------------------------------


def of_a_batch(stations: str, gaps: str) -> Told:
    """CPU of a station of a batch, all results, three crops. [s]"""
    count = int(stations)
    record = region(count, YEARS, batch=count).load()
    record = record if gaps == GAPS else without_gaps(record)
    station_results(record.isel(station=[0]), THREE)  # what is only slow once is not counted
    began = time.process_time()
    station_results(record, THREE)
    return {"each": (time.process_time() - began) / count}


# --- threads, processes, and a worker that dies -------------------------------------------


def run(stations: str, batch: str, way: str, out: str) -> Told:
    """Answer a region in one way, and write the result; tell how far it was at a worker's end."""
    found = region(int(stations), FEW, batch=int(batch))
    if way.endswith("killed"):
        return {"killed at": _with_one_killed(found, int(batch), out)}
    count = int(way[0])
    workers = count if "process" in way else None
    with dask.config.set(num_workers=count):
        options = {"batch_size": int(batch), "few_years": True}
        run_stations(found, ONE, out, workers=workers, **options).close()
    return {}


def _with_one_killed(found: xr.Dataset, batch: int, out: str) -> int:
    """Two workers, of which one is killed in the middle: how many stations were done by then."""
    from distributed import LocalCluster

    with LocalCluster(n_workers=2, threads_per_worker=1, dashboard_address=":0") as cluster:
        pid, killed_at = next(iter(cluster.workers.values())).pid, []

        def progress(done: int, total: int) -> None:
            if not killed_at and done >= total // 2:
                os.kill(pid, signal.SIGKILL)
                killed_at.append(done)

        address = cluster.scheduler_address
        options = {"batch_size": batch, "few_years": True, "progress": progress}
        run_stations(found, ONE, out, cluster=address, **options).close()
    return killed_at[0]


# --- joining ------------------------------------------------------------------------------


def join(parts: str, out: str) -> Told:
    """Join so many parts of two stations, all alike; the CPU of that alone. [s]"""
    count = int(parts)
    part = batch_results(batches_of_record(region(2, FEW), 2)[0], ONE, few_years=True)
    checkpoint = Checkpoint(Path(out), ["benchmark"])
    checkpoint.write(0, part)
    for number in range(1, count):
        shutil.copy(checkpoint.path(0), checkpoint.path(number))
    names = [f"P{number:07}" for number in range(2 * count)]
    before, began = most_memory(), time.process_time()
    checkpoint.join(count, xr.Dataset(coords={"station": names}))
    cpu = time.process_time() - began
    return {"cpu": cpu, "more MB": most_memory() - before}


# --- races ------------------------------------------------------------------------------


def rows(quick: bool = False) -> Iterator[Row]:
    """What one station of a batch costs, with and without gaps."""
    batch = 2 if quick else 30
    for gaps in (GAPS, "no gaps"):
        of_one = alone(__file__, "of_a_batch", batch, gaps)
        yield Row(
            f"a station of a batch of {batch}, {YEARS} years, three crops, {gaps}",
            f"{ASKED_A_SECOND} a second on two cores",
            of_one["each"],
            2 / ASKED_A_SECOND,
            1.0,
            at_most=True,
            note=f"{1 / of_one['each']:.1f} a second on a core; {of_one['MB']:.0f} MB",
        )


def ways(quick: bool = False) -> Iterator[Row]:
    """Time, memory and equality of many stations, in each way."""
    total, batch, ways = (8, 4, (WAYS[0], WAYS[-1])) if quick else (2000, 50, WAYS)
    with TemporaryDirectory() as folder:
        yield from _ways(Path(folder), total, batch, ways)


def joins(quick: bool = False) -> Iterator[Row]:
    """What joining a part costs, of 300 stations and of 30,000."""
    with TemporaryDirectory() as folder:
        yield from _joins(Path(folder), (3, 6) if quick else (150, 15_000))


def _ways(out: Path, total: int, batch: int, ways: Sequence[str]) -> Iterator[Row]:
    paths = {way: out / f"{number}.nc" for number, way in enumerate(ways)}
    one = alone(__file__, "run", total, batch, ways[0], paths[ways[0]])
    for way in ways:
        told = one if way == ways[0] else alone(__file__, "run", total, batch, way, paths[way])
        _same(paths[ways[0]], paths[way])
        killed = f"; killed when {told['killed at']} were done" if "killed at" in told else ""
        yield Row(
            f"{total} stations of {FEW} years, one crop, {way}",
            ways[0],
            told["s"],
            one["s"],
            note=(
                f"by the clock; {1000 * told['cpu'] / total:.0f} ms of CPU a station, at most "
                f"{told['MB']:.0f} MB a process; the same to the last bit{killed}"
            ),
        )


def _joins(out: Path, parts: tuple[int, int]) -> Iterator[Row]:
    few, many = (alone(__file__, "join", count, out / f"{count} parts.nc") for count in parts)
    for count, told in zip(parts, (few, many), strict=True):
        yield Row(
            f"joining {count} parts of two stations each, a part",
            f"of {parts[0]} parts",
            told["cpu"] / count,
            few["cpu"] / parts[0],
            1.2,
            at_most=True,
            note=f"{told['more MB']:.0f} MB more than before",
        )


def _same(path: Path, other: Path) -> None:
    with xr.open_dataset(path) as one, xr.open_dataset(other) as two:
        xr.testing.assert_identical(one.load(), two.load())


if __name__ == "__main__":
    tell({"of_a_batch": of_a_batch, "run": run, "join": join})
