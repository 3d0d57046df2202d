"""Soil temperature from air and sun against measured soil, April to June.

Run by hand, ``PYTHONPATH=tests python -m agreement.soil``: prints how far single days are off with
the air alone and with a share of the sun, and what share a fit on half of Dublin's years finds. The
records are no part of the project; `records.SHARED` says where they are looked for.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from typing import NamedTuple

import numpy as np
import pandas as pd
import xarray as xr
from records import SHARED, daily

from climwin.climate.soil import BEDS, Bed, fit_soil, soil_temperature
from climwin.core.schema import VARIABLES

SPRING = (4, 5, 6)
MOIST = 0.12
"""Mean soil moisture from April to June that parts moist places from dry ones. [m3 m-3]"""
FEWEST_DAYS, FEWEST_SOIL_DAYS = 330, 300
"""Of a year, for a place to count."""


class Place(NamedTuple):
    """Weather and the soil below it, at one depth."""

    group: str
    weather: xr.Dataset
    probe: xr.DataArray
    depth: float
    coast: bool


class Error(NamedTuple):
    """Mean and root mean square of model less measured. [degC]"""

    bias: float
    rmse: float


# --- records ------------------------------------------------------------------------------


def place(table: pd.DataFrame, column: str, group: str, latitude: float, coast: bool) -> Place:
    table = table.dropna(subset=["tmin", "tmax"])
    record = daily(table["date"], tmin=table["tmin"], tmax=table["tmax"])
    probe = xr.DataArray(
        table[column].to_numpy(float),
        {"time": record["time"]},
        name="tsoil",
        attrs=VARIABLES["tsoil"]._asdict(),
    )
    depth = 0.05 if column == "tsoil5" else 0.10
    return Place(group, record.assign_attrs(latitude=latitude), probe, depth, coast)


def read(name: str) -> pd.DataFrame:
    return pd.read_csv(SHARED / "soil" / name, parse_dates=["date"])


def dublin(first_year: int, last_year: int) -> Place:
    table = read("soil_dublin_airport_10cm.csv")
    table = table[table["date"].dt.year.between(first_year, last_year)]
    return place(table, "tsoil10", f"Dublin, 10 cm, {first_year}-{last_year}", 53.43, coast=True)


def cork() -> Place:
    table = read("soil_cork_airport_10cm.csv")
    return place(table, "tsoil10", "Cork, 10 cm, 1962-2022", 51.85, coast=True)


def grass() -> Iterator[Place]:
    """Places of the US climate reference network in 2020, at 5 cm under grass."""
    for _, table in read("soil_uscrn_2020_5cm.csv").groupby("wban"):
        whole = table.dropna(subset=["tmin", "tmax"])
        if len(whole) < FEWEST_DAYS or whole["tsoil5"].notna().sum() < FEWEST_SOIL_DAYS:
            continue
        moisture = whole["soil_moisture_5_daily"][whole["date"].dt.month.isin(SPRING)].mean()
        if np.isnan(moisture):
            continue
        group = "grass, 5 cm, moist, 2020" if moisture >= MOIST else "grass, 5 cm, dry, 2020"
        yield place(whole, "tsoil5", group, whole["latitude"].iloc[0], coast=False)


# --- errors -------------------------------------------------------------------------------


def errors(places: list[Place], cover: str | Bed) -> Error:
    """Median over places of the errors of their spring days."""
    found = []
    for each in places:
        soil = soil_temperature(each.weather, each.depth, cover=cover, coast=each.coast)
        off = (soil - each.probe)[soil["time.month"].isin(SPRING)].dropna("time")
        found.append((float(off.mean()), float(np.sqrt((off**2).mean()))))
    return Error(*np.median(found, axis=0))


def rows() -> Iterator[tuple[str, int, Error, Error]]:
    """Name, places, and the errors with air alone and with the sun's share."""
    groups: dict[str, list[Place]] = {}
    for each in (dublin(2010, 2025), cork(), *grass()):
        groups.setdefault(each.group, []).append(each)
    for group, places in groups.items():
        yield group, len(places), errors(places, BEDS["bare"].in_the_air), errors(places, "bare")


def growing_season(place: Place) -> xr.DataArray:
    """The probe from March to October."""
    return place.probe[place.probe["time.month"].isin(range(3, 11))]


def share_of_the_sun() -> tuple[float, float]:
    """Share of the sun and offset that Dublin's years 1995 to 2009 give at the usual diffusivity.

    What air and sun bring to the depth adds up, so the two are the solution of linear equations.
    """
    early, air = dublin(1995, 2009), BEDS["bare"].in_the_air
    by_air, with_sun = (
        soil_temperature(early.weather, early.depth, cover=bed, coast=early.coast)
        for bed in (air, replace(air, sun=1.0))
    )
    probe = growing_season(early)
    left, sun = ((x - by_air).sel(time=probe["time"]).values for x in (probe, with_sun))
    shared = ~np.isnan(left)
    equations = np.stack([sun[shared], np.ones(shared.sum())], axis=1)
    (share, offset), *_ = np.linalg.lstsq(equations, left[shared], rcond=None)
    return float(share), float(offset)


def main() -> None:
    print(f"{'soil, April to June':28} {'places':>6} {'air only':>15} {'air and sun':>15}")
    print(f"{'':35} {'bias':>7} {'rmse':>7} {'bias':>7} {'rmse':>7}")
    for group, places, air, sun in rows():
        print(
            f"{group:28} {places:6} {air.bias:7.2f} {air.rmse:7.2f} {sun.bias:7.2f} {sun.rmse:7.2f}"
        )
    share, offset = share_of_the_sun()
    print(f"Dublin, 1995-2009, at the usual diffusivity: sun {share:.3f}, offset {offset:.2f}")
    early = dublin(1995, 2009)
    fit = fit_soil(early.weather, growing_season(early), early.depth, coast=True)
    print(f"and with its own, as a garden's probe is fitted: {fit}")


if __name__ == "__main__":
    main()
