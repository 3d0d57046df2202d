"""Record tests, part by part, against pandas and plain loops; whole faults: ``tests/quality``."""

import datetime as dt
import re
from collections import Counter
from dataclasses import replace

import numpy as np
import numpy.testing as npt
import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as st
from records import daily, days, moved, side_by_side, weather

from climwin.core.errors import RecordError
from climwin.core.provenance import warm_by
from climwin.io.day_to_day import in_runs
from climwin.io.departure import Degrees, Departure, listed_years, merged
from climwin.io.plausibility import departures, refuse_departures, refuse_two_units
from climwin.io.quality import quality_control
from climwin.io.year_grid import most_common, quantile, spread, year_grids

HOLED = weather(3, years=6, gaps=0.05)
TODAY = dt.date(2026, 1, 1)


def grid_of(record, name="tmin"):
    return year_grids(record, [name])[name]


def names_of(record, today=None):
    return [each.test for each in departures(record, today)]


# --- the grid -----------------------------------------------------------------------------


def test_month_means_are_those_of_pandas():
    series = HOLED["tmin"].to_series()
    series = series[~((series.index.month == 2) & (series.index.day == 29))]
    by_month = series.groupby([series.index.year, series.index.month]).agg(["mean", "count"])
    expected = by_month["mean"].where(by_month["count"] >= 15).to_numpy().reshape(-1, 12)
    npt.assert_allclose(grid_of(HOLED).month_means, expected)


def test_what_was_set_aside_is_put_back_only_as_read():
    record = weather(3, years=4)
    record["tmin"][500] = 55.0
    checked = quality_control(record)
    assert np.nanmax(year_grids(checked, ["tmin"])["tmin"].values) < 40
    assert np.nanmax(year_grids(checked, ["tmin"], as_read=True)["tmin"].values) == 55


def test_persistence_is_a_correlation_of_neighbouring_days():
    grid = grid_of(weather(5, years=3))
    for spells, persistence in zip(grid.spells, grid.persistence(), strict=True):
        assert persistence == pytest.approx(pd.Series(spells).autocorr(1), abs=0.02)


values = st.lists(st.sampled_from([np.nan, 0.0, 0.1, 0.2, -3.0]), min_size=1, max_size=30)


@given(values)
def test_the_most_common_value_is_that_of_a_counter(row):
    value, count = most_common(np.array([row]))
    counted = Counter(x for x in row if not np.isnan(x))
    assert count[0] == max(counted.values(), default=0)
    if counted:
        assert counted[float(value[0])] == count[0]


@given(st.lists(st.booleans(), max_size=40), st.integers(1, 5))
def test_runs_are_those_of_a_loop(mask, least):
    expected = [False] * len(mask)
    start = 0
    for place in range(len(mask) + 1):
        if place == len(mask) or not mask[place]:
            if place - start >= least:
                expected[start:place] = [True] * (place - start)
            start = place + 1
    npt.assert_array_equal(in_runs(np.array(mask, bool), least), expected)


def test_quantiles_and_spread_are_numpys():
    rng = np.random.default_rng(0)
    sample = np.where(rng.random((7, 40)) < 0.2, np.nan, rng.normal(0, 2, (7, 40)))
    npt.assert_allclose(quantile(sample, 0.3, axis=1), np.nanquantile(sample, 0.3, axis=1))
    large = rng.normal(5, 2, 20_000)
    assert float(spread(large)) == pytest.approx(2, abs=0.05)


# --- in words -----------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("years", "words"),
    [
        ([1990], "1990"),
        ([1981, 1982, 1983, 1990], "1981 to 1983 and 1990"),
        ([1, 3, 5, 7], "1, 3, 5 and 7"),
        ([1, 3, 5, 7, 8, 10], "1, 3, 5 and 3 more years"),
    ],
)
def test_years_are_listed_by_their_runs(years, words):
    assert listed_years(years) == words


def test_a_departure_speaks_the_readers_unit():
    one = Departure("level", ("it lies ", Degrees(20.0, True), " above ", Degrees(0.0)), "Check.")
    assert one.text("C") == "It lies 20.0 °C above 0 °C Check."
    assert one.text("F") == "It lies 36.0 °F above 32 °F Check."


def test_the_same_of_two_variables_is_said_once():
    low = Departure("level", ("the minimum.",), "Check.", (1990,), variable="tmin")
    high = replace(low, what=("the maximum.",), variable="tmax", refused=True)
    other = replace(high, years=(1991,))
    together, alone = merged([low, high, other])
    assert together.text() == "The minimum. The same is true of the maximum. Check."
    assert together.refused
    assert alone == other


# --- what is seen, and what is not ---------------------------------------------------------


def test_an_invented_record_is_sound_and_its_scenario_too():
    record = weather(8, years=24)
    assert names_of(record) == []
    assert names_of(quality_control(record)) == []
    assert names_of(warm_by(record, 3.0)) == []


def test_half_a_year_in_one_year_is_told_in_days_and_refused():
    record = weather(8, years=12, spells=1.0)
    late = moved(record).sel(time="2005")
    broken = record.sel(time=late["time"]).copy()
    for name in ("tmin", "tmax", "tmean"):
        record[name].loc[{"time": broken["time"]}] = late[name].values
    turns = [each for each in departures(record) if each.test == "turn of the year"]
    assert turns[0].years == (2005,)
    assert turns[0].refused
    assert "turns 18" in turns[0].text()  # 182 days, give or take the weather of a year
    with pytest.raises(RecordError, match=r"mine\.csv cannot be right: In 2005"):
        refuse_departures("mine.csv", record)


def test_the_south_is_told_from_its_latitude():
    south = weather(8, years=12, coldest=202)
    assert names_of(south.assign_attrs(latitude=-45.0)) == []
    assert names_of(south.assign_attrs(latitude=45.0)) == ["hemisphere"]


def test_a_level_that_no_place_of_that_latitude_has():
    record = weather(8, years=12, mean=24.0)
    assert names_of(record.assign_attrs(latitude=25.0)) == []
    assert names_of(record.assign_attrs(latitude=60.0)) == ["latitude"]
    high = weather(8, years=12, mean=4.0)
    assert names_of(high.assign_attrs(latitude=25.0)) == ["latitude"]
    assert names_of(high.assign_attrs(latitude=25.0, elevation=2500.0)) == []


def test_half_of_the_years_in_degf_are_told_apart():
    record = weather(8, years=10)
    warm = record["time"].dt.year >= 2004
    for name in ("tmin", "tmax", "tmean"):
        attrs = record[name].attrs
        record[name] = record[name].where(~warm, record[name] * 1.8 + 32).assign_attrs(attrs)
    with pytest.raises(RecordError, match=r"2004 to 2008.*degF stand there among degC"):
        refuse_two_units("mine.csv", record)


def test_dates_in_the_future_are_refused_but_for_a_scenario():
    record = weather(8, years=12)
    early = dt.date(2009, 6, 1)
    (found,) = [each for each in departures(record, early) if each.test == "future"]
    assert found.refused
    assert "from 2009-06-03 to 2010-12-31" in found.text()
    assert "future" not in names_of(warm_by(record, 1.0), early)
    assert "future" not in names_of(record, TODAY)


def test_a_few_odd_days_are_no_doubt_and_many_are():
    record = weather(8, years=10)
    rng = np.random.default_rng(0)
    for count, doubted in ((20, False), (120, True)):
        wild = record.copy(deep=True)
        wild["tmin"][rng.choice(record.sizes["time"], count, replace=False)] = -80.0
        assert ("set aside" in names_of(quality_control(wild))) is doubted


def test_short_thin_and_several_records_are_left_in_peace():
    record = weather(8, years=4)
    assert departures(record.isel(time=slice(0, 30))) == ()
    assert departures(record.isel(time=slice(0, 0))) == ()
    assert departures(side_by_side(record, record)) == ()
    assert departures(daily(days("2001-01-01", "2001-12-31"), tmin=np.full(365, np.nan))) == ()


def test_a_mean_alone_is_tested_too():
    record = weather(8, years=12)[["tmean"]]
    assert names_of(record) == []
    rng = np.random.default_rng(1)
    shuffled = record.copy(deep=True)
    shuffled["tmean"].values[:] = rng.permutation(record["tmean"].values)
    assert "shuffled" in names_of(shuffled)


def named(record, test):
    return [each for each in departures(record) if each.test == test]


@pytest.mark.parametrize(
    ("step", "doubted"), [(0.1, False), (5 / 9, False), (1.0, False), (2.0, True)]
)
def test_whole_degrees_of_either_unit_are_fine_enough_and_steps_of_two_are_not(step, doubted):
    record = weather(8, years=6)
    for name in ("tmin", "tmax"):
        record[name].values[:] = (step * np.round(record[name].values / step)).round(1)
    found = named(record, "coarse")
    assert bool(found) is doubted
    if doubted:
        assert "In 1999 to 2004 the minimum goes in steps of 2.0 °C" in found[0].text()
        assert found[0].also == ("tmax",)


def with_range(width, *, days=0, in_year=None):
    """A record whose days have such a range; its weather slowed, as soil and ponds slow it."""
    record = weather(8, years=6)
    middle = (record["tmin"].values + record["tmax"].values) / 2
    if days:
        middle = pd.Series(middle).ewm(alpha=1 - np.exp(-1 / days)).mean().to_numpy()
    half = np.random.default_rng(0).uniform(0.5, 1.5, len(middle)) * width / 2
    where = record["time"].dt.year.values == in_year if in_year else np.full(len(middle), True)
    record["tmin"].values[where] = (middle - half)[where]
    record["tmax"].values[where] = (middle + half)[where]
    return record, float(np.median(2 * half[where]))


@pytest.mark.parametrize(
    ("width", "days", "doubted"),
    [
        (3.5, 0, False),  # a small island, whose days change with the wind
        (2.5, 0, False),
        (2.5, 5, True),  # soil, which follows the air in days
        (2.5, 20, True),  # a pond, which takes weeks
        (3.5, 5, False),  # a range that islands have: "quiet" and others look at what is left
        (1.2, 0, True),  # no air on land has as little
    ],
)
def test_the_range_of_a_small_island_passes_and_that_of_soil_and_water_does_not(
    width, days, doubted
):
    record, shown = with_range(width, days=days)
    found = named(record, "small range")
    assert bool(found) is doubted
    if doubted:
        assert found[0].years == tuple(range(1999, 2005))
        assert f"lies only {shown:.1f} °C above the minimum" in found[0].text()


def test_one_year_in_soil_is_named():
    record, _ = with_range(2.5, days=5, in_year=2001)
    assert [each.years for each in named(record, "small range")] == [(2001,)]


# Macquarie Island, 54.5 degrees south: mean maximum and minimum by month (Bureau of Meteorology).
MACQUARIE_HIGH = (8.8, 8.6, 8.0, 6.9, 5.9, 5.0, 4.9, 5.0, 5.3, 5.8, 6.5, 7.9)
MACQUARIE_LOW = (5.3, 5.3, 4.7, 3.7, 2.5, 1.5, 1.6, 1.6, 1.5, 2.0, 2.7, 4.3)


def test_a_real_island_in_the_southern_ocean_has_air_and_no_pond():
    record = weather(8, years=30)
    month = record["time"].dt.month.values - 1
    rng = np.random.default_rng(3)
    front = np.zeros(len(month))
    for day in range(1, len(month)):  # fronts: 2 degC about the usual, half of it gone in a day
        front[day] = 0.5 * front[day - 1] + rng.normal(0, 1.7)
    low, high = (np.array(each)[month] for each in (MACQUARIE_LOW, MACQUARIE_HIGH))
    half = (high - low) / 2 * rng.gamma(4.0, 0.25, len(month))  # some days are much wider
    record["tmin"].values[:] = (low + high) / 2 + front - half
    record["tmax"].values[:] = (low + high) / 2 + front + half
    by_year = (record["tmax"] - record["tmin"]).groupby("time.year").median()
    assert float(by_year.min()) < 3.1  # what any limit of 3 degC would come near
    assert named(record, "small range") == []


def test_a_mean_in_place_of_the_maximum_shows_in_their_spells():
    record = weather(8, years=6, spells=4.0)
    assert named(record, "alike") == []
    record["tmax"].values[:] = (record["tmin"].values + record["tmax"].values) / 2
    (found,) = named(record, "alike")
    shown = float(re.search(r"correlation (\d\.\d+)", found.text())[1])
    spells = {n: grid_of(record, n).spells.ravel() for n in ("tmin", "tmax")}
    assert shown == pytest.approx(
        pd.Series(spells["tmin"]).corr(pd.Series(spells["tmax"])), abs=0.02
    )


@pytest.mark.parametrize(("mean", "doubted"), [(10.0, False), (-3.0, False), (-8.0, True)])
def test_a_summer_too_cold_for_any_garden_is_doubted(mean, doubted):
    """The warmest month lies 11 degC above the mean of the year, less what a month smooths."""
    found = named(weather(8, years=6, mean=mean), "no summer")
    assert bool(found) is doubted
    if doubted:
        assert re.search(r"warmest month, Jul, has a mean of [2-4] °C", found[0].text())


@pytest.mark.parametrize(
    ("times", "doubted"), [(0.5, True), (0.8, False), (1.5, False), (2.2, True)]
)
def test_years_of_much_narrower_or_wider_days_are_named(times, doubted):
    record = weather(8, years=8)
    in_2003 = record["time"].dt.year.values == 2003
    middle, half = ((record["tmax"].values + sign * record["tmin"].values) / 2 for sign in (1, -1))
    for name, sign in (("tmin", -1), ("tmax", 1)):
        record[name].values[in_2003] = (middle + sign * times * half)[in_2003]
    found = named(record, "range of years")
    assert [each.years for each in found] == ([(2003,)] if doubted else [])
    if doubted:
        shown = float(re.search(r"is ([\d.]+) times that of the other years", found[0].text())[1])
        assert shown == pytest.approx(times, abs=0.15)  # give or take a year's weather
