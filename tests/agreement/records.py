"""Real daily records of the places whose planting calendars the model is held against."""

from __future__ import annotations

from functools import cache
from pathlib import Path
from typing import NamedTuple

import xarray as xr

SHARED = Path(__file__).parents[3] / "shared"
"""Records and published dates lie outside the project; without them nothing here can run."""
RECORDS = SHARED / "data" / "records"
YEARS = (1980, 2015)
"""Years that the first draft of the model was scored on. Each record gives what it has of them:
Gainesville begins in 1984 (nothing from 1970 to 1983), Fort Dodge, Indianola, Urbana and Wooster
in 1985."""


class Place(NamedTuple):
    """Where a record was made, as its own head says.

    Positions of Brussels, Champion, Tunis, Clemson and the four stations of the Middle West are
    from memory there; a tenth of a degree moves day length by less than a minute.
    """

    latitude: float
    longitude: float
    elevation: float


PLACES = {
    "Albany_NY": Place(42.75, -73.80, 85),
    "Brussels_BE": Place(50.8, 4.35, 100),
    "Champion_NE": Place(40.4, -101.7, 1029),
    "Clemson_SC": Place(34.66, -82.82, 251),
    "Dublin_IE": Place(53.423, -6.238, 71),
    "FortDodge_IA": Place(42.58, -94.20, 350),
    "Gainesville_FL": Place(29.69, -82.28, 37),
    "Indianola_IA": Place(41.37, -93.65, 287),
    "KleinAltendorf_DE": Place(50.62, 6.99, 160),
    "Merced_CA": Place(37.285, -120.51, 47),
    "PrinceGeorge_BC": Place(53.89, -122.68, 691),
    "SanDiego_CA": Place(32.734, -117.183, 5),
    "Tunis_TN": Place(36.83, 10.23, 4),
    "Urbana_IL": Place(40.08, -88.24, 220),
    "WilliamHead_BC": Place(48.34, -123.54, 12),
    "Wooster_OH": Place(40.7833, -81.9167, 311),
}
HALF_A = ("Albany_NY", "Merced_CA", "Gainesville_FL", "Dublin_IE", "Wooster_OH")
"""Half A of the places, on which the first draft was shaped. The others are half B. What is
calibrated on one half is reported on the other."""


def half(place: str) -> str:
    """Half of the places that one belongs to: ``"A"`` or ``"B"``."""
    return "A" if place in HALF_A else "B"


@cache
def load(place: str, years: tuple[int, int] = YEARS) -> xr.Dataset:
    """Daily record of a place, read and checked as a gardener's own file would be.

    The whole file is checked before its years are picked, so that bad values stand out against
    all that is known (Clemson's minima of -72 and 89 degF are left in on purpose).
    """
    import climwin as cw

    record = cw.read_daily(RECORDS / f"{place}.csv", units="C")
    record = record.sel(time=slice(*map(str, years)))
    known = record["tmin"].notnull() & record["tmax"].notnull()
    record = record.isel(time=slice(int(known.argmax("time")), None))
    return record.assign_attrs(PLACES[place]._asdict())


@cache
def has_frost(place: str) -> bool:
    """Whether at least half of the record's whole years bring a minimum of 0 degC or less.

    A year with fewer than 300 known minima is left aside. 0.05 degC of tolerance, since whole degF
    are stored as rounded tenths.
    """
    tmin = load(place)["tmin"].dropna("time")
    years = tmin.groupby("time.year")
    coldest = years.min().where(years.count() >= 300, drop=True)
    return bool((coldest <= 0.05).mean() >= 0.5)


def usual_last_frost(place: str) -> int:
    """Median over the years of the last day before July with a minimum of 0 degC or less."""
    tmin = load(place)["tmin"]
    spring = tmin.where((tmin <= 0.05) & (tmin["time"].dt.month < 7), drop=True)
    return int(spring["time"].dt.dayofyear.groupby(spring["time"].dt.year).max().median())
