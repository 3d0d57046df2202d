"""Covered spaces: how temperatures inside follow those outdoors, from presets or a logger."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
import xarray as xr

from climwin.core.errors import Call, InputError, Parameter
from climwin.core.formatting import counted, fixed
from climwin.core.provenance import check_alike
from climwin.core.schema import VARIABLES, DataGapError, Temperature, apply, check_units, variable
from climwin.crops.model import COMMON_PRACTICE
from climwin.io.logger_plausibility import refuse_against_outdoors

LONGEST_HOLE_H = 3.0
"""Longest time between two readings over which the inside still counts as known. [h]"""
FEWEST_DAYS = 14
"""Days of a logger below which no response is fitted."""
CAUTIONS = (
    "Never burn fuel in a closed space: carbon monoxide has neither colour nor smell. A heater "
    "that burns gas or paraffin needs a way out for its fumes and an alarm beside it.",
    "Electricity and water: lamps, cables and heaters under cover must be made for wet places and "
    "hang on a residual-current device, fitted by someone qualified.",
    "Open covers on bright days: a closed frame in the sun scorches plants within the hour.",
    "Local rules for heating, wiring and building come first.",
)
"""What to mind under cover. Fumes: advice of public health departments; the rest: from memory."""

AIRED_ABOVE_OUTDOORS_C = 2.0
"""By how much a space with open vents stays warmer than the outdoors (common practice). [degC]"""

_SPREAD_SEED = 2026
_SCATTER_FROM = np.datetime64("1700-01-01")
_LEAST_VARIED_C = 0.5
_DAY_S = 86_400
_STEPS = 48  # at which a day's mean is taken


@dataclass(frozen=True, slots=True, kw_only=True)
class Response:
    """How one daily extreme inside follows the same one outdoors: a straight line and its spread.

    Parameters
    ----------
    intercept_c, slope : float
        Inside = intercept + slope * outdoors. [degC, 1]
    spread_c : float
        Standard deviation of single days about the line. [degC]
    intercept_error_c, slope_error : float
        Standard errors, 0 where the line was not fitted.
    """

    intercept_c: float
    slope: float = 1.0
    spread_c: float = 0.0
    intercept_error_c: float = 0.0
    slope_error: float = 0.0

    def __post_init__(self) -> None:
        if self.spread_c < 0:
            msg = f" is a standard deviation: 0 or more, got {self.spread_c}."
            raise InputError(Parameter("spread_c"), msg)

    def inside(self, outdoors: Temperature) -> Temperature:
        """The line's value for an extreme outdoors. [degC]"""
        return self.intercept_c + self.slope * outdoors


@dataclass(frozen=True, slots=True, kw_only=True)
class Cover:
    """A covered space, as a preset or fitted to its logger.

    Parameters
    ----------
    name : str
        What growers call it.
    coldest, warmest : Response
        Of the daily minimum and of the daily maximum.
    source : str
        Where the numbers come from.
    floor_c : float, optional
        Temperature that a heater keeps it at or above. [degC]
    days : int
        Days of a logger behind the numbers, 0 for a preset.
    vented_above_c : float, optional
        Temperature above which vents are opened: it then stays there, or 2 degC above the
        outdoors where that is warmer. [degC]
    """

    name: str
    coldest: Response
    warmest: Response
    source: str
    floor_c: float | None = None
    days: int = 0
    vented_above_c: float | None = None


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
"""Presets, vented on bright days; all common practice. A logger in the space is worth more."""


# --- the days of a logger -----------------------------------------------------------------


def logger_days(
    logger: xr.Dataset, *, least_readings: int = 8, longest_hole_h: float = LONGEST_HOLE_H
) -> xr.Dataset:
    """Daily extremes and mean of a logger's temperatures, midnight to midnight.

    Parameters
    ----------
    logger : Dataset, dims (time)
        From `climwin.io.loggers.read_logger`.
    least_readings : int
        A day with fewer is missing.
    longest_hole_h : float
        So is a day touched by a longer time without a reading. [h]

    Returns
    -------
    Dataset, dims (time)
        ``tmin``, ``tmax``, ``tmean`` [degC], every day from the first to the last, and
        ``readings``, their count. ``tmean`` weighs readings by the time they stand for.

    Raises
    ------
    ValueError
        If `logger` holds no ``temperature`` in degC.

    Examples
    --------
    >>> import climwin as cw
    >>> days = cw.logger_days(cw.read_logger(cw.sample("frame_logger.csv")))
    >>> days = days.dropna("time")
    >>> bool((days["tmin"] <= days["tmax"]).all())
    True
    """
    if "temperature" not in logger:
        there = ", ".join(map(str, logger)) or "none"
        msg = f"A logger's readings have a variable 'temperature', got {there}. Read its file with "
        raise InputError(msg, Call("read_logger", ("path",)), ".")
    check_units(logger["temperature"], "degC")
    time = np.asarray(logger["time"]).astype("datetime64[s]").astype(np.int64)
    days, count, values = _daily(time, np.asarray(logger["temperature"], float))
    is_known = (count >= least_readings) & ~_has_hole(time, days, longest_hole_h * 3600)
    out = xr.Dataset(
        {
            name: ("time", np.where(is_known, value, np.nan), VARIABLES[name]._asdict())
            for name, value in values.items()
        },
        coords={"time": (days * _DAY_S).astype("datetime64[s]")},
        attrs=logger.attrs,
    )
    return out.assign(readings=("time", count, {"long_name": "readings in the day"}))


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
    # The mean over evenly spaced times between readings, so that a burst of them weighs no more.
    mean = np.interp(days[:, None] * _DAY_S + middles, time, temperature).mean(axis=1)
    return days, np.bincount(slot, minlength=len(days)), {"tmin": low, "tmax": high, "tmean": mean}


def _has_hole(time: np.ndarray, days: np.ndarray, longest: float) -> np.ndarray:
    """Whether each day is touched by a longer time [s] without a reading."""
    edges = np.concatenate([days[:1] * _DAY_S, time, (days[-1:] + 1) * _DAY_S])
    is_hole = np.diff(edges) > longest
    first_day = edges[:-1][is_hole] // _DAY_S - days[0]
    last_day = (edges[1:][is_hole] - 1) // _DAY_S - days[0]
    # A hole opens on its first day and closes after its last; where any is open, a day has one.
    change = np.zeros(len(days) + 1, int)
    np.add.at(change, first_day, 1)
    np.add.at(change, last_day + 1, -1)
    return np.cumsum(change)[:-1] > 0


# --- the inside from the outdoors ---------------------------------------------------------


def fit_cover(inside: xr.Dataset, daily: xr.Dataset, *, name: str = "my space") -> Cover:
    """Response of a covered space, from the days of its own logger.

    Parameters
    ----------
    inside : Dataset, dims (time)
        Of the space: ``temperature`` as `climwin.io.loggers.read_logger` gives it, or ``tmin`` and
        ``tmax`` from `logger_days`. [degC]
    daily : Dataset, dims (time)
        ``tmin`` and ``tmax`` outdoors, of one station. [degC]
    name : str
        What to call the space.

    Returns
    -------
    Cover
        Inside minimum and maximum each regressed on the outdoor one by ordinary least squares,
        with standard errors and the residual spread.

    Raises
    ------
    DataGapError
        If fewer than 14 days are known on both sides, or the outdoors hardly varied.
    RecordError
        If the logger cannot belong to this record, such as one in degF or of other dates.
    ValueError
        If either holds more than one place.

    Notes
    -----
    The errors take days as independent; weather that lasts makes them somewhat too small. Days
    colder or hotter outdoors than any of the logger's rest on the line alone. A station that
    reads its extremes in the morning gives them other days than the logger: a wider spread.

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
    refuse_against_outdoors(days_inside, daily)
    outdoors, within = _shared_days(days_inside, daily)
    days = outdoors.sizes["time"]
    low, high = (fixed(float(each), 1) for each in (outdoors["tmin"].min(), outdoors["tmax"].max()))
    source = (
        f"own logger, {counted(days, 'day')} from {_span(outdoors)}, outdoors {low} to {high} degC"
    )
    return Cover(
        name=name,
        coldest=_line(outdoors["tmin"].values, within["tmin"].values),
        warmest=_line(outdoors["tmax"].values, within["tmax"].values),
        source=source,
        days=days,
    )


def _shared_days(inside: xr.Dataset, daily: xr.Dataset) -> tuple[xr.Dataset, xr.Dataset]:
    """Extremes outdoors and inside, on the days on which all four are known."""
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
    """Its first day to its last, in words."""
    time = record["time"].values
    return f"{str(time[0])[:10]} to {str(time[-1])[:10]}" if len(time) else "no day"


def _line(x: np.ndarray, y: np.ndarray) -> Response:
    """Ordinary least squares of `y` on `x`, both in degC."""
    degrees_of_freedom = len(x) - 2
    scatter = ((x - x.mean()) ** 2).sum()
    if scatter <= len(x) * _LEAST_VARIED_C**2:
        msg = (
            f"The outdoors hardly varied over the logger's {len(x)} days ({fixed(x.min(), 1)} to "
            f"{fixed(x.max(), 1)} degC), so no response shows. Let the logger run through other "
            "weather."
        )
        raise DataGapError(msg)
    slope = ((x - x.mean()) * (y - y.mean())).sum() / scatter
    intercept = y.mean() - slope * x.mean()
    spread = np.sqrt(((y - intercept - slope * x) ** 2).sum() / degrees_of_freedom)
    return Response(
        intercept_c=float(intercept),
        slope=float(slope),
        spread_c=float(spread),
        intercept_error_c=float(spread * np.sqrt(1 / len(x) + x.mean() ** 2 / scatter)),
        slope_error=float(spread / np.sqrt(scatter)),
    )


def inside_kernel(
    cover: Cover, tmin: np.ndarray, tmax: np.ndarray, first_day: np.datetime64
) -> tuple[np.ndarray, np.ndarray]:
    """Daily extremes inside a covered space, of every day of a record.

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
        Inside: single days scatter about the cover's line as its spread says. The scatter of a date
        is the same in every call, so that two plans and a longer record meet the same days. [degC]
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
    """Four centuries of scatter, by date from 1700 on."""
    return np.random.default_rng(_SPREAD_SEED).standard_normal((146_097, 2))


def under_cover(daily: xr.Dataset, cover: Cover) -> xr.Dataset:
    """Daily temperatures inside a covered space through all days of an outdoor record.

    Parameters
    ----------
    daily : Dataset, dims (..., time)
        Needs ``tmin`` and ``tmax``; ``tmean`` is taken along where it is there. [degC]
    cover : Cover
        From `COVERS` or `fit_cover`.

    Returns
    -------
    Dataset, dims (..., time)
        ``tmin``, ``tmax``, ``tmean`` inside: the line's values, without the spread of single days.

    See Also
    --------
    space_odds : How often the inside would have been too cold or too hot, with that spread.

    Notes
    -----
    ``tmean`` lies between the extremes inside as it does outdoors, its distance from their middle
    scaled by the mean slope.

    Examples
    --------
    >>> import climwin as cw
    >>> daily = cw.read_daily(cw.sample())
    >>> inside = cw.under_cover(daily, cw.COVERS["cold frame"])
    >>> (inside["tmin"] - daily["tmin"]).mean().round(1).item()
    3.0
    """
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
