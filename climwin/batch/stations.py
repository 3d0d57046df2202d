"""Batches of stations: where their records come from, and the whole answer for each of them.

A station that fails is named with its reason, and stops no other.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from pathlib import Path
from types import MappingProxyType
from typing import NamedTuple, cast

import numpy as np
import xarray as xr

from climwin.batch.results import STATUSES, answers
from climwin.core.schema import RecordError, Station, Units, check_choice, variable
from climwin.core.seasons import ONE_DAY, by_year, every_day, smoothed_year
from climwin.core.stats import FEW_YEARS, LEAST_YEARS
from climwin.core.status import UNKNOWN
from climwin.crops.model import Crop
from climwin.io import delimited
from climwin.io.daily import read_daily
from climwin.stations.history import fetch_history

ANSWERED, FAILED = 0, 1
"""Flags of ``status``."""

WANTED = ("tmin", "tmax", "tmean")
"""Variables of a record that the whole answer needs."""

_SAID = 300  # characters of what is wrong with a station
_NEEDED = ("station", "latitude", "longitude")
_THIN = "the record is too thin: fewer than 200 days of the year hold any {}"
_FEW = (
    f"too few years for odds: {{}} can be told from the record, {LEAST_YEARS} are the least; "
    "few_years=True (--few-years) answers all the same"
)


# --- a list of stations -------------------------------------------------------------------


class Place(NamedTuple):
    """A station, and where its record is: a file, else the provider's history."""

    station: Station
    record: Path | None = None
    units: Units | None = None

    def read(self) -> xr.Dataset:
        """The station's record, checked."""
        if self.record is None:
            return fetch_history(self.station)
        return read_daily(self.record, units=self.units)


def read_stations(path: str | Path) -> list[Place]:
    """Read a list of stations.

    Parameters
    ----------
    path : str or Path
        A table with the columns ``station`` (its id), ``latitude`` and ``longitude`` (degrees north
        and east), and where there are any ``name``, ``elevation`` (m), ``record`` (a file of daily
        weather, beside the list; without one the history of the id is fetched) and ``units`` (C or
        F, of a record that does not say).

    Returns
    -------
    list of Place

    Raises
    ------
    RecordError
        Says which line, what is wrong and what is allowed.
    """
    file = Path(path)
    body = delimited.lines(file, delimited.encoding(file))
    top = delimited.head(*next(body, (1, "")))
    lacking = [name for name in _NEEDED if name not in top.names]
    if lacking:
        msg = (
            f"{path} lacks the column {', '.join(lacking)}. A list of stations has "
            f"{', '.join(_NEEDED)}; name, elevation, record and units may stand beside."
        )
        raise RecordError(msg)
    lines, texts, faults = delimited.columns(body, top, range(len(top.names)))
    delimited.refuse(f"{path}", faults)
    rows = (dict(zip(top.names, row, strict=True)) for row in zip(*texts.values(), strict=True))
    return [*_places(zip(lines, rows, strict=True), file)]


def _places(rows: Iterable[tuple[int, Mapping[str, str]]], path: Path) -> Iterator[Place]:
    for line, row in rows:
        try:
            yield _place(row, path.parent)
        except ValueError as error:
            msg = f"{path}, line {line}: {str(error)[:_SAID]}"
            raise RecordError(msg) from error


def _place(row: Mapping[str, str], folder: Path) -> Place:
    station = Station(
        id=row["station"],
        name=row.get("name") or row["station"],
        latitude=_number(row, "latitude"),
        longitude=_number(row, "longitude"),
        elevation=_number(row, "elevation") if row.get("elevation") else None,
    )
    if row.get("units"):
        check_choice("units", row["units"], ("C", "F"))
    record = (folder / row["record"]).resolve() if row.get("record") else None
    return Place(station, record, cast("Units | None", row.get("units") or None))


def _number(row: Mapping[str, str], name: str) -> float:
    value = delimited.numbers([row[name]])[0].item()
    if value != value:  # nothing, a word for missing, or no number
        msg = f"{name} must be a number, got {delimited.quoted(row[name])}."
        raise ValueError(msg)
    return value


# --- batches ------------------------------------------------------------------------------


class Batch(NamedTuple):
    """Stations that are answered for in one go, and how their records are read.

    `read` gives records of stations that share their days, and the reasons of the stations whose
    record cannot be read.
    """

    names: list[str]
    read: Callable[[], tuple[list[xr.Dataset], dict[str, str]]]


def batches_of_record(daily: xr.Dataset, size: int) -> list[Batch]:
    """Cut a record of many stations, lazy or not, into batches."""
    names = [str(name) for name in daily["station"].values]

    def batch(since: int) -> Batch:
        held, part = names[since : since + size], daily.isel(station=slice(since, since + size))
        return Batch(held, lambda: ([_loaded(part, held)], {}))

    return [batch(since) for since in range(0, len(names), size)]


def _loaded(daily: xr.Dataset, names: list[str]) -> xr.Dataset:
    return _wanted(daily).load(scheduler="synchronous").assign_coords(station=names)


def batches_of_places(places: Sequence[Place], size: int) -> list[Batch]:
    """Cut a list of stations into batches that read the records."""

    def batch(part: Sequence[Place]) -> Batch:
        return Batch([place.station.id for place in part], lambda: _read(part))

    return [batch(places[since : since + size]) for since in range(0, len(places), size)]


def _read(places: Sequence[Place]) -> tuple[list[xr.Dataset], dict[str, str]]:
    read: dict[tuple[int, int], list[xr.Dataset]] = {}
    failed: dict[str, str] = {}
    for place in places:
        try:
            record = _whole_years(_wanted(place.read()))
        except Exception as error:  # whatever it is, the other stations go on
            failed[place.station.id] = _reason(error)
        else:
            span = tuple(record["time"].values[[0, -1]].astype("datetime64[Y]").astype(int))
            record = record.drop_vars("station", errors="ignore")
            read.setdefault(span, []).append(record.expand_dims(station=[place.station.id]))
    together = [
        xr.concat(same, "station", combine_attrs="drop_conflicts") for same in read.values()
    ]
    return together, failed


def _wanted(record: xr.Dataset) -> xr.Dataset:
    for name in WANTED:
        variable(record, name)
    return record[[*WANTED]]


def _whole_years(daily: xr.Dataset) -> xr.Dataset:
    """The record on every day of the calendar years it touches.

    Seasons in which it begins or ends are then answered for, or unknown, whatever stations stand
    beside it.
    """
    first, last = daily["time"].values[[0, -1]].astype("datetime64[Y]")
    days = every_day(first, last + np.timedelta64(1, "Y") - ONE_DAY)
    return daily if len(days) == daily.sizes["time"] else daily.reindex(time=days)


def _reason(error: BaseException) -> str:
    return " ".join(str(error).split()) or type(error).__name__


def answer_batch(batch: Batch, crops: Sequence[Crop], *, few_years: bool = False) -> xr.Dataset:
    """The whole answer for a batch of stations, those that fail among them.

    Parameters
    ----------
    batch : Batch
        Stations and how to read them.
    crops : sequence of Crop
        What is grown.
    few_years : bool
        Whether stations will do of which a crop's window is known in fewer than ten years; their
        ``reason`` says so. Else they fail.

    Returns
    -------
    Dataset, dims (station, ...)
        What `answers` gives, empty for a station that failed; ``status`` and ``reason`` of each.
        Without an answer at all, these two alone.
    """
    try:
        records, failed = batch.read()
    except Exception as error:  # whatever it is, the other batches go on
        return failed_batch(batch, error)
    found: list[xr.Dataset] = []
    said: dict[str, str] = {}
    for record in records:
        answered, lost = _answered(record, crops)
        failed |= lost
        for each in answered:
            few = _few(each)
            if few_years:
                said |= dict.fromkeys(few, FEW_YEARS)
            else:
                failed |= few
                each = each.isel(station=~np.isin(each["station"].values, [*few]))
            found += [each] if each.sizes["station"] else []
    if not found:
        return _with_status(xr.Dataset(coords={"station": batch.names}), failed)
    fills = fill_values(found[0])
    out = xr.concat(
        found, "station", join="outer", fill_value=fills, combine_attrs="drop_conflicts"
    )
    return _with_status(out.reindex(station=batch.names, fill_value=fills), failed, said)


def failed_batch(batch: Batch, error: Exception) -> xr.Dataset:
    """What stands for a batch without any answer."""
    reasons = dict.fromkeys(batch.names, _reason(error))
    return _with_status(xr.Dataset(coords={"station": batch.names}), reasons)


def _few(found: xr.Dataset) -> dict[str, str]:
    """Stations of which a window is known in too few years for odds, and in how many."""
    shown = (found["part"] == "longest") | (found["has_two_windows"] == 1)
    known = found["shorter_known"].where(shown).min(["crop", "part"])
    few = known.isel(station=(known < LEAST_YEARS).values)
    return {str(row["station"].item()): _FEW.format(int(row)) for row in few}


def _with_status(
    found: xr.Dataset, failed: Mapping[str, str], said: Mapping[str, str] = MappingProxyType({})
) -> xr.Dataset:
    names = found["station"].values.tolist()
    flags = np.array([FAILED if name in failed else ANSWERED for name in names], dtype=np.int8)
    told = {**said, **failed}
    reasons = np.array([told.get(name, "") for name in names], dtype=object)
    return found.assign(status=("station", flags), reason=("station", reasons))


def _answered(record: xr.Dataset, crops: Sequence[Crop]) -> tuple[list[xr.Dataset], dict[str, str]]:
    """Answers for all stations at once, else for each alone; and why some have none."""
    try:
        held, thin = _without_thin(_whole_years(record))
        return [answers(held, crops)] if held.sizes["station"] else [], thin
    except Exception as error:
        if record.sizes["station"] == 1:
            return [], {str(record["station"].values[0]): _reason(error)}
    found: list[xr.Dataset] = []
    failed: dict[str, str] = {}
    for n in range(record.sizes["station"]):
        answered, lost = _answered(record.isel(station=[n]), crops)
        found += answered
        failed |= lost
    return found, failed


def _without_thin(record: xr.Dataset) -> tuple[xr.Dataset, dict[str, str]]:
    """The stations that have a usual year, and why the others have none."""
    failed: dict[str, str] = {}
    for name in ("tmean", "tmin"):
        thin = smoothed_year(by_year(record[name])).isnull().any("day_of_year").values
        failed |= dict.fromkeys(record["station"].values[thin].tolist(), _THIN.format(name))
    return record.isel(station=~np.isin(record["station"].values, [*failed])), failed


def fill_values(found: xr.Dataset) -> dict[str, int]:
    """What stands where a station, or a season of it, has no answer: no count, and unknown."""
    counts = [str(name) for name, values in found.items() if values.dtype.kind in "iu"]
    return dict.fromkeys(counts, 0) | {"window_status": STATUSES.index(UNKNOWN)}
