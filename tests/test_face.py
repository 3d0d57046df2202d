"""The public face: a stub that says what there is, loaded name by name when first used."""

import ast
import inspect
import subprocess
import sys
from importlib import import_module
from pathlib import Path

import pytest

import climwin

ROOT = Path(__file__).parents[1]
STUB = ast.parse((ROOT / "climwin" / "__init__.pyi").read_text("utf-8"))
HOMES = {
    alias.name: node.module
    for node in STUB.body
    if isinstance(node, ast.ImportFrom)
    for alias in node.names
}
"""Home of every name of the stub; none for a module."""


def test_every_name_of_the_stub_is_there_and_is_its_home_s():
    assert len(HOMES) > 100
    for name, home in HOMES.items():
        if home is None:
            assert getattr(climwin, name) is import_module(f"climwin.{name}")
        else:
            assert getattr(climwin, name) is getattr(import_module(f"climwin.{home}"), name)


def test_the_face_has_no_other_names_than_the_stub():
    [listed] = [
        node.value
        for node in STUB.body
        if isinstance(node, ast.Assign) and ast.unparse(node.targets[0]) == "__all__"
    ]
    assert {*ast.literal_eval(listed)} == {*HOMES} == {*climwin.__all__}
    assert {*climwin.__all__} <= {*dir(climwin)}


def test_no_name_has_another_in_the_stub():
    """The loader knows a name by what its home calls it."""
    for node in STUB.body:
        if isinstance(node, ast.ImportFrom):
            assert all(alias.asname == alias.name for alias in node.names)


def test_no_name_is_a_folder_s_name():
    """Importing the folder would put it in the name's place."""
    folders = {path.parent.name for path in (ROOT / "climwin").glob("*/__init__.py")}
    assert {name for name, home in HOMES.items() if home} & folders == set()


@pytest.mark.parametrize("first", ["import climwin as cw; cw.crop", "pass"])
def test_a_folder_is_the_module(first):
    code = (
        f"{first}; import climwin.crops, types;"
        "print(isinstance(climwin.crops, types.ModuleType), climwin.crop('pea').name)"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.split() == ["True", "pea"]


def test_figures_are_there_by_name():
    stub = ast.parse((ROOT / "climwin" / "plot" / "__init__.pyi").read_text("utf-8"))
    names = [a.name for n in stub.body if isinstance(n, ast.ImportFrom) for a in n.names]
    assert {*names} == {*climwin.plot.__all__}
    assert all(callable(getattr(climwin.plot, name)) for name in names)


def test_a_name_that_is_not_there_is_refused():
    with pytest.raises(AttributeError, match="frost_dates"):
        climwin.frost_dates  # noqa: B018


def test_every_function_has_an_example():
    functions = [name for name in HOMES if inspect.isfunction(getattr(climwin, name))]
    without = [n for n in functions if ">>> " not in (getattr(climwin, n).__doc__ or "")]
    assert not without, f"without an example: {', '.join(without)}"


# --- types --------------------------------------------------------------------------------

SCRIPT = """
import climwin as cw

daily = cw.read_daily(cw.sample())
windows = cw.usable_windows(daily, cw.crop("pea"))
reveal_type(windows)
grown = cw.evaluate_plan(cw.Plan(cw.crop("pea"), "04-10"), daily)
reveal_type(grown)
cw.plot_calendar(cw.planting_calendar(daily))
"""


@pytest.fixture(scope="module")
def checked(tmp_path_factory):
    """What mypy says of a user's script, line by line, and of the same with a name misspelled.

    Both are checked in one run, since to read all the libraries takes mypy half a minute.
    """
    pytest.importorskip("mypy")  # of the group `lint`, which the lowest and newest legs lack
    folder = tmp_path_factory.mktemp("scripts")
    (folder / "right.py").write_text(SCRIPT, "utf-8")
    misspelled = SCRIPT.replace("cw.usable_windows", "cw.usable_windowz")
    (folder / "misspelled.py").write_text(misspelled, "utf-8")
    scripts = ["right.py", "misspelled.py"]
    command = [sys.executable, "-m", "mypy", "--strict", f"--cache-dir={folder}", *scripts]
    done = subprocess.run(command, capture_output=True, text=True, cwd=folder)
    assert done.returncode == 1, done.stdout  # a name is misspelled
    said = done.stdout.splitlines()
    return {name: [line for line in said if line.startswith(name)] for name in scripts}


@pytest.mark.slow
def test_a_user_s_script_sees_the_types(checked):
    revealed = [line for line in checked["right.py"] if "note: Revealed type" in line]
    assert [line.partition(" note: ")[2] for line in revealed] == [
        'Revealed type is "xarray.core.dataset.Dataset"'
    ] * 2
    assert checked["right.py"] == revealed  # and nothing else: no error


@pytest.mark.slow
def test_a_name_misspelled_fails_the_script(checked):
    (error,) = [line for line in checked["misspelled.py"] if " error: " in line]
    assert 'has no attribute "usable_windowz"' in error
