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
"""A step is called clear where its p lies below this: one record in fifty that has no step shows
one all the same (common practice)."""
SIMULATED = 999
"""Series of noise that a step is held against."""

_TESTED = ("tmin", "tmax")


def detect_breakpoints(daily: xr.Dataset, neighbour: xr.Dataset | None = None) -> xr.Dataset:
    """The greatest sudden step in a record's yearly means, and whether chance brings such.

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
        ``p``, how often noise alone brings a step as marked; ``known``, years with a mean. Missing
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
    half escape. Against a neighbour there is no trend to allow for, and the test is
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
    """
    series = [yearly_means(_less(daily, neighbour, name)) for name in _TESTED]
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


def _less(daily: xr.Dataset, neighbour: xr.Dataset | None, name: str) -> xr.DataArray:
    """A variable of the record, less the neighbour's where there is one."""
    if neighbour is None:
        return variable(daily, name)
    check_alike(daily, neighbour)
    apart = (variable(daily, name) - variable(neighbour, name)).rename(name)
    if not apart.sizes["time"]:
        msg = "The record and its neighbour have no day in common. Take another neighbour."
        raise DataGapError(msg)
    return apart


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
    held = np.isfinite(grid)
    usual = np.where(held, grid, 0).sum(-2) / np.maximum(held.sum(-2), 1)
    total = np.where(held, grid - usual[..., None, :], 0).sum(-1)
    count = held.sum(-1)
    return np.where(count >= WHOLE_YEAR, total / np.maximum(count, 1), np.nan)


# --- the step -----------------------------------------------------------------------------


def sudden_step(
    year: np.ndarray, value: np.ndarray, *, beside_trend: bool
) -> tuple[float, float, float]:
    """First year after the most marked step, its size and its p; see `detect_breakpoints`."""
    held = np.isfinite(value)
    if held.sum() < 2 * EDGE:
        return np.nan, np.nan, np.nan
    known = tuple(int(y) for y in year[held])
    steps, size = _steps(known, EDGE, beside_trend)
    marked, at = explained(steps, value[held], beside_trend=beside_trend, years=known)
    p = (1 + (_by_chance(known, beside_trend) >= marked - 1e-12).sum()) / (1 + SIMULATED)
    return float(known[EDGE + at]), float(size[at] @ value[held]), float(p)


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
    share, at : ndarray, shape (...)
        Share 0 to 1, and the row of `steps`.
    """
    rest = values - values @ (base := _base(years, beside_trend)) @ base.T
    squares = (rest**2).sum(-1)
    taken = (rest @ steps.T) ** 2
    share = taken.max(-1) / np.where(squares > 1e-12, squares, np.inf)
    return share, taken.argmax(-1)


def _base(years: tuple[int, ...], beside_trend: bool) -> np.ndarray:
    """Mean and, where asked for, trend as columns at right angles."""
    x = np.asarray(years, float)
    columns = [np.ones_like(x), x - x.mean()][: 1 + beside_trend]
    return np.linalg.qr(np.stack(columns, axis=-1))[0]


def _steps(years: tuple[int, ...], edge: int, beside_trend: bool) -> tuple[np.ndarray, np.ndarray]:
    """Every step with at least `edge` years on either side; and what reads its size off values."""
    n = len(years)
    raw = (np.arange(n) >= np.arange(edge, n - edge + 1)[:, None]).astype(float)
    base = _base(years, beside_trend)
    free = raw - raw @ base @ base.T
    squares = (free**2).sum(-1, keepdims=True)
    return free / np.sqrt(squares), free / squares


@lru_cache(maxsize=64)
def _by_chance(years: tuple[int, ...], beside_trend: bool) -> np.ndarray:
    """What the most marked step takes away of pure noise, in each of the simulated series."""
    noise = np.random.default_rng(0).normal(size=(SIMULATED, len(years)))
    steps, _ = _steps(years, EDGE, beside_trend)
    return explained(steps, noise, beside_trend=beside_trend, years=years)[0]
