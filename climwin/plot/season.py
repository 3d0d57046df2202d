"""Figure of a season: a crop's progress through its stages, and what may come."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING, Any, NamedTuple

import numpy as np
import xarray as xr

from climwin.core.formatting import counted
from climwin.core.stats import LEAST_YEARS
from climwin.core.wording import MONTHS
from climwin.plot import style
from climwin.report import sentences_season as said

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

MOST_STARTS = 12
"""Start dates that are drawn of a crop still to be started."""
MARGIN_DAYS = 12
"""Days shown before the first of a crop's dates, and after the last. [day]"""
MARGIN_TODAY_DAYS = 3
"""Days shown before the date asked about, if nothing was started before it. [day]"""
LONGEST_NAMED = 200
"""Most days across a phone for naming every month. [day]"""
_YEAR, _COMING, _COMING_EDGE = "#0f3346", "#e9ae55", "#8a5608"
"""Inks of this year's line, of what may come, and of its edge."""
_PAPER: dict[str, Any] = {"facecolor": "white", "lw": 0, "pad": 0.6, "alpha": 0.8}
"""Background of words that the line of the date would cross."""
_INKS_OF_STARTS = (
    "Bars: likely dates of the first harvest. Squares: a harvest in at least eight years of ten, "
    "good ones frequent; diamonds: good ones rare; circles: a harvest less often."
)
_NO_FORECAST = "Not a weather forecast: the days to come are those of past years, each in turn."


@style.for_phones_too
def season_ahead(
    so_far: xr.Dataset,
    ahead: xr.Dataset,
    *,
    attrs: Mapping[Any, Any] | None = None,
    place: str = "",
    narrow: bool = False,
) -> Figure:
    """A crop's progress through its stages: this year's line, past years, and what may come.

    Of a crop that stands, its stages go down and the dates go across. The line is this year until
    the date. From there a fan opens over the likely dates of what is still to come, in front of
    the band of past years alone. Of a crop still to be started, each row is a start date, with the
    likely dates of its harvest.

    Parameters
    ----------
    so_far : Dataset
        From `season_so_far`, of one place.
    ahead : Dataset
        From `outlook`, of the same place and date.
    attrs : mapping, optional
        Attributes of the record, for the credit; the result's own unless given.
    place : str
        What the gardener calls it, for the foot; the station's name unless given.
    narrow : bool
        For a page as wide as a phone.
    """
    facts = style.record_attrs(ahead, attrs)
    where = place or str(facts.get("station_name", "")) or "This place"
    is_to_start = "start" in ahead.dims
    whose = style.place_and_years(where, ahead["year"].values)
    foot = [
        _INKS_OF_STARTS if is_to_start else said.early_or_late(so_far),
        _NO_FORECAST,
    ]
    note = " ".join(filter(None, foot))
    rows: list[Any] = _starts(ahead) if is_to_start else _stages(ahead)
    each = 0.34 if is_to_start else 0.66 if narrow else 0.56
    height = each * max(len(rows), 2) + (2.3 if narrow else 1.8)
    finding = said.finding(ahead)
    with style.sheet(finding, height, facts, narrow=narrow, note=note, place=whose) as figure:
        ax = style.subplots(figure)
        if is_to_start:
            _draw_starts(ax, rows, ahead, narrow=narrow)
        else:
            _draw_stages(ax, rows, ahead, narrow=narrow)
        _draw_today(ax, ahead)
    return figure


# --- dates across -------------------------------------------------------------------------


def _place(date: Any, ahead: xr.Dataset) -> float:
    """Place of a date across: days from the date of the question; NaN where there is none."""
    apart = np.asarray(date).astype("datetime64[s]") - np.datetime64(ahead.attrs["on"], "s")
    return np.nan if np.isnat(apart) else float(apart / np.timedelta64(1, "D"))


def _spread(row: xr.Dataset, prefix: str, ahead: xr.Dataset) -> tuple[float, float, float]:
    """Low end, middle and high end of a date's likely range, as places across."""
    low, middle, high = (_place(row[f"{prefix}_{end}"], ahead) for end in ("low", "mid", "high"))
    return low, middle, high


def _name_months(ax: Axes, ahead: xr.Dataset, begin: float, end: float, *, narrow: bool) -> None:
    """Name the months across, each in its middle, with a line where it begins."""
    on = np.datetime64(ahead.attrs["on"], "D")
    first, last = (on + np.timedelta64(int(days), "D") for days in (begin, np.ceil(end)))
    months = np.arange(
        first.astype("datetime64[M]"), last.astype("datetime64[M]") + np.timedelta64(2, "M")
    )
    edges = np.array([_place(month.astype("datetime64[D]"), ahead) for month in months])
    middles = (edges[:-1] + edges[1:]) / 2
    every = 2 if narrow and end - begin > LONGEST_NAMED else 1
    shown = [n for n, at in enumerate(middles) if begin < at < end][::every]
    names = [MONTHS[int(months[n].astype(int)) % 12] for n in shown]
    ax.set_xlim(begin, end)
    ax.set_xticks(edges[(edges >= begin) & (edges <= end)], [])
    ax.set_xticks(middles[shown], names, minor=True)
    ax.tick_params(axis="x", which="minor", length=0)
    ax.grid(axis="x", color=style.SPREAD, lw=0.6)
    ax.set_axisbelow(True)


def _draw_today(ax: Axes, ahead: xr.Dataset) -> None:
    """An upright line at the date of the question, with its name above."""
    ax.axvline(0, color=style.INK, lw=1, ls=(0, (4, 3)), zorder=1.5)
    ax.annotate(
        said.day_of(np.datetime64(ahead.attrs["on"])),
        (0, 1),
        (3, 2),
        xycoords=ax.get_xaxis_transform(),
        textcoords="offset points",
        va="bottom",
        ha="left",
        weight="bold",
        color=style.INK,
        size=style.SMALL,
    )


def _write(ax: Axes, text: str, at: tuple[float, float], **look: Any) -> None:
    """A label beside what it names."""
    ax.annotate(
        text,
        at,
        look.pop("shift", (0, 0)),
        textcoords="offset points",
        size=style.SMALL,
        **{"color": style.INK, "linespacing": 1.1, **look},
    )


def _name_rows(ax: Axes, names: list[str]) -> None:
    ax.set_yticks(range(len(names)), names, linespacing=1.2)
    ax.set_ylim(len(names) - 0.5, -0.6)
    ax.tick_params(axis="y", length=0)
    ax.spines["left"].set_visible(False)


# --- a crop that stands -------------------------------------------------------------------


class _Stage(NamedTuple):
    """A row of the drawing: the start, or an event of the crop's life."""

    name: str
    dates: str
    came: float
    """Where it came, across; NaN if it is still to come."""
    coming: tuple[float, float, float]
    usual: tuple[float, float, float]
    is_seen_enough: bool


def _stages(ahead: xr.Dataset) -> list[_Stage]:
    """The start and all events in the order in which they come."""
    is_perennial = not ahead.attrs["sown"]
    begun = np.datetime64(ahead.attrs["sown"]) if not is_perennial else ahead["as_of"].values[0]
    verb = {"sow": "Sown", "plant": "Planted", "set out": "Set out", "": "Midwinter"}
    at = (_place(begun, ahead),) * 3
    start = _Stage(verb[ahead.attrs["start_verb"]], said.day_of(begun), at[0], at, at, True)
    to_come = {str(row["event"].item()) for row in said.events_to_come(ahead)}
    rows = []
    for name in ahead["event"].values:
        row = ahead.sel(event=name)
        has_come = bool(row["has_come"])
        if has_come or str(name) in to_come:
            rows.append(_stage(row, ahead))
    moments = [row.coming[1] if np.isfinite(row.coming[1]) else row.usual[1] for row in rows]
    order = np.argsort(np.nan_to_num(moments, nan=np.inf), kind="stable")
    shown = [start]
    for row in (rows[n] for n in order):
        if row.came != shown[-1].came:  # a stage that begins with the one before is no row
            shown.append(row)
    return shown


def _stage(row: xr.Dataset, ahead: xr.Dataset) -> _Stage:
    """One event of a crop's life as a row of the drawing."""
    coming, usual = (_spread(row, prefix, ahead) for prefix in ("date", "usual"))
    seen, has_come = int(row["seen"]), bool(row["has_come"])
    if has_come:
        dates = said.day_of(row["date_mid"])
    elif not seen and bool(row["usual_mid"].notnull()) and bool(ahead["has_failed"]):
        dates = f"usually {said.span_of(row['usual_low'], row['usual_high'])}"
    elif not seen:
        dates = "in no past year"
    else:
        prefix = said.prefix_of(row, ahead)
        dates = said.span_of(row[f"{prefix}_low"], row[f"{prefix}_high"])
    if str(row["event"].item()) == "harvest" and seen and not has_come:
        dates = f"{dates}\n{seen} of {counted(int(ahead['known']), 'year')}"
    came = coming[1] if has_come else np.nan
    return _Stage(said.event_name(row, ahead), dates, came, coming, usual, seen >= LEAST_YEARS)


def _draw_stages(ax: Axes, rows: list[_Stage], ahead: xr.Dataset, *, narrow: bool) -> None:
    """The band of past years, this year's line, and the fan of what may come."""
    says_more = bool(ahead["says_more"])
    _draw_past(ax, rows)
    line = _draw_this_year(ax, rows, ahead)
    to_come = [(n, row) for n, row in enumerate(rows) if np.isnan(row.came)]
    fan = [(n, row) for n, row in to_come if np.isfinite(row.coming[1])] if says_more else []
    if fan and not bool(ahead["has_failed"]):
        _draw_fan(ax, fan, line)
    ends = [at for row in rows for at in (*row.coming, *row.usual) if np.isfinite(at)]
    begin, end = min(ends) - MARGIN_DAYS, max([*ends, 0.0]) + MARGIN_DAYS
    words = (0.5 if narrow else 0.2) * (end - begin)
    beside = _beside_band(rows, end - words)
    _name_rows(ax, [f"{style.wrapped(row.name, 14)}\n{row.dates}" for row in rows])
    for n in range(len(rows)):
        ax.axhline(n, color=style.SPREAD, lw=0.6, zorder=0)
    _name_months(ax, ahead, begin, end, narrow=narrow)
    _label_parts(ax, rows, fan, beside, says_more=says_more or bool(ahead["has_failed"]))


def _draw_past(ax: Axes, rows: list[_Stage]) -> None:
    """Dates by past years alone, nine times in ten, as a band from stage to stage."""
    known = [(n, row.usual) for n, row in enumerate(rows) if np.isfinite(row.usual[1])]
    y = [n for n, _ in known]
    low, middle, high = np.array([usual for _, usual in known]).T
    ax.fill_betweenx(y, low, high, color=style.SPREAD, lw=0, zorder=1)
    ax.plot(low, y, color=style.MIDDLE, lw=0.8, zorder=1.1)
    ax.plot(high, y, color=style.MIDDLE, lw=0.8, zorder=1.1)
    ax.plot(middle, y, color=style.LINE, lw=1.2, ls=(0, (1, 2)), zorder=1.2)


def _draw_this_year(ax: Axes, rows: list[_Stage], ahead: xr.Dataset) -> tuple[float, float]:
    """Draw the stages that have come as a line; return where it ends, across and down."""
    came = [(row.came, n) for n, row in enumerate(rows) if np.isfinite(row.came)]
    last, n = came[-1]
    if bool(ahead["has_failed"]):
        failed = _place(ahead["failed_on"].isel(year=_first_failed(ahead)), ahead)
        end = (max(failed, last), n + 0.35)
    elif n + 1 < len(rows):
        coming, usual = rows[n + 1].coming[1], rows[n + 1].usual[1]
        due = coming if np.isfinite(coming) else usual
        share = -last / (due - last) if np.isfinite(due) and due > last else 0.5
        end = (0.0, n + min(max(share, 0.0), 0.9))
    else:
        end = (last, float(n))
    x, y = zip(*came, end, strict=True)
    ax.plot(x, y, color=_YEAR, lw=2.6, solid_joinstyle="round", zorder=3, label="this year")
    ax.plot(x[: len(came)], y[: len(came)], "o", color=_YEAR, ms=7, zorder=3.1)
    if bool(ahead["has_failed"]):
        ax.plot(*end, "X", color=_YEAR, ms=9, zorder=3.1)
        _write(ax, "failed", end, shift=(8, 0), va="center", weight="bold")
    return end


def _first_failed(ahead: xr.Dataset) -> int:
    return int((ahead["outcome"] == "failed").argmax("year"))


def _draw_fan(ax: Axes, fan: list[tuple[int, _Stage]], line: tuple[float, float]) -> None:
    """What may come: from where this year stands over the likely dates of each stage."""
    y = [line[1], *(n for n, _ in fan)]
    low, middle, high = ([line[0], *(float(row.coming[end]) for _, row in fan)] for end in range(3))
    ax.fill_betweenx(y, low, high, color=_COMING, alpha=0.45, lw=0, zorder=2)
    ax.plot(middle, y, color=_YEAR, lw=1.2, ls=(0, (4, 2)), zorder=2.2)
    for n, row in fan:
        first, typical, last = row.coming
        width = max(last - first, 0.0) + 1.0
        ax.barh(
            n,
            width,
            left=first - 0.5,
            height=0.3,
            fc=_COMING if row.is_seen_enough else "none",
            ec=_COMING_EDGE,
            lw=1.0,
            zorder=2.5,
        )
        ax.plot([typical] * 2, [n - 0.2, n + 0.2], color=_YEAR, lw=2.0, zorder=2.6)


def _beside_band(rows: list[_Stage], furthest: float) -> tuple[float, float] | None:
    """Where the words on past years stand: as far down beside their band as there is room.

    None where no past year came further than the start, so that there is no band.
    """
    known = [(n, _right_edge(row)) for n, row in enumerate(rows) if np.isfinite(row.usual[2])]
    if len(known) == 1:
        return None
    down, edges = np.array(known).T
    y = np.arange(down[-1], 0, -0.05)
    x = np.interp(y, down, edges)
    place = int(np.argmax(x <= furthest)) if (x <= furthest).any() else len(y) - 1
    return float(x[place]), float(y[place])


def _right_edge(row: _Stage) -> float:
    return float(np.nanmax([row.usual[2], row.coming[2]]))


def _label_parts(
    ax: Axes,
    rows: list[_Stage],
    fan: list[tuple[int, _Stage]],
    beside: tuple[float, float] | None,
    *,
    says_more: bool,
) -> None:
    """Name the line, the fan and the band where each has room beside it."""
    start = rows[0]
    _write(ax, "this year", (start.came, 0), shift=(9, 4), va="bottom", weight="bold", color=_YEAR)
    if beside:
        text = "past years alone,\nnine times in ten"
        if not says_more:
            text += ";\ntoo early to say more"
        _write(ax, text, beside, shift=(8, 2), va="bottom", color=style.PALE, bbox=_PAPER)
    if fan:
        n, row = fan[-1]
        left = min(row.coming[0], row.usual[0] if np.isfinite(row.usual[0]) else np.inf)
        above = fan[-2][1].coming[0] if len(fan) > 1 else start.came
        at = (left - 0.4 * max(left - above, 0.0), n)  # the fan leans to the left above its end
        text = "may come,\nnine times in ten"
        _write(
            ax, text, at, shift=(-4, 0), va="center", ha="right", color=_COMING_EDGE, bbox=_PAPER
        )


# --- a crop still to be started -----------------------------------------------------------


def _starts(ahead: xr.Dataset) -> list[xr.Dataset]:
    """Starts that come to a harvest, thinned out to a few."""
    there = ahead.assign(worth=("start", said.worth_starting(ahead)))
    there = there.isel(start=(there["harvested"] > 0).values)
    step = -(-there.sizes["start"] // MOST_STARTS) or 1
    return [there.isel(start=n) for n in range(0, there.sizes["start"], step)]


def _draw_starts(ax: Axes, rows: list[xr.Dataset], ahead: xr.Dataset, *, narrow: bool) -> None:
    """A row for each start still to come, with its harvest and its counts."""
    done = {"sow": "Sown", "plant": "Planted", "set out": "Set out"}[ahead.attrs["start_verb"]]
    ends = [0.0, *(_place(row["harvest_high"], ahead) for row in rows)]
    begin, end = -MARGIN_TODAY_DAYS, float(np.nanmax(ends))
    end += (0.5 if narrow else 0.24) * (end - begin)
    for n, row in enumerate(rows):
        _draw_start(ax, n, row, ahead)
    if rows:
        first = rows[0]
        low, _, high = _spread(first, "harvest", ahead)
        picked = f"first {ahead.attrs['harvest_verb']}"
        _write(ax, picked, ((low + high) / 2, -0.45), va="bottom", ha="center", weight="bold")
        heads = "harvest\n(good one)" if narrow else "harvest (good one)"
        _write(ax, heads, (end, -0.4), va="bottom", ha="right", color=style.PALE)
    else:
        _write(ax, "no date leads to a harvest", (0, 0), shift=(6, 0), va="center")
    _name_rows(ax, [said.day_of(row["start"]) for row in rows] or [""])
    ax.set_ylim(max(len(rows), 1) - 0.5, -1.5 if narrow else -1.1)
    ax.set_ylabel(done)
    _name_months(ax, ahead, begin, end, narrow=narrow)
    for n, row in enumerate(rows):
        text = f"{int(row['harvested'])} of {int(row['known'])} ({int(row['good'])})"
        bold = "bold" if bool(row["worth"]) else "normal"
        _write(ax, text, (end, n), va="center", ha="right", weight=bold)


def _draw_start(ax: Axes, n: int, row: xr.Dataset, ahead: xr.Dataset) -> None:
    """One start: its day, the time that it grows, and the likely dates of its harvest."""
    zone = 2 if bool(row["worth"]) else 1 if float(row["odds"]) >= said.ENOUGH_ODDS else 0
    fill, edge = style.ZONES[zone], style.ZONE_WORDS[zone]
    begin = _place(row["start"], ahead)
    low, middle, high = _spread(row, "harvest", ahead)
    ax.plot([begin, low], [n, n], color=style.MIDDLE, lw=1.2, zorder=1)
    marker, size = style.ZONE_MARKS[zone], 6 * style.ZONE_SIZES[zone]
    ax.plot(begin, n, marker, mfc=fill, mec=edge, ms=size, zorder=2)
    ax.barh(n, high - low + 1, left=low - 0.5, height=0.5, fc=fill, ec=edge, lw=0.8, zorder=2)
    ax.plot([middle] * 2, [n - 0.36, n + 0.36], color=style.INK, lw=1.6, zorder=3)
