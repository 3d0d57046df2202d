"""Plans judged: in every year of a history, for every start date, and against each other."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import NamedTuple

import numpy as np
import xarray as xr

from climwin.plans import OUTDOORS, Conditions, Piece, Plan
from climwin.schema import TOLERANCE_C, apply, variable
from climwin.seasons import (
    DAYS,
    by_year,
    coldest_day,
    date_of,
    day_name,
    day_number,
    seen_range,
    warmest_day,
)
from climwin.shelter import COVERS, under_cover
from climwin.soil import soil_temperature
from climwin.stats import LEVEL, paired_difference, wilson
from climwin.usable import inside, running_mean_bounds

SOWING_DEPTH_M = 0.05
WARM_SOIL_DAYS = 5
REASONS = ("late freeze", "autumn freeze", "soil too cold", "too hot", "too cold")
"""Why a year fails, in the order in which they are looked at."""


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
    judged = _judged(plan, daily, np.array([day_number(plan.start)])).squeeze(
        "start_day", drop=True
    )
    day = xr.full_like(judged["season"], day_number(plan.start), dtype=float)
    for name, shift in (("start", 0), ("finish", plan.crop.days - 1)):
        dates = date_of(judged["season"].values, day.values + shift).astype("datetime64[s]")
        judged[name] = ("season", dates)
    return judged.assign_attrs(plan=plan.name, crop=plan.crop.name)


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
        What `success_odds` gives, for day 1 to 365.
    """
    judged = _judged(plan, daily, np.arange(1, DAYS + 1))
    return success_odds(judged).assign_attrs(plan=plan.name, crop=plan.crop.name)


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
    success = judged["success"]
    known = success.notnull().sum("season")
    wins = success.sum("season").astype(int)
    low, high = apply(wilson, wins, known, core=[[], []], out=[[], []], dtypes=[float] * 2)
    out = xr.Dataset({"succeeded": wins, "known": known})
    out["unknown"] = judged.sizes["season"] - known
    out["share"], out["low"], out["high"] = wins / known.where(known > 0), low, high
    counts = [(judged["reason"] == reason).sum("season") for reason in REASONS]
    out["failed_by"] = xr.concat(counts, xr.DataArray(list(REASONS), dims="reason", name="reason"))
    return out.assign_attrs(judged.attrs, interval=LEVEL)


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
    return out.assign_attrs(plan=plan.name, other=other.name, interval=LEVEL)


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
        higher odds, then the earlier.

    Raises
    ------
    ValueError
        If no start date has known odds.
    """
    share = swept["share"].values
    if np.isnan(share).all():
        msg = "No start date has known odds: the record has no year without gaps for this plan."
        raise ValueError(msg)
    near = share >= np.nanmax(share) - within - 1e-9
    if near.all():
        return 1, DAYS
    shift = int(np.flatnonzero(~near)[0])  # begin on a day outside every run
    turned = np.roll(near, -shift)
    edges = np.flatnonzero(np.diff(np.concatenate([[False], turned, [False]])))
    runs = list(zip(edges[::2], edges[1::2], strict=True))
    odds = np.roll(np.nan_to_num(share), -shift)

    def rank(run: tuple[int, int]) -> tuple[float, ...]:
        first, after = run
        return after - first, odds[first:after].mean(), -((first + shift) % DAYS)

    first, after = max(runs, key=rank)
    return int((first + shift) % DAYS + 1), int((after - 1 + shift) % DAYS + 1)


def at_best_date(plan: Plan, daily: xr.Dataset) -> Plan:
    """Move a plan to the middle of its best run of start dates."""
    first, last = best_dates(sweep(plan, daily))
    middle = first + (last - first) % DAYS // 2
    return replace(plan, start=day_name(middle))


# --- the kernel: every start date of every year by differences of running sums -------------


class _Count(NamedTuple):
    """Days of something within a piece: at least, and at most, given what is missing."""

    least: np.ndarray
    most: np.ndarray


class _Years:
    """Masks of one station's days as running sums: any stretch of days costs one difference."""

    room = 2  # years without data on either side of the record, for any plan

    def __init__(self, years: int, starts: np.ndarray) -> None:
        self.index = (self.room + np.arange(years)) * DAYS + starts[:, None] - 1

    def roomy(self, grid: np.ndarray) -> np.ndarray:
        """Grid of the record's years with missing years on either side."""
        return np.pad(grid, ((self.room, self.room), (0, 0)), constant_values=np.nan)

    def count(self, sure: np.ndarray, possible: np.ndarray, begin: int, end: int) -> _Count:
        """True days from `begin` to before `end` of every plan: shape (starts, years)."""
        sums = (np.cumsum(np.append(False, mask)) for mask in (sure, possible))
        return _Count(*(s[self.index + end] - s[self.index + begin] for s in sums))


def _at_or_below(grid: np.ndarray, limit: float) -> tuple[np.ndarray, np.ndarray]:
    sure = grid <= limit + TOLERANCE_C
    return sure, sure | (np.isnan(grid) & (seen_range(grid)[0] <= limit + TOLERANCE_C))


def _total(counts: list[_Count], shape: tuple[int, ...]) -> _Count:
    none = np.zeros(shape, dtype=int)
    return _Count(*(sum((c[i] for c in counts), none) for i in (0, 1)))


def _freezes(years: _Years, plan: Plan, tmins: dict[str, np.ndarray], when: np.ndarray) -> _Count:
    """Nights that kill, on the days of the year `when`, above ground and under each cover."""
    counts = []
    for piece in plan.pieces():
        if piece.stage.place == "air":
            sure, possible = _at_or_below(tmins[piece.cover], piece.stage.survives.low_c)
            counts.append(years.count(sure & when, possible & when, piece.begin, piece.end))
    return _total(counts, years.index.shape)


def _warm_soil(years: _Years, plan: Plan, tsoil: np.ndarray) -> _Count:
    """Of the last days up to the start, those on which the soil is warm enough to sow."""
    if plan.weeks_under_cover:
        always = np.ones(tsoil.shape, dtype=bool)
        return years.count(always, always, 0, WARM_SOIL_DAYS)
    warm = tsoil >= plan.crop.germination.minimum_c - TOLERANCE_C
    return years.count(warm, warm | np.isnan(tsoil), 1 - WARM_SOIL_DAYS, 1)


class _Band(NamedTuple):
    """Days of a stage outdoors, and how many of them lie in, above and below its band."""

    days: int
    within: _Count
    hot: np.ndarray
    cold: np.ndarray

    @property
    def share(self) -> np.ndarray:
        """Share of the days in the band; missing where it is unknown, or there are no days."""
        known = (self.within.least == self.within.most) & (self.days > 0)
        return np.where(known, self.within.least / max(self.days, 1), np.nan)


def _in_band(years: _Years, pieces: list[Piece], bounds: tuple[np.ndarray, np.ndarray]) -> _Band:
    """Count a stage's days whose 7-day mean, between two bounds, lies in and beside the band."""
    least, greatest = bounds
    counts: tuple[list[_Count], ...] = ([], [], [])
    for stage, begin, end, _ in pieces:
        band = stage.tolerates
        masks = (
            (inside(least, greatest, band), inside(greatest, least, band)),
            (least > band.high_c + TOLERANCE_C,) * 2,
            (greatest < band.low_c - TOLERANCE_C,) * 2,
        )
        for into, mask in zip(counts, masks, strict=True):
            into.append(years.count(*mask, begin, end))
    within, hot, cold = (_total(each, years.index.shape) for each in counts)
    return _Band(sum(p.end - p.begin for p in pieces), within, hot.least, cold.least)


class _Verdict(NamedTuple):
    success: np.ndarray
    reason: np.ndarray


def _verdict(
    needs: Conditions, bands: list[_Band], late: _Count, autumn: _Count, warm: _Count
) -> _Verdict:
    limit = needs.killing_freezes
    in_band = [
        np.logical_and.reduce([b.within[i] >= needs.share_in_band * b.days - 1e-9 for b in bands])
        for i in (0, 1)
    ]
    too_hot = sum(b.hot for b in bands) >= sum(b.cold for b in bands)
    soil = [days == WARM_SOIL_DAYS for days in warm] if needs.warm_soil else [True, True]
    nights = _total([late, autumn], late.least.shape)
    sure = in_band[0] & (nights.most <= limit) & soil[0]
    possible = in_band[1] & (nights.least <= limit) & soil[1]
    met = [late.least > limit, nights.least > limit, np.logical_not(soil[1]), too_hot]
    failed_by = np.select(met, range(len(met)), len(met))
    return _Verdict(
        np.where(sure, 1.0, np.where(possible, np.nan, 0.0)), np.where(possible, -1, failed_by)
    )


def _kernel(
    plan: Plan, starts: np.ndarray, covers: list[str]
) -> Callable[..., tuple[np.ndarray, ...]]:
    open_air = [p for p in plan.pieces() if p.cover in _OPEN and p.stage.place == "air"]
    by_stage = [[p for p in open_air if p.stage is stage] for stage in plan.crop.stages]

    def kernel(
        tmean: np.ndarray, tsoil: np.ndarray, coldest: int, warmest: int, *tmins: np.ndarray
    ) -> tuple[np.ndarray, ...]:
        years = _Years(len(tmean), starts)
        tmean, tsoil, *tmins = (years.roomy(grid) for grid in (tmean, tsoil, *tmins))
        bounds = running_mean_bounds(tmean)
        band = _in_band(years, open_air, bounds)
        stages = [_in_band(years, pieces, bounds) for pieces in by_stage]
        rising = (np.arange(1, DAYS + 1) - coldest) % DAYS < (warmest - coldest) % DAYS
        inside_tmin = dict(zip(covers, tmins, strict=True))
        late, autumn = (_freezes(years, plan, inside_tmin, when) for when in (rising, ~rising))
        warm = _warm_soil(years, plan, tsoil)
        verdict = _verdict(plan.conditions, stages, late, autumn, warm)
        counts = [np.where(c.least == c.most, c.least, np.nan) for c in (late, autumn)]
        beside = [np.where(np.isnan(band.share), np.nan, days) for days in (band.hot, band.cold)]
        soil = np.where(warm.least == warm.most, warm.least == WARM_SOIL_DAYS, np.nan)
        return (
            band.share,
            *beside,
            *counts,
            soil,
            *verdict,
            np.stack([b.share for b in stages], -1),
        )

    return kernel


_RESULTS = (
    *("in_band", "too_hot", "too_cold", "late_freezes", "autumn_freezes", "warm_soil"),
    *("success", "reason", "stage_in_band"),
)
_OPEN = (OUTDOORS, "fleece")
"""Covers under which the days count as outdoors."""


def _judged(plan: Plan, daily: xr.Dataset, starts: np.ndarray) -> xr.Dataset:
    tmean, tmin = variable(daily, "tmean"), variable(daily, "tmin")
    covers = sorted({piece.cover for piece in plan.pieces()})
    tmins = [under_cover(daily, COVERS[c])["tmin"] if c != OUTDOORS else tmin for c in covers]
    grids = [by_year(da) for da in (tmean, soil_temperature(tmean, depth=SOWING_DEPTH_M), *tmins)]
    axes = ["year", "day_of_year"]
    shape = ["start_day", "season"]
    results = apply(
        _kernel(plan, starts, covers),
        *grids[:2],
        coldest_day(daily),
        warmest_day(daily),
        *grids[2:],
        core=[axes, axes, [], [], *[axes] * len(covers)],
        out=[shape] * 8 + [[*shape, "stage"]],
        sizes={
            "start_day": len(starts),
            "season": grids[0].sizes["year"],
            "stage": len(plan.crop.stages),
        },
        dtypes=[float] * 7 + [int, float],
        each=True,
    )
    out = xr.Dataset(dict(zip(_RESULTS, results, strict=True)))
    words = np.array([*REASONS, ""])
    out["reason"] = apply(lambda c: words[c], out["reason"], core=[[]], dtypes=[words.dtype])
    return out.assign_coords(
        start_day=starts,
        season=grids[0]["year"].values,
        stage=[stage.name for stage in plan.crop.stages],
    )
