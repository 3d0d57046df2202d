"""Which level of the yearly means came nearest to the ten years that followed, on long records.

::

    python tests/odds/levels.py

prints a table and writes it into ``RESULTS.md`` beside this file. It needs the records that lie
outside the project, in ``../shared``, and takes some seconds.
"""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterator
from pathlib import Path
from unittest.mock import patch

import numpy as np

sys.path.insert(0, str(Path(__file__).parents[1]))

from agreement import records
from hindcast import REGIONS
from results import table_head, table_row, write_block

from climwin.climate import level as todays_level
from climwin.climate.breakpoints import yearly_means

RESULTS = Path(__file__).parent / "RESULTS.md"
FIRST_YEARS, NEXT_YEARS, LEAST_FOLLOWED = 30, 10, 5
SHORT = (10, 12, 15, 20)
"""Years of a short record. [year]"""


def latest_30(year: np.ndarray, level: np.ndarray) -> float:
    return float(level[-30:].mean())


def without_trend(year: np.ndarray, level: np.ndarray) -> float:
    with patch.multiple(todays_level, WARMING_C=0.0, WARMING_SPREAD_C=1e-9):
        return with_trend(year, level)


def with_own_trend(year: np.ndarray, level: np.ndarray) -> float:
    with patch.multiple(todays_level, WARMING_C=0.0, WARMING_SPREAD_C=0.03):
        return with_trend(year, level)


def as_land_warms(year: np.ndarray, level: np.ndarray) -> float:
    with patch.object(todays_level, "WARMING_C", 0.03):
        return with_trend(year, level)


def with_trend(year: np.ndarray, level: np.ndarray) -> float:
    return float(level.mean()) + todays_level.level_shift(year, level).by


RULES: dict[str, Callable[[np.ndarray, np.ndarray], float]] = {
    "mean of the latest 30 years": latest_30,
    "weighted mean, half-life of five years": without_trend,
    "the same, carried on by a trend drawn to none": with_own_trend,
    "the same, carried on by a trend drawn to the usual warming": with_trend,
    "the same, drawn to 0.3 degC a decade, as land warms": as_land_warms,
}


def misses(place: str, latest: int = 1000) -> Iterator[list[float]]:
    """What each rule told of the latest years, less the mean of those that followed. [degC]"""
    daily = records.load(place, (1850, 2100))
    for name in ("tmin", "tmax"):
        means = yearly_means(daily[name])
        known = np.isfinite(means.values)
        year, level = means["year"].values[known].astype(float), means.values[known]
        for last in range(FIRST_YEARS - 1, len(year) - 1):
            follows = (year > year[last]) & (year <= year[last] + NEXT_YEARS)
            if follows.sum() >= LEAST_FOLLOWED:
                came = level[follows].mean()
                latest_years = slice(max(last + 1 - latest, 0), last + 1)
                past = year[latest_years], level[latest_years]
                yield [rule(*past) - came for rule in RULES.values()]


def report() -> str:
    """The table as Markdown; places weigh alike."""
    by_place = {place: np.array(list(misses(place))) for place in REGIONS}
    bias = np.mean([each.mean(axis=0) for each in by_place.values()], axis=0)
    squares = {place: (each**2).mean(axis=0) for place, each in by_place.items()}
    total = np.sqrt(np.mean(list(squares.values()), axis=0))
    lines = [
        "## Today's level, and the years that came",
        "",
        "Made by `python tests/odds/levels.py`: yearly means of minimum and maximum at the end of "
        f"each year with {FIRST_YEARS} known ones, against the mean of the {NEXT_YEARS} years "
        "after it. Steps of the stations are left in. Root mean square miss, and bias; places "
        "weigh alike. [degC]",
        "",
        *table_head("rule", "miss", "bias", *by_place),
    ]
    for number, rule in enumerate(RULES):
        own = (f"{np.sqrt(each[number]):.2f}" for each in squares.values())
        lines.append(table_row(rule, f"{total[number]:.2f}", f"{bias[number]:+.2f}", *own))
    lines += [
        "",
        "Of the latest years alone, whose mean is the first rule: miss, and bias.",
        "",
        *table_head("years", *RULES),
    ]
    for years in SHORT:
        of_places = [np.array(list(misses(place, years))) for place in REGIONS]
        miss = np.sqrt(np.mean([(each**2).mean(axis=0) for each in of_places], axis=0))
        off = np.mean([each.mean(axis=0) for each in of_places], axis=0)
        texts = [f"{m:.2f}, {b:+.2f}" for m, b in zip(miss, off, strict=True)]
        lines.append(table_row(years, *texts))
    lines += [
        "",
        "From ten years on a trend drawn to the usual warming comes nearer than one drawn to none, "
        "and nearer than the mean of the years. The years to come went on warming beyond the level "
        "of the last year, which no rule foretells.",
    ]
    return "\n".join(lines)


def main() -> None:
    """Print the table, and write it down."""
    text = report()
    print(text)
    write_block(RESULTS, "levels", text)


if __name__ == "__main__":
    main()
