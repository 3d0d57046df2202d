"""Where the garden is, and the history of the stations around it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from climwin.cli.notes import count_progress
from climwin.cli.options import height, number, option, year_number
from climwin.cli.wording import about
from climwin.core.schema import Garden, Units

if TYPE_CHECKING:
    import xarray as xr


@dataclass(frozen=True)
class PlaceOptions:
    """Where the garden is."""

    name: str | None = option("--place", "your name for the place, or a town (the record's own)")
    latitude: float | None = option(
        "--lat",
        "degrees north (those of the record or the town)",
        convert=number,
        metavar="DEGREES",
    )
    longitude: float | None = option(
        "--lon",
        "degrees east (those of the record or the town)",
        convert=number,
        metavar="DEGREES",
    )
    elevation: float | None = option(
        "--elevation",
        "height of the garden in metres, or in feet, such as 850ft",
        convert=height,
        metavar="HEIGHT",
    )

    @property
    def is_blank(self) -> bool:
        """Whether none of them was given."""
        return self == PlaceOptions(None, None, None, None)


@dataclass(frozen=True)
class PeriodOptions:
    """Which years of a station's history are fetched."""

    first_year: int | None = option(
        "--first-year", "first year to use", convert=year_number, metavar="YEAR"
    )
    last_year: int | None = option(
        "--last-year", "last year to use", convert=year_number, metavar="YEAR"
    )


_TOWN = 5_000  # people; the name of a smaller place may be a garden's own (our choice)


WHOLE_HISTORY = PeriodOptions(None, None)
"""The years that are fetched where none are named."""


def garden_at(place: PlaceOptions) -> Garden:
    """The garden by its coordinates, else by its name in the gazetteer."""
    from climwin.stations.garden import UNNAMED
    from climwin.stations.gazetteer import locate

    if (place.latitude is None) != (place.longitude is None):
        given, lacking = ("--lat", "--lon") if place.longitude is None else ("--lon", "--lat")
        msg = f"A position needs both --lat and --lon, got {given} alone. Add {lacking}."
        raise ValueError(msg)
    if place.latitude is not None and place.longitude is not None:
        name = UNNAMED if place.name is None else place.name
        return Garden(name, place.latitude, place.longitude, place.elevation)
    if place.name is None:
        msg = "Where is it? Give --place with a town's name, or --lat and --lon."
        raise ValueError(msg)
    with about("name"):
        return locate(place.name, elevation=place.elevation)


def garden_of_record(place: PlaceOptions, daily: xr.Dataset) -> Garden:
    """The garden; where its coordinates are not given, those of its record."""
    from climwin.stations.garden import UNNAMED

    given = place.latitude is not None or place.longitude is not None
    if given or not {"latitude", "longitude"} <= {*daily.attrs}:
        return garden_at(place)
    latitude, longitude = (float(daily.attrs[key]) for key in ("latitude", "longitude"))
    own = str(daily.attrs.get("station_name") or UNNAMED)
    if place.name is None or place.name == own:
        return Garden(own, latitude, longitude, place.elevation)
    doubt = _town_elsewhere(place.name, latitude, longitude)
    return Garden(place.name, latitude, longitude, place.elevation, doubt=doubt)


def _town_elsewhere(name: str, latitude: float, longitude: float) -> str:
    """Doubt about a name given to the record's spot that is also a town's far from it."""
    from climwin.core.geo import distance_km
    from climwin.report.caveats import FAR_KM
    from climwin.stations.gazetteer import places, position_text

    towns = [each for each in places(name) if each.people >= _TOWN]
    away = [distance_km(latitude, longitude, each.latitude, each.longitude) for each in towns]
    if not towns or min(away) < FAR_KM:
        return ""
    return (
        f"The garden is taken to lie where the record was measured, at "
        f"{position_text(latitude, longitude)}, far from {towns[0].label}. If it lies in the town, "
        "give the town's position."
    )


def garden_if_given(place: PlaceOptions, daily: xr.Dataset) -> Garden | None:
    """The garden of a record, if any option says where it is."""
    return None if place.is_blank else garden_of_record(place, daily)


def located(daily: xr.Dataset, garden: Garden | None) -> xr.Dataset:
    """A record with a latitude: its own, else that of the garden, if one was given."""
    from climwin.report.garden import with_latitude

    return daily if garden is None else with_latitude(daily, garden)


def fetched(place: Garden | str, period: PeriodOptions, units: Units = "C") -> xr.Dataset:
    """History of the best station around a garden, or of one station; progress at a terminal."""
    from climwin.stations.history import fetch_history

    return fetch_history(
        place,
        period.first_year,
        period.last_year,
        progress=lambda done, total, text: count_progress(done, total, f"years: {text:<30}"),
        units=units,
    )
