"""Simulated years, assembled from shifted monthly segments of the observed ones.

A short record has few years. Official freeze normals smooth it by drawing each month's departures
from a random year, shifted by up to two weeks either way.
"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from climwin.core.seasons import DAYS, MONTH_STARTS, offset, smoothed

SHIFT = 14
"""Largest shift of a segment, either way. [days]"""
HARMONICS = 4
"""Harmonics of the smooth year that departures are taken from. For 12 of 16 real records four
predict the daily means of years left out better than two (``tests/odds/GAPS.md``)."""
LEAST_SPREAD_C = 0.1
"""Smallest standard deviation of a day of the year: harmonics fitted to the squares of a short
record may dip below zero. [degC]"""
_FULL_SHARE = 0.9  # least share of days with which a segment may be drawn (common practice)


def simulated_seasons(
    grid: np.ndarray, first_day: int, count: int, filled: np.ndarray | None = None
) -> np.ndarray:
    """Daily values of simulated seasons.

    Parameters
    ----------
    grid : ndarray, shape (years, 365)
        Calendar years of one station, from `seasons.by_year`.
    first_day : int
        Day of the year on which a season begins.
    count : int
        Seasons to simulate.
    filled : ndarray, shape (draws, years, 365), optional
        The same years with their gaps drawn; an equal share of the seasons comes from each draw.

    Returns
    -------
    ndarray, shape (count, 365)
        The smoothed climatology of the place plus departures from it; the same record always gives
        the same numbers. All NaN if some month is complete in no year.

    Notes
    -----
    Departures are shifted, not temperatures: a spring segment shifted by two weeks would otherwise
    bring a colder month with it and delay every last freeze [1]_. They are shifted in standard
    deviations, because one spring fortnight may vary more than the next. On simulated records with
    known odds this changes the season's error at one year in ten from -0.4 to 0.1 days.

    References
    ----------
    .. [1] A. Arguez et al., "NOAA's 1981-2010 U.S. climate normals: an overview," Bulletin of the
       American Meteorological Society, vol. 93, pp. 1687-1697, 2012 (from memory); that departures
       are shifted is our reading, borne out by the official dates.
    """
    sources, rng = _sources(grid, first_day, filled), np.random.default_rng(0)
    years = np.arange(len(grid))
    each = [source.draw(years, count // len(sources), rng) for source in sources]
    return np.concatenate(each)


def resampled_seasons(
    grid: np.ndarray,
    first_day: int,
    resamples: int,
    count: int,
    filled: np.ndarray | None = None,
) -> Iterator[np.ndarray]:
    """Simulated seasons of bootstrap resamples of the years, shape (count, 365) each.

    Successive resamples take their years from successive draws in `filled`.
    """
    sources, rng = _sources(grid, first_day, filled), np.random.default_rng(1)
    for number in range(resamples):
        source = sources[number % len(sources)]
        yield source.draw(rng.choice(len(grid), len(grid)), count, rng)


def _sources(grid: np.ndarray, first_day: int, filled: np.ndarray | None) -> list[_Source]:
    return [_Source(grid, first_day, draw) for draw in (grid[None] if filled is None else filled)]


class _Source:
    """Departures of one station in standard deviations, by year and monthly segment of the season.

    `grid` holds what was measured, `filled` the same with gaps filled as far as possible.
    """

    def __init__(self, grid: np.ndarray, first_day: int, filled: np.ndarray) -> None:
        usual = smoothed(filled, HARMONICS)
        self.day = int(offset(first_day)) + np.arange(DAYS)
        self.usual = usual[self.day % DAYS]
        departure = filled - usual
        spread = np.sqrt(np.maximum(smoothed(departure**2, HARMONICS), LEAST_SPREAD_C**2))
        self.spread = spread[self.day % DAYS]
        self.departure = (departure / spread).ravel()
        month = np.searchsorted(MONTH_STARTS, self.day % DAYS, side="right")
        self.segment = np.concatenate([[0], np.cumsum(np.diff(month) != 0)])
        days = np.arange(len(grid))[:, None] * DAYS + self.day
        present = ~np.isnan(np.take(grid.ravel(), days, mode="wrap"))
        segments = range(self.segment[-1] + 1)
        share = [present[:, self.segment == s].mean(axis=1) for s in segments]
        self.full = np.array(share) >= _FULL_SHARE  # (segment, year)

    def _at(self, index: np.ndarray) -> np.ndarray:
        return np.take(self.departure, index, mode="wrap")

    def draw(self, pool: np.ndarray, count: int, rng: np.random.Generator) -> np.ndarray:
        """Seasons whose segments come from the years in `pool`; missing days have no departure."""
        choices = [pool[full[pool]] for full in self.full]
        if not all(len(years) for years in choices):
            return np.full((count, DAYS), np.nan)
        year = np.stack([rng.choice(years, count) for years in choices], axis=1)
        shift = rng.integers(-SHIFT, SHIFT + 1, year.shape)
        departure = self._at((year * DAYS + shift)[:, self.segment] + self.day)
        return self.usual + self.spread * np.nan_to_num(departure)
