"""Files that a command is to write, checked before any work is done."""

from __future__ import annotations

from pathlib import Path


def check_file(out: Path) -> None:
    """Refuse a file that cannot be, or that is a folder."""
    if out.is_dir():
        msg = f"--out takes the name of a file; {out} is a folder."
        raise ValueError(msg)
    check_folder(out)


def check_folder(out: Path) -> None:
    """Refuse a file, or folder, inside of what is a file."""
    nearest = next(folder for folder in out.absolute().parents if folder.exists())
    if not nearest.is_dir():
        msg = f"--out cannot be {out}: {nearest} is a file, not a folder."
        raise ValueError(msg)
