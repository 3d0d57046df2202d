"""Ctrl-C, at any moment, ends the command in one line."""

import signal
import subprocess
import sys
import textwrap

import pytest

# A process begun in the background of a script is deaf to Ctrl-C, and so is what it starts.
_HEEDS_CTRL_C = "import signal; signal.signal(signal.SIGINT, signal.default_int_handler)\n"
_INTERRUPTED_IMPORT = """
    import os, signal, sys
    class Finder:  # Ctrl-C while a module of the command is looked for
        def find_spec(self, name, path=None, target=None):
            if name == "climwin.cli.crops":
                os.kill(os.getpid(), signal.SIGINT)
    sys.meta_path.insert(0, Finder())
    sys.argv = ["climwin", "crops"]
    from climwin.cli.entry import run
    sys.exit(run())
"""
_INTERRUPTED_WORK = """
    import os, signal, sys
    import climwin.crops.catalogue as catalogue
    def interrupted(*_): os.kill(os.getpid(), signal.SIGINT)
    catalogue.crop_names = interrupted
    sys.argv = ["climwin", "crops"]
    from climwin.cli.entry import run
    sys.exit(run())
"""
_INTERRUPTED_END = """
    import atexit, os, signal, sys
    atexit.register(lambda: os.kill(os.getpid(), signal.SIGINT))
    sys.argv = ["climwin", "crops", "pea"]
    from climwin.cli.entry import run
    sys.exit(run())
"""


@pytest.mark.skipif(sys.platform == "win32", reason="signals of another kind")
@pytest.mark.parametrize(
    ("script", "code", "said"),
    [
        (_INTERRUPTED_IMPORT, 130, ["climwin: stopped"]),
        (_INTERRUPTED_WORK, 130, ["climwin: stopped"]),
        (_INTERRUPTED_END, -signal.SIGINT, []),
    ],
    ids=["while it loads", "while it works", "while Python clears up"],
)
def test_an_interrupt_ends_in_one_line(tmp_path, script, code, said):
    done = subprocess.run(
        [sys.executable, "-c", _HEEDS_CTRL_C + textwrap.dedent(script)],
        capture_output=True,
        text=True,
        cwd=tmp_path,
        timeout=120,
        check=False,
    )
    assert (done.returncode, done.stderr.splitlines()) == (code, said)
