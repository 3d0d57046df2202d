"""Dates and frost in the reader's own English."""

import datetime as dt

import pandas as pd
import pytest
from matplotlib.figure import Figure

from climwin.core.dialect import american_dates, in_dialect
from climwin.core.seasons import day_name


@pytest.mark.parametrize("day", range(1, 366))
def test_every_day_is_the_same_day_with_the_month_first(day):
    turned = american_dates(f"sow {day_name(day)}.")
    read = dt.datetime.strptime(f"{turned} 2001", "sow %b %d. %Y")
    assert read.timetuple().tm_yday == day


@pytest.mark.parametrize(
    ("text", "turned"),
    [
        ("3\N{EN DASH}13 July", "July 3\N{EN DASH}13"),
        ("31 December\N{EN DASH}14 January", "December 31\N{EN DASH}January 14"),
        ("lost on 9 May 1985, at night", "lost on May 9, 1985, at night"),
        ("in 5 Marches", "in 5 Marches"),
        ("at 1.5 May", "at 1.5 May"),
        ("March 5", "March 5"),
        ("12 may do", "12 may do"),
    ],
)
def test_only_dates_are_turned(text, turned):
    assert american_dates(text) == turned
    assert in_dialect(text, "F") == turned
    assert in_dialect(text, "C") == text


@pytest.mark.parametrize(
    ("text", "turned"),
    [
        # 6.5 degC a kilometre are 3.57 degF in 1000 ft; 116 m are 380.6 ft.
        (
            "moved to X, 116 m above the station, 6.5 °C colder for each 1000 m up",
            "moved to X, 381 ft above the station, 3.6 °F colder for each 1,000 ft up",
        ),
        (
            "minimum 5 °C, maximum 6.5 °C, mean 5.75 °C colder for each 1000 m up",
            "minimum 2.7 °F, maximum 3.6 °F, mean 3.2 °F colder for each 1,000 ft up",
        ),
        ("what if it were 1.66667 degC warmer.", "what if it were 3 degF warmer."),
        (
            "nights by \N{MINUS SIGN}0.31\N{NO-BREAK SPACE}°C,\ndays by\n+1.44 °C",
            "nights by \N{MINUS SIGN}0.6\N{NO-BREAK SPACE}°F,\ndays by\n+2.6 °F",
        ),
        ("that of the station is taken, 1,500 m.", "that of the station is taken, 4,921 ft."),
        ("Sources (in °C). A night of 4 °C; 20 m of hedge", None),
    ],
)
def test_what_was_done_with_a_record_is_read_in_the_readers_units(text, turned):
    assert in_dialect(text, "F") == (turned or text)
    assert in_dialect(text, "C") == text


def test_a_british_reader_has_frost():
    text = "The last freeze; two freezes; freezing; it froze; Freeze dates"
    assert in_dialect(text, "C") == "The last frost; two frosts; freezing; it froze; Frost dates"
    assert in_dialect(text, "F") == text


@pytest.mark.parametrize(
    ("text", "units", "typed"),
    [
        ("no file late-freeze.csv; see freeze.csv", "C", ()),
        ("in /home/freeze/records, freeze/x.csv", "C", ()),
        ("'4 May' is not a day", "F", ("'4 May'",)),
        ("written for Freeze Hollow", "C", ("Freeze Hollow",)),
    ],
)
def test_files_and_what_was_typed_stay_as_they_are(text, units, typed):
    assert in_dialect(text, units, verbatim=typed) == text


def test_the_rest_of_a_line_is_turned_beside_what_was_typed():
    text = "Freeze Hollow: the last freeze is on 5 May"
    assert in_dialect(text, "C", verbatim=["Freeze Hollow"]) == (
        "Freeze Hollow: the last frost is on 5 May"
    )
    assert in_dialect(text, "F", verbatim=["Freeze Hollow"]) == (
        "Freeze Hollow: the last freeze is on May 5"
    )


def test_lines_are_turned_one_by_one():
    said = (line for line in ["Last freeze: 5 May", "Sow 9 June"])
    assert in_dialect(said, "F") == ["Last freeze: May 5", "Sow June 9"]


def test_a_table_is_turned_and_its_own_is_left_as_it_was():
    own = pd.DataFrame({"Last freeze": ["5\N{NO-BREAK SPACE}May to 9 June"], "n": [3]}, ["2 Apr"])
    own.columns.name = "Freeze"
    shown = in_dialect(own, "F")
    assert shown.loc["Apr 2", "Last freeze"] == "May\N{NO-BREAK SPACE}5 to June 9"
    assert shown.loc["Apr 2", "n"] == 3
    british = in_dialect(own, "C")
    assert [*british.columns, british.columns.name] == ["Last frost", "n", "Frost"]
    assert [*own.columns, *own.index] == ["Last freeze", "n", "2 Apr"]


def test_all_texts_of_a_picture_are_turned():
    figure = Figure()
    figure.suptitle("Best 3 June")
    axes = figure.subplots()
    axes.set_ylabel("Chance of a freeze")
    axes.plot([0, 1], label="freezes by 5 May")
    axes.legend()
    assert in_dialect(figure, "C") is figure
    assert axes.get_ylabel() == "Chance of a frost"
    in_dialect(figure, "F")
    assert figure.get_suptitle() == "Best June 3"
    assert axes.get_legend().get_texts()[0].get_text() == "frosts by May 5"


def test_other_units_are_refused():
    with pytest.raises(ValueError, match="units must be one of C, F; got 'K'"):
        in_dialect("5 May", "K")
