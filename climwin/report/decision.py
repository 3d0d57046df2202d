"""Decide by rule what to do, from the odds of a harvest: a row for each way, and the one to follow.

Each way of growing has the dates that were asked, and beside them better dates where there are any.
Words are in `sentences_decision`.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
import xarray as xr

from climwin.core.seasons import DAYS, day_number
from climwin.core.stats import LEAST_YEARS
from climwin.planning.dates import SAFER_BY
from climwin.planning.growth import POOR_GROWTH
from climwin.planning.plan import Plan
from climwin.planning.spans import (
    AS_GOOD,
    CLEARLY_SAFER,
    ENOUGH_TO_LEAD,
    SEASONS,
    has_full_crop,
    leading_span,
    needs_winter,
    through_winter,
    weaker_in_winter,
)
from climwin.report.garden import GardenReport
from climwin.report.sentences import best_run_of

RELIABLE = 0.8
"""Share of harvests from which a way is called good (common practice)."""
EVEN = 0.5
"""Share of harvests below which a crop is called a gamble (common practice)."""


@dataclass(frozen=True)
class Row:
    """One way of growing on one date, or on the best dates found for it.

    Parameters
    ----------
    plan : Plan
        The way as it was asked.
    number : int
        Its place in the report.
    is_best : bool
        Whether the dates are those found best, and not those asked.
    start : int
        Day of the year of sowing, planting or setting out.
    first, last : int
        The run of dates that do as well; both are `start` where the dates were asked.
    harvest : tuple of float
        Between which days the harvest begins in eight harvests of ten, after 31 December before
        the start; missing where there was none.
    harvested, known : int
        Years with a harvest, of so many. For best dates: of the years left out of the choice.
    share, low, high : float
        Odds of a harvest, and their likely range (90 %).
    crop, growth : float
        Expected crop, as a share of the largest that its variety gives on any date in this way, and
        growth in the years with a harvest.
    was_asked : bool
        Whether these are the very dates of the plan; its own best date is both.
    is_first_season : bool
        Whether nobody asked for a date, and these are the best of the season that leads.
    is_early : bool
        Whether the dates hold for an early variety, though the plan is of a main one.
    yield_index : float
        Expected crop as such, which may be compared between ways. [MJ m-2]
    season : str
        Of best dates, one of `climwin.planning.spans.SEASONS`; empty where none is safe.
    is_hopeless : bool
        Whether nobody asked for a date, and none gives a harvest: `start` then says nothing.
    """

    plan: Plan
    number: int
    is_best: bool
    start: int
    first: int
    last: int
    harvest: tuple[float, float]
    harvested: int
    known: int
    share: float
    low: float
    high: float
    crop: float
    growth: float
    was_asked: bool
    is_first_season: bool = False
    is_early: bool = False
    yield_index: float = 0.0
    season: str = ""
    is_hopeless: bool = False

    @property
    def is_given(self) -> bool:
        """Whether a person gave the date."""
        return self.was_asked and not self.is_best and not self.is_hopeless

    def grows_as_well_as(self, other: Row) -> bool:
        """Whether its crop is nearly as large as another's, and grows nearly as well."""
        return self.crop >= AS_GOOD * other.crop and self.growth >= AS_GOOD * other.growth

    @property
    def grows_poorly(self) -> bool:
        """Whether it gives harvests, but temperature lets them grow poorly."""
        return self.harvested > 0 and self.growth < POOR_GROWTH

    def does_as_well_as(self, other: Row) -> bool:
        """Whether its odds lie in another's likely range, with nearly as large and good a crop."""
        as_large = self.yield_index >= AS_GOOD * other.yield_index
        return self.share >= other.low and as_large and self.growth >= AS_GOOD * other.growth

    @property
    def set_out(self) -> float:
        """Day on which the plants leave their cover; missing where they had none."""
        weeks = self.plan.weeks_under_cover
        return self.start + 7.0 * weeks if weeks else np.nan

    @property
    def is_poor(self) -> bool:
        """Whether it fails in more than half of the years."""
        return self.share < EVEN


@dataclass(frozen=True)
class Decision:
    """The rows of a report, the one to follow first, and how they stand to each other.

    Parameters
    ----------
    rows : tuple of Row
        The row that leads, then the other best dates, then the dates that were asked.
    """

    rows: tuple[Row, ...]

    @property
    def lead(self) -> Row:
        """The row to follow."""
        return self.rows[0]

    @property
    def asked(self) -> tuple[Row, ...]:
        """Rows of the dates that were asked, in the order of the plans."""
        return tuple(sorted((r for r in self.rows if r.was_asked), key=lambda r: r.number))

    @property
    def most(self) -> Row:
        """The row with the largest share of harvests."""
        return max(self.rows, key=lambda row: row.share)

    @property
    def has_few_years(self) -> bool:
        """Whether the row that leads has fewer than ten known years."""
        return self.lead.known < LEAST_YEARS

    def other_way(self) -> Row | None:
        """The best row of any other way of growing; none where there is one way alone."""
        others = [r for r in self.rows if r.number != self.lead.number]
        return max(others, key=lambda row: row.share) if others else None

    def surer_season(self) -> Row | None:
        """Dates in another season of the year that are clearly safer than those that lead.

        Only where nobody asked for a date, and where the two runs of dates do not meet.
        """
        lead = self.lead
        if not lead.is_first_season:
            return None
        own = (row for row in self.rows if row.number == lead.number and row.is_best)
        return next((row for row in own if _is_surer_and_apart(row, lead)), None)

    def failing(self) -> Row | None:
        """The dates asked that need a reason: those of the way that leads, or else the worst.

        Dates that nobody asked for need none where others of the same way do well.
        """
        own, worst = self.same_way_asked(), min(self.asked, key=lambda row: row.share)
        failing = [row for row in (own, worst) if row.known and row.share < RELIABLE]
        failing = [row for row in failing if row.is_given or not self._has_better(row)]
        return failing[0] if failing else None

    def _has_better(self, row: Row) -> bool:
        return any(each.number == row.number and each.share >= RELIABLE for each in self.rows)

    def same_way_asked(self) -> Row:
        """The dates asked for the way that leads."""
        return next(row for row in self.asked if row.number == self.lead.number)


def _is_surer_and_apart(row: Row, lead: Row) -> bool:
    meet = (row.first - lead.last) % DAYS <= 1 or (lead.first - row.last) % DAYS <= 1
    return row.share >= lead.share + CLEARLY_SAFER and not meet


def decide(report: GardenReport) -> Decision:
    """Choose what to follow from the odds of every way.

    A row is as good as the best if its share lies within the likely range of the best one's. Of
    rows as good, the open ground leads, which costs least. Warm crops that are hardly ever sown in
    place, such as tomatoes, lead as raised plants if these come to a harvest in 8 years of 10. Of
    one way, dates that were asked lead, for nobody need change what works.

    All rows, dates that were asked too, are of the climate whose odds lead: rows that were counted
    in two climates could not be compared.

    Examples
    --------
    >>> import climwin as cw
    >>> daily = cw.read_daily(cw.sample())
    >>> garden = cw.Garden("Pellbrook allotments", 46.1, 7.2, 640)
    >>> report = cw.garden_report(garden, daily, plans=[cw.Plan(cw.crop("cauliflower"), "04-20")])
    >>> lead = decide(report).lead
    >>> lead.is_best, lead.share > 0.9
    (True, True)
    """
    return report.once("decision", lambda: _decided(report))


def _decided(report: GardenReport) -> Decision:
    by_dates: dict[tuple[object, ...], Row] = {}
    for number in range(len(report.plans)):
        for row in _rows(report, number):
            by_dates.setdefault(_dates_of_way(row), row)
    rows = [*by_dates.values()]
    best = max(rows, key=lambda row: row.share)
    raised = [r for r in rows if _is_raised(r.plan) and _is_usual(r.plan) and r.share >= RELIABLE]
    first_season = [row for row in rows if row.is_first_season and row.share >= RELIABLE]
    as_good = [row for row in rows if row.share >= min(best.low, best.share) and _stands(row, rows)]
    as_good = raised or [*as_good, *(row for row in first_season if row not in as_good)]
    lead = min(
        as_good,
        key=lambda row: (
            not _is_usual(row.plan),
            not row.is_given,
            not row.is_first_season,
            -row.share,
        ),
    )
    others = sorted((r for r in rows if r is not lead), key=lambda r: (r.was_asked, r.number))
    return Decision((lead, *others))


def _dates_of_way(row: Row) -> tuple[object, ...]:
    """What tells rows apart: a way that was asked on two dates has best dates only once."""
    if row.was_asked:
        return row.number, row.plan
    return replace(row.plan, start="01-01"), row.start, row.first, row.last


def _stands(row: Row, rows: list[Row]) -> bool:
    """Whether no better dates of the same way have a clearly larger crop."""
    own = [each for each in rows if each.number == row.number and not each.was_asked]
    return all(row.grows_as_well_as(each) for each in own)


def _is_usual(plan: Plan) -> bool:
    """Whether a crop is usually begun like this: as raised plants, or in the open ground."""
    needs_warmth = plan.crop.propagation == "plants" and plan.crop.season == "warm"
    return _is_raised(plan) is needs_warmth


def _is_raised(plan: Plan) -> bool:
    return bool(plan.weeks_under_cover) or plan.plants == "bought"


def _rows(report: GardenReport, number: int) -> list[Row]:
    """A plan as asked, and its best dates where they are others that do better."""
    asked = _asked(report, number)
    if report.crop.is_perennial:
        return [asked]
    best = _best(report, number)
    nobody_asked = asked.start == int(report.ahead.swept[number]["best_day"])
    if best is None:
        return [replace(asked, is_hopeless=nobody_asked and not asked.harvested)]
    if nobody_asked:
        return _rows_of_chosen(report, asked, best)
    stands = asked.grows_as_well_as(best)
    inside = _is_within(asked.start, best.first, best.last)
    does_as_well = inside or asked.share >= best.share
    return [asked] if stands and does_as_well else [best, asked]


def _rows_of_chosen(report: GardenReport, asked: Row, best: Row) -> list[Row]:
    """Where nobody asked for a date: the plan's own best date, and that of the season that leads.

    The two differ where an early variety brings the season forward, or is clearly safer in it.
    """
    chosen = _chosen(report, asked, best)
    spans = report.recommended[asked.number]
    if spans is None or not spans.sizes["span"]:
        return [chosen]
    at_best = (spans[n].values for n in ("elsewhere_share", "crop_of_variety", "growth"))
    winter = needs_winter(report.crop)
    leading = leading_span(*at_best, weaker=_weaker(spans), needs_winter=winter)
    first = _row_of_span(report, asked.number, spans, leading)
    first = replace(first, is_first_season=True)
    same_season = _is_within(chosen.start, first.first, first.last)
    if same_season and first.share <= chosen.share + SAFER_BY:
        rows = [replace(chosen, is_first_season=True)]
    else:
        rows = [first, chosen]
    return [*rows, *_surer_seasons(report, rows, spans)]


def _surer_seasons(report: GardenReport, rows: list[Row], spans: xr.Dataset) -> list[Row]:
    """The first season with a crop worth having that is clearly safer than the one that leads.

    None where its dates are among the rows already.
    """
    lead = rows[0]
    crop, growth = spans["crop_of_variety"].values, spans["growth"].values
    worth_it = (crop >= ENOUGH_TO_LEAD * crop.max()) & (growth >= ENOUGH_TO_LEAD * growth.max())
    for place in np.flatnonzero(worth_it):
        row = _row_of_span(report, lead.number, spans, int(place))
        if _is_surer_and_apart(row, lead):
            told = any(_is_within(each.start, row.first, row.last) for each in rows)
            return [] if told else [row]
    return []


def _met_in_winter(spans: xr.Dataset) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """What tells which spans run through the winter: their odds, first and last days."""
    return spans["elsewhere_share"].values, spans["first_day"].values, spans["last_day"].values


def _weaker(spans: xr.Dataset) -> int | None:
    """Place of the span that is the weaker end of dates that run through the winter."""
    return weaker_in_winter(*_met_in_winter(spans))


def _chosen(report: GardenReport, asked: Row, best: Row) -> Row:
    """A plan that stands at its own best date: judged on years left out, like all best dates."""
    swept = report.ahead.swept[asked.number]
    first, last = best.first, best.last
    if best.is_early:  # an early variety's dates; these are those of the plan's own
        first, last = best_run_of(swept) or (asked.start, asked.start)
    inside = _is_within(asked.start, first, last)
    return replace(
        asked,
        is_best=True,
        first=first if inside else asked.start,
        last=last if inside else asked.start,
        harvested=round(float(swept["elsewhere_harvested"])),
        known=round(float(swept["elsewhere_known"])),
        share=_number(swept["elsewhere_share"]),
        low=_number(swept["elsewhere_low"]),
        high=_number(swept["elsewhere_high"]),
        season=["", *SEASONS][int(swept["best_season"]) + 1],
    )


def _asked(report: GardenReport, number: int) -> Row:
    plan, odds = report.plans[number], report.ahead.odds[number]
    harvest = report.timetables[number].sel(event="harvest")
    start = 1 if report.crop.is_perennial else day_number(plan.start)
    return Row(
        plan=plan,
        number=number,
        is_best=False,
        start=start,
        first=start,
        last=start,
        harvest=(float(harvest["begin_first"]), float(harvest["begin_last"])),
        harvested=int(odds["harvested"]),
        known=int(odds["known"]),
        share=_number(odds["share"]),
        low=_number(odds["low"]),
        high=_number(odds["high"]),
        crop=1.0 if report.crop.is_perennial else _at(report, number, start, "expected_crop"),
        growth=_number(odds["growth"]),
        yield_index=_yield_of(report, number, start),
        was_asked=True,
    )


def _best(report: GardenReport, number: int) -> Row | None:
    """The recommended dates nearest to those asked, or else those with the largest crop."""
    plan, spans = report.plans[number], report.recommended[number]
    swept = report.ahead.swept[number]
    if spans is not None and spans.sizes["span"]:
        return _row_of_span(report, number, spans, _nearest(spans, day_number(plan.start)))
    run = best_run_of(swept)
    if run is None:
        return None
    first, last = run
    start = (first + (last - first) % DAYS // 2 - 1) % DAYS + 1
    days = swept["harvest_day"].sel(start_day=start).values
    harvest = (float(days[0]), float(days[-1]))
    return _row_of_best(report, number, swept, (first, start, last), harvest)


def _row_of_span(report: GardenReport, number: int, spans: xr.Dataset, place: int) -> Row:
    """The row of a span of recommended dates, by its place."""
    span = spans.isel(span=place)
    first, start, last = (int(span[name]) for name in ("first_day", "best_day", "last_day"))
    if report.crop.season == "cool":
        first, last = through_winter(place, *_met_in_winter(spans))
    harvest = (float(span["harvest_first"]), float(span["harvest_last"]))
    row = _row_of_best(report, number, span, (first, start, last), harvest)
    earliness = str(span["earliness"].item())
    return replace(
        row,
        crop=float(span["crop_of_variety"]),
        growth=_number(span["growth"]),
        yield_index=float(span["yield_index"]),
        season=str(span["season"].item()),
        is_early=earliness == "early" and report.plans[number].earliness == "main",
    )


def _row_of_best(
    report: GardenReport,
    number: int,
    found: xr.Dataset,
    days: tuple[int, int, int],
    harvest: tuple[float, float],
) -> Row:
    """The row of best dates: first, best and last day, judged on the years left out."""
    first, start, last = days
    return Row(
        plan=report.plans[number],
        number=number,
        is_best=True,
        start=start,
        first=first,
        last=last,
        harvest=harvest,
        harvested=round(float(found["elsewhere_harvested"])),
        known=round(float(found["elsewhere_known"])),
        share=_number(found["elsewhere_share"]),
        low=_number(found["elsewhere_low"]),
        high=_number(found["elsewhere_high"]),
        crop=_at(report, number, start, "expected_crop"),
        growth=_at(report, number, start, "growth"),
        yield_index=_yield_of(report, number, start),
        was_asked=False,
    )


def _nearest(spans: xr.Dataset, start: int) -> int:
    """Place of the span that holds a day, or else of the nearest: of those with a full crop.

    If that is the weaker end of dates that run through the winter, their other end.
    """
    full = has_full_crop(spans["crop_of_variety"].values, spans["growth"].values)
    full |= spans["expected_crop"].values >= AS_GOOD  # nobody moves to autumn for a smaller one
    first, last = spans["first_day"].values, spans["last_day"].values
    inside = (start - first) % DAYS <= (last - first) % DAYS
    away = np.minimum((first - start) % DAYS, (start - last) % DAYS)
    away = np.where(inside, -1, away)
    near = int(np.argmin(np.where(full, away, DAYS) if full.any() else away))
    if near != _weaker(spans):
        return near
    return len(first) - 1 if near == 0 else 0


def _is_within(day: int, first: int, last: int) -> bool:
    return (day - first) % DAYS <= (last - first) % DAYS


def _number(value: xr.DataArray) -> float:
    """A share; 0 if no year is known."""
    return float(np.nan_to_num(float(value)))


def _at(report: GardenReport, number: int, start: int, name: str) -> float:
    """What the sweep of a plan says of one start date."""
    return _number(report.ahead.swept[number][name].sel(start_day=start))


def _yield_of(report: GardenReport, number: int, start: int) -> float:
    """Expected crop of a plan from one start date, 0 for a perennial. [MJ m-2]"""
    return 0.0 if report.crop.is_perennial else _at(report, number, start, "yield_index")
