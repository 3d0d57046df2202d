"""Whether the numbers of a bed trial can be: what a cell means, and plots that are far off.

Common practice throughout: plots of one bed lie within a few times of each other.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from typing import NamedTuple

import numpy as np

from climwin.io import delimited

UNIT_TIMES, UNIT_SHARE = 25.0, 1 / 200
"""A plot so many times above the middle of its column, or at so small a share of it, is in another
unit: grams among kilograms (1000 times), grams among ounces (28 times). A plot that failed may be
small, so the share is smaller."""
SLIP_TIMES, SLIP_COUNT = 6.0, 10.0
"""A plot so many times above the next largest of its column is a slip of the pen; in a column of
whole numbers only if that next one is 10 or more, for few plants may well be many times fewer."""
FEWEST_PLOTS = 4
"""Plots with a value that such a comparison needs."""
LONGEST_DAYS = 730.0
"""No plot of a bed trial stands longer between planting and harvest. [day]"""

_POSITIVE = re.compile(
    r"weight|yield|harvest|heads|fruits?|plants|count|number|mass|(?:^|_)(?:k?g|lb|oz|t)(?:$|_)",
    re.IGNORECASE,
)
"""Names of columns that count or weigh: no value lies below zero."""
_THOUSANDS_OR_DECIMALS = re.compile(r"[+-]?[1-9]\d{0,2},\d{3}")
_GROUPED = re.compile(r"[+-]?[1-9]\d{0,2}(?:,\d{3})+\.\d+|[+-]?[1-9]\d{0,2}(?:,\d{3}){2,}")
_DECIMAL_COMMA = re.compile(r"[+-]?\d+,(?:\d{1,2}|\d{4,})|[+-]?0,\d+|[+-]?\d{4,},\d+")
_DECIMAL_POINT = re.compile(r"[+-]?\d*\.\d+")


class Convention(NamedTuple):
    """What a comma means in a file's numbers: whether it parts thousands, None where none tells."""

    thousands: bool | None


def number_convention(texts: Sequence[str], delimiter: str | None) -> Convention:
    """What a comma means in a file's numbers, by the file's own cells.

    Parameters
    ----------
    texts : sequence of str
        All cells of its columns of numbers.
    delimiter : str or None
        What separates its columns: where that is a comma, none is a decimal comma.

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
    """Numbers of a column by the file's convention.

    Returns
    -------
    values : ndarray of float
        Missing where nothing, or no number, stands.
    is_bad, is_doubtful : ndarray of bool
        Where something stands that is no number; and where a comma may part thousands or decimals.
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
    """Which values of a column that counts or weighs lie below zero."""
    if not _POSITIVE.search(name):
        return np.zeros(len(values), bool)
    return np.asarray(values < 0)


def in_another_unit(values: np.ndarray) -> np.ndarray:
    """Which plots are so far above or below the others that their unit is another."""
    known = values[values > 0]
    if len(known) < FEWEST_PLOTS:
        return np.zeros(len(values), bool)
    middle = _middle(known)
    positive = values > 0
    return np.asarray(positive & ((values > UNIT_TIMES * middle) | (values < middle * UNIT_SHARE)))


def slips(values: np.ndarray) -> np.ndarray:
    """Which plot is so far above all others that a digit or a point has slipped."""
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


def _middle(known: np.ndarray) -> float:
    """Value in the midst of the largest group within the unit's limit of each other."""
    near = np.abs(np.log(known[:, None] / known)) < np.log(UNIT_TIMES)
    return float(np.median(known[near[near.sum(axis=1).argmax()]]))
