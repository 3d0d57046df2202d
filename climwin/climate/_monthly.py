"""Differences of two daily records by calendar month: their mean, and how sure it is.

What a garden's logger reads above the station, and what a neighbour reads above the record whose
gaps it fills, are the same statistic.
"""

from __future__ import annotations

import numpy as np
import xarray as xr

from climwin.core.schema import apply
from climwin.core.seasons import every_day

MONTHS = np.arange(1, 13)


def on_every_day(*arrays: xr.DataArray) -> list[xr.DataArray]:
    """Arrays on one axis that has every day from the first of any to the last of any."""
    ends = [da["time"].values[[0, -1]].astype("datetime64[D]") for da in arrays]
    days = every_day(min(first for first, _ in ends), max(last for _, last in ends))
    return [da.reindex(time=days) for da in arrays]


def monthly_mean(difference: xr.DataArray) -> tuple[xr.DataArray, xr.DataArray, xr.DataArray]:
    """Mean, standard error and number of the differences of each month of the year.

    Parameters
    ----------
    difference : DataArray, dims (..., time)
        On an axis of every day, as `on_every_day` makes it, for the standard error to be right.

    Returns
    -------
    mean, error, days : DataArray, dims (..., month)
        In the unit of `difference`; missing in a month without a day, the error also where there
        is but one.

    Notes
    -----
    Differences of neighbouring days are alike, so that n of them are worth less: n (1 - r) /
    (1 + r) independent ones, r being the correlation of one day with the next, taken over all
    months and no less than 0 [1]_. The formula is meant for 30 and more.

    References
    ----------
    .. [1] F. W. Zwiers and H. von Storch, "Taking serial correlation into account in tests of the
       mean," Journal of Climate, 1995, as NCL's ``equiv_sample_size`` states it.
    """
    mean, error, days = apply(
        _monthly_mean,
        difference,
        difference["time"].dt.month,
        core=[["time"], ["time"]],
        out=[["month"]] * 3,
        sizes={"month": 12},
        dtypes=[float] * 3,
        each=True,
    )
    return (
        mean.assign_coords(month=MONTHS),
        error.assign_coords(month=MONTHS),
        days.assign_coords(month=MONTHS),
    )


def _monthly_mean(
    difference: np.ndarray, month: np.ndarray
) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Kernel of `monthly_mean`, for one station."""
    present = ~np.isnan(difference)
    index, values = month[present] - 1, difference[present]
    days = np.bincount(index, minlength=12).astype(float)
    with np.errstate(invalid="ignore", divide="ignore"):
        mean = np.bincount(index, values, minlength=12) / days
        departure = np.full(difference.shape, np.nan)
        departure[present] = values - mean[index]
        squares = np.bincount(index, departure[present] ** 2, minlength=12)
        correlation = lag_one_correlation(departure)
        independent_days = days * (1 - correlation) / (1 + correlation)
        variance = squares / np.where(days > 1, days - 1, np.nan)
        error = np.sqrt(variance / independent_days)
    return mean, error, days


def lag_one_correlation(departure: np.ndarray) -> float:
    """Correlation of a day's departure with the next day's: 0 to 0.99."""
    today, tomorrow = departure[:-1], departure[1:]
    both = np.isfinite(today) & np.isfinite(tomorrow)
    today, tomorrow = today[both], tomorrow[both]
    scale = np.sqrt((tomorrow**2).sum() * (today**2).sum())
    if scale == 0:
        return 0.0
    return float(np.clip((tomorrow * today).sum() / scale, 0, 0.99))
