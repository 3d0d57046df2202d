"""What each command does: chosen options in, files and printed answers out."""

from __future__ import annotations

import argparse
import datetime as dt
import sys
import warnings
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

from climwin.core.schema import Garden
from climwin.io.files import atomic_write

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    import xarray as xr

    from climwin.crops.model import Crop
    from climwin.planning.plan import Plan
    from climwin.report.garden import GardenReport


_WHERE = (
    "The numbers are those of the record's own spot. Say where your garden lies, with --lat, --lon "
    "and --elevation, and what that may change is told."
)


def say(step: str) -> None:
    """Tell what is going on, to a person at a terminal alone."""
    if sys.stderr.isatty():
        print(f"  {step} ...", file=sys.stderr)


# --- the page -----------------------------------------------------------------------------


def demo(chosen: argparse.Namespace) -> None:
    """The whole job on the invented sample."""
    from climwin.crops.catalogue import crop
    from climwin.io.daily import read_daily
    from climwin.io.samples import sample
    from climwin.planning.plan import Plan
    from climwin.plot.summary import plot_summary

    say("reading the sample")
    daily = read_daily(sample())
    cauliflower = crop("cauliflower")
    plans = [Plan(cauliflower, "03-05", 6, "cold frame"), Plan(cauliflower, "04-20")]
    garden = Garden("Pellbrook allotments", 46.1, 7.2, 640)
    report = _write(garden, daily, plans, None, chosen, made=None)
    picture = chosen.out.with_suffix(".png")
    with atomic_write(picture) as part:
        plot_summary(report, units=chosen.units).savefig(part, dpi=150)
    print(picture)


def page(chosen: argparse.Namespace) -> None:
    """One page to share, from a record or from the history of the stations around."""
    from climwin.core.provenance import warm_by

    grown = chosen_crop(chosen.crop)
    daily, garden = _history(chosen) if chosen.record is None else _own(chosen)
    daily = _moved(_filled(daily, chosen), garden, chosen)
    if chosen.warmer:
        daily = warm_by(daily, chosen.warmer)
    made = chosen.made or dt.date.today().isoformat()
    _write(garden, daily, chosen_plans(grown, chosen) or None, grown, chosen, made=made)


def club(chosen: argparse.Namespace) -> None:
    """One page for several gardens side by side."""
    from climwin.page.club import write_club

    made = chosen.made or dt.date.today().isoformat()
    page = write_club(
        chosen.file, chosen.out, units=chosen.units, made=made, few_years=chosen.few_years
    )
    _printed(page, chosen)


def _printed(page: Path, chosen: argparse.Namespace) -> None:
    """Tell where the page is, and print it where that was asked for."""
    from climwin.page.pdf import pdf

    print(page)
    if chosen.pdf:
        print(pdf(page, paper=chosen.paper))


def _own(chosen: argparse.Namespace) -> tuple[xr.Dataset, Garden]:
    daily = record(chosen)
    return daily, _garden_of(daily, chosen)


def _history(chosen: argparse.Namespace) -> tuple[xr.Dataset, Garden]:
    """The history around a garden; one whose height is not given lies as high as the station."""
    garden = garden_at(chosen)
    daily = fetched(chosen, chosen.station or garden)
    if garden.elevation is not None or "elevation" not in daily.attrs:
        return daily, garden
    height = float(daily.attrs["elevation"])
    note = f"the garden's height is not given: that of the station is taken, {height:.0f} m"
    warnings.warn(f"{note}. Say it with --elevation.", stacklevel=1)
    story = f"{daily.attrs['history']}\n{note}"
    return daily.assign_attrs(history=story), replace(garden, elevation=height)


def _filled(daily: xr.Dataset, chosen: argparse.Namespace) -> xr.Dataset:
    """The record, its gaps filled from the neighbour that was named."""
    from climwin.climate.gaps import fill_gaps

    return fill_gaps(daily, _neighbour(chosen.fill_from, chosen)) if chosen.fill_from else daily


def _neighbour(named: str, chosen: argparse.Namespace) -> xr.Dataset:
    """The record of a neighbour, by its file or by its station's id."""
    from climwin.io.daily import read_daily

    if Path(named).suffix:
        return read_daily(named, units=getattr(chosen, "record_units", None))
    return fetched(chosen, named)


def _moved(daily: xr.Dataset, garden: Garden, chosen: argparse.Namespace) -> xr.Dataset:
    """The record moved to the garden, by its own logger or by height, where that was asked for."""
    from climwin.climate.adjust import adjust_to_garden, measured_offsets
    from climwin.io.loggers import read_logger
    from climwin.shelter.covers import logger_days

    if not chosen.thermometer:
        return adjust_to_garden(daily, garden) if chosen.at_garden else daily
    readings = read_logger(chosen.thermometer, units=chosen.record_units)
    offsets = measured_offsets(daily, logger_days(readings))
    measured = offsets.to_dataframe().query("tmin_days > 0 or tmax_days > 0")
    print("The garden less the station, by month [degC]; _se its standard error, _days behind it:")
    print(measured.round(2).to_string())
    return adjust_to_garden(daily, garden, offsets=offsets)


def chosen_plans(crop: Crop, chosen: argparse.Namespace) -> list[Plan]:
    """The ways of growing it that were asked for."""
    from climwin.planning.plan import Plan

    if crop.wakes and (chosen.raised or chosen.sow):
        msg = (
            f"{crop.name} begins by itself where it stands: there is no start to choose. Leave "
            "--sow and --raise out."
        )
        raise ValueError(msg)
    plans = []
    if chosen.raised:
        usual = crop.weeks_under_cover.usual if crop.weeks_under_cover else 4
        plans.append(Plan(crop, chosen.raised, chosen.weeks or usual, chosen.cover))
    if chosen.sow:
        plans.append(Plan(crop, chosen.sow))
    return [replace(plan, fleece_weeks=chosen.fleece) for plan in plans]


def _write(
    garden: Garden,
    daily: xr.Dataset,
    plans: Sequence[Plan] | None,
    crop: Crop | None,
    chosen: argparse.Namespace,
    *,
    made: str | None,
) -> GardenReport:
    from climwin.page.write import write_page
    from climwin.report.garden import garden_report
    from climwin.report.sentences import headline, how_sure
    from climwin.report.sentences_caveats import caveats

    say("judging every year")
    need, few = getattr(chosen, "need", None), getattr(chosen, "few_years", False)
    report = garden_report(
        garden, daily, plans=plans or (), crop=crop, need_days=need, few_years=few
    )
    say("drawing the page")
    with_notebook = getattr(chosen, "notebook", False)
    path = write_page(report, chosen.out, units=chosen.units, made=made, notebook=with_notebook)
    print(headline(report), how_sure(report), sep="\n")
    day = dt.date.fromisoformat(made) if made else None
    mind(caveats(report, day, chosen.units))
    _printed(path, chosen)
    if with_notebook:
        print(path.with_suffix(".ipynb"))
    return report


# --- records ------------------------------------------------------------------------------


def look(chosen: argparse.Namespace) -> None:
    """What a record holds, lacks, what was set aside, and where it could mislead."""
    from climwin.io.quality import coverage, describe
    from climwin.report.sentences import set_aside

    daily = record(chosen)
    print(*daily.attrs["history"].splitlines(), *describe(coverage(daily)), sep="\n")
    for line in set_aside(daily):
        print(f"  {line}")
    say_doubts(daily, chosen)
    say_neighbours(daily, chosen)


def say_neighbours(daily: xr.Dataset, chosen: argparse.Namespace) -> None:
    """Whether a record steps suddenly against the neighbours that were named."""
    from climwin.report.sentences_caveats import beside

    for named in chosen.neighbour or ():
        print(beside(daily, _neighbour(named, chosen)))


# --- where numbers could mislead ----------------------------------------------------------


def say_doubts(
    daily: xr.Dataset, chosen: argparse.Namespace, *, known: int | None = None
) -> list[str]:
    """Say where a record's numbers could mislead: every command that shows any asks this first.

    Odds from fewer than ten `known` years are refused unless they were asked for.
    """
    from climwin.core.stats import FEW_YEARS, LEAST_YEARS, check_years
    from climwin.report.sentences_caveats import record_caveats

    garden, told = _garden_told(daily, chosen), []
    if known is not None:
        check_years(known, few_years=chosen.few_years)
        told = [FEW_YEARS] if known < LEAST_YEARS else []
    told = mind(dict.fromkeys([*told, *record_caveats(daily, dt.date.today(), garden=garden)]))
    if known is not None and garden is None:
        mind([_WHERE])
    return told


def mind(told: Iterable[str]) -> list[str]:
    """Print what is to be minded, a line each."""
    kept = list(told)
    for text in kept:
        print(f"mind: {text}")
    return kept


def _garden_told(daily: xr.Dataset, chosen: argparse.Namespace) -> Garden | None:
    """The garden, where anything was said of where it lies."""
    told = [getattr(chosen, name) for name in ("place", "lat", "lon", "elevation")]
    if told == [None] * len(told):
        return None
    if getattr(chosen, "record", None) is None and told[:2] != [None, None]:
        return garden_at(chosen)  # of a fetched history: the place is no name for its station
    return _garden_of(daily, chosen)


def record(chosen: argparse.Namespace) -> xr.Dataset:
    """The record that was named, read and checked."""
    from climwin.io.daily import read_daily

    say(f"reading {chosen.record}")
    columns = dict(chosen.columns or ())
    return read_daily(
        chosen.record, units=chosen.record_units, columns=columns or None, dates=chosen.dates
    )


# --- the place and its history ------------------------------------------------------------


def fetched(chosen: argparse.Namespace, place: Garden | str) -> xr.Dataset:
    """History of the best station around a garden, or of one station; progress at a terminal."""
    from climwin.stations.history import fetch_history

    def progress(done: int, total: int, text: str) -> None:
        if sys.stderr.isatty():
            end = "\n" if done == total else ""
            print(f"\r  {done} of {total} years: {text:<30}", end=end, file=sys.stderr)

    first, last = (getattr(chosen, name, None) for name in ("first_year", "last_year"))
    return fetch_history(place, first, last, progress=progress)


def _garden_of(daily: xr.Dataset, chosen: argparse.Namespace) -> Garden:
    """The garden; where its coordinates are not given, those of its record."""
    if chosen.lat is None and chosen.lon is None and {"latitude", "longitude"} <= {*daily.attrs}:
        latitude, longitude = (float(daily.attrs[key]) for key in ("latitude", "longitude"))
        return Garden(chosen.place or "the garden", latitude, longitude, chosen.elevation)
    return garden_at(chosen)


def garden_at(chosen: argparse.Namespace) -> Garden:
    """The garden by its coordinates, else by its name in the gazetteer."""
    from climwin.stations.gazetteer import locate

    if (chosen.lat is None) != (chosen.lon is None):
        msg = f"A position needs both, got --lat {chosen.lat} and --lon {chosen.lon}."
        raise ValueError(msg)
    if chosen.lat is not None:
        return Garden(chosen.place or "the garden", chosen.lat, chosen.lon, chosen.elevation)
    if not chosen.place:
        msg = "Where is it? Give --place with a town's name, or --lat and --lon."
        raise ValueError(msg)
    return locate(chosen.place, elevation=chosen.elevation)


# --- crops --------------------------------------------------------------------------------


def crops(chosen: argparse.Namespace) -> None:
    """The catalogue, or one crop with its sources."""
    from climwin.crops.catalogue import crop
    from climwin.crops.catalogue import crop_names as names

    wanted = chosen.filter.strip().lower()
    found = [crop(name) for name in names()]
    shown = [c for c in found if wanted in (c.name.lower(), c.family.lower(), c.season, "")]
    if not shown:
        families = sorted({c.family for c in found})
        msg = (
            f"No crop, family or season is called {chosen.filter!r}. Families: "
            f"{', '.join(families)}. Seasons: cool, warm. `climwin crops` lists all."
        )
        raise ValueError(msg)
    if wanted and [c.name.lower() for c in shown] == [wanted]:
        print(_sheet(shown[0]))
        return
    for c in shown:
        print(f"{c.name:22} {c.season:5} {c.family:18} {c.need_days:4} days  {c.botanical}")


def chosen_crop(text: str) -> Crop:
    """A crop of the catalogue, or of a gardener's own file."""
    from climwin.crops.catalogue import crop, read_crop

    return read_crop(text) if text.endswith(".toml") else crop(text)


def _sheet(crop: Crop) -> str:
    soil = crop.germination
    best = f"{soil.optimum_low_c} to {soil.optimum_high_c}"
    lines = [
        f"{crop.name} ({crop.botanical}), {crop.season}-season, {crop.family}",
        f"  grows at {crop.band.low_c} to {crop.band.high_c} degC, daily mean: {crop.band.source}",
        f"  soil {soil.minimum_c} to {soil.maximum_c} degC, best {best}: {soil.source}",
    ]
    if crop.weeks_under_cover:
        weeks = crop.weeks_under_cover
        lines.append(
            f"  under cover {weeks.usual} weeks ({weeks.fewest} to {weeks.most}): {weeks.source}"
        )
    for s in crop.stages:
        lines += [
            f"  {s.name}",
            f"    {s.days.usual} days ({s.days.fewest} to {s.days.most}): {s.days.source}",
            f"    best {s.prefers.low_c} to {s.prefers.high_c} degC: {s.prefers.source}",
            f"    grows {s.tolerates.low_c} to {s.tolerates.high_c} degC: {s.tolerates.source}",
            f"    killed at {s.survives.low_c} degC: {s.survives.source}",
        ]
    return "\n".join([*lines, *(f"  mind: {text}" for text in crop.cautions)])
