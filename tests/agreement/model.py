"""What climwin says of a crop at a place: the only module here that calls its growing model.

The scoring modules ask `sweep`, `spans`, `life` and the few functions below, and know nothing of
how the answers are made.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import NamedTuple

import numpy as np


@dataclass(frozen=True)
class Sweep:
    """Answers for each day of the year on which a crop is sown, planted or set out.

    Parameters
    ----------
    share : ndarray, shape (365,)
        Harvests among the years that are known; missing where no year is.
    expected_crop : ndarray, shape (365,)
        Mean over the known years, nothing in a failed one. Any unit, the same on all days.
    days_to_harvest : ndarray, shape (365,)
        Median over the years with a harvest, from the date to the first harvest. [days]
    failed_by : mapping of str to ndarray, shape (365,)
        Share of the known years that failed by each reason.
    early : ndarray of bool, shape (365,)
        Where the answer is that of an early variety, see `safer_kind`.
    """

    share: np.ndarray
    expected_crop: np.ndarray
    days_to_harvest: np.ndarray
    failed_by: Mapping[str, np.ndarray] = field(default_factory=dict)
    early: np.ndarray = field(default_factory=lambda: np.zeros(365, bool))


class Span(NamedTuple):
    """Dates that the model recommends, as days of the year; `last` may run past 365."""

    season: str
    first: int
    best: int
    last: int
    share: float
    expected_crop: float
