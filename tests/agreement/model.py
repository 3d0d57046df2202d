"""What climwin says of a crop at a place: the only module here that calls its growing model.

The scoring modules ask the functions below and know nothing of how the answers are made. Days of
the year run from 1 to 365. The *date* of a crop is the one that a calendar gives: of sowing or
planting, or with the method ``"transplanted"`` of setting out.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from functools import cache
from typing import NamedTuple

import numpy as np
import xarray as xr
from agreement import records
from agreement.dates import DAYS, Window, name_of, on_circle, smoothed

from climwin.climate.soil import soil_temperature
from climwin.crops.catalogue import crop as catalogue_crop
from climwin.planning.dates import recommended_dates
from climwin.planning.evaluate import evaluate_plan, harvest_odds
from climwin.planning.plan import Plan
from climwin.planning.sweep import sweep_plans

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
    return not catalogue_crop(crop).is_perennial


def usual_method(crop: str) -> str:
    """``"transplanted"`` or ``"sown"``: what lists count the crop's days from."""
    return "transplanted" if catalogue_crop(crop).is_set_out else "sown"


def methods(crop: str) -> tuple[str, ...]:
    """Usual ways of starting a crop outdoors."""
    card = catalogue_crop(crop)
    if card.propagation == "plants":
        return ("transplanted",)
    if card.propagation == "seed or plants" or card.weeks_under_cover is not None:
        return ("sown", "transplanted")
    return ("sown",)


def response_at(crop: str, celsius: float) -> float:
    """Growth at a constant temperature as a share of the fullest, 0 to 1."""
    ladder = catalogue_crop(crop).response.temperatures
    return float(np.interp(celsius, ladder, [0.0, 1.0, 1.0, 0.0]))


def cold_limits(crop: str) -> tuple[float, float]:
    """Night minima that damage, and that kill, the leaves of the young plant. [degC]"""
    cold = catalogue_crop(crop).stages[0].cold
    return cold.damaged_at_c, cold.killed_at_c


def soil_reaches(place: str, celsius: float) -> int:
    """First day of the year on which bare soil at 10 cm is that warm, mean of all years.

    Smoothed over 15 days, counted from the coldest day on.
    """
    soil = soil_temperature(records.load(place), 0.10)
    usual = smoothed(soil.groupby("time.dayofyear").mean().values[:DAYS])
    coldest = int(usual.argmin())
    warm = np.roll(usual, -coldest) >= celsius
    return int(on_circle(coldest + int(warm.argmax()) + 1))


# --- dates --------------------------------------------------------------------------------


@cache
def sweep(place: str, crop: str, method: str, years: tuple[int, int] = records.YEARS) -> Sweep:
    """A crop started on each date of the year; the safer of a main and an early variety."""
    plan = _plan(crop, method)
    kinds = [replace(plan, earliness=kind) for kind in ("main", "early")]
    swept = sweep_plans(kinds, records.load(place, years))
    return safer_kind(*(_by_date(swept.isel(plan=kind)) for kind in range(2)))


@cache
def spans(place: str, crop: str, method: str) -> tuple[Span, ...]:
    """Dates that the model recommends for a crop at a place."""
    found = recommended_dates(_plan(crop, method), records.load(place))
    return tuple(_span(found.isel(span=i)) for i in range(found.sizes["span"]))


def life(place: str, crop: str, method: str, day: int) -> Life:
    """A crop started on one date, main variety."""
    years = evaluate_plan(replace(_plan(crop, method), start=name_of(day)), records.load(place))
    harvest = years["harvest_begin"].where(years["outcome"] == "harvest")
    return Life(
        share=float(harvest_odds(years)["share"]),
        days_to_emergence=_median_days(years["emergence"] - years["start"]),
        days_to_harvest=_median_days(harvest - years["start"]),
    )


@cache
def standing(place: str, crop: str) -> Standing:
    """A crop that stands for years, at a place."""
    years = evaluate_plan(_plan(crop, "sown"), records.load(place))
    begins = years["harvest_begin"].values[years["outcome"].values == "harvest"]
    day = int(np.median(xr.DataArray(begins).dt.dayofyear)) if len(begins) else None
    return Standing(float(harvest_odds(years)["share"]), day)


# --- how climwin is asked -----------------------------------------------------------------


def _plan(crop: str, method: str) -> Plan:
    """A plan of climwin for one way of starting; its date is left to what is asked of it.

    Calendars do not say where plants for setting out are raised, so they are taken as bought at the
    usual age. Tubers, cloves, sets and slips are planted as they are, whatever a calendar calls it.
    """
    card = catalogue_crop(crop)
    from_seed = card.propagation in ("seed", "seed or plants", "plants")
    return Plan(card, "01-01", plants="bought" if from_seed and method == "transplanted" else "own")


def _by_date(swept: xr.Dataset) -> Sweep:
    """One plan of a sweep."""
    known = swept["known"].where(swept["known"] > 0)
    wait = swept["harvest_day"].sel(quantile=0.5) - swept["start_day"]
    return Sweep(
        share=swept["share"].values,
        expected_crop=swept["yield_index"].values,
        days_to_harvest=wait.values,
        failed_by={
            str(why): (swept["failed_by"].sel(reason=why) / known).values
            for why in swept["reason"].values
        },
    )


def _span(found: xr.Dataset) -> Span:
    first, best, last = (int(found[f"{name}_day"]) for name in ("first", "best", "last"))
    return Span(
        season=str(found["season"].item()),
        first=first,
        best=best,
        last=Window.between(first, last).last,
        share=float(found["share"]),
        expected_crop=float(found["expected_crop"]),
    )


def _median_days(waits: xr.DataArray) -> float:
    return float((waits / np.timedelta64(1, "D")).median())
