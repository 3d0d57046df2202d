"""Sentences of the garden's figures, on results made up by hand."""

import numpy as np
import pytest
import xarray as xr

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
    [(12.4, "7 km away, 12 m higher"), (-180, "7 km away, 180 m lower")],
)
def test_a_station_is_told_as_seen_from_the_garden(height, said):
    assert words.from_garden(7.2, height) == said
    assert words.from_garden(7.2, np.nan) == "7 km away, height not known"


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
