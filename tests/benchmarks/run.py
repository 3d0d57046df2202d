"""All races: climwin against what a user would write or pick instead, in one run on this machine.

Prints a table and writes it as ``results.json`` and ``table.md`` beside this file::

    python tests/benchmarks/run.py

With ``--quick`` every race runs on little, to see that it does; its ratios say nothing. With
``--labels`` only the functions of the climate run, at 1, 50 and 500 stations.
"""

from __future__ import annotations

import json
import os
import platform
import sys
from collections.abc import Iterator, Sequence
from importlib.metadata import version
from pathlib import Path
from statistics import median

sys.path.insert(0, str(Path(__file__).parent))

import bench_catalogue
import bench_growth
import bench_hindcast
import bench_kernels
import bench_many
import bench_reading
import bench_start
from race import Row

RESULTS = Path(__file__).parent / "results.json"
MODULES = (
    bench_start,
    bench_reading,
    bench_kernels,
    bench_growth,
    bench_catalogue,
    bench_hindcast,
    bench_many,
)
PACKAGES = ("numpy", "pandas", "xarray", "xclim", "dask", "scipy")


def others() -> Iterator[Row]:
    """Races that stand in files of their own."""
    import bench_page
    import bench_panel
    import bench_store
    import bench_sweep

    yield Row("sweep of 60 crops", "Python slices", 1.0, bench_sweep.ratio(), bench_sweep.LIMIT)
    gaps = bench_sweep.cost_of_gaps()
    yield Row("the same, 1 % missing", "none", gaps, 1.0, bench_sweep.GAPS_LIMIT, at_most=True)
    for name, ratio in bench_store.ratios().items():
        yield Row(f"store, {name}", "xarray", ratio, 1.0, bench_store.LIMIT, at_most=True)
    page = bench_page.times()
    limit = bench_page.LIMIT
    yield Row("a page", "running its notebook", page["page"], page["plain"], limit, at_most=True)
    for slider, each in bench_panel.latencies().items():
        work, limit = f"panel, {slider}", f"a limit of {bench_panel.LIMIT_MS} ms"
        drawn, most = median(each) / 1000, bench_panel.LIMIT_MS / 1000
        yield Row(work, limit, drawn, most, 1.0, at_most=True)


def everything(quick: bool) -> Iterator[Row]:
    for module in MODULES:
        yield from module.rows(quick)
    if not quick:
        yield from others()


def line(row: Row) -> str:
    memory = ""
    if row.ours_memory is not None and row.theirs_memory is not None:
        memory = f"{row.ours_memory:.1f} / {row.theirs_memory:.1f}"
    sign = "<=" if row.at_most else ">="
    target = "" if row.target is None else f"{sign} {row.target:g}"
    return (
        f"{row.work:42} {row.against:24} {row.ours_s:10.4f} {row.theirs_s:10.4f} "
        f"{row.ratio:9.2f} {target:>8} {row.verdict:14} {memory:>14}  {row.note}"
    ).rstrip()


def table(rows: Sequence[Row]) -> str:
    """The rows as Markdown: what is slower, and which targets are not met, stand in the table."""
    lines = [
        "| work | against | ours [s] | other [s] | ratio | ratio of CPU | target | verdict |",
        "| --- | --- | --- | --- | --- | --- | --- | --- |",
    ]
    for row in rows:
        sign = "at most" if row.at_most else "at least"
        target = "" if row.target is None else f"{sign} {row.target:g}"
        times = f"{row.ours_s:.4g} | {row.theirs_s:.4g} | {row.ratio:.3g}"
        of_cpu = "" if row.cpu_ratio is None else f"{row.cpu_ratio:.3g}"
        cells = f"{times} | {of_cpu} | {target} | {row.verdict}"
        lines.append(f"| {row.work} | {row.against} | {cells} |")
    return "\n".join(lines) + "\n"


def main(quick: bool, results: Path = RESULTS, *, only_labels: bool = False) -> None:
    rows = []
    print(
        f"{'work':42} {'against':24} {'ours [s]':>10} {'other [s]':>10} {'ratio':>9} "
        f"{'target':>8} {'':14} {'memory':>14}"
    )
    for row in bench_kernels.with_labels(quick) if only_labels else everything(quick):
        rows.append(row)
        print(line(row), flush=True)
    print(
        "\nratio: the other's time over ours, or ours over the limit's where the target is <=."
        "\nmemory: most held at once, ours / the other's, in sizes of the input."
    )
    slower = [f"{row.work} ({row.against})" for row in rows if row.verdict == "ours is slower"]
    short = [f"{row.work} ({row.against})" for row in rows if row.verdict == "not met"]
    print(f"ours is slower: {'; '.join(slower) or 'nowhere'}")
    print(f"targets not met: {'; '.join(short) or 'none'}")
    machine = {"python": platform.python_version(), "cores": os.cpu_count(), "quick": quick}
    packages = {name: version(name) for name in PACKAGES}
    told = {"machine": machine | packages, "rows": [row.told() for row in rows]}
    results.write_text(json.dumps(told, indent=1), "utf-8")
    results.with_name("table.md").write_text(table(rows), "utf-8")


if __name__ == "__main__":
    given = sys.argv[1:]
    main(quick="--quick" in given, only_labels="--labels" in given)
