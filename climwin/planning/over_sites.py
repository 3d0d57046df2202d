"""A kernel of the growing model on every station of a record."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from typing import Any, NamedTuple

import numpy as np
import xarray as xr

from climwin.climate.imputation import NEARBY
from climwin.core.errors import Attribute, InputError
from climwin.core.schema import apply, variable
from climwin.core.seasons import DAYS, ONE_DAY
from climwin.planning.grown import Calendar
from climwin.planning.site import FilledSites, filled_sites


class Result(NamedTuple):
    """Name, dimensions and type of an array that a kernel makes."""

    name: str
    dims: tuple[str, ...] = ("season", "start_day")
    dtype: Any = float


def over_sites(
    kernel: Callable[[FilledSites, Calendar], tuple[np.ndarray, ...]],
    daily: xr.Dataset,
    *,
    results: Sequence[Result],
    sizes: Mapping[str, int] | None = None,
    start_days: np.ndarray | None = None,
) -> xr.Dataset:
    """Apply a kernel to the weather of each station of a record.

    Parameters
    ----------
    kernel : callable
        Takes the sites of one station and the record's calendar, returns an array for each of
        `results`.
    daily : Dataset, dims (..., time)
        Needs ``tmin`` and ``tmax`` [degC], and its latitude as a coordinate or an attribute.
    results : sequence of Result
        One or more.
    sizes : mapping, optional
        Lengths of dimensions other than ``season`` and ``start_day``.
    start_days : ndarray, optional
        Labels of ``start_day``; all days of the year where left out.

    Returns
    -------
    Dataset, dims (..., those of each result)

    Raises
    ------
    ValueError
        If the record holds no latitude.
    """
    nearby = [name for name in NEARBY.values() if name in daily]
    values = xr.broadcast(
        variable(daily, "tmin"), variable(daily, "tmax"), *(daily[name] for name in nearby)
    )
    dates = np.asarray(daily["time"]).astype("datetime64[D]")
    first, last = dates.min(), dates.max()
    size = int((last - first) / ONE_DAY) + 1
    place = ((dates - first) / ONE_DAY).astype(int)
    years = np.arange(int(str(first)[:4]), int(str(last)[:4]) + 1)
    calendar = Calendar(years, first, size)

    def of_station(latitude: float, *of_days: np.ndarray) -> np.ndarray | tuple[np.ndarray, ...]:
        every_day = np.full((len(of_days), size), np.nan)
        every_day[:, place] = of_days
        low, high, *estimates = every_day
        sites = filled_sites(
            first, low, high, float(latitude), dict(zip(nearby, estimates, strict=True))
        )
        made = kernel(sites, calendar)
        return made if len(made) > 1 else made[0]

    starts = np.arange(1, DAYS + 1) if start_days is None else start_days
    labels = {"season": years, "start_day": starts}
    dims = {dim for result in results for dim in result.dims}
    arrays = apply(
        of_station,
        latitude_of(daily),
        *values,
        core=[[], *[["time"]] * len(values)],
        out=[result.dims for result in results],
        sizes={d: len(label) for d, label in labels.items() if d in dims} | dict(sizes or {}),
        dtypes=[result.dtype for result in results],
        each=True,
    )
    several = arrays if len(results) > 1 else (arrays,)
    out = xr.Dataset({r.name: array for r, array in zip(results, several, strict=True)})
    return out.assign_coords({dim: label for dim, label in labels.items() if dim in dims})


def latitude_of(daily: xr.Dataset) -> xr.DataArray:
    """Latitude of a record, of each station where they differ. [degrees north]

    Raises
    ------
    ValueError
        If it has none; radiation and day length depend on it.
    """
    if "latitude" in daily.coords:
        return daily["latitude"]
    if "latitude" in daily.attrs:
        return xr.DataArray(float(daily.attrs["latitude"]))
    msg = (
        "The growing model needs the latitude, for the sun and the length of the day, and the "
        "record does not hold it. Give it, in degrees north: "
    )
    raise InputError(msg, Attribute("latitude", 46.1), ".", parameter="latitude")


def check_one_place(daily: xr.Dataset, asker: str) -> None:
    """Refuse a record of several places if each would have its own list of results.

    Raises
    ------
    ValueError
        Says which dimensions there are, and how to choose a place.
    """
    dims = variable(daily, "tmin").dims
    if dims != ("time",):
        msg = (
            f"{asker} takes the record of one place, got dimensions {', '.join(map(str, dims))}. "
            "Choose one first, such as daily.sel(station=...)."
        )
        raise InputError(msg, parameter="daily")


def calendar_years(daily: xr.Dataset) -> int:
    """Calendar years of a record, from its first day to its last."""
    years = daily["time"].dt.year.values
    return int(years.max() - years.min()) + 1
