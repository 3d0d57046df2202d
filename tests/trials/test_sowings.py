"""Past sowings read from a table: what it may hold, and each slip with its line and what to do."""

import numpy as np
import pandas as pd
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from climwin.core.errors import RecordError
from climwin.planning.plan import Plan
from climwin.trials.sowings import plan_of, read_sowings, start_of

TABLE = """\
# Invented sowings at Pellbrook
crop,way,sown,set_out,harvested,failed,variety,packet_days,amount,notes
cauliflower,cold frame,2018-03-05,2018-04-17,2018-07-01,,early,50,5200,
Cauliflowers,Sown in place,2019-04-20,,,too hot,early,50,,
tomato,bought,,2019-05-20,2019-08-01,,,,,a gift
pea,in place,2020-04-02,,,other,,,,mice
"""


@pytest.fixture
def read(tmp_path):
    """Read a text as a table of past sowings."""

    def read(text):
        path = tmp_path / "my_sowings.csv"
        path.write_text(text, "utf-8")
        return read_sowings(path)

    return read


def test_a_table_of_all_ways(read):
    table = read(TABLE)
    assert table["crop"].tolist() == ["cauliflower", "cauliflower", "tomato", "pea"]
    assert table["way"].tolist() == ["cold frame", "in place", "bought", "in place"]
    assert table["failed"].tolist() == ["", "too hot", "", "other"]
    assert table["line"].tolist() == [3, 4, 5, 6]
    assert str(table["harvested"][0])[:10] == "2018-07-01"
    np.testing.assert_array_equal(table["packet_days"], [50, 50, np.nan, np.nan])


def test_only_five_columns_are_needed(read):
    table = read("crop;way;sown;harvested;failed\npea;in place;13/4/2020;1/7/2020;")
    assert str(table["sown"][0])[:10] == "2020-04-13"
    assert str(table["harvested"][0])[:10] == "2020-07-01"  # the 13th settled it for all columns


@pytest.mark.parametrize(
    "way", ["sown", "Sown outdoors", "planted", "outdoors", "planted in place"]
)
def test_a_way_may_be_said_as_gardeners_do(read, way):
    table = read(f"crop,way,sown,harvested,failed\npea,{way},2020-04-13,2020-07-01,\n")
    assert table["way"].tolist() == ["in place"]


@pytest.mark.parametrize("way", ["cold frame", "raised in a cold frame", "Raised in a Cold Frame"])
def test_a_cover_may_be_named_with_what_was_done_there(read, way):
    line = f"cauliflower,{way},2020-03-05,2020-04-16,2020-07-01,"
    table = read(f"crop,way,sown,set_out,harvested,failed\n{line}\n")
    assert table["way"].tolist() == ["cold frame"]


@pytest.mark.parametrize(
    ("said", "meant"),
    [
        ("frost", "killed by cold"),
        ("killed by frost", "killed by cold"),
        ("killed by a frost", "killed by cold"),
        ("frosted", "killed by cold"),
        ("Freeze", "killed by cold"),
        ("late frost", "killed by cold"),
        ("heat", "too hot"),
        ("went to seed", "bolted"),
    ],
)
def test_a_failure_may_be_said_as_gardeners_do(read, said, meant):
    table = read(f"crop,way,sown,harvested,failed\npea,in place,2020-04-13,,{said}\n")
    assert table["failed"].tolist() == [meant]


@pytest.mark.parametrize(
    ("old", "new", "says"),
    [
        ("crop,way,sown", "crop,way,sowed", r"column 'sowed'.* Did you mean sown\?"),
        ("amount,notes", "amount,colour", "column 'colour'; its columns may be crop, way, sown"),
        ("harvested,failed,", "harvested,", "lacks failed; its head is"),
        ("amount,notes", "amount,amount", "names a column twice"),
        (
            "tomato,",
            "tomatoe,",
            r"cells of 'crop' are not known.*line 5 'tomatoe'. Nearest: .*tomato",
        ),
        (",bought,", ",cold fram,", r"cells of 'way' are not known.*'cold fram'. Nearest: cold fr"),
        (
            ",bought,",
            ",potted,",
            r"'way' are not known.*'potted'. It may be in place, bought, fleece",
        ),
        ("too hot", "slugs", r"'failed' are not known.*line 4 'slugs'.*slugs, write other"),
        ("too hot", "to hot", r"'failed' are not known.*Nearest: .*too hot"),
        (
            "2019-04-20",
            "20 April",
            r"'sown' are not dates, 1 in all: line 4 '20 April'. Write them",
        ),
        ("2019-04-20", "2019-02-30", r"'sown' are not dates, 1 in all: line 4 '2019-02-30'"),
        (",50,5200,", ",50,-2,", r"'amount' are not numbers above 0, 1 in all: line 3 '-2'"),
        (
            ",50,5200,",
            ",5,5200,",
            r"days on a packet cannot be, 1 in all: line 3 '5'.*between 25 and",
        ),
        (
            "2018-07-01",
            "2018-04-01",
            r"harvested before they were sown or set out.*line 3 '2018-04-01",
        ),
        # Early cauliflower takes 50 days on this packet, so 16 are less than a third.
        (
            "2018-04-17,2018-07-01",
            "2018-03-15,2018-03-21",
            r"in less than a third of the days that the crop takes.*line 3 '2018-03-21'",
        ),
        ("2018-07-01", "2020-07-01", r"stood for more than 400 days, 1 in all: line 3"),
        ("2018-04-17", "2018-03-01", r"set out before they were sown.*line 3 '2018-03-01'"),
        ("2018-04-17", "2018-12-17", r"under cover for more than 20 weeks"),
        (
            "2018-04-17",
            "",
            r"raised under cover but have no date of setting out.*line 3 'cold frame'",
        ),
        ("2019-04-20,,", "2019-04-20,2019-05-01,", r"in place have a date of setting out.*line 4"),
        ("bought,,", "bought,2019-03-01,", r"bought plants have a date of sowing.*line 5"),
        ("2019-05-20", "", r"have no start date.*line 5 'bought'"),
        (",,too hot,", ",2019-07-10,too hot,", r"both a harvest and a failure.*line 4 'too hot'"),
        (
            ",,too hot,",
            ",,,",
            r"neither a harvest nor a failure.*line 4.*leave out a sowing that is still",
        ),
        ("pea,in place", "asparagus,in place", r"crops stand for years and are not sown.*line 6"),
        (TABLE[TABLE.index("\ncauli") :], "\n", "has no sowings. Write one on each row"),
        ("mice", "mice,more", "line 6 has 11"),
    ],
)
def test_a_table_that_cannot_be_used_teaches(read, old, new, says):
    assert old in TABLE
    with pytest.raises(RecordError, match=r"(?s)my_sowings\.csv.*" + says):
        read(TABLE.replace(old, new, 1))


def test_a_harvest_at_a_third_of_the_days_may_be_cut_small(read):
    table = read(TABLE.replace("2018-04-17,2018-07-01", "2018-03-15,2018-03-22"))  # 17 days
    assert str(table["harvested"][0])[:10] == "2018-03-22"


def test_kilograms_among_grams_of_one_crop_are_asked_about(read):
    grams = enumerate((900, 1100, 1.2, 800, 950, 1000), start=2010)
    rows = [f"pea,in place,{year}-04-02,,{year}-07-01,,,,{amount}," for year, amount in grams]
    head = "crop,way,sown,set_out,harvested,failed,variety,packet_days,amount,notes"
    with pytest.raises(RecordError, match=r"far from the others .*, 1 in all: line 4 '1.2'"):
        read("\n".join([head, *rows]))
    # Another crop may weigh far less.
    other = [row.replace("pea", "tomato").replace(",1.2,", ",1150,") for row in rows]
    table = read("\n".join([head, *other, "pea,in place,2020-04-02,,2020-07-01,,,,3,"]))
    assert table["amount"].min() == 3


def test_a_sowing_on_two_rows_is_refused(read):
    row = TABLE.splitlines()[2]
    with pytest.raises(RecordError, match=r"are listed twice, 1 in all: line 7 'cauliflower'"):
        read(TABLE + row + "\n")
    read(TABLE + row.replace("early", "late") + "\n")  # two varieties on one day are two sowings


def test_dates_that_could_be_two_are_refused(read):
    text = "crop,way,sown,harvested,failed\npea,in place,04/05/2018,07/08/2018,\n"
    with pytest.raises(
        RecordError, match=r"'04/05/2018' may be day/month or month/day.*2018-04-20"
    ):
        read(text)


def test_one_variety_has_one_packet(read):
    text = TABLE.replace("too hot,early,50", "too hot,early,65")
    with pytest.raises(
        RecordError, match=r"two numbers of days on its packet.*line 4 'early'. Corr"
    ):
        read(text)


def test_a_row_is_the_plan_of_its_date(read):
    table = read(TABLE)
    plans = [plan_of(row) for _, row in table.iterrows()]
    assert [plan.start for plan in plans] == ["03-05", "04-20", "05-20", "04-02"]
    assert plans[0].way.phases[0][0] == 43  # days from 5 March to 17 April
    assert plans[1] == Plan(plans[1].crop, "04-20", earliness=50.0)
    assert plans[2] == Plan(plans[2].crop, "05-20", plants="bought")
    assert start_of(table.loc[2]) == np.datetime64("2019-05-20")


def test_a_raised_sowing_of_whole_weeks_grows_as_its_plan(read):
    table = read(TABLE.replace("2018-04-17", "2018-04-16"))
    own = plan_of(table.loc[0])
    assert own.way == Plan(own.crop, "03-05", 6, "cold frame", earliness=50.0).way


def test_the_29th_of_february_is_the_28th(read):
    table = read(
        TABLE.replace("2018-03-05", "2020-02-29")
        .replace("2018-04-17", "2020-04-10")
        .replace("2018-07-01", "2020-07-01")
    )
    assert plan_of(table.loc[0]).start == "02-28"


cells = st.one_of(
    st.text(max_size=6),
    st.sampled_from(["pea", "in place", "cold frame", "2019-04-05", "too hot", "50", '"', "nan"]),
)


@settings(suppress_health_check=[HealthCheck.function_scoped_fixture], max_examples=150)
@given(st.lists(st.lists(cells, min_size=5, max_size=6), max_size=6))
def test_whatever_the_table_holds_it_reads_or_teaches(read, rows):
    body = "\n".join(",".join(row) for row in rows)
    try:
        table = read("crop,way,sown,set_out,harvested,failed\n" + body)
    except RecordError:
        return
    has_harvest = table["harvested"].notna()
    assert (has_harvest ^ (table["failed"] != "")).all()
    stood = table["harvested"] - table["sown"].fillna(table["set_out"])
    assert (stood[has_harvest] > pd.Timedelta(0)).all()
