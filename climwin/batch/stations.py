"""Batches of stations: how their records are read, and their results.

A station that fails is named with its reason; the others go on.
"""

from __future__ import annotations

import hashlib
import math
import re
import warnings
from collections.abc import Callable, Iterable, Mapping, Sequence
from pathlib import Path
from types import MappingProxyType
from typing import NamedTuple, cast

import numpy as np
import xarray as xr

from climwin.batch.results import STATUSES, station_results
from climwin.core.errors import Attribute, Call, ClimwinError, Mention, RecordError
from climwin.core.formatting import counted, percent
from climwin.core.measures import metres_of
from climwin.core.schema import Garden, Station, Units, check_choice, variable
from climwin.core.seasons import ONE_DAY, by_year, every_day, smoothed_year
from climwin.core.stats import FEW_YEARS, LEAST_YEARS
from climwin.core.status import UNKNOWN
from climwin.crops.model import Crop
from climwin.io import delimited
from climwin.io.daily import read_daily
from climwin.io.departure import CHECK_FIRST
from climwin.io.plausibility import departures
from climwin.report.sentences_caveats import misplaced, other_height
from climwin.stations.history import fetch_history

ANSWERED, FAILED = 0, 1
"""Flags of ``status``: the station has results, or none."""

_MOST_MISSING = 0.05  # share of days, as of a month of one garden's record

TOO_FEW_YEARS = "too few years for odds"
"""Beginning of the reason of a station that fails for this, unless few years are allowed."""

WANTED = ("tmin", "tmax", "tmean")
"""Variables of a record that the results need, besides its latitude."""

BLOCK_BYTES = 250_000_000
"""Most of a lazy record that is in memory at once, for each worker: 950 stations of 30 years."""

_LONGEST = 300  # characters of what is wrong with a line of the list
_SHOWN = 5  # lines that are named
_ID = re.compile(r"\w[\w .:-]{0,39}")
_CALLS = {
    "find_stations": "a search of the stations around",
    "read_daily": "the column 'record' of the list",
    "read_logger": "`climwin space`",
    "sample": "it comes with climwin",
}
"""What a reader of a list uses instead of the functions that errors advise."""
_DOUBT = "doubt"  # coordinate: why a record may not be what it claims
_NEEDED = ("station", "latitude", "longitude")
_THIN = "the record is too thin: fewer than 200 days of the year have any {}"


# --- a list of stations -------------------------------------------------------------------


class StationRecord(NamedTuple):
    """A station and its record: a file, or else the provider's history."""

    station: Station
    record: Path | None = None
    units: Units | None = None

    def read(self) -> xr.Dataset:
        """Read and check the station's record."""
        if self.record is None:
            return fetch_history(self.station)
        return read_daily(self.record, units=self.units)


def read_stations(path: str | Path) -> list[StationRecord]:
    """Read a list of stations.

    Parameters
    ----------
    path : str or Path
        A table with the columns ``station`` (its id), ``latitude`` and ``longitude`` (degrees north
        and east). Optional are ``name``, ``elevation`` (metres, or feet with their unit),
        ``record`` (a file of daily weather, relative to the list; without one the history of the id
        is downloaded) and ``units`` (C or F, for a record that does not say).

    Returns
    -------
    list of StationRecord
        In the order of the lines.

    Raises
    ------
    RecordError
        If the file is not such a table, or none of its lines can be used.

    Warns
    -----
    UserWarning
        If lines are left out, with the reason for each.

    Examples
    --------
    >>> import climwin as cw
    >>> stations = cw.read_stations("stations.csv")  # doctest: +SKIP
    """
    file = Path(path)
    body = delimited.lines(file, delimited.encoding(file))
    top = delimited.head(*next(body, (1, "")))
    lacking = [name for name in _NEEDED if name not in top.names]
    if lacking:
        columns = "column" if len(lacking) == 1 else "columns"
        msg = (
            f"{path} lacks the {columns} {', '.join(lacking)}. A list of stations has "
            f"{', '.join(_NEEDED)}; name, elevation, record and units are optional."
        )
        raise RecordError(msg)
    lines, texts, faults = delimited.columns(body, top, range(len(top.names)))
    rows = (dict(zip(top.names, row, strict=True)) for row in zip(*texts.values(), strict=True))
    return _station_records(zip(lines, rows, strict=True), file, faults)


def _station_records(
    rows: Iterable[tuple[int, Mapping[str, str]]], path: Path, odd: Sequence[delimited.Fault]
) -> list[StationRecord]:
    """Records of the lines that can be used; warns of the others, and refuses a list of none."""
    records: dict[str, StationRecord] = {}
    faults = [f"{each.what}, {each.times} in all: {', '.join(each.where)}" for each in odd]
    left_out = sum(each.times - 1 for each in odd)
    for line, row in rows:
        try:
            record = _station_record(row, path.parent)
        except ValueError as error:
            faults.append(f"line {line}: {str(error)[:_LONGEST].removesuffix('.')}")
            continue
        if record.station.id in records:
            faults.append(f"line {line}: the station {record.station.id!r} is listed above already")
            continue
        records[record.station.id] = record
    if faults:
        shown = "; ".join(faults[:_SHOWN])
        more = f"; and {len(faults) - _SHOWN} more" if len(faults) > _SHOWN else ""
        if not records:
            msg = f"{path}, {shown}{more}"
            raise RecordError(msg)
        text = f"{path}: {counted(len(faults) + left_out, 'line')} left out. {shown}{more}."
        warnings.warn(text, stacklevel=3)
    return [*records.values()]


def _station_record(row: Mapping[str, str], folder: Path) -> StationRecord:
    """The station of one line of a list, and where its record is."""
    if not _ID.fullmatch(row["station"]):
        msg = (
            f"a station's id is made of 1 to 40 letters, digits, blanks and _ . : -; got "
            f"{delimited.quoted(row['station'])}"
        )
        raise ValueError(msg)
    station = Station(
        id=row["station"],
        name=row.get("name") or row["station"],
        latitude=_number(row, "latitude"),
        longitude=_number(row, "longitude"),
        elevation=_height(row["elevation"]) if row.get("elevation") else None,
    )
    if row.get("units"):
        check_choice("units", row["units"], ("C", "F"))
    record = (folder / row["record"]).resolve() if row.get("record") else None
    return StationRecord(station, record, cast("Units | None", row.get("units") or None))


def _number(row: Mapping[str, str], name: str) -> float:
    value = delimited.numbers([row[name]])[0].item()
    if value != value:  # empty, a word for missing, or not a number
        msg = f"{name} must be a number, got {delimited.quoted(row[name])}."
        raise ValueError(msg)
    return value


def _height(text: str) -> float:
    """A height in metres: a number, or one with its unit."""
    value = delimited.numbers([text])[0].item()
    return value if value == value else metres_of(text)


# --- batches ------------------------------------------------------------------------------


class Batch(NamedTuple):
    """Stations that are computed in one go, and how their records are read.

    `read` gives the records, grouped by the days that they span, and a reason for each record that
    cannot be read. `content` gives a digest of what would be read, so that a resumed run notices
    changed records; it is empty if that cannot be known without reading.
    """

    names: list[str]
    read: Callable[[], tuple[list[xr.Dataset], dict[str, str]]]
    content: Callable[[], str] = lambda: ""


def batches_of_record(daily: xr.Dataset, size: int) -> list[Batch]:
    """Split a record of many stations, lazy or not, into batches."""
    names = [str(name) for name in daily["station"].values]

    def batch(since: int) -> Batch:
        own = names[since : since + size]
        part = own_part(daily, since, since + size)
        return Batch(own, lambda: ([_loaded(part, own)], {}))

    return [batch(since) for since in range(0, len(names), size)]


def own_part(daily: xr.Dataset, since: int, until: int) -> xr.Dataset:
    """Some stations of a record, and nothing of the others: it is sent to a worker as it is."""
    from dask.base import optimize

    part = daily.isel(station=slice(since, until))
    if not part.chunks:
        return part
    return cast("xr.Dataset", optimize(part)[0])  # type: ignore[no-untyped-call]


def blocks_of_record(daily: xr.Dataset, size: int) -> list[range]:
    """Numbers of the batches that are read together, because they lie in the same chunks.

    A block ends where a chunk does, or at `BLOCK_BYTES`. Of a record in memory each batch is one.
    """
    total = daily.sizes["station"]
    count = math.ceil(total / size)
    chunks = daily["tmin"].chunksizes.get("station")
    if chunks is None:
        return [range(n, n + 1) for n in range(count)]
    a_batch = 8 * len(WANTED) * daily.sizes["time"] * min(size, total)
    most = max(BLOCK_BYTES // a_batch, 1)
    ends_of_chunks = set(np.cumsum(chunks).tolist())
    blocks: list[range] = []
    since = 0
    while since < count:
        ends = range(since + 1, min(since + most, count) + 1)
        whole = [end for end in ends if min(end * size, total) in ends_of_chunks]
        blocks.append(range(since, whole[0] if whole else ends[-1]))
        since = blocks[-1].stop
    return blocks


def _loaded(daily: xr.Dataset, names: list[str]) -> xr.Dataset:
    """Stations of a record in memory, under these names."""
    return _wanted(daily).load(scheduler="synchronous").assign_coords(station=names)


def read_block(daily: xr.Dataset, batches: Sequence[Batch]) -> xr.Dataset | Exception:
    """The stations of some batches of a lazy record, in memory; or why they cannot be read."""
    names = [name for batch in batches for name in batch.names]
    try:
        return _loaded(daily.sel(station=names), names)
    except Exception as error:  # any error: the other blocks go on
        return error


def batch_of_block(batch: Batch, block: xr.Dataset | Exception) -> Batch:
    """The batch, which takes its stations from a block that was read."""

    def read() -> tuple[list[xr.Dataset], dict[str, str]]:
        if isinstance(block, Exception):
            raise block
        return [block.sel(station=batch.names)], {}

    return batch._replace(read=read)


def batches_of_list(records: Sequence[StationRecord], size: int) -> list[Batch]:
    """Split a list of stations into batches that read the records."""

    def batch(part: Sequence[StationRecord]) -> Batch:
        names = [each.station.id for each in part]
        return Batch(names, lambda: _read(part), lambda: _digest(part))

    return [batch(records[since : since + size]) for since in range(0, len(records), size)]


def _read(stations: Sequence[StationRecord]) -> tuple[list[xr.Dataset], dict[str, str]]:
    """Records of some stations, those of the same days together, and why others cannot be read."""
    read: dict[tuple[str, ...], list[xr.Dataset]] = {}
    failed: dict[str, str] = {}
    for station in stations:
        name = station.station.id
        try:
            read_as_it_is = station.read()
            record = _whole_years(_wanted(read_as_it_is))
        except Exception as error:  # any error: the other stations go on
            failed[name] = _reason(error)
        else:
            span = _span_of_values(record)
            record = record.drop_vars(["station", "latitude"], errors="ignore")
            record = record.expand_dims(station=[name])
            doubt = _doubt(read_as_it_is, station.station)
            coords = {
                "latitude": ("station", [station.station.latitude]),
                _DOUBT: ("station", np.array([doubt], dtype=object)),
            }
            read.setdefault(span, []).append(record.assign_coords(coords))
    together = [
        xr.concat(same, "station", combine_attrs="drop_conflicts") for same in read.values()
    ]
    return together, failed


def _span_of_values(record: xr.Dataset) -> tuple[str, ...]:
    """First and last day of the record, and first and last known day of each variable.

    Stations with the same span are computed together, because it decides which seasons count.
    """
    days = record["time"].values.astype("datetime64[D]").astype(str)
    ends = [days[0], days[-1]]
    for name in WANTED:
        known = days[record[name].notnull().values]
        ends += [known[0], known[-1]] if len(known) else ["", ""]
    return tuple(str(day) for day in ends)


def _digest(stations: Sequence[StationRecord]) -> str:
    """Digest of the files of some stations; a missing file counts only by its name."""
    digest = hashlib.sha256()
    for station in stations:
        digest.update(f"{station.station.id}\n{station.record}\n".encode())
        if station.record is not None and station.record.is_file():
            with station.record.open("rb") as file:
                digest.update(hashlib.file_digest(file, "sha256").digest())
    return digest.hexdigest()


def _doubt(record: xr.Dataset, station: Station) -> str:
    """Why a station's record may not be what it claims, and how many days it lacks."""
    listed = Garden(station.id, station.latitude, station.longitude, station.elevation)
    found = departures(record)
    first = f"{CHECK_FIRST}{found[0].text()}" if found else ""
    elsewhere = misplaced(listed, record, place="the place in the list")
    elsewhere = elsewhere or other_height(listed, record)
    return " ".join(filter(None, (elsewhere, first, _gaps(record))))


def _gaps(record: xr.Dataset) -> str:
    """How many days have no minimum or maximum, if more than a few."""
    known = record["tmin"].notnull() & record["tmax"].notnull()
    missing = 1 - float(known.mean())
    if missing < _MOST_MISSING:
        return ""
    return f"{percent(missing)} of its days lack a minimum or a maximum."


def _wanted(record: xr.Dataset) -> xr.Dataset:
    """The variables that the results need, their units checked."""
    for name in WANTED:
        variable(record, name)
    return record[[*WANTED]]


def _whole_years(daily: xr.Dataset) -> xr.Dataset:
    """Extend the record to every day of the calendar years it touches.

    Stations of a batch then have the same days. This does not change which seasons count, see
    `seasons.keep_inside`.
    """
    first, last = daily["time"].values[[0, -1]].astype("datetime64[Y]")
    days = every_day(first, last + np.timedelta64(1, "Y") - ONE_DAY)
    return daily if len(days) == daily.sizes["time"] else daily.reindex(time=days)


def _reason(error: BaseException) -> str:
    """What went wrong with a station, in words for readers of a list."""
    if isinstance(error, FileNotFoundError) and error.filename:
        return f"{Path(error.filename).name}: no such file. Correct the list's column 'record'."
    text = error.worded(_in_a_list) if isinstance(error, ClimwinError) else str(error)
    return " ".join(text.split()) or type(error).__name__


def _in_a_list(mention: Mention) -> str:
    """Put a mention of the library into words for readers of a list of stations."""
    if isinstance(mention, Call):
        return _CALLS.get(mention.name, mention.name.replace("_", " "))
    name = mention.name.replace("_", " ")
    if isinstance(mention, Attribute) or mention.value is None:
        return name
    return f"{name} {mention.value}"


def batch_results(
    batch: Batch, crops: Sequence[Crop], *, few_years: bool = False, climate: str = "record"
) -> xr.Dataset:
    """Compute the results of a batch of stations, including those that fail.

    Parameters
    ----------
    batch : Batch
        Stations and how to read them.
    crops : sequence of Crop
        What is grown.
    few_years : bool
        Whether to allow stations with fewer than ten known years of a crop's window; their
        ``reason`` says so. Otherwise they fail.
    climate : {"record", "today"}
        The years as they were, or shifted to today's level, see `todays_climate`.

    Returns
    -------
    Dataset, dims (station, ...)
        What `station_results` gives, empty for a station that failed; also ``status`` and
        ``reason`` of each. Only these two if all failed.
    """
    try:
        records, failed = batch.read()
    except Exception as error:  # any error: the other batches go on
        return failed_batch(batch, error)
    computed: list[xr.Dataset] = []
    cautions: dict[str, str] = {}
    for record in records:
        cautions |= _doubts_of(record)
        results, lost = _computed(record.drop_vars(_DOUBT, errors="ignore"), crops, climate)
        computed += results
        failed |= lost
    few = {name: reason for each in computed for name, reason in _few(each).items()}
    if few_years:
        doubts = {name: cautions.get(name) for name in few}
        cautions |= {
            name: " ".join(filter(None, [text, FEW_YEARS])) for name, text in doubts.items()
        }
    else:
        failed |= few
        computed = [each.isel(station=~each["station"].isin([*few]).values) for each in computed]
    return _with_status(_joined(computed, batch.names), failed, cautions)


def _doubts_of(record: xr.Dataset) -> dict[str, str]:
    """Why records may not be what they claim, by station; nothing for those that are sound."""
    if _DOUBT not in record.coords:
        return {}
    doubts = zip(record["station"].values, record[_DOUBT].values, strict=True)
    return {str(name): text for name, text in doubts if text}


def _joined(results: Sequence[xr.Dataset], names: Sequence[str]) -> xr.Dataset:
    """Results of some of the stations as a dataset of all; without variables if there are none."""
    there = [each for each in results if each.sizes["station"]]
    if not there:
        return xr.Dataset(coords={"station": names})
    fills = fill_values(there[0])
    out = xr.concat(
        there, "station", join="outer", fill_value=fills, combine_attrs="drop_conflicts"
    )
    return out.reindex(station=names, fill_value=fills)


def failed_batch(batch: Batch, error: Exception) -> xr.Dataset:
    """Results of a batch that failed as a whole."""
    reasons = dict.fromkeys(batch.names, _reason(error))
    return _with_status(xr.Dataset(coords={"station": batch.names}), reasons)


def _few(results: xr.Dataset) -> dict[str, str]:
    """Stations with too few known years of a window for odds, with the reason."""
    shown = (results["part"] == "longest") | (results["has_two_windows"] == 1)
    known = results["shorter_known"].where(shown).min(["crop", "part"])
    few = known.isel(station=(known < LEAST_YEARS).values)
    return {
        str(row["station"].item()): f"{TOO_FEW_YEARS}: the record has {int(row)} known years, "
        f"and {LEAST_YEARS} are needed"
        for row in few
    }


def _with_status(
    results: xr.Dataset,
    failed: Mapping[str, str],
    cautions: Mapping[str, str] = MappingProxyType({}),
) -> xr.Dataset:
    """Results with the status of each station, and the reason if it failed or is in doubt."""
    names = results["station"].values.tolist()
    flags = np.array([FAILED if name in failed else ANSWERED for name in names], dtype=np.int8)
    texts = {**cautions, **failed}
    reasons = np.array([texts.get(name, "") for name in names], dtype=object)
    return results.assign(status=("station", flags), reason=("station", reasons))


def _computed(
    record: xr.Dataset, crops: Sequence[Crop], climate: str
) -> tuple[list[xr.Dataset], dict[str, str]]:
    """Results of all stations at once or, if that fails, of each; and why some have none."""
    try:
        full, thin = _without_thin(_whole_years(record))
        if not full.sizes["station"]:
            return [], thin
        return [station_results(full, crops, climate=climate)], thin
    except Exception as error:
        if record.sizes["station"] == 1:
            return [], {str(record["station"].values[0]): _reason(error)}
    results: list[xr.Dataset] = []
    failed: dict[str, str] = {}
    for n in range(record.sizes["station"]):
        computed, lost = _computed(record.isel(station=[n]), crops, climate)
        results += computed
        failed |= lost
    return results, failed


def _without_thin(record: xr.Dataset) -> tuple[xr.Dataset, dict[str, str]]:
    """Stations with enough days for a usual year, and why the others have none."""
    failed: dict[str, str] = {}
    for name in ("tmean", "tmin"):
        thin = smoothed_year(by_year(record[name])).isnull().any("day_of_year").values
        failed |= dict.fromkeys(record["station"].values[thin].tolist(), _THIN.format(name))
    return record.isel(station=~np.isin(record["station"].values, [*failed])), failed


def fill_values(results: xr.Dataset) -> dict[str, int]:
    """Fill values of a station or season without results: a count of 0, status unknown."""
    counts = [str(name) for name, values in results.items() if values.dtype.kind in "iu"]
    return dict.fromkeys(counts, 0) | {"window_status": STATUSES.index(UNKNOWN)}
