"""The catalogue against published tables, and what a broken file of one's own is told."""

from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from climwin.core.schema import RecordError, to_celsius
from climwin.crops.catalogue import (
    Crop,
    Germination,
    HeatSum,
    Limits,
    Minimum,
    Span,
    Stage,
    crop,
    crop_names,
    read_crop,
)
from climwin.io.structured import LARGEST, from_toml

ALL = [crop(name) for name in crop_names()]
FOLDER = Path(__file__).parents[2] / "climwin" / "crops" / "data"


def each_crop(test):
    return pytest.mark.parametrize("plant", ALL, ids=lambda plant: plant.name)(test)


# --- the catalogue as a whole -------------------------------------------------------------


def test_catalogue_is_large_and_sorted():
    assert len(crop_names()) >= 60
    assert list(crop_names()) == sorted(crop_names(), key=str.casefold)
    assert [plant.name for plant in ALL] == list(crop_names())
    assert len(crop_names()) == len(list(FOLDER.glob("*.toml")))


def test_catalogue_holds_both_seasons_and_every_kind():
    assert {plant.season for plant in ALL} == {"cool", "warm"}
    families = {plant.family for plant in ALL}
    assert {"brassica", "allium", "legume", "cucurbit", "nightshade", "rose family"} <= families


def test_what_stands_for_years_begins_by_itself():
    assert {plant.name for plant in ALL if plant.begins == "by itself"} == {
        *("apple", "asparagus", "grape", "peach", "pear", "raspberry", "rhubarb", "strawberry"),
        "sweet cherry",
    }


@pytest.mark.parametrize("name", ["Brussels sprouts", "brussels-sprouts", " BRUSSELS  SPROUTS "])
def test_name_is_forgiving(name):
    assert crop(name).botanical == "Brassica oleracea var. gemmifera"


def test_file_is_read_once():
    assert crop("kale") is crop("Kale")


def test_unknown_crop_is_told_the_nearest():
    with pytest.raises(ValueError, match=r"no crop 'tomatos'\. Nearest: .*tomato.* lists all"):
        crop("tomatos")
    with pytest.raises(ValueError, match=r"no crop 'xyzzy'\. climwin.crop_names\(\) lists all"):
        crop("xyzzy")


def numbers_with_source(thing):
    """Everything in a crop that has a ``source``, found by walking through it."""
    if isinstance(thing, tuple):
        return [found for item in thing for found in numbers_with_source(item)]
    if not hasattr(thing, "__dataclass_fields__"):
        return []
    inner = [getattr(thing, name) for name in thing.__dataclass_fields__]
    own = [thing] if hasattr(thing, "source") else []
    return own + numbers_with_source(tuple(inner))


@each_crop
def test_every_number_has_a_source(plant):
    sourced = numbers_with_source(plant)
    # band and germination, then days, prefers, tolerates and survives of every stage
    assert len(sourced) >= 2 + 4 * len(plant.stages)
    assert all(len(thing.source) > 8 for thing in sourced)
    assert bool(plant.germination.days_at_c) == bool(plant.germination.days_source)


@each_crop
def test_plausible(plant):
    assert -35 <= plant.killed_at_c <= 5
    assert plant.killed_at_c <= plant.band.low_c
    assert 8 <= plant.band.high_c - plant.band.low_c <= 38
    assert 20 <= plant.need_days <= plant.days <= 240
    soil = [stage.place for stage in plant.stages]
    assert soil == sorted(soil, reverse=True), "what is in the soil comes before what is above it"
    if plant.weeks_under_cover:
        assert 7 * plant.weeks_under_cover.most < plant.days
    for days in (stage.days for stage in plant.stages if stage.place == "air"):
        assert days.most <= 5 * days.fewest


def test_cool_crops_want_cooler_weeks_than_warm_ones():
    best = {"cool": [], "warm": []}
    for plant in ALL:
        best[plant.season].append(plant.stages[-1].prefers.low_c)
    assert sum(best["cool"]) / len(best["cool"]) + 3 < sum(best["warm"]) / len(best["warm"])
    assert max(plant.killed_at_c for plant in ALL if plant.season == "cool") <= 0


# --- against published tables -------------------------------------------------------------

# Knott's Handbook for Vegetable Growers, Maynard & Hochmuth 1997, monthly mean temperatures for
# best growth: optimum and limits [degF], as read in UCSC's Teaching Organic Farming, Unit 1.3.
KNOTT = {
    "onion": (55, 75, 45, 85),
    "garlic": (55, 75, 45, 85),
    "beet": (60, 65, 40, 75),
    "broccoli": (60, 65, 40, 75),
    "cabbage": (60, 65, 40, 75),
    "spinach": (60, 65, 40, 75),
    "carrot": (60, 65, 45, 75),
    "cauliflower": (60, 65, 45, 75),
    "lettuce": (60, 65, 45, 75),
    "pea": (60, 65, 45, 75),
    "snap bean": (60, 70, 50, 80),
    "sweet corn": (60, 75, 50, 95),
    "pumpkin": (65, 75, 50, 90),
    "cucumber": (65, 75, 60, 90),
    "tomato": (70, 75, 65, 80),
    "okra": (70, 85, 65, 95),
}


@pytest.mark.parametrize(("name", "published"), KNOTT.items())
def test_growth_limits_match_knott(name, published):
    plant = crop(name)
    last = plant.stages[-1]
    held = (last.prefers.low_c, last.prefers.high_c, plant.band.low_c, plant.band.high_c)
    expected = [to_celsius(degf, "F") for degf in published]
    assert held == pytest.approx(expected, abs=0.05)  # rounded to a tenth
    assert "Knott" in plant.band.source


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
    held = (soil.minimum_c, soil.optimum_low_c, soil.optimum_high_c, soil.maximum_c)
    assert held == pytest.approx([to_celsius(degf, "F") for degf in ladder], abs=0.05)
    assert dict(soil.days_at_c) == pytest.approx(dict(soil.days_at_c) | days)


# FAO EcoCrop: days of the whole cycle, shortest and longest.
ECOCROP_CYCLE = {
    "broad bean": (100, 150),
    "broccoli": (80, 120),
    "cabbage": (60, 200),
    "carrot": (40, 150),
    "cauliflower": (60, 120),
    "celery": (80, 160),
    "cucumber": (40, 180),
    "eggplant": (70, 120),
    "endive": (70, 85),
    "garlic": (90, 120),
    "kale": (60, 85),
    "kohlrabi": (50, 70),
    "leek": (120, 150),
    "lettuce": (35, 85),
    "muskmelon": (50, 120),
    "okra": (50, 180),
    "onion": (85, 175),
    "parsnip": (80, 150),
    "pea": (60, 140),
    "potato": (90, 160),
    "radish": (21, 135),
    "spinach": (40, 120),
    "summer squash": (40, 100),
    "sweet corn": (65, 100),
    "sweet potato": (80, 170),
    "tomato": (70, 150),
    "turnip": (40, 80),
}


@pytest.mark.parametrize(("name", "cycle"), ECOCROP_CYCLE.items())
def test_usual_days_lie_in_ecocrop_cycle(name, cycle):
    shortest, longest = cycle
    assert shortest <= crop(name).days <= longest


# Damaging temperatures [degC]: Wilson, Payne & Boyd 2023, Scientific Reports 13:8254, Table 2. A
# stage must not be said to survive what its class says may damage it.
DAMAGED_FROM = {
    ("cauliflower", "curd"): -2,
    ("broccoli", "heads"): -2,
    ("asparagus", "spears"): -2,
    ("pea", "leaf growth"): -2,
    ("lettuce", "heads"): -2,
    ("cauliflower", "leaf growth"): -4,
    ("kale", "leaf growth"): -4,
    ("carrot", "roots"): -4,
    ("onion", "bulbs"): -4,
    ("savoy cabbage", "heads"): -7,
    ("spinach", "leaf growth"): -7,
    ("tomato", "fruit"): 0,
    ("sweet corn", "ears"): 0,
    ("muskmelon", "fruit"): 0,
}


@pytest.mark.parametrize(("which", "damaged_c"), DAMAGED_FROM.items())
def test_hardiness_matches_published_classes(which, damaged_c):
    name, stage = which
    survives = {each.name: each.survives.low_c for each in crop(name).stages}
    assert survives[stage] == damaged_c


# Penn State Extension, Orchard Frost: temperatures that kill 10 % of the buds [degF].
@pytest.mark.parametrize(
    ("name", "stage", "degf"),
    [
        ("apple", "green tip", 18),
        ("apple", "tight cluster", 27),
        ("apple", "full bloom", 28),
        ("pear", "buds exposed", 20),
        ("peach", "pink", 25),
        ("peach", "full bloom", 27),
        ("sweet cherry", "tight cluster", 26),
    ],
)
def test_blossom_matches_penn_state(name, stage, degf):
    survives = {each.name: each.survives.low_c for each in crop(name).stages}
    assert survives[stage] == pytest.approx(to_celsius(degf, "F"), abs=0.05)


# --- two crops that others build on -------------------------------------------------------


def test_cauliflower_needs_75_days_above_ground():
    plant = crop("cauliflower")
    assert plant.need_days == 75
    assert plant.days == 85
    assert (plant.band.low_c, plant.band.high_c) == (7.2, 23.9)
    assert plant.killed_at_c == -2.2  # 28 degF, Michigan State's light frost
    weeks = plant.weeks_under_cover
    assert (weeks.fewest, weeks.usual, weeks.most) == (5, 6, 7)


def test_potato_follows_the_trade():
    # common practice, in degF and days from planting to emergence and from there to harvest
    plant = crop("potato")
    sprouting, *above = plant.stages
    fahrenheit = [to_celsius(degf, "F") for degf in (45, 55, 45, 70, 40, 30)]
    held = (
        plant.germination.minimum_c,
        plant.germination.optimum_high_c,
        plant.band.low_c,
        plant.band.high_c,
        above[0].tolerates.low_c,
        plant.killed_at_c,
    )
    assert held == pytest.approx(fahrenheit, abs=0.05)
    assert all(stage.prefers.low_c == plant.band.low_c for stage in above)
    assert (sprouting.place, sprouting.days.fewest, sprouting.days.most) == ("soil", 14, 28)
    assert sum(stage.days.fewest for stage in above) == 90
    assert sum(stage.days.most for stage in above) == 120
    assert (sprouting.degree_days.base_c, sprouting.degree_days.total) == (2, 450)  # Sale 1979
    cautions = " ".join(plant.cautions)
    assert "Green or sprouted tubers are poisonous" in cautions
    assert "certified" in cautions
    assert "local plant-health rules" in cautions


@pytest.mark.parametrize(
    ("name", "warning"),
    [
        ("dry bean", "boil them hard"),
        ("rhubarb", "leaves are poisonous"),
        ("lima bean", "cyanide"),
        ("parsnip", "gloves"),
        ("apple", "plant-health rules of your own country"),
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


def test_own_file_may_leave_out_what_has_a_default(mine):
    path = mine(next(line for line in MINE.splitlines() if line.startswith("weeks_under_cover")))
    assert read_crop(path).weeks_under_cover is None


@pytest.mark.parametrize(
    ("old", "new", "told"),
    [
        ('name = "cauliflower"\n', "", r"mine.toml: name missing. Every number needs its source"),
        ("maximum_c = 37.8", "", r"mine.toml, germination: maximum_c missing"),
        ("usual = 25, ", "", r"mine.toml, stages 2, days: usual missing"),
        (
            "prefers =",
            "preffers =",
            r"mine.toml, stages 1: unknown key 'preffers', the nearest allowed is 'prefers'",
        ),
        ("usual = 25", 'usual = "25"', r"stages 2, days, usual must be a whole number.*got '25'"),
        ("usual = 25", "usual = 25.5", r"stages 2, days, usual must be a whole number.*got 25.5"),
        ("usual = 25", "usual = true", r"stages 2, days, usual must be a whole number.*got True"),
        ("usual = 25", "usual = 10000", r"days, usual must be a whole number below 10000"),
        ("low_c = 7.2", 'low_c = "cold"', r"mine.toml, band, low_c must be a number.*got 'cold'"),
        ("low_c = 7.2", "low_c = nan", r"mine.toml, band, low_c must be a number"),
        ("high_c = 23.9", "high_c = 75", r"band: high_c must lie between -60 and 60 degC, got 75"),
        ("high_c = 23.9", "high_c = 7.2", r"band: low_c must lie below high_c, got low_c=7.2 and"),
        ('season = "cool"', 'season = "wet"', r"season must be one of cool, warm; got 'wet'"),
        ('place = "soil"', "place = []", r"stages 1, place must be one of soil, air; got \[\]"),
        ('family = "brassica"', 'family = " "', r"family must be text, not empty; got ' '"),
        ("[10, 20]", "[10, 20, 30]", r"germination, days_at_c 1 must be a list of 2; got \[10, 20"),
        ("[[10, 20]", "[[40, 20]", r"must be pairs of a rising soil temperature and days above 0"),
        ("days_source", "# days_source", r"days_at_c is given without days_source"),
        ("maximum_c = 37.8", "maximum_c = 5", r"germination: soil temperatures must be ordered"),
        ("usual = 25", "usual = 99", r"stages 2, days: A span must be ordered 0 < fewest <= usual"),
        ('"curd"', '"seedling"', r"names a stage twice: germination, seedling, leaf growth, seedl"),
        ("low_c = -2.2", "low_c = 9", r"stages 2: Stage 'seedling': limits must be ordered"),
        ("[germination]", "stages = []\n[germination]", r"mine.toml is not TOML: .* line \d+"),
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
        (b"", r"name, botanical, family, season, germination, stages, band missing"),
        (b"name = 'caf\xe9'", r"mine.toml, line 1: not UTF-8. Save it as plain text"),
        (b"\n\nname = 'caf\xe9'", r"mine.toml, line 3: not UTF-8"),
        (MINE.encode("utf-16"), r"not UTF-8"),
        (b"#" * (LARGEST + 1), r"mine.toml is larger than 1 MB"),
        (b"a = " + b"[" * 5000, r"mine.toml is not TOML"),
        (b"a = " + b"9" * 5000, r"mine.toml is not TOML"),
        (b"stages = 5", r"unknown key|missing"),
    ],
)
def test_own_file_that_is_no_crop(mine, raw, told):
    with pytest.raises(RecordError, match=told):
        read_crop(mine(raw=raw))


def test_list_or_table_expected(mine):
    with pytest.raises(RecordError, match=r"mine.toml, cautions must be a list; got 'none'"):
        read_crop(mine('season = "cool"', 'season = "cool"\ncautions = "none"'))
    band = next(line for line in MINE.splitlines() if line.startswith("band"))
    with pytest.raises(RecordError, match=r"band must be a table of low_c, high_c, source; got 5"):
        read_crop(mine(band, "band = 5"))


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


# --- the types themselves -----------------------------------------------------------------

SOURCE = {"source": "common practice"}


def test_types_check_themselves():
    with pytest.raises(ValueError, match=r"low_c must lie below high_c, got low_c=9 and high_c=4"):
        Limits(low_c=9, high_c=4, **SOURCE)
    with pytest.raises(ValueError, match=r"low_c must lie between .* got 75. Is it in degF"):
        Minimum(low_c=75, **SOURCE)
    with pytest.raises(ValueError, match=r"got fewest=0, usual=1, most=2"):
        Span(usual=1, fewest=0, most=2, **SOURCE)
    with pytest.raises(ValueError, match=r"total must be more than 0 degree-days, got 0"):
        HeatSum(base_c=2, total=0, **SOURCE)
    with pytest.raises(ValueError, match=r"maximum_c must lie between"):
        Germination(minimum_c=1, optimum_low_c=2, optimum_high_c=3, maximum_c=104, **SOURCE)


def stage(**changes):
    given = {
        "name": "leaf growth",
        "days": Span(usual=30, fewest=20, most=40, **SOURCE),
        "prefers": Limits(low_c=15, high_c=18, **SOURCE),
        "tolerates": Limits(low_c=7, high_c=24, **SOURCE),
        "survives": Minimum(low_c=-2, **SOURCE),
    }
    return Stage(**(given | changes))


def plant(*stages):
    soil = Germination(minimum_c=5, optimum_low_c=10, optimum_high_c=25, maximum_c=30, **SOURCE)
    return Crop(
        name="test",
        botanical="Planta ficta",
        family="none",
        season="cool",
        germination=soil,
        stages=stages,
        band=Limits(low_c=7, high_c=24, **SOURCE),
    )


def test_days_count_from_the_stages():
    in_soil = stage(name="germination", place="soil", survives=Minimum(low_c=-9, **SOURCE))
    grown = plant(in_soil, stage(), stage(name="heads", survives=Minimum(low_c=0, **SOURCE)))
    assert (grown.days, grown.need_days, grown.killed_at_c) == (90, 60, -2)
    assert (plant(in_soil).need_days, plant(in_soil).killed_at_c) == (0, -9)


def test_stage_and_crop_check_themselves():
    with pytest.raises(ValueError, match=r"place must be one of soil, air; got 'pot'"):
        stage(place="pot")
    with pytest.raises(ValueError, match=r"limits must be ordered survives.low_c <= tolerates"):
        stage(prefers=Limits(low_c=15, high_c=30, **SOURCE))
    with pytest.raises(ValueError, match=r"Crop 'test' has no stages. Give at least one"):
        plant()
    with pytest.raises(ValueError, match=r"names a stage twice: leaf growth, leaf growth"):
        plant(stage(), stage())
