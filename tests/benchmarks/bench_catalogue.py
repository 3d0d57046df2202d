"""What a sweep of all crops costs beside the rule that the growing model replaced.

The old rule (70 % of the days in a band) is no longer here to race against. It was timed once in
yardsticks, a fixed piece of work of the same kind; the sweep of today is timed in yardsticks of the
same run, so that a slow or busy machine slows both. Seconds of one processor, on one thread; the
least of several rounds. Run it by itself::

    python tests/benchmarks/bench_catalogue.py
"""

from __future__ import annotations

import os
import sys
import time
from collections.abc import Callable, Iterator
from pathlib import Path

os.environ["OPENBLAS_NUM_THREADS"] = "1"
sys.path.insert(0, str(Path(__file__).parent))

import numpy as np
import xarray as xr
from race import Row

from climwin.crops.catalogue import crop, crop_names
from climwin.io.daily import read_daily
from climwin.io.samples import sample
from climwin.planning.plan import Plan, usual_cover
from climwin.planning.sweep import sweep_plans

BEFORE = {"no day missing": 0.9, "96 days missing": 0.9}
"""Yardsticks that the old rule took at commit 9c9a127 for 78 crops in 117 plans, on the same 40
years of the sample: the middle of five runs (0.84 to 0.92, and 0.81 to 0.96), each the least of
three rounds, on the machine and in the hour that `RESULTS.md` tells of. It was 0.17 s."""
LIMIT, ROUNDS = 3.0, 3
DAYS, REPEATS = 14_610, 40


def yardstick() -> float:
    """Seconds of work on daily and hourly arrays of 40 years, and of plain Python."""
    hours = np.random.default_rng(0).normal(10, 8, (DAYS, 24))
    began = time.process_time()
    for repeat in range(REPEATS):
        sums = np.cumsum(np.maximum(hours - repeat / 4, 0).mean(axis=1))
        place = np.searchsorted(sums, sums + 500.0)
        np.where(place < DAYS, sums[np.minimum(place, DAYS - 1)], np.nan)
        np.sort(hours[:, repeat % 24])
        counts: dict[int, int] = {}
        for number in range(20_000):
            counts[number % 1000] = counts.get(number % 1000, 0) + number
    return time.process_time() - began


def usual_plans(names: list[str]) -> list[Plan]:
    """Each crop sown or planted in place, and raised in its usual cover if it has one."""
    plans = []
    for name in names:
        each = crop(name)
        plans.append(Plan(each, "01-01"))
        if each.weeks_under_cover is not None:
            weeks = each.weeks_under_cover.usual
            plans.append(Plan(each, "01-01", weeks, usual_cover(each)))
    return plans


def without_gaps(record: xr.Dataset) -> xr.Dataset:
    """The record with a straight line through its missing days."""
    return record.map(lambda values: values.interpolate_na("time"), keep_attrs=True)


def changed(record: xr.Dataset, number: int) -> xr.Dataset:
    """The record with one night moved by tenths: what was grown on another is remembered."""
    copy = record.copy(deep=True)
    copy["tmin"].values[DAYS // 2] -= number / 10
    return copy


def least_seconds(work: Callable[[int], object], rounds: int) -> tuple[float, float]:
    """Least seconds of some work and of the yardstick, in turn; the first round is not counted."""
    ours, yards = [], []
    for number in range(rounds + 1):
        yard = yardstick()
        began = time.process_time()
        work(number)
        if number > 0:
            ours.append(time.process_time() - began)
            yards.append(yard)
    return min(ours), min(yards)


def rows(quick: bool = False) -> Iterator[Row]:
    """The whole catalogue on the sample, without a day missing and as it is."""
    names = [*crop_names()]
    plans = usual_plans(names[:2] if quick else names)
    record = read_daily(sample())
    for gaps, daily in (("no day missing", without_gaps(record)), ("96 days missing", record)):
        ours, yard = least_seconds(
            lambda number, daily=daily: sweep_plans(plans, changed(daily, number)),
            1 if quick else ROUNDS,
        )
        note = f"{len(plans)} plans; {ours / yard:.2f} yardsticks of {yard:.3f} s"
        before = BEFORE[gaps] * yard
        yield Row(f"all crops, {gaps}", "the rule before", ours, before, LIMIT, True, note=note)


if __name__ == "__main__":
    for row in rows():
        print(f"{row.work}: {row.ours_s:.2f} s, {row.ratio:.1f} times the rule before ({row.note})")
