"""How near odds of joined records come to those of the whole record, against leaving the gaps.

Thirty years are put together at random from the years of a real station that miss nothing, and the
same years of its neighbour beside them; the first record of each pair is the station's own years in
their order. Whole stretches are then taken out, and the odds are asked of the record with its gaps
drawn from the days around them, and of the record joined with its neighbour. Run it as
``python tests/odds/joining.py [trials [seed [level ...]]]``; the real records stand beside the
repository. The table it prints is in ``JOINING.md``.
"""

from __future__ import annotations

import sys
import warnings
from collections.abc import Iterator, Sequence
from itertools import permutations
from pathlib import Path
from typing import NamedTuple

import numpy as np
import xarray as xr

sys.path.insert(0, str(Path(__file__).parents[1]))

import records
from results import table_head

import climwin as cw
from climwin.core.errors import DataGapError
from climwin.core.seasons import by_year, date_of

YEARS = 30
LETTUCE = cw.crop("lettuce")
PLACES = (
    "Urbana_IL",
    "Indianola_IA",
    "FortDodge_IA",
    "Wooster_OH",
    "Champion_NE",
    "Dublin_IE",
    "Merced_CA",
)
HELD_OUT = (("Brussels_BE", "KleinAltendorf_DE"), ("KleinAltendorf_DE", "Brussels_BE"))
"""The only other pair near enough to be joined: no limit was chosen on it. It has eight years in
common."""
LEVELS = (0.05, 0.1, 0.2, 0.3, 0.4)
"""Shares of the days that are lost."""
THRESHOLDS = (-4.0, 0.0, 4.0)
SHARES = (0.25, 0.5, 0.75)
"""Odds of the limits that are asked about, by the whole record."""
MOST_LOST = 20
"""Days that a year may miss to be one of those that records are put together from."""
EVENTS = {"last_spring": 1, "first_autumn": -1}
"""Freezes, and whether a later (1) or an earlier day (-1) is the one to fear."""
NAMES = ("tmin", "tmax")


# --- pairs --------------------------------------------------------------------------------


class Pair(NamedTuple):
    """Years of 365 days of a station, without a gap, and of its neighbour, shape (years, 365)."""

    own: dict[str, np.ndarray]
    nearby: dict[str, np.ndarray]


def real(place: str) -> xr.Dataset:
    """One of the records beside the repository, from 1985 to 2014."""
    daily = cw.read_daily(records.SHARED / "records" / f"{place}.csv")
    return daily.sel(time=slice("1985-01-01", "2014-12-31")).assign_attrs(station_name=place)


def paired(own: xr.Dataset, nearby: xr.Dataset) -> Pair:
    """Those years of a station that miss few days; they are filled by one draw, without neighbour.

    Years that miss nothing would be five at Indianola, too few to draw thirty from: all odds would
    then be steps of a fifth.
    """
    here, there = ({name: by_year(record[name]) for name in NAMES} for record in (own, nearby))
    year = np.intersect1d(here["tmin"]["year"], there["tmin"]["year"])
    lost = sum(np.isnan(here[name].sel(year=year).values).sum(axis=1) for name in NAMES)
    year = year[np.asarray(lost) <= 2 * MOST_LOST]
    filled = cw.draw_gaps(own, draws=1).isel(draw=0)
    whole = {name: by_year(filled[name]).sel(year=year).values for name in NAMES}
    return Pair(whole, {name: grid.reindex(year=year).values for name, grid in there.items()})


def glued(grids: dict[str, np.ndarray], chosen: np.ndarray, name: str) -> xr.Dataset:
    """A record of the chosen years one after another, from 1981 on."""
    time = date_of(
        np.repeat(1981 + np.arange(len(chosen)), 365), np.tile(np.arange(1, 366), len(chosen))
    )
    low, high = (grids[each][chosen].ravel() for each in NAMES)
    daily = records.daily(time, tmin=low, tmax=high, tmean=(low + high) / 2)
    full = np.arange(time[0], time[-1] + np.timedelta64(1, "D"))
    whole = daily.reindex(time=full.astype("datetime64[s]"), method="ffill", tolerance="1D")
    return whole.assign_attrs(station_name=name)


def losing(daily: xr.Dataset, share: float, rng: np.random.Generator) -> xr.Dataset:
    """The record without stretches of 10 to 400 days, short ones more often, up to a share."""
    days = daily.sizes["time"]
    lost = np.zeros(days, dtype=bool)
    while lost.mean() < share:
        length = int(np.exp(rng.uniform(np.log(10), np.log(400))))
        first = int(rng.integers(-length, days))
        lost[max(first, 0) : first + length] = True
    out = daily.where(xr.DataArray(~lost, dims="time", coords={"time": daily["time"]}))
    for name in out:
        out[name].attrs = daily[name].attrs
    return out


# --- answers ------------------------------------------------------------------------------


class Answers(NamedTuple):
    """Odds of all questions, with the ends of their 90 % intervals; shape (questions,) each."""

    share: np.ndarray
    low: np.ndarray
    high: np.ndarray


def limits(daily: xr.Dataset) -> dict[str, np.ndarray]:
    """What is asked of a place: days by event, shape (thresholds, shares), and days of a window."""
    dates = cw.freeze_dates(daily, THRESHOLDS)
    asked = {}
    for event, side in EVENTS.items():
        shares = [1 - share if side > 0 else share for share in SHARES]
        days = dates[f"{event}_day"].quantile(shares, dim="season").transpose("threshold", ...)
        asked[event] = days.values.round()
    length = cw.usable_windows(daily, LETTUCE)["length"].sel(part="longest")
    asked["window"] = length.quantile(list(SHARES)).values.round()
    return asked


def answers(daily: xr.Dataset, asked: dict[str, np.ndarray]) -> Answers:
    """The odds of a record."""
    rows: list[tuple[float, float, float]] = []
    dates = cw.freeze_dates(daily, THRESHOLDS)
    chance = cw.freeze_chance(dates)
    for event in EVENTS:
        for place in range(len(THRESHOLDS)):
            of_threshold = chance.isel(threshold=place)
            for day in asked[event][place]:
                at = of_threshold.sel(day_of_year=(int(day) - 1) % 365 + 1)
                ends = (float(at[f"{event}_{end}"]) for end in ("low", "high"))
                rows.append((float(at[f"{event}_share"]), *ends))
    windows = cw.usable_windows(daily, LETTUCE)
    for need in asked["window"]:
        odds = cw.odds_shorter(windows, int(max(need, 1))).sel(part="longest")
        rows.append(tuple(float(odds[name]) for name in ("share", "low", "high")))
    return Answers(*np.array(rows).T)


class Row(NamedTuple):
    """One record of one pair at one level."""

    pair: tuple[str, str]
    level: float
    full: np.ndarray
    """Odds of the same record without gaps."""
    truth: np.ndarray
    """Odds of all years of the station."""
    whole: Answers
    gappy: Answers
    joined: Answers


def trials(
    names: tuple[str, str], pair: Pair, count: int, seed: int, levels: Sequence[float] = LEVELS
) -> Iterator[Row]:
    """Records of one pair, each at every level."""
    rng = np.random.default_rng(seed)
    years = len(pair.own["tmin"])
    whole = glued(pair.own, np.arange(years), names[0])
    asked = limits(whole)
    truth = answers(whole, asked).share
    for number in range(count):
        chosen = np.arange(years) if number == 0 else rng.integers(0, years, YEARS)
        own, nearby = (glued(grids, chosen, name) for grids, name in zip(pair, names, strict=True))
        full = answers(own, asked)
        for level in levels:
            gappy = losing(own, level, rng)
            try:
                joined = cw.join_stations(gappy, nearby)
            except DataGapError:  # refused in this record: its gaps are left
                print(f"{' beside '.join(names)}: refused at {level:.0%}", flush=True)
                joined = gappy
            yield Row(
                names, level, full.share, truth, full, answers(gappy, asked), answers(joined, asked)
            )


# --- the table ----------------------------------------------------------------------------


def misses(rows: Sequence[Row], which: str) -> float:
    """Mean distance of the odds from those of the whole record."""
    return float(np.mean([np.abs(getattr(row, which).share - row.full) for row in rows]))


def bias(rows: Sequence[Row], which: str) -> float:
    return float(np.mean([getattr(row, which).share - row.full for row in rows]))


def holds(rows: Sequence[Row], which: str) -> float:
    """How often the interval holds the odds of all years."""
    inside = [
        (getattr(row, which).low <= row.truth) & (row.truth <= getattr(row, which).high)
        for row in rows
    ]
    return float(np.mean(inside))


def width(rows: Sequence[Row], which: str) -> float:
    return float(np.mean([getattr(row, which).high - getattr(row, which).low for row in rows]))


def is_as_close(rows: Sequence[Row]) -> bool:
    """Whether joined odds of a cell miss those of the whole record no more than with gaps left."""
    return misses(rows, "joined") <= misses(rows, "gappy")


def table(rows: Sequence[Row]) -> list[str]:
    """Lines of the table: a line for each pair, then for each level."""
    lines = table_head(
        "what",
        *("missed: gaps left", "missed: joined", "cells as close"),
        *("bias: gaps left", "bias: joined"),
        *("interval holds: whole", "gaps left", "joined"),
        *("wide: whole", "joined"),
    )
    pairs = list(dict.fromkeys(row.pair for row in rows))
    levels = list(dict.fromkeys(row.level for row in rows))

    def line(label: str, some: Sequence[Row]) -> str:
        cells = [
            [row for row in some if (row.pair, row.level) == (pair, level)]
            for pair in pairs
            for level in levels
        ]
        close = [is_as_close(cell) for cell in cells if cell]
        # The record in its own order is the truth itself: it says nothing of intervals.
        sampled = [row for row in some if not np.array_equal(row.full, row.truth)] or some
        return (
            f"| {label} | {misses(some, 'gappy'):.3f} | {misses(some, 'joined'):.3f} "
            f"| {sum(close)} of {len(close)} "
            f"| {bias(some, 'gappy'):+.3f} | {bias(some, 'joined'):+.3f} "
            f"| {holds(sampled, 'whole'):.2f} | {holds(sampled, 'gappy'):.2f} "
            f"| {holds(sampled, 'joined'):.2f} "
            f"| {width(sampled, 'whole'):.3f} | {width(sampled, 'joined'):.3f} |"
        )

    of_pairs = [
        line(" beside ".join(pair), [row for row in rows if row.pair == pair]) for pair in pairs
    ]
    of_levels = [
        line(f"{level:.0%} lost", [row for row in rows if row.level == level]) for level in levels
    ]
    return [*lines, *of_pairs, *of_levels, line("all", rows)]


def main(count: int = 3, seed: int = 0, *percent: int) -> None:
    """Print the table, of the levels named in per cent, or of all."""
    levels = [each / 100 for each in percent] or LEVELS
    warnings.simplefilter("ignore")
    held_out = dict.fromkeys(place for pair in HELD_OUT for place in pair)
    daily = {place: real(place) for place in (*PLACES, *held_out)}
    rows: list[Row] = []
    refused = []
    for own, nearby in (*permutations(PLACES, 2), *HELD_OUT):
        try:
            cw.join_stations(daily[own], daily[nearby])
        except DataGapError:
            refused.append(f"{own} beside {nearby}")
            continue
        pair = paired(daily[own], daily[nearby])
        of_pair = list(trials((own, nearby), pair, count, seed, levels))
        rows += of_pair
        print(f"{own} beside {nearby}: {len(pair.own['tmin'])} years", flush=True)
        print(table(of_pair)[2], flush=True)
    print("\n".join(table([row for row in rows if row.pair not in HELD_OUT])))
    print("\n".join(table([row for row in rows if row.pair in HELD_OUT])))
    print(f"refused: {len(refused)}: {', '.join(refused)}")


if __name__ == "__main__":
    main(*(int(text) for text in sys.argv[1:]))
