"""Plans for a place: which crops suit it, when to start them, sowings, a plan's dates."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Literal

from climwin.cli.growing import StartOptions, chosen_crop, chosen_plans
from climwin.cli.notes import caution, progress
from climwin.cli.options import group, option, share, whole_number, year_number
from climwin.cli.reading import ClimateOptions, read_in_climate, say_before_odds
from climwin.cli.wording import about
from climwin.cli.writing import (
    check_outputs,
    check_table,
    force_option,
    in_own_english,
    save_table,
)
from climwin.core.dialect import in_dialect
from climwin.core.formatting import as_typed, fixed
from climwin.io.files import atomic_write

if TYPE_CHECKING:
    import xarray as xr

    from climwin.crops.model import Crop
    from climwin.planning.plan import Plan

_MOST_AHEAD = 5  # years; dates that lie further off are likely a slip


@dataclass(frozen=True)
class SuitsOptions(ClimateOptions):
    """A record, and which crops to rank."""

    season: Literal["cool", "warm"] | None = option(
        "--season", "cool-season or warm-season crops only", choices=("cool", "warm")
    )
    most: int = option(
        "--most",
        "how many crops to show (%(default)s)",
        convert=whole_number,
        metavar="N",
        default=30,
    )


@dataclass(frozen=True)
class CalendarOptions(ClimateOptions):
    """A record, the crops of its calendar, and the files for it."""

    crops: tuple[str, ...] = option(
        "--crop",
        "a crop's name, or your own crop.toml; may be repeated (all crops)",
        repeated=True,
        parameter="crop",
    )
    least_odds: float = option(
        "--odds",
        "the lowest odds of a harvest to accept, such as 0.8 or 80%% (%(default)s)",
        convert=share,
        default=0.8,
    )
    out: Path = option(
        "--out",
        ".csv file to write, with a picture beside it (%(default)s)",
        convert=Path,
        default=Path("calendar.csv"),
    )
    force: bool = force_option()


@dataclass(frozen=True)
class SowingsOptions(ClimateOptions):
    """A record, a first sowing, and how often to sow again."""

    start: StartOptions = group(StartOptions)
    every_days: int = option(
        "--every",
        "days from one sowing to the next (%(default)s)",
        convert=whole_number,
        metavar="DAYS",
        default=14,
    )
    least_odds: float = option(
        "--odds",
        "the lowest odds of a harvest to accept, such as 0.7 or 70%% (%(default)s)",
        convert=share,
        default=0.7,
    )


@dataclass(frozen=True)
class DatesOptions(ClimateOptions):
    """A record, a plan, and the file for its dates."""

    start: StartOptions = group(StartOptions)
    year: int | None = option(
        "--year", "the year of sowing or planting (next year)", convert=year_number, metavar="YEAR"
    )
    out: Path = option(
        "--out",
        "file to write, .ics or .csv (%(default)s)",
        convert=Path,
        default=Path("dates.ics"),
    )
    force: bool = force_option()


def suits(options: SuitsOptions) -> None:
    """Crops by their odds of a harvest and how they grow, the best first, and what limits them."""
    from climwin.core.stats import LEAST_YEARS
    from climwin.crops.catalogue import crop, crop_names
    from climwin.planning.suitability import rank_crops

    if options.most < 1:
        msg = f"--most must be 1 or more, got {options.most}."
        raise ValueError(msg)
    crops = [c for c in map(crop, crop_names()) if options.season in (c.season, None)]
    record = read_in_climate(options)
    progress("growing every crop in every year")
    ranked = rank_crops(record.here, crops).sortby("rank")
    say_before_odds(record, options, int(ranked["known"].max()))
    few = (ranked["known"] < (0 if options.few_years else LEAST_YEARS)).values
    if few.any():
        names = ", ".join(dict.fromkeys(ranked["crop"].values[few].tolist()))
        print(f"left out, known in fewer than ten years: {names}")
    ranked = ranked.isel(plan=~few)
    for place in range(min(options.most, ranked.sizes["plan"])):
        print(_suits_line(ranked.isel(plan=place)))


def _suits_line(row: xr.Dataset) -> str:
    """A crop grown one way: its harvests, how well it grows, when and how, what limits it."""
    from climwin.core.formatting import percent
    from climwin.core.seasons import day_name

    # Of dates chosen without the years that judge them: those that chose them praise them too much.
    harvested, known = (round(float(row[f"elsewhere_{name}"])) for name in ("harvested", "known"))
    crop, limit = row["crop"].item(), row["limit"].item()
    weeks, cover = int(row["weeks"]), row["cover"].item()
    how = f"{weeks} weeks under cover ({cover})" if weeks else "outdoors"
    if row["propagation"].item() == "perennial":
        when = "stands for years"
    elif harvested:
        days = [day_name(float(row[f"{end}_day"])) for end in ("first", "last")]
        when = f"{how}, start {' to '.join(dict.fromkeys(days))}"
        when += ", early varieties" if row["earliness"].item() == "early" else ""
    else:
        when = how
    line = f"{crop:20} {f'{harvested} of {known}':>8} years  "
    if harvested:
        good, growth = percent(float(row["good_share"])), float(row["growth"])
        line += f"good {good:>5}  growth {fixed(growth, 2)}  "
    return line + when + (f"; else {limit}" if limit and harvested else f"; {limit}" * bool(limit))


def calendar(options: CalendarOptions) -> None:
    """Recommended start dates of every crop at a place, as a table and a file."""
    from climwin.core.stats import LEAST_YEARS
    from climwin.planning.dates import planting_calendar
    from climwin.plot.plans import plot_calendar
    from climwin.report.sentences_caveats import frozen_ground

    inputs = [options.record, *map(Path, options.crops)]
    check_table(options.out, inputs, force=options.force)
    crops = [chosen_crop(name) for name in options.crops] or None
    record = read_in_climate(options)
    progress("growing every crop from every day of every year")
    table = planting_calendar(record.here, crops, least_odds=options.least_odds)
    caveats = say_before_odds(
        record, options, min(table["known"].values.tolist(), default=LEAST_YEARS)
    )
    ground = list(filter(None, [frozen_ground(record.daily)]))
    caution(ground)
    if said := [*caveats, *ground]:
        table.attrs["comment"] = "\n".join(said)
    without = _without_dates(table, crops, options.least_odds)
    if not table.sizes["row"]:
        raise ValueError(" ".join(without))
    print(
        "Of each run of dates: the best one, the share of years in which it gives a harvest, and "
        "when that harvest begins in eight years out of ten."
    )
    for n in range(table.sizes["row"]):
        print(_calendar_line(table.isel(row=n)))
    for line in without:
        print(line)
    save_table(table, plot_calendar(table), options.out, options.shown_units)


def _without_dates(table: xr.Dataset, crops: Sequence[Crop] | None, least_odds: float) -> list[str]:
    """Which crops have no dates in the calendar, and why, a line for each reason."""
    from climwin.core.wording import capitalized, listed
    from climwin.crops.catalogue import crop, crop_names
    from climwin.crops.naming import is_plural, plural

    asked = [crop(name) for name in crop_names()] if crops is None else crops
    dated = {*table["crop"].values.tolist()} if table.sizes["row"] else set()
    failing = [plural(c) for c in asked if not c.is_perennial and c.name not in dated]
    standing = [c for c in asked if c.is_perennial]
    lines = []
    if failing:
        lines.append(
            f"No start date reaches the odds {as_typed(least_odds)} here for {listed(failing)}. "
            "Lower --odds to accept less."
        )
    if standing:
        names = capitalized(listed(map(plural, standing)))
        verb = "stand" if len(standing) > 1 or is_plural(standing[0]) else "stands"
        lines.append(f"{names} {verb} for years: `climwin suits` has the odds.")
    return lines


def _calendar_line(row: xr.Dataset) -> str:
    """A run of dates of the calendar: the crop, how, when, its odds, and what it is best for."""
    from climwin.core.formatting import percent
    from climwin.core.seasons import day_name

    first, best, last = (day_name(int(row[f"{each}_day"])) for each in ("first", "best", "last"))
    harvest = [day_name(float(row[f"harvest_{end}"])) for end in ("first", "last")]
    variety = "early variety: " if row["earliness"].item() == "early" else ""
    return (
        f"{row['crop'].item():20} {row['method'].item():8} {first:>6} to {last:6}  best {best:>6} "
        f"{percent(float(row['elsewhere_share'])):>6}  harvest begins {' to '.join(harvest)}; "
        f"{variety}{row['best_for'].item()}"
    )


def sowings(options: SowingsOptions) -> None:
    """Sowings one after another, for as long as the odds hold."""
    from climwin.core.formatting import date, percent
    from climwin.planning.evaluate import evaluate_plan, harvest_odds
    from climwin.planning.schedule import succession
    from climwin.report.sentences_caveats import frozen_ground, old_seedlings

    crop = chosen_crop(options.start.crop)
    plans = chosen_plans(crop, options.start)
    if crop.is_perennial:
        msg = (
            f"{crop.name} is a perennial: it is not sown one after another. `climwin dates` has "
            "its dates."
        )
        raise ValueError(msg)
    record = read_in_climate(options)
    plan = _one_plan(crop, plans)
    sown = succession(plan, record.here, options.every_days, least_odds=options.least_odds)
    of_plan = harvest_odds(evaluate_plan(plan, record.here))
    known = [of_plan["known"].item(), *sown["known"].values.tolist()]
    caution(filter(None, [old_seedlings(plan)]))
    say_before_odds(record, options, min(known))
    caution(filter(None, [frozen_ground(record.daily)]))
    if not sown.sizes["sowing"]:
        msg = (
            f"No start date reaches the odds {as_typed(options.least_odds)} for {crop.name}. Lower "
            "--odds, or raise it under cover with --raise."
        )
        raise ValueError(msg)
    print(
        "Sowings, each with the share of years with a harvest, of those that had no part in "
        "choosing its date, and with a good one:"
    )
    for n in sown["sowing"].values:
        row = sown.sel(sowing=n)
        ends = [date(float(row[name])) for name in ("harvest_first", "harvest_last")]
        share, good = (percent(float(row[name])) for name in ("elsewhere_share", "good_share"))
        print(
            f"{n:2}  {date(float(row['start_day'])):6}  {share:>5}  good {good:>5}  "
            f"harvest begins {ends[0]} to {ends[1]}"
        )


def dates(options: DatesOptions) -> None:
    """A plan's dates with their odds, as a calendar file or a table."""
    import xarray as xr

    from climwin.io.exports import to_csv
    from climwin.planning.timetable import plan_dates
    from climwin.report.ical import CAUTION, plan_events, to_ical
    from climwin.report.sentences_caveats import old_seedlings

    if options.out.suffix not in (".ics", ".csv"):
        msg = f"--out takes a file that ends in .ics or .csv, got {str(options.out)!r}."
        raise ValueError(msg)
    inputs = [options.record, Path(options.start.crop)]
    check_outputs([options.out], inputs=inputs, force=options.force)
    year = dt.date.today().year + 1 if options.year is None else options.year
    if not 1900 <= year < dt.MAXYEAR:
        msg = f"--year takes the year of sowing or planting, such as 2027; got {year}."
        raise ValueError(msg)
    ahead = year - dt.date.today().year
    if ahead < 0 or ahead > _MOST_AHEAD:
        caution([f"These are dates of {year}. Odds are for the years to come; --year says which."])
    crop = chosen_crop(options.start.crop)
    plan = _one_plan(crop, chosen_plans(crop, options.start))
    record = read_in_climate(options)
    timetable = plan_dates(plan, record.here)
    doubts = [*filter(None, [old_seedlings(plan)])]
    caution(doubts)
    caveats = [*doubts, *say_before_odds(record, options, int(timetable["known"]))]
    if caveats:
        timetable.attrs["comment"] = "\n".join(caveats)
    print(*_dates_lines(plan, timetable, year), CAUTION, sep="\n")
    with about("out", OSError):
        if options.out.suffix == ".ics":
            calendar = to_ical(
                in_own_english(plan_events(timetable, year), options.shown_units),
                name=in_dialect(f"{plan.crop.name}, {plan.name}", options.shown_units),
                stamp=dt.datetime.now(dt.UTC),
            )
            with atomic_write(options.out) as part:
                part.write_bytes(calendar)
        else:
            # One row for each event, with the odds of the whole plan beside it.
            [rows] = xr.broadcast(timetable.drop_dims("reason"))
            to_csv(rows, options.out)
    print(options.out)


def _dates_lines(plan: Plan, timetable: xr.Dataset, year: int) -> list[str]:
    """The odds of a plan, and the day of each of its events with the days of 8 years in 10."""
    import numpy as np

    from climwin.core.formatting import years
    from climwin.core.seasons import date_of, day_name
    from climwin.report.ical import at_once
    from climwin.report.sentences import interval, likely_next

    known = years(int(timetable["known"]))
    lines = [
        f"{plan.crop.name}, {plan.name}: a harvest in {int(timetable['harvested'])} of {known} "
        f"({likely_next(timetable)}, and {interval(timetable)} in the long run, nine times in "
        f"ten), a good one in {int(timetable['good'])}"
    ]
    if leaning := int(timetable["leaning"]):
        lines.append(
            f"In {years(leaning)} more, gaps in the record hide the answer: the ranges allow for "
            "them, the counts and dates leave them out."
        )
    for name in timetable["event"].values[timetable["begin_day"].argsort().values].tolist():
        row = timetable.sel(event=name)
        days = [float(row[f"begin_{which}"]) for which in ("day", "first", "last")]
        said = _what_happens(plan).get(name, name)
        if at_once(timetable, name):
            continue
        if not np.isfinite(days[0]):
            lines.append(f"no year came as far as: {said}")
            continue
        begins_in = str(date_of(np.array(year), np.array(round(days[0]))))[:4]
        usual = f"{day_name(round(days[0]))} {begins_in}"
        first, last = (day_name(day) for day in days[1:])
        spread = "" if first == last else f"  ({first} to {last} in 8 years of 10)"
        killed = int(row["killed"])
        ended = f"; killed or too late here in {years(killed)}" if killed else ""
        lines.append(f"{usual:>11}  {said}{spread}{ended}")
    return lines


def _what_happens(plan: Plan) -> dict[str, str]:
    """What a gardener calls the events of a plan that the library has general names for."""
    does = "plant" if plan.is_planted else "sow"
    where = f"in the {plan.cover}" if plan.weeks_under_cover else "outdoors"
    if plan.plants == "bought":
        does, where = "set out", "the bought plants"
    return {"start": f"{does} {where}", "emergence": "it comes up"}


def _one_plan(crop: Crop, plans: list[Plan]) -> Plan:
    """The one plan that was given; that of a crop which begins by itself."""
    from climwin.planning.plan import Plan

    if crop.is_perennial:
        return Plan(crop, "01-01")
    if not plans:
        msg = (
            "Say how it is started: --sow MM-DD, --bought MM-DD, or --raise MM-DD with --weeks and "
            "--cover. `climwin calendar` shows which days do well."
        )
        raise ValueError(msg)
    if len(plans) > 1:
        msg = "Dates are those of one way of growing. Give one of --sow, --raise and --bought."
        raise ValueError(msg)
    return plans[0]
