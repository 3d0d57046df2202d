"""Reading a gardener's logger: what is kept, what is told, and what is refused."""

import re
from pathlib import Path

import numpy as np
import numpy.testing as npt
import pandas as pd
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from written import FORMS

from climwin.core.errors import RecordError
from climwin.io.loggers import read_logger, space_name

ROME = "Europe/Rome"
HOUR = pd.Timedelta("1h")


@pytest.fixture
def frame(tmp_path):
    """Read a text as a logger's file."""

    def read(text, **options):
        path = tmp_path / "frame.csv"
        path.write_bytes(text if isinstance(text, bytes) else text.encode())
        return read_logger(path, **options)

    return read


def log(times, temperatures, head="time,temperature"):
    rows = zip(times, temperatures, strict=True)
    return "\n".join([head, *(f"{time:%Y-%m-%d %H:%M},{value:.2f}" for time, value in rows)])


def wave(n):
    return 10 + 5 * np.sin(np.arange(n) / 9)


# --- what is read -------------------------------------------------------------------------


@pytest.mark.parametrize("form", FORMS)
def test_many_forms_of_one_record_read_the_same(frame, form):
    logger = frame(FORMS[form])
    expected = ["2026-03-31T23:50:00", "2026-04-01T00:00:00"]
    npt.assert_array_equal(logger["time"].values.astype(str), expected)
    npt.assert_allclose(logger["temperature"], [5.5, 5.0], atol=1e-9)
    assert logger["temperature"].attrs["units"] == "degC"
    assert logger["time"].dtype == "datetime64[s]"


def test_options_settle_what_the_file_leaves_open(frame):
    text = "When,Inside,Outside\n04/05/2026 1:30 PM,50,40\n04/05/2026 1:40 PM,51,40\n"
    logger = frame(
        text,
        units="F",
        columns={"time": "When", "temperature": "Inside"},
        dates="%m/%d/%Y %I:%M %p",
    )
    assert str(logger["time"].values[0]) == "2026-04-05T13:30:00"
    npt.assert_allclose(logger["temperature"], [10.0, 10.5556], atol=1e-4)


def test_a_clock_of_twelve_hours_is_read(frame):
    shown = ["11:50 AM", "12:00 PM", "1:10:30 p.m.", "11:50PM", "12:05 am"]
    days = ["05/31/2026"] * 4 + ["06/01/2026"]
    rows = [f"{day} {clock},{n}" for n, (day, clock) in enumerate(zip(days, shown, strict=True))]
    logger = frame("\n".join(["time,temperature", *rows]))
    assert logger["time"].values.astype(str).tolist() == [
        *("2026-05-31T11:50:00", "2026-05-31T12:00:00", "2026-05-31T13:10:30"),
        *("2026-05-31T23:50:00", "2026-06-01T00:05:00"),
    ]


def test_what_was_dropped_is_said(frame):
    hours = list(pd.date_range("2026-03-01", periods=30, freq="h"))
    values = list(wave(30))
    twice = frame(log(hours + hours[20:], values + values[20:]))
    assert twice.sizes["time"] == 30
    assert "10 readings repeated and dropped" in twice.attrs["history"]
    pressed = frame(log([*hours[:5], *hours[4:]], [*values[:5], values[4] + 1, *values[5:]]))
    assert float(pressed["temperature"][4]) == pytest.approx(values[4] + 0.5, abs=0.01)
    assert "two readings at the same time averaged, 1 times" in pressed.attrs["history"]
    assert "2 blank readings left out" in frame(FORMS["blank readings"]).attrs["history"]


# --- its clock ----------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("zone", "span", "winter"),
    [
        (ROME, ("2026-10-24 12:00", "2026-10-25 12:00"), 1),
        (ROME, ("2026-03-28 12:00", "2026-03-29 12:00"), 1),
        (ROME, ("2026-07-01 12:00", "2026-07-02 12:00"), 1),
        ("Australia/Hobart", ("2026-04-04 06:00", "2026-04-05 06:00"), 10),
        ("America/New_York", ("2026-11-01 00:00", "2026-11-02 00:00"), -5),
        ("UTC", ("2026-11-01 00:00", "2026-11-02 00:00"), 0),
        ("Europe/London", ("2026-10-24 12:00", "2026-10-25 12:00"), 0),
    ],
)
@pytest.mark.parametrize("step", ["10min", "30min", "1h"])
@pytest.mark.parametrize("newest_first", [False, True])
def test_a_clock_set_by_summer_time_becomes_winter_time(
    frame, zone, span, winter, step, newest_first
):
    there = pd.date_range(*span, freq=step, tz="UTC")
    shown = there.tz_convert(zone).tz_localize(None)
    order = slice(None, None, -1) if newest_first else slice(None)
    logger = frame(log(shown[order], wave(len(shown))[order]), zone=zone)
    expected = (there.tz_localize(None) + winter * HOUR).astype("datetime64[s]")
    npt.assert_array_equal(logger["time"], expected)
    npt.assert_allclose(logger["temperature"], wave(len(shown)), atol=0.006)
    assert logger.attrs["zone"] == f"winter time of {zone}"


def test_offsets_in_the_times_are_kept(frame):
    text = "time,temp\n2026-10-25T02:30+02:00,7\n2026-10-25T02:30+01:00,6\n2026-10-25T02:00Z,5\n"
    logger = frame(text, zone=ROME)
    expected = ["2026-10-25T01:30:00", "2026-10-25T02:30:00", "2026-10-25T03:00:00"]
    npt.assert_array_equal(logger["time"].values.astype(str), expected)
    with pytest.raises(RecordError, match=r"offset from universal time.*zone='Europe/Rome'"):
        frame(text)
    with pytest.raises(
        RecordError, match="times cannot be read, 1 in all: line 3 '2026-10-25 02:30'"
    ):
        frame(text.replace("2026-10-25T02:30+01:00", "2026-10-25 02:30"), zone=ROME)


def test_an_unnamed_change_from_summer_time_is_explained(frame):
    there = pd.date_range("2026-10-24 12:00", "2026-10-25 12:00", freq="10min", tz="UTC")
    shown = there.tz_convert(ROME).tz_localize(None)
    match = r"line 80: the clock goes back by an hour, to 2026-10-25 02:00.*zone='Europe/Rome'"
    with pytest.raises(RecordError, match=match):
        frame(log(shown, wave(len(shown))))


def test_a_clock_that_was_never_set_to_summer_time_is_told(frame):
    hours = pd.date_range("2026-03-28", "2026-03-30", freq="h")
    with pytest.raises(RecordError, match=r"line 28: .*02:00:00 did not exist in Europe/Rome.*out"):
        frame(log(hours, wave(len(hours))), zone=ROME)


@pytest.mark.parametrize("step", ["10min", "30min", "1h"])
def test_a_clock_that_ran_evenly_through_the_end_of_summer_time_is_told(frame, step):
    there = pd.date_range("2026-10-20", "2026-10-30", freq=step)
    with pytest.raises(
        RecordError, match=r"02:00:00 occurs once.*Europe/Rome showed it twice.*out"
    ):
        frame(log(there, wave(len(there))), zone=ROME)
    # A gap over that hour proves nothing.
    hole = (there < "2026-10-25 01:00") | (there > "2026-10-25 04:00")
    assert frame(log(there[hole], wave(hole.sum())), zone=ROME).attrs["utc_offset_h"] == 1


def test_a_summer_without_a_change_of_clocks_says_what_was_taken(frame):
    doubt = "taken as set to the summer time of Europe/Rome, an hour ahead"
    summer = pd.date_range("2026-05-01", "2026-06-30", freq="h")
    logger = frame(log(summer, wave(len(summer))), zone=ROME)
    assert doubt in logger.attrs["history"]
    assert str(logger["time"].values[0]) == "2026-04-30T23:00:00"
    winter = pd.date_range("2026-01-01", "2026-02-28", freq="h")
    assert doubt not in frame(log(winter, wave(len(winter))), zone=ROME).attrs["history"]
    assert doubt not in frame(log(summer, wave(len(summer)))).attrs["history"]


@pytest.mark.parametrize("together", ["one after the other", "row by row"])
def test_two_loggers_in_one_file_are_refused(frame, together):
    hours = pd.date_range("2026-03-01", periods=48, freq="h")
    one, other = wave(48), wave(48) + 2
    if together == "row by row":
        text = log(np.repeat(hours, 2), np.stack([one, other], axis=1).ravel())
    else:
        text = log([*hours, *hours], [*one, *other])
    with pytest.raises(RecordError, match=r"two clocks or two loggers.*48 times.*its own file"):
        frame(text)


def test_a_clock_set_back_is_refused_by_its_line(frame):
    late = pd.date_range("2026-03-02", periods=5, freq="h")
    early = pd.date_range("2026-03-01", periods=5, freq="h")
    with pytest.raises(
        RecordError, match=r"line 7: the clock goes back to 2026-03-01.*wrong order"
    ):
        frame(log([*late, *early], wave(10)))


# --- what is refused ----------------------------------------------------------------------

HEAD = "time,temperature\n"


@pytest.mark.parametrize(
    ("text", "match"),
    [
        ("", "is empty"),
        ("# only a remark\n", "is empty"),
        ("a,b\n1,2\n", r"no header with 'time' and 'temperature'.*begins with 'a,b'.*columns="),
        (HEAD, "has no readings"),
        (HEAD + "2026-01-01 00:00,\n", "has no readings"),
        (
            HEAD + "2026-01-01 00:00,warm\n",
            "temperatures are not numbers, 1 in all: line 2 'warm'. Correct",
        ),
        (
            HEAD + "2026-02-30 00:00,5\n",
            "times cannot be read, 1 in all: line 2 '2026-02-30 00:00'.*dates=",
        ),
        (
            HEAD + "04/05/2026 10:00,5\n",
            "times cannot be read, 1 in all: line 2 '04/05/2026.*dates=",
        ),
        (HEAD + "0026-04-05 10:00,5\n", "times cannot be read, 1 in all"),
        (HEAD + "2026-01-01 00:00,5,5\n", "line 2 has 3.*semicolons"),
        (HEAD + "2026-01-01 00:00,72\n2026-01-01 01:00,5\n", "line 2: 72.0 degC.*units='F'"),
        (HEAD + "2026-01-01 00:00,45\n2026-01-01 01:00,44\n", r"line 2: 45\.0 degC.*units='F'"),
        ("time,temp F\n2026-01-01 00:00,-90\n", "line 2: -67.8 degC.*Are they degC after all"),
        (HEAD + "2026-01-01,5\n2026-01-02,6\n2026-01-03,6\n", "reading a day.*read_daily"),
        ("time,temp in,temp out\n", r"may be any of .*'temp in', 'temp out'.*'temp in'\}"),
        ("time,time,temp\n", "the time may be any of the columns 'time', 'time'"),
        (b"\xff\xfet\0i\0m\0e\0", "not plain text in UTF-8"),
    ],
)
def test_a_file_that_cannot_be_used_teaches(frame, text, match):
    with pytest.raises(RecordError, match=r"(?s)frame\.csv.*" + match):
        frame(text)


@pytest.mark.parametrize(
    ("options", "match"),
    [
        ({"units": "K"}, "units must be one of C, F; got 'K'"),
        ({"zone": "Europe/Pellbrook"}, "not an IANA time zone. Give one such as 'Europe/Rome'"),
        ({"dates": "%Q"}, r"dates='%Q' is not a format of times: .*'%d/%m/%Y %H:%M'"),
        ({"columns": {"warmth": "t"}}, "must be one of time, temperature; got 'warmth'"),
        ({"columns": {"temperature": "Inside"}}, "no header with 'time' and 'Inside'"),
    ],
)
def test_an_option_that_is_not_allowed_teaches(frame, options, match):
    with pytest.raises(ValueError, match=match):
        frame(FORMS["iso"], **options)


def test_units_must_agree_with_the_head(frame):
    with pytest.raises(
        RecordError, match="has the header 'temp_f' for its temperatures, but units='C'"
    ):
        frame(FORMS["fahrenheit"], units="C")


junk = st.binary(max_size=200)
cells = st.one_of(
    st.datetimes().map(str),
    st.floats().map(str),
    st.text(max_size=8),
    st.sampled_from(["2026-10-25 02:30", "2026-10-25 02:00", "2026-03-29 02:30", "5", '"', "#"]),
)
tables = st.lists(st.lists(cells, min_size=1, max_size=3), max_size=8)


@settings(suppress_health_check=[HealthCheck.function_scoped_fixture], max_examples=150)
@given(raw=junk, rows=tables, mark=st.sampled_from(",;\t"), zone=st.sampled_from([None, ROME]))
def test_whatever_the_file_holds_it_reads_or_teaches(frame, raw, rows, mark, zone):
    body = "\n".join(mark.join(row) for row in rows)
    for text in (raw, mark.join(["time", "temp"]).encode() + b"\n" + body.encode() + b"\n" + raw):
        try:
            logger = frame(text, zone=zone)
        except RecordError:
            continue
        time = logger["time"].values
        assert (np.diff(time) > np.timedelta64(0, "s")).all()
        assert np.isfinite(logger["temperature"]).all()


@pytest.mark.parametrize(
    ("told", "advice"),
    [
        (lambda degc: 1.8 * degc + 32, "Are they degF?"),
        (lambda degc: degc + 273.15, "Are they kelvin? Then take 273.15 off."),
        (lambda degc: 10 * degc, "Are they tenths of a degree? Then divide them by ten."),
        (lambda degc: np.where(np.arange(degc.size) % 60 == 3, 85.0, degc), ""),  # a sensor's code
        (lambda degc: np.where(np.arange(degc.size) % 60 == 3, -127.0, degc), ""),
    ],
)
def test_readings_that_cannot_be_are_told_with_the_unit_that_could(frame, told, advice):
    times = pd.date_range("2026-03-01", periods=24 * 30, freq="h")
    degc = 16 + 8 * np.sin(np.arange(times.size) * np.pi / 12)
    with pytest.raises(RecordError, match="degC when read as degC") as caught:
        frame(log(times, told(degc)))
    said = str(caught.value)
    assert re.findall(r"Are they [^?]*\?", said) == re.findall(r"Are they [^?]*\?", advice)
    assert advice in said
    assert said.endswith("If the sensor failed, blank its readings.")


@pytest.mark.parametrize(
    ("file", "name"),
    [
        ("frame_logger.csv", "frame"),
        ("cold-frame.csv", "cold frame"),
        ("tunnel 2.csv", "tunnel 2"),
        ("greenhouse_2026-03-01.csv", "greenhouse"),
        ("Temperature Data (frame).csv", "frame"),
        ("export (3).csv", "covered space"),
        ("TT-20481.csv", "covered space"),
        ("20481.csv", "covered space"),
        ("log.csv", "covered space"),
    ],
)
def test_a_space_has_the_name_of_its_file_without_dates_and_what_every_log_is_called(file, name):
    assert space_name(Path(file)) == name
