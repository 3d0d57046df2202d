"""Plans judged: in every year of a history, for every start date, and against each other."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
import xarray as xr

from climwin.core.provenance import provenance
from climwin.core.schema import apply
from climwin.core.seasons import DAYS, date_of, day_name, day_number
from climwin.core.stats import LEVEL, paired_difference, wilson
from climwin.crops.catalogue import Crop
from climwin.planning.plan import Plan
from climwin.planning.tally import OPEN, REASONS, SUCCEEDED, WARM_SOIL_DAYS, count_fates, tally
from climwin.planning.weather import Result, Weather, over_stations

_WORDS = np.array([*REASONS, "", ""])
_AWAKE = 0.5
"""Share of the years in which a plant that begins by itself has begun (common practice)."""


def judge(plan: Plan, daily: xr.Dataset) -> xr.Dataset:
    """Judge a plan in every year of a history.

    Parameters
    ----------
    plan : Plan
        What is done, and its conditions.
    daily : Dataset, dims (..., time)
        Needs ``tmin`` and ``tmean``. [degC]

    Returns
    -------
    Dataset, dims (..., season)
        By year of the start: ``start`` and ``finish`` dates; ``in_band``, share of the days
        outdoors in their stage's band, and ``stage_in_band`` of each stage (dims ..., season,
        stage; missing where it has no day outdoors); days ``too_hot`` and ``too_cold``;
        ``late_freezes`` and ``autumn_freezes``, killing nights on the way up and on the way down
        of the year; ``warm_soil`` at the start; ``success``, 1 or 0, missing where a gap, or the
        record's end, could change it; ``reason``, the first that failed it, or ``""``.

    Notes
    -----
    Killing nights under cover are those inside it. Days in the band are counted outdoors alone.
    """
    day, names = day_number(plan.start), [stage.name for stage in plan.crop.stages]
    judged = over_stations(
        lambda weather: _details(plan, weather),
        daily,
        [plan],
        results=_JUDGED,
        sizes={"stage": len(names)},
        start_day=day,
    ).squeeze("start_day", drop=True)
    judged["reason"] = apply(
        lambda fate: _WORDS[fate], judged["reason"], core=[[]], dtypes=[_WORDS.dtype]
    )
    for name, shift in (("start", 0), ("finish", plan.crop.days - 1)):
        dates = date_of(judged["season"].values, np.array(day + shift)).astype("datetime64[s]")
        judged[name] = ("season", dates)
    for name in ("too_hot", "too_cold", "late_freezes", "autumn_freezes"):
        judged[name].attrs["units"] = "days"
    return judged.assign_coords(stage=names).assign_attrs(
        provenance(daily), plan=plan.name, crop=plan.crop.name
    )


def sweep(plan: Plan, daily: xr.Dataset) -> xr.Dataset:
    """Odds of success of a plan for each start date of the year.

    Parameters
    ----------
    plan : Plan
        Its own start date plays no part.
    daily : Dataset, dims (..., time)
        Needs ``tmin`` and ``tmean``. [degC]

    Returns
    -------
    Dataset, dims (..., start_day)
        What `success_odds` gives, for day 1 to 365. A crop that begins by itself has one date, see
        `waking`; no year is known on the others.
    """
    swept = sweep_plans([plan], daily).isel(plan=0, drop=True)
    return swept.assign_attrs(plan=plan.name, crop=plan.crop.name)


def sweep_plans(plans: Sequence[Plan], daily: xr.Dataset) -> xr.Dataset:
    """Odds of success of several plans for each start date of the year.

    Parameters
    ----------
    plans : sequence of Plan
        Their own start dates play no part.
    daily : Dataset, dims (..., time)
        Needs ``tmin`` and ``tmean``. [degC]

    Returns
    -------
    Dataset, dims (..., plan, start_day)
        What `sweep` gives, in the order of the plans.

    Raises
    ------
    ValueError
        If there is no plan.
    """

    def kernel(weather: Weather) -> tuple[np.ndarray, ...]:
        counts = [count_fates(fates(plan, weather)) for plan in plans]
        return tuple(np.stack(each) for each in zip(*counts, strict=True))

    dims = ("plan", "start_day")
    results = [Result(name, dims, int) for name in ("succeeded", "known", "unknown")]
    counts = over_stations(
        kernel,
        daily,
        plans,
        results=[*results, Result("failed_by", (*dims, "reason"), int)],
        sizes={"plan": len(plans), "reason": len(REASONS)},
    )
    return _odds(counts.assign_coords(reason=list(REASONS))).assign_attrs(provenance(daily))


def fates(plan: Plan, weather: Weather) -> np.ndarray:
    """What became of each year from each start, shape (years, 365), see `Tally.fate`.

    A crop that begins by itself is judged on the day that it wakes; all other starts are open.
    """
    fate = tally(plan, weather).fate
    if not plan.crop.wakes:
        return fate
    return np.where(np.arange(DAYS) == waking(plan.crop, weather), fate, np.int8(OPEN))


def waking(crop: Crop, weather: Weather) -> int:
    """Day, counted from 0, on which a crop has begun by itself in half of the years.

    By then the soil at sowing depth has held the low limit of its first stage for 5 days, on the
    rise of the year.
    """
    warm = weather.warm_soil(crop.stages[0].tolerates.low_c, 1 - WARM_SOIL_DAYS, 1)
    awake, asleep = warm.least >= WARM_SOIL_DAYS, warm.most < WARM_SOIL_DAYS
    share = awake.sum(axis=0) / np.maximum((awake | asleep).sum(axis=0), 1)
    first, days = true_runs(weather.rising | ~weather.rising.any())[0]
    rise = (first + np.arange(days)) % DAYS
    return int(rise[np.minimum(share[rise], _AWAKE).argmax()])


def success_odds(judged: xr.Dataset) -> xr.Dataset:
    """Odds of success over the years, with their interval and what failed the rest.

    Parameters
    ----------
    judged : Dataset, dims (..., season)
        From `judge`.

    Returns
    -------
    Dataset, dims (...)
        ``succeeded`` of ``known`` years, ``unknown``, the ``share`` with its 90 % Wilson interval
        ``low`` to ``high``, and ``failed_by``, dims (..., reason): years by first reason.
    """
    success, reason = judged["success"], judged["reason"]
    known = success.notnull().sum("season")
    out = xr.Dataset({"succeeded": success.sum("season").astype(int), "known": known})
    out["unknown"] = judged.sizes["season"] - known
    reasons = xr.DataArray(list(REASONS), dims="reason", coords={"reason": list(REASONS)})
    out["failed_by"] = (reason == reasons).sum("season")
    return _odds(out).assign_attrs(judged.attrs | out.attrs)


def _odds(counts: xr.Dataset) -> xr.Dataset:
    wins, known = counts["succeeded"], counts["known"]
    low, high = apply(wilson, wins, known, core=[[], []], out=[[], []], dtypes=[float] * 2)
    return counts.assign(share=wins / known.where(known > 0), low=low, high=high).assign_attrs(
        interval=LEVEL
    )


def compare(plan: Plan, other: Plan, daily: xr.Dataset) -> xr.Dataset:
    """Compare two plans on the same years.

    Parameters
    ----------
    plan, other : Plan
        Rivals.
    daily : Dataset, dims (..., time)
        Needs ``tmin`` and ``tmean``. [degC]

    Returns
    -------
    Dataset, dims (...)
        Of the years known for both: ``both`` succeeded, ``only_plan``, ``only_other``,
        ``neither``, their sum ``known``; ``difference`` of the shares, plan minus other, with its
        90 % interval ``low`` to ``high``.
    """
    first, second = (judge(p, daily)["success"] for p in (plan, other))
    held = first.notnull() & second.notnull()
    won, lost = (first == 1) & held, (second == 1) & held
    out = xr.Dataset(
        {
            "both": (won & lost).sum("season"),
            "only_plan": (won & ~lost & held).sum("season"),
            "only_other": (lost & ~won & held).sum("season"),
            "neither": (held & ~won & ~lost).sum("season"),
            "known": held.sum("season"),
        }
    )
    out["difference"], out["low"], out["high"] = apply(
        paired_difference,
        out["only_plan"],
        out["only_other"],
        out["known"],
        core=[[], [], []],
        out=[[], [], []],
        dtypes=[float] * 3,
    )
    return out.assign_attrs(provenance(daily), plan=plan.name, other=other.name, interval=LEVEL)


def best_dates(swept: xr.Dataset, within: float = 0.05) -> tuple[int, int]:
    """First and last start day of the widest run of dates whose odds come near the best.

    Parameters
    ----------
    swept : Dataset, dims (start_day)
        From `sweep`, one station.
    within : float
        How far below the best odds a date may lie, as a share.

    Returns
    -------
    first, last : int
        Days of the year; the run may wrap round the year's end. Of equal runs the one with the
        higher odds, then the earlier. A date that never succeeds is near the best only where
        all are alike.

    Raises
    ------
    ValueError
        If no start date has known odds.
    """
    share = swept["share"].values
    if np.isnan(share).all():
        msg = "No start date has known odds: the record has no year without gaps for this plan."
        raise ValueError(msg)
    first, days = best_run(share, within)
    return first + 1, (first + days - 1) % DAYS + 1


def best_run(share: np.ndarray, within: float = 0.05) -> tuple[int, int]:
    """Kernel of `best_dates`: first day, counted from 0, and length of the run; some odds known."""
    top = np.nanmax(share)
    runs = true_runs((share >= top - within - 1e-9) & ((share > 0) | (top == 0)))

    def rank(run: tuple[int, int]) -> tuple[float, ...]:
        first, days = run
        odds = np.nan_to_num(share)[(first + np.arange(days)) % DAYS]
        return days, odds.mean(), -first

    return max(runs, key=rank)


def true_runs(held: np.ndarray) -> list[tuple[int, int]]:
    """First day and length of each run of true days on the circle of the year, shape (365,)."""
    if held.all():
        return [(0, DAYS)]
    shift = int(held.argmin())  # begin on a day outside every run
    edges = np.flatnonzero(np.diff(np.concatenate([[False], np.roll(held, -shift), [False]])))
    pairs = zip(edges[::2].tolist(), edges[1::2].tolist(), strict=True)
    return [((first + shift) % DAYS, after - first) for first, after in pairs]


def at_best_date(plan: Plan, daily: xr.Dataset) -> Plan:
    """Move a plan to the middle of its best run of start dates."""
    return at_middle(plan, *best_dates(sweep(plan, daily)))


def at_middle(plan: Plan, first: int, last: int) -> Plan:
    """Move a plan to the middle of a run of start dates, which may wrap round the year's end."""
    return replace(plan, start=day_name(first + (last - first) % DAYS // 2))


_JUDGED = (
    *(Result("in_band"), Result("too_hot"), Result("too_cold")),
    *(Result("late_freezes"), Result("autumn_freezes"), Result("warm_soil")),
    *(Result("success"), Result("reason", dtype=int)),
    Result("stage_in_band", ("season", "start_day", "stage")),
)


def _details(plan: Plan, weather: Weather) -> tuple[np.ndarray, ...]:
    found = tally(plan, weather)
    fate, band, warm = found.fate, found.outdoors, found.warm.known
    return (
        band.share,
        *(np.where(np.isnan(band.share), np.nan, days) for days in (band.hot, band.cold)),
        found.late.known,
        found.autumn.known,
        np.where(np.isnan(warm), np.nan, warm == WARM_SOIL_DAYS),
        np.select([fate == SUCCEEDED, fate == OPEN], [1.0, np.nan], 0.0),
        fate,
        np.stack([stage.share for stage in found.stages], axis=-1),
    )
