"""What is doubtful about a record: measured here, put into words in `sentences_caveats`.

Each function answers with what is amiss and how much of it, or with None where nothing is.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np
import xarray as xr

from climwin.climate.breakpoints import BREAK_P, detect_breakpoints, yearly_means
from climwin.climate.trends import CLEAR_P
from climwin.core.geo import distance_km
from climwin.core.schema import VARIABLES, Garden, variable
from climwin.core.stats import mann_kendall, theil_sen

OLD_YEARS = 10
"""A record that ended so long ago is said to be old (common practice). [year]"""
CLEAR_WARMING_C = 0.1
"""Least warming that is worth a caveat (common practice). [degC per decade]"""
MISSING_SHARE = 0.05
"""Least share of missing days that is worth a caveat, if it is twice the usual month's (common
practice)."""
HEIGHT_M, FAR_KM = 100.0, 30.0
"""Difference in height, and distance, from the station that are worth a caveat (common practice).
[m], [km]"""
TESTED = ("tmin", "tmax")
"""Variables whose sudden steps and missing days are looked at."""


@dataclass(frozen=True)
class LastYear:
    """The last year of a record with a value, and how many years ago it was."""

    year: int
    years_ago: int


@dataclass(frozen=True)
class Step:
    """A clear sudden step of a variable: the first year after it, and its size. [degC]"""

    variable: str
    first_year: int
    size_c: float


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


def sudden_steps(daily: xr.Dataset) -> tuple[Step, ...]:
    """Clear sudden steps of a record that has both extremes, as where its station was moved."""
    if not {*TESTED} <= {*daily}:
        return ()
    return clear_steps(detect_breakpoints(daily))


def clear_steps(breakpoints: xr.Dataset) -> tuple[Step, ...]:
    """Those steps from `detect_breakpoints` that chance alone would hardly bring."""
    return tuple(
        Step(name, int(step["break_year"]), float(step["step"]))
        for name, step in ((name, breakpoints.sel(variable=name)) for name in TESTED)
        if float(step["p"]) < BREAK_P
    )


def clear_warming(daily: xr.Dataset) -> float | None:
    """Change of the yearly mean temperature, where it is clear; below 0 is colder.

    Returns
    -------
    float or None
        [degC per decade]
    """
    if "tmean" not in daily:
        return None
    yearly = yearly_means(variable(daily, "tmean"))
    slope, *_ = theil_sen(yearly["year"].values / 10, yearly.values)
    clear = abs(slope) >= CLEAR_WARMING_C and mann_kendall(yearly.values) < CLEAR_P
    return float(slope) if clear else None


def missing_months(coverage: xr.Dataset, months: Iterable[int]) -> MissingMonths | None:
    """Those of some months in which days are missing unusually often.

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
    """How far a garden lies above its station, where that is far; below 0 is below it. [m]"""
    ground = daily.attrs.get("elevation")
    if garden.elevation is None or ground is None:
        return None
    above = garden.elevation - float(ground)
    return above if abs(above) >= HEIGHT_M else None


def distance_to_station(garden: Garden, daily: xr.Dataset) -> float | None:
    """How far away the station lies, where that is far. [km]"""
    if not {"latitude", "longitude"} <= {*daily.attrs}:
        return None
    away = distance_km(
        garden.latitude,
        garden.longitude,
        float(daily.attrs["latitude"]),
        float(daily.attrs["longitude"]),
    )
    return away if away >= FAR_KM else None
