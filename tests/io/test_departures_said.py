"""What is said of a record or a logger that is wrong in a known way, and in the opposite way."""

import datetime as dt
import re

import numpy as np
import pandas as pd
import pytest
import xarray as xr
from records import weather

from climwin.io.logger_plausibility import (
    departures_from_outdoors,
    logger_departures,
    refuse_against_outdoors,
    refuse_logger,
)
from climwin.io.plausibility import departures, refuse_departures

YEARS = 12  # 1999 to 2010

AT_MOST = r"\b(at most|or fewer|or less|no more than|no .* more than)\b"
AT_LEAST = r"\b(at least|or more)\b"
USUAL = {
    "no mean": ((24, 20), r"half-way, within"),
    "no range": ((1, 100), r"happens on 1 day in 100 or fewer"),
    "small range": ((6.0, 3.5), r"or more; small islands .* differ more"),
    "range of years": ((0.8, 1.6), "within"),
    "wide range": ((20.0,), AT_MOST),
    "few days": ((28, 20), "or more, .* from 20 on"),
    "same range": ((15,), AT_MOST),
    "mixed days": ((0.5,), "less than"),
    "unrelated": ((0.25, 0.75), " to "),
    "alike": ((0.7,), AT_MOST),
    "level": ((1.0, 3.5), AT_MOST),
    "turn of the year": ((), r"at most two to three weeks"),
    "size": ((0.7, 1.5), "within"),
    "stations in turns": ((2,), "chance"),
    "rough year": ((1,), "usual"),
    "quiet": ((1.0,), "near the equator"),
    "shuffled": ((0.4, 0.7), " to "),
    "smooth": ((0.6, 3.7), " to "),
    "jumps": ((1, 250), r"is 1 day in 250 or fewer"),
    "carried forward": ((7,), AT_MOST),
    "cut off": ((1, 1000), "usual"),
    "cut at zero": ((), r"at least a third of the first"),
    "set aside": ((1, 1000), "at most 1 day in"),
}
"""What sound records show, and on which side: measured on them (`tests/quality`), or by definition.
"""
WHERE_USUAL = (
    r"(?i)\b(elsewhere|in a daily record"
    r"|at one place|years of one place|usual:|even far inland|chance gives"
    r"|near the equator|1 day in 1000|in sound records|a mean of|weather moves)"
)
CAUSES = {
    "swapped": r"two columns are swapped.*put them right",
    "mean outside": r"which column is the mean, and its unit; or leave it out",
    "no mean": r"time of observation.*leave that column out.*from minimum and maximum",
    "no range": r"(?i)one column was copied into the other, or both are the mean",
    "small range": r"in soil, in water or indoors, or one of the two.*air temperature outdoors",
    "range of years": r"(?i)one of the two .* a mean there, or of another hour of the day.*both",
    "wide range": r"(?i)one of the two columns .* another unit, or of another place: check both",
    "few days": r"may have been colder or warmer than any .* get the record of every day",
    "same range": r"(?i)one of the two was derived from the other.*as it was measured",
    "out of step": r"two columns are out of step",
    "unrelated": r"(?i)(two places or two years: .* from|one column .* another place or year)",
    "mixed days": r"two places may be mixed there.*get the record as it was measured",
    "a day late": r"(?i)freezes keep their dates; sums .* day off",
    "a day early": r"(?i)one of the two columns is a row out: join them by date again",
    "a day out": r"(?i)freezes keep their dates; sums .* day off",
    "alike": r"(?i)one of the two .* derived from the other, .* in soil, water or a room: .*both",
    "level": r"(all years in one unit before|another place or thermometer)",
    "stations in turns": r"(?i)two stations .* keep one",
    "month's level": r"unit or the sign",
    "size": r"unit, the place or the order of days",
    "turn of the year": r"dates .* shifted there, or the months are out of order",
    "rough year": r"(?i)day and month .* swapped",
    "quiet": r"ten times too small, or smoothed",
    "no summer": r"from Fahrenheit twice",
    "latitude": r"place, the height or the unit .* latitude first",
    "hemisphere": r"lost its sign, or the dates are half a year off.*both",
    "shuffled": r"out of order, or the values invented",
    "alternates": r"two stations .* keep one",
    "smooth": r"smoothed, means of months, or ten times too small",
    "jumps": r"(?i)units, places or dates",
    "straight line": r"line: leave those days empty",
    "carried forward": r"with the last value: leave those days empty",
    "copied years": r"(?i)each year once, .* others empty",
    "copied months": r"(?i)each once, .* other empty",
    "coarse": r"rounded",
    "frequent value": r"stand for missing days",
    "cut at zero": r"(?i)minus signs are missing, or frost was left out",
    "cut off": r"beyond was cut off",
    "no frost": r"(?i)minus signs are missing, or frost was cut off",
    "set aside": r"coldest or the warmest days",
    "future": r"leave out what is a forecast",
}
"""What may have caused each, and what to do about it."""


def sound(**given):
    return weather(8, **{"years": YEARS} | given)


def changed(change, names=("tmin",), year=None, month=None, record=None):
    """A record in which some variables are changed, in one year or one month alone."""
    record = (sound() if record is None else record).copy(deep=True)
    time = record["time"].dt
    where = np.full(record.sizes["time"], True)
    if year is not None:
        where &= np.isin(time.year.values, year)
    if month is not None:
        where &= time.month.values == month
    for name in names:
        values = record[name].values
        values[where] = change(values[where])
    if "tmean" not in names and "derived_from" not in record["tmean"].attrs:
        record["tmean"].values[:] = (record["tmin"].values + record["tmax"].values) / 2
    return record.drop_vars("tmean")


def said(record, test, variable=None):
    """The one departure by a test, in words."""
    found = [each for each in departures(record) if each.test == test]
    found = [each for each in found if variable in (None, each.variable)]
    assert len(found) == 1, [each.test for each in departures(record)]
    assert re.search(CAUSES[test], found[0].advice)
    text = found[0].text()
    # Of single years that are unrelated, the other years are what is usual.
    if test in USUAL and not (test == "unrelated" and found[0].years):
        numbers, side = USUAL[test]
        usual = re.split(WHERE_USUAL, found[0].evidence(), maxsplit=1)[1:]
        assert tuple(map(float, re.findall(r"\d+(?:\.\d+)?", "".join(usual)))) == numbers
        assert re.search(side, "".join(usual))
    return text


def degrees(text):
    return [float(each) for each in re.findall(r"(\d+(?:\.\d)?) °C", text)]


# --- years and months against each other --------------------------------------------------


@pytest.mark.parametrize(("off", "side", "other"), [(9, "above", "below"), (-9, "below", "above")])
@pytest.mark.parametrize(("name", "words"), [("tmin", "the minimum"), ("tmax", "the maximum")])
def test_a_year_lies_above_or_below_the_others_by_what_was_added(off, side, other, name, words):
    text = said(changed(lambda v: v + off, (name,), 2005), "level", name)
    assert re.match(rf"In 2005 {words} lies \d+\.\d °C {side} that of the other years", text)
    assert degrees(text)[0] == pytest.approx(9, abs=1.5)
    assert other not in text


@pytest.mark.parametrize(
    ("change", "words"),
    [
        (lambda v: v * 1.8 + 32, "degF stand there among degC"),
        (lambda v: v * 10, "they are ten times too large there"),
        (lambda v: v / 10, "they are ten times too small there"),
        (lambda v: v + 273.15, "kelvin stand there among degC"),
        (lambda v: -v, "the sign is lost there"),
    ],
)
def test_what_happened_to_a_years_unit_is_named(change, words):
    text = said(changed(change, year=2005), "level", "tmin")
    assert words in text
    assert "one unit" in text


def test_degrees_celsius_among_fahrenheit_are_the_other_way_round():
    record = changed(lambda v: v * 1.8 + 32, ("tmin", "tmax"))
    text = said(
        changed(lambda v: (v - 32) / 1.8, year=2005, record=record.assign(tmean=record["tmin"])),
        "level",
        "tmin",
    )
    assert "degC stand there among degF" in text


@pytest.mark.parametrize(
    ("off", "side", "other"), [(22, "above", "below"), (-22, "below", "above")]
)
def test_a_month_lies_above_or_below_the_same_month(off, side, other):
    text = said(changed(lambda v: v + off, year=2005, month=3), "month's level")
    assert text.startswith("The minimum of Mar 2005 lies up to ")
    assert f"{side} the same month of the other years" in text
    assert other not in text
    assert degrees(text)[0] == pytest.approx(22, abs=4)


@pytest.mark.parametrize(("months", "told"), [(4, ""), (5, " and 1 more month")])
def test_of_many_months_four_are_named_and_the_others_counted(months, told):
    years = list(range(2003, 2003 + months))
    text = said(
        changed(lambda v: v + 22, year=years, month=3, record=sound(years=18)), "month's level"
    )
    named = ", ".join(f"Mar {year}" for year in years[:4])
    assert text.startswith(f"The minimum of {named}{told} lies up to ")


@pytest.mark.parametrize(
    ("days", "way", "other"), [(60, "later", "earlier"), (-60, "earlier", "later")]
)
def test_a_year_whose_dates_are_late_turns_late(days, way, other):
    record = changed(lambda v: np.roll(v, days), ("tmin",), 2005, record=sound(spells=1.0))
    text = said(record, "turn of the year", "tmin")
    shift = int(
        re.search(rf"in 2005 the year of the minimum turns (\d+) days {way}", text, re.I)[1]
    )
    assert shift == pytest.approx(60, abs=15)
    assert other not in text


def test_years_of_two_stations_go_up_and_down():
    odd = [year for year in range(1999, 2015) if year % 2]
    record = changed(lambda v: v + 3, ("tmin",), odd, record=sound(years=16))
    text = said(record, "stations in turns", "tmin")
    assert "years of the minimum alternate between high and low" in text
    assert degrees(text)[0] == pytest.approx(3, abs=1)
    assert "keep one" in text


def test_spells_that_are_larger_in_one_year_are_so_many_times_as_large():
    def widened(values):
        smooth = pd.Series(values).rolling(31, center=True, min_periods=1).mean().to_numpy()
        return smooth + 3 * (values - smooth)

    text = said(changed(widened, year=2005), "size", "tmin")
    assert re.match("In 2005 the minimum varies unlike other years: its spells are", text)
    times = float(re.search(r"are (\d+\.\d) times as large", text)[1])
    assert times == pytest.approx(3, abs=0.8)  # the widest days are set aside


# --- against the place --------------------------------------------------------------------


@pytest.mark.parametrize(
    ("coldest", "latitude", "side", "warm", "expected"),
    [(202, 45.0, "north", "Jan", "Jul"), (20, -45.0, "south", "Jul", "Jan")],
)
def test_the_wrong_half_of_the_world_is_named(coldest, latitude, side, warm, expected):
    text = said(sound(coldest=coldest).assign_attrs(latitude=latitude), "hemisphere")
    assert re.search(rf"warmest about \d+ {warm}, but the place lies in the {side}", text)
    assert re.search(rf"where that is about \d+ {expected}", text)


def test_a_year_too_warm_for_its_latitude_is_told_with_its_bounds():
    text = said(sound(mean=24.0).assign_attrs(latitude=60.0), "latitude")
    mean, coldest, warmest = (
        float(each.replace("\N{MINUS SIGN}", "-"))
        for each in re.findall(r"(\N{MINUS SIGN}?\d+) °C", text)
    )
    assert mean == pytest.approx(24, abs=1)
    assert coldest < warmest < mean
    assert "no place at 60 degrees of latitude has" in text


def test_a_record_without_weather_is_smaller_than_anywhere():
    record = changed(lambda v: v / 10, ("tmin", "tmax"))
    text = said(record, "quiet")
    assert "warm and cold spells of the minimum are smaller than anywhere on land" in text
    assert "ten times too small" in text


# --- day by day ---------------------------------------------------------------------------


def test_days_out_of_order_have_little_to_do_with_the_day_before():
    rng, record = np.random.default_rng(1), sound()
    for month in range(1, 13):
        record = changed(
            rng.permutation, ("tmin",), 2005, month, record.assign(tmean=record["tmin"])
        )
    text = said(record, "shuffled", "tmin")
    assert text.startswith("In 2005 the minimum of a day has little to do with that of the day bef")
    shown = re.search(r"correlation (\S+); elsewhere on land 0\.4 to 0\.7", text)[1]
    assert abs(float(shown.replace("\N{MINUS SIGN}", "-"))) < 0.2
    assert "out of order" in text


def test_two_stations_by_turns_of_days_lie_apart_by_what_was_added():
    def alternating(values):
        return values + 5.0 * (np.arange(len(values)) % 2)

    text = said(changed(alternating, year=[2004, 2005]), "alternates", "tmin")
    assert "Weather does not alternate like this" in text
    assert text.startswith("In 2004 to 2005 the minimum of every other day differs by ")
    assert degrees(text)[0] == pytest.approx(5, abs=1)
    assert "from that of the days between" in text


def test_a_smoothed_year_hardly_changes_from_day_to_day():
    def smoothed(values):
        return pd.Series(values).rolling(21, center=True, min_periods=1).mean().to_numpy()

    text = said(changed(smoothed, year=2005), "smooth", "tmin")
    shown, low, high = degrees(text)
    assert text.startswith("In 2005 the minimum changes by ")
    assert shown < low < high
    assert "from day to day" in text


def test_jumps_are_counted_from_one_day_to_the_next():
    def jumping(values):
        out = values.copy()
        out[5::10] += 24.0
        return out

    record = changed(jumping, ("tmin", "tmax"), 2005)
    text = said(record, "jumps", "tmin")
    count, days = re.search(r"from one day to the next on (\d+) of (\d+) days", text).groups()
    assert text.startswith("In 2005 the minimum jumps by more than ")
    assert 10 < int(count) <= 2 * 37  # up and down again, but for those that are set aside
    assert int(days) <= 365


@pytest.mark.parametrize(("gaps", "times"), [(1, "once"), (2, "2 times")])
def test_gaps_filled_by_a_line_are_counted(gaps, times):
    def filled(values):
        out = values.copy()
        for gap in range(gaps):
            begin = 40 + 120 * gap
            out[begin : begin + 25] = np.linspace(out[begin] - 9, out[begin] + 9, 25)
        return out

    text = said(changed(filled, ("tmin", "tmax"), 2005), "straight line")
    assert f"temperatures of 2005 follow a straight line for more than a week, {times}" in text
    assert "Weather does not" in text


def test_days_that_repeat_the_day_before_are_a_share():
    def carried(values):
        out = values.copy()
        out[1::2] = out[: len(out) // 2 * 2 : 2][: len(out[1::2])]
        return out

    text = said(changed(carried, ("tmin", "tmax"), 2005), "carried forward")
    assert re.match(r"In 2005 5\d % of the days repeat both temperatures of the day before", text)
    assert "7 % at most" in text


# --- copies and values --------------------------------------------------------------------


def test_a_copied_year_is_named_with_its_original():
    record = sound()
    year = record["time"].dt.year.values
    for name in ("tmin", "tmax"):
        record[name].values[year == 2005] = record[name].values[year == 2001]
    text = said(record.drop_vars("tmean"), "copied years")
    assert text.startswith(f"2 of {YEARS} years are copies of another: 2001 and 2005")
    assert ". Day by day 2001 and 2005 change alike (correlation 1" in text
    assert "two real years have none" in text


def test_a_copied_month_is_named_with_its_original():
    record = sound()
    year, month = record["time"].dt.year.values, record["time"].dt.month.values
    for name in ("tmin", "tmax"):
        values = record[name].values
        values[(year == 2005) & (month == 7)] = values[(year == 2001) & (month == 7)]
    text = said(record.drop_vars("tmean"), "copied months")
    assert "twice in the record: Jul 2001 and Jul 2005" in text
    assert "they are the same; two real months are not" in text


@pytest.mark.parametrize(
    ("copies", "told"), [(3, ""), (4, " and 1 more pair"), (5, " and 2 more pairs")]
)
def test_of_many_copied_months_three_are_named_and_the_others_counted(copies, told):
    record = sound()
    year, month = record["time"].dt.year.values, record["time"].dt.month.values
    for name in ("tmin", "tmax"):
        values = record[name].values
        for n in range(copies):
            of_july = month == 7
            values[(year == 2005 + n) & of_july] = values[(year == 2000 + n) & of_july]
    text = said(record.drop_vars("tmean"), "copied months")
    named = ", ".join(f"Jul {2000 + n} and Jul {2005 + n}" for n in range(3))
    assert f"twice in the record: {named}{told}. Day by day" in text


def test_a_value_that_stands_for_missing_days_is_counted():
    def padded(values):
        out = values.copy()
        out[::7] = 5.5
        return out

    text = said(changed(padded), "frequent value", "tmin")
    count = int(re.search(r"on ([\d,]+) days", text)[1].replace(",", ""))
    assert text.startswith("The minimum is 5.5 °C on")  # as it stands in the file
    assert 500 < count <= 365.25 * YEARS / 7  # those far from their neighbours are set aside
    assert "days, four times as often as any value near it." in text
    text = said(changed(padded, year=2005), "frequent value", "tmin")
    assert text.startswith("In 2005 the minimum is 5.5 °C on ")


@pytest.mark.parametrize(
    ("name", "share", "side", "sign"),
    [("tmin", 0.04, "coldest", True), ("tmax", 0.96, "warmest", False)],
)
def test_a_record_cut_off_at_one_end_is_told_at_which(name, share, side, sign):
    raw = sound()[name].values
    edge = float(np.round(np.quantile(raw, share)))
    ends = (edge, None) if side == "coldest" else (None, edge)
    text = said(changed(lambda v: np.clip(v, *ends), (name,)), "cut off", name)
    other = {"coldest": "warmest", "warmest": "coldest"}[side]
    assert f"of its {side}, " in text
    assert other not in text
    assert f"{abs(edge):.0f} °C" in text
    told = float(re.match(r"(\d+) % of all days", text)[1])
    assert 1 < told <= 8
    assert "Records thin out towards their ends: 1 day in 1000 is usual there." in text
    assert "beyond was cut off" in text
    assert ("lost its sign: look for missing minus signs, or zeros in place" in text) is sign
    assert ("cut off: look for a limit in the file" in text) is not sign


def test_frost_that_is_missing_lies_above_freezing_alone():
    cold = sound(mean=4.0)
    text = said(changed(np.abs, record=cold), "cut at zero", "tmin")
    above, below = (
        int(n.replace(",", "")) for n in re.findall(r"on ([\d,]+)(?: days|\.)", text)[:2]
    )
    assert above > 0
    assert below < above / 3
    assert re.search(
        r"lies within \S+ °C above freezing on \S+ days, and within as much below it on", text
    )
    one_year = said(changed(np.abs, year=2005, record=cold), "no frost", "tmin")
    assert one_year.startswith("In 2005 the minimum is never below freezing, though it comes near")
    usual = int(re.search(r"other years have (\d+) such days", one_year)[1])
    frosts = [(part < -0.05).sum() for _, part in cold["tmin"].groupby("time.year")]
    assert usual == pytest.approx(np.median(frosts), abs=12)


def test_a_year_that_lost_its_few_frosts_is_told_by_the_days_above_freezing():
    mild = sound(mean=11.5, swing=5.0, spells=1.5)
    frosts = np.array([(part < -0.05).sum() for _, part in mild["tmin"].groupby("time.year")])
    assert 1 <= np.median(frosts) < 25
    year = 1999 + int(frosts.argmax())
    text = said(changed(np.abs, year=year, record=mild), "no frost", "tmin")
    assert text.startswith(f"In {year} ")


# --- minimum, maximum and mean ------------------------------------------------------------


def test_columns_that_changed_places_are_told_for_their_years():
    record = sound().drop_vars("tmean")
    where = record["time"].dt.year.values == 2005
    low, high = record["tmin"].values.copy(), record["tmax"].values.copy()
    record["tmin"].values[where], record["tmax"].values[where] = high[where], low[where]
    text = said(record, "swapped")
    assert text.startswith("In 2005 the minimum lies above the maximum on most days, which no ther")


@pytest.mark.parametrize("share", [0.15, 0.85])
def test_a_mean_that_is_none_lies_so_far_from_the_minimum(share):
    record = sound()
    width = record["tmax"].values - record["tmin"].values
    record["tmean"].values[:] = record["tmin"].values + share * width
    record["tmean"].attrs.pop("derived_from", None)
    text = said(record, "no mean")
    assert f"lies {100 * share:.0f} % of the way from the minimum to the maximum" in text
    assert "about half-way" in text
    assert "time of observation" in text


def test_a_mean_that_scatters_over_its_day_is_told_by_how_much():
    record, rng = sound(), np.random.default_rng(4)
    width = record["tmax"].values - record["tmin"].values
    place = np.clip(rng.normal(0.5, 0.3, len(width)), 0.02, 0.98)
    record["tmean"].values[:] = record["tmin"].values + place * width
    record["tmean"].attrs.pop("derived_from", None)
    text = said(record, "no mean")
    half = int(re.search(r"half of its days within (\d+) % of the range", text)[1]) / 100
    expected = np.subtract(*np.quantile(place[width >= 5], [0.75, 0.25]))
    assert half == pytest.approx(expected, abs=0.02)


def test_a_mean_outside_its_day_is_counted():
    record = sound()
    record["tmean"].values[:] = (record["tmin"].values + record["tmax"].values) / 2
    record["tmean"].values[::4] = record["tmax"].values[::4] + 3
    record["tmean"].attrs.pop("derived_from", None)
    text = said(record, "mean outside")
    count, days = (int(n.replace(",", "")) for n in re.findall(r"([\d,]+) of ([\d,]+)", text)[0])
    assert count / days == pytest.approx(0.25, abs=0.01)
    assert text.startswith("The mean of the day lies outside its minimum and maximum on ")
    assert "A mean lies between them" in text


def test_a_mean_outside_its_day_in_one_year_alone_is_told_with_the_year():
    record = sound()
    record["tmean"].values[:] = (record["tmin"].values + record["tmax"].values) / 2
    record["tmean"].attrs.pop("derived_from", None)
    days = np.flatnonzero(record["time"].dt.year.values == 2005)[:320:4]
    record["tmean"].values[days] = record["tmin"].values[days] - 3
    assert said(record, "mean outside").startswith(
        f"In 2005 the mean of the day lies outside its minimum and maximum on {len(days)} of "
    )


def test_a_maximum_that_is_the_minimum_has_no_range():
    record = sound().drop_vars("tmean")
    where = (record["time"].dt.year.values == 2005) & (record["time"].dt.month.values == 6)
    record["tmax"].values[where] = record["tmin"].values[where]
    text = said(record, "no range")
    assert re.match(r"In 2005 minimum and maximum are the same on 30 of 365 days", text)


def test_a_maximum_made_from_the_minimum_lies_so_much_above_it():
    record = sound().drop_vars("tmean")
    record["tmax"].values[:] = record["tmin"].values + 9.0
    text = said(record, "same range")
    assert "the maximum lies 9.0 °C above the minimum on 100 % of the days" in text


def test_soil_has_nights_nearly_as_warm_as_days_and_days_all_alike():
    record = sound().drop_vars("tmean")
    middle = (record["tmin"].values + record["tmax"].values) / 2
    still = pd.Series(middle).rolling(41, center=True, min_periods=1).mean().to_numpy()
    half = 0.8 + np.random.default_rng(5).normal(0, 0.05, len(middle))
    record["tmin"].values[:], record["tmax"].values[:] = still - half, still + half
    text = said(record, "small range")
    width, change, usual, island = degrees(text)
    assert re.match(r"In 1999 to 2010 the maximum lies only \d\.\d °C above the minimum", text)
    assert " above the minimum on a typical day, and one day differs from the next by " in text
    assert "Elsewhere on land the first is" in text
    assert (width, change) == (pytest.approx(1.6, abs=0.1), pytest.approx(0.1, abs=0.1))
    assert width < island < usual


def test_a_year_of_another_range_is_told_beside_the_others():
    record = sound().drop_vars("tmean")
    where = record["time"].dt.year.values == 2005
    width = record["tmax"].values - record["tmin"].values
    record["tmax"].values[where] = (record["tmin"].values + width / 2)[where]
    text = said(record, "range of years")
    assert text.startswith("In 2005 the range from minimum to maximum is 0.5 times that of the oth")


def test_a_minimum_made_from_the_maximum_has_the_same_spells():
    record = sound(spells=4.0).drop_vars("tmean")
    rng = np.random.default_rng(6)
    low = record["tmax"].values - 8 + rng.normal(0, 0.6, record.sizes["time"])
    record["tmin"].values[:] = low
    text = said(record, "alike")
    assert text.startswith(
        "Warm and cold spells of the minimum and of the maximum are nearly the sa"
    )
    assert float(re.search(r"correlation (\d\.\d+);", text)[1]) > 0.85


def test_a_year_of_another_place_has_its_own_correlation_beside_that_of_all():
    record = shared().drop_vars("tmean")
    where = record["time"].dt.year.values == 2005
    other = weather(9, years=YEARS)["tmax"].values
    record["tmax"].values[where] = np.maximum(other, record["tmin"].values + 3)[where]
    text = said(record, "unrelated")
    assert text.startswith("In 2005 warm and cold spells of the minimum and of the maximum have no")
    assert "nothing to do with each other" in text
    own, every = re.search(r"correlation (\S+) or less; in all years (\S+)\)", text).groups()
    assert float(own.replace("\N{MINUS SIGN}", "-")) < 0.05 < 0.4 < float(every)


def test_degrees_converted_twice_leave_no_summer():
    twice = changed(lambda v: (v - 32) / 1.8, ("tmin", "tmax"))
    text = said(twice, "no summer")
    assert re.match(r"The warmest month, (Jul|Aug), has a mean of \N{MINUS SIGN}\d+ °C", text)
    assert "Nobody grows food outdoors in such a place" in text


def test_values_that_were_rounded_go_in_steps():
    text = said(changed(lambda v: 5 * np.round(v / 5), ("tmin",), 2005), "coarse", "tmin")
    assert text.startswith("In 2005 the minimum goes in steps of 5.0 °C")
    assert re.search(r"are read to 1\.0 °C or finer", text)


def test_days_set_aside_are_counted_and_the_years_with_most_of_them_named():
    def wild(values):
        out = values.copy()
        out[::6] = 70.0
        return out

    text = said(changed(wild, year=2005), "set aside")
    count, days = re.match(r"(\d+) of ([\d,]+) days of the minimum cannot be right", text).groups()
    assert int(count) == 61
    assert int(days.replace(",", "")) == 12 * 365 + 3
    assert "(out of range), most of them in 2005" in text


def test_dates_in_the_future_are_counted_from_the_first_to_the_last():
    record = sound().drop_vars("tmean")
    found = departures(record, dt.date(2010, 12, 20))
    [future] = [each for each in found if each.test == "future"]
    assert re.search(CAUSES["future"], future.advice)
    assert future.text().startswith("10 days lie in the future, from 2010-12-22 to 2010-12-31.")


def test_a_record_that_is_refused_for_two_reasons_lists_both():
    record = sound().drop_vars("tmean")
    where = record["time"].dt.year.values == 2005
    low, high = record["tmin"].values.copy(), record["tmax"].values.copy()
    record["tmin"].values[where], record["tmax"].values[where] = high[where], low[where]
    day = dt.date(2010, 12, 20)
    found = [each for each in departures(record, day) if each.refused]
    assert {each.test for each in found} == {"swapped", "future"}
    with pytest.raises(ValueError, match="cannot be right") as refused:
        refuse_departures("mine.csv", record, day)
    head, *reasons = str(refused.value).split("\n- ")
    assert head == "mine.csv cannot be right:"
    assert reasons == [each.text() for each in found]


def rainy(unit=1.0, year=None):
    """Rain on every third day, 6 mm on average, in another unit in one year or in all."""
    record = sound().drop_vars("tmean")
    rng = np.random.default_rng(3)
    count = record.sizes["time"]
    mm = np.where(rng.random(count) < 1 / 3, rng.gamma(0.8, 7.5, count), 0)
    in_unit = np.full(count, year is None) | (record["time"].dt.year.values == year)
    return record.assign(precip=("time", np.where(in_unit, mm * unit, mm), {"units": "mm"}))


@pytest.mark.parametrize("unit", [1 / 25.4, 10.0])
def test_rain_in_inches_or_tenths_is_told_by_its_wet_days(unit):
    record = rainy(unit)
    [found] = [each for each in departures(record) if each.test == "rain"]
    told = float(re.match(r"A day with rain brings (\S+) mm, on average", found.text())[1])
    mm = record["precip"].values
    assert told == pytest.approx(mm[mm > 0].mean(), rel=0.05)
    assert not 2 <= told <= 20
    assert "on land it brings 2 to 20 mm" in found.text()
    assert re.search("in inches or in tenths of a millimetre", found.advice)


@pytest.mark.parametrize("unit", [1 / 25.4, 25.4])
def test_rain_in_another_unit_in_one_year_is_told_with_the_year(unit):
    [found] = [each for each in departures(rainy(unit, year=2004)) if each.test == "rain"]
    assert found.years == (2004,)
    times = float(re.match(r"A day with rain in 2004 brings (\S+) times as much", found.text())[1])
    assert times == pytest.approx(unit, rel=0.3)


def test_rain_of_any_sound_place_is_not_doubted():
    for wetter in (0.3, 1.0, 3.0):  # a dry place, a usual one, and a very wet one
        assert not [each for each in departures(rainy(wetter)) if each.test == "rain"]


@pytest.mark.parametrize(
    ("days", "way", "other"), [(6, "earlier", "later"), (-6, "later", "earlier")]
)
def test_a_maximum_out_of_step_goes_with_the_night_that_it_belongs_to(days, way, other):
    """A maximum that stands six rows too late belongs to the minimum of six days before."""
    record = changed(lambda v: np.roll(v, days), ("tmax",), record=shared())
    text = said(record, "out of step")
    assert f"he maximum matches the minimum of 6 days {way}" in text
    assert re.search(r"belong to the same day, or to the next", text)
    assert f"6 days {other}" not in text
    best, itself = re.search(r"correlation (\S+), on the day itself (\S+)\)", text).groups()
    assert float(best) > float(itself.replace("\N{MINUS SIGN}", "-"))


def test_a_maximum_far_above_the_minimum_is_told_with_its_years():
    record = changed(lambda v: v + 15, ("tmax",), year=[2003, 2004])
    text = said(record, "wide range")
    assert text.startswith("In 2003 to 2004 the maximum lies 25.")
    assert " above the minimum on a typical day" in text


def test_a_record_of_one_day_a_week_is_told():
    record = sound().isel(time=slice(None, None, 7))
    text = said(record.drop_vars("tmean"), "few days")
    assert text.startswith("A month has 4 values of the minimum, at the median.")
    assert "The same is true of the maximum" in text


@pytest.mark.parametrize(("year", "where"), [(None, "Minimum"), (2005, "In 2005 minimum")])
def test_days_of_two_places_rise_and_fall_with_no_day_beside_them(year, where):
    """Of each day it is drawn which of two places it is of, one 9 degC warmer."""
    record = sound().drop_vars("tmean")
    rng, time = np.random.default_rng(11), record["time"].dt.year.values
    warmer = 9.0 * rng.integers(0, 2, len(time)) * ((time == year) | (year is None))
    record["tmin"].values[:] += warmer
    record["tmax"].values[:] += warmer
    text = said(record, "mixed days")
    assert "one of the two may be no extreme, or the values may be made up: get" in text
    assert text.startswith(
        f"{where} and maximum of a day rise and fall together, and not with the days beside it "
        "(correlation higher by "
    )
    low, high = (np.diff(record[name].values[time == 2005]) for name in ("tmin", "tmax"))
    pairs = ((low, high), (low[1:], high[:-1]), (low[:-1], high[1:]))
    of_day, before, after = (np.corrcoef(*pair)[0, 1] for pair in pairs)
    told = float(re.search(r"higher by (\S+);", text)[1])
    assert told == pytest.approx(of_day - (before + after), abs=0.2)


ABOUT = "a night is about as warm as the maximum of"
COLDER = "A night is colder than the day before it and the day after it, so the row "


def test_a_maximum_that_stands_a_day_late_is_in_the_row_below():
    record = changed(lambda v: np.roll(v, 1), ("tmax",), record=shared())
    text = said(record, "a day late")
    assert text.startswith(f"The maximum seems to be a day late: {ABOUT} the row above it")
    assert COLDER in text
    above, below = re.search(
        r"the row above it on (\d+) days, and as that of the row below it on (\d+)", text
    ).groups()
    assert int(above) > int(below)
    assert "the row below holds the day before" in text


def test_days_and_months_that_changed_places_make_the_usual_year_jump():
    """Dates up to the 12th of a month can be read either way."""
    record = sound(mean=9.0)
    time = record["time"].to_index()
    either = time[time.day <= 12]
    turned = pd.to_datetime({"year": either.year, "month": either.day, "day": either.month})
    for name in ("tmin", "tmax"):
        record[name].loc[{"time": either}] = record[name].sel(time=turned.values).values
    text = said(record.drop_vars("tmean"), "rough year", "tmin")
    assert "the usual year of the minimum jumps from date to date" in text.lower()
    by = degrees(text)[0]
    assert by > 1
    times = int(re.search(r"(\d+) times what the weather of 12 years would leave", text)[1])
    assert times > 1  # as in a sound record


def test_a_maximum_that_stands_a_day_early_is_in_the_row_above():
    record = changed(lambda v: np.roll(v, -1), ("tmax",), record=shared())
    text = said(record, "a day early")
    assert text.startswith(f"The maximum seems to be a day early: {ABOUT} its own row")
    assert COLDER in text
    own, above = re.search(
        r"of its own row on (\d+) days, and as that of the row above it on (\d+)", text
    ).groups()
    assert int(own) > int(above)
    assert "the row above holds the day that follows" in text


@pytest.mark.parametrize(("days", "way", "other"), [(1, "late", "early"), (-1, "early", "late")])
def test_years_with_the_maximum_a_day_out_are_named(days, way, other):
    record = shared(years=24)
    last = record["time"].dt.year.values > int(record["time"].dt.year[-1]) - 8
    moved = np.where(last, np.roll(record["tmax"].values, days), record["tmax"].values)
    record["tmax"].values[:] = moved
    text = said(record, "a day out")
    years = np.unique(record["time"].dt.year.values[last])
    assert f"In {years[0]} to {years[-1]} the maximum seems to be a day {way}" in text
    assert f"in the others a day {other}" in text
    there, usual = re.search(
        r"the correlation of a night with the maximum of the row below, less that with the row "
        r"above, is (\S+) there and (\S+) in all years",
        text,
    ).groups()
    there, usual = (float(each.replace("\N{MINUS SIGN}", "-")) for each in (there, usual))
    assert abs(there) > abs(usual)
    assert (there > usual) is (days > 0)


def shared(years=YEARS):
    """A record whose nights and days share their spells, as those of real places do."""
    record = sound(years=years)
    middle = (record["tmin"].values + record["tmax"].values) / 2
    rng = np.random.default_rng(2)
    record["tmin"].values[:] = middle - 5 + rng.normal(0, 1.5, len(middle))
    record["tmax"].values[:] = middle + 5 + rng.normal(0, 1.5, len(middle))
    return record


def test_a_maximum_of_another_place_has_nothing_to_do_with_the_minimum():
    record = shared()
    other = weather(9, years=YEARS)
    record["tmax"].values[:] = np.maximum(other["tmax"].values, record["tmin"].values + 3)
    text = said(record.drop_vars("tmean"), "unrelated")
    both = "arm and cold spells of the minimum and of the maximum"
    assert f"{both} have nothing to do with each other (correlation " in text
    assert "two places or two years" in text


# --- loggers ------------------------------------------------------------------------------


def logged(change=None, days=30):
    """A logger in an unheated frame: 12 degC about, warmest in the afternoon."""
    time = np.datetime64("2010-03-01") + np.arange(24 * days) * np.timedelta64(1, "h")
    hour = np.arange(24 * days)
    rng = np.random.default_rng(0)
    values = 12 + 6 * np.cos(2 * np.pi * (hour % 24 - 14) / 24) + rng.normal(0, 0.3, len(hour))
    values = values if change is None else change(values)
    readings = {"temperature": ("time", values, {"units": "degC"})}
    return xr.Dataset(readings, {"time": time.astype("datetime64[s]")})


CAUSES_OF_LOGGER = {
    "stuck": r"stuck: blank",
    "sparse": r"an hour or less",
    "zeros": r"stand for missing readings: blank",
    "spikes": r"loose contact",
    "two units": r"unit was changed midway, or a heater",
    "unit F": r"degF read as degC",
    "too cold": r"unit, place or year does not match",
    "sun": r"in the sun: shade it",
    "slope": r"unit, its clock or the outdoor record does not match",
    "dates": r"dates are off",
    "capped": r"lay above was cut off, so it was hotter than this shows: check the sensor's range",
    "carried first": r"lain indoors then: leave those days out",
    "carried last": r"lain indoors then: leave those days out",
    "buried": r"in soil or water, or the readings are means of a day: check both",
    "elsewhere": r"of another place, or the logger's dates of another year: check both",
}


def said_of_logger(logger, test):
    [found] = [each for each in logger_departures(logger) if each.test == test]
    assert re.search(CAUSES_OF_LOGGER[test], found.advice)
    return found.text()


def said_beside(inside, outdoors, test):
    [found] = [each for each in departures_from_outdoors(inside, outdoors) if each.test == test]
    assert re.search(CAUSES_OF_LOGGER[test], found.advice)
    return found.text()


def test_a_stuck_sensor_is_told_with_its_value_its_hours_and_its_time():
    def stuck(values):
        values[100:201] = 9.5
        return values

    text = said_of_logger(logged(stuck), "stuck")
    hours = int(re.search(r"for (\d+) hours from 2010-03-05 04:00 on", text)[1])
    assert hours == 100
    assert "it shows 10 °C" in text or "It shows 10 °C" in text
    assert "without a change" in text


def test_readings_hours_apart_miss_the_extremes_of_both_ends():
    text = said_of_logger(logged().isel(time=slice(None, None, 6)), "sparse")
    assert "every 6 hours" in text
    assert "misses the coldest and hottest moments" in text
    assert "Nights are colder and days hotter than it shows" in text


def test_zeros_and_spikes_are_counted_and_the_first_is_dated():
    def zeros(values):
        values[50:250:40] = 0.0
        return values

    def spikes(values):
        values[50:650:20] += 25.0
        return values

    text = said_of_logger(logged(zeros), "zeros")
    assert text.startswith("5 readings are exactly zero among readings 5.0 °C or more away")
    assert "the first at 2010-03-03 02:00" in text
    text = said_of_logger(logged(spikes), "spikes")
    assert text.startswith(
        "30 of 720 readings lie more than 8.0 °C above or below both the one bef"
    )
    assert "both the one before and the one after, the first at 2010-03-03 02:00" in text


@pytest.mark.parametrize(
    ("low", "high", "test", "words"),
    [
        (30.0, 2.0, "unit F", r"nights are \d+\.\d °C warmer than outdoors.*degF read as degC"),
        (-9.0, -7.0, "too cold", r"colder than outdoors by night and by day, by 9\.0 °C and 7\.0"),
        (2.0, 45.0, "sun", r"days are 45\.0 °C hotter than outdoors.*in the sun: shade it"),
    ],
)
def test_a_logger_is_too_warm_by_night_too_cold_or_in_the_sun(low, high, test, words):
    outdoors = weather(8, years=1)[["tmin", "tmax"]].isel(time=slice(60, 100))
    inside = outdoors.copy(deep=True)
    inside["tmin"].values[:] += low
    inside["tmax"].values[:] += high
    assert re.search(words, said_beside(inside, outdoors, test))


@pytest.mark.parametrize(
    ("days", "way", "other"), [(3, "later", "earlier"), (-3, "earlier", "later")]
)
def test_a_calendar_that_is_off_goes_with_nights_later_or_earlier(days, way, other):
    """Readings dated three days too early belong to nights three days later than they say."""
    outdoors = weather(8, years=1)[["tmin", "tmax"]].isel(time=slice(60, 160))
    inside = outdoors + 2.0
    inside = inside.assign_coords(time=inside["time"].values - np.timedelta64(days, "D"))
    text = said_beside(inside, outdoors, "dates")
    assert f"match those outdoors 3 days {way}" in text
    assert other not in text
    best, own = re.search(r"correlation (\S+), on its own dates (\S+)\)", text).groups()
    assert float(best) == 1
    assert float(own.replace("\N{MINUS SIGN}", "-")) < 0.85


def test_a_space_that_cannot_be_so_warm_is_told_by_what_spaces_do():
    outdoors = weather(8, years=1)[["tmin", "tmax"]].isel(time=slice(60, 120))
    text = said_beside(outdoors + 30.0, outdoors, "unit F")
    assert "nights are 30.0 °C warmer than outdoors" in text
    assert "unheated space is never 25.0 °C warmer" in text
    assert "a heated one has no such nights" in text
    steep = said_beside(outdoors * 1.8 + 32 - 10, outdoors, "unit F")
    above, slope = re.search(r"are (\S+) °C warmer .* by (\S+) degrees for each", steep).groups()
    nights = outdoors["tmin"].values
    assert float(above) == pytest.approx(np.median(0.8 * nights + 22), abs=0.1)
    assert float(slope) == 1.8
    assert re.search(
        r"warmer than outdoors, at the median, and move .* each degree outdoors", steep
    )
    assert "unheated space is not so warm" in steep
    assert "heated one follows less" in steep
    assert "No covered space is" in said_beside(outdoors - 8.0, outdoors, "too cold")


@pytest.mark.parametrize(("name", "words"), [("tmin", "nights"), ("tmax", "days")])
def test_a_slope_that_no_space_has_is_told_beside_those_that_spaces_have(name, words):
    outdoors = weather(8, years=1)[["tmin", "tmax"]].isel(time=slice(60, 160))
    inside = outdoors.copy(deep=True)
    values = inside[name].values
    inside[name].values[:] = values.mean() + 4.0 * (values - values.mean())
    text = said_beside(inside, outdoors, "slope")
    assert f"or each degree outdoors its {words} move by 4.0 degrees" in text
    assert re.search(r"unheated space .* about 1, a heated one by about 0\.", text)


@pytest.mark.parametrize(
    ("years", "said"), [(1, "1 year later"), (2, "2 years later"), (-1, "1 year earlier")]
)
def test_a_clock_of_another_year_matches_that_year(years, said):
    outdoors = weather(8, years=5)[["tmin", "tmax"]]
    inside = outdoors.sel(time=slice("2001-03-02", "2001-06-01")) + 2.0
    dates = pd.DatetimeIndex(inside["time"].values) - pd.DateOffset(years=years)
    text = said_beside(inside.assign_coords(time=dates.values), outdoors, "dates")
    assert f"match those outdoors {said} (correlation 1.00," in text


@pytest.mark.parametrize(("end", "days"), [("first", 4), ("last", 2), ("last", 9)])
def test_days_in_a_warm_room_are_counted_at_their_end(end, days):
    outdoors = weather(8, years=1)[["tmin", "tmax"]].isel(time=slice(30, 100))
    inside = outdoors + 2.0
    inside["tmax"] += 6.0
    here = slice(None, days) if end == "first" else slice(-days, None)
    inside["tmin"].values[here], inside["tmax"].values[here] = 19.5, 20.5
    text = said_beside(inside, outdoors, f"carried {end}")
    assert re.search(
        rf"n its {end} {days} days its nights are \S+ °C above those outdoors, and in the rest "
        r"\S+ °C; its days swing by \S+ °C, and in the rest by",
        text,
    )
    above, rest, swing, usual = degrees(text)
    nights = outdoors["tmin"].values[here]
    assert above == pytest.approx(19.5 - np.median(nights), abs=0.051)
    assert rest == pytest.approx(2.0, abs=0.051)
    assert swing == pytest.approx(1.0, abs=0.051)
    assert usual > 6
    other = {"first": "last", "last": "first"}[end]
    found = departures_from_outdoors(inside, outdoors)
    assert not any(each.test == f"carried {other}" for each in found)


def test_a_heated_room_all_along_was_not_carried_nor_buried():
    outdoors = weather(8, years=1)[["tmin", "tmax"]].isel(time=slice(30, 100))
    room = outdoors * 0 + 19.5
    room["tmax"] += 1 + 0.5 * np.sin(np.arange(70))
    assert not {each.test for each in departures_from_outdoors(room, outdoors)}


def test_a_sensor_in_the_soil_swings_less_than_the_air_though_it_follows():
    outdoors = weather(8, years=1)[["tmin", "tmax"]].isel(time=slice(30, 100))
    middle = (outdoors["tmin"] + outdoors["tmax"]) / 2
    inside = xr.Dataset({"tmin": middle - 1.0, "tmax": middle + 1.0})
    text = said_beside(inside, outdoors, "buried")
    assert re.match(
        r"Its days swing by \S+ °C, and those outdoors by \S+ °C, though its nights", text
    )
    assert (
        ", though its nights follow the nights outdoors. Air in an unheated space swings more than "
        "outdoors."
    ) in text
    swing, outside = degrees(text)
    assert swing == 2.0
    assert outside == pytest.approx(
        float((outdoors["tmax"] - outdoors["tmin"]).median()), abs=0.051
    )


def test_readings_that_were_cut_off_are_counted_at_their_highest():
    whole = logged()["temperature"].values
    text = said_of_logger(logged(lambda values: values.clip(max=15.5)), "capped")
    at, among, top = re.match(r"(\d+) of (\d+) readings are exactly (\S+) °C", text).groups()
    assert (int(at), int(among), float(top)) == ((whole >= 15.5).sum(), len(whole), 15.5)
    below = ((whole >= 14.5) & (whole < 15.5)).sum()
    assert f", and none is higher; within a degree below it are {below}." in text
    hottest = np.sort(whole)[-20:]
    assert len(set(hottest.round(2))) > len(hottest) / 2  # those of the sound one
    assert "The hottest readings of a sound logger are few and differ." in text
    assert "it was hotter than this shows" in text
    assert not [each for each in logger_departures(logged()) if each.test == "capped"]
    # A room, read in whole degrees, is mostly at one of them.
    room = logged(lambda values: 20 + (values > 11))
    assert not [each for each in logger_departures(room) if each.test == "capped"]


def test_a_unit_that_changed_midway_moves_the_level_and_is_dated():
    def changed_midway(values):
        values[480:] = values[480:] * 1.8 + 32  # from 21 March on
        return values

    text = said_of_logger(logged(changed_midway), "two units")
    moved = float(re.search(r"median moves by (\S+) °C within a few days about", text)[1])
    assert moved == pytest.approx(0.8 * 12 + 32, abs=2)
    day = np.datetime64(re.search(r"about (\S+), and stays there", text)[1])
    assert abs(day - np.datetime64("2010-03-21")) <= np.timedelta64(2, "D")


def test_a_refused_logger_is_named_and_its_unit_is_asked_for():
    outdoors = weather(8, years=1)[["tmin", "tmax"]].isel(time=slice(60, 120))
    with pytest.raises(ValueError, match=r"^The logger cannot be right: .*with units='F'\.$"):
        refuse_against_outdoors(outdoors + 30.0, outdoors)
    with pytest.raises(ValueError, match=r"^The logger cannot be right: ") as cold:
        refuse_against_outdoors(outdoors - 8.0, outdoors)
    assert "units=" not in str(cold.value)

    def zeros(values):
        values[50:250:40] = 0.0
        return values

    with pytest.raises(ValueError, match=r"^frame\.csv cannot be right: 5 readings are exactly"):
        refuse_logger("frame.csv", logged(zeros))


def beside(place, days=150, follows=1.0, floor=None):
    """A frame that follows the weather of its place, and a record of that place or of another."""
    rng = np.random.default_rng(place)
    time = np.datetime64("2010-02-20") + np.arange(days) * np.timedelta64(1, "D")
    here, there = rng.normal(4, 4, (2, days))
    span = rng.uniform(6, 12, (2, days))

    def record(low, high):
        values = {"tmin": ("time", low), "tmax": ("time", high)}
        return xr.Dataset(values, {"time": time.astype("datetime64[s]")})

    low = (2 if follows else 18) + follows * here + rng.normal(0, 1.5, days)
    low = low if floor is None else np.maximum(low, floor)
    inside = record(low, low + 5 + follows * span[0] + rng.normal(0, 2, days))
    return inside, record(here, here + span[0]), record(there, there + span[1])


@pytest.mark.parametrize("place", range(5))
def test_a_record_of_another_place_is_doubted_and_the_own_is_not(place):
    inside, own, other = beside(place)
    assert departures_from_outdoors(inside, own) == ()
    text = said_beside(inside, other, "elsewhere")
    found = float(
        re.search(r"correlation (\N{MINUS SIGN}?[\d.]+);", text)[1].replace("\N{MINUS SIGN}", "-")
    )
    changes = [[np.diff(r[name].values) for name in ("tmin", "tmax")] for r in (inside, other)]
    alike = max(np.corrcoef(*pair)[0, 1] for pair in zip(*changes, strict=True))
    assert found == pytest.approx(alike, abs=0.006)
    assert found < 0.2


@pytest.mark.parametrize(
    "told", [{"follows": 0.0}, {"floor": 12.0}, {"days": 20}], ids=["heated", "kept warm", "short"]
)
def test_a_space_that_need_not_follow_the_weather_is_not_doubted(told):
    inside, own, other = beside(3, **told)
    for outdoors in (own, other):
        assert [
            e for e in departures_from_outdoors(inside, outdoors) if e.test == "elsewhere"
        ] == []


@pytest.mark.parametrize("place", range(12))
@pytest.mark.parametrize("days", [15, 30])
def test_a_short_log_of_a_heated_room_is_not_said_to_have_wrong_dates(place, days):
    inside, own, _ = beside(place, days=days, follows=0.0)
    assert departures_from_outdoors(inside, own) == ()


def test_a_room_that_warms_at_other_times_does_not_follow_and_soil_swings_less():
    inside, _, other = beside(3)
    text = said_beside(inside, other, "elsewhere")
    assert "rom one day to the next it grows warmer and colder at other times than outdoors" in text
    assert "0.4 or more is usual where nothing heats" in text


def test_years_of_rain_differ_by_less_than_half():
    [found] = [e for e in departures(rainy(25.4, year=2004)) if e.test == "rain"]
    assert (
        "times as much as in other years. Years of one place differ by less than half."
        in found.text()
    )


@pytest.mark.parametrize(
    ("years", "was", "advice"),
    [
        ("2003", "2003 of the history of station A1 failed the checks when it was", "that year"),
        ("2003 2006", "2003 and 2006 of the history of station A1 failed the checks when they were",
         "those years"),
    ],
)  # fmt: skip
def test_doubtful_years_of_a_history_failed_their_checks_and_are_fetched_again(years, was, advice):
    record = sound().assign_attrs(years_in_doubt=years, station_id="A1")
    first = departures(record)[0]
    assert f"{was} downloaded." in first.text()
    assert first.advice == f"Download {advice} again: `climwin store refresh A1 {years}`."
