"""Radiation against the examples of FAO-56, measured sun, and what an orbit must give."""

import numpy as np
import numpy.testing as npt
import pandas as pd
import pytest
import xarray as xr
from agreement import soil as measured
from hypothesis import given
from hypothesis import strategies as st
from records import SHARED
from scipy.integrate import quad

from climwin.climate.radiation import (
    CLEAR_SKY,
    COAST,
    INLAND,
    extraterrestrial_radiation,
    solar_radiation,
    solar_radiation_kernel,
)
from climwin.core.seasons import day_number

PELLBROOK = 46.1


def series(values, name="tmin", start="2021-01-01"):
    time = pd.date_range(start, periods=np.shape(values)[-1]).astype("datetime64[s]")
    dims = ("station", "time")[-np.ndim(values) :]
    return xr.DataArray(
        np.asarray(values, float), {"time": time}, dims, name, attrs={"units": "degC"}
    )


def extremes(days=365, stations=None):
    rng = np.random.default_rng(3)
    tmin = rng.normal(6, 4, (stations, days) if stations else (days,))
    return series(tmin), series(tmin + rng.uniform(1, 18, tmin.shape), "tmax")


# --- above the air ------------------------------------------------------------------------


def test_example_of_the_evapotranspiration_guide():
    # FAO-56, example 8: 3 September at 20 degrees south, 32.2 MJ m-2 day-1 (from memory).
    assert day_number("09-03") == 246
    assert extraterrestrial_radiation(-20, 246) == pytest.approx(32.2, abs=0.05)


def test_example_with_hours_of_sunshine():
    # FAO-56, example 10: Rio de Janeiro, 22.9 degrees south, May with 220 h of sunshine, by way of
    # the radiation below the air, 14.456 MJ m-2 day-1 (read at ncl.ucar.edu, radsol2_fao56).
    turn = 2 * np.pi * 135 / 365
    declination = 0.409 * np.sin(turn - 1.39)
    longest = 24 / np.pi * np.arccos(-np.tan(np.radians(-22.9)) * np.tan(declination))
    share = 0.25 + 0.5 * (220 / 31) / longest
    assert extraterrestrial_radiation(-22.9, 135) * share == pytest.approx(14.456, abs=0.01)


@given(st.floats(-89, 89), st.integers(1, 365))
def test_a_day_is_the_integral_of_the_sun_s_height(latitude, day):
    """The sine of the sun's height, moment by moment, times the solar constant of the day."""
    turn, north = 2 * np.pi * day / 365, np.radians(latitude)
    declination = 0.409 * np.sin(turn - 1.39)

    def height(hour):
        angle = np.pi * (hour - 12) / 12
        sine = np.sin(north) * np.sin(declination)
        return max(sine + np.cos(north) * np.cos(declination) * np.cos(angle), 0.0)

    hours, _ = quad(height, 0, 24, limit=200)
    expected = hours * 60 * 0.0820 * (1 + 0.033 * np.cos(turn))
    assert extraterrestrial_radiation(latitude, day) == pytest.approx(expected, abs=0.01)


def test_polar_night_has_none_and_polar_day_has_some():
    npt.assert_allclose(extraterrestrial_radiation(80, np.array([355, 1])), 0, atol=1e-12)
    npt.assert_allclose(extraterrestrial_radiation(-80, np.array([172])), 0, atol=1e-12)
    assert extraterrestrial_radiation(80, 172) > extraterrestrial_radiation(45, 172)
    assert extraterrestrial_radiation(90, 355) == pytest.approx(0, abs=1e-12)


def test_the_southern_summer_has_the_nearer_sun():
    december, june = 355, 172
    ratio = extraterrestrial_radiation(-40, december) / extraterrestrial_radiation(40, june)
    assert ratio == pytest.approx((1 / 0.9840) ** 2 / (1 / 1.0163) ** 2, abs=0.01)  # distances, au
    assert extraterrestrial_radiation(-40, december) > 2 * extraterrestrial_radiation(-40, june)


def test_latitudes_by_station():
    latitude = xr.DataArray([40.0, -40.0], dims="station")
    day = xr.DataArray([15, 196], dims="day")
    found = extraterrestrial_radiation(latitude, day)
    assert found.dims == ("station", "day")
    npt.assert_allclose(found.sel(station=1), extraterrestrial_radiation(-40.0, day.values))


@pytest.mark.parametrize("latitude", [-90.5, np.nan])
def test_refuses_a_latitude_beyond_the_pole(latitude):
    with pytest.raises(ValueError, match="between -90 and 90 degrees, got"):
        extraterrestrial_radiation(latitude, 1)


# --- at the ground ------------------------------------------------------------------------


def test_worked_example_of_a_spring_day():
    # 1 May, 44.88 degrees north, 6 to 19 degC: 36.80 and 21.23 MJ m-2, computed elsewhere.
    assert extraterrestrial_radiation(44.88, 121) == pytest.approx(36.80, abs=0.005)
    day = np.array([121])
    found = solar_radiation_kernel(np.array([6.0]), np.array([19.0]), 44.88, day)
    assert found.item() == pytest.approx(21.23, abs=0.005)


def test_lyon_in_july():
    # FAO-56, example 15 (from memory): Lyon, 45.72 degrees north, July, 14.8 to 26.6 degC:
    # Ra 40.6 and Rs 22.3 MJ m-2 day-1.
    found = solar_radiation_kernel(np.array([14.8]), np.array([26.6]), 45.72, np.array([196]))
    assert found.item() == pytest.approx(22.3, abs=0.15)


def test_the_coast_lets_more_through_and_a_clear_sky_is_the_most():
    tmin, tmax = extremes()
    inland = solar_radiation(tmin, tmax, PELLBROOK)
    coast = solar_radiation(tmin, tmax, PELLBROOK, coast=True)
    above = extraterrestrial_radiation(PELLBROOK, np.arange(1, 366))
    share = inland.values / above
    clear = share >= CLEAR_SKY - 1e-9
    npt.assert_allclose((coast / inland)[coast / above < CLEAR_SKY - 1e-9], COAST / INLAND)
    assert share.max() <= CLEAR_SKY + 1e-9
    assert not clear.any()  # a range of 22 degC
    wide = solar_radiation(tmin, tmin + 40, PELLBROOK)
    npt.assert_allclose(wide, CLEAR_SKY * above)


def test_a_gap_and_extremes_in_the_wrong_order():
    tmin, tmax = extremes(10)
    tmin[3], tmax[5] = np.nan, np.nan
    tmin[7] = tmax[7] + 1
    found = solar_radiation(tmin, tmax, PELLBROOK)
    npt.assert_array_equal(np.flatnonzero(np.isnan(found)), [3, 5])
    assert found[7] == 0


def test_stations_dask_and_a_leap_year():
    tmin, tmax = extremes(stations=2)
    north = xr.DataArray([PELLBROOK, -30.0], dims="station")
    found = solar_radiation(tmin, tmax, north)
    for i, latitude in enumerate(north.values):
        npt.assert_allclose(found[i], solar_radiation(tmin[i], tmax[i], latitude))
    lazy = solar_radiation(tmin.chunk(station=1), tmax.chunk(station=1), north)
    assert lazy.chunks is not None
    npt.assert_allclose(lazy.compute(), found)
    assert (found.name, found.attrs["units"]) == ("radiation", "MJ m-2 day-1")
    leap = [
        x.isel(station=0).assign_coords(time=x["time"] - np.timedelta64(366, "D"))
        for x in (tmin, tmax)
    ]
    assert str(leap[0]["time"].values[59])[:10] == "2020-02-29"
    ratio = solar_radiation(*leap, PELLBROOK) / np.sqrt(leap[1] - leap[0])
    assert ratio[59] == pytest.approx(ratio[58].item())  # 29 February is 28 February


def test_refuses_degrees_fahrenheit():
    tmin, tmax = extremes(5)
    with pytest.raises(ValueError, match="'tmin' must be in degC, got 'degF'"):
        solar_radiation(tmin.assign_attrs(units="degF"), tmax, PELLBROOK)


def test_near_the_measured_sun_of_the_growing_season():
    """US climate reference network, 2020: the mean of half a year within a tenth or so."""
    if not (SHARED / "soil").exists():
        pytest.skip("the measured sun is not here")
    table = measured.read("soil_uscrn_2020_5cm.csv").dropna(
        subset=["tmin", "tmax", "solarad_daily"]
    )
    table = table[table["date"].dt.month.isin(range(4, 10))]
    off = []
    for _, place in table.groupby("wban"):
        tmin, tmax = (place[name].to_numpy(float) for name in ("tmin", "tmax"))
        day = place["date"].dt.day_of_year.to_numpy()
        sun = solar_radiation_kernel(tmin, tmax, place["latitude"].iloc[0], day)
        off.append(sun.mean() / place["solarad_daily"].mean() - 1)
    assert len(off) > 60
    assert abs(np.median(off)) < 0.1
    assert np.quantile(np.abs(off), 0.9) < 0.2
