"""Day length, hourly temperatures and degree-days against what is published of them."""

from itertools import pairwise

import numpy as np
import numpy.testing as npt
import pandas as pd
import pytest
import xarray as xr
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.integrate import quad

from climwin.climate.heat import (
    HOURS,
    METHODS,
    day_length,
    degree_days,
    heat_since,
    hourly_temperatures,
    hours_within,
)
from climwin.core.seasons import ONE_DAY, day_number

PELLBROOK = 46.1


def series(values, name="tmin", start="2021-03-01"):
    time = pd.date_range(start, periods=np.shape(values)[-1]).astype("datetime64[s]")
    dims = ("station", "time")[-np.ndim(values) :]
    return xr.DataArray(
        np.asarray(values, float), dims=dims, coords={"time": time}, name=name, attrs=DEGC
    )


DEGC = {"units": "degC"}


def extremes(days=40, stations=None, start="2021-03-01"):
    """Invented weather of Pellbrook, the valley of the demos."""
    rng = np.random.default_rng(3)
    shape = (stations, days) if stations else (days,)
    tmin = rng.normal(4, 4, shape)
    tmax = tmin + rng.uniform(2, 15, shape)
    return series(tmin, "tmin", start), series(tmax, "tmax", start)


# --- day length ---------------------------------------------------------------------------

# Sunrise on 1 January 2002 by latitude, aa.quae.nl "The Position of the Sun: Tables", table 1.
# Noon is the same everywhere, so half the day is longer than at the equator (sunrise 6:00) by as
# much as the sun rises earlier. Read to the minute, three of them in each length: 0.03 h.
SUNRISE = {
    -60: (2, 43),
    -50: (3, 55),
    -40: (4, 35),
    -20: (5, 24),
    20: (6, 35),
    30: (6, 56),
    40: (7, 22),
    50: (7, 59),
}


@pytest.mark.parametrize("latitude", SUNRISE)
def test_day_length_matches_a_published_table_of_sunrise(latitude):
    hour, minute = SUNRISE[latitude]
    longer = 2 * (6 - hour - minute / 60)
    assert day_length(latitude, 1) - day_length(0, 1) == pytest.approx(longer, abs=0.03)


def test_day_length_of_the_evapotranspiration_guide():
    # FAO Irrigation and Drainage Paper 56, example 9: 20 degrees south, day 246, 11.7 h.
    assert round(day_length(-20, 246), 1) == 11.7


# The NREL solar position algorithm, computed with pvlib 0.16.1 for 2001; day 80, 172, 355. The
# model itself is up to 0.11 h off there, at the equinox.
@pytest.mark.parametrize(
    ("latitude", "hours"),
    [(40, (12.184, 15.017, 9.328)), (50, (12.230, 16.372, 8.073)), (60, (12.306, 18.869, 5.870))],
)
def test_day_length_is_near_the_solar_position_algorithm(latitude, hours):
    npt.assert_allclose(day_length(latitude, np.array([80, 172, 355])), hours, atol=0.12)


def test_poles_have_whole_days_and_whole_nights():
    npt.assert_array_equal(day_length(80, np.array([172, 355])), [24, 0])
    npt.assert_array_equal(day_length(-80, np.array([172, 355])), [0, 24])


def test_day_length_by_station():
    latitude = xr.DataArray([40.0, -40.0], dims="station")
    day = xr.DataArray([80, 172], dims="day")
    hours = day_length(latitude, day)
    assert hours.dims == ("station", "day")
    npt.assert_allclose(hours.sel(station=1), day_length(-40.0, day.values))


@pytest.mark.parametrize("latitude", [91, np.nan])
def test_refuses_a_latitude_beyond_the_pole(latitude):
    with pytest.raises(ValueError, match="between -90 and 90 degrees, got"):
        day_length(latitude, 1)


# --- hourly temperatures ------------------------------------------------------------------


def parton_logan(hour, length, today, yesterday, tomorrow):
    """The paper's curve, an hour at a time; `today` and its neighbours are (tmin, tmax)."""
    a, b, c = 1.86, 2.20, -0.17

    def by_day(since_minimum, low, high):
        return low + (high - low) * np.sin(np.pi * since_minimum / (length + 2 * a))

    def by_night(since_sunset, start, end):
        return end + (start - end) * np.exp(-b * since_sunset / (24 - length))

    dawn, dusk = 12 - length / 2 + c, 12 + length / 2
    if hour < dawn:
        return by_night(hour + 24 - dusk, by_day(length - c, *yesterday), today[0])
    if hour <= dusk:
        return by_day(hour - dawn, *today)
    return by_night(hour - dusk, by_day(length - c, *today), tomorrow[0])


def test_hours_of_the_published_form(monkeypatch):
    # Parton and Logan (1981), air at 1.5 m, day of 12 h, 10 to 30 degC: form and parameters read in
    # three stored codes, values computed from them.
    known = {0: 14.3368, 3: 12.5021, 6: 10.6793, 9: 21.8396, 12: 28.8701, 15: 29.3185, 18: 23.0284}
    known[21] = 17.5167
    monkeypatch.setattr("climwin.climate.heat.day_length", lambda _, day: 0 * day + 12.0)
    hours = hourly_temperatures(series([10] * 3), series([30] * 3, "tmax"), 0).isel(time=1)
    npt.assert_allclose(hours.sel(hour=list(known)), list(known.values()), atol=5e-5)
    for hour, celsius in known.items():
        assert parton_logan(hour, 12, *[(10, 30)] * 3) == pytest.approx(celsius, abs=5e-5)


def test_hours_hang_on_the_day_before_and_after():
    low, high = [4, 6, 1], [12, 20, 9]
    tmin, tmax = series(low, start="2021-06-20"), series(high, "tmax", start="2021-06-20")
    length = day_length(PELLBROOK, 172)
    yesterday, today, tomorrow = zip(low, high, strict=True)
    expected = [parton_logan(h, length, today, yesterday, tomorrow) for h in range(24)]
    hours = hourly_temperatures(tmin, tmax, PELLBROOK).isel(time=1)
    npt.assert_allclose(hours, expected, atol=0.01)  # day length of the neighbours: seconds


@settings(deadline=None, max_examples=50)
@given(st.floats(-89, 89), st.integers(1, 365))
def test_hours_stay_between_the_extremes_anywhere(latitude, day):
    start = pd.Timestamp("2021-01-01") + pd.Timedelta(day - 2, "D")
    tmin, tmax = series([5] * 3, start=start), series([15] * 3, "tmax", start=start)
    hours = hourly_temperatures(tmin, tmax, latitude).isel(time=1)
    assert 5 <= hours.min() < 8
    assert 14.8 < hours.max() <= 15


@settings(deadline=None, max_examples=25)
@given(st.floats(-20, 30), st.floats(0.5, 4))
def test_hours_shift_and_scale_with_the_extremes(shift, scale):
    tmin, tmax = extremes()
    plain = hourly_temperatures(tmin, tmax, PELLBROOK)
    moved = [(scale * t + shift).assign_attrs(DEGC) for t in (tmin, tmax)]
    npt.assert_allclose(
        hourly_temperatures(*moved, PELLBROOK), scale * plain + shift, atol=1e-9, equal_nan=True
    )


def test_a_gap_hides_the_hours_that_hang_on_it():
    tmin, tmax = series([5] * 7), series([15] * 7, "tmax")
    tmin[3] = np.nan
    hours = hourly_temperatures(tmin, tmax, PELLBROOK)
    hidden = np.isnan(hours.values).sum(axis=-1)
    assert hidden[3] == HOURS
    evening = np.isnan(hours.values[2])
    assert list(np.flatnonzero(evening)) == list(range(18, 24))  # after sunset
    night = np.isnan(hours.values[4])
    assert list(np.flatnonzero(night)) == list(range(7))
    npt.assert_array_equal(hidden == 0, [False, True, False, False, False, True, False])


def test_a_day_left_out_of_the_record_is_a_gap():
    tmin, tmax = extremes(10)
    missing = tmin.copy()
    missing[5] = np.nan
    left_out = tmin["time"] != tmin["time"][5]
    npt.assert_array_equal(
        hours_within(tmin[left_out], tmax[left_out], PELLBROOK, low=8),
        hours_within(missing, tmax, PELLBROOK, low=8)[left_out],
    )


def test_hours_above_and_below_and_within():
    tmin, tmax = extremes(400)
    hourly = hourly_temperatures(tmin, tmax, PELLBROOK).isel(time=slice(1, -1))
    inner = slice(1, -1)
    above = hours_within(tmin, tmax, PELLBROOK, low=10)[inner]
    below = hours_within(tmin, tmax, PELLBROOK, high=5)[inner]
    within = hours_within(tmin, tmax, PELLBROOK, low=5, high=10)[inner]
    npt.assert_array_equal(above, [sum(t >= 9.95 for t in day) for day in hourly.values])
    npt.assert_array_equal(below, [sum(t <= 5.05 for t in day) for day in hourly.values])
    npt.assert_array_equal(within, [sum(4.95 <= t <= 10.05 for t in d) for d in hourly.values])
    assert above.attrs["units"] == "h"


def test_south_of_the_equator_the_long_days_are_in_december():
    tmin, tmax = series([5] * 3, start="2021-12-20"), series([20] * 3, "tmax", start="2021-12-20")
    north, south = (hourly_temperatures(tmin, tmax, lat).isel(time=1) for lat in (45, -45))
    assert south.sel(hour=6) > 7 > north.sel(hour=7)
    june = tmin["time"] - np.timedelta64(182, "D")  # half a year back
    back = [t.assign_coords(time=june) for t in (tmin, tmax)]
    npt.assert_allclose(south, hourly_temperatures(*back, 45).isel(time=1), atol=0.2)


def test_hours_of_many_stations_each_at_its_latitude():
    tmin, tmax = extremes(stations=3)
    latitude = xr.DataArray([10.0, -35.0, 60.0], dims="station")
    for result in (
        hourly_temperatures(tmin, tmax, latitude),
        hours_within(tmin, tmax, latitude, low=5, high=12),
    ):
        assert result.dims[:2] == ("station", "time")
    for i, lat in enumerate(latitude.values):
        alone = hours_within(tmin[i], tmax[i], float(lat), low=5, high=12)
        npt.assert_array_equal(result[i], alone)


def test_hours_stay_lazy_with_dask():
    tmin, tmax = extremes(stations=3)
    lazy = [t.chunk(station=1, time=15) for t in (tmin, tmax)]
    for count in (hourly_temperatures, hours_within):
        kwargs = {"low": 5} if count is hours_within else {}
        result = count(*lazy, PELLBROOK, **kwargs)
        assert result.chunks is not None
        npt.assert_array_equal(result.compute(), count(tmin, tmax, PELLBROOK, **kwargs))


def test_refuses_limits_out_of_order_and_foreign_units():
    tmin, tmax = extremes(3)
    with pytest.raises(ValueError, match="low must lie below high, got low=9 and high=3"):
        hours_within(tmin, tmax, PELLBROOK, low=9, high=3)
    with pytest.raises(ValueError, match="'tmax' must be in degC, got 'degF'"):
        hourly_temperatures(tmin, tmax.assign_attrs(units="degF"), PELLBROOK)
    with pytest.raises(ValueError, match="'tmin' must be in degC, got None"):
        degree_days(tmin.drop_attrs(), tmax, 5)


# --- degree-days --------------------------------------------------------------------------

# McMaster and Wilhelm (1997), table 1, base 0 degC, as held in the tests of the R package degday:
# tmax, tmin, method 1, method 2.
TABLE_1 = [
    (20, 10, 15.0, 15.0),
    (10, 1, 5.5, 5.5),
    (8, -2, 3.0, 4.0),
    (6, 0, 3.0, 3.0),
    (10, 5, 7.5, 7.5),
    (5, -5, 0.0, 2.5),
    (-2, -7, 0.0, 0.0),
    (-5, -10, 0.0, 0.0),
    (10, -2, 4.0, 5.0),
    (15, 2, 8.5, 8.5),
]

# Zalom et al. (1983), table 7, single sine, 55 and 90 degF, as held in the same tests: tmin, tmax,
# degree-days, all degF.
TABLE_7 = [
    (96, 110, 35.0),
    (91, 105, 35.0),
    (45, 54, 0.0),
    (38, 50, 0.0),
    (60, 80, 15.0),
    (75, 88, 26.5),
    (50, 82, 11.85),
    (45, 70, 5.31),
    (60, 100, 22.82),
    (75, 95, 28.91),
    (50, 101, 18.95),
    (48, 95, 16.96),
]

# Corn, 50 and 86 degF: Waushara Argus 2018 (first three), Ohio State Extension 2023, Iowa State
# Agronomy 541 lesson 2b (the last two, the most a day can give among them): low, high, degree-days.
CORN = [(65, 90, 25.5), (46, 72, 11.0), (42, 63, 6.5), (63, 87, 24.5), (50, 70, 10.0), (86, 86, 36)]


def fahrenheit(table):
    low, high, total = np.array(table, float).T
    return series((low - 32) / 1.8), series((high - 32) / 1.8, "tmax"), total


def test_means_match_mcmaster_and_wilhelm():
    high, low, first, second = np.array(TABLE_1).T
    tmin, tmax = series(low), series(high, "tmax")
    npt.assert_allclose(degree_days(tmin, tmax, 0, method="mean"), first)
    npt.assert_allclose(degree_days(tmin, tmax, 0, method="clipped mean"), second)


def test_single_sine_matches_zalom():
    tmin, tmax, expected = fahrenheit(TABLE_7)
    found = degree_days(tmin, tmax, (55 - 32) / 1.8, upper=(90 - 32) / 1.8) * 1.8
    npt.assert_allclose(found, expected, atol=0.0051)  # printed to two decimals


def test_clipped_mean_matches_corn():
    tmin, tmax, expected = fahrenheit(CORN)
    found = degree_days(tmin, tmax, 10, upper=30, method="clipped mean") * 1.8
    npt.assert_allclose(found, expected, atol=1e-9)


def test_sine_above_its_own_mean():
    # Baskerville and Emin's closed form with the base at the mean: the half range over pi.
    found = degree_days(series([5]), series([15], "tmax"), 10)
    assert found.item() == pytest.approx(5 / np.pi, abs=1e-12)


@settings(deadline=None, max_examples=60)
@given(st.floats(-20, 30), st.floats(0, 25), st.floats(-5, 15), st.floats(1, 30))
def test_single_sine_matches_the_integral(low, spread, base, room):
    def held(u):
        celsius = low + spread / 2 + spread / 2 * np.sin(2 * np.pi * u)
        return min(max(celsius, base), base + room) - base

    # Half a day, cut where the wave crosses a limit: across a bend the rule of `quad` gives up.
    half = spread / 2
    crossed = [each - low - half for each in (base, base + room)]
    bends = [np.arcsin(each / half) / (2 * np.pi) for each in crossed if abs(each) < half]
    integral = 2 * sum(quad(held, *piece)[0] for piece in pairwise([-0.25, *bends, 0.25]))
    found = degree_days(series([low]), series([low + spread], "tmax"), base, upper=base + room)
    assert found.item() == pytest.approx(integral, abs=2e-5)


@settings(deadline=None, max_examples=40)
@given(st.sampled_from(sorted(METHODS)), st.floats(-30, 15), st.floats(0.2, 2))
def test_degree_days_scale_and_do_not_shift_with_the_units(method, shift, scale):
    tmin, tmax = extremes()
    plain = degree_days(tmin, tmax, 3, upper=12, method=method)
    moved = [(scale * t + shift).assign_attrs(DEGC) for t in (tmin, tmax)]
    limits = [scale * limit + shift for limit in (3, 12)]
    found = degree_days(*moved, limits[0], upper=limits[1], method=method)
    npt.assert_allclose(found, scale * plain, atol=1e-6)


@settings(deadline=None, max_examples=40)
@given(st.sampled_from(sorted(METHODS)), st.floats(-10, 20), st.floats(0.1, 5))
def test_a_higher_base_never_counts_more(method, base, step):
    tmin, tmax = extremes()
    lower, higher = (degree_days(tmin, tmax, b, method=method) for b in (base, base + step))
    assert (higher <= lower + 1e-9).all()
    assert (higher >= 0).all()


@pytest.mark.parametrize("method", METHODS)
def test_degree_days_of_stations_with_dask_and_a_gap(method):
    tmin, tmax = extremes(stations=2)
    tmin[1, 7] = np.nan
    tmax[0, 3] = np.nan
    found = degree_days(tmin, tmax, 5, method=method)
    npt.assert_array_equal(np.isnan(found), np.isnan(tmin) | np.isnan(tmax))
    lazy = degree_days(tmin.chunk(station=1), tmax.chunk(station=1), 5, method=method)
    assert lazy.chunks is not None
    npt.assert_array_equal(lazy.compute(), found)
    assert found.attrs["units"] == "degC day"
    assert method in found.attrs["method"]


def test_degree_days_refuse_unknown_methods_and_limits_out_of_order():
    tmin, tmax = extremes(3)
    allowed = "mean, clipped mean, single sine; got 'double sine'"
    with pytest.raises(ValueError, match=allowed):
        degree_days(tmin, tmax, 5, method="double sine")
    with pytest.raises(ValueError, match="upper must lie above base, got base=10 and upper=5"):
        degree_days(tmin, tmax, 10, upper=5)


# --- heat come together -------------------------------------------------------------------


def since(values, first_day, start="2023-11-20"):
    """The same in a plain loop over the days of a record without gaps."""
    sums, total = [], np.nan
    for n, value in enumerate(values):
        date = np.datetime64(start) + n * ONE_DAY
        if str(date)[5:] == first_day:
            total = 0.0
        total += value
        sums.append(total)
    return sums


@pytest.mark.parametrize("first_day", ["01-01", "02-28", "07-01"])
def test_heat_comes_together_from_a_day_of_every_year(first_day):
    values = np.random.default_rng(3).uniform(0, 12, 1000)  # over 29 February 2024
    heat = series(values, start="2023-11-20")
    npt.assert_allclose(heat_since(heat, first_day), since(values, first_day))
    npt.assert_array_equal(heat_since(heat, day_number(first_day)), heat_since(heat, first_day))


def test_heat_is_unknown_from_a_gap_to_the_next_beginning():
    values = np.ones(900)
    heat = series(values, start="2022-12-30")
    whole = heat_since(heat)
    assert np.isnan(whole[:2]).all()
    npt.assert_array_equal(whole.sel(time="2023"), np.arange(1, 366))
    blank = heat.copy()
    blank.loc["2023-05-10"] = np.nan
    for gapped in (blank, heat.drop_sel(time="2023-05-10")):  # without a value, without its day
        found = heat_since(gapped)
        npt.assert_array_equal(found.sel(time=slice("2023-01-01", "2023-05-09")), np.arange(1, 130))
        assert np.isnan(found.sel(time=slice("2023-05-10", "2023-12-31"))).all()
        npt.assert_array_equal(found.sel(time="2024"), np.arange(1, 367))
    unbegun = heat_since(heat.drop_sel(time="2023-01-01"))
    assert np.isnan(unbegun.sel(time="2023")).all()


@settings(deadline=None, max_examples=30)
@given(st.floats(0, 5), st.integers(1, 365))
def test_a_warmer_year_brings_no_less_heat_together(warmer, first_day):
    tmin, tmax = extremes(500)
    cool, warm = (
        heat_since(degree_days(tmin + by, tmax + by, 5), first_day) for by in (0.0, warmer)
    )
    assert not (warm < cool - 1e-9).any()


def test_heat_of_stations_comes_together_lazily_too():
    tmin, tmax = extremes(400, stations=2)
    heat = degree_days(tmin, tmax, 5)
    found = heat_since(heat, "06-01")
    lazy = heat_since(heat.chunk(station=1), "06-01")
    assert lazy.chunks is not None
    npt.assert_array_equal(lazy.compute(), found)
    npt.assert_array_equal(found.isel(station=1), heat_since(heat.isel(station=1), "06-01"))
    assert (found.attrs["units"], found.attrs["first_day"]) == ("degC day", 152)


def test_heat_does_not_come_together_from_no_day():
    with pytest.raises(ValueError, match="A day of the year lies between 1 and 365, got 366"):
        heat_since(series(np.ones(4)), 366)
    with pytest.raises(ValueError, match="holds the same date twice"):
        heat_since(xr.concat([series(np.ones(4))] * 2, "time"))
