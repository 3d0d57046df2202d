"""Sentences of the climate's figures, on results made up by hand."""

import re

import numpy as np
import pytest
import xarray as xr

import climwin as cw
from climwin.core.seasons import coldest_day, day_name
from climwin.report import sentences_climate as words
from climwin.report.tables import BLANK, in_words

NAN = np.nan


@pytest.mark.parametrize(
    ("value_c", "units", "said"),
    [
        (0.0, "C", "0 °C"),
        (0.0, "F", "32 °F"),
        (-2.2, "F", "28 °F"),  # whole degF are kept as rounded tenths of degC
        (4.4, "F", "40 °F"),
        (4.4, "C", "4.4 °C"),
        (1.0, "F", "33.8 °F"),
    ],
)
def test_limits_have_tenths_only_where_they_need_them(value_c, units, said):
    assert words.degrees(value_c, units) == said


@pytest.mark.parametrize(
    ("spring", "autumn", "said"),
    [
        (132.0, 275.0, "from 12 May on, and nine in ten none in autumn before 2 Oct"),
        (132.0, NAN, "from 12 May on"),
        (NAN, 275.0, "in autumn before 2 Oct"),
    ],
)
def test_odds_that_are_never_reached_are_not_told(spring, autumn, said):
    found = {"last_spring": ("odds", [spring]), "first_autumn": ("odds", [autumn])}
    odds = xr.Dataset(found, {"odds": [0.1]})
    assert words.freeze_dates_at(odds, 0.0, "C") == (
        f"Nine years in ten have no night of 0 °C or colder {said}"
    )


def test_nights_that_come_in_few_years_have_no_dates_of_one_year_in_ten():
    found = {name: ("odds", [NAN]) for name in ("last_spring", "first_autumn")}
    assert words.freeze_dates_at(xr.Dataset(found, {"odds": [0.1]}), 0.0, "C") == (
        "A night of 0 °C or colder comes in fewer than one year in ten"
    )


@pytest.mark.parametrize(
    ("extremes", "when"),
    [
        ((15, 196), "or later in spring: 2 %, likely in 2 to 5"),
        ((110, 300), "or later in spring: 2 %, likely in 2 to 5"),
        ((300, 110), "or earlier in autumn: 3 %, likely in 1 to 4"),
        ((196, 15), "or earlier in autumn: 3 %, likely in 1 to 4"),
    ],
    ids=["north", "the coldest day", "the warmest day", "south"],
)
def test_a_chance_on_a_day_is_of_its_own_half_of_the_year(extremes, when):
    """Even where a freeze is as rare in both, and the other half has the larger chance."""
    shares = {"last_spring": 0.02, "first_autumn": 0.03}
    ends = {"last_spring_next": (2, 5), "first_autumn_next": (1, 4)}
    ends = {
        f"{half}_{end}": n
        for half, both in ends.items()
        for end, n in zip(("low", "high"), both, strict=True)
    }
    chance = xr.Dataset({k: ("day_of_year", [v]) for k, v in (shares | ends).items()})
    told = words.chance_on(chance.assign_coords(day_of_year=[110]), 110, extremes)
    assert told == f"On 20 Apr {when} of the next ten years."


def _trend(slope, p):
    return xr.Dataset({"slope": slope, "p": p})


def test_trends_are_told_where_they_are_clear():
    found = words.freeze_trend(_trend(-2.14, 0.02), _trend(1.06, 0.09))
    assert found == (
        "Last spring freeze: 2.1 days a decade earlier; "
        "first autumn freeze: 1.1 days a decade later"
    )
    found = words.freeze_trend(_trend(-2.14, 0.1), _trend(NAN, NAN))
    assert found == (
        "Last spring freeze: no clear trend; first autumn freeze: too few years for a trend"
    )


def _usable(sure, possible):
    dims = ("year", "day_of_year")
    return xr.Dataset({"sure": (dims, sure), "possible": (dims, possible)})


def test_years_with_a_doubtful_day_are_not_counted():
    sure = np.array([[True, True, False], [True, False, False], [False, False, False]])
    possible = sure.copy()
    possible[2] = True
    found = words.days_at_a_glance(_usable(sure, possible), cw.crop("cauliflower"), "C")
    assert found.endswith("; the years range from 1 to 2")
    none = words.days_at_a_glance(_usable(sure, ~sure), cw.crop("cauliflower"), "C")
    assert none == "Days that suit cauliflower: every year has some that are not known"


def test_a_variable_without_days_has_no_range():
    empty = xr.DataArray(
        np.full((2, 3), NAN),
        {"day_of_year": [1, 2], "percentile": [25, 50, 75]},
        ("day_of_year", "percentile"),
        name="tmin",
        attrs={"units": "degC"},
    )
    assert words.usual_range(empty, "C") == "Daily minimum: too few days for the spread of a year"


def test_temperatures_about_freezing_have_no_negative_zero():
    days, shares = [1, 2], [25, 50, 75]
    about = xr.DataArray(
        [[-0.3, 0.0, 0.4], [-5.2, -4.0, -3.4]],
        {"day_of_year": days, "percentile": shares},
        ("day_of_year", "percentile"),
        name="tmin",
        attrs={"units": "degC"},
    )
    assert words.usual_range(about, "C") == (
        "Daily minimum: half of all days lie at 0 to 0 °C around 1 Jan, and at "
        "\N{MINUS SIGN}5 to \N{MINUS SIGN}3 °C around 2 Jan"
    )


def _soil(days, status):
    found = {"warm_soil_day": ("season", days), "warm_soil_status": ("season", status)}
    return xr.Dataset(found, attrs={"limit_c": 10.0})


@pytest.mark.parametrize(
    ("days", "status", "said"),
    [
        ([100, 110, 120], ["observed"] * 3, "by 20 Apr in half of 3 years, by 30 Apr in every one"),
        ([100, 110, NAN], ["observed"] * 2 + ["none"], "by 20 Apr in half of 3 years"),
        ([100, NAN, NAN], ["observed"] + ["none"] * 2, "in fewer than half of 3 years"),
        (
            [100, NAN, NAN],
            ["observed"] + ["unknown"] * 2,
            "by 10 Apr in half of 1 year, by 10 Apr in every one",
        ),
        ([NAN], ["unknown"], "at dates that gaps in the record hide"),
    ],
)
def test_years_without_warm_soil_count_and_unknown_ones_do_not(days, status, said):
    found = words.warm_soil(_soil(days, status), cw.crop("tomato"), 0.05, "C")
    assert found == f"Soil 5 cm down is warm enough for tomato (10 °C) {said}"


@pytest.mark.parametrize("name", ["potato", "pea", "tomato"])
@pytest.mark.parametrize("place", ["pellbrook_hill.csv", "pellbrook_valley.csv"])
def test_the_middle_year_is_that_of_the_table(place, name):
    daily = cw.read_daily(cw.sample(place))
    crop = cw.crop(name)
    soil = cw.soil_temperature(daily, 0.05, latitude=46.1)
    dates = cw.warm_soil_dates(soil, crop.germination.minimum_c, coldest_day(daily))
    table = in_words(cw.warm_soil_odds(dates), ["warm_soil_day"])
    middle = table.loc["5 in 10".replace(" ", BLANK), "Soil warm by"].replace(BLANK, " ")
    assert f"by {middle} in half of" in words.warm_soil(dates, crop, 0.05, "C")
    # Hazen's position of the middle is the plain median
    days = dates["warm_soil_day"].values
    status = dates["warm_soil_status"].values
    sample = np.where(status == "none", np.inf, days)[status != "unknown"]
    assert middle == day_name(float(np.median(sample)))


def test_heat_of_a_season_is_told_between_its_quartiles():
    sums = xr.DataArray(
        [[10.0, 20, 30], [100, 200, 300]],
        {"day_of_year": [1, 2], "percentile": [25, 50, 75]},
        ("day_of_year", "percentile"),
    )
    assert words.heat(sums, 10.0, None, "F") == (
        "Half of all seasons gather 180 to 540 degree-days above 50 °F"
    )


# --- heat to a need, scenarios, looking back ----------------------------------------------


def sums_of(*ends):
    """Heat that grows evenly over 100 days to an end at each of the percentiles 10, 50."""
    day = np.arange(100)
    values = [end * (day + 1) / 100 for end in ends]
    coords = {"percentile": [10, 50], "day_of_year": 91 + day}
    return xr.DataArray(np.transpose(values), coords=coords, dims=("day_of_year", "percentile"))


def test_a_need_of_heat_is_reached_in_half_and_in_nine_of_ten_seasons():
    """The middle season has 10 degC day a day, so 500 on its 50th; the tenth 8, on its 63rd."""
    text = words.heat(sums_of(800.0, 1000.0), 5.0, 500.0, "C")
    need, reached = text.split(" are reached by ")
    assert need.startswith("500")
    assert "5 °C" in need
    half, nine = reached.split(",")
    assert day_name(91 + 49) in half
    assert "half of all seasons" in half
    assert day_name(91 + 62) in nine
    assert "nine of ten" in nine
    late = words.heat(sums_of(400.0, 1000.0), 5.0, 500.0, "C")
    assert "half of all seasons" in late
    assert "nine" not in late
    assert "not reached in half" in words.heat(sums_of(300.0, 400.0), 5.0, 500.0, "C")


@pytest.mark.parametrize(("skill", "way", "other"), [(3.3, "less", "more"), (-2.1, "more", "less")])
def test_a_look_back_says_how_much_was_missed_and_how_often_ranges_held(skill, way, other):
    kinds, rules = ["all", "heat"], ["count", "record", "today"]
    of_rule = np.array([[0.0, 1.0, skill], [0.0, 7.0, 13.4]])
    by, low, high = ((("kind", "rule"), of_rule + off) for off in (0.0, -2.0, 3.0))
    held = (("kind", "rule"), [[0.57, 0.9, 0.94], [0.5, 0.88, 0.91]])
    found = xr.Dataset(
        {"skill": by, "skill_low": low, "skill_high": high, "held": held},
        coords={"kind": kinds, "rule": rules, "year": [1981, 1990, 2004]},
    )
    text = words.hindcast_finding(found)
    assert text.startswith("Asked from 1981 to 2004, odds for the climate of the day would have ")
    assert f"would have missed by {abs(skill):.0f} % {way} than a plain count" in text
    assert f" {other} than" not in text
    assert "than a plain count of 30 years; 94 % of their ranges for the next ten" in text
    head = words.hindcast_lines(found)[1]  # the greater the skill, the less was missed
    assert "how much less the odds would have missed by than that count (below 0: more)" in head
    assert "how often their ranges held" in head
    heat = next(line for line in words.hindcast_lines(found) if line.strip().startswith("heat"))
    record, today = heat.split("; ")
    assert record == "  heat sums: years as they were +7 % (+5 to +10), ranges held 88 %"
    assert today == "years moved to the climate of the day +13 % (+11 to +16), ranges held 91 %"


def test_a_scenario_is_set_against_what_was():
    was, would = (xr.Dataset({"shorter": n, "known": 39}) for n in (25, 31))
    text = words.what_if(was, would, 68)
    assert re.search(r"shorter than 68 days in 31 of 39 years; it was in 25 of 39", text)


def test_dry_spells_are_counted_and_shared():
    attrs = {"first_day": 121, "last_day": 181, "days": 14}
    odds = xr.Dataset({"dry": 12, "known": 40, "share": 0.3}, attrs=attrs)
    text = words.dry_spells(odds)
    assert text.startswith("14 dry days or more in a row between 1 May and 30 Jun")
    assert "in 12 of 40 years (30 %)" in text


def test_hot_hours_are_those_of_the_hottest_time():
    day = np.arange(1, 366)
    shape = np.clip(np.cos(2 * np.pi * (day - 200) / 365), 0, None)
    values = np.outer(shape, [2.0, 4.0, 6.0])
    coords = {"day_of_year": day, "percentile": [25, 50, 75]}
    hours = xr.DataArray(values, coords=coords, dims=("day_of_year", "percentile"))
    text = words.hot_hours(hours, 30.0, "C")
    assert "19 Jul" in text
    assert text.endswith(
        "a typical day has 4 hours at 30 °C or warmer; one day in four has 6 or more"
    )
    rarer = words.hot_hours((hours - 4.0).clip(0), 30.0, "C")
    assert rarer.endswith(
        "most days have no hour at 30 °C or warmer; one day in four has 2 or more"
    )
    assert "three days of four there are none" in words.hot_hours(0 * hours, 30.0, "C")


def test_what_was_looked_back_at_is_named_by_its_own_rules():
    names = words.KIND_NAMES
    assert words.RULE_NAMES["today"] == "moved to the climate of the day"  # when it was asked
    assert names["spring freeze"].split()[0] == "last"
    assert names["autumn freeze"].split()[0] == "first"
    for kind, name in names.items():
        if kind not in ("spring freeze", "autumn freeze", "freeze-free days", "window"):
            assert kind.split()[0] in name
    assert "mild" in names["window"]
    assert "between" in names["freeze-free days"]
    assert "30 years" in words.RULE_NAMES["count"]
    assert words.RULE_NAMES["record"].startswith("all years")


@pytest.mark.parametrize(
    ("name", "said"),
    [("tmin", "minimum"), ("tmax", "maximum"), ("tmean", "mean"), ("precip", "precipitation")],
)
def test_a_spread_is_that_of_the_variable_it_names(name, said):
    values = xr.DataArray(
        [[1.0, 2.0, 3.0], [4.0, 5.0, 6.0]],
        {"day_of_year": [1, 2], "percentile": [25, 50, 75]},
        ("day_of_year", "percentile"),
        name=name,
        attrs={"units": "mm" if name == "precip" else "degC"},
    )
    assert words.usual_range(values, "C").startswith(f"Daily {said}: ")
