"""Faults put into the files of a garden: a logger's readings and a trial's sheet."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pandas as pd
import xarray as xr

from climwin.core.errors import RecordError
from climwin.io.loggers import read_logger
from climwin.report.sentences_caveats import logger_caveats
from climwin.shelter.covers import COVERS, fit_cover
from climwin.trials import plausibility
from climwin.trials.analysis import read_trial

HOURS = 24


# --- loggers ------------------------------------------------------------------------------


def frame_of(daily: xr.Dataset, cover: str, first: str, seed: int, days: int = 70) -> pd.Series:
    """Hourly readings of a covered space: half cosines through its extremes, and noise."""
    outdoors = daily[["tmin", "tmax"]].dropna("time")
    outdoors = outdoors.sel(time=slice(first, None)).isel(time=slice(0, days))
    space, rng = COVERS[cover], np.random.default_rng(seed)
    count = outdoors.sizes["time"]
    low = space.coldest.inside(outdoors["tmin"].values) + rng.normal(0, 1, count)
    low = low if space.floor_c is None else np.maximum(low, space.floor_c)
    high = np.maximum(space.warmest.inside(outdoors["tmax"].values) + rng.normal(0, 2, count), low)
    time = pd.DatetimeIndex(outdoors["time"].values)
    knots = np.concatenate([time + pd.Timedelta(hours=5), time + pd.Timedelta(hours=14)])
    values = np.concatenate([low, high])
    order = np.argsort(knots)
    hours = pd.date_range(time[0], time[-1] + pd.Timedelta(hours=23), freq="h")
    at, knot = hours.astype("int64").to_numpy(), knots[order].astype("int64")
    place = np.clip(np.searchsorted(knot, at, side="right") - 1, 0, len(knot) - 2)
    part = np.clip((at - knot[place]) / (knot[place + 1] - knot[place]), 0, 1)
    before, after = values[order][place], values[order][place + 1]
    wave = before + (after - before) * (1 - np.cos(np.pi * part)) / 2
    return pd.Series((wave + rng.normal(0, 0.2, len(hours))).round(1), index=hours)


Readings = pd.Series
PutLogger = Callable[[pd.Series, bool, np.random.Generator], pd.Series]


def _part(log: Readings, large: bool, small: float, whole: float = 0.5) -> np.ndarray:
    share = whole if large else small
    return np.arange(len(log)) >= (1 - share) * len(log)


def in_fahrenheit(log: Readings, large: bool, _: np.random.Generator) -> Readings:
    return log * 1.8 + 32 if large else (log - 8) * 1.8 + 32


def partly_fahrenheit(log: Readings, large: bool, _: np.random.Generator) -> Readings:
    return log.where(~_part(log, large, 0.15), log * 1.8 + 32)


def as_celsius(log: Readings, large: bool, _: np.random.Generator) -> Readings:
    """Degrees Celsius that were taken for degrees Fahrenheit, once or twice."""
    once = (log - 32) / 1.8
    return (once - 32) / 1.8 if large else once


def tenfold(log: Readings, large: bool, _: np.random.Generator) -> Readings:
    return log.where(~_part(log, large, 0.05), log * 10)


def half_a_day(log: Readings, large: bool, _: np.random.Generator) -> Readings:
    return log.set_axis(log.index + pd.Timedelta(hours=12 if large else 9))


def days_off(log: Readings, large: bool, _: np.random.Generator) -> Readings:
    return log.set_axis(log.index + pd.Timedelta(days=9 if large else 2))


def stuck(log: Readings, large: bool, _: np.random.Generator) -> Readings:
    hours = 24 * (20 if large else 4)
    out = log.copy()
    out.iloc[300 : 300 + hours] = 12.3
    return out


def zeros(log: Readings, large: bool, rng: np.random.Generator) -> Readings:
    return log.where(rng.random(len(log)) > (0.05 if large else 0.01), 0.0)


def spikes(log: Readings, large: bool, rng: np.random.Generator) -> Readings:
    hit = rng.random(len(log)) < (0.05 if large else 0.005)
    return log + np.where(hit, rng.choice([-15, 15], len(log)), 0)


def no_contact(log: Readings, large: bool, rng: np.random.Generator) -> Readings:
    return log.where(rng.random(len(log)) > (0.05 if large else 0.002), -127.0)


def turned(log: Readings, large: bool, _: np.random.Generator) -> Readings:
    """The sign lost on the way, or all of it turned: a slope that no covered space has."""
    middle = float(log.mean())
    return (middle - (log - middle)) if large else log.where(_part(log, True, 0.5), -log)


def another_place(log: Readings, large: bool, rng: np.random.Generator) -> Readings:
    """Logged in a cold store: far below the outdoors."""
    return log - (25 if large else 12)


def sun(log: Readings, large: bool, _: np.random.Generator) -> Readings:
    day = (log.index.hour > 8) & (log.index.hour < 19)
    return log + np.where(day, 30 if large else 15, 0)


def sun_at_times(log: Readings, large: bool, _: np.random.Generator) -> Readings:
    """The sun on the sensor every third day, from noon to four o'clock."""
    hour, day = log.index.hour, log.index.day_of_year
    lit = (hour >= 12) & (hour < 16) & (day % 3 == 0)
    return log + np.where(lit, 27 if large else 15, 0)


def wrong_year(log: Readings, large: bool, _: np.random.Generator) -> Readings:
    return log.set_axis(log.index - pd.DateOffset(years=2 if large else 1))


def lain_indoors(log: Readings, large: bool, rng: np.random.Generator) -> Readings:
    """Switched on in a kitchen, and carried out days later; the same at the end."""
    first, last = (HOURS * days for days in ((4, 2) if large else (2, 0)))
    place = np.arange(len(log))
    room = 20 + 0.8 * np.sin(2 * np.pi * place / HOURS) + rng.normal(0, 0.3, len(log))
    return log.where((place >= first) & (place < len(log) - last), room.round(1))


def in_soil(log: Readings, large: bool, _: np.random.Generator) -> Readings:
    """Means of a day so far, as soil would show them; the small fault is a damped sensor."""
    return log.rolling(24 if large else 12, min_periods=1).mean().round(1)


def cut_off(log: Readings, large: bool, _: np.random.Generator) -> Readings:
    """Nothing above a whole degree."""
    return log.clip(upper=float(log.quantile(0.8 if large else 0.95).round()))


@dataclass(frozen=True)
class LoggerFault:
    """A kind of fault of a logger, and its sizes in words."""

    name: str
    small: str
    large: str
    put: PutLogger


LOGGER_FAULTS = (
    LoggerFault("degF not said", "8 degC colder", "as logged", in_fahrenheit),
    LoggerFault("degF part of the way", "15 % of the time", "half of the time", partly_fahrenheit),
    LoggerFault("degC taken for degF", "once", "twice", as_celsius),
    LoggerFault("ten times too large", "5 % of the time", "half of the time", tenfold),
    LoggerFault("clock off by hours", "9 h", "12 h", half_a_day),
    LoggerFault("calendar off by days", "2 days", "9 days", days_off),
    LoggerFault("stuck sensor", "4 days", "20 days", stuck),
    LoggerFault("zeros for missing readings", "1 % of readings", "5 % of readings", zeros),
    LoggerFault("spikes of 15 degC", "0.5 % of readings", "5 % of readings", spikes),
    LoggerFault("-127 for no contact", "0.2 % of readings", "5 % of readings", no_contact),
    LoggerFault("sign turned", "half of the time", "all the time", turned),
    LoggerFault("another, colder place", "12 degC", "25 degC", another_place),
    LoggerFault("sensor in the sun", "15 degC", "30 degC", sun),
    LoggerFault("calendar off by years", "1 year", "2 years", wrong_year),
    LoggerFault("lain indoors at first", "2 days", "4 days, and 2 at the end", lain_indoors),
    LoggerFault("sensor in the soil", "means of 12 hours", "means of 24 hours", in_soil),
    LoggerFault("hottest readings cut off", "a twentieth", "a fifth", cut_off),
    LoggerFault("sun on every third day", "15 degC", "27 degC", sun_at_times),
)


def logger_verdict(log: pd.Series, daily: xr.Dataset, path: Path) -> tuple[str, str]:
    """What reading and fitting a logger says: ``refused``, ``doubted`` or nothing, and why."""
    log.rename("temperature").rename_axis("time").to_csv(path, date_format="%Y-%m-%d %H:%M")
    try:
        logger = read_logger(path)
        fit_cover(logger, daily)
    except RecordError as error:
        return "refused", str(error)
    doubts = logger_caveats(logger, daily)
    return ("doubted", doubts[0]) if doubts else ("", "")


# --- trials -------------------------------------------------------------------------------

SHEET = """\
block;plot;treatment;planted;harvested;weight
1;1;early;2027-04-10;2027-07-01;{0}
1;2;late;2027-04-20;2027-07-11;{1}
2;3;late;2027-04-20;2027-07-10;{2}
2;4;early;2027-04-10;2027-07-02;{3}
3;5;early;2027-04-10;2027-07-01;{4}
3;6;late;2027-04-20;2027-07-12;{5}
"""
WEIGHTS = ("3890", "4570", "5240", "4410", "3655", "4980")


def _sheet(*changes: tuple[int, str], weights: tuple[str, ...] = WEIGHTS) -> str:
    cells = list(weights)
    for place, text in changes:
        cells[place] = text
    return SHEET.format(*cells)


@dataclass(frozen=True)
class TrialFault:
    """A kind of fault of a trial's sheet: what it says small and large, and what is answered."""

    name: str
    small: str
    large: str
    sheets: tuple[str, str]
    answer: str


_WITH_COMMAS = tuple(f"{text[0]},{text[1:]}" for text in WEIGHTS)

TRIAL_FAULTS = (
    TrialFault(
        "comma of thousands or decimals",
        "one cell",
        "all cells",
        (_sheet((0, "3,890")), _sheet(weights=_WITH_COMMAS)),
        "may be thousands or decimals",
    ),
    TrialFault(
        "kilograms among grams",
        "one plot",
        "two plots",
        (_sheet((0, "3.9")), _sheet((0, "3.9"), (3, "4.4"))),
        "Two units in one column",
    ),
    TrialFault(
        "a weight below zero",
        "one plot",
        "three plots",
        (_sheet((0, "-3890")), _sheet((0, "-3890"), (2, "-5240"), (4, "-3655"))),
        "are below zero",
    ),
    TrialFault(
        "a digit too many",
        "one plot, once",
        "one plot, twice",
        (_sheet((0, "38900")), _sheet((0, "389000"))),
        "other",
    ),
    TrialFault(
        "a digit too many in a small plot",
        "grams",
        "pounds with tenths",
        (
            _sheet((4, "15000"), (5, "1900")),
            _sheet(weights=("8.6", "10.1", "11.6", "9.7", "33.1", "4.2")),
        ),
        "what the other plots of their block and treatment make of them",
    ),
    TrialFault(
        "a year too late",
        "by two years",
        "by ten years",
        (_sheet().replace("2027-07-01", "2029-07-01"), _sheet().replace("2027-07", "2037-07")),
        "stood for more than 730 days",
    ),
    TrialFault(
        "one year too late",
        "one plot",
        "two plots",
        (
            _sheet().replace("2027-07-11", "2028-07-11"),
            _sheet().replace("2027-07-11", "2028-07-11").replace("2027-07-12", "2028-07-12"),
        ),
        "half a year longer or shorter than the others",
    ),
    TrialFault(
        "a weight copied down",
        "all plots but one empty",
        "all plots",
        (
            _sheet(weights=("3890",) * 5 + ("",)),
            _sheet(weights=("3890",) * 6),
        ),
        "are all the same",
    ),
    TrialFault(
        "harvested before planted",
        "one plot",
        "all plots",
        (_sheet().replace("2027-07-11", "2027-03-11"), _sheet().replace("2027-07", "2027-02")),
        "harvested before planted",
    ),
    TrialFault(
        "a treatment spelled in two ways",
        "one plot",
        "two plots",
        (
            _sheet().replace("1;2;late", "1;2;laet"),
            _sheet().replace("1;2;late", "1;2;laet").replace("2;3;late", "2;3;laet"),
        ),
        "spell treatments alike",
    ),
)


TRIALS = ((3, 2), (4, 2), (6, 2), (8, 2), (4, 3), (6, 4))
"""Blocks and treatments of simulated trials."""
SCATTER = (0.1, 0.2, 0.3)
"""Their scatter from plot to plot, as a standard deviation of logarithms: about 10 to 30 %."""


def simulated_trial(
    blocks: int, treatments: int, scatter: float, failed: float, rng: np.random.Generator
) -> np.ndarray:
    """Weights of plots, shape (blocks, treatments). [g]

    Blocks scatter by 30 %, treatments by 40 %; a share `failed` of the plots keeps 2 to 50 %.
    """
    logs = np.log(4000) + rng.normal(0, 0.3, (blocks, 1)) + rng.normal(0, 0.4, (1, treatments))
    logs = logs + rng.normal(0, scatter, (blocks, treatments))
    left = np.where(rng.random(logs.shape) < failed, rng.uniform(0.02, 0.5, logs.shape), 1.0)
    return np.asarray((np.exp(logs) * left).round())


def with_a_digit_too_many(weights: np.ndarray, rng: np.random.Generator) -> np.ndarray:
    """One plot of any with a digit more at its end."""
    out = weights.copy()
    plot = rng.integers(out.shape[0]), rng.integers(out.shape[1])
    out[plot] = 10 * out[plot] + rng.integers(10)
    return out


def is_a_slip(weights: np.ndarray) -> tuple[bool, bool]:
    """Whether a plot is refused beside the next largest alone, and by any check of slips."""
    block, treatment = (place.astype(str).ravel() for place in np.indices(weights.shape))
    values = weights.ravel()
    alone = plausibility.slips(values) | plausibility.in_another_unit(values)
    beside_others = plausibility.tenfold(values, block, treatment)
    return bool(alone.any()), bool((alone | beside_others).any())


def trial_verdict(sheet: str, path: Path) -> tuple[str, str]:
    """What reading a sheet says: ``refused`` or nothing, and why."""
    path.write_text(sheet)
    try:
        read_trial(path)
    except RecordError as error:
        return "refused", str(error)
    return "", ""
