"""Files within a page: pictures, dates as iCalendar, tables as CSV, each within its link."""

from __future__ import annotations

import datetime as dt
import re
import tempfile
import unicodedata
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, NamedTuple
from urllib.parse import quote

import numpy as np
import xarray as xr

from climwin.core.dialect import in_dialect
from climwin.core.schema import Units
from climwin.core.seasons import date_of, day_number
from climwin.io.exports import to_csv
from climwin.planning.plan import Plan
from climwin.report.garden import GardenReport
from climwin.report.ical import plan_events, to_ical

if TYPE_CHECKING:
    from matplotlib.figure import Figure


DECIMALS = 4
"""Decimals of the numbers in a table to keep (common practice)."""
_LETTERS = str.maketrans({"ß": "ss", "æ": "ae", "œ": "oe", "ø": "o", "ł": "l", "đ": "d"})
"""Letters that Unicode does not decompose into a plain letter and an accent."""
_PLAIN = " !$()*+,/:;=?@[]|"
"""What may stand as it is in a link's address within double quotes, beside letters and digits."""
_DEVICE = re.compile("con|prn|aux|nul|(com|lpt)[0-9]")  # not allowed as a file name on Windows


class Download(NamedTuple):
    """A file's name, and its content as a link's address."""

    name: str
    address: str


def calendar(
    report: GardenReport, timetable: xr.Dataset, year: int, made: dt.date | None
) -> Download:
    """A plan's dates as iCalendar.

    Parameters
    ----------
    report : GardenReport
        For the names of the place and the crop.
    timetable : Dataset, dims (event)
        From `timetable.plan_dates`.
    year : int
        Year of the start, see `next_year`.
    made : date or None
        Day of the page; without one the file is stamped with the year's first day.
    """
    day = made or dt.date(year, 1, 1)
    stamp = dt.datetime(day.year, day.month, day.day, tzinfo=dt.UTC)
    name = f"{report.crop.name} at {report.garden.name}: {timetable.attrs['plan']}"
    ical = to_ical(plan_events(timetable, year), name=name, stamp=stamp)
    title = f"{report.crop.name} {timetable.attrs['plan']} {year}"
    return Download(f"{plain(title)}.ics", _address("text/calendar", ical))


def next_year(plan: Plan, daily: xr.Dataset, made: dt.date | None) -> int:
    """The next year in which a plan can start; without a day, the one after the record."""
    if made is None:
        return int(str(daily["time"].values[-1])[:4]) + 1
    start = date_of(np.array(made.year), np.array(day_number(plan.start))).item()
    return made.year + (start < made)


def table(result: xr.Dataset, title: str, notes: Sequence[str] = ()) -> Download:
    """A result as CSV; above it its source, its units and what to mind of its numbers."""
    if notes:
        result = result.assign_attrs(comment="\n".join(notes))
    with tempfile.TemporaryDirectory() as folder:
        raw = to_csv(_rounded(result), Path(folder) / "table.csv").read_bytes()
    return Download(f"{plain(title)}.csv", _address("text/csv", raw))


def _rounded(result: xr.Dataset) -> xr.Dataset:
    """A result whose shares and lengths have four decimals, more than anyone knows of them."""
    numbers = [name for name, values in result.data_vars.items() if values.dtype.kind == "f"]
    return result.assign({name: result[name].round(DECIMALS) for name in numbers})


def plain(text: str) -> str:
    """A file name that is valid on every computer."""
    apart = unicodedata.normalize("NFKD", text.lower().translate(_LETTERS))
    letters = apart.encode("ascii", "ignore").decode("ascii")
    name = re.sub(r"[^a-z0-9]+", "-", letters).strip("-")[:80].strip("-") or "climwin"
    return f"climwin-{name}" if _DEVICE.fullmatch(name) else name


def _address(kind: str, raw: bytes) -> str:
    """Text as text, which weighs a fifth less than base64; nothing in it is left to escape."""
    return f"data:{kind};charset=utf-8,{quote(raw, safe=_PLAIN)}"


# --- pictures -----------------------------------------------------------------------------


def drawn(draw: Callable[[bool], Figure], units: Units = "C") -> dict[str, str]:
    """A figure as SVG for the page itself, by CSS class: a wide drawing, and one for a phone."""
    return {"wide-only": _picture(draw(False), units), "narrow-only": _picture(draw(True), units)}


def drawn_once(figure: Figure, units: Units = "C") -> dict[str, str]:
    """A figure as one SVG, by CSS class: made for a phone, a wide page shows it a little larger."""
    return {"inset": _picture(figure, units)}


def _picture(figure: Figure, units: Units) -> str:
    from climwin.plot.svg import inline_svg

    in_dialect(figure, units)  # here, since SVG has each line of a text by itself
    return inline_svg(figure)
