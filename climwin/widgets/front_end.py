"""The front end's scripts and style sheet, as text to put into a notebook or a page.

Its source is in ``js/src``; ``make js`` bundles it into ``js/bundled``, which is committed.
"""

from __future__ import annotations

from importlib.resources import files

_JS = files("climwin.widgets") / "js"


def widget_script() -> str:
    """The live chart as an ES module: its default export renders a widget, `mount` a chart."""
    return (_JS / "bundled" / "widget.js").read_text("utf-8")


def season_script() -> str:
    """The panel of a season as an ES module, whose default export renders a widget."""
    return (_JS / "bundled" / "season.js").read_text("utf-8")


def page_script() -> str:
    """The live chart as the script of the page to share."""
    return (_JS / "bundled" / "page.js").read_text("utf-8")


def style() -> str:
    """The live chart's style sheet."""
    return (_JS / "chart.css").read_text("utf-8")
