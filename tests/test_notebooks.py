"""Every notebook runs from top to bottom on the sample, and is kept without outputs."""

import json
from pathlib import Path

import nbformat
import pytest
from nbclient import NotebookClient

NOTEBOOKS = sorted((Path(__file__).parents[1] / "notebooks").glob("*.ipynb"))


def _code(path):
    return [c for c in nbformat.read(path, 4).cells if c.cell_type == "code"]


@pytest.mark.parametrize("path", NOTEBOOKS, ids=lambda p: p.stem)
def test_it_runs(path, tmp_path):
    book = nbformat.read(path, 4)
    parameters = next(c for c in book.cells if "parameters" in c.metadata.get("tags", []))
    parameters.source += f"\npage = {str(tmp_path / 'page.html')!r}"
    NotebookClient(
        book, timeout=300, resources={"metadata": {"path": str(path.parent)}}, kernel_name="python3"
    ).execute()
    assert all(c.execution_count for c in book.cells if c.cell_type == "code")


@pytest.mark.parametrize("path", NOTEBOOKS, ids=lambda p: p.stem)
def test_it_is_short_and_kept_without_outputs(path):
    cells = _code(path)
    assert all(not c.outputs and c.execution_count is None for c in cells)
    source = "\n".join(c.source for c in cells)
    assert "def " not in source
    assert len([line for line in source.splitlines() if line.strip()]) <= 40
    assert json.loads(path.read_text("utf-8"))["metadata"]["kernelspec"]["name"] == "python3"


def test_there_are_notebooks():
    assert NOTEBOOKS
