"""Multiple imputation of missing days, given the days around them.

The departures of a day's temperatures from the usual year, in standard deviations, are modelled as
a vector autoregression of order one. Given the known days around and within a gap, its missing days
then have a known normal distribution, and are drawn from it. Estimates from stations nearby are
additional variables, see `climwin.climate.joining`.

A single draw is not a measurement: answers are averaged over many draws.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import NamedTuple

import numpy as np
import xarray as xr

from climwin.climate.lasting import draw_effects, fit_effects
from climwin.core.errors import InputError, Parameter
from climwin.core.memo import remembered
from climwin.core.provenance import with_note
from climwin.core.runs import true_runs
from climwin.core.schema import apply, variable
from climwin.core.seasons import (
    DAYS,
    MONTH_STARTS,
    day_of_year,
    every_day,
    mean_by_day,
    smoothed,
)

DRAWS = 20
"""Default number of draws of each gap."""
DERIVED_C = 0.15
"""If a daily mean differs from (tmin + tmax) / 2 by less than this, it is taken to be that, within
the rounding of three readings to tenths. [degC]"""
SEASON_DAYS = 45
"""Days on either side of the middle of a month from which its autoregression is fitted (common
practice)."""
LEAST_PAIRS = 200
"""Least number of pairs of successive days for fitting a month; with fewer, the whole year is used
(common practice)."""
SEEN_DAYS = 15
"""A time of the year is not drawn if no year has a value within this many days of it."""
LEAST_MEASURED = 0.5
"""Least share of measured days in a year for the rest to be drawn (common practice)."""
NEARBY = {"tmin": "tmin_nearby", "tmax": "tmax_nearby"}
"""Names of the estimates of joined stations for each extreme, as departures from the usual day; see
`join_stations`. [degC]"""

_NAMES = ("tmin", "tmax", "tmean")

_FROM_MIDDLE = np.arange(1, DAYS + 1) - (MONTH_STARTS[:, None] + 15)
_IS_NEAR_MONTH = np.abs((_FROM_MIDDLE + DAYS // 2) % DAYS - DAYS // 2) <= SEASON_DAYS
"""Whether a day of the year is within `SEASON_DAYS` of the middle of a month, shape (12, 365)."""


class Autoregression(NamedTuple):
    """A vector autoregression of daily departures, by month.

    ``z[day] = step[month] @ z[day - 1] + noise``, with normal noise of covariance ``noise[month]``.
    Without a known day before, a day has the covariance ``alone[month]``.
    """

    step: np.ndarray
    """Shape (12, k, k)."""
    noise: np.ndarray
    """Shape (12, k, k)."""
    alone: np.ndarray
    """Shape (12, k, k)."""


class Gaps(NamedTuple):
    """Drawn values of the days on which something is missing."""

    place: np.ndarray
    """Positions of these days in the series, shape (gaps,)."""
    values: np.ndarray
    """Shape (draws, k, gaps); measured values are the same in every draw."""


# --- the usual year -----------------------------------------------------------------------


def usual_year(values: np.ndarray, day: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Smoothed mean and standard deviation of each day of the year.

    Parameters
    ----------
    values : ndarray, shape (days,)
        One variable, missing days as NaN.
    day : ndarray of int, shape (days,)
        Day of the year of each, 1 to 365.

    Returns
    -------
    mean, deviation : ndarray, shape (365,)
        The first two harmonics of both; all NaN if fewer than 200 days of the year have any value.
    """
    known = ~np.isnan(values)
    mean = smoothed(mean_by_day(values[known], day[known])[None])
    squares = (values - mean[day - 1])[known] ** 2
    variance = smoothed(mean_by_day(squares, day[known])[None])
    # Harmonics fitted to the squares of a short record may dip below zero.
    least = 0.1 * squares.mean() if len(squares) else 0.0
    return mean, np.sqrt(np.maximum(variance, least + 1e-6))


# --- the model ----------------------------------------------------------------------------


def fit_autoregression(departures: np.ndarray, day: np.ndarray) -> Autoregression:
    """Fit a vector autoregression of daily departures for each month.

    Parameters
    ----------
    departures : ndarray, shape (k, days)
        Departures of successive days in standard deviations, NaN where missing.
    day : ndarray of int, shape (days,)
        Day of the year of each, 1 to 365.

    Notes
    -----
    Least squares over pairs of successive known days within `SEASON_DAYS` of the middle of the
    month, so that the residuals have a proper covariance whatever is missing [1]_.

    References
    ----------
    .. [1] H. Luetkepohl, "New Introduction to Multiple Time Series Analysis," Springer, 2005,
       chapter 3 (from memory).
    """
    known = ~np.isnan(departures).any(axis=0)
    pairs = np.flatnonzero(known[1:] & known[:-1]) + 1
    size = len(departures)
    step, noise, alone = (np.zeros((12, size, size)) for _ in range(3))
    for month in range(12):
        near = pairs[_IS_NEAR_MONTH[month, day[pairs] - 1]]
        chosen = near if len(near) >= LEAST_PAIRS else pairs
        now, before = departures[:, chosen], departures[:, chosen - 1]
        count = max(len(chosen), 1)
        of_before, across = before @ before.T / count, now @ before.T / count
        tiny = 1e-6 * np.eye(size)
        step[month] = across @ np.linalg.inv(of_before + tiny)
        left = now - step[month] @ before
        noise[month] = left @ left.T / count + tiny
        alone[month] = now @ now.T / count + tiny
    return Autoregression(step, noise, alone)


# --- drawing ------------------------------------------------------------------------------


def draw_departures(
    departures: np.ndarray,
    month: np.ndarray,
    model: Autoregression,
    draws: int,
    rng: np.random.Generator,
) -> Gaps:
    """Draw the missing departures of a series, given the known ones.

    Parameters
    ----------
    departures : ndarray, shape (k, days)
        Departures in standard deviations, NaN where missing. Further predictors, such as the
        departures of a neighbour's record, are further rows.
    month : ndarray of int, shape (days,)
        0 to 11.
    model : Autoregression
    draws : int
    rng : Generator

    Returns
    -------
    Gaps
        The values are departures.

    Notes
    -----
    Forward filtering, backward sampling [1]_, which is exact for this model. Only stretches of days
    with missing values are processed, all of them together: given the complete days before and
    after a stretch, the rest of the record adds nothing.

    References
    ----------
    .. [1] C. K. Carter and R. Kohn, "On Gibbs sampling for state space models," Biometrika,
       vol. 81, pp. 541-553, 1994 (from memory).
    """
    days = departures.shape[1]
    missing = np.isnan(departures).any(axis=0)
    place = np.flatnonzero(missing)
    first, end = true_runs(missing)
    length = end - first
    # Sorted longest first, so that the stretches still being processed are always the first ones.
    order = np.argsort(-length, kind="stable")
    first, length = first[order], length[order]
    row = np.zeros(days, dtype=int)
    row[place] = np.arange(len(place))
    series = _Series(departures, missing, row, month, model)
    longest = int(length[0]) if len(length) else 0
    # The first days of all stretches, then their second days, and so on.
    in_step = [first[: np.count_nonzero(length > number)] + number for number in range(longest)]
    means, covariances = _filtered(in_step, series)
    values = np.zeros((draws, len(place), len(departures)))
    for today in reversed(in_step):
        mean, covariance = _given_tomorrow(today, series, means, covariances, values)
        scatter = rng.standard_normal(mean.shape)
        scattered = np.einsum("nij,dnj->dni", _root(covariance), scatter)
        values[:, row[today]] = mean + scattered
    measured = departures[:, place].T
    values = np.where(np.isnan(measured), values, measured)
    return Gaps(place, np.moveaxis(values, -1, 1))


class _Series(NamedTuple):
    """A series with gaps, and the model of its days; arrays have one element for each day."""

    departures: np.ndarray
    """Shape (k, days)."""
    missing: np.ndarray
    """Days on which something is missing."""
    row: np.ndarray
    """Position of such a day among them."""
    month: np.ndarray
    """0 to 11."""
    model: Autoregression


def _filtered(in_step: Sequence[np.ndarray], series: _Series) -> tuple[np.ndarray, np.ndarray]:
    """Mean and covariance of the days of gaps, given the days before and what was measured on them.

    Parameters
    ----------
    in_step : sequence of ndarray of int
        The first days of all stretches, then their second days, and so on.
    series : _Series

    Returns
    -------
    means, covariances : ndarray, shape (gaps, k) and (gaps, k, k)
    """
    size, gaps = len(series.departures), np.count_nonzero(series.missing)
    means, covariances = np.zeros((gaps, size)), np.zeros((gaps, size, size))
    for today in in_step:
        mean, covariance = _foreseen(today, series, means, covariances)
        mean, covariance = _given(mean, covariance, series.departures[:, today].T)
        means[series.row[today]], covariances[series.row[today]] = mean, covariance
    return means, covariances


def _foreseen(
    today: np.ndarray, series: _Series, means: np.ndarray, covariances: np.ndarray
) -> tuple[np.ndarray, np.ndarray]:
    """Mean and covariance of days of gaps, given only the days before them."""
    departures, _, row, month, model = series
    size = len(departures)
    mean, covariance = np.zeros((len(today), size)), model.alone[month[today]].copy()
    later = np.flatnonzero(today > 0)  # nothing is known before the record's first day
    yesterday = today[later] - 1
    step, noise = model.step[month[today[later]]], model.noise[month[today[later]]]
    was_full = ~np.isnan(departures[:, yesterday]).any(axis=0)
    # A day outside the stretch is complete: its mean is itself, with covariance 0.
    before = np.where(was_full[:, None], departures[:, yesterday].T, means[row[yesterday]])
    doubt = np.where(was_full[:, None, None], 0.0, covariances[row[yesterday]])
    mean[later] = np.einsum("nij,nj->ni", step, before)
    covariance[later] = step @ doubt @ _turned(step) + noise
    return mean, covariance


def _given_tomorrow(
    today: np.ndarray,
    series: _Series,
    means: np.ndarray,
    covariances: np.ndarray,
    values: np.ndarray,
) -> tuple[np.ndarray, np.ndarray]:
    """Mean and covariance of days of gaps, given all days before and what was drawn of the next.

    Parameters
    ----------
    today : ndarray of int, shape (n,)
    series : _Series
    means, covariances : ndarray
        From `_filtered`.
    values : ndarray, shape (draws, gaps, k)
        What was drawn so far.

    Returns
    -------
    mean : ndarray, shape (draws, n, k)
    covariance : ndarray, shape (n, k, k)
    """
    departures, missing, row, month, model = series
    draws, _, size = values.shape
    here = row[today]
    mean = np.broadcast_to(means[here], (draws, len(today), size)).copy()
    covariance = covariances[here]
    going_on = np.flatnonzero(today + 1 < len(missing))  # the last day of all has no next day
    tomorrow = today[going_on] + 1
    step, noise = model.step[month[tomorrow]], model.noise[month[tomorrow]]
    before = covariance[going_on]
    ahead = step @ before @ _turned(step) + noise
    gain = before @ _turned(step) @ np.linalg.inv(ahead)
    known = departures[:, tomorrow].T
    next_day = np.broadcast_to(known, (draws, *known.shape)).copy()
    in_stretch = missing[tomorrow]
    next_day[:, in_stretch] = values[:, row[tomorrow[in_stretch]]]
    surprise = next_day - np.einsum("nij,nj->ni", step, means[here][going_on])
    mean[:, going_on] += np.einsum("nij,dnj->dni", gain, surprise)
    covariance[going_on] = before - gain @ step @ before
    return mean, covariance


def _given(
    mean: np.ndarray, covariance: np.ndarray, measured: np.ndarray
) -> tuple[np.ndarray, np.ndarray]:
    """Update mean and covariance with the values measured on a day, one after another."""
    mean, covariance = mean.copy(), covariance.copy()
    for number in range(mean.shape[1]):
        days = np.flatnonzero(~np.isnan(measured[:, number]))
        column = covariance[days, :, number]
        variance = column[:, number]
        gain = column / np.maximum(variance, 1e-12)[:, None]
        mean[days] += gain * (measured[days, number] - mean[days, number])[:, None]
        covariance[days] -= gain[:, :, None] * column[:, None, :]
    return mean, covariance


def _turned(matrices: np.ndarray) -> np.ndarray:
    return np.swapaxes(matrices, -1, -2)


def _root(covariance: np.ndarray) -> np.ndarray:
    """Square root of covariances that may be singular: root @ root.T is the covariance.

    The symmetric root, because the sign of an eigenvector is arbitrary and rounding could flip a
    draw.
    """
    variance, direction = np.linalg.eigh((covariance + _turned(covariance)) / 2)
    scaled = direction * np.sqrt(np.maximum(variance, 0.0))[..., None, :]
    root: np.ndarray = scaled @ _turned(direction)
    return root


# --- temperatures -------------------------------------------------------------------------


def missing_days(series: Mapping[str, np.ndarray]) -> np.ndarray:
    """Positions of days on which any temperature of a station is missing."""
    return np.flatnonzero(np.isnan(np.stack(list(_of_station(series).values()))).any(axis=0))


def _of_station(series: Mapping[str, np.ndarray]) -> dict[str, np.ndarray]:
    """The station's own temperatures, without the estimates of stations nearby."""
    return {name: values for name, values in series.items() if name in _NAMES}


def covered_days(series: Mapping[str, np.ndarray], name: str) -> np.ndarray:
    """Days that were measured, or for which stations nearby estimate both extremes.

    Parameters
    ----------
    series : mapping of str to ndarray
        Temperatures of one station, and `NEARBY` where stations were joined, of one shape.
    name : str
        The temperature in question.

    Returns
    -------
    ndarray of bool, of that shape
    """
    covered = ~np.isnan(series[name])
    if set(NEARBY.values()) <= series.keys():
        covered |= ~np.isnan([series[each] for each in NEARBY.values()]).any(axis=0)
    return covered


def draw_temperatures(
    series: Mapping[str, np.ndarray],
    day: np.ndarray,
    draws: int,
    seed: int = 0,
) -> dict[str, np.ndarray]:
    """Draw the missing temperatures of one station.

    Parameters
    ----------
    series : mapping of str to ndarray, shape (days,)
        Any of ``tmin``, ``tmax``, ``tmean`` on successive days, with gaps as NaN, and `NEARBY` if
        stations were joined. [degC]
    day : ndarray of int, shape (days,)
        Day of the year of each, 1 to 365.
    draws : int
    seed : int

    Returns
    -------
    dict of str to ndarray, shape (draws, gaps)
        Values of each variable on the days of `missing_days`, as measured where known. NaN at a
        time of the year that was never measured, and everywhere if the record is too sparse to have
        a usual year.
    """
    nearby = {name: series[name] for name in NEARBY.values() if name in series}
    series = _of_station(series)
    place = missing_days(series)
    modelled = {name: values for name, values in series.items() if name != "tmean"}
    if "tmean" in series and not _is_middle(series):
        modelled["tmean"] = series["tmean"]
    rows = [*modelled.values(), *nearby.values()]
    is_known = ~np.isnan(np.stack(list(modelled.values()))).any(axis=0)
    # The usual year of stations nearby is that of the days that the record has too; otherwise a
    # warm year that only they have would count as usual.
    usual = [usual_year(row, day) for row in modelled.values()]
    usual += [usual_year(np.where(is_known, row, np.nan), day) for row in nearby.values()]
    has_year = [bool(np.isfinite(mean).all()) for mean, _ in usual]
    if not all(has_year[: len(modelled)]):
        return {name: np.repeat(row[place][None], draws, axis=0) for name, row in series.items()}
    departures = np.stack(
        [
            (row - mean[day - 1]) / deviation[day - 1]
            for row, (mean, deviation), known in zip(rows, usual, has_year, strict=True)
            if known  # stations nearby may be too sparse to help
        ]
    )
    gaps = _draw_beside_neighbours(
        departures, day, len(modelled), draws, np.random.default_rng(seed)
    )
    # A day may lack only a mean that is not drawn, or only a neighbour's value.
    is_drawn = np.isin(place, gaps.place)
    here = np.searchsorted(gaps.place, place[is_drawn])
    drawn = {}
    for number, (name, values) in enumerate(modelled.items()):
        mean, deviation = (curve[day[place] - 1] for curve in usual[number])
        filled = np.broadcast_to(values[place], (draws, len(place))).copy()
        celsius = mean[is_drawn] + deviation[is_drawn] * gaps.values[:, number, here]
        # Measured values stay the same to the last bit.
        filled[:, is_drawn] = np.where(np.isnan(filled[:, is_drawn]), celsius, filled[:, is_drawn])
        filled[:, np.isnan(values[place]) & ~_is_seen(values, day)[place]] = np.nan
        drawn[name] = filled
    return _sound(drawn, series, place)


def _draw_beside_neighbours(
    departures: np.ndarray, day: np.ndarray, own: int, draws: int, rng: np.random.Generator
) -> Gaps:
    """Draw the missing departures of a station; arguments as for `_lasting`.

    What lasts for months is drawn by itself, and the days around it.
    """
    month = np.searchsorted(MONTH_STARTS, day - 1, side="right") - 1
    lasting: np.ndarray | None = None
    if len(departures) > own:
        expected, lasting = _lasting(departures, day, month, own, draws, rng)
        departures = np.concatenate([departures[:own] - expected, departures[own:]])
    model = fit_autoregression(departures, day)
    departures = _bridged_nearby(departures, month, model, own)
    gaps = draw_departures(departures, month, model, draws, rng)
    if lasting is not None:
        gaps.values[:, :own] += lasting[:, :, gaps.place]
    return gaps


def _lasting(
    departures: np.ndarray,
    day: np.ndarray,
    month: np.ndarray,
    own: int,
    draws: int,
    rng: np.random.Generator,
) -> tuple[np.ndarray, np.ndarray]:
    """Effects of months, seasons and years on a record beside its neighbours, see `lasting`.

    Parameters
    ----------
    departures : ndarray, shape (k, days)
        Departures of the station and, below them, of its neighbours.
    day, month : ndarray of int, shape (days,)
        Day of the year, 1 to 365, and month, 0 to 11.
    own : int
        Number of rows of the station itself, which come first.
    draws : int
    rng : Generator

    Returns
    -------
    expected : ndarray, shape (own, days)
        Expected effects, given the known days.
    drawn : ndarray, shape (draws, own, days)
    """
    covariance = fit_autoregression(departures, day).alone
    across = covariance[:, :own, own:] @ np.linalg.inv(covariance[:, own:, own:])
    foreseen = np.einsum("dij,jd->id", across[month], departures[own:])
    differences = departures[:own] - foreseen
    year = np.cumsum(np.diff(day, prepend=day[:1]) < 0)
    place = 12 * year + month
    effects = fit_effects(differences, place)
    expected, drawn = draw_effects(differences, place, effects, draws, rng)
    return expected[:, place], drawn[:, :, place]


def _bridged_nearby(
    departures: np.ndarray, month: np.ndarray, model: Autoregression, own: int
) -> np.ndarray:
    """Fill missing neighbours on days on which the record itself is complete.

    This matters only for the first day of a gap; a long silence nearby is not a gap to be drawn.

    Parameters
    ----------
    departures : ndarray, shape (k, days)
    month : ndarray of int, shape (days,)
    model : Autoregression
    own : int
        Number of rows of the station itself, which come first.
    """
    is_own_known = ~np.isnan(departures[:own]).any(axis=0)
    days = np.flatnonzero(is_own_known & np.isnan(departures[own:]).any(axis=0))
    if not len(days):
        return departures
    covariance = model.alone[month[days]]
    mean = np.zeros((len(days), len(departures)))
    mean, _ = _given(mean, covariance, departures[:, days].T)
    out = departures.copy()
    out[:, days] = np.where(np.isnan(departures[:, days]), mean.T, departures[:, days])
    return out


def _is_seen(values: np.ndarray, day: np.ndarray) -> np.ndarray:
    """Whether any year has a value within `SEEN_DAYS` of each day."""
    count = np.bincount(day[~np.isnan(values)] - 1, minlength=DAYS)
    around = np.concatenate([count[-SEEN_DAYS:], count, count[:SEEN_DAYS]])
    near = np.convolve(around, np.ones(2 * SEEN_DAYS + 1), "valid")
    return near[day - 1] > 0


def _is_middle(series: Mapping[str, np.ndarray]) -> bool:
    """Whether the daily mean is (tmin + tmax) / 2, as for a file without a mean."""
    if not {"tmin", "tmax", "tmean"} <= series.keys():
        return False
    off = np.abs(series["tmean"] - (series["tmin"] + series["tmax"]) / 2)
    off = off[~np.isnan(off)]
    return not len(off) or bool(np.quantile(off, 0.99) < DERIVED_C)


def _sound(
    drawn: dict[str, np.ndarray], series: Mapping[str, np.ndarray], place: np.ndarray
) -> dict[str, np.ndarray]:
    """Draws with minimum, mean and maximum in order.

    A draw that crosses a measured value is set to it; two drawn extremes are swapped.
    """
    out = dict(drawn)
    if {"tmin", "tmax"} <= drawn.keys():
        tmin, tmax = drawn["tmin"], drawn["tmax"]
        low, high = np.minimum(tmin, tmax), np.maximum(tmin, tmax)
        out["tmin"] = np.where(np.isnan(series["tmin"][place]), low, tmin)
        out["tmax"] = np.where(np.isnan(series["tmax"][place]), high, tmax)
        if "tmean" in series:
            measured = series["tmean"][place]
            middle = drawn.get("tmean", (out["tmin"] + out["tmax"]) / 2)
            middle = np.clip(middle, out["tmin"], out["tmax"])
            out["tmean"] = np.where(np.isnan(measured), middle, measured)
    return out


class GapsOfGrids(NamedTuple):
    """Draws of the gaps of one station on calendar years."""

    place: np.ndarray
    """Positions of the days on which a temperature is missing, counted from the first day of the
    first year; shape (gaps,)."""
    values: dict[str, np.ndarray]
    """The station's own temperatures on these days, as measured where known; shape (draws, gaps)
    each. [degC]"""


def drawn_gaps(grids: Mapping[str, np.ndarray], draws: int = DRAWS) -> GapsOfGrids:
    """Draw the gaps of one station on calendar years, from its first to its last measured day.

    Parameters
    ----------
    grids : mapping of str to ndarray, shape (years, 365)
        Any of ``tmin``, ``tmax``, ``tmean``, and `NEARBY`, from `seasons.by_year`. [degC]
    draws : int

    Returns
    -------
    GapsOfGrids
        NaN at a time of the year that was never measured.
    """
    series = {name: grid.ravel() for name, grid in grids.items()}
    own = _of_station(series)
    measured = np.flatnonzero(~np.isnan(np.stack(list(own.values()))).all(axis=0))
    if not len(measured):
        return GapsOfGrids(measured, {name: np.empty((draws, 0)) for name in own})
    span = slice(measured[0], measured[-1] + 1)
    inside = {name: values[span] for name, values in series.items()}
    place = measured[0] + missing_days(inside)
    day = np.tile(np.arange(1, DAYS + 1), len(next(iter(grids.values()))))[span]
    values = _remembered_draws(np.stack(list(inside.values())), list(inside), day, draws).values
    return GapsOfGrids(place, {name: values[:, number] for number, name in enumerate(own)})


def drawn_grids(grids: Mapping[str, np.ndarray], draws: int = DRAWS) -> dict[str, np.ndarray]:
    """The grids of one station in each draw of its gaps, see `drawn_gaps`.

    Parameters
    ----------
    grids, draws
        As for `drawn_gaps`.

    Returns
    -------
    dict of str to ndarray, shape (draws, years, 365)
        The station's own temperatures; NaN before the first and after the last measured day.
    """
    gaps = drawn_gaps(grids, draws)
    out = {}
    for name, values in gaps.values.items():
        filled = np.repeat(grids[name].ravel()[None], draws, axis=0)
        filled[:, gaps.place] = values
        out[name] = filled.reshape(draws, *grids[name].shape)
    return out


@remembered
def _remembered_draws(
    values: np.ndarray, names: list[str], day: np.ndarray, draws: int
) -> xr.DataArray:
    """Cached draws of one station's gaps, dims (draw, variable, gap)."""
    drawn = draw_temperatures(dict(zip(names, values, strict=True)), day, draws)
    return xr.DataArray(np.stack(list(drawn.values()), axis=1), dims=("draw", "variable", "gap"))


def draw_gaps(
    daily: xr.Dataset,
    draws: int = DRAWS,
    seed: int = 0,
) -> xr.Dataset:
    """Draw the missing temperatures of a record many times, given the days around them.

    Parameters
    ----------
    daily : Dataset, dims (..., time)
        Any of ``tmin``, ``tmax`` and ``tmean``; from `join_stations` if stations nearby are to
        help. [degC]
    draws : int
        Number of draws of each gap.
    seed : int
        Seed of the random draws; the same seed gives the same numbers.

    Returns
    -------
    Dataset, dims (draw, ..., time)
        The temperatures on every day from the record's first to its last; measured values are the
        same in each draw. Still missing are months that were measured in no year, and everything if
        a station's record is too sparse to have a usual year.

    Raises
    ------
    ValueError
        If there is no temperature, or `draws` is less than 1.

    See Also
    --------
    join_stations : Let stations nearby help to fill the gaps.

    Notes
    -----
    The departures of all temperatures from the smoothed mean of the day of the year, in standard
    deviations, follow a vector autoregression of order one, fitted by month [1]_. A gap is drawn
    from its distribution given the known days around and within it; one extreme of a day tells much
    about the other. A minimum is never above the maximum. The parameters of the fit are taken as
    certain.

    Compute an answer from each draw: the answers differ as much as the gaps leave open, and their
    mean is the one to give [2]_. A single draw is not a measurement.

    References
    ----------
    .. [1] C. W. Richardson, "Stochastic simulation of daily precipitation, temperature, and solar
       radiation," Water Resources Research, vol. 17, pp. 182-190, 1981: the model of the
       departures (pages from memory).
    .. [2] D. B. Rubin, "Multiple Imputation for Nonresponse in Surveys," Wiley, 1987 (from memory).

    Examples
    --------
    >>> import climwin as cw
    >>> daily = cw.read_daily(cw.sample())
    >>> drawn = cw.draw_gaps(daily, draws=5)
    >>> drawn.sizes["draw"], int(daily["tmin"].isnull().sum()), int(drawn["tmin"].isnull().sum())
    (5, 96, 0)
    """
    names = [name for name in _NAMES if name in daily]
    if not names:
        msg = "The record holds no temperature to draw: none of tmin, tmax, tmean."
        raise InputError(msg, parameter="daily")
    if draws < 1:
        raise InputError(Parameter("draws"), f" must be 1 or more, got {draws}.")
    dates = np.asarray(daily["time"]).astype("datetime64[D]")
    time = every_day(dates.min(), dates.max())
    arrays = xr.broadcast(*(variable(daily, name).reindex(time=time) for name in names))
    nearby = [name for name in NEARBY.values() if name in daily]
    arrays += xr.broadcast(*(daily[name].reindex(time=time) for name in nearby))
    day = day_of_year(time)

    def kernel(*values: np.ndarray) -> np.ndarray | tuple[np.ndarray, ...]:
        series = dict(zip([*names, *nearby], values, strict=True))
        filled = [np.broadcast_to(series[name], (draws, len(time))).copy() for name in names]
        drawn = draw_temperatures(series, day, draws, seed)
        for name, row in zip(names, filled, strict=True):
            row[:, missing_days(series)] = drawn[name]
        return tuple(filled) if len(filled) > 1 else filled[0]

    results = apply(
        kernel,
        *arrays,
        core=[["time"]] * len(arrays),
        out=[["draw", "time"]] * len(names),
        sizes={"draw": draws},
        dtypes=[float] * len(names),
        each=True,
    )
    several = results if len(names) > 1 else (results,)
    out = xr.Dataset(coords=daily.reindex(time=time).coords)
    for name, values in zip(names, several, strict=True):
        out[name] = values.transpose("draw", ...).assign_attrs(daily[name].attrs)
    out = out.assign_coords(draw=np.arange(draws)).assign_attrs(daily.attrs)
    return with_note(out, f"gaps drawn {draws} times from the days around them")
