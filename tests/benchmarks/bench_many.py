"""Many stations from end to end: time, memory, threads against one, and a cluster of two.

The region is made batch by batch where it is asked for, so that no disk is measured.
"""

from __future__ import annotations

import json
import os
import resource
import signal
import subprocess
import sys
import time
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from statistics import median
from tempfile import TemporaryDirectory

import dask
import numpy as np
import xarray as xr
from invented import region
from race import Row

from climwin.batch.run import run_stations
from climwin.crops.catalogue import crop

CROPS = [crop(name) for name in ("cauliflower", "potato", "pea")]
YEARS = 40


def run(stations: int, batch: int, threads: int, out: str) -> dict[str, float]:
    """Seconds that pass, seconds of the processor, and the most memory of the process. [s, MB]"""
    began, before = time.perf_counter(), time.process_time()
    with dask.config.set(num_workers=threads):
        run_stations(region(stations, YEARS, batch=batch), CROPS, out, batch_size=batch).close()
    taken = time.perf_counter() - began
    cpu = time.process_time() - before
    most = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    return {"s": taken, "cpu": cpu, "MB": most / 1024}


def alone(stations: int, batch: int, threads: int, out: Path) -> dict[str, float]:
    """The same in a process of its own."""
    given = [str(each) for each in (stations, batch, threads, out)]
    done = subprocess.run(
        [sys.executable, __file__, *given], check=True, capture_output=True, text=True
    )
    return json.loads(done.stdout)


def on_cluster(stations: int, batch: int, out: Path, *, kill: bool = False) -> float:
    """Seconds on two worker processes, one of which is killed in the middle if asked for."""
    from distributed import LocalCluster

    with LocalCluster(n_workers=2, threads_per_worker=1, dashboard_address=":0") as cluster:
        began, left = time.perf_counter(), [next(iter(cluster.workers.values())).pid] * kill

        def progress(done: int, total: int) -> None:
            if left and done >= total // 3:
                os.kill(left.pop(), signal.SIGKILL)

        address = cluster.scheduler_address
        found = region(stations, YEARS, batch=batch)
        options = {"cluster": address, "progress": progress}
        run_stations(found, CROPS, out, batch_size=batch, **options).close()
        return time.perf_counter() - began


def threads_gain() -> float:
    """What two threads can gain here at all: on np.sort, which leaves the interpreter alone."""
    values = np.random.default_rng(0).random(3_000_000)
    began = time.perf_counter()
    for _ in range(2):
        np.sort(values)
    one = time.perf_counter() - began
    with ThreadPoolExecutor(2) as pool:
        began = time.perf_counter()
        list(pool.map(np.sort, [values, values]))
        return one / (time.perf_counter() - began)


def rows(quick: bool = False) -> Iterator[Row]:
    """Time, memory and equality; the last are checked, not timed."""
    total, some, batch, rounds = (8, 4, 2, 1) if quick else (2000, 400, 100, 3)
    with TemporaryDirectory() as folder:
        out, made = Path(folder), 0

        def ran(stations: int, batch: int, threads: int) -> tuple[dict[str, float], Path]:
            nonlocal made
            made += 1
            path = out / f"{made}.nc"
            return alone(stations, batch, threads, path), path

        both, gains = [], []
        for _ in range(rounds):
            both.append([ran(some, batch, threads)[0] for threads in (1, 2)])
            gains.append(threads_gain())
        one, two = (median(each[n]["s"] for each in both) for n in (0, 1))
        note = (
            f"two threads of np.sort gained {median(gains):.2f} in the same run; many small NumPy "
            "calls wait for the interpreter's lock"
        )
        yield Row(f"many, {some} stations, 2 threads", "1 thread", two, one, 1.25, note=note)
        whole, path = ran(total, batch, 2)
        each = 1000 * whole["s"] / total
        of_cpu = 1000 * whole["cpu"] / total
        note = f"{each:.1f} ms a station, {of_cpu:.1f} of CPU; {whole['MB']:.0f} MB in all"
        yield Row(f"many, {total} stations, 2 threads", "10 minutes", whole["s"], 600, 1, note=note)
        fewer = both[-1][1]["MB"]
        work = f"memory of {total} stations"
        yield Row(work, f"of {some}", whole["MB"], fewer, 1.5, at_most=True, note="MB, not seconds")
        taken = on_cluster(total, batch, out / "cluster.nc")
        on_cluster(some, batch, out / "killed.nc", kill=True)
        _same(path, out / "cluster.nc")
        _same(out / "1.nc", out / "killed.nc")
        work = f"many, {total} stations, 2 processes"
        note = "equal to the threads; equal too with a worker killed in the middle"
        yield Row(work, "2 threads", taken, whole["s"], note=note)


def _same(path: Path, other: Path) -> None:
    with xr.open_dataset(path) as one, xr.open_dataset(other) as two:
        xr.testing.assert_identical(one.load(), two.load())


if __name__ == "__main__":
    stations, batch, threads, out = sys.argv[1:]
    print(json.dumps(run(int(stations), int(batch), int(threads), out)))
