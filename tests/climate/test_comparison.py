"""Stations side by side, against pandas."""

import numpy as np
import numpy.testing as npt
import pandas as pd
import pytest
from records import daily, days, station_record, with_gap

from climwin.climate.comparison import compare_stations
from climwin.core.errors import DataGapError


def test_stations_side_by_side_on_the_days_in_common():
    one = station_record(station_id="A")
    other = station_record("2002-01-01", "2005-12-31", seed=8, station_id="B")
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
    with pytest.raises(ValueError, match="needs two records or more, got 1"):
        compare_stations([station_record()])
    early = station_record("2001-01-01", "2001-12-31")
    late = station_record("2003-01-01", "2003-12-31")
    with pytest.raises(DataGapError, match="no day on which all records have"):
        compare_stations([early, late])


def test_results_say_what_they_are():
    one = station_record("2001-01-01", "2001-12-31", station_id="A")
    bare = one.copy()
    bare.attrs = {}
    table = compare_stations([one, bare, bare], threshold=-2.5)
    units = {
        "share_present": "1",
        "mean": "degC",
        "difference": "degC",
        "spread": "degC",
        "correlation": "1",
        "freezes": "1",
        "common_days": "1",
    }
    assert {name: da.attrs["units"] for name, da in table.data_vars.items()} == units
    words = table["freezes"].attrs["long_name"].replace("\N{MINUS SIGN}", "-")
    assert words == "days a year at or below -2.5 degC"
    assert table["station"].values.tolist() == ["A", "2", "3"]
    assert table["name"].values.tolist() == ["Mill", "", ""]
    npt.assert_array_equal(table["elevation"], [500, np.nan, np.nan])
    assert table["mean"].dims == table["correlation"].dims == ("station", "variable")


def test_freezes_are_nights_at_the_threshold_or_below_with_its_tolerance():
    nights = [0.05, 0.0, 0.06, -3, 5, 0.1, np.nan, 9, 9, 9, 9]
    time = days("2001-01-01", "2001-01-11")
    record = daily(time, tmin=nights, tmax=np.full(11, 12.0))
    table = compare_stations([record, record.assign(tmin=record["tmin"] - 1)])
    npt.assert_allclose(table["freezes"], [365.25 * 3 / 10, 365.25 * 5 / 10])
    npt.assert_allclose(table["share_present"], [[10 / 11, 1]] * 2)
    assert np.isnan(table["correlation"].sel(variable="tmax")).all()  # it never varied
