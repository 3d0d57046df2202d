"""A stand-in for meteostat's servers, on loopback, that can be told to fail.

It speaks the wire format that meteostat 2.1 reads: one SQLite file of stations, and one gzip CSV
a station and year, ``year,month,day,temp,temp_source,...``. All stations and values are invented.

Run by itself it serves until it is stopped, and prints the settings that point meteostat at it::

    python tests/standin.py
"""

from __future__ import annotations

import contextlib
import datetime as dt
import functools
import gzip
import io
import json
import socket
import sqlite3
import struct
import threading
import time
from collections.abc import Iterator
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from typing import NamedTuple

import numpy as np
import pandas as pd
from scipy.signal import lfilter

FAULTS = ("404", "403", "429", "500", "cut", "html", "reset", "half", "no source", "hang", "empty")
PAGE = b"<!DOCTYPE html><html><body>Please sign in to this network.</body></html>"


class StandInStation(NamedTuple):
    """An invented station."""

    id: str
    name: str
    latitude: float
    longitude: float
    elevation: int
    first: int
    last: int | None = None  # still running
    complete: float = 99.0  # per cent, as the inventory has it
    spells: int = 0  # stations with the same number have their spells of weather in common


STATIONS = (
    StandInStation("PLB01", "Pellbrook Mill", 46.10, 7.20, 610, 1980),
    StandInStation("PLB02", "Pellbrook Mill (old)", 46.102, 7.201, 612, 1955, 1990, 90.0),
    StandInStation("PLB03", "Pellbrook Pass", 46.18, 7.25, 1890, 1970),
    StandInStation("PLB04", "Oxhey", 46.16, 7.30, 640, 2015),
    StandInStation("PLB05", "Farmere", 46.40, 7.55, 590, 1950, None, 70.0),
    StandInStation("PLB06", "Silent Field", 46.12, 7.22, 620, 1990, None, 0.0),
    StandInStation("PLB07", "Lone Point", 60.00, 10.00, 20, 1990),
    StandInStation("PLB08", "Far Shore", 60.60, 11.20, 30, 1990, spells=1),
)
SILENT = {"PLB06"}  # known, but without an inventory or any file


@functools.cache
def weather(place: StandInStation, year: int, today: dt.date) -> pd.DataFrame:
    """What one yearly file holds: observed days, and in the running year model days to come.

    All tests are given the same one, which none of them changes.
    """
    last = min(dt.date(year, 12, 31), today + dt.timedelta(days=9))
    days = pd.date_range(f"{year}-01-01", last, freq="D")
    rng = np.random.default_rng([year, int(place.id[3:])])
    wave = -np.cos(2 * np.pi * (days.day_of_year.to_numpy() - 20) / 365.25)
    # Spells are those of the whole region; each place adds a little of its own.
    fresh = rng.normal(0, [[1.8], [0.5]], (2, len(days)))
    region = np.random.default_rng([year, place.spells] if place.spells else year)
    fresh[0] = 0.31 * fresh[0] + 0.95 * region.normal(0, 1.8, len(days))
    # Real weather lasts: each day keeps a part of the day before, or the record is doubted.
    spells, cloud = lfilter([1], [1, -0.8], fresh)
    mean = 9 + 9.5 * wave - 6.5 * (place.elevation - 600) / 1000 + spells
    half = 4.5 + wave + cloud.clip(-1.5)
    source = np.where(days.date < today, "ghcnd", "dwd_mosmix").astype(object)
    frame = pd.DataFrame({"year": days.year, "month": days.month, "day": days.day})
    for name, values in {"temp": mean, "tmin": mean - half, "tmax": mean + half}.items():
        frame[name], frame[f"{name}_source"] = np.round(values, 1), source
    if year >= 1990:  # columns vary from year to year
        frame["rhum"], frame["rhum_source"] = rng.integers(30, 99, len(days)), source
    rain = np.round(rng.gamma(0.3, 8.0, len(days)), 1)
    frame["prcp"], frame["prcp_source"] = rain, source
    return frame


@functools.cache
def packed(place: StandInStation, year: int, today: dt.date) -> bytes:
    """One yearly file as it is sent."""
    return _packed(weather(place, year, today))


def _packed(frame: pd.DataFrame) -> bytes:
    return gzip.compress(frame.to_csv(index=False).encode(), mtime=0)


class StandIn:
    """The servers, as a context; `fail` tells them what to do wrong."""

    def __init__(self, *, delay: float = 0.0, today: dt.date | None = None) -> None:
        self.delay = delay
        self.today = today or dt.datetime.now(dt.UTC).date()
        self.asked: list[str] = []
        self.edits: dict[int, dict[tuple[int, str], object]] = {}
        self._faults: list[tuple[str, str, list[float]]] = []
        self._lock = threading.Lock()

    def __enter__(self) -> StandIn:
        self.handler = _handler(self)
        self._server = ThreadingHTTPServer(("127.0.0.1", 0), self.handler)
        self._server.daemon_threads = True
        self._server.block_on_close = False
        self._released = threading.Event()
        threading.Thread(target=self._server.serve_forever, args=(0.02,), daemon=True).start()
        return self

    def __exit__(self, *_: object) -> None:
        self._released.set()
        self._server.shutdown()
        self._server.server_close()

    # --- what a test says to it -----------------------------------------------------------

    def fail(self, kind: str, what: object = "daily", times: float = float("inf")) -> None:
        """Fail this way the next `times` that the path asked for holds `what`."""
        assert kind in FAULTS
        self._faults.append((kind, f"{what}", [times]))

    def mend(self) -> None:
        """No fault any more."""
        self._faults.clear()

    def edit(self, year: int, day: int, column: str, value: object) -> None:
        """Put a value of one's own into a yearly file: day counts from 0."""
        self.edits.setdefault(year, {})[day, column] = value

    def count(self, part: str) -> int:
        """How often a path that holds `part` was asked for."""
        return sum(part in path for path in self.asked)

    @property
    def address(self) -> str:
        return f"http://127.0.0.1:{self._server.server_port}"

    @property
    def settings(self) -> dict[str, str]:
        """The environment that points meteostat here."""
        return {
            "MS_STATIONS_DB_ENDPOINTS": json.dumps([f"{self.address}/stations.db"]),
            "MS_DAILY_ENDPOINT": f"{self.address}/daily/{{year}}/{{station}}.csv.gz",
        }

    # --- what it answers ------------------------------------------------------------------

    def fault(self, path: str) -> str | None:
        """The fault that is due for a path, if any."""
        with self._lock:
            self.asked.append(path)
            for kind, what, left in self._faults:
                if what in path and left[0] > 0:
                    left[0] -= 1
                    return kind
        return None

    def reply(self, path: str, kind: str | None) -> tuple[int, bytes]:
        """Status and content, spoiled as a fault wants it."""
        body = self.body(path)
        if kind == "html":
            return 200, PAGE
        if body is None or (kind is not None and kind.isdigit()):
            return int(kind or 404), b"no"
        return 200, _spoiled(body, kind)

    def body(self, path: str) -> bytes | None:
        """What a healthy server would send; None where there is no such file."""
        if path == "/stations.db":
            return self.station_list()
        _, _, year, name = path.split("/")
        place = next((p for p in STATIONS if p.id == name.removesuffix(".csv.gz")), None)
        if place is None or place.id in SILENT or not self._runs(place, int(year)):
            return None
        return self.file(place, int(year))

    def _runs(self, place: StandInStation, year: int) -> bool:
        return place.first <= year <= (place.last or self.today.year)

    def file(self, place: StandInStation, year: int) -> bytes:
        """One yearly file, with the values that were put into it."""
        today = min(self.today, dt.date(year + 1, 1, 1))  # a year that is over stays as it is
        if year not in self.edits:
            return packed(place, year, today)
        frame = weather(place, year, today).copy()
        for (day, column), value in self.edits[year].items():
            frame[column] = frame[column].astype(object)
            frame.loc[day, column] = value
        return _packed(frame)

    def station_list(self) -> bytes:
        """The SQLite file of all stations."""
        db = sqlite3.connect(":memory:")
        db.executescript(
            "CREATE TABLE stations (id TEXT, country TEXT, region TEXT, latitude REAL,"
            " longitude REAL, elevation INTEGER, timezone TEXT);"
            "CREATE TABLE names (station TEXT, language TEXT, name TEXT);"
            "CREATE TABLE identifiers (station TEXT, key TEXT, value TEXT);"
            "CREATE TABLE inventory (station TEXT, provider TEXT, parameter TEXT, start TEXT,"
            " end TEXT, completeness REAL);"
        )
        yesterday = self.today - dt.timedelta(days=1)
        for p in STATIONS:
            where = (p.id, "CH", "VS", p.latitude, p.longitude, p.elevation, "Europe/Zurich")
            db.execute("INSERT INTO stations VALUES (?,?,?,?,?,?,?)", where)
            db.execute("INSERT INTO names VALUES (?,'en',?)", (p.id, p.name))
            span = (f"{p.first}-01-01", f"{p.last}-12-31" if p.last else f"{yesterday}")
            if p.id not in SILENT:
                for parameter in ("temp", "tmin", "tmax", "prcp"):
                    row = (p.id, "daily", parameter, *span, p.complete)
                    db.execute("INSERT INTO inventory VALUES (?,?,?,?,?,?)", row)
                monthly = (p.id, "monthly", "tmin", "1900-01-01", span[1], 100.0)
                db.execute("INSERT INTO inventory VALUES (?,?,?,?,?,?)", monthly)
        db.commit()
        content = db.serialize()
        db.close()
        return content

    def wait_released(self) -> None:
        """Hang until the server is closed."""
        self._released.wait(60)


def _handler(standin: StandIn) -> type[BaseHTTPRequestHandler]:
    class Handler(BaseHTTPRequestHandler):
        def log_message(self, *_: object) -> None:
            pass

        def do_GET(self) -> None:
            kind = standin.fault(self.path)
            time.sleep(standin.delay)
            with contextlib.suppress(OSError):
                self.answer(kind)

        def answer(self, kind: str | None) -> None:
            if kind == "hang":
                standin.wait_released()
            elif kind == "reset":
                linger = struct.pack("ii", 1, 0)  # closes with RST instead of FIN
                self.connection.setsockopt(socket.SOL_SOCKET, socket.SO_LINGER, linger)
                self.connection.close()
            else:
                self.send(*standin.reply(self.path, kind))

        def send(self, status: int, body: bytes) -> None:
            self.send_response(status)
            self.send_header("Content-Length", f"{len(body)}")
            self.end_headers()
            self.wfile.write(body)

    return Handler


def _spoiled(body: bytes, kind: str | None) -> bytes:
    """A file cut, or well formed but wrong."""
    if kind == "cut":
        return body[: len(body) // 2]
    if kind not in ("half", "no source", "empty"):
        return body
    frame = pd.read_csv(io.BytesIO(gzip.decompress(body)))
    if kind == "half":
        frame = frame[:179]
    elif kind == "empty":
        frame = frame[:0]
    else:
        frame.loc[99, "tmin_source"] = None
    return _packed(frame)


@contextlib.contextmanager
def pointed_at(standin: StandIn) -> Iterator[None]:
    """meteostat's settings within this process, for as long as it lasts.

    meteostat reads them from the environment when it is imported; where that has happened already
    they are set directly.
    """
    from meteostat import config
    from meteostat.providers.meteostat import daily

    before = config.daily_endpoint, config.stations_db_endpoints, daily.ENDPOINT
    config.daily_endpoint = standin.settings["MS_DAILY_ENDPOINT"]
    config.stations_db_endpoints = [f"{standin.address}/stations.db"]
    daily.ENDPOINT = config.daily_endpoint  # meteostat's own reader, with which tests compare
    try:
        yield
    finally:
        config.daily_endpoint, config.stations_db_endpoints, daily.ENDPOINT = before


if __name__ == "__main__":
    with StandIn() as server:
        for key, value in server.settings.items():
            print(f"{key}='{value}'", flush=True)
        with contextlib.suppress(KeyboardInterrupt):
            threading.Event().wait()
