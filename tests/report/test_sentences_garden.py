"""Sentences of the garden's figures, on results made up by hand."""

from types import SimpleNamespace

import numpy as np
import pandas as pd
import pytest
import xarray as xr

import climwin as cw
from climwin.report import sentences_garden as words
from climwin.shelter.covers import COVERS, Response


def test_nine_days_in_ten_reach_1_645_standard_deviations():
    assert words.reach(Response(intercept_c=0.0, spread_c=2.0)) == pytest.approx(3.29, abs=0.001)


def test_a_cold_night_is_told_with_its_give_and_take():
    found = words.response(COVERS["cold frame"], -6.0, "F")  # 3 degC warmer, spread 1.5
    assert found == (
        "A night of 21 °F outdoors: 27 °F inside (cold frame), give or take 4 °F on nine nights "
        "of ten"
    )


@pytest.mark.parametrize(
    ("height", "said"),
    [
        (12.4, "7 km away, 12 m higher"),
        (-180, "7 km away, 180 m lower"),
        (0.0, "7 km away, at the same height"),
    ],
)
def test_a_station_is_told_as_seen_from_the_garden(height, said):
    assert words.from_garden(7.2, height) == said
    assert words.from_garden(7.2, np.nan) == "7 km away, height not known"
    assert words.from_garden(0.4, height).startswith("less than 1 km away, ")


def _grid(share):
    axes = {"low_shift": [-1.0, 0.0, 1.0], "high_shift": [-1.0, 0.0, 1.0]}
    return xr.Dataset({"share": (tuple(axes), share)}, axes)


def test_the_limits_taken_stand_first_and_the_others_as_a_range():
    share = np.linspace(0.1, 0.9, 9).reshape(3, 3)
    assert words.sensitive(_grid(share), "F") == (
        "Too short in 50 % of years; were the limits off by up to 1.8 °F, in 10 % to 90 %"
    )


def test_a_grid_without_the_limits_taken_is_a_range_alone():
    moved = _grid(np.linspace(0.1, 0.9, 9).reshape(3, 3)).isel(low_shift=[0, 2])
    assert words.sensitive(moved, "C") == (
        "Too short in 10 % to 90 % of years, were the limits off by up to 1 °C"
    )


def _trial(**given):
    row = {"difference": [4.0], "low": [1.0], "high": [7.0], "p": [0.01]} | given
    attrs = {"response_variable": "heads", "unit": "count", "against": "sown", "interval": 0.95}
    held = {name: ("treatment", values) for name, values in row.items()}
    return xr.Dataset(held, {"treatment": ["raised"]}, attrs)


def test_a_difference_is_told_with_its_interval_or_not_at_all():
    assert words.trial(_trial()) == "Heads: raised 4 more than sown (1 to 7 more)"
    less = _trial(difference=[-4.0], low=[-7.0], high=[-1.0])
    assert words.trial(less) == "Heads: raised 4 fewer than sown (1 to 7 fewer)"
    assert (
        words.trial(_trial(low=[-1.0], p=[0.06])) == "Heads: raised and sown cannot be told apart"
    )


# --- covered spaces -----------------------------------------------------------------------


def test_years_too_cold_and_too_hot_keep_their_shares():
    attrs = {"first_day": 64, "last_day": 106, "cover": "cold frame", "stage": "seedling"}
    odds = xr.Dataset({"cold_share": 0.2, "hot_share": 0.45}, attrs=attrs)
    text = words.space_years(odds)
    assert text.startswith("Cold frame, 5 Mar to 16 Apr")
    assert "too cold for the seedling stage in 20 %" in text
    assert "too hot in 45 %" in text


@pytest.mark.parametrize(
    ("cold", "hot", "said"),
    [
        ((), (), "no day too cold or too hot"),
        (("2010-03-01",), (), "too cold on 1 day"),
        ((), ("2010-03-01", "2010-03-02"), "too hot on 2 days"),
        (("2010-03-01",), ("2010-03-02",) * 3, "too cold on 1 day and too hot on 3 days"),
    ],
)
def test_a_logged_period_is_told_by_its_hours_and_its_days(cold, hot, said):
    stage = cw.crop("cauliflower").stages[0]
    check = SimpleNamespace(hours=200, hours_in_band=150, too_cold=cold, too_hot=hot)
    assert (
        words.inside(check, stage)
        == f"Inside, 75 % of the hours suited the {stage.name} stage; {said}"
    )


@pytest.mark.parametrize(
    ("extreme", "below", "above", "said"),
    [
        ("minimum", 0.1, 0.9, "below 4 °C outdoors it stays near 6 °C, as a heater"),
        ("maximum", 0.9, 0.1, "above 4 °C outdoors it stays near 6 °C, as vents"),
        (
            "maximum",
            0.9,
            0.5,
            "above 4 °C outdoors it rises by 0.50 for each degree instead of 0.90",
        ),
        (
            "minimum",
            0.9,
            0.5,
            "from 4 °C outdoors on it follows by 0.50 for each degree, below by 0.90",
        ),
    ],
)
def test_a_bend_is_of_a_heater_below_and_of_vents_above(extreme, below, above, said):
    """Both lines meet at 4 degC outdoors, where it is 6 inside."""
    line = Response(
        intercept_c=6 - 4 * below, spread_c=1.0, slope=below, knee_c=4.0, slope_above=above
    )
    assert words.bend(line, extreme).startswith(said)


def test_a_straight_line_says_nothing():
    assert words.bend(Response(intercept_c=3.0, spread_c=1.0), "minimum") == ""


# --- crops and stations -------------------------------------------------------------------


def test_crops_that_suit_are_counted_at_their_best_dates():
    shares = {"pea": (0.9, 0.4), "leek": (0.8, 0.1), "melon": (0.3, 0.79)}
    pairs = [(crop, share) for crop, both in shares.items() for share in both]
    ranked = xr.Dataset(
        {
            "elsewhere_share": ("plan", [share for _, share in pairs]),
            "growth": ("plan", [0.9, 0.2, 0.3, 0.9, 0.1, 0.1]),
        },
        {"crop": ("plan", [crop for crop, _ in pairs])},
    )
    text = words.suiting(ranked)
    assert text.startswith("2 of 3 crops")
    assert "at least 8 years of 10" in text
    # Leeks grow well only in the way that seldom comes to a harvest.
    assert text.endswith("at their best dates, 1 of them a poor one")
    good = words.suiting(ranked.assign(growth=ranked["growth"] + 0.6))
    assert good.endswith("at their best dates")


def test_the_first_station_of_a_table_serves_best():
    rows = {
        "name": ["Oxhey", "Farmere"],
        "distance_km": [7.2, 90.0],
        "height_difference_m": [-180.0, 3.0],
    }
    text = words.nearest(pd.DataFrame(rows), "Pellbrook")
    assert text == "Of 2 stations around Pellbrook, Oxhey serves best: 7 km away, 180 m lower"


@pytest.mark.parametrize(
    ("given", "said"),
    [
        ({"propagation": "perennial"}, "established plants"),
        ({"propagation": "plants", "weeks": 6, "cover": "cold frame"}, "cold frame, 6 weeks"),
        (
            {"propagation": "plants", "weeks": 8, "cover": "room with lights"},
            "indoors, 8 weeks",
        ),
        ({"propagation": "seed"}, "sown outdoors"),
        ({"propagation": "tubers"}, "planted"),
    ],
)
def test_a_way_is_told_as_the_crop_is_started(given, said):
    row = xr.Dataset(
        {name: ((), value) for name, value in ({"weeks": 0, "cover": ""} | given).items()}
    )
    assert words.way(row) == said


def suited_row(**given):
    values = {
        "propagation": "seed",
        "weeks": 0,
        "cover": "",
        "limit": "too hot",
        "earliness": "main",
        "share": 0.8,
        "known": 40,
        "first_day": 64.0,
        "last_day": 106.0,
    }
    return xr.Dataset({name: ((), value) for name, value in (values | given).items()})


def test_a_crop_that_suits_has_its_way_its_dates_and_its_limit_in_this_order():
    assert words.suited(suited_row()) == "sown outdoors, start 5 Mar to 16 Apr; else too hot"
    assert words.suited(suited_row(limit="")).endswith("; every year")
    early = words.suited(suited_row(earliness="early"))
    assert "5 Mar to 16 Apr, early varieties; else" in early
    assert words.suited(suited_row(share=0.0)) == "sown outdoors: in none of 40 years, too hot"
    stands = words.suited(suited_row(propagation="perennial"))
    assert stands == "established plants; else too hot"


def test_a_calendar_of_one_crop_names_it_and_of_several_counts_them():
    one, two = (xr.Dataset({"crop": ("row", names)}) for names in (["pea"] * 2, ["pea", "leek"]))
    assert "start pea here" in words.calendar(one)
    assert "start 2 crops here" in words.calendar(two)
    assert "at least 8 years of 10" in words.calendar(one)


def test_odds_that_no_limit_makes_known_are_not_known():
    assert "not known" in words.sensitive(_grid(np.full((3, 3), np.nan)), "C")


def test_each_way_has_its_own_best_dates():
    runs = {"In a frame": (64, 70), "In place": (110, 110), "Bought": None}
    text = words.best_starts(runs)
    frame, bed, never = text.split("; ")
    assert frame == "In a frame: best 5 Mar to 11 Mar"
    assert bed == "in place: best 20 Apr"
    assert never == "bought: no date gives a harvest"


def test_vents_let_warmth_out_and_years_that_gaps_hide_tell_nothing():
    line = Response(intercept_c=1.0, spread_c=1.0, slope=0.9, knee_c=4.0, slope_above=0.5)
    assert words.bend(line, "maximum").endswith("as with vents that let part of the warmth out")
    hidden = words.suited(suited_row(share=0.0, limit=""))
    assert hidden.endswith("in none of 40 years, as far as is known")
    one = xr.Dataset({"crop": ("row", ["pea"])})
    assert words.calendar(one).startswith("When to start pea here, for a harvest in at least")


def test_a_trial_is_laid_out_in_pairs_or_blocks_drawn_by_lot():
    two = pd.DataFrame({"treatment": ["frame", "bed"] * 6, "block": np.repeat(range(6), 2)})
    assert words.bed(two) == "6 pairs side by side, in random order: bed and frame"
    three = pd.DataFrame({"treatment": ["a", "b", "c"] * 5, "block": np.repeat(range(5), 3)})
    assert words.bed(three) == "5 blocks of 3 side by side, in random order: a, b, c"


@pytest.mark.parametrize(
    ("chance", "is_plain"), [(None, True), (1.0, True), (0.75, True), (0.7, False)]
)
def test_a_bend_that_the_log_does_not_show_plainly_is_a_perhaps(chance, is_plain):
    line = Response(
        intercept_c=5.6, spread_c=1.0, slope=0.1, knee_c=4.0, slope_above=0.9, bend_chance=chance
    )
    shown = "below 4 °C outdoors it stays near 6 °C, as a heater does"
    text = words.bend(line, "minimum")
    assert text == (shown if is_plain else f"perhaps {shown}; a longer log would tell")
