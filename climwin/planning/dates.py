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
from climwin.planning.counts import BLOCK_COUNTS
from climwin.planning.over_sites import check_one_place
from climwin.planning.plan import Plan
from climwin.planning.selection import Blocks, circular_mean, judged_best
from climwin.planning.spans import (
    LEAST_ODDS,
    SEASONS,
    SHORTEST_SPAN,
    Span,
    lives_one_summer,
    recommended_spans,
)
from climwin.planning.sweep import sweep_plans, with_elsewhere

SAFER_BY = 0.05
"""By how much an early variety's odds must be higher to be preferred to a main one."""


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
        may wrap round the year's end; ``largest_from`` to ``largest_to``, the first and
        the last whose expected crop is within 10 % of the season's largest: a start before them is
        for an early harvest, one after them for a late one. The best day is the middle of those
        dates, but in spring at most a fortnight after the first of them. Of the best day the
        ``share`` of harvests in the ``known`` years, the ``odds`` with ``low`` to ``high`` and
        ``next_low`` to ``next_high`` as for `harvest_odds`; ``elsewhere_share``, ``elsewhere_low``
        to ``elsewhere_high``: the share of days chosen without the years that judge them, see
        `sweep_start_dates`; ``good_share``,
        ``growth``, ``yield_index``, ``expected_crop`` as a share of the best season's,
        ``crop_of_variety``, the same as a share of the largest that an equally early variety gives
        on any date, since early ones are smaller; ``harvest_first`` and
        ``harvest_last`` (10 and 90 % of the years; days after 31 December before the start);
        ``earliness`` of the variety for which it holds, early only where that is safer by 5
        points; ``early_days``, the number of its dates on which an early variety is, and which
        count for one; ``best_for``, in words. Empty where no date is good enough.

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
    >>> spans = cw.recommended_dates(cw.Plan(cw.crop("pea"), "04-01"), daily)
    >>> spans["season"].values.tolist()
    ['spring', 'summer for autumn']
    >>> [spans[name].values.tolist() for name in ("first_day", "best_day", "last_day")]
    [[69, 166], [81, 195], [108, 218]]
    """
    if not 0 < least_odds <= 1:
        msg = f" is a share above 0 and at most 1, got {least_odds!r}."
        raise InputError(Parameter("least_odds"), msg)
    if plan.crop.is_perennial:
        msg = f"{plan.crop.name} stands for years: there is no start date to recommend."
        raise InputError(msg, parameter="crop")
    check_one_place(daily, "recommended_dates")
    daily = in_climate(daily, climate)
    rows, best = _rows_of(_swept_kinds([plan], daily), least_odds, plan.crop)
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
    >>> calendar["crop"].values.tolist()
    ['pea', 'pea', 'tomato', 'tomato']
    >>> [calendar[name].values.tolist() for name in ("first_day", "last_day")]
    [[69, 166, 135, 166], [108, 218, 165, 183]]
    """
    if not 0 < least_odds <= 1:
        msg = f" is a share above 0 and at most 1, got {least_odds!r}."
        raise InputError(Parameter("least_odds"), msg)
    check_one_place(daily, "planting_calendar")
    daily = in_climate(daily, climate)
    chosen = [catalogue_crop(name) for name in crop_names()] if crops is None else list(crops)
    plans = [plan for each in chosen if not each.is_perennial for plan in usual_starts(each)]
    swept = _swept_kinds(plans, daily) if plans else xr.Dataset()
    tables = []
    for number, plan in enumerate(plans):
        own = slice(number * len(_KINDS), (number + 1) * len(_KINDS))
        rows, best = _rows_of(swept.isel(plan=own), least_odds, plan.crop)
        table = _table(rows, best, daily)
        count = table.sizes["span"]
        method = "planted" if plan.is_planted else "sown"
        if plan.plants == "bought":
            method = "set out"
        tables.append(
            table.assign(
                crop=("span", np.full(count, plan.crop.name, dtype=object)),
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
    early_days: int
    """Dates of the span on which an early variety is clearly safer."""
    elsewhere: tuple[float, float]
    """Harvests, and known years, of dates chosen without the years that judge them."""


_KINDS = ("early", "main")


def _swept_kinds(plans: Sequence[Plan], daily: xr.Dataset) -> xr.Dataset:
    """Each plan with an early and with a main variety, one after the other."""
    return sweep_plans([replace(plan, earliness=k) for plan in plans for k in _KINDS], daily)


def _rows_of(swept: xr.Dataset, least_odds: float, crop: Crop) -> tuple[list[_Row], float]:
    """Rows of one plan's spans, from its sweeps by kind, and the largest crop among them."""
    days = np.arange(DAYS)
    place = _Place(
        life_days=swept["harvest_day"].sel(quantile=0.5).values - (days + 1),
        extremes=(int(swept["coldest"]), int(swept["warmest"])),
        least_odds=least_odds,
        is_warm=lives_one_summer(crop),
    )
    spans, kind = place.spans(
        swept["share"].values, swept["growth"].values, swept["yield_index"].values
    )
    bests = {span.season: (span.best, int(kind[span.best])) for span in spans}
    elsewhere = _elsewhere(place, swept, bests) if spans else {}
    worth = np.nan_to_num(swept["yield_index"].values)
    largest = [float(circular_mean(of_kind).max()) for of_kind in worth]
    rows = []
    for span in spans:
        variety = int(kind[span.best])
        at_best = swept.isel(plan=variety, start_day=span.best)
        dates = np.arange(span.first, span.first + (span.last - span.first) % DAYS + 1) % DAYS
        rows.append(
            _Row(
                span,
                at_best,
                _KINDS[variety],
                largest[variety],
                int((kind[dates] == _KINDS.index("early")).sum()),
                elsewhere[span.season],
            )
        )
    best = max((float(row.at_best["yield_index"]) for row in rows), default=0.0)
    return rows, best


class _Place(NamedTuple):
    """What the choice of dates depends on besides the odds, the same for all years."""

    life_days: np.ndarray
    """Days from the start to the harvest in a middling year, shape (kinds, 365)."""
    extremes: tuple[int, int]
    least_odds: float
    is_warm: bool

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
            is_warm=self.is_warm,
        )
        return spans, kind


def _elsewhere(
    place: _Place, swept: xr.Dataset, bests: dict[str, tuple[int, int]]
) -> dict[str, tuple[float, float]]:
    """By season, harvests and known years of the best day chosen without each block of years.

    `bests` are the days and kinds chosen from all years; one also stands in where the other years
    leave its season without a day.
    """
    by_kind = Blocks(*(swept[name].values for name in BLOCK_COUNTS))
    blocks = Blocks(*(each.reshape(-1, each.shape[-1]) for each in by_kind))  # one row a start
    best_row = {season: kind * DAYS + day for season, (day, kind) in bests.items()}
    rows = {season: np.full(blocks.known.shape[-1], row) for season, row in best_row.items()}
    for block in range(blocks.known.shape[-1]):
        others = by_kind.without(block)
        with np.errstate(divide="ignore", invalid="ignore"):
            share = others.harvested / others.known
            growth = others.growth / others.harvested
        for season, (day, kind) in _best_days(place, share, growth, others.mean_worth).items():
            if season in rows:
                rows[season][block] = kind * DAYS + day
    return {season: judged_best(blocks, rows[season], row) for season, row in best_row.items()}


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


def best_for(span: Span, *, is_next_year: bool = True) -> str:
    """Use of a span's dates in words.

    `is_next_year` is whether the harvest of an autumn start comes in the next calendar year. One of
    January, before the coldest day, comes in the same.
    """
    if span.season == "spring" and (span.largest_from - span.first) % DAYS >= SHORTEST_SPAN:
        return (
            f"an early harvest if started from {day_name(span.first + 1)}, "
            f"the largest if started from {day_name(span.largest_from + 1)}"
        )
    return {
        "spring": "the largest harvest",
        "summer for autumn": "a later harvest, after a first crop",
        "autumn for the next year": (
            "an early harvest next year" if is_next_year else "an early harvest"
        ),
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
            "early_days": column([row.early_days for row in rows], int),
            "best_for": column(
                [
                    best_for(r.span, is_next_year=bool(r.at_best["harvest_day"][-1] > DAYS))
                    for r in rows
                ],
                object,
            ),
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
