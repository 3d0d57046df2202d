"""Commands that plan: which crops suit, sowings one after another, a plan's dates to take along."""

from __future__ import annotations

import argparse
import datetime as dt
from typing import TYPE_CHECKING

from climwin.cli.commands import chosen_crop, chosen_plans, record, say_doubts
from climwin.io.files import atomic_write

if TYPE_CHECKING:
    import xarray as xr

    from climwin.planning.plan import Plan


def suits(chosen: argparse.Namespace) -> None:
    """Crops by their odds at a place, the best first, and what limits the others."""
    from climwin.core.stats import LEAST_YEARS
    from climwin.crops.catalogue import crop, crop_names
    from climwin.planning.suitability import rank_crops
    from climwin.report.sentences_garden import suited

    wanted = [c for c in map(crop, crop_names()) if chosen.season in (c.season, None)]
    daily = record(chosen)
    found = rank_crops(daily, wanted).sortby("rank")
    say_doubts(daily, chosen, known=int(found["known"].max()))
    few = (found["known"] < (0 if chosen.few_years else LEAST_YEARS)).values
    if few.any():
        left = ", ".join(dict.fromkeys(found["crop"].values[few].tolist()))
        print(f"left out, known in fewer than ten years: {left}")
    found = found.isel(plan=~few)
    for at in range(min(chosen.most, found.sizes["plan"])):
        row = found.isel(plan=at)
        odds = f"{int(row['succeeded'])} of {int(row['known'])}"
        print(f"{row['crop'].item():20} {odds:>8} years  {suited(row)}")


def sowings(chosen: argparse.Namespace) -> None:
    """Sowings one after another, for as long as the odds hold."""
    from climwin.planning.evaluate import judge, success_odds
    from climwin.planning.schedule import succession
    from climwin.report.sentences import date, percent

    daily = record(chosen)
    plan = _one_plan(chosen, daily)
    if plan.crop.wakes:
        msg = (
            f"{chosen.crop} begins by itself: it is not sown one after another. Ask for its dates."
        )
        raise ValueError(msg)
    found = succession(plan, daily, chosen.every, least_odds=chosen.odds)
    known = [success_odds(judge(plan, daily))["known"].item(), *found["known"].values.tolist()]
    say_doubts(daily, chosen, known=min(known))
    if not found.sizes["sowing"]:
        msg = (
            f"No start date reaches the odds {chosen.odds:g} for {chosen.crop}. Lower --odds, or "
            "raise it under cover with --raise."
        )
        raise ValueError(msg)
    for n in found["sowing"].values:
        row = found.sel(sowing=n)
        ends = [date(float(row[name])) for name in ("finish_first", "finish_last")]
        print(
            f"{n:2}  {date(float(row['start_day'])):6}  {percent(float(row['share'])):>5}  "
            f"ready {ends[0]} to {ends[1]}"
        )


def dates(chosen: argparse.Namespace) -> None:
    """A plan's dates with their odds, as a calendar file or a table."""
    from climwin.io.exports import to_csv
    from climwin.planning.timetable import dated_plan
    from climwin.report.ical import CAUTION, plan_events, to_ical

    daily = record(chosen)
    plan = _one_plan(chosen, daily)
    dated = dated_plan(plan, daily)
    told = say_doubts(daily, chosen, known=int(dated["known"]))
    if told:
        dated.attrs["comment"] = "\n".join(told)
    year = chosen.year or dt.date.today().year + 1
    events = plan_events(dated, year)
    for event in events:
        print(f"{event.date_first}  {event.title}")
    print(CAUTION)
    if chosen.out.suffix == ".ics":
        stamp = dt.datetime.now(dt.UTC)
        name = f"{plan.crop.name}, {plan.name}"
        with atomic_write(chosen.out) as part:
            part.write_bytes(to_ical(events, name=name, stamp=stamp))
    elif chosen.out.suffix == ".csv":
        to_csv(dated, chosen.out)
    else:
        msg = f"Dates are written as .ics or .csv, got {chosen.out.name!r}. Name the file so."
        raise ValueError(msg)
    print(chosen.out)


def _one_plan(chosen: argparse.Namespace, daily: xr.Dataset) -> Plan:
    from climwin.report.garden import usual_plans

    crop = chosen_crop(chosen.crop)
    plans = chosen_plans(crop, chosen)
    if crop.wakes:
        return usual_plans(crop, daily)[0]
    if len(plans) != 1:
        msg = "Say how it is started: --sow MM-DD, or --raise MM-DD with --weeks and --cover."
        raise ValueError(msg)
    return plans[0]
