"""The simulation of records with gaps in its quick form: a few records, all questions."""

import numpy as np
import pytest
from odds.gaps import GAPS, glued, invented, known_starts, trials


@pytest.fixture(scope="module")
def years():
    return invented(1)


def test_glued_years_have_no_gap_and_follow_each_other(years):
    daily = glued(years, np.array([3, 3, 0]))
    assert daily["tmin"].notnull().all()
    assert daily.sizes["time"] == 365 * 3
    assert float(daily["tmin"][0]) == years.tmin[3, 0]


@pytest.mark.simulated
def test_odds_with_gaps_are_those_without(years):
    rows = trials("invented", years, 2, seed=5)
    assert {row.gaps for row in rows} == {*GAPS}
    for row in rows:
        # One record scatters by the chances of its open years, 0.02 to 0.03; the bias of many is
        # in GAPS.md.
        assert abs(row.answer.share - row.full) < 0.09, row
        if row.gaps == "none":
            assert (row.answer.share, row.answer.leaning) == (row.full, 0)
    off = [row.answer.share - row.full for row in rows if row.gaps != "none"]
    assert abs(np.mean(off)) < 0.015
    # The years that stay known are the frosty ones: counted alone they bend the odds.
    before = [
        row.answer.known_share - row.full
        for row in rows
        if (row.question, row.gaps) == ("freeze", "5 %")
    ]
    assert np.mean(before) > 0.1


def test_nearly_all_known_years_end_as_in_the_whole_record(years):
    few = years._replace(tmin=years.tmin[:40], tmax=years.tmax[:40])
    counts = known_starts(few, seed=3)
    assert counts["none"].otherwise == counts["none"].left_open == 0
    for gaps in ("1 %", "5 %", "20 days in spring"):
        known = counts[gaps]
        assert known.left_open > 100
        # 1 to 4 of 10,000 over many records, see GAPS.md
        assert known.otherwise / known.count < 0.002
