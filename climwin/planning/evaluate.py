"""Grow plans in every year of a history, over all start dates, and compare them."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property, lru_cache
from typing import Any, NamedTuple

import numpy as np
import xarray as xr

from climwin.climate.imputation import LEAST_MEASURED, NEARBY
from climwin.climate.level import in_climate
from climwin.core.draws import Counted, count_over_draws
from climwin.core.errors import Attribute, InputError
from climwin.core.odds import odds_of, prefixed
from climwin.core.provenance import climate_of, level_error_of, provenance
from climwin.core.schema import apply, variable
from climwin.core.seasons import DAYS, ONE_DAY, date_of, day_number
from climwin.core.stats import LEVEL, between, neighbours, paired_difference
from climwin.planning.growth import GOOD_GROWTH, HARVEST, NEVER, OPEN, REASONS, Life, grow
from climwin.planning.perennial import COLD_BEFORE_START, REST_BEFORE, stand
from climwin.planning.plan import Plan
from climwin.planning.selection import (
    Blocks,
    block_count,
    circular_mean,
    elsewhere_interval,
    simultaneous_band,
    sums_by_block,
)
from climwin.planning.site import (
    ANNUAL_REACH,
    GROWN_DRAWS,
    PERENNIAL_REACH,
    SETTLING_DAYS,
    SOIL_REMEMBERS_DAYS,
    DrawnSite,
    FilledSites,
    Site,
    filled_sites,
    running_sum,
)
from climwin.planning.spans import (
    NO_OTHERS,
    Choice,
    choose_dates,
    lives_one_summer,
    needs_winter,
)

HARVEST_LEVELS = (0.1, 0.5, 0.9)
"""Shares of the harvested years by which the harvest has begun."""

_ANY_START = "01-01"

_OUTCOMES = np.array(["harvest", "failed", "unknown"])
_REASON_WORDS = np.array([*REASONS, "", ""])  # the last two are OPEN and HARVEST, from the end


class Result(NamedTuple):
    """Name, dimensions and type of an array that a kernel makes."""

    name: str
    dims: tuple[str, ...] = ("season", "start_day")
    dtype: Any = float


class Calendar(NamedTuple):
    """Day of the record of each start date in each year.

    Parameters
    ----------
    years : ndarray of int, shape (seasons,)
        Calendar years of the record.
    first_date : numpy.datetime64
        First day of the record.
    size : int
        Days of the record, from its first to its last.
    """

    years: np.ndarray
    first_date: np.datetime64
    size: int

    def place(self, start_days: np.ndarray) -> np.ndarray:
        """Day of the record of each start, shape (seasons, start_days); may lie outside it."""
        first, last = int(self.years[0]), int(self.years[-1])
        return _places(first, last, self.first_date, tuple(start_days.tolist()))


@lru_cache(maxsize=16)
def _places(
    first_year: int, last_year: int, first_date: np.datetime64, start_days: tuple[int, ...]
) -> np.ndarray:
    """Day of the record of each start: the same for every plan that is grown on it."""
    years = np.arange(first_year, last_year + 1)
    dates = date_of(years[:, None], np.array(start_days)[None, :])
    place: np.ndarray = ((dates - first_date) / ONE_DAY).astype(int)
    place.setflags(write=False)
    return place


class Drawn(NamedTuple):
    """Lives of the starts that gaps leave open, in each draw of the gaps."""

    season: np.ndarray
    """Row of each start in a `Grown`, shape (starts,)."""
    start: np.ndarray
    """Its column, shape (starts,)."""
    reason: np.ndarray
    """Shape (starts, draws)."""
    growth: np.ndarray
    """Shape (starts, draws), missing where there is no harvest."""
    yield_index: np.ndarray
    """Shape (starts, draws). [MJ m-2]"""
    harvest_begin: np.ndarray
    """Days from the start to the first harvest, shape (starts, draws); missing without one."""

    def laid_out(self, values: np.ndarray, shape: tuple[int, ...]) -> np.ndarray:
        """Values by season, start day and draw, missing for the starts that are not drawn."""
        out = np.full((*shape, values.shape[-1]), np.nan)
        out[self.season, self.start] = values
        return out

    @property
    def harvested(self) -> np.ndarray:
        """1 for a harvest, 0 for a failure, missing where the record ends too soon to say."""
        return np.where(self.reason == OPEN, np.nan, self.reason == HARVEST)

    @property
    def good(self) -> np.ndarray:
        """1 for a good harvest, 0 for any other outcome, missing as in `harvested`."""
        is_good = (self.reason == HARVEST) & (self.growth >= GOOD_GROWTH)
        return np.where(self.reason == OPEN, np.nan, is_good)


@dataclass(frozen=True)
class Grown:
    """A plan's life in every year from some start dates.

    What is read of it comes as arrays of shape (seasons, start_days), laid out when it is first
    read: a sweep reads a few of them, thousands of times.

    Parameters
    ----------
    life : Life
        Of the starts that lie inside the record.
    outcome : ndarray of int, shape (starts,)
        Number of the reason in `REASONS`, `HARVEST`, or `OPEN`: also where a gap leaves it open.
    starts : ndarray of int, shape (starts,)
        Days of the record on which they are.
    inside : ndarray of bool, shape (seasons, start_days)
        Where they belong.
    drawn : Drawn or None
        The starts that a gap leaves open, drawn; none where there are none.
    place : ndarray of int, shape (seasons, start_days)
        Day of the record of each start, also of those outside it.
    """

    life: Life
    outcome: np.ndarray
    starts: np.ndarray
    inside: np.ndarray
    drawn: Drawn | None
    place: np.ndarray

    @cached_property
    def reason(self) -> np.ndarray:
        """Outcomes, `OPEN` outside the record."""
        return self._laid_out(self.outcome, OPEN)

    @cached_property
    def stage(self) -> np.ndarray:
        """Number of the stage in which it failed, -1 before emergence and where it did not."""
        return self._laid_out(np.where(self._known, self.life.stage, -1), -1)

    @cached_property
    def emergence(self) -> np.ndarray:
        """Days from the start to emergence, missing where it does not come to it."""
        return self._since_start(self.life.up)

    @cached_property
    def set_out(self) -> np.ndarray:
        """Days from the start to the setting out."""
        return self._since_start(self.life.set_out)

    @cached_property
    def harvest_begin(self) -> np.ndarray:
        """Days from the start to the first harvest."""
        return self._since_start(self.life.ripe)

    @cached_property
    def harvest_quantiles(self) -> np.ndarray:
        """`harvest_begin` by which shares of the harvests have begun, see `HARVEST_LEVELS`."""
        return _quantiles(self.harvest_begin, HARVEST_LEVELS)

    @cached_property
    def harvest_end(self) -> np.ndarray:
        """Days from the start to the end of the harvest."""
        return self._since_start(self.life.last)

    @cached_property
    def begins(self) -> np.ndarray:
        """Days from the start to each stage, shape (seasons, start_days, stages)."""
        return self._since_start(self.life.begins)

    @cached_property
    def growth(self) -> np.ndarray:
        """Growth of each harvest, see `Life`."""
        return self._laid_out(np.where(self._known, self.life.growth, np.nan), np.nan)

    @cached_property
    def yield_index(self) -> np.ndarray:
        """Light used for growth, as a measure of the crop; 0 in a failed year. [MJ m-2]"""
        return self._laid_out(np.where(self._known, self.life.yield_index, np.nan), np.nan)

    @cached_property
    def _known(self) -> np.ndarray:
        return self.outcome != OPEN

    def _since_start(self, day: np.ndarray) -> np.ndarray:
        shape = (-1,) + (1,) * (day.ndim - 1)
        there = (day < NEVER) & self._known.reshape(shape)
        return self._laid_out(np.where(there, day - self.starts.reshape(shape), np.nan), np.nan)

    def _laid_out(self, values: np.ndarray, empty: float) -> np.ndarray:
        shape = (*self.inside.shape, *values.shape[1:])
        if len(values) == self.inside.size:
            return values.reshape(shape)
        out = np.full(shape, empty, dtype=values.dtype)
        out[self.inside] = values
        return out


def grow_plan(plan: Plan, sites: FilledSites, calendar: Calendar, start_days: np.ndarray) -> Grown:
    """Grow a plan in every year from the given days of the year, gaps allowed for.

    A year is left open if its gaps change the outcome: it is grown with every missing day as cold,
    and as warm, as was ever seen near its time of the year, and must end alike. That is no proof: a
    night may be colder than was ever seen, and values in between may bring another end than both.
    Of 10,000 years that count as known, 1 to 4 end otherwise (``tests/odds/GAPS.md``). To grow them
    in all draws as well would find most of these, but make a page half as slow again.

    What is open is grown again in each draw of the gaps, unless less than half of its days was
    measured.
    """
    place = calendar.place(start_days)
    inside = (place >= 0) & (place < calendar.size)
    inside &= sites.usual.has_usual_year  # otherwise its soil and its winter are unknown
    starts = place[inside]
    life = _life(plan, sites.usual, starts)
    outcome, drawn = life.reason.copy(), None
    if sites.missing.any():
        # A perennial's year begins with the rest of the winter before it.
        before = COLD_BEFORE_START + REST_BEFORE if plan.crop.is_perennial else SETTLING_DAYS
        begin = np.maximum(starts - before, 0)
        remembered = np.maximum(starts - max(before, SOIL_REMEMBERS_DAYS), 0)
        # Colder or warmer days lengthen or shorten a life, so look a while beyond its usual end.
        end = np.minimum(life.touched_until + 60, calendar.size)
        missing_before = running_sum(sites.missing)
        touched = np.flatnonzero(missing_before[end] > missing_before[remembered])
        opened = touched[_may_end_otherwise(plan, sites, starts[touched], outcome[touched])]
        to_draw = opened[outcome[opened] != OPEN]
        outcome[opened] = OPEN
        if len(to_draw):
            to_draw = to_draw[_can_be_drawn(sites, begin[to_draw], end[to_draw])]
        if len(to_draw):
            season, start = (axis[to_draw] for axis in np.nonzero(inside))
            in_draws = sites.drawn(_reach(plan))
            drawn = Drawn(season, start, *_lives_by_draw(plan, in_draws, starts[to_draw]))
    return Grown(life, outcome, starts, inside, drawn, place)


def _reach(plan: Plan) -> tuple[int, int]:
    """Days before and after a gap whose lives it may change, see `DrawnSite`."""
    return PERENNIAL_REACH if plan.crop.is_perennial else ANNUAL_REACH


def _may_end_otherwise(
    plan: Plan, sites: FilledSites, starts: np.ndarray, reason: np.ndarray
) -> np.ndarray:
    """Whether starts end otherwise with every missing day as cold, or as warm, as was ever seen.

    Parameters
    ----------
    plan : Plan
        What is grown.
    sites : FilledSites
        Of one station.
    starts : ndarray of int, shape (starts,)
        Days of the record.
    reason : ndarray of int, shape (starts,)
        How they end with the gaps filled as usual, see `Life`.
    """
    if not len(starts):
        return np.zeros(0, dtype=bool)
    at_extremes = sites.extremes(_reach(plan))
    extremes = _lives_by_draw(plan, at_extremes, starts, only_outcome=True).reason.T
    alike = (extremes == HARVEST) == (reason == HARVEST)
    alike &= (extremes == OPEN) == (reason == OPEN)
    return ~alike.all(axis=0)


def _can_be_drawn(sites: FilledSites, begin: np.ndarray, end: np.ndarray) -> np.ndarray:
    """Whether most days from `begin` to before `end` were measured, and all others can be drawn.

    A day that joined stations cover counts as measured.
    """
    uncovered, hopeless = (
        running_sum(days)[end] - running_sum(days)[begin]
        for days in (sites.uncovered, sites.cannot_be_drawn)
    )
    return (uncovered <= (1 - LEAST_MEASURED) * (end - begin)) & (hopeless == 0)


class _LivesByDraw(NamedTuple):
    """The last fields of a `Drawn`, shape (starts, draws)."""

    reason: np.ndarray
    growth: np.ndarray
    yield_index: np.ndarray
    harvest_begin: np.ndarray


def _lives_by_draw(
    plan: Plan, site: DrawnSite, starts: np.ndarray, *, only_outcome: bool = False
) -> _LivesByDraw:
    """Lives from some starts in each draw of the gaps."""
    place = site.place_of(starts)
    # Draw by draw, because days in order are found faster.
    life = _life(plan, site, place.T.ravel(), only_outcome)

    def by_draw(values: np.ndarray) -> np.ndarray:
        return np.ascontiguousarray(values.reshape(site.draws, len(starts)).T)

    ended = np.where(life.reason == HARVEST, life.ripe, life.touched_until)
    past_end = by_draw(ended) >= site.end_of(starts)

    return _LivesByDraw(
        reason=np.where(past_end, OPEN, by_draw(life.reason)),
        growth=by_draw(life.growth),
        yield_index=by_draw(life.yield_index),
        harvest_begin=np.where(
            (by_draw(life.reason) == HARVEST) & ~past_end, by_draw(life.ripe) - place, np.nan
        ),
    )


def _life(plan: Plan, site: Site, starts: np.ndarray, only_outcome: bool = False) -> Life:
    if plan.crop.is_perennial:
        return stand(site, plan.crop, starts)
    return grow(site, plan.crop, plan.way, starts, only_outcome=only_outcome)


# --- every station of a record ------------------------------------------------------------


def over_sites(
    kernel: Callable[[FilledSites, Calendar], tuple[np.ndarray, ...]],
    daily: xr.Dataset,
    *,
    results: Sequence[Result],
    sizes: Mapping[str, int] | None = None,
    start_days: np.ndarray | None = None,
) -> xr.Dataset:
    """Apply a kernel to the weather of each station of a record.

    Parameters
    ----------
    kernel : callable
        Takes the sites of one station and the record's calendar, returns an array for each of
        `results`.
    daily : Dataset, dims (..., time)
        Needs ``tmin`` and ``tmax`` [degC], and its latitude as a coordinate or an attribute.
    results : sequence of Result
        One or more.
    sizes : mapping, optional
        Lengths of dimensions other than ``season`` and ``start_day``.
    start_days : ndarray, optional
        Labels of ``start_day``; all days of the year where left out.

    Returns
    -------
    Dataset, dims (..., those of each result)

    Raises
    ------
    ValueError
        If the record holds no latitude.
    """
    nearby = [name for name in NEARBY.values() if name in daily]
    values = xr.broadcast(
        variable(daily, "tmin"), variable(daily, "tmax"), *(daily[name] for name in nearby)
    )
    dates = np.asarray(daily["time"]).astype("datetime64[D]")
    first, last = dates.min(), dates.max()
    size = int((last - first) / ONE_DAY) + 1
    place = ((dates - first) / ONE_DAY).astype(int)
    years = np.arange(int(str(first)[:4]), int(str(last)[:4]) + 1)
    calendar = Calendar(years, first, size)

    def of_station(latitude: float, *of_days: np.ndarray) -> np.ndarray | tuple[np.ndarray, ...]:
        every_day = np.full((len(of_days), size), np.nan)
        every_day[:, place] = of_days
        low, high, *estimates = every_day
        sites = filled_sites(
            first, low, high, float(latitude), dict(zip(nearby, estimates, strict=True))
        )
        made = kernel(sites, calendar)
        return made if len(made) > 1 else made[0]

    starts = np.arange(1, DAYS + 1) if start_days is None else start_days
    labels = {"season": years, "start_day": starts}
    dims = {dim for result in results for dim in result.dims}
    arrays = apply(
        of_station,
        latitude_of(daily),
        *values,
        core=[[], *[["time"]] * len(values)],
        out=[result.dims for result in results],
        sizes={d: len(label) for d, label in labels.items() if d in dims} | dict(sizes or {}),
        dtypes=[result.dtype for result in results],
        each=True,
    )
    several = arrays if len(results) > 1 else (arrays,)
    out = xr.Dataset({r.name: array for r, array in zip(results, several, strict=True)})
    return out.assign_coords({dim: label for dim, label in labels.items() if dim in dims})


def latitude_of(daily: xr.Dataset) -> xr.DataArray:
    """Latitude of a record, of each station where they differ. [degrees north]

    Raises
    ------
    ValueError
        If it has none; radiation and day length depend on it.
    """
    if "latitude" in daily.coords:
        return daily["latitude"]
    if "latitude" in daily.attrs:
        return xr.DataArray(float(daily.attrs["latitude"]))
    msg = (
        "The growing model needs the latitude, for the sun and the length of the day, and the "
        "record does not hold it. Give it, in degrees north: "
    )
    raise InputError(msg, Attribute("latitude", 46.1), ".", parameter="latitude")


def check_one_place(daily: xr.Dataset, asker: str) -> None:
    """Refuse a record of several places if each would have its own list of results.

    Raises
    ------
    ValueError
        Says which dimensions there are, and how to choose a place.
    """
    dims = variable(daily, "tmin").dims
    if dims != ("time",):
        msg = (
            f"{asker} takes the record of one place, got dimensions {', '.join(map(str, dims))}. "
            "Choose one first, such as daily.sel(station=...)."
        )
        raise InputError(msg, parameter="daily")


# --- a plan in every year -----------------------------------------------------------------

_DATES = ("emergence", "set_out", "harvest_begin", "harvest_end")


def evaluate_plan(plan: Plan, daily: xr.Dataset, *, climate: str = "record") -> xr.Dataset:
    """Grow a plan in every year of a history.

    Parameters
    ----------
    plan : Plan
        What is done.
    daily : Dataset, dims (..., time)
        Needs ``tmin`` and ``tmax`` [degC], and its latitude as a coordinate or an attribute.
    climate : {"record", "today"}
        The years as they were, or moved to today's level, see `todays_climate`.

    Returns
    -------
    Dataset, dims (..., season)
        By year of the start, of a perennial in the north that of the harvest: ``outcome``,
        ``"harvest"``, ``"failed"`` or ``"unknown"``, the last where a gap or the record's end
        changes it, see the notes; ``harvested``, the same as 1, 0 and missing; ``reason`` of a
        failure, one of `growth.REASONS`, and the ``stage`` it struck;
        the dates ``start``, ``emergence``, ``set_out``, ``harvest_begin``, ``harvest_end`` and
        ``stage_begin`` (dims ..., season, stage); ``growth``, 0 to 1, of a harvest;
        ``yield_index``, 0 in a failed year [MJ m-2]; ``days_outdoors`` from emergence or setting
        out to the first harvest. ``harvested_drawn`` and ``good_drawn``, dims (..., season, draw):
        1 or 0 by each draw of the gaps where these leave the outcome unknown, see `draw_gaps`; else
        missing; ``reason_drawn``, why it fails in each draw.
        ``harvest_per_degree``, dims (...): by how much the share of harvests rises with each degC
        of mean temperature between start and harvest [1/degC].

    See Also
    --------
    harvest_odds, sweep_start_dates, compare_plans

    Notes
    -----
    Gaps change an outcome if it differs with every missing day as cold, and as warm, as was ever
    seen near its time of the year. That is nearly sure: of 10,000 years that count as known, 1 to 4
    end otherwise, after a night colder than was ever seen, or by values between both
    (``tests/odds/GAPS.md``).

    Examples
    --------
    >>> import climwin as cw
    >>> daily = cw.read_daily(cw.sample())
    >>> grown = cw.evaluate_plan(cw.Plan(cw.crop("pea"), "04-10"), daily)
    >>> grown["outcome"].sel(season=2000).item(), grown["reason"].sel(season=2000).item()
    ('failed', 'too hot')
    """
    daily = in_climate(daily, climate)
    # A perennial's year begins on the same day whatever its plan says, as in a sweep.
    day = 1 if plan.crop.is_perennial else day_number(plan.start)
    stages = [stage.name for stage in plan.crop.stages]

    def kernel(sites: FilledSites, calendar: Calendar) -> tuple[np.ndarray, ...]:
        grown = grow_plan(plan, sites, calendar, np.array([day]))
        columns = (grown.reason, grown.stage, *(getattr(grown, name) for name in _DATES))
        columns += (grown.growth, grown.yield_index)
        harvested, good = drawn_outcomes(grown)
        reasons = np.full((*grown.reason.shape, GROWN_DRAWS), OPEN)
        if grown.drawn is not None:
            reasons[grown.drawn.season, grown.drawn.start] = grown.drawn.reason
        return (
            *(values[:, 0] for values in columns),
            grown.begins[:, 0],
            harvested[:, 0],
            good[:, 0],
            reasons[:, 0],
            harvest_per_degree(grown, sites.usual)[0],
        )

    season = ("season",)
    out = over_sites(
        kernel,
        daily,
        results=[
            Result("reason", season, int),
            Result("stage", season, int),
            *(Result(name, season) for name in _DATES),
            Result("growth", season),
            Result("yield_index", season),
            Result("stage_begin", ("season", "stage_number")),
            Result("harvested_drawn", ("season", "draw")),
            Result("good_drawn", ("season", "draw")),
            Result("reason_drawn", ("season", "draw"), int),
            Result("harvest_per_degree", ()),
        ],
        sizes={"stage_number": len(stages), "draw": GROWN_DRAWS},
    )
    code, number = out["reason"], out["stage"]
    kind: xr.DataArray = apply(_outcome_number, code, core=[[]], dtypes=[int])
    out["outcome"] = _words(kind, _OUTCOMES)
    out["harvested"] = (code == HARVEST).where(code != OPEN)
    out["reason"] = _words(code, _REASON_WORDS)
    out["reason_drawn"] = _words(out["reason_drawn"], _REASON_WORDS)
    out["stage"] = _words(number, np.array([*stages, ""]))
    begun = out["set_out"].where(out["emergence"] < out["set_out"], out["emergence"])
    out["days_outdoors"] = (out["harvest_begin"] - begun).assign_attrs(units="days")
    out["yield_index"].attrs["units"] = "MJ m-2"
    out["harvest_per_degree"].attrs["units"] = "1/degC"
    start = date_of(out["season"].values, np.array(day)).astype("datetime64[s]")
    out["start"] = "season", start
    for name in (*_DATES, "stage_begin"):
        out[name] = _dates(out["start"], out[name])
    out = out.rename(stage_number="stage_name").assign_coords(stage_name=stages)
    return out.assign_attrs(provenance(daily), plan=plan.name, crop=plan.crop.name)


def drawn_outcomes(grown: Grown) -> tuple[np.ndarray, np.ndarray]:
    """Whether a start ends in a harvest, and in a good one, by draw; missing where not drawn.

    Shape (seasons, start_days, draws).
    """
    if grown.drawn is None:
        nothing = np.full((*grown.reason.shape, GROWN_DRAWS), np.nan)
        return nothing, nothing
    drawn, shape = grown.drawn, grown.reason.shape
    return drawn.laid_out(drawn.harvested, shape), drawn.laid_out(drawn.good, shape)


def _outcome_number(reason: np.ndarray) -> np.ndarray:
    """Position in `_OUTCOMES` of a life's reason."""
    return np.select([reason == HARVEST, reason == OPEN], [0, 2], 1)


def _words(number: xr.DataArray, words: np.ndarray) -> xr.DataArray:
    """Numbers as words; negative ones count from the end."""
    named: xr.DataArray = apply(lambda n: words[n], number, core=[[]], dtypes=[words.dtype])
    return named


def _dates(start: xr.DataArray, days: xr.DataArray) -> xr.DataArray:
    seconds = (days * 86_400).fillna(0).astype("timedelta64[s]")
    dates: xr.DataArray = (start + seconds).where(days.notnull()).transpose(*days.dims)
    return dates


def harvest_odds(evaluated: xr.Dataset) -> xr.Dataset:
    """Odds of a harvest and of a good one over the years, and the reasons of failed years.

    Parameters
    ----------
    evaluated : Dataset, dims (..., season)
        From `evaluate_plan`.

    Returns
    -------
    Dataset, dims (...)
        ``harvested`` of ``known`` years, and ``unknown`` ones; the plain ``share`` over all years,
        those that a gap leaves open as its draws say (``leaning`` counts them); ``share_least`` and
        ``share_most``, had no unknown year a harvest, and had all of them (nearly sure bounds, see
        `evaluate_plan`); the ``odds``, the share
        again, but never 0 or 1 (see `stats.within_reach`); ``low`` to ``high``, how well the
        odds of this climate are known (90 %), wider if years depend on draws; ``next_low`` to
        ``next_high``, in how many of the next ten years it is likely to come to a harvest (90 %).
        The same of ``good`` years, whose growth is at least 0.6: ``good_share``, ``good_odds`` and
        so on. ``growth``, the mean over the harvests; ``failed_by``, dims (..., reason): known
        years by reason; ``failed_share``, the share of all years that each reason fails, over draws
        as the share of harvests, with which it adds up to 1.

    Examples
    --------
    >>> import climwin as cw
    >>> daily = cw.read_daily(cw.sample())
    >>> grown = cw.evaluate_plan(cw.Plan(cw.crop("pea"), "04-10"), daily)
    >>> odds = cw.harvest_odds(grown)
    >>> print(f"a harvest in {odds['harvested'].item()} of {odds['known'].item()} years")
    a harvest in 26 of 37 years
    >>> round(odds["low"].item(), 2), round(odds["high"].item(), 2)
    (0.56, 0.82)
    """
    harvested, reason = evaluated["harvested"], evaluated["reason"]
    known = harvested.notnull().sum("season")
    out = xr.Dataset({"harvested": harvested.sum("season").astype(int), "known": known})
    is_good = evaluated["growth"] >= GOOD_GROWTH
    out["good"] = is_good.sum("season")
    is_good = is_good.where(harvested.notnull())
    for prefix, happened, drawn in (
        ("good_", is_good, "good_drawn"),
        ("", harvested, "harvested_drawn"),
    ):
        out[f"{prefix}share"], _, out["leaning"], out[f"{prefix}worth"] = apply(
            count_over_draws,
            happened.astype(float),
            evaluated.get(drawn, xr.full_like(harvested, np.nan).expand_dims("draw")),
            core=[["season"], ["season", "draw"]],
            out=[[]] * 4,
            dtypes=[float, int, int, float],
        )
    out["unknown"] = evaluated.sizes["season"] - known
    out["growth"] = evaluated["growth"].mean("season")
    reasons = xr.DataArray(list(REASONS), dims="reason", coords={"reason": list(REASONS)})
    out["failed_by"] = (reason == reasons).sum("season")
    by_draw = evaluated.get("reason_drawn", xr.full_like(reason, "").expand_dims("draw"))
    failed = out["failed_by"] + (by_draw == reasons).mean("draw").sum("season")
    answered = out["known"] + out["leaning"]
    out["failed_share"] = failed / answered.where(answered > 0)
    out["harvest_per_degree"] = evaluated.get("harvest_per_degree", xr.DataArray(np.nan))
    out = _with_shares(out, evaluated)
    return out.assign_attrs(evaluated.attrs | out.attrs)


def _with_shares(counts: xr.Dataset, record: xr.Dataset) -> xr.Dataset:
    """Counts with their odds, and the share that the gaps allow at either end.

    `record` is what they were counted from, and says what climate its years are of.
    """
    answered = counts["known"] + counts["leaning"]
    for prefix in ("", "good_"):
        odds = odds_of(
            counts[f"{prefix}share"] * answered,
            answered,
            kind="harvest",
            climate=climate_of(record),
            worth=counts[f"{prefix}worth"],
            level_error=level_error_of(record),
            per_degree=counts["harvest_per_degree"],
        )
        counts = counts.assign(prefixed(odds, prefix)).assign_attrs(odds.attrs)
    every = (counts["known"] + counts["unknown"]).where(lambda years: years > 0)
    counts["share_least"] = counts["harvested"] / every
    counts["share_most"] = (counts["harvested"] + counts["unknown"]) / every
    return counts.drop_vars(["worth", "good_worth"])


# --- every start date ---------------------------------------------------------------------


def sweep_start_dates(plan: Plan, daily: xr.Dataset, *, climate: str = "record") -> xr.Dataset:
    """Odds of a harvest, and its size, for each start date of the year.

    Parameters
    ----------
    plan : Plan
        Its own start date plays no part.
    daily : Dataset, dims (..., time)
        Needs ``tmin`` and ``tmax`` [degC], and its latitude as a coordinate or an attribute.
    climate : {"record", "today"}
        As for `evaluate_plan`.

    Returns
    -------
    Dataset, dims (..., start_day)
        What `harvest_odds` gives, for day 1 to 365; ``yield_index``, the mean over the known years
        with 0 in a failed one [MJ m-2], and ``expected_crop``, the same as a share of the best
        start date's; ``harvest_day``, dims (..., start_day, quantile): days after 1 January of the
        start's year by which the harvest has begun in 10, 50 and 90 % of the harvested years, the
        mean of what each draw of the gaps says;
        ``days_outdoors``, of the middle one. ``band_low`` to ``band_high`` holds the whole curve
        of the share at once (90 %), where ``low`` to ``high`` holds each date by itself.
        ``best_first``, ``best_day`` and ``best_last``, days of the year: the dates of the season
        that leads, as `recommended_dates` does of one variety; where no season has odds of 0.8
        (``best_season`` is then -1), those near the largest crop, see `best_dates`. Of the best day
        ``elsewhere_harvested`` of ``elsewhere_known`` years, the ``elsewhere_share`` and its
        interval ``elsewhere_low`` to ``elsewhere_high``: chosen without each block of years and
        judged on that block, for its share in the years that chose it is too good by luck; half of
        what a choice from fewer years costs is added, so the harvests are no whole number.
        ``stable``: the share of the blocks without which a date is still near the largest crop.
        ``coldest`` and ``warmest``: days of the smoothed climatology, counted from 0. A perennial
        has one start, see `Plan`; no year is known on the other days.

    Examples
    --------
    >>> import climwin as cw
    >>> daily = cw.read_daily(cw.sample())
    >>> swept = cw.sweep_start_dates(cw.Plan(cw.crop("pea"), "04-01"), daily)
    >>> swept["share"].sel(start_day=[60, 100, 160]).round(2).values.tolist()
    [0.6, 0.7, 0.74]
    >>> int(swept["best_day"])  # 19 March
    78
    """
    swept = sweep_plans([plan], daily, climate=climate).isel(plan=0, drop=True)
    swept = swept.drop_vars(BLOCK_COUNTS)
    return swept.assign_attrs(plan=plan.name, crop=plan.crop.name)


def sweep_plans(
    plans: Sequence[Plan],
    daily: xr.Dataset,
    *,
    climate: str = "record",
    with_band: bool = True,
) -> xr.Dataset:
    """Odds of a harvest of several plans for each start date of the year.

    Parameters
    ----------
    plans : sequence of Plan
        Their own start dates play no part.
    daily : Dataset, dims (..., time)
        As for `sweep_start_dates`.
    climate : {"record", "today"}
        As for `evaluate_plan`.
    with_band : bool
        Whether to find ``band_low`` and ``band_high``, which many stations do without; otherwise
        they are missing.

    Returns
    -------
    Dataset, dims (..., plan, start_day)
        What `sweep_start_dates` gives, in the order of the plans; ``expected_crop`` is a share of
        the best start date of all plans. ``block_*``, dims (..., plan, start_day, block): counts
        and sums of each block of years, see `climwin.planning.selection`.

    Raises
    ------
    ValueError
        If there is no plan.
    """
    if not plans:
        msg = "There is no plan to grow, got an empty sequence. Give at least one."
        raise InputError(msg, parameter="plans")
    daily = in_climate(daily, climate)
    every_day = np.arange(1, DAYS + 1)

    def kernel(sites: FilledSites, calendar: Calendar) -> tuple[np.ndarray, ...]:
        swept = [sweep_years(plan, sites, calendar, with_band=with_band) for plan in plans]
        padded = [_on_every_day(plan, each.counts) for plan, each in zip(plans, swept, strict=True)]
        counts = tuple(np.stack(each) for each in zip(*padded, strict=True))
        chosen = [np.stack([getattr(s.chosen, name) for s in swept]) for name in _OF_CHOICE]
        return *counts, *chosen, *map(np.array, turns_of_year(sites))

    dims = ("plan", "start_day")
    out = over_sites(
        kernel,
        daily,
        results=[
            *(
                Result(
                    name,
                    (*dims, _SECOND_AXES[name]) if name in _SECOND_AXES else dims,
                    int if name in _WHOLE_COUNTS else float,
                )
                for name in Counts._fields
            ),
            *(Result(name, ("plan",)) for name in ("best_first", "best_day", "best_last")),
            Result("best_season", ("plan",), int),
            *(Result(f"elsewhere_{name}", ("plan",)) for name in ("harvested", "known")),
            Result("stable", dims),
            *(Result(name, (), int) for name in ("coldest", "warmest")),
        ],
        sizes={
            "plan": len(plans),
            "quantile": len(HARVEST_LEVELS),
            "reason": len(REASONS),
            "block": block_count(calendar_years(daily)),
        },
        start_days=every_day,
    )
    best = out["yield_index"].max(["plan", "start_day"])
    out["expected_crop"] = out["yield_index"] / best.where(best > 0)
    out["harvest_day"] = (out["harvest_day"] + out["start_day"]).assign_attrs(
        units="days after 31 December before the start"
    )
    out["days_outdoors"].attrs["units"] = "days"
    out["yield_index"].attrs["units"] = "MJ m-2"
    out["harvest_per_degree"].attrs["units"] = "1/degC"
    out = _with_shares(out, daily).assign_attrs(provenance(daily))
    on_best_day = at_day(out["harvest_per_degree"], out["best_day"])
    out = with_elsewhere(
        out,
        out["elsewhere_harvested"],
        out["elsewhere_known"],
        on_best_day * level_error_of(out),
    )
    return out.assign_coords(reason=list(REASONS), quantile=list(HARVEST_LEVELS))


def turns_of_year(sites: FilledSites) -> tuple[int, int]:
    """Coldest and warmest day of a place's smoothed climatology, counted from 0."""
    usual = sites.usual.usual_mean
    return int(usual.argmin()), int(usual.argmax())


_OF_CHOICE = ("first", "best", "last", "season", "harvested", "known", "stable")
"""Results of `sweep_plans` on the dates that lead, see `climwin.planning.spans.Choice`."""
BLOCK_COUNTS = ("block_harvested", "block_known", "block_worth", "block_growth")
"""Counts of `sweep_plans` in each block of years, see `climwin.planning.selection`."""


def calendar_years(daily: xr.Dataset) -> int:
    """Calendar years of a record, from its first day to its last."""
    years = daily["time"].dt.year.values
    return int(years.max() - years.min()) + 1


def at_day(swept: xr.DataArray, day: xr.DataArray, *others: str) -> xr.DataArray:
    """Values of a sweep on one start day, counted from 1, which differs from plan to plan.

    Missing, or 0 of whole numbers, where the day is.
    """

    def on_day(values: np.ndarray, day: float) -> np.ndarray:
        if np.isnan(day):
            return np.zeros_like(values[0]) if values.dtype.kind in "ib" else values[0] * np.nan
        return np.asarray(values[int(day) - 1])

    taken: xr.DataArray = apply(
        on_day,
        swept,
        day,
        core=[["start_day", *others], []],
        out=[list(others)],
        dtypes=[swept.dtype],
        each=True,
    )
    return taken


def with_elsewhere(
    out: xr.Dataset, hits: xr.DataArray, known: xr.DataArray, error: xr.DataArray
) -> xr.Dataset:
    """The share of harvests in years left out of a choice, with its interval.

    `error` is what the standard error of the level that years were moved to makes of the share.
    """
    out["elsewhere_harvested"], out["elsewhere_known"] = hits, known
    out["elsewhere_share"] = hits / known.where(known > 0)
    out["elsewhere_low"], out["elsewhere_high"] = apply(
        lambda hits, known, error: elsewhere_interval(hits, known, error=np.nan_to_num(error)),
        hits,
        known,
        error,
        core=[[], [], []],
        out=[[], []],
        dtypes=[float] * 2,
    )
    out["elsewhere_share"].attrs["long_name"] = (
        "share of harvests from the best date, in years left out of the choice"
    )
    return out


class SweptYears(NamedTuple):
    """Outcome of every start day of every year; small enough to be remembered.

    Parameters
    ----------
    counts : Counts
        Years of each outcome by start day.
    reason : ndarray of int8, shape (seasons, start_days)
        Outcome of each life: its number in `REASONS`, `HARVEST`, or `OPEN`.
    good : ndarray of bool, shape (seasons, start_days)
        Whether it is a good harvest.
    days_to_end : ndarray, shape (start_days,)
        Days from emergence to the end of the harvest in the middling year, missing where there is
        none.
    drawn : Drawn or None
        The starts that a gap leaves open, drawn; none where there are none.
    chosen : Choice
        The dates that lead.
    """

    counts: Counts
    reason: np.ndarray
    good: np.ndarray
    days_to_end: np.ndarray
    drawn: Drawn | None
    chosen: Choice


def sweep_years(
    plan: Plan, sites: FilledSites, calendar: Calendar, *, with_band: bool = True
) -> SweptYears:
    """Grow a plan from every start day of every year; a perennial from one.

    Remembered with the record's sites: a page asks for the same plans in its table of crops, in its
    live chart and in its dates.
    """

    def sweep() -> SweptYears:
        starts = np.array([1]) if plan.crop.is_perennial else np.arange(1, DAYS + 1)
        grown = grow_plan(plan, sites, calendar, starts)
        counts = count_years(grown, sites.usual, with_band=with_band)
        return SweptYears(
            counts=counts,
            reason=grown.reason.astype(np.int8),
            good=grown.growth >= GOOD_GROWTH,
            days_to_end=_quantiles(grown.harvest_end - grown.emergence, (0.5,))[..., 0],
            drawn=grown.drawn,
            chosen=_chosen(plan, counts, sites),
        )

    return sites.once(("swept", replace(plan, start=_ANY_START), with_band), sweep)


def _chosen(plan: Plan, counts: Counts, sites: FilledSites) -> Choice:
    if plan.crop.is_perennial:  # a perennial has one start
        day = 1.0 if counts.known[0] else np.nan
        years = float(counts.block_harvested.sum()), float(counts.block_known.sum())
        stable = np.where(np.arange(DAYS) == 0, 1.0, 0.0)
        return Choice(day, day, day, -1, *years, stable, NO_OTHERS)
    return choose_dates(
        counts.share,
        counts.growth,
        counts.yield_index,
        counts.harvest_day[:, HARVEST_LEVELS.index(0.5)],
        Blocks(*(getattr(counts, name) for name in BLOCK_COUNTS)),
        *turns_of_year(sites),
        needs_winter=needs_winter(plan.crop),
        is_cool=plan.crop.season == "cool",
        is_warm=lives_one_summer(plan.crop),
    )


def _on_every_day(plan: Plan, counts: tuple[np.ndarray, ...]) -> tuple[np.ndarray, ...]:
    """Counts of a perennial's one start on the axis of all days, unknown on the others."""
    if not plan.crop.is_perennial:
        return counts
    padded = []
    for values in counts:
        empty = 0 if np.issubdtype(values.dtype, np.integer) else np.nan
        wide = np.full((DAYS, *values.shape[1:]), empty, dtype=values.dtype)
        wide[0] = values[0]
        padded.append(wide)
    return tuple(padded)


class Counts(NamedTuple):
    """Years of each outcome from each start, and what a harvest is worth; shape (start_days,).

    Some have a second axis, see `_SECOND_AXES`. ``harvest_day`` counts from the start.
    """

    harvested: np.ndarray
    known: np.ndarray
    good: np.ndarray
    unknown: np.ndarray
    leaning: np.ndarray
    share: np.ndarray
    worth: np.ndarray
    good_share: np.ndarray
    good_worth: np.ndarray
    growth: np.ndarray
    yield_index: np.ndarray
    days_outdoors: np.ndarray
    harvest_day: np.ndarray
    failed_by: np.ndarray
    failed_share: np.ndarray
    block_harvested: np.ndarray
    block_known: np.ndarray
    block_worth: np.ndarray
    block_growth: np.ndarray
    band_low: np.ndarray
    band_high: np.ndarray
    harvest_per_degree: np.ndarray


_WHOLE_COUNTS = ("harvested", "known", "good", "unknown", "leaning", "failed_by")
"""Fields of `Counts` that are whole numbers."""
_SECOND_AXES = {
    "harvest_day": "quantile",
    "failed_by": "reason",
    "failed_share": "reason",
    **dict.fromkeys(BLOCK_COUNTS, "block"),
}
"""Dimension of the second axis of some fields of `Counts`: `HARVEST_LEVELS`, `REASONS`, and the
blocks of years of `climwin.planning.selection`."""


def count_years(grown: Grown, site: Site, *, with_band: bool = True) -> Counts:
    """Count the years of a plan's lives at a site, start by start; `with_band` as `sweep_plans`."""
    seasons, start_days = grown.reason.shape
    # Outcomes by start day, in one count: open, harvest, and each reason.
    place = np.arange(start_days) * (len(REASONS) - OPEN) + (grown.reason - OPEN)
    counts = np.bincount(place.ravel(), minlength=start_days * (len(REASONS) - OPEN))
    by_outcome = counts.reshape(start_days, -1)
    unknown, harvested = by_outcome[:, 0], by_outcome[:, HARVEST - OPEN]
    failed_by = by_outcome[:, -OPEN:]
    known, is_good = seasons - unknown, grown.growth >= GOOD_GROWTH
    odds = _odds_of_starts(grown, grown.reason == HARVEST, "harvested")
    good_odds = _odds_of_starts(grown, is_good, "good")
    by_year = _by_year(grown)
    growth, made = _over_draws(grown, by_year)
    begun = np.fmax(grown.emergence, grown.set_out)
    band_low = band_high = np.full(start_days, np.nan)
    if with_band:
        band_low, band_high = simultaneous_band(by_year.harvested, by_year.answered)
    return Counts(
        harvested=harvested,
        known=known,
        good=is_good.sum(axis=0),
        unknown=unknown,
        leaning=odds.leaning,
        share=odds.share,
        worth=odds.worth,
        good_share=good_odds.share,
        good_worth=good_odds.worth,
        growth=growth,
        yield_index=made,
        days_outdoors=_quantiles(grown.harvest_begin - begun, (0.5,))[..., 0],
        harvest_day=_quantiles_over_draws(grown),
        failed_by=failed_by,
        failed_share=_failed_share(grown, failed_by),
        block_harvested=sums_by_block(by_year.harvested),
        block_known=sums_by_block(by_year.answered.astype(float)),
        block_worth=sums_by_block(by_year.made),
        block_growth=sums_by_block(by_year.growth),
        band_low=band_low,
        band_high=band_high,
        harvest_per_degree=harvest_per_degree(grown, site),
    )


USUAL_LIFE = 100
"""Days from start to harvest for a plan without a harvest in most years (common practice)."""


def harvest_per_degree(grown: Grown, site: Site) -> np.ndarray:
    """By how much the share of harvests rises with each degC between start and harvest.

    The slope of a straight line through the known years: 1 for a harvest and 0 for a failure, on
    the mean temperature of as many days as the plan stands in a middling year. Neighbouring dates
    are averaged, where there are all.

    Returns
    -------
    ndarray, shape (start_days,)
        Missing where no year is known. [1/degC]
    """
    known = grown.reason != OPEN
    days = grown.harvest_quantiles[:, HARVEST_LEVELS.index(0.5)]
    length = np.where(np.isfinite(days), days, USUAL_LIFE).astype(int)
    total = site.sum_of_means
    start = np.clip(grown.place, 0, len(site))
    end = np.clip(grown.place + length, 0, len(site))
    warmth = (total[end] - total[start]) / np.maximum(end - start, 1)
    count = np.maximum(known.sum(axis=0), 1)
    apart = np.where(known, warmth - (warmth * known).sum(axis=0) / count, 0.0)
    squares = (apart**2).sum(axis=0)
    slope = (apart * (grown.reason == HARVEST)).sum(axis=0) / np.where(squares > 0, squares, 1.0)
    slope = np.where(known.any(axis=0), slope, np.nan)
    return circular_mean(slope) if len(slope) == DAYS else slope


def _odds_of_starts(grown: Grown, happened: np.ndarray, outcome: str) -> Counted:
    """Years of each start counted over draws; most starts depend on none.

    `happened` has shape (seasons, start_days), and `outcome` is its name in a `Drawn`.
    """
    known = (grown.reason != OPEN).sum(axis=0)
    share = np.where(known > 0, happened.sum(axis=0) / np.maximum(known, 1), np.nan)
    counted = Counted(share, known.copy(), np.zeros_like(known), known.astype(float))
    if grown.drawn is None:
        return counted
    columns, column = np.unique(grown.drawn.start, return_inverse=True)
    drawn = np.full((len(columns), len(happened), GROWN_DRAWS), np.nan)
    drawn[column, grown.drawn.season] = getattr(grown.drawn, outcome)
    of_known = np.where(grown.reason[:, columns] == OPEN, np.nan, happened[:, columns])
    some = count_over_draws(of_known.T, drawn)
    for values, new in zip(counted, some, strict=True):
        values[columns] = new
    return counted


class _ByYear(NamedTuple):
    """Contribution of each start of each year, shape (seasons, start_days); 0 without an answer.

    A year that is drawn counts with the mean of its draws.
    """

    harvested: np.ndarray
    growth: np.ndarray
    made: np.ndarray
    answered: np.ndarray


def _by_year(grown: Grown) -> _ByYear:
    known, harvested = grown.reason != OPEN, grown.reason == HARVEST
    weight, growth = harvested.astype(float), np.where(harvested, grown.growth, 0)
    made = np.where(known, np.nan_to_num(grown.yield_index), 0)
    if grown.drawn is None:
        return _ByYear(weight, growth, made, known)
    drawn = grown.drawn
    chance = drawn.harvested.mean(axis=-1)  # missing where a draw has no answer
    answered, told = known.copy(), ~np.isnan(chance)
    place = drawn.season[told], drawn.start[told]
    answered[place] = True
    weight[place] = chance[told]
    growth[place] = np.where(drawn.reason == HARVEST, drawn.growth, 0).mean(axis=-1)[told]
    made[place] = np.nan_to_num(drawn.yield_index).mean(axis=-1)[told]
    return _ByYear(weight, growth, made, answered)


def _over_draws(grown: Grown, years: _ByYear) -> tuple[np.ndarray, np.ndarray]:
    """Mean growth of the harvests, and mean yield of all years that have an answer, by start."""
    made = years.made.sum(axis=0) / np.maximum(years.answered.sum(axis=0), 1)
    if grown.drawn is None:
        return _mean_of(grown.growth), made
    harvests = years.harvested.sum(axis=0)
    mean = years.growth.sum(axis=0) / np.where(harvests > 0, harvests, 1)
    return np.where(harvests > 0, mean, np.nan), made


def _mean_of(values: np.ndarray) -> np.ndarray:
    """Mean over the years of what is known, missing where nothing is."""
    missing = np.isnan(values)
    count = len(values) - missing.sum(axis=0)
    total = np.where(missing, 0, values).sum(axis=0)
    return np.where(count > 0, total / np.maximum(count, 1), np.nan)


def _quantiles(days: np.ndarray, shares: Sequence[float]) -> np.ndarray:
    """Quantiles over the years, shape (start_days, shares); missing where there is no harvest."""
    by_start = np.array(days.T, order="C")  # a copy: it is sorted in place
    missing = np.isnan(by_start)
    count = len(days) - missing.sum(axis=-1)
    by_start[missing] = np.inf
    by_start.sort(axis=-1)
    below, above, t = neighbours(count[:, None], np.array(shares), "hazen")
    low, high = (np.take_along_axis(by_start, rank, -1) for rank in (below, above))
    return np.where(count[:, None] > 0, between(low, high, t), np.nan)


def _quantiles_over_draws(grown: Grown) -> np.ndarray:
    """`Grown.harvest_quantiles`, the mean of what each draw of the gaps makes them."""
    out, ripe = grown.harvest_quantiles, grown.harvest_begin
    if grown.drawn is None:
        return out
    out = out.copy()
    columns = np.unique(grown.drawn.start)
    drawn = grown.drawn.laid_out(grown.drawn.harvest_begin, ripe.shape)[:, columns]
    each = np.where(np.isnan(drawn), ripe[:, columns, None], drawn)
    by_draw = _quantiles(each.reshape(len(ripe), -1), HARVEST_LEVELS)
    by_draw = by_draw.reshape(len(columns), -1, len(HARVEST_LEVELS))
    there = np.isfinite(by_draw)
    total = np.where(there, by_draw, 0.0).sum(axis=1)
    out[columns] = np.where(there.any(axis=1), total / np.maximum(there.sum(axis=1), 1), np.nan)
    return out


def _failed_share(grown: Grown, failed_by: np.ndarray) -> np.ndarray:
    """Share of the years that each reason fails, over draws, shape (start_days, reasons).

    `failed_by` holds the known years that each fails, in the same shape. With the share of harvests
    it adds up to 1. Missing where no year has an answer.
    """
    failed = failed_by.astype(float)
    years = (grown.reason != OPEN).sum(axis=0).astype(float)
    if grown.drawn is not None:
        drawn = grown.drawn
        has_answer = (drawn.reason != OPEN).all(axis=1)
        np.add.at(years, drawn.start[has_answer], 1.0)
        start, draw = np.nonzero(has_answer[:, None] & (drawn.reason >= 0))
        reasons = drawn.reason[start, draw]
        np.add.at(failed, (drawn.start[start], reasons), 1.0 / drawn.reason.shape[1])
    with np.errstate(divide="ignore", invalid="ignore"):
        return np.asarray(failed / years[:, None])


# --- two plans ----------------------------------------------------------------------------


def compare_plans(
    plan: Plan, other: Plan, daily: xr.Dataset, *, climate: str = "record"
) -> xr.Dataset:
    """Compare two plans on the same years.

    Parameters
    ----------
    plan, other : Plan
        Rivals.
    daily : Dataset, dims (..., time)
        As for `evaluate_plan`.
    climate : {"record", "today"}
        As for `evaluate_plan`.

    Returns
    -------
    Dataset, dims (...)
        Of the years known for both: ``both`` harvested, ``only_plan``, ``only_other``,
        ``neither``, their sum ``known``; ``difference`` of the shares over all years, plan minus
        other, with its 90 % interval ``low`` to ``high``. Years that a gap leaves open for either
        count in the difference as their draws say, which meet both plans alike.

    Examples
    --------
    >>> import climwin as cw
    >>> daily = cw.read_daily(cw.sample())
    >>> pea = cw.crop("pea")
    >>> compared = cw.compare_plans(cw.Plan(pea, "04-10"), cw.Plan(pea, "06-20"), daily)
    >>> {name: compared[name].item() for name in ("both", "only_plan", "only_other", "neither")}
    {'both': 24, 'only_plan': 2, 'only_other': 10, 'neither': 1}
    """
    daily = in_climate(daily, climate)
    return compare_evaluated(evaluate_plan(plan, daily), evaluate_plan(other, daily))


def compare_evaluated(plan: xr.Dataset, other: xr.Dataset) -> xr.Dataset:
    """Compare two plans as `compare_plans` does, from their outcomes in the same years.

    Parameters
    ----------
    plan, other : Dataset, dims (..., season)
        From `evaluate_plan`, of one record.
    """
    first, second = plan["harvested"], other["harvested"]
    known = first.notnull() & second.notnull()
    won, lost = (first == 1) & known, (second == 1) & known
    out = xr.Dataset(
        {
            "both": (won & lost).sum("season"),
            "only_plan": (won & ~lost & known).sum("season"),
            "only_other": (lost & ~won & known).sum("season"),
            "neither": (known & ~won & ~lost).sum("season"),
            "known": known.sum("season"),
        }
    )
    one, two = (each["harvested"].fillna(each["harvested_drawn"]) for each in (plan, other))
    has_answer = (one + two).notnull().all("draw")
    out["difference"], out["low"], out["high"] = apply(
        paired_difference,
        ((one > two) & has_answer).mean("draw").sum("season"),
        ((two > one) & has_answer).mean("draw").sum("season"),
        has_answer.sum("season"),
        core=[[], [], []],
        out=[[], [], []],
        dtypes=[float] * 3,
    )
    names = {"plan": plan.attrs["plan"], "other": other.attrs["plan"]}
    return out.assign_attrs(provenance(plan), **names, interval=LEVEL)
