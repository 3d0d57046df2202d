"""A club's page: several gardens side by side, from a small TOML file, on the same years.

The page shows what the file lists, and nothing else of anybody. It is made as a garden's page is:
from the cells of ``templates/club.ipynb``.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path
from typing import TYPE_CHECKING, Any, Literal

import numpy as np
import xarray as xr

from climwin.climate.adjust import adjust_to_garden
from climwin.core.errors import ClimwinError, InputError, Parameter
from climwin.core.formatting import FOOT_M, fixed
from climwin.core.schema import Garden, RecordError, Units, check_choice
from climwin.core.seasons import day_of_year
from climwin.core.status import UNKNOWN
from climwin.crops.catalogue import crop, read_crop
from climwin.crops.model import Crop
from climwin.io.daily import read_daily
from climwin.io.structured import read_toml
from climwin.page import assets
from climwin.page.html import Fragment, fill_macro, render_notebook
from climwin.page.notebook import read_template, run_cells
from climwin.page.sections import Content, chance_row, named_sources
from climwin.page.write import date_of_page, write_text
from climwin.plot import style
from climwin.report import sentences
from climwin.report.garden import GardenReport, garden_report
from climwin.report.sentences_caveats import caveats, few_years, report_departures
from climwin.report.sentences_ways import instruction
from climwin.widgets.state import span_of, within

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

EVEN, RISK = 0.5, 0.1
"""Odds of a freeze whose dates are shown."""

_LEFT_OUT = "years_left_out_by_club"

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
    elevation : float, optional
        Height above sea level. [m]
    elevation_ft : float, optional
        The same in feet, where that is how it is known. [ft]
    record_units : {"C", "F"}, optional
        Of a record that does not say.
    temperatures : {"station", "garden"}
        As the station measured them, or moved to the garden's height.
    """

    name: str
    record: str
    latitude: float
    longitude: float
    elevation: float | None = None
    elevation_ft: float | None = None
    record_units: Units | None = None
    temperatures: Literal["station", "garden"] = "station"

    def __post_init__(self) -> None:
        if self.elevation is not None and self.elevation_ft is not None:
            msg = (
                f"{self.name!r} has its height twice, as elevation (metres) and elevation_ft "
                "(feet). Leave one of the two out."
            )
            raise InputError(msg)

    @property
    def height_m(self) -> float | None:
        """Height above sea level, however it was given. [m]"""
        return self.elevation if self.elevation_ft is None else self.elevation_ft * FOOT_M


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
    """A report for each garden, over the years that all records have.

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
        If the records have no year in common, or fewer than ten known ones.
    """
    where = Path(folder)
    # Each once, in order: the same file in other units would be another record.
    files = dict.fromkeys((member.record, member.record_units) for member in club.gardens)
    records = {(file, units): _read(where / file, units) for file, units in files}
    spans = [span_of(daily) for daily in records.values()]
    years = max(first for first, _ in spans), min(last for _, last in spans)
    if years[0] > years[1]:
        all_spans = [f"{f}: {a} to {b}" for (f, _), (a, b) in zip(records, spans, strict=True)]
        msg = f"The records have no year in common ({'; '.join(all_spans)}). Take longer ones."
        raise InputError(msg)
    grown = read_crop(where / club.crop) if club.crop.endswith(".toml") else crop(club.crop)
    return tuple(
        _report(
            member,
            _of_years(records[member.record, member.record_units], years),
            grown,
            club.need_days,
            few_years,
        )
        for member in club.gardens
    )


def _read(file: Path, units: Units | None) -> xr.Dataset:
    """A member's record; an error about its units says what to write in the club's file."""
    try:
        return read_daily(file, units=units)
    except ClimwinError as error:
        told = [
            f'record_units = "{piece.value}"'
            if isinstance(piece, Parameter) and piece.name == "units" and piece.value
            else "record_units"
            if isinstance(piece, Parameter) and piece.name == "units"
            else piece
            for piece in error.pieces
        ]
        raise RecordError(*told) from error


def _of_years(daily: xr.Dataset, years: tuple[int, int]) -> xr.Dataset:
    """A record over some years; an attribute tells how many years of it that leaves out."""
    first, last = span_of(daily)
    left_out = last - first - (years[1] - years[0])
    return within(daily, years).assign_attrs({_LEFT_OUT: left_out})


def _report(
    member: Member, daily: xr.Dataset, grown: Crop, need: int | None, few_years: bool
) -> GardenReport:
    garden = Garden(member.name, member.latitude, member.longitude, member.height_m)
    moved = adjust_to_garden(daily, garden) if member.temperatures == "garden" else daily
    return garden_report(garden, moved, crop=grown, need_days=need, few_years=few_years)


# --- writing it ---------------------------------------------------------------------------


def write_club(
    file: str | Path,
    path: str | Path,
    *,
    units: Units = "C",
    made: str | None = None,
    few_years: bool = False,
) -> Path:
    """Write the page of a club as one HTML file.

    Parameters
    ----------
    file : str or Path
        The club's TOML file, see `read_club`.
    path : str or Path
        Where to; an older page is replaced in one step.
    units : {"C", "F"}
        Unit of the temperatures shown.
    made : str, optional
        Today's date, such as ``"2026-11-25"``, printed at the foot.
    few_years : bool
        Whether fewer than ten known years will do; the page says that they are few.

    Returns
    -------
    Path
        Of the page.

    Raises
    ------
    RecordError, ValueError
        If the file, a record, the units or the date cannot be used.
    """
    page = club_page(file, units=units, made=made, few_years=few_years)
    cells = run_cells(read_template("club"), page)
    return write_text(path, render_notebook(cells, title=f"{page.name}: gardens side by side"))


def club_page(
    file: str | Path, *, units: Units = "C", made: str | None = None, few_years: bool = False
) -> ClubPage:
    """Reports on all gardens of a club, ready to be shown section by section.

    Parameters
    ----------
    file, units, made, few_years
        See `write_club`.
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
        Of its gardens, on the same crop and years.
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
        """Gardens, the one with the longest window first."""
        rows = [GardenRow(report) for report in self.reports]
        return sorted(rows, key=lambda row: -np.nan_to_num(row.median_length, nan=-1))

    def section(self, name: str) -> Fragment:
        """One section of the page, one of `SECTIONS`."""
        return fill_macro("club.html.j2", name, SECTIONS[name](self), self.units)


# --- one garden ---------------------------------------------------------------------------


class GardenRow:
    """One garden's numbers; its window is that of the garden's own page."""

    def __init__(self, report: GardenReport) -> None:
        self.report, self.name = report, report.garden.name
        self.length = report.window["length"]
        self.median_length = report.median_length
        today = report.shorter_today if report.leading("window") == "today" else None
        self.shorter = report.shorter if today is None else today
        leading = report.of_climate(report.leading("spring freeze"))
        self.freezes = leading.freeze_odds.sel(threshold=0.0)

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
    rows, first = page.rows, page.reports[0]
    known = [row for row in rows if np.isfinite(row.freeze("last_spring", EVEN))]
    known.sort(key=lambda row: row.freeze("last_spring", EVEN))
    return {
        "club": page.name,
        "check": [
            f"{each.garden.name}: {text}"
            for each in page.reports
            for text in report_departures(each, page.made, page.units)
        ],
        "crop": first.crop.name,
        "years": sentences.years(first.windows.sizes["season"]),
        "longest": (rows[0].name, _days(rows[0].median_length)),
        "shortest": (rows[-1].name, _days(rows[-1].median_length)),
        "todo": [(report.garden.name, _advice(report)) for report in page.reports],
        "frosts": [(r.name, sentences.date(r.freeze("last_spring", EVEN))) for r in known],
    }


def _side(page: ClubPage) -> Content:
    rows = page.rows
    return {
        "crop": rows[0].report.crop.name,
        "rows": [_line(row) for row in rows],
        "years": _years_counted(page),
        "file": assets.table(
            _numbers(rows),
            f"{page.name} gardens",
            [f"{each.garden.name}: {text}" for each, texts in _notes(page) for text in texts],
        ),
    }


def _line(row: GardenRow) -> Content:
    known = row.length.dropna("season").values
    ends = np.quantile(known, (RISK, 1 - RISK), method="hazen") if len(known) else [np.nan]
    return {
        "name": row.name,
        "middle": _days(row.median_length),
        "range": " to ".join(dict.fromkeys(map(_days, ends))),
        "need": row.report.need_days,
        "short": f"{int(row.shorter['shorter'])} of {int(row.shorter['known'])}",
        "even": chance_row(row.freezes.sel(odds=EVEN)),
        "risk": chance_row(row.freezes.sel(odds=RISK)),
    }


def _days(value: float) -> str:
    return UNKNOWN if np.isnan(value) else fixed(value)


def _numbers(rows: list[GardenRow]) -> xr.Dataset:
    """The table's numbers by garden."""
    columns = {
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
    rows = [_way(row.report) for row in page.rows]
    return {"crop": page.reports[0].crop.name, "rows": rows}


def _way(report: GardenReport) -> Content:
    """The way of growing that does best in a garden."""
    plan, odds = report.plans[report.best], report.odds[report.best]
    return {
        "name": report.garden.name,
        "way": sentences.plan_title(plan),
        "harvests": sentences.harvests(odds),
        "good": sentences.good_years(odds),
        "best": sentences.starts(plan, report.swept[report.best]) or "stands for years",
        "set_out": "" if plan.crop.is_perennial else sentences.set_out(plan),
        "ready": sentences.ready(report.timetables[report.best]),
    }


def _advice(report: GardenReport) -> str:
    """What to do in a garden, and how often that comes to a harvest there."""
    odds = report.odds[report.best]
    todo = instruction(report.plans[report.best], report.swept[report.best])
    return f"{todo}: a harvest in {sentences.harvests(odds)}, a good one in {int(odds['good'])}"


def _years_counted(page: ClubPage) -> str:
    """Which years are counted, where a garden's own page counts more."""
    if not any(report.daily.attrs.get(_LEFT_OUT) for report in page.reports):
        return ""
    first, last = span_of(page.reports[0].daily)
    return (
        f"Counted are the years that all records have, {first} to {last}, so that the gardens meet "
        "the same weather. A garden's own page counts all years of its record, and its numbers "
        "may differ."
    )


def _sources(page: ClubPage) -> Content:
    """Of each garden where its numbers come from, and where they could mislead."""
    return {
        "gardens": [
            (each.garden.name, [*named_sources(each), *texts]) for each, texts in _notes(page)
        ]
    }


def _notes(page: ClubPage) -> list[tuple[GardenReport, list[str]]]:
    """Of each garden where its numbers could mislead."""
    return [
        (each, [*few_years(each), *caveats(each, page.made, page.units)]) for each in page.reports
    ]


def _cautions(page: ClubPage) -> Content:
    from climwin import __version__

    texts = [*sentences.CAUTIONS, *page.reports[0].crop.cautions]
    return {"cautions": texts, "made": page.made, "version": __version__}


# --- the picture --------------------------------------------------------------------------


def _picture(page: ClubPage) -> Content:
    rows = page.rows
    lengths = [f"{row.name}: {_days(row.median_length)} days in a typical year" for row in rows]
    return {
        "figure": assets.drawn(lambda narrow: _figure(rows, narrow=narrow)),
        "alt": "Longest mild spell of the year. " + "; ".join(lengths),
    }


def _figure(rows: list[GardenRow], *, narrow: bool) -> Figure:
    """Gardens below each other: the middle year's window, and the time without freezes."""
    report = rows[0].report
    first = int(report.freeze_dates["first_day"])
    title = f"Weeks of {report.crop.name} weather, and the time without freezes"
    height = (2.3 if narrow else 1.7) + (0.66 if narrow else 0.5) * len(rows)
    with style.sheet(title, height, {}, narrow=narrow, note="A typical year.") as figure:
        ax = style.subplots(figure)
        for place, row in enumerate(rows):
            _draw(ax, place, row, first)
        ax.set_ylim(len(rows) - 0.4, -0.6)
        names = [style.wrapped(row.name, 12 if narrow else 22, lines=3) for row in rows]
        ax.set_yticks(range(len(rows)), names)
        style.month_axis(ax, first)
        style.legend(ax, ncols=1 if narrow else 3)
    return figure


def _draw(ax: Axes, place: int, row: GardenRow, first: int) -> None:
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
    "picture": _picture,
    "side": _side,
    "ways": _ways,
    "sources": _sources,
    "cautions": _cautions,
}
"""Each section by the name of its macro in ``templates/club.html.j2``."""
