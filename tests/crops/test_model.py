"""The parts of a crop check themselves, and say what is allowed."""

from dataclasses import replace

import pytest

from climwin.crops.catalogue import crop
from climwin.crops.model import (
    Bloom,
    BudStage,
    Bulbing,
    Cardinal,
    Chilling,
    Cold,
    ColdBolting,
    Crop,
    Germination,
    Heat,
    Lifting,
    LongDayBolting,
    Maturity,
    Perennial,
    Setting,
    ShortDays,
    Sprouting,
    Stage,
    Vernalization,
    WeeksUnderCover,
    Winter,
)

SAID = {"source": "common practice"}


def test_cardinal_temperatures_rise():
    given = {"base_c": 3, "optimum_from_c": 18, "optimum_to_c": 24, "maximum_c": 34}
    assert Cardinal(**given, **SAID).temperatures == (3, 18, 24, 34)
    with pytest.raises(ValueError, match=r"must be ordered base_c < .*, got 20, 18, 24, 34"):
        Cardinal(**(given | {"base_c": 20}), **SAID)
    with pytest.raises(
        ValueError, match=r"maximum_c must lie between -60 and 50 .*got 93. Is it in"
    ):
        Cardinal(**(given | {"maximum_c": 93}), **SAID)
    # One optimum temperature is allowed, no room between optimum and maximum is not.
    assert Cardinal(**(given | {"optimum_to_c": 18}), **SAID).optimum_to_c == 18
    with pytest.raises(ValueError, match=r"optimum_to_c < maximum_c"):
        Cardinal(**(given | {"optimum_to_c": 34}), **SAID)


def test_days_to_harvest():
    given = {"early": 54, "main": 64, "late": 78, "counted_from": "sowing", "emergence_days": 9}
    assert Maturity(**given, **SAID).heat_sums is None
    with pytest.raises(ValueError, match=r"ordered 0 < early <= main <= late, got 70, 64, 78"):
        Maturity(**(given | {"early": 70}), **SAID)
    with pytest.raises(ValueError, match=r"emergence_days must lie between 0 and early, got 54"):
        Maturity(**(given | {"emergence_days": 54}), **SAID)
    with pytest.raises(ValueError, match=r"counted_from must be one of sowing, setting out; got"):
        Maturity(**(given | {"counted_from": "the moon"}), **SAID)
    with pytest.raises(ValueError, match=r"heat_sums is given without heat_source"):
        Maturity(**given, heat_sums=(600.0, 760.0, 950.0), **SAID)


def test_death_lies_below_damage():
    assert Cold(damaged_at_c=-2, killed_at_c=-2, **SAID).killed_at_c == -2
    with pytest.raises(
        ValueError, match=r"killed_at_c must not lie above damaged_at_c, got -1 and -2"
    ):
        Cold(damaged_at_c=-2, killed_at_c=-1, **SAID)
    with pytest.raises(ValueError, match=r"damaged_at_c must lie between .*Is it in degF"):
        Cold(damaged_at_c=99, killed_at_c=28, **SAID)


def test_heat_needs_a_beginning():
    with pytest.raises(ValueError, match=r"needs at least one of maximum_from_c, minimum_from_c"):
        Heat(**SAID)
    with pytest.raises(ValueError, match=r"minimum_fails_c must not lie below minimum_from_c"):
        Heat(minimum_from_c=21, minimum_fails_c=19, **SAID)
    with pytest.raises(ValueError, match=r"mean_fails_c needs mean_from_c, where"):
        Heat(maximum_from_c=25, mean_fails_c=24, **SAID)


def test_setting_needs_ranges_and_days():
    given = {"night_low_c": 10, "night_high_c": 23, "day_low_c": 18, "day_high_c": 34, "days": 10}
    with pytest.raises(
        ValueError, match=r"night_low_c below night_high_c .* got 25 and 23, 18 and 34"
    ):
        Setting(**(given | {"night_low_c": 25}), **SAID)
    with pytest.raises(ValueError, match=r"days must be more than 0, got 0"):
        Setting(**(given | {"days": 0}), **SAID)


@pytest.mark.parametrize(
    ("build", "told"),
    [
        (lambda: Chilling(mean_below_c=9, days=0, **SAID), r"days must be more than 0"),
        (lambda: Chilling(mean_below_c=90, days=5, **SAID), r"mean_below_c must lie between"),
        (
            lambda: ColdBolting(mean_below_c=10, days=9, from_share=2, **SAID),
            r"from_share must lie",
        ),
        (
            lambda: ColdBolting(mean_below_c=10, days=9, day_length_h=30, **SAID),
            r"day_length_h must lie between 0 and 24 hours, got 30",
        ),
        (
            lambda: LongDayBolting(day_length_h=0, mean_above_c=15, days=10, **SAID),
            r"day_length_h must lie between",
        ),
        (
            lambda: Vernalization(
                base_c=7,
                optimum_c=6.5,
                maximum_c=16,
                sum=336,
                from_share=0,
                day_length_h=13,
                **SAID,
            ),
            r"base_c < optimum_c < maximum_c, got 7, 6.5, 16",
        ),
        (
            lambda: Bulbing(short_day_h=14, intermediate_h=13, long_day_h=14, **SAID),
            r"short_day_h <= intermediate_h <= long_day_h, got 14, 13, 14",
        ),
        (lambda: ShortDays(day_length_h=25, stage="fruit", **SAID), r"day_length_h must lie"),
        (lambda: Lifting(days=0, **SAID), r"days must be more than 0, got 0"),
        (lambda: Winter(hardy_to_c=-12, cold_days=30, **SAID), r"cold_days is given without"),
        (lambda: Winter(hardy_to_c=-12, smaller_crop=2, **SAID), r"smaller_crop must lie between"),
        (
            lambda: BudStage(name="pink", share=0.7, tenth_killed_c=-4, most_killed_c=-2),
            r"'pink': most_killed_c must not lie above tenth_killed_c, got -2 and -4",
        ),
        (
            lambda: replace(crop("grape").perennial.bloom, ripening_source=""),
            r"heat_to_ripen is given without ripening_source",
        ),
        (
            lambda: replace(crop("grape").perennial.bloom, heat_to_ripen=0.0),
            r"heat_to_ripen must be more than 0, got 0",
        ),
        (
            lambda: WeeksUnderCover(usual=6, fewest=7, most=8, **SAID),
            r"0 < fewest <= usual <= most, got 7, 6, 8",
        ),
        (
            lambda: Germination(
                minimum_c=1, optimum_low_c=2, optimum_high_c=3, maximum_c=104, **SAID
            ),
            r"maximum_c must lie between",
        ),
        (
            lambda: Sprouting(
                base_c=5, heat_to_first_cut=0, harvest_days=50, cut_killed_at_c=-4, **SAID
            ),
            r"heat_to_first_cut must be more than 0",
        ),
    ],
)
def test_a_part_checks_itself(build, told):
    with pytest.raises(ValueError, match=told):
        build()


def bloom(*stages, **given):
    return Bloom(
        chill_units=1000,
        heat_to_bloom=6000,
        days_to_harvest=100,
        buds=stages,
        buds_source="common practice",
        **SAID,
        **given,
    )


PINK = BudStage(name="pink", share=0.7, tenth_killed_c=-2, most_killed_c=-4)
FULL = BudStage(name="full bloom", share=1, tenth_killed_c=-2, most_killed_c=-4)


def test_bud_stages_rise():
    assert bloom(PINK, FULL).buds[-1] is FULL
    with pytest.raises(ValueError, match=r"buds must have rising shares, got 1, 0.7"):
        bloom(FULL, PINK)
    with pytest.raises(ValueError, match=r"buds must have rising shares, got none"):
        bloom()


def test_chilling_and_flowering_of_a_bloom_check_themselves():
    assert bloom(FULL, least_chill_units=1000).least_chill_units == 1000
    with pytest.raises(ValueError, match=r"ordered least_chill_units <= chill_units"):
        bloom(FULL, least_chill_units=1001)
    with pytest.raises(ValueError, match=r"ordered low_chill_units <= chill_units"):
        bloom(FULL, low_chill_units=1001, low_chill_source="common practice")
    with pytest.raises(ValueError, match=r"low_chill_units must be more than 0, got 0"):
        bloom(FULL, low_chill_units=0, low_chill_source="common practice")
    with pytest.raises(ValueError, match=r"low_chill_units is given without low_chill_source"):
        bloom(FULL, low_chill_units=200)
    with pytest.raises(ValueError, match=r"flowering_days must be 0 or more days, got -1"):
        bloom(FULL, flowering_days=-1)
    with pytest.raises(ValueError, match=r"flowering_days is given without flowering_source"):
        bloom(FULL, flowering_days=24)


def test_perennial_blooms_or_sprouts():
    with pytest.raises(ValueError, match=r"needs either a bloom or a sprouting table"):
        Perennial(hardy_to_c=-29, hardy_source="common practice")


COLD = Cold(damaged_at_c=-2, killed_at_c=-4, **SAID)
LEAF, FRUIT = Stage(name="leaf growth", share=0.6, cold=COLD), {"share": 0.4, "harvested": True}
MATURITY = Maturity(early=50, main=60, late=70, counted_from="sowing", **SAID)


def plant(*stages, **changes):
    response = Cardinal(base_c=3, optimum_from_c=18, optimum_to_c=24, maximum_c=34, **SAID)
    given = {
        "name": "test",
        "botanical": "Planta ficta",
        "family": "none",
        "season": "cool",
        "propagation": "seed",
        "confidence": "thin",
        "response": response,
        "stages": stages,
        "maturity": MATURITY,
    }
    return Crop(**(given | changes))


def test_crop_checks_itself():
    fruit = Stage(name="fruit", cold=COLD, **FRUIT)
    assert not plant(LEAF, fruit).is_perennial
    assert not plant(LEAF, fruit).is_set_out
    with pytest.raises(ValueError, match=r"Crop 'test' has no stages. Give at least one"):
        plant()
    with pytest.raises(ValueError, match=r"names a stage twice: leaf growth, leaf growth"):
        plant(LEAF, Stage(name="leaf growth", cold=COLD, **FRUIT))
    with pytest.raises(ValueError, match=r"shares of its stages must add up to 1, got 0.6"):
        plant(LEAF)
    with pytest.raises(ValueError, match=r"mark the stage that is harvested"):
        plant(LEAF, Stage(name="fruit", share=0.4, cold=COLD))
    with pytest.raises(ValueError, match=r"season must be one of cool, warm; got 'wet'"):
        plant(LEAF, fruit, season="wet")
    with pytest.raises(ValueError, match=r"propagation must be one of seed, .*; got 'graft'"):
        plant(LEAF, fruit, propagation="graft")
    with pytest.raises(ValueError, match=r"confidence must be one of solid, fair, thin"):
        plant(LEAF, fruit, confidence="sure")
    with pytest.raises(ValueError, match=r"needs either a maturity or a perennial table"):
        plant(LEAF, fruit, maturity=None)
    with pytest.raises(ValueError, match=r"cut_from_share must be above 0 and at most 1, got 0"):
        plant(LEAF, fruit, cut_from_share=0)
    with pytest.raises(ValueError, match=r"hardens_by_c must be 0, or more than 0 with a harden"):
        plant(LEAF, fruit, hardens_by_c=3)
    with pytest.raises(ValueError, match=r"share must be above 0 and at most 1, got 1.5"):
        Stage(name="fruit", share=1.5, cold=COLD)


def test_short_days_name_a_later_stage():
    fruit = Stage(name="fruit", cold=COLD, **FRUIT)
    short = ShortDays(day_length_h=12.5, stage="fruit", **SAID)
    assert plant(LEAF, fruit, short_days=short).short_days is short
    with pytest.raises(
        ValueError, match=r"must be a stage after the first, one of fruit; got 'pods'"
    ):
        plant(LEAF, fruit, short_days=ShortDays(day_length_h=12.5, stage="pods", **SAID))


@pytest.mark.parametrize(
    ("latitude", "hours"), [(30, 12), (-30, 12), (35, 13), (-35, 13), (50, 14), (-50, 14)]
)
def test_onion_kinds_follow_latitude_on_both_halves_of_the_earth(latitude, hours):
    assert crop("onion").bulbing.day_length_at(latitude) == hours


def test_lists_count_from_setting_out_where_plants_are_raised():
    assert crop("tomato").is_set_out
    assert crop("cauliflower").is_set_out
    assert not crop("pea").is_set_out
    assert not crop("peach").is_set_out
