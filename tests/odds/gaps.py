"""How near odds from records with gaps come to those of the same records without: bias, coverage.

Thirty years are put together at random from all the years of a record without gaps, whose counts
are the truth; then days are taken out. Run it as ``python tests/odds/gaps.py [trials]``; real
records stand beside the repository and are left out where they are not. With ``known`` in place of
a number it counts the years that gaps are said not to change, and which of them end otherwise in
the whole record. The tables it prints are in ``GAPS.md``.
"""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import NamedTuple

import numpy as np
import xarray as xr

sys.path.insert(0, str(Path(__file__).parents[1]))

import records
from results import table_head

import climwin as cw
from climwin.core.seasons import by_year, date_of
from climwin.planning.grown import Calendar, grow_plan
from climwin.planning.growth import HARVEST, OPEN
from climwin.planning.site import filled_sites

YEARS = 30
LETTUCE = cw.crop("lettuce")
PLANS = (cw.Plan(cw.crop("pea"), "04-10"), cw.Plan(cw.crop("tomato"), "05-20", 6, "cold frame"))
KNOWN_CROPS = ("pea", "lettuce", "carrot", "tomato", "cucumber", "runner bean")
"""Crops whose known years are counted: hardy and tender, quick and slow."""
EVERY = np.arange(1, 366, 4)
"""Days of the year on which they are sown."""
PLACES = ("Albany_NY", "Wooster_OH", "FortDodge_IA", "Merced_CA", "Dublin_IE")


# --- gaps ---------------------------------------------------------------------------------


def single_days(share: float) -> Callable[[np.ndarray, np.random.Generator], np.ndarray]:
    """Days that are lost each for itself."""
    return lambda time, rng: rng.random(len(time)) < share


def in_spring(time: np.ndarray, rng: np.random.Generator) -> np.ndarray:
    """Twenty days between 20 March and 10 June of every third year."""
    year = time.astype("datetime64[Y]").astype(int) + 1970
    lost = np.zeros(len(time), dtype=bool)
    for first in np.unique(year)[::3]:
        begin = np.datetime64(f"{first}-03-20") + np.timedelta64(int(rng.integers(0, 63)), "D")
        lost |= (time >= begin) & (time < begin + np.timedelta64(20, "D"))
    return lost


GAPS = {
    "none": single_days(0.0),
    "1 %": single_days(0.01),
    "2 %": single_days(0.02),
    "5 %": single_days(0.05),
    "20 days in spring": in_spring,
}


# --- records without gaps -----------------------------------------------------------------


class Years(NamedTuple):
    """Years of 365 days without a gap, shape (years, 365) each, and where they are from. [degC]"""

    tmin: np.ndarray
    tmax: np.ndarray
    latitude: float


def whole_years(daily: xr.Dataset, latitude: float) -> Years:
    """Those years of a record in which no day is missing, or a single one, which is bridged."""
    low, high = (by_year(daily[name]).values for name in ("tmin", "tmax"))
    lost = np.isnan(low + high)
    whole = lost.sum(axis=1) <= 2
    bridged = []
    for grid in (low, high):
        series, known = grid[whole].ravel(), ~np.isnan(grid[whole].ravel())
        place = np.arange(len(series))
        bridged.append(np.interp(place, place[known], series[known]).reshape(-1, 365))
    return Years(*bridged, latitude)


def real(place: str) -> Years:
    """One of the records beside the repository."""
    path = records.SHARED / "records" / f"{place}.csv"
    daily = cw.read_daily(path)
    latitude = {"Albany_NY": 42.7, "Wooster_OH": 40.8, "FortDodge_IA": 42.6, "Merced_CA": 37.3}
    return whole_years(daily, latitude.get(place, 53.4))


def invented(seed: int) -> Years:
    """Four centuries of invented weather, read in whole degF as American stations do."""
    daily = records.weather(seed, 200, mean=9.0, swing=13.0)
    fahrenheit = daily.map(lambda values: ((values * 1.8 + 32).round() - 32) / 1.8)
    return whole_years(fahrenheit.round(1), 44.0)


def glued(years: Years, chosen: np.ndarray) -> xr.Dataset:
    """A record of the chosen years one after another, from 1981 on, without 29 February."""
    day = np.tile(np.arange(1, 366), len(chosen))
    time = date_of(np.repeat(1981 + np.arange(len(chosen)), 365), day)
    low, high = (values[chosen].ravel() for values in (years.tmin, years.tmax))
    daily = records.daily(time, tmin=low, tmax=high, tmean=(low + high) / 2)
    # The 29 February of a leap year repeats the day before it.
    full = np.arange(time[0], time[-1] + np.timedelta64(1, "D"))
    daily = daily.reindex(time=full.astype("datetime64[s]"), method="ffill")
    return daily.assign_attrs(latitude=years.latitude)


# --- answers ------------------------------------------------------------------------------


class Answer(NamedTuple):
    """A share, its interval and how many years lean on draws."""

    share: float
    low: float
    high: float
    leaning: int
    known_share: float
    """The share of the years alone that are known for sure, as it was counted before."""


class Questions(NamedTuple):
    """What is asked of a place: chosen so that about half of its years say yes."""

    freeze_day: int
    need_days: int
    part: str


def questions(daily: xr.Dataset) -> Questions:
    freezes = cw.freeze_dates(daily)["last_spring_day"].quantile(0.6)
    windows = cw.usable_windows(daily, LETTUCE)
    part = "rise" if bool(windows["has_two_windows"]) else "longest"
    length = windows["length"].sel(part=part).quantile(0.5)
    return Questions(int(freezes), max(int(length), 1), part)


def _from_odds(odds: xr.Dataset, count: str) -> Answer:
    known = int(odds["known"])
    return Answer(
        *(float(odds[name]) for name in ("share", "low", "high")),
        int(odds["leaning"]),
        float(odds[count]) / known if known else np.nan,
    )


def answers(daily: xr.Dataset, asked: Questions) -> Iterator[tuple[str, Answer]]:
    """Each question's answer from a record."""
    dates = cw.freeze_dates(daily)
    happened = (dates["last_spring_day"] >= asked.freeze_day).where(
        dates["last_spring_status"] != "unknown"
    )
    drawn = dates["last_spring_drawn"]
    leaning = (dates["last_spring_status"] == "unknown") & drawn.notnull().all("draw")
    share = float((drawn >= asked.freeze_day).where(drawn.notnull()).mean())
    yield "freeze", Answer(share, np.nan, np.nan, int(leaning.sum()), float(happened.mean()))
    windows = cw.usable_windows(daily, LETTUCE)
    yield (
        "window",
        _from_odds(cw.odds_shorter(windows, asked.need_days).sel(part=asked.part), "shorter"),
    )
    for plan in PLANS:
        odds = cw.harvest_odds(cw.evaluate_plan(plan, daily))
        yield plan.crop.name, _from_odds(odds, "harvested")


class Row(NamedTuple):
    """One question asked of one record with gaps."""

    place: str
    gaps: str
    question: str
    full: float
    """Share of the same thirty years without gaps."""
    truth: float
    """Share of all years of the place."""
    answer: Answer


def trials(place: str, years: Years, count: int, seed: int) -> list[Row]:
    """Rows of `count` records of thirty years, each with every kind of gap."""
    rng = np.random.default_rng(seed)
    whole = glued(years, np.arange(len(years.tmin)))
    asked = questions(whole)
    truth = {name: answer.share for name, answer in answers(whole, asked)}
    rows = []
    for _ in range(count):
        daily = glued(years, rng.integers(0, len(years.tmin), YEARS))
        full: dict[str, float] = {}
        for gaps, lose in GAPS.items():
            lost = lose(daily["time"].values.astype("datetime64[D]"), rng)
            gappy = daily.where(xr.DataArray(~lost, dims="time")).assign_attrs(daily.attrs)
            for name in gappy.data_vars:
                gappy[name].attrs = daily[name].attrs
            for name, answer in answers(gappy, asked):
                if gaps == "none":
                    full[name] = answer.share
                rows.append(Row(place, gaps, name, full[name], truth[name], answer))
    return rows


def table(rows: list[Row]) -> list[str]:
    """Bias and coverage by question and kind of gap, as lines of a table."""
    lines = table_head(
        "question", "gaps", "bias", "bias of known years", "leaning", "wide", "holds"
    )
    for question in dict.fromkeys(row.question for row in rows):
        for gaps in GAPS:
            some = [row for row in rows if (row.question, row.gaps) == (question, gaps)]
            off = np.array([row.answer.share - row.full for row in some])
            before = np.array([row.answer.known_share - row.full for row in some])
            wide = np.array([row.answer.high - row.answer.low for row in some])
            holds = np.array(
                [
                    row.answer.low - 1e-9 <= row.truth <= row.answer.high + 1e-9  # odds of 0 and 1
                    for row in some
                ],
                float,
            )
            leaning = np.mean([row.answer.leaning for row in some])
            has = np.isfinite(wide).all()
            lines.append(
                f"| {question} | {gaps} | {off.mean():+.3f} | {np.nanmean(before):+.3f} "
                f"| {leaning:.1f} | {f'{wide.mean():.3f}' if has else ''} "
                f"| {f'{holds.mean():.2f}' if has else ''} |"
            )
    return lines


# --- years that are known -----------------------------------------------------------------


class Known(NamedTuple):
    """Starts that gaps are said not to change, in all years."""

    count: int
    otherwise: int
    """Those that end otherwise in the whole record."""
    left_open: int
    """Starts whose answer hangs on the gaps."""


def known_starts(years: Years, seed: int) -> dict[str, Known]:
    """Counts by kind of gap, over crops and days of sowing, of all years of a place in a row."""
    daily = glued(years, np.arange(len(years.tmin)))
    time = daily["time"].values.astype("datetime64[D]")
    low, high = daily["tmin"].values, daily["tmax"].values
    first, last = (int(str(day)[:4]) for day in time[[0, -1]])
    calendar = Calendar(np.arange(first, last + 1), time[0], len(time))
    rng = np.random.default_rng(seed)
    sites = {}
    for gaps, lose in GAPS.items():
        lost = lose(time, rng)
        with_gaps = (np.where(lost, np.nan, values) for values in (low, high))
        sites[gaps] = filled_sites(time[0], *with_gaps, years.latitude)
    counts = dict.fromkeys(GAPS, np.zeros(3, dtype=int))
    for name in KNOWN_CROPS:
        plan = cw.Plan(cw.crop(name), "05-01")
        reasons = {
            gaps: grow_plan(plan, site, calendar, EVERY).reason for gaps, site in sites.items()
        }
        whole = reasons["none"]
        for gaps, reason in reasons.items():
            known = (reason != OPEN) & (whole != OPEN)
            otherwise = known & ((reason == HARVEST) != (whole == HARVEST))
            left_open = (reason == OPEN) & (whole != OPEN)
            counts[gaps] = counts[gaps] + [known.sum(), otherwise.sum(), left_open.sum()]
    return {gaps: Known(*map(int, each)) for gaps, each in counts.items()}


def known_table(found: list[dict[str, Known]]) -> list[str]:
    """Counts of several places together, as lines of a table."""
    lines = table_head("gaps", "known", "end otherwise", "of 10,000", "left open")
    for gaps in GAPS:
        known, otherwise, left_open = np.sum([each[gaps] for each in found], axis=0)
        rate = 1e4 * otherwise / known
        lines.append(f"| {gaps} | {known:,} | {otherwise} | {rate:.1f} | {left_open:,} |")
    return lines


def main(count: str = "10", seed: str = "0", *names: str) -> None:
    sources: dict[str, Callable[[], Years]] = {
        name: (lambda name=name: real(name))
        for name in PLACES
        if (records.SHARED / "records" / f"{name}.csv").exists()
    }
    sources["invented"] = lambda: invented(1)
    if count == "known":
        found = [known_starts(sources[name](), int(seed)) for name in names or sources]
        print("\n".join(known_table(found)))
        return
    rows = []
    for name in names or sources:
        rows += trials(name, sources[name](), int(count), int(seed))
        print(f"{name}: {count} records", flush=True)
    print("\n".join(table(rows)))


if __name__ == "__main__":
    main(*sys.argv[1:])
