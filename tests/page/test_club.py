"""A club's page: each garden as on its own page, and all compared on the same years."""

import csv
import re
from pathlib import Path

import numpy as np
import pytest
import records
from reading import Reader, carried, codes_of

from climwin.climate.adjust import adjust_to_garden
from climwin.core.errors import RecordError
from climwin.core.schema import Garden
from climwin.core.seasons import day_number
from climwin.crops.catalogue import crop
from climwin.io.daily import read_daily
from climwin.io.exports import to_csv
from climwin.page.club import SECTIONS, ClubPage, _line, club_page, save_club
from climwin.page.club_file import Club, Member, club_reports, read_club
from climwin.page.club_rows import GardenRow
from climwin.page.sections import Page
from climwin.planning.growth import HARVEST, OPEN
from climwin.report.decision import decide
from climwin.report.garden import garden_report
from climwin.widgets.panels import panel
from climwin.widgets.payload import GOOD_HARVEST
from climwin.widgets.state import span_of
from climwin.widgets.tasks import TASKS

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


def test_a_record_cannot_be_moved_to_a_height_that_is_not_given(folder):
    file = write(folder)
    file.write_text(file.read_text().replace("elevation = 900", 'temperatures = "garden"'))
    with pytest.raises(RecordError, match=r"'High'.*which is not given. Give its elevation, or"):
        read_club(file)


def test_the_sample_lists_invented_gardens():
    club = read_club(SAMPLES / "club.toml")
    assert [garden.name for garden in club.gardens] == [
        *("Mill allotments", "Schoolyard beds", "Upper terrace")
    ]
    assert "Invented" in (SAMPLES / "club.toml").read_text("utf-8")


def test_records_are_found_beside_the_file_and_keep_all_their_years(folder):
    found = club_reports(read_club(write(folder)), folder, few_years=True)
    assert [span_of(report.daily) for report in found] == [(1999, 2002), (1999, 2001)]


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
        (("crop =", "crops ="), "Did you mean crop?"),
        (("longitude = 7", ""), "gardens 1 lacks longitude: write it in"),
        (("elevation = 900", 'elevation = "900 yards"'), "feet with their unit, .* '900 yards'"),
        (("elevation = 900", "elevation = 900 ft"), 'a number that has a unit, such as "850 ft"'),
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


# --- the page ------------------------------------------------------------------------------


def test_the_longest_window_and_the_last_freeze_are_named(reports, shown):
    middle = {
        report.garden.name: float(np.nanmedian(report.windows["length"].sel(part=report.part)))
        for report in reports
    }
    longest, shortest = max(middle, key=middle.get), min(middle, key=middle.get)
    words = Reader(shown["comparison"]).words
    said = f"{longest} has the longest mild spell for cauliflower: {middle[longest]:.0f} days in"
    assert said in words
    assert f"{shortest} has the shortest, {middle[shortest]:.0f}." in words
    spring = {
        report.garden.name: float(report.freeze_odds["last_spring"].sel(threshold=0.0, odds=0.5))
        for report in reports
    }
    assert f"comes earliest at {min(spring, key=spring.get)} " in words
    assert f"and latest at {max(spring, key=spring.get)} " in words


def test_gardens_stand_in_the_order_of_the_file(reports, shown):
    names = [report.garden.name for report in reports]
    for name in ("finding", "ways", "side"):
        words = Reader(shown[name]).words
        at = [words.index(f"{each} ") for each in names]
        assert at == sorted(at)
    link = Reader(shown["side"]).all("a")[0]
    _, raw = carried(link["href"])
    rows = list(csv.DictReader(line for line in raw.splitlines() if line[0] != "#"))
    assert [row["garden"] for row in rows] == names


def test_every_part_is_whole(reports, shown):
    for name in ("side", "ways", "sources"):
        words = Reader(shown[name]).words
        assert all(report.garden.name in words for report in reports)
    assert "moved to Schoolyard beds, 190 m above the station" in Reader(shown["sources"]).words
    assert "not a forecast" in Reader(shown["cautions"]).words
    alt = Reader(shown["comparison"]).all("div")[0]["aria-label"].replace("\N{NO-BREAK SPACE}", " ")
    for report in reports:
        middle = float(np.nanmedian(report.windows["length"].sel(part=report.part)))
        assert f"{report.garden.name}: {middle:.0f} days" in alt
        lead = decide(report).lead
        assert f"{lead.harvested} of {lead.known}" in Reader(shown["ways"]).words


def test_it_is_one_file_that_asks_for_nothing(folder):
    rude = "<script>alert(1)</script>"
    given = {"made": "2026-11-25", "few_years": True}
    target = save_club(club_page(write(folder, high=rude), **given), folder / "club.html")
    html = target.read_text("utf-8")
    read = Reader(html)
    assert rude not in html
    assert rude in read.words
    assert read.all("script") == []
    addresses = [a[k] for _, a in read.tags for k in ("src", "srcset", "href") if k in a]
    assert all(address.startswith(("data:", "#")) for address in addresses)
    assert "default-src 'none'" in html
    assert "script-src" not in html
    assert "on 25 November 2026" in read.words
    again = save_club(club_page(write(folder, high=rude), **given), target)
    assert again.read_text("utf-8") == html


def test_units_and_date_are_checked_first(tmp_path):
    with pytest.raises(ValueError, match="units must be one of C, F"):
        club_page(tmp_path / "none.toml", units="K")
    with pytest.raises(ValueError, match="such as '2026-11-25'"):
        club_page(tmp_path / "none.toml", made="now")


def test_a_garden_whose_gaps_hide_its_window_is_unknown(folder):
    daily = read_daily(folder / "high.csv")
    held = ~daily["time"].dt.month.isin([4, 9])
    to_csv(daily.where(held), folder / "high.csv")
    reports = club_reports(read_club(write(folder)), folder, few_years=True)
    page = ClubPage("Club", reports, "C", None)
    words = Reader(page.section("side").html).words
    assert re.search(r" High 1999.2001 unknown unknown \d+ \d of \d ", words)
    assert re.search(r" Low 1999.2002 [\d.]+ ", words)


# --- one story ----------------------------------------------------------------------------


@pytest.fixture(scope="module")
def unequal(tmp_path_factory):
    """A club of two gardens on the sample's records, one of them twelve years shorter."""
    folder = tmp_path_factory.mktemp("unequal")
    valley = read_daily(SAMPLES / "pellbrook_valley.csv")
    to_csv(valley, folder / "low.csv")
    to_csv(valley.sel(time=slice("1997", None)), folder / "high.csv")
    return folder, club_page(write(folder, crop="pea"))


def plain(html):
    return Reader(html).words.replace("\N{NO-BREAK SPACE}", " ")


def test_a_garden_has_the_numbers_of_its_own_page_whatever_the_years_of_the_others(unequal):
    folder, page = unequal
    for member, report in zip(read_club(folder / "club.toml").gardens, page.reports, strict=True):
        # The page of this garden alone, made as `climwin page` makes it.
        garden = Garden(member.name, member.latitude, member.longitude, member.elevation)
        alone = garden_report(garden, read_daily(folder / member.record), crop=crop("pea"))
        own = Page(alone, "C", None)
        decision = own.content("decision")
        assert report.garden.name == member.name
        finding, ways, side = (plain(page.section(n).html) for n in ("finding", "ways", "side"))
        assert f"{member.name} : {decision['verdict']}. {decision['numbers']}" in finding
        lead = decision["rows"][0]
        assert f"{member.name} {lead['name']}" in ways
        assert f"{lead['count']} {lead['likely']}" in ways
        short, known = int(alone.shorter["shorter"]), int(alone.shorter["known"])
        row = side[side.index(f" {member.name} ") :]
        assert f" {alone.need_days} {short} of {known} " in row[: row.index(" of ") + 8]
        freezes = own.content("sheet")["freezes"]["rows"]
        [even] = [each for each in freezes if each["chance"] == "5 in 10"]
        frosts = side[side.index("Frost dates") :]
        line = frosts[frosts.index(f" {member.name} ") :]
        assert line.split()[1:3] == plain(even["spring"]).split()


def test_a_typical_year_without_frost_has_none(pellbrook):
    mild = (pellbrook.daily + 18.0).assign_attrs(pellbrook.daily.attrs)
    row = GardenRow(garden_report(Garden("Mild", 46.1, 7.2), mild, crop=crop("pea")))
    line = _line(row)
    assert (line["even"]["spring"], line["even"]["autumn"]) == ("none", "none")
    assert line["risk"]["spring"] == "not even that often"


THREE = """
name = "Club"
crop = "{crop}"
[[gardens]]
name = "Low"
record = "low.csv"
record_units = "F"
latitude = 46
longitude = 7
elevation = "1380 ft"
[[gardens]]
name = "Slope"
record = "valley.csv"
latitude = 46
longitude = 7
elevation = "600 m"
temperatures = "garden"
[[gardens]]
name = "High"
record = "high.csv"
latitude = 46
longitude = 7
elevation = 980
"""
HEIGHTS = {"Low": 1380 * 0.3048, "Slope": 600.0, "High": 980.0}


@pytest.fixture(scope="module")
def three(tmp_path_factory):
    """A folder with the records of three gardens: other years, places and units."""
    folder = tmp_path_factory.mktemp("three")
    valley = read_daily(SAMPLES / "pellbrook_valley.csv").sel(time=slice("1999", None))
    to_csv(valley, folder / "valley.csv")
    rows = ["date,tmin,tmax"]
    for day in valley.sel(time=slice("2005", None)).to_dataframe().itertuples():
        degrees = [
            "" if np.isnan(value) else f"{32 + 1.8 * value:.2f}" for value in (day.tmin, day.tmax)
        ]
        rows.append(",".join([f"{day.Index:%Y-%m-%d}", *degrees]))
    (folder / "low.csv").write_text("\n".join(rows))
    to_csv(read_daily(SAMPLES / "pellbrook_hill.csv"), folder / "high.csv")
    return folder


@pytest.mark.parametrize("grown", ["potato", "cauliflower"])
def test_library_club_page_and_panel_tell_one_story(three, grown, monkeypatch):
    # The panel's list of all crops is no part of the story, and takes it half of its time.
    monkeypatch.setitem(TASKS, "crops", lambda _: {"best": {}})
    file = three / f"{grown}.toml"
    file.write_text(THREE.format(crop=grown), "utf-8")
    page = club_page(file)
    finding, ways, side = (plain(page.section(name).html) for name in ("finding", "ways", "side"))
    for member, report in zip(read_club(file).gardens, page.reports, strict=True):
        garden = Garden(member.name, member.latitude, member.longitude, HEIGHTS[member.name])
        daily = read_daily(three / member.record, units=member.record_units)
        if member.temperatures == "garden":
            daily = adjust_to_garden(daily, garden)
        alone = garden_report(garden, daily, crop=crop(grown))
        assert report.garden.elevation == pytest.approx(garden.elevation)
        # The garden's own page: the verdict, the lead and its dates, the spells, the freezes.
        own = Page(alone, "C", None)
        decision = own.content("decision")
        assert f"{member.name} : {decision['verdict']}. {decision['numbers']}" in finding
        lead = decision["rows"][0]
        assert f"{member.name} {lead['name']}" in ways
        assert f"{lead['count']} {lead['likely']}" in ways
        for day, more in lead["dates"]:
            assert day in ways
            assert more in ways
        short, known = int(alone.shorter["shorter"]), int(alone.shorter["known"])
        row = side[side.index(f" {member.name} ") :]
        assert f" {alone.need_days} {short} of {known} " in row[: row.index(" of ") + 8]
        freezes = own.content("sheet")["freezes"]["rows"]
        frosts = side[side.index("Frost dates") :]
        line = frosts[frosts.index(f" {member.name} ") :].split()
        for place, chance in ((1, "5 in 10"), (3, "1 in 10")):
            [each] = [each for each in freezes if each["chance"] == chance]
            assert line[place : place + 2] == plain(each["spring"]).split()
        # The panel on the same plans: each year's outcome, and how many spells were long enough.
        shown = panel(alone.daily, plans=list(alone.plans), garden=garden)
        counted = TASKS["plans"](shown._inputs())["plans"]
        for plan, odds, told in zip(alone.plans, alone.ahead.odds, counted, strict=False):
            codes = codes_of(told)[:, day_number(plan.start) - 1]
            harvested = np.isin(codes, (HARVEST, GOOD_HARVEST)).sum()
            assert harvested == int(odds["harvested"])
            assert (codes != OPEN).sum() == int(odds["known"])
        assert (shown.need_days, shown.report.shorter["shorter"].item()) == (alone.need_days, short)


def test_the_comparison_counts_common_years_and_says_so(unequal):
    folder, page = unequal
    words = plain(page.section("comparison").html)
    assert "This part counts only 1997 to 2024, the years that all records have" in words
    assert "differ from those of each garden's own page" in words
    common = read_daily(folder / "low.csv").sel(time=slice("1997", None))
    plans, need = page.reports[0].plans, page.reports[0].need_days
    expected = garden_report(page.reports[0].garden, common, plans=plans, need_days=need)
    short, known = (int(expected.shorter[name]) for name in ("shorter", "known"))
    [low, _] = page.compared
    assert (int(low.shorter["shorter"]), int(low.shorter["known"])) == (short, known)
    assert " Low 1997\N{EN DASH}2024 " in words
    assert f" {need} {short} of {known} " in words
    # The same record on the same years: neither garden has the longer spell or the later frost.
    assert "has the longest mild spell" not in words
    assert "comes earliest" not in words


@pytest.mark.parametrize(
    ("moved", "said"), [(0, "share only 3 years"), (3653, "have no year in common")]
)
def test_too_few_common_years_are_not_compared(folder, moved, said):
    late = read_daily(folder / "high.csv")
    time = late["time"].values + np.timedelta64(moved, "D")
    to_csv(late.assign_coords(time=time), folder / "high.csv")
    page = club_page(write(folder), few_years=True)
    words = plain(page.section("comparison").html)
    assert f"{said}, too few to compare the gardens" in words
    assert "<svg" not in page.section("comparison").html
    assert page.compared == []
    assert "Low" in plain(page.section("ways").html)


def test_a_need_in_weeks_is_said_first(folder):
    page = club_page(write(folder, more="need_days = 8"), few_years=True)
    told = [text for text in page.doubts if "A need is given in days, not in weeks" in text]
    assert [text.partition(": ")[0] for text in told] == ["Low", "High"]
