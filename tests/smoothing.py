"""Days spread by a normal kernel that keeps their variance: an oracle of `stats.kernel_of`."""

import math
import statistics

from scipy import stats as scipy_stats


def normals(days):
    """Middle and width of the normal curve of each finite day.

    The width is that of Silverman's equation 3.31. Jones (1991) then shrinks days and curves, so
    that their sum has the variance that the days had.
    """
    there = [day for day in map(float, days) if math.isfinite(day)]
    spread = statistics.stdev(there) if len(there) > 1 else 0.0
    if not spread:
        return [(day, 0.5) for day in there]
    lower, _, upper = statistics.quantiles(there, n=4, method="inclusive")
    width = 0.9 * min(spread, (upper - lower) / 1.34) / len(there) ** 0.2
    shrunk = math.sqrt(spread**2 / (spread**2 + width**2))
    middle = statistics.mean(there)
    return [(middle + (day - middle) * shrunk, max(width * shrunk, 0.5)) for day in there]


def above(days, at):
    """Share of the smoothed sample above `at`; infinite days keep theirs."""
    tails = sum(scipy_stats.norm.sf(at, *normal) for normal in normals(days))
    return (tails + sum(day == math.inf for day in days)) / len(days)
