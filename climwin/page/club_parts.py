"""The parts of a club's page: reports on several gardens in, words and one picture out."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator
from typing import TYPE_CHECKING, Any, NamedTuple

import numpy as np
import xarray as xr

from climwin.climate.windows import odds_shorter
from climwin.core.schema import Units
from climwin.core.seasons import day_of_year
from climwin.core.status import UNKNOWN
from climwin.page import assets
from climwin.page.contents import named_sources
from climwin.page.parts import Fragment, filled
from climwin.page.tables import Content, chance_row
from climwin.plot import style
from climwin.report import sentences
from climwin.report.caveats import caveats, few
from climwin.report.garden import GardenReport

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

EVEN, RISK = 0.5, 0.1
"""Odds of a freeze whose dates are told."""

_HALVES = ("last_spring", "first_autumn")


class ClubPage(NamedTuple):
    """What a club's page is made of."""

    name: str
    reports: tuple[GardenReport, ...]
    units: Units
    made: dt.date | None


def part(name: str, page: ClubPage) -> Fragment:
    """One part of a club's page, see `PARTS`."""
    return filled(name, PARTS[name](page), file="club.html.j2")


# --- one garden ---------------------------------------------------------------------------


class _Row:
    """One garden's numbers; its window is the longest of each year, in spring or in autumn."""

    def __init__(self, report: GardenReport) -> None:
        self.report, self.name = report, report.garden.name
        self.length = report.windows["length"].sel(part="longest")
        self.middle = float(self.length.median())
        self.shorter = odds_shorter(report.windows, report.need_days).sel(part="longest")
        self.freezes = report.freeze_odds.sel(threshold=0.0)

    def freeze(self, half: str, level: float) -> float:
        """Day of the year on which a freeze has these odds."""
        return float(self.freezes[half].sel(odds=level))

    def bars(self) -> Iterator[tuple[np.ndarray, float]]:
        """Starts of the year's window, or of both, and the length in the middle year."""
        windows = self.report.windows
        for name in ("rise", "fall") if bool(windows["has_two_windows"]) else ("longest",):
            held = windows.sel(part=name)
            if bool(held["start"].notnull().any()):
                starts = held["start"].dropna("season").values
                yield day_of_year(starts), float(held["length"].median())


def _rows(page: ClubPage) -> list[_Row]:
    """Gardens, that with the longest window first."""
    rows = [_Row(report) for report in page.reports]
    return sorted(rows, key=lambda row: -np.nan_to_num(row.middle, nan=-1))


# --- the parts ----------------------------------------------------------------------------


def _finding(page: ClubPage) -> Content:
    rows, first = _rows(page), page.reports[0]
    known = [row for row in rows if np.isfinite(row.freeze("last_spring", EVEN))]
    known.sort(key=lambda row: row.freeze("last_spring", EVEN))
    return {
        "club": page.name,
        "crop": first.crop.name,
        "years": sentences.years(first.windows.sizes["season"]),
        "longest": (rows[0].name, _days(rows[0].middle)),
        "shortest": (rows[-1].name, _days(rows[-1].middle)),
        "frosts": [(r.name, sentences.date(r.freeze("last_spring", EVEN))) for r in known],
    }


def _side(page: ClubPage) -> Content:
    rows = _rows(page)
    return {
        "crop": rows[0].report.crop.name,
        "need": rows[0].report.need_days,
        "rows": [_line(row) for row in rows],
        "file": assets.table(
            _numbers(rows),
            f"{page.name} gardens",
            [f"{each.garden.name}: {text}" for each, texts in _minds(page) for text in texts],
        ),
    }


def _line(row: _Row) -> Content:
    known = row.length.dropna("season").values
    ends = np.quantile(known, (RISK, 1 - RISK), method="hazen") if len(known) else [np.nan]
    return {
        "name": row.name,
        "middle": _days(row.middle),
        "range": " to ".join(dict.fromkeys(map(_days, ends))),
        "short": f"{int(row.shorter['shorter'])} of {int(row.shorter['known'])}",
        "even": chance_row(row.freezes.sel(odds=EVEN)),
        "risk": chance_row(row.freezes.sel(odds=RISK)),
    }


def _days(value: float) -> str:
    return UNKNOWN if np.isnan(value) else f"{value:.0f}"


def _numbers(rows: list[_Row]) -> xr.Dataset:
    """The table's numbers by garden."""
    columns = {
        "window_days": [row.middle for row in rows],
        "shorter": [int(row.shorter["shorter"]) for row in rows],
        "known": [int(row.shorter["known"]) for row in rows],
        **{
            f"{half}_{10 * level:.0f}_in_10": [row.freeze(half, level) for row in rows]
            for half in _HALVES
            for level in (EVEN, RISK)
        },
    }
    out = xr.Dataset({name: ("garden", column) for name, column in columns.items()})
    out["window_days"].attrs = {"units": "days", "long_name": "longest window, middle year"}
    for name in columns:
        if name.endswith("in_10"):
            out[name].attrs["units"] = "day of the year"
    report = rows[0].report
    return out.assign_coords(garden=[row.name for row in rows]).assign_attrs(
        crop=report.crop.name, need_days=report.need_days
    )


def _ways(page: ClubPage) -> Content:
    told = [_way(row.report) for row in _rows(page)]
    return {"crop": page.reports[0].crop.name, "rows": told}


def _way(report: GardenReport) -> Content:
    """The way of growing that does best in a garden."""
    shares = [float(odds["share"].fillna(-1)) for odds in report.odds]
    best = int(np.argmax(shares))
    plan, odds = report.plans[best], report.odds[best]
    return {
        "name": report.garden.name,
        "way": sentences.plan_title(plan),
        "worked": f"{int(odds['succeeded'])} of {sentences.years(int(odds['known']))}",
        "best": sentences.starts(plan, report.swept[best]) or "it wakes by itself",
        "set_out": "" if plan.crop.wakes else sentences.set_out(plan),
        "ready": sentences.ready(plan),
    }


def _sources(page: ClubPage) -> Content:
    """Of each garden where its numbers come from, and where they could mislead."""
    return {
        "gardens": [
            (each.garden.name, [*named_sources(each), *texts]) for each, texts in _minds(page)
        ]
    }


def _minds(page: ClubPage) -> list[tuple[GardenReport, list[str]]]:
    """Of each garden where its numbers could mislead."""
    return [(each, [*few(each), *caveats(each, page.made, page.units)]) for each in page.reports]


def _cautions(page: ClubPage) -> Content:
    from climwin import __version__

    told = [*sentences.CAUTIONS, *page.reports[0].crop.cautions]
    return {"cautions": told, "made": page.made, "version": __version__}


# --- the picture --------------------------------------------------------------------------


def _picture(page: ClubPage) -> Content:
    rows = _rows(page)
    told = [f"{row.name}: {_days(row.middle)} days in the middle year" for row in rows]
    return {
        "figure": assets.drawn(lambda narrow: _figure(rows, narrow=narrow)),
        "alt": "Longest window of the year. " + "; ".join(told),
    }


def _figure(rows: list[_Row], *, narrow: bool) -> Figure:
    """Gardens below each other: the middle year's window, and the time without freezes."""
    report = rows[0].report
    first = int(report.freeze_dates["first_day"])
    title = f"Weeks of {report.crop.name} weather, and the time without freezes"
    height = (2.3 if narrow else 1.7) + (0.66 if narrow else 0.5) * len(rows)
    with style.sheet(title, height, {}, narrow=narrow, note="The middle year.") as figure:
        ax = figure.subplots()
        for place, row in enumerate(rows):
            _draw(ax, place, row, first)
        ax.set_ylim(len(rows) - 0.4, -0.6)
        names = [style.wrapped(row.name, 12 if narrow else 22, lines=3) for row in rows]
        ax.set_yticks(range(len(rows)), names)
        style.month_axis(ax, first)
        style.legend(ax, ncols=1 if narrow else 3)
    return figure


def _draw(ax: Axes, place: int, row: _Row, first: int) -> None:
    labels = ["window", "last to first freeze, even odds", "a freeze in one year of ten"]
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


PARTS = {
    "finding": _finding,
    "picture": _picture,
    "side": _side,
    "ways": _ways,
    "sources": _sources,
    "cautions": _cautions,
}
"""Each part by the name of its macro in ``data/page/club.html.j2``."""
