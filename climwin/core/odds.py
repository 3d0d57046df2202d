"""Odds of yearly events, labelled: the share of years, the smoothed odds, and two intervals.

Every dataset of odds has the same names: the plain ``share`` beside its counts; the ``odds``, which
are never 0 or 1; ``low`` to ``high``, how well the odds of this climate are known; ``next_low`` to
``next_high``, in how many of the next ten years it is likely to happen.
"""

from __future__ import annotations

import numpy as np
import xarray as xr

from climwin.core.schema import apply
from climwin.core.stats import (
    COUNTED_YEAR,
    LEVEL,
    NEXT_YEARS,
    next_interval,
    next_worth,
    odds_interval,
    variance_of_level,
    within_reach,
    worth_at_level,
)

ODDS_NAMES = ("odds", "low", "high", "next_low", "next_high")


def odds_of(
    hits: xr.DataArray,
    known: xr.DataArray,
    *,
    kind: str,
    climate: str,
    smoothed: xr.DataArray | None = None,
    worth: xr.DataArray | None = None,
    level_error: float = 0.0,
    per_degree: xr.DataArray | None = None,
) -> xr.Dataset:
    """Share, odds and intervals of an event.

    Parameters
    ----------
    hits, known : DataArray, dims (...)
        Number of years in which it happened, and of known years.
    kind : str
        One of `stats.KINDS`.
    climate : {"record", "today"}
        Climate of the years.
    smoothed : DataArray, dims (...), optional
        Odds smoothed over dates or lengths by `stats.kernel_share_above`. By default the odds are
        the share; where none or all of the years had it, half a year is added to what never came.
    worth : DataArray, dims (...), optional
        Number of known years with the same variance, if some depend on draws, see
        `draws.count_over_draws`; by default `known`.
    level_error : float
        Standard error of the level that the years were moved to. The interval of the odds allows
        for it; that of the next years does so already, by its kind. [degC]
    per_degree : DataArray, dims (...), optional
        By how much one degC changes the odds, if that is known better than by their kind. [1/degC]

    Returns
    -------
    Dataset, dims (...)
        ``share``, ``odds``, ``low``, ``high``, ``next_low`` and ``next_high``; NaN where no year is
        known.
    """

    def kernel(
        hits: np.ndarray,
        known: np.ndarray,
        smoothed: np.ndarray,
        worth: np.ndarray,
        per_degree: np.ndarray,
    ) -> tuple[np.ndarray, ...]:
        has_kernel = np.isfinite(smoothed)
        with np.errstate(divide="ignore", invalid="ignore"):
            share = np.where(known > 0, hits / known, np.nan)
        middle = np.where(has_kernel, smoothed, share)
        odds = within_reach(middle, known)
        worth = np.where(has_kernel, worth, COUNTED_YEAR * worth)
        ahead = next_worth(worth, kind, climate)
        by_kind = variance_of_level(middle, kind, level_error)
        variance = np.where(
            np.isfinite(per_degree), (np.nan_to_num(per_degree) * level_error) ** 2, by_kind
        )
        at_level = worth_at_level(worth, middle, variance)
        return share, odds, *odds_interval(middle, at_level), *next_interval(middle, ahead)

    names = ("share", *ODDS_NAMES)
    arrays = apply(
        kernel,
        hits,
        known,
        xr.DataArray(np.nan) if smoothed is None else smoothed,
        known if worth is None else worth,
        xr.DataArray(np.nan) if per_degree is None else per_degree,
        core=[[]] * 5,
        out=[[]] * len(names),
        dtypes=[float] * len(names),
    )
    out = xr.Dataset(dict(zip(names, arrays, strict=True)))
    for name in names:
        out[name].attrs = {"units": "years" if name.startswith("next") else "1"}
    return out.assign_attrs(interval=LEVEL, next_years=NEXT_YEARS)


def prefixed(odds: xr.Dataset, prefix: str) -> xr.Dataset:
    """The same dataset with a prefix on every name."""
    return odds.rename({name: f"{prefix}{name}" for name in odds})
