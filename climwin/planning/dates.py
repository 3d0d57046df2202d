"""Recommended dates: spans of start dates by season, for one way of growing or for every crop."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import NamedTuple

import numpy as np
import xarray as xr

from climwin.climate.level import in_climate
from climwin.core.errors import InputError, Parameter
from climwin.core.odds import ODDS_NAMES
from climwin.core.provenance import level_error_of, provenance
from climwin.core.seasons import DAYS, day_name
from climwin.core.stats import LEVEL
from climwin.crops.catalogue import crop as catalogue_crop
from climwin.crops.catalogue import crop_names
from climwin.crops.model import Crop
from climwin.planning.evaluate import (
    BLOCK_COUNTS,
    Calendar,
    Result,
    check_one_place,
    over_sites,
    sweep_plans,
    with_elsewhere,
)
from climwin.planning.plan import Plan
from climwin.planning.selection import Blocks, circular_mean
from climwin.planning.site import FilledSites

LEAST_ODDS = 0.8
"""Odds of a harvest from which a start date is recommended (common practice)."""
WORTH_IT = 0.5
"""Share of the value at a season's best date from which a start date is worth it.

Value is odds times growth, which the temperatures make. The expected crop, which the sun makes too,
would put every start in spring weeks late, where gardeners like an early crop and the bed it leaves
for a second one (common practice; of the shares tried on half of the places in ``tests/agreement``
the one whose spans cover most of the published windows).
"""
NEAR_BEST = 0.9
"""Share of a season's largest expected crop from which a start date is as good as the best.

The best date told is the middle of these dates: the expected crop is flat about its top, where one
day is the highest by luck."""
SAFER_BY = 0.05
"""By how much an early variety's odds must be higher to be preferred to a main one."""
AS_GOOD = 0.75
"""Share of the best dates' expected crop, and of their growth, that a date needs to be called a
good time: garlic planted in April does make bulbs, but small ones (common practice)."""
AS_SAFE = 0.1
"""By how much the odds of the season that leads may lie below those of the safest (common
practice)."""
PARTED_BY_HEAT = 0.3
"""Fall of the odds within spring after which dates that come to a harvest again are the beginning
of summer's run (common practice): cauliflower fails from March on in a hot place, and crops again
from June on."""
SHORTEST_SPAN = 7
"""Days below which a run of start dates is luck rather than a recommendation."""
BEFORE_MIDSUMMER = 40
"""Days before the warmest of the year from which a start is made for autumn."""
INTO_NEXT_YEAR = 30
"""Days after the coldest of the year from which a harvest belongs to the next year."""

SEASONS = ("spring", "summer for autumn", "autumn for the next year")


class Span(NamedTuple):
    """A run of start dates, as days of the year counted from 0; it may wrap round its end."""

    season: str
    first: int
    best: int
    last: int
    largest_from: int
    largest_to: int

    @property
    def days(self) -> int:
        """Length of the run."""
        return (self.last - self.first) % DAYS + 1


def start_seasons(life_days: np.ndarray, coldest: int, warmest: int) -> np.ndarray:
    """Number in `SEASONS` of each start date.

    Parameters
    ----------
    life_days : ndarray, shape (365,)
        Days from the start to the first harvest in a middling year; missing where there is none.
    coldest, warmest : int
        Days of the year, counted from 0, of the smoothed climatology.
    """
    since_coldest = (np.arange(DAYS) - coldest) % DAYS
    turn = (warmest - coldest) % DAYS - BEFORE_MIDSUMMER
    harvest = since_coldest + np.nan_to_num(life_days)
    return np.select([harvest > DAYS + INTO_NEXT_YEAR, since_coldest >= turn], [2, 1], 0)


def recommended_spans(
    share: np.ndarray,
    growth: np.ndarray,
    worth: np.ndarray,
    life_days: np.ndarray,
    coldest: int,
    warmest: int,
    *,
    least_odds: float = LEAST_ODDS,
) -> list[Span]:
    """Kernel of `recommended_dates` for one way of growing.

    Parameters
    ----------
    share, growth, worth, life_days : ndarray, shape (365,)
        By start date: odds of a harvest, its growth, expected crop in any unit, and days to the
        harvest.
    coldest, warmest : int
        As for `start_seasons`.
    least_odds : float
        Odds from which a date is recommended.

    Returns
    -------
    list of Span
        At most one for each season, in the order of `SEASONS`.
    """
    odds, crop = circular_mean(share), circular_mean(worth)
    value = circular_mean(share * np.nan_to_num(growth))
    season_of = start_seasons(circular_mean(life_days), coldest, warmest)
    safe = np.nan_to_num(odds) >= least_odds
    spans = []
    for number, season in enumerate(SEASONS):
        candidates = safe & (season_of == number)
        if not candidates.any():
            continue
        most = int(np.argmax(np.where(candidates, crop, -1)))
        first, last = _longest_run(candidates & (value >= WORTH_IT * value[most]))
        in_run = (np.arange(DAYS) - first) % DAYS <= (last - first) % DAYS
        top = int(np.argmax(np.where(in_run, crop, -1)))
        near_best = in_run & (crop >= NEAR_BEST * crop[top])
        largest_from = _run_back(near_best, top)
        largest_to = _run_on(near_best, top, before=largest_from)
        best = (largest_from + (largest_to - largest_from) % DAYS // 2) % DAYS
        span = Span(season, first, best, last, largest_from, largest_to)
        if span.days >= SHORTEST_SPAN:
            spans.append(span)
    return _without_head_of_summer(spans, np.nan_to_num(odds), coldest)


def _without_head_of_summer(spans: list[Span], odds: np.ndarray, coldest: int) -> list[Span]:
    """Spans, of which one in spring that heat parts from the rest of spring belongs to summer's."""
    if [span.season for span in spans[:2]] != list(SEASONS[:2]):
        return spans
    head, summer, *others = spans
    before = odds[(coldest + np.arange((head.first - coldest) % DAYS + 1)) % DAYS]
    fall = (np.maximum.accumulate(before) - before).max()
    if (summer.first - head.last) % DAYS != 1 or fall < PARTED_BY_HEAT:
        return spans
    return [summer._replace(first=head.first), *others]


def leading_span(
    share: np.ndarray, crop: np.ndarray, growth: np.ndarray, *, needs_winter: bool = False
) -> int:
    """Place of the span that a gardener who asks for no date is told first.

    The first season of the year with a full crop that is nearly as safe as any, for who asks about
    peas means those of spring, even where the autumn's crop is larger. Of crops that need a
    winter's cold the season with the largest crop.

    Parameters
    ----------
    share, crop, growth : ndarray, shape (spans,)
        At the best date of each span: the share of harvests in years left out of the choice, the
        expected crop as a share of the largest of its variety, and the growth.
    needs_winter : bool
        As `needs_winter` says of a crop.
    """
    largest = crop >= crop.max()
    if needs_winter:
        return int(np.argmax(largest))
    safe = share >= share.max() - AS_SAFE
    full = has_full_crop(crop, growth)
    return int(np.argmax(next((each for each in (safe & full, full) if each.any()), largest)))


def has_full_crop(crop: np.ndarray, growth: np.ndarray) -> np.ndarray:
    """Which spans have nearly the largest crop, and grow nearly as well as any."""
    return np.asarray((crop >= AS_GOOD * crop.max()) & (growth >= AS_GOOD * growth.max()))


def needs_winter(crop: Crop) -> bool:
    """Whether a crop is planted for the next year, since it needs a winter's cold."""
    return crop.winter is not None and crop.winter.cold_days is not None


def _longest_run(held: np.ndarray) -> tuple[int, int]:
    """First and last day of the longest run of true days, the earliest of those as long.

    Dates that heat parts from the rest of their season, such as the head of summer's run that falls
    into spring, are no span of their own.
    """
    firsts = np.flatnonzero(held & ~np.roll(held, 1))
    if not len(firsts):  # all year round
        return 0, DAYS - 1
    runs = [(int(first), _run_on(held, int(first), before=int(first))) for first in firsts]
    return max(runs, key=lambda run: (run[1] - run[0]) % DAYS)


def _run_back(held: np.ndarray, day: int) -> int:
    """First day of the run of true days that ends on `day`."""
    first = day
    while held[(first - 1) % DAYS] and (day - first) % DAYS < DAYS - 1:
        first = (first - 1) % DAYS
    return first


def _run_on(held: np.ndarray, day: int, *, before: int) -> int:
    """Last day of the run of true days that begins on `day`, short of going round the year."""
    last = day
    while held[(last + 1) % DAYS] and (last + 1) % DAYS != before:
        last = (last + 1) % DAYS
    return last


def recommended_dates(
    plan: Plan, daily: xr.Dataset, *, least_odds: float = LEAST_ODDS, climate: str = "record"
) -> xr.Dataset:
    """Spans of recommended start dates of a way of growing, by season.

    Parameters
    ----------
    plan : Plan
        Its own start date and earliness play no part: early and main varieties are both tried.
    daily : Dataset, dims (time)
        Needs ``tmin`` and ``tmax`` [degC], and its latitude.
    least_odds : float
        Odds of a harvest from which a date is recommended, above 0 and at most 1.
    climate : {"record", "today"}
        The years as they were, or moved to today's level, see `todays_climate`.

    Returns
    -------
    Dataset, dims (span)
        By ``season``: ``first_day``, ``best_day`` and ``last_day``, days of the year, of a run that
        may wrap round the year's end; ``largest_from`` to ``largest_to``, whose expected crop is
        within 10 % of the season's largest and whose middle is the best day: a start before them
        is for an early harvest, one after them for a late one; of the best day the ``share`` of
        harvests in the ``known`` years, the ``odds`` with ``low`` to ``high`` and ``next_low`` to
        ``next_high`` as for `harvest_odds`; ``elsewhere_share``, ``elsewhere_low`` to
        ``elsewhere_high``: the share of days chosen without the years that judge them, see
        `sweep_start_dates`; ``good_share``,
        ``growth``, ``yield_index``, ``expected_crop`` as a share of the best season's,
        ``crop_of_variety``, the same as a share of the largest that an equally early variety gives
        on any date, since early ones are smaller; ``harvest_first`` and
        ``harvest_last`` (10 and 90 % of the years; days after 31 December before the start);
        ``earliness`` of the variety for which it holds, early only where that is safer by 5
        points; ``best_for``, in words. Empty where no
        date is good enough.

    Raises
    ------
    ValueError
        If the odds are not allowed, the crop is a perennial, or the record is of several places.

    See Also
    --------
    planting_calendar, sweep_start_dates

    Examples
    --------
    >>> import climwin as cw
    >>> daily = cw.read_daily(cw.sample())
    >>> cw.recommended_dates(cw.Plan(cw.crop("pea"), "04-01"), daily)["season"].values.tolist()[0]
    'spring'
    """
    if not 0 < least_odds <= 1:
        msg = f" is a share above 0 and at most 1, got {least_odds!r}."
        raise InputError(Parameter("least_odds"), msg)
    if plan.crop.is_perennial:
        msg = f"{plan.crop.name} stands for years: there is no start date to recommend."
        raise InputError(msg, parameter="crop")
    check_one_place(daily, "recommended_dates")
    daily = in_climate(daily, climate)
    rows, best = _rows_of(plan, daily, least_odds)
    return _table(rows, best, daily).assign_attrs(plan=plan.name, crop=plan.crop.name)


def planting_calendar(
    daily: xr.Dataset,
    crops: Sequence[Crop] | None = None,
    *,
    least_odds: float = LEAST_ODDS,
    climate: str = "record",
) -> xr.Dataset:
    """Recommended start dates of every crop at a place.

    Parameters
    ----------
    daily : Dataset, dims (time)
        Needs ``tmin`` and ``tmax`` [degC], and its latitude.
    crops : sequence of Crop, optional
        The whole catalogue where it is left out; perennials have no dates.
    least_odds : float
        As for `recommended_dates`.
    climate : {"record", "today"}
        The years as they were, or moved to today's level, see `todays_climate`.

    Returns
    -------
    Dataset, dims (row)
        What `recommended_dates` gives, with ``crop`` and ``method``: ``"sown"`` or ``"planted"`` in
        place, or ``"set out"``, whose dates are those of setting out plants of the usual age.

    Examples
    --------
    >>> import climwin as cw
    >>> daily = cw.read_daily(cw.sample())
    >>> calendar = cw.planting_calendar(daily, [cw.crop("pea"), cw.crop("tomato")])
    >>> sorted(set(calendar["crop"].values.tolist()))
    ['pea', 'tomato']
    """
    if not 0 < least_odds <= 1:
        msg = f" is a share above 0 and at most 1, got {least_odds!r}."
        raise InputError(Parameter("least_odds"), msg)
    check_one_place(daily, "planting_calendar")
    daily = in_climate(daily, climate)
    chosen = [catalogue_crop(name) for name in crop_names()] if crops is None else list(crops)
    tables = []
    for each in (crop for crop in chosen if not crop.is_perennial):
        for plan in usual_starts(each):
            rows, best = _rows_of(plan, daily, least_odds)
            table = _table(rows, best, daily)
            count = table.sizes["span"]
            method = "planted" if plan.is_planted else "sown"
            if plan.plants == "bought":
                method = "set out"
            tables.append(
                table.assign(
                    crop=("span", np.full(count, each.name, dtype=object)),
                    method=("span", np.full(count, method, dtype=object)),
                )
            )
    out = xr.concat(tables, "span") if tables else _table([], 0.0, daily)
    return out.rename(span="row").assign_attrs(provenance(daily), interval=LEVEL)


def usual_starts(crop: Crop) -> list[Plan]:
    """A crop's usual ways outdoors: sown or planted in place, and set out as plants."""
    ways = []
    if crop.propagation != "plants":
        ways.append(Plan(crop, "04-01"))
    if crop.propagation in ("plants", "seed or plants") or crop.weeks_under_cover is not None:
        ways.append(Plan(crop, "04-01", plants="bought"))
    return ways


class _Row(NamedTuple):
    """A span, the sweep at its best day, the earliness it holds for, and its odds elsewhere."""

    span: Span
    at_best: xr.Dataset
    earliness: str
    largest: float
    """Largest expected crop of the same earliness on any date, averaged as the span's is."""
    elsewhere: tuple[float, float]
    """Harvests, and known years, of dates chosen without the years that judge them."""


_KINDS = ("early", "main")


def _rows_of(plan: Plan, daily: xr.Dataset, least_odds: float) -> tuple[list[_Row], float]:
    swept = sweep_plans([replace(plan, earliness=kind) for kind in _KINDS], daily)
    days = np.arange(DAYS)
    place = _Place(
        life_days=swept["harvest_day"].sel(quantile=0.5).values - (days + 1),
        extremes=extreme_days(daily),
        least_odds=least_odds,
    )
    spans, kind = place.spans(
        swept["share"].values, swept["growth"].values, swept["yield_index"].values
    )
    elsewhere = _elsewhere(place, swept) if spans else {}
    worth = np.nan_to_num(swept["yield_index"].values)
    largest = [float(circular_mean(of_kind).max()) for of_kind in worth]
    rows = []
    for span in spans:
        variety = int(kind[span.best])
        at_best = swept.isel(plan=variety, start_day=span.best)
        found = _Row(span, at_best, _KINDS[variety], largest[variety], elsewhere[span.season])
        rows.append(found)
    best = max((float(row.at_best["yield_index"]) for row in rows), default=0.0)
    return rows, best


class _Place(NamedTuple):
    """What the choice of dates needs to know beside the odds, whatever the years."""

    life_days: np.ndarray
    """Days from the start to the harvest in a middling year, shape (kinds, 365)."""
    extremes: tuple[int, int]
    least_odds: float

    def spans(
        self, share: np.ndarray, growth: np.ndarray, worth: np.ndarray
    ) -> tuple[list[Span], np.ndarray]:
        """Spans from values of both kinds of variety, shape (kinds, 365), and the kind by day."""
        # On each day the main variety, unless the early one is clearly safer.
        kind = np.where(np.nan_to_num(share[0]) > np.nan_to_num(share[1]) + SAFER_BY, 0, 1)
        days = np.arange(DAYS)
        spans = recommended_spans(
            share[kind, days],
            growth[kind, days],
            np.nan_to_num(worth[kind, days]),
            self.life_days[kind, days],
            *self.extremes,
            least_odds=self.least_odds,
        )
        return spans, kind


def _elsewhere(place: _Place, swept: xr.Dataset) -> dict[str, tuple[float, float]]:
    """By season, harvests and known years of the best day chosen without each block of years."""
    both = Blocks(*(swept[name].values for name in BLOCK_COUNTS))
    harvested = dict.fromkeys(SEASONS, 0.0)
    known = dict.fromkeys(SEASONS, 0.0)
    for block in range(both.known.shape[-1]):
        others = Blocks(*(each.sum(-1) - each[..., block] for each in both))
        with np.errstate(divide="ignore", invalid="ignore"):
            share = others.harvested / others.known
            growth = others.growth / others.harvested
        for season, (day, kind) in _best_days(place, share, growth, others.mean_worth).items():
            harvested[season] += both.harvested[kind, day, block]
            known[season] += both.known[kind, day, block]
    return {season: (harvested[season], known[season]) for season in SEASONS}


def _best_days(
    place: _Place, share: np.ndarray, growth: np.ndarray, worth: np.ndarray
) -> dict[str, tuple[int, int]]:
    """Best day of each season and its kind; by lower odds where none is good enough."""
    out: dict[str, tuple[int, int]] = {}
    for least_odds in (place.least_odds, place.least_odds / 2, 0.0):
        spans, kind = place._replace(least_odds=least_odds).spans(share, growth, worth)
        for span in spans:
            out.setdefault(span.season, (span.best, int(kind[span.best])))
        if len(out) == len(SEASONS):
            break
    return out


def extreme_days(daily: xr.Dataset) -> tuple[int, int]:
    """Coldest and warmest day of the smoothed climatology of one place, counted from 0."""
    out = extremes(daily)
    return int(out["coldest"]), int(out["warmest"])


def extremes(daily: xr.Dataset) -> xr.Dataset:
    """``coldest`` and ``warmest`` day of the smoothed climatology, counted from 0; dims (...)."""

    def kernel(sites: FilledSites, calendar: Calendar) -> tuple[np.ndarray, ...]:  # noqa: ARG001
        usual = sites.usual.usual_mean
        return np.array(usual.argmin()), np.array(usual.argmax())

    return over_sites(
        kernel, daily, results=[Result("coldest", (), int), Result("warmest", (), int)]
    )


def best_for(span: Span) -> str:
    """What the dates of a span are best for, in words."""
    if span.season == "spring" and (span.largest_from - span.first) % DAYS >= SHORTEST_SPAN:
        return (
            f"an early harvest if started from {day_name(span.first + 1)} on, "
            f"the largest if started from {day_name(span.largest_from + 1)} on"
        )
    return {
        "spring": "the largest harvest",
        "summer for autumn": "a later harvest, after a first crop",
        "autumn for the next year": "a harvest early next year",
    }[span.season]


def _table(rows: Sequence[_Row], best: float, daily: xr.Dataset) -> xr.Dataset:
    def column(values: list[object], dtype: type = float) -> tuple[str, np.ndarray]:
        return "span", np.array(values, dtype=dtype)

    at = [row.at_best for row in rows]
    out = xr.Dataset(
        {
            "season": column([row.span.season for row in rows], object),
            "first_day": column([row.span.first + 1 for row in rows], int),
            "best_day": column([row.span.best + 1 for row in rows], int),
            "last_day": column([row.span.last + 1 for row in rows], int),
            "largest_from": column([row.span.largest_from + 1 for row in rows], int),
            "largest_to": column([row.span.largest_to + 1 for row in rows], int),
            **{
                name: column([float(each[name]) for each in at])
                for name in ("share", *ODDS_NAMES, "good_share", "growth")
            },
            "known": column([int(each["known"]) for each in at], int),
            "yield_index": column([float(each["yield_index"]) for each in at]),
            "expected_crop": column([float(each["yield_index"]) / (best or 1.0) for each in at]),
            "crop_of_variety": column(
                [min(float(r.at_best["yield_index"]) / (r.largest or 1.0), 1.0) for r in rows]
            ),
            "harvest_first": column([float(each["harvest_day"][0]) for each in at]),
            "harvest_last": column([float(each["harvest_day"][-1]) for each in at]),
            "earliness": column([row.earliness for row in rows], object),
            "best_for": column([best_for(row.span) for row in rows], object),
        }
    )
    for name in ("first_day", "best_day", "last_day", "largest_from", "largest_to"):
        out[name].attrs["units"] = "day of the year"
    out["yield_index"].attrs["units"] = "MJ m-2"
    hits, years = (
        xr.DataArray(np.array([row.elsewhere[place] for row in rows], dtype=float), dims="span")
        for place in (0, 1)
    )
    per_degree = xr.DataArray(
        np.array([float(each["harvest_per_degree"]) for each in at]), dims="span"
    )
    out = with_elsewhere(out, hits, years, per_degree * level_error_of(daily))
    return out.assign_attrs(provenance(daily), interval=LEVEL)
