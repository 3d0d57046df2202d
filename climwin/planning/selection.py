"""Start dates chosen from some years and judged on others.

A date that did best in the years of a record owes some of that to luck, so those years overstate
its odds by several points. Therefore the record is cut into blocks of consecutive years: the date
is chosen from all blocks but one, and judged on the one left out. This module has the kernels;
`climwin.planning.sweep` labels their results.

References
----------
.. [1] M. Stone, "Cross-validatory choice and assessment of statistical predictions," Journal of the
   Royal Statistical Society B, vol. 36, pp. 111-147, 1974 (from memory).
.. [2] D. R. Roberts et al., "Cross-validation strategies for data with temporal, spatial,
   hierarchical, or phylogenetic structure," Ecography, vol. 40, pp. 913-929, 2017 (from memory):
   blocks, since years follow each other.
.. [3] P. Burman, "A comparative study of ordinary cross-validation, v-fold cross-validation and the
   repeated learning-testing methods," Biometrika, vol. 76, pp. 503-514, 1989 (from memory); the
   adjusted estimate is equation 6.48 of A. C. Davison and D. V. Hinkley, "Bootstrap Methods and
   their Application," Cambridge University Press, 1997 (from memory).
"""

from __future__ import annotations

from collections.abc import Callable
from functools import lru_cache
from typing import NamedTuple

import numpy as np

from climwin.core.runs import true_runs
from climwin.core.seasons import DAYS
from climwin.core.stats import COUNTED_YEAR, LEVEL, wilson, worth_at_level, z_of

BLOCK_YEARS = 5
"""Years in a block, after which a year has little in common with the first (common practice)."""
LEAST_BLOCKS = 5
"""Fewest blocks; a short record has shorter ones, so that most years are left to choose from."""
ELSEWHERE_WORTH = 0.7
"""How much a year counts in the interval of a share that is judged on years left out.

The date chosen differs from block to block, and a block left out of one choice takes part in all
others, so the share scatters more than one of as many independent years. In simulations of 10 to 40
years, with a flat or a peaked curve of odds, intervals from 0.7 of the years hold the truth 0.87 to
0.98 of the time (median 0.92); those from all years do so 0.74 to 0.94 of the time."""
FEWER_YEARS = 0.5
"""How much of Burman's adjustment is made for a choice from fewer years, see `judged_best`.

In full it is right where the odds rise to a peak, which more years find more nearly. Where many
dates do equally well, fewer years choose as good a date, and none is due. So half is never far off:
on crops of six real records, whose years were shuffled, it leaves a bias of +0.6 to +0.9 points at
10 to 30 years, where none leaves -0.1 to +0.3 and all of it +1.0 to +1.5; on simulated records with
a trend it leaves -2.4 to -1.6 at 10 to 20 years, where none leaves -3.0 to -2.3. Its root mean
square error is smaller than that of none on both (``tests/odds``)."""
NEAR_THE_BEST = 0.1
"""Share of the best expected crop by which a date may fall short and still count as good."""
SMOOTHED_OVER = 15
"""Days over which values are averaged, so that no lucky day is recommended."""
_RESAMPLES, _AT_ONCE = 500, 10


def blocks_of(seasons: int) -> np.ndarray:
    """Block that each year belongs to, counted from 0, shape (seasons,)."""
    length = max(1, min(BLOCK_YEARS, seasons // LEAST_BLOCKS))
    # Years left over at the end join the last whole block.
    return np.minimum(np.arange(seasons) // length, seasons // length - 1)


def block_count(seasons: int) -> int:
    """Number of blocks in a record of so many years."""
    return int(blocks_of(seasons)[-1]) + 1


def sums_by_block(values: np.ndarray) -> np.ndarray:
    """Sum over the years of each block; shape (seasons, start_days) to (start_days, blocks)."""
    block = blocks_of(len(values))
    first = np.flatnonzero(np.diff(block, prepend=-1))
    return np.add.reduceat(np.where(np.isnan(values), 0.0, values), first, axis=0).T


# --- runs of dates ------------------------------------------------------------------------


def circular_mean(values: np.ndarray, width: int = SMOOTHED_OVER) -> np.ndarray:
    """Mean over `width` days around each day of the year, missing days left out.

    Shape (..., 365) to (..., 365).
    """
    window = values[..., _days_around(width)]
    if not np.isnan(values).any():
        return np.asarray(window.sum(axis=-1) / width)
    known = ~np.isnan(window)
    count = known.sum(axis=-1)
    total = np.where(known, window, 0).sum(axis=-1)
    return np.where(count > 0, total / np.maximum(count, 1), np.nan)


@lru_cache
def _days_around(width: int) -> np.ndarray:
    """Days of the year around each one, shape (365, width)."""
    return (np.arange(DAYS)[:, None] + np.arange(width) - width // 2) % DAYS


def runs_of_year(mask: np.ndarray) -> list[tuple[int, int]]:
    """First day and length of each run of true days on the circle of the year, shape (365,)."""
    if mask.all():
        return [(0, DAYS)]
    shift = int(mask.argmin())  # begin on a day outside every run
    begin, end = true_runs(np.roll(mask, -shift))
    return list(zip(((begin + shift) % DAYS).tolist(), (end - begin).tolist(), strict=True))


def near_best(
    worth: np.ndarray, known: np.ndarray, within: float = NEAR_THE_BEST
) -> tuple[np.ndarray, int]:
    """Which dates come near the best, and the best of them.

    Parameters
    ----------
    worth : ndarray, shape (365,)
        Expected crop by start date, in any unit.
    known : ndarray of bool, shape (365,)
        Dates with a known year.
    within : float
        How far below the best a date may lie, as a share of it.
    """
    value = np.where(known, np.nan_to_num(worth), -1.0)
    best = int(value.argmax())
    if value[best] <= 0:  # it never comes to a harvest: no run is better than another
        return np.arange(DAYS) == best, best
    return value >= (1 - within) * value[best] - 1e-9, best


def best_run(
    worth: np.ndarray,
    known: np.ndarray,
    within: float = NEAR_THE_BEST,
    stable: np.ndarray | None = None,
) -> tuple[int, int]:
    """First day, counted from 0, and length of the run of dates near the best.

    Parameters
    ----------
    worth, known, within
        As for `near_best`.
    stable : ndarray, shape (365,), optional
        Share of the blocks without which each date is still among the best. Only those that are so
        whichever block is left out, or else the most stable, make up the run.
    """
    near, best = near_best(worth, known, within)
    if stable is not None:
        near = near & (stable >= stable[near].max() - 1e-9)
        best = int(np.where(near, np.nan_to_num(worth), -1.0).argmax())
    return _run_with(near, best)


def _run_with(mask: np.ndarray, day: int) -> tuple[int, int]:
    """The run of true days, as `runs_of_year` gives them, that has a day."""
    if mask.all():
        return 0, DAYS
    from_day = np.roll(mask, -day)
    before = int(from_day[::-1].argmin())
    return (day - before) % DAYS, before + int(from_day.argmin())


def best_start(worth: np.ndarray, known: np.ndarray, stable: np.ndarray | None = None) -> int:
    """Day, counted from 0, of the best run that has the best fortnight around it."""
    first, days = best_run(worth, known, stable=stable)
    return _best_of_run(first, days, _around(worth, known))


def _around(worth: np.ndarray, known: np.ndarray) -> np.ndarray:
    return np.nan_to_num(circular_mean(np.where(known, np.nan_to_num(worth), np.nan)))


def _best_of_run(first: int, days: int, around: np.ndarray) -> int:
    run = (first + np.arange(days)) % DAYS
    return int(run[around[run].argmax()])


# --- judged on years left out -------------------------------------------------------------


class Blocks(NamedTuple):
    """What came of each start date in each block of years, shape (365, blocks)."""

    harvested: np.ndarray
    """Years with a harvest."""
    known: np.ndarray
    """Years that are known."""
    worth: np.ndarray
    """Sum of the yields of the known years. [MJ m-2]"""
    growth: np.ndarray
    """Sum of the growth of the harvests."""

    def without(self, block: int) -> Blocks:
        """What came of each start date in all other years together, shape (365,) each."""
        return Blocks(*(each.sum(-1) - each[..., block] for each in self))

    def without_each(self) -> Blocks:
        """What came of each start date without each block in turn, shape (blocks, 365) each."""
        return Blocks(*((each.sum(-1, keepdims=True) - each).T for each in self))

    @property
    def share(self) -> np.ndarray:
        """Share of harvests of the known years; 0 where none is known."""
        return np.asarray(self.harvested / np.maximum(self.known, 1))

    @property
    def mean_worth(self) -> np.ndarray:
        """Expected crop of the known years."""
        return np.asarray(self.worth / np.maximum(self.known, 1))


def chosen_elsewhere(blocks: Blocks) -> tuple[np.ndarray, np.ndarray]:
    """The date that is best without each block, and how stable each date is.

    Returns
    -------
    day : ndarray of int, shape (blocks,)
        Counted from 0.
    stable : ndarray, shape (365,)
        Share of the blocks without which a date comes near the best.
    """
    days, near = [], []
    others = blocks.without_each()
    is_known = others.known > 0
    around = _around(others.mean_worth, is_known)
    for worth, known, smooth in zip(others.mean_worth, is_known, around, strict=True):
        is_near, best = near_best(worth, known)
        first, length = _run_with(is_near, best)
        days.append(_best_of_run(first, length, smooth))
        near.append(is_near)
    return np.array(days), np.mean(near, axis=0)


def judged_elsewhere(blocks: Blocks, day: np.ndarray) -> tuple[float, float]:
    """Harvests, and known years, of the date chosen without each block, in that block."""
    own = np.arange(len(day))
    return float(blocks.harvested[day, own].sum()), float(blocks.known[day, own].sum())


def judged_best(blocks: Blocks, day: np.ndarray, best: int) -> tuple[float, float]:
    """Harvests, and known years, of a best date, allowing for a choice from fewer years.

    The best date of fewer years is a little worse than that of all years, `best`. How much worse is
    seen where all years judge both; of that, `FEWER_YEARS` is added to the harvests [3]_.
    """
    hits, known = judged_elsewhere(blocks, day)
    share = np.asarray(blocks.harvested.sum(-1) / np.maximum(blocks.known.sum(-1), 1))
    of_best = float(known * share[best])
    worse = of_best - float(share[day] @ blocks.known[day, np.arange(len(day))])
    # The years that chose the best date praise it, so it is not lifted above what they say.
    return float(np.clip(hits + FEWER_YEARS * worse, 0, max(hits, of_best))), known


def elsewhere_interval(
    hits: np.ndarray,
    known: np.ndarray,
    *,
    error: np.ndarray | float = 0.0,
) -> tuple[np.ndarray, np.ndarray]:
    """Interval of the share of harvests from dates chosen without the years that judge them.

    Wilson's about the share, of `ELSEWHERE_WORTH` of the years; of fewer where the share has a
    standard `error` of its own, such as that of the level to which years were moved.
    """
    with np.errstate(divide="ignore", invalid="ignore"):
        share = hits / np.asarray(known, float)
        worth = worth_at_level(ELSEWHERE_WORTH * np.asarray(known, float), share, error**2)
        return wilson(worth * share, worth)


def judge_choice(blocks: Blocks, choose: Callable[[Blocks], int]) -> tuple[float, float]:
    """Harvests, and known years, of dates that `choose` picks, counted from 0, from other years."""
    days = [choose(blocks.without(block)) for block in range(blocks.known.shape[-1])]
    return judged_elsewhere(blocks, np.array(days))


# --- a band for the whole curve -----------------------------------------------------------


@lru_cache
def _multipliers(seasons: int) -> np.ndarray:
    """Random weights of the years in each resample, shape (resamples, seasons)."""
    return np.random.default_rng(0).normal(size=(_RESAMPLES, seasons))


def simultaneous_band(
    harvested: np.ndarray, known: np.ndarray, level: float = LEVEL
) -> tuple[np.ndarray, np.ndarray]:
    """Band that holds the whole curve of the odds by start date.

    Parameters
    ----------
    harvested, known : ndarray, shape (seasons, start_days)
        Which lives came to a harvest, and which are known.
    level : float
        Confidence that all dates lie inside, 0 to 1.

    Returns
    -------
    low, high : ndarray, shape (start_days,)
        Missing where no year is known.

    Notes
    -----
    The band is as wide as the largest deviation of any date, in standard errors of its own. That
    is read from resamples in which each year has a random weight, the same on all dates (the
    multiplier bootstrap's sup-t) [1]_. Neighbouring dates rise and fall together, so the band is
    much narrower than one for 365 independent dates. Consecutive years are alike, so each counts
    as `COUNTED_YEAR` of a year, and deviations grow by one over the root of it. Each date then gets
    the exact binomial interval [2]_ for a deviation as rare as that. In simulations the band holds
    the whole curve in 0.96 of records whose years are independent, and in 0.91 at a lag-one
    correlation of 0.3 (``tests/odds``).

    References
    ----------
    .. [1] J. L. Montiel Olea and M. Plagborg-Moller, "Simultaneous confidence bands: theory,
       implementation, and an application to SVARs," Journal of Applied Econometrics, vol. 34,
       pp. 1-17, 2019 (from memory).
    .. [2] C. J. Clopper and E. S. Pearson, "The use of confidence or fiducial limits illustrated in
       the case of the binomial," Biometrika, vol. 26, pp. 404-413, 1934 (from memory).
    """
    from scipy.special import betaincinv, ndtr

    hits, years = harvested.sum(axis=0).astype(float), known.sum(axis=0).astype(float)
    missing = years == 0
    counted = np.where(missing, 1.0, years)
    furthest = _largest_deviations(harvested - known * (hits / counted), hits, counted)
    reach = max(float(np.quantile(furthest, level)), z_of(level))
    tail = float(ndtr(-reach / np.sqrt(COUNTED_YEAR)))
    # Many dates have the same counts, so each pair of counts is worked out once.
    pairs, place = np.unique(np.stack([hits, counted]), axis=1, return_inverse=True)
    place = place.ravel()  # in NumPy 2.0 it has one axis more
    hits, counted = pairs
    some, rest = np.maximum(hits, 0.5), np.maximum(counted - hits, 0.5)
    low = np.where(hits > 0, betaincinv(some, counted - hits + 1, tail), 0.0)
    high = np.where(hits < counted, betaincinv(hits + 1, rest, 1 - tail), 1.0)
    return np.where(missing, np.nan, low[place]), np.where(missing, np.nan, high[place])


def _largest_deviations(residual: np.ndarray, hits: np.ndarray, counted: np.ndarray) -> np.ndarray:
    """Largest deviation of any start date in each resample, in standard errors.

    Parameters
    ----------
    residual : ndarray, shape (seasons, start_days)
        Each year's harvest less the share of harvests on that date; 0 where unknown.
    hits, counted : ndarray, shape (start_days,)
        Years with a harvest, of the years counted.

    Returns
    -------
    ndarray, shape (resamples,)
    """
    # One harvest and one failure are added, or dates on which all years agree would have no error.
    smoothed = (hits + 1) / (counted + 2)
    error = np.sqrt(smoothed * (1 - smoothed) * counted)
    # Dates on which all years agree do not deviate; many others do just as the date before.
    differs = (residual[:, 1:] != residual[:, :-1]).any(axis=0)
    deviates = np.insert(differs, 0, True) & (residual != 0).any(axis=0)
    deviates[0] |= not deviates.any()
    residual, error = residual[:, deviates], error[deviates]
    largest = np.empty(_RESAMPLES)
    # A few resamples at a time stay in the cache and on one thread; sharing so small a product
    # among threads takes longer than the product itself.
    for first in range(0, _RESAMPLES, _AT_ONCE):
        some = slice(first, first + _AT_ONCE)
        deviation = np.abs(_multipliers(len(residual))[some] @ residual) / error
        largest[some] = deviation.max(axis=-1)
    return largest
