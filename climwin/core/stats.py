"""Statistics of small samples, as plain NumPy: quantiles, shares and slopes with their intervals.

Kernels only; the labelled wrappers are in the modules that use them.
"""

from __future__ import annotations

from functools import lru_cache
from statistics import NormalDist
from typing import NamedTuple

import numpy as np

from climwin.core.errors import DataGapError, Parameter
from climwin.core.schema import check_choice
from climwin.core.wording import say

LEVEL = 0.90
"""Confidence of every interval, unless another is given."""
LEAST_YEARS = 10
"""Least number of known years for odds, unless the user insists (common practice): fewer cannot
show what happens in one year of ten."""
FEW_YEARS = say("few_years")
"""Caution that goes with odds from fewer years."""

PLOTTING: dict[str, tuple[float, float]] = {
    "interpolated_inverted_cdf": (0.0, 1.0),
    "hazen": (0.5, 0.5),
    "weibull": (0.0, 0.0),
    "linear": (1.0, 1.0),
    "median_unbiased": (1 / 3, 1 / 3),
    "normal_unbiased": (3 / 8, 3 / 8),
}
"""Hyndman and Fan's continuous quantile types 4 to 9, by NumPy's names."""


def check_years(known: int, *, few_years: bool) -> None:
    """Refuse odds from few years, unless the user insists.

    Raises
    ------
    DataGapError
        The message says how many years there are, how many are needed, and how to go on.
    """
    if known < LEAST_YEARS and not few_years:
        msg = (
            f"Too few years for odds: the record has {known} known years, and {LEAST_YEARS} are "
            "needed. Take a longer record, or go on with "
        )
        raise DataGapError(msg, Parameter("few_years", True), " and take the odds as a hint.")


def z_of(level: float) -> float:
    """Half width of a normal interval with probability `level`, in standard deviations."""
    return NormalDist().inv_cdf(0.5 + level / 2)


def position(count: np.ndarray, share: np.ndarray | float, method: str) -> np.ndarray:
    """Position of a quantile among `count` sorted values, from 0; may lie outside them.

    Parameters
    ----------
    count : ndarray
        Number of values in each sample.
    share : float or ndarray
        Share of the sample below the quantile, 0 to 1.
    method : str
        One of `PLOTTING`.

    References
    ----------
    .. [1] R. J. Hyndman and Y. Fan, "Sample quantiles in statistical packages," The American
       Statistician, vol. 50, pp. 361-365, 1996.
    """
    check_choice("method", method, PLOTTING)
    if method == "linear":
        return (count - 1) * share
    a, b = PLOTTING[method]
    return count * share + (a + share * (1 - a - b)) - 1


def sorted_quantile(values: np.ndarray, count: np.ndarray, share: float, method: str) -> np.ndarray:
    """Quantile of samples sorted along the last axis, with NaN at the end.

    Equal to the last bit to ``numpy.nanquantile`` with the same method. A sample may have infinite
    values at either end; a quantile that depends on one is infinite.

    Parameters
    ----------
    values : ndarray, shape (..., n)
        Sorted samples.
    count : ndarray, shape (...)
        Number of values in each that are not NaN.
    share : float
        Share of the sample below the quantile, 0 to 1.
    method : str
        One of `PLOTTING`.

    Returns
    -------
    ndarray, shape (...)
        NaN where a sample is empty.
    """
    below, above, t = neighbours(count, share, method)
    low = np.take_along_axis(values, below[..., None], -1)[..., 0]
    high = np.take_along_axis(values, above[..., None], -1)[..., 0]
    return np.where(count > 0, between(low, high, t), np.nan)


def neighbours(
    count: np.ndarray, share: np.ndarray | float, method: str
) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Ranks on either side of a quantile, from 0, and its fraction of the way between them."""
    last = np.maximum(count - 1, 0)
    at = np.clip(position(count, share, method), 0, last)
    below = np.floor(at).astype(int)
    return below, np.minimum(below + 1, last), at - below


def between(low: np.ndarray, high: np.ndarray, t: np.ndarray) -> np.ndarray:
    """Linear interpolation from the nearer end, as NumPy's quantiles do it; `t` is below 1."""
    with np.errstate(invalid="ignore"):
        step = high - low
        out = np.where(t >= 0.5, high - step * (1 - t), low + step * t)
    out = np.where(np.isinf(low), low, np.where(np.isinf(high) & (t > 0), high, out))
    return np.where((t == 0) | (low == high), low, out)


@lru_cache
def bootstrap_ranks(count: int, resamples: int) -> np.ndarray:
    """Bootstrap resamples of a sorted sample, as positions in it.

    Each resample is sorted too, so a quantile can be read off without sorting again. The resamples
    are the same for every station and every call.

    Parameters
    ----------
    count : int
        Number of values in the sample.
    resamples : int
        Number of resamples.

    Returns
    -------
    ndarray of int, shape (resamples, count)
        Read only.
    """
    ranks = np.random.default_rng(0).integers(0, count, (resamples, count))
    ranks.sort(axis=-1)
    ranks.flags.writeable = False  # the same array serves every caller
    return ranks


def bootstrap_interval(estimates: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Percentile interval of an estimate over bootstrap resamples, 90 %.

    Parameters
    ----------
    estimates : ndarray, shape (resamples, ...)
        The estimate from each resample; may be infinite, not NaN.

    Returns
    -------
    low, high : ndarray, shape (...)

    References
    ----------
    .. [1] B. Efron and R. J. Tibshirani, "An Introduction to the Bootstrap," Chapman and Hall,
       1993, chapter 13 (from memory).
    """
    ranked = np.sort(estimates, axis=0)
    last = len(ranked) - 1
    low, high = round(last * (0.5 - LEVEL / 2)), round(last * (0.5 + LEVEL / 2))
    return ranked[low], ranked[high]


def wilson(
    hits: np.ndarray, count: np.ndarray, level: float = LEVEL
) -> tuple[np.ndarray, np.ndarray]:
    """Wilson's interval of a share.

    Parameters
    ----------
    hits, count : ndarray
        Number of successes, and of trials.
    level : float
        Confidence, 0 to 1.

    Returns
    -------
    low, high : ndarray
        Never beyond the share. NaN where `count` is 0.

    References
    ----------
    .. [1] E. B. Wilson, "Probable inference, the law of succession, and statistical inference,"
       Journal of the American Statistical Association, vol. 22, pp. 209-212, 1927.
    """
    z = z_of(level)
    with np.errstate(divide="ignore", invalid="ignore"):
        share = hits / np.asarray(count, float)
        centre = (share + z * z / (2 * count)) / (1 + z * z / count)
        half = (
            z * np.sqrt(share * (1 - share) / count + z * z / (4 * count**2)) / (1 + z * z / count)
        )
    # Of none and of all, one end is the share itself, but for rounding.
    return np.clip(centre - half, 0.0, share), np.clip(centre + half, share, 1.0)


def _pairs(x: np.ndarray, y: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    i, j = np.triu_indices(len(y), 1)
    return x[j] - x[i], y[j] - y[i]


def pairwise_slopes(x: np.ndarray, y: np.ndarray) -> tuple[np.ndarray, int]:
    """Slopes of all pairs, in ascending order, and Mann-Kendall's score S."""
    run, rise = _pairs(x, y)
    slopes = np.sort(rise[run != 0] / run[run != 0])
    return slopes, int(np.sign(rise).sum())


def tied_variance(y: np.ndarray) -> float:
    """Variance of Mann-Kendall's S, with ties."""
    n = len(y)
    ties = np.unique(y, return_counts=True)[1]
    return float(n * (n - 1) * (2 * n + 5) - (ties * (ties - 1) * (2 * ties + 5)).sum()) / 18


def theil_sen(x: np.ndarray, y: np.ndarray, level: float = LEVEL) -> tuple[float, float, float]:
    """Theil-Sen slope: the median of all pairwise slopes, with Sen's interval.

    Parameters
    ----------
    x, y : ndarray, shape (n,)
        Pairs with a missing `y` are dropped.
    level : float
        Confidence of the interval, 0 to 1.

    Returns
    -------
    slope, low, high : float
        NaN for fewer than 3 values.

    See Also
    --------
    climwin.core.dependence.trend_test : The same for autocorrelated years.

    References
    ----------
    .. [1] P. K. Sen, "Estimates of the regression coefficient based on Kendall's tau," Journal of
       the American Statistical Association, vol. 63, pp. 1379-1389, 1968.
    """
    known = np.isfinite(y)
    x, y = np.asarray(x, float)[known], np.asarray(y, float)[known]
    if len(y) < 3:
        return np.nan, np.nan, np.nan
    slopes, _ = pairwise_slopes(x, y)
    reach = z_of(level) * np.sqrt(tied_variance(y))
    lowest = max(round((len(slopes) - reach) / 2) - 1, 0)
    highest = min(round((len(slopes) + reach) / 2), len(slopes) - 1)
    return float(np.median(slopes)), float(slopes[lowest]), float(slopes[highest])


def mann_kendall(y: np.ndarray) -> float:
    """Two-sided p value of Mann-Kendall's trend test, corrected for ties and continuity.

    Parameters
    ----------
    y : ndarray, shape (n,)
        In order of time; missing values are dropped.

    Returns
    -------
    float
        NaN for fewer than 3 values.

    References
    ----------
    .. [1] H. B. Mann, "Nonparametric tests against trend," Econometrica, vol. 13, pp. 245-259,
       1945.
    """
    y = np.asarray(y, float)[np.isfinite(y)]
    if len(y) < 3:
        return np.nan
    score = int(np.sign(_pairs(np.arange(len(y)), y)[1]).sum())
    variance = tied_variance(y)
    if variance == 0:
        return 1.0
    return 2 * NormalDist().cdf(-(abs(score) - (score != 0)) / np.sqrt(variance))


def paired_difference(
    only_first: np.ndarray, only_second: np.ndarray, count: np.ndarray, level: float = LEVEL
) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Difference of two shares of the same cases, with an adjusted Wald interval.

    Parameters
    ----------
    only_first, only_second : ndarray
        Number of cases in which only the first, or only the second, happened.
    count : ndarray
        Number of all cases.
    level : float
        Confidence, 0 to 1.

    Returns
    -------
    difference, low, high : ndarray
        First minus second; NaN where `count` is 0.

    References
    ----------
    .. [1] A. Agresti and Y. Min, "Simple improved confidence intervals for comparing matched
       proportions," Statistics in Medicine, vol. 24, pp. 729-740, 2005: half a case is added to
       each cell.
    """
    cases = np.where(np.asarray(count) > 0, count, np.nan).astype(float)
    total = cases + 2
    first, second = only_first + 0.5, only_second + 0.5
    middle = (first - second) / total
    half = z_of(level) * np.sqrt(first + second - (first - second) ** 2 / total) / total
    difference = (only_first - only_second) / cases
    return difference, np.maximum(middle - half, -1.0), np.minimum(middle + half, 1.0)


# --- odds of the years to come ------------------------------------------------------------


class Drift(NamedTuple):
    """What an endless record would be worth for the next ten years, in independent years.

    The next ten years have a climate of their own. `record` is for a record as it is, `today` for
    one whose years were moved to today's level.
    """

    record: float
    today: float


KINDS: dict[str, Drift] = {
    "spring freeze": Drift(15, 20),
    "autumn freeze": Drift(20, 40),
    "freeze-free days": Drift(8, 12),
    "window": Drift(40, 100),
    "heat": Drift(5, 10),
    "hot days": Drift(8, 10),
    "harvest": Drift(20, 30),
    "other": Drift(10, 12),
}
"""Kinds of events, and their drift: rounded from a hindcast on long records, see
``tests/odds/RESULTS.md``. ``"other"``, their median, is for kinds that it did not cover."""

PER_DEGREE: dict[str, float] = {
    "spring freeze": 0.4,
    "autumn freeze": 0.4,
    "freeze-free days": 0.6,
    "heat": 1.5,
    "hot days": 0.6,
}
"""By how many of its own standard deviations among years one degC moves a quantity: means over long
records of which all years were moved (``tests/odds/hindcast.py`` names them). Windows are not
listed: one degC makes them longer at one place and shorter at the next, by 0.1 on average."""

NEXT_YEARS = 10
"""Number of coming years that an interval is for. [year]"""
COUNTED_YEAR = 0.8
"""What a year counts in a share, in independent years, because years are autocorrelated. With it,
intervals hold in 86 to 95 of 100 trials at lag-one correlations from 0 to 0.3 (``tests/odds``). For
dates and lengths a year counts in full: what the kernel gains makes up for the difference."""
LEAST_BANDWIDTH = 0.5
"""Smallest width of the kernel over dates. [day]"""
_ROUGH = 10
"""Tenths of a day between the days at which `kernel_quantile` first looks."""


def next_worth(worth: np.ndarray, kind: str, climate: str) -> np.ndarray:
    """What the years of a record are worth for the odds of the next ten.

    Parameters
    ----------
    worth : ndarray
        What they are worth for the record's own climate, in independent years.
    kind : str
        One of `KINDS`.
    climate : {"record", "today"}
        Climate of the years that the odds are from.

    Returns
    -------
    ndarray, shape of `worth`
        Independent years: less than `worth`, and never more than the drift allows, however long
        the record.
    """
    check_choice("kind", kind, KINDS)
    drift = KINDS[kind].today if climate == "today" else KINDS[kind].record
    return worth * drift / (worth + drift)


def worth_at_level(worth: np.ndarray, odds: np.ndarray, variance: np.ndarray | float) -> np.ndarray:
    """What years are worth if the level that they were moved to is itself an estimate.

    Parameters
    ----------
    worth : ndarray
        What they are worth at a known level, in independent years.
    odds : ndarray
        0 to 1.
    variance : ndarray or float
        Variance of the odds that comes from the error of the level.

    Returns
    -------
    ndarray
        Number of independent years that would give the odds both variances together.
    """
    among = within_reach(odds, worth)
    return np.asarray(worth / (1 + worth * variance / (among * (1 - among))))


def variance_of_level(odds: np.ndarray, kind: str, error: float) -> np.ndarray:
    """Variance of the odds of a kind of event that comes from the error of the level.

    Parameters
    ----------
    odds : ndarray
        0 to 1.
    kind : str
        One of `KINDS`; the result is 0 for those that are not in `PER_DEGREE`.
    error : float
        Standard error of the level. [degC]

    Notes
    -----
    If a normal quantity moves by one standard deviation, odds p change by the normal density at
    their quantile. The square of that density is approximated by 4 / pi (p (1 - p))^1.5, which is
    exact at one half and at most 12 % too large from 0.1 to 0.9.
    """
    among = np.clip(odds, 0, 1) * (1 - np.clip(odds, 0, 1))
    return np.asarray(4 / np.pi * among**1.5 * (PER_DEGREE.get(kind, 0.0) * error) ** 2)


def smoothed_share(hits: np.ndarray, count: np.ndarray) -> np.ndarray:
    """Share drawn slightly towards one half, never 0 or 1: the mean under Jeffreys' prior.

    Parameters
    ----------
    hits, count : ndarray
        Number of successes, and of trials.

    Returns
    -------
    ndarray
        NaN where `count` is 0.

    References
    ----------
    .. [1] L. D. Brown, T. T. Cai and A. DasGupta, "Interval estimation for a binomial proportion,"
       Statistical Science, vol. 16, pp. 101-133, 2001 (from memory).
    """
    count = np.asarray(count, float)
    return np.where(count > 0, (hits + 0.5) / (count + 1), np.nan)


def odds_interval(odds: np.ndarray, worth: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Interval of odds that are worth a number of independent years, 90 %.

    Parameters
    ----------
    odds : ndarray
        0 to 1.
    worth : ndarray
        Number of independent years; need not be whole.

    Returns
    -------
    low, high : ndarray
        Quantiles of the beta distribution with Jeffreys' prior; 0 and 1 where the odds are. NaN
        where the odds are, or `worth` is 0.
    """
    from scipy.special import betaincinv

    hits, misses, known = _counted_worth(odds, worth)
    tail = (1 - LEVEL) / 2
    hits, misses, place = _each_pair_once(hits, misses)
    low = betaincinv(hits, misses, tail)[place]
    high = betaincinv(hits, misses, 1 - tail)[place]
    return (
        np.where(known, np.where(odds <= 0, 0.0, low), np.nan),
        np.where(known, np.where(odds >= 1, 1.0, high), np.nan),
    )


def next_interval(
    odds: np.ndarray, worth: np.ndarray, years: int = NEXT_YEARS
) -> tuple[np.ndarray, np.ndarray]:
    """In how many of the next years an event is likely, with a probability of 90 % at least.

    Parameters
    ----------
    odds, worth : ndarray
        As for `odds_interval`.
    years : int
        Number of coming years.

    Returns
    -------
    low, high : ndarray
        Whole numbers, 0 to `years`: quantiles of the beta-binomial distribution. NaN where the odds
        are, or `worth` is 0.
    """
    from scipy.special import betaln, gammaln

    hits, misses, known = _counted_worth(odds, worth)
    hits, misses, place = _each_pair_once(hits, misses)
    k = np.arange(years + 1)
    ways = gammaln(years + 1) - gammaln(k + 1) - gammaln(years - k + 1)
    hits, misses = hits[..., None], misses[..., None]
    mass = np.exp(ways + betaln(k + hits, years - k + misses) - betaln(hits, misses))
    below = np.cumsum(mass, axis=-1)
    tail = (1 - LEVEL) / 2
    # The last one is 1 except for rounding, so it is left out.
    low, high = ((below[..., :-1] < q).sum(-1)[place] for q in (tail, 1 - tail))
    return np.where(known, low, np.nan), np.where(known, high, np.nan)


def _each_pair_once(
    hits: np.ndarray, misses: np.ndarray
) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """The distinct pairs, and the index of its pair for each element.

    Thousands of start dates share a few counts of years, and each pair costs an inversion.
    """
    pairs, place = np.unique(hits + 1j * misses, return_inverse=True)
    return pairs.real, pairs.imag, place.reshape(hits.shape)  # NumPy 2.0 may return it flat


def _counted_worth(
    odds: np.ndarray, worth: np.ndarray
) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Parameters of a beta distribution with Jeffreys' prior, and where they are known."""
    odds, worth = np.broadcast_arrays(np.asarray(odds, float), np.asarray(worth, float))
    known = np.isfinite(odds) & (worth > 0)
    share, years = np.where(known, np.clip(odds, 0, 1), 0.5), np.where(known, worth, 1.0)
    return share * years + 0.5, (1 - share) * years + 0.5, known


def kernel_of(values: np.ndarray) -> tuple[np.ndarray, float]:
    """Centres and width of a normal kernel that leaves a sample its spread.

    Parameters
    ----------
    values : ndarray, shape (n,)
        Infinite values, of years without the event, stay where they are. [day]

    Returns
    -------
    centres : ndarray, shape (n,)
        The values, drawn towards their mean. [day]
    width : float
        Standard deviation of the kernel, at least half a day. [day]

    Notes
    -----
    The width is Silverman's [1]_. A kernel alone would add its own variance to that of the sample
    and make rare dates too likely, so both are scaled to keep the variance as it was [2]_.

    References
    ----------
    .. [1] B. W. Silverman, "Density Estimation for Statistics and Data Analysis," Chapman and
       Hall, 1986, equation 3.31 (from memory).
    .. [2] M. C. Jones, "On correcting for variance inflation in kernel density estimation,"
       Computational Statistics and Data Analysis, vol. 11, pp. 3-15, 1991 (from memory).
    """
    there = values[np.isfinite(values)]
    spread = there.std(ddof=1) if len(there) > 1 else 0.0
    if not spread:
        return values, LEAST_BANDWIDTH
    quarters = np.subtract(*np.percentile(there, [75, 25]))
    width = 0.9 * min(spread, quarters / 1.34) * len(there) ** -0.2
    scale = 1 / np.sqrt(1 + (width / spread) ** 2)
    middle = there.mean()
    return middle + (values - middle) * scale, max(LEAST_BANDWIDTH, width * scale)


def kernel_share_above(values: np.ndarray, at: np.ndarray) -> np.ndarray:
    """Share of a sample above some values, smoothed by the kernel of `kernel_of`.

    Parameters
    ----------
    values : ndarray, shape (n,)
        Sample; infinite values, of years without the event, keep their share at either end. [day]
    at : ndarray, shape (k,)
        Where to evaluate it. [day]

    Returns
    -------
    ndarray, shape (k,)
        Never 0 or 1: limited to `smoothed_share` of no year, and of all years. NaN for an empty
        sample.
    """
    from scipy.special import ndtr

    if not len(values):
        return np.full(np.shape(at), np.nan)
    centres, width = kernel_of(values)
    apart = centres - np.asarray(at, float)[:, None]
    return within_reach(ndtr(apart / width).mean(axis=-1), len(values))


def kernel_quantile(values: np.ndarray, share: np.ndarray) -> np.ndarray:
    """Value above which a share of the smoothed sample lies: inverse of `kernel_share_above`.

    Parameters
    ----------
    values : ndarray, shape (n,)
        As for `kernel_share_above`. [day]
    share : ndarray, shape (k,)
        0 to 1.

    Returns
    -------
    ndarray, shape (k,)
        To a tenth of a day. Infinite where the share cannot be reached because of years without the
        event.
    """
    from scipy.special import ndtr

    centres, width = kernel_of(values)
    there = centres[np.isfinite(centres)]
    before, beyond = np.mean(values == -np.inf), np.mean(values == np.inf)
    if not len(there):
        return np.where(share > beyond, -np.inf, np.inf)
    at = np.arange(there.min() - 5 * width, there.max() + 5 * width, 0.1)

    def negative_share_above(places: np.ndarray) -> np.ndarray:
        """The negative of the share above some of the days, which rises as np.interp needs it."""
        above = ndtr((there - at[places, None]) / width).mean(axis=-1)
        return -(above * (1 - before - beyond) + beyond)

    # Every tenth day of the grid tells between which of them each share lies; only these need all.
    rough = np.append(np.arange(0, len(at) - 1, _ROUGH), len(at) - 1)
    piece = np.searchsorted(negative_share_above(rough), -share, side="right") - 1
    since = rough[np.clip(piece, 0, len(rough) - 2)]
    fine = np.unique(np.minimum(since[..., None] + np.arange(_ROUGH + 1), len(at) - 1))
    value = np.interp(-share, negative_share_above(fine), at[fine])
    return np.where(share <= beyond, np.inf, np.where(share >= 1 - before, -np.inf, value))


def within_reach(share: np.ndarray, count: np.ndarray | float) -> np.ndarray:
    """Share limited to `smoothed_share` of none and of all of `count` years."""
    least = 0.5 / (np.asarray(count, float) + 1)
    return np.clip(share, least, 1 - least)
