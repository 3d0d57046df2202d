"""Grids of cells in two layouts: what reading and each question cost, memory, and dask's graph.

A wide layout holds a year of many cells in a chunk, as grids are published; a tall one all years of
few cells. Each runs in a process of its own.
"""

from __future__ import annotations

import time
from collections.abc import Callable, Iterator
from pathlib import Path
from tempfile import TemporaryDirectory

import numpy as np
import xarray as xr
from alone import Told, alone, tell
from race import Row

from climwin.batch.results import station_results
from climwin.batch.run import usual_batch
from climwin.batch.stations import batches_of_record, blocks_of_record, own_part, read_block
from climwin.climate.freeze import freeze_dates, freeze_odds
from climwin.climate.percentiles import day_bands
from climwin.climate.windows import usable_windows
from climwin.core.schema import VARIABLES
from climwin.crops.catalogue import crop
from climwin.crops.model import Limits
from climwin.io.grids import as_stations, open_grid

LAYOUTS = {"wide": (365, 60, 60), "tall": (36_500, 12, 12)}
"""Days, rows and columns of a chunk, at most."""
YEARS = 30
ASKED_CELLS, ASKED_S, ASKED_MB = 250_000, 1200.0, 1500
"""Cells of a grid of so many years, the CPU that was asked for it, and the most memory."""
BAND = Limits(low_c=7.2, high_c=21.0, source="example")
QUESTIONS: dict[str, Callable[[xr.Dataset], xr.Dataset]] = {
    "day bands": lambda grid: day_bands(grid["tmean"]),
    "freeze dates": freeze_dates,
    "freeze odds": freeze_odds,
    "windows of a band": lambda grid: usable_windows(grid, BAND),
}
"""What is asked of a whole grid without the growing model; a grid has no gaps to draw."""


def write(folder: str, *sides: str) -> None:
    """Write grids of these sides in both layouts."""
    for layout in LAYOUTS:
        for side in sides:
            _write(Path(folder) / f"{layout}{side}.zarr", int(side), layout)


def _write(path: Path, cells: int, layout: str) -> None:
    """Write an invented square grid without gaps as Zarr, in tenths of degC."""
    dates = np.arange("1991", f"{1991 + YEARS}", dtype="datetime64[D]")
    rng, day = np.random.default_rng(0), np.arange(len(dates))
    spells = 2.5 * np.convolve(rng.normal(size=len(day) + 30), 0.75 ** np.arange(31), "valid")
    middle = 9 - 10 * np.cos(2 * np.pi * (day - 20) / 365.25) + spells
    half = rng.uniform(2, 8, len(day))
    colder = np.linspace(0, 8, cells)[:, None] + rng.uniform(0, 1, (cells, cells))
    grids = {"tmin": middle - half, "tmax": middle + half}
    daily = {
        name: np.round(values[:, None, None] - colder, 1).astype("float32")
        for name, values in grids.items()
    }
    daily["tmean"] = (daily["tmin"] + daily["tmax"]) / 2
    dims, shape = ("time", "lat", "lon"), (len(day), cells, cells)
    chunks = tuple(map(min, LAYOUTS[layout], shape))
    grid = xr.Dataset(
        {name: (dims, values, VARIABLES[name]._asdict()) for name, values in daily.items()},
        coords={
            "time": dates.astype("datetime64[s]"),
            "lat": ("lat", np.linspace(44, 50, cells), {"units": "degrees_north"}),
            "lon": ("lon", np.linspace(5, 11, cells), {"units": "degrees_east"}),
        },
        attrs={"title": "an invented grid", "source": "invented"},
    )
    grid.to_zarr(path, zarr_format=2, encoding={name: {"chunks": chunks} for name in daily})


def read(path: str) -> Told:
    """Read all cells once, as a run does; the CPU of that alone, and the tasks of a variable."""
    cells = as_stations(open_grid(path))
    size = usual_batch(cells.sizes["station"])
    batches = batches_of_record(cells, size)
    blocks = blocks_of_record(cells, size)
    named = cells.assign_coords(station=cells["station"].astype(str))
    began = time.process_time()
    for block in blocks:
        part = own_part(named, block.start * size, block.stop * size)
        found = read_block(part, [batches[number] for number in block])
        if isinstance(found, Exception):
            raise found
    cpu = time.process_time() - began
    return {"cpu": cpu, "tasks": len(dict(cells["tmin"].__dask_graph__())), "blocks": len(blocks)}


def ask(path: str, question: str) -> Told:
    """Put one question to all cells; the CPU of a cell [s], and the tasks of the answer."""
    grid = open_grid(path)
    began = time.process_time()
    found = QUESTIONS[question](grid)
    tasks = len(dict(found.__dask_graph__()))
    found.load()
    each = (time.process_time() - began) / (grid.sizes["latitude"] * grid.sizes["longitude"])
    return {"each": each, "tasks": tasks}


def answer(path: str, count: str) -> Told:
    """Answer some cells of a grid, one crop; the CPU of one. [s]"""
    some = as_stations(open_grid(path)).isel(station=slice(int(count))).load()
    crops = [crop("pea")]
    station_results(some.isel(station=[0]), crops)  # what is only slow once is not counted
    began = time.process_time()
    station_results(some, crops)
    return {"each": (time.process_time() - began) / int(count)}


def rows(quick: bool = False) -> Iterator[Row]:
    """Reading both layouts, a grid of half the side for the slope, questions, and all answers."""
    side, some = (4, 2) if quick else (60, 20)
    # Where it is only to be seen that it runs, one question of one layout does.
    asked = {"wide": [*QUESTIONS], "tall": [*QUESTIONS]} if not quick else {"tall": ["freeze odds"]}
    with TemporaryDirectory() as folder:
        alone(__file__, "write", folder, side // 2, side)
        for layout in LAYOUTS:
            told = {}
            for each in (side // 2, side):
                path = Path(folder) / f"{layout}{each}.zarr"
                told[each] = alone(__file__, "read", path)
            yield _reading(layout, side, told[side // 2], told[side])
            for question in asked.get(layout, ()):
                of_one = alone(__file__, "ask", path, question)
                tasks = f", {of_one['tasks']:.0f} tasks for {side} by {side} cells"
                yield _asked(f"{question}, a cell of {YEARS} years, {layout}", of_one, tasks)
        of_one = alone(__file__, "answer", path, some)
        yield _asked(f"all answers, one crop, a cell of {YEARS} years", of_one)


def _asked(work: str, of_one: Told, more: str = "") -> Row:
    minutes = of_one["each"] * ASKED_CELLS / 60
    return Row(
        work,
        f"{ASKED_S / 60:.0f} min for {ASKED_CELLS} cells",
        of_one["each"],
        ASKED_S / ASKED_CELLS,
        1.0,
        at_most=True,
        note=f"{minutes:.0f} min of CPU for all; {of_one['MB']:.0f} MB at most{more}",
    )


def _reading(layout: str, side: int, few: Told, many: Told) -> Row:
    return Row(
        f"reading {side} by {side} cells of {YEARS} years, {layout}",
        "a quarter of them, four times",
        many["cpu"],
        4 * few["cpu"],
        1.2,
        at_most=True,
        note=(
            f"{many['MB']:.0f} MB at most ({ASKED_MB} asked), {many['blocks']:.0f} blocks, "
            f"{many['tasks']:.0f} tasks a variable, {few['tasks']:.0f} for a quarter"
        ),
    )


if __name__ == "__main__":
    tell({"write": write, "read": read, "ask": ask, "answer": answer})
