"""Download the years of a station's history, a few at a time, and check each.

A year that was not delivered, or was truncated or short, is requested again. If that does not help,
it is passed on with a note of what is wrong. Nothing is dropped silently.
"""

from __future__ import annotations

import datetime as dt
import time
from collections.abc import Callable, Iterable, Iterator, Mapping
from concurrent.futures import FIRST_COMPLETED, Future, wait
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any, NamedTuple, TypeVar

import numpy as np
import xarray as xr

from climwin.core.formatting import as_typed
from climwin.core.runs import true_runs
from climwin.core.schema import VARIABLES, Station
from climwin.stations.cache import ABSENT, COMPLETE, FAILED, SHORT
from climwin.stations.meteostat_client import (
    COLUMNS,
    RETRY_POLICY,
    RetryPolicy,
    describe_error,
    download_year,
    model_sources,
    run_in_thread,
)

if TYPE_CHECKING:
    import pandas as pd

Item = TypeVar("Item")
Span = tuple[dt.date, dt.date]
"""First and last day that a station's inventory gives for its daily minimum."""

COUNTS = ("rows", "model_days", "future_days", "mixed_days", "unsourced_days")
"""Counts of the days of a year: with a temperature; left out as filled by a model; left out as not
yet over; whose temperatures mix sources; with a value that names no source."""

LAG = dt.timedelta(days=31)
"""How far a provider may lag behind before days count as due (common practice)."""

_LEAST_SHARE = 0.9  # of the days due; with fewer a year is short (common practice)
LONGEST_HOLE = 27
"""Largest number of days in a row without a minimum, or a maximum, before a year counts as short: a
month's file may be lost (common practice)."""


# --- one year -----------------------------------------------------------------------------


def _due(year: int, span: Span | None, today: dt.date) -> Span:
    """First and last day of a year that a complete file would have."""
    first, last = dt.date(year, 1, 1), min(dt.date(year, 12, 31), today - LAG)
    if span:
        first = max(first, span[0])
        last = min(last, span[1]) if span[1].year == year else last
    return first, last


def _shortfall(delivered: Mapping[str, np.ndarray], days: np.ndarray, due: Span) -> str:
    """What is missing of the days due, in words; empty if all were delivered, or none.

    A year without any days is absent rather than short, see `_assemble_year`.

    Parameters
    ----------
    delivered : mapping of str to ndarray of bool, shape (days,)
        Days that were delivered, for the minimum and for the maximum.
    days : ndarray of datetime64, shape (days,)
        Days of the year.
    due : (date, date)
        First and last day that a complete year would have.
    """
    first, last = (np.datetime64(day, "D") for day in due)
    expected = (last - first).astype(int) + 1
    if expected < 1 or not any(mask.any() for mask in delivered.values()):
        return ""
    either = days[np.logical_or.reduce([*delivered.values()])]
    if len(either) < _LEAST_SHARE * expected or either[0] > first or either[-1] < last:
        return f"{len(either)} of {expected} days due, {either[0]} to {either[-1]}"
    is_due = (days >= first) & (days <= last)
    for name, mask in delivered.items():
        long_name = VARIABLES[name].long_name
        hole = longest_hole(mask[is_due])
        if not mask.any():
            return f"no {long_name} at all"
        if hole > LONGEST_HOLE:
            return f"{hole} days in a row without a {long_name}"
    return ""


def longest_hole(present: np.ndarray) -> int:
    """Length of the longest run of missing days, shape (days,)."""
    begin, end = true_runs(~present)
    return int((end - begin).max(initial=0))


def _columns(
    frame: pd.DataFrame | None, days: np.ndarray
) -> Iterator[tuple[str, np.ndarray, np.ndarray]]:
    """Name of each variable, with its values and their sources, shape (days,)."""
    for name, column in COLUMNS.items():
        values = np.full(len(days), np.nan)
        sources = np.full(len(days), "", dtype=object)
        if frame is not None:
            present = frame[column].dropna()
            dates = present.index.get_level_values("time").to_numpy().astype("datetime64[D]")
            source = present.index.get_level_values("source")
            at = (dates - days[0]).astype(int)
            values[at] = present.to_numpy(float)
            sources[at] = source.fillna("").astype(str)
        yield name, values, sources


class _Observed(NamedTuple):
    """What was observed in a year; all arrays have the shape (days,)."""

    values: dict[str, np.ndarray]
    """Of each variable, NaN where nothing was observed."""
    marks: dict[str, np.ndarray]
    """The days behind each of the `COUNTS`."""
    delivered: dict[str, np.ndarray]
    """Days on which the minimum, and the maximum, came from any source."""
    sources: set[str]


def _observed_values(
    frame: pd.DataFrame | None, days: np.ndarray, today: dt.date, model: set[str]
) -> _Observed:
    """Observed values of a year, without those of a model and of days that are not over."""
    past = days < np.datetime64(today)
    values = {}
    marks = {count: np.zeros(len(days), dtype=bool) for count in COUNTS}
    temperature_source = np.full(len(days), "", dtype=object)
    used = set[str]()
    delivered: dict[str, np.ndarray] = {}
    for name, own, sources in _columns(frame, days):
        present = ~np.isnan(own)
        # One value may have several sources, separated by spaces.
        parts = {text: set(text.split()) for text in set(sources)}
        from_model = np.isin(sources, [text for text in parts if parts[text] & model])
        modelled = present & past & from_model
        observed = present & past & ~modelled
        marks["future_days"] |= present & ~past
        marks["model_days"] |= modelled
        marks["unsourced_days"] |= observed & (sources == "")
        if name in ("tmin", "tmax"):
            several = np.isin(sources, [text for text in parts if len(parts[text]) > 1])
            differs = (temperature_source != "") & (temperature_source != sources)
            marks["rows"] |= present & past
            delivered[name] = present & past
            marks["mixed_days"] |= observed & (several | differs)
            temperature_source = np.where(observed, sources, temperature_source)
        used = used.union(*(parts[text] for text in set(sources[observed])))
        values[name] = np.where(observed, own, np.nan)
    return _Observed(values, marks, delivered, used)


def _assemble_year(
    year: int, frame: pd.DataFrame | None, due: Span, now: dt.datetime, model: set[str]
) -> xr.Dataset:
    """One year of a record: its daily values and its status.

    `model` are the sources that are not observations.
    """
    days = np.arange(f"{year}-01-01", f"{year + 1}-01-01", dtype="datetime64[D]")
    values, marks, delivered, used = _observed_values(frame, days, now.date(), model)
    fault = _shortfall(delivered, days, due)
    status = SHORT if fault else COMPLETE
    modelled = int(marks["model_days"].sum())
    if not marks["rows"].any():
        status, fault = ABSENT, "the provider has no file, or no temperature in it"
    elif not fault and modelled > (1 - _LEAST_SHARE) * len(days):
        fault = f"{modelled} days are model-filled, and left out"
    numbers: dict[str, Any] = {count: int(mark.sum()) for count, mark in marks.items()}
    numbers |= {"status": status, "retrieved": np.datetime64(now, "s")}
    texts = {"fault": fault, "sources": " ".join(sorted(used))}
    return xr.Dataset(
        {name: ("time", values[name], VARIABLES[name]._asdict()) for name in COLUMNS}
        | {name: ("year", [value]) for name, value in numbers.items()}
        | {name: ("year", np.array([text], dtype=object)) for name, text in texts.items()},
        coords={"time": days.astype("datetime64[s]"), "year": [year]},
    )


# --- many years ---------------------------------------------------------------------------


def _in_parallel(
    work: Callable[[Item], Any], items: Iterable[Item], retry_policy: RetryPolicy
) -> Iterator[tuple[Item, Future[Any]]]:
    """Answers as they arrive, with a few calls at a time; a late answer becomes an error."""
    waiting, running = iter(items), dict[Future[Any], tuple[Item, float]]()
    while True:
        while len(running) < retry_policy.parallel and (item := next(waiting, None)) is not None:
            running[run_in_thread(work, item)] = item, time.monotonic() + retry_policy.timeout
        if not running:
            return
        remaining = min(deadline for _, deadline in running.values()) - time.monotonic()
        wait(running, max(0, remaining), return_when=FIRST_COMPLETED)
        for answer, (item, deadline) in [*running.items()]:
            if answer.done() or deadline <= time.monotonic():
                del running[answer]
                yield item, answer if answer.done() else _late(retry_policy)


def _late(retry_policy: RetryPolicy) -> Future[Any]:
    answer: Future[Any] = Future()
    answer.set_exception(TimeoutError(f"no answer within {as_typed(retry_policy.timeout)} s"))
    return answer


def download_years(
    station: Station,
    years: Iterable[int],
    store: Callable[[xr.Dataset], None],
    *,
    span: Span | None = None,
    now: dt.datetime,
    retry_policy: RetryPolicy = RETRY_POLICY,
) -> None:
    """Download yearly files, a few at a time, and pass each on as soon as it is final.

    Parameters
    ----------
    station : Station
        Whose history.
    years : iterable of int
        Calendar years.
    store : callable
        Takes one year: a Dataset with ``tmin, tmax, tmean, precip`` by `time` (every day of the
        year, observed values only) and, by `year`, its ``status``, ``fault``, ``sources``,
        ``retrieved`` and the `COUNTS`. Called once for each of the years, in no order.
    span : (date, date), optional
        First and last day in the station's inventory; without it every day of a year is due.
    now : datetime
        Current time, UTC; today's values are left out.
    retry_policy : RetryPolicy
        Timeouts and attempts.

    Notes
    -----
    A year that is short of days, or has no file although the inventory has the year, is requested
    again; it is final when two answers agree. If the server never answers, there is no further
    attempt; if it stops answering, the round ends.
    """
    # This loads meteostat, which must not count as waiting for the first answer.
    model = model_sources()
    download = _Download(station, span, now, store, model, dict.fromkeys(years))
    began = time.monotonic()
    for attempt in range(retry_policy.attempts):
        silent = not download.answered and time.monotonic() - began > retry_policy.timeout / 2
        if silent or not download.pending:
            break
        retry_policy.pause(attempt)
        download.run_round(retry_policy)
    download.give_up()


@dataclass(slots=True)
class _Download:
    """The years of one station that are not final yet, each with its best answer so far."""

    station: Station
    span: Span | None
    now: dt.datetime
    store: Callable[[xr.Dataset], None]
    model: set[str]
    pending: dict[int, xr.Dataset | None]
    faults: dict[int, str] = field(default_factory=dict)
    answered: bool = False

    def run_round(self, retry_policy: RetryPolicy) -> None:
        """Request every pending year once; stop if the server no longer answers."""

        def request(year: int) -> pd.DataFrame | None:
            # The wait for a year ends after one timeout, in `_in_parallel`; the connection's own
            # limit is longer, and only ends the thread that was left behind.
            return download_year(self.station.id, year, timeout=2 * retry_policy.timeout)

        silent_in_a_row = 0
        for year, answer in _in_parallel(request, [*self.pending], retry_policy):
            error = answer.exception()
            if error is None:
                self._settle(year, self._assemble(year, answer.result()))
                reached = True
            else:
                self.faults[year], reached = describe_error(error)
            self.answered |= reached
            silent_in_a_row = 0 if reached else silent_in_a_row + 1
            if silent_in_a_row >= retry_policy.parallel:
                return

    def _assemble(self, year: int, frame: pd.DataFrame | None = None) -> xr.Dataset:
        due = _due(year, self.span, self.now.date())
        return _assemble_year(year, frame, due, self.now, self.model)

    def _settle(self, year: int, came: xr.Dataset) -> None:
        """Pass on a year that is complete, or twice the same; else keep the longer answer."""
        before, status, rows = self.pending[year], int(came["status"][0]), int(came["rows"][0])
        expected = self.span is None or self.span[0].year <= year <= self.span[1].year
        alike = before is not None and int(before["rows"][0]) == rows
        if alike or status == COMPLETE or (status == ABSENT and not expected):
            del self.pending[year]
            self.store(came)
        elif before is None or rows > int(before["rows"][0]):
            self.pending[year] = came

    def give_up(self) -> None:
        """Pass on pending years as failed, with their best answer and the reason."""
        for year, came in self.pending.items():
            short = str(came["fault"].values[0]) if came is not None else ""
            reason = self.faults.get(year, "" if short else "not asked for: no connection")
            best = self._assemble(year) if came is None else came
            fault = np.array(["; ".join(filter(None, (short, reason)))], dtype=object)
            self.store(best.assign(status=("year", [FAILED]), fault=("year", fault)))
