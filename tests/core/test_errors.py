"""Errors made of pieces: Python's wording is their text, other fronts have their own."""

import pickle

import pytest

from climwin.core.errors import (
    Call,
    ClimwinError,
    DataGapError,
    InputError,
    Parameter,
    RecordError,
    StationError,
    did_you_mean,
    nearest_names,
)
from climwin.core.schema import check_choice


@pytest.mark.parametrize(
    ("kind", "builtin"),
    [
        (InputError, ValueError),
        (RecordError, ValueError),
        (DataGapError, ValueError),
        (StationError, RuntimeError),
    ],
)
def test_each_is_caught_as_the_built_in_one(kind, builtin):
    with pytest.raises(builtin, match="plain text"):
        raise kind("plain text")
    assert issubclass(kind, ClimwinError)


def test_text_that_looks_like_a_template_stays_as_it_is():
    assert str(RecordError("{file} % of 5 %s", " {0}")) == "{file} % of 5 %s {0}"


def test_the_parameter_is_the_first_mentioned_unless_it_is_given():
    pieces = ("Go on with ", Parameter("few_years", True), " or ", Parameter("units", "F"))
    assert InputError(*pieces).parameter == "few_years"
    assert InputError(*pieces, parameter="dates").parameter == "dates"
    assert InputError("Nothing of the sort.").parameter is None


def test_it_comes_whole_out_of_another_process():
    error = InputError("Find one: ", Call("find_stations", ("garden",)), ".", parameter="station")
    again = pickle.loads(pickle.dumps(error))
    assert str(again) == str(error) == "Find one: climwin.find_stations(garden)."
    assert again.parameter == "station"
    assert again.worded(lambda mention: mention.name) == "Find one: find_stations."


@pytest.mark.parametrize(
    ("given", "nearest"),
    [
        ("Cold Frame", "cold frame"),
        ("coldframe", "cold frame"),
        ("cold-frames", "cold frame"),
        ("greenhouse", "unheated greenhouse"),
    ],
)
def test_near_names_are_those_that_someone_meant(given, nearest):
    names = ["none", "fleece", "cold frame", "unheated greenhouse", "frost-free greenhouse"]
    assert nearest_names(given, names)[0] == nearest
    with pytest.raises(InputError, match=f"got {given!r}. Did you mean {nearest!r}"):
        check_choice("cover", given, names)


def test_nothing_is_offered_where_nothing_is_near():
    assert nearest_names("igloo", ["none", "fleece"]) == []
    assert did_you_mean("igloo", ["none", "fleece"]) == ""
    assert did_you_mean("fleeces", ["none", "fleece"]) == " Did you mean fleece?"
    with pytest.raises(InputError, match=r"cover must be one of none, fleece; got 'igloo'\.$"):
        check_choice("cover", "igloo", ["none", "fleece"])
