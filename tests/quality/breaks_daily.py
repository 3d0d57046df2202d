"""Put breaks into real daily records as they are and write what is listed: `BREAKS_DAILY.md`.

    python tests/quality/breaks_daily.py

The records are no part of the project; see `records.SHARED` for where they are looked for. It takes
about four minutes on one core.
"""

from __future__ import annotations

import sys
from collections.abc import Sequence
from pathlib import Path
from typing import NamedTuple

import numpy as np
import xarray as xr

sys.path.insert(0, str(Path(__file__).parents[1]))

import records
from results import table_head, table_row

import climwin as cw

NETWORKS = (
    (
        "Middle West",
        ("Indianola_IA", "FortDodge_IA", "Urbana_IL", "Wooster_OH", "Champion_NE"),
        (1985, 2014),
    ),
    ("East", ("Albany_NY", "Clemson_SC", "Gainesville_FL", "Wooster_OH"), (1975, 2004)),
    ("West", ("Merced_CA", "SanDiego_CA", "WilliamHead_BC", "PrinceGeorge_BC"), (1975, 2004)),
)
CASES = (("step", 0.5), ("step", 1.0), ("step", 2.0), ("drift", 1.0), ("drift", 2.0))
EACH = 5
"""Changes of each kind put into each of the first three stations."""
NEAR = 4.0
"""A change is not put in within so many years of one that is listed already. [year]"""
WITHIN = 3.0
"""Years that a step may be off and still count as found."""


class Listed(NamedTuple):
    """One change of `pairwise_breaks`; times in years."""

    whose: str
    kind: str
    first: float
    first_low: float
    first_high: float
    size: float
    size_low: float
    size_high: float


class Tried(NamedTuple):
    """What was listed of a change that was put in."""

    found: Listed | None
    """Not asking whose it is said to be."""
    more: int
    """Other changes that are, or may be, the record's, beyond those listed before."""
    true_size: float
    true_first: float


def years(time: np.ndarray) -> np.ndarray:
    """Times in years."""
    return 1970 + time.astype("datetime64[D]").astype(float) / 365.2425


def listed(record: xr.Dataset, near: dict[str, xr.Dataset]) -> list[Listed]:
    """Changes that are, or may be, those of the record."""
    found = cw.pairwise_breaks(record, near)
    rows = [found.isel(change=place) for place in range(found.sizes["change"])]
    return [
        Listed(
            row["whose"].item(),
            row["kind"].item(),
            *(float(years(row[name].values)) for name in Listed._fields[2:5]),
            *(row[name].item() for name in Listed._fields[5:]),
        )
        for row in rows
        if "record" in row["whose"].item().split(" or ")
    ]


def tried(
    record: xr.Dataset,
    near: dict[str, xr.Dataset],
    before: Sequence[Listed],
    kind: str,
    size: float,
    first: float,
) -> Tried:
    """Put a change into the record and see what is listed."""
    (name,) = record.data_vars
    time = years(record["time"].values)
    risen = time >= first if kind == "step" else np.clip((time - first) / (time[-1] - first), 0, 1)
    moved = record[name] + xr.DataArray(size * np.asarray(risen, float), dims="time")
    changes = listed(record.assign({name: moved.assign_attrs(record[name].attrs)}), near)
    found = [
        each
        for each in changes
        if np.sign(each.size) == np.sign(size)
        and (kind == "drift" or abs(each.first - first) <= WITHIN)
    ]
    others = len(changes) - bool(found) - len(before)
    return Tried(found[0] if found else None, max(others, 0), size, first)


def row(kind: str, size: float, several: Sequence[Tried]) -> str:
    """A line of the table."""
    found = [each for each in several if each.found]
    kinds = [each.found.kind for each in found if each.found]
    cells = [
        f"{kind} of {size:g} degC",
        len(several),
        _percent(each.found for each in several),
        _percent(each.found and each.found.whose == "record" for each in several),
        *(kinds.count(each) for each in ("step", "drift", "step or drift")),
        _percent(each.more > 0 for each in several),
    ]
    steps = [(t, t.found) for t in found if t.found and t.found.kind != "drift"]
    if kind == "step" and steps:
        dates = [one.first_low <= t.true_first <= one.first_high + 0.1 for t, one in steps]
        sizes = [one.size_low <= t.true_size <= one.size_high for t, one in steps]
        larger = np.mean([one.size / t.true_size for t, one in steps])
        count = len(steps)
        cells += [f"{sum(dates)} of {count}", f"{sum(sizes)} of {count}", f"{larger:.1f}"]
    else:
        cells += [""] * 3
    return table_row(*cells)


def _percent(values: object) -> str:
    return f"{100 * np.mean([bool(each) for each in values]):.0f} %"  # type: ignore[attr-defined]


def table(stations: Sequence[str], span: tuple[int, int]) -> list[str]:
    """Rows of one network, minimum and maximum together, and what its records have as they are."""
    rng = np.random.default_rng(2027)
    rows: dict[tuple[str, float], list[Tried]] = {case: [] for case in CASES}
    as_they_are = []
    for name in ("tmin", "tmax"):
        period = slice(str(span[0]), str(span[1]))
        files = {each: records.SHARED / "records" / f"{each}.csv" for each in stations}
        read = {each: cw.read_daily(path)[[name]].sel(time=period) for each, path in files.items()}
        for station in stations[:3]:
            near = {each: read[each] for each in stations if each != station}
            before = listed(read[station], near)
            as_they_are += [f"{station} {name} {c.first:.0f} {c.size:+.1f}" for c in before]
            for case in CASES:
                for _ in range(EACH):
                    first = span[0] + rng.uniform(6, 24)
                    sign = rng.choice([-1, 1])
                    if all(abs(first - each.first) > NEAR for each in before):
                        rows[case].append(
                            tried(read[station], near, before, case[0], sign * case[1], first)
                        )
    return [
        *HEADINGS,
        *(row(*case, several) for case, several in rows.items()),
        "",
        f"As they are: {'; '.join(as_they_are) or 'no change of the three is listed'}.",
    ]


HEADINGS = table_head(
    *("put in", "cases", "found", "and given to the record"),
    *("step", "drift", "either"),
    *("one more", "date holds", "size holds", "size over true"),
)
HEAD = f"""\
# Breaks put into real records

Made by `python tests/quality/breaks_daily.py`. In `BREAKS.md` changes are put into series that are
made like the records, less the changes found in them. Here they are put into daily values of the
records as they are, with their gaps and their own changes, 30 years long, and `pairwise_breaks`
is asked as anybody would. A change begins between the seventh year and the seventh from the end,
but not within {NEAR:g} years of one that is listed without it.

*Found*: of the right sign, a step within {WITHIN:g} years of its date. *One more*: cases in which
more changes that are, or may be, the record's are listed than without it, beside the one put in.
*Size over true*: mean over the steps found."""
FOOT = """\
A step that hardly shows is found where the scatter happens to enlarge it, so small ones are
measured too large: do not take off a step that is hardly larger than its interval is wide."""


def main() -> None:
    """Write the file."""
    lines = [HEAD]
    for title, stations, span in NETWORKS:
        lines += ["", f"## {title}", "", *table(stations, span)]
    lines += ["", FOOT, ""]
    Path(__file__).with_name("BREAKS_DAILY.md").write_text("\n".join(lines), "utf-8")


if __name__ == "__main__":
    main()
