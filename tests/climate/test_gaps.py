"""Gaps filled from a neighbour: against the true values, and a plain loop."""

import numpy as np
import numpy.testing as npt
import pandas as pd
import pytest
import xarray as xr
from records import TEMPERATURES, logger_of, station_record, with_gap

from climwin.climate.gaps import fill_gaps
from climwin.core.schema import DataGapError


def test_a_gap_is_filled_by_the_monthly_offset_and_marked():
    whole = station_record(credit="Meteostat, A")
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
    daily = with_gap(station_record(seed=5), "2003-02-01", "2003-02-09")
    neighbour = station_record(seed=6)
    filled = fill_gaps(daily, neighbour)
    here, there = daily["tmin"].to_series(), neighbour["tmin"].to_series()
    for day in pd.date_range("2003-02-01", "2003-02-09"):
        both = [d for d in here.index if d.month == day.month and not np.isnan(here[d])]
        offset = sum(here[d] - there[d] for d in both) / len(both)
        assert float(filled["tmin"].sel(time=day)) == pytest.approx(there[day] + offset)


def test_precipitation_stays_missing():
    daily = with_gap(station_record(), "2002-05-20", "2002-05-25", names=("precip",))
    filled = fill_gaps(daily, station_record(seed=2))
    assert int(np.isnan(filled["precip"]).sum()) == 6
    assert not filled["tmin_filled"].any()


def test_a_month_with_too_little_in_common_is_not_filled():
    daily = with_gap(station_record("2001-01-01", "2002-12-31"), "2001-05-01", "2001-06-15")
    # The neighbour has May of one year only, in which the record has its gap: none in common.
    neighbour = station_record("2001-04-01", "2001-12-31", seed=2)
    filled = fill_gaps(daily, neighbour, overlap=15)
    months = filled["time"].dt.month.values[filled["tmin_filled"].values]
    assert set(months) == {6}
    with pytest.raises(DataGapError, match="No month has 400 days"):
        fill_gaps(daily, neighbour, overlap=400)


def test_where_the_neighbour_has_a_gap_too_it_stays():
    daily = with_gap(station_record(), "2002-05-20", "2002-05-25")
    neighbour = with_gap(station_record(seed=2), "2002-05-22", "2002-05-22")
    filled = fill_gaps(daily, neighbour)
    assert int(np.isnan(filled["tmin"]).sum()) == 1
    assert int(filled["tmin_filled"].sum()) == 5


def test_a_fill_that_would_cross_is_taken_back():
    # the maximum of 21 May is missing, and the neighbour's lies below our minimum
    daily = with_gap(station_record(), "2002-05-21", "2002-05-21", names=("tmax",))
    neighbour = station_record()
    neighbour["tmax"].loc[{"time": "2002-05-21"}] = -30.0
    filled = fill_gaps(daily, neighbour)
    assert np.isnan(filled["tmax"].sel(time="2002-05-21")).all()
    assert not filled["tmax_filled"].any()
    npt.assert_array_equal(filled["tmin"], daily["tmin"])


def test_filling_many_stations_with_dask():
    whole = station_record()
    gaps = [
        with_gap(whole, "2002-05-20", "2002-05-25"),
        with_gap(whole, "2003-01-01", "2003-01-03"),
    ]
    both = xr.concat(gaps, xr.DataArray(["a", "b"], dims="station")).chunk(station=1)
    filled = fill_gaps(both, logger_of(whole, [1.0] * 12))
    assert filled["tmin"].dims == both["tmin"].dims
    npt.assert_allclose(filled["tmin"].isel(station=1), whole["tmin"], atol=1e-9)
    assert filled["tmin_filled"].sum("time").values.tolist() == [6, 3]
