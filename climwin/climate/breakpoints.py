"""Detect a sudden step, or a drift, in yearly means, as when a station was moved."""

from __future__ import annotations

from collections.abc import Sequence
from functools import lru_cache
from itertools import pairwise
from typing import NamedTuple

import numpy as np
import xarray as xr

from climwin.core.dependence import (
    LAG_ONES,
    Whitening,
    correlations,
    lag_one_weights,
    slope_beside,
    whitening,
)
from climwin.core.errors import DataGapError
from climwin.core.memo import remembered
from climwin.core.provenance import check_alike, provenance
from climwin.core.schema import apply, variable
from climwin.core.seasons import by_year
from climwin.core.stats import LEVEL

WHOLE_YEAR = 330
"""Least number of days for a yearly mean (common practice). [day]"""
EDGE = 5
"""Least number of years on either side of a step: one odd year does not mean a moved station.
[year]"""
BREAK_P = 0.02
"""A change is clear if its p is below this (common practice), so one record in fifty without a
change shows one nevertheless."""
SIMULATED = 999
"""Number of simulated series of noise for each of `NULL_LAG_ONES`."""
_BATCHES = (0, 50, 200, 600, SIMULATED)
"""Ends of the batches of series; if no change is clear, the first ones suffice."""
NULL_LAG_ONES = (0.0, 0.2, 0.4, 0.6, 0.8)
"""Lag-one correlations of the simulated noise; p is interpolated between them."""
FITTED_LAG_ONES = tuple(np.round(np.arange(-4, 10) * 0.1, 1).tolist())
"""Lag-one correlations with which each model is fitted; the best fit counts."""
CLEARLY = 2.0
"""Least difference in log likelihood between a step and a gradual change to call the better one
clear: odds of seven to one, "positive evidence" by R. E. Kass and A. E. Raftery, "Bayes factors,"
Journal of the American Statistical Association, vol. 90, pp. 773-795, 1995 (from memory)."""
KINDS = ("step", "drift", "step or drift")
"""Kinds of clear changes; the third if neither fits clearly better."""

_TESTED = ("tmin", "tmax")


@remembered
def detect_breakpoints(daily: xr.Dataset, neighbour: xr.Dataset | None = None) -> xr.Dataset:
    """Find the most marked step in yearly means, and whether chance or a drift explains it.

    Parameters
    ----------
    daily : Dataset, dims (..., time)
        ``tmin`` and ``tmax``. [degC]
    neighbour : Dataset, dims (..., time), optional
        Record of a station nearby. The difference of the two is then tested. Weather and warming
        that both share cancel out, so much smaller steps show.

    Returns
    -------
    Dataset, dims (variable, ...)
        ``break_year``, the first year after the step, which lies between ``break_low`` and
        ``break_high`` (90 %); its ``step`` [degC], later minus earlier; ``p``, how often noise
        alone, as autocorrelated as this record, has a change as marked; ``kind``, if p is below
        0.02: ``"step"``, ``"drift"`` if a gradual change fits clearly better, ``"step or drift"``
        if neither does, else empty; ``drift`` [degC per decade], the slope of a linear drift in
        place of a clear change; ``known``, the number of years with a mean. NaN for fewer than 10
        known years.

    Raises
    ------
    ValueError
        If a record lacks a variable, or one of the two is a scenario.
    DataGapError
        If the two have no day in common.

    Notes
    -----
    In a record alone the step is sought on top of a linear trend [2]_, so that steady warming is
    not mistaken for a step. Against a neighbour there is no trend to allow for, as in
    Alexandersson's standard normal homogeneity test [1]_. Every step with 5 years on either side
    and every gradual change is tried, with autocorrelated noise [3]_. The statistic is the ratio of
    the best likelihoods with and without a change, each with its own lag-one correlation [4]_. p is
    the share of 999 simulated series with the same known years, for correlations of 0 to 0.8,
    averaged by how well each fits the residuals from mean (and trend). In simulations of 20 to 40
    years with a correlation of 0 to 0.4, and of 80 years without, 0.7 to 2.0 % of the records
    without a change fall below 0.02, and a slow drift is called a step in at most 15 %.

    A gradual change is a linear drift that begins in some year; on top of a trend it is a bend
    [5]_. A step does not tell its cause: a moved station, another instrument, a felled tree, or the
    climate itself.

    References
    ----------
    .. [1] H. Alexandersson, "A homogeneity test applied to precipitation data," Journal of
       Climatology, vol. 6, pp. 661-675, 1986.
    .. [2] X. L. Wang, "Comments on 'Detection of undocumented changepoints: a revision of the
       two-phase regression model'," Journal of Climate, vol. 16, pp. 3383-3385, 2003; from memory.
    .. [3] X. L. Wang, "Accounting for autocorrelation in detecting mean shifts in climate data
       series using the penalized maximal t or F test," Journal of Applied Meteorology and
       Climatology, vol. 47, pp. 2423-2444, 2008; from memory.
    .. [4] M. Robbins, C. Gallagher, R. Lund and A. Aue, "Mean shift testing in correlated data,"
       Journal of Time Series Analysis, vol. 32, pp. 498-511, 2011; from memory.
    .. [5] J. Reeves et al., "A review and comparison of changepoint detection techniques for
       climate data," Journal of Applied Meteorology and Climatology, vol. 46, pp. 900-915, 2007;
       from memory.

    Examples
    --------
    A record that reads 2 degC warmer from 2005 on, as with another instrument:

    >>> import climwin as cw
    >>> daily = cw.read_daily(cw.sample())
    >>> moved = daily.assign(tmin=daily["tmin"] + 2.0 * (daily["time"].dt.year >= 2005))
    >>> step = cw.detect_breakpoints(moved, daily).sel(variable="tmin")
    >>> int(step["break_year"]), step["step"].round(1).item(), step["kind"].item()
    (2005, 2.0, 'step')
    """
    series = [yearly_means(_less_neighbour(daily, neighbour, name)) for name in _TESTED]
    yearly = xr.concat(series, xr.DataArray(list(_TESTED), dims="variable", name="variable"))
    results = apply(
        lambda year, value: sudden_step(year, value, beside_trend=neighbour is None),
        yearly["year"],
        yearly,
        core=[["year"]] * 2,
        out=[[]] * len(Change._fields),
        dtypes=[float] * (len(Change._fields) - 1) + [int],
        each=True,
    )
    out = xr.Dataset(dict(zip(Change._fields, results, strict=True)))
    names = np.array([*KINDS, ""])
    out["kind"] = apply(lambda number: names[number], out["kind"], core=[[]], dtypes=[names.dtype])
    out["known"] = yearly.notnull().sum("year")
    degrees = {"step": "degC", "drift": "degC per decade"}
    for name in ("break_year", "break_low", "break_high", "step", "drift", "p", "known"):
        out[name].attrs = {"units": degrees.get(name, "1")}
    return out.assign_attrs(provenance(daily))


def _less_neighbour(daily: xr.Dataset, neighbour: xr.Dataset | None, name: str) -> xr.DataArray:
    """A variable of the record, minus the neighbour's if there is one."""
    if neighbour is None:
        return variable(daily, name)
    check_alike(daily, neighbour)
    difference = (variable(daily, name) - variable(neighbour, name)).rename(name)
    if not difference.sizes["time"]:
        msg = "The record and its neighbour have no day in common. Take another neighbour."
        raise DataGapError(msg)
    return difference


def yearly_means(values: xr.DataArray) -> xr.DataArray:
    """Yearly means of departures from the usual year.

    Parameters
    ----------
    values : DataArray, dims (..., time)
        A daily variable.

    Returns
    -------
    DataArray, dims (..., year)
        In the unit of `values`; NaN where fewer than 330 days have a value. A missing summer day
        does not make a year cold, because only its departure is missing.
    """
    out = apply(_departures, by_year(values), core=[["year", "day_of_year"]], out=[["year"]])
    return out.assign_attrs(units=values.attrs.get("units", "degC"))


def _departures(grid: np.ndarray) -> np.ndarray:
    """Kernel of `yearly_means`: shape (..., years, 365) to (..., years)."""
    present = np.isfinite(grid)
    # Sums and counts, because np.nanmean warns if no year has a day.
    usual = np.where(present, grid, 0).sum(-2) / np.maximum(present.sum(-2), 1)
    total = np.where(present, grid - usual[..., None, :], 0).sum(-1)
    days = present.sum(-1)
    return np.where(days >= WHOLE_YEAR, total / np.maximum(days, 1), np.nan)


# --- the step -----------------------------------------------------------------------------


class Change(NamedTuple):
    """The most marked step of some yearly values, see `detect_breakpoints`."""

    break_year: float
    break_low: float
    break_high: float
    step: float
    drift: float
    p: float
    kind: int  # position in KINDS; -1 if no change is clear

    @property
    def is_step(self) -> bool:
        """Whether a clear change may be sudden: no clear drift."""
        return self.kind >= 0 and KINDS[self.kind] != "drift"


NO_CHANGE = Change(np.nan, np.nan, np.nan, np.nan, np.nan, np.nan, -1)


def sudden_step(
    year: np.ndarray, value: np.ndarray, *, beside_trend: bool, enough_p: float = np.inf
) -> Change:
    """The most marked step of yearly values, its p and its kind; see `detect_breakpoints`.

    If it is enough to know that p is at least `enough_p`, give it: the simulation stops once that
    is certain, and p is then a lower bound.
    """
    known = np.isfinite(value)
    if known.sum() < 2 * EDGE:
        return NO_CHANGE
    years = tuple(int(each) for each in year[known])
    values = value[known] - value[known].mean()
    tools = fitting_tools(years, beside_trend)
    first_after = np.array(years)[EDGE : len(years) - EDGE + 1]
    # Without any scatter, no step explains anything.
    if float((values**2).sum()) < 1e-12:
        return Change(float(first_after[0]), np.nan, np.nan, 0.0, 0.0, 1.0, -1)
    without, step, gradual, sizes = likelihoods(tools, values)
    ratio = float(max(step.max(), gradual.max()) - without.max())
    p = _chance(years, values, ratio, beside_trend=beside_trend, enough_p=enough_p)
    place, correlation = np.unravel_index(step.argmax(), step.shape)
    low, high = _likely(step)
    kind = -1
    if p < BREAK_P:
        better = step.max() - gradual.max()
        kind = 0 if better > CLEARLY else 1 if better < -CLEARLY else 2
    return Change(
        break_year=float(first_after[place]),
        break_low=float(first_after[low]),
        break_high=float(first_after[high]),
        step=float(sizes[place, correlation]),
        drift=_drift_per_decade(years, values) if kind >= 0 else np.nan,
        p=p,
        kind=kind,
    )


class Tools(NamedTuple):
    """Precomputed fits of every change for one set of years and one lag-one correlation.

    Rows have one column for each year; their product with the values equals that of whitened values
    with a whitened column or change.
    """

    whitening: Whitening
    squares: tuple[np.ndarray, np.ndarray]
    """See `Whitening.of_squares`."""
    base: np.ndarray
    """Rows of mean (and trend), orthonormal once whitened, shape (b, n)."""
    changes: np.ndarray
    """Rows of steps, then of gradual changes, orthogonal to mean (and trend) and normalised, shape
    (k + j, n)."""
    length: np.ndarray
    """Length of each step before normalisation, shape (k,)."""

    @property
    def steps(self) -> np.ndarray:
        """Rows of steps only, shape (k, n)."""
        return self.changes[: len(self.length)]

    @property
    def gradual(self) -> np.ndarray:
        """Rows of gradual changes only, shape (j, n)."""
        return self.changes[len(self.length) :]


@lru_cache(maxsize=8)
def fitting_tools(
    years: tuple[int, ...], beside_trend: bool, edge: int = EDGE
) -> tuple[Tools, ...]:
    """Tools for each of `FITTED_LAG_ONES`; `edge` years must lie on either side of a step."""
    x = np.array(years, float)
    base = [np.ones_like(x), x - x.mean()] if beside_trend else [np.ones_like(x)]
    first_after = np.arange(edge, len(x) - edge + 1)
    steps = (np.arange(len(x)) >= first_after[:, None]).astype(float)
    # Drifts that begin in any of these years; without a trend, also one from the first year on.
    gradual = np.maximum(x - x[first_after - 1][:, None], 0)
    if not beside_trend:
        gradual = np.vstack([gradual, x - x[0]])
    changes = np.vstack([steps, gradual])
    out = []
    for lag_one in FITTED_LAG_ONES:
        years_apart = whitening(x, lag_one)
        orthonormal, _ = np.linalg.qr(years_apart.whiten(np.stack(base)).T)
        white = years_apart.whiten(changes)
        free = white - (white @ orthonormal) @ orthonormal.T
        length = np.sqrt((free**2).sum(-1))
        out.append(
            Tools(
                whitening=years_apart,
                squares=years_apart.of_squares,
                base=years_apart.of_values(orthonormal.T),
                changes=years_apart.of_values(free / length[:, None]),
                length=length[: len(steps)],
            )
        )
    return tuple(out)


class Likelihoods(NamedTuple):
    """Logarithms of likelihoods of one series by lag-one correlation, and the sizes of steps."""

    without: np.ndarray
    """Without a change, shape (correlations,)."""
    steps: np.ndarray
    """With each step, shape (steps, correlations)."""
    gradual: np.ndarray
    """With each gradual change, shape (gradual changes, correlations)."""
    step_sizes: np.ndarray
    """Size of each step, shape (steps, correlations). [unit of the values]"""


def likelihoods(tools: Sequence[Tools], values: np.ndarray) -> Likelihoods:
    """Fit every change to one series.

    Parameters
    ----------
    tools : sequence of Tools
        From `fitting_tools`.
    values : ndarray, shape (n,)
        Yearly values.

    Returns
    -------
    Likelihoods
    """
    by_correlation = []
    for each in tools:
        n, steps = len(values), len(each.length)
        determinant = each.whitening.log_determinant
        white = each.whitening.whiten(values)
        squares = white @ white - ((each.base @ values) ** 2).sum()
        along = each.changes @ values
        with_change = _log_likelihood(determinant, _left(squares, along), n)
        by_correlation.append(
            (
                _log_likelihood(determinant, squares, n),
                with_change[:steps],
                with_change[steps:],
                along[:steps] / each.length,
            )
        )
    return Likelihoods(*(np.stack(of, axis=-1) for of in zip(*by_correlation, strict=True)))


def _left(squares: np.ndarray, along: np.ndarray) -> np.ndarray:
    """Residual sum of squares after fitting a change; `along` is the projection on it."""
    return np.maximum(squares - along**2, 1e-12 * squares)


def _log_likelihood(determinant: np.ndarray | float, squares: np.ndarray, n: int) -> np.ndarray:
    """Profile log likelihood of `n` values with this residual sum of squares."""
    return np.asarray(-(determinant + n * np.log(squares)) / 2)


def likelihood_ratio(
    tools: Sequence[Tools], values: np.ndarray, *, steps_alone: bool = False
) -> np.ndarray:
    """Logarithm of the best likelihood with a change, sudden or gradual, over that without one.

    Parameters
    ----------
    tools : sequence of Tools
        From `fitting_tools`.
    values : ndarray, shape (..., n)
        Series of yearly values.
    steps_alone : bool
        Whether to leave out gradual changes.

    Returns
    -------
    ndarray, shape (...)
    """
    n = values.shape[-1]
    squares = _squares_beside_base(tools, values)
    along = np.empty_like(squares)
    for number, each in enumerate(tools):
        changes = each.steps if steps_alone else each.changes
        along[..., number] = np.abs(values @ changes.T).max(-1)
    determinants = np.array([each.whitening.log_determinant for each in tools])
    without = _log_likelihood(determinants, squares, n).max(-1)
    with_change = _log_likelihood(determinants, _left(squares, along), n).max(-1)
    return np.asarray(with_change - without)


def _squares_beside_base(tools: Sequence[Tools], values: np.ndarray) -> np.ndarray:
    """Residual sum of squares after fitting mean (and trend), shape (..., correlations).

    For values about 0 without a strong trend, since the fit's squares are subtracted.
    """
    own, with_next = (
        np.stack(weights, -1) for weights in zip(*(each.squares for each in tools), strict=True)
    )
    squares = values**2 @ own + (values[..., 1:] * values[..., :-1]) @ with_next
    of_base = [((values @ each.base.T) ** 2).sum(-1) for each in tools]
    return np.asarray(squares - np.stack(of_base, -1))


def _likely(step: np.ndarray) -> tuple[int, int]:
    """First and last of the likeliest steps that together have 90 % of the likelihood.

    `step` has shape (steps, correlations); the likelihood is a posterior under flat priors.
    """
    weight = np.exp(step - step.max()).sum(-1)
    order = np.argsort(-weight, kind="stable")
    before = np.cumsum(weight[order]) - weight[order]
    likely = order[before < LEVEL * weight.sum()]
    return int(likely.min()), int(likely.max())


def _drift_per_decade(years: tuple[int, ...], values: np.ndarray) -> float:
    """Slope of a linear drift, averaged over the lag-one correlations."""
    return 10 * slope_beside(np.array(years, float), values, ())[0]


def _chance(
    years: tuple[int, ...],
    values: np.ndarray,
    ratio: float,
    *,
    beside_trend: bool,
    enough_p: float,
) -> float:
    """Share of simulated noise with a change as marked, averaged over the correlations."""
    x = np.array(years, float)
    columns = [np.ones_like(x), x - x.mean()] if beside_trend else [np.ones_like(x)]
    weights = lag_one_weights(x, values, np.stack(columns))
    as_marked, p = np.zeros(len(NULL_LAG_ONES), int), 0.0
    for first, last in pairwise(_BATCHES):
        by_chance = _ratios_by_chance(years, beside_trend, first, last)
        # The record itself counts as one of the series, so p is never 0; the tolerance is for
        # rounding when both ratios are equal.
        as_marked += (by_chance >= ratio - 1e-9).sum(-1)
        chances = (1 + as_marked) / (1 + SIMULATED)
        p = float(weights @ np.interp(LAG_ONES, NULL_LAG_ONES, chances))
        if p >= enough_p:  # the remaining series can only raise it
            break
    return p


@lru_cache(maxsize=256)
def _ratios_by_chance(
    years: tuple[int, ...], beside_trend: bool, first: int, last: int
) -> np.ndarray:
    """Ratio of likelihoods in some of the simulated series, shape (len(NULL_LAG_ONES), series)."""
    tools = fitting_tools(years, beside_trend)
    return np.array([likelihood_ratio(tools, noise[first:last]) for noise in _noise(years)])


@lru_cache(maxsize=2)
def _noise(years: tuple[int, ...]) -> np.ndarray:
    """Series without a change, shape (len(NULL_LAG_ONES), SIMULATED, n)."""
    random, series = np.random.default_rng(0), []
    for lag_one in NULL_LAG_ONES:
        lower = np.linalg.cholesky(correlations(np.array(years), lag_one))
        series.append(random.normal(size=(SIMULATED, len(years))) @ lower.T)
    return np.array(series)
