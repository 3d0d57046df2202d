"""The whole answer for many stations: batch by batch, side by side, each kept as it comes."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from functools import partial
from pathlib import Path
from threading import Lock
from typing import TYPE_CHECKING

import numpy as np
import xarray as xr

from climwin.batch.checkpoint import PLACE, Parts
from climwin.batch.results import check_crops
from climwin.batch.stations import (
    ANSWERED,
    WANTED,
    Batch,
    Place,
    answer_batch,
    batches_of_places,
    batches_of_record,
    failed_batch,
)
from climwin.core.schema import variable
from climwin.core.seasons import day_name
from climwin.crops.model import Crop
from climwin.io.exports import without_formulas
from climwin.io.files import atomic_write

if TYPE_CHECKING:
    import pandas as pd

BATCH = 100
"""Stations answered in one go: 50 to 250 do best on threads (tests/benchmarks)."""

Progress = Callable[[int, int], None]
_Keep = Callable[[int, xr.Dataset], None]
_Task = Callable[[], xr.Dataset]


def run_stations(
    stations: xr.Dataset | Sequence[Place],
    crops: Sequence[Crop],
    out: str | Path,
    *,
    cluster: str | None = None,
    batch: int = BATCH,
    few_years: bool = False,
    progress: Progress | None = None,
) -> xr.Dataset:
    """Answer for many stations, into one file of CF variables and a table.

    Parameters
    ----------
    stations : Dataset, dims (station, time), or sequence of Place
        A record of many stations with ``tmin``, ``tmax`` and ``tmean``, best a lazy one, such as
        `grids.as_stations` makes of a grid; or a list from `read_stations`. [degC]
    crops : sequence of Crop
        What is grown.
    out : str or Path
        A new ``.nc`` file or ``.zarr`` folder. The table stands beside it as ``.csv``.
    cluster : str, optional
        Address of a ``dask.distributed`` scheduler; its workers read the stations' files, so they
        must reach them. Without one it runs on dask's threads on this machine.
    batch : int
        Stations answered in one go. Memory grows with it and with the number of workers, and little
        with the number of stations.
    few_years : bool
        Whether stations will do of which a crop's window is known in fewer than ten years; their
        ``reason`` says that they are few. Else they fail, as one garden's report does.
    progress : callable, optional
        Takes the number of stations done and of all.

    Returns
    -------
    Dataset, dims (station, ...)
        What `answers` gives, opened from `out`, and of every station its ``status`` and, if it
        failed, the ``reason``. Its seasons are the calendar years that a record touches.

    Raises
    ------
    ValueError
        If there is no station or no crop, an id is there twice, the record lacks a variable, or
        `out` cannot be written, see `Parts`.

    Notes
    -----
    What is done is kept beside `out`: called again the same way after it was stopped, the run goes
    on from there. A worker that is lost costs its batch, which is done again by another.
    """
    check_crops(crops)
    batches, places = _batches(stations, batch)
    parts = Parts(Path(out), [*_asked(stations, crops, batch), *["few years"] * few_years])
    keep = _keeper(parts, batches, progress)
    tasks = {
        n: partial(answer_batch, each, crops, few_years=few_years)
        for n, each in enumerate(batches)
        if not parts.path(n).exists()
    }
    if cluster is None:
        _on_threads(tasks, keep)
    else:
        _on_cluster(cluster, tasks, keep, batches)
    parts.join(len(batches), places)
    found = xr.open_dataset(out)
    with atomic_write(Path(out).with_suffix(".csv")) as part:
        without_formulas(table(found)).to_csv(part, index=False)
    return found


def _batches(stations: xr.Dataset | Sequence[Place], size: int) -> tuple[list[Batch], xr.Dataset]:
    """Batches of stations, and the coordinates of all."""
    if size < 1:
        msg = f"batch is a number of stations, 1 or more; got {size}."
        raise ValueError(msg)
    if isinstance(stations, xr.Dataset):
        places = _places_of_record(stations)
        batches = batches_of_record(stations, size)
    else:
        places = _places_of_list(stations)
        batches = batches_of_places(stations, size)
    names, counts = np.unique(places["station"].values.astype(str), return_counts=True)
    if not len(names) or counts.max() > 1:
        twice = ", ".join(names[counts > 1])
        msg = f"Stations need an id each, got {f'twice {twice}' if twice else 'none'}."
        raise ValueError(msg)
    return batches, places


def _places_of_record(daily: xr.Dataset) -> xr.Dataset:
    if "station" not in daily.dims or "station" not in daily.coords:
        dims = ", ".join(map(str, daily.dims))
        msg = (
            f"Many stations need a dimension 'station' with their ids, got {dims}. "
            "Lay a grid out first: climwin.io.grids.as_stations(daily)."
        )
        raise ValueError(msg)
    for name in WANTED:
        variable(daily, name)
    beside = [n for n, c in daily.coords.items() if c.dims == ("station",) and n in PLACE]
    return daily[beside].assign_coords(station=daily["station"].astype(str))


def _places_of_list(places: Sequence[Place]) -> xr.Dataset:
    stations = [place.station for place in places]
    heights = [np.nan if s.elevation is None else s.elevation for s in stations]
    columns = {n: [getattr(s, n) for s in stations] for n in ("name", "latitude", "longitude")}
    beside = {
        name: ("station", values) for name, values in {**columns, "elevation": heights}.items()
    }
    return xr.Dataset(coords={"station": [s.id for s in stations]} | beside)


def _asked(stations: xr.Dataset | Sequence[Place], crops: Sequence[Crop], batch: int) -> list[str]:
    """What a run answers, in words that differ where its parts would."""
    if isinstance(stations, xr.Dataset):
        names, days = stations["station"].values, stations["time"].values[[0, -1]]
        told = [*map(str, names), *map(str, days), str(stations.attrs)]
    else:
        told = [*map(repr, stations)]
    return [*told, *map(repr, crops), str(batch)]


# --- side by side -------------------------------------------------------------------------


def _keeper(parts: Parts, batches: Sequence[Batch], progress: Progress | None) -> _Keep:
    """Keeps a part and tells how far the run is."""
    sizes = [len(batch.names) for batch in batches]
    done = [size for n, size in enumerate(sizes) if parts.path(n).exists()]
    one_at_a_time = Lock()

    def keep(n: int, part: xr.Dataset) -> None:
        parts.write(n, part)
        with one_at_a_time:
            done.append(sizes[n])
            if progress:
                progress(sum(done), sum(sizes))

    return keep


def _on_threads(tasks: Mapping[int, _Task], keep: _Keep) -> None:
    from dask.base import compute
    from dask.delayed import delayed

    kept = [delayed(keep)(n, delayed(task)()) for n, task in tasks.items()]
    compute(*kept, scheduler="threads")  # type: ignore[no-untyped-call]


def _on_cluster(
    address: str, tasks: Mapping[int, _Task], keep: _Keep, batches: Sequence[Batch]
) -> None:
    from distributed import Client, as_completed

    with Client(address) as client:  # type: ignore[no-untyped-call]
        futures = {client.submit(task, pure=False): n for n, task in tasks.items()}
        for future in as_completed(futures):  # type: ignore[no-untyped-call]
            try:
                part = future.result()
            except Exception as error:  # the batch cost several workers: the others go on
                part = failed_batch(batches[futures[future]], error)
            keep(futures[future], part)
            future.release()


# --- the table ----------------------------------------------------------------------------


def table(found: xr.Dataset) -> pd.DataFrame:
    """What most will ask first, as a table: a row for every station, crop and window.

    Parameters
    ----------
    found : Dataset, dims (station, ...)
        From `run_stations`.

    Returns
    -------
    DataFrame
        Where the year is not split in two, the longest window alone. Odds of a freeze are even
        ones, at 0 degC; dates are days of a usual year.
    """
    told = xr.Dataset(coords=found["station"].coords)
    told["status"] = (found["status"] == ANSWERED).astype(int)
    told["reason"] = found["reason"]
    if "crop" in found.dims:
        told = told.merge(_answers_in_brief(found), compat="override")
    frame = told.to_dataframe().reset_index()
    if "has_two_windows" in frame:
        has_part = (frame["part"] == "longest") | (frame["has_two_windows"] == 1)
        frame = frame[has_part].drop(columns="has_two_windows")
    frame["status"] = frame["status"].map({1: "answered", 0: "failed"})
    for name in frame.columns:
        if str(name).endswith(("_freeze", "_first", "_last")):
            frame[name] = [day_name(day) if np.isfinite(day) else "" for day in frame[name]]
    return frame


def _answers_in_brief(found: xr.Dataset) -> xr.Dataset:
    even = found.sel(odds=0.5, threshold=0.0, drop=True)
    shorter = [f"shorter_{name}" for name in ("years", "known", "share", "low", "high")]
    brief = found[["has_two_windows", *shorter, "window_median"]].assign(
        last_spring_freeze=even["last_spring"], first_autumn_freeze=even["first_autumn"]
    )
    for way, word in zip(found["way"].values, ("sow", "raise"), strict=True):
        for name in ("first", "last", "share"):
            brief[f"{word}_{name}"] = found[f"best_{name}"].sel(way=way, drop=True)
    return brief
