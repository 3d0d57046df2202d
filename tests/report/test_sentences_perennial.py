"""Winters of a perennial in words, on made-up reports: what it survives and what the years had."""

import re
from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest
import xarray as xr

import climwin as cw
from climwin.planning.growth import BUDS, REASONS
from climwin.report import sentences_perennial as words
from climwin.report.tables import MINUS


@pytest.fixture
def nights(monkeypatch):
    coldest = np.array([-30.0, -24.0, -20.0, -12.0, -10.0])
    monkeypatch.setattr(words, "_coldest_of_winters", lambda _: coldest)
    return coldest


def report_of(crop):
    return SimpleNamespace(crop=crop)


def hardy(crop, **given):
    return replace(crop, perennial=replace(crop.perennial, **given))


def test_winters_are_set_against_what_the_wood_and_the_buds_survive(nights):
    apple = hardy(cw.crop("apple"), hardy_to_c=-25.0, buds_hardy_to_c=-22.0)
    text = words._hardiness(report_of(apple), "C")
    assert f"survives {MINUS}25 °C, its dormant flower buds {MINUS}22 °C" in text
    assert f"The coldest night was {MINUS}20 °C in a typical winter here and {MINUS}30 °C" in text
    assert f"{MINUS}30 °C in the worst of 5 years" in text
    assert "2 had a night colder than its buds survive" in text
    tough = hardy(apple, buds_hardy_to_c=-28.0)
    assert "2 had a night colder than it survives" not in words._hardiness(report_of(tough), "C")
    assert "1 had a night colder than it survives" in words._hardiness(report_of(tough), "C")


def test_a_crown_in_the_ground_is_warmer_than_the_night(nights):
    asparagus = cw.crop("asparagus")
    assert asparagus.perennial.crown_below_ground
    text = words._hardiness(report_of(asparagus), "C")
    assert "crown, below ground" in text
    assert "keep the crown warmer than that" in text
    assert "had a night colder" not in text


@pytest.mark.parametrize(("lost", "said"), [(0, True), (2, False)])
def test_that_no_winter_cost_a_harvest_is_said_where_none_did(lost, said):
    counts = [lost if reason == REASONS[BUDS] else 0 for reason in REASONS]
    odds = xr.Dataset(
        {"failed_by": ("reason", counts), "known": 39}, coords={"reason": list(REASONS)}
    )
    text = " ".join(words._winters_lost(SimpleNamespace(ahead=SimpleNamespace(odds=[odds]))))
    assert bool(text) is said
    if said:
        assert re.search(r"Neither winter nor frost cost a harvest in 39 years", text)


@pytest.mark.parametrize(
    ("name", "last", "said", "opens"),
    [
        ("apple", 117.0, True, "Full bloom"),
        ("apple", np.nan, False, "Full bloom"),
        ("strawberry", 117.0, True, "First flowers"),  # which open one after the other
    ],
)
def test_bloom_is_told_beside_the_frost_that_kills_its_flowers(name, last, said, opens):
    crop = cw.crop(name)
    bloom = xr.Dataset(
        {
            "begin_day": ("event", [120.0]),
            "begin_first": ("event", [112.0]),
            "begin_last": ("event", [131.0]),
        },
        coords={"event": ["bloom or first growth"]},
    )
    freezes = xr.Dataset(
        {"last_spring": (("threshold", "odds"), [[last]])},
        coords={"odds": [0.5], "threshold": [0.0]},
    )
    report = SimpleNamespace(crop=crop, timetables=[bloom], freeze_odds=freezes)
    text = words._bloom(report, "C")
    assert text.startswith(f"{opens}: 30 Apr (22 Apr to 11 May in 8 years out of 10)")
    dies = crop.perennial.bloom.buds[-1].tenth_killed_c
    assert f"begin to die at {dies:.1f} °C".replace("-", MINUS) in text
    assert ("in one year in two a freeze comes on 27 Apr or later" in text) is said


def test_chill_is_counted_between_two_temperatures():
    apple = cw.crop("apple")
    common = apple.perennial.bloom.chill_units
    text = words._chill(SimpleNamespace(crop=apple, chill_need=common), "C")
    assert f"has had {common:g} chill units" in text.replace(",", "")
    low, high = map(int, re.search(r"between about (\d+) and (\d+) °C", text).groups())
    assert (low, high) == (2, 9)  # Utah's full units: 2.4 to 9.1 degC (Richardson et al. 1974)
    assert "kind" not in text


def test_the_page_says_where_its_odds_are_of_a_kind_that_needs_less_cold():
    apple = cw.crop("apple")
    text = words._chill(SimpleNamespace(crop=apple, chill_need=296.4), "C").replace(",", "")
    assert f"Common kinds need {apple.perennial.bloom.chill_units:g} chill units more" in text
    assert "so these odds are of a kind that needs less. It rests until it has had 296" in text


@pytest.mark.parametrize(("begins", "said"), [(95.0, "First growth: 5 Apr"), (np.nan, "")])
def test_growth_begins_on_its_day_or_nothing_is_said(begins, said):
    growth = xr.Dataset(
        {f"begin_{end}": ("event", [begins + off]) for end, off in
         (("day", 0), ("first", -8), ("last", 11))},
        coords={"event": ["bloom or first growth"]},
    )  # fmt: skip
    text = words._first_growth(SimpleNamespace(timetables=[growth]))
    assert text.startswith(said)
    assert bool(text) is bool(said)
    if said:
        assert "28 Mar to 16 Apr in 8 years" in text


def test_a_common_kind_needs_more_cold_than_nine_winters_in_ten_bring():
    apple = cw.crop("apple")
    text = words._chill(SimpleNamespace(crop=apple, chill_need=296.4), "C")
    assert "chill units, more than nine winters in ten bring here" in text


def test_a_winter_without_such_a_night_is_none(nights):
    apple = hardy(cw.crop("apple"), hardy_to_c=-40.0, buds_hardy_to_c=None)
    text = words._hardiness(report_of(apple), "C")
    assert text.endswith("; none had a night colder than it survives.")
    assert "of an apple survives" in text
    assert text.startswith("Winter: the wood")


def test_a_record_without_winters_leaves_the_source_of_what_is_survived(monkeypatch):
    monkeypatch.setattr(words, "_coldest_of_winters", lambda _: np.array([]))
    apple = hardy(cw.crop("apple"), hardy_to_c=-25.0, buds_hardy_to_c=None, hardy_source="A book")
    text = words._hardiness(report_of(apple), "C")
    assert text == f"Winter: the wood of an apple survives {MINUS}25 °C (source: A book)."
