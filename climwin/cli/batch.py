"""The command ``batch``: results for many stations, as one file, a table and maps."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from climwin.cli.extras import check_installed
from climwin.cli.growing import chosen_crop
from climwin.cli.notes import caution, count_progress
from climwin.cli.options import argument, option, whole_number
from climwin.cli.reading import climate_option, few_years_option
from climwin.cli.writing import check_outputs, save_picture
from climwin.core.errors import InputError

if TYPE_CHECKING:
    import xarray as xr

    from climwin.batch.stations import StationRecord

_GRIDS = (".nc", ".nc4", ".zarr")
_NOT_ASKED = (
    "not checked for so many records: whether a station was moved, whether it has grown warmer, "
    "and whether a record ended long ago. Check one with `climwin inspect`"
)
_NEEDED = ("cf_xarray", "dask", "distributed", "zarr")
_SHOWN = 5  # failed stations that are named; the table has all


@dataclass(frozen=True)
class BatchOptions:
    """Stations and crops, and how the work is shared out."""

    stations: Path = argument(
        "STATIONS", "a CSV list of stations and files, .nc or .zarr", convert=Path
    )
    crops: tuple[str, ...] = option(
        "--crop",
        "a crop's name, or your own crop.toml; may be repeated",
        required=True,
        repeated=True,
        parameter="crop",
    )
    few_years: bool = few_years_option()
    climate: str = climate_option()
    workers: int | None = option(
        "--workers",
        "processes to share the work among (for more than 40 stations, one a core and 1 GB)",
        convert=whole_number,
        metavar="N",
    )
    cluster: str | None = option(
        "--cluster", "address of a dask scheduler (this machine)", metavar="ADDRESS"
    )
    batch_size: int | None = option(
        "--batch-size",
        "stations at a time; fewer take less memory (10 to 100)",
        convert=whole_number,
        metavar="N",
    )
    out: Path = option(
        "--out", "file to write, .nc or .zarr (%(default)s)", convert=Path, default=Path("batch.nc")
    )


def batch(options: BatchOptions) -> None:
    """Results for every station of a list, or every cell of a grid."""
    check_installed("Work on many stations", _NEEDED, "many")
    from climwin.batch.run import count_stations, run_stations, usual_workers
    from climwin.page.assets import plain
    from climwin.plot.regional import region

    crops = [chosen_crop(name) for name in options.crops]
    table = _named(options.out).with_suffix(".csv")
    pictures = {
        crop.name: options.out.with_name(f"{options.out.stem}-{plain(crop.name)}.png")
        for crop in crops
    }
    # No result is overwritten, whoever wrote it: it may have taken hours.
    inputs = [options.stations, *map(Path, options.crops)]
    check_outputs([table, *pictures.values()], inputs=inputs, force=None)
    stations = _stations(options.stations)
    workers = options.workers
    if workers is None and options.cluster is None:
        workers = usual_workers(count_stations(stations))
    results = run_stations(
        stations,
        crops,
        options.out,
        workers=workers,
        cluster=options.cluster,
        batch_size=options.batch_size,
        few_years=options.few_years,
        climate=options.climate,
        progress=lambda done, total: count_progress(done, total, "stations"),
    )
    answered = _say_results(results)
    print(options.out, table, sep="\n")
    if answered and {"latitude", "longitude"} <= {*results.coords}:
        for name, picture in pictures.items():
            save_picture(region(results, name), picture)
            print(picture)
    results.close()


def _say_results(results: xr.Dataset) -> int:
    """Print how many stations have results, why others have none, and doubts; return how many."""
    from climwin.batch.stations import FAILED, TOO_FEW_YEARS
    from climwin.core.stats import FEW_YEARS

    failed = results.isel(station=(results["status"] == FAILED).values)
    total, lost = results.sizes["station"], failed.sizes["station"]
    print(f"results for {total - lost} of {total} stations")
    # A record may be in doubt as well: then the reason begins with that.
    few = sum(str(reason).endswith(FEW_YEARS) for reason in results["reason"].values)
    if few:
        caution([f"{few} of them from fewer than ten years: take their odds as a hint, no more"])
    shown = failed.isel(station=slice(_SHOWN))
    for name, reason in zip(shown["station"].values, shown["reason"].values, strict=True):
        print(f"  {name}: {reason}")
    if lost > _SHOWN:
        print(f"  and {lost - _SHOWN} more, see the table")
    _say_doubts(results)
    if any(str(reason).startswith(TOO_FEW_YEARS) for reason in failed["reason"].values):
        print("Add --few-years to have answers from fewer than ten years all the same.")
    return total - lost


def _named(out: Path) -> Path:
    """The result's file, unless it has no name, as ``.`` has none."""
    if not out.name:
        msg = f"{out} is a folder. Give the name of a file."
        raise InputError(msg, parameter="out")
    return out


def _say_doubts(results: xr.Dataset) -> None:
    """Print doubts about stations that have results, and what was checked for none."""
    from climwin.batch.stations import ANSWERED
    from climwin.core.formatting import counted
    from climwin.core.stats import FEW_YEARS

    answered = results.isel(station=(results["status"] == ANSWERED).values)
    doubts = {
        name: reason.removesuffix(FEW_YEARS).strip()
        for name, reason in zip(answered["station"].values, answered["reason"].values, strict=True)
    }
    doubtful = [(name, text) for name, text in doubts.items() if text]
    caution(f"{name}: {text}" for name, text in doubtful[:_SHOWN])
    if len(doubtful) > _SHOWN:
        more = counted(len(doubtful) - _SHOWN, "station")
        caution([f"the records of {more} more are in doubt too: see the table's column 'reason'"])
    if answered.sizes["station"]:
        caution([_NOT_ASKED])


def _stations(path: Path) -> xr.Dataset | list[StationRecord]:
    """The list of stations, or the stations or cells of a grid."""
    from climwin.batch.stations import read_stations
    from climwin.io.grids import as_stations, open_grid

    if path.suffix not in _GRIDS:
        return read_stations(path)
    daily = open_grid(path)
    return daily if "station" in daily.dims else as_stations(daily)
