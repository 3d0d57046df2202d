"""Has the station been moved? A test for one sudden step in the yearly means of a record."""

from __future__ import annotations

from functools import lru_cache

import numpy as np
import xarray as xr

from climwin.core.provenance import check_alike, provenance
from climwin.core.schema import DataGapError, apply, variable
from climwin.core.seasons import by_year

WHOLE_YEAR = 330
"""Days with a value from which a year has a mean (common practice)."""
EDGE = 5
"""Years that must lie on either side of a step: one odd year is no moved station. [year]"""
BREAK_P = 0.02
"""A step is called clear where its p lies below this (common practice): one record in fifty without
a step shows one all the same."""
SIMULATED = 999
"""Series of noise that a step is compared with."""

_TESTED = ("tmin", "tmax")


def detect_breakpoints(daily: xr.Dataset, neighbour: xr.Dataset | None = None) -> xr.Dataset:
    """The largest sudden step in a record's yearly means, and how often chance makes one like it.

    Parameters
    ----------
    daily : Dataset, dims (..., time)
        ``tmin`` and ``tmax``. [degC]
    neighbour : Dataset, dims (..., time), optional
        Record of a station nearby. Then the difference of the two is tested, in which the weather
        and any warming that both share cancel out: much smaller steps show.

    Returns
    -------
    Dataset, dims (variable, ...)
        ``break_year``, the first year after the step; its ``step`` [degC], later minus earlier;
        ``p``, how often noise alone has a step as marked; ``known``, years with a mean. Missing
        for fewer than 10 known years.

    Raises
    ------
    ValueError
        If a record lacks a variable, or one of the two is a scenario.
    DataGapError
        If the two have no day in common.

    Notes
    -----
    Of a record alone the step is sought beside a steady trend, as by Wang [2]_, so that steady
    warming does not pass for a step; of steps two and a half times the spread of the yearly means
    half go unnoticed. Against a neighbour there is no trend to allow for, and the test is
    Alexandersson's standard normal homogeneity test [1]_. Both ask at which year one step takes
    away the largest part of the sum of squares. p is counted in 999 series of independent noise
    with the same years known. A step says nothing of its cause: a moved station, another
    instrument, a tree felled, or the climate's own doing.

    References
    ----------
    .. [1] H. Alexandersson, "A homogeneity test applied to precipitation data," Journal of
       Climatology, vol. 6, pp. 661-675, 1986.
    .. [2] X. L. Wang, "Comments on 'Detection of undocumented changepoints: a revision of the
       two-phase regression model'," Journal of Climate, vol. 16, pp. 3383-3385, 2003; from memory.

    Examples
    --------
    A record that reads 2 degC warmer from 2005 on, as from another instrument:

    >>> import climwin as cw
    >>> daily = cw.read_daily(cw.sample())
    >>> moved = daily.assign(tmin=daily["tmin"] + 2.0 * (daily["time"].dt.year >= 2005))
    >>> step = cw.detect_breakpoints(moved, daily).sel(variable="tmin")
    >>> int(step["break_year"]), step["step"].round(1).item()
    (2005, 2.0)
    """
    series = [yearly_means(_less_neighbour(daily, neighbour, name)) for name in _TESTED]
    yearly = xr.concat(series, xr.DataArray(list(_TESTED), dims="variable", name="variable"))
    results = apply(
        lambda year, value: sudden_step(year, value, beside_trend=neighbour is None),
        yearly["year"],
        yearly,
        core=[["year"]] * 2,
        out=[[]] * 3,
        dtypes=[float] * 3,
        each=True,
    )
    out = xr.Dataset(dict(zip(("break_year", "step", "p"), results, strict=True)))
    out["known"] = yearly.notnull().sum("year")
    for name, units in (("break_year", "1"), ("step", "degC"), ("p", "1"), ("known", "1")):
        out[name].attrs = {"units": units}
    return out.assign_attrs(provenance(daily))


def _less_neighbour(daily: xr.Dataset, neighbour: xr.Dataset | None, name: str) -> xr.DataArray:
    """A variable of the record, less the neighbour's where there is one."""
    if neighbour is None:
        return variable(daily, name)
    check_alike(daily, neighbour)
    difference = (variable(daily, name) - variable(neighbour, name)).rename(name)
    if not difference.sizes["time"]:
        msg = "The record and its neighbour have no day in common. Take another neighbour."
        raise DataGapError(msg)
    return difference


def yearly_means(values: xr.DataArray) -> xr.DataArray:
    """Mean departure of each year's days from what is usual on them.

    Parameters
    ----------
    values : DataArray, dims (..., time)
        A daily variable.

    Returns
    -------
    DataArray, dims (..., year)
        In the unit of `values`; missing where fewer than 330 days have a value. A missing summer
        day does not make a year cold, since its departure is missing, and not its warmth.
    """
    out = apply(_departures, by_year(values), core=[["year", "day_of_year"]], out=[["year"]])
    return out.assign_attrs(units=values.attrs.get("units", "degC"))


def _departures(grid: np.ndarray) -> np.ndarray:
    """Kernel of `yearly_means`: shape (..., years, 365) to (..., years)."""
    present = np.isfinite(grid)
    # Sums and counts, for np.nanmean warns of a day that no year has.
    usual = np.where(present, grid, 0).sum(-2) / np.maximum(present.sum(-2), 1)
    total = np.where(present, grid - usual[..., None, :], 0).sum(-1)
    days = present.sum(-1)
    return np.where(days >= WHOLE_YEAR, total / np.maximum(days, 1), np.nan)


# --- the step -----------------------------------------------------------------------------


def sudden_step(
    year: np.ndarray, value: np.ndarray, *, beside_trend: bool
) -> tuple[float, float, float]:
    """First year after the most marked step, its size and its p; see `detect_breakpoints`."""
    known = np.isfinite(value)
    if known.sum() < 2 * EDGE:
        return np.nan, np.nan, np.nan
    years = tuple(int(each) for each in year[known])
    steps, sizes = _steps(years, EDGE, beside_trend)
    share, place = explained(steps, value[known], beside_trend=beside_trend, years=years)
    # The record itself counts as one of the series, so that p is never 0; the slack is for
    # rounding, where the shares of both are the same number.
    as_marked = (_shares_by_chance(years, beside_trend) >= share - 1e-12).sum()
    p = (1 + as_marked) / (1 + SIMULATED)
    return float(years[EDGE + place]), float(sizes[place] @ value[known]), float(p)


def explained(
    steps: np.ndarray, values: np.ndarray, *, beside_trend: bool, years: tuple[int, ...]
) -> tuple[np.ndarray, np.ndarray]:
    """Largest share of the sum of squares that one step takes away, and which step does.

    Parameters
    ----------
    steps : ndarray, shape (k, n)
        Steps to try, freed of mean (and trend) and of length one, from `_steps`.
    values : ndarray, shape (..., n)
        Yearly values.
    beside_trend : bool
        Whether mean and trend, or the mean alone, are taken off first.
    years : tuple of int
        Of the n values.

    Returns
    -------
    share, place : ndarray, shape (...)
        Share 0 to 1, and the row of `steps`.
    """
    base = _base(years, beside_trend)
    residual = values - values @ base @ base.T
    squares = (residual**2).sum(-1)
    explained_squares = (residual @ steps.T) ** 2
    # Where nothing scatters, no step explains anything.
    share = explained_squares.max(-1) / np.where(squares > 1e-12, squares, np.inf)
    return share, explained_squares.argmax(-1)


def _base(years: tuple[int, ...], beside_trend: bool) -> np.ndarray:
    """The mean, and with `beside_trend` the trend, as columns of length one at right angles."""
    x = np.asarray(years, float)
    mean, slope = np.ones_like(x), x - x.mean()
    columns = [mean, slope] if beside_trend else [mean]
    orthonormal, _ = np.linalg.qr(np.stack(columns, axis=-1))
    return orthonormal


def _steps(years: tuple[int, ...], edge: int, beside_trend: bool) -> tuple[np.ndarray, np.ndarray]:
    """Every step with at least `edge` years on either side, and what reads its size off values.

    Returns
    -------
    steps, sizes : ndarray, shape (k, n)
        Of each step, freed of mean (and trend): itself at length one; and the row whose product
        with values is the step's size in them, by least squares.
    """
    n = len(years)
    first_after = np.arange(edge, n - edge + 1)
    steps = (np.arange(n) >= first_after[:, None]).astype(float)
    base = _base(years, beside_trend)
    free = steps - steps @ base @ base.T
    squares = (free**2).sum(-1, keepdims=True)
    return free / np.sqrt(squares), free / squares


@lru_cache(maxsize=64)
def _shares_by_chance(years: tuple[int, ...], beside_trend: bool) -> np.ndarray:
    """What the most marked step takes away of pure noise, in each of the simulated series."""
    noise = np.random.default_rng(0).normal(size=(SIMULATED, len(years)))
    steps, _ = _steps(years, EDGE, beside_trend)
    share, _ = explained(steps, noise, beside_trend=beside_trend, years=years)
    return share
