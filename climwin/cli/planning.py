"""Plans for a place: which crops suit it, sowings one after another, a plan's dates."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Literal

from climwin.cli.growing import StartOptions, chosen_crop, chosen_plans
from climwin.cli.notes import say_caveats_of_odds
from climwin.cli.options import group, number, option, whole_number
from climwin.cli.place import PlaceOptions, garden_if_given
from climwin.cli.reading import ReadingOptions, few_years_option, read_record, record_argument
from climwin.cli.wording import about
from climwin.io.files import atomic_write

if TYPE_CHECKING:
    import xarray as xr

    from climwin.crops.model import Crop
    from climwin.planning.plan import Plan


@dataclass(frozen=True)
class SuitsOptions:
    """A record, and which crops to rank."""

    record: Path = record_argument()
    reading: ReadingOptions = group(ReadingOptions)
    place: PlaceOptions = group(PlaceOptions)
    few_years: bool = few_years_option()
    season: Literal["cool", "warm"] | None = option(
        "--season", "of the crops; else both", choices=("cool", "warm")
    )
    most: int = option(
        "--most", "crops shown (%(default)s)", convert=whole_number, metavar="N", default=30
    )


@dataclass(frozen=True)
class SowingsOptions:
    """A record, a first sowing, and how often to sow again."""

    record: Path = record_argument()
    reading: ReadingOptions = group(ReadingOptions)
    place: PlaceOptions = group(PlaceOptions)
    start: StartOptions = group(StartOptions)
    few_years: bool = few_years_option()
    every_days: int = option(
        "--every",
        "days between two sowings (%(default)s)",
        convert=whole_number,
        metavar="DAYS",
        default=14,
    )
    least_odds: float = option(
        "--odds", "least, 0 to 1 (%(default)s)", convert=number, metavar="SHARE", default=0.7
    )


@dataclass(frozen=True)
class DatesOptions:
    """A record, a plan, and the file for its dates."""

    record: Path = record_argument()
    reading: ReadingOptions = group(ReadingOptions)
    place: PlaceOptions = group(PlaceOptions)
    start: StartOptions = group(StartOptions)
    few_years: bool = few_years_option()
    year: int | None = option(
        "--year", "of the start; else next year", convert=whole_number, metavar="YEAR"
    )
    out: Path = option(
        "--out", ".ics or .csv (%(default)s)", convert=Path, default=Path("dates.ics")
    )


def suits(options: SuitsOptions) -> None:
    """Crops by their odds at a place, the best first, and what limits the others."""
    from climwin.core.stats import LEAST_YEARS
    from climwin.crops.catalogue import crop, crop_names
    from climwin.planning.suitability import rank_crops
    from climwin.report.sentences_garden import suited

    if options.most < 1:
        msg = f"--most is a number of crops, 1 or more; got {options.most}."
        raise ValueError(msg)
    crops = [c for c in map(crop, crop_names()) if options.season in (c.season, None)]
    daily = read_record(options.record, options.reading)
    garden = garden_if_given(options.place, daily)
    ranked = rank_crops(daily, crops).sortby("rank")
    say_caveats_of_odds(
        daily,
        garden,
        known=int(ranked["known"].max()),
        few_years=options.few_years,
    )
    few = (ranked["known"] < (0 if options.few_years else LEAST_YEARS)).values
    if few.any():
        names = ", ".join(dict.fromkeys(ranked["crop"].values[few].tolist()))
        print(f"left out, known in fewer than ten years: {names}")
    ranked = ranked.isel(plan=~few)
    for place in range(min(options.most, ranked.sizes["plan"])):
        row = ranked.isel(plan=place)
        odds = f"{int(row['succeeded'])} of {int(row['known'])}"
        print(f"{row['crop'].item():20} {odds:>8} years  {suited(row)}")


def sowings(options: SowingsOptions) -> None:
    """Sowings one after another, for as long as the odds hold."""
    from climwin.planning.evaluate import judge, success_odds
    from climwin.planning.schedule import succession
    from climwin.report.sentences import date, percent

    crop = chosen_crop(options.start.crop)
    plans = chosen_plans(crop, options.start)
    if crop.wakes:
        msg = (
            f"{crop.name} begins by itself: it is not sown one after another. `climwin dates` has "
            "its dates."
        )
        raise ValueError(msg)
    daily = read_record(options.record, options.reading)
    garden = garden_if_given(options.place, daily)
    plan = _one_plan(crop, plans, daily)
    sown = succession(plan, daily, options.every_days, least_odds=options.least_odds)
    known = [success_odds(judge(plan, daily))["known"].item(), *sown["known"].values.tolist()]
    say_caveats_of_odds(daily, garden, known=min(known), few_years=options.few_years)
    if not sown.sizes["sowing"]:
        msg = (
            f"No start date reaches the odds {options.least_odds:g} for {crop.name}. Lower --odds, "
            "or raise it under cover with --raise."
        )
        raise ValueError(msg)
    for n in sown["sowing"].values:
        row = sown.sel(sowing=n)
        ends = [date(float(row[name])) for name in ("finish_first", "finish_last")]
        print(
            f"{n:2}  {date(float(row['start_day'])):6}  {percent(float(row['share'])):>5}  "
            f"ready {ends[0]} to {ends[1]}"
        )


def dates(options: DatesOptions) -> None:
    """A plan's dates with their odds, as a calendar file or a table."""
    from climwin.io.exports import to_csv
    from climwin.planning.timetable import dated_plan
    from climwin.report.ical import CAUTION, plan_events, to_ical

    if options.out.suffix not in (".ics", ".csv"):
        msg = f"--out takes a file that ends in .ics or .csv, got {options.out.name!r}."
        raise ValueError(msg)
    year = dt.date.today().year + 1 if options.year is None else options.year
    if not dt.MINYEAR <= year < dt.MAXYEAR:
        msg = f"--year takes the year of the start, such as 2027; got {year}."
        raise ValueError(msg)
    crop = chosen_crop(options.start.crop)
    plans = chosen_plans(crop, options.start)
    daily = read_record(options.record, options.reading)
    garden = garden_if_given(options.place, daily)
    plan = _one_plan(crop, plans, daily)
    dated = dated_plan(plan, daily)
    caveats = say_caveats_of_odds(
        daily,
        garden,
        known=int(dated["known"]),
        few_years=options.few_years,
    )
    if caveats:
        dated.attrs["comment"] = "\n".join(caveats)
    events = plan_events(dated, year)
    for event in events:
        print(f"{event.date_first}  {event.title}")
    print(CAUTION)
    with about("out", OSError):
        if options.out.suffix == ".ics":
            calendar = to_ical(
                events, name=f"{plan.crop.name}, {plan.name}", stamp=dt.datetime.now(dt.UTC)
            )
            with atomic_write(options.out) as part:
                part.write_bytes(calendar)
        else:
            to_csv(dated, options.out)
    print(options.out)


def _one_plan(crop: Crop, plans: list[Plan], daily: xr.Dataset) -> Plan:
    """The one plan that was given; the usual one of a crop that begins by itself."""
    from climwin.report.garden import usual_plans

    if crop.wakes:
        return usual_plans(crop, daily)[0]
    if not plans:
        msg = "Say how it is started: --sow MM-DD, or --raise MM-DD with --weeks and --cover."
        raise ValueError(msg)
    if len(plans) > 1:
        msg = "Dates are those of one way of growing. Give --sow or --raise, not both."
        raise ValueError(msg)
    return plans[0]
