"""Freeze dates of every year, and the odds of a freeze by date.

A freeze is a daily minimum at or below a threshold. Spring runs from the coldest day of the
place's smoothed year to the warmest, autumn from there to the coldest again.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from functools import partial
from typing import NamedTuple

import numpy as np
import xarray as xr

from climwin.climate.adjust import TEMPERATURES
from climwin.climate.imputation import (
    DRAWS,
    LEAST_MEASURED,
    NEARBY,
    GapsOfGrids,
    covered_days,
    drawn_gaps,
    drawn_grids,
)
from climwin.climate.level import in_climate
from climwin.climate.resolution import slack, steps
from climwin.core.dependence import effective_years, quantile_interval, share_ends
from climwin.core.draws import Counted, count_over_draws, of_each_draw
from climwin.core.errors import InputError, Parameter
from climwin.core.measures import check_most_celsius
from climwin.core.odds import odds_of, prefixed
from climwin.core.provenance import climate_of, level_error_of, provenance
from climwin.core.resampling import resampled_seasons, simulated_seasons
from climwin.core.schema import apply, check_choice, variable
from climwin.core.seasons import (
    DAYS,
    by_year,
    cut_seasons,
    extreme_days,
    keep_inside,
    offset,
    offset_of,
    season_dates,
    seen_range,
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
    variance_of_level,
    worth_at_level,
)
from climwin.core.status import (
    NONE_CODE,
    OBSERVED,
    OBSERVED_CODE,
    UNKNOWN,
    UNKNOWN_CODE,
    decode_status,
)

LEVELS = tuple(p / 100 for p in range(10, 100, 10))
SHOWN_ODDS = (0.9, 0.5, 0.1)
"""Odds of a freeze whose dates people read, of the `LEVELS`."""
PLOTTING_POSITION = "hazen"
"""Of `stats.PLOTTING`, the one with the smallest maximum error against the official odds of two
stations."""
HIGHEST_COLD_LIMIT_C = 20.0
"""No plant is killed by cold in warmer air, and limits in degF, of 28 to 40, lie above it (common
practice). [degC]"""

_SIMULATED_YEARS = 10_000
_RESAMPLES = 1_000


def check_cold_limit(name: str, value: float) -> None:
    """Refuse a temperature of freezes that can only be in degF.

    Raises
    ------
    ValueError
        If it is no number, or above `HIGHEST_COLD_LIMIT_C`.
    """
    check_most_celsius(name, value, HIGHEST_COLD_LIMIT_C)


class _Freezes(NamedTuple):
    """Last day of spring and first of autumn with a freeze, by season; NaN if none."""

    spring: np.ndarray
    autumn: np.ndarray


def freeze_dates(
    daily: xr.Dataset,
    threshold: float | Sequence[float] = 0.0,
    *,
    climate: str = "record",
    with_draws: bool = True,
) -> xr.Dataset:
    """Last spring and first autumn freeze of every season, and the freeze-free days between.

    Parameters
    ----------
    daily : Dataset, dims (..., time)
        Needs ``tmin``. [degC]
    threshold : float or sequence of float
        A freeze is a minimum at or below it; several give a dimension ``threshold``. [degC]
    climate : {"record", "today"}
        The years as they were, or moved to today's level, see `todays_climate`.
    with_draws : bool
        Whether to draw the gaps. Without draws a record with gaps takes a fraction of the time, and
        ``*_drawn`` is NaN where a gap leaves a year unknown.

    Returns
    -------
    Dataset, dims (..., season)
        ``last_spring`` and ``first_autumn`` as dates, and ``freeze_free_days`` (first minus last
        minus 1). Each has a ``*_status``: ``observed``; ``none`` if there was no freeze (or none
        that bounds the days between); ``unknown`` if a gap could change the answer, because a
        missing day lies between the date and midsummer, at a time of the year when this place has
        frozen. ``*_day`` counts from 1 January of the season's own year. ``*_drawn``, dims (...,
        season, draw), are the same days (or their number) in each draw of the gaps, see
        `draw_gaps`: infinite if there was no freeze, NaN if the record begins or ends too close, or
        if less than half of the season was measured, here or nearby. [day of the year, days]

    Raises
    ------
    DataGapError
        If the record is too sparse to have a coldest day.

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
    thresholds = np.ravel(threshold).astype(float)
    for each in thresholds:
        check_cold_limit("threshold", float(each))
    daily = in_climate(daily, climate)
    grids = temperature_grids(daily, TEMPERATURES if with_draws else ("tmin",))
    first, warmest = extreme_days(grids["tmin"])
    if first.chunks is not None:
        # Which seasons count must be known now, so a grid is read for both days at once.
        first, warmest = xr.Dataset({"first": first, "warmest": warmest}).compute().values()
    by_season = ["threshold", "season"]
    results = apply(
        _dates_kernel(thresholds, list(grids), with_draws),
        first,
        warmest,
        steps(grids["tmin"]),
        *grids.values(),
        core=[[], [], ["year"], *([["year", "day_of_year"]] * len(grids))],
        out=[by_season] * 4 + [[*by_season, "draw"]] * 2,
        sizes={"threshold": len(thresholds), "season": grids["tmin"].sizes["year"], "draw": DRAWS},
        dtypes=[float, float, int, int, float, float],
        each=True,
    )
    names = ("spring", "autumn", "spring_code", "autumn_code", "spring_drawn", "autumn_drawn")
    days = xr.Dataset(dict(zip(names, results, strict=True)))
    days = days.transpose("threshold", ...) if np.ndim(threshold) else days.isel(threshold=0)
    days = days.assign_coords(season=grids["tmin"]["year"].values)
    days = keep_inside(days, grids["tmin"], first)
    return _with_thresholds(_with_dates(days, first), threshold).assign_attrs(
        threshold_c=np.asarray(threshold, float).tolist(), **provenance(daily)
    )


def _with_thresholds(result: xr.Dataset, threshold: float | Sequence[float]) -> xr.Dataset:
    """The result with its thresholds as coordinate, if several were given."""
    if not np.ndim(threshold):
        return result
    return result.assign_coords(threshold=("threshold", np.ravel(threshold), {"units": "degC"}))


def _dates_kernel(
    thresholds: np.ndarray, names: Sequence[str], with_draws: bool
) -> Callable[..., tuple[np.ndarray, ...]]:
    """Kernel for one station: freezes as days of the season, and their status codes."""

    def freezes(
        season: np.ndarray, lowest: np.ndarray, limits: np.ndarray, midsummer: int
    ) -> tuple[_Freezes, _Freezes]:
        """Freezes that certainly occurred, and those that could have occurred."""
        sure = _freezes_around(season <= limits, midsummer)
        missing = np.isnan(season)
        if not missing.any():
            return sure, sure
        could_be = np.where(missing, lowest, season)
        return sure, _freezes_around(could_be <= limits, midsummer)

    def kernel(
        first_day: int, warmest: int, step: np.ndarray, *grids: np.ndarray
    ) -> tuple[np.ndarray, ...]:
        of_station = dict(zip(names, grids, strict=True))
        grid = of_station["tmin"]
        midsummer = _midsummer(first_day, warmest)
        lowest = np.roll(seen_range(grid)[0], 1 - first_day)
        limits = np.stack([season_limits(each, step, first_day) for each in thresholds])
        season = cut_seasons(grid, first_day)
        sure, possible = freezes(season, lowest, limits, midsummer)
        codes = [_code(known, may_be) for known, may_be in zip(sure, possible, strict=True)]
        drawn = [
            np.repeat(_endless(days, code, end)[..., None], DRAWS, axis=-1)
            for days, code, end in zip(sure, codes, _ENDS, strict=True)
        ]
        covered = np.where(covered_days(of_station, "tmin"), 1.0, np.nan)
        can_be_drawn = (~np.isnan(cut_seasons(covered, first_day))).mean(-1) >= LEAST_MEASURED
        hidden = [(code == UNKNOWN_CODE) & can_be_drawn for code in codes]
        if with_draws and np.any(hidden):
            left, days = _drawn_days(season, drawn_gaps(of_station), first_day)
            undrawn = freezes(left, lowest, limits, midsummer)
            for side, found in enumerate(_drawn_freezes(days, undrawn, limits, midsummer)):
                # A draw may be colder than anything observed; it must not change known dates.
                drawn[side] = np.where(hidden[side][..., None], found, drawn[side])
        return *sure, *codes, *drawn

    return kernel


class _DrawnDays(NamedTuple):
    """Days of seasons that are drawn, in order of season and day; arrays of shape (drawn days,)."""

    season: np.ndarray
    day: np.ndarray
    minimum: np.ndarray
    """Shape (draws, drawn days). [degC]"""


def _drawn_days(
    season: np.ndarray, gaps: GapsOfGrids, first_day: int
) -> tuple[np.ndarray, _DrawnDays]:
    """Seasons with the drawn days made too warm to freeze, and what these days are in each draw.

    A day that cannot be drawn stays missing.
    """
    number, day = np.divmod(gaps.place - int(offset(first_day)), DAYS)
    minima = gaps.values["tmin"]
    is_drawn = (number >= 0) & (number < len(season)) & ~np.isnan(minima).any(axis=0)
    days = _DrawnDays(number[is_drawn], day[is_drawn], minima[:, is_drawn])
    left = season.copy()
    left[days.season, days.day] = np.inf
    return left, days


def _drawn_freezes(
    days: _DrawnDays, undrawn: tuple[_Freezes, _Freezes], limits: np.ndarray, midsummer: int
) -> Iterator[np.ndarray]:
    """Freezes of spring and of autumn in each draw, shape (thresholds, seasons, draws).

    The days that are not drawn are the same in each draw, so the nearest freeze to midsummer is
    either theirs or that of a drawn day. Infinite if there was none, NaN if a day that cannot be
    drawn hides it.

    Parameters
    ----------
    days : _DrawnDays
    undrawn : tuple of _Freezes
        Freezes of the other days, at the fewest and at the most; shape (thresholds, seasons).
    limits : ndarray, shape (thresholds, seasons, 365)
        See `season_limits`. [degC]
    midsummer : int
    """
    frozen = days.minimum <= limits[:, None, days.season, days.day]
    in_spring = days.day < midsummer
    sides = ((in_spring, np.maximum), (~in_spring, np.minimum))
    for side, (here, nearest) in enumerate(sides):
        end = _ENDS[side]
        of_drawn = np.full((*frozen.shape[:2], limits.shape[1]), end)
        first = np.flatnonzero(np.diff(days.season[here], prepend=-1))  # of each season
        if len(first):
            day = np.where(frozen[..., here], days.day[here], end)
            of_drawn[..., days.season[here][first]] = nearest.reduceat(day, first, axis=-1)
        of_drawn = np.moveaxis(of_drawn, 1, -1)
        fewest, most = (
            nearest(np.where(np.isnan(each[side]), end, each[side])[..., None], of_drawn)
            for each in undrawn
        )
        yield np.where(fewest == most, fewest, np.nan)


def season_limits(threshold: float, step: np.ndarray, first_day: int) -> np.ndarray:
    """Reading at or below which each day of each season freezes, shape (seasons, 365). [degC]"""
    of_year = threshold + slack(threshold, step)
    limits = cut_seasons(np.repeat(of_year[:, None], DAYS, axis=1), first_day)
    return np.where(np.isnan(limits), threshold, limits)  # beyond the record's ends


_ENDS = (-np.inf, np.inf)
"""Values for no freeze: before all dates of spring, and after all dates of autumn."""


def _endless(day: np.ndarray, code: np.ndarray, end: float) -> np.ndarray:
    """Days of freezes, infinite if there was none, NaN if unknown."""
    return np.select([code == OBSERVED_CODE, code == NONE_CODE], [day, end], np.nan)


def temperature_grids(
    daily: xr.Dataset, names: Sequence[str] = TEMPERATURES
) -> dict[str, xr.DataArray]:
    """Temperatures of a record on grids of years; gaps are drawn from all of them together.

    Estimates from joined stations come last.
    """
    variable(daily, "tmin")
    own = {name: by_year(variable(daily, name)) for name in names if name in daily}
    nearby = {name: _on_years_of(own["tmin"], daily[name]) for name in daily if name in _NEARBY}
    return own | nearby


_NEARBY = frozenset(NEARBY.values())


def _on_years_of(grid: xr.DataArray, values: xr.DataArray) -> xr.DataArray:
    """Another variable of the same record on the same years."""
    return by_year(values).reindex(year=grid["year"])


def _code(sure: np.ndarray, possible: np.ndarray) -> np.ndarray:
    """Status code of a freeze date, from the fewest and the most freezes that gaps allow."""
    return np.select(
        [np.isnan(possible), sure == possible], [NONE_CODE, OBSERVED_CODE], UNKNOWN_CODE
    )


def _midsummer(first_day: int, warmest: int) -> int:
    """Warmest day of the season; 1 if a station has too few days."""
    return max((warmest - first_day) % DAYS, 1)


def _freezes_around(frozen: np.ndarray, midsummer: int) -> _Freezes:
    """Freezes nearest to midsummer on either side, of seasons along the last axis."""
    # argmax finds the first freeze; before midsummer the days are reversed, to find the last.
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
        out[f"{name}_drawn"] = days[f"{side}_drawn"] + offset_of(first) + 1
        out[f"{name}_drawn"].attrs["units"] = "day of the year"
    between_code = apply(
        _code_between, days["spring_code"], days["autumn_code"], core=[[], []], dtypes=[int]
    )
    free_days = days["autumn"] - days["spring"] - 1
    out["freeze_free_days"] = free_days.where(between_code == OBSERVED_CODE)
    out["freeze_free_days"].attrs["units"] = "days"
    out["freeze_free_days_status"] = decode_status(between_code)
    between_drawn = days["autumn_drawn"] - days["spring_drawn"] - 1
    # Without a last spring freeze nothing bounds the days, even if the autumn is unknown.
    endless = between_drawn.where(between_code != NONE_CODE, np.inf)
    out["freeze_free_days_drawn"] = endless.assign_attrs(units="days")
    return out


def _code_between(spring: np.ndarray, autumn: np.ndarray) -> np.ndarray:
    """Status code of the days between: none if either freeze did not occur."""
    return np.select(
        [
            (spring == NONE_CODE) | (autumn == NONE_CODE),
            (spring == UNKNOWN_CODE) | (autumn == UNKNOWN_CODE),
        ],
        [NONE_CODE, UNKNOWN_CODE],
        OBSERVED_CODE,
    )


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
        From the ranked dates of the years (Hazen's plotting positions); from these dates smoothed
        by a normal kernel, as in `freeze_chance`; or from 10,000 simulated years, assembled from
        months of the observed ones.
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
        of the season's own year and may lie outside 1 to 365. ``*_low`` and ``*_high`` bound the 90
        % interval. Dates are NaN where the odds never reach the level, since years without a freeze
        stay in the sample. ``*_known`` and ``*_frozen`` count the known years and those with a
        freeze; ``*_leaning`` counts the years that a gap leaves open and whose freeze is drawn, see
        `draw_gaps` (dates are the median over the draws). ``*_next_low`` to ``*_next_high``: in how
        many of the next ten years the event, such as a freeze this late, is likely (90 %).

    Raises
    ------
    ValueError
        If the method or a level is not allowed.

    See Also
    --------
    freeze_chance : The same odds, date by date.

    Notes
    -----
    For ranked and smoothed dates the interval is Jeffreys' interval of the share, read off the
    dates and extended beyond the first and the last of them; autocorrelated years count less. See
    `climwin.core.dependence.quantile_interval`. In simulations of ten years or more it covers 0.83
    to 0.98; a bootstrap over years covers 0.65. Resampled dates have bootstrap intervals.

    References
    ----------
    .. [1] H. C. S. Thom and R. H. Shaw, "Climatological analysis of freeze data for Iowa,"
       Monthly Weather Review, vol. 86, pp. 251-257, 1958 (pages from memory).
    .. [2] A. Arguez et al., "NOAA's 1981-2010 U.S. climate normals: an overview," Bulletin of the
       American Meteorological Society, vol. 93, pp. 1687-1697, 2012: the resampling of shifted
       monthly segments (pages from memory).

    Examples
    --------
    The days of the year on which, or later, half of the years and one in ten have a freeze:

    >>> import climwin as cw
    >>> daily = cw.read_daily(cw.sample())
    >>> odds = cw.freeze_odds(daily, levels=(0.5, 0.1))
    >>> odds["last_spring"].round().values.tolist()
    [126.0, 136.0]
    """
    check_choice("method", method, _METHODS)
    if not all(0 < level < 1 for level in levels):
        msg = f" are odds between 0 and 1, got {', '.join(map(str, levels))}."
        raise InputError(Parameter("levels"), msg)
    daily = in_climate(daily, climate)
    dates = freeze_dates(daily, threshold)
    odds = _METHODS[method](daily, dates, levels)
    odds = _with_next_years(odds, dates, climate_of(daily))
    return _with_thresholds(odds, threshold).assign_attrs(
        dates.attrs,
        method=method,
        plotting_position=PLOTTING_POSITION,
        interval=LEVEL,
        next_years=NEXT_YEARS,
    )


def _with_next_years(odds: xr.Dataset, dates: xr.Dataset, climate: str) -> xr.Dataset:
    """The odds with the number of the next years in which each event is likely."""
    for event in _EVENTS:
        worth = apply(
            lambda drawn, day, event=event: event.counted(drawn, day).worth,
            dates[f"{event.name}_drawn"],
            odds[event.name],
            core=[["season", "draw"], ["odds"]],
            out=[["odds"]],
            each=True,
        )
        ends = apply(
            lambda level, worth, kind=event.kind: next_interval(
                level, next_worth(worth, kind, climate)
            ),
            odds["odds"],
            worth,
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
    """Odds from the ranked dates of the years."""
    return _odds_of_years(dates, levels, _Event.ranked)


def _smoothed_odds(_: xr.Dataset, dates: xr.Dataset, levels: Sequence[float]) -> xr.Dataset:
    """Odds from the dates of the years, smoothed by a normal kernel."""
    return _odds_of_years(dates, levels, _Event.smoothed)


def _odds_of_years(
    dates: xr.Dataset,
    levels: Sequence[float],
    kernel: Callable[[_Event, np.ndarray, np.ndarray, float], tuple[np.ndarray, ...]],
) -> xr.Dataset:
    """Odds of each event from its years, by a kernel such as `_Event.ranked`."""
    of_levels = {"levels": np.asarray(levels), "level_error": level_error_of(dates)}
    parts = []
    for event in _EVENTS:
        results = apply(
            partial(kernel, event, **of_levels),
            dates[f"{event.name}_drawn"],
            core=[["season", "draw"]],
            out=[["odds"]] * 3,
            sizes={"odds": len(levels)},
            dtypes=[float] * 3,
            each=True,
        )
        parts.append(_labelled(event, results, levels))
    return xr.merge([*parts, _counts(dates)], compat="override")


def _resampled_odds(daily: xr.Dataset, dates: xr.Dataset, levels: Sequence[float]) -> xr.Dataset:
    """Odds from simulated years, assembled from months of the record."""
    threshold = dates.coords.get("threshold", xr.DataArray(dates.attrs["threshold_c"]))
    grids = temperature_grids(daily)
    results = apply(
        _simulated_odds(np.asarray(levels), list(grids)),
        threshold,
        *extreme_days(grids["tmin"]),
        steps(grids["tmin"]),
        *grids.values(),
        core=[[], [], [], ["year"], *([["year", "day_of_year"]] * len(grids))],
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


def _simulated_odds(
    levels: np.ndarray, names: Sequence[str]
) -> Callable[..., tuple[np.ndarray, ...]]:
    def kernel(
        threshold: float, first: int, warmest: int, step: np.ndarray, *grids: np.ndarray
    ) -> tuple[np.ndarray, ...]:
        midsummer, start = _midsummer(first, warmest), int(offset(first)) + 1
        # Simulated values lie off the grid of the readings, and need half a step to freeze as often
        # as the readings do.
        by = slack(threshold, step)[:, None]
        of_station = dict(zip(names, grids, strict=True))
        grid = of_station["tmin"] - by
        filled = drawn_grids(of_station)["tmin"] - by if np.isnan(grid).any() else grid[None]

        def quantiles(seasons: np.ndarray) -> list[np.ndarray]:
            """Value at each level, event by event."""
            spring, autumn = _freezes_around(seasons <= threshold, midsummer)
            values = (spring + start, autumn + start, autumn - spring - 1)
            return [
                event.quantiles(np.sort(np.where(np.isnan(value), event.endless, value)), levels)
                for event, value in zip(_EVENTS, values, strict=True)
            ]

        of_all = quantiles(simulated_seasons(grid, first, _SIMULATED_YEARS, filled))
        # Fewer and shorter resamples than for ranked years, because each is simulated.
        resamples = resampled_seasons(grid, first, _RESAMPLES // 5, _SIMULATED_YEARS // 20, filled)
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
    """An event with odds, and the side on which they are counted.

    `later` is true if a level is the chance of this date, or length, *or more*. `endless` stands
    for a year without a freeze.
    """

    name: str
    kind: str
    later: bool
    endless: float

    def quantiles(self, sample: np.ndarray, levels: np.ndarray) -> np.ndarray:
        """Value at each level of sorted samples, shape (..., n); NaN if it is infinite."""
        fractions = 1 - levels if self.later else levels
        below, above, weight = neighbours(np.array(sample.shape[-1]), fractions, PLOTTING_POSITION)
        out = between(sample[..., below], sample[..., above], weight)
        return np.where(np.isfinite(out), out, np.nan)

    def bounds(self, drawn: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        """Interval of each level over resamples, shape (resamples, levels); NaN where open."""
        low, high = bootstrap_interval(np.where(np.isnan(drawn), self.endless, drawn))
        return _open(low), _open(high)

    def samples(self, drawn: np.ndarray) -> np.ndarray:
        """Sorted values of the years that have one, including years without a freeze, by draw.

        Shape (seasons, draws) to (draws, n); only one draw if all are equal.
        """
        has_value = ~np.isnan(drawn).any(axis=-1)
        by_draw = np.sort(drawn[has_value].T, axis=-1)
        is_alike = bool((by_draw == by_draw[:1]).all())
        return by_draw[:1] if is_alike else by_draw

    def middle(self, quantiles: np.ndarray) -> np.ndarray:
        """Median over the draws, shape (draws, levels) to (levels,); NaN if infinite."""
        endless = np.where(np.isnan(quantiles), self.endless, quantiles)
        middle = np.median(endless, axis=0)
        return np.where(np.isfinite(middle), middle, np.nan)

    def worth(self, drawn: np.ndarray, shares: np.ndarray, level_error: float) -> np.ndarray:
        """Independent years that the years are worth; those that depend on draws count less.

        One number for each share, since the error of the level affects middle shares most.
        """
        year = np.flatnonzero(~np.isnan(drawn).any(axis=-1))
        values = drawn[year]
        counted = self.counted(values, np.median(values[:, :1], axis=0))
        open_years = float(counted.worth[0]) / max(float(counted.years[0]), 1.0)
        worth = effective_years(year, values[:, 0]) * min(open_years, 1.0)
        blurred = variance_of_level(shares, self.kind, level_error)
        return worth_at_level(np.full(len(shares), worth), shares, blurred)

    def ranked(
        self, drawn: np.ndarray, levels: np.ndarray, level_error: float
    ) -> tuple[np.ndarray, ...]:
        """Value at each level with its interval, from the ranked values of the years.

        `drawn` has the shape (seasons, draws), each result that of `levels`.
        """
        samples = self.samples(drawn)
        if not samples.shape[-1]:
            return (np.full(len(levels), np.nan),) * 3
        fractions = 1 - levels if self.later else levels
        worth = self.worth(drawn, fractions, level_error)
        ends = of_each_draw(
            lambda sample: np.array(quantile_interval(sample, worth, fractions)), samples
        )
        low, high = (self.middle(ends[:, end]) for end in (0, 1))
        return self.middle(self.quantiles(samples, levels)), low, high

    def smoothed(
        self, drawn: np.ndarray, levels: np.ndarray, level_error: float
    ) -> tuple[np.ndarray, ...]:
        """The same as `ranked`, from the values smoothed by a normal kernel."""
        samples = self.samples(drawn)
        if not samples.shape[-1]:
            return (np.full(len(levels), np.nan),) * 3
        shares = levels if self.later else 1 - levels
        least, most = share_ends(1 - shares, self.worth(drawn, shares, level_error))
        asked = np.stack([shares, 1 - least, 1 - most])
        by_draw = of_each_draw(lambda sample: kernel_quantile(sample, asked), samples)
        middle, low, high = (self.middle(by_draw[:, row]) for row in range(3))
        return middle, low, high

    def counted(self, drawn: np.ndarray, day: np.ndarray) -> Counted:
        """Years in which it happened by some days, shape (days,); `drawn` is (seasons, draws)."""
        days = np.asarray(day, float)[..., None, None]
        happened = drawn >= days if self.later else drawn <= days
        happened = np.where(np.isnan(drawn), np.nan, happened)
        # A known year is the same in every draw, and so counts in full.
        return count_over_draws(np.full(happened.shape[:-1], np.nan), happened)


def _open(bound: np.ndarray) -> np.ndarray:
    """Ends of intervals, NaN where they are infinite."""
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
    """Years that are known, that have the event, and that are drawn."""
    out = xr.Dataset()
    for event in _EVENTS:
        status = dates[f"{event.name}_status"]
        out[f"{event.name}_known"] = (status != UNKNOWN).sum("season")
        out[f"{event.name}_frozen"] = (status == OBSERVED).sum("season")
        has_value = dates[f"{event.name}_drawn"].notnull().all("draw")
        out[f"{event.name}_leaning"] = ((status == UNKNOWN) & has_value).sum("season")
    for count in out.values():
        count.attrs = {"units": "1"}  # not those of the days that are counted
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
        this day or earlier in autumn. Each year's date is spread by a normal kernel; years without
        a freeze keep their share, and no chance is 0 or 1. For each: ``*_share``, the plain share
        of the years; ``*_low`` to ``*_high``, how well the chance in this climate is known (90 %);
        ``*_next_low`` to ``*_next_high``, in how many of the next ten years the event is likely (90
        %).

    See Also
    --------
    freeze_odds : Dates at given odds. Its ``smoothed`` dates are the inverse of these chances,
        except for half a day, because a chance *on this day or later* includes the day itself.

    Examples
    --------
    >>> import climwin as cw
    >>> daily = cw.read_daily(cw.sample())
    >>> chance = cw.freeze_chance(cw.freeze_dates(daily))
    >>> chance["last_spring"].sel(day_of_year=[100, 120, 140]).round(2).values.tolist()
    [0.98, 0.76, 0.04]
    """
    out = xr.Dataset()
    start = offset_of(dates["first_day"]) + 1
    for event in (_LAST_SPRING, _FIRST_AUTUMN):
        smoothed, hits, counted, worth = apply(
            _chance_kernel(event),
            dates[f"{event.name}_drawn"],
            start,
            core=[["season", "draw"], []],
            out=[["day_of_year"]] * 4,
            sizes={"day_of_year": DAYS},
            dtypes=[float] * 4,
            each=True,
        )
        odds = odds_of(
            hits,
            counted,
            kind=event.kind,
            climate=climate_of(dates),
            smoothed=smoothed,
            worth=worth,
            level_error=level_error_of(dates),
        )
        odds = prefixed(odds, f"{event.name}_").rename({f"{event.name}_odds": event.name})
        out = out.assign(odds).assign_attrs(odds.attrs)
    out = out.assign_attrs(dates.attrs | out.attrs)
    return out.assign_coords(day_of_year=np.arange(1, DAYS + 1))


def _chance_kernel(event: _Event) -> Callable[..., tuple[np.ndarray, ...]]:
    """Kernel: smoothed odds by each day, years in which it happened, all years, and their worth."""

    def kernel(drawn: np.ndarray, start: int) -> tuple[np.ndarray, ...]:
        samples = event.samples(drawn)
        day = start + np.arange(DAYS)
        # The day itself counts, so spring is evaluated half a day before it, autumn half a day
        # after.
        at = day - 0.5 if event.later else day + 0.5
        chance = of_each_draw(lambda sample: kernel_share_above(sample, at), samples).mean(axis=0)
        chance = chance if event.later else 1 - chance
        counted = event.counted(drawn, day)
        results = (chance, counted.share * counted.years, counted.years, counted.worth)
        turn = (start - 1) % DAYS  # from the season's order to the year's
        return tuple(np.roll(values, turn).astype(float) for values in results)

    return kernel
