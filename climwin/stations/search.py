"""Find the stations around a garden, and rank them."""

from __future__ import annotations

import datetime as dt
import sqlite3
import warnings
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeVar

import numpy as np

from climwin.core.errors import Call, InputError, Parameter, StationError
from climwin.core.formatting import as_typed, distance, percent
from climwin.core.formatting import height as height_text
from climwin.core.geo import distance_km
from climwin.core.schema import Garden, Units, check_choice
from climwin.core.seasons import ONE_DAY
from climwin.stations import cache
from climwin.stations.meteostat_client import (
    COLUMNS,
    RETRY_POLICY,
    RetryPolicy,
    inventory,
    station_list,
    stations_within,
)

if TYPE_CHECKING:
    import pandas as pd

Answer = TypeVar("Answer")

YEARS = 30
"""Default length of the period, that of a climate normal (WMO Cg-17)."""

HALF_KM, HALF_M = 30.0, 200.0
"""Distance [km] and difference in height [m] that halve a station's score (common practice)."""

SPOT_KM, SPOT_M = 1.0, 50.0
"""Stations closer than this, in distance [km] and height [m], count as one (common practice)."""

WHAT_TO_DO = (
    "Use a file of your own (",
    Call("read_daily", ("path",)),
    "), the invented sample (",
    Call("sample"),
    "), or try again when the network is back.",
)

CREDIT = "Meteostat (https://meteostat.net)"
"""Credit for the list of stations and their data, besides the providers."""

LICENCE = "CC BY 4.0, https://creativecommons.org/licenses/by/4.0/"
"""Licence of the data from meteostat (its licence page)."""

_NEEDED = {"tmin", "tmax"}  # variables that a record must have


def with_list(where: Path, retry_policy: RetryPolicy, work: Callable[[Path], Answer]) -> Answer:
    """Call `work` with the list of stations.

    It is downloaded if necessary. If that fails, an old one is used; a damaged one is replaced.

    Raises
    ------
    StationError
        If there is no list and none could be downloaded.
    """
    import pandas as pd

    fault = ""
    for _ in range(2):
        path, fault = station_list(where, retry_policy=retry_policy)
        if not path.exists():
            break
        if fault:
            text = f"The list of stations could not be refreshed ({fault}); the older one is used."
            warnings.warn(text, stacklevel=3)
        try:
            return work(path)
        except (sqlite3.DatabaseError, pd.errors.DatabaseError) as error:
            fault = f"it was damaged: {error}"
            path.unlink(missing_ok=True)
    msg = f"The list of stations could not be downloaded: {fault}. "
    raise StationError(msg, *WHAT_TO_DO)


def find_stations(
    garden: Garden,
    *,
    first_year: int | None = None,
    last_year: int | None = None,
    radius_km: float = 50.0,
    where: str | Path | None = None,
    retry_policy: RetryPolicy = RETRY_POLICY,
    units: Units = "C",
) -> pd.DataFrame:
    """Stations around a garden, the best first.

    Parameters
    ----------
    garden : Garden
        The place; without its elevation, differences in height are ignored.
    first_year, last_year : int, optional
        The period of interest. Default: the last thirty whole years.
    radius_km : float
        Search radius. [km]
    where : path, optional
        Folder of the local store, which keeps the list of stations.
    retry_policy : RetryPolicy
        Timeouts and attempts.
    units : {"C", "F"}
        Units of the reasons: kilometres and metres, or miles and feet.

    Returns
    -------
    DataFrame, index station_id
        ``name``, ``country``, ``region``, ``latitude``, ``longitude``, ``elevation`` [m],
        ``distance_km``, ``height_difference_m`` (station minus garden), first and last year of each
        variable (``tmin_first``, ``tmin_last``, ...), ``share_present`` (of the days of the period,
        by the inventory; the smaller of minimum and maximum), ``same_spot`` (other stations there),
        ``score``, and the ``reason`` in words. The attributes have ``credit`` and ``licence``.

    Raises
    ------
    StationError
        If no station lies within the radius, or the list of stations could not be downloaded.

    Notes
    -----
    The score is the square of the share present (so that half a record counts a quarter), times 1 /
    (1 + distance / 30 km), times 1 / (1 + height difference / 200 m): common practice. The
    inventory may lag behind the data.

    Examples
    --------
    >>> import climwin as cw
    >>> garden = cw.Garden("Our plot", 46.1, 7.2, 640)
    >>> cw.find_stations(garden)[["name", "reason"]]  # doctest: +SKIP
    """
    check_choice("units", units, ("C", "F"))
    period = whole_years(first_year, last_year)

    def ask(path: Path) -> tuple[pd.DataFrame, pd.DataFrame]:
        near = stations_within(path, garden.latitude, garden.longitude, radius_km)
        return near, inventory(path, list(near.index))

    near, available = with_list(cache.folder(where), retry_policy, ask)
    if near.empty:
        msg = (
            f"No station lies within {as_typed(radius_km)} km of {garden.full_name!r}. Look "
            "further: "
        )
        further = Call("find_stations", ("garden", Parameter("radius_km", round(2 * radius_km))))
        raise StationError(msg, further, ". ", *WHAT_TO_DO)
    table = _scored(near, available, garden, period)
    table = _merge_shared_spots(table.sort_values("score", ascending=False, kind="stable"))
    table["reason"] = [_reason(row, period, units) for row in table.to_dict("records")]
    table.attrs = {"credit": CREDIT, "licence": LICENCE}
    return table


def whole_years(first_year: int | None, last_year: int | None) -> tuple[int, int]:
    """First and last year of a period; by default the last thirty whole years.

    Raises
    ------
    ValueError
        If it ends before it begins.
    """
    last = last_year or dt.datetime.now(dt.UTC).year - 1
    first = first_year or last - YEARS + 1
    if first > last:
        msg = f"The period must not end before it begins, got {first} to {last}."
        name = "last_year" if first_year is None else "first_year"
        raise InputError(msg, parameter=name)
    return first, last


def _scored(
    near: pd.DataFrame, available: pd.DataFrame, garden: Garden, period: tuple[int, int]
) -> pd.DataFrame:
    """The table of stations with distance, height, years available and score."""
    import pandas as pd

    table = near.rename_axis("station_id").drop(columns=["timezone", "distance"])
    table["distance_km"] = near["distance"] / 1000
    height = np.nan if garden.elevation is None else garden.elevation
    table["height_difference_m"] = pd.to_numeric(near["elevation"]) - height
    shares = []
    for name in COLUMNS:
        of_variable = available.index.get_level_values("variable") == name
        spans = available[of_variable].droplevel("variable").reindex(table.index)
        for end in ("first", "last"):
            table[f"{name}_{end}"] = pd.to_datetime(spans[end]).dt.year.astype("Int64")
        if name in _NEEDED:
            shares.append(_share_present(spans, period))
    table["share_present"] = np.min(shares, axis=0)
    table["score"] = (
        table["share_present"] ** 2
        / (1 + table["distance_km"] / HALF_KM)
        / (1 + table["height_difference_m"].abs().fillna(0) / HALF_M)
    )
    return table


def _share_present(spans: pd.DataFrame, period: tuple[int, int]) -> np.ndarray:
    """Share of the period's days with a variable, by the inventory; 0 if it has none."""
    start, end = (np.datetime64(f"{year}-01-01") for year in (period[0], period[1] + 1))
    first = spans["first"].to_numpy("datetime64[D]")
    last = spans["last"].to_numpy("datetime64[D]") + ONE_DAY
    days = (np.minimum(last, end) - np.maximum(first, start)).astype(float)
    days[np.isnat(first)] = 0
    complete = spans["share"].fillna(1.0).to_numpy(float)
    return np.clip(days / (end - start).astype(float), 0, 1) * complete


def _merge_shared_spots(table: pd.DataFrame) -> pd.DataFrame:
    """Merge stations at the same spot into the row of the first, which names the others."""
    places = table[["latitude", "longitude", "elevation"]].to_numpy(float)
    names_at: dict[int, list[str]] = {}  # by the row of the first station at the spot
    for row, place in enumerate(places):
        spot = next((first for first in names_at if _same_spot(place, places[first])), row)
        names_at.setdefault(spot, []).append(str(table.index[row]))
    others = [", ".join(names[1:]) for names in names_at.values()]
    return table.iloc[[*names_at]].assign(same_spot=others)


def _same_spot(one: np.ndarray, other: np.ndarray) -> bool:
    """Whether two places (latitude, longitude, elevation) count as one.

    An unknown height does not make them different.
    """
    close = distance_km(one[0], one[1], other[0], other[1]) <= SPOT_KM
    height_differs = abs(one[2] - other[2]) > SPOT_M
    return bool(close and not height_differs)


def _reason(row: dict[Any, Any], period: tuple[int, int], units: Units) -> str:
    """Why a station stands where it does in the table, in words."""
    first, last = period
    words = [f"{distance(row['distance_km'], units)} away"]
    height = float(row["height_difference_m"])
    if abs(height) < 0.5:
        words.append("at the same height")
    elif not np.isnan(height):
        words.append(f"{height_text(height, units)} {'higher' if height > 0 else 'lower'}")
    if row["share_present"] > 0:
        record = f"record {row['tmin_first']} to {row['tmin_last']}"
        words.append(f"{percent(row['share_present'])} of the days of {first} to {last} ({record})")
    else:
        words.append(f"no minimum and maximum of {first} to {last} in its inventory")
    if row["same_spot"]:
        words.append(f"at the same spot: {row['same_spot']}")
    return "; ".join(words)
