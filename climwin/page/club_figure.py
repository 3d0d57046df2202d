"""The picture of a club's gardens."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

import numpy as np

from climwin.crops.naming import plural
from climwin.page.club_rows import EVEN, HALVES, RISK, GardenRow
from climwin.page.club_words import longest_spell
from climwin.plot import style
from climwin.widgets.state import span_of

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure


def gardens_figure(rows: Sequence[GardenRow], *, narrow: bool) -> Figure:
    """Gardens below each other: a typical year's mild spell, and the time without freezes."""
    report = rows[0].report
    first = int(report.freeze_dates["first_day"])
    name = plural(report.crop)
    told = longest_spell(rows, name).removesuffix(".")
    title = told or f"The mild spell for {name} is as long in every garden"
    height = (2.3 if narrow else 1.7) + (0.66 if narrow else 0.5) * len(rows)
    with style.sheet(title, height, {}, narrow=narrow, note=_note_of(rows[0])) as figure:
        ax = style.subplots(figure)
        for place, row in enumerate(rows):
            _draw(ax, place, row, first)
        ax.set_ylim(len(rows) - 0.4, -0.6)
        names = [style.wrapped(row.name, 12 if narrow else 22, lines=3) for row in rows]
        ax.set_yticks(range(len(rows)), names)
        style.month_axis(ax, first)
        style.legend(ax, ncols=1 if narrow else 3)
    return figure


def _note_of(row: GardenRow) -> str:
    """The years of the picture, and the climate that its frosts are moved to."""
    first, last = span_of(row.report.daily)
    if row.climate == "record":
        return f"A typical year of {first} to {last}."
    return f"Mild spells: a typical year of {first} to {last}. Frosts: moved to today's climate."


def _draw(ax: Axes, place: int, row: GardenRow, first: int) -> None:
    """One garden: its mild spell as a bar, and its time without freezes below."""
    labels = ["mild spell", "last to first frost, typical year", "a frost in one year of ten"]
    if place:
        labels = ["_"] * 3
    for starts, length in row.bars():
        left = float(np.median(style.on_axis(starts, first)))
        bar: dict[str, Any] = {"height": 0.34, "color": style.ENOUGH, "label": labels[0]}
        ax.barh(place - 0.15, length, left=left, **bar)
        labels[0] = "_"
    marks: tuple[tuple[float, dict[str, Any]], ...] = (
        (EVEN, {"color": style.LINE, "lw": 2, "marker": "|", "ms": 9, "label": labels[1]}),
        (RISK, {"color": style.INK, "ls": "", "marker": "o", "ms": 5, "label": labels[2]}),
    )
    for level, stroke in marks:
        ends = [float(style.on_axis(row.freeze(half, level), first)) for half in HALVES]
        ax.plot(ends, [place + 0.2] * 2, **stroke)
