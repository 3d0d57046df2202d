"""Several treatments against one: Student's t for one comparison, Dunnett's test for more."""

from __future__ import annotations

from functools import lru_cache

import numpy as np

_SEED = 1955  # of the integration's random lattice, so that results are reproducible
_POINTS = 2000  # of the lattice per comparison: accurate to about 3e-4


def share_within(t: float, correlations: np.ndarray, freedom: int) -> float:
    """Probability, if no treatment has an effect, that no |t| of several exceeds a bound.

    Parameters
    ----------
    t : float
        The bound.
    correlations : ndarray, shape (comparisons, comparisons)
        Between the differences; 0.5 if no plot is blank.
    freedom : int
        Degrees of freedom of their common standard error.
    """
    from scipy import stats

    count = len(correlations)
    if count == 1:
        return float(1 - 2 * stats.t.sf(t, freedom))
    if not np.isfinite(t):
        return 1.0
    inside = stats.multivariate_t.cdf(
        np.full(count, t),
        shape=correlations,
        df=freedom,
        lower_limit=np.full(count, -t),
        maxpts=_POINTS * count,
        random_state=_SEED,
        allow_singular=True,
    )
    return float(np.clip(inside, 0.0, 1.0))


def critical_value(correlations: np.ndarray, freedom: int, level: float) -> float:
    """Bound that with probability `level` no |t| exceeds, if no treatment has an effect.

    Parameters
    ----------
    correlations, freedom
        As for `share_within`.
    level : float
        0 to 1.
    """
    rows = tuple(tuple(row) for row in np.round(correlations, 9))
    return _critical(rows, freedom, level)


@lru_cache(maxsize=256)
def _critical(rows: tuple[tuple[float, ...], ...], freedom: int, level: float) -> float:
    from scipy import optimize, stats

    count = len(rows)
    least = float(stats.t.isf((1 - level) / 2, freedom))  # of one comparison alone
    if count == 1:
        return least
    most = float(stats.t.isf((1 - level) / 2 / count, freedom))  # Bonferroni's
    correlations = np.array(rows)

    def excess(t: float) -> float:
        return share_within(t, correlations, freedom) - level

    return float(optimize.brentq(excess, 0.98 * least, 1.02 * most, xtol=1e-4))


def equal_correlations(comparisons: int) -> np.ndarray:
    """Correlations of the differences from one treatment if every block is complete."""
    return np.full((comparisons, comparisons), 0.5) + 0.5 * np.eye(comparisons)
