"""HTML from the page's templates; every text in it is escaped."""

from __future__ import annotations

import base64
import hashlib
import re
from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import lru_cache
from importlib.resources import files
from typing import TYPE_CHECKING, Any

from climwin.core.dialect import in_dialect
from climwin.core.schema import Units
from climwin.core.text import plain_text, unbroken
from climwin.plot.style import css_colours
from climwin.widgets import front_end

if TYPE_CHECKING:
    from jinja2 import Environment

TEMPLATES = files("climwin.page") / "templates"


@dataclass(frozen=True)
class Fragment:
    """A piece of HTML, which a notebook shows as it is."""

    html: str = field(repr=False)

    def _repr_html_(self) -> str:
        return self.html


def fill_macro(
    template: str, macro: str, content: Mapping[str, Any], units: Units | None = None
) -> Fragment:
    """Fill a macro of a template.

    Parameters
    ----------
    template : str
        File of the template, such as ``"parts.html.j2"``.
    macro : str
        Which of its macros.
    content : mapping
        What the macro calls ``c``.
    units : {"C", "F"}, optional
        Whose English it speaks, see `climwin.core.dialect`; left out, as it is written.
    """
    filled: Any = getattr(environment().get_template(template).module, macro)
    html = str(filled(content))
    return Fragment(html if units is None else _in_dialect(html, units))


_TAG = re.compile(r"(<[^>]*>)")
_SPOKEN = re.compile(r'\b(alt|title|aria-label|data-head)="([^"]*)"')


def _in_dialect(html: str, units: Units) -> str:
    """HTML whose text, and whose attributes that are read out, are in the reader's own English."""

    def of_tag(tag: str) -> str:
        return _SPOKEN.sub(lambda said: f'{said[1]}="{in_dialect(said[2], units)}"', tag)

    parts = _TAG.split(html)  # text and tags by turns
    return "".join(of_tag(p) if n % 2 else in_dialect(p, units) for n, p in enumerate(parts))


@lru_cache(maxsize=1)
def environment() -> Environment:
    """Jinja's environment of the page's templates, which compiles each once; text is escaped."""
    import jinja2

    jinja = jinja2.Environment(
        loader=jinja2.PackageLoader("climwin.page", "templates"),
        autoescape=True,
        undefined=jinja2.StrictUndefined,
        finalize=_with_unbroken_units,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    jinja.filters["markdown_to_html"] = _markdown_to_html
    jinja.filters["with_heads_that_say_something"] = _with_heads_that_say_something
    return jinja


def _with_unbroken_units(value: Any) -> Any:
    """Text whose numbers stay on one line with their month or their unit."""
    if type(value) is not str:  # markup that is escaped already stays as it is
        return value
    return unbroken(plain_text(value, keep="\n\t"))


_HEAD = re.compile(r"<thead>.*?</thead>", re.DOTALL)


def _with_heads_that_say_something(table: str) -> str:
    """A table of pandas without a row of empty heads, which a single unnamed column has.

    An empty head beside others is a cell: heads are read out, and this one has nothing to say.
    """

    def head(found: re.Match[str]) -> str:
        if not _TAG.sub("", found[0]).strip():
            return ""
        return re.sub(r"<th([^>]*)></th>", r"<td\1></td>", found[0])

    return _HEAD.sub(head, table)


def _markdown_to_html(text: str) -> str:
    """Markdown of a notebook's cell as HTML.

    Pages have nothing but headings, which the frame's template writes itself; only notebooks that
    were run need a renderer, and nbconvert comes with what runs them.
    """
    if not text.strip():
        return ""
    from nbconvert.filters import markdown2html

    return str(markdown2html(text))


def render_notebook(notebook: Mapping[str, Any], *, title: str = "") -> str:
    """Render a notebook with its outputs as a page: code hidden, one file, nothing loaded.

    Parameters
    ----------
    notebook : mapping
        A notebook of format 4, the source of each cell one text. Its second-order headings become
        the page's sections; a cell tagged ``aside`` is left out.
    title : str
        Of the page; the notebook's first heading where it is left out.
    """
    live = _has_live_chart(notebook)
    script, style = (front_end.page_script(), front_end.style()) if live else ("", "")
    page = {
        "title": title or _first_heading(notebook),
        "style": css_colours() + (TEMPLATES / "page.css").read_text("utf-8") + style,
        "script": script,
        "hash": _hash(script),
    }
    frame = environment().get_template("frame.html.j2")
    return str(frame.render(notebook=notebook, page=page))


def _first_heading(notebook: Mapping[str, Any]) -> str:
    texts = [cell["source"] for cell in notebook["cells"] if cell["cell_type"] == "markdown"]
    heading = re.search(r"^# (.+)", "\n".join(texts), re.MULTILINE)
    return heading[1].strip() if heading else "climwin"


def _has_live_chart(notebook: Mapping[str, Any]) -> bool:
    """Whether an output of the notebook has numbers for the live chart."""
    outputs = (output for cell in notebook["cells"] for output in cell.get("outputs", []))
    return any('id="live-numbers"' in o.get("data", {}).get("text/html", "") for o in outputs)


def _hash(script: str) -> str:
    """Digest of the page's only script, for its content security policy."""
    return "sha256-" + base64.b64encode(hashlib.sha256(script.encode()).digest()).decode("ascii")
