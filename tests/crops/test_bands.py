"""The bands read off a response, against a plain loop and a handbook's ranges."""

from dataclasses import replace
from math import pi, sin
from statistics import median

import pytest

from climwin.core.schema import to_celsius
from climwin.crops.bands import BEARABLE, COMFORTABLE, bearable_band, comfortable_band
from climwin.crops.catalogue import crop, crop_names
from climwin.crops.model import REFERENCE_DAYS, Heat, Limits

ALL = [crop(name) for name in crop_names()]


def share(plant, mean):
    """Share of full growth on a day with a mean, minute by minute."""
    base, full_from, full_to, end = plant.response.temperatures
    half, total = REFERENCE_DAYS[plant.season][1], 0.0
    for minute in range(0, 1440, 5):
        celsius = mean + half * sin(2 * pi * minute / 1440)
        rise, fall = (celsius - base) / (full_from - base), (end - celsius) / (end - full_to)
        total += max(0.0, min(1.0, rise, fall))
    return total / 288


def without_heat(plant):
    return replace(plant, stages=tuple(replace(each, heat=None) for each in plant.stages))


@pytest.mark.parametrize("name", ["pea", "spinach", "okra", "tomato", "garlic", "apple"])
def test_ends_are_where_the_response_crosses(name):
    plant = without_heat(crop(name))
    for band, level in ((comfortable_band(plant), COMFORTABLE), (bearable_band(plant), BEARABLE)):
        assert share(plant, band.low_c - 0.2) < level < share(plant, band.low_c + 0.2)
        inside = (band.low_c + band.high_c) / 2
        assert share(plant, inside) >= level
    high = comfortable_band(plant).high_c
    assert share(plant, high + 0.2) < COMFORTABLE < share(plant, high - 0.2)


@pytest.mark.parametrize("plant", ALL, ids=lambda plant: plant.name)
def test_comfortable_lies_in_bearable(plant):
    comfortable, bearable = comfortable_band(plant), bearable_band(plant)
    assert bearable.low_c < comfortable.low_c < comfortable.high_c <= bearable.high_c
    half = REFERENCE_DAYS[plant.season][1]
    assert bearable.high_c + half <= plant.response.maximum_c + 0.05
    assert comfortable.high_c - comfortable.low_c >= 2
    assert plant.response.source in comfortable.source


def test_heat_limits_end_a_band():
    # Kohlrabi turns woody where afternoons average over 29 degC: a mean of 24 with a range of 10.
    kohlrabi = crop("kohlrabi")
    cool = replace(kohlrabi.stages[-1].heat, maximum_from_c=25.0)
    stages = (*kohlrabi.stages[:-1], replace(kohlrabi.stages[-1], heat=cool))
    assert comfortable_band(replace(kohlrabi, stages=stages)).high_c == 20
    assert comfortable_band(without_heat(kohlrabi)).high_c > 23
    # Dry beans lose their pods in nights over 22: a mean of 28 with a range of 12.
    dry_bean = bearable_band(crop("dry bean"))
    assert dry_bean.high_c == 28
    assert "Konsens" in dry_bean.source
    # Curds are lost above 30 by day with 20 by night, which is a mean of 25.
    assert bearable_band(crop("cauliflower")).high_c == 25


def test_heat_that_leaves_nothing_is_told():
    pea = crop("pea")
    hot = Heat(mean_from_c=5.0, mean_fails_c=5.0, source="common practice")
    broken = replace(pea, stages=(*pea.stages[:-1], replace(pea.stages[-1], heat=hot)))
    with pytest.raises(ValueError, match=r"'pea': its heat limits end at a daily mean of 5.0 degC"):
        comfortable_band(broken)


def test_a_narrow_optimum_has_a_band_too():
    pea = crop("pea")
    narrow = replace(
        pea.response, base_c=14.0, optimum_from_c=18.0, optimum_to_c=18.0, maximum_c=22.0
    )
    plant = without_heat(replace(pea, response=narrow))
    assert max(share(plant, mean) for mean in range(14, 23)) < COMFORTABLE
    band = comfortable_band(plant)
    assert band.low_c < 18 < band.high_c


def test_bands_are_limits_in_celsius():
    assert isinstance(comfortable_band(crop("pea")), Limits)
    with pytest.raises(ValueError, match=r"low_c must lie below high_c, got low_c=9 and high_c=4"):
        Limits(low_c=9, high_c=4, source="common practice")
    with pytest.raises(ValueError, match=r"high_c must lie between .* got 75. Is it in degF"):
        Limits(low_c=45, high_c=75, source="common practice")


# Knott's Handbook for Vegetable Growers, Maynard & Hochmuth 1997, monthly mean temperatures for
# best growth: optimum and limits [degF], as read in UCSC's Teaching Organic Farming, Unit 1.3.
GROUPS = {
    (55, 75, 45, 85): (
        *("chicory", "chives", "garlic", "leek", "onion", "salsify", "scorzonera", "shallot"),
    ),
    (60, 65, 40, 75): (
        *("beet", "broad bean", "broccoli", "Brussels sprouts", "cabbage", "chard", "collards"),
        *("horseradish", "kale", "kohlrabi", "parsnip", "radish", "rutabaga", "sorrel", "spinach"),
        "turnip",
    ),
    (60, 65, 45, 75): (
        *("artichoke", "cardoon", "carrot", "cauliflower", "celeriac", "celery", "endive"),
        *("Chinese cabbage", "Florence fennel", "lettuce", "mustard greens", "parsley", "pea"),
        "potato",
    ),
    (60, 70, 50, 80): ("lima bean", "snap bean"),
    (60, 75, 50, 95): ("cowpea", "New Zealand spinach", "sweet corn"),
    (65, 75, 50, 90): ("chayote", "pumpkin", "summer squash"),
    (65, 75, 60, 90): ("cucumber", "muskmelon"),
    (70, 75, 65, 80): ("sweet pepper", "tomato"),
    (70, 85, 65, 95): ("eggplant", "hot pepper", "okra", "roselle", "sweet potato", "watermelon"),
}


def test_lower_ends_agree_with_the_handbook():
    best, least, warmest, most = [], [], [], []
    for published, names in GROUPS.items():
        low, high, minimum, maximum = (to_celsius(degf, "F") for degf in published)
        for name in names:
            comfortable, bearable = comfortable_band(crop(name)), bearable_band(crop(name))
            best.append(comfortable.low_c - low)
            warmest.append(comfortable.high_c - high)
            least.append(bearable.low_c - minimum)
            most.append(bearable.high_c - maximum)
    assert len(best) == 56
    # The handbook rounds to 5 degF.
    assert abs(median(best)) < 1.4
    assert abs(median(least)) < 1.4
    # Its months are cooler than their hottest days, and its best means quality: ours lie above.
    assert 0 < median(warmest) < 5
    assert 0 < median(most) < 3
