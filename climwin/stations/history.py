"""Station history from the local store, with missing years downloaded and values checked."""

from __future__ import annotations

import contextlib
import datetime as dt
import shutil
import warnings
from collections.abc import Callable, Iterable, Mapping
from dataclasses import replace
from importlib.metadata import version
from itertools import groupby
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
import xarray as xr

from climwin.core.errors import Attribute, Call, InputError, Parameter, StationError
from climwin.core.formatting import as_typed, counted
from climwin.core.schema import Garden, Station, Units
from climwin.core.seasons import ONE_DAY, every_day
from climwin.io.files import reserve_name
from climwin.io.plausibility import departures
from climwin.io.quality import quality_control
from climwin.stations import cache, meteostat_client
from climwin.stations.cache import COMPLETE, DOUBTFUL, FAILED, SHORT
from climwin.stations.download import LAG, LONGEST_HOLE, Span, download_years, longest_hole
from climwin.stations.meteostat_client import RETRY_POLICY, RetryPolicy
from climwin.stations.search import (
    CREDIT,
    LICENCE,
    WHAT_TO_DO,
    find_stations,
    whole_years,
    with_list,
)

if TYPE_CHECKING:
    import pandas as pd

Progress = Callable[[int, int, str], None]
"""Called with the number of years done, their total, and the latest result in words."""

FRESH = np.timedelta64(1, "D")
"""Age at which the current year, or one without a file, is requested again."""

RECHECK = np.timedelta64(30, "D")
"""Age at which a past year that is short or doubtful is requested again (common practice)."""

CHECKS = 1
"""Which checks the years of a stored history have met, kept with it. Raise this when a check is
added: then each history is checked again when it is next asked for."""

DOUBTFUL_SHARE = 0.02
"""A year is stored as doubtful if more than this share of its minima and maxima fail
`quality_control` (common practice)."""


def fetch_history(
    place: Garden | Station | str,
    first_year: int | None = None,
    last_year: int | None = None,
    *,
    where: str | Path | None = None,
    progress: Progress | None = None,
    retry_policy: RetryPolicy = RETRY_POLICY,
    units: Units = "C",
) -> xr.Dataset:
    """Daily history of a station, or of the best one near a garden, with checked values.

    Years in the local store are taken from there; the others are downloaded and stored.

    Parameters
    ----------
    place : Garden, Station or str
        For a garden, the first station of `find_stations` is taken; a string is a station's
        identifier.
    first_year, last_year : int, optional
        Calendar years. Default: the last thirty whole years and the current one until yesterday.
    where : path, optional
        Folder of the local store. Default: ``CLIMWIN_DATA``, else the user's data folder.
    progress : callable, optional
        Called as ``progress(done, total, text)`` after each downloaded year.
    retry_policy : RetryPolicy
        Timeouts and attempts.
    units : {"C", "F"}
        Units in which ``history`` gives distances and heights: kilometres and metres, or miles and
        feet.

    Returns
    -------
    Dataset, dims (time)
        ``tmin, tmax, tmean`` [degC] and ``precip`` [mm] on every day of the years until yesterday,
        observed values only; for each of them, which values were set aside and why, see
        `quality_control`. The attributes say where they come from: ``missing_years``,
        ``short_years`` and ``doubtful_years`` with reasons, ``model_days`` left out and
        ``mixed_source_days`` by year, ``sources``, ``credit``, ``licence``, ``changes``,
        ``day_boundary``, ``retrieved_at`` and ``age_days``. ``years_in_doubt`` are the doubtful
        years alone, with spaces between them; `departures` names them first.

    Raises
    ------
    StationError
        If there is no station, or none of its history could be fetched.

    Warns
    -----
    UserWarning
        If years are missing or short, or stored ones could not be refreshed.

    See Also
    --------
    find_stations : The stations around a garden.
    read_daily : A record from a file.

    Notes
    -----
    Past years are stored for good once they are complete; the current year is requested again after
    a day. A year that is short, or of which more than 2 % of the values fail `quality_control`, is
    requested again after 30 days, see `check_store` and `refresh_history`. The checks compare
    years, so a stored year may become doubtful when others join it. If something fails, what was
    fetched is kept: call again to resume.

    Examples
    --------
    >>> import climwin as cw
    >>> garden = cw.Garden("Our plot", 46.1, 7.2, 640)
    >>> daily = cw.fetch_history(garden, 1991, 2020)  # doctest: +SKIP
    """
    folder, this_year = cache.folder(where), _now().year
    last = min(last_year or this_year, this_year)
    first, last = whole_years(first_year or whole_years(None, last_year)[0], last)
    years = range(first, last + 1)
    station, record, note = _choose_station(place, years, folder, retry_policy, units)
    faults: dict[int, str] = {}
    # An unchecked history was killed on its way, or comes from an earlier version.
    if record is not None and not _is_checked(record):
        record = _checked(record)
    if _years_to_download(record, years):
        with cache.locked(station.id, folder):
            update = _RecordUpdate(station, folder, progress)
            update.run(years, retry_policy)
        record, faults = update.record, update.faults
    return quality_control(_select(record, station, years, faults, note))


NEIGHBOURS = 6
"""Number of stations that are fetched to fill a station's gaps (our choice)."""
NEIGHBOURS_WITHIN_KM = 150.0
"""Their largest distance: farther away, days are rarely similar enough (our choice). [km]"""


def fetch_neighbours(
    daily: xr.Dataset,
    *,
    most: int = NEIGHBOURS,
    radius_km: float = NEIGHBOURS_WITHIN_KM,
    where: str | Path | None = None,
    progress: Progress | None = None,
    retry_policy: RetryPolicy = RETRY_POLICY,
) -> list[xr.Dataset]:
    """Histories of the stations around the station of a record, for the same years.

    Parameters
    ----------
    daily : Dataset, dims (time)
        From `fetch_history`, or any record with ``latitude`` and ``longitude``; with its
        ``elevation``, stations at a similar height come first.
    most : int
        Largest number of stations.
    radius_km : float
        Search radius. [km]
    where, retry_policy
        As for `fetch_history`.
    progress : callable, optional
        Called as ``progress(done, total, text)`` after each station.

    Returns
    -------
    list of Dataset
        In the order of `find_stations`, best first. Stations without a history are left out.

    Raises
    ------
    ValueError
        If the record has no position, or `most` is less than 1.
    StationError
        If no other station within the radius has a history.

    See Also
    --------
    join_stations : Fills the record's gaps from them.

    Examples
    --------
    >>> import climwin as cw
    >>> daily = cw.fetch_history("10637", 1991, 2020)  # doctest: +SKIP
    >>> joined = cw.join_stations(daily, cw.fetch_neighbours(daily))  # doctest: +SKIP
    """
    if most < 1:
        raise InputError(Parameter("most"), f" must be 1 or more, got {most}.")
    attrs = daily.attrs
    if not {"latitude", "longitude"} <= {*attrs}:
        msg = "The record does not say where its station is. Give its degrees north in "
        raise InputError(msg, Attribute("latitude"), ", and its longitude likewise.")
    height = float(attrs.get("elevation", np.nan))
    here = Garden(
        str(attrs.get("station_name") or "the station"),
        float(attrs["latitude"]),
        float(attrs["longitude"]),
        None if np.isnan(height) else height,
    )
    year = np.asarray(daily["time"].dt.year)
    first, last = int(year.min()), int(year.max())
    table = find_stations(
        here,
        first_year=first,
        last_year=last,
        radius_km=radius_km,
        where=where,
        retry_policy=retry_policy,
    )
    ids = [str(each) for each in table.index if each != attrs.get("station_id")][:most]
    out = []
    for number, each in enumerate(ids, start=1):
        with contextlib.suppress(StationError):
            out.append(fetch_history(each, first, last, where=where, retry_policy=retry_policy))
        if progress is not None:
            progress(number, len(ids), each)
    if not out:
        msg = f"No other station within {as_typed(radius_km)} km of {here.name} has a history. "
        raise StationError(msg, *WHAT_TO_DO)
    return out


def doubtful_years(record: xr.Dataset) -> dict[int, str]:
    """Doubtful years of a stored record, and why they are doubtful.

    A year is doubtful if too many of its extremes were set aside, or if a check of the whole record
    (`departures`) names it: another unit, a copy of another year, seasons half a year off. A check
    that names most years tells something about the station, and fetching again would not help.

    Parameters
    ----------
    record : Dataset, dims (time, year)
        As stored.

    Returns
    -------
    dict of int to str
        Reasons by calendar year; a year that is sound is left out.
    """
    checked = quality_control(record[[*cache.VALUES]])
    of_day = _calendar_years(record)
    flagged = np.sum([checked[f"{name}_flag"].values > 0 for name in ("tmin", "tmax")], axis=0)
    values = np.sum([np.isfinite(record[name].values) for name in ("tmin", "tmax")], axis=0)
    out = {}
    for year in record["year"].values.tolist():
        bad, there = int(flagged[of_day == year].sum()), int(values[of_day == year].sum())
        if bad > DOUBTFUL_SHARE * there:
            out[year] = f"{bad} of {there} minima and maxima cannot be right"
    for departure in departures(checked):
        if 2 * len(departure.years) > record.sizes["year"]:
            continue
        for year in departure.years:
            out.setdefault(year, departure.evidence().rstrip("."))
    return out


def check_store(where: str | Path | None = None) -> pd.DataFrame:
    """Years in the local store that are incomplete or doubtful.

    Parameters
    ----------
    where : path, optional
        Folder of the local store; else ``CLIMWIN_DATA``, else the user's data folder.

    Returns
    -------
    DataFrame
        ``station_id``, ``name``, ``year``, ``status`` (``short``, ``absent``, ``failed`` or
        ``doubtful``), ``fault``, ``sources`` and ``retrieved`` (UTC), one row for each year.

    See Also
    --------
    refresh_history : Fetch such years again.

    Examples
    --------
    >>> import climwin as cw
    >>> cw.check_store()[["station_id", "year", "fault"]]  # doctest: +SKIP
    """
    import pandas as pd

    rows = []
    folder = cache.folder(where)
    for station_id in cache.station_ids(folder):
        record = cache.load(station_id, folder)
        if record is None:
            continue
        in_doubt = doubtful_years(record)
        has_hole = dict(zip(record["year"].values.tolist(), _has_hole(record), strict=True))
        for n, year in enumerate(record["year"].values.tolist()):
            status = int(record["status"][n])
            fault = str(record["fault"].values[n])
            if year in in_doubt:
                status, fault = DOUBTFUL, in_doubt[year]
            elif has_hole[year] and status == COMPLETE:
                status, fault = SHORT, "an extreme is missing for a month or more"
            if status != COMPLETE:
                rows.append(
                    {
                        "station_id": station_id,
                        "name": record.attrs.get("station_name", ""),
                        "year": year,
                        "status": cache.STATUS[status],
                        "fault": fault,
                        "sources": str(record["sources"].values[n]),
                        "retrieved": pd.Timestamp(record["retrieved"].values[n]),
                    }
                )
    columns = ["station_id", "name", "year", "status", "fault", "sources", "retrieved"]
    return pd.DataFrame(rows, columns=columns)


def refresh_history(
    station_id: str,
    years: Iterable[int] | None = None,
    *,
    where: str | Path | None = None,
    progress: Progress | None = None,
    retry_policy: RetryPolicy = RETRY_POLICY,
) -> Path:
    """Fetch years of a stored history again, and keep a copy of the old file.

    Parameters
    ----------
    station_id : str
        A station of the store.
    years : iterable of int, optional
        Calendar years. Default: all that `check_store` lists.
    where : path, optional
        Folder of the local store.
    progress : callable, optional
        As for `fetch_history`.
    retry_policy : RetryPolicy
        Timeouts and attempts.

    Returns
    -------
    Path
        The copy of the old file.

    Raises
    ------
    StationError
        If the station is not in the store, or if no year is given and none is doubtful.
    ValueError
        If a year is not in the store.

    Notes
    -----
    A year that has fewer days than the stored one does not replace it, unless it has more minima
    and maxima, or the stored year is doubtful and it is complete.

    Examples
    --------
    >>> import climwin as cw
    >>> cw.refresh_history("10637", [1994, 1995])  # doctest: +SKIP
    """
    folder = cache.folder(where)
    path = cache.stored_path(station_id, folder)
    with cache.locked(station_id, folder):
        record = cache.load(station_id, folder)
        if record is None:
            msg = f"Station {station_id} was damaged in the store. Fetch it again."
            raise StationError(msg)
        stored = record["year"].values.tolist()
        if years is None:
            table = check_store(folder)
            wanted = table.loc[table["station_id"] == station_id, "year"].tolist()
        else:
            wanted = sorted(set(years))
        unknown = [year for year in wanted if year not in stored]
        if unknown:
            msg = (
                f"The store has no {', '.join(map(str, unknown))} of station {station_id}; it has "
                f"{stored[0]} to {stored[-1]}. Fetch further years with "
            )
            call = Call("fetch_history", (Parameter("station", station_id),))
            raise InputError(msg, call, ".", parameter="years")
        if not wanted:
            msg = f"No year of station {station_id} is doubtful. Name the years to fetch again."
            raise StationError(msg, parameter="years")
        aside = reserve_name(path, f"before-{_now():%Y-%m-%d}", most=100)
        shutil.copyfile(path, aside)
        facts = record.attrs | {"name": record.attrs["station_name"]}
        update = _RecordUpdate(_station(station_id, facts), folder, progress)
        update.run(wanted, retry_policy, again=True)
    if update.faults:
        text = _list_years(update.faults)
        warnings.warn(f"Not refreshed: {text}.", stacklevel=2)
    return aside


def _now() -> dt.datetime:
    return dt.datetime.now(dt.UTC).replace(tzinfo=None)


# --- which station ------------------------------------------------------------------------


def _choose_station(
    place: Garden | Station | str,
    years: range,
    folder: Path,
    retry_policy: RetryPolicy,
    units: Units,
) -> tuple[Station, xr.Dataset | None, str]:
    """The station, its record in the store, and why it was chosen."""
    if isinstance(place, Garden):
        return _best_station(place, years, folder, retry_policy, units)
    if isinstance(place, Station):
        return place, cache.load(place.id, folder), ""
    record = cache.load(place, folder)
    if record is not None:
        facts = {"name": record.attrs["station_name"]} | record.attrs
        return _station(place, facts), record, ""
    station = with_list(
        folder, retry_policy, lambda path: meteostat_client.find_station(path, place)
    )
    if station is None:
        msg = f"There is no station {place!r}. Find one with "
        call = Call("find_stations", ("garden",))
        raise StationError(msg, call, ".", parameter="station")
    return station, None, ""


def _best_station(
    garden: Garden, years: range, folder: Path, retry_policy: RetryPolicy, units: Units
) -> tuple[Station, xr.Dataset | None, str]:
    """The station that serves a garden best."""
    table = find_stations(
        garden,
        first_year=years[0],
        last_year=years[-1],
        where=folder,
        units=units,
        retry_policy=retry_policy,
    )
    row = table.iloc[0].to_dict()
    station = _station(str(table.index[0]), row)
    note = f"station {station.name} ({station.id}) chosen for {garden.full_name}: {row['reason']}"
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


def _inventory_span(station_id: str, folder: Path) -> Span | None:
    """First and last day of the daily minimum in the inventory, if the list is stored."""
    path = folder / meteostat_client.LIST_FILE
    if not path.exists():
        return None
    rows = meteostat_client.inventory(path, [station_id]).to_dict("index")
    tmin = rows.get((station_id, "tmin"))
    return (tmin["first"].date(), tmin["last"].date()) if tmin else None


# --- what is stored, and what must be fetched ---------------------------------------------


def _years_to_download(record: xr.Dataset | None, years: Iterable[int]) -> list[int]:
    """Years that are not in the store, or may have more days by now."""
    if record is None:
        return [*years]
    year, status = record["year"].values, record["status"].values
    fetched = record["retrieved"].values.astype("datetime64[s]")
    age = np.datetime64(_now(), "s") - fetched
    # If a year was fetched "in the future", the clock was wrong then or is wrong now: it counts as
    # fresh within a day either way, and never as closed.
    fresh = abs(age) < FRESH
    closed = (fetched >= _new_year(year + 1) + np.timedelta64(LAG)) & (age > -FRESH)
    status = np.where(_has_hole(record), SHORT, status)
    waits = closed & np.isin(status, (SHORT, DOUBTFUL)) & (age < RECHECK)
    settled = (closed & (status == COMPLETE)) | waits | (fresh & (status != FAILED))
    settled_years = set(year[settled].tolist())
    return [y for y in years if y not in settled_years]


def _has_hole(record: xr.Dataset) -> np.ndarray:
    """Years whose stored values lack an extreme, or a month of one, whatever their status.

    Days left out as model-filled do not count, because fetching again would not help.
    """
    of_day = _calendar_years(record)
    present = {name: np.isfinite(record[name].values) for name in ("tmin", "tmax")}
    out = []
    for year, modelled in zip(record["year"].values, record["model_days"].values, strict=True):
        days = {name: np.flatnonzero(there[of_day == year]) for name, there in present.items()}
        lacks_one = any(len(own) == 0 for own in days.values()) and any(map(len, days.values()))
        holes = [
            longest_hole(present[name][of_day == year][own[0] : own[-1] + 1])
            for name, own in days.items()
            if len(own)
        ]
        out.append(not modelled and (lacks_one or max(holes, default=0) > LONGEST_HOLE))
    return np.array(out, dtype=bool)


def _new_year(year: np.ndarray) -> np.ndarray:
    """1 January of each year."""
    return (year - 1970).astype("datetime64[Y]").astype("datetime64[s]")


class _RecordUpdate:
    """The record of one station while years are added to it."""

    def __init__(self, station: Station, folder: Path, progress: Progress | None) -> None:
        self.folder, self.progress = folder, progress
        record = cache.load(station.id, folder)
        known = record.attrs.get("station_name") if record is not None else None
        # A list of stations may give no more than the identifier.
        self.station = (
            replace(station, name=known) if known and station.name == station.id else station
        )
        self.record = record if record is None or _is_checked(record) else _checked(record)
        self.faults: dict[int, str] = {}
        self.total = self.done = 0

    def run(self, years: Iterable[int], retry_policy: RetryPolicy, *, again: bool = False) -> None:
        """Download the missing years, or all if `again`; store each as it arrives."""
        pending = [*years] if again else _years_to_download(self.record, years)
        self.total = len(pending)
        if pending and self.record is not None and np.isin(pending, self.record["year"]).all():
            retry_policy = replace(retry_policy, attempts=2)  # only a refresh, so fewer attempts
        span = _inventory_span(self.station.id, self.folder) if pending else None
        download_years(
            self.station, pending, self.add, span=span, now=_now(), retry_policy=retry_policy
        )
        if self.record is not None and not _is_checked(self.record):
            self.record = _checked(self.record)
            cache.save(self.record, self.folder)

    def add(self, came: xr.Dataset) -> None:
        """Add a year to the record and store it, unless the stored year is the better one."""
        year, rows = int(came["year"][0]), int(came["rows"][0])
        fault, failed = str(came["fault"].values[0]), int(came["status"][0]) == FAILED
        before = self._stored_rows(year)
        if before > rows and not self._is_better(came, year):
            came_now = fault or f"{counted(rows, 'day')} came"
            self.faults[year] = f"{came_now}; the {counted(before, 'day')} of before serve"
        elif failed and not rows:
            self.faults[year] = fault
        else:
            self.record = _with_attributes(_with_year(self.record, came), self.station)
            cache.save(self.record, self.folder)
        self.done += 1
        if self.progress:
            self.progress(self.done, self.total, f"{year}: {fault or counted(rows, 'day')}")

    def _is_better(self, came: xr.Dataset, year: int) -> bool:
        """Whether a year of fewer days is still the better one.

        It is if it has more minima and maxima, or if it is complete and the stored one doubtful.
        """
        assert self.record is not None  # it has the year
        stored = self.record.isel(time=_calendar_years(self.record) == year)
        is_doubtful = int(self.record["status"].sel(year=year)) == DOUBTFUL
        is_complete = int(came["status"][0]) == COMPLETE
        return (is_doubtful and is_complete) or _extremes(came) > _extremes(stored)

    def _stored_rows(self, year: int) -> int:
        if self.record is None or year not in self.record["year"]:
            return 0
        return int(self.record["rows"].sel(year=year))


def _is_checked(record: xr.Dataset) -> bool:
    """Whether a stored record has met today's checks since its last year came."""
    return bool(record.attrs.get("checks") == CHECKS)


def _checked(record: xr.Dataset) -> xr.Dataset:
    """The record with its doubtful years marked.

    All of its years are looked at, not only those that have just come: a year that was stored
    first, by itself, can only be judged beside the others.
    """
    faults = doubtful_years(record)
    year = record["year"].values
    is_doubtful = np.isin(year, [*faults]) & np.isin(record["status"], (COMPLETE, SHORT))
    texts = [
        "; ".join(filter(None, (str(fault), faults[each]))) if is_new else str(fault)
        for each, fault, is_new in zip(
            year.tolist(), record["fault"].values, is_doubtful, strict=True
        )
    ]
    out = record.assign_attrs(checks=CHECKS)
    out["status"] = "year", np.where(is_doubtful, DOUBTFUL, record["status"])
    out["fault"] = "year", np.array(texts, dtype=object)
    return out


def _calendar_years(record: xr.Dataset) -> np.ndarray:
    """Calendar year of each day."""
    return record["time"].values.astype("datetime64[Y]").astype(int) + 1970


def _extremes(record: xr.Dataset) -> int:
    """Number of minima and maxima."""
    return sum(int(np.isfinite(record[name].values).sum()) for name in ("tmin", "tmax"))


def _with_year(record: xr.Dataset | None, came: xr.Dataset) -> xr.Dataset:
    """The record with one year added, or replaced; it is unchecked then."""
    if record is None:
        return came
    year = came["year"].values[0]
    rest = record.isel(year=record["year"].values != year)
    rest = rest.isel(time=_calendar_years(rest) != year)
    days = xr.concat([rest[[*cache.VALUES]], came[[*cache.VALUES]]], "time").sortby("time")
    by_year = xr.concat([part.drop_dims("time") for part in (rest, came)], "year").sortby("year")
    return days.merge(by_year)


def _with_attributes(record: xr.Dataset, station: Station) -> xr.Dataset:
    """The record with title, source, licence and place."""
    sources = sorted({word for text in record["sources"].values.tolist() for word in text.split()})
    credit = ", ".join([CREDIT, *meteostat_client.credits_for(sources)])
    attributes: dict[str, Any] = {
        "title": f"Daily history of {station.name} ({station.id})",
        "source": f"Meteostat daily data of station {station.id}, sources: {', '.join(sources)}",
        "history": f"fetched year by year through meteostat {version('meteostat')}",
        "credit": credit,
        "licence": LICENCE,
        "changes": "only observed values kept, model-filled and future days left out",
        "meteostat_version": version("meteostat"),
        "checks": 0,
        "station_id": station.id,
        "station_name": station.name,
        "latitude": station.latitude,
        "longitude": station.longitude,
        "elevation": station.elevation,
    }
    return record.assign_attrs({k: v for k, v in attributes.items() if v is not None})


# --- what is returned ---------------------------------------------------------------------


def _select(
    record: xr.Dataset | None, station: Station, years: range, faults: dict[int, str], note: str
) -> xr.Dataset:
    """The days of these years, with the facts about their download."""
    facts = _download_facts(record, years, faults)
    daily = None if record is None else _every_day_of(record, years)
    if daily is None or not np.isfinite(daily[["tmin", "tmax"]].to_array()).any():
        msg = (
            f"No history of {station.name} ({station.id}) could be fetched. "
            f"{facts['missing_years'] or 'None of its days is over yet'}. "
        )
        raise StationError(msg, *WHAT_TO_DO)
    days_old = int(facts["age_days"])
    age = f"{counted(days_old, 'day')} before it was used" if days_old else "today"
    fetched = f"last fetched {age}, {facts['retrieved_at'][:10]}"
    boundary = f"day boundary {facts['day_boundary']}"
    story = "\n".join(filter(None, (daily.attrs["history"], note, fetched, boundary)))
    _warn(daily.attrs["title"], facts)
    return daily.assign_attrs(facts, history=story)


def _every_day_of(record: xr.Dataset, years: range) -> xr.Dataset:
    """Every day of the years, up to yesterday."""
    end = min(np.datetime64(f"{years[-1]}-12-31"), np.datetime64(_now(), "D") - ONE_DAY)
    days = every_day(np.datetime64(f"{years[0]}-01-01"), end)
    values, times = record.drop_dims("year"), record["time"].values
    start = int(np.searchsorted(times, days[0])) if len(days) else 0
    span = slice(start, start + len(days))
    if np.array_equal(times[span], days):  # no year in between is missing: no copy is needed
        return values.isel(time=span)
    return values.reindex(time=days)


def _download_facts(
    record: xr.Dataset | None, years: range, faults: Mapping[int, str]
) -> dict[str, Any]:
    """Facts about the download of the years, as attributes of the record."""
    if record is None:
        return {"missing_years": _list_years(faults)}
    inside = np.isin(record["year"].values, years)
    year = record["year"].values[inside].tolist()

    def by_year(name: str) -> dict[int, Any]:
        values = record[name].values[inside].tolist()
        return {y: value for y, value in zip(year, values, strict=True) if value}

    def counts(name: str) -> str:
        return _list_years({y: f"{days}" for y, days in by_year(name).items()})

    rows, fault, mixed = by_year("rows"), by_year("fault"), by_year("mixed_days")
    doubtful = [y for y, status in by_year("status").items() if status == DOUBTFUL]
    missing = {y: text for y, text in (fault | dict(faults)).items() if y not in rows}
    times = record["retrieved"].values[inside].astype("datetime64[s]").tolist()
    fetched = max(times, default=dt.datetime.min)
    return {
        "missing_years": _list_years(missing),
        "short_years": _list_years(
            {y: text for y, text in fault.items() if y in rows and y not in doubtful}
        ),
        "doubtful_years": _list_years({y: fault[y] for y in doubtful}),
        "years_in_doubt": " ".join(map(str, doubtful)),
        "not_refreshed": _list_years({y: text for y, text in faults.items() if y in rows}),
        "model_days": counts("model_days"),
        "future_days": counts("future_days"),
        "unsourced_days": counts("unsourced_days"),
        "mixed_source_days": counts("mixed_days"),
        "sources": _list_years(by_year("sources")),
        "day_boundary": f"as each source has it; on {counted(sum(mixed.values()), 'day')} sources "
        "are mixed, which can shift a freeze by a day",
        "retrieved_at": f"{fetched.isoformat()}Z",
        "age_days": max((_now() - fetched).days, 0),
    }


def _warn(title: str, facts: Mapping[str, Any]) -> None:
    """Warn of what is missing; the attributes say it as well."""
    names = ("missing_years", "short_years", "doubtful_years", "not_refreshed")
    parts = [f"{name.replace('_', ' ')}: {facts[name]}" for name in names if facts[name]]
    if parts:
        warnings.warn(f"{title}: {'. '.join(parts)}.", stacklevel=4)


def _list_years(texts: Mapping[int, str]) -> str:
    """Years with a text each, such as ``"1992-1994: no file; 1999: 179 days"``.

    Consecutive years with the same text are named together.
    """
    parts = []
    # Within a run of consecutive years, year minus position is constant.
    numbered = enumerate(sorted(texts.items()))
    for (_, text), run in groupby(numbered, key=lambda item: (item[1][0] - item[0], item[1][1])):
        years = [year for _, (year, _) in run]
        span = f"{years[0]}" if len(years) == 1 else f"{years[0]}-{years[-1]}"
        parts.append(f"{span}: {text}")
    return "; ".join(parts)
