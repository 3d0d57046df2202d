"""The whole answer for one garden: every step joined, ready to draw and to share."""

from __future__ import annotations

from collections.abc import Callable, Hashable, Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property
from typing import Any, TypeVar

import numpy as np
import xarray as xr

from climwin.climate.comfort import weeks_in_bands
from climwin.climate.freeze import freeze_chance, freeze_dates, freeze_odds
from climwin.climate.hindcast import hindcast
from climwin.climate.level import in_climate, leading_climate, todays_climate
from climwin.climate.percentiles import day_bands
from climwin.climate.windows import odds_shorter, usable_windows
from climwin.core.errors import DataGapError, InputError, Parameter
from climwin.core.memo import Latest
from climwin.core.provenance import climate_of
from climwin.core.schema import Garden, check_record, variable
from climwin.core.seasons import DAYS, MONTH_STARTS, day_number, day_of_year
from climwin.core.stats import check_years
from climwin.crops.bands import bearable_band, comfortable_band
from climwin.crops.catalogue import crop, crop_names
from climwin.crops.model import Crop, Limits
from climwin.io.departure import Departure
from climwin.io.plausibility import departures
from climwin.io.quality import coverage
from climwin.planning.chilling import chill_need
from climwin.planning.dates import recommended_dates
from climwin.planning.evaluate import compare_evaluated, evaluate_plan, harvest_odds
from climwin.planning.plan import Plan, usual_cover
from climwin.planning.schedule import at_best_date
from climwin.planning.suitability import rank_crops
from climwin.planning.sweep import sweep_start_dates
from climwin.planning.timetable import dates_of, plan_dates
from climwin.planning.ways import Tried, mends
from climwin.report import caveats
from climwin.shelter.verdict import space_verdict

T = TypeVar("T")

RECENT_YEARS = 15
"""Latest years that stand beside all years where it has grown warmer (common practice). [year]"""


LIMITS_OFF_C = 2.0
"""Plausible error of a crop's published limits (common practice). [degC]"""


@dataclass(frozen=True)
class GardenReport:
    """What a garden's history says about a crop and the ways of growing it.

    Each part is computed once, when it is first read; sentences, tables, figures and pages read it
    from here.

    Parameters
    ----------
    garden : Garden
        The place.
    daily : Dataset, dims (time)
        Its history, checked.
    plans : tuple of Plan
        Ways of growing one crop; the first is the one compared with the others.
    given_need_days : int, optional
        Days the crop needs of a window, where the gardener says so; see `need_days`.
    given_band : Limits, optional
        Daily means in which the crop is taken to grow, where the gardener says so; see `band`.
    """

    garden: Garden
    daily: xr.Dataset
    plans: tuple[Plan, ...]
    given_need_days: int | None = None
    given_band: Limits | None = None
    _answers: Latest[Any] = field(default_factory=Latest, init=False, repr=False, compare=False)

    def once(self, key: Hashable, answer: Callable[[], T]) -> T:
        """What `answer` gives, worked out once for a key."""
        given: T = self._answers.once(key, answer)
        return given

    @property
    def crop(self) -> Crop:
        """The crop that all plans grow."""
        return self.plans[0].crop

    @cached_property
    def coverage(self) -> xr.Dataset:
        """Which days the history has, see `quality.coverage`."""
        return coverage(self.daily)

    @cached_property
    def bands(self) -> xr.Dataset:
        """Day bands of the daily mean, see `percentiles.day_bands`."""
        return day_bands(variable(self.daily, "tmean"))

    @cached_property
    def freeze_dates(self) -> xr.Dataset:
        """Freeze dates of every year at 0 degC."""
        return freeze_dates(self.daily)

    @property
    def freeze_thresholds(self) -> list[float]:
        """Daily minima that count as a freeze: 0, and what kills the crop. [degC]"""
        return sorted({0.0, self.crop.killed_at_c}, reverse=True)

    @cached_property
    def freeze_odds(self) -> xr.Dataset:
        """Odds of a freeze, by ``threshold``, see `freeze.freeze_odds`."""
        return freeze_odds(self.daily, self.freeze_thresholds, method="smoothed")

    @cached_property
    def freeze_chance(self) -> xr.Dataset:
        """Chance of a freeze by day, by ``threshold``, see `freeze.freeze_chance`."""
        return freeze_chance(freeze_dates(self.daily, self.freeze_thresholds))

    @property
    def band(self) -> Limits:
        """Daily means of the window: given, or those that the crop can bear. [degC]"""
        return bearable_band(self.crop) if self.given_band is None else self.given_band

    @cached_property
    def windows(self) -> xr.Dataset:
        """Usable windows of every year, see `windows.usable_windows`."""
        return usable_windows(self.daily, self.band, killed_at=self.crop.killed_at_c)

    @cached_property
    def part(self) -> str:
        """The window that the first plan aims at: ``longest``, or ``rise`` or ``fall``."""
        if not bool(self.windows["has_two_windows"]):
            return "longest"
        start = day_number(self.plans[0].start) + 7 * self.plans[0].weeks_under_cover
        begins = self.windows["average_start_day"].sel(part=["rise", "fall"])
        away = abs((start - begins + DAYS / 2) % DAYS - DAYS / 2).fillna(DAYS)
        return str(away.idxmin("part").item())

    @cached_property
    def window(self) -> xr.Dataset:
        """The windows of that part alone."""
        return self.windows.sel(part=self.part)

    @cached_property
    def needs(self) -> tuple[int, ...]:
        """Days that each plan's crop stands outdoors to its first harvest, in the middling year.

        In the climate whose odds of a harvest lead. Where no year came to a harvest, the days of
        its variety on a packet stand for it.
        """
        evaluated = self.ahead.evaluated
        return tuple(
            _need_of(plan, years) for plan, years in zip(self.plans, evaluated, strict=True)
        )

    @property
    def need_days(self) -> int:
        """Days the crop needs of a window: given, or those that the first plan stands outdoors."""
        return self.needs[0] if self.given_need_days is None else self.given_need_days

    @cached_property
    def shorter(self) -> xr.Dataset:
        """How often that window is shorter than needed, see `windows.odds_shorter`."""
        return odds_shorter(self.windows, self.need_days).sel(part=self.part)

    @cached_property
    def today(self) -> GardenReport | None:
        """The report with every year moved to today's level, see `level.todays_climate`.

        None where the record cannot be moved, or is of today's climate already.
        """
        if climate_of(self.daily) == "today":
            return None
        daily = todays_climate(self.daily)
        if climate_of(daily) != "today":
            return None
        return GardenReport(self.garden, daily, self.plans, self.given_need_days, self.given_band)

    def of_climate(self, climate: str) -> GardenReport:
        """The report for a climate: this one, or that of today's climate if there is one."""
        return self if climate == "record" or self.today is None else self.today

    def leading(self, kind: str) -> str:
        """Whose odds come first for a kind of event, see `level.leading_climate`."""
        return "record" if self.today is None else leading_climate(self.daily, kind)

    @cached_property
    def ahead(self) -> GardenReport:
        """The report whose odds of a harvest come first.

        Dates that were asked and dates that were found are compared on the same page, so both are
        of its climate. What became of each past year is told of the record.
        """
        return self.of_climate(self.leading("harvest"))

    @cached_property
    def shorter_today(self) -> xr.Dataset | None:
        """The odds of `shorter` in today's climate, of the same part of the year."""
        if self.today is None:
            return None
        odds = odds_shorter(self.today.windows, self.need_days)
        there = odds.sel(part=self.part)
        return there if int(there["known"]) else odds.sel(part="longest")

    @cached_property
    def hindcast(self) -> xr.Dataset | None:
        """What earlier years would have been told, see `hindcast.hindcast`; none if too short."""
        try:
            return hindcast(self.daily)
        except DataGapError:
            return None

    @cached_property
    def shorter_in_comfort(self) -> xr.Dataset:
        """How often the window of days in which the crop is comfortable is shorter than needed.

        See `bands.comfortable_band`. Between these odds and those of `shorter` lies what is called
        too short a window for the crop.
        """
        return self._odds_shorter_in(comfortable_band(self.crop))

    @property
    def comfortable(self) -> Limits:
        """Daily means in which the crop is comfortable, within `band`. [degC]"""
        likes, bears = comfortable_band(self.crop), self.band
        low, high = max(likes.low_c, bears.low_c), min(likes.high_c, bears.high_c)
        return likes if low >= high else replace(likes, low_c=low, high_c=high)

    @cached_property
    def comfort(self) -> xr.Dataset:
        """Years in which each week lies in the crop's bands, see `comfort.weeks_in_bands`."""
        return weeks_in_bands(self.daily, self.comfortable, self.band)

    @cached_property
    def shorter_if_limits_off(self) -> tuple[xr.Dataset, xr.Dataset] | None:
        """The odds of `shorter` if both limits were 2 degC milder, and 2 degC stricter.

        No limit is known better than that (common practice, see `sensitivity`). None where the
        stricter band would be empty.
        """
        low, high = self.band.low_c, self.band.high_c
        if low + LIMITS_OFF_C >= high - LIMITS_OFF_C:
            return None
        milder = replace(self.band, low_c=low - LIMITS_OFF_C, high_c=high + LIMITS_OFF_C)
        stricter = replace(self.band, low_c=low + LIMITS_OFF_C, high_c=high - LIMITS_OFF_C)
        return self._odds_shorter_in(milder), self._odds_shorter_in(stricter)

    def _odds_shorter_in(self, band: Limits) -> xr.Dataset:
        """How often the window of days in a band is shorter than needed."""
        windows = usable_windows(self.daily, band, killed_at=self.crop.killed_at_c)
        return odds_shorter(windows, self.need_days).sel(part=self.part)

    @cached_property
    def growth_by_window(self) -> tuple[float, float]:
        """Mean growth of the first plan's harvests where the window was long enough, and short.

        What a short window costs: the crop grows on through days that it does not like. Missing
        where no such year came to a harvest.
        """
        growth = self.evaluated[0]["growth"]
        window = self.window.reindex(season=growth["season"])
        enough = growth.where(window["length_least"] >= self.need_days)
        short = growth.where(window["length_most"] < self.need_days)
        return float(enough.mean()), float(short.mean())

    @cached_property
    def shorter_recently(self) -> xr.Dataset:
        """How often the window was shorter than needed in the latest 15 years."""
        recent = self.windows.isel(season=slice(-RECENT_YEARS, None))
        return odds_shorter(recent, self.need_days).sel(part=self.part)

    @cached_property
    def median_length(self) -> float:
        """Length of that window in the middle year; missing where no year is known. [day]"""
        return float(self.window["length"].median())

    @cached_property
    def evaluated(self) -> tuple[xr.Dataset, ...]:
        """Each plan in every year, see `evaluate.evaluate_plan`."""
        return tuple(evaluate_plan(plan, self.daily) for plan in self.plans)

    @cached_property
    def odds(self) -> tuple[xr.Dataset, ...]:
        """Each plan's odds of a harvest, see `evaluate.harvest_odds`."""
        return tuple(harvest_odds(evaluated) for evaluated in self.evaluated)

    @cached_property
    def best_first(self) -> tuple[int, ...]:
        """Positions of the plans, the best first: by their odds, then by growth.

        In the climate whose odds lead.
        """

        def rank(place: int) -> tuple[float, float]:
            odds = self.ahead.odds[place]  # a plan without known years comes last
            return -float(odds["share"].fillna(-1)), -float(odds["growth"].fillna(0))

        return tuple(sorted(range(len(self.plans)), key=rank))

    @property
    def best(self) -> int:
        """Place of the plan with the best odds; of equals the first."""
        return self.best_first[0]

    @cached_property
    def timetables(self) -> tuple[xr.Dataset, ...]:
        """Each plan's dates in the climate that leads, see `timetable.plan_dates`."""
        evaluated = self.ahead.evaluated
        return tuple(
            dates_of(plan, years) for plan, years in zip(self.plans, evaluated, strict=True)
        )

    def dates_at(self, number: int, start: str, earliness: str | float | None = None) -> xr.Dataset:
        """Dates of a plan started on another day, see `timetable.plan_dates`; computed once.

        Of a variety of another `earliness`, if one is given.
        """
        plan = replace(self.plans[number], start=start)
        plan = plan if earliness is None else replace(plan, earliness=earliness)
        return self.once(("dates", plan), lambda: plan_dates(plan, self.ahead.daily))

    @cached_property
    def swept(self) -> tuple[xr.Dataset, ...]:
        """Each plan's odds by start date, see `sweep_start_dates`."""
        return tuple(sweep_start_dates(plan, self.daily) for plan in self.plans)

    @cached_property
    def recommended(self) -> tuple[xr.Dataset | None, ...]:
        """Spans of start dates of each way, see `dates.recommended_dates`; none for a perennial.

        In the climate whose odds lead.
        """
        daily = self.ahead.daily
        return tuple(
            None if plan.crop.is_perennial else recommended_dates(plan, daily)
            for plan in self.plans
        )

    @cached_property
    def chill_need(self) -> float:
        """Chill units of the kind that is grown here, see `chilling.chill_need`."""
        return float(chill_need(self.crop, self.daily))

    @cached_property
    def comparisons(self) -> tuple[xr.Dataset, ...]:
        """The first plan against each other one, see `evaluate.compare_plans`.

        In the climate whose odds lead.
        """
        first, *others = self.ahead.evaluated
        return tuple(compare_evaluated(first, other) for other in others)

    @cached_property
    def ranked_crops(self) -> xr.Dataset:
        """Crops of the catalogue and its own, see `suitability.rank_crops`."""
        names = dict.fromkeys([*crop_names(), self.crop.name])
        crops = [self.crop if name == self.crop.name else crop(name) for name in names]
        return rank_crops(self.daily, crops)

    @cached_property
    def space_verdict(self) -> xr.Dataset | None:
        """When the gardener's own space serves, see `verdict.space_verdict`; None without one.

        In the climate whose odds of a harvest lead.
        """
        own = [plan.space for plan in self.plans if plan.space is not None]
        return space_verdict(self.ahead.daily, own[0], self.crop) if own else None

    @cached_property
    def tried(self) -> tuple[Tried, ...]:
        """The ways as they stand, with their odds in the climate that leads, see `ways.Tried`."""
        odds = self.ahead.odds
        return tuple(Tried(plan, each) for plan, each in zip(self.plans, odds, strict=True))

    @cached_property
    def mends(self) -> tuple[Tried, ...]:
        """Changes that would make the crop work if no way works well, see `ways.mends`."""
        return tuple(mends(self.tried, self.ahead.daily))

    @cached_property
    def departures(self) -> tuple[Departure, ...]:
        """Reasons to doubt the record, see `plausibility.departures`."""
        return departures(self.daily)

    @cached_property
    def sudden_steps(self) -> tuple[caveats.Step, ...]:
        """Sudden steps of the record, see `caveats.sudden_steps`."""
        return caveats.sudden_steps(self.daily)

    @cached_property
    def clear_warming(self) -> caveats.Warming | None:
        """Warming at the place, if it is clear. [degC per decade]"""
        return caveats.clear_warming(self.daily, self.sudden_steps)

    @cached_property
    def missing_months(self) -> caveats.MissingMonths | None:
        """Months in which the crop grows that lack unusually many days."""
        days = [
            int(day_of_year(years["start"].values[:1])[0]) - 1 + np.arange(_life_days(years))
            for years in self.evaluated
        ]
        months = np.searchsorted(MONTH_STARTS, np.concatenate(days) % DAYS, side="right")
        return caveats.missing_months(self.coverage, sorted({int(month) for month in months}))


def garden_report(
    garden: Garden,
    daily: xr.Dataset,
    *,
    plans: Sequence[Plan] = (),
    crop: Crop | None = None,
    need_days: int | None = None,
    few_years: bool = False,
) -> GardenReport:
    """Join all steps for one garden.

    Parameters
    ----------
    garden : Garden
        The place.
    daily : Dataset, dims (time)
        Its history.
    plans : sequence of Plan
        Ways of growing one crop. Left out, `crop` is tried raised under cover (where it usually
        is) and sown in place, each at its best date.
    crop : Crop, optional
        Instead of plans.
    need_days : int, optional
        Days the crop needs of a window; where left out, those that the first plan stands outdoors
        in the middling year.
    few_years : bool
        Whether fewer than ten known years will do. What is made of them says that they are few.

    Raises
    ------
    ValueError
        If there is neither a plan nor a crop, the plans grow different crops, or the need is not
        one to 365 days.
    DataGapError
        If the window is known in fewer than ten years, and `few_years` was not asked for.

    Examples
    --------
    >>> import climwin as cw
    >>> daily = cw.read_daily(cw.sample())
    >>> garden = cw.Garden("Pellbrook allotments", 46.1, 7.2, 640)
    >>> plan = cw.Plan(cw.crop("pea"), "04-10")
    >>> report = cw.garden_report(garden, daily, plans=[plan])
    >>> odds = report.odds[0]
    >>> print(f"a harvest in {odds['harvested'].item()} of {odds['known'].item()} years")
    a harvest in 26 of 37 years
    """
    if not plans and crop is None:
        neither = "Give ", Parameter("plans"), " or ", Parameter("crop"), ", got neither."
        raise InputError(*neither)
    placed = with_latitude(daily, garden)
    chosen = tuple(plans) or usual_plans(crop, placed)  # type: ignore[arg-type]
    names = sorted({plan.crop.name for plan in chosen})
    if len(names) > 1:
        msg = f"The plans of one report grow one crop, got {', '.join(names)}. Make a report each."
        raise InputError(msg)
    if need_days is not None and not 0 < need_days <= DAYS:
        msg = f" must lie between 1 and {DAYS}, got {need_days!r}."
        raise InputError(Parameter("need_days"), msg)
    report = GardenReport(garden, placed, chosen, need_days)
    check_years(int(report.shorter["known"]), few_years=few_years)
    return report


def with_latitude(daily: xr.Dataset, garden: Garden) -> xr.Dataset:
    """A record that holds a latitude: its own, or else the garden's."""
    check_record(daily)
    if {"latitude"} & {*daily.attrs, *daily.coords}:
        return daily
    return daily.assign_attrs(latitude=garden.latitude)


def usual_plans(crop: Crop, daily: xr.Dataset) -> tuple[Plan, ...]:
    """Ways in which a crop is usually grown, each at its best date in the climate that leads.

    A perennial has one way and no date. What is hardly ever sown in place is still tried so: how
    much raising it gains is the question.
    """
    ways = [Plan(crop, "04-01")]
    if crop.weeks_under_cover and not crop.is_perennial:
        ways.insert(0, Plan(crop, "04-01", crop.weeks_under_cover.usual, usual_cover(crop)))
    ahead = in_climate(daily, leading_climate(daily, "harvest"))
    return tuple(at_best_date(plan, ahead) for plan in ways)


def _need_of(plan: Plan, years: xr.Dataset) -> int:
    days = years["days_outdoors"]
    if plan.crop.is_perennial:  # what is cut as it sprouts needs the weeks of cutting
        days = (years["harvest_end"] - years["emergence"]) / np.timedelta64(1, "D")
    days = days.dropna("season")
    if days.size:
        return int(days.median())
    return listed_days(plan.crop)


def listed_days(crop: Crop) -> int:
    """Days to the harvest that lists give for a main variety; the whole year for a perennial."""
    return DAYS if crop.maturity is None else round(crop.maturity.main)


def _life_days(years: xr.Dataset) -> int:
    """Days from the start to the end of the harvest in the middling year, or half a year."""
    life = (years["harvest_end"] - years["start"]).dropna("season") / np.timedelta64(1, "D")
    return int(life.median()) if life.size else DAYS // 2
