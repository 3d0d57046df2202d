"""Which crops suit a place: every crop, each way of growing it, at its best dates."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
import xarray as xr

from climwin.climate.level import in_climate
from climwin.core.errors import InputError
from climwin.core.odds import ODDS_NAMES
from climwin.core.provenance import level_error_of, provenance, year_range
from climwin.core.schema import apply, check_choice
from climwin.core.stats import LEVEL
from climwin.crops.catalogue import crop, crop_names
from climwin.crops.model import Crop
from climwin.planning.growth import NO_BED, REASONS, UP_COLD, UP_HOT
from climwin.planning.plan import OUTDOORS, Plan, usual_cover
from climwin.planning.spans import needs_winter
from climwin.planning.sweep import at_day, sweep_plans, with_elsewhere
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
        By ``crop``, ``cover``, ``weeks`` and ``propagation``. ``rank``: 1 for the largest
        product of ``elsewhere_share`` and ``growth``, the value by which dates are chosen as well:
        a crop that always comes to a harvest, but a poor one, does not lead. ``first_day`` to
        ``last_day``: the dates of the season that leads, see `sweep_start_dates`. ``earliness`` of
        the variety: main, or early where that brings the season forward. Of ``start_day``, the best
        of them: ``harvested`` of ``known`` years, their ``share``, the ``odds`` with ``low`` to
        ``high`` and ``next_low`` to ``next_high`` as for `harvest_odds`, ``good_share``,
        ``growth``; ``elsewhere_*``, the share of dates chosen
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
    >>> ranked["crop"].values.tolist(), ranked["elsewhere_share"].round(2).values.tolist()
    (['pea', 'chayote'], [0.82, 0.0])
    >>> ranked["limit"].values.tolist()
    ['it gets too hot', 'it is not ripe before the season ends']
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
    best = _at_best(sweep_plans(plans, daily, with_band=False)).compute()
    best["earliness"] = xr.full_like(best["season"], "main", dtype=object)
    # As in a calendar, an early variety stands in where a main one is not safe in spring.
    late = (best["season"] != 0).any([dim for dim in best["season"].dims if dim != "plan"])
    tried = [n for n in np.flatnonzero(late.values) if _may_be_early(plans[n].crop)]
    if tried:
        early = [replace(plans[n], earliness="early") for n in tried]
        instead = _at_best(sweep_plans(early, daily, with_band=False)).compute()
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
        .assign_attrs(provenance(daily), interval=LEVEL, **year_range(daily))
    )


def _plans(crop: Crop, ways: Sequence[str] | None) -> list[Plan]:
    weeks = crop.weeks_under_cover
    ways = (OUTDOORS, usual_cover(crop)) if ways is None else ways
    in_place = [Plan(crop, _ANY_DAY) for way in ways if way == OUTDOORS]
    raised = [Plan(crop, _ANY_DAY, weeks.usual, way) for way in ways if weeks and way != OUTDOORS]
    return in_place + raised


def _may_be_early(crop: Crop) -> bool:
    """Whether an early variety may bring a crop's season forward."""
    return not crop.is_perennial and not needs_winter(crop)


def _at_best(swept: xr.Dataset) -> xr.Dataset:
    """Each plan's sweep at its best start date, with the run of dates that it belongs to.

    ``season`` is the number in `SEASONS` of those that lead, -1 where none is safe.
    """
    is_harvested = (swept["yield_index"].where(swept["known"] > 0) > 0).any("start_day")
    best = swept["best_day"].where(is_harvested, _sown_in_season(swept))
    names = ("harvested", "known", "share", *ODDS_NAMES, "good_share", "growth")
    out = xr.Dataset({name: at_day(swept[name], best) for name in names})
    per_degree = at_day(swept["harvest_per_degree"], best)
    hits, years = swept["elsewhere_harvested"], swept["elsewhere_known"]
    out = with_elsewhere(out, hits, years, per_degree * level_error_of(swept))
    failed = at_day(swept["failed_by"], best, "reason")
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
    out["first_day"] = swept["best_first"].where(is_harvested)
    out["last_day"] = swept["best_last"].where(is_harvested)
    out["season"] = swept["best_season"]
    out["start_day"] = best
    return out


def _sown_in_season(swept: xr.Dataset) -> xr.DataArray:
    """Start day on which most years come up, for a plan that never gives a harvest.

    It shows what ends the crop if it is sown in season.
    """

    def day(failed: np.ndarray, known: np.ndarray) -> float:
        if not (known > 0).any():
            return np.nan
        unborn = 2 * failed[:, NO_BED] + failed[:, UP_COLD] + failed[:, UP_HOT]
        return float(np.where(known > 0, unborn / known.clip(1), np.inf).argmin()) + 1

    found: xr.DataArray = apply(
        day,
        swept["failed_by"],
        swept["known"],
        core=[["start_day", "reason"], ["start_day"]],
        out=[[]],
        dtypes=[float],
        each=True,
    )
    return found


def _ranked(found: xr.Dataset) -> xr.Dataset:
    value = (found["elsewhere_share"] * found["growth"]).fillna(0)
    found["rank"] = apply(
        lambda value, share: np.lexsort((share, value)).argsort() + 1,
        -value,
        -found["share"].fillna(-1),
        core=[["plan"]] * 2,
        out=[["plan"]],
        dtypes=[int],
    )
    return found
