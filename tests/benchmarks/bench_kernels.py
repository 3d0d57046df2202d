"""Day bands, freeze dates, windows and the bootstrap against what a user would write instead."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
import pandas as pd
import scipy.stats
import xarray as xr
from invented import region
from race import Row, Ways, memory, race, race_on_both_clocks

from climwin.climate import freeze, percentiles, windows
from climwin.climate.freeze import LEVELS, freeze_dates
from climwin.climate.percentiles import PERCENTILES, day_bands
from climwin.climate.resolution import steps
from climwin.climate.usable import CRITERIA
from climwin.climate.windows import usable_windows
from climwin.core.schema import TOLERANCE_C
from climwin.core.seasons import by_year, coldest_day, day_of_year, warmest_day
from climwin.crops.model import Limits

THRESHOLDS = [2.0, 0.0, -2.0, -4.0, -6.0]
COOL = Limits(low_c=7.2, high_c=18.0, source="benchmark")
SIXTY = [
    Limits(low_c=float(low), high_c=float(high), source="benchmark")
    for low in np.linspace(0, 12, 6)
    for high in np.linspace(15, 30, 10)
]
SHARES = np.array(PERCENTILES) / 100

COMPILED = "plain NumPy; 15 was measured for a compiled kernel, which is left out"
LABELS = "most of it labels, dates and statuses, which do not grow with the stations"
SCANNED = "plain NumPy, a station at a time; 1,000 was measured for a compiled kernel"
COUNTED = "15 days' counts are added up and searched; less than two sorts"
TWICE = "each band is searched for the worst and the best that gaps and freezes allow"
FAIR = "the other does not fill gaps either; ours says which years they leave open"
"""Why a ratio is what it is."""
UNDRAWN = "gaps not drawn"


# --- what a user would write --------------------------------------------------------------


def xclim_bands(tmin: xr.DataArray) -> object:
    from xclim.core.calendar import percentile_doy

    return percentile_doy(tmin, window=15, per=list(PERCENTILES)).compute()


def xarray_bands(tmin: xr.DataArray) -> object:
    near = tmin.rolling(time=15, center=True).construct("near")
    return near.groupby("time.dayofyear").quantile(SHARES, dim=["time", "near"])


def pandas_bands(tmin: xr.DataArray) -> object:
    """A loop over stations and days of the year."""
    day = day_of_year(tmin["time"])
    found = []
    for values in np.atleast_2d(tmin.values):
        series = pd.Series(values)
        for each in range(1, 366):
            apart = np.abs(day - each)
            near = series[np.minimum(apart, 365 - apart) <= 7]
            found.append(near.quantile(SHARES))
    return found


def xclim_freezes(tmin: xr.DataArray) -> object:
    from xclim.indices import first_day_temperature_below, last_spring_frost

    return [
        way(tmin, thresh=f"{threshold} degC", op="<=").compute()
        for threshold in THRESHOLDS
        for way in (last_spring_frost, first_day_temperature_below)
    ]


def pandas_freezes(tmin: xr.DataArray) -> object:
    """A loop over stations, years and thresholds."""
    time, found = pd.DatetimeIndex(tmin["time"].values), []
    for values in np.atleast_2d(tmin.values):
        for _, year in pd.Series(values, time).groupby(time.year):
            early = year.index.month < 7
            for threshold in THRESHOLDS:
                frozen = year <= threshold + TOLERANCE_C
                found.append(
                    (frozen[early & frozen].index.max(), frozen[~early & frozen].index.min())
                )
    return found


def xclim_windows(tmean: xr.DataArray) -> object:
    """Longest run of each year, breaks of up to 3 days bridged; by calendar year, no freezes."""
    from xclim.indices import run_length

    mean = tmean.rolling(time=7, center=True).mean()
    usable = (mean >= COOL.low_c) & (mean <= COOL.high_c)
    runs = run_length.runs_with_holes(usable, 1, ~usable, 4)
    longest = run_length.longest_run
    return run_length.resample_and_rl(runs.astype(bool), True, longest, freq="YS").compute()


def pandas_windows(tmean: xr.DataArray) -> object:
    """A loop over stations and years, with breaks of up to 3 days bridged."""
    time, found = pd.DatetimeIndex(tmean["time"].values), []
    for values in np.atleast_2d(tmean.values):
        mean = pd.Series(values, time).rolling(7, center=True).mean()
        for _, usable in mean.between(COOL.low_c, COOL.high_c).groupby(time.year):
            runs = (usable != usable.shift()).cumsum()
            bridged = usable | (usable.groupby(runs).transform("size") <= 3)
            runs = (bridged != bridged.shift()).cumsum()
            found.append(bridged.groupby(runs).sum().max())
    return found


# --- races --------------------------------------------------------------------------------


def rows(quick: bool = False) -> Iterator[Row]:
    """Every race of kernels; quick is for the tests, to see that all still run."""
    years, rounds = (4, 1) if quick else (40, 5)
    for stations in (1, 2) if quick else (1, 50):
        yield from _date_kernel(region(stations, years).load(), stations, rounds)
    record = region(1, years).load().isel(station=0)
    yield from _band_kernel(record, 10 * rounds)
    yield from _window_kernel(record, rounds)
    yield from _bootstrap(record, rounds)


def with_labels(quick: bool = False) -> Iterator[Row]:
    """The functions as they are called, with labels and dates, of one station and of many."""
    years = 4 if quick else 40
    for stations in (1,) if quick else (1, 50, 500):
        rounds = 1 if quick else 2 if stations > 50 else 3
        places = region(stations, years).load()
        record = places.isel(station=0) if stations == 1 else places
        yield from _bands(record, stations, rounds)
        yield from _freezes(record, stations, rounds)
        yield from _windows(record, stations, rounds)


def _rows(
    work: str, ways: Ways, rounds: int, size: int, *, note: str, target: float | None = None
) -> Iterator[Row]:
    """Ours against each other way, in time and in memory."""
    times = race_on_both_clocks(ways, rounds)
    held = {name: memory(way, size) for name, way in ways.items()}
    for name in [*ways][1:]:
        yield Row(
            work,
            name,
            times["ours"].wall,
            times[name].wall,
            target if name.startswith("xclim") else None,
            ours_memory=held["ours"],
            theirs_memory=held[name],
            ours_cpu_s=times["ours"].cpu,
            theirs_cpu_s=times[name].cpu,
            note=note,
        )


def _target(stations: int, one: float, fifty: float, more: float) -> float:
    """What is asked of one station, of fifty, and of 500, in times of xclim."""
    return one if stations == 1 else fifty if stations <= 50 else more


def _bands(record: xr.Dataset, stations: int, rounds: int) -> Iterator[Row]:
    tmin = record["tmin"]
    ways = {
        "ours": lambda: day_bands(tmin),
        "xclim": lambda: xclim_bands(tmin),
    }
    if stations <= 50:  # the windows of 500 stations would take 7 GB
        ways["xarray groupby"] = lambda: xarray_bands(tmin)
    if stations == 1:
        ways["pandas loop"] = lambda: pandas_bands(tmin)
    note, target = COMPILED if stations > 1 else LABELS, _target(stations, 3, 10, 10)
    work = f"day bands, {_n(stations)}"
    yield from _rows(work, ways, rounds, tmin.nbytes, note=note, target=target)


def _freezes(record: xr.Dataset, stations: int, rounds: int) -> Iterator[Row]:
    tmin = record["tmin"]
    ways = {
        "ours": lambda: freeze_dates(record, THRESHOLDS),
        "xclim": lambda: xclim_freezes(tmin),
    }
    if stations <= 50:  # a loop takes as much longer as it has more stations
        ways["pandas loop"] = lambda: pandas_freezes(tmin)
    work, target = f"freeze dates at 5 thresholds, {_n(stations)}", _target(stations, 60, 60, 40)
    yield from _rows(work, ways, rounds, tmin.nbytes, note=LABELS, target=target)
    ways = {
        "ours": lambda: freeze_dates(record, THRESHOLDS, with_draws=False),
        "xclim": ways["xclim"],
    }
    yield from _rows(f"{work}, {UNDRAWN}", ways, rounds, tmin.nbytes, note=FAIR)


def _windows(record: xr.Dataset, stations: int, rounds: int) -> Iterator[Row]:
    tmean = record["tmean"]
    ways = {
        "ours": lambda: usable_windows(record, COOL),
        "xclim runs with holes": lambda: xclim_windows(tmean),
    }
    if stations <= 50:
        ways["pandas loop"] = lambda: pandas_windows(tmean)
    work, target = f"windows of one band, {_n(stations)}", _target(stations, 3, 20, 20)
    note = f"{LABELS}; {TWICE}"
    yield from _rows(work, ways, rounds, tmean.nbytes, note=note, target=target)
    ways["ours"] = lambda: usable_windows(record, COOL, with_draws=False)
    yield from _rows(f"{work}, {UNDRAWN}", ways, rounds, tmean.nbytes, note=FAIR)


def _n(stations: int) -> str:
    return f"{stations} station{'s' if stations > 1 else ''}"


# --- the kernels without their labels -----------------------------------------------------


def _band_kernel(record: xr.Dataset, rounds: int) -> Iterator[Row]:
    day = day_of_year(record["time"]) - 1
    tenths, others = (record[name].values for name in ("tmin", "tmean"))
    ways = {
        "tenths": lambda: percentiles._bands(tenths, day, SHARES, 7, "median_unbiased"),
        "others": lambda: percentiles._bands(others, day, SHARES, 7, "median_unbiased"),
        "sort": lambda: np.sort(tenths),
    }
    times = race(ways, rounds)
    limit, sorting = "np.sort of the values", "the numbers near each day are sorted, not counted"
    for name, values, target, note in (
        ("tenths", "whole tenths", 1.5, COUNTED),
        ("others", "other values", None, sorting),
    ):
        work = f"kernel of the day bands, {values}"
        yield Row(work, limit, times[name], times["sort"], target, at_most=True, note=note)


def _date_kernel(record: xr.Dataset, stations: int, rounds: int) -> Iterator[Row]:
    minima = by_year(record["tmin"])
    grids = minima.values
    turns = [day(record).values.tolist() for day in (coldest_day, warmest_day)]
    search = freeze._dates_kernel(np.array(THRESHOLDS), ["tmin"], with_draws=True)
    each_station = list(zip(*turns, steps(minima).values, grids, strict=True))
    ways = {
        "ours": lambda: [search(*each) for each in each_station],
        "pass": lambda: grids <= 0,
        "xclim": lambda: xclim_freezes(record["tmin"]),
    }
    times = race(ways, rounds)
    work, note = f"kernel of the freeze dates, {_n(stations)}", SCANNED if stations > 1 else ""
    yield Row(work, "xclim", times["ours"], times["xclim"], 1000.0, note=note)
    yield Row(work, "one pass over the values", times["ours"], times["pass"], at_most=True)


def _window_kernel(record: xr.Dataset, rounds: int) -> Iterator[Row]:
    names = ["tmean", "tmin"]
    tmean, tmin = (by_year(record[name]) for name in names)
    killed_at = np.full(len(SIXTY), -np.inf)
    search = windows._station_kernel(SIXTY, killed_at, CRITERIA["mean"], names, with_draws=True)
    ways = {
        "ours": lambda: search(tmean.values, tmin.values, steps(tmin).values, tmean.values),
        "all": lambda: usable_windows(record, SIXTY),
        "xclim": lambda: xclim_windows(record["tmean"]),
    }
    times = race(ways, rounds)
    work, sixty = "kernel of the windows, 60 bands", len(SIXTY) * times["xclim"]
    yield Row(work, "xclim, 60 times", times["ours"], sixty, 100.0)
    yield Row(work, "a limit of 5 ms", times["ours"], 0.005, 1.0, at_most=True, note=TWICE)
    yield Row("windows of 60 bands, 1 station", "xclim, 60 times", times["all"], sixty)


def _days_of(dates: xr.Dataset, event: str) -> np.ndarray:
    """Days of the year of an event, or freeze-free days, of the years that are known."""
    name = event if event.endswith("_days") else f"{event}_day"
    return dates[name].dropna("season").values


def _bootstrap(record: xr.Dataset, rounds: int) -> Iterator[Row]:
    """Intervals of the odds, of 3 events at 9 levels, against 1,000 resamples of the years."""
    dates, levels = freeze_dates(record), np.array(LEVELS)
    events = [(event, _days_of(dates, event.name)) for event in freeze._EVENTS]

    def quantiles(sample, axis):
        return np.quantile(sample, levels, axis=axis, method="hazen")

    def scipys(days):
        rng, options = np.random.default_rng(0), {"n_resamples": 1000, "method": "percentile"}
        return scipy.stats.bootstrap((days,), quantiles, rng=rng, **options)

    drawn = [dates[f"{event.name}_drawn"].transpose("season", ...).values for event, _ in events]
    pairs = list(zip(freeze._EVENTS, drawn, strict=True))
    ways = {
        "ours": lambda: [event.ranked(each, levels, 0.0) for event, each in pairs],
        "once": lambda: [event.quantiles(np.sort(days), levels) for event, days in events],
        "scipy": lambda: [scipys(days) for _, days in events],
    }
    times = race(ways, 10 * rounds)
    work = "intervals of the freeze odds"
    yield Row(work, "scipy.stats.bootstrap", times["ours"], times["scipy"])
    yield Row(work, "the odds once", times["ours"], times["once"], 200.0, at_most=True)
