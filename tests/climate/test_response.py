"""Responses to temperature against worked examples, an independent integral and hourly readings."""

import timeit
from itertools import pairwise

import numpy as np
import numpy.testing as npt
import pandas as pd
import pytest
import xarray as xr
from agreement import hours as measured
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import quad

from climwin.climate.heat import day_length
from climwin.climate.response import (
    daily_response,
    hourly_curve,
    loss_of_day,
    mean_above,
    temperature_response,
    thermal_time,
    trapezoid,
)
from climwin.crops.model import Cardinal

PELLBROOK = 46.1
TOMATO = (7.0, 22.0, 28.0, 38.0)


def cardinal(base=7.0, optimum_from=22.0, optimum_to=28.0, maximum=38.0):
    return Cardinal(
        base_c=base,
        optimum_from_c=optimum_from,
        optimum_to_c=optimum_to,
        maximum_c=maximum,
        source="common practice",
    )


def series(values, name="tmin", start="2021-03-01"):
    time = pd.date_range(start, periods=np.shape(values)[-1]).astype("datetime64[s]")
    dims = ("station", "time")[-np.ndim(values) :]
    attrs = {"units": "degC"}
    return xr.DataArray(
        np.asarray(values, float), dims=dims, coords={"time": time}, name=name, attrs=attrs
    )


def extremes(days=400, stations=None, seed=3):
    """Invented weather of Pellbrook, the valley of the demos."""
    rng = np.random.default_rng(seed)
    shape = (stations, days) if stations else (days,)
    tmin = 6 - 9 * np.cos(2 * np.pi * (np.arange(days) + 40) / 365) + rng.normal(0, 4, shape)
    return series(tmin), series(tmin + rng.uniform(2, 18, shape), "tmax")


# --- the forms ----------------------------------------------------------------------------


def test_trapezoid_matches_worked_examples():
    npt.assert_allclose(trapezoid(np.array([12.0, 18, 25, 33]), *TOMATO), [1 / 3, 11 / 15, 1, 0.5])
    # EcoCrop's suitability, 7 to 35 with the best from 20 to 27 degC, is the same form.
    npt.assert_allclose(trapezoid(np.array([12.0, 33]), 7, 20, 27, 35), [0.3846, 0.25], atol=5e-5)


@given(st.floats(-30, 60), st.floats(0.01, 3))
def test_trapezoid_is_a_rise_a_rest_and_a_fall(celsius, step):
    here, there = trapezoid(np.array([celsius, celsius + step]), *TOMATO)
    assert 0 <= here <= 1
    if celsius + step <= 22:
        assert there >= here
    elif celsius >= 28:
        assert there <= here
    elif celsius >= 22 and celsius + step <= 28:
        assert here == there == 1


# --- the day's curve ----------------------------------------------------------------------


def curve_at(hour, low, high, next_low, before_high, sunrise):
    """The day's curve at any moment, written out: two halves of a cosine."""
    fall = 24 + sunrise - 15
    if hour < sunrise:
        return low + (before_high - low) * (1 + np.cos(np.pi * (hour + 9) / fall)) / 2
    if hour < 15:
        return low + (high - low) * (1 - np.cos(np.pi * (hour - sunrise) / (15 - sunrise))) / 2
    return next_low + (high - next_low) * (1 + np.cos(np.pi * (hour - 15) / fall)) / 2


def test_hours_are_the_curve_written_out():
    tmin, tmax = np.array([4.0, 6, 1]), np.array([12.0, 20, 9])
    hours = hourly_curve(tmin, tmax, 15.0)[1]
    expected = [curve_at(h + 0.5, 6, 20, 1, 12, 4.5) for h in range(24)]
    npt.assert_allclose(hours, expected)
    assert hours.argmax() in (14, 15)
    assert hours[:12].argmin() == 4


def test_a_day_of_hours_is_not_its_mean():
    # Two days alike, 14 h long; mean of the trapezoid by the day's mean and by its hours, and
    # degree-days above 10 degC; computed with a program that shares no code with this one.
    for low, high, by_mean, by_hours in ((2, 16, 0.133, 0.222), (20, 36, 1.0, 0.724)):
        hours = hourly_curve(np.full(3, low), np.full(3, high), 14.0)
        assert trapezoid(np.mean([low, high]), *TOMATO) == pytest.approx(by_mean, abs=5e-4)
        assert daily_response(hours, TOMATO)[1] == pytest.approx(by_hours, abs=5e-4)
    hours = hourly_curve(np.full(3, 2.0), np.full(3, 16.0), 14.0)
    assert np.clip(hours[1] - 10, 0, None).mean() == pytest.approx(1.74, abs=5e-3)


@given(st.floats(-15, 25), st.floats(0, 25), st.floats(-5, 5), st.floats(-5, 5), st.floats(3, 21))
def test_mean_of_hours_is_the_integral_of_the_trapezoid(low, spread, next_by, before_by, length):
    sunrise, high = 12 - length / 2, low + spread
    next_low, before_high = low + next_by, high + before_by

    def at(hour):
        celsius = curve_at(hour, low, high, next_low, before_high, sunrise)
        return float(np.interp(celsius, TOMATO, [0, 1, 1, 0]))

    bends = sorted({0.0, sunrise, 15.0, 24.0})
    exact = sum(quad(at, begin, end, limit=400, epsabs=1e-6)[0] for begin, end in pairwise(bends))
    tmin, tmax = np.array([low, low, next_low]), np.array([before_high, high, high])
    found = daily_response(hourly_curve(tmin, tmax, length), TOMATO)[1]
    assert found == pytest.approx(exact / 24, abs=0.01)  # one hour's step of a bent line


@given(st.floats(-20, 50), st.floats(1, 23))
def test_a_level_day_is_the_trapezoid_itself(celsius, length):
    level = np.full(3, celsius)
    found = daily_response(hourly_curve(level, level, length), TOMATO)
    npt.assert_allclose(found, trapezoid(level, *TOMATO), atol=1e-9)


@pytest.mark.parametrize("length", [0.0, 24.0])
def test_polar_days_and_nights_have_a_curve(length):
    hours = hourly_curve(np.array([-8.0, -6, -9]), np.array([1.0, 2, 0]), length)
    assert np.isfinite(hours).all()
    assert -9 <= hours.min() < hours.max() <= 2


@given(st.floats(0, 12), st.floats(0, 1))
def test_what_heat_takes_is_what_is_lacking_above_the_optimum(warmer, share):
    tmin, tmax = (x.values + warmer for x in extremes(30))
    hours = hourly_curve(tmin, tmax, 12 + 6 * share)
    lost = np.where(hours > 28, 1 - trapezoid(hours, *TOMATO), 0).mean(axis=-1)
    found = loss_of_day(lambda celsius: mean_above(hours, celsius), TOMATO)
    npt.assert_allclose(found, lost, atol=1e-12)


def test_the_curve_gives_the_response_of_measured_days():
    """Better than the day's mean by far, and no worse than the other curve; at four places."""
    places = list(measured.readings())
    assert len(places) == 4
    found = {
        name: np.mean([measured.errors(each, curve)[1].mean() for each in places])
        for name, curve in measured.CURVES.items()
    }
    assert found["cosine"] < 0.035
    assert found["cosine"] < found["Parton and Logan"]
    assert found["daily mean"] > 1.7 * found["cosine"]
    assert abs(found["cosine"] - found["cosine, 12 h"]) < 0.002
    bias = np.mean([measured.errors(each, measured.cosine)[2] for each in places], axis=0)
    assert (np.abs(bias) < 0.01).all()


# --- records ------------------------------------------------------------------------------


def test_response_of_a_record_is_the_mean_of_its_hours():
    tmin, tmax = extremes()
    found = temperature_response(tmin, tmax, cardinal(), latitude=PELLBROOK)
    for day in (1, 100, 250):
        length = day_length(PELLBROOK, tmin["time.dayofyear"].values[day])
        around = [tmin[day], tmax[day], tmin[day + 1], tmax[day - 1]]
        low, high, next_low, before_high = map(float, around)
        hours = [
            curve_at(h + 0.5, low, high, next_low, before_high, 12 - length / 2) for h in range(24)
        ]
        expected = np.interp(hours, TOMATO, [0, 1, 1, 0]).mean()
        assert found[day] == pytest.approx(expected, abs=1e-9)
    assert (found.attrs["units"], found.dims) == ("1", ("time",))


def test_only_the_missing_day_is_missing():
    tmin, tmax = extremes(40)
    whole = temperature_response(tmin, tmax, cardinal(), latitude=PELLBROOK)
    assert np.isfinite(whole).all()
    tmin[10], tmax[20] = np.nan, np.nan
    found = temperature_response(tmin, tmax, cardinal(), latitude=PELLBROOK)
    npt.assert_array_equal(np.flatnonzero(np.isnan(found)), [10, 20])
    far = [day for day in range(40) if day not in (9, 10, 19, 20, 21)]
    npt.assert_allclose(found[far], whole[far])
    npt.assert_allclose(found[[9, 21]], whole[[9, 21]], atol=0.2)
    left_out = temperature_response(
        tmin.drop_isel(time=[10, 20]), tmax.drop_isel(time=[10, 20]), cardinal(), latitude=PELLBROOK
    )
    npt.assert_allclose(left_out, found.dropna("time"))


def test_without_a_latitude_days_are_twelve_hours():
    tmin, tmax = extremes()
    equator = temperature_response(tmin, tmax, cardinal())
    placed = temperature_response(tmin, tmax, cardinal(), latitude=PELLBROOK)
    npt.assert_allclose(equator, placed, atol=0.05)
    assert np.abs(equator - placed).mean() < 0.005
    hours = hourly_curve(tmin.values, tmax.values, 12.0)
    npt.assert_allclose(equator, daily_response(hours, TOMATO))


def test_stations_with_their_own_latitudes_and_dask():
    tmin, tmax = extremes(stations=2)
    north = xr.DataArray([PELLBROOK, -30.0], dims="station")
    found = temperature_response(tmin, tmax, cardinal(), latitude=north)
    for i, latitude in enumerate(north.values):
        alone = temperature_response(tmin[i], tmax[i], cardinal(), latitude=latitude)
        npt.assert_allclose(found[i], alone)
    lazy = temperature_response(
        tmin.chunk(station=1), tmax.chunk(station=1), cardinal(), latitude=north
    )
    assert lazy.chunks is not None
    npt.assert_allclose(lazy.compute(), found)


def test_the_south_is_the_north_half_a_year_later():
    tmin, tmax = extremes(3 * 365)
    north = temperature_response(tmin, tmax, cardinal(), latitude=PELLBROOK)
    later = tmin["time"] + np.timedelta64(182, "D")
    moved = [x.assign_coords(time=later) for x in (tmin, tmax)]
    south = temperature_response(*moved, cardinal(), latitude=-PELLBROOK)
    npt.assert_allclose(north.values, south.values, atol=0.01)


def test_thermal_time_is_degree_days_where_the_response_is_straight():
    tmin = series(np.full(5, 9.0))
    tmax = series(np.full(5, 20.0), "tmax")
    found = thermal_time(tmin, tmax, cardinal(), latitude=PELLBROOK)
    hours = hourly_curve(tmin.values, tmax.values, day_length(PELLBROOK, 62))
    npt.assert_allclose(found, (hours - 7).mean(), atol=0.02)
    assert found.attrs["units"] == "degC day"


def test_thermal_time_is_full_in_the_optimum_and_nothing_beyond_the_maximum():
    level = [series(np.array([5.0, 22, 25, 28, 33, 38]), name) for name in ("tmin", "tmax")]
    for i, expected in enumerate([0, 15, 15, 15, 7.5, 0]):
        pair = [each.isel(time=[i]) for each in level]
        assert thermal_time(*pair, cardinal()).item() == pytest.approx(expected)


def test_refuses_degrees_fahrenheit_and_a_latitude_beyond_the_pole():
    tmin, tmax = extremes(5)
    with pytest.raises(ValueError, match="'tmax' must be in degC, got 'degF'"):
        temperature_response(tmin, tmax.assign_attrs(units="degF"), cardinal())
    with pytest.raises(ValueError, match="latitude must lie between -90 and 90 degrees, got 91"):
        temperature_response(tmin, tmax, cardinal(), latitude=91)


def test_thirty_years_are_quick():
    tmin, tmax = (x.values for x in extremes(30 * 365))
    hours = hourly_curve(tmin, tmax, 12.0)
    best = min(timeit.repeat(lambda: daily_response(hours, TOMATO), number=1, repeat=5))
    assert best < 0.03
