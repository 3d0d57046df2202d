"""Years that take after the year before, by plain loops: an oracle of `climwin.core.dependence`."""

import math

import numpy as np
from scipy import optimize
from scipy import stats as scipy_stats

LAG_ONES = [round(-0.6 + 0.05 * step, 2) for step in range(32)]


def covariance(years, lag_one):
    """Of a first-order autoregressive process of unit variance in some years."""
    return np.array([[float(lag_one) ** abs(a - b) for b in years] for a in years])


def weights(years, values, columns):
    """Residual likelihood of each lag-one correlation, by determinants, scaled to add up to 1."""
    n, k = len(values), len(columns)
    design = np.array(columns, float).T
    logs = []
    for lag_one in LAG_ONES:
        matrix = covariance(years, lag_one)
        inverse = np.linalg.inv(matrix)
        normal = design.T @ inverse @ design
        fit = np.linalg.solve(normal, design.T @ inverse @ values)
        left = values - design @ fit
        squares = left @ inverse @ left
        logs.append(
            -0.5 * math.log(np.linalg.det(matrix))
            - 0.5 * math.log(np.linalg.det(normal))
            - 0.5 * (n - k) * math.log(squares)
        )
    shares = [math.exp(each - max(logs)) for each in logs]
    return [each / sum(shares) for each in shares]


def inflation(years, contrast):
    """Variance of a contrast of ranks of correlated normal values, against independent ones."""
    out = []
    for lag_one in LAG_ONES:
        total = 0.0
        for a, weight in zip(years, contrast, strict=True):
            for b, other in zip(years, contrast, strict=True):
                rank_correlation = 6 / math.pi * math.asin(float(lag_one) ** abs(a - b) / 2)
                total += weight * other * rank_correlation
        out.append(total / sum(weight**2 for weight in contrast))
    return out


def chance(z, shares, inflations):
    """Two-sided chance of z deviations or more, averaged over the correlations."""
    return sum(
        share * 2 * scipy_stats.norm.sf(abs(z) / math.sqrt(more))
        for share, more in zip(shares, inflations, strict=True)
    )


def trend(years, values, level=0.9):
    """Slope, its interval, per year, and p."""
    held = [place for place, value in enumerate(values) if not math.isnan(value)]
    years, values = [int(years[p]) for p in held], np.array([float(values[p]) for p in held])
    n = len(values)
    shares = weights(years, values, [[1] * n, list(years - np.mean(years))])
    more = inflation(years, [place - (n - 1) / 2 for place in range(n)])
    score, slopes = 0, []
    for i in range(n):
        for j in range(i + 1, n):
            score += int(values[j] > values[i]) - int(values[j] < values[i])
            slopes.append((values[j] - values[i]) / (years[j] - years[i]))
    ties = [list(values).count(value) for value in set(values)]
    variance = (n * (n - 1) * (2 * n + 5) - sum(t * (t - 1) * (2 * t + 5) for t in ties)) / 18
    reach = optimize.brentq(lambda z: chance(z, shares, more) - (1 - level), 0, 100, xtol=1e-10)
    reach *= math.sqrt(variance)
    slopes.sort()
    low = slopes[max(round((len(slopes) - reach) / 2) - 1, 0)]
    high = slopes[min(round((len(slopes) + reach) / 2), len(slopes) - 1)]
    z = 0.0 if score == 0 else (abs(score) - 1) / math.sqrt(variance)
    return float(np.median(slopes)), low, high, chance(z, shares, more)


def averaged_chance(years, values):
    """Student's p of the slope by explicit matrices, averaged over the correlations of a process.

    The correlations are equally likely in their arcsine: the prior 1 / sqrt(1 - rho^2).
    """
    n = len(values)
    design = np.array([np.ones(n), years]).T
    logs, chances = [], []
    for step in range(40):
        lag_one = math.sin(math.pi * (step + 0.5) / 40 - math.pi / 2)
        inverse = np.linalg.inv(covariance(years, lag_one))
        normal = design.T @ inverse @ design
        fit = np.linalg.solve(normal, design.T @ inverse @ values)
        squares = (values - design @ fit) @ inverse @ (values - design @ fit)
        error = math.sqrt(squares / (n - 2) * np.linalg.inv(normal)[1, 1])
        chances.append(2 * scipy_stats.t.sf(abs(fit[1]) / error, n - 2))
        determinants = -np.linalg.slogdet(inverse)[1] + np.linalg.slogdet(normal)[1]
        logs.append(-0.5 * determinants - 0.5 * (n - 2) * math.log(squares))
    likely = np.exp(np.array(logs) - max(logs))
    return float(likely @ np.array(chances) / likely.sum())


def process(lag_one, n, rng, series=1):
    """Series of a first-order autoregressive process of unit variance, shape (series, n)."""
    noise = rng.normal(size=(series, n))
    out = noise.copy()
    for year in range(1, n):
        out[:, year] = lag_one * out[:, year - 1] + math.sqrt(1 - lag_one**2) * noise[:, year]
    return out
