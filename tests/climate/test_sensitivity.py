"""How far the odds hang on limits and criterion: each cell is worked out again by itself."""

from dataclasses import replace

import numpy as np
import numpy.testing as npt
import pytest
import xarray as xr
from records import missing, moved, side_by_side, weather

from climwin.climate.level import todays_climate
from climwin.climate.sensitivity import compare_criteria, sensitivity
from climwin.climate.windows import odds_shorter, usable_windows
from climwin.crops.bands import bearable_band
from climwin.crops.catalogue import crop
from climwin.crops.model import Limits

CAULIFLOWER = crop("cauliflower")
NARROW = Limits(low_c=10.0, high_c=12.5, source="test")


def shifted(subject, low, high):
    band = bearable_band(subject) if subject is CAULIFLOWER else subject
    return replace(band, low_c=band.low_c + low, high_c=band.high_c + high)


@pytest.mark.parametrize(
    ("subject", "need"), [(CAULIFLOWER, 110), (NARROW, 60)], ids=["crop", "band"]
)
def test_each_cell_is_the_odds_of_that_band(subject, need):
    swing = 13.0 if subject is CAULIFLOWER else 11.0  # summers too hot for either: two windows
    record = missing(weather(years=4, mean=14.0, swing=swing), "2000-05-03", "2000-05-04")
    found = sensitivity(record, subject, need, steps=(-0.5, 0, 1.5))
    assert found["share"].dims == ("low_shift", "high_shift", "part")
    assert found["low_shift"].attrs["units"] == "degC"
    for low in (-0.5, 0, 1.5):
        for high in (-0.5, 0, 1.5):
            killed_at = subject.killed_at_c if subject is CAULIFLOWER else None
            windows = usable_windows(record, shifted(subject, low, high), killed_at=killed_at)
            odds, cell = odds_shorter(windows, need), found.sel(low_shift=low, high_shift=high)
            assert cell["shorter"].values.tolist() == odds["shorter"].values.tolist()
            assert cell["known"].values.tolist() == odds["known"].values.tolist()
            has_two = windows["has_two_windows"].item()
            assert cell["has_two_windows"].item() == has_two
            share = odds["share"].values if has_two else [odds["share"].values[0], np.nan, np.nan]
            np.testing.assert_array_equal(cell["share"], share)
    assert found["shorter"].sel(part="longest").values.max() > 0
    assert found["has_two_windows"].values.any()


def test_a_wider_band_is_never_too_short_more_often(champion):
    shorter = sensitivity(champion, CAULIFLOWER, 75)["shorter"].sel(part="longest")
    assert (shorter.diff("high_shift") <= 0).all()
    assert (shorter.diff("low_shift") >= 0).all()
    assert shorter.values.max() > shorter.values.min()


def test_criteria_stand_side_by_side(champion):
    record = champion.assign_attrs(latitude=40.4)
    found = compare_criteria(record, CAULIFLOWER, 75)
    assert found["criterion"].values.tolist() == ["mean", "extremes", "hours"]
    for criterion in ("mean", "extremes", "hours"):
        windows = usable_windows(
            champion.assign_attrs(latitude=40.4), CAULIFLOWER, criterion=criterion
        )
        odds = odds_shorter(windows, 75).sel(part="longest")
        own = found.sel(criterion=criterion, part="longest")
        assert (own["shorter"], own["known"]) == (odds["shorter"], odds["known"])
    assert compare_criteria(champion, CAULIFLOWER, 75)["criterion"].values.tolist() == [
        "mean",
        "extremes",
    ]


@pytest.mark.parametrize("chunks", [None, 1], ids=["at once", "lazily"])
def test_stations_pass_through(chunks):
    alone = weather(1, 2), weather(2, 2, coldest=202)
    both = side_by_side(*alone)
    both = both.chunk(station=chunks) if chunks else both
    found = sensitivity(both, NARROW, 60, steps=(0, 1))
    assert (found["share"].chunks is not None) == bool(chunks)
    for n, record in enumerate(alone):
        own = sensitivity(record, NARROW, 60, steps=(0, 1))
        part = found.isel(station=n, drop=True).compute()
        xr.testing.assert_equal(own, part.drop_vars("station", errors="ignore"))


def test_a_gap_can_only_leave_years_out():
    whole, holed = (
        sensitivity(weather(3, 9, gaps=g), NARROW, 60, steps=(0, 1)) for g in (0.0, 0.15)
    )
    longest = whole["known"].sel(part="longest"), holed["known"].sel(part="longest")
    assert (longest[1] <= longest[0]).all()
    assert (longest[1] < longest[0]).any()


def test_the_south_is_the_north_half_a_year_later():
    north = weather(3, 9)
    found = [sensitivity(r, NARROW, 60, steps=(-1, 0, 1)) for r in (north, moved(north))]
    for name in ("shorter", "known"):  # the year at either end of the record may be cut elsewhere
        gap = found[1][name].sel(part="longest") - found[0][name].sel(part="longest")
        assert (abs(gap) <= 1).all()


@pytest.mark.parametrize("chunks", [None, 1], ids=["at once", "lazily"])
def test_criteria_of_stations_pass_through(chunks):
    alone = weather(1, 2), weather(2, 2, coldest=202)
    both = side_by_side(*alone)
    found = compare_criteria(both.chunk(station=chunks) if chunks else both, NARROW, 60)
    assert (found["share"].chunks is not None) == bool(chunks)
    for n, record in enumerate(alone):
        own = compare_criteria(record, NARROW, 60)
        npt.assert_array_equal(found["share"].isel(station=n), own["share"])


def test_steps_that_turn_the_band_over_are_refused():
    with pytest.raises(ValueError, match=r"low limit, 10.0 degC, below the high one, 12.5.*-2"):
        sensitivity(weather(), NARROW, 60)
    with pytest.raises(ValueError, match=r"one or more moves.*got none"):
        sensitivity(weather(), NARROW, 60, steps=())


def test_results_say_what_they_are():
    record = weather(years=3)
    found = sensitivity(record, NARROW, 60, steps=(0, 1))
    for axis in ("low_shift", "high_shift"):
        assert found[axis].values.tolist() == [0, 1]
        assert found[axis].attrs == {"units": "degC"}
    facts = {"low_c": 10.0, "high_c": 12.5, "first_year": 1999, "last_year": 2001}
    assert facts.items() <= found.attrs.items()
    assert set(found.data_vars) == {"shorter", "known", "share", "has_two_windows"}
    with pytest.raises(ValueError, match=r"leave the low limit, 10\.0 degC, below the high one"):
        sensitivity(record, NARROW, 60, steps=(0, 2.5))  # just on it


def test_criteria_are_those_that_the_record_allows():
    record = weather(years=3)
    found = compare_criteria(record, CAULIFLOWER, 60)
    assert found["criterion"].values.tolist() == ["mean", "extremes"]
    for criterion in ("mean", "extremes"):
        odds = odds_shorter(usable_windows(record, CAULIFLOWER, criterion=criterion), 60)
        one = found.sel(criterion=criterion)
        for name in ("shorter", "known"):
            npt.assert_array_equal(one[name], odds[name])
        npt.assert_array_equal(one["share"].sel(part="longest"), odds["share"].sel(part="longest"))
        if not one["has_two_windows"]:
            assert np.isnan(one["share"].sel(part=["rise", "fall"])).all()
    south = record.assign_attrs(latitude=46.1)
    assert compare_criteria(south, NARROW, 60)["criterion"].values.tolist()[-1] == "hours"
    by_place = record.assign_coords(latitude=46.1)
    assert compare_criteria(by_place, NARROW, 60).sizes["criterion"] == 3


def test_todays_climate_is_asked_of_the_moved_record():
    record = weather(years=12)
    warming = 0.4 * (record["time"].dt.year - 1999)
    warmer = record.map(lambda v: (v + warming).assign_attrs(v.attrs))
    wide = Limits(low_c=6.0, high_c=17.0, source="test")
    moved_ = todays_climate(warmer)
    now = sensitivity(warmer, wide, 60, steps=(0,), climate="today")
    npt.assert_array_equal(now["shorter"], sensitivity(moved_, wide, 60, steps=(0,))["shorter"])
    was = sensitivity(warmer, wide, 60, steps=(0,))
    assert (now["shorter"] != was["shorter"]).any()
    criteria = compare_criteria(warmer, wide, 60, climate="today")
    npt.assert_array_equal(criteria["shorter"], compare_criteria(moved_, wide, 60)["shorter"])
