"""Gridded data: any CF dataset of daily temperatures as a daily record.

Variables, coordinates and units are recognised by their CF attributes, or else by the names that
are common in open datasets. Every function treats cells like stations.
"""

from __future__ import annotations

import math
from collections.abc import Hashable, Iterable
from pathlib import Path
from typing import Any

import numpy as np
import xarray as xr

from climwin.core.errors import InputError, RecordError
from climwin.core.formatting import fixed, number
from climwin.core.schema import VARIABLES, ZERO_C_IN_K, from_celsius, to_celsius
from climwin.io.files import check_declared_size, file_size

_NAMES = {
    "tmin": ("tasmin", "tmin", "tn", "tmmn", "mn2t", "t2m_min"),
    "tmax": ("tasmax", "tmax", "tx", "tmmx", "mx2t", "t2m_max"),
    "tmean": ("tas", "tmean", "tavg", "tg", "tm", "t2m"),
}
"""Names of variables that have no CF attributes (common practice)."""
_METHODS = {"tmin": "minimum", "tmax": "maximum", "tmean": "mean"}

_KELVIN = ("k", "kelvin", "degk", "degree_kelvin", "degrees_kelvin")
_CELSIUS = ("degc", "c", "celsius", "degree_celsius", "degrees_celsius", "deg_c", "°c")
_FAHRENHEIT = ("degf", "f", "fahrenheit", "degree_fahrenheit", "degrees_fahrenheit", "deg_f", "°f")
_LARGEST = 20_000_000  # bytes of a coordinate: 6,000 years of days
_MOST_CELLS = 1_000_000
_ONE_DAY = np.timedelta64(1, "D")
_A_YEAR = 360  # days

_LOOKED_AT = 25  # cells of the first year whose values are checked
_EVERY_DAYS = 15  # every so many days of it are checked
_PLAUSIBLE_C = (-70.0, 45.0)  # of the median of a year, from pole to desert (common practice)
_ON_EARTH_C = (-95.0, 65.0)  # wider than anything measured in a screen (common practice)
_NO_UNIT_C = 500.0  # weather in no unit, taken as another, comes near it
_CROSSED_C = 0.1  # by so much packing into integers may cross the extremes
_CROSSED_SHARE = 0.01
_FAR_FROM_EQUATOR = 30.0  # [degrees]
_CLEAR_SEASONS_C = 4.0
_SPREAD = (
    "years of 360 days spread over the calendar year; days left empty get their neighbours' mean"
)


def open_grid(path: str | Path) -> xr.Dataset:
    """Open a CF netCDF file or Zarr store of daily temperatures, lazily.

    Parameters
    ----------
    path : str or Path
        A netCDF file, or a ``.zarr`` folder. It is read fastest with all days in one chunk.

    Returns
    -------
    Dataset, dims (..., time)
        See `as_daily`.

    Raises
    ------
    RecordError
        If it cannot be opened, or used as daily weather.

    Examples
    --------
    >>> import climwin as cw
    >>> grid = cw.open_grid("grid.nc")  # doctest: +SKIP
    """
    file = Path(path)
    try:
        if not file.is_dir():
            file_size(file)
        check_declared_size(file, _LARGEST, coordinates=True)
        return as_daily(xr.open_dataset(file, chunks={}))
    except Exception as error:  # a damaged file may raise anything, in xarray or below
        msg = f"{path} cannot be used as daily weather: {error}"
        raise RecordError(msg) from error


def as_daily(grid: xr.Dataset) -> xr.Dataset:
    """Take a CF dataset of daily temperatures as a record.

    Parameters
    ----------
    grid : Dataset, dims (time, ...)
        Daily minimum and maximum, and mean if there is one, in kelvin, degC or degF: on latitude
        and longitude, on a projected grid that has both, or at stations.

    Returns
    -------
    Dataset, dims (..., time)
        ``tmin``, ``tmax`` and ``tmean`` [degC], on coordinates ``latitude`` and ``longitude``.
        Without a mean, ``tmean`` is (tmin + tmax) / 2. Lazy if `grid` is.

    Raises
    ------
    RecordError
        If the minimum, the maximum or the time is not recognised, a unit is not one of temperature,
        or values are not daily; or if those of the first year show a wrong unit, a code for missing
        days, a minimum and maximum that are swapped or the same, or the seasons of the other
        hemisphere.

    Notes
    -----
    Single values are not checked, because a reanalysis or an interpolation has no bad readings to
    set aside. The values of a grid with more than a million cells are not checked at all: cut it
    out first.

    A climate model's years of 360 days are spread over the calendar year by xarray's
    ``convert_calendar`` with ``align_on="year"``, so each day keeps its place in the seasons. The
    five or six days left empty get the mean of the days before and after. ``history`` says so.

    See Also
    --------
    open_grid : The same for a file.

    Examples
    --------
    >>> import climwin as cw
    >>> grid = xr.open_dataset("grid.nc", chunks={})  # doctest: +SKIP
    >>> daily = cw.as_daily(grid.sel(lat=slice(45, 47)))  # doctest: +SKIP
    """
    named = _time_and_place(grid)
    variables = {name: _find(named, name) for name in _NAMES}
    for name in ("tmin", "tmax"):
        if not variables[name]:
            msg = (
                f"No {VARIABLES[name].long_name} is recognised among "
                f"{', '.join(map(str, grid.data_vars)) or 'no variables'}. Give it the attributes "
                "standard_name='air_temperature' and "
                f"cell_methods='time: {_METHODS[name]}', or the name {_NAMES[name][0]!r}."
            )
            raise RecordError(msg)
    out = xr.Dataset({name: _celsius(named[key], name) for name, key in variables.items() if key})
    _check_values(out, {name: named[key] for name, key in variables.items() if key})
    if "tmean" not in out:
        attributes = VARIABLES["tmean"]._asdict() | {"derived_from": "tmin tmax"}
        out["tmean"] = ((out["tmin"] + out["tmax"]) / 2).assign_attrs(attributes)
    facts = {key: grid.attrs[key] for key in ("title", "source", "licence") if key in grid.attrs}
    if out["time"].dt.calendar == "360_day":
        facts["history"] = "\n".join(filter(None, [grid.attrs.get("history"), _SPREAD]))
    return _by_date(out).transpose(..., "time").drop_attrs(deep=False).assign_attrs(facts)


def as_stations(daily: xr.Dataset) -> xr.Dataset:
    """Turn the cells of a grid into stations, each named by its coordinates.

    Parameters
    ----------
    daily : Dataset, dims (..., time)
        From `as_daily`, with ``latitude`` and ``longitude``.

    Returns
    -------
    Dataset, dims (station, time)
        ``station`` holds coordinates, such as ``"46.125 N 7.375 E"``. The cells of a lazy grid come
        one chunk after the other, so that stations side by side are read together.

    Raises
    ------
    ValueError
        If the record has no latitude and longitude, or more than a million cells.

    Examples
    --------
    >>> import climwin as cw
    >>> grid = cw.open_grid("grid.nc")  # doctest: +SKIP
    >>> cells = cw.as_stations(grid)  # doctest: +SKIP
    """
    if not {"latitude", "longitude"} <= {*daily.coords}:
        present = ", ".join(map(str, daily.coords)) or "none"
        msg = f"A grid needs the coordinates latitude and longitude, got {present}. Add them."
        raise InputError(msg)
    cells = dict.fromkeys([*daily["latitude"].dims, *daily["longitude"].dims])
    count = math.prod(daily.sizes[name] for name in cells)
    if count > _MOST_CELLS:
        msg = (
            f"The grid has {number(count)} cells, and at most {number(_MOST_CELLS)} can be "
            "handled. Cut out a part first."
        )
        raise InputError(msg)
    out = _chunk_by_chunk(daily, list(cells))
    if out is None:
        out = daily.stack(station=list(cells)).reset_index("station")
    places = zip(out["latitude"].values, out["longitude"].values, strict=True)
    extra = [name for name in cells if name not in ("latitude", "longitude")]
    out = out.drop_vars(extra, errors="ignore").transpose("station", "time", ...)
    return out.assign_coords(station=[_place(*place) for place in places])


def _chunk_by_chunk(daily: xr.Dataset, cells: list[Hashable]) -> xr.Dataset | None:
    """A lazy grid as stations, in the order of its chunks; None if it is not lazy, or has no rows.

    Stacking the cells row by row would cut each chunk into rows, and read it once for every row.
    """
    values = {name: each.transpose(*cells, "time", ...) for name, each in daily.data_vars.items()}
    chunks = daily["tmin"].chunksizes
    if not chunks or len(cells) != 2 or any(each.ndim != 3 for each in values.values()):
        return None
    import dask.array

    sizes = {name: chunks[name] for name in cells}
    rows, columns = (len(each) for each in sizes.values())

    def joined(array: xr.DataArray) -> tuple[list[str], Any, dict[str, Any]]:
        data = array.chunk(sizes).data
        days = data.shape[-1]
        blocks = [data.blocks[at].reshape((-1, days)) for at in np.ndindex(rows, columns)]
        stations = dask.array.concatenate(blocks)  # type: ignore[no-untyped-call]
        return ["station", "time"], stations, array.attrs

    places = daily.drop_vars(daily.data_vars).stack(station=cells).reset_index("station")
    of_row, of_column = (np.repeat(np.arange(len(each)), each) for each in sizes.values())
    block = of_row[:, None] * columns + of_column  # the chunk of each cell
    ordered = places.isel(station=np.argsort(block.ravel(), kind="stable"))
    return ordered.assign({name: joined(each) for name, each in values.items()})


def _place(latitude: float, longitude: float) -> str:
    ends = ("N" if latitude >= 0 else "S"), ("E" if longitude >= 0 else "W")
    return f"{abs(latitude):.7g} {ends[0]} {abs(longitude):.7g} {ends[1]}"


# --- variables and coordinates ------------------------------------------------------------


def _time_and_place(grid: xr.Dataset) -> xr.Dataset:
    """The dataset with its coordinates renamed to time, latitude and longitude."""
    import cf_xarray  # noqa: F401

    guessed = grid.cf.guess_coord_axis()
    names = {}
    for ours in ("time", "latitude", "longitude"):
        known = guessed.cf.coordinates.get(ours, [])
        if len(known) == 1:
            names[known[0]] = ours
    if "time" not in names.values():
        present = ", ".join(map(str, grid.coords)) or "no coordinates"
        msg = f"No time is recognised among {present}. Give it the attribute standard_name='time'."
        raise RecordError(msg)
    return guessed.rename({theirs: ours for theirs, ours in names.items() if theirs != ours})


def _find(grid: xr.Dataset, name: str) -> str:
    """Name of the daily minimum, maximum or mean; empty if there is none."""
    by_attributes = [
        key
        for key in grid.cf.standard_names.get("air_temperature", [])
        if f"time: {_METHODS[name]}" in grid[key].attrs.get("cell_methods", "")
    ]
    by_name = [key for key in grid if str(key).lower() in _NAMES[name]]
    return _only(by_attributes, name) or _only(by_name, name)


def _only(candidates: Iterable[object], name: str) -> str:
    """The only candidate; empty if there is none."""
    keys = [str(key) for key in candidates]
    if len(keys) > 1:
        msg = f"{' and '.join(keys)} could each be the {VARIABLES[name].long_name}. Keep one."
        raise RecordError(msg)
    return keys[0] if keys else ""


def _celsius(values: xr.DataArray, name: str) -> xr.DataArray:
    """Temperatures in degC, by their own units; refused if these are no temperature's."""
    units = str(values.attrs.get("units", "")).strip().lower()
    values = values.astype(float)
    if units in _KELVIN:
        values = values - ZERO_C_IN_K
    elif units in _FAHRENHEIT:
        values = to_celsius(values, "F")
    elif units not in _CELSIUS:
        msg = f"{values.name!r} must be in K, degC or degF; its units are {units or 'not said'!r}."
        raise RecordError(msg)
    values.attrs = VARIABLES[name]._asdict()
    return values


def _check_values(daily: xr.Dataset, given: dict[str, xr.DataArray]) -> None:
    """Refuse a wrong unit, swapped extremes and a wrong hemisphere, by some cells of a year."""
    cells = [name for name in daily["tmin"].dims if name != "time"]
    count = math.prod(daily.sizes[name] for name in cells)
    if count > _MOST_CELLS:  # `as_stations` refuses it, and picking cells of it is slow
        return
    stride = max(math.ceil((count / _LOOKED_AT) ** 0.5), 1)
    first_year = daily.isel({name: slice(None, None, stride) for name in cells})
    first_year = first_year.isel(time=slice(366))
    # Two days a month are enough, and loading one chunk after another bounds the memory: a chunk
    # may be a map of the world, or all years of a cell.
    a_year = first_year.isel(time=slice(None, None, _EVERY_DAYS)).compute(scheduler="synchronous")
    for name, values in a_year.data_vars.items():
        weather = values.where(np.abs(values) < _NO_UNIT_C)
        _check_unit(float(weather.median()), given[str(name)], str(name))
        _refuse_codes(values, given[str(name)])
    low, high = a_year["tmin"], a_year["tmax"]
    known = int((low.notnull() & high.notnull()).sum())
    alike = int((low == high).sum())
    if alike > known / 2:
        msg = (
            f"The minimum {given['tmin'].name!r} and the maximum {given['tmax'].name!r} are the "
            f"same on {fixed(100 * alike / known)} % of days. Was one of them saved twice, or a "
            "mean for both? Give the extremes of each day."
        )
        raise RecordError(msg)
    crossed = int((low > high + _CROSSED_C).sum())
    if crossed > _CROSSED_SHARE * known:
        msg = (
            f"The minimum {given['tmin'].name!r} is above the maximum {given['tmax'].name!r} on "
            f"{fixed(100 * crossed / known)} % of days. Are they swapped? Correct their names, and "
            "their cell_methods if they have any."
        )
        raise RecordError(msg)
    if first_year.sizes["time"] >= _A_YEAR and "latitude" in a_year.coords:
        _check_seasons(a_year)


def _check_unit(middle: float, given: xr.DataArray, name: str) -> None:
    """Refuse a variable whose values do not fit its unit."""
    if np.isnan(middle) or _PLAUSIBLE_C[0] <= middle <= _PLAUSIBLE_C[1]:
        return
    said = str(given.attrs.get("units", ""))
    others = {
        "K": middle - ZERO_C_IN_K,
        "degC": middle + ZERO_C_IN_K,
        "degF": to_celsius(middle, "F"),
    }
    likely = [u for u, c in others.items() if _PLAUSIBLE_C[0] <= c <= _PLAUSIBLE_C[1]]
    advice = f"They look like {likely[0]}: correct its units." if likely else "Correct its units."
    msg = (
        f"{given.name!r} says its units are {said!r}, but then the median of a year's "
        f"{VARIABLES[name].long_name} is {fixed(middle)} degC. {advice}"
    )
    raise RecordError(msg)


def _refuse_codes(values: xr.DataArray, given: xr.DataArray) -> None:
    """Refuse values that no place on Earth has, such as a code for missing days left as it was."""
    low, high = float(values.min()), float(values.max())
    if np.isnan(low) or (_ON_EARTH_C[0] <= low and high <= _ON_EARTH_C[1]):
        return
    worst, unit = low if low < _ON_EARTH_C[0] else high, str(given.attrs["units"])
    if unit.strip().lower() in _KELVIN:
        worst += ZERO_C_IN_K
    elif unit.strip().lower() in _FAHRENHEIT:
        worst = float(from_celsius(worst, "F"))
    msg = (
        f"{given.name!r} holds values such as {fixed(worst)} {unit}, which no place on Earth has. "
        "If they mean missing, say so in its attribute _FillValue."
    )
    raise RecordError(msg)


def _check_seasons(a_year: xr.Dataset) -> None:
    """Refuse a grid that is warm in the other hemisphere's summer."""
    month, middle = a_year["time"].dt.month, (a_year["tmin"] + a_year["tmax"]) / 2
    july = middle.where(month.isin([6, 7, 8])).mean("time")
    january = middle.where(month.isin([12, 1, 2])).mean("time")
    swing = (july - january) * np.sign(a_year["latitude"])
    swing = swing.where(np.abs(a_year["latitude"]) > _FAR_FROM_EQUATOR)
    if float(swing.median()) < -_CLEAR_SEASONS_C:
        msg = (
            "The warm months are those of the other hemisphere's summer: June to August differ by "
            f"{fixed(abs(float(swing.median())))} degC from December to February in the wrong "
            "direction. Is the sign of the latitude right, and are the dates?"
        )
        raise RecordError(msg)


def _by_date(daily: xr.Dataset) -> xr.Dataset:
    """The record on the days of the standard calendar, without time of day."""
    if daily["time"].dt.calendar == "360_day":
        return _spread_over_the_year(daily)
    if daily["time"].dt.calendar not in ("standard", "gregorian", "proleptic_gregorian"):
        daily = daily.convert_calendar("standard", use_cftime=False)
    days = daily["time"].values.astype("datetime64[D]").astype("datetime64[s]")
    _refuse_repeated_days(days)
    _refuse_longer_steps(days)
    return daily.assign_coords(time=days)


def _refuse_repeated_days(days: np.ndarray) -> None:
    if len(np.unique(days)) < len(days):
        msg = "Some days are repeated. Give daily values: resample(time='1D') first."
        raise RecordError(msg)


def _refuse_longer_steps(days: np.ndarray) -> None:
    """Refuse means of weeks or months, which hide the coldest and the warmest day."""
    step = float(np.median(np.diff(days) / _ONE_DAY)) if len(days) > 1 else 1.0
    if step > 1:
        msg = (
            f"It has a value every {fixed(step)} days. Frosts and windows are counted by the day: "
            "give daily minima and maxima, not means of a longer time."
        )
        raise RecordError(msg)


def _spread_over_the_year(daily: xr.Dataset) -> xr.Dataset:
    """Years of 360 days on the days of the standard calendar; see the notes of `as_daily`."""
    time = daily["time"].values
    noons = np.array([day.replace(hour=12, minute=0, second=0, microsecond=0) for day in time])
    _refuse_repeated_days(noons)
    follows = np.array([step.days == 1 for step in np.diff(noons)], dtype=bool)
    spread = daily.assign_coords(time=noons)
    spread = spread.convert_calendar("standard", align_on="year", use_cftime=False)
    days = spread["time"].values.astype("datetime64[D]").astype("datetime64[s]")
    spread = spread.assign_coords(time=days)
    opened = days[:-1][follows & (np.diff(days) == 2 * _ONE_DAY)] + _ONE_DAY
    whole = spread.reindex(time=np.union1d(days, opened))
    around = (whole.shift(time=1) + whole.shift(time=-1)) / 2
    is_open = xr.DataArray(np.isin(whole["time"].values, opened), dims="time")
    filled = whole.where(~is_open, around)
    for name, values in filled.data_vars.items():
        values.attrs = daily[name].attrs
    return filled
