"""Checkpoint of a long run: its parts are saved beside the result, and joined at the end."""

from __future__ import annotations

import hashlib
import shutil
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import numpy as np
import xarray as xr

from climwin.batch.results import STATION_COORDINATES
from climwin.batch.stations import ANSWERED, FAILED, fill_values
from climwin.core.errors import InputError
from climwin.io.files import atomic_write

FORMS = (".nc", ".zarr")
"""Endings of a result: a netCDF file or a Zarr store."""

_STATUS = {
    "long_name": "whether the station has results",
    "flag_values": np.array([ANSWERED, FAILED], dtype=np.int8),
    "flag_meanings": "answered failed",
}
_REASON = "why it has no results, or what to mind"
_DATES = {"units": "days since 1970-01-01", "dtype": "int32", "_FillValue": -(2**31)}


class Checkpoint:
    """The parts of one run, saved in the folder ``<out>.parts``.

    Parameters
    ----------
    out : Path
        The result, which must not exist yet.
    run : sequence of str
        Texts that identify the run: parts of another one are refused.

    Raises
    ------
    ValueError
        If `out` or its table already exists, if `out` has none of the endings `FORMS`, or if the
        parts beside it are of another run.
    """

    def __init__(self, out: Path, run: Sequence[str]) -> None:
        if out.suffix not in FORMS:
            msg = f"The result's name must end in {' or '.join(FORMS)}; got {out.name!r}."
            raise InputError(msg, parameter="out")
        for path in (out, out.with_suffix(".csv")):  # the table could be the list of stations
            if path.exists():
                msg = f"{path} is there already. Remove it, or give another file."
                raise InputError(msg, parameter="out")
        self.out, self.folder = out, out.with_name(f"{out.name}.parts")
        self.folder.mkdir(parents=True, exist_ok=True)
        mark = self.folder / "run"
        digest = hashlib.sha256("\n".join(run).encode()).hexdigest()
        if mark.exists() and mark.read_text("utf-8") != digest:
            msg = (
                f"{self.folder} holds parts of another run: other stations, crops or size of a "
                "batch. Remove that folder, or give another file."
            )
            raise InputError(msg, parameter="out")
        mark.write_text(digest, "utf-8")

    def path(self, n: int) -> Path:
        """File of a part; it exists only if it is complete."""
        return self.folder / f"{n:06}.nc"

    def write(self, n: int, part: xr.Dataset, content: str = "") -> None:
        """Save a part and a digest of what it was computed from (thread-safe)."""
        self._content_file(n).write_text(content, "utf-8")
        _write(part, self.path(n))

    def has(self, n: int, content: str = "") -> bool:
        """Whether the part exists and was computed from this content."""
        if not self.path(n).exists():
            return False
        noted = self._content_file(n)
        return noted.exists() and noted.read_text("utf-8") == content

    def _content_file(self, n: int) -> Path:
        return self.folder / f"{n:06}.sha256"

    def join(self, count: int, places: xr.Dataset) -> None:
        """Join the parts into the result, and remove them.

        One part is in memory at a time, and is written to its place in the result.

        Parameters
        ----------
        count : int
            Number of parts.
        places : Dataset, dims (station)
            Coordinates of the stations, in the order of the parts.
        """
        files = [self.path(n) for n in range(count)]
        empty = _without_stations(files, places)
        with (
            atomic_write(self.out, single_writer=True) as target,
            _created(empty, target, places.sizes["station"], files) as stored,
        ):
            for since, part in _parts(files, empty, places):
                for name in _by_station(part):
                    rows = slice(since, since + part.sizes["station"])
                    stored[name][rows] = _encoded(part[name].variable)
        shutil.rmtree(self.folder)


def _without_stations(files: Sequence[Path], places: xr.Dataset) -> xr.Dataset:
    """The result without any station: all seasons, all variables, and what they are.

    It has the variables of the parts that have results, and the attributes on which these agree.
    """
    seasons: np.ndarray | None = None
    facts: list[xr.Dataset] = []  # without those that the part before has, too
    longest = np.dtype("U1")
    empty = xr.Dataset(coords={"station": []})
    for file in files:
        with xr.open_dataset(file, engine="scipy") as part:
            longest = np.result_type(longest, part["reason"].values.astype(str))
            if "season" not in part.dims:
                continue
            if seasons is None:
                seasons = part["season"].values
                empty = part.isel(station=slice(0)).load()
            seasons = np.union1d(seasons, part["season"].values)
            of_part = xr.Dataset(attrs=part.attrs)
            if not facts or not of_part.identical(facts[-1]):
                facts.append(of_part)
    if seasons is not None:
        empty = empty.reindex(season=seasons, fill_value=fill_values(empty))
    empty = empty.drop_vars([name for name in STATION_COORDINATES if name in empty.coords])
    empty = empty.assign_coords(places.isel(station=slice(0)).coords)
    for name in places.coords:
        empty[name].attrs = STATION_COORDINATES[str(name)]
    empty["status"] = ("station", np.zeros(0, np.int8), _STATUS)
    # Texts of a Zarr store have one length.
    empty["reason"] = ("station", np.zeros(0, longest), {"long_name": _REASON})
    agreed = xr.merge(facts, combine_attrs="drop_conflicts").attrs
    title = f"Climate windows of {places.sizes['station']} stations"
    return empty.assign_attrs(agreed | {"Conventions": "CF-1.11", "title": title})


def _parts(
    files: Sequence[Path], empty: xr.Dataset, places: xr.Dataset
) -> Iterator[tuple[int, xr.Dataset]]:
    """One part after another, with the variables and seasons of all, and its first station."""
    fills, since = fill_values(empty), 0
    results = empty.drop_vars([*places.coords, "status", "reason"])
    for file in files:
        with xr.open_dataset(file, engine="scipy") as opened:
            part = opened.load()
        part = part.drop_vars([name for name in STATION_COORDINATES if name in part.coords])
        count = part.sizes["station"]
        if "season" in results.dims and "season" not in part.dims:  # no station has results
            rows = {"station": np.arange(count)}
            nobody = results.assign_coords(station=[]).reindex(rows, fill_value=fills)
            part = part.assign(nobody.drop_vars("station").variables)
        elif "season" in part.dims and not part["season"].equals(results["season"]):
            part = part.reindex(season=results["season"], fill_value=fills)
        part["reason"] = part["reason"].astype(empty["reason"].dtype)
        yield since, part.assign_coords(places.isel(station=slice(since, since + count)).coords)
        since += count


def _by_station(dataset: xr.Dataset) -> list[str]:
    """Names of all variables and coordinates of stations."""
    return [str(name) for name, values in dataset.variables.items() if "station" in values.dims]


@contextmanager
def _created(empty: xr.Dataset, target: Path, count: int, files: Sequence[Path]) -> Iterator[Any]:
    """A new file or store, open for writing, with room for so many stations; compressed.

    A chunk holds the stations of one part, so that each is written once.
    """
    with xr.open_dataset(files[0], engine="scipy") as part:
        rows = part.sizes["station"]
    empty = empty.drop_encoding()
    dates = [name for name, values in empty.variables.items() if values.dtype.kind == "M"]
    encoding: dict[Any, dict[str, Any]] = {name: dict(_DATES) for name in dates}
    chunks = {name: (rows, *empty[name].shape[1:]) for name in _by_station(empty)}
    if target.suffix == ".zarr":
        import zarr

        for name, chunk in chunks.items():
            encoding.setdefault(name, {})["chunks"] = chunk
        empty.to_zarr(target, mode="w", zarr_format=2, encoding=encoding, consolidated=False)
        store: Any = zarr.open_group(target, mode="r+")
        for name in chunks:
            store[name].resize((count, *empty[name].shape[1:]))
        yield store
        zarr.consolidate_metadata(target)
    else:
        import netCDF4

        for name, chunk in chunks.items():
            packed = {} if empty[name].dtype.kind == "U" else {"zlib": True, "complevel": 1}
            encoding.setdefault(name, {}).update(packed, chunksizes=chunk)
        empty.to_netcdf(target, engine="netcdf4", encoding=encoding, unlimited_dims=["station"])
        with netCDF4.Dataset(target, "a") as file:
            file.set_auto_maskandscale(False)
            yield file


def _encoded(values: xr.Variable) -> np.ndarray:
    """Values as they are stored: dates as days."""
    values = values.copy(deep=False)
    values.encoding = _DATES if values.dtype.kind == "M" else {}
    plain = xr.conventions.encode_cf_variable(values).values
    return plain.astype(object) if plain.dtype.kind == "U" else plain


def _write(part: xr.Dataset, path: Path) -> None:
    """Write a part completely or not at all; the netCDF library is not thread-safe, SciPy is."""
    part = part.drop_encoding()
    dates = [name for name, values in part.variables.items() if values.dtype.kind == "M"]
    with atomic_write(path, single_writer=True) as target:
        part.to_netcdf(target, engine="scipy", encoding=dict.fromkeys(dates, _DATES))
