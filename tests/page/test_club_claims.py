"""What a club's page claims of its gardens, on gardens made up so that each claim can be false."""

import re
from types import SimpleNamespace

import numpy as np
import pandas as pd
import pytest
import xarray as xr
from reading import Reader

import climwin as cw
from climwin.core.errors import Parameter, RecordError
from climwin.page import club as pages
from climwin.page import club_figure, club_file, club_rows, club_words


def daily(first=1990, last=2009):
    time = pd.date_range(f"{first}-01-01", f"{last}-12-31").values
    return xr.Dataset({"tmin": ("time", np.zeros(len(time)))}, {"time": time})


def row(name, length, last_frost, first_frost=290.0, years=(1990, 2009)):
    """A garden by its typical spell [days] and frosts [day of the year]; one in ten 14 days on."""
    lengths = length + np.array([-20.0, -10, 0, 10, 20])
    odds = {
        "last_spring": ("odds", [last_frost, last_frost + 14]),
        "first_autumn": ("odds", [first_frost, first_frost - 14]),
        "freeze_free_days": ("odds", [first_frost - last_frost, first_frost - last_frost - 28]),
    }
    freezes = xr.Dataset(odds, {"odds": [0.5, 0.1]})
    return SimpleNamespace(
        name=name,
        median_length=length,
        length=xr.DataArray(lengths, dims="season", coords={"season": np.arange(5)}),
        shorter={"shorter": 7, "known": 19},
        freezes=freezes,
        freeze=lambda half, level: float(freezes[half].sel(odds=level)),
        climate="record",
        report=SimpleNamespace(daily=daily(*years), need_days=61, crop=cw.crop("potato")),
    )


@pytest.mark.parametrize("leading", ["record", "today"])
def test_freezes_of_a_garden_are_those_of_the_climate_that_leads_in_spring(leading):
    days = {"record": 120.0, "today": 100.0}
    of_climate = {
        name: SimpleNamespace(
            freeze_odds=xr.Dataset(
                {"last_spring": (("threshold", "odds"), [[day]])},
                {"threshold": [0.0], "odds": [0.1]},
            )
        )
        for name, day in days.items()
    }
    other = {"record": "today", "today": "record"}[leading]
    window = xr.Dataset({"length": ("season", [100.0])})
    report = SimpleNamespace(
        garden=cw.Garden("Low", 46.0, 7.0),
        window=window,
        median_length=100.0,
        shorter=None,
        today=of_climate["today"],
        leading=lambda kind: leading if kind == "spring freeze" else other,
        of_climate=of_climate.get,
    )
    assert club_rows.GardenRow(report).freeze("last_spring", 0.1) == days[leading]


LOW, MID, HIGH = row("Low", 120.0, 100.0), row("Mid", 90.0, 115.0), row("High", 60.0, 140.0)


@pytest.mark.parametrize("rows", [[LOW, MID, HIGH], [HIGH, LOW, MID], [MID, HIGH, LOW]])
def test_the_longest_spell_and_the_earliest_last_frost_are_those_of_the_lowest_garden(rows):
    spell, frost = club_words.who_differs(rows, "potato")
    longest, shortest = spell.split(";")
    assert re.search(r"^Low has the longest mild spell .* 120 days", longest)
    assert re.search(r"High has the shortest, 60", shortest)
    earliest, latest = frost.split(" and ")
    assert earliest.startswith("Spring's last frost")
    assert re.search(r"earliest at Low \(10 Apr", earliest)
    assert re.search(r"latest at High \(20 May", latest)
    assert "typical year" in spell
    assert "typical year" in frost


def test_gardens_that_are_alike_are_not_ranked():
    assert club_words.who_differs([LOW, row("Twin", 120.0, 100.0)], "potato") == []
    without_frost = row("Coast", 150.0, np.nan)
    (text,) = club_words.who_differs([LOW, without_frost], "potato")
    assert text.startswith("Coast has the longest")


@pytest.mark.parametrize(
    ("shares", "said"),
    [
        ((0.9, 0.85, 0.8), "Every garden can grow potatoes"),
        ((0.9, 0.79, 0.3), "1 of 3 gardens can rely on potatoes"),
        ((0.9, 0.8, 0.3), "2 of 3 gardens can rely on potatoes"),
        ((0.79, 0.5, 0.0), "No garden here can rely on potatoes"),
    ],
)
def test_gardens_that_can_rely_on_a_crop_harvest_in_eight_years_of_ten(monkeypatch, shares, said):
    reports = [SimpleNamespace(crop=cw.crop("potato"), share=share) for share in shares]
    monkeypatch.setattr(pages, "decide", lambda report: SimpleNamespace(lead=report))
    assert pages.ClubPage("club", reports, "C", None).verdict == said


def page_of(*spans):
    reports = tuple(SimpleNamespace(daily=daily(*span)) for span in spans)
    return pages.ClubPage("Club", reports, "C", None)


def test_the_years_compared_are_those_that_all_have_and_it_is_said_that_others_were_left_out():
    same = club_words.years_compared(page_of((1990, 2009), (1990, 2009)).reports)
    assert same == "All records run from 1990 to 2009, so the gardens met the same years."
    other = club_words.years_compared(page_of((1980, 2009), (1990, 2015)).reports)
    assert "counts only 1990 to 2009" in other
    assert "the years that all records have, so that the gardens meet the same weather" in other
    assert re.search(r"differ from those of each garden's own page, which counts all years", other)


@pytest.mark.parametrize(
    ("spans", "said"),
    [
        (((1980, 1994), (1990, 2009)), "share only 5 years"),
        (((1980, 1990), (1990, 2009)), "share only 1 year,"),
        (((1980, 1989), (1990, 2009)), "have no year in common"),
    ],
)
def test_too_few_common_years_are_counted(spans, said):
    text = club_words.no_comparison(page_of(*spans).reports)
    assert said in text
    assert ", too few to compare the gardens: it takes ten. Each garden's own numbers" in text


def tables_of(html):
    """Rows of each table as what stands under which head."""
    for table in re.findall(r"<table>.*?</table>", html, re.DOTALL):
        heads, *rows = re.findall(r"<tr>.*?</tr>", table, re.DOTALL)
        names = [Reader(each).words for each in re.findall(r"<th.*?</th>", heads, re.DOTALL)]
        yield [
            list(zip(names, (Reader(each).words for each in cells), strict=True))
            for row in rows
            if (cells := re.findall(r"<t[hd].*?</t[hd]>", row, re.DOTALL))
        ]


def test_a_garden_in_the_tables_has_its_own_numbers_under_their_heads():
    line = pages._line(row("Low", 60.0, 140.0))
    file = SimpleNamespace(name="x", address="#")
    content = {"crop": "potatoes", "rows": [line], "file": file, "freezing": "0 °C"}
    content |= {"spell_way": "It is told of kale.", "frost_climate": "Of today's climate."}
    shown = pages.fill_macro("club.html.j2", "side", content, "C").html
    [[spells], [frosts]] = tables_of(shown)
    spell = dict(spells)
    assert spell["Garden"] == "Low"
    assert spell["Record"] == "1990\N{EN DASH}2009"
    assert spell["In a typical year"] == "60"
    assert spell["In 8 years out of 10"] == "40 to 80"  # Hazen's tenth of five is the first
    assert spell["Days needed"] == "61"
    assert spell["Years too short"] == "7 of 19"
    (_, spring), (_, spring_risk), (_, autumn), (_, autumn_risk) = frosts[1:]
    assert "Last of spring" in frosts[1][0]
    assert "First of autumn" in frosts[3][0]
    assert frosts[2][0] == frosts[4][0] == "1 in 10"
    assert (spring, spring_risk) == ("20 May", "3 Jun")
    assert (autumn, autumn_risk) == ("17 Oct", "3 Oct")
    note = Reader(shown).words
    assert "A frost here is a night of 0 °C or colder" in note
    assert re.search(r"a frost still came on that day or later in spring", note)
    assert re.search(r"already by that day in autumn\. Of today's climate\.", note)
    assert re.search(r"Days needed: .* or what the club.s file says\. It is told of kale\.", note)


def test_what_could_mislead_stands_in_the_file_to_keep_behind_its_gardens_name(monkeypatch):
    monkeypatch.setattr(pages.assets, "table", lambda *given: given)
    monkeypatch.setattr(
        pages, "_notes", lambda page: [(each.report, ["Few years."]) for each in page.rows]
    )
    for each in (LOW, HIGH):
        each.report.garden = SimpleNamespace(name=each.name)
    monkeypatch.setattr(pages, "spell_way", lambda _: "")
    page = SimpleNamespace(rows=[LOW, HIGH], units="C", name="Club")
    *_, notes = pages._side(page)["file"]
    assert notes == ["Low: Few years.", "High: Few years."]


def test_the_table_to_keep_has_the_same_numbers_by_name():
    table = pages._numbers([LOW, row("Late", 70.0, 130.0, 280.0, (1995, 2004))])
    late = table.sel(garden="Late")
    assert (int(late["first_year"]), int(late["last_year"])) == (1995, 2004)
    assert (int(late["window_days"]), int(late["need_days"])) == (70, 61)
    assert (int(late["shorter"]), int(late["known"])) == (7, 19)
    assert (int(late["last_spring_5_in_10"]), int(late["last_spring_1_in_10"])) == (130, 144)
    assert (int(late["first_autumn_5_in_10"]), int(late["first_autumn_1_in_10"])) == (280, 266)
    assert table["window_days"].attrs["units"] == "days"
    dates = [name for name in table if str(name).endswith("in_10")]
    assert {table[name].attrs["units"] for name in dates} == {"day of the year"}
    assert "typical year" in table["window_days"].attrs["long_name"]
    assert "days outdoors to the first harvest" in table["need_days"].attrs["long_name"]


def test_a_bar_is_the_spell_a_line_runs_from_last_to_first_frost_and_dots_are_one_year_in_ten():
    from matplotlib.figure import Figure

    ax = Figure().subplots()
    garden = row("Low", 100.0, 110.0)
    garden.bars = lambda: iter([(np.array([95, 105]), 80.0)])
    club_figure._draw(ax, 0, garden, 1)
    by_label = {mark.get_label(): mark for mark in [*ax.get_lines(), *ax.containers]}
    spell = next(mark for label, mark in by_label.items() if "spell" in label)
    assert spell[0].get_width() == 80
    typical = next(mark for label, mark in by_label.items() if "typical year" in label)
    one_in_ten = next(mark for label, mark in by_label.items() if "one year of ten" in label)
    (last, first), (last_risk, first_risk) = typical.get_xdata(), one_in_ten.get_xdata()
    assert (last_risk - last, first - first_risk) == (14, 14)
    assert "last to first frost" in typical.get_label()
    assert last < first


def test_the_note_names_its_years_and_the_climate_that_frosts_are_moved_to():
    garden = row("Low", 100.0, 110.0, years=(1995, 2004))
    assert club_figure._note_of(garden) == "A typical year of 1995 to 2004."
    garden.climate = "today"
    assert club_figure._note_of(garden) == (
        "Mild spells: a typical year of 1995 to 2004. Frosts: moved to today's climate."
    )


def in_climates(*climates):
    rows = [row(f"G{n}", 100.0, 110.0) for n in range(len(climates))]
    for garden, climate in zip(rows, climates, strict=True):
        garden.climate = climate
    return rows


@pytest.mark.parametrize(
    ("climates", "said"),
    [
        (("today", "today"), "These dates are for today's climate."),
        (("record", "record"), "These dates count all years as they were."),
        (
            ("today", "record", "today"),
            "The dates of G0 and G2 are for today's climate; the others count all years as they "
            "were.",
        ),
    ],
)
def test_frost_dates_say_the_climate_that_they_are_of(climates, said):
    assert club_words.frost_climate(in_climates(*climates)) == said


@pytest.mark.parametrize(
    ("climates", "compared"),
    [
        (("today", "today"), "today"),
        (("record", "record"), "record"),
        (("today", "record"), "record"),  # frosts of two climates cannot be compared
    ],
)
def test_frosts_are_compared_in_one_climate(monkeypatch, climates, compared):
    page = page_of((1990, 2009), (1990, 2009))
    page.__dict__["rows"] = in_climates(*climates)
    monkeypatch.setattr(pages, "GardenRow", lambda _, climate: climate)
    assert page.compared == [compared, compared]
    assert page.compares_own_numbers is (len(set(climates)) == 1)


@pytest.mark.parametrize(
    ("ways", "said"),
    [
        (("", ""), ""),
        (
            ("after 6 weeks under cover",) * 2,
            "They are those of potatoes after 6 weeks under cover.",
        ),
        (("after 6 weeks under cover", ""), "They are those of the way that each garden"),
    ],
)
def test_the_days_needed_are_told_with_the_way_of_growing_that_needs_them(monkeypatch, ways, said):
    reports = [SimpleNamespace(crop=cw.crop("potato"), way=way) for way in ways]
    monkeypatch.setattr(club_words.words, "spell_way", lambda report: report.way)
    text = club_words.spell_way(reports)
    assert text.startswith(said)
    assert bool(text) is bool(said)


def test_each_gardens_own_numbers_stand_below_where_the_years_are_too_few():
    text = club_words.no_comparison(page_of((1980, 1994), (1990, 2009)).reports)
    assert text.endswith("Each garden's own numbers stand below.")
    same = club_words.years_compared(page_of((1990, 2009), (1990, 2009)).reports)
    assert same.startswith("All records run from 1990 to 2009")


def test_who_cannot_see_the_picture_is_told_the_longest_spell_of_each_garden(monkeypatch):
    monkeypatch.setattr(pages.assets, "drawn", lambda *_: None)
    reports = page_of((1990, 2009), (1990, 2009)).reports
    reports[0].crop = cw.crop("potato")
    page = SimpleNamespace(
        reports=reports,
        compared=[LOW, HIGH],
        compares_own_numbers=True,
        units="C",
    )
    assert pages._comparison(page)["alt"] == (
        "Longest mild spell of the year. Low: 120 days in a typical year; "
        "High: 60 days in a typical year"
    )


def test_an_error_about_units_names_the_key_of_the_clubs_file(monkeypatch):
    def read(*_, **__):
        raise RecordError("Say ", Parameter("units", "F"), " or ", Parameter("dates"), ".")

    monkeypatch.setattr(club_file, "read_daily", read)
    with pytest.raises(RecordError) as refused:
        club_file._read("file.csv", None)
    assert str(refused.value).startswith('Say record_units = "F" or ')
    assert "record_units" not in str(refused.value).split(" or ")[1]


def test_gardens_meet_the_same_weather_in_the_years_that_all_have():
    text = club_words.years_compared(page_of((1980, 2009), (1990, 2015)).reports)
    assert "so that the gardens meet the same weather" in text


@pytest.mark.parametrize(
    ("other", "said"),
    [
        (row("Twin", 120.0, 100.0), "The mild spell for potatoes is as long in every garden"),
        (HIGH, "Low has the longest mild spell for potatoes: 120 days in a typical year; High has"),
    ],
)
def test_the_picture_of_gardens_is_headed_by_which_is_longest_or_that_none_is(
    monkeypatch, other, said
):
    class HeadedError(Exception):
        pass

    def sheet(title, *_, **__):
        raise HeadedError(title)

    monkeypatch.setattr(club_figure.style, "sheet", sheet)
    for each in (LOW, other):
        each.report.freeze_dates = {"first_day": 1}
    with pytest.raises(HeadedError, match=f"^{said}"):
        club_figure.gardens_figure([LOW, other], narrow=False)
