"""Limits that can only be in degF, and fractions for percentages, are refused."""

import re

import pytest
from records import weather

import climwin as cw
from climwin.core.measures import check_most_celsius

DAILY = weather(7, years=12).assign_attrs(latitude=46.1)
LOW, HIGH = DAILY["tmin"], DAILY["tmax"]
FRAME, PEA = cw.COVERS["cold frame"], cw.crop("pea")
SLIPS = {
    "base 50": (
        lambda: cw.degree_days(LOW, HIGH, 50),
        "25 at most, got 50. If that is in degF, give 10.",
    ),
    "upper 86": (lambda: cw.degree_days(LOW, HIGH, 10, upper=86), "give 30."),
    "hours below 70": (lambda: cw.hours_within(LOW, HIGH, 46.1, low=7, high=70), "give 21.1."),
    "soil of 45": (lambda: cw.warm_soil_dates(cw.soil_temperature(DAILY), 45, 20), "give 7.2."),
    "season's base": (lambda: cw.season_so_far(DAILY, base=50), "give 10."),
    "season's freezes": (lambda: cw.season_so_far(DAILY, threshold=[32, 28]), "give 0."),
    "a hot space": (
        lambda: cw.space_odds(DAILY, FRAME, PEA, "03-01", "04-01", hot_c=86),
        "give 30.",
    ),
    "fractions": (lambda: cw.day_bands(LOW, (0.1, 0.5, 0.9)), "Did you mean 10, 50, 90?"),
    "a year for years": (
        lambda: cw.hindcast(weather(3, years=42), first_years=1990),
        "known ones, got 1990.",
    ),
    "a cover's name": (
        lambda: cw.under_cover(DAILY, "cold frame"),
        "climwin.COVERS['cold frame'], got 'cold frame'",
    ),
}


@pytest.mark.parametrize("slip", SLIPS)
def test_a_slip_is_refused_with_what_to_give(slip):
    call, told = SLIPS[slip]
    with pytest.raises(ValueError, match=re.escape(told)):
        call()


@pytest.mark.parametrize("value", [-40.0, 0.0, 25.0])
def test_a_temperature_up_to_the_most_is_taken(value):
    check_most_celsius("base", value, 25.0)


@pytest.mark.parametrize("value", [25.1, float("nan")])
def test_any_other_is_not(value):
    with pytest.raises(ValueError, match="base is a temperature in degC, 25 at most"):
        check_most_celsius("base", value, 25.0)


def test_soil_is_looked_at_from_a_date_as_from_its_number():
    soil = cw.soil_temperature(DAILY)
    assert cw.warm_soil_dates(soil, 8, "02-01").equals(cw.warm_soil_dates(soil, 8, 32))
