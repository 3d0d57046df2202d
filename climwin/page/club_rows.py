"""A club's gardens side by side: the numbers of each, and the years that all records have."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace

import numpy as np

from climwin.core.seasons import day_of_year
from climwin.core.stats import LEAST_YEARS
from climwin.report.garden import GardenReport
from climwin.widgets.state import span_of, within

EVEN, RISK = 0.5, 0.1
"""Odds of a freeze whose dates are shown."""

HALVES = ("last_spring", "first_autumn")
"""The two freezes of a year whose dates are shown."""


class GardenRow:
    """One garden's numbers; its window is that of the garden's own page.

    So are its frosts, unless a climate is given.
    """

    def __init__(self, report: GardenReport, climate: str | None = None) -> None:
        self.report, self.name = report, report.garden.name
        self.length = report.window["length"]
        self.median_length = report.median_length
        self.shorter = report.shorter
        self.climate = climate or report.leading("spring freeze")
        if report.today is None:
            self.climate = "record"
        self.freezes = report.of_climate(self.climate).freeze_odds.sel(threshold=0.0)

    def freeze(self, half: str, level: float) -> float:
        """Day of the year on which a freeze has these odds."""
        return float(self.freezes[half].sel(odds=level))

    def bars(self) -> Iterator[tuple[np.ndarray, float]]:
        """Starts of the year's window, or of both, and the length in the middle year."""
        windows = self.report.windows
        for name in ("rise", "fall") if bool(windows["has_two_windows"]) else ("longest",):
            window = windows.sel(part=name)
            if bool(window["start"].notnull().any()):
                starts = window["start"].dropna("season").values
                yield day_of_year(starts), float(window["length"].median())


# --- the years that all have --------------------------------------------------------------


def common_years(reports: Sequence[GardenReport]) -> tuple[int, int] | None:
    """First and last year that all records have; None where they share none."""
    spans = [span_of(report.daily) for report in reports]
    first, last = max(begin for begin, _ in spans), min(end for _, end in spans)
    return (first, last) if first <= last else None


def have_same_years(reports: Sequence[GardenReport]) -> bool:
    """Whether all records run over the same years."""
    return len({span_of(report.daily) for report in reports}) == 1


def on_common_years(reports: Sequence[GardenReport]) -> tuple[GardenReport, ...]:
    """The gardens on the years that all records have, with the plans and needs of their own pages.

    Parameters
    ----------
    reports : sequence of GardenReport
        From `club_reports`.

    Returns
    -------
    tuple of GardenReport
        `reports` as they are where all have the same years already; empty where fewer than ten
        years are shared, which is too few to compare.
    """
    years = common_years(reports)
    if have_same_years(reports):
        return tuple(reports)
    if years is None or years[1] - years[0] + 1 < LEAST_YEARS:
        return ()
    return tuple(
        replace(report, daily=within(report.daily, years), given_need_days=report.need_days)
        for report in reports
    )
