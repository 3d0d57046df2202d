"""Files written whole or not at all: beside their place, then moved in."""

from __future__ import annotations

import errno
import os
import shutil
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path


@contextmanager
def whole(target: str | Path, *, alone: bool = False) -> Iterator[Path]:
    """Give a path to write to; what was written is moved to its place, or taken away if it failed.

    Parameters
    ----------
    target : str or Path
        The file, or Zarr folder; one that is there stays until the new one is whole.
    alone : bool
        Whether nobody else can be writing it at the time. Then the path has one name, and what a
        process that was killed left there is written over.

    Raises
    ------
    OSError
        If it cannot be written; the text names the file and the cause as far as it is known.
    """
    place = Path(target)
    part = place.with_name(f".{place.stem}.part{place.suffix}")
    try:
        if not alone:
            handle, name = tempfile.mkstemp(place.suffix, ".part-", place.parent)
            os.close(handle)
            part = Path(name)
        yield part
        if part.is_file():
            part.chmod(0o644)
            _sync(part)
        part.replace(place)
        _sync_folder(place.parent)
    except (OSError, RuntimeError) as error:  # the netCDF library's own words: "HDF error"
        why = getattr(error, "strerror", None) or error
        msg = (
            f"{place} cannot be written ({why}). Is the disk full, or the folder read-only? "
            "What was there before is there still."
        )
        raise OSError(msg) from error
    finally:
        if part.is_dir():
            shutil.rmtree(part, ignore_errors=True)
        with suppress(OSError):  # it is in its place, or never came to be
            part.unlink()


def free_name(path: Path, ending: str, *, most: int) -> Path:
    """A name beside a file that no other one has, held by an empty file: name.ending, ending-2, ...

    Raises
    ------
    OSError
        If the folder cannot be written, or `most` are taken already.
    """
    for n in range(1, most + 1):
        free = path.with_name(f"{path.name}.{ending}{f'-{n}' if n > 1 else ''}")
        with suppress(FileExistsError):
            free.open("xb").close()
            return free
    raise OSError(errno.EEXIST, f"{most} {ending} ones of it are kept already")


def _sync(file: Path) -> None:
    with file.open("rb+") as written:
        os.fsync(written.fileno())


def _sync_folder(folder: Path) -> None:
    """Have the move itself on disk; not every system can."""
    if os.name == "posix":
        handle = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(handle)
        finally:
            os.close(handle)
