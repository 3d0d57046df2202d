"""Freeze dates of every year, and the odds of a freeze by date.

A freeze is a daily minimum at or below a threshold. Spring runs from the coldest day of the
place's smoothed year to the warmest, autumn from there to the coldest again.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import NamedTuple

import numpy as np
import xarray as xr

from climwin.core.provenance import provenance
from climwin.core.resampling import resampled_seasons, simulated_seasons
from climwin.core.schema import TOLERANCE_C, apply, check_choice, variable
from climwin.core.seasons import (
    DAYS,
    by_year,
    coldest_day,
    cut_seasons,
    keep_inside,
    offset,
    season_dates,
    seen_range,
    warmest_day,
)
from climwin.core.stats import (
    LEVEL,
    between,
    bootstrap_interval,
    bootstrap_ranks,
    neighbours,
    share_below,
)
from climwin.core.status import NONE, OBSERVED, UNKNOWN, decode_status

LADDER_C = tuple(round((f - 32) / 1.8, 1) for f in (36, 32, 28, 24, 20, 16))
"""The usual thresholds of agricultural normals, 36 to 16 degF. [degC]"""
LEVELS = tuple(p / 100 for p in range(10, 100, 10))
PLOTTING_POSITION = "hazen"
"""Of `stats.PLOTTING` the one whose largest miss of the official odds of two stations is least."""

_SIMULATED_YEARS = 10_000
_RESAMPLES = 1_000


class _Halves(NamedTuple):
    """Of each season, last day of spring and first of autumn with a freeze; missing if none."""

    spring: np.ndarray
    autumn: np.ndarray


def freeze_dates(daily: xr.Dataset, threshold: float | Sequence[float] = 0.0) -> xr.Dataset:
    """Last spring and first autumn freeze of every season, and the days free of freezes between.

    Parameters
    ----------
    daily : Dataset, dims (..., time)
        Needs ``tmin``. [degC]
    threshold : float or sequence of float
        A freeze is a minimum at or below it; several give a dimension ``threshold``. [degC]

    Returns
    -------
    Dataset, dims (..., season)
        ``last_spring`` and ``first_autumn`` as dates, ``freeze_free_days`` (first minus last
        minus 1), and of each the ``*_status``: ``observed``; ``none`` where no freeze came (or no
        freeze bounds the days between); ``unknown`` where a gap could change the answer, that is
        where a missing day lies between the date and midsummer, at a time of the year at which
        this place has frozen. ``*_day`` counts from 1 January of the season's own year.

    Raises
    ------
    DataGapError
        If the record is too thin to have a coldest day.
    """
    grid = by_year(variable(daily, "tmin"))
    first, warmest = coldest_day(daily), warmest_day(daily)
    limits = np.ravel(threshold) + TOLERANCE_C
    results = apply(
        _dates_kernel(limits),
        grid,
        first,
        warmest,
        core=[["year", "day_of_year"], [], []],
        out=[["threshold", "season"]] * 4,
        sizes={"threshold": len(limits), "season": grid.sizes["year"]},
        dtypes=[float, float, int, int],
        each=True,
    )
    names = ("spring", "autumn", "spring_code", "autumn_code")
    found = xr.Dataset(dict(zip(names, results, strict=True)))
    found = found.transpose("threshold", ...) if np.ndim(threshold) else found.isel(threshold=0)
    found = keep_inside(found.assign_coords(season=grid["year"].values), grid, first)
    return _stepped(_named(found, first), threshold).assign_attrs(
        threshold_c=np.asarray(threshold, float).tolist(), **provenance(daily)
    )


def _stepped(result: xr.Dataset, threshold: float | Sequence[float]) -> xr.Dataset:
    """Label the steps of several thresholds."""
    steps = ("threshold", np.ravel(threshold), {"units": "degC"})
    return result.assign_coords(threshold=steps) if np.ndim(threshold) else result


def _dates_kernel(limits: np.ndarray) -> Callable[..., tuple[np.ndarray, ...]]:
    def kernel(grid: np.ndarray, first_day: int, warmest: int) -> tuple[np.ndarray, ...]:
        season, turn = cut_seasons(grid, first_day), _turn(first_day, warmest)
        lowest = np.roll(seen_range(grid)[0], 1 - first_day)
        feared = np.where(np.isnan(season), lowest, season)
        sure, possible = (_halves(s <= limits[:, None, None], turn) for s in (season, feared))
        codes = [
            np.where(np.isnan(other), 1, np.where(day == other, 0, 2))
            for day, other in zip(sure, possible, strict=True)
        ]
        return sure.spring, sure.autumn, codes[0], codes[1]

    return kernel


def _turn(first_day: int, warmest: int) -> int:
    """Days from the coldest day to the warmest; 1 where a station has too few days to tell."""
    return max((warmest - first_day) % DAYS, 1)


def _halves(frozen: np.ndarray, turn: int) -> _Halves:
    """First and last freeze by scanning outwards from midsummer, `turn` days into the season."""
    back, on = frozen[..., :turn][..., ::-1], frozen[..., turn:]
    spring = np.where(back.any(-1), turn - 1 - back.argmax(-1), np.nan)
    return _Halves(spring, np.where(on.any(-1), turn + on.argmax(-1), np.nan))


def _named(found: xr.Dataset, first: xr.DataArray) -> xr.Dataset:
    out = xr.Dataset()
    days = found["autumn"] - found["spring"] - 1
    spring, autumn = found["spring_code"], found["autumn_code"]
    code = (spring | autumn).where((spring != 1) & (autumn != 1), 1)
    for name, half in (("last_spring", "spring"), ("first_autumn", "autumn")):
        day = found[half].where(found[f"{half}_code"] == 0)
        out[name] = season_dates(day, first)
        out[f"{name}_day"] = day + offset_of(first) + 1
        out[f"{name}_day"].attrs["units"] = "day of the year"
        out[f"{name}_status"] = decode_status(found[f"{half}_code"])
    out["freeze_free_days"] = days.where(code == 0).assign_attrs(units="days")
    out["freeze_free_days_status"] = decode_status(code)
    return out


def offset_of(first: xr.DataArray) -> xr.DataArray:
    """Days from 1 January of a season's own year to its first day, by station."""
    return apply(offset, first, core=[[]], dtypes=[int])


# --- odds ---------------------------------------------------------------------------------


def freeze_odds(
    daily: xr.Dataset,
    threshold: float | Sequence[float] = 0.0,
    *,
    method: str = "ranked",
    levels: Sequence[float] = LEVELS,
) -> xr.Dataset:
    """Dates by which, and lengths for which, a freeze has given odds.

    Parameters
    ----------
    daily : Dataset, dims (..., time)
        Needs ``tmin``. [degC]
    threshold : float or sequence of float
        A freeze is a minimum at or below it. [degC]
    method : {"ranked", "resampled"}
        From the ranked dates of the years (Hazen's plotting positions), or from 10,000 simulated
        years put together from the months of the observed ones.
    levels : sequence of float
        Odds, 0 to 1.

    Returns
    -------
    Dataset, dims (..., odds)
        At each level p: ``last_spring``, the day with chance p of a freeze on it or later;
        ``first_autumn``, the day with chance p of a freeze on it or earlier;
        ``freeze_free_days``, the length that is reached with chance p. Days count from 1 January
        of the season's own year and may lie outside 1 to 365. ``*_low`` and ``*_high`` bound the
        90 % interval by bootstrap over years. Missing where the odds never reach the level:
        years without a freeze stay in the sample. ``*_known`` and ``*_frozen`` count the years
        that answer and the years that froze.

    Raises
    ------
    ValueError
        If the method or a level is not allowed.

    References
    ----------
    .. [1] H. C. S. Thom and R. H. Shaw, "Climatological analysis of freeze data for Iowa,"
       Monthly Weather Review, vol. 86, pp. 251-257, 1958 (pages from memory).
    .. [2] A. Arguez et al., "NOAA's 1981-2010 U.S. climate normals: an overview," Bulletin of the
       American Meteorological Society, vol. 93, pp. 1687-1697, 2012: the resampling of shifted
       monthly segments (pages from memory).
    """
    check_choice("method", method, _METHODS)
    if not all(0 < level < 1 for level in levels):
        msg = f"levels are odds between 0 and 1, got {list(levels)}."
        raise ValueError(msg)
    dates = freeze_dates(daily, threshold)
    odds = _stepped(_METHODS[method](daily, dates, levels), threshold)
    return odds.assign_attrs(
        dates.attrs, method=method, plotting_position=PLOTTING_POSITION, interval=LEVEL
    )


def _ranked(_: xr.Dataset, dates: xr.Dataset, levels: Sequence[float]) -> xr.Dataset:
    parts = []
    for event in _EVENTS:
        results = apply(
            event.ranked(np.asarray(levels)),
            dates[event.day],
            dates[f"{event.name}_status"],
            core=[["season"], ["season"]],
            out=[["odds"]] * 3,
            sizes={"odds": len(levels)},
            dtypes=[float] * 3,
            each=True,
        )
        parts.append(_labelled(event, results, levels))
    return xr.merge([*parts, _counts(dates)], compat="override")


def _resampled(daily: xr.Dataset, dates: xr.Dataset, levels: Sequence[float]) -> xr.Dataset:
    alone = xr.DataArray(dates.attrs["threshold_c"])
    results = apply(
        _simulated_odds(np.asarray(levels)),
        dates.coords.get("threshold", alone),
        by_year(variable(daily, "tmin")),
        coldest_day(daily),
        warmest_day(daily),
        core=[[], ["year", "day_of_year"], [], []],
        out=[["odds"]] * 9,
        sizes={"odds": len(levels)},
        dtypes=[float] * 9,
        each=True,
    )
    parts = [_labelled(e, results[3 * i : 3 * i + 3], levels) for i, e in enumerate(_EVENTS)]
    return xr.merge([*parts, _counts(dates)], compat="override")


def _simulated_odds(levels: np.ndarray) -> Callable[..., tuple[np.ndarray, ...]]:
    def kernel(
        threshold: float, grid: np.ndarray, first: int, warmest: int
    ) -> tuple[np.ndarray, ...]:
        turn, start = _turn(first, warmest), int(offset(first)) + 1

        def quantiles(seasons: np.ndarray) -> list[np.ndarray]:
            spring, autumn = _halves(seasons <= threshold, turn)  # no rounding to allow for
            values = (spring + start, autumn + start, autumn - spring - 1)
            return [
                event.quantiles(np.sort(np.where(np.isnan(v), event.endless, v)), levels)
                for event, v in zip(_EVENTS, values, strict=True)
            ]

        best = quantiles(simulated_seasons(grid, first, _SIMULATED_YEARS))
        resamples = resampled_seasons(grid, first, _RESAMPLES // 5, _SIMULATED_YEARS // 20)
        drawn = np.array([quantiles(seasons) for seasons in resamples])
        parts = [(best[i], *event.bounds(drawn[:, i])) for i, event in enumerate(_EVENTS)]
        return tuple(array for part in parts for array in part)

    return kernel


_METHODS: dict[str, Callable[[xr.Dataset, xr.Dataset, Sequence[float]], xr.Dataset]] = {
    "ranked": _ranked,
    "resampled": _resampled,
}


class _Event(NamedTuple):
    """One thing whose odds are asked, and on which side of it the odds are counted.

    `later` is true where a level is the chance of this date, or length, *or more*; a year without
    a freeze then stands before all dates (spring) or beyond all lengths.
    """

    name: str
    later: bool
    endless: float

    @property
    def day(self) -> str:
        return self.name if self.name == "freeze_free_days" else f"{self.name}_day"

    def quantiles(self, sample: np.ndarray, levels: np.ndarray) -> np.ndarray:
        """Value at each level of sorted samples, shape (..., n); missing where none is reached."""
        shares = 1 - levels if self.later else levels
        below, above, t = neighbours(np.array(sample.shape[-1]), shares, PLOTTING_POSITION)
        out = between(sample[..., below], sample[..., above], t)
        return np.where(np.isfinite(out), out, np.nan)

    def bounds(self, drawn: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        """Interval of each level over resamples, shape (resamples, levels); open where missing."""
        low, high = bootstrap_interval(np.where(np.isnan(drawn), self.endless, drawn))
        return np.where(np.isfinite(low), low, np.nan), np.where(np.isfinite(high), high, np.nan)

    def sample(self, days: np.ndarray, status: np.ndarray) -> np.ndarray:
        """Sorted values of the years that answer, the years without a freeze among them."""
        return np.sort(np.where(status == NONE, self.endless, days)[status != UNKNOWN])

    def ranked(self, levels: np.ndarray) -> Callable[..., tuple[np.ndarray, ...]]:
        def kernel(days: np.ndarray, status: np.ndarray) -> tuple[np.ndarray, ...]:
            sample = self.sample(days, status)
            if not len(sample):
                return (np.full(len(levels), np.nan),) * 3
            drawn = sample[bootstrap_ranks(len(sample), _RESAMPLES)]
            return self.quantiles(sample, levels), *self.bounds(self.quantiles(drawn, levels))

        return kernel


_EVENTS = (
    _Event("last_spring", later=True, endless=-np.inf),
    _Event("first_autumn", later=False, endless=np.inf),
    _Event("freeze_free_days", later=True, endless=np.inf),
)


def _labelled(
    event: _Event, results: Sequence[xr.DataArray], levels: Sequence[float]
) -> xr.Dataset:
    units = "days" if event.name == "freeze_free_days" else "day of the year"
    names = (event.name, f"{event.name}_low", f"{event.name}_high")
    arrays = [result.assign_attrs(units=units) for result in results]
    return xr.Dataset(dict(zip(names, arrays, strict=True))).assign_coords(odds=list(levels))


def _counts(dates: xr.Dataset) -> xr.Dataset:
    out = xr.Dataset()
    for event in _EVENTS:
        status = dates[f"{event.name}_status"]
        out[f"{event.name}_known"] = (status != UNKNOWN).sum("season")
        out[f"{event.name}_frozen"] = (status == OBSERVED).sum("season")
    return out


# --- odds by date -------------------------------------------------------------------------


def freeze_chance(dates: xr.Dataset) -> xr.Dataset:
    """Chance of a freeze at or after, and at or before, each day of the year.

    Parameters
    ----------
    dates : Dataset, dims (..., season)
        From `freeze_dates`.

    Returns
    -------
    Dataset, dims (..., day_of_year)
        ``last_spring``: chance of a freeze on this day or later in spring. ``first_autumn``: on
        this day or earlier in autumn. The ranked odds of `freeze_odds` turned round: the chance
        at the date of level p is p.
    """
    out = xr.Dataset()
    start = offset_of(dates["first_day"]) + 1
    for event in _EVENTS[:2]:
        out[event.name] = apply(
            _chance_kernel(event),
            dates[event.day],
            dates[f"{event.name}_status"],
            start,
            core=[["season"], ["season"], []],
            out=[["day_of_year"]],
            sizes={"day_of_year": DAYS},
            each=True,
        )
    return out.assign_coords(day_of_year=np.arange(1, DAYS + 1)).assign_attrs(dates.attrs)


def _chance_kernel(event: _Event) -> Callable[..., np.ndarray]:
    def kernel(days: np.ndarray, status: np.ndarray, start: int) -> np.ndarray:
        sample, at = event.sample(days, status), start + np.arange(DAYS)
        if not len(sample):
            return np.full(DAYS, np.nan)
        if event.later:
            chance = 1 - share_below(sample, at, PLOTTING_POSITION)
        else:
            chance = 1 - share_below(-sample[::-1], -at, PLOTTING_POSITION)
        return np.roll(chance, (start - 1) % DAYS)  # from the season's order to the year's

    return kernel
