"""The invented sample data that come with climwin."""

from __future__ import annotations

from pathlib import Path

from climwin.core.errors import RecordError

_PACKAGE = Path(__file__).parents[1]
_FOLDERS = (_PACKAGE / "data_samples", _PACKAGE.parent / "data_samples")
"""Where the data are: in an installed package, or in a checkout of the project."""


def sample(name: str = "pellbrook_valley.csv") -> Path:
    """Path of a file of the invented sample.

    Raises
    ------
    RecordError
        If there is no such file; the message lists those there are.

    Examples
    --------
    >>> import climwin as cw
    >>> cw.sample("frame_logger.csv").name
    'frame_logger.csv'
    """
    for folder in _FOLDERS:
        if (folder / name).is_file():
            return folder / name
    available = sorted(p.name for folder in _FOLDERS if folder.is_dir() for p in folder.glob("*.*"))
    msg = f"The sample has no {name!r}; it has {', '.join(available)}."
    raise RecordError(msg)
