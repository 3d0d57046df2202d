"""From the station to the garden, by height and by measured offsets."""

import numpy as np
import numpy.testing as npt
import pytest
import records
import xarray as xr
from records import TEMPERATURES, logger_of, station_record, with_gap

from climwin.climate.adjust import adjust_to_garden, measured_offsets
from climwin.core.schema import DataGapError, Garden


def garden(elevation=None):
    return Garden("Pellbrook", 46.1, 7.2, elevation)


# --- to the garden ------------------------------------------------------------------------


# U.S. Standard Atmosphere 1976 and ISO 2533, by geopotential height: 15.0 degC at sea level,
# 11.75 at 500 m, 8.5 at 1000 m, 2.0 at 2000 m.
@pytest.mark.parametrize(
    ("height", "expected"), [(0, 15.0), (500, 11.75), (1000, 8.5), (2000, 2.0)]
)
def test_default_is_the_standard_atmosphere(height, expected):
    station = records.daily(["2001-01-01"], tmin=[15.0]).assign_attrs(elevation=0.0)
    npt.assert_allclose(adjust_to_garden(station, garden(height))["tmin"], [expected], atol=1e-9)


def test_every_temperature_and_nothing_else_is_moved():
    daily = station_record()
    moved = adjust_to_garden(daily, garden(700))
    for name in TEMPERATURES:
        npt.assert_allclose(moved[name], daily[name] - 1.3)
        assert moved[name].attrs == daily[name].attrs
    npt.assert_array_equal(moved["precip"], daily["precip"])
    assert moved.attrs["elevation"] == 700
    told = "Pellbrook, 200 m above the station, 6.5 °C colder for each 1000 m up"
    assert told in moved.attrs["history"]
    assert moved.attrs["history"] == moved.attrs["changes"]
    before = daily.assign_attrs(changes="gaps filled")
    assert (
        adjust_to_garden(before, garden(700))
        .attrs["changes"]
        .startswith("gaps filled; temperatures")
    )
    assert daily.attrs["elevation"] == 500


def test_twice_is_once():
    moved = adjust_to_garden(station_record(), garden(700))
    xr.testing.assert_allclose(adjust_to_garden(moved, garden(700)), moved)


def test_own_lapse_rates_by_variable():
    daily = station_record()
    moved = adjust_to_garden(daily, garden(1500), lapse={"tmin": 3.0, "tmax": 7.0})
    npt.assert_allclose(moved["tmin"], daily["tmin"] - 3.0)
    npt.assert_allclose(moved["tmax"], daily["tmax"] - 7.0)
    npt.assert_array_equal(moved["tmean"], daily["tmean"])
    told = "minimum 3 °C, maximum 7 °C, mean 0 °C colder for each 1000 m up"
    assert told in moved.attrs["changes"]


def test_without_the_gardens_height_the_stations_is_taken_and_noted():
    daily = station_record()
    moved = adjust_to_garden(daily, garden())
    npt.assert_array_equal(moved["tmin"], daily["tmin"])
    assert "at the height of the station, for the garden's is not given" in moved.attrs["history"]


def test_without_the_stations_height_it_says_what_to_do():
    daily = station_record()
    del daily.attrs["elevation"]
    with pytest.raises(ValueError, match=r"How high the station lies .*daily.attrs\['elevation'\]"):
        adjust_to_garden(daily, garden(700))


def test_a_gap_stays_a_gap():
    daily = with_gap(station_record(), "2002-03-01", "2002-03-20")
    moved = adjust_to_garden(daily, garden(700))
    npt.assert_array_equal(np.isnan(moved["tmin"]), np.isnan(daily["tmin"]))


def test_stations_of_different_heights_and_dask():
    one, other = station_record(seed=1), station_record(seed=2)
    both = xr.concat([one, other], xr.DataArray(["a", "b"], dims="station"))
    both = both.assign_coords(elevation=("station", [500.0, 900.0])).chunk(station=1)
    both.attrs.pop("elevation")
    moved = adjust_to_garden(both, garden(700))
    assert moved["tmin"].chunks is not None
    assert moved["tmin"].dims == both["tmin"].dims
    npt.assert_allclose(moved["tmin"].isel(station=0), one["tmin"] - 1.3)
    npt.assert_allclose(moved["tmin"].isel(station=1), other["tmin"] + 1.3)
    assert moved["elevation"].values.tolist() == [700, 700]


# --- measured offsets ---------------------------------------------------------------------


def test_offsets_of_each_month_are_found_and_used():
    daily = station_record()
    steps = np.linspace(-2, 2, 12)
    logger = logger_of(daily, steps).sel(time=slice("2003-01-01", "2003-12-31"))
    offsets = measured_offsets(daily, logger)
    npt.assert_allclose(offsets["tmin"], steps, atol=1e-12)
    npt.assert_array_equal(offsets["tmin_days"], [31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31])
    assert offsets["tmin"].attrs["units"] == "degC"
    moved = adjust_to_garden(daily, garden(), offsets=offsets)
    npt.assert_allclose(moved["tmin"], logger_of(daily, steps)["tmin"], atol=1e-9)


def test_months_not_measured_go_by_height_and_are_named():
    daily = station_record()
    logger = logger_of(daily, [1.5] * 12).sel(time=slice("2003-04-10", "2003-06-20"))
    offsets = measured_offsets(daily, logger)
    assert np.flatnonzero(~np.isnan(offsets["tmin"])).tolist() == [3, 4, 5]
    assert offsets["tmin_days"].values.tolist() == [0, 0, 0, 21, 31, 20, 0, 0, 0, 0, 0, 0]
    moved = adjust_to_garden(daily, garden(700), offsets=offsets)
    change = (moved["tmin"] - daily["tmin"]).groupby("time.month").mean()
    npt.assert_allclose(change, [-1.3] * 3 + [1.5] * 3 + [-1.3] * 6)
    history = moved.attrs["history"]
    assert "by offsets measured in Apr, May, Jun (minimum from 72 days" in history
    assert "other months 200 m above the station" in history


def test_standard_error_of_independent_days_is_that_of_the_mean():
    daily = station_record("2001-01-01", "2001-12-31")
    logger = logger_of(daily, [1.0] * 12, noise=0.8)
    offsets = measured_offsets(daily, logger)
    difference = (logger["tmin"] - daily["tmin"]).to_series()
    plain = difference.groupby(difference.index.month).sem()  # pandas, sd / sqrt(n)
    # a chance correlation of the days up to 0.1 lets the two differ by a tenth
    npt.assert_allclose(offsets["tmin_se"], plain, rtol=0.12)
    assert (offsets["tmin_se"] >= plain.values - 1e-12).all()


def test_standard_error_holds_for_days_that_are_alike():
    # the spread of 150 simulated means of July is the truth; days correlated by 0.6
    rng, means, errors = np.random.default_rng(4), [], []
    time = records.days("2001-07-01", "2001-09-30")
    still = records.daily(time, tmin=np.zeros(len(time)))
    for _ in range(150):
        noise = rng.normal(0, 0.8, len(time) + 50)
        red = np.zeros(len(noise))
        for day in range(1, len(noise)):
            red[day] = 0.6 * red[day - 1] + noise[day]
        offsets = measured_offsets(still, records.daily(time, tmin=1 + red[50:]))
        means.append(float(offsets["tmin"].sel(month=7)))
        errors.append(float(offsets["tmin_se"].sel(month=7)))
    assert np.mean(means) == pytest.approx(1, abs=0.1)
    # 92 days give a correlation that is a little low, and with it the error
    assert np.std(means) * 0.75 < np.mean(errors) < np.std(means) * 1.1
    assert np.mean(errors) > 1.5 * 1.0 / np.sqrt(31)  # what independent days would claim


def test_a_gap_between_days_breaks_no_pair_rule():
    # days of which none is next to another: nothing says that they are alike
    daily = station_record("2001-01-01", "2001-12-31").isel(time=slice(None, None, 2))
    logger = logger_of(daily, [0.5] * 12, noise=0.8)
    offsets = measured_offsets(daily, logger)
    difference = (logger["tmin"] - daily["tmin"]).to_series()
    npt.assert_allclose(offsets["tmin_se"], difference.groupby(difference.index.month).sem())


def test_one_day_has_no_standard_error():
    daily = station_record("2001-01-01", "2001-01-31")
    offsets = measured_offsets(daily, logger_of(daily, [1.0] * 12).isel(time=[4]))
    assert float(offsets["tmin"].sel(month=1)) == pytest.approx(1)
    assert np.isnan(offsets["tmin_se"].sel(month=1))


def test_a_logger_without_a_day_in_common():
    daily = station_record("2001-01-01", "2001-12-31")
    with pytest.raises(DataGapError, match="no day with a temperature in common"):
        measured_offsets(daily, station_record("2003-01-01", "2003-02-01"))


def test_a_southern_record_keeps_its_months():
    # January is July's opposite: the offset of each month goes to its own days
    daily = station_record()
    daily = daily.assign_coords(time=daily["time"] + np.timedelta64(182, "D"))
    steps = np.arange(12.0)
    moved = adjust_to_garden(
        daily, garden(), offsets=measured_offsets(daily, logger_of(daily, steps))
    )
    change = (moved["tmin"] - daily["tmin"]).groupby("time.month").mean()
    npt.assert_allclose(change, steps, atol=1e-9)
