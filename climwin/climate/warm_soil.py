"""When the soil is warm enough to sow: the date of every year, and its odds."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import xarray as xr

from climwin.core.schema import TOLERANCE_C, apply, check_units
from climwin.core.seasons import (
    DAYS,
    by_year,
    cut_seasons,
    keep_inside,
    offset,
    season_dates,
    seen_range,
)
from climwin.core.stats import LEVEL, between, bootstrap_interval, bootstrap_ranks, neighbours
from climwin.core.status import NONE, UNKNOWN, decode_status

LEVELS = (0.5, 0.8, 0.9)

_RESAMPLES = 2000


# --- dates --------------------------------------------------------------------------------


def warm_soil_dates(
    tsoil: xr.DataArray, limit: float, first_day: int | xr.DataArray, *, days: int = 5
) -> xr.Dataset:
    """First date of every season by which the soil has stayed warm enough for some days.

    Parameters
    ----------
    tsoil : DataArray, dims (..., time)
        Daily mean soil temperature at sowing depth. [degC]
    limit : float
        Warm enough is at or above it. [degC]
    first_day : int or DataArray, dims (...)
        Day of the year on which the season begins: the coldest, see `seasons.coldest_day`.
    days : int
        How many days in a row.

    Returns
    -------
    Dataset, dims (..., season)
        ``warm_soil``, the date of the last of these days; ``warm_soil_day``, counted from 1 January
        of the season's own year; ``warm_soil_status``: ``observed``; ``none`` where it never came;
        ``unknown`` where missing days could make it an earlier date, or a date at all, given what
        the soil has been at that time of the year.

    Raises
    ------
    ValueError
        If `days` is not 1 to 365, or the soil is not in degC.
    """
    check_units(tsoil, "degC")
    if not 1 <= days <= DAYS:
        msg = f"days must lie between 1 and {DAYS}, got {days}."
        raise ValueError(msg)
    grid, first = by_year(tsoil), xr.DataArray(first_day)
    results = apply(
        lambda grid, first: _warm_days(grid, first, limit - TOLERANCE_C, days),
        grid,
        first,
        core=[["year", "day_of_year"], []],
        out=[["season"], ["season"]],
        sizes={"season": grid.sizes["year"]},
        dtypes=[float, int],
        each=True,
    )
    found = xr.Dataset(dict(zip(("day", "code"), results, strict=True)))
    found = keep_inside(found.assign_coords(season=grid["year"].values), grid, first)
    out = xr.Dataset({"warm_soil": season_dates(found["day"], first)})
    out["warm_soil_day"] = (found["day"] + apply(offset, first, core=[[]]) + 1).assign_attrs(
        units="day of the year"
    )
    out["warm_soil_status"] = decode_status(found["code"])
    return out.assign_attrs(limit_c=limit, days=days)


def _warm_days(
    grid: np.ndarray, first_day: int, limit: float, days: int
) -> tuple[np.ndarray, np.ndarray]:
    season = cut_seasons(grid, first_day)
    could = np.roll(seen_range(grid)[1] >= limit, -(first_day - 1))
    sure = _first_run(season >= limit, days)
    possible = _first_run((season >= limit) | (np.isnan(season) & could), days)
    known = (sure == possible) | np.isnan(possible)
    return np.where(known, sure, np.nan), np.where(known, np.isnan(sure), 2)


def _first_run(warm: np.ndarray, days: int) -> np.ndarray:
    """Last day of the first run of `days` days in each season; missing if there is none."""
    runs = np.lib.stride_tricks.sliding_window_view(warm, days, axis=-1).all(axis=-1)
    return np.where(runs.any(axis=-1), runs.argmax(axis=-1) + days - 1.0, np.nan)


# --- odds ---------------------------------------------------------------------------------


def warm_soil_odds(dates: xr.Dataset, *, levels: Sequence[float] = LEVELS) -> xr.Dataset:
    """Date by which the soil is warm enough, by the odds of it.

    Parameters
    ----------
    dates : Dataset, dims (..., season)
        From `warm_soil_dates`.
    levels : sequence of float
        Shares of the years, each between 0 and 1.

    Returns
    -------
    Dataset, dims (..., odds)
        ``warm_soil_day``, counted from 1 January of the season's own year, with its 90 % interval
        by bootstrap over years, ``warm_soil_low`` to ``warm_soil_high``: missing where so many
        years never have it. Without `odds`: ``known`` years.

    Raises
    ------
    ValueError
        If a level is no share of the years.

    Notes
    -----
    Hazen's plotting positions, as for freezes. Years in which the soil never was warm enough stay
    among the others, endlessly late.
    """
    if not levels or not all(0 < level < 1 for level in levels):
        msg = f"levels are shares between 0 and 1, such as 0.5 and 0.9; got {list(levels)}."
        raise ValueError(msg)
    status = dates["warm_soil_status"]
    results = apply(
        lambda day, status: _by_odds(day, status, np.array(levels)),
        dates["warm_soil_day"],
        status,
        core=[["season"]] * 2,
        out=[["odds"]] * 3,
        sizes={"odds": len(levels)},
        dtypes=[float] * 3,
        each=True,
    )
    names = ("warm_soil_day", "warm_soil_low", "warm_soil_high")
    units = {"units": "day of the year"}
    out = xr.Dataset({n: r.assign_attrs(units) for n, r in zip(names, results, strict=True)})
    out["known"] = (status != UNKNOWN).sum("season")
    return out.assign_coords(odds=list(levels)).assign_attrs(dates.attrs, interval=LEVEL)


def _by_odds(day: np.ndarray, status: np.ndarray, levels: np.ndarray) -> tuple[np.ndarray, ...]:
    sample = np.sort(np.where(status == NONE, np.inf, day)[status != UNKNOWN])
    if not len(sample):
        return (np.full(len(levels), np.nan),) * 3
    resampled = sample[bootstrap_ranks(len(sample), _RESAMPLES)]
    below, above, t = neighbours(np.array(len(sample)), levels, "hazen")
    best = between(sample[below], sample[above], t)
    low, high = bootstrap_interval(between(resampled[:, below], resampled[:, above], t))
    return tuple(np.where(np.isfinite(day), day, np.nan) for day in (best, low, high))
