"""Day bands: the spread of a variable on each day of the year, over all years of a place."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import xarray as xr

from climwin.core.provenance import provenance
from climwin.core.schema import apply, check_choice
from climwin.core.seasons import DAYS, record_dates
from climwin.core.stats import PLOTTING, between, neighbours

PERCENTILES = (10, 25, 50, 75, 90)

_FEW = 1024  # kinds of values: of more, sorting is faster than counting


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
        If a percentile, the half width or the method is not allowed, or a date is there twice.
    DataGapError
        If `da` has no day.

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
    day = record_dates(da)[1] - 1

    def kernel(values: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        return _bands(values, day, shares, half_width, method)

    bands, size = apply(
        kernel,
        da,
        core=[["time"]],
        out=[["day_of_year", "percentile"], ["day_of_year"]],
        sizes={"day_of_year": DAYS, "percentile": len(shares)},
        dtypes=[float, int],
        each=True,
    )
    name = str(da.name or "value")
    days = np.arange(1, DAYS + 1)
    out = xr.Dataset({name: bands.assign_attrs(da.attrs), "sample_size": size})
    out["sample_size"].attrs["long_name"] = "values in the sample of each day"
    return out.assign_coords(day_of_year=days, percentile=list(percentiles)).assign_attrs(
        provenance(da), half_width_days=half_width, quantile_method=method
    )


def _checked(percentiles: Sequence[float], half_width: int, method: str) -> np.ndarray:
    check_choice("method", method, PLOTTING)
    if not len(percentiles) or not all(0 <= p <= 100 for p in percentiles):
        msg = f"percentiles must lie between 0 and 100, got {list(percentiles)}."
        raise ValueError(msg)
    if not 0 <= half_width <= DAYS // 2:
        msg = f"half_width must lie between 0 and {DAYS // 2} days, got {half_width}."
        raise ValueError(msg)
    return np.asarray(percentiles) / 100


# --- the kernel: values as whole numbers, which are quick to count and to sort --------------


def _bands(
    values: np.ndarray, day: np.ndarray, shares: np.ndarray, half_width: int, method: str
) -> tuple[np.ndarray, np.ndarray]:
    """Quantiles and sample sizes of one station; `day` of each value, counted from 0."""
    held = ~np.isnan(values)
    day = day[held]
    size = _near(np.bincount(day, minlength=DAYS), half_width)
    if not held.any():
        return np.full((DAYS, len(shares)), np.nan), size
    kinds, code = _coded(values[held].astype(float))
    below, above, t = neighbours(size[:, None], shares, method)
    find = _counted if len(kinds) <= _FEW else _sorted
    found = find(code, day, np.stack([below, above]), half_width)
    low, high = kinds[np.minimum(found, len(kinds) - 1)]
    return np.where(size[:, None] > 0, between(low, high, t), np.nan), size


def _coded(values: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Kinds of values in order, and which kind each value is; whole tenths need no sorting."""
    with np.errstate(over="ignore", invalid="ignore"):
        tenths = np.rint(values * 10)
        tenths -= tenths.min()
    if tenths.max() < _FEW:
        code = tenths.astype(np.intp)
        kinds = np.zeros(code.max() + 1)
        kinds[code] = values
        if np.array_equal(kinds[code], values):
            return kinds, code
    kinds, code = np.unique(values, return_inverse=True)
    return kinds, code


def _counted(code: np.ndarray, day: np.ndarray, ranks: np.ndarray, half_width: int) -> np.ndarray:
    """Codes of the given ranks near each day, shape (..., 365, n), by running totals of counts."""
    kinds = int(code.max()) + 1
    counts = np.bincount(day * kinds + code, minlength=DAYS * kinds).reshape(DAYS, kinds)
    near = _near(counts.astype(np.min_scalar_type(len(code))), half_width)
    total = np.cumsum(near, dtype=np.int32)
    before = np.append(0, total[kinds - 1 : -1 : kinds])[:, None]
    at = np.searchsorted(total, (ranks + before).astype(np.int32), side="right")
    return at - np.arange(DAYS)[:, None] * kinds


def _sorted(code: np.ndarray, day: np.ndarray, ranks: np.ndarray, half_width: int) -> np.ndarray:
    """Codes of the given ranks near each day, shape (..., 365, n), by sorting 32-bit numbers."""
    by_day = np.bincount(day, minlength=DAYS)
    size = _near(by_day, half_width)[:, None]
    first = np.roll(np.cumsum(by_day) - by_day, half_width)[:, None]
    place = np.arange(size.max())
    in_order = code[np.argsort(day, kind="stable")].astype(np.int32)
    samples = np.take(in_order, first + place, mode="wrap")
    samples[place >= size] = len(code)  # above all codes
    samples.sort(axis=-1)
    return samples[np.arange(DAYS)[:, None], ranks]


def _near(counts: np.ndarray, half_width: int) -> np.ndarray:
    """Sum over the days near each day of the circle, along the first axis, by doubling."""
    width, at, days = 2 * half_width + 1, 0, 1
    sums = np.take(counts, np.arange(-half_width, DAYS + half_width), axis=0, mode="wrap")
    total = np.zeros_like(counts)
    while days <= width:  # `sums` are of so many days
        if width & days:
            total += sums[at : at + DAYS]
            at += days
        sums = sums[:-days] + sums[days:]
        days *= 2
    return total
