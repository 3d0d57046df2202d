"""The ways that a spell is needed for, in words."""

from types import SimpleNamespace

import numpy as np
import pytest

import climwin as cw
from climwin.report.spells import Need, _since, _way_of_need, needs


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


@pytest.mark.parametrize(
    ("given", "label"),
    [
        ({}, "{} days needed once up, sown outdoors 20 Apr"),
        (
            {"weeks_under_cover": 6, "cover": "cold frame"},
            "{} days needed after 6 weeks under cover, from 1 Jun",
        ),
        ({"plants": "bought"}, "{} days needed set out as bought plants, from 20 Apr"),
    ],
)
def test_days_of_what_is_sown_are_those_from_when_it_is_up(given, label):
    daily = cw.read_daily(cw.sample())
    plans = [cw.Plan(cw.crop("cauliflower"), "04-20", **given)]
    plans += [cw.Plan(cw.crop("cauliflower"), "06-01", fleece_weeks=3)]  # another need
    garden = cw.Garden("Pellbrook allotments", 46.1, 7.2, 420)
    report = cw.garden_report(garden, daily, plans=plans)
    need = next(each for each in needs(report) if "fleece" not in each.way)
    grown = report.ahead.evaluated[0]
    begins = grown["set_out"] if plans[0].weeks_under_cover else grown["emergence"]
    if plans[0].plants == "bought":
        begins = grown["start"]
    days = (grown["harvest_begin"] - begins) / np.timedelta64(1, "D")
    beyond = (grown["days_outdoors"] - days).dropna("season")
    assert beyond.sizes["season"]
    assert not beyond.any()
    assert need.days == int(grown["days_outdoors"].median())
    assert need.label == label.format(need.days)


@pytest.mark.parametrize(
    ("given", "is_raised"),
    [
        ({}, False),
        ({"weeks_under_cover": 6, "cover": "cold frame"}, True),
        ({"plants": "bought"}, False),
    ],
)
def test_only_plants_of_ones_own_come_from_under_cover(given, is_raised):
    plan, fewer = cw.Plan(cw.crop("tomato"), "05-20", **given), cw.Plan(cw.crop("tomato"), "06-10")
    if not given:
        fewer = cw.Plan(cw.crop("tomato"), "06-10", fleece_weeks=2)
    report = SimpleNamespace(
        given_need_days=None, plans=[plan, fewer], needs=[60, 80], need_days=60
    )
    first, second = needs(report)
    assert (first.days, first.is_raised, second.is_raised) == (60, is_raised, False)


def test_a_need_that_holds_for_every_way_names_none():
    label = Need(60).label
    assert label == "60 days needed"
    assert Need(60, "sown outdoors", "20 Apr").label.startswith(label)
    assert Need(60, "sown outdoors", "20 Apr").label != label
