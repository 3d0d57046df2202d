"""The local store: one netCDF file for each station, in the user's data folder.

A file is complete or absent: one process at a time writes it under another name and moves it into
place, while any number may read. A damaged file is set aside, never used.
"""

from __future__ import annotations

import os
import re
import shutil
import sys
import threading
import warnings
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from tempfile import TemporaryFile
from typing import TYPE_CHECKING, Any

import numpy as np
import xarray as xr

from climwin.core.errors import Call, InputError, StationError
from climwin.core.formatting import as_typed
from climwin.io.exports import author, remark
from climwin.io.files import atomic_write, check_declared_size, file_size, reserve_name

if TYPE_CHECKING:
    import pandas as pd

VALUES = ("tmin", "tmax", "tmean", "precip")
"""Variables stored by day."""

STATUS = ("complete", "short", "absent", "failed", "doubtful")
COMPLETE, SHORT, ABSENT, FAILED, DOUBTFUL = range(len(STATUS))
"""Status of a year: complete; short of days, twice the same; without a file; not obtainable; with
values that fail `quality_control`."""

_YEAR_VARIABLES = {
    "status": "how the year came",
    "fault": "what is wrong with the year",
    "sources": "sources of its values",
    "retrieved": "when it was fetched, UTC",
    "rows": "days that came with a temperature",
    "model_days": "days left out as model-filled",
    "future_days": "days left out as not yet over",
    "mixed_days": "days whose temperatures mix sources",
    "unsourced_days": "days with a value that names no source",
}
_COORDINATES = {
    "latitude": {"units": "degrees_north", "standard_name": "latitude"},
    "longitude": {"units": "degrees_east", "standard_name": "longitude"},
    "elevation": {"units": "m", "standard_name": "altitude", "positive": "up"},
    "station_id": {"long_name": "station identifier", "cf_role": "timeseries_id"},
}

_FILE_ONLY = ("Conventions", "featureType", "license", "program")
_DAMAGE = (OSError, ValueError, LookupError, RuntimeError, AttributeError, TypeError, OverflowError)
_LARGEST = 20_000_000  # bytes of a variable; 400 years of days take one million
_MOST_DAMAGED = 100  # damaged files kept of a station
_NETCDF_LOCK = threading.Lock()
"""Two threads in the netCDF library at once crash the process."""


# --- where it is --------------------------------------------------------------------------


def folder(given: str | Path | None = None) -> Path:
    """The store's folder: the given one, else ``CLIMWIN_DATA``, else in the user's data folder.

    Raises
    ------
    OSError
        If the locale cannot encode its name.
    """
    chosen = given or os.environ.get("CLIMWIN_DATA")
    if chosen:
        return _check_encodable(Path(chosen).expanduser())
    import platformdirs

    return _check_encodable(platformdirs.user_data_path("climwin", appauthor=False))


def _check_encodable(where: Path) -> Path:
    """The folder, if its name can be passed to the netCDF library."""
    try:
        str(where.absolute()).encode(sys.getfilesystemencoding())
    except UnicodeEncodeError as error:
        msg = (
            f"The store's folder {where!a} has letters that this session's locale lacks. Set "
            "PYTHONUTF8=1, or give another folder in CLIMWIN_DATA."
        )
        raise OSError(msg) from error
    return where


def make_folder(where: Path) -> Path:
    """The store's folder, made if it is not there.

    Raises
    ------
    OSError
        If it cannot be made or written to, with the variable that names another one.
    """
    try:
        where.mkdir(parents=True, exist_ok=True)
        # The user's rights do not tell: a disk may be read-only, and root may do all.
        with TemporaryFile(dir=where):
            return where
    except OSError as error:
        msg = (
            f"Downloads are stored in {where}, which cannot be made or written to "
            f"({error.strerror}). Name another folder in the environment variable CLIMWIN_DATA."
        )
        raise OSError(msg) from error


def path_of(station_id: str, where: Path) -> Path:
    """The file of a station.

    Raises
    ------
    ValueError
        If the identifier has other characters than letters, digits, ``_`` and ``-``.
    """
    if not re.fullmatch(r"[A-Za-z0-9_-]{1,40}", station_id):
        msg = (
            f"{station_id!r} is not a station identifier: these are made of letters and digits, "
            "such as '10637'. Find one with "
        )
        raise InputError(msg, Call("find_stations", ("garden",)), ".", parameter="station")
    return where / f"station-{station_id}.nc"


@contextmanager
def locked(station_id: str, where: Path, *, timeout: float = 600.0) -> Iterator[None]:
    """Lock a station's file for this process; the lock of a process that dies is released.

    Raises
    ------
    StationError
        If another process holds it for longer than `timeout`. [s]
    """
    import filelock

    path = path_of(station_id, where)
    make_folder(where)
    lock = filelock.FileLock(f"{path}.lock", timeout=timeout)
    try:
        lock.acquire()
    except filelock.Timeout:
        msg = (
            f"Another program has been fetching station {station_id} for over {as_typed(timeout)} "
            "s. Wait for it, or end it and try again; what it fetched is kept."
        )
        raise StationError(msg) from None
    try:
        yield
    finally:
        lock.release()


# --- in and out ---------------------------------------------------------------------------


def load(station_id: str, where: Path) -> xr.Dataset | None:
    """The record of a station, in memory; None if it is not in the store.

    Parameters
    ----------
    station_id : str
        Which station.
    where : Path
        Folder of the store.

    Returns
    -------
    Dataset, dims (time, year), or None
        Daily values by `time`, and the state of each year by `year`.

    Warns
    -----
    UserWarning
        If the file is damaged, which is then set aside under another name.

    Raises
    ------
    OSError
        If the system does not allow it to be read; the file itself may be sound.
    RecordError
        If there is a folder, a pipe or a device in its place.
    StationError
        If a damaged file cannot be set aside.
    """
    path = path_of(station_id, where)
    try:
        file_size(path)
        with path.open("rb") as probe:  # a file that may not be read is not damaged
            seen = os.fstat(probe.fileno())
    except FileNotFoundError:
        return None
    try:
        with _NETCDF_LOCK:
            check_declared_size(path, _LARGEST, engine="netcdf4")
            record = xr.load_dataset(path, engine="netcdf4")
        _check(record, station_id)
    except PermissionError:
        raise
    except _DAMAGE as error:
        _set_aside(path, seen, error)
        return None
    for name in _FILE_ONLY:
        record.attrs.pop(name, None)
    days = record["time"].values.astype("datetime64[s]")
    return record.drop_vars([*_COORDINATES], errors="ignore").assign_coords(time=days)


def _check(record: xr.Dataset, station_id: str) -> None:
    """Refuse a file that lacks a variable, is another station's, or has days out of order."""
    missing = [name for name in (*VALUES, *_YEAR_VARIABLES, "year") if name not in record]
    if missing:
        msg = f"it lacks {', '.join(missing)}"
        raise ValueError(msg)
    if record.attrs.get("station_id") != station_id:
        msg = f"it is of station {record.attrs.get('station_id')!r}"
        raise ValueError(msg)
    if not (np.diff(record["time"].values.astype("datetime64[D]").astype(int)) > 0).all():
        msg = "its days are not in order"
        raise ValueError(msg)


def _set_aside(path: Path, seen: os.stat_result, error: Exception) -> None:
    """Move a damaged file out of the way; `seen` is the status of the file that was read."""
    aside = None
    try:
        if not os.path.samestat(path.stat(), seen):  # another process has put a new one there
            return
        aside = reserve_name(path, "damaged", most=_MOST_DAMAGED)
        path.replace(aside)
    except OSError as refused:
        if aside:
            aside.unlink(missing_ok=True)
        if isinstance(refused, FileNotFoundError):  # another process was quicker
            return
        msg = (
            f"{path} is damaged ({error}), and cannot be set aside ({refused.strerror}). "
            "Remove it, and fetch the station again."
        )
        raise StationError(msg) from refused
    text = (
        f"{path.name} in the local store is damaged ({error}). It is set aside as {aside.name}; "
        "the station will be fetched again when it is next needed."
    )
    warnings.warn(text, stacklevel=3)


def save(record: xr.Dataset, where: Path) -> Path:
    """Store the record of a station; call it within `locked`.

    Parameters
    ----------
    record : Dataset, dims (time, year)
        As `load` returns it; its attributes name the station.
    where : Path
        Folder of the store.

    Returns
    -------
    Path
        The file.
    """
    path = path_of(record.attrs["station_id"], where)
    checked = {name: {"fletcher32": True} for name in VALUES}
    with atomic_write(path, single_writer=True) as part, _NETCDF_LOCK:
        _with_cf_attributes(record).to_netcdf(part, engine="netcdf4", encoding=checked)
    return path


def _with_cf_attributes(record: xr.Dataset) -> xr.Dataset:
    """The record with the attributes and encodings that the CF conventions want in a file."""
    facts = record.attrs
    place = {n: float(facts[n]) for n in _COORDINATES if n in facts and n != "station_id"}
    place |= {"station_id": facts["station_id"]}
    out = record.copy(deep=False).assign_coords({n: ((), place[n], _COORDINATES[n]) for n in place})
    out["time"].attrs = {"standard_name": "time", "long_name": "day", "axis": "T"}
    out["time"].encoding = {"units": "days since 1900-01-01", "dtype": "int32"}
    out["year"].attrs = {"long_name": "calendar year"}
    out["year"].encoding = {"dtype": "int32"}
    for name, text in _YEAR_VARIABLES.items():
        out[name].attrs = {"long_name": text}
        out[name].encoding = {"dtype": "int32"} if out[name].dtype.kind == "i" else {}
    out["retrieved"].encoding = {"units": "seconds since 1970-01-01", "dtype": "float64"}
    out["status"].encoding = {"dtype": "int8"}
    flags = np.arange(len(STATUS), dtype="int8")
    out["status"].attrs |= {"flag_values": flags, "flag_meanings": " ".join(STATUS)}
    licence = {"license": facts["licence"]} if "licence" in facts else {}  # as ACDD spells it
    return out.assign_attrs(
        Conventions="CF-1.8",
        featureType="timeSeries",
        program=f"written by {author()}",
        **licence,
    )


# --- for the user ---------------------------------------------------------------------------


def listing(where: str | Path | None = None) -> pd.DataFrame:
    """What is in the store.

    Parameters
    ----------
    where : path, optional
        Folder of the store.

    Returns
    -------
    DataFrame, index station_id
        ``name``, ``first_year``, ``last_year``, ``days`` (with a daily minimum),
        ``years_with_faults``, ``retrieved`` (UTC, the latest), ``kilobytes``.
    """
    import pandas as pd

    rows, place = {}, folder(where)
    for station_id in station_ids(place):
        record = load(station_id, place)
        if record is not None:
            rows[record.attrs["station_id"]] = {
                "name": record.attrs.get("station_name", ""),
                "first_year": int(record["year"].min()),
                "last_year": int(record["year"].max()),
                "days": int(np.isfinite(record["tmin"]).sum()),
                "years_with_faults": int((record["fault"] != "").sum()),
                "retrieved": pd.Timestamp(record["retrieved"].values.max()),
                "kilobytes": round(path_of(station_id, place).stat().st_size / 1024),
            }
    return pd.DataFrame.from_dict(rows, orient="index").rename_axis("station_id")


def station_ids(where: Path) -> list[str]:
    """Stations in the store; a folder that may not be read is an error."""
    files = sorted(where.iterdir()) if where.exists() else []
    return [file.stem.removeprefix("station-") for file in files if file.match("station-*.nc")]


def remove(station_id: str, where: str | Path | None = None) -> None:
    """Remove a station from the store.

    Raises
    ------
    StationError
        If it is not in the store; the message lists what is.
    """
    with locked(station_id, folder(where)):
        stored_path(station_id, folder(where)).unlink()


def stored_path(station_id: str, where: Path) -> Path:
    """The file of a station that is in the store."""
    path = path_of(station_id, where)
    if not path.exists():
        msg = (
            f"The local store has no station {station_id!r}; it holds "
            f"{', '.join(station_ids(where)) or 'no station yet'}. Download one with "
        )
        raise StationError(msg, Call("fetch_history", ("place",)), ".", parameter="station")
    return path


def export(station_id: str, target: str | Path, where: str | Path | None = None) -> Path:
    """Write a stored station to a file of your own: netCDF, or CSV with its credits on top.

    Parameters
    ----------
    station_id : str
        Which station.
    target : path
        ``.nc`` or ``.csv``.
    where : path, optional
        Folder of the store.

    Raises
    ------
    ValueError
        If `target` has another ending.
    StationError
        If the station is not in the store.
    """
    path, out = stored_path(station_id, folder(where)), Path(target)
    if out.suffix == ".nc":
        with atomic_write(out) as part:
            shutil.copyfile(path, part)
        return out
    if out.suffix != ".csv":
        msg = f"A station is exported to .nc or .csv, got {out.name!r}. Rename the file."
        raise InputError(msg)
    record = load(station_id, path.parent)
    if record is None:
        msg = f"Station {station_id} was damaged in the store. Fetch it again, then export it."
        raise StationError(msg)
    facts = (
        record.attrs.get("title", ""),
        attribution(record),
        "degC and mm; missing is empty",
        f"written by: {author()}",
    )
    table = record[list(VALUES)].to_dataframe().rename_axis("date")
    text = "".join(remark(fact) for fact in facts if fact)
    with atomic_write(out) as part:
        part.write_text(text + table.to_csv(date_format="%Y-%m-%d"), encoding="utf-8")
    return out


def attribution(daily: xr.Dataset) -> str:
    """Credit line below a figure: the source of the data, the licence, and what was changed.

    Parameters
    ----------
    daily : Dataset
        Any daily record; its attributes ``credit`` (or ``source``), ``licence`` and ``changes``
        are used.
    """
    facts: dict[str, Any] = daily.attrs
    source = facts.get("credit") or facts.get("source")
    if not source:
        return "Weather data: source not stated."
    licence = f"; licence: {facts['licence']}" if facts.get("licence") else ""
    changes = f" Changed: {facts['changes']}." if facts.get("changes") else ""
    return f"Weather data: {source}{licence}.{changes}"
