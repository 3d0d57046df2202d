"""How often a covered space suits a stage: over all years, and by its own logger."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from functools import partial
from typing import NamedTuple

import numpy as np
import xarray as xr

from climwin.climate.heat import HIGHEST_LIMIT_C
from climwin.climate.level import in_climate
from climwin.core.errors import DataGapError
from climwin.core.measures import check_most_celsius
from climwin.core.odds import odds_of
from climwin.core.provenance import climate_of
from climwin.core.schema import TOLERANCE_C, apply, check_units, variable
from climwin.core.seasons import DAYS, by_year, checked_day, seen_range
from climwin.core.stats import LEVEL, NEXT_YEARS
from climwin.core.status import OBSERVED, UNKNOWN
from climwin.crops.bands import bearable_band
from climwin.crops.model import Crop
from climwin.shelter.covers import Cover, longest_hole_s

HOT_C = 35.0
"""Maximum under cover from which young plants scorch: common practice. [degC]"""

_HIDDEN_DAYS = 0.05  # expected days at risk that a gap may hide in a known year
_EARTH_C = (-90.0, 60.0)  # never exceeded on Earth; bounds what a gap can hide
_NO_SPREAD_C = 1e-9  # instead of 0, which turns the normal distribution into a step


# --- chances ------------------------------------------------------------------------------


def _lines_of(cover: Cover) -> list[Cover]:
    """The cover with each of the lines that its logger allows; itself, if it was not fitted."""
    pairs = zip(cover.coldest.drawn, cover.warmest.drawn, strict=True)
    return [replace(cover, coldest=low, warmest=high) for low, high in pairs] or [cover]


def _labelled(da: xr.DataArray, units: str, long_name: str) -> xr.DataArray:
    da.attrs = {"units": units, "long_name": long_name}  # not those of the temperature it is from
    return da


def _too_cold(tmin: np.ndarray, cover: Cover, limit_c: float) -> np.ndarray:
    """Chance that the minimum inside is at or below `limit_c`, shape of `tmin`.

    Days scatter normally around the line of the cover, with its spread.
    """
    from scipy.special import ndtr

    spread = max(cover.coldest.spread_c, _NO_SPREAD_C)
    chance = ndtr((limit_c + TOLERANCE_C - cover.coldest.inside(tmin)) / spread)
    heated = cover.floor_c is not None and cover.floor_c > limit_c + TOLERANCE_C
    return 0 * chance if heated else chance


def _too_hot(tmax: np.ndarray, cover: Cover, limit_c: float) -> np.ndarray:
    """Chance that the maximum inside is at or above `limit_c`, shape of `tmax`."""
    from scipy.special import ndtr

    spread = max(cover.warmest.spread_c, _NO_SPREAD_C)
    return ndtr((cover.warmest.inside(tmax) - limit_c + TOLERANCE_C) / spread)


def space_odds(
    daily: xr.Dataset,
    cover: Cover,
    crop: Crop,
    first_day: int | str,
    last_day: int | str,
    *,
    stage: str | None = None,
    hot_c: float = HOT_C,
    climate: str = "record",
) -> xr.Dataset:
    """How often a covered space would have been too cold or too hot for a crop, by year.

    Parameters
    ----------
    daily : Dataset, dims (..., time)
        Outdoor record, needs ``tmin`` and ``tmax``. [degC]
    cover : Cover
        From `COVERS` or `fit_cover`.
    crop : Crop
        A day is too cold if its minimum inside is at or below what kills the stage.
    first_day, last_day : int or str
        Time under cover: days of the year, or dates such as ``"03-01"``. It may extend over the end
        of the year.
    stage : str, optional
        Name of the stage grown inside. Default: the crop's first.
    hot_c : float
        A day is too hot if its maximum inside reaches this. [degC]
    climate : {"record", "today"}
        The years as they were, or moved to today's level, see `todays_climate`.

    Returns
    -------
    Dataset, dims (..., year)
        For ``cold`` and ``hot``: ``*_days``, the expected number of days; ``*_chance``, the chance
        of at least one, NaN where ``*_status`` is ``unknown``; and over the known years,
        ``*_share``, the share of years with at least one, and ``*_known``, their number;
        ``*_odds``, ``*_share_low`` to ``*_share_high`` and ``*_next_low`` to ``*_next_high`` as for
        `harvest_odds`. A year is that of the first day.

    Raises
    ------
    ValueError
        If a day is not a day of the year, or the crop has no such stage.

    Notes
    -----
    Days scatter independently around the cover's line. Of a fitted cover, chances are means over
    forty lines that its logger allows, and the intervals allow for how far their shares differ. A
    gap counts only if temperatures observed
    at that time of the year could have added at least a twentieth of a day. A year of which less
    than half of the period is known is unknown.

    Examples
    --------
    >>> import climwin as cw
    >>> daily = cw.read_daily(cw.sample())
    >>> frame, cauliflower = cw.COVERS["cold frame"], cw.crop("cauliflower")
    >>> odds = cw.space_odds(daily, frame, cauliflower, "03-01", "04-20")
    >>> odds["hot_known"].item(), odds["hot_share"].round(1).item()
    (39, 0.1)
    """
    check_most_celsius("hot_c", hot_c, HIGHEST_LIMIT_C)
    daily = in_climate(daily, climate)
    first, last, grown = checked_day(first_day), checked_day(last_day), crop.stage(stage)
    period = (first - 1, (last - first) % DAYS + 1)
    lines = _lines_of(cover)
    too_cold = [partial(_too_cold, cover=each, limit_c=grown.cold.killed_at_c) for each in lines]
    too_hot = [partial(_too_hot, cover=each, limit_c=hot_c) for each in lines]
    out = xr.Dataset(attrs={"cover": cover.name, "cover_source": cover.source, "stage": grown.name})
    for side, name, chances in (("cold", "tmin", too_cold), ("hot", "tmax", too_hot)):
        grid = by_year(variable(daily, name))
        days, any_day, between = apply(
            partial(_of_years, chances=chances, cold_side=side == "cold", period=period),
            grid,
            core=[["year", "day_of_year"]],
            out=[["year"], ["year"], []],
            dtypes=[float] * 3,
            each=True,
        )
        out = out.merge(_odds_of(side, days, any_day, between, climate_of(daily))).assign_coords(
            year=grid["year"].values
        )
    return out.assign_attrs(
        first_day=first, last_day=last, hot_c=hot_c, interval=LEVEL
    ).assign_attrs(climate=climate_of(daily), next_years=NEXT_YEARS)


def _of_years(
    grid: np.ndarray,
    chances: Sequence[Callable[[np.ndarray], np.ndarray]],
    cold_side: bool,
    period: tuple[int, int],
) -> tuple[np.ndarray, np.ndarray, float]:
    """Expected days in each year's period, the chance of any, and the variance between lines.

    At one station. `chances` are those of a day, by each line of the cover. `period` is its first
    day of the year, counted from 0, and its length. The variance is that of the share of years.
    """
    start, length = period
    day = start + np.arange(length)
    # Append an empty year, because the last year's period may extend over its end.
    series = np.concatenate([grid.ravel(), np.full(DAYS, np.nan)])
    outdoors = series[np.arange(len(grid))[:, None] * DAYS + day]
    lowest, highest = seen_range(grid)
    worst = np.clip(lowest if cold_side else highest, *_EARTH_C)[day % DAYS]
    is_gap = np.isnan(outdoors)
    of_worst = np.mean([chance(worst) for chance in chances], axis=0)
    of_days = np.stack([np.where(is_gap, 0.0, chance(outdoors)) for chance in chances])
    hidden_days = np.where(is_gap, of_worst, 0.0).sum(-1)
    known = (hidden_days < _HIDDEN_DAYS) & (2 * is_gap.sum(-1) <= length)
    days, any_day = of_days.sum(-1).mean(0), 1 - np.prod(1 - of_days, axis=-1)
    between = float(any_day[:, known].mean(-1).var()) if known.any() else 0.0
    return np.where(known, days, np.nan), np.where(known, any_day.mean(0), np.nan), between


def _odds_of(
    side: str, days: xr.DataArray, any_day: xr.DataArray, between: xr.DataArray, climate: str
) -> xr.Dataset:
    status = apply(
        lambda c: np.where(np.isnan(c), UNKNOWN, OBSERVED), any_day, core=[[]], dtypes=["<U8"]
    )
    known = any_day.notnull().sum("year")
    share = any_day.mean("year")
    # As many years as have the variance of both: that among years, and that between lines.
    among = share * (1 - share)
    worth = known * (among / (among + known * between)).fillna(1.0)
    odds = odds_of(any_day.sum("year"), known, kind="other", climate=climate, worth=worth)
    of_next = f"of the next {NEXT_YEARS} years with a day too {side}"
    of_years = f"share of years with a day too {side}"
    return xr.Dataset(
        {
            f"{side}_days": _labelled(days, "days", f"days too {side} to be expected"),
            f"{side}_chance": _labelled(any_day, "1", f"chance of a day too {side}"),
            f"{side}_status": _labelled(status, "1", f"whether days too {side} are known"),
            f"{side}_share": _labelled(odds["share"], "1", of_years),
            f"{side}_odds": _labelled(odds["odds"], "1", f"odds of a day too {side} in a year"),
            f"{side}_share_low": _labelled(odds["low"], "1", f"{of_years}, lower bound"),
            f"{side}_share_high": _labelled(odds["high"], "1", f"{of_years}, upper bound"),
            f"{side}_next_low": _labelled(odds["next_low"], "years", f"{of_next}, lower bound"),
            f"{side}_next_high": _labelled(odds["next_high"], "years", f"{of_next}, upper bound"),
            f"{side}_known": _labelled(known, "1", "known years"),
        }
    )


# --- a logged period ----------------------------------------------------------------------


class SpaceCheck(NamedTuple):
    """What a logger says about a space: hours, extremes with their times, and days at risk."""

    hours: float
    hours_in_band: float
    hours_below: float
    hours_above: float
    coldest_c: float
    coldest_at: np.datetime64
    hottest_c: float
    hottest_at: np.datetime64
    too_cold: tuple[str, ...]
    too_hot: tuple[str, ...]


def check_space(
    logger: xr.Dataset, crop: Crop, *, stage: str | None = None, hot_c: float = HOT_C
) -> SpaceCheck:
    """Whether a logged period suited a crop.

    Parameters
    ----------
    logger : Dataset, dims (time)
        ``temperature`` inside, from `climwin.io.loggers.read_logger`; choose the period with
        ``logger.sel(time=slice("2027-03-01", "2027-04-20"))``. [degC]
    crop : Crop
        The band is its `bearable_band`; a day is at risk if its coldest reading is at or below what
        kills the stage.
    stage : str, optional
        Name of the stage grown inside. Default: the crop's first.
    hot_c : float
        A day is also at risk if its hottest reading reaches this. [degC]

    Returns
    -------
    SpaceCheck
        Hours logged, in the band, below and above it [h]; the coldest and the hottest reading
        [degC]; the dates that were too cold and too hot. A reading stands for the time halfway to
        its neighbours; holes longer than 3 h, or than one and a half of the logger's usual
        intervals, are left out.

    Raises
    ------
    DataGapError
        If the period has no readings.
    ValueError
        If the crop has no such stage.

    Examples
    --------
    >>> import climwin as cw
    >>> logger = cw.read_logger(cw.sample("frame_logger.csv"))
    >>> check = cw.check_space(logger, cw.crop("cauliflower"))
    >>> round(check.coldest_c, 1), round(check.hottest_c, 1)
    (-4.2, 35.9)
    """
    check_most_celsius("hot_c", hot_c, HIGHEST_LIMIT_C)
    temperature = logger["temperature"]
    check_units(temperature, "degC")
    values = np.asarray(temperature, float)
    time = logger["time"].values.astype("datetime64[s]")
    if not len(values):
        msg = "The logger has no readings in this period. Choose dates within its record."
        raise DataGapError(msg)
    # Each reading stands for half the time to the previous one and half the time to the next.
    between = np.diff(time).astype(float)
    half = np.where(between <= longest_hole_s(time.astype(int)), between, 0.0) / 3600 / 2
    hours = np.append(0.0, half) + np.append(half, 0.0)
    band = bearable_band(crop)
    below = values < band.low_c - TOLERANCE_C
    above = values > band.high_c + TOLERANCE_C
    coldest, hottest = int(values.argmin()), int(values.argmax())
    too_cold = values <= crop.stage(stage).cold.killed_at_c + TOLERANCE_C
    too_hot = values >= hot_c - TOLERANCE_C
    return SpaceCheck(
        hours=float(hours.sum()),
        hours_in_band=float(hours[~below & ~above].sum()),
        hours_below=float(hours[below].sum()),
        hours_above=float(hours[above].sum()),
        coldest_c=float(values[coldest]),
        coldest_at=time[coldest],
        hottest_c=float(values[hottest]),
        hottest_at=time[hottest],
        too_cold=_dates(time[too_cold]),
        too_hot=_dates(time[too_hot]),
    )


def _dates(time: np.ndarray) -> tuple[str, ...]:
    return tuple(map(str, np.unique(time.astype("datetime64[D]"))))
