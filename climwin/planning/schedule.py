"""What follows from a plan's odds: weeks under cover, sowings in succession, a second crop."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
import xarray as xr

from climwin.climate.freeze import freeze_odds
from climwin.climate.level import in_climate
from climwin.core.errors import DataGapError, InputError, Parameter
from climwin.core.provenance import level_error_of
from climwin.core.schema import apply
from climwin.core.seasons import DAYS, coldest_day, day_name, offset
from climwin.planning.counts import BLOCK_COUNTS
from climwin.planning.over_sites import check_one_place
from climwin.planning.plan import OUTDOORS, Plan
from climwin.planning.selection import Blocks, judge_choice, runs_of_year
from climwin.planning.sweep import sweep_plans, sweep_start_dates, with_elsewhere

WEEKS = (4, 5, 6, 7, 8)
LEAST_ODDS = 0.7
"""Odds for which another sowing is worth its seed (common practice)."""


# --- runs of start dates ------------------------------------------------------------------


def best_dates(swept: xr.Dataset) -> tuple[int, int]:
    """First and last start day of the run of dates that are worth recommending.

    Parameters
    ----------
    swept : Dataset, dims (start_day)
        From `sweep_start_dates`, one station.

    Returns
    -------
    first, last : int
        Days of the year; the run may wrap round the year's end. Those of the season that leads, see
        `recommended_dates`, with the one that it meets in midwinter where that is as safe; where no
        season has odds of 0.8, the dates whose expected crop is near the largest with all years,
        and with most blocks of years left out.

    Raises
    ------
    DataGapError
        If no start date has known odds.

    Examples
    --------
    >>> import climwin as cw
    >>> daily = cw.read_daily(cw.sample())
    >>> swept = cw.sweep_start_dates(cw.Plan(cw.crop("pea"), "04-01"), daily)
    >>> cw.best_dates(swept)  # 10 to 31 March
    (69, 90)
    """
    if not bool((swept["known"] > 0).any()):
        msg = "No start date has known odds: the record has no year without gaps for this plan."
        raise DataGapError(msg)
    return int(swept["best_first"]), int(swept["best_last"])


def at_best_date(plan: Plan, daily: xr.Dataset, *, climate: str = "record") -> Plan:
    """Move a plan to its best start date; a perennial stays as it is.

    In spring the best date is an early one of the `best_dates`: within a fortnight of the first
    whose expected crop is near the season's largest. In other seasons it is the middle of those.

    Parameters
    ----------
    plan : Plan
        Its own start date plays no part.
    daily : Dataset, dims (time)
        Needs ``tmin`` and ``tmax`` [degC], and its latitude.
    climate : {"record", "today"}
        The years as they were, or moved to today's level, see `todays_climate`.

    Examples
    --------
    >>> import climwin as cw
    >>> daily = cw.read_daily(cw.sample())
    >>> cw.at_best_date(cw.Plan(cw.crop("potato"), "07-01"), daily).start
    '4 May'
    """
    if plan.crop.is_perennial:
        return plan
    check_one_place(daily, "at_best_date")
    swept = sweep_start_dates(plan, daily, climate=climate)
    best_dates(swept)  # refuses a record without a known year
    return replace(plan, start=day_name(int(swept["best_day"])))


# --- weeks under cover --------------------------------------------------------------------


def sweep_weeks(
    plan: Plan, daily: xr.Dataset, weeks: Sequence[int] = WEEKS, *, climate: str = "record"
) -> xr.Dataset:
    """Odds of a harvest of a plan for each start date and number of weeks under cover.

    Parameters
    ----------
    plan : Plan
        Its own start date and weeks play no part.
    daily : Dataset, dims (..., time)
        Needs ``tmin`` and ``tmax`` [degC], and its latitude.
    weeks : sequence of int
        From sowing to setting out; 0 is sown in place.
    climate : {"record", "today"}
        The years as they were, or moved to today's level, see `todays_climate`.

    Returns
    -------
    Dataset, dims (..., weeks, start_day)
        What `sweep_start_dates` gives.

    Raises
    ------
    ValueError
        If there are no weeks, more than a plan takes, or weeks without a cover.

    Examples
    --------
    >>> import climwin as cw
    >>> daily = cw.read_daily(cw.sample())
    >>> plan = cw.Plan(cw.crop("cauliflower"), "03-05", 6, "cold frame")
    >>> swept = cw.sweep_weeks(plan, daily, [4, 6])
    >>> swept["share"].sel(start_day=64).round(2).values.tolist()  # sown on 5 March
    [0.2, 0.15]
    """
    plans = [_with_weeks(plan, each) for each in weeks]
    swept = sweep_plans(plans, daily, climate=climate).drop_vars(BLOCK_COUNTS)
    swept = swept.rename(plan="weeks").assign_coords(weeks=list(weeks))
    swept["weeks"].attrs["long_name"] = "weeks under cover"
    return swept.assign_attrs(crop=plan.crop.name, cover=plan.cover)


def _with_weeks(plan: Plan, weeks: int) -> Plan:
    return replace(plan, weeks_under_cover=weeks, cover=plan.cover if weeks else OUTDOORS)


# --- succession ---------------------------------------------------------------------------


def succession(
    plan: Plan,
    daily: xr.Dataset,
    every_days: int = 14,
    *,
    least_odds: float = LEAST_ODDS,
    climate: str = "record",
) -> xr.Dataset:
    """Sowings every so many days, for as long as the odds hold.

    Parameters
    ----------
    plan : Plan
        Its own start date plays no part.
    daily : Dataset, dims (time)
        Needs ``tmin`` and ``tmax`` [degC], and its latitude.
    every_days : int
        From one sowing to the next.
    least_odds : float
        Least share of the years in which a sowing must come to a harvest, above 0 and at most 1.
    climate : {"record", "today"}
        The years as they were, or moved to today's level, see `todays_climate`.

    Returns
    -------
    Dataset, dims (sowing)
        ``start_day``, and of that start what `sweep_start_dates` gives, with ``harvest_first``,
        ``harvest_usual`` and ``harvest_last``, by which the harvest has begun in 10, 50 and 90 % of
        the harvested years (days after 31 December before the start). Sowings begin after the
        longest time of the year without such odds; where the odds fail for a while, the next is on
        the first day on which they hold again. None where no date has them. ``elsewhere_*``: the
        share of harvests of the sowings chosen without each block of years, judged on that block,
        with its interval, as in `sweep_start_dates`; of each block the sowing nearest to this one.

    Raises
    ------
    ValueError
        If the days or the odds are not allowed, or the record is of several places.

    Examples
    --------
    >>> import climwin as cw
    >>> daily = cw.read_daily(cw.sample())
    >>> sowings = cw.succession(cw.Plan(cw.crop("radish"), "04-01"), daily, 21)
    >>> sowings["start_day"].values.tolist()
    [64, 85, 106, 127, 216, 237]
    >>> sowings["share"].round(2).values.tolist()
    [0.7, 1.0, 1.0, 0.78, 0.72, 0.98]
    """
    if not 1 <= every_days <= DAYS:
        msg = f" must lie between 1 and {DAYS}, got {every_days!r}."
        raise InputError(Parameter("every_days"), msg)
    if not 0 < least_odds <= 1:
        msg = f" is a share above 0 and at most 1, got {least_odds!r}."
        raise InputError(Parameter("least_odds"), msg)
    check_one_place(daily, "succession")
    swept = sweep_plans([plan], daily, climate=climate).isel(plan=0, drop=True)
    days = _every(np.nan_to_num(swept["share"].values) >= least_odds - 1e-9, every_days)
    blocks = Blocks(*(swept[name].values for name in BLOCK_COUNTS))
    hits, known = _judged_sowings(days, blocks, least_odds, every_days)
    swept = swept.drop_vars(BLOCK_COUNTS).assign_attrs(plan=plan.name, crop=plan.crop.name)
    sown = swept.sel(start_day=xr.DataArray(days, dims="sowing").astype(int))
    error = sown["harvest_per_degree"] * level_error_of(swept)
    sown = with_elsewhere(
        sown, xr.DataArray(hits, dims="sowing"), xr.DataArray(known, dims="sowing"), error
    )
    for name, level in (("first", 0.1), ("usual", 0.5), ("last", 0.9)):
        sown[f"harvest_{name}"] = sown["harvest_day"].sel(quantile=level, drop=True)
    sown = sown.reset_coords("start_day").assign_coords(sowing=np.arange(1, len(days) + 1))
    sown["start_day"].attrs["units"] = "day of the year"
    return sown.assign_attrs(every_days=every_days, least_odds=least_odds)


def _judged_sowings(
    days: Sequence[int], blocks: Blocks, least_odds: float, step: int
) -> tuple[np.ndarray, np.ndarray]:
    """Harvests and known years of each sowing, from sowings chosen without the years that judge."""
    hits, known = np.zeros(len(days)), np.zeros(len(days))
    for block in range(blocks.known.shape[-1]):
        chosen = np.array(_every(blocks.without(block).share >= least_odds - 1e-9, step))
        for place, day in enumerate(days):
            nearest = day
            if len(chosen):
                away = np.abs((chosen - day + DAYS // 2) % DAYS - DAYS // 2)
                nearest = int(chosen[away.argmin()])
            hits[place] += blocks.harvested[nearest - 1, block]
            known[place] += blocks.known[nearest - 1, block]
    return hits, known


def _every(good: np.ndarray, step: int) -> list[int]:
    """Days of the year, at least `step` apart: good ones, from the end of the longest bad run."""
    if not good.any():
        return []
    bad = max(runs_of_year(~good), key=lambda run: run[1], default=(0, 0))
    begin, days, at = sum(bad) % DAYS, [], 0
    while at <= DAYS - step:
        day = (begin + at) % DAYS
        if good[day]:
            days.append(day + 1)
            at += step
        else:
            at += 1
    return days


# --- a second crop ------------------------------------------------------------------------


def second_crop(
    plan: Plan, daily: xr.Dataset, odds: float = 0.5, *, climate: str = "record"
) -> xr.Dataset:
    """Latest start of a second crop that is harvested before winter ends it.

    Parameters
    ----------
    plan : Plan
        Its own start date plays no part.
    daily : Dataset, dims (..., time)
        Needs ``tmin`` and ``tmax`` [degC], and its latitude.
    odds : float
        Share of the years in which it is to come to a harvest, between 0 and 1.
    climate : {"record", "today"}
        The years as they were, or moved to today's level, see `todays_climate`.

    Returns
    -------
    Dataset, dims (...)
        ``freeze_day``: up to it, with the given odds, no night has killed the last stage; it lies
        between ``freeze_low`` and ``freeze_high`` (90 %), missing where such a freeze is never so
        likely. ``start_day``: the latest start between the warmest and the coldest of the year that
        comes to a harvest with the given odds, missing where there is none; of that date
        ``harvested`` of ``known`` years, their ``share``, its interval ``low`` to ``high``, and
        ``harvest_usual``, by which the harvest has begun in half of them. ``elsewhere_*``: the
        share of harvests of the latest starts chosen without each block of years, judged on that
        block, with its interval, as in `sweep_start_dates`; a latest start is chosen so that it
        only just has its odds, which luck helps it to. Days count from 1 January of the season's
        own year, see `freeze_odds`.

    Raises
    ------
    ValueError
        If the odds are not allowed.

    Examples
    --------
    >>> import climwin as cw
    >>> daily = cw.read_daily(cw.sample())
    >>> latest = cw.second_crop(cw.Plan(cw.crop("radish"), "08-01"), daily)
    >>> int(latest["start_day"]), round(float(latest["share"]), 2)  # 14 September
    (257, 0.53)
    """
    if not 0 < odds < 1:
        msg = f" must lie between 0 and 1, such as 0.8 for 8 years of 10; got {odds!r}."
        raise InputError(Parameter("odds"), msg)
    daily = in_climate(daily, climate)
    limit = plan.crop.stages[-1].cold.killed_at_c
    freeze = freeze_odds(daily, limit, levels=[1 - odds]).isel(odds=0, drop=True)
    out = xr.Dataset({"freeze_day": freeze["first_autumn"]})
    for end in ("low", "high"):
        out[f"freeze_{end}"] = freeze[f"first_autumn_{end}"]
    swept = sweep_plans([plan], daily).isel(plan=0, drop=True)
    swept["harvest_usual"] = swept["harvest_day"].sel(quantile=0.5, drop=True)
    names = ("share", "low", "high", "harvested", "known", "harvest_usual", "harvest_per_degree")

    def kernel(first: int, *each: np.ndarray) -> tuple[float, ...]:
        of_start, blocks = each[: len(names)], Blocks(*each[len(names) :])
        chosen = _latest(of_start[0] >= odds - 1e-9, first)
        told = (np.nan,) * len(names) if np.isnan(chosen) else _at(chosen, of_start)
        return chosen, *told, *_judged_latest(chosen, blocks, odds, first)

    count = 3 + len(names)
    latest = apply(
        kernel,
        coldest_day(daily),
        *(swept[name] for name in names),
        *(swept[name] for name in BLOCK_COUNTS),
        core=[[], *[["start_day"]] * len(names), *[["start_day", "block"]] * len(BLOCK_COUNTS)],
        out=[[]] * count,
        dtypes=[float] * count,
        each=True,
    )
    found = dict(zip(("start_day", *names, "hits", "years"), latest, strict=True))
    hits, years = found.pop("hits"), found.pop("years")
    out = with_elsewhere(
        out.assign(found), hits, years, found["harvest_per_degree"] * level_error_of(daily)
    )
    for name in ("freeze_day", "freeze_low", "freeze_high", "start_day", "harvest_usual"):
        out[name].attrs["units"] = "day of the year"
    attrs = swept.attrs | {"plan": plan.name, "crop": plan.crop.name}
    return out.assign_attrs(attrs, odds=odds, killed_at_c=limit)


def _judged_latest(
    chosen: float, blocks: Blocks, odds: float, first_day: int
) -> tuple[float, float]:
    """Harvests and known years of the latest start, chosen without the years that judge it."""
    if np.isnan(chosen):
        return 0.0, 0.0

    def latest(others: Blocks) -> int:
        day = _latest(others.share >= odds - 1e-9, first_day)
        return (int(chosen if np.isnan(day) else day) - 1) % DAYS

    return judge_choice(blocks, latest)


def _at(day: float, values: Sequence[np.ndarray]) -> tuple[float, ...]:
    """Values on one start day."""
    return tuple(float(each[(int(day) - 1) % DAYS]) for each in values)


def _latest(good: np.ndarray, first_day: int) -> float:
    """Last good day of the second half of the season; missing where there is none."""
    days = int(offset(first_day)) + 1 + np.arange(DAYS // 2, DAYS)
    chosen = days[np.asarray(good, bool)[(days - 1) % DAYS]]
    return float(chosen[-1]) if len(chosen) else np.nan
