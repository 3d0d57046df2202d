"""From a place's name to its page: the command against the stand-in, with meteostat unmodified."""

import os
import re
import subprocess
import sys
from types import SimpleNamespace

import numpy as np
import pytest
from standin import StandIn, pointed_at

from climwin.cli.main import main

pytestmark = pytest.mark.filterwarnings("always::UserWarning")  # which the command prints

PLACE = ("--place", "46.10, 7.20", "--elevation", "640")
YEARS = ("--first-year", "1996", "--last-year", "2015")


@pytest.fixture(scope="module")
def server():
    with StandIn() as server, pointed_at(server):
        yield server


@pytest.fixture(scope="module")
def kept(tmp_path_factory):
    return tmp_path_factory.mktemp("kept")


@pytest.fixture
def climwin(server, kept, tmp_path, capsys, monkeypatch):
    """The command in this process: another one would take a second to import what is here."""
    monkeypatch.setenv("CLIMWIN_DATA", str(kept))
    monkeypatch.chdir(tmp_path)

    def run(*arguments):
        try:
            code = main(arguments)
        except SystemExit as stop:
            code = stop.code
        said = capsys.readouterr()
        return SimpleNamespace(returncode=code, stdout=said.out, stderr=said.err)

    return run


def test_another_process_is_told_by_the_environment_alone(server, tmp_path):
    env = os.environ | server.settings | {"CLIMWIN_DATA": str(tmp_path)}
    command = [sys.executable, "-m", "climwin", "fetch", "--station", "PLB01", *YEARS]
    done = subprocess.run(command, capture_output=True, text=True, env=env, cwd=tmp_path)
    assert done.returncode == 0, done.stderr
    assert done.stderr == ""  # quiet when piped
    assert "tmin: 7,305 of 7,305 days" in done.stdout  # 20 years, 5 of them leap years
    assert (tmp_path / "station-PLB01.nc").exists()


def test_a_place_by_name_is_found_offline(climwin):
    done = climwin("stations", "--place", "Springfield")
    assert done.returncode == 1
    assert "Springfield, Illinois, United States" in done.stderr


def test_stations_are_listed_the_best_first_with_the_reason(climwin):
    done = climwin("stations", *PLACE, *YEARS)
    assert done.returncode == 0, done.stderr
    around, head, _, first, *others = done.stdout.splitlines()
    assert around == "around 46.10N 7.20E"
    assert head.split() == ["name", "km", "higher_m", "tmin", "tmax", "tmean", "precip", "present"]
    years = ["1980-2026"] * 4  # of each variable, by the stand-in's inventory
    lower = "\N{MINUS SIGN}30"
    assert first.split() == ["PLB01", "Pellbrook", "Mill", "0", lower, *years, "99", "%"]
    assert others[others.index("Why in this order:") + 1].startswith("PLB01  Pellbrook Mill: ")
    assert any("Pellbrook Pass: 10 km away; 1250 m higher" in line for line in others)
    assert "CC BY 4.0" in others[-1]


def test_without_a_height_of_the_garden_the_table_asks_for_it(climwin):
    done = climwin("stations", "--place", "46.10, 7.20", *YEARS)
    assert "give the garden's with --elevation" in done.stdout


def test_fetch_then_page_then_offline(climwin, kept, tmp_path):
    fetched = climwin("fetch", *PLACE, *YEARS)
    assert fetched.returncode == 0, fetched.stderr
    assert "CC BY 4.0" in fetched.stdout
    assert "tmin: 7,305 of 7,305 days" in fetched.stdout  # 20 years, 5 of them leap years
    assert fetched.stderr == ""  # quiet when piped
    assert "chosen for 46.10N 7.20E: 0 km away; 30 m lower" in fetched.stdout
    assert "last fetched today" in fetched.stdout
    assert "day boundary as each source has it" in fetched.stdout

    page = climwin("page", *PLACE, *YEARS, "--crop", "cauliflower", "--out", "page.html")
    assert page.returncode == 0, page.stderr
    html = (tmp_path / "page.html").read_text("utf-8")
    assert "CC BY 4.0" in html
    assert "Meteostat" in html
    assert "last fetched today" in html

    listed = climwin("store", "list")
    assert "PLB01" in listed.stdout
    assert climwin("store", "export", "PLB01", "mine.csv").returncode == 0
    assert "CC BY 4.0" in (tmp_path / "mine.csv").read_text("utf-8")
    gone = climwin("store", "remove", "PLB01")
    assert gone.returncode == 0
    assert not list(kept.glob("station-*.nc"))


def test_a_page_at_the_gardens_own_thermometer_with_gaps_filled(climwin, server, tmp_path):
    hours = np.arange("2010-04-01", "2010-06-01", dtype="datetime64[h]")
    warmth = 9 + 6 * np.sin((hours.astype(int) % 24 - 9) / 24 * 2 * np.pi)
    rows = [f"{hour}:00,{value:.1f}\n" for hour, value in zip(hours, warmth, strict=True)]
    (tmp_path / "shed.csv").write_text("".join(["time,temperature\n", *rows]))
    assert climwin("fetch", "--station", "PLB05", *YEARS).returncode == 0
    for column in ("tmin", "tmax"):
        server.edit(2012, 99, column, "")  # of every station that is fetched from here on
    more = ("--crop", "pea", "--thermometer", "shed.csv", "--fill-from", "PLB05")
    page = climwin("page", "--place", "46.10, 7.20", *YEARS, *more, "--out", "page.html")
    server.edits.clear()
    assert page.returncode == 0, page.stderr
    assert "that of the station is taken, 610 m" in page.stderr
    # April, each of its days, of one year: minimum, maximum, mean.
    assert re.search(r"(?m)^Apr( +\S+ +\S+ +30 +1){3}", page.stdout)
    assert "Minimum (°C)" in page.stdout
    html = (tmp_path / "page.html").read_text("utf-8")
    assert "filled from stations nearby: 1;" in html
    assert "gaps drawn with stations nearby: tmin from Farmere (weight 1.00)" in html
    assert re.search(r"20\syears measured; 1\sday filled from Farmere\.", html)
    assert "by offsets measured in Apr, May" in html
    assert "that of the station is taken, 610 m" in html


def test_fetch_tells_how_well_the_stations_around_would_fill_gaps(climwin, server):
    server.edit(2012, 99, "tmin", "")
    done = climwin(
        "fetch", "--station", "PLB04", "--first-year", "2015", "--last-year", "2020", "--join"
    )
    server.edits.clear()
    assert done.returncode == 0, done.stderr
    heads, *rows = done.stdout.split("left out in turn:\n")[1].splitlines()
    assert heads.split()[:3] == ["name", "km", "higher_m"]
    told = {row.split()[0]: row for row in rows[:3]}
    assert {"PLB01", "PLB03", "PLB05"} <= {*told}
    assert re.search(r"Pellbrook Pass +4 +\+1,250 ", told["PLB03"])
    assert "The record has no gap that they could fill." in done.stdout
    assert re.search(r"`climwin page --station PLB04( --fill-from PLB0[135])+`", done.stdout)


# Far Shore has weather of its own: by chance alone it explains a few per cent of any other station.
REFUSED = (
    r"The neighbours explain too little of the record's tmin to fill its gaps\. .*they must "
    r"explain 50 % of the variance.*Far Shore \({far} km away, {height}\): error [23]\.\d degC, "
    r"\d %\sexplained\. Give a nearer station, or one of the same height"
)


def test_fetch_refuses_to_join_a_station_with_other_weather_and_says_by_how_much(climwin):
    done = climwin(
        "fetch", "--station", "PLB07", "--first-year", "1996", "--last-year", "2005", "--join"
    )
    assert done.returncode == 1
    # 0.6 and 1.2 degrees at 60 N: 66.7 km and 66.1 km
    assert re.search("--join: " + REFUSED.format(far=94, height="10 m higher"), done.stderr)
    assert "Traceback" not in done.stderr
    heads, row = done.stdout.split("left out in turn:\n")[1].splitlines()
    assert heads.split()[:3] == ["name", "km", "higher_m"]
    assert re.search(r"PLB08 +Far Shore +94 +\+10 .* 0\.00$", row)  # its weight
    assert "--fill-from" not in done.stdout  # nothing is advised that would be refused


def test_a_page_refuses_to_fill_gaps_from_the_other_end_of_a_continent(climwin, tmp_path):
    more = ("--crop", "pea", "--fill-from", "PLB08", "--out", "refused.html")
    done = climwin("page", *PLACE, *YEARS, *more)
    assert done.returncode == 1
    assert re.search("--fill-from: " + REFUSED.format(far=r"1,6\d\d", height=".*"), done.stderr)
    assert not (tmp_path / "refused.html").exists()


def test_a_station_with_none_around_it_cannot_be_joined(climwin, server):
    server.fail("404", "PLB08")
    climwin("store", "remove", "PLB08")  # what another test fetched
    done = climwin(
        "fetch", "--station", "PLB07", "--first-year", "1996", "--last-year", "2005", "--join"
    )
    server.mend()
    assert done.returncode == 1
    assert re.search(r"--join: .*150 km", done.stderr)
    assert "Traceback" not in done.stderr


def test_a_doubtful_year_is_named_and_fetched_again(climwin, server, kept):
    climwin("store", "remove", "PLB05")  # what other tests fetched
    for day in range(10, 365, 15):
        server.edit(2003, day, "tmax", 55.0)
    fetched = climwin("fetch", "--station", "PLB05", *YEARS)
    server.edits.clear()
    assert "2003: 24 of 730 minima and maxima cannot be right" in fetched.stdout
    checked = climwin("store", "check").stdout
    assert "PLB05  Farmere  2003  doubtful: 24 of 730 minima and maxima cannot be right" in checked
    assert "climwin store refresh ID" in checked
    done = climwin("store", "refresh", "PLB05")
    assert done.returncode == 0, done.stderr
    assert "PLB05 has no short or doubtful year any more" in done.stdout
    assert list(kept.glob("station-PLB05.nc.before-*"))
    assert "PLB05" not in climwin("store", "check").stdout
    again = climwin("store", "refresh", "PLB05")
    assert (again.returncode, "Name the years" in again.stderr) == (1, True)
    assert climwin("store", "refresh", "PLB05", "2001-2002", "2005").returncode == 0
    for wrong in ("2002-2001", "first"):
        done = climwin("store", "refresh", "PLB05", wrong)
        assert (done.returncode, "such as 1990-1995" in done.stderr) == (2, True)
    assert climwin("store", "remove", "PLB05").returncode == 0


def test_missing_years_are_named(climwin, server):
    server.fail("404", "2003")
    done = climwin("fetch", "--station", "PLB03", "--first-year", "2001", "--last-year", "2005")
    server.mend()
    assert done.returncode == 0, done.stderr
    assert done.stderr.startswith("climwin: ")
    assert "UserWarning" not in done.stderr
    assert "2003" in next(line for line in done.stdout.splitlines() if "missing years" in line)
