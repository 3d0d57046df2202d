"""From the station to the garden, by height and by measured offsets."""

import itertools

import numpy as np
import numpy.testing as npt
import pandas as pd
import pytest
import records
import xarray as xr
from odds.offsets import MIDDLES, departure_error
from records import TEMPERATURES, logger_of, station_record, with_gap

from climwin.climate.adjust import (
    _months_variance,
    adjust_to_garden,
    departure,
    in_order,
    measured_offsets,
)
from climwin.core.errors import DataGapError, RecordError
from climwin.core.schema import Garden, InputError
from climwin.io.daily import read_daily


def garden(elevation=None):
    return Garden("Pellbrook", 46.1, 7.2, elevation)


# --- to the garden ------------------------------------------------------------------------


# U.S. Standard Atmosphere 1976 and ISO 2533, by geopotential height: 15.0 degC at sea level,
# 11.75 at 500 m, 8.5 at 1000 m, 2.0 at 2000 m.
@pytest.mark.parametrize(
    ("height", "expected"), [(0, 15.0), (500, 11.75), (1000, 8.5), (2000, 2.0)]
)
def test_default_is_the_standard_atmosphere(height, expected):
    station = records.daily(["2001-01-01"], tmin=[15.0]).assign_attrs(elevation=0.0)
    npt.assert_allclose(adjust_to_garden(station, garden(height))["tmin"], [expected], atol=1e-9)


def test_every_temperature_and_nothing_else_is_moved():
    daily = station_record()
    moved = adjust_to_garden(daily, garden(700))
    for name in TEMPERATURES:
        npt.assert_allclose(moved[name], daily[name] - 1.3)
        assert moved[name].attrs == daily[name].attrs
    npt.assert_array_equal(moved["precip"], daily["precip"])
    assert moved.attrs["elevation"] == 700
    told = "Pellbrook, 200 m above the station, 6.5 °C colder for each 1000 m up"
    assert told in moved.attrs["history"]
    assert moved.attrs["history"] == moved.attrs["changes"]
    before = daily.assign_attrs(changes="gaps filled")
    assert (
        adjust_to_garden(before, garden(700))
        .attrs["changes"]
        .startswith("gaps filled; temperatures")
    )
    assert daily.attrs["elevation"] == 500


def test_what_was_set_aside_moves_too():
    """It is put back where a record is judged, among values that were moved."""
    daily = station_record().assign(tmin_set_aside=station_record()["tmin"])
    moved = adjust_to_garden(daily, garden(700))
    npt.assert_allclose(moved["tmin_set_aside"], moved["tmin"])


def test_twice_is_once():
    moved = adjust_to_garden(station_record(), garden(700))
    xr.testing.assert_allclose(adjust_to_garden(moved, garden(700)), moved)


def test_own_lapse_rates_by_variable():
    daily = station_record()
    moved = adjust_to_garden(daily, garden(1500), lapse={"tmin": 3.0, "tmax": 7.0})
    npt.assert_allclose(moved["tmin"], daily["tmin"] - 3.0)
    npt.assert_allclose(moved["tmax"], daily["tmax"] - 7.0)
    npt.assert_allclose(moved["tmean"], daily["tmean"] - 5.0)  # between the two, as they go
    told = "minimum 3 °C, maximum 7 °C, mean 5 °C colder for each 1000 m up"
    assert told in moved.attrs["changes"]


def test_without_the_gardens_height_the_stations_is_taken_and_noted():
    daily = station_record()
    moved = adjust_to_garden(daily, garden())
    npt.assert_array_equal(moved["tmin"], daily["tmin"])
    assert (
        "at the height of the station, because the garden's is not given" in moved.attrs["history"]
    )


def test_without_the_stations_height_it_says_what_to_do():
    daily = station_record()
    del daily.attrs["elevation"]
    with pytest.raises(ValueError, match=r"The height of the station .*daily.attrs\['elevation'\]"):
        adjust_to_garden(daily, garden(700))


@pytest.mark.parametrize(
    ("height", "told"),
    [
        (200, "300 m below the station, 6.5 °C"),
        (500, "0 m above the station, 6.5 °C"),
        (500.6, "1 m above the station, 6.5 °C"),
    ],
)
def test_it_says_how_far_above_or_below_the_station(height, told):
    moved = adjust_to_garden(station_record(), garden(height))
    assert moved.attrs["changes"] == (
        f"temperatures moved to {garden().full_name}, {told} colder for each 1000 m up"
    )


def test_without_the_gardens_height_it_says_so():
    daily = station_record("2001-01-01", "2001-01-31")
    told = "at the height of the station, because the garden's is not given"
    note = f"temperatures moved to {garden().full_name}, {told}"
    assert adjust_to_garden(daily, garden()).attrs["changes"] == note
    empty = xr.Dataset(coords={"month": np.arange(1, 13)})  # offsets of nothing move nothing
    npt.assert_array_equal(adjust_to_garden(daily, garden(), offsets=empty)["tmin"], daily["tmin"])


def test_the_height_at_which_it_was_measured_is_kept_beside_the_gardens():
    once = adjust_to_garden(station_record(), garden(700))
    assert (once.attrs["elevation"], once.attrs["station_elevation"]) == (700, 500)
    twice = adjust_to_garden(once, garden(900))
    assert (twice.attrs["elevation"], twice.attrs["station_elevation"]) == (900, 500)
    npt.assert_allclose(twice["tmin"], station_record()["tmin"] - 2.6)


def test_stations_are_moved_each_by_its_own_height():
    daily = station_record("2001-01-01", "2001-01-31")
    many = xr.concat([daily] * 3, xr.DataArray(["a", "b", "c"], dims="station"))
    many = many.assign_coords(elevation=("station", [500.0, 700.0, 1000.0]))
    moved = adjust_to_garden(many, garden(700))
    npt.assert_allclose(moved["tmax"] - many["tmax"], [[-1.3] * 31, [0] * 31, [1.95] * 31])
    assert moved["elevation"].values.tolist() == [700] * 3
    assert moved["elevation"].dims == ("station",)
    assert "temperatures moved to Pellbrook" in moved.attrs["changes"]
    assert ", by height, 6.5 °C colder" in moved.attrs["changes"]
    two = adjust_to_garden(many.isel(station=slice(2)), garden(700))
    npt.assert_allclose(two["tmax"], moved["tmax"].isel(station=slice(2)))


def test_a_lapse_rate_may_be_nothing_or_lie_on_either_bound():
    daily = station_record("2001-01-01", "2001-01-31")
    for lapse in (0, 0.1, -0.1, 30, -30):
        moved = adjust_to_garden(daily, garden(1500), lapse=lapse)
        npt.assert_allclose(moved["tmin"] - daily["tmin"], -lapse, atol=1e-9)
    one = adjust_to_garden(daily, garden(1500), lapse={"tmax": 4.0, "tmean": 1.0})
    for name, rate in (("tmin", 0), ("tmax", 4), ("tmean", 1)):
        npt.assert_allclose(one[name] - daily[name], -rate, atol=1e-9)


def test_extremes_are_put_in_order_and_the_mean_between_them():
    low, high, mean = (
        np.array(each, float)
        for each in (
            [1, 5, 3, np.nan, 2, np.nan],
            [4, 2, 3, 6, np.nan, np.nan],
            [5, 1, 3, 7, 1, 9],
        )
    )
    daily = records.daily(records.days("2001-01-01", "2001-01-06"), tmin=low, tmax=high, tmean=mean)
    out = in_order(daily)
    npt.assert_array_equal(out["tmin"], [1, 2, 3, np.nan, 2, np.nan])
    npt.assert_array_equal(out["tmax"], [4, 5, 3, 6, np.nan, np.nan])
    npt.assert_array_equal(out["tmean"], [4, 2, 3, 6, 2, 9])  # a missing extreme is no bound
    npt.assert_array_equal(daily["tmin"], low)
    alone = daily[["tmin", "tmean"]]
    xr.testing.assert_identical(in_order(alone), alone)
    pair = daily[["tmin", "tmax"]]
    xr.testing.assert_identical(in_order(pair), out[["tmin", "tmax"]])


def test_a_gap_stays_a_gap():
    daily = with_gap(station_record(), "2002-03-01", "2002-03-20")
    moved = adjust_to_garden(daily, garden(700))
    npt.assert_array_equal(np.isnan(moved["tmin"]), np.isnan(daily["tmin"]))


def test_stations_of_different_heights_and_dask():
    one, other = station_record(seed=1), station_record(seed=2)
    both = xr.concat([one, other], xr.DataArray(["a", "b"], dims="station"))
    both = both.assign_coords(elevation=("station", [500.0, 900.0])).chunk(station=1)
    both.attrs.pop("elevation")
    moved = adjust_to_garden(both, garden(700))
    assert moved["tmin"].chunks is not None
    assert moved["tmin"].dims == both["tmin"].dims
    npt.assert_allclose(moved["tmin"].isel(station=0), one["tmin"] - 1.3)
    npt.assert_allclose(moved["tmin"].isel(station=1), other["tmin"] + 1.3)
    assert moved["elevation"].values.tolist() == [700, 700]


# --- measured offsets ---------------------------------------------------------------------


def yearly(daily, mean=0.5, wave=1.5, warmest=200):
    """A garden's true offset: a wave through the year."""
    day = daily["time"].dt.dayofyear
    return mean + wave * np.cos(2 * np.pi * (day - warmest) / 365.25)


def beside(daily, tmin, tmax=None, noise=0.5, seed=3):
    """Logger that departs from the station by `tmin` and `tmax`, with scatter of single days."""
    rng = np.random.default_rng(seed)
    scatter = rng.normal(0, noise, (2, daily.sizes["time"]))
    low = daily["tmin"] + tmin + scatter[0]
    high = daily["tmax"] + (tmin if tmax is None else tmax) + scatter[1]
    return records.daily(daily["time"], tmin=low, tmax=high)


def test_offsets_of_each_month_are_found():
    daily = station_record()
    steps = np.linspace(-2, 2, 12)
    logger = logger_of(daily, steps).sel(time=slice("2003-01-01", "2003-12-31"))
    offsets = measured_offsets(daily, logger)
    npt.assert_allclose(offsets["tmin"], steps, atol=1e-12)
    npt.assert_array_equal(offsets["tmin_days"], [31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31])
    npt.assert_array_equal(offsets["tmin_years"], 1)
    npt.assert_allclose(offsets["tmin_middle"].sel(month=[1, 12]), [16, 350])
    assert offsets["tmin"].attrs["units"] == "degC"


def test_a_wave_through_the_year_is_found_and_used_without_jumps():
    daily = station_record("1991-01-01", "2003-12-31")
    truth = yearly(daily)
    offsets = measured_offsets(daily, beside(daily, truth).sel(time=slice("1995", "1998")))
    change = adjust_to_garden(daily, garden(), offsets=offsets)["tmin"] - daily["tmin"]
    npt.assert_allclose(change, truth, atol=0.3)
    assert np.abs(np.diff(change)).max() < 0.06  # a wave of 1.5 moves by 0.026 a day


def test_the_edge_of_a_measured_season_does_not_jump():
    # the rule says -1.3 degC, the logger of a spring +4.5: by month a jump of 5.8 degC
    daily = station_record("1991-01-01", "2003-12-31")
    logger = beside(daily, 4.5).sel(time=slice("2000-03-01", "2000-05-31"))
    offsets = measured_offsets(daily, logger)
    moved = adjust_to_garden(daily, garden(700), offsets=offsets)
    change = (moved["tmin"] - daily["tmin"]).sel(time="2001").values
    around = np.append(change, change[0])
    assert np.abs(np.diff(around)).max() < 0.15
    assert change[104] > 3.5  # the middle of April, as measured
    assert abs(change[288] + 1.3) < 1.5  # October: near the lapse rate


def test_the_less_was_measured_the_nearer_it_stays_to_the_rule_of_height():
    daily = station_record("1991-01-01", "2003-12-31")
    every_other = 2.0 * (-1.0) ** np.arange(daily.sizes["time"])  # the same mean in any span
    logger = beside(daily, 3.0 + every_other, noise=0.0)
    changes = []
    for span in (("2000-04-01", "2000-04-14"), ("2000-04-01", "2000-04-30"), ("1996", "2003")):
        offsets = measured_offsets(daily, logger.sel(time=slice(*span)))
        moved = adjust_to_garden(daily, garden(), offsets=offsets)
        changes.append(float((moved["tmin"] - daily["tmin"]).sel(time="2001-04-15")))
    assert 0 < changes[0] < changes[1] < changes[2]
    assert changes[2] == pytest.approx(3.0, abs=0.25)


def test_one_day_moves_no_month_and_too_few_are_refused():
    daily = station_record("1991-01-01", "2003-12-31")
    whole = beside(daily, 0.0).sel(time=slice("2000-04-01", "2000-04-30"))
    odd = beside(daily, 15.0).sel(time=slice("2000-05-01", "2000-05-01"))
    both = xr.concat([whole, odd], "time")
    before, after = (
        adjust_to_garden(daily, garden(), offsets=measured_offsets(daily, logger))["tmin"]
        for logger in (whole, both)
    )
    may = (after - before).sel(time="2001-05")
    npt.assert_allclose(may, 0, atol=1e-9)  # by month it was 15
    for days, said in ((1, "only 1 day with"), (13, "only 13 days with")):
        with pytest.raises(DataGapError, match=said + r" a temperature.*at least 14 are needed"):
            measured_offsets(daily, whole.isel(time=slice(days)))


def test_minimum_maximum_and_mean_move_together():
    daily = station_record("1991-01-01", "2003-12-31")
    daily["tmean"] = (daily["tmin"] + daily["tmax"]) / 2
    daily["tmean"].attrs = daily["tmin"].attrs
    logger = beside(daily, -3.0, 4.0).sel(time=slice("1998", "2000"))
    moved = adjust_to_garden(daily, garden(), offsets=measured_offsets(daily, logger))
    assert (moved["tmin"] <= moved["tmean"] + 1e-9).all()
    assert (moved["tmean"] <= moved["tmax"] + 1e-9).all()
    npt.assert_allclose((moved["tmean"] - daily["tmean"]).mean(), 0.5, atol=0.1)
    # offsets that would cross the extremes leave them in order
    closer = beside(daily, 9.0, -9.0).sel(time=slice("1998", "2000"))
    both = xr.merge([measured_offsets(daily, closer[[name]]) for name in ("tmin", "tmax")])
    crossed = adjust_to_garden(daily, garden(), offsets=both)
    assert (crossed["tmin"] <= crossed["tmax"]).all()
    # of a logger that has the minimum alone, the maximum departs as it does
    alone = logger[["tmin"]]
    one = adjust_to_garden(daily, garden(), offsets=measured_offsets(daily, alone))
    npt.assert_allclose((one["tmax"] - daily["tmax"]).mean(), -3.0, atol=0.2)


def test_months_not_measured_and_the_days_behind_the_others_are_named():
    daily = station_record()
    logger = logger_of(daily, [1.5] * 12).sel(time=slice("2003-04-10", "2003-06-20"))
    offsets = measured_offsets(daily, logger)
    assert np.flatnonzero(~np.isnan(offsets["tmin"])).tolist() == [3, 4, 5]
    assert offsets["tmin_days"].values.tolist() == [0, 0, 0, 21, 31, 20, 0, 0, 0, 0, 0, 0]
    moved = adjust_to_garden(daily, garden(700), offsets=offsets)
    change = (moved["tmin"] - daily["tmin"]).groupby("time.month").mean()
    npt.assert_allclose(change.sel(month=[4, 5, 6]), 1.5, atol=0.3)
    assert (change.sel(month=[10, 11, 12]) < change.sel(month=5) - 0.5).all()
    history = moved.attrs["history"]
    assert "by offsets measured in Apr, May, Jun (minimum from 72 days" in history
    assert "closer to the lapse rate where less was measured" in history
    assert "other months 200 m above the station" in history


def flat_offsets(**by_name):
    """Offsets as of ten years without a doubt: the same in every month."""
    one = {"_se": 0.0, "_days": 310, "_years": 10}
    middles = np.array([16, 45, 75, 105, 136, 166, 197, 228, 258, 289, 319, 350.0])
    out = xr.Dataset(coords={"month": np.arange(1, 13)})
    for name, offset in by_name.items():
        out[name] = ("month", np.full(12, float(offset)))
        for key, value in one.items():
            out[name + key] = ("month", np.full(12, value))
        out[f"{name}_middle"] = ("month", middles)
    return out


@pytest.mark.parametrize(
    ("measured", "moves"),
    [
        ({"tmin": -3}, (-3, -3, -3)),
        ({"tmax": 2}, (2, 2, 2)),
        ({"tmean": 1}, (1, 1, 1)),
        ({"tmin": -3, "tmax": 2}, (-3, 2, -0.5)),
        ({"tmin": -3, "tmean": 1}, (-3, -3, 1)),
        ({"tmax": 2, "tmean": 1}, (2, 2, 1)),
        ({"tmin": -3, "tmax": 2, "tmean": 1}, (-3, 2, 1)),
    ],
)
@pytest.mark.parametrize("height", [None, 500, 900])
def test_what_was_not_measured_departs_as_the_extremes_do(measured, moves, height):
    # whatever the height says, ten years of a logger say more
    daily = station_record("2001-01-01", "2001-12-31")
    moved = adjust_to_garden(daily, garden(height), offsets=flat_offsets(**measured))
    for name, move in zip(TEMPERATURES, moves, strict=True):
        npt.assert_allclose(moved[name] - daily[name], move, atol=0.1)


def test_a_measured_mean_moves_the_extremes_of_a_record_without_a_mean():
    daily = station_record("2001-01-01", "2001-12-31")
    moved = adjust_to_garden(daily[["tmin", "tmax"]], garden(), offsets=flat_offsets(tmean=1))
    npt.assert_allclose(moved["tmin"] - daily["tmin"], 1, atol=0.1)


def plain_departure(offsets, name, rule_c, day):
    """Mean of a Gaussian process given the measured months, by its covariances."""
    used = offsets[f"{name}_days"].values >= 5
    if not used.any():
        return np.zeros(len(day))
    errors = np.maximum(offsets[f"{name}_se"].values[used], 0.1)
    noise = np.outer(errors, errors) * (0.25 + 0.75 * np.eye(used.sum()))
    measured = offsets[name].values[used]
    off = (measured.mean() - rule_c) ** 2 - noise.mean()
    size = max(2.0, np.sqrt(max(off, 0.0)))

    def prior(one, other):
        apart = 2 * np.pi * np.subtract.outer(one, other) / 365.25
        waves = sum(part**2 * np.cos(k * apart) for k, part in ((1, 1), (2, 0.5), (3, 0.25)))
        return size**2 * (1 + waves)

    middle = offsets[f"{name}_middle"].values[used]
    gain = np.linalg.solve(prior(middle, middle) + noise, measured - rule_c)
    return prior(day, middle) @ gain


@pytest.mark.parametrize("rule_c", [0.0, -1.3])
@pytest.mark.parametrize("level", [0.4, 3.5, 5.5, -8.0])
def test_the_departure_is_that_of_a_gaussian_process(level, rule_c):
    rng = np.random.default_rng(7)
    offsets = flat_offsets(tmin=level)
    offsets["tmin"].values[:] += rng.normal(0, 1, 12)
    offsets["tmin_se"].values[:] = rng.uniform(0, 2.5, 12)
    day = np.array([1, 50, 100, 200, 300, 365])
    for days_known in (
        [31] * 12,
        [0, 0, 4, 5, 31, 12, 0, 0, 0, 0, 0, 0],
        [0] * 12,
    ):
        offsets["tmin_days"].values[:] = days_known
        found = departure(offsets, "tmin", rule_c, xr.DataArray(day, dims="time"))
        npt.assert_allclose(found, plain_departure(offsets, "tmin", rule_c, day), atol=1e-9)


def test_a_logger_that_is_stuck_shares_no_weather_with_the_station():
    daily = station_record("2001-01-01", "2001-12-31").isel(time=slice(None, None, 2))
    stuck = daily[["tmin"]].copy(deep=True)
    stuck["tmin"].values[:] = 7.0
    offsets = measured_offsets(daily, stuck)
    months = daily["tmin"].to_series().groupby(daily["time"].dt.month.values)
    n, squares = months.count(), months.var() * (months.count() - 1)
    variance = (squares + 5 * squares.sum() / (n - 1).sum()) / (n - 1 + 5)
    npt.assert_allclose(offsets["tmin_se"], np.sqrt(variance / n + 0.2 * variance))


def test_days_that_the_logger_lacks_do_not_count():
    # every other day from the last of January on, of a record without gaps
    daily = station_record("2001-01-01", "2001-12-31")
    days_of = slice("2001-01-31", None)
    logger = (
        logger_of(daily, [0.5] * 12, noise=0.8).sel(time=days_of).isel(time=slice(None, None, 2))
    )
    offsets = measured_offsets(daily, logger)
    difference = (logger["tmin"] - daily["tmin"]).to_series()
    months = difference.groupby(difference.index.month)
    n, squares = months.count(), (months.var() * (months.count() - 1)).fillna(0)
    variance = (squares + 5 * squares.sum() / (n - 1).sum()) / (n - 1 + 5)
    year = share_of_the_year(daily["tmin"], logger["tmin"])
    npt.assert_allclose(offsets["tmin_se"], np.sqrt(variance / n + year * variance))


@pytest.mark.parametrize(("least_days", "years"), [(31, 10), (25, 12), (24, 12), (31, 9)])
def test_how_months_differ_between_years_by_pandas(least_days, years):
    """Whole months alone count, of 25 days or more, and ten of each; else what is usual, 0.2."""
    time = pd.date_range("1991-01-01", f"{1991 + years}-06-14")  # half a year more, torn
    rng = np.random.default_rng(years)
    of_months = time.to_period("M").value_counts(sort=False)
    level = np.repeat(rng.normal(0, 2, len(of_months)), of_months)
    series = pd.Series(level + rng.normal(0, 3, len(time)), time)
    series[time.day > least_days] = np.nan
    if years == 12:  # a torn month is left out: it has 20 days
        series[(time.year == 1994) & (time.month == 7) & (time.day > 20)] = np.nan
    month = (time.year - 1991) * 12 + time.month - 1
    found = _months_variance(series.to_numpy(), np.asarray(month))
    groups = series.groupby([time.month, time.year])
    whole = groups.count() >= 25
    counts = whole.groupby(level=0).sum()
    assert (counts.min() >= 10) == (least_days >= 25 and years >= 10)
    if counts.min() < 10:
        assert found == 0.2
    else:
        means = groups.mean()[whole]
        between = means.groupby(level=0).var().mean()
        assert found == pytest.approx(between / groups.var()[whole].mean())
        assert 0.2 < found < 0.8


def test_months_of_the_very_same_days_differ_as_is_usual():
    month = np.repeat(np.arange(120), 30)
    assert _months_variance(np.full(3600, 7.0), month) == 0.2
    assert _months_variance(np.tile([6.9, 7.1], 1800), month) == pytest.approx(0, abs=1e-12)


def share_of_the_year(station, garden, months_variance=0.2):
    """Variance of a month between years over that of its days: by pandas."""
    both = pd.DataFrame({"a": station.to_series(), "b": garden.to_series()}).dropna()
    apart = both - both.groupby(both.index.month).transform("mean")
    shared = apart.corr().loc["a", "b"]
    return 0.15**2 * shared + months_variance * (1 - shared)


def test_standard_error_of_independent_days_is_that_of_the_mean_and_of_the_year():
    daily = station_record("2001-01-01", "2001-12-31")
    logger = logger_of(daily, [1.0] * 12, noise=0.8)
    offsets = measured_offsets(daily, logger)
    difference = (logger["tmin"] - daily["tmin"]).to_series()
    months = difference.groupby(difference.index.month)
    # pandas: sd / sqrt(n), and for the year 0.15 of the spread where the days go together, or what
    # months of stations usually have, a variance of 0.2 of the days'. A chance correlation of the
    # days up to 0.1, and the spread borrowed from other months, let the two differ by a tenth.
    year = share_of_the_year(daily["tmin"], logger["tmin"]) * months.var()
    plain = np.sqrt(months.sem() ** 2 + year)
    npt.assert_allclose(offsets["tmin_se"], plain, rtol=0.12)


def test_standard_error_holds_for_days_that_are_alike():
    # the spread of 150 simulated means of July is the truth; days correlated by 0.6, and years
    # that differ by 0.18 of the spread of single days, which is 1: the garden's days go with the
    # station's by 3 / sqrt(10), and of so few years 0.15 ** 2 * 0.95 + 0.2 * 0.05 is the square
    rng, means, errors = np.random.default_rng(4), [], []
    time = records.days("2001-07-01", "2001-09-30")
    station = records.daily(time, tmin=rng.normal(0, 3, len(time)))
    for _ in range(150):
        noise = rng.normal(0, 0.8, len(time) + 50)
        red = np.zeros(len(noise))
        for day in range(1, len(noise)):
            red[day] = 0.6 * red[day - 1] + noise[day]
        year = rng.normal(0, 0.18)
        garden_tmin = station["tmin"].values + 1 + year + red[50:]
        offsets = measured_offsets(station, records.daily(time, tmin=garden_tmin))
        means.append(float(offsets["tmin"].sel(month=7)))
        errors.append(float(offsets["tmin_se"].sel(month=7)))
    assert np.mean(means) == pytest.approx(1, abs=0.1)
    # 92 days give a correlation that is a little low, and with it the error
    assert np.std(means) * 0.75 < np.mean(errors) < np.std(means) * 1.1
    assert np.mean(errors) > 1.5 * 1.0 / np.sqrt(31)  # what independent days would claim


PAIRS = [
    *[("Urbana_IL", "Indianola_IA"), ("Urbana_IL", "Wooster_OH"), ("Urbana_IL", "Champion_NE")],
    *[("Indianola_IA", "FortDodge_IA"), ("Indianola_IA", "Wooster_OH")],
]


def test_intervals_hold_on_other_years_of_real_pairs():
    # A year, and a spring, of one station stand in for a logger beside another; the truth is the
    # mean difference of each month over all other years, 1985 to 2014.
    held = {"year": [], "spring": []}
    for first, second in PAIRS:
        paths = [records.SHARED / "records" / f"{name}.csv" for name in (first, second)]
        if not all(path.exists() for path in paths):
            pytest.skip("the real records are not here")
        station, other = xr.align(
            *(read_daily(path)[["tmin", "tmax"]] for path in paths), join="inner"
        )
        for year, name in itertools.product(range(1986, 2014, 3), ("tmin", "tmax")):
            inside = station["time"].dt.year == year
            gaps = (other - station)[name]
            if int(np.isfinite(gaps[inside]).sum()) < 330:
                continue
            truth = gaps[~inside].groupby("time.month").mean().values
            spans = {"year": (1, 12), "spring": (4, 6)}
            for kind, (start, end) in spans.items():
                part = other.sel(time=slice(f"{year}-{start:02}", f"{year}-{end:02}"))
                offsets = measured_offsets(station, part[[name]])
                curve = departure(offsets, name, 0.0, xr.DataArray(MIDDLES, dims="time"))
                error = departure_error(offsets, name, MIDDLES)
                hits = np.abs(curve.values - truth) <= 1.645 * error
                held[kind] += list(hits[start - 1 : end])
    assert len(held["year"]) > 800
    for kind in held:
        assert 0.86 <= np.mean(held[kind]) <= 0.95, (kind, np.mean(held[kind]))


def test_a_gap_between_days_breaks_no_pair_rule():
    # days of which none is next to another: nothing says that they are alike
    daily = station_record("2001-01-01", "2001-12-31").isel(time=slice(None, None, 2))
    logger = logger_of(daily, [0.5] * 12, noise=0.8)
    offsets = measured_offsets(daily, logger)
    difference = (logger["tmin"] - daily["tmin"]).to_series()
    months = difference.groupby(difference.index.month)
    n, squares = months.count(), months.var() * (months.count() - 1)
    pooled = squares.sum() / (n - 1).sum()  # which counts as five days more
    variance = (squares + 5 * pooled) / (n - 1 + 5)
    year = share_of_the_year(daily["tmin"], logger["tmin"])
    npt.assert_allclose(offsets["tmin_se"], np.sqrt(variance / n + year * variance))


def test_a_place_with_weather_of_its_own_differs_from_year_to_year_as_the_stations_months_do():
    daily = station_record("1991-01-01", "2003-12-31")
    other = station_record("1991-01-01", "2003-12-31", seed=9)
    logger = other.sel(time=slice("2000-01-01", "2000-12-31"))
    offsets = measured_offsets(daily, logger)
    series = daily["tmin"].to_series()
    months = series.groupby([series.index.year, series.index.month])
    own = months.mean().groupby(level=1).var().mean() / months.var().mean()
    difference = (logger["tmin"] - daily["tmin"]).to_series()
    by_month = difference.groupby(difference.index.month)
    n, squares = by_month.count(), by_month.var() * (by_month.count() - 1)
    variance = (squares + 5 * squares.sum() / (n - 1).sum()) / (n - 1 + 5)
    year = share_of_the_year(daily["tmin"], logger["tmin"], own)
    assert (
        year < 0.06
    )  # days drawn one by one: their months differ by little, 1/30 of their variance
    plain = np.sqrt(variance / n + year * variance)
    npt.assert_allclose(offsets["tmin_se"], plain, rtol=0.12)  # a chance correlation of days


def test_a_garden_far_from_the_rule_of_height_is_not_drawn_back_to_it():
    # 7 degC off all year: drawn to the rule by a prior of 2 degC, it would miss by a degree
    daily = station_record("1991-01-01", "2003-12-31")
    logger = beside(daily, 7.0, noise=6.0).sel(time=slice("2000-01-01", "2000-12-31"))
    offsets = measured_offsets(daily, logger)
    change = (adjust_to_garden(daily, garden(), offsets=offsets)["tmin"] - daily["tmin"]).mean()
    assert change == pytest.approx(float(offsets["tmin"].mean()), abs=0.1)


def test_a_logger_without_a_day_in_common():
    daily = station_record("2001-01-01", "2001-12-31")
    with pytest.raises(DataGapError, match="no day with a temperature in common"):
        measured_offsets(daily, station_record("2003-01-01", "2003-02-01"))


@pytest.mark.parametrize(
    ("spoil", "error", "told"),
    [
        (lambda x: records.daily(x["time"], tmin=32 + 1.8 * x["tmin"], tmax=32 + 1.8 * x["tmax"]),
         RecordError, "looks like degF read as degC"),
        (lambda x: x.rename(tmin="tmax", tmax="tmin"), InputError,
         "tmin is above its tmax.*swapped"),
        (lambda x: x[["tmin"]].rename(tmin="temperature"), InputError,
         r"needs tmin, tmax or tmean of each day.*it has temperature\..*logger_days\(logger\)"),
        (lambda x: x.expand_dims(station=["a", "b"]), InputError,
         r"measured at one place, got dimensions .*station.*\.sel\(\)"),
        (lambda x: x.isel(time=slice(0)), DataGapError, "no day with a temperature in common"),
    ],
)  # fmt: skip
def test_a_logger_that_cannot_be_the_gardens_is_refused(spoil, error, told):
    daily = station_record("2001-01-01", "2003-12-31")
    logger = daily[["tmin", "tmax"]].sel(time="2002")
    assert int(measured_offsets(daily, logger)["tmin_days"].sum()) == 365
    with pytest.raises(error, match=told):
        measured_offsets(daily, spoil(logger))


@pytest.mark.parametrize("lapse", [0.0065, float("nan"), 65.0, -65.0])
def test_a_lapse_rate_that_is_not_per_kilometre_is_refused(lapse):
    told = r"lapse is in degC per km: 0, or 0\.1 to 30 .*, got .*6\.5 is usual"
    for given in (lapse, {"tmin": lapse}):
        with pytest.raises(ValueError, match=told):
            adjust_to_garden(station_record(), garden(700), lapse=given)


@pytest.mark.parametrize(
    ("names", "told"),
    [
        ([], "it has nothing."),
        (["humidity"], "it has humidity."),
        (["humidity", "light"], "it has humidity, light."),
    ],
)
def test_a_logger_without_a_daily_temperature_is_told_what_is_needed(names, told):
    daily = station_record("2001-01-01", "2001-12-31")
    logger = xr.Dataset(dict.fromkeys(names, daily["precip"]), {"time": daily["time"]})
    with pytest.raises(InputError) as refused:
        measured_offsets(daily, logger)
    assert str(refused.value).startswith(
        "The logger needs tmin, tmax or tmean of each day, as the record has them; "
        f"{told} Readings become days by "
    )


def test_a_logger_needs_fourteen_days_and_may_have_crossed_extremes_on_half_of_them():
    daily = station_record("2001-01-01", "2001-12-31")
    logger = logger_of(daily, [0.5] * 12)[["tmin", "tmax"]].isel(time=slice(40))
    first = logger.isel(time=slice(14))
    assert int(measured_offsets(daily, first)["tmin_days"].sum()) == 14
    for count, told in ((1, "only 1 day with"), (2, "only 2 days with")):
        with pytest.raises(DataGapError, match=rf"station have {told} a temperature in common; "):
            measured_offsets(daily, logger.isel(time=slice(count)))
    even = xr.DataArray(np.arange(40) % 2 == 0, dims="time", coords={"time": logger["time"]})
    crossed = logger.assign(
        tmin=logger["tmin"].where(even, logger["tmax"] + 1).assign_attrs(logger["tmin"].attrs)
    )
    assert int(measured_offsets(daily, crossed)["tmin_days"].sum()) == 40
    alike = logger.assign(tmin=logger["tmax"])
    assert int(measured_offsets(daily, alike)["tmin_days"].sum()) == 40
    alone = logger[["tmin"]]
    assert "tmax" not in measured_offsets(daily, alone)


def test_a_logger_is_not_combined_with_a_scenario():
    daily = station_record("2001-01-01", "2001-12-31")
    logger = logger_of(daily, [0.5] * 12)[["tmin"]]
    with pytest.raises(InputError, match="A scenario and what was observed are mixed"):
        measured_offsets(daily.assign_attrs(scenario="ssp245"), logger)


def test_a_lapse_rate_of_another_variable_is_refused():
    with pytest.raises(ValueError, match="lapse must be one of tmin, tmax, tmean; got 'minimum'"):
        adjust_to_garden(station_record(), garden(700), lapse={"minimum": 5.0})


def test_a_southern_record_keeps_its_months():
    # January is July's opposite: the offset of each month goes to its own days
    daily = station_record()
    daily = daily.assign_coords(time=daily["time"] + np.timedelta64(182, "D"))
    truth = yearly(daily)
    moved = adjust_to_garden(daily, garden(), offsets=measured_offsets(daily, beside(daily, truth)))
    npt.assert_allclose(moved["tmin"] - daily["tmin"], truth, atol=0.3)
