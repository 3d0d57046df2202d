"""Best dates, weeks under cover, sowings in succession, a second crop: against plain loops."""

from dataclasses import replace

import numpy as np
import numpy.testing as npt
import pytest
import xarray as xr
from hypothesis import given
from hypothesis import strategies as st
from planning import plain_choice
from records import side_by_side, weather

from climwin.climate.freeze import freeze_odds
from climwin.climate.level import todays_climate
from climwin.core.seasons import DAYS, coldest_day, day_name, day_number
from climwin.crops.catalogue import crop
from climwin.planning.evaluate import evaluate_plan
from climwin.planning.plan import Plan
from climwin.planning.schedule import (
    _every,
    at_best_date,
    best_dates,
    runs_of_year,
    second_crop,
    succession,
    sweep_weeks,
)
from climwin.planning.selection import best_run
from climwin.planning.spans import recommended_spans
from climwin.planning.sweep import sweep_start_dates

RAISED = Plan(crop("cauliflower"), "04-20", 6, "cold frame")
IN_PLACE = Plan(crop("radish"), "04-01")


def at(record, latitude=44.0):
    record.attrs["latitude"] = latitude
    return record


@pytest.fixture(scope="module")
def record():
    return at(weather(9, years=8, mean=10.0))


# --- runs ---------------------------------------------------------------------------------


@given(st.lists(st.booleans(), min_size=DAYS, max_size=DAYS))
def test_runs_cover_the_true_days_and_touch_none_of_their_kind(days):
    mask = np.array(days)
    covered = np.zeros(DAYS, int)
    for first, length in runs_of_year(mask):
        covered[(first + np.arange(length)) % DAYS] += 1
        if length < DAYS:
            assert not mask[(first - 1) % DAYS]
            assert not mask[(first + length) % DAYS]
    npt.assert_array_equal(covered, mask.astype(int))


def dates_by_hand(found):
    """First, best and last days, from 1, that may lead: of each season, or near the largest crop.

    Which season leads is worked out by hand in `test_suitability`.
    """
    names = ("share", "growth", "yield_index", "known", "stable")
    share, growth, worth, known, stable = (found[name].values for name in names)
    turns = int(found["coldest"]), int(found["warmest"])
    lives = (found["harvest_day"].sel(quantile=0.5) - found["start_day"]).values
    spans = recommended_spans(share, growth, np.nan_to_num(worth), lives, *turns)
    if spans:
        return [(span.first + 1, span.best + 1, span.last + 1) for span in spans]
    first, days = best_run(worth, known > 0, stable=stable)
    best = plain_choice.best_day(worth, known > 0, stable)
    return [(first + 1, best + 1, (first + days - 1) % DAYS + 1)]


@pytest.mark.parametrize("mean", [10.0, -5.0])  # the colder one has no season that is safe
def test_a_plan_moves_to_its_best_date(mean):
    record = at(weather(9, years=8, mean=mean))
    found = sweep_start_dates(IN_PLACE, record)
    assert (float(found["share"].max()) < 0.8) == (mean == -5.0)
    moved = at_best_date(IN_PLACE, record)
    first, last = best_dates(found)
    assert (first, day_number(moved.start), last) in dates_by_hand(found)
    assert replace(moved, start=IN_PLACE.start) == IN_PLACE
    apple = Plan(crop("apple"), "01-01")
    assert at_best_date(apple, record) == apple


def test_without_a_known_year_there_is_no_best_date():
    unknown = xr.Dataset({"known": ("start_day", np.zeros(DAYS, int))})
    with pytest.raises(ValueError, match="No start date has known odds"):
        best_dates(unknown)
    dates = {"best_first": 70, "best_last": 90}
    assert best_dates(unknown.assign(known=unknown["known"] + 1, **dates)) == (70, 90)


# --- weeks under cover --------------------------------------------------------------------


def test_each_number_of_weeks_is_swept_as_a_plan_of_its_own(record):
    found = sweep_weeks(RAISED, record, weeks=(0, 4, 7))
    for weeks in (0, 4, 7):
        cover = "cold frame" if weeks else "none"
        own = sweep_start_dates(replace(RAISED, weeks_under_cover=weeks, cover=cover), record)
        for name in ("harvested", "share", "yield_index", "harvest_day"):
            npt.assert_array_equal(found[name].sel(weeks=weeks), own[name])
    assert (found.attrs["crop"], found.attrs["cover"]) == ("cauliflower", "cold frame")


# --- succession ---------------------------------------------------------------------------


@given(
    st.lists(st.tuples(st.integers(1, 90), st.booleans()), min_size=1, max_size=12),
    st.integers(1, DAYS),
)
def test_sowings_are_good_apart_and_as_many_as_fit(pieces, step):
    good = np.resize(np.concatenate([np.full(n, held) for n, held in pieces]), DAYS)
    good[200] = True
    sown = np.array(_every(good, step)) - 1
    assert good[sown].all()
    apart = (sown[:, None] - sown) % DAYS
    assert (apart[~np.eye(len(sown), dtype=bool)] >= step).all()
    # No further sowing fits: every good day lies too near to one that there is.
    away = (np.flatnonzero(good)[:, None] - sown) % DAYS
    assert (np.minimum(away, DAYS - away).min(axis=1) < step).all()


def test_sowings_begin_with_the_season():
    good = np.zeros(DAYS, dtype=bool)
    good[[*range(300, 365), *range(40), *range(60, 80)]] = True  # a southern summer, with a hole
    assert _every(good, 30) == [301, 331, 361, 26, 61]
    assert _every(np.ones(DAYS, dtype=bool), 100) == [1, 101, 201]
    assert _every(np.ones(DAYS, dtype=bool), 73) == [1, 74, 147, 220, 293]
    assert _every(np.ones(DAYS, dtype=bool), DAYS) == [1]
    bad = np.isin(np.arange(DAYS), [*range(10, 200), *range(300, 310)])
    assert _every(~bad, 90) == [201, 291]  # after the longest run, not the latest
    assert _every(np.zeros(DAYS, dtype=bool), 14) == []


def test_sowings_carry_the_odds_of_their_dates(record):
    found, whole = (
        succession(IN_PLACE, record, 10, least_odds=0.6),
        sweep_start_dates(IN_PLACE, record),
    )
    assert found.sizes["sowing"] > 5
    assert (found["share"] >= 0.6).all()
    days = found["start_day"].values
    for name in ("harvested", "known", "share", "growth"):
        npt.assert_array_equal(found[name], whole[name].sel(start_day=days))
    for name, level in (("first", 0.1), ("usual", 0.5), ("last", 0.9)):
        own = whole["harvest_day"].sel(quantile=level, start_day=days)
        npt.assert_array_equal(found[f"harvest_{name}"], own)
    assert (found["harvest_first"] > found["start_day"]).all()


def test_sowings_of_every_day_are_all_dates_that_have_the_odds(record):
    """With as many years as known, shares are fractions: one of them is the limit itself."""
    whole = sweep_start_dates(IN_PLACE, record)
    share = whole["share"].values
    least = float(np.sort(share[share > 0.4])[0])
    found = succession(IN_PLACE, record, 1, least_odds=least)
    assert sorted(found["start_day"].values) == (np.flatnonzero(share >= least) + 1).tolist()
    assert found["share"].min() == least
    assert found["sowing"].values.tolist() == list(range(1, found.sizes["sowing"] + 1))
    assert set(found.dims) == {"sowing", "quantile", "reason"}
    assert set(found.coords) == {"sowing", "quantile", "reason"}
    for name in ("harvested", "known", "share", "low", "high"):
        assert found[f"elsewhere_{name}"].dims == ("sowing",)
    told = {"plan": IN_PLACE.name, "crop": "radish", "every_days": 1, "least_odds": least}
    assert {name: found.attrs[name] for name in told} == told
    units = {"start_day": "day of the year", "yield_index": "MJ m-2", "days_outdoors": "days"}
    assert {name: found[name].attrs["units"] for name in units} == units
    sure = succession(IN_PLACE, record, DAYS, least_odds=1.0)
    assert (sure["share"] == 1).all()
    with pytest.raises(ValueError, match=r"least_odds is a share above 0 .* got 0\b"):
        succession(IN_PLACE, record, least_odds=0)


def test_sowings_of_todays_climate_are_those_of_the_moved_record():
    record = at(weather(9, years=26, mean=4.0))
    warmer = 0.12 * (record["time"].dt.year - 1999)
    record = record.assign(tmin=record["tmin"] + warmer, tmax=record["tmax"] + warmer)
    found = succession(IN_PLACE, record, 21, climate="today")
    expected = succession(IN_PLACE, todays_climate(record), 21)
    npt.assert_array_equal(found["start_day"], expected["start_day"])
    npt.assert_array_equal(found["share"], expected["share"])
    as_it_was = succession(IN_PLACE, record, 21)
    assert found["start_day"].values.tolist() != as_it_was["start_day"].values.tolist()


def plain_blocks(seasons):
    """Years of each block, counted from 0: five together, fewer of a short record."""
    length = max(1, min(5, seasons // 5))
    last = seasons // length - 1
    return [[y for y in range(seasons) if min(y // length, last) == b] for b in range(last + 1)]


def harvests_by_year(plan, record, days):
    """1 or 0 of each year and start date, by growing each date by itself."""
    grown = [
        evaluate_plan(replace(plan, start=day_name(day)), record)["harvested"].values
        for day in days
    ]
    return np.array(grown).T


@pytest.mark.simulated
def test_sowings_are_judged_on_years_that_did_not_choose_them(record):
    found = succession(IN_PLACE, record, 20, least_odds=0.6)
    harvested = harvests_by_year(IN_PLACE, record, range(1, DAYS + 1))
    hits, years = np.zeros(found.sizes["sowing"]), np.zeros(found.sizes["sowing"])
    for block in plain_blocks(len(harvested)):
        others = np.delete(harvested, block, axis=0)
        share = np.nan_to_num(np.nansum(others, 0) / np.maximum((~np.isnan(others)).sum(0), 1))
        chosen = _every(share >= 0.6 - 1e-9, 20)
        for n, day in enumerate(found["start_day"].values):
            apart = [min(abs(each - day), DAYS - abs(each - day)) for each in chosen]
            own = harvested[block, chosen[int(np.argmin(apart))] - 1]
            hits[n] += np.nansum(own)
            years[n] += (~np.isnan(own)).sum()
    npt.assert_allclose(found["elsewhere_harvested"], hits)
    npt.assert_allclose(found["elsewhere_known"], years)
    assert (found["elsewhere_low"] <= found["elsewhere_share"]).all()
    assert (found["elsewhere_share"] <= found["elsewhere_high"]).all()


def test_no_sowing_where_the_odds_are_never_so_good():
    cool = at(weather(3, years=6, mean=5.0, swing=8.0), 60.0)
    assert succession(Plan(crop("eggplant"), "05-01"), cool).sizes["sowing"] == 0


# --- a second crop ------------------------------------------------------------------------


def plain_second(plan, record, odds):
    """Backwards, day by day, from the coldest day of winter to the height of summer."""
    share = sweep_start_dates(plan, record)["share"].values
    begin = coldest_day(record).item()
    begin = begin if begin <= 183 else begin - DAYS
    for day in range(begin + DAYS - 1, begin + DAYS // 2 - 1, -1):
        if share[(day - 1) % DAYS] >= odds - 1e-9:
            return day, share[(day - 1) % DAYS]
    return np.nan, np.nan


@pytest.mark.parametrize("odds", [0.5, 0.8])
@pytest.mark.parametrize("plan", [RAISED, IN_PLACE], ids=lambda plan: plan.crop.name)
@pytest.mark.parametrize(("mean", "swing"), [(10.0, 11.0), (17.0, 8.0), (5.0, 9.0)])
def test_second_crop_is_a_plain_search(mean, swing, plan, odds):
    record = at(weather(12, years=8, mean=mean, swing=swing))
    found = second_crop(plan, record, odds)
    day, share = plain_second(plan, record, odds)
    npt.assert_array_equal([found["start_day"].item(), found["share"].item()], [day, share])
    limit = plan.crop.stages[-1].cold.killed_at_c
    freeze = freeze_odds(record, limit, levels=[1 - odds])["first_autumn"].item()
    npt.assert_array_equal(found["freeze_day"].item(), freeze)
    if not np.isnan(day):
        whole = sweep_start_dates(plan, record).sel(start_day=(day - 1) % DAYS + 1)
        for name in ("harvested", "known", "low", "high"):
            assert found[name].item() == whole[name].item()
        npt.assert_array_equal(found["harvest_usual"], whole["harvest_day"].sel(quantile=0.5))


# --- stations, errors ---------------------------------------------------------------------


@pytest.mark.parametrize("chunks", [None, 1], ids=["at once", "lazily"])
def test_stations_pass_through(chunks):
    alone = at(weather(1)), at(weather(2, mean=14.0), 36.0)
    both = side_by_side(*alone).assign_coords(latitude=("station", [44.0, 36.0]))
    both = both.chunk(station=chunks) if chunks else both
    weeks, second = sweep_weeks(RAISED, both, (4, 6)), second_crop(IN_PLACE, both)
    assert all((each["share"].chunks is not None) == bool(chunks) for each in (weeks, second))
    for n, record in enumerate(alone):
        own = sweep_weeks(RAISED, record, (4, 6)), second_crop(IN_PLACE, record)
        for found, single in zip((weeks, second), own, strict=True):
            for name in ("harvested", "share"):
                npt.assert_array_equal(found[name].isel(station=n), single[name])


def test_what_cannot_be_planned_is_refused(record):
    with pytest.raises(ValueError, match=r"every_days must lie between 1 and 365, got 0"):
        succession(IN_PLACE, record, 0)
    with pytest.raises(ValueError, match=r"least_odds is a share above 0 and at most 1, got 70"):
        succession(IN_PLACE, record, least_odds=70)
    with pytest.raises(ValueError, match=r"odds must lie between 0 and 1.*got 1\.0"):
        second_crop(IN_PLACE, record, 1.0)
    with pytest.raises(ValueError, match=r"both weeks and a cover.*weeks_under_cover=4"):
        sweep_weeks(IN_PLACE, record)
    with pytest.raises(ValueError, match=r"weeks_under_cover must be whole weeks.* got 23"):
        sweep_weeks(RAISED, record, (6, 23))
    with pytest.raises(ValueError, match="no plan to grow"):
        sweep_weeks(RAISED, record, ())
    both = side_by_side(record, at(weather(2)))
    for ask in (
        lambda: succession(IN_PLACE, both),
        lambda: at_best_date(RAISED, both),
    ):
        with pytest.raises(ValueError, match=r"one place, got dimensions .*station"):
            ask()


@pytest.mark.simulated
def test_the_latest_start_is_judged_on_years_that_did_not_choose_it(record):
    found = second_crop(IN_PLACE, record, 0.7)
    begin = coldest_day(record).item()
    begin = begin if begin <= 183 else begin - DAYS
    season = [(day - 1) % DAYS for day in range(begin + DAYS // 2, begin + DAYS)]
    harvested = harvests_by_year(IN_PLACE, record, [day + 1 for day in season])
    hits = years = 0.0
    for block in plain_blocks(len(harvested)):
        others = np.delete(harvested, block, axis=0)
        share = np.nansum(others, 0) / np.maximum((~np.isnan(others)).sum(0), 1)
        latest = np.flatnonzero(share >= 0.7 - 1e-9)[-1]
        hits += np.nansum(harvested[block, latest])
        years += (~np.isnan(harvested[block, latest])).sum()
    assert found["elsewhere_harvested"].item() == pytest.approx(hits)
    assert found["elsewhere_known"].item() == pytest.approx(years)
    assert found["share"] >= 0.7
