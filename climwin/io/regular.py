"""Files that are read: regular ones alone, and of netCDF no more than memory holds.

A pipe or a device may never end, and a packed file of a megabyte may unpack to a terabyte.
"""

from __future__ import annotations

from pathlib import Path
from stat import S_ISREG
from typing import Any

import xarray as xr

from climwin.core.schema import RecordError


def regular(path: Path) -> int:
    """Size of a file that is to be read. [bytes]

    Raises
    ------
    RecordError
        If it is a folder, a pipe or a device, or what is given can be no file's name.
    OSError
        If there is none, or the system does not let it be looked at.
    """
    try:
        held = path.stat()
    except ValueError as error:  # a zero byte
        msg = f"{str(path)!r} can be no file's name ({error}). Give another."
        raise RecordError(msg) from error
    if not S_ISREG(held.st_mode):
        msg = f"{path} is a folder, a pipe or a device. Give a file."
        raise RecordError(msg)
    return held.st_size


def check_claims(path: Path, most: int, *, coordinates: bool = False, **options: Any) -> None:
    """Refuse a netCDF or Zarr file that claims to hold more than can be right, nothing of it read.

    Parameters
    ----------
    path : Path
        The file.
    most : int
        Largest size of a variable. [bytes]
    coordinates : bool
        Whether the coordinates of dimensions alone count, which are read when a file is opened.
    **options
        For `xarray.open_dataset`.

    Raises
    ------
    ValueError
        Names the largest variable and its size.
    """
    with xr.open_dataset(path, decode_cf=False, create_default_indexes=False, **options) as claim:
        held = claim.sizes if coordinates else claim.variables
        sizes = {str(name): claim[name].nbytes for name in held if name in claim.variables}
    name = max(sizes, key=sizes.__getitem__, default="")
    if sizes and sizes[name] > most:
        msg = (
            f"its {name!r} claims to hold {sizes[name]:,} bytes, more than the {most:,} that are "
            "read. Is it a daily record?"
        )
        raise ValueError(msg)
