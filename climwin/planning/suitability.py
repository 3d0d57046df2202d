"""Which crops suit a place: every crop, each way of growing it, at its best dates."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import xarray as xr

from climwin.core.provenance import provenance
from climwin.core.schema import apply, check_choice
from climwin.core.seasons import DAYS
from climwin.core.stats import LEVEL, wilson
from climwin.crops.catalogue import Crop, crop
from climwin.crops.catalogue import crop_names as catalogue
from climwin.planning.evaluate import best_run, waking
from climwin.planning.plan import OUTDOORS, Plan
from climwin.planning.tally import OPEN, REASONS, SUCCEEDED, Tally, tally
from climwin.planning.weather import Result, Weather, over_stations
from climwin.shelter.covers import COVERS

WAYS = (OUTDOORS, "cold frame")
"""Sown in place, and raised in a cold frame where the crop has usual weeks under cover."""

_LIMITS = {
    "late freeze": "late freezes kill it",
    "autumn freeze": "the season is too short: it is not finished before the killing freeze",
    "soil too cold": "the soil is too cold to sow",
    "too hot": "it is too hot for its {stage}",
    "too cold": "it is too cold for its {stage}",
    "": "",
}
_LATE, _AUTUMN = REASONS.index("late freeze"), REASONS.index("autumn freeze")
_ANY_DAY = "01-01"


def rank_crops(
    daily: xr.Dataset, crops: Sequence[Crop] | None = None, *, ways: Sequence[str] = WAYS
) -> xr.Dataset:
    """Odds of every crop at its best dates, by ways of growing it, and what limits it.

    Parameters
    ----------
    daily : Dataset, dims (..., time)
        Needs ``tmin``, ``tmean`` and, for ways under a cover, ``tmax``. [degC]
    crops : sequence of Crop, optional
        The whole catalogue where it is left out.
    ways : sequence of str
        Covers of `covers.COVERS`: ``"none"`` is sown in place; the others are for crops that have
        usual weeks under cover, and raise them for so long.

    Returns
    -------
    Dataset, dims (..., plan)
        By ``crop``, ``cover``, ``weeks`` and how it ``begins``. ``rank``: 1 for the best odds, of
        equal ones for the longest run of dates, then in the order given. ``first_day`` to
        ``last_day``: the best run of start dates, see `best_dates`. Of ``start_day``, the middle of
        this run: ``succeeded`` of ``known`` years, their ``share`` with its 90 % interval ``low``
        to ``high``; ``reason``, what failed most of the others (an autumn freeze also where a late
        one killed before), the ``stage`` in which it was too hot or too cold, and ``limit``, both
        in words. A crop that never succeeds has no best run: the start date with the fewest days
        too hot, too cold or killing stands for it. A crop that begins by itself has one date: the
        first day of the year's rise by which, in half of the years, the soil at sowing depth has
        held the low limit of its first stage for 5 days.

    Raises
    ------
    ValueError
        If a way is no cover, or no crop can be grown in any of them.
    """
    for way in ways:
        check_choice("ways", way, COVERS)
    chosen = [crop(name) for name in catalogue()] if crops is None else list(crops)
    plans = [plan for each in chosen for plan in _plans(each, ways)]
    if not plans:
        msg = (
            f"Of {len(chosen)} crops none can be grown in the ways {', '.join(ways) or '(none)'}. "
            f"Give crops that have weeks_under_cover, or add the way {OUTDOORS!r}, sown in place."
        )
        raise ValueError(msg)
    found = over_stations(
        lambda weather: tuple(np.array([_best(plan, weather) for plan in plans]).T),
        daily,
        plans,
        results=[Result(name, ("plan",)) for name in _NAMES],
        sizes={"plan": len(plans)},
    )
    for name in ("first_day", "last_day", "start_day"):
        found[name].attrs["units"] = "day of the year"
    return (
        _in_words(_ranked(found), plans)
        .assign_coords(
            crop=("plan", [plan.crop.name for plan in plans]),
            cover=("plan", [plan.cover for plan in plans]),
            weeks=("plan", [plan.weeks_under_cover for plan in plans]),
            begins=("plan", [plan.crop.begins for plan in plans]),
        )
        .assign_attrs(provenance(daily), interval=LEVEL)
    )


def _plans(crop: Crop, ways: Sequence[str]) -> list[Plan]:
    weeks = crop.weeks_under_cover
    in_place = [Plan(crop, _ANY_DAY) for way in ways if way == OUTDOORS]
    raised = [Plan(crop, _ANY_DAY, weeks.usual, way) for way in ways if weeks and way != OUTDOORS]
    return in_place + raised


# --- one plan at one station --------------------------------------------------------------

_NAMES = ("first_day", "last_day", "start_day", "succeeded", "known", "reason", "stage")


def _best(plan: Plan, weather: Weather) -> tuple[float, ...]:
    """Days of the best run, its middle, and there the years and what limits them, as numbers."""
    found = tally(plan, weather)
    fate = found.fate
    known, succeeded = (fate != OPEN).sum(axis=0), (fate == SUCCEEDED).sum(axis=0)
    if plan.crop.wakes:
        known = np.where(np.arange(DAYS) == waking(plan.crop, weather), known, 0)
        succeeded = np.where(known, succeeded, 0)
    if not known.any():
        return (*(np.nan,) * 3, 0, 0, -1, -1)
    first = last = np.nan
    at = int(np.where(known, _bad_days(found), np.inf).argmin())
    if succeeded.any():
        share = np.where(known, succeeded / np.maximum(known, 1), np.nan)
        begin, days = best_run(share)
        at = (begin + (days - 1) // 2) % DAYS
        first, last = begin + 1, (begin + days - 1) % DAYS + 1
    return first, last, at + 1, succeeded[at], known[at], *_limiting(found, fate[:, at], at)


def _bad_days(found: Tally) -> np.ndarray:
    """Days too hot, too cold or killing, over all years, by start."""
    days = found.outdoors.hot + found.outdoors.cold + found.late.least + found.autumn.least
    return days.sum(axis=0)


def _limiting(found: Tally, fate: np.ndarray, at: int) -> tuple[int, int]:
    """Number of the reason that failed most years, and of the stage too hot or cold in them."""
    both = (fate == _LATE) & (found.autumn.least[:, at] > found.conditions.killing_freezes)
    fate = np.where(both, _AUTUMN, fate)
    failed = fate[fate >= 0]
    if not len(failed):
        return -1, -1
    reason = int(np.bincount(failed).argmax())
    side = {"too hot": "hot", "too cold": "cold"}.get(REASONS[reason])
    if side is None:
        return reason, -1
    days = [getattr(stage, side)[fate == reason, at].sum() for stage in found.stages]
    return reason, int(np.argmax(days))


# --- all of them, with names --------------------------------------------------------------


def _ranked(found: xr.Dataset) -> xr.Dataset:
    known = found["known"].where(found["known"] > 0)
    found["share"] = found["succeeded"] / known
    found["low"], found["high"] = apply(
        wilson, found["succeeded"], found["known"], core=[[], []], out=[[], []], dtypes=[float] * 2
    )
    days = (found["last_day"] - found["first_day"]) % DAYS
    found["rank"] = apply(
        lambda days, share: np.lexsort((days, share)).argsort() + 1,
        -days.fillna(-1),
        -found["share"].fillna(-1),
        core=[["plan"]] * 2,
        out=[["plan"]],
        dtypes=[int],
        each=True,
    )
    return found


def _in_words(found: xr.Dataset, plans: Sequence[Plan]) -> xr.Dataset:
    """Numbers of reasons and stages as words; -1, the last of each table, is none."""
    reasons = (*REASONS, "")
    most = max(len(plan.crop.stages) for plan in plans)
    names = [[stage.name for stage in plan.crop.stages] for plan in plans]
    stages = np.array([[*each, *[""] * (most + 1 - len(each))] for each in names])
    limits = np.array(
        [[[_LIMITS[r].format(stage=s) for s in each] for r in reasons] for each in stages]
    )
    rows = np.arange(len(plans))
    words = apply(
        lambda reason, stage: (
            np.array(reasons)[reason],
            stages[rows, stage],
            limits[rows, reason, stage],
        ),
        found["reason"].astype(int),
        found["stage"].astype(int),
        core=[["plan"]] * 2,
        out=[["plan"]] * 3,
        dtypes=[np.array(reasons).dtype, stages.dtype, limits.dtype],
    )
    return found.assign(dict(zip(("reason", "stage", "limit"), words, strict=True)))
