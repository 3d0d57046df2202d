"""A kernel started for a notebook leaves nothing behind: no process, no open file."""

import os
import signal
import sys
import threading
import time
from pathlib import Path

import nbformat
import pytest
from nbclient.exceptions import CellExecutionError

from climwin.cli import extras
from climwin.cli.kernel import execute
from climwin.cli.main import main

pytestmark = [
    pytest.mark.slow,
    pytest.mark.skipif(not Path("/proc/self/fd").is_dir(), reason="counts by /proc, as on Linux"),
]


def children():
    """Processes whose parent is this one."""
    found = []
    for stat in Path("/proc").glob("[0-9]*/stat"):
        try:
            _, _, rest = stat.read_text().rpartition(")")  # behind the name, which may hold blanks
        except OSError:  # it has ended since
            continue
        if int(rest.split()[1]) == os.getpid():
            found.append(stat.parent.name)
    return sorted(found)


def descriptors():
    return len(list(Path("/proc/self/fd").iterdir()))


def book(source):
    return nbformat.v4.new_notebook(cells=[nbformat.v4.new_code_cell(source)])


@pytest.fixture
def nothing_left(tmp_path):
    """Fails where a child or a descriptor more is there after the test than before it."""
    execute(book("1"), tmp_path)  # what the first kernel of a process imports, once, stays open
    before = children(), descriptors()
    yield
    assert (children(), descriptors()) == before


@pytest.mark.usefixtures("nothing_left")
def test_a_notebook_that_runs(tmp_path):
    ran = book("import os\nprint(os.getpid())\nprint('lines')\nopen('made', 'w').close()")
    execute(ran, tmp_path)
    [output] = ran.cells[0].outputs  # both lines are one output
    kernel, lines = output["text"].split()
    assert lines == "lines"
    assert not Path("/proc", kernel).exists()
    assert (tmp_path / "made").exists()  # its paths begin in the folder


@pytest.mark.usefixtures("nothing_left")
def test_a_notebook_that_fails(tmp_path):
    with pytest.raises(CellExecutionError, match="ZeroDivisionError"):
        execute(book("1 / 0"), tmp_path)


@pytest.mark.usefixtures("nothing_left")
def test_a_kernel_that_dies(tmp_path):
    with pytest.raises(RuntimeError, match="Kernel died"):
        execute(book("import os\nos._exit(3)"), tmp_path)


@pytest.mark.usefixtures("nothing_left")
def test_a_notebook_that_is_stopped(tmp_path):
    begun = tmp_path / "begun"

    def stop():
        while not begun.exists():
            time.sleep(0.05)
        os.kill(os.getpid(), signal.SIGINT)

    stopper = threading.Thread(target=stop)
    stopper.start()
    source = "import time\nopen('begun', 'w').close()\ntime.sleep(600)"
    start = time.monotonic()
    with pytest.raises(KeyboardInterrupt):
        execute(book(source), tmp_path)
    stopper.join()
    assert time.monotonic() - start < 60


def test_what_is_missing_is_named_in_one_sentence(monkeypatch, capsys):
    here = extras.find_spec
    monkeypatch.setattr(
        extras, "find_spec", lambda name: None if name == "nbclient" else here(name)
    )
    monkeypatch.setitem(sys.modules, "climwin.cli.kernel", None)  # not even tried
    assert main(["notebook", "a_trial_this_season"]) == 1
    assert capsys.readouterr().err == (
        "climwin: Running a notebook takes nbclient, not installed here. Install it with: "
        "pip install 'climwin[notebook]'\n"
    )
