"""A plan as a timetable: its stages as dates, how far they may shift, and with what odds."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import NamedTuple

import numpy as np
import xarray as xr

from climwin.climate.soil import soil_temperature
from climwin.climate.windows import running_mean_bounds
from climwin.core.provenance import provenance
from climwin.core.schema import apply, variable
from climwin.core.seasons import DAYS, by_year, day_number
from climwin.core.stats import sorted_quantile
from climwin.core.status import UNKNOWN, decode_status
from climwin.crops.catalogue import Span, Stage
from climwin.planning.evaluate import judge, success_odds
from climwin.planning.plan import Piece, Plan
from climwin.planning.tally import killing_nights
from climwin.planning.weather import SOWING_DEPTH_M, Result, Weather, check_one_place, over_stations

MIDDLE = (0.1, 0.5, 0.9)
"""Shares of the years between which a stage ends in 8 years of 10, and its middle."""


# --- stages by heat -----------------------------------------------------------------------


def days_by_heat(stage: Stage, daily: xr.Dataset, start_day: int) -> xr.Dataset:
    """Days that a stage takes in every year until its published heat has come together.

    Parameters
    ----------
    stage : Stage
        With ``degree_days``.
    daily : Dataset, dims (..., time)
        Needs ``tmean``. [degC]
    start_day : int
        Day of the year on which the stage begins, 1 to 365.

    Returns
    -------
    Dataset, dims (..., season)
        ``days``, and their ``status``: ``observed``; ``none`` where a year from the start on is
        not enough; ``unknown`` where a gap could change them, given what has been seen at that
        time of the year.

    Raises
    ------
    ValueError
        If no heat is published for the stage, or the day is not one of the year.

    Notes
    -----
    Each day counts by what its mean lies above the base: the mean of the soil at sowing depth
    before the crop shows, that of the air after it.
    """
    if stage.degree_days is None:
        msg = (
            f"Stage {stage.name!r} has no degree_days. Give degree_days = {{ base_c, total, source "
            "}} in the crop's file, or use its usual days."
        )
        raise ValueError(msg)
    if not 1 <= start_day <= DAYS:
        msg = f"start_day must lie between 1 and {DAYS}, got {start_day!r}."
        raise ValueError(msg)
    mean = variable(daily, "tmean")
    grid = by_year(soil_temperature(mean, SOWING_DEPTH_M) if stage.place == "soil" else mean)
    days, code = apply(
        _heat_kernel(stage.degree_days.base_c, stage.degree_days.total, start_day),
        grid,
        core=[["year", "day_of_year"]],
        out=[["season"]] * 2,
        sizes={"season": grid.sizes["year"]},
        dtypes=[float, int],
        each=True,
    )
    out = xr.Dataset({"days": days.assign_attrs(units="days")})
    out["status"] = decode_status(code)
    return out.assign_coords(season=grid["year"].values).assign_attrs(
        provenance(daily), stage=stage.name, heat_source=stage.degree_days.source
    )


def _heat_kernel(
    base: float, total: float, start_day: int
) -> Callable[[np.ndarray], tuple[np.ndarray, np.ndarray]]:
    def kernel(grid: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        after = np.full((1, DAYS), np.nan)
        bounds = running_mean_bounds(np.concatenate([grid, after]), 1)
        start = np.arange(len(grid)) * DAYS + start_day - 1
        most, least = (_days_until(total, mean.ravel() - base, start) for mean in bounds)
        code = np.where(most != least, 2, np.where(most > DAYS, 1, 0))
        return np.where(code == 0, most, np.nan), code

    return kernel


def _days_until(total: float, heat: np.ndarray, start: np.ndarray) -> np.ndarray:
    """Days from each start until `total` has come together, more than 365 where it has not."""
    sums = np.append(0.0, np.cumsum(np.clip(heat, 0, total)))
    enough = np.searchsorted(sums, sums[start] + total - 1e-6)
    return np.minimum(enough - start, DAYS + 1)


def with_heat_days(plan: Plan, daily: xr.Dataset) -> Plan:
    """Plan whose stages last as long as their published heat takes at this place, from its start.

    Parameters
    ----------
    plan : Plan
        Stages without published heat, or begun under cover, keep their days.
    daily : Dataset, dims (time)
        Needs ``tmean``. [degC]

    Returns
    -------
    Plan
        In such a stage the usual days are those of the middle year, and in 8 years of 10 the days
        lie between the fewest and the most. A stage keeps its days too where the heat comes
        together in fewer than 9 known years of 10.

    Raises
    ------
    ValueError
        If the record is of several places.
    """
    check_one_place(daily, "with_heat_days")
    begin, stages = 0, []
    for stage in plan.crop.stages:
        if stage.degree_days and begin >= 7 * plan.weeks_under_cover:
            first = (day_number(plan.start) + begin - 1) % DAYS + 1
            stage = _by_heat(stage, days_by_heat(stage, daily, first))
        stages.append(stage)
        begin += stage.days.usual
    return replace(plan, crop=replace(plan.crop, stages=tuple(stages)))


def _by_heat(stage: Stage, found: xr.Dataset) -> Stage:
    known = found["days"].values[found["status"].values != UNKNOWN]
    days = np.sort(np.where(np.isnan(known), np.inf, known))
    count = np.array(len(days))
    fewest, usual, most = (sorted_quantile(days, count, share, "hazen") for share in MIDDLE)
    if not np.isfinite([fewest, usual, most]).all():
        return stage
    span = Span(
        fewest=int(np.floor(fewest)),
        usual=int(np.round(usual)),
        most=int(np.ceil(most)),
        source=f"{found.attrs['heat_source']}; 8 of 10 of {len(days)} years at this place",
    )
    return replace(stage, days=span)


# --- dates and odds -----------------------------------------------------------------------


def dated_plan(plan: Plan, daily: xr.Dataset) -> xr.Dataset:
    """Dates of a plan's stages, with the odds behind them.

    Parameters
    ----------
    plan : Plan
        As it is, or from `with_heat_days`.
    daily : Dataset, dims (..., time)
        Needs ``tmin`` and ``tmean``. [degC]

    Returns
    -------
    Dataset, dims (..., event)
        The events are ``start``, ``set out`` (from under cover), and each stage. Of each the usual
        ``begin_day`` and ``end_day``, and ``begin_first``, ``begin_last``, ``end_first``,
        ``end_last`` as all stages take their fewest or most days, with the ``source`` of these;
        days count from 1 January of the start's year. In ``killed`` of ``killed_known`` years a
        killing night fell in the stage, or after the start or the setting out. Without `event`:
        what `success_odds` gives.

    Notes
    -----
    Odds are those of the usual days.
    """
    rows, day = _rows(plan), day_number(plan.start)
    out = success_odds(judge(plan, daily)).assign_coords(event=[row.event for row in rows])
    for name, shift in (("begin", 0), ("end", -1)):
        for kind, place in (("first", 0), ("day", 1), ("last", 2)):
            days = [getattr(row, name)[place] + shift + day for row in rows]
            out[f"{name}_{kind}"] = "event", days, {"units": "day of the year"}
    out["source"] = "event", [row.source for row in rows]
    return out.assign(_killing_nights(plan, daily, rows)).assign_attrs(
        cover=plan.cover, begins=plan.crop.begins
    )


class _Row(NamedTuple):
    """An event: days from the start to its begin and end (fewest, usual, most), and its life."""

    event: str
    begin: tuple[int, ...]
    end: tuple[int, ...]
    source: str
    pieces: list[Piece]


def _rows(plan: Plan) -> list[_Row]:
    pieces, out = list(plan.pieces()), 7 * plan.weeks_under_cover
    rows = [_Row("start", (0,) * 3, (1,) * 3, "", pieces)]
    if out:
        later = [piece for piece in pieces if piece.begin >= out]
        rows.append(_Row("set out", (out,) * 3, (out + 1,) * 3, "", later))
    begin: tuple[int, ...] = (0, 0, 0)
    for stage in plan.crop.stages:
        lasts = (stage.days.fewest, stage.days.usual, stage.days.most)
        end = tuple(np.add(begin, lasts).tolist())
        own = [piece for piece in pieces if piece.stage is stage]
        rows.append(_Row(stage.name, begin, end, stage.days.source, own))
        begin = end
    return rows


def _killing_nights(plan: Plan, daily: xr.Dataset, rows: list[_Row]) -> xr.Dataset:
    def kernel(weather: Weather) -> tuple[np.ndarray, ...]:
        nights = [sum(killing_nights(row.pieces, weather), weather.none) for row in rows]
        killed = [(each.least > 0).sum() for each in nights]
        spared = [(each.most == 0).sum() for each in nights]
        return np.array(killed), np.add(killed, spared)

    return over_stations(
        kernel,
        daily,
        [plan],
        results=[Result("killed", ("event",), int), Result("killed_known", ("event",), int)],
        sizes={"event": len(rows)},
        start_day=day_number(plan.start),
    )
