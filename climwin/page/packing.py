"""The live chart's numbers as few bytes: what `payload` gives, for a page that is sent by mail.

A notebook's panel is given the same numbers as `climwin.widgets.payload` has them. Here whole
numbers take the place of the longest lists: daily temperatures in hundredths of a degree or less,
outcomes and days. ``js/src/page_numbers.js`` undoes it, to the last bit.
"""

from __future__ import annotations

import base64
import gzip
import json
from collections.abc import Sequence
from typing import Any

import numpy as np
import xarray as xr

from climwin.core.schema import variable
from climwin.core.seasons import by_year
from climwin.widgets.payload import NO_HARVEST

SCALES = (10, 20, 100)
"""Parts of a degree in which temperatures are tried as whole numbers."""
FEW_OTHERS = 0.05
"""Share of days, at most, whose mean is not half of the extremes' sum where these tell it."""
LEAST_CODE = -3
"""The least of the outcomes' codes, see `payload.constants`."""
_PLANES = 3
"""Bytes of a number: the page's whole numbers are below 2 to the power of 24."""


def packed(given: dict[str, Any], daily: xr.Dataset) -> str:
    """All that the live chart needs, as text: gzip in base64.

    Parameters
    ----------
    given : dict
        ``numbers``, ``plans`` and what else the page's script reads; left as it is.
    daily : Dataset, dims (time)
        The record that the numbers are of. [degC]
    """
    arrays = _Arrays()
    record = dict(given["numbers"]["record"])
    del record["running_mean"], record["minimum"]  # worked out again of the daily values
    record["daily"] = _daily(daily, arrays)
    outcomes = [plan["outcomes"] for plan in given["plans"]]
    _add_outcomes(outcomes, arrays)
    plans = [{**plan, "outcomes": _rest(plan["outcomes"])} for plan in given["plans"]]
    head = {
        **given,
        "numbers": {**given["numbers"], "record": record},
        "plans": plans,
        "counts": arrays.counts,
    }
    text = json.dumps(head, separators=(",", ":"), allow_nan=False).encode()
    size = len(text).to_bytes(4, "little")
    raw = size + text + b"".join(arrays.parts)
    return base64.b64encode(gzip.compress(raw, 9, mtime=0)).decode("ascii")


class _Arrays:
    """Arrays of whole numbers one after the other, each as its low bytes, then its higher ones."""

    def __init__(self) -> None:
        self.parts: list[bytes] = []
        self.counts: list[int] = []

    def add(self, values: np.ndarray | Sequence[int]) -> None:
        """Append numbers that are not negative."""
        numbers = np.ascontiguousarray(values, dtype="<u4").ravel()
        by_byte = numbers.view(np.uint8).reshape(-1, 4)[:, :_PLANES]
        self.parts.append(np.ascontiguousarray(by_byte.T).tobytes())
        self.counts.append(len(numbers))

    def add_changes(self, values: np.ndarray) -> None:
        """Append numbers of either sign as how each differs from the one before it."""
        change = np.diff(values.ravel().astype(np.int64), prepend=0)
        self.add(np.where(change < 0, -2 * change - 1, 2 * change))

    def add_with_gaps(self, values: np.ndarray, missing: np.ndarray) -> None:
        """Append numbers some of which are missing: runs there and missing by turns, then changes.

        A missing one is given as the last before it, which costs least.
        """
        flat, gap = values.ravel(), missing.ravel()
        begins = np.flatnonzero(np.diff(gap, prepend=False))
        self.add(np.diff(np.concatenate([[0], begins, [len(gap)]])))
        last_there = np.maximum.accumulate(np.where(gap, -1, np.arange(len(gap))))
        self.add_changes(np.where(last_there < 0, 0, flat[last_there]))


def _daily(daily: xr.Dataset, arrays: _Arrays) -> dict[str, Any]:
    """Append daily minima and means; returns how they are to be read.

    Where means are half of the extremes' sum, maxima tell them.
    """
    tmin, tmean = (by_year(variable(daily, name)).values for name in ("tmin", "tmean"))
    minima = _add_temperatures(tmin, arrays)
    if "tmax" in daily:
        tmax = by_year(variable(daily, "tmax")).values
        half = (tmin + tmax) / 2
        if np.count_nonzero(_differ(half, tmean)) < FEW_OTHERS * tmean.size:
            maxima = _add_temperatures(tmax, arrays)
            return {"tmin": minima, "tmax": maxima, "others": _add_others(half, tmean, arrays)}
    return {"tmin": minima, "tmean": _add_temperatures(tmean, arrays)}


def _add_temperatures(values: np.ndarray, arrays: _Arrays) -> dict[str, Any]:
    """Append temperatures as whole parts of a degree, and apart those that are no such parts."""

    def read(scale: int) -> np.ndarray:
        return np.asarray(np.round(values * scale) / scale)

    scale = min(SCALES, key=lambda each: int(_differ(read(each), values).sum()))
    missing = np.isnan(values)
    whole = np.where(missing, 0, np.round(np.nan_to_num(values) * scale))
    arrays.add_with_gaps(whole, missing)
    return {"scale": scale, "others": _add_others(read(scale), values, arrays)}


def _add_others(read: np.ndarray, values: np.ndarray, arrays: _Arrays) -> str:
    """Append where values are not what will be read; returns the values there, packed."""
    at = np.flatnonzero(_differ(read, values))
    arrays.add_changes(at)
    return base64.b64encode(values.ravel()[at].astype("<f8").tobytes()).decode("ascii")


def _differ(read: np.ndarray, values: np.ndarray) -> np.ndarray:
    return np.asarray((read != values) & ~(np.isnan(read) & np.isnan(values)))


def _add_outcomes(plans: Sequence[dict[str, Any]], arrays: _Arrays) -> None:
    """Append the outcomes of all plans: codes and their runs, days of harvest, and days needed."""
    runs = [np.array(plan["codes"]).reshape(-1, 2) for plan in plans]
    arrays.add([len(each) for each in runs])
    every = np.concatenate([np.empty((0, 2), int), *runs])
    arrays.add(every[:, 0] - LEAST_CODE)
    arrays.add(every[:, 1])
    harvest = np.array([plan["harvest_days"] for plan in plans])
    arrays.add_with_gaps(harvest, harvest == NO_HARVEST)
    # The days outdoors change with the date as the days from it to the harvest do, or not at all.
    needed = np.array([plan["need_days"] for plan in plans])
    arrays.add_changes(needed + np.arange(needed.shape[-1]))


def _rest(outcomes: dict[str, Any]) -> dict[str, Any]:
    """What is left of a plan's outcomes, and short."""
    return {name: outcomes[name] for name in ("draws", "best_dates", "best_date", "best_share")}
