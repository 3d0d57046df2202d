"""The command ``lab``: copies of the notebooks, opened in JupyterLab."""

from __future__ import annotations

import os
import subprocess
import sys
from dataclasses import dataclass
from importlib.util import find_spec
from pathlib import Path

from climwin.cli.options import argument, switch
from climwin.io.files import atomic_write

_PACKAGE = Path(__file__).parents[1]
_NOTEBOOKS = (_PACKAGE / "notebooks", _PACKAGE.parent / "notebooks")


@dataclass(frozen=True)
class LabOptions:
    """Where the copies of the notebooks are."""

    folder: Path = argument(
        "FOLDER",
        "folder for the copies (%(default)s)",
        convert=Path,
        default=Path("climwin-notebooks"),
    )
    as_root: bool = switch("--as-root", "run as root, the usual user of a container")


def lab(options: LabOptions) -> None:
    """Open JupyterLab on copies of the notebooks in a folder, with the first of them on screen."""
    folder = copy_notebooks(options.folder)
    if find_spec("jupyterlab") is None:
        msg = (
            f"The notebooks are in {folder}, but JupyterLab is not installed. Install it with: "
            "pip install 'climwin[notebook]'"
        )
        raise ValueError(msg)
    is_root = hasattr(os, "geteuid") and os.geteuid() == 0
    if is_root and not options.as_root:
        msg = (
            f"The notebooks are in {folder}, but JupyterLab does not run as root unless it is told "
            "to. In a container that nobody else can reach, give `climwin lab --as-root`, and "
            "publish its port 8888; on your own computer, start it as yourself."
        )
        raise ValueError(msg)
    if options.as_root and not is_root:
        msg = "--as-root has no effect: you are not root. Leave it out."
        raise ValueError(msg)
    # A container's port is published by its own address, not by that of the loopback.
    more = ["--allow-root", "--ip=0.0.0.0"] if options.as_root else []
    start = "--LabApp.default_url=/lab/tree/start_here.ipynb"
    subprocess.run([sys.executable, "-m", "jupyterlab", str(folder), start, *more], check=False)


def copy_notebooks(folder: str | Path) -> Path:
    """Copy the notebooks into a folder; what is there already stays as it is.

    Parameters
    ----------
    folder : str or Path
        Made where there is none.

    Returns
    -------
    Path
        The folder, in full.

    Raises
    ------
    ValueError
        If climwin was installed without its notebooks.
    """
    books = originals()
    target = Path(folder).resolve()
    target.mkdir(parents=True, exist_ok=True)
    for book in books:
        copy = target / book.name
        if not copy.exists():  # else it is the user's work
            with atomic_write(copy) as part:
                part.write_bytes(book.read_bytes())
    return target


def originals() -> list[Path]:
    """The notebooks that came with climwin.

    Raises
    ------
    ValueError
        If it was installed without them.
    """
    books = [book for place in _NOTEBOOKS for book in sorted(place.glob("*.ipynb"))]
    if not books:
        msg = "This climwin was installed without its notebooks. Install it from its repository."
        raise ValueError(msg)
    return books
