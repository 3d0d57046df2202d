"""Numbers, dates and columns as people write them, and what a file that is no table is told."""

import datetime as dt

import hypothesis.strategies as st
import numpy as np
import pytest
import xarray.testing as xrt
from hypothesis import given
from refusing import refused

from climwin.core.errors import RecordError
from climwin.io import daily, delimited


def table(text, wanted=(0,)):
    body = iter(list(enumerate(text.splitlines(), start=1)))
    top = delimited.head(*next(body))
    return delimited.columns(body, top, wanted)


# --- numbers ------------------------------------------------------------------------------


@given(st.floats(-1e6, 1e6).filter(lambda x: x not in delimited.MISSING_NUMBERS))
def test_a_number_is_read_to_the_last_bit(value):
    values, bad = delimited.numbers([repr(value), repr(value).replace(".", ",")])
    assert values.tolist() == [value, value]
    assert not bad.any()


@pytest.mark.parametrize(
    "text", [*sorted(delimited.MISSING_WORDS), "NA", " M ", "-9999", "-99.9", "-99,90"]
)
def test_missing_is_missing_and_no_error(text):
    values, bad = delimited.numbers([text])
    assert np.isnan(values).all()
    assert not bad.any()


def test_a_typeset_minus_and_a_plus_are_signs():
    values, bad = delimited.numbers(["\N{MINUS SIGN}3.5", "+4", ".5", "6."])
    assert values.tolist() == [-3.5, 4.0, 0.5, 6.0]
    assert not bad.any()


@pytest.mark.parametrize(
    "text", ["abc", "12.3e1", "1_0", "inf", "1e999", "0x1", "1.2.3", "1,234.5", "4*", "٣"]
)
def test_what_is_no_number_is_found(text):
    values, bad = delimited.numbers(["1", text])
    assert bad.tolist() == [False, True]
    assert np.isnan(values[1])


# --- dates --------------------------------------------------------------------------------


@given(st.dates(dt.date(1700, 1, 1), dt.date(2200, 12, 31)))
def test_year_first_is_read_in_every_form(day):
    forms = ("%Y-%m-%d", "%Y/%m/%d", "%Y.%m.%d", "%Y%m%d", "%Y-%m-%dT00:00", "%Y-%m-%d 00:00:00")
    texts = [day.strftime(form).zfill(8) for form in forms]
    assert delimited.dates(texts).days.tolist() == [day] * len(forms)


@given(
    st.dates(dt.date(1970, 1, 1), dt.date(2060, 12, 31)), st.sampled_from(["%d/%m/%Y", "%m/%d/%y"])
)
def test_dates_are_read_as_they_are_said_to_be_written(day, form):
    assert delimited.dates([day.strftime(form)], form).days.tolist() == [day]


def test_a_date_not_written_as_said_is_no_date():
    assert np.isnat(delimited.dates(["13/04/2001", "2001-04-13"], "%d/%m/%Y").days).tolist() == [
        False,
        True,
    ]


def test_a_day_beyond_the_12th_settles_the_order():
    day_first = delimited.dates(["03/04/2001", "13/04/2001"]).days
    month_first = delimited.dates(["03-04-2001", "04-13-2001"]).days
    assert day_first.astype(str).tolist() == ["2001-04-03", "2001-04-13"]
    assert month_first.astype(str).tolist() == ["2001-03-04", "2001-04-13"]


def test_dots_put_the_day_first():
    assert delimited.dates(["3.4.2001"]).days.astype(str).tolist() == ["2001-04-03"]


def test_a_date_in_doubt_is_handed_back():
    assert delimited.dates(["2001-01-01", "03/04/2001"]).ambiguous == "03/04/2001"


@pytest.mark.parametrize("rewritten", ["2001-02-01", "2001/2/1"])
def test_dates_that_a_spreadsheet_rewrote_in_part_are_handed_back(rewritten):
    found = delimited.dates(["", rewritten, "13/02/2001", "14/02/2001"])
    assert found.two_forms == (rewritten, "13/02/2001")
    assert found.ambiguous is None


@pytest.mark.parametrize(
    "texts", [["2001-02-01", "2001/2/2"], ["2001-02-01", "13.2.2001"], ["13/02/2001", "1/3/2001"]]
)
def test_dates_that_cannot_be_swapped_are_of_one_form(texts):
    assert delimited.dates(texts).two_forms is None


@pytest.mark.parametrize(
    "text",
    ["", "2001-02-29", "2001-13-01", "01-02-03", "May 2001", "1699-12-31", "9999-01-01", "200153"],
)
def test_no_date_is_not_a_time(text):
    assert np.isnat(delimited.dates([text, "2001-01-01"]).days).tolist() == [True, False]


@pytest.mark.parametrize("form", ["%d/%m", "%a %d/%m", "%H:%M", "%d/%m/%Q", "day/month"])
def test_a_form_without_year_month_and_day_is_refused(form):
    with pytest.raises(ValueError, match="such as '%d/%m/%Y' for 23/11/2001"):
        delimited.dates(["1/1/2001"], form)


# --- columns ------------------------------------------------------------------------------


@pytest.mark.parametrize("mark", [",", ";", "\t", "   "])
def test_columns_are_parted_by_the_mark_of_the_head(mark):
    lines, texts, faults = table(f"a{mark}b\n1{mark}2\n3{mark}4\n", (1,))
    assert (lines.tolist(), texts, faults) == ([2, 3], {1: ["2", "4"]}, [])


def test_a_comma_within_quotes_parts_nothing():
    top = delimited.head(1, '"Mill, valley";tmin')
    assert top.names == ["Mill, valley", "tmin"]
    assert table('a,b\n"3,5",1\n')[1] == {0: ["3,5"]}


def test_lines_cut_short_or_too_long_are_faults_and_blank_ones_are_not():
    lines, texts, faults = table("a,b\n1,2\n3\n,\n5,6,7\n8,9,,\n")
    assert lines.tolist() == [2, 6]
    assert texts == {0: ["1", "8"]}
    assert faults[0].where == ["line 3 has 1", "line 5 has 3"]


def test_all_faults_are_said_at_once_the_first_three_with_their_line():
    bad = np.array([False, True, True, True, True])
    lines, texts = np.arange(2, 7), ["1", "a", "b", "c", "d"]
    faults = delimited.fault("numbers are none", "Correct them.", bad, lines, texts)
    faults += delimited.fault("dates are none", "Write dates.", bad[:2], lines, texts)
    with pytest.raises(RecordError) as error:
        delimited.refuse("mill.csv", faults)
    assert str(error.value).splitlines() == [
        "mill.csv cannot be used as it is:",
        "- numbers are none, 4 in all: line 3 'a', line 4 'b', line 5 'c', .... Correct them.",
        "- dates are none, 1 in all: line 3 'a'. Write dates.",
    ]
    assert delimited.refuse("mill.csv", []) is None


# --- files --------------------------------------------------------------------------------


def test_lines_keep_their_numbers_past_comments_and_blanks(tmp_path):
    path = tmp_path / "mill.csv"
    path.write_bytes(b"\xef\xbb\xbf# invented\r\n\r\na,b\r\n# more\r\n1,2")
    coding = delimited.encoding(path)
    assert list(delimited.lines(path, coding)) == [(3, "a,b"), (5, "1,2")]
    assert delimited.comments(path, coding) == ["invented"]


def test_latin_1_is_seen(tmp_path):
    path = tmp_path / "mill.csv"
    path.write_bytes("Tmin (°C)".encode("latin-1"))
    assert list(delimited.lines(path, delimited.encoding(path))) == [(1, "Tmin (°C)")]


@pytest.mark.parametrize("raw", ["date,tmin".encode("utf-16"), b"PK\x03\x04\x00\x00"])
def test_what_is_no_plain_text_is_refused(tmp_path, raw):
    path = tmp_path / "mill.csv"
    path.write_bytes(raw)
    with pytest.raises(RecordError, match=r"mill.csv is not plain text.*Save it as 'CSV UTF-8'"):
        delimited.encoding(path)


def test_a_file_too_large_is_refused_with_its_size(tmp_path, monkeypatch):
    monkeypatch.setattr(delimited, "MAX_BYTES", 5)
    path = tmp_path / "mill.csv"
    path.write_text("date,tmin")
    refused(
        lambda: delimited.encoding(path),
        "mill.csv has 9 bytes, and at most 5 are read.",
        "Keep one station and only the columns of date, temperature and precipitation.",
    )


@pytest.mark.parametrize(("limit", "value"), [("MAX_LINES", 1), ("MAX_LINE", 4)])
def test_too_many_or_too_long_lines_are_refused(tmp_path, monkeypatch, limit, value):
    monkeypatch.setattr(delimited, limit, value)
    path = tmp_path / "mill.csv"
    path.write_text("a,b\n1,234")
    with pytest.raises(RecordError, match=r"mill.csv, line 2: a daily record has fewer"):
        list(delimited.lines(path, "utf-8"))


# --- the fast way ---------------------------------------------------------------------------

DAYS = st.dates(dt.date(1700, 1, 1), dt.date(2200, 12, 31)).map(dt.date.isoformat)
CELLS = st.floats(-60, 60).map(lambda value: f"{value:.1f}") | st.sampled_from(["", " 3.5", "NA"])
DAMAGE = ("\n", "\r", ",", '"', "#", " ", "\t", ";", "x", "\u2212", "\x0c", "\u00e9")


@st.composite
def files(draw):
    """A table of three columns, as it should be or damaged here and there."""
    rows = draw(st.lists(st.tuples(DAYS, CELLS, CELLS), min_size=1, max_size=8))
    text = "\n".join(",".join(row) for row in [("date", "tmin", "tmax"), *rows])
    text += draw(st.sampled_from(["", "\n", "\n\n"]))
    for mark in draw(st.lists(st.sampled_from(DAMAGE), max_size=3)):
        place = draw(st.integers(0, len(text)))
        text = text[:place] + mark + text[place:]
    return text


@given(files())
def test_a_clean_table_is_split_as_line_by_line(tmp_path_factory, text):
    path = tmp_path_factory.getbasetemp() / "mill.csv"
    path.write_text(text, encoding="utf-8")
    body = delimited.lines(path, "utf-8")
    top = delimited.head(*next(body))
    wanted = range(len(top.names))
    lines, texts, faults = delimited.columns(body, top, wanted)
    clean = delimited.clean_columns(path, "utf-8", top, wanted)
    if clean is not None:
        assert not faults
        assert clean[0].tolist() == lines.tolist()
        assert clean[1] == texts


@given(files())
def test_both_ways_give_the_same_record_or_the_same_error(tmp_path_factory, text):
    path = tmp_path_factory.getbasetemp() / "mill.csv"
    path.write_text(text, encoding="utf-8")
    answers = []
    with pytest.MonkeyPatch.context() as patch:
        for _ in range(2):
            try:
                answers.append(daily.read_unchecked(path))
            except RecordError as error:
                answers.append(str(error))
            patch.setattr(delimited, "clean_columns", lambda *_: None)
    fast, careful = answers
    if isinstance(careful, str):
        assert fast == careful
    else:
        xrt.assert_identical(fast, careful)


def test_a_table_as_it_should_be_is_clean(tmp_path):
    path = tmp_path / "mill.csv"
    path.write_text("# a remark\ndate,tmin\n2001-05-03, 4.5\n2001-05-04,\n")
    lines, texts = delimited.clean_columns(path, "utf-8", delimited.head(2, "date,tmin"), [0, 1])
    assert lines.tolist() == [3, 4]
    assert texts == {0: ["2001-05-03", "2001-05-04"], 1: ["4.5", ""]}


@st.composite
def nearly_dates(draw):
    """A date like 2001-05-03 with one of its letters changed."""
    text, place = draw(DAYS), draw(st.integers(0, 9))
    return text[:place] + draw(st.sampled_from("0123456789-/x \u0663")) + text[place + 1 :]


def by_the_standard_library(text):
    """The day of a text like 2001-05-03; none where it is no day of 1700 to 2200."""
    try:
        day = dt.date.fromisoformat(text)
    except ValueError:
        return None
    return day if 1700 <= day.year <= 2200 else None


@given(st.lists(DAYS, min_size=1, max_size=4), st.none() | nearly_dates())
def test_dates_are_read_at_once_as_one_by_one(texts, odd):
    texts = [*texts, odd] if odd else texts
    found = delimited.dates(texts).days
    np.testing.assert_array_equal(found, [delimited.dates([text]).days[0] for text in texts])
    for text, day in zip(texts, found.tolist(), strict=True):
        if text.isascii() and text[4] == text[7] == "-" and len(text.split("-")) == 3:
            assert day == by_the_standard_library(text)
