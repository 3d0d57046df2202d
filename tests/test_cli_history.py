"""From a place's name to its page: the command against the stand-in, with meteostat unmodified."""

import os
import subprocess
import sys

import pytest
from standin import StandIn

PLACE = ("--place", "46.10, 7.20", "--elevation", "640")
YEARS = ("--first-year", "1996", "--last-year", "2015")


@pytest.fixture(scope="module")
def server():
    with StandIn() as server:
        yield server


@pytest.fixture(scope="module")
def kept(tmp_path_factory):
    return tmp_path_factory.mktemp("kept")


@pytest.fixture
def climwin(server, kept, tmp_path):
    def run(*arguments):
        env = os.environ | server.settings | {"CLIMWIN_DATA": str(kept)}
        command = [sys.executable, "-m", "climwin", *arguments]
        return subprocess.run(
            command, capture_output=True, text=True, env=env, cwd=tmp_path, timeout=120, check=False
        )

    return run


def test_a_place_by_name_is_found_offline(climwin):
    done = climwin("stations", "--place", "Springfield")
    assert done.returncode == 1
    assert "Springfield, IL, US" in done.stderr


def test_stations_are_listed_the_best_first_with_the_reason(climwin):
    done = climwin("stations", *PLACE, *YEARS)
    assert done.returncode == 0, done.stderr
    first, *others = done.stdout.splitlines()
    assert first.startswith("PLB01  Pellbrook Mill: ")
    assert "km" in first
    assert any("Pellbrook Pass" in line for line in others)


def test_fetch_then_page_then_offline(climwin, kept, tmp_path):
    fetched = climwin("fetch", *PLACE, *YEARS)
    assert fetched.returncode == 0, fetched.stderr
    assert "CC BY 4.0" in fetched.stdout
    assert "tmin: 7,305 of 7,305 days" in fetched.stdout  # 20 years, 5 of them leap years
    assert fetched.stderr == ""  # quiet when piped

    page = climwin("page", *PLACE, *YEARS, "--crop", "cauliflower", "--out", "page.html")
    assert page.returncode == 0, page.stderr
    html = (tmp_path / "page.html").read_text("utf-8")
    assert "CC BY 4.0" in html
    assert "Meteostat" in html

    listed = climwin("store", "list")
    assert "PLB01" in listed.stdout
    assert climwin("store", "export", "PLB01", "mine.csv").returncode == 0
    assert "CC BY 4.0" in (tmp_path / "mine.csv").read_text("utf-8")
    gone = climwin("store", "remove", "PLB01")
    assert gone.returncode == 0
    assert not list(kept.glob("station-*.nc"))


def test_missing_years_are_named(climwin, server):
    server.fail("404", "2003")
    done = climwin("fetch", "--station", "PLB03", "--first-year", "2001", "--last-year", "2005")
    server.mend()
    assert done.returncode == 0, done.stderr
    assert done.stderr.startswith("climwin: ")
    assert "UserWarning" not in done.stderr
    assert "2003" in next(line for line in done.stdout.splitlines() if "missing years" in line)
