"""Plans: their pieces add up to the crop's life, and what makes no sense is refused."""

from dataclasses import FrozenInstanceError, replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from climwin.crops.catalogue import crop, crop_names
from climwin.planning.plan import OUTDOORS, Conditions, Plan
from climwin.shelter.covers import COVERS

CAULIFLOWER = crop("cauliflower")


@st.composite
def plans(draw):
    """Any plan of any crop of the catalogue."""
    plant = crop(draw(st.sampled_from(crop_names())))
    most = plant.days // 7
    weeks = draw(st.integers(0, most))
    under = draw(st.sampled_from(sorted(set(COVERS) - {OUTDOORS})))
    fleece = draw(st.integers(0, most))
    return Plan(plant, "04-20", weeks, under if weeks else OUTDOORS, fleece)


@given(plans())
def test_pieces_are_the_crops_life_day_by_day(plan):
    expected = []
    for stage in plan.crop.stages:
        for _ in range(stage.days.usual):
            day, out = len(expected), 7 * plan.weeks_under_cover
            bare = out + 7 * plan.fleece_weeks
            expected.append(
                (stage.name, plan.cover if day < out else "fleece" if day < bare else OUTDOORS)
            )
    pieces = list(plan.pieces())
    assert [p.begin for p in pieces] == [0, *(p.end for p in pieces[:-1])]
    assert [(p.stage.name, p.cover) for p in pieces for _ in range(p.begin, p.end)] == expected


def test_plan_is_named_as_a_gardener_would():
    assert Plan(CAULIFLOWER, "04-20").name == "sown in place 20 Apr"
    assert Plan(CAULIFLOWER, "1 Mar", 6, "cold frame").name == "raised in a cold frame, sown 1 Mar"
    raised = Plan(CAULIFLOWER, "03-01", 6, "unheated greenhouse")
    assert raised.name == "raised in an unheated greenhouse, sown 1 Mar"
    assert Plan(CAULIFLOWER, "03-01", 3, "fleece").name == "raised under fleece, sown 1 Mar"
    fleeced = Plan(CAULIFLOWER, "04-20", fleece_weeks=3)
    assert fleeced.name == "sown in place 20 Apr, 3 weeks of fleece"


def test_plan_is_a_value():
    plan = Plan(CAULIFLOWER, "04-20")
    assert plan == Plan(CAULIFLOWER, "04-20")
    assert replace(plan, start="05-01") != plan
    with pytest.raises(FrozenInstanceError):
        plan.start = "05-01"


# --- errors -------------------------------------------------------------------------------


def test_start_must_be_a_day_of_the_year():
    with pytest.raises(ValueError, match=r"'04-31' is not a day of a 365-day year"):
        Plan(CAULIFLOWER, "04-31")


def test_unknown_cover_is_refused():
    with pytest.raises(ValueError, match=r"cover must be one of none, fleece, cold frame.*'igloo'"):
        Plan(CAULIFLOWER, "04-20", 6, "igloo")


@pytest.mark.parametrize("name", ["weeks_under_cover", "fleece_weeks"])
@pytest.mark.parametrize("weeks", [-1, CAULIFLOWER.days // 7 + 1])
def test_weeks_must_fit_the_crops_life(name, weeks):
    longest = CAULIFLOWER.days // 7
    text = f"{name} must lie between 0 and {longest}, the life of cauliflower; got {weeks}"
    with pytest.raises(ValueError, match=text):
        Plan(CAULIFLOWER, "04-20", **{name: weeks})


@pytest.mark.parametrize(("weeks", "cover"), [(6, OUTDOORS), (0, "cold frame")])
def test_cover_needs_weeks_and_weeks_need_a_cover(weeks, cover):
    with pytest.raises(ValueError, match=r"needs both weeks and a cover, got .*Sown in place has"):
        Plan(CAULIFLOWER, "04-20", weeks, cover)


@pytest.mark.parametrize("share", [-0.1, 1.1, 70])
def test_share_in_band_must_be_a_share(share):
    with pytest.raises(ValueError, match=f"share_in_band is a share between 0 and 1, got {share}"):
        Conditions(share_in_band=share)


def test_fewer_than_no_freezes_are_refused():
    with pytest.raises(ValueError, match="a number of nights, 0 or more, got -1"):
        Conditions(killing_freezes=-1)
