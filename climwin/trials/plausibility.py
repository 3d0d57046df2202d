"""Check the numbers of a bed trial: what a comma means, and plots that cannot be right.

The limits are common practice: plots of one bed differ by a few times at most.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from types import MappingProxyType
from typing import NamedTuple

import numpy as np

from climwin.io import delimited

UNIT_TIMES, UNIT_SHARE = 25.0, 1 / 200
"""A plot above so many times the middle of its column, or below this share of it, is in another
unit: grams among kilograms (1000 times), grams among ounces (28 times). The share is smaller than
the inverse because a plot that failed may be small."""
SLIP_TIMES, SLIP_COUNT = 6.0, 10.0
"""A plot so many times above the next largest of its column is a slip of the pen. In a column of
whole numbers this holds only if the next largest is 10 or more, because small counts may well
differ that much."""
TENFOLD_OVER, TENFOLD_TIMES, TENFOLD_LEVEL = 2.5, 5.0, 0.05
"""A plot is ten times too large if it is so many times above the next largest, so many times what
the others of its block and treatment make of it, and further above that than chance brings. The
test is that of the largest residual, studentised without its own plot, at this level divided by the
number of plots: R. D. Cook and S. Weisberg, "Residuals and Influence in Regression", 1982, section
2.2 (from memory). It is of logarithms, since blocks and treatments change yields by a factor."""
GRAMS = MappingProxyType({"g": 1.0, "kg": 1000.0, "oz": 28.35, "lb": 453.6})
"""Weights in grams."""
PLOT_GRAMS = (10.0, 500_000.0)
"""Least and largest weight of the middle plot: a row of cress, and a bed of pumpkins. Grams under
the name of kilograms, or the reverse, lie beyond. [g]"""
FEWEST_PLOTS = 4
"""Fewest plots with a value for such a comparison."""
OUT_OF_SEASON_DAYS = 180.0
"""Plots of one trial stood for about as long as each other: by how much the time of one may differ
from the middle. More is a wrong year. [day]"""
LONGEST_DAYS = 730.0
"""Longest time between planting and harvest of a plot. [day]"""

_POSITIVE = re.compile(
    r"weight|yield|harvest|heads|fruits?|plants|count|number|mass|(?:^|_)(?:k?g|lb|oz|t)(?:$|_)",
    re.IGNORECASE,
)
"""Names of columns of counts or weights, in which no value is below zero."""
_WEIGHT = re.compile(r"weight|mass|(?:^|_)(?:k?g|lb|oz)(?:$|_)", re.IGNORECASE)
_THOUSANDS_OR_DECIMALS = re.compile(r"[+-]?[1-9]\d{0,2},\d{3}")
_GROUPED = re.compile(r"[+-]?[1-9]\d{0,2}(?:,\d{3})+\.\d+|[+-]?[1-9]\d{0,2}(?:,\d{3}){2,}")
_DECIMAL_COMMA = re.compile(r"[+-]?\d+,(?:\d{1,2}|\d{4,})|[+-]?0,\d+|[+-]?\d{4,},\d+")
_DECIMAL_POINT = re.compile(r"[+-]?\d*\.\d+")


class Convention(NamedTuple):
    """What a comma means in a file's numbers: whether it separates thousands; None if unclear."""

    thousands: bool | None


def number_convention(texts: Sequence[str], delimiter: str | None) -> Convention:
    """Infer what a comma means in a file's numbers from the file's own cells.

    Parameters
    ----------
    texts : sequence of str
        All cells of the columns of numbers.
    delimiter : str or None
        What separates the columns; if a comma does, no comma is a decimal one.

    Examples
    --------
    >>> number_convention(["3,890", "4.5"], ";").thousands
    True
    >>> number_convention(["3,890", "4,5"], ";").thousands
    False
    >>> number_convention(["3,890", "4,120"], ";").thousands is None
    True
    """
    cells = [text.strip() for text in texts]
    if any(_DECIMAL_COMMA.fullmatch(cell) for cell in cells):
        return Convention(False)
    if any(_DECIMAL_POINT.fullmatch(cell) or _GROUPED.fullmatch(cell) for cell in cells):
        return Convention(True)
    return Convention(True) if delimiter == "," else Convention(None)


def read_numbers(
    texts: Sequence[str], convention: Convention
) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Read the numbers of a column by the file's convention.

    Returns
    -------
    values : ndarray of float
        Missing if the cell is empty or not a number.
    is_bad, is_doubtful : ndarray of bool
        Cells that are not numbers; and cells in which a comma may separate thousands or decimals.
    """
    commas = np.array([bool(_THOUSANDS_OR_DECIMALS.fullmatch(t.strip())) for t in texts], bool)
    grouped = [bool(_GROUPED.fullmatch(text.strip())) for text in texts]
    plain = [
        text.replace(",", "") if group or (comma and convention.thousands) else text
        for text, comma, group in zip(texts, commas, grouped, strict=True)
    ]
    values, is_bad = delimited.numbers(plain)
    is_doubtful = commas if convention.thousands is None else np.zeros(len(texts), bool)
    return values, is_bad, is_doubtful


def below_zero(name: str, values: np.ndarray) -> np.ndarray:
    """Which values of a column of counts or weights are below zero."""
    if not _POSITIVE.search(name):
        return np.zeros(len(values), bool)
    return np.asarray(values < 0)


def in_another_unit(values: np.ndarray) -> np.ndarray:
    """Which plots are so far from the others that they must be in another unit."""
    known = values[values > 0]
    if len(known) < FEWEST_PLOTS:
        return np.zeros(len(values), bool)
    middle = _middle(known)
    positive = values > 0
    return np.asarray(positive & ((values > UNIT_TIMES * middle) | (values < middle * UNIT_SHARE)))


def slips(values: np.ndarray) -> np.ndarray:
    """Which plot is so far above all others that a digit or a point must have slipped."""
    return _marked(values, _above(values, SLIP_TIMES))


def tenfold(values: np.ndarray, block: np.ndarray, treatment: np.ndarray) -> np.ndarray:
    """Which plot is about ten times what the others of its block and treatment make of it.

    Parameters
    ----------
    values, block, treatment : ndarray, shape (plots,)
        A column of the sheet, and the names of each plot's block and treatment.

    Examples
    --------
    >>> grams = np.array([389.0, 457, 524, 441, 3655, 498, 402, 480])
    >>> pairs = np.repeat(["1", "2", "3", "4"], 2)
    >>> tenfold(grams, pairs, np.array(["early", "late"] * 4)).nonzero()[0].tolist()
    [4]
    """
    from scipy import stats

    largest = _above(values, TENFOLD_OVER)
    if largest is None or (values < 0).any():
        return _marked(values, None)
    known = np.flatnonzero(values > 0)
    others = known[known != largest]
    parts = [names[:, None] == np.unique(names) for names in (block, treatment)]
    design = np.hstack(parts).astype(float)
    freedom = len(others) - np.linalg.matrix_rank(design[others])
    inverse = np.linalg.pinv(design[others])
    expected = inverse @ np.log(values[others])
    if freedom < 1 or not np.allclose(design[largest] @ inverse @ design[others], design[largest]):
        return _marked(values, None)  # no other plot of its block, or none to tell the scatter from
    scatter = np.log(values[others]) - design[others] @ expected
    error = np.sqrt(scatter @ scatter / freedom * (1 + ((design[largest] @ inverse) ** 2).sum()))
    beyond = float(np.log(values[largest]) - design[largest] @ expected)
    by_chance = len(known) * float(stats.t.sf(beyond / error, freedom)) if error > 0 else 0.0
    is_slip = beyond > np.log(TENFOLD_TIMES) and by_chance < TENFOLD_LEVEL
    return _marked(values, largest if is_slip else None)


def _above(values: np.ndarray, times: float) -> int | None:
    """The plot that is so many times above the next largest; None if there is none to judge."""
    known = np.flatnonzero(values > 0)
    if len(known) < FEWEST_PLOTS:
        return None
    ordered = known[np.argsort(values[known])]
    second = values[ordered[-2]]
    if (values[known] == np.round(values[known])).all() and second < SLIP_COUNT:
        return None
    return int(ordered[-1]) if values[ordered[-1]] > times * second else None


def _marked(values: np.ndarray, plot: int | None) -> np.ndarray:
    """A mask that is true for one plot, or for none."""
    return np.arange(len(values)) == (-1 if plot is None else plot)


def no_plots_weight(values: np.ndarray, unit: str) -> np.ndarray:
    """Which weights are those of no plot, if the middle one is not.

    Parameters
    ----------
    values : ndarray, shape (plots,)
        A column of the sheet.
    unit : str
        One of `GRAMS`.

    Examples
    --------
    >>> no_plots_weight(np.array([3890.0, 4570, 5240, 6180]), "kg").all()
    np.True_
    """
    known = values[values > 0]
    low, high = (each / GRAMS[unit] for each in PLOT_GRAMS)
    is_possible = len(known) < FEWEST_PLOTS or low <= np.median(known) <= high
    return np.asarray((values > 0) & (not is_possible))


def out_of_season(days: np.ndarray) -> np.ndarray:
    """Which plots stood for so much longer, or shorter, than the others that a year is wrong.

    Parameters
    ----------
    days : ndarray, shape (plots,)
        From planting to harvest; missing where either is. [day]
    """
    known = days[~np.isnan(days)]
    if len(known) < FEWEST_PLOTS:
        return np.zeros(len(days), bool)
    return np.asarray(np.abs(days - np.median(known)) > OUT_OF_SEASON_DAYS)


def copied_down(name: str, values: np.ndarray) -> np.ndarray:
    """Which plots of a column of weights are all the same, as if one had been copied down.

    Counts may well be the same in all plots.
    """
    known = values[~np.isnan(values) & (values != 0)]
    is_copied = len(known) >= FEWEST_PLOTS and len(np.unique(known)) == 1
    is_copied &= bool(_WEIGHT.search(name))
    return np.asarray((values == known[0]) if is_copied else np.zeros(len(values), bool))


def _middle(known: np.ndarray) -> float:
    """Median of the largest group of plots within `UNIT_TIMES` of one of them."""
    near = np.abs(np.log(known[:, None] / known)) < np.log(UNIT_TIMES)
    return float(np.median(known[near[near.sum(axis=1).argmax()]]))
