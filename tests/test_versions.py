"""Versions that pyproject.toml states, those that CI installs, and warnings of what will end."""

import re
import tomllib
import types
import warnings
from pathlib import Path

import pytest
from packaging.requirements import Requirement

ROOT = Path(__file__).parents[1]
STATED = tomllib.loads((ROOT / "pyproject.toml").read_text("utf-8"))
EXTRAS = STATED["project"]["optional-dependencies"]
USED = [
    Requirement(text)
    for text in (
        *STATED["project"]["dependencies"],
        *EXTRAS["notebook"],
        *EXTRAS["many"],
        *STATED["dependency-groups"]["test"],
    )
]

CONSTRAINTS = ["constraints.txt", "constraints-lowest.txt", "constraints-newest.txt"]


def one_name(name):
    return re.sub(r"[-_.]+", "-", name).lower()


def pins(file):
    lines = (ROOT / file).read_text("utf-8").splitlines()
    pairs = (line.split("==") for line in lines if "==" in line)
    return {one_name(name): version for name, version in pairs}


def lower_bound(requirement):
    return next(each.version for each in requirement.specifier if each.operator == ">=")


@pytest.mark.parametrize("file", CONSTRAINTS)
@pytest.mark.parametrize("requirement", USED, ids=lambda each: each.name)
def test_what_ci_installs_is_what_is_stated(file, requirement):
    assert requirement.specifier.contains(pins(file)[one_name(requirement.name)])


@pytest.mark.parametrize("requirement", USED, ids=lambda each: each.name)
def test_the_lowest_leg_tests_the_lower_bound(requirement):
    bound = lower_bound(requirement).split(".")
    pinned = pins("constraints-lowest.txt")[one_name(requirement.name)].split(".")
    assert pinned[: len(bound)][:2] == bound[:2]


@pytest.mark.parametrize("file", CONSTRAINTS)
def test_pins_name_no_place(file):
    for line in (ROOT / file).read_text("utf-8").splitlines():
        assert re.fullmatch(r"#.*|[\w.-]+==[\w.+!]+", line)


HELPERS = [
    path.stem
    for folder in ("tests", "data_samples")
    for path in sorted((ROOT / folder).glob("*.py"))
    if not path.stem.startswith("test_")
]


@pytest.mark.parametrize(
    "name", ["climwin", "climwin.core.seasons", "test_seasons", "tests.core.test_seasons", *HELPERS]
)
@pytest.mark.parametrize("kind", [DeprecationWarning, FutureWarning, PendingDeprecationWarning])
def test_a_warning_of_what_will_end_is_an_error_in_our_modules(kind, name):
    def library():
        warnings.warn("this will end", kind, stacklevel=2)

    ours = types.FunctionType((lambda f: f()).__code__, {"__name__": name})
    with pytest.raises(kind, match="this will end"):
        ours(library)
