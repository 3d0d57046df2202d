"""Random effects of months, seasons and years in a record's differences from stations nearby.

A first-order autoregression of days forgets within a week. The differences between two stations do
not: one has a wetter summer, a new shelter, a growing town. So each month, each season and each
year has a random effect, as in an analysis of variance with months nested in seasons and seasons
nested in years [1]_. A dry summer sets two stations apart more than a dry winter does, so the
variances of months and seasons differ by the time of the year.

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
MONTHS_OF_A_SEASON = 2
"""Least number of such months for a season to count (our choice)."""
SEASONS_OF_A_YEAR = 2
"""Least number of such seasons for a year to count (our choice)."""
LEAST_YEARS = 6
"""Least number of such years for fitting effects (common practice)."""
POOLED_YEARS = 10
"""The variance that all seasons have in common counts as much as so many years of one season, since
the variance of a few values is uncertain (our choice)."""
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
    """Covariances of the effects of years, seasons, months and days, for k variables.

    Seasons are December to February, March to May, and so on; a December belongs to the next year.
    """

    of_year: np.ndarray
    """Covariance of the effects of years, shape (k, k)."""
    lasting: float
    """Correlation of a year's effect with that of the year before."""
    of_season: np.ndarray
    """Covariance of the effects of seasons within their year, shape (4, k, k)."""
    of_month: np.ndarray
    """Covariance of the effects of months within their season, shape (4, k, k)."""
    of_days: np.ndarray
    """n times the covariance of the mean of n days, given their month's effect; shape (4, k, k)."""


class _Months(NamedTuple):
    """Means by month, in order of time."""

    mean: np.ndarray
    """Shape (months, k); 0 if no day is known."""
    days: np.ndarray
    """Number of known days, shape (months,)."""


class _Seen(NamedTuple):
    """What the known months of a season say of it."""

    mean: np.ndarray
    """Shape (k,)."""
    weight: np.ndarray
    """Inverse of the covariance of `mean` about its year's effect, shape (k, k)."""


class _Drawn(NamedTuple):
    """Effects of n years, seasons or months."""

    expected: np.ndarray
    """Shape (n, k)."""
    drawn: np.ndarray
    """Shape (draws, n, k)."""


def _by_month(differences: np.ndarray, place: np.ndarray) -> _Months:
    """Means of each month over the days on which all variables are known."""
    known = ~np.isnan(differences).any(axis=0)
    count = np.bincount(place[known], minlength=place.max() + 1)
    sums = [np.bincount(place[known], row[known], minlength=len(count)) for row in differences]
    return _Months(np.stack(sums, axis=1) / np.maximum(count, 1)[:, None], count)


def fit_effects(differences: np.ndarray, month: np.ndarray) -> Effects:
    """Estimate the variance components of months, seasons and years by moments.

    Parameters
    ----------
    differences : ndarray, shape (k, days)
        A record's departures minus those predicted from stations nearby, NaN where missing.
    month : ndarray of int, shape (days,)
        Months since the first January, in order.

    Returns
    -------
    Effects
        All zero if fewer than 6 years have 2 seasons with 2 months of 20 days.
    """
    size = len(differences)
    month = month + 1  # years begin in December, so that winters stay whole
    months = _by_month(differences, month)
    years = -(-len(months.days) // 12)
    missing = 12 * years - len(months.days)
    mean = np.pad(months.mean, ((0, missing), (0, 0))).reshape(years, 4, 3, size)
    days = np.pad(months.days, (0, missing)).reshape(years, 4, 3)

    is_known = days >= DAYS_OF_A_MONTH
    is_known &= (is_known.sum(axis=2) >= MONTHS_OF_A_SEASON)[:, :, None]
    number = is_known.sum(axis=2)  # of known months, shape (years, 4)
    has_season = number > 0
    is_year = has_season.sum(axis=1) >= SEASONS_OF_A_YEAR
    if is_year.sum() < LEAST_YEARS:
        nothing = np.zeros((4, size, size))
        return Effects(nothing[0], 0.0, nothing, nothing, np.tile(np.eye(size), (4, 1, 1)))
    of_days = _of_days(differences - months.mean[month].T, month, float(days[is_known].mean()))

    total = np.where(is_known[..., None], mean, 0.0).sum(axis=2)
    of_season = total / np.maximum(number, 1)[..., None]
    apart = np.where(is_known[..., None], mean - of_season[:, :, None], 0.0)
    within = np.einsum("ysmi,ysmj->sij", apart, apart)
    within /= np.maximum((number - has_season).sum(axis=0), 1)[:, None, None]
    a_day = np.where(is_known, 1 / np.maximum(days, 1), 0.0).sum(axis=(0, 2))
    a_day /= np.maximum(number.sum(axis=0), 1)
    months_alone = within - of_days * a_day[:, None, None]

    count = has_season.sum(axis=0)  # of known years of each season, shape (4,)
    usual = np.where(has_season[..., None], of_season, 0.0).sum(axis=0)
    usual /= np.maximum(count, 1)[:, None]
    about = np.where(has_season[..., None], of_season - usual, 0.0)
    between = np.einsum("ysi,ysj->sij", about, about) / np.maximum(count - 1, 1)[:, None, None]
    of_year = _proper(_in_common(about, has_season))
    a_month = np.where(has_season, 1 / np.maximum(number, 1), 0.0).sum(axis=0)
    a_month /= np.maximum(count, 1)
    seasons_alone = between - of_year - within * a_month[:, None, None]
    return Effects(
        of_year,
        _lasting(about, has_season, float(np.trace(of_year))),
        _shrunk(seasons_alone, count),
        _shrunk(months_alone, count),
        of_days,
    )


def _of_days(noise: np.ndarray, month: np.ndarray, days: float) -> np.ndarray:
    """`_long_run` of each season, shape (4, k, k); of all if a season has no known day."""
    known = ~np.isnan(noise).any(axis=0)
    season = month // 3 % 4
    return np.stack(
        [
            _long_run(np.where(season == each, noise, np.nan), days)
            if known[season == each].any()
            else _long_run(noise, days)
            for each in range(4)
        ]
    )


def _in_common(about: np.ndarray, has_season: np.ndarray) -> np.ndarray:
    """Covariance of two seasons of the same year, which is that of the effects of years.

    Parameters
    ----------
    about : ndarray, shape (years, 4, k)
        Means of seasons minus their usual values; 0 where unknown.
    has_season : ndarray of bool, shape (years, 4)
    """
    year = about.sum(axis=1)
    products = year.T @ year - np.einsum("ysi,ysj->ij", about, about)
    number = has_season.sum(axis=1)
    pairs = float((number * (number - 1)).sum())
    years = np.count_nonzero(number > 1)
    # The usual values come from the same years, which takes one of them away.
    return np.asarray(products / max(pairs, 1.0) * years / max(years - 1, 1))


def _lasting(about: np.ndarray, has_season: np.ndarray, spread: float) -> float:
    """Correlation of the effects of successive years; 0 if they have none."""
    number = has_season.sum(axis=1)
    year = about.sum(axis=1) / np.maximum(number, 1)[:, None]
    follows = np.flatnonzero((number[1:] > 0) & (number[:-1] > 0))
    if spread <= 0 or not len(follows):
        return 0.0
    together = float((year[follows] * year[follows + 1]).sum() / len(follows))
    return float(np.clip(together / spread, 0.0, MOST_LASTING))


def _shrunk(by_season: np.ndarray, years: np.ndarray) -> np.ndarray:
    """Covariances of the seasons drawn towards their mean, and made valid; shape (4, k, k)."""
    pooled = np.average(by_season, axis=0, weights=years)
    weight = (years / (years + POOLED_YEARS))[:, None, None]
    return np.stack([_proper(each) for each in weight * by_season + (1 - weight) * pooled])


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
        Expected effect of year, season and month together.
    drawn : ndarray, shape (draws, k, months)
        Drawn effects. A month without a known day scatters by the full variance within its season.
    """
    months = _by_month(differences, month + 1)  # years begin in December, as in `fit_effects`
    noise = _noise_of_months(effects, months.days)
    seen = _seen_seasons(months, noise, effects)
    of_years = _draw_years(seen, -(-len(months.days) // 12), effects, draws, rng)
    of_seasons = _draw_seasons(of_years, seen, effects, rng)
    expected, drawn = _draw_months(of_seasons, months, noise, effects, rng)
    return expected[1:].T, np.moveaxis(drawn[:, 1:], 1, 2)


def _noise_of_months(effects: Effects, days: np.ndarray) -> dict[tuple[int, int], np.ndarray]:
    """Covariance of a month's mean about its season's effect, by season and known days."""
    tiny = 1e-9 * np.eye(len(effects.of_year))
    return {
        (season, int(known)): effects.of_month[season] + effects.of_days[season] / known + tiny
        for season in range(4)
        for known in np.unique(days[days > 0])
    }


def _seen_seasons(
    months: _Months, noise: dict[tuple[int, int], np.ndarray], effects: Effects
) -> dict[int, _Seen]:
    """Each season with a known month, by its number, in order of time."""
    size, seasons = months.mean.shape[1], -(-len(months.days) // 3)
    weights, weighted = np.zeros((seasons, size, size)), np.zeros((seasons, size))
    for place in np.flatnonzero(months.days).tolist():
        weight = np.linalg.inv(noise[place // 3 % 4, int(months.days[place])])
        weights[place // 3] += weight
        weighted[place // 3] += weight @ months.mean[place]
    seen = {}
    for place in np.flatnonzero(weights.any(axis=(1, 2))).tolist():
        doubt = np.linalg.inv(weights[place])
        apart = effects.of_season[place % 4] + doubt
        seen[place] = _Seen(doubt @ weighted[place], np.linalg.inv(apart))
    return seen


def _draw_years(
    seen: dict[int, _Seen], years: int, effects: Effects, draws: int, rng: np.random.Generator
) -> _Drawn:
    """The effects of all years together, since they are autocorrelated."""
    size = len(effects.of_year)
    weights, weighted = np.zeros((years, size, size)), np.zeros((years, size))
    for place, season in seen.items():
        weights[place // 4] += season.weight
        weighted[place // 4] += season.weight @ season.mean
    years_apart = np.abs(np.subtract.outer(np.arange(years), np.arange(years)))
    prior = np.kron(effects.lasting**years_apart, effects.of_year)
    prior += np.kron(np.ones((years, years)), LEVEL_VARIANCE * np.eye(size))
    by_year = np.zeros((years, size, years, size))
    by_year[np.arange(years), :, np.arange(years)] = weights
    all_weights = by_year.reshape(years * size, years * size)
    doubt = np.linalg.solve(np.eye(years * size) + prior @ all_weights, prior)
    expected = (doubt @ weighted.ravel()).reshape(years, size)
    scatter = rng.standard_normal((draws, years * size)) @ _root(doubt)
    return _Drawn(expected, expected + scatter.reshape(draws, years, size))


def _draw_seasons(
    years: _Drawn, seen: dict[int, _Seen], effects: Effects, rng: np.random.Generator
) -> _Drawn:
    """The effects of year and season, of the four seasons of each year in order of time."""
    expected = np.repeat(years.expected, 4, axis=0)
    drawn = np.repeat(years.drawn, 4, axis=1)
    scatter = rng.standard_normal(drawn.shape)
    for place in range(len(expected)):
        of_season = effects.of_season[place % 4]
        if place in seen:
            gain = of_season @ seen[place].weight
            expected[place] += gain @ (seen[place].mean - expected[place])
            drawn[:, place] += (seen[place].mean - drawn[:, place]) @ gain.T
            of_season = of_season - gain @ of_season
        drawn[:, place] += scatter[:, place] @ _root(of_season)
    return _Drawn(expected, drawn)


def _draw_months(
    seasons: _Drawn,
    months: _Months,
    noise: dict[tuple[int, int], np.ndarray],
    effects: Effects,
    rng: np.random.Generator,
) -> _Drawn:
    """The effects of year, season and month, of each month in order of time."""
    of_its_season = np.arange(len(months.days)) // 3
    expected = seasons.expected[of_its_season].copy()
    drawn = seasons.drawn[:, of_its_season].copy()
    scatter = rng.standard_normal(drawn.shape)
    for season, days in np.unique(np.stack([of_its_season % 4, months.days]), axis=1).T:
        of_month = effects.of_month[season]
        here = (months.days == days) & (of_its_season % 4 == season)
        if days:  # the known days of a month are information about its own effect
            gain = of_month @ np.linalg.inv(noise[int(season), int(days)])
            expected[here] += (months.mean[here] - expected[here]) @ gain.T
            drawn[:, here] += (months.mean[here] - drawn[:, here]) @ gain.T
            of_month = of_month - gain @ of_month
        drawn[:, here] += scatter[:, here] @ _root(of_month)
    return _Drawn(expected, drawn)


def _root(covariance: np.ndarray) -> np.ndarray:
    """The symmetric root of a covariance."""
    variance, direction = np.linalg.eigh((covariance + covariance.T) / 2)
    root: np.ndarray = (direction * np.sqrt(np.maximum(variance, 0.0))) @ direction.T
    return root
