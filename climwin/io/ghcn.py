"""NOAA's GHCN-Daily layouts: one month in a line (.dly), or one value (by station).

References
----------
.. [1] NOAA National Centers for Environmental Information, "Readme file for Daily Global
   Historical Climatology Network (GHCN-Daily)", section III, format of data files.
.. [2] NOAA National Centers for Environmental Information, "readme-by_station.txt".
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from typing import NamedTuple

from climwin.core.errors import RecordError

ELEMENTS = {"TMIN": "tmin", "TMAX": "tmax", "TAVG": "tmean", "PRCP": "precip"}
"""Elements that are read: temperatures in tenths of degC, precipitation in tenths of mm [1]_."""

_MISSING = "-9999"
_DLY_LENGTH = 21 + 30 * 8 + 5  # up to the value of day 31; blank flags after it may be stripped
_DLY = re.compile(r"[A-Z0-9_-]{11}\d{6}[A-Z0-9*#]{4}[ \d-]{4}\d", re.ASCII)
_ROW = re.compile(r'"?[A-Z0-9_-]{11}"?,"?\d{4}-?\d\d-?\d\d"?,"?[A-Z0-9*#]{4}"?,', re.ASCII)
_ROW_HEAD = "ID,DATE,ELEMENT,"


class Observation(NamedTuple):
    """One value as written in the file; `quality` is blank if it passed NOAA's checks."""

    line: int
    station: str
    day: str
    element: str
    value: str
    quality: str


def detect_layout(text: str) -> str | None:
    """GHCN-Daily layout of a file, by its first line: ``"dly"``, ``"by station"`` or None."""
    if _DLY.match(text):
        return "dly"
    return "by station" if _ROW.match(text) or text.startswith(_ROW_HEAD) else None


def observations(file: str, lines: Iterator[tuple[int, str]], kind: str) -> Iterator[Observation]:
    """Observations of the known elements, as written; missing ones are left out.

    Parameters
    ----------
    file : str
        Name of the file, for error messages.
    lines : iterator of (int, str)
        Its numbered lines.
    kind : {"dly", "by station"}
        Its layout, [1]_ and [2]_.

    Raises
    ------
    RecordError
        If a line does not have this layout, or is truncated; the message names it.
    """
    unfold = _from_dly if kind == "dly" else _from_row
    for number, text in lines:
        if kind != "dly" and text.startswith(_ROW_HEAD):
            continue
        if detect_layout(text) != kind:
            msg = (
                f"{file}, line {number}, is not of the GHCN-Daily {kind} layout: {text[:40]!r}. "
                "Fetch the file again, or delete the line."
            )
            raise RecordError(msg)
        yield from unfold(file, number, text)


def _from_dly(file: str, number: int, text: str) -> Iterator[Observation]:
    """One month: columns 1-11 station, 12-17 year and month, 18-21 element, then 31 times 8."""
    station, month, element = text[:11], f"{text[11:15]}-{text[15:17]}", text[17:21]
    if element not in ELEMENTS:
        return
    if len(text.rstrip()) < _DLY_LENGTH:
        msg = (
            f"{file}, line {number}, is truncated: it has {len(text.rstrip())} characters, and a "
            f"month has at least {_DLY_LENGTH}. Fetch the file again."
        )
        raise RecordError(msg)
    for day in range(31):
        value = text[21 + 8 * day : 26 + 8 * day].strip()
        if value not in ("", _MISSING):
            quality = text[27 + 8 * day : 28 + 8 * day].strip()
            yield Observation(number, station, f"{month}-{day + 1:02d}", element, value, quality)


def _from_row(_: str, number: int, text: str) -> Iterator[Observation]:
    """One value: station, date, element, value, measurement, quality and source flag, time."""
    fields = [*(field.strip('" ') for field in text.split(",")), "", ""]
    station, day, element, value, _, quality = fields[:6]
    if element in ELEMENTS and value != _MISSING:
        yield Observation(number, station, day, element, value, quality)
