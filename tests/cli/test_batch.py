"""The command for many stations: what it prints and writes, for a list and for a grid."""

import argparse

import pandas as pd
import pytest
import xarray as xr
from records import weather
from written import a_grid, write_station

from climwin.cli.batch import many


@pytest.fixture
def chosen(tmp_path):
    return argparse.Namespace(
        crop=["pea", "broad bean"],
        out=tmp_path / "region.nc",
        cluster=None,
        batch=2,
        few_years=True,
    )


def test_list_of_stations(chosen, tmp_path, capsys):
    rows = ["station,latitude,longitude,record,units"]
    for n in range(3):
        write_station(tmp_path, f"{n}.csv", weather(n, years=3))
        rows.append(f"S{n},46.{n},7.{n},{n}.csv,C")
    rows.append("S9,46.9,7.9,gone.csv,C")
    (tmp_path / "stations.csv").write_text("\n".join(rows))
    chosen.stations = tmp_path / "stations.csv"
    many(chosen)
    told = capsys.readouterr()
    assert told.out.splitlines()[0] == "3 of 4 stations answered"
    assert told.out.splitlines()[1].startswith("mind: 3 of them from fewer than ten years")
    assert told.out.splitlines()[2].startswith("  S9: ")
    assert told.err == ""  # quiet where nobody watches
    assert (tmp_path / "region-pea.png").exists()
    assert (tmp_path / "region-broad-bean.png").exists()
    with xr.open_dataset(tmp_path / "region.nc") as found:
        assert found["crop"].values.tolist() == ["pea", "broad bean"]
    assert set(pd.read_csv(tmp_path / "region.csv")["station"]) == {"S0", "S1", "S2", "S9"}


def test_stations_of_few_years_are_left_out_by_name_and_count(chosen, tmp_path, capsys):
    a_grid([weather(n, years=4) for n in range(6)]).to_netcdf(tmp_path / "grid.nc")
    chosen.stations, chosen.few_years = tmp_path / "grid.nc", False
    many(chosen)
    told = capsys.readouterr().out.splitlines()
    assert told[0] == "0 of 6 stations answered"
    assert "too few years for odds: 4 can be told from the record, 10 are the least" in told[1]


def test_grid_in_kelvin(chosen, tmp_path, capsys):
    a_grid([weather(n, years=3) for n in range(6)]).to_netcdf(tmp_path / "grid.nc")
    chosen.stations = tmp_path / "grid.nc"
    many(chosen)
    assert "6 of 6 stations answered" in capsys.readouterr().out
    assert "46.25 N 7.5 E" in (tmp_path / "region.csv").read_text("utf-8")
