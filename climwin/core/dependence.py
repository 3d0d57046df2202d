"""Autocorrelated years: tests and intervals that allow for them.

A warm year tends to follow a warm one, so n years say less than n independent ones would. The years
are modelled as a first-order autoregressive process. Its lag-one correlation is not estimated as
one number: every function here averages over a range of values, each weighted by how well it fits,
so that the doubt about it reaches the result. Kernels only, as in `climwin.core.stats`.
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import lru_cache
from typing import NamedTuple

import numpy as np

from climwin.core.stats import LEVEL, pairwise_slopes, tied_variance

LAG_ONES = np.round(np.arange(-12, 20) * 0.05, 2)
"""Lag-one correlations that are averaged over, with equal prior weights.

A flat prior from -0.6 to 0.95 is the one whose tests keep their rate, see `tests/odds`. Published
corrections that plug in one estimate, and normal priors centred on 0.2 to 0.4, did not."""
SHORT_YEARS = 20
"""Below so many years a trend is tested by `short_trend`. [year]"""
SHORT_LAG_ONES = np.sin(np.pi * ((np.arange(40) + 0.5) / 40 - 0.5))
"""Lag-one correlations that a short trend is averaged over. So spaced, equal weights are the
reference prior of the process, which is 1 / sqrt(1 - rho^2)."""
NULL_LAG_ONES, NULL_SERIES = (0.0, 0.2, 0.4), 2000
"""Lag-one correlations of simulated series without a trend, and how many of each."""
_LEAST_SQUARES = 1e-12
"""Share of the sum of squares below which the fit counts as exact."""


class Whitening(NamedTuple):
    """Make the years of a first-order autoregressive process independent, of unit variance.

    Such a year depends on the last known year before it and on nothing earlier, so the inverse of
    the Cholesky factor of the correlations has only two diagonals.
    """

    carried: np.ndarray
    """Coefficient of the year before in each year, 0 for the first one, shape (n,)."""
    scale: np.ndarray
    """Standard deviation of what is new in each year, shape (n,)."""

    @property
    def log_determinant(self) -> float:
        """Logarithm of the determinant of the correlation matrix."""
        return 2 * float(np.log(self.scale).sum())

    def whiten(self, values: np.ndarray) -> np.ndarray:
        """Whitened values, shape (..., n), of values of that shape."""
        out = np.array(values, float)
        out[..., 1:] -= self.carried[1:] * values[..., :-1]
        out /= self.scale
        return out

    def of_values(self, weights: np.ndarray) -> np.ndarray:
        """Weights of raw values that give the sum that `weights` give of whitened ones."""
        out = weights / self.scale
        out[..., :-1] -= self.carried[1:] * out[..., 1:]
        return out

    @property
    def of_squares(self) -> tuple[np.ndarray, np.ndarray]:
        """Weights of the square of each value and of its product with the next value.

        Shapes (n,) and (n - 1,). The weighted sum is the sum of squares of the whitened values.
        """
        new = 1 / self.scale**2
        own = new.copy()
        own[:-1] += self.carried[1:] ** 2 * new[1:]
        return own, -2 * self.carried[1:] * new[1:]


class Correlated(NamedTuple):
    """What depends only on the years and the fitted columns, by lag-one correlation."""

    whitening: tuple[Whitening, ...]
    fitted: np.ndarray
    """Orthonormal basis of the whitened columns, shape (correlations, n, columns)."""
    log_determinant: np.ndarray
    """Log determinant in the residual likelihood, shape (correlations,)."""


def whitening(years: np.ndarray, lag_one: float) -> Whitening:
    """Whitening of years in ascending order, with gaps allowed; see `correlations`."""
    carried = np.zeros(len(years))
    carried[1:] = float(lag_one) ** np.diff(years)
    return Whitening(carried, np.sqrt(1 - carried**2))


def correlations(years: np.ndarray, lag_one: float) -> np.ndarray:
    """Correlation matrix of years of a first-order autoregressive process, shape (n, n)."""
    apart = np.abs(np.subtract.outer(years, years))
    return np.asarray(float(lag_one) ** apart)


def contrast_variance(years: np.ndarray, contrast: np.ndarray) -> np.ndarray:
    """Variance of a weighted sum of yearly values of unit variance, by lag-one correlation.

    Parameters
    ----------
    years : ndarray of int, shape (n,)
        Years, in order; some may be left out.
    contrast : ndarray, shape (n,)
        Weight of each year.

    Returns
    -------
    ndarray, shape (len(LAG_ONES),)
    """
    each = [whitening(years, lag_one) for lag_one in LAG_ONES]
    carried, scale = (np.array(parts).T for parts in zip(*each, strict=True))
    # The innovation of a year enters with that year's weight and, damped, with those of later
    # years.
    weight, variance = np.zeros(len(LAG_ONES)), np.zeros(len(LAG_ONES))
    for year in reversed(range(len(years))):
        weight = contrast[year] + weight
        variance += (scale[year] * weight) ** 2
        weight = carried[year] * weight
    return variance


@lru_cache(maxsize=256)
def _correlated(years: tuple[int, ...], fitted: tuple[tuple[float, ...], ...]) -> Correlated:
    """`Correlated` of years in ascending order and of the columns fitted to their values."""
    each = tuple(whitening(np.array(years), lag_one) for lag_one in LAG_ONES)
    columns, _ = np.linalg.qr(np.array(fitted).T)
    whitened = np.array([one.whiten(columns.T).T for one in each])
    orthonormal, triangle = np.linalg.qr(whitened)
    of_fit = 2 * np.log(np.abs(np.diagonal(triangle, axis1=1, axis2=2))).sum(-1)
    of_years = np.array([one.log_determinant for one in each])
    return Correlated(each, orthonormal, of_years + of_fit)


def lag_one_weights(years: np.ndarray, values: np.ndarray, columns: np.ndarray) -> np.ndarray:
    """How well each lag-one correlation of `LAG_ONES` fits the values, as weights.

    Parameters
    ----------
    years : ndarray of int, shape (n,)
        Years, in order; some may be left out.
    values : ndarray, shape (n,)
        Value of each year; none missing.
    columns : ndarray, shape (k, n)
        What is fitted to the values, such as their mean and a trend.

    Returns
    -------
    ndarray, shape (len(LAG_ONES),)
        They add up to 1. All weight is on no correlation if the fit is exact or a year occurs
        twice.

    Notes
    -----
    The weights are the residual likelihood [1]_, which does not mistake a fitted trend for
    correlation, under a flat prior, as in the Bayesian analysis of regression with autocorrelated
    errors [2]_.

    References
    ----------
    .. [1] H. D. Patterson and R. Thompson, "Recovery of inter-block information when block sizes
       are unequal," Biometrika, vol. 58, pp. 545-554, 1971 (from memory).
    .. [2] A. Zellner and G. C. Tiao, "Bayesian analysis of the regression model with autocorrelated
       errors," Journal of the American Statistical Association, vol. 59, pp. 763-778, 1964 (from
       memory).
    """
    independent = (LAG_ONES == 0).astype(float)
    if len(values) <= len(columns) or len(np.unique(years)) < len(years):
        return independent
    fitted = tuple(tuple(map(float, column)) for column in columns)
    known = _correlated(tuple(int(year) for year in years), fitted)
    centred = values - values.mean()
    white = np.array([one.whiten(centred) for one in known.whitening])[..., None]
    left = white - known.fitted @ (known.fitted.swapaxes(1, 2) @ white)
    squares = (left**2).sum((1, 2))
    total = float(((values - values.mean()) ** 2).sum())
    if squares[LAG_ONES == 0] <= _LEAST_SQUARES * max(total, _LEAST_SQUARES):
        return independent
    free = len(values) - len(columns)
    fit = -(known.log_determinant + free * np.log(squares)) / 2
    weights = np.exp(fit - fit.max())
    return np.asarray(weights / weights.sum())


@lru_cache(maxsize=256)
def _rank_inflation(years: tuple[int, ...], contrast: tuple[float, ...]) -> np.ndarray:
    """Variance of a contrast of ranks relative to independent years, by lag-one correlation."""
    weights = np.array(contrast)
    spread = weights @ weights
    return np.array(
        [
            weights @ np.arcsin(correlations(np.array(years), lag_one) / 2) @ weights
            for lag_one in LAG_ONES
        ]
    ) * (6 / np.pi / spread)


def rank_inflation(years: np.ndarray, contrast: np.ndarray) -> np.ndarray:
    """Factor by which autocorrelation inflates the variance of a rank test.

    Parameters
    ----------
    years : ndarray of int, shape (n,)
        Years with a value, in order.
    contrast : ndarray, shape (n,)
        Weight of each year in the test, with mean 0: its position for a trend, its half for a
        shift.

    Returns
    -------
    ndarray, shape (len(LAG_ONES),)
        The factor for each lag-one correlation; 1 if a year occurs twice.

    Notes
    -----
    The correlation of the ranks of normal values is (6 / pi) arcsin(rho / 2), by which Hamed and
    Rao corrected the variance of Mann and Kendall's test [1]_. Summed over all pairs of known
    years, it allows for missing ones.

    References
    ----------
    .. [1] K. H. Hamed and A. R. Rao, "A modified Mann-Kendall trend test for autocorrelated data,"
       Journal of Hydrology, vol. 204, pp. 182-196, 1998.
    """
    if len(np.unique(years)) < len(years):
        return np.ones(len(LAG_ONES))
    return _rank_inflation(tuple(int(y) for y in years), tuple(map(float, contrast)))


def two_sided(z: np.ndarray | float, weights: np.ndarray, inflation: np.ndarray) -> float:
    """Two-sided p of a deviation of `z` standard deviations, averaged over the correlations."""
    from scipy.special import ndtr

    return float((weights * 2 * ndtr(-np.abs(z) / np.sqrt(inflation))).sum())


def reach_of(level: float, weights: np.ndarray, inflation: np.ndarray) -> float:
    """Half width of an interval, in standard deviations of independent years."""
    near, far = 0.0, 100.0
    for _ in range(45):
        middle = (near + far) / 2
        if two_sided(middle, weights, inflation) > 1 - level:
            near = middle
        else:
            far = middle
    return (near + far) / 2


# --- trends and shifts --------------------------------------------------------------------


def trend_test(years: np.ndarray, values: np.ndarray) -> tuple[float, float, float, float]:
    """Theil-Sen slope with its 90 % interval, and Mann-Kendall's p, for autocorrelated years.

    Parameters
    ----------
    years : ndarray of int, shape (n,)
        In order.
    values : ndarray, shape (n,)
        Missing ones are left out.

    Returns
    -------
    slope, low, high : float
        Per year; NaN for fewer than 3 values.
    p : float
        Two-sided.

    Notes
    -----
    Slope and score are those of `stats.theil_sen` and `stats.mann_kendall`. Their variance is that
    of independent values, with ties, times `rank_inflation`. The lag-one correlations are weighted
    by `lag_one_weights` of the residuals from a linear trend.

    Fewer than `SHORT_YEARS` values say too little of the correlation for that: at 0.1 the test
    would fire in 0.07 to 0.14 of records of ten years. Their interval and p are those of
    `short_trend`.
    """
    known = np.isfinite(values)
    years, values = np.asarray(years)[known], np.asarray(values, float)[known]
    n = len(values)
    if n < 3:
        return np.nan, np.nan, np.nan, np.nan
    if n < SHORT_YEARS and len(np.unique(years)) == n and np.ptp(values):
        slope = float(np.median(pairwise_slopes(years, values)[0]))
        low, high, p = short_trend(years, values)
        return slope, min(low, slope), max(high, slope), p
    centred = years - years.mean()
    weights = lag_one_weights(years, values, np.stack([np.ones(n), centred]))
    inflation = rank_inflation(years, np.arange(n) - (n - 1) / 2)
    slopes, score = pairwise_slopes(years, values)
    deviation = float(np.sqrt(tied_variance(values)))
    reach = reach_of(LEVEL, weights, inflation) * deviation
    lowest = max(round((len(slopes) - reach) / 2) - 1, 0)
    highest = min(round((len(slopes) + reach) / 2), len(slopes) - 1)
    z = (abs(score) - (score != 0)) / deviation if deviation else 0.0
    p = two_sided(z, weights, inflation)
    return float(np.median(slopes)), float(slopes[lowest]), float(slopes[highest]), min(p, 1.0)


def trend_per_decade(years: np.ndarray, values: np.ndarray) -> tuple[float, float, float, float]:
    """`trend_test` with the slope and its interval per decade."""
    slope, low, high, p = trend_test(years, values)
    return 10 * slope, 10 * low, 10 * high, p


class ByLagOne(NamedTuple):
    """Slopes by generalised least squares, shape (correlations, series)."""

    slope: np.ndarray
    error: np.ndarray
    """Standard error."""
    weight: np.ndarray
    """Residual likelihood, adds up to 1."""
    free: int
    """Degrees of freedom."""

    def chance(self, slope: float) -> np.ndarray:
        """Student's two-sided p of a slope, averaged over the correlations, shape (series,)."""
        from scipy.special import stdtr

        apart = np.abs(self.slope - slope) / self.error
        return np.asarray((self.weight * 2 * stdtr(self.free, -apart)).sum(0))


@lru_cache(maxsize=256)
def _fits(years: tuple[int, ...]) -> tuple[np.ndarray, ...]:
    """What turns values of these years into their slope, and into whitened residuals.

    By the correlations of `SHORT_LAG_ONES`, shapes (correlations, n) and (correlations, n, n); then
    the variance of the slope, and the log determinant in the residual likelihood.
    """
    correlated = np.array([correlations(np.array(years), each) for each in SHORT_LAG_ONES])
    whiten = np.linalg.inv(np.linalg.cholesky(correlated))
    since_middle = np.array(years) - np.mean(years)
    design = whiten @ np.stack([since_middle, np.ones(len(years))]).T
    inverse = np.linalg.inv(design.swapaxes(1, 2) @ design)
    fit = inverse @ design.swapaxes(1, 2) @ whiten
    determinant = np.linalg.slogdet(correlated)[1] - np.linalg.slogdet(inverse)[1]
    return fit[:, 0], whiten - design @ fit, inverse[:, 0, 0], determinant


def _by_lag_one(years: np.ndarray, values: np.ndarray) -> ByLagOne:
    """Trends of series of values, shape (series, n), by the correlations of `SHORT_LAG_ONES`."""
    to_slope, to_left, variance, determinant = _fits(tuple(int(year) for year in years))
    free = len(years) - 2
    squares = ((to_left @ values.T) ** 2).sum(1)
    squares = np.maximum(squares, _LEAST_SQUARES * values.var(axis=-1))
    fit = -(determinant[:, None] + free * np.log(squares)) / 2
    weight = np.exp(fit - fit.max(0))
    error = np.sqrt(squares / free * variance[:, None])
    return ByLagOne(to_slope @ values.T, error, weight / weight.sum(0), free)


@lru_cache(maxsize=SHORT_YEARS)
def _without_trend(count: int) -> np.ndarray:
    """Chances of no slope in simulated series of `count` years that have none, sorted."""
    rng, years = np.random.default_rng(1), np.arange(count)
    factors = [np.linalg.cholesky(correlations(years, lag_one)) for lag_one in NULL_LAG_ONES]
    series = [rng.normal(size=(NULL_SERIES, count)) @ factor.T for factor in factors]
    return np.sort(_by_lag_one(years, np.concatenate(series)).chance(0.0))


def short_trend(years: np.ndarray, values: np.ndarray) -> tuple[float, float, float]:
    """90 % interval of a slope, and p of none, for few autocorrelated years.

    Parameters
    ----------
    years : ndarray of int, shape (n,)
        In order, each once.
    values : ndarray, shape (n,)
        None missing, and not all alike; 3 or more.

    Returns
    -------
    low, high : float
        Per year.
    p : float
        Two-sided; at least 1 in `NULL_SERIES` times the number of `NULL_LAG_ONES`.

    Notes
    -----
    Student's p of the slope by generalised least squares is averaged over the lag-one correlations,
    each weighted by its residual likelihood under the reference prior [1]_. That average is no p
    yet, because in few years it leans on correlations that are too strong. It becomes one by its
    rank among those of simulated series without a trend, as in Beran's prepivoting [2]_. It hardly
    depends on the correlation of these series.

    References
    ----------
    .. [1] J. O. Berger and R.-Y. Yang, "Noninformative priors and Bayesian testing for the AR(1)
       model," Econometric Theory, vol. 10, pp. 461-482, 1994 (from memory).
    .. [2] R. Beran, "Prepivoting test statistics: a bootstrap view of asymptotic refinements,"
       Journal of the American Statistical Association, vol. 83, pp. 687-697, 1988 (from memory).
    """
    from scipy.optimize import brentq

    fitted = _by_lag_one(years, values[None])
    usual = _without_trend(len(values))
    p = (1 + np.searchsorted(usual, fitted.chance(0.0)[0], side="right")) / (1 + len(usual))
    least = np.quantile(usual, 1 - LEVEL)
    middle = float((fitted.weight * fitted.slope).sum())
    widest = float(np.abs(fitted.slope - middle).max() + 1000 * np.max(fitted.error))

    def reach(sign: int) -> float:
        """How far slopes that the test allows lie from the middle, on one side."""

        def excess(apart: float) -> float:
            return float(fitted.chance(middle + sign * apart)[0] - least)

        return float(brentq(excess, 0.0, widest)) if excess(0.0) > 0 else 0.0

    return middle - reach(-1), middle + reach(1), min(float(p), 1.0)


def shift_reach(years: np.ndarray, values: np.ndarray, late: np.ndarray, level: float) -> float:
    """Half width of the interval of a shift, in standard deviations of independent years.

    Parameters
    ----------
    years, values : ndarray, shape (n,)
        Early and late years together; none missing.
    late : ndarray of bool, shape (n,)
        Which are the late ones.
    level : float
        Confidence, 0 to 1.
    """
    columns = np.stack([np.ones(len(values)), late.astype(float)])
    weights = lag_one_weights(years, values, columns)
    return reach_of(level, weights, rank_inflation(years, late - late.mean()))


def slope_beside(
    years: np.ndarray, values: np.ndarray, first_years: Sequence[int]
) -> tuple[float, float]:
    """Slope of values that also have sudden steps, with its two-sided p.

    Parameters
    ----------
    years : ndarray of int, shape (n,)
        In order.
    values : ndarray, shape (n,)
        Missing ones are left out.
    first_years : sequence of int
        The first year after each step.

    Returns
    -------
    slope : float
        Per year, by generalised least squares; NaN if there are too few values.
    p : float
        By Student's t, averaged over the lag-one correlations.
    """
    from scipy.special import stdtr

    known = np.isfinite(values)
    years, values = np.asarray(years)[known], np.asarray(values, float)[known]
    n = len(values)
    steps = [(years >= first).astype(float) for first in sorted(set(first_years))]
    steps = [step for step in steps if 0 < step.sum() < n]
    free = n - 2 - len(steps)
    if free < 1:
        return np.nan, np.nan
    columns = np.stack([years - years.mean(), np.ones(n), *steps])
    if np.linalg.matrix_rank(columns) < len(columns):
        return np.nan, np.nan
    weights = lag_one_weights(years, values, columns)
    slopes, chances = [], []
    for lag_one in LAG_ONES:
        whiten = whitening(years, lag_one).whiten
        design, white = whiten(columns).T, whiten(values)
        inverse = np.linalg.inv(design.T @ design)
        fit = inverse @ design.T @ white
        variance = float(((white - design @ fit) ** 2).sum()) / free * inverse[0, 0]
        slopes.append(fit[0])
        chances.append(2 * stdtr(free, -abs(fit[0]) / np.sqrt(max(variance, 1e-300))))
    return float(weights @ np.array(slopes)), float(weights @ np.array(chances))


# --- how much a record is worth -----------------------------------------------------------


def effective_years(years: np.ndarray, values: np.ndarray) -> float:
    """Number of independent years that determine a share as well as these years do.

    Parameters
    ----------
    years : ndarray of int, shape (n,)
        Years with a value, in order.
    values : ndarray, shape (n,)
        Their values; infinite ones are allowed, because only ranks count.

    Returns
    -------
    float
        Between 1 and n, or somewhat above n if a high value tends to follow a low one.

    Notes
    -----
    The number of years is divided by the factor by which autocorrelation inflates the variance of a
    count of years above the median. For normal values the correlation of such counts is (2 / pi)
    arcsin(rho) [1]_. The factor is averaged over the lag-one correlations of the normal scores.

    References
    ----------
    .. [1] K. H. Hamed and A. R. Rao, as in `rank_inflation`; effective sample size by G. V. Bayley
       and J. M. Hammersley, "The 'effective' number of independent observations in an
       autocorrelated time series," Supplement to the Journal of the Royal Statistical Society,
       vol. 8, pp. 184-197, 1946 (from memory).
    """
    from scipy.special import ndtri

    n = len(values)
    if n < 3:
        return float(n)
    less = (values[:, None] > values).sum(-1)
    alike = (values[:, None] == values).sum(-1)
    scores = ndtri((less + alike / 2) / n)
    weights = lag_one_weights(years, scores, np.ones((1, n)))
    inflation = _share_inflation(tuple(int(year) for year in years))
    return float(n / (weights @ inflation))


@lru_cache(maxsize=256)
def _share_inflation(years: tuple[int, ...]) -> np.ndarray:
    """Variance of a share relative to independent years, by lag-one correlation."""
    return np.array(
        [
            np.arcsin(np.clip(correlations(np.array(years), lag_one), -1, 1)).sum()
            for lag_one in LAG_ONES
        ]
    ) * (2 / np.pi / len(years))


def quantile_interval(
    sample: np.ndarray, worth: np.ndarray | float, shares: np.ndarray
) -> tuple[np.ndarray, np.ndarray]:
    """Interval of quantiles of a small sample, 90 %.

    Parameters
    ----------
    sample : ndarray, shape (n,)
        Sorted; either end may be infinite.
    worth : ndarray or float
        Number of independent years that the sample is worth, from `effective_years`; one for all
        shares, or one for each.
    shares : ndarray, shape (k,)
        Long-run share below each quantile, 0 to 1.

    Returns
    -------
    low, high : ndarray, shape (k,)
        Infinite where a bound depends on infinite values; NaN for an empty sample.

    Notes
    -----
    If a share p of the long run lies below the quantile, the share of the sample below it has
    Jeffreys' interval for n = `worth` years: the quantiles of Beta(p n + 0.5, (1 - p) n + 0.5)
    [1]_. Its ends are read off the sample's own quantiles (Hazen's plotting positions). Beyond the
    first and the last value (1 in 20 for ten years) the quantiles continue as Student's t
    prediction of the next value, since freeze dates are close enough to normal [2]_.

    References
    ----------
    .. [1] L. D. Brown, T. T. Cai and A. DasGupta, "Interval estimation for a binomial proportion,"
       Statistical Science, vol. 16, pp. 101-133, 2001 (from memory).
    .. [2] H. C. S. Thom and R. H. Shaw, "Climatological analysis of freeze data for Iowa," Monthly
       Weather Review, vol. 86, pp. 251-257, 1958 (pages from memory).
    """
    if not len(sample):
        missing = np.full(len(shares), np.nan)
        return missing, missing
    low, high = (_quantiles_and_beyond(sample, end) for end in share_ends(shares, worth))
    return low, high


def share_ends(shares: np.ndarray, worth: np.ndarray | float) -> tuple[np.ndarray, np.ndarray]:
    """Interval of the sample share of `worth` years, for each long-run share.

    Jeffreys' interval of 90 %, see `quantile_interval`.
    """
    from scipy.special import betaincinv

    a, b = shares * worth + 0.5, (1 - shares) * worth + 0.5
    return betaincinv(a, b, 0.5 - LEVEL / 2), betaincinv(a, b, 0.5 + LEVEL / 2)


def _quantiles_and_beyond(sample: np.ndarray, share: np.ndarray) -> np.ndarray:
    """Quantiles by Hazen's plotting positions, continued beyond the sample's ends."""
    from scipy.special import stdtrit

    n = len(sample)
    place = np.clip(share * n - 0.5, 0, n - 1)
    below = np.floor(place).astype(int)
    above = np.minimum(below + 1, n - 1)
    with np.errstate(invalid="ignore"):
        rise = (place - below) * (sample[above] - sample[below])
        out = np.where(place > below, sample[below] + rise, sample[below])
    out = np.where(np.isinf(sample[below]), sample[below], out)
    finite = sample[np.isfinite(sample)]
    if len(finite) < 3:
        return np.asarray(out)
    unit = finite.std(ddof=1) * np.sqrt(1 + 1 / len(finite))
    for beyond, end in ((share < 0.5 / n, 0), (share > 1 - 0.5 / n, n - 1)):
        position = (end + 0.5) / n
        further = stdtrit(len(finite) - 1, share) - stdtrit(len(finite) - 1, position)
        out = np.where(beyond, sample[end] + unit * further, out)
    return np.asarray(out)
