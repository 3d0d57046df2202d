"""How long a page takes against executing its notebook by plain nbclient, which it contains.

The demo's report: forty years, two plans. Both begin with nothing of the report computed. Run it
by itself::

    python tests/benchmarks/bench_page.py
"""

from __future__ import annotations

import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path
from statistics import median

import nbformat
from climwin.page.given import to_text
from climwin.page.tables import Page
from nbclient import NotebookClient

import climwin as cw
from climwin.io.load import sample
from climwin.page.notebook import DATA
from climwin.page.write import render

LIMIT, ROUNDS = 2.0, 5


def report() -> cw.GardenReport:
    """The demo's report, nothing of it computed yet."""
    crop = cw.crop("cauliflower")
    plans = [cw.Plan(crop, "03-05", 6, "cold frame"), cw.Plan(crop, "04-20")]
    garden = cw.Garden("Pellbrook allotments", 46.1, 7.2, 640)
    return cw.garden_report(garden, cw.read_daily(sample()), plans=plans)


def plain() -> None:
    """What anyone would write to execute the notebook."""
    book = nbformat.reads((DATA / "page.ipynb").read_text("utf-8"), as_version=4)
    with tempfile.TemporaryDirectory() as folder:
        page = Page(report(), "C", None)
        (Path(folder) / "given.json").write_text(to_text(page), "utf-8")
        NotebookClient(book, resources={"metadata": {"path": folder}}).execute()


def seconds(way: Callable[[], object]) -> float:
    """How long a way takes. [s]"""
    start = time.perf_counter()
    way()
    return time.perf_counter() - start


def times() -> dict[str, float]:
    """Median of each way, in turn. [s]"""
    ways = {"plain": plain, "page": lambda: render(report())}
    taken: dict[str, list[float]] = {name: [] for name in ways}
    for _ in range(ROUNDS):
        for name, way in ways.items():
            taken[name].append(seconds(way))
    return {name: median(each) for name, each in taken.items()}


if __name__ == "__main__":
    took = times()
    ratio = took["page"] / took["plain"]
    print(f"a page: {ratio:.2f} times executing its notebook (limit {LIMIT:g})")
    print(f"in seconds: {took['page']:.1f} against {took['plain']:.1f}")
    sys.exit(ratio >= LIMIT)
