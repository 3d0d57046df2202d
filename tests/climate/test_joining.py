"""One record from several stations: against known truth, theory, and what cannot be a neighbour."""

import numpy as np
import numpy.testing as npt
import pytest
import xarray as xr
from hypothesis import given, settings
from hypothesis import strategies as st
from records import SHARED, side_by_side, station_record, weather

import climwin as cw
from climwin import day_shift, draw_gaps, join_stations, rate_neighbours
from climwin.climate import joining
from climwin.climate.joining import LEAST_EXPLAINED
from climwin.core.errors import DataGapError
from climwin.core.schema import MEASURED_SOURCE
from climwin.page.record_file import load_record, save_record
from climwin.widgets.payload import record_numbers

EXTREMES = ("tmin", "tmax")


def near(record, scatter, seed=1, step=0.0):
    """A station nearby: the same weather, a step warmer, with a scatter of its own. [degC]"""
    rng = np.random.default_rng([seed, 2])  # not the numbers that `weather` is made from
    out = record.copy(deep=True)
    own = rng.normal(0, scatter, record.sizes["time"])
    for name in ("tmin", "tmax", "tmean"):
        out[name].values[:] += step + own
    return out.assign_attrs(station_name=f"Nearby {seed}", station_id=f"N{seed}")


def without(record, lost):
    """The record without the temperatures of some days."""
    out = record.copy(deep=True)
    for name in ("tmin", "tmax", "tmean"):
        out[name].values[lost] = np.nan
    return out


@pytest.fixture(scope="module")
def whole():
    return weather(3, 12, mean=9.0, swing=12.0)


@pytest.fixture(scope="module")
def lost(whole):
    """All of the fourth and fifth year, and a month of the ninth."""
    time = whole["time"].values.astype("datetime64[D]")
    year = time.astype("datetime64[Y]").astype(int) + 1970
    return np.isin(year, (2002, 2003)) | (
        (time >= np.datetime64("2007-04-01")) & (time < np.datetime64("2007-05-01"))
    )


# --- the parts, by plain loops ------------------------------------------------------------


def holed(rng, n, share):
    """A normal series of which a share of the days is missing."""
    values = rng.normal(0, 3, n)
    values[rng.random(n) < share] = np.nan
    return values


def test_correlations_by_lag_by_a_plain_loop():
    rng = np.random.default_rng(1)
    own, padded = holed(rng, 40, 0.3), holed(rng, 42, 0.3)
    for lag, found in zip((-1, 0, 1), joining._correlations_by_lag(own, padded), strict=True):
        pairs = [(own[n], padded[n + 1 + lag]) for n in range(40)]
        pairs = np.array([pair for pair in pairs if not np.isnan(pair).any()])
        assert found == pytest.approx(np.corrcoef(pairs.T)[0, 1])
    three = np.array([1.0, 4.0, 2.0])
    assert np.isfinite(joining._correlations_by_lag(three, np.array([2, 7, 3, 9, 5.0]))).all()
    assert np.isnan(joining._correlations_by_lag(three[:2], np.array([2, 7, 3, 9.0]))).all()
    flat = np.full(40, 2.0)  # says nothing, on either side
    assert np.isnan(joining._correlations_by_lag(flat, padded)).all()
    assert np.isnan(joining._correlations_by_lag(own, np.full(42, 2.0))).all()


@pytest.mark.parametrize(("days", "known"), [(249, False), (250, True)])
def test_the_shift_of_a_year_needs_250_days_in_common(days, known):
    series, is_year = np.random.default_rng(2).normal(0, 3, 730), np.arange(730) < 365
    own = series.copy()
    own[days:365] = np.nan
    own[400] = np.nan
    late = np.concatenate([[0.0, 0.0], series])  # with a day before the first and after the last
    late[5] = late[9] = 0.0
    found = joining._shift_in(own, late, is_year)
    assert found == 1 if known else np.isnan(found)
    assert joining._shift_in(own, late, ~is_year) == 1
    gone = late.copy()
    gone[1 : 366 - days] = np.nan  # days of the neighbour that are missing count too
    assert np.isnan(joining._shift_in(own, gone, is_year))


def test_missing_shifts_are_those_of_the_nearest_year():
    values = np.array([np.nan, 1, np.nan, np.nan, 0, np.nan, -1, np.nan])
    # of two as near the earlier one
    assert joining._filled_from_the_nearest(values, 5.0).tolist() == [1, 1, 1, 0, 0, 0, -1, -1]
    assert joining._filled_from_the_nearest(np.full(3, np.nan), -1.0).tolist() == [-1, -1, -1]


def rated(estimated, happened, departures=None):
    """A neighbour that estimates what happened, each of a day."""
    left_out = joining._LeftOut(np.array(estimated), np.array(happened), 30)
    own = np.array(estimated) if departures is None else np.array(departures)
    return joining._Rated(own, left_out, 1.0, 0.0, 1.0, 0.9, 1000, (0,))


def test_a_further_neighbour_must_lower_the_error_or_cover_gaps_of_its_own():
    rng = np.random.default_rng(3)
    true = rng.normal(0, 3, 3000)
    one, other = (0.9 * (true + rng.normal(0, 1, 3000)) for _ in range(2))
    copy_ = one + rng.normal(0, 1e-6, 3000)
    gaps = np.zeros(3000, bool)
    gaps[:100] = True
    assert joining._adds([rated(one, true), rated(other, true)], [0], 1, gaps)
    assert not joining._adds([rated(one, true), rated(copy_, true)], [0], 1, gaps)
    # copies that alone cover some of the gaps: just a twentieth of them, and more
    for alone, adds in ((5, False), (6, True)):
        silent, late = one.copy(), copy_.copy()
        silent[:alone] = np.nan
        silent[200:900] = np.nan  # silent on days that are no gaps
        late[50:100] = np.nan
        pair = [rated(one, true, silent), rated(copy_, true, late)]
        assert joining._adds(pair, [0], 1, gaps) == adds
        third = [*pair, rated(copy_, true, late)]
        assert not joining._adds(third, [0, 1], 2, gaps)  # the second covers them already


def test_several_neighbours_are_combined_set_by_set():
    rng = np.random.default_rng(4)
    true = rng.normal(0, 3, 4000)
    rows = np.stack([true + rng.normal(0, size, 4000) for size in (1.0, 1.5, 2.0)])
    for row, start in zip(rows, (0, 1000, 2000), strict=True):
        row[start : start + 1500] = np.nan
    happened = true.copy()
    happened[::7] = np.nan
    part = np.arange(4000) // 30 % 5
    for folds in (None, part):
        found = joining._combined(happened, rows, folds)
        for day in range(0, 4000, 37):
            there = [n for n in range(3) if not np.isnan(rows[n, day])]
            if not there:
                assert np.isnan(found[day])
                continue
            seen = ~np.isnan(happened) & ~np.isnan(rows[there]).any(axis=0)
            if folds is not None:
                seen &= part != part[day]
            if len(there) == 1 or seen.sum() < 365:
                weights = [1.0] + [0.0] * (len(there) - 1)
            else:
                normal = rows[there][:, seen]
                weights = np.linalg.solve(normal @ normal.T, normal @ happened[seen])
            assert found[day] == pytest.approx(float(weights @ rows[there, day]))


@pytest.mark.parametrize(("common", "weighed"), [(364, False), (365, True)])
def test_weights_need_a_year_in_common(common, weighed):
    rng = np.random.default_rng(5)
    rows = rng.normal(0, 3, (2, 900))
    happened = 0.25 * rows[0] + 0.75 * rows[1]
    happened[common:] = np.nan
    found = joining._weights(happened, rows)
    npt.assert_allclose(found, [0.25, 0.75] if weighed else [1, 0], atol=1e-9)
    npt.assert_array_equal(joining._weights(happened, rows[:1]), [1])


def test_the_source_of_each_day_is_a_flag():
    gone = np.nan
    own = np.array([1.0, gone, gone, gone, gone, 2.0])
    rows = [np.array([1, 1, gone, 1, gone, gone]), np.array([1, gone, 1, 1, gone, 1.0])]
    found = joining._sources(own, rows, ["N1", "hill_2"], "tmin")
    meanings = found.attrs["flag_meanings"].split()
    assert [meanings[code] for code in found.values] == [
        "measured",
        "drawn_with_N1",
        "drawn_with_hill_2",
        "drawn_with_N1_and_hill_2",
        "drawn_from_the_days_around",
        "measured",
    ]
    assert meanings[:2] == ["drawn_from_the_days_around", "measured"]
    assert found.attrs["flag_values"].tolist() == list(range(len(meanings)))
    assert found.attrs["long_name"] == "where tmin of each day comes from"
    assert found.dims == ("time",)
    assert found.dtype == "int8"


@pytest.mark.parametrize(("common", "block"), [(1824, 30), (1825, 365)])
def test_each_fifth_is_estimated_by_a_fit_to_the_rest(common, block):
    rng = np.random.default_rng(6)
    length = 2100
    day = np.arange(length) % 365 + 1
    own = 9 * np.sin(day / 58) + rng.normal(0, 3, length)
    theirs = 0.8 * own + rng.normal(2, 1, length)
    own[:100], theirs[100 + common :] = np.nan, np.nan
    found = joining._leave_out(own, theirs, day)
    assert found.block_days == block
    both = ~np.isnan(own) & ~np.isnan(theirs)
    assert both.sum() == common
    for fifth in range(5):
        out = np.arange(length) // block % 5 == fifth
        kept = own.copy()
        kept[out] = np.nan
        fit = joining._fit(kept, theirs, day)
        estimated = fit.gain * (theirs - fit.usual_nearby[day - 1])
        npt.assert_allclose(found.estimated[out & both], estimated[out & both])
        npt.assert_allclose(found.happened[out & both], (own - fit.usual[day - 1])[out & both])
    assert np.isnan(found.estimated[~both]).all()
    assert np.isnan(found.happened[~both]).all()


def test_departures_of_both_are_from_their_own_usual_days():
    dates = np.arange("2001-03-01", "2004-03-01", dtype="datetime64[D]")
    turn = 2 * np.pi * (dates - dates[0]).astype(int) / 365.25
    own = 10 + 8 * np.cos(turn)
    padded = np.concatenate([[own[0] - 5], own - 5, [own[-1] - 5]])
    here, around = joining._departures_of_both(own, padded, dates)
    assert np.abs(here).max() < 1.0  # of two smooth years nothing departs
    assert np.abs(around).max() < 1.0
    assert around.shape == (len(own) + 2,)
    npt.assert_allclose(here, around[1:-1], atol=1e-9)


@pytest.mark.parametrize(
    ("shifts", "told"),
    [
        ((0, 0, 0), ""),
        ((1, 1, 1), ", moved a day earlier"),
        ((-1, -1), ", moved a day later"),
        ((0, 1, 1), ", moved a day earlier in 2 years of 3"),
        ((1, -1, 0, 0), ", moved a day earlier in 1 year of 4, moved a day later in 1 year of 4"),
    ],
)
def test_a_shifted_neighbour_is_told_with_its_years(shifts, told):
    assert joining._moved(rated([0.0], [0.0])._replace(shift_of_year=shifts)) == told


def test_error_and_share_explained_are_those_of_the_known_days():
    gone = np.nan
    left_out = joining._LeftOut(
        np.array([1.0, 2.0, gone, 0.0, 5.0]), np.array([2.0, 0.0, 7.0, 0.4, gone]), 30
    )
    error, explained = joining._error_and_explained(left_out)
    missed = (1 + 4 + 0.16) / 3
    assert error == pytest.approx(missed**0.5)
    assert explained == pytest.approx(1 - missed / ((4 + 0 + 0.16) / 3))
    nothing = joining._LeftOut(np.array([gone, 1.0]), np.array([3.0, gone]), 30)
    assert np.isnan(joining._error_and_explained(nothing)).all()
    still = joining._LeftOut(np.array([1.0, 1.0]), np.zeros(2), 30)
    assert joining._error_and_explained(still)[0] == 1
    assert np.isnan(joining._error_and_explained(still)[1])
    little = joining._LeftOut(np.array([0.1, 0.3]), np.array([0.2, 0.4]), 30)
    assert joining._error_and_explained(little)[1] == pytest.approx(0.9)


def test_neighbours_together_are_weighed_on_the_days_left_out():
    rng = np.random.default_rng(7)
    true = rng.normal(0, 3, 2000)
    pair = [rated(0.9 * (true + rng.normal(0, size, 2000)), true) for size in (1, 1.5)]
    together = joining._together(pair, [0, 1])
    assert together.block_days == 30
    npt.assert_array_equal(together.happened, true)
    rows = np.stack([each.left_out.estimated for each in pair])
    part = np.arange(2000) // 30 % 5
    for fifth in range(5):
        normal = rows[:, part != fifth]
        weights = np.linalg.solve(normal @ normal.T, normal @ true[part != fifth])
        npt.assert_allclose(
            together.estimated[part == fifth], weights @ rows[:, part == fifth], atol=1e-9
        )


@pytest.mark.parametrize(("apart", "allowed"), [(19.9, True), (-19.9, True), (20.5, False)])
def test_twenty_degrees_are_the_most_between_neighbours(apart, allowed):
    one = weather(1, years=2)
    other = one.map(lambda v: (v + apart).assign_attrs(v.attrs))
    if allowed:
        joining._refuse_another_climate(one, other)
    else:
        with pytest.raises(
            ValueError, match=r"is 20\.5 degC warmer than the record.*20 is the most"
        ):
            joining._refuse_another_climate(one, other)


def test_departures_come_from_the_usual_day_of_the_date():
    usual = np.arange(365.0)
    fit = joining._Fit(usual, usual * 2, 0.5)
    day = np.array([1, 2, 365])
    npt.assert_allclose(fit.departures(np.array([3.0, 3, 3]), day), [1.5, 0.5, 1.5 - 364])
    assert joining._folds(12, 2).tolist() == [0, 0, 1, 1, 2, 2, 3, 3, 4, 4, 0, 0]


# --- what a joined record is --------------------------------------------------------------


def test_measured_values_stay_and_gaps_stay_missing(whole, lost):
    gappy = without(whole, lost)
    joined = join_stations(gappy, near(whole, 1.0))
    for name in ("tmin", "tmax", "tmean"):
        npt.assert_array_equal(joined[name], gappy[name])
    assert joined["tmin_nearby"].notnull().all()
    assert "tmin_nearby" not in gappy


def test_draws_of_a_joined_record_are_near_the_truth(whole, lost):
    joined = join_stations(without(whole, lost), near(whole, 1.0, step=3.0))
    drawn = draw_gaps(joined, draws=10)
    for name in EXTREMES:
        middle = drawn[name].values[:, lost].mean(axis=0)
        error = np.sqrt(np.mean((middle - whole[name].values[lost]) ** 2))
        assert error < 1.2, name  # a neighbour that scatters by 1 degC leaves about that much
        assert abs((middle - whole[name].values[lost]).mean()) < 0.15  # its step is no matter
    alone = draw_gaps(without(whole, lost), draws=10)["tmin"].values[:, lost].mean(axis=0)
    assert np.sqrt(np.mean((alone - whole["tmin"].values[lost]) ** 2)) > 3.0


def test_filled_days_keep_extremes_and_persistence(whole, lost):
    joined = join_stations(without(whole, lost), near(whole, 3.0))
    drawn = draw_gaps(joined, draws=100)["tmin"].values[:, lost][:, :730]
    true = whole["tmin"].values[lost][:730]
    step = np.diff(true).std()
    assert np.diff(drawn, axis=1).std() == pytest.approx(step, rel=0.08)
    assert drawn.std() == pytest.approx(true.std(), rel=0.05)
    # A best estimate, as an offset from the neighbour would be, is too smooth.
    assert np.diff(drawn.mean(axis=0)).std() < 0.85 * step
    cold = np.quantile(true, 0.03)
    count = (drawn <= cold).sum(axis=1).mean()
    assert count == pytest.approx((true <= cold).sum(), rel=0.35)


def test_ninety_of_a_hundred_true_days_lie_within_ninety_percent_of_their_draws(whole, lost):
    joined = join_stations(without(whole, lost), [near(whole, 2.0, 1), near(whole, 3.0, 2)])
    assert 0.86 <= share_within(joined, whole, lost) <= 0.94


def share_within(joined, whole, lost):
    """Share of true days within 90 % of their draws."""
    inside = []
    for name in EXTREMES:
        drawn = draw_gaps(joined, draws=99)[name].values[:, lost]
        low, high = np.quantile(drawn, [0.05, 0.95], axis=0, method="weibull")
        true = whole[name].values[lost]
        inside.append(((low <= true) & (true <= high))[~np.isnan(true)])
    return np.concatenate(inside).mean()


def test_odds_of_a_joined_record_are_those_of_the_whole_and_know_what_was_filled(whole, lost):
    gappy = without(whole, lost)
    joined = join_stations(gappy, near(whole, 0.5))
    dates = [cw.freeze_dates(each) for each in (whole, joined, gappy)]
    asked = xr.DataArray(np.arange(60, 160, 3), dims="day")
    true, told = (
        (each["last_spring_drawn"] >= asked).mean(["season", "draw"]) for each in dates[:2]
    )
    assert abs(told - true).max() < 1.5 / 12  # a year and a half, of two that are open
    assert abs(told - true).mean() < 0.03
    day = dates[0]["last_spring_day"].median()
    # Years that nobody measured count in draws: with nothing nearby they do not count at all.
    is_open = dates[1]["last_spring_status"] == "unknown"
    counted = dates[1]["last_spring_drawn"].notnull().all("draw")
    assert {2002, 2003} <= {*dates[1]["season"].values[(is_open & counted).values].tolist()}
    without_neighbour = dates[2]["last_spring_drawn"].notnull().all("draw")
    assert not without_neighbour.sel(season=[2002, 2003]).any()
    odds = [cw.freeze_chance(each).sel(day_of_year=int(day)) for each in (dates[0], dates[1])]
    wide = [float(each["last_spring_high"] - each["last_spring_low"]) for each in odds]
    assert wide[1] >= wide[0] - 0.02


def test_windows_and_harvests_count_filled_years(whole, lost):
    gappy = without(whole, lost).assign_attrs(latitude=44.0)
    joined = join_stations(gappy, near(whole, 0.5))
    crop = cw.crop("lettuce")
    shorter = [
        cw.odds_shorter(cw.usable_windows(each, crop), 40).sel(part="longest")
        for each in (gappy, joined)
    ]
    assert int(shorter[1]["leaning"]) >= int(shorter[0]["leaning"]) + 2
    plan = cw.Plan(cw.crop("pea"), "04-10")
    harvests = [cw.harvest_odds(cw.evaluate_plan(plan, each)) for each in (gappy, joined)]
    assert int(harvests[1]["leaning"]) >= int(harvests[0]["leaning"]) + 2


def test_the_live_chart_draws_filled_years(whole, lost):
    gappy = without(whole, lost)
    rows = [
        record_numbers(each, "here")["drawn_freezes"]
        for each in (gappy, join_stations(gappy, near(whole, 0.5)))
    ]
    first = 1998  # row 0 is the year before the record
    assert not {2002 - first, 2003 - first} & {*rows[0]}
    assert {2002 - first, 2003 - first} <= {*rows[1]}


def test_moving_a_joined_record_moves_its_draws_alike(whole, lost):
    joined = join_stations(without(whole, lost), near(whole, 1.0))
    warmer = draw_gaps(cw.warm_by(joined, 2.0), draws=2)["tmin"]
    npt.assert_allclose(warmer, draw_gaps(joined, draws=2)["tmin"] + 2.0, atol=1e-6)


def test_a_warm_year_that_only_the_neighbour_saw_is_no_usual_one(whole, lost):
    warm = whole.copy(deep=True)
    for name in ("tmin", "tmax", "tmean"):
        warm[name].values[lost] += 4.0
    joined = join_stations(without(warm, lost), near(warm, 0.5))
    drawn = draw_gaps(joined, draws=5)["tmin"].values[:, lost]
    assert abs(drawn.mean() - warm["tmin"].values[lost].mean()) < 0.25


def test_a_silent_neighbour_leaves_the_days_around_to_tell(whole, lost):
    silent = without(near(whole, 0.5), lost & (np.arange(len(lost)) % 2 == 0))
    joined = join_stations(without(whole, lost), silent)
    source = joined["tmin_source"].values
    npt.assert_array_equal(source[~lost], MEASURED_SOURCE)
    assert set(source[lost].tolist()) == {0, 2}
    assert draw_gaps(joined, draws=2)["tmin"].notnull().all()


# --- sources ------------------------------------------------------------------------------


def test_every_day_keeps_its_source_through_files(whole, lost, tmp_path):
    second = without(near(whole, 2.0, 2), np.arange(len(lost)) < 1300)
    joined = join_stations(without(whole, lost), [near(whole, 2.0, 1), second])
    attrs = joined["tmin_source"].attrs
    meaning = dict(zip(attrs["flag_values"].tolist(), attrs["flag_meanings"].split(), strict=True))
    told = [meaning[code] for code in joined["tmin_source"].values.tolist()]
    assert {*np.array(told)[~lost]} == {"measured"}
    assert {*np.array(told)[lost]} == {"drawn_with_N1", "drawn_with_N1_and_N2"}
    again = load_record(save_record(joined, tmp_path / "joined.nc"))
    xr.testing.assert_identical(again["tmin_source"], joined["tmin_source"])
    with xr.open_dataset(cw.to_netcdf(joined, tmp_path / "cf.nc"), decode_timedelta=False) as cf:
        npt.assert_array_equal(cf["tmin_source"], joined["tmin_source"])
        assert cf["tmin_source"].attrs["flag_meanings"] == attrs["flag_meanings"]
    table = cw.to_csv(joined, tmp_path / "joined.csv").read_text("utf-8")
    assert "2 drawn_with_N1" in table


def test_history_and_credit_name_who_was_joined(whole, lost):
    neighbour = near(whole, 1.0).assign_attrs(credit="Meteostat, B")
    gappy = without(whole, lost).assign_attrs(credit="Meteostat, A")
    joined = join_stations(gappy, neighbour)
    assert joined.attrs["credit"] == "Meteostat, A, B"
    error = rate_neighbours(gappy, [neighbour])["error"].sel(variable="tmin").item()
    said = f"tmin from Nearby 1 (weight 1.00); error on days left out {error:.1f} degC"
    assert said in joined.attrs["changes"]
    assert joined.attrs["joined_stations"] == "Nearby 1"


# --- the leave-out test -------------------------------------------------------------------


def test_error_and_share_told_are_those_of_theory(whole):
    scatter = 2.0
    rated = rate_neighbours(whole, [near(whole, scatter)]).sel(variable="tmin").isel(neighbour=0)
    departures = (
        whole["tmin"].groupby("time.dayofyear") - whole["tmin"].groupby("time.dayofyear").mean()
    )
    variance = float(departures.var()) * 12 / 11  # the mean of 12 years takes one of them
    # Regression on a value with independent scatter leaves s2 v / (s2 + v) of the variance v.
    expected = np.sqrt(scatter**2 * variance / (scatter**2 + variance))
    assert float(rated["error"]) == pytest.approx(expected, rel=0.04)
    assert float(rated["explained"]) == pytest.approx(1 - expected**2 / variance, abs=0.03)


def test_several_tell_more_than_one_and_a_useless_one_is_left_out(whole, lost):
    neighbours = [near(whole, 2.0, 1), near(whole, 2.0, 2), weather(99, 12, mean=9.0, swing=12.0)]
    rated = rate_neighbours(without(whole, lost), neighbours)
    weight = rated["weight"].values
    npt.assert_allclose(weight.sum(axis=1), 1.0)
    npt.assert_array_equal(weight[:, 2], 0.0)
    assert (weight[:, :2] > 0.4).all()
    assert (rated["joined_error"] < 0.85 * rated["error"].min("neighbour")).all()


@pytest.mark.parametrize("years", [("2004", "2005"), ("2003", "2006"), ("2000", "2009")])
def test_the_error_told_of_several_is_theirs_however_few_years_they_share(whole, years):
    scatter = 2.0
    neighbours = [near(whole, scatter, seed).sel(time=slice(*years)) for seed in (1, 2)]
    rated = rate_neighbours(whole, neighbours).sel(variable="tmin")
    usual = whole["tmin"].groupby("time.dayofyear")
    variance = float((usual - usual.mean()).sel(time=slice(*years)).var()) * 12 / 11
    # The mean of two has half of the scatter's variance; regression as above.
    half = scatter**2 / 2
    expected = np.sqrt(half * variance / (half + variance))
    assert float(rated["joined_error"]) == pytest.approx(expected, rel=0.1)
    assert float(rated["joined_error"]) < 0.85 * float(rated["error"].min())


@settings(max_examples=8, deadline=None)
@given(seed=st.integers(0, 2**16), scatter=st.sampled_from([0.5, 1.5, 3.0]))
def test_weights_follow_the_errors(seed, scatter):
    record = weather(seed, 4)
    better, worse = near(record, scatter, 1), near(record, scatter + 2.0, 2)
    rated = rate_neighbours(record, [worse, better])
    assert (rated["error"].isel(neighbour=1) < rated["error"].isel(neighbour=0)).all()
    assert (rated["weight"].isel(neighbour=1) > rated["weight"].isel(neighbour=0)).all()


def test_distance_and_height_are_told_where_they_are_known():
    here = station_record(latitude=46.0, longitude=7.0, elevation=400.0)
    there = station_record(seed=2).assign_attrs(latitude=47.0, longitude=7.0, elevation=900.0)
    rated = rate_neighbours(here, [there, there.drop_attrs(deep=False)])
    assert rated["distance_km"].values[0] == pytest.approx(111.2, abs=0.1)
    assert rated["height_difference_m"].values[0] == 500.0
    assert rated["distance_km"].isnull().values[1]


# --- a day off ----------------------------------------------------------------------------


@settings(max_examples=10, deadline=None)
@given(
    seed=st.integers(0, 2**16),
    shift=st.sampled_from([-1, 0, 1]),
    names=st.sampled_from([EXTREMES, ("tmax",)]),
)
def test_a_shift_by_a_day_is_noticed(seed, shift, names):
    record = weather(seed, 3)
    neighbour = near(record, 1.0)
    for name in names:
        neighbour[name] = neighbour[name].shift(time=shift).assign_attrs(record[name].attrs)
    found = day_shift(record, neighbour)["shift_days"]
    for name in EXTREMES:
        assert float(found.sel(variable=name)) == (shift if name in names else 0)


def test_a_shifted_neighbour_is_moved_back_and_the_record_says_so(whole, lost):
    late = near(whole, 1.0)
    for name in EXTREMES:
        late[name] = late[name].shift(time=1).assign_attrs(whole[name].attrs)
    joined = join_stations(without(whole, lost), late)
    assert "moved a day earlier" in joined.attrs["changes"]
    middle = draw_gaps(joined, draws=10)["tmin"].values[:, lost].mean(axis=0)
    assert np.sqrt(np.mean((middle - whole["tmin"].values[lost]) ** 2)) < 1.2


def test_years_shifted_otherwise_are_named_and_moved_back(whole, lost):
    neighbour = near(whole, 1.0)
    year = np.asarray(whole["time"].dt.year)
    for name in EXTREMES:
        values = neighbour[name].values
        neighbour[name].values[year < 2001] = np.roll(values, 1)[year < 2001]
    found = day_shift(whole, neighbour)
    npt.assert_array_equal(found["shift_days"], 0)
    shifted = found["shift_of_year"].sel(variable="tmin")
    assert set(shifted["year"].values[(shifted == 1).values].tolist()) == {1999, 2000}
    joined = join_stations(without(whole, lost), neighbour)
    assert "moved a day earlier in 2 years of 12" in joined.attrs["changes"]
    rated = rate_neighbours(whole, [neighbour])
    unshifted = rate_neighbours(whole, [near(whole, 1.0)])
    npt.assert_allclose(rated["error"], unshifted["error"], rtol=0.05)


def test_a_shift_is_unknown_between_strangers(whole):
    stranger = weather(77, 12, mean=9.0, swing=12.0)
    assert day_shift(whole, stranger)["shift_days"].isnull().all()


# --- refused ------------------------------------------------------------------------------


def test_a_stranger_is_refused_with_the_figures_and_what_to_do(whole, lost):
    stranger = weather(77, 12, mean=9.0, swing=12.0).assign_attrs(station_name="Faraway")
    with pytest.raises(
        DataGapError, match=r"Faraway: error \d\.\d degC, [01] % explained"
    ) as error:
        join_stations(without(whole, lost), stranger)
    assert "must explain 50 %" in str(error.value)
    assert "Give a nearer station" in str(error.value)
    assert error.value.parameter == "neighbours"


@settings(max_examples=6, deadline=None)
@given(scatter=st.sampled_from([0.5, 2.0, 4.0, 8.0, 16.0]), seed=st.integers(0, 99))
def test_joined_or_refused_by_the_share_told_alone(scatter, seed):
    record = weather(seed, 4)
    gappy = without(record, slice(300, 500))
    neighbour = near(record, scatter)
    told = rate_neighbours(gappy, [neighbour])["joined_explained"]
    if bool((told >= LEAST_EXPLAINED).all()):
        assert "tmin_nearby" in join_stations(gappy, neighbour)
    else:
        with pytest.raises(DataGapError, match="too little"):
            join_stations(gappy, neighbour)


def test_a_neighbour_in_another_unit_is_refused(whole):
    labelled = near(whole, 1.0)
    labelled["tmin"].attrs["units"] = "degF"
    with pytest.raises(ValueError, match="'tmin' must be in degC, got 'degF'"):
        join_stations(whole, labelled)
    for convert in (lambda c: c * 1.8 + 32, lambda c: c + 273.15):
        other = near(whole, 1.0)
        for name in EXTREMES:
            other[name] = convert(other[name]).assign_attrs(whole[name].attrs)
        with pytest.raises(ValueError, match=r"warmer than the record .* another unit"):
            join_stations(whole, other)


def test_a_neighbour_of_the_other_hemisphere_is_refused(whole):
    south = weather(5, 12, mean=9.0, swing=12.0, coldest=202)
    with pytest.raises(ValueError, match="the other hemisphere"):
        join_stations(whole, south)


def test_neighbours_without_a_day_in_common_are_refused(whole):
    empty = without(near(whole, 1.0), slice(None))
    with pytest.raises(DataGapError, match="0 days in common, 365 are needed"):
        join_stations(whole, empty)
    later = near(whole, 1.0).assign_coords(time=whole["time"] + np.timedelta64(20 * 365, "D"))
    for ask in (join_stations, day_shift):
        with pytest.raises(DataGapError, match="0 days in common, 365 are needed"):
            ask(whole, later)
    short = near(whole, 1.0).isel(time=slice(0, 200))
    with pytest.raises(DataGapError, match="200 days in common, 365 are needed"):
        join_stations(whole, short)


def test_wrong_arguments_are_refused(whole):
    for ask in (join_stations, rate_neighbours):
        with pytest.raises(ValueError, match="neighbours are needed"):
            ask(whole, [])
    both = side_by_side(whole, near(whole, 1.0))
    with pytest.raises(ValueError, match="several along station"):
        join_stations(both, near(whole, 1.0))
    with pytest.raises(ValueError, match="no extreme in common"):
        join_stations(whole, whole[["tmean"]])


def test_one_wrong_neighbour_does_not_stop_the_others(whole, lost):
    good = near(whole, 1.0)
    south = weather(5, 12, mean=9.0, swing=12.0, coldest=202).assign_attrs(station_name="South")
    stranger = weather(77, 12, mean=9.0, swing=12.0).assign_attrs(station_name="Faraway")
    gappy = without(whole, lost)
    with pytest.warns(UserWarning, match="Left out: South has its summer in the record's winter"):
        joined = join_stations(gappy, [south, stranger, good])
    assert "left out, as they add too little: Faraway" in joined.attrs["changes"]
    xr.testing.assert_equal(joined["tmin_nearby"], join_stations(gappy, good)["tmin_nearby"])


def test_precipitation_is_not_joined():
    record = station_record()
    record["precip"].values[100:110] = np.nan
    joined = join_stations(record, near(record, 1.0))
    assert int(joined["precip"].isnull().sum()) == 10
    assert "precip_source" not in joined


# --- real records -------------------------------------------------------------------------


def real(place):
    path = SHARED / "records" / f"{place}.csv"
    if not path.exists():
        pytest.skip(f"the record of {place} is not here")
    daily = cw.read_daily(path).sel(time=slice("1985-01-01", "2014-12-31"))
    return daily.assign_attrs(station_name=place)


def test_urbana_is_not_filled_from_another_continent():
    with pytest.raises(DataGapError, match=r"Tunis_TN: error .* degC, [01] % explained"):
        join_stations(real("Urbana_IL"), real("Tunis_TN"))


def test_several_real_stations_tell_more_than_the_best_alone():
    names = ("Indianola_IA", "FortDodge_IA", "Wooster_OH", "Merced_CA")
    rated = rate_neighbours(real("Urbana_IL"), [real(name) for name in names])
    best = rated["error"].min("neighbour")
    assert (rated["joined_error"] < 0.95 * best).all()
    assert (rated["weight"].isel(neighbour=3) == 0).all()


def test_a_real_pair_shifted_by_a_day_is_noticed():
    here, there = real("Indianola_IA"), real("FortDodge_IA")
    assert day_shift(here, there)["shift_days"].values.tolist() == [0, 0]
    there["tmax"] = there["tmax"].shift(time=1).assign_attrs(there["tmax"].attrs)
    assert day_shift(here, there)["shift_days"].values.tolist() == [0, 1]


@pytest.mark.parametrize(
    ("place", "beside"), [("Urbana_IL", "Indianola_IA"), ("Wooster_OH", "Urbana_IL")]
)
def test_real_days_lie_within_their_draws_as_often_as_they_should(place, beside):
    whole = real(place)
    lost = np.zeros(whole.sizes["time"], dtype=bool)
    lost[4000:5500] = True
    joined = join_stations(without(whole, lost), real(beside))
    assert 0.86 <= share_within(joined, whole, lost) <= 0.95


def test_wooster_is_dated_a_day_later_from_1995_on():
    """Urbana and Indianola agree on every year, so the change is Wooster's."""
    wooster, urbana = real("Wooster_OH"), real("Urbana_IL")
    of_year = day_shift(wooster, urbana)["shift_of_year"]
    assert (of_year.sel(year=slice(1985, 1994)) == 0).all()
    assert (of_year.sel(year=slice(1995, 2014)) == -1).all()
    others = day_shift(urbana, real("Indianola_IA"))["shift_of_year"]
    assert not (others.fillna(0) != 0).any()
