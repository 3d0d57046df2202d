"""A club's page: several gardens side by side, from a small TOML file.

What stands beside a garden's name is what its own page says, from all years of its record. Gardens
are compared in a part of its own, on the years that all records have.

The page shows what the file lists, and nothing else of anybody. It is made as a garden's page is:
from the cells of ``templates/club.ipynb``.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path

import numpy as np
import xarray as xr

from climwin.core.formatting import counted
from climwin.core.schema import Units, check_choice
from climwin.crops.naming import plural
from climwin.page import assets
from climwin.page.club_figure import gardens_figure
from climwin.page.club_file import club_reports, read_club
from climwin.page.club_rows import (
    EVEN,
    HALVES,
    RISK,
    GardenRow,
    have_same_years,
    on_common_years,
)
from climwin.page.club_words import (
    days_told,
    frost_climate,
    no_comparison,
    spell_way,
    who_differs,
    years_compared,
)
from climwin.page.html import Fragment, fill_macro, render_notebook
from climwin.page.notebook import read_template, run_cells
from climwin.page.sections import Content, cautions_of, chance_row, named_sources
from climwin.page.write import date_of_page, write_text
from climwin.report import sentences
from climwin.report import sentences_decision as words
from climwin.report.decision import RELIABLE, decide
from climwin.report.garden import GardenReport
from climwin.report.sentences_caveats import (
    caveats,
    doubtful_need,
    few_years,
    great_distance,
    report_departures,
)
from climwin.widgets.state import span_of

# --- writing it ---------------------------------------------------------------------------


def save_club(page: ClubPage, path: str | Path) -> Path:
    """Write a club's page, from `club_page`, as one HTML file.

    Parameters
    ----------
    page : ClubPage
        What it shows.
    path : str or Path
        Where to; an older page is replaced in one step.
    """
    cells = run_cells(read_template("club"), page)
    return write_text(path, render_notebook(cells, title=f"{page.name}: gardens side by side"))


def club_page(
    file: str | Path, *, units: Units = "C", made: str | None = None, few_years: bool = False
) -> ClubPage:
    """Reports on all gardens of a club, ready to be shown section by section.

    Parameters
    ----------
    file : str or Path
        The club's TOML file, see `read_club`.
    units : {"C", "F"}
        Unit of the temperatures shown.
    made : str, optional
        Today's date, such as ``"2026-11-25"``, printed at the foot.
    few_years : bool
        Whether fewer than ten known years will do; the page says that they are few.

    Raises
    ------
    RecordError, ValueError
        If the file, a record, the units or the date cannot be used.
    """
    check_choice("units", units, ("C", "F"))
    date, club = date_of_page(made), read_club(file)
    reports = club_reports(club, Path(file).parent, few_years=few_years)
    return ClubPage(club.name, reports, units, date)


# --- the page -----------------------------------------------------------------------------


@dataclass(frozen=True)
class ClubPage:
    """What a club's page shows.

    Parameters
    ----------
    name : str
        Of the club.
    reports : tuple of GardenReport
        Of its gardens, on the same crop, each as on its own page.
    units : {"C", "F"}
        Unit of the temperatures.
    made : date or None
        Date of the page.
    """

    name: str
    reports: tuple[GardenReport, ...]
    units: Units
    made: dt.date | None

    @cached_property
    def rows(self) -> list[GardenRow]:
        """Gardens in the order of the club's file, each with the numbers of its own page."""
        return [GardenRow(report) for report in self.reports]

    @cached_property
    def compared(self) -> list[GardenRow]:
        """Gardens on the years that all records have, with frosts of one climate; or empty."""
        climates = {row.climate for row in self.rows}
        climate = climates.pop() if len(climates) == 1 else "record"
        return [GardenRow(report, climate) for report in on_common_years(self.reports)]

    @cached_property
    def compares_own_numbers(self) -> bool:
        """Whether the gardens' own numbers are of the same years and climate, and so compared."""
        return have_same_years(self.reports) and len({row.climate for row in self.rows}) == 1

    @cached_property
    def doubts(self) -> list[str]:
        """Why a garden's record may not be what it says, or not the garden's, after its name."""
        return [
            f"{each.garden.name}: {text}"
            for each in self.reports
            for text in (
                *report_departures(each, self.made, self.units),
                doubtful_need(each),
                great_distance(each.garden, each.daily, self.units),
            )
            if text
        ]

    @cached_property
    def verdict(self) -> str:
        """In how many gardens the crop can be relied on, as the page's headline."""
        name = plural(self.reports[0].crop)
        reliable = sum(decide(report).lead.share >= RELIABLE for report in self.reports)
        if reliable == len(self.reports):
            return f"Every garden can grow {name}"
        if not reliable:
            return f"No garden here can rely on {name}"
        return f"{reliable} of {len(self.reports)} gardens can rely on {name}"

    def section(self, name: str) -> Fragment:
        """One section of the page, one of `SECTIONS`."""
        return fill_macro("club.html.j2", name, SECTIONS[name](self), self.units)


# --- its sections ----------------------------------------------------------------------------


def _finding(page: ClubPage) -> Content:
    """The headline, what to check first, and what to do in each garden."""
    first = page.reports[0]
    return {
        "club": page.name,
        "check": page.doubts,
        "crop": first.crop.name,
        "gardens": counted(len(page.reports), "garden"),
        "verdict": page.verdict,
        "todo": [
            (report.garden.name, words.verdict(report), words.numbers_behind(report))
            for report in page.reports
        ],
    }


def _comparison(page: ClubPage) -> Content:
    """The gardens on the same years: who is longest, earliest, latest, in words and a picture."""
    rows, crop_name = page.compared, plural(page.reports[0].crop)
    if not rows:
        return {
            "texts": [no_comparison(page.reports)],
            "figure": None,
            "alt": "",
            "rows": [],
            "crop": "",
        }
    lengths = [f"{row.name}: {days_told(row.median_length)} days in a typical year" for row in rows]
    return {
        "texts": [years_compared(page.reports), *who_differs(rows, crop_name)],
        "figure": assets.drawn(lambda narrow: gardens_figure(rows, narrow=narrow), page.units),
        "alt": "Longest mild spell of the year. " + "; ".join(lengths),
        # Where the tables of the gardens' own numbers say it already, they are not repeated.
        "rows": [] if page.compares_own_numbers else [_line(row) for row in rows],
        "crop": crop_name,
    }


def _side(page: ClubPage) -> Content:
    """The gardens' own numbers side by side, from all years of each record."""
    rows = page.rows
    return {
        "crop": plural(rows[0].report.crop),
        "freezing": sentences.temperature(0.0, page.units),
        "spell_way": spell_way([row.report for row in rows]),
        "frost_climate": frost_climate(rows),
        "rows": [_line(row) for row in rows],
        "file": assets.table(
            _numbers(rows),
            f"{page.name} gardens",
            [f"{each.garden.name}: {text}" for each, texts in _notes(page) for text in texts],
        ),
    }


def _line(row: GardenRow) -> Content:
    """One garden's row of the table."""
    known = row.length.dropna("season").values
    ends = np.quantile(known, (RISK, 1 - RISK), method="hazen") if len(known) else [np.nan]
    first, last = span_of(row.report.daily)
    return {
        "name": row.name,
        "years": f"{first}\N{EN DASH}{last}",
        "middle": days_told(row.median_length),
        "range": " to ".join(dict.fromkeys(map(days_told, ends))),
        "need": row.report.need_days,
        "short": f"{int(row.shorter['shorter'])} of {int(row.shorter['known'])}",
        "even": _typical(chance_row(row.freezes.sel(odds=EVEN))),
        "risk": chance_row(row.freezes.sel(odds=RISK)),
    }


def _typical(dates: Content) -> Content:
    """Dates of a typical year; it may have none."""
    return {key: "none" if text == sentences.NEVER else text for key, text in dates.items()}


def _numbers(rows: list[GardenRow]) -> xr.Dataset:
    """The table's numbers by garden."""
    spans = [span_of(row.report.daily) for row in rows]
    columns = {
        "first_year": [first for first, _ in spans],
        "last_year": [last for _, last in spans],
        "window_days": [row.median_length for row in rows],
        "need_days": [row.report.need_days for row in rows],
        "shorter": [int(row.shorter["shorter"]) for row in rows],
        "known": [int(row.shorter["known"]) for row in rows],
        **{
            f"{half}_{round(10 * level)}_in_10": [row.freeze(half, level) for row in rows]
            for half in HALVES
            for level in (EVEN, RISK)
        },
    }
    out = xr.Dataset({name: ("garden", column) for name, column in columns.items()})
    out["window_days"].attrs = {"units": "days", "long_name": "mild spell, typical year"}
    out["need_days"].attrs = {"units": "days", "long_name": "days outdoors to the first harvest"}
    for name in columns:
        if name.endswith("in_10"):
            out[name].attrs["units"] = "day of the year"
    return out.assign_coords(garden=[row.name for row in rows]).assign_attrs(
        crop=rows[0].report.crop.name
    )


def _ways(page: ClubPage) -> Content:
    """The way that each garden's own page leads with, and its dates."""
    first = page.reports[0]
    leads = [decide(report).lead for report in page.reports]
    heads, dates = words.columns_of_dates(first, leads)
    return {
        "crop": plural(first.crop),
        "heads": heads,
        "rows": [
            {**_way(report), "dates": each}
            for report, each in zip(page.reports, dates, strict=True)
        ],
    }


def _way(report: GardenReport) -> Content:
    """The row that a garden's own page leads with."""
    decision = decide(report)
    lead = decision.lead
    return {
        "name": report.garden.name,
        "way": words.row_name(decision, lead),
        "count": words.row_count(lead),
        "likely": words.likely(lead),
    }


def _sources(page: ClubPage) -> Content:
    """Of each garden where its numbers come from, and where they could mislead."""
    return {
        "gardens": [
            (each.garden.name, [*named_sources(each, page.units), *texts])
            for each, texts in _notes(page)
        ]
    }


def _notes(page: ClubPage) -> list[tuple[GardenReport, list[str]]]:
    """Of each garden where its numbers could mislead."""
    return [
        (each, [*few_years(each), *caveats(each, page.made, page.units)]) for each in page.reports
    ]


def _cautions(page: ClubPage) -> Content:
    return cautions_of(page.reports[0].crop, page.made)


SECTIONS: dict[str, Callable[[ClubPage], Content]] = {
    "finding": _finding,
    "comparison": _comparison,
    "side": _side,
    "ways": _ways,
    "sources": _sources,
    "cautions": _cautions,
}
"""Each section by the name of its macro in ``templates/club.html.j2``."""
