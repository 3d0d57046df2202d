"""The command ``climwin hindcast``: what it prints and writes, and what it refuses."""

import numpy as np
import pandas as pd
import pytest
import records

import climwin as cw
from climwin.cli.main import main
from climwin.io.exports import to_csv

FORTY_YEARS = np.timedelta64(14_610, "D")


def past(years):
    """Invented weather from 1959 on: a record does not reach into the future."""
    record = records.weather(5, years=years)
    return record.assign_coords(time=record["time"] - FORTY_YEARS)


@pytest.fixture(scope="module")
def long_record(tmp_path_factory):
    return to_csv(past(44), tmp_path_factory.mktemp("long") / "long.csv")


def test_it_says_each_kind_and_writes_a_table_and_a_picture(long_record, tmp_path, capsys):
    out = tmp_path / "then.csv"
    assert main(["hindcast", str(long_record), "--out", str(out)]) == 0
    told = capsys.readouterr().out
    looked_back = cw.hindcast(cw.read_daily(long_record))
    held = float(looked_back["held"].sel(kind="heat", rule="today"))
    [line] = [each for each in told.splitlines() if each.strip().startswith("heat sums")]
    assert line.endswith(f"ranges held {100 * held:.0f} %")
    table = pd.read_csv(out, comment="#")
    assert {"kind", "rule"} <= set(table.columns)
    assert len(table) == looked_back.sizes["kind"] * looked_back.sizes["rule"]
    assert out.with_suffix(".png").stat().st_size > 10_000


def test_a_short_record_is_refused(tmp_path, capsys):
    short = to_csv(past(30), tmp_path / "short.csv")
    assert main(["hindcast", str(short), "--out", str(tmp_path / "then.csv")]) == 1
    assert "30 years are known, 40 are the least" in capsys.readouterr().err
    assert not (tmp_path / "then.csv").exists()


def test_another_file_than_csv_is_refused(long_record, capsys):
    assert main(["hindcast", str(long_record), "--out", "then.txt"]) == 1
    assert "--out takes a file that ends in .csv, got 'then.txt'" in capsys.readouterr().err
