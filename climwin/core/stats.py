"""Statistics of small samples, as plain NumPy: quantiles, shares and slopes with their intervals.

Kernels only: the labelled wrappers stand in the modules of science that use them.
"""

from __future__ import annotations

from functools import lru_cache
from statistics import NormalDist

import numpy as np

from climwin.core.errors import Parameter
from climwin.core.schema import DataGapError, check_choice
from climwin.core.wording import say

LEVEL = 0.90
"""Confidence of every interval that climwin gives, unless another is chosen."""
LEAST_YEARS = 10
"""Known years below which odds are refused unless the user insists (common practice): so few cannot
show what happens in one year of ten."""
FEW_YEARS = say("few_years")
"""What is said of odds from fewer years, where the user insists."""

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
        Says how many years there are, how many are needed, and how to go on.
    """
    if known < LEAST_YEARS and not few_years:
        msg = (
            f"Too few years for odds: {known} can be told from the record, {LEAST_YEARS} are the "
            "least. Take a longer record, or go on with "
        )
        raise DataGapError(msg, Parameter("few_years", True), " and take the odds as a hint.")


def z_of(level: float) -> float:
    """Half width of a normal interval that holds `level` of the chance, in standard deviations."""
    return NormalDist().inv_cdf(0.5 + level / 2)


def position(count: np.ndarray, share: np.ndarray | float, method: str) -> np.ndarray:
    """Place of a quantile among `count` sorted values, counted from 0; may lie outside them.

    Parameters
    ----------
    count : ndarray
        Values in each sample.
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
    """Quantile of samples sorted along the last axis, their missing values at its end.

    Equal to the last bit to ``numpy.nanquantile`` with the same method. Endless values may stand
    at either end of a sample: a quantile that leans on one is endless, never invented.

    Parameters
    ----------
    values : ndarray, shape (..., n)
        Sorted samples.
    count : ndarray, shape (...)
        Values in each that are not missing.
    share : float
        Share of the sample below the quantile, 0 to 1.
    method : str
        One of `PLOTTING`.

    Returns
    -------
    ndarray, shape (...)
        Missing where a sample is empty.
    """
    below, above, t = neighbours(count, share, method)
    low = np.take_along_axis(values, below[..., None], -1)[..., 0]
    high = np.take_along_axis(values, above[..., None], -1)[..., 0]
    return np.where(count > 0, between(low, high, t), np.nan)


def neighbours(
    count: np.ndarray, share: np.ndarray | float, method: str
) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Ranks on either side of a quantile, counted from 0, and how far it lies between them."""
    last = np.maximum(count - 1, 0)
    at = np.clip(position(count, share, method), 0, last)
    below = np.floor(at).astype(int)
    return below, np.minimum(below + 1, last), at - below


def between(low: np.ndarray, high: np.ndarray, t: np.ndarray) -> np.ndarray:
    """Linear interpolation as NumPy's quantiles do it, from the nearer end; `t` lies below 1."""
    with np.errstate(invalid="ignore"):
        step = high - low
        out = np.where(t >= 0.5, high - step * (1 - t), low + step * t)
    out = np.where(np.isinf(low), low, np.where(np.isinf(high) & (t > 0), high, out))
    return np.where((t == 0) | (low == high), low, out)


@lru_cache
def bootstrap_ranks(count: int, resamples: int) -> np.ndarray:
    """Bootstrap resamples of a sorted sample, as places in it.

    Each resample comes out sorted too, so a quantile is read from it without sorting again. They
    are always the same, for every station and every call.

    Parameters
    ----------
    count : int
        Values in the sample.
    resamples : int
        How many to draw.

    Returns
    -------
    ndarray of int, shape (resamples, count)
        Read only.
    """
    ranks = np.random.default_rng(0).integers(0, count, (resamples, count))
    ranks.sort(axis=-1)
    ranks.flags.writeable = False  # the same array serves every caller
    return ranks


def bootstrap_interval(
    estimates: np.ndarray, level: float = LEVEL
) -> tuple[np.ndarray, np.ndarray]:
    """Percentile interval of an estimate over bootstrap resamples.

    Parameters
    ----------
    estimates : ndarray, shape (resamples, ...)
        The estimate from each resample; endless ones allowed, missing ones not.
    level : float
        Confidence, 0 to 1.

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
    low, high = round(last * (0.5 - level / 2)), round(last * (0.5 + level / 2))
    return ranked[low], ranked[high]


def wilson(
    hits: np.ndarray, count: np.ndarray, level: float = LEVEL
) -> tuple[np.ndarray, np.ndarray]:
    """Wilson's interval of a share.

    Parameters
    ----------
    hits, count : ndarray
        Times it happened, of times it could.
    level : float
        Confidence, 0 to 1.

    Returns
    -------
    low, high : ndarray
        Missing where `count` is 0.

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
    return np.maximum(centre - half, 0.0), np.minimum(centre + half, 1.0)


def _pairs(x: np.ndarray, y: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    i, j = np.triu_indices(len(y), 1)
    return x[j] - x[i], y[j] - y[i]


def pairwise_slopes(x: np.ndarray, y: np.ndarray) -> tuple[np.ndarray, int]:
    """Slopes of all pairs, in order of size, and Mann and Kendall's score S."""
    run, rise = _pairs(x, y)
    slopes = np.sort(rise[run != 0] / run[run != 0])
    return slopes, int(np.sign(rise).sum())


def tied_variance(y: np.ndarray) -> float:
    """Variance of Mann and Kendall's S, ties allowed for."""
    n = len(y)
    ties = np.unique(y, return_counts=True)[1]
    return float(n * (n - 1) * (2 * n + 5) - (ties * (ties - 1) * (2 * ties + 5)).sum()) / 18


def theil_sen(x: np.ndarray, y: np.ndarray, level: float = LEVEL) -> tuple[float, float, float]:
    """Theil and Sen's slope: the median of all pairwise slopes, with Sen's interval.

    Parameters
    ----------
    x, y : ndarray, shape (n,)
        Missing values of `y` are left out.
    level : float
        Confidence of the interval, 0 to 1.

    Returns
    -------
    slope, low, high : float
        Missing for fewer than 3 values.

    See Also
    --------
    climwin.core.dependence.trend_test : The same where years take after the year before.

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
    """Two-sided p value of Mann and Kendall's test of a trend, ties and continuity allowed for.

    Parameters
    ----------
    y : ndarray, shape (n,)
        In order of time; missing values are left out.

    Returns
    -------
    float
        Missing for fewer than 3 values.

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


def share_below(values: np.ndarray, at: np.ndarray, method: str) -> np.ndarray:
    """Least share of a sample whose quantile reaches `at`: the inverse of `sorted_quantile`.

    Parameters
    ----------
    values : ndarray, shape (n,)
        One sorted sample; endless values allowed, missing ones not.
    at : ndarray, shape (k,)
        Values to place.
    method : str
        One of `PLOTTING`.

    Returns
    -------
    ndarray, shape (k,)
        0 at or below the smallest reach of the sample, 1 beyond its largest value.
    """
    n = len(values)
    a, b = PLOTTING[method]
    place = np.searchsorted(values, at, side="left")
    above = np.minimum(place, n - 1)
    below = np.maximum(above - 1, 0)
    with np.errstate(divide="ignore", invalid="ignore"):
        share = (np.arange(1, n + 1) - a) / (n + 1 - a - b)
        t = (at - values[below]) / (values[above] - values[below])
        t = np.where(np.isinf(values[below]), 1.0, np.where(np.isinf(values[above]), 0.0, t))
        out = share[below] + t * (share[above] - share[below])
    return np.where(place == 0, 0.0, np.where(place == n, 1.0, out))


def paired_difference(
    only_first: np.ndarray, only_second: np.ndarray, count: np.ndarray, level: float = LEVEL
) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Difference of two shares of the same cases, with its adjusted Wald interval.

    Parameters
    ----------
    only_first, only_second : ndarray
        Cases in which only the first, or only the second, happened.
    count : ndarray
        All cases.
    level : float
        Confidence, 0 to 1.

    Returns
    -------
    difference, low, high : ndarray
        First minus second; missing where `count` is 0.

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
