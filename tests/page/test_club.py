"""A club's page: what its file lists, on the same years, the longest window first."""

import base64
import csv
import re
from pathlib import Path

import numpy as np
import pytest
import records
from reading import Reader

from climwin.core.schema import RecordError
from climwin.io.daily import read_daily
from climwin.io.exports import to_csv
from climwin.page.club import (
    SECTIONS,
    Club,
    ClubPage,
    Member,
    club_reports,
    read_club,
    write_club,
)

SAMPLES = Path(__file__).parents[2] / "data_samples"
TWO = """
name = "Club"
crop = "{crop}"
{more}
[[gardens]]
name = "Low"
record = "low.csv"
latitude = 46
longitude = 7
[[gardens]]
name = "{high}"
record = "{record}"
latitude = 46
longitude = 7
elevation = 900
"""


@pytest.fixture(scope="module")
def reports():
    return club_reports(read_club(SAMPLES / "club.toml"), SAMPLES)


@pytest.fixture(scope="module")
def shown(reports):
    page = ClubPage("Pellbrook garden club", reports, "C", None)
    return {name: page.section(name).html for name in SECTIONS}


@pytest.fixture
def folder(tmp_path):
    """A club's folder with two records, of other years."""
    for name, seed, years in (("low", 1, 4), ("high", 2, 3)):
        record = records.weather(seed, years=years).assign_attrs(elevation=300.0)
        to_csv(record, tmp_path / f"{name}.csv")
    return tmp_path


def write(folder, *, crop="lettuce", high="High", record="high.csv", more=""):
    file = folder / "club.toml"
    file.write_text(TWO.format(crop=crop, high=high, record=record, more=more), "utf-8")
    return file


# --- the file ------------------------------------------------------------------------------


def test_the_sample_lists_invented_gardens():
    club = read_club(SAMPLES / "club.toml")
    assert [garden.name for garden in club.gardens] == [
        *("Mill allotments", "Schoolyard beds", "Upper terrace")
    ]
    assert "Invented" in (SAMPLES / "club.toml").read_text("utf-8")


def test_records_are_found_beside_the_file_and_judged_on_common_years(folder):
    found = club_reports(read_club(write(folder)), folder, few_years=True)
    spans = [
        (r.daily["time"].dt.year.min().item(), r.daily["time"].dt.year.max().item()) for r in found
    ]
    assert spans == [(1999, 2001)] * 2


def test_a_need_of_its_own_counts(folder):
    found = club_reports(read_club(write(folder, more="need_days = 31")), folder, few_years=True)
    assert [report.need_days for report in found] == [31, 31]


def test_a_garden_is_moved_to_its_height(reports):
    # 6.5 degC a kilometre, ICAO standard atmosphere: 190 m above the station's 420 m.
    station, moved = (report.daily["tmin"] for report in reports[:2])
    np.testing.assert_allclose((station - moved).dropna("time"), 0.19 * 6.5, atol=1e-9)


@pytest.mark.parametrize(
    ("change", "match"),
    [
        (("latitude = 46", "latitude = 460"), "latitude"),
        (("crop =", "crops ="), "nearest allowed is 'crop'"),
        (("longitude = 7", ""), "longitude missing"),
        (('name = "High"', 'name = "Low"'), "each with a name of its own"),
    ],
)
def test_what_is_wrong_in_it_is_named(folder, change, match):
    file = write(folder)
    file.write_text(file.read_text().replace(*change))
    with pytest.raises(ValueError, match=match):
        club_reports(read_club(file), folder)


def test_one_garden_is_no_club():
    member = Member(name="Low", record="low.csv", latitude=46.0, longitude=7.0)
    with pytest.raises(ValueError, match="two gardens or more"):
        Club(name="Club", crop="pea", gardens=(member,))


def test_a_file_that_is_not_there_is_named(tmp_path):
    with pytest.raises(RecordError, match=r"club\.toml cannot be read: No such file"):
        read_club(tmp_path / "club.toml")


def test_records_without_common_years_are_refused(folder):
    late = read_daily(folder / "high.csv")
    time = late["time"].values + np.timedelta64(3653, "D")
    to_csv(late.assign_coords(time=time), folder / "high.csv")
    with pytest.raises(ValueError, match="no year in common"):
        club_reports(read_club(write(folder)), folder)


# --- the page ------------------------------------------------------------------------------


def test_the_longest_window_and_the_last_freeze_are_named(reports, shown):
    middle = {
        report.garden.name: float(np.nanmedian(report.windows["length"].sel(part=report.part)))
        for report in reports
    }
    longest, shortest = max(middle, key=middle.get), min(middle, key=middle.get)
    words = Reader(shown["finding"]).words
    said = f"{longest} has the longest mild spell for cauliflower: {middle[longest]:.0f} days in"
    assert said in words
    assert f"{shortest} has the shortest, {middle[shortest]:.0f}." in words
    spring = {
        report.garden.name: float(report.freeze_odds["last_spring"].sel(threshold=0.0, odds=0.5))
        for report in reports
    }
    assert f"comes earliest at {min(spring, key=spring.get)} " in words
    assert f"and latest at {max(spring, key=spring.get)} " in words


def test_gardens_stand_side_by_side_in_order(reports, shown):
    read = Reader(shown["side"])
    order = sorted(
        reports, key=lambda r: -float(np.nanmedian(r.windows["length"].sel(part=r.part)))
    )
    at = [read.words.index(f" {report.garden.name} ") for report in order]
    assert at == sorted(at)
    link = read.all("a")[0]
    raw = base64.b64decode(link["href"].partition("base64,")[2]).decode()
    rows = list(csv.DictReader(line for line in raw.splitlines() if line[0] != "#"))
    assert [row["garden"] for row in rows] == [report.garden.name for report in order]


def test_every_part_is_whole(reports, shown):
    for name in ("side", "ways", "sources"):
        words = Reader(shown[name]).words
        assert all(report.garden.name in words for report in reports)
    assert "moved to Schoolyard beds, 190 m above the station" in Reader(shown["sources"]).words
    assert "not a forecast" in Reader(shown["cautions"]).words
    alt = Reader(shown["picture"]).all("div")[0]["aria-label"].replace("\N{NO-BREAK SPACE}", " ")
    for report in reports:
        middle = float(np.nanmedian(report.windows["length"].sel(part=report.part)))
        assert f"{report.garden.name}: {middle:.0f} days" in alt
        harvests = int((report.evaluated[report.best]["outcome"] == "harvest").sum())
        assert f"{harvests} of " in Reader(shown["ways"]).words


def test_it_is_one_file_that_asks_for_nothing(folder):
    rude = "<script>alert(1)</script>"
    given = {"made": "2026-11-25", "few_years": True}
    target = write_club(write(folder, high=rude), folder / "club.html", **given)
    html = target.read_text("utf-8")
    read = Reader(html)
    assert rude not in html
    assert rude in read.words
    assert read.all("script") == []
    addresses = [a[k] for _, a in read.tags for k in ("src", "srcset", "href") if k in a]
    assert all(address.startswith(("data:", "#")) for address in addresses)
    assert "default-src 'none'" in html
    assert "script-src" not in html
    assert "on 2026-11-25" in read.words
    again = write_club(write(folder, high=rude), target, **given)
    assert again.read_text("utf-8") == html


def test_units_and_date_are_checked_first(tmp_path):
    with pytest.raises(ValueError, match="units must be one of C, F"):
        write_club(tmp_path / "none.toml", tmp_path / "x.html", units="K")
    with pytest.raises(ValueError, match="such as '2026-11-25'"):
        write_club(tmp_path / "none.toml", tmp_path / "x.html", made="now")


def test_a_garden_whose_gaps_hide_its_window_is_unknown(folder):
    daily = read_daily(folder / "high.csv")
    held = ~daily["time"].dt.month.isin([4, 9])
    to_csv(daily.where(held), folder / "high.csv")
    reports = club_reports(read_club(write(folder)), folder, few_years=True)
    page = ClubPage("Club", reports, "C", None)
    words = Reader(page.section("side").html).words
    assert re.search(r" Low [\d.]+ .* High unknown unknown \d+ \d of \d ", words)
    assert "has the shortest, unknown" in Reader(page.section("finding").html).words
    assert "High: unknown" in Reader(page.section("picture").html).all("div")[0]["aria-label"]
