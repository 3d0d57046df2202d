"""Soil temperature against the damped wave and the half-space."""

import numpy as np
import numpy.testing as npt
import pandas as pd
import pytest
import xarray as xr
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.optimize import minimize_scalar
from scipy.special import erfc

from climwin.climate.soil import (
    DIFFUSIVITIES,
    DIFFUSIVITY,
    HEAT_CAPACITY,
    SURFACES,
    SoilFit,
    _column,
    fit_diffusivity,
    soil_temperature,
)
from climwin.core.schema import DataGapError

YEAR = 2 * np.pi / 365
DEGC = {"units": "degC"}
DAY = 86_400


def series(values, name="tmean", start="2001-01-01"):
    time = pd.date_range(start, periods=np.shape(values)[-1]).astype("datetime64[s]")
    dims = ("station", "time")[-np.ndim(values) :]
    coords = {"time": time}
    return xr.DataArray(np.asarray(values, float), dims=dims, coords=coords, name=name, attrs=DEGC)


def wave(mean=10.0, amplitude=12.0, coldest=20.0, days=3 * 365):
    """Air of years that are all alike; 2001 to 2003 have no leap day."""
    day = np.arange(1, days + 1)
    return mean - amplitude * np.cos(YEAR * (day - coldest))


def weather(stations=None, days=1461, seed=5):
    """Invented years of Pellbrook: a wave, and spells of warmer and colder days."""
    rng = np.random.default_rng(seed)
    shape = (stations, days) if stations else (days,)
    spells = rng.normal(0, 2, shape)
    for i in range(1, days):
        spells[..., i] += 0.7 * spells[..., i - 1]
    return series(wave(days=days) + spells)


def harmonic(values):
    """Amplitude, and day of the year of the lowest point, of the last of three years."""
    last = np.asarray(values)[-365:]
    turn = np.sum(last * np.exp(1j * YEAR * np.arange(1, 366))) * 2 / 365
    return abs(turn), (np.angle(-turn) / YEAR) % 365


# --- the damped wave ----------------------------------------------------------------------


@pytest.mark.parametrize("depth", [0.05, 0.3, 1.0])
@pytest.mark.parametrize("diffusivity", [2e-7, DIFFUSIVITY, 1e-6])
def test_bare_soil_is_the_damped_wave(depth, diffusivity):
    # Hillel (1982): amplitude exp(-z/d) and lag z/(d w) with d the square root of 2 D / w.
    d = np.sqrt(2 * diffusivity * DAY / YEAR)
    soil = soil_temperature(series(wave()), depth, diffusivity=diffusivity)
    amplitude, coldest = harmonic(soil)
    assert amplitude == pytest.approx(12 * np.exp(-depth / d), rel=0.005)
    assert coldest - 20 == pytest.approx(depth / d / YEAR, abs=0.2)
    assert soil[-365:].mean().item() == pytest.approx(10, abs=0.01)


# Oklahoma State University's soil temperature exercise: mean and amplitude 15 degC, coldest on
# day 10, diffusivity in m2 a day; answers from the damped wave: lowest, highest, day of the lowest.
@pytest.mark.parametrize(
    ("square_metres_a_day", "depth", "lowest", "highest", "coldest"),
    [
        (0.05, 1, 5.094, 24.906, 34.1),
        (0.05, 2, 8.458, 21.542, 58.2),
        (0.08, 1, 4.195, 25.805, 29.1),
        (0.08, 2, 7.216, 22.784, 48.1),
    ],
)
def test_exercise_of_a_soil_course(square_metres_a_day, depth, lowest, highest, coldest):
    air = series(wave(15, 15, 10))
    soil = soil_temperature(air, depth, diffusivity=square_metres_a_day / DAY)[-365:]
    assert soil.min().item() == pytest.approx(lowest, abs=0.03)
    assert soil.max().item() == pytest.approx(highest, abs=0.03)
    assert harmonic(soil)[1] == pytest.approx(coldest, abs=0.15)


@pytest.mark.parametrize("depth", [0.05, 0.3, 1.0])
def test_mulched_soil_is_the_wave_through_a_resistance(depth):
    # Carslaw and Jaeger, "Conduction of Heat in Solids", 1959 (from memory): heat passing to the
    # surface in proportion to the difference damps the wave by (1 + 2m + 2m2)^-1/2 and delays it by
    # atan(m/(1+m)), m the depth of soil of equal resistance over the damping depth.
    d = np.sqrt(2 * DIFFUSIVITY * DAY / YEAR)
    m = SURFACES["mulched"] * DIFFUSIVITY * HEAT_CAPACITY / d
    amplitude, coldest = harmonic(soil_temperature(series(wave()), depth, surface="mulched"))
    expected = 12 * np.exp(-depth / d) / np.sqrt(1 + 2 * m + 2 * m**2)
    assert amplitude == pytest.approx(expected, rel=0.005)
    assert coldest - 20 == pytest.approx((depth / d + np.arctan(m / (1 + m))) / YEAR, abs=0.1)


@pytest.mark.parametrize("depth", [0.05, 0.2])
def test_any_weather_is_the_half_space(depth):
    # A step at the surface reaches depth z as erfc(z / (2 sqrt(D t))); days are sums of steps.
    air = weather()
    all_air = np.concatenate([wave(days=20 * 365), air])  # from a ground at the mean, 10 degC
    t = (np.arange(len(all_air) * 48) + 0.5) / 48 * DAY
    step = erfc(depth / (2 * np.sqrt(DIFFUSIVITY * t))).reshape(-1, 48).mean(axis=1)
    exact = 10 + np.convolve(np.diff(all_air, prepend=10), step)[: len(all_air)]
    soil = soil_temperature(air, depth).values
    assert np.isnan(soil).sum() < 6
    npt.assert_allclose(soil[30:], exact[-len(soil) :][30:], atol=0.15)
    npt.assert_allclose(soil[400:], exact[-len(soil) :][400:], atol=0.1)
    assert np.abs(soil - exact[-len(soil) :])[400:].mean() < 0.02


# --- properties ---------------------------------------------------------------------------


@settings(deadline=None, max_examples=20)
@given(st.floats(-40, 40), st.floats(0.2, 4))
def test_soil_shifts_and_scales_with_the_air(shift, scale):
    air = weather()
    moved = (scale * air + shift).assign_attrs(DEGC)
    npt.assert_allclose(
        soil_temperature(moved), scale * soil_temperature(air) + shift, atol=1e-8, equal_nan=True
    )


@settings(deadline=None, max_examples=30)
@given(
    st.floats(0.01, 2), st.floats(*DIFFUSIVITIES), st.sampled_from(sorted(SURFACES)), st.integers()
)
def test_soil_stays_between_the_extremes_of_the_air(depth, diffusivity, surface, seed):
    air = weather(days=800, seed=abs(seed))
    soil = soil_temperature(air, depth, diffusivity=diffusivity, surface=surface)
    assert air.min() < soil.min()
    assert soil.max() < air.max()


@settings(deadline=None, max_examples=30)
@given(st.floats(0.01, 2), st.floats(*DIFFUSIVITIES), st.sampled_from(sorted(SURFACES)))
def test_weights_are_those_of_a_mean(depth, diffusivity, surface):
    column = _column(depth, diffusivity, surface)
    assert column.circle().sum() == pytest.approx(1, abs=1e-6)
    weights = column.weights(3 * 365)
    assert weights.min() > -1e-9
    assert weights.sum() < 1


def test_deeper_soil_and_mulched_soil_are_steadier():
    air = weather()
    spread = [soil_temperature(air, z).std().item() for z in (0.02, 0.1, 0.5, 1)]
    assert spread == sorted(spread, reverse=True)
    mulched = soil_temperature(air, surface="mulched")
    assert mulched.std() < soil_temperature(air).std()


# --- gaps, stations, dask, the south ------------------------------------------------------


@pytest.mark.parametrize(
    ("depth", "surface", "after"), [(0.05, "bare", 1), (0.1, "bare", 2), (0.05, "mulched", 5)]
)
def test_a_gap_hides_its_own_days_and_a_few_more(depth, surface, after):
    air = weather()
    whole = soil_temperature(air, depth, surface=surface)
    assert whole.attrs["surface"] == surface
    air[600:740] = np.nan
    soil = soil_temperature(air, depth, surface=surface)
    hidden = np.flatnonzero(np.isnan(soil))
    assert list(hidden) == [*range(after), *range(600, 740 + after)]
    off = np.abs(soil - whole).dropna("time")
    assert off.max() < 1
    assert off.mean() < 0.1


def test_one_missing_day_does_not_hide_the_soil_at_a_metre():
    air = weather()
    whole = soil_temperature(air, 1.0)
    air[700] = np.nan
    npt.assert_allclose(soil_temperature(air, 1.0)[690:], whole[690:], atol=0.2)


def test_a_day_left_out_of_the_record_is_a_gap():
    air = weather()
    missing = air.copy()
    missing[700] = np.nan
    kept = np.arange(air.size) != 700
    npt.assert_allclose(soil_temperature(air[kept]), soil_temperature(missing)[kept], atol=1e-9)


def test_soil_of_many_stations_with_dask():
    air = weather(stations=3)
    air[1, 300:320] = np.nan
    soil = soil_temperature(air, 0.1)
    for i in range(3):
        npt.assert_allclose(soil[i], soil_temperature(air[i], 0.1), atol=1e-9)
    lazy = soil_temperature(air.chunk(station=1, time=500), 0.1)
    assert lazy.chunks is not None
    npt.assert_allclose(lazy.compute(), soil, atol=1e-9)
    assert soil.dims == ("station", "time")
    assert (soil.name, soil.attrs["units"], soil.attrs["depth_m"]) == ("tsoil", "degC", 0.1)


def test_a_station_without_a_usual_year_is_missing_among_others():
    air = weather(stations=2)
    air[0, 150:] = np.nan
    soil = soil_temperature(air)
    assert np.isnan(soil[0]).all()
    npt.assert_allclose(soil[1], soil_temperature(air[1]), atol=1e-9)


def test_the_south_is_the_north_half_a_year_later():
    north = soil_temperature(series(wave(coldest=20)), 0.3)
    south = soil_temperature(series(wave(coldest=200)), 0.3)
    npt.assert_allclose(south[380:], north[200 : 200 + len(south[380:])], atol=0.01)


@pytest.mark.parametrize(
    ("given", "match"),
    [
        ({"depth": 5}, "depth must lie between 0.01 and 2.0 m, got 5"),
        ({"diffusivity": 0.05}, "diffusivity must lie between 1e-07 and 1e-06 m2 s-1, got 0.05"),
        ({"surface": "lawn"}, "surface must be one of bare, mulched; got 'lawn'"),
    ],
)
def test_refuses_what_is_not_allowed(given, match):
    with pytest.raises(ValueError, match=match):
        soil_temperature(weather(days=400), **given)


def test_refuses_degrees_fahrenheit_and_a_record_without_a_year():
    air = weather(days=400)
    with pytest.raises(ValueError, match="'tmean' must be in degC, got 'degF'"):
        soil_temperature(air.assign_attrs(units="degF"))
    with pytest.raises(DataGapError, match="fewer than 200 days of the year"):
        soil_temperature(air[:150])


# --- a probe ------------------------------------------------------------------------------


def probe_of(air, diffusivity=3e-7, noise=0.0, offset=1.5, days=slice(800, 950)):
    clean = soil_temperature(air, 0.1, diffusivity=diffusivity, surface_offset=offset)[days]
    error = np.random.default_rng(1).normal(0, noise, clean.shape)
    return (clean + error).assign_attrs(DEGC)


@pytest.mark.parametrize("diffusivity", [1.5e-7, 4e-7, 9e-7])
def test_fit_finds_the_soil_that_made_the_probe(diffusivity):
    air = weather()
    fit = fit_diffusivity(air, probe_of(air, diffusivity), 0.1)
    assert fit.diffusivity == pytest.approx(diffusivity, rel=0.005)
    assert fit.surface_offset == pytest.approx(1.5, abs=0.01)
    assert fit.rmse < 0.01
    assert fit.days == 150


def test_fit_is_the_least_squares_of_another_search():
    air = weather()
    probe = probe_of(air, noise=0.5)
    probe[10:20] = np.nan
    fit = fit_diffusivity(air, probe, 0.1)

    def loss(diffusivity):
        left = probe - soil_temperature(air, 0.1, diffusivity=diffusivity)
        return float(left.var())

    best = minimize_scalar(loss, bounds=DIFFUSIVITIES, method="bounded", options={"xatol": 1e-10})
    assert fit.diffusivity == pytest.approx(best.x, rel=0.005)
    assert fit.rmse == pytest.approx(np.sqrt(best.fun), rel=1e-4)
    assert fit.days == 140


def test_fit_through_mulch_and_back():
    air = weather()
    made = soil_temperature(air, 0.1, diffusivity=6e-7, surface="mulched")[500:700]
    fit = fit_diffusivity(air, made, 0.1, surface="mulched")
    assert fit.diffusivity == pytest.approx(6e-7, rel=0.005)
    settings = {"diffusivity": fit.diffusivity, "surface_offset": fit.surface_offset}
    again = soil_temperature(air, 0.1, surface="mulched", **settings)
    npt.assert_allclose(again[500:700], made, atol=0.02)


def test_fit_needs_days_in_common():
    air = weather()
    with pytest.raises(DataGapError, match="share 19 days; at least 20 are needed"):
        fit_diffusivity(air, probe_of(air, days=slice(800, 819)), 0.1)
    with pytest.raises(DataGapError, match="share 0 days"):
        fit_diffusivity(air[:700], probe_of(air), 0.1)
    assert isinstance(fit_diffusivity(air, probe_of(air, days=slice(800, 820)), 0.1), SoilFit)
