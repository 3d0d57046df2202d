"""Read daily records from files: tables with a header, and NOAA's GHCN-Daily layouts.

A file is first parsed into its columns as they are. From these a record is assembled: one time
axis, degC and mm, a mean, and units that are plausible.
"""

from __future__ import annotations

import contextlib
import datetime as dt
import math
import re
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from itertools import chain
from pathlib import Path
from typing import NamedTuple, NoReturn

import numpy as np
import xarray as xr

from climwin.core.errors import Call, InputError, Mention, Parameter, RecordError
from climwin.core.formatting import INCH_MM, as_typed, fixed, number
from climwin.core.measures import metres_of
from climwin.core.provenance import CHANGES_LEFT, CHANGES_TAKEN_OFF, COMPARED, SCENARIO
from climwin.core.schema import (
    HIGHEST_STATION_M,
    TOLERANCE_C,
    VARIABLES,
    Units,
    check_choice,
    to_celsius,
)
from climwin.core.seasons import every_day
from climwin.core.text import plain_text
from climwin.io import delimited
from climwin.io.columns import (
    PLACE_ROLES,
    Column,
    column_roles,
    flag_columns,
    list_names,
    place_role,
)
from climwin.io.ghcn import ELEMENTS, Observation, detect_layout, observations
from climwin.io.plausibility import refuse_departures, refuse_two_units
from climwin.io.quality import quality_control

TEMPERATURES = ("tmin", "tmax", "tmean")
READ = (*TEMPERATURES, "precip")
COORDINATES = ("latitude", "longitude", "elevation")

NO_TENTHS = 150.0
"""No air temperature is this far from 0 in degC or degF; in tenths of degC it is on any mild
day."""
WARMEST_MONTH_C = {"tmean": 45.0, "tmin": 45.0, "tmax": 52.0}
"""Warmest plausible month [degC]: the hottest on record had a mean of 42.3 (Death Valley, July
2018; Guinness World Records, "Hottest places"), and maxima near 49 (from memory)."""
COOLEST_SUMMER_C = {"tmean": 5.0, "tmin": 0.0, "tmax": 5.0}
"""Least plausible value of the warmest month in degF [degC]: where food grows it is warmer, and
degC read as degF come out lower, unless they are above 41 (minima above 32; common practice)."""
WIDEST_DAY_C = 22.0
"""Widest plausible median of a day's range [degC]: in dry basins and deserts it is about 20 (from
memory)."""
MEAN_SHARE = 0.9
"""A mean column is used if it covers at least this share of the days with both extremes (common
practice); filling a patchy one would mix two kinds of mean."""
SAME_SHARE = 0.99
"""A mean column that equals (tmin + tmax) / 2 on this share of its days was derived from them
(common practice), so an error in one of them is also in the mean."""
HALF_TENTH_C = 0.051
"""Largest distance of such a mean from (tmin + tmax) / 2, since it was rounded to tenths. [degC]"""
SWAPPED_SHARE = 0.9
"""Share of days with the minimum above the maximum beyond which the columns are swapped throughout;
`day_relations` judges each year."""
LOGGER_READINGS = 3
"""Mean number of different values a day from which a file is a logger's (common practice)."""
FEW_SLIPS = 5
"""Number of days with the minimum above the maximum that does not yet mean swapped columns (common
practice)."""

CONVERT: dict[str, Callable[[np.ndarray], np.ndarray]] = {
    "degC": lambda values: values,
    "degF": lambda values: to_celsius(values, "F"),
    "tenths of degC": lambda values: values / 10,
    "mm": lambda values: values,
    "tenths of mm": lambda values: values / 10,
    "cm": lambda values: values * 10,
    "in": lambda values: values * INCH_MM,
}
"""Conversions from the units of a file to degC and mm."""

_ZONE_NAME = r"(?<![A-Z])([A-Z]{3,5}|[A-Z]\w+/\w+)"  # such as UTC, CEST, Europe/Rome; not PM
_MIDNIGHT = re.compile(rf"0?0:?00(:?00(\.0+)?)?\s*(Z|[+-]\d\d(:?\d\d)?|{_ZONE_NAME})?$")
_SERIAL = re.compile(r"\d{5}(\.\d+)?")  # days since 1900 or 1904: 10000 is 1927, 99999 is 2173
_SIDE = re.compile(r"(?P<degrees>\d+([.,]\d+)?)\s*°?\s*(?P<side>[NSEWnsew])")
_SIDES = {"latitude": "NS", "longitude": "EW"}
_ON_EARTH = {
    "latitude": (-90, 90),
    "longitude": (-180, 360),
    "elevation": (-500, HIGHEST_STATION_M),
}
_ZONE = re.compile(rf"(Z|[+-]\d\d(:?\d\d)?|:\d\d.*{_ZONE_NAME})$")
_TRACE = frozenset({"t", "trace"})

_DONE_TO_IT = (SCENARIO, COMPARED, CHANGES_TAKEN_OFF, CHANGES_LEFT)
"""Lines above a table written by `to_csv` that say what was done to the record."""
_LICENCE = ("licence", "license")
"""Names, in both spellings, of the line above a table that says how the data may be used."""


def read_daily(
    path: str | Path,
    *,
    units: Units | None = None,
    columns: Mapping[str, str] | None = None,
    dates: str | None = None,
) -> xr.Dataset:
    """Read a file of daily weather and check its values.

    Parameters
    ----------
    path : str or Path
        A table with a header, its columns separated by tabs, semicolons, commas or spaces; or a
        GHCN-Daily ``.dly`` [1]_ or by-station [2]_ file. The first line shows which it is.
    units : {"C", "F"}, optional
        Unit of the temperatures, if the header does not give one, as ``Tmin (°F)`` does. Default:
        degC.
    columns : mapping, optional
        Names of columns that are not recognised, such as ``{"tmin": "Night"}``; also for
        ``date``, or ``year``, ``month`` and ``day``.
    dates : str, optional
        How dates are written, such as ``"%d/%m/%Y"``.

    Returns
    -------
    Dataset, dim (time)
        Those of ``tmin``, ``tmax``, ``tmean`` [degC] and ``precip`` [mm] that the file has, on all
        days from its first to its last; for each of them, which values were set aside and why, see
        `quality_control`. Without a mean in the file, ``tmean`` is (tmin + tmax) / 2, and its
        attribute ``derived_from`` says so. ``attrs["history"]`` lists what was matched and dropped,
        ``attrs["comment"]`` has the comments above the table.

    Raises
    ------
    RecordError
        If the file cannot be used; the message gives line, column, value and what to do. Also if no
        weather could cause it, such as years in two units or copies of one year; the message gives
        the years and the numbers.
    ValueError
        If an argument is not allowed.

    See Also
    --------
    fetch_history : A station's record, without a file.
    coverage : What a record has, what is missing and what was set aside.

    Notes
    -----
    Read as missing: empty cells, NA, N/A, NaN, null, none, M, missing, dashes; -99.9, -999, -999.9,
    -9999; 999, 999.9, 9999 and 32767, which no air or rain reaches. A trace of precipitation (T) is
    0. Values that failed NOAA's checks are dropped, also from tables with an ``_ATTRIBUTES`` column
    for each variable. Such tables are in tenths of degC or in whole units and do not say which:
    values beyond 150 mean tenths; otherwise `units` must be given.

    References
    ----------
    .. [1] NOAA National Centers for Environmental Information, "Readme file for Daily Global
       Historical Climatology Network (GHCN-Daily)", section III, format of data files.
    .. [2] NOAA National Centers for Environmental Information, "readme-by_station.txt".

    Examples
    --------
    >>> import climwin as cw
    >>> daily = cw.read_daily(cw.sample())
    >>> daily["tmin"].sel(time="2010-05-01").item(), daily["tmin"].attrs["units"]
    (2.2, 'degC')
    """
    daily = read_unchecked(path, units=units, columns=columns, dates=dates)
    checked = quality_control(daily)
    refuse_departures(Path(path).name, checked, dt.date.today())
    return checked


def read_unchecked(
    path: str | Path,
    *,
    units: Units | None = None,
    columns: Mapping[str, str] | None = None,
    dates: str | None = None,
) -> xr.Dataset:
    """Read a file of daily weather like `read_daily`, without checking its values."""
    if units is not None:
        check_choice("units", units, ("C", "F"))
    path = Path(path)
    coding = delimited.encoding(path)
    body = delimited.lines(path, coding)
    first = next(body, None)
    if first is None:
        msg = f"{path.name} is empty: it has only blank lines and comments. Give another file."
        raise RecordError(msg)
    parsed = ParsedFile(path.name)
    if coding == "latin-1":
        parsed.notes.append("text read as Latin-1, because it is not UTF-8")
    _read_comments(parsed, delimited.comments(path, coding))
    layout = detect_layout(first[1])
    if layout is None:
        table = chain([first], body)
        _parse_table(parsed, path, coding, table, _Options(units, columns, dates))
    elif units == "F" or columns or dates:
        pieces = (
            f"{path.name} is a GHCN-Daily file: its units, columns and dates are fixed. Leave ",
            Parameter("units"),
            ", ",
            Parameter("columns"),
            " and ",
            Parameter("dates"),
            " out.",
        )
        raise InputError(*pieces)
    else:
        _parse_ghcn(parsed, observations(path.name, chain([first], body), layout))
    return assemble_record(parsed)


class _Options(NamedTuple):
    """What the user said about a table."""

    units: Units | None
    columns: Mapping[str, str] | None
    dates: str | None


class RawSeries(NamedTuple):
    """One variable, as the file has it."""

    days: np.ndarray
    values: np.ndarray
    lines: np.ndarray
    unit: str
    unit_in_head: bool = False
    """Whether the header names the unit; otherwise it was given, or is the default."""


@dataclass(slots=True)
class ParsedFile:
    """Contents of a file, and notes on how it was read."""

    name: str
    series: dict[str, RawSeries] = field(default_factory=dict)
    place: dict[str, str] = field(default_factory=dict)
    notes: list[str] = field(default_factory=list)
    faults: list[delimited.Fault] = field(default_factory=list)
    comment: str = ""
    licence: str = "not stated in the file"

    def note_count(self, number: int, what: str) -> None:
        """Note how many of something there were, if any."""
        if number:
            self.notes.append(f"{what}: {number}")


def _read_comments(parsed: ParsedFile, comments: Sequence[str]) -> None:
    """Keep the comments above a table; read the place, the licence, and what was done to it."""
    parsed.comment = "\n".join(comments)
    for line in comments:
        name, colon, text = line.partition(":")
        role = place_role(name)
        if colon and (role or name.strip() in _DONE_TO_IT):
            parsed.place[role or name.strip()] = text.strip()
        if name.strip().lower() in _LICENCE:
            parsed.licence = plain_text(text).strip() or parsed.licence


# --- tables -------------------------------------------------------------------------------


def _parse_table(
    parsed: ParsedFile, path: Path, coding: str, body: Iterator[tuple[int, str]], options: _Options
) -> None:
    """Read the columns of a table that are recognised by their names."""
    top = delimited.head(*next(body))
    roles = column_roles(parsed.name, top.names, options.columns)
    date_roles = _date_roles(parsed.name, top.names, roles)
    read = {name: roles[name] for name in READ if name in roles}
    if not set(TEMPERATURES) & set(read):
        _refuse_missing_column(parsed.name, top.names, "temperature column", "tmin")
    flags = flag_columns(top.names, read)
    positions = {column.position for column in roles.values()} | set(flags.values())
    clean = delimited.clean_columns(path, coding, top, positions)
    if clean is not None:
        lines, texts = clean
    else:
        lines, texts, parsed.faults = delimited.columns(body, top, positions)
    if not len(lines) and not parsed.faults:
        msg = f"{parsed.name} has nothing after its header in line {top.line}. Give another file."
        raise RecordError(msg)
    text = {role: texts[column.position] for role, column in roles.items()}
    matched = (f"{role} from {roles[role].name!r}" for role in (*date_roles, *read))
    parsed.notes.append(f"read {', '.join(matched)}")
    days = _parse_days(parsed, lines, [text[role] for role in date_roles], options.dates)
    values = {}
    for name, column in read.items():
        written = _without_traces(parsed, text[name]) if name == "precip" else text[name]
        values[name] = _parse_numbers(parsed, column.name, lines, written)
        if name in flags:
            values[name] = _without_failed(parsed, name, values[name], texts[flags[name]])
    delimited.refuse(parsed.name, parsed.faults)
    units = _units(parsed.name, read, values, options.units, noaa=bool(flags))
    for name, column in read.items():
        in_head = column.unit == units[name]
        parsed.series[name] = RawSeries(days, values[name], lines, units[name], in_head)
        hint = "" if in_head else ", which its name does not say"
        parsed.notes.append(f"{name} taken as {units[name]}{hint}")
    _refuse_several_stations(parsed.name, text.get("station_id", ()))
    parsed.place |= {role: text[role][0] for role in PLACE_ROLES if role in text}


def _refuse_missing_column(file: str, names: Sequence[str], what: str, role: str) -> NoReturn:
    msg = (
        f"{file} has no {what} that is known by its name. Its columns are "
        f"{list_names(names)}. Say which it is: "
    )
    more = "; if these are values, put a line with names above them."
    raise RecordError(msg, Parameter("columns", {role: names[0]}), more)


def _date_roles(file: str, names: Sequence[str], roles: Mapping[str, Column]) -> tuple[str, ...]:
    """Roles that give the date: one column, or year, month and day."""
    for candidates in (("date",), ("year", "month", "day"), ("day",), ("time",)):
        if all(role in roles for role in candidates):
            return candidates
    _refuse_missing_column(file, names, "date column", "date")


def _without_traces(parsed: ParsedFile, texts: Sequence[str]) -> Sequence[str]:
    """Precipitation with traces written as 0."""
    traces = {text for text in set(texts) if text.lower() in _TRACE}
    if not traces:
        return texts
    number = sum(text in traces for text in texts)
    parsed.note_count(number, "traces of precipitation read as 0")
    return ["0" if text in traces else text for text in texts]


def _without_failed(
    parsed: ParsedFile, name: str, values: np.ndarray, flags: Sequence[str]
) -> np.ndarray:
    """Values that passed NOAA's checks, whose second flag is blank."""
    failed = np.array([text.split(",")[1:2] not in ([], [""]) for text in flags], dtype=bool)
    failed &= ~np.isnan(values)
    parsed.note_count(int(failed.sum()), f"values of {name} dropped that failed NOAA's checks")
    return np.where(failed, np.nan, values)


def _units(
    file: str,
    read: Mapping[str, Column],
    values: Mapping[str, np.ndarray],
    given: Units | None,
    *,
    noaa: bool,
) -> dict[str, str]:
    """Unit of each variable: the one in its name, else as given, else the default."""
    temperatures = [values[name] for name in TEMPERATURES if name in values]
    tenths = noaa and any(bool((np.abs(each) > NO_TENTHS).any()) for each in temperatures)
    of_temperature = f"deg{given}" if given else None
    of_rain = "in" if noaa and given == "F" else "mm"
    if tenths:
        of_temperature, of_rain = "tenths of degC", "tenths of mm"
    for name in TEMPERATURES:
        if name in read and (doubt := _unit_doubt(read[name].unit, of_temperature, noaa=noaa)):
            msg = f"{file}: {read[name].name!r} "
            raise RecordError(msg, *doubt)
    otherwise = {name: of_rain if name == "precip" else of_temperature or "degC" for name in read}
    return {name: column.unit or otherwise[name] for name, column in read.items()}


def _unit_doubt(
    in_head: str | None, given: str | None, *, noaa: bool
) -> tuple[str | Mention, ...] | None:
    """Why the unit of a temperature is in doubt, if it is."""
    if in_head == "K":
        return ("is in kelvin. Subtract 273.15 from each value, and name the column degC.",)
    if in_head and given and in_head != given:
        return (
            f"says {in_head}, but the values would be {given}. Leave ",
            Parameter("units"),
            " out, or correct the name.",
        )
    if noaa and not in_head and not given:
        return (
            "does not say its unit; NOAA gives degC or degF. Give ",
            Parameter("units", "C"),
            " or ",
            Parameter("units", "F"),
            ".",
        )
    return None


def _refuse_several_stations(file: str, stations: Iterable[str]) -> None:
    names = sorted(set(stations) - {""})
    if len(names) > 1:
        msg = f"{file} holds {len(names)} stations: {list_names(names)}. Keep one of them."
        raise RecordError(msg)


# --- GHCN-Daily ---------------------------------------------------------------------------


def _parse_ghcn(parsed: ParsedFile, values: Iterable[Observation]) -> None:
    """Sort NOAA's observations by variable, without those that failed NOAA's checks."""
    passed: dict[str, list[Observation]] = {}
    stations, failed = set(), dict.fromkeys(READ, 0)
    for value in values:
        stations.add(value.station)
        name = ELEMENTS[value.element]
        if value.quality:
            failed[name] += 1
        else:
            passed.setdefault(name, []).append(value)
    _refuse_several_stations(parsed.name, stations)
    if not set(TEMPERATURES) & set(passed):
        msg = f"{parsed.name} has no values of TMIN, TMAX or TAVG. Choose another station."
        raise RecordError(msg)
    for name, rows in passed.items():
        unit = "tenths of mm" if name == "precip" else "tenths of degC"
        lines = np.array([row.line for row in rows])
        numbers = _parse_numbers(parsed, rows[0].element, lines, [row.value for row in rows])
        days = _parse_days(parsed, lines, [[row.day for row in rows]], None)
        parsed.series[name] = RawSeries(days, numbers, lines, unit)
        parsed.notes.append(f"read {name} from {rows[0].element}, {unit}")
        parsed.note_count(failed[name], f"values of {name} dropped that failed NOAA's checks")
    delimited.refuse(parsed.name, parsed.faults)
    parsed.place["station_id"] = stations.pop()
    parsed.licence = "work of the U.S. government (NOAA/NCEI)"


# --- dates and numbers of both kinds ------------------------------------------------------


def _parse_days(
    parsed: ParsedFile, lines: np.ndarray, texts: Sequence[Sequence[str]], form: str | None
) -> np.ndarray:
    """Days of the rows, from one column or from year, month and day; faults are noted."""
    joined = texts[0]
    if len(texts) > 1:
        joined = ["-".join(parts) for parts in zip(*texts, strict=True)]
    elif form is None:
        _refuse_other_midnight(parsed, lines, joined)
    dates = delimited.dates(joined, form)
    if dates.ambiguous is not None:
        line = lines[list(joined).index(dates.ambiguous)]
        msg = (
            f"{parsed.name}, line {line}: {dates.ambiguous!r} may be day/month or month/day, and "
            "no date in the file shows which. Give "
        )
        forms = Parameter("dates", "%d/%m/%Y"), " or ", Parameter("dates", "%m/%d/%Y")
        raise RecordError(msg, *forms, ".")
    if dates.two_forms is not None:
        year_first, year_last = dates.two_forms
        msg = (
            f"{parsed.name} has dates in two forms, such as {year_first!r} and {year_last!r}. A "
            "spreadsheet swaps day and month in the dates that it can read, and leaves the others. "
            "Write all dates in one form, from the file as it was before."
        )
        raise RecordError(msg)
    advice: tuple[str | Mention, ...] = (
        f"Write them as 2001-05-03, within {delimited.YEARS[0]} to {delimited.YEARS[1]}, or say "
        "how they are written, such as ",
        Parameter("dates", "%d/%m/%y"),
        ".",
    )
    bad = np.isnat(dates.days)
    if bad.all() and all(_SERIAL.fullmatch(text) for text in joined):
        advice = ("These are a spreadsheet's day numbers: format the cells as dates there.",)
    parsed.faults += delimited.fault("dates cannot be read", advice, bad, lines, joined)
    return dates.days


def _refuse_other_midnight(parsed: ParsedFile, lines: np.ndarray, texts: Sequence[str]) -> None:
    """Refuse times with a zone, whose local day may be another one; note other times of day."""
    together = "\n".join(texts)
    if "T" not in together and " " not in together:
        return  # no date is followed by a time
    hours = {text: _hour(text) for text in set(texts)}
    odd = {text: hour for text, hour in hours.items() if hour and not _MIDNIGHT.match(hour)}
    zoned = sorted(text for text, hour in odd.items() if _ZONE.search(hour))
    if zoned:
        shown = zoned[0]
        line = lines[list(texts).index(shown)]
        msg = (
            f"{parsed.name}, line {line}: {shown!r} has a time with a zone. The local day "
            "may be another one. Write local days, such as 2001-05-03, without a time."
        )
        raise RecordError(msg)
    if odd:
        clock = sorted(set(odd.values()))
        parsed.notes.append(f"time of day in the dates ignored: {', '.join(clock[:3])}")


def _hour(text: str) -> str:
    """Time of day after a date, if there is one."""
    parts = re.split(r"(?<=\d)[T ]", text.strip(), maxsplit=1)  # not the T of OCT
    return parts[1].strip() if len(parts) > 1 else ""


def _parse_numbers(
    parsed: ParsedFile, column: str, lines: np.ndarray, texts: Sequence[str]
) -> np.ndarray:
    """Numbers of a column; anything else is noted as a fault."""
    values, bad = delimited.numbers(texts)
    values[np.isin(values, delimited.MISSING_MEASUREMENTS)] = np.nan
    what, advice = f"values of {column!r} are not numbers", "Correct them, or leave them empty."
    parsed.faults += delimited.fault(what, advice, bad, lines, texts)
    return values


# --- from the file's columns to a record --------------------------------------------------


def assemble_record(parsed: ParsedFile) -> xr.Dataset:
    """The record on all its days, in degC and mm.

    Raises
    ------
    RecordError
        If a day has two values, no temperature is left, minimum and maximum are swapped, or a unit
        is implausible.
    """
    days = np.concatenate([series.days for series in parsed.series.values()])
    first = days.min()
    time = every_day(first, days.max())
    is_named = np.zeros(len(time), dtype=bool)
    is_named[(days - first).astype(int)] = True
    columns = {}
    for name in READ:
        if name not in parsed.series:
            continue
        series = _one_value_a_day(parsed, name, parsed.series[name])
        if not len(series.days):
            parsed.notes.append(f"{name} left out: all its values are missing")
            continue
        values = np.full(len(time), np.nan)
        values[(series.days - first).astype(int)] = CONVERT[series.unit](series.values)
        columns[name] = ("time", values, VARIABLES[name]._asdict())
    out = xr.Dataset(columns, coords={"time": time})
    delimited.refuse(parsed.name, parsed.faults)
    if not set(TEMPERATURES) & set(out):
        msg = f"{parsed.name} has no temperatures: all values are missing. Give another file."
        raise RecordError(msg)
    parsed.note_count(
        int((~is_named).sum()), "days between the first and the last are not in the file"
    )
    # The advice differs: two units among the years, among the columns, or one of the whole record.
    refuse_two_units(parsed.name, out)
    _refuse_mixed_units(parsed, out)
    _refuse_swapped_extremes(parsed, out)
    out = _with_mean(parsed, out)
    _refuse_wrong_unit(parsed, out)
    if SCENARIO in parsed.place:  # a scenario that was exported stays one
        out = out.assign_coords({SCENARIO: parsed.place[SCENARIO]})
    return out.assign_attrs(_attributes(parsed))


def _one_value_a_day(parsed: ParsedFile, name: str, series: RawSeries) -> RawSeries:
    """The series in order, each day once; two different values for a day are a fault."""
    present = ~np.isnan(series.values)
    order = np.flatnonzero(present)[np.argsort(series.days[present], kind="stable")]
    if (np.diff(order) < 0).any():
        parsed.notes.append(f"{name} sorted by date")
    days, values, lines = series.days[order], series.values[order], series.lines[order]
    repeated = np.zeros(len(days), bool)
    repeated[1:] = days[1:] == days[:-1]
    differs = np.zeros(len(days), bool)
    differs[1:] = values[1:] != values[:-1]
    clash = repeated & differs
    if clash.any():
        _refuse_a_logger(parsed.name, days, clash)
    text = [
        f"{day} {as_typed(value)}" for day, value in zip(days[clash], values[clash], strict=True)
    ]
    what, advice = f"days have two values of {name}", "Keep one row for each day."
    parsed.faults += delimited.fault(what, advice, np.ones(len(text), bool), lines[clash], text)
    dropped = int((repeated & ~differs).sum())
    parsed.note_count(dropped, f"repeated values of {name} dropped")
    return RawSeries(days[~repeated], values[~repeated], lines[~repeated], series.unit)


def _refuse_a_logger(file: str, days: np.ndarray, clash: np.ndarray) -> None:
    """Refuse a file with several readings on most days: a logger's, and no record of days."""
    named = np.unique(days)
    if len(days) >= LOGGER_READINGS * len(named) and 2 * len(np.unique(days[clash])) > len(named):
        msg = (
            f"{file} has {number(len(days) / len(named))} readings a day: it is a logger's file. A "
            "record has one row a day, with the lowest and the highest temperature of the day. "
            "Readings of a logger under cover are read with "
        )
        raise RecordError(msg, Call("read_logger", ("path",)), ", beside a record of the outdoors.")


def _refuse_swapped_extremes(parsed: ParsedFile, out: xr.Dataset) -> None:
    """Refuse a record whose minimum is above its maximum on most days: they are swapped."""
    if not {"tmin", "tmax"} <= set(out):
        return
    apart = out["tmax"].values - out["tmin"].values
    days = int((~np.isnan(apart)).sum())
    crossed = int((apart < -TOLERANCE_C).sum())
    if crossed > max(SWAPPED_SHARE * days, FEW_SLIPS):
        msg = (
            f"{parsed.name}: the minimum lies above the maximum on {crossed} of {days} days. "
            "The two columns are swapped: correct their names in the header, or the columns that "
            "you gave."
        )
        raise RecordError(msg)


def _with_mean(parsed: ParsedFile, out: xr.Dataset) -> xr.Dataset:
    """The record with a mean: its own, or (tmin + tmax) / 2 if it has none or a patchy one."""
    if not {"tmin", "tmax"} <= set(out):
        return out
    middle = (out["tmin"].values + out["tmax"].values) / 2
    derived = {"derived_from": "tmin tmax"}
    known = int((~np.isnan(middle)).sum())
    own = out["tmean"].values if "tmean" in out else np.full(len(middle), np.nan)
    if "tmean" in out and (~np.isnan(own)).sum() >= MEAN_SHARE * known:
        apart = np.abs(own - middle)
        apart = apart[~np.isnan(apart)]
        if len(apart) and (apart <= HALF_TENTH_C).mean() >= SAME_SHARE:
            parsed.notes.append("the mean in the file is half of tmin + tmax")
            out["tmean"].attrs.update(derived)
        return out
    if "tmean" in out:
        parsed.notes.append("the mean in the file is left out: it lacks too many days")
    parsed.notes.append("tmean is half of tmin + tmax")
    mean = ("time", middle, VARIABLES["tmean"]._asdict() | derived)
    return out.assign(tmean=mean)[[name for name in READ if name in {*out, "tmean"}]]


def _refuse_wrong_unit(parsed: ParsedFile, out: xr.Dataset) -> None:
    """Refuse a record whose warmest month is implausible, as with a wrong unit."""
    present = {
        name: out[name].notnull().values for name in ("tmean", "tmin", "tmax") if name in out
    }
    name = next(name for name, days in present.items() if days.any())
    medians = _medians_of_months(out[name])
    warmest = max(medians)
    series = parsed.series[name if name in parsed.series else "tmin"]
    correct: tuple[str | Mention, ...] = ("Correct the unit in the column's name.",)
    if warmest > WARMEST_MONTH_C[name]:
        if series.unit == "degC" and to_celsius(warmest, "F") <= WARMEST_MONTH_C[name]:
            advice = correct if series.unit_in_head else ("Say ", Parameter("units", "F"), ".")
        else:
            advice = ("Tenths or kelvin? Convert the values first.",)
    elif series.unit == "degF" and len(medians) == 12 and warmest < COOLEST_SUMMER_C[name]:
        advice = correct if series.unit_in_head else ("Say ", Parameter("units", "C"), ".")
    else:
        return
    msg = (
        f"{parsed.name}: the unit of {name!r} looks wrong. Read as {series.unit}, its warmest "
        f"month has a median of {fixed(warmest)} degC, which no place that grows food has. "
    )
    raise RecordError(msg, *advice)


def _refuse_mixed_units(parsed: ParsedFile, out: xr.Dataset) -> None:
    """Refuse minimum and maximum in different units: only one of them is like a garden's."""
    if not {"tmin", "tmax"} <= set(out):
        return
    warmest = {name: _medians_of_months(out[name]) for name in ("tmin", "tmax")}
    if any(len(medians) < 12 for medians in warmest.values()):
        return
    summer = {name: max(medians) for name, medians in warmest.items()}
    right = [n for n, c in summer.items() if COOLEST_SUMMER_C[n] <= c <= WARMEST_MONTH_C[n]]
    if len(right) != 1:
        return
    is_hot = any(celsius > WARMEST_MONTH_C[name] for name, celsius in summer.items())
    apart = float((out["tmax"] - out["tmin"]).median())
    if not (is_hot or apart > WIDEST_DAY_C):
        return
    unit = parsed.series["tmin"].unit
    msg = (
        f"{parsed.name}: minimum and maximum seem to be in different units. Read as {unit}, the "
        f"warmest month has a median of {fixed(summer['tmin'])} degC in the minimum and "
        f"{fixed(summer['tmax'])} degC in the maximum. Say the unit in each column's name, such as "
        "'tmax (degF)', or put both in one."
    )
    raise RecordError(msg)


def _medians_of_months(values: xr.DataArray) -> list[float]:
    """Median of each calendar month that has values. [degC]"""
    is_known = ~np.isnan(values.values)
    known, time = values.values[is_known], values["time"].values[is_known]
    month = time.astype("datetime64[M]").astype(int) % 12
    return [float(np.median(known[month == each])) for each in set(month.tolist())]


def _coordinate(parsed: ParsedFile, name: str, text: str) -> float:
    """Degrees, with a letter for the side or a sign; metres, or feet with their unit; NaN if none.

    What cannot be read is noted, as a place that is lost changes what is said of the garden.
    """
    (value,), (is_bad,) = delimited.numbers([text])
    if name == "elevation" and value in delimited.MISSING_MEASUREMENTS:
        return math.nan
    if not is_bad:
        return _on_earth(parsed, name, float(value))
    side = _SIDE.fullmatch(text.strip())
    if name == "elevation":
        with contextlib.suppress(InputError):
            return _on_earth(parsed, name, metres_of(text))
    elif side and side["side"].upper() in _SIDES[name]:
        sign = -1.0 if side["side"].upper() in "SW" else 1.0
        return _on_earth(parsed, name, sign * float(side["degrees"].replace(",", ".")))
    parsed.notes.append(f"{name} {text!r} not understood, and left out: write a plain number")
    return math.nan


def _on_earth(parsed: ParsedFile, name: str, value: float) -> float:
    """A position as it is, a longitude up to 360 as one to the west; refused if it is nowhere."""
    low, high = _ON_EARTH[name]
    if not (np.isnan(value) or low <= value <= high):
        what = "metres above the sea" if name == "elevation" else "degrees"
        msg = (
            f"{parsed.name}: its {name} must lie between {low} and {number(high)} {what}, got "
            f"{as_typed(value)}. Correct the line above its table, or the column."
        )
        raise RecordError(msg)
    return value - 360 if name == "longitude" and value > 180 else value


def _attributes(parsed: ParsedFile) -> dict[str, str | float]:
    """Title, source, history, licence and place of the record."""
    place = {name: text for name, text in parsed.place.items() if text}
    position = {name: _coordinate(parsed, name, place.pop(name, "")) for name in COORDINATES}
    called = place.get("station_name", place.get("station_id", parsed.name))
    return {
        "title": f"Daily record of {called}",
        "source": parsed.name,
        "history": "\n".join(parsed.notes),
        "licence": parsed.licence,
        **({"comment": parsed.comment} if parsed.comment else {}),
        **place,
        **{name: float(value) for name, value in position.items() if np.isfinite(value)},
    }
