"""What stands where in a file: a table's columns by their names, and NOAA's GHCN-Daily layouts.

References
----------
.. [1] NOAA National Centers for Environmental Information, "Readme file for Daily Global
   Historical Climatology Network (GHCN-Daily)", section III, format of data files.
.. [2] NOAA National Centers for Environmental Information, "readme-by_station.txt".
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterator, Mapping, Sequence
from typing import NamedTuple

from climwin.core.schema import RecordError, check_choice

# --- columns by their names ---------------------------------------------------------------

_ROLES = {
    "date": "date dates datum fecha data dato datetime yyyymmdd messdatum",
    "year": "year yr jahr ano annee anno jaar",
    "month": "month mo mon monat mes mois mese maand",
    "day": "day dd tag dia jour giorno dag",
    "time": "time",
    "tmin": "tmin min minimum minima minimo mini minimale low lowest tn tnk mintemp tempmin",
    "tmax": "tmax max maximum maxima maximo maxi maximale high highest tx txk maxtemp tempmax",
    "tmean": "tmean mean avg average ave media medio moyenne mittel tavg tg tm tmk tmed temp "
    "meantemp avgtemp tempmean tempavg",
    "precip": "precip precipitation precipitations precipitacion prcp prec rain rainfall rr rsk "
    "ppt pp niederschlag lluvia pluie",
    "station_id": "station stationid",
    "station_name": "name stationname",
    "latitude": "latitude lat",
    "longitude": "longitude lon long",
    "elevation": "elevation elev altitude alt",
}
_ROLE_OF = {word: role for role, words in _ROLES.items() for word in words.split()}
"""Names without units and filler, in English, German, Spanish, French, Italian and Dutch, and in
the codes of weather services (common practice)."""

_TEMPERATURE = {"temp", "temps", "temperature", "temperatures", "temperatur", "temperatura"}
_FILLER = _TEMPERATURE | {"t", "ta", "t2m", "2m", "air", "daily", "total", "sum", "amount", "obs"}
_FILLER |= {"observed", "local", "utc", "of", "the", "de", "del", "la", "du", "der", "des"}
_UNITS = {
    "degC": "c celsius degc centigrade",
    "degF": "f fahrenheit degf",
    "K": "k kelvin",
    "mm": "mm millimetres millimeters",
    "cm": "cm",
    "in": "in inch inches",
}
_UNIT_OF = {word: unit for unit, words in _UNITS.items() for word in words.split()}
_UNIT_FILLER = {"deg", "degree", "degrees", "grad", "grados", "in", "en"}
_WARMTH = ("degC", "degF", "K")
_UNITS_OF_ROLE = {
    "tmin": _WARMTH,
    "tmax": _WARMTH,
    "tmean": _WARMTH,
    "precip": ("mm", "cm", "in"),
}
GIVEN = ("date", "year", "month", "day", "tmin", "tmax", "tmean", "precip")
"""Columns that a user may name."""
PLACE = ("station_id", "station_name", "latitude", "longitude", "elevation")
"""Columns, or comments above a table, that say where the record is from."""


class Column(NamedTuple):
    """One column of a table: where it stands, its name, and the unit its name says."""

    position: int
    name: str
    unit: str | None


def _read_name(name: str) -> tuple[str, str | None]:
    """Role word and unit of a column's name: ``"Min Temp (°F)"`` is ``("min", "degF")``."""
    plain = re.sub(r"([a-z])([A-Z])", r"\1 \2", name.replace("º", "°"))
    plain = unicodedata.normalize("NFKD", plain).lower()
    words = re.findall(r"[a-z0-9]+", re.sub(r"[\u0300-\u036f]", "", plain))
    unit = _UNIT_OF.get(words[-1]) if len(words) > 1 else None
    if unit:
        words.pop()
        while len(words) > 1 and words[-1] in _UNIT_FILLER:
            words.pop()
    rest = "".join(word for word in words if word not in _FILLER)
    return rest or ("temp" if _TEMPERATURE & set(words) else ""), unit


def place(name: str) -> str | None:
    """Which of `PLACE` a name means, if any."""
    role = _ROLE_OF.get(_read_name(name)[0])
    return role if role in PLACE else None


def roles(
    file: str, names: Sequence[str], given: Mapping[str, str] | None = None
) -> dict[str, Column]:
    """What each column of a table is, as far as its name says.

    Parameters
    ----------
    file : str
        The file's name, for the errors.
    names : sequence of str
        The table's head.
    given : mapping, optional
        Names of columns by what they are (`GIVEN`); these are not looked for.

    Raises
    ------
    RecordError
        If two columns could be the same, or a column given is not there.
    """
    found = {role: _named(file, names, role, name) for role, name in (given or {}).items()}
    taken = {column.position for column in found.values()}
    for position, name in enumerate(names):
        word, unit = _read_name(name)
        role = _ROLE_OF.get(word)
        if position in taken or role is None or role in (given or {}):
            continue
        if unit and unit not in _UNITS_OF_ROLE.get(role, ()):
            continue
        if role in found and role not in GIVEN:
            continue
        if role in found:
            msg = (
                f"{file} has two columns that could be {role}: {found[role].name!r} and {name!r}. "
                f"Say which: columns={{{role!r}: {name!r}}}."
            )
            raise RecordError(msg)
        found[role] = Column(position, name, unit)
    return found


def _named(file: str, names: Sequence[str], role: str, name: str) -> Column:
    check_choice("a key of columns", role, GIVEN)
    wanted = [place for place, have in enumerate(names) if have.lower() == name.strip().lower()]
    if len(wanted) != 1:
        often = "more than one column" if wanted else "no column"
        msg = f"{file} has {often} {name!r}, given for {role}. It has {listed(names)}."
        raise RecordError(msg)
    return Column(wanted[0], names[wanted[0]], _read_name(names[wanted[0]])[1])


def flag_columns(names: Sequence[str], read: Mapping[str, Column]) -> dict[str, int]:
    """Columns of NOAA's flags, which stand beside the values as ``TMIN_ATTRIBUTES``."""
    place = {name: position for position, name in enumerate(names)}
    beside = {role: f"{column.name}_ATTRIBUTES" for role, column in read.items()}
    return {role: place[flag] for role, flag in beside.items() if flag in place}


def listed(names: Sequence[str]) -> str:
    """Names of columns for an error, cut after twenty."""
    rest = f" and {len(names) - 20} more" if len(names) > 20 else ""
    return ", ".join(repr(name[:40]) for name in names[:20]) + rest


# --- GHCN-Daily ---------------------------------------------------------------------------

ELEMENTS = {"TMIN": "tmin", "TMAX": "tmax", "TAVG": "tmean", "PRCP": "precip"}
"""Elements that are read: temperatures in tenths of degC, precipitation in tenths of mm [1]_."""

_MISSING = "-9999"
_DLY = re.compile(r"[A-Z0-9_-]{11}\d{6}[A-Z0-9*#]{4}[ \d-]{4}\d", re.ASCII)
_ROW = re.compile(r'"?[A-Z0-9_-]{11}"?,"?\d{4}-?\d\d-?\d\d"?,"?[A-Z0-9*#]{4}"?,', re.ASCII)
_ROW_HEAD = "ID,DATE,ELEMENT,"


class Observation(NamedTuple):
    """One value as it stands in the file; `quality` is blank where NOAA's checks passed it."""

    line: int
    station: str
    day: str
    element: str
    value: str
    quality: str


def layout(text: str) -> str | None:
    """Which GHCN-Daily layout a file's first line is of: ``"dly"``, ``"by station"`` or neither."""
    if _DLY.match(text):
        return "dly"
    return "by station" if _ROW.match(text) or text.startswith(_ROW_HEAD) else None


def observations(file: str, lines: Iterator[tuple[int, str]], kind: str) -> Iterator[Observation]:
    """Observations of the elements that are read, as written; missing ones are left out.

    Parameters
    ----------
    file : str
        The file's name, for the errors.
    lines : iterator of (int, str)
        Its numbered lines.
    kind : {"dly", "by station"}
        Its layout, [1]_ and [2]_.

    Raises
    ------
    RecordError
        If a line is not of the layout; the text names it.
    """
    unfold = _from_dly if kind == "dly" else _from_row
    for number, text in lines:
        if kind != "dly" and text.startswith(_ROW_HEAD):
            continue
        if layout(text) != kind:
            msg = (
                f"{file}, line {number}, is not of the GHCN-Daily {kind} layout: {text[:40]!r}. "
                "Fetch the file again, or take the line out."
            )
            raise RecordError(msg)
        yield from unfold(number, text)


def _from_dly(number: int, text: str) -> Iterator[Observation]:
    """A month: columns 1-11 station, 12-17 year and month, 18-21 element, then 31 days of 8."""
    station, month, element = text[:11], f"{text[11:15]}-{text[15:17]}", text[17:21]
    if element not in ELEMENTS:
        return
    for day in range(31):
        value = text[21 + 8 * day : 26 + 8 * day].strip()
        if value not in ("", _MISSING):
            quality = text[27 + 8 * day : 28 + 8 * day].strip()
            yield Observation(number, station, f"{month}-{day + 1:02d}", element, value, quality)


def _from_row(number: int, text: str) -> Iterator[Observation]:
    """A value: station, date, element, value, measurement, quality and source flag, time."""
    fields = [*(field.strip('" ') for field in text.split(",")), "", ""]
    station, day, element, value, _, quality = fields[:6]
    if element in ELEMENTS and value != _MISSING:
        yield Observation(number, station, day, element, value, quality)
