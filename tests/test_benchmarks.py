"""The races still run, on little. What they find is not judged here."""

import json
import math
import sys
from pathlib import Path

import pytest

sys.path.insert(0, str(Path(__file__).parent / "benchmarks"))

pytest.importorskip("xclim")
pytest.importorskip("distributed")

import bench_grid
import bench_many
import run
from alone import alone
from race import Row, race


@pytest.fixture
def few_processes(monkeypatch):
    """What runs alone does so once; from then on in this process, since to start one is dear."""
    begun = set()

    def alone_once(file, function, *given):
        if (file, function) in begun:
            module = {each.__file__: each for each in (bench_grid, bench_many)}[file]
            found = getattr(module, function)(*map(str, given))
            return {"s": 1.0, "cpu": 1.0, "MB": 1.0} | found
        if function != "run":  # which kills a worker of a cluster
            begun.add((file, function))
        return alone(file, function, *given)

    for module in (bench_grid, bench_many):
        monkeypatch.setattr(module, "alone", alone_once)


@pytest.mark.usefixtures("few_processes")
def test_every_race_runs_and_is_told(tmp_path, capsys):
    """Fresh interpreters, kernels, growth, threads, a cluster with a worker killed: all of it."""
    results = tmp_path / "results.json"
    run.main(quick=True, results=results)
    told = json.loads(results.read_text("utf-8"))
    assert told["machine"]["quick"]
    assert all(math.isfinite(row["ratio"]) and row["ratio"] > 0 for row in told["rows"])
    table = results.with_name("table.md").read_text("utf-8").splitlines()
    assert len(table) == 2 + len(told["rows"])
    assert all(row["work"] in line for row, line in zip(told["rows"], table[2:], strict=True))
    printed = capsys.readouterr().out
    assert all(row["work"] in printed for row in told["rows"])
    assert "ours is slower: " in printed
    assert "targets not met: " in printed


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
