"""A live panel as a still figure, for viewers that run no script."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING

from climwin.climate.freeze import freeze_chance, freeze_dates, freeze_odds
from climwin.core.wording import capitalized
from climwin.plot.freeze import freeze_curve
from climwin.plot.plans import start_dates
from climwin.plot.shelter import space_inside
from climwin.plot.summary import plot_summary
from climwin.report.garden import GardenReport
from climwin.report.sentences_decision import way_of
from climwin.widgets.tasks import Inputs

if TYPE_CHECKING:
    from matplotlib.figure import Figure


def static_figure(parts: list[str], inputs: Inputs, report: GardenReport) -> Figure:
    """Draw the main part of a panel: its windows, else plans, freezes, or the covered space.

    Parameters
    ----------
    parts : list of str
        What the panel shows.
    inputs : Inputs
        Its state, and what the state names.
    report : GardenReport
        Of the same state.
    """
    foremost = next(part for part in _DRAW if part in parts)
    return _DRAW[foremost](inputs, report)


def _window(_: Inputs, report: GardenReport) -> Figure:
    return plot_summary(report)


def _plans(_: Inputs, report: GardenReport) -> Figure:
    pairs = zip(report.plans, report.ahead.swept, strict=True)
    swept = {capitalized(way_of(plan, report.plans)): by_start for plan, by_start in pairs}
    return start_dates(swept, attrs=report.ahead.daily.attrs)


def _freeze(inputs: Inputs, report: GardenReport) -> Figure:
    threshold = inputs.state["threshold"]
    daily = report.of_climate(report.leading("spring freeze")).daily
    chance = freeze_chance(freeze_dates(daily, threshold))
    odds = freeze_odds(daily, threshold, method="smoothed")
    return freeze_curve(chance, odds, units=inputs.units)


def _cover(inputs: Inputs, _: GardenReport) -> Figure:
    """What was logged under cover, against what the crop bears."""
    return space_inside(
        inputs.space,
        inputs.crop,
        inputs.space_check,
        stage=inputs.stage_inside.name,
        hot_c=inputs.state["hot"],
        units=inputs.units,
    )


_DRAW: dict[str, Callable[[Inputs, GardenReport], Figure]] = {
    "window": _window,
    "plans": _plans,
    "freeze": _freeze,
    "cover": _cover,
}
"""Drawing function of each part, the most important first."""
