"""What a longer record costs a hindcast: it asks once more for each year, of ever more years.

Seconds of one processor, on one thread. Run it by itself::

    python tests/benchmarks/bench_hindcast.py
"""

from __future__ import annotations

import os
import sys
import time
from collections.abc import Iterator
from pathlib import Path

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
sys.path.insert(0, str(Path(__file__).parent))

from invented import region
from race import Row

from climwin.climate.hindcast import hindcast

YEARS, LONGER = 80, 120
LIMIT = 4.0
"""Times as long: there are 1.8 times as many years of asking, each with up to 1.5 times the years
before it, whose noise is compared with changes in 1.5 times as many years."""


def seconds(years: int) -> float:
    """CPU of one hindcast. [s]"""
    record = region(1, years).load().isel(station=0)
    began = time.process_time()
    hindcast(record)
    return time.process_time() - began


def rows(quick: bool = False) -> Iterator[Row]:
    """A hindcast of 120 years against one of 80."""
    short, long = (42, 45) if quick else (YEARS, LONGER)
    theirs, ours = seconds(short), seconds(long)
    yield Row(f"hindcast, {long} years", f"{short} years", ours, theirs, LIMIT, at_most=True)


if __name__ == "__main__":
    for row in rows():
        print(f"{row.work}: {row.ours_s:.1f} s, {row.ratio:.1f} times {row.against}")
