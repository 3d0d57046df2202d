"""The house: rooms in order, no cycle inside one, one room with a socket, and a light import."""

import ast
import subprocess
import sys
from graphlib import TopologicalSorter

import pytest
from house import PACKAGE, TREES, imported

ROOMS = (
    *("core", "io", "stations", "crops", "climate", "shelter", "planning", "trials"),
    *("report", "plot", "widgets", "page", "batch", "cli"),
)
"""A room imports from those before it."""

HEAVY = ("dask", "ipywidgets", "anywidget", "jinja2", "matplotlib", "meteostat", "pandas", "scipy")
NETWORK = {
    *("aiohttp", "ftplib", "http", "httpx", "meteostat", "requests", "socket"),
    *("urllib", "urllib3"),
}


def modules(room):
    """Name and tree of every module of a room."""
    heads = {name: name.partition("/") for name in TREES}
    return {end: TREES[name] for name, (head, _, end) in heads.items() if head == room}


def test_every_folder_with_code_is_a_room():
    folders = {path.parent.name for path in PACKAGE.glob("*/*.py")}
    assert folders == set(ROOMS)


@pytest.mark.parametrize("room", ROOMS)
def test_a_room_imports_only_from_those_before_it(room):
    allowed = {"climwin", *(f"climwin.{each}" for each in ROOMS[: ROOMS.index(room) + 1])}
    found = {
        f"{name}: {module}"
        for name, tree in modules(room).items()
        for module in imported(tree)
        if module.split(".")[0] == "climwin" and module.count(".") >= 1
        if ".".join(module.split(".")[:2]) not in allowed
        if module.split(".")[1] in ROOMS
    }
    assert found == set()


@pytest.mark.parametrize("room", ROOMS)
def test_no_cycle_inside_a_room(room):
    own = modules(room)
    graph = {
        name: {
            module.split(".")[2]
            for module in imported(tree)
            if module.startswith(f"climwin.{room}.") and module.split(".")[2] in own
        }
        for name, tree in own.items()
    }
    TopologicalSorter(graph).prepare()  # raises CycleError, which names the modules


def test_only_the_stations_room_opens_the_network():
    callers = {
        name
        for name, tree in TREES.items()
        if NETWORK & {module.split(".")[0] for module in imported(tree)}
    }
    assert callers == {"stations/meteostat_client"}


PROCESS_WIDE = {
    *("install_opener", "setdefaulttimeout", "setlocale", "chdir", "umask", "seterr"),
    *("simplefilter", "filterwarnings", "catch_warnings", "rcParams", "rc_context", "set_loglevel"),
    *("basicConfig", "disable", "setLevel"),
}
"""Names by which the standard library, NumPy and matplotlib change something for all threads."""
OWN_PROCESS = {"cli/main"}
"""The command, which is the whole process itself."""


def test_nothing_of_the_whole_process_is_changed():
    changing = {
        name
        for name, tree in TREES.items()
        for node in ast.walk(tree)
        if isinstance(node, ast.Attribute | ast.Name)
        if getattr(node, "attr", getattr(node, "id", "")) in PROCESS_WIDE
    }
    assert changing <= OWN_PROCESS


def test_import_is_light():
    code = "import sys, xarray; own = {*sys.modules}; import climwin; print(*{*sys.modules} - own)"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert not set(HEAVY) & set(done.stdout.split())  # xarray takes pandas along; 2025.11 scipy too
