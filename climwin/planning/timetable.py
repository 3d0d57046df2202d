"""A plan as a timetable: the dates of its stages over the years, and deaths in them."""

from __future__ import annotations

import numpy as np
import xarray as xr

from climwin.core.seasons import DAYS, day_number
from climwin.core.stats import sorted_quantile
from climwin.planning.evaluate import evaluate_plan, harvest_odds
from climwin.planning.growth import COLD, INSIDE_COLD, NOT_RIPE, REASONS, WINTER
from climwin.planning.plan import Plan

MIDDLE = (("first", 0.1), ("day", 0.5), ("last", 0.9))
"""Shares of the years between which a date lies in 8 years of 10, and its middle."""
KILLED = tuple(REASONS[code] for code in (COLD, NOT_RIPE, INSIDE_COLD, WINTER))


def plan_dates(plan: Plan, daily: xr.Dataset, *, climate: str = "record") -> xr.Dataset:
    """Dates of a plan's stages as they came in the years of a history, with the odds behind them.

    Parameters
    ----------
    plan : Plan
        What is done.
    daily : Dataset, dims (..., time)
        Needs ``tmin`` and ``tmax`` [degC], and its latitude.
    climate : {"record", "today"}
        The years as they were, or moved to today's level, see `todays_climate`.

    Returns
    -------
    Dataset, dims (..., event)
        The events are ``start``, ``set out`` where plants leave a cover, ``emergence`` where it is
        sown or planted, each stage, and ``harvest``. Of each ``begin_day`` and ``end_day`` in the
        middling year, between ``begin_first`` and ``begin_last``, ``end_first`` and ``end_last``
        in 8 years of 10 (days after 31 December before the start; missing where no year came so
        far), and in how many years, ``seen``. ``killed``: years in which cold ended it in that
        stage. Without `event`: what `harvest_odds` gives.

    Examples
    --------
    >>> import climwin as cw
    >>> daily = cw.read_daily(cw.sample())
    >>> dates = cw.plan_dates(cw.Plan(cw.crop("pea"), "04-10"), daily)
    >>> dict(zip(dates["event"].values.tolist(), dates["begin_day"].values.astype(int).tolist()))
    {'start': 100, 'emergence': 114, 'seedling': 114, 'leaf growth': 136,
     'flowers and pods': 158, 'harvest': 192}
    """
    return dates_of(plan, evaluate_plan(plan, daily, climate=climate))


def dates_of(plan: Plan, grown: xr.Dataset) -> xr.Dataset:
    """Dates of a plan as `plan_dates` gives them, from what became of it in every year.

    Parameters
    ----------
    plan : Plan
        What is done.
    grown : Dataset, dims (..., season)
        The same plan, from `evaluate_plan`.
    """
    start = grown["start"]
    start_day = 1 if plan.crop.is_perennial else day_number(plan.start)
    names, begins, ends = _events(plan, grown)
    out = harvest_odds(grown)
    for kind, dates in (("begin", begins), ("end", ends)):
        days = xr.concat([(each - start) / np.timedelta64(1, "D") for each in dates], "event")
        after = days.assign_coords(event=names) + start_day
        for name, share in MIDDLE:
            out[f"{kind}_{name}"] = _quantile(after, share)
            out[f"{kind}_{name}"].attrs["units"] = "days after 31 December before the start"
    seen = xr.concat([each.notnull().sum("season") for each in begins], "event")
    out["seen"] = seen.assign_coords(event=names)
    struck = grown["reason"].isin(list(KILLED))
    killed = [(struck & (grown["stage"] == name)).sum("season") for name in names]
    out["killed"] = xr.concat(killed, "event").assign_coords(event=names)
    return out.assign_attrs(cover=plan.cover, propagation=plan.crop.propagation)


def _events(
    plan: Plan, grown: xr.Dataset
) -> tuple[list[str], list[xr.DataArray], list[xr.DataArray]]:
    """Names of the events, and the dates on which each begins and ends by season."""
    day = np.timedelta64(1, "D")
    start, harvest = grown["start"], grown["harvest_begin"]
    if plan.crop.is_perennial:
        return (
            ["bloom or first growth", "harvest"],
            [grown["emergence"], harvest],
            [harvest - day, grown["harvest_end"]],
        )
    names, begins, ends = ["start"], [start], [start]
    if plan.weeks_under_cover:
        names.append("set out")
        begins.append(grown["set_out"])
        ends.append(grown["set_out"])
    if plan.plants == "own":
        names.append("emergence")
        begins.append(grown["emergence"])
        ends.append(grown["emergence"])
    stages = [grown["stage_begin"].sel(stage_name=s.name, drop=True) for s in plan.crop.stages]
    for stage, begin, after in zip(plan.crop.stages, stages, [*stages[1:], harvest], strict=True):
        names.append(stage.name)
        begins.append(begin)
        ends.append(after - day)
    return [*names, "harvest"], [*begins, harvest], [*ends, grown["harvest_end"]]


def _quantile(days: xr.DataArray, share: float) -> xr.DataArray:
    """Quantile over the seasons in which there is a day, Hazen's plotting positions."""

    def kernel(values: np.ndarray) -> np.ndarray:
        count = (~np.isnan(values)).sum(axis=-1)
        ordered = np.sort(np.where(np.isnan(values), np.inf, values), axis=-1)
        found = sorted_quantile(ordered, count, share, "hazen")
        return np.where(count > 0, np.minimum(found, 3 * DAYS), np.nan)

    quantile: xr.DataArray = xr.apply_ufunc(
        kernel, days, input_core_dims=[["season"]], dask="parallelized", output_dtypes=[float]
    )
    return quantile
