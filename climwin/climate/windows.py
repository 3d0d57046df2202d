"""Usable windows: the weeks of every year in which a crop finds temperatures it grows in.

The window of an average curve is not the average window: each year is measured on its own, and
the average curve's window stands beside them.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import NamedTuple

import numpy as np
import xarray as xr

from climwin.climate.usable import MEASURES, Measure, cores, inside, running_mean
from climwin.core.provenance import provenance
from climwin.core.schema import TOLERANCE_C, DataGapError, apply, check_choice, variable
from climwin.core.seasons import (
    DAYS,
    by_year,
    keep_inside,
    offset,
    season_dates,
    seen_range,
    smoothed,
    usual_days,
)
from climwin.core.stats import LEVEL, mann_kendall, theil_sen, wilson
from climwin.core.status import decode_status
from climwin.crops.catalogue import Crop, Limits

PARTS = ("longest", "rise", "fall")
"""The longest window of a crop's year; the one on the way up; the one on the way down."""
BRIDGED_DAYS = 3
TURN_DAYS = 30
"""A window is on the rise if it begins at least so long before midsummer, and on the fall if it
ends at least so long after it: one that begins at midsummer is no spring window."""


def usable_windows(
    daily: xr.Dataset,
    crop: Crop | Limits | Sequence[Crop | Limits],
    *,
    measure: str = "mean",
    killed_at: float | None = None,
) -> xr.Dataset:
    """Measure the usable window of every year.

    Parameters
    ----------
    daily : Dataset, dims (..., time)
        Needs ``tmean`` and ``tmin``, and what the measure needs. [degC]
    crop : Crop or Limits, or a sequence of them
        A crop, or a band of daily mean temperature alone; several give a dimension ``crop``, and
        take little longer than one. [degC]
    measure : {"mean", "extremes", "hours"}
        What makes a day usable, see `usable_days`.
    killed_at : float, optional
        Minimum at or below which the crop dies unprotected; the crop's own where it is left out,
        none for a band alone. [degC]

    Returns
    -------
    Dataset, dims (..., season, part)
        The longest run of usable days in which at most 3 unusable days in a row are bridged,
        after the last killing freeze on the rise and before the first on the fall: ``start``,
        ``end``, ``length`` [days], ``usable_days``, ``status``. ``length_least`` and
        ``length_most`` bound the length where a gap leaves it unknown. ``part`` is the longest of
        the crop's year, and where summer (or winter) splits it in ``two`` also the one on the
        rise (begun at least 30 days before the turn) and on the fall (ended at least 30 days
        after), counted whole where one runs through. ``average_*`` is the window of
        the average curve, in days of the year, without freezes.

    Raises
    ------
    ValueError
        If there is no crop, the measure is not allowed or the record lacks what it needs.
    DataGapError
        If the record is too thin to have a usual year.

    Notes
    -----
    The crop's year is cut on the day of the smoothed climatology that lies furthest outside the
    band, so a window may run through a mild winter.
    """
    alone = isinstance(crop, Crop | Limits)
    crops = [crop] if isinstance(crop, Crop | Limits) else crop
    asked = [_asked(each, killed_at) for each in crops]
    if not asked:
        msg = "There is no crop to measure a window for, got an empty sequence. Give at least one."
        raise ValueError(msg)
    found, span = _measured(daily, asked, measure)
    found = found.isel(crop=0) if alone else found.transpose("crop", ...)
    out = _dated(found, keep_inside(found, span, found["first_day"]))
    told = [each.told() for each in asked]
    if alone:
        return out.assign_attrs(told[0] | {"measure": measure} | provenance(daily))
    lists = {key: [each[key] for each in told] for key in told[0]}
    return out.assign_coords(crop=[each.label for each in asked]).assign_attrs(
        lists | {"measure": measure} | provenance(daily)
    )


class _Asked(NamedTuple):
    """What a window is asked for."""

    crop: str
    band: Limits
    killed_at_c: float

    @property
    def label(self) -> str:
        return self.crop or f"{self.band.low_c:g} to {self.band.high_c:g} degC"

    def told(self) -> dict[str, str | float]:
        return {
            "crop": self.crop,
            "low_c": self.band.low_c,
            "high_c": self.band.high_c,
            "killed_at_c": self.killed_at_c,
        }


def _asked(crop: Crop | Limits, killed_at: float | None) -> _Asked:
    if isinstance(crop, Crop):
        return _Asked(crop.name, crop.band, crop.killed_at_c if killed_at is None else killed_at)
    return _Asked("", crop, -np.inf if killed_at is None else killed_at)


def _measured(
    daily: xr.Dataset, asked: Sequence[_Asked], measure: str
) -> tuple[xr.Dataset, xr.DataArray]:
    """Windows as days of the season, by crop; and the years they lie in."""
    check_choice("measure", measure, MEASURES)
    look, bands = MEASURES[measure], [each.band for each in asked]
    limits = np.array([each.killed_at_c for each in asked]) + TOLERANCE_C
    tmean, tmin = (by_year(variable(daily, name)) for name in ("tmean", "tmin"))
    _check_usual(tmean)
    grids = [tmean, tmin, *look.grids(daily, bands)]
    results = apply(
        _windows_kernel(bands, limits, look),
        *grids,
        core=cores(grids),
        out=[["crop", "season", "part"]] * 7 + [["crop", "part"]] * 3 + [["crop"]] * 2,
        sizes={"crop": len(asked), "season": tmean.sizes["year"], "part": len(PARTS)},
        dtypes=[float] * 6 + [int] + [float] * 3 + [int, bool],
        each=True,
    )
    found = xr.Dataset(dict(zip(_RESULTS, results, strict=True)))
    return found.assign_coords(season=tmean["year"].values, part=list(PARTS)), tmean


_RESULTS = (
    *("start_day", "end_day", "length", "usable_days", "length_least", "length_most", "code"),
    *("average_start_day", "average_end_day", "average_length", "first_day", "two"),
)


def _check_usual(tmean: xr.DataArray) -> None:
    held = tmean.notnull().any("year").sum("day_of_year") if tmean.chunks is None else None
    if held is not None and not bool((held >= 200).any()):
        msg = (
            "The record is too thin to have a usual year: fewer than 200 days of the year hold any "
            "value. Give a record of some whole years."
        )
        raise DataGapError(msg)


def _dated(found: xr.Dataset, kept: xr.Dataset) -> xr.Dataset:
    first = found["first_day"]
    there = kept["two"] | (kept["part"] == "longest")  # an unsplit year has no rise and no fall
    out = xr.Dataset()
    for name in ("start", "end"):
        out[name] = season_dates(kept[f"{name}_day"], first)
    for name in ("length", "usable_days", "length_least", "length_most"):
        out[name] = kept[name].where(there).assign_attrs(units="days")
    out["status"] = decode_status(kept["code"])
    shift = apply(offset, first, core=[[]], dtypes=[int]) + 1
    for name in ("average_start_day", "average_end_day"):
        out[name] = (kept[name] + shift).assign_attrs(units="day of the year")
    out["average_length"] = kept["average_length"].assign_attrs(units="days")
    out["two"] = kept["two"].assign_attrs(long_name="summer or winter splits the year in two")
    return out


# --- the kernel: every year of every crop at once -------------------------------------------


class _Years(NamedTuple):
    """How the years of crops lie at a place, shape (crops,) each."""

    first_day: np.ndarray  # the cut: the day furthest outside the band
    turn: np.ndarray  # days from the cut to the opposite extreme of the climatology
    cut_is_cold: np.ndarray
    two: np.ndarray  # both extremes lie outside the band


def _windows_kernel(
    bands: Sequence[Limits], limits: np.ndarray, measure: Measure
) -> Callable[..., tuple[np.ndarray, ...]]:
    def kernel(tmean: np.ndarray, tmin: np.ndarray, *grids: np.ndarray) -> tuple[np.ndarray, ...]:
        years = _crop_years(smoothed(tmean), bands)
        tmin, *roomy = (_with_room(grid) for grid in (tmin, *grids))
        sure, possible = measure.masks(bands, *roomy)
        feared = np.where(np.isnan(tmin), seen_range(tmin)[0], tmin)
        kills, may_kill = (grid <= limits[:, None, None] for grid in (tmin, feared))
        worst = _longest(*_open(sure, may_kill, years), years)
        best = _longest(*_open(possible, kills, years), years)
        same = (worst == best).all(axis=-1)
        code = np.where(same, np.where(worst[..., 2] > 0, 0, 1), 2)
        start, end = np.moveaxis(np.where((code == 0)[..., None], worst[..., :2], np.nan), -1, 0)
        length, days = np.moveaxis(np.where(same[..., None], worst[..., 2:], np.nan), -1, 0)
        middle = _average_windows(tmean, bands, years)
        return (
            *(start, end, length, days, worst[..., 2], best[..., 2], code),
            *np.moveaxis(middle, -1, 0),
            *(years.first_day, years.two),
        )

    return kernel


def _with_room(grid: np.ndarray) -> np.ndarray:
    """Grid with a year without values on either side: what lies past the record is a gap."""
    room = [(0, 0)] * (grid.ndim - 2) + [(1, 1), (0, 0)]
    return np.pad(grid, room, constant_values=np.nan)


def _crop_years(usual: np.ndarray, bands: Sequence[Limits]) -> _Years:
    if np.isnan(usual).any():
        no = np.zeros(len(bands), dtype=bool)
        return _Years(no + 1, no + DAYS // 2, ~no, no)
    low, high = np.array([(band.low_c, band.high_c) for band in bands]).T[..., None]
    colder, warmer = low - usual, usual - high
    outside, crop = np.maximum(colder, warmer), np.arange(len(bands))
    first = outside.argmax(axis=1)
    cold = colder[crop, first] >= warmer[crop, first]
    other = np.where(cold, usual.argmax(), usual.argmin())
    return _Years(first + 1, (other - first) % DAYS, cold, outside[crop, other] > TOLERANCE_C)


def _open(usable: np.ndarray, kills: np.ndarray, years: _Years) -> tuple[np.ndarray, np.ndarray]:
    """Seasons of usable days, and the days that no window may bridge.

    On the rise a killing freeze shuts all days up to it, on the fall all days from it on. Where a
    window runs through the winter, it shuts its own day alone.
    """
    usable, kills = _seasons(usable, years), _seasons(kills, years)
    if not kills.any():
        return usable, kills
    day = np.arange(DAYS, dtype=np.int16)
    rise = (day < years.turn[:, None, None]) == years.cut_is_cold[:, None, None]
    on_rise, on_fall = (kills & rise)[..., ::-1], kills & ~rise
    last = np.where(on_rise.any(-1), DAYS - 1 - on_rise.argmax(-1), -1).astype(day.dtype)
    first = np.where(on_fall.any(-1), on_fall.argmax(-1), DAYS).astype(day.dtype)
    shut = (rise & (day <= last[..., None])) | (~rise & (day >= first[..., None]))
    through = ~(years.cut_is_cold | years.two)
    shut[through] = kills[through]
    return usable & ~shut, shut


def _seasons(mask: np.ndarray, years: _Years) -> np.ndarray:
    """Seasons of the record, each crop's cut on its own day; `mask` has a year on either side."""
    crops, rows, _ = mask.shape
    length = (rows - 2) * DAYS
    starts = DAYS + offset(years.first_day)
    flat = mask.reshape(crops, -1)
    seasons = [days[s : s + length] for days, s in zip(flat, starts, strict=True)]
    return np.stack(seasons).reshape(crops, rows - 2, DAYS)


class _Runs(NamedTuple):
    row: np.ndarray
    start: np.ndarray
    end: np.ndarray
    usable: np.ndarray


def _runs(usable: np.ndarray, shut: np.ndarray) -> _Runs:
    """All windows of seasons, shape (seasons, 365): runs joined over short, open breaks."""
    padded = np.zeros((len(usable), DAYS + BRIDGED_DAYS + 1), dtype=bool)
    padded[:, 1 : DAYS + 1] = usable
    edges = np.flatnonzero(np.diff(padded.ravel()))
    start, end = edges[::2], edges[1::2]  # first usable day, first day after; one pad day before
    width = padded.shape[1]
    joined = start[1:] - end[:-1] <= BRIDGED_DAYS
    row, day = np.divmod(end[:-1][joined], width)
    after = start[1:][joined] - end[:-1][joined] - 1
    wall = [shut[row, day + np.minimum(step, after)] for step in range(BRIDGED_DAYS)]
    joined[joined] = ~np.logical_or.reduce(wall)
    head = np.flatnonzero(np.concatenate([[True], ~joined])) if len(start) else np.arange(0)
    tail = np.append(head[1:], len(start)) - 1 if len(start) else head
    days = np.add.reduceat(end - start, head) if len(start) else head
    return _Runs(start[head] // width, start[head] % width, end[tail] % width - 1, days)


def _longest(usable: np.ndarray, shut: np.ndarray, years: _Years) -> np.ndarray:
    """First and last day, length and usable days, shape (crops, seasons, parts, 4)."""
    crops, seasons, _ = usable.shape
    runs = _runs(usable.reshape(-1, DAYS), shut.reshape(-1, DAYS))
    turn, cold, two = (column[runs.row // seasons] for column in years[1:])
    early, late = runs.start < turn - TURN_DAYS, runs.end >= turn + TURN_DAYS
    rise, fall = np.where(cold, early, late) & two, np.where(cold, late, early) & two
    best = _longest_of(runs, np.stack([np.ones_like(rise), rise, fall]), crops * seasons)
    return best.reshape(crops, seasons, len(PARTS), 4)


def _longest_of(runs: _Runs, chosen: np.ndarray, rows: int) -> np.ndarray:
    """Of the chosen windows of each row the longest, of these the earliest: (rows, parts, 4)."""
    length = runs.end - runs.start + 1
    rank = (length << 20) + ((DAYS - runs.start) << 10) + runs.usable  # one whole number a window
    best = np.zeros((len(chosen), rows), dtype=rank.dtype)
    if len(rank):
        first = np.flatnonzero(np.diff(runs.row, prepend=-1))
        best[:, runs.row[first]] = np.maximum.reduceat(np.where(chosen, rank, 0), first, axis=1)
    length, start, usable = best >> 20, DAYS - (best >> 10) % 1024, best % 1024
    start = np.where(best > 0, start, -1)
    end = np.where(best > 0, start + length - 1, -1)
    return np.stack([start, end, length, usable], axis=-1).swapaxes(0, 1)


def _average_windows(tmean: np.ndarray, bands: Sequence[Limits], years: _Years) -> np.ndarray:
    """Window of the average curve, each day's mean over the years smoothed over a week."""
    mean = usual_days(tmean)
    curve = running_mean(mean[None], mean)
    turned = [
        np.roll(inside(curve, curve, band), 1 - first, axis=1)
        for band, first in zip(bands, years.first_day, strict=True)
    ]
    usable = np.stack(turned)
    found = _longest(usable, np.zeros_like(usable), years)[:, 0].astype(float)
    found[found[..., 2] == 0, :2] = np.nan
    return found[..., :3]


# --- shorter than needed ------------------------------------------------------------------


def odds_shorter(windows: xr.Dataset, need_days: int) -> xr.Dataset:
    """How often the usable window is shorter than a crop needs.

    Parameters
    ----------
    windows : Dataset, dims (..., season, part)
        From `usable_windows`.
    need_days : int
        Days the crop needs.

    Returns
    -------
    Dataset, dims (..., part)
        ``shorter`` of ``known`` years, and how many are ``unknown``; their ``share`` with the 90 %
        Wilson interval ``low`` to ``high``; ``trend`` of the length, Theil and Sen's slope [days
        per decade] with its interval ``trend_low`` to ``trend_high``, and Mann and Kendall's
        ``trend_p``.

    Raises
    ------
    ValueError
        If the need is not a positive number of days, at most 365.

    Notes
    -----
    A year whose length is unknown is still known to be long enough, or too short, where both ends
    of what it could be say so.
    """
    if not 0 < need_days <= DAYS:
        msg = f"need_days must lie between 1 and {DAYS}, got {need_days!r}."
        raise ValueError(msg)
    short, enough = windows["length_most"] < need_days, windows["length_least"] >= need_days
    shorter, known = (sure.sum("season") for sure in (short, short | enough))
    low, high = apply(wilson, shorter, known, core=[[], []], out=[[], []], dtypes=[float] * 2)
    unknown = ((windows["length_least"] < need_days) & ~short).sum("season")
    out = xr.Dataset({"shorter": shorter, "known": known, "unknown": unknown})
    out["share"], out["low"], out["high"] = shorter / known.where(known > 0), low, high
    trend = apply(
        lambda year, length: (*theil_sen(year / 10, length), mann_kendall(length)),
        windows["season"],
        windows["length"],
        core=[["season"]] * 2,
        out=[[]] * 4,
        dtypes=[float] * 4,
        each=True,
    )
    slopes = ("trend", "trend_low", "trend_high")
    out = out.assign(dict(zip((*slopes, "trend_p"), trend, strict=True)))
    for name in out:
        out[name].attrs = {"units": "days per decade" if name in slopes else "1"}
    return out.assign_attrs(windows.attrs, need_days=need_days, interval=LEVEL)
