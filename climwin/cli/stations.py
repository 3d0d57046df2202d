"""Stations around a place, their history, and the histories stored on this computer."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from climwin.cli.notes import caution, count_progress, progress, say_caveats
from climwin.cli.options import (
    argument,
    distance,
    group,
    option,
    shown_units_option,
    switch,
    year_span,
)
from climwin.cli.place import (
    PeriodOptions,
    PlaceOptions,
    fetched,
    garden_at,
    garden_of_record,
)
from climwin.cli.reading import neighbours_option, say_neighbours
from climwin.cli.wording import about
from climwin.cli.writing import check_outputs, force_option
from climwin.core.formatting import FOOT_M, MILE_KM, as_typed, fixed, percent, signed
from climwin.core.schema import Units

if TYPE_CHECKING:
    import pandas as pd
    import xarray as xr

    from climwin.core.schema import Garden

_FACTS = (
    *(
        "credit",
        "licence",
        "changes",
        "missing_years",
        "short_years",
        "doubtful_years",
        "not_refreshed",
    ),
    *("model_days", "future_days", "unsourced_days", "mixed_source_days"),
)
"""What `fetch` prints of a history, where there is anything to say."""


@dataclass(frozen=True)
class StationsOptions:
    """A place, and how far around it to look."""

    place: PlaceOptions = group(PlaceOptions)
    period: PeriodOptions = group(PeriodOptions)
    radius_km: float = option(
        "--radius",
        "how far to search, in km, or in miles, such as 30mi (50)",
        convert=distance,
        metavar="DISTANCE",
        default=50.0,
    )
    shown_units: Units = shown_units_option()


@dataclass(frozen=True)
class FetchOptions:
    """A place or a station, and the years of its history."""

    place: PlaceOptions = group(PlaceOptions)
    station: str | None = option(
        "--station", "use this station instead of the best one", metavar="ID"
    )
    period: PeriodOptions = group(PeriodOptions)
    neighbours: tuple[str, ...] = neighbours_option()
    join: bool = switch(
        "--join", "also fetch the stations around it, and see how well they would fill its gaps"
    )
    shown_units: Units = shown_units_option()


@dataclass(frozen=True)
class StoreListOptions:
    """Nothing to choose."""


@dataclass(frozen=True)
class StoreCheckOptions:
    """Nothing to choose."""


@dataclass(frozen=True)
class StoreRefreshOptions:
    """A station of the store, and the years to fetch again."""

    station: str = argument("ID", "the station's identifier, from `climwin store list`")
    years: tuple[range, ...] = argument(
        "YEARS",
        "years, such as 1994 or 1990-1995 (those that `climwin store check` names)",
        convert=year_span,
        nargs="*",
    )


@dataclass(frozen=True)
class StoreRemoveOptions:
    """A station of the store."""

    station: str = argument("ID", "the station's identifier, from `climwin store list`")


@dataclass(frozen=True)
class StoreExportOptions:
    """A station of the store, and the file to write."""

    station: str = argument("ID", "the station's identifier, from `climwin store list`")
    file: Path = argument("FILE", "file to write, .csv or .nc", convert=Path)
    force: bool = force_option()


def stations(options: StationsOptions) -> None:
    """Stations around a place as a table, the best first, and why."""
    import xarray as xr

    from climwin.stations.cache import attribution
    from climwin.stations.search import find_stations

    if options.radius_km <= 0:
        msg = f"--radius must be more than 0 km, got {as_typed(options.radius_km)}."
        raise ValueError(msg)
    garden = garden_at(options.place)
    progress(f"looking around {garden.full_name}")
    table = find_stations(
        garden,
        first_year=options.period.first_year,
        last_year=options.period.last_year,
        radius_km=options.radius_km,
        units=options.shown_units,
    )
    print(f"around {garden.full_name}")
    caution(filter(None, [garden.doubt]))
    print(_in_words(table, options.shown_units))
    if garden.elevation is None:
        print("Heights are left out of account: give the garden's with --elevation.")
    print("\nWhy in this order:")
    for station_id, row in table.iterrows():
        print(f"{station_id}  {row['name']}: {row['reason']}")
    print(f"\n{attribution(xr.Dataset(attrs=table.attrs))}")


def _in_words(table: pd.DataFrame, units: Units) -> str:
    """The table of stations as one reads it: years of each variable, share of days present."""
    from climwin.stations.meteostat_client import COLUMNS

    far, high = ("km", "higher_m") if units == "C" else ("miles", "higher_ft")
    km, metre = (1.0, 1.0) if units == "C" else (MILE_KM, FOOT_M)
    away, above = table["distance_km"] / km, table["height_difference_m"] / metre
    out = table[["name"]].assign(
        **{far: away.map(fixed), high: above.map(signed, na_action="ignore")}
    )
    for name in COLUMNS:
        ends = table[[f"{name}_first", f"{name}_last"]].astype(object).itertuples(index=False)
        out[name] = ["-".join(map(str, years)).replace("<NA>-<NA>", "none") for years in ends]
    out["present"] = table["share_present"].map(percent)
    return str(out.to_string(na_rep="?"))


def fetch(options: FetchOptions) -> None:
    """History of the best station around a place, or of one station, into the local store."""
    from climwin.io.quality import coverage, describe

    daily = fetched(
        options.station or garden_at(options.place), options.period, options.shown_units
    )
    attrs = daily.attrs
    facts = [
        attrs["title"],
        *attrs["history"].splitlines(),
        *(f"{key.replace('_', ' ')}: {attrs[key]}" for key in _FACTS if attrs.get(key)),
        *describe(coverage(daily)),
    ]
    say_caveats(daily, _garden(options.place, daily), facts, units=options.shown_units)
    say_neighbours(daily, options.neighbours, None, options.period, shown=options.shown_units)
    if options.join:
        _say_joined(daily)


def _say_joined(daily: xr.Dataset) -> None:
    """Print how well the stations around estimate a record's days, and what joining them gives."""
    from climwin.climate.joining import join_stations, rate_neighbours
    from climwin.report.sentences_joining import joined, rated_table
    from climwin.stations.history import fetch_neighbours

    with about("join"):
        neighbours = fetch_neighbours(
            daily,
            progress=lambda done, total, text: count_progress(done, total, f"stations: {text:<30}"),
        )
        rated = rate_neighbours(daily, neighbours)
        print("\nThe stations around, tested on days of the record left out in turn:")
        print(rated_table(rated))
        record = join_stations(daily, neighbours)
    print(record.attrs["history"].splitlines()[-1])
    print(joined(record) or "The record has no gap that they could fill.")
    taken = rated["neighbour"].values[(rated["weight"] != 0).any("variable").values]
    options = " ".join(f"--fill-from {each}" for each in taken)
    print(f"For a page: `climwin page --station {daily.attrs['station_id']} {options}`")


def _garden(place: PlaceOptions, daily: xr.Dataset) -> Garden | None:
    """The garden that a history was fetched for, if one was given."""
    if place.is_blank:
        return None
    if place.name is not None or place.latitude is not None:
        return garden_at(place)
    return garden_of_record(place, daily)


# --- the store ----------------------------------------------------------------------------


def store_list(_: StoreListOptions) -> None:
    """What the local store holds."""
    from climwin.stations.cache import folder, listing

    table = listing()
    print(table.to_string() if len(table) else f"No station is stored yet in {folder()}.")


def store_check(_: StoreCheckOptions) -> None:
    """The years of the local store that are short or doubtful."""
    from climwin.stations.cache import folder
    from climwin.stations.history import check_store

    table = check_store()
    if not len(table):
        print(f"No year in {folder()} is short, absent or doubtful.")
        return
    for row in table.to_dict("records"):
        print(
            f"{row['station_id']}  {row['name']}  {row['year']}  {row['status']}: {row['fault']}; "
            f"fetched {row['retrieved'].date()}, sources: {row['sources'] or 'none'}"
        )
    print("Fetch them again with `climwin store refresh ID`, or name the years after the ID.")


def store_refresh(options: StoreRefreshOptions) -> None:
    """Years of a stored station fetched again."""
    from climwin.stations.history import check_store, refresh_history

    years = [year for span in options.years for year in span] or None
    aside = refresh_history(
        options.station,
        years,
        progress=lambda done, total, text: count_progress(done, total, f"years; {text}"),
    )
    print(f"The history as it was: {aside}")
    table = check_store()
    left = table[table["station_id"] == options.station]
    for row in left.to_dict("records"):
        print(f"still {row['status']}, {row['year']}: {row['fault']}")
    if not len(left):
        print(f"{options.station} has no short or doubtful year any more")


def store_remove(options: StoreRemoveOptions) -> None:
    """Take a station out of the local store."""
    from climwin.stations.cache import remove

    remove(options.station)
    print(f"{options.station} is no longer stored")


def store_export(options: StoreExportOptions) -> None:
    """A stored station as a file of one's own."""
    from climwin.stations.cache import export

    check_outputs([options.file], force=options.force)
    print(export(options.station, options.file))
