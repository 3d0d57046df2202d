"""Figure of past sowings: expected and actual harvests."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

import numpy as np
import xarray as xr

from climwin.core.seasons import DAYS, day_of_year
from climwin.plot import style
from climwin.trials.scoring import describe_sowings

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure


@style.for_phones_too
def past_sowings(
    scored: xr.Dataset, *, attrs: Mapping[Any, Any] | None = None, narrow: bool = False
) -> Figure:
    """Each past sowing as a line: when it was sown, the harvest expected, and what came.

    Parameters
    ----------
    scored : Dataset, dims (sowing)
        From `score_sowings`.
    attrs : mapping, optional
        Attributes of the record, for the credit; the result's own unless given.
    narrow : bool
        For a page as wide as a phone.
    """
    title = describe_sowings(scored)[0].removesuffix(".")
    how = "Expected dates come from all other years. In words: why it failed."
    height = (3.0 if narrow else 1.9) + 0.24 * scored.sizes["sowing"]
    facts, years = style.record_attrs(scored, attrs), style.years_of(scored)
    with style.sheet(title, height, facts, narrow=narrow, note=how, years=years) as figure:
        ax = style.subplots(figure)
        starts = day_of_year(scored["start"])
        first_day = int(starts.min())
        for row in range(scored.sizes["sowing"]):
            _draw_sowing(ax, row, scored.isel(sowing=row), first_day)
        ax.set_ylim(scored.sizes["sowing"] - 0.4, -0.6)
        ax.set_yticks(range(scored.sizes["sowing"]), _names(scored, narrow=narrow))
        style.month_axis(ax, first_day)
        _end_after_the_last(ax, scored, first_day)
        _keys(ax, narrow=narrow)
    return figure


def _names(scored: xr.Dataset, *, narrow: bool) -> list[str]:
    """Year and way of each sowing; its crop too, where there are several."""
    several = len(set(scored["crop"].values.tolist())) > 1
    names = []
    for year, crop, way in zip(
        scored["start"].dt.year.values, scored["crop"].values, scored["way"].values, strict=True
    ):
        how = f"{crop}, {way}" if several else f"{way}"
        names.append(f"{year} {style.wrapped(how, 14, lines=1) if narrow else how}")
    return names


def _end_after_the_last(ax: Axes, scored: xr.Dataset, first_day: int) -> None:
    """End the axis, and its month names, after the last mark."""
    ends = [scored[name].values for name in ("start", "expected_last", "harvest", "model_date")]
    days = [style.on_axis(day_of_year(dates[~np.isnat(dates)]), first_day) for dates in ends]
    reach = min(float(np.concatenate(days).max()) + 12, DAYS)
    months = zip(ax.get_xticks(minor=True), ax.get_xticklabels(minor=True), strict=True)
    named = {place: label.get_text() for place, label in months if place < reach}
    ax.set_xticks([*named], [*named.values()], minor=True)
    ax.set_xlim(-5, reach)


def _draw_sowing(ax: Axes, row: int, sowing: xr.Dataset, first_day: int) -> None:
    """One sowing in its row: start, expected range, the model's date, and what came."""

    def place(name: str) -> float:
        when = sowing[name].values
        if np.isnat(when):
            return np.nan
        return float(style.on_axis(day_of_year(when[None])[0], first_day))

    ax.plot(place("start"), row, "o", color=style.PALE, mfc="white", ms=5)
    ends = [place("expected_first"), place("expected_last")]
    if ends[0] <= ends[1]:  # a range that runs over the edge of the year is not drawn
        ax.plot(ends, [row, row], color=style.MIDDLE, lw=7, solid_capstyle="butt")
    ax.plot(place("model_date"), row, "|", color=style.LINE, ms=12, mew=2)
    ax.plot(place("harvest"), row, "D", color=style.ENOUGH, ms=6)
    if failed := sowing["failed"].item():
        beside: dict[str, Any] = {"xytext": (7, 0), "textcoords": "offset points", "va": "center"}
        at = (place("start"), row)
        ax.annotate(failed, at, **beside, size=style.SMALL, color=style.INK)


def _keys(ax: Axes, *, narrow: bool) -> None:
    """Keys of the marks, each drawn once whether or not a sowing has it."""
    ax.plot([], [], "o", color=style.PALE, mfc="white", ms=5, label="start")
    ax.plot([], [], color=style.MIDDLE, lw=7, label="expected in 8 years of 10")
    ax.plot([], [], "|", color=style.LINE, ms=12, mew=2, label="model, same year")
    ax.plot([], [], "D", color=style.ENOUGH, ms=6, label="your harvest")
    style.legend(ax, ncols=1 if narrow else 4)
