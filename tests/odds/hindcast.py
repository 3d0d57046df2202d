"""Look back on all long records at hand, and write which odds would have been the better ones.

::

    python tests/odds/hindcast.py

prints the tables and writes them into ``RESULTS.md`` beside this file. It needs the records that
lie outside the project, in ``../shared``. With ``--plans`` harvests are looked at too, and with
``--steps`` two other rules for records with a sudden step; each takes a minute or more. With
``--keep FOLDER`` each record is written there once it has been looked back on, and a run that was
stopped goes on from there. Empty the folder where the methods have changed.
"""

from __future__ import annotations

import argparse
import sys
import time
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import NamedTuple
from unittest.mock import patch

import numpy as np
import xarray as xr

sys.path.insert(0, str(Path(__file__).parents[1]))

from agreement import records
from results import table_head, table_row, write_block

import climwin as cw
from climwin.climate import hindcast as looking_back
from climwin.climate.breakpoints import BREAK_P, sudden_step, yearly_means
from climwin.climate.hindcast import FIRST_YEARS, RULES, hindcast
from climwin.climate.level import (
    LEAST_LEVEL_YEARS,
    NO_SHIFT,
    Shift,
    leading_climate,
    level_shift,
)
from climwin.core.stats import (
    COUNTED_YEAR,
    KINDS,
    next_interval,
    next_worth,
    within_reach,
)

RESULTS = Path(__file__).parent / "RESULTS.md"

REGIONS = {
    "Albany_NY": "Northeast",
    "Clemson_SC": "Southeast",
    "Gainesville_FL": "Southeast",
    "Merced_CA": "California",
    "SanDiego_CA": "California",
    "Dublin_IE": "Ireland",
}
"""Records of 40 known years or more, and what is drawn together: neighbours share their weather."""
RESAMPLES = 1_000
FREEZES = ("spring freeze", "autumn freeze", "freeze-free days")
MILD_C = 0.0
"""Mean minimum of the coldest month above which a place counts as mild. [degC]"""


class Cell(NamedTuple):
    """Squared misses and cases of one record, decade of the years that came, and kind."""

    place: str
    decade: int
    kind: str
    squares: np.ndarray
    """Shape (rules,)."""
    cases: int


# --- scores -------------------------------------------------------------------------------


def cells_of(place: str, out: xr.Dataset) -> Iterator[Cell]:
    """Scores of one record's hindcast, from what was told and what came."""
    miss = (out["odds_given"] - out["above"]).transpose("rule", "year", "ahead", "question").values
    decade = (out["year"].values[:, None] + out["ahead"].values) // 10
    for kind in dict.fromkeys(out["kind_of"].values.tolist()):
        of_kind = miss[..., out["kind_of"].values == kind]
        for each in np.unique(decade):
            part = of_kind[:, decade == each]
            known = np.isfinite(part).all(axis=0)
            if known.any():
                squares = (part[:, known] ** 2).sum(axis=1)
                yield Cell(place, int(each), kind, squares, int(known.sum()))


def skill(cells: Sequence[Cell], kinds: Sequence[str]) -> np.ndarray:
    """Share of the first rule's Brier score that each takes away, kinds weighing alike. [%]"""
    found = []
    for kind in kinds:
        squares = [cell.squares for cell in cells if cell.kind == kind]
        if squares:
            total = np.sum(squares, axis=0)
            found.append(100 * (1 - total / total[0]))
    return np.mean(found, axis=0) if found else np.full(len(RULES), np.nan)


def bootstrap(cells: Sequence[Cell], kinds: Sequence[str]) -> np.ndarray:
    """5 and 95 % of the skill, shape (2, rules)."""
    return np.nanquantile(resampled(cells, kinds), [0.05, 0.95], axis=0)


def resampled(cells: Sequence[Cell], kinds: Sequence[str], seed: int = 0) -> np.ndarray:
    """Skill in each resample, shape (resamples, rules): regions drawn, and decades within them."""
    rng = np.random.default_rng(seed)
    regions = sorted({REGIONS[cell.place] for cell in cells})
    blocks = {
        region: sorted({(c.place, c.decade) for c in cells if REGIONS[c.place] == region})
        for region in regions
    }
    by_block: dict[tuple[str, int], list[Cell]] = {}
    for cell in cells:
        by_block.setdefault((cell.place, cell.decade), []).append(cell)
    drawn = []
    for _ in range(RESAMPLES):
        chosen: list[Cell] = []
        for region in rng.choice(regions, len(regions)):
            own = blocks[region]
            for number in rng.integers(0, len(own), len(own)):
                chosen += by_block[own[number]]
        drawn.append(skill(chosen, kinds))
    return np.array(drawn)


def told(cells: Sequence[Cell], kinds: Sequence[str], rule: str) -> str:
    """Skill of a rule with its interval."""
    number = RULES.index(rule)
    low, high = bootstrap(cells, kinds)[:, number]
    return f"{skill(cells, kinds)[number]:.1f} ({low:.1f}..{high:.1f})"


def is_mild(daily: xr.Dataset) -> bool:
    """Whether the coldest month's mean minimum lies above `MILD_C`."""
    return bool(daily["tmin"].groupby("time.month").mean().min() > MILD_C)


# --- the worth of years -------------------------------------------------------------------


def fitted_drift(outs: Sequence[xr.Dataset], kind: str, rule: str) -> float:
    """The drift under which what came in the next ten years was likeliest, over all records."""
    from scipy.stats import betabinom

    tried = np.array([2, 3, 4, 5, 6, 8, 10, 12, 15, 20, 25, 30, 40, 60, 100, 300])
    total = np.zeros(len(tried))
    for out in outs:
        these = (out["followed"] >= 8) & (out["kind_of"] == kind)
        odds = out["odds_given"].sel(rule=rule).where(these).values
        years = np.arange(odds.shape[0])[:, None] + out.attrs["first_years"]
        there = np.isfinite(odds)
        p, n = odds[there], np.broadcast_to(years, odds.shape)[there]
        came, followed = (out[name].values[there] for name in ("came", "followed"))
        for number, drift in enumerate(tried):
            worth = n * drift / (n + drift)
            chances = betabinom.pmf(came, followed, p * worth + 0.5, (1 - p) * worth + 0.5)
            total[number] += np.log(chances).sum()
    return float(tried[total.argmax()])


# --- looked back --------------------------------------------------------------------------


def looked_back(
    dailies: dict[str, xr.Dataset], keep: Path | None, rule: str = "used"
) -> dict[str, xr.Dataset]:
    """The hindcast of each record, read from the folder `keep` where an earlier run left it."""
    outs = {}
    for place, daily in dailies.items():
        file = keep / f"{place}-{rule}.nc" if keep else None
        if file and file.exists():
            outs[place] = xr.load_dataset(file)
            continue
        began = time.monotonic()
        outs[place] = hindcast(daily)
        if file:
            file.parent.mkdir(parents=True, exist_ok=True)
            outs[place].to_netcdf(file)
        print(f"{place}, {rule}: {time.monotonic() - began:.0f} s", file=sys.stderr, flush=True)
    return outs


def has_step(daily: xr.Dataset) -> bool:
    """Whether a sudden step was clear at any year of asking, in either extreme."""
    means = [yearly_means(daily[name]) for name in ("tmin", "tmax")]
    known = np.isfinite(means[0].values) & np.isfinite(means[1].values)
    year = means[0]["year"].values[known].astype(float)
    for level in (each.values[known] for each in means):
        for count in range(FIRST_YEARS, len(year)):
            until = year[:count], level[:count]
            change = sudden_step(*until, beside_trend=True, enough_p=BREAK_P)
            if change.is_step and change.p < BREAK_P:
                return True
    return False


# --- tables -------------------------------------------------------------------------------


def report(*, plans: bool, steps: bool, keep: Path | None) -> Iterator[str]:
    """Lines of the report."""
    dailies = {place: records.load(place, (1850, 2100)) for place in REGIONS}
    outs = looked_back(dailies, keep)
    cells = [cell for place, out in outs.items() for cell in cells_of(place, out)]
    kinds = list(dict.fromkeys(cell.kind for cell in cells))
    yield "## Had you asked then: the hindcast"
    yield ""
    asked = sum(out.sizes["year"] for out in outs.values())
    yield (
        f"Made by `python tests/odds/hindcast.py`. {len(outs)} records of 40 known years or more, "
        f"{asked} years of asking, each with 30 known years or more before it; what came in the "
        "ten years after. Limits at 10 to 90 % of each record. Skill: share of the Brier score of "
        "the plain count of the latest 30 years that a rule takes away, in %, kinds weighing "
        f"alike; in brackets 5 to 95 % of a bootstrap of {len(set(REGIONS.values()))} regions and "
        "their decades. With so few regions the intervals are rough."
    )
    yield ""
    yield from by_kind(cells, outs, kinds)
    yield ""
    yield from by_place(cells, kinds, dailies)
    yield ""
    yield from which_leads(cells, kinds, dailies)
    yield ""
    if steps:
        yield from by_step(dailies, outs, kinds, keep)
        yield ""
    yield from worths(list(outs.values()))
    yield ""
    yield from rare(outs)
    if plans:
        yield ""
        yield from harvests(dailies)


def by_kind(
    cells: Sequence[Cell], outs: dict[str, xr.Dataset], kinds: Sequence[str]
) -> Iterator[str]:
    yield "### Skill, and intervals of the next ten years, by kind of event"
    yield ""
    yield from table_head(
        "kind",
        *("all years, smoothed", "the same moved to today's level"),
        *("intervals held: count by Wilson", "all years", "today's"),
    )
    groups = [(kind, [kind]) for kind in kinds] + [("freezes", list(FREEZES)), ("all", kinds)]
    for name, group in groups:
        held = [share_held(outs.values(), group, rule) for rule in RULES]
        skills = (told(cells, group, climate) for climate in ("record", "today"))
        yield table_row(name, *skills, *(f"{each:.2f}" for each in held))


def share_held(outs: Sequence[xr.Dataset], kinds: Sequence[str], rule: str) -> float:
    """Share of the next-ten-years intervals that held."""
    inside = judged = 0.0
    for out in outs:
        these = (out["followed"] >= 8) & out["kind_of"].isin(list(kinds))
        low, high = (out[f"next_{end}"].sel(rule=rule) for end in ("low", "high"))
        inside += float(((low <= out["came"]) & (out["came"] <= high)).where(these).sum())
        judged += float(these.sum())
    return inside / judged


def by_place(
    cells: Sequence[Cell], kinds: Sequence[str], dailies: dict[str, xr.Dataset]
) -> Iterator[str]:
    yield "### By place: today's level"
    yield ""
    yield from table_head("place", "freezes", "windows, heat and hot days", "all")
    others = [kind for kind in kinds if kind not in FREEZES]
    mild = {place for place, daily in dailies.items() if is_mild(daily)}
    for place in dailies:
        own = [cell for cell in cells if cell.place == place]
        scores = [skill(own, group)[RULES.index("today")] for group in (FREEZES, others, kinds)]
        name = f"{place}{', mild' if place in mild else ''}"
        told_of = [f"{each:.1f}" if np.isfinite(each) else "none there" for each in scores]
        yield table_row(name, *told_of)
    own = [cell for cell in cells if cell.place in mild]
    yield (
        f"| mild places together | {told(own, FREEZES, 'today')}; all years as they were "
        f"{told(own, FREEZES, 'record')} | {told(own, others, 'today')} | "
        f"{told(own, kinds, 'today')} |"
    )


def which_leads(
    cells: Sequence[Cell], kinds: Sequence[str], dailies: dict[str, xr.Dataset]
) -> Iterator[str]:
    """Which climate the library leads with, and by how much its odds were the better ones."""
    yield "### Which leads"
    yield ""
    yield (
        "What `leading_climate` answers for these records. Gain: skill of today's odds less that "
        "of all years as they were; proven where the interval of the gain leaves out 0."
    )
    yield ""
    yield from table_head("kind", "places", "leads", "gain of today's", "proven")
    mild = {place for place, daily in dailies.items() if is_mild(daily)}
    today, record = RULES.index("today"), RULES.index("record")
    for kind in kinds:
        for name, places in (("mild", mild), ("others", set(dailies) - mild)):
            own = [cell for cell in cells if cell.place in places]
            gain = skill(own, [kind])
            if not np.isfinite(gain).all():
                continue
            leads = {leading_climate(dailies[place], kind) for place in places}
            text, proven = f"{gain[today] - gain[record]:.1f}", "one place alone"
            if len({REGIONS[place] for place in places}) > 1:
                drawn = resampled(own, [kind])
                low, high = np.nanquantile(drawn[:, today] - drawn[:, record], [0.05, 0.95])
                text, proven = f"{text} ({low:.1f}..{high:.1f})", "yes" if low * high > 0 else "no"
            yield f"| {kind} | {name} | {' or '.join(sorted(leads))} | {text} | {proven} |"


def by_step(
    dailies: dict[str, xr.Dataset],
    used: dict[str, xr.Dataset],
    kinds: Sequence[str],
    keep: Path | None,
) -> Iterator[str]:
    """What to do about a sudden step: the rule that is used, and two others."""
    stepped = {place: daily for place, daily in dailies.items() if has_step(daily)}
    yield "### A sudden step: three rules for the shift"
    yield ""
    yield f"A step was clear in some year of asking at {', '.join(stepped)}."
    yield ""
    yield from table_head("rule", "freezes", "all")

    def never_moved(
        year: np.ndarray, level: np.ndarray, first: float = np.nan, half_life: float = 5.0
    ) -> Shift:
        return NO_SHIFT if np.isfinite(first) else level_shift(year, level, first, half_life)

    def told_by(outs: dict[str, xr.Dataset]) -> str:
        cells = [cell for place, out in outs.items() for cell in cells_of(place, out)]
        return f"{told(cells, FREEZES, 'today')} | {told(cells, kinds, 'today')}"

    yield (
        f"| from the years after the step; none where they are fewer than {LEAST_LEVEL_YEARS} | "
        f"{told_by(used)} |"
    )
    with patch.object(looking_back, "level_shift", never_moved):
        outs = used | looked_back(stepped, keep, "not moved")
    yield f"| none in a record with a step | {told_by(outs)} |"
    with patch.object(looking_back, "BREAK_P", -1.0):
        outs = used | looked_back(stepped, keep, "no step")
    yield f"| as if there were no step | {told_by(outs)} |"


def worths(outs: Sequence[xr.Dataset]) -> Iterator[str]:
    yield "### Drift: what a record without end would be worth, in independent years"
    yield ""
    yield from table_head("kind", "fitted: all years", "used", "fitted: today's", "used")
    for kind, used in KINDS.items():
        if kind not in ("harvest", "other"):
            fits = [fitted_drift(outs, kind, rule) for rule in ("record", "today")]
            yield f"| {kind} | {fits[0]:.0f} | {used.record:g} | {fits[1]:.0f} | {used.today:g} |"


def rare(outs: dict[str, xr.Dataset]) -> Iterator[str]:
    """What came of events that the latest 30 years did not have, or all had."""
    yield "### None of the latest 30 years, and all of them"
    yield ""
    yield from table_head(
        "latest 30 years", "cases", "came true", "told: all years", "told: today's"
    )
    for name, share in (("none", 0.0), ("all", 1.0)):
        cases = came = 0.0
        sums = np.zeros(2)
        for out in outs.values():
            these = out["odds_given"].sel(rule="count") == share
            weight = out["followed"].where(these, 0)
            cases += float(weight.sum())
            came += float(out["came"].where(these, 0).sum())
            for place, rule in enumerate(("record", "today")):
                sums[place] += float((out["odds_given"].sel(rule=rule) * weight).sum())
        means = sums / cases
        yield (f"| {name} | {cases:.0f} | {came / cases:.3f} | {means[0]:.3f} | {means[1]:.3f} |")


# --- harvests -----------------------------------------------------------------------------


def harvests(dailies: dict[str, xr.Dataset]) -> Iterator[str]:
    """Harvests of plans: asked every fifth year, the share of all years against the latest 30's."""
    yield "### Harvests"
    yield ""
    yield (
        "Six crops sown at three dates each, asked every fifth year; those that fail or "
        "succeed in nearly every year are left out."
    )
    yield ""
    yield from table_head("odds", "skill", "intervals of the next ten years held")
    cells: list[Cell] = []
    inside: dict[str, list[bool]] = {rule: [] for rule in RULES}
    for place, daily in dailies.items():
        for answer in _plan_answers(place, daily):
            cells.append(answer[0])
            for rule in RULES:
                inside[rule].append(answer[1][rule])
    for rule, name in zip(RULES, ("count of 30 years", "all years", "today's"), strict=True):
        held = np.mean([each for each in inside[rule] if each is not None])
        yield f"| {name} | {told(cells, ['harvest'], rule)} | {held:.2f} |"


CROPS = ("pea", "lettuce", "snap bean", "sweet corn", "cauliflower", "spinach")
STARTS = ("03-15", "04-25", "06-10")


def _plan_answers(place: str, daily: xr.Dataset) -> Iterator[tuple[Cell, dict[str, bool]]]:
    plans = [cw.Plan(cw.crop(name), start) for name in CROPS for start in STARTS]
    grown = [cw.evaluate_plan(plan, daily)["harvested"] for plan in plans]
    means = {name: yearly_means(daily[name]) for name in ("tmin", "tmax")}
    years = means["tmin"]["year"].values
    chosen = [n for n, each in enumerate(grown) if 0.05 < float(each.mean()) < 0.95]
    known = np.isfinite(means["tmin"].values)
    for last in years[known][29:-8:5]:
        until = years <= last
        moved = daily.copy()
        for name, level in means.items():
            year, value = years[until].astype(float), level.values[until]
            change = sudden_step(year, value, beside_trend=True)
            by = level_shift(year, value, change.break_year if change.is_step else np.nan).by
            moved[name] = (daily[name] + by).assign_attrs(daily[name].attrs)
        moved = moved.sel(time=slice(None, str(last)))
        for n in chosen:
            came = grown[n].sel(season=slice(last + 1, last + 10)).dropna("season").values
            before = grown[n].sel(season=slice(None, last)).dropna("season").values
            today = cw.evaluate_plan(plans[n], moved)["harvested"].dropna("season").values
            if len(came) < 8 or len(before) < 20:
                continue
            samples = {"count": before[-30:], "record": before, "today": today}
            odds = [samples["count"].mean()]
            odds += [float(within_reach(samples[m].mean(), len(samples[m]))) for m in RULES[1:]]
            squares = np.array([((p - came) ** 2).sum() for p in odds])
            held = {}
            for rule in RULES:
                share, count = samples[rule].mean(), len(samples[rule])
                worth = COUNTED_YEAR * np.array(float(count))
                climate = "today" if rule == "today" else "record"
                ends = next_interval(
                    np.array(share), next_worth(worth, "harvest", climate), len(came)
                )
                held[rule] = bool(ends[0] <= came.sum() <= ends[1])
            yield Cell(place, int(last) // 10, "harvest", squares, len(came)), held


# --- written ------------------------------------------------------------------------------


def main() -> None:
    """Look back on every record, print what comes out, and write it down."""
    if not records.RECORDS.is_dir():
        sys.exit(f"The records are not here: {records.RECORDS} is missing.")
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--plans", action="store_true", help="harvests too")
    parser.add_argument("--steps", action="store_true", help="two other rules for a step too")
    parser.add_argument("--keep", type=Path, help="a folder for what a stopped run goes on from")
    given = parser.parse_args()
    began = time.monotonic()
    text = "\n".join(report(plans=given.plans, steps=given.steps, keep=given.keep))
    print(text)
    write_block(RESULTS, "hindcast", text)
    print(f"\n{time.monotonic() - began:.0f} s; written to {RESULTS}")


if __name__ == "__main__":
    main()
