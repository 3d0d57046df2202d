"""Gaps of a record filled from a neighbour's, every filled day marked."""

from __future__ import annotations

import xarray as xr

from climwin.climate._monthly import monthly_mean
from climwin.climate.adjust import TEMPERATURES
from climwin.core.provenance import check_alike, with_note
from climwin.core.schema import TOLERANCE_C, DataGapError, variable

OVERLAP = 30
"""Days in common that a month needs before its gaps are filled (common practice)."""


def fill_gaps(daily: xr.Dataset, neighbour: xr.Dataset, *, overlap: int = OVERLAP) -> xr.Dataset:
    """Gaps of the temperatures filled from a neighbour's record, every filled day marked.

    Parameters
    ----------
    daily, neighbour : Dataset, dims (..., time)
        The record with gaps, and the one to fill them from.
    overlap : int
        Days in common that a month of the year needs; months with fewer are not filled.

    Returns
    -------
    Dataset, as `daily`
        With ``<name>_filled``, true where a day was filled; ``history``, ``changes`` and
        ``credit`` say from whom.

    Raises
    ------
    DataGapError
        If no month has that many days in common.

    See Also
    --------
    compare_stations : How alike the two are.

    Notes
    -----
    A gap becomes the neighbour's value of that day plus the mean difference of the two in that
    month of the year, over all days that both have (common practice). A day whose minimum would
    come to lie above its maximum is left missing. Precipitation is not filled.

    Examples
    --------
    Days on which the valley's station was silent, filled from the hill's:

    >>> import climwin as cw
    >>> valley = cw.read_daily(cw.sample())
    >>> filled = cw.fill_gaps(valley, cw.read_daily(cw.sample("pellbrook_hill.csv")))
    >>> filled["tmin_filled"].sum().item()
    96
    """
    check_alike(daily, neighbour)
    filled, has_overlap = daily.copy(), False
    for name in [name for name in TEMPERATURES if name in daily and name in neighbour]:
        own = variable(daily, name)
        theirs = variable(neighbour, name).reindex(time=own["time"])
        offset, _, days = monthly_mean(own - theirs)
        has_overlap |= bool((days >= overlap).any())
        offset = offset.where(days >= overlap).sel(month=own["time"].dt.month).drop_vars("month")
        filled[name] = own.fillna(theirs + offset).transpose(*own.dims)
        filled[name].attrs = own.attrs
        filled[f"{name}_filled"] = (own.isnull() & filled[name].notnull()).assign_attrs(
            long_name=f"{name} was filled from a neighbour"
        )
    if not has_overlap:
        msg = (
            f"No month has {overlap} days with a temperature in both records. "
            "Take another neighbour, or longer records of both."
        )
        raise DataGapError(msg)
    name = neighbour.attrs.get("station_name") or neighbour.attrs.get("title", "a neighbour")
    out = with_note(_without_crossed(filled), f"gaps filled from {name} by monthly offset")
    # Each record may credit several sources; one that both share is named once.
    credit = [record.attrs.get("credit") for record in (daily, neighbour)]
    sources = dict.fromkeys(source for text in credit if text for source in text.split(", "))
    return out.assign_attrs(credit=", ".join(sources)) if sources else out


def _without_crossed(daily: xr.Dataset) -> xr.Dataset:
    """The record with fills taken back on days whose minimum came to lie above the maximum."""
    flags = [f"{name}_filled" for name in ("tmin", "tmax") if f"{name}_filled" in daily]
    if not {"tmin", "tmax"} <= set(daily) or not flags:
        return daily
    crossed = daily["tmin"] > daily["tmax"] + TOLERANCE_C
    out = daily.copy()
    for flag in flags:
        taken_back = crossed & daily[flag]
        name = flag.removesuffix("_filled")
        out[name] = daily[name].where(~taken_back)
        out[flag] = (daily[flag] & ~taken_back).assign_attrs(daily[flag].attrs)
    return out
