"""The whole answer for one garden: every step joined, ready to draw and to share."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
import xarray as xr

from climwin.climate.freeze import freeze_chance, freeze_dates, freeze_odds
from climwin.climate.percentiles import day_bands
from climwin.climate.windows import odds_shorter, usable_windows
from climwin.core.errors import InputError, Parameter
from climwin.core.schema import Garden, variable
from climwin.core.seasons import DAYS, MONTH_STARTS, day_number
from climwin.core.stats import check_years
from climwin.crops.catalogue import Crop, crop, crop_names
from climwin.io.quality import coverage
from climwin.planning.evaluate import at_best_date, compare, judge, success_odds, sweep
from climwin.planning.plan import Plan
from climwin.planning.suitability import rank_crops
from climwin.planning.timetable import dated_plan
from climwin.report import caveats

RECENT_YEARS = 15
"""Latest years that stand beside all years where it has grown warmer (common practice). [year]"""


@dataclass(frozen=True)
class GardenReport:
    """What a garden's history says of a crop and of the ways of growing it.

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
    need_days : int
        Days the crop needs of a window.
    """

    garden: Garden
    daily: xr.Dataset
    plans: tuple[Plan, ...]
    need_days: int

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
        return freeze_odds(self.daily, self.freeze_thresholds)

    @cached_property
    def freeze_chance(self) -> xr.Dataset:
        """Chance of a freeze by day, by ``threshold``, see `freeze.freeze_chance`."""
        return freeze_chance(freeze_dates(self.daily, self.freeze_thresholds))

    @cached_property
    def windows(self) -> xr.Dataset:
        """Usable windows of every year, see `windows.usable_windows`."""
        return usable_windows(self.daily, self.crop)

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
    def shorter(self) -> xr.Dataset:
        """How often that window is shorter than needed, see `windows.odds_shorter`."""
        return odds_shorter(self.windows, self.need_days).sel(part=self.part)

    @cached_property
    def shorter_recently(self) -> xr.Dataset:
        """The same of the latest 15 years."""
        recent = self.windows.isel(season=slice(-RECENT_YEARS, None))
        return odds_shorter(recent, self.need_days).sel(part=self.part)

    @cached_property
    def median_length(self) -> float:
        """Length of that window in the middle year; missing where no year is known. [day]"""
        return float(self.window["length"].median())

    @cached_property
    def judged(self) -> tuple[xr.Dataset, ...]:
        """Each plan in every year, see `evaluate.judge`."""
        return tuple(judge(plan, self.daily) for plan in self.plans)

    @cached_property
    def odds(self) -> tuple[xr.Dataset, ...]:
        """Each plan's odds of success, see `evaluate.success_odds`."""
        return tuple(success_odds(judged) for judged in self.judged)

    @cached_property
    def best_first(self) -> tuple[int, ...]:
        """Places of the plans, counted from 0, by their odds, the best first."""
        share = [float(odds["share"].fillna(-1)) for odds in self.odds]  # not known: behind all
        return tuple(sorted(range(len(share)), key=lambda i: -share[i]))

    @property
    def best(self) -> int:
        """Place of the plan with the best odds; of equals the first."""
        return self.best_first[0]

    @cached_property
    def timetables(self) -> tuple[xr.Dataset, ...]:
        """Each plan's dates, see `timetable.dated_plan`."""
        return tuple(dated_plan(plan, self.daily) for plan in self.plans)

    @cached_property
    def swept(self) -> tuple[xr.Dataset, ...]:
        """Each plan's odds by start date, see `evaluate.sweep`."""
        return tuple(sweep(plan, self.daily) for plan in self.plans)

    @cached_property
    def comparisons(self) -> tuple[xr.Dataset, ...]:
        """The first plan against each other one, see `evaluate.compare`."""
        return tuple(compare(self.plans[0], other, self.daily) for other in self.plans[1:])

    @cached_property
    def ranked_crops(self) -> xr.Dataset:
        """Crops of the catalogue and its own, see `suitability.rank_crops`."""
        names = dict.fromkeys([*crop_names(), self.crop.name])
        crops = [self.crop if name == self.crop.name else crop(name) for name in names]
        return rank_crops(self.daily, crops)

    @cached_property
    def sudden_steps(self) -> tuple[caveats.Step, ...]:
        """Sudden steps of the record, see `caveats.sudden_steps`."""
        return caveats.sudden_steps(self.daily)

    @cached_property
    def clear_warming(self) -> float | None:
        """How fast it has grown warmer here, where that is clear. [degC per decade]"""
        return caveats.clear_warming(self.daily)

    @cached_property
    def missing_months(self) -> caveats.MissingMonths | None:
        """Months in which the crop grows that lack unusually many days."""
        days = [day_number(plan.start) - 1 + np.arange(plan.crop.days) for plan in self.plans]
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
        Days the crop needs of a window; its usual days above ground where it is left out.
    few_years : bool
        Whether fewer than ten known years will do. What is made of them says that they are few.

    Raises
    ------
    ValueError
        If there is neither a plan nor a crop, the plans grow different crops or start one that
        begins by itself, or the need is not one to 365 days.
    DataGapError
        If the window is known in fewer than ten years, and `few_years` was not asked for.
    """
    if not plans and crop is None:
        msg = "Give plans=[...] or crop=..., got neither."
        raise ValueError(msg)
    chosen = tuple(plans) or usual_plans(crop, daily)  # type: ignore[arg-type]
    names = sorted({plan.crop.name for plan in chosen})
    if len(names) > 1:
        msg = f"The plans of one report grow one crop, got {', '.join(names)}. Make a report each."
        raise ValueError(msg)
    if plans:
        _check_starts(plans, daily)
    need = chosen[0].crop.need_days if need_days is None else need_days
    if not 0 < need <= DAYS:
        msg = f" must lie between 1 and {DAYS}, got {need!r}."
        raise InputError(Parameter("need_days"), msg)
    report = GardenReport(garden, daily, chosen, need)
    check_years(int(report.shorter["known"]), few_years=few_years)
    return report


def _check_starts(plans: Sequence[Plan], daily: xr.Dataset) -> None:
    """Refuse a start for a crop that begins by itself, except the day on which it wakes."""
    for plan in (plan for plan in plans if plan.crop.wakes):
        own = usual_plans(plan.crop, daily)[0].start
        if day_number(plan.start) != day_number(own):
            msg = (
                f"{plan.crop.name} begins by itself where it stands, here about {own}: there is no "
                f"start to choose, got {plan.start}. Give crop=... and no plans."
            )
            raise ValueError(msg)


def usual_plans(crop: Crop, daily: xr.Dataset) -> tuple[Plan, ...]:
    """Ways in which a crop is usually grown, each at its best date by this history.

    A crop that begins by itself has one way, from the day on which it wakes.
    """
    ways = [Plan(crop, "04-01")]
    if crop.weeks_under_cover and not crop.wakes:
        ways.insert(0, Plan(crop, "04-01", crop.weeks_under_cover.usual, "cold frame"))
    return tuple(at_best_date(plan, daily) for plan in ways)
