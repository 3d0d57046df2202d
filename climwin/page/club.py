"""A club's page: several gardens side by side, from a small TOML file.

What stands beside a garden's name is what its own page says, from all years of its record. Gardens
are compared in a part of its own, on the years that all records have.

The page shows what the file lists, and nothing else of anybody. It is made as a garden's page is:
from the cells of ``templates/club.ipynb``.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from pathlib import Path
from typing import TYPE_CHECKING, Any, Literal

import numpy as np
import xarray as xr

from climwin.climate.adjust import adjust_to_garden
from climwin.core.errors import ClimwinError, InputError, Mention, Parameter, RecordError
from climwin.core.formatting import counted, fixed
from climwin.core.measures import metres_of
from climwin.core.schema import Garden, Units, check_choice
from climwin.core.seasons import day_of_year
from climwin.core.stats import LEAST_YEARS
from climwin.core.status import UNKNOWN
from climwin.core.wording import listed
from climwin.crops.catalogue import crop, read_crop
from climwin.crops.model import Crop
from climwin.crops.naming import plural
from climwin.io.daily import read_daily
from climwin.io.structured import read_toml
from climwin.page import assets
from climwin.page.html import Fragment, fill_macro, render_notebook
from climwin.page.notebook import read_template, run_cells
from climwin.page.sections import Content, cautions_of, chance_row, named_sources
from climwin.page.write import date_of_page, write_text
from climwin.plot import style
from climwin.report import sentences
from climwin.report import sentences_decision as words
from climwin.report.decision import RELIABLE, decide
from climwin.report.garden import GardenReport, garden_report
from climwin.report.sentences_caveats import (
    caveats,
    few_years,
    great_height,
    report_departures,
)
from climwin.widgets.state import span_of, within

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

EVEN, RISK = 0.5, 0.1
"""Odds of a freeze whose dates are shown."""

_HALVES = ("last_spring", "first_autumn")

# --- the file -----------------------------------------------------------------------------


@dataclass(frozen=True, slots=True, kw_only=True)
class Member:
    """A garden of the club, and the weather record that stands for it.

    Parameters
    ----------
    name : str
        What the page calls it.
    record : str
        A daily record, its path as seen from the club's file.
    latitude, longitude : float
        Decimal degrees, north and east positive.
    elevation : float or str, optional
        Height above sea level: a number of metres, or a text with its unit, such as ``"1020 ft"``.
    record_units : {"C", "F"}, optional
        Of a record that does not say.
    temperatures : {"station", "garden"}
        As the station measured them, or moved to the garden's height.
    """

    name: str
    record: str
    latitude: float
    longitude: float
    elevation: float | str | None = None
    record_units: Units | None = None
    temperatures: Literal["station", "garden"] = "station"

    def __post_init__(self) -> None:
        if self.elevation is not None:
            metres_of(self.elevation)  # refuses what is no height

    @property
    def height_m(self) -> float | None:
        """Height above sea level, however it was given. [m]"""
        return None if self.elevation is None else metres_of(self.elevation)


@dataclass(frozen=True, slots=True, kw_only=True)
class Club:
    """A club: its gardens, and the crop that they are compared by.

    Parameters
    ----------
    name : str
        What the page calls it.
    crop : str
        A crop of the catalogue, or a crop file's path as seen from the club's file.
    gardens : tuple of Member
        Two or more, of different names.
    need_days : int, optional
        Days the crop needs of a window; where it is left out, those that its usual way of growing
        stands outdoors in each garden.
    """

    name: str
    crop: str
    gardens: tuple[Member, ...]
    need_days: int | None = None

    def __post_init__(self) -> None:
        names = [garden.name for garden in self.gardens]
        if len(names) < 2 or len(set(names)) < len(names):
            msg = (
                "A club's page compares two gardens or more, each with a name of its own; got "
                f"{', '.join(names) or 'none'}. Write a [[gardens]] table for each."
            )
            raise InputError(msg)


def read_club(path: str | Path) -> Club:
    """Club from its TOML file.

    Raises
    ------
    RecordError
        If the file cannot be used; the text names the table and key, and what is allowed.
    """
    return read_toml(Club, path)


def club_reports(
    club: Club, folder: str | Path = ".", *, few_years: bool = False
) -> tuple[GardenReport, ...]:
    """A report for each garden, the same as for its own page.

    Parameters
    ----------
    club : Club
        From `read_club`.
    folder : str or Path
        Where the paths of its records begin.
    few_years : bool
        Whether fewer than ten known years will do, see `garden_report`.

    Raises
    ------
    ValueError
        If a record cannot be used, or has fewer than ten known years.
    """
    where = Path(folder)
    # Each once, in order: the same file in other units would be another record.
    files = dict.fromkeys((member.record, member.record_units) for member in club.gardens)
    records = {(file, units): _read(where / file, units) for file, units in files}
    grown = read_crop(where / club.crop) if club.crop.endswith(".toml") else crop(club.crop)
    return tuple(
        _report(
            member,
            records[member.record, member.record_units],
            grown,
            club.need_days,
            few_years,
        )
        for member in club.gardens
    )


def common_years(reports: Sequence[GardenReport]) -> tuple[int, int] | None:
    """First and last year that all records have; None where they share none."""
    spans = [span_of(report.daily) for report in reports]
    first, last = max(begin for begin, _ in spans), min(end for _, end in spans)
    return (first, last) if first <= last else None


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
    if all(span_of(report.daily) == years for report in reports):
        return tuple(reports)
    if years is None or years[1] - years[0] + 1 < LEAST_YEARS:
        return ()
    return tuple(
        replace(report, daily=within(report.daily, years), given_need_days=report.need_days)
        for report in reports
    )


def _read(file: Path, units: Units | None) -> xr.Dataset:
    """A member's record; an error about its units says what to write in the club's file."""
    try:
        return read_daily(file, units=units)
    except ClimwinError as error:
        raise RecordError(*map(_in_club_file, error.pieces)) from error


def _in_club_file(piece: str | Mention) -> str | Mention:
    """A piece of an error; units are spelled as the key of the club's file."""
    if not isinstance(piece, Parameter) or piece.name != "units":
        return piece
    return f'record_units = "{piece.value}"' if piece.value else "record_units"


def _report(
    member: Member, daily: xr.Dataset, grown: Crop, need: int | None, few_years: bool
) -> GardenReport:
    garden = Garden(member.name, member.latitude, member.longitude, member.height_m)
    moved = adjust_to_garden(daily, garden) if member.temperatures == "garden" else daily
    return garden_report(garden, moved, crop=grown, need_days=need, few_years=few_years)


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
        return self.has_same_years and len({row.climate for row in self.rows}) == 1

    @cached_property
    def has_same_years(self) -> bool:
        """Whether all records run over the same years."""
        return len({span_of(report.daily) for report in self.reports}) == 1

    @cached_property
    def doubts(self) -> list[str]:
        """Why a garden's record may not be what it says, or not the garden's, after its name."""
        return [
            f"{each.garden.name}: {text}"
            for each in self.reports
            for text in (
                *report_departures(each, self.made, self.units),
                great_height(each.garden, each.daily, self.units),
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


# --- one garden ---------------------------------------------------------------------------


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
        return {"texts": [_no_comparison(page)], "figure": None, "alt": "", "rows": [], "crop": ""}
    lengths = [f"{row.name}: {_days(row.median_length)} days in a typical year" for row in rows]
    return {
        "texts": [_years_compared(page), *_who_differs(rows, crop_name)],
        "figure": assets.drawn(lambda narrow: _figure(rows, narrow=narrow), page.units),
        "alt": "Longest mild spell of the year. " + "; ".join(lengths),
        # Where the tables of the gardens' own numbers say it already, they are not repeated.
        "rows": [] if page.compares_own_numbers else [_line(row) for row in rows],
        "crop": crop_name,
    }


def _years_compared(page: ClubPage) -> str:
    """Which years the comparison counts, and why its numbers differ from the gardens' own."""
    first, last = common_years(page.reports) or (0, 0)
    if page.has_same_years:
        return f"All records run from {first} to {last}, so the gardens met the same years."
    return (
        f"This part counts only {first} to {last}, the years that all records have, so that the "
        "gardens meet the same weather. Its numbers differ from those of each garden's own page, "
        "which counts all years of its record."
    )


def _no_comparison(page: ClubPage) -> str:
    years = common_years(page.reports)
    shared = 0 if years is None else years[1] - years[0] + 1
    share = f"share only {sentences.years(shared)}" if shared else "have no year in common"
    return (
        f"The records {share}, too few to compare the gardens: it takes ten. Each garden's own "
        "numbers stand below."
    )


def _longest_spell(rows: list[GardenRow], crop_name: str) -> str:
    """Where the mild spell is longest and where shortest; empty where it is as long in all."""
    by_length = sorted(rows, key=lambda row: -np.nan_to_num(row.median_length, nan=-1))
    longest, shortest = by_length[0], by_length[-1]
    if _days(longest.median_length) == _days(shortest.median_length):
        return ""
    return (
        f"{longest.name} has the longest mild spell for {crop_name}: "
        f"{_days(longest.median_length)} days in a typical year; {shortest.name} has the "
        f"shortest, {_days(shortest.median_length)}."
    )


def _who_differs(rows: list[GardenRow], crop_name: str) -> list[str]:
    """The longest and the shortest mild spell, the earliest and the latest last frost."""
    said = [text for text in [_longest_spell(rows, crop_name)] if text]
    known = [row for row in rows if np.isfinite(row.freeze("last_spring", EVEN))]
    known.sort(key=lambda row: row.freeze("last_spring", EVEN))
    dates = [sentences.date(row.freeze("last_spring", EVEN)) for row in known]
    if len(set(dates)) > 1:
        said.append(
            f"Spring's last frost comes earliest at {known[0].name} ({dates[0]} in a typical "
            f"year) and latest at {known[-1].name} ({dates[-1]})."
        )
    return said


def _side(page: ClubPage) -> Content:
    """The gardens' own numbers side by side, from all years of each record."""
    rows = page.rows
    return {
        "crop": plural(rows[0].report.crop),
        "freezing": sentences.temperature(0.0, page.units),
        "spell_way": _spell_way(page),
        "frost_climate": _frost_climate(rows),
        "rows": [_line(row) for row in rows],
        "file": assets.table(
            _numbers(rows),
            f"{page.name} gardens",
            [f"{each.garden.name}: {text}" for each, texts in _notes(page) for text in texts],
        ),
    }


def _spell_way(page: ClubPage) -> str:
    """For which way of growing the days needed are told."""
    ways = {words.spell_way(report) for report in page.reports}
    if ways == {""}:
        return ""
    if len(ways) > 1:
        return "They are those of the way that each garden's own page counts mild spells for."
    return f"They are those of {plural(page.reports[0].crop)} {ways.pop()}."


def _frost_climate(rows: list[GardenRow]) -> str:
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


def _line(row: GardenRow) -> Content:
    """One garden's row of the table."""
    known = row.length.dropna("season").values
    ends = np.quantile(known, (RISK, 1 - RISK), method="hazen") if len(known) else [np.nan]
    first, last = span_of(row.report.daily)
    return {
        "name": row.name,
        "years": f"{first}\N{EN DASH}{last}",
        "middle": _days(row.median_length),
        "range": " to ".join(dict.fromkeys(map(_days, ends))),
        "need": row.report.need_days,
        "short": f"{int(row.shorter['shorter'])} of {int(row.shorter['known'])}",
        "even": _typical(chance_row(row.freezes.sel(odds=EVEN))),
        "risk": chance_row(row.freezes.sel(odds=RISK)),
    }


def _typical(dates: Content) -> Content:
    """Dates of a typical year; it may have none."""
    return {key: "none" if text == sentences.NEVER else text for key, text in dates.items()}


def _days(value: float) -> str:
    return UNKNOWN if np.isnan(value) else fixed(value)


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
            for half in _HALVES
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


# --- the picture --------------------------------------------------------------------------


def _figure(rows: list[GardenRow], *, narrow: bool) -> Figure:
    """Gardens below each other: a typical year's mild spell, and the time without freezes."""
    report = rows[0].report
    first = int(report.freeze_dates["first_day"])
    name = plural(report.crop)
    told = _longest_spell(rows, name).removesuffix(".")
    title = told or f"The mild spell for {name} is as long in every garden"
    height = (2.3 if narrow else 1.7) + (0.66 if narrow else 0.5) * len(rows)
    with style.sheet(title, height, {}, narrow=narrow, note=_note_of(rows[0])) as figure:
        ax = style.subplots(figure)
        for place, row in enumerate(rows):
            _draw(ax, place, row, first)
        ax.set_ylim(len(rows) - 0.4, -0.6)
        names = [style.wrapped(row.name, 12 if narrow else 22, lines=3) for row in rows]
        ax.set_yticks(range(len(rows)), names)
        style.month_axis(ax, first)
        style.legend(ax, ncols=1 if narrow else 3)
    return figure


def _note_of(row: GardenRow) -> str:
    """The years of the picture, and the climate that its frosts are moved to."""
    first, last = span_of(row.report.daily)
    if row.climate == "record":
        return f"A typical year of {first} to {last}."
    return f"Mild spells: a typical year of {first} to {last}. Frosts: moved to today's climate."


def _draw(ax: Axes, place: int, row: GardenRow, first: int) -> None:
    """One garden: its mild spell as a bar, and its time without freezes below."""
    labels = ["mild spell", "last to first frost, typical year", "a frost in one year of ten"]
    if place:
        labels = ["_"] * 3
    for starts, length in row.bars():
        left = float(np.median(style.on_axis(starts, first)))
        bar: dict[str, Any] = {"height": 0.34, "color": style.ENOUGH, "label": labels[0]}
        ax.barh(place - 0.15, length, left=left, **bar)
        labels[0] = "_"
    marks: tuple[tuple[float, dict[str, Any]], ...] = (
        (EVEN, {"color": style.LINE, "lw": 2, "marker": "|", "ms": 9, "label": labels[1]}),
        (RISK, {"color": style.INK, "ls": "", "marker": "o", "ms": 5, "label": labels[2]}),
    )
    for level, stroke in marks:
        ends = [float(style.on_axis(row.freeze(half, level), first)) for half in _HALVES]
        ax.plot(ends, [place + 0.2] * 2, **stroke)


SECTIONS: dict[str, Callable[[ClubPage], Content]] = {
    "finding": _finding,
    "comparison": _comparison,
    "side": _side,
    "ways": _ways,
    "sources": _sources,
    "cautions": _cautions,
}
"""Each section by the name of its macro in ``templates/club.html.j2``."""
