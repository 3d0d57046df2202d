"""Figure of a hindcast: what is drawn is what was computed."""

import numpy as np
import numpy.testing as npt
import pytest
import records
from drawn import assert_fits_a_phone, foot, line, title

import climwin as cw
from climwin.climate.hindcast import RULES
from climwin.plot.hindcast import LEAST_CASES, reliability
from climwin.report import sentences_climate


@pytest.fixture(scope="module")
def looked_back():
    return cw.hindcast(records.weather(5, years=48, spells=4.0))


def test_lines_are_the_odds_told_against_what_came(looked_back):
    figure = reliability(looked_back)
    axes = figure.axes[0]
    for rule in RULES:
        drawn = line(axes, sentences_climate.RULE_NAMES[rule])
        enough = (looked_back["cases"].sel(rule=rule) >= LEAST_CASES).values
        for values, name in ((drawn.get_xdata(), "odds"), (drawn.get_ydata(), "came")):
            expected = 100 * looked_back[f"{name}_in_bin"].sel(rule=rule).values
            npt.assert_allclose(np.asarray(values)[enough], expected[enough])
            assert np.isnan(np.asarray(values)[~enough]).all()


def test_marks_are_the_ranges_that_held(looked_back):
    axes = reliability(looked_back).axes[1]
    marks = [each for each in axes.lines if len(each.get_xdata()) == looked_back.sizes["kind"]]
    for rule, drawn in zip(RULES, marks, strict=True):
        npt.assert_allclose(drawn.get_xdata(), 100 * looked_back["held"].sel(rule=rule))


def test_the_title_is_the_finding(looked_back):
    assert title(reliability(looked_back)).startswith(
        sentences_climate.hindcast_finding(looked_back)[:40]
    )
    found = sentences_climate.hindcast_finding(looked_back)
    skill = float(looked_back["skill"].sel(kind="all", rule="today"))
    assert f"{abs(skill):.0f} % {'less' if skill > 0 else 'more'} than a plain count" in found


def test_it_says_when_each_was_asked_and_what_the_line_means(looked_back):
    assert (
        "Asked at the end of each earlier year. On the slanting line an event came as often as its "
        "odds said. Nine in ten ranges should hold."
    ) in foot(reliability(looked_back))


def test_it_fits_a_phone(looked_back):
    assert_fits_a_phone(reliability(looked_back, narrow=True))


def test_its_axes_say_what_is_set_against_what(looked_back):
    left, right = reliability(looked_back).axes
    assert left.get_xlabel() == "Odds given (%)"
    assert left.get_ylabel() == "Came in (% of years)"
    assert right.get_xlabel() == "Ranges of the next ten years that held (%)"
    level = [each.get_xdata()[0] for each in right.lines if len(set(each.get_xdata())) == 1]
    assert 90 in [round(each) for each in level]  # nine in ten ranges should hold
