"""Garden against station, a neighbour's help, stations side by side."""

import numpy as np
import numpy.testing as npt
import pandas as pd
import pytest
import records
import xarray as xr

from climwin.climate.adjust import adjust_to_garden, compare_stations, fill_gaps, measured_offsets
from climwin.core.schema import DataGapError, Garden

TEMPERATURES = ("tmin", "tmax", "tmean")


def made(first="2001-01-01", last="2004-12-31", seed=1, **attrs):
    """An invented record, whole."""
    time = records.days(first, last)
    rng = np.random.default_rng(seed)
    mean = 9 - 9 * np.cos(2 * np.pi * np.arange(len(time)) / 365.25) + rng.normal(0, 3, len(time))
    rain = rng.gamma(0.3, 8, len(time))
    daily = records.daily(time, tmin=mean - 5, tmax=mean + 5, tmean=mean, precip=rain)
    return daily.assign_attrs({"elevation": 500.0, "station_name": "Mill"} | attrs)


def garden(elevation=None):
    return Garden("Pellbrook", 46.1, 7.2, elevation)


def with_gap(daily, first, last, names=TEMPERATURES):
    day = daily["time"]
    inside = (day >= np.datetime64(first)) & (day <= np.datetime64(last))
    return daily.assign({name: daily[name].where(~inside) for name in names})


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
    daily = made()
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
    moved = adjust_to_garden(made(), garden(700))
    xr.testing.assert_allclose(adjust_to_garden(moved, garden(700)), moved)


def test_own_lapse_rates_by_variable():
    daily = made()
    moved = adjust_to_garden(daily, garden(1500), lapse={"tmin": 3.0, "tmax": 7.0})
    npt.assert_allclose(moved["tmin"], daily["tmin"] - 3.0)
    npt.assert_allclose(moved["tmax"], daily["tmax"] - 7.0)
    npt.assert_array_equal(moved["tmean"], daily["tmean"])
    told = "minimum 3 °C, maximum 7 °C, mean 0 °C colder for each 1000 m up"
    assert told in moved.attrs["changes"]


def test_without_the_gardens_height_the_stations_is_taken_and_noted():
    daily = made()
    moved = adjust_to_garden(daily, garden())
    npt.assert_array_equal(moved["tmin"], daily["tmin"])
    assert "at the height of the station, for the garden's is not given" in moved.attrs["history"]


def test_without_the_stations_height_it_says_what_to_do():
    daily = made()
    del daily.attrs["elevation"]
    with pytest.raises(ValueError, match=r"How high the station lies .*daily.attrs\['elevation'\]"):
        adjust_to_garden(daily, garden(700))


def test_a_gap_stays_a_gap():
    daily = with_gap(made(), "2002-03-01", "2002-03-20")
    moved = adjust_to_garden(daily, garden(700))
    npt.assert_array_equal(np.isnan(moved["tmin"]), np.isnan(daily["tmin"]))


def test_stations_of_different_heights_and_dask():
    one, other = made(seed=1), made(seed=2)
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


def logger_of(daily, by_month, noise=0.0, seed=3):
    """A logger that reads this much above the station in each month."""
    shift = xr.DataArray(np.asarray(by_month, float), coords={"month": np.arange(1, 13)})
    out = daily[[*TEMPERATURES]].copy()
    rng = np.random.default_rng(seed)
    for name in TEMPERATURES:
        made_of = daily[name] + shift.sel(month=daily["time"].dt.month).drop_vars("month")
        out[name] = made_of + rng.normal(0, noise, daily.sizes["time"])
        out[name].attrs = daily[name].attrs
    return out


def test_offsets_of_each_month_are_found_and_used():
    daily = made()
    steps = np.linspace(-2, 2, 12)
    logger = logger_of(daily, steps).sel(time=slice("2003-01-01", "2003-12-31"))
    offsets = measured_offsets(daily, logger)
    npt.assert_allclose(offsets["tmin"], steps, atol=1e-12)
    npt.assert_array_equal(offsets["tmin_days"], [31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31])
    assert offsets["tmin"].attrs["units"] == "degC"
    moved = adjust_to_garden(daily, garden(), offsets=offsets)
    npt.assert_allclose(moved["tmin"], logger_of(daily, steps)["tmin"], atol=1e-9)


def test_months_not_measured_go_by_height_and_are_named():
    daily = made()
    logger = logger_of(daily, [1.5] * 12).sel(time=slice("2003-04-10", "2003-06-20"))
    offsets = measured_offsets(daily, logger)
    assert np.flatnonzero(~np.isnan(offsets["tmin"])).tolist() == [3, 4, 5]
    assert offsets["tmin_days"].values.tolist() == [0, 0, 0, 21, 31, 20, 0, 0, 0, 0, 0, 0]
    moved = adjust_to_garden(daily, garden(700), offsets=offsets)
    change = (moved["tmin"] - daily["tmin"]).groupby("time.month").mean()
    npt.assert_allclose(change, [-1.3] * 3 + [1.5] * 3 + [-1.3] * 6)
    told = moved.attrs["history"]
    assert "by offsets measured in Apr, May, Jun (minimum from 72 days" in told
    assert "other months 200 m above the station" in told


def test_standard_error_of_independent_days_is_that_of_the_mean():
    daily = made("2001-01-01", "2001-12-31")
    logger = logger_of(daily, [1.0] * 12, noise=0.8)
    offsets = measured_offsets(daily, logger)
    apart = (logger["tmin"] - daily["tmin"]).to_series()
    plain = apart.groupby(apart.index.month).sem()  # pandas, sd / sqrt(n)
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
        made_of = measured_offsets(still, records.daily(time, tmin=1 + red[50:]))
        means.append(float(made_of["tmin"].sel(month=7)))
        errors.append(float(made_of["tmin_se"].sel(month=7)))
    assert np.mean(means) == pytest.approx(1, abs=0.1)
    # 92 days give a correlation that is a little low, and with it the error
    assert np.std(means) * 0.75 < np.mean(errors) < np.std(means) * 1.1
    assert np.mean(errors) > 1.5 * 1.0 / np.sqrt(31)  # what independent days would claim


def test_a_gap_between_days_breaks_no_pair_rule():
    # days of which none is next to another: nothing says that they are alike
    daily = made("2001-01-01", "2001-12-31").isel(time=slice(None, None, 2))
    logger = logger_of(daily, [0.5] * 12, noise=0.8)
    offsets = measured_offsets(daily, logger)
    apart = (logger["tmin"] - daily["tmin"]).to_series()
    npt.assert_allclose(offsets["tmin_se"], apart.groupby(apart.index.month).sem())


def test_one_day_has_no_standard_error():
    daily = made("2001-01-01", "2001-01-31")
    offsets = measured_offsets(daily, logger_of(daily, [1.0] * 12).isel(time=[4]))
    assert float(offsets["tmin"].sel(month=1)) == pytest.approx(1)
    assert np.isnan(offsets["tmin_se"].sel(month=1))


def test_a_logger_without_a_day_in_common():
    daily = made("2001-01-01", "2001-12-31")
    with pytest.raises(DataGapError, match="no day with a temperature in common"):
        measured_offsets(daily, made("2003-01-01", "2003-02-01"))


# --- from a neighbour ---------------------------------------------------------------------


def test_a_gap_is_filled_by_the_monthly_offset_and_marked():
    whole = made(credit="Meteostat, A")
    steps = np.linspace(-3, 3, 12)
    neighbour = logger_of(whole, steps).assign_attrs(station_name="Pass", credit="Meteostat, B")
    daily = with_gap(whole, "2002-05-20", "2002-06-10")
    filled = fill_gaps(daily, neighbour)
    for name in TEMPERATURES:
        npt.assert_allclose(filled[name], whole[name], atol=1e-9)
        assert filled[name].attrs == whole[name].attrs
        npt.assert_array_equal(filled[f"{name}_filled"], np.isnan(daily[name]))
        assert filled[f"{name}_filled"].dtype == bool
    npt.assert_array_equal(filled["precip"], whole["precip"])
    assert "gaps filled from Pass by monthly offset" in filled.attrs["changes"]
    assert filled.attrs["credit"] == "Meteostat, A, B"
    assert "tmin_filled" not in daily


def test_filled_values_match_a_plain_loop():
    daily = with_gap(made(seed=5), "2003-02-01", "2003-02-09")
    neighbour = made(seed=6)
    filled = fill_gaps(daily, neighbour)
    here, there = daily["tmin"].to_series(), neighbour["tmin"].to_series()
    for day in pd.date_range("2003-02-01", "2003-02-09"):
        both = [d for d in here.index if d.month == day.month and not np.isnan(here[d])]
        offset = sum(here[d] - there[d] for d in both) / len(both)
        assert float(filled["tmin"].sel(time=day)) == pytest.approx(there[day] + offset)


def test_precipitation_stays_missing():
    daily = with_gap(made(), "2002-05-20", "2002-05-25", names=("precip",))
    filled = fill_gaps(daily, made(seed=2))
    assert int(np.isnan(filled["precip"]).sum()) == 6
    assert not filled["tmin_filled"].any()


def test_a_month_with_too_little_in_common_is_not_filled():
    daily = with_gap(made("2001-01-01", "2002-12-31"), "2001-05-01", "2001-06-15")
    neighbour = made("2001-04-01", "2001-12-31", seed=2)  # May of one year only: none in common
    filled = fill_gaps(daily, neighbour, overlap=15)
    months = filled["time"].dt.month.values[filled["tmin_filled"].values]
    assert set(months) == {6}
    with pytest.raises(DataGapError, match="No month has 400 days"):
        fill_gaps(daily, neighbour, overlap=400)


def test_where_the_neighbour_has_a_gap_too_it_stays():
    daily = with_gap(made(), "2002-05-20", "2002-05-25")
    neighbour = with_gap(made(seed=2), "2002-05-22", "2002-05-22")
    filled = fill_gaps(daily, neighbour)
    assert int(np.isnan(filled["tmin"]).sum()) == 1
    assert int(filled["tmin_filled"].sum()) == 5


def test_a_fill_that_would_cross_is_taken_back():
    # the maximum of 21 May is missing, and the neighbour's lies below our minimum
    daily = with_gap(made(), "2002-05-21", "2002-05-21", names=("tmax",))
    neighbour = made()
    neighbour["tmax"].loc[{"time": "2002-05-21"}] = -30.0
    filled = fill_gaps(daily, neighbour)
    assert np.isnan(filled["tmax"].sel(time="2002-05-21")).all()
    assert not filled["tmax_filled"].any()
    npt.assert_array_equal(filled["tmin"], daily["tmin"])


def test_filling_many_stations_with_dask():
    whole = made()
    gaps = [
        with_gap(whole, "2002-05-20", "2002-05-25"),
        with_gap(whole, "2003-01-01", "2003-01-03"),
    ]
    both = xr.concat(gaps, xr.DataArray(["a", "b"], dims="station")).chunk(station=1)
    filled = fill_gaps(both, logger_of(whole, [1.0] * 12))
    assert filled["tmin"].dims == both["tmin"].dims
    npt.assert_allclose(filled["tmin"].isel(station=1), whole["tmin"], atol=1e-9)
    assert filled["tmin_filled"].sum("time").values.tolist() == [6, 3]


# --- side by side -------------------------------------------------------------------------


def test_stations_side_by_side_on_the_days_in_common():
    one, other = made(station_id="A"), made("2002-01-01", "2005-12-31", seed=8, station_id="B")
    gappy = with_gap(other, "2003-01-01", "2003-12-31")
    table = compare_stations([one, gappy])
    assert table["station"].values.tolist() == ["A", "B"]
    assert int(table["common_days"]) == 365 + 366
    a, b = (r["tmin"].to_series().dropna() for r in (one, gappy))
    both = pd.concat([a, b], axis=1, join="inner", keys=["a", "b"])
    pick = {"station": "B", "variable": "tmin"}
    assert float(table["difference"].sel(pick)) == pytest.approx((both.b - both.a).mean())
    assert float(table["spread"].sel(pick)) == pytest.approx((both.b - both.a).std(ddof=0))
    assert float(table["correlation"].sel(pick)) == pytest.approx(both.corr().loc["a", "b"])
    freezes = (both.b <= 0.05).mean() * 365.25
    assert float(table["freezes"].sel(station="B")) == pytest.approx(freezes)
    assert float(table["share_present"].sel(pick)) == pytest.approx(len(b) / 1826)
    npt.assert_allclose(table["difference"].sel(station="A"), 0)


def test_comparing_takes_two_and_a_day_in_common():
    with pytest.raises(ValueError, match="takes two records or more, got 1"):
        compare_stations([made()])
    with pytest.raises(DataGapError, match="no day in common"):
        compare_stations([made("2001-01-01", "2001-12-31"), made("2003-01-01", "2003-12-31")])


def test_a_southern_record_keeps_its_months():
    # January is July's opposite: the offset of each month goes to its own days
    daily = made()
    daily = daily.assign_coords(time=daily["time"] + np.timedelta64(182, "D"))
    steps = np.arange(12.0)
    moved = adjust_to_garden(
        daily, garden(), offsets=measured_offsets(daily, logger_of(daily, steps))
    )
    change = (moved["tmin"] - daily["tmin"]).groupby("time.month").mean()
    npt.assert_allclose(change, steps, atol=1e-9)
