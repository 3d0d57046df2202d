"""Figures of plans: the odds by start date, and how far they hang on the limits taken."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

import numpy as np
import xarray as xr

from climwin.core.errors import Call, InputError, Parameter
from climwin.core.formatting import number
from climwin.core.schema import Units, from_celsius
from climwin.core.seasons import DAYS
from climwin.core.wording import WINDOW_NAMES
from climwin.plot import style
from climwin.report import sentences_garden
from climwin.report.sentences import best_run_of, percent, run_of_dates

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure


# --- start dates --------------------------------------------------------------------------


@style.for_phones_too
def start_dates(
    swept: Mapping[str, xr.Dataset],
    *,
    best: Mapping[str, tuple[int, int] | None] | None = None,
    attrs: Mapping[Any, Any] | None = None,
    first_day: int = 1,
    place: str = "",
    narrow: bool = False,
) -> Figure:
    """Odds of a harvest by start date, a stroke each plan, with intervals and best runs of dates.

    Parameters
    ----------
    swept : mapping of str to Dataset, dims (start_day)
        From `sweep_start_dates`, by what the way of growing is called.
    best : mapping, optional
        First and last day of the best dates of each way, by the same names, or None where no date
        gives a harvest; those of the sweeps unless given.
    attrs : mapping, optional
        Attributes of the record, for the credit; those of the first sweep unless given.
    first_day : int
        Day of the year at the left.
    place : str
        Place and years of the record, for the foot.
    narrow : bool
        For a page as wide as a phone.
    """
    facts = style.record_attrs(next(iter(swept.values())), attrs)
    height = (4.5 if narrow else 3.9) + 0.25 * len(swept)
    runs = best or {name: best_run_of(found) for name, found in swept.items()}
    title = sentences_garden.best_starts(runs)
    how = (
        "Years with a harvest, by date. Shaded: the likely range of each date; paler: of all dates "
        "at once. Past years are not a forecast."
    )
    with style.sheet(title, height, facts, narrow=narrow, note=how, place=place) as figure:
        ax = style.subplots(figure)
        for row, (name, found) in enumerate(swept.items()):
            stroke = style.STROKES[row % len(style.STROKES)]
            turned = found.roll(start_day=1 - first_day)
            _draw_odds(ax, turned, name, stroke, every=_DAYS_APART if narrow else 1)
            run = runs[name]
            if run is not None:
                _draw_best(ax, run, first_day, -9.0 * (row + 1), stroke["color"])
        ax.axhline(0, color=style.PALE, lw=0.8)
        ax.set_ylim(-9 * len(swept) - 7, 104)
        ax.set_yticks(range(0, 101, 25))
        style.month_axis(ax, first_day)
        ax.set_ylabel("Years with a harvest (%)")
        style.legend(ax, ncols=1 if narrow else 2, handle=2.6)
    return figure


_DAYS_APART = 3
"""Between the points of a shaded range in a narrow figure, where a day is as wide as a hair."""


def _draw_odds(
    ax: Axes, swept: xr.Dataset, name: str, stroke: dict[str, Any], *, every: int
) -> None:
    """Odds of one way by start date, over the range of each date and that of all at once."""
    x = np.arange(swept.sizes["start_day"])
    ranges = [("band_low", "band_high", 0.08), ("low", "high", 0.16)]
    for low, high, alpha in ranges if "band_low" in swept else ranges[1:]:
        known = swept["share"].notnull()
        least, most = (100 * swept[end].where(known)[::every] for end in (low, high))
        ax.fill_between(x[::every], least, most, color=stroke["color"], alpha=alpha, lw=0)
    ax.plot(x, 100 * swept["share"], **stroke, lw=2, label=name)


_ROOM_DAYS = 75
"""Days across that the dates beside a bar take in a wide figure; twice as many in a narrow one."""


def _draw_best(ax: Axes, best: tuple[int, int], first_day: int, row: float, color: str) -> None:
    """The run of best dates as a bar, and its dates beside it if there is room."""
    first, last = best
    start, length = float(style.on_axis(first, first_day)), (last - first) % DAYS + 1
    ax.broken_barh([(start, length), (start - DAYS, length)], (row - 2, 4), color=color)
    end = start + length
    before, after = (start - (end - DAYS), 0.0) if end > DAYS else (start, DAYS - end)
    figure: Any = ax.get_figure()
    is_narrow = figure.get_figwidth() < style.WIDE - 2
    if max(before, after) < _ROOM_DAYS * (1 + is_narrow):
        return
    left = before > after
    ax.annotate(
        f"best: {run_of_dates(first, last)}",
        (start if left else end, row),
        (-5 if left else 5, 0),
        textcoords="offset points",
        ha="right" if left else "left",
        va="center",
        size=style.SMALL,
        color=style.INK,
    )


# --- crops that suit ----------------------------------------------------------------------


@style.for_phones_too
def crop_ranking(
    found: xr.Dataset,
    *,
    most: int = 20,
    attrs: Mapping[Any, Any] | None = None,
    narrow: bool = False,
) -> Figure:
    """Crops by the odds of their best way at its best dates, and in words what limits them.

    Parameters
    ----------
    found : Dataset, dims (plan)
        From `suitability.rank_crops`, one station.
    most : int
        Crops to show, the best first.
    attrs : mapping, optional
        Attributes of the record, for the credit; the result's own unless given.
    narrow : bool
        For a page as wide as a phone.
    """
    ranked = found.sortby("rank")
    _, first = np.unique(ranked["crop"].values, return_index=True)
    best = ranked.isel(plan=np.sort(first)[:most])
    rows = best.sizes["plan"]
    how = (
        "By odds times growth. Each way on its best dates, judged on years that had no part in "
        "choosing them. Line: the likely range, nine times in ten. Past years are not a forecast."
    )
    height, facts = 1.9 + (0.82 if narrow else 0.42) * rows, style.record_attrs(found, attrs)
    title, years = sentences_garden.suiting(found), style.years_of(found)
    with style.sheet(title, height, facts, narrow=narrow, note=how, years=years) as figure:
        shape: dict[str, Any] = {} if narrow else {"ncols": 2, "width_ratios": [1, 1.25]}
        axes = np.atleast_1d(style.subplots(figure, **shape, sharey=True))
        _draw_shares(axes[0], best)
        told = [sentences_garden.suited(best.isel(plan=row)) for row in range(rows)]
        names = [style.brief(str(name)) for name in best["crop"].values]
        _tell_below(axes[0], names, told) if narrow else _tell_beside(axes, names, told)
    return figure


def _draw_shares(ax: Axes, best: xr.Dataset) -> None:
    """A dot a crop on its interval: full for sown outdoors, open for raised under cover."""
    rows = np.arange(best.sizes["plan"])
    share, low, high = (100 * best[f"elsewhere_{name}"].values for name in ("share", "low", "high"))
    ax.hlines(rows, 0, 100, color=style.SPREAD, lw=0.6, zorder=0)
    ax.hlines(rows, low, high, color=style.MIDDLE, lw=4)
    raised = best["weeks"].values > 0
    for kind, face, name in ((~raised, style.ENOUGH, "outdoors"), (raised, "white", "under cover")):
        paint: dict[str, Any] = {"mfc": face, "mec": style.ENOUGH, "mew": 1.6, "clip_on": False}
        ax.plot(share[kind], rows[kind], "o", ms=7, **paint, label=name)
    ax.set_xlim(0, 100)
    ax.set_xlabel("Years with a harvest (%)")
    ax.tick_params(axis="y", length=0)
    style.legend(ax, ncols=2)


def _tell_beside(axes: np.ndarray, names: list[str], told: list[str]) -> None:
    """Each crop's name before its row, and behind it what is to be said of it."""
    axes[0].set_yticks(range(len(names)), names)
    axes[0].set_ylim(len(names) - 0.5, -0.6)
    for row, text in enumerate(told):
        axes[1].text(
            0, row, style.wrapped(text, 62), size=style.SMALL, color=style.INK, va="center"
        )
    axes[1].set_axis_off()


def _tell_below(ax: Axes, names: list[str], told: list[str]) -> None:
    """Each crop's name above its row, and below it what is to be said of it."""
    for row, (name, text) in enumerate(zip(names, told, strict=True)):
        ax.text(0, row - 0.13, name, weight="bold", va="bottom", **style.TEXT)
        below = style.wrapped(text, 50)
        ax.text(0, row + 0.13, below, size=style.SMALL, color=style.INK, va="top", linespacing=1.05)
    ax.set_ylim(len(names) - 0.3, -0.6)
    ax.set_yticks([])
    ax.spines["left"].set_visible(False)


# --- a calendar of all crops ---------------------------------------------------------------


@style.for_phones_too
def plot_calendar(
    dates: xr.Dataset,
    *,
    first_day: int = 1,
    attrs: Mapping[Any, Any] | None = None,
    narrow: bool = False,
) -> Figure:
    """Recommended start dates of each crop: a bar for each span, those set out below those sown.

    Parameters
    ----------
    dates : Dataset, dims (row)
        From `dates.planting_calendar`.
    first_day : int
        Day of the year at the left.
    attrs : mapping, optional
        Attributes of the record, for the credit; the result's own unless given.
    narrow : bool
        For a page as wide as a phone.

    Raises
    ------
    ValueError
        If no crop has a span.

    Examples
    --------
    >>> import climwin as cw
    >>> daily = cw.read_daily(cw.sample())
    >>> dates = cw.planting_calendar(daily, [cw.crop("pea"), cw.crop("tomato")])
    >>> [label.get_text() for label in cw.plot_calendar(dates).axes[0].get_yticklabels()]
    ['pea', 'tomato']
    """
    if not dates.sizes["row"]:
        msg = (
            "The calendar is empty: no crop has recommended dates here. Make it with lower odds: ",
            Call("planting_calendar", ("daily", Parameter("least_odds", 0.6))),
            ".",
        )
        raise InputError(*msg)
    names = list(dict.fromkeys(map(str, dates["crop"].values)))
    how = (
        "Full: sow or plant outdoors. Open: set out plants. A dot: the largest expected crop of "
        "that season. No forecast."
    )
    height = (2.2 if narrow else 1.7) + (0.3 if narrow else 0.25) * len(names)
    title = sentences_garden.calendar(dates)
    with style.sheet(
        title, height, style.record_attrs(dates, attrs), narrow=narrow, note=how
    ) as figure:
        ax = style.subplots(figure)
        for number in range(dates.sizes["row"]):
            row = dates.isel(row=number)
            _draw_span(ax, row, names.index(str(row["crop"].item())), first_day)
        ax.set_yticks(range(len(names)), [style.brief(name) for name in names])
        ax.set_ylim(len(names) - 0.4, -0.6)
        ax.tick_params(axis="y", length=0)
        ax.grid(axis="x", color=style.SPREAD, lw=0.6)
        style.month_axis(ax, first_day)
        ax.tick_params(axis="x", which="minor", labeltop=True)  # the figure is a long one
    return figure


def _draw_span(ax: Axes, row: xr.Dataset, place: int, first_day: int) -> None:
    """One span of start dates in its crop's row."""
    set_out = row["method"].item() == "set out"
    first, last, best = (int(row[f"{name}_day"]) for name in ("first", "last", "best"))
    start, length = float(style.on_axis(first, first_day)), (last - first) % DAYS + 1
    at = place + (0.2 if set_out else -0.2)
    bars = [(start, length), (start - DAYS, length)]  # the second where it wraps round the year
    paint: dict[str, Any] = {"edgecolor": style.ENOUGH, "lw": 1.2}
    face = "white" if set_out else style.ENOUGH
    ax.broken_barh(bars, (at - 0.16, 0.32), facecolor=face, **paint)
    dot = "white" if not set_out else style.ENOUGH
    ax.plot(float(style.on_axis(best, first_day)) + 0.5, at, "o", ms=2.5, color=dot)


# --- sensitivity --------------------------------------------------------------------------


@style.for_phones_too
def sensitivity_grid(
    odds: xr.Dataset,
    *,
    part: str = "longest",
    attrs: Mapping[Any, Any] | None = None,
    units: Units = "C",
    narrow: bool = False,
) -> Figure:
    """Odds of too short a window, had the crop's band other limits, as a table with shades.

    Parameters
    ----------
    odds : Dataset, dims (part, low_shift, high_shift)
        From `sensitivity.sensitivity`.
    part : {"longest", "rise", "fall"}
        Which window of the year.
    attrs : mapping, optional
        Attributes of the record, for the credit; the result's own unless given.
    units : {"C", "F"}
        Unit of the limits.
    narrow : bool
        For a page as wide as a phone.
    """
    chosen = odds.sel(part=part).transpose("low_shift", "high_shift", ...)
    share = chosen["share"].values
    rows, columns = share.shape
    title = sentences_garden.sensitive(chosen, units)
    how = (
        f"{WINDOW_NAMES[part]}: years in which it is too short, and their share, in which years "
        "that hang on missing days count in part. Framed: the limits taken."
    )
    height, facts, years = 1.7 + 0.62 * rows, style.record_attrs(odds, attrs), style.years_of(odds)
    with style.sheet(title, height, facts, narrow=narrow, note=how, years=years) as figure:
        ax = style.subplots(figure)
        _draw_cells(ax, chosen)
        for axis, edge, count, name in (
            (ax.yaxis, "low", rows, "Low"),
            (ax.xaxis, "high", columns, "High"),
        ):
            limits = float(odds.attrs[f"{edge}_c"]) + chosen[f"{edge}_shift"].values
            labels = [number(float(from_celsius(limit, units)), 1) for limit in limits]
            axis.set_ticks(range(count), labels)
            axis.set_label_text(f"{name} limit (°{units})")
        ax.tick_params(length=0)
        ax.spines[:].set_visible(False)
    return figure


_ON_SHADE = "#27333b"
"""Ink on cells, which stay light where the paper is dark: none of the inks that turn with it."""


def _draw_cells(ax: Axes, odds: xr.Dataset) -> None:
    """A cell for each pair of limits: darker is more often too short; its own limits framed."""
    from matplotlib.colors import LinearSegmentedColormap
    from matplotlib.patches import Rectangle

    shades = LinearSegmentedColormap.from_list("short", ["#ffffff", style.MISSING, style.SHORT])
    share = odds["share"].values
    ax.imshow(share, cmap=shades, vmin=0, vmax=1, aspect="auto")
    for (row, column), value in np.ndenumerate(share):
        cell = odds.isel(low_shift=row, high_shift=column)
        told = f"{int(cell['shorter'])} of {int(cell['known'])}\n{percent(value)}"
        text = "no such\nwindow" if np.isnan(value) else told
        ax.text(column, row, text, ha="center", va="center", color=_ON_SHADE, size=style.SMALL + 1)
        if cell["low_shift"] == 0 and cell["high_shift"] == 0:
            corner = (column - 0.47, row - 0.46)
            ax.add_patch(Rectangle(corner, 0.94, 0.92, fill=False, ec=_ON_SHADE, lw=2))
