"""Figure of a hindcast: odds given at earlier dates against outcomes."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

import numpy as np
import xarray as xr

from climwin.climate.hindcast import RULES
from climwin.plot import style
from climwin.report import sentences_climate

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

LEAST_CASES = 50
"""Cases of a bin below which it is not drawn: they would scatter by luck. [year]"""


@style.for_phones_too
def reliability(
    looked_back: xr.Dataset, *, attrs: Mapping[Any, Any] | None = None, narrow: bool = False
) -> Figure:
    """Given odds against observed shares, and how often the next ten years lay in their range.

    Parameters
    ----------
    looked_back : Dataset
        From `hindcast`.
    attrs : mapping, optional
        Attributes of the record, for the credit; the result's own unless given.
    narrow : bool
        For a page as wide as a phone.
    """
    facts = style.record_attrs(looked_back, attrs)
    title = sentences_climate.hindcast_finding(looked_back)
    how = (
        "Asked at the end of each earlier year. On the slanting line an event came as often as its "
        "odds said. Nine in ten ranges should hold."
    )
    shape: dict[str, Any] = {"nrows": 2} if narrow else {"ncols": 2, "width_ratios": [1, 1.15]}
    with style.sheet(title, 8.2 if narrow else 4.6, facts, narrow=narrow, note=how) as figure:
        left, right = style.subplots(figure, **shape)
        _draw_reliability(left, looked_back)
        _draw_held(right, looked_back)
    return figure


def _draw_reliability(ax: Axes, looked_back: xr.Dataset) -> None:
    """Shares that came against the odds given, a line for each rule."""
    ax.plot([0, 100], [0, 100], color=style.PALE, lw=0.8)
    for place, rule in enumerate(RULES):
        of_rule = looked_back.sel(rule=rule)
        enough = of_rule["cases"] >= LEAST_CASES
        odds, came = (100 * of_rule[f"{what}_in_bin"].where(enough) for what in ("odds", "came"))
        mark: dict[str, Any] = {"marker": style.MARKERS[place], "ms": 5, "lw": 1.6}
        label = sentences_climate.RULE_NAMES[rule]
        ax.plot(odds, came, **style.STROKES[place], **mark, label=label)
    ax.set_xlim(0, 100)
    ax.set_ylim(0, 100)
    ax.set_xlabel("Odds given (%)")
    ax.set_ylabel("Came in (% of years)")
    style.legend(ax, ncols=1, handle=2.6)


def _draw_held(ax: Axes, looked_back: xr.Dataset) -> None:
    """Share of ranges that held, by kind of event and rule."""
    kinds = [str(kind) for kind in looked_back["kind"].values]
    rows = np.arange(len(kinds))
    level = 100 * float(looked_back.attrs["interval"])
    ax.axvline(level, color=style.INK, lw=1, ls=(0, (4, 3)))
    for place, rule in enumerate(RULES):
        held = 100 * looked_back["held"].sel(rule=rule).values
        color = style.STROKES[place]["color"]
        ax.plot(held, rows, style.MARKERS[place], color=color, ms=6, clip_on=False)
    ax.set_xlim(0, 100)
    ax.set_ylim(len(kinds) - 0.5, -0.5)
    ax.set_yticks(rows, [sentences_climate.KIND_NAMES.get(kind, kind) for kind in kinds])
    ax.set_xlabel("Ranges of the next ten years that held (%)")
