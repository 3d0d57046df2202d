"""What a command needs of the optional packages."""

from __future__ import annotations

from collections.abc import Iterable
from importlib.util import find_spec


def check_installed(doing: str, needed: Iterable[str], extra: str) -> None:
    """Refuse to begin where an optional package is missing.

    Parameters
    ----------
    doing : str
        What takes the packages, as the subject of a sentence in the singular.
    needed : iterable of str
        Names of modules.
    extra : str
        The extra of climwin that installs them.

    Raises
    ------
    ValueError
        Names what is missing, and how to install it.
    """
    missing = [name for name in needed if find_spec(name) is None]
    if missing:
        msg = (
            f"{doing} takes {', '.join(missing)}, not installed here. Install it with: "
            f"pip install 'climwin[{extra}]'"
        )
        raise ValueError(msg)
