"""Bed trials beforehand: against a published example, and a simulation."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from climwin.crops.catalogue import crop
from climwin.trials.design import lay_out_trial, pairs_needed, record_sheet

WAYS = ["sown in place", "raised under cover"]
names = st.text(st.characters(categories=["L", "N", "P", "S", "Zs"]), min_size=1, max_size=12)
names = names.map(lambda text: " ".join(text.split())).filter(bool)


# --- the plan of the bed ------------------------------------------------------------------


@given(
    treatments=st.lists(names, min_size=2, max_size=5, unique=True),
    blocks=st.integers(2, 30),
    seed=st.integers(0, 2**32),
)
def test_every_block_holds_every_treatment_once(treatments, blocks, seed):
    layout = lay_out_trial(treatments, blocks=blocks, seed=seed)
    assert list(layout["plot"]) == list(range(1, blocks * len(treatments) + 1))
    for number, block in layout.groupby("block"):
        assert sorted(block["treatment"]) == sorted(treatments)
        assert list(block["position"]) == list(range(1, len(treatments) + 1))
        assert 1 <= number <= blocks


def test_a_seed_gives_its_plan_again_and_the_order_is_a_fair_coin():
    assert lay_out_trial(WAYS, seed=7).equals(lay_out_trial(WAYS, seed=7))
    first = lay_out_trial(WAYS, blocks=200, seed=1).query("position == 1")["treatment"]
    assert stats.binomtest(int((first == WAYS[0]).sum()), 200).pvalue > 0.001


@pytest.mark.parametrize("treatments", [[], ["one"], ["a", "a"], ["a", " a "], ["a", "  "]])
def test_treatments_without_names_of_their_own_are_refused(treatments):
    with pytest.raises(ValueError, match=r"at least two treatments.*'raised under cover'"):
        lay_out_trial(treatments, seed=1)


@pytest.mark.parametrize("blocks", [1, 201])
def test_too_few_or_many_blocks_are_refused(blocks):
    with pytest.raises(ValueError, match=f"between 2 and 200, got {blocks}"):
        lay_out_trial(WAYS, blocks=blocks, seed=1)


# --- how many pairs -----------------------------------------------------------------------


def test_pairs_of_a_textbook():
    # P. Dalgaard, Introductory Statistics with R, 2nd ed., 8.3 (read): power.t.test(delta=10,
    # sd=10*sqrt(2), power=0.85, type="paired") gives n = 19.96892 pairs at the 5 % level.
    assert pairs_needed(10, 10 * np.sqrt(2), power=0.85) == 20


@pytest.mark.parametrize(("difference", "power", "level"), [(100, 0.8, 0.05), (-60, 0.9, 0.1)])
def test_pairs_reach_their_power_in_simulated_trials(difference, power, level):
    pairs = pairs_needed(difference, 80, power=power, level=level)
    gaps = np.random.default_rng(1).normal(difference, 80, (40_000, pairs))
    for n, enough in ((pairs, True), (pairs - 1, False)):
        seen = (stats.ttest_1samp(gaps[:, :n], 0, axis=1).pvalue < level).mean()
        assert (seen > power - 0.006) if enough else (seen < power + 0.006)


def test_more_treatments_need_more_pairs_and_are_refused_beyond_reason():
    sizes = [pairs_needed(100, 120, treatments=n) for n in (2, 3, 6, 10)]
    assert sizes == sorted(sizes)
    assert sizes[0] < sizes[-1]
    for treatments in (1, 21):
        with pytest.raises(ValueError, match=f"between 2 and 20, got {treatments}"):
            pairs_needed(100, 120, treatments=treatments)


@given(st.floats(0.1, 1e3), st.floats(0.06, 0.99), st.floats(0.001, 0.05))
def test_a_larger_difference_never_needs_more_pairs(size, power, level):
    pairs = pairs_needed(size, 1.0, power=power, level=level)
    assert pairs_needed(1.1 * size, 1.0, power=power, level=level) <= pairs
    assert pairs >= 2


@pytest.mark.parametrize(
    ("given_", "match"),
    [
        (
            {"difference": 0, "spread": 1},
            r"difference must not be 0 and spread must be above 0, both in the unit of what is",
        ),
        ({"difference": 1, "spread": 0}, "spread must be above 0"),
        ({"difference": np.nan, "spread": 1}, "got difference=nan"),
        ({"difference": 1, "spread": 1, "power": 1.0}, "power must lie between 0 and 1, got 1.0"),
        ({"difference": 1, "spread": 1, "level": 5}, "level must lie between 0 and 1, got 5"),
        (
            {"difference": 0.01, "spread": 1},
            "^More than 10,000 pairs .* larger difference, or measure more evenly",
        ),
    ],
)
def test_a_question_without_an_answer_teaches(given_, match):
    with pytest.raises(ValueError, match=match):
        pairs_needed(**given_)


# --- the sheet ----------------------------------------------------------------------------


def test_a_sheet_has_a_row_for_each_plot_and_a_line_of_advice():
    layout = lay_out_trial(["a", "=b"], blocks=2, seed=3)
    order = layout["treatment"].tolist()
    advice, head, *rows = record_sheet(layout).split("\n")
    assert advice == ("# Dates as 2027-05-31. Keep the row of a plot that failed, its cells blank.")
    assert head == "block,plot,treatment,planted,harvested,heads,weight_g,notes"
    # a spreadsheet would compute what begins with an equals sign
    names = [name.replace("=", "'=") for name in order]
    plots = [(1, 1), (1, 2), (2, 3), (2, 4)]
    assert rows == [
        *(f"{b},{p},{name},,,,," for (b, p), name in zip(plots, names, strict=True)),
        "",
    ]
    for given_, columns in (
        ({"unit": "kg"}, "heads,weight_kg"),
        ({"crop": crop("potato")}, "tubers,weight_g"),
        ({"crop": crop("potato"), "unit": "lb"}, "tubers,weight_lb"),
        ({"response_variables": ["height_cm"]}, "height_cm"),
    ):
        told = record_sheet(layout, **given_).split("\n")[1]
        assert told == f"block,plot,treatment,planted,harvested,{columns},notes"


@pytest.mark.parametrize("treatments", [2, 4])
@pytest.mark.parametrize("level", [0.05, 0.1])
@pytest.mark.parametrize("power", [0.5, 0.8])
def test_pairs_are_the_fewest_that_reach_the_power(treatments, level, power):
    from climwin.trials.dunnett import critical_value, equal_correlations

    ways = treatments - 1

    def reached(pairs):
        freedom = (pairs - 1) * ways
        if ways == 1:
            bound = stats.t.ppf(1 - level / 2, freedom)
        else:
            bound = critical_value(equal_correlations(ways), freedom, 1 - level)
        away = pairs**0.5 * 0.9
        inside = stats.nct.cdf(bound, freedom, away) - stats.nct.cdf(-bound, freedom, away)
        return 1 - inside >= power

    found = pairs_needed(0.9, 1.0, treatments=treatments, power=power, level=level)
    assert found == next(pairs for pairs in range(2, 60) if reached(pairs))


@pytest.mark.parametrize("fraction", [0, 1, -0.1, 1.1])
def test_a_chance_lies_between_0_and_1(fraction):
    for name in ("power", "level"):
        with pytest.raises(ValueError, match=f"{name} must lie between 0 and 1, got {fraction}"):
            pairs_needed(1, 1, **{name: fraction})


def test_two_pairs_are_the_least_and_ten_thousand_the_most():
    assert pairs_needed(1000, 1) == 2
    # of many pairs by the normal distribution: (1.95996 + 0.84162)^2 = 7.849 times a spread squared
    most = pairs_needed(1, (9990 / 7.849) ** 0.5)
    assert most == pytest.approx(9990, abs=5)
    with pytest.raises(ValueError, match="More than 10,000 pairs would be needed"):
        pairs_needed(1, (10_010 / 7.849) ** 0.5)
