"""Functions run each in a process of its own, with what they took: time, CPU and memory."""

from __future__ import annotations

import json
import re
import resource
import subprocess
import sys
import time
from collections.abc import Callable, Mapping
from pathlib import Path

Told = dict[str, float]
Function = Callable[..., Told | None]


def alone(file: str, function: str, *given: object) -> Told:
    """What a function of a file tells, see `tell`."""
    command = [sys.executable, file, function, *map(str, given)]
    done = subprocess.run(command, check=True, capture_output=True, text=True)
    told: Told = json.loads(done.stdout.splitlines()[-1])
    return told


def tell(functions: Mapping[str, Function]) -> None:
    """Run the function that the command line names, and print what it took.

    Seconds that pass ``s``; CPU, with that of processes that it started, ``cpu`` [s]; most memory
    of any of these processes, ``MB``; and what the function itself tells.
    """
    name, *given = sys.argv[1:]
    began = time.perf_counter()
    found = functions[name](*given) or {}
    taken = time.perf_counter() - began
    of_all = [resource.getrusage(who) for who in (resource.RUSAGE_SELF, resource.RUSAGE_CHILDREN)]
    cpu = sum(each.ru_utime + each.ru_stime for each in of_all)
    most = max(most_memory(), of_all[1].ru_maxrss / 1024)
    print(json.dumps({"s": taken, "cpu": cpu, "MB": most} | found))


def most_memory() -> float:
    """Most memory that this process held so far. [MB]

    Linux counts in ``ru_maxrss`` what the process that started this one held by then, but not in
    its own account of it.
    """
    account = Path("/proc/self/status")
    if account.exists():
        held = re.search(r"^VmHWM:\s*(\d+) kB", account.read_text(), re.MULTILINE)
        if held is not None:
            return int(held[1]) / 1024
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
