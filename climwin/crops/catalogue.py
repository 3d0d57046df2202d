"""The catalogue of crops, and crop files of a gardener's own."""

from __future__ import annotations

import difflib
import re
from functools import lru_cache
from importlib.resources import files
from pathlib import Path

from climwin.crops.model import Crop, Limits
from climwin.io.structured import from_toml, read_toml

__all__ = ["Crop", "Limits", "crop", "crop_names", "read_crop"]


@lru_cache
def crop_names() -> tuple[str, ...]:
    """Names of the crops in the catalogue, in the order of the alphabet."""
    names = [file.name for file in files("climwin.crops").joinpath("data").iterdir()]
    found = [name[:-5].replace("-", " ") for name in names if name.endswith(".toml")]
    return tuple(sorted(found, key=str.casefold))


def crop(name: str) -> Crop:
    """Crop of the catalogue.

    Parameters
    ----------
    name : str
        One of `crop_names`; capitals, spaces and hyphens do not matter.

    Raises
    ------
    ValueError
        If there is none of that name; the text has the nearest ones.
    """
    known = {_plain(each): each for each in crop_names()}
    if _plain(name) not in known:
        near = difflib.get_close_matches(_plain(name), known)
        nearest = f" Nearest: {', '.join(known[each] for each in near)}." if near else ""
        msg = (
            f"The catalogue has no crop {name!r}.{nearest} climwin.crop_names() lists all; "
            "climwin.read_crop(path) reads a file of your own."
        )
        raise ValueError(msg)
    return _from_catalogue(known[_plain(name)])


def _plain(name: str) -> str:
    return re.sub(r"[\s_-]+", " ", name).strip().casefold()


@lru_cache
def _from_catalogue(name: str) -> Crop:
    file = f"{name.replace(' ', '-')}.toml"
    return from_toml(Crop, files("climwin.crops").joinpath("data", file).read_bytes(), file)


def read_crop(path: str | Path) -> Crop:
    """Crop from a gardener's own TOML file, of the same form as the catalogue's.

    Parameters
    ----------
    path : str or Path
        A UTF-8 file of at most 1 MB.

    Raises
    ------
    RecordError
        If the file cannot be used; the text names the file, the table and key, what was given and
        what is allowed.
    """
    return read_toml(Crop, path)
