"""Commands about stations: those around a place, their history, and what is kept of it."""

from __future__ import annotations

import argparse
from typing import TYPE_CHECKING

from climwin.cli.commands import fetched, garden_at, say, say_doubts, say_neighbours

if TYPE_CHECKING:
    import pandas as pd

_TOLD = (
    *("credit", "licence", "changes", "missing_years", "short_years", "not_refreshed"),
    *("model_days", "future_days", "unsourced_days", "mixed_source_days"),
)
"""What `fetch` says of a history, where there is anything to say."""


def stations(chosen: argparse.Namespace) -> None:
    """Stations around a place as a table, the best first, and why."""
    import xarray as xr

    from climwin.stations.cache import attribution
    from climwin.stations.search import find_stations as around

    garden = garden_at(chosen)
    say(f"looking around {garden.name}")
    table = around(
        garden, first_year=chosen.first_year, last_year=chosen.last_year, radius_km=chosen.radius
    )
    print(_shown(table))
    if garden.elevation is None:
        print("Heights are left out of account: give the garden's with --elevation.")
    print("\nWhy in this order:")
    for station_id, row in table.iterrows():
        print(f"{station_id}  {row['name']}: {row['reason']}")
    print(f"\n{attribution(xr.Dataset(attrs=table.attrs))}")


def _shown(table: pd.DataFrame) -> str:
    """The table of stations as one reads it: years of each variable, share of the days held."""
    from climwin.stations.meteostat_client import COLUMNS

    out = table[["name"]].assign(
        km=table["distance_km"].map("{:.0f}".format),
        higher_m=table["height_difference_m"].map("{:+.0f}".format, na_action="ignore"),
    )
    for name in COLUMNS:
        ends = table[[f"{name}_first", f"{name}_last"]].astype(object).itertuples(index=False)
        out[name] = ["-".join(map(str, years)).replace("<NA>-<NA>", "none") for years in ends]
    out["present"] = table["share_present"].map("{:.0%}".format)
    return str(out.to_string(na_rep="?"))


def fetch(chosen: argparse.Namespace) -> None:
    """History of the best station around a place, or of one station, into the local store."""
    from climwin.io.quality import coverage, describe

    daily = fetched(chosen, chosen.station or garden_at(chosen))
    facts = daily.attrs
    print(
        facts["title"],
        *facts["history"].splitlines(),
        *(f"{key.replace('_', ' ')}: {facts[key]}" for key in _TOLD if facts.get(key)),
        *describe(coverage(daily)),
        sep="\n",
    )
    say_doubts(daily, chosen)
    say_neighbours(daily, chosen)


def store_list(_: argparse.Namespace) -> None:
    """What the local store holds."""
    from climwin.stations.cache import folder, listing

    table = listing()
    print(table.to_string() if len(table) else f"No station is kept yet in {folder()}.")


def store_remove(chosen: argparse.Namespace) -> None:
    """Take a station out of the local store."""
    from climwin.stations.cache import remove

    remove(chosen.station)
    print(f"{chosen.station} is no longer kept")


def store_export(chosen: argparse.Namespace) -> None:
    """A kept station as a file of one's own."""
    from climwin.stations.cache import export

    print(export(chosen.station, chosen.file))
