"""The page's parts as a notebook shows them: each a piece of HTML, every text in it escaped."""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Any

from climwin.page import contents, tables
from climwin.page.tables import Content, Page

PARTS: dict[str, Callable[[Page], Content]] = {
    "sheet": contents.sheet,
    "finding": contents.finding,
    "picture": contents.picture,
    "live": contents.live,
    "dates": contents.dates,
    "sure": contents.sure,
    "plans": tables.plans,
    "freezes": tables.freezes,
    "yearly": tables.yearly,
    "suiting": tables.suiting,
    "sources": contents.sources,
    "cautions": contents.cautions,
}
"""Each part by the name of its macro in ``data/page/parts.html.j2``."""


@dataclass(frozen=True)
class Fragment:
    """A piece of HTML, which a notebook shows as it is."""

    html: str = field(repr=False)

    def _repr_html_(self) -> str:
        return self.html


def part(name: str, page: Page) -> Fragment:
    """One part of the page.

    Parameters
    ----------
    name : str
        One of `PARTS`.
    page : Page
        What the page is made of.
    """
    return filled(name, PARTS[name](page))


def filled(name: str, content: Content, *, file: str = "parts.html.j2") -> Fragment:
    """A macro of a template, filled with content."""
    macro: Any = getattr(environment().get_template(file).module, name)
    return Fragment(str(macro(content)))


def environment() -> Any:
    """Jinja's environment of the page's templates; all text is escaped."""
    import jinja2

    return jinja2.Environment(
        loader=jinja2.PackageLoader("climwin.page", "templates"),
        autoescape=True,
        undefined=jinja2.StrictUndefined,
        finalize=_kept_together,
        trim_blocks=True,
        lstrip_blocks=True,
    )


def _kept_together(value: Any) -> Any:
    """A text whose numbers stay on one line with their month or their unit."""
    if type(value) is not str:  # what is HTML already stays as it is
        return value
    return re.sub(r"(\d) (?=[A-Z][a-z]{2}\b|[°%]|years?\b|days?\b)", "\\1\N{NO-BREAK SPACE}", value)
