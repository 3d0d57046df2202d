"""A crop in sentences: temperatures in both units, every source once, and what must be said."""

import re
from dataclasses import replace

import pytest

from climwin.crops.catalogue import crop, crop_names
from climwin.crops.explain import explain_crop

ALL = [crop(name) for name in crop_names()]
MINUS = "\N{MINUS SIGN}"


def body_and_sources(text):
    body, head, sources = re.split(r"\n\n(Sources \([^\n]*\))\.\n", text)
    assert "in °C" in head  # a quotation stays in the units of its source
    return body, sources.splitlines()


@pytest.mark.parametrize("units", ["C", "F"])
@pytest.mark.parametrize("plant", ALL, ids=lambda plant: plant.name)
def test_every_crop_is_told_in_one_unit_with_its_sources(plant, units):
    body, sources = body_and_sources(explain_crop(plant, units))
    other = {"C": "F", "F": "C"}[units]
    assert f"°{units}" in body
    assert f"°{other}" not in body
    assert "-" not in re.sub(r"[a-z]-[a-z]", "", body), "a minus is no hyphen"
    cited = {int(number) for number in re.findall(r"\[(\d+)\]", body)}
    assert cited == set(range(1, len(sources) + 1))
    listed = [line.split("] ", 1)[1] for line in sources]
    assert len(set(listed)) == len(listed)
    assert not any(re.fullmatch(r"as for [a-z ]+", source) for source in listed)
    for caution in plant.cautions:
        assert caution in body
    assert "None" not in body
    for paragraph in body.split("\n\n")[1:]:
        assert re.match(r"[A-Z][a-z]+( [a-z]+)?\. ", paragraph)
        assert paragraph.endswith(".")


def test_celsius_and_fahrenheit_say_the_same():
    # By hand: 3, 18, 24, 34 degC are 37.4, 64.4, 75.2, 93.2 degF; -2 and -4 are 28.4 and 24.8.
    celsius, fahrenheit = explain_crop("pea", "C"), explain_crop("pea", units="F")
    assert "It grows above 3 °C, at its fastest from 18 to 24 °C, and stops at 34 °C" in celsius
    assert "It grows above 37 °F, at its fastest from 64 to 75 °F, and stops at 93 °F" in fahrenheit
    assert f"a night of {MINUS}2 °C does harm, {MINUS}4 °C kills" in celsius
    assert "a night of 28 °F does harm, 25 °F kills" in fahrenheit
    # A difference has no offset: 3 degC are 5.4 degF.
    assert "harden it by up to 3 °C" in celsius
    assert "harden it by up to 5.4 °F" in fahrenheit


def test_heat_sums_convert_without_the_offset():
    assert "1,350, 1,500 and 1,650 degree-days" in explain_crop("garlic")
    assert "2,430, 2,700 and 2,970 degree-days" in explain_crop("garlic", "F")  # times 1.8
    assert "is first cut 459 degree-days later" in explain_crop("asparagus", "F")  # 255 times 1.8


def test_it_says_how_long():
    text = explain_crop("tomato")
    assert "take about 55, 72 and 88 days from setting out to the first harvest" in text
    assert "Raised plants spend 5 to 7 weeks under cover" in text
    assert "about 54, 64 and 78 days from sowing" in explain_crop("pea")
    assert "about 70, 92 and 120 days from planting" in explain_crop("potato")


def test_it_says_what_fails_it():
    assert "Winter kills its flower buds at" in explain_crop("peach")
    assert f"the plant at {MINUS}29 °C" in explain_crop("peach")
    assert f"first pink {MINUS}3.9 °C and {MINUS}9.4 °C" in explain_crop("peach")
    assert "10 days with a mean below 13 °C among its first 28" in explain_crop("Chinese cabbage")
    assert "days that last longer than 14 hours and are warmer than 18 °C" in explain_crop(
        "spinach"
    )
    assert "Bulbs swell in days of at least 12 hours (short-day kinds)" in explain_crop("onion")
    told = explain_crop("horseradish")
    assert "It is lifted at any size once growth stops in autumn, from 150 days after the" in told
    assert "It makes calyces only once days are shorter than 12.4 hours" in explain_crop("roselle")
    assert "5 days in a row with a mean below 9 °C stop it for good" in explain_crop("tomato")
    assert "nights of 10 to 23.9 °C" in explain_crop("tomato")
    assert "while they do not come, the crop is only later" in explain_crop("tomato")
    assert "is lost when afternoons average more than 31 °C" in explain_crop("pea")
    again = "come up again about 12 days later, and each time 10 % of the crop is lost"
    assert again in explain_crop("potato")
    assert "A night between the two takes part of the harvest" in explain_crop("potato")
    assert "takes part of the harvest" not in explain_crop("sweet pepper")
    assert "stands still in days of less than 10 hours" in explain_crop("leek")
    # Of all growers' pages on horseradish and sunchokes: plant in spring, or in autumn.
    waits = "Planted from autumn on, it waits in the soil for spring"
    assert [each.name for each in ALL if waits in explain_crop(each)] == [
        "horseradish",
        "Jerusalem artichoke",
    ]
    # By hand: 450 and 120 degC days are 810 and 216 degF days, above 0 degC or 32 degF.
    early, late = "more than 810 degree-days", "less than 216 degree-days above 32 °F"
    assert early in explain_crop("garlic", "F")
    assert late in explain_crop("garlic", "F")
    # Winkler's coolest region begins at 1500 degF days.
    assert "not ripe before the year has brought 1,530 degree-days above 50 °F" in explain_crop(
        "grape", "F"
    )
    warm = "Days on which the afternoon is 18 °C or warmer do not count"
    assert warm in explain_crop("parsnip")
    assert warm not in explain_crop("spinach")
    assert "once it has had 65 % of the heat of its last stage" in explain_crop("salsify")
    assert "until it has had 50 % more heat than at its first harvest" in explain_crop("okra")
    assert "It needs 60 winter days with a mean below 9.4 °C" in explain_crop("rhubarb")
    assert "Short-day kinds bulb in days of 13.5 hours" in explain_crop("onion")
    assert "It flowers again after a frost [" in explain_crop("pea")
    assert "Green or sprouted tubers are poisonous" in explain_crop("potato")
    assert "the temperature of the air alone does not kill it" in explain_crop("garlic")


def test_it_says_how_well_it_is_known():
    assert "Several published sources agree" in explain_crop("pea")
    assert "take them as a first guess" in explain_crop("roselle")


def test_stages_that_bear_the_same_share_a_sentence():
    assert "Leaf growth and head initiation: a night" in explain_crop("broccoli")
    pea = crop("pea")
    cold = pea.stages[0].cold
    same = replace(pea, stages=tuple(replace(each, cold=cold) for each in pea.stages))
    assert "Seedling, leaf growth and flowers and pods: a night" in explain_crop(same)


def test_name_or_crop_and_units_are_checked():
    assert explain_crop("Peas") == explain_crop(crop("pea"))
    with pytest.raises(ValueError, match=r"units must be one of C, F; got 'K'"):
        explain_crop("pea", "K")
    with pytest.raises(ValueError, match=r"Nearest: broccoli"):
        explain_crop("brocoli")
