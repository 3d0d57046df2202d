"""What is said of a club's gardens side by side."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from climwin.core.formatting import fixed
from climwin.core.status import UNKNOWN
from climwin.core.wording import listed
from climwin.crops.naming import plural
from climwin.page.club_rows import EVEN, GardenRow, common_years, have_same_years
from climwin.report import sentences
from climwin.report import sentences_decision as words
from climwin.report.garden import GardenReport


def years_compared(reports: Sequence[GardenReport]) -> str:
    """Which years the comparison counts, and why its numbers differ from the gardens' own."""
    first, last = common_years(reports) or (0, 0)
    if have_same_years(reports):
        return f"All records run from {first} to {last}, so the gardens met the same years."
    return (
        f"This part counts only {first} to {last}, the years that all records have, so that the "
        "gardens meet the same weather. Its numbers differ from those of each garden's own page, "
        "which counts all years of its record."
    )


def no_comparison(reports: Sequence[GardenReport]) -> str:
    """Why the gardens are not compared."""
    years = common_years(reports)
    shared = 0 if years is None else years[1] - years[0] + 1
    share = f"share only {sentences.years(shared)}" if shared else "have no year in common"
    return (
        f"The records {share}, too few to compare the gardens: it takes ten. Each garden's own "
        "numbers stand below."
    )


def longest_spell(rows: Sequence[GardenRow], crop_name: str) -> str:
    """Where the mild spell is longest and where shortest; empty where it is as long in all."""
    by_length = sorted(rows, key=lambda row: -np.nan_to_num(row.median_length, nan=-1))
    longest, shortest = by_length[0], by_length[-1]
    if days_told(longest.median_length) == days_told(shortest.median_length):
        return ""
    return (
        f"{longest.name} has the longest mild spell for {crop_name}: "
        f"{days_told(longest.median_length)} days in a typical year; {shortest.name} has the "
        f"shortest, {days_told(shortest.median_length)}."
    )


def who_differs(rows: Sequence[GardenRow], crop_name: str) -> list[str]:
    """The longest and the shortest mild spell, the earliest and the latest last frost."""
    said = [text for text in [longest_spell(rows, crop_name)] if text]
    known = [row for row in rows if np.isfinite(row.freeze("last_spring", EVEN))]
    known.sort(key=lambda row: row.freeze("last_spring", EVEN))
    dates = [sentences.date(row.freeze("last_spring", EVEN)) for row in known]
    if len(set(dates)) > 1:
        said.append(
            f"Spring's last frost comes earliest at {known[0].name} ({dates[0]} in a typical "
            f"year) and latest at {known[-1].name} ({dates[-1]})."
        )
    return said


def spell_way(reports: Sequence[GardenReport]) -> str:
    """For which way of growing the days needed are told."""
    ways = {words.spell_way(report) for report in reports}
    if ways == {""}:
        return ""
    if len(ways) > 1:
        return "They are those of the way that each garden's own page counts mild spells for."
    return f"They are those of {plural(reports[0].crop)} {ways.pop()}."


def frost_climate(rows: Sequence[GardenRow]) -> str:
    """The climate that frost dates are of, garden by garden where it is not the same."""
    moved = [row.name for row in rows if row.climate == "today"]
    if len(moved) == len(rows):
        return "These dates are for today's climate."
    if not moved:
        return "These dates count all years as they were."
    return (
        f"The dates of {listed(moved)} are for today's climate; the others count all years as they "
        "were."
    )


def days_told(value: float) -> str:
    """A number of days, or that it is unknown."""
    return UNKNOWN if np.isnan(value) else fixed(value)
