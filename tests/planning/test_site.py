"""The weather of a record is let go with the last that asks for it."""

import gc
import weakref

import numpy as np
import pytest

from climwin.core.seasons import DAYS
from climwin.crops.catalogue import crop
from climwin.planning import site
from climwin.planning.evaluate import Calendar, sweep_years
from climwin.planning.plan import Plan

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
