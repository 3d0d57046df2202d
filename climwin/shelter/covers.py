"""Covered spaces: temperatures inside as a function of those outdoors, by preset or logger."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from functools import lru_cache
from typing import Any, Literal, NamedTuple

import numpy as np
import xarray as xr

from climwin.core.errors import Call, DataGapError, InputError, Parameter
from climwin.core.formatting import counted, fixed
from climwin.core.provenance import check_alike
from climwin.core.schema import VARIABLES, Temperature, apply, check_units, variable
from climwin.core.stats import LEVEL
from climwin.crops.model import COMMON_PRACTICE
from climwin.io.departure import Departure
from climwin.io.logger_plausibility import (
    CLOCK,
    OTHER_DAYS,
    SPARSE_H,
    logger_departures,
    refuse_against_outdoors,
)

LONGEST_HOLE_H = 3.0
"""Longest time between two readings for the inside to count as known. [h]"""
FEWEST_DAYS = 14
"""Least number of days for fitting a response."""
CAUTIONS = (
    "Never burn fuel in a closed space: carbon monoxide has neither colour nor smell. A heater "
    "that burns gas or paraffin needs a way out for its fumes and an alarm beside it.",
    "Electricity and water: lamps, cables and heaters under cover must be made for wet places and "
    "hang on a residual-current device, fitted by someone qualified.",
    "Open covers on bright days: a closed frame in the sun scorches plants within the hour.",
    "Local rules for heating, wiring and building come first.",
)
"""Cautions for covered spaces. Fumes: advice of public health departments; the rest from memory."""

AIRED_ABOVE_OUTDOORS_C = 2.0
"""By how much a space with open vents stays warmer than the outdoors (common practice). [degC]"""

PLAIN_BEND = 0.75
"""Chance from which a bend is plain: odds of three to one, from which evidence is called positive
(R. E. Kass and A. E. Raftery, 1995, Journal of the American Statistical Association 90:773-795,
from memory)."""

_SPREAD_SEED = 2026
_SCATTER_FROM = np.datetime64("1700-01-01")
_LEAST_VARIED_C = 0.5
_DAY_S = 86_400
_LEAST_READINGS = 8  # in a day, if the logger's interval gives as many
_HOLE_OF_INTERVALS = 1.5  # in usual intervals; a longer time means a missing reading
_LONGEST_INTERVAL_S = 6 * 3600
_READINGS_OF_A_LOG = 20  # with fewer the interval means nothing
_DAYS_OF_A_SIDE = 8  # least number of days on either side of a bend
_SHARE_OF_A_SIDE = 0.1
_KNEES = 60  # bends that are tried
_CHANGE_OF_SLOPE = 0.6
"""Standard deviation of the change of slope at a bend, before the log is seen (our choice): vents
that half open change a slope by 0.6, a cap by 1.3, shade by 0.3. Intervals hardly depend on it."""
_SLOW_SHARE, _SLOW_LAG_ONE = 0.05, 0.97
"""Share of the scatter that lasts for a month, and its correlation from day to day: chosen on two
pairs of ``tests/odds/COVERS.md``, where springs have levels of their own."""
_LINES_DRAWN = 40
_DRAWING_SEED = 16
_LEAST_PAIRS = 5  # pairs of successive days for estimating autocorrelation
_MOST_LASTING = 0.9
_LEAST_FREEDOM = 3.0  # with less Student's t is useless
_FEWEST_INDEPENDENT = 6.0
_EXACT_C = 1e-9  # residuals this small mean an exact fit
_STEPS = 48  # times of the day for its mean


@dataclass(frozen=True, slots=True, kw_only=True)
class Response:
    """Regression of a daily extreme inside on the same extreme outdoors.

    Parameters
    ----------
    intercept_c, slope : float
        Inside = intercept + slope * outdoors. [degC, 1]
    spread_c : float
        Standard deviation of single days around the line. [degC]
    intercept_error_c, slope_error : float
        Standard errors, which allow for autocorrelated weather; 0 if the line was not fitted.
    knee_c, slope_above : float, optional
        Outdoor temperature at which the line bends, and its slope above, as when vents open or a
        heater switches on. [degC, 1]
    bend_chance : float, optional
        How likely the logger's days make a bend, 0 to 1; none if the line was not fitted.
    freedom : float
        Degrees of freedom of the errors: independent days minus fitted parameters; 0 if the line
        was not fitted.
    drawn : tuple of Response
        Lines drawn at random from those that the logger allows; none if the line was not fitted.
    """

    intercept_c: float
    slope: float = 1.0
    spread_c: float = 0.0
    intercept_error_c: float = 0.0
    slope_error: float = 0.0
    knee_c: float | None = None
    slope_above: float | None = None
    bend_chance: float | None = None
    freedom: float = 0.0
    drawn: tuple[Response, ...] = field(default=(), repr=False)

    def __post_init__(self) -> None:
        if self.spread_c < 0:
            msg = f" is a standard deviation: 0 or more, got {self.spread_c}."
            raise InputError(Parameter("spread_c"), msg)

    def inside(self, outdoors: Temperature) -> Temperature:
        """Temperature inside for an extreme outdoors. [degC]"""
        line = self.intercept_c + self.slope * outdoors
        if self.knee_c is None or self.slope_above is None:
            return line
        beyond = np.maximum(outdoors - self.knee_c, 0.0)
        return line + (self.slope_above - self.slope) * beyond

    def intervals(self) -> tuple[tuple[float, float], tuple[float, float]]:
        """Intervals of the intercept [degC] and of the slope, by Student's t."""
        t = _t_of(self.freedom) if self.freedom else 0.0
        return (
            (
                self.intercept_c - t * self.intercept_error_c,
                self.intercept_c + t * self.intercept_error_c,
            ),
            (self.slope - t * self.slope_error, self.slope + t * self.slope_error),
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class Cover:
    """A covered space, as a preset or fitted to its logger.

    Parameters
    ----------
    name : str
        Name of the space.
    coldest, warmest : Response
        Responses of the daily minimum and of the daily maximum.
    source : str
        Source of the numbers.
    floor_c : float, optional
        Temperature at or above which a heater keeps it. [degC]
    days : int
        Number of days of the logger; 0 for a preset.
    vented_above_c : float, optional
        Temperature above which vents open. It then stays at this temperature, or 2 degC above
        outdoors if that is warmer. [degC]
    doubts : tuple of Departure
        Reasons to doubt its logger.

    Examples
    --------
    A night of -5 degC outdoors, inside a usual cold frame:

    >>> import climwin as cw
    >>> cw.COVERS["cold frame"].coldest.inside(-5.0)
    -2.0
    """

    name: str
    coldest: Response
    warmest: Response
    source: str
    floor_c: float | None = None
    days: int = 0
    vented_above_c: float | None = None
    doubts: tuple[Departure, ...] = ()

    @property
    def days_in_doubt(self) -> Literal["", "dates", "clock"]:
        """What in its logger may put its days beside other days of the outdoor record."""
        tests = {each.test for each in self.doubts}
        if tests & set(OTHER_DAYS):
            return "dates"
        return "clock" if CLOCK in tests else ""


def _preset(
    name: str,
    lift_c: tuple[float, float],
    spread_c: tuple[float, float],
    *,
    slope: float = 1.0,
    floor_c: float | None = None,
) -> Cover:
    coldest, warmest = (
        Response(intercept_c=lift, slope=slope, spread_c=spread)
        for lift, spread in zip(lift_c, spread_c, strict=True)
    )
    return Cover(
        name=name, coldest=coldest, warmest=warmest, source=COMMON_PRACTICE, floor_c=floor_c
    )


COVERS: dict[str, Cover] = {
    cover.name: cover
    for cover in (
        _preset("none", (0.0, 0.0), (0.0, 0.0)),
        _preset("fleece", (2.0, 3.0), (1.0, 1.5)),
        _preset("cold frame", (3.0, 6.0), (1.5, 3.0)),
        _preset("unheated greenhouse", (2.0, 8.0), (1.5, 3.0)),
        _preset("frost-free greenhouse", (2.0, 8.0), (1.5, 3.0), floor_c=3.0),
        _preset("room with lights", (18.0, 20.0), (1.0, 1.0), slope=0.0),
    )
}
"""Presets, vented on bright days (common practice). A logger in the space tells more."""


# --- the days of a logger -----------------------------------------------------------------


def logger_days(
    logger: xr.Dataset, *, least_readings: int | None = None, longest_hole_h: float | None = None
) -> xr.Dataset:
    """Daily extremes and mean of a logger's temperatures, midnight to midnight.

    Parameters
    ----------
    logger : Dataset, dims (time)
        From `climwin.io.loggers.read_logger`.
    least_readings : int, optional
        Days with fewer readings are NaN. Default: 8, or as many as the logger's usual interval
        gives.
    longest_hole_h : float, optional
        So are days with a longer time without a reading. Default: 3 hours, or one and a half of the
        logger's usual intervals. [h]

    Returns
    -------
    Dataset, dims (time)
        ``tmin``, ``tmax``, ``tmean`` [degC] on every day from the first to the last, and the number
        of ``readings``. ``tmean`` weights readings by time.

    Raises
    ------
    ValueError
        If `logger` has no ``temperature`` in degC.
    DataGapError
        If it reads less often than every six hours, and so misses the extremes.

    Notes
    -----
    Readings hours apart miss the extremes: every four hours, the minimum is some tenths of a degree
    too high and the maximum up to a degree too low. ``history`` says so.

    Examples
    --------
    >>> import climwin as cw
    >>> days = cw.logger_days(cw.read_logger(cw.sample("frame_logger.csv")))
    >>> days["tmin"].min().round(1).item(), days["tmax"].max().round(1).item()
    (-4.2, 35.9)
    """
    if "temperature" not in logger:
        there = ", ".join(map(str, logger)) or "none"
        msg = f"A logger's readings have a variable 'temperature', got {there}. Read its file with "
        raise InputError(msg, Call("read_logger", ("path",)), ".")
    check_units(logger["temperature"], "degC")
    time = np.asarray(logger["time"]).astype("datetime64[s]").astype(np.int64)
    usual = _usual_interval(time)
    longest = longest_hole_s(time)
    least = max(min(_LEAST_READINGS, int(_DAY_S // usual)), _DAY_S // _LONGEST_INTERVAL_S)
    if least_readings is None and longest_hole_h is None:
        _refuse_sparse(usual, len(time))
    longest = longest if longest_hole_h is None else longest_hole_h * 3600
    least = least if least_readings is None else least_readings
    days, count, values = _daily(time, np.asarray(logger["temperature"], float))
    is_known = (count >= least) & ~_has_hole(time, days, longest)
    out = xr.Dataset(
        {
            name: ("time", np.where(is_known, value, np.nan), VARIABLES[name]._asdict())
            for name, value in values.items()
        },
        coords={"time": (days * _DAY_S).astype("datetime64[s]")},
        attrs=_with_interval(logger.attrs, usual),
    )
    return out.assign(readings=("time", count, {"long_name": "readings in the day"}))


def longest_hole_s(time: np.ndarray) -> float:
    """Longest time between two readings for the inside to count as known. [s]

    Parameters
    ----------
    time : ndarray of int, shape (readings,)
        Seconds, in order.
    """
    usual = min(_usual_interval(time), _LONGEST_INTERVAL_S)
    return max(LONGEST_HOLE_H * 3600, _HOLE_OF_INTERVALS * usual)


def _usual_interval(time: np.ndarray) -> float:
    """Usual time between two readings [s]; a whole day if there is only one."""
    return float(np.median(np.diff(time))) if len(time) > 1 else float(_DAY_S)


def _refuse_sparse(usual: float, readings: int) -> None:
    """Refuse a log with too few readings to show the extremes of a day."""
    if usual > _LONGEST_INTERVAL_S and readings >= _READINGS_OF_A_LOG:
        msg = (
            f"The logger reads every {fixed(usual / 3600, 1)} hours. The extremes of a day need a "
            "reading every six hours or more often: set it to an hour or less."
        )
        raise DataGapError(msg)


def _with_interval(attrs: Mapping[str, Any], usual: float) -> dict[str, Any]:
    """Attributes with a note if readings are so far apart that they miss the extremes."""
    if usual <= SPARSE_H * 3600:
        return dict(attrs)
    note = (
        f"a reading every {fixed(usual / 3600, 1)} hours: nights are somewhat colder and days "
        "somewhat hotter than it shows"
    )
    return dict(attrs) | {"history": "\n".join(filter(None, [attrs.get("history"), note]))}


def _daily(
    time: np.ndarray, temperature: np.ndarray
) -> tuple[np.ndarray, np.ndarray, dict[str, np.ndarray]]:
    """Days of sorted readings [days since 1970], the count in each, and its extremes and mean."""
    days = np.arange(time[0] // _DAY_S, time[-1] // _DAY_S + 1)
    slot = time // _DAY_S - days[0]
    low, high = np.full(len(days), np.inf), np.full(len(days), -np.inf)
    np.minimum.at(low, slot, temperature)
    np.maximum.at(high, slot, temperature)
    middles = (np.arange(_STEPS) + 0.5) * (_DAY_S / _STEPS)
    # The mean over evenly spaced times, so that a burst of readings does not weigh more.
    mean = np.interp(days[:, None] * _DAY_S + middles, time, temperature).mean(axis=1)
    return days, np.bincount(slot, minlength=len(days)), {"tmin": low, "tmax": high, "tmean": mean}


def _has_hole(time: np.ndarray, days: np.ndarray, longest: float) -> np.ndarray:
    """Whether each day has part of a longer time [s] without a reading."""
    edges = np.concatenate([days[:1] * _DAY_S, time, (days[-1:] + 1) * _DAY_S])
    is_hole = np.diff(edges) > longest
    first_day = edges[:-1][is_hole] // _DAY_S - days[0]
    last_day = (edges[1:][is_hole] - 1) // _DAY_S - days[0]
    # Count the holes that open on a day and close after their last one; a day has a hole while any
    # is open.
    change = np.zeros(len(days) + 1, int)
    np.add.at(change, first_day, 1)
    np.add.at(change, last_day + 1, -1)
    return np.cumsum(change)[:-1] > 0


# --- the inside from the outdoors ---------------------------------------------------------


def fit_cover(
    inside: xr.Dataset,
    daily: xr.Dataset,
    *,
    name: str = "my space",
    longitude: float | None = None,
) -> Cover:
    """Fit the response of a covered space to its own logger.

    Parameters
    ----------
    inside : Dataset, dims (time)
        Readings in the space: ``temperature`` from `read_logger`, or ``tmin`` and ``tmax`` from
        `logger_days`. [degC]
    daily : Dataset, dims (time)
        ``tmin`` and ``tmax`` outdoors, of one station. [degC]
    name : str
        Name of the space.
    longitude : float, optional
        Of the garden, for the check of the clock; else that of `daily`, where it is known.
        [degrees]

    Returns
    -------
    Cover
        Minimum and maximum inside, each regressed on the outdoor one by least squares, with
        standard errors and the residual spread. The line has a bend if that is likelier than none,
        as with opening vents, a cap or a heater; ``bend_chance`` says how likely it is.

    Raises
    ------
    DataGapError
        If fewer than 14 days are known on both sides, or the outdoors hardly varied.
    RecordError
        If the logger cannot belong to this record, such as one in degF or with other dates.
    ValueError
        If either has more than one place.

    Notes
    -----
    A straight line and lines with a bend at each of sixty temperatures are fitted, and weighed by
    how likely the log makes them [1]_, before which a bend is as likely as none. The errors are
    those of all lines together, so a bend that the log hardly shows makes them larger. They allow
    for weather that lasts: residuals of successive days are a first-order autoregression, with its
    coefficient corrected for small-sample bias [2]_, and a twentieth of their variance lasts for a
    month. Evidence counts independent days, given how long both the residuals and the weather
    outdoors last [3]_. Outside the range of the logger's days the line is an extrapolation. A
    station that reads its extremes in the morning assigns them to other days than the logger, which
    widens the spread.

    References
    ----------
    .. [1] J. A. Hoeting, D. Madigan, A. E. Raftery and C. T. Volinsky, "Bayesian model averaging: a
       tutorial," Statistical Science 14:382-417, 1999 (from memory).
    .. [2] F. H. C. Marriott and J. A. Pope, "Bias in the estimation of autocorrelations,"
       Biometrika 41:390-402, 1954 (from memory).
    .. [3] G. V. Bayley and J. M. Hammersley, "The 'effective' number of independent observations in
       an autocorrelated time series," Supplement to the Journal of the Royal Statistical Society
       8:184-197, 1946 (from memory).

    Examples
    --------
    >>> import climwin as cw
    >>> daily = cw.read_daily(cw.sample())
    >>> logger = cw.read_logger(cw.sample("frame_logger.csv"))
    >>> frame = cw.fit_cover(logger, daily, name="my frame")
    >>> frame.days, round(frame.coldest.slope, 1), round(frame.coldest.intercept_c, 1)
    (71, 1.0, 2.8)
    """
    days_inside = logger_days(inside) if "temperature" in inside else inside
    doubts = refuse_against_outdoors(days_inside, daily)
    if "temperature" in inside:
        place = daily.attrs.get("longitude") if longitude is None else longitude
        doubts = (*logger_departures(inside, None if place is None else float(place)), *doubts)
    outdoors, within = _shared_days(days_inside, daily)
    days = outdoors.sizes["time"]
    dates = outdoors["time"].values.astype("datetime64[D]").astype(int)
    low, high = (fixed(float(each), 1) for each in (outdoors["tmin"].min(), outdoors["tmax"].max()))
    source = (
        f"own logger, {counted(days, 'day')} from {_span(outdoors)}, outdoors {low} to {high} degC"
    )
    return Cover(
        name=name,
        coldest=_response(outdoors["tmin"].values, within["tmin"].values, dates),
        warmest=_response(outdoors["tmax"].values, within["tmax"].values, dates),
        source=source,
        days=days,
        doubts=doubts,
    )


def _shared_days(inside: xr.Dataset, daily: xr.Dataset) -> tuple[xr.Dataset, xr.Dataset]:
    """Extremes outdoors and inside, on days on which all four are known."""
    check_alike(daily, inside)
    sides = []
    for record in (daily, inside):
        extremes = xr.Dataset({name: variable(record, name) for name in ("tmin", "tmax")})
        if set(extremes.sizes) != {"time"}:
            msg = (
                "A covered space is fitted to the record of one place, got dimensions "
                f"{', '.join(map(str, extremes.sizes))}. Choose one station first, with .sel()."
            )
            raise InputError(msg)
        sides.append(extremes.compute().dropna("time"))
    outdoors, within = xr.align(*sides, join="inner")
    if outdoors.sizes["time"] < FEWEST_DAYS:
        spans = f"{_span(sides[0])} outdoors and {_span(sides[1])} inside"
        known = counted(outdoors.sizes["time"], "day")
        msg = (
            f"Only {known} known both inside and outdoors ({spans}); at least {FEWEST_DAYS} are "
            "needed, a month with cold nights and bright days is better. "
            "Let the logger run on, or bring the outdoor record up to date."
        )
        raise DataGapError(msg)
    return outdoors, within


def _span(record: xr.Dataset) -> str:
    """First and last day of a record, in words."""
    time = record["time"].values
    return f"{str(time[0])[:10]} to {str(time[-1])[:10]}" if len(time) else "no day"


def _response(x: np.ndarray, y: np.ndarray, dates: np.ndarray) -> Response:
    """Regress `y` on `x`, both in degC, with or without a bend; `dates` are day numbers."""
    scatter = ((x - x.mean()) ** 2).sum()
    if scatter <= len(x) * _LEAST_VARIED_C**2:
        msg = (
            f"The outdoors hardly varied over the logger's {len(x)} days ({fixed(x.min(), 1)} to "
            f"{fixed(x.max(), 1)} degC), so no response shows. Let the logger run through other "
            "weather."
        )
        raise DataGapError(msg)
    lines = _possible_lines(x, y, dates)
    bent = float(lines.chance[1:].sum())
    is_bent = bent > 0.5
    best = 1 + int(lines.chance[1:].argmax()) if is_bent else 0
    fitted = lines.response(best)
    freedom = max(lines.independent - (3 if is_bent else 2), _LEAST_FREEDOM)
    t = _t_of(freedom)
    return replace(
        fitted,
        intercept_error_c=_reach(lines, 0, fitted.intercept_c, freedom) / t,
        slope_error=_reach(lines, 1, fitted.slope, freedom) / t,
        bend_chance=bent,
        freedom=freedom,
        drawn=_drawn(lines, freedom),
    )


class _Lines(NamedTuple):
    """Lines that may be true: a straight one first, then those with a bend."""

    knee_c: tuple[float | None, ...]
    coefficients: np.ndarray
    """Intercept, slope, and change of slope above the bend, shape (lines, 3). [degC, 1, 1]"""
    covariance: np.ndarray
    """Of the coefficients, shape (lines, 3, 3)."""
    spread_c: np.ndarray
    """Of single days around each, shape (lines,)."""
    chance: np.ndarray
    """How likely the log makes each, shape (lines,); the sum is 1."""
    independent: float
    """Number of independent days."""

    def response(self, place: int, coefficients: np.ndarray | None = None) -> Response:
        """One of the lines; with other coefficients if they are given."""
        intercept, slope, change = (
            self.coefficients[place] if coefficients is None else coefficients
        ).tolist()
        knee = self.knee_c[place]
        return Response(
            intercept_c=intercept,
            slope=slope,
            spread_c=float(self.spread_c[place]),
            knee_c=knee,
            slope_above=None if knee is None else slope + change,
        )


def _possible_lines(x: np.ndarray, y: np.ndarray, dates: np.ndarray) -> _Lines:
    """Fit a straight line and lines with a bend, and weigh them; see `fit_cover`."""
    knees: tuple[float | None, ...] = (None, *_knees(x))
    designs = [_design(x, knee) for knee in knees]
    residuals = [y - each @ np.linalg.lstsq(each, y)[0] for each in designs]
    nearest = min(residuals, key=lambda each: float((each**2).sum()))
    lasting = _persistence(nearest, dates, parameters=4)
    both = lasting * _persistence(x - x.mean(), dates, parameters=1)
    days = len(x)
    evidence_days = max(days * (1 - both) / (1 + both), _FEWEST_INDEPENDENT)
    apart = np.abs(np.subtract.outer(dates, dates))
    lags = np.arange(apart.max() + 1)
    alike = ((1 - _SLOW_SHARE) * lasting**lags + _SLOW_SHARE * _SLOW_LAG_ONE**lags)[apart]
    exact = _EXACT_C**2
    before = max(float((nearest**2).mean()), exact) / _CHANGE_OF_SLOPE**2

    coefficients, covariance = np.zeros((len(knees), 3)), np.zeros((len(knees), 3, 3))
    spread, evidence = np.zeros(len(knees)), np.zeros(len(knees))
    for places in (slice(0, 1), slice(1, None)):  # the straight line; those with a bend at once
        if not designs[places]:
            continue
        design = np.stack(designs[places])
        count = design.shape[2]
        # What is known of the change of slope before is worth as much as some days.
        known = np.diag([0.0, 0.0, before * days / evidence_days][:count])
        squares = design.mT @ design + known
        inverse = np.linalg.inv(squares)
        to_coefficients = inverse @ design.mT
        own = to_coefficients @ y
        left = ((y - (design @ own[..., None])[..., 0]) ** 2).sum(axis=-1)
        among = to_coefficients @ alike
        # Correlated residuals have a smaller sum of squares than independent ones.
        variance = left / (days - (among * design.mT).sum(axis=(1, 2)))
        drawn_in = inverse @ known * _CHANGE_OF_SLOPE
        coefficients[places, :count] = own
        covariance[places, :count, :count] = (
            variance[:, None, None] * among @ to_coefficients.mT + drawn_in @ drawn_in.mT
        )
        spread[places] = np.sqrt(variance)
        misfit = np.maximum(left + own**2 @ np.diag(known), days * exact)
        evidence[places] = -(evidence_days - 2) * np.log(misfit) / 2
        evidence[places] -= np.linalg.slogdet(squares * evidence_days / days)[1] / 2
    evidence[1:] += np.log(before) / 2 - np.log(max(len(knees) - 1, 1))
    chance = np.exp(evidence - evidence.max())
    independent = max(days * (1 - lasting) / (1 + lasting), _FEWEST_INDEPENDENT)
    return _Lines(knees, coefficients, covariance, spread, chance / chance.sum(), independent)


def _design(x: np.ndarray, knee: float | None) -> np.ndarray:
    """Columns of the intercept, the slope, and the change of slope above the bend."""
    columns = [np.ones_like(x), x]
    if knee is not None:
        columns.append(np.maximum(x - knee, 0.0))
    return np.stack(columns, axis=1)


def _knees(x: np.ndarray) -> list[float]:
    """Bends with enough days on either side; none in a short log."""
    ordered = np.sort(x)
    least = max(_DAYS_OF_A_SIDE, int(_SHARE_OF_A_SIDE * len(x)))
    if len(x) < 2 * least or ordered[-least - 1] <= ordered[least]:
        return []
    knees: list[float] = np.linspace(ordered[least], ordered[-least - 1], _KNEES).tolist()
    return knees


def _persistence(residuals: np.ndarray, dates: np.ndarray, parameters: int) -> float:
    """Lag-one correlation of residuals, corrected for small-sample bias."""
    follows = np.diff(dates) == 1
    squares = (residuals**2).mean()
    if follows.sum() < _LEAST_PAIRS or squares <= _EXACT_C**2:
        return 0.0
    lag_one = (residuals[1:] * residuals[:-1])[follows].mean() / squares
    count = len(residuals)
    return float(
        np.clip((lag_one * count + parameters) / (count - 2 * parameters), 0.0, _MOST_LASTING)
    )


def _t_of(freedom: float) -> float:
    """Student's t at the ends of an interval."""
    from scipy import special

    return -float(special.stdtrit(freedom, (1 - LEVEL) / 2))


def _reach(lines: _Lines, which: int, fitted: float, freedom: float) -> float:
    """Half the width of the interval around a fitted coefficient that holds it for all lines."""
    from scipy import optimize, special

    away = lines.coefficients[:, which] - fitted
    errors = np.maximum(np.sqrt(lines.covariance[:, which, which]), _EXACT_C)

    def too_wide(reach: float) -> float:
        inside = special.stdtr(freedom, (reach - away) / errors)
        inside -= special.stdtr(freedom, (-reach - away) / errors)
        return float((lines.chance * inside).sum()) - LEVEL

    widest = 1.01 * float(np.abs(away).max() + _t_of(freedom) * errors.max())
    return float(optimize.brentq(too_wide, 0.0, widest))


def _drawn(lines: _Lines, freedom: float) -> tuple[Response, ...]:
    """Lines drawn by how likely they are, their coefficients by Student's t."""
    rng = np.random.default_rng(_DRAWING_SEED)
    out = []
    for place in rng.choice(len(lines.chance), _LINES_DRAWN, p=lines.chance):
        wide = np.sqrt(freedom / rng.chisquare(freedom))
        # Asked to check, NumPy takes each covariance apart once more.
        moved = rng.multivariate_normal(
            np.zeros(3), lines.covariance[place], check_valid="ignore", method="svd"
        )
        out.append(lines.response(int(place), lines.coefficients[place] + wide * moved))
    return tuple(out)


def inside_kernel(
    cover: Cover, tmin: np.ndarray, tmax: np.ndarray, first_day: np.datetime64
) -> tuple[np.ndarray, np.ndarray]:
    """Daily extremes inside a covered space on every day of a record.

    Parameters
    ----------
    cover : Cover
        From `COVERS` or `fit_cover`.
    tmin, tmax : ndarray, shape (days,)
        Outdoors. [degC]
    first_day : numpy.datetime64
        Date of the first day.

    Returns
    -------
    coldest, warmest : ndarray, shape (days,)
        Extremes inside; single days scatter around the cover's line with its spread. The scatter of
        a date is the same in every call, so that different plans and longer records have the same
        days. [degC]
    """
    draw = _scatter(first_day, len(tmin))
    coldest = cover.coldest.inside(tmin) + cover.coldest.spread_c * draw[:, 0]
    warmest = cover.warmest.inside(tmax) + cover.warmest.spread_c * draw[:, 1]
    if cover.vented_above_c is not None:
        aired = np.maximum(cover.vented_above_c, tmax + AIRED_ABOVE_OUTDOORS_C)
        warmest = np.minimum(warmest, aired)
    if cover.floor_c is not None:
        coldest = np.maximum(coldest, cover.floor_c)
    return coldest, np.maximum(warmest, coldest)


def _scatter(first_day: np.datetime64, days: int) -> np.ndarray:
    """Standard normal scatter of the minimum and the maximum of each date, shape (days, 2)."""
    first = int((first_day - _SCATTER_FROM) / np.timedelta64(1, "D"))
    drawn = _drawn_scatter()
    return drawn[(first + np.arange(days)) % len(drawn)]


@lru_cache(maxsize=1)
def _drawn_scatter() -> np.ndarray:
    """Four centuries of standard normal scatter, by date from 1700 on."""
    return np.random.default_rng(_SPREAD_SEED).standard_normal((146_097, 2))


def under_cover(daily: xr.Dataset, cover: Cover) -> xr.Dataset:
    """Daily temperatures inside a covered space, on all days of an outdoor record.

    Parameters
    ----------
    daily : Dataset, dims (..., time)
        Needs ``tmin`` and ``tmax``; ``tmean`` is used if present. [degC]
    cover : Cover
        From `COVERS` or `fit_cover`.

    Returns
    -------
    Dataset, dims (..., time)
        ``tmin``, ``tmax``, ``tmean`` inside: values of the line, without the scatter of single
        days.

    See Also
    --------
    space_odds : How often the inside would have been too cold or too hot, with that scatter.

    Notes
    -----
    The distance of ``tmean`` from the middle of the extremes is that outdoors times the mean slope.

    Examples
    --------
    >>> import climwin as cw
    >>> daily = cw.read_daily(cw.sample())
    >>> inside = cw.under_cover(daily, cw.COVERS["cold frame"])
    >>> (inside["tmin"] - daily["tmin"]).mean().round(1).item()
    3.0
    """
    if not isinstance(cover, Cover):
        msg = " must be a covered space, such as climwin.COVERS['cold frame'], got "
        raise InputError(Parameter("cover"), f"{msg}{cover!r}.")
    tmin, tmax = variable(daily, "tmin"), variable(daily, "tmax")
    tmean = variable(daily, "tmean") if "tmean" in daily else (tmin + tmax) / 2

    def kernel(low: np.ndarray, high: np.ndarray, mean: np.ndarray) -> tuple[np.ndarray, ...]:
        coldest, warmest = cover.coldest.inside(low), cover.warmest.inside(high)
        if cover.floor_c is not None:
            coldest = np.maximum(coldest, cover.floor_c)
        warmest = np.where(warmest < coldest, coldest, warmest)
        slope = (cover.coldest.slope + cover.warmest.slope) / 2
        from_middle = np.nan_to_num(slope * (mean - (low + high) / 2))
        middle = (coldest + warmest) / 2
        return coldest, warmest, np.clip(middle + from_middle, coldest, warmest)

    inside = apply(kernel, tmin, tmax, tmean, core=[[]] * 3, out=[[]] * 3, dtypes=[float] * 3)
    out = xr.Dataset(dict(zip(("tmin", "tmax", "tmean"), inside, strict=True)))
    for name, da in out.items():
        da.attrs = VARIABLES[str(name)]._asdict()
    note = f"taken under cover: {cover.name} ({cover.source})"
    history = "\n".join(filter(None, [daily.attrs.get("history"), note]))
    return out.assign_attrs(daily.attrs | {"history": history})
