"""Sentences on a record compared with its neighbours: what would make each false."""

import numpy as np
import pytest
from records import weather

import climwin as cw
from climwin.core.provenance import CHANGES_LEFT, CHANGES_TAKEN_OFF, COMPARED
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
    assert "as they were read" in text
    assert "2.7 °F warmer" in compared(cw.adjust_breaks(record, breaks, accept=[]), "F")


def test_a_change_that_was_taken_off_is_said_as_such(record, breaks):
    adjusted = cw.adjust_breaks(record, breaks, accept=[1])
    text = compared(adjusted)
    assert "the record changed: nights 1.5 °C warmer from Jul 2012 on. " in text
    assert "taken off by hand" in text
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


def test_every_change_has_a_line(breaks):
    lines = cw.station_changes(breaks)
    assert len(lines) == 1 + breaks.sizes["change"]
    assert "1: nights 1.5 °C warmer" in lines[1]
