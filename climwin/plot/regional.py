"""Figure of a region: how short the mild spell is at each station, or in each cell, as a map."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING, Any, Literal

import numpy as np
import xarray as xr

from climwin.climate.windows import WINDOW_PARTS
from climwin.core.errors import InputError
from climwin.core.formatting import between, counted, days_long, plain
from climwin.core.schema import check_choice
from climwin.core.wording import WINDOW_NAMES
from climwin.crops.catalogue import crop as crop_named
from climwin.crops.catalogue import crop_names
from climwin.crops.naming import plural
from climwin.plot import style

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.colors import BoundaryNorm
    from matplotlib.figure import Figure

SHOWN = ("share", "length")
"""The share of years with too short a window; or the median length of the window."""

_COLOURS = {"share": "cividis_r", "length": "cividis"}
"""Perceptually uniform for every kind of colour vision (Nunez et al. 2018); short is dark."""
_SHARES = (0, 5, 10, 25, 50, 75, 100)  # [%]


@style.for_phones_too
def region(
    found: xr.Dataset,
    crop: str,
    *,
    show: str = "share",
    part: str = "longest",
    narrow: bool = False,
) -> Figure:
    """Draw a region's answer as a map of points, or of cells where stations fill a grid.

    Parameters
    ----------
    found : Dataset, dims (station, ...)
        From `many`, with the stations' latitude and longitude.
    crop : str
        Which of its crops.
    show : {"share", "length"}
        The share of known years whose window is shorter than the crop needs, or the median length
        of the window. [%, days]
    part : {"longest", "rise", "fall"}
        Which window.
    narrow : bool
        For a page as wide as a phone.

    Raises
    ------
    ValueError
        If the crop, `show` or `part` is not one of these, or it is not known where stations lie.

    References
    ----------
    .. [1] J. R. Nunez, C. R. Anderton and R. S. Renslow, "Optimizing colormaps with consideration
       for color vision deficiency to enable accurate interpretation of scientific data," PLOS ONE,
       vol. 13, e0199239, 2018 (from memory): the colours.
    """
    check_choice("crop", crop, found["crop"].values.tolist() if "crop" in found.coords else [])
    check_choice("show", show, SHOWN)
    check_choice("part", part, WINDOW_PARTS)
    if not {"latitude", "longitude"} <= {*found.coords}:
        msg = "A map needs the stations' latitude and longitude; the answers hold neither or one."
        raise InputError(msg)
    here = found.sel(crop=crop, part=part)
    values = 100 * here["shorter_share"] if show == "share" else here["window_median"]
    values = values.where(here["has_two_windows"] == 1) if part != "longest" else values
    title = (_too_short if show == "share" else _lengths)(values, crop, part)
    height = 4.6 if narrow else 5.4
    with style.sheet(title, height, style.record_attrs(found, None), narrow=narrow) as figure:
        ax = style.subplots(figure)
        norm = _classes(values, show)
        drawn = _draw(ax, values, norm, _COLOURS[show])
        label = "years too short (%)" if show == "share" else "mild spell of a typical year (days)"
        where: dict[str, Any] = {"orientation": "horizontal"} if narrow else {}
        bar = figure.colorbar(drawn, ax=ax, label=label, shrink=0.8, ticks=norm.boundaries, **where)
        style.dress(bar.ax)
        _graticule(ax, values["latitude"].values, lines=4 if narrow else "auto")
        figure.set_layout_engine("compressed")  # the colours' key close to a map of fixed shape
    return figure


def _too_short(values: xr.DataArray, crop: str, part: str) -> str:
    """At how many places the window is too short in half of the years, as a title."""
    held = values.values[np.isfinite(values.values)]
    often = int((held >= 50).sum()) or "none"
    return (
        f"{WINDOW_NAMES[part]} is too short for {_in_words(crop)} in half of the years or more at "
        f"{often} of {counted(len(held), 'place')}"
    )


def _lengths(values: xr.DataArray, crop: str, part: str) -> str:
    """The median window at a typical place, and its range over most places, as a title."""
    held = values.values[np.isfinite(values.values)]
    if not len(held):
        return (
            f"{WINDOW_NAMES[part]} for {_in_words(crop)} is known at none of {values.size} places"
        )
    low, middle, high = np.quantile(held, (0.1, 0.5, 0.9))
    return (
        f"{WINDOW_NAMES[part]} for {_in_words(crop)} lasts {days_long(middle)} at a typical place, "
        f"{between(low, high)} at 8 in 10"
    )


def _in_words(crop: str) -> str:
    """A crop's name in a sentence; one that is not of the catalogue stays as it is."""
    return plural(crop_named(crop)) if crop in crop_names() else crop


def _classes(values: xr.DataArray, show: str) -> BoundaryNorm:
    from matplotlib.colors import BoundaryNorm
    from matplotlib.ticker import MaxNLocator

    held = values.values[np.isfinite(values.values)]
    low, high = (held.min(), held.max()) if len(held) else (0, 1)
    steps = MaxNLocator(7, integer=True, min_n_ticks=3).tick_values(low, max(high, low + 2))
    return BoundaryNorm(_SHARES if show == "share" else steps, 256)


def _draw(ax: Axes, values: xr.DataArray, norm: BoundaryNorm, colours: str) -> Any:
    """Cells where the places fill a regular grid, else points; places without an answer hollow."""
    latitude, longitude = (values[name].values for name in ("latitude", "longitude"))
    cells = _cells(latitude, longitude, values.values)
    if cells is not None:
        return ax.pcolormesh(*cells, cmap=colours, norm=norm, shading="nearest")
    held = np.isfinite(values.values)
    marks: dict[str, Any] = {"s": np.clip(8000 / len(held), 10, 60), "lw": 0.5}
    if not held.all():
        hollow: dict[str, Any] = {
            "facecolor": "none",
            "edgecolor": style.PALE,
            "label": "no answer",
        }
        ax.scatter(longitude[~held], latitude[~held], **marks, **hollow)
        style.legend(ax, ncols=1)
    marks |= {"c": values.values[held], "cmap": colours, "norm": norm, "edgecolor": style.INK}
    marks["clip_on"] = False  # of a place at the edge the whole mark
    return ax.scatter(longitude[held], latitude[held], **marks)


def _cells(
    latitude: np.ndarray, longitude: np.ndarray, values: np.ndarray
) -> tuple[np.ndarray, np.ndarray, np.ndarray] | None:
    """A grid of cells, if the places fill one evenly."""
    (rows, row), (columns, column) = (
        np.unique(axis, return_inverse=True) for axis in (latitude, longitude)
    )
    steps = [np.diff(axis) for axis in (rows, columns)]
    even = all(len(step) and np.allclose(step, step[0], rtol=1e-3) for step in steps)
    if not even or len(rows) * len(columns) > 4 * len(values):
        return None
    grid = np.full((len(rows), len(columns)), np.nan)
    grid[row, column] = values
    return columns, rows, grid


def _graticule(ax: Axes, latitude: np.ndarray, lines: int | Literal["auto"]) -> None:
    """Lines of latitude and longitude; a degree of each has its true proportion in the middle."""
    from matplotlib.ticker import MaxNLocator

    ax.set_aspect(1 / np.cos(np.deg2rad(np.mean(latitude))))
    for axis, ends in ((ax.xaxis, "EW"), (ax.yaxis, "NS")):
        axis.set_major_locator(MaxNLocator(lines, steps=[1, 2, 2.5, 5, 10]))
        axis.set_major_formatter(_degrees(ends))
    ax.grid(color=style.SPREAD, lw=0.6)
    ax.set_axisbelow(True)


def _degrees(ends: str) -> Callable[[float, float], str]:
    return lambda at, _: f"{plain(abs(at))}° {ends[int(at < 0)]}"
