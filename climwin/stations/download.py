"""Years of a station's history: asked for a few side by side, judged, settled.

A year that did not come, came cut, or came well formed but short is asked for again, and in the
end handed over with what is to be said about it. Nothing is dropped in silence.
"""

from __future__ import annotations

import datetime as dt
import time
from collections.abc import Callable, Iterable, Iterator
from concurrent.futures import FIRST_COMPLETED, Future, wait
from dataclasses import dataclass, field
from functools import partial
from typing import TYPE_CHECKING, Any, TypeVar

import numpy as np
import xarray as xr

from climwin.core.schema import VARIABLES, Station
from climwin.stations.provider import (
    COLUMNS,
    PATIENCE,
    Patience,
    ask_year,
    in_words,
    model_sources,
    settings,
    start,
)

if TYPE_CHECKING:
    import pandas as pd

Item = TypeVar("Item")
Span = tuple[dt.date, dt.date]
"""First and last day that a station's inventory gives for its daily minimum."""

COMPLETE, SHORT, ABSENT, FAILED = range(4)
"""How a year came: whole; short of days, twice alike; without a file; it could not be had."""

COUNTS = ("rows", "model_days", "future_days", "mixed_days", "unsourced_days")
"""Days of a year that came with a temperature; left out as model-filled, and as not yet over;
whose temperatures mix sources; whose values name no source."""

LAG = dt.timedelta(days=31)
"""How far behind today a provider may be before days count as due (common practice)."""

_LEAST_SHARE = 0.9  # of the days due; below it a year counts as short (common practice)


# --- what came ----------------------------------------------------------------------------


def _due(year: int, span: Span | None, today: dt.date) -> Span:
    """First and last day of a year that a whole file would hold."""
    first, last = dt.date(year, 1, 1), min(dt.date(year, 12, 31), today - LAG)
    if span:
        first = max(first, span[0])
        last = min(last, span[1]) if span[1].year == year else last
    return first, last


def _shortfall(came: np.ndarray, days: np.ndarray, due: Span) -> str:
    """What lacks of the days due, in words; nothing if all came, or none (which is told apart)."""
    first, last = (np.datetime64(day, "D") for day in due)
    expected = (last - first).astype(int) + 1
    held = days[came]
    if expected < 1 or not len(held):
        return ""
    if len(held) >= _LEAST_SHARE * expected and held[0] <= first and held[-1] >= last:
        return ""
    return f"{len(held)} of {expected} days due, {held[0]} to {held[-1]}"


def _columns(
    frame: pd.DataFrame | None, days: np.ndarray
) -> Iterator[tuple[str, np.ndarray, np.ndarray]]:
    """Each variable with its value and its source of each day."""
    for name, column in COLUMNS.items():
        values, sources = np.full(len(days), np.nan), np.full(len(days), "", dtype=object)
        if frame is not None:
            held = frame[column].dropna()
            dates, source = (held.index.get_level_values(level) for level in ("time", "source"))
            at = (dates.to_numpy().astype("datetime64[D]") - days[0]).astype(int)
            values[at], sources[at] = held.to_numpy(float), source.fillna("").astype(str)
        yield name, values, sources


def _sift(
    frame: pd.DataFrame | None, days: np.ndarray, today: dt.date
) -> tuple[dict[str, np.ndarray], dict[str, np.ndarray], set[str]]:
    """Observed values of each variable, the days that make up each count, the sources used."""
    model, over = model_sources(), days < np.datetime64(today)
    values, marks = {}, {count: np.zeros(len(days), dtype=bool) for count in COUNTS}
    seen, used = np.full(len(days), "", dtype=object), set[str]()
    for name, came, sources in _columns(frame, days):
        here = ~np.isnan(came)
        words = {text: set(text.split()) for text in set(sources)}
        modelled = here & over & np.isin(sources, [t for t in words if words[t] & model])
        kept = here & over & ~modelled
        marks["future_days"] |= here & ~over
        marks["model_days"] |= modelled
        marks["unsourced_days"] |= kept & (sources == "")
        if name in ("tmin", "tmax"):
            several = np.isin(sources, [t for t in words if len(words[t]) > 1])
            marks["rows"] |= here & over
            marks["mixed_days"] |= kept & (several | ((seen != "") & (seen != sources)))
            seen = np.where(kept, sources, seen)
        used = used.union(*(words[text] for text in set(sources[kept])))
        values[name] = np.where(kept, came, np.nan)
    return values, marks, used


def _piece(year: int, frame: pd.DataFrame | None, due: Span, now: dt.datetime) -> xr.Dataset:
    """One year of a record: its days, and what is to be said about it."""
    days = np.arange(f"{year}-01-01", f"{year + 1}-01-01", dtype="datetime64[D]")
    values, marks, used = _sift(frame, days, now.date())
    fault = _shortfall(marks["rows"], days, due)
    status = SHORT if fault else COMPLETE
    modelled = int(marks["model_days"].sum())
    if not marks["rows"].any():
        status, fault = ABSENT, "the provider has no file, or no temperature in it"
    elif not fault and modelled > (1 - _LEAST_SHARE) * len(days):
        fault = f"{modelled} days are model-filled, and left out"
    told: dict[str, Any] = {count: int(mark.sum()) for count, mark in marks.items()}
    told |= {"status": status, "retrieved": np.datetime64(now, "s")}
    words = {"fault": fault, "sources": " ".join(sorted(used))}
    return xr.Dataset(
        {name: ("time", values[name], VARIABLES[name]._asdict()) for name in COLUMNS}
        | {name: ("year", [value]) for name, value in told.items()}
        | {name: ("year", np.array([text], dtype=object)) for name, text in words.items()},
        coords={"time": days.astype("datetime64[s]"), "year": [year]},
    )


# --- many years ---------------------------------------------------------------------------


def _side_by_side(
    work: Callable[[Item], Any], items: Iterable[Item], patience: Patience
) -> Iterator[tuple[Item, Future[Any]]]:
    """Answers as they come, a few calls at a time; one that is late is an error by then."""
    waiting, running = iter(items), dict[Future[Any], tuple[Item, float]]()
    while True:
        while len(running) < patience.side_by_side and (item := next(waiting, None)) is not None:
            running[start(work, item)] = item, time.monotonic() + patience.timeout
        if not running:
            return
        remaining = min(due for _, due in running.values()) - time.monotonic()
        wait(running, max(0, remaining), return_when=FIRST_COMPLETED)
        for answer, (item, due) in [*running.items()]:
            if answer.done() or due <= time.monotonic():
                del running[answer]
                yield item, answer if answer.done() else _late(patience)


def _late(patience: Patience) -> Future[Any]:
    answer: Future[Any] = Future()
    answer.set_exception(TimeoutError(f"no answer within {patience.timeout:g} s"))
    return answer


def bring(
    station: Station,
    years: Iterable[int],
    keep: Callable[[xr.Dataset], None],
    *,
    span: Span | None = None,
    now: dt.datetime,
    patience: Patience = PATIENCE,
) -> None:
    """Ask for yearly files, a few side by side, and hand each over as soon as it is settled.

    Parameters
    ----------
    station : Station
        Whose history.
    years : iterable of int
        Calendar years.
    keep : callable
        Takes one year: a Dataset with ``tmin, tmax, tmean, precip`` by `time` (every day of the
        year, observed values only) and, by `year`, its ``status``, ``fault``, ``sources``,
        ``retrieved`` and the `COUNTS`. Called once for every year asked for, in no order.
    span : (date, date), optional
        What the inventory gives for the station; without it every year is due whole.
    now : datetime
        The time, UTC; its day is not over yet.
    patience : Patience
        Timeouts and attempts.

    Notes
    -----
    A year that is short of days, or has no file where the inventory expects one, is asked for
    again and settled when it comes twice alike. A server that is silent from the start is given
    up without a further try; one that falls silent ends the round.
    """
    errand = _Errand(station, span, now, keep, dict.fromkeys(years))
    began = time.monotonic()
    with settings():
        for attempt in range(patience.attempts):
            silent = not errand.heard and time.monotonic() - began > patience.timeout / 2
            if silent or not errand.left:
                break
            patience.pause(attempt)
            errand.round(patience)
    errand.give_up()


@dataclass(slots=True)
class _Errand:
    """What is still to be had of one station: the years left, each as it came last."""

    station: Station
    span: Span | None
    now: dt.datetime
    keep: Callable[[xr.Dataset], None]
    left: dict[int, xr.Dataset | None]
    faults: dict[int, str] = field(default_factory=dict)
    heard: bool = False

    def round(self, patience: Patience) -> None:
        """Ask once for every year that is left; stop where the server falls silent."""
        lost = 0
        ask = partial(ask_year, self.station)
        for year, answer in _side_by_side(ask, [*self.left], patience):
            error = answer.exception()
            if error is None:
                self._take(year, self._piece(year, answer.result()))
                reached = True
            else:
                self.faults[year], reached = in_words(error)
            self.heard |= reached
            lost = 0 if reached else lost + 1
            if lost >= patience.side_by_side:
                return

    def _piece(self, year: int, frame: pd.DataFrame | None = None) -> xr.Dataset:
        return _piece(year, frame, _due(year, self.span, self.now.date()), self.now)

    def _take(self, year: int, piece: xr.Dataset) -> None:
        """Hand over a year that is whole, or came twice alike; else keep the longer one."""
        before, status, rows = self.left[year], int(piece["status"][0]), int(piece["rows"][0])
        expected = self.span is None or self.span[0].year <= year <= self.span[1].year
        alike = before is not None and int(before["rows"][0]) == rows
        if alike or status == COMPLETE or (status == ABSENT and not expected):
            del self.left[year]
            self.keep(piece)
        elif before is None or rows > int(before["rows"][0]):
            self.left[year] = piece

    def give_up(self) -> None:
        """Hand over what is left as failed, with what came of it and the reason."""
        for year, piece in self.left.items():
            short = str(piece["fault"].values[0]) if piece is not None else ""
            reason = self.faults.get(year, "" if short else "not asked for: no connection")
            piece = self._piece(year) if piece is None else piece
            fault = np.array(["; ".join(filter(None, (short, reason)))], dtype=object)
            self.keep(piece.assign(status=("year", [FAILED]), fault=("year", fault)))
