"""The comparison of joined records with whole ones in its quick form: an invented pair."""

import numpy as np
import pytest
from odds.joining import Pair, bias, is_as_close, losing, misses, table, trials, width
from records import weather

from climwin.core.seasons import by_year


@pytest.fixture(scope="module")
def pair():
    """Thirty invented years of a station, and of a neighbour that scatters by 2 degC beside it."""
    daily = weather(11, 30, mean=9.0, swing=12.0)
    own = {name: by_year(daily[name]).values for name in ("tmin", "tmax")}
    scatter = np.random.default_rng(12).normal(0, 2.0, own["tmin"].shape)
    return Pair(own, {name: grid + scatter - 1.5 for name, grid in own.items()})


def test_stretches_are_lost_up_to_the_share():
    daily = weather(1, 10)
    lost = losing(daily, 0.2, np.random.default_rng(0))["tmin"].isnull()
    assert 0.2 <= float(lost.mean()) < 0.2 + 400 / 3650
    assert (losing(daily, 0.2, np.random.default_rng(0))["tmax"].isnull() == lost).all()


def test_joined_odds_are_nearer_to_the_whole_records_and_no_surer(pair):
    rows = list(trials(("A", "B"), pair, 1, seed=3, levels=(0.3,)))
    assert is_as_close(rows)
    assert misses(rows, "joined") < 0.05
    assert abs(bias(rows, "joined")) < 0.03
    assert width(rows, "joined") >= width(rows, "whole")
    head, _, *lines = table(rows)
    assert [line.split("|")[1].strip() for line in lines] == ["A beside B", "30% lost", "all"]
    assert all(line.count("|") == head.count("|") for line in lines)
