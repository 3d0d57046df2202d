"""What each command does: chosen options in, files and printed answers out."""

from __future__ import annotations

import argparse
import datetime as dt
import sys
from typing import TYPE_CHECKING

from climwin.schema import Garden

if TYPE_CHECKING:
    from collections.abc import Sequence
    from pathlib import Path

    import xarray as xr

    from climwin.crops import Crop
    from climwin.plans import Plan
    from climwin.report import GardenReport


def say(step: str) -> None:
    """Tell what is going on, to a person at a terminal alone."""
    if sys.stderr.isatty():
        print(f"  {step} ...", file=sys.stderr)


# --- the page -----------------------------------------------------------------------------


def demo(chosen: argparse.Namespace) -> None:
    """The whole job on the invented sample."""
    from climwin.crops import crop
    from climwin.figures import answer
    from climwin.plans import Plan
    from climwin.records import read_daily, sample

    say("reading the sample")
    daily = read_daily(sample())
    cauliflower = crop("cauliflower")
    plans = [Plan(cauliflower, "03-05", 6, "cold frame"), Plan(cauliflower, "04-20")]
    garden = Garden("Pellbrook allotments", 46.1, 7.2, 640)
    report = _write(garden, daily, plans, None, chosen, made=None)
    picture = chosen.out.with_suffix(".png")
    answer(report, units=chosen.units).savefig(picture, dpi=150)
    print(picture)


def page(chosen: argparse.Namespace) -> None:
    """One page to share, from a record or from the history of the stations around."""
    from climwin.microclimate import to_garden
    from climwin.scenario import warmed

    grown = chosen_crop(chosen.crop)
    daily, garden = _history(chosen) if chosen.record is None else _own(chosen)
    if chosen.at_garden:
        daily = to_garden(daily, garden)
    if chosen.warmer:
        daily = warmed(daily, chosen.warmer)
    made = chosen.made or dt.date.today().isoformat()
    _write(garden, daily, chosen_plans(grown, chosen) or None, grown, chosen, made=made)


def club(chosen: argparse.Namespace) -> None:
    """One page for several gardens side by side."""
    from climwin.club import share_club

    made = chosen.made or dt.date.today().isoformat()
    _printed(share_club(chosen.file, chosen.out, units=chosen.units, made=made), chosen)


def _printed(page: Path, chosen: argparse.Namespace) -> None:
    """Tell where the page is, and print it where that was asked for."""
    from climwin.page_print import pdf

    print(page)
    if chosen.pdf:
        print(pdf(page, paper=chosen.paper))


def _own(chosen: argparse.Namespace) -> tuple[xr.Dataset, Garden]:
    daily = record(chosen)
    if chosen.lat is None and chosen.lon is None and {"latitude", "longitude"} <= {*daily.attrs}:
        latitude, longitude = (float(daily.attrs[key]) for key in ("latitude", "longitude"))
        return daily, Garden(chosen.place, latitude, longitude, chosen.elevation)
    return daily, _garden(chosen)


def _history(chosen: argparse.Namespace) -> tuple[xr.Dataset, Garden]:
    garden = _garden(chosen)
    return _fetched(chosen, chosen.station or garden), garden


def chosen_plans(crop: Crop, chosen: argparse.Namespace) -> list[Plan]:
    """The ways of growing it that were asked for."""
    from climwin.plans import Plan

    plans = []
    if chosen.raised:
        usual = crop.weeks_under_cover.usual if crop.weeks_under_cover else 4
        plans.append(Plan(crop, chosen.raised, chosen.weeks or usual, chosen.cover))
    if chosen.sow:
        plans.append(Plan(crop, chosen.sow))
    return plans


def _write(
    garden: Garden,
    daily: xr.Dataset,
    plans: Sequence[Plan] | None,
    crop: Crop | None,
    chosen: argparse.Namespace,
    *,
    made: str | None,
) -> GardenReport:
    from climwin.page import share
    from climwin.report import garden_report
    from climwin.words import headline

    say("judging every year")
    need = getattr(chosen, "need", None)
    report = garden_report(garden, daily, plans=plans or (), crop=crop, need_days=need)
    say("drawing the page")
    path = share(report, chosen.out, units=chosen.units, made=made)
    print(headline(report))
    _printed(path, chosen)
    return report


# --- records ------------------------------------------------------------------------------


def look(chosen: argparse.Namespace) -> None:
    """What a record holds, lacks, and what was set aside."""
    from climwin.quality import coverage, describe
    from climwin.words import set_aside

    daily = record(chosen)
    print(*daily.attrs["history"].splitlines(), *describe(coverage(daily)), sep="\n")
    for line in set_aside(daily):
        print(f"  {line}")


def record(chosen: argparse.Namespace) -> xr.Dataset:
    """The record that was named, read and checked."""
    from climwin.records import read_daily

    say(f"reading {chosen.record}")
    columns = dict(chosen.columns or ())
    return read_daily(
        chosen.record, units=chosen.record_units, columns=columns or None, dates=chosen.dates
    )


# --- stations and their history -----------------------------------------------------------


def stations(chosen: argparse.Namespace) -> None:
    """Stations around a place, the best first."""
    from climwin.nearby import stations as around

    garden = _garden(chosen)
    say(f"looking around {garden.name}")
    table = around(
        garden, first_year=chosen.first_year, last_year=chosen.last_year, radius_km=chosen.radius
    )
    for station_id, row in table.iterrows():
        print(f"{station_id}  {row['name']}: {row['reason']}")


def fetch(chosen: argparse.Namespace) -> None:
    """History of the best station around a place, or of one station, into the local store."""
    from climwin.quality import coverage, describe

    daily = _fetched(chosen, chosen.station or _garden(chosen))
    told = ("title", "credit", "licence", "missing_years", "short_years", "day_boundary")
    print(
        *(f"{key.replace('_', ' ')}: {daily.attrs[key]}" for key in told if daily.attrs.get(key)),
        *describe(coverage(daily)),
        sep="\n",
    )


def _fetched(chosen: argparse.Namespace, place: Garden | str) -> xr.Dataset:
    from climwin.records import fetch_history

    def progress(done: int, total: int, text: str) -> None:
        if sys.stderr.isatty():
            end = "\n" if done == total else ""
            print(f"\r  {done} of {total} years: {text:<30}", end=end, file=sys.stderr)

    return fetch_history(
        place, first_year=chosen.first_year, last_year=chosen.last_year, progress=progress
    )


def store_list(_: argparse.Namespace) -> None:
    """What the local store holds."""
    from climwin.store import folder, listing

    table = listing()
    print(table.to_string() if len(table) else f"No station is kept yet in {folder()}.")


def store_remove(chosen: argparse.Namespace) -> None:
    """Take a station out of the local store."""
    from climwin.store import remove

    remove(chosen.station)
    print(f"{chosen.station} is no longer kept")


def store_export(chosen: argparse.Namespace) -> None:
    """A kept station as a file of one's own."""
    from climwin.store import export

    print(export(chosen.station, chosen.file))


def _garden(chosen: argparse.Namespace) -> Garden:
    """The garden by its coordinates, else by its name in the gazetteer."""
    from climwin.gazetteer import locate

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
    from climwin.crops import crop
    from climwin.crops import crops as names

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
    from climwin.crops import crop, read_crop

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
