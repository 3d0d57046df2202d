"""How often 90 % intervals of offsets to the garden hold on other years, on real pairs of stations.

Run it as ``python tests/odds/offsets.py``; the real records stand beside the repository. The tables
it prints are in ``OFFSETS.md``.

A year, or a spring, of one station stands in for a garden's logger beside another station. The
truth is the mean difference of each month over all other years of 1985 to 2014.
"""

from __future__ import annotations

import sys
import warnings
from collections.abc import Iterator, Sequence
from itertools import combinations
from pathlib import Path
from typing import NamedTuple

import numpy as np
import xarray as xr

sys.path.insert(0, str(Path(__file__).parents[1]))

import records
from results import table_head, table_row

import climwin as cw
from climwin.climate.adjust import _posterior, _waves, departure, measured_offsets
from climwin.core.stats import z_of

TUNED = tuple(
    combinations(("Urbana_IL", "Indianola_IA", "FortDodge_IA", "Wooster_OH", "Champion_NE"), 2)
)
"""Pairs that the year's share was chosen on."""
HELD_OUT = (
    ("Albany_NY", "Wooster_OH"),
    ("Brussels_BE", "Dublin_IE"),
    ("Brussels_BE", "KleinAltendorf_DE"),
    ("Merced_CA", "SanDiego_CA"),
    ("Clemson_SC", "Gainesville_FL"),
    ("Albany_NY", "Clemson_SC"),
    ("WilliamHead_BC", "PrinceGeorge_BC"),
)
LAST = (
    ("Wooster_OH", "Clemson_SC"),
    ("Dublin_IE", "KleinAltendorf_DE"),
    ("WilliamHead_BC", "Merced_CA"),
    ("SanDiego_CA", "WilliamHead_BC"),
    ("Champion_NE", "Albany_NY"),
    ("Merced_CA", "Urbana_IL"),
)
"""Pairs that were looked at once, when all was done."""
MIDDLES = np.array([16, 45, 75, 105, 136, 166, 197, 228, 258, 289, 319, 350])
"""Middle day of each month."""
SPANS = {"year": (1, 12), "spring": (4, 6)}
EVERY = 3
"""Every so many years one stands in for a logger; every year of a pair of at most twelve."""
LEAST_DAYS = 330
Z = z_of(0.9)


class Case(NamedTuple):
    """Months of one logger; arrays of shape (months,)."""

    plain: np.ndarray
    """Whether the interval of the mean holds that counts each day as a witness of its own."""
    held: np.ndarray
    """Whether that of `measured_offsets` and `departure` holds."""
    off: np.ndarray
    """Error of the offset that is used. [degC]"""
    error: np.ndarray
    """Its standard error. [degC]"""


def real(place: str) -> xr.Dataset:
    daily = cw.read_daily(records.SHARED / "records" / f"{place}.csv")
    return daily[["tmin", "tmax"]].sel(time=slice("1985-01-01", "2014-12-31"))


def departure_error(offsets: xr.Dataset, name: str, day: np.ndarray) -> np.ndarray:
    """Standard error of `departure` from no lapse, on days of the year. [degC], shape (days,)"""
    covariance, _ = _posterior(offsets, name, 0.0)
    waves = _waves(day)
    return np.sqrt(((waves @ covariance) * waves).sum(axis=1))


def cases(station: xr.Dataset, other: xr.Dataset, kind: str) -> Iterator[Case]:
    """Loggers of the second station beside the first."""
    station, other = xr.align(station, other, join="inner")
    year = np.asarray(station["time"].dt.year)
    every = np.unique(year)
    start, end = SPANS[kind]
    for each in every[1:-1:EVERY] if len(every) > 12 else every:
        for name in ("tmin", "tmax"):
            gaps = (other - station)[name]
            if int(np.isfinite(gaps[year == each]).sum()) < LEAST_DAYS:
                continue
            truth = gaps[year != each].groupby("time.month").mean().values
            span = slice(f"{each}-{start:02}", f"{each}-{end:02}")
            offsets = measured_offsets(station, other.sel(time=span)[[name]])
            curve = departure(offsets, name, 0.0, xr.DataArray(MIDDLES, dims="time")).values
            error = departure_error(offsets, name, MIDDLES)
            months = gaps.sel(time=span).groupby("time.month")
            own = months.std(ddof=1) / np.sqrt(months.count())
            at = slice(start - 1, end)
            yield Case(
                np.abs(months.mean().values - truth[at]) <= Z * own.values,
                (np.abs(curve - truth) <= Z * error)[at],
                (curve - truth)[at],
                error[at],
            )


HEAD = table_head(
    "pair",
    "loggers",
    *("year: each day a witness", "holds", "off by", "said"),
    *("spring: each day a witness", "holds", "off by", "said"),
)


def row(name: str, by_kind: dict[str, list[Case]]) -> str:
    """A line of a table."""
    cells = [f"{len(by_kind['year'])}"]
    for several in by_kind.values():
        plain, held, off, error = (np.concatenate(each) for each in zip(*several, strict=True))
        cells += [f"{plain.mean():.2f}", f"{held.mean():.2f}"]
        cells += [f"{np.sqrt((values**2).mean()):.2f}" for values in (off, error)]
    return table_row(name, *cells)


def table(pairs: Sequence[tuple[str, str]]) -> str:
    lines, together = [*HEAD], {kind: [] for kind in SPANS}
    for pair in pairs:
        by_kind = {kind: list(cases(*map(real, pair), kind)) for kind in SPANS}
        lines.append(row(" and ".join(pair), by_kind))
        for kind, several in by_kind.items():
            together[kind] += several
    return "\n".join([*lines, row("all", together)])


def main() -> None:
    """Print the tables."""
    warnings.simplefilter("ignore")
    titles = {"chosen on": TUNED, "judged by": HELD_OUT, "looked at last": LAST}
    for title, pairs in titles.items():
        print(f"## Pairs: {title}\n\n{table(pairs)}\n", flush=True)


if __name__ == "__main__":
    main()
