"""Sentences on joined records and shifted days: each number is held against the record."""

import re

import numpy as np
import pytest
import xarray as xr
from records import weather

from climwin.climate.joining import join_stations, rate_neighbours
from climwin.report import sentences_joining
from climwin.report.sentences_caveats import record_caveats
from climwin.report.sentences_joining import days_beside, joined, rated_table


@pytest.fixture(scope="module")
def whole():
    return weather(3, 8, mean=9.0, swing=12.0)


@pytest.fixture(scope="module")
def hill(whole):
    out = whole.copy(deep=True)
    scatter = np.random.default_rng([1, 2]).normal(0, 1.0, whole.sizes["time"])
    for name in ("tmin", "tmax", "tmean"):
        out[name].values[:] += scatter - 3.0
    return out.assign_attrs(station_name="Hill", station_id="H1", elevation=900.0)


def losing(record, *spans):
    out = record.copy(deep=True)
    for span in spans:
        for name in ("tmin", "tmax", "tmean"):
            out[name].loc[{"time": slice(*span)}] = np.nan
    return out


def late(record, names, years=slice(None)):
    """The record with some extremes written down a day late."""
    out = record.copy(deep=True)
    for name in names:
        moved = record[name].shift(time=1).sel(time=years)
        out[name].loc[{"time": years}] = moved.values
    return out


def test_years_measured_and_filled_are_counted(whole, hill):
    gappy = losing(whole, ("2001-01-01", "2002-12-31"), ("2004-05-01", "2004-05-10"))
    text = joined(join_stations(gappy, hill))
    assert text == "6 years measured, 2 filled from Hill (740 days)."
    assert text in record_caveats(join_stations(gappy, hill))


def test_single_days_make_no_filled_year(whole, hill):
    gappy = losing(whole, ("2004-05-01", "2004-05-10"))
    assert joined(join_stations(gappy, hill)) == "8 years measured; 10 days filled from Hill."


def test_a_day_that_lacks_one_extreme_is_filled(whole, hill):
    gappy = whole.copy(deep=True)
    gappy["tmax"].values[5] = np.nan
    assert "; 1 day filled from Hill." in joined(join_stations(gappy, hill))


def test_nothing_is_said_where_nothing_is_filled(whole, hill):
    assert joined(whole) == ""
    assert joined(join_stations(whole, hill)) == ""


def test_missing_days_are_said_to_be_drawn_from_stations_nearby(whole, hill):
    gappy = losing(whole, ("2001-04-01", "2001-06-01"))
    for record, told in (
        (join_stations(gappy, hill), "from stations nearby and the days around them"),
        (gappy, "at random, from the days around them"),
    ):
        (text,) = [each for each in record_caveats(record) if "filled in many times" in each]
        assert told in text


def test_days_that_go_together_are_said_to(whole, hill):
    assert days_beside(whole, hill) == "Against Hill no day is shifted."


@pytest.mark.parametrize("record_is_late", [True, False])
def test_a_late_maximum_alone_is_told_as_morning_readings(whole, hill, record_is_late):
    pair = (late(whole, ["tmax"]), hill) if record_is_late else (whole, late(hill, ["tmax"]))
    text = days_beside(*pair)
    side = "before" if record_is_late else "after"
    assert f"the maximum fits the day {side} better than the same day (correlation 0." in text
    assert "the minimum" not in text
    assert text.startswith(f"Against Hill the maximum fits the day {side} better than ")
    shifted, same = map(float, re.search(r"(0\.\d+) against (-?0\.\d+)\)", text).groups())
    assert shifted > same
    who = "this record" if record_is_late else "the neighbour"
    assert f"So {who} may be read in the morning" in text


def test_both_extremes_a_day_late_are_told_as_dates(whole, hill):
    text = days_beside(late(whole, ["tmin", "tmax"]), hill)
    assert "the minimum fits the day before" in text
    assert "the maximum fits the day before" in text
    assert "dated a day late" in text


def test_years_that_are_shifted_alone_are_named(whole, hill):
    text = days_beside(late(whole, ["tmax"], slice("2002", "2003")), hill)
    assert text.startswith("Against Hill the maximum is shifted otherwise in 2002, 2003. ")
    assert "better than the same day" not in text


def test_a_shift_that_cannot_be_told_is_said_to_be_so(whole):
    text = days_beside(whole, weather(77, 8, mean=9.0, swing=12.0))
    assert "a shift by a day cannot be detected" in text
    assert re.search(r"\(correlation -?0\.[01]\d, 0\.4 is needed\)", text)


def test_a_short_overlap_is_said_and_no_error(whole, hill):
    text = days_beside(whole, hill.isel(time=slice(0, 100)))
    assert text.startswith("A shift by a day cannot be detected. Hill: 100 days in common, 365 are")


def test_the_table_of_neighbours_holds_their_figures(whole, hill):
    rated = rate_neighbours(whole.assign_attrs(elevation=400.0), [hill, late(hill, ["tmin"])])
    heads, first, second = rated_table(rated).splitlines()
    assert heads.split()[:3] == ["name", "km", "higher_m"]
    of_tmin = rated.sel(variable="tmin").isel(neighbour=0)
    assert first.split()[:4] == ["H1", "Hill", "?", "+500"]
    assert first.split()[4] == f"{float(of_tmin['error']):.1f}"
    assert first.split()[5].rstrip("%").strip() in f"{float(of_tmin['explained']):.0%}"
    assert "+1" in second


def test_years_that_are_shifted_otherwise_are_five_and_then_a_number(whole, hill):
    text = days_beside(late(whole, ["tmax"], slice("2001", "2003")), hill)
    assert "the maximum is shifted otherwise in 2001, 2002, 2003" in text
    assert "more" not in text
    shifts = xr.Dataset(
        {
            "shift_of_year": (("variable", "year"), [[1.0] * 7 + [0.0] * 9]),
            "shift_days": ("variable", [0.0]),
        },
        {"variable": ["tmin"], "year": np.arange(2000, 2016)},
    )
    told = sentences_joining._odd_years(shifts)
    listed = "2000, 2001, 2002, 2003, 2004 and 2 more"
    assert told == f"the minimum is shifted otherwise in {listed}"


def test_too_little_in_common_asks_for_a_nearer_station(whole):
    text = days_beside(whole, weather(77, 8, mean=9.0, swing=12.0))
    assert "their days have too little in common" in text
    assert text.endswith("Take a nearer station.")


@pytest.mark.parametrize(
    ("shifts", "later"),
    [
        ({"tmin": 0.0, "tmax": -1.0}, "So this record may be read in the morning"),
        ({"tmin": 0.0, "tmax": 1.0}, "So the neighbour may be read in the morning"),
        ({"tmin": -1.0, "tmax": -1.0}, "may be dated a day late, or read in the morning"),
    ],
)
def test_a_shift_means_a_morning_reading_or_a_wrong_date(shifts, later):
    text = sentences_joining._meaning({n: xr.DataArray(v) for n, v in shifts.items()})
    assert later in text
    if shifts["tmin"] == 0:
        assert "when the maximum is that of the day before" in text
    else:
        assert "over some hundred kilometres the weather itself takes a day" in text
