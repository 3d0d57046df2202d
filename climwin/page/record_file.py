"""A record beside a page's notebook: a netCDF file that gives back the record as it was."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import numpy as np
import xarray as xr

from climwin.core.errors import RecordError
from climwin.io.files import atomic_write, check_declared_size, file_size

_ATTRS = "climwin_attributes"
"""Attribute that keeps all others as JSON: netCDF has no None, True and False."""
_LARGEST = 200_000_000  # bytes of a variable


def save_record(daily: xr.Dataset, path: str | Path) -> Path:
    """Write a record to a netCDF file that `load_record` gives back exactly.

    `to_netcdf` writes for other programs and adds what the CF conventions want; this file is for
    the notebook beside it.

    Parameters
    ----------
    daily : Dataset, dims (time)
        Any record.
    path : str or Path
        The file; one that is there is replaced.
    """
    plain = daily.compute().drop_encoding()
    attrs = {str(name): plain[name].attrs for name in plain.variables} | {"": plain.attrs}
    plain = plain.drop_attrs().assign_attrs({_ATTRS: json.dumps(attrs, default=_from_numpy)})
    numbers = [name for name in plain.data_vars if plain[name].dtype.kind in "fiu"]
    encoding = {name: {"zlib": True} for name in numbers}
    with atomic_write(Path(path)) as part:
        plain.to_netcdf(part, engine="netcdf4", encoding=encoding)
    return Path(path)


def _from_numpy(value: Any) -> Any:
    """NumPy's arrays and numbers as JSON types."""
    if isinstance(value, np.ndarray):
        return {"dtype": value.dtype.str, "values": value.tolist()}
    if isinstance(value, np.generic):
        return value.item()
    msg = f"An attribute of a record is text, a number or an array, got {value!r}."
    raise TypeError(msg)


def _to_numpy(table: dict[str, Any]) -> Any:
    is_array = {*table} == {"dtype", "values"}
    return np.array(table["values"], table["dtype"]) if is_array else table


def load_record(path: str | Path) -> xr.Dataset:
    """Record from a file of `save_record`.

    Raises
    ------
    RecordError
        If it cannot be read.
    """
    file = Path(path)
    try:
        file_size(file)
        check_declared_size(file, _LARGEST, engine="netcdf4")
        daily = xr.load_dataset(file, engine="netcdf4")
        attrs = json.loads(daily.attrs[_ATTRS], object_hook=_to_numpy)
    except (OSError, ValueError, KeyError) as error:
        msg = (
            f"{file} is no record beside a page's notebook ({error}). Give the .nc file that was "
            "written with the notebook, or read your own record with climwin.read_daily."
        )
        raise RecordError(msg) from error
    daily = daily.assign_coords(time=daily["time"].astype("datetime64[s]")).drop_encoding()
    daily.attrs = attrs.pop("")
    for name, own in attrs.items():
        daily[name].attrs = own
    return daily
