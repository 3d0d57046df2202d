"""Rules for today's odds that were tried on the long records, beside the one that is used.

::

    python tests/odds/alternatives.py

asks the questions of the hindcast of each rule, prints how much more or less of the plain count's
Brier score it takes away, and writes the table into ``RESULTS.md`` beside this file. It needs the
records that lie outside the project, in ``../shared``, and takes some minutes.
"""

from __future__ import annotations

import itertools
import json
import sys
from collections.abc import Callable, Iterator, Sequence
from pathlib import Path
from typing import NamedTuple
from unittest.mock import patch

import numpy as np
import xarray as xr

sys.path.insert(0, str(Path(__file__).parents[1]))

import hindcast
import simulate
from agreement import records
from results import table_head, table_row, write_block

import climwin as cw
from climwin.climate import hindcast as looking_back
from climwin.climate import level as todays_level
from climwin.climate.breakpoints import BREAK_P, sudden_step
from climwin.core.stats import (
    LEAST_BANDWIDTH,
    kernel_share_above,
    smoothed_share,
    within_reach,
)

FIRST_YEARS = 30
SHORT = (10, 12, 15, 20)
"""Years of a short record. [year]"""
SIMULATED, SIMULATED_YEARS = 400, (10, 15, 20, 30, 40)
"""Simulated records, and the years of each."""
GROUPS = {"freezes": hindcast.FREEZES, "heat": ("heat",), "window": ("window",)}

Kernel = Callable[[np.ndarray, np.ndarray], np.ndarray]


# --- kernels ------------------------------------------------------------------------------


def silverman(values: np.ndarray) -> float:
    """Width of a kernel that is not scaled, of a sample without infinite values."""
    if len(values) < 2:
        return LEAST_BANDWIDTH
    quarters = np.subtract(*np.percentile(values, [75, 25]))
    spread = min(values.std(ddof=1), quarters / 1.34)
    return max(LEAST_BANDWIDTH, 0.9 * spread * len(values) ** -0.2)


def unscaled(factor: float) -> Kernel:
    """A normal kernel of some of Silverman's widths, which widens the spread of the sample."""

    def kernel(values: np.ndarray, at: np.ndarray) -> np.ndarray:
        from scipy.special import ndtr

        width = factor * silverman(values[np.isfinite(values)])
        apart = (values - at[:, None]) / width
        return within_reach(ndtr(apart).mean(axis=-1), len(values))

    return kernel


def scaled(factor: float = 1.0, more: float = 0.0) -> Kernel:
    """As the one that is used, of some of its widths, with `more` / n of the variance added."""

    def kernel(values: np.ndarray, at: np.ndarray) -> np.ndarray:
        from scipy.special import ndtr

        there = values[np.isfinite(values)]
        if len(there) < 2 or not there.std():
            return kernel_share_above(values, at)
        variance, middle = there.var(ddof=1), there.mean()
        width = factor * silverman(there)
        scale = np.sqrt((1 + more / len(there)) / (1 + width**2 / variance))
        apart = (middle + (values - middle) * scale - at[:, None]) / (width * scale)
        return within_reach(ndtr(apart).mean(axis=-1), len(values))

    return kernel


def of_fourth_order(values: np.ndarray, at: np.ndarray) -> np.ndarray:
    """A normal kernel of the fourth order, whose bias is of the fourth power of its width."""
    from scipy.special import ndtr

    there = np.isfinite(values)
    apart = np.where(there, values - at[:, None], 0.0) / silverman(values[there])
    smooth = ndtr(apart) + apart * np.exp(-(apart**2) / 2) / np.sqrt(8 * np.pi)
    return within_reach(np.where(there, smooth, values > at[:, None]).mean(axis=-1), len(values))


def plain_count(values: np.ndarray, at: np.ndarray) -> np.ndarray:
    count = len(values)
    return smoothed_share((values > at[:, None]).sum(axis=-1), np.full(len(at), count))


def bare_count(values: np.ndarray, at: np.ndarray) -> np.ndarray:
    return np.asarray((values > at[:, None]).mean(axis=-1))


# --- shifts -------------------------------------------------------------------------------


class Trend(NamedTuple):
    """The shrunk trend of the years that today's level is taken from."""

    slope: float
    middle: float
    first: float


class Moved(NamedTuple):
    """How the years are moved when asked at the end of one of them."""

    by: float
    trend: Trend = Trend(0.0, 0.0, np.inf)
    earlier: float = 0.0
    """By how much further the years before a step move."""
    first: float = -np.inf
    """First year after the step."""

    def of_year(self, year: np.ndarray) -> np.ndarray:
        """The shift of each year; with a trend the early ones move further. [degC]"""
        since = np.where(year >= self.trend.first, year - self.trend.middle, 0.0)
        return self.by - self.trend.slope * since + np.where(year < self.first, self.earlier, 0.0)


def used(year: np.ndarray, level: np.ndarray, first: float) -> Moved:
    return Moved(todays_level.level_shift(year, level, first).by)


def drawn_to(warming: float, spread: float) -> Callable[[np.ndarray, np.ndarray, float], Moved]:
    """Moved by a trend that is drawn to another expected one, with another spread."""

    def moved(year: np.ndarray, level: np.ndarray, first: float) -> Moved:
        with patch.multiple(todays_level, WARMING_C=warming, WARMING_SPREAD_C=spread):
            return used(year, level, first)

    return moved


not_carried_on = drawn_to(0.0, 1e-9)
carried_on_in_full = drawn_to(0.0, 1e3)
drawn_to_no_trend = drawn_to(0.0, 0.03)
as_land_warms = drawn_to(0.03, todays_level.WARMING_SPREAD_C)


def half_life_of_three(year: np.ndarray, level: np.ndarray, first: float) -> Moved:
    return Moved(todays_level.level_shift(year, level, first, half_life=3.0).by)


def from_25_years(year: np.ndarray, level: np.ndarray, first: float) -> Moved:
    with patch.object(todays_level, "LEAST_LEVEL_YEARS", 25):
        return used(year, level, first)


def from_its_own_mean(year: np.ndarray, level: np.ndarray, first: float) -> Moved:
    """The years before a step are moved to today's level from their own mean."""
    by = used(year, level, first).by
    before = year < first if np.isfinite(first) else np.zeros(len(year), dtype=bool)
    if not by or not before.any():
        return Moved(by)
    step = float(level[~before].mean() - level[before].mean())
    return Moved(by, earlier=step, first=first)


def without_trend(year: np.ndarray, level: np.ndarray, first: float) -> Moved:
    """The trend, shrunk by its uncertainty, is taken out of the years before they are moved."""
    by = used(year, level, first).by
    these = year >= first if np.isfinite(first) else np.ones(len(year), dtype=bool)
    x, y = year[these], level[these]
    if not by:
        return Moved(0.0)
    since = x - x.mean()
    slope_of = since / (since @ since)
    expected = todays_level.WARMING_C * np.maximum(x - todays_level.WARMING_SINCE, 0)
    own = y - expected
    slope = float(slope_of @ own)
    left = own - own.mean() - slope * since
    variance = float(left @ left) / (len(x) - 2) * float(slope_of @ slope_of)
    spread = todays_level.WARMING_SPREAD_C
    kept = spread**2 / (spread**2 + variance)
    total = kept * slope + float(slope_of @ expected)
    return Moved(by, Trend(total, float(x.mean()), float(x[0])))


YEAR_BY_YEAR = (without_trend, from_its_own_mean)
"""Shifts that differ from year to year."""


class Rule(NamedTuple):
    """A way to the odds."""

    name: str
    kernel: Kernel = kernel_share_above
    moved: Callable[[np.ndarray, np.ndarray, float], Moved] | None = used
    latest: int | None = None
    """Only so many of the latest years are known; None for all."""


USED = Rule("used: moved to today's level, smoothed")
COUNT = Rule("count of the latest 30 years", bare_count, None, 30)
RULES = (
    COUNT,
    USED,
    Rule("a kernel that widens the spread of the dates", unscaled(1.0)),
    Rule("the same, 0.7 times as wide", unscaled(0.7)),
    Rule("the same, half as wide", unscaled(0.5)),
    Rule("the kernel used, 1.5 times as wide", scaled(1.5)),
    Rule("the kernel used, with the spread of a year to come: 1 + 1 / n", scaled(more=1.0)),
    Rule("no kernel", plain_count),
    Rule("a kernel of the fourth order", of_fourth_order),
    Rule("level not carried on by the trend", moved=not_carried_on),
    Rule("level carried on by the trend in full", moved=carried_on_in_full),
    Rule("trend drawn to none, not to the usual warming", moved=drawn_to_no_trend),
    Rule("trend drawn to 0.3 degC a decade, as land warms", moved=as_land_warms),
    Rule("half-life of three years", moved=half_life_of_three),
    Rule("the trend taken out of the years first", moved=without_trend),
    Rule("25 years needed after a step", moved=from_25_years),
    Rule("the years before a step moved from their own mean", moved=from_its_own_mean),
    Rule("all years as they were, smoothed", moved=None),
)


def short_rules(years: int) -> tuple[Rule, Rule, Rule, Rule, Rule, Rule]:
    """Of the latest years alone: the count, the smoothed odds, and those of four levels."""
    return (
        Rule(f"count of {years}", bare_count, None, years),
        Rule(f"smoothed {years}", kernel_share_above, None, years),
        Rule(f"moved {years}", kernel_share_above, used, years),
        Rule(f"moved {years} in full", kernel_share_above, carried_on_in_full, years),
        Rule(f"moved {years} by no trend", kernel_share_above, drawn_to_no_trend, years),
        Rule(f"moved {years} as land warms", kernel_share_above, as_land_warms, years),
    )


# --- scores -------------------------------------------------------------------------------


def cells_of(place: str, rules: Sequence[Rule]) -> Iterator[hindcast.Cell]:
    """Squared misses of every rule at a place."""
    daily = records.load(place, (1850, 2100))
    years, levels = looking_back._levels(daily)
    asked = np.arange(FIRST_YEARS - 1, len(years) - 1)
    shifts = {rule.name: _shifts(rule, years, levels, asked) for rule in rules if rule.moved}
    samples = _samples(daily, years, asked, rules, shifts)
    total: dict[tuple[int, str], list[np.ndarray]] = {}
    for question, by_rule in samples:
        limits = looking_back._limits(question)
        if not len(limits):
            continue
        above = looking_back._above_next(question, limits, years, asked)
        for row, last in enumerate(asked):
            values = {name: each[row][: last + 1] for name, each in by_rule.items()}
            odds = np.array([_odds(rule, values[rule.name], limits) for rule in rules])
            came = above[row]
            if np.isnan(odds).any():
                continue
            for ahead in np.flatnonzero(~np.isnan(came).any(axis=1)):
                key = int((years[last] + 1 + ahead) // 10), question.kind
                squares = ((odds - came[ahead]) ** 2).sum(axis=1)
                total.setdefault(key, []).append(np.append(squares, len(limits)))
    for (decade, kind), rows in total.items():
        sums = np.sum(rows, axis=0)
        yield hindcast.Cell(place, decade, kind, sums[:-1], int(sums[-1]))


def _odds(rule: Rule, values: np.ndarray, limits: np.ndarray) -> np.ndarray:
    """Odds of exceeding limits by a rule; NaN where it has no year."""
    if rule is COUNT:  # it takes the latest known years, as in the hindcast itself
        values = values[~np.isnan(values)]
    part = values if rule.latest is None else values[-rule.latest :]
    part = part[~np.isnan(part)]
    return rule.kernel(part, limits) if len(part) else np.full(len(limits), np.nan)


def _shifts(
    rule: Rule, years: np.ndarray, levels: dict[str, np.ndarray], asked: np.ndarray
) -> dict[str, list[Moved]]:
    assert rule.moved is not None
    out: dict[str, list[Moved]] = {name: [] for name in levels}
    for last in asked:
        year = years[: last + 1].astype(float)
        for name, level in levels.items():
            until, first = level[: last + 1], np.nan
            if rule.latest is None:
                change = sudden_step(year, until, beside_trend=True, enough_p=BREAK_P)
                if change.is_step and change.p < BREAK_P:
                    first = change.break_year
                out[name].append(rule.moved(year, until, first))
            else:
                latest = slice(-rule.latest, None)
                out[name].append(rule.moved(year[latest], until[latest], first))
    return out


def _samples(
    daily: xr.Dataset,
    years: np.ndarray,
    asked: np.ndarray,
    rules: Sequence[Rule],
    shifts: dict[str, dict[str, list[Moved]]],
) -> Iterator[tuple[looking_back._Question, dict[str, list[np.ndarray]]]]:
    """Each question with its yearly values by rule and year of asking."""
    alike: dict[tuple[object, int | None], Rule] = {}  # rules that move the years alike
    for rule in rules:
        if rule.moved and rule.moved not in YEAR_BY_YEAR:
            alike.setdefault((rule.moved, rule.latest), rule)
    whole = list(alike.values())
    by = {
        name: np.array([each.by for rule in whole for each in shifts[rule.name][name]])
        for name in ("tmin", "tmax")
    }
    questions = looking_back._questions(daily, years, by)
    tilted = [rule for rule in rules if rule.moved in YEAR_BY_YEAR]
    of_tilted = {rule.name: _of_tilted(daily, years, shifts[rule.name]) for rule in tilted}
    for number, question in enumerate(questions):
        values: dict[str, list[np.ndarray]] = {}
        for rule in rules:
            if rule.moved is None:
                values[rule.name] = [question.as_it_was] * len(asked)
            elif rule in tilted:
                values[rule.name] = [each[number] for each in of_tilted[rule.name]]
            else:
                start = whole.index(alike[rule.moved, rule.latest]) * len(asked)
                values[rule.name] = [question.at_level[start + n] for n in range(len(asked))]
        yield question, values


def _of_tilted(
    daily: xr.Dataset, years: np.ndarray, shifts: dict[str, list[Moved]]
) -> list[list[np.ndarray]]:
    """Yearly values of all questions by year of asking, each year moved by a shift of its own."""
    of_day = daily["time"].dt.year.values
    still = {name: np.zeros(0) for name in shifts}
    out = []
    for low, high in zip(shifts["tmin"], shifts["tmax"], strict=True):
        by = {"tmin": low.of_year(of_day), "tmax": high.of_year(of_day)}
        by["tmean"] = (by["tmin"] + by["tmax"]) / 2
        moved = daily.assign(
            {name: daily[name].copy(data=daily[name].values + shift) for name, shift in by.items()}
        )
        questions = looking_back._questions(moved, years, still)
        out.append([question.as_it_was for question in questions])
    return out


# --- on simulated records -----------------------------------------------------------------


def simulated(kernels: dict[str, Kernel]) -> Iterator[str]:
    """Bias and error of a freeze chance by each kernel, on records whose truth is known."""
    truths = json.loads(simulate.KEPT.read_text("utf-8"))["truth"]["climate"]
    true = truths["freeze chance on a date"]
    miss: dict[str, list[np.ndarray]] = {name: [] for name in kernels}
    for years in SIMULATED_YEARS:
        rng = np.random.default_rng([years, 555])
        told: dict[str, list[float]] = {name: [] for name in kernels}
        for lag_one in simulate.LAG_ONES:
            cell = simulate.Cell(years, 0.0, 0.4, lag_one)
            for _ in range(SIMULATED // len(simulate.LAG_ONES)):
                dates = cw.freeze_dates(simulate.weather(cell, rng), climate="today")
                days = dates["last_spring_drawn"].values[:, 0]
                at = np.array([simulate.FREEZE_DAY - 0.5])
                for name, kernel in kernels.items():
                    told[name].append(100 * float(kernel(days[~np.isnan(days)], at)[0]))
        for name, values in told.items():
            miss[name].append(np.array(values) - true)
    yield (
        f"What the kernels do to a chance of {true:.0f} % on {SIMULATED} simulated records with "
        "0.4 degC a decade, moved to today's level: bias with its standard error, and root mean "
        "square miss. [points]"
    )
    yield ""
    yield from table_head("kernel", *(f"{years} years" for years in SIMULATED_YEARS))
    for name, by_years in miss.items():
        texts = [
            f"{each.mean():+.1f} ± {each.std() / np.sqrt(len(each)):.1f}, "
            f"{np.sqrt((each**2).mean()):.1f}"
            for each in by_years
        ]
        yield table_row(name, *texts)


# --- odds of a count --------------------------------------------------------------------------

COUNTED = (10, 15, 20, 30)
"""Years of which harvests are counted. [year]"""
OF_COUNTS: dict[str, Callable[[float, int], float]] = {
    "the share": lambda hits, count: hits / count,
    "used: the share, none and all smoothed": lambda hits, count: float(
        within_reach(hits / count, count)
    ),
    "the share drawn to one half": lambda hits, count: float(
        smoothed_share(np.array(hits), np.array(count))
    ),
}


def harvests_counted() -> Iterator[str]:
    """Skill and bias of three ways to turn a count of harvests into odds."""
    cells: dict[int, list[hindcast.Cell]] = {count: [] for count in COUNTED}
    misses: dict[int, list[np.ndarray]] = {count: [] for count in COUNTED}
    for place in hindcast.REGIONS:
        daily = records.load(place, (1850, 2100))
        for name, start in itertools.product(hindcast.CROPS, hindcast.STARTS):
            grown = cw.evaluate_plan(cw.Plan(cw.crop(name), start), daily)["harvested"]
            if not 0.05 < float(grown.mean()) < 0.95:
                continue
            known = grown.dropna("season")
            happened, year = known.values, known["season"].values
            for at, count in itertools.product(range(30, len(year) - 8), COUNTED):
                came, hits = happened[at : at + 10], happened[at - count : at].sum()
                odds = np.array([rule(hits, count) for rule in OF_COUNTS.values()])
                squares = ((odds[:, None] - came) ** 2).sum(axis=1)
                decade = int(year[at]) // 10
                cells[count].append(hindcast.Cell(place, decade, "harvest", squares, len(came)))
                misses[count].append(odds - came.mean())
    yield (
        f"Harvests, the same crops and dates as in the hindcast, as recorded: {len(misses[30]):,} "
        "questions of the latest years alone. Skill over the share, and bias. [%, points]"
    )
    yield ""
    yield from table_head("years", *OF_COUNTS)
    for count in COUNTED:
        found, drawn = (
            hindcast.skill(cells[count], ["harvest"]),
            hindcast.resampled(cells[count], ["harvest"]),
        )
        low, high = np.quantile(drawn, [0.05, 0.95], axis=0)
        bias = 100 * np.mean(misses[count], axis=0)
        texts = [
            f"{s:+.1f} ({a:+.1f}..{b:+.1f}), {off:+.1f}"
            for s, a, b, off in zip(found, low, high, bias, strict=True)
        ]
        yield table_row(count, *texts)


# --- the table ----------------------------------------------------------------------------


def report() -> Iterator[str]:
    """Lines of the report."""
    short = [rule for years in SHORT for rule in short_rules(years)]
    rules = [*RULES, *short]
    cells = []
    for place in hindcast.REGIONS:
        cells += list(cells_of(place, rules))
        print(place, file=sys.stderr, flush=True)
    kinds = list(dict.fromkeys(cell.kind for cell in cells))
    groups = GROUPS | {"all kinds": tuple(kinds)}
    skills = {name: hindcast.skill(cells, group) for name, group in groups.items()}
    drawn = {name: hindcast.resampled(cells, group) for name, group in groups.items()}

    def gained(name: str, rule: Rule, other: Rule) -> str:
        """Skill of a rule less that of another, with 5 and 95 % of the bootstrap."""
        at, less, texts = rules.index(rule), rules.index(other), []
        for group, found in skills.items():
            low, high = np.quantile(drawn[group][:, at] - drawn[group][:, less], [0.05, 0.95])
            texts.append(f"{found[at] - found[less]:+.1f} ({low:+.1f}..{high:+.1f})")
        return table_row(name, *texts)

    yield "## Rules that were tried beside the one that is used"
    yield ""
    yield (
        "Made by `python tests/odds/alternatives.py`, on the records and questions of the "
        "hindcast. Skill of a rule less that of the one that is used, in points of the plain "
        "count's Brier score; in brackets 5 to 95 % of the bootstrap."
    )
    yield ""
    yield from table_head("rule", *groups)
    for rule in RULES:
        if rule is not USED:
            yield gained(rule.name, rule, USED)
    yield ""
    yield (
        "Short records: the same questions, asked of the latest years alone. Skill of the smoothed "
        "years over the plain count of the same years; then that of years moved to today's level "
        "over the count and over the smoothed years; of a level that the whole trend carries on, "
        "and of ones whose trend is drawn to none or to the warming of the land, over the moved "
        "years."
    )
    yield ""
    yield from table_head("years", "rule", *groups)
    for years in SHORT:
        count, smoothed, moved, in_full, no_trend, of_land = short_rules(years)
        yield gained(f"{years} | smoothed, over the count", smoothed, count)
        yield gained(f"{years} | moved, over the count", moved, count)
        yield gained(f"{years} | moved, over smoothed", moved, smoothed)
        yield gained(f"{years} | moved by the trend in full, over moved", in_full, moved)
        yield gained(f"{years} | trend drawn to none, over moved", no_trend, moved)
        yield gained(f"{years} | trend drawn to 0.3 degC a decade, over moved", of_land, moved)
    yield ""
    kernels = [rule for rule in RULES if rule.moved is used]
    yield from simulated({rule.name: rule.kernel for rule in kernels})
    yield ""
    yield from harvests_counted()


def main() -> None:
    """Print the table, and write it down."""
    if not records.RECORDS.is_dir():
        sys.exit(f"The records are not here: {records.RECORDS} is missing.")
    text = "\n".join(report())
    print(text)
    write_block(hindcast.RESULTS, "alternatives", text)


if __name__ == "__main__":
    main()
