"""How long a stored station of forty years takes to open, against plain xarray on the same file.

The ratio is what counts, and must stay under 1.5. Run it by itself::

    python tests/benchmarks/bench_store.py
"""

from __future__ import annotations

import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path
from statistics import median

import xarray as xr

sys.path.insert(0, str(Path(__file__).parents[1]))

from standin import StandIn, pointed_at

from climwin.stations import cache
from climwin.stations.history import fetch_history

LIMIT, ROUNDS = 1.5, 60


def seconds(work: Callable[[], object]) -> float:
    """Time that one call takes."""
    began = time.perf_counter()
    work()
    return time.perf_counter() - began


def plain(path: Path) -> None:
    """What anyone would write."""
    with xr.open_dataset(path) as opened:
        opened.load()


def ratios() -> dict[str, float]:
    """Each way of ours against plain xarray, turn by turn, as medians."""
    with tempfile.TemporaryDirectory() as folder:
        where = Path(folder)
        with StandIn() as server, pointed_at(server):
            fetch_history("PLB01", 1985, 2024, where=where)
        path = cache.path_of("PLB01", where)
        ways = {
            "plain": lambda: plain(path),
            "load": lambda: cache.load("PLB01", where),
            "fetch_history": lambda: fetch_history("PLB01", 1985, 2024, where=where),
        }
        times: dict[str, list[float]] = {name: [] for name in ways}
        for _ in range(ROUNDS):
            for name, way in ways.items():
                times[name].append(seconds(way))
    base = median(times.pop("plain"))
    return {name: median(taken) / base for name, taken in times.items()}


if __name__ == "__main__":
    found = ratios()
    for name, ratio in found.items():
        print(f"{name}: {ratio:.2f} times plain xarray (limit {LIMIT})")
    sys.exit(max(found.values()) >= LIMIT)
