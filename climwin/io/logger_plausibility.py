"""Check whether a logger's readings are plausible, by themselves and against the outdoors.

Step, spike and persistence tests follow World Meteorological Organization, "Guide to Instruments
and Methods of Observation" (WMO No. 8), part on quality control, from memory. What a covered space
can do is common practice; ``tests/quality/RESULTS.md`` says how often sound loggers are doubted.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import NamedTuple

import numpy as np
import xarray as xr

from climwin.core.errors import Mention, Parameter, RecordError
from climwin.core.formatting import as_typed, counted, fixed, number
from climwin.core.geo import LAPSE_C_PER_KM
from climwin.io.departure import Degrees, Departure, Evidence
from climwin.io.logger_clock import check_clock, clock_evidence
from climwin.io.year_grid import MAD_TO_SD, quantile

STUCK_H, STUCK_READINGS = 72.0, 24
"""A sensor is stuck if it shows the same value for this long and in this many readings. [h]"""
SNOW_C = 1.5
"""This close to freezing, snow can keep a space constant for days. [degC]"""
SPIKE_C, SPIKE_SHARE = 8.0, 0.002
"""A reading this far above, or below, both of its neighbours is a spike [degC]; and the share of
spikes that is doubted."""
SPIKE_STEP_H = 1.1
"""Longest time between neighbouring readings for spikes. [h]"""
ZERO_READINGS = 5
"""Number of readings of exactly zero, among readings at least `ZERO_STEP_C` away, that are
refused."""
ZERO_STEP_C = 5.0
UNIT_STEP_C = 22.0
"""A step of the daily median from three days to the next three that is too large for weather: thaws
far inland reach 20 degC. [degC]"""
LEAST_DAYS = 5
"""Least number of common days for judging a logger against the outdoors. [day]"""
LEAST_RELATED_DAYS = 14
"""The same for a slope or a correlation. [day]"""
ABOVE_NIGHT_C, HEATED_C = 25.0, 27.0
"""At the median, no unheated space is this much warmer than the night outdoors; a heated one, with
nights of up to 27 degC, may be (common practice). [degC]"""
BELOW_C = 6.0
"""At the median, no space is this much colder than outdoors by day and by night. [degC]"""
SUN_C = 30.0
"""If a space is this much hotter than the day outdoors, its sensor hangs in the sun. [degC]"""
SUN_SWING_C, SUN_SHARE, SUN_DAYS = 25.0, 0.1, 5
"""The sun falls on a sensor now and then if its swing exceeds that outdoors by this much [degC] on
this share of the days, and on so many at least. A closed frame on a bright day stays below (common
practice)."""
SLOPES = (-0.3, 2.5)
"""Plausible slopes of inside on outdoors: about 0 in a heated space, about 1 in an unheated one
(common practice)."""
STEEP, ABOVE_STEEP_C, LEAST_VARIED_C = 1.4, 12.0, 1.0
"""Readings in degF have a slope of 1.8 and an offset of 32. Least slope of the nights, and least
distance above the night outdoors, from which they are recognised; and least spread of the outdoors
for a slope. [1], [degC], [degC]"""
SHIFT_DAYS, SHIFT_GAIN, SHIFT_LEAST, SHIFT_LUCK = 20, 0.15, 0.5, 3.7
"""Largest shift of dates that is tried, by how much the correlation of nights must rise, its least
value, and its least number of standard errors of no correlation, which the best of all shifts has
by chance in fewer than 1 of 100 logs. [day]"""
YEARS_OFF = (-2, -1, 1, 2)
"""Wrong years that are tried, as a shift of dates: a clock may be set to another year."""
CARRIED_C, CARRIED_TIMES, CARRIED_SWING = 4.0, 3.5, 0.5
"""At its beginning or end a logger was elsewhere if its nights lie this much further above those
outdoors than in the rest [degC], this many spreads at least, and its days swing by less than this
share of the rest (common practice)."""
INDOORS_C = 12.0
"""Nights of a lived-in room are at least this warm; those of a greenhouse kept from frost are not
(common practice). [degC]"""
FEWEST_CARRIED, MOST_CARRIED = 2, 14
"""Least and largest number of such days. [day]"""
BURIED_SWING, BURIED_SLOPE = 0.35, 0.4
"""A sensor lies in soil or water, or its readings are means, if its days swing by less than this
share of those outdoors, while its nights follow those outdoors with more than this slope. A heated
space swings little too, but does not follow (common practice). [1]"""
CAPPED_READINGS, CAPPED_TIMES, CAPPED_RANGE_C = 20, 1.5, 3.0
"""Readings are cut off if so many of them are the highest of all, this many times as many as on the
degree below; the middle half of the readings must span more than that many degC, or a room read in
whole degrees would be too."""
FOLLOWED_DAYS, FOLLOWED_LEAST, FOLLOWED_VARIED, UNHEATED_C = 30, 0.2, 0.5, 10.0
"""An unheated space follows the weather of its place from day to day. It is judged from so many
days on, if its nights vary by at least this share of those outdoors, and one night in ten is colder
than this; with less correlation, by night and by day, the record is doubted. On pairs of real
records, spaces beside their own record had 0.4 or more. [day], [1], [1], [degC]"""
SPARSE_H = 2.0
"""Readings further apart than this miss the extremes. [h]"""
OTHER_DAYS = ("dates", "elsewhere")
"""Tests that show a logger's days to be others than those of the outdoor record."""
UNCOVERED = "uncovered"
"""The test of a space that is none, which a thermometer in the open fails as it should."""
CLOCK = "clock"
"""The test of its clock, of which a heater may be the reason."""
NO_COVER_C = (0.7, 1.0)
"""Nights and days inside that differ from those outdoors by less than this, at the median of their
size, are those of no covered space: even fleece keeps 1 to 2 degC (common practice). [degC]"""
THERMOMETER_C = 5.0
"""Nights or days of a thermometer in a garden that lie so far from the station's, at the median,
beside what the height explains, are not those of shaded air nearby (common practice). [degC]"""
_DAY_S = 86_400


def logger_departures(logger: xr.Dataset, longitude: float | None = None) -> tuple[Departure, ...]:
    """How a logger's readings depart from those in any garden or covered space.

    Parameters
    ----------
    logger : Dataset, dims (time)
        ``temperature`` from `climwin.io.loggers.read_logger`. [degC]
    longitude : float, optional
        Longitude of the garden, for `check_clock`. [degrees]

    Returns
    -------
    tuple of Departure
        Impossible ones first.

    Examples
    --------
    >>> import climwin as cw
    >>> logger_departures(cw.read_logger(cw.sample("frame_logger.csv")))
    ()
    """
    seconds = np.asarray(logger["time"]).astype("datetime64[s]").astype(np.int64)
    values = np.asarray(logger["temperature"], float)
    if len(values) < STUCK_READINGS:
        return ()
    found = [
        *_stuck(seconds, values),
        *_zeros(seconds, values),
        *_spikes(seconds, values),
        *_two_units(seconds, values),
        *_capped(values),
        *_clock(logger, longitude),
        *_sparse(seconds),
    ]
    return tuple(sorted(found, key=lambda each: not each.refused))


def departures_from_outdoors(inside: xr.Dataset, daily: xr.Dataset) -> tuple[Departure, ...]:
    """How a logger's days contradict an outdoor record.

    Parameters
    ----------
    inside : Dataset, dims (time)
        ``tmin`` and ``tmax`` from `climwin.shelter.covers.logger_days`. [degC]
    daily : Dataset, dims (time)
        ``tmin`` and ``tmax`` outdoors. [degC]

    Returns
    -------
    tuple of Departure
        Impossible ones first.
    """
    for record in (inside, daily):
        if not {"tmin", "tmax"} <= set(record) or set(record.sizes) != {"time"}:
            return ()
        if not record.sizes["time"]:
            return ()
    shared = _Shared(_days(inside), _days(daily))
    found = [*_wrong_unit(shared.matched(0))]
    if not found:
        found = [
            *_wrong_slope(shared.matched(0)),
            *_wrong_clock(shared),
            *_carried(shared.matched(0)),
            *_buried(shared.matched(0)),
            *_sunlit(shared.matched(0)),
            *_uncovered(shared.matched(0)),
        ]
    if not found:
        found = [*_wrong_place(shared.matched(0))]
    return tuple(sorted(found, key=lambda each: not each.refused))


def departures_of_thermometer(
    days: xr.Dataset, daily: xr.Dataset, above_km: float = 0.0
) -> tuple[Departure, ...]:
    """How a thermometer in a garden contradicts the station's record: it may be under cover.

    Parameters
    ----------
    days : Dataset, dims (time)
        ``tmin`` and ``tmax`` from `climwin.shelter.covers.logger_days`. [degC]
    daily : Dataset, dims (time)
        ``tmin`` and ``tmax`` of the station. [degC]
    above_km : float
        Height of the garden above the station. [km]
    """
    if not {"tmin", "tmax"} <= set(daily):
        return ()
    shared = _Shared(_days(days), _days(daily)).matched(0)
    if shared.shape[1] < LEAST_DAYS:
        return ()
    low, high, tmin, tmax = shared
    off = {
        "nights": float(np.median(low - tmin)) + LAPSE_C_PER_KM * above_km,
        "days": float(np.median(high - tmax)) + LAPSE_C_PER_KM * above_km,
    }
    times = max(off, key=lambda name: abs(off[name]))
    if abs(off[times]) < THERMOMETER_C:
        return ()
    side = "warmer" if off[times] > 0 else "colder"
    what = (
        f"its {times} are ",
        Degrees(abs(off[times]), is_difference=True),
        f" {side} than the station's, at the median, beside what the height explains. Shaded air "
        "nearby differs by less than ",
        Degrees(THERMOMETER_C, is_difference=True),
        ".",
    )
    advice = "It may hang under cover or in the sun: a garden's thermometer hangs in shaded air."
    return (Departure("thermometer", what, advice),)


def refuse_logger(file: str, logger: xr.Dataset) -> None:
    """Refuse a logger with impossible readings.

    Raises
    ------
    RecordError
        With the evidence, and what to do.
    """
    refused = [each for each in logger_departures(logger) if each.refused]
    if refused:
        msg = f"{file} cannot be right: {' '.join(each.text() for each in refused)}"
        raise RecordError(msg)


def refuse_against_outdoors(inside: xr.Dataset, daily: xr.Dataset) -> tuple[Departure, ...]:
    """Refuse a logger that cannot belong to this outdoor record.

    Returns
    -------
    tuple of Departure
        Those that leave it possible.

    Raises
    ------
    RecordError
        With the evidence, and what to do; if a unit explains it, with the parameter to give.
    """
    found = departures_from_outdoors(inside, daily)
    refused = [each for each in found if each.refused]
    if not refused:
        return found
    pieces: list[str | Mention] = [
        f"The logger cannot be right: {' '.join(each.text() for each in refused)}"
    ]
    if any(each.test == "unit F" for each in refused):
        pieces += [" Read the logger with ", Parameter("units", "F"), "."]
    raise RecordError(*pieces)


# --- the logger by itself -----------------------------------------------------------------


def _stuck(seconds: np.ndarray, values: np.ndarray) -> Iterator[Departure]:
    """The same reading for days."""
    changes = np.flatnonzero(np.abs(np.diff(values)) > 0.01)
    starts = np.concatenate([[0], changes + 1])
    ends = np.concatenate([changes, [len(values) - 1]])
    hours = (seconds[ends] - seconds[starts]) / 3600
    amiss = (hours >= STUCK_H) & (ends - starts >= STUCK_READINGS)
    amiss &= np.abs(values[starts]) > SNOW_C
    if not amiss.any():
        return
    longest = int(np.flatnonzero(amiss)[hours[amiss].argmax()])
    what = (
        "it shows ",
        Degrees(float(values[starts[longest]])),
        f" for {fixed(hours[longest])} hours from {_moment(seconds[starts[longest]])} on, without "
        "a change. Even a heated room varies by a tenth.",
    )
    advice = "The sensor is stuck: blank those readings."
    yield Departure("stuck", what, advice, refused=True)


def _sparse(seconds: np.ndarray) -> Iterator[Departure]:
    """Readings so far apart that they miss the extremes."""
    usual = float(np.median(np.diff(seconds))) / 3600
    if usual > SPARSE_H:
        what = (
            f"it reads every {as_typed(round(usual, 1))} hours, and misses the coldest and hottest "
            "moments in between. Nights are colder and days hotter than it shows.",
        )
        yield Departure("sparse", what, "Set it to an hour or less.")


def _zeros(seconds: np.ndarray, values: np.ndarray) -> Iterator[Departure]:
    """Zeros among readings that are far from zero."""
    zero = values == 0
    others = np.flatnonzero(~zero)
    if zero.sum() < ZERO_READINGS or not len(others):
        return
    place = np.arange(len(values))
    after = others[np.minimum(np.searchsorted(others, place), len(others) - 1)]
    before = others[np.maximum(np.searchsorted(others, place) - 1, 0)]
    away = np.minimum(np.abs(values[before]), np.abs(values[after]))
    lone = zero & (away >= ZERO_STEP_C)
    if lone.sum() < ZERO_READINGS:
        return
    first = int(lone.argmax())
    what = (
        f"{number(int(lone.sum()))} readings are exactly zero among readings ",
        Degrees(ZERO_STEP_C, is_difference=True),
        f" or more away, the first at {_moment(seconds[first])}.",
    )
    advice = "Zeros stand for missing readings: blank them."
    yield Departure("zeros", what, advice, refused=True)


def _spikes(seconds: np.ndarray, values: np.ndarray) -> Iterator[Departure]:
    """Single readings far from both neighbours."""
    step, hours = np.diff(values), np.diff(seconds) / 3600
    up, down = step > SPIKE_C, step < -SPIKE_C
    alone = (up[:-1] & down[1:]) | (down[:-1] & up[1:])
    alone &= (hours[:-1] <= SPIKE_STEP_H) & (hours[1:] <= SPIKE_STEP_H)
    count = int((alone & (values[1:-1] != 0)).sum())
    if count <= max(2, SPIKE_SHARE * len(values)):
        return
    first = int(alone.argmax()) + 1
    what = (
        f"{number(count)} of {number(len(values))} readings lie more than ",
        Degrees(SPIKE_C, is_difference=True),
        " above or below both the one before and the one after, the first at "
        f"{_moment(seconds[first])}.",
    )
    advice = "A loose contact does that: blank them, or log again."
    yield Departure("spikes", what, advice)


def _two_units(seconds: np.ndarray, values: np.ndarray) -> Iterator[Departure]:
    """A step too large for weather: the unit was changed midway."""
    _, middle = _by_day(seconds, values, 0.5)
    if len(middle) < 2 * 3:
        return
    blocks = np.lib.stride_tricks.sliding_window_view(middle, 3)
    level = np.median(blocks, axis=1)
    step = level[3:] - level[:-3]
    if not len(step) or np.abs(step).max() < UNIT_STEP_C:
        return
    at = int(np.abs(step).argmax()) + 3
    day = np.unique(seconds // _DAY_S)[at]
    what = (
        "its median moves by ",
        Degrees(float(step[at - 3]), is_difference=True),
        f" within a few days about {_moment(day * _DAY_S)[:10]}, and stays there.",
    )
    advice = "The unit was changed midway, or a heater switched on: give each part its own file."
    yield Departure("two units", what, advice)


def _capped(values: np.ndarray) -> Iterator[Departure]:
    """The highest reading of all again and again: what lay above was cut off."""
    top = float(values.max())
    count = int((values == top).sum())
    below = int(((values < top) & (values >= top - 1)).sum())
    varied = float(quantile(values, 0.75) - quantile(values, 0.25)) > CAPPED_RANGE_C
    if count < CAPPED_READINGS or count <= CAPPED_TIMES * below or not varied:
        return
    what = (
        f"{number(count)} of {number(len(values))} readings are exactly ",
        Degrees(top, is_exact=True),
        f", and none is higher; within a degree below it are {number(below)}. The hottest readings "
        "of a sound logger are few and differ.",
    )
    advice = (
        "What lay above was cut off, so it was hotter than this shows: check the sensor's range."
    )
    yield Departure("capped", what, advice)


def _clock(logger: xr.Dataset, longitude: float | None) -> Iterator[Departure]:
    """Warmest at an hour that the sun cannot explain."""
    check = check_clock(logger, longitude)
    if check is None or check.is_plausible:
        return
    what, advice = clock_evidence(check)
    yield Departure(CLOCK, (what,), f"{advice} Or does a heater run at that time?")


# --- against the outdoors -----------------------------------------------------------------


class _Days(NamedTuple):
    """Days, as numbers since 1970, with their extremes."""

    day: np.ndarray
    tmin: np.ndarray
    tmax: np.ndarray


def _days(record: xr.Dataset) -> _Days:
    day = np.asarray(record["time"]).astype("datetime64[D]").astype(np.int64)
    order = np.argsort(day, kind="stable")
    low, high = (np.asarray(record[name].values, float)[order] for name in ("tmin", "tmax"))
    return _Days(day[order], low, high)


class _Shared(NamedTuple):
    """The days of a logger, and of the outdoor record."""

    inside: _Days
    outdoors: _Days

    def matched(self, shift: int) -> np.ndarray:
        """Extremes inside, and outdoors `shift` days later.

        Returns
        -------
        ndarray, shape (4, days)
            Minimum and maximum inside, minimum and maximum outdoors; all known.
        """
        wanted = self.inside.day + shift
        place = np.searchsorted(self.outdoors.day, wanted).clip(max=len(self.outdoors.day) - 1)
        same = self.outdoors.day[place] == wanted
        rows = np.stack(
            [
                self.inside.tmin[same],
                self.inside.tmax[same],
                self.outdoors.tmin[place[same]],
                self.outdoors.tmax[place[same]],
            ]
        )
        return rows[:, ~np.isnan(rows).any(axis=0)]


def _wrong_unit(shared: np.ndarray) -> Iterator[Departure]:
    """Inside too far above the night outdoors, or below day and night."""
    if shared.shape[1] < LEAST_DAYS:
        return
    low, high, tmin, tmax = shared
    above = float(np.median(low - tmin))
    below = float(np.median(high - tmax))
    slope = _slope(low, tmin)
    if above > ABOVE_NIGHT_C and np.median(low) > HEATED_C:
        what: Evidence = (
            "its nights are ",
            Degrees(above, is_difference=True),
            " warmer than outdoors, at the median. An unheated space is never ",
            Degrees(ABOVE_NIGHT_C, is_difference=True),
            " warmer, and a heated one has no such nights.",
        )
        yield Departure("unit F", what, "It looks like degF read as degC.", refused=True)
    elif above > ABOVE_STEEP_C and slope > STEEP:
        what = (
            "its nights are ",
            Degrees(above, is_difference=True),
            f" warmer than outdoors, at the median, and move by {fixed(slope, 1)} degrees for each "
            "degree outdoors. An unheated space is not so warm, and a heated one follows less.",
        )
        yield Departure("unit F", what, "It looks like degF read as degC.", refused=True)
    elif above < -BELOW_C and below < -BELOW_C:
        what = (
            "it is colder than outdoors by night and by day, by ",
            Degrees(above, is_difference=True),
            " and ",
            Degrees(below, is_difference=True),
            " at the median. No covered space is.",
        )
        advice = "Its unit, place or year does not match: check them."
        yield Departure("too cold", what, advice, refused=True)
    elif below > SUN_C:
        what = (
            "its days are ",
            Degrees(below, is_difference=True),
            " hotter than outdoors, at the median.",
        )
        yield Departure("sun", what, "The sensor may hang in the sun: shade it and log again.")


def _slope(inside: np.ndarray, outdoors: np.ndarray) -> float:
    """Least-squares slope of inside on outdoors, 0 if the outdoors do not vary."""
    varied = float(((outdoors - outdoors.mean()) ** 2).sum())
    return float((inside * (outdoors - outdoors.mean())).sum()) / varied if varied > 0 else 0.0


def _wrong_slope(shared: np.ndarray) -> Iterator[Departure]:
    """A slope of inside on outdoors that no covered space has."""
    if shared.shape[1] < LEAST_RELATED_DAYS:
        return
    low, high, tmin, tmax = shared
    for inside, outdoors, words in ((low, tmin, "nights"), (high, tmax, "days")):
        varied = float(outdoors.std())
        if varied < LEAST_VARIED_C:
            continue
        slope = _slope(inside, outdoors)
        error = float(inside.std() / varied / np.sqrt(len(inside)))
        if slope < SLOPES[0] - 2 * error or slope > SLOPES[1] + 2 * error:
            what = (
                f"for each degree outdoors its {words} move by {number(slope, 1)} degrees. An "
                "unheated space moves by about 1, a heated one by about 0.",
            )
            advice = "Its unit, its clock or the outdoor record does not match: check them."
            yield Departure("slope", what, advice, refused=True)


def _carried(shared: np.ndarray) -> Iterator[Departure]:
    """Days at the beginning or the end on which the logger was somewhere else, such as indoors."""
    count = shared.shape[1]
    if count < 2 * MOST_CARRIED:
        return
    low, high, tmin, _ = shared
    above, swing = low - tmin, high - low
    usual, usual_swing = float(np.median(above)), float(np.median(swing))
    spread = MAD_TO_SD * float(np.median(np.abs(above - usual)))
    is_elsewhere = above > usual + max(CARRIED_C, CARRIED_TIMES * spread)
    is_elsewhere &= (swing < CARRIED_SWING * usual_swing) & (low > INDOORS_C)
    for mask, words in ((is_elsewhere, "first"), (is_elsewhere[::-1], "last")):
        days = int(mask.argmin())
        if not FEWEST_CARRIED <= days <= MOST_CARRIED:
            continue
        here = slice(0, days) if words == "first" else slice(count - days, None)
        what: Evidence = (
            f"on its {words} {days} days its nights are ",
            Degrees(float(np.median(above[here])), is_difference=True),
            " above those outdoors, and in the rest ",
            Degrees(usual, is_difference=True),
            "; its days swing by ",
            Degrees(float(np.median(swing[here])), is_difference=True),
            ", and in the rest by ",
            Degrees(usual_swing, is_difference=True),
            ".",
        )
        advice = "It may have lain indoors then: leave those days out."
        yield Departure(f"carried {words}", what, advice)


def _buried(shared: np.ndarray) -> Iterator[Departure]:
    """Days that hardly swing, though the nights follow those outdoors."""
    if shared.shape[1] < LEAST_RELATED_DAYS:
        return
    low, high, tmin, tmax = shared
    outdoors = float(np.median(tmax - tmin))
    swing = float(np.median(high - low))
    if tmin.std() < LEAST_VARIED_C or swing >= BURIED_SWING * outdoors:
        return
    if _slope(low, tmin) > BURIED_SLOPE:
        what = (
            "its days swing by ",
            Degrees(swing, is_difference=True),
            ", and those outdoors by ",
            Degrees(outdoors, is_difference=True),
            ", though its nights follow the nights outdoors. Air in an unheated space swings more "
            "than outdoors.",
        )
        advice = (
            "The sensor may lie in soil or water, or the readings are means of a day: check both."
        )
        yield Departure("buried", what, advice)


def _sunlit(shared: np.ndarray) -> Iterator[Departure]:
    """Some days that swing far more than those outdoors, as if the sun fell on the sensor."""
    low, high, tmin, tmax = shared
    more = (high - low) - (tmax - tmin)
    days = int((more > SUN_SWING_C).sum())
    if days < max(SUN_DAYS, SUN_SHARE * len(more)):
        return
    what = (
        f"on {days} of {counted(len(more), 'day')} it swings by ",
        Degrees(SUN_SWING_C, is_difference=True),
        " more than outdoors, or by more than that. A closed frame on a bright day stays below.",
    )
    advice = "The sun may fall on the sensor on those days: shade it and log again."
    yield Departure("sun at times", what, advice)


def _uncovered(shared: np.ndarray) -> Iterator[Departure]:
    """Nights and days inside that are those outdoors."""
    if shared.shape[1] < LEAST_DAYS:
        return
    low, high, tmin, tmax = shared
    by_night, by_day = (float(np.median(np.abs(x))) for x in (low - tmin, high - tmax))
    if by_night >= NO_COVER_C[0] or by_day >= NO_COVER_C[1]:
        return
    what = (
        "its nights and days differ from those outdoors by ",
        Degrees(by_night, is_difference=True),
        " and ",
        Degrees(by_day, is_difference=True),
        " at the median. Even fleece keeps ",
        Degrees(1.0, is_difference=True),
        " or more.",
    )
    advice = "It may have hung outdoors: use a log from under the cover."
    yield Departure(UNCOVERED, what, advice)


def _wrong_clock(shared: _Shared) -> Iterator[Departure]:
    """Nights inside that match the nights outdoors of other days."""
    near = np.arange(-SHIFT_DAYS, SHIFT_DAYS + 1)
    years = [round(365.25 * each + side) for each in YEARS_OFF for side in (-0.5, 0.5)]
    shifts = np.unique([*near, *years])
    fit = np.full(len(shifts), np.nan)
    for place, shift in enumerate(shifts):
        rows = shared.matched(int(shift))
        if rows.shape[1] >= LEAST_RELATED_DAYS:
            first, second = np.diff(rows[0]), np.diff(rows[2])
            if first.std() > 0 and second.std() > 0:
                fit[place] = np.corrcoef(first, second)[0, 1]
    here = float(fit[shifts == 0][0])
    if np.isnan(here):
        return
    best = int(np.nanargmax(fit))
    off = int(shifts[best])
    luck = SHIFT_LUCK / np.sqrt(shared.matched(off).shape[1] - 1)
    if off and fit[best] > max(SHIFT_LEAST, here + SHIFT_GAIN, luck):
        count = _days_off(abs(off))
        what = (
            f"its nights match those outdoors {count} {'later' if off > 0 else 'earlier'} "
            f"(correlation {number(fit[best], 2)}, on its own dates {number(here, 2)}).",
        )
        yield Departure("dates", what, "Its dates are off: correct them.")


def _days_off(days: int) -> str:
    """A number of days, or of years where it is one of `YEARS_OFF`."""
    if days > SHIFT_DAYS:
        return counted(round(days / 365.25), "year")
    return counted(days, "day")


def _wrong_place(shared: np.ndarray) -> Iterator[Departure]:
    """Changes from day to day that are not those outdoors, in a space that nothing keeps warm."""
    if shared.shape[1] < FOLLOWED_DAYS or np.quantile(shared[0], 0.1) >= UNHEATED_C:
        return
    low, high, tmin, tmax = np.diff(shared)
    if not min(high.std(), tmin.std(), tmax.std()) > 0:
        return
    if low.std() < FOLLOWED_VARIED * tmin.std():
        return
    alike = max(np.corrcoef(low, tmin)[0, 1], np.corrcoef(high, tmax)[0, 1])
    if alike < FOLLOWED_LEAST:
        what = (
            "from one day to the next it grows warmer and colder at other times than outdoors "
            f"(correlation {number(alike, 2)}; 0.4 or more is usual where nothing heats).",
        )
        advice = (
            "The record may be of another place, or the logger's dates of another year: check both."
        )
        yield Departure("elsewhere", what, advice)


def _by_day(seconds: np.ndarray, values: np.ndarray, share: float) -> tuple[np.ndarray, np.ndarray]:
    """Days, as numbers since 1970, with at least eight readings, and a quantile of each."""
    days = seconds // _DAY_S
    named, starts = np.unique(days, return_index=True)
    parts = np.split(values, starts[1:])
    enough = np.array([len(part) >= 8 for part in parts], bool)
    found = [float(quantile(part, share)) for part, keep in zip(parts, enough, strict=True) if keep]
    return named[enough], np.array(found)


def _moment(second: int) -> str:
    """A time of a logger, to the minute."""
    return str(np.datetime64(int(second), "s"))[:16].replace("T", " ")
