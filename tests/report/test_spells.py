"""The ways that a spell is needed for, in words."""

import pytest

import climwin as cw
from climwin.report.spells import _since, _way_of_need


@pytest.mark.parametrize(
    ("crop", "given", "said", "not_said"),
    [
        ("cauliflower", {"weeks_under_cover": 6, "cover": "cold frame"}, "after 6 weeks", "sown"),
        ("cauliflower", {"weeks_under_cover": 1, "cover": "cold frame"}, "after 1 week ", "weeks"),
        ("cauliflower", {}, "sown outdoors", "fleece"),
        ("cauliflower", {"fleece_weeks": 3}, "sown outdoors under fleece", "planted"),
        ("potato", {}, "planted outdoors", "fleece"),
        ("potato", {"fleece_weeks": 3}, "planted outdoors under fleece", "sown"),
        ("tomato", {"plants": "bought"}, "bought plants", "sown"),
        ("apple", {}, "", "sown"),
    ],
)  # fmt: skip
def test_a_need_is_of_the_way_that_is_grown(crop, given, said, not_said):
    text = _way_of_need(cw.Plan(cw.crop(crop), "04-20", **given))
    assert said in text
    assert not_said not in text
    assert bool(text) is bool(said)


@pytest.mark.parametrize(
    ("given", "since"),
    [
        ({}, "20 Apr"),
        ({"weeks_under_cover": 6, "cover": "cold frame"}, "1 Jun"),
        ({"plants": "bought"}, "20 Apr"),  # their date is that of setting out
    ],
)
def test_a_crop_stands_outdoors_from_the_end_of_its_weeks_under_cover(given, since):
    assert _since(cw.Plan(cw.crop("cauliflower"), "04-20", **given)) == since
