"""What meteostat is asked, and how: one year of a station, and the list of all stations.

The only module that opens a socket. meteostat is used as it comes. Made up for here are calls
that may hang, errors that it only logs, and a list of stations kept even where it came damaged.
Its own cache is left alone. What to do with an answer is decided higher up.
"""

from __future__ import annotations

import datetime as dt
import errno
import gzip
import http.client
import io
import logging
import sqlite3
import threading
import time
import urllib.error
import urllib.request
import urllib.response
import zlib
from collections.abc import Callable, Iterable, Iterator
from concurrent.futures import Future
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import TYPE_CHECKING, Any

from climwin.core.schema import Station

if TYPE_CHECKING:
    import pandas as pd

COLUMNS = {"tmin": "tmin", "tmax": "tmax", "tmean": "temp", "precip": "prcp"}
"""Daily variables, and what meteostat calls them."""

LIST = "stations.db"
"""The list of stations, as it is kept in the user's folder."""

LIST_AGE = dt.timedelta(days=30)
"""Age at which the list is fetched anew; a stale one still serves where that fails."""

LARGEST_YEAR = 200_000
"""Largest yearly file that is read, ten times the usual; unpacked 200 MB at most. [bytes]"""

LARGEST_LIST, LONGEST_LIST = 500_000_000, 100.0
"""Largest list of stations, ten times the usual [bytes]; longest it may take [timeouts]."""

_DISK = {errno.EACCES, errno.EDQUOT, errno.EFBIG, errno.ENOSPC, errno.EROFS}
_LOCK = threading.RLock()


@dataclass(frozen=True, slots=True)
class Patience:
    """How long to wait for a server, and how often to ask again.

    Parameters
    ----------
    timeout : float
        Time without any sign of life after which a call is given up. [s]
    attempts : int
        How often a file is asked for.
    backoff : float
        Pause before the second attempt; doubled before each further one. [s]
    side_by_side : int
        Files asked for at a time.
    """

    timeout: float = 8.0
    attempts: int = 3
    backoff: float = 1.0
    side_by_side: int = 4

    def pause(self, attempt: int) -> None:
        """Sleep before this attempt, counted from 0."""
        if attempt:
            time.sleep(self.backoff * 2 ** (attempt - 1))


PATIENCE = Patience()


# --- calls that may hang ------------------------------------------------------------------


def start(work: Callable[..., Any], *args: Any, **kwargs: Any) -> Future[Any]:
    """Run a call that may hang in a thread of its own.

    A thread cannot be stopped, so one that hangs is left behind; it is a daemon, and does not
    hold up the end of the program. No timeout of the whole process is touched.
    """
    answer: Future[Any] = Future()

    def run() -> None:
        try:
            answer.set_result(work(*args, **kwargs))
        except Exception as error:
            answer.set_exception(error)

    threading.Thread(target=run, daemon=True).start()
    return answer


class _Limit(urllib.request.BaseHandler):
    """No answer is read that is larger than a yearly file can be."""

    handler_order = 400  # before an answer is judged

    def http_response(self, _request: Any, response: Any) -> Any:
        """The answer, read up to the limit."""
        raw = response.read(LARGEST_YEAR + 1)
        if len(raw) > LARGEST_YEAR:
            response.close()
            msg = f"the file is larger than {LARGEST_YEAR / 1000:.0f} kB, which no year is"
            raise ValueError(msg)
        held = urllib.response.addinfourl(
            io.BytesIO(raw), response.headers, response.url, response.code
        )
        held.msg = response.msg  # type: ignore[attr-defined]
        response.close()
        return held

    https_response = http_response


class _Ear(logging.Handler):
    """What meteostat says in its log, in one thread, instead of raising."""

    def __init__(self) -> None:
        super().__init__(logging.WARNING)
        self.thread, self.errors = threading.get_ident(), list[BaseException]()

    def emit(self, record: logging.LogRecord) -> None:
        """Keep the error behind a warning."""
        if record.thread == self.thread:
            told = [record.exc_info[1]] if record.exc_info else [*(record.args or ())]
            errors = [error for error in told if isinstance(error, BaseException)]
            self.errors.append(errors[0] if errors else RuntimeError(record.getMessage()))
            if isinstance(self.errors[-1], urllib.error.HTTPError):
                self.errors[-1].close()  # or its connection stays open with it


def _listen(work: Callable[..., Any], *args: Any, **kwargs: Any) -> Any:
    """The answer of a call, or the error that it logged instead of an answer."""
    logger, ear = logging.getLogger("meteostat"), _Ear()
    logger.addHandler(ear)
    try:
        answer = work(*args, **kwargs)
    except Exception as error:
        raise (ear.errors or [error])[0] from error
    finally:
        logger.removeHandler(ear)
    if answer is None and not logger.isEnabledFor(logging.WARNING):
        ear.errors.append(RuntimeError("nothing came, and logging is off, so that why is unknown"))
    if answer is None and ear.errors:
        raise ear.errors[0]
    return answer


def in_words(error: BaseException) -> tuple[str, bool]:
    """What went wrong, and whether the server was reached at all."""
    import pandas as pd

    damaged = (gzip.BadGzipFile, sqlite3.DatabaseError, pd.errors.DatabaseError)
    if isinstance(error, urllib.error.HTTPError):
        return f"the server answered {error.code}", True
    if isinstance(error, (EOFError, zlib.error, http.client.IncompleteRead)):
        return "the file came cut short", True
    if isinstance(error, damaged):
        return "what came is no data file, or a damaged one (perhaps a sign-in page)", True
    if isinstance(error, TimeoutError) and error.args:
        return f"{error}", False
    if isinstance(error, OSError) and error.errno in _DISK:
        return f"it could not be written ({error.strerror})", True
    if isinstance(error, OSError):  # failed look-ups, refused and reset connections
        return f"no connection ({type(getattr(error, 'reason', error)).__name__})", False
    return f"it could not be read ({error or type(error).__name__})", True


@contextmanager
def settings(**ours: Any) -> Iterator[None]:
    """Put meteostat's settings as we need them: no cache, its log heard; the user's come back.

    One thread at a time: the settings belong to the whole process.
    """
    from meteostat import config

    logger = logging.getLogger("meteostat")
    ours = {"cache_enable": False, "include_model_data": True} | ours
    with _LOCK:
        before = {name: value for name, value in vars(config).items() if name in ours}
        level, propagate = logger.level, logger.propagate
        opener = getattr(urllib.request, "_opener", None)
        vars(config).update(ours)
        urllib.request.install_opener(urllib.request.build_opener(_Limit))
        logger.setLevel(min(logger.getEffectiveLevel(), logging.WARNING))
        logger.propagate = False
        try:
            yield
        finally:
            for name in ours:
                vars(config).pop(name, None)
            vars(config).update(before)
            urllib.request.install_opener(opener)
            logger.setLevel(level)
            logger.propagate = propagate


# --- one year of one station --------------------------------------------------------------


def ask_year(station: Station, year: int) -> pd.DataFrame | None:
    """One yearly file as meteostat reads it; call it within `settings`, by `start`.

    Returns
    -------
    DataFrame, or None where there is no file
        Columns of `COLUMNS`, by time and source.

    Raises
    ------
    Exception
        Whatever meteostat logged instead of raising it.
    """
    return _listen(_read_year, station, year)


def _read_year(station: Station, year: int) -> pd.DataFrame | None:
    import meteostat as ms

    series = ms.daily(
        ms.Station(id=station.id, latitude=station.latitude, longitude=station.longitude),
        dt.date(year, 1, 1),
        dt.date(year, 12, 31),
        parameters=[ms.Parameter(column) for column in COLUMNS.values()],
    )
    return series.fetch(squash=False)  # squashed, a value without a source would be fatal


def model_sources() -> set[str]:
    """Sources that are forecasts or analyses, not observations, as meteostat grades them."""
    from meteostat.core.providers import provider_service
    from meteostat.enumerations import Grade

    grades = (Grade.FORECAST, Grade.ANALYSIS)
    return {str(p.id) for p in provider_service.providers if p.grade in grades}


def credited(sources: Iterable[str]) -> list[str]:
    """Whom to credit for these sources, sorted; an unknown source stands for itself."""
    from meteostat.core.providers import provider_service

    names = set()
    for source in sources:
        spec = provider_service.get_provider(source)
        holder = spec.license.attribution if spec and spec.license else None
        names.add(holder or (spec.name if spec else source))
    return sorted(names)


# --- the list of stations -----------------------------------------------------------------


def station_list(folder: Path, *, patience: Patience = PATIENCE) -> tuple[Path, str]:
    """The list of stations, fetched where there is none or it is old.

    Parameters
    ----------
    folder : Path
        Where it is kept.
    patience : Patience
        Timeouts and attempts.

    Returns
    -------
    path : Path
        The file; it may not be there.
    fault : str
        Why there is none, or only a stale one; nothing where all is well.
    """
    path = folder / LIST
    if path.exists() and abs(time.time() - path.stat().st_mtime) < LIST_AGE.total_seconds():
        return path, ""
    folder.mkdir(parents=True, exist_ok=True)
    began, fault = time.monotonic(), ""
    for attempt in range(patience.attempts):
        if attempt and time.monotonic() - began > patience.timeout / 2:
            break
        patience.pause(attempt)
        with TemporaryDirectory(dir=folder, ignore_cleanup_errors=True) as room:
            part = Path(room) / LIST
            try:
                _download(part, patience)
            except Exception as error:
                fault, _ = in_words(error)
            else:
                part.replace(path)
                return path, ""
    return path, fault


def _download(part: Path, patience: Patience) -> None:
    """Fetch the list into a file, written here where that can be stopped; look if it is whole."""
    import meteostat as ms
    from meteostat.core.network import network_service

    with settings(network_max_retries=0, network_timeout=patience.timeout / 2):
        mirrors = ms.config.stations_db_endpoints
        asked = start(_listen, network_service.get_from_mirrors, mirrors, stream=True)
        answer = asked.result(patience.timeout)
    _pour(answer, part, LONGEST_LIST * patience.timeout)
    with _reading(part):
        verdict = str(ms.stations.query("PRAGMA quick_check").iloc[0, 0])
        held = ms.stations.query(
            "SELECT (SELECT COUNT(*) FROM stations) * (SELECT COUNT(*) FROM names)"
            " * (SELECT COUNT(*) FROM inventory)"
        ).iloc[0, 0]
    if verdict != "ok" or not held:
        msg = f"damaged: {verdict}"
        raise sqlite3.DatabaseError(msg)


def _pour(answer: Any, part: Path, longest: float) -> None:
    """Write what comes, until it is more, or takes longer, than a list of stations can."""
    if answer is None:
        raise LookupError(LIST)  # no server has it
    began, size = time.monotonic(), 0
    with answer, part.open("wb") as file:
        for chunk in answer.iter_content(65_536):
            size += len(chunk)
            if size > LARGEST_LIST or time.monotonic() - began > longest:
                msg = f"it is above {LARGEST_LIST / 1e6:g} MB, or took over {longest:g} s"
                raise ValueError(msg)
            file.write(chunk)


def _reading(path: Path) -> Any:
    """Settings under which meteostat reads this list of stations, and none of its own."""
    never = int(LIST_AGE.total_seconds()) * 10_000
    return settings(
        stations_db_file=str(path), stations_db_ttl=never, cache_directory=str(path.parent)
    )


def nearby(path: Path, latitude: float, longitude: float, radius_km: float) -> pd.DataFrame:
    """The hundred nearest stations within a radius, as meteostat lists them; distance in m."""
    import meteostat as ms

    with _reading(path):
        return ms.stations.nearby(ms.Point(latitude, longitude), radius=radius_km * 1000)


def lookup(path: Path, station_id: str) -> Station | None:
    """The station of this identifier, if there is one."""
    import meteostat as ms

    with _reading(path):
        found = ms.stations.meta(station_id)
    if found is None or found.latitude is None or found.longitude is None:
        return None
    name = found.name or found.id
    return Station(found.id, name, found.latitude, found.longitude, found.elevation)


def holdings(path: Path, station_ids: list[str]) -> pd.DataFrame:
    """What the inventory gives for each station and daily variable.

    Returns
    -------
    DataFrame, index (station, variable)
        ``first``, ``last`` (dates) and ``share`` (of the days between; missing where not given).
        From the daily providers; where a station has none, from the hourly ones.
    """
    import meteostat as ms
    import pandas as pd
    from meteostat.core.providers import provider_service

    with _reading(path):
        table = ms.stations.inventory(station_ids).df
    names = {column: name for name, column in COLUMNS.items()}
    if table is None:
        empty = pd.MultiIndex.from_arrays([[], []], names=["station", "variable"])
        return pd.DataFrame({"first": [], "last": [], "share": []}, index=empty)
    rank = {
        str(p.id): ["daily", "hourly"].index(p.granularity)
        for p in provider_service.providers
        if p.granularity in ("daily", "hourly")
    }
    rows = table.reset_index()
    rows["variable"], rows["rank"] = rows["parameter"].map(names), rows["provider"].map(rank)
    rows = rows.dropna(subset=["variable", "rank", "start", "end"])
    by = ["station", "variable"]
    rows = rows[rows["rank"] == rows.groupby(by)["rank"].transform("min")]
    share = pd.to_numeric(rows["completeness"])
    rows["share"] = share / (100 if share.max() > 1 else 1)
    out = rows.groupby(by).agg(first=("start", "min"), last=("end", "max"), share=("share", "max"))
    return out.assign(first=pd.to_datetime(out["first"]), last=pd.to_datetime(out["last"]))
