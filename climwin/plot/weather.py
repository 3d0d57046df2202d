"""Figures of the year's weather: its spread by day, warm soil, heat, dry spells, and what if."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

import xarray as xr

from climwin.climate.rain import WET_MM
from climwin.climate.windows import odds_shorter
from climwin.core.errors import InputError
from climwin.core.formatting import as_typed, between, degree_days, number
from climwin.core.provenance import scenario_of
from climwin.core.schema import Units, difference_from_celsius, from_celsius
from climwin.core.seasons import day_name, day_of_year
from climwin.core.status import OBSERVED, UNKNOWN
from climwin.crops.model import Crop
from climwin.plot import style
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
    height = 4.2 if narrow else 3.6
    with style.sheet(title, height, style.facts(bands, attrs), narrow=narrow) as figure:
        ax = style.subplots(figure)
        _draw_year(ax, values, label, first_day, narrow=narrow)
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
    """Hours of each day at a temperature or above.

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
    height = 4.2 if narrow else 3.6
    with style.sheet(title, height, style.facts(bands, attrs), narrow=narrow) as figure:
        ax = style.subplots(figure)
        label = f"Hours of a day at {sentences.temperature(limit, units)} or more (h)"
        _draw_year(ax, hours, label, first_day, narrow=narrow)
        ax.set_ylim(bottom=0)
    return figure


def _banded(bands: xr.Dataset) -> xr.DataArray:
    """The variable of which a result has the bands."""
    return next(da for da in bands.data_vars.values() if "percentile" in da.dims)


def _draw_year(ax: Axes, values: xr.DataArray, label: str, first_day: int, *, narrow: bool) -> None:
    style.spread(ax, values.roll(day_of_year=1 - first_day))
    style.month_axis(ax, first_day)
    ax.grid(axis="y", color=style.SPREAD, lw=0.6)
    ax.set_ylabel(style.wrapped(label, 30))
    style.legend(ax, ncols=2 if narrow else 3)


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
    values, first = _banded(bands), int(dates["first_day"])
    title = sentences_climate.warm_soil(dates, crop, float(values.attrs["depth_m"]), units)
    lower_height = style.year_height(dates.sizes["season"], narrow)
    height = (3.5 if narrow else 3.9) + lower_height
    with style.sheet(title, height, style.facts(bands, attrs), narrow=narrow) as figure:
        upper, lower = style.subplots(figure, 2, 1, sharex=True, height_ratios=[2.6, lower_height])
        style.spread(upper, style.shown(values, units).roll(day_of_year=1 - first))
        _draw_germination(upper, crop, units)
        upper.set_ylabel(f"Soil (°{units})")
        upper.tick_params(which="both", length=0, labelbottom=False)
        style.legend(upper, ncols=2 if narrow else 3, handle=2)
        _draw_warm_dates(lower, dates, first)
        style.month_axis(lower, first)
    return figure


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
    ax.axhspan(low, high, facecolor=style.CROP, alpha=0.22, lw=0, label=label)
    ends = ((seed.minimum_c, "at least", (0, (5, 2))), (seed.maximum_c, "at most", (0, (1, 1.5))))
    for value, name, dashes in ends:
        at = from_celsius(value, units)
        if at < top:
            label = f"{name} {sentences_climate.degrees(value, units)}"
            ax.axhline(at, color=style.INK, lw=1.2, ls=dashes, label=label)
            bottom = min(bottom, at)
    ax.set_ylim(bottom, top)


def _draw_warm_dates(ax: Axes, dates: xr.Dataset, first_day: int) -> None:
    """A dot on the date of each year, at the end of the wait for it."""
    years, status = dates["season"].values, dates["warm_soil_status"].values
    at = style.on_axis(dates["warm_soil_day"].values, first_day)
    ax.barh(years, at, height=0.3, color=style.SPREAD)
    ax.plot(at, years, "o", color=style.ENOUGH, ms=4)
    style.say_missing(ax, years, status, "never")
    style.year_axis(ax, years)
    ax.set_ylabel("Warm enough from")


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
    height = 4.2 if narrow else 3.8
    with style.sheet(title, height, style.facts(bands, attrs), narrow=narrow) as figure:
        ax = style.subplots(figure)
        style.spread(ax, difference_from_celsius(sums, units), of="all years")
        if need is not None:
            at = difference_from_celsius(need, units)
            ax.axhline(
                at,
                color=style.INK,
                lw=1.2,
                ls=(0, (5, 2)),
                label=f"asked for: {degree_days(need, units)}",
            )
        style.month_axis(ax, first_day)
        ax.set_ylim(bottom=0)
        ax.yaxis.set_major_formatter(lambda sum_so_far, _: number(sum_so_far))
        warm = sentences.temperature(base, units)
        ax.set_ylabel(f"Degree-days above {warm}\nsince {day_name(first_day)} (°{units} d)")
        style.legend(ax, ncols=2, handle=2)
    return figure


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
    with style.sheet(title, height, style.facts(spells, None), narrow=narrow, note=how) as figure:
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
    """Window of every year as it was, and as it would have been in a scenario.

    Parameters
    ----------
    observed, scenario : Dataset, dims (season, part)
        From `usable_windows` of the record and of `warmed` of it.
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
    odds = [odds_shorter(windows, need_days).sel(part=part) for windows in (observed, scenario)]
    years, first = observed["season"].values, int(observed["first_day"])
    height = (2.7 if narrow else 2.1) + 1.3 * style.year_height(len(years), narrow)
    title, attrs = (
        sentences_climate.what_if(odds[0], odds[1], need_days),
        style.facts(scenario, None),
    )
    how = "The same years at another temperature: no forecast."
    with style.sheet(title, height, attrs, narrow=narrow, note=how) as figure:
        ax = style.subplots(figure)
        worlds = {"observed": observed, style.scenario_key(attrs, units): scenario}
        status = [w["status"].sel(part=part) for w in worlds.values()]
        same = status[0] == status[1]
        style.say_missing(ax, years, status[0].where(same, OBSERVED).values, "no mild spell")
        for row, (name, windows) in enumerate(worlds.items()):
            up, paint = _WORLDS[row]
            _draw_world(ax, windows.sel(part=part), first, up, {"label": name, **paint})
            alone = status[row].where(~same, OBSERVED)
            style.say_missing(ax, years + up, alone.values, "no mild spell")
        style.year_axis(ax, years)
        style.month_axis(ax, first)
        ax.set_ylabel(f"{sentences.PARTS[part]} of each year")
        style.legend(ax, ncols=1 if narrow else 2)
    return figure


def _draw_world(
    ax: Axes, window: xr.Dataset, first_day: int, up: float, paint: dict[str, Any]
) -> None:
    """The windows of one world, each in its half of the year's row."""
    held = window.isel(season=(window["length"] > 0).values)
    start = style.on_axis(day_of_year(held["start"]), first_day)
    ax.barh(held["season"].values + up, held["length"].values, left=start, height=0.4, **paint)


_WORLDS: tuple[tuple[float, dict[str, Any]], ...] = (
    (-0.21, {"color": style.LINE}),
    (0.21, style.LACKING),
)
"""Where in a year's row what was, and what is only asked about, lie, and how they are painted."""
