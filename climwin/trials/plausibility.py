"""Check the numbers of a bed trial: what a comma means, and plots that cannot be right.

The limits are common practice: plots of one bed differ by a few times at most.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
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
    out = np.zeros(len(values), bool)
    known = np.flatnonzero(values > 0)
    if len(known) < FEWEST_PLOTS:
        return out
    ordered = known[np.argsort(values[known])]
    second = values[ordered[-2]]
    if (values[known] == np.round(values[known])).all() and second < SLIP_COUNT:
        return out
    if values[ordered[-1]] > SLIP_TIMES * second:
        out[ordered[-1]] = True
    return out


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
