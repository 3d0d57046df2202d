"""Distances between places on the globe, and how temperature falls with height."""

from __future__ import annotations

from typing import TypeVar, cast

import numpy as np

Degrees = TypeVar("Degrees", float, np.ndarray)

LAPSE_C_PER_KM = 6.5
"""Lapse rate of the ICAO standard atmosphere and ISO 2533. [degC/km]"""
EARTH_RADIUS_KM = 6371.0
"""Mean radius of the Earth (IUGG, from memory). [km]"""


def distance_km(
    latitude: float, longitude: float, other_latitude: Degrees, other_longitude: Degrees
) -> Degrees:
    """Great-circle distance from one place to one or many others, by the haversine formula.

    Parameters
    ----------
    latitude, longitude : float
        The place, in decimal degrees, north and east positive.
    other_latitude, other_longitude : float or ndarray, same shape
        The other places.

    Returns
    -------
    float or ndarray, shape of `other_latitude`
        On a sphere of the Earth's mean radius. [km]

    References
    ----------
    .. [1] R. W. Sinnott, "Virtues of the haversine," Sky and Telescope, vol. 68, p. 159, 1984
       (from memory).

    Examples
    --------
    One degree of latitude:

    >>> round(distance_km(46.0, 7.0, 47.0, 7.0), 1)
    111.2
    """
    here, there = np.radians(latitude), np.radians(other_latitude)
    east = np.radians(np.subtract(other_longitude, longitude))
    half_chord_squared = (
        np.sin((there - here) / 2) ** 2 + np.cos(here) * np.cos(there) * np.sin(east / 2) ** 2
    )
    out = 2 * EARTH_RADIUS_KM * np.arcsin(np.sqrt(half_chord_squared))
    return cast("Degrees", out if np.ndim(out) else float(out))


def east_north_km(
    latitude: float, longitude: float, other_latitude: np.ndarray, other_longitude: np.ndarray
) -> tuple[np.ndarray, np.ndarray]:
    """Distances of other places to the east and to the north, on a flat map. [km]

    For maps of a hundred kilometres or so; crosses the date line the short way.
    """
    km_per_degree = np.radians(1) * EARTH_RADIUS_KM
    east = (other_longitude - longitude + 180) % 360 - 180
    north = other_latitude - latitude
    return km_per_degree * np.cos(np.radians(latitude)) * east, km_per_degree * north
