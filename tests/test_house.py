"""The layout: folders in order, no cycle inside one, one with a socket, and a light import."""

import ast
import re
import subprocess
import sys
from graphlib import TopologicalSorter

import pytest
from house import PACKAGE, imported, trees

FOLDERS = (
    *("core", "io", "stations", "crops", "climate", "shelter", "planning", "trials"),
    *("report", "plot", "widgets", "page", "batch", "cli"),
)
"""A folder imports from those before it."""

HEAVY = ("dask", "ipywidgets", "anywidget", "jinja2", "matplotlib", "meteostat", "pandas", "scipy")
NETWORK = {
    *("aiohttp", "ftplib", "http", "httpx", "meteostat", "requests", "socket"),
    *("urllib", "urllib3"),
}
OFFLINE = "urllib.parse"
"""Of those, what only spells addresses."""


def modules(folder):
    """Name and tree of every module of a folder."""
    heads = {name: name.partition("/") for name in trees()}
    return {end: trees()[name] for name, (head, _, end) in heads.items() if head == folder}


def test_every_folder_with_code_is_listed():
    folders = {path.parent.name for path in PACKAGE.glob("*/*.py")}
    assert folders == set(FOLDERS)


@pytest.mark.parametrize("folder", FOLDERS)
def test_a_folder_imports_only_from_those_before_it(folder):
    allowed = {"climwin", *(f"climwin.{each}" for each in FOLDERS[: FOLDERS.index(folder) + 1])}
    found = {
        f"{name}: {module}"
        for name, tree in modules(folder).items()
        for module in imported(tree)
        if module.split(".")[0] == "climwin" and module.count(".") >= 1
        if ".".join(module.split(".")[:2]) not in allowed
        if module.split(".")[1] in FOLDERS
    }
    assert found == set()


@pytest.mark.parametrize("folder", FOLDERS)
def test_no_cycle_inside_a_folder(folder):
    own = modules(folder)
    graph = {
        name: {
            module.split(".")[2]
            for module in imported(tree)
            if module.startswith(f"climwin.{folder}.") and module.split(".")[2] in own
        }
        for name, tree in own.items()
    }
    TopologicalSorter(graph).prepare()  # raises CycleError, which names the modules


def test_only_stations_opens_the_network():
    callers = {
        name
        for name, tree in trees().items()
        if NETWORK
        & {module.split(".")[0] for module in imported(tree) if not module.startswith(OFFLINE)}
    }
    assert callers == {"stations/meteostat_client"}


PROCESS_WIDE = {
    *("install_opener", "setdefaulttimeout", "setlocale", "chdir", "umask", "seterr"),
    *("simplefilter", "filterwarnings", "catch_warnings", "rcParams", "rc_context", "set_loglevel"),
    *("basicConfig", "disable", "setLevel"),
}
"""Names by which the standard library, NumPy and matplotlib change something for all threads."""
OWN_PROCESS = {"cli/running"}
"""The command, which is the whole process itself."""


def test_nothing_of_the_whole_process_is_changed():
    changing = {
        name
        for name, tree in trees().items()
        for node in ast.walk(tree)
        if isinstance(node, ast.Attribute | ast.Name)
        if getattr(node, "attr", getattr(node, "id", "")) in PROCESS_WIDE
    }
    assert changing <= OWN_PROCESS


NUMBERS = re.compile(r"[,+]|[deEfFgGn%]$")
"""What a format specification has only for numbers; ``>9`` pads text."""
TEMPLATE = re.compile(r"\{[^{}]*:[^{}]*(?:[,+][^{}]*|[deEfFgGn%])\}")
PERCENT_SIGNS = re.compile(r"%[-+ #0]*\d*(?:\.\d+)?[deEfFgG]")
NOT_FOR_PEOPLE = {
    "io/ghcn": "a date in a file's own form",
    "io/grids": "the name of a cell, which files keep",
    "plot/svg": "where a drawing has its points",
    "page/club": "the name of a variable in a file",
}
"""Modules that format a number for something else than a sentence, and for what."""


def formats_a_number(node):
    """Whether a piece of code turns a number into text in a form of its own."""
    match node:
        case ast.FormattedValue(format_spec=ast.JoinedStr(values=pieces)):
            form = "".join(p.value for p in pieces if isinstance(p, ast.Constant))
            return bool(NUMBERS.search(form)) and not re.search(r"%[A-Za-z]", form)  # a date's form
        case ast.FormattedValue(value=ast.Call(func=ast.Name(id="round"))):
            return True
        case ast.Call(func=ast.Name(id="str"), args=[ast.Call(func=ast.Name(id="round"))]):
            return True
        case ast.Call(func=ast.Name(id="format")):
            return True
        case ast.Attribute(value=ast.Constant(value=str(text)), attr="format" | "format_map"):
            return bool(TEMPLATE.search(text))
        case ast.BinOp(left=ast.Constant(value=str(text)), op=ast.Mod()):
            return bool(PERCENT_SIGNS.search(text))
    return False


def formatting_in(tree):
    return [node.lineno for node in ast.walk(tree) if formats_a_number(node)]


def test_numbers_for_people_are_written_in_one_place():
    found = {name for name, tree in trees().items() if formatting_in(tree)}
    assert found == {"core/formatting", *NOT_FOR_PEOPLE}  # an exception without a case goes


@pytest.mark.parametrize(
    ("code", "formats"),
    [
        ('f"{x:.1f}"', True),
        ('f"{x:,}"', True),
        ('f"{x:+g} degC"', True),
        ('f"{x:.{digits}f}"', True),
        ('f"{x:.0%}"', True),
        ('f"{round(x)} days"', True),
        ('str(round(x)) + " days"', True),
        ('format(x, ".1f")', True),
        ('"{:.0f}".format', True),
        ('"%.1f" % x', True),
        ('f"{name:22} {days:>9}"', False),
        ('f"{text!r}"', False),
        ('f"{today:%Y-%m-%d}"', False),
        ('f"{fixed(x, 1)} degC"', False),
        ('"{station}-{year}".format(station=s, year=y)', False),
        ('"%s" % name', False),
    ],
)
def test_a_number_formatted_elsewhere_would_be_seen(code, formats):
    assert bool(formatting_in(ast.parse(code))) is formats


PLAIN_ERRORS = {
    "batch/stations": "caught there, and told with its file and line",
    "io/files": "caught by each reader, and told with its file",
    "page/record_file": "of whoever changes this package",
    "stations/cache": "caught there: the file is set aside",
    "stations/meteostat_client": "caught there, and told with the station",
}
"""Modules whose plain errors nobody outside meets, and why; the command's own speak its words."""


def test_errors_that_people_meet_are_made_of_pieces():
    raising = {
        name
        for name, tree in trees().items()
        for node in ast.walk(tree)
        if isinstance(node, ast.Raise) and isinstance(node.exc, ast.Call)
        if getattr(node.exc.func, "id", "") in ("ValueError", "TypeError", "KeyError")
        if not name.startswith("cli/")
    }
    assert raising == {*PLAIN_ERRORS}


def test_help_loads_no_command():
    code = (
        "import sys; from climwin.cli.main import parser; parser(['--help']).format_help(); "
        "print(*(name for name in sys.modules if name.startswith(('climwin', 'numpy'))))"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert {*done.stdout.split()} == {"climwin", "climwin.cli", "climwin.cli.main"}


def test_import_is_light():
    code = "import sys, xarray; own = {*sys.modules}; import climwin; print(*{*sys.modules} - own)"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert not set(HEAVY) & set(done.stdout.split())  # xarray takes pandas along; 2025.11 scipy too
