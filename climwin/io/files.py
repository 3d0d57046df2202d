"""Files: read if they are regular files of a sane size, written completely or not at all."""

from __future__ import annotations

import errno
import os
import shutil
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from stat import S_ISREG
from typing import Any

from climwin.core.errors import RecordError, in_one_line, nearest_names
from climwin.core.formatting import number

# --- to read ------------------------------------------------------------------------------


def file_size(path: Path) -> int:
    """Size of a file; anything but a regular file is refused. [bytes]

    Reading a pipe or a device might never end.

    Raises
    ------
    RecordError
        If it is a folder, a pipe or a device, or the name cannot be that of a file.
    OSError
        If there is no such file, or the system does not allow access.
    """
    try:
        status = path.stat()
    except ValueError as error:  # a zero byte
        msg = f"{str(path)!r} cannot be the name of a file ({error}). Give another."
        raise RecordError(msg) from error
    except OSError as error:
        raise in_one_line(error)  # noqa: B904 (the same error, not another)
    if not S_ISREG(status.st_mode):
        msg = f"{path} is a folder, a pipe or a device. Give a file."
        raise RecordError(msg)
    return status.st_size


def nearest_file(path: Path) -> Path | None:
    """The file beside one that is not there whose name is nearest to it; None for none.

    Parameters
    ----------
    path : Path
        What was typed. Its ending is not compared: all files of a folder may have the same one.
    """
    if not path.parent.is_dir():
        return None
    beside = {each.name: each for each in path.parent.iterdir() if each.is_file()}
    of_stem = {each.stem: name for name, each in beside.items() if each.suffix == path.suffix}
    if near := nearest_names(path.stem, of_stem)[:1]:
        return path.with_name(of_stem[near[0]])
    other = {each.stem: name for name, each in beside.items()}
    return path.with_name(other[path.stem]) if path.stem in other else None


def check_declared_size(
    path: Path, most: int, *, coordinates: bool = False, **options: Any
) -> None:
    """Refuse a netCDF or Zarr file that declares too much data, before any is read.

    A compressed file of a megabyte may unpack to a terabyte.

    Parameters
    ----------
    path : Path
        The file.
    most : int
        Largest size of a variable. [bytes]
    coordinates : bool
        Whether only dimension coordinates count, which are read when a file is opened.
    **options
        Passed to `xarray.open_dataset`.

    Raises
    ------
    ValueError
        If it does; the message names the largest variable and its size.
    """
    import xarray as xr

    with xr.open_dataset(path, decode_cf=False, create_default_indexes=False, **options) as file:
        counted = file.sizes if coordinates else file.variables
        sizes = {str(name): file[name].nbytes for name in counted if name in file.variables}
    largest = max(sizes, key=sizes.__getitem__, default="")
    if sizes and sizes[largest] > most:
        msg = (
            f"its {largest!r} claims to have {number(sizes[largest])} bytes, and at most "
            f"{number(most)} are read. Is it a daily record?"
        )
        raise ValueError(msg)


# --- to write -----------------------------------------------------------------------------


@contextmanager
def atomic_write(target: str | Path, *, single_writer: bool = False) -> Iterator[Path]:
    """Yield a path to write to; the file is moved into place when it is complete.

    It is written under another name in the same folder. If writing fails, that file is removed and
    any existing one stays.

    Parameters
    ----------
    target : str or Path
        The file, or Zarr folder; an existing one stays until the new one is complete.
    single_writer : bool
        Whether no other process can write it at the same time. The path then has a fixed name, and
        leftovers of a killed process are overwritten.

    Raises
    ------
    OSError
        If it cannot be written; the message names the file and, if known, the cause.
    """
    place = Path(target)
    part = place.with_name(f".{place.stem}.part{place.suffix}")
    try:
        if not single_writer:
            handle, name = tempfile.mkstemp(place.suffix, ".part-", place.parent)
            os.close(handle)
            part = Path(name)
        yield part
        if part.is_file():
            part.chmod(0o644)
            _sync(part)
        part.replace(place)
        _sync_folder(place.parent)
    except (OSError, RuntimeError) as error:  # netCDF4 raises RuntimeError, such as "HDF error"
        if not place.parent.exists():
            msg = f"{place} cannot be written: there is no folder {place.parent}. Make it first."
            raise OSError(msg) from error
        why = getattr(error, "strerror", None) or error
        msg = (
            f"{place} cannot be written ({why}). Is the disk full, or the folder read-only? "
            "An earlier version of the file is unchanged."
        )
        raise OSError(msg) from error
    finally:
        if part.is_dir():
            shutil.rmtree(part, ignore_errors=True)
        with suppress(OSError):  # it was moved into place, or was never created
            part.unlink()


def reserve_name(path: Path, ending: str, *, most: int) -> Path:
    """Reserve a free name beside a file, ``name.ending`` or ``name.ending-2`` and so on.

    An empty file holds the name, so that no other process takes it.

    Raises
    ------
    OSError
        If the folder cannot be written, or `most` names are taken.
    """
    for n in range(1, most + 1):
        free = path.with_name(f"{path.name}.{ending}{f'-{n}' if n > 1 else ''}")
        with suppress(FileExistsError):
            free.open("xb").close()
            return free
    raise OSError(errno.EEXIST, f"there are already {most} {ending} files of it")


def _sync(file: Path) -> None:
    """Flush the file's content to disk before it is renamed."""
    with file.open("rb+") as written:
        os.fsync(written.fileno())


def _sync_folder(folder: Path) -> None:
    """Flush the rename itself to disk; not every system can."""
    if os.name == "posix":
        handle = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(handle)
        finally:
            os.close(handle)
