"""Sentences on a record compared with its neighbours: what would make each false."""

import re

import numpy as np
import pytest
import xarray as xr
from records import weather

import climwin as cw
from climwin.climate.homogeneity import OF_RECORD, UNTOLD
from climwin.core.provenance import CHANGES_LEFT, CHANGES_TAKEN_OFF, COMPARED
from climwin.report import sentences_homogeneity
from climwin.report.sentences_caveats import record_caveats
from climwin.report.sentences_homogeneity import compared


@pytest.fixture(scope="module")
def record():
    """Twenty-four years whose nights read 1.5 degC warmer from July 2012 on."""
    daily = weather(5, 24, mean=9.0, swing=12.0)
    moved = daily.copy(deep=True)
    later = daily["time"].values >= np.datetime64("2012-07-01")
    moved["tmin"].values[later] += 1.5
    return moved


@pytest.fixture(scope="module")
def breaks(record):
    plain = weather(5, 24, mean=9.0, swing=12.0)
    near = {}
    for number, name in enumerate(("Mill", "Hill", "Quay")):
        scatter = np.random.default_rng([number, 7]).normal(0, 1.5, plain.sizes["time"])
        near[name] = plain.copy(deep=True)
        for each in ("tmin", "tmax"):
            near[name][each].values[:] += scatter
    return cw.pairwise_breaks(record, near)


def test_a_change_that_is_left_is_a_doubt_with_its_month_and_size(record, breaks):
    own = breaks["whose"].values.tolist()
    assert own == ["record"]
    text = compared(cw.adjust_breaks(record, breaks, accept=[]))
    assert text.startswith("Compared with its neighbours (Mill, Hill, Quay), the record changes: ")
    assert "nights 1.5 °C warmer from Jul 2012 on. " in text
    assert "Its older years are as they were read" in text
    assert "before you trust them" in text
    assert "2.7 °F warmer" in compared(cw.adjust_breaks(record, breaks, accept=[]), "F")


def test_a_change_that_was_taken_off_is_said_as_such(record, breaks):
    adjusted = cw.adjust_breaks(record, breaks, accept=[1])
    text = compared(adjusted)
    assert "the record changed: nights 1.5 °C warmer from Jul 2012 on. " in text
    assert "taken off by hand: the older years stand at the latest level" in text
    assert "as they were read" not in text
    assert record_caveats(adjusted)[-1] == text  # what is mended comes last
    assert text not in record_caveats(record)


def test_no_change_and_no_comparison_are_two_things(record, breaks):
    none = breaks.isel(change=slice(0, 0))
    text = compared(cw.adjust_breaks(record, none, accept=[]))
    expected = (
        "Compared with its neighbours (Mill, Hill, Quay), the record shows no change of its own."
    )
    assert text == expected
    assert compared(record) == ""


def test_a_change_that_may_be_a_neighbours_is_said_so(record, breaks):
    untold = breaks.assign(whose=("change", ["record or Mill"]))
    text = compared(cw.adjust_breaks(record, untold, accept=[]))
    assert "from Jul 2012 on (unless it was a neighbour that changed)." in text


def test_a_neighbours_own_change_is_not_the_records(record, breaks):
    other = breaks.assign(whose=("change", ["Mill"]))
    assert "shows no change of its own" in compared(cw.adjust_breaks(record, other, accept=[]))


def test_a_drift_has_its_beginning_and_its_end(record):
    attrs = {COMPARED: "Mill", CHANGES_LEFT: "tmax drift 2001-03 2014-12 -0.8 record"}
    text = compared(record.assign_attrs(attrs))
    assert "days 0.8 °C colder little by little from Mar 2001 to Dec 2014." in text


def test_what_was_done_goes_through_a_file_and_onto_the_page(record, breaks, tmp_path):
    adjusted = cw.adjust_breaks(record, breaks, accept=[1])
    again = cw.read_daily(cw.to_csv(adjusted, tmp_path / "adjusted.csv"))
    assert compared(again) == compared(adjusted)
    garden = cw.Garden("Mill Lane", 46.0, 7.0, 400)
    report = cw.garden_report(garden, again, plans=[cw.Plan(cw.crop("pea"), "04-10")])
    assert compared(adjusted) in cw.caveats(report)


@pytest.mark.parametrize(
    "text", ["", "tmin step", "tmin step 2012-07 2012-07 warm record", "x;y;;"]
)
def test_an_attribute_that_was_edited_says_nothing(record, text):
    edited = record.assign_attrs({COMPARED: "Mill", CHANGES_TAKEN_OFF: text})
    assert compared(edited).endswith("shows no change of its own.")


def test_a_drift_is_told_by_what_it_makes_in_all(breaks):
    drift = breaks.isel(change=0).copy(deep=True)
    drift["kind"] = ((), "drift")
    line = sentences_homogeneity._line(drift, "C")
    assert re.search(
        r"nights a drift from \w{3} \d{4} to \w{3} \d{4}, \S+ °C warmer, .* in all\.", line
    )
    assert " in all" not in sentences_homogeneity._line(breaks.isel(change=0), "C")


def test_every_change_has_a_line(breaks):
    lines = cw.station_changes(breaks)
    assert lines[0].startswith("All pairs of the record and its neighbours (Mill, Hill, Quay)")
    assert len(lines) == 1 + breaks.sizes["change"]
    assert "1: nights 1.5 °C warmer" in lines[1]


# --- lines of changes, made up by hand ----------------------------------------------------


def change_of(**given):
    """One change of the nights from July 2012 on, 1.5 degC colder, give or take 0.4."""
    values = {
        "variable": "tmin",
        "kind": "step",
        "size": -1.5,
        "size_low": -1.9,
        "size_high": -1.1,
        "first": "2012-07-01",
        "last": "2012-07-01",
        "first_low": "2012-07-01",
        "first_high": "2012-07-01",
        "whose": OF_RECORD,
        "shown": 2,
        "others": 4,
    }
    dates = ("first", "last", "first_low", "first_high")
    columns = {
        name: ("change", [np.datetime64(value) if name in dates else value])
        for name, value in (values | given).items()
    }
    return xr.Dataset(columns, {"change": [1]}, {"neighbours": "Mill, Hill"})


def line_of(**given):
    return cw.station_changes(change_of(**given))[1]


def test_a_step_has_its_size_its_side_and_its_month():
    text = line_of()
    assert "1.5 °C colder, give or take 0.4 °C from Jul 2012 on" in text
    assert "It was the record that changed: 3 of its 5 pairs show it" in text
    assert "(" not in text
    assert "1.5 °C warmer" in line_of(size=1.5, size_low=1.1, size_high=1.9)
    assert line_of(variable="tmax") != text


def test_a_drift_goes_from_its_beginning_to_its_end():
    text = line_of(kind="drift", first="2001-03-01", last="2014-12-01")
    assert "a drift from Mar 2001 to Dec 2014, 1.5 °C colder" in text
    assert " on" not in text.split("in all")[0].split("give")[0]


def test_a_month_that_is_not_sure_and_a_drift_that_would_fit_are_doubts():
    text = line_of(first_low="2012-03-01", first_high="2012-11-01")
    assert "the month lies between Mar 2012 and Nov 2012" in text
    assert "drift" not in text
    # A step fits better, but not clearly.
    assert "slow drift would fit nearly as well" in line_of(kind="step or drift")


def test_a_change_of_one_of_two_is_nobodys():
    text = line_of(whose=f"{OF_RECORD}{UNTOLD}Mill")
    assert "Either the record or Mill changed" in text
    assert "do not show which" in text
    assert "It was Mill that changed" in line_of(whose="Mill")


def test_what_adjusting_does_is_told_beside_what_was_read(monkeypatch, record):
    def odds(spring, autumn):
        columns = {"last_spring": ("odds", spring), "first_autumn": ("odds", autumn)}
        return xr.Dataset(columns, {"odds": [0.1, 0.5]})

    answers = iter([odds([130.0, 117.0], [270.0, 290.0]), odds([126.0, 112.0], [275.0, 296.0])])
    monkeypatch.setattr(sentences_homogeneity, "freeze_odds", lambda _: next(answers))
    spring, autumn = sentences_homogeneity.effect_of_adjusting(record, record).split(";")
    assert spring.startswith("With these changes taken off, the last spring freeze")
    assert re.search(r"the last spring freeze comes on or after \d", spring)
    assert re.search(r"22 Apr in one year in two \(as read: 27 Apr\)", spring)
    assert re.search(r"6 May in one year in ten \(as read: 10 May\)", spring)
    assert re.search(r"the first autumn freeze comes on or before \d", autumn)
    assert re.search(r"23 Oct in one year in two \(as read: 17 Oct\)", autumn)
    assert re.search(r"2 Oct in one year in ten \(as read: 27 Sep\)", autumn)


def test_of_one_of_two_the_other_pairs_show_nothing_and_few_years_no_odds(monkeypatch, record):
    text = line_of(whose=f"{OF_RECORD}{UNTOLD}Mill")
    assert text.endswith("changed: the other pairs do not show which.")

    def too_few(_):
        raise cw.DataGapError("too few")

    monkeypatch.setattr(sentences_homogeneity, "freeze_odds", too_few)
    none = sentences_homogeneity.effect_of_adjusting(record, record)
    assert none.endswith("cannot be told: too few years are known.")


def test_hardly_any_freezes_have_odds_that_stay(monkeypatch, record):
    never = {name: ("odds", [np.nan, np.nan]) for name in ("last_spring", "first_autumn")}
    odds = xr.Dataset(never, {"odds": [0.1, 0.5]})
    monkeypatch.setattr(sentences_homogeneity, "freeze_odds", lambda _: odds)
    text = sentences_homogeneity.effect_of_adjusting(record, record)
    assert text == "The odds of freezes stay as they were: there are hardly any."


def test_where_no_pair_shows_a_change_there_is_none_of_any():
    none = change_of().isel(change=slice(0, 0))
    assert cw.station_changes(none) == [
        "All pairs of the record and its neighbours (Mill, Hill): no change of any of them shows."
    ]
