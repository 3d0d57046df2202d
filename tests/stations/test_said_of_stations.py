"""Why a station serves, in words: near or far, above or below, how much of which years."""

import numpy as np
import pandas as pd
import pytest

from climwin.core.schema import Garden, StationError
from climwin.report.sentences_garden import from_garden
from climwin.stations import search


def reason(units="C", **given):
    row = {
        "distance_km": 16.09344,
        "height_difference_m": 30.48,
        "share_present": 0.86,
        "tmin_first": 1975,
        "tmin_last": 2021,
        "same_spot": "",
    }
    return search._reason(row | given, (1991, 2020), units)


@pytest.mark.parametrize(
    ("height", "said", "not_said"),
    [
        (30.48, "30 m higher", "lower"),
        (-30.48, "30 m lower", "higher"),
        (0.0, "at the same height", "lower"),
        (np.nan, "16 km away; 86 %", "height"),
    ],
)
def test_a_station_above_the_garden_is_higher_and_one_below_is_lower(height, said, not_said):
    text = reason(height_difference_m=height)
    assert said in text
    assert not_said not in text
    assert text.startswith("16 km away")


def test_one_system_of_units_is_used():
    text = reason("F")
    assert "10 mi" in text
    assert "100 ft higher" in text
    assert " m " not in text
    assert " km " not in text


def test_the_share_is_of_the_period_and_the_record_has_its_own_years():
    text = reason()
    assert "86 % of the days of 1991 to 2020 (record 1975 to 2021)" in text
    none = reason(share_present=0.0)
    assert "no minimum and maximum of 1991 to 2020" in none
    assert "%" not in none


def test_stations_of_one_spot_are_named_only_where_there_are_any():
    assert "same spot" not in reason()
    assert reason(same_spot="PLB02, PLB03").endswith("at the same spot: PLB02, PLB03")


@pytest.mark.parametrize(
    ("km", "said"), [(0.3, "less than 1 km away"), (0.7, "1 km away"), (42.0, "42 km away")]
)
def test_a_station_next_door_is_less_than_a_kilometre_away(km, said):
    assert from_garden(km, 5.0).startswith(said)


@pytest.mark.parametrize(
    ("first", "last", "period"), [(1991, 2020, (1991, 2020)), (None, 2020, (1991, 2020))]
)
def test_a_period_is_thirty_years_where_only_its_end_is_given(first, last, period):
    assert search.whole_years(first, last) == period
    begin, end = search.whole_years(None, None)
    assert end - begin + 1 == 30


def test_the_garden_is_named_where_nothing_is_near(monkeypatch):
    empty = pd.DataFrame(), pd.DataFrame()
    monkeypatch.setattr(search, "with_list", lambda *_: empty)
    with pytest.raises(StationError, match=r"No station lies within 25 km of 'Ours'.*50"):
        search.find_stations(Garden("Ours", 46.0, 7.0), radius_km=25)
