"""Trends and shifts against SciPy and published examples; periods against plain slices."""

import numpy as np
import numpy.testing as npt
import pytest
import xarray as xr
from hypothesis import given, settings
from hypothesis import strategies as st
from records import HALF_A_YEAR, common_years, moved, side_by_side, weather, weathers
from scipy import stats as scipy_stats

from climwin.climate.freeze import freeze_chance, freeze_dates, freeze_odds
from climwin.climate.percentiles import day_bands
from climwin.climate.trends import (
    compare_halves,
    compare_periods,
    describe_trend,
    hodges_lehmann,
    trend,
)
from climwin.climate.windows import odds_shorter, usable_windows
from climwin.core.stats import mann_kendall
from climwin.crops.model import Limits

BAND = Limits(low_c=8, high_c=20, source="invented")
NUMBERS = st.lists(st.integers(-60, 200).map(float), min_size=3, max_size=40)
# A published exercise of Mann and Kendall's test, worked by hand: S = 54, Z = 2.9058, p = 0.00366
# (mathcs.holycross.edu/~little/Montserrat/MannKendallByHand.txt, read).
WORKED = [12.9, 14.8, 13.2, 15.7, 13.8, 15.6, 12.9, 11, 17.3, 15.9, 19, 18.3, 20.1, 21.7]


def yearly(values, first=1985, **attrs):
    """A value a year."""
    years = np.arange(first, first + len(values))
    return xr.DataArray(np.array(values), {"season": years}, ["season"], "found", attrs)


def dates(seasons, days):
    """Dates of the seasons of some years."""
    return xr.DataArray(np.array(days, "datetime64[s]"), {"season": seasons}, ["season"], "date")


# --- trend --------------------------------------------------------------------------------


def test_trend_of_a_published_exercise():
    found = trend(yearly(WORKED, units="degC"))
    slope, low, high = (float(found[name]) / 10 for name in ("slope", "low", "high"))
    assert slope == pytest.approx(0.566667, abs=5e-7)  # as computed from this series by SciPy 1.17
    for end in (low, high):  # a slope at the end of the interval is one that the test barely allows
        left = trend(yearly(WORKED - end * np.arange(14), units="degC"))
        assert float(left["p"]) == pytest.approx(0.1, abs=2e-3)
    # Taken as independent its p is 0.00366; years that may take after each other say less.
    assert mann_kendall(np.array(WORKED)) == pytest.approx(0.00366, abs=5e-6)
    assert 0.00366 < float(found["p"]) < 0.1
    assert int(found["known"]) == 14
    assert found["slope"].attrs["units"] == "degC per decade"
    assert found.attrs["years"] == "1985-1998"


@pytest.mark.parametrize(
    ("season", "date", "day"),
    [
        (2000, "2000-01-01", 1),
        (2000, "2000-02-29", 59),  # joins 28 February
        (2000, "2000-12-31", 365),
        (2000, "1999-12-31", 0),  # of a southern spring
        (2000, "2001-01-02", 367),  # of a late autumn
        (2001, "2001-03-01", 60),
    ],
)
def test_dates_are_days_from_january_of_their_own_year(season, date, day):
    one = dates([season - 1, season, season + 1], ["NaT", date, "NaT"])
    found = compare_halves(one.isel(season=[1, 1]).assign_coords(season=[season, season]))
    assert float(found["early"]) == day
    assert found["early"].attrs["units"] == "day of the year"
    assert found["difference"].attrs["units"] == "days"


@given(weathers(years=4))
@settings(max_examples=10)
def test_trend_of_dates_is_that_of_their_days(record):
    for found in (freeze_dates(record), freeze_dates(moved(record))):
        for name in ("last_spring", "first_autumn"):
            for function in (trend, compare_halves):
                days = function(found[f"{name}_day"])
                xr.testing.assert_equal(function(found[name]), days)
                assert days.attrs == function(found[name]).attrs
        assert trend(found["last_spring"])["slope"].attrs["units"] == "days per decade"


@given(NUMBERS, st.randoms(use_true_random=False))
@settings(max_examples=30)
def test_order_in_which_years_stand_does_not_matter(values, random):
    one = yearly(values)
    order = random.sample(range(len(values)), len(values))
    for function in (trend, compare_halves):
        xr.testing.assert_identical(function(one.isel(season=order)), function(one))


@given(NUMBERS, st.integers(-40, 40), st.sampled_from([0.5, 1.8, 25.4]))
@settings(max_examples=30)
def test_units_change_nothing_but_the_scale(values, shift, scale):
    one, other = trend(yearly(values)), trend(yearly(values) * scale + shift)
    for name in ("slope", "low", "high"):
        npt.assert_allclose(other[name], scale * one[name], atol=1e-9)
    npt.assert_allclose(other["p"], one["p"], rtol=1e-6)  # to rounding of the scaled values
    early, late = compare_halves(yearly(values)), compare_halves(yearly(values) * scale + shift)
    npt.assert_allclose(late["difference"], scale * early["difference"], atol=1e-9)


def test_year_without_a_value_is_left_out_and_keeps_its_place():
    whole = yearly(WORKED)
    gap = whole.where(whole["season"] != 1990)
    found = trend(gap)
    xr.testing.assert_equal(found, trend(whole.drop_sel(season=1990)))
    assert int(found["known"]) == 13


def test_trend_of_too_few_years_is_missing():
    found = trend(yearly([1.0, np.nan, 2.0]))
    assert np.isnan([found[n] for n in ("slope", "low", "high", "p")]).all()
    assert int(found["known"]) == 2


def test_trend_of_a_length_is_that_beside_the_odds_of_too_short_a_window():
    windows = usable_windows(weather(3, years=8), BAND)
    odds, found = odds_shorter(windows, 100), trend(windows["length"])
    names = {"trend": "slope", "trend_low": "low", "trend_high": "high", "trend_p": "p"}
    for theirs, ours in names.items():
        npt.assert_array_equal(odds[theirs], found[ours])
        assert odds[theirs].attrs.get("units", "1") == found[ours].attrs["units"]


# --- early against late -------------------------------------------------------------------

# Hollander, Wolfe and Chicken's example: Hodges and Lehmann's shift 0.5600, asymptotic 95 % limits
# (Moses) -0.3700 and 1.1830, by SAS (psiaims.github.io/CAMIS/SAS/nparestimate.html, read).
ONE = np.array([1.83, 0.50, 1.62, 2.48, 1.68, 1.88, 1.55, 3.06, 1.30])
OTHER = np.array([0.878, 0.647, 0.598, 2.050, 1.060, 1.290, 1.060, 3.140, 1.290])


def test_shift_of_a_published_example():
    npt.assert_allclose(hodges_lehmann(OTHER, ONE, 0.95), (0.56, -0.37, 1.183), atol=5e-5)


@given(st.integers(3, 25), st.integers(3, 25), st.integers(0, 2**32 - 1))
@settings(max_examples=50)
def test_interval_holds_the_shifts_that_scipys_test_does_not_reject(m, n, seed):
    rng = np.random.default_rng(seed)
    early, late = rng.normal(0, 5, m), rng.normal(2, 5, n)
    shift, low, high = hodges_lehmann(early, late)

    def p(by):
        return scipy_stats.mannwhitneyu(late - by, early, method="asymptotic").pvalue

    step = 1e-9
    assert p(low - step) <= 0.1 < p(low + step)
    assert p(high + step) <= 0.1 < p(high - step)
    assert p(shift) > 0.9


@pytest.mark.parametrize("size", [4, 7, 15, 20])
def test_interval_is_as_wide_as_the_exact_test_wants_it(size):
    early = np.arange(size) * 1000.0
    late = early + np.linspace(0.1, 0.9, size) ** 2  # differences without a tie
    _, low, high = hodges_lehmann(early, late)
    for outside, inside in ((low - 1e-6, low + 1e-6), (high + 1e-6, high - 1e-6)):
        tests = [
            scipy_stats.mannwhitneyu(late - d, early, method="exact") for d in (outside, inside)
        ]
        assert tests[0].pvalue <= 0.1 < tests[1].pvalue


def test_samples_too_small_for_an_interval():
    shift, low, high = hodges_lehmann(np.array([1.0, 2.0]), np.array([4.0, 5.0]))
    assert shift == 3
    assert np.isnan([low, high]).all()
    assert np.isnan(hodges_lehmann(np.array([]), np.array([4.0]))).all()


def test_halves_by_hand():
    # Seven years: the middle one, 1988, stands in neither half; one late year is missing.
    found = compare_halves(yearly([100, 104, 110, 500, 90, np.nan, 96.0], units="day of the year"))
    # Differences: -10, -4, -14, -8, -20, -14; in order -20 -14 -14 -10 -8 -4.
    values = {"early": 104, "late": 93, "difference": -12, "early_known": 3, "late_known": 2}
    for name, value in values.items():
        assert float(found[name]) == value
    assert found.attrs["early_years"] == "1985-1987"
    assert found.attrs["late_years"] == "1989-1991"
    assert found["early"].attrs["units"] == "day of the year"
    assert found["difference"].attrs["units"] == "days"


@given(NUMBERS)
@settings(max_examples=30)
def test_time_turned_round_turns_the_shift_round(values):
    on, back = compare_halves(yearly(values)), compare_halves(yearly(values[::-1]))
    for one, other in (("difference", "difference"), ("low", "high"), ("high", "low")):
        npt.assert_array_equal(back[one], -on[other])
    npt.assert_array_equal(back["early"], on["late"])


def test_one_year_has_no_halves():
    found = compare_halves(yearly([4.0]))
    assert np.isnan(found["difference"])
    assert found.attrs["early_years"] == ""


# --- both: stations, dask, what is refused ------------------------------------------------


@pytest.mark.parametrize("function", [trend, compare_halves])
def test_stations_pass_through(function):
    alone = weather(1, years=6, gaps=0.02), weather(2, years=6, coldest=202)
    both = freeze_dates(side_by_side(*alone))
    for name in ("last_spring", "freeze_free_days"):
        found = function(both[name])
        for n in range(2):
            own = function(both[name].isel(station=n))
            xr.testing.assert_equal(found.isel(station=n), own)


@pytest.mark.parametrize("function", [trend, compare_halves])
def test_dask_stays_lazy(function):
    lengths = usable_windows(side_by_side(weather(1), weather(2)), BAND)["length"]
    lazy = function(lengths.chunk(station=1, season=2))
    assert all(da.chunks is not None for da in lazy.values())
    xr.testing.assert_equal(lazy.compute(), function(lengths))


def test_years_of_a_calendar_will_do():
    by_calendar = yearly(WORKED).rename(season="year")
    xr.testing.assert_equal(trend(by_calendar), trend(yearly(WORKED)))


@pytest.mark.parametrize("function", [trend, compare_halves])
def test_values_without_years_are_refused(function):
    with pytest.raises(
        ValueError, match=r"along season or year; got the dimensions time.*freeze_dat"
    ):
        function(weather()["tmin"])
    with pytest.raises(ValueError, match="numbers or dates; 'last_spring_status' has <U8"):
        function(freeze_dates(weather())["last_spring_status"])


# --- in words -----------------------------------------------------------------------------


def test_words_of_a_clear_trend():
    found = trend(yearly(-np.array(WORKED), units="day of the year"))
    text = describe_trend(found, "Last spring freeze")
    assert text.startswith("Last spring freeze: 5.7 days per decade earlier (likely \N{MINUS SIGN}")
    ends = [f"{float(found[end]):.1f}".replace("-", "\N{MINUS SIGN}") for end in ("low", "high")]
    assert f"(likely {' to '.join(ends)}, from 14 years)" in text
    assert text.endswith("A trend of the past need not go on, and does not say what caused it.")


@pytest.mark.parametrize(
    ("units", "way"), [("days", "longer"), ("degC", "higher"), ("day of the year", "later")]
)
def test_words_for_the_way_it_goes(units, way):
    said = describe_trend(trend(yearly(WORKED, units=units)), "It")
    assert f" {'°C' if units == 'degC' else 'days'} per decade {way} (" in said


def test_words_of_no_clear_trend():
    text = describe_trend(trend(yearly([3.0, 1, 2, 5, 1, 4], units="days")), "Window")
    assert text.startswith("Window: no clear trend; ")
    assert text.endswith("That does not prove that nothing changes.")


def test_words_of_too_few_years():
    assert (
        describe_trend(trend(yearly([3.0, 1])), "Window")
        == "Window: too few years to speak of a trend."
    )


def test_words_are_of_one_place():
    found = trend(freeze_dates(side_by_side(weather(1), weather(2)))["last_spring"])
    with pytest.raises(ValueError, match=r"One trend at a time: choose from station with \.isel"):
        describe_trend(found, "Last spring freeze")


# --- periods ------------------------------------------------------------------------------


def test_periods_are_plain_slices_of_the_record():
    record = weather(5, years=8)  # 1999 to 2006
    found = compare_periods(freeze_odds, record, latest=(5, 3))
    assert found["period"].values.tolist() == ["1999-2006", "2002-2006", "2004-2006"]
    for label, part in zip(found["period"].values, ("1999", "2002", "2004"), strict=True):
        own = freeze_odds(record.sel(time=slice(part, None)))
        xr.testing.assert_equal(found.sel(period=label).drop_vars("period"), own)
    assert found.attrs["method"] == "ranked"


@given(weathers(years=4), st.integers(1, 6))
@settings(max_examples=10)
def test_latest_years_of_yearly_results_are_whole_in_both_hemispheres(record, latest):
    for place in (common_years(record), moved(record)):
        found = freeze_dates(place)
        seasons = found["season"].values
        both = compare_periods(freeze_chance, found, latest=[latest])
        last = found.isel(season=slice(-latest, None))
        npt.assert_array_equal(
            both.isel(period=-1)["last_spring"], freeze_chance(last)["last_spring"]
        )
        assert both.sizes["period"] == (2 if latest < len(seasons) else 1)


def test_southern_periods_are_the_northern_half_a_year_later():
    north, south = (
        compare_periods(freeze_chance, freeze_dates(place), latest=[2])["last_spring"]
        for place in (common_years(weather(2, years=5)), moved(weather(2, years=5)))
    )
    # The moved record begins half a year later; its seasons carry the year of their middle.
    npt.assert_array_equal(np.roll(north.isel(period=-1), HALF_A_YEAR), south.isel(period=-1))


def test_any_function_of_arrays_will_do():
    windows = usable_windows(weather(4, years=6), BAND)
    found = compare_periods(trend, windows["length"], latest=(4,))
    xr.testing.assert_equal(
        found.isel(period=1, drop=True), trend(windows["length"].isel(season=slice(-4, None)))
    )
    mean = compare_periods(
        lambda tmean: tmean.mean("time"), weather(4, years=3)["tmean"], latest=(1,)
    )
    assert mean.dims == ("period",)
    odds = compare_periods(lambda w: odds_shorter(w, 100), windows, latest=(3,))
    latest = odds_shorter(windows.isel(season=slice(-3, None)), 100)
    npt.assert_array_equal(odds["low"].isel(period=1), latest["low"])
    npt.assert_array_equal(odds["low"].isel(period=0), odds_shorter(windows, 100)["low"])


def test_results_by_season_stand_in_their_own_periods():
    found = compare_periods(freeze_dates, weather(1), latest=(2,))
    held = found["last_spring_day"].notnull().sum("season")
    assert held.values.tolist() == [4, 2]


def test_periods_as_long_as_the_record_are_left_out():
    found = compare_periods(freeze_odds, weather(years=4))
    assert found["period"].values.tolist() == ["1999-2002"]


def test_gap_of_the_early_years_does_not_reach_the_latest():
    record = weather(2, years=4)
    gap = record.where(record["time"].dt.year != 1999)
    whole, less = (
        compare_periods(freeze_odds, r, latest=(2,)).isel(period=1) for r in (record, gap)
    )
    xr.testing.assert_equal(less, whole)


def test_periods_of_stations_on_dask():
    both = side_by_side(weather(1), weather(2))
    lazy = compare_periods(lambda d: day_bands(d["tmin"]), both.chunk(station=1), latest=(2,))
    assert lazy["tmin"].chunks is not None
    assert lazy["tmin"].dims == ("period", "station", "day_of_year", "percentile")
    xr.testing.assert_equal(
        lazy.compute(), compare_periods(lambda d: day_bands(d["tmin"]), both, latest=(2,))
    )


def test_number_of_latest_years_must_be_positive():
    with pytest.raises(ValueError, match=r"numbers of years, 1 or more, got 30, 0"):
        compare_periods(freeze_odds, weather(), latest=(30, 0))


def test_periods_need_days_or_years():
    with pytest.raises(ValueError, match="along season or year; got the dimensions day_of_year"):
        compare_periods(lambda bands: bands, day_bands(weather()["tmin"])["sample_size"])
