"""The page to share: one HTML file that needs nothing, opened on a phone or pinned to the shed.

It is a notebook, ``templates/page.ipynb``, whose cells show the sections of `sections.Page`; see
`notebook` for how they are run.
"""

from __future__ import annotations

import datetime as dt
from pathlib import Path

from climwin.core.errors import InputError, Parameter
from climwin.core.schema import Units, check_choice
from climwin.io.files import atomic_write
from climwin.page.assets import plain
from climwin.page.html import render_notebook
from climwin.page.notebook import notebook_text, read_template, run_cells, to_run_on
from climwin.page.record_file import save_record
from climwin.page.sections import Page
from climwin.report.garden import GardenReport


def write_page(
    report: GardenReport,
    path: str | Path | None = None,
    *,
    units: Units = "C",
    made: str | None = None,
    notebook: bool = False,
) -> Path:
    """Write a report as one HTML file that opens without network or software.

    Parameters
    ----------
    report : GardenReport
        From `garden_report`.
    path : str or Path, optional
        Where to; its folder is made, an older file is replaced in one step. Left out, it is named
        for the place and the crop, in the working folder.
    units : {"C", "F"}
        Unit of the temperatures shown.
    made : str, optional
        Today's date, such as ``"2026-11-25"``: it is printed at the foot, and the dates to put
        into a calendar are the next from it on. Without it they are of the year after the record.
    notebook : bool
        Whether to write the page's notebook beside it as well, with the record that it reads: two
        files of the page's name, ``.ipynb`` and ``.nc``. To run the notebook on takes the extra
        ``notebook``.

    Returns
    -------
    Path
        Of the page.

    Raises
    ------
    ValueError
        If the units or the date are unknown, or the page's name ends as those of its notebook.

    Examples
    --------
    >>> import climwin as cw
    >>> daily = cw.read_daily(cw.sample())
    >>> garden = cw.Garden("Pellbrook allotments", 46.1, 7.2, 640)
    >>> report = cw.garden_report(garden, daily, crop=cw.crop("pea"))
    >>> cw.write_page(report, "page.html")  # doctest: +SKIP
    """
    target = Path(path or f"{plain(f'{report.garden.name} {report.crop.name}')}.html")
    beside = [target.with_suffix(suffix) for suffix in (".ipynb", ".nc")]
    if notebook and target in beside:
        msg = f"A page with its notebook beside it is named .html, got {target.name}."
        raise InputError(msg, parameter="path")
    check_choice("units", units, ("C", "F"))
    page = Page(report, units, date_of_page(made))
    cells = run_cells(read_template("page"), page)
    html = render_notebook(cells, title=f"{report.crop.name} at {report.garden.name}")
    if notebook:
        book, record = beside
        write_text(book, notebook_text(to_run_on(cells, page, record.name)))
        save_record(report.daily, record)
    return write_text(target, html)


def date_of_page(made: str | None) -> dt.date | None:
    """Date of a page as it was given, checked."""
    try:
        return dt.date.fromisoformat(made) if made else None
    except ValueError:
        msg = f" is today's date as year-month-day, such as '2026-11-25'; got {made!r}."
        raise InputError(Parameter("made"), msg) from None


def write_text(path: str | Path, text: str) -> Path:
    """Write a page or a notebook, completely or not at all."""
    target = Path(path)
    target.parent.mkdir(parents=True, exist_ok=True)
    with atomic_write(target) as part:
        part.write_text(text, "utf-8", newline="")
    return target
