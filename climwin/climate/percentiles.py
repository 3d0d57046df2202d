"""Percentiles of a variable for each day of the year, over all years."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import xarray as xr

from climwin.core.errors import InputError, Parameter
from climwin.core.formatting import as_typed
from climwin.core.provenance import provenance
from climwin.core.schema import apply, check_choice
from climwin.core.seasons import DAYS, record_dates
from climwin.core.stats import PLOTTING, between, neighbours

PERCENTILES = (10, 25, 50, 75, 90)

_FEW = 1024  # distinct values; with more, sorting is faster than counting


def day_bands(
    da: xr.DataArray,
    percentiles: Sequence[float] = PERCENTILES,
    half_width: int = 7,
    *,
    method: str = "median_unbiased",
) -> xr.Dataset:
    """Percentiles for each day of the year, from all values near that day in all years.

    Parameters
    ----------
    da : DataArray, dims (..., time)
        Daily values of any variable.
    percentiles : sequence of float
        0 to 100.
    half_width : int
        Days on either side whose values belong to a day's sample; the year is a circle. [days]
    method : str
        Quantile type by NumPy's name; ``"median_unbiased"`` is Hyndman and Fan's type 8.

    Returns
    -------
    Dataset, dims (..., day_of_year, percentile)
        ``<name>``, in the unit of `da`, NaN where a sample is empty; ``sample_size``, dims (...,
        day_of_year). The attributes ``first_year`` and ``last_year`` say of which years.

    Raises
    ------
    ValueError
        If a percentile, the half width or the method is not allowed, or a date occurs twice.
    DataGapError
        If `da` has no days.

    Notes
    -----
    29 February belongs to the sample of 28 February. Equal to ``numpy.nanquantile`` with the same
    method on the same sample [1]_.

    References
    ----------
    .. [1] R. J. Hyndman and Y. Fan, "Sample quantiles in statistical packages," The American
       Statistician, vol. 50, pp. 361-365, 1996.

    Examples
    --------
    >>> import climwin as cw
    >>> daily = cw.read_daily(cw.sample())
    >>> bands = cw.day_bands(daily["tmean"], percentiles=(10, 50, 90))
    >>> bands["tmean"].sel(day_of_year=120).round(1).values.tolist()
    [5.5, 9.7, 13.8]
    """
    fractions = _checked(percentiles, half_width, method)
    years, days = record_dates(da)[:2]
    day = days - 1

    def kernel(values: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        return _bands(values, day, fractions, half_width, method)

    bands, size = apply(
        kernel,
        da,
        core=[["time"]],
        out=[["day_of_year", "percentile"], ["day_of_year"]],
        sizes={"day_of_year": DAYS, "percentile": len(fractions)},
        dtypes=[float, int],
        each=True,
    )
    name = str(da.name or "value")
    out = xr.Dataset({name: bands.assign_attrs(da.attrs), "sample_size": size})
    out["sample_size"].attrs["long_name"] = "values in the sample of each day"
    return out.assign_coords(
        day_of_year=np.arange(1, DAYS + 1), percentile=list(percentiles)
    ).assign_attrs(
        provenance(da),
        half_width_days=half_width,
        quantile_method=method,
        first_year=int(years.min()),
        last_year=int(years.max()),
    )


def _checked(percentiles: Sequence[float], half_width: int, method: str) -> np.ndarray:
    check_choice("method", method, PLOTTING)
    if not len(percentiles) or not all(0 <= p <= 100 for p in percentiles):
        given = ", ".join(map(str, percentiles)) or "none"
        msg = f" must lie between 0 and 100, got {given}."
        raise InputError(Parameter("percentiles"), msg)
    if max(percentiles) <= 1 and any(0 < p < 1 for p in percentiles):
        given, meant = (", ".join(as_typed(p * by) for p in percentiles) for by in (1, 100))
        msg = f" are percentages, such as 10, 50 and 90; got {given}. Did you mean {meant}?"
        raise InputError(Parameter("percentiles"), msg)
    if not 0 <= half_width <= DAYS // 2:
        msg = f" must lie between 0 and {DAYS // 2} days, got {half_width}."
        raise InputError(Parameter("half_width"), msg)
    return np.asarray(percentiles) / 100


# --- the kernel ---------------------------------------------------------------------------
#
# A record has few distinct values: tenths of a degree make a few hundred. Each value is coded by
# its rank among the distinct ones, because small integers are quick to count, and quicker to sort
# than floats.


def _bands(
    values: np.ndarray, day: np.ndarray, fractions: np.ndarray, half_width: int, method: str
) -> tuple[np.ndarray, np.ndarray]:
    """Quantiles and sample sizes of one station; `day` of each value, counted from 0."""
    present = ~np.isnan(values)
    day = day[present]
    size = _sum_of_near_days(np.bincount(day, minlength=DAYS), half_width)
    if not present.any():
        return np.full((DAYS, len(fractions)), np.nan), size
    distinct, code = _coded(values[present].astype(float))
    below, above, weight = neighbours(size[:, None], fractions, method)
    codes_of_ranks = _codes_by_counting if len(distinct) <= _FEW else _codes_by_sorting
    codes = codes_of_ranks(code, day, np.stack([below, above]), half_width)
    # A day without a sample has a code past the end; it is masked in the next line.
    low, high = distinct[np.minimum(codes, len(distinct) - 1)]
    return np.where(size[:, None] > 0, between(low, high, weight), np.nan), size


def _coded(values: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Distinct values in order, and the position of each value among them."""
    # Tenths need no sorting: their code is their number of tenths above the minimum. Codes without
    # a value then stand for 0, which is never read.
    with np.errstate(over="ignore", invalid="ignore"):
        tenths = np.rint(values * 10)
        tenths -= tenths.min()
    if tenths.max() < _FEW:
        code = tenths.astype(np.intp)
        distinct = np.zeros(code.max() + 1)
        distinct[code] = values
        if np.array_equal(distinct[code], values):
            return distinct, code
    distinct, code = np.unique(values, return_inverse=True)
    return distinct, code


def _codes_by_counting(
    code: np.ndarray, day: np.ndarray, ranks: np.ndarray, half_width: int
) -> np.ndarray:
    """Codes of the given ranks near each day, shape (..., 365, n), by running totals of counts."""
    codes = int(code.max()) + 1
    counts = np.bincount(day * codes + code, minlength=DAYS * codes).reshape(DAYS, codes)
    # Use the smallest type that holds all counts, because most of the time goes into adding them.
    near = _sum_of_near_days(counts.astype(np.min_scalar_type(len(code))), half_width)
    # One running total over all days allows a single search for all of them: a rank on a day is
    # offset by the values of the days before it.
    total = np.cumsum(near, dtype=np.int32)
    of_days_before = np.append(0, total[codes - 1 : -1 : codes])[:, None]
    place = np.searchsorted(total, (ranks + of_days_before).astype(np.int32), side="right")
    return place - np.arange(DAYS)[:, None] * codes


def _codes_by_sorting(
    code: np.ndarray, day: np.ndarray, ranks: np.ndarray, half_width: int
) -> np.ndarray:
    """Codes of the given ranks near each day, shape (..., 365, n), by sorting 32-bit numbers."""
    size_of_day = np.bincount(day, minlength=DAYS)
    size = _sum_of_near_days(size_of_day, half_width)[:, None]
    # Sorted by day, the values near a day are one run, which wraps round.
    in_order = code[np.argsort(day, kind="stable")].astype(np.int32)
    first = np.roll(np.cumsum(size_of_day) - size_of_day, half_width)[:, None]
    place = np.arange(size.max())
    samples = np.take(in_order, first + place, mode="wrap")
    samples[place >= size] = len(code)  # above all codes
    samples.sort(axis=-1)
    return samples[np.arange(DAYS)[:, None], ranks]


def _sum_of_near_days(counts: np.ndarray, half_width: int) -> np.ndarray:
    """Sum over the days near each day of the circle, along the first axis."""
    around = np.take(counts, np.arange(-half_width, DAYS + half_width), axis=0, mode="wrap")
    total = np.zeros_like(counts)
    for shift in range(2 * half_width + 1):
        total += around[shift : shift + DAYS]
    return total
