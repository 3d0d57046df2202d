"""Spans of dates and the choice among them, against plain loops over invented curves of odds."""

from collections import Counter
from functools import cache

import numpy as np
import numpy.testing as npt
import pytest
from planning import plain_spans

from climwin.core.seasons import DAYS
from climwin.crops.catalogue import crop
from climwin.planning.selection import Blocks, sums_by_block
from climwin.planning.spans import (
    SEASONS,
    _first_stretch,
    choose_dates,
    leading_span,
    needs_winter,
    recommended_spans,
    through_winter,
    weaker_in_winter,
)

COLDEST, WARMEST = 20, 202
KINDS = (
    "one run",
    "two runs",
    "through the winter",
    "one end of it weak",
    "all year",
    "hopeless",
    "parted by heat",
    "head of summer",
)


def bump(middle, half, height, steep=6):
    apart = (np.arange(DAYS) - middle + DAYS / 2) % DAYS - DAYS / 2
    return height * np.exp(-(np.abs(apart / half) ** steep))


def wave(top):
    """A wave over the year, 1 on its highest day and -1 half a year later."""
    return np.cos((np.arange(DAYS) - top) / DAYS * 2 * np.pi)


def odds_of(kind, rng):
    """True odds by start date of some kind of place and crop."""
    shifted, height = rng.uniform(-20, 20), rng.uniform(0.85, 1.0)
    if kind == "one run":
        return bump(110 + shifted, rng.uniform(15, 60), height)
    if kind == "two runs":
        later = bump(240 + shifted, rng.uniform(20, 45), rng.uniform(0.7, 1.0))
        return np.maximum(bump(90 + shifted, rng.uniform(20, 45), height), later)
    if kind == "through the winter":
        return np.maximum(bump(20 + shifted, rng.uniform(60, 150), 1.0), rng.uniform(0, 0.3))
    if kind == "one end of it weak":
        weak = (np.arange(DAYS) - COLDEST) % DAYS < 183
        odds = np.where(weak == (shifted < 0), rng.uniform(0.72, 0.78), 1.0)
        return np.minimum(odds, bump(20, rng.uniform(70, 150), 1.2))
    if kind == "all year":
        return np.clip(height + rng.uniform(0, 0.15) * bump(20, 100, 1.0), 0, 1)
    if kind == "hopeless":
        return bump(120 + shifted, rng.uniform(20, 60), rng.uniform(0.2, 0.6))
    if kind == "parted by heat":
        later = bump(215, rng.uniform(50, 70), height)
        return np.maximum(bump(40 + shifted / 2, 15, 0.7), later)
    later = bump(210, rng.uniform(70, 90), 1.0)
    return np.maximum(bump(50 + shifted / 2, 20, rng.uniform(0.3, 0.75)), later)


def record_of(kind, seed):
    """Harvests, known years, yields and growth of some years, shape (seasons, 365), and lives.

    A little noise is on each, so that no choice hangs on the last bit.
    """
    rng = np.random.default_rng(seed)
    odds, seasons = odds_of(kind, rng), int(rng.integers(8, 31))
    luck = rng.random((seasons, 1)) * 0.8 + 0.2 * rng.random((seasons, DAYS))
    known = (rng.random((seasons, DAYS)) > rng.choice([0.0, 0.1])) + 0.0
    harvested = (luck < odds) * known * rng.uniform(0.999, 1.0, (seasons, DAYS))
    size = 0.6 + 0.4 * wave(rng.uniform(60, 240))
    worth = harvested * size * rng.uniform(0.9, 1.1, (seasons, DAYS))
    in_winter = kind in ("through the winter", "one end of it weak", "all year")
    swing = 0.15 if in_winter else 0.45
    grown = 1 - swing + swing * wave(rng.uniform(0, 365))
    growth = harvested * grown * rng.uniform(0.99, 1.0, (seasons, DAYS))
    shortest = 90 if in_winter else 40
    lives = rng.uniform(shortest, 200) + rng.uniform(0, 80) * wave(90)
    lives[rng.random(DAYS) < 0.05] = np.nan
    return harvested, known, worth, growth, lives


def curves_of(record):
    """Share, growth and mean yield of each start date over its known years."""
    harvested, known, worth, growth, _ = record
    years = known.sum(0)
    hits = harvested.sum(0)
    with np.errstate(divide="ignore", invalid="ignore"):
        mean = np.where(hits > 0, growth.sum(0) / hits, np.nan)
    return hits / np.maximum(years, 1), mean, worth.sum(0) / np.maximum(years, 1)


@cache
def chosen(kind, seed):
    """What is chosen in a record, and what plain loops choose; and what the crop asks for."""
    record = record_of(kind, seed)
    share, growth, worth = curves_of(record)
    tables = [sums_by_block(each) for each in record[:4]]
    asks = {"needs_winter": seed % 4 == 3, "is_cool": seed % 2 == 0}
    found = choose_dates(share, growth, worth, record[4], Blocks(*tables), COLDEST, WARMEST, **asks)
    curves = [each.tolist() for each in (share, growth, worth, record[4])]
    plain = plain_spans.Tables(*(each.tolist() for each in tables))
    return found, plain_spans.choice(*curves, plain, (COLDEST, WARMEST), **asks), asks


SEEDS = range(12)


@pytest.mark.parametrize("seed", SEEDS)
@pytest.mark.parametrize("kind", KINDS)
def test_the_dates_that_lead_are_those_of_plain_loops(kind, seed):
    found, expected, _ = chosen(kind, seed)
    others = found.others[~np.isnan(found.others).any(axis=1)]
    assert [tuple(each) for each in others.astype(int).tolist()] == expected.pop("others")
    npt.assert_allclose(found.stable, expected.pop("stable"), atol=1e-9)
    for name, value in expected.items():
        assert getattr(found, name) == pytest.approx(value, abs=1e-9), name


def test_these_records_have_each_kind_of_choice():
    every = [chosen(kind, seed) for kind in KINDS for seed in SEEDS]
    seasons = Counter(found.season for found, *_ in every)
    assert set(seasons) == {-1, 0, 1, 2}
    assert any(found.others[~np.isnan(found.others)].size for found, *_ in every)
    assert any(found.first > found.last for found, _, asks in every if asks["is_cool"])


@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.parametrize("least_odds", [0.3, 0.8])
def test_spans_are_those_of_plain_loops(kind, least_odds):
    for seed in range(20, 28):
        record = record_of(kind, seed)
        share, growth, worth = curves_of(record)
        found = recommended_spans(
            share, growth, worth, record[4], COLDEST, WARMEST, least_odds=least_odds
        )
        value = plain_spans.times(share, growth)
        lives = plain_spans.smooth(record[4])
        expected = plain_spans.spans(
            *(plain_spans.smooth(each) for each in (share, worth, value)),
            [plain_spans.season_of(day, lives[day], COLDEST, WARMEST) for day in range(DAYS)],
            COLDEST,
            least_odds,
        )
        assert [tuple(span) for span in found] == [
            (SEASONS[s.season], s.first, s.best, s.last, s.largest_from, s.largest_to)
            for s in expected
        ]
        assert [span.days for span in found] == [span.days for span in expected]


def test_where_no_year_is_known_nothing_is_chosen():
    nothing, missing = np.zeros((DAYS, 5)), np.full(DAYS, np.nan)
    blocks = Blocks(nothing, nothing, nothing, nothing)
    found = choose_dates(missing, missing, missing, missing, blocks, COLDEST, WARMEST)
    assert np.isnan([found.first, found.best, found.last]).all()
    assert (found.season, found.harvested, found.known) == (-1, 0, 0)
    assert not found.stable.any()
    assert np.isnan(found.others).all()


def test_just_the_least_odds_are_enough_to_lead():
    one, other = np.array([0.8, 1.0]), np.array([1.0, 1.0])
    assert leading_span(one, other, other) == 0
    assert leading_span(np.array([0.79, 0.8]), other, other) == 1
    half = np.array([0.5, 1.0])
    assert leading_span(other, half, other) == 0  # just half of the crop, and of the growth
    assert leading_span(other, other, half) == 0
    # Without a weaker one, the last may lead; as the weaker, only if no other can.
    assert leading_span(np.array([0.2, 0.9]), other, other) == 1
    assert leading_span(np.array([0.2, 0.9]), other, other, weaker=1) == 0
    assert leading_span(np.array([0.9]), other[:1], other[:1]) == 0


@pytest.mark.parametrize(("apart", "weaker"), [(0.125, 0), (-0.125, 1), (0.0625, None)])
def test_an_end_of_winter_is_weaker_by_one_harvest_in_ten(apart, weaker):
    first, last = np.array([20, 300]), np.array([80, 19])
    share = np.array([0.75, 0.75 + apart])
    assert weaker_in_winter(share, first, last) == weaker


def test_seasons_of_one_winter_are_one_run_up_to_one_year_in_twenty():
    first, last = np.array([20, 300]), np.array([80, 19])
    assert through_winter(0, np.array([1.0, 0.95 + 1e-9]), first, last) == (300, 80)
    assert through_winter(0, np.array([0.05, 0.0]), first, last) == (300, 80)  # just one in twenty
    assert through_winter(0, np.array([1.0, 0.94]), first, last) == (20, 80)
    assert through_winter(1, np.array([0.94, 1.0]), first, last) == (300, 19)


def test_the_first_stretch_of_spring_is_a_week_or_more():
    held = np.zeros(DAYS, bool)
    held[50:57] = held[80:120] = True
    assert _first_stretch(held, 40) == (50, 7)
    assert _first_stretch(held, 60) == (80, 40)
    held[56] = False
    assert _first_stretch(held, 40) == (80, 40)
    held[86:120] = False  # neither is a week: the longer, or of equals the one that comes first
    assert _first_stretch(held, 40) == (50, 6)
    assert _first_stretch(held, 60) == (80, 6)
    held[[50, 80]] = False
    held[330] = True
    assert _first_stretch(held, 60) == (81, 5)


def test_garlic_needs_a_winter_and_peas_do_not():
    # Garlic makes bulbs after weeks of cold; leeks live through a winter, and do without one.
    assert needs_winter(crop("garlic"))
    assert not needs_winter(crop("leek"))
    assert not needs_winter(crop("pea"))
