"""Recognise the columns of a table by their names."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Mapping, Sequence
from typing import NamedTuple

from climwin.core.errors import InputError, Parameter, RecordError

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
"""Role of each name, without units and filler words, in English, German, Spanish, French, Italian
and Dutch, and in the codes of weather services (common practice)."""

_TEMPERATURE = {"temp", "temps", "temperature", "temperatures", "temperatur", "temperatura"}
_FILLER = {
    *_TEMPERATURE,
    *("t", "ta", "t2m", "2m", "air", "daily", "total", "sum", "amount", "obs", "observed"),
    *("local", "utc", "of", "the", "de", "del", "la", "du", "der", "des"),
}
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
ASSIGNABLE_ROLES = ("date", "year", "month", "day", "tmin", "tmax", "tmean", "precip")
"""Roles that a user may assign to columns."""
_MEASURED = ("tmin", "tmax", "tmean", "precip")
_NAMED_CLEARLY = ("tmin", "tmax", "precip")
PLACE_ROLES = ("station_id", "station_name", "latitude", "longitude", "elevation")
"""Roles of columns, or of comments above a table, that say where the record is from."""


class Column(NamedTuple):
    """One column of a table: its position, its name, and the unit in its name."""

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
    if not rest and {"obs", "observed"} & set(words):
        return "observed", unit  # the temperature at the time of observation is not a mean
    return rest or ("temp" if _TEMPERATURE & set(words) else ""), unit


def place_role(name: str) -> str | None:
    """The role in `PLACE_ROLES` that a name means, if any."""
    role = _ROLE_OF.get(_read_name(name)[0])
    return role if role in PLACE_ROLES else None


def column_roles(
    file: str, names: Sequence[str], given: Mapping[str, str] | None = None
) -> dict[str, Column]:
    """Roles of the columns of a table, as far as their names tell.

    Parameters
    ----------
    file : str
        Name of the file, for error messages.
    names : sequence of str
        The table's header.
    given : mapping, optional
        Names of columns by role (`ASSIGNABLE_ROLES`); these roles are not looked for.

    Returns
    -------
    dict of str to Column
        By role. Columns that are not recognised are left out.

    Raises
    ------
    RecordError
        If two columns could have the same role, or a given column is not in the table.
    """
    columns = {role: _given_column(file, names, role, name) for role, name in (given or {}).items()}
    _refuse_another_column(file, columns)
    taken = {column.position for column in columns.values()}
    for position, name in enumerate(names):
        word, unit = _read_name(name)
        role = _ROLE_OF.get(word)
        if position in taken or role is None or role in (given or {}):
            continue
        if unit and unit not in _UNITS_OF_ROLE.get(role, ()):
            continue
        if role in columns and role not in ASSIGNABLE_ROLES:
            continue  # a place that is named twice
        if role in columns:
            msg = (
                f"{file} has two columns that could be {role}: {columns[role].name!r} and "
                f"{name!r}. Say which: "
            )
            raise RecordError(msg, Parameter("columns", {role: name}), ".")
        columns[role] = Column(position, name, unit)
    return columns


def _given_column(file: str, names: Sequence[str], role: str, name: str) -> Column:
    """The column that the user names for a role; refused if there is none, or more than one."""
    if role not in ASSIGNABLE_ROLES:
        pieces = (
            "a key of ",
            Parameter("columns"),
            f" must be one of {', '.join(ASSIGNABLE_ROLES)}; got {role!r}.",
        )
        raise InputError(*pieces)
    wanted = name.strip().lower()
    positions = [position for position, each in enumerate(names) if each.lower() == wanted]
    if len(positions) != 1:
        often = "more than one column" if positions else "no column"
        msg = f"{file} has {often} {name!r}, given for {role}. It has {list_names(names)}."
        raise RecordError(msg, parameter="columns")
    position = positions[0]
    return Column(position, names[position], _read_name(names[position])[1])


def _refuse_another_column(file: str, given: Mapping[str, Column]) -> None:
    """Refuse a column given for one role whose name says another, unless that is given too.

    A name such as "temp" says no more than that it is a temperature.
    """
    for role, column in given.items():
        name = column.name
        other = _ROLE_OF.get(_read_name(name)[0])
        if role in _MEASURED and other in _NAMED_CLEARLY and other not in {role, *given}:
            msg = (
                f"{file}: the column {name!r} is given for {role}, and its name says {other}. If "
                f"the names are the wrong way round say which column is {other}, too: "
            )
            raise RecordError(msg, Parameter("columns", {other: "..."}), ".")


def flag_columns(names: Sequence[str], read: Mapping[str, Column]) -> dict[str, int]:
    """Positions of NOAA's flags, which have names like ``TMIN_ATTRIBUTES``, by role."""
    position_of = {name: position for position, name in enumerate(names)}
    flags = {role: f"{column.name}_ATTRIBUTES" for role, column in read.items()}
    return {role: position_of[flag] for role, flag in flags.items() if flag in position_of}


def list_names(names: Sequence[str]) -> str:
    """Names of columns for an error message, at most twenty."""
    rest = f" and {len(names) - 20} more" if len(names) > 20 else ""
    return ", ".join(repr(name[:40]) for name in names[:20]) + rest
