"""Traces: days taken from a record by plain dates, and each trace as a record of its own."""

import datetime as dt
from functools import cache

import numpy as np
import numpy.testing as npt
import pytest
from planning.test_season import same_day
from records import weather

from climwin.core.seasons import ONE_DAY
from climwin.crops.catalogue import crop
from climwin.planning.growth import HARVEST, OPEN, grow
from climwin.planning.perennial import growing_degree_hours, stand
from climwin.planning.phases import NEVER
from climwin.planning.plan import Plan
from climwin.planning.site import FilledSites, Site, filled_sites
from climwin.planning.traces import (
    Joint,
    TraceSite,
    _beside_seams,
    lives_in_traces,
    long_gaps,
)
from climwin.shelter.covers import COVERS

FIRST = np.datetime64("1999-01-01")
LATITUDE = 44.0
SHIFTS = np.array([-6, -4, -3, -1])


def day(date):
    return int((np.datetime64(date) - FIRST) / ONE_DAY)


@cache
def record():
    """Extremes of eight years that end on 20 May 2006, off the tenths."""
    made = weather(4, years=8)
    noise = np.random.default_rng(1).uniform(0.001, 0.009, made.sizes["time"])
    size = day("2006-05-21")
    return tuple((made[name].values + noise)[:size] for name in ("tmin", "tmax"))


@cache
def sites(warmer=0.0) -> FilledSites:
    low, high = record()
    return filled_sites(FIRST, low + warmer, high + warmer, LATITUDE)


# --- which days ---------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("seam", "begin", "end", "hidden_from", "hidden_until"),
    [
        (day("2006-05-21"), -30, day("2007-03-05"), None, NEVER),
        (day("2004-02-29"), day("2003-01-10"), day("2005-04-01"), None, NEVER),
        (day("2003-03-10"), day("2002-02-01"), day("2004-09-01"), None, day("2003-06-01")),
        (day("2002-02-01"), day("2002-02-01"), day("2004-05-01"), day("2003-03-10"), NEVER),
    ],
)
def test_each_day_is_that_of_the_same_date(seam, begin, end, hidden_from, hidden_until):
    size = len(record()[0])
    lost = np.zeros(size, bool)
    lost[seam - 20 : seam - 10] = True
    joint = Joint(FIRST, seam, begin, end, SHIFTS, hidden_until, hidden_from)
    source, is_own = joint.sources(lost)
    assert source.shape == (len(SHIFTS), joint.length)
    hidden = range(seam if hidden_from is None else hidden_from, min(hidden_until, size))
    for n, number in enumerate(range(begin, end)):
        date = (FIRST + number * ONE_DAY).astype(dt.date)
        own = 0 <= number < seam and not lost[number]
        assert is_own[n] == own, date
        for row, shift in enumerate(SHIFTS.tolist()):
            then = day(same_day(date, date.year + shift))
            there = 0 <= then < size and then not in hidden
            assert source[row, n] == (number if own else then if there else -1), (date, shift)
    assert (source == 0).any() or begin > 0  # the record's first day is a day like any other


def test_days_beside_a_seam_have_other_neighbours_than_in_the_record():
    rng = np.random.default_rng(3)
    source = np.cumsum(1 + (rng.random((3, 60)) < 0.1), axis=1)
    is_own = np.arange(60) < 30
    found = _beside_seams(source, is_own)
    for row, each in enumerate(source.tolist()):
        for n in range(60):
            as_in_record = [
                0 <= n + step < 60
                and each[n + step] == each[n] + step
                and is_own[n + step] == is_own[n]
                for step in (-1, 1)
            ]
            assert found[row, n] == (not all(as_in_record))
    assert found[:, [0, -1]].all()


@pytest.mark.parametrize(
    ("days", "is_lost"),
    [("..11111..", False), ("..111111..", True), ("1....", True), ("...1", True)],
)
def test_up_to_five_days_in_a_row_are_bridged_inside_the_record(days, is_lost):
    missing = np.array([each == "1" for each in days])
    npt.assert_array_equal(long_gaps(missing), missing & is_lost)


# --- each trace as a record of its own ----------------------------------------------------


class Alone(Site):
    """One trace as a record of its own, with the usual year of the whole record."""

    def __init__(self, first, tmin, tmax, past):
        super().__init__(first, tmin, tmax, LATITUDE)
        self.usual_mean, self._past = past.usual_mean, past

    @property
    def whole(self):
        return self._past


def both(joint, warmer=2.0):
    """The traces of a joint, this year's days as measured and all others warmer; and each alone."""
    own, past = sites().usual, sites(warmer).usual
    source, is_own = joint.sources(np.zeros(len(own), bool))
    first = FIRST + joint.begin * ONE_DAY
    alone = []
    for row in source:
        taken = [
            np.array(
                [
                    of_own[s] if mine else of_past[max(s, 0)]
                    for s, mine in zip(row, is_own, strict=True)
                ]
            )
            for of_own, of_past in ((own.tmin, past.tmin), (own.tmax, past.tmax))
        ]
        alone.append(Alone(first, *taken, past))
    return TraceSite(own, past, joint, source, is_own), alone


JOINT = Joint(FIRST, day("2006-05-21"), day("2005-01-10"), day("2006-12-31"), SHIFTS)


@pytest.mark.parametrize("warmer", [0.0, 2.0])
def test_the_weather_of_a_trace_is_that_of_a_record_of_its_own(warmer):
    site, alone = both(JOINT, warmer)
    frame, fleece = COVERS["cold frame"], COVERS["fleece"]
    for row, one in enumerate(alone):
        part = slice(row * JOINT.length, (row + 1) * JOINT.length)
        for name in ("tmin", "tmax", "dates", "day_of_year", "day_length", "radiation"):
            npt.assert_array_equal(getattr(site, name)[part], getattr(one, name))
        npt.assert_allclose(site.soil_at(0.2)[part], one.soil_at(0.2))
        for around, plain in (
            (site.outdoors("mulched"), one.outdoors("mulched")),
            (site.under(frame), one.under(frame)),
            (site.under(fleece, "mulched"), one.under(fleece, "mulched")),
        ):
            for name in ("tmin", "tmax", "tmean", "soil_sowing", "soil_bed", "radiation"):
                npt.assert_allclose(getattr(around, name)[part], getattr(plain, name), err_msg=name)
            # Of the hours, the ends of a trace are beside another one.
            for key, daily in (
                ("growing degree hours", growing_degree_hours),
                ("warmest", lambda hours: hours.max(axis=-1)),
            ):
                npt.assert_allclose(
                    around.of_hours(key, daily)[part][1:-1],
                    plain.of_hours(key, daily)[1:-1],
                    err_msg=f"{around} {key}",
                )
    npt.assert_array_equal(site.usual_mean, sites(warmer).usual.usual_mean)
    assert site.whole is sites(warmer).usual


PLANS = (
    Plan(crop("pea"), "04-01"),
    Plan(crop("tomato"), "04-01"),
    Plan(crop("cauliflower"), "04-01", 5, "cold frame"),
    Plan(crop("apple"), "01-01"),
    Plan(crop("asparagus"), "01-01"),
)


@pytest.mark.parametrize("end", ["2006-08-14", "2007-11-30"])
@pytest.mark.parametrize("plan", PLANS, ids=[plan.crop.name for plan in PLANS])
def test_lives_in_traces_are_those_in_records_of_their_own(plan, end):
    joint = Joint(FIRST, day("2006-05-21"), day("2005-02-20"), day(end), SHIFTS)
    starts = np.arange(day("2006-03-05"), day("2006-08-10"), 25)
    past = sites(2.0).usual
    found = lives_in_traces(plan, sites(), past, joint, starts)
    source, _ = joint.sources(np.zeros(len(past), bool))
    _, alone = both(joint)
    seen = set()
    for row, one in enumerate(alone):
        own = starts - joint.begin
        if plan.crop.is_perennial:
            life = stand(one, plan.crop, own)
        else:
            life = grow(one, plan.crop, plan.way, own)
        beyond = np.flatnonzero(source[row] < 0)
        for n, start in enumerate(own.tolist()):
            reason = int(life.reason[n])
            until = life.last[n] if reason == HARVEST else life.touched_until[n]
            # Up to the day before the one on which it ends, from a fortnight before the start.
            needs = (beyond >= start - 14) & (beyond < until)
            is_open = reason == OPEN or until >= joint.length or needs.any()
            told = OPEN if is_open else reason
            seen.add(told)
            assert found.reason[row, n] == told
            is_harvest, has_failed = told == HARVEST, told not in (HARVEST, OPEN)
            assert found.stage[row, n] == (life.stage[n] if has_failed else -1)

            def date(values, is_told, n=n):
                there = is_told and values[n] < joint.length
                return values[n] + joint.begin if there else np.nan

            for name in ("up", "set_out", "ripe"):
                npt.assert_equal(
                    getattr(found, name)[row, n], date(getattr(life, name), not is_open)
                )
            npt.assert_equal(found.last[row, n], date(life.last, is_harvest))
            npt.assert_equal(found.failed[row, n], date(life.touched_until, has_failed))
            growth = life.growth[n] if is_harvest else np.nan
            npt.assert_allclose(found.growth[row, n], growth)
            npt.assert_equal(
                found.begins[row, n],
                [date(stage, not is_open) for stage in life.begins.T],
            )
    assert HARVEST in seen or end < "2007"
    assert OPEN in seen or end > "2007"
