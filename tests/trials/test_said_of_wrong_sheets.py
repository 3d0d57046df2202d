"""A refusal of a table of plots or sowings, and what comes of doing as it says."""

import re

import numpy as np
import pandas as pd
import pytest

from climwin.core.errors import DataGapError, RecordError
from climwin.core.schema import InputError
from climwin.crops.catalogue import crop
from climwin.trials.analysis import read_trial, trial_result
from climwin.trials.design import lay_out_trial, pairs_needed, record_sheet
from climwin.trials.earliness import fit_earliness, usual_earliness
from climwin.trials.plausibility import OUT_OF_SEASON_DAYS
from climwin.trials.sowings import read_sowings

WAYS = ["sown in place", "raised under cover"]
HEAD = "crop,way,sown,set_out,harvested,failed"
SOWN = "pea,in place,2020-04-02,,2020-07-01,"
COUNTS = {"two": 2, "three": 3, "six": 6}


def refusal(act, *given, kind=ValueError, **options):
    with pytest.raises(kind) as refused:
        act(*given, **options)
    return str(refused.value)


@pytest.fixture
def sowings(tmp_path):
    """Read rows as a table of past sowings."""

    def read(*rows, head=HEAD):
        path = tmp_path / "past.csv"
        path.write_text("\n".join([head, *rows]), "utf-8")
        return read_sowings(path)

    return read


@pytest.fixture
def plots(tmp_path):
    """Read a text as a filled sheet."""

    def read(text):
        path = tmp_path / "bed.csv"
        path.write_text(text, "utf-8")
        return read_trial(path)

    return read


# --- bounds -------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("ask", "wrong", "step"),
    [
        (lambda n: lay_out_trial(WAYS, blocks=n, seed=1), 0, 1),
        (lambda n: pairs_needed(100, 120, treatments=n), 0, 1),
        (lambda p: pairs_needed(100, 120, power=0.5 + p / 2), 1.0, None),
        (lambda p: pairs_needed(100, 120, level=p), 1.0, None),
    ],
)
def test_the_bounds_that_a_refusal_names_are_the_bounds(ask, wrong, step):
    low, high = map(
        int, re.search(r"between (\d+) and ([\d,]+), got", refusal(ask, wrong)).groups()
    )
    if step is None:  # of odds, which never reach their bounds
        assert (low, high) == (0, 1)
        ask(0.5)
        return
    for inside, outside in ((low, low - step), (high, high + step)):
        ask(inside)
        refusal(ask, outside)


def test_as_many_treatments_as_are_asked_for_are_enough():
    text = refusal(lay_out_trial, ["only one"], seed=1)
    least = COUNTS[re.search(r"at least (\w+) treatments with different names, got", text)[1]]
    given = re.findall(r"'([^']+)'", text.partition("Give for example")[2])
    assert len(given) == least
    assert given == WAYS
    lay_out_trial(given, seed=1)
    refusal(lay_out_trial, given[: least - 1], seed=1)


def test_as_many_pairs_as_are_asked_for_are_enough():
    def trial(pairs):
        rows = [
            {"block": str(n), "plot": str(2 * n + k), "treatment": way, "weight_g": 100 + n * k}
            for n in range(1, 7)
            for k, way in enumerate("ab")
        ]
        table = pd.DataFrame(rows)
        table.loc[2 * pairs :, "weight_g"] = np.nan
        return trial_result(table, "weight_g")

    text = refusal(trial, 1, kind=DataGapError)
    least = int(
        re.search(r"of both .*: at least (\d+) are needed, and six or more are worth", text)[1]
    )
    assert "plots with the weight of both" in text
    assert int(trial(least)["pairs"].max()) == least
    refusal(trial, least - 1, kind=DataGapError)


def test_too_many_pairs_are_brought_down_as_advised():
    text = refusal(pairs_needed, 0.5, 100.0)
    most = int(re.search(r"^More than ([\d,]+) pairs would be needed", text)[1].replace(",", ""))
    assert "to see 0.5 against a spread of 100" in text
    assert "Look for a larger difference, or measure more evenly" in text
    assert pairs_needed(50, 100.0) < most  # a larger difference
    assert pairs_needed(0.5, 1.0) < most  # plots that differ less


# --- plots --------------------------------------------------------------------------------


def test_a_sheet_begun_as_advised_is_read(plots):
    sheet = record_sheet(lay_out_trial(WAYS, blocks=2, seed=1), response_variables=["heads"])
    note, head, *rows = sheet.splitlines()
    assert note.endswith("Keep the row of a plot that failed, its cells blank.")
    plots(sheet)
    text = refusal(plots, "\n".join([head.replace("treatment", "what"), *rows]))
    assert re.search(
        r"lacks treatment; .*Start from a sheet of climwin\.record_sheet\(layout\), with its own "
        r"name for every response variable",
        text,
    )
    twice = refusal(plots, "\n".join([f"{head},heads", *(f"{row}," for row in rows)]))
    assert "names a column twice" in twice
    lost = refusal(plots, "\n".join([head, *rows[:-1]]))
    assert re.search(
        r"lacks 1 of its plots: .* of block 2\. Keep the row of a plot that failed and leave its "
        r"other cells blank; spell treatments alike in every block",
        lost,
    )
    one = refusal(plots, "\n".join([head, *(row for row in rows if WAYS[0] in row)]))
    assert re.search(r"has 1 treatments\. A trial compares at least two\.", one)


def test_a_plot_that_stood_half_a_year_longer_is_of_another_year(plots):
    rows = [
        f"{block},{2 * block + k},{way},2027-03-05,2027-07-{10 + block}"
        for block in range(1, 5)
        for k, way in enumerate(WAYS)
    ]
    head = "block,plot,treatment,planted,harvested"
    plots("\n".join([head, *rows]))
    late = [rows[0].replace("2027-07-11", "2028-02-11"), *rows[1:]]
    text = refusal(plots, "\n".join([head, *late]))
    assert re.search(
        r"plots stood for half a year longer or shorter than the others, 1 in all: line 2 '2'\. "
        r"Correct the year",
        text,
    )
    assert abs(OUT_OF_SEASON_DAYS - 365 / 2) < 3  # half a year


# --- sowings ------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("row", "what", "advice", "mended"),
    [
        (
            "pea,in place,,,2020-07-01,",
            "have no start date",
            "Fill in sown, or set_out where plants were bought",
            SOWN,
        ),
        (
            "tomato,bought,,,2020-08-01,",
            "have no start date",
            "Fill in sown, or set_out where plants were bought",
            "tomato,bought,,2020-05-20,2020-08-01,",
        ),
        (
            "pea,in place,2020-04-02,2020-05-01,2020-07-01,",
            "in place have a date of setting out",
            "Leave it empty, or write the cover that they were raised under as their way",
            "pea,cold frame,2020-04-02,2020-05-01,2020-07-10,",
        ),
        (
            "cauliflower,cold frame,2020-03-05,,2020-07-01,",
            "were raised under cover but have no date of setting out",
            "Fill in set_out, or write in place",
            "cauliflower,in place,2020-03-05,,2020-07-01,",
        ),
        (
            "tomato,bought,2020-03-01,2020-05-20,2020-08-01,",
            "bought plants have a date of sowing",
            "Leave it empty: they count from set_out",
            "tomato,bought,,2020-05-20,2020-08-01,",
        ),
        (
            "pea,in place,2020-04-02,,2020-07-01,too hot",
            "have both a harvest and a failure",
            "Leave one empty",
            "pea,in place,2020-04-02,,,too hot",
        ),
        (
            "pea,in place,2020-04-02,,,",
            "have neither a harvest nor a failure",
            "Fill in one of the two; leave out a sowing that is still growing",
            SOWN,
        ),
        (
            "cauliflower,cold frame,2020-04-17,2020-03-05,2020-07-01,",
            "were set out before they were sown",
            "Correct the dates",
            "cauliflower,cold frame,2020-03-05,2020-04-17,2020-07-01,",
        ),
        (
            "pea,in place,2020-07-01,,2020-04-02,",
            "were harvested before they were sown or set out",
            "Correct the dates",
            SOWN,
        ),
        (
            "pea,in place,2020-04-02,,2020-04-09,",
            "in less than a third of the days that the crop takes",
            "",
            SOWN,
        ),
        (
            "asparagus,in place,2020-04-02,,2020-07-01,",
            "stand for years and are not sown",
            "",
            SOWN,
        ),
        (
            "pea,in place,02/04/2020,,02/07/2020,",
            "may be day/month or month/day",
            r"Write them as \d{4}-\d\d-\d\d",
            SOWN,
        ),
        (
            "pea,in place,spring,,2020-07-01,",
            "cells of 'sown' are not dates",
            r"Write them as \d{4}-\d\d-\d\d",
            SOWN,
        ),
        (
            "pea,in place,2020-04-02,,,gnomes",
            "cells of 'failed' are not known",
            "For what weather does not explain, such as slugs, write other",
            "pea,in place,2020-04-02,,,other",
        ),
        (
            "pea,greenhose,2020-04-02,,2020-07-01,",
            "cells of 'way' are not known",
            "Of a space of your own, add its logger: space",
            SOWN,
        ),
    ],
)
def test_who_does_as_a_refusal_says_is_not_refused_again(sowings, row, what, advice, mended):
    text = refusal(sowings, row, kind=RecordError)
    assert re.search(f"{what}.*{advice}", text)
    assert len(sowings(mended)) == 1


def test_a_head_begun_as_advised_is_read(sowings):
    text = refusal(sowings, "pea,in place", head="crop,way")
    assert "lacks sown" in text
    head = re.search(r"Begin it with ([a-z,_]+)\.$", text)[1]
    assert len(sowings(SOWN, head=head)) == 1
    assert re.search(r"has no sowings\. Write one on each row below crop,", refusal(sowings))
    near = refusal(sowings, f"{SOWN},50", head=f"{HEAD},packet_day")
    assert near.endswith("Did you mean packet_days?")
    assert len(sowings(f"{SOWN},70", head=f"{HEAD},packet_days")) == 1
    other = refusal(sowings, f"{SOWN},x", head=f"{HEAD},moonphase")
    assert other.endswith("Leave it out.")


@pytest.mark.parametrize(("column", "zero"), [("amount", "0"), ("packet_days", "-1")])
def test_an_amount_is_a_number_above_zero(sowings, column, zero):
    head = f"{HEAD},{column}"
    assert "are not numbers above 0" in refusal(sowings, f"{SOWN},{zero}", head=head)
    assert len(sowings(f"{SOWN},70", head=head)) == 1


def test_amounts_in_one_unit_are_taken_after_those_in_two_were_not(sowings):
    def rows(odd):
        amounts = (900, 1100, odd, 800, 950, 1000)
        return [
            f"pea,in place,{2010 + n}-04-02,,{2010 + n}-07-01,,{a}" for n, a in enumerate(amounts)
        ]

    text = refusal(sowings, *rows(1.2), head=f"{HEAD},amount")
    assert re.search(
        r"amounts are far from the others of their crop.*Two units in one column\? Write all "
        r"amounts of a crop in the same\.",
        text,
    )
    assert len(sowings(*rows(1200), head=f"{HEAD},amount")) == 6


def test_two_numbers_on_one_packet_are_asked_about(sowings):
    head = f"{HEAD},variety,packet_days"
    rows = [f"{SOWN},early,60", f"{SOWN.replace('2020', '2021')},early,70"]
    text = refusal(sowings, *rows, head=head)
    assert re.search(
        r"of one variety have two numbers of days on its packet.*each variety a name", text
    )
    assert len(sowings(rows[0], rows[1].replace("early", "late"), head=head)) == 2


def test_earliness_is_told_by_harvests_alone(sowings):
    failed = sowings("pea,in place,2020-04-02,,,too hot")
    text = refusal(fit_earliness, failed, climate(), kind=DataGapError)
    assert text == "No sowing gave a harvest, and only a harvest shows how early a variety is."
    unmeasured = refusal(fit_earliness, sowings(SOWN), climate(), kind=DataGapError)
    assert re.search(
        r"^No harvest is in years that were measured\. Give a record with the days from each start "
        r"to its harvest",
        unmeasured,
    )
    perennial = refusal(usual_earliness, crop("asparagus"), kind=InputError)
    assert "stands for years: it has no days to a first harvest from the start" in perennial


def climate():
    """A record that ends before all sowings here."""
    import climwin as cw

    return cw.read_daily(cw.sample()).sel(time=slice("1990", "1999"))


# --- slips of the pen ---------------------------------------------------------------------

SHEET = """block,plot,treatment,planted,harvested,heads,weight_g
1,1,early,2024-04-20,2024-07-13,7,3890
1,2,late,2024-05-20,2024-08-13,8,4570
2,3,early,2024-04-20,2024-07-14,9,5240
2,4,late,2024-05-20,2024-08-12,10,6180
"""


def test_a_sheet_without_slips_is_read(plots):
    assert plots(SHEET)["weight_g"].tolist() == [3890, 4570, 5240, 6180]


@pytest.mark.parametrize("unit", ["kg", "lb"])
def test_grams_under_the_name_of_another_unit_are_refused(plots, unit):
    told = refusal(plots, SHEET.replace("weight_g", f"weight_{unit}"))
    assert "are weights that no plot has" in told
    assert "Write the unit of the weights in the column's name: g, kg, oz or lb" in told


def test_kilograms_under_the_name_of_grams_are_refused(plots):
    told = refusal(plots, re.sub(r",(\d)(\d{3})\n", r",\1.\2\n", SHEET))
    assert "half of them must lie between 10 and 500,000 g, 4 in all: line 2 '3.890'" in told


def test_dates_that_a_spreadsheet_rewrote_in_part_are_refused(plots):
    told = refusal(plots, SHEET.replace("2024-07-13", "13/07/2024"))
    assert "cells of 'harvested' are not dates" in told
    assert "Write them as 2027-05-31" in told


def test_a_row_of_means_is_no_block(plots):
    means = "mean,5,early,,,8,4565\nmean,6,late,,,9,5375\n"
    told = refusal(plots, SHEET + means)
    assert "line 6: block 'mean' is not numbered as the others are" in told
    named = SHEET.replace("\n1,", "\nnorth,").replace("\n2,", "\nsouth,")
    assert plots(named)["block"].unique().tolist() == ["north", "south"]


def test_sowings_with_dates_in_two_forms_are_refused(sowings):
    told = refusal(sowings, SOWN, "pea,in place,13/04/2021,,01/07/2021,")
    assert "dates are in two forms, such as '2020-04-02' and '13/04/2021', 4 in all" in told


def test_an_amount_with_a_digit_too_many_is_refused(sowings):
    rows = [f"pea,in place,{year}-04-02,,{year}-07-01,,{grams}" for year, grams in
            zip(range(2015, 2020), (500, 700, 600, 800, 6500), strict=True)]  # fmt: skip
    told = refusal(sowings, *rows, head=f"{HEAD},amount")
    assert "amounts are 6 times or more above all others of their crop, 1 in all: line 6" in told
    assert "Has a digit or a point slipped?" in told
