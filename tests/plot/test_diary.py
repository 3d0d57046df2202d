"""The figure of past sowings: what is drawn is what was scored."""

import numpy as np
import pytest
from drawn import assert_fits_a_phone, foot, keys, title

from climwin.core.seasons import day_of_year
from climwin.io.daily import read_daily
from climwin.io.samples import sample
from climwin.plot.diary import past_sowings
from climwin.trials.scoring import score_sowings
from climwin.trials.sowings import read_sowings


@pytest.fixture(scope="module")
def scored():
    table = read_sowings(sample("past_sowings.csv"))
    return score_sowings(table.iloc[:6], read_daily(sample()))


def test_each_harvest_and_range_stand_on_their_days(scored):
    (ax,) = past_sowings(scored).axes
    first_day = day_of_year(scored["start"]).min()

    def places(name):
        when = scored[name].values
        return (day_of_year(when[~np.isnat(when)]) - first_day) % 365

    def marks(kind):
        lines = [each for each in ax.lines if each.get_marker() == kind]
        found = [float(each.get_xdata()[0]) for each in lines if len(each.get_xdata())]
        return [place for place in found if np.isfinite(place)]

    assert marks("D") == places("harvest").tolist()
    assert marks("|") == places("model_date").tolist()
    assert marks("o") == places("start").tolist()
    bars = [each.get_xdata() for each in ax.lines if each.get_linewidth() == 7]
    ends = np.array([bar for bar in bars if len(bar)])
    np.testing.assert_array_equal(ends[:, 0], places("expected_first"))
    np.testing.assert_array_equal(ends[:, 1], places("expected_last"))
    low, high = ax.get_xlim()
    assert low < 0
    assert high > max(ends.max(), max(marks("D")))


def test_the_title_is_the_count_and_failures_are_named(scored):
    figure = past_sowings(scored)
    (ax,) = figure.axes
    assert title(figure).startswith("3 harvests came of 6 sowings; by the odds ")
    failed = [text.get_text() for text in ax.texts]
    assert failed == [name for name in scored["failed"].values.tolist() if name]
    assert [label.get_text() for label in ax.get_yticklabels()][:2] == [
        "2014 cold frame",
        "2014 in place",
    ]
    assert keys(ax) == ["start", "expected in 8 years of 10", "model, same year", "your harvest"]
    assert "Expected dates come from all other years" in foot(figure)


def test_on_a_phone_it_can_be_read(scored):
    assert_fits_a_phone(past_sowings(scored, narrow=True))


def test_with_several_crops_each_row_names_its_own(scored):
    two = scored.copy()
    crops = np.where(np.arange(two.sizes["sowing"]) == 1, "pea", scored["crop"].values)
    two["crop"] = "sowing", crops
    labels = [label.get_text() for label in past_sowings(two).axes[0].get_yticklabels()]
    for label, year, crop, way in zip(
        labels, two["start"].dt.year.values, crops, two["way"].values, strict=True
    ):
        assert label == f"{year} {crop}, {way}"


def test_its_foot_says_where_dates_come_from_and_what_the_words_are(scored):
    told = foot(past_sowings(scored))
    assert "Expected dates come from all other years. In words: why it failed." in told
