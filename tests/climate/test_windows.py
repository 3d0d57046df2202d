"""Usable days and windows of every year against plain loops, real places and brute force."""

import warnings
from typing import NamedTuple

import following
import numpy as np
import numpy.testing as npt
import pandas as pd
import pytest
import records
import scipy.stats
import smoothing
import xarray as xr
from hypothesis import given, settings
from hypothesis import strategies as st
from records import (
    HALF_A_YEAR,
    common_years,
    daily,
    days,
    filled,
    missing,
    moved,
    same_usual_year,
    side_by_side,
    weather,
    weathers,
)

from climwin.climate._windows_kernel import BRIDGED_DAYS, MARGIN_DAYS, WINDOW_PARTS
from climwin.climate.heat import hours_within
from climwin.climate.imputation import drawn_grids
from climwin.climate.usable import CRITERIA, running_mean, running_mean_bounds, usable_days
from climwin.climate.windows import (
    _odds_shorter_kernel,
    _station_kernel,
    odds_shorter,
    usable_windows,
)
from climwin.core.errors import DataGapError
from climwin.core.seasons import (
    DAYS,
    ONE_DAY,
    by_year,
    date_of,
    every_day,
    offset,
    seen_range,
    smoothed,
    smoothed_year,
)
from climwin.core.stats import kernel_share_above
from climwin.crops.bands import bearable_band
from climwin.crops.catalogue import crop
from climwin.crops.model import Limits


def band(low, high):
    return Limits(low_c=low, high_c=high, source="test")


COOL, MILD, WARM = band(7.23, 17.07), band(3.02, 24.03), band(15.02, 28.03)
"""Between tenths, so that rounding decides nothing."""
BANDS = st.sampled_from([COOL, MILD, WARM])
KILLED = st.sampled_from([-np.inf, -4.4, 0.0])


USABLE = band(7.23, 18.07)


def with_gaps_filled(grid, beyond):
    """Values of the record, each gap, and 3 days past either end, with what `beyond` has."""
    series = np.where(np.isnan(grid), beyond, grid).ravel()
    return np.concatenate([beyond[-3:], series, beyond[:3]])


# --- the running mean ---------------------------------------------------------------------


def test_running_mean_is_pandas_own_away_from_the_ends():
    grid = by_year(weather(1)["tmean"]).values
    oracle = pd.Series(grid.ravel()).rolling(7, center=True).mean().to_numpy()
    mean = running_mean(grid, np.zeros(DAYS)).ravel()
    npt.assert_allclose(mean[3:-3], oracle[3:-3], atol=1e-12)


def test_running_mean_takes_what_stands_beyond_the_record():
    beyond = np.arange(1.0, DAYS + 1)
    mean = running_mean(np.zeros((1, DAYS)), beyond)
    assert mean[0, 0] == pytest.approx((363 + 364 + 365) / 7)
    assert mean[0, -1] == pytest.approx((1 + 2 + 3) / 7)
    assert mean[0, 10] == 0


@given(weathers(gaps=0.05))
@settings(max_examples=10)
def test_running_mean_bounds_are_the_extreme_fills(record):
    grid = by_year(record["tmean"]).values
    for found, beyond in zip(running_mean_bounds(grid), seen_range(grid), strict=True):
        series = with_gaps_filled(grid, beyond)
        expected = [series[i : i + 7].mean() for i in range(grid.size)]
        npt.assert_allclose(found.ravel(), expected, atol=1e-9)


# --- the criteria -------------------------------------------------------------------------


@given(weathers(gaps=0.05), st.sampled_from([USABLE, band(-2.01, 9.03), band(14.02, 31.0)]))
@settings(max_examples=15)
def test_days_by_mean_are_a_plain_loop(record, limits):
    grid = by_year(record["tmean"]).values
    low, high = (with_gaps_filled(grid, beyond) for beyond in seen_range(grid))
    found = usable_days(record, limits)
    for day in range(0, grid.size, 5):
        least, greatest = low[day : day + 7].mean(), high[day : day + 7].mean()
        sure = limits.low_c - 0.05 <= least and greatest <= limits.high_c + 0.05
        possible = greatest >= limits.low_c - 0.05 and least <= limits.high_c + 0.05
        assert found["sure"].values.ravel()[day] == sure
        assert found["possible"].values.ravel()[day] == possible


@given(weathers(gaps=0.05))
@settings(max_examples=10)
def test_days_by_extremes_are_a_plain_loop(record):
    tmin, tmax = (by_year(record[name]).values for name in ("tmin", "tmax"))
    wide = band(-1.03, 24.02)
    found = usable_days(record, wide, criterion="extremes")
    for year, day in np.argwhere(np.isfinite(tmin + tmax))[::7]:
        inside = wide.low_c - 0.05 <= tmin[year, day] and tmax[year, day] <= wide.high_c + 0.05
        assert found["sure"].values[year, day] == inside
        assert found["possible"].values[year, day] == inside
    (coldest, mildest), (coolest, hottest) = seen_range(tmin), seen_range(tmax)
    for year, day in np.argwhere(np.isnan(tmin)):
        too_hot = tmax[year, day] > wide.high_c + 0.05
        hottest_it_was = hottest[day] if np.isnan(tmax[year, day]) else tmax[year, day]
        coolest_it_was = coolest[day] if np.isnan(tmax[year, day]) else tmax[year, day]
        sure = coldest[day] >= wide.low_c - 0.05 and hottest_it_was <= wide.high_c + 0.05
        possible = mildest[day] >= wide.low_c - 0.05 and coolest_it_was <= wide.high_c + 0.05
        assert found["sure"].values[year, day] == sure
        assert found["possible"].values[year, day] == (possible and not too_hot)


def test_days_by_hours_are_half_of_the_hours_in_the_band():
    record = weather(3, gaps=0.02).assign_attrs(latitude=46.1)
    hours = hours_within(record["tmin"], record["tmax"], 46.1, low=USABLE.low_c, high=USABLE.high_c)
    grid = by_year(hours).values
    found = usable_days(record, USABLE, criterion="hours")
    npt.assert_array_equal(found["sure"], grid >= 12)
    npt.assert_array_equal(found["possible"], (grid >= 12) | np.isnan(grid))
    assert 0.1 < found["sure"].mean() < 0.6


def test_limits_are_met_with_a_little_slack():
    record = weather(1)
    record = record.assign(tmean=xr.full_like(record["tmean"], 7.2))
    for limits, usable in (
        (band(7.24, 9), True),
        (band(7.26, 9), False),
        (band(1, 7.16), True),
        (band(1, 7.14), False),
    ):
        found = usable_days(record, limits).sel(year=2000)
        assert (found["sure"] == usable).all()
        assert (found["possible"] == usable).all()


@given(weathers(gaps=0.05), st.sampled_from(list(CRITERIA)))
@settings(max_examples=10)
def test_a_sure_day_is_a_possible_one_and_without_gaps_they_are_the_same(record, criterion):
    record = record.assign_attrs(latitude=46.1)
    found = usable_days(record, USABLE, criterion=criterion)
    assert (found["possible"] >= found["sure"]).all()
    whole = ~np.isnan(record["tmin"] + record["tmax"])
    near = whole.rolling(time=7, center=True).sum() == 7  # no criterion looks further than 3 days
    near = by_year(near.astype(float).rename("near")) == 1
    npt.assert_array_equal(found["sure"].where(near), found["possible"].where(near))


def test_gap_matters_within_three_days_alone():
    # At the end of March this place may be warm enough or too cold, so each of 7 means is in doubt.
    record = weather(1)
    whole, gap = (usable_days(r, USABLE) for r in (record, missing(record, "2000-03-29")))
    doubt = (gap["possible"] & ~gap["sure"]).values & (whole["possible"] == whole["sure"]).values
    assert np.argwhere(doubt).tolist() == [[1, 88 - 1 + n] for n in range(-3, 4)]
    assert (whole == gap).where(~doubt, True).to_dataarray().all()


# --- usable days: stations, dask, the south -----------------------------------------------


@pytest.mark.parametrize("criterion", list(CRITERIA))
def test_usable_days_of_stations_pass_through(criterion):
    alone = weather(1, gaps=0.02), weather(2, gaps=0.02, coldest=202)
    alone = [r.assign_coords(latitude=deg) for r, deg in zip(alone, (46.1, -41.3), strict=True)]
    found = usable_days(side_by_side(*alone), USABLE, criterion=criterion)
    for n, record in enumerate(alone):
        own = usable_days(record, USABLE, criterion=criterion)
        for name in ("sure", "possible"):
            npt.assert_array_equal(found[name][n], own[name])


@pytest.mark.parametrize("criterion", list(CRITERIA))
def test_lazy_usable_days_stay_lazy(criterion):
    both = side_by_side(weather(1, gaps=0.02), weather(2, coldest=202)).assign_attrs(latitude=46.1)
    lazy = usable_days(both.chunk(station=1, time=300), USABLE, criterion=criterion)
    assert lazy["sure"].chunks is not None
    xr.testing.assert_equal(lazy.compute(), usable_days(both, USABLE, criterion=criterion))


@given(weathers())
@settings(max_examples=5)
def test_southern_usable_days_are_the_same_half_a_year_later(record):
    north, south = (
        usable_days(r, USABLE)["sure"].values.ravel() for r in (common_years(record), moved(record))
    )
    inside = slice(3, common_years(record).sizes["time"] - 3)  # within 3 days of an end it matters
    npt.assert_array_equal(north[inside], south[HALF_A_YEAR:][inside])


# --- usable days: errors ------------------------------------------------------------------


def test_unknown_criterion_of_usable_days_is_refused():
    with pytest.raises(ValueError, match="one of mean, extremes, hours; got 'median'"):
        usable_days(weather(), USABLE, criterion="median")


def test_hours_need_the_latitude():
    with pytest.raises(
        ValueError, match=r"Hours need the latitude.*daily.attrs\['latitude'\] = 46.1"
    ):
        usable_days(weather(), USABLE, criterion="hours")


def test_what_the_criterion_needs_must_be_there():
    with pytest.raises(
        ValueError, match=r"no 'tmean' \(daily mean air temperature\); it holds tmin, tmax"
    ):
        usable_days(weather().drop_vars("tmean"), USABLE)


# --- a plain loop -------------------------------------------------------------------------


class Window(NamedTuple):
    start: int = -1
    end: int = -1
    length: int = 0
    usable: int = 0


def runs(usable, closed):
    """Every window of a season: usable days, up to 3 others between them, none of them closed."""
    windows, start, last, count = [], None, None, 0
    for day in range(DAYS):
        if closed[day] or (last is not None and day - last - 1 > BRIDGED_DAYS):
            if start is not None:
                windows.append(Window(start, last, last - start + 1, count))
            start, last, count = None, None, 0
        if usable[day] and not closed[day]:
            start = day if start is None else start
            last, count = day, count + 1
    if start is not None:
        windows.append(Window(start, last, last - start + 1, count))
    return windows


def longest(windows):
    return max(windows, key=lambda w: (w.length, -w.start), default=Window())


def parts(windows, extreme, cold, has_two):
    early = [w for w in windows if w.start < extreme - MARGIN_DAYS]
    late = [w for w in windows if w.end >= extreme + MARGIN_DAYS]
    rise, fall = (early, late) if cold else (late, early)
    halves = [longest(rise), longest(fall)] if has_two else [Window(), Window()]
    return [longest(windows), *halves]


def crop_year(usual, limits):
    """Day of the year of the cut, days on to the extreme, whether it is cold, and has two."""
    outside = [max(limits.low_c - t, t - limits.high_c) for t in usual]
    cut = int(np.argmax(outside))
    cold = limits.low_c - usual[cut] >= usual[cut] - limits.high_c
    other = int(np.argmax(usual) if cold else np.argmin(usual))
    return cut + 1, (other - cut) % DAYS, cold, outside[other] > 0.05


def closed_days(kills, extreme, cold, has_two):
    """Days that no window may touch, for freezes that kill the crop."""
    closed = list(kills)
    if cold or has_two:
        rise = range(extreme) if cold else range(extreme, DAYS)
        fall = range(extreme, DAYS) if cold else range(extreme)
        last = max((d for d in rise if kills[d]), default=None)
        first = min((d for d in fall if kills[d]), default=None)
        for day in rise:
            closed[day] = last is not None and day <= last
        for day in fall:
            closed[day] = first is not None and day >= first
    return closed


def padded(record):
    """The record with a year without values on either side."""
    first, last = record["time"].values[[0, -1]].astype("datetime64[D]")
    return record.reindex(time=every_day(first - 366 * ONE_DAY, last + 366 * ONE_DAY))


def plain_windows(record, limits, killed_at):
    """Worst and best of each part, by season: what gaps, and the record's ends, leave open."""
    record = padded(record)
    masks = usable_days(record, limits)
    tmean, tmin = by_year(record["tmean"]), by_year(record["tmin"]).values
    first, *year = crop_year(smoothed_year(tmean).values, limits)
    kills = tmin <= killed_at + 0.05
    may_kill = kills | (np.isnan(tmin) & (seen_range(tmin)[0] <= killed_at + 0.05))
    sure, possible = masks["sure"].values, masks["possible"].values

    def search(usable, kills, number):
        since = number * DAYS + int(offset(first))
        usable, kills = (mask.ravel()[since : since + DAYS] for mask in (usable, kills))
        return parts(runs(usable, closed_days(kills, *year)), *year)

    measured = ~(np.isnan(tmin) | np.isnan(tmean.values)).ravel()
    for number, season in enumerate(tmean["year"].values[1:-1], start=1):
        since = number * DAYS + int(offset(first))
        is_told = measured[since : since + DAYS].mean() >= 0.5
        yield season, search(sure, may_kill, number), search(possible, kills, number), is_told


def check_against_the_loop(record, limits, killed_at):
    found = usable_windows(record, limits, killed_at=killed_at)
    shift = int(offset(found["first_day"])) + 1
    plain = {season: both for season, *both in plain_windows(record, limits, killed_at)}
    row = {season: n for n, season in enumerate(found["season"].values)}
    values = {name: found[name].values for name in found}
    for season, n in row.items():
        *ends, is_told = plain[season]
        for part, (worst, best) in enumerate(zip(*ends, strict=True)):
            status = "unknown" if worst != best else "observed" if worst.length else "none"
            assert values["status"][n, part] == status
            there = found["has_two_windows"] or WINDOW_PARTS[part] == "longest"
            known = status != "unknown" and there
            bounds = [worst.length, best.length] if there else [np.nan] * 2
            if there and worst != best and not is_told:
                bounds = [0, DAYS]  # it could be anything
            for name, bound in zip(("length_least", "length_most"), bounds, strict=True):
                npt.assert_equal(values[name][n, part], bound)
            npt.assert_equal(values["length"][n, part], worst.length if known else np.nan)
            npt.assert_equal(values["usable_days"][n, part], worst.usable if known else np.nan)
            for name, day in (("start", worst.start), ("end", worst.end)):
                there = status == "observed"
                date = date_of(season, shift + day) if there else np.datetime64("NaT", "D")
                npt.assert_equal(values[name][n, part].astype("datetime64[D]"), date)


@given(weathers(), BANDS, KILLED)
@settings(max_examples=25)
def test_windows_are_those_of_a_plain_loop(record, limits, killed_at):
    check_against_the_loop(record, limits, killed_at)


@pytest.mark.parametrize("killed_at", [0.0, -9.0])
@pytest.mark.parametrize("limits", [COOL, MILD, WARM])
@pytest.mark.parametrize("mean", [9.0, 19.0])
def test_killing_freezes_of_every_kind_of_year(mean, limits, killed_at):
    """A year split, whole in summer, whole in winter; a freeze about its extreme, too."""
    record = weather(7, years=4, mean=mean, swing=9.0, gaps=0.0)
    cut, extreme, *_ = crop_year(smoothed_year(by_year(record["tmean"])).values, limits)
    year = np.arange(1999, 2004)
    extremes = date_of(year, cut + extreme + year % 3 - 1)  # a day before, on the day, a day after
    cold = record["time"].isin(extremes.astype("datetime64[s]"))
    record["tmin"] = record["tmin"].where(~cold, -20.0)
    check_against_the_loop(record, limits, killed_at)


@given(weathers(gaps=0.05), BANDS)
@settings(max_examples=15)
def test_average_window_is_that_of_a_plain_loop(record, limits):
    grid = by_year(record["tmean"]).values
    with warnings.catch_warnings(action="ignore"):  # a day that no year has
        mean = np.nanmean(grid, axis=0)
    curve = [sum(mean[(day + n) % DAYS] for n in range(-3, 4)) / 7 for day in range(DAYS)]
    usable = [limits.low_c - 0.05 <= t <= limits.high_c + 0.05 for t in curve]
    first, *year = crop_year(smoothed(grid), limits)
    of_season = [usable[(first - 1 + day) % DAYS] for day in range(DAYS)]
    found = usable_windows(record, limits)
    shift = int(offset(first)) + 1
    for part, window in zip(
        WINDOW_PARTS, parts(runs(of_season, [False] * DAYS), *year), strict=True
    ):
        one = found.sel(part=part)
        assert one["average_length"] == window.length
        expected = [window.start + shift, window.end + shift] if window.length else [np.nan] * 2
        npt.assert_array_equal([one["average_start_day"], one["average_end_day"]], expected)


def test_days_that_no_year_has_are_in_no_average_window():
    record = weather(1, swing=5.0).where(lambda r: r["time"].dt.month != 6)
    found = usable_windows(record, band(-9, 30)).sel(part="longest")
    # Every other day can be used; so the window begins with the first mean that does not look at
    # 30 June, day 181, and ends where the year is cut.
    assert found["average_start_day"] == 181 + 3 + 1
    assert found["average_end_day"] == found["first_day"] - 1 + DAYS


# --- what a gap could change --------------------------------------------------------------


@given(weathers(gaps=0.02, years=4), BANDS, KILLED, st.integers(0, 2**32 - 1))
@settings(max_examples=20)
def test_nothing_that_has_been_seen_could_change_a_known_window(record, limits, killed_at, seed):
    before = usable_windows(record, limits, killed_at=killed_at)
    with same_usual_year(record, "tmean"):
        after = usable_windows(filled(padded(record), seed), limits, killed_at=killed_at)
    after = after.sel(season=before["season"])
    known = before["status"] != "unknown"
    for name in ("start", "end", "length", "usable_days"):
        npt.assert_array_equal(before[name].where(known), after[name].where(known))
    # And where it is unknown, what came out lies between the bounds that were given.
    assert not (after["length_least"] < before["length_least"]).any()
    assert not (after["length_most"] > before["length_most"]).any()


def wave(first="2000-01-01", last="2003-12-31", mean=10.0, swing=12.0):
    time = days(first, last)
    return time, mean - swing * np.cos(2 * np.pi * (np.arange(len(time)) - 20) / 365.25)


def test_gap_far_from_the_window_changes_nothing():
    # A crop of the cool weeks: 20 August is midsummer, outside the band by 4 degC and more.
    time, tmean = wave()
    record = daily(time, tmean=tmean, tmin=tmean - 5)
    found, gap = (usable_windows(r, COOL) for r in (record, missing(record, "2001-08-01")))
    assert (found["has_two_windows"]).all()
    xr.testing.assert_equal(found, gap)


def test_a_year_that_was_hardly_measured_is_evidence_of_nothing():
    """Other years bound what its days may have been, but that is known of them already."""
    record = weather(3, years=6, mean=15.0, swing=8.0, gaps=0.0)
    years = record["time"].dt.year
    for name in ("tmin", "tmax", "tmean"):
        record[name] = record[name].where(years != 2001)
    found = usable_windows(record, MILD, killed_at=-9.0).sel(part="longest")
    others = found["season"].values != 2001
    assert (found["length_least"].values[others] > 5).all()
    lost = found.sel(season=2001)
    assert (lost["length_least"], lost["length_most"], lost["status"]) == (0, DAYS, "unknown")
    odds = odds_shorter(found, 5)
    assert (int(odds["known"]), int(odds["unknown"])) == (others.sum(), 1)


def test_gap_at_the_edge_leaves_the_length_unknown_within_bounds():
    time, tmean = wave()
    rng = np.random.default_rng(1)
    record = daily(time, tmean=tmean + rng.normal(0, 3, len(time)), tmin=tmean - 5)
    whole = usable_windows(record, MILD).sel(season=2001, part="longest")
    start = str(whole["start"].values.astype("datetime64[D]"))
    gap = usable_windows(missing(record, start), MILD).sel(season=2001, part="longest")
    assert gap["status"] == "unknown"
    assert np.isnat(gap["start"].values)
    assert gap["length_least"] < gap["length_most"]
    assert gap["length_least"] <= whole["length"] <= gap["length_most"]


# --- the rules by hand --------------------------------------------------------------------


def window_2001(usable, killed_at=-np.inf, killing=()):
    """Longest window of 2001 where from 1 April on a day is usable as given, and others are not."""
    time = days("2000-01-01", "2002-12-31")
    start = np.flatnonzero(time == np.datetime64("2001-04-01"))[0]
    _, tmean = wave("2000-01-01", "2002-12-31")
    tmin, tmax = np.full(len(time), 2.0), np.full(len(time), 30.0)  # too warm by day
    tmax[start : start + len(usable)] = np.where(usable, 20.0, 30.0)
    tmin[start + np.array(killing, int)] = -2.0
    record = daily(time, tmin=tmin, tmax=tmax, tmean=tmean)
    found = usable_windows(record, band(-2.5, 25), criterion="extremes", killed_at=killed_at)
    one = found.sel(season=2001, part="longest")
    first = (one["start"].values.astype("datetime64[D]") - time[start]).astype(int)
    return int(first), int(one["length"]), int(one["usable_days"])


def test_up_to_three_days_are_bridged_and_no_more():
    yes, no = [True], [False]
    assert window_2001(yes * 5 + no * 3 + yes * 4) == (0, 12, 9)
    assert window_2001(yes * 5 + no * 4 + yes * 4) == (0, 5, 5)
    assert window_2001(yes * 2 + no * 3 + yes + no * 3 + yes * 2 + no * 3) == (0, 11, 5)


def test_of_equal_windows_the_earlier_counts():
    assert window_2001([True] * 5 + [False] * 9 + [True] * 5)[0] == 0


def test_window_begins_after_the_last_killing_freeze():
    # A freeze on the 4th day shuts all days up to it; one that only nips changes nothing.
    assert window_2001([True] * 30, killed_at=-2.0, killing=[3]) == (4, 26, 26)
    assert window_2001([True] * 30, killed_at=-2.1, killing=[3]) == (0, 30, 30)
    # No window reaches over it, short as the break would be.
    assert window_2001([True] * 30, killed_at=-2.0, killing=[3, 12]) == (13, 17, 17)


def test_crop_brings_its_own_band_and_limit(champion):
    plant = crop("cauliflower")
    own = usable_windows(champion, plant)
    band = bearable_band(plant)
    given_by_hand = usable_windows(champion, band, killed_at=plant.killed_at_c)
    xr.testing.assert_equal(own, given_by_hand)
    assert own.attrs["crop"] == "cauliflower"
    assert own.attrs["low_c"] == band.low_c
    assert own.attrs["killed_at_c"] == plant.killed_at_c
    assert {own[name].attrs["units"] for name in ("length", "average_length")} == {"days"}
    assert odds_shorter(own, 60).attrs["need_days"] == 60


# --- real places --------------------------------------------------------------------------


def test_cool_crop_runs_through_the_winter_of_tunis(tunis):
    # Potato's band of daily means. The coldest week of Tunis is mild, its summer is not.
    found = usable_windows(tunis, band(7.2, 21.1))
    assert not found["has_two_windows"]
    cut = date_of(2001, found["first_day"]).astype(str)
    assert "2001-07-15" < cut < "2001-08-31"
    known = found.sel(part="longest").where(
        found["status"].sel(part="longest") == "observed", drop=True
    )
    assert known.sizes["season"] >= 20
    midwinter = date_of(known["season"].values, 1)
    start, end = (known[name].values.astype("datetime64[D]") for name in ("start", "end"))
    through = (start < midwinter - 14 * ONE_DAY) & (end > midwinter + 45 * ONE_DAY)
    assert through.mean() > 0.8
    assert known["length"].median() > 150
    rise_and_fall = found.sel(part=["rise", "fall"])
    assert (rise_and_fall["status"] == "none").all()


def test_hot_summer_splits_the_year_of_a_cool_crop(champion):
    found = usable_windows(champion, band(7.2, 18.0))
    assert found["has_two_windows"]
    average = found["average_length"]
    assert average.sel(part="longest") == average.sel(part=["rise", "fall"]).max()
    start, end = (found[name] for name in ("start", "end"))
    rise, fall = start.sel(part="rise"), start.sel(part="fall")
    both = (found["status"].sel(part=["rise", "fall"]) == "observed").all("part")
    assert both.sum() >= 25
    assert (end.sel(part="rise") <= fall).where(both, True).mean() > 0.8  # else one runs through
    assert (rise.dt.month.where(both, 4) <= 6).all()
    assert (
        (found["length"].sel(part="longest") >= found["length"].max("part")).where(both, True).all()
    )


def test_window_of_the_average_is_not_the_average_window(champion):
    found = usable_windows(champion, band(7.2, 18.0)).sel(part="rise")
    assert found["length"].mean() < found["average_length"]


# --- what must not matter -----------------------------------------------------------------


@given(weathers(gaps=0.01), BANDS, st.floats(-10, 0), st.floats(0, 5))
@settings(max_examples=10)
def test_hardier_crop_never_has_a_shorter_window(record, limits, killed_at, hardier):
    tender, hardy = (
        usable_windows(record, limits, killed_at=k) for k in (killed_at, killed_at - hardier)
    )
    for name in ("length_least", "length_most"):
        hardy_length, tender_length = (each[name].sel(part="longest") for each in (hardy, tender))
        assert (hardy_length >= tender_length).all()
        assert not (hardy[name] < tender[name]).any()


@given(weathers(), BANDS, KILLED)
@settings(max_examples=10)
def test_southern_windows_are_the_same_half_a_year_later(record, limits, killed_at):
    north, south = (
        usable_windows(r, limits, killed_at=killed_at)
        for r in (common_years(record), moved(record))
    )
    assert (south["first_day"] - north["first_day"]) % DAYS == HALF_A_YEAR
    # The south's last calendar year, of which half was seen, has a row of its own: known only
    # where nothing that was ever seen in the other half could change it.
    more = south.isel(season=slice(north.sizes["season"], None))
    for seed in range(3):
        with same_usual_year(moved(record), "tmean"):
            whole = usable_windows(filled(padded(moved(record)), seed), limits, killed_at=killed_at)
        same = whole["length"].sel(season=more["season"]) == more["length"]
        assert (same | (more["status"] != "observed")).all()
    south = south.isel(season=slice(north.sizes["season"]))
    for name in ("length", "usable_days", "length_least", "length_most", "status"):
        npt.assert_array_equal(north[name], south[name])
    npt.assert_array_equal(north["average_length"], south["average_length"])
    later = (south["average_start_day"] - north["average_start_day"]) % DAYS
    assert set(later.values[~np.isnan(later)]) <= {HALF_A_YEAR}


# --- drawn days, what was asked for -------------------------------------------------------


@pytest.mark.parametrize("criterion", ["mean", "extremes"])
@pytest.mark.parametrize("coldest", [20, 202])
def test_drawn_lengths_are_those_of_each_record_that_is_drawn(criterion, coldest):
    record = weather(8, years=4, gaps=0.2, coldest=coldest)
    given_ = {"criterion": criterion, "killed_at": -1.0}
    found = usable_windows(record, [COOL, MILD], **given_)
    grids = {name: by_year(record[name]) for name in ("tmin", "tmax", "tmean")}
    held = drawn_grids({name: grid.values for name, grid in grids.items()})
    calendar = [date_of(year, np.arange(1, DAYS + 1)) for year in grids["tmin"]["year"].values]
    is_open = found["status"] == "unknown"
    compared, differ = 0, 0
    for draw in (0, 7, 19):
        values = {name: each[draw].ravel() for name, each in held.items()}
        with same_usual_year(record, "tmean"):
            plain = usable_windows(
                daily(np.concatenate(calendar), **values), [COOL, MILD], with_draws=False, **given_
            )
        mine = found["length_drawn"].isel(draw=draw).where(is_open)
        known = np.isfinite(mine) & np.isfinite(plain["length"])
        npt.assert_array_equal(mine.where(known), plain["length"].where(known))
        compared += int(known.sum())
        differ += int((mine != found["length_drawn"].isel(draw=1)).where(known, False).sum())
    assert compared >= 12
    assert differ >= 3


@pytest.mark.parametrize(("lost", "is_drawn"), [(180, True), (190, False)])
def test_a_season_is_drawn_if_half_of_it_was_measured(lost, is_drawn):
    record = weather(3, years=5)
    gone = missing(record, *days("2001-03-01", "2001-12-31")[:lost].astype(str))
    drawn = np.isfinite(usable_windows(gone, MILD)["length_drawn"].sel(part="longest"))
    assert drawn.sel(season=2001).all() == drawn.sel(season=2001).any() == is_drawn
    assert drawn.sel(season=[2000, 2002]).all()


def test_a_crop_brings_its_limits_and_a_band_has_none_that_kills():
    record, plant = weather(1, years=3), crop("cauliflower")
    own = bearable_band(plant)
    of_crop = usable_windows(record, plant)
    assert {key: of_crop.attrs[key] for key in ("crop", "low_c", "high_c", "killed_at_c")} == {
        "crop": "cauliflower",
        "low_c": own.low_c,
        "high_c": own.high_c,
        "killed_at_c": plant.killed_at_c,
    }
    assert of_crop.attrs["criterion"] == "mean"
    assert usable_windows(record, plant, killed_at=-3.0).attrs["killed_at_c"] == -3
    of_band = usable_windows(record, COOL)
    assert (of_band.attrs["crop"], of_band.attrs["killed_at_c"]) == ("", -np.inf)
    both = usable_windows(record, [plant, COOL], killed_at=-3.0)
    assert both["crop"].values.tolist() == ["cauliflower", "7.23 to 17.07 degC"]
    assert both.attrs["killed_at_c"] == [-3, -3]
    xr.testing.assert_equal(
        both.isel(crop=0).drop_vars("crop"), usable_windows(record, plant, killed_at=-3.0)
    )


def test_results_have_units():
    record = weather(2, years=3)
    found = usable_windows(record, COOL)
    for name, values in found.data_vars.items():
        text = str(name)
        if text in ("start", "end", "status", "has_two_windows"):
            expected = None
        else:
            expected = "day of the year" if text.endswith("_day") else "days"
        assert values.attrs.get("units") == expected, name


@given(st.integers(1, 40), st.integers(0, 99))
@settings(max_examples=15)
def test_odds_too_short_are_the_mean_of_those_of_each_draw(need, seed):
    rng = np.random.default_rng(seed)
    lengths = np.repeat(rng.integers(0, 60, 9)[:, None], 4, axis=1).astype(float)
    lengths[2] = rng.integers(0, 60, 4)
    lengths[3] = [0, 0, 1, 1]  # no window in two draws, and one of a day in the others
    lengths[4, 1] = np.nan  # a draw that cannot tell leaves the year out
    plain = []
    for draw in np.delete(lengths, 4, axis=0).T:
        longer = smoothing.above(np.where(draw > 0, draw, -np.inf), need - 0.5)
        plain.append(1 - min(max(longer, 0.5 / 9), 1 - 0.5 / 9))
    assert _odds_shorter_kernel(lengths, need) == pytest.approx(np.mean(plain))


# --- shorter than needed ------------------------------------------------------------------


def test_odds_shorter_by_hand(champion):
    found = usable_windows(missing(champion, "1990-06-01"), band(7.2, 18.0))
    need = 70
    odds = odds_shorter(found, need)
    for part in WINDOW_PARTS:
        one = found.sel(part=part)
        known = shorter = 0
        for season in one["season"].values:
            least, most = (one[f"length_{side}"].sel(season=season) for side in ("least", "most"))
            if most < need:
                shorter += 1
            known += bool(most < need or least >= need)
        row = odds.sel(part=part)
        assert row["shorter"] == shorter
        assert row["known"] == known
        assert row["unknown"] == one.sizes["season"] - known
        assert row["share"] == shorter / known
        middle = float(row["odds"])
        beta = scipy.stats.beta(middle * known + 0.5, (1 - middle) * known + 0.5)
        npt.assert_allclose((row["low"], row["high"]), beta.ppf([0.05, 0.95]), atol=1e-9)
        assert abs(middle - shorter / known) < 0.06
        held = one["length"].dropna("season")
        slope, *_ = scipy.stats.theilslopes(held, held["season"] / 10, alpha=0.9)
        expected = 10 * np.array(following.trend(held["season"].values, held.values)[:3])
        assert row["trend"] == pytest.approx(slope)
        npt.assert_allclose([row[f"trend{end}"] for end in ("", "_low", "_high")], expected)
    assert 0 < odds["shorter"].sel(part="rise") < odds["known"].sel(part="rise")
    assert odds["trend"].attrs["units"] == "days per decade"
    assert odds["shorter"].attrs["units"] == odds["share"].attrs["units"] == "1"


def test_odds_of_a_window_too_short_by_a_plain_sum(champion):
    found = usable_windows(champion, band(7.2, 18.0)).sel(part="rise")
    lengths = found["length"].values
    assert np.isfinite(lengths).all()
    need = 70
    longer = smoothing.above(np.where(lengths > 0, lengths, -np.inf), need - 0.5)
    assert odds_shorter(found, need)["odds"].item() == pytest.approx(1 - longer)


@pytest.mark.parametrize("criterion", ["mean", "hours"])
def test_without_draws_windows_are_the_same_and_open_years_have_none(criterion):
    record = records.weather(3, 9, gaps=0.1).assign_attrs(latitude=46.1)
    drawn, plain = (
        usable_windows(record, band(7.2, 23.9), criterion=criterion, with_draws=each)
        for each in (True, False)
    )
    xr.testing.assert_identical(plain.drop_dims("draw"), drawn.drop_dims("draw"))
    is_open = plain["status"] == "unknown"
    assert np.isfinite(drawn["length_drawn"].where(is_open)).any()
    assert np.isnan(plain["length_drawn"].where(is_open)).all()


def test_each_draw_of_a_window_weighs_the_same():
    """The odds are the mean of the odds that each draw gives, in a plain loop over all of them."""
    record = records.weather(3, 9, gaps=0.1)
    windows = usable_windows(record, band(7.2, 23.9), killed_at=-2.2).sel(part="longest")
    leaning = 0
    drawn = windows["length_drawn"].where(windows["status"] == "unknown").values
    for need in np.unique(drawn[~np.isnan(drawn)]):
        odds, each_draw = odds_shorter(windows, need), []
        for number in range(windows.sizes["draw"]):
            lengths = windows["length_drawn"].isel(draw=number)
            least, most = windows["length_least"], windows["length_most"]
            is_known = (most < need) | (least >= need)
            sample = ((least + most) / 2).where(is_known, lengths).dropna("season").values
            sample = np.where(sample > 0, sample, -np.inf)
            each_draw.append(1 - kernel_share_above(sample, np.array([need - 0.5]))[0])
        assert float(odds["odds"]) == pytest.approx(np.mean(each_draw))
        leaning += int(odds["leaning"]) * (len(set(each_draw)) > 1)
    assert leaning > 0


def test_never_too_short_so_far_is_not_never(champion):
    odds = odds_shorter(usable_windows(champion, band(-30.0, 45.0)), 40).sel(part="longest")
    assert (odds["shorter"], odds["share"]) == (0, 0)
    assert odds["odds"] > 0.01
    assert odds["high"] > 0.03
    assert odds["next_high"] >= 1


def test_unknown_length_may_still_be_known_to_be_too_short():
    windows = xr.Dataset(
        {
            "length": ("season", [np.nan, np.nan, np.nan, np.nan, 80.0]),
            "length_least": ("season", [40.0, 70.0, 60.0, 60.0, 80.0]),
            "length_most": ("season", [69.0, 99.0, 80.0, 70.0, 80.0]),
        },
        coords={"season": [2001, 2002, 2003, 2004, 2005]},
    )
    odds = odds_shorter(windows, 70)
    assert odds["shorter"] == 1
    assert odds["known"] == 3
    assert odds["unknown"] == 2
    assert np.isnan(odds["trend"])  # one length alone


def test_no_known_year_has_no_share():
    windows = xr.Dataset(
        {
            "length": ("season", [np.nan]),
            "length_least": ("season", [0.0]),
            "length_most": ("season", [365.0]),
        },
        coords={"season": [2001]},
    )
    odds = odds_shorter(windows, 70)
    assert odds["known"] == 0
    assert np.isnan([odds[name] for name in ("share", "low", "high")]).all()


@given(weathers(), BANDS, st.integers(1, 364))
@settings(max_examples=10)
def test_needing_more_days_is_never_less_often_too_short(record, limits, need):
    windows = usable_windows(record, limits)
    less, more = (odds_shorter(windows, n) for n in (need, need + 1))
    assert (more["shorter"] >= less["shorter"]).all()
    there = less.sel(part=[*WINDOW_PARTS] if windows["has_two_windows"] else ["longest"])
    assert (there["known"] + there["unknown"] == windows.sizes["season"]).all()


@pytest.mark.parametrize("criterion", ["mean", "extremes"])
def test_several_crops_are_measured_as_each_alone(criterion):
    record = weather(4, gaps=0.01)
    asked = [COOL, crop("cauliflower"), MILD, WARM]
    together = usable_windows(record, asked, criterion=criterion)
    assert together["crop"].values[1] == "cauliflower"
    for n, one in enumerate(asked):
        alone = usable_windows(record, one, criterion=criterion)
        mine = together.isel(crop=n).drop_vars("crop")
        xr.testing.assert_equal(mine, alone)
        assert together.attrs["low_c"][n] == alone.attrs["low_c"]


# --- stations, dask -----------------------------------------------------------------------


@pytest.mark.parametrize("criterion", ["mean", "extremes"])
def test_stations_pass_through_each_with_its_own_cut(criterion):
    alone = (
        weather(1, gaps=0.01),
        weather(2, gaps=0.01, coldest=202),
        weather(3, mean=18.0, swing=8.0),
    )
    found = usable_windows(side_by_side(*alone), COOL, criterion=criterion, killed_at=-2.2)
    assert len(np.unique(found["first_day"])) == 3
    odds = odds_shorter(found, 60)
    for n, record in enumerate(alone):
        own = usable_windows(record, COOL, criterion=criterion, killed_at=-2.2)
        mine = found.isel(station=n).sel(season=own["season"]).drop_vars("station")
        xr.testing.assert_equal(mine, own)
        if found.sizes["season"] == own.sizes["season"]:
            xr.testing.assert_equal(
                odds.isel(station=n).drop_vars("station"), odds_shorter(own, 60)
            )


def test_a_station_without_values_is_unknown_beside_others():
    record = weather(3, years=3)
    empty = record.where(False)
    found = usable_windows(side_by_side(record, empty), MILD)
    alone = usable_windows(record, MILD)
    silent = found.isel(station=1)
    assert (silent["status"].sel(part="longest") == "unknown").all()
    assert np.isnan(silent["length"]).all()
    assert (silent["length_least"].sel(part="longest") == 0).all()
    assert (silent["length_most"].sel(part="longest") == DAYS).all()
    npt.assert_array_equal(found["length"].isel(station=0), alone["length"])


def test_dask_stays_lazy():
    both = side_by_side(weather(1, gaps=0.01), weather(2, coldest=202))
    lazy = usable_windows(both.chunk(station=1, time=300), COOL, killed_at=-2.2)
    whole = usable_windows(both, COOL, killed_at=-2.2)
    assert all(da.chunks is not None for da in lazy.data_vars.values())
    odds = odds_shorter(lazy, 60)
    assert odds["share"].chunks is not None
    xr.testing.assert_equal(lazy.compute(), whole)
    xr.testing.assert_equal(odds.compute(), odds_shorter(whole, 60))


def test_a_lazy_record_is_searched_once(monkeypatch):
    searched = []

    def counting(*given):
        kernel = _station_kernel(*given)
        return lambda *grids: searched.append(1) or kernel(*grids)

    monkeypatch.setattr("climwin.climate.windows._station_kernel", counting)
    found = usable_windows(side_by_side(weather(1), weather(2)).chunk(station=1), COOL)
    assert not searched
    found["length"].load()
    assert len(searched) == 2


# --- errors -------------------------------------------------------------------------------


def test_unknown_criterion_is_refused():
    with pytest.raises(ValueError, match=r"criterion must be .* extremes, hours; got 'sun'"):
        usable_windows(weather(), COOL, criterion="sun")


def test_thin_record_is_refused():
    with pytest.raises(DataGapError, match=r"too thin to have a usual year.*some whole years"):
        usable_windows(weather().isel(time=slice(0, 150)), COOL)


def test_minima_are_needed():
    with pytest.raises(ValueError, match=r"no 'tmin' \(daily minimum air temperature\)"):
        usable_windows(weather().drop_vars("tmin"), COOL)


def test_no_crop_is_refused():
    with pytest.raises(ValueError, match=r"needs a crop or a band.*Give at least one"):
        usable_windows(weather(), [])


@pytest.mark.parametrize("need", [0, -5, 366])
def test_need_must_be_days_of_a_year(need):
    windows = usable_windows(weather(), COOL)
    with pytest.raises(ValueError, match=f"need_days must lie between 1 and 365, got {need}"):
        odds_shorter(windows, need)


def test_a_year_that_nothing_splits_has_no_odds_for_its_halves(tunis):
    odds = odds_shorter(usable_windows(tunis, crop("pea")), 90)
    assert not bool(usable_windows(tunis, crop("pea"))["has_two_windows"])
    halves = odds.sel(part=["rise", "fall"])
    assert halves["known"].values.tolist() == [0, 0]
    assert halves["unknown"].values.tolist() == [0, 0]  # there is no such window to know of
    assert np.isnan(halves["share"]).all()
    assert int(odds["known"].sel(part="longest")) > 0
