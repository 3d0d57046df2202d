"""The weather of a record: its gaps, every draw of them, and what is remembered of it."""

import gc
import weakref

import numpy as np
import numpy.testing as npt
import pytest
from hypothesis import given
from hypothesis import strategies as st

from climwin.core.seasons import DAYS
from climwin.crops.catalogue import crop
from climwin.planning import site
from climwin.planning.grown import Calendar
from climwin.planning.plan import Plan
from climwin.planning.sweep import sweep_years
from climwin.shelter.covers import COVERS

FIRST = np.datetime64("2001-01-01", "D")


def weather(seed):
    """Extremes of three years, with a gap of four days."""
    rng, day = np.random.default_rng(seed), np.arange(3 * DAYS + 1)
    tmin = 5 - 9 * np.cos(2 * np.pi * (day - 20) / DAYS) + rng.normal(0, 3, len(day))
    tmax = tmin + rng.uniform(4, 12, len(day))
    tmin[500:504] = tmax[500:504] = np.nan
    return tmin, tmax


@pytest.fixture
def no_collector():
    gc.collect()
    gc.disable()
    yield
    gc.enable()


@pytest.mark.usefixtures("no_collector")
def test_a_forgotten_record_leaves_memory_at_once(monkeypatch):
    monkeypatch.setattr(site, "_sites", type(site._sites)())
    monkeypatch.setattr(site, "SITES_KEPT", 1)
    plans = [
        Plan(crop("cauliflower"), "03-05", 6, "cold frame"),
        Plan(crop("cauliflower"), "04-20"),
        Plan(crop("pea"), "03-20", fleece_weeks=4),
    ]
    low, high = weather(1)
    sites = site.filled_sites(FIRST, low, high, 46.0)
    for plan in plans:
        sweep_years(plan, sites, Calendar(np.arange(2001, 2005), FIRST, len(low)))
    made = [
        sites.usual,
        *(each for each in sites._made._made.values() if isinstance(each, site.Site)),
    ]
    made += [around for each in made for around in each._surroundings._made.values()]
    assert {type(each) for each in made} == {
        *(site.Site, site.DrawnSite),
        *(site.Surroundings, site.DrawnSurroundings),
    }
    left = [weakref.ref(each) for each in made]
    del sites, made
    site.filled_sites(FIRST, *weather(2), 46.0)  # in its place
    assert [each() for each in left] == [None] * len(left)


# --- gaps ---------------------------------------------------------------------------------


@given(
    st.lists(st.integers(0, 59), max_size=4), st.integers(0, 9), st.integers(0, 9), st.booleans()
)
def test_days_within_reach_are_those_of_a_plain_search(places, before, after, at_the_ends):
    days = np.zeros(60, bool)
    days[[*places, *([0, 59] if at_the_ends else [])]] = True
    found = site._reached(days, before, after)
    assert found.tolist() == [
        any(days[n] for n in range(60) if n - before <= day <= n + after) for day in range(60)
    ]


def test_a_record_without_gaps_is_its_own_site_and_its_own_limits():
    low, high = weather(1)
    low[500:504], high[500:504] = 5.0, 15.0
    sites = site.filled_sites(FIRST, low, high, 46.0)
    assert not sites.missing.any()
    for n, values in enumerate((low, high)):
        npt.assert_array_equal(sites.measured[n], values)
        npt.assert_array_equal(sites.limits[n], [values, values])
    npt.assert_array_equal(sites.usual.tmin, low)
    assert sites.usual.dates[0] == FIRST
    assert (np.diff(sites.usual.dates) == np.timedelta64(1, "D")).all()


def test_a_gap_is_bridged_and_its_limits_are_what_was_seen_around_its_day():
    low, high = weather(3)
    sites = site.filled_sites(FIRST, low, high, 46.0)
    assert np.flatnonzero(sites.missing).tolist() == [500, 501, 502, 503]
    for n, values in enumerate((low, high)):
        npt.assert_array_equal(sites.measured[n], values)
        usual = (sites.usual.tmin, sites.usual.tmax)[n]
        bridge = [values[499] + k / 5 * (values[504] - values[499]) for k in range(1, 5)]
        npt.assert_allclose(usual[500:504], bridge)
        known = ~sites.missing
        npt.assert_array_equal(sites.limits[n][:, known], [values[known]] * 2)
        coldest, warmest = sites.limits[n][:, 500:504]
        # What was seen on the same days of the other two years is within them.
        for other in (500 - DAYS, 500 + DAYS):
            assert (coldest <= values[other : other + 4]).all()
            assert (warmest >= values[other : other + 4]).all()


@pytest.mark.parametrize("place", ["outdoors", "fleece", "cold frame"])
@pytest.mark.parametrize("latitude", [46.0, -46.0])
def test_each_draw_has_the_weather_of_a_record_of_its_own(place, latitude):
    """Day for day around the gap, also of the days whose hours and hardening it changes."""
    low, high = weather(1)
    reach = (20, 30)
    sites = site.filled_sites(FIRST, low, high, latitude)
    for drawn in (sites.drawn(reach), sites.extremes(reach)):
        kept = slice(500 - 20, 503 + 30 + 1)
        assert drawn.kept.tolist() == list(range(kept.start, kept.stop))
        assert drawn.whole is sites.usual
        minima, maxima = drawn._of_record
        for number in (0, len(minima) - 1):
            own = slice(number * len(drawn.kept), (number + 1) * len(drawn.kept))
            alone = site.Site(FIRST, minima[number], maxima[number], latitude)
            for name in ("tmin", "tmax", "dates", "day_of_year", "day_length", "radiation"):
                npt.assert_array_equal(getattr(drawn, name)[own], getattr(alone, name)[kept])
            npt.assert_allclose(drawn.soil_at(0.2)[own], alone.soil_at(0.2)[kept])
            mine, theirs = (
                each.outdoors() if place == "outdoors" else each.under(COVERS[place])
                for each in (drawn, alone)
            )
            names = ("tmin", "tmax", "tmean", "recent_mean", "day_length", "radiation")
            for name in (*names, "soil_sowing", "soil_bed"):
                npt.assert_allclose(getattr(mine, name)[own], getattr(theirs, name)[kept])
            for of_day in (
                lambda around: around.of_hours("sum of squares", lambda hours: (hours**2).sum(-1)),
                lambda around: around.each_day(lambda days: days.tmin * days.day_length),
                lambda around: around.each_day(lambda days: days.recent_mean - days.radiation),
                lambda around: around.response((4.0, 15.0, 21.0, 30.0)),
            ):
                npt.assert_allclose(of_day(mine)[own], of_day(theirs)[kept])
        day = np.array([480, 500, 533])
        expected = [[n - 480 + number * 54 for number in range(drawn.draws)] for n in day]
        assert drawn.place_of(day).tolist() == expected
        assert drawn.end_of(day).tolist() == [[54 * (n + 1) for n in range(drawn.draws)]] * 3


def test_pieces_of_draws_end_where_the_days_between_gaps_are_left_out():
    low, high = weather(1)
    low[800] = np.nan
    drawn = site.filled_sites(FIRST, low, high, 46.0).extremes((3, 2))
    assert drawn.kept.tolist() == [*range(497, 506), *range(797, 803)]
    assert drawn.end_of(np.array([497, 505, 797])).tolist() == [[9, 24], [9, 24], [15, 30]]


def test_the_sites_of_the_latest_records_are_remembered(monkeypatch):
    monkeypatch.setattr(site, "_sites", type(site._sites)())
    records = [weather(seed) for seed in range(site.SITES_KEPT + 1)]

    def ask(number):
        return site.filled_sites(FIRST, *records[number], 46.0)

    made = [ask(number) for number in range(site.SITES_KEPT)]
    assert ask(0) is made[0]  # the latest that was asked for
    last = ask(site.SITES_KEPT)
    assert ask(0) is made[0]
    assert ask(site.SITES_KEPT) is last
    assert ask(2) is made[2]
    assert ask(1) is not made[1]  # the one asked for longest ago gave way
    assert len(site._sites) == site.SITES_KEPT
