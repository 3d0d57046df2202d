"""Weeks under cover, sowings in succession, a second crop: against plain loops over the odds."""

from dataclasses import replace

import numpy as np
import pytest
import xarray as xr
from hypothesis import given
from hypothesis import strategies as st
from records import daily, days, moved, side_by_side, weather

from climwin.climate.freeze import freeze_odds
from climwin.core.seasons import DAYS, coldest_day, day_number
from climwin.crops.catalogue import crop
from climwin.planning.evaluate import best_dates, sweep
from climwin.planning.plan import Plan
from climwin.planning.schedule import _every, at_best_weeks, second_crop, succession, sweep_weeks

RAISED = Plan(crop("cauliflower"), "04-20", 6, "cold frame")
IN_PLACE = Plan(crop("lettuce"), "04-01")


# --- weeks under cover --------------------------------------------------------------------


def test_each_number_of_weeks_is_swept_as_a_plan_of_its_own(champion):
    found = sweep_weeks(RAISED, champion, weeks=(0, 4, 7))
    for weeks in (4, 7):
        own = sweep(replace(RAISED, weeks_under_cover=weeks), champion)
        xr.testing.assert_equal(found.sel(weeks=weeks, drop=True), own)
    in_place = sweep(Plan(RAISED.crop, "04-20"), champion)
    xr.testing.assert_equal(found.sel(weeks=0, drop=True), in_place)
    assert (found.attrs["crop"], found.attrs["cover"]) == ("cauliflower", "cold frame")


@pytest.mark.parametrize("place", ["champion", "tunis"])
def test_best_weeks_are_those_of_a_plain_search(place, request):
    record = request.getfixturevalue(place)
    ranked = []
    for weeks in (4, 5, 6, 7, 8):
        swept = sweep(replace(RAISED, weeks_under_cover=weeks), record)
        first, last = best_dates(swept)
        run = (last - first) % DAYS
        ranked.append((-swept["share"].max().item(), -run, weeks, first + run // 2))
    _, _, weeks, middle = min(ranked)
    best = at_best_weeks(RAISED, record)
    assert best.weeks_under_cover == weeks
    assert day_number(best.start) == (middle - 1) % DAYS + 1
    assert (best.crop, best.cover) == (RAISED.crop, RAISED.cover)


def test_sown_in_place_may_be_best():
    assert at_best_weeks(RAISED, weather(), weeks=(0,)).cover == "none"


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
    assert _every(np.zeros(DAYS, dtype=bool), 14) == []


def test_sowings_keep_the_odds_of_their_dates(albany):
    found, swept = succession(IN_PLACE, albany, 10, least_odds=0.6), sweep(IN_PLACE, albany)
    assert found.sizes["sowing"] > 3
    assert found["sowing"].values.tolist() == [*range(1, found.sizes["sowing"] + 1)]
    assert (found["share"] >= 0.6).all()
    for name in swept:
        own = swept[name].sel(start_day=found["start_day"].values)
        np.testing.assert_array_equal(found[name], own)
    # Lettuce: 4 + 21 + 25 + 20 days, the first day and the last both counted.
    assert IN_PLACE.crop.days == 70
    np.testing.assert_array_equal(found["finish_day"], found["start_day"] + 69)
    fewest, most = (
        sum(getattr(stage.days, end) for stage in IN_PLACE.crop.stages)
        for end in ("fewest", "most")
    )
    np.testing.assert_array_equal(found["finish_first"], found["start_day"] + fewest - 1)
    np.testing.assert_array_equal(found["finish_last"], found["start_day"] + most - 1)


def test_no_sowing_where_the_odds_are_never_so_good(albany):
    assert succession(Plan(crop("eggplant"), "05-01"), albany).sizes["sowing"] == 0


# --- a second crop ------------------------------------------------------------------------


def plain_second(plan, record, odds):
    """Backwards, day by day, from the killing freeze to the coldest day of winter."""
    limit = plan.crop.stages[-1].survives.low_c
    freeze = freeze_odds(record, limit, levels=[1 - odds])["first_autumn"].item()
    swept = sweep(plan, record)["share"].values
    begin = coldest_day(record).item()
    begin = begin if begin <= 183 else begin - DAYS
    day, latest = begin + DAYS - 1, np.nan
    if not np.isnan(freeze):
        latest = day = int(np.floor(freeze)) - plan.crop.days
        day = min(day, begin + DAYS - 1)
    while day >= begin:
        if swept[(day - 1) % DAYS] >= odds - 1e-9:
            return freeze, latest, day, swept[(day - 1) % DAYS]
        day -= 1
    return freeze, latest, np.nan, np.nan


@pytest.mark.parametrize("odds", [0.5, 0.8])
@pytest.mark.parametrize("plan", [RAISED, IN_PLACE], ids=lambda plan: plan.crop.name)
@pytest.mark.parametrize("place", ["albany", "tunis", "brussels"])
def test_second_crop_is_a_plain_search(place, plan, odds, request):
    record = request.getfixturevalue(place)
    found = second_crop(plan, record, odds)
    got = [found[name].item() for name in ("freeze_day", "latest_day", "start_day", "share")]
    np.testing.assert_array_equal(got, plain_second(plan, record, odds))
    if not np.isnan(found["start_day"]):
        swept = sweep(plan, record).sel(start_day=(found["start_day"].item() - 1) % DAYS + 1)
        for name in ("succeeded", "known", "low", "high"):
            assert found[name].item() == swept[name].item()


def test_second_crop_is_finished_the_day_before_the_freeze():
    # Warm until 1 November of every year, then frozen until April: killed on day 305.
    time = days("1999-01-01", "2004-12-31")
    day = xr.DataArray(time, dims="time").dt.dayofyear.values
    month = time.astype("datetime64[M]").astype(int) % 12 + 1
    tmin = np.where((month >= 4) & (month <= 10), 9.0, -9.0)
    tmax = tmin + 10 + np.cos(2 * np.pi * (day - 196) / 365)
    record = daily(time, tmin=tmin, tmax=tmax, tmean=(tmin + tmax) / 2)
    found = second_crop(IN_PLACE, record)
    assert found["freeze_day"] == 305
    assert found["latest_day"] == found["start_day"] == 305 - 70
    assert found["share"] == 1


@pytest.mark.parametrize("place", ["albany", "invented"])
def test_second_crop_where_it_never_is_so_warm(place, request):
    invented = place == "invented"
    record = weather(mean=6.0, years=6) if invented else request.getfixturevalue(place)
    found = second_crop(Plan(crop("eggplant"), "05-01"), record, 0.9)
    assert not np.isnan(found["latest_day"])
    assert np.isnan(found[["start_day", "share", "known"]].to_array()).all()


# --- stations, dask, the south ------------------------------------------------------------


@pytest.mark.parametrize("chunks", [None, 1], ids=["at once", "lazily"])
def test_stations_pass_through(chunks):
    alone = weather(1, gaps=0.02), weather(2, coldest=202), weather(3, mean=19.0)
    both = side_by_side(*alone)
    both = both.chunk(station=chunks) if chunks else both
    weeks, second = sweep_weeks(RAISED, both, (4, 6)), second_crop(IN_PLACE, both)
    assert all((each["share"].chunks is not None) == bool(chunks) for each in (weeks, second))
    for n, record in enumerate(alone):
        for found, own in (
            (weeks, sweep_weeks(RAISED, record, (4, 6))),
            (second, second_crop(IN_PLACE, record)),
        ):
            part = found.isel(station=n).drop_vars("station").compute()
            for name in ("succeeded", "share") if found is weeks else found:
                np.testing.assert_array_equal(part[name], own[name])


def test_southern_half_is_half_a_year_later():
    year = weather(5, 1).isel(time=slice(0, 365))
    time = days("2001-01-01", "2003-12-31")
    north = daily(time, **{name: np.tile(year[name], 3) for name in year})
    south = moved(north)
    n, s = (second_crop(IN_PLACE, record) for record in (north, south))
    assert (s["start_day"] - n["start_day"]) % DAYS == 182
    assert (s["freeze_day"] - n["freeze_day"]) % DAYS == 182


# --- bad input ----------------------------------------------------------------------------


def test_what_cannot_be_planned_is_refused():
    record = weather()
    with pytest.raises(ValueError, match=r"every_days must lie between 1 and 365, got 0"):
        succession(IN_PLACE, record, 0)
    with pytest.raises(ValueError, match=r"least_odds is a share above 0 and at most 1, got 70"):
        succession(IN_PLACE, record, least_odds=70)
    with pytest.raises(ValueError, match=r"odds must lie between 0 and 1.*got 1\.0"):
        second_crop(IN_PLACE, record, 1.0)
    with pytest.raises(ValueError, match=r"both weeks and a cover.*weeks_under_cover=4"):
        sweep_weeks(IN_PLACE, record)
    with pytest.raises(ValueError, match=r"weeks_under_cover must lie between 0 and 12.*got 13"):
        sweep_weeks(RAISED, record, (6, 13))
    with pytest.raises(ValueError, match="no plan to judge"):
        sweep_weeks(RAISED, record, ())
    both = side_by_side(record, weather(2))
    for ask in (lambda: succession(IN_PLACE, both), lambda: at_best_weeks(RAISED, both)):
        with pytest.raises(ValueError, match=r"one place, got dimensions .*station"):
            ask()
