"""The tables of intervals of offsets and of covers in their quick form."""

import numpy as np
import pytest
import records
from odds.covers import ANSWERS, HEAD, Cell, invented, row, simulated, table
from odds.offsets import HEAD as HEAD_OF_OFFSETS
from odds.offsets import SPANS, cases
from odds.offsets import row as row_of_pair


@pytest.mark.simulated
def test_intervals_of_covers_hold_more_often_than_those_of_least_squares_where_days_last():
    (cell,) = simulated(ANSWERS[:1], (60,), (0.6,), 80, seed=4)
    plain, fitted = ([each.slope for each in side] for side in (cell.plain, cell.fitted))
    # 0.9 is meant; two standard errors of a share of 80 below it
    assert np.mean(fitted) >= 0.9 - 0.07
    assert np.mean(plain) < np.mean(fitted)
    wide = [np.median([each.width for each in side]) for side in (cell.plain, cell.fitted)]
    assert wide[0] < wide[1]


def test_a_log_of_the_table_answers_as_it_is_said_to():
    vents = ANSWERS[1]
    log = invented(vents, 90, 0.4, seed=1, spread=0.0)
    x, y = log.outdoors["tmax"].values, log.inside["tmax"].values
    np.testing.assert_allclose(
        y[x < vents.bend_c], (vents.intercept + vents.slope * x)[x < vents.bend_c]
    )
    assert (
        y[x > vents.bend_c + 1] < (vents.intercept + vents.slope * x)[x > vents.bend_c + 1]
    ).all()
    for answer in ANSWERS[1:]:  # both branches meet at the bend
        near = answer.inside(np.array([answer.bend_c - 1e-9, answer.bend_c + 1e-9]))
        assert near[0] == pytest.approx(answer.intercept + answer.slope * answer.bend_c, abs=1e-6)
        assert near[1] == pytest.approx(near[0], abs=1e-6)


def test_offsets_of_a_place_with_other_weather_hold_where_each_day_as_a_witness_does_not():
    # Twelve years of two places that share no weather; the months of each differ from year to year.
    rng = np.random.default_rng(3)
    time = records.days("1991-01-01", "2002-12-31")
    month = np.asarray(time.astype("datetime64[M]").astype(int)) - 252
    of_month = rng.normal(0, 1.0, (2, month.max() + 1))
    spells = rng.normal(0, 2.0, (2, len(time)))
    station, other = (
        records.daily(time, tmin=each, tmax=each + 8) for each in spells + of_month[:, month]
    )
    by_kind = {kind: list(cases(station, other, kind)) for kind in SPANS}
    plain, held = (
        np.concatenate([getattr(each, name) for each in by_kind["year"]])
        for name in ("plain", "held")
    )
    assert len(held) == 12 * 12 * 2
    assert 0.85 <= held.mean() <= 0.97
    assert plain.mean() < held.mean() - 0.1
    assert row_of_pair("two", by_kind).count("|") == HEAD_OF_OFFSETS[0].count("|")


def test_a_table_has_a_line_for_each_cell_and_one_for_all():
    cells = simulated(ANSWERS[:1], (30,), (0.0,), 3, seed=1)
    lines = table(cells).splitlines()
    assert len(lines) == len(HEAD) + len(cells) + 1
    assert {line.count("|") for line in lines} == {row(cells[0]).count("|")}
    assert isinstance(cells[0], Cell)
