"""Do draws of a year that was lost whole scatter as much as the truth lies off?

Each year of a real station is taken out by itself and drawn beside a neighbour. Means over the
year, over summer and over April of the draws are held against those that were measured: the
distance, the draws' own spread, and how often the truth lies within 90 % of them. Run it as
``python tests/odds/whole_years.py``; the real records stand beside the repository. The table it
prints is in ``JOINING.md``.
"""

from __future__ import annotations

import sys
import warnings
from pathlib import Path

import numpy as np
import xarray as xr

sys.path.insert(0, str(Path(__file__).parents[1]))

from odds.joining import NAMES, real
from results import table_head

import climwin as cw

PAIRS = (
    ("Urbana_IL", "Indianola_IA"),
    ("Urbana_IL", "Wooster_OH"),
    ("Indianola_IA", "Urbana_IL"),
    ("Indianola_IA", "FortDodge_IA"),
    ("FortDodge_IA", "Indianola_IA"),
    ("Wooster_OH", "Urbana_IL"),
    ("Brussels_BE", "KleinAltendorf_DE"),
    ("KleinAltendorf_DE", "Brussels_BE"),
)
"""The last two were looked at last; they showed that the level of all years must be left to the
days, and nothing else was chosen on them."""
SPANS = {"year": (1, 366), "June to August": (152, 243), "April": (91, 120)}
DRAWS = 20
LEAST_SHARE = 0.8
"""Share of the days that must be measured for a mean to be compared."""


def held_against(own: xr.Dataset, nearby: xr.Dataset) -> dict[str, np.ndarray]:
    """Of each span, rows of distance and spread, one for each year and extreme. [degC]"""
    rows: dict[str, list[tuple[float, float]]] = {span: [] for span in SPANS}
    both = np.intersect1d(own["time"].dt.year, nearby["time"].dt.year)
    for year in both:
        gappy = own.where(own["time"].dt.year != year)
        for name in gappy:
            gappy[name].attrs = own[name].attrs
        drawn = cw.draw_gaps(cw.join_stations(gappy, nearby), DRAWS)
        for name in NAMES:
            true = own[name].sel(time=str(year))
            day = true["time"].dt.dayofyear
            for span, (first, last) in SPANS.items():
                within = true.where((day >= first) & (day <= last), drop=True)
                known = within.notnull()
                if not known.size or float(known.mean()) < LEAST_SHARE:
                    continue
                means = drawn[name].sel(time=within["time"]).where(known).mean("time")
                off = float(within.mean() - means.mean())
                rows[span].append((off, float(means.std(ddof=1))))
    return {span: np.array(each) for span, each in rows.items()}


def main() -> None:
    warnings.simplefilter("ignore")
    columns = ("cases", "off by", "spread of the draws", "within 90 %")
    print(*table_head("pair", "mean of", *columns), sep="\n")
    for own, nearby in PAIRS:
        for span, rows in held_against(real(own), real(nearby)).items():
            off, spread = rows.T
            inside = np.abs(off) <= 1.645 * spread * np.sqrt(1 + 1 / DRAWS)
            print(
                f"| {own} beside {nearby} | {span} | {len(rows)} | {np.sqrt((off**2).mean()):.2f} "
                f"| {np.sqrt((spread**2).mean()):.2f} | {inside.mean():.2f} |",
                flush=True,
            )


if __name__ == "__main__":
    main()
