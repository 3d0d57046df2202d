"""Where the command ``climwin`` begins: an interrupt at any moment ends it in one line."""

from __future__ import annotations

import gc
import os
import signal
import sys


def run() -> int:
    """Run the command that was typed; return its exit code."""
    # One thread is faster than several for matrices as small as ours. NumPy reads this when loaded.
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
    # A command makes many objects and frees few: with Python's own threshold the garbage collector
    # takes a quarter of the time that reading the names of places needs.
    gc.set_threshold(200_000)
    try:
        from climwin.cli.main import main  # takes a moment, in which one may press Ctrl-C

        return main()
    except KeyboardInterrupt:
        print("climwin: stopped", file=sys.stderr)
        return 130
    finally:
        # The work is over: another Ctrl-C, while Python clears up, ends the process and no more.
        signal.signal(signal.SIGINT, signal.SIG_DFL)
