"""Figures: results and axes in, artists out. The title is the finding, the axes carry the units."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np
import xarray as xr

from climwin.report import GardenReport
from climwin.schema import UNKNOWN, Units, from_celsius
from climwin.seasons import DAYS, MONTH_STARTS, day_of_year
from climwin.words import band, too_short

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

INK, PALE = "#26323a", "#6b7a83"
SPREAD, MIDDLE, LINE = "#d5dfe6", "#a9bfcd", "#31576e"
CROP, ENOUGH, SHORT, MISSING = "#6d9f4b", "#1f6f5c", "#e09a1a", "#f6ead2"
"""Told apart by eyes that mix up red and green, and by their grey on paper."""

STYLE: dict[Any, Any] = {
    "axes.edgecolor": PALE,
    "axes.labelcolor": INK,
    "axes.spines.right": False,
    "axes.spines.top": False,
    "axes.titlecolor": INK,
    "axes.titlelocation": "left",
    "axes.titleweight": "bold",
    "font.size": 10,
    "hatch.linewidth": 0.5,
    "legend.frameon": False,
    "text.color": INK,
    "xtick.color": PALE,
    "xtick.labelcolor": INK,
    "ytick.color": PALE,
    "ytick.labelcolor": INK,
}
_MONTHS = "JFMAMJJASOND"


def answer(report: GardenReport, *, units: Units = "C", narrow: bool = False) -> Figure:
    """Draw the figure that answers: day bands, the crop's band, and the window of every year.

    Parameters
    ----------
    report : GardenReport
        From `garden_report`.
    units : {"C", "F"}
        Unit of the temperature axis.
    narrow : bool
        For a page as wide as a phone.
    """
    import matplotlib as mpl
    from matplotlib.figure import Figure

    rows = report.window.sizes["season"]
    size = (3.9, 3.0 + 0.135 * rows) if narrow else (8.6, 3.6 + 0.115 * rows)
    with mpl.rc_context(STYLE):
        figure = Figure(figsize=size, layout="constrained")
        upper, lower = figure.subplots(2, 1, sharex=True, height_ratios=[2.4, 0.115 * rows + 0.4])
        figure.suptitle(
            _wrapped(too_short(report), 36 if narrow else 78),
            x=0.01,
            ha="left",
            weight="bold",
            size=12 if narrow else 13,
        )
        first = int(report.windows["first_day"])
        draw_bands(upper, report.bands, first, units)
        draw_crop_band(upper, report, units)
        draw_windows(lower, report.window, report.need_days, first)
        _month_axis(lower, first)
        upper.tick_params(which="both", length=0, labelbottom=False)
    return figure


def draw_bands(ax: Axes, bands: xr.Dataset, first_day: int, units: Units) -> None:
    """Spread of the daily mean temperature on each day: half, and four fifths, of all years."""
    values = from_celsius(bands["tmean"], units).roll(day_of_year=1 - first_day)
    x = np.arange(DAYS)
    for low, high, colour, share in ((10, 90, SPREAD, "8 in 10"), (25, 75, MIDDLE, "half")):
        lower, upper = (values.sel(percentile=p) for p in (low, high))
        ax.fill_between(x, lower, upper, color=colour, lw=0, label=f"{share} of all days")
    ax.plot(x, values.sel(percentile=50), color=LINE, lw=1.6, label="the middle of them")
    ax.set_ylabel(f"Daily mean (°{units})")


def draw_crop_band(ax: Axes, report: GardenReport, units: Units) -> None:
    """Lay the crop's band over the temperatures, and the window of the average curve on it."""
    low, high = (from_celsius(v, units) for v in (report.crop.band.low_c, report.crop.band.high_c))
    label = f"{_brief(report.crop.name)}: {band(report.crop, units)}"
    ax.axhspan(low, high, facecolor=CROP, alpha=0.22, lw=0, label=label)
    for edge in (low, high):
        ax.axhline(edge, color=CROP, lw=1)
    start, length = (float(report.window[f"average_{n}"]) for n in ("start_day", "length"))
    if length:
        at = (start - int(report.windows["first_day"])) % DAYS
        bottom, top = ax.get_ylim()
        ax.set_ylim(bottom - 0.14 * (top - bottom), top)
        line = bottom - 0.11 * (top - bottom)
        ax.plot([at, at + length], [line, line], color=INK, lw=4, solid_capstyle="butt")
        text = f"average curve: {length:.0f} days"
        ax.annotate(text, (at + length / 2, line), (0, 4), textcoords="offset points", ha="center")
    _legend(ax, ncols=2)


def draw_windows(ax: Axes, window: xr.Dataset, need_days: int, first_day: int) -> None:
    """One thin bar a year: the real window, and beside it what it lacks of the need."""
    seasons = window["season"].values
    start = (day_of_year(window["start"].fillna(np.datetime64("2001-01-01"))) - first_day) % DAYS
    length, status = window["length"].values, window["status"].values
    held = length > 0
    enough, short = held & (length >= need_days), held & (length < need_days)
    bar: dict[str, Any] = {"height": 0.66}
    lack = np.where(short, need_days - length, 0)
    ax.barh(
        seasons[short],
        lack[short],
        left=(start + length)[short],
        color=MISSING,
        edgecolor=SHORT,
        lw=0.5,
        hatch="////",
        label="days it lacks",
        **bar,
    )
    ax.barh(
        seasons[enough],
        length[enough],
        left=start[enough],
        color=ENOUGH,
        label=f"{need_days} days or more",
        **bar,
    )
    ax.barh(seasons[short], length[short], left=start[short], color=SHORT, label="shorter", **bar)
    for season, state in zip(seasons, status, strict=True):
        if state != "observed":
            said = "a gap in the record" if state == UNKNOWN else "no window"
            ax.text(4, season, said, va="center", size=9, color=PALE, style="italic")
    ax.set_ylim(seasons[-1] + 0.8, seasons[0] - 0.8)
    ax.set_yticks([s for s in seasons if s % 5 == 0])
    ax.set_ylabel("Window of each year")
    _legend(ax, ncols=3)


def _legend(ax: Axes, ncols: int) -> None:
    """Keys above the axes, where they cover nothing."""
    above: dict[str, Any] = {"loc": "lower center", "bbox_to_anchor": (0.5, 1.0)}
    ax.legend(**above, ncols=ncols, fontsize=9, handlelength=1.4)


def _month_axis(ax: Axes, first_day: int) -> None:
    edges = (MONTH_STARTS + 1 - first_day) % DAYS
    ax.set_xlim(0, DAYS)
    ax.set_xticks(np.append(edges, DAYS), [])
    ax.set_xticks([(e + 15) % DAYS for e in edges], list(_MONTHS), minor=True)
    ax.tick_params(axis="x", which="minor", length=0)
    ax.grid(axis="x", color=SPREAD, lw=0.6)
    ax.set_axisbelow(True)


def _wrapped(text: str, width: int) -> str:
    import textwrap

    return "\n".join(textwrap.wrap(text, width, max_lines=3, placeholder=" …"))


def _brief(name: str) -> str:
    return name if len(name) <= 20 else f"{name[:19]}…"
