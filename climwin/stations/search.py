"""The stations around a garden, what each holds, and which one serves best."""

from __future__ import annotations

import datetime as dt
import sqlite3
import warnings
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeVar

import numpy as np

from climwin.core.schema import Garden, StationError
from climwin.core.seasons import ONE_DAY
from climwin.stations import cache, provider
from climwin.stations.provider import PATIENCE, Patience

if TYPE_CHECKING:
    import pandas as pd

Answer = TypeVar("Answer")

YEARS = 30
"""Length of the period that is looked at unless told: that of a climate normal (WMO Cg-17)."""

HALF_KM, HALF_M = 30.0, 200.0
"""Distance [km] and difference in height [m] that halve a station's worth (common practice)."""

SPOT_KM, SPOT_M = 1.0, 50.0
"""Stations as close as this, in distance [km] and in height [m], share a spot (common practice)."""

WHAT_TO_DO = (
    "Use a file of your own (climwin.read_daily), the invented sample that comes with climwin, "
    "or try again when the network is back."
)

CREDIT = "Meteostat (https://meteostat.net)"
"""Whom the list of stations and their data are from; the providers come beside."""

LICENCE = "CC BY 4.0, https://creativecommons.org/licenses/by/4.0/"
"""Licence of the data that meteostat hands on (its own licence page)."""

_NEEDED = {"tmin", "tmax"}  # the variables that a record cannot do without


def with_list(where: Path, patience: Patience, work: Callable[[Path], Answer]) -> Answer:
    """Do something with the list of stations: fetched if need be, stale if it must, never damaged.

    Raises
    ------
    StationError
        If there is no list and none could be had.
    """
    import pandas as pd

    fault = ""
    for _ in range(2):
        path, fault = provider.station_list(where, patience=patience)
        if not path.exists():
            break
        if fault:
            text = f"The list of stations could not be refreshed ({fault}); the older one serves."
            warnings.warn(text, stacklevel=3)
        try:
            return work(path)
        except (sqlite3.DatabaseError, pd.errors.DatabaseError) as error:
            fault = f"it was damaged: {error}"
            path.unlink(missing_ok=True)
    msg = f"The list of stations could not be had: {fault}. {WHAT_TO_DO}"
    raise StationError(msg)


def find_stations(
    garden: Garden,
    *,
    first_year: int | None = None,
    last_year: int | None = None,
    radius_km: float = 50.0,
    where: str | Path | None = None,
    patience: Patience = PATIENCE,
) -> pd.DataFrame:
    """Stations around a garden, the best first.

    Parameters
    ----------
    garden : Garden
        The place; without its elevation the difference in height is left out of account.
    first_year, last_year : int, optional
        The period asked about; the last thirty whole years unless told.
    radius_km : float
        How far to look. [km]
    where : path, optional
        Folder of the local store, which keeps the list of stations.
    patience : Patience
        Timeouts and attempts.

    Returns
    -------
    DataFrame, index station_id
        ``name``, ``country``, ``region``, ``latitude``, ``longitude``, ``elevation`` [m],
        ``distance_km``, ``height_difference_m`` (station less garden), first and last year of
        each variable (``tmin_first``, ``tmin_last``, ...), ``share_present`` (of the days of the
        period, by the inventory, for the scarcer of minimum and maximum), ``same_spot`` (other
        stations there, folded in), ``score``, and the ``reason`` in words; the attributes hold
        ``credit`` and ``licence``.

    Raises
    ------
    StationError
        If no station lies within the radius, or the list of stations could not be had.

    Notes
    -----
    The score is the square of the share present, so that half a record is worth a quarter, times
    1 / (1 + distance / 30 km), times 1 / (1 + height difference / 200 m): common practice.
    The inventory may lag behind what a station holds.
    """
    period = whole_years(first_year, last_year)

    def ask(path: Path) -> tuple[pd.DataFrame, pd.DataFrame]:
        near = provider.nearby(path, garden.latitude, garden.longitude, radius_km)
        return near, provider.holdings(path, list(near.index))

    near, held = with_list(cache.folder(where), patience, ask)
    if near.empty:
        msg = (
            f"No station lies within {radius_km:g} km of {garden.name!r}. "
            f"Look further: climwin.find_stations(garden, radius_km={2 * radius_km:g}). "
            f"{WHAT_TO_DO}"
        )
        raise StationError(msg)
    table = _measured(near, held, garden, period)
    table = _folded(table.sort_values("score", ascending=False, kind="stable"))
    table["reason"] = [_reason(row, period) for row in table.to_dict("records")]
    table.attrs = {"credit": CREDIT, "licence": LICENCE}
    return table


def whole_years(first_year: int | None, last_year: int | None) -> tuple[int, int]:
    """The period asked about, the last thirty whole years unless told.

    Raises
    ------
    ValueError
        If it ends before it begins.
    """
    last = last_year or dt.datetime.now(dt.UTC).year - 1
    first = first_year or last - YEARS + 1
    if first > last:
        msg = f"The period must not end before it begins, got {first} to {last}."
        raise ValueError(msg)
    return first, last


def _measured(
    near: pd.DataFrame, held: pd.DataFrame, garden: Garden, period: tuple[int, int]
) -> pd.DataFrame:
    """The table of stations with distance, height, holdings and score."""
    import pandas as pd

    table = near.rename_axis("station_id").drop(columns=["timezone", "distance"])
    table["distance_km"] = near["distance"] / 1000
    height = np.nan if garden.elevation is None else garden.elevation
    table["height_difference_m"] = pd.to_numeric(near["elevation"]) - height
    shares = []
    for name in provider.COLUMNS:
        here = held[held.index.get_level_values("variable") == name].droplevel("variable")
        here = here.reindex(table.index)
        for end in ("first", "last"):
            table[f"{name}_{end}"] = pd.to_datetime(here[end]).dt.year.astype("Int64")
        if name in _NEEDED:
            shares.append(_share(here, period))
    table["share_present"] = np.min(shares, axis=0)
    table["score"] = (
        table["share_present"] ** 2
        / (1 + table["distance_km"] / HALF_KM)
        / (1 + table["height_difference_m"].abs().fillna(0) / HALF_M)
    )
    return table


def _share(here: pd.DataFrame, period: tuple[int, int]) -> np.ndarray:
    """Share of the period's days that a variable has by the inventory; 0 where it names none."""
    start, end = (np.datetime64(f"{year}-01-01") for year in (period[0], period[1] + 1))
    first = here["first"].to_numpy("datetime64[D]")
    last = here["last"].to_numpy("datetime64[D]") + ONE_DAY
    days = (np.minimum(last, end) - np.maximum(first, start)).astype(float)
    days[np.isnat(first)] = 0
    complete = here["share"].fillna(1.0).to_numpy(float)
    return np.clip(days / (end - start).astype(float), 0, 1) * complete


def _folded(table: pd.DataFrame) -> pd.DataFrame:
    """Stations that share a spot as one row, the best of them; the others by name."""
    places = table[["latitude", "longitude", "elevation"]].to_numpy(float)
    others: dict[int, list[str]] = {}
    for row, place in enumerate(places):
        spot = next((kept for kept in others if _same_spot(place, places[kept])), row)
        others.setdefault(spot, []).append(str(table.index[row]))
    folded = [", ".join(here[1:]) for here in others.values()]
    return table.iloc[[*others]].assign(same_spot=folded)


def _same_spot(one: np.ndarray, other: np.ndarray) -> bool:
    """Whether two places (latitude, longitude, elevation) are as good as one."""
    north, east, up = one - other
    east = (east + 180) % 360 - 180
    apart = 111.2 * np.hypot(north, east * np.cos(np.radians(one[0])))  # km a degree
    return bool(apart <= SPOT_KM and not abs(up) > SPOT_M)


def _reason(row: dict[Any, Any], period: tuple[int, int]) -> str:
    first, last = period
    words = [f"{row['distance_km']:.0f} km away"]
    height = float(row["height_difference_m"])
    if not np.isnan(height):
        words.append(f"{abs(height):.0f} m {'higher' if height > 0 else 'lower'}")
    if row["share_present"] > 0:
        record = f"record {row['tmin_first']} to {row['tmin_last']}"
        words.append(
            f"{100 * row['share_present']:.0f} % of the days of {first} to {last} ({record})"
        )
    else:
        words.append(f"no minimum and maximum of {first} to {last} in its inventory")
    if row["same_spot"]:
        words.append(f"at the same spot: {row['same_spot']}")
    return "; ".join(words)
