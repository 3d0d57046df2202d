"""Meteostat's data: one year of a station, and the list of all stations.

The only module that opens a socket. meteostat itself is used unmodified, for its addresses, its
file formats, its providers and its searches. Files are downloaded here rather than by meteostat, so
that their size and the waiting time can be limited without changing global state: urllib's opener,
meteostat's settings or its logger. Other threads may use urllib or meteostat at the same time.

`download` and `search` decide what to do with an answer.
"""

from __future__ import annotations

import datetime as dt
import errno
import gzip
import http.client
import io
import sqlite3
import threading
import time
import urllib.error
import urllib.request
import warnings
import zlib
from collections.abc import Callable, Iterable, Sequence
from concurrent.futures import Future
from dataclasses import dataclass
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import TYPE_CHECKING, Any

from climwin.core.formatting import as_typed, fixed
from climwin.core.schema import Station
from climwin.core.text import plain_text
from climwin.stations.cache import make_folder

if TYPE_CHECKING:
    import pandas as pd
    from meteostat.api.stations import Stations

COLUMNS = {"tmin": "tmin", "tmax": "tmax", "tmean": "temp", "precip": "prcp"}
"""Daily variables, and their names in meteostat."""

LIST_FILE = "stations.db"
"""Name of the list of stations in the local store."""

LIST_AGE = dt.timedelta(days=30)
"""Age at which the list is downloaded again; if that fails, the old one is used."""

LARGEST_YEAR = 200_000
"""Largest yearly file that is read, ten times the usual; 200 MB at most once unpacked. [bytes]"""

LARGEST_LIST = 500_000_000
"""Largest list of stations that is read, ten times the usual. [bytes]"""

LONGEST_LIST = 100.0
"""Longest download of the list, in timeouts of the `RetryPolicy`."""

_DISK_ERRORS = {errno.EACCES, errno.EDQUOT, errno.EFBIG, errno.ENOSPC, errno.EROFS}


@dataclass(frozen=True, slots=True)
class RetryPolicy:
    """How long to wait for a server, and how often to try again.

    Parameters
    ----------
    timeout : float
        Time without any response after which a request is abandoned. [s]
    attempts : int
        Number of times that a file is requested.
    backoff : float
        Pause before the second attempt, doubled before each later one. [s]
    parallel : int
        Number of files requested at the same time.
    """

    timeout: float = 8.0
    attempts: int = 3
    backoff: float = 1.0
    parallel: int = 4

    def pause(self, attempt: int) -> None:
        """Sleep before this attempt, counted from 0."""
        if attempt:
            time.sleep(self.backoff * 2 ** (attempt - 1))


RETRY_POLICY = RetryPolicy()
"""The default policy."""


# --- requests -----------------------------------------------------------------------------


def run_in_thread(work: Callable[..., Any], *args: Any, **kwargs: Any) -> Future[Any]:
    """Run a call that may hang in its own thread.

    A thread that hangs cannot be stopped and is abandoned. It is a daemon, so the program can still
    end.
    """
    answer: Future[Any] = Future()

    def run() -> None:
        try:
            answer.set_result(work(*args, **kwargs))
        except Exception as error:  # whoever reads the answer gets it
            answer.set_exception(error)

    threading.Thread(target=run, daemon=True).start()
    return answer


def _open_url(url: str, timeout: float) -> Any:
    """Open a URL with our own opener, leaving that of the process alone.

    Parameters
    ----------
    url : str
        What to request.
    timeout : float
        Longest wait for the connection, and for each piece of the answer. [s]
    """
    from meteostat import __version__, config

    # Without proxies in meteostat's settings, those of the environment are used.
    opener = urllib.request.build_opener(urllib.request.ProxyHandler(config.network_proxies))
    request = urllib.request.Request(url, headers={"X-Meteostat-Version": __version__})
    try:
        return opener.open(request, timeout=timeout)
    except urllib.error.HTTPError as error:
        error.close()  # otherwise its connection stays open as long as the error exists
        raise


def describe_error(error: BaseException) -> tuple[str, bool]:
    """Say what went wrong, and whether the server was reached at all."""
    import pandas as pd

    damaged = (gzip.BadGzipFile, sqlite3.DatabaseError, pd.errors.DatabaseError)
    if isinstance(error, urllib.error.HTTPError):
        return f"the server answered {error.code}", True
    if isinstance(error, (EOFError, zlib.error, http.client.IncompleteRead)):
        return "the file was truncated", True
    if isinstance(error, damaged):
        return "the answer is not a data file, or a damaged one (perhaps a sign-in page)", True
    if isinstance(error, TimeoutError) and error.args:
        return f"{error}", False
    if isinstance(error, OSError) and error.errno in _DISK_ERRORS:
        return f"it could not be written ({error.strerror})", True
    if isinstance(error, OSError):  # failed look-ups, refused and reset connections
        return "no connection", False
    return f"it could not be read ({error or type(error).__name__})", True


# --- one year of one station --------------------------------------------------------------


def download_year(station_id: str, year: int, *, timeout: float) -> pd.DataFrame | None:
    """Download one yearly file and read it as meteostat does.

    Parameters
    ----------
    station_id : str
        Which station.
    year : int
        Calendar year.
    timeout : float
        Longest wait for the connection, and for each piece of the answer. [s]

    Returns
    -------
    DataFrame, index (time, source), or None where there is no file
        The columns named in `COLUMNS`.

    Raises
    ------
    OSError
        If the file could not be fetched.
    ValueError
        If it is too large, or not a table of a year.
    """
    from meteostat import config

    url = config.daily_endpoint.format(station=station_id, year=year)
    try:
        with _open_url(url, timeout) as answer:
            packed = answer.read(LARGEST_YEAR + 1)
    except urllib.error.HTTPError as error:
        if error.code == 404:
            return None
        raise
    if len(packed) > LARGEST_YEAR:
        msg = f"the file is larger than {fixed(LARGEST_YEAR / 1000)} kB, too large for a year"
        raise ValueError(msg)
    return _read_year(packed, year)


def _read_year(packed: bytes, year: int) -> pd.DataFrame | None:
    """Read a yearly file as ``meteostat.daily(...).fetch(squash=False)`` does.

    The steps are meteostat's own: a row for each day and source, types and rounding, and no values
    that its schema rules out. Its daily reader cannot read a file that was already downloaded; and
    with ``squash``, a value without a source would raise an error.
    """
    import pandas as pd
    from meteostat.core.schema import schema_service
    from meteostat.enumerations import Granularity
    from meteostat.utils.data import reshape_by_source

    table = pd.read_csv(io.BytesIO(packed), compression="gzip")
    year_month_day = table.columns[:3]
    table["time"] = pd.to_datetime(table[year_month_day])
    by_source = reshape_by_source(table.drop(columns=year_month_day).set_index("time"))
    days = pd.DatetimeIndex(by_source.index.get_level_values("time"))
    by_source = by_source[days.year == year]
    by_source = by_source.dropna(how="all")
    if by_source.empty:
        return None
    by_source = by_source.reindex(columns=[*COLUMNS.values()])
    typed = schema_service.format(by_source, Granularity.DAILY)
    return schema_service.clean(typed, Granularity.DAILY).sort_index()


def model_sources() -> set[str]:
    """Sources that meteostat grades as forecasts or analyses rather than observations."""
    from meteostat.core.providers import provider_service
    from meteostat.enumerations import Grade

    grades = (Grade.FORECAST, Grade.ANALYSIS)
    return {str(p.id) for p in provider_service.providers if p.grade in grades}


def credits_for(sources: Iterable[str]) -> list[str]:
    """Credits for these sources, sorted; an unknown source is credited by its own name."""
    from meteostat.core.providers import provider_service

    names = set()
    for source in sources:
        provider = provider_service.get_provider(source)
        attribution = provider.license.attribution if provider and provider.license else None
        names.add(attribution or (provider.name if provider else source))
    return sorted(names)


# --- the list of stations -----------------------------------------------------------------


def station_list(folder: Path, *, retry_policy: RetryPolicy = RETRY_POLICY) -> tuple[Path, str]:
    """The list of stations, downloaded if it is missing or old.

    Parameters
    ----------
    folder : Path
        Where it is stored.
    retry_policy : RetryPolicy
        Timeouts and attempts.

    Returns
    -------
    path : Path
        The file; it may not be there.
    fault : str
        Why there is none, or only an old one; empty if all is well.
    """
    path = folder / LIST_FILE
    if path.exists() and abs(time.time() - path.stat().st_mtime) < LIST_AGE.total_seconds():
        return path, ""
    make_folder(folder)
    began, fault = time.monotonic(), ""
    for attempt in range(retry_policy.attempts):
        if attempt and time.monotonic() - began > retry_policy.timeout / 2:
            break
        retry_policy.pause(attempt)
        with TemporaryDirectory(dir=folder, ignore_cleanup_errors=True) as scratch:
            part = Path(scratch) / LIST_FILE
            try:
                _download_list(part, retry_policy)
            except Exception as error:  # meteostat's reader may raise anything on a damaged list
                fault, _ = describe_error(error)
            else:
                part.replace(path)
                return path, ""
    return path, fault


def _download_list(part: Path, retry_policy: RetryPolicy) -> None:
    """Download the list into a file, and check that it is complete."""
    from meteostat import config

    timeout = retry_policy.timeout
    request = run_in_thread(_open_first, config.stations_db_endpoints, timeout / 2)
    _write_limited(request.result(timeout), part, LONGEST_LIST * timeout)
    database = _database(part)
    verdict = str(database.query("PRAGMA quick_check").iloc[0, 0])
    rows = database.query(
        "SELECT (SELECT COUNT(*) FROM stations) * (SELECT COUNT(*) FROM names)"
        " * (SELECT COUNT(*) FROM inventory)"
    ).iloc[0, 0]
    if verdict != "ok" or not rows:
        msg = f"damaged: {verdict}"
        raise sqlite3.DatabaseError(msg)


def _open_first(urls: Sequence[str], timeout: float) -> Any:
    """The answer of the first server that responds; else the error of the last is raised."""
    failure: Exception = LookupError("meteostat names no server for it")
    for url in urls:
        try:
            return _open_url(url, timeout)
        except (OSError, http.client.HTTPException) as error:
            failure = error
    raise failure


def _write_limited(answer: Any, part: Path, longest: float) -> None:
    """Write an answer to a file, unless it is too large or takes too long."""
    began, size = time.monotonic(), 0
    with answer, part.open("wb") as file:
        while chunk := answer.read1(65_536):
            size += len(chunk)
            if size > LARGEST_LIST or time.monotonic() - began > longest:
                most = as_typed(LARGEST_LIST / 1e6)
                msg = f"it is larger than {most} MB, or took longer than {as_typed(longest)} s"
                raise ValueError(msg)
            file.write(chunk)


def _database(path: Path) -> Stations:
    """Meteostat's reader of the list, for this file.

    By default it opens the file named in meteostat's settings, which are global.
    """
    from meteostat.api.stations import Stations

    class StoredStations(Stations):
        def connect(self, in_memory: bool | None = None) -> sqlite3.Connection:  # noqa: ARG002
            connection = sqlite3.connect(path)
            self._register_math_functions(connection)
            return connection

    return StoredStations()


def stations_within(
    path: Path, latitude: float, longitude: float, radius_km: float
) -> pd.DataFrame:
    """The hundred nearest stations within a radius, as meteostat lists them; distance in m."""
    from meteostat import Point

    near = _database(path).nearby(Point(latitude, longitude), radius=radius_km * 1000)
    return _sound_rows(near)


def _sound_rows(table: pd.DataFrame) -> pd.DataFrame:
    """Stations with a valid identifier and position; an invalid height or name is dropped.

    Warns
    -----
    UserWarning
        Names the rows that are dropped.
    """
    import pandas as pd

    ids = table.index.astype(str)
    place = table[["latitude", "longitude"]].apply(pd.to_numeric, errors="coerce")
    is_sound = ids.str.fullmatch(r"[A-Za-z0-9_-]{1,40}") & ~ids.duplicated()
    is_sound &= place["latitude"].between(-90, 90).to_numpy()
    is_sound &= place["longitude"].between(-180, 180).to_numpy()
    if not is_sound.all():
        dropped = ", ".join(repr(plain_text(each)) for each in ids[~is_sound][:5])
        text = (
            f"{(~is_sound).sum()} rows of the list of stations have an invalid identifier or "
            f"position and are left out: {dropped}."
        )
        warnings.warn(text, stacklevel=4)
    sound = table.assign(**place)[is_sound]
    height = pd.to_numeric(sound["elevation"], errors="coerce")
    names = [
        plain_text(str(name)).strip() if isinstance(name, str) else "" for name in sound["name"]
    ]
    named = [name or station for name, station in zip(names, sound.index, strict=True)]
    return sound.assign(elevation=height.where(height.between(-500, 9000)), name=named)


def find_station(path: Path, station_id: str) -> Station | None:
    """The station with this identifier, if there is one."""
    station = _database(path).meta(station_id)
    if station is None or station.latitude is None or station.longitude is None:
        return None
    name = station.name or station.id
    return Station(station.id, name, station.latitude, station.longitude, station.elevation)


def inventory(path: Path, station_ids: list[str]) -> pd.DataFrame:
    """Period and completeness of each daily variable of stations, by meteostat's inventory.

    Returns
    -------
    DataFrame, index (station, variable)
        ``first``, ``last`` (dates) and ``share`` (of the days between them; NaN if not given), from
        the daily providers, or the hourly ones if a station has no daily one.
    """
    import pandas as pd
    from meteostat.core.providers import provider_service

    table = _database(path).inventory(station_ids).df
    if table is None:
        empty = pd.MultiIndex.from_arrays([[], []], names=["station", "variable"])
        return pd.DataFrame({"first": [], "last": [], "share": []}, index=empty)
    variable_of = {column: name for name, column in COLUMNS.items()}
    rank_of = {
        str(p.id): ["daily", "hourly"].index(p.granularity)
        for p in provider_service.providers
        if p.granularity in ("daily", "hourly")
    }
    rows = table.reset_index()
    rows["variable"] = rows["parameter"].map(variable_of)
    rows["rank"] = rows["provider"].map(rank_of)
    for end in ("start", "end"):
        rows[end] = pd.to_datetime(rows[end], errors="coerce")
    rows = rows.dropna(subset=["variable", "rank", "start", "end"])
    rows = rows[rows["start"] <= rows["end"]]
    by = ["station", "variable"]
    rows = rows[rows["rank"] == rows.groupby(by)["rank"].transform("min")]
    share = pd.to_numeric(rows["completeness"], errors="coerce")
    share = share.where(share.between(0, 100))
    if (share > 1).sum() > (share <= 1).sum():  # most are percentages
        share = share / 100
    rows["share"] = share.where(share <= 1)
    out = rows.groupby(by).agg(first=("start", "min"), last=("end", "max"), share=("share", "max"))
    return out.assign(first=pd.to_datetime(out["first"]), last=pd.to_datetime(out["last"]))
