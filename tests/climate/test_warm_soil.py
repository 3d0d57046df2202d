"""The date by which the soil is warm enough, and its odds, against plain loops."""

import numpy as np
import numpy.testing as npt
import pandas as pd
import pytest
import xarray as xr
from hypothesis import given, settings
from hypothesis import strategies as st
from records import side_by_side, weather
from scipy import stats

from climwin.climate.soil import soil_temperature
from climwin.climate.warm_soil import warm_soil_dates, warm_soil_odds
from climwin.core.seasons import coldest_day

# --- dates --------------------------------------------------------------------------------


def dates_of(dates):
    return [None if np.isnat(d) else str(d)[:10] for d in dates["warm_soil"].values]


def stepped(warm_from, days=365 * 2, cold=4.0, warm=12.0, start="2001-01-01"):
    """Soil that is cold, and warm on the given spans of days, counted from 0."""
    values = np.full(days, cold)
    for first, last in warm_from:
        values[first : last + 1] = warm
    time = pd.date_range(start, periods=days).astype("datetime64[s]")
    return xr.DataArray(values, {"time": time}, name="tsoil", attrs={"units": "degC"})


def test_the_date_is_the_fifth_warm_day_in_a_row():
    # 2001: four warm days from 1 March do not count, five from 1 April do: 5 April. 2002: 14 May.
    soil = stepped([(59, 62), (90, 94), (365 + 129, 365 + 140)])
    dates = warm_soil_dates(soil, 10, 1)
    assert dates_of(dates) == ["2001-04-05", "2002-05-14"]
    npt.assert_array_equal(dates["warm_soil_day"], [95, 134])
    npt.assert_array_equal(dates["warm_soil_status"], ["observed", "observed"])


def test_at_the_limit_is_warm_enough():
    assert dates_of(warm_soil_dates(stepped([(90, 94)], 365, warm=9.96), 10, 1)) == ["2001-04-05"]
    assert dates_of(warm_soil_dates(stepped([(90, 94)], 365, warm=9.94), 10, 1)) == [None]


def test_soil_that_never_warms_has_no_date():
    dates = warm_soil_dates(stepped([(100, 200)], 365 * 2), 10, 1)
    npt.assert_array_equal(dates["warm_soil_status"], ["observed", "none"])
    assert dates_of(dates)[1] is None
    assert np.isnan(dates["warm_soil_day"][1])


def test_a_gap_counts_only_where_it_could_have_been_warm():
    spans = [(100, 200), (465, 565), (830, 930)]
    soil = stepped(spans, 365 * 3)
    soil[10:40] = np.nan  # never warm at that time of the year
    soil[365 + 94 : 365 + 100] = np.nan  # just before: it may have been earlier
    soil[730 + 150 : 730 + 160] = np.nan  # after the date
    dates = warm_soil_dates(soil, 10, 1)
    npt.assert_array_equal(dates["warm_soil_status"], ["observed", "unknown", "observed"])
    assert dates_of(dates) == ["2001-04-15", None, "2003-04-15"]


def test_the_southern_spring_runs_from_july():
    # Warm from 1 October 2001, in the season that began on 20 July and belongs to 2002. The spring
    # of the season before lies before the record.
    soil = stepped([(273, 420)], 365 * 2)
    dates = warm_soil_dates(soil, 10, 201)
    npt.assert_array_equal(dates["season"], [2001, 2002])
    npt.assert_array_equal(dates["warm_soil_status"], ["unknown", "observed"])
    assert dates_of(dates) == [None, "2001-10-05"]
    assert dates["warm_soil_day"][1] == 278 - 365


@settings(deadline=None, max_examples=25)
@given(st.integers(0, 10_000), st.floats(2, 14), st.floats(0.1, 4), st.integers(1, 15))
def test_against_a_plain_loop_and_a_higher_limit_never_comes_earlier(seed, limit, step, days):
    soil = soil_temperature(weather(seed, years=5)["tmean"])
    soil = soil.sel(time=slice("2001", "2003"))  # without a leap day
    dates = warm_soil_dates(soil, limit, 1, days=days)
    for year, group in soil.groupby("time.year"):
        run, expected = 0, np.nan
        for day, celsius in enumerate(group.values, start=1):
            run = run + 1 if celsius >= limit - 0.05 else 0
            if run == days:
                expected = day
                break
        found = dates.sel(season=year)
        if found["warm_soil_status"] != "unknown":
            npt.assert_equal(found["warm_soil_day"].item(), float(expected))
    assert (dates["warm_soil_status"] != "unknown").sum() >= 2
    later = warm_soil_dates(soil, limit + step, 1, days=days)["warm_soil_day"]
    assert not (later < dates["warm_soil_day"]).any()


def test_dates_of_stations_with_their_own_cut_and_dask():
    soil = soil_temperature(side_by_side(*map(weather, range(3)))["tmean"])
    first = xr.DataArray([1, 30, 15], dims="station")
    dates = warm_soil_dates(soil, 8, first)
    for i in range(3):
        alone = warm_soil_dates(soil[i], 8, int(first[i]))
        npt.assert_array_equal(dates["warm_soil_day"][i], alone["warm_soil_day"])
    lazy = warm_soil_dates(soil.chunk(station=1), 8, first)
    assert lazy["warm_soil"].chunks is not None
    assert lazy.compute().equals(dates)


def test_dates_refuse_no_days_and_foreign_units():
    soil = stepped([])
    with pytest.raises(ValueError, match="days must lie between 1 and 365, got 0"):
        warm_soil_dates(soil, 10, 1, days=0)
    with pytest.raises(ValueError, match="'tsoil' must be in degC, got 'degF'"):
        warm_soil_dates(soil.assign_attrs(units="degF"), 10, 1)


# --- odds ---------------------------------------------------------------------------------


def yearly(days, statuses=None):
    """Dates of years as `warm_soil_dates` gives them; missing is never, unless a gap hides it."""
    days = np.asarray(days, float)
    found = xr.Dataset({"warm_soil_day": ("season", days)}, {"season": 2000 + np.arange(len(days))})
    told = np.where(np.isnan(days), "none", "observed") if statuses is None else statuses
    return found.assign(warm_soil_status=("season", told), first_day=20)


DAYS_OF_20 = (
    *(98, 101, 103, 104, 106, 107, 108, 110, 110, 112),
    *(113, 115, 117, 118, 119, 121, 123, 126, 130, 134),
)


def test_odds_are_hazens():
    # Hyndman and Fan (1996) type 5 of the same 20 dates: 102, 112.5 and 128.
    odds = warm_soil_odds(yearly(DAYS_OF_20), levels=(0.1, 0.5, 0.9))
    npt.assert_allclose(odds["warm_soil_day"], [102, 112.5, 128])
    assert odds["known"] == 20
    assert odds["warm_soil_day"].attrs["units"] == "day of the year"


def test_interval_is_the_bootstraps():
    odds = warm_soil_odds(yearly(DAYS_OF_20), levels=(0.5,))
    oracle = stats.bootstrap(
        (np.array(DAYS_OF_20),),
        lambda sample, axis: np.quantile(sample, 0.5, axis=axis, method="hazen"),
        confidence_level=0.9,
        method="percentile",
        rng=np.random.default_rng(1),
    ).confidence_interval
    npt.assert_allclose(odds["warm_soil_low"], oracle.low, atol=1)
    npt.assert_allclose(odds["warm_soil_high"], oracle.high, atol=1)


def test_years_that_never_warm_are_endlessly_late():
    odds = warm_soil_odds(yearly([*DAYS_OF_20[:16], *[np.nan] * 4]), levels=(0.5, 0.7, 0.9))
    npt.assert_allclose(
        odds["warm_soil_day"][:2], np.quantile(DAYS_OF_20, [0.5, 0.7], method="hazen")
    )
    assert np.isnan(odds["warm_soil_day"][2])
    assert np.isnan(odds["warm_soil_high"][1])


def test_years_that_a_gap_hides_do_not_count():
    days = [*DAYS_OF_20, np.nan, np.nan]
    statuses = ["observed"] * 20 + ["unknown"] * 2
    npt.assert_array_equal(
        warm_soil_odds(yearly(days, statuses))["warm_soil_day"],
        warm_soil_odds(yearly(DAYS_OF_20))["warm_soil_day"],
    )
    hidden = warm_soil_odds(yearly([np.nan] * 3, ["unknown"] * 3))
    assert hidden["known"] == 0
    assert np.isnan(hidden["warm_soil_day"]).all()


@settings(deadline=None, max_examples=15)
@given(st.permutations(range(20)), st.integers(1, 60))
def test_order_of_years_does_not_matter_and_a_shift_shifts(order, later):
    days = np.array(DAYS_OF_20)
    plain, mixed = warm_soil_odds(yearly(days)), warm_soil_odds(yearly(days[list(order)]))
    moved = warm_soil_odds(yearly(days + later))
    for name in ("warm_soil_day", "warm_soil_low", "warm_soil_high"):
        npt.assert_array_equal(mixed[name], plain[name])
        npt.assert_allclose(moved[name], plain[name] + later)


def test_odds_of_stations_north_and_south_with_dask():
    both = side_by_side(weather(1, gaps=0.01), weather(2, coldest=202))
    first = coldest_day(both)
    dates = warm_soil_dates(soil_temperature(both["tmean"]), 8, first)
    odds = warm_soil_odds(dates)
    for n in range(2):
        alone = warm_soil_odds(dates.isel(station=n))
        npt.assert_array_equal(odds["warm_soil_day"][n], alone["warm_soil_day"])
    lazy = warm_soil_odds(dates.chunk(station=1))
    assert lazy["warm_soil_day"].chunks is not None
    npt.assert_array_equal(lazy["warm_soil_high"].compute(), odds["warm_soil_high"])


def test_odds_refuse_what_is_no_share():
    for levels in ((), (0.5, 1.0), (0,)):
        with pytest.raises(ValueError, match="levels are shares between 0 and 1"):
            warm_soil_odds(yearly(DAYS_OF_20), levels=levels)
