"""The command for many stations: a list, or a grid, in; one file, a table and a map out."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import TYPE_CHECKING

from climwin.cli.commands import chosen_crop
from climwin.io.files import atomic_write

if TYPE_CHECKING:
    import argparse

    import xarray as xr

    from climwin.batch.stations import Place

_GRIDS = (".nc", ".nc4", ".zarr")
_TOLD = 5  # failed stations that are named; the table has all


def many(chosen: argparse.Namespace) -> None:
    """The whole answer for every station of a list, or every cell of a grid."""
    from climwin.batch.run import BATCH
    from climwin.batch.run import run_stations as answer_many
    from climwin.batch.stations import FAILED
    from climwin.core.stats import FEW_YEARS
    from climwin.page.assets import plain
    from climwin.plot.regional import region

    crops = [chosen_crop(name) for name in chosen.crop]
    found = answer_many(
        _stations(chosen.stations),
        crops,
        chosen.out,
        cluster=chosen.cluster,
        batch=BATCH if chosen.batch is None else chosen.batch,
        few_years=chosen.few_years,
        progress=_progress,
    ).load()
    failed = found.isel(station=(found["status"] == FAILED).values)
    total, lost = found.sizes["station"], failed.sizes["station"]
    print(f"{total - lost} of {total} stations answered")
    few = int((found["reason"] == FEW_YEARS).sum())
    if few:
        print(f"mind: {few} of them from fewer than ten years: take their odds as a hint, no more")
    first = failed.isel(station=slice(_TOLD))
    for name, reason in zip(first["station"].values, first["reason"].values, strict=True):
        print(f"  {name}: {reason}")
    if lost > _TOLD:
        print(f"  and {lost - _TOLD} more, see the table")
    print(chosen.out, chosen.out.with_suffix(".csv"), sep="\n")
    if lost < total and {"latitude", "longitude"} <= {*found.coords}:
        for crop in crops:
            picture = chosen.out.with_name(f"{chosen.out.stem}-{plain(crop.name)}.png")
            with atomic_write(picture) as part:
                region(found, crop.name).savefig(part, dpi=150)
            print(picture)
    found.close()


def _stations(path: Path) -> xr.Dataset | list[Place]:
    from climwin.batch.stations import read_stations
    from climwin.io.grids import as_stations, open_grid

    if path.suffix not in _GRIDS:
        return read_stations(path)
    daily = open_grid(path)
    return daily if "station" in daily.dims else as_stations(daily)


def _progress(done: int, total: int) -> None:
    if sys.stderr.isatty():
        end = "\n" if done == total else ""
        print(f"\r  {done} of {total} stations", end=end, file=sys.stderr, flush=True)
