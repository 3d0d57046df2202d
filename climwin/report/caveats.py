"""Where a number could mislead, in plain words: a report or a record in, sentences out.

A sentence says what is amiss, how much, to which side, and what to do. A sound record has none.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable

import numpy as np
import xarray as xr

from climwin.climate.adjust import LAPSE
from climwin.climate.breakpoints import BREAK_P, detect_breakpoints, yearly_means
from climwin.climate.windows import odds_shorter
from climwin.core.geo import distance_km
from climwin.core.schema import VARIABLES, Garden, Units, difference_from_celsius, variable
from climwin.core.seasons import DAYS, MONTH_STARTS, day_number
from climwin.core.stats import FEW_YEARS, LEAST_YEARS, mann_kendall, theil_sen
from climwin.core.wording import MONTHS
from climwin.io.quality import coverage
from climwin.report.garden import GardenReport
from climwin.report.sentences import years

AGO = 10
"""Years after its end from which a record is said to be old (common practice). [year]"""
LATEST = 15
"""Latest years that are held against all years where it has grown warmer. [year]"""
CLEAR_P, CLEAR_C = 0.05, 0.1
"""A warming is said if its p lies below, and its size at or above this. [degC per decade]"""
HOLES = 0.05
"""Share of a month's days missing from which it is told, if it is twice the usual month's."""
HEIGHT_M, FAR_KM = 100.0, 30.0
"""Garden above or below, and away from its station, from which it is told. [m], [km]"""

_CALLED = {"tmin": "night", "tmax": "day"}


def caveats(
    report: GardenReport, made: dt.date | None = None, units: Units = "C"
) -> tuple[str, ...]:
    """Where a report's numbers could mislead.

    Parameters
    ----------
    report : GardenReport
        Of one garden.
    made : date, optional
        Today, to tell whether the record is old; without it this is not told.
    units : {"C", "F"}
        Of the temperatures said.
    """
    daily = report.daily
    stepped = moved_station(daily, units)
    told = (
        old(daily, made),
        stepped,
        "" if stepped else _warming(report, units),
        _holes(report),
        *_away(report.garden, daily, units),
    )
    return tuple(filter(None, told))


def record_caveats(
    daily: xr.Dataset,
    made: dt.date | None = None,
    units: Units = "C",
    *,
    garden: Garden | None = None,
) -> tuple[str, ...]:
    """Where a record could mislead, whatever is asked of it.

    Parameters
    ----------
    daily : Dataset, dims (time)
        Of one place.
    made, units
        As for `caveats`.
    garden : Garden, optional
        Where things are grown: then it is told if it lies far from the record's station.

    Raises
    ------
    ValueError
        If the record is of several places.
    """
    dims = {daily[name].dims for name in VARIABLES if name in daily}
    if dims - {("time",)}:
        msg = (
            "record_doubts takes the record of one place. Choose one, such as with .sel(station=)."
        )
        raise ValueError(msg)
    known = len(np.unique(daily["time"].dt.year))
    stepped = moved_station(daily, units)
    told = (
        FEW_YEARS if known < LEAST_YEARS else "",
        old(daily, made),
        stepped,
        "" if stepped else warming(daily, units),
        holes(coverage(daily), range(1, 13)),
        *(_away(garden, daily, units) if garden else ()),
    )
    return tuple(filter(None, told))


# --- the record ---------------------------------------------------------------------------


def old(daily: xr.Dataset, made: dt.date | None) -> str:
    """That a record ends long ago."""
    held = daily[[name for name in VARIABLES if name in daily]].to_array().notnull().any("variable")
    if made is None or not held.any():
        return ""
    end = int(daily["time"].dt.year.values[held.values].max())
    if made.year - end < AGO:
        return ""
    return (
        f"The record ends in {end}, {made.year - end} years ago. It may have grown warmer since: "
        "freezes may end earlier now, and summers be hotter. Look for a station that still reports."
    )


def moved_station(daily: xr.Dataset, units: Units) -> str:
    """That a record steps suddenly, as where its station was moved."""
    if not {*_CALLED} <= {*daily}:
        return ""
    told = _steps(detect_breakpoints(daily), units)
    if not told:
        return ""
    return (
        f"The record changes all at once: {told}. The station may have been moved or "
        "given another instrument, or the weather did change. Compare it with a neighbour before "
        "you trust the older years."
    )


def beside(daily: xr.Dataset, neighbour: xr.Dataset, units: Units = "C") -> str:
    """What a neighbour's record tells of sudden steps in a record, or that it tells of none.

    Raises
    ------
    DataGapError
        If the two have no day in common.
    """
    found = detect_breakpoints(daily, neighbour)
    facts, shared = neighbour.attrs, years(int(found["known"].min()))
    name = facts.get("station_name") or facts.get("title") or "the neighbour"
    if found["p"].isnull().all():
        return f"Against {name} no step can be told: {shared} in common, {LEAST_YEARS} are needed."
    told = _steps(found, units)
    if not told:
        return f"Against {name} the record holds: no sudden step in {shared} in common."
    return (
        f"Against {name} the record changes all at once: {told} ({shared} in common). One of the "
        "two may have been moved or given another instrument; a third station tells which."
    )


def _steps(found: xr.Dataset, units: Units) -> str:
    """The clear steps of `breaks`, if there are any."""
    told = []
    for name, called in _CALLED.items():
        one = found.sel(variable=name)
        if float(one["p"]) < BREAK_P:
            step = difference_from_celsius(float(one["step"]), units)
            way = "warmer" if step > 0 else "colder"
            told.append(
                f"{called}s from {int(one['break_year'])} on {abs(step):.1f} °{units} {way}"
            )
    return ", ".join(told)


def holes(covered: xr.Dataset, months: Iterable[int]) -> str:
    """That days are missing mostly in some of the months that count."""
    worst = _worst(covered, months)
    if not worst:
        return ""
    share = _missing(covered)
    inside = np.mean([share[m - 1] for m in worst])
    return (
        f"Days are missing mostly in {_listed(worst)}: {100 * inside:.0f} % of them, against "
        f"{100 * np.median(share):.0f} % in the usual month."
    )


def _missing(covered: xr.Dataset) -> np.ndarray:
    """Share of each month's days without an observed value, of the worse of the extremes."""
    names = [n for n in covered["variable"].values if n in _CALLED] or covered["variable"].values
    counts = covered.sel(variable=names)
    held = counts["present"].sum("year") / counts["days"].sum("year")
    return np.asarray(1 - held.min("variable").fillna(1))


def _worst(covered: xr.Dataset, months: Iterable[int]) -> list[int]:
    share = _missing(covered)
    least = max(HOLES, 2 * float(np.median(share)))
    return [month for month in months if share[month - 1] >= least]


def _listed(months: list[int]) -> str:
    names = [MONTHS[month - 1] for month in months]
    return names[0] if len(names) == 1 else f"{', '.join(names[:-1])} and {names[-1]}"


# --- the report ---------------------------------------------------------------------------


def _months_of(report: GardenReport) -> list[int]:
    """Months in which the crop grows, by any of the plans."""
    days = [day_number(plan.start) - 1 + np.arange(plan.crop.days) for plan in report.plans]
    held = np.searchsorted(MONTH_STARTS, np.concatenate(days) % DAYS, side="right")
    return sorted({int(month) for month in held})


def _holes(report: GardenReport) -> str:
    """Holes in the months that decide, and how far they could shift the headline's odds."""
    missing = holes(report.coverage, _months_of(report))
    if not missing:
        return ""
    found = report.shorter
    short, known, unknown = (int(found[name]) for name in ("shorter", "known", "unknown"))
    text = (
        f"{missing} These months decide for {report.crop.name}, "
        "and days are not lost by chance alone: cold, wet weeks may be the ones nobody read."
    )
    if not unknown:
        return text
    every = years(known + unknown)
    return (
        f"{text} Were all the years left out too short, it would be {short + unknown} of {every}; "
        f"were none, {short} of {every}."
    )


def few(report: GardenReport) -> list[str]:
    """That its years are few; the page says so with its odds, see `sentences.how_sure`."""
    return [FEW_YEARS] if int(report.shorter["known"]) < LEAST_YEARS else []


def _warming(report: GardenReport, units: Units) -> str:
    """That it has grown warmer or colder, and what the latest years say against all."""
    text, windows = warming(report.daily, units), report.windows
    if not text or windows.sizes["season"] <= LATEST:
        return text
    late = odds_shorter(windows.isel(season=slice(-LATEST, None)), report.need_days)
    late, found = late.sel(part=report.part), report.shorter
    return (
        f"{text} The window was too short in {int(late['shorter'])} of the latest "
        f"{years(int(late['known']))}, and in {int(found['shorter'])} of all "
        f"{int(found['known'])}."
    )


def warming(daily: xr.Dataset, units: Units) -> str:
    """That it has grown warmer or colder over a record."""
    if "tmean" not in daily:
        return ""
    yearly = yearly_means(variable(daily, "tmean"))
    slope, *_ = theil_sen(yearly["year"].values / 10, yearly.values)
    if not abs(slope) >= CLEAR_C or not mann_kendall(yearly.values) < CLEAR_P:
        return ""
    way, wrong = ("warmer", "too cold") if slope > 0 else ("colder", "too warm")
    change = difference_from_celsius(abs(slope), units)
    return (
        f"It has grown {way} here, by {change:.1f} °{units} in ten years. Odds from all years may "
        f"be {wrong} for the years to come."
    )


# --- the garden ---------------------------------------------------------------------------


def _away(garden: Garden, daily: xr.Dataset, units: Units) -> tuple[str, str]:
    return height(garden, daily, units), distance(garden, daily)


def height(garden: Garden, daily: xr.Dataset, units: Units) -> str:
    """That the garden lies far above or below its station, and what this may do."""
    ground = daily.attrs.get("elevation")
    if garden.elevation is None or ground is None:
        return ""
    up = garden.elevation - float(ground)
    if abs(up) < HEIGHT_M:
        return ""
    side, way = ("above", "colder") if up > 0 else ("below", "warmer")
    lapse = difference_from_celsius(LAPSE, units)
    return (
        f"The garden lies {abs(up):.0f} m {side} the station, whose own numbers these are: it may "
        f"be about {lapse * abs(up) / 1000:.1f} °{units} {way}, by the usual {lapse:.1f} °{units} "
        "in 1000 m. Ask for numbers moved to the garden's height, or better, hang a thermometer "
        "there for a season."
    )


def distance(garden: Garden, daily: xr.Dataset) -> str:
    """That the station lies far from the garden."""
    if not {"latitude", "longitude"} <= {*daily.attrs}:
        return ""
    away = distance_km(
        garden.latitude,
        garden.longitude,
        float(daily.attrs["latitude"]),
        float(daily.attrs["longitude"]),
    )
    if away < FAR_KM:
        return ""
    return (
        f"The station lies {away:.0f} km from the garden: its frosts may come on other nights. "
        "Look for a nearer one, or hang a thermometer in the garden for a season."
    )
