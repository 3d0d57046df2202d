"""A refusal of a place, a position or a stored history, and what comes of doing as it says."""

import re
import sys

import numpy as np
import pytest
import xarray as xr
from refusing import refused

import climwin as cw
from climwin.core.errors import Attribute, Call, Parameter, StationError
from climwin.core.schema import InputError
from climwin.stations import cache, gazetteer, history, search

GARDEN = cw.Garden("Ours", 46.0, 7.0)


def refusal(act, *given, kind=Exception, **options):
    with pytest.raises(kind) as refused:
        act(*given, **options)
    return refused.value


def advised(error):
    """The one function that an error advises to call, and the text before it."""
    [place] = [n for n, piece in enumerate(error.pieces) if isinstance(piece, Call)]
    return error.pieces[place], str(error.pieces[place - 1])


def test_where_nothing_is_stored_a_station_is_fetched(tmp_path):
    error = refusal(cache.stored_path, "PLB01", tmp_path, kind=StationError)
    assert str(error).startswith(
        "The local store has no station 'PLB01'; it holds no station yet. Download one with "
    )
    call, before = advised(error)
    assert before.endswith("Download one with ")
    assert callable(getattr(cw, call.name))
    other = refusal(cache.path_of, "no/such", tmp_path, kind=InputError)
    call, before = advised(other)
    assert re.search(r"made of letters and digits, such as '(\w+)'\. Find one with $", before)
    example = re.search(r"such as '(\w+)'", before)[1]
    cache.path_of(example, tmp_path)


def test_a_folder_whose_letters_the_locale_lacks_is_told_of_both_ways_out(monkeypatch, tmp_path):
    monkeypatch.setattr(sys, "getfilesystemencoding", lambda: "ascii")
    refused(
        lambda: cache.folder(tmp_path / "S\N{LATIN SMALL LETTER U WITH DIAERESIS}d"),
        "has letters that this session's locale lacks",
        "Set PYTHONUTF8=1, or give another folder in CLIMWIN_DATA",
        kind=OSError,
    )


def test_a_folder_that_cannot_be_made_is_told_with_the_variable_that_names_another(tmp_path):
    (tmp_path / "file").write_text("")
    refused(
        lambda: cache.make_folder(tmp_path / "file" / "store"),
        "Downloads are stored in",
        "which cannot be made or written to (Not a directory)",
        "Name another folder in the environment variable CLIMWIN_DATA",
        kind=OSError,
    )


def test_a_station_that_nobody_lists_is_looked_for(monkeypatch, tmp_path):
    monkeypatch.setattr(history, "with_list", lambda *_: None)
    error = refusal(
        history._choose_station,
        "NOPE1",
        range(2000, 2001),
        tmp_path,
        None,
        "C",
        kind=StationError,
    )
    call, before = advised(error)
    assert before == "There is no station 'NOPE1'. Find one with "
    assert callable(getattr(cw, call.name))


def test_neighbours_are_asked_for_by_a_position_and_one_or_more():
    record = xr.Dataset({"tmin": ("time", [1.0])}, {"time": [np.datetime64("2001-01-01")]})
    error = refusal(history.fetch_neighbours, record, kind=InputError)
    [named] = [piece for piece in error.pieces if isinstance(piece, Attribute)]
    assert named.name == "latitude"
    assert re.search(
        r"does not say where .* Give its degrees north in .*, and its longitude", str(error)
    )
    none = refusal(history.fetch_neighbours, record, most=0, kind=InputError)
    assert [p.name for p in none.pieces if isinstance(p, Parameter)] == ["most"]
    assert str(none) == "most must be 1 or more, got 0."


def test_no_other_station_is_told_with_the_distance_that_was_searched(monkeypatch):
    record = xr.Dataset(
        {"tmin": ("time", [1.0])},
        {"time": [np.datetime64("2001-01-01")]},
        {"latitude": 46.0, "longitude": 7.0, "station_name": "Ash", "station_id": "A1"},
    )
    alone = xr.Dataset({"x": ("station", [0])}, {"station": ["A1"]}).to_dataframe()
    monkeypatch.setattr(history, "find_stations", lambda *_, **__: alone)
    error = refusal(history.fetch_neighbours, record, radius_km=37, kind=StationError)
    assert str(error).startswith("No other station within 37 km of Ash has a history. ")


@pytest.mark.parametrize(
    ("text", "is_off"),
    [("90, 180", False), ("-90, -180", False), ("91, 7", True), ("46, 181", True)],
)
def test_the_globe_ends_where_a_refusal_says(text, is_off):
    if not is_off:
        assert gazetteer.parse_position(text) == tuple(map(float, text.split(",")))
        return
    said = str(refusal(gazetteer.parse_position, text, kind=InputError))
    north, east = re.search(
        r"off the globe: latitude goes to (\d+), longitude to (\d+) degrees", said
    ).groups()
    assert gazetteer.parse_position(f"{north}, {east}") == (90, 180)


def test_a_position_that_is_none_is_told_how_one_is_written():
    said = str(refusal(gazetteer.parse_position, "46 61, 7", kind=InputError))
    assert said.startswith("'46 61, 7' cannot be read as a position. Write decimal degrees")


@pytest.mark.parametrize(
    ("latitude", "longitude", "said"),
    [(46.1, 7.2, "46.10N 7.20E"), (-33.9, 18.4, "33.90S 18.40E"), (40.0, -105.3, "40.00N 105.30W")],
)
def test_a_position_has_its_halves_of_the_globe(latitude, longitude, said):
    assert gazetteer.position_text(latitude, longitude) == said
    assert gazetteer.parse_position(said) == pytest.approx((latitude, longitude))


def test_a_period_is_told_as_it_was_given():
    error = refusal(search.find_stations, GARDEN, kind=InputError, first_year=2020, last_year=1991)
    assert str(error) == "The period must not end before it begins, got 2020 to 1991."
