"""The page to share: one HTML file that needs nothing, opened on a phone or pinned to the shed.

It is a notebook, ``data/page/page.ipynb``, executed with a report and rendered by our own
template. Its cells show the parts that `page_contents` puts into words.
"""

from __future__ import annotations

import datetime as dt
from pathlib import Path

from climwin.core.schema import Units, check_choice
from climwin.io.files import atomic_write
from climwin.page.assets import plain
from climwin.page.tables import Page
from climwin.report.garden import GardenReport


def write_page(
    report: GardenReport,
    path: str | Path | None = None,
    *,
    units: Units = "C",
    made: str | None = None,
) -> Path:
    """Write a report as one HTML file that opens without network or software.

    Parameters
    ----------
    report : GardenReport
        From `garden_report`.
    path : str or Path, optional
        Where to; its folder is made, an older file is replaced in one step. Left out, it is named
        for the place and the crop, in the folder of the day's work.
    units : {"C", "F"}
        Unit of the temperatures shown.
    made : str, optional
        Today's date, such as ``"2026-11-25"``: it is printed at the foot, and the dates to put
        into a calendar are the next from it on. Without it they are of the year after the record.

    Returns
    -------
    Path
        Of the file written.

    Raises
    ------
    ValueError
        If the units or the date are none.
    """
    target = path or f"{plain(f'{report.garden.name} {report.crop.name}')}.html"
    return write_whole(target, render(report, units=units, made=made))


def render(report: GardenReport, *, units: Units = "C", made: str | None = None) -> str:
    """Page as text, see `write_page`."""
    from climwin.page.notebook import rendered, run

    check_choice("units", units, ("C", "F"))
    book = run("page", Page(report, units, date_of_page(made)))
    return rendered(book, title=f"{report.crop.name} at {report.garden.name}")


def date_of_page(made: str | None) -> dt.date | None:
    """Date of a page as it was given, checked."""
    try:
        return dt.date.fromisoformat(made) if made else None
    except ValueError:
        msg = f"made is today's date as year-month-day, such as '2026-11-25'; got {made!r}."
        raise ValueError(msg) from None


def write_whole(path: str | Path, html: str) -> Path:
    """Write a page; the file is whole, or the older one is still there."""
    target = Path(path)
    target.parent.mkdir(parents=True, exist_ok=True)
    with atomic_write(target) as part:
        part.write_text(html, "utf-8", newline="")
    return target
