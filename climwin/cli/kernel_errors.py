"""Errors of a notebook that the command runs, in one line and in the words of the command.

`climwin notebook` puts the cell of `setup` before the first cell of the copy that it runs, and
takes it out again. The kernel, which has the pieces of an error, then words it, and no traceback is
printed.
"""

from __future__ import annotations

from collections.abc import Mapping
from types import TracebackType
from typing import Any

from climwin.cli.wording import in_the_notebook
from climwin.core.errors import ClimwinError

MARK = "climwin notebook: "
"""Marks an error that says what to do, in the text that nbclient gives."""

STOPPED = "climwin notebook stopped: "
"""Marks any other error there."""

_SET_BY = {
    "crop": "crop_name",
    "stage": "stage_name",
    "units": "record_units",
    "name": "place",
    "query": "place",
    "weeks_under_cover": "weeks",
}
"""Names in a notebook's first cell for parameters of the library, if they differ."""


def typed_in(own: Mapping[str, object]) -> dict[str, str]:
    """How each parameter of the library is set in a notebook whose first cell has these values.

    Examples
    --------
    >>> typed_in({"crop_name": "pea", "need_days": 70, "units": "C"})
    {'crop_name': 'crop_name', 'need_days': 'need_days', 'crop': 'crop_name'}
    """
    names = {name: name for name in own if name not in _SET_BY}
    return names | {name: value for name, value in _SET_BY.items() if value in own}


def setup(own: Mapping[str, object]) -> str:
    """The cell that has the kernel word its errors, for a notebook of these values."""
    return (
        "from climwin.cli.kernel_errors import answer_in_one_line\n"
        f"answer_in_one_line(get_ipython(), {typed_in(own)!r})\n"
        "del answer_in_one_line"
    )


def answer_in_one_line(shell: Any, names: Mapping[str, str]) -> None:
    """Have an IPython shell show errors as the command words them, without their traceback.

    Parameters
    ----------
    shell : IPython.core.interactiveshell.InteractiveShell
        Of the kernel.
    names : mapping of str to str
        Parameters of the library, and the values of the first cell that give them.
    """

    def show(
        _: Any,
        kind: type[BaseException],
        error: BaseException,
        trace: TracebackType,
        tb_offset: int | None = None,
    ) -> None:
        del tb_offset
        if isinstance(error, ClimwinError):
            text = MARK + error.worded(lambda mention: in_the_notebook(mention, names))
        elif isinstance(error, OSError) and error.filename:
            text = f"{MARK}{error.filename}: {error.strerror}."
        else:
            text = f"{STOPPED}{kind.__name__}: {error}"
        # IPython shows what a method of this name gives, where an error has one.
        error._render_traceback_ = lambda: [text]  # type: ignore[attr-defined]
        shell.showtraceback((kind, error, trace))

    shell.set_custom_exc((Exception,), show)
