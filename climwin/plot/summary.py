"""Figures: results and axes in, artists out. The title is the finding, the axes carry the units."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np
import xarray as xr

from climwin.core.formatting import days_long
from climwin.core.schema import Units, from_celsius
from climwin.core.seasons import day_of_year
from climwin.plot import style
from climwin.report.garden import GardenReport
from climwin.report.sentences import limits, too_short

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure


def plot_summary(report: GardenReport, *, units: Units = "C", narrow: bool = False) -> Figure:
    """Draw the figure that answers: day bands, the crop's band, and the window of every year.

    Parameters
    ----------
    report : GardenReport
        From `garden_report`.
    units : {"C", "F"}
        Unit of the temperature axis.
    narrow : bool
        For a page as wide as a phone.

    Examples
    --------
    >>> import climwin as cw
    >>> daily = cw.read_daily(cw.sample())
    >>> garden = cw.Garden("Pellbrook allotments", 46.1, 7.2, 640)
    >>> report = cw.garden_report(garden, daily, crop=cw.crop("pea"))
    >>> cw.plot_summary(report).savefig("summary.png")  # doctest: +SKIP
    """
    lower_height = style.year_height(report.window.sizes["season"], narrow)
    height = (2.9 if narrow else 3.4) + lower_height
    attrs = style.facts(report.windows, report.daily.attrs)
    with style.sheet(too_short(report), height, attrs, narrow=narrow) as figure:
        upper, lower = style.subplots(figure, 2, 1, sharex=True, height_ratios=[2.4, lower_height])
        first = int(report.windows["first_day"])
        draw_bands(upper, report.bands, first, units)
        draw_crop_band(upper, report, units)
        draw_windows(lower, report.window, report.need_days, first)
        style.month_axis(lower, first)
        upper.tick_params(which="both", length=0, labelbottom=False)
    return figure


def draw_bands(ax: Axes, bands: xr.Dataset, first_day: int, units: Units) -> None:
    """Spread of the daily mean temperature on each day: half, and four fifths, of all years."""
    style.spread(ax, from_celsius(bands["tmean"], units).roll(day_of_year=1 - first_day))
    ax.set_ylabel(f"Daily mean (°{units})")


def draw_crop_band(ax: Axes, report: GardenReport, units: Units) -> None:
    """Lay the crop's band over the temperatures, and the window of the average curve on it."""
    bears = report.band
    low, high = (from_celsius(v, units) for v in (bears.low_c, bears.high_c))
    label = f"{style.brief(report.crop.name)}: {limits(bears, units)}"
    ax.axhspan(low, high, facecolor=style.CROP, alpha=0.22, lw=0, label=label)
    for edge in (low, high):
        ax.axhline(edge, color=style.CROP, lw=1)
    start, length = (float(report.window[f"average_{n}"]) for n in ("start_day", "length"))
    if length:
        at = float(style.on_axis(start, int(report.windows["first_day"])))
        bottom, top = ax.get_ylim()
        ax.set_ylim(bottom - 0.14 * (top - bottom), top)
        line = bottom - 0.11 * (top - bottom)
        ax.plot([at, at + length], [line, line], color=style.INK, lw=4, solid_capstyle="butt")
        text = f"average curve: {days_long(length)}"
        ax.annotate(
            text,
            (at + length / 2, line),
            (0, 4),
            textcoords="offset points",
            ha="center",
            **style.TEXT,
        )
    style.legend(ax, ncols=2)


def draw_windows(ax: Axes, window: xr.Dataset, need_days: int, first_day: int) -> None:
    """One thin bar a year: the real window, and beside it what it lacks of the need."""
    seasons = window["season"].values
    start = style.on_axis(
        day_of_year(window["start"].fillna(np.datetime64("2001-01-01"))), first_day
    )
    length, status = window["length"].values, window["status"].values
    held = length > 0
    enough, short = held & (length >= need_days), held & (length < need_days)
    bar: dict[str, Any] = {"height": 0.66}
    lack = np.where(short, need_days - length, 0)
    ax.barh(
        seasons[short],
        lack[short],
        left=(start + length)[short],
        label="days it lacks",
        **style.LACKING,
        **bar,
    )
    ax.barh(
        seasons[enough],
        length[enough],
        left=start[enough],
        color=style.ENOUGH,
        label=f"{need_days} days or more",
        **bar,
    )
    ax.barh(
        seasons[short], length[short], left=start[short], color=style.SHORT, label="shorter", **bar
    )
    style.say_missing(ax, seasons, status, "no window")
    style.year_axis(ax, seasons)
    ax.set_ylabel("Window of each year")
    style.legend(ax, ncols=3)
