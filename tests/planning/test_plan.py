"""Plans: their names, the phases they are grown through, and what makes no sense is refused."""

from dataclasses import FrozenInstanceError, replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from climwin.crops.catalogue import crop, crop_names
from climwin.planning.heat_needs import heat_to_harvest
from climwin.planning.plan import (
    MOST_WEEKS,
    OUTDOORS,
    Plan,
    place_of,
    start_verb,
    usual_cover,
)
from climwin.shelter.covers import COVERS, Cover, Response

CAULIFLOWER = crop("cauliflower")
SPACE = Cover(
    name="polytunnel",
    coldest=Response(intercept_c=2.0),
    warmest=Response(intercept_c=6.0),
    source="own logger",
)


@pytest.mark.parametrize(
    ("plan", "name"),
    [
        (Plan(CAULIFLOWER, "04-20"), "sown outdoors 20 Apr"),
        (Plan(CAULIFLOWER, "1 Mar", 6, "cold frame"), "sown in a cold frame 1 Mar"),
        (
            Plan(CAULIFLOWER, "03-01", 6, "unheated greenhouse"),
            "sown in an unheated greenhouse 1 Mar",
        ),
        (Plan(CAULIFLOWER, "03-01", 3, "fleece"), "sown under fleece 1 Mar"),
        (
            Plan(CAULIFLOWER, "04-20", fleece_weeks=3),
            "sown outdoors 20 Apr, 3 weeks of fleece",
        ),
        (Plan(crop("potato"), "04-20"), "planted outdoors 20 Apr"),
        (Plan(crop("garlic"), "10-15"), "planted outdoors 15 Oct"),
        (
            Plan(CAULIFLOWER, "05-01", fleece_weeks=2, plants="bought"),
            "bought plants, set out 1 May, 2 weeks of fleece",
        ),
        (
            Plan(CAULIFLOWER, "03-01", 6, "polytunnel", space=SPACE),
            "sown in a polytunnel 1 Mar",
        ),
        (Plan(crop("apple"), "01-01"), "established plants"),
    ],
)
def test_plan_is_named_as_a_gardener_would(plan, name):
    assert plan.name == name


@pytest.mark.parametrize(
    ("plan", "verb"),
    [
        (Plan(CAULIFLOWER, "04-20"), "sow"),
        (Plan(CAULIFLOWER, "04-20", plants="bought"), "set out"),
        (Plan(crop("potato"), "04-20"), "plant"),
    ],
)
def test_a_plan_starts_with_what_the_gardener_does(plan, verb):
    assert start_verb(plan) == verb


@pytest.mark.parametrize(
    ("given", "where"),
    [
        ({"plants": "bought"}, "as bought plants"),
        ({"weeks_under_cover": 4, "cover": "room with lights"}, "indoors"),
        ({"weeks_under_cover": 4, "cover": "fleece"}, "under fleece"),
        ({"weeks_under_cover": 4, "cover": "cold frame"}, "in a cold frame"),
        ({"weeks_under_cover": 4, "cover": "unheated greenhouse"}, "in an unheated greenhouse"),
        ({"fleece_weeks": 3}, "outdoors under fleece"),
        ({}, "outdoors"),
    ],
)
def test_a_plan_says_where_it_is_started(given, where):
    assert place_of(Plan(CAULIFLOWER, "04-20", **given)) == where


@pytest.mark.parametrize(
    ("name", "cover"), [("tomato", "room with lights"), ("cauliflower", "cold frame")]
)
def test_warm_crops_are_raised_in_a_room_and_cool_ones_in_a_frame(name, cover):
    assert usual_cover(crop(name)) == cover
    assert Plan(crop(name), "03-01", MOST_WEEKS, cover).weeks_under_cover == 20


def test_plan_is_a_value():
    plan = Plan(CAULIFLOWER, "04-20")
    assert plan == Plan(CAULIFLOWER, "04-20")
    assert replace(plan, start="05-01") != plan
    with pytest.raises(FrozenInstanceError):
        plan.start = "05-01"


@given(st.integers(0, MOST_WEEKS), st.integers(0, MOST_WEEKS), st.sampled_from([*COVERS]))
def test_phases_are_the_covers_in_turn(weeks, fleece, cover):
    if (weeks > 0) != (cover != OUTDOORS):
        weeks, cover = 0, OUTDOORS
    way = Plan(CAULIFLOWER, "04-20", weeks, cover, fleece).way
    by_day = [each for length, each in way.phases[:-1] for _ in range(length)]
    assert by_day == [COVERS.get(cover)] * 7 * weeks + [COVERS["fleece"]] * 7 * fleece
    assert way.phases[-1] == (0, None)
    assert (way.raised, way.bought) == (weeks > 0, False)


def test_a_space_of_ones_own_and_bought_plants_are_carried_on():
    assert Plan(CAULIFLOWER, "03-01", 6, "polytunnel", space=SPACE).way.phases[0] == (42, SPACE)
    bought = Plan(CAULIFLOWER, "05-01", plants="bought", bed="black film", earliness=70.0).way
    assert (bought.bought, bought.raised, bought.bed, bought.earliness) == (
        *(True, False),
        *("black film", 70.0),
    )


@pytest.mark.parametrize("name", [n for n in crop_names() if not crop(n).is_perennial])
def test_the_fewest_days_on_a_packet_that_a_plan_takes_still_need_heat(name):
    kind = crop(name)
    fewest = kind.maturity.early / 2
    plan = Plan(kind, "04-01", earliness=fewest)
    assert 0 < heat_to_harvest(kind, plan.earliness) < heat_to_harvest(kind, "early")
    assert heat_to_harvest(kind, kind.maturity.main) == pytest.approx(heat_to_harvest(kind))
    with pytest.raises(ValueError, match=f"days on the packet of {name} must lie between"):
        Plan(kind, "04-01", earliness=fewest - 0.1)


# --- errors -------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("given", "text"),
    [
        ({"start": "04-31"}, r"'04-31' is not a day of the year"),
        (
            {"weeks_under_cover": 6, "cover": "igloo"},
            r"cover must be one of none, fleece, cold frame.*'igloo'",
        ),
        (
            {"weeks_under_cover": -1, "cover": "cold frame"},
            r"weeks_under_cover must be whole weeks from 0 to 20, got -1",
        ),
        (
            {"weeks_under_cover": 21, "cover": "cold frame"},
            r"weeks_under_cover must be whole weeks from 0 to 20, got 21",
        ),
        (
            {"weeks_under_cover": 2.5, "cover": "cold frame"},
            r"weeks_under_cover must be whole weeks from 0 to 20, got 2\.5",
        ),
        ({"fleece_weeks": 21}, r"fleece_weeks must be whole weeks from 0 to 20, got 21"),
        ({"fleece_weeks": float("nan")}, r"fleece_weeks must be whole weeks.* got nan"),
        (
            {"weeks_under_cover": 1},
            r"needs both weeks and a cover, got .*Sown in place has neither",
        ),
        ({"cover": "cold frame"}, r"needs both weeks and a cover, got weeks_under_cover=0"),
        (
            {"weeks_under_cover": 6, "cover": "cold frame", "plants": "bought"},
            r"Bought plants are set out on the start date: give no weeks_under_cover, got 6",
        ),
        ({"crop": "cauliflower"}, r"crop must be a crop.*, got 'cauliflower'"),
        ({"plants": "stolen"}, r"plants must be one of own, bought.*'stolen'"),
        ({"bed": "gravel"}, r"bed must be one of bare, mulched, clear film, black film.*'gravel'"),
        ({"earliness": "soon"}, r"earliness must be one of early, main, late.*'soon'"),
        ({"earliness": 301.0}, r"must lie between 25 and 285, got 301\. Or give early"),
        ({"start": 110}, r"start is month and day, such as '04-20', got 110\."),
        ({"fleece_weeks": "6"}, r"must be whole weeks from 0 to 20, got '6'"),
        ({"earliness": float("nan")}, r"must lie between 25 and 285, got nan"),
        (
            {"weeks_under_cover": 6, "cover": "cold frame", "space": SPACE},
            r"cover must be the name of the space, 'polytunnel', got 'cold frame'",
        ),
    ],
)
def test_what_makes_no_sense_is_refused(given, text):
    with pytest.raises(ValueError, match=text):
        Plan(**{"crop": CAULIFLOWER, "start": "04-20"} | given)
