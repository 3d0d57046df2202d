"""Put breaks into stations and write which of them are found: `BREAKS.md`.

    python tests/quality/breaks.py

The records are no part of the project; see `records.SHARED` for where they are looked for. It takes
about four minutes on one core.
"""

from __future__ import annotations

import sys
from collections.abc import Callable
from pathlib import Path
from typing import NamedTuple

import numpy as np

sys.path.insert(0, str(Path(__file__).parents[1]))

from quality.networks import MONTHS, Injected, differences, like, near, real_anomalies
from quality.networks import without_changes as cleaned
from results import table_head, table_row

from climwin.climate.attribution import find_changes, measure
from climwin.climate.breakpoints import BREAK_P, KINDS, sudden_step
from climwin.climate.differences import changes_to_try
from climwin.core.stats import LEVEL

DATES = changes_to_try(MONTHS)
CASES = (
    ("none", 0.0),
    ("step", 0.5),
    ("step", 1.0),
    ("step", 2.0),
    ("drift", 1.0),
    ("drift", 2.0),
)
WITHIN = 36
"""Months that a step may be off and still count as found."""
Draw = Callable[[np.random.Generator], np.ndarray]


class Counts(NamedTuple):
    """What was found in one network."""

    found: int
    """Whether the change was found and given to its station."""
    kind: str
    alarms: int
    """Other changes given to that station."""
    elsewhere: int
    """Changes given to other stations."""
    untold: int
    """Changes whose station was not told."""
    date_holds: bool | None
    size_holds: bool | None
    alone: bool
    beside: bool


def tried(anomalies: np.ndarray, station: int, injected: Injected | None) -> Counts:
    """One network, a change put into one of its stations."""
    values = anomalies.copy()
    if injected:
        values[station] += injected.added()
    search = find_changes(differences(values), DATES)
    own = [each for each in search.changes if each.station == station]
    right = [each for each in own if injected and _is_it(search, each, injected)]
    date = size = None
    if right and injected and injected.kind == "step" and DATES.is_step[right[0].place]:
        measured = measure(search, right[0])
        date = measured.earliest <= injected.month <= measured.latest
        size = abs(measured.size - injected.size) <= 1.645 * measured.error
    return Counts(
        found=len(right[:1]),
        kind=KINDS[right[0].kind] if right else "",
        alarms=len(own) - len(right[:1]),
        elsewhere=sum(each.station not in (station, -1) for each in search.changes),
        untold=sum(each.station == -1 for each in search.changes),
        date_holds=date,
        size_holds=size,
        alone=_by_one(values[station], injected, beside_trend=True),
        beside=_by_one(values[station] - values[1 - min(station, 1)], injected, beside_trend=False),
    )


def _is_it(search: object, change: object, injected: Injected) -> bool:
    """Whether a change that was found is the one put in: its sign, and the date of a step."""
    measured = measure(search, change)  # type: ignore[arg-type]
    if np.sign(measured.size) != np.sign(injected.size):
        return False
    return injected.kind == "drift" or abs(measured.first - injected.month) <= WITHIN


def _by_one(monthly: np.ndarray, injected: Injected | None, *, beside_trend: bool) -> bool:
    """Whether the test of one series of yearly means finds it, or a change where there is none."""
    yearly = monthly.reshape(-1, 12).mean(1)
    found = sudden_step(np.arange(len(yearly)), yearly, beside_trend=beside_trend)
    if found.kind < 0 or injected is None:
        return found.kind >= 0
    if injected.kind == "drift":
        return True
    return abs(found.break_year * 12 - injected.month) <= WITHIN


def table(draw: list[Draw], runs: int, stations: int, others: int = 4) -> list[str]:
    """Rows of one kind of network; `others` is the number of stations beside the changed one."""
    lines = table_head(
        "put in",
        "runs",
        *("alone", "beside one", "pairwise"),
        *("called step", "drift", "either"),
        *("false, same station", "false, each other"),
        "whose not told",
    )
    held: list[tuple[bool, bool]] = []
    for kind, size in CASES:
        rng = np.random.default_rng(2026)
        counts = []
        for run in range(runs):
            anomalies = draw[run % len(draw)](rng)
            month = int(rng.integers(72, MONTHS - 72))
            sign = int(rng.choice([-1, 1]))
            injected = None if kind == "none" else Injected(kind, sign * size, month)
            counts.append(tried(anomalies, run % stations, injected))
        kinds = [each.kind for each in counts]
        held += [
            (each.date_holds, each.size_holds) for each in counts if each.date_holds is not None
        ]
        name = "nothing" if kind == "none" else f"{kind} of {size:g} degC"
        cells = [
            name,
            runs,
            _percent(each.alone for each in counts),
            _percent(each.beside for each in counts),
            "" if kind == "none" else _percent(each.found for each in counts),
            *(kinds.count(each) if kind != "none" else "" for each in KINDS),
            _percent(each.alarms > 0 for each in counts),
            _percent(each.elsewhere / others for each in counts),
            f"{np.mean([each.untold for each in counts]):.1f}",
        ]
        lines.append(table_row(*cells))
    dates, sizes = np.mean(held, axis=0)
    lines += [
        "",
        f"Of {len(held)} steps found, the {LEVEL:.0%} interval of the date holds in {dates:.0%}, "
        f"that of the size in {sizes:.0%}.",
    ]
    return lines


def _percent(values: object) -> str:
    return f"{100 * np.mean(list(values)):.0f} %"  # type: ignore[call-overload]


HEAD = f"""\
# Breaks put into stations

Made by `python tests/quality/breaks.py`. A change is put into one of five stations of 30 years, its
date at random between the seventh year and the seventh from the end. *Pairwise* is
`pairwise_breaks`: the change was found, of the right sign, a step within {WITHIN // 12} years of
its date, and given to the right station. *Alone* and *beside one* are what `detect_breakpoints`
says of the record by itself and beside its nearest neighbour (p below {BREAK_P:g}); beside one
neighbour it is not known whose a change is. The row *nothing* has their false alarms. Of the
changes found, how many are called a step, a drift, or either. *False*: runs in which the same
station is given another change, and changes given to each of the other four. The last column counts
the changes of a run whose station is not told. A drift begins at its date and comes to its size at
the record's end."""


def main() -> None:
    """Write the file."""
    tmin, tmax = (cleaned(real_anomalies(name)) for name in ("tmin", "tmax"))
    far: list[Draw] = [lambda rng: like(tmin, rng), lambda rng: like(tmax, rng)]
    lines = [HEAD, "", "## Stations 140 to 1,100 km apart", "", FAR, "", *table(far, 24, 3)]
    lines += ["", "## Stations a short drive apart, invented", "", NEAR, "", *table([near], 15, 5)]
    Path(__file__).with_name("BREAKS.md").write_text("\n".join([*lines, ""]), "utf-8")


FAR = """\
Series like Indianola, Fort Dodge, Urbana, Wooster and Champion, 1985 to 2014, minimum and maximum
in turns: less the changes that are found in them, with the spectra that are left and those of all
differences, in phases drawn at random. The change goes into one of the first three in turns."""
NEAR = """\
Monthly differences of two stations scatter by 0.5 degC, three tenths of it lasting (correlation 0.9
from month to month)."""
if __name__ == "__main__":
    main()
