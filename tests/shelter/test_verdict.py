"""The verdict on a covered space, against a plain loop over the years."""

from dataclasses import replace
from math import erf, sqrt

import numpy as np
import pytest
import records

import climwin as cw
from climwin.core.schema import TOLERANCE_C
from climwin.report.sentences_space import verdict
from climwin.shelter.covers import COVERS, Response
from climwin.shelter.risk import space_odds
from climwin.shelter.verdict import heat_to, space_verdict

CROP = cw.crop("cauliflower")
FRAME = COVERS["cold frame"]


@pytest.fixture(scope="module")
def daily():
    return records.weather(5, years=20).assign_attrs(latitude=50.0)


@pytest.fixture(scope="module")
def found(daily):
    return space_verdict(daily, FRAME, CROP)


def normal(z):
    return (1 + erf(z / sqrt(2))) / 2


def chances(daily, first, last):
    """Chance of a night that kills between two (month, day), by year, one night at a time."""
    limit = CROP.stages[0].cold.killed_at_c + TOLERANCE_C
    out = {}
    for time, outdoors in zip(daily["time"].values, daily["tmin"].values, strict=True):
        year, month, day = map(int, str(time)[:10].split("-"))
        if first <= (month, day) <= last:
            inside = FRAME.coldest.intercept_c + FRAME.coldest.slope * outdoors
            mild = 1 - normal((limit - inside) / FRAME.coldest.spread_c)
            out[year] = out.get(year, 1.0) * mild
    return np.array([1 - mild for mild in out.values()])


@pytest.mark.parametrize("month", [1, 3, 4, 7])
def test_months_are_judged_as_a_plain_loop_judges_them(daily, found, month):
    plain = chances(daily, (month, 1), (month, 31))
    # 29 February joins the 28th: those months are left to others.
    assert float(found["cold_share"].sel(month=month)) == pytest.approx(plain.mean(), abs=1e-6)
    assert int(found["cold_known"].sel(month=month)) == 20


def test_from_the_day_named_on_hardly_a_year_is_too_cold(daily, found):
    safe = int(found["safe_from"])
    summer = 200
    share = [
        float(space_odds(daily, FRAME, CROP, day, summer)["cold_share"]) for day in (safe, safe - 1)
    ]
    assert share[0] <= 0.1 < share[1]


def test_a_heater_that_keeps_the_plants_alive_mends_it(daily, found):
    heated = replace(FRAME, floor_c=float(found["heat"]))
    mended = space_verdict(daily, heated, CROP)
    assert float(mended["cold_share"].max()) == 0
    assert int(mended["safe_from"]) == 0


def test_the_other_hemisphere_has_its_winter_half_a_year_later(daily, found):
    south = daily.assign_coords(time=daily["time"] + np.timedelta64(182, "D"))
    turned = space_verdict(south.assign_attrs(latitude=-50.0), FRAME, CROP)
    shift = (int(turned["safe_from"]) - int(found["safe_from"])) % 365
    assert shift == pytest.approx(182, abs=3)


def test_it_is_said_in_a_sentence_or_two(found):
    said = verdict(found, name="the frame")
    share, known = float(found["cold_share"].sel(month=1)), int(found["cold_known"].sel(month=1))
    worst = int(np.argmax(found["cold_share"].values)) + 1
    assert worst in (1, 2)
    assert said[0].startswith("For young cauliflower plants the frame is good enough from ")
    if worst == 1:
        assert f"in January in {round(share * known)} of {known} years" in said[0]
    assert "Heat to " in said[0]
    assert len(said) <= 3


def test_degrees_fahrenheit_speak_no_celsius(found):
    said = " ".join(verdict(found, "F"))
    assert "°F" in said
    assert "°C" not in said


def test_a_space_that_is_always_warm_has_no_complaint(daily):
    warm = space_verdict(daily, COVERS["room with lights"], CROP)
    assert verdict(warm) == [
        "For young cauliflower plants the space is warm enough all winter in nine years of ten."
    ]


def test_an_icehouse_serves_never(daily):
    ice = replace(FRAME, coldest=Response(intercept_c=-30.0, slope=0.0, spread_c=0.5))
    said = verdict(space_verdict(daily, ice, CROP))
    assert "not warm enough in any month" in said[0]


def test_a_heater_is_set_in_whole_degrees_and_never_lower():
    assert heat_to(1.5, "C") == 2
    assert heat_to(2.0, "C") == 2
    assert heat_to(1.5, "F") == pytest.approx((35 - 32) / 1.8)


def test_a_stage_that_the_crop_lacks_is_named(daily):
    with pytest.raises(ValueError, match="must be one of leaf growth, curd; got 'seedling'"):
        space_verdict(daily, FRAME, CROP, stage="seedling")
