"""Freeze dates of every year, and the odds of a freeze by date.

A freeze is a daily minimum at or below a threshold. Spring runs from the coldest day of the
place's smoothed year to the warmest, autumn from there to the coldest again.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import NamedTuple

import numpy as np
import xarray as xr

from climwin.climate.level import in_climate
from climwin.core.dependence import effective_years, quantile_interval, share_ends
from climwin.core.errors import InputError, Parameter
from climwin.core.odds import odds_of, prefixed
from climwin.core.provenance import climate_of, provenance
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
    NEXT_YEARS,
    between,
    bootstrap_interval,
    kernel_quantile,
    kernel_share_above,
    neighbours,
    next_interval,
    next_worth,
)
from climwin.core.status import (
    NONE,
    NONE_CODE,
    OBSERVED,
    OBSERVED_CODE,
    UNKNOWN,
    UNKNOWN_CODE,
    decode_status,
)

LEVELS = tuple(p / 100 for p in range(10, 100, 10))
PLOTTING_POSITION = "hazen"
"""The one of `stats.PLOTTING` whose largest error against the official odds of two stations is
smallest."""

_SIMULATED_YEARS = 10_000
_RESAMPLES = 1_000


class _Freezes(NamedTuple):
    """Of each season, last day of spring and first of autumn with a freeze; missing if none."""

    spring: np.ndarray
    autumn: np.ndarray


def freeze_dates(
    daily: xr.Dataset, threshold: float | Sequence[float] = 0.0, *, climate: str = "record"
) -> xr.Dataset:
    """Last spring and first autumn freeze of every season, and the days free of freezes between.

    Parameters
    ----------
    daily : Dataset, dims (..., time)
        Needs ``tmin``. [degC]
    threshold : float or sequence of float
        A freeze is a minimum at or below it; several give a dimension ``threshold``. [degC]
    climate : {"record", "today"}
        The years as they were, or moved to today's level, see `todays_climate`.

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

    See Also
    --------
    freeze_odds : Dates by which a freeze has given odds.

    Examples
    --------
    >>> import climwin as cw
    >>> daily = cw.read_daily(cw.sample())
    >>> dates = cw.freeze_dates(daily, threshold=0.0)
    >>> str(dates["last_spring"].sel(season=2010).dt.date.item())
    '2010-04-29'
    >>> dates["freeze_free_days"].median().item()
    153.5
    """
    daily = in_climate(daily, climate)
    grid = by_year(variable(daily, "tmin"))
    first, warmest = coldest_day(daily), warmest_day(daily)
    thresholds = np.ravel(threshold) + TOLERANCE_C
    results = apply(
        _dates_kernel(thresholds),
        grid,
        first,
        warmest,
        core=[["year", "day_of_year"], [], []],
        out=[["threshold", "season"]] * 4,
        sizes={"threshold": len(thresholds), "season": grid.sizes["year"]},
        dtypes=[float, float, int, int],
        each=True,
    )
    names = ("spring", "autumn", "spring_code", "autumn_code")
    days = xr.Dataset(dict(zip(names, results, strict=True)))
    days = days.transpose("threshold", ...) if np.ndim(threshold) else days.isel(threshold=0)
    days = keep_inside(days.assign_coords(season=grid["year"].values), grid, first)
    return _with_thresholds(_with_dates(days, first), threshold).assign_attrs(
        threshold_c=np.asarray(threshold, float).tolist(), **provenance(daily)
    )


def _with_thresholds(result: xr.Dataset, threshold: float | Sequence[float]) -> xr.Dataset:
    """The result with its dimension of thresholds labelled, where several were given."""
    if not np.ndim(threshold):
        return result
    return result.assign_coords(threshold=("threshold", np.ravel(threshold), {"units": "degC"}))


def _dates_kernel(thresholds: np.ndarray) -> Callable[..., tuple[np.ndarray, ...]]:
    """Kernel of one station: freezes as days of the season, and codes of what is known of them."""

    def kernel(grid: np.ndarray, first_day: int, warmest: int) -> tuple[np.ndarray, ...]:
        season = cut_seasons(grid, first_day)
        midsummer = _midsummer(first_day, warmest)
        lowest_seen = np.roll(seen_range(grid)[0], 1 - first_day)
        lowest = np.where(np.isnan(season), lowest_seen, season)
        sure = _freezes_around(season <= thresholds[:, None, None], midsummer)
        possible = _freezes_around(lowest <= thresholds[:, None, None], midsummer)
        return (
            sure.spring,
            sure.autumn,
            _code(sure.spring, possible.spring),
            _code(sure.autumn, possible.autumn),
        )

    return kernel


def _code(sure: np.ndarray, possible: np.ndarray) -> np.ndarray:
    """What is known of a freeze date: with the fewest freezes that gaps allow, and the most."""
    return np.select(
        [np.isnan(possible), sure == possible], [NONE_CODE, OBSERVED_CODE], UNKNOWN_CODE
    )


def _midsummer(first_day: int, warmest: int) -> int:
    """Day of the season that is the warmest; 1 where a station has too few days to tell."""
    return max((warmest - first_day) % DAYS, 1)


def _freezes_around(frozen: np.ndarray, midsummer: int) -> _Freezes:
    """Freezes nearest to midsummer on either side, of seasons along the last axis."""
    # argmax finds the first: before midsummer the days are turned round, to find the last.
    before, after = frozen[..., :midsummer][..., ::-1], frozen[..., midsummer:]
    spring = np.where(before.any(-1), midsummer - 1 - before.argmax(-1), np.nan)
    autumn = np.where(after.any(-1), midsummer + after.argmax(-1), np.nan)
    return _Freezes(spring, autumn)


def _with_dates(days: xr.Dataset, first: xr.DataArray) -> xr.Dataset:
    """Days of the season as dates, with their status, and the days between."""
    out = xr.Dataset()
    for name, side in (("last_spring", "spring"), ("first_autumn", "autumn")):
        day = days[side].where(days[f"{side}_code"] == OBSERVED_CODE)
        out[name] = season_dates(day, first)
        out[f"{name}_day"] = day + offset_of(first) + 1
        out[f"{name}_day"].attrs["units"] = "day of the year"
        out[f"{name}_status"] = decode_status(days[f"{side}_code"])
    between_code = apply(
        _code_between, days["spring_code"], days["autumn_code"], core=[[], []], dtypes=[int]
    )
    free_days = days["autumn"] - days["spring"] - 1
    out["freeze_free_days"] = free_days.where(between_code == OBSERVED_CODE)
    out["freeze_free_days"].attrs["units"] = "days"
    out["freeze_free_days_status"] = decode_status(between_code)
    return out


def _code_between(spring: np.ndarray, autumn: np.ndarray) -> np.ndarray:
    """What is known of the days between: nothing bounds them where either freeze did not come."""
    return np.select(
        [
            (spring == NONE_CODE) | (autumn == NONE_CODE),
            (spring == UNKNOWN_CODE) | (autumn == UNKNOWN_CODE),
        ],
        [NONE_CODE, UNKNOWN_CODE],
        OBSERVED_CODE,
    )


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
    climate: str = "record",
) -> xr.Dataset:
    """Dates by which, and lengths for which, a freeze has given odds.

    Parameters
    ----------
    daily : Dataset, dims (..., time)
        Needs ``tmin``. [degC]
    threshold : float or sequence of float
        A freeze is a minimum at or below it. [degC]
    method : {"ranked", "smoothed", "resampled"}
        From the ranked dates of the years (Hazen's plotting positions); from the same smoothed by
        a normal kernel, as in `freeze_chance`; or from 10,000 simulated years put together from
        the months of the observed ones.
    levels : sequence of float
        Odds, 0 to 1.
    climate : {"record", "today"}
        The years as they were, or moved to today's level, see `todays_climate`.

    Returns
    -------
    Dataset, dims (..., odds)
        At each level p: ``last_spring``, the day with chance p of a freeze on it or later;
        ``first_autumn``, the day with chance p of a freeze on it or earlier;
        ``freeze_free_days``, the length that is reached with chance p. Days count from 1 January
        of the season's own year and may lie outside 1 to 365. ``*_low`` and ``*_high`` bound the
        90 % interval. Missing where the odds never reach the level:
        years without a freeze stay in the sample. ``*_known`` and ``*_frozen`` count the years
        that are known and the years that froze. ``*_next_low`` to ``*_next_high``: in how many of
        the next ten years it is likely to happen (90 %), a freeze so late, say.

    Raises
    ------
    ValueError
        If the method or a level is not allowed.

    See Also
    --------
    freeze_chance : The same odds, date by date.

    Notes
    -----
    Of ranked and smoothed dates the interval is Jeffreys' of the share, with years that take after
    the one before counting for less, read through those dates and beyond the first and last of
    them, see `climwin.core.dependence.quantile_interval`: in simulations it covers 0.84 to 0.96
    from ten years on, where the bootstrap over years covers 0.65. Of resampled years it is by
    bootstrap.

    References
    ----------
    .. [1] H. C. S. Thom and R. H. Shaw, "Climatological analysis of freeze data for Iowa,"
       Monthly Weather Review, vol. 86, pp. 251-257, 1958 (pages from memory).
    .. [2] A. Arguez et al., "NOAA's 1981-2010 U.S. climate normals: an overview," Bulletin of the
       American Meteorological Society, vol. 93, pp. 1687-1697, 2012: the resampling of shifted
       monthly segments (pages from memory).

    Examples
    --------
    Half of the years have a freeze on this day of the year or later, one in ten on that one:

    >>> import climwin as cw
    >>> daily = cw.read_daily(cw.sample())
    >>> odds = cw.freeze_odds(daily, levels=(0.5, 0.1))
    >>> odds["last_spring"].round().values.tolist()
    [126.0, 137.0]
    """
    check_choice("method", method, _METHODS)
    if not all(0 < level < 1 for level in levels):
        msg = f" are odds between 0 and 1, got {', '.join(map(str, levels))}."
        raise InputError(Parameter("levels"), msg)
    daily = in_climate(daily, climate)
    dates = freeze_dates(daily, threshold)
    odds = _with_next_years(_METHODS[method](daily, dates, levels), climate_of(daily))
    return _with_thresholds(odds, threshold).assign_attrs(
        dates.attrs,
        method=method,
        plotting_position=PLOTTING_POSITION,
        interval=LEVEL,
        next_years=NEXT_YEARS,
    )


def _with_next_years(odds: xr.Dataset, climate: str) -> xr.Dataset:
    """The odds with the number of the next years in which each event is likely."""
    for event in _EVENTS:
        ends = apply(
            lambda level, known, kind=event.kind: next_interval(
                level, next_worth(np.asarray(known, float), kind, climate)
            ),
            odds["odds"],
            odds[f"{event.name}_known"],
            core=[[], []],
            out=[[], []],
            dtypes=[float] * 2,
        )
        for end, values in zip(("low", "high"), ends, strict=True):
            there = odds[event.name].notnull()
            named = values.where(there).transpose(*odds[event.name].dims)
            odds[f"{event.name}_next_{end}"] = named.assign_attrs(units="years")
    return odds


def _ranked_odds(_: xr.Dataset, dates: xr.Dataset, levels: Sequence[float]) -> xr.Dataset:
    return _odds_of_years(dates, levels, _Event.ranked)


def _smoothed_odds(_: xr.Dataset, dates: xr.Dataset, levels: Sequence[float]) -> xr.Dataset:
    return _odds_of_years(dates, levels, _Event.smoothed)


def _odds_of_years(
    dates: xr.Dataset,
    levels: Sequence[float],
    kernel_of: Callable[[_Event, np.ndarray], Callable[..., tuple[np.ndarray, ...]]],
) -> xr.Dataset:
    parts = []
    for event in _EVENTS:
        results = apply(
            kernel_of(event, np.asarray(levels)),
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


def _resampled_odds(daily: xr.Dataset, dates: xr.Dataset, levels: Sequence[float]) -> xr.Dataset:
    threshold = dates.coords.get("threshold", xr.DataArray(dates.attrs["threshold_c"]))
    results = apply(
        _simulated_odds(np.asarray(levels)),
        threshold,
        by_year(variable(daily, "tmin")),
        coldest_day(daily),
        warmest_day(daily),
        core=[[], ["year", "day_of_year"], [], []],
        out=[["odds"]] * 9,
        sizes={"odds": len(levels)},
        dtypes=[float] * 9,
        each=True,
    )
    # The kernel returns odds, low and high of one event after another.
    parts = [
        _labelled(event, results[3 * place : 3 * place + 3], levels)
        for place, event in enumerate(_EVENTS)
    ]
    return xr.merge([*parts, _counts(dates)], compat="override")


def _simulated_odds(levels: np.ndarray) -> Callable[..., tuple[np.ndarray, ...]]:
    def kernel(
        threshold: float, grid: np.ndarray, first: int, warmest: int
    ) -> tuple[np.ndarray, ...]:
        midsummer, start = _midsummer(first, warmest), int(offset(first)) + 1

        def quantiles(seasons: np.ndarray) -> list[np.ndarray]:
            """Value at each level, event by event."""
            # Simulated values are not rounded to tenths: the threshold needs no tolerance.
            spring, autumn = _freezes_around(seasons <= threshold, midsummer)
            values = (spring + start, autumn + start, autumn - spring - 1)
            return [
                event.quantiles(np.sort(np.where(np.isnan(value), event.endless, value)), levels)
                for event, value in zip(_EVENTS, values, strict=True)
            ]

        of_all = quantiles(simulated_seasons(grid, first, _SIMULATED_YEARS))
        # Fewer and shorter than of ranked years, for each resample is simulated anew.
        resamples = resampled_seasons(grid, first, _RESAMPLES // 5, _SIMULATED_YEARS // 20)
        drawn = np.array([quantiles(seasons) for seasons in resamples])
        out: list[np.ndarray] = []
        for place, event in enumerate(_EVENTS):
            out += [of_all[place], *event.bounds(drawn[:, place])]
        return tuple(out)

    return kernel


_METHODS: dict[str, Callable[[xr.Dataset, xr.Dataset, Sequence[float]], xr.Dataset]] = {
    "ranked": _ranked_odds,
    "smoothed": _smoothed_odds,
    "resampled": _resampled_odds,
}


class _Event(NamedTuple):
    """One thing that has odds, and on which side of it they are counted.

    `later` is true where a level is the chance of this date, or length, *or more*; a year without
    a freeze then stands before all dates (spring) or beyond all lengths.
    """

    name: str
    kind: str
    later: bool
    endless: float

    @property
    def day(self) -> str:
        return self.name if self.name == "freeze_free_days" else f"{self.name}_day"

    def quantiles(self, sample: np.ndarray, levels: np.ndarray) -> np.ndarray:
        """Value at each level of sorted samples, shape (..., n); missing where none is reached."""
        fractions = 1 - levels if self.later else levels
        below, above, weight = neighbours(np.array(sample.shape[-1]), fractions, PLOTTING_POSITION)
        out = between(sample[..., below], sample[..., above], weight)
        return np.where(np.isfinite(out), out, np.nan)

    def bounds(self, drawn: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        """Interval of each level over resamples, shape (resamples, levels); open where missing."""
        low, high = bootstrap_interval(np.where(np.isnan(drawn), self.endless, drawn))
        return _open(low), _open(high)

    def sample(self, days: np.ndarray, status: np.ndarray) -> np.ndarray:
        """Sorted values of the known years, those without a freeze among them."""
        return np.sort(np.where(status == NONE, self.endless, days)[status != UNKNOWN])

    def worth(self, days: np.ndarray, status: np.ndarray) -> float:
        """How many independent years the known ones are worth."""
        year = np.flatnonzero(status != UNKNOWN)
        return effective_years(year, np.where(status == NONE, self.endless, days)[year])

    def ranked(self, levels: np.ndarray) -> Callable[..., tuple[np.ndarray, ...]]:
        def kernel(days: np.ndarray, status: np.ndarray) -> tuple[np.ndarray, ...]:
            sample = self.sample(days, status)
            if not len(sample):
                missing = np.full(len(levels), np.nan)
                return missing, missing, missing
            fractions = 1 - levels if self.later else levels
            low, high = quantile_interval(sample, self.worth(days, status), fractions)
            return self.quantiles(sample, levels), _open(low), _open(high)

        return kernel

    def smoothed(self, levels: np.ndarray) -> Callable[..., tuple[np.ndarray, ...]]:
        def kernel(days: np.ndarray, status: np.ndarray) -> tuple[np.ndarray, ...]:
            sample = self.sample(days, status)
            if not len(sample):
                missing = np.full(len(levels), np.nan)
                return missing, missing, missing
            found = kernel_quantile(sample, levels if self.later else 1 - levels)
            fractions = 1 - levels if self.later else levels
            ends = share_ends(fractions, self.worth(days, status))
            low, high = (kernel_quantile(sample, 1 - end) for end in ends)
            return _open(found), _open(low), _open(high)

        return kernel


def _open(bound: np.ndarray) -> np.ndarray:
    """Ends of intervals, missing where they are endless."""
    return np.where(np.isfinite(bound), bound, np.nan)


_LAST_SPRING = _Event("last_spring", "spring freeze", later=True, endless=-np.inf)
_FIRST_AUTUMN = _Event("first_autumn", "autumn freeze", later=False, endless=np.inf)
_FREEZE_FREE_DAYS = _Event("freeze_free_days", "freeze-free days", later=True, endless=np.inf)
_EVENTS = (_LAST_SPRING, _FIRST_AUTUMN, _FREEZE_FREE_DAYS)


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
        this day or earlier in autumn. Each year's date is spread out by a normal kernel; years
        without a freeze keep their share, and no chance is 0 or 1. Of each, ``*_share``, the plain
        share of the years; ``*_low`` to ``*_high``, how well the chance in this climate is known
        (90 %); ``*_next_low`` to ``*_next_high``, in how many of the next ten years it is likely
        to happen (90 %).

    See Also
    --------
    freeze_odds : Dates at given odds; its ``smoothed`` ones are these turned round, but for the
        half of a day by which a chance *on this day or later* counts the day itself.

    Examples
    --------
    >>> import climwin as cw
    >>> daily = cw.read_daily(cw.sample())
    >>> chance = cw.freeze_chance(cw.freeze_dates(daily))
    >>> chance["last_spring"].sel(day_of_year=[100, 120, 140]).round(2).values.tolist()
    [0.98, 0.76, 0.05]
    """
    out = xr.Dataset()
    start = offset_of(dates["first_day"]) + 1
    for event in (_LAST_SPRING, _FIRST_AUTUMN):
        smoothed, hits = apply(
            _chance_kernel(event),
            dates[event.day],
            dates[f"{event.name}_status"],
            start,
            core=[["season"], ["season"], []],
            out=[["day_of_year"]] * 2,
            sizes={"day_of_year": DAYS},
            dtypes=[float] * 2,
            each=True,
        )
        known = (dates[f"{event.name}_status"] != UNKNOWN).sum("season")
        odds = odds_of(hits, known, kind=event.kind, climate=climate_of(dates), smoothed=smoothed)
        odds = prefixed(odds, f"{event.name}_").rename({f"{event.name}_odds": event.name})
        out = out.assign(odds).assign_attrs(odds.attrs)
    out = out.assign_attrs(dates.attrs | out.attrs)
    return out.assign_coords(day_of_year=np.arange(1, DAYS + 1))


def _chance_kernel(event: _Event) -> Callable[..., tuple[np.ndarray, np.ndarray]]:
    """Smoothed odds of each day, and the years in which it happened."""

    def kernel(days: np.ndarray, status: np.ndarray, start: int) -> tuple[np.ndarray, np.ndarray]:
        sample = event.sample(days, status)
        day = start + np.arange(DAYS)
        # The day itself counts: half a day before it in spring, after it in autumn.
        if event.later:
            chance = kernel_share_above(sample, day - 0.5)
            hits = (sample >= day[:, None]).sum(axis=-1)
        else:
            chance = 1 - kernel_share_above(sample, day + 0.5)
            hits = (sample <= day[:, None]).sum(axis=-1)
        turn = (start - 1) % DAYS  # from the season's order to the year's
        return np.roll(chance, turn), np.roll(hits, turn).astype(float)

    return kernel
