"""Races: ways of doing one thing, turn by turn on the same data, as medians; and their memory."""

from __future__ import annotations

import os
import time
import tracemalloc
import warnings
from collections.abc import Callable, Mapping
from dataclasses import asdict, dataclass
from statistics import median

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")  # everyone on one thread

Way = Callable[[], object]
Ways = Mapping[str, Way]


@dataclass(frozen=True)
class Row:
    """One line of the table: ours against something, or against a limit.

    `ratio` is the other's time over ours, more is better; with `at_most` it is ours over the
    other's, less is better.
    """

    work: str
    against: str
    ours_s: float
    theirs_s: float
    target: float | None = None
    at_most: bool = False
    ours_memory: float | None = None
    theirs_memory: float | None = None
    ours_cpu_s: float | None = None
    theirs_cpu_s: float | None = None
    note: str = ""

    @property
    def ratio(self) -> float:
        ratio = self.theirs_s / self.ours_s
        return 1 / ratio if self.at_most else ratio

    @property
    def cpu_ratio(self) -> float | None:
        """The same in time of the processor, where it was taken."""
        if self.ours_cpu_s is None or self.theirs_cpu_s is None:
            return None
        ratio = self.theirs_cpu_s / self.ours_cpu_s
        return 1 / ratio if self.at_most else ratio

    @property
    def judged(self) -> float:
        """The ratio that counts: of CPU where it was taken, since other work slows the clock."""
        return self.ratio if self.cpu_ratio is None else self.cpu_ratio

    @property
    def verdict(self) -> str:
        """Whether the target is met; without one, whether ours is slower."""
        if self.target is None:
            return "ours is slower" if self.judged < 1 and not self.at_most else ""
        met = self.judged <= self.target if self.at_most else self.judged >= self.target
        return "met" if met else "not met"

    def told(self) -> dict[str, object]:
        return asdict(self) | {"ratio": self.ratio, "verdict": self.verdict}


@dataclass(frozen=True)
class Taken:
    """What a way takes: time that passes, and time of the processor. [s]"""

    wall: float
    cpu: float


def race(ways: Ways, rounds: int) -> dict[str, float]:
    """Median time of each way, one after the other in every round. [s]"""
    return {name: taken.wall for name, taken in race_on_both_clocks(ways, rounds).items()}


def race_on_both_clocks(ways: Ways, rounds: int) -> dict[str, Taken]:
    """Median times of each way, one after the other in every round; of this process alone.

    Before several rounds each way runs once uncounted, for what is only slow the first time.
    """
    times: dict[str, list[tuple[float, float]]] = {name: [] for name in ways}
    with warnings.catch_warnings(action="ignore"):
        for way in ways.values() if rounds > 1 else ():
            way()
        for _ in range(rounds):
            for name, way in ways.items():
                began, before = time.perf_counter(), time.process_time()
                way()
                taken = time.perf_counter() - began, time.process_time() - before
                times[name].append(taken)
    return {name: Taken(*map(median, zip(*each, strict=True))) for name, each in times.items()}


def memory(way: Way, of: int) -> float:
    """Most memory that a way takes at once beside its input, in sizes of the input `of`. [1]"""
    with warnings.catch_warnings(action="ignore"):
        tracemalloc.start()
        way()
        peak = tracemalloc.get_traced_memory()[1]
        tracemalloc.stop()
    return peak / of
