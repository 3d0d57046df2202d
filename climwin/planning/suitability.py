"""Which crops suit a place: every crop, each way of growing it, at its best dates."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import NamedTuple

import numpy as np
import xarray as xr

from climwin.climate.level import in_climate
from climwin.core.errors import InputError
from climwin.core.odds import ODDS_NAMES
from climwin.core.provenance import level_error_of, provenance
from climwin.core.schema import apply, check_choice
from climwin.core.seasons import DAYS
from climwin.core.stats import LEVEL
from climwin.crops.catalogue import crop, crop_names
from climwin.crops.model import Crop
from climwin.planning.dates import (
    LEAST_ODDS,
    SEASONS,
    Span,
    extremes,
    leading_span,
    needs_winter,
    recommended_spans,
)
from climwin.planning.evaluate import BLOCK_COUNTS, sweep_plans, with_elsewhere
from climwin.planning.growth import NO_BED, REASONS, UP_COLD, UP_HOT
from climwin.planning.plan import OUTDOORS, Plan, usual_cover
from climwin.planning.selection import (
    Blocks,
    best_run,
    best_start,
    circular_mean,
    judged_elsewhere,
)
from climwin.shelter.covers import COVERS

LIMITS = {
    "no bed workable": "the soil is too cold to work",
    "did not come up: too cold": "the soil is too cold for it to come up",
    "did not come up: too hot": "the soil is too hot for it to come up",
    "killed by cold": "cold nights kill it",
    "chilled": "cool weather stunts it",
    "fruit did not set": "it is too cold or too hot for its fruit to set",
    "too hot": "it gets too hot",
    "bolted": "it bolts",
    "cold need not met": "the winter is too mild for it",
    "day length": "the days do not get long enough for bulbs",
    "not ripe before the end": "it is not ripe before the season ends",
    "killed inside: too cold": "the cover does not keep it warm enough",
    "killed inside: scorched": "it scorches under the cover",
    "winter kill": "the winter kills it",
    "buds killed by frost": "frost kills its buds",
    "": "",
}
"""What limits a crop, by the reason that fails most of its years."""

_ANY_DAY = "01-01"


def rank_crops(
    daily: xr.Dataset,
    crops: Sequence[Crop] | None = None,
    *,
    ways: Sequence[str] | None = None,
    climate: str = "record",
) -> xr.Dataset:
    """Odds of every crop at its best dates, by ways of growing it, and what limits it.

    Parameters
    ----------
    daily : Dataset, dims (..., time)
        Needs ``tmin`` and ``tmax`` [degC], and its latitude.
    crops : sequence of Crop, optional
        The whole catalogue where it is left out.
    ways : sequence of str, optional
        Covers of `covers.COVERS`: ``"none"`` is sown in place; the others are for crops that have
        usual weeks under cover, and raise them for so long. Left out: in place, and in the crop's
        usual cover, see `plan.usual_cover`.
    climate : {"record", "today"}
        The years as they were, or moved to today's level, see `todays_climate`.

    Returns
    -------
    Dataset, dims (..., plan)
        By ``crop``, ``cover``, ``weeks`` and ``propagation``. ``rank``: 1 for the best
        ``elsewhere_share`` of harvests, of equal ones for the better growth. ``first_day`` to
        ``last_day``: dates of the season that `leading_span` puts first, as `recommended_dates`
        does of one variety; where no season has odds of 0.8, those that are near the best whatever
        the years, see `best_dates`. ``earliness`` of the variety: main, or early where that brings
        the season forward. Of ``start_day``, the best of them: ``harvested`` of ``known`` years,
        their ``share``, the ``odds`` with ``low`` to ``high`` and ``next_low`` to ``next_high`` as
        for `harvest_odds`, ``good_share``, ``growth``; ``elsewhere_*``, the share of dates chosen
        without the years that judge them, see `sweep_start_dates`; ``reason``, what failed most of
        the others, and ``limit``, the same in words.

    Raises
    ------
    ValueError
        If a way is no cover, or no crop can be grown in any of them.

    Examples
    --------
    >>> import climwin as cw
    >>> daily = cw.read_daily(cw.sample())
    >>> ranked = cw.rank_crops(daily, [cw.crop("pea"), cw.crop("chayote")])
    >>> ranked["crop"].values.tolist(), ranked["rank"].values.tolist()
    (['pea', 'chayote'], [1, 2])
    """
    for way in ways or ():
        check_choice("ways", way, COVERS)
    chosen = [crop(name) for name in crop_names()] if crops is None else list(crops)
    plans = [plan for each in chosen for plan in _plans(each, ways)]
    if not plans:
        given = ", ".join(ways or ()) or "none"
        msg = (
            f"Of {len(chosen)} crops none can be grown in the ways {given}. Give crops that are "
            f"raised under cover, or add the way {OUTDOORS!r}, sown in place."
        )
        raise InputError(msg, parameter="ways")
    daily = in_climate(daily, climate)
    turns = extremes(daily)
    best = _at_best(sweep_plans(plans, daily), plans, turns).compute()
    best["earliness"] = xr.full_like(best["season"], "main", dtype=object)
    # As in a calendar, an early variety stands in where a main one is not safe in spring.
    late = (best["season"] != 0).any([dim for dim in best["season"].dims if dim != "plan"])
    tried = [n for n in np.flatnonzero(late.values) if _may_be_early(plans[n].crop)]
    if tried:
        early = [replace(plans[n], earliness="early") for n in tried]
        instead = _at_best(sweep_plans(early, daily), early, turns).compute()
        instead["earliness"] = xr.full_like(instead["season"], "early", dtype=object)
        main = best.isel(plan=tried)
        sooner = (main["season"] < 0) | (instead["season"] < main["season"])
        taken = instead.where((instead["season"] >= 0) & sooner, main)
        others = [n for n in range(len(plans)) if n not in tried]
        both = xr.concat([best.isel(plan=others), taken], "plan")
        best = both.isel(plan=np.argsort(np.array([*others, *tried])))
    best = best.drop_vars("season")
    for name in ("first_day", "last_day", "start_day"):
        best[name].attrs["units"] = "day of the year"
    return (
        _ranked(best)
        .assign_coords(
            crop=("plan", [plan.crop.name for plan in plans]),
            cover=("plan", [plan.cover for plan in plans]),
            weeks=("plan", [plan.weeks_under_cover for plan in plans]),
            propagation=("plan", [plan.crop.propagation for plan in plans]),
        )
        .assign_attrs(provenance(daily), interval=LEVEL)
    )


def _plans(crop: Crop, ways: Sequence[str] | None) -> list[Plan]:
    weeks = crop.weeks_under_cover
    ways = (OUTDOORS, usual_cover(crop)) if ways is None else ways
    in_place = [Plan(crop, _ANY_DAY) for way in ways if way == OUTDOORS]
    raised = [Plan(crop, _ANY_DAY, weeks.usual, way) for way in ways if weeks and way != OUTDOORS]
    return in_place + raised


class _Place(NamedTuple):
    """What decides the seasons of a plan, beside what came of its dates."""

    life_days: np.ndarray
    """Days from each date to the harvest in a middling year, shape (365,)."""
    coldest: int
    warmest: int

    def spans(
        self,
        share: np.ndarray,
        growth: np.ndarray,
        worth: np.ndarray,
        least_odds: float = LEAST_ODDS,
    ) -> list[Span]:
        """Spans of recommended dates."""
        return recommended_spans(
            share,
            growth,
            np.nan_to_num(worth),
            self.life_days,
            self.coldest,
            self.warmest,
            least_odds=least_odds,
        )

    def judged(self, blocks: Blocks, spans: Sequence[Span]) -> list[tuple[float, float]]:
        """Of each season's best date, chosen without the years that judge it: harvests, and years.

        By lower odds where the other years leave a season without good ones.
        """
        days: dict[str, list[int]] = {span.season: [] for span in spans}
        for block in range(blocks.known.shape[-1]):
            others = blocks.without(block)
            growth = others.growth / np.maximum(others.harvested, 1e-9)
            best = {span.season: -1 for span in spans}
            for least in (LEAST_ODDS, LEAST_ODDS / 2, 0.0):
                for each in self.spans(others.share, growth, others.mean_worth, least):
                    if best.get(each.season) == -1:
                        best[each.season] = each.best
                if -1 not in best.values():
                    break
            for span in spans:
                found = best[span.season]
                days[span.season].append(span.best if found == -1 else found)
        return [judged_elsewhere(blocks, np.array(days[span.season])) for span in spans]


def _season_of(
    place: _Place,
    share: np.ndarray,
    growth: np.ndarray,
    worth: np.ndarray,
    blocks: Blocks,
    *,
    winter: bool,
) -> tuple[Span, tuple[float, float]] | None:
    """The season that leads, and how its best date is judged; none where no season is safe."""
    spans = place.spans(share, growth, worth)
    if not spans:
        return None
    judged = np.array(place.judged(blocks, spans))
    best = [span.best for span in spans]
    crop = np.nan_to_num(worth)[best] / circular_mean(np.nan_to_num(worth)).max()
    elsewhere = judged[:, 0] / np.maximum(judged[:, 1], 1)
    leading = leading_span(elsewhere, crop, growth[best], needs_winter=winter)
    return spans[leading], (float(judged[leading, 0]), float(judged[leading, 1]))


def _may_be_early(crop: Crop) -> bool:
    """Whether an early variety may bring a crop's season forward."""
    return not crop.is_perennial and not needs_winter(crop)


def _at_best(swept: xr.Dataset, plans: Sequence[Plan], extremes: xr.Dataset) -> xr.Dataset:
    """Each plan's sweep at its best start date, with the run of dates that it belongs to.

    ``season`` is the number in `SEASONS` of those that lead, -1 where none is safe.
    """

    def run(
        worth: np.ndarray,
        known: np.ndarray,
        failed: np.ndarray,
        stable: np.ndarray,
        share: np.ndarray,
        growth: np.ndarray,
        life_days: np.ndarray,
        elsewhere_harvested: float,
        elsewhere_known: float,
        coldest: int,
        warmest: int,
        winter: bool,
        has_dates: bool,
        *counts: np.ndarray,
    ) -> tuple[float, ...]:
        elsewhere = elsewhere_harvested, elsewhere_known
        if not (known > 0).any():
            return np.nan, np.nan, 0, *elsewhere, -1
        value = np.where(known > 0, np.nan_to_num(worth), -1.0)
        if value.max() <= 0:
            # It never comes to a harvest: ask what ends it once it is sown in season.
            unborn = 2 * failed[:, NO_BED] + failed[:, UP_COLD] + failed[:, UP_HOT]
            unborn = np.where(known > 0, unborn / known.clip(1), np.inf)
            return np.nan, np.nan, int(unborn.argmin()), *elsewhere, -1
        if has_dates:
            place = _Place(life_days, int(coldest), int(warmest))
            blocks = Blocks(*counts)
            found = _season_of(place, share, growth, worth, blocks, winter=bool(winter))
            if found is not None:
                span, judged = found
                return span.first + 1, span.last + 1, span.best, *judged, SEASONS.index(span.season)
        first, days = best_run(worth, known > 0, stable=stable)
        best = best_start(worth, known > 0, stable)
        return first + 1, (first + days - 1) % DAYS + 1, best, *elsewhere, -1

    on_days, by_block = ["start_day"], ["start_day", "block"]
    harvest = swept["harvest_day"].sel(quantile=0.5, drop=True)
    first, last, best, hits, years, season = apply(
        run,
        swept["yield_index"],
        swept["known"],
        swept["failed_by"],
        swept["stable"],
        swept["share"],
        swept["growth"],
        harvest - swept["start_day"],
        swept["elsewhere_harvested"],
        swept["elsewhere_known"],
        extremes["coldest"],
        extremes["warmest"],
        xr.DataArray([needs_winter(plan.crop) for plan in plans], dims="plan"),
        xr.DataArray([not plan.crop.is_perennial for plan in plans], dims="plan"),
        *(swept[name] for name in BLOCK_COUNTS),
        core=[
            *(on_days, on_days, ["start_day", "reason"], on_days, on_days, on_days, on_days),
            *([], [], [], [], [], []),
            *[by_block] * len(BLOCK_COUNTS),
        ],
        out=[[]] * 6,
        dtypes=[float, float, int, float, float, int],
        each=True,
    )
    names = ("harvested", "known", "share", *ODDS_NAMES, "good_share", "growth")
    out = xr.Dataset({name: _on_day(swept[name], best) for name in names})
    per_degree = _on_day(swept["harvest_per_degree"], best)
    out = with_elsewhere(out, hits, years, per_degree * level_error_of(swept))
    failed = _on_day(swept["failed_by"], best, "reason")
    reason = apply(
        lambda code, years: np.where(years > 0, np.array(REASONS)[code], ""),
        failed.argmax("reason"),
        failed.max("reason"),
        core=[[], []],
        dtypes=[np.array(REASONS).dtype],
    )
    out["reason"] = reason
    out["limit"] = apply(
        np.vectorize(LIMITS.__getitem__, otypes=[np.array(list(LIMITS.values())).dtype]),
        reason,
        core=[[]],
        dtypes=[np.array(list(LIMITS.values())).dtype],
    )
    known = out["known"] > 0
    out["first_day"], out["last_day"], out["season"] = first, last, season
    out["start_day"] = (best + 1).where(known)
    return out


def _on_day(swept: xr.DataArray, day: xr.DataArray, *others: str) -> xr.DataArray:
    """Values of one start date, counted from 0, which differs from plan to plan."""
    taken: xr.DataArray = apply(
        lambda values, at: values[at],
        swept,
        day,
        core=[["start_day", *others], []],
        out=[list(others)],
        dtypes=[swept.dtype],
        each=True,
    )
    return taken


def _ranked(found: xr.Dataset) -> xr.Dataset:
    found["rank"] = apply(
        lambda growth, share: np.lexsort((growth, share)).argsort() + 1,
        -found["growth"].fillna(-1),
        -found["elsewhere_share"].fillna(-1),
        core=[["plan"]] * 2,
        out=[["plan"]],
        dtypes=[int],
        each=True,
    )
    return found
