"""Score climwin's growing model against practice and write what comes out.

::

    python tests/agreement/run.py

prints the summary and writes ``RESULTS.md`` and ``misses.csv`` beside this file. It needs the
records and published dates that lie outside the project, in ``../shared``.
"""

from __future__ import annotations

import csv
import sys
import time
from collections import Counter
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import astuple, fields
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[1]))

from agreement import calendars, facts, records, usual, yield_model
from agreement.dates import name_of
from results import table_head, table_row

HERE = Path(__file__).parent


def main(folder: Path = HERE) -> None:
    """Score everything, print it, and write it into `folder`."""
    if not calendars.CALENDARS.is_file():
        sys.exit(f"The published calendars are not here: {calendars.CALENDARS} is missing.")
    began = time.monotonic()
    text = "\n".join(report())
    print(text)
    (folder / "RESULTS.md").write_text(text + "\n", "utf-8")
    found = calendars.misses(calendars.scores())
    with (folder / "misses.csv").open("w", encoding="utf-8", newline="") as file:
        out = csv.writer(file, lineterminator="\n")
        out.writerow([each.name for each in fields(calendars.Miss)])
        out.writerows(astuple(miss) for miss in found)
    print(f"\n{time.monotonic() - began:.0f} s; written to {folder}")


def report() -> Iterator[str]:
    """Lines of the report."""
    yield "# The growing model held against practice"
    yield ""
    yield (
        "Made by `python tests/agreement/run.py`. Records of "
        f"{records.YEARS[0]} to {records.YEARS[1]}. On each date the main variety stands, or the "
        "early one where its odds are higher by more than 5 points. Shares in %."
    )
    for part in (levels, by_set, misses_by_kind, claims, harvests, yields, facts_of_the_trade):
        yield ""
        yield from part()


def table(head: Sequence[str], rows: Iterable[Sequence[object]]) -> Iterator[str]:
    """A table in Markdown."""
    yield from table_head(*head)
    for row in rows:
        yield table_row(*row)


def percent(share: float) -> str:
    """A share as whole per cent."""
    return f"{100 * share:.0f}"


def yes(met: bool) -> str:
    """Whether something is met."""
    return "yes" if met else "**no**"


# --- parts of the report ------------------------------------------------------------------


def levels() -> Iterator[str]:
    """What should be reached, and what is."""
    yield "## Reach"
    yield ""
    yield from table(
        ("what", "reach", "reached", "met"),
        ((what, reach, reached, yes(met)) for what, reach, reached, met in reached_levels()),
    )


def reached_levels() -> Iterator[tuple[str, str, str, bool]]:
    """Each level: what, the level, what is reached, and whether that is enough."""
    scored = calendars.scores()
    every = calendars.summary(scored)
    frost = calendars.summary(each for each in scored if records.has_frost(each.group.place))
    at_least = (
        ("published dates told 0.8 or more", 0.90, every.told),
        ("the same, each window by itself", 0.90, every.windows_told),
        ("a recommended span covers half of the window", 0.85, every.span_covers_half),
        ("the span's best date inside the window", 0.80, every.span_best_inside),
    )
    for what, least, reached in at_least:
        yield what, f">= {percent(least)}", f"{100 * reached:.1f}", reached >= least
    what, far = "far days told, places with frost", frost.far
    yield what, "<= 20", f"{100 * far:.1f}", far <= 0.20
    yield from _claim_levels()
    met = [each.met for each in usual.harvests()]
    share = sum(met) / len(met)
    yield (
        "harvest in the usual period, 14 days' grace",
        ">= 75",
        f"{100 * share:.1f}",
        share >= 0.75,
    )
    for crop in yield_model.CROPS:
        each = yield_model.agreement(crop)
        if each.reach is not None:
            rank, best = each.rank, each.best_yield
            what = f"{crop}: rank agreement with AquaCrop"
            yield what, f">= {each.reach:.2f}", f"{rank:.2f}", rank >= each.reach
            least = yield_model.BEST_REACH
            what = f"{crop}: simulated yield of the best date"
            yield what, f">= {percent(least)}", percent(best), best >= least
    each = facts.facts()
    met = sum(fact.met for fact in each)
    yield "facts of the trade", f"{len(each)} of {len(each)}", f"{met}", met == len(each)


def _claim_levels() -> Iterator[tuple[str, str, str, bool]]:
    names = {"grown commercially": "0.8 or more", "not grown outdoors": "below 0.5"}
    names["called reliable"] = "0.8 or more"
    for name, level in names.items():
        of = [claim for claim in usual.claims() if claim.claim == name and claim.read]
        if of:
            met = sum(claim.met for claim in of)
            yield f"{name}: odds {level}", f"{len(of)} of {len(of)}", f"{met}", met == len(of)


def by_set() -> Iterator[str]:
    """The calendars' table by sets of places."""
    scored = calendars.scores()
    yield "## Published planting calendars"
    yield ""
    left = "; ".join(f"{count} {why}" for why, count in sorted(calendars.published()[1].items()))
    yield (
        "n: places x crops x ways of starting. Told: mean odds over the middle half of the "
        "windows are 0.8 or more. Best inside: the best date of the whole year lies in a window, "
        "10 days' grace. Windows: each by itself. Span covers half: one recommended span covers "
        "half of a window; all spans: all of them together. Span's best: its best date inside. "
        "Far: days more than 21 days outside all windows that are told, mean over n; pooled: "
        f"of all far days together. Rows left aside: {left}."
    )
    yield ""
    head = (
        "set",
        "n",
        "told >= 0.8",
        "median",
        "best inside",
        "windows",
        "told",
        "span covers half",
    )
    head += ("all spans", "span's best inside", "far", "far, pooled")
    rows = []
    for name, chosen in calendars.sets().items():
        of = calendars.summary(each for each in scored if chosen(each.group))
        rows.append(
            (
                name,
                of.groups,
                percent(of.told),
                f"{of.median_told:.2f}",
                percent(of.best_inside),
                of.windows,
                percent(of.windows_told),
                percent(of.span_covers_half),
                percent(of.spans_cover_half),
                percent(of.span_best_inside),
                percent(of.far),
                percent(of.far_pooled),
            )
        )
    yield from table(head, rows)


def misses_by_kind() -> Iterator[str]:
    """How many misses of which kind, and every one told too low."""
    found = calendars.misses(calendars.scores())
    counts = Counter(miss.kind for miss in found)
    yield "## Misses"
    yield ""
    told = "; ".join(f"{counts[kind]} {kind}" for kind in calendars.MISS_KINDS)
    yield f"{told}. All in `misses.csv`; those told too low:"
    yield ""
    low = [miss for miss in found if miss.kind == "told too low"]
    yield from table(
        ("place", "crop", "way", "window", "told", "main reason"),
        ((m.place, m.crop, m.method, m.window, m.told, m.reason) for m in low),
    )


def claims() -> Iterator[str]:
    """What is grown or called reliable, and what is not grown outdoors."""
    every = usual.claims()
    yield "## What is grown, and what is not"
    yield ""
    yield (
        "Odds at the source's own planting dates, at the model's best date where it gives none. "
        "Statements that conflict count as met if one of them is."
    )
    yield ""
    rows = []
    for name in usual.CLAIMS:
        for read in (True, False):
            of = [claim for claim in every if (claim.claim, claim.read) == (name, read)]
            if of:
                asked = usual.CLAIMS[name] != usual.ANY
                met = sum(claim.met for claim in of) if asked else ""
                at = sum("best date" in claim.at for claim in of)
                odds = sorted(claim.odds for claim in of)
                rows.append((name, "read" if read else "from memory", len(of), at, met))
                rows[-1] += (f"{odds[len(odds) // 2]:.2f}",)
    yield from table(("claim", "how", "n", "at the best date", "met", "median odds"), rows)
    yield ""
    missed = [claim for claim in every if not claim.met or usual.CLAIMS[claim.claim] == usual.ANY]
    yield "Not met, and those that ask for nothing:"
    yield ""
    yield from table(
        ("claim", "how", "place", "crop", "way", "at", "odds"),
        (
            (
                claim.claim,
                "read" if claim.read else "from memory",
                claim.place,
                claim.crop,
                claim.method,
                claim.at,
                f"{claim.odds:.2f}",
            )
            for claim in missed
        ),
    )


def harvests() -> Iterator[str]:
    """Usual harvest periods."""
    every = usual.harvests()
    met, all_met = (sum(getattr(each, name) for each in every) for name in ("met", "all_met"))
    yield "## Usual harvest periods"
    yield ""
    yield (
        f"{len(every)} rows with both ends. In {met} the harvest from one of the planting windows "
        f"begins in the period, 14 days' grace; in {all_met} from all of them. Not met:"
    )
    yield ""
    yield from table(
        ("place", "crop", "way", "usual period", "planting dates from", "told"),
        (
            (
                each.place,
                each.crop,
                each.method,
                each.period,
                each.planted,
                ", ".join(map(name_of, each.told)) or "no harvest",
            )
            for each in every
            if not each.met
        ),
    )


def yields() -> Iterator[str]:
    """Simulated yields."""
    yield "## Simulated yields by start date (AquaCrop, Albany)"
    yield ""
    rows = []
    for crop in yield_model.CROPS:
        each = yield_model.agreement(crop)
        rows.append((crop, each.dates, f"{each.rank:.2f}", name_of(each.best)))
        rows[-1] += (percent(each.best_yield),)
    head = (
        "crop",
        "start dates",
        "rank agreement",
        "model's best date",
        "its yield, % of the most",
    )
    yield from table(head, rows)


def facts_of_the_trade() -> Iterator[str]:
    """Facts of the trade."""
    yield "## Facts of the trade"
    yield ""
    every = facts.facts()
    yield from table(
        ("fact", "told", "met"), ((fact.name, fact.told, yes(fact.met)) for fact in every)
    )


if __name__ == "__main__":
    main()
