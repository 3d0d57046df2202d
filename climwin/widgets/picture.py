"""A live panel as a still figure, for viewers that run no script."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING

from climwin.climate.freeze import freeze_chance, freeze_dates, freeze_odds
from climwin.core.schema import Units
from climwin.plot.freeze import freeze_curve
from climwin.plot.plans import start_dates
from climwin.plot.shelter import space_inside
from climwin.plot.summary import plot_summary
from climwin.report.garden import GardenReport
from climwin.report.sentences import plan_title
from climwin.shelter.risk import check_space
from climwin.widgets.state import stage_of
from climwin.widgets.tasks import Question

if TYPE_CHECKING:
    from matplotlib.figure import Figure


def still(parts: list[str], asked: Question, report: GardenReport) -> Figure:
    """Draw the foremost part of a panel: its windows, else plans, freezes, or the covered space.

    Parameters
    ----------
    parts : list of str
        What the panel shows.
    asked : Question
        Its state.
    report : GardenReport
        Of the same state.
    """
    units: Units = "F" if asked.state["units"] == "F" else "C"
    return next(draw for part, draw in _PICTURES.items() if part in parts)(asked, report, units)


def _window(_: Question, report: GardenReport, units: Units) -> Figure:
    return plot_summary(report, units=units)


def _plans(_: Question, report: GardenReport, __: Units) -> Figure:
    swept = {plan_title(p): found for p, found in zip(report.plans, report.swept, strict=True)}
    return start_dates(swept, attrs=report.daily.attrs)


def _freeze(asked: Question, report: GardenReport, units: Units) -> Figure:
    threshold = asked.state["threshold"]
    chance = freeze_chance(freeze_dates(report.daily, threshold))
    return freeze_curve(chance, freeze_odds(report.daily, threshold), units=units)


def _cover(asked: Question, _: GardenReport, units: Units) -> Figure:
    stage, hot = stage_of(asked.crop, asked.state["inside"]), asked.state["hot"]
    check = check_space(asked.space, stage, hot_c=hot)
    return space_inside(asked.space, stage, check, hot_c=hot, units=units)


_PICTURES: dict[str, Callable[[Question, GardenReport, Units], Figure]] = {
    "window": _window,
    "plans": _plans,
    "freeze": _freeze,
    "cover": _cover,
}
