"""The package as text and as trees, for tests that read it."""

import ast
from functools import cache
from pathlib import Path

PACKAGE = Path(__file__).parents[1] / "climwin"
SOURCES = {
    path.relative_to(PACKAGE).with_suffix("").as_posix(): path.read_text("utf-8")
    for path in sorted(PACKAGE.rglob("*.py"))
}


@cache
def trees():
    """Each module's tree, by its name; parsed when it is first asked for, since that takes 2 s."""
    return {name: ast.parse(source) for name, source in SOURCES.items()}


def imported(tree):
    """Full names of all modules that a tree imports, wherever in it."""
    for node in ast.walk(tree):
        if isinstance(node, ast.Import):
            yield from (alias.name for alias in node.names)
        elif isinstance(node, ast.ImportFrom):
            yield node.module
            yield from (f"{node.module}.{alias.name}" for alias in node.names)
