"""The search for usable windows in plain NumPy: every season of every crop at once.

The input is masks of days on calendar years. Each crop's years are cut on its own day, and windows
are given as days of the season, counted from 0.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np

from climwin.core.runs import true_runs
from climwin.core.schema import TOLERANCE_C
from climwin.core.seasons import DAYS, offset
from climwin.crops.model import Limits

WINDOW_PARTS = ("longest", "rise", "fall")
"""The longest window of a crop's year, and the longest ones on the rise and on the fall."""
BRIDGED_DAYS = 3
"""Largest number of unusable days in a row within a window."""
MARGIN_DAYS = 30
"""A window is on the rise if it begins at least this long before midsummer, and on the fall if it
ends at least this long after it: one that begins at midsummer is not a spring window. [day]"""


class CropYears(NamedTuple):
    """The year of each crop at a place; arrays of shape (crops,)."""

    first_day: np.ndarray
    """Day of the year on which the season begins: the one furthest outside the band."""
    extreme_day: np.ndarray
    """Day of the season at the other extreme: midsummer where the season begins in the cold."""
    begins_cold: np.ndarray
    """Whether the season begins in the cold, so that the rise comes before the fall."""
    has_two_windows: np.ndarray
    """Whether both extremes lie outside the band, and so separate a rise from a fall."""


class Windows(NamedTuple):
    """One window of each season and part; arrays of shape (crops, seasons, parts)."""

    start: np.ndarray
    """Day of the season, -1 where there is no window."""
    end: np.ndarray
    """Its last day, -1 where there is no window."""
    length: np.ndarray
    usable_days: np.ndarray


# --- the year of each crop ----------------------------------------------------------------


def crop_years(usual: np.ndarray, bands: Sequence[Limits]) -> CropYears:
    """Where each crop's year is cut, and whether its far extreme splits it.

    Parameters
    ----------
    usual : ndarray, shape (365,)
        Smoothed climatology of the daily mean. [degC]
    bands : sequence of Limits
        One for each crop. [degC]
    """
    crops = len(bands)
    if np.isnan(usual).any():
        # Without a climatology, such as that of a station without values, any cut will do, since
        # every window will be unknown.
        return CropYears(
            first_day=np.ones(crops, dtype=int),
            extreme_day=np.full(crops, DAYS // 2),
            begins_cold=np.ones(crops, dtype=bool),
            has_two_windows=np.zeros(crops, dtype=bool),
        )
    low = np.array([band.low_c for band in bands])[:, None]
    high = np.array([band.high_c for band in bands])[:, None]
    too_cold, too_warm = low - usual, usual - high
    outside = np.maximum(too_cold, too_warm)
    crop = np.arange(crops)
    first = outside.argmax(axis=1)
    begins_cold = too_cold[crop, first] >= too_warm[crop, first]
    opposite = np.where(begins_cold, usual.argmax(), usual.argmin())
    return CropYears(
        first_day=first + 1,
        extreme_day=(opposite - first) % DAYS,
        begins_cold=begins_cold,
        has_two_windows=outside[crop, opposite] > TOLERANCE_C,
    )


def padded_years(grid: np.ndarray) -> np.ndarray:
    """Grid with an empty year on either side, because days beyond the record are gaps.

    Parameters
    ----------
    grid : ndarray, shape (..., years, 365)

    Returns
    -------
    ndarray, shape (..., years + 2, 365)
    """
    leading_axes = [(0, 0)] * (grid.ndim - 2)
    return np.pad(grid, [*leading_axes, (1, 1), (0, 0)], constant_values=np.nan)


def seasons_of(mask: np.ndarray, years: CropYears) -> np.ndarray:
    """Days of padded calendar years as seasons, each crop's cut on its own day.

    Parameters
    ----------
    mask : ndarray, shape (crops, years + 2, 365)
        Laid out by `padded_years`.
    years : CropYears

    Returns
    -------
    ndarray, shape (crops, years, 365)
    """
    crops, padded, _ = mask.shape
    days_of_record = (padded - 2) * DAYS
    starts = DAYS + offset(years.first_day)
    series = mask.reshape(crops, -1)
    seasons = [
        days[start : start + days_of_record] for days, start in zip(series, starts, strict=True)
    ]
    return np.stack(seasons).reshape(crops, padded - 2, DAYS)


# --- windows of seasons -------------------------------------------------------------------


def windows_of_years(usable: np.ndarray, kills: np.ndarray, years: CropYears) -> Windows:
    """Windows of seasons, after the last killing freeze and before the first.

    Parameters
    ----------
    usable, kills : ndarray of bool, shape (crops, seasons, 365)
        Days that are usable, and those whose minimum kills the crop; see `seasons_of`.
    years : CropYears
    """
    closed = _closed_days(kills, years)
    return windows_of_seasons(usable & ~closed, closed, years)


def _closed_days(kills: np.ndarray, years: CropYears) -> np.ndarray:
    """Days of seasons that no window may use or bridge, because a freeze kills the crop.

    On the rise a killing freeze closes all days up to it, on the fall all days from it on. Where a
    window runs through the winter, a freeze closes only its own day.

    Parameters
    ----------
    kills : ndarray of bool, shape (crops, seasons, 365)
    years : CropYears

    Returns
    -------
    ndarray of bool, shape of `kills`
    """
    if not kills.any():
        return kills
    # Small integers, because comparing them takes most of the time.
    day = np.arange(DAYS, dtype=np.int16)
    before_extreme = day < years.extreme_day[:, None, None]
    on_rise = before_extreme == years.begins_cold[:, None, None]
    kills_on_rise, kills_on_fall = kills & on_rise, kills & ~on_rise
    last = DAYS - 1 - kills_on_rise[..., ::-1].argmax(-1)
    last = np.where(kills_on_rise.any(-1), last, -1).astype(day.dtype)
    first = np.where(kills_on_fall.any(-1), kills_on_fall.argmax(-1), DAYS).astype(day.dtype)
    closed = (on_rise & (day <= last[..., None])) | (~on_rise & (day >= first[..., None]))
    runs_through_winter = ~(years.begins_cold | years.has_two_windows)
    closed[runs_through_winter] = kills[runs_through_winter]
    return closed


def windows_of_seasons(usable: np.ndarray, closed: np.ndarray, years: CropYears) -> Windows:
    """The longest window of each season, and the longest of its rise and of its fall.

    Parameters
    ----------
    usable, closed : ndarray of bool, shape (crops, seasons, 365)
        Days that are usable, and those that no window may bridge.
    years : CropYears
    """
    crops, seasons, _ = usable.shape
    runs = _runs(usable.reshape(-1, DAYS), closed.reshape(-1, DAYS))
    crop = runs.season // seasons
    extreme = years.extreme_day[crop]
    begins_early = runs.start < extreme - MARGIN_DAYS
    ends_late = runs.end >= extreme + MARGIN_DAYS
    begins_cold, split = years.begins_cold[crop], years.has_two_windows[crop]
    of_part = {
        "longest": np.ones(len(runs.start), dtype=bool),
        "rise": split & np.where(begins_cold, begins_early, ends_late),
        "fall": split & np.where(begins_cold, ends_late, begins_early),
    }
    chosen = np.stack(
        [_longest_of_season(runs, of_part[part], crops * seasons) for part in WINDOW_PARTS], axis=-1
    )
    # Where a season has no window, `chosen` is -1 and picks the last element, which means none.
    columns = (
        np.append(runs.start, -1),
        np.append(runs.end, -1),
        np.append(runs.length, 0),
        np.append(runs.usable_days, 0),
    )
    shape = (crops, seasons, len(WINDOW_PARTS))
    return Windows(*(column[chosen].reshape(shape) for column in columns))


class _Runs(NamedTuple):
    """Windows found in many seasons, in order of season and day; arrays of shape (windows,)."""

    season: np.ndarray
    start: np.ndarray
    end: np.ndarray
    usable_days: np.ndarray

    @property
    def length(self) -> np.ndarray:
        return self.end - self.start + 1


def _runs(usable: np.ndarray, closed: np.ndarray) -> _Runs:
    """All windows of seasons: runs of usable days, joined over short breaks that are not closed.

    Parameters
    ----------
    usable, closed : ndarray of bool, shape (seasons, 365)
    """
    # Seasons are laid end to end, separated by more unusable days than a window may bridge.
    width = DAYS + BRIDGED_DAYS + 1
    laid_out = np.zeros((len(usable), width), dtype=bool)
    laid_out[:, :DAYS] = usable
    start, end = true_runs(laid_out.ravel())
    if not len(start):
        return _Runs(start, start, start, start)

    break_days = start[1:] - end[:-1]
    bridged = break_days <= BRIDGED_DAYS
    season, first_of_break = np.divmod(end[:-1][bridged], width)
    last_of_break = first_of_break + break_days[bridged] - 1
    is_closed = np.zeros(len(season), dtype=bool)
    for step in range(BRIDGED_DAYS):  # shorter breaks check their last day again
        is_closed |= closed[season, np.minimum(first_of_break + step, last_of_break)]
    bridged[bridged] = ~is_closed

    first_run = np.flatnonzero(np.append(True, ~bridged))  # of each window
    last_run = np.append(first_run[1:], len(start)) - 1
    return _Runs(
        season=start[first_run] // width,
        start=start[first_run] % width,
        end=end[last_run] % width - 1,
        usable_days=np.add.reduceat(end - start, first_run),
    )


def _longest_of_season(runs: _Runs, eligible: np.ndarray, seasons: int) -> np.ndarray:
    """The longest of each season's eligible windows, the earliest if equal.

    Parameters
    ----------
    runs : _Runs
    eligible : ndarray of bool, shape (windows,)
    seasons : int

    Returns
    -------
    ndarray of int, shape (seasons,)
        Position in `runs`, -1 if there is none.
    """
    longest = np.zeros(seasons, dtype=int)
    np.maximum.at(longest, runs.season[eligible], runs.length[eligible])
    candidates = np.flatnonzero(eligible & (runs.length == longest[runs.season]))
    # Windows are in order, so the first candidate of a season is its earliest.
    season, first = np.unique(runs.season[candidates], return_index=True)
    chosen = np.full(seasons, -1)
    chosen[season] = candidates[first]
    return chosen
