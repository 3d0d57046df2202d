"""How best dates are judged: years of real records, shuffled, whose other years say what is true.

::

    python tests/odds/chosen.py

prints a table and writes it into ``RESULTS.md`` beside this file. It needs the records that lie
outside the project, in ``../shared``, and takes some minutes.

A date is chosen and judged from some years of a record, drawn at random and in random order; the
truth is its share of harvests in all other years. No climate changes between the two, so what is
left is the bias of the rule alone.
"""

from __future__ import annotations

import sys
from collections.abc import Iterator
from pathlib import Path
from typing import NamedTuple
from unittest.mock import patch

import numpy as np

sys.path.insert(0, str(Path(__file__).parents[1]))

from agreement import records
from hindcast import REGIONS
from results import table_head, table_row, write_block

import climwin as cw
from climwin.planning import counts, selection, spans, sweep

RESULTS = Path(__file__).parent / "RESULTS.md"
YEARS = (10, 15, 20, 30)
RULES = {
    "its own years": None,
    "years left out": 0.0,
    "used: half of what fewer years cost": 0.5,
    "all of it": 1.0,
}
"""Share of what a choice from fewer years costs that is added to the judgement."""
OFTEN = (0.15, 0.93)
"""Odds of the best date between which a crop is asked for: surer ones are judged alike by all."""
CROPS = (
    "artichoke",
    "basil",
    "cape gooseberry",
    "cardoon",
    "celeriac",
    "celery",
    "cowpea",
    "cucumber",
    "eggplant",
    "garlic",
    "hot pepper",
    "muskmelon",
    "okra",
    "onion",
    "runner bean",
    "soybean",
    "sweet pepper",
    "sweet potato",
    "tomato",
    "watermelon",
)
SETS = 150
"""Sets of years drawn for each crop and number of years."""


class Lives(NamedTuple):
    """What came of each start of each year of a crop, shape (seasons, 365), and what stays put."""

    harvested: np.ndarray
    growth: np.ndarray
    made: np.ndarray
    answered: np.ndarray
    life_days: np.ndarray
    turns: tuple[int, int]

    def of(self, rows: np.ndarray) -> Lives:
        return Lives(*(each[rows] for each in self[:4]), *self[4:])


def grown(place: str) -> Iterator[tuple[str, Lives]]:
    """Crops of a place whose best date fails in some years, but not in most."""
    daily = records.load(place, (1850, 2100))
    for name in CROPS:
        plan = cw.Plan(cw.crop(name), "05-01")
        with patch.object(counts, "_over_draws", wraps=counts._over_draws) as over_draws:
            swept = sweep.sweep_plans([plan], daily, with_band=False).isel(plan=0)
        by_year = over_draws.call_args.args[1]
        life = (swept["harvest_day"].sel(quantile=0.5) - swept["start_day"]).values
        turns = int(swept["coldest"]), int(swept["warmest"])
        known = by_year.answered.mean(axis=1) > 0.99
        lives = Lives(*(np.asarray(each, float)[known] for each in by_year), life, turns)
        if OFTEN[0] < lives.harvested.mean(axis=0).max() < OFTEN[1]:
            yield name, lives


def told(lives: Lives, crop: cw.Crop) -> tuple[int, list[float]]:
    """The best day, counted from 0, and its odds by each rule."""
    blocks = selection.Blocks(
        *map(selection.sums_by_block, (lives.harvested, lives.answered, lives.made, lives.growth))
    )
    whole = [each.sum(axis=-1) for each in blocks]
    share, worth = (each / np.maximum(whole[1], 1) for each in (whole[0], whole[2]))
    growth = whole[3] / np.maximum(whole[0], 1e-9)
    odds = []
    for added in RULES.values():
        with patch.object(selection, "FEWER_YEARS", added or 0.0):
            choice = spans.choose_dates(
                share,
                growth,
                worth,
                lives.life_days,
                blocks,
                *lives.turns,
                needs_winter=spans.needs_winter(crop),
                is_cool=crop.season == "cool",
                is_warm=spans.lives_one_summer(crop),
            )
        day = int(choice.best) - 1
        odds.append(share[day] if added is None else choice.harvested / choice.known)
    return day, odds


def misses() -> dict[int, np.ndarray]:
    """By number of years, what each rule told less the truth, shape (crops, sets, rules)."""
    rng = np.random.default_rng(1)
    out: dict[int, list[np.ndarray]] = {years: [] for years in YEARS}
    for place in REGIONS:
        for name, lives in grown(place):
            for years in YEARS:
                rows = []
                for _ in range(SETS):
                    drawn = rng.permutation(len(lives.made))
                    day, odds = told(lives.of(drawn[:years]), cw.crop(name))
                    others = lives.of(drawn[years:])
                    came = others.harvested[:, day].sum() / others.answered[:, day].sum()
                    rows.append(np.array(odds) - came)
                out[years].append(np.array(rows))
            print(place, name, len(lives.made), flush=True)
    return {years: 100 * np.array(rows) for years, rows in out.items()}


def report() -> str:
    """The table as Markdown; crops weigh alike."""
    found = misses()
    crops = len(found[YEARS[0]])
    lines = [
        "## Best dates judged, on real records whose years are shuffled",
        "",
        f"Made by `python tests/odds/chosen.py`: {crops} crops whose best date fails in some years "
        f"at {len(REGIONS)} places, {SETS} sets of years each. The best date of a set, judged by "
        "each rule, less its share of harvests in all other years: bias with its standard error "
        "over the crops, and root mean square miss. [points]",
        "",
        *table_head("years", *RULES),
    ]
    for years, miss in found.items():
        means = miss.mean(axis=1)
        error = means.std(axis=0, ddof=1) / np.sqrt(crops)
        square = np.sqrt((miss**2).mean(axis=(0, 1)))
        texts = [
            f"{bias:+.1f} ± {of:.1f}, {size:.1f}"
            for bias, of, size in zip(means.mean(axis=0), error, square, strict=True)
        ]
        lines.append(table_row(years, *texts))
    return "\n".join(lines)


def main() -> None:
    """Print the table, and write it down."""
    if not records.RECORDS.is_dir():
        sys.exit(f"The records are not here: {records.RECORDS} is missing.")
    text = report()
    print(text)
    write_block(RESULTS, "chosen", text)


if __name__ == "__main__":
    main()
