"""From what a file holds to a daily record: one axis of days, degC and mm, a mean, a sane unit."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from typing import NamedTuple

import numpy as np
import xarray as xr

from climwin.core.provenance import SCENARIO
from climwin.core.schema import TOLERANCE_C, VARIABLES, RecordError, to_celsius
from climwin.core.seasons import every_day
from climwin.io import delimited

TEMPERATURES = ("tmin", "tmax", "tmean")
READ = (*TEMPERATURES, "precip")
COORDINATES = ("latitude", "longitude", "elevation")

WARMEST_MONTH_C = {"tmean": 45.0, "tmin": 45.0, "tmax": 52.0}
"""Warmest month that is believed [degC]: the hottest of any had a mean of 42.3 (Death Valley, July
2018; Guinness World Records, "Hottest places"), and maxima near 49 (from memory)."""
COOLEST_SUMMER_C = {"tmean": 5.0, "tmin": 0.0, "tmax": 5.0}
"""Warmest month below which degF are not believed [degC]: where food grows it is warmer, and degC
read as degF come out lower unless they are beyond 41, or minima beyond 32 (common practice)."""
MEAN_SHARE = 0.9
"""A mean column is used if it has at least this share of the days with both extremes (common
practice): a patchy one would mix two kinds of mean."""
SAME_SHARE, HALF_TENTH = 0.99, 0.051
"""A mean column that is half of tmin + tmax on this share of its days, rounded to tenths [degC],
was made from them (common practice): what is wrong with one of them is wrong with it."""

FEW_SLIPS = 5
"""Days with the minimum above the maximum that alone do not tell of swapped columns (common
practice)."""

CONVERT: dict[str, Callable[[np.ndarray], np.ndarray]] = {
    "degC": lambda values: values,
    "degF": lambda values: to_celsius(values, "F"),
    "tenths of degC": lambda values: values / 10,
    "mm": lambda values: values,
    "tenths of mm": lambda values: values / 10,
    "cm": lambda values: values * 10,
    "in": lambda values: values * 25.4,
}
"""From the units of a file to degC and mm."""


class Series(NamedTuple):
    """One variable as a file holds it: days, values in a unit that its head may say, lines."""

    days: np.ndarray
    values: np.ndarray
    lines: np.ndarray
    unit: str
    said: bool = False


@dataclass(slots=True)
class Found:
    """What a file holds, and what was done to read it."""

    file: str
    series: dict[str, Series] = field(default_factory=dict)
    place: dict[str, str] = field(default_factory=dict)
    notes: list[str] = field(default_factory=list)
    faults: list[delimited.Fault] = field(default_factory=list)
    comment: str = ""
    licence: str = "not stated in the file"

    def count(self, number: int, what: str) -> None:
        """Note how many of something there were, if any."""
        if number:
            self.notes.append(f"{what}: {number}")


def record(found: Found) -> xr.Dataset:
    """The record on all its days, in degC and mm.

    Raises
    ------
    RecordError
        If a day has two values, no temperature is left, minimum and maximum are swapped, or a
        unit cannot be right.
    """
    named = np.unique(np.concatenate([series.days for series in found.series.values()]))
    time = every_day(named[0], named[-1])
    out = xr.Dataset(coords={"time": time})
    for name in (name for name in READ if name in found.series):
        series = _once(found, name, found.series[name])
        if not len(series.days):
            found.notes.append(f"{name} left out: all its values are missing")
            continue
        values = np.full(len(time), np.nan)
        values[(series.days - named[0]).astype(int)] = CONVERT[series.unit](series.values)
        out[name] = ("time", values, VARIABLES[name]._asdict())
    delimited.refuse(found.file, found.faults)
    if not set(TEMPERATURES) & set(out):
        msg = f"{found.file} holds no temperature: all values are missing. Give another file."
        raise RecordError(msg)
    found.count(len(time) - len(named), "days between the first and the last are not in the file")
    _check_order(found, out)
    out = _with_mean(found, out)
    _check_warmth(found, out)
    if SCENARIO in found.place:  # a scenario that was exported stays one
        out = out.assign_coords({SCENARIO: found.place[SCENARIO]})
    return out.assign_attrs(_attributes(found))


def _once(found: Found, name: str, series: Series) -> Series:
    """The series in order, each day once; the same day with another value is a fault."""
    held = ~np.isnan(series.values)
    order = np.flatnonzero(held)[np.argsort(series.days[held], kind="stable")]
    if (np.diff(order) < 0).any():
        found.notes.append(f"{name} put in order of date")
    days, values, lines = (part[order] for part in series[:3])
    again = np.append(False, days[1:] == days[:-1])[: len(days)]
    other = again & np.append(False, values[1:] != values[:-1])[: len(days)]
    text = [f"{day} {value:g}" for day, value in zip(days[other], values[other], strict=True)]
    what, advice = f"days have two values of {name}", "Keep one; a day has one row."
    found.faults += delimited.fault(what, advice, np.ones(len(text), bool), lines[other], text)
    found.count(int((again & ~other).sum()), f"repeated values of {name} dropped")
    return Series(days[~again], values[~again], lines[~again], series.unit)


def _check_order(found: Found, out: xr.Dataset) -> None:
    """Refuse a record whose minimum lies above its maximum on most days: they are swapped."""
    if not {"tmin", "tmax"} <= set(out):
        return
    both = (out["tmax"] - out["tmin"]).dropna("time")
    crossed = int((both < -TOLERANCE_C).sum())
    if crossed > max(both.size / 2, FEW_SLIPS):
        msg = (
            f"{found.file}: the minimum lies above the maximum on {crossed} of {both.size} days. "
            "The two columns are the wrong way round: correct their names in the head, or what "
            "was given as columns."
        )
        raise RecordError(msg)


def _with_mean(found: Found, out: xr.Dataset) -> xr.Dataset:
    """The record with a mean: its own, or half of tmin + tmax where it has none or a patchy one."""
    if not {"tmin", "tmax"} <= set(out):
        return out
    middle = (out["tmin"] + out["tmax"]) / 2
    derived = {"derived_from": "tmin tmax"}
    if "tmean" in out and int(out["tmean"].count()) >= MEAN_SHARE * int(middle.count()):
        both = (out["tmean"] - middle).dropna("time")
        if both.size and float((abs(both) <= HALF_TENTH).mean()) >= SAME_SHARE:
            found.notes.append("the mean in the file is half of tmin + tmax")
            out["tmean"] = out["tmean"].assign_attrs(derived)
        return out
    if "tmean" in out:
        found.notes.append("the mean in the file is left out: it lacks too many days")
    found.notes.append("tmean is half of tmin + tmax")
    mean = middle.assign_attrs(VARIABLES["tmean"]._asdict() | derived)
    return out.assign(tmean=mean)[[name for name in READ if name in {*out, "tmean"}]]


def _check_warmth(found: Found, out: xr.Dataset) -> None:
    """Refuse a record whose warmest month cannot be: its unit is another one."""
    held = {name: out[name].dropna("time") for name in ("tmean", "tmin", "tmax") if name in out}
    name = next(name for name, values in held.items() if values.size)
    warmest = float((months := held[name].groupby("time.month").median()).max())
    series = found.series[name if name in found.series else "tmin"]
    unit, correct = series.unit, "Correct the unit in the column's name."
    if warmest > WARMEST_MONTH_C[name]:
        fits = unit == "degC" and to_celsius(warmest, "F") <= WARMEST_MONTH_C[name]
        advice = correct if series.said else "Say units='F'."
        advice = advice if fits else "Tenths or kelvin? Convert the values first."
    elif unit == "degF" and months.sizes["month"] == 12 and warmest < COOLEST_SUMMER_C[name]:
        advice = correct if series.said else "Say units='C'."
    else:
        return
    msg = (
        f"{found.file}: the unit of {name!r} looks wrong. Read as {unit}, its warmest month has a "
        f"median of {warmest:.0f} degC, which no place that grows food has. {advice}"
    )
    raise RecordError(msg)


def _attributes(found: Found) -> dict[str, str | float]:
    """What the record says of itself."""
    place = {name: text for name, text in found.place.items() if text}
    values = {name: delimited.numbers([place.pop(name, "")])[0][0] for name in COORDINATES}
    named = place.get("station_name", place.get("station_id", found.file))
    return {
        "title": f"Daily record of {named}",
        "source": found.file,
        "history": "\n".join(found.notes),
        "licence": found.licence,
        **({"comment": found.comment} if found.comment else {}),
        **place,
        **{name: float(value) for name, value in values.items() if np.isfinite(value)},
    }
