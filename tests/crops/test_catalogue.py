"""The catalogue against published tables, the rules of each crop, and files of one's own."""

import csv
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from climwin.core.errors import RecordError
from climwin.core.schema import to_celsius
from climwin.crops.catalogue import OTHER_NAMES, crop, crop_names, read_crop
from climwin.crops.model import FIELD_DAYS, REFERENCE_DAYS, Crop
from climwin.io.structured import LARGEST, from_toml

ALL = [crop(name) for name in crop_names()]
ANNUAL = [plant for plant in ALL if not plant.is_perennial]
FOLDER = Path(__file__).parents[2] / "climwin" / "crops" / "data"
REFERENCE = Path(__file__).parents[3] / "shared" / "reference"


def each_crop(test):
    return pytest.mark.parametrize("plant", ALL, ids=lambda plant: plant.name)(test)


def names_of(plants):
    return {plant.name for plant in plants}


# --- the catalogue as a whole -------------------------------------------------------------


def test_catalogue_is_large_and_sorted():
    assert len(crop_names()) >= 78
    assert list(crop_names()) == sorted(crop_names(), key=str.casefold)
    assert [plant.name for plant in ALL] == list(crop_names())
    assert len(crop_names()) == len(list(FOLDER.glob("*.toml")))


def test_catalogue_has_both_seasons_and_every_kind():
    assert {plant.season for plant in ALL} == {"cool", "warm"}
    families = {plant.family for plant in ALL}
    assert {"brassica", "allium", "legume", "cucurbit", "nightshade", "rose family"} <= families


@pytest.mark.parametrize(
    "name",
    ["Brussels sprouts", "brussels-sprouts", " BRUSSELS  SPROUTS ", "brussels_sprout"],
)
def test_name_is_forgiving(name):
    assert crop(name).botanical == "Brassica oleracea var. gemmifera"


@pytest.mark.parametrize(
    ("given", "meant"),
    [
        ("Tomatoes", "tomato"),
        ("Potatoes", "potato"),
        ("peas", "pea"),
        ("radishes", "radish"),
        ("Peaches", "peach"),
        ("sweet cherries", "sweet cherry"),
        ("ASPARAGUS", "asparagus"),
        ("Courgettes", "summer squash"),
        ("swede", "rutabaga"),
        ("cilantro", "coriander"),
        ("beetroots", "beet"),
        ("cantaloupe", "muskmelon"),
        ("sweetcorn", "sweet corn"),
        ("sugar-snap peas", "pea"),
        ("physalis", "cape gooseberry"),
    ],
)
def test_plurals_and_other_names(given, meant):
    assert crop(given).name == meant


def test_other_names_mean_crops_and_hide_none():
    assert set(OTHER_NAMES.values()) <= set(crop_names())
    assert not set(OTHER_NAMES) & {name.casefold() for name in crop_names()}


def test_every_name_and_its_plural_are_the_crop():
    for plant in ALL:
        assert crop(plant.name) is plant
        assert crop(plant.name.upper()) is plant
        if not plant.name.endswith("s"):
            assert crop(f"{plant.name}s") is plant


def test_unknown_crop_is_told_the_nearest():
    with pytest.raises(ValueError, match=r"no crop 'brocoli'\. Nearest: broccoli\. .* lists all"):
        crop("brocoli")
    with pytest.raises(ValueError, match=r"no crop 'Cucmber'\. Nearest: cucumber\."):
        crop("Cucmber")
    with pytest.raises(ValueError, match=r"no crop 'courgete'\. Nearest: summer squash\."):
        crop("courgete")
    with pytest.raises(ValueError, match=r"no crop 'xyzzy'\. climwin.crop_names\(\) lists all"):
        crop("xyzzy")


def sources_of(thing):
    """All texts of a crop that say where a number comes from, found by walking through it."""
    if isinstance(thing, tuple):
        return [found for item in thing for found in sources_of(item)]
    if not hasattr(thing, "__dataclass_fields__"):
        return []
    own = []
    for name in thing.__dataclass_fields__:
        value = getattr(thing, name)
        if name == "source" or name.endswith("_source"):
            own.append((type(thing).__name__, name, value))
        own += sources_of(value)
    return own


@each_crop
def test_every_number_has_a_source(plant):
    bloom = plant.perennial.bloom if plant.perennial else None
    for kind, field, source in sources_of(plant):
        needed = {
            "days_source": plant.germination is not None and bool(plant.germination.days_at_c),
            "heat_source": plant.maturity is not None and plant.maturity.heat_sums is not None,
            "cold_source": plant.winter is not None and plant.winter.cold_days is not None,
            "hardening_source": plant.hardens_by_c > 0,
            "ripening_source": bool(bloom and bloom.heat_to_ripen),
            "flowering_source": bool(bloom and bloom.flowering_days),
            "low_chill_source": bool(bloom and bloom.low_chill_units),
        }.get(field, True)
        assert (len(source) > 8) == needed, (kind, field, source)


@each_crop
def test_sources_are_written_out(plant):
    for _, _, source in sources_of(plant):
        for short in ("SMF", "MNU", "HLA6004", "ab:", "/work", "PyPI", "github", "stored"):
            assert short not in source
        if source.startswith("as for ") and ":" not in source:
            assert source.removeprefix("as for ") in {stage.name for stage in plant.stages}


# --- which rules a kind of crop has -------------------------------------------------------

PERENNIALS = {
    *("apple", "asparagus", "chives", "grape", "peach", "pear", "raspberry", "rhubarb"),
    *("strawberry", "sweet cherry"),
}
LEAFY_AND_BIENNIAL = {  # all that cold or long days send to flower in their first summer
    *("arugula", "beet", "cabbage", "carrot", "celeriac", "celery", "chard", "chicory"),
    *("Chinese cabbage", "coriander", "endive", "Florence fennel", "kohlrabi", "leek"),
    *("mustard greens", "onion", "pak choi", "radish", "rutabaga", "savoy cabbage", "shallot"),
    *("spinach", "turnip"),
}
IN_HEAT = {"lettuce"}  # not cold, but weeks of heat in long days
# They flower in their second spring.
AFTER_WINTER = {"Brussels sprouts", "parsley", "parsnip", "salsify", "scorzonera"}
HEADS = {
    *("broccoli", "Brussels sprouts", "cabbage", "cauliflower", "Chinese cabbage", "endive"),
    *("lettuce", "savoy cabbage"),
}
PODS = {
    *("broad bean", "cowpea", "dry bean", "lima bean", "pea", "runner bean", "snap bean"),
    *("soybean", "sweet corn"),
}
NIGHTSHADE_FRUIT = {"cape gooseberry", "eggplant", "hot pepper", "sweet pepper", "tomato"}
STANDS_OVER_WINTER = {
    *("artichoke", "broad bean", "garlic", "kale", "leek", "onion", "parsley", "parsnip"),
    *("salsify", "savoy cabbage", "scorzonera", "shallot", "spinach", "spring onion"),
}


def test_what_stands_for_years():
    assert names_of(plant for plant in ALL if plant.is_perennial) == PERENNIALS
    assert all(plant.propagation == "perennial" for plant in ALL if plant.is_perennial)


@pytest.mark.parametrize("plant", ANNUAL, ids=lambda plant: plant.name)
def test_annual_has_soil_time_and_cold(plant):
    assert plant.germination is not None
    assert plant.maturity is not None
    for stage in plant.stages:
        # The first frosts end all warm crops, and cool ones bear some.
        assert stage.cold.killed_at_c <= (2 if plant.season == "warm" else -2)
    if plant.propagation in ("plants", "seed or plants"):
        assert plant.weeks_under_cover is not None
    if plant.is_set_out:
        assert plant.maturity.emergence_days == 0
    elif plant.propagation not in ("cloves", "slips"):
        assert plant.maturity.emergence_days >= 5


@pytest.mark.parametrize("plant", ANNUAL, ids=lambda plant: plant.name)
def test_annual_hardens_or_chills(plant):
    if plant.season == "cool":
        # Potato leaves do not harden; what lives of garlic lies in the soil.
        assert (plant.hardens_by_c > 0) == (plant.name not in ("garlic", "potato"))
        assert plant.chilling is None
    else:
        assert plant.hardens_by_c == 0
        assert (plant.chilling is not None) == (plant.name != "Jerusalem artichoke")


@pytest.mark.parametrize("plant", ANNUAL, ids=lambda plant: plant.name)
def test_annual_bolts_or_does_not(plant):
    rules = (plant.cold_bolting, plant.vernalization, plant.long_day_bolting)
    assert any(rules) == (plant.name in LEAFY_AND_BIENNIAL | AFTER_WINTER | IN_HEAT)


def test_day_length():
    assert names_of(plant for plant in ALL if plant.bulbing) == {"garlic", "onion", "shallot"}
    short = {plant.name for plant in ALL if plant.short_days}
    assert short == {"chayote", "Jerusalem artichoke", "roselle"}


def test_heat_in_the_sensitive_stage():
    for plant in ALL:
        hot = any(stage.heat for stage in plant.stages)
        sets = any(stage.setting for stage in plant.stages)
        if plant.name in HEADS:
            assert plant.stages[-1].heat is not None
        if plant.name in PODS:
            assert hot or sets
        if plant.name in NIGHTSHADE_FRUIT:
            assert sets
    sets, bulks = (stage.heat for stage in crop("potato").stages[1:])
    # No tubers start in nights of 20 to 22 degC, and heat costs most while they do.
    assert 20 <= sets.minimum_fails_c < bulks.minimum_fails_c <= 22


def test_winter():
    assert names_of(plant for plant in ANNUAL if plant.winter) == STANDS_OVER_WINTER
    for plant in ANNUAL:
        if plant.winter is not None and not plant.winter.below_ground:
            hardened = min(stage.cold.killed_at_c for stage in plant.stages) - plant.hardens_by_c
            assert plant.winter.hardy_to_c == pytest.approx(hardened, abs=2)
    # Six weeks below 10 degC: kinds with soft necks need so many at most, others more.
    assert crop("garlic").winter.cold_days == 42


@pytest.mark.parametrize("name", sorted(PERENNIALS))
def test_perennial_has_winter_and_spring(name):
    plant = crop(name)
    assert -40 <= plant.perennial.hardy_to_c <= -12
    if plant.family in ("rose family", "grape family"):
        assert plant.perennial.bloom is not None
        assert max(stage.share for stage in plant.perennial.bloom.buds) <= 1.3
    else:
        assert plant.perennial.sprouting is not None
        assert plant.perennial.crown_below_ground
    warmer = plant.perennial.buds_hardy_to_c
    assert (warmer is not None) == (name in ("grape", "peach", "sweet cherry"))
    assert warmer is None or warmer > plant.perennial.hardy_to_c


@each_crop
def test_flowers_and_fruits_do_not_harden(plant):
    tender = {"flowers and pods", "pods", "buds"}
    for stage in plant.stages:
        if plant.season == "cool":
            assert stage.hardens == (stage.name not in tender)


@each_crop
def test_plausible(plant):
    base, optimum, _, maximum = plant.response.temperatures
    assert 0 <= base <= 13
    assert 9 <= optimum - base <= 21
    assert 29 <= maximum <= 45  # of tomato: CROPGRO and SIMPLE end its growth at 45
    for stage in plant.stages:
        assert stage.cold.killed_at_c <= stage.cold.damaged_at_c < base + 6
        if stage.heat is not None:
            assert stage.heat.maximum_from_c is None or stage.heat.maximum_from_c > optimum
    if plant.maturity is not None and plant.winter is None:
        assert 20 <= plant.maturity.early <= plant.maturity.late <= 210


def test_cool_crops_want_cooler_weeks_than_warm_ones():
    best = {"cool": [], "warm": []}
    for plant in ALL:
        best[plant.season].append(plant.response.optimum_from_c)
    assert sum(best["cool"]) / len(best["cool"]) + 4 < sum(best["warm"]) / len(best["warm"])


# --- against published tables -------------------------------------------------------------

# Harrington, Oregon State University Extension: soil temperatures for germination [degF]; and
# Harrington & Minges 1954, via Knott's 1997: days to emergence by soil temperature [degC].
HARRINGTON = {
    "asparagus": ((50, 60, 85, 95), {10: 53, 25: 10, 40: 28}),
    "snap bean": ((60, 60, 85, 95), {15: 16, 20: 11, 35: 6}),
    "beet": ((40, 50, 85, 95), {5: 42, 20: 6}),
    "cabbage": ((40, 45, 95, 100), {10: 15, 30: 4}),
    "carrot": ((40, 45, 85, 95), {5: 51, 15: 10, 35: 9}),
    "cauliflower": ((40, 45, 85, 100), {10: 20, 15: 10, 20: 6, 25: 5, 30: 5}),
    "cucumber": ((60, 60, 95, 105), {15: 13, 30: 3}),
    "eggplant": ((60, 75, 90, 95), {20: 13, 30: 5}),
    "lettuce": ((35, 40, 80, 95), {0: 49, 25: 2}),
    "onion": ((35, 50, 95, 95), {0: 136, 20: 5}),
    "parsnip": ((35, 50, 70, 85), {0: 172, 20: 14}),
    "pea": ((40, 40, 75, 85), {5: 36, 25: 6}),
    "radish": ((40, 45, 90, 95), {5: 29, 30: 3}),
    "spinach": ((35, 45, 75, 85), {0: 63, 15: 7}),
    "sweet corn": ((50, 60, 95, 105), {10: 22, 35: 3}),
    "tomato": ((50, 60, 85, 95), {10: 43, 25: 6}),
    "watermelon": ((60, 70, 95, 105), {20: 12, 35: 3}),
}


@pytest.mark.parametrize(("name", "published"), HARRINGTON.items())
def test_germination_matches_harrington(name, published):
    ladder, days = published
    soil = crop(name).germination
    read = (soil.minimum_c, soil.optimum_low_c, soil.optimum_high_c, soil.maximum_c)
    assert read == pytest.approx([to_celsius(degf, "F") for degf in ladder], abs=0.05)
    assert dict(soil.days_at_c) == pytest.approx(dict(soil.days_at_c) | days)


# Days from sowing or setting out to the first harvest: War Gardens (M. Free, about 1918) and
# Oklahoma State University HLA-6004, two lists that the catalogue's days were not taken from.
OTHER_LISTS = {
    "beet": (60, 80),
    "carrot": (75, 110),
    "chard": (60, 80),
    "cowpea": (85, 100),
    "cucumber": (50, 70),
    "kohlrabi": (60, 80),
    "lettuce": (65, 100),
    "muskmelon": (80, 100),
    "New Zealand spinach": (60, 70),
    "okra": (60, 70),
    "parsley": (90, 100),
    "parsnip": (125, 150),
    "pea": (45, 80),
    "potato": (80, 140),
    "pumpkin": (90, 120),
    "radish": (25, 50),
    "salsify": (125, 150),
    "snap bean": (50, 60),
    "spinach": (30, 60),
    "summer squash": (40, 60),
    "sweet corn": (60, 100),
    "sweet potato": (100, 120),
    "tomato": (70, 90),
    "turnip": (60, 80),
    "watermelon": (90, 120),
    "winter squash": (110, 125),
}


@pytest.mark.parametrize(("name", "listed"), OTHER_LISTS.items())
def test_days_meet_those_of_other_lists(name, listed):
    maturity = crop(name).maturity
    assert maturity.early <= listed[1]
    assert listed[0] <= maturity.late


# Damaging temperatures [degC]: Wilson, Payne & Boyd 2023, Scientific Reports 13:8254, Table 2. What
# is not hardened is damaged somewhere in its class.
DAMAGED_BETWEEN = {
    ("cauliflower", "curd"): (-4, -2),
    ("broccoli", "heads"): (-4, -2),
    ("pea", "flowers and pods"): (-4, -2),
    ("lettuce", "heads"): (-4, -2),
    ("cauliflower", "leaf growth"): (-7, -4),
    ("broccoli", "leaf growth"): (-7, -4),
    ("kale", "leaf growth"): (-7, -4),
    ("cabbage", "heads"): (-7, -4),
    ("carrot", "roots"): (-7, -4),
    ("beet", "leaf growth"): (-7, -4),
    ("onion", "leaf growth"): (-7, -4),
    ("lettuce", "leaf growth"): (-7, -4),
    ("savoy cabbage", "heads"): (-10, -7),
    ("spinach", "leaf growth"): (-10, -7),
    ("potato", "leaf growth"): (-2, 0),
    ("snap bean", "flowers"): (-2, 0),
    ("sweet corn", "silking"): (-2, 0),
    ("muskmelon", "fruit"): (-2, 0),
}


@pytest.mark.parametrize(("which", "between"), DAMAGED_BETWEEN.items())
def test_damage_begins_within_the_published_class(which, between):
    name, stage = which
    cold = {each.name: each.cold for each in crop(name).stages}[stage]
    assert between[0] <= cold.damaged_at_c <= between[1]


# Penn State Extension, Orchard Frost: temperatures that kill 10 % and 90 % of the buds [degF].
@pytest.mark.parametrize(
    ("name", "stage", "tenth", "most"),
    [
        ("apple", "green tip", 18, 10),
        ("apple", "tight cluster", 27, 21),
        ("apple", "full bloom", 28, 25),
        ("pear", "blossom buds exposed", 20, 6),
        ("peach", "first pink", 25, 15),
        ("peach", "full bloom", 27, 24),
        ("sweet cherry", "tight cluster", 26, 17),
    ],
)
def test_blossom_matches_penn_state(name, stage, tenth, most):
    buds = {each.name: each for each in crop(name).perennial.bloom.buds}[stage]
    assert buds.tenth_killed_c == pytest.approx(to_celsius(tenth, "F"), abs=0.05)
    assert buds.most_killed_c == pytest.approx(to_celsius(most, "F"), abs=0.05)


# Iowa State University Extension and Purdue Extension 2022: peach flower buds begin to die at -23
# degC and are dead below -27.8; the tree is at risk at -29 and hurt below -31.7.
def test_peach_winter_matches_extension():
    peach = crop("peach").perennial
    assert -27.8 <= peach.buds_hardy_to_c <= -23
    assert -31.7 <= peach.hardy_to_c <= -29


# Celery: Ramin & Atherton 1991, cardinal temperatures of leaf initiation 3, 22.8, 37.4 degC.
# Carrot: Atherton et al. 1990, cold of -1, 6.5, 16 degC, 336 degC d.
# Asparagus: Heissner et al. 2006, 255 degC d above 4.4 to the first spears.
def test_published_single_values():
    celery = crop("celery").response
    assert celery.base_c == 3
    assert celery.optimum_from_c <= 22.8 <= celery.optimum_to_c
    assert celery.maximum_c == pytest.approx(37.4, abs=1.5)
    carrot = crop("carrot").vernalization
    assert (carrot.base_c, carrot.optimum_c, carrot.maximum_c, carrot.sum) == (-1, 6.5, 16, 336)
    asparagus = crop("asparagus").perennial.sprouting
    assert (asparagus.base_c, asparagus.heat_to_first_cut, asparagus.in_soil) == (4.4, 255, True)


# Dokoozlian 1999, HortScience 34(6): at least 200 h for commercially acceptable budbreak of vines.
# University of Minnesota Extension, Info-U 505 (2001): Latham, Boyne and Nordic suit all of
# Minnesota. Its north lies in USDA zone 3: a year's coldest night averages -40 to -34 degC there.
def test_raspberries_stand_the_winters_of_zone_3():
    assert -40 <= crop("raspberry").perennial.hardy_to_c <= -34


# North Dakota State University: raspberries are picked for 20 to 30 days.
def test_chilling_of_vines_and_flowering_of_soft_fruit_match_their_trials():
    grape = crop("grape").perennial.bloom
    assert grape.least_chill_units == 200 < grape.chill_units
    assert 20 <= crop("raspberry").perennial.bloom.flowering_days <= 30
    assert 21 <= crop("strawberry").perennial.bloom.flowering_days <= 28


# Fadon, Rodrigo & Luedeling 2022: twelve sweet cherries at Zaragoza need 694 to 1229 Utah units.
# Hours of nurseries: apple from 100, peach 100 to 300, Kieffer and Asian pears 200 to 400.
def test_least_chilling_of_trees_lies_within_published_kinds():
    lowest = {name: crop(name).perennial.bloom.low_chill_units for name in TREES}
    assert lowest["sweet cherry"] == pytest.approx(694, abs=10)
    assert 100 <= lowest["apple"] <= 300
    assert 100 <= lowest["peach"] <= 300
    assert 200 <= lowest["pear"] <= 400
    assert 694 <= crop("sweet cherry").perennial.bloom.chill_units <= 1229


TREES = ("apple", "peach", "pear", "sweet cherry")


# Farnham & Bjorkman 2011: no marketable broccoli above a mean maximum of 30 or minimum of 20 degC.
def test_broccoli_heat_matches_its_trial():
    heat = crop("broccoli").stages[-1].heat
    assert (heat.maximum_fails_c, heat.minimum_fails_c) == (30, 20)


def reference_heat(plant):
    """Degree-days of the reference day, by a plain loop over minutes of a sine wave."""
    from math import pi, sin

    mean, half = REFERENCE_DAYS[plant.season]
    base, full_from, full_to, end = plant.response.temperatures
    total = 0.0
    for minute in range(1440):
        celsius = mean + half * sin(2 * pi * minute / 1440)
        rise, fall = (celsius - base) / (full_from - base), (end - celsius) / (end - full_to)
        total += max(0.0, min(1.0, rise, fall))
    return total / 1440 * (full_from - base)


READ_AGAIN = {  # base, optimum and maximum: ends of what the crop's file cites
    "tomato": ((6, 10), (22, 26), (28, 29), (45, 48)),
    # Growth of tubers in SUBSTOR (2, 15, 23, 33), assimilation in WOFOST 7.2 (full from 15 to 24).
    "potato": ((2, 3), (15, 15), (23, 24), (33, 36)),
    "pumpkin": ((6, 10), (17, 24), (29, 30), (38, 40)),
    "winter squash": ((9, 10), (20, 24), (30, 30), (38, 40)),
    "summer squash": ((6, 10), (17, 24), (29, 30), (38, 40)),
    "endive": ((3, 5), (15, 16), (23, 24), (30, 34)),
    "cauliflower": ((0, 7), (17, 18), (20, 24), (33, 45)),
    "Brussels sprouts": ((0, 4), (17, 18), (20, 24), (31, 45)),
    "soybean": ((5, 10), (20, 30), (30, 35), (38, 45)),
    "vegetable soybean": ((5, 10), (20, 30), (30, 35), (38, 45)),
}


@pytest.mark.skipif(not REFERENCE.exists(), reason="the reference folder is not at hand")
def test_days_make_the_proposed_heat_sums():
    with (REFERENCE / "growing" / "proposed_cards.csv").open(encoding="utf-8") as opened:
        cards = {row["crop"].replace("-", " "): row for row in csv.DictReader(opened)}
    compared = 0
    for plant in ANNUAL:
        if plant.name not in cards:
            continue  # a crop added since the cards were written
        card, maturity = cards[plant.name], plant.maturity
        for kind in ("early", "main", "late"):
            if maturity.heat_sums is not None or (plant.name, kind) == ("lettuce", "early"):
                continue  # published sums; and the leaf kind, which the cards do not have
            if plant.name in ("potato", "summer squash"):
                continue  # the same days, with another response
            days = getattr(maturity, kind) - maturity.emergence_days
            heat = days * FIELD_DAYS * reference_heat(plant)
            assert heat == pytest.approx(float(card[f"sum_{kind}"]), rel=0.02), (plant.name, kind)
            compared += 1
    assert compared > 180  # four crops have published sums by now


@pytest.mark.skipif(not REFERENCE.exists(), reason="the reference folder is not at hand")
def test_cards_are_carried_over():
    with (REFERENCE / "growing" / "proposed_cards.csv").open(encoding="utf-8") as opened:
        for row in csv.DictReader(opened):
            plant = crop(row["crop"])
            card = [
                float(row[k]) for k in ("base_c", "optimum_from_c", "optimum_to_c", "maximum_c")
            ]
            assert plant.confidence == row["confidence"]
            if plant.name not in READ_AGAIN:
                assert list(plant.response.temperatures) == card


@pytest.mark.parametrize("name", READ_AGAIN)
def test_temperatures_read_again_lie_among_the_published_ones(name):
    for found, (lowest, highest) in zip(
        crop(name).response.temperatures, READ_AGAIN[name], strict=True
    ):
        assert lowest <= found <= highest


def test_squashes_ripen_in_the_days_of_the_table():
    # FAO-56, Table 11: pumpkin and winter squash, planted in June in Europe (about 17.5 degC): 120
    # days to the harvest; in Mediterranean country (about 20): 100. Ten of them to emerge.
    for name in ("pumpkin", "winter squash"):
        plant = crop(name)
        for mean, days in ((17.5, 120), (20.0, 100)):
            heat = (days - 10) * (mean - plant.response.base_c)
            assert plant.maturity.heat_sums[1] == pytest.approx(heat, rel=0.15)


@pytest.mark.parametrize(
    ("name", "short", "long"),
    [("dry bean", 960, 1350), ("soybean", 1650, 1960)],
)
def test_what_is_dried_takes_the_published_heat(name, short, long):
    # Paredes et al. 2025: degree-days above 10 from planting to harvest, as days of 22 degC.
    maturity, rate = crop(name).maturity, reference_heat(crop(name))
    days = [heat / rate + maturity.emergence_days for heat in maturity.heat_sums]
    published = [short / (22 - 10), long / (22 - 10)]
    assert days[2] == pytest.approx(published[1], rel=0.02)
    assert days[1] == pytest.approx(
        sum(published) / 2 if name == "dry bean" else published[0], rel=0.02
    )


def test_soybeans_are_two_crops():
    assert crop("edamame").name == "vegetable soybean"
    dry, green = crop("soybean").maturity, crop("edamame").maturity
    assert dry.main - green.main > 30


# --- crops that others build on -----------------------------------------------------------


def test_potato_follows_the_trade():
    # Common practice: soil of 45 to 55 degF, up in two to four weeks, ripe 90 to 120 days after;
    # it struggles under 40 degF and survives to about 30 degF.
    plant = crop("potato")
    soil = plant.germination
    assert soil.minimum_c == pytest.approx(to_celsius(45, "F"), abs=0.05)
    assert soil.optimum_high_c == pytest.approx(to_celsius(55, "F"), abs=0.05)
    for celsius, days in soil.days_at_c:
        if soil.minimum_c <= celsius <= soil.optimum_high_c:
            assert 14 <= days <= 28
    assert plant.response.base_c < to_celsius(40, "F")
    assert plant.stages[0].cold.damaged_at_c == pytest.approx(to_celsius(30, "F"), abs=0.05)
    assert plant.stages[0].cold.killed_at_c < to_celsius(30, "F")
    assert plant.sprouts_again
    assert plant.maturity.late >= 90
    cautions = " ".join(plant.cautions)
    assert "Green or sprouted tubers are poisonous" in cautions
    assert "certified" in cautions
    assert "local plant-health rules" in cautions


@pytest.mark.parametrize(
    ("name", "warning"),
    [
        ("dry bean", "boil them hard"),
        ("runner bean", "boil them hard"),
        ("snap bean", "raw beans are poisonous"),
        ("rhubarb", "leaves are poisonous"),
        ("lima bean", "cyanide"),
        ("peach", "cyanide"),
        ("parsnip", "gloves"),
        ("garlic", "certified"),
        ("apple", "plant-health rules of your own country"),
        ("broad bean", "favism"),
    ],
)
def test_cautions(name, warning):
    assert warning in " ".join(crop(name).cautions)


# --- a gardener's own file ----------------------------------------------------------------

MINE = (FOLDER / "cauliflower.toml").read_text(encoding="utf-8")


@pytest.fixture
def mine(tmp_path):
    def write(old="", new="", *, raw=None):
        assert old in MINE
        path = tmp_path / "mine.toml"
        path.write_bytes(MINE.replace(old, new, 1).encode() if raw is None else raw)
        return path

    return write


def test_own_file_reads_as_the_catalogue_does(mine):
    assert read_crop(mine()) == crop("cauliflower")
    assert read_crop(str(mine(raw=b"\xef\xbb\xbf" + MINE.encode()))) == crop("cauliflower")


def test_sample_of_an_own_file():
    own = read_crop(FOLDER.parents[2] / "data_samples" / "own_crop.toml")
    assert own.name == "Pellbrook winter radish"
    assert [stage.name for stage in own.stages] == ["seedling", "leaf growth", "roots"]


def test_own_file_may_leave_out_what_has_a_default(mine):
    path = mine(next(line for line in MINE.splitlines() if line.startswith("weeks_under_cover")))
    assert read_crop(path).weeks_under_cover is None


@pytest.mark.parametrize(
    ("old", "new", "told"),
    [
        ('name = "cauliflower"\n', "", r"mine.toml lacks name: .*Every number needs its source"),
        ("maximum_c = 37.8", "", r"mine.toml, germination lacks maximum_c: write it in"),
        ("usual = 6, ", "", r"mine.toml, weeks_under_cover lacks usual"),
        (
            "harvested =",
            "harvestd =",
            r"mine.toml, stages 2: unknown key 'harvestd'\. Did you mean harvested\?",
        ),
        ("harvested = true", "harvested = 1", r"stages 2, harvested must be true or false; got 1"),
        ("harvested = true", "", r"mark the stage that is harvested with harvested = true"),
        ("usual = 6", 'usual = "6"', r"cover, usual must be a whole number.*got '6'"),
        ("usual = 6", "usual = 6.5", r"weeks_under_cover, usual must be a whole number.*got 6.5"),
        ("usual = 6", "usual = true", r"weeks_under_cover, usual must be a whole number.*got True"),
        ("main = 63.0", 'main = "two months"', r"maturity, main must be a number.*'two months'"),
        ("main = 63.0", "main = nan", r"mine.toml, maturity, main must be a number"),
        ("main = 63.0", "main = 40", r"maturity: days must be ordered 0 < early <= main <= late"),
        ("base_c = 0.0", "base_c = 61", r"response: base_c must lie between -60 and 50 .*Is it in"),
        (
            "base_c = 0.0",
            "base_c = 18",
            r"response: cardinal temperatures must be ordered base_c <",
        ),
        ('season = "cool"', 'season = "wet"', r"season must be one of cool, warm; got 'wet'"),
        ('"setting out"', '"moonrise"', r"counted_from must be one of sowing, setting out; got"),
        ('family = "brassica"', 'family = " "', r"family must be text, not empty; got ' '"),
        ("[10, 20]", "[10, 20, 30]", r"germination, days_at_c 1 must be a list of 2; got \[10, 20"),
        ("[[10, 20]", "[[40, 20]", r"must be pairs of a rising soil temperature and days above 0"),
        (
            "[10, 20]",
            "[50, 20]",
            r"must have soil of 0 to 45 degC, got 50. Is it in degF",
        ),
        ("days_source", "# days_source", r"days_at_c is given without days_source"),
        ("maximum_c = 37.8", "maximum_c = 5", r"germination: soil temperatures must be ordered"),
        (
            "usual = 6",
            "usual = 99",
            r"weeks_under_cover: weeks must be ordered 0 < fewest <= usual",
        ),
        ('"curd"', '"leaf growth"', r"names a stage twice: leaf growth, leaf growth"),
        ("share = 0.68", "share = 0.5", r"the shares of its stages must add up to 1, got 0.82"),
        (
            "damaged_at_c = -5.0",
            "damaged_at_c = -9",
            r"killed_at_c must not lie above damaged_at_c",
        ),
        (
            "maximum_fails_c = 30.0",
            "maximum_fails_c = 3",
            r"maximum_fails_c must not lie below max",
        ),
        (
            "hardening_source",
            "# hardening_source",
            r"hardens_by_c must be 0, or more than 0 with a",
        ),
        (
            "early = 50.0",
            "early = 8",
            r"maturity: early must be 14 days or more, got 8\. Is it in weeks",
        ),
        (
            "damaged_at_c = -5.0, killed_at_c = -7.0",
            "damaged_at_c = 7.0, killed_at_c = 5.0",
            r"killed_at_c must be below 3 degC, got 5\. Has it lost its minus sign",
        ),
        ("maximum_fails_c = 30.0", "maximum_fails_c = 86", r"maximum_fails_c must lie between -60"),
        ("hardens_by_c = ", "hardens_by_c = 3", r"hardens_by_c must be 20 degC or less, got 3"),
        ("[response]", "stages = []\n[response]", r"mine.toml is not TOML: .* line \d+"),
        ('season = "cool"', "season = cool", r"mine.toml is not TOML: Invalid value \(at line 7, "),
        ("[germination]", "[stages]\n[germination]", r"mine.toml is not TOML"),
    ],
)
def test_own_file_that_breaks_a_rule(mine, old, new, told):
    with pytest.raises(RecordError, match=told):
        read_crop(mine(old, new))


@pytest.mark.parametrize(
    ("raw", "told"),
    [
        (
            b"",
            r"lacks name, botanical, family, season, propagation, confidence, response, stages:",
        ),
        (b"name = 'caf\xe9'", r"mine.toml, line 1: not UTF-8. Save it as plain text"),
        (b"\n\nname = 'caf\xe9'", r"mine.toml, line 3: not UTF-8"),
        (MINE.encode("utf-16"), r"not UTF-8"),
        (b"#" * (LARGEST + 1), r"mine.toml is larger than 1 MB"),
        (b"a = " + b"[" * 5000, r"mine.toml is not TOML"),
        (b"a = " + b"9" * 5000, r"mine.toml is not TOML"),
        (b"stages = 5", r"unknown key|lacks"),
    ],
)
def test_own_file_that_is_no_crop(mine, raw, told):
    with pytest.raises(RecordError, match=told):
        read_crop(mine(raw=raw))


def test_list_or_table_expected(mine):
    with pytest.raises(RecordError, match=r"mine.toml, cautions must be a list; got 'none'"):
        read_crop(mine('season = "cool"', 'season = "cool"\ncautions = "none"'))
    with pytest.raises(RecordError, match=r"chilling must be a table of mean_below_c, .*; got 5"):
        read_crop(mine('season = "cool"', 'season = "cool"\nchilling = 5'))


def test_file_that_cannot_be_opened(tmp_path):
    with pytest.raises(RecordError, match=r"none.toml cannot be read: No such file"):
        read_crop(tmp_path / "none.toml")
    with pytest.raises(RecordError, match=r"is a folder, a pipe or a device. Give a file"):
        read_crop(tmp_path)


def complaint(raw):
    """What the reader says of a file; anything but a RecordError goes through."""
    try:
        return from_toml(Crop, raw, "mine.toml").name
    except RecordError as error:
        return str(error)


@settings(deadline=None, max_examples=200)
@given(st.binary(max_size=200) | st.text(max_size=200).map(str.encode))
def test_garbage_raises_nothing_else(raw):
    assert 0 < len(complaint(raw)) < 1000


VALUES = ["-1", "nan", "inf", "1e400", "[]", "[[1]]", "{}", "''", "true", "1979-05-27", '"air"']


@settings(deadline=None, max_examples=200)
@given(
    start=st.integers(0, len(MINE)),
    length=st.integers(0, 60),
    put=st.sampled_from(VALUES) | st.text(max_size=20),
)
def test_damaged_file_raises_nothing_else(start, length, put):
    damaged = MINE[:start] + put + MINE[start + length :]
    assert 0 < len(complaint(damaged.encode())) < 1000


LINES = [n for n, line in enumerate(MINE.splitlines()) if " = " in line]


@settings(deadline=None, max_examples=200)
@given(st.sampled_from(LINES), st.sampled_from(VALUES) | st.integers().map(str))
def test_any_value_in_any_place_raises_nothing_else(number, value):
    lines = MINE.splitlines()
    lines[number] = f"{lines[number].split(' = ')[0]} = {value}"
    assert 0 < len(complaint("\n".join(lines).encode())) < 1000
