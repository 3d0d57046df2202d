"""Garden against station, and station against station.

A record is moved to the garden by its height, or by offsets that the garden's own logger has
measured; its gaps are filled from a neighbour, each filled day marked; stations are compared on
the days that all of them have.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np
import xarray as xr

from climwin.core.provenance import check_alike
from climwin.core.schema import TOLERANCE_C, DataGapError, Garden, apply, variable
from climwin.core.seasons import MONTH_NAMES, every_day

LAPSE = 6.5
"""Fall of temperature with height, ICAO standard atmosphere and ISO 2533 [degC/km]."""

OVERLAP = 30
"""Days in common that a month needs before its gaps are filled (common practice)."""

TEMPERATURES = ("tmin", "tmax", "tmean")

_SAID = {"tmin": "minimum", "tmax": "maximum", "tmean": "mean"}
_MONTHS = np.arange(1, 13)


# --- to the garden ------------------------------------------------------------------------


def adjust_to_garden(
    daily: xr.Dataset,
    garden: Garden,
    *,
    lapse: float | Mapping[str, float] = LAPSE,
    offsets: xr.Dataset | None = None,
) -> xr.Dataset:
    """Station temperatures moved to the garden, by height or by measured offsets.

    Parameters
    ----------
    daily : Dataset, dims (..., time)
        The station's record; its ``elevation`` [m] is an attribute, or a coordinate by station.
    garden : Garden
        Without an elevation the station's is taken, and that is noted.
    lapse : float or mapping
        Fall of temperature with height, for all variables or by name; a variable that a mapping
        leaves out is not adjusted. [degC/km]
    offsets : Dataset, dims (month), optional
        From `measured_offsets`: used instead, in the months that were measured.

    Returns
    -------
    Dataset, as `daily`
        ``tmin, tmax, tmean`` adjusted; the attributes ``history`` and ``changes`` say how.

    Raises
    ------
    ValueError
        If the garden's height is given and the station's is not known.

    Notes
    -----
    6.5 degC/km is the fall in the free air of a standard atmosphere [1]_. Near the ground it
    differs: 5.4 to 5.8 over the year in northern Italy [2]_; in the Cascades 2.5 to 3.5 for the
    minimum of late summer and 6.5 to 7.5 for the maximum of spring [3]_. On clear, calm nights
    a valley floor can be colder than the slope above it, which no lapse rate knows (common
    practice): a season of the garden's own logger does.

    References
    ----------
    .. [1] ICAO Doc 7488, Manual of the ICAO Standard Atmosphere; ISO 2533.
    .. [2] C. Rolland, 2003: yearly mean lapse rates in northern Italy.
    .. [3] J. R. Minder, P. W. Mote and J. D. Lundquist, 2010: lapse rates in the Cascades.
    """
    climb, how = _climb(daily, garden)
    rates = lapse if isinstance(lapse, Mapping) else dict.fromkeys(TEMPERATURES, lapse)
    out = daily.copy()
    for name in (n for n in TEMPERATURES if n in daily):
        change = -rates.get(name, 0.0) * climb
        if offsets is not None and name in offsets:
            measured = offsets[name].sel(month=daily["time"].dt.month).drop_vars("month")
            change = measured.fillna(change)
        out[name] = (variable(daily, name) + change).transpose(*daily[name].dims)
        out[name].attrs = daily[name].attrs
    if garden.elevation is not None:
        out = _raised(out, garden.elevation)
        how += f", {_fall(rates)} colder for each 1000 m up"
    if offsets is not None:
        how = f"by offsets measured in {_measured_months(offsets)}; other months {how}"
    return _noted(out, f"temperatures moved to {garden.name}, {how}")


def _climb(daily: xr.Dataset, garden: Garden) -> tuple[xr.DataArray, str]:
    """How far the garden lies above the station [km], and that in words."""
    if garden.elevation is None:
        return xr.DataArray(0.0), "at the height of the station, for the garden's is not given"
    station = daily.coords.get("elevation", daily.attrs.get("elevation"))
    if station is None:
        msg = (
            "How high the station lies is not known. Set daily.attrs['elevation'] in metres, or "
            "leave the garden's elevation out."
        )
        raise ValueError(msg)
    up = garden.elevation - xr.DataArray(station)
    if up.size > 1:
        return up / 1000, "by height"
    way = "above" if up.item() >= 0 else "below"
    return up / 1000, f"{abs(up.item()):.0f} m {way} the station"


def _fall(rates: Mapping[str, float]) -> str:
    """Rates of fall, told once where all temperatures fall alike."""
    falls = {name: rates.get(name, 0.0) for name in TEMPERATURES}
    if len(set(falls.values())) == 1:
        return f"{falls['tmin']:g} °C"
    return ", ".join(f"{_SAID[name]} {fall:g} °C" for name, fall in falls.items())


def _raised(daily: xr.Dataset, elevation: float) -> xr.Dataset:
    """The record at a new height."""
    if "elevation" in daily.coords:
        return daily.assign_coords(elevation=xr.full_like(daily["elevation"], elevation))
    return daily.assign_attrs(elevation=elevation)


def _measured_months(offsets: xr.Dataset) -> str:
    held = offsets[[n for n in TEMPERATURES if n in offsets]].to_array().notnull().any("variable")
    days = {n: int(offsets[f"{n}_days"].sum()) for n in TEMPERATURES if n in offsets}
    words = ", ".join(f"{_SAID[name]} from {count} days" for name, count in days.items())
    return (
        f"{', '.join(MONTH_NAMES[m - 1] for m in offsets['month'].values[held.values])} ({words})"
    )


def measured_offsets(daily: xr.Dataset, logger: xr.Dataset) -> xr.Dataset:
    """What the garden's own logger reads above the station, by month, and how sure that is.

    Parameters
    ----------
    daily : Dataset, dims (time)
        The station's record.
    logger : Dataset, dims (time)
        Daily ``tmin``, ``tmax``, ``tmean`` (any of them) of a logger in the garden, in a screen.

    Returns
    -------
    Dataset, dims (month)
        For each variable the mean difference [degC], its standard error ``<name>_se`` [degC]
        and the days behind it ``<name>_days``. Missing in a month without a day in common.

    Raises
    ------
    DataGapError
        If the two have no day in common.

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
    check_alike(daily, logger)
    out = xr.Dataset(coords={"month": _MONTHS})
    for name in (n for n in TEMPERATURES if n in daily and n in logger):
        station, garden = _on_every_day(variable(daily, name), variable(logger, name))
        mean, error, days = _by_month(garden - station)
        named = {"units": "degC", "long_name": f"garden less station, {name}"}
        out[name] = mean.assign_attrs(named)
        out[f"{name}_se"] = error.assign_attrs(named, long_name=f"standard error of {name}")
        out[f"{name}_days"] = days.astype(int).assign_attrs(units="1", long_name="days behind it")
    if not any(int(out[f"{n}_days"].sum()) for n in TEMPERATURES if n in out):
        msg = (
            "The logger and the station have no day with a temperature in common. Fetch the "
            "station's history of the logger's own days."
        )
        raise DataGapError(msg)
    return out


def _on_every_day(*arrays: xr.DataArray) -> list[xr.DataArray]:
    """Arrays on one axis that has every day from the first to the last."""
    ends = [day for da in arrays for day in da["time"].values[[0, -1]].astype("datetime64[D]")]
    days = every_day(min(ends), max(ends))
    return [da.reindex(time=days) for da in arrays]


def _by_month(difference: xr.DataArray) -> tuple[xr.DataArray, ...]:
    """Mean, standard error and number of the differences of each month."""
    month = difference["time"].dt.month
    made = apply(
        _monthly,
        difference,
        month,
        core=[["time"], ["time"]],
        out=[["month"]] * 3,
        sizes={"month": 12},
        dtypes=[float] * 3,
        each=True,
    )
    return tuple(da.assign_coords(month=_MONTHS) for da in made)


def _monthly(difference: np.ndarray, month: np.ndarray) -> tuple[np.ndarray, ...]:
    """Mean, standard error and number by month, of one station on an axis of every day."""
    held = ~np.isnan(difference)
    where, values = month[held] - 1, difference[held]
    days = np.bincount(where, minlength=12).astype(float)
    with np.errstate(invalid="ignore", divide="ignore"):
        mean = np.bincount(where, values, minlength=12) / days
        rest = np.full(difference.shape, np.nan)
        rest[held] = values - mean[where]
        squares = np.bincount(where, rest[held] ** 2, minlength=12)
        alike = _next_day(rest)
        worth = days * (1 - alike) / (1 + alike)
        error = np.sqrt(squares / np.where(days > 1, days - 1, np.nan) / worth)
    return mean, error, days


def _next_day(rest: np.ndarray) -> float:
    """Correlation of a day's departure with the next day's: 0 to 0.99."""
    pairs = np.isfinite(rest[1:] + rest[:-1])
    one, other = rest[1:][pairs], rest[:-1][pairs]
    scale = np.sqrt((one**2).sum() * (other**2).sum())
    return float(np.clip((one * other).sum() / scale, 0, 0.99)) if scale > 0 else 0.0


# --- from a neighbour ---------------------------------------------------------------------


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

    Notes
    -----
    A gap becomes the neighbour's value of that day plus the mean difference of the two in that
    month of the year, over all days that both have (common practice). A day whose minimum would
    come to lie above its maximum is left missing. Precipitation is not filled.
    """
    check_alike(daily, neighbour)
    filled, enough = daily.copy(), False
    for name in (n for n in TEMPERATURES if n in daily and n in neighbour):
        here = variable(daily, name)
        there = variable(neighbour, name).reindex(time=here["time"])
        offset, _, days = _by_month(here - there)
        enough |= bool((days >= overlap).any())
        offset = offset.where(days >= overlap).sel(month=here["time"].dt.month)
        gap = here.isnull()
        filled[name] = here.fillna(there + offset.drop_vars("month")).transpose(*here.dims)
        filled[name].attrs = here.attrs
        filled[f"{name}_filled"] = (gap & filled[name].notnull()).assign_attrs(
            long_name=f"{name} was filled from a neighbour"
        )
    if not enough:
        msg = (
            f"No month has {overlap} days with a temperature in both records. "
            "Take another neighbour, or longer records of both."
        )
        raise DataGapError(msg)
    name = neighbour.attrs.get("station_name") or neighbour.attrs.get("title", "a neighbour")
    out = _noted(_uncrossed(filled), f"gaps filled from {name} by monthly offset")
    both = ", ".join(filter(None, (r.attrs.get("credit") for r in (daily, neighbour))))
    return out.assign_attrs(credit=", ".join(dict.fromkeys(both.split(", ")))) if both else out


def _uncrossed(daily: xr.Dataset) -> xr.Dataset:
    """Fills taken back on days whose minimum came to lie above the maximum."""
    pair = [f"{name}_filled" for name in ("tmin", "tmax") if f"{name}_filled" in daily]
    if not {"tmin", "tmax"} <= set(daily) or not pair:
        return daily
    crossed = daily["tmin"] > daily["tmax"] + TOLERANCE_C
    out = daily.copy()
    for flag in pair:
        back = crossed & daily[flag]
        name = flag.removesuffix("_filled")
        out[name] = daily[name].where(~back)
        out[flag] = (daily[flag] & ~back).assign_attrs(daily[flag].attrs)
    return out


def _noted(daily: xr.Dataset, text: str) -> xr.Dataset:
    """The record, saying what was done to it."""
    story = "\n".join(filter(None, (daily.attrs.get("history"), text)))
    changes = "; ".join(filter(None, (daily.attrs.get("changes"), text)))
    return daily.assign_attrs(history=story, changes=changes)


# --- side by side -------------------------------------------------------------------------


def compare_stations(records: Sequence[xr.Dataset], *, threshold: float = 0.0) -> xr.Dataset:
    """Stations side by side, on the days that all of them have.

    Parameters
    ----------
    records : sequence of Dataset, dims (time)
        Two or more; the others are compared with the first.
    threshold : float
        A day whose minimum is at or below it is a freeze. [degC]

    Returns
    -------
    Dataset, dims (station, variable)
        ``share_present`` of the span of all records, and on the days in common, ``common_days``
        of them: the ``mean`` [degC], the ``difference`` from the first station [degC], the
        ``spread`` of its daily values (standard deviation) [degC] and their ``correlation``.
        ``freezes`` by `station`: days at or below `threshold` a year. ``name`` and
        ``elevation`` [m] by `station`.

    Raises
    ------
    ValueError
        If fewer than two records are given.
    DataGapError
        If they have no day in common.
    """
    if len(records) < 2:
        msg = f"To compare takes two records or more, got {len(records)}."
        raise ValueError(msg)
    arrays = [variable(record, name) for record in records for name in ("tmin", "tmax")]
    check_alike(*records)
    stack = np.stack(_on_every_day(*arrays)).reshape(len(records), 2, -1)
    held = ~np.isnan(stack)
    common = held.all(axis=(0, 1))
    if not common.any():
        msg = "The records have no day in common on which all have a minimum and a maximum."
        raise DataGapError(msg)
    there, facts = stack[..., common], [record.attrs for record in records]
    apart, degrees, dims = there - there[0], {"units": "degC"}, ("station", "variable")
    freezes = (there[:, 0] <= threshold + TOLERANCE_C).mean(axis=-1) * 365.25
    words = {"units": "1", "long_name": f"days a year at or below {threshold:g} degC"}
    return xr.Dataset(
        {
            "share_present": (dims, held.mean(axis=-1), {"units": "1"}),
            "mean": (dims, there.mean(axis=-1), degrees),
            "difference": (dims, apart.mean(axis=-1), degrees),
            "spread": (dims, apart.std(axis=-1), degrees),
            "correlation": (dims, _correlation(there), {"units": "1"}),
            "freezes": ("station", freezes, words),
            "common_days": ((), int(common.sum()), {"units": "1"}),
        },
        coords={
            "station": [str(f.get("station_id", n)) for n, f in enumerate(facts, start=1)],
            "variable": ["tmin", "tmax"],
            "name": ("station", [str(f.get("station_name", "")) for f in facts]),
            "elevation": ("station", [float(f.get("elevation", np.nan)) for f in facts]),
        },
    )


def _correlation(there: np.ndarray) -> np.ndarray:
    """Correlation of each station's days with the first one's."""
    rest = there - there.mean(axis=-1, keepdims=True)
    scale = np.sqrt((rest**2).sum(axis=-1) * (rest[0] ** 2).sum(axis=-1))
    with np.errstate(invalid="ignore", divide="ignore"):
        return (rest * rest[0]).sum(axis=-1) / scale
