"""The crop's limits over the year: how often each week suits it, and the temperatures behind."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import xarray as xr

from climwin.climate.comfort import WEEKS
from climwin.core.schema import Units, from_celsius
from climwin.core.seasons import DAYS
from climwin.plot import style
from climwin.report.garden import GardenReport
from climwin.report.sentences_decision import comfort_title

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

TILES = 10
"""Marks of each week: one for each year in ten."""

_NAMES = {0: "neither: too cold or too hot", 1: "bearable", 2: "comfortable"}


@style.for_phones_too
def plot_comfort(report: GardenReport, *, units: Units = "C", narrow: bool = False) -> Figure:
    """Draw in how many years each week would be comfortable for the crop, bearable, or neither.

    Above, ten marks a week, one for each year in ten. Below, the crop's limits as fields, and over
    them the daily means of cold, typical and warm years (the 10th, 50th and 90th percentile).

    Parameters
    ----------
    report : GardenReport
        From `garden_report`.
    units : {"C", "F"}
        Unit of the temperatures.
    narrow : bool
        For a page as wide as a phone.

    Examples
    --------
    >>> import climwin as cw
    >>> daily = cw.read_daily(cw.sample())
    >>> garden = cw.Garden("Pellbrook allotments", 46.1, 7.2, 640)
    >>> report = cw.garden_report(garden, daily, crop=cw.crop("pea"))
    >>> cw.plot_comfort(report).savefig("comfort.png")  # doctest: +SKIP
    """
    first = style.year_start(int(report.windows["first_day"]))
    years = report.window["season"].values
    note = (
        "By the mean of each week. Ten marks a week, one for each year in ten. The thick line is "
        "a typical year."
    )
    place = style.place_and_years(report.garden.name, years)
    title = comfort_title(report)
    attrs = style.record_attrs(report.windows, report.daily.attrs)
    height = 5.0 if narrow else 5.2
    with style.sheet(title, height, attrs, narrow=narrow, note=note, place=place) as figure:
        upper, lower = style.subplots(figure, 2, 1, sharex=True, height_ratios=[1.15, 1])
        _draw_tiles(upper, report.comfort, first, narrow)
        _draw_limits(lower, report, first, units, every=3 if narrow else 1)
        style.month_axis(lower, first)
        upper.tick_params(which="both", length=0, labelbottom=False)
    return figure


def tiles_of(years: xr.Dataset) -> np.ndarray:
    """How many of a week's ten marks are comfortable, bearable and neither, shape (weeks, 3).

    The three add up to ten: the remainder of rounding goes where most was cut off.
    """
    counts = years["years"].transpose("week", "state").values
    three = np.stack([counts[:, 2], counts[:, 1] + counts[:, 3], counts[:, 0] + counts[:, 4]], 1)
    share = TILES * three / np.maximum(years["known"].values, 1)[:, None]
    whole = np.floor(share)
    order = np.argsort(whole - share, axis=1, kind="stable")
    left = np.where(years["known"].values > 0, TILES - whole.sum(axis=1), 0)
    rank = np.argsort(order, axis=1, kind="stable")
    tiles: np.ndarray = (whole + (rank < left[:, None])).astype(int)
    return tiles


def _draw_tiles(ax: Axes, weeks: xr.Dataset, first_day: int, narrow: bool) -> None:
    """Ten marks a week, the comfortable ones at the bottom."""
    tiles = tiles_of(weeks)
    middle = style.on_axis(7.0 * np.arange(WEEKS) + 4, first_day)
    size = 4.6 if narrow else 8.6
    tops = np.cumsum(tiles, axis=1)
    for zone, kind in ((2, 0), (1, 1), (0, 2)):
        begin = tops[:, kind] - tiles[:, kind]
        x = np.repeat(middle, tiles[:, kind])
        y = np.concatenate([np.arange(b, t) for b, t in zip(begin, tops[:, kind], strict=True)])
        ax.plot(
            x,
            y + 0.5,
            style.ZONE_MARKS[zone],
            ms=size * style.ZONE_SIZES[zone],
            mfc="none" if zone == 0 else style.ZONES[zone],
            mec=style.ZONE_WORDS[zone],
            mew=0.8 if zone == 0 else 0,
            ls="",
            label=_NAMES[zone],
        )
    ax.set_ylim(0, TILES)
    ax.set_yticks([0, 5, 10], ["0", "5", "10"])
    ax.set_ylabel("Years in ten")
    style.legend(ax, ncols=1 if narrow else 3)


def _name_lines(ax: Axes, bands: xr.DataArray) -> None:
    """Name the warm and the cold years; the line between them is thicker, and the foot names it."""
    typical = bands.sel(percentile=50).values
    if not np.isfinite(typical).any():
        return
    peak = int(np.nanargmax(typical))
    # Steep 50 days before the peak, and still well above the line at freezing. Where the axis
    # begins or ends there: far enough after it to stay clear of the names of the fields.
    is_amid = 50 <= peak <= DAYS - 50
    steep, away, side = (peak - 50, 5, "left") if is_amid else ((peak + 110) % DAYS, -5, "right")
    above = "left" if peak < 40 else "right" if peak > DAYS - 40 else "center"
    for percentile, name, at, (dx, dy), across, up in (
        (90, "warm years", peak, (0, 3), above, "bottom"),
        (10, "cold years", steep, (away, -3), side, "top"),
    ):
        ax.annotate(
            name,
            (at, float(bands.sel(percentile=percentile).values[at])),
            (dx, dy),
            textcoords="offset points",
            ha=across,
            va=up,
            size=style.SMALL,
            color=style.INK,
        )


def _draw_limits(
    ax: Axes, report: GardenReport, first_day: int, units: Units, *, every: int
) -> None:
    """The crop's limits as fields across the year, and the temperatures of every so many days."""
    bears, likes = report.band, report.comfortable
    low, good, best, high = (
        float(from_celsius(v, units))
        for v in (bears.low_c, likes.low_c, likes.high_c, bears.high_c)
    )
    ax.axhspan(low, high, facecolor=style.ZONES[1], alpha=0.18, lw=0)
    ax.axhspan(good, best, facecolor=style.ZONES[2], alpha=0.22, lw=0)
    bands = from_celsius(report.bands["tmean"], units).roll(day_of_year=1 - first_day)
    x = np.arange(0, DAYS, every)
    for percentile, dashes in ((90, (0, (4, 2))), (50, "-"), (10, (0, (1, 1.4)))):
        values = bands.sel(percentile=percentile).values[::every]
        ax.plot(x, values, color=style.INK, lw=1.6 if percentile == 50 else 1.1, ls=dashes)
    _name_lines(ax, bands)
    style.freezing_line(ax, units)
    for level, text in ((0.5 * (good + best), "comfortable"), (0.5 * (low + good), "bearable")):
        ax.text(4, level, text, va="center", size=style.SMALL, color=style.ZONE_WORDS[2])
    ax.set_ylabel(f"Daily mean (°{units})")
