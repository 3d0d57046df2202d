"""A gardener's own logger: a CSV of any time step becomes a temperature series.

Times are in the place's winter time all year round, so that every day has 24 hours.
"""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Iterator, Mapping
from itertools import islice
from pathlib import Path
from typing import TYPE_CHECKING, NoReturn
from zoneinfo import ZoneInfo

import numpy as np
import xarray as xr

from climwin.core.errors import Call, InputError, Parameter, RecordError
from climwin.core.formatting import counted, fixed
from climwin.core.schema import ZERO_C_IN_K, Units, check_choice, to_celsius
from climwin.io import delimited
from climwin.io.columns import column_roles
from climwin.io.logger_plausibility import refuse_logger

if TYPE_CHECKING:
    import pandas as pd

PLAUSIBLE_C = (-60.0, 60.0)
"""Range of a sensor in the shade of a garden. [degC]"""

_USUAL_BELOW_C = 40.0  # a median above it means degF
_FEW_CLASHES = 3  # a button pressed between two readings; more mean another logger
_HEAD_LINES = 60
_CLOCKS = (["date"], ["time"], ["datetime"], ["timestamp"])
_TWO_COLUMNS = [["date"], ["time"]]
_NEARLY_S = 600  # by how much a step back may differ from an hour at the end of summer time
_HOUR_S, _DAY_S = 3_600, 86_400
_EVENLY = 1.5  # in usual steps; no reading is missing in between
_HALF_A_YEAR = 200  # days, within which clocks change at least once
_UNIT = re.compile(r"(?:^|[^a-z])(?:deg)?([cf])(?:elsius|ahrenheit)?(?:$|[^a-z])")
_HALF_DAY = re.compile(r"(\d{1,2})((?::\d\d){1,2})?\s*([ap])\.?m\.?", re.IGNORECASE | re.ASCII)
_OFFSET = re.compile(r"[T ]\d\d.*(?:Z|[+-]\d\d(?::?\d\d)?)$")


# --- the logger ---------------------------------------------------------------------------


def read_logger(
    path: str | Path,
    *,
    units: Units | None = None,
    zone: str | None = None,
    columns: Mapping[str, str] | None = None,
    dates: str | None = None,
) -> xr.Dataset:
    """Read the temperatures of a logger from its CSV file.

    Parameters
    ----------
    path : str or Path
        A CSV file: comma, semicolon or tab between cells, decimal point or comma, any time step
        below a day.
    units : {"C", "F"}, optional
        Unit of the temperatures. Default: as the header says, else degC.
    zone : str, optional
        If the logger's clock followed summer and winter time, the IANA name of its zone, such as
        ``"Europe/Rome"``. Without it times are taken as written.
    columns : mapping, optional
        Names of the columns for ``"time"`` and ``"temperature"``, if the header leaves a doubt.
    dates : str, optional
        How times are written, such as ``"%d/%m/%Y %H:%M"``. Default: year first, as in ISO 8601.

    Returns
    -------
    Dataset, dims (time)
        ``temperature`` [degC], sorted, each time once; with `zone`, in its winter time. ``history``
        says what was dropped.

    Raises
    ------
    RecordError
        If there is no header, a number or a time cannot be read, the clock was put back, the file
        has two loggers, temperatures look like degF, the sensor is stuck, or zeros stand among
        other readings. The message names the line and what to do.
    ValueError
        If an option is not allowed.

    Examples
    --------
    >>> import climwin as cw
    >>> logger = cw.read_logger(cw.sample("frame_logger.csv"))
    >>> logger["temperature"].attrs["units"]
    'degC'
    """
    file = Path(path)
    readings, units = _readings(file, columns or {}, units, dates)
    present = readings.dropna()
    if present.empty:
        msg = f"{file.name} has no readings below its header. Export the logger again."
        raise RecordError(msg)
    _refuse_implausible(present, units, file.name)
    ordered, notes = _sorted_once(_in_time_order(present, zone, file.name), zone, file.name)
    notes = [f"read from {file.name} in deg{units}", *notes, *_doubt_of_summer(present, zone)]
    if len(readings) > len(present):
        notes.append(f"{len(readings) - len(present)} blank readings left out")
    logger = _as_dataset(ordered, notes, zone, file)
    refuse_logger(file.name, logger)
    return logger


def _doubt_of_summer(present: pd.DataFrame, zone: str | None) -> list[str]:
    """A note if nothing in a file shows whether its clock was set to summer time."""
    if zone is None or present["time"].dt.tz is not None:
        return []
    tz, time = _zone(zone), present["time"].sort_values()
    offset = time.iloc[0].to_pydatetime().replace(tzinfo=tz).utcoffset()
    winter = _winter_offset(tz, time.dt.year.iloc[0])
    if offset == winter or _crosses_a_change(time, tz):
        return []
    return [
        f"taken as set to the summer time of {zone}, an hour ahead; the file has no change of "
        "clocks that would show it. If the clock stayed at winter time, leave the zone out"
    ]


def _as_dataset(
    ordered: pd.DataFrame, notes: list[str], zone: str | None, path: Path
) -> xr.Dataset:
    """Readings as `read_logger` returns them, with their notes and the zone of their times."""
    heat = xr.Variable(
        "time",
        ordered["temperature"].to_numpy(),
        {"units": "degC", "long_name": "air temperature", "standard_name": "air_temperature"},
    )
    where: dict[str, str | float] = {}
    if zone:
        at = ordered["time"].iloc[0].to_pydatetime()
        where = {
            "zone": f"winter time of {zone}",
            "utc_offset_h": _winter_offset(_zone(zone), at.year).total_seconds() / 3600,
        }
    return xr.Dataset(
        {"temperature": heat},
        coords={"time": ordered["time"].to_numpy().astype("datetime64[s]")},
        attrs={
            "title": path.stem,
            "source": f"the gardener's own logger, {path.name}",
            "history": "\n".join(notes),
            **where,
        },
    )


# --- the text of its file -----------------------------------------------------------------


def _words(name: str) -> list[str]:
    return re.findall("[a-z]+", name.lower())


def _columns(names: list[str], given: Mapping[str, str]) -> dict[str, list[int]]:
    """Positions of the columns that may be time and temperature, as given or by name.

    If date and time of day are two columns, the date comes first.
    """
    words = [_words(name) for name in names]
    candidates = {
        "time": [n for n, each in enumerate(words) if each[:1] in _CLOCKS],
        "temperature": [n for n, each in enumerate(words) if any(w[:4] == "temp" for w in each)],
    }
    for kind, wanted in given.items():
        check_choice("a key of columns", kind, candidates)
        candidates[kind] = [n for n, name in enumerate(names) if name == wanted]
    date_first = sorted(candidates["time"], key=lambda n: words[n])
    if [words[n] for n in date_first] == _TWO_COLUMNS:
        candidates["time"] = date_first
    return candidates


def _head(
    lines: Iterator[tuple[int, str]], given: Mapping[str, str], file: str
) -> tuple[delimited.Head, list[int], int]:
    """The header that names time and temperature, below any remarks, and their positions."""
    first = None
    for number, text in islice(lines, _HEAD_LINES):
        top = delimited.head(number, text)
        candidates = _columns(top.names, given)
        if all(candidates.values()):
            _refuse_doubt(candidates, top.names, file)
            return top, candidates["time"], candidates["temperature"][0]
        first = first or text.strip()
    if first is None:
        msg = f"{file} is empty. Export it again from the logger."
        raise RecordError(msg)
    if {"tmin", "tmax"} <= set(column_roles(file, delimited.head(1, first).names)):
        msg = (
            f"{file} has a minimum and a maximum of each day: it is a record, no logger's file. "
            "Give readings of an hour or less, and the record in its own place."
        )
        raise RecordError(msg)
    wanted = " and ".join(repr(given.get(kind, kind)) for kind in ("time", "temperature"))
    msg = (
        f"{file} has no header with {wanted} in its first {_HEAD_LINES} lines; it begins with "
        f"{first[:60]!r}. Put the names of the columns above the values, or say which they are: "
    )
    names = Parameter("columns", {"time": "Logged", "temperature": "Value"})
    raise RecordError(msg, names, ".")


def _refuse_doubt(candidates: Mapping[str, list[int]], names: list[str], file: str) -> None:
    """Refuse a header in which several columns could be the time, or the temperature."""
    for kind, places in candidates.items():
        if len(places) > 1 and [_words(names[n]) for n in places] != _TWO_COLUMNS:
            listed = ", ".join(repr(names[n]) for n in places)
            msg = (
                f"{file}: the {kind} may be any of the columns {listed}. Say which, by a name that "
                "occurs only once: "
            )
            raise RecordError(msg, Parameter("columns", {kind: names[places[0]]}), ".")


def space_name(path: Path) -> str:
    """Name of a covered space, from the name of its logger's file.

    Examples
    --------
    >>> space_name(Path("frame_logger.csv")), space_name(Path("greenhouse-2026.csv"))
    ('frame', 'greenhouse')
    >>> space_name(Path("export (3).csv"))
    'covered space'
    """
    undated = re.sub(r"\d+([-_.]\d+)+", " ", path.stem)
    words = re.split(r"[\s_().-]+", undated)
    named = [word for word in words if word and not _names_no_space(word)]
    is_name = any(sum(map(str.isalpha, word)) > 2 for word in named)
    return " ".join(named) if is_name else "covered space"


_OF_ANY_LOG = (
    "csv",
    "data",
    "datalogger",
    "download",
    "export",
    "log",
    "logger",
    "readings",
    "temp",
    "temperature",
    "temperatures",
)


def _names_no_space(word: str) -> bool:
    """Whether a word of a file's name is a date or a device's number, or could name any log."""
    return word.casefold() in _OF_ANY_LOG or sum(map(str.isdigit, word)) > 2


def _readings(
    file: Path, given: Mapping[str, str], units: Units | None, dates: str | None
) -> tuple[pd.DataFrame, Units]:
    """Times as the clock showed them, temperatures and line numbers, in the order of the file."""
    import pandas as pd

    body = delimited.lines(file, delimited.encoding(file))
    top, clock, heat = _head(body, given, file.name)
    units = _stated_units(top.names[heat], units, file.name)
    lines, texts, faults = delimited.columns(body, top, {*clock, heat})
    values, bad = delimited.numbers(texts[heat])
    values[np.isin(values, delimited.MISSING_MEASUREMENTS)] = np.nan
    advice = "Correct them, or leave them empty."
    faults += delimited.fault("temperatures are not numbers", advice, bad, lines, texts[heat])
    shown = [" ".join(parts) for parts in zip(*(texts[n] for n in clock), strict=True)]
    time = _times(shown, dates)
    form = Parameter("dates", "%d/%m/%Y %H:%M")
    how = ("Write them as 2026-05-31 14:00, or say how they are written: ", form, ".")
    faults += delimited.fault("times cannot be read", how, time.isna().to_numpy(), lines, shown)
    delimited.refuse(file.name, faults)
    heats = to_celsius(values, units)
    return pd.DataFrame({"time": time, "temperature": heats, "line": lines}), units


def _times(shown: list[str], dates: str | None) -> pd.Series:
    """Times as the clock showed them, or universal time if they have an offset."""
    import pandas as pd

    texts = shown if dates else _year_first(shown)
    try:
        read = pd.Series(
            pd.to_datetime(texts, format=dates or "ISO8601", errors="coerce", utc=True)
        )
    except ValueError as error:
        msg = f" is not a format of times: {error}. Write it as '%d/%m/%Y %H:%M'."
        raise InputError(Parameter("dates", dates), msg) from error
    read = read.where(read.dt.year.between(*delimited.YEARS))
    offset = np.array([("%z" in dates) if dates else bool(_OFFSET.search(t)) for t in texts])
    return read.where(offset) if offset.any() else read.dt.tz_localize(None)


def _year_first(shown: list[str]) -> list[str]:
    """Times with ISO 8601 dates; empty if day and month cannot be told apart."""
    parts = [[*re.split("[T ]+", text, maxsplit=1), ""] for text in shown]
    days = delimited.dates([part[0] for part in parts])
    if days.ambiguous or days.two_forms:
        return ["" for _ in shown]
    return [
        f"{day} {_of_24_hours(part[1])}".strip() for day, part in zip(days.days, parts, strict=True)
    ]


def _of_24_hours(clock: str) -> str:
    """A time of day such as 2:30 PM as 14:30; any other as it is."""
    found = _HALF_DAY.fullmatch(clock)
    if found is None:
        return clock
    hour = int(found[1]) % 12 + (12 if found[3].lower() == "p" else 0)
    return str(hour).zfill(2) + (found[2] or ":00")


def _stated_units(name: str, units: Units | None, file: str) -> Units:
    """Unit of the temperatures: as the header says, else as given, else degC."""
    stated: Units | None = None
    if match := _UNIT.search(name.lower()):
        stated = "F" if match[1] == "f" else "C"
    if units is None:
        return stated or "C"
    check_choice("units", units, ("C", "F"))
    if stated and stated != units:
        msg = (
            f"{file} has the header {name!r} for its temperatures, but ",
            Parameter("units", units),
            " was given. Leave ",
            Parameter("units"),
            " out, or correct the header.",
        )
        raise RecordError(*msg)
    return units


def _refuse_implausible(present: pd.DataFrame, units: Units, file: str) -> None:
    """Refuse readings beyond any garden's, and a median beyond any garden's in degC."""
    heat = present["temperature"]
    low, high = PLAUSIBLE_C
    wrong = present[(heat < low) | (heat > high)]
    if wrong.empty and heat.median() <= _USUAL_BELOW_C:
        return
    line, value = (wrong if len(wrong) else present)[["line", "temperature"]].iloc[0]
    msg = (
        f"{file}, line {fixed(line)}: {fixed(value, 1)} degC when read as deg{units}, and the "
        f"median of all readings is {fixed(heat.median(), 1)}. A garden stays between {fixed(low)} "
        f"and {fixed(high)} degC, its median below {fixed(_USUAL_BELOW_C)}. "
    )
    # A sensor tells that it fails by one number, again and again.
    codes = set(wrong["temperature"])
    is_code = len(wrong) > 1 and len(codes) == 1
    advice = () if is_code else _unit_instead(float(heat.median()), units)
    raise RecordError(msg, *advice, "If the sensor failed, blank its readings.")


def _unit_instead(median: float, units: Units) -> tuple[str | Parameter, ...]:
    """Which unit would make a usual reading of the median."""
    if units == "F":
        return ("Are they degC after all? ",)
    if to_celsius(median, "F") <= _USUAL_BELOW_C:
        return ("Are they degF? Then give ", Parameter("units", "F"), ". ")
    if abs(median - ZERO_C_IN_K) <= _USUAL_BELOW_C:
        return ("Are they kelvin? Then take 273.15 off. ",)
    return ("Are they tenths of a degree? Then divide them by ten. ",)


# --- its clock ----------------------------------------------------------------------------


def _in_time_order(present: pd.DataFrame, zone: str | None, file: str) -> pd.DataFrame:
    """Readings in the order they were taken, in the winter time of the zone if one is given."""
    steps = present["time"].diff().dt.total_seconds().dropna()
    newest_first = (steps < 0).mean() > 0.5
    present = (present[::-1] if newest_first else present).reset_index(drop=True)
    if zone is None:
        if present["time"].dt.tz is not None:
            msg = (
                f"{file} gives its times with an offset from universal time. The place's zone is "
                "needed to split days at local midnight: "
            )
            raise RecordError(msg, Parameter("zone", "Europe/Rome"), ", for example.")
        return present
    tz = _zone(zone)
    if present["time"].dt.tz is None:
        present = present.assign(time=_universal(present, tz, file))
    winter = _winter_offset(tz, present["time"].dt.year.iloc[0])
    return present.assign(time=present["time"].dt.tz_localize(None) + winter)


def _winter_offset(tz: ZoneInfo, year: int) -> dt.timedelta:
    """Offset of a zone's winter time from universal time."""
    noons = (dt.datetime(year, month, 1, 12, tzinfo=tz) for month in (1, 7))
    return min(noon.utcoffset() or dt.timedelta() for noon in noons)


def _zone(name: str) -> ZoneInfo:
    try:
        return ZoneInfo(name)
    except (KeyError, ValueError, OSError) as error:
        msg = " is not an IANA time zone. Give one such as 'Europe/Rome'."
        raise InputError(Parameter("zone", name), msg) from error


def _universal(present: pd.DataFrame, tz: ZoneInfo, file: str) -> pd.Series:
    """Universal time of a clock that followed summer and winter time.

    An hour shown twice in autumn is summer time until the clock steps back, then winter time.
    """
    clock = present["time"]
    twice = clock.dt.tz_localize(tz, ambiguous="NaT", nonexistent="shift_forward").isna()
    step = twice & twice.shift(fill_value=False) & (clock.diff().dt.total_seconds() <= 0)
    winter = step.groupby((twice != twice.shift()).cumsum()).cummax()
    there = clock.dt.tz_localize(tz, ambiguous=~winter.to_numpy(), nonexistent="NaT")
    if there.isna().any():
        lost = present[there.isna()].iloc[0]
        msg = (
            f"{file}, line {lost['line']}: {lost['time']} did not exist in {tz.key}, where clocks "
            "went forward. The logger's clock was not set to summer time: leave "
        )
        raise RecordError(msg, Parameter("zone"), " out.")
    _refuse_winter_clock(present, twice, tz, file)
    return there.dt.tz_convert("UTC")


def _refuse_winter_clock(present: pd.DataFrame, twice: pd.Series, tz: ZoneInfo, file: str) -> None:
    """Refuse a clock that runs evenly through the hour that summer-time clocks show twice."""
    clock = present["time"]
    step = clock.diff().dt.total_seconds()
    usual = step[step > 0].median()
    for _, hour in present[twice].groupby(clock[twice].dt.date):
        first, last = hour.index[0], hour.index[-1]
        around = step.loc[max(first - 1, 1) : last + 1]  # labels are positions: the index was reset
        is_even = ((around > 0) & (around <= _EVENLY * usual)).all()
        if first > 0 and last + 1 < len(present) and usual <= _HOUR_S and is_even:
            msg = (
                f"{file}, line {hour['line'].iloc[0]}: the hour from {hour['time'].iloc[0]} occurs "
                f"once, but clocks in {tz.key} showed it twice, at the end of summer time. The "
                "logger's clock was not set to summer time: leave "
            )
            raise RecordError(msg, Parameter("zone"), " out.")


def _crosses_a_change(time: pd.Series, tz: ZoneInfo) -> bool:
    """Whether clocks went forward or back between the first and the last time."""
    ends = [time.iloc[n].to_pydatetime().replace(tzinfo=tz).utcoffset() for n in (0, -1)]
    return bool(ends[0] != ends[1] or (time.iloc[-1] - time.iloc[0]).days > _HALF_A_YEAR)


def _sorted_once(
    readings: pd.DataFrame, zone: str | None, file: str
) -> tuple[pd.DataFrame, list[str]]:
    """Readings sorted, each time once, with notes on what was dropped; a reset clock is refused."""
    step = readings["time"].diff().dt.total_seconds()
    usual = float(step[step > 0].median())
    if usual >= _DAY_S:
        msg = f"{file} has at most one reading a day. Read a daily record with "
        raise RecordError(msg, Call("read_daily", ("path",)), ".")
    repeated = readings.duplicated(["time", "temperature"])
    clash = (readings["time"] <= readings["time"].cummax().shift()) & ~repeated
    if clash.sum() > _FEW_CLASHES or (clash & (step != 0)).any():
        _refuse_clash(readings.assign(step=step), clash, usual if zone is None else np.nan, file)
    ordered = readings[~repeated].groupby("time", as_index=False)[["temperature"]].mean()
    notes = (
        [f"{counted(int(repeated.sum()), 'reading')} repeated and dropped"]
        if repeated.any()
        else []
    )
    if clash.any():
        notes.append(
            f"two readings at the same time averaged, {clash.sum()} times; if the clock was "
            "put back from summer time there, give its zone"
        )
    return ordered, notes


def _refuse_clash(readings: pd.DataFrame, clash: pd.Series, usual: float, file: str) -> NoReturn:
    """Raise an error that explains why a time occurs again with another temperature."""
    until = readings[: clash.to_numpy().argmax() + 1]
    turn = until[until["step"] <= 0].iloc[-1]
    twice = int((clash & readings["time"].duplicated(keep=False)).sum())
    where = f"{file}, line {turn['line']}"
    if turn["step"] < 0 and abs(usual - turn["step"] - 3600) <= _NEARLY_S:
        msg = (
            f"{where}: the clock goes back by an hour, to {turn['time']}, as at the end of summer "
            "time. Give the zone that it was set to: "
        )
        raise RecordError(msg, Parameter("zone", "Europe/Rome"), ", for example.")
    if twice > _FEW_CLASHES:
        msg = (
            f"{where}: two clocks or two loggers in one file: {twice} times occur again with "
            f"another temperature, the first at {turn['time']}. Give each logger its own file."
        )
    else:
        msg = (
            f"{where}: the clock goes back to {turn['time']}. Was it reset, or are parts of the "
            "record in the wrong order? Correct the times, or read the parts one by one."
        )
    raise RecordError(msg)
