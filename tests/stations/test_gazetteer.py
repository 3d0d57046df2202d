"""Places by name and by coordinates, offline."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from climwin.stations.gazetteer import locate, parse_position, places

# --- coordinates --------------------------------------------------------------------------


@pytest.mark.parametrize(
    "text",
    [
        "46.10, 7.20",
        "46.10 7.20",
        "46.10;7.20",
        "+46.10, +7.20",
        "46.10N 7.20E",
        "N46.10 E7.20",
        "7.20 E, 46.10 N",
        "46°06'N 7°12'E",
        "46º06'N, 7º12'E",
        "46\u00b006\u2032N 7\u00b012\u2032E",
        "46 06 N 7 12 E",
        "n 46 06 e 7 12",
        "46:06:00 7:12:00",
        "46°06'00\"N 7°12'00.0\"E",
        "46 06, 7 12",
    ],
)
def test_ways_to_write_one_position(text):
    assert parse_position(text) == pytest.approx((46.1, 7.2))


def test_south_and_west_are_negative():
    # Sydney Observatory, 33 deg 51' 35" S, 151 deg 12' 17" E (from memory)
    assert parse_position("33°51'35\"S 151°12'17\"E") == pytest.approx(
        (-33.85972, 151.20472), abs=1e-5
    )
    assert parse_position("-33.5, -70.6") == (-33.5, -70.6)
    assert parse_position("\u221233.5, \u221270.6") == (-33.5, -70.6)  # typeset minus
    assert parse_position("0 30 S, 0 30 W") == (-0.5, -0.5)


@given(st.floats(-90, 90), st.floats(-180, 180))
def test_degrees_and_minutes_say_the_same_as_decimals(latitude, longitude):
    def written(value, letters):
        minutes = round(abs(value) * 60_000) / 1000
        return f"{int(minutes // 60)}°{minutes % 60:.3f}'{letters[value < 0]}"

    text = f"{written(latitude, 'NS')} {written(longitude, 'EW')}"
    assert parse_position(text) == pytest.approx((latitude, longitude), abs=1e-4)


@pytest.mark.parametrize(
    "text",
    ["46.1", "46 66 N 7 12 E", "46.10N 7.20N", "46.1.2, 7", "-46 S 7 E", "1,2,3", "46 7.5 3, 7"],
)
def test_what_cannot_be_read_says_how_to_write_it(text):
    with pytest.raises(ValueError, match=r"cannot be read as a position\. Write decimal degrees"):
        parse_position(text)


@pytest.mark.parametrize("text", ["97, 12", "46, 200"])
def test_off_the_globe(text):
    with pytest.raises(ValueError, match="lies off the globe: latitude to 90"):
        parse_position(text)


@pytest.mark.parametrize("text", ["Essen", "Nes", "S", "100 Mile House"])
def test_a_name_is_no_position(text):
    assert parse_position(text) is None


def test_a_garden_at_a_position():
    garden = locate("46°06'N 7°12'E", name="Pellbrook", elevation=640)
    assert (garden.name, garden.latitude, garden.longitude) == ("Pellbrook", 46.1, 7.2)
    assert garden.elevation == 640
    assert locate("33.5S 70.6W").name == "33.50S 70.60W"


# --- names --------------------------------------------------------------------------------

# Positions of towns: from memory, to a tenth of a degree.


def test_a_name_of_one_place():
    garden = locate("Zurich")  # without its accent
    assert garden.name == "Zürich"
    assert (garden.latitude, garden.longitude) == pytest.approx((47.4, 8.5), abs=0.1)
    assert garden.elevation is None


def test_a_name_in_another_language_where_no_place_bears_it():
    garden = locate("Wien")
    assert (garden.latitude, garden.longitude) == pytest.approx((48.2, 16.4), abs=0.1)


def test_namesakes_are_listed_as_they_can_be_asked_for():
    with pytest.raises(ValueError, match="places answer to 'Lebanon'") as caught:
        locate("Lebanon")
    lines = [line.strip() for line in f"{caught.value}".splitlines()[1:]]
    asked = next(line for line in lines if line.startswith("Lebanon, NH, US")).split("  ")[0]
    garden = locate(asked, elevation=180)
    assert (garden.latitude, garden.longitude) == pytest.approx((43.6, -72.3), abs=0.1)


@pytest.mark.parametrize(
    ("query", "qualifiers"),
    [
        ("Lebanon, NH", {}),
        ("lebanon, new hampshire, united states", {}),
        ("Lebanon", {"region": "NH"}),
        ("Lebanon", {"country": "USA", "region": "New Hampshire"}),
    ],
)
def test_region_and_country_tell_namesakes_apart(query, qualifiers):
    assert locate(query, **qualifiers).longitude == pytest.approx(-72.3, abs=0.1)


def test_places_come_with_most_people_first_and_a_town_nearby():
    namesakes = places("LEBANON")
    assert [p.people for p in namesakes] == sorted((p.people for p in namesakes), reverse=True)
    assert {p.country for p in namesakes} == {"US"}
    assert all(" km from " in p.near for p in namesakes)
    # Lebanon, New Hampshire, 43.642 N 72.252 W, to Manchester, 42.996 N 71.455 W: 96.5 km, by the
    # spherical law of cosines on a sphere of 6371 km
    assert [p.near for p in places("Lebanon", region="nh")] == ["97 km from Manchester"]
    assert places("Lebanon", country="GB") == []


def test_an_unknown_place_says_what_to_do():
    with pytest.raises(
        ValueError, match=r"is called 'Pellbrook'\. Try a town nearby, or give coord"
    ):
        locate("Pellbrook")
    with pytest.raises(ValueError, match="is called 'Lebanon, ZZ'"):
        locate("Lebanon, ZZ")
