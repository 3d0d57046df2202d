"""How good odds, intervals and trends are, on simulated records whose truth is known.

::

    python tests/odds/simulate.py climate --years 10 15 --trials 60
    python tests/odds/simulate.py planning --years 10 15 --trials 40
    python tests/odds/simulate.py rates
    python tests/odds/simulate.py bands --trials 60
    python tests/odds/simulate.py assumed --years 10 15 20 --trials 120
    python tests/odds/simulate.py table

All but the last simulate, and keep what they counted in ``simulated.json`` beside this file; a run
goes on where one before it was stopped. The last writes the tables of all that is kept there into
``RESULTS.md``. Each cell has its own seed: the same trials come out again.

A simulated year is a sine curve with daily weather that remembers the day before and a level of its
own, which takes after the last year's. With a trend, the level of the last year is the truth: what
today's odds are. Whatever the cell, the truth is thus that of one long record without trend or gap.
"""

from __future__ import annotations

import argparse
import inspect
import itertools
import json
import sys
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any, NamedTuple

import numpy as np
import xarray as xr

sys.path.insert(0, str(Path(__file__).parents[1]))

from results import table_head, table_row, write_block

import climwin as cw
from climwin.climate.breakpoints import KINDS, sudden_step, yearly_means
from climwin.core.dependence import trend_test
from climwin.core.stats import mann_kendall

YEARS = (10, 15, 20, 30, 40)
GAPS = (0.0, 0.02)
"""Share of single days that are missing."""
TRENDS = (0.0, 0.4)
"""[degC per decade]"""
LAG_ONES = (0.0, 0.3)
"""Lag-one correlation of the yearly means."""

MEAN_C, SWING_C = 9.5, 10.5
DAILY_C, DAY_AFTER_DAY = 3.4, 0.72
"""Spread of the days about the season's curve, and their correlation with the day before."""
YEARLY_C = 0.6
"""Spread of the level of the years."""
LATITUDE = 46.0
LAST_YEAR = 2024

FREEZE_DAY = 121
"""A day of the year, 1 May, whose chance of a later freeze is asked for."""
NEED_DAYS = 68
BAND = cw.Limits(low_c=8.0, high_c=19.5, source="invented")
PLAN = cw.Plan(cw.crop("lettuce"), "03-14")
"""Sown so early that cold ends it in some years."""

KEPT, RESULTS = (Path(__file__).with_name(name) for name in ("simulated.json", "RESULTS.md"))
TRUTH_RECORDS = 400
"""Records of 40 years whose mean is the truth."""
TREND_TRIALS = 3000
"""Series by which tests of a trend are counted: they are quick, tests of a break are not."""
MAY_MISS = {"days": 2.0, "points": 2.0, "degC per decade": 0.02}
"""Largest bias, by unit, that is looked for."""
COVERED = (0.86, 0.95)
TRUTH_OFF = 0.005
"""How far the true odds by start date may be off."""
UNLIKELY = 0.025
"""Chance below which a coverage is called a miss."""


class Cell(NamedTuple):
    """What is simulated."""

    years: int
    gaps: float
    trend: float
    lag_one: float


class Told(NamedTuple):
    """One answer of the library, with its interval, beside the truth."""

    kind: str
    unit: str
    estimate: float
    low: float
    high: float
    truth: float


# --- simulated weather ----------------------------------------------------------------------


def weather(cell: Cell, rng: np.random.Generator) -> xr.Dataset:
    """A record of whole calendar years that ends in `LAST_YEAR`."""
    first = LAST_YEAR - cell.years + 1
    days = np.arange(f"{first}-01-01", f"{LAST_YEAR + 1}-01-01", dtype="datetime64[D]")
    year = days.astype("datetime64[Y]").astype(int) + 1970 - first
    of_year = (days - days.astype("datetime64[Y]")).astype(int)
    season = MEAN_C - SWING_C * np.cos(2 * np.pi * (of_year - 17) / 365.25)
    daily = _remembering(rng.normal(size=len(days)), DAY_AFTER_DAY) * DAILY_C
    level = _levels(cell.years, cell.lag_one, rng)
    level += cell.trend / 10 * (np.arange(cell.years) - (cell.years - 1))
    mean = season + daily + level[year]
    span = np.maximum(9.5 + rng.normal(0, 2.5, len(days)), 1.0)
    tmin, tmax = np.round(mean - span / 2, 1), np.round(mean + span / 2, 1)
    missing = rng.random(len(days)) < cell.gaps
    out = xr.Dataset(
        {
            name: ("time", np.where(missing, np.nan, values), {"units": "degC"})
            for name, values in (("tmin", tmin), ("tmax", tmax), ("tmean", (tmin + tmax) / 2))
        },
        coords={"time": days.astype("datetime64[ns]")},
    )
    return out.assign_attrs(latitude=LATITUDE)


def _remembering(noise: np.ndarray, lag_one: float) -> np.ndarray:
    """A first-order autoregressive process of unit variance."""
    from scipy.signal import lfilter, lfiltic

    scale = np.sqrt(1 - lag_one**2)
    state = lfiltic([scale], [1, -lag_one], [noise[0]])
    out, _ = lfilter([scale], [1, -lag_one], noise[1:], zi=state)
    return np.concatenate([noise[:1], out])


def _levels(years: int, lag_one: float, rng: np.random.Generator) -> np.ndarray:
    """Level of each year, such that the yearly means have the lag-one correlation."""
    of_days = DAILY_C**2 * (1 + DAY_AFTER_DAY) / (1 - DAY_AFTER_DAY) / 365
    own = lag_one * (YEARLY_C**2 + of_days) / YEARLY_C**2
    return YEARLY_C * _remembering(rng.normal(size=years), own)


# --- what the library tells -------------------------------------------------------------------


def odds_name(odds: xr.Dataset) -> str:
    """The smoothed odds where there are such, else the plain share."""
    return "odds" if "odds" in odds.data_vars else "share"


def in_climate(function: Callable[..., Any], today: bool) -> dict[str, str]:
    """Today's climate if it is asked for, where the function knows of it."""
    knows = "climate" in inspect.signature(function).parameters
    return {"climate": "today"} if today and knows else {}


def climate_answers(daily: xr.Dataset, today: bool) -> dict[str, tuple[str, float, float, float]]:
    """Freezes, windows and the trend of a record: unit, estimate, low and high by kind."""
    out = {}
    climate = in_climate(cw.freeze_odds, today)
    dates = cw.freeze_dates(daily, **in_climate(cw.freeze_dates, today))
    chance = cw.freeze_chance(dates).sel(day_of_year=FREEZE_DAY)
    ends = [f"last_spring_{end}" for end in ("low", "high")]
    bounds = [100 * float(chance[end]) if end in chance else np.nan for end in ends]
    out["freeze chance on a date"] = ("points", 100 * float(chance["last_spring"]), *bounds)
    odds = cw.freeze_odds(daily, levels=(0.1, 0.9), **climate)
    for kind, name, level in (
        ("date of the last freeze, 1 in 10", "last_spring", 0.1),
        ("freeze-free days, 9 in 10", "freeze_free_days", 0.9),
    ):
        one = odds.sel(odds=level)
        out[kind] = ("days", *(float(one[f"{name}{end}"]) for end in ("", "_low", "_high")))
    windows = cw.usable_windows(daily, BAND, **in_climate(cw.usable_windows, today))
    short = cw.odds_shorter(windows, NEED_DAYS).sel(part="longest")
    values = (100 * float(short[name]) for name in (odds_name(short), "low", "high"))
    out["window shorter than the need"] = ("points", *values)
    slope = cw.trend(yearly_means(daily["tmean"]))
    values = (float(slope[name]) for name in ("slope", "low", "high"))
    out["trend of the yearly mean"] = ("degC per decade", *values)
    return out


def harvest_answer(daily: xr.Dataset, today: bool) -> tuple[str, float, float, float]:
    """Harvest of a plan: unit, estimate, low and high."""
    grown = cw.evaluate_plan(PLAN, daily, **in_climate(cw.evaluate_plan, today))
    odds = cw.harvest_odds(grown)
    low, high = (100 * float(odds[end]) for end in ("low", "high"))
    return "points", 100 * float(odds[odds_name(odds)]), low, high


def planning_answers(daily: xr.Dataset, today: bool) -> dict[str, tuple[str, float, float, float]]:
    """Harvest of a plan, and of its best date, as `climate_answers`; and that best date's day."""
    out = {"harvest": harvest_answer(daily, today)}
    swept = cw.sweep_start_dates(CHOSEN_PLAN, daily, **in_climate(cw.sweep_start_dates, today))
    day = int(swept["best_day"])
    at_best = swept.sel(start_day=day)
    for kind, prefix in (("chosen date", "elsewhere_"), ("chosen date, by its own years", "")):
        names = (f"{prefix}share", f"{prefix}low", f"{prefix}high")
        values = (100 * float(at_best[name]) for name in names)
        out[f"{kind}|{day}"] = ("points", *values)
    return out


CHOSEN_PLAN = cw.Plan(cw.crop("tomato"), "05-05")
"""Its season is so short here that even its best date fails now and then."""


# --- the truth --------------------------------------------------------------------------------


def truths(part: str, years: int = 40, records: int = 0) -> dict[str, Any]:
    """Long-run odds: means over many records without trend or gap, whose years are independent.

    `records` is how many, by default `TRUTH_RECORDS`.
    """
    records = records or TRUTH_RECORDS
    rng = np.random.default_rng(2024)
    cell = Cell(years, 0.0, 0.0, 0.0)
    made = [weather(cell, rng) for _ in range(records)]
    if part == "planning":
        swept = [cw.sweep_start_dates(CHOSEN_PLAN, each) for each in made]
        known, hits = (sum(each[name].values for each in swept) for name in ("known", "harvested"))
        grown = [cw.evaluate_plan(PLAN, each)["harvested"] for each in made]
        harvest = float(np.nanmean([each.values for each in grown]))
        return {"harvest": 100 * harvest, "by start day": (100 * hits / known).tolist()}
    dates = [cw.freeze_dates(each) for each in made]
    spring = np.concatenate([each["last_spring_day"].values for each in dates])
    length = np.concatenate([each["freeze_free_days"].values for each in dates])
    spring, length = (each[np.isfinite(each)] for each in (spring, length))
    windows = [cw.usable_windows(each, BAND)["length"].sel(part="longest").values for each in made]
    window = np.concatenate(windows)
    window = window[np.isfinite(window)]
    return {
        "freeze chance on a date": 100 * float(np.mean(spring >= FREEZE_DAY)),
        "date of the last freeze, 1 in 10": float(np.quantile(spring, 0.9, method="hazen")),
        "freeze-free days, 9 in 10": float(np.quantile(length, 0.1, method="hazen")),
        "window shorter than the need": 100 * float(np.mean(window < NEED_DAYS)),
    }


ASK: dict[str, Callable[[xr.Dataset, bool], dict[str, tuple[str, float, float, float]]]] = {
    "climate": climate_answers,
    "planning": planning_answers,
}
NOT_OF_A_LEVEL = ("trend of the yearly mean", "chosen date, by its own years")
"""Answers that no level moves, or that are not shown."""


# --- a warming that is assumed and does not come ----------------------------------------------


def assumed(
    part: str, years: int, lag_one: float, trials: int, truth: dict[str, Any]
) -> list[dict[str, Any]]:
    """Today's odds of a place that does not warm, by kind, beside those of all years as they were.

    The records, and the truth, are those of `simulate`.
    """
    cell = Cell(years, 0.0, 0.0, lag_one)
    rng = np.random.default_rng([*(round(1000 * each) for each in cell), part == "planning"])
    told: dict[str, list[tuple[Told, Told]]] = {}
    for _ in range(trials):
        daily = weather(cell, rng)
        pair = (compared(ASK[part](daily, asked), cell, truth) for asked in (True, False))
        for today, record in zip(*pair, strict=True):
            if today.kind not in NOT_OF_A_LEVEL:
                told.setdefault(today.kind, []).append((today, record))
    rows = []
    for kind, pairs in told.items():
        # A best date may be another one in another climate: each has its own truth.
        more = np.array([t.estimate - t.truth - (r.estimate - r.truth) for t, r in pairs])
        more = more[np.isfinite(more)]
        found = summarized([today for today, _ in pairs])[kind]
        rows.append(
            {"cell": list(cell), "kind": kind, **found}
            | {"more": float(more.mean()), "more_error": float(more.std() / np.sqrt(more.size))}
        )
    return rows


# --- the curve by start date ----------------------------------------------------------------------


def band(years: int, lag_one: float, trials: int, truth: list[float]) -> dict[str, Any]:
    """How often the band of a sweep holds the whole true curve, and intervals each date's odds.

    `truth` are the odds by start date in per cent, known within half a point.
    """
    rng = np.random.default_rng([years, round(10 * lag_one), 7])
    true = np.array(truth) / 100
    whole, of_dates = [], []
    for _ in range(trials):
        daily = weather(Cell(years, 0.0, 0.0, lag_one), rng)
        swept = cw.sweep_start_dates(CHOSEN_PLAN, daily)
        for ends, held in ((("band_low", "band_high"), whole), (("low", "high"), of_dates)):
            low, high = (swept[end].values for end in ends)
            held.append((low <= true + TRUTH_OFF) & (true - TRUTH_OFF <= high))
    return {
        "years": years,
        "lag-one": lag_one,
        "records": trials,
        "the band held the whole curve": float(np.mean(np.all(whole, axis=1))),
        "intervals of single dates held all of it": float(np.mean(np.all(of_dates, axis=1))),
        "intervals held, mean of the dates": float(np.mean(of_dates)),
    }


# --- how often tests fire -----------------------------------------------------------------------


def rates(years: int, lag_one: float, trials: int) -> dict[str, Any]:
    """How often tests of a trend and of a break fire on yearly values without one, and with one."""
    rng = np.random.default_rng([years, round(10 * lag_one)])
    for_trends = [
        _remembering(rng.normal(size=years), lag_one) for _ in range(max(trials, TREND_TRIALS))
    ]
    noise = for_trends[:trials]
    year = np.arange(years)
    trended = [trend_test(year, each) for each in for_trends]
    warming = [trend_test(year, each + 0.04 * year / 0.7) for each in for_trends]
    changes = {
        "no change": 0.0 * year,
        "a step of 2": 2.0 * (year >= years // 2),
        "a drift of 4": 4.0 * year / years,
    }
    found = {
        name: [sudden_step(year, each + change, beside_trend=False) for each in noise]
        for name, change in changes.items()
    }
    alone = [sudden_step(year, each, beside_trend=True).p for each in noise]
    inside = [each.break_low <= years // 2 <= each.break_high for each in found["a step of 2"]]
    steps = {
        name: float(np.mean([each.kind == KINDS.index("step") for each in changed]))
        for name, changed in found.items()
    }
    return {
        "years": years,
        "lag-one": lag_one,
        "trials": trials,
        "Mann and Kendall, as if independent": float(
            np.mean([mann_kendall(each) < 0.1 for each in for_trends])
        ),
        "trend at 0.1": float(np.mean([p < 0.1 for *_, p in trended])),
        "interval of the slope": float(np.mean([low <= 0 <= high for _, low, high, _ in trended])),
        "0.4 degC a decade found": float(np.mean([p < 0.1 for *_, p in warming])),
        "break at 0.02": float(np.mean([each.p < 0.02 for each in found["no change"]])),
        "break beside a trend at 0.02": float(np.mean(np.array(alone) < 0.02)),
        "a step called one": steps["a step of 2"],
        "its year held": float(np.mean(inside)),
        "a drift called a step": steps["a drift of 4"],
    }


def rates_table(rows: list[dict[str, Any]]) -> str:
    """The rates as Markdown."""
    names = [name for name in rows[0] if name != "trials"]
    lines = table_head(*names)
    for rates in rows:
        values = [
            f"{rates[name]:g}" if name in ("years", "records") else f"{rates[name]:.2f}"
            for name in names
        ]
        lines.append(table_row(*values))
    return "\n".join(lines)


# --- cells and the table ------------------------------------------------------------------------


def simulate(part: str, cell: Cell, trials: int, truth: dict[str, Any]) -> list[Told]:
    """Answers of the library to some records of a cell."""
    seed = [*(round(1000 * each) for each in cell), part == "planning"]
    rng = np.random.default_rng(seed)
    ask = ASK[part]
    return [
        each
        for _ in range(trials)
        for each in compared(ask(weather(cell, rng), bool(cell.trend)), cell, truth)
    ]


def compared(
    answers: dict[str, tuple[str, float, float, float]], cell: Cell, truth: dict[str, Any]
) -> Iterator[Told]:
    """Answers of `climate_answers` or `planning_answers` beside the truth of their part."""
    for name, (unit, *values) in answers.items():
        kind, _, day = name.partition("|")
        if day:
            true = truth["by start day"][int(day) - 1]
        elif kind.startswith("trend"):
            true = cell.trend
        else:
            true = truth[kind]
        yield Told(kind, unit, *values, true)


def summarized(told: list[Told]) -> dict[str, dict[str, Any]]:
    """By kind: unit, trials, mean miss, its squared spread, and how many intervals held."""
    out = {}
    for kind in dict.fromkeys(each.kind for each in told):
        rows = [each for each in told if each.kind == kind]
        miss = np.array([each.estimate - each.truth for each in rows])
        # Dates and shares come rounded: half a unit belongs to the truth.
        slack = {"days": 0.5}.get(rows[0].unit, 1e-9)
        held = [
            not each.low > each.truth + slack and not each.high < each.truth - slack
            for each in rows
            if np.isfinite(each.low) or np.isfinite(each.high)
        ]
        out[kind] = {
            "unit": rows[0].unit,
            "trials": int(np.isfinite(miss).sum()),
            "bias": float(np.nanmean(miss)),
            "error": float(np.nanstd(miss) / np.sqrt(max(np.isfinite(miss).sum(), 1))),
            "held": int(np.sum(held)),
            "intervals": len(held),
        }
    return out


def cells(years: tuple[int, ...] = YEARS) -> Iterator[Cell]:
    """All cells of the table."""
    for each in itertools.product(years, GAPS, TRENDS, LAG_ONES):
        yield Cell(*each)


def table(kept: dict[str, Any]) -> str:
    """Bias and coverage by kind and number of years, over the cells that there are, as Markdown."""
    rows = [row | {"cell": Cell(*row["cell"])} for row in kept["cells"]]
    kinds = list(dict.fromkeys((row["kind"], row["unit"]) for row in rows))
    seen = sorted({row["cell"].years for row in rows})
    of_years = [f"bias and share of intervals that held, for years: {seen[0]}", *seen[1:]]
    lines = [
        *table_head("kind", "trend", *of_years),
    ]
    for (kind, unit), trend in itertools.product(kinds, TRENDS):
        texts = []
        for years in seen:
            chosen = [
                row
                for row in rows
                if row["kind"] == kind and row["cell"].years == years and row["cell"].trend == trend
            ]
            texts.append(_cell_text(chosen, unit))
        if any(texts):
            lines.append(table_row(f"{kind} ({unit})", f"{trend:g}", *texts))
    still = [row for row in rows if not row["cell"].trend]
    return "\n".join([*lines, "", *_by_cells(still)] if still else lines)


def _cell_text(rows: list[dict[str, Any]], unit: str) -> str:
    """Bias with its standard error, and the share of intervals that held, of how many."""
    trials = sum(row["trials"] for row in rows)
    if not trials:
        return ""
    bias = sum(row["bias"] * row["trials"] for row in rows) / trials
    error = np.sqrt(sum((row["error"] * row["trials"]) ** 2 for row in rows)) / trials
    intervals = sum(row["intervals"] for row in rows)
    held = sum(row["held"] for row in rows) / intervals if intervals else np.nan
    digits = 2 if unit.startswith("degC") else 1
    text = f"{bias:+.{digits}f} ± {error:.{digits}f}, {held:.2f} of {intervals}"
    return f"**{text}**" if is_missed(bias, error, held, intervals, unit) else text


def is_missed(bias: float, error: float, held: float, intervals: int, unit: str) -> bool:
    """Whether a bias or a coverage misses its aim by more than chance explains.

    A bias does so beyond two standard errors; a coverage where at the end of its aim a count as
    extreme would come in fewer than one table of 40. (Its own standard error is no measure: that of
    30 intervals of 30 is 0.)
    """
    from scipy.stats import binom

    too_far = abs(bias) - 2 * error > MAY_MISS[unit]
    if not intervals:
        return bool(too_far)
    count = round(held * intervals)
    too_few = binom.cdf(count, intervals, COVERED[0]) < UNLIKELY
    too_many = binom.sf(count - 1, intervals, COVERED[1]) < UNLIKELY
    return bool(too_far or too_few or too_many)


def _by_cells(rows: list[dict[str, Any]]) -> list[str]:
    """How gaps and correlated years change the coverage, over all years and no trend."""
    lines = [
        "Without a trend, over all numbers of years:",
        "",
        *table_head("kind", "whole, lag-one 0", "whole, 0.3", "gaps, 0", "gaps, 0.3"),
    ]
    for kind, unit in dict.fromkeys((row["kind"], row["unit"]) for row in rows):
        texts = [
            _cell_text(
                [
                    row
                    for row in rows
                    if row["kind"] == kind and row["cell"][1:] == (gaps, 0.0, lag_one)
                ],
                unit,
            )
            for gaps, lag_one in itertools.product(GAPS, LAG_ONES)
        ]
        lines.append(table_row(kind, *texts))
    return lines


def cell_table(kept: dict[str, Any]) -> str:
    """Bias and coverage of each cell by itself, as Markdown; empty where none was simulated."""
    kinds = list(dict.fromkeys((row["kind"], row["unit"]) for row in kept["cells"]))
    by_cell = {(Cell(*row["cell"]), row["kind"]): row for row in kept["cells"]}
    seen = {cell for cell, _ in by_cell}
    lines = [
        *table_head("years", "missing", "trend", "lag-one", *(kind for kind, _ in kinds)),
    ]
    for cell in cells():
        if cell in seen:
            rows = [(by_cell.get((cell, kind)), unit) for kind, unit in kinds]
            texts = [_cell_text([row], unit) if row else "" for row, unit in rows]
            of_cell = cell.years, f"{100 * cell.gaps:g} %", f"{cell.trend:g}", f"{cell.lag_one:g}"
            lines.append(table_row(*of_cell, *texts))
    return "\n".join(lines)


def write(kept: dict[str, Any]) -> None:
    """Put the table between its marks in ``RESULTS.md``."""
    climate, harvest = (
        [row["trials"] for row in kept["cells"] if row["kind"] == kind]
        for kind in ("trend of the yearly mean", "harvest")
    )
    text = (
        "## Simulated records whose truth is known\n\n"
        f"Made by `python tests/odds/simulate.py`: {sum(climate)} records for freezes, windows "
        f"and trends in {len(climate)} cells, {sum(harvest)} for harvests in {len(harvest)}. A "
        "cell is a number of years, 2 % of the days missing or none, a trend of 0 or 0.4 degC a "
        "decade, and a lag-one correlation of the yearly means of 0 or 0.3; the first table joins "
        "the cells of a number of years and a trend. With a trend the truth is the odds at the "
        "last year's level, and the library is asked for today's climate. The truth is the mean of "
        "16,000 years, so it is itself known within about half a point. Bias with its standard "
        "error, and the share of 90 % intervals that held the truth, of how many. Bold: further "
        "from the aim than chance explains, which is a bias of at most 2 points, 2 days or 0.02 "
        "degC a decade and a share of 0.86 to 0.95.\n\n"
        f"{table(kept)}\n\n### Each cell\n\n{cell_table(kept)}\n{_assumed_text(kept)}"
        f"{_bands_text(kept)}{_rates_text(kept)}"
    )
    write_block(RESULTS, "simulation", text)


def _assumed_text(kept: dict[str, Any]) -> str:
    if "assumed" not in kept:
        return ""
    rows = [row | {"cell": Cell(*row["cell"])} for row in kept["assumed"]]
    seen = sorted({row["cell"].years for row in rows})
    lines = [
        "\n### Today's climate of a place that does not warm\n",
        "The library draws a record's trend to a warming of 0.2 degC a decade; here there is none, "
        "and no gap. Bias and coverage as above, and in brackets what today's odds are above "
        "those of all years as they were, on the same records.\n",
        *table_head("kind", *(f"{years} years" for years in seen)),
    ]
    for kind, unit in dict.fromkeys((row["kind"], row["unit"]) for row in rows):
        texts = []
        for years in seen:
            chosen = [row for row in rows if row["kind"] == kind and row["cell"].years == years]
            more = np.mean([row["more"] for row in chosen])
            error = np.sqrt(np.sum([row["more_error"] ** 2 for row in chosen])) / len(chosen)
            texts.append(f"{_cell_text(chosen, unit)} ({more:+.1f} ± {error:.1f})")
        lines.append(table_row(f"{kind} ({unit})", *texts))
    return "\n".join(lines) + "\n"


def _bands_text(kept: dict[str, Any]) -> str:
    if "bands" not in kept:
        return ""
    return (
        "\n### The curve of odds by start date\n\nTomatoes on any day of the year, no trend and no "
        "gaps: how often the band of 90 % held the true curve on all 365 dates at once, beside the "
        f"intervals of single dates.\n\n{rates_table(kept['bands'])}\n"
    )


def _rates_text(kept: dict[str, Any]) -> str:
    if "rates" not in kept:
        return ""
    return (
        f"\n### How often tests fire\n\n{TREND_TRIALS:,} series of yearly values for a trend and "
        f"{kept['rates'][0]['trials']} for a break, "
        "a first-order autoregressive process of spread 1 (0.7 degC for the warming); a step of 2 "
        "in the middle, a drift of 4 from end to end. Breaks as against a neighbour, without a "
        f"trend, unless said.\n\n{rates_table(kept['rates'])}\n"
    )


def main() -> None:
    """Simulate a part, or write the table."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument(
        "part", choices=("climate", "planning", "rates", "bands", "assumed", "table")
    )
    parser.add_argument("--years", type=int, nargs="+", default=YEARS)
    parser.add_argument("--gaps", type=float, nargs="+", default=GAPS)
    parser.add_argument("--trends", type=float, nargs="+", default=TRENDS)
    parser.add_argument("--trials", type=int, default=40)
    parser.add_argument("--again", action="store_true", help="forget what was kept")
    parser.add_argument("--seconds", type=float, default=np.inf, help="begin no cell after so many")
    given = parser.parse_args()
    kept = json.loads(KEPT.read_text("utf-8")) if KEPT.exists() else {"truth": {}, "cells": []}
    if given.part == "table":
        write(kept)
        return
    counts = {"rates": _count_rates, "bands": _count_bands, "assumed": _count_assumed}
    counts.get(given.part, _count_cells)(kept, given)


def _count_rates(kept: dict[str, Any], given: argparse.Namespace) -> None:
    start = time.perf_counter()
    for years, lag_one in itertools.product((10, 15, 20, 30, 40, 80), (0.0, 0.2, 0.4)):
        rows = kept.setdefault("rates", [])
        done = {(row["years"], row["lag-one"]) for row in rows}
        if (years, lag_one) in done or time.perf_counter() - start > given.seconds:
            continue
        rows.append(rates(years, lag_one, given.trials))
        rows.sort(key=lambda row: (row["years"], row["lag-one"]))
        KEPT.write_text(json.dumps(kept) + "\n", "utf-8")


def _count_bands(kept: dict[str, Any], given: argparse.Namespace) -> None:
    asked = itertools.product(given.years, LAG_ONES)
    truth = kept["truth"]["planning"]["by start day"]
    kept["bands"] = [band(*each, given.trials, truth) for each in asked]
    KEPT.write_text(json.dumps(kept) + "\n", "utf-8")


def _count_assumed(kept: dict[str, Any], given: argparse.Namespace) -> None:
    kept["assumed"] = [
        row
        for part, years, lag_one in itertools.product(ASK, given.years, LAG_ONES)
        for row in assumed(part, years, lag_one, given.trials, kept["truth"][part])
    ]
    KEPT.write_text(json.dumps(kept) + "\n", "utf-8")


def _count_cells(kept: dict[str, Any], given: argparse.Namespace) -> None:
    start = time.perf_counter()
    if given.again or given.part not in kept["truth"]:
        kept["truth"][given.part] = truths(given.part)
        KEPT.write_text(json.dumps(kept) + "\n", "utf-8")
    kind = "harvest" if given.part == "planning" else "trend of the yearly mean"
    done = {
        tuple(row["cell"])
        for row in kept["cells"]
        if row["kind"] == kind and row["trials"] >= given.trials and not given.again
    }
    asked = [
        each
        for each in cells(tuple(given.years))
        if each.gaps in given.gaps and each.trend in given.trends
    ]
    for cell in asked:
        began = time.perf_counter()
        if cell in done or began - start > given.seconds:
            continue
        told = simulate(given.part, cell, given.trials, kept["truth"][given.part])
        rows = [{"cell": list(cell), "kind": k, **row} for k, row in summarized(told).items()]
        names = {row["kind"] for row in rows}
        kept["cells"] = [
            row for row in kept["cells"] if row["cell"] != list(cell) or row["kind"] not in names
        ] + rows
        KEPT.write_text(json.dumps(kept) + "\n", "utf-8")
        print(cell, f"{time.perf_counter() - began:.0f} s", flush=True)


if __name__ == "__main__":
    main()
