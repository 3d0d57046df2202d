"""The question notebooks run for another place and crop, without opening them."""

from __future__ import annotations

import ast
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

from climwin.cli import kernel_pictures
from climwin.cli.extras import check_installed
from climwin.cli.kernel_errors import MARK, STOPPED, setup
from climwin.cli.lab import originals
from climwin.cli.options import argument, option, pair
from climwin.cli.reading import once_each
from climwin.cli.wording import about
from climwin.cli.writing import check_outputs, force_option
from climwin.core.errors import did_you_mean
from climwin.io.files import atomic_write

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from nbformat import NotebookNode

_NEEDED = ("ipykernel", "jupyter_client", "nbclient", "nbconvert", "nbformat")
"""What running a notebook takes."""


@dataclass(frozen=True)
class NotebookOptions:
    """A notebook, values of its parameters, and where the result is written."""

    notebook: str = argument(
        "NOTEBOOK", "the notebook's name, such as sow_or_raise; none lists them all", default=""
    )
    values: tuple[tuple[str, str], ...] = option(
        "--set",
        "a value for its first cell, such as crop_name=pea; may be repeated",
        convert=pair("NAME=VALUE, such as crop_name=pea"),
        metavar="NAME=VALUE",
        repeated=True,
    )
    out: Path | None = option(
        "--out", "file to write, .html or .ipynb (the notebook's name, .html)", convert=Path
    )
    force: bool = force_option()


def notebook(options: NotebookOptions) -> None:
    """Run one of the notebooks with values of one's own, and write the result.

    Some notebooks write a page to share, too; it is named after the result.
    """
    check_installed("Running a notebook", _NEEDED, "notebook")
    import nbformat

    from climwin.page.html import render_notebook

    book = opened(options.notebook)
    out = options.out or Path(f"{options.notebook}.html")
    if out.suffix not in (".html", ".ipynb"):
        msg = f"--out takes a file that ends in .html or .ipynb, got {str(out)!r}."
        raise ValueError(msg)
    check_outputs([out], force=options.force, makes_folder=True)
    with about("values"):
        book = with_values(book, [*once_each("--set", options.values).items()])
    _run(book, as_page=out.suffix == ".html")
    text = nbformat.writes(book) if out.suffix == ".ipynb" else render_notebook(book)  # type: ignore[no-untyped-call]
    with about("out", OSError):
        out.parent.mkdir(parents=True, exist_ok=True)
        with atomic_write(out) as part:
            part.write_text(text, "utf-8", newline="")
    print(out)
    for cell in _tagged(book, "page"):
        print("".join(output.get("text", "") for output in cell.outputs), end="")


def _tagged(book: NotebookNode, tag: str) -> list[NotebookNode]:
    """Cells with a tag, such as ``page`` for one that writes a page and prints its name."""
    return [cell for cell in book.cells if tag in cell.metadata.get("tags", [])]


def _run(book: NotebookNode, *, as_page: bool) -> None:
    """Execute a notebook in the folder of the command; what stops it is one line.

    Parameters
    ----------
    book : NotebookNode
        Its outputs come into it.
    as_page : bool
        Whether its figures are drawn for a page, or are pictures.

    Raises
    ------
    ValueError
        If a cell fails: what the library said, or the cell and the error where it was another's.
    """
    from nbclient.exceptions import CellExecutionError
    from nbformat.v4 import new_code_cell

    from climwin.cli.kernel import execute

    own = defaults(_parameters(book).source)
    before = "\n".join([setup(own), *([kernel_pictures.SETUP] if as_page else [])])
    book.cells.insert(0, new_code_cell(before))  # type: ignore[no-untyped-call]
    try:
        execute(book, Path.cwd())
    except CellExecutionError as error:
        _, is_answer, text = error.traceback.rpartition(MARK)
        if not is_answer:
            shown, _, what = error.traceback.rpartition(STOPPED)
            text = (
                f"The notebook stopped in the cell that begins with {_first_line(shown)!r}: "
                f"{what.strip()}. Run it step by step in JupyterLab to see why: `climwin lab`."
            )
        raise ValueError(text.strip()) from error
    del book.cells[0]


def _first_line(shown: str) -> str:
    """The first line of a cell, of the text in which nbclient shows it between two lines."""
    _, _, cell = shown.partition("------------------\n")
    return cell.strip().partition("\n")[0]


def opened(name: str) -> NotebookNode:
    """One of the notebooks, by its name.

    Raises
    ------
    ValueError
        If there is none of that name.
    """
    import nbformat

    books = {path.stem: path for path in originals()}
    if name not in books:
        listed = ", ".join(books)
        msg = f"There is no notebook {name!r}; there are {listed}.{did_you_mean(name, books)}"
        if not name:
            msg = f"Name a notebook, such as `climwin notebook sow_or_raise`. There are {listed}."
        raise ValueError(msg)
    book: NotebookNode = nbformat.read(books[name], as_version=4)  # type: ignore[no-untyped-call]
    return book


def with_values(book: NotebookNode, values: Sequence[tuple[str, str]]) -> NotebookNode:
    """A notebook whose parameters have other values, set in a cell after its own.

    Parameters
    ----------
    book : NotebookNode
        With one cell tagged ``parameters``.
    values : sequence of (name, text)
        A text is read as Python where the notebook's own value is none.

    Raises
    ------
    ValueError
        If it has no such parameter, or the text is no value of that kind.
    """
    from nbformat.v4 import new_code_cell

    cell = _parameters(book)
    place, own = book.cells.index(cell), defaults(cell.source)
    given = {name: _read(name, text, own) for name, text in values}
    if given:
        lines = [f"{name} = {value!r}" for name, value in given.items()]
        shown = "\n".join(lines)
        source = f"{shown}\nprint({shown!r})"
        own_cell = new_code_cell(source, metadata={"tags": ["injected-parameters"]})  # type: ignore[no-untyped-call]
        book.cells.insert(place + 1, own_cell)
    return book


def _parameters(book: NotebookNode) -> NotebookNode:
    """The cell of a notebook with the values that may be set."""
    return _tagged(book, "parameters")[0]


def defaults(source: str) -> dict[str, Any]:
    """Names and values of a cell that only assigns plain values."""
    values: dict[str, Any] = {}
    for line in ast.parse(source).body:
        if isinstance(line, ast.Assign):
            target, value = line.targets[0], ast.literal_eval(line.value)
            if isinstance(target, ast.Tuple):  # name, other = value, other_value
                values |= zip(map(ast.unparse, target.elts), value, strict=True)
            else:
                values[ast.unparse(target)] = value
    return values


def _read(name: str, text: str, own: Mapping[str, Any]) -> Any:
    """The value that a text stands for, of the same kind as the notebook's own."""
    if name not in own:
        meant = did_you_mean(name, own)
        msg = f"This notebook has no {name!r}; what can be set is {', '.join(own)}.{meant}"
        raise ValueError(msg)
    if isinstance(own[name], str):
        return text
    such = "46.1" if own[name] is None else repr(own[name])
    kind = list if isinstance(own[name], list) else (int, float)
    try:
        value = ast.literal_eval(text)
    except (ValueError, SyntaxError):
        value = None
    if isinstance(value, bool) or not isinstance(value, kind):
        msg = f"{name} is a value such as {such}; got {text!r}."
        raise ValueError(msg)
    return value
