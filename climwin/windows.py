"""Usable windows: the weeks of every year in which a crop finds temperatures it grows in.

The window of an average curve is not the average window: each year is measured on its own, and
the average curve's window stands beside them.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import NamedTuple

import numpy as np
import xarray as xr

from climwin.crops import Crop, Limits
from climwin.scenario import provenance
from climwin.schema import (
    NONE,
    OBSERVED,
    TOLERANCE_C,
    UNKNOWN,
    DataGapError,
    apply,
    variable,
)
from climwin.seasons import (
    DAYS,
    by_year,
    cut,
    keep_inside,
    offset,
    season_dates,
    seen_range,
    smoothed,
    usual_days,
)
from climwin.stats import LEVEL, mann_kendall, theil_sen, wilson
from climwin.usable import inside, running_mean, usable_days

PARTS = ("longest", "rise", "fall")
"""The longest window of a crop's year; the one on the way up; the one on the way down."""
BRIDGED_DAYS = 3
TURN_DAYS = 30
"""A window is on the rise if it begins at least so long before midsummer, and on the fall if it
ends at least so long after it: one that begins at midsummer is no spring window."""

_STATUS = np.array([OBSERVED, NONE, UNKNOWN])


class _Year(NamedTuple):
    """How a crop's year lies at a place."""

    first_day: int  # the cut: the day furthest outside the band
    turn: int  # days from the cut to the opposite extreme of the climatology
    cut_is_cold: bool
    two: bool  # both extremes lie outside the band


def usable_windows(
    daily: xr.Dataset,
    crop: Crop | Limits,
    *,
    measure: str = "mean",
    killed_at: float | None = None,
) -> xr.Dataset:
    """Measure the usable window of every year.

    Parameters
    ----------
    daily : Dataset, dims (..., time)
        Needs ``tmean`` and ``tmin``, and what the measure needs. [degC]
    crop : Crop or Limits
        A crop, or a band of daily mean temperature alone. [degC]
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
        If the measure is not allowed or the record lacks what it needs.
    DataGapError
        If the record is too thin to have a usual year.

    Notes
    -----
    The crop's year is cut on the day of the smoothed climatology that lies furthest outside the
    band, so a window may run through a mild winter.
    """
    band = crop.band if isinstance(crop, Crop) else crop
    if killed_at is None:
        killed_at = crop.killed_at_c if isinstance(crop, Crop) else -np.inf
    span = by_year(variable(daily, "tmean"))
    _check_usual(span)
    roomy = _with_room(daily)
    masks = usable_days(roomy, band, measure=measure)
    tmean, tmin = (by_year(variable(roomy, name)) for name in ("tmean", "tmin"))
    axes = ["year", "day_of_year"]
    shape = ["season", "part"]
    results = apply(
        _windows_kernel(band, killed_at),
        masks["sure"],
        masks["possible"],
        tmean,
        tmin,
        core=[axes] * 4,
        out=[shape] * 7 + [["part"]] * 3 + [[], []],
        sizes={"season": tmean.sizes["year"], "part": len(PARTS)},
        dtypes=[float] * 6 + [int] + [float] * 3 + [int, bool],
        each=True,
    )
    found = xr.Dataset(dict(zip(_RESULTS, results, strict=True)))
    found = found.assign_coords(season=tmean["year"].values, part=list(PARTS))
    out = _dated(found, keep_inside(found, span, found["first_day"]))
    label = crop.name if isinstance(crop, Crop) else ""
    return out.assign_attrs(
        crop=label, low_c=band.low_c, high_c=band.high_c, killed_at_c=killed_at, measure=measure
    ).assign_attrs(provenance(daily))


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


def _with_room(daily: xr.Dataset) -> xr.Dataset:
    """The record with a year without values at either end: what lies past its ends is a gap."""
    time, year = daily["time"].values, np.timedelta64(366, "D")
    return daily.reindex(time=np.concatenate([[time.min() - year], time, [time.max() + year]]))


def _dated(found: xr.Dataset, kept: xr.Dataset) -> xr.Dataset:
    first = found["first_day"]
    out = xr.Dataset()
    for name in ("start", "end"):
        out[name] = season_dates(kept[f"{name}_day"], first)
    for name in ("length", "usable_days", "length_least", "length_most"):
        out[name] = kept[name].assign_attrs(units="days")
    out["status"] = apply(lambda c: _STATUS[c], kept["code"], core=[[]], dtypes=[_STATUS.dtype])
    shift = apply(offset, first, core=[[]], dtypes=[int]) + 1
    for name in ("average_start_day", "average_end_day"):
        out[name] = (kept[name] + shift).assign_attrs(units="day of the year")
    out["average_length"] = kept["average_length"].assign_attrs(units="days")
    out["two"] = kept["two"].assign_attrs(long_name="summer or winter splits the year in two")
    return out


def _windows_kernel(band: Limits, killed_at: float) -> Callable[..., tuple[np.ndarray, ...]]:
    limit = killed_at + TOLERANCE_C

    def kernel(
        sure: np.ndarray, possible: np.ndarray, tmean: np.ndarray, tmin: np.ndarray
    ) -> tuple[np.ndarray, ...]:
        usual = smoothed(tmean)
        year = _crop_year(usual, band)
        kills = tmin <= limit
        may_kill = kills | (np.isnan(tmin) & (seen_range(tmin)[0] <= limit))
        worst = _longest(*_open(sure, may_kill, year), year)
        best = _longest(*_open(possible, kills, year), year)
        same = (worst == best).all(axis=-1)
        code = np.where(same, np.where(worst[..., 2] > 0, 0, 1), 2)
        known = np.where((code == 0)[..., None], worst, np.nan)
        length = np.where(code == 2, np.nan, worst[..., 2])
        days = np.where(code == 2, np.nan, worst[..., 3])
        middle = _average_window(tmean, band, year)
        return (
            *(known[..., 0], known[..., 1], length, days, worst[..., 2], best[..., 2], code),
            *(*middle.T, np.asarray(year.first_day), np.asarray(year.two)),
        )

    return kernel


def _crop_year(usual: np.ndarray, band: Limits) -> _Year:
    if np.isnan(usual).any():
        return _Year(1, DAYS // 2, cut_is_cold=True, two=False)
    outside = np.maximum(band.low_c - usual, usual - band.high_c)
    first = int(outside.argmax())
    cold = bool(band.low_c - usual[first] >= usual[first] - band.high_c)
    other = int(usual.argmax() if cold else usual.argmin())
    return _Year(first + 1, (other - first) % DAYS, cold, bool(outside[other] > TOLERANCE_C))


def _open(usable: np.ndarray, kills: np.ndarray, year: _Year) -> tuple[np.ndarray, np.ndarray]:
    """Seasons of usable days, and the days that no window may bridge.

    On the rise a killing freeze shuts all days up to it, on the fall all days from it on. Where a
    window runs through the winter, it shuts its own day alone.
    """
    usable, shut = (cut(mask, year.first_day, False) for mask in (usable, kills))
    before, after = slice(None, year.turn), slice(year.turn, None)
    rise, fall = (before, after) if year.cut_is_cold else (after, before)
    if year.cut_is_cold or year.two:
        shut[:, rise] = np.logical_or.accumulate(shut[:, rise][:, ::-1], axis=1)[:, ::-1]
        shut[:, fall] = np.logical_or.accumulate(shut[:, fall], axis=1)
    return usable & ~shut, shut


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
    blocked = np.zeros(padded.shape, dtype=int)
    blocked[:, :DAYS] = shut
    walls = np.concatenate([[0], np.cumsum(blocked)])
    joined = (start[1:] - end[:-1] <= BRIDGED_DAYS) & (walls[start[1:]] == walls[end[:-1]])
    head = np.flatnonzero(np.concatenate([[True], ~joined])) if len(start) else np.arange(0)
    tail = np.append(head[1:], len(start)) - 1 if len(start) else head
    days = np.add.reduceat(end - start, head) if len(start) else head
    width = padded.shape[1]
    return _Runs(start[head] // width, start[head] % width, end[tail] % width - 1, days)


def _longest(usable: np.ndarray, shut: np.ndarray, year: _Year) -> np.ndarray:
    """First and last day, length and usable days of each part, shape (seasons, parts, 4)."""
    runs = _runs(usable, shut)
    early, late = runs.start < year.turn - TURN_DAYS, runs.end >= year.turn + TURN_DAYS
    rise, fall = (early, late) if year.cut_is_cold else (late, early)
    every = np.ones_like(early)
    parts = (every, rise & year.two, fall & year.two)
    return np.stack([_longest_of(runs, chosen, len(usable)) for chosen in parts], axis=1)


def _longest_of(runs: _Runs, chosen: np.ndarray, rows: int) -> np.ndarray:
    row, start, end, usable = (column[chosen] for column in runs)
    length = end - start + 1
    best = np.lexsort((start, -length, row))  # by row, then longest, then earliest
    row_best, first = np.unique(row[best], return_index=True)
    pick = best[first]
    out = np.full((rows, 4), -1)
    out[:, 2:] = 0
    out[row_best] = np.stack([start[pick], end[pick], length[pick], usable[pick]], axis=1)
    return out


def _average_window(tmean: np.ndarray, band: Limits, year: _Year) -> np.ndarray:
    """Window of the average curve, each day's mean over the years smoothed over a week."""
    mean = usual_days(tmean)
    curve = running_mean(mean[None], mean)
    usable = np.roll(inside(curve, curve, band), 1 - year.first_day, axis=1)
    found = _longest(usable, np.zeros_like(usable), year)[0].astype(float)
    found[found[:, 2] == 0, :2] = np.nan
    return found[:, :3]


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
    least, most = windows["length_least"], windows["length_most"]
    known = ((least >= need_days) | (most < need_days)).sum("season")
    shorter = (most < need_days).sum("season")
    low, high = apply(wilson, shorter, known, core=[[], []], out=[[], []], dtypes=[float] * 2)
    out = xr.Dataset({"shorter": shorter, "known": known})
    out["unknown"] = windows.sizes["season"] - known
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
    out = out.assign(dict(zip(("trend", "trend_low", "trend_high", "trend_p"), trend, strict=True)))
    for name in ("trend", "trend_low", "trend_high"):
        out[name].attrs["units"] = "days per decade"
    return out.assign_attrs(windows.attrs, need_days=need_days, interval=LEVEL)
