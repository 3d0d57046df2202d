"""Checks of a record from day to day: weather does not change at random.

Persistence, steps and spikes follow World Meteorological Organization, "Guide to Instruments and
Methods of Observation" (WMO No. 8), part on quality control, from memory, and Durre et al. 2010
(see `day_relations`). Limits lie well outside what clean records showed:
``tests/quality/RESULTS.md``.
"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from climwin.core.formatting import number, percent
from climwin.core.runs import true_runs
from climwin.io.departure import NAMES, Degrees, Departure, listed_years
from climwin.io.year_grid import YearGrid, mean, median

SHUFFLED, SHUFFLED_YEAR = 0.25, 0.15
"""Correlation of one day's spell with the next day's below which days are out of order; and that of
a single year. Clean records showed 0.43 to 0.71, single years 0.23 or more."""
ALTERNATES_C, ALTERNATES_SE = 0.3, 8.0
"""Least difference between even and odd days that is doubted, and the same in standard errors.
[degC]"""
SMOOTH_C, SMOOTH_SHARE = 0.3, 0.4
"""Median change from day to day below which a year is too smooth for weather; and the same as a
share of the median of all years. [degC]"""
JUMP_C, JUMP_SHARE, JUMP_YEAR = 20.0, 0.01, 0.03
"""Size of a jump from day to day [degC], and the shares of days with one that are doubted, in a
record and in a year. Champion, Nebraska, has 0.4 % (maxima)."""
STRAIGHT_DAYS, STRAIGHT_BOTH_DAYS = 14, 8
"""Least number of days on a straight line, in one variable and in minimum and maximum at once."""
STRAIGHT_C = 0.11
"""Largest distance from the line through the neighbours, because of rounding. [degC]"""
NO_STEP_C = 0.05
"""Smaller changes count as none; runs of equal days are found by another test. [degC]"""
CARRIED_SHARE = 0.20
"""Share of a year's days that repeat minimum and maximum of the day before. Clean records showed at
most 7 %, except for one year of Merced (13 %)."""


def day_to_day(grids: dict[str, YearGrid]) -> Iterator[Departure]:
    """Departures in how one day follows another.

    Parameters
    ----------
    grids : dict of str to YearGrid
        Variables that were measured.
    """
    for grid in grids.values():
        yield from _shuffled(grid)
        yield from _alternates(grid)
        yield from _smooth(grid)
        yield from _jumps(grid)
    yield from _straight(grids)
    if {"tmin", "tmax"} <= set(grids):
        yield from _carried_forward(grids["tmin"], grids["tmax"])


def _shuffled(grid: YearGrid) -> Iterator[Departure]:
    """Days that are not in the order of their dates."""
    by_year = grid.persistence()
    if not grid.full.any():
        return
    overall = float(median(by_year[grid.full]))
    amiss = grid.full & (by_year < SHUFFLED_YEAR)
    if overall >= SHUFFLED and not amiss.any():
        return
    whole = overall < SHUFFLED
    years = () if whole else tuple(grid.years[amiss].tolist())
    shown = overall if whole else float(median(by_year[amiss]))
    where = f"in {listed_years(years)} " if years else ""
    what = (
        f"{where}{NAMES[grid.name]} of a day has little to do with that of the day before "
        f"(correlation {number(shown, 2)}; elsewhere on land 0.4 to 0.7).",
    )
    advice = "The days may be out of order, or the values invented: get the file again."
    yield Departure("shuffled", what, advice, years, variable=grid.name)


def _alternates(grid: YearGrid) -> Iterator[Departure]:
    """Even and odd days that differ: two stations alternate."""
    sign = np.where(np.arange(grid.values.shape[1]) % 2 == 0, 1.0, -1.0)
    step = 2 * mean(grid.spells * sign, axis=1)
    change = np.diff(grid.spells, axis=1)
    # Variance of the differences between neighbouring days that is due to weather, and the standard
    # error of its mean over pairs.
    weather = np.maximum(mean(change**2, axis=1) - step**2, 0.0)
    error = np.sqrt(weather / (grid.values.shape[1] / 2)) / 2
    size = np.abs(step)
    amiss = grid.full & (size > np.maximum(ALTERNATES_C, ALTERNATES_SE * error))
    if amiss.sum() < 2:
        return
    years = tuple(grid.years[amiss].tolist())
    what = (
        f"in {listed_years(years)} {NAMES[grid.name]} of every other day differs by ",
        Degrees(float(median(size[amiss])), is_difference=True),
        " from that of the days between. Weather does not alternate like this.",
    )
    advice = "Values of two stations or thermometers may alternate there: keep one."
    yield Departure("alternates", what, advice, years, variable=grid.name)


def _smooth(grid: YearGrid) -> Iterator[Departure]:
    """Hardly any change from day to day: means of a month, or a filtered series."""
    change = median(np.abs(np.diff(grid.values, axis=1)), axis=1)
    change = np.where(grid.full, change, np.nan)
    if not grid.full.any():
        return
    usual = float(median(change))
    amiss = change < max(SMOOTH_C, SMOOTH_SHARE * usual)
    if not amiss.any():
        return
    years = tuple(grid.years[amiss].tolist())
    what = (
        f"in {listed_years(years)} {NAMES[grid.name]} changes by ",
        Degrees(float(median(change[amiss])), is_difference=True),
        " from day to day, at the median. Elsewhere on land it is ",
        Degrees(0.6, is_difference=True),
        " to ",
        Degrees(3.7, is_difference=True),
        ".",
    )
    advice = "The values may be smoothed, means of months, or ten times too small: check them."
    yield Departure("smooth", what, advice, years, variable=grid.name)


def _jumps(grid: YearGrid) -> Iterator[Departure]:
    """Jumps from day to day that weather seldom makes (time consistency, WMO No. 8)."""
    change = np.abs(np.diff(grid.values, axis=1))
    known = ~np.isnan(change)
    count, total = (change > JUMP_C).sum(axis=1), known.sum(axis=1)
    share = count.sum() / max(total.sum(), 1)
    amiss = (count > JUMP_YEAR * total) & (total >= 100)
    if share <= JUMP_SHARE and not amiss.any():
        return
    years = tuple(grid.years[amiss].tolist())
    where = f"in {listed_years(years)} " if years and share <= JUMP_SHARE else ""
    chosen = amiss if where else np.ones(len(count), bool)
    what = (
        f"{where}{NAMES[grid.name]} jumps by more than ",
        Degrees(JUMP_C, is_difference=True),
        f" from one day to the next on {number(int(count[chosen].sum()))} of "
        f"{number(int(total[chosen].sum()))} days. Even far inland that is 1 day in 250 or fewer.",
    )
    advice = "Units, places or dates may be mixed there: check the values around the jumps."
    yield Departure("jumps", what, advice, years, variable=grid.name)


def _straight(grids: dict[str, YearGrid]) -> Iterator[Departure]:
    """Gaps that were filled by a straight line."""
    lines = {}
    for name in ("tmin", "tmax"):
        if name in grids:
            series = grids[name].values.ravel()
            bend = np.abs(np.diff(series, n=2))
            step = np.abs(np.diff(series))[1:]
            lines[name] = (bend < STRAIGHT_C) & (step > NO_STEP_C)
    if not lines:
        return
    found = np.zeros(len(next(iter(lines.values()))), bool)
    for line in lines.values():
        found |= in_runs(line, STRAIGHT_DAYS - 2)
    if len(lines) == 2:
        found |= in_runs(lines["tmin"] & lines["tmax"], STRAIGHT_BOTH_DAYS - 2)
    if not found.any():
        return
    grid = next(iter(grids.values()))
    years = tuple(np.unique(grid.years[(np.flatnonzero(found) + 1) // 365]).tolist())
    runs = len(true_runs(found)[0])
    times = "once" if runs == 1 else f"{runs} times"
    what = (
        f"the temperatures of {listed_years(years)} follow a straight line for more than a week, "
        f"{times}. Weather does not.",
    )
    advice = "Gaps were filled by drawing a line: leave those days empty."
    yield Departure("straight line", what, advice, years)


def in_runs(mask: np.ndarray, least: int) -> np.ndarray:
    """Elements of `mask` that belong to a run of at least `least` true ones."""
    out = np.zeros(mask.shape, bool)
    for begin, end in zip(*true_runs(mask), strict=True):
        out[begin:end] = end - begin >= least
    return out


def _carried_forward(tmin: YearGrid, tmax: YearGrid) -> Iterator[Departure]:
    """Days that repeat the day before: gaps filled with the last value."""
    low, high = np.diff(tmin.values, axis=1), np.diff(tmax.values, axis=1)
    same = (low == 0) & (high == 0)
    known = ~np.isnan(low + high)
    count, total = same.sum(axis=1), known.sum(axis=1)
    amiss = (count > CARRIED_SHARE * total) & (total >= 100)
    if not amiss.any():
        return
    years = tuple(tmin.years[amiss].tolist())
    share = float(count[amiss].sum() / total[amiss].sum())
    what = (
        f"in {listed_years(years)} {percent(share)} of the days repeat both temperatures of the "
        "day before. Elsewhere that is 7 % at most.",
    )
    advice = "Gaps were filled with the last value: leave those days empty."
    yield Departure("carried forward", what, advice, years)
