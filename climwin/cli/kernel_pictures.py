"""Figures and panels of a notebook that the command runs, as its page shows them.

Each stands there as two drawings, for a page and for a phone, with text that can be found and inks
for light and dark paper. A notebook that is kept as one has pictures instead, which all viewers
show.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from climwin.core.dialect import in_dialect
from climwin.core.schema import Units

if TYPE_CHECKING:
    from matplotlib.figure import Figure

SETUP = (
    "from climwin.cli.kernel_pictures import draw_for_a_page\n"
    "draw_for_a_page(get_ipython())\n"
    "del draw_for_a_page"
)
"""Lines for the cell that `climwin notebook` puts before the first of a notebook."""


def draw_for_a_page(shell: Any) -> None:
    """Have an IPython shell show figures and panels as drawings for a page.

    Parameters
    ----------
    shell : IPython.core.interactiveshell.InteractiveShell
        Of the kernel; the notebook's own ``units`` tell the English of its figures.
    """
    from matplotlib.figure import Figure

    from climwin.widgets.panels import Panel
    from climwin.widgets.season import SeasonPanel

    def figure_html(figure: Figure) -> str:
        return drawn_twice(figure, shell.user_ns.get("units", "C"))

    def panel_html(panel: Panel) -> str:
        return drawn_twice(panel.picture(), panel.units)

    def season_html(panel: SeasonPanel) -> str:
        return drawn_twice(panel.picture(), panel.units) + panel.text_html()

    html, png = (
        shell.display_formatter.formatters[f"{kind}"] for kind in ("text/html", "image/png")
    )
    html.for_type(Figure, figure_html)
    html.for_type(Panel, panel_html)
    html.for_type(SeasonPanel, season_html)
    png.for_type(Figure, lambda _: None)


def drawn_twice(figure: Figure, units: Units) -> str:
    """A figure as HTML for a page: its drawing, and its twin for a phone if it has one.

    Parameters
    ----------
    figure : matplotlib.figure.Figure
        From `climwin.plot`; it is drawn once and for all, and of no use afterwards.
    units : {"C", "F"}
        Whose English it speaks.
    """
    from climwin.page import assets
    from climwin.page.html import environment

    twin = getattr(figure, "narrow_twin", None)
    title = " ".join(in_dialect(figure, units).get_suptitle().split())
    if twin is None:
        drawn = assets.drawn_once(figure, units)
    else:
        drawn = assets.drawn(lambda narrow: twin() if narrow else figure, units)
    macros: Any = environment().get_template("macros.html.j2").module
    return f"<figure>{macros.figure(drawn, title)}</figure>"
