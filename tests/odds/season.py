"""Look back on long records: what the season so far was worth, and whether its intervals held.

::

    python tests/odds/season.py

For each past year the outlook of a crop is worked out on the first day of each month that it
stands, without that year: its own days until then, and the rest of every other year. What came is
then known. The tables go into ``RESULTS.md`` beside this file. It needs the records that lie
outside the project, in ``../shared``, and takes some minutes of one processor.
"""

from __future__ import annotations

import sys
import time
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise
from pathlib import Path
from typing import NamedTuple

import numpy as np
import xarray as xr

sys.path.insert(0, str(Path(__file__).parents[1]))

from agreement import records
from results import table_head, table_row, write_block

import climwin as cw
from climwin.climate.season import season_so_far
from climwin.core.seasons import ONE_DAY, date_of, day_number
from climwin.core.stats import within_reach
from climwin.planning.growth import HARVEST, OPEN, grow
from climwin.planning.season import spread_of
from climwin.planning.site import FilledSites, filled_sites
from climwin.planning.traces import Joint, TraceSite, lives_in_traces, long_gaps

RESULTS = Path(__file__).parent / "RESULTS.md"

REGIONS = {
    "Albany_NY": "Northeast",
    "Brussels_BE": "Europe",
    "Champion_NE": "Middle West",
    "Clemson_SC": "Southeast",
    "Dublin_IE": "Europe",
    "FortDodge_IA": "Middle West",
    "Gainesville_FL": "Southeast",
    "Indianola_IA": "Middle West",
    "Merced_CA": "California",
    "PrinceGeorge_BC": "British Columbia",
    "SanDiego_CA": "California",
    "Urbana_IL": "Middle West",
    "WilliamHead_BC": "British Columbia",
    "Wooster_OH": "Middle West",
}
"""Records of 30 years or more, and what is drawn together: neighbours share their weather."""
CROPS = ("pea", "snap bean", "potato")
LATEST_YEARS = 31
"""Years of each record that are looked at: what a gardener's record usually holds."""
LEAD_DAYS, AHEAD_DAYS = 100, 280
"""Days before the start, and after the question, of a trace. [day]"""
ELAPSED = (0.0, 0.1, 0.25, 0.5, 0.75, 1.0)
"""Share of the days from the start to the usual harvest that are over when the question is put."""
SOIL_C = 12.0
"""Soil at 5 cm whose date is looked back on. [degC]"""
LEADS = (0, 15, 30, 60, 120)
"""Days until the soil is told to be warm."""
RANKS = 10
RESAMPLES = 1_000
FIRST_OF_MONTHS = {"03-01": 60, "04-01": 91, "05-01": 121, "06-01": 152}


@dataclass(frozen=True)
class Case:
    """One outlook, and what came."""

    place: str
    year: int
    what: str
    elapsed: float
    """Share of the usual time that was over; of warm soil, the days until it was told to come."""
    miss: float = np.nan
    """Days between the middle of the traces and what came."""
    usual_miss: float = np.nan
    """The same of the other years' dates, of those that had not come by then either."""
    held: float = np.nan
    rank: float = np.nan
    """Share of the traces below what came, ties drawn, 0 to 1."""
    square: float = np.nan
    """Squared miss of the odds of a harvest."""
    usual_square: float = np.nan
    width: float = np.nan
    usual_width: float = np.nan
    told: float = np.nan
    came: float = np.nan


class Record(NamedTuple):
    """A record, its site, and the calendar years it holds whole."""

    place: str
    daily: xr.Dataset
    sites: FilledSites
    first: np.datetime64
    years: np.ndarray


def open_record(place: str) -> Record:
    daily = records.load(place, (1900, 2030))
    last = int(daily["time"].dt.year[-1])
    known = daily["tmin"].notnull() & daily["tmax"].notnull()
    by_year = known.groupby("time.year").sum()
    whole = by_year["year"].values[(by_year >= 330).values]
    years = whole[-LATEST_YEARS:]
    daily = daily.sel(time=slice(str(years[0]), str(last)))
    dates = daily["time"].values.astype("datetime64[D]")
    size = int((dates[-1] - dates[0]) / ONE_DAY) + 1
    every_day = np.full((2, size), np.nan)
    place_of = ((dates - dates[0]) / ONE_DAY).astype(int)
    every_day[:, place_of] = daily["tmin"].values, daily["tmax"].values
    sites = filled_sites(dates[0], every_day[0], every_day[1], float(daily.attrs["latitude"]))
    return Record(place, daily, sites, dates[0], years)


def day_of(record: Record, year: int, day: int) -> int:
    return int((date_of(np.array(year), np.array(day))[()] - record.first) / ONE_DAY)


def joint_of(record: Record, year: int, seam: int, start: int) -> Joint:
    """Traces of all other years: the days of this one from the seam on are hidden."""
    others = record.years[record.years != year]
    return Joint(
        record.first,
        seam,
        start - LEAD_DAYS,
        seam + AHEAD_DAYS,
        others - year,
        hidden_until=seam + AHEAD_DAYS,
    )


# --- a crop that stands -------------------------------------------------------------------


def crop_cases(record: Record, plan: cw.Plan) -> Iterator[Case]:
    start_day = day_number(plan.start)
    starts = np.array([day_of(record, int(year), start_day) for year in record.years])
    inside = (starts >= 0) & (starts < len(record.sites.usual))
    life = grow(record.sites.usual, plan.crop, plan.way, starts[inside])
    lost = long_gaps(record.sites.missing)
    days = np.full((2, len(starts)), np.nan)  # to the harvest, to the end whatever it was
    came = np.full(len(starts), np.nan)
    for row, n in enumerate(np.flatnonzero(inside)):
        until = int(life.last[row] if life.reason[row] == HARVEST else life.touched_until[row])
        if life.reason[row] == OPEN or lost[max(starts[n] - 14, 0) : until].any():
            continue
        came[n] = life.reason[row] == HARVEST
        days[0, n] = life.ripe[row] - starts[n] if came[n] else np.nan
        days[1, n] = days[0, n] if came[n] else until - starts[n]
    if np.isfinite(days[0]).sum() < 10:
        return
    usual = float(np.nanmedian(days[0]))
    for n in np.flatnonzero(np.isfinite(came)):
        for month in range(2, 13):
            on = day_of(record, int(record.years[n]), FIRSTS[month])
            gone = on - int(starts[n])
            if 0 < gone < min(usual, days[1, n]):
                yield crop_case(record, plan, int(n), starts, days, came, on, gone / usual)


FIRSTS = {
    month: int(np.datetime64(f"2001-{month:02}-01", "D").astype(object).strftime("%j"))
    for month in range(1, 13)
}


def crop_case(
    record: Record,
    plan: cw.Plan,
    n: int,
    starts: np.ndarray,
    days: np.ndarray,
    came: np.ndarray,
    on: int,
    elapsed: float,
) -> Case:
    year, start = int(record.years[n]), int(starts[n])
    joint = joint_of(record, year, on, start)
    lives = lives_in_traces(plan, record.sites, record.sites.usual, joint, np.array([start]))
    ripe, reason = lives.ripe[:, 0] - start, lives.reason[:, 0]
    gone = on - start
    others = (np.arange(len(starts)) != n) & np.isfinite(came) & (days[1] >= gone)
    usual = days[0][others]
    known = reason != OPEN
    told = float(within_reach((reason == HARVEST).sum() / known.sum(), known.sum()))
    climatology = float(within_reach(np.nansum(came[others]) / others.sum(), others.sum()))
    scores = {
        "square": (told - came[n]) ** 2,
        "usual_square": (climatology - came[n]) ** 2,
        "told": told,
        "came": float(came[n]),
    }
    if came[n] and np.isfinite(ripe).sum() >= 10 and np.isfinite(usual).sum() >= 10:
        scores |= date_scores(ripe, usual, float(days[0, n]), seed=on)
    return Case(record.place, year, plan.crop.name, elapsed, **scores)


def date_scores(told: np.ndarray, usual: np.ndarray, came: float, seed: int) -> dict[str, float]:
    """How dates told, and the usual ones, did against the one that came."""
    low, middle, high = spread_of(told)
    usual_low, usual_middle, usual_high = spread_of(usual)
    there = told[np.isfinite(told)]
    ties = np.random.default_rng(seed).uniform()
    below = (there < came).sum() + ties * ((there == came).sum() + 1)
    return {
        "miss": abs(float(middle) - came),
        "usual_miss": abs(float(usual_middle) - came),
        "held": float(np.floor(low + 0.5) <= came <= np.floor(high + 0.5)),  # as it is shown
        "rank": below / (len(there) + 1),
        "width": float(high - low),
        "usual_width": float(usual_high - usual_low),
    }


# --- warm soil and freezes ----------------------------------------------------------------


def soil_cases(record: Record) -> Iterator[Case]:
    """Date from which the soil at sowing depth has been warm for five days."""
    soil = record.sites.usual.outdoors("bare").soil_sowing
    mean = np.convolve(soil, np.ones(5) / 5, "valid")  # of each five days, by the first
    lost = long_gaps(record.sites.missing)
    came = {}
    for year in record.years.tolist():
        begin = day_of(record, year, 1)
        warm = np.flatnonzero(mean[begin : begin + 200] >= SOIL_C)
        if len(warm) and not lost[begin : begin + int(warm[0]) + 5].any():
            came[year] = int(warm[0]) + 4
    if len(came) < 15:
        return
    for first in FIRST_OF_MONTHS.values():
        for year, day in came.items():
            if day < first - 1:
                continue
            seam = day_of(record, year, first)
            joint = joint_of(record, year, seam, seam - 200)
            site = TraceSite(record.sites.usual, record.sites.usual, joint, *joint.sources(lost))
            soils = site.outdoors("bare").soil_sowing.reshape(site.traces, -1)
            means = np.lib.stride_tricks.sliding_window_view(soils, 5, axis=-1).mean(-1)
            ends = np.arange(joint.begin + 4, joint.end) - day_of(record, year, 1)
            is_warm = (means >= SOIL_C) & (ends >= first - 1)
            told = np.where(is_warm.any(-1), ends[is_warm.argmax(-1)], np.nan)
            usual = np.array([d for y, d in came.items() if y != year and d >= first - 1], float)
            if np.isfinite(told).sum() >= 10 and len(usual) >= 10:
                scores = date_scores(told, usual, float(day), seed=seam)
                ahead = float(np.nanmedian(told)) - (first - 1)
                yield Case(record.place, year, "warm soil", ahead, **scores)


def freeze_cases(record: Record) -> Iterator[Case]:
    """Odds of another freeze in spring, from the first days of months."""
    for name in FIRST_OF_MONTHS:
        for year in record.years[15::2].tolist():
            on = f"{year}-{name}"
            try:
                so_far = season_so_far(record.daily, on=on, threshold=(0.0,))
            except cw.DataGapError:
                continue
            told = float(so_far["odds"].isel(threshold=0).sel(side="last spring"))
            if not np.isfinite(told) or not 0.02 < told < 0.98:
                continue
            after = record.daily["tmin"].sel(time=slice(on, f"{year}-07-15"))
            if after.isnull().mean() > 0.02:
                continue
            came = float((after <= 0.05).any())
            yield Case(
                record.place,
                year,
                f"another freeze, on {name}",
                0.0,
                told=told,
                came=came,
                square=(told - came) ** 2,
            )


# --- summed -------------------------------------------------------------------------------


def gain(cases: Sequence[Case], own: str, usual: str) -> float:
    """Share of the usual misses that the season so far takes away. [%]"""
    pairs = np.array([(getattr(c, own), getattr(c, usual)) for c in cases])
    pairs = pairs[np.isfinite(pairs).all(axis=1)]
    return 100 * (1 - pairs[:, 0].sum() / pairs[:, 1].sum()) if len(pairs) else np.nan


def gain_interval(cases: Sequence[Case], own: str, usual: str, seed: int = 0) -> np.ndarray:
    """5 and 95 % of the gain: regions drawn, and blocks of ten years within them."""
    sums: dict[str, dict[tuple[str, int], np.ndarray]] = {}
    for case in cases:
        pair = np.array([getattr(case, own), getattr(case, usual)])
        if np.isfinite(pair).all():
            blocks = sums.setdefault(REGIONS[case.place], {})
            key = (case.place, case.year // 10)
            blocks[key] = blocks.get(key, np.zeros(2)) + pair
    tables = [np.array([*blocks.values()]) for blocks in sums.values()]
    rng, drawn = np.random.default_rng(seed), []
    for _ in range(RESAMPLES):
        total = np.zeros(2)
        for region in rng.integers(0, len(tables), len(tables)):
            table = tables[region]
            total += table[rng.integers(0, len(table), len(table))].sum(axis=0)
        drawn.append(100 * (1 - total[0] / total[1]))
    return np.quantile(drawn, [0.05, 0.95])


def mean_of(cases: Sequence[Case], name: str) -> float:
    return float(np.nanmean([getattr(case, name) for case in cases]))


def row_of(label: str, cases: Sequence[Case]) -> str:
    dated = [case for case in cases if np.isfinite(case.miss)]
    if len(dated) < 30:
        return ""
    low, high = gain_interval(dated, "miss", "usual_miss")
    cells = [
        label,
        f"{len(dated)}",
        f"{mean_of(dated, 'held'):.2f}",
        f"{mean_of(dated, 'usual_width'):.0f} to {mean_of(dated, 'width'):.0f}",
        f"{mean_of(dated, 'usual_miss'):.1f} to {mean_of(dated, 'miss'):.1f}",
        f"{gain(dated, 'miss', 'usual_miss'):.0f} ({low:.0f} to {high:.0f})",
    ]
    odds = [case for case in cases if np.isfinite(case.usual_square)]
    if odds:
        low, high = gain_interval(odds, "square", "usual_square")
        cells.append(f"{gain(odds, 'square', 'usual_square'):.0f} ({low:.0f} to {high:.0f})")
    else:
        cells.append("")
    return table_row(*cells)


def report(cases: Sequence[Case]) -> list[str]:
    crops = [case for case in cases if case.what in CROPS]
    lines = [
        *table_head(
            "asked",
            "dates",
            "held, of 0.90",
            "interval, usual to now (days)",
            "mean miss, usual to now (days)",
            "gain (%)",
            "odds: Brier gain (%)",
        ),
    ]
    for low, high in pairwise(ELAPSED):
        part = [c for c in crops if low <= c.elapsed < high]
        lines.append(row_of(f"{low:.0%} to {high:.0%} of its time over", part))
    lines += [row_of(name, [c for c in crops if c.what == name]) for name in CROPS]
    lines.append(row_of("all three crops", crops))
    soils = [case for case in cases if case.what == "warm soil"]
    for low, high in pairwise(LEADS):
        part = [c for c in soils if low <= c.elapsed < high]
        lines.append(row_of(f"soil of {SOIL_C:g} degC, {low} to {high} days ahead", part))
    lines = [line for line in lines if line]
    ranks = np.array([case.rank for case in crops if np.isfinite(case.rank)])
    counts = np.histogram(ranks, RANKS, (0, 1))[0]
    # Questions of one year and place are one year's luck: the noise is that of years.
    seasons = len({(c.place, c.year, c.what) for c in crops if np.isfinite(c.rank)})
    noise = np.sqrt(seasons * (1 / RANKS) * (1 - 1 / RANKS)) * len(ranks) / seasons
    lines += [
        "",
        "Rank of the harvest that came among the traces, in tenths: "
        f"{', '.join(map(str, counts))}; flat would be {len(ranks) / RANKS:.0f} each, "
        f"give or take {noise:.0f} for {seasons} lives.",
        "",
        *table_head("another freeze of 0 degC, asked on", "cases", "told", "came", "Brier score"),
    ]
    for name in FIRST_OF_MONTHS:
        part = [c for c in cases if c.what == f"another freeze, on {name}"]
        if part:
            told, came, score = (mean_of(part, each) for each in ("told", "came", "square"))
            lines.append(f"| {name} | {len(part)} | {told:.2f} | {came:.2f} | {score:.3f} |")
    return lines


def cases_of(place: str, crops: Sequence[str] = CROPS) -> list[Case]:
    record = open_record(place)
    out: list[Case] = []
    for name in crops:
        plan = cw.at_best_date(cw.Plan(cw.crop(name), "04-10"), record.daily)
        out += crop_cases(record, plan)
    out += soil_cases(record)
    out += freeze_cases(record)
    return out


def main() -> None:
    began, cases = time.process_time(), []
    for place in REGIONS:
        cases += cases_of(place)
        print(f"{place}: {len(cases)} cases, {time.process_time() - began:.0f} s", flush=True)
    lines = report(cases)
    print(*lines, sep="\n")
    write_block(RESULTS, "season", lines)


if __name__ == "__main__":
    main()
