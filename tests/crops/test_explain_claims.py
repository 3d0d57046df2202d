"""Each sentence on a crop against the crop's own numbers: which limit, which way, of what."""

import re
from functools import cache

import pytest

from climwin.crops import explain
from climwin.crops.catalogue import crop, crop_names
from climwin.crops.explain import explain_crop
from climwin.crops.model import (
    CHILL_BELOW_C,
    COLD_NEED_RANGE_C,
    DAYS_TO_SPROUT_AGAIN,
    LOST_WITH_SHOOTS,
    RIPENING_BASE_C,
)

ALL = [crop(name) for name in crop_names()]
MINUS = "\N{MINUS SIGN}"


def every_crop(check):
    """One test of all crops of the catalogue; what fails names the crop."""

    def test():
        for plant in ALL:
            try:
                check(plant)
            except AssertionError as error:
                error.add_note(f"of {plant.name}")
                raise

    return test


@cache
def told_of(plant_name):
    """Paragraphs of a crop by their heading, without the numbers of sources."""
    text, _, _ = explain_crop(plant_name).partition("\n\nSources")
    text = re.sub(r" \[\d+\]", "", text)
    paragraphs = [each.split(". ", 1) for each in text.split("\n\n")[1:]]
    return {heading: f" {told}" for heading, told in paragraphs}


def number(text):
    return float(text.replace(MINUS, "-").replace(",", ""))


def degrees(pattern, text):
    """Numbers where a pattern has `#`; the pattern has to be there once."""
    found = re.findall(pattern.replace("#", rf"({MINUS}?\d[\d,]*(?:\.\d)?)"), text)
    assert len(found) == 1, (pattern, text)
    return [number(each) for each in (found[0] if isinstance(found[0], tuple) else found)]


def rounded(*values):
    """As whole degrees Celsius or with one decimal."""
    return [pytest.approx(value, abs=0.051) for value in values]


@every_crop
def test_a_source_stands_behind_what_it_is_of_and_is_listed(plant):
    text, _, sources = explain_crop(plant.name).partition("\n\nSources")
    assert re.findall(r"\[\d+\](?![.;,)])", text) == []
    cited = {int(each) for each in re.findall(r"\[(\d+)\]", text)}
    assert cited == {int(each) for each in re.findall(r"(?m)^ *\[(\d+)\]", sources)} != set()


@every_crop
def test_a_crop_is_of_its_season_and_of_its_family(plant):
    first = explain_crop(plant.name).partition("\n")[0]
    assert f": a {plant.season}-season crop of the {plant.family}" in first


# --- how it begins ------------------------------------------------------------------------


@every_crop
def test_what_is_sown_is_not_planted_and_what_is_raised_is_set_out(plant):
    begins = told_of(plant.name)["Start"].split(".")[0]
    is_sown, is_raised = plant.propagation.startswith("seed"), "plants" in plant.propagation
    assert ("sown where it grows" in begins) is is_sown
    assert ("raised" in begins and "set out" in begins) is is_raised
    planted = plant.propagation in ("tubers", "cloves", "sets", "slips", "roots")
    assert (f"planted as {plant.propagation}" in begins) is planted
    assert ("stands for years" in begins) is (plant.perennial is not None)


@every_crop
def test_weeks_under_cover_go_from_the_fewest_to_the_most(plant):
    text, weeks = told_of(plant.name)["Start"], plant.weeks_under_cover
    assert ("weeks under cover" in text) is (weeks is not None)
    if weeks is not None and weeks.fewest < weeks.most:
        assert degrees("spend # to # weeks under cover", text) == [weeks.fewest, weeks.most]


def test_the_fewer_the_sources_the_less_is_promised():
    solid, fair, thin = (explain.CONFIDENCE[name] for name in ("solid", "fair", "thin"))
    assert "Several published sources agree" in solid
    assert "rest on few published sources" in fair
    assert "rest on one source" in thin
    assert "take them as a first guess" in thin
    assert len(set(explain.STARTS.values())) == len(explain.STARTS)
    assert explain.STARTS["seed or plants"].endswith("sown where it grows, or raised and set out.")
    assert (
        explain.STARTS["plants"] == "It is raised under cover, or bought, and set out as a plant."
    )


# --- warmth -------------------------------------------------------------------------------


@every_crop
def test_growth_begins_below_its_fastest_and_stops_above(plant):
    response, text = plant.response, told_of(plant.name)["Temperature"]
    told = degrees("grows above # °C, at its fastest from # to # °C, and stops at # °C", text)
    assert told == rounded(
        *(response.base_c, response.optimum_from_c, response.optimum_to_c, response.maximum_c)
    )
    assert told == sorted(told)


@every_crop
def test_bearable_days_reach_beyond_comfortable_ones(plant):
    low, high, least, most = degrees(
        "Days with a mean of # to # °C are comfortable, those of # to # °C bearable",
        told_of(plant.name)["Temperature"],
    )
    assert least <= low < high <= most


@every_crop
def test_seed_comes_up_in_a_wider_range_than_it_does_best_in(plant):
    germination = plant.germination
    if germination is None:
        return
    text = told_of(plant.name)["Soil"]
    told = degrees("in soil of # to # °C, best at # to # °C", text)
    assert told == rounded(
        *(germination.minimum_c, germination.maximum_c),
        *(germination.optimum_low_c, germination.optimum_high_c),
    )
    assert ("Cut tubers rot" in text) is (plant.name == "potato")
    if plant.name == "potato":
        said = "rot where the soil of their first # days averages less than # °C"
        rotten = degrees(said, text)
        assert rotten == [14, *rounded(germination.minimum_c)]
    vegetative = plant.propagation in ("tubers", "cloves", "sets", "slips", "roots")
    assert text.startswith(f" {'It' if vegetative else 'Its seed'} comes up in soil of ")
    assert ("seed comes up" in text) is not vegetative
    for soil, days in germination.days_at_c:
        assert re.search(rf"{days:g} days at {soil:g} °C", text.replace(MINUS, "-"))


# --- time ---------------------------------------------------------------------------------


@every_crop
def test_early_varieties_are_quicker_than_late_ones_and_count_from_their_start(plant):
    maturity = plant.maturity
    if maturity is None:
        return
    text = told_of(plant.name)["Time"]
    early, main, late = degrees("take about #, # and # days from", text)
    assert (early, main, late) == (maturity.early, maturity.main, maturity.late)
    assert early < main < late
    assert text.index("Early") < text.index("main") < text.index("late")
    start = re.search(r"days from ([a-z ]+) to the first harvest", text)[1]
    if maturity.counted_from == "setting out":
        assert start == "setting out"
    else:
        assert start == ("sowing" if plant.propagation.startswith("seed") else "planting")
    assert "cool weather makes them slower, warm weather faster" in text
    assert ("counts their heat above" in text) is (maturity.heat_sums is not None)
    if maturity.heat_sums is not None:
        told = degrees("The model counts their heat above # °C: #, # and # degree-days", text)
        assert told == [
            *rounded(plant.response.base_c),
            *(pytest.approx(each, abs=0.5) for each in maturity.heat_sums),
        ]


# --- what kills it ------------------------------------------------------------------------


@every_crop
def test_each_stage_is_harmed_before_it_is_killed(plant):
    if plant.perennial is not None:
        return
    text = told_of(plant.name)["Cold"]
    sentences = re.findall(r" ([A-Z][^:.]*): a night of ([^.]*?(?:\.\d[^.]*?)*) kills", text)
    by_stage = {}
    for names, limits in sentences:
        of_these = [number(each) for each in re.findall(rf"({MINUS}?\d+(?:\.\d)?) °C", limits)]
        if len(of_these) == 2:
            assert "does harm" in limits.split(",")[0]
        for stage in plant.stages:
            if re.search(rf"\b{re.escape(stage.name)}\b", names, re.IGNORECASE):
                by_stage.setdefault(stage.name, of_these)
    for stage in plant.stages:
        harmed, killed = stage.cold.damaged_at_c, stage.cold.killed_at_c
        expected = [killed] if harmed - killed < 0.06 else [harmed, killed]
        assert by_stage[stage.name] == rounded(*expected)
    takes_part = any(each.cold.damaged_at_c - each.cold.killed_at_c > 0.06 for each in plant.stages)
    between = "A night between the two takes part of the harvest"
    assert (between in text) is takes_part
    if takes_part:
        rest = text.split(between)[1]
        assert rest.index("more where it freezes what is harvested") < rest.index("than where")
        assert "leaves, which grow again" in rest


@every_crop
def test_heat_that_shrinks_a_harvest_is_less_than_heat_that_takes_it(plant):
    text = told_of(plant.name).get("Heat", "")
    for stage in plant.stages:
        if stage.heat is None:
            continue
        [told] = re.findall(rf"{stage.name.capitalize()}: (the harvest.*?)(?=\. [A-Z]|\.$)", text)
        shrinks, _, lost = told.partition("is lost when")
        assert "shrinks when" in shrinks
        heat = stage.heat
        for kind, first, last in (
            ("afternoons", heat.maximum_from_c, heat.maximum_fails_c),
            (r"\bnights", heat.minimum_from_c, heat.minimum_fails_c),
            ("whole days", heat.mean_from_c, heat.mean_fails_c),
        ):
            for part, limit in ((shrinks, first), (lost, last)):
                found = re.findall(rf"{kind} average more than (\d+(?:\.\d)?) °C", part)
                assert [float(each) for each in found] == ([] if limit is None else rounded(limit))
        both = heat.maximum_fails_c is not None and heat.minimum_fails_c is not None
        assert ("cooler nights make up for hotter afternoons" in told) is both
        joined = re.findall(r"°C (and|or) (?:nights|whole days)", told)
        assert set(joined) <= ({"and"} if both else {"or"})


@every_crop
def test_cold_that_hardens_and_cold_that_stops_are_told_apart(plant):
    text = told_of(plant.name).get("Cold", "")
    assert ("harden it by up to" in text) is (plant.hardens_by_c > 0)
    if plant.hardens_by_c > 0:
        assert degrees("Two weeks of cold weather harden it by up to # °C", text) == rounded(
            plant.hardens_by_c
        )
    assert ("come up again" in text) is plant.sprouts_again
    if plant.sprouts_again:
        again = (
            "Shoots that freeze in spring come up again about # days later, and each time # % of"
        )
        assert degrees(f"{again} the crop is lost", text) == rounded(
            DAYS_TO_SPROUT_AGAIN, 100 * LOST_WITH_SHOOTS
        )
    assert ("flowers again after a frost" in text) is plant.flowers_again
    chilling = plant.chilling
    assert ("without any frost" in text) is (chilling is not None)
    if chilling is not None:
        told = degrees(
            "In its first # days, # days in a row with a mean below # °C stop it for good", text
        )
        assert told == rounded(chilling.first_days, chilling.days, chilling.mean_below_c)


@every_crop
def test_fruit_sets_in_nights_and_afternoons_of_its_own(plant):
    rules = [stage.setting for stage in plant.stages if stage.setting is not None]
    text = told_of(plant.name).get("Fruit set", "")
    assert bool(text) is bool(rules)
    for rule in rules:
        told = degrees("needs # days with nights of # to # °C and afternoons of # to # °C", text)
        assert told == rounded(
            rule.days, rule.night_low_c, rule.night_high_c, rule.day_low_c, rule.day_high_c
        )
        assert "the crop is only later" in text


# --- bolting and days ---------------------------------------------------------------------


@every_crop
def test_what_makes_it_bolt_is_cold_or_long_days_as_its_rules_have_it(plant):
    text = told_of(plant.name).get("Bolting", "")
    cold, long = plant.cold_bolting, plant.long_day_bolting
    assert ("make it run to flower" in text) is (cold is not None or long is not None)
    assert ("long cold makes it run to flower" in text) is (plant.vernalization is not None)
    if cold is not None:
        assert degrees("# days with a mean below # °C", text) == rounded(
            cold.days, cold.mean_below_c
        )
        assert ("among its first" in text) is (cold.within_days is not None)
        at_any = cold.within_days is None and cold.from_share == 0
        assert ("at any age" in text) is at_any
        once = cold.within_days is None and cold.from_share > 0
        assert ("days with a mean below" in text and "°C once it has grown" in text) is once
        if cold.day_length_h is not None:
            hours = degrees(
                "°C[a-z ]*(?: among its first \\d+)?, with days of # hours after them, make", text
            )
            assert hours == [cold.day_length_h]
        assert ("after them" in text) is (cold.day_length_h is not None)
        assert "or warmer do not count" in text
    if plant.vernalization is not None:
        vernal = plant.vernalization
        told = degrees("in days of # hours; # °C does most, and # °C nothing", text)
        assert told == rounded(vernal.day_length_h, vernal.optimum_c, vernal.maximum_c)
    if long is not None:
        assert degrees("# days that last longer than # hours", text) == rounded(
            long.days, long.day_length_h
        )
        assert ("are warmer than" in text) is (long.mean_above_c > 0)


@every_crop
def test_bulbs_want_long_days_and_tubers_of_short_days_short_ones(plant):
    text = told_of(plant.name).get("Day length", "")
    bulbing, short = plant.bulbing, plant.short_days
    assert ("Bulbs swell in days of at least" in text) is (bulbing is not None)
    if bulbing is not None:
        hours = [bulbing.short_day_h, bulbing.intermediate_h, bulbing.long_day_h]
        assert hours == sorted(hours)
        if hours[0] < hours[2]:
            pattern = r"# hours \(short-day kinds\), # \(intermediate\) or # \(long-day\)"
            assert degrees(pattern, text) == rounded(*hours)
        assert "; those too small to lift when days are shorter again stay thick-necked" in text
        assert ("even if they have few leaves" in text) is (bulbing.too_long_h is not None)
        assert ("planted late stay small" in text) is (bulbing.too_long_h is not None)
    if short is not None:
        assert degrees("only once days are shorter than # hours", text) == rounded(
            short.day_length_h
        )


# --- winter, spring, harvest --------------------------------------------------------------


@every_crop
def test_winter_kills_what_stands_above_the_soil(plant):
    text, winter, perennial = told_of(plant.name).get("Winter", ""), plant.winter, plant.perennial
    assert bool(text) is (winter is not None or perennial is not None)
    if winter is not None:
        below = "Under soil, mulch or snow it lives through # °C"
        above = "Hardened by cold weather it dies at about # °C"
        pattern = below if winter.below_ground else above
        sown_root = winter.below_ground and plant.propagation == "seed"
        assert ("does not kill it once its roots are made." in text) is sown_root
        assert degrees(pattern, text) == rounded(winter.hardy_to_c)
        assert ("air alone does not kill it" in text) is winter.below_ground
        if winter.cold_days is not None:
            needed = "It needs the hours of # days at # to # °C; with fewer the crop is about"
            assert degrees(needed, text) == [winter.cold_days, *rounded(*COLD_NEED_RANGE_C)]
            assert degrees("with fewer the crop is about # % of a full one", text) == [
                pytest.approx(100 * winter.smaller_crop, abs=0.5)
            ]
        assert ("Planted so early" in text) is (winter.most_heat_before is not None)
        assert ("Planted so late" in text) is (winter.least_root_heat is not None)
        if winter.most_heat_before is not None:
            early, late = text.split("Planted so late")
            assert "more than" in early.split("Planted so early")[1]
            assert "too far on for winter" in early
            assert "less than" in late
            assert "no roots" in late
    if perennial is None:
        return
    if perennial.crown_below_ground:
        assert degrees("crown lives to # °C under soil", text) == rounded(perennial.hardy_to_c)
    elif perennial.buds_hardy_to_c is None:
        assert degrees("Winter kills it at # °C", text) == rounded(perennial.hardy_to_c)
    else:
        told = degrees("kills its flower buds at # °C, and the plant at # °C", text)
        assert told == rounded(perennial.buds_hardy_to_c, perennial.hardy_to_c)


@every_crop
def test_spring_of_what_stands_for_years_comes_from_its_chill_and_its_heat(plant):
    perennial, text = plant.perennial, told_of(plant.name).get("Spring", "")
    assert bool(text) is (perennial is not None)
    if perennial is None:
        return
    bloom, sprouting = perennial.bloom, perennial.sprouting
    if bloom is not None:
        told = degrees(
            "rest ends after about # chill units, and it blooms after # growing degree hours more; "
            "the first fruit is ripe # days later",
            text,
        )
        assert told == rounded(bloom.chill_units, bloom.heat_to_bloom, bloom.days_to_harvest)
        assert text.index("a tenth of the buds") < text.index("nine tenths")
        for stage in bloom.buds:
            few, most = degrees(rf"{stage.name} # °C and # °C", text)
            assert (few, most) == tuple(rounded(stage.tenth_killed_c, stage.most_killed_c))
            assert few >= most  # it takes a colder night to kill more
        least = bloom.least_chill_units
        assert ("it still blooms, but later" in text) is (least is not None)
        assert ("Without any it still blooms" in text) is (least == 0)
        if least:
            assert degrees("With # or more it still blooms", text) == rounded(least)
        low = bloom.low_chill_units
        assert ("takes a kind that needs no more" in text) is (low is not None)
        if low is not None:
            assert degrees("than they bring, down to # units", text) == rounded(low)
        assert ("flowers open over" in text) is (bloom.flowering_days > 0)
        if bloom.flowering_days:
            some = "Its flowers open over about # days, so that a frost takes some of them"
            assert degrees(some, text) == rounded(bloom.flowering_days)
    else:
        where = "soil at 20 cm" if sprouting.in_soil else "air"
        assert degrees(rf"wakes when the {where} is above # °C", text) == rounded(sprouting.base_c)
        told = degrees("first cut # degree-days later, and then for about # days", text)
        assert told == rounded(sprouting.heat_to_first_cut, sprouting.harvest_days)
        assert degrees("A night of # °C spoils what is up; it grows again", text) == rounded(
            sprouting.cut_killed_at_c
        )
        assert ("winter days with a mean below" in text) is bool(sprouting.chill_days)
        if sprouting.chill_days:
            told = degrees("It needs # winter days with a mean below # °C", text)
            assert told == rounded(sprouting.chill_days, CHILL_BELOW_C)


@every_crop
def test_fruit_is_not_ripe_before_the_year_has_brought_its_heat(plant):
    if plant.perennial is None or plant.perennial.bloom is None:
        return
    heat, text = plant.perennial.bloom.heat_to_ripen, told_of(plant.name)["Spring"]
    ripe = "It is not ripe before the year has brought"
    assert (ripe in text) is (heat is not None)
    if heat is not None:
        told = degrees(f"{ripe} # degree-days above # °C", text)
        assert told == [pytest.approx(heat, abs=0.5), *rounded(RIPENING_BASE_C)]


@every_crop
def test_what_is_cut_small_or_picked_for_long_is_said_to_be(plant):
    text = told_of(plant.name).get("Harvest", "")
    small = "It can be harvested small, before heat or frost ends it, once"
    assert (small in text) is (plant.cut_from_share < 1)
    if plant.cut_from_share < 1:
        assert degrees("once it has had # % of the heat of its last stage", text) == [
            pytest.approx(100 * plant.cut_from_share, abs=0.5)
        ]
    assert ("lifted at any size once growth stops in autumn" in text) is (plant.lifting is not None)
    if plant.lifting is not None:
        assert degrees("from # days after the start", text) == rounded(plant.lifting.days)
    picked = "It is picked for weeks, until it has had"
    assert (picked in text) is (plant.picking_share > 0)
    if plant.picking_share > 0:
        assert degrees("# % more heat than at its first harvest", text) == [
            pytest.approx(100 * plant.picking_share, abs=0.5)
        ]


# --- sources and rules of all crops -------------------------------------------------------


def test_the_fahrenheit_of_the_sources_is_that_of_the_scale():
    text = explain.explain_crop("cauliflower", "F")
    factor, offset = re.search(r"in °C; ([\d.]+) times that plus (\d+) is °F", text).groups()
    for celsius, fahrenheit in ((0.0, 32.0), (100.0, 212.0)):
        assert float(factor) * celsius + float(offset) == fahrenheit
    assert "Sources (in °C)." in explain.explain_crop("cauliflower", "C")


def test_a_rule_of_winter_growers_is_of_so_many_hours_as_its_source_says():
    assert "the ten-hour rule of winter growers" in explain.LEAST_DAY_SOURCE
    assert "The Winter Harvest Handbook, 2009 (from memory)" in explain.LEAST_DAY_SOURCE
    text = told_of("spinach")["Time"]
    assert degrees("Outdoors it stands still in days of less than # hours", text) == [10]
    days = degrees(r"potatoes \(# to # days\)", explain.SPROUTING_AGAIN_SOURCE)
    potato = crop("potato")
    assert potato.sprouts_again
    assert days == [10, 14]


@every_crop
def test_early_stands_before_main_and_late_and_short_days_before_long_ones(plant):
    text = told_of(plant.name)
    if plant.maturity is not None:
        assert "Early, main and late varieties take about" in text["Time"]
    if plant.bulbing is not None and plant.bulbing.too_long_h is not None:
        days = " ".join(text.values())
        told = degrees("Short-day kinds bulb in days of # hours even if they have few leaves", days)
        assert told == [plant.bulbing.too_long_h]
        assert "those planted late stay small" in days


@every_crop
def test_a_kind_for_mild_winters_needs_no_more_than_nine_winters_in_ten_bring(plant):
    perennial = plant.perennial
    if perennial is None or perennial.bloom is None:
        return
    text = " ".join(told_of(plant.name).values())
    low = perennial.bloom.low_chill_units
    assert ("nine winters in ten bring less" in text) is (low is not None)
    if low is not None:
        said = "takes a kind that needs no more than they bring, down to # units"
        assert degrees(f"Where nine winters in ten bring less, the model {said}", text) == [low]
        assert low < perennial.bloom.chill_units


def test_what_is_planted_too_early_or_too_late_goes_wrong_in_opposite_ways():
    garlic = crop("garlic")
    assert garlic.winter.most_heat_before is not None
    assert garlic.winter.least_root_heat is not None
    text = told_of("garlic")["Winter"]
    early, late = text.split("Planted so early")[1].split("Planted so late")
    assert "has had more than" in early
    assert "by the coldest time of the year, it is too far on for winter" in early
    assert "gives it less than" in late
    assert "it has no roots, and dies where the soil freezes" in late


@every_crop
def test_a_family_is_named_once_and_a_rule_before_its_source(plant):
    text = explain.explain_crop(plant.name)
    assert re.search(rf"\b{re.escape(plant.family.removesuffix(' family'))} family\b", text)
    assert "family family" not in text
    if plant.maturity is not None:
        assert re.search(r"still in days of less than 10 hours \[\d+\]\.", text)
