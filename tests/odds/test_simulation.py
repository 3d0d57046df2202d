"""The simulation in small: its weather, its counting, and that most intervals hold."""

import sys
from pathlib import Path

import numpy as np
import pytest

sys.path.insert(0, str(Path(__file__).parent))

import simulate

from climwin.climate.breakpoints import yearly_means

WHOLE = simulate.Cell(15, 0.0, 0.0, 0.0)


def test_simulated_weather_has_the_gaps_trend_and_correlation_of_its_cell():
    rng = np.random.default_rng(1)
    record = simulate.weather(simulate.Cell(20, 0.02, 0.0, 0.0), rng)
    assert float(record["tmin"].isnull().mean()) == pytest.approx(0.02, abs=0.006)
    assert str(record["time"].values[-1])[:10] == f"{simulate.LAST_YEAR}-12-31"
    assert bool((record["tmax"] >= record["tmin"]).where(record["tmin"].notnull(), True).all())

    def lag_one(cell):
        means = [yearly_means(simulate.weather(cell, rng)["tmean"]).values for _ in range(15)]
        pairs = [(each[1:], each[:-1]) for each in means]
        return np.mean([np.corrcoef(*pair)[0, 1] for pair in pairs])

    # fewer than a hundred years look less correlated than they are, by (1 + 3 r) / n
    assert lag_one(simulate.Cell(60, 0.0, 0.0, 0.3)) == pytest.approx(0.27, abs=0.1)
    assert lag_one(simulate.Cell(60, 0.0, 0.0, 0.0)) == pytest.approx(-0.02, abs=0.1)
    warm = [
        yearly_means(simulate.weather(simulate.Cell(40, 0.0, 0.4, 0.0), rng)["tmean"]).values
        for _ in range(8)
    ]
    slopes = [10 * np.polyfit(np.arange(40), each, 1)[0] for each in warm]
    assert np.mean(slopes) == pytest.approx(0.4, abs=0.12)


def test_what_held_is_counted_by_hand():
    told = [
        simulate.Told("a", "points", 50, 40, 60, 45),
        simulate.Told("a", "points", 50, 40, 60, 65),
        simulate.Told("a", "points", 30, 20, np.nan, 90),  # open above: it holds
        simulate.Told("a", "points", 30, np.nan, np.nan, 30),  # no interval
        simulate.Told("b", "days", 10, 8, 12, 12.4),  # rounded to whole days
    ]
    found = simulate.summarized(told)
    assert found["a"]["bias"] == pytest.approx((5 - 15 - 60 + 0) / 4)
    assert (found["a"]["held"], found["a"]["intervals"]) == (2, 3)
    assert (found["b"]["held"], found["b"]["intervals"]) == (1, 1)


@pytest.mark.simulated
@pytest.mark.parametrize("part", ["climate", "planning"])
def test_most_intervals_hold_the_truth(part):
    truth = simulate.truths(part, records=8)
    found = simulate.summarized(simulate.simulate(part, WHOLE, 8, truth))
    honest = {kind: row for kind, row in found.items() if not kind.endswith("its own years")}
    held = sum(row["held"] for row in honest.values())
    assert held >= 0.75 * sum(row["intervals"] for row in honest.values())
    for row in honest.values():
        # five standard deviations, and what the truth of 320 years may be off
        assert abs(row["bias"]) < simulate.MAY_MISS[row["unit"]] + 5 * row["error"] + 5
    cells = [{"cell": list(WHOLE), "kind": kind, **row} for kind, row in found.items()]
    text = simulate.table({"cells": cells})
    assert all(f"| {kind} (" in text for kind in found)
    head, _, line = simulate.cell_table({"cells": cells}).splitlines()
    assert all(kind in head for kind in found)
    assert line.startswith("| 15 | 0 % | 0 | 0 |")
    one = next(iter(found.values()))
    assert f"{one['held'] / one['intervals']:.2f} of {one['intervals']}" in line


def test_what_assumed_warming_adds_is_counted_on_the_same_records():
    still = simulate.Cell(10, 0.0, 0.0, 0.3)
    truth = {
        "freeze chance on a date": 18.0,
        "date of the last freeze, 1 in 10": 126.0,
        "freeze-free days, 9 in 10": 157.0,
        "window shorter than the need": 40.0,
    }
    as_they_were = simulate.summarized(
        simulate.simulate("climate", still, 3, truth)  # with the same seed
    )
    rows = simulate.assumed("climate", 10, 0.3, 3, truth)
    assert {row["kind"] for row in rows} == {*truth}
    for row in rows:
        assert row["bias"] - row["more"] == pytest.approx(as_they_were[row["kind"]]["bias"])
    assert any(row["more"] != 0 for row in rows)


def test_a_miss_is_called_one_where_chance_does_not_explain_it():
    assert not simulate.is_missed(3.0, 0.6, 0.9, 100, "points")  # 3 less twice 0.6 is within 2
    assert simulate.is_missed(3.0, 0.4, 0.9, 100, "points")
    assert simulate.is_missed(0.0, 0.4, 0.7, 100, "points")
    assert not simulate.is_missed(0.0, 0.4, 0.8, 30, "points")
    assert simulate.is_missed(0.0, 0.4, 1.0, 400, "points")  # intervals far too wide
    assert not simulate.is_missed(0.0, 0.4, 1.0, 30, "points")  # one time in five at 0.95
    assert not simulate.is_missed(0.0, 0.4, np.nan, 0, "points")
    row = {"trials": 30, "bias": 1.0, "error": 0.5, "held": 27, "intervals": 30}
    assert simulate._cell_text([row, row], "points") == "+1.0 ± 0.4, 0.90 of 60"


def test_a_band_holds_the_whole_curve_or_does_not():
    """The truth is told off by hand: the middle of each interval, and one that no odds can be."""
    cell = simulate.Cell(10, 0.0, 0.0, 0.0)
    daily = simulate.weather(cell, np.random.default_rng([10, 0, 7]))  # the first that is drawn
    swept = simulate.cw.sweep_start_dates(simulate.CHOSEN_PLAN, daily)
    middle = 50 * (swept["low"] + swept["high"]).values
    held = simulate.band(10, 0.0, 1, middle.tolist())
    assert held["the band held the whole curve"] == 1
    assert held["intervals of single dates held all of it"] == 1
    off = middle.copy()
    off[100] = 150.0
    missed = simulate.band(10, 0.0, 1, off.tolist())
    assert missed["the band held the whole curve"] == 0
    assert missed["intervals held, mean of the dates"] == pytest.approx(364 / 365)


def test_rates_are_written_as_a_table():
    rows = [{"years": 20, "lag-one": 0.2, "trials": 5, "trend at 0.1": 0.1}]
    table = simulate.rates_table(rows).splitlines()
    assert table == [
        "| years | lag-one | trend at 0.1 |",
        "| --- | --- | --- |",
        "| 20 | 0.20 | 0.10 |",
    ]
