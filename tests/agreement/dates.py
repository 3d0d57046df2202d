"""Published dates as windows on a circle of 365 days, and distances between dates and windows."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

import numpy as np

DAYS = 365
ONE_ENDED_DAYS = 21
"""Days from the end that a calendar gives to the end that it does not give. Sowing lists often say
"from 15 April" or "not after 15 July" and no more."""


def day_of_year(date: str) -> int:
    """Day of a year of 365 days, 1 to 365, of a month and day such as ``"04-15"``.

    29 February counts as 28 February.
    """
    month, day = (int(part) for part in date.split("-"))
    if (month, day) == (2, 29):
        day = 28
    return dt.date(2001, month, day).timetuple().tm_yday


def name_of(day: int) -> str:
    """Month and day, such as ``"04-15"``, of a day of the year; 366 is 1 January again."""
    date = dt.date(2001, 1, 1) + dt.timedelta(days=(int(day) - 1) % DAYS)
    return date.strftime("%m-%d")


def on_circle(day: np.ndarray | int) -> np.ndarray | int:
    """A day counted past the end of the year as a day of the year, 1 to 365."""
    return (day - 1) % DAYS + 1


@dataclass(frozen=True)
class Window:
    """Run of days, both ends in.

    Parameters
    ----------
    first, last : int
        Days of the year. `last` is at least `first` and is counted on past 365 where the window
        runs over the year's end, so that 1 November to 31 January is 305 to 396.
    both_ends : bool
        Whether the calendar gives both ends.
    """

    first: int
    last: int
    both_ends: bool = True

    def __post_init__(self) -> None:
        if not 1 <= self.first <= DAYS or not self.first <= self.last < self.first + DAYS:
            msg = f"a window begins in 1..{DAYS} and lasts at most a year: {self}"
            raise ValueError(msg)

    @classmethod
    def published(cls, earliest: str, latest: str) -> Window:
        """Window of a calendar's row; one end may be empty, see `ONE_ENDED_DAYS`."""
        if not earliest and not latest:
            raise ValueError("a row needs at least one end")
        if not latest:
            first = day_of_year(earliest)
            return cls(first, first + ONE_ENDED_DAYS, both_ends=False)
        last = day_of_year(latest)
        if not earliest:
            first = int(on_circle(last - ONE_ENDED_DAYS))
            return cls(first, first + ONE_ENDED_DAYS, both_ends=False)
        return cls.between(day_of_year(earliest), last)

    @classmethod
    def between(cls, first: int, last: int) -> Window:
        """Window between two days of the year; it runs over the year's end if need be."""
        return cls(first, last if last >= first else last + DAYS)

    def __len__(self) -> int:
        return self.last - self.first + 1

    def __str__(self) -> str:
        return f"{name_of(self.first)} to {name_of(self.last)}"

    def days(self) -> np.ndarray:
        """Its days, each 1 to 365."""
        return np.asarray(on_circle(np.arange(self.first, self.last + 1)))

    def middle_half(self) -> Window:
        """The window without its first and last quarter."""
        quarter = (self.last - self.first) // 4
        first = self.first + quarter
        turns = (first - 1) // DAYS
        return Window(first - turns * DAYS, self.last - quarter - turns * DAYS, self.both_ends)

    def distance(self, day: int) -> int:
        """Days from the nearest end; 0 inside."""
        after_first = (day - self.first) % DAYS
        if after_first < len(self):
            return 0
        return min(after_first - len(self) + 1, DAYS - after_first)

    def overlap(self, other: Window) -> int:
        """Number of days in both."""
        return len(np.intersect1d(self.days(), other.days()))


def far_from(windows: list[Window], by: int) -> np.ndarray:
    """Which of the 365 days lie more than `by` days outside all windows.

    Returns
    -------
    ndarray of bool, shape (365,)
    """
    nearest = [min(w.distance(day) for w in windows) for day in range(1, DAYS + 1)]
    return np.array(nearest) > by


def smoothed(values: np.ndarray, days: int = 15) -> np.ndarray:
    """Centred running mean on the circle of the year, so that no single lucky day is the best.

    Days without a value count as 0.
    """
    half = days // 2
    shifted = [np.roll(np.nan_to_num(values), by) for by in range(-half, half + 1)]
    return np.mean(shifted, axis=0)


def best_day(values: np.ndarray) -> int:
    """Day of the year, 1 to 365, on which the smoothed values are highest."""
    return int(smoothed(values).argmax()) + 1
