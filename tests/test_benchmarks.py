"""The races of the kernels still run, on little. What they find is not judged here."""

import math
import sys
from pathlib import Path

import pytest

sys.path.insert(0, str(Path(__file__).parent / "benchmarks"))

pytest.importorskip("xclim")

import bench_kernels
from race import Row, race


def test_every_race_of_the_kernels_runs():
    rows = list(bench_kernels.rows(quick=True))
    assert rows
    assert all(math.isfinite(row.ratio) and row.ratio > 0 for row in rows)


def test_ratio_and_verdict():
    faster = Row("work", "other", ours_s=1.0, theirs_s=3.0, target=2.5)
    assert (faster.ratio, faster.verdict) == (3.0, "met")
    slower = Row("work", "other", ours_s=2.0, theirs_s=1.0)
    assert (slower.ratio, slower.verdict) == (0.5, "ours is slower")
    limit = Row("work", "limit", ours_s=2.0, theirs_s=1.0, target=1.5, at_most=True)
    assert (limit.ratio, limit.verdict) == (2.0, "not met")


def test_race_takes_turns():
    turns = []
    times = race({"a": lambda: turns.append("a"), "b": lambda: turns.append("b")}, rounds=3)
    assert turns == ["a", "b"] * 4  # once to warm up
    assert all(seconds >= 0 for seconds in times.values())
