"""Advice that names an option or a command names one that there is."""

import ast
import re
from pathlib import Path

import pytest
from test_language import options_of

import climwin
from climwin.cli.main import COMMANDS, GROUPS

SOURCES = sorted(Path(climwin.__file__).parent.rglob("*.py"))
OPTION = re.compile(r"(?<!var\()(?<![\w{;-])--[a-z][a-z-]+")
COMMAND = re.compile(r"`climwin ([a-z]+(?: [a-z]+)?)")


def said_in(path):
    """Texts of a module without its docstrings, of two words or more."""
    tree = ast.parse(path.read_text())
    docs = {id(node.value) for node in ast.walk(tree) if isinstance(node, ast.Expr)}
    for node in ast.walk(tree):
        is_text = isinstance(node, ast.Constant) and isinstance(node.value, str)
        if is_text and " " in node.value.strip() and id(node) not in docs:
            yield node.value


@pytest.fixture(scope="module")
def known():
    """What one may type after each command."""
    return {
        command.name: {part for typed in options_of(command.name) for part in typed.split("/")}
        for command in COMMANDS
    }


def test_every_option_that_a_text_names_is_one_of_a_command(known):
    every = {"--help"}.union(*known.values())
    named = {
        (option, path.name)
        for path in SOURCES
        for text in said_in(path)
        for option in OPTION.findall(text)
    }
    assert len(named) > 30  # else the texts were not found
    assert sorted(each for each in named if each[0] not in every) == []


def test_every_command_that_a_text_names_is_one(known):
    named = {
        (command, path.name)
        for path in SOURCES
        for text in said_in(path)
        for command in COMMAND.findall(text)
    }
    assert len(named) > 5

    def is_one(command):
        first = command.split()[0]
        return command in known or first in known or (command == first and first in GROUPS)

    assert sorted(each for each in named if not is_one(each[0])) == []
