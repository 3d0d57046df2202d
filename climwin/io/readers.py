"""Daily records from files: tables with a head, and NOAA's GHCN-Daily layouts."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from itertools import chain
from pathlib import Path
from typing import NamedTuple, NoReturn

import numpy as np
import xarray as xr

from climwin.core.provenance import SCENARIO
from climwin.core.schema import RecordError, Units, check_choice
from climwin.io import delimited, layouts
from climwin.io.assembly import READ, TEMPERATURES, Found, Series, record

NO_TENTHS = 150.0
"""No air is as far from 0 in degC or degF; in tenths of degC it is on any mild day."""

_TRACE = frozenset({"t", "trace"})


class _Options(NamedTuple):
    units: Units | None
    columns: Mapping[str, str] | None
    dates: str | None


def read_daily(
    path: str | Path,
    *,
    units: Units | None = None,
    columns: Mapping[str, str] | None = None,
    dates: str | None = None,
) -> xr.Dataset:
    """Daily record of one station from a file, its values as read.

    Parameters
    ----------
    path : str or Path
        A table with a head, parted by tabs, semicolons, commas or blanks; or a GHCN-Daily ``.dly``
        [1]_ or by-station [2]_ file. Which it is is seen from its first line.
    units : {"C", "F"}, optional
        Of the temperatures, where the head does not say, as ``Tmin (°F)`` does. Default: degC.
    columns : mapping, optional
        Names of columns that are not found by themselves, such as ``{"tmin": "Low"}``; also for
        ``date``, or ``year``, ``month`` and ``day``.
    dates : str, optional
        How dates are written, such as ``"%d/%m/%Y"``.

    Returns
    -------
    Dataset, dim (time)
        Those of ``tmin``, ``tmax``, ``tmean`` [degC] and ``precip`` [mm] that the file has, on all
        days from its first to its last. Without a mean, ``tmean`` is half of tmin + tmax, and its
        attribute ``derived_from`` says so. ``attrs["history"]`` tells what was matched and dropped,
        ``attrs["comment"]`` what the file says above its table.

    Raises
    ------
    RecordError
        If the file cannot be used; the text gives line, column, value and what to do.
    ValueError
        If an argument is not allowed.

    Notes
    -----
    Read as missing: nothing, NA, N/A, NaN, null, none, M, missing, dashes; -99.9, -999, -999.9,
    -9999. A trace of precipitation (T) is 0. Values that failed NOAA's checks are dropped, also
    from tables with an ``_ATTRIBUTES`` column beside each value. Those come in tenths of degC or in
    whole units and do not say which: values beyond 150 show tenths, else `units` must be given.

    References
    ----------
    .. [1] NOAA National Centers for Environmental Information, "Readme file for Daily Global
       Historical Climatology Network (GHCN-Daily)", section III, format of data files.
    .. [2] NOAA National Centers for Environmental Information, "readme-by_station.txt".
    """
    if units is not None:
        check_choice("units", units, ("C", "F"))
    path = Path(path)
    coding = delimited.encoding(path)
    body = delimited.lines(path, coding)
    first = next(body, None)
    if first is None:
        msg = f"{path.name} is empty: it holds nothing but blanks and comments. Give another file."
        raise RecordError(msg)
    found = Found(path.name)
    if coding == "latin-1":
        found.notes.append("text taken as Latin-1, for it is not UTF-8")
    _read_comments(found, delimited.comments(path, coding))
    kind = layouts.layout(first[1])
    if kind is None:
        _read_table(found, delimited.head(*first), body, _Options(units, columns, dates))
    elif units == "F" or columns or dates:
        msg = (
            f"{path.name} is a GHCN-Daily file: its units, columns and dates are fixed. "
            "Leave units, columns and dates out."
        )
        raise ValueError(msg)
    else:
        _read_ghcn(found, layouts.observations(path.name, chain([first], body), kind))
    return record(found)


def _read_comments(found: Found, comments: Sequence[str]) -> None:
    """What a file says above its table: of this the place, and whether it is a scenario."""
    found.comment = "\n".join(comments)
    for line in comments:
        name, colon, text = line.partition(":")
        role = layouts.place(name)
        if colon and (role or name.strip() == SCENARIO):
            found.place[role or SCENARIO] = text.strip()


# --- tables -------------------------------------------------------------------------------


def _read_table(
    found: Found, top: delimited.Head, body: Iterator[tuple[int, str]], options: _Options
) -> None:
    roles = layouts.roles(found.file, top.names, options.columns)
    keys = _date_columns(found.file, top.names, roles)
    read = {name: roles[name] for name in READ if name in roles}
    if not set(TEMPERATURES) & set(read):
        _lacks(found.file, top.names, "temperature column", "tmin")
    flags = layouts.flag_columns(top.names, read)
    positions = {column.position for column in roles.values()} | set(flags.values())
    lines, texts, found.faults = delimited.columns(body, top, positions)
    if not len(lines) and not found.faults:
        msg = f"{found.file} names its columns in line {top.line} and ends there. Give another."
        raise RecordError(msg)
    text = {role: texts[column.position] for role, column in roles.items()}
    matched = (f"{role} from {roles[role].name!r}" for role in (*keys, *read))
    found.notes.append(f"read {', '.join(matched)}")
    days = _days(found, lines, [text[key] for key in keys], options.dates)
    values = {}
    for name, column in read.items():
        written = _without_trace(found, text[name]) if name == "precip" else text[name]
        values[name] = _numbers(found, column.name, lines, written)
        if name in flags:
            values[name] = _without_failed(found, name, values[name], texts[flags[name]])
    delimited.refuse(found.file, found.faults)
    units = _units(found.file, read, values, options.units, noaa=bool(flags))
    for name, column in read.items():
        named = column.unit == units[name]
        found.series[name] = Series(days, values[name], lines, units[name], said=named)
        said = "" if named else ", which its name does not say"
        found.notes.append(f"{name} taken as {units[name]}{said}")
    _one_station(found.file, text.get("station_id", ()))
    found.place |= {role: text[role][0] for role in layouts.PLACE if role in text}


def _lacks(file: str, names: Sequence[str], what: str, role: str) -> NoReturn:
    msg = (
        f"{file} has no {what} that is known by its name. Its columns are "
        f"{layouts.listed(names)}. Say which it is: columns={{{role!r}: {names[0]!r}}}; if these "
        "are values, put a line with names above them."
    )
    raise RecordError(msg)


def _date_columns(
    file: str, names: Sequence[str], roles: Mapping[str, layouts.Column]
) -> tuple[str, ...]:
    """Which columns give the date: one, or year, month and day."""
    for keys in (("date",), ("year", "month", "day"), ("day",), ("time",)):
        if all(key in roles for key in keys):
            return keys
    _lacks(file, names, "date column", "date")


def _without_trace(found: Found, texts: Sequence[str]) -> Sequence[str]:
    """Precipitation with traces written as 0."""
    traces = sum(text.lower() in _TRACE for text in texts)
    found.count(traces, "traces of precipitation read as 0")
    return ["0" if text.lower() in _TRACE else text for text in texts]


def _without_failed(
    found: Found, name: str, values: np.ndarray, flags: Sequence[str]
) -> np.ndarray:
    """Values whose second flag is blank; the others failed NOAA's checks."""
    failed = np.array([text.split(",")[1:2] not in ([], [""]) for text in flags], dtype=bool)
    failed &= ~np.isnan(values)
    found.count(int(failed.sum()), f"values of {name} dropped that failed NOAA's checks")
    return np.where(failed, np.nan, values)


def _units(
    file: str,
    read: Mapping[str, layouts.Column],
    values: Mapping[str, np.ndarray],
    given: Units | None,
    *,
    noaa: bool,
) -> dict[str, str]:
    """The unit of each variable: as its name says, as given, or as is usual."""
    warm = [values[name] for name in TEMPERATURES if name in values]
    tenths = noaa and any(bool((np.abs(value) > NO_TENTHS).any()) for value in warm)
    rain = "tenths of mm" if tenths else "in" if noaa and given == "F" else "mm"
    warmth = "tenths of degC" if tenths else f"deg{given}" if given else None
    for name in TEMPERATURES:
        if name in read and (wrong := _wrong_unit(read[name].unit, warmth, noaa=noaa)):
            msg = f"{file}: {read[name].name!r} {wrong}"
            raise RecordError(msg)
    usual = {name: rain if name == "precip" else warmth or "degC" for name in read}
    return {name: column.unit or usual[name] for name, column in read.items()}


def _wrong_unit(said: str | None, given: str | None, *, noaa: bool) -> str | None:
    """Why the unit of a temperature is in doubt, if it is."""
    if said == "K":
        return "is in kelvin. Take 273.15 from each value, and name the column degC."
    if said and given and said != given:
        return (
            f"says {said}, but the values are to be {given}. Leave units out, or correct the name."
        )
    if noaa and not said and not given:
        return "does not say its unit; NOAA gives degC or degF. Say units='C' or units='F'."
    return None


def _one_station(file: str, stations: Iterable[str]) -> None:
    names = sorted(set(stations) - {""})
    if len(names) > 1:
        msg = f"{file} holds {len(names)} stations: {layouts.listed(names)}. Keep one of them."
        raise RecordError(msg)


# --- GHCN-Daily ---------------------------------------------------------------------------


def _read_ghcn(found: Found, observations: Iterable[layouts.Observation]) -> None:
    passed: dict[str, list[layouts.Observation]] = {}
    stations, failed = set(), dict.fromkeys(READ, 0)
    for one in observations:
        stations.add(one.station)
        name = layouts.ELEMENTS[one.element]
        if one.quality:
            failed[name] += 1
        else:
            passed.setdefault(name, []).append(one)
    _one_station(found.file, stations)
    if not set(TEMPERATURES) & set(passed):
        msg = f"{found.file} holds no value of TMIN, TMAX or TAVG. Choose another station."
        raise RecordError(msg)
    for name, rows in passed.items():
        unit = "tenths of mm" if name == "precip" else "tenths of degC"
        lines = np.array([one.line for one in rows])
        values = _numbers(found, rows[0].element, lines, [one.value for one in rows])
        days = _days(found, lines, [[one.day for one in rows]], None)
        found.series[name] = Series(days, values, lines, unit)
        found.notes.append(f"read {name} from {rows[0].element}, {unit}")
        found.count(failed[name], f"values of {name} dropped that failed NOAA's checks")
    delimited.refuse(found.file, found.faults)
    found.place["station_id"] = stations.pop()
    found.licence = "work of the U.S. government (NOAA/NCEI)"


# --- both ---------------------------------------------------------------------------------


def _days(
    found: Found, lines: np.ndarray, texts: Sequence[Sequence[str]], form: str | None
) -> np.ndarray:
    whole = texts[0] if len(texts) == 1 else ["-".join(parts) for parts in zip(*texts, strict=True)]
    dates = delimited.dates(whole, form)
    if dates.open is not None:
        line = lines[list(whole).index(dates.open)]
        msg = (
            f"{found.file}, line {line}: {dates.open!r} may be day/month or month/day, and no date "
            "of the file settles it. Say which: dates='%d/%m/%Y' or dates='%m/%d/%Y'."
        )
        raise RecordError(msg)
    advice = (
        f"Write them as 2001-05-03, within {delimited.YEARS[0]} to {delimited.YEARS[1]}, or say "
        "how they are written, such as dates='%d/%m/%y'."
    )
    bad = np.isnat(dates.days)
    found.faults += delimited.fault("dates cannot be read", advice, bad, lines, whole)
    return dates.days


def _numbers(found: Found, column: str, lines: np.ndarray, texts: Sequence[str]) -> np.ndarray:
    values, bad = delimited.numbers(texts)
    what, advice = f"values of {column!r} are not numbers", "Correct them, or leave them empty."
    found.faults += delimited.fault(what, advice, bad, lines, texts)
    return values
