"""The numbers that the live chart is given, as plain dicts that JSON can carry.

The chart stands in ``climwin/data``, one script for the notebook's panel and for the page to share.
It draws, and follows the library's rules for what a hand may move.
"""

from __future__ import annotations

import base64
from collections.abc import Sequence
from importlib.resources import files
from typing import Any

import numpy as np
import xarray as xr

from climwin.climate.freeze import freeze_odds
from climwin.climate.percentiles import PERCENTILES, day_bands
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
from climwin.core.stats import LEVEL, z_of
from climwin.crops.catalogue import Crop, Limits
from climwin.planning.evaluate import best_dates
from climwin.planning.evaluate import fates as judged_fates
from climwin.planning.plan import OUTDOORS, Plan
from climwin.planning.tally import OPEN, REASONS, SUCCEEDED
from climwin.planning.weather import Result, Weather, over_stations
from climwin.shelter.covers import COVERS, Cover, logger_days, under_cover

ODDS = (0.9, 0.5, 0.1)
"""Chances of a freeze whose dates the chart tells."""

_DATA = files("climwin.widgets") / "js"
_SCRIPTS = (
    "rules.js",
    "words.js",
    "elements.js",
    "weather_strips.js",
    "growing_strips.js",
    "chart.js",
)


def script() -> str:
    """The live chart as one ES module: its default export renders a widget, `mount` a page."""
    return "\n".join((_DATA / name).read_text("utf-8") for name in _SCRIPTS)


def style() -> str:
    """The live chart's style sheet."""
    return (_DATA / "chart.css").read_text("utf-8")


# --- the place ----------------------------------------------------------------------------


def place(daily: xr.Dataset, name: str) -> dict[str, Any]:
    """A place's history, as far as the chart's rules need it.

    Parameters
    ----------
    daily : Dataset, dims (time)
        Needs ``tmin`` and ``tmean``. [degC]
    name : str
        What to call the place.

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
    tmean, tmin = (by_year(variable(daily, each)) for each in ("tmean", "tmin"))
    usual, mean = smoothed(tmean.values), usual_days(tmean.values)
    if np.isnan(usual).any():
        msg = "The record is too thin to have a usual year. Give a record of some whole years."
        raise DataGapError(msg)
    coldest, warmest = int(coldest_day(daily)), int(warmest_day(daily))
    years = tmean["year"].values
    cuts = {coldest, int(usual.argmin()) + 1, int(usual.argmax()) + 1}
    return {
        "name": name,
        "scenario": scenario_of(daily),
        "first_year": int(years[0]),
        "last_year": int(years[-1]),
        "first_row": int(years[0]) - 1,
        "week": _bounds(*running_mean_bounds(_roomy(tmean))),
        "night": _bounds(*_nights(_roomy(tmin))),
        "usual": _plain(usual),
        "curve": _plain(running_mean(mean[None], mean)[0]),
        "coldest": coldest,
        "warmest": warmest,
        "kept": {str(day): _kept(tmean, day) for day in cuts},
        "bands": _plain(day_bands(daily["tmean"])["tmean"].transpose("percentile", ...).values),
        "percentiles": list(PERCENTILES),
    }


def _roomy(grid: xr.DataArray) -> np.ndarray:
    """A place's years with one without values at either end: there is a gap past its record."""
    return np.pad(grid.values, ((1, 1), (0, 0)), constant_values=np.nan)


def _nights(tmin: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Least and greatest of each minimum; no unseen night has surely frozen."""
    gap = np.isnan(tmin)
    return np.where(gap, seen_range(tmin)[0], tmin), np.where(gap, np.inf, tmin)


def _bounds(least: np.ndarray, greatest: np.ndarray) -> dict[str, str]:
    """Two bounds of every day; of the greater one only the days on which they differ."""
    apart = np.flatnonzero(least != greatest)
    return {
        "least": _packed(least, "<f8"),
        "apart": _packed(apart, "<i4"),
        "greatest": _packed(greatest.ravel()[apart], "<f8"),
    }


def _kept(grid: xr.DataArray, first_day: int) -> list[int]:
    """Rows of the seasons, cut on a day, that lie in the record; counted with the room."""
    row = xr.DataArray(np.arange(grid.sizes["year"]) + 1, {"season": grid["year"].values})
    return [int(each) for each in keep_inside(row, grid, xr.DataArray(first_day)).values]


def _packed(array: np.ndarray, dtype: str) -> str:
    return base64.b64encode(np.ascontiguousarray(array, dtype).tobytes()).decode("ascii")


def _plain(array: np.ndarray) -> Any:
    """Nested lists, with None for what is missing."""
    plain = array.astype(object)
    plain[~np.isfinite(array)] = None
    return plain.tolist()


# --- crops --------------------------------------------------------------------------------


def crop_numbers(crop: Crop) -> dict[str, Any]:
    """A crop's limits: of the whole crop, and of each stage above ground."""
    above = [stage for stage in crop.stages if stage.place == "air"]
    whole = _limits(crop.band, crop.killed_at_c, crop.need_days)
    stages = {s.name: _limits(s.tolerates, s.survives.low_c, s.days.usual) for s in above}
    weeks = crop.weeks_under_cover
    return {
        "name": crop.name,
        "days": crop.days,
        "wakes": crop.wakes,
        "weeks": weeks.usual if weeks else 0,
        "limits": {"": whole, **stages},
        "stages": [[stage.name, stage.days.usual] for stage in crop.stages],
    }


def _limits(band: Limits, killed: float, need: int) -> dict[str, float]:
    return {"low": band.low_c, "high": band.high_c, "killed": killed, "need": need}


# --- what takes longer --------------------------------------------------------------------


def rules() -> dict[str, Any]:
    """Names and constants that the chart shares with the library."""
    return {
        "reasons": list(REASONS),
        "succeeded": SUCCEEDED,
        "open": OPEN,
        "covers": [cover for cover in COVERS if cover != OUTDOORS],
        "z": z_of(LEVEL),
    }


def freeze_intervals(daily: xr.Dataset, threshold: float) -> dict[str, Any]:
    """Intervals of the dates at which a freeze has the chances of `ODDS`."""
    odds = freeze_odds(daily, threshold, levels=ODDS)
    ends = {
        half: [_plain(odds[f"{half}_{end}"].values) for end in ("low", "high")]
        for half in ("last_spring", "first_autumn")
    }
    return {"spring": ends["last_spring"], "autumn": ends["first_autumn"]}


def fates(plans: Sequence[Plan], daily: xr.Dataset) -> list[dict[str, Any]]:
    """What became of each plan in every year, begun on any day, and its best run of start dates.

    Parameters
    ----------
    plans : sequence of Plan
        Their own start dates play no part.
    daily : Dataset, dims (time)
        Needs ``tmin`` and ``tmean``, and ``tmax`` for plans under a cover. [degC]
    """

    def kernel(weather: Weather) -> tuple[np.ndarray, ...]:
        fate = np.stack([judged_fates(plan, weather) for plan in plans])
        known = (fate != OPEN).sum(axis=1)
        won = (fate == SUCCEEDED).sum(axis=1)
        return fate, np.where(known, won / np.maximum(known, 1), np.nan)

    found = over_stations(
        kernel,
        daily,
        plans,
        results=[
            Result("fate", ("plan", "season", "start_day"), np.int8),
            Result("share", ("plan", "start_day")),
        ],
        sizes={"plan": len(plans)},
    )
    return [_fates(found.isel(plan=i)) for i in range(len(plans))]


def _fates(found: xr.Dataset) -> dict[str, Any]:
    best = best_dates(found) if bool(found["share"].notnull().any()) else None
    middle = (best[0] + (best[1] - best[0]) % DAYS // 2 - 1) % DAYS + 1 if best else 1
    return {
        "fates": _packed(found["fate"].values, "<i1"),
        "best": best and list(best),
        "middle": middle,
    }


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
        Fitted to the logger, or a preset to hold against it.
    """
    inside = logger_days(logger)
    outdoors = daily[["tmin", "tmax"]].reindex(time=inside["time"])
    line = under_cover(outdoors, cover)
    held = {"inside": inside, "outdoors": outdoors, "line": line}
    return {
        "name": cover.name,
        "source": cover.source,
        "dates": [str(day)[:10] for day in inside["time"].values],
        **{
            key: [_plain(record[name].values) for name in ("tmin", "tmax")]
            for key, record in held.items()
        },
    }
