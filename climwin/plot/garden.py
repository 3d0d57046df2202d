"""Figures of the place: the stations around a garden, the plan of a bed trial, its result."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np
import xarray as xr

from climwin.core.formatting import plain
from climwin.core.geo import east_north_km
from climwin.core.schema import Garden
from climwin.plot import style
from climwin.report import sentences_garden
from climwin.report.sentences import percent
from climwin.trials.analysis import ONE_SEASON

if TYPE_CHECKING:
    import pandas as pd
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

NAMED = ("best", "second", "third", "fourth", "fifth", "sixth", "seventh", "eighth")
"""Ranks of the stations that are numbered and named."""
LEVEL_M = 50.0
"""Stations within so much of the garden's height are drawn as level with it. [m]"""

_RINGS_KM = (1, 2, 5, 10, 20, 25, 50, 100, 200)


# --- stations -----------------------------------------------------------------------------


@style.for_phones_too
def station_map(table: pd.DataFrame, garden: Garden, *, narrow: bool = False) -> Figure:
    """Stations around a garden: rings of distance, marks by height, ranks in words.

    Parameters
    ----------
    table : DataFrame
        From `search.find_stations`, the best first; the first eight are numbered and named.
    garden : Garden
        In the middle.
    narrow : bool
        For a page as wide as a phone.
    """
    title = sentences_garden.nearest(table, garden.full_name)
    named = min(len(table), len(NAMED))
    height = 4.9 + 0.62 * named if narrow else max(4.8, 1.2 + 0.52 * named)
    how = "★ the garden; ▲ higher, ▼ lower, ● level with it; ◆ height not known."
    with style.sheet(title, height, table.attrs, narrow=narrow, note=how) as figure:
        shape: dict[str, Any] = (
            {"nrows": 2, "height_ratios": [4, 0.62 * named]} if narrow else {"ncols": 2}
        )
        around, key = style.subplots(figure, **shape)
        _draw_map(around, table, garden)
        _draw_key(key, table.iloc[:named], named if narrow else max(named, 7), 38 if narrow else 46)
    return figure


def _draw_map(ax: Axes, table: pd.DataFrame, garden: Garden) -> None:
    """Rings of distance around the garden, and the stations as marks by height."""
    east, north = _seen_from(garden, table)
    reach = max(1.0, 1.12 * float(np.hypot(east, north).max()))
    step = next((km for km in _RINGS_KM if reach / km <= 4), _RINGS_KM[-1])
    angle = np.linspace(0, 2 * np.pi, 181)
    for ring in np.arange(1, np.ceil(reach / step) + 1) * step:
        ax.plot(ring * np.cos(angle), ring * np.sin(angle), color=style.MIDDLE, lw=0.8, zorder=1)
        ax.text(0, -ring, f"{plain(ring)} km", ha="center", va="center", **_PAPER)
    ax.plot(0, 0, "*", color=style.CROP, mec=style.INK, ms=15, zorder=2)
    for rank, (x, y, up) in enumerate(zip(east, north, table["height_difference_m"], strict=True)):
        color = style.LINE if rank < len(NAMED) else style.MIDDLE
        above = 4 - 0.01 * rank  # the better one on top
        ax.plot(x, y, marker=_mark(up), color=color, ms=9, mec="white", zorder=above)
    edge = np.ceil(reach / step) * step
    _number(ax, np.column_stack((east, north)), 0.115 * edge)
    ax.text(0, 1.04 * edge, "N", ha="center", va="bottom", weight="bold", **style.TEXT)
    ax.set(xlim=(-1.06 * edge, 1.06 * edge), ylim=(-1.08 * edge, 1.14 * edge), aspect="equal")
    ax.set_axis_off()


def _number(ax: Axes, marks: np.ndarray, gap: float) -> None:
    """Number the best stations beside their marks; where these crowd, further off, at a line."""
    from matplotlib.patheffects import withStroke

    halo: dict[str, Any] = {"path_effects": [withStroke(linewidth=2.5, foreground="white")]}
    middle: dict[str, Any] = {
        "ha": "center",
        "va": "center",
        "weight": "bold",
        "zorder": 5,
        "color": style.INK,
    }
    for number, spot in enumerate(_clear_spots(marks, gap), start=1):
        mark = marks[number - 1]
        far = np.hypot(*(spot - mark)) > 1.1 * gap
        line = {"arrowstyle": "-", "color": style.PALE, "lw": 0.9, "shrinkA": 1, "shrinkB": 3}
        leader: dict[str, Any] = {"arrowprops": line} if far else {}
        ax.annotate(
            f"{number}", tuple(mark), tuple(spot), **middle, **halo, **leader, size=style.SMALL
        )


def _clear_spots(marks: np.ndarray, gap: float) -> list[np.ndarray]:
    """Positions of the numbers of the best stations: the nearest free of marks and numbers."""
    angle = np.radians(np.arange(30, 390, 30))
    around = np.column_stack((np.cos(angle), np.sin(angle)))
    ways = np.concatenate([gap * reach * around for reach in (1, 1.6, 2.3, 3, 4)])
    taken = [np.zeros(2), *marks]
    for mark in marks[: len(NAMED)]:
        spots = mark + ways
        room = np.min([np.hypot(*(spots - each).T) for each in taken], axis=0)
        free = room > 0.95 * gap
        taken.append(spots[free.argmax() if free.any() else room.argmax()])
    return taken[1 + len(marks) :]


_PAPER: dict[str, Any] = {
    "size": style.SMALL,
    "color": style.INK,
    "bbox": {"facecolor": "white", "lw": 0, "pad": 0.8, "alpha": 0.85},
}
"""Small type that stays readable over a line."""


def _seen_from(garden: Garden, table: pd.DataFrame) -> tuple[np.ndarray, np.ndarray]:
    """How far east and north of the garden the stations lie, on a flat map. [km]"""
    latitude, longitude = (table[name].to_numpy(float) for name in ("latitude", "longitude"))
    return east_north_km(garden.latitude, garden.longitude, latitude, longitude)


def _mark(up: float) -> str:
    """Mark of a station: higher than the garden, lower, level with it, or not known."""
    if np.isnan(up):
        return "d"
    return "^" if up > LEVEL_M else "v" if up < -LEVEL_M else "o"


def _draw_key(ax: Axes, table: pd.DataFrame, rows: int, width: int) -> None:
    """The numbered stations in words, one below the other."""
    for row, (rank, station) in enumerate(zip(NAMED, table.to_dict("records"), strict=False)):
        where = sentences_garden.from_garden(station["distance_km"], station["height_difference_m"])
        name = style.wrapped(f"{rank}: {station['name']}", width - 3, lines=1)
        ax.text(0, -row, f"{row + 1}  {name}", weight="bold", va="bottom", **style.TEXT)
        told = f"{where}, {percent(station['share_present'])} of the days"
        ax.text(0.05, -row - 0.06, told, va="top", **style.TEXT)
    ax.set(xlim=(0, 1), ylim=(0.3 - rows, 0.6))
    ax.set_axis_off()


# --- the bed ------------------------------------------------------------------------------


@style.for_phones_too
def bed_plan(layout: pd.DataFrame, *, narrow: bool = False) -> Figure:
    """Plots of a trial in the order in which they lie along the bed, to print and to plant by.

    Parameters
    ----------
    layout : DataFrame
        From `lay_out_trial`.
    narrow : bool
        For a page as wide as a phone.
    """
    blocks = [rows for _, rows in layout.groupby("block", sort=False)]
    size = max(len(rows) for rows in blocks)
    across = max(1, (4 if narrow else 8) // size)
    lines = -(-len(blocks) // across)
    treatments = sorted(set(layout["treatment"]))
    title = sentences_garden.bed(layout)
    how = "Numbers run along the bed; each line goes on where the one above it ends."
    with style.sheet(title, 1.4 + 1.05 * lines, {}, narrow=narrow, note=how) as figure:
        ax = style.subplots(figure)
        for place, rows in enumerate(blocks):
            line, column = divmod(place, across)
            left = column * (size + 0.35)
            ax.text(
                left,
                line - 0.04,
                f"Block {rows['block'].iloc[0]}",
                size=style.SMALL,
                color=style.INK,
            )
            for step, plot in enumerate(rows.to_dict("records")):
                paint = _PLOTS[treatments.index(plot["treatment"]) % len(_PLOTS)]
                _draw_plot(ax, left + step, line, plot, paint)
        ax.set(xlim=(-0.05, across * (size + 0.35)), ylim=(lines - 0.22, -0.25))
        ax.set_axis_off()
    return figure


_PLOTS: tuple[dict[str, Any], ...] = (
    {"facecolor": "white"},
    {"facecolor": "#dfe6d5", "hatch": "////"},
    {"facecolor": "#c9d6de", "hatch": "...."},
    {"facecolor": "#efe0bf", "hatch": "xxxx"},
)
"""Plots of each treatment, told apart when printed in grey."""


def _draw_plot(
    ax: Axes, left: float, line: int, plot: dict[Any, Any], paint: dict[str, Any]
) -> None:
    """One plot of the bed, with its number and treatment."""
    from matplotlib.patches import Rectangle

    ax.add_patch(Rectangle((left, line), 1, 0.72, ec=style.MIDDLE, lw=0, **paint))
    ax.add_patch(Rectangle((left, line), 1, 0.72, fill=False, ec=style.INK, lw=1, zorder=5))
    text = f"{plot['plot']}\n{style.wrapped(plot['treatment'], 10, lines=3)}"
    ax.text(left + 0.5, line + 0.36, text, ha="center", va="center", **_PAPER)


# --- what came of it ----------------------------------------------------------------------


@style.for_phones_too
def trial_outcome(trial: pd.DataFrame, result: xr.Dataset, *, narrow: bool = False) -> Figure:
    """Differences within the pairs of a trial, and their mean with its interval.

    Parameters
    ----------
    trial : DataFrame
        From `read_trial`.
    result : Dataset, dims (treatment)
        From `trial_result` of it.
    narrow : bool
        For a page as wide as a phone.
    """
    response, against = result.attrs["response_variable"], result.attrs["against"]
    plots = {name: rows.set_index("block")[response] for name, rows in trial.groupby("treatment")}
    names = [str(name) for name in result["treatment"].values]
    height = (2.9 if narrow else 2.3) + 0.75 * len(names)
    title = sentences_garden.trial(result)
    with style.sheet(title, height, {}, narrow=narrow, note=ONE_SEASON) as figure:
        ax = style.subplots(figure)
        for row, name in enumerate(names):
            gaps = (plots[name] - plots[against]).dropna()
            _draw_gaps(ax, row, gaps.to_numpy(float), result.sel(treatment=name))
        ax.axvline(0, color=style.INK, lw=1, ls=(0, (4, 3)))
        ax.set_ylim(len(names) - 0.4, -0.5)
        left, right = ax.get_xlim()
        gap, side = (3, "left") if left + right > 0 else (-3, "right")
        words: dict[str, Any] = {"ha": side, "size": style.SMALL, "color": style.INK}
        at = (0, len(names) - 0.4)
        ax.annotate("no difference", at, (gap, 3), textcoords="offset points", **words)
        ax.set_yticks(range(len(names)), [style.wrapped(name, 14) for name in names])
        label = f"{sentences_garden.measured(result)}: more or less than {against}"
        ax.set_xlabel(style.wrapped(label, 34 if narrow else 80))
        style.legend(ax, ncols=3)
    return figure


def _draw_gaps(ax: Axes, row: int, gaps: np.ndarray, found: xr.Dataset) -> None:
    """One treatment's pairs as strokes, and below them the mean on its interval."""
    labels = ("a pair", f"{percent(found.attrs['interval'])} interval", "mean")
    if row:
        labels = ("_", "_", "_")
    ax.plot(gaps, [row - 0.16] * len(gaps), "|", color=style.PALE, ms=13, mew=1.6, label=labels[0])
    ends = [float(found[end]) for end in ("low", "high")]
    bar: dict[str, Any] = {"color": style.ENOUGH, "lw": 5, "solid_capstyle": "butt"}
    ax.plot(ends, [row + 0.16] * 2, **bar, label=labels[1])
    middle = float(found["difference"])
    ax.plot(middle, row + 0.16, "D", color=style.INK, ms=7, label=labels[2])
