"""Day bands against a plain loop with NumPy's own quantiles, and against xclim."""

import numpy as np
import numpy.testing as npt
import pytest
import xarray as xr
from hypothesis import given, settings
from hypothesis import strategies as st
from records import (
    HALF_A_YEAR,
    common_years,
    daily,
    missing,
    moved,
    side_by_side,
    weather,
    weathers,
)

from climwin.climate.percentiles import PERCENTILES, day_bands
from climwin.core.errors import DataGapError
from climwin.core.seasons import DAYS, day_of_year
from climwin.core.stats import PLOTTING

SOME_DAYS = [1, 2, 7, 8, 52, 59, 60, 67, 110, 200, 358, 359, 364, 365]
"""Both ends of the year, and the days round 29 February."""


def plain_sample(da, day, half_width):
    """All values within some days of a day of the year; 29 February stands on 28 February."""
    apart = np.abs(day_of_year(da["time"]) - day)
    near = da.values[np.minimum(apart, DAYS - apart) <= half_width]
    return near[~np.isnan(near)]


@given(
    weathers(),
    st.integers(0, 20) | st.just(182),
    st.sampled_from(list(PLOTTING)),
    st.sampled_from([0.0, 0.01]),
)
@settings(max_examples=30)
def test_bands_are_numpys_quantiles_of_a_plain_sample(record, half_width, method, noise):
    # Whole tenths of a degree, of which many are alike, and values of which no two are.
    record = record + noise * np.random.default_rng(1).normal(size=record.sizes["time"])
    percentiles = np.array([0, 10, 33, 50, 90, 100])
    bands = day_bands(record["tmin"], percentiles, half_width, method=method)
    assert bands["tmin"].dims == ("day_of_year", "percentile")
    for day in SOME_DAYS:
        sample = plain_sample(record["tmin"], day, half_width)
        assert bands["sample_size"].values[day - 1] == len(sample)
        shares = percentiles / 100
        expected = np.quantile(sample, shares, method=method) if len(sample) else np.nan
        npt.assert_array_equal(bands["tmin"].values[day - 1], expected)


def test_every_day_of_a_real_record(clemson):
    # Real gaps, 29 Februaries and values that were whole degF, by default settings.
    bands = day_bands(clemson["tmean"])
    shares = np.array(PERCENTILES) / 100
    for day in range(1, DAYS + 1):
        sample = plain_sample(clemson["tmean"], day, 7)
        expected = np.nanquantile(sample, shares, method="median_unbiased")
        npt.assert_array_equal(bands["tmean"].sel(day_of_year=day), expected)


def test_part_of_the_year_without_values_is_missing():
    record = weather(1).where(lambda r: r["time"].dt.month != 6, drop=True)
    bands = day_bands(record["tmean"], half_width=7)
    empty = bands["sample_size"] == 0
    # June, but for the 7 days on either side that May and July reach.
    assert bands["day_of_year"].values[empty].tolist() == list(range(152 + 7, 181 - 7 + 1))
    npt.assert_array_equal(bands["tmean"].isnull().all("percentile"), empty)


def test_bands_are_xclims_where_both_take_the_same_days(champion):
    """xclim's own year has 366 days, onto which it stretches the bands of 365.

    In a calendar without leap days it does not. At the year's ends it takes the neighbouring days
    of the real sequence, so that the record's first days lack those before them; here they are the
    other end of the same years. Away from the ends the samples are the same, type 8 in both.
    """
    from xclim.core.calendar import percentile_doy

    record = common_years(champion)
    noleap = record["tmean"].convert_calendar("noleap", use_cftime=True)
    theirs = percentile_doy(noleap, window=15, per=list(PERCENTILES)).transpose("dayofyear", ...)
    away = slice(8, DAYS - 7)
    ours = day_bands(record["tmean"], half_width=7)["tmean"].sel(day_of_year=away)
    npt.assert_allclose(ours, theirs.sel(dayofyear=away), rtol=0, atol=1e-10)


# --- what must not matter -----------------------------------------------------------------


@given(weathers(), st.randoms(use_true_random=False))
@settings(max_examples=10)
def test_order_of_years_does_not_matter(record, random):
    record = common_years(record)
    years = np.unique(record["time"].dt.year)
    blocks = [record.sel(time=str(year)) for year in random.sample(list(years), len(years))]
    shuffled = xr.concat(blocks, "time").assign_coords(time=record["time"])
    xr.testing.assert_equal(day_bands(shuffled["tmin"]), day_bands(record["tmin"]))


@given(weathers())
@settings(max_examples=10)
def test_southern_bands_are_the_same_half_a_year_later(record):
    north, south = (day_bands(r["tmax"]) for r in (common_years(record), moved(record)))
    for name in ("tmax", "sample_size"):
        npt.assert_array_equal(np.roll(north[name], HALF_A_YEAR, axis=0), south[name])


@given(weathers(), st.floats(-5, 5))
@settings(max_examples=10)
def test_warmer_years_lift_every_band(record, warming):
    as_it_is, warmer = (day_bands(record["tmean"] + by)["tmean"] for by in (0, warming))
    npt.assert_allclose(warmer, as_it_is + warming, atol=1e-9)  # unknown in a gap, in both


def test_gap_changes_only_the_days_that_look_at_it():
    record = weather(2)
    whole, gap = (
        day_bands(r["tmin"])["sample_size"] for r in (record, missing(record, "2000-08-20"))
    )
    changed = whole["day_of_year"].values[(whole != gap).values]
    assert changed.tolist() == list(range(232 - 7, 232 + 7 + 1))


# --- stations, dask, labels ---------------------------------------------------------------


def test_stations_pass_through():
    alone = weather(1, gaps=0.02), weather(2, gaps=0.05, coldest=202)
    bands = day_bands(side_by_side(*alone)["tmin"])
    for n, record in enumerate(alone):
        own = day_bands(record["tmin"])
        xr.testing.assert_equal(bands.isel(station=n).drop_vars("station"), own)


def test_a_station_without_values_has_no_bands_beside_others():
    record = weather(1)
    bands = day_bands(side_by_side(record, record.where(False))["tmin"])
    assert bands.isel(station=1)["tmin"].isnull().all()
    assert (bands.isel(station=1)["sample_size"] == 0).all()
    npt.assert_array_equal(bands.isel(station=0)["tmin"], day_bands(record["tmin"])["tmin"])


def test_dask_stays_lazy():
    both = side_by_side(weather(1), weather(2))
    lazy = day_bands(both.chunk(station=1, time=200)["tmin"])
    assert lazy["tmin"].chunks is not None
    xr.testing.assert_equal(lazy.compute(), day_bands(both["tmin"]))


def test_bands_say_what_they_are():
    bands = day_bands(weather()["tmax"], (25, 75), 5, method="hazen")
    assert bands["tmax"].attrs["units"] == "degC"
    years = {"first_year": 1999, "last_year": 2002}
    assert bands.attrs == {"half_width_days": 5, "quantile_method": "hazen"} | years
    assert bands["percentile"].values.tolist() == [25, 75]


# --- errors -------------------------------------------------------------------------------


@pytest.mark.parametrize("percentiles", [(), (50, 101), (-1,), (np.nan,)])
def test_percentile_must_be_one(percentiles):
    with pytest.raises(ValueError, match="percentiles must lie between 0 and 100, got "):
        day_bands(weather()["tmin"], percentiles)


@pytest.mark.parametrize("half_width", [-1, 183])
def test_half_width_must_fit_the_year(half_width):
    with pytest.raises(ValueError, match=f"between 0 and 182 days, got {half_width}"):
        day_bands(weather()["tmin"], half_width=half_width)


def test_quantile_type_must_be_continuous():
    with pytest.raises(ValueError, match=r"one of .*hazen, .*median_unbiased.*got 'lower'"):
        day_bands(weather()["tmin"], method="lower")


def test_date_twice_is_refused():
    with pytest.raises(ValueError, match="the same date twice"):
        day_bands(daily(["2001-05-01", "2001-05-01"], tmin=[1, 2])["tmin"])


def test_record_without_a_day_is_refused():
    with pytest.raises(DataGapError, match="has no days at all"):
        day_bands(daily([], tmin=[])["tmin"])
