"""Compute results for many stations in parallel batches, each saved when it is done."""

from __future__ import annotations

import warnings
from collections.abc import Callable, Sequence
from concurrent.futures import ThreadPoolExecutor
from functools import partial
from pathlib import Path
from threading import Lock
from typing import TYPE_CHECKING, NamedTuple

import numpy as np
import xarray as xr

from climwin.batch.checkpoint import Checkpoint
from climwin.batch.results import STATION_COORDINATES, check_crops
from climwin.batch.stations import (
    ANSWERED,
    WANTED,
    Batch,
    StationRecord,
    batch_of_block,
    batch_results,
    batches_of_list,
    batches_of_record,
    blocks_of_record,
    failed_batch,
    own_part,
    read_block,
)
from climwin.climate.level import CLIMATES
from climwin.core.errors import InputError, Parameter
from climwin.core.schema import check_choice, variable
from climwin.core.seasons import day_name
from climwin.crops.model import Crop
from climwin.io.exports import without_formulas
from climwin.io.files import atomic_write

if TYPE_CHECKING:
    import pandas as pd

BATCH_SIZE, LEAST_BATCH, LEAST_BATCHES = 100, 10, 16
"""Most stations of a batch: more take more memory, and are no faster. Of few stations a batch has
fewer, so that there are enough batches for all cores, but not so few that labels take long."""
WORTH_WORKERS = 40
"""Stations from which processes pay: starting them takes as long as ten stations do."""
_WORKER_BYTES = 1e9  # what a process takes, at most

_ROWS_AT_ONCE = 1000  # stations of the table that are in memory together

Progress = Callable[[int, int], None]
_Save = Callable[[int, xr.Dataset], None]
_Answer = Callable[[Batch], xr.Dataset]


def run_stations(
    stations: xr.Dataset | Sequence[StationRecord],
    crops: Sequence[Crop],
    out: str | Path,
    *,
    workers: int | None = None,
    cluster: str | None = None,
    batch_size: int | None = None,
    few_years: bool = False,
    climate: str = "record",
    progress: Progress | None = None,
) -> xr.Dataset:
    """Compute the results for many stations and write them to one CF file and a table.

    Parameters
    ----------
    stations : Dataset, dims (station, time), or sequence of StationRecord
        A record of many stations with ``tmin``, ``tmax`` and ``tmean`` [degC] and the ``latitude``
        of each, preferably lazy, such as `grids.as_stations` makes from a grid; or a list from
        `read_stations`.
    crops : sequence of Crop
        What is grown.
    out : str or Path
        A new ``.nc`` file or ``.zarr`` folder. The table is written beside it as ``.csv``.
    workers : int, optional
        Processes on this machine, of up to 1 GB each, that share the batches. The default is dask's
        threads in this process, which gain little: many small steps wait for Python itself. In a
        script, processes need the call to stand under ``if __name__ == "__main__":``.
    cluster : str, optional
        Address of a ``dask.distributed`` scheduler, whose workers must be able to read the
        stations' files, in place of `workers`.
    batch_size : int, optional
        Stations per batch. Memory grows with it and with the number of workers, but little with the
        number of stations. The default is 100, or fewer where there are few stations.
    few_years : bool
        Whether to allow stations with fewer than ten known years of a crop's window; their
        ``reason`` says so. Otherwise they fail, as a garden's report does.
    climate : {"record", "today"}
        The years as they were, or shifted to today's level, see `todays_climate`.
    progress : callable, optional
        Called with the number of stations done and the total.

    Returns
    -------
    Dataset, dims (station, ...)
        What `station_results` gives, opened from `out`, with the ``status`` of every station and,
        if it failed, the ``reason``. Its seasons are the calendar years that a record touches.

    Raises
    ------
    ValueError
        If there is no station or no crop, an id occurs twice, the record lacks a variable, both
        `workers` and `cluster` are given, or `out` cannot be written, see `Checkpoint`.

    Notes
    -----
    Finished batches are saved beside `out`. If the run is stopped, call it again with the same
    arguments to resume it. Batches whose files were changed in the meantime are computed again,
    with a warning. The batch of a lost worker is computed again by another.

    Examples
    --------
    >>> import climwin as cw
    >>> stations = cw.read_stations("stations.csv")  # doctest: +SKIP
    >>> results = cw.run_stations(stations, [cw.crop("pea")], "region.nc")  # doctest: +SKIP
    """
    check_crops(crops)
    check_choice("climate", climate, CLIMATES)
    _check_workers(workers, cluster)
    batch_size = usual_batch(count_stations(stations)) if batch_size is None else batch_size
    batches, places = _batches(stations, batch_size)
    run = [*_fingerprint(stations, crops, batch_size), f"few years: {few_years}", climate]
    checkpoint = Checkpoint(Path(out), run)
    contents = [each.content() for each in batches]
    there = [n for n in range(len(batches)) if checkpoint.path(n).exists()]
    kept = [n for n in there if checkpoint.has(n, contents[n])]
    if len(kept) < len(there):
        again = sum(len(batches[n].names) for n in set(there) - {*kept})
        text = (
            "Records were changed since this run was stopped. Their batches are computed again, "
            f"{'1 station' if again == 1 else f'{again} stations'} in all."
        )
        warnings.warn(text, stacklevel=2)
    save = _saver(checkpoint, batches, contents, kept, progress)

    def answer(batch: Batch) -> xr.Dataset:
        return batch_results(batch, crops, few_years=few_years, climate=climate)

    tasks = _tasks(stations, batches, batch_size, [n for n in range(len(batches)) if n not in kept])
    if cluster is not None:
        _on_cluster(cluster, tasks, answer, save)
    elif workers is not None and tasks:
        _on_workers(workers, tasks, answer, save)
    else:
        _on_threads(tasks, answer, save)
    checkpoint.join(len(batches), places)
    results = xr.open_dataset(out)
    _write_table(results, Path(out).with_suffix(".csv"))
    return results


def count_stations(stations: xr.Dataset | Sequence[StationRecord]) -> int:
    """Stations of a record or of a list; 0 of a record that is of one place."""
    if isinstance(stations, xr.Dataset):
        return stations.sizes.get("station", 0)
    return len(stations)


def usual_batch(count: int) -> int:
    """Stations of a batch, of so many in all."""
    return min(max(-(-count // LEAST_BATCHES), LEAST_BATCH), BATCH_SIZE)


def usual_workers(count: int) -> int | None:
    """Processes that pay for so many stations, None where threads do.

    One for each core, as far as the memory goes, of which one part is left for all else. Cores and
    memory are those that a container may use.
    """
    if count <= WORTH_WORKERS:
        return None
    from dask.system import CPU_COUNT
    from distributed.system import MEMORY_LIMIT

    most = min(CPU_COUNT, int(MEMORY_LIMIT / _WORKER_BYTES) - 1)
    return most if most > 1 else None


def _check_workers(workers: int | None, cluster: str | None) -> None:
    """Refuse fewer processes than one, and processes beside a cluster."""
    if workers is not None and workers < 1:
        msg = f" is a number of processes, 1 or more; got {workers}."
        raise InputError(Parameter("workers"), msg)
    if workers is not None and cluster is not None:
        msg = " are processes on this machine, and a cluster has its own. Give one of the two."
        raise InputError(Parameter("workers"), msg)


def _write_table(results: xr.Dataset, path: Path) -> None:
    """Write the table of the main results, of so many stations at a time that memory stays flat."""
    with atomic_write(path) as part, part.open("w", encoding="utf-8", newline="") as file:
        for since in range(0, results.sizes["station"], _ROWS_AT_ONCE):
            some = results.isel(station=slice(since, since + _ROWS_AT_ONCE))
            without_formulas(station_table(some)).to_csv(file, index=False, header=since == 0)


def _batches(
    stations: xr.Dataset | Sequence[StationRecord], size: int
) -> tuple[list[Batch], xr.Dataset]:
    """Batches of stations, and the coordinates of all."""
    if size < 1:
        msg = f" is a number of stations, 1 or more; got {size}."
        raise InputError(Parameter("batch_size"), msg)
    if isinstance(stations, xr.Dataset):
        places = _coordinates_of_record(stations)
        batches = batches_of_record(stations, size)
    else:
        places = _coordinates_of_list(stations)
        batches = batches_of_list(stations, size)
    names, counts = np.unique(places["station"].values.astype(str), return_counts=True)
    if not len(names) or counts.max() > 1:
        twice = ", ".join(names[counts > 1])
        msg = f"Stations need an id each, got {f'twice {twice}' if twice else 'none'}."
        raise InputError(msg, parameter="stations")
    return batches, places


def _coordinates_of_record(daily: xr.Dataset) -> xr.Dataset:
    """Coordinates of the stations of a record, which must have an id and a latitude."""
    if "station" not in daily.dims or "station" not in daily.coords:
        dims = ", ".join(map(str, daily.dims))
        msg = (
            f"Many stations need a dimension 'station' with their ids, got {dims}. "
            "Convert a grid first, see climwin.io.grids.as_stations."
        )
        raise InputError(msg, parameter="stations")
    for name in WANTED:
        variable(daily, name)
    if not {"latitude"} & {*daily.coords, *daily.attrs}:
        msg = (
            "Many stations need the latitude of each, in degrees north, for the sun and the length "
            "of the day. Give it as a coordinate 'latitude' beside the stations."
        )
        raise InputError(msg, parameter="stations")
    beside = [
        n for n, c in daily.coords.items() if c.dims == ("station",) and n in STATION_COORDINATES
    ]
    return daily[beside].assign_coords(station=daily["station"].astype(str))


def _coordinates_of_list(records: Sequence[StationRecord]) -> xr.Dataset:
    """Coordinates of the stations of a list."""
    stations = [record.station for record in records]
    heights = [np.nan if s.elevation is None else s.elevation for s in stations]
    columns = {n: [getattr(s, n) for s in stations] for n in ("name", "latitude", "longitude")}
    beside = {
        name: ("station", values) for name, values in {**columns, "elevation": heights}.items()
    }
    return xr.Dataset(coords={"station": [s.id for s in stations]} | beside)


def _fingerprint(
    stations: xr.Dataset | Sequence[StationRecord], crops: Sequence[Crop], batch_size: int
) -> list[str]:
    """Texts that identify a run: they differ if the results of its batches would."""
    if isinstance(stations, xr.Dataset):
        names, days = stations["station"].values, stations["time"].values[[0, -1]]
        texts = [*map(str, names), *map(str, days), str(stations.attrs)]
    else:
        texts = [*map(repr, stations)]
    return [*texts, *map(repr, crops), str(batch_size)]


# --- in parallel --------------------------------------------------------------------------


def _saver(
    checkpoint: Checkpoint,
    batches: Sequence[Batch],
    contents: Sequence[str],
    kept: Sequence[int],
    progress: Progress | None,
) -> _Save:
    """Make a function that saves a part and reports progress; some parts exist already."""
    sizes = [len(batch.names) for batch in batches]
    done = [sizes[n] for n in kept]
    one_at_a_time = Lock()

    def save(n: int, part: xr.Dataset) -> None:
        checkpoint.write(n, part, contents[n])
        with one_at_a_time:
            done.append(sizes[n])
            if progress:
                progress(sum(done), sum(sizes))

    return save


class _Task(NamedTuple):
    """Batches by number, and how the block is read that they share, if they share one."""

    batches: dict[int, Batch]
    read: Callable[[], xr.Dataset | Exception] | None


def _tasks(
    stations: xr.Dataset | Sequence[StationRecord],
    batches: Sequence[Batch],
    size: int,
    left: Sequence[int],
) -> list[_Task]:
    """The batches that are left to do, those together that lie in the same chunks."""
    if not isinstance(stations, xr.Dataset):
        return [_Task({n: batches[n]}, None) for n in left]
    named = stations.assign_coords(station=stations["station"].astype(str))
    tasks = []
    for block in blocks_of_record(stations, size):
        own = {n: batches[n] for n in block if n in left}
        if len(own) > 1:
            part = own_part(named, min(own) * size, (max(own) + 1) * size)
            tasks.append(_Task(own, partial(read_block, part, [*own.values()])))
        elif own:
            tasks.append(_Task(own, None))
    return tasks


def _answer_of_block(batch: Batch, answer: _Answer, block: xr.Dataset | Exception) -> xr.Dataset:
    return answer(batch_of_block(batch, block))


def _on_threads(tasks: Sequence[_Task], answer: _Answer, save: _Save) -> None:
    """Do the tasks on dask's threads in this process."""
    import dask
    from dask.base import compute
    from dask.delayed import delayed
    from dask.system import CPU_COUNT

    saved = []
    for task in tasks:
        if task.read is None:
            answers = {n: delayed(partial(answer, each))() for n, each in task.batches.items()}
        else:
            block = delayed(task.read)()
            answers = {
                n: delayed(partial(_answer_of_block, each, answer))(block)
                for n, each in task.batches.items()
            }
        saved += [delayed(save)(n, each) for n, each in answers.items()]
    # Threads of our own: where one fails or the run is stopped, the others end before this returns,
    # so that none of them still writes while the run is resumed.
    with ThreadPoolExecutor(dask.config.get("num_workers", None) or CPU_COUNT) as threads:
        compute(*saved, scheduler="threads", pool=threads)  # type: ignore[no-untyped-call]


def _on_workers(count: int, tasks: Sequence[_Task], answer: _Answer, save: _Save) -> None:
    """Do the tasks on so many processes of this machine."""
    from distributed import LocalCluster

    # One thread each, since threads wait for each other; no page that shows their work.
    cluster = LocalCluster(  # type: ignore[no-untyped-call]
        n_workers=count, threads_per_worker=1, processes=True, dashboard_address=":0"
    )
    with cluster:
        _on_cluster(cluster.scheduler_address, tasks, answer, save)


def _on_cluster(address: str, tasks: Sequence[_Task], answer: _Answer, save: _Save) -> None:
    """Do the tasks on a cluster; a batch that kills its workers fails alone."""
    from distributed import Client, as_completed

    # A client of an address without a port tries to close for a minute, and says so with a
    # traceback when it is thrown away.
    if not address.rpartition(":")[2].strip("/").isdigit():
        msg = f" must be an address with its port, such as tcp://127.0.0.1:8786, got {address!r}."
        raise InputError(Parameter("cluster"), msg)
    try:
        # Not as the default client: one that fails to start would remain the default, and this
        # process would send all later computations to a scheduler that never answers.
        client = Client(address, set_as_default=False)  # type: ignore[no-untyped-call]
    except (ValueError, OSError) as error:
        msg = f" has no scheduler at {address!r} that answers: {error}"
        raise InputError(Parameter("cluster"), msg) from error
    with client:
        futures = {}
        for task in tasks:
            block = client.submit(task.read, pure=False) if task.read else None
            for n, batch in task.batches.items():
                if block is None:
                    future = client.submit(partial(answer, batch), pure=False)
                else:
                    of_block = partial(_answer_of_block, batch, answer)
                    future = client.submit(of_block, block, pure=False)
                futures[future] = n, batch
            del block  # the batches keep it as long as they need it
        for future in as_completed(futures, loop=client.loop):  # type: ignore[no-untyped-call]
            n, batch = futures[future]
            try:
                part = future.result()
            except Exception as error:  # the batch killed several workers: the others go on
                part = failed_batch(batch, error)
            save(n, part)
            future.release()


# --- the table ----------------------------------------------------------------------------


def station_table(results: xr.Dataset) -> pd.DataFrame:
    """Make a table of the main results: a row for every station, crop and window.

    Parameters
    ----------
    results : Dataset, dims (station, ...)
        From `run_stations`.

    Returns
    -------
    DataFrame
        If the year is not split in two, only the longest window. Freeze dates are those with odds
        of one half, at 0 degC; dates are days of a usual year.

    Examples
    --------
    >>> import climwin as cw
    >>> cw.station_table(results)  # doctest: +SKIP
    """
    brief = xr.Dataset(coords=results["station"].coords)
    brief["status"] = (results["status"] == ANSWERED).astype(int)
    brief["reason"] = results["reason"]
    if "crop" in results.dims:
        brief = brief.merge(_in_brief(results), compat="override")
    frame = brief.to_dataframe().reset_index()
    if "has_two_windows" in frame:
        has_part = (frame["part"] == "longest") | (frame["has_two_windows"] == 1)
        frame = frame[has_part].drop(columns="has_two_windows")
    frame["status"] = frame["status"].map({1: "answered", 0: "failed"})
    for name in frame.columns:
        if str(name).endswith(("_freeze", "_first", "_last")):
            frame[name] = [day_name(day) if np.isfinite(day) else "" for day in frame[name]]
    return frame


def _in_brief(results: xr.Dataset) -> xr.Dataset:
    """The main results, without what a table has no room for."""
    even = results.sel(odds=0.5, threshold=0.0, drop=True)
    shorter = [f"shorter_{name}" for name in ("years", "known", "share", "low", "high")]
    brief = results[["has_two_windows", *shorter, "need_days", "window_median"]].assign(
        last_spring_freeze=even["last_spring"], first_autumn_freeze=even["first_autumn"]
    )
    for way, word in zip(results["way"].values, ("sow", "raise"), strict=True):
        for name in ("first", "last", "share", "good_share"):
            brief[f"{word}_{name}"] = results[f"best_{name}"].sel(way=way, drop=True)
    return brief
