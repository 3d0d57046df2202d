"""Figures of freezes: their odds by date, their dates year by year, and every day of every year."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import TYPE_CHECKING, Any

import numpy as np
import xarray as xr

from climwin.climate.freeze import SHOWN_ODDS
from climwin.climate.trends import CLEAR_P, describe_trend
from climwin.core.errors import Call, InputError, Parameter
from climwin.core.runs import true_runs
from climwin.core.schema import TOLERANCE_C, Units, variable
from climwin.core.seasons import DAYS, by_year, day_name, day_number
from climwin.crops.model import Crop
from climwin.planning.plan import Plan
from climwin.plot import style
from climwin.report import sentences_climate
from climwin.report.sentences import band, set_out

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

_MARGIN, _MOST = 0.17, 0.93
"""Shares of the axes' width between which a date has room on either side of its mark."""
_HALVES = ("last_spring", "first_autumn")


# --- odds by date -------------------------------------------------------------------------


@style.for_phones_too
def freeze_curve(
    chance: xr.Dataset,
    odds: xr.Dataset,
    *,
    units: Units = "C",
    place: str = "",
    narrow: bool = False,
) -> Figure:
    """Chance of a freeze by date, falling in spring and rising in autumn.

    Parameters
    ----------
    chance : Dataset, dims ([period,] [threshold,] day_of_year)
        From `freeze_chance`; periods, from `trends.compare_periods`, get axes of their own.
    odds : Dataset, dims ([period,] [threshold,] odds)
        From `freeze_odds` of the same: the dates at 10, 50 and 90 % are marked and named.
    units : {"C", "F"}
        Unit of the temperatures.
    place : str
        Place and years of the record, for the foot.
    narrow : bool
        For a page as wide as a phone.

    Raises
    ------
    ValueError
        If `odds` lacks one of the levels to mark, or is of other periods or thresholds.
    """
    chances, odds = (_dimmed(found) for found in (chance, odds))
    _check_same(chances, odds)
    periods = chances["period"].values
    first = int(np.ravel(chance["first_day"])[0])
    risk = odds.isel(period=0, threshold=0)
    title = sentences_climate.freeze_dates_at(risk, float(risk["threshold"]), units)
    how = "Chance of a freeze on a day or later (spring), on a day or earlier (autumn)."
    height, attrs = 1.5 + 2.1 * len(periods), style.record_attrs(chance, None)
    ends = str(periods[0]).split("-")
    years = np.array(ends, int) if all(end.isdigit() for end in ends) else None
    with style.sheet(
        title, height, attrs, narrow=narrow, note=how, place=place, years=years
    ) as figure:
        axes = style.subplots(figure, len(periods), 1, sharex=True, squeeze=False)[:, 0]
        for ax, period in zip(axes, periods, strict=True):
            ax.tick_params(axis="x", length=0)
            _draw_chance(ax, chances.sel(period=period), odds.sel(period=period), first, units)
            middle = _midsummer(odds.sel(period=period), first)
            label = period.replace("-", "\N{EN DASH}")
            ax.text(middle, 72, label, ha="center", **style.TEXT)
            style.month_axis(ax, first)
        if chances.sizes["threshold"] > 1:
            style.legend(axes[0], ncols=2 if narrow else 4, handle=2.6)
    return figure


def _check_same(chance: xr.Dataset, odds: xr.Dataset) -> None:
    """Refuse odds without the levels to mark, or of other periods or thresholds than the chance."""
    held = np.round(odds["odds"].values, 3)
    if not np.isin(SHOWN_ODDS, held).all():
        other = (
            f"The curve is marked at the odds {', '.join(map(str, SHOWN_ODDS))}; these are of "
            f"{', '.join(map(str, held))}. Leave ",
            Parameter("levels"),
            " out of ",
            Call("freeze_odds", ("daily",)),
            ", or give these.",
        )
        raise InputError(*other)
    for axis in ("period", "threshold"):
        kinds = [", ".join(map(str, found[axis].values)) for found in (chance, odds)]
        if kinds[0] != kinds[1]:
            msg = (
                f"The chance is of {axis} {kinds[0]}, the odds are of {axis} {kinds[1]}. Make both "
                "from the same record, such as compare_periods(freeze_odds, daily) beside "
                "compare_periods(lambda record: freeze_chance(freeze_dates(record)), daily)."
            )
            raise InputError(msg)


def _dimmed(found: xr.Dataset) -> xr.Dataset:
    """The result with dimensions of periods and thresholds, where it has one of each too."""
    if "threshold" not in found.dims:
        found = found.expand_dims(threshold=[float(found.attrs["threshold_c"])])
    return found if "period" in found.dims else found.expand_dims(period=[""])


def _draw_chance(
    ax: Axes, chance: xr.Dataset, odds: xr.Dataset, first_day: int, units: Units
) -> None:
    """One period's curves, a stroke each threshold, with the marked dates of the outer ones."""
    turned = chance.roll(day_of_year=1 - first_day)
    thresholds = chance["threshold"].values
    towards_summer = {len(thresholds) - 1: False, 0: True}
    for place, threshold in enumerate(thresholds):
        turn = place % len(style.STROKES)
        stroke, marker = style.STROKES[turn], style.MARKERS[turn]
        label = sentences_climate.colder(float(threshold), units)
        dates = {
            half: dict(_dates(odds[half].sel(threshold=threshold), first_day)) for half in _HALVES
        }
        for half in _HALVES:
            curve = 100 * turned[half].sel(threshold=threshold)
            ax.plot(
                np.arange(DAYS),
                curve.where(curve > curve.min() + 1e-9),
                **stroke,
                lw=1.8,
                label=label,
            )
            label = "_"
            for level, at in dates[half].items():
                ax.plot(at, 100 * level, marker, color=stroke["color"], ms=5, clip_on=False)
                if place in towards_summer:
                    is_spring = half == "last_spring"
                    right = towards_summer[place] == is_spring
                    days = dates["first_autumn"].get(level, np.inf) - at
                    # In a short summer both names would stand on each other.
                    aside = is_spring and right and days < 2 * _MARGIN * DAYS
                    _name_date(ax, at, level, first_day, right=right, aside=aside)
    ax.set_ylim(0, 104)
    ax.set_yticks([10, 50, 90])
    ax.grid(axis="y", color=style.SPREAD, lw=0.6)
    ax.set_ylabel("Chance (%)")


def _midsummer(odds: xr.Dataset, first_day: int) -> float:
    """Middle of the time without freezes at the first threshold, as far as there is one."""
    half_way = odds.isel(threshold=0).sel(odds=0.5)
    ends = [float(style.on_axis(half_way[half].item(), first_day)) for half in _HALVES]
    return float(np.mean(ends)) if np.isfinite(ends).all() else DAYS / 2


def _dates(days: xr.DataArray, first_day: int) -> Iterator[tuple[float, float]]:
    """Marked levels with the place of their date, where there is one."""
    for level in days["odds"].values:
        day = float(days.sel(odds=level))
        if round(float(level), 3) in SHOWN_ODDS and np.isfinite(day):
            yield float(level), float(style.on_axis(day, first_day))


def _name_date(
    ax: Axes, at: float, level: float, first_day: int, *, right: bool, aside: bool
) -> None:
    """Write a date beside its mark; `aside`, a line nearer to the middle of the axes."""
    if not _MARGIN * DAYS < at < _MOST * DAYS:  # it would stand on what is beside the axes
        right = at < DAYS / 2
    ax.annotate(
        day_name(at + first_day),
        (at, 100 * level),
        (7 if right else -7, (12 if level < 0.5 else -12) * aside),
        textcoords="offset points",
        ha="left" if right else "right",
        va="center",
        size=style.SMALL,
        color=style.INK,
        bbox={"facecolor": "white", "lw": 0, "pad": 0.6, "alpha": 0.8},
    )


# --- year by year -------------------------------------------------------------------------


@style.for_phones_too
def freeze_years(
    dates: xr.Dataset,
    spring: xr.Dataset,
    autumn: xr.Dataset,
    *,
    units: Units = "C",
    narrow: bool = False,
) -> Figure:
    """Last spring and first autumn freeze of every year, with their trends in words.

    Parameters
    ----------
    dates : Dataset, dims (season)
        From `freeze_dates`, one threshold.
    spring, autumn : Dataset
        From `trends.trend` of ``last_spring`` and ``first_autumn``.
    units : {"C", "F"}
        Unit of the temperatures.
    narrow : bool
        For a page as wide as a phone.
    """
    years, first = dates["season"].values, int(dates["first_day"])
    title = sentences_climate.freeze_trend(spring, autumn)
    ends = ((spring, "Last spring freeze"), (autumn, "First autumn freeze"))
    told = " ".join(describe_trend(each, what) for each, what in ends)
    height = (2.9 if narrow else 2.1) + style.year_height(len(years), narrow)
    attrs = style.record_attrs(dates, None)
    with style.sheet(title, height, attrs, narrow=narrow, note=told, years=years) as figure:
        ax = style.subplots(figure)
        days = [style.on_axis(dates[f"{half}_day"].values, first) for half in _HALVES]
        ax.barh(years, days[1] - days[0], left=days[0], height=0.3, color=style.MIDDLE)
        cold = sentences_climate.colder(float(dates.attrs["threshold_c"]), units)
        names = (f"last night of {cold} in spring", "first in autumn")
        for row, (half, found) in enumerate(zip(_HALVES, (spring, autumn), strict=True)):
            color, day = style.STROKES[row]["color"], days[row]
            ax.plot(day, years, style.MARKERS[row], color=color, ms=4, label=names[row])
            _draw_trend(ax, years, day, found, color)
            middle = float(np.nanmedian(day)) if np.isfinite(day).any() else DAYS / 2
            status = dates[f"{half}_status"].values
            style.say_missing(ax, years, status, "none", gap="a gap", x=middle - 12)
        style.year_axis(ax, years)
        style.month_axis(ax, first)
        ax.set_ylabel("Days free of freezes, each year")
        style.legend(ax, ncols=1 if narrow else 2)
    return figure


def _draw_trend(
    ax: Axes, years: np.ndarray, day: np.ndarray, found: xr.Dataset, color: str
) -> None:
    """Theil and Sen's line through the medians; broken where chance alone could bring it."""
    slope = float(found["slope"])
    if np.isfinite(slope):
        held = np.isfinite(day)
        line = np.median(day[held]) + slope / 10 * (years - np.median(years[held]))
        dashes: Any = "-" if float(found["p"]) < CLEAR_P else (0, (4, 3))
        ax.plot(line, years, color=color, lw=1.2, ls=dashes, zorder=1)


# --- every day of every year --------------------------------------------------------------


@style.for_phones_too
def every_day(
    daily: xr.Dataset,
    usable: xr.Dataset,
    crop: Crop,
    *,
    threshold: float = 0.0,
    plan: Plan | None = None,
    timetable: xr.Dataset | None = None,
    first_day: int = 1,
    units: Units = "C",
    narrow: bool = False,
) -> Figure:
    """Every freeze and every day in the crop's band, years down and days across.

    Above them stand the shares of the years by week.

    Parameters
    ----------
    daily : Dataset, dims (time)
        Needs ``tmin``. [degC]
    usable : Dataset, dims (year, day_of_year)
        From `usable_days` with the crop's band.
    crop : Crop
        Whose band it is.
    threshold : float
        A freeze is a minimum at or below it. [degC]
    plan : Plan, optional
        Its start, and its setting out, are drawn across the years.
    timetable : Dataset, dims (event), optional
        The plan's dates, from `timetable.plan_dates`: its usual first harvest is drawn as well.
    first_day : int
        Day of the year at the left.
    units : {"C", "F"}
        Unit of the temperatures.
    narrow : bool
        For a page as wide as a phone.
    """
    years = usable["year"].values
    freeze = by_year(variable(daily, "tmin")).sel(year=years)
    rows = {
        "suits": usable["sure"],
        "freezes": freeze <= threshold + TOLERANCE_C,
        "missing": freeze.isnull() | (usable["sure"] != usable["possible"]),
    }
    title = sentences_climate.days_at_a_glance(usable, crop, units)
    below = 1.25 * style.year_height(len(years), narrow)
    height = (3.4 if narrow else 2.7) + below
    facts = style.record_attrs(daily, None)
    with style.sheet(title, height, facts, narrow=narrow, years=years) as figure:
        upper, ax = style.subplots(figure, 2, 1, sharex=True, height_ratios=[1.1, below])
        known = ~rows["missing"]
        shares = {kind: rows[kind].where(known).mean("year") for kind in ("suits", "freezes")}
        _draw_shares(upper, shares, first_day)
        keys = {
            "suits": f"{style.brief(crop.name)}: {band(crop, units)}",
            "freezes": f"night of {sentences_climate.colder(threshold, units)}",
            "missing": "not known",
        }
        for kind, mask in rows.items():
            _draw_days(ax, mask.roll(day_of_year=1 - first_day).values, years, kind, keys[kind])
        style.year_axis(ax, years)
        style.month_axis(ax, first_day)
        ax.set_ylabel("Days of each year")
        if plan is not None:
            _draw_plan(ax, plan, timetable, first_day)
        style.legend(ax, ncols=1 if narrow else 3, handle=2.6 if plan else 1.4)
    return figure


_TRACKS: Mapping[str, tuple[float, float, dict[str, Any]]] = {
    "suits": (-0.42, 0.5, {"facecolor": "#8db96f", "lw": 0}),
    "freezes": (0.08, 0.34, {"facecolor": style.INK, "lw": 0}),
    "missing": (-0.42, 0.84, {"facecolor": "white", "edgecolor": style.SHORT, "hatch": "/////"}),
}
"""Where in a year's row a kind of day is drawn, top and height, and how."""


def _draw_shares(ax: Axes, shares: Mapping[str, xr.DataArray], first_day: int) -> None:
    """In how many of the years a day of each week suits the crop, and in how many it freezes."""
    for kind, share in shares.items():
        weeks = 100 * share.roll(day_of_year=1 - first_day).values[: 7 * 52].reshape(52, 7)
        paint = _TRACKS[kind][2]
        ends = np.append(7.0 * np.arange(52), DAYS)  # the day beyond 52 weeks is in the last one
        if kind == "suits":
            ax.stairs(np.nanmean(weeks, axis=1), ends, fill=True, color=paint["facecolor"])
        else:
            ax.stairs(np.nanmean(weeks, axis=1), ends, color=paint["facecolor"], lw=1.4)
    ax.set(ylim=(0, 100), yticks=[0, 50, 100])
    ax.set_ylabel("Years (%)")
    ax.tick_params(which="both", length=0)


def _draw_days(ax: Axes, days: np.ndarray, years: np.ndarray, kind: str, key: str) -> None:
    """Runs of days of one kind, as bars in the years' rows; shape (years, days)."""
    top, height, paint = _TRACKS[kind]
    for year, row in zip(years, days, strict=True):
        begin, end = true_runs(row)
        ax.broken_barh(list(zip(begin, end - begin, strict=True)), (year + top, height), **paint)
    ax.barh([np.nan], [np.nan], label=key, **paint)


def _draw_plan(ax: Axes, plan: Plan, timetable: xr.Dataset | None, first_day: int) -> None:
    """A plan's dates across all years, named at the foot of the axes."""
    start = day_number(plan.start)
    dates: dict[str, float] = {}
    if not plan.crop.is_perennial:
        dates[f"start {day_name(start)}"] = start
    if plan.weeks_under_cover:
        dates[f"set out {set_out(plan)}"] = start + 7 * plan.weeks_under_cover
    if timetable is not None:
        harvest = float(timetable["begin_day"].sel(event="harvest"))
        if np.isfinite(harvest):
            dates[f"first harvest {day_name(harvest)}"] = harvest
    for (name, day), stroke in zip(dates.items(), style.STROKES, strict=False):
        ax.axvline(float(style.on_axis(day, first_day)), color=style.INK, ls=stroke["ls"], lw=1.4)
        ax.plot([], [], color=style.INK, ls=stroke["ls"], lw=1.4, label=name)
