"""What climwin says of a crop at a place: the only module here that calls its growing model.

The scoring modules ask the functions below and know nothing of how the answers are made. Days of
the year run from 1 to 365. The *date* of a crop is the one that a calendar gives: of sowing or
planting, or with the method ``"transplanted"`` of setting out.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import cache
from typing import Any, NamedTuple

import numpy as np
import xarray as xr
from agreement import records
from agreement.dates import DAYS, on_circle, smoothed

RAISED_IN = "room with lights"
"""Where plants for setting out are raised here. Calendars do not say where; so the weather under
cover should not decide, and they are raised well."""
RAISED_WEEKS = 4
"""Weeks under cover of a crop for which the catalogue gives none (common practice)."""
SAFER_BY = 0.05
"""An early variety stands for a date where its odds are higher by more than this, else a main one.
Calendars do not say which variety they mean; growers take an early one where time is short."""


# --- the answers --------------------------------------------------------------------------


@dataclass(frozen=True)
class Sweep:
    """Answers for each date of the year.

    Parameters
    ----------
    share : ndarray, shape (365,)
        Harvests among the years that are known; missing where no year is.
    expected_crop : ndarray, shape (365,)
        Mean over the known years, nothing in a failed one. Any unit, the same on all days.
    days_to_harvest : ndarray, shape (365,)
        From the date to the first harvest, median over the years with one. [days]
    failed_by : mapping of str to ndarray, shape (365,)
        Share of the known years that failed by each reason.
    early : ndarray of bool, shape (365,)
        Where the answer is that of an early variety.
    """

    share: np.ndarray
    expected_crop: np.ndarray
    days_to_harvest: np.ndarray
    failed_by: Mapping[str, np.ndarray] = field(default_factory=dict)
    early: np.ndarray = field(default_factory=lambda: np.zeros(DAYS, bool))


class Span(NamedTuple):
    """Dates that the model recommends, as days of the year; `last` may run past 365."""

    season: str
    first: int
    best: int
    last: int
    share: float
    expected_crop: float


class Life(NamedTuple):
    """One date in all years: odds of a harvest, and medians of the days until things happen."""

    share: float
    days_to_emergence: float
    days_to_harvest: float


class Standing(NamedTuple):
    """A crop that stands for years: odds of a harvest, and the median day it begins on, if ever."""

    share: float
    harvest: int | None


def safer_kind(main: Sweep, early: Sweep) -> Sweep:
    """On each date the main variety, or the early one where it is safer by `SAFER_BY`."""
    pick = np.nan_to_num(early.share) > np.nan_to_num(main.share) + SAFER_BY
    reasons = {*main.failed_by, *early.failed_by}
    never = np.zeros(DAYS)
    return Sweep(
        share=np.where(pick, early.share, main.share),
        expected_crop=np.where(pick, early.expected_crop, main.expected_crop),
        days_to_harvest=np.where(pick, early.days_to_harvest, main.days_to_harvest),
        failed_by={
            why: np.where(pick, early.failed_by.get(why, never), main.failed_by.get(why, never))
            for why in sorted(reasons)
        },
        early=pick,
    )


# --- crops --------------------------------------------------------------------------------


def is_annual(crop: str) -> bool:
    """Whether a crop has a start to choose."""
    import climwin as cw

    return not cw.crop(crop).is_perennial


def usual_method(crop: str) -> str:
    """``"transplanted"`` or ``"sown"``: what lists count the crop's days from."""
    import climwin as cw

    return "transplanted" if cw.crop(crop).is_set_out else "sown"


def response_at(crop: str, celsius: float) -> float:
    """Growth at a constant temperature as a share of the fullest, 0 to 1."""
    import climwin as cw

    base, full_from, full_to, most = cw.crop(crop).response.temperatures
    return float(np.interp(celsius, [base, full_from, full_to, most], [0.0, 1.0, 1.0, 0.0]))


def killed_at(crop: str) -> float:
    """Night minimum that kills the leaves of the young plant. [degC]"""
    import climwin as cw

    return cw.crop(crop).stages[0].cold.killed_at_c


def soil_reaches(place: str, celsius: float) -> int:
    """First day of the year on which bare soil at 10 cm is that warm, mean of all years.

    Smoothed over 15 days, counted from the coldest day on.
    """
    import climwin as cw

    daily = records.load(place)
    soil = cw.soil_temperature(daily, 0.10)
    usual = smoothed(soil.groupby("time.dayofyear").mean().values[:DAYS])
    coldest = int(usual.argmin())
    warm = np.roll(usual, -coldest) >= celsius
    return int(on_circle(coldest + int(warm.argmax()) + 1))


# --- dates --------------------------------------------------------------------------------


@cache
def sweep(place: str, crop: str, method: str, years: tuple[int, int] = records.YEARS) -> Sweep:
    """A crop started on each date of the year; the safer of a main and an early variety."""
    daily = records.load(place, years)
    main, early = (_swept(daily, _plan(crop, method, kind)) for kind in ("main", "early"))
    return safer_kind(main, early)


@cache
def spans(place: str, crop: str, method: str) -> tuple[Span, ...]:
    """Dates that the model recommends for a crop at a place."""
    import climwin as cw

    plan = _plan(crop, method)
    raised = 7 * plan.weeks_under_cover
    found = cw.recommended_dates(plan, records.load(place))
    if found.sizes["span"] == 0:
        return ()
    return tuple(_span(found.isel(span=i), raised) for i in range(found.sizes["span"]))


def life(place: str, crop: str, method: str, day: int) -> Life:
    """A crop started on one date, main variety."""
    import climwin as cw

    plan = _plan(crop, method)
    start = on_circle(day - 7 * plan.weeks_under_cover)
    years = cw.evaluate_plan(plan.starting(start), records.load(place))
    begun = years["set_out"] if method == "transplanted" else years["start"]
    harvest = years.where(years["outcome"] == "harvest")
    odds = cw.harvest_odds(years)
    return Life(
        share=float(odds["share"]),
        days_to_emergence=_median_days(years["emergence"] - begun),
        days_to_harvest=_median_days(harvest["harvest_begin"] - begun),
    )


def standing(place: str, crop: str) -> Standing:
    """A crop that stands for years, at a place."""
    import climwin as cw

    years = cw.evaluate_plan(cw.Plan(cw.crop(crop)), records.load(place))
    begins = years["harvest_begin"].where(years["outcome"] == "harvest", drop=True)
    day = int(begins.dt.dayofyear.median()) if begins.size else None
    return Standing(float(cw.harvest_odds(years)["share"]), day)


# --- how climwin is asked -----------------------------------------------------------------


def _plan(crop: str, method: str, earliness: str = "main") -> Any:
    """A plan of climwin for one way of starting.

    Tubers, cloves, sets and slips are planted as they are, whatever the calendar calls it.
    """
    import climwin as cw

    card = cw.crop(crop)
    if method == "sown" or card.propagation not in ("seed", "seed or plants", "plants"):
        return cw.Plan(card, "01-01", earliness=earliness)
    weeks = card.weeks_under_cover.usual if card.weeks_under_cover else RAISED_WEEKS
    return cw.Plan(card, "01-01", weeks, RAISED_IN, earliness=earliness)


def _swept(daily: xr.Dataset, plan: Any) -> Sweep:
    """A sweep over start days, turned by the weeks under cover to the day of setting out."""
    import climwin as cw

    raised = 7 * plan.weeks_under_cover
    found = cw.sweep_start_dates(plan, daily)
    start = found["start_day"].values

    def by_date(values: xr.DataArray) -> np.ndarray:
        return np.roll(values.values.astype(float), raised)

    failed = found["failed_by"]
    known = found["known"].where(found["known"] > 0)
    return Sweep(
        share=by_date(found["share"]),
        expected_crop=by_date(found["expected_crop"]),
        days_to_harvest=by_date(found["harvest_day"].sel(quantile=0.5) - (start - 1)) - raised,
        failed_by={
            str(why): by_date(failed.sel(reason=why) / known) for why in failed["reason"].values
        },
    )


def _span(found: xr.Dataset, raised: int) -> Span:
    first, best, last = (int(found[f"{name}_day"]) for name in ("first", "best", "last"))
    length = (last - first) % DAYS
    begin = int(on_circle(first + raised))
    return Span(
        season=str(found["season"].item()),
        first=begin,
        best=int(on_circle(best + raised)),
        last=begin + length,
        share=float(found["share"]),
        expected_crop=float(found["expected_crop"]),
    )


def _median_days(waits: xr.DataArray) -> float:
    return float((waits / np.timedelta64(1, "D")).median())
