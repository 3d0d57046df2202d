"""The look that all figures share: paper and ink, axes of months and years, bands, the credit."""

from __future__ import annotations

import io
import re
import textwrap
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from functools import partial, wraps
from typing import TYPE_CHECKING, Any, NamedTuple, ParamSpec

import numpy as np
import xarray as xr

from climwin.core.formatting import percent
from climwin.core.provenance import SCENARIO, scenario_in
from climwin.core.schema import Units, from_celsius
from climwin.core.seasons import DAYS, MONTH_STARTS
from climwin.core.status import NONE, UNKNOWN
from climwin.core.wording import MONTHS
from climwin.stations.cache import attribution

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

INK, PALE = "#26323a", "#64737c"
SPREAD, MIDDLE, LINE = "#d5dfe6", "#a9bfcd", "#31576e"
CROP, ENOUGH, SHORT, MISSING = "#6d9f4b", "#1f6f5c", "#e09a1a", "#f6ead2"
"""Distinguishable with red-green colour blindness, and by their grey on paper."""

ZONES = {0: "#e9ae55", 1: "#3f7f96", 2: "#0f3346"}
ZONE_WORDS = {0: "#8a5608", 1: "#2c6c80", 2: "#0f3346"}
ZONE_MARKS = {0: "o", 1: "D", 2: "s"}
ZONE_SIZES = {0: 1.0, 1: 0.78, 2: 0.86}
"""Too little, enough for one way, enough for all: three inks from light to dark, which stay apart
in grey; their words and outlines are darker, and each has a mark of its own."""

DARK: dict[str, str] = {
    "#26323a": "#e6ebee",
    "#64737c": "#a5b2ba",
    "#d5dfe6": "#3d4a52",
    "#a9bfcd": "#587487",
    "#31576e": "#93bfd6",
    "#6d9f4b": "#8fc06a",
    "#1f6f5c": "#6cc3ab",
    "#e09a1a": "#e8a54a",
    "#f6ead2": "#463a22",
    "#e9ae55": "#9a6820",
    "#8a5608": "#f0b866",
    "#3f7f96": "#5fa3ba",
    "#2c6c80": "#86c5da",
    "#0f3346": "#d3ecfa",
    "#b86e00": "#f0a24a",
    "#7a5c86": "#c6a6d3",
    "#8db96f": "#7aa35c",
    "#c4571f": "#f08a56",
    "#f0c9ae": "#6b4632",
    "#ffffff": "#161c20",
    "#000000": "#e6ebee",
}
"""Each ink of the figures as shown on dark paper."""


def css_name(colour: str) -> str:
    """CSS variable of an ink; a colour without a dark counterpart is unchanged."""
    return f"var(--c{colour[1:]})" if colour in DARK else colour


def css_colours(of: str = ":root") -> str:
    """The inks as variables of a page's style, for light and for dark paper.

    Parameters
    ----------
    of : str
        Selector of the element that they are defined for.
    """
    light = "".join(f"--c{colour[1:]}:{colour};" for colour in DARK)
    both = "".join(f"--c{c[1:]}:light-dark({c},{dark});" for c, dark in DARK.items())
    return f"{of}{{{light}}}\n@supports (color:light-dark(#000,#fff)){{{of}{{{both}}}}}\n"


STROKES: tuple[dict[str, Any], ...] = (
    {"color": LINE, "ls": "-"},
    {"color": "#b86e00", "ls": (0, (5, 2))},
    {"color": ENOUGH, "ls": (0, (1, 1.2))},
    {"color": "#7a5c86", "ls": (0, (6, 2, 1, 2))},
)
MARKERS = "oDs^"
"""Styles of lines side by side: dashes and marks distinguish them without colour."""
LACKING: dict[str, Any] = {"fc": MISSING, "ec": SHORT, "lw": 0.5, "hatch": "////"}
"""Style of what is missing: days that a window lacks, or that a gap leaves open."""

TEXT: dict[str, Any] = {"color": INK, "size": 10}
"""Type of a figure, where nothing else is said. What the figures look like is said to each artist,
never to matplotlib's own settings, which are the user's and shared by all threads."""
HATCH_WIDTH = 0.5
"""Width of hatch lines. [point]"""

WIDE, NARROW = 8.6, 3.9
"""Widths of a figure: of a page, and of a phone. [inch]"""
SMALL = 9
"""Least size of type: 11 px where a narrow figure fills a phone of 390 px."""

KEY: dict[str, Any] = {"fontsize": SMALL, "labelcolor": INK, "frameon": False}
"""Look of a legend."""

_GLUE = "\N{NO-BREAK SPACE}"
_Given = ParamSpec("_Given")
_SHARES = {80: "8 in 10", 50: "half"}


@contextmanager
def sheet(
    title: str,
    height: float,
    attrs: Mapping[Any, Any],
    *,
    narrow: bool = False,
    note: str = "",
    place: str = "",
    years: np.ndarray | None = None,
) -> Iterator[Figure]:
    """A new figure: its title is the finding, its foot says where, when and the source.

    Parameters
    ----------
    title : str
        The finding in words; a scenario's is led by its label.
    height : float
        [inch]
    attrs : mapping
        Attributes of the result or the record that is drawn, see `record_attrs`.
    narrow : bool
        For a page as wide as a phone.
    note : str
        How to read the figure, above the credit.
    place : str
        Place and years of the record, which lead the note; the station of `attrs` unless given.
    years : ndarray of int, optional
        Years of the record, where `place` does not say them.
    """
    from matplotlib.figure import Figure

    scenario = scenario_key(attrs)
    finding = f"{scenario[0].upper()}{scenario[1:]}: {title}" if scenario else title
    size, width, lines = (12, 36, 5) if narrow else (13, 74, 3)
    figure = Figure(figsize=(NARROW if narrow else WIDE, height), layout="constrained")
    text = wrapped(finding, width, lines=lines)
    figure.suptitle(text, x=0.01, ha="left", weight="bold", size=size, color=INK)
    credit(figure, attrs, led_by(place or _whose(attrs, years), note))
    setattr(figure, "_repr_png_", partial(_as_png, figure))  # noqa: B010 - no plain Figure has it
    yield figure
    _thin_hatches(figure)


def for_phones_too(draw: Callable[_Given, Figure]) -> Callable[_Given, Figure]:
    """Attach to a figure its drawing for a phone, ``narrow_twin``, which is drawn when called.

    A notebook that is rendered as a page shows the one that fits.
    """

    @wraps(draw)
    def both(*args: _Given.args, **options: _Given.kwargs) -> Figure:
        figure = draw(*args, **options)
        again: Any = draw
        twin = partial(again, *args, **{**options, "narrow": True})
        setattr(figure, "narrow_twin", twin)  # noqa: B010 - no plain Figure has it
        return figure

    return both


def subplots(figure: Figure, *args: Any, **options: Any) -> Any:
    """Axes of a figure in its look; takes and returns what `Figure.subplots` does."""
    axes = figure.subplots(*args, **options)
    for ax in np.atleast_1d(axes).flat:
        dress(ax)
    return axes


def dress(ax: Axes) -> None:
    """Style axes like all figures: pale lines, ink for text, no frame above and at right."""
    for side, spine in ax.spines.items():
        spine.set_edgecolor(PALE)
        if side in ("top", "right"):
            spine.set_visible(False)
    ax.tick_params(which="both", color=PALE, labelcolor=INK, labelsize=TEXT["size"])
    for axis in (ax.xaxis, ax.yaxis):
        axis.label.set(**TEXT)


def head(ax: Axes, text: str) -> None:
    """Heading of one of several axes."""
    ax.set_title(text, loc="left", weight="bold", **TEXT)


def _thin_hatches(figure: Figure) -> None:
    """Make hatch lines thin, if matplotlib allows it for each artist (3.10 and later)."""
    for artist in figure.findobj(lambda each: hasattr(each, "set_hatch_linewidth")):
        hatched: Any = artist
        hatched.set_hatch_linewidth(HATCH_WIDTH)


def _as_png(figure: Figure) -> bytes:
    """The figure as a notebook shows it; of itself it is shown only where pyplot was imported."""
    picture = io.BytesIO()
    figure.savefig(picture, format="png")
    return picture.getvalue()


def credit(figure: Figure, attrs: Mapping[Any, Any], note: str = "") -> None:
    """Write the source of the weather at a figure's foot, if known, below a note."""
    known = attrs.get("credit") or attrs.get("source")
    told = [note, attribution(xr.Dataset(attrs=attrs)).replace("degC", "°C") if known else ""]
    text = "\n".join(wrapped(each, int(13.6 * figure.get_figwidth())) for each in told if each)
    if text:
        figure.supxlabel(text, x=0.01, ha="left", size=SMALL, color=PALE)


def record_attrs(result: xr.Dataset, attrs: Mapping[Any, Any] | None) -> dict[Any, Any]:
    """Attributes of the record behind a figure: those given, or else the result's own.

    The label of a scenario travels with the numbers as a coordinate, and is not lost.
    """
    label = {SCENARIO: str(result[SCENARIO].item())} if SCENARIO in result.coords else {}
    return {**(result.attrs if attrs is None else attrs), **label}


def scenario_key(attrs: Mapping[Any, Any], units: Units = "C") -> str:
    """A scenario's label as a figure shows it; empty if the weather was observed."""
    return scenario_in(str(attrs.get(SCENARIO, "")), units).replace("deg", "°")


def _whose(attrs: Mapping[Any, Any], years: np.ndarray | None) -> str:
    """Place and years as far as the record tells them."""
    station = str(attrs.get("station_name", ""))
    if years is None or not len(years):
        return station
    return place_and_years(station, years)


def years_of(result: xr.Dataset) -> np.ndarray:
    """First and last year of a record, where a result of it tells them; none elsewhere."""
    ends = [result.attrs[key] for key in ("first_year", "last_year") if key in result.attrs]
    return np.array(ends, int)


def place_and_years(place: str, years: np.ndarray) -> str:
    """Place and years for a figure's foot, so that a figure passed on alone still has them."""
    first, last = int(years[0]), int(years[-1])
    span = f"{first}" if first == last else f"{first}\N{EN DASH}{last}"
    return f"{place}, {span}" if place else span


def led_by(place: str, note: str) -> str:
    """A figure's note, with its place and years in front if they are given."""
    return f"{place}. {note}".strip() if place else note


# --- axes ---------------------------------------------------------------------------------


def month_axis(ax: Axes, first_day: int, days: float = DAYS) -> None:
    """A year of days across, or the first of it; every other month is named where it is narrow.

    A month that the year begins amid is named at its end, if more of it shows there.
    """
    figure: Any = ax.get_figure()
    every = 2 if figure.get_figwidth() < WIDE - 2 else 1
    edges = (MONTH_STARTS + 1 - first_day) % DAYS
    ax.set_xticks(np.append(edges, DAYS), [])
    order = [month for month in np.argsort(edges) if edges[month] < days][::every]
    middles = np.minimum(edges[order] + 15, DAYS - 8)
    ax.set_xticks(middles, [MONTHS[month] for month in order], minor=True)
    ax.set_xlim(0, days)  # after the ticks, which would widen it
    ax.tick_params(axis="x", which="minor", length=0)
    ax.grid(axis="x", color=SPREAD, lw=0.6)
    ax.set_axisbelow(True)


def year_start(first_day: int) -> int:
    """Day on which the axis of a year begins, if the data have no beginning of their own.

    The first of January, or of July south of the equator: whichever lies nearer to the coldest day,
    with which the years are cut.
    """
    midyear = int(MONTH_STARTS[6]) + 1
    away = {day: min((first_day - day) % DAYS, (day - first_day) % DAYS) for day in (1, midyear)}
    return min(away, key=lambda day: away[day])


def year_axis(ax: Axes, years: np.ndarray) -> None:
    """Years down, the first at the top, every fifth named."""
    ax.set_ylim(years[-1] + 0.8, years[0] - 0.8)
    ax.set_yticks([year for year in years if year % 5 == 0] if len(years) > 6 else years)


def year_height(years: int, narrow: bool) -> float:
    """Height of an axis of years. [inch]"""
    return max(1.4, (0.135 if narrow else 0.115) * years + 0.4)


def on_axis(day: np.ndarray | float, first_day: int) -> np.ndarray:
    """Days of the year as places on a `month_axis`."""
    return (np.asarray(day, float) - first_day) % DAYS


def legend(ax: Axes, ncols: int, *, handle: float = 1.4) -> None:
    """A legend above the axes; bars that are not drawn have no entry."""
    handles, labels = ax.get_legend_handles_labels()
    there = [n for n, key in enumerate(handles) if key or not isinstance(key, tuple)]
    keys, said = [handles[n] for n in there], [labels[n] for n in there]
    above: dict[str, Any] = {"loc": "lower center", "bbox_to_anchor": (0.5, 1.0)}
    close: dict[str, Any] = {"handlelength": handle, "handletextpad": 0.6, "columnspacing": 1.3}
    ax.legend(keys, said, **above, **close, **KEY, ncols=ncols)


def say_missing(
    ax: Axes,
    years: np.ndarray,
    status: np.ndarray,
    none: str,
    *,
    gap: str = "a gap in the record",
    x: float = 4,
) -> None:
    """Write in the row of each year without a mark why it has none."""
    said = {NONE: none, UNKNOWN: gap}
    for year, state in zip(years, status, strict=True):
        if state in said:
            ax.text(x, year, said[state], va="center", size=SMALL, color=PALE, style="italic")


# --- marks --------------------------------------------------------------------------------


def spread(ax: Axes, values: xr.DataArray, of: str = "all days") -> None:
    """Bands of all values at each place, the middle as a line; dims (..., percentile)."""
    x = np.arange(values.shape[0])
    for band, colour in zip(_bands(values, of), (SPREAD, MIDDLE), strict=False):
        ax.fill_between(x, band.lower, band.upper, color=colour, lw=0, label=band.name)
    for line in _middle(values, of):
        ax.plot(x, line.upper, color=LINE, lw=1.6, label=line.name)


class _Band(NamedTuple):
    name: str
    lower: np.ndarray
    upper: np.ndarray


def _bands(values: xr.DataArray, of: str) -> list[_Band]:
    """Bands between percentiles as far from the middle on either side, the outermost first."""
    held = values["percentile"].values
    return [
        _Band(
            f"{_SHARES.get(high - low, percent((high - low) / 100))} of {of}",
            values.sel(percentile=low).values,
            values.sel(percentile=high).values,
        )
        for low, high in zip(held, held[::-1], strict=True)
        if low < high
    ]


def _middle(values: xr.DataArray, of: str) -> list[_Band]:
    """The median as a band without width; none where it is not among the percentiles."""
    if 50 not in values["percentile"].values:
        return []
    median = values.sel(percentile=50).values
    return [_Band("a typical day" if of == "all days" else "a typical year", median, median)]


def name_spread(ax: Axes, values: xr.DataArray, of: str = "all days") -> None:
    """Name what `spread` drew, at the upper left, with a line from each name to where it rises.

    Where the year does not rise from a low beginning, names have no room there: a key has them.
    """
    low, high = ax.get_ylim()
    named = [*_bands(values, of), *_middle(values, of)]
    inner = [band.upper for band in named[1:]] + [named[-1].lower]
    places, level = [], high + 0.04 * (high - low)
    for (name, _, upper), within in zip(named, inner, strict=True):
        amid = 0.5 * (upper + within)
        level = min(level - 0.09 * (high - low), float(np.nanmax(amid)) - 0.02 * (high - low))
        places.append((name, level, int(np.argmax(amid >= level))))
    if min(day for *_, day in places) < ROOM_FOR_NAMES * len(values):
        legend(ax, ncols=2)
        return
    for name, level, day in places:
        ax.annotate(
            name,
            (day, level),
            (0.01 * len(values), level),
            va="center",
            size=SMALL,
            color=INK,
            arrowprops={"arrowstyle": "-", "color": PALE, "lw": 0.7, "shrinkB": 0},
        )


ROOM_FOR_NAMES = 0.3
"""Share of a figure's width that names at its upper left need."""


def freezing_line(ax: Axes, units: Units) -> None:
    """A line at freezing, where the axis of temperatures comes near it."""
    freezing = float(from_celsius(0.0, units))
    low, high = ax.get_ylim()
    if low - 0.1 * (high - low) <= freezing <= high:
        ax.axhline(freezing, color=PALE, lw=0.9, ls=(0, (2, 2)))
        at = (0.5, freezing)  # away from both ends of the year, where lines come near it
        ax.text(
            *at,
            "freezing",
            transform=ax.get_yaxis_transform(),
            ha="center",
            va="top",
            size=SMALL,
            color=PALE,
        )


def shown(values: xr.DataArray, units: Units) -> xr.DataArray:
    """Values in the unit to show: temperatures in `units`, all else as it is."""
    return from_celsius(values, units) if values.attrs.get("units") == "degC" else values


# --- words --------------------------------------------------------------------------------


def wrapped(text: str, width: int, *, lines: int | None = None) -> str:
    """Text in lines of at most `width` characters, no number parted from its unit."""
    glued = re.sub(r"(\d) (?=[°%]|(?:[A-Z][a-z]{2,8}|[kcm]?m|days?|years?)\b)", f"\\1{_GLUE}", text)
    rows = textwrap.wrap(glued, width, max_lines=lines, placeholder=" …")
    return "\n".join(rows).replace(_GLUE, " ")


def brief(name: str) -> str:
    """A name short enough for a key."""
    return name if len(name) <= 20 else f"{name[:19]}…"
