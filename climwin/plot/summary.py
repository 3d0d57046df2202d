"""The main figure: each year's mild spell, by its length and by its dates."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from climwin.core.seasons import DAYS, MONTH_STARTS
from climwin.core.wording import MONTHS, say
from climwin.plot import style
from climwin.report.garden import GardenReport
from climwin.report.sentences_decision import spell_title
from climwin.report.spells import Need, Spells, spells

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

HEIGHT, NARROW_HEIGHT = 6.3, 6.85
"""The same for 30, 80 or 120 years. [inch]"""
_LENGTHS = 1.75
"""Height of the upper drawing. [inch]"""
_BINS = (2, 3, 4, 5, 7, 10, 14, 21, 28)
"""Days that may share a column of marks: of these, the ones that leave room for the largest."""
_LARGEST = 12.0
"""Size of a mark, at most. [point]"""


@style.for_phones_too
def plot_summary(report: GardenReport, *, narrow: bool = False) -> Figure:
    """Draw the main figure: how long the mild spell of each year was, and when it came.

    Above, each year is one mark, placed by the length of its longest mild spell: the longest run of
    days within the temperatures that the crop can take. Upright lines are what the crop needs
    outdoors. Below, the same years by date. The figure is as high for 30 years as for 120.

    Parameters
    ----------
    report : GardenReport
        From `garden_report`.
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
    found = spells(report)
    attrs = style.record_attrs(report.windows, report.daily.attrs)
    moved = report.shorter_today is not None
    which = say("spells_as_recorded_today") if moved else say("spells_as_recorded")
    hollow = f" {_HOLLOW}" if _hides_its_dates(found).any() else ""
    place = style.place_and_years(report.garden.name, found.years)
    note = f"{which}{hollow} {_HOW}{_why_longer(found.needs)}"
    title = spell_title(report)
    height = NARROW_HEIGHT if narrow else HEIGHT
    with style.sheet(title, height, attrs, narrow=narrow, note=note, place=place) as figure:
        ratios = [1.2 if narrow else 0.4, _LENGTHS, 1.75]
        counts, lengths, dates = style.subplots(figure, 3, 1, height_ratios=ratios)
        _write_counts(counts, found, narrow)
        _draw_lengths(lengths, found, narrow)
        _draw_dates(dates, found, int(report.windows["first_day"]), narrow)
    return figure


_HOLLOW = "A hollow mark: a gap hides when the spell came, not whether it was long enough."
_HOW = (
    "A mild spell is a run of days that the crop can take, smoothed over a week. You would have "
    "had to know when it begins: fixed dates do worse."
)


def _why_longer(ways: list[Need]) -> str:
    """Why plants from under cover need more days than others."""
    if len(ways) == 1 or not ways[1].is_raised or ways[0].is_raised:
        return ""
    others = f"those set out on {ways[0].since}"
    if not ways[0].is_set_out:
        others = f"those {ways[0].way} on {ways[0].since} once they are up"
    return (
        f" Plants set out on {ways[1].since} have less suitable weather than {others}. So they "
        "grow more slowly, and need more days outdoors."
    )


def _write_counts(ax: Axes, found: Spells, narrow: bool) -> None:
    """How many years lie in each zone, in large type."""
    ax.set(xlim=(0, 1), ylim=(0, 1))
    ax.set_axis_off()
    said = _zone_names(found.needs)
    places = np.linspace(0, 1, len(said), endpoint=False)
    for (zone, text), x in zip(said, places, strict=True):
        number = f"{found.counts[zone]}"
        look: dict[str, Any] = {"color": style.ZONE_WORDS[zone], "in_layout": False}
        if narrow:
            told = style.wrapped(text, 13)
            ax.text(x, 0.76, number, size=16, weight="bold", va="center", **look)
            ax.text(x, 0.56, told, size=style.SMALL, va="top", linespacing=1.15, **look)
        else:
            told = style.wrapped(text, 22)
            ax.text(x, 0.4, number, size=20, weight="bold", va="center", **look)
            at = x + 0.026 * len(number) + 0.012
            ax.text(at, 0.4, told, size=10, va="center", linespacing=1.15, **look)


def _zone_names(ways: list[Need]) -> list[tuple[int, str]]:
    if len(ways) == 1:
        return [(0, "too short"), (2, "long enough")]
    return [
        (0, "too short either way"),
        (1, f"long enough {ways[0].way}"),
        (2, "long enough either way"),
    ]


def _hides_its_dates(found: Spells) -> np.ndarray:
    """Years whose gaps leave open when the spell came, though not whether it was long enough."""
    return (found.zone >= 0) & np.isnan(found.start) & (found.length > 0)


def _draw_lengths(ax: Axes, found: Spells, narrow: bool) -> None:
    """One mark a year, stacked by the length of its mild spell; what the crop needs as lines."""
    known = found.zone >= 0
    length, zone = found.length[known], found.zone[known]
    hollow = _hides_its_dates(found)[known]
    lines = [need.days for need in found.needs]
    most = max([*length, *lines])
    reach = most + max(6.0, 0.05 * most)
    points = ((style.NARROW if narrow else style.WIDE) - 0.4) * 72
    room = _LENGTHS * 72 * 0.8

    def largest_mark(days: int) -> float:
        """Size of the marks if so many days share a column. [point]"""
        tallest = int(stacked(length, zone, lines, days)[1].max(initial=1))
        return min(0.86 * days * points / reach, 0.92 * room / (tallest + 0.5), _LARGEST)

    bin_days = max(_BINS, key=largest_mark)
    place, row = stacked(length, zone, lines, bin_days)
    size = max(largest_mark(bin_days), 2.2)
    high = max(row.max(initial=1), 0.92 * room / (1.5 * size) - 0.5)
    for each, marker in style.ZONE_MARKS.items():
        for is_hollow in (False, True):
            chosen = (zone == each) & (hollow == is_hollow)
            if not chosen.any():
                continue
            ax.plot(
                place[chosen],
                row[chosen] - 0.5,
                marker,
                ms=size * style.ZONE_SIZES[each],
                mfc="none" if is_hollow else style.ZONES[each],
                mec=style.ZONE_WORDS[each],
                mew=1.1 if is_hollow else 0.7,
                ls="",
                clip_on=False,
            )
    ax.set(xlim=(min(0.0, -bin_days / 2), reach), ylim=(0, high + 0.5))
    ax.set_yticks([])
    ax.spines["left"].set_visible(False)
    weeks = 4 if reach < 200 else 8 if reach < 340 else 10
    ticks = np.arange(0, reach, 7 * weeks)
    ax.set_xticks(ticks, [f"{int(tick / 7)}" if tick else "0 weeks" for tick in ticks])
    _name_needs(ax, found.needs, reach, narrow)


def stacked(
    length: np.ndarray, zone: np.ndarray, lines: list[int], bin_days: int
) -> tuple[np.ndarray, np.ndarray]:
    """Where the mark of each year stands: its middle [day], and its row from the bottom.

    Columns share the room up to each line evenly, so that no mark stands across one.
    """
    ordered = sorted({0, *lines})
    part = np.searchsorted(ordered, length, side="right") - 1
    begins = np.array(ordered, float)[part]
    widths = np.diff(np.array([*ordered, np.inf]))
    columns = np.maximum(1, np.floor(np.where(np.isinf(widths), 1, widths) / bin_days))
    each = np.where(np.isinf(widths), bin_days, widths / columns)[part]
    place = begins + (np.floor((length - begins) / each) + 0.5) * each
    place = np.where(length == 0, 0.0, place)
    row = np.zeros(len(length), int)
    seen: dict[float, int] = {}
    for year in np.lexsort((length, zone)):
        column = round(float(place[year]), 1)
        seen[column] = seen.get(column, 0) + 1
        row[year] = seen[column]
    return place, row


def _name_needs(ax: Axes, ways: list[Need], reach: float, narrow: bool) -> None:
    """Upright lines at the days that the crop needs, their words above them."""
    close = len(ways) > 1 and (ways[1].days - ways[0].days) / reach < (0.5 if narrow else 0.22)
    for number, need in enumerate(ways):
        days = need.days
        ax.plot(
            *([days, days], [0, 1.03]),
            transform=ax.get_xaxis_transform(),
            color=style.INK,
            lw=1.3,
            clip_on=False,
        )
        told = style.wrapped(need.label, 17 if narrow else 22)
        side = "center"
        if days > 0.87 * reach or (close and number == 0):
            side = "right"
        elif days < 0.13 * reach or (close and number == 1):
            side = "left"
        if close and number == 1 and days > 0.8 * reach:
            side = "center"
        ax.annotate(
            told,
            (days, 1.03),
            ({"right": -3, "left": 3, "center": 0}[side], 2),
            xycoords=ax.get_xaxis_transform(),
            textcoords="offset points",
            ha=side,
            va="bottom",
            size=style.SMALL if narrow else style.TEXT["size"],
            color=style.INK,
            linespacing=1.1,
        )


def _draw_dates(ax: Axes, found: Spells, first_day: int, narrow: bool) -> None:
    """The same years from left to right, each spell as a bar against the months."""
    dated = np.isfinite(found.start) & (found.length > 0)
    for zone in style.ZONES:
        chosen = dated & (found.zone == zone)
        ax.bar(
            found.years[chosen],
            found.length[chosen],
            bottom=found.start[chosen],
            width=0.74,
            fc=style.ZONES[zone],
            ec=style.ZONE_WORDS[zone],
            lw=0.5 if zone == 0 else 0,
        )
    begins = np.min(found.start[dated], initial=DAYS)
    ends = np.max((found.start + found.length)[dated], initial=0)
    edges = np.sort((MONTH_STARTS + 1 - first_day) % DAYS)
    low = max((edge for edge in edges if edge <= begins), default=0.0)
    high = min((edge for edge in [*edges, DAYS] if edge >= ends), default=float(DAYS))
    if not dated.any():
        low, high = 0.0, float(DAYS)
    missing = found.years[~dated]
    room = 0.07 * (high - low) if len(missing) else 0.0
    ax.set(ylim=(max(high, ends), low - room), xlim=(found.years[0] - 0.8, found.years[-1] + 0.8))
    _name_months(ax, first_day, low, high, every=1 if high - low < 220 else 2)
    if len(missing):
        ax.plot(missing, np.full(len(missing), low - 0.5 * room), "x", color=style.PALE, ms=4)
    span = len(found.years)
    every = 20 if span > 100 or (narrow and span > 45) else 10 if span > 45 or narrow else 5
    ax.set_xticks([year for year in found.years if year % every == 0] or found.years[:1])
    ax.spines["left"].set_visible(False)
    head = "When those spells came"
    if len(missing):
        head += ", \N{MULTIPLICATION SIGN} where a gap hides it"
        if bool(((found.length == 0) & ~dated).any()):
            head += " or there was none"
    style.head(ax, style.wrapped(head, 42) if narrow else head)


def _name_months(ax: Axes, first_day: int, low: float, high: float, *, every: int) -> None:
    """Months down the side, in three letters, with a line where each begins."""
    edges = (MONTH_STARTS + 1 - first_day) % DAYS
    ticks, names = [], []
    order = np.argsort(edges)
    shown = [month for month in order if low <= edges[month] < high]
    for number, month in enumerate(shown):
        ax.axhline(edges[month], color=style.SPREAD, lw=0.7, zorder=0)
        end = min((edge for edge in [*edges, DAYS] if edge > edges[month]), default=DAYS)
        if number % every == 0:
            ticks.append((edges[month] + min(end, high)) / 2)
            names.append(MONTHS[month])
    settings: dict[str, Any] = {"length": 0}
    ax.set_yticks(ticks, names)
    ax.tick_params(axis="y", **settings)
