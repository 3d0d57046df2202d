"""The growing model against a plain loop, day by day, and against what must hold of any such model."""

import math
import zlib
from functools import cache

import numpy as np
import pytest
from planning.plain_loop import Weather, live
from records import SHARED, weather

from climwin.crops.catalogue import crop, crop_names
from climwin.io.load import sample
from climwin.planning.growth import HARVEST, NEVER, OPEN, REASONS, grow
from climwin.planning.plan import Plan
from climwin.planning.site import Site

ANNUALS = [name for name in crop_names() if not crop(name).is_perennial]
EARLINESS = ("early", "main", "late", 80.0)
COVERS = ("cold frame", "unheated greenhouse", "frost-free greenhouse", "room with lights")


# --- day for day --------------------------------------------------------------------------


def site_of(record, latitude):
    first = record["time"].values[0].astype("datetime64[D]")
    return Site(first, record["tmin"].values, record["tmax"].values, latitude)


@cache
def place(name):
    """A record's weather, for the loop and for the model."""
    if name == "invented":
        record, latitude = weather(11, years=4, mean=11.0, swing=11.0), 44.0
    elif name == "mild":
        record, latitude = weather(5, years=4, mean=14.0, swing=6.0), 35.0
    elif name == "cold":
        record, latitude = weather(3, years=4, mean=4.0, swing=16.0), 54.0
    else:
        from records import albany

        record, latitude = albany().sel(time=slice("1983", "1986")), 42.75
    # Tenths of a degree away from any limit, so that no outcome hangs on the last bit.
    rng = np.random.default_rng(7)
    noise = rng.uniform(0.001, 0.009, (2, record.sizes["time"]))
    record = record.assign(
        tmin=record["tmin"] + noise[0],
        tmax=np.maximum(record["tmax"], record["tmin"] + 0.1) + noise[1],
    )
    return Weather(record, latitude), site_of(record, latitude)


def ways(name, rng):
    """Ways of growing a crop: in place, under fleece, raised, raised and fleeced, bought."""
    kind = crop(name)
    cover, weeks = str(rng.choice(COVERS)), int(rng.integers(3, 9))
    early = [EARLINESS[i] for i in rng.permutation(4)]
    return [
        Plan(kind, "04-01", earliness=early[0]),
        Plan(kind, "04-01", fleece_weeks=4, earliness=early[1], bed="black film"),
        Plan(kind, "04-01", weeks, cover, earliness=early[2]),
        Plan(kind, "04-01", weeks, cover, fleece_weeks=3, earliness=early[3]),
        Plan(kind, "04-01", plants="bought", earliness=early[0], bed="mulched"),
        Plan(kind, "04-01", 4, "fleece", earliness=early[1]),
    ]


def check_alike(found, n, expected, what):
    """One start of a `Life` against the loop's outcome."""
    words = {HARVEST: "harvest", OPEN: "unknown"} | dict(enumerate(REASONS))
    assert words[int(found.reason[n])] == expected.reason, what
    if expected.reason == "unknown":
        return
    assert found.stage[n] == expected.stage, what

    def day(value):
        return None if value >= NEVER else int(value)

    assert day(found.up[n]) == expected.up, what
    begins = [day(value) for value in found.begins[n]]
    missing = [None] * (len(begins) - len(expected.begins))
    assert begins == [*expected.begins, *missing], what
    assert day(found.ripe[n]) == expected.ripe, what
    assert day(found.last[n]) == expected.last, what
    if expected.reason == "harvest":
        assert found.growth[n] == pytest.approx(expected.growth, abs=1e-6), what
        assert found.yield_index[n] == pytest.approx(expected.yield_index, rel=1e-6), what
    else:
        assert math.isnan(found.growth[n])
        assert found.yield_index[n] == 0


@pytest.mark.parametrize("name", ANNUALS)
@pytest.mark.parametrize("where", ["invented", "mild", "cold", "albany"])
def test_every_start_ends_as_in_the_plain_loop(where, name):
    if where == "albany" and not SHARED.exists():
        pytest.skip("the daily record of Albany is not here")
    days, site = place(where)
    rng = np.random.default_rng(zlib.crc32(f"{where} {name}".encode()))
    for plan in ways(name, rng):
        # The last ones, whose life the record's end cuts short, among them.
        starts = np.sort(rng.choice(len(site), 10, replace=False))
        found = grow(site, plan.crop, plan.way, starts)
        for n, start in enumerate(starts.tolist()):
            what = f"{name}, {where}, {plan.name}, {plan.earliness}, day {start}"
            check_alike(found, n, live(days, plan.crop, plan.way, start), what)

