"""Grow plans from every start date of every year."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import NamedTuple

import numpy as np
import xarray as xr

from climwin.climate.level import in_climate
from climwin.core.errors import InputError
from climwin.core.provenance import level_error_of, provenance
from climwin.core.schema import apply
from climwin.core.seasons import DAYS
from climwin.planning.counts import BLOCK_COUNTS, SECOND_AXES, WHOLE_COUNTS, Counts, count_years
from climwin.planning.evaluate import with_shares
from climwin.planning.grown import (
    HARVEST_LEVELS,
    Calendar,
    Drawn,
    grow_plan,
    quantiles_of_years,
)
from climwin.planning.growth import GOOD_GROWTH, REASONS
from climwin.planning.over_sites import Result, calendar_years, over_sites
from climwin.planning.plan import Plan
from climwin.planning.selection import Blocks, block_count, elsewhere_interval
from climwin.planning.site import FilledSites
from climwin.planning.spans import (
    NO_OTHERS,
    Choice,
    choose_dates,
    lives_one_summer,
    needs_winter,
)

_ANY_START = "01-01"

_OF_CHOICE = ("first", "best", "last", "season", "harvested", "known", "stable")
"""Results of `sweep_plans` on the dates that lead, see `climwin.planning.spans.Choice`."""


def sweep_start_dates(plan: Plan, daily: xr.Dataset, *, climate: str = "record") -> xr.Dataset:
    """Odds of a harvest, and its size, for each start date of the year.

    Parameters
    ----------
    plan : Plan
        Its own start date plays no part.
    daily : Dataset, dims (..., time)
        Needs ``tmin`` and ``tmax`` [degC], and its latitude as a coordinate or an attribute.
    climate : {"record", "today"}
        As for `evaluate_plan`.

    Returns
    -------
    Dataset, dims (..., start_day)
        What `harvest_odds` gives, for day 1 to 365; ``yield_index``, the mean over the known years
        with 0 in a failed one [MJ m-2], and ``expected_crop``, the same as a share of the best
        start date's; ``harvest_day``, dims (..., start_day, quantile): days after 1 January of the
        start's year by which the harvest has begun in 10, 50 and 90 % of the harvested years, the
        mean of what each draw of the gaps says;
        ``days_outdoors``, of the middle one. ``band_low`` to ``band_high`` holds the whole curve
        of the share at once (90 %), where ``low`` to ``high`` holds each date by itself.
        ``best_first``, ``best_day`` and ``best_last``, days of the year: the dates of the season
        that leads, as `recommended_dates` does of one variety; where no season has odds of 0.8
        (``best_season`` is then -1), those near the largest crop, see `best_dates`. Of the best day
        ``elsewhere_harvested`` of ``elsewhere_known`` years, the ``elsewhere_share`` and its
        interval ``elsewhere_low`` to ``elsewhere_high``: chosen without each block of years and
        judged on that block, for its share in the years that chose it is too good by luck; half of
        what a choice from fewer years costs is added, so the harvests are no whole number.
        ``stable``: the share of the blocks without which a date is still near the largest crop.
        ``coldest`` and ``warmest``: days of the smoothed climatology, counted from 0. A perennial
        has one start, see `Plan`; no year is known on the other days.

    Examples
    --------
    >>> import climwin as cw
    >>> daily = cw.read_daily(cw.sample())
    >>> swept = cw.sweep_start_dates(cw.Plan(cw.crop("pea"), "04-01"), daily)
    >>> swept["share"].sel(start_day=[60, 100, 160]).round(2).values.tolist()
    [0.6, 0.7, 0.74]
    >>> int(swept["best_day"])  # 19 March
    78
    """
    swept = sweep_plans([plan], daily, climate=climate).isel(plan=0, drop=True)
    swept = swept.drop_vars(BLOCK_COUNTS)
    return swept.assign_attrs(plan=plan.name, crop=plan.crop.name)


def sweep_plans(
    plans: Sequence[Plan],
    daily: xr.Dataset,
    *,
    climate: str = "record",
    with_band: bool = True,
) -> xr.Dataset:
    """Odds of a harvest of several plans for each start date of the year.

    Parameters
    ----------
    plans : sequence of Plan
        Their own start dates play no part.
    daily : Dataset, dims (..., time)
        As for `sweep_start_dates`.
    climate : {"record", "today"}
        As for `evaluate_plan`.
    with_band : bool
        Whether to find ``band_low`` and ``band_high``, which many stations do without; otherwise
        they are missing.

    Returns
    -------
    Dataset, dims (..., plan, start_day)
        What `sweep_start_dates` gives, in the order of the plans; ``expected_crop`` is a share of
        the best start date of all plans. ``block_*``, dims (..., plan, start_day, block): counts
        and sums of each block of years, see `climwin.planning.selection`.

    Raises
    ------
    ValueError
        If there is no plan.
    """
    if not plans:
        msg = "There is no plan to grow, got an empty sequence. Give at least one."
        raise InputError(msg, parameter="plans")
    daily = in_climate(daily, climate)
    every_day = np.arange(1, DAYS + 1)

    def kernel(sites: FilledSites, calendar: Calendar) -> tuple[np.ndarray, ...]:
        swept = [sweep_years(plan, sites, calendar, with_band=with_band) for plan in plans]
        padded = [_on_every_day(plan, each.counts) for plan, each in zip(plans, swept, strict=True)]
        counts = tuple(np.stack(each) for each in zip(*padded, strict=True))
        chosen = [np.stack([getattr(s.chosen, name) for s in swept]) for name in _OF_CHOICE]
        return *counts, *chosen, *map(np.array, turns_of_year(sites))

    dims = ("plan", "start_day")
    out = over_sites(
        kernel,
        daily,
        results=[
            *(
                Result(
                    name,
                    (*dims, SECOND_AXES[name]) if name in SECOND_AXES else dims,
                    int if name in WHOLE_COUNTS else float,
                )
                for name in Counts._fields
            ),
            *(Result(name, ("plan",)) for name in ("best_first", "best_day", "best_last")),
            Result("best_season", ("plan",), int),
            *(Result(f"elsewhere_{name}", ("plan",)) for name in ("harvested", "known")),
            Result("stable", dims),
            *(Result(name, (), int) for name in ("coldest", "warmest")),
        ],
        sizes={
            "plan": len(plans),
            "quantile": len(HARVEST_LEVELS),
            "reason": len(REASONS),
            "block": block_count(calendar_years(daily)),
        },
        start_days=every_day,
    )
    best = out["yield_index"].max(["plan", "start_day"])
    out["expected_crop"] = out["yield_index"] / best.where(best > 0)
    out["harvest_day"] = (out["harvest_day"] + out["start_day"]).assign_attrs(
        units="days after 31 December before the start"
    )
    out["days_outdoors"].attrs["units"] = "days"
    out["yield_index"].attrs["units"] = "MJ m-2"
    out["harvest_per_degree"].attrs["units"] = "1/degC"
    out = with_shares(out, daily).assign_attrs(provenance(daily))
    on_best_day = at_day(out["harvest_per_degree"], out["best_day"])
    out = with_elsewhere(
        out,
        out["elsewhere_harvested"],
        out["elsewhere_known"],
        on_best_day * level_error_of(out),
    )
    return out.assign_coords(reason=list(REASONS), quantile=list(HARVEST_LEVELS))


def turns_of_year(sites: FilledSites) -> tuple[int, int]:
    """Coldest and warmest day of a place's smoothed climatology, counted from 0."""
    usual = sites.usual.usual_mean
    return int(usual.argmin()), int(usual.argmax())


def at_day(swept: xr.DataArray, day: xr.DataArray, *others: str) -> xr.DataArray:
    """Values of a sweep on one start day, counted from 1, which differs from plan to plan.

    Missing, or 0 of whole numbers, where the day is.
    """

    def on_day(values: np.ndarray, day: float) -> np.ndarray:
        if np.isnan(day):
            return np.zeros_like(values[0]) if values.dtype.kind in "ib" else values[0] * np.nan
        return np.asarray(values[int(day) - 1])

    taken: xr.DataArray = apply(
        on_day,
        swept,
        day,
        core=[["start_day", *others], []],
        out=[list(others)],
        dtypes=[swept.dtype],
        each=True,
    )
    return taken


def with_elsewhere(
    out: xr.Dataset, hits: xr.DataArray, known: xr.DataArray, error: xr.DataArray
) -> xr.Dataset:
    """The share of harvests in years left out of a choice, with its interval.

    `error` is what the standard error of the level that years were moved to makes of the share.
    """
    out["elsewhere_harvested"], out["elsewhere_known"] = hits, known
    out["elsewhere_share"] = hits / known.where(known > 0)
    out["elsewhere_low"], out["elsewhere_high"] = apply(
        lambda hits, known, error: elsewhere_interval(hits, known, error=np.nan_to_num(error)),
        hits,
        known,
        error,
        core=[[], [], []],
        out=[[], []],
        dtypes=[float] * 2,
    )
    out["elsewhere_share"].attrs["long_name"] = (
        "share of harvests from the best date, in years left out of the choice"
    )
    return out


class SweptYears(NamedTuple):
    """Outcome of every start day of every year; small enough to be remembered.

    Parameters
    ----------
    counts : Counts
        Years of each outcome by start day.
    reason : ndarray of int8, shape (seasons, start_days)
        Outcome of each life: its number in `REASONS`, `HARVEST`, or `OPEN`.
    good : ndarray of bool, shape (seasons, start_days)
        Whether it is a good harvest.
    days_to_end : ndarray, shape (start_days,)
        Days from emergence to the end of the harvest in the middling year, missing where there is
        none.
    drawn : Drawn or None
        The starts that a gap leaves open, drawn; none where there are none.
    chosen : Choice
        The dates that lead.
    """

    counts: Counts
    reason: np.ndarray
    good: np.ndarray
    days_to_end: np.ndarray
    drawn: Drawn | None
    chosen: Choice


def sweep_years(
    plan: Plan, sites: FilledSites, calendar: Calendar, *, with_band: bool = True
) -> SweptYears:
    """Grow a plan from every start day of every year; a perennial from one.

    Remembered with the record's sites: a page asks for the same plans in its table of crops, in its
    live chart and in its dates.
    """

    def sweep() -> SweptYears:
        starts = np.array([1]) if plan.crop.is_perennial else np.arange(1, DAYS + 1)
        grown = grow_plan(plan, sites, calendar, starts)
        counts = count_years(grown, sites.usual, with_band=with_band)
        return SweptYears(
            counts=counts,
            reason=grown.reason.astype(np.int8),
            good=grown.growth >= GOOD_GROWTH,
            days_to_end=quantiles_of_years(grown.harvest_end - grown.emergence, (0.5,))[..., 0],
            drawn=grown.drawn,
            chosen=_chosen(plan, counts, sites),
        )

    return sites.once(("swept", replace(plan, start=_ANY_START), with_band), sweep)


def _chosen(plan: Plan, counts: Counts, sites: FilledSites) -> Choice:
    if plan.crop.is_perennial:  # a perennial has one start
        day = 1.0 if counts.known[0] else np.nan
        years = float(counts.block_harvested.sum()), float(counts.block_known.sum())
        stable = np.where(np.arange(DAYS) == 0, 1.0, 0.0)
        return Choice(day, day, day, -1, *years, stable, NO_OTHERS)
    return choose_dates(
        counts.share,
        counts.growth,
        counts.yield_index,
        counts.harvest_day[:, HARVEST_LEVELS.index(0.5)],
        Blocks(*(getattr(counts, name) for name in BLOCK_COUNTS)),
        *turns_of_year(sites),
        needs_winter=needs_winter(plan.crop),
        is_cool=plan.crop.season == "cool",
        is_warm=lives_one_summer(plan.crop),
    )


def _on_every_day(plan: Plan, counts: tuple[np.ndarray, ...]) -> tuple[np.ndarray, ...]:
    """Counts of a perennial's one start on the axis of all days, unknown on the others."""
    if not plan.crop.is_perennial:
        return counts
    padded = []
    for values in counts:
        empty = 0 if np.issubdtype(values.dtype, np.integer) else np.nan
        wide = np.full((DAYS, *values.shape[1:]), empty, dtype=values.dtype)
        wide[0] = values[0]
        padded.append(wide)
    return tuple(padded)
