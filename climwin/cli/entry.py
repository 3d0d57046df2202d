"""Where the command ``climwin`` begins: an interrupt at any moment ends it in one line."""

from __future__ import annotations

import gc
import os
import signal
import sys


def run() -> int:
    """Run the command that was typed; return its exit code."""
    # Its matrices are small: threads that wait for the next one take more time than they save.
    # NumPy reads this once, when it is loaded.
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
    # A command makes much and lets go of little. Looking for garbage all the while takes a quarter
    # of the time in which the names of places are read.
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
