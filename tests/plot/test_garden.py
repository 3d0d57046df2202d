"""Figures of the place and the bed: what is drawn is what was computed."""

import numpy as np
import pandas as pd
import pytest
from drawn import assert_fits_a_phone, foot, keys, title, written
from matplotlib.text import Text

from climwin.core.schema import Garden
from climwin.io.samples import sample
from climwin.plot import garden as figures
from climwin.trials.analysis import ONE_SEASON, read_trial, trial_result
from climwin.trials.design import lay_out_trial

GARDEN = Garden("the plot", 46.0, 7.0, 600)
TREATMENTS = ["sown in place", "raised under cover"]


@pytest.fixture(scope="module")
def stations():
    """Invented: a degree of latitude is 111.2 km; at 46 degrees one of longitude 77.2 km."""
    return pd.DataFrame(
        {
            "name": ["Mill", "Pass", "Weir", "Lake", *(f"Far {n}" for n in range(6))],
            "latitude": [46.1, 46.0, 45.8, 46.0, *[46.2] * 6],
            "longitude": [7.0, 7.2, 7.0, 6.9, *np.linspace(6.8, 7.3, 6)],
            "distance_km": [11.1, 15.4, 22.2, 7.7, *[30.0] * 6],
            "height_difference_m": [-180.0, 305.0, 20.0, np.nan, *[0.0] * 6],
            "share_present": [0.98, 0.9, 0.7, 0.6, *[0.5] * 6],
        }
    )


@pytest.fixture(scope="module")
def trial():
    return read_trial(sample("bed_trial.csv"))


@pytest.fixture(scope="module")
def result(trial):
    return trial_result(trial, "weight_g")


# --- stations -----------------------------------------------------------------------------


def _marks(ax):
    return [each for each in ax.lines if len(each.get_xdata()) == 1 and each.get_marker() != "*"]


def test_stations_lie_where_they_are_seen_from_the_garden(stations):
    around = figures.station_map(stations, GARDEN).axes[0]
    places = [(each.get_xdata()[0], each.get_ydata()[0]) for each in _marks(around)]
    wanted = [(0, 11.12), (15.45, 0), (0, -22.24), (-7.72, 0)]
    np.testing.assert_allclose(places[:4], wanted, atol=0.01)
    assert len(places) == len(stations)
    (middle,) = [each for each in around.lines if each.get_marker() == "*"]
    assert (middle.get_xdata()[0], middle.get_ydata()[0]) == (0, 0)


def test_marks_tell_the_height(stations):
    marks = [each.get_marker() for each in _marks(figures.station_map(stations, GARDEN).axes[0])]
    assert marks[:4] == ["v", "^", "o", "d"]


def test_rings_reach_round_all_stations_and_say_how_far(stations):
    around = figures.station_map(stations, GARDEN).axes[0]
    radii = [np.hypot(*each.get_data()).max() for each in around.lines if len(each.get_xdata()) > 2]
    rings = [text for text in written(around) if text.endswith("km")]
    assert rings == [f"{radius:g} km" for radius in np.round(radii, 6)]
    farthest = max(np.hypot(*each.get_data())[0] for each in _marks(around))
    assert max(radii) >= farthest


def test_the_key_ranks_eight_in_words(stations):
    told = written(figures.station_map(stations, GARDEN).axes[1])
    assert told[:4] == [
        "1  best: Mill",
        "11 km away, 180 m lower, 98 % of the days",
        "2  second: Pass",
        "15 km away, 305 m higher, 90 % of the days",
    ]
    assert told[7] == "8 km away, height not known, 60 % of the days"
    assert told[14] == "8  eighth: Far 3"
    assert len(told) == 16


def test_the_best_station_is_the_title(stations):
    figure = figures.station_map(stations, GARDEN)
    wanted = "Of 10 stations around the plot, Mill serves best: 11 km away, 180 m lower"
    assert title(figure) == wanted


def test_the_map_says_whom_the_stations_are_from(stations):
    table = stations.copy()
    table.attrs = {"credit": "Meteostat", "licence": "CC BY 4.0"}
    told = foot(figures.station_map(table, GARDEN))
    assert told.endswith("Meteostat; licence: CC BY 4.0.")
    assert (
        "\N{BLACK STAR} the garden; \N{BLACK UP-POINTING TRIANGLE} higher, "
        "\N{BLACK DOWN-POINTING TRIANGLE} lower, \N{BLACK CIRCLE} level with it; "
        "\N{BLACK DIAMOND} height not known."
    ) in told


@pytest.mark.parametrize("narrow", [False, True])
def test_numbers_of_stations_that_crowd_stand_apart(stations, narrow):
    near = stations.assign(latitude=46 + stations.index * 1e-3, longitude=7.0)
    near.loc[near.index[-1], "latitude"] = 46.3
    figure = figures.station_map(near, GARDEN, narrow=narrow)
    figure.draw_without_rendering()
    around = figure.axes[0]
    numbers = [each for each in around.texts if each.get_text().isdigit()]
    boxes = [Text.get_window_extent(each) for each in numbers]  # without their lines
    assert len(boxes) == 8
    assert not [1 for n, box in enumerate(boxes) for other in boxes[:n] if box.overlaps(other)]


def test_one_station_next_door_is_a_map_too(stations):
    near = stations.iloc[:1].assign(latitude=46.0, longitude=7.0, distance_km=0.0)
    assert len(_marks(figures.station_map(near, GARDEN).axes[0])) == 1


# --- the bed ------------------------------------------------------------------------------


def _plots(figure):
    """Plots by place, left to right and line by line: how they are hatched, and what they say."""
    (ax,) = figure.axes
    framed = [p for p in ax.patches if not p.get_fill()]
    filled = [p for p in ax.patches if p.get_fill()]
    said = [text for text in written(ax) if not text.startswith("Block")]
    places = [(p.get_y(), p.get_x()) for p in framed]
    assert places == sorted(places)
    return [(p.get_hatch(), text) for p, text in zip(filled, said, strict=True)]


@pytest.mark.parametrize("treatments", [TREATMENTS, [*TREATMENTS, "fleece", "cold frame"]])
def test_plots_lie_in_the_order_of_the_layout(treatments):
    layout = lay_out_trial(treatments, blocks=5, seed=7)
    found = _plots(figures.bed_plan(layout))
    wanted = layout.assign(text=layout["plot"].astype(str) + " " + layout["treatment"])
    assert [text for _, text in found] == wanted["text"].tolist()
    hatches = {text.split(" ", 1)[1]: hatch for hatch, text in found}
    assert len(set(hatches.values())) == len(treatments)  # told apart without colour


def test_the_title_says_what_lies_side_by_side():
    assert title(figures.bed_plan(lay_out_trial(TREATMENTS, blocks=8, seed=1))) == (
        "8 pairs side by side, in random order: raised under cover and sown in place"
    )
    three = lay_out_trial(["a", "b", "c"], blocks=4, seed=1)
    assert title(figures.bed_plan(three)) == (
        "4 blocks of 3 side by side, in random order: a, b, c"
    )


# --- what came of it ----------------------------------------------------------------------


def test_pairs_mean_and_interval_are_those_of_the_trial(trial, result):
    ax = figures.trial_outcome(trial, result).axes[0]
    drawn = {each.get_label(): each.get_xdata() for each in ax.lines}
    plots = trial.pivot_table(index="block", columns="treatment", values="weight_g")
    gaps = (plots["sown in place"] - plots["raised in a frame"]).dropna()
    assert sorted(drawn["a pair"]) == sorted(gaps)
    row = result.isel(treatment=0)
    assert drawn["95 % interval"] == pytest.approx([float(row["low"]), float(row["high"])])
    assert drawn["mean"] == pytest.approx([gaps.mean()])
    assert keys(ax) == ["a pair", "95 % interval", "mean"]
    assert ax.get_xlabel() == "weight (g): more or less than raised in a frame"
    (zero,) = ax.texts
    assert (zero.get_text(), zero.xy[0]) == ("no difference", 0)


def test_the_title_tells_the_difference_and_the_foot_its_limits(trial, result):
    result = trial_result(trial, "weight_g", level=0.9)
    figure = figures.trial_outcome(trial, result)
    row = result.isel(treatment=0)
    gap, low, high = (abs(float(row[key])) for key in ("difference", "high", "low"))
    assert title(figure) == (
        f"Weight: sown in place {gap:.3g} g less than raised in a frame ({low:.3g} to "
        f"{float(f'{high:.3g}'):,.0f} g less)"
    )
    assert foot(figure) == ONE_SEASON


def test_treatments_that_cannot_be_told_apart_are_not(trial):
    found = title(figures.trial_outcome(trial, trial_result(trial, "heads")))
    assert found == "Heads: sown in place and raised in a frame cannot be told apart"


def test_each_other_treatment_has_a_row_of_its_own():
    plots = {"a": [1.0, 2, 3], "b": [2.0, 4, 5], "c": [1.0, 1, 4]}
    rows = [(n, t, v) for t, values in plots.items() for n, v in enumerate(values)]
    trial = pd.DataFrame(rows, columns=["block", "treatment", "heads"])
    ax = figures.trial_outcome(trial, trial_result(trial, "heads")).axes[0]
    assert [label.get_text() for label in ax.get_yticklabels()] == ["b", "c"]
    strokes = [each.get_xdata().tolist() for each in ax.lines if each.get_marker() == "|"]
    assert strokes == [[1, 2, 2], [0, -1, 1]]
    assert keys(ax) == ["a pair", "95 % interval", "mean"]


# --- all of them --------------------------------------------------------------------------


def test_on_a_phone_all_can_be_read(stations, trial, result):
    four = lay_out_trial([*TREATMENTS, "fleece", "cold frame"], blocks=5, seed=7)
    for figure in (
        figures.station_map(stations, GARDEN, narrow=True),
        figures.bed_plan(lay_out_trial(TREATMENTS, blocks=6, seed=1), narrow=True),
        figures.bed_plan(four, narrow=True),
        figures.trial_outcome(trial, result, narrow=True),
    ):
        assert_fits_a_phone(figure)


@pytest.mark.parametrize("narrow", [False, True])
def test_numbers_run_along_the_bed_from_line_to_line(narrow):
    layout = lay_out_trial(TREATMENTS, blocks=9, seed=2)
    figure = figures.bed_plan(layout, narrow=narrow)
    lines = {}
    for text in figure.axes[0].texts:
        if text.get_text()[0].isdigit():
            x, y = text.get_position()
            lines.setdefault(round(y), []).append((x, int(text.get_text().split()[0])))
    numbers = [number for y in sorted(lines) for _, number in sorted(lines[y])]
    assert numbers == list(range(1, 19))
    assert len(lines) == (5 if narrow else 3)
    said = "Numbers run along the bed; each line goes on where the one above it ends."
    assert said in foot(figure)


def test_no_difference_is_named_beside_its_line_where_there_is_room(trial, result):
    (word,) = figures.trial_outcome(trial, result).axes[0].texts
    left, right = figures.trial_outcome(trial, result).axes[0].get_xlim()
    assert (word.get_ha() == "left") == (left + right > 0)
    other = trial_result(trial, "weight_g", against="sown in place")
    ax = figures.trial_outcome(trial, other).axes[0]
    (turned,) = ax.texts
    assert turned.get_ha() != word.get_ha()
    assert ax.get_xlabel() == "weight (g): more or less than sown in place"
