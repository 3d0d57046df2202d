"""What follows from a plan's odds: weeks under cover, sowings in succession, a second crop."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
import xarray as xr

from climwin.climate.freeze import freeze_odds
from climwin.core.errors import InputError, Parameter
from climwin.core.schema import apply
from climwin.core.seasons import DAYS, coldest_day, offset
from climwin.planning.evaluate import at_middle, best_dates, sweep, sweep_plans, true_runs
from climwin.planning.plan import OUTDOORS, Plan
from climwin.planning.weather import check_one_place

WEEKS = (4, 5, 6, 7, 8)
LEAST_ODDS = 0.7
"""Odds for which another sowing is worth its seed (common practice)."""


# --- weeks under cover --------------------------------------------------------------------


def sweep_weeks(plan: Plan, daily: xr.Dataset, weeks: Sequence[int] = WEEKS) -> xr.Dataset:
    """Odds of success of a plan for each start date and number of weeks under cover.

    Parameters
    ----------
    plan : Plan
        Its own start date and weeks play no part.
    daily : Dataset, dims (..., time)
        Needs ``tmin``, ``tmean`` and ``tmax``. [degC]
    weeks : sequence of int
        From sowing to setting out; 0 is sown in place.

    Returns
    -------
    Dataset, dims (..., weeks, start_day)
        What `evaluate.sweep` gives.

    Raises
    ------
    ValueError
        If there are no weeks, more than the crop lives, or weeks without a cover.
    """
    swept = sweep_plans([_with_weeks(plan, each) for each in weeks], daily)
    swept = swept.rename(plan="weeks").assign_coords(weeks=list(weeks))
    swept["weeks"].attrs["long_name"] = "weeks under cover"
    return swept.assign_attrs(crop=plan.crop.name, cover=plan.cover)


def at_best_weeks(plan: Plan, daily: xr.Dataset, weeks: Sequence[int] = WEEKS) -> Plan:
    """Move a plan to the weeks under cover, and the start date, that do best.

    Parameters
    ----------
    plan, daily, weeks
        As for `sweep_weeks`; one station.

    Returns
    -------
    Plan
        With the weeks whose best date has the highest odds, of equal ones those with the widest
        run of dates, then the fewest; in the middle of that run.

    Raises
    ------
    ValueError
        If the record is of several places, or as for `sweep_weeks`.
    """
    check_one_place(daily, "at_best_weeks")
    swept = sweep_weeks(plan, daily, weeks)
    runs = {each: best_dates(swept.sel(weeks=each)) for each in weeks}

    def rank(each: int) -> tuple[float, ...]:
        first, last = runs[each]
        return float(swept["share"].sel(weeks=each).max()), (last - first) % DAYS, -each

    best = max(weeks, key=rank)
    return at_middle(_with_weeks(plan, best), *runs[best])


def _with_weeks(plan: Plan, weeks: int) -> Plan:
    return replace(plan, weeks_under_cover=weeks, cover=plan.cover if weeks else OUTDOORS)


# --- succession ---------------------------------------------------------------------------


def succession(
    plan: Plan, daily: xr.Dataset, every_days: int = 14, *, least_odds: float = LEAST_ODDS
) -> xr.Dataset:
    """Sowings every so many days, for as long as the odds hold.

    Parameters
    ----------
    plan : Plan
        Its own start date plays no part.
    daily : Dataset, dims (time)
        Needs ``tmin`` and ``tmean``. [degC]
    every_days : int
        From one sowing to the next.
    least_odds : float
        Least share of the years in which a sowing must succeed, above 0 and at most 1.

    Returns
    -------
    Dataset, dims (sowing)
        ``start_day``; ``finish_day``, the usual end of its last stage, which lies between
        ``finish_first`` and ``finish_last`` as every stage takes its fewest or most days (all
        counted from 1 January of the start's year); and of that start what `evaluate.sweep` gives.
        They begin after the longest time of the year without such odds; where the odds fail for a
        while, the next is on the first day on which they hold again. None where no date has them.

    Raises
    ------
    ValueError
        If the days or the odds are not allowed, or the record is of several places.
    """
    if not 1 <= every_days <= DAYS:
        msg = f" must lie between 1 and {DAYS}, got {every_days!r}."
        raise InputError(Parameter("every_days"), msg)
    if not 0 < least_odds <= 1:
        msg = f" is a share above 0 and at most 1, got {least_odds!r}."
        raise InputError(Parameter("least_odds"), msg)
    check_one_place(daily, "succession")
    swept = sweep(plan, daily)
    days = _every(swept["share"].values >= least_odds - 1e-9, every_days)
    sown = swept.sel(start_day=xr.DataArray(days, dims="sowing").astype(int))
    lasts = [stage.days for stage in plan.crop.stages]
    for name, life in (
        ("finish_first", sum(span.fewest for span in lasts)),
        ("finish_day", plan.crop.days),
        ("finish_last", sum(span.most for span in lasts)),
    ):
        sown[name] = sown["start_day"] + life - 1
    sown = sown.reset_coords("start_day").assign_coords(sowing=np.arange(1, len(days) + 1))
    for name in ("start_day", "finish_first", "finish_day", "finish_last"):
        sown[name].attrs["units"] = "day of the year"
    return sown.assign_attrs(every_days=every_days, least_odds=least_odds)


def _every(good: np.ndarray, step: int) -> list[int]:
    """Days of the year, at least `step` apart: good ones, from the end of the longest bad run."""
    if not good.any():
        return []
    bad = max(true_runs(~good), key=lambda run: run[1], default=(0, 0))
    begin, days, at = sum(bad) % DAYS, [], 0
    while at <= DAYS - step:
        held = good[(begin + at) % DAYS]
        if held:
            days.append((begin + at) % DAYS + 1)
        at += step if held else 1
    return days


# --- a second crop ------------------------------------------------------------------------


def second_crop(plan: Plan, daily: xr.Dataset, odds: float = 0.5) -> xr.Dataset:
    """Latest start of a second crop, backwards from the first killing freeze of autumn.

    Parameters
    ----------
    plan : Plan
        Its own start date plays no part.
    daily : Dataset, dims (..., time)
        Needs ``tmin`` and ``tmean``. [degC]
    odds : float
        Share of the years in which it is to be finished in time, between 0 and 1.

    Returns
    -------
    Dataset, dims (...)
        ``freeze_day``: up to it, with the given odds, no night has killed the last stage; it lies
        between ``freeze_low`` and ``freeze_high`` (90 %), missing where such a freeze is never so
        likely. ``latest_day``: the latest start that is finished before, by freezes alone.
        ``start_day``: the latest date up to it on which the plan succeeds by all of its conditions
        with the given odds, missing where there is none in the season; of that date ``succeeded``
        of ``known`` years, their ``share``, and its interval ``low`` to ``high``. Days count from
        1 January of the season's own year, see `freeze_odds`.

    Raises
    ------
    ValueError
        If the odds are not allowed.
    """
    if not 0 < odds < 1:
        msg = f"odds must lie between 0 and 1, such as 0.8 for 8 years of 10; got {odds!r}."
        raise ValueError(msg)
    limit = plan.crop.stages[-1].survives.low_c
    freeze = freeze_odds(daily, limit, levels=[1 - odds]).isel(odds=0, drop=True)
    out = xr.Dataset({"freeze_day": freeze["first_autumn"]})
    for end in ("low", "high"):
        out[f"freeze_{end}"] = freeze[f"first_autumn_{end}"]
    out["latest_day"] = np.floor(out["freeze_day"]) - plan.crop.days
    swept = sweep(plan, daily)
    names = ("share", "low", "high", "succeeded", "known")
    found = apply(
        lambda latest, first, *each: _latest(each[0] >= odds - 1e-9, latest, first, each),
        out["latest_day"],
        coldest_day(daily),
        *(swept[name] for name in names),
        core=[[], [], *[["start_day"]] * len(names)],
        out=[[]] * (1 + len(names)),
        dtypes=[float] * (1 + len(names)),
        each=True,
    )
    out = out.assign(dict(zip(("start_day", *names), found, strict=True)))
    for name in ("freeze_day", "freeze_low", "freeze_high", "latest_day", "start_day"):
        out[name].attrs["units"] = "day of the year"
    return out.assign_attrs(swept.attrs, odds=odds, killed_at_c=limit)


def _latest(
    good: np.ndarray, latest: float, first_day: int, odds: Sequence[np.ndarray]
) -> tuple[float, ...]:
    """Last good day of the season up to `latest`, if there is one, and its odds."""
    days = int(offset(first_day)) + 1 + np.arange(DAYS)
    held = days[good[(days - 1) % DAYS] & ~(days > latest)]
    if not len(held):
        return (np.nan,) * (1 + len(odds))
    return float(held[-1]), *(float(each[(held[-1] - 1) % DAYS]) for each in odds)
