"""How long a page takes against executing its notebook by plain nbclient.

The demo's report: forty years, two plans. Each begins in a process of its own, with nothing of the
report computed. Run it by itself::

    python tests/benchmarks/bench_page.py
    python tests/benchmarks/bench_page.py today

The second says what today's climate adds to a page, in seconds of CPU: the same page is made with
and without it, in turn.
"""

from __future__ import annotations

import resource
import subprocess
import sys
import tempfile
import time
from pathlib import Path
from statistics import median
from unittest.mock import patch

import climwin as cw

LIMIT, ROUNDS = 1.0, 3


def report() -> cw.GardenReport:
    """The demo's report, nothing of it computed yet."""
    crop = cw.crop("cauliflower")
    plans = [cw.Plan(crop, "03-05", 6, "cold frame"), cw.Plan(crop, "04-20")]
    garden = cw.Garden("Pellbrook allotments", 46.1, 7.2, 640)
    return cw.garden_report(garden, cw.read_daily(cw.sample()), plans=plans)


def plain(folder: Path) -> None:
    """What anyone would write to execute the notebook."""
    import nbformat
    from nbclient import NotebookClient

    book = nbformat.read(folder / "page.ipynb", as_version=4)
    NotebookClient(book, resources={"metadata": {"path": str(folder)}}).execute()


def page(folder: Path) -> None:
    """The page, from the record on."""
    cw.write_page(report(), folder / "again.html")


def without_today(folder: Path) -> None:
    """The page, as if the record could not be moved to today's level."""
    from climwin.report import garden
    from climwin.widgets import payload

    with (
        patch.object(garden, "todays_climate", lambda daily: daily),
        patch.object(payload, "todays_climate", lambda daily: daily),
    ):
        cw.write_page(report(), folder / "without.html")


def cpu_seconds(way: str, folder: Path) -> float:
    """CPU that a way takes in a process of its own, its imports with it. [s]"""
    before = resource.getrusage(resource.RUSAGE_CHILDREN).ru_utime
    subprocess.run([sys.executable, __file__, way, str(folder)], check=True)
    return resource.getrusage(resource.RUSAGE_CHILDREN).ru_utime - before


def cost_of_today() -> dict[str, float]:
    """Least CPU of a page with today's climate and without, in turn. [s]"""
    taken: dict[str, list[float]] = {"page": [], "without_today": []}
    with tempfile.TemporaryDirectory() as folder:
        for _ in range(ROUNDS):
            for way, each in taken.items():
                each.append(cpu_seconds(way, Path(folder)))
    return {way: min(each) for way, each in taken.items()}


def seconds(way: str, folder: Path) -> float:
    """How long a way takes in a process of its own. [s]"""
    start = time.perf_counter()
    subprocess.run([sys.executable, __file__, way, str(folder)], check=True)
    return time.perf_counter() - start


def times() -> dict[str, float]:
    """Median of each way, in turn. [s]"""
    taken: dict[str, list[float]] = {"plain": [], "page": []}
    with tempfile.TemporaryDirectory() as folder:
        cw.write_page(report(), Path(folder) / "page.html", notebook=True)
        for _ in range(ROUNDS):
            for way, each in taken.items():
                each.append(seconds(way, Path(folder)))
    return {way: median(each) for way, each in taken.items()}


WAYS = {"plain": plain, "page": page, "without_today": without_today}

if __name__ == "__main__":
    if sys.argv[1:] == ["today"]:
        cost = cost_of_today()
        print(
            f"a page: {cost['page']:.1f} s of CPU, {cost['without_today']:.1f} s without today's "
            f"climate, {cost['page'] / cost['without_today']:.2f} times as much"
        )
        sys.exit()
    if len(sys.argv) > 2:
        WAYS[sys.argv[1]](Path(sys.argv[2]))
        sys.exit()
    took = times()
    ratio = took["page"] / took["plain"]
    print(f"a page: {ratio:.2f} times executing its notebook (limit {LIMIT:g})")
    print(f"in seconds: {took['page']:.1f} against {took['plain']:.1f}")
    sys.exit(ratio >= LIMIT)
