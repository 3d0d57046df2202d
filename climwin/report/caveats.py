"""What is doubtful about a record: measured here, put into words in `sentences_caveats`.

Each function returns what is wrong and how much of it, or None if nothing is.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np
import xarray as xr

from climwin.climate.breakpoints import detect_breakpoints, yearly_means
from climwin.climate.trends import CLEAR_P
from climwin.core.dependence import slope_beside, trend_test
from climwin.core.geo import distance_km
from climwin.core.schema import VARIABLES, Garden, variable

OLD_YEARS = 10
"""A record that ended so long ago is said to be old (common practice). [year]"""
CLEAR_WARMING_C = 0.1
"""Least warming that is worth a caveat (common practice). [degC per decade]"""
MISSING_SHARE = 0.05
"""Least share of missing days that is worth a caveat, if it is twice the usual month's (common
practice)."""
ANOTHER_PLACE_KM = 500.0
"""A station this far away says nothing about a garden (common practice). [km]"""
ANOTHER_HEIGHT_M = 1000.0
"""Nor does one this far above or below it: they differ by 6.5 degC (common practice). [m]"""
GREAT_HEIGHT_M = 300.0
"""A garden this far above or below its station is said before all doubts of a sound record: 2 degC
move the last frost by a week or two (common practice). [m]"""
REMOTE_KM = 150.0
"""A garden this far from its station is said before all doubts of a sound record, too: a degree of
latitude or more moves the last frost by some days (common practice). [km]"""
HEIGHT_M, FAR_KM = 100.0, 30.0
"""Difference in height, and distance, from the station that are worth a caveat (common practice).
[m], [km]"""
SNOWY_C = -3.0
"""Mean of the coldest month below which snow and frozen ground last for weeks: Koeppen's boundary
of the snow climates (1936, from memory). [degC]"""
TESTED = ("tmin", "tmax")
"""Variables whose sudden steps and missing days are looked at."""


@dataclass(frozen=True)
class LastYear:
    """The last year of a record with a value, and how many years ago it was."""

    year: int
    years_ago: int


@dataclass(frozen=True)
class Step:
    """A clear change of a variable: the first year after it, its size [degC], and its kind.

    The first year lies between `earliest` and `latest` (90 %); `kind` is one of
    `breakpoints.KINDS`, and `drift_c` the slope of a straight drift in its place [degC per decade].
    """

    variable: str
    first_year: int
    size_c: float
    earliest: int
    latest: int
    kind: str
    drift_c: float


@dataclass(frozen=True)
class Warming:
    """A clear change of the yearly mean temperature; below 0 it has grown colder.

    `beside_step_c` says what it would be if a clear sudden step were the station's own and not the
    climate's: missing where there is none, and 0 where nothing clear is left.
    """

    slope_c: float
    beside_step_c: float | None = None


@dataclass(frozen=True)
class MissingMonths:
    """Months that lack unusually many days, their share of missing days, and the usual share."""

    months: tuple[int, ...]
    share: float
    usual_share: float


# --- the record ---------------------------------------------------------------------------


def old_record(daily: xr.Dataset, today: dt.date | None) -> LastYear | None:
    """Last year of a record that ended long ago; None without a date of today."""
    measured = daily[[name for name in VARIABLES if name in daily]]
    has_value = measured.to_array().notnull().any("variable")
    if today is None or not has_value.any():
        return None
    last = int(daily["time"].dt.year.values[has_value.values].max())
    ago = today.year - last
    return LastYear(last, ago) if ago >= OLD_YEARS else None


def has_frozen_ground(daily: xr.Dataset) -> bool:
    """Whether the winters of a record freeze the ground for weeks; not without both extremes."""
    if not {*TESTED} <= {*daily.data_vars}:
        return False
    means = ((daily["tmin"] + daily["tmax"]) / 2).groupby("time.month").mean()
    return bool(means.min() < SNOWY_C)


def sudden_steps(daily: xr.Dataset) -> tuple[Step, ...]:
    """Clear sudden steps of a record that has both extremes, as where its station was moved."""
    if not {*TESTED} <= {*daily}:
        return ()
    return tuple(each for each in clear_changes(detect_breakpoints(daily)) if each.kind != "drift")


def clear_changes(breakpoints: xr.Dataset) -> tuple[Step, ...]:
    """Changes from `detect_breakpoints` that are too clear to be due to chance."""
    return tuple(
        Step(
            name,
            int(change["break_year"]),
            float(change["step"]),
            int(change["break_low"]),
            int(change["break_high"]),
            str(change["kind"].item()),
            float(change["drift"]),
        )
        for name, change in ((name, breakpoints.sel(variable=name)) for name in TESTED)
        if change["kind"].item()
    )


def clear_warming(daily: xr.Dataset, steps: Iterable[Step] = ()) -> Warming | None:
    """Change of the yearly mean temperature, where it is clear, with a step in it and without.

    Parameters
    ----------
    daily : Dataset, dims (time)
        Nothing is told of a record without ``tmean``.
    steps : iterable of Step
        Clear sudden steps of the record, from `sudden_steps`. A slope beside them is looked at too:
        warming that a step hides is still told, and warming that is nothing but a step is not told
        as the climate's.
    """
    if "tmean" not in daily:
        return None
    yearly = yearly_means(variable(daily, "tmean"))
    years, values = yearly["year"].values, yearly.values
    slope, _, _, p = trend_test(years, values)
    whole = 10 * slope if _is_clear(10 * slope, p) else 0.0
    first_years = [step.first_year for step in steps]
    if not first_years:
        return Warming(whole) if whole else None
    slope, p = slope_beside(years, values, first_years)
    beside = 10 * slope if _is_clear(10 * slope, p) else 0.0
    return Warming(whole or beside, beside) if whole or beside else None


def _is_clear(slope_c: float, p: float) -> bool:
    """Whether a change of the yearly mean [degC per decade] is worth a caveat."""
    return abs(slope_c) >= CLEAR_WARMING_C and p < CLEAR_P


def missing_months(coverage: xr.Dataset, months: Iterable[int]) -> MissingMonths | None:
    """Months, among some, in which days are missing unusually often.

    Parameters
    ----------
    coverage : Dataset, dims (variable, year, month)
        From `quality.coverage`.
    months : iterable of int
        Months that matter, 1 to 12.
    """
    share = _missing_share(coverage)
    usual = float(np.median(share))
    worst = [month for month in months if share[month - 1] >= max(MISSING_SHARE, 2 * usual)]
    if not worst:
        return None
    return MissingMonths(tuple(worst), float(np.mean([share[m - 1] for m in worst])), usual)


def _missing_share(coverage: xr.Dataset) -> np.ndarray:
    """Share of each month's days without an observed value, of the worse of the extremes."""
    names = [n for n in coverage["variable"].values if n in TESTED] or coverage["variable"].values
    counts = coverage.sel(variable=names)
    present = counts["present"].sum("year") / counts["days"].sum("year")
    return np.asarray(1 - present.min("variable").fillna(1))


# --- the garden ---------------------------------------------------------------------------


def height_difference(garden: Garden, daily: xr.Dataset) -> float | None:
    """Height of a garden above its station, negative below it; None unless it is large. [m]"""
    ground = daily.attrs.get("elevation")
    if garden.elevation is None or ground is None:
        return None
    above = garden.elevation - float(ground)
    return above if abs(above) >= HEIGHT_M else None


def height_of_another_climate(garden: Garden, daily: xr.Dataset) -> float | None:
    """How far a garden lies above where its record was measured, if one of the two must be wrong.

    A record that was moved to the garden's height counts from its station too. [m]
    """
    ground = daily.attrs.get("station_elevation", daily.attrs.get("elevation"))
    if garden.elevation is None or ground is None:
        return None
    above = garden.elevation - float(ground)
    return above if abs(above) >= ANOTHER_HEIGHT_M else None


def distance_to_station(garden: Garden, daily: xr.Dataset) -> float | None:
    """Distance to the station; None unless it is large. [km]"""
    if not {"latitude", "longitude"} <= {*daily.attrs}:
        return None
    away = distance_km(
        garden.latitude,
        garden.longitude,
        float(daily.attrs["latitude"]),
        float(daily.attrs["longitude"]),
    )
    return away if away >= FAR_KM else None
