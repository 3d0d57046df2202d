"""How the time grows with stations and with years: in step with them, or faster."""

from __future__ import annotations

from collections.abc import Iterator
from functools import partial

from invented import region
from race import Row, race

from climwin.climate.freeze import freeze_odds
from climwin.climate.percentiles import day_bands
from climwin.climate.windows import usable_windows
from climwin.crops.catalogue import crop
from climwin.planning.plan import Plan
from climwin.planning.sweep import sweep_start_dates

PLANT = crop("cauliflower")
WORK = {
    "day bands": lambda record: day_bands(record["tmean"]),
    "freeze odds": freeze_odds,
    "windows": lambda record: usable_windows(record, PLANT),
    "sweep": lambda record: sweep_start_dates(Plan(PLANT, "04-20"), record),
}
LEAST = 0.8
"""Share of the speed a station, or a year, that more of them may not cost."""


def rows(quick: bool = False) -> Iterator[Row]:
    """Each work on few and many, a station or a year."""
    stations, years, rounds = ((2, 4), (2, 4), 1) if quick else ((40, 400), (20, 160), 3)
    few, many = (region(n, years[0]).load() for n in stations)
    short, long = (region(stations[0], n).load() for n in years)
    for name, work in WORK.items():
        records = {"few": few, "many": many, "short": short, "long": long}
        ways = {key: partial(work, record) for key, record in records.items()}
        times = race(ways, rounds)
        for size, other, counts, what in (
            ("many", "few", stations, "stations"),
            ("long", "short", years, "years"),
        ):
            each = [times[key] / n for key, n in zip((other, size), counts, strict=True)]
            against = f"a share of {counts[0]} {what}"
            work, note = f"{name}, one of {counts[1]} {what}", ""
            if (name, what) == ("day bands", "years"):
                note = "means of tenths are sorted, and more years no longer fit the cache"
            yield Row(work, against, each[1], each[0], LEAST, note=note)
