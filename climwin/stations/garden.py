"""The garden that a record stands for: where it is said to be, else where the record is from."""

from __future__ import annotations

import xarray as xr

from climwin.core.errors import Attribute, InputError, Parameter
from climwin.core.measures import metres_of
from climwin.core.schema import Garden
from climwin.stations.gazetteer import locate

UNNAMED = "the garden"
"""What a garden is called that was given no name, on a record that has none either."""


def garden_of(
    daily: xr.Dataset | None = None,
    place: str = "",
    latitude: float | None = None,
    longitude: float | None = None,
    elevation: float | str | None = None,
) -> Garden:
    """The garden of a record, so that no page bears another place's name.

    Parameters
    ----------
    daily : Dataset, dims (time), optional
        The record, where there is one already.
    place : str
        What to call the garden; the record's own name where it is left out. Without coordinates,
        of the garden or of the record, a town's name, see `locate`.
    latitude, longitude : float, optional
        Decimal degrees; else those of the record, or of the town.
    elevation : float or str, optional
        Height above sea level, such as ``260`` (metres) or ``"850 ft"``. [m]

    Raises
    ------
    ValueError
        If only one coordinate is given, or it is not known where the garden is.

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
        msg = f"A position needs both its latitude and its longitude, got the {given} alone. Give "
        raise InputError(msg, Parameter(lacking), " too.")
    if latitude is not None and longitude is not None:
        return Garden(name, latitude, longitude, height)
    if {"latitude", "longitude"} <= {*attrs}:
        return Garden(name, float(attrs["latitude"]), float(attrs["longitude"]), height)
    if place.strip():
        return locate(place, elevation=height)
    where_to_say = (
        "Where is it? The record does not say. Give ",
        Parameter("latitude"),
        " and ",
        Parameter("longitude"),
        ", a town's name as ",
        Parameter("place"),
        ", or set ",
        Attribute("latitude"),
        ".",
    )
    raise InputError(*where_to_say)
