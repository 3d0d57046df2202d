"""From the station to the garden: a record moved by height, or by offsets from a logger."""

from __future__ import annotations

from collections.abc import Mapping

import xarray as xr

from climwin.climate._monthly import MONTHS, monthly_mean, on_every_day
from climwin.core.errors import Attribute, InputError
from climwin.core.formatting import metres, plain
from climwin.core.provenance import check_alike, with_note
from climwin.core.schema import DataGapError, Garden, variable
from climwin.core.wording import MONTHS as MONTH_NAMES

LAPSE = 6.5
"""Fall of temperature with height, ICAO standard atmosphere and ISO 2533 [degC/km]."""

TEMPERATURES = ("tmin", "tmax", "tmean")

_WORDS = {"tmin": "minimum", "tmax": "maximum", "tmean": "mean"}


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

    See Also
    --------
    measured_offsets : Offsets from a logger in the garden itself.

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

    Examples
    --------
    A garden 200 m above its station, 6.5 degC/km colder:

    >>> import climwin as cw
    >>> daily = cw.read_daily(cw.sample())
    >>> garden = cw.Garden("Upper Pellbrook", latitude=46.1, longitude=7.2, elevation=620)
    >>> moved = cw.adjust_to_garden(daily, garden)
    >>> round((moved["tmin"] - daily["tmin"]).mean().item(), 2)
    -1.3
    """
    height_km, how = _height_above_station(daily, garden)
    rates = lapse if isinstance(lapse, Mapping) else dict.fromkeys(TEMPERATURES, lapse)
    out = daily.copy()
    for name in [name for name in TEMPERATURES if name in daily]:
        change = -rates.get(name, 0.0) * height_km
        if offsets is not None and name in offsets:
            measured = offsets[name].sel(month=daily["time"].dt.month).drop_vars("month")
            change = measured.fillna(change)
        out[name] = (variable(daily, name) + change).transpose(*daily[name].dims)
        out[name].attrs = daily[name].attrs
    if garden.elevation is not None:
        out = _with_elevation(out, garden.elevation)
        how += f", {_in_words(rates)} colder for each 1000 m up"
    if offsets is not None:
        how = f"by offsets measured in {_measured_months(offsets)}; other months {how}"
    return with_note(out, f"temperatures moved to {garden.name}, {how}")


def _height_above_station(daily: xr.Dataset, garden: Garden) -> tuple[xr.DataArray, str]:
    """How far the garden lies above the station [km], and that in words."""
    if garden.elevation is None:
        return xr.DataArray(0.0), "at the height of the station, for the garden's is not given"
    station = daily.coords.get("elevation", daily.attrs.get("elevation"))
    if station is None:
        msg = (
            "How high the station lies is not known. Give its metres in ",
            Attribute("elevation"),
            ", or leave the garden's elevation out.",
        )
        raise InputError(*msg)
    height = garden.elevation - xr.DataArray(station)
    if height.size > 1:
        return height / 1000, "by height"
    side = "above" if height.item() >= 0 else "below"
    return height / 1000, f"{metres(height.item())} {side} the station"


def _in_words(rates: Mapping[str, float]) -> str:
    """Lapse rates in words, as one number where all temperatures fall alike."""
    rate_of = {name: rates.get(name, 0.0) for name in TEMPERATURES}
    if len(set(rate_of.values())) == 1:
        return f"{plain(rate_of['tmin'])} °C"
    return ", ".join(f"{_WORDS[name]} {plain(rate)} °C" for name, rate in rate_of.items())


def _with_elevation(daily: xr.Dataset, elevation: float) -> xr.Dataset:
    """The record at a new height."""
    if "elevation" in daily.coords:
        return daily.assign_coords(elevation=xr.full_like(daily["elevation"], elevation))
    return daily.assign_attrs(elevation=elevation)


def _measured_months(offsets: xr.Dataset) -> str:
    """The months that have an offset, and how many days stand behind each variable's."""
    names = [name for name in TEMPERATURES if name in offsets]
    is_measured = offsets[names].to_array().notnull().any("variable").values
    months = ", ".join(MONTH_NAMES[m - 1] for m in offsets["month"].values[is_measured])
    days = ", ".join(
        f"{_WORDS[name]} from {int(offsets[f'{name}_days'].sum())} days" for name in names
    )
    return f"{months} ({days})"


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

    See Also
    --------
    adjust_to_garden : Takes these offsets in place of the height.

    Notes
    -----
    The standard error allows for neighbouring days being alike: n differences count as
    n (1 - r) / (1 + r) independent ones, r being the correlation of one day with the next, taken
    over all months and no less than 0 [1]_. The formula is meant for 30 days and more.

    References
    ----------
    .. [1] F. W. Zwiers and H. von Storch, "Taking serial correlation into account in tests of the
       mean," Journal of Climate, 1995, as NCL's ``equiv_sample_size`` states it.

    Examples
    --------
    Here a year of the hill's station stands in for the logger of a garden up there:

    >>> import climwin as cw
    >>> valley = cw.read_daily(cw.sample())
    >>> hill = cw.read_daily(cw.sample("pellbrook_hill.csv"))
    >>> offsets = cw.measured_offsets(valley, hill.sel(time=slice("2023-03-01", "2024-05-31")))
    >>> offsets["tmin"].sel(month=4).round(1).item(), offsets["tmin_days"].sel(month=4).item()
    (-1.6, 60)
    """
    check_alike(daily, logger)
    out = xr.Dataset(coords={"month": MONTHS})
    names = [name for name in TEMPERATURES if name in daily and name in logger]
    for name in names:
        station, garden = on_every_day(variable(daily, name), variable(logger, name))
        mean, error, days = monthly_mean(garden - station)
        out[name] = mean.assign_attrs(units="degC", long_name=f"garden less station, {name}")
        out[f"{name}_se"] = error.assign_attrs(units="degC", long_name=f"standard error of {name}")
        out[f"{name}_days"] = days.astype(int).assign_attrs(units="1", long_name="days behind it")
    if not any(int(out[f"{name}_days"].sum()) for name in names):
        msg = (
            "The logger and the station have no day with a temperature in common. Fetch the "
            "station's history of the logger's own days."
        )
        raise DataGapError(msg)
    return out
