"""What is said of trials and of past sowings, each claim beside its mirror image."""

import re

import numpy as np
import pandas as pd
import pytest
import xarray as xr
from scipy import stats

from climwin.core.errors import RecordError
from climwin.crops.catalogue import crop
from climwin.trials import measure, scoring
from climwin.trials.analysis import ONE_SEASON, describe_trial, read_trial, trial_result
from climwin.trials.measure import Measure


def paired(gaps, first=100.0, column="weight_g"):
    """A trial of pairs in which "frame" gives so much more than "open"."""
    rows = []
    for block, gap in enumerate(gaps, 1):
        base = first + 3 * block
        for plot, (way, value) in enumerate((("open", base), ("frame", base + gap)), 1):
            rows.append({"block": str(block), "plot": f"{block}{plot}", "treatment": way})
            rows[-1][column] = value
    return pd.DataFrame(rows)


CLEAR, UNSURE = [40.0, 55, 61, 48, 70, 52], [40.0, -55, 61, -48, 7, 12]


@pytest.mark.parametrize("gaps", [CLEAR, UNSURE, [-g for g in CLEAR], [-g for g in UNSURE]])
@pytest.mark.parametrize("against", ["open", "frame"])
def test_a_trial_is_told_as_the_paired_t_test_has_it(gaps, against):
    other = {"open": "frame", "frame": "open"}[against]
    sign = 1 if against == "open" else -1
    oracle = stats.ttest_1samp(np.multiply(sign, gaps), 0.0)
    mean = sign * np.mean(gaps)
    low, high = oracle.confidence_interval(0.95)
    text = describe_trial(trial_result(paired(gaps), "weight_g", against=against))
    told_apart = oracle.pvalue < 0.05
    assert ("cannot be told apart" in text) is not told_apart
    way, opposite = ("more", "less") if mean > 0 else ("less", "more")
    size = f"{abs(mean):.3g} g {way}"
    if told_apart:
        assert re.match(rf"With {other}, weight was {size} a plot than with {against} \(95 %", text)
    else:
        assert text.startswith(f"By weight, {other} and {against} cannot be told apart: ")
        assert f"{size} with {other} (95 %" in text
    interval = re.search(r"interval (.*?); means", text)[1]
    near, far = sorted((low, high), key=abs)
    if low < 0 < high:
        assert interval == f"{abs(low):.3g} g less to {abs(high):.3g} g more"
    else:
        assert interval == f"{abs(near):.3g} to {abs(far):.3g} g {way}"
        assert opposite not in interval
    bases = 100 + 3 * np.arange(1, 7)
    means = {"open": bases.mean(), "frame": (bases + gaps).mean()}
    first, second = re.search(r"means ([\d,.]+) g and ([\d,.]+) g, 6 pairs", text).groups()
    assert float(first) == pytest.approx(means[other], rel=0.005)
    assert float(second) == pytest.approx(means[against], rel=0.005)
    chance = re.search(r"as far apart in (\d+|fewer than 1) of 100 such trials", text)[1]
    if "fewer" in chance:
        assert 100 * oracle.pvalue < 1
    else:
        assert float(chance) == pytest.approx(100 * oracle.pvalue, abs=0.51)
    assert "If the two were really alike, chance alone" in text


def test_no_difference_at_all_is_neither_more_nor_less():
    text = describe_trial(trial_result(paired([5.0, -5.0, 5.0, -5.0]), "weight_g", against="open"))
    assert "no difference with frame" in text


def test_one_season_is_not_said_to_prove_anything():
    text = describe_trial(trial_result(paired(CLEAR), "weight_g", against="open"))
    last = text.split(". ")[-1]
    assert re.search(r"\bcannot tell\b", text[-300:])
    assert "several comparisons" not in last
    assert "comparisons at once" not in text  # there is one alone


@pytest.mark.parametrize(
    ("value", "unit", "words"),
    [
        (3.0, "g", "more"),
        (-3.0, "g", "less"),
        (3.0, "count", "more"),
        (-3.0, "count", "fewer"),
        (-3.0, "days", "less"),
    ],
)
def test_what_is_counted_is_fewer_and_what_is_weighed_is_less(value, unit, words):
    assert measure.more_or_less(value, unit) == words
    assert measure.change(value, unit).split()[-1] == words


@pytest.mark.parametrize(
    ("what", "name", "said"),
    [
        (Measure("weight", "g"), "potato", "weight of tubers lifted"),
        (Measure("tubers", "count"), "potato", "tubers lifted"),
        (Measure("plants", "count"), "potato", "plants"),
        (Measure("height", "cm"), "potato", "height"),
        (Measure("weight", "kg"), "cauliflower", "weight of heads cut"),
    ],
)
def test_what_was_measured_is_of_the_harvest_only_where_it_is(what, name, said):
    assert measure.what(what, crop(name)) == said
    assert measure.what(what) == what.name


@pytest.mark.parametrize(
    ("value", "unit", "said"),
    [
        (1.0, "score", "1 point"),
        (2.0, "score", "2 points"),
        (1.0, "days", "1 day"),
        (2.4, "days", "2 days"),
        (5.0, "percent", "5 %"),
        (5.0, "lb", "5 lb"),
    ],
)
def test_one_is_one_and_more_are_many(value, unit, said):
    assert measure.amount(value, unit) == said


# --- past sowings -------------------------------------------------------------------------


def scored(off, own=None, within=None, odds=0.7, came=1.0, year=2001):
    """Sowings harvested so many days after what was expected."""
    count = len(off)
    columns = {
        "came": np.broadcast_to(came, count).astype(float),
        "odds": np.broadcast_to(odds, count).astype(float),
        "agrees": np.ones(count),
        "days_off": np.array(off, float),
        "within": np.array([abs(each) < 5 for each in off] if within is None else within, float),
        "model_days_off": np.array(off if own is None else own, float),
    }
    start = np.array([f"{year + n}-04-20" for n in range(count)], "datetime64[s]")
    found = xr.Dataset({name: ("sowing", values) for name, values in columns.items()})
    return found.assign(start=("sowing", start))


@pytest.mark.parametrize(
    ("off", "said"),
    [
        ([3, 4, 12], "4 days later than expected"),
        ([-3, -4, -12], "4 days sooner than expected"),
        ([1, 1, 9], "1 day later than expected"),
        ([-2, 0, 3], "on the day expected"),
    ],
)
def test_the_middle_harvest_is_late_or_early_or_neither(off, said):
    first, own = scoring._against_dates(scored(off, own=[-each for each in off]))
    assert f"typical one came {said}" in first
    days = int(np.median(off))
    mirrored = f"{abs(days)} day" if days else "on the same day."
    assert f"the typical one came {mirrored}" in own
    assert ("sooner" in own, "later" in own) == (days > 0, days < 0)
    assert "model of its own year" in own


def test_harvests_within_the_dates_are_counted_among_those_that_have_any():
    (text, _) = scoring._against_dates(scored([1, 2, 30, -40], within=[1, 1, 0, 0]))
    assert text.startswith("2 of 4 harvests began within the dates expected in 8 years of 10")
    assert scoring._against_dates(scored([np.nan, np.nan])) == []


def test_sowings_that_ended_as_in_the_model_are_counted_among_those_it_knows():
    found = scored([0, 0, 0, 0]).assign(agrees=("sowing", [1.0, 0.0, 1.0, np.nan]))
    (text,) = scoring._against_model(found)
    assert re.search(r"own year, 2 of 3 sowings ended in the model as in your garden", text)
    nothing = found.assign(agrees=("sowing", np.full(4, np.nan)))
    assert scoring._against_model(nothing) == []


@pytest.mark.parametrize(
    ("came", "odds", "said", "not_said"),
    [(0.0, 0.9, "fewer", "more"), (1.0, 0.1, "more", "fewer"), (1.0, 0.9, None, "allow")],
)
def test_harvests_beyond_their_likely_number_are_said_to_be(came, odds, said, not_said):
    text = scoring._against_odds(scored([0] * 12, came=came, odds=odds))
    low, high = (int(n) for n in stats.binom.ppf([0.05, 0.95], 12, odds))
    harvests = f"{12 if came else 0} harvests came of 12 sowings"
    assert text.startswith(f"{harvests}; by the odds {low} to {high} were likely")
    assert not_said not in text
    if said:
        assert f"{said} came than these odds allow" in text


def test_few_sowings_are_a_hint_and_those_of_one_year_share_its_weather():
    few = scoring._weakness(scored([0] * 9))
    assert len(few) == 1
    assert "Fewer than ten" in few[0]
    assert "hint" in few[0]
    assert scoring._weakness(scored([0] * 10)) == []
    same = scored([0] * 10)
    same["start"][1] = same["start"][0]
    (text,) = scoring._weakness(same)
    assert "Sowings of one year share its weather" in text
    assert "scatter more" in text


@pytest.mark.parametrize(
    ("failures", "said"), [(1, "One sowing failed"), (3, "3 sowings failed"), (0, None)]
)
def test_what_weather_does_not_explain_is_counted_and_left_out(failures, said):
    found = scored([0] * (10 + failures), came=[1.0] * 10 + [np.nan] * failures)
    lines = scoring.describe_sowings(found)
    left = [line for line in lines if "does not explain" in line]
    assert bool(left) is bool(failures)
    if said:
        assert left[0].startswith(said)
        assert re.search(r"(is|are) left out", left[0])
    assert lines[0].startswith("10 harvests came of 10 sowings")


def test_a_variety_is_told_by_its_days_beside_the_usual_ones():
    values = {"days": 58.0, "low": 52.0, "high": 66.0, "usual_days": 72.0, "own_share": 0.81}
    values |= {"scatter_days": 6.0, "sowings": 9, "left_out": 0, "crop": "pea", "variety": "ours"}
    row = xr.Dataset({name: ((), value) for name, value in values.items()})
    text = scoring._earliness_line(row)
    assert text.startswith("9 harvests of peas (ours) point to 58 days on the packet")
    assert "58 days on the packet (likely 52 to 66), where 72 are usual" in text
    assert re.search(r"81 % of that rests on your harvests, which scatter by 6 days", text)
    assert "Left out" not in text
    some = scoring._earliness_line(row.assign(left_out=2, variety=((), "")))
    assert "Left out: 2 harvests whose weather is not known" in some
    assert "9 harvests of peas point" in some


def test_one_season_on_one_bed_is_no_proof_for_other_years_soils_or_varieties():
    for told in (
        "One season on one bed cannot tell",
        "colder, wetter or hotter year",
        "on other soil",
        "with another variety",
        "repeat",
    ):
        assert told in ONE_SEASON


# --- a sheet that cannot be right ---------------------------------------------------------


def refusal(tmp_path, weights, **columns):
    """What is said of a sheet with such weights, two plots a block."""
    rows = pd.DataFrame(
        {
            "block": [1 + n // 2 for n in range(len(weights))],
            "plot": [str(n + 1) for n in range(len(weights))],
            "treatment": ["open", "frame"] * (len(weights) // 2),
            "weight_g": weights,
            **columns,
        }
    )
    file = tmp_path / "sheet.csv"
    rows.to_csv(file, index=False, sep=";")  # so that a comma may be either
    with pytest.raises(RecordError) as refused:
        read_trial(file)
    return str(refused.value)


GRAMS = ["812", "905", "776", "934", "843", "890", "801", "917"]


@pytest.mark.parametrize(
    ("changed", "what", "advice"),
    [
        (
            {0: "1,250", 1: "1,310"},
            "may be thousands or decimals",
            r"Write 3890 or 3\.89: nothing in the file shows what its comma means",
        ),
        (
            {3: "-934"},
            "are below zero",
            r"No weight or count is: correct them, or leave them empty",
        ),
        (
            {n: f"0.{text}" for n, text in enumerate(GRAMS[:4])},
            "are far from the others",
            r"Two units in one column\? Write all plots in the same",
        ),
        (
            {2: "7760"},
            "times or more above all others",
            r"Has a digit or a point slipped\? Correct",
        ),
        (
            dict.fromkeys(range(8), "812"),
            "are all the same",
            r"Was one copied down\? No two plots weigh the same: write what each weighed",
        ),
    ],
)
def test_a_weight_that_cannot_be_right_is_told_with_what_to_do(tmp_path, changed, what, advice):
    weights = [changed.get(n, text) for n, text in enumerate(GRAMS)]
    text = refusal(tmp_path, weights)
    # the column before what is wrong with it
    assert re.search(rf"cells of 'weight_g' (are \d+ )?{what}", text)
    assert re.search(advice, text)


@pytest.mark.parametrize(
    ("planted", "harvested", "said"),
    [
        (
            "2024-05-01",
            "2024-04-01",
            "harvested before planted, 1 in all: line 2 .* Correct the dates",
        ),
        ("2021-05-01", "2024-08-01", "plots stood for more than"),
    ],
)
def test_dates_that_cannot_be_right_are_told_by_which_comes_first(
    tmp_path, planted, harvested, said
):
    dates = {
        "planted": [planted] + ["2024-05-01"] * 7,
        "harvested": [harvested] + ["2024-08-01"] * 7,
    }
    text = refusal(tmp_path, GRAMS, **dates)
    assert re.search(said, re.sub(r"\s+", " ", text))
