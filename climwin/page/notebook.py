"""Notebooks run and rendered as a page: code hidden, one file, nothing loaded from outside."""

from __future__ import annotations

import base64
import hashlib
import re
import tempfile
from importlib.resources import files
from pathlib import Path

import jinja2
import nbformat
from jupyter_client.kernelspec import KernelSpecManager
from jupyter_client.manager import AsyncKernelManager
from nbclient import NotebookClient
from nbconvert.exporters import TemplateExporter
from nbconvert.filters import markdown2html
from nbformat import NotebookNode

from climwin.page.given import to_text
from climwin.page.parts import environment
from climwin.widgets import front_end

DATA = files("climwin.page") / "templates"


def run(name: str, given: object) -> NotebookNode:
    """Execute one of the package's notebooks.

    Parameters
    ----------
    name : str
        Of the notebook, such as ``"page"``.
    given : object
        What its parameter ``given`` names: a file beside it that holds this, see `page_given`.

    Returns
    -------
    NotebookNode
        With its outputs.
    """
    book = nbformat.reads((DATA / f"{name}.ipynb").read_text("utf-8"), as_version=4)  # type: ignore[no-untyped-call]
    with tempfile.TemporaryDirectory(prefix="climwin-") as folder:
        (Path(folder) / "given.json").write_text(to_text(given), "utf-8")
        execute(book, Path(folder))
    return book


def execute(book: NotebookNode, folder: Path) -> None:
    """Execute a notebook in a folder, by the Python that runs this; its outputs come into it."""
    specs = KernelSpecManager(kernel_dirs=[])  # so that the kernel is this Python, no other
    NotebookClient(
        book,
        km=AsyncKernelManager(kernel_spec_manager=specs, kernel_name="python3"),
        resources={"metadata": {"path": str(folder)}},
        extra_arguments=["--log-level=40"],  # a warning on TCP is none for a page's reader
        timeout=None,
    ).execute()


def rendered(book: NotebookNode, *, title: str = "") -> str:
    """An executed notebook as a page.

    Parameters
    ----------
    book : NotebookNode
        With its outputs. Its second-order headings become the page's sections; a cell tagged
        ``aside`` is left out.
    title : str
        Of the page; the notebook's first heading where it is left out.
    """
    script, style = (front_end.page_script(), front_end.style()) if _is_live(book) else ("", "")
    page = {
        "title": title or _heading(book),
        "style": (DATA / "page.css").read_text("utf-8") + style,
        "script": script,
        "hash": _hash(script),
    }
    html, _ = _Exporter().from_notebook_node(book, resources={"page": page})  # type: ignore[no-untyped-call]
    return str(html)


def _heading(book: NotebookNode) -> str:
    """First heading of a notebook."""
    texts = [cell.source for cell in book.cells if cell.cell_type == "markdown"]
    found = re.search(r"^# (.+)", "\n".join(texts), re.MULTILINE)
    return found[1].strip() if found else "climwin"


def _is_live(book: NotebookNode) -> bool:
    """Whether a part of the notebook has numbers for the live chart."""
    outputs = (output for cell in book.cells for output in cell.get("outputs", []))
    return any('id="live-numbers"' in o.get("data", {}).get("text/html", "") for o in outputs)


def _hash(script: str) -> str:
    """What the page's policy knows its one script by."""
    return "sha256-" + base64.b64encode(hashlib.sha256(script.encode()).digest()).decode("ascii")


class _Exporter(TemplateExporter):
    """Through our own template alone, with every text escaped that is not HTML already."""

    template_file = "frame.html.j2"
    file_extension = ".html"
    output_mimetype = "text/html"

    def _create_environment(self) -> jinja2.Environment:
        own: jinja2.Environment = environment()
        own.filters["markdown2html"] = markdown2html
        return own
