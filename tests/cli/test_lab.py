"""The notebooks on a desk of one's own: copied, never overwritten, opened."""

import sys
from pathlib import Path

import pytest

from climwin.cli import lab

NOTEBOOKS = sorted((Path(__file__).parents[2] / "notebooks").glob("*.ipynb"))


def test_copies_are_whole_and_work_is_never_overwritten(tmp_path):
    desk = tmp_path / "a new" / "desk"
    assert lab.copy_notebooks(desk) == desk.resolve()
    for book in NOTEBOOKS:
        assert (desk / book.name).read_bytes() == book.read_bytes()
    (desk / NOTEBOOKS[0].name).write_text("my own work")
    (desk / NOTEBOOKS[1].name).unlink()
    (desk / "mine.ipynb").write_text("mine")
    lab.copy_notebooks(desk)
    assert (desk / NOTEBOOKS[0].name).read_text() == "my own work"
    assert (desk / "mine.ipynb").read_text() == "mine"
    assert (desk / NOTEBOOKS[1].name).read_bytes() == NOTEBOOKS[1].read_bytes()


def test_lab_opens_the_folder(tmp_path, monkeypatch):
    asked = []
    monkeypatch.setattr(lab.subprocess, "run", lambda command, **_: asked.append(command))
    monkeypatch.setattr(lab.os, "geteuid", lambda: 1000, raising=False)
    lab.lab(lab.LabOptions(tmp_path, as_root=False))
    start = "--LabApp.default_url=/lab/tree/start_here.ipynb"
    assert asked == [[sys.executable, "-m", "jupyterlab", str(tmp_path.resolve()), start]]
    assert (tmp_path / "start_here.ipynb").is_file()
    assert len(list(tmp_path.glob("*.ipynb"))) == len(NOTEBOOKS)
    with pytest.raises(ValueError, match="--as-root has no effect"):
        lab.lab(lab.LabOptions(tmp_path, as_root=True))


def test_as_root_it_says_how_to_start_it(tmp_path, monkeypatch):
    asked = []
    monkeypatch.setattr(lab.subprocess, "run", lambda command, **_: asked.append(command))
    monkeypatch.setattr(lab.os, "geteuid", lambda: 0, raising=False)
    with pytest.raises(ValueError, match="give `climwin lab --as-root`"):
        lab.lab(lab.LabOptions(tmp_path, as_root=False))
    assert asked == []
    lab.lab(lab.LabOptions(tmp_path, as_root=True))
    assert asked[0][-2:] == ["--allow-root", "--ip=0.0.0.0"]


def test_without_jupyterlab_it_says_what_to_install(tmp_path, monkeypatch):
    monkeypatch.setattr(lab, "find_spec", lambda _: None)
    with pytest.raises(ValueError, match=r"pip install 'climwin\[notebook\]'"):
        lab.lab(lab.LabOptions(tmp_path, as_root=False))


def test_without_notebooks_it_says_so(tmp_path, monkeypatch):
    monkeypatch.setattr(lab, "_NOTEBOOKS", (tmp_path / "nowhere",))
    with pytest.raises(ValueError, match="installed without its notebooks"):
        lab.copy_notebooks(tmp_path)
