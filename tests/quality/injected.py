"""Faults put into daily records, each of a small and a large size, and what climwin says of them.

A fault is a function of a `Table`, of its size and of a random generator. Sizes are what a person
would meet: one year or many, one month or half a year.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable
from dataclasses import dataclass, field, replace
from pathlib import Path

import numpy as np
import pandas as pd
import xarray as xr

from climwin.core.errors import RecordError
from climwin.io.daily import read_daily
from climwin.report.sentences_caveats import departure_caveats

TODAY = dt.date(2026, 11, 26)


@dataclass(frozen=True)
class Table:
    """Daily temperatures as a file has them, and where they were read."""

    date: np.ndarray
    tmin: np.ndarray
    tmax: np.ndarray
    tmean: np.ndarray | None = None
    place: dict[str, float] = field(default_factory=dict)

    @property
    def year(self) -> np.ndarray:
        """Calendar year of each day."""
        return pd.DatetimeIndex(self.date).year.to_numpy()

    @property
    def month(self) -> np.ndarray:
        """Month of each day."""
        return pd.DatetimeIndex(self.date).month.to_numpy()

    @property
    def years(self) -> np.ndarray:
        """Calendar years, the last one first."""
        return np.unique(self.year)[::-1]

    def last(self, count: int) -> np.ndarray:
        """Days of the last whole years."""
        return np.isin(self.year, self.whole[:count])

    @property
    def whole(self) -> np.ndarray:
        """Years with a value on nearly all days, the last one first."""
        known = self.year[~np.isnan(self.tmin + self.tmax)]
        years, days = np.unique(known, return_counts=True)
        return years[days >= 350][::-1]

    def both(self, change: Callable[[np.ndarray], np.ndarray], where: np.ndarray) -> Table:
        """The table with minimum and maximum changed on some days."""
        tmin, tmax = (np.where(where, change(v), v) for v in (self.tmin, self.tmax))
        return replace(self, tmin=tmin, tmax=tmax)


def table_of(daily: xr.Dataset, years: int = 40, mean: bool = False) -> Table:
    """The last years of a record as a table."""
    last = int(daily["time"].dt.year[-1])
    part = daily.sel(time=slice(str(last - years + 1), None))
    place = {n: float(daily.attrs[n]) for n in ("latitude", "elevation") if n in daily.attrs}
    return Table(
        part["time"].values.astype("datetime64[D]"),
        part["tmin"].values.astype(float),
        part["tmax"].values.astype(float),
        part["tmean"].values.astype(float) if mean else None,
        place,
    )


def written(table: Table, path: Path) -> Path:
    """The table as a file of degC."""
    columns = {"date": table.date, "tmin": table.tmin, "tmax": table.tmax}
    if table.tmean is not None:
        columns["tmean"] = table.tmean
    head = "".join(f"# {name}: {value}\n" for name, value in table.place.items())
    body = pd.DataFrame(columns).to_csv(index=False, float_format="%.1f")
    path.write_text(head + body)
    return path


def verdict(table: Table, path: Path) -> tuple[str, str, str]:
    """What reading the table says: ``refused``, ``doubted`` or nothing, its first line and all."""
    try:
        daily = read_daily(written(table, path))
    except RecordError as error:
        return "refused", str(error), str(error)
    doubts = departure_caveats(daily, TODAY)
    return ("doubted", doubts[0], " ".join(doubts)) if doubts else ("", "", "")


# --- units and signs ----------------------------------------------------------------------


def _to_f(values: np.ndarray) -> np.ndarray:
    return values * 1.8 + 32


def fahrenheit_years(table: Table, large: bool, _: np.random.Generator) -> Table:
    years = table.whole
    chosen = years[-5:] if large else years[-2:-1]
    return table.both(_to_f, np.isin(table.year, chosen))


def fahrenheit_from(table: Table, large: bool, _: np.random.Generator) -> Table:
    count = len(table.years) // 2 if large else 3
    return table.both(_to_f, np.isin(table.year, table.years[:count]))


def fahrenheit_months(table: Table, large: bool, _: np.random.Generator) -> Table:
    year = table.whole[3]
    months = [3, 4, 5, 6, 7, 8] if large else [5]
    return table.both(_to_f, (table.year == year) & np.isin(table.month, months))


def kelvin_years(table: Table, large: bool, _: np.random.Generator) -> Table:
    return table.both(lambda v: v + 273.15, table.last(5 if large else 1))


def tenfold_years(table: Table, large: bool, _: np.random.Generator) -> Table:
    return table.both(lambda v: v * 10, table.last(10 if large else 1))


def tenfold_months(table: Table, large: bool, _: np.random.Generator) -> Table:
    months = [3, 4, 5, 6, 7, 8] if large else [6]
    return table.both(
        lambda v: v * 10, (table.year == table.whole[3]) & np.isin(table.month, months)
    )


def tenth_years(table: Table, large: bool, _: np.random.Generator) -> Table:
    return table.both(lambda v: v / 10, table.last(10 if large else 1))


def tenth_all(table: Table, large: bool, _: np.random.Generator) -> Table:
    return table.both(lambda v: v / (10 if large else 4), np.full(len(table.date), True))


def points_lost(table: Table, large: bool, rng: np.random.Generator) -> Table:
    where = rng.random(len(table.date)) < (0.05 if large else 0.01)
    return table.both(lambda v: v * 10, where)


def signs_lost(table: Table, large: bool, _: np.random.Generator) -> Table:
    return table.both(np.abs, table.last(100 if large else 1))


def clipped(table: Table, large: bool, _: np.random.Generator) -> Table:
    return table.both(lambda v: np.fmax(v, 0.0) + 0 * v, table.last(100 if large else 1))


def frost_missing(table: Table, large: bool, _: np.random.Generator) -> Table:
    return table.both(lambda v: np.where(v < 0, np.nan, v), table.last(100 if large else 1))


def _spring(table: Table, large: bool) -> np.ndarray:
    """Days of the last month with much frost in all years, or of three months up to it."""
    frost = [(table.tmin[table.month == month] < 0).mean() for month in range(1, 7)]
    last = 1 + max(n for n, share in enumerate(frost) if share > 0.1)
    return np.isin(table.month, range(last - 2, last + 1) if large else [last])


def spring_signs_lost(table: Table, large: bool, _: np.random.Generator) -> Table:
    return table.both(np.abs, _spring(table, large))


def spring_frost_missing(table: Table, large: bool, _: np.random.Generator) -> Table:
    return table.both(lambda v: np.where(v < 0, np.nan, v), _spring(table, large))


# --- copies -------------------------------------------------------------------------------


def _copied(table: Table, source: int, into: np.ndarray, noise: float, rng) -> Table:
    frame = pd.DataFrame(
        {"tmin": table.tmin, "tmax": table.tmax}, index=pd.DatetimeIndex(table.date)
    )
    model = frame[frame.index.year == source]
    key = {(d.month, d.day): row for d, row in zip(model.index, model.to_numpy(), strict=True)}
    values = frame.to_numpy().copy()
    for place in np.flatnonzero(np.isin(table.year, into)):
        day = frame.index[place]
        values[place] = key.get((day.month, day.day), key[(2, 28)]) + rng.normal(0, noise, 2)
    return replace(table, tmin=values[:, 0], tmax=values[:, 1])


def copied_year(table: Table, large: bool, rng: np.random.Generator) -> Table:
    years = table.whole
    return _copied(table, int(years[2]), years if large else years[:1], 0.0, rng)


def nearly_copied_year(table: Table, large: bool, rng: np.random.Generator) -> Table:
    years = table.whole
    return _copied(table, int(years[2]), np.delete(years, 2) if large else years[:1], 0.3, rng)


def copied_months(table: Table, large: bool, rng: np.random.Generator) -> Table:
    out = table
    for number in range(12 if large else 1):
        source, into = table.whole[number % 5], table.whole[5 + number % 3]
        month = 1 + (number + 3) % 12
        copy = _copied(table, int(source), np.array([into]), 0.0, rng)
        here = (table.year == into) & (table.month == month)
        tmin, tmax = (
            np.where(here, c, o) for c, o in ((copy.tmin, out.tmin), (copy.tmax, out.tmax))
        )
        out = replace(out, tmin=tmin, tmax=tmax)
    return out


# --- dates and order ----------------------------------------------------------------------


def half_year(table: Table, large: bool, _: np.random.Generator) -> Table:
    return _later(table, 182, 10 if large else 1)


def dates_late(table: Table, large: bool, _: np.random.Generator) -> Table:
    return _later(table, 60 if large else 30, 10 if large else 3)


def _later(table: Table, days: int, years: int) -> Table:
    where = table.last(years)
    out = {}
    for name in ("tmin", "tmax"):
        values = getattr(table, name).copy()
        values[where] = np.roll(values[where], days)
        out[name] = values
    return replace(table, **out)


def future(table: Table, large: bool, _: np.random.Generator) -> Table:
    ahead = TODAY.year + (10 if large else 1) - int(table.years[0])
    date = pd.DatetimeIndex(table.date) + pd.DateOffset(years=ahead)
    keep = ~date.duplicated()
    arrays = {name: getattr(table, name)[keep] for name in ("tmin", "tmax")}
    return replace(table, date=date[keep].to_numpy().astype("datetime64[D]"), **arrays)


def another_century(table: Table, large: bool, _: np.random.Generator) -> Table:
    """A year or two before the last, of which the century is mistyped."""
    years = table.whole[1 : 3 if large else 2]
    date = pd.DatetimeIndex(table.date)
    moved = np.where(np.isin(table.year, years), date - pd.DateOffset(years=100), date)
    order = np.argsort(moved)
    return replace(
        table,
        date=moved[order].astype("datetime64[D]"),
        tmin=table.tmin[order],
        tmax=table.tmax[order],
    )


def day_and_month(table: Table, large: bool, _: np.random.Generator) -> Table:
    where = table.last(100 if large else 1)
    when = pd.DatetimeIndex(table.date)
    place = {day: row for row, day in enumerate(when)}
    rows = np.arange(len(when))
    for row in np.flatnonzero(where & (when.day <= 12)):
        day = when[row]
        rows[row] = place.get(day.replace(month=day.day, day=day.month), row)
    return replace(table, tmin=table.tmin[rows], tmax=table.tmax[rows])


def shuffled_in_months(table: Table, large: bool, rng: np.random.Generator) -> Table:
    return _shuffled(table, table.year * 100 + table.month, 100 if large else 1, rng)


def shuffled_in_years(table: Table, large: bool, rng: np.random.Generator) -> Table:
    return _shuffled(table, table.year, 100 if large else 1, rng)


def _shuffled(table: Table, group: np.ndarray, years: int, rng) -> Table:
    rows, where = np.arange(len(table.date)), table.last(years)
    for each in np.unique(group[where]):
        here = np.flatnonzero(group == each)
        rows[here] = rng.permutation(here)
    return replace(table, tmin=table.tmin[rows], tmax=table.tmax[rows])


def out_of_step(table: Table, large: bool, _: np.random.Generator) -> Table:
    return replace(table, tmax=np.roll(table.tmax, 10 if large else 2))


def day_late(table: Table, large: bool, _: np.random.Generator) -> Table:
    moved = np.roll(table.tmax, 1)
    return replace(table, tmax=moved if large else np.where(table.last(10), moved, table.tmax))


def day_early(table: Table, large: bool, _: np.random.Generator) -> Table:
    moved = np.roll(table.tmax, -1)
    return replace(table, tmax=moved if large else np.where(table.last(10), moved, table.tmax))


# --- columns ------------------------------------------------------------------------------


def no_range(table: Table, large: bool, _: np.random.Generator) -> Table:
    one = (table.year == table.whole[3]) & (table.month == 6)
    return replace(table, tmax=np.where(large | one, table.tmin, table.tmax))


def same_range(table: Table, large: bool, _: np.random.Generator) -> Table:
    return replace(
        table, tmax=np.where(table.last(100 if large else 1), table.tmin + 9, table.tmax)
    )


def swapped(table: Table, large: bool, _: np.random.Generator) -> Table:
    where = table.last(10 if large else 1)
    tmin, tmax = np.where(where, table.tmax, table.tmin), np.where(where, table.tmin, table.tmax)
    return replace(table, tmin=tmin, tmax=tmax)


def unrelated(table: Table, large: bool, _: np.random.Generator) -> Table:
    """The maximum of three years before."""
    where = table.last(100 if large else 5)
    return replace(table, tmax=np.where(where, np.roll(table.tmax, 3 * 365), table.tmax))


def mean_too_high(table: Table, large: bool, rng: np.random.Generator) -> Table:
    middle = 0.55 * table.tmin + 0.45 * table.tmax
    where = large | (rng.random(len(table.date)) < 0.05)
    return replace(table, tmean=np.where(where, table.tmax + 5, middle))


def observed(table: Table, large: bool, rng: np.random.Generator) -> Table:
    """The temperature at seven in the morning, or at five in the afternoon in half of the years.

    Near the minimum in the morning and near the maximum in the afternoon, and here and there
    beyond half-way, as fronts bring it.
    """
    share = np.clip(rng.normal(0.15 if large else 0.85, 0.15, len(table.date)), 0, 1)
    taken = table.tmin + share * (table.tmax - table.tmin)
    middle = 0.55 * table.tmin + 0.45 * table.tmax
    half = np.isin(table.year, table.years[::2])
    return replace(table, tmean=taken if large else np.where(half, taken, middle))


def mean_for_a_season(table: Table, large: bool, _: np.random.Generator) -> Table:
    """The mean of the day in the column of the maximum, in summer, or in spring and summer."""
    months, years = ([4, 5, 6, 7, 8, 9], table.whole[3:8]) if large else ([6, 7, 8], table.whole[3])
    where = np.isin(table.year, years) & np.isin(table.month, months)
    return replace(table, tmax=np.where(where, _middle(table), table.tmax))


# --- places and gaps ----------------------------------------------------------------------


def turns_by_day(table: Table, large: bool, _: np.random.Generator) -> Table:
    odd = np.arange(len(table.date)) % 2 == 1
    return table.both(lambda v: v - (5 if large else 1.5), odd)


def mixed_at_random(table: Table, large: bool, rng: np.random.Generator) -> Table:
    """Each day from one of two places, as it happened to be at hand."""
    from_other = rng.random(len(table.date)) < 0.5
    return table.both(lambda v: v - (5.0 if large else 2.5), from_other)


def turns_by_year(table: Table, large: bool, _: np.random.Generator) -> Table:
    return table.both(lambda v: v - (5 if large else 2), table.year % 2 == 1)


def zeros(table: Table, large: bool, rng: np.random.Generator) -> Table:
    where = rng.random(len(table.date)) < (0.10 if large else 0.02)
    return table.both(lambda v: 0 * v, where)


def nines(table: Table, large: bool, rng: np.random.Generator) -> Table:
    where = rng.random(len(table.date)) < (0.05 if large else 0.01)
    return table.both(lambda v: 0 * v + 99.9, where)


def spikes(table: Table, large: bool, rng: np.random.Generator) -> Table:
    where = rng.random(len(table.date)) < (0.05 if large else 0.01)
    return table.both(lambda v: v + 30 * rng.choice([-1, 1], len(v)), where)


def carried(table: Table, large: bool, rng: np.random.Generator) -> Table:
    keep = rng.random(len(table.date)) > (0.4 if large else 0.1)
    rows = np.maximum.accumulate(np.where(keep, np.arange(len(keep)), 0))
    return replace(table, tmin=table.tmin[rows], tmax=table.tmax[rows])


def straight_lines(table: Table, large: bool, rng: np.random.Generator) -> Table:
    tmin, tmax = table.tmin.copy(), table.tmax.copy()
    for start in rng.integers(100, len(tmin) - 100, 40 if large else 2):
        gap = slice(start + 1, start + 20)
        for values in (tmin, tmax):
            values[gap] = np.linspace(values[start], values[start + 20], 21)[1:-1]
    return replace(table, tmin=tmin, tmax=tmax)


def month_means(table: Table, large: bool, _: np.random.Generator) -> Table:
    group = pd.Series(table.year * 100 + table.month)
    out = {}
    for name in ("tmin", "tmax"):
        values = getattr(table, name)
        means = pd.Series(values).groupby(group).transform("mean").to_numpy()
        out[name] = np.where(table.last(100 if large else 1), means, values)
    return replace(table, **out)


def smoothed(table: Table, large: bool, _: np.random.Generator) -> Table:
    def over(values: np.ndarray) -> np.ndarray:
        return pd.Series(values).rolling(15, center=True, min_periods=5).mean().to_numpy()

    return table.both(over, table.last(100 if large else 1))


def coarse(table: Table, large: bool, _: np.random.Generator) -> Table:
    return table.both(lambda v: 10 * np.round(v / 10), table.last(100 if large else 1))


def other_place(table: Table, large: bool, _: np.random.Generator) -> Table:
    latitude = table.place["latitude"]
    away = -latitude if large else np.sign(latitude) * min(abs(latitude) + 20, 85)
    return replace(table, place=table.place | {"latitude": float(away)})


# --- other things than air temperature ----------------------------------------------------


def _slow(values: np.ndarray, days: float) -> np.ndarray:
    """What follows the air with a delay of some days."""
    filled = pd.Series(values).interpolate(limit_direction="both")
    return filled.ewm(alpha=1 - np.exp(-1 / days)).mean().to_numpy()


def _middle(table: Table) -> np.ndarray:
    return (table.tmin + table.tmax) / 2


def soil(table: Table, large: bool, rng: np.random.Generator) -> Table:
    """Soil at 10 cm, which follows the air in days, or a pond, which takes weeks."""
    level = _slow(_middle(table), 20 if large else 3)
    half = np.where(large, 0.5, 0.2 * np.clip(table.tmax - table.tmin, 3, 20))
    low, high = (level + side * half + rng.normal(0, 0.2, len(level)) for side in (-1, 1))
    return replace(table, tmin=low, tmax=high)


def heated_room(table: Table, large: bool, rng: np.random.Generator) -> Table:
    """A room kept at 18 degC, warmer in summer."""
    level, count = _slow(_middle(table), 1.5), len(table.date)
    low = np.maximum(18 + rng.normal(0, 0.4, count), 0.9 * level)
    high = np.maximum(low, 18 + 0.9 * (level - 18)) + (2 if large else 4) + rng.random(count)
    return replace(table, tmin=low, tmax=high)


def mean_for_maximum(table: Table, large: bool, _: np.random.Generator) -> Table:
    where = table.last(10 if large else 1)
    return replace(table, tmax=np.where(where, _middle(table), table.tmax))


def fine_steps_lost(table: Table, large: bool, _: np.random.Generator) -> Table:
    step = 5 if large else 2
    return table.both(lambda v: step * np.round(v / step), table.last(100 if large else 1))


def converted_twice(table: Table, large: bool, _: np.random.Generator) -> Table:
    where = np.full(len(table.date), True) if large else table.last(5)
    return table.both(lambda v: (v - 32) / 1.8, where)


def not_divided(table: Table, large: bool, _: np.random.Generator) -> Table:
    """Degrees Fahrenheit from which 32 was taken, and which were not divided by 1.8."""
    return table.both(lambda v: v * 1.8, table.last(10 if large else 1))


def no_memory(table: Table, large: bool, rng: np.random.Generator) -> Table:
    """The usual year of a model, and noise that forgets the day before."""
    day = pd.DatetimeIndex(table.date).day_of_year.to_numpy()
    usual = pd.Series(_middle(table)).groupby(day).transform("mean").to_numpy()
    level, where = usual + rng.normal(0, 4, len(day)), table.last(100 if large else 1)
    half = np.abs(rng.normal(5, 1, len(day)))
    low, high = np.where(where, level - half, table.tmin), np.where(where, level + half, table.tmax)
    return replace(table, tmin=low, tmax=high)


# --- what no record shows by itself -------------------------------------------------------


def grass_minimum(table: Table, _: np.random.Generator) -> Table:
    """The minimum on the grass, below that of the screen on clear nights."""
    lower = np.clip(0.35 * (table.tmax - table.tmin - 4), 0, 6)
    return replace(table, tmin=table.tmin - lower)


def felt(table: Table, _: np.random.Generator) -> Table:
    """The temperature as felt: colder in wind, warmer when humid."""

    def change(values: np.ndarray) -> np.ndarray:
        return values + 0.6 * np.fmax(values - 26, 0) - 0.3 * np.fmax(10 - values, 0)

    return table.both(change, np.full(len(table.date), True))


def mean_for_all_maxima(table: Table, _: np.random.Generator) -> Table:
    return replace(table, tmax=_middle(table))


def at_nine(table: Table, rng: np.random.Generator) -> Table:
    """The temperature at nine in the morning in place of the minimum."""
    share = np.clip(rng.normal(0.3, 0.1, len(table.date)), 0, 1)
    return replace(table, tmin=table.tmin + share * (table.tmax - table.tmin))


def sunny_wall(table: Table, _: np.random.Generator) -> Table:
    """A thermometer on a wall that the sun warms: 4 degC on a usual day, up to 8."""
    return replace(table, tmax=table.tmax + np.clip(0.4 * (table.tmax - table.tmin), 0, 8))


def cut_to_whole(table: Table, _: np.random.Generator) -> Table:
    """What stands after the decimal point cut off."""
    return table.both(np.trunc, np.full(len(table.date), True))


def no_leap_days(table: Table, _: np.random.Generator) -> Table:
    """Years of 365 days laid on the calendar one after the other."""
    when = pd.DatetimeIndex(table.date)
    keep = ~((when.month == 2) & (when.day == 29))
    return replace(
        table, date=table.date[: keep.sum()], tmin=table.tmin[keep], tmax=table.tmax[keep]
    )


def years_backwards(table: Table, _: np.random.Generator) -> Table:
    """A file with the last day of each year first, and the dates written anew."""
    rows = np.lexsort((-np.arange(len(table.date)), table.year))
    return replace(table, tmin=table.tmin[rows], tmax=table.tmax[rows])


def good_imitation(table: Table, rng: np.random.Generator) -> Table:
    """Weather from a generator that remembers the day before."""
    day = pd.DatetimeIndex(table.date).day_of_year.to_numpy()
    usual = pd.Series(_middle(table)).groupby(day).transform("mean")
    usual = usual.rolling(15, center=True, min_periods=1).mean().to_numpy()
    noise, rest = rng.normal(0, 3.2, len(day)), np.zeros(len(day))
    for place in range(1, len(day)):
        rest[place] = 0.6 * rest[place - 1] + noise[place]
    half = np.clip(rng.normal(5, 1.5, len(day)), 0.5, None)
    return replace(table, tmin=usual + rest - half, tmax=usual + rest + half)


def not_divided_at_all(table: Table, _: np.random.Generator) -> Table:
    return table.both(lambda v: v * 1.8, np.full(len(table.date), True))


LASTING = {
    "the minimum on the grass": grass_minimum,
    "temperatures as felt": felt,
    "the mean in place of the maximum": mean_for_all_maxima,
    "nine in the morning for the minimum": at_nine,
    "a thermometer on a sunny wall": sunny_wall,
    "decimals cut off": cut_to_whole,
    "years of 365 days, one after the other": no_leap_days,
    "each year backwards": years_backwards,
    "degF less 32, not divided by 1.8": not_divided_at_all,
    "a weather generator with memory": good_imitation,
}
"""Faults of all years alike that a real climate might have too."""


# --- all of them --------------------------------------------------------------------------


@dataclass(frozen=True)
class Fault:
    """A kind of fault, its two sizes in words, and which records it can be put into."""

    name: str
    small: str
    large: str
    put: Callable[[Table, bool, np.random.Generator], Table]
    frost: bool = False
    """Whether the record must have frost in most years."""
    swing: bool = False
    """Whether the record must lie outside the tropics and have a place."""


FAULTS = (
    Fault("years in degF", "1 year", "5 years", fahrenheit_years),
    Fault("degF from one year on", "3 years", "half of the years", fahrenheit_from),
    Fault("months in degF", "1 month", "6 months", fahrenheit_months),
    Fault("years in kelvin", "1 year", "5 years", kelvin_years),
    Fault("years ten times too large", "1 year", "10 years", tenfold_years),
    Fault("months ten times too large", "1 month", "6 months", tenfold_months),
    Fault("years ten times too small", "1 year", "10 years", tenth_years),
    Fault("all values too small", "4 times", "10 times", tenth_all),
    Fault("decimal points lost", "1 % of days", "5 % of days", points_lost),
    Fault("minus signs lost", "1 year", "all years", signs_lost, frost=True),
    Fault("winter clipped to zero", "1 year", "all years", clipped, frost=True),
    Fault("frost left out", "1 year", "all years", frost_missing, frost=True),
    Fault("a year copied", "1 year", "all years", copied_year),
    Fault("a year copied, give or take 0.3 degC", "1 year", "all years", nearly_copied_year),
    Fault("months copied", "1 month", "12 months", copied_months),
    Fault("seasons half a year late", "1 year", "10 years", half_year),
    Fault("dates late", "30 days, 3 years", "60 days, 10 years", dates_late),
    Fault("dates in the future", "1 year", "10 years", future),
    Fault("day and month swapped", "1 year", "all years", day_and_month),
    Fault("shuffled within months", "1 year", "all years", shuffled_in_months),
    Fault("shuffled within years", "1 year", "all years", shuffled_in_years),
    Fault("columns out of step", "2 days", "10 days", out_of_step),
    Fault("maximum a day late", "10 years", "all years", day_late),
    Fault("maximum a day early", "10 years", "all years", day_early),
    Fault("maximum the same as minimum", "1 month", "all years", no_range),
    Fault("maximum made from minimum", "1 year", "all years", same_range),
    Fault("columns swapped", "1 year", "10 years", swapped),
    Fault("maximum of another year", "5 years", "all years", unrelated),
    Fault("mean above the maximum", "5 % of days", "all days", mean_too_high),
    Fault("mean read at one hour", "afternoons, half of the years", "mornings, all", observed),
    Fault("two stations in turns by day", "1.5 degC apart", "5 degC apart", turns_by_day),
    Fault("two stations mixed at random", "2.5 degC apart", "5 degC apart", mixed_at_random),
    Fault("two stations in turns by year", "2 degC apart", "5 degC apart", turns_by_year),
    Fault("zeros for missing days", "2 % of days", "10 % of days", zeros),
    Fault("99.9 for missing days", "1 % of days", "5 % of days", nines),
    Fault("spikes of 30 degC", "1 % of days", "5 % of days", spikes),
    Fault("last value carried forward", "10 % of days", "40 % of days", carried),
    Fault("gaps filled by straight lines", "2 of 20 days", "40 of 20 days", straight_lines),
    Fault("means of months for days", "1 year", "all years", month_means),
    Fault("smoothed over 15 days", "1 year", "all years", smoothed),
    Fault("rounded to 10 degC", "1 year", "all years", coarse),
    Fault("soil or water for air", "soil at 10 cm", "a pond", soil),
    Fault("a heated room for outdoors", "5 degC a day", "3 degC a day", heated_room),
    Fault("the mean in place of the maximum", "1 year", "10 years", mean_for_maximum),
    Fault("rounded to some degC", "2 degC, 1 year", "5 degC, all years", fine_steps_lost),
    Fault("converted from degF twice", "5 years", "all years", converted_twice),
    Fault("degF less 32, not divided", "1 year", "10 years", not_divided),
    Fault("a model without memory", "1 year", "all years", no_memory),
    Fault(
        "another place", "20 degrees nearer the pole", "other hemisphere", other_place, swing=True
    ),
    Fault("minus signs lost in spring", "1 month", "3 months", spring_signs_lost, frost=True),
    Fault("frost of spring left out", "1 month", "3 months", spring_frost_missing, frost=True),
    Fault(
        "the mean for the maximum, one season", "3 months", "6 months, 5 years", mean_for_a_season
    ),
    Fault("years of another century", "1 year", "2 years", another_century),
)
