"""Years of each outcome from each start date, and what their harvests are worth."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from climwin.core.draws import Counted, count_over_draws
from climwin.core.seasons import DAYS
from climwin.planning.grown import HARVEST_LEVELS, Grown, quantiles_of_years
from climwin.planning.growth import GOOD_GROWTH, HARVEST, OPEN, REASONS
from climwin.planning.selection import circular_mean, simultaneous_band, sums_by_block
from climwin.planning.site import GROWN_DRAWS, Site

BLOCK_COUNTS = ("block_harvested", "block_known", "block_worth", "block_growth")
"""Counts of `sweep_plans` in each block of years, see `climwin.planning.selection`."""

USUAL_LIFE = 100
"""Days from start to harvest for a plan without a harvest in most years (common practice)."""


class Counts(NamedTuple):
    """Years of each outcome from each start, and what a harvest is worth; shape (start_days,).

    Some have a second axis, see `SECOND_AXES`. ``harvest_day`` counts from the start.
    """

    harvested: np.ndarray
    known: np.ndarray
    good: np.ndarray
    unknown: np.ndarray
    leaning: np.ndarray
    share: np.ndarray
    worth: np.ndarray
    good_share: np.ndarray
    good_worth: np.ndarray
    growth: np.ndarray
    yield_index: np.ndarray
    days_outdoors: np.ndarray
    harvest_day: np.ndarray
    failed_by: np.ndarray
    failed_share: np.ndarray
    block_harvested: np.ndarray
    block_known: np.ndarray
    block_worth: np.ndarray
    block_growth: np.ndarray
    band_low: np.ndarray
    band_high: np.ndarray
    harvest_per_degree: np.ndarray


WHOLE_COUNTS = ("harvested", "known", "good", "unknown", "leaning", "failed_by")
"""Fields of `Counts` that are whole numbers."""

SECOND_AXES = {
    "harvest_day": "quantile",
    "failed_by": "reason",
    "failed_share": "reason",
    **dict.fromkeys(BLOCK_COUNTS, "block"),
}
"""Dimension of the second axis of some fields of `Counts`: `HARVEST_LEVELS`, `REASONS`, and the
blocks of years of `climwin.planning.selection`."""


def count_years(grown: Grown, site: Site, *, with_band: bool = True) -> Counts:
    """Count the years of a plan's lives at a site, start by start; `with_band` as `sweep_plans`."""
    seasons, start_days = grown.reason.shape
    # Outcomes by start day, in one count: open, harvest, and each reason.
    place = np.arange(start_days) * (len(REASONS) - OPEN) + (grown.reason - OPEN)
    counts = np.bincount(place.ravel(), minlength=start_days * (len(REASONS) - OPEN))
    by_outcome = counts.reshape(start_days, -1)
    unknown, harvested = by_outcome[:, 0], by_outcome[:, HARVEST - OPEN]
    failed_by = by_outcome[:, -OPEN:]
    known, is_good = seasons - unknown, grown.growth >= GOOD_GROWTH
    odds = _odds_of_starts(grown, grown.reason == HARVEST, "harvested")
    good_odds = _odds_of_starts(grown, is_good, "good")
    by_year = _by_year(grown)
    growth, made = _over_draws(grown, by_year)
    begun = np.fmax(grown.emergence, grown.set_out)
    band_low = band_high = np.full(start_days, np.nan)
    if with_band:
        band_low, band_high = simultaneous_band(by_year.harvested, by_year.answered)
    return Counts(
        harvested=harvested,
        known=known,
        good=is_good.sum(axis=0),
        unknown=unknown,
        leaning=odds.leaning,
        share=odds.share,
        worth=odds.worth,
        good_share=good_odds.share,
        good_worth=good_odds.worth,
        growth=growth,
        yield_index=made,
        days_outdoors=quantiles_of_years(grown.harvest_begin - begun, (0.5,))[..., 0],
        harvest_day=_quantiles_over_draws(grown),
        failed_by=failed_by,
        failed_share=_failed_share(grown, failed_by),
        block_harvested=sums_by_block(by_year.harvested),
        block_known=sums_by_block(by_year.answered.astype(float)),
        block_worth=sums_by_block(by_year.made),
        block_growth=sums_by_block(by_year.growth),
        band_low=band_low,
        band_high=band_high,
        harvest_per_degree=harvest_per_degree(grown, site),
    )


def harvest_per_degree(grown: Grown, site: Site) -> np.ndarray:
    """By how much the share of harvests rises with each degC between start and harvest.

    The slope of a straight line through the known years: 1 for a harvest and 0 for a failure, on
    the mean temperature of as many days as the plan stands in a middling year. Neighbouring dates
    are averaged, where there are all.

    Returns
    -------
    ndarray, shape (start_days,)
        Missing where no year is known. [1/degC]
    """
    known = grown.reason != OPEN
    days = grown.harvest_quantiles[:, HARVEST_LEVELS.index(0.5)]
    length = np.where(np.isfinite(days), days, USUAL_LIFE).astype(int)
    total = site.sum_of_means
    start = np.clip(grown.place, 0, len(site))
    end = np.clip(grown.place + length, 0, len(site))
    warmth = (total[end] - total[start]) / np.maximum(end - start, 1)
    count = np.maximum(known.sum(axis=0), 1)
    apart = np.where(known, warmth - (warmth * known).sum(axis=0) / count, 0.0)
    squares = (apart**2).sum(axis=0)
    slope = (apart * (grown.reason == HARVEST)).sum(axis=0) / np.where(squares > 0, squares, 1.0)
    slope = np.where(known.any(axis=0), slope, np.nan)
    return circular_mean(slope) if len(slope) == DAYS else slope


def _odds_of_starts(grown: Grown, happened: np.ndarray, outcome: str) -> Counted:
    """Years of each start counted over draws; most starts depend on none.

    `happened` has shape (seasons, start_days), and `outcome` is its name in a `Drawn`.
    """
    known = (grown.reason != OPEN).sum(axis=0)
    share = np.where(known > 0, happened.sum(axis=0) / np.maximum(known, 1), np.nan)
    counted = Counted(share, known.copy(), np.zeros_like(known), known.astype(float))
    if grown.drawn is None:
        return counted
    columns, column = np.unique(grown.drawn.start, return_inverse=True)
    drawn = np.full((len(columns), len(happened), GROWN_DRAWS), np.nan)
    drawn[column, grown.drawn.season] = getattr(grown.drawn, outcome)
    of_known = np.where(grown.reason[:, columns] == OPEN, np.nan, happened[:, columns])
    some = count_over_draws(of_known.T, drawn)
    for values, new in zip(counted, some, strict=True):
        values[columns] = new
    return counted


class _ByYear(NamedTuple):
    """Contribution of each start of each year, shape (seasons, start_days); 0 without an answer.

    A year that is drawn counts with the mean of its draws.
    """

    harvested: np.ndarray
    growth: np.ndarray
    made: np.ndarray
    answered: np.ndarray


def _by_year(grown: Grown) -> _ByYear:
    known, harvested = grown.reason != OPEN, grown.reason == HARVEST
    weight, growth = harvested.astype(float), np.where(harvested, grown.growth, 0)
    made = np.where(known, np.nan_to_num(grown.yield_index), 0)
    if grown.drawn is None:
        return _ByYear(weight, growth, made, known)
    drawn = grown.drawn
    chance = drawn.harvested.mean(axis=-1)  # missing where a draw has no answer
    answered, told = known.copy(), ~np.isnan(chance)
    place = drawn.season[told], drawn.start[told]
    answered[place] = True
    weight[place] = chance[told]
    growth[place] = np.where(drawn.reason == HARVEST, drawn.growth, 0).mean(axis=-1)[told]
    made[place] = np.nan_to_num(drawn.yield_index).mean(axis=-1)[told]
    return _ByYear(weight, growth, made, answered)


def _over_draws(grown: Grown, years: _ByYear) -> tuple[np.ndarray, np.ndarray]:
    """Mean growth of the harvests, and mean yield of all years that have an answer, by start."""
    made = years.made.sum(axis=0) / np.maximum(years.answered.sum(axis=0), 1)
    if grown.drawn is None:
        return _mean_of(grown.growth), made
    harvests = years.harvested.sum(axis=0)
    mean = years.growth.sum(axis=0) / np.where(harvests > 0, harvests, 1)
    return np.where(harvests > 0, mean, np.nan), made


def _mean_of(values: np.ndarray) -> np.ndarray:
    """Mean over the years of what is known, missing where nothing is."""
    missing = np.isnan(values)
    count = len(values) - missing.sum(axis=0)
    total = np.where(missing, 0, values).sum(axis=0)
    return np.where(count > 0, total / np.maximum(count, 1), np.nan)


def _quantiles_over_draws(grown: Grown) -> np.ndarray:
    """`Grown.harvest_quantiles`, the mean of what each draw of the gaps makes them."""
    out, ripe = grown.harvest_quantiles, grown.harvest_begin
    if grown.drawn is None:
        return out
    out = out.copy()
    columns = np.unique(grown.drawn.start)
    drawn = grown.drawn.laid_out(grown.drawn.harvest_begin, ripe.shape)[:, columns]
    each = np.where(np.isnan(drawn), ripe[:, columns, None], drawn)
    by_draw = quantiles_of_years(each.reshape(len(ripe), -1), HARVEST_LEVELS)
    by_draw = by_draw.reshape(len(columns), -1, len(HARVEST_LEVELS))
    there = np.isfinite(by_draw)
    total = np.where(there, by_draw, 0.0).sum(axis=1)
    out[columns] = np.where(there.any(axis=1), total / np.maximum(there.sum(axis=1), 1), np.nan)
    return out


def _failed_share(grown: Grown, failed_by: np.ndarray) -> np.ndarray:
    """Share of the years that each reason fails, over draws, shape (start_days, reasons).

    `failed_by` holds the known years that each fails, in the same shape. With the share of harvests
    it adds up to 1. Missing where no year has an answer.
    """
    failed = failed_by.astype(float)
    years = (grown.reason != OPEN).sum(axis=0).astype(float)
    if grown.drawn is not None:
        drawn = grown.drawn
        has_answer = (drawn.reason != OPEN).all(axis=1)
        np.add.at(years, drawn.start[has_answer], 1.0)
        start, draw = np.nonzero(has_answer[:, None] & (drawn.reason >= 0))
        reasons = drawn.reason[start, draw]
        np.add.at(failed, (drawn.start[start], reasons), 1.0 / drawn.reason.shape[1])
    with np.errstate(divide="ignore", invalid="ignore"):
        return np.asarray(failed / years[:, None])
