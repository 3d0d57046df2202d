"""Station history, kept: what the local store has, and the years still to be fetched."""

from __future__ import annotations

import datetime as dt
import warnings
from collections.abc import Callable, Mapping
from dataclasses import replace
from importlib.metadata import version
from itertools import groupby
from pathlib import Path
from typing import Any

import numpy as np
import xarray as xr

from climwin.core.schema import Garden, Station, StationError
from climwin.core.seasons import ONE_DAY, every_day
from climwin.stations import cache, provider
from climwin.stations.download import ABSENT, FAILED, LAG, Span, bring
from climwin.stations.provider import PATIENCE, Patience
from climwin.stations.search import (
    CREDIT,
    LICENCE,
    WHAT_TO_DO,
    find_stations,
    whole_years,
    with_list,
)

Progress = Callable[[int, int, str], None]
"""Told how many years are done, of how many, and what came last."""

FRESH = np.timedelta64(1, "D")
"""Age at which a running year, or one without a file, is asked for anew."""


def fetch_history(
    place: Garden | Station | str,
    first_year: int | None = None,
    last_year: int | None = None,
    *,
    where: str | Path | None = None,
    progress: Progress | None = None,
    patience: Patience = PATIENCE,
) -> xr.Dataset:
    """Daily history of the best station near a garden, or of a station: kept, or fetched and kept.

    Parameters
    ----------
    place : Garden, Station or str
        A garden is served by the first of `stations`; a string is a station's identifier.
    first_year, last_year : int, optional
        Calendar years; unless told, from thirty whole years ago until yesterday.
    where : path, optional
        Folder of the local store; else ``CLIMWIN_DATA``, else the user's data folder.
    progress : callable, optional
        Called as ``progress(done, total, text)`` after each year that is fetched.
    patience : Patience
        Timeouts and attempts.

    Returns
    -------
    Dataset, dims (time)
        ``tmin, tmax, tmean`` [degC] and ``precip`` [mm], every day from the first year's first to
        the last year's last, or yesterday: observed values only, missing where there is none.
        The attributes say what it rests on: ``missing_years`` and ``short_years`` with reasons,
        ``model_days`` left out and ``mixed_source_days`` by year, ``sources``, ``credit``,
        ``licence``, ``changes``, ``day_boundary``, ``retrieved_at`` and ``age_days``.

    Raises
    ------
    StationError
        If there is no station, or nothing at all could be had of it.

    Warns
    -----
    UserWarning
        Where years are missing or short, or what is kept could not be refreshed.

    Notes
    -----
    Years that are over are kept for good once they came whole, or twice alike; the running year
    is asked for again after a day. What came stays when something fails: call again to go on.
    """
    folder, this_year = cache.folder(where), _now().year
    last = min(last_year or this_year, this_year)
    first, last = whole_years(first_year or whole_years(None, last_year)[0], last)
    years = range(first, last + 1)
    station, record, note = _chosen(place, years, folder, patience)
    faults: dict[int, str] = {}
    if _wanted(record, years):
        with cache.locked(station.id, folder):
            shelf = _Shelf(station, folder, progress)
            shelf.fill(years, patience)
        record, faults = shelf.record, shelf.faults
    return _served(record, station, years, faults, note)


def _now() -> dt.datetime:
    return dt.datetime.now(dt.UTC).replace(tzinfo=None)


# --- which station ------------------------------------------------------------------------


def _chosen(
    place: Garden | Station | str, years: range, folder: Path, patience: Patience
) -> tuple[Station, xr.Dataset | None, str]:
    """The station, what is kept of it, and why it was chosen."""
    if isinstance(place, Garden):
        return _best(place, years, folder, patience)
    if isinstance(place, Station):
        return place, cache.load(place.id, folder), ""
    record = cache.load(place, folder)
    if record is not None:
        return _station(place, {"name": record.attrs["station_name"]} | record.attrs), record, ""
    station = with_list(folder, patience, lambda path: provider.lookup(path, place))
    if station is None:
        msg = f"There is no station {place!r}. Find one: climwin.find_stations(garden)."
        raise StationError(msg)
    return station, None, ""


def _best(
    garden: Garden, years: range, folder: Path, patience: Patience
) -> tuple[Station, xr.Dataset | None, str]:
    """The station that serves a garden best."""
    table = find_stations(
        garden, first_year=years[0], last_year=years[-1], where=folder, patience=patience
    )
    row = table.iloc[0].to_dict()
    station = _station(str(table.index[0]), row)
    note = f"station {station.name} ({station.id}) chosen for {garden.name}: {row['reason']}"
    return station, cache.load(station.id, folder), note


def _station(station_id: str, facts: Mapping[Any, Any]) -> Station:
    """A station from a row of the table, or the attributes of a record."""
    height = float(facts.get("elevation", np.nan))
    return Station(
        station_id,
        str(facts["name"]),
        float(facts["latitude"]),
        float(facts["longitude"]),
        None if np.isnan(height) else height,
    )


def _span(station_id: str, folder: Path) -> Span | None:
    """First and last day of the daily minimum by the inventory, where a list is at hand."""
    path = folder / provider.LIST
    if not path.exists():
        return None
    held = provider.holdings(path, [station_id]).to_dict("index").get((station_id, "tmin"))
    return (held["first"].date(), held["last"].date()) if held else None


# --- what is kept -------------------------------------------------------------------------


def _wanted(record: xr.Dataset | None, years: range) -> list[int]:
    """Years that are not kept, or may have more by now."""
    if record is None:
        return [*years]
    year, status = record["year"].values, record["status"].values
    fetched = record["retrieved"].values.astype("datetime64[s]")
    age = np.datetime64(_now(), "s") - fetched
    closed = (fetched >= _new_year(year + 1) + np.timedelta64(LAG)) & (age > -FRESH)
    fresh = abs(age) < FRESH  # fetched in days to come: the clock was wrong, and is or was set back
    done = np.where(closed & (status != ABSENT), True, fresh) & (status != FAILED)
    kept = set(year[done].tolist())
    return [y for y in years if y not in kept]


def _new_year(year: np.ndarray) -> np.ndarray:
    """1 January of each year."""
    return (year - 1970).astype("datetime64[Y]").astype("datetime64[s]")


class _Shelf:
    """The record of one station while years are added to it."""

    def __init__(self, station: Station, folder: Path, progress: Progress | None) -> None:
        self.station, self.folder, self.progress = station, folder, progress
        self.record = cache.load(station.id, folder)
        self.faults: dict[int, str] = {}
        self.total = self.done = 0

    def fill(self, years: range, patience: Patience) -> None:
        """Have the years brought that are still wanted."""
        wanted = _wanted(self.record, years)
        self.total = len(wanted)
        if wanted and self.record is not None and np.isin(wanted, self.record["year"]).all():
            patience = replace(patience, attempts=2)  # nothing but a refresh: do not insist
        span = _span(self.station.id, self.folder) if wanted else None
        bring(self.station, wanted, self.keep, span=span, now=_now(), patience=patience)

    def keep(self, piece: xr.Dataset) -> None:
        """Put a year into the record and the record into the store, if that is a gain."""
        year, rows = int(piece["year"][0]), int(piece["rows"][0])
        fault, failed = str(piece["fault"].values[0]), int(piece["status"][0]) == FAILED
        before = self._rows(year)
        if before > rows:
            self.faults[year] = f"{fault or f'{rows} days came'}; the {before} days of before serve"
        elif failed and not rows:
            self.faults[year] = fault
        else:
            self.record = _described(_joined(self.record, piece), self.station)
            cache.save(self.record, self.folder)
        self.done += 1
        if self.progress:
            self.progress(self.done, self.total, f"{year}: {fault or f'{rows} days'}")

    def _rows(self, year: int) -> int:
        if self.record is None or year not in self.record["year"]:
            return 0
        return int(self.record["rows"].sel(year=year))


def _joined(record: xr.Dataset | None, piece: xr.Dataset) -> xr.Dataset:
    """The record with one year put in, or put in anew."""
    if record is None:
        return piece
    year = piece["year"].values[0]
    rest = record.isel(year=record["year"].values != year)
    rest = rest.isel(time=rest["time"].values.astype("datetime64[Y]").astype(int) + 1970 != year)
    days = xr.concat([rest[[*cache.VALUES]], piece[[*cache.VALUES]]], "time").sortby("time")
    ledger = xr.concat([part.drop_dims("time") for part in (rest, piece)], "year").sortby("year")
    return days.merge(ledger)


def _described(record: xr.Dataset, station: Station) -> xr.Dataset:
    """The record with what goes with it wherever it goes."""
    words = (text for text in record["sources"].values.tolist() if text)
    sources = sorted({word for text in words for word in text.split()})
    credit = ", ".join([CREDIT, *provider.credited(sources)])
    facts: dict[str, Any] = {
        "title": f"Daily history of {station.name} ({station.id})",
        "source": f"Meteostat daily data of station {station.id}, sources: {', '.join(sources)}",
        "history": f"fetched year by year through meteostat {version('meteostat')}",
        "credit": credit,
        "licence": LICENCE,
        "changes": "only observed values kept, model-filled and future days left out",
        "meteostat_version": version("meteostat"),
        "station_id": station.id,
        "station_name": station.name,
        "latitude": station.latitude,
        "longitude": station.longitude,
        "elevation": station.elevation,
    }
    return record.assign_attrs({k: v for k, v in facts.items() if v is not None})


# --- what is served -----------------------------------------------------------------------


def _served(
    record: xr.Dataset | None, station: Station, years: range, faults: dict[int, str], note: str
) -> xr.Dataset:
    """The days asked for, with everything that is to be said about them."""
    said = _said(record, years, faults)
    daily = None if record is None else _cut(record, years)
    if daily is None or not np.isfinite(daily[["tmin", "tmax"]].to_array()).any():
        msg = (
            f"No history of {station.name} ({station.id}) could be had. "
            f"{said['missing_years'] or 'Not a day of it is over yet'}. {WHAT_TO_DO}"
        )
        raise StationError(msg)
    age = "today" if not said["age_days"] else f"{said['age_days']} days before it was used"
    fetched = f"last fetched {age}, {said['retrieved_at'][:10]}"
    boundary = f"day boundary {said['day_boundary']}"
    story = "\n".join(filter(None, (daily.attrs["history"], note, fetched, boundary)))
    _warn(daily.attrs["title"], said)
    return daily.assign_attrs(said, history=story)


def _cut(record: xr.Dataset, years: range) -> xr.Dataset:
    """Every day of the years, up to yesterday."""
    end = min(np.datetime64(f"{years[-1]}-12-31"), np.datetime64(_now(), "D") - ONE_DAY)
    days = every_day(np.datetime64(f"{years[0]}-01-01"), end)
    values, times = record.drop_dims("year"), record["time"].values
    start = int(np.searchsorted(times, days[0])) if len(days) else 0
    held = slice(start, start + len(days))
    if np.array_equal(times[held], days):  # no year in between is missing
        return values.isel(time=held)
    return values.reindex(time=days)


def _said(record: xr.Dataset | None, years: range, faults: Mapping[int, str]) -> dict[str, Any]:
    """What is to be said about the years asked for."""
    if record is None:
        return {"missing_years": _listed(faults)}
    inside = np.isin(record["year"].values, years)
    year = record["year"].values[inside].tolist()

    def by_year(name: str) -> dict[int, Any]:
        told = zip(year, record[name].values[inside].tolist(), strict=True)
        return {y: value for y, value in told if value}

    def counted(name: str) -> str:
        return _listed({y: f"{days}" for y, days in by_year(name).items()})

    rows, fault, mixed = by_year("rows"), by_year("fault"), by_year("mixed_days")
    times = record["retrieved"].values[inside].astype("datetime64[s]").tolist()
    fetched = max(times, default=dt.datetime.min)
    return {
        "missing_years": _listed(
            {y: f for y, f in (fault | dict(faults)).items() if y not in rows}
        ),
        "short_years": _listed({y: f for y, f in fault.items() if y in rows}),
        "not_refreshed": _listed({y: f for y, f in faults.items() if y in rows}),
        "model_days": counted("model_days"),
        "future_days": counted("future_days"),
        "unsourced_days": counted("unsourced_days"),
        "mixed_source_days": counted("mixed_days"),
        "sources": _listed(by_year("sources")),
        "day_boundary": f"as each source has it; {sum(mixed.values())} days mix sources, which can "
        "shift a freeze by a day",
        "retrieved_at": f"{fetched.isoformat()}Z",
        "age_days": max((_now() - fetched).days, 0),
    }


def _warn(title: str, said: Mapping[str, Any]) -> None:
    """Say aloud what is missing; it stands in the attributes as well."""
    named = ("missing_years", "short_years", "not_refreshed")
    told = [f"{name.replace('_', ' ')}: {said[name]}" for name in named if said[name]]
    if told:
        warnings.warn(f"{title}: {'. '.join(told)}.", stacklevel=4)


def _listed(told: Mapping[int, str]) -> str:
    """Years and what is to be said of each; neighbours of which the same is said, together."""
    parts = []
    numbered = enumerate(sorted(told.items()))
    for (_, text), run in groupby(numbered, key=lambda item: (item[1][0] - item[0], item[1][1])):
        years = [year for _, (year, _) in run]
        parts.append(f"{'-'.join(map(str, dict.fromkeys((years[0], years[-1]))))}: {text}")
    return "; ".join(parts)
