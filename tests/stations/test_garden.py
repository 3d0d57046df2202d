"""The garden of a record: no page bears the name of another place."""

import pytest
import records

from climwin.io.daily import read_daily
from climwin.io.samples import sample
from climwin.stations.garden import garden_of
from climwin.stations.gazetteer import near_places


@pytest.fixture(scope="module")
def hill():
    return read_daily(sample("pellbrook_hill.csv"))


def test_a_record_brings_its_own_place(hill):
    garden = garden_of(hill)
    lines = sample("pellbrook_hill.csv").read_text("utf-8").splitlines()
    head = dict(line[2:].split(": ", 1) for line in lines[:6] if ": " in line)
    assert garden.name == head["station name"]
    assert (garden.latitude, garden.longitude) == (
        float(head["latitude"]),
        float(head["longitude"]),
    )
    assert garden.elevation is None  # the station's height is not the garden's


def test_what_is_given_counts_more(hill):
    garden = garden_of(hill, "Top field", 47, 8, "1000 ft")
    assert (garden.name, garden.latitude, garden.longitude) == ("Top field", 47, 8)
    assert garden.elevation == pytest.approx(304.8)


def test_one_coordinate_alone_is_refused(hill):
    with pytest.raises(ValueError, match=r"got only the latitude\. Give longitude too"):
        garden_of(hill, latitude=47)


def test_a_record_that_does_not_say_where_asks():
    daily = records.weather(3, years=2)
    with pytest.raises(ValueError, match="does not say where it is from"):
        garden_of(daily)
    assert garden_of(daily, "plot", 50, 5).name == "plot"
    assert garden_of(daily, latitude=50, longitude=5).name == "the garden"


@pytest.mark.parametrize(
    ("typed", "meant"),
    [
        ("Lebannon, NH", "Lebanon, New Hampshire, United States"),
        ("Grennoble", "Grenoble, Auvergne-Rhône-Alpes, France"),
    ],
)
def test_a_misspelt_town_is_offered_as_it_is_spelled(typed, meant):
    assert near_places(typed)[0].label == meant


def test_nothing_is_offered_where_nothing_is_near():
    assert near_places("qqqqq") == []
    assert near_places(" ") == []
