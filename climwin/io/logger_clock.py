"""Check a logger's clock: compare its warmest hour with the time when the sun is highest."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
import xarray as xr

from climwin.core.errors import InputError, Parameter
from climwin.core.formatting import as_typed
from climwin.core.schema import check_units

EARLIEST_H, LATEST_H = -0.5, 5.5
"""Earliest and latest warmest time of a bright day after solar noon, outdoors or under cover
(common practice: two to four hours in a screen, about one under glass). [h]"""
_ZONE_DOUBT_H = 1.5  # how far a zone's time may be from that of the longitude, if no zone is given
_PLACE_DOUBT_H = 2.5  # how far solar noon may be from 12:00, if the longitude is not known
_LEAST_AGREEMENT = 0.5  # of the warmest hours; with less, a heater or a lamp decides them
_BRIGHT_SHARE = 1 / 3  # of the days, those with the largest range
_LEAST_DAYS = 5
_LEAST_RANGE_C = 3.0  # below it a day has no clear warmest hour
_LEAST_READINGS = 4
_HOUR_S, _DAY_S = 3_600, 86_400


class ClockCheck(NamedTuple):
    """A logger's clock against the sun, see `check_clock`."""

    warmest_h: float
    """When bright days are warmest, by the logger's clock. [h]"""
    noon_h: float
    """Solar noon, by the clock that the logger should have. [h]"""
    days: int
    """Number of bright days."""
    zone: str
    """The zone of the clock; empty if it was not given and that of the longitude was assumed."""
    doubt_h: float
    """Uncertainty of solar noon. [h]"""
    has_place: bool = True
    """Whether the longitude is known; otherwise solar noon is assumed at 12:00."""

    @property
    def lag_h(self) -> float:
        """Time from solar noon to the warmest time, -12 to 12. [h]"""
        return (self.warmest_h - self.noon_h + 12) % 24 - 12

    @property
    def is_plausible(self) -> bool:
        """Whether a correct clock could show this."""
        return EARLIEST_H - self.doubt_h <= self.lag_h <= LATEST_H + self.doubt_h


def check_clock(logger: xr.Dataset, longitude: float | None = None) -> ClockCheck | None:
    """Compare a logger's warmest hour with the time when the sun is highest.

    Parameters
    ----------
    logger : Dataset, dims (time)
        ``temperature`` from `read_logger`. [degC]
    longitude : float, optional
        Longitude of the garden, east positive; without it solar noon is assumed at 12:00, give or
        take two and a half hours. [degrees]

    Returns
    -------
    ClockCheck or None
        None if fewer than five days can be used, or if their warmest hours differ so much that the
        sun does not decide them.

    Raises
    ------
    ValueError
        If the longitude is out of range.

    Notes
    -----
    The warmest hour is the peak of the first harmonic of the third of the days with the largest
    range. Solar noon follows from the longitude, the offset of the zone's winter time and the
    equation of time [1]_. Without a zone the offset is that of the longitude, to the full hour.

    References
    ----------
    .. [1] R. G. Allen et al., FAO Irrigation and Drainage Paper 56, 1998, equations 32 and 33.

    Examples
    --------
    >>> import climwin as cw
    >>> logger = cw.read_logger(cw.sample("frame_logger.csv"))
    >>> cw.check_clock(logger, 7.2).is_plausible
    True
    """
    if longitude is not None and not -180 <= longitude <= 180:
        msg = f" must lie between -180 and 180, got {as_typed(longitude)}."
        raise InputError(Parameter("longitude"), msg)
    check_units(logger["temperature"], "degC")
    time = np.asarray(logger["time"]).astype("datetime64[s]").astype(np.int64)
    heat = np.asarray(logger["temperature"], float)
    swings, dates = _daily_swings(time, heat)
    if len(swings) < _LEAST_DAYS:
        return None
    bright = np.abs(swings) >= np.quantile(np.abs(swings), 1 - _BRIGHT_SHARE)
    warmest = float(np.angle(swings[bright].sum()) / (2 * np.pi) * 24 % 24)
    agreement = np.abs((swings[bright] / np.abs(swings[bright])).mean())
    if agreement < _LEAST_AGREEMENT:
        return None
    days = int(bright.sum())
    if longitude is None:
        return ClockCheck(warmest, 12.0, days, "", _PLACE_DOUBT_H, has_place=False)
    day_of_year = (dates - dates.astype("datetime64[Y]")).astype(int) + 1
    offset = logger.attrs.get("utc_offset_h")
    hours = round(longitude / 15) if offset is None else float(offset)
    noon = 12 + hours - longitude / 15 - equation_of_time_h(day_of_year[bright]).mean()
    zone = "" if offset is None else str(logger.attrs.get("zone", ""))
    doubt = 0.0 if zone else _ZONE_DOUBT_H
    return ClockCheck(warmest, float(noon % 24), days, zone, doubt)


def equation_of_time_h(day_of_year: np.ndarray) -> np.ndarray:
    """How far the sun is ahead of the mean sun, FAO-56 equations 32 and 33. [h]"""
    b = 2 * np.pi * (day_of_year - 81) / 364
    return np.asarray(0.1645 * np.sin(2 * b) - 0.1255 * np.cos(b) - 0.025 * np.sin(b))


def _daily_swings(time: np.ndarray, heat: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """First harmonic of each day, whose angle is the warmest hour, and the dates of the days."""
    hours = np.arange(24) * _HOUR_S + _HOUR_S / 2
    turn = np.exp(2j * np.pi * hours / _DAY_S)
    swings, dates = [], []
    for day in np.unique(time // _DAY_S):
        own = time // _DAY_S == day
        present = own.sum()
        longest = np.diff(np.r_[day * _DAY_S, time[own], (day + 1) * _DAY_S]).max()
        if present < _LEAST_READINGS or longest > _DAY_S / _LEAST_READINGS:
            continue
        if np.ptp(heat[own]) < _LEAST_RANGE_C:
            continue
        curve = np.interp(day * _DAY_S + hours, time, heat)
        # Remove the day's warming or cooling from midnight to midnight, which is not part of its
        # swing.
        ends = np.interp([day * _DAY_S, (day + 1) * _DAY_S], time, heat)
        curve = curve - (ends[1] - ends[0]) * hours / _DAY_S
        swings.append(((curve - curve.mean()) * turn).mean())
        dates.append(day)
    return np.array(swings), np.array(dates).astype("datetime64[D]")


def describe_clock(check: ClockCheck | None) -> str:
    """Describe the result of a check of the clock; empty if nothing is wrong.

    Parameters
    ----------
    check : ClockCheck, optional
        From `check_clock`.

    Examples
    --------
    >>> import climwin as cw
    >>> logger = cw.read_logger(cw.sample("frame_logger.csv"))
    >>> cw.describe_clock(cw.check_clock(logger, 7.2))
    ''
    >>> far_east = logger.assign_attrs(zone="winter time of Asia/Tokyo", utc_offset_h=9.0)
    >>> cw.describe_clock(cw.check_clock(far_east, 7.2)).split(":")[0]
    "The logger's clock may be wrong"
    """
    if check is None or check.is_plausible:
        return ""
    what, advice = clock_evidence(check)
    return f"The logger's clock may be wrong: {what} {advice}"


def clock_evidence(check: ClockCheck) -> tuple[str, str]:
    """The result of a check of the clock, and what to do, as two sentences."""
    warmest = f"its {check.days} brightest days are warmest at {_clock_time(check.warmest_h)}"
    advice = "Check the clock and its zone: days would be cut at the wrong midnight."
    if not check.has_place:
        return f"{warmest}. A space in the sun is warmest soon after noon.", advice
    clock = f"in {check.zone}" if check.zone else "by the time of its longitude"
    noon = f"but the sun is highest at {_clock_time(check.noon_h)} {clock}"
    return f"{warmest}, {noon}. Warmth follows the sun by one to four hours.", advice


def _clock_time(hour: float) -> str:
    minutes = round(hour * 60) % (24 * 60)
    return str(np.datetime64("2000-01-01T00:00") + np.timedelta64(minutes, "m"))[-5:]
