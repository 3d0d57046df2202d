"""How long a file of daily weather takes to read beside pandas' plain reader, checks included.

The plain reader makes a table of the same numbers and dates; ours also says what is wrong with
them. Seconds of one processor. Run it by itself::

    python tests/benchmarks/bench_reading.py
"""

from __future__ import annotations

import sys
import time
from collections.abc import Callable, Iterator
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parent))

import pandas as pd
from race import Row

from climwin.io.daily import read_daily, read_unchecked
from climwin.io.samples import sample

LIMIT, ROUNDS = 5.0, 9


def least_seconds(ways: dict[str, Callable[[], object]], rounds: int) -> dict[str, float]:
    """Least CPU of each way, one after the other in every round; the first is not counted. [s]"""
    taken: dict[str, list[float]] = {name: [] for name in ways}
    for _ in range(rounds + 1):
        for name, way in ways.items():
            began = time.process_time()
            way()
            taken[name].append(time.process_time() - began)
    return {name: min(each[1:]) for name, each in taken.items()}


def rows(quick: bool = False) -> Iterator[Row]:
    """The sample, forty years."""
    path = sample()
    ways: dict[str, Callable[[], object]] = {
        "checked": lambda: read_daily(path),
        "unchecked": lambda: read_unchecked(path),
        "pandas": lambda: pd.read_csv(path, comment="#", parse_dates=["date"]),
    }
    took = least_seconds(ways, 1 if quick else ROUNDS)
    for name in ("checked", "unchecked"):
        work = f"reading 40 years, {name}"
        yield Row(work, "pandas", took[name], took["pandas"], LIMIT, at_most=True)


if __name__ == "__main__":
    for row in rows():
        print(f"{row.work}: {row.ours_s * 1000:.0f} ms, {row.ratio:.1f} times pandas' plain read")
