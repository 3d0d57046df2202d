"""How often 90 % intervals of a covered space's response hold, where its true response is known.

Run it as ``python tests/odds/covers.py [logs [seed]]``, and with ``crops`` for the odds of crops
raised in such a space; the real records stand beside the repository. The tables it prints are in
``COVERS.md``.

A log is made from weather outdoors, a true response, and a scatter of single days that lasts. It is
fitted by `fit_cover`, and by least squares with and without the true bend, as one would without
thinking of weather that lasts or of a bend that has to be found.
"""

from __future__ import annotations

import sys
import warnings
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import replace
from pathlib import Path
from typing import NamedTuple

import numpy as np
import xarray as xr
from scipy import stats

sys.path.insert(0, str(Path(__file__).parents[1]))

import records
from results import table_head

import climwin as cw
from climwin.shelter.covers import PLAIN_BEND, fit_cover

LEVEL = 0.9


class Answer(NamedTuple):
    """A true response, and its line on the colder side."""

    name: str
    side: str
    """``warmest`` or ``coldest``."""
    inside: Callable[[np.ndarray], np.ndarray]
    intercept: float
    slope: float
    bend_c: float | None = None


ANSWERS = (
    Answer("straight", "warmest", lambda x: 4 + 1.2 * x, 4.0, 1.2),
    Answer(
        "vents half open",
        "warmest",
        lambda x: np.minimum(8 + 1.3 * x, 19 + 0.65 * x),
        8.0,
        1.3,
        11 / 0.65,
    ),
    Answer("cap", "warmest", lambda x: np.minimum(8 + 1.3 * x, 30.0), 8.0, 1.3, 22 / 1.3),
    Answer("heater", "coldest", lambda x: np.maximum(5.0, 2 + x), 5.0, 0.0, 3.0),
)
"""Those that the errors were tuned on at first."""
WEAK = (
    Answer(
        "vents a third open",
        "warmest",
        lambda x: np.minimum(6 + 1.1 * x, 11 + 0.73 * x),
        6.0,
        1.1,
        5 / 0.37,
    ),
    Answer(
        "cap near the end", "warmest", lambda x: np.minimum(8 + 1.3 * x, 35.0), 8.0, 1.3, 27 / 1.3
    ),
    Answer("weak heater", "coldest", lambda x: np.maximum(4 + 0.4 * x, 2 + x), 4.0, 0.4, 2 / 0.6),
)
"""Bends that a log hardly shows. They were held out at first, see ``COVERS.md``."""
HELD_OUT = (
    Answer(
        "vents two thirds open",
        "warmest",
        lambda x: np.minimum(7 + 1.2 * x, 17.8 + 0.48 * x),
        7.0,
        1.2,
        15.0,
    ),
    Answer("shade", "warmest", lambda x: np.minimum(5 + x, 9.8 + 0.7 * x), 5.0, 1.0, 16.0),
    Answer("warm heater", "coldest", lambda x: np.maximum(3.0, 1.5 + 0.9 * x), 3.0, 0.0, 5 / 3),
)
"""Those that were looked at last."""
DAYS, WEAK_DAYS, HELD_OUT_DAYS = (30, 60, 120), (45, 90), (40, 75)
LASTING, WEAK_LASTING, HELD_OUT_LASTING = (0.0, 0.4, 0.7), (0.3, 0.6), (0.2, 0.5)


# --- logs ---------------------------------------------------------------------------------


def lasting(days: int, r: float, rng: np.random.Generator) -> np.ndarray:
    """Standard normal series of which a day goes with the next by `r`."""
    out = rng.normal(size=days)
    for day in range(1, days):
        out[day] = r * out[day - 1] + np.sqrt(1 - r**2) * out[day]
    return out


class Log(NamedTuple):
    """Extremes outdoors and inside, of one side."""

    outdoors: xr.Dataset
    inside: xr.Dataset


def invented(answer: Answer, days: int, r: float, seed: int, spread: float = 2.0) -> Log:
    """A log of weather that lasts, with a scatter that lasts."""
    rng = np.random.default_rng(seed)
    tmax = 12.0 + 7.0 * lasting(days, 0.7, rng)
    tmin = tmax - 8.0 + 0.5 * lasting(days, 0.7, rng)
    scatter = spread * lasting(days, r, rng)
    time = records.days("2026-02-01", "2030-12-31")[:days]
    outdoors = records.daily(time, tmin=tmin, tmax=tmax)
    return Log(outdoors, inside_of(answer, outdoors, {"tmin": scatter, "tmax": scatter}))


def inside_of(
    answer: Answer, outdoors: xr.Dataset, scatter: Mapping[str, np.ndarray]
) -> xr.Dataset:
    """Inside a space whose one extreme follows the answer; the other is 3 degC above outdoors."""
    follows = {"tmin": answer.side == "coldest", "tmax": answer.side == "warmest"}
    inside = {
        name: (answer.inside(outdoors[name].values) if follows[name] else outdoors[name] + 3.0)
        + scatter[name]
        for name in follows
    }
    return records.daily(outdoors["time"], **inside)


REAL = (
    ("Urbana_IL", "Indianola_IA"),
    ("FortDodge_IA", "Indianola_IA"),
    ("Brussels_BE", "KleinAltendorf_DE"),
    ("Albany_NY", "Wooster_OH"),
)
"""A station outdoors, and one whose days scatter about it: the weather and its lasting are real."""


def real(pair: tuple[str, str]) -> tuple[xr.Dataset, xr.Dataset]:
    """Outdoors and scatter of February to May of all common years, each extreme for itself.

    The scatter is what the second station departs from its line on the first, over all those years,
    scaled to 2 degC. So on the average of all years it has nothing to do with the weather outdoors.
    """
    one, other = (
        cw.read_daily(records.SHARED / "records" / f"{name}.csv")[["tmin", "tmax"]] for name in pair
    )
    one, other = xr.align(one, other, join="inner")
    spring = one["time"].dt.month.isin([2, 3, 4, 5])
    one, other = one.sel(time=spring), other.sel(time=spring)
    scatter = {}
    for name in ("tmin", "tmax"):
        known = (one[name].notnull() & other[name].notnull()).values
        x, y = one[name].values[known], other[name].values[known]
        line = stats.linregress(x, y)
        left = other[name] - line.intercept - line.slope * one[name]
        scatter[name] = 2.0 * left.values / float(left.std())
    return one, records.daily(one["time"], **scatter)


def real_logs(answer: Answer, pair: tuple[str, str], days: int, least: int = 20) -> Iterable[Log]:
    """A log of every spring, beginning on 15 February."""
    outdoors, scatter = real(pair)
    # The bend comes where it is in the invented logs: by as much above the mean outdoors.
    middle = {name: float(outdoors[name].mean()) - mean for name, mean in USUAL.items()}
    for year in np.unique(outdoors["time"].dt.year):
        first = np.datetime64(f"{year}-02-15")
        span = slice(first, first + np.timedelta64(days - 1, "D"))
        out, noise = outdoors.sel(time=span), scatter.sel(time=span)
        known = int((noise["tmin"].notnull() & noise["tmax"].notnull()).sum())
        if known < max(least, 0.9 * days):
            continue
        there = {name: out[name].values - middle[name] for name in USUAL}
        moved = records.daily(out["time"], **there)
        yield Log(moved, inside_of(answer, moved, {name: noise[name].values for name in USUAL}))


USUAL = {"tmin": 4.0, "tmax": 12.0}
"""Mean outdoors in invented logs. [degC]"""


# --- intervals ----------------------------------------------------------------------------


class Held(NamedTuple):
    """Whether intervals of the intercept and of the slope hold, and the width of the slope's."""

    intercept: bool
    slope: bool
    width: float
    chance: float = 0.0
    """How likely a bend is said to be."""


def by_least_squares(x: np.ndarray, y: np.ndarray, answer: Answer) -> Held:
    """Intervals of a straight line through the days on the colder side of the true bend.

    A bend that had to be found would make them wider; so would weather that lasts.
    """
    if answer.bend_c is not None and (x < answer.bend_c).sum() > 4:
        x, y = x[x < answer.bend_c], y[x < answer.bend_c]
    line = stats.linregress(x, y)
    t = float(stats.t.isf((1 - LEVEL) / 2, len(x) - 2))
    return Held(
        abs(line.intercept - answer.intercept) <= t * line.intercept_stderr,
        abs(line.slope - answer.slope) <= t * line.stderr,
        2 * t * line.stderr,
    )


def by_fit(log: Log, answer: Answer) -> Held:
    """Intervals of `fit_cover`."""
    line = getattr(fit_cover(log.inside, log.outdoors), answer.side)
    (low, high), (least, most) = line.intervals()
    return Held(
        low <= answer.intercept <= high,
        least <= answer.slope <= most,
        most - least,
        line.bend_chance or 0.0,
    )


class Cell(NamedTuple):
    """Logs of one kind."""

    name: str
    plain: list[Held]
    fitted: list[Held]


def cell(name: str, answer: Answer, logs: Iterable[Log]) -> Cell:
    plain, fitted = [], []
    which = "tmax" if answer.side == "warmest" else "tmin"
    for log in logs:
        x, y = log.outdoors[which].values, log.inside[which].values
        known = np.isfinite(x) & np.isfinite(y)
        plain.append(by_least_squares(x[known], y[known], answer))
        fitted.append(by_fit(log, answer))
    return Cell(name, plain, fitted)


def row(some: Cell) -> str:
    """A line of a table."""

    def holds(several: Sequence[Held]) -> str:
        return " | ".join(
            f"{np.mean([getattr(each, of) for each in several]):.2f}"
            for of in ("intercept", "slope")
        )

    wide = [float(np.median([each.width for each in side])) for side in (some.plain, some.fitted)]
    return (
        f"| {some.name} | {len(some.fitted)} | {holds(some.plain)} | {holds(some.fitted)} "
        f"| {wide[0]:.2f} | {wide[1]:.2f} |"
    )


HEAD = table_head(
    "log",
    "logs",
    "least squares: intercept",
    "slope",
    "`fit_cover`: intercept",
    "slope",
    "wide: least squares",
    "`fit_cover`",
)


def table(cells: Sequence[Cell]) -> str:
    together = Cell(
        "all", [h for c in cells for h in c.plain], [h for c in cells for h in c.fitted]
    )
    return "\n".join([*HEAD, *map(row, cells), row(together)])


def told(cells: Sequence[Cell]) -> str:
    """How often a bend is told plainly, or as a perhaps, by kind of response."""
    kinds: dict[str, list[float]] = {}
    for some in cells:
        kinds.setdefault(some.name.partition(",")[0], []).extend(h.chance for h in some.fitted)
    lines = table_head("log", "logs", "plainly", "perhaps")
    for kind, chances in kinds.items():
        plain = np.greater_equal(chances, PLAIN_BEND)
        perhaps = np.greater(chances, 0.5) & ~plain
        lines.append(f"| {kind} | {len(plain)} | {plain.mean():.2f} | {perhaps.mean():.2f} |")
    return "\n".join(lines)


def simulated(
    answers: Sequence[Answer], days: Sequence[int], rs: Sequence[float], logs: int, seed: int
) -> list[Cell]:
    """Cells of invented logs."""
    return [
        cell(
            f"{answer.name}, {n} days, lasting {r}",
            answer,
            (invented(answer, n, r, 1000 * seed + each) for each in range(logs)),
        )
        for answer in answers
        for n in days
        for r in rs
    ]


def main(logs: int = 100, seed: int = 1) -> None:
    """Print the tables."""
    warnings.simplefilter("ignore")
    every = []
    for title, answers, days, rs in (
        ("Invented logs", ANSWERS, DAYS, LASTING),
        ("Invented logs with bends that hardly show", WEAK, WEAK_DAYS, WEAK_LASTING),
        ("Invented logs that were looked at last", HELD_OUT, HELD_OUT_DAYS, HELD_OUT_LASTING),
    ):
        cells = simulated(answers, days, rs, logs, seed)
        print(f"\n## {title}\n\n{table(cells)}", flush=True)
        every += cells
        seed += 1
    print(f"\n## Bends that are told: invented logs\n\n{told(every)}", flush=True)
    every = []
    for title, pairs in (("chosen on", REAL[:2]), ("not chosen on", REAL[2:])):
        print(f"\n## Real weather and real scatter that the lasting part was {title}\n")
        cells = [
            cell(
                f"{answer.name}, {n} days",
                answer,
                [log for pair in pairs for log in real_logs(answer, pair, n)],
            )
            for answer in (*ANSWERS, *WEAK, *HELD_OUT)
            for n in (45, 90)
        ]
        print(table(cells), flush=True)
        every += cells
    print(f"\n## Bends that are told: real weather and scatter\n\n{told(every)}", flush=True)


# --- odds of crops ------------------------------------------------------------------------

PLANS = (
    ("cauliflower", "02-15", 6),
    ("cauliflower", "03-05", 6),
    ("cauliflower", "04-01", 6),
    ("tomato", "03-15", 8),
    ("tomato", "04-10", 8),
)
"""Crops, the days on which they are sown in the space, and the weeks there."""


def crop_odds(lines: int = 20) -> None:
    """Print shares of years with a harvest, by the line shown and over lines that the log allows.

    Urbana in 1985 to 2014, and logs of 45 days from its spring of 2010 with bends that hardly show.
    """
    warnings.simplefilter("ignore")
    daily = cw.read_daily(records.SHARED / "records" / "Urbana_IL.csv")
    daily = daily.sel(time=slice("1985", "2014")).assign_attrs(latitude=40.1)
    outdoors = daily[["tmin", "tmax"]].sel(time=slice("2010-03-01", "2010-04-14"))
    columns = ("line shown", "mean of lines", "lines differ by", "interval")
    print(*table_head("log", "crop", "sown", *columns), sep="\n")
    for answer in WEAK:
        scatter = 2.0 * lasting(outdoors.sizes["time"], 0.4, np.random.default_rng(1))
        inside = inside_of(answer, outdoors, {"tmin": scatter, "tmax": scatter})
        inside["tmax"] = np.maximum(inside["tmax"], inside["tmin"])
        shown = fit_cover(inside, outdoors)
        pairs = list(zip(shown.coldest.drawn, shown.warmest.drawn, strict=True))[:lines]
        covers = [shown, *(replace(shown, coldest=low, warmest=high) for low, high in pairs)]
        for crop, sown, weeks in PLANS:
            odds = [
                cw.harvest_odds(
                    cw.evaluate_plan(
                        cw.Plan(
                            cw.crop(crop),
                            sown,
                            weeks_under_cover=weeks,
                            cover=each.name,
                            space=each,
                        ),
                        daily,
                    )
                )
                for each in covers
            ]
            first, *others = (float(each["share"]) for each in odds)
            wide = float(odds[0]["high"] - odds[0]["low"])
            print(
                f"| {answer.name} | {crop} | {sown} | {first:.2f} | {np.mean(others):.2f} "
                f"| {np.std(others):.2f} | {wide:.2f} |",
                flush=True,
            )


if __name__ == "__main__":
    if sys.argv[1:] == ["crops"]:
        crop_odds()
    else:
        main(*(int(text) for text in sys.argv[1:]))
