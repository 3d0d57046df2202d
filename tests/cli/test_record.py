"""`inspect`: several neighbours, and a change that is accepted."""

from pathlib import Path

import numpy as np
import pytest
import records

import climwin as cw
from climwin.cli.main import main


@pytest.fixture
def stations(tmp_path, monkeypatch):
    """A record whose nights read 1.5 degC colder from March 2009 on, and three neighbours."""
    monkeypatch.chdir(tmp_path)
    sound = records.weather(3, years=20)[["tmin", "tmax"]]
    later = sound["time"] >= np.datetime64("2009-03")
    moved = sound.assign(tmin=(sound["tmin"] - 1.5 * later).assign_attrs(sound["tmin"].attrs))
    cw.to_csv(moved, "record.csv")
    for seed, name in enumerate(("north", "east", "south")):
        rng = np.random.default_rng(seed)
        near = sound.copy()
        for each in near:
            noise = rng.normal(0, 1.5, sound.sizes["time"])
            near[each] = (sound[each] + noise).round(1).assign_attrs(sound[each].attrs)
        near["tmax"] = near["tmax"].where(near["tmax"] > near["tmin"])
        near["tmax"].attrs = sound["tmax"].attrs
        cw.to_csv(near, f"{name}.csv")
    return ["--neighbour", "north.csv", "--neighbour", "east.csv", "--neighbour", "south.csv"]


def test_a_change_is_listed_accepted_and_taken_off_beside_the_values_as_read(stations, capsys):
    assert main(["inspect", "record.csv", *stations]) == 0
    told = capsys.readouterr().out
    assert "All pairs of the record and its neighbours (north, east, south):" in told
    assert "  1: nights 1.5 °C colder, give or take " in told
    assert "It was the record that changed: 3 of its 3 pairs show it." in told
    assert main(["inspect", "record.csv", *stations, "--accept", "1", "--adjusted", "new.csv"]) == 0
    said = capsys.readouterr().out
    assert "With these changes taken off, the last spring frost comes on or after" in said
    raw, read = cw.read_daily("record.csv"), cw.read_daily("new.csv")
    early = read["time"] < np.datetime64("2008-06")
    moved = (read["tmin"] - raw["tmin"]).where(early, drop=True)
    np.testing.assert_allclose(moved, -1.5, atol=0.3)
    np.testing.assert_allclose(read["tmax"], raw["tmax"])
    text = Path("new.csv").read_text("utf-8")
    assert "tmin_raw" in text
    assert "accepted by hand" in text


@pytest.mark.parametrize(
    ("typed", "message"),
    [
        (["--accept", "1", "--adjusted", "n.csv"], "which two neighbours or more give"),
        (["--adjusted", "n.csv"], "--adjusted needs the changes to take off"),
        (["--accept", "1", "ALL"], "--accept needs a file to write"),
        (["--accept", "9", "--adjusted", "n.csv", "ALL"], "--accept must be numbers of changes"),
        (["--accept", "1", "--adjusted", "record.csv", "ALL"], "is a file that this command reads"),
    ],
)
def test_what_is_missing_is_told(stations, capsys, typed, message):
    all_three = stations if "ALL" in typed else []
    given = [each for each in typed if each != "ALL"]
    assert main(["inspect", "record.csv", *all_three, *given]) == 1
    assert message in capsys.readouterr().err
