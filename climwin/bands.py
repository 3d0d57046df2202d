"""Day bands: the spread of a variable on each day of the year, over all years of a place."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import xarray as xr

from climwin.schema import apply, check_choice
from climwin.seasons import DAYS, split_dates
from climwin.stats import PLOTTING, sorted_quantile

PERCENTILES = (10, 25, 50, 75, 90)


def day_bands(
    da: xr.DataArray,
    percentiles: Sequence[float] = PERCENTILES,
    half_width: int = 7,
    *,
    method: str = "median_unbiased",
) -> xr.Dataset:
    """Percentiles of each day of the year, of all values near that day in all years.

    Parameters
    ----------
    da : DataArray, dims (..., time)
        Daily values of any variable.
    percentiles : sequence of float
        0 to 100.
    half_width : int
        Days on either side whose values join a day's sample; the year is a circle. [days]
    method : str
        Quantile type by NumPy's name; ``"median_unbiased"`` is Hyndman and Fan's type 8.

    Returns
    -------
    Dataset, dims (..., day_of_year, percentile)
        ``<name>``, in the unit of `da`, missing where a sample is empty, and ``sample_size``, dims
        (..., day_of_year).

    Raises
    ------
    ValueError
        If a percentile, the half width or the method is not allowed.

    Notes
    -----
    29 February's values join the sample of 28 February. Equal to ``numpy.nanquantile`` with the
    same method on the same sample [1]_.

    References
    ----------
    .. [1] R. J. Hyndman and Y. Fan, "Sample quantiles in statistical packages," The American
       Statistician, vol. 50, pp. 361-365, 1996.
    """
    shares = _checked(percentiles, half_width, method)
    row, col = _slots(np.asarray(da["time"]))

    def kernel(values: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        grid = np.full((*values.shape[:-1], row.max() + 1, DAYS), np.nan)
        grid[..., row, col] = values
        return _bands(grid, shares, half_width, method)

    bands, size = apply(
        kernel,
        da,
        core=[["time"]],
        out=[["day_of_year", "percentile"], ["day_of_year"]],
        sizes={"day_of_year": DAYS, "percentile": len(shares)},
        dtypes=[float, int],
    )
    name = str(da.name or "value")
    days = np.arange(1, DAYS + 1)
    out = xr.Dataset({name: bands.assign_attrs(da.attrs), "sample_size": size})
    out["sample_size"].attrs["long_name"] = "values in the sample of each day"
    return out.assign_coords(day_of_year=days, percentile=list(percentiles)).assign_attrs(
        half_width_days=half_width, quantile_method=method
    )


def _checked(percentiles: Sequence[float], half_width: int, method: str) -> list[float]:
    check_choice("method", method, PLOTTING)
    if not len(percentiles) or not all(0 <= p <= 100 for p in percentiles):
        msg = f"percentiles must lie between 0 and 100, got {list(percentiles)}."
        raise ValueError(msg)
    if not 0 <= half_width <= DAYS // 2:
        msg = f"half_width must lie between 0 and {DAYS // 2} days, got {half_width}."
        raise ValueError(msg)
    return [p / 100 for p in percentiles]


def _slots(time: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Row and column of each value: a row a year, and a row more for each 29 February."""
    year, day, leap = split_dates(time)
    row = year - year.min()
    row[leap] = row.max() + 1 + np.arange(leap.sum())
    return row, day - 1


def _bands(
    grid: np.ndarray, shares: list[float], half_width: int, method: str
) -> tuple[np.ndarray, np.ndarray]:
    """Quantiles and sample sizes of a grid, shape (..., rows, 365), along a circle of days."""
    width = 2 * half_width + 1
    around = np.take(grid, np.arange(-half_width, DAYS + half_width), axis=-1, mode="wrap")
    samples = np.lib.stride_tricks.sliding_window_view(around, width, axis=-1)
    samples = np.moveaxis(samples, -3, -2).reshape(*grid.shape[:-2], DAYS, -1)
    samples.sort(axis=-1)
    size = samples.shape[-1] - np.isnan(samples).sum(axis=-1)
    bands = [sorted_quantile(samples, size, share, method) for share in shares]
    return np.stack(bands, axis=-1), size
