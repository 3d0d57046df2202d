"""The garden that a record is for: where the user says, or else where the record is from."""

from __future__ import annotations

import xarray as xr

from climwin.core.errors import Attribute, InputError, Parameter
from climwin.core.measures import metres_of
from climwin.core.schema import Garden
from climwin.stations.gazetteer import locate

UNNAMED = "the garden"
"""Name of a garden if neither the user nor the record gives one."""


def garden_of(
    daily: xr.Dataset | None = None,
    place: str = "",
    latitude: float | None = None,
    longitude: float | None = None,
    elevation: float | str | None = None,
) -> Garden:
    """The garden of a record, with the user's or the record's own name and position.

    Parameters
    ----------
    daily : Dataset, dims (time), optional
        The record, if there is one already.
    place : str
        Name of the garden. Default: the record's own name. Without coordinates here or in the
        record, the name of a town, see `locate`.
    latitude, longitude : float, optional
        Decimal degrees. Default: those of the record, or of the town.
    elevation : float or str, optional
        Height above sea level, such as ``260`` (metres) or ``"850 ft"``. [m]

    Raises
    ------
    ValueError
        If only one coordinate is given, or the position is unknown.

    Examples
    --------
    >>> import climwin as cw
    >>> daily = cw.read_daily(cw.sample())
    >>> cw.garden_of(daily).name
    'Pellbrook Mill'
    >>> garden = cw.garden_of(daily, "Our plot", elevation="2100 ft")
    >>> garden.name, garden.latitude, round(garden.elevation)
    ('Our plot', 46.1, 640)
    """
    height = None if elevation in (None, "") else metres_of(elevation)
    attrs = {} if daily is None else daily.attrs
    name = place.strip() or str(attrs.get("station_name", "")) or UNNAMED
    if (latitude is None) != (longitude is None):
        given = "latitude" if longitude is None else "longitude"
        lacking = "longitude" if longitude is None else "latitude"
        msg = f"A position needs a latitude and a longitude, got only the {given}. Give "
        raise InputError(msg, Parameter(lacking), " too.")
    if latitude is not None and longitude is not None:
        return Garden(name, latitude, longitude, height)
    if {"latitude", "longitude"} <= {*attrs}:
        return Garden(name, float(attrs["latitude"]), float(attrs["longitude"]), height)
    if place.strip():
        return locate(place, elevation=height)
    where_to_say = (
        "The record does not say where it is from. Give ",
        Parameter("latitude"),
        " and ",
        Parameter("longitude"),
        ", a town's name as ",
        Parameter("place"),
        ", or ",
        Attribute("latitude"),
        ".",
    )
    raise InputError(*where_to_say)
