"""In how many years each week would be comfortable for a crop, bearable, or neither."""

from __future__ import annotations

import numpy as np
import xarray as xr

from climwin.core.errors import InputError, Parameter
from climwin.core.provenance import provenance
from climwin.core.schema import apply, variable
from climwin.core.seasons import DAYS, by_year
from climwin.crops.model import Limits

WEEKS = DAYS // 7
"""Weeks of the year from 1 January; the last one has eight days."""
LEAST_DAYS = 5
"""Least number of known days for a weekly mean (common practice). [day]"""
STATES = ("too cold", "bearable, cool", "comfortable", "bearable, warm", "too hot")


def weeks_in_bands(daily: xr.Dataset, comfortable: Limits, bearable: Limits) -> xr.Dataset:
    """Count the years in which the mean of each week lies in a crop's bands.

    Parameters
    ----------
    daily : Dataset, dims (..., time)
        Needs ``tmean``. [degC]
    comfortable, bearable : Limits
        Bands of daily means; the first must lie within the second, see `comfortable_band`. [degC]

    Returns
    -------
    Dataset, dims (..., week, state)
        ``years`` in each of `STATES`, and ``known``, dims (..., week). A week is known in a year
        with a value on at least five of its days.

    Raises
    ------
    ValueError
        If the comfortable band reaches beyond the bearable one.

    Examples
    --------
    >>> import climwin as cw
    >>> from climwin.climate.comfort import weeks_in_bands
    >>> daily = cw.read_daily(cw.sample())
    >>> pea = cw.crop("pea")
    >>> weeks = weeks_in_bands(daily, cw.comfortable_band(pea), cw.bearable_band(pea))
    >>> int(weeks["years"].sel(week=1, state="too cold")) > 20
    True
    """
    if comfortable.low_c < bearable.low_c or comfortable.high_c > bearable.high_c:
        msg = (
            f" must lie within the bearable band, got {comfortable.low_c} to {comfortable.high_c} "
            f"degC within {bearable.low_c} to {bearable.high_c} degC."
        )
        raise InputError(Parameter("comfortable"), msg)
    edges = np.array([bearable.low_c, comfortable.low_c, comfortable.high_c, bearable.high_c])

    def kernel(grid: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        return _weeks(grid, edges)

    years, known = apply(
        kernel,
        by_year(variable(daily, "tmean")),
        core=[["year", "day_of_year"]],
        out=[["week", "state"], ["week"]],
        sizes={"week": WEEKS, "state": len(STATES)},
        dtypes=[int, int],
        each=True,
    )
    out = xr.Dataset({"years": years, "known": known})
    return out.assign_coords(week=np.arange(1, WEEKS + 1), state=list(STATES)).assign_attrs(
        provenance(daily)
    )


def _weeks(grid: np.ndarray, edges: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Counts by week and state, and known years by week, of one station.

    Parameters
    ----------
    grid : ndarray, shape (years, 365)
        Daily means. [degC]
    edges : ndarray, shape (4,)
        Bearable low, comfortable low, comfortable high, bearable high. [degC]
    """
    counts = np.zeros((WEEKS, len(STATES)), int)
    known = np.zeros(WEEKS, int)
    for week in range(WEEKS):
        last = DAYS if week == WEEKS - 1 else 7 * (week + 1)
        days = grid[:, 7 * week : last]
        enough = (~np.isnan(days)).sum(axis=1) >= LEAST_DAYS
        mean = np.nanmean(days[enough], axis=1)
        # A mean that equals a limit counts as within.
        low, high = edges[:2], edges[2:]
        state = (mean[:, None] >= low).sum(axis=1) + (mean[:, None] > high).sum(axis=1)
        counts[week] = np.bincount(state, minlength=len(STATES))
        known[week] = enough.sum()
    return counts, known
