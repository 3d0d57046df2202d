"""How `make docs` builds the reference: the methods page, the API by topic, and the notebooks.

The notebooks are shown from their sources, without outputs; the tests run them.
"""

import ast
from pathlib import Path

import climwin

HERE = Path(__file__).parent
STUB = Path(climwin.__file__).with_name("__init__.pyi")

project = "climwin"
author = "the climwin developers"
release = climwin.__version__
extensions = [
    "myst_nb",
    "sphinx.ext.autodoc",
    "sphinx.ext.autosummary",
    "sphinx.ext.mathjax",
    "numpydoc",
]
root_doc = "reference/index"
exclude_patterns = ["**/.ipynb_checkpoints"]
html_theme = "alabaster"
html_theme_options = {"page_width": "1080px", "description": "Climate windows for food growers"}
html_show_copyright = False
html_show_sourcelink = False

nb_execution_mode = "off"
myst_enable_extensions = ["dollarmath", "deflist"]
myst_heading_anchors = 3

autosummary_generate = True
autodoc_typehints = "none"  # numpydoc's Parameters say them
numpydoc_show_class_members = False
numpydoc_class_members_toctree = False
numpydoc_xref_param_type = False
default_role = "code"  # `name` in our docstrings is a name, of ours or of another library
suppress_warnings = ["ref.python"]  # names that a class and its module share


def public_names() -> dict[str, list[str]]:
    """Names of the public face by the module that they come from, as the stub lists them."""
    by_module: dict[str, list[str]] = {}
    for node in ast.parse(STUB.read_text("utf-8")).body:
        if isinstance(node, ast.ImportFrom) and node.module:
            by_module.setdefault(node.module, []).extend(
                alias.asname or alias.name for alias in node.names
            )
    return by_module


def heading(text: str, line: str) -> list[str]:
    """Lines of a heading in reStructuredText."""
    return [text, line * len(text), ""]


def first_line(module: str) -> str:
    """What a module's docstring says in its first line."""
    path = STUB.parent / module.replace(".", "/")
    source = path / "__init__.py" if path.is_dir() else path.with_suffix(".py")
    text = ast.get_docstring(ast.parse(source.read_text("utf-8"))) or module
    return text.splitlines()[0]


def write_api_page(to: Path) -> None:
    """Write the list of the public face: a part for each folder, a table for each module."""
    lines = heading("API", "=")
    lines += ["``import climwin as cw`` offers all of these by name.", ""]
    folder = ""
    for module, names in sorted(public_names().items()):
        if module.partition(".")[0] != folder:
            folder = module.partition(".")[0]
            lines += [*heading(folder, "-"), first_line(folder), ""]
        lines += [*heading(first_line(module).rstrip("."), "~")]
        lines += [".. currentmodule:: climwin", "", ".. autosummary::", "   :toctree: generated"]
        lines += ["", *(f"   {name}" for name in sorted(names)), ""]
    text = "\n".join(lines)
    if not to.exists() or to.read_text("utf-8") != text:
        to.write_text(text, "utf-8")


write_api_page(HERE / "api.rst")
