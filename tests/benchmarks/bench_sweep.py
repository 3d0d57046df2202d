"""How long 60 annual crops take to be swept over 365 start dates of 40 years.

Against the plain day-by-day loop of the tests on the same data in the same run. The loop is run on
a sample of starts and must come to the same outcomes. Both are measured in seconds of one
processor. Run it by itself::

    python tests/benchmarks/bench_sweep.py
"""

from __future__ import annotations

import os
import sys
import time
from pathlib import Path
from statistics import median

os.environ["OPENBLAS_NUM_THREADS"] = "1"  # both on one thread
sys.path.insert(0, str(Path(__file__).parents[1]))

import numpy as np
import xarray as xr
from planning.plain_loop import Weather, live
from records import weather

from climwin.core.seasons import DAYS
from climwin.crops.catalogue import crop, crop_names
from climwin.planning.evaluate import evaluate_plan
from climwin.planning.plan import Plan
from climwin.planning.sweep import sweep_plans

LIMIT, ROUNDS, SAMPLE = 100, 3, 40
CROPS, YEARS, LATITUDE, MISSING = 60, 40, 46.1, 0.01
GAPS_LIMIT = 3.0
"""Times as long as without gaps that a sweep may take with one day of a hundred missing: what they
touch is grown at the coldest and at the warmest as well."""


def plans() -> list[Plan]:
    """Each annual crop sown or planted in place."""
    chosen = [crop(name) for name in crop_names()]
    annual = [each for each in chosen if not each.is_perennial]
    return [Plan(each, "04-01") for each in annual[:CROPS]]


def same_outcomes(record: xr.Dataset, each: list[Plan]) -> float:
    """Seconds of the plain loop for one start, on a sample that must end as the library's does."""
    rng, slow = np.random.default_rng(1), Weather(record, LATITUDE)
    spent = 0.0
    for number in rng.integers(len(each), size=SAMPLE):
        plan = each[number]
        grown = evaluate_plan(plan, record)
        year = rng.integers(1, YEARS - 1)
        first = record["time"].values[0].astype("datetime64[s]")
        start = int((grown["start"].values[year] - first) / np.timedelta64(1, "D"))
        began = time.process_time()
        plain = live(slow, plan.crop, plan.way, start)
        spent += time.process_time() - began
        outcome, reason = str(grown["outcome"].values[year]), str(grown["reason"].values[year])
        assert plain.reason == (reason or outcome), (plan.crop.name, plain.reason, outcome)
    return spent / SAMPLE


def invented(number: int) -> xr.Dataset:
    """A record of its own for each number: what was grown on one before is remembered."""
    return weather(number, YEARS).assign_attrs(latitude=LATITUDE)


def seconds(each: list[Plan], record: xr.Dataset) -> float:
    """Seconds of one processor that a sweep takes."""
    began = time.process_time()
    sweep_plans(each, record)
    return time.process_time() - began


def cost_of_gaps() -> float:
    """Time of a sweep with one day of a hundred missing over that of one without."""
    each, whole, gappy = plans(), [], []
    for number in range(ROUNDS):
        record = invented(10 + number)
        is_there = np.random.default_rng(number).random(record.sizes["time"]) >= MISSING
        whole.append(seconds(each, record))
        gappy.append(seconds(each, record.where(xr.DataArray(is_there, dims="time"))))
    return median(gappy) / median(whole)


def ratio() -> float:
    """Time of the plain loop for all, from its sample, over that of `sweep_plans`."""
    each, times, plain_times = plans(), [], []
    for number in range(ROUNDS):
        record = invented(number)
        times.append(seconds(each, record))
        plain_times.append(same_outcomes(record, each) * len(each) * DAYS * YEARS)
    print(f"sweep of {len(each)} plans: {median(times):.3f} s; plain: {median(plain_times):.0f} s")
    return median(plain_times) / median(times)


if __name__ == "__main__":
    found = ratio()
    print(f"{found:.0f} times a plain loop (at least {LIMIT})")
    print(f"with gaps {cost_of_gaps():.2f} times as long (at most {GAPS_LIMIT})")
    sys.exit(found < LIMIT)
