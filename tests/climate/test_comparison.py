"""Stations side by side, against pandas."""

import numpy.testing as npt
import pandas as pd
import pytest
from records import station_record, with_gap

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
