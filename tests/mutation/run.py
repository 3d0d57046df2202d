"""Spoil the science in small ways, one at a time, and count what its tests notice.

`make mutate` takes every module named here; `make mutate MODULES="stats heat"` takes two. A module
meets its own tests and nobody else's, so a change that only a distant test would see counts as
unseen. What is left unseen is written beside the table, as differences, to be met by a test or
explained in HARD_USE.md.
"""

import argparse
import os
import shutil
import subprocess
import sys
import tempfile
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
SCIENCE = """core/stats core/runs core/seasons io/quality stations/download climate/percentiles
climate/freeze climate/heat climate/breakpoints climate/_monthly climate/adjust climate/joining
climate/comparison climate/rain climate/soil climate/response climate/radiation climate/trends
climate/_windows_kernel climate/usable climate/windows climate/sensitivity crops/bands crops/explain
shelter/covers shelter/risk planning/plan planning/site planning/phases planning/heat_needs
planning/emergence planning/growth planning/perennial planning/chilling planning/grown
planning/over_sites planning/counts planning/evaluate planning/sweep planning/dates planning/spans
planning/selection planning/schedule planning/suitability planning/timetable planning/season
planning/traces planning/ways trials/design trials/analysis"""
MIRRORED_BY = {
    "climate/_monthly": "climate/adjust",
    "climate/_windows_kernel": "climate/windows",
    "climate/usable": "climate/windows",
    "planning/site": "planning/growth",
    "planning/phases": "planning/growth",
    "planning/heat_needs": "planning/growth",
    "planning/emergence": "planning/growth",
    "planning/chilling": "planning/perennial",
    "planning/grown": "planning/evaluate",
    "planning/over_sites": "planning/evaluate",
    "planning/counts": "planning/evaluate",
    "planning/sweep": "planning/evaluate",
}
"""Modules without tests of their own name, and the one whose tests are theirs."""
BESIDE = {
    "planning/site": "planning/evaluate",
    "planning/growth": "planning/evaluate",
    "planning/evaluate": "planning/suitability",
    "planning/counts": "planning/suitability",
    "planning/sweep": "planning/suitability",
    "planning/spans": "planning/dates",
    "planning/traces": "planning/season",
}
"""Tests that a module leans on beside its own."""
SETTINGS = """\
[mutmut]
source_paths = climwin
only_mutate = climwin/{module}.py
also_copy =
    climwin
    data_samples
    notebooks
pytest_add_cli_args =
    --hypothesis-seed=0
    --quiet
pytest_add_cli_args_test_selection =
    {tests}
    {beside}
process_isolation = forkserver
timeout_constant = 60.0
"""


def mutmut(*words: str, within: Path) -> str:
    """What the library prints when it is called with `words` in a folder."""
    command = [sys.executable, "-m", "mutmut", *words]
    done = subprocess.run(command, cwd=within, capture_output=True, text=True)
    if done.returncode:
        sys.exit(f"{' '.join(words)} failed:\n{done.stdout[-4000:]}{done.stderr[-4000:]}")
    return done.stdout


def spoil(module: str, ending: str, processes: int, within: Path) -> tuple[int, list[str]]:
    """How many changes of one module were tried, and the difference of each unseen one."""
    shutil.rmtree(within / "mutants", ignore_errors=True)
    (within / "setup.cfg").write_text(
        SETTINGS.format(
            module=module, tests=tests_of(module), beside=tests_of(BESIDE.get(module, module))
        )
    )
    mutmut("run", "--max-children", f"{processes}", f"*__mutmut_*[{ending}]", within=within)
    lines = mutmut("results", "--all", "true", within=within).splitlines()
    fates = [line.strip().rpartition(": ")[::2] for line in lines if ": " in line]
    tried = [(name, fate) for name, fate in fates if fate != "not checked"]
    unseen = [name for name, fate in tried if fate != "killed"]
    with ThreadPoolExecutor() as pool:
        return len(tried), list(pool.map(lambda name: mutmut("show", name, within=within), unseen))


def tests_of(module: str) -> str:
    """Where the tests of a module stand."""
    folder, name = MIRRORED_BY.get(module, module).split("/")
    return f"tests/{folder}/test_{name}.py"


def copy_of_the_tree(to: Path) -> None:
    """What the tests of the science need, without environments and caches."""
    for name in ("climwin", "tests", "data_samples", "notebooks"):
        shutil.copytree(ROOT / name, to / name, ignore=shutil.ignore_patterns("__pycache__"))
    shutil.copy(ROOT / "pyproject.toml", to)


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("modules", nargs="*", metavar="MODULE", help="all of the science if none")
    parser.add_argument("--unseen", type=Path, default=Path("unseen.diff"), help="file to write")
    parser.add_argument(
        "--ending", default="0-9", help="only changes whose number ends so: 37 is a fifth of them"
    )
    parser.add_argument("--processes", type=int, default=os.cpu_count() or 1, help="[all cores]")
    given = parser.parse_args()
    science = SCIENCE.split()
    if wrong := sorted(set(given.modules) - set(science)):
        parser.error(f"no module of the science: {' '.join(wrong)}; there are {SCIENCE}")
    print("| module | changes | noticed | share |\n| --- | --- | --- | --- |", flush=True)
    with tempfile.TemporaryDirectory() as folder, given.unseen.open("w") as out:
        copy_of_the_tree(Path(folder))
        for module in given.modules or science:
            tried, unseen = spoil(module, given.ending, given.processes, Path(folder))
            noticed = tried - len(unseen)
            print(f"| {module} | {tried} | {noticed} | {noticed / tried:.0%} |", flush=True)
            out.writelines(unseen)
            out.flush()


if __name__ == "__main__":
    main()
