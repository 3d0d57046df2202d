"""A page of the season as it runs, one HTML file."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import xarray as xr

from climwin.core.schema import Units, check_choice
from climwin.page.html import Fragment, fill_macro, render_notebook
from climwin.page.notebook import read_template, run_cells
from climwin.page.season import Content, season_content
from climwin.report import sentences_season


@dataclass(frozen=True)
class SeasonPage:
    """What a page of a season shows.

    Parameters
    ----------
    so_far, ahead : Dataset
        From `season_so_far` and `outlook`, of one place and date.
    units : {"C", "F"}
        Unit of the temperatures.
    place : str
        What the gardener calls it; may be empty.
    notes : sequence of str
        What to mind of the record.
    """

    so_far: xr.Dataset
    ahead: xr.Dataset
    units: Units
    place: str = ""
    notes: Sequence[str] = ()

    def section(self, name: str) -> Fragment:
        """One section of the page, one macro of ``templates/season.html.j2``."""
        return fill_macro("season.html.j2", name, self.content, self.units)

    @cached_property
    def content(self) -> Content:
        """What it says, see `season_content`."""
        return season_content(self.so_far, self.ahead, self.units, self.place, self.notes)


def season_page(
    so_far: xr.Dataset,
    ahead: xr.Dataset,
    *,
    units: Units = "C",
    place: str = "",
    notes: Sequence[str] = (),
) -> str:
    """Render the page of a season, one HTML file that opens without network or software.

    Parameters
    ----------
    so_far, ahead, units, place, notes
        See `SeasonPage`.

    Returns
    -------
    str
        The same results give the same text.

    Raises
    ------
    ValueError
        If the units are unknown.
    """
    check_choice("units", units, ("C", "F"))
    page = SeasonPage(so_far, ahead, units, place, notes)
    cells = run_cells(read_template("season"), page)
    return render_notebook(cells, title=sentences_season.season_title(ahead))
