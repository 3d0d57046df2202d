"""The house: every module has a floor, leans on lower ones alone, and stays small."""

import ast
import subprocess
import sys
from pathlib import Path

PACKAGE = Path(__file__).parents[1] / "climwin"

FLOORS = {
    "ground": "schema",
    "shapes": "scenario seasons stats",
    "disk": "regular whole",
    "files": "exports grids layouts tables toml_file",
    "edges": "assembly crops gazetteer history loggers simulation store",
    "reading": "nearby readers years",
    "archive": "archive",
    "science of a record": "bands freeze heat homogeneity microclimate quality rain shelter soil "
    "trends warm_soil",
    "science of a crop": "records spaces usable",
    "windows": "windows",
    "ways of growing": "plans robustness trials",
    "weather of a plan": "weather",
    "counting": "tally",
    "judging": "judging",
    "order of work": "answers chart_numbers panel_state planning report suiting timetable",
    "words": "batches words",
    "tools of the views": "behind calendar look page_given page_print parts words_climate "
    "words_doubts words_garden words_tables",
    "drawing": "figures figures_freeze figures_garden figures_plans figures_region figures_space "
    "figures_weather",
    "many places, and what the views share": "many_stations page_files panel_work",
    "pieces of the views": "page_live page_tables panel_picture",
    "panels": "widgets",
    "contents of the page": "page_contents",
    "parts of the page": "page_parts",
    "parts of a club's page": "club_parts",
    "the page as a notebook": "page_notebook",
    "page to share": "page",
    "club": "club",
    "commands": "commands lab options",
    "more commands": "commands_growing commands_many commands_notebooks commands_planning "
    "commands_stations",
    "shell": "cli",
}
"""From the ground up: a module imports from lower floors, never from its own or a higher one."""

FLOOR = {name: n for n, floor in enumerate(FLOORS.values()) for name in floor.split()}
SOURCES = {path.stem: path.read_text("utf-8") for path in sorted(PACKAGE.glob("*.py"))}
MODULES = [name for name in SOURCES if not name.startswith("__")]
TREES = {name: ast.parse(source) for name, source in SOURCES.items()}

HEAVY = ("dask", "ipywidgets", "anywidget", "jinja2", "matplotlib", "meteostat", "pandas", "scipy")
NETWORK = {
    "aiohttp",
    "ftplib",
    "http",
    "httpx",
    "meteostat",
    "requests",
    "socket",
    "urllib",
    "urllib3",
}


def imported(tree):
    """Full names of all modules that a tree imports, wherever in it."""
    for node in ast.walk(tree):
        if isinstance(node, ast.Import):
            yield from (alias.name for alias in node.names)
        elif isinstance(node, ast.ImportFrom):
            yield node.module
            yield from (f"{node.module}.{alias.name}" for alias in node.names)


def own_imports(tree):
    """Modules of the package that a tree imports."""
    names = (name.split(".") for name in imported(tree))
    return {
        parts[1] for parts in names if parts[0] == "climwin" and parts[1:2] and parts[1] in MODULES
    }


def functions():
    """Name and node of every function, those inside others too."""
    for name, tree in TREES.items():
        for node in ast.walk(tree):
            if isinstance(node, ast.FunctionDef):
                yield f"{name}.{node.name}", node


def code_lines(name, node):
    """Lines of a function that are no docstring, comment or empty."""
    source = SOURCES[name.split(".")[0]].splitlines()
    first = node.body[0]
    documented = ast.get_docstring(node) is not None
    docstring = range(first.lineno, first.end_lineno + 1) if documented else ()
    lines = (
        source[n - 1].strip() for n in range(node.lineno, node.end_lineno + 1) if n not in docstring
    )
    return sum(bool(line) and not line.startswith("#") for line in lines)


# --- floors -------------------------------------------------------------------------------


def test_every_module_has_a_floor_and_leans_on_lower_ones_alone():
    assert [name for name in MODULES if name not in FLOOR] == []
    assert [name for name in FLOOR if name not in MODULES] == []
    pairs = [(name, other) for name in MODULES for other in own_imports(TREES[name])]
    assert [(name, other) for name, other in pairs if FLOOR[other] >= FLOOR[name]] == []


def test_only_history_opens_the_network():
    callers = {
        name
        for name, tree in TREES.items()
        if NETWORK & {module.split(".")[0] for module in imported(tree)}
    }
    assert callers == {"history"}


def test_import_is_light():
    code = "import sys, xarray; own = {*sys.modules}; import climwin; print(*{*sys.modules} - own)"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert not set(HEAVY) & set(done.stdout.split())  # xarray takes pandas along; 2025.11 scipy too


# --- size ---------------------------------------------------------------------------------


def test_modules_are_under_400_lines():
    lines = {name: len(source.splitlines()) for name, source in SOURCES.items()}
    assert {name: count for name, count in lines.items() if count >= 400} == {}


def test_functions_are_under_40_code_lines():
    counts = {name: code_lines(name, node) for name, node in functions()}
    assert {name: count for name, count in counts.items() if count >= 40} == {}


def test_functions_take_at_most_five_parameters_by_place():
    by_place = {
        name: [a.arg for a in (*node.args.posonlyargs, *node.args.args) if a.arg != "self"]
        for name, node in functions()
    }
    assert {name: taken for name, taken in by_place.items() if len(taken) > 5} == {}
