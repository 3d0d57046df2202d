"""Figures of the year's weather: its spread by day, warm soil, heat, dry spells, and what if."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

import numpy as np
import xarray as xr

from climwin.climate.rain import WET_MM
from climwin.climate.windows import odds_shorter
from climwin.core.errors import InputError
from climwin.core.formatting import as_typed, between, counted, degree_days, number
from climwin.core.provenance import scenario_of
from climwin.core.schema import Units, difference_from_celsius, from_celsius
from climwin.core.seasons import DAYS, MONTH_STARTS, day_name
from climwin.core.status import UNKNOWN
from climwin.core.wording import WINDOW_NAMES
from climwin.crops.model import Crop
from climwin.plot import style
from climwin.plot.summary import stacked
from climwin.report import sentences, sentences_climate

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

Attributes = Mapping[Any, Any]


# --- spread by day ------------------------------------------------------------------------


@style.for_phones_too
def day_spread(
    bands: xr.Dataset,
    *,
    attrs: Attributes | None = None,
    first_day: int = 1,
    units: Units = "C",
    narrow: bool = False,
) -> Figure:
    """Spread of a variable on each day of the year.

    Parameters
    ----------
    bands : Dataset, dims (day_of_year, percentile)
        From `day_bands` of a temperature, of `week_sums` or of any other variable.
    attrs : mapping, optional
        Attributes of the record, for the credit.
    first_day : int
        Day of the year at the left.
    units : {"C", "F"}
        Unit of a temperature.
    narrow : bool
        For a page as wide as a phone.
    """
    values = style.shown(_banded(bands), units)
    title = sentences_climate.usual_range(values, units)
    label = sentences_climate.quantity(values, units)
    height, years = 4.2 if narrow else 3.6, style.years_of(bands)
    facts = style.record_attrs(bands, attrs)
    with style.sheet(title, height, facts, narrow=narrow, years=years) as figure:
        ax = style.subplots(figure)
        _draw_year(ax, values, label, first_day)
        style.name_spread(ax, values.roll(day_of_year=1 - first_day))
        if _banded(bands).attrs.get("units") == "degC":
            style.freezing_line(ax, units)
    return figure


@style.for_phones_too
def hot_hours(
    bands: xr.Dataset,
    *,
    attrs: Attributes | None = None,
    first_day: int = 1,
    units: Units = "C",
    narrow: bool = False,
) -> Figure:
    """Hours of each day at a temperature or above, smoothed over two weeks.

    Parameters
    ----------
    bands : Dataset, dims (day_of_year, percentile)
        From `day_bands` of `hours_within` with `low`.
    attrs, first_day, units, narrow
        See `day_spread`.
    """
    hours = _banded(bands)
    limit = float(hours.attrs["low_c"])
    title = sentences_climate.hot_hours(hours, limit, units)
    height, years = 4.2 if narrow else 3.6, style.years_of(bands)
    facts, how = style.record_attrs(bands, attrs), "Curves are smoothed over two weeks."
    with style.sheet(title, height, facts, narrow=narrow, note=how, years=years) as figure:
        ax = style.subplots(figure)
        label = f"Hours of a day at {sentences.temperature(limit, units)} or more (h)"
        curves = _smoothed(hours)
        _draw_year(ax, curves, label, first_day)
        ax.set_ylim(bottom=0)
        style.name_spread(ax, curves.roll(day_of_year=1 - first_day))
    return figure


def _smoothed(values: xr.DataArray, reach: int = 7) -> xr.DataArray:
    """Means of the days around each day of the year, which is a circle.

    Hours are whole numbers, so their percentiles would rise in steps.
    """
    circle = values.pad(day_of_year=reach, mode="wrap")
    mean = circle.rolling(day_of_year=2 * reach + 1, center=True).mean()
    return mean.isel(day_of_year=slice(reach, -reach)).assign_attrs(values.attrs)


def _banded(bands: xr.Dataset) -> xr.DataArray:
    """The variable whose bands a result has."""
    return next(da for da in bands.data_vars.values() if "percentile" in da.dims)


def _draw_year(ax: Axes, values: xr.DataArray, label: str, first_day: int) -> None:
    style.spread(ax, values.roll(day_of_year=1 - first_day))
    style.month_axis(ax, first_day)
    ax.grid(axis="y", color=style.SPREAD, lw=0.6)
    ax.set_ylabel(style.wrapped(label, 30))


# --- soil ---------------------------------------------------------------------------------


@style.for_phones_too
def warm_soil(
    bands: xr.Dataset,
    dates: xr.Dataset,
    crop: Crop,
    *,
    attrs: Attributes | None = None,
    units: Units = "C",
    narrow: bool = False,
) -> Figure:
    """Soil temperature at sowing depth with a crop's limits, and by when it is warm enough.

    Parameters
    ----------
    bands : Dataset, dims (day_of_year, percentile)
        From `day_bands` of `soil_temperature`. [degC]
    dates : Dataset, dims (season)
        From `warm_soil_dates` of the same.
    crop : Crop
        Whose soil temperatures for sowing are laid over.
    attrs, units, narrow
        See `day_spread`.
    """
    values = _banded(bands)
    first = _month_of(int(dates["first_day"]))
    title = sentences_climate.warm_soil(dates, crop, float(values.attrs["depth_m"]), units)
    lower_height = style.year_height(dates.sizes["season"], narrow)
    height = (3.5 if narrow else 3.9) + lower_height
    facts, years = style.record_attrs(bands, attrs), dates["season"].values
    with style.sheet(title, height, facts, narrow=narrow, years=years) as figure:
        upper, lower = style.subplots(figure, 2, 1, height_ratios=[2.6, lower_height])
        style.spread(upper, style.shown(values, units).roll(day_of_year=1 - first))
        _draw_germination(upper, crop, units)
        upper.set_ylabel(f"Soil (°{units})")
        style.month_axis(upper, first)
        style.legend(upper, ncols=2 if narrow else 3)
        _draw_warm_dates(lower, dates, first)
    return figure


def _month_of(day: int) -> int:
    """First day of the month of a day of the year."""
    return 1 + int(MONTH_STARTS[day > MONTH_STARTS].max())


def _draw_germination(ax: Axes, crop: Crop, units: Units) -> None:
    """Soil temperatures between which seed comes up, and between which it does best."""
    seed = crop.germination
    if seed is None:
        msg = f"{crop.name} is not sown: it has no soil temperatures to draw. Choose another crop."
        raise InputError(msg)
    best = [from_celsius(v, units) for v in (seed.optimum_low_c, seed.optimum_high_c)]
    bottom, top = ax.get_ylim()
    low, high = best
    label = f"best: {between(low, high)} °{units}"
    ax.axhspan(low, high, facecolor=style.CROP, alpha=0.22, lw=0)
    _label(ax, label, 4, min(high, top), (0, -2), va="top")
    ends = ((seed.minimum_c, "at least", (0, (5, 2))), (seed.maximum_c, "at most", (0, (1, 1.5))))
    for value, name, dashes in ends:
        at = from_celsius(value, units)
        if at < top:
            ax.axhline(at, color=style.INK, lw=1.2, ls=dashes)
            label = f"{name} {sentences_climate.degrees(value, units)}"
            is_least = name == "at least"  # below which the middle of the year has room
            x, side = (DAYS / 2, "center") if is_least else (4, "left")
            _label(ax, label, x, at, (0, -2), ha=side, va="top")
            bottom = min(bottom, at - 0.14 * (top - bottom))
    ax.set_ylim(bottom, top)


def _label(ax: Axes, text: str, x: float, y: float, gap: tuple[float, float], **align: Any) -> None:
    """Words of a line or a band, `gap` points away from a place on the axes."""
    ax.annotate(
        text,
        (x, y),
        gap,
        textcoords="offset points",
        size=style.SMALL,
        color=style.INK,
        **align,
    )


def _draw_warm_dates(ax: Axes, dates: xr.Dataset, first_day: int) -> None:
    """A dot on the date of each year, at the end of the wait for it; the axis ends soon after."""
    years, status = dates["season"].values, dates["warm_soil_status"].values
    begin = float(style.on_axis(float(dates["first_day"]), first_day))
    at = begin + style.on_axis(dates["warm_soil_day"].values, int(dates["first_day"]))
    ax.barh(years, at - begin, left=begin, height=0.3, color=style.SPREAD)
    ax.plot(at, years, "o", color=style.ENOUGH, ms=4)
    style.say_missing(ax, years, status, "never", x=begin + 4)
    style.year_axis(ax, years)
    ends = style.on_axis(MONTH_STARTS + 1, first_day)
    last = np.nanmax(at, initial=_LEAST_SHOWN)
    style.month_axis(ax, first_day, min(ends[ends > last], default=DAYS))
    ax.set_ylabel("Warm enough from")


_LEAST_SHOWN = 170
"""Days of the year that an axis of warm soil shows at least."""


# --- heat ---------------------------------------------------------------------------------


@style.for_phones_too
def heat_sums(
    bands: xr.Dataset,
    base: float,
    *,
    need: float | None = None,
    first_day: int = 1,
    attrs: Attributes | None = None,
    units: Units = "C",
    narrow: bool = False,
) -> Figure:
    """Degree-days summed through the season, their spread over the years.

    Parameters
    ----------
    bands : Dataset, dims (day_of_year, percentile)
        From `day_bands`, `half_width` 0, of `heat_since` the season's first day. [degC day]
    base : float
        Temperature above which they are counted. [degC]
    need : float, optional
        Degree-days that are asked for. [degC day]
    first_day : int
        Day of the year on which the sums begin.
    attrs, units, narrow
        See `day_spread`.
    """
    sums = _banded(bands).roll(day_of_year=1 - first_day, roll_coords=True)
    title = sentences_climate.heat(sums, base, need, units)
    height, years = 4.2 if narrow else 3.8, style.years_of(bands)
    facts = style.record_attrs(bands, attrs)
    with style.sheet(title, height, facts, narrow=narrow, years=years) as figure:
        ax = style.subplots(figure)
        shown = difference_from_celsius(sums, units)
        style.spread(ax, shown, of="all years")
        if need is not None:
            _draw_need(ax, sums, need, units)
        style.month_axis(ax, first_day)
        ax.set_ylim(bottom=0)
        ax.yaxis.set_major_formatter(lambda sum_so_far, _: number(sum_so_far))
        warm = sentences.temperature(base, units)
        ax.set_ylabel(f"Degree-days above {warm}\nsince {day_name(first_day)} (°{units} d)")
        if need is None:
            style.name_spread(ax, shown, of="all years")
        else:  # whose name stands where theirs would
            style.legend(ax, ncols=2 if narrow else 3)
    return figure


def _draw_need(ax: Axes, sums: xr.DataArray, need: float, units: Units) -> None:
    """The heat asked for, and the dates by which half of the years and nine in ten reach it."""
    at = difference_from_celsius(need, units)
    ax.axhline(at, color=style.INK, lw=1.2, ls=(0, (5, 2)))
    _label(ax, f"asked for: {degree_days(need, units)}", 4, at, (0, 2))
    for percentile, side, gap in ((50, "right", -2), (10, "left", 2)):
        reached = np.flatnonzero(sums.sel(percentile=percentile).values >= need)
        if len(reached):
            day = day_name(float(sums["day_of_year"][reached[0]]))
            ax.plot([reached[0]] * 2, [0, at], color=style.INK, lw=0.9, ls=(0, (2, 2)))
            _label(ax, day, reached[0], 0, (gap, 3), ha=side)


# --- dry spells ---------------------------------------------------------------------------


@style.for_phones_too
def dry_years(spells: xr.Dataset, odds: xr.Dataset, *, narrow: bool = False) -> Figure:
    """Longest dry spell of every year within a stretch, against the spell that is asked about.

    Parameters
    ----------
    spells : Dataset, dims (season)
        From `rain.dry_spells`.
    odds : Dataset
        From `rain.dry_spell_odds` of the same stretch.
    narrow : bool
        For a page as wide as a phone.
    """
    years, days = spells["season"].values, int(odds.attrs["days"])
    least, most = (spells[f"longest_{end}"].values for end in ("least", "most"))
    unknown, dry = spells["status"].values == UNKNOWN, least >= days
    height = (2.5 if narrow else 2.0) + style.year_height(len(years), narrow)
    title = sentences_climate.dry_spells(odds)
    how = f"A dry day has less than {as_typed(WET_MM)} mm of rain."
    facts = style.record_attrs(spells, None)
    with style.sheet(title, height, facts, narrow=narrow, note=how, years=years) as figure:
        ax = style.subplots(figure)
        for kind, color, label in (
            (dry, style.SHORT, f"{days} dry days or more"),
            (~dry, style.SPREAD, "fewer"),
        ):
            ax.barh(years[kind], least[kind], height=0.66, color=color, label=label)
        if unknown.any():
            bar: dict[str, Any] = {"height": 0.66, "label": "a gap leaves open", **style.LACKING}
            ax.barh(years[unknown], (most - least)[unknown], left=least[unknown], **bar)
        ax.axvline(days, color=style.INK, lw=1.2, ls=(0, (5, 2)))
        style.year_axis(ax, years)
        ax.set_ylim(bottom=years[-1] + 0.04 * len(years) + 1.2)
        text = {"size": style.SMALL, "color": style.INK}
        ax.text(days, ax.get_ylim()[0], f" {counted(days, 'day')}", va="bottom", **text)
        ax.set_ylabel("Longest dry spell of each year")
        ax.locator_params(axis="x", integer=True)
        ax.set_xlabel("Dry days in a row")
        style.legend(ax, ncols=2 if narrow else 3)
    return figure


# --- scenarios ----------------------------------------------------------------------------


@style.for_phones_too
def what_if(
    observed: xr.Dataset,
    scenario: xr.Dataset,
    need_days: int,
    *,
    part: str = "longest",
    units: Units = "C",
    narrow: bool = False,
) -> Figure:
    """Length of every mild spell as it was, and as it would have been in a scenario.

    Parameters
    ----------
    observed, scenario : Dataset, dims (season, part)
        From `usable_windows`: of the record, and of the record as `warm_by` gives it.
    need_days : int
        Days the crop needs of a window.
    part : {"longest", "rise", "fall"}
        Which window of the year.
    units : {"C", "F"}
        Of the warming in the key.
    narrow : bool
        For a page as wide as a phone.

    Raises
    ------
    ValueError
        If the first is a scenario, or the second is none.
    """
    if scenario_of(observed) or not scenario_of(scenario):
        given = " and ".join(repr(scenario_of(w) or "observed") for w in (observed, scenario))
        msg = (
            f"The figure shows what was observed first and a scenario second, got {given}. "
            "Make the second from a record that was shifted."
        )
        raise InputError(msg)
    worlds = [windows.sel(part=part) for windows in (observed, scenario)]
    odds = [odds_shorter(windows, need_days).sel(part=part) for windows in (observed, scenario)]
    attrs, years = style.record_attrs(scenario, None), observed["season"].values
    title = sentences_climate.what_if(odds[0], odds[1], need_days)
    asked = style.scenario_key(attrs, units)
    names = ("As it was", f"{asked[0].upper()}{asked[1:]}")
    marks = [_marks(world, need_days) for world in worlds]
    reach = _COLUMN_DAYS + max(need_days, *(place.max(initial=0) for place, *_ in marks))
    rows = max(6, *(row.max(initial=0) for _, row, _ in marks)) + 1
    how = (
        "A mark is a year; one that a gap leaves open has none. The same years at another "
        "temperature: no forecast."
    )
    height = 6.4 if narrow else 5.4
    across = 72 * ((style.NARROW if narrow else style.WIDE) - 0.4) * _COLUMN_DAYS / reach
    size = 0.8 * min(across, 36 * (height - 2.7) / rows)
    with style.sheet(title, height, attrs, narrow=narrow, note=how, years=years) as figure:
        axes = style.subplots(figure, 2, 1, sharex=True, sharey=True)
        for ax, name, found, each in zip(axes, names, odds, marks, strict=True):
            counts = f"{int(found['shorter'])} of {sentences.years(int(found['known']))}"
            style.head(ax, style.wrapped(f"{name}: too short in {counts}", 40 if narrow else 80))
            _draw_lengths(ax, *each, size)
            ax.axvline(need_days, color=style.INK, lw=1.3)
            ax.set(xlim=(-_COLUMN_DAYS / 2, reach), ylim=(0, rows), yticks=[])
            ax.spines["left"].set_visible(False)
        text = {"ha": "right", "va": "top", "size": style.SMALL, "color": style.INK}
        axes[0].text(need_days - 2, rows, f"needs {counted(need_days, 'day')}", **text)
        ticks = np.arange(0, reach, 28 if reach < 250 else 56)
        axes[1].set_xticks(ticks, [str(int(tick / 7)) for tick in ticks])
        axes[1].set_xlabel(f"Weeks of {_lower(WINDOW_NAMES[part])} of each year")
    return figure


_COLUMN_DAYS = 7


def _marks(world: xr.Dataset, need_days: int) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Place [day], row and zone of each year's mark; none where gaps hide if it was long enough."""
    least, most = world["length_least"].values, world["length_most"].values
    settled = (most < need_days) | (least >= need_days)
    zone = np.where(least >= need_days, 2, 0)[settled]
    length = world["length"].fillna(world["length_least"]).values[settled]
    return *stacked(length, zone, [need_days], _COLUMN_DAYS), zone


def _draw_lengths(
    ax: Axes, place: np.ndarray, row: np.ndarray, zone: np.ndarray, size: float
) -> None:
    """One mark a year, stacked by the length of its spell."""
    for each, marker in style.ZONE_MARKS.items():
        chosen = zone == each
        if chosen.any():
            look: dict[str, Any] = {"mfc": style.ZONES[each], "mec": style.ZONE_WORDS[each]}
            ms = size * style.ZONE_SIZES[each]
            ax.plot(place[chosen], row[chosen] - 0.5, marker, ms=ms, mew=0.7, ls="", **look)


def _lower(text: str) -> str:
    return f"{text[0].lower()}{text[1:]}"
