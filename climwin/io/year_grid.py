"""A daily variable on years by days, and the statistics that checks of records use.

Plain NumPy: a check looks at the record of one place, and at one or two grids of it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
import xarray as xr

from climwin.core.seasons import DAYS, MONTH_STARTS, split_dates
from climwin.core.stats import sorted_quantile

FULL_YEAR = 300
"""Least number of values in a full year (common practice). [day]"""
FULL_MONTH = 15
"""Least number of values for a monthly mean (common practice). [day]"""
MAD_TO_SD = 1.4826
"""Factor from the median absolute deviation to the standard deviation of a normal distribution."""

_MONTH_LENGTHS = np.diff([*MONTH_STARTS, DAYS])
MONTH_OF_DAY = np.repeat(np.arange(12), _MONTH_LENGTHS)
"""Month of each day of the 365-day year, 0 to 11."""
_HALF_MONTH = 15


@dataclass(frozen=True, eq=False)
class YearGrid:
    """One variable of one place on years by 365 days; 29 February is left out.

    Parameters
    ----------
    name : str
        Name of the variable.
    years : ndarray of int, shape (years,)
        Calendar years, each once.
    values : ndarray, shape (years, 365)
        Daily values, NaN where missing. [degC]
    """

    name: str
    years: np.ndarray
    values: np.ndarray

    @cached_property
    def full(self) -> np.ndarray:
        """Which years have at least `FULL_YEAR` values, shape (years,)."""
        enough = (~np.isnan(self.values)).sum(axis=1) >= FULL_YEAR
        return np.asarray(enough)

    @cached_property
    def usual(self) -> np.ndarray:
        """Usual year: the median of all years by day, smoothed over 31 days, shape (365,)."""
        middle = median(self.values, axis=0)
        around = np.concatenate([middle[-_HALF_MONTH:], middle, middle[:_HALF_MONTH]])
        known = ~np.isnan(around)
        width = 2 * _HALF_MONTH + 1
        total = np.convolve(np.where(known, around, 0.0), np.ones(width), "valid")
        count = np.convolve(known.astype(float), np.ones(width), "valid")
        return np.divide(total, count, out=np.full(DAYS, np.nan), where=count > 0)

    @cached_property
    def departures(self) -> np.ndarray:
        """Values less the usual year, shape (years, 365)."""
        return self.values - self.usual

    @cached_property
    def month_means(self) -> np.ndarray:
        """Mean of each month that has 15 values, shape (years, 12)."""
        return _means_of_months(self.values, FULL_MONTH)

    @cached_property
    def usual_months(self) -> np.ndarray:
        """Median of each month's means, shape (12,)."""
        return median(self.month_means, axis=0)

    @cached_property
    def month_departures(self) -> np.ndarray:
        """Month's means less the usual ones, shape (years, 12)."""
        return self.month_means - self.usual_months

    @cached_property
    def levels(self) -> np.ndarray:
        """Mean of a year's departures by month; missing with fewer than nine, shape (years,)."""
        known = (~np.isnan(self.month_departures)).sum(axis=1)
        return np.where(known >= 9, mean(self.month_departures, axis=1), np.nan)

    @cached_property
    def spells(self) -> np.ndarray:
        """Departures from the usual year minus their own month's mean, shape (years, 365).

        What is left are the warm and cold spells of a few days.
        """
        by_month = _means_of_months(self.departures, 1)
        return self.departures - by_month[:, MONTH_OF_DAY]

    @cached_property
    def spell_sd(self) -> np.ndarray:
        """Standard deviation of each full year's spells, shape (years,). [degC]"""
        return np.where(self.full, np.sqrt(mean(self.spells**2, axis=1)), np.nan)

    def persistence(self) -> np.ndarray:
        """Correlation of a year's spells with those of the day after, shape (years,)."""
        covariance = mean(self.spells[:, 1:] * self.spells[:, :-1], axis=1)
        square = mean(self.spells**2, axis=1)
        out = np.full(square.shape, np.nan)
        return np.divide(covariance, square, out=out, where=square > 0)


def _means_of_months(values: np.ndarray, least: int) -> np.ndarray:
    """Mean of each month that has at least so many values: shape (years, 365) to (years, 12)."""
    known = ~np.isnan(values)
    total = np.add.reduceat(np.where(known, values, 0.0), MONTH_STARTS, axis=1)
    count = np.add.reduceat(known.astype(int), MONTH_STARTS, axis=1)
    return np.divide(total, count, out=np.full(total.shape, np.nan), where=count >= least)


def year_grids(
    daily: xr.Dataset, names: Sequence[str], *, as_read: bool = False
) -> dict[str, YearGrid]:
    """Variables of one place on years by days.

    Parameters
    ----------
    daily : Dataset, dims (time)
        A record, checked or not.
    names : sequence of str
        Variables to lay out; those that the record lacks are left out.
    as_read : bool
        Whether to put back values that were set aside.
    """
    year, day, leap = split_dates(np.asarray(daily["time"]))
    years = np.arange(year.min(), year.max() + 1)
    row, column = (year - years[0])[~leap], day[~leap] - 1
    grids = {}
    for name in names:
        if name not in daily:
            continue
        series = np.asarray(daily[name].values, float)
        aside = daily.get(f"{name}_set_aside") if as_read else None
        if aside is not None:
            series = np.where(np.isnan(series), aside.values, series)
        values = np.full((len(years), DAYS), np.nan)
        values[row, column] = series[~leap]
        if not np.isnan(values).all():
            grids[name] = YearGrid(name, years, values)
    return grids


def mean(values: np.ndarray, axis: int | None = None) -> np.ndarray:
    """Mean without NaN; NaN where all values are."""
    known = ~np.isnan(values)
    total = np.where(known, values, 0.0).sum(axis=axis)
    count = known.sum(axis=axis)
    out = np.full(np.shape(total), np.nan)
    return np.divide(total, count, out=out, where=count > 0)


def median(values: np.ndarray, axis: int = 0) -> np.ndarray:
    """Median along an axis without NaN; NaN where all values are."""
    ordered = np.sort(values, axis=axis)
    last = np.maximum((~np.isnan(values)).sum(axis=axis, keepdims=True) - 1, 0)
    low, high = (np.take_along_axis(ordered, at, axis) for at in (last // 2, (last + 1) // 2))
    return np.squeeze(high - (high - low) / 2, axis)


def quantile(values: np.ndarray, share: float, axis: int = 0) -> np.ndarray:
    """Quantile along an axis without NaN; NaN where all values are."""
    ordered = np.sort(np.moveaxis(values, axis, -1), axis=-1)
    count = (~np.isnan(ordered)).sum(axis=-1)
    return sorted_quantile(ordered, count, share, "linear")


def spread(values: np.ndarray, axis: int = 0) -> np.ndarray:
    """Robust standard deviation, from the median absolute deviation."""
    middle = np.expand_dims(median(values, axis), axis)
    return MAD_TO_SD * median(np.abs(values - middle), axis)


def most_common(rows: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """The most common value in each row, to a tenth, and how often it occurs.

    Parameters
    ----------
    rows : ndarray, shape (rows, days)
        Missing values are not counted.

    Returns
    -------
    value, count : ndarray, shape (rows,)
    """
    ordered = np.sort(np.round(rows, 1) + 0.0, axis=1)
    place = np.arange(ordered.shape[1])
    begins = np.ones(ordered.shape, bool)
    begins[:, 1:] = ordered[:, 1:] != ordered[:, :-1]
    start = np.maximum.accumulate(np.where(begins, place, 0), axis=1)
    length = np.where(np.isnan(ordered), 0, place - start + 1)
    last = length.argmax(axis=1)[:, None]
    value = np.take_along_axis(ordered, last, axis=1)[:, 0]
    return value, np.take_along_axis(length, last, axis=1)[:, 0]
