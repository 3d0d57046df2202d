"""What a crop is refused for: what was given, what is allowed, and what to do."""

import re
from dataclasses import replace
from pathlib import Path

import pytest
from refusing import refused

from climwin.core.errors import RecordError
from climwin.crops import bands, catalogue
from climwin.crops.catalogue import crop
from climwin.crops.model import (
    Bloom,
    BudStage,
    Chilling,
    Cold,
    ColdBolting,
    Germination,
    Heat,
    Limits,
    Maturity,
    Perennial,
    Setting,
    ShortDays,
    Stage,
    Winter,
)

SAID = {"source": "common practice"}
PEA, APPLE, RHUBARB = crop("pea"), crop("apple"), crop("rhubarb")
SOIL = {"minimum_c": 4, "optimum_low_c": 10, "optimum_high_c": 25, "maximum_c": 35}
BED = {"night_low_c": 10, "night_high_c": 23, "day_low_c": 18, "day_high_c": 34, "days": 10}
BLOOM = {"chill_units": 1000, "heat_to_bloom": 6000, "days_to_harvest": 100, "buds_source": "own"}
WRONG_WAY = "Are they the wrong way round?"


def buds(*shares):
    stages = (
        BudStage(name=f"{share}", share=share, tenth_killed_c=-2, most_killed_c=-4)
        for share in shares
    )
    return Bloom(**BLOOM, **SAID, buds=tuple(stages))


@pytest.mark.parametrize(
    ("build", "claims"),
    [
        (
            lambda: Cold(damaged_at_c=99, killed_at_c=28, **SAID),
            ("damaged_at_c must lie between -60 and 50 degC, got 99", "Is it in degF?"),
        ),
        (
            lambda: Cold(damaged_at_c=-2, killed_at_c=-1, **SAID),
            (
                "killed_at_c must not lie above damaged_at_c, got -1 and -2",
                "only one is known give it as both",
            ),
        ),
        (
            lambda: Chilling(mean_below_c=9, days=0, **SAID),
            ("days must be more than 0, got 0", "Leave it out, or give a larger one"),
        ),
        (
            lambda: ColdBolting(mean_below_c=10, days=9, from_share=2, **SAID),
            ("from_share must lie between 0 and 1, got 2", "Half is 0.5"),
        ),
        (
            lambda: ColdBolting(mean_below_c=10, days=9, day_length_h=30, **SAID),
            ("day_length_h must lie between 0 and 24 hours, got 30", "hours of daylight"),
        ),
        (
            lambda: Limits(low_c=9, high_c=4, **SAID),
            ("low_c must lie below high_c, got low_c=9 and high_c=4", WRONG_WAY),
        ),
        (
            lambda: Maturity(early=70, main=64, late=78, counted_from="sowing", **SAID),
            (
                "days must be ordered 0 < early <= main <= late, got 70, 64, 78",
                "Correct the one that is out of order",
            ),
        ),
        (
            lambda: Maturity(early=8, main=9, late=10, counted_from="sowing", **SAID),
            ("early must be 14 days or more, got 8", "Is it in weeks? Give days"),
        ),
        (
            lambda: Maturity(
                early=54, main=64, late=78, counted_from="sowing", emergence_days=60, **SAID
            ),
            ("emergence_days must lie between 0 and early, got 60", "the days until it shows"),
        ),
        (
            lambda: Heat(**SAID),
            (
                "heat needs at least one of maximum_from_c, minimum_from_c, mean_from_c, got none",
                "the mean above which the harvest shrinks",
            ),
        ),
        (
            lambda: Heat(maximum_from_c=25, mean_fails_c=24, **SAID),
            ("mean_fails_c needs mean_from_c, where the harvest begins to shrink",),
        ),
        (
            lambda: Heat(minimum_from_c=21, minimum_fails_c=19, **SAID),
            (
                "minimum_fails_c must not lie below minimum_from_c, got 19 and 21",
                "Leave it out if not known",
            ),
        ),
        (
            lambda: Setting(**(BED | {"night_low_c": 25}), **SAID),
            (
                "night_low_c below night_high_c and day_low_c below day_high_c",
                "got 25 and 23, 18 and 34",
                WRONG_WAY,
            ),
        ),
        (
            lambda: Stage(name="fruit", share=1.5, cold=PEA.stages[0].cold),
            ("Stage 'fruit': share must be above 0 and at most 1, got 1.5", "Half is 0.5"),
        ),
        (
            lambda: Winter(hardy_to_c=-12, cold_days=30, **SAID),
            (
                "cold_days is given without",
                "where it is published; 'common practice' and 'from memory' will do",
            ),
        ),
        (
            lambda: Germination(**SOIL, **SAID, days_at_c=((5, 20), (77, 5)), days_source="own"),
            ("days_at_c must have soil of 0 to", "degC, got 77", "Is it in degF?"),
        ),
        (
            lambda: Germination(**SOIL, **SAID, days_at_c=((15, 8), (5, 20)), days_source="own"),
            (
                "pairs of a rising soil temperature and days above 0, got [15, 8], [5, 20]",
                "Begin with the coldest soil",
            ),
        ),
        (
            lambda: Germination(**(SOIL | {"minimum_c": 12}), **SAID),
            (
                "soil temperatures must be ordered minimum_c <= optimum_low_c",
                "got 12, 10, 25, 35",
            ),
        ),
        (
            lambda: BudStage(name="pink", share=0.7, tenth_killed_c=-4, most_killed_c=-2),
            (
                "Buds at 'pink': most_killed_c must not lie above tenth_killed_c, got -2 and -4",
                WRONG_WAY,
            ),
        ),
        (
            lambda: buds(1, 0.7),
            ("buds must have rising shares, got 1, 0.7", "the stages in their order"),
        ),
        (
            lambda: replace(APPLE.perennial.bloom, flowering_days=-1),
            ("flowering_days must be 0 or more days, got -1",),
        ),
        (
            lambda: Perennial(hardy_to_c=-29, hardy_source="own"),
            (
                "either a bloom or a sprouting table, and not both; got neither",
                "Trees, vines and bushes bloom, herbs sprout",
            ),
        ),
        (
            lambda: replace(APPLE.perennial, sprouting=RHUBARB.perennial.sprouting),
            ("and not both; got both",),
        ),
        (
            lambda: replace(PEA, cut_from_share=0),
            ("cut_from_share must be above 0 and at most 1, got 0", "cut whole leave it out"),
        ),
        (
            lambda: replace(PEA, hardens_by_c=3.0, hardening_source=""),
            (
                "hardens_by_c must be 0, or more than 0 with a hardening_source",
                "got 3 without one",
                "Give degrees, and where they are published",
            ),
        ),
        (
            lambda: replace(PEA, hardens_by_c=-3.0, hardening_source="own"),
            ("got -3 from 'own'",),
        ),
        (
            lambda: replace(PEA, hardens_by_c=30.0, hardening_source="own"),
            (
                "hardens_by_c must be 20 degC or less, got 30",
                "a difference, and not a temperature",
            ),
        ),
        (
            lambda: replace(PEA, maturity=None),
            (
                "Crop 'pea' needs either a maturity or a perennial table",
                "and not both; got neither",
                "A perennial is what stands for years",
            ),
        ),
        (lambda: replace(PEA, perennial=APPLE.perennial), ("and not both; got both",)),
        (lambda: replace(PEA, stages=()), ("Crop 'pea' has no stages", "at least one")),
        (
            lambda: replace(PEA, stages=(PEA.stages[0], PEA.stages[0])),
            (
                f"names a stage twice: {PEA.stages[0].name}, {PEA.stages[0].name}",
                "Each needs its own name",
            ),
        ),
        (
            lambda: replace(PEA, stages=PEA.stages[-1:]),
            ("the shares of its stages must add up to 1, got 0.", "Change one of them"),
        ),
        (
            lambda: replace(PEA, stages=[replace(each, harvested=False) for each in PEA.stages]),
            ("mark the stage that is harvested with harvested=True, got none",),
        ),
        (
            lambda: replace(PEA, short_days=ShortDays(day_length_h=12.5, stage="bulb", **SAID)),
            (
                "Crop 'pea': stage of short_days must be a stage after the first, one of ",
                PEA.stages[1].name,
                "got 'bulb'",
            ),
        ),
        (
            lambda: catalogue.crop("brocoli"),
            ("no crop 'brocoli'", "Nearest: broccoli", "lists all"),
        ),
        (lambda: catalogue.crop("xyzzy"), ("no crop 'xyzzy'", "climwin.crop_names() lists all")),
    ],
)
def test_a_crop_that_cannot_be_says_what_would(build, claims):
    refused(build, *claims)


def test_the_soil_allowed_is_the_soil_that_is_read():
    def at(celsius):
        return Germination(**SOIL, **SAID, days_at_c=((celsius, 5),), days_source="own")

    hottest = int(re.search(r"soil of 0 to (\d+)", refused(lambda: at(99))).group(1))
    assert at(hottest).days_at_c == ((hottest, 5),)
    refused(lambda: at(hottest + 1), f"got {hottest + 1}")


def test_a_fixed_fault_passes():
    """What the refusals advise: half as 0.5, one temperature as both, a stage of its own name."""
    assert ColdBolting(mean_below_c=10, days=9, from_share=0.5, **SAID).from_share == 0.5
    assert Cold(damaged_at_c=-2, killed_at_c=-2, **SAID).killed_at_c == -2
    assert buds(0.7, 1).buds[0].share == 0.7
    assert replace(PEA, hardens_by_c=20.0, hardening_source="from memory").hardens_by_c == 20


def test_heat_that_ends_before_growth_begins_is_told_with_both_temperatures():
    heat = Heat(mean_from_c=4, mean_fails_c=5, **SAID)
    cool = replace(PEA, stages=tuple(replace(each, heat=heat) for each in PEA.stages))
    low = bands.bearable_band(PEA).low_c
    said = refused(
        lambda: bands.bearable_band(cool),
        "Crop 'pea': its heat limits end at a daily mean of ",
        " degC, below ",
        " degC, where it begins to grow well",
        "Check its heat and response tables",
    )
    ends, begins = (float(each) for each in re.findall(r"(-?[\d.]+) degC", said))
    assert 4 <= ends <= 5
    assert begins == pytest.approx(low, abs=0.05)


def test_an_own_crop_that_air_kills_above_freezing_has_lost_a_sign(tmp_path):
    text = (Path(catalogue.__file__).parent / "data" / "pea.toml").read_text("utf-8")
    path = tmp_path / "own.toml"
    for name in ("killed_at_c", "damaged_at_c"):
        text = text.replace(f"{name} = -", f"{name} = ")
    path.write_text(re.sub(r"damaged_at_c = \d+", "damaged_at_c = 20", text), "utf-8")
    refused(
        lambda: catalogue.read_crop(path),
        f"own.toml, stage '{PEA.stages[0].name}': killed_at_c must be below 3 degC, "
        f"got {-PEA.stages[0].cold.killed_at_c:g}",
        "Has it lost its minus sign, or is it in degF?",
        kind=RecordError,
    )
