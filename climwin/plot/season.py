"""Figure of the season as it runs: this year over the bands of all years, and what may come."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING, Any, NamedTuple

import numpy as np
import xarray as xr

from climwin.core.formatting import percent
from climwin.core.schema import Units, difference_from_celsius
from climwin.core.seasons import DAYS, MONTH_STARTS, day_of_year
from climwin.core.wording import MONTHS, capitalized
from climwin.plot import style
from climwin.report import sentences_season
from climwin.report.sentences_climate import degrees

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

_BANDS = (0.1, 0.25, 0.5, 0.75, 0.9)
MOST_STARTS = 12
"""Start dates that are drawn of a crop still to be started."""
DAYS_AN_INCH = 60
"""Most days across an inch between whose months there is room for three letters each."""
MARGIN_DAYS = 45
"""Days shown before the first of a crop's dates, and half of them after its last."""


def season_ahead(
    so_far: xr.Dataset,
    ahead: xr.Dataset,
    *,
    units: Units = "C",
    attrs: Mapping[Any, Any] | None = None,
    narrow: bool = False,
) -> Figure:
    """Heat of this year over the bands of past years, and when a crop's dates may come.

    Parameters
    ----------
    so_far : Dataset
        From `season_so_far`, of one place.
    ahead : Dataset
        From `outlook`, of the same place and date.
    units : {"C", "F"}
        Unit of temperatures.
    attrs : mapping, optional
        Attributes of the record, for the credit; the result's own unless given.
    narrow : bool
        For a page as wide as a phone.
    """
    title = finding(ahead)
    first = int(so_far.attrs["first_day"])
    rows = _starts(ahead) if "start" in ahead.dims else sentences_season.events_to_come(ahead)
    height = (3.1 if narrow else 2.9) + (0.42 if narrow else 0.34) * max(len(rows), 1)
    note = "No weather forecast: the days to come are those of past years, each in turn."
    facts = style.facts(ahead, attrs)
    with style.sheet(title, height + 1.1, facts, narrow=narrow, note=note) as figure:
        ratios = [2.9, 0.34 * max(len(rows), 1) + 0.5]
        upper, lower = style.subplots(figure, nrows=2, sharex=True, height_ratios=ratios)
        axis = _Axis.of(ahead, first)
        begin, end = axis.shown(ahead, rows)
        _draw_heat(upper, so_far, axis, units, (begin, end), narrow=narrow)
        if "start" in ahead.dims:
            _draw_starts(lower, rows, axis, narrow=narrow)
        else:
            _draw_events(lower, rows, ahead, axis, narrow=narrow)
        for ax in (upper, lower):
            _months(ax, first, begin, end)
            ax.axvline(axis.today, color=style.INK, lw=1, ls=(0, (4, 3)))
        upper.annotate(
            sentences_season.day_of(np.datetime64(ahead.attrs["on"])),
            (axis.today, 1.0),
            xycoords=("data", "axes fraction"),
            xytext=(3, -2),
            textcoords="offset points",
            va="top",
            color=style.INK,
            size=style.SMALL,
        )
    return figure


def finding(ahead: xr.Dataset) -> str:
    """The finding in a few words, as a figure's title."""
    crop = capitalized(ahead.attrs["crop"])
    if "start" in ahead.dims:
        enough = ahead["start"].values[(ahead["odds"] >= 0.8).values]
        if not len(enough):
            return f"{crop}: no start from now on has odds of 8 in 10"
        starts = sentences_season.span_of(enough[0], enough[-1])
        return f"{crop}: starts of {starts} have odds of 8 in 10 or more"
    if bool(ahead["has_failed"]):
        return f"{crop} has failed by now, by the growing model"
    harvest = ahead.sel(event="harvest")
    if int(harvest["seen"]) == 0:
        return f"{crop}: it comes to a harvest with the weather of no past year"
    prefix = "date" if bool(ahead["says_more"]) or bool(harvest["usual_mid"].isnull()) else "usual"
    ends = [harvest[f"{prefix}_{end}"] for end in ("low", "high")]
    return (
        f"{crop}: first harvest likely {sentences_season.span_of(*ends)}, odds "
        f"{percent(float(ahead['odds']))}"
    )


class _Axis(NamedTuple):
    """Days of the season across, from the season's first day on."""

    on: np.datetime64
    today: float

    @classmethod
    def of(cls, ahead: xr.Dataset, first: int) -> _Axis:
        on = np.datetime64(ahead.attrs["on"])
        return cls(on, float(style.on_axis(day_of_year(np.array([on]))[0], first)))

    def place(self, date: Any) -> float:
        """Place of a date; of the next season beyond the year's end, of the last before 0."""
        apart = np.datetime64(np.asarray(date).item(), "s") - self.on
        return self.today + float(apart / np.timedelta64(1, "D"))

    def shown(self, ahead: xr.Dataset, rows: list[xr.Dataset]) -> tuple[float, float]:
        """First and last place shown: some weeks around the dates."""
        sown = ahead.attrs["sown"]
        begin = min(self.place(np.datetime64(sown)), self.today) if sown else self.today
        ends = [
            self.place(row[name].values)
            for row in rows
            for name in ("date_high", "usual_high", "harvest_high")
            if name in row and not np.isnat(row[name].values)
        ]
        return max(begin - MARGIN_DAYS, 0.0), max([self.today, *ends]) + MARGIN_DAYS / 2


def _months(ax: Axes, first: int, begin: float, end: float) -> None:
    """Name the months of a part of the season, or of the next beyond its end."""
    edges = ((MONTH_STARTS + 1 - first) % DAYS)[None, :] + DAYS * np.array([-1, 0, 1])[:, None]
    figure: Any = ax.get_figure()
    has_room = end - begin < DAYS_AN_INCH * figure.get_figwidth()
    names = np.broadcast_to(np.array([*(MONTHS if has_room else style.MONTH_LETTERS)]), edges.shape)
    middles = edges + 15
    inside = (middles > begin) & (middles < end)
    ax.set_xlim(begin, end)
    ax.set_xticks(np.sort(edges[(edges >= begin) & (edges <= end)]), [])
    order = np.argsort(middles[inside])
    ax.set_xticks(middles[inside][order], names[inside][order].tolist(), minor=True)
    ax.tick_params(axis="x", which="minor", length=0)
    ax.grid(axis="x", color=style.SPREAD, lw=0.6)
    ax.set_axisbelow(True)


# --- heat ---------------------------------------------------------------------------------


def _draw_heat(
    ax: Axes,
    so_far: xr.Dataset,
    axis: _Axis,
    units: Units,
    shown: tuple[float, float],
    *,
    narrow: bool,
) -> None:
    course = difference_from_celsius(so_far["heat_course"], units)
    this = int(so_far["this_season"])
    past = course.sel(season=course["season"] < this)
    past = past.isel(season=past.notnull().all("day").values)
    bands = past.quantile(_BANDS, "season", method="hazen").transpose("day", "quantile")
    bands = bands.rename(quantile="percentile").assign_coords(percentile=[10, 25, 50, 75, 90])
    style.spread(ax, bands, "years" if narrow else "past years")
    known = int(axis.place(np.datetime64(so_far.attrs["through"]))) + 1
    own = course.sel(season=this).values[:known]
    strong: dict[str, Any] = {"color": "#b86e00", "lw": 2.4}
    ax.plot(np.arange(known), own, **strong, label="this year")
    if len(own) and np.isfinite(own[-1]) and known < DAYS:
        ahead = past.values[:, known - 1 :] - past.values[:, known - 1 : known] + own[-1]
        low, high = np.quantile(ahead, (0.1, 0.9), axis=0, method="hazen")
        ax.fill_between(
            np.arange(known - 1, DAYS),
            low,
            high,
            color="#b86e00",
            alpha=0.25,
            lw=0,
            label="may come" if narrow else "may come, 8 in 10",
        )
    base = degrees(float(so_far.attrs["base_c"]), units)
    ax.set_ylabel(f"Heat above {base} (°{units} days)")
    last = min(int(shown[1]), DAYS - 1)
    ax.set_ylim(0, 1.05 * max(float(bands.values[last].max()), float(np.nanmax(own, initial=1))))
    style.legend(ax, ncols=2 if narrow else 5, handle=1.0 if narrow else 1.4)


# --- a crop's dates -----------------------------------------------------------------------


def _draw_events(
    ax: Axes, rows: list[xr.Dataset], ahead: xr.Dataset, axis: _Axis, *, narrow: bool
) -> None:
    names = []
    for number, row in enumerate(rows):
        names.append(capitalized(str(row["event"].item())))
        if not int(row["seen"]):
            said = "does not come with any past year's weather"
            ax.text(axis.today, number, said, va="center", size=style.SMALL, color=style.PALE)
            continue
        _fan(ax, number + 0.2, row, "usual", axis, label=number == 0)
        _fan(ax, number - 0.12, row, "date", axis, label=number == 0)
    if bool(ahead["has_failed"]) or not rows:
        said = "has failed by now" if bool(ahead["has_failed"]) else "all of it has come"
        ax.text(axis.today, 0, said, va="center", size=style.SMALL, color=style.PALE)
    _name_rows(ax, names or [""], narrow=narrow)


def _draw_starts(ax: Axes, rows: list[xr.Dataset], axis: _Axis, *, narrow: bool) -> None:
    names = []
    for number, row in enumerate(rows):
        start = sentences_season.day_of(row["start"])
        names.append(f"{start}, {percent(float(row['odds']))}")
        place = axis.place(row["start"].values)
        ax.plot(
            place, number, style.MARKERS[0], color=style.INK, ms=4, label=_once("start", number)
        )
        if bool(row["harvest_mid"].notnull()):
            _fan(ax, number, row, "harvest", axis, label=number == 0)
    if not rows:
        ax.text(axis.today, 0, "no start comes to a harvest", va="center", size=style.SMALL)
    _name_rows(ax, names or [""], narrow=narrow)
    ax.set_ylabel("Start, odds")


def _once(text: str, number: int) -> str | None:
    return text if number == 0 else None


def _starts(ahead: xr.Dataset) -> list[xr.Dataset]:
    """Starts that come to a harvest, thinned out to a few."""
    there = ahead.isel(start=(ahead["harvested"] > 0).values)
    step = -(-there.sizes["start"] // MOST_STARTS) or 1
    return [there.isel(start=n) for n in range(0, there.sizes["start"], step)]


_LOOK: dict[str, tuple[str, float, str]] = {
    "usual": (style.MIDDLE, 4.0, "by past years alone, 9 in 10"),
    "date": ("#b86e00", 6.0, "with this season, 9 in 10"),
    "harvest": (style.CROP, 6.0, "first harvest, 9 in 10"),
}


def _fan(ax: Axes, y: float, row: xr.Dataset, prefix: str, axis: _Axis, *, label: bool) -> None:
    """A bar from the earliest to the latest likely date, its middle marked."""
    low, middle, high = (row[f"{prefix}_{end}"].values for end in ("low", "mid", "high"))
    if np.isnat(middle):
        return
    colour, width, said = _LOOK[prefix]
    begin = axis.place(low)
    end = begin + max(float((high - low) / np.timedelta64(1, "D")), 0.8)
    ax.plot(
        [begin, end],
        [y, y],
        color=colour,
        lw=width,
        solid_capstyle="butt",
        label=said if label else None,
    )
    ax.plot(axis.place(middle), y, "|", color=style.INK, ms=width + 4, mew=1.4)


def _name_rows(ax: Axes, names: list[str], *, narrow: bool) -> None:
    ax.set_ylim(len(names) - 0.5, -0.6)
    ax.set_yticks(range(len(names)), [style.wrapped(name, 13 if narrow else 24) for name in names])
    if ax.get_legend_handles_labels()[0]:
        style.legend(ax, ncols=1 if narrow else 3)
