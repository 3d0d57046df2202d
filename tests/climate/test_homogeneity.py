"""Pairs of stations: against explicit matrices, the published test, and breaks put in by us."""

import sys
from pathlib import Path

import numpy as np
import pytest
import records
import xarray as xr

sys.path.insert(0, str(Path(__file__).parents[1] / "quality"))

from networks import MONTHS, REAL, Injected, differences, like, near, real_anomalies
from networks import without_changes as cleaned

import climwin as cw
from climwin.climate.attribution import Blamed, Search, find_changes, measure
from climwin.climate.differences import _EVERY_NOISE, _NOISE, EDGE, Pair, chance_of, changes_to_try
from climwin.climate.homogeneity import monthly_differences, pairwise_breaks
from climwin.core.errors import ClimwinError, DataGapError
from climwin.report.sentences_homogeneity import effect_of_adjusting, station_changes

# --- one pair -----------------------------------------------------------------------------


def test_a_pair_is_fitted_as_by_generalised_least_squares():
    # The same likelihoods from explicit covariance matrices, with months missing.
    rng = np.random.default_rng(5)
    months = 120
    values = rng.normal(size=months) + 0.8 * (np.arange(months) >= 70)
    values[rng.choice(months, 15, replace=False)] = np.nan
    dates = changes_to_try(months)
    pair = Pair(values, dates)
    ours = pair.fitted(())
    known = np.isfinite(values)
    scale = pair._scale[known]
    y, time = values[known] / scale, np.flatnonzero(known)
    best_without, best_with = -np.inf, np.full(len(dates.first), -np.inf)
    for lag_one, white in zip(_NOISE.lag_one, _NOISE.white, strict=True):
        apart = np.abs(np.subtract.outer(time, time))
        covariance = (1 - white) * lag_one**apart + white * np.eye(len(y))
        inverse = np.linalg.inv(covariance)
        determinant = np.linalg.slogdet(covariance)[1]

        def likelihood(columns, inverse=inverse, determinant=determinant):
            design = np.stack(columns, -1)
            fit = np.linalg.solve(design.T @ inverse @ design, design.T @ inverse @ y)
            left = y - design @ fit
            return -(determinant + len(y) * np.log(left @ inverse @ left)) / 2

        mean = 1 / scale
        best_without = max(best_without, likelihood([mean]))
        for place in range(0, len(dates.first), 7):
            one = likelihood([mean, dates.shape[place][known] / scale])
            best_with[place] = max(best_with[place], one)
    tried = np.isfinite(best_with) & np.isfinite(ours.gain)
    assert tried.sum() > 5
    np.testing.assert_allclose(ours.gain[tried], (best_with - best_without)[tried], atol=1e-8)


def test_sizes_and_dates_are_weighed_by_the_restricted_likelihood():
    # The density of what the mean and the step leave open, from an explicit basis of that space
    # (H. D. Patterson and R. Thompson, "Recovery of inter-block information when block sizes are
    # unequal," Biometrika, vol. 58, pp. 545-554, 1971; from memory).
    from scipy.linalg import null_space

    rng = np.random.default_rng(6)
    months = 110
    values = rng.normal(size=months) + 0.8 * (np.arange(months) >= 60)
    values[rng.choice(months, 12, replace=False)] = np.nan
    dates = changes_to_try(months)
    pair = Pair(values, dates)
    ours = pair.fitted(())
    known = np.isfinite(values)
    scale = pair._scale[known]
    y, time = values[known] / scale, np.flatnonzero(known)
    apart = np.abs(np.subtract.outer(time, time))
    places = np.flatnonzero(np.isfinite(ours.gain))[::9]
    found, sizes, errors = [], [], []
    for place in places:
        design = np.stack([1 / scale, dates.shape[place][known] / scale], -1)
        basis = null_space(design.T)
        freedom = basis.shape[1]
        logs, fits, variances = [], [], []
        for lag_one, white in zip(_EVERY_NOISE.lag_one, _EVERY_NOISE.white, strict=True):
            covariance = (1 - white) * lag_one**apart + white * np.eye(len(y))
            of_rest = basis.T @ covariance @ basis
            rest = basis.T @ y
            left = rest @ np.linalg.solve(of_rest, rest)
            logs.append(-(np.linalg.slogdet(of_rest)[1] + freedom * np.log(left)) / 2)
            inverse = np.linalg.inv(design.T @ np.linalg.solve(covariance, design))
            fits.append((inverse @ design.T @ np.linalg.solve(covariance, y))[1])
            variances.append(inverse[1, 1] * left / freedom)
        # Of another basis the determinant differs by that of the design.
        logs = np.array(logs) - np.linalg.slogdet(design.T @ design)[1] / 2
        weight = np.exp(logs - logs.max()) / np.exp(logs - logs.max()).sum()
        found.append(np.log(np.exp(logs - logs.max()).sum()) + logs.max())
        sizes.append(weight @ fits)
        errors.append(np.sqrt(weight @ (variances + (np.array(fits) - sizes[-1]) ** 2)))
    assert len(places) > 5
    np.testing.assert_allclose(ours.restricted[places], found, atol=1e-7)
    np.testing.assert_allclose(ours.size[places], sizes, atol=1e-8)
    np.testing.assert_allclose(ours.error[places], errors, atol=1e-8)


def standard_normal_homogeneity_test(values):
    """First place after the step, and T, of Alexandersson 1986, by plain sums."""
    z = (values - values.mean()) / values.std()
    n = len(z)
    t = [a * z[:a].mean() ** 2 + (n - a) * z[a:].mean() ** 2 for a in range(1, n)]
    return int(np.argmax(t)) + 1, max(t)


def test_in_white_noise_the_step_is_that_of_the_published_test():
    same = 0
    for seed in range(6):
        values = np.random.default_rng(seed).normal(size=MONTHS)
        values[200:] += 1.0
        dates = changes_to_try(MONTHS)
        fit = Pair(values, dates).fitted(())
        step = np.where(dates.is_step, fit.gain, -np.inf)
        place, t = standard_normal_homogeneity_test(values)
        assert t > 11  # beyond the critical value of long series at 99 %, about 12 (from memory)
        assert fit.p < 0.001
        # every second month is tried, and months are weighed by their spread
        same += abs(int(dates.first[step.argmax()]) - place) <= 4
    assert same >= 5


def most_marked(n, edge, walks, seed):
    """The most marked of all steps in white noise, edge left out, by plain sums."""
    total = np.cumsum(np.random.default_rng(seed).normal(size=(walks, n)), axis=1)
    place = np.arange(1, n)
    bridge = total[:, :-1] - place / n * total[:, -1:]
    deviations = np.abs(bridge) / np.sqrt(place * (n - place) / n)
    return deviations[:, edge - 1 : n - edge].max(axis=1)


def test_the_chance_is_that_of_simulated_walks():
    most = most_marked(6000, 600, 1500, 2)  # fine enough for the walk of the formula
    for level in (2.6, 3.0, 3.4):
        error = np.sqrt(chance_of(level, 0.1) / 1500)
        assert chance_of(level, 0.1) == pytest.approx((most > level).mean(), abs=3 * error)
    # Of months, which are fewer, it is on the safe side.
    months = most_marked(240, 24, 4000, 2)
    for level in (2.6, 3.0, 3.4):
        assert chance_of(level, 0.1) > (months > level).mean()
    assert chance_of(1.5, 0.1) == 1.0


def test_noise_that_lasts_seldom_passes_for_a_break():
    dates = changes_to_try(MONTHS)
    p = []
    for seed in range(40):
        pair = near(np.random.default_rng(seed), stations=2)
        p.append(Pair(pair[0] - pair[1], dates).fitted(()).p)
    assert sum(each < 0.004 for each in p) <= 3  # 0.16 by white noise alone


# --- whose it is --------------------------------------------------------------------------


def searched(anomalies, station, injected):
    values = anomalies.copy()
    values[station] += injected.added()
    return find_changes(differences(values), changes_to_try(MONTHS))


@pytest.mark.parametrize("station", [0, 2, 4])
def test_a_step_is_given_to_the_station_that_has_it(station):
    injected = Injected("step", -1.0, 150)
    search = searched(near(np.random.default_rng(station)), station, injected)
    first = search.changes[0]
    assert first.station == station
    assert first.shown >= 2
    measured = measure(search, first)
    assert abs(measured.first - 150) <= 12
    assert measured.size == pytest.approx(-1.0, abs=0.3)


@pytest.mark.simulated
@pytest.mark.parametrize("month", [180, 181])  # every second month is tried
def test_the_intervals_of_date_and_size_hold(month):
    dates, sizes = [], []
    for seed in range(20):
        search = searched(near(np.random.default_rng(seed), 4), 0, Injected("step", 1.0, month))
        own = [each for each in search.changes if each.station == 0]
        if own:
            measured = measure(search, own[0])
            dates.append(measured.earliest <= month <= measured.latest)
            sizes.append(abs(measured.size - 1.0) <= 1.645 * measured.error)
    assert len(dates) >= 18
    # Of a 90 % interval, less two standard errors of a share of 20.
    assert np.mean(dates) > 0.9 - 0.14
    assert np.mean(sizes) > 0.9 - 0.14


def test_the_month_of_a_step_that_nothing_hides_lies_in_its_interval():
    for month in (150, 151, 201, 202):
        search = searched(near(np.random.default_rng(month), 4), 0, Injected("step", 5.0, month))
        measured = next(measure(search, each) for each in search.changes if each.station == 0)
        assert measured.earliest <= month <= measured.latest
        assert measured.latest - measured.earliest <= 6  # months


def test_a_steep_drift_is_no_step():
    injected = Injected("drift", 2.0, 120)
    search = searched(near(np.random.default_rng(7)), 1, injected)
    first = search.changes[0]
    assert (first.station, first.kind) == (1, 1)
    measured = measure(search, first)
    assert measured.latest == MONTHS - 1
    # Where a drift begins is known to some years: it bends off slowly.
    assert abs(measured.first - 120) <= 60
    assert measured.size == pytest.approx(2.0, abs=0.5)


def test_two_stations_alone_do_not_tell_whose_it_is():
    search = searched(near(np.random.default_rng(1), stations=2), 0, Injected("step", 1.5, 200))
    assert search.changes[0].station == -1


def test_two_steps_of_two_stations_are_told_apart():
    anomalies = near(np.random.default_rng(3))
    anomalies[3] += Injected("step", 1.2, 250).added()
    search = searched(anomalies, 0, Injected("step", 1.2, 100))
    dates = {
        each.station: measure(search, each).first for each in search.changes if each.station >= 0
    }
    assert abs(dates[0] - 100) <= 12
    assert abs(dates[3] - 250) <= 12


def test_a_change_whose_station_was_not_told_is_dropped_when_it_is():
    # Two steps in each of three stations within five years: the first is seen between two stations
    # and given to one of them later. Listed twice, it could not be measured.
    rng = np.random.default_rng(24)
    anomalies = near(rng, 3, scatter=0.6, share=0.5, lag_one=0.95)
    for station in range(3):
        for month in rng.integers(90, 150, 2):
            anomalies[station] += Injected("step", rng.choice([-2, 2]), int(month)).added()
    search = find_changes(differences(anomalies), changes_to_try(MONTHS))
    untold = [each for each in search.changes if each.station < 0]
    told = [each for each in search.changes if each.station >= 0]
    assert told
    for one in untold:
        for other in told:
            apart = abs(measure(search, one).first - measure(search, other).first)
            assert other.station not in one.pair or apart >= EDGE
    for two, places in search.given.items():
        ours = [e for e in search.changes if e.station in two or (e.station < 0 and e.pair == two)]
        assert places == [each.place for each in ours]


def test_a_change_too_near_to_others_to_be_told_from_them_is_measured_without_them():
    anomalies = near(np.random.default_rng(2), 2)
    anomalies[0] += Injected("step", 2.0, 200).added()
    dates = changes_to_try(MONTHS)
    pairs = {two: Pair(each, dates) for two, each in differences(anomalies).items()}
    place, beside = (int(np.flatnonzero(dates.first == month)[0]) for month in (200, 206))
    change = Blamed(-1, (0, 1), place, 0, 0.0, 0, 0)
    alone, crowded = (
        measure(Search([change], pairs, {(0, 1): given}, dates), change)
        for given in ([place], [place, beside])
    )
    assert crowded == alone
    assert crowded.size == pytest.approx(2.0, abs=0.5)


@pytest.mark.slow
def test_real_pairs_show_a_step_of_two_degrees_and_none_where_there_is_none():
    if not (records.SHARED / "records" / f"{REAL[0]}.csv").exists():
        pytest.skip("the real records are not here")
    anomalies = cleaned(real_anomalies("tmin"))
    rng = np.random.default_rng(11)
    found, false = 0, 0
    for run in range(6):
        values = like(anomalies, rng)
        station = run % 3
        without = find_changes(differences(values), changes_to_try(MONTHS))
        false += any(each.station == station for each in without.changes)
        search = searched(values, station, Injected("step", 2.0, 140 + 20 * run))
        found += any(
            each.station == station and abs(measure(search, each).first - 140 - 20 * run) <= 36
            for each in search.changes
        )
    assert found >= 5
    assert false <= 1


# --- labelled -----------------------------------------------------------------------------


def beside(record, seed, scatter=1.5):
    """A neighbour: the record with scatter of its own on each day."""
    rng = np.random.default_rng(seed)
    out = record[["tmin", "tmax"]].copy()
    for name in out:
        noise = rng.normal(0, scatter, record.sizes["time"])
        out[name] = (record[name] + noise).assign_attrs(record[name].attrs)
    return out.assign_attrs(station_name=f"station {seed}")


def stepped(record, by, first, name="tmin"):
    later = record["time"] >= np.datetime64(first)
    return record.assign({name: (record[name] + by * later).assign_attrs(record[name].attrs)})


@pytest.fixture(scope="module")
def lasting():
    return records.weather(3, years=20, gaps=0.01)


@pytest.fixture(scope="module")
def neighbours(lasting):
    return {name: beside(lasting, seed) for seed, name in enumerate(("north", "east", "south"))}


@pytest.fixture(scope="module")
def moved(lasting):
    return stepped(lasting, -1.5, "2009-03")


@pytest.fixture(scope="module")
def breaks(moved, neighbours):
    return pairwise_breaks(moved, neighbours)


def test_a_break_is_listed_with_its_month_size_and_owner(breaks):
    assert breaks.sizes["change"] == 1
    one = breaks.isel(change=0)
    assert one["change"].item() == 1
    assert one["variable"].item() == "tmin"
    assert one["whose"].item() == "record"
    assert one["kind"].item() == "step"
    off = (one["first"].values - np.datetime64("2009-03")).astype("timedelta64[D]").astype(int)
    assert abs(off) <= 62
    assert one["first_low"] <= one["first"] <= one["first_high"]
    assert one["size_low"] <= -1.5 <= one["size_high"]
    assert one["shown"].item() == one["others"].item() == 2


def test_a_break_of_a_neighbour_is_the_neighbours(lasting, neighbours):
    with_one = {**neighbours, "east": stepped(neighbours["east"], 1.2, "2006-01")}
    found = pairwise_breaks(lasting, with_one)
    assert found["whose"].values.tolist() == ["east"]
    assert found["size"].item() == pytest.approx(1.2, abs=0.3)
    with pytest.raises(ClimwinError, match="change 1 is that of east"):
        cw.adjust_breaks(lasting, found, accept=[1])


def test_beside_one_neighbour_it_is_not_known_whose_it_is(moved, neighbours):
    found = pairwise_breaks(moved, {"north": neighbours["north"]})
    assert found["whose"].values.tolist() == ["record or north"]
    assert found["size"].item() == pytest.approx(-1.5, abs=0.3)
    (_, line) = station_changes(found)
    assert "Either the record or north changed" in line


def test_without_a_break_the_list_is_empty(lasting, neighbours):
    found = pairwise_breaks(lasting, neighbours)
    assert found.sizes["change"] == 0
    (said,) = station_changes(found)
    assert said.endswith("no change of any of them shows.")


def test_an_accepted_change_is_taken_off_and_the_values_as_read_are_kept(moved, breaks, lasting):
    adjusted = cw.adjust_breaks(moved, breaks, accept=[1])
    size = breaks["size"].item()
    early = moved["time"] < breaks["first"].isel(change=0)
    shift = adjusted["tmin"] - moved["tmin"]
    np.testing.assert_allclose(shift.where(early, drop=True).dropna("time"), size)
    np.testing.assert_allclose(shift.where(~early, drop=True).dropna("time"), 0, atol=1e-12)
    both = (adjusted["tmean"] - moved["tmean"]).where(early, drop=True).dropna("time")
    np.testing.assert_allclose(both, size / 2)
    xr.testing.assert_equal(adjusted["tmin_raw"], moved["tmin"].rename("tmin_raw"))
    np.testing.assert_array_equal(adjusted["tmax"], moved["tmax"])
    assert "tmax_raw" not in adjusted
    assert "accepted by hand" in adjusted.attrs["history"]
    # At the level of the later years, as the record without a break would be, moved down.
    error = (adjusted["tmin"] - (lasting["tmin"] - 1.5)).mean().item()
    assert abs(error) < 0.15


def test_nothing_accepted_changes_nothing_but_says_what_was_compared(moved, breaks):
    compared = cw.adjust_breaks(moved, breaks, accept=[])
    added = {key: compared.attrs[key] for key in compared.attrs.keys() - moved.attrs.keys()}
    assert set(added) == {"compared_stations", "changes_left_in"}
    assert added["compared_stations"] == breaks.attrs["neighbours"]
    compared.attrs = {key: value for key, value in compared.attrs.items() if key not in added}
    assert compared.identical(moved)
    assert "compared_stations" not in moved.attrs


def test_a_drift_is_taken_off_month_by_month(lasting, neighbours):
    months = (lasting["time"].values.astype("datetime64[M]") - np.datetime64("1999-01")).astype(int)
    rise = xr.DataArray(3.0 * months / 239, dims="time")
    drifting = lasting.assign(tmax=(lasting["tmax"] + rise).assign_attrs(lasting["tmax"].attrs))
    found = pairwise_breaks(drifting, neighbours)
    one = found.isel(change=0)
    assert (one["kind"].item(), one["variable"].item()) == ("drift", "tmax")
    adjusted = cw.adjust_breaks(drifting, found, accept=[1])
    left = adjusted["tmax"] - (lasting["tmax"] + 3.0)
    assert float(np.abs(left).max()) < 0.6
    assert "drift of +" in adjusted.attrs["history"]


def test_the_effect_on_the_odds_is_told(moved, breaks):
    said = effect_of_adjusting(moved, cw.adjust_breaks(moved, breaks, accept=[1]))
    assert said.startswith("With these changes taken off, the last spring freeze comes on or after")
    assert said.count("as read: ") == 4
    # The early years were read too warm for the later level: freezes come later with them moved.
    before, after = (
        cw.freeze_odds(each)["last_spring"].sel(odds=0.5).item()
        for each in (moved, cw.adjust_breaks(moved, breaks, accept=[1]))
    )
    assert after > before


def test_days_in_common_alone_make_a_month(lasting, neighbours):
    # A month in which the two share 19 days is missing, one of 20 is the plain mean of those days.
    one, other = lasting["tmin"].copy(), neighbours["north"]["tmin"].copy()
    inside = one["time"].values.astype("datetime64[M]") == np.datetime64("2004-05")
    days = np.flatnonzero(inside)
    one[days] = 8.0
    other[days] = 5.0
    other[days[20:]] = np.nan
    first, made = monthly_differences([one, other])
    place = (np.datetime64("2004-05") - first).astype(int)
    assert np.isfinite(made[0, 1][place])
    other[days[19:]] = np.nan
    assert np.isnan(monthly_differences([one, other])[1][0, 1][place])


def test_what_cannot_be_compared_is_told(lasting, neighbours, breaks, moved):
    with pytest.raises(ValueError, match="neighbours must name one record or more"):
        pairwise_breaks(lasting, {})
    short = {"short": lasting.sel(time=slice("2001", "2003"))}
    with pytest.raises(DataGapError, match="96 months in common"):
        pairwise_breaks(lasting, short)
    both = records.side_by_side(lasting, lasting)
    with pytest.raises(ValueError, match=r"Choose one station first, with \.sel\(\)"):
        pairwise_breaks(lasting, {"both": both})
    with pytest.raises(ValueError, match="accept must be numbers of changes, 1 to 1; got 7"):
        cw.adjust_breaks(moved, breaks, accept=[7])


def test_too_few_months_on_either_side_are_not_tried():
    dates = changes_to_try(MONTHS)
    assert dates.first[dates.is_step].min() == EDGE
    assert dates.first[dates.is_step].max() <= MONTHS - EDGE
    values = np.random.default_rng(0).normal(size=MONTHS)
    values[:100] = np.nan
    gain = Pair(values, dates).fitted(()).gain
    assert np.isinf(gain[dates.is_step & (dates.first < 100 + EDGE)]).all()
