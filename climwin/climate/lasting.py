"""Random effects of months and years in a record's differences from stations nearby.

A first-order autoregression of days forgets within a week. The differences between two stations do
not: one has a wetter summer, a new shelter, a growing town. So each month and each year has a
random effect, as in an analysis of variance with months nested in years [1]_.

References
----------
.. [1] S. R. Searle, G. Casella and C. E. McCulloch, "Variance Components," Wiley, 1992: estimates
   by moments, and the prediction of random effects (from memory).
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

DAYS_OF_A_MONTH = 20
"""Least number of known days for a month to count in the fit (common practice). [day]"""
MONTHS_OF_A_YEAR = 6
"""Least number of such months for a year to count (common practice)."""
LEAST_YEARS = 6
"""Least number of such years for fitting effects (common practice)."""
MOST_LASTING = 0.95
"""The largest correlation of a year's effect with that of the year before (our choice)."""
LEVEL_VARIANCE = 1.0
"""Prior variance of an effect common to all years, wide enough to be decided by the data. The
effect is not zero if the neighbours cover other years than the record, because usual days are those
of the common years."""
_MOST_LAG_ONE = 0.9
"""The largest lag-one correlation of days; anything more persistent is an effect of months."""
_ROUNDS = 20


class Effects(NamedTuple):
    """Covariances of the effects of years, months and days, for k variables."""

    of_year: np.ndarray
    """Covariance of the effects of years, shape (k, k)."""
    lasting: float
    """Correlation of a year's effect with that of the year before."""
    of_month: np.ndarray
    """Covariance of the effects of months within their year, shape (k, k)."""
    of_days: np.ndarray
    """n times the covariance of the mean of n days, given their month's effect; shape (k, k)."""


class _Months(NamedTuple):
    """Means by month, in order of time."""

    mean: np.ndarray
    """Shape (months, k); 0 if no day is known."""
    days: np.ndarray
    """Number of known days, shape (months,)."""


def _by_month(differences: np.ndarray, place: np.ndarray) -> _Months:
    """Means of each month over the days on which all variables are known."""
    known = ~np.isnan(differences).any(axis=0)
    count = np.bincount(place[known], minlength=place.max() + 1)
    sums = [np.bincount(place[known], row[known], minlength=len(count)) for row in differences]
    return _Months(np.stack(sums, axis=1) / np.maximum(count, 1)[:, None], count)


def fit_effects(differences: np.ndarray, month: np.ndarray) -> Effects:
    """Estimate the variance components of months and years by moments.

    Parameters
    ----------
    differences : ndarray, shape (k, days)
        A record's departures minus those predicted from stations nearby, NaN where missing.
    month : ndarray of int, shape (days,)
        Months since the first January, in order.

    Returns
    -------
    Effects
        All zero if fewer than 6 years have 6 months of 20 days.
    """
    size = len(differences)
    nothing = Effects(np.zeros((size, size)), 0.0, np.zeros((size, size)), np.eye(size))
    months = _by_month(differences, month)
    rows, years = [], []
    for first in range(0, len(months.days), 12):
        enough = first + np.flatnonzero(months.days[first : first + 12] >= DAYS_OF_A_MONTH)
        if len(enough) >= MONTHS_OF_A_YEAR:
            rows.append(enough)
            years.append(first // 12)
    if len(rows) < LEAST_YEARS:
        return nothing
    known_days = months.days[months.days >= DAYS_OF_A_MONTH]
    of_days = _long_run(differences - months.mean[month].T, float(known_days.mean()))
    within, freedom = np.zeros((size, size)), 0
    means = np.stack([months.mean[each].mean(axis=0) for each in rows])
    for each, mean in zip(rows, means, strict=True):
        apart = months.mean[each] - mean
        within += apart.T @ apart
        freedom += len(each) - 1
    within /= freedom
    every = np.concatenate(rows)
    of_month = _proper(within - of_days * (1 / months.days[every]).mean())
    share_of_month = np.mean([1 / len(each) for each in rows])
    about = means - means.mean(axis=0)
    of_year = _proper(about.T @ about / (len(rows) - 1) - within * share_of_month)
    spread = np.trace(of_year)
    number = np.array(years)
    follows = np.flatnonzero(np.diff(number) == 1)
    lasting = 0.0
    if spread > 0 and len(follows):
        together = float((about[follows] * about[follows + 1]).sum() / len(follows))
        lasting = float(np.clip(together / spread, 0.0, MOST_LASTING))
    return Effects(of_year, lasting, of_month, of_days)


def _long_run(noise: np.ndarray, days: float) -> np.ndarray:
    """Covariance of the mean of n days of an autoregression, times n; shape (k, k).

    Parameters
    ----------
    noise : ndarray, shape (k, days)
        Deviations from the mean of each month.
    days : float
        Number of days in a month. Subtracting monthly means reduces every product of two days by
        the variance of such a mean, which is corrected for.
    """
    known = ~np.isnan(noise).any(axis=0)
    pairs = np.flatnonzero(known[1:] & known[:-1]) + 1
    covariance = noise[:, known] @ noise[:, known].T / max(np.count_nonzero(known), 1)
    same = max(float(np.trace(covariance)), 1e-12)
    following = float((noise[:, pairs] * noise[:, pairs - 1]).sum()) / max(len(pairs), 1)
    long_run = same
    for _ in range(_ROUNDS):
        of_mean = long_run / days
        lag_one = np.clip((following + of_mean) / (same + of_mean), 0.0, _MOST_LAG_ONE)
        long_run = (same + of_mean) * (1 + lag_one) / (1 - lag_one)
    return np.asarray(covariance * (long_run / same))


def _proper(covariance: np.ndarray) -> np.ndarray:
    """The nearest valid covariance, since a moment estimate may have negative variances."""
    variance, direction = np.linalg.eigh((covariance + covariance.T) / 2)
    return np.asarray((direction * np.maximum(variance, 0.0)) @ direction.T)


def draw_effects(
    differences: np.ndarray,
    month: np.ndarray,
    effects: Effects,
    draws: int,
    rng: np.random.Generator,
) -> tuple[np.ndarray, np.ndarray]:
    """Draw the effect of each month, given the known days.

    Parameters
    ----------
    differences, month
        As for `fit_effects`.
    effects : Effects
    draws : int
    rng : Generator

    Returns
    -------
    expected : ndarray, shape (k, months)
        Expected effect of year and month together.
    drawn : ndarray, shape (draws, k, months)
        Drawn effects. A month without a known day scatters by the full variance within its year.
    """
    months = _by_month(differences, month)
    size, count = len(differences), len(months.days)
    years = -(-count // 12)
    # Information of each month's mean about its year; its own effect and its days are noise.
    tells = np.zeros((years, size, size))
    told = np.zeros((years, size))
    tiny = 1e-9 * np.eye(size)
    noise = {
        int(days): effects.of_month + effects.of_days / days + tiny
        for days in np.unique(months.days[months.days > 0])
    }
    for place in np.flatnonzero(months.days):
        weight = np.linalg.inv(noise[int(months.days[place])])
        tells[place // 12] += weight
        told[place // 12] += weight @ months.mean[place]
    # Years are autocorrelated, so all of them are predicted together.
    apart = np.abs(np.subtract.outer(np.arange(years), np.arange(years)))
    prior = np.kron(effects.lasting**apart, effects.of_year)
    prior += np.kron(np.ones((years, years)), LEVEL_VARIANCE * np.eye(size))
    by_year = np.zeros((years, size, years, size))
    by_year[np.arange(years), :, np.arange(years)] = tells
    weights = by_year.reshape(years * size, years * size)
    doubt = np.linalg.solve(np.eye(years * size) + prior @ weights, prior)
    expected_years = (doubt @ told.ravel()).reshape(years, size)
    scatter = rng.standard_normal((draws, years * size))
    drawn_years = expected_years + (scatter @ _root(doubt)).reshape(draws, years, size)

    of_its_year = np.arange(count) // 12
    expected = expected_years[of_its_year].copy()
    drawn = drawn_years[:, of_its_year].copy()
    scatter = rng.standard_normal((draws, count, size))
    for days in np.unique(months.days):
        of_month, here = effects.of_month, months.days == days
        if days:  # the known days of a month are information about its own effect
            gain = of_month @ np.linalg.inv(noise[int(days)])
            expected[here] += (months.mean[here] - expected[here]) @ gain.T
            drawn[:, here] += (months.mean[here] - drawn[:, here]) @ gain.T
            of_month = of_month - gain @ of_month
        drawn[:, here] += scatter[:, here] @ _root(of_month)
    return expected.T, np.moveaxis(drawn, 1, 2)


def _root(covariance: np.ndarray) -> np.ndarray:
    """The symmetric root of a covariance."""
    variance, direction = np.linalg.eigh((covariance + covariance.T) / 2)
    root: np.ndarray = (direction * np.sqrt(np.maximum(variance, 0.0))) @ direction.T
    return root
