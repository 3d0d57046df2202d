"""Files that a command is to write, checked before any work, so that nobody loses one."""

from __future__ import annotations

import mmap
from collections.abc import Iterable
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

from climwin.cli.options import switch
from climwin.cli.wording import about
from climwin.core.dialect import in_dialect
from climwin.core.errors import InputError
from climwin.core.schema import Units
from climwin.io.files import atomic_write

if TYPE_CHECKING:
    import xarray as xr
    from matplotlib.figure import Figure

    from climwin.report.ical import Event

MARKS = {
    ".html": b'<meta name="generator" content="climwin">',
    ".ics": b"PRODID:-//climwin//",
    ".csv": b"# written by: climwin",
    ".nc": b"written by climwin",
    ".png": b"Software\0climwin",
}
"""What climwin writes into a file of each kind. Notebooks carry none: people work on in them."""

PICTURE = {"Software": "climwin"}
"""Metadata of a picture: the mark of ``.png`` above."""


def force_option() -> Any:
    """Whether a file may be overwritten that climwin did not write."""
    return switch("--force", "overwrite existing files, even those that climwin did not write")


def check_outputs(
    outputs: Iterable[Path],
    *,
    inputs: Iterable[Path | None] = (),
    force: bool | None = False,
    makes_folder: bool = False,
) -> None:
    """Refuse files that cannot be written, or that the user may not want to lose.

    Parameters
    ----------
    outputs : iterable of Path
        Files that the command is going to write.
    inputs : iterable of Path, optional
        Files that it reads: none of them is ever overwritten.
    force : bool, optional
        Whether to write over a file that is there and that climwin did not write; None where the
        command has no option for it.
    makes_folder : bool
        Whether the command makes the folder of its files.

    Raises
    ------
    ValueError
        Names the file, and says what to do.
    """
    read = [path for path in inputs if path is not None and path.exists()]
    for path in outputs:
        if path.is_dir():
            msg = f"{path} is a folder. Give the name of a file."
            raise InputError(msg, parameter="out")
        check_folder(path, makes_folder=makes_folder)
        if not path.exists():
            continue
        if any(path.samefile(each) for each in read):
            msg = f"{path} is a file that this command reads. Give the result another name."
            raise InputError(msg, parameter="out")
        if not force and not _may_replace(path):
            msg = f"{path} is there already. Remove it, or give another name."
            if force is not None:
                msg = (
                    f"{path} is there already, and climwin did not write it. Give another name, or "
                    "add --force to write over it."
                )
            raise InputError(msg, parameter="out")


def check_table(out: Path, inputs: Iterable[Path | None], *, force: bool) -> None:
    """Check the file of a table, and that of the picture beside it, as `check_outputs` does.

    Raises
    ------
    ValueError
        If it does not end in .csv, or one of the two may not be written.
    """
    if out.suffix != ".csv":
        msg = f"--out takes a file that ends in .csv, got {str(out)!r}."
        raise ValueError(msg)
    check_outputs([out, out.with_suffix(".png")], inputs=inputs, force=force)


def save_table(result: xr.Dataset, figure: Figure, out: Path, units: Units) -> None:
    """Write a result as a table with its picture beside it, and print the names of both."""
    from climwin.io.exports import to_csv

    picture = out.with_suffix(".png")
    with about("out", OSError):
        to_csv(result, out)
        print(out)
        save_picture(figure, picture, units)
        print(picture)


def save_picture(figure: Figure, path: Path, units: Units = "C") -> None:
    """Write a figure as .png, its words in the English of who reads these units."""
    with atomic_write(path) as part:
        in_dialect(figure, units).savefig(part, format="png", dpi=150, metadata=PICTURE)


def in_own_english(events: Iterable[Event], units: Units) -> list[Event]:
    """Events of a calendar file, in the English of who reads these units."""
    return [
        replace(event, title=in_dialect(event.title, units), note=in_dialect(event.note, units))
        for event in events
    ]


def check_folder(path: Path, *, makes_folder: bool = False) -> None:
    """Refuse a file whose folder is not there, or is a file."""
    nearest = next(folder for folder in path.absolute().parents if folder.exists())
    if not nearest.is_dir():
        msg = f"{path} cannot be written: {nearest} is a file, not a folder."
        raise InputError(msg, parameter="out")
    if not makes_folder and nearest != path.absolute().parent:
        msg = f"{path} cannot be written: there is no folder {path.parent}. Make it first."
        raise InputError(msg, parameter="out")


def _may_replace(path: Path) -> bool:
    """Whether a file is empty, or was written by climwin."""
    if path.suffix == ".pdf":  # the browser writes it and leaves no mark: it goes with its page
        page = path.with_suffix(".html")
        return page.is_file() and _may_replace(page)
    if not path.is_file():  # a device or a pipe: there is nothing to lose
        return True
    if path.stat().st_size == 0:
        return True
    mark = MARKS.get(path.suffix)
    if mark is None:
        return False
    with path.open("rb") as file, mmap.mmap(file.fileno(), 0, access=mmap.ACCESS_READ) as content:
        return content.find(mark) >= 0
