"""Checkpoint of a long run: its parts are saved beside the result, and joined at the end."""

from __future__ import annotations

import hashlib
import shutil
from collections.abc import Sequence
from pathlib import Path
from typing import Literal

import numpy as np
import xarray as xr

from climwin.batch.stations import ANSWERED, FAILED, fill_values
from climwin.core.errors import InputError
from climwin.io.files import atomic_write

FORMS = (".nc", ".zarr")
"""Endings of a result: a netCDF file or a Zarr store."""

PLACE: dict[str, dict[str, str]] = {
    "station": {"cf_role": "timeseries_id", "long_name": "station"},
    "name": {"long_name": "name of the station"},
    "latitude": {"standard_name": "latitude", "units": "degrees_north"},
    "longitude": {"standard_name": "longitude", "units": "degrees_east"},
    "elevation": {"standard_name": "height_above_mean_sea_level", "units": "m"},
}
"""Coordinates of a station, with their CF attributes."""
_STATUS = {
    "long_name": "whether the station has results",
    "flag_values": np.array([ANSWERED, FAILED], dtype=np.int8),
    "flag_meanings": "answered failed",
}
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
        _write(part, self.path(n), engine="scipy")  # the netCDF library is not thread-safe

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

        Parameters
        ----------
        count : int
            Number of parts.
        places : Dataset, dims (station)
            Coordinates of the stations, in the order of the parts.
        """
        files = [self.path(n) for n in range(count)]
        parts = [xr.open_dataset(file, chunks={}, engine="scipy") for file in files]
        joined = xr.concat(
            _alike(parts),
            "station",
            coords="minimal",
            compat="override",
            combine_attrs="drop_conflicts",
        )
        joined = joined.drop_vars([name for name in PLACE if name in joined.coords])
        joined = joined.assign_coords(places.coords)
        for name in places.coords:
            joined[name].attrs = PLACE[str(name)]
        joined["status"].attrs = _STATUS
        joined["reason"] = joined["reason"].compute().astype(str)
        joined["reason"].attrs = {"long_name": "why it has no results, or what to mind"}
        title = f"Climate windows of {places.sizes['station']} stations"
        _write(joined.assign_attrs(Conventions="CF-1.11", title=title), self.out)
        for part in parts:
            part.close()
        shutil.rmtree(self.folder)


def _alike(parts: Sequence[xr.Dataset]) -> list[xr.Dataset]:
    """Bring the parts to the same seasons and, if any has results, to the same variables."""
    full = [part for part in parts if "season" in part.dims]
    if not full:
        return list(parts)
    fills = fill_values(full[0])
    nobody = full[0].drop_vars(["status", "reason"]).isel(station=slice(0))
    seasons = np.unique(np.concatenate([part["season"].values for part in full]))

    def alike(part: xr.Dataset) -> xr.Dataset:
        if "season" not in part.dims:
            empty = nobody.reindex(station=part["station"], fill_value=fills)
            part = part.merge(empty, compat="override")
        return part.reindex(season=seasons, fill_value=fills)

    return [alike(part) for part in parts]


def _write(
    dataset: xr.Dataset, path: Path, engine: Literal["netcdf4", "scipy"] = "netcdf4"
) -> None:
    """Write a file completely or not at all."""
    dataset = dataset.drop_encoding()
    dates = [name for name, values in dataset.variables.items() if values.dtype.kind == "M"]
    encoding = dict.fromkeys(dates, _DATES)
    with atomic_write(path, single_writer=True) as part:
        if path.suffix == ".zarr":
            dataset.to_zarr(part, mode="w", zarr_format=2, encoding=encoding)
        else:
            dataset.to_netcdf(part, engine=engine, encoding=encoding)
