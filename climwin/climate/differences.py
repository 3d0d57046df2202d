"""The difference of two stations by month, and the changes in it.

The difference of two nearby stations cancels the weather that they share. Each step and drift is
tried in it, on top of those already known, with noise that may last for years.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np

EDGE = 24
"""Least number of months on either side of a break (common practice). [month]"""
BREAK_P = 0.004
"""A change in a difference is examined if its p is below this. With noise that lasts for years p is
too small, and any difference may raise an alarm: see `tests/quality/BREAKS.md`."""
MOST_DATES = 200
"""Largest number of dates tried in one record: every second month of 30 years, every sixth of a
century."""

_LEAST_SPREAD_C = 1e-6


class _Noise(NamedTuple):
    """Models of monthly noise: an autoregressive part, and a share of white noise."""

    lag_one: np.ndarray
    white: np.ndarray


_NOISE = _Noise(
    np.array([0.0, 0.3, 0.6, 0.6, 0.8, 0.9, 0.9, 0.95, 0.95, 0.95]),
    np.array([0.0, 0.0, 0.0, 0.5, 0.5, 0.5, 0.8, 0.7, 0.85, 0.93]),
)
"""Noise models with which every difference is searched; the best of them counts."""
_SLOWER = _Noise(np.array([0.95, 0.98, 0.98]), np.array([0.5, 0.5, 0.8]))
"""Noise that lasts longer, or more of it: with these the search would find fewer breaks of stations
far apart, without them sizes and dates seem too certain. They only count when a change is
measured."""
_EVERY_NOISE = _Noise(
    np.concatenate([_NOISE.lag_one, _SLOWER.lag_one]),
    np.concatenate([_NOISE.white, _SLOWER.white]),
)


class Dates(NamedTuple):
    """Changes that are tried, on one axis of months: shape (k, months) each."""

    first: np.ndarray
    """First month after each step; month at which each drift begins or ends."""
    shape: np.ndarray
    """Each change: 0 before a step and 1 after it; a drift rises by 1 from its first to its last
    month."""
    is_step: np.ndarray


def changes_to_try(months: int) -> Dates:
    """Steps at each month, and drifts that begin, or end, at some month.

    Parameters
    ----------
    months : int
        Length of the record.
    """
    time = np.arange(months)
    thin = max(1, -(-months // MOST_DATES))
    steps = np.arange(EDGE, months - EDGE + 1, thin)
    bends = np.arange(EDGE, months - EDGE + 1, max(12, thin))
    rising = np.clip((time - bends[:, None]) / (months - 1 - bends[:, None]), 0, None)
    ending = np.clip(time / bends[:, None], None, 1)
    straight = time[None] / (months - 1)
    shape = np.vstack([(time >= steps[:, None]).astype(float), straight, rising, ending])
    first = np.concatenate([steps, [0], bends, bends])
    return Dates(first, shape, np.arange(len(first)) < len(steps))


class Whitened(NamedTuple):
    """Whitened columns, for each model in `_EVERY_NOISE`."""

    columns: np.ndarray
    """Shape (noises, columns, known months)."""
    log_determinant: np.ndarray


def whitened(columns: np.ndarray, known: np.ndarray) -> Whitened:
    """Standardised one-step prediction errors of each column, for each model in `_EVERY_NOISE`.

    Parameters
    ----------
    columns : ndarray, shape (c, months)
        Values; unknown months are not read.
    known : ndarray of bool, shape (months,)
        Months that have a value.

    Notes
    -----
    These are the innovations of a Kalman filter whose state is a first-order autoregressive
    process, observed with white noise. Gaps only lengthen the time to the next observation.
    """
    lag_one, white = _EVERY_NOISE.lag_one, _EVERY_NOISE.white
    state = np.zeros((len(lag_one), len(columns)))
    variance = 1 - white
    log_determinant = np.zeros(len(lag_one))
    out = np.empty((known.sum(), len(lag_one), len(columns)))
    place = 0
    for month in range(len(known)):
        if month:
            state *= lag_one[:, None]
            variance = lag_one**2 * variance + (1 - lag_one**2) * (1 - white)
        if not known[month]:
            continue
        total = variance + white
        innovation = columns[:, month] - state
        out[place] = innovation / np.sqrt(total)[:, None]
        state += (variance / total)[:, None] * innovation
        variance = variance * (1 - variance / total)
        log_determinant += np.log(total)
        place += 1
    return Whitened(np.moveaxis(out, 0, -1), log_determinant)


class Fit(NamedTuple):
    """The fit of every candidate change in one difference, on top of the known changes."""

    gain: np.ndarray
    """Gain in log likelihood from each, with its best noise model; minus infinity if too few months
    lie on either side. Shape (k,)."""
    t: np.ndarray
    """Size of each over its standard error, averaged over the noise models of the search by how
    well they fit, shape (k,)."""
    size: np.ndarray
    """Size of each, averaged over all noise models by their restricted likelihood, shape (k,).
    [degC]"""
    error: np.ndarray
    """Its standard error, shape (k,). [degC]"""
    restricted: np.ndarray
    """Logarithm of the restricted likelihood of each, summed over noise models, shape (k,): it
    allows for the size and for the noise, which are not known. Minus infinity as for `gain`."""
    freedom: int

    @property
    def p(self) -> float:
        """The p value of the most marked change, see `chance_of`."""
        best = float(self.gain.max())
        if not np.isfinite(best):
            return 1.0
        months = self.freedom + 2
        squared = self.freedom * np.expm1(2 * max(best, 0.0) / months)
        return chance_of(float(np.sqrt(squared)), EDGE / max(months, 2 * EDGE + 1))


def chance_of(deviation: float, edge: float) -> float:
    """Probability that the most marked step in pure noise deviates this far.

    Parameters
    ----------
    deviation : float
        Deviation of the most marked step, in standard deviations.
    edge : float
        Share of the record before the first step that is tried, and after the last.

    Notes
    -----
    Steps at every date are a standardised Brownian bridge; the probability that it reaches a level
    is Vostrikova's approximation [1]_.

    References
    ----------
    .. [1] L. Ju. Vostrikova, "Detection of a 'disorder' in a Wiener process," Theory of Probability
       and its Applications, vol. 26, pp. 356-362, 1981; as in M. Csörgő and L. Horváth, "Limit
       Theorems in Change-Point Analysis," Wiley, 1997, equation 1.3.26 (both from memory).
    """
    if deviation < 2:
        return 1.0
    spread = 2 * np.log((1 - edge) / edge)
    density = deviation * np.exp(-(deviation**2) / 2) / np.sqrt(2 * np.pi)
    return float(min(1.0, density * (spread * (1 - 1 / deviation**2) + 4 / deviation**2)))


class Pair:
    """The difference of two stations by month, ready to be fitted."""

    def __init__(self, difference: np.ndarray, dates: Dates) -> None:
        """Of monthly differences freed of their yearly course, shape (months,)."""
        self.known = np.isfinite(difference)
        self._scale = _spread_by_month(difference)
        self._dates = dates
        # Winter months scatter more than summer months, and count less.
        columns = np.vstack([difference, np.ones_like(difference), dates.shape]) / self._scale
        self._white = whitened(columns, self.known)
        before = (dates.shape[:, self.known] < 0.5).sum(-1)
        self._allowed = np.minimum(before, self.known.sum() - before) >= EDGE

    def fitted(self, given: Sequence[int]) -> Fit:
        """Fit every change, on top of the mean and the changes `given` by their positions."""
        found = self._regressed(given)
        allowed = self._allowed & found.own.all(0) & self._apart(given)
        gain, t = found.searched()
        size, error, restricted = found.measured()
        return Fit(
            gain=np.where(allowed, gain, -np.inf),
            t=t,
            size=size,
            error=error,
            restricted=np.where(allowed, restricted, -np.inf),
            freedom=found.freedom,
        )

    def _regressed(self, given: Sequence[int]) -> _Regression:
        """Regress the difference on each change, beside the mean and the changes given."""
        columns, log_determinant = self._white
        count = columns.shape[-1]
        base = columns[:, [1, *(2 + place for place in given)]].swapaxes(-1, -2)
        orthonormal, triangle = np.linalg.qr(base)
        value = columns[:, 0] - _along(orthonormal, columns[:, 0])
        changes = columns[:, 2:] - _along(orthonormal, columns[:, 2:])
        squares = np.maximum((value**2).sum(-1), 1e-12)
        lengths = (changes**2).sum(-1)
        # Changes that the mean and the known changes already explain cannot be estimated.
        own = lengths > 1e-6 * (columns[:, 2:] ** 2).sum(-1)
        lengths = np.where(own, lengths, np.inf)
        sizes = np.einsum("mkn,mn->mk", changes, value) / lengths
        taken = np.where(own, sizes**2 * np.where(own, lengths, 0.0), 0.0)
        left = np.maximum(squares[:, None] - taken, 1e-12 * squares[:, None])
        of_base = 2 * np.log(np.abs(np.diagonal(triangle, axis1=-2, axis2=-1))).sum(-1)
        freedom = max(count - base.shape[-1] - 1, 1)
        return _Regression(
            sizes, lengths, own, squares, left, log_determinant, of_base, count, freedom
        )

    def _apart(self, given: Sequence[int]) -> np.ndarray:
        """Steps far enough from the given ones to be distinguished from them."""
        apart = np.ones(len(self._dates.first), bool)
        for place in given:
            if self._dates.is_step[place]:
                near = np.abs(self._dates.first - self._dates.first[place]) < EDGE
                apart &= ~(near & self._dates.is_step)
        return apart


class _Regression(NamedTuple):
    """Regression of a difference on each of k changes, with each of m noise models."""

    sizes: np.ndarray
    """Shape (m, k). [degC]"""
    lengths: np.ndarray
    """Squared length of each whitened change, shape (m, k)."""
    own: np.ndarray
    """Whether a change is not explained by those given, shape (m, k)."""
    squares: np.ndarray
    """Residual sum of squares without any further change, shape (m,)."""
    left: np.ndarray
    """Residual sum of squares with each, shape (m, k)."""
    log_determinant: np.ndarray
    """Of the noise's correlations, shape (m,)."""
    of_base: np.ndarray
    """Log determinant of what is given, shape (m,)."""
    months: int
    """Number of known months."""
    freedom: int

    @property
    def likelihood(self) -> np.ndarray:
        """Profile log likelihood with each change, shape (m, k)."""
        return -(self.log_determinant[:, None] + self.months * np.log(self.left)) / 2

    @property
    def variances(self) -> np.ndarray:
        """Of the sizes, shape (m, k)."""
        return self.left / self.freedom / self.lengths

    def searched(self) -> tuple[np.ndarray, np.ndarray]:
        """Gain in log likelihood and t of each change, by the noise models of the search."""
        searched = slice(len(_NOISE.lag_one))
        without = -(self.log_determinant + self.months * np.log(self.squares)) / 2
        likelihood = self.likelihood[searched]
        weight = np.exp(likelihood - likelihood.max(0))
        size, error = _averaged(weight, self.sizes[searched], self.variances[searched])
        return likelihood.max(0) - without[searched].max(), size / error

    def measured(self) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
        """Size, its error and the restricted log likelihood of each change, by all noise models.

        They are weighted by the restricted likelihood, since a step that is fitted looks like
        lasting noise and hides some of it.
        """
        restricted = -(self.log_determinant + self.of_base)[:, None] / 2
        restricted = restricted - (self.freedom * np.log(self.left) + np.log(self.lengths)) / 2
        best = np.where(np.isfinite(restricted), restricted, -1e300).max(0)
        weight = np.where(self.own, np.exp(restricted - best), 1.0)
        size, error = _averaged(weight, self.sizes, self.variances)
        return size, error, np.log(weight.sum(0)) + best


def _averaged(
    weight: np.ndarray, sizes: np.ndarray, variances: np.ndarray
) -> tuple[np.ndarray, np.ndarray]:
    """Mean size over noise models and its standard error, from arrays of shape (m, k)."""
    share = weight / weight.sum(0)
    size = (share * sizes).sum(0)
    variance = (share * (variances + (sizes - size) ** 2)).sum(0)
    return size, np.where(variance > 0, np.sqrt(variance), np.inf)


def _along(orthonormal: np.ndarray, columns: np.ndarray) -> np.ndarray:
    """Projection of columns, shape (m, ..., n), on orthonormal ones, (m, n, b)."""
    if columns.ndim == 2:
        return _along(orthonormal, columns[:, None])[:, 0]
    return np.asarray((columns @ orthonormal) @ orthonormal.swapaxes(-1, -2))


def _spread_by_month(difference: np.ndarray) -> np.ndarray:
    """Relative spread, about 1, of each month's calendar month with its two neighbours."""
    # From one year to the next, so that a step does not count.
    change = difference[12:] - difference[:-12]
    calendar = np.arange(len(change)) % 12
    known = np.isfinite(change)
    of_month = np.bincount(calendar[known], change[known] ** 2, minlength=12)
    in_month = np.bincount(calendar[known], minlength=12)
    # Of each month and the two beside it.
    squares, counts = (np.roll(each, 1) + each + np.roll(each, -1) for each in (of_month, in_month))
    usual = squares.sum() / max(counts.sum(), 1)
    if usual < _LEAST_SPREAD_C**2:
        return np.ones(len(difference))
    mean = np.where(counts > 0, squares / np.maximum(counts, 1), usual)
    relative = np.sqrt(np.maximum(mean / usual, 0.1))
    return np.asarray(relative[np.arange(len(difference)) % 12])
