"""The numbers that the live chart is given, as plain dicts that JSON can carry.

The same numbers serve the notebook's panel and the page to share. Python works out whatever takes
long; the front end draws it, and follows the library's rules for what a hand may move.
"""

from __future__ import annotations

import base64
from collections.abc import Sequence
from typing import Any

import numpy as np
import xarray as xr

from climwin.climate.freeze import freeze_odds
from climwin.climate.percentiles import day_bands
from climwin.climate.windows import running_mean, running_mean_bounds
from climwin.core.provenance import scenario_of
from climwin.core.schema import DataGapError, variable
from climwin.core.seasons import (
    DAYS,
    by_year,
    coldest_day,
    keep_inside,
    seen_range,
    smoothed,
    usual_days,
    warmest_day,
)
from climwin.core.stats import LEAST_YEARS, LEVEL, z_of
from climwin.crops.model import Crop, Limits
from climwin.planning.evaluate import best_dates
from climwin.planning.evaluate import fates as evaluate_all_starts
from climwin.planning.growth import OPEN, REASONS
from climwin.planning.plan import OUTDOORS, Plan
from climwin.planning.tally import SUCCEEDED
from climwin.planning.weather import Result, Weather, over_stations
from climwin.shelter.covers import COVERS, Cover, logger_days, under_cover

ODDS = (0.9, 0.5, 0.1)
"""Chances of a freeze whose dates the chart shows."""

# --- the place's record -------------------------------------------------------------------


def record_numbers(daily: xr.Dataset, name: str) -> dict[str, Any]:
    """A place's daily record, as far as the chart's rules need it.

    Parameters
    ----------
    daily : Dataset, dims (time)
        Needs ``tmin`` and ``tmean``. [degC]
    name : str
        What to call the place.

    Returns
    -------
    dict
        ``running_mean`` and ``minimum`` have the bounds of every day of every year, with a year
        that has no values added at either end, so that a season reaching over the record's end
        finds a gap there. ``season_rows`` has, for each day on which a season may begin, the rows
        of the seasons that lie inside the record.

    Raises
    ------
    ValueError
        If the record is of several places.
    DataGapError
        If it is too thin to have a usual year.
    """
    if daily["time"].dims != tuple(daily.sizes):
        msg = f"A panel shows one place, the record has {dict(daily.sizes)}. Choose one with .isel."
        raise ValueError(msg)
    tmean = by_year(variable(daily, "tmean"))
    tmin = by_year(variable(daily, "tmin"))
    usual = smoothed(tmean.values)
    mean_of_day = usual_days(tmean.values)
    if np.isnan(usual).any():
        msg = "The record is too thin to have a usual year. Give a record of some whole years."
        raise DataGapError(msg)
    coldest, warmest = int(coldest_day(daily)), int(warmest_day(daily))
    years = tmean["year"].values
    season_starts = {coldest, int(usual.argmin()) + 1, int(usual.argmax()) + 1}
    return {
        "name": name,
        "scenario": scenario_of(daily),
        "first_year": int(years[0]),
        "last_year": int(years[-1]),
        "first_row": int(years[0]) - 1,
        "running_mean": _pack_bounds(*running_mean_bounds(_with_empty_years(tmean))),
        "minimum": _pack_bounds(*_minimum_bounds(_with_empty_years(tmin))),
        "usual": _to_lists(usual),
        "average_curve": _to_lists(running_mean(mean_of_day[None], mean_of_day)[0]),
        "coldest_day": coldest,
        "warmest_day": warmest,
        "season_rows": {str(day): _season_rows(tmean, day) for day in season_starts},
        "bands": _to_lists(day_bands(daily["tmean"])["tmean"].transpose("percentile", ...).values),
    }


def _with_empty_years(grid: xr.DataArray) -> np.ndarray:
    """A place's years with one without values at either end."""
    return np.pad(grid.values, ((1, 1), (0, 0)), constant_values=np.nan)


def _minimum_bounds(tmin: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Least and greatest that each minimum can be; a night without a value never surely froze."""
    gap = np.isnan(tmin)
    return np.where(gap, seen_range(tmin)[0], tmin), np.where(gap, np.inf, tmin)


def _pack_bounds(least: np.ndarray, greatest: np.ndarray) -> dict[str, str]:
    """Two bounds of every day; of the greater one only the days on which they differ."""
    differs_on = np.flatnonzero(least != greatest)
    return {
        "least": _pack(least, "<f8"),
        "differs_on": _pack(differs_on, "<i4"),
        "greatest": _pack(greatest.ravel()[differs_on], "<f8"),
    }


def _season_rows(grid: xr.DataArray, first_day: int) -> list[int]:
    """Rows of the seasons from a day on that lie inside the record; row 0 is the empty year."""
    row = xr.DataArray(np.arange(grid.sizes["year"]) + 1, {"season": grid["year"].values})
    return [int(each) for each in keep_inside(row, grid, xr.DataArray(first_day)).values]


def _pack(array: np.ndarray, dtype: str) -> str:
    """An array's numbers in base64."""
    return base64.b64encode(np.ascontiguousarray(array, dtype).tobytes()).decode("ascii")


def _to_lists(array: np.ndarray) -> Any:
    """Nested lists, with None for what is missing."""
    values = array.astype(object)
    values[~np.isfinite(array)] = None
    return values.tolist()


# --- crops --------------------------------------------------------------------------------


def crop_numbers(crop: Crop) -> dict[str, Any]:
    """A crop's limits: of the whole crop, under an empty name, and of each stage above ground."""
    above_ground = [stage for stage in crop.stages if stage.place == "air"]
    limits = {"": _limits(crop.band, crop.killed_at_c, crop.need_days)}
    for stage in above_ground:
        limits[stage.name] = _limits(stage.tolerates, stage.survives.low_c, stage.days.usual)
    weeks = crop.weeks_under_cover
    return {
        "name": crop.name,
        "days": crop.days,
        "starts_by_itself": crop.wakes,
        "weeks": weeks.usual if weeks else 0,
        "limits": limits,
    }


def _limits(band: Limits, killed: float, need: int) -> dict[str, float]:
    return {"low": band.low_c, "high": band.high_c, "killed": killed, "need": need}


# --- what takes longer --------------------------------------------------------------------


def constants() -> dict[str, Any]:
    """Names and constants that the chart shares with the library."""
    return {
        "failure_reasons": list(REASONS),
        "succeeded": SUCCEEDED,
        "unknown": OPEN,
        "covers": [cover for cover in COVERS if cover != OUTDOORS],
        "z": z_of(LEVEL),
        "least_years": LEAST_YEARS,
    }


def freeze_intervals(daily: xr.Dataset, threshold: float) -> dict[str, Any]:
    """Intervals of the dates at which a freeze has the chances of `ODDS`."""
    odds = freeze_odds(daily, threshold, levels=ODDS)

    def ends(half: str) -> list[Any]:
        return [_to_lists(odds[f"{half}_{end}"].values) for end in ("low", "high")]

    return {"spring": ends("last_spring"), "autumn": ends("first_autumn")}


def outcomes(plans: Sequence[Plan], daily: xr.Dataset) -> list[dict[str, Any]]:
    """What became of each plan in every year, started on any day of the year.

    Parameters
    ----------
    plans : sequence of Plan
        Their own start dates play no part.
    daily : Dataset, dims (time)
        Needs ``tmin`` and ``tmean``, and ``tmax`` for plans under a cover. [degC]

    Returns
    -------
    list of dict
        Of each plan ``codes``, its outcome in each year (rows) from each start day (columns), see
        `constants` for what they mean; ``best_dates``, first and last day of the best run of start
        dates, None where no year is known; and ``best_date``, the middle of it.
    """

    def kernel(weather: Weather) -> tuple[np.ndarray, ...]:
        codes = np.stack([evaluate_all_starts(plan, weather) for plan in plans])
        known = (codes != OPEN).sum(axis=1)
        succeeded = (codes == SUCCEEDED).sum(axis=1)
        return codes, np.where(known, succeeded / np.maximum(known, 1), np.nan)

    evaluated = over_stations(
        kernel,
        daily,
        plans,
        results=[
            Result("code", ("plan", "season", "start_day"), np.int8),
            Result("share", ("plan", "start_day")),
        ],
        sizes={"plan": len(plans)},
    )
    return [_outcomes_of_plan(evaluated.isel(plan=i)) for i in range(len(plans))]


def _outcomes_of_plan(evaluated: xr.Dataset) -> dict[str, Any]:
    codes = _pack(evaluated["code"].values, "<i1")
    if not bool(evaluated["share"].notnull().any()):
        return {"codes": codes, "best_dates": None, "best_date": 1}
    first, last = best_dates(evaluated)
    run = (last - first) % DAYS  # days after the first one; a run may go over the year's end
    middle = (first + run // 2 - 1) % DAYS + 1
    return {"codes": codes, "best_dates": [first, last], "best_date": middle}


# --- a covered space ----------------------------------------------------------------------


def cover_days(logger: xr.Dataset, daily: xr.Dataset, cover: Cover) -> dict[str, Any]:
    """A logger's days inside a covered space, the same days outdoors, and the cover's own line.

    Parameters
    ----------
    logger : Dataset, dims (time)
        From `climwin.io.loggers.read_logger`.
    daily : Dataset, dims (time)
        Outdoor record.
    cover : Cover
        Fitted to the logger, or a preset to compare with it.
    """
    inside = logger_days(logger)
    outdoors = daily[["tmin", "tmax"]].reindex(time=inside["time"])
    fitted = under_cover(outdoors, cover)

    def extremes(days: xr.Dataset) -> list[Any]:
        return [_to_lists(days[name].values) for name in ("tmin", "tmax")]

    return {
        "dates": [str(day)[:10] for day in inside["time"].values],
        "inside": extremes(inside),
        "outdoors": extremes(outdoors),
        "fitted": extremes(fitted),
    }
