"""All races: climwin against what a user would write or pick instead, in one run on this machine.

Prints a table and writes it as ``results.json`` and ``table.md`` beside this file, and the tables
of ``RESULTS.md`` in their places there::

    python tests/benchmarks/run.py

With ``--quick`` every race runs on little, to see that it does; its ratios say nothing, and
``RESULTS.md`` stays as it is. With names, such as ``labels many``, only those parts run.
"""

from __future__ import annotations

import json
import os
import platform
import sys
from collections.abc import Callable, Iterator, Sequence
from importlib.metadata import version
from pathlib import Path
from statistics import median

sys.path.insert(0, str(Path(__file__).parent))

import bench_catalogue
import bench_grid
import bench_growth
import bench_hindcast
import bench_kernels
import bench_many
import bench_reading
import bench_start
from race import Row

RESULTS = Path(__file__).parent / "results.json"
PAGE = Path(__file__).parent / "RESULTS.md"
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


PARTS: dict[str, Callable[[bool], Iterator[Row]]] = {
    "start": bench_start.rows,
    "reading": bench_reading.rows,
    "labels": bench_kernels.with_labels,
    "kernels": bench_kernels.rows,
    "growth": bench_growth.rows,
    "catalogue": bench_catalogue.rows,
    "hindcast": bench_hindcast.rows,
    "grids": bench_grid.rows,
    "station": bench_many.rows,
    "many": bench_many.ways,
    "joins": bench_many.joins,
    "others": lambda quick: iter(()) if quick else others(),
}
"""Parts of a run by name; a table of ``RESULTS.md`` stands between comments with such a name."""


def line(row: Row) -> str:
    memory = ""
    if row.ours_memory is not None and row.theirs_memory is not None:
        memory = f"{row.ours_memory:.1f} / {row.theirs_memory:.1f}"
    sign = "<=" if row.at_most else ">="
    target = "" if row.target is None else f"{sign} {row.target:g}"
    return (
        f"{row.work:42} {row.against:24} {row.ours_s:10.4f} {row.theirs_s:10.4f} "
        f"{row.judged:9.2f} {target:>8} {row.verdict:14} {memory:>14}  {row.note}"
    ).rstrip()


def table(rows: Sequence[Row]) -> str:
    """The rows as Markdown: what is slower, and which targets are not met, stand in the table."""
    lines = [
        "| work | beside | ours [s] | the other's [s] | ratio | asked | |",
        "| --- | --- | --- | --- | --- | --- | --- |",
    ]
    for row in rows:
        sign = "at most" if row.at_most else "at least"
        asked = "" if row.target is None else f"{sign} {row.target:g}"
        verdict = row.verdict if row.target is None else f"{asked}, {row.verdict}"
        ours, theirs = row.ours_cpu_s or row.ours_s, row.theirs_cpu_s or row.theirs_s
        cells = f"{ours:.3g} | {theirs:.3g} | {row.judged:.3g} | {verdict} | {row.note}"
        lines.append(f"| {row.work} | {row.against} | {cells} |")
    return "\n".join(lines) + "\n"


def write_in_place(page: str, name: str, rows: Sequence[Row]) -> str:
    """A page of results with the table of a part in its place; as it was if it has no such place.

    The place is what stands between ``<!-- NAME -->`` and ``<!-- end -->``.
    """
    begin, end = f"<!-- {name} -->\n", "<!-- end -->"
    if begin not in page:
        return page
    before, _, rest = page.partition(begin)
    return f"{before}{begin}\n{table(rows)}\n{end}{rest.partition(end)[2]}"


def main(
    quick: bool, results: Path = RESULTS, *, parts: Sequence[str] = (), page: Path | None = None
) -> None:
    """Run the parts, all if none is named, and write what they found, into `page` too if given."""
    rows: list[Row] = []
    print(
        f"{'work':42} {'against':24} {'ours [s]':>10} {'other [s]':>10} {'ratio':>9} "
        f"{'target':>8} {'':14} {'memory':>14}"
    )
    for name in parts or PARTS:
        of_part = []
        for row in PARTS[name](quick):
            of_part.append(row)
            print(line(row), flush=True)
        rows += of_part
        if page is not None:
            text = write_in_place(page.read_text("utf-8"), name, of_part)
            page.write_text(text, "utf-8")
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
    quick = "--quick" in given
    main(quick, parts=[name for name in PARTS if name in given], page=None if quick else PAGE)
