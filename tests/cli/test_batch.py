"""The command for many stations: what it prints and writes, for a list and for a grid."""

from dataclasses import replace

import pandas as pd
import pytest
import xarray as xr
from records import weather
from written import a_grid, write_station

from climwin.cli import extras
from climwin.cli.batch import BatchOptions, batch


@pytest.fixture
def options(tmp_path):
    return BatchOptions(
        stations=tmp_path / "grid.nc",
        crops=("pea", "broad bean"),
        few_years=True,
        climate="record",
        workers=None,
        cluster=None,
        batch_size=2,
        out=tmp_path / "region.nc",
    )


def test_list_of_stations(options, tmp_path, capsys):
    rows = ["station,latitude,longitude,record,units"]
    for n in range(3):
        write_station(tmp_path, f"{n}.csv", weather(n, years=3))
        rows.append(f"S{n},46.{n},7.{n},{n}.csv,C")
    rows.append("S9,46.9,7.9,gone.csv,C")
    (tmp_path / "stations.csv").write_text("\n".join(rows))
    batch(replace(options, stations=tmp_path / "stations.csv"))
    printed = capsys.readouterr()
    lines = printed.out.splitlines()
    assert lines[0] == "results for 3 of 4 stations"
    assert lines[1].startswith("caution: 3 of them from fewer than ten years")
    assert lines[2].startswith("  S9: ")
    assert printed.err == ""  # quiet where nobody watches
    assert (tmp_path / "region-pea.png").exists()
    assert (tmp_path / "region-broad-bean.png").exists()
    with xr.open_dataset(tmp_path / "region.nc") as found:
        assert found["crop"].values.tolist() == ["pea", "broad bean"]
    assert set(pd.read_csv(tmp_path / "region.csv")["station"]) == {"S0", "S1", "S2", "S9"}


def test_doubts_are_said_and_so_is_what_was_not_checked(options, tmp_path, capsys):
    rows = ["station,latitude,longitude,record,units"]
    whole, holed = weather(1, years=3), weather(2, years=3)
    holed = holed.where(holed["time"].dt.month != 4)
    for name, record in {"A": whole, "B": holed}.items():
        write_station(tmp_path, f"{name}.csv", record)
        rows.append(f"{name},46.1,7.1,{name}.csv,C")
    (tmp_path / "stations.csv").write_text("\n".join(rows))
    batch(replace(options, stations=tmp_path / "stations.csv"))
    out = capsys.readouterr().out
    assert "caution: B: 8 % of its days lack a minimum or a maximum." in out  # 30 of 365
    assert "caution: A: " not in out
    # The doubtful one too.
    assert "caution: 2 of them from fewer than ten years: take their odds as a hint, no more" in out
    assert "Add --few-years" not in out
    assert "not checked for so many records: whether a station was moved" in out


def test_stations_of_few_years_are_left_out_by_name_and_count(options, tmp_path, capsys):
    a_grid([weather(n, years=4) for n in range(6)]).to_netcdf(tmp_path / "grid.nc")
    batch(replace(options, few_years=False))
    lines = capsys.readouterr().out.splitlines()
    assert lines[0] == "results for 0 of 6 stations"
    assert "too few years for odds: the record has 4 known years, and 10 are needed" in lines[1]
    [advice] = [line for line in lines if line.startswith("Add --few-years")]
    assert "from fewer than ten years all the same" in advice


def test_grid_in_kelvin(options, tmp_path, capsys):
    a_grid([weather(n, years=3) for n in range(6)]).to_netcdf(tmp_path / "grid.nc")
    batch(options)
    assert "results for 6 of 6 stations" in capsys.readouterr().out
    assert "46.25 N 7.5 E" in (tmp_path / "region.csv").read_text("utf-8")


def test_what_is_not_installed_is_named_with_the_extra_that_has_it(options, monkeypatch):
    here = extras.find_spec
    monkeypatch.setattr(extras, "find_spec", lambda n: None if n == "distributed" else here(n))
    with pytest.raises(ValueError, match=r"takes distributed, not .*'climwin\[many\]'"):
        batch(options)
