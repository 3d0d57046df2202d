"""Figures of a covered space: its response to the outdoors, a logged period, and its years."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

import numpy as np
import xarray as xr

from climwin.core.formatting import plain
from climwin.core.schema import Units, from_celsius, variable
from climwin.core.seasons import day_name, day_of_year
from climwin.core.status import UNKNOWN
from climwin.crops.bands import bearable_band
from climwin.crops.model import Crop
from climwin.plot import style
from climwin.report import sentences_garden
from climwin.report.sentences import limits
from climwin.report.sentences_climate import degrees
from climwin.shelter.covers import Cover, Response
from climwin.shelter.risk import HOT_C, SpaceCheck

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

COLD, HOT = style.LINE, "#c4571f"


# --- its answer to the outdoors -----------------------------------------------------------


@style.for_phones_too
def space_response(
    cover: Cover,
    inside: xr.Dataset,
    daily: xr.Dataset,
    *,
    units: Units = "C",
    narrow: bool = False,
) -> Figure:
    """Extremes inside against those outdoors, day by day, with the lines that were fitted.

    Parameters
    ----------
    cover : Cover
        From `fit_cover` of the same days.
    inside : Dataset, dims (time)
        From `logger_days`. [degC]
    daily : Dataset, dims (time)
        The outdoor record. [degC]
    units : {"C", "F"}
        Unit of the temperatures.
    narrow : bool
        For a page as wide as a phone.
    """
    sides = [inside[["tmin", "tmax"]], daily[["tmin", "tmax"]]]
    within, outdoors = xr.align(*(side.dropna("time") for side in sides), join="inner")
    title = sentences_garden.response(cover, float(outdoors["tmin"].min()), units)
    height = 7.0 if narrow else 4.4
    facts, years = style.record_attrs(daily, None), np.unique(within["time"].dt.year)
    with style.sheet(title, height, facts, narrow=narrow, years=years) as figure:
        axes = style.subplots(figure, 2, 1) if narrow else style.subplots(figure, 1, 2)
        for ax, name, line, said in (
            (axes[0], "tmin", cover.coldest, "Coldest of the day"),
            (axes[1], "tmax", cover.warmest, "Hottest of the day"),
        ):
            pair = [variable(side, name).values for side in (outdoors, within)]
            _draw_response(ax, line, pair, units)
            style.head(ax, said)
            ax.set_xlabel(f"Outdoors (°{units})")
            ax.set_ylabel(f"Inside (°{units})")
            ax.locator_params(nbins=5)
        axes[0].legend(loc="upper left", handlelength=1.8, **style.KEY)
    return figure


def _draw_response(ax: Axes, line: Response, pair: list[np.ndarray], units: Units) -> None:
    """Days as dots, the fitted line with the reach of nine days in ten, and no cover at all."""
    outdoors = pair[0]
    ends = np.array([outdoors.min(), outdoors.max()])
    if line.knee_c is not None:
        ends = np.sort([*ends, np.clip(line.knee_c, *ends)])
    fitted, reach = line.inside(ends), sentences_garden.reach(line)
    x, y, below, above, dots, level = (
        from_celsius(v, units)
        for v in (ends, fitted, fitted - reach, fitted + reach, pair[1], outdoors)
    )
    ax.fill_between(x, below, above, color=style.SPREAD, lw=0, label="nine days in ten")
    ax.plot(level, dots, "o", ms=3.5, color=style.PALE, alpha=0.7, mew=0, label="a day")
    ax.plot(x, y, color=style.LINE, lw=2, label="fitted")
    ax.plot(x, x, color=style.INK, lw=1, ls=(0, (4, 3)), label="as outdoors")


# --- a logged period ----------------------------------------------------------------------


@style.for_phones_too
def space_inside(
    logger: xr.Dataset,
    crop: Crop,
    check: SpaceCheck,
    *,
    stage: str | None = None,
    hot_c: float = HOT_C,
    units: Units = "C",
    narrow: bool = False,
) -> Figure:
    """Temperatures logged inside, with what a crop bears and survives, and the days at risk.

    Parameters
    ----------
    logger : Dataset, dims (time)
        ``temperature`` of the period. [degC]
    crop : Crop
        What grows in it; its band is its `bearable_band`.
    check : SpaceCheck
        From `check_space` of the same.
    stage : str, optional
        Name of the stage grown inside; the crop's first where left out.
    hot_c : float
        From here on young plants scorch. [degC]
    units : {"C", "F"}
        Unit of the temperatures.
    narrow : bool
        For a page as wide as a phone.
    """
    grown = crop.stage(stage)
    title = sentences_garden.inside(check, grown)
    height = 4.4 if narrow else 3.9
    with style.sheet(title, height, style.record_attrs(logger, None), narrow=narrow) as figure:
        ax = style.subplots(figure)
        bears = bearable_band(crop)
        band = [from_celsius(v, units) for v in (bears.low_c, bears.high_c)]
        label = f"{style.brief(crop.name)}: {limits(bears, units)}"
        ax.axhspan(band[0], band[1], facecolor=style.CROP, alpha=0.22, lw=0, label=label)
        heat, time = from_celsius(logger["temperature"], units), logger["time"].values
        ax.plot(time, heat, color=style.INK, lw=0.8, label="inside")
        edges = (
            (grown.cold.killed_at_c, "kills at", COLD, "v", check.too_cold),
            (hot_c, "scorches from", HOT, "^", check.too_hot),
        )
        for limit, said, color, marker, dates in edges:
            at, dashes = from_celsius(limit, units), (0, (5, 2)) if marker == "v" else (0, (1, 1.2))
            name = f"{said} {degrees(limit, units)}"
            ax.axhline(at, color=color, lw=1.4, ls=dashes, label=name)
            noons = np.array(dates, "datetime64[h]") + np.timedelta64(12, "h")
            ax.plot(noons, [at] * len(dates), marker, color=color, ms=7)
        _date_axis(ax, narrow=narrow)
        ax.set_ylabel(f"Inside (°{units})")
        style.legend(ax, ncols=2 if narrow else 4, handle=2)
    return figure


def _date_axis(ax: Axes, *, narrow: bool) -> None:
    """Dates across, a few of them named."""
    from matplotlib.dates import AutoDateLocator, num2date

    def named(place: float, _: float) -> str:
        date = num2date(place).replace(tzinfo=None)  # type: ignore[no-untyped-call]
        return day_name(float(day_of_year(np.array([date], "datetime64[D]"))[0]))

    few = AutoDateLocator(maxticks=5 if narrow else 9)  # type: ignore[no-untyped-call]
    ax.xaxis.set_major_locator(few)
    ax.xaxis.set_major_formatter(named)
    ax.margins(x=0)


# --- its years ----------------------------------------------------------------------------


@style.for_phones_too
def space_years(
    odds: xr.Dataset, *, attrs: Mapping[Any, Any] | None = None, narrow: bool = False
) -> Figure:
    """Days too cold and too hot under cover to be expected in the weather of every year.

    Parameters
    ----------
    odds : Dataset, dims (year)
        From `space_odds`.
    attrs : mapping, optional
        Attributes of the outdoor record, for the credit.
    narrow : bool
        For a page as wide as a phone.
    """
    years = odds["year"].values
    height = (2.6 if narrow else 2.1) + style.year_height(len(years), narrow)
    title = sentences_garden.space_years(odds)
    how = (
        "Days to be expected in the weather of each year. Single days scatter about the fitted "
        "line, so a year may have a part of a day."
    )
    with style.sheet(
        title, height, style.record_attrs(odds, attrs), narrow=narrow, note=how, years=years
    ) as figure:
        ax = style.subplots(figure)
        for side, sign, paint in (
            ("cold", -1, {"color": COLD}),
            ("hot", 1, {"facecolor": "#f0c9ae", "edgecolor": HOT, "hatch": "....", "lw": 0.6}),
        ):
            days = odds[f"{side}_days"].fillna(0).values
            held = days > 0  # a bar of no length would leave its outline
            ax.barh(years[held], sign * days[held], height=0.66, **paint)
        gap = (odds["cold_status"] == UNKNOWN) | (odds["hot_status"] == UNKNOWN)
        style.say_missing(ax, years, np.where(gap, UNKNOWN, ""), "", gap="a gap", x=0.05)
        most = [max(1.0, float(odds[f"{side}_days"].fillna(0).max())) for side in ("cold", "hot")]
        ax.set_xlim(-1.05 * most[0], 1.05 * most[1])
        ax.axvline(0, color=style.PALE, lw=0.8)
        ax.xaxis.set_major_formatter(lambda days, _: plain(abs(days)))
        ax.set_xlabel("Days too cold \N{LEFTWARDS ARROW} 0 \N{RIGHTWARDS ARROW} days too hot")
        style.year_axis(ax, years)
        ax.set_ylabel("Each year")
    return figure
