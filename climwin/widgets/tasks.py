"""Tasks that a live panel runs in the background: intervals, trends, outcomes, the cover."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Sequence
from typing import Any, NamedTuple

import xarray as xr

from climwin.climate.level import in_climate, leading_climate
from climwin.climate.trends import describe_trend, trend
from climwin.climate.windows import WINDOW_PARTS, usable_windows
from climwin.core.errors import DataGapError
from climwin.core.provenance import climate_of
from climwin.core.schema import Garden, Units
from climwin.core.seasons import day_of_year
from climwin.crops.model import Crop, Stage
from climwin.planning.suitability import rank_crops
from climwin.report import sentences_garden, sentences_space
from climwin.report.sentences_caveats import CHART_CLIMATE, record_caveats, space_caveats
from climwin.shelter.covers import Cover, fit_cover
from climwin.shelter.risk import SpaceCheck, check_space, space_odds
from climwin.widgets import payload
from climwin.widgets.state import (
    NO_SPACES,
    Spaces,
    State,
    limits_of,
    plan_of,
    units_of,
    within,
)


class Inputs(NamedTuple):
    """What a task works on: a panel's state, and the objects that the state only names.

    ``crop`` is the one that is shown, its killing night as it was moved; ``crops`` are all that can
    be chosen, as they are in their files. ``spaces`` are the gardener's own.
    """

    state: State
    daily: xr.Dataset
    logger: xr.Dataset | None
    crop: Crop
    crops: Sequence[Crop]
    garden: Garden | None = None
    spaces: Spaces = NO_SPACES

    @property
    def years(self) -> xr.Dataset:
        """The record of the years that count."""
        return within(self.daily, self.state["years"])

    @property
    def ahead(self) -> xr.Dataset:
        """The same years in the climate whose odds of a harvest lead, as on a page."""
        return in_climate(self.years, leading_climate(self.years, "harvest"))

    @property
    def units(self) -> Units:
        """Unit of the temperatures shown."""
        return units_of(self.state)

    @property
    def space(self) -> xr.Dataset:
        """The logger of the covered space.

        Raises
        ------
        DataGapError
            If there is none.
        """
        if self.logger is None:
            msg = "There is no logger of a covered space. Give one: climwin.panel(logger=...)."
            raise DataGapError(msg)
        return self.logger

    @property
    def stage_inside(self) -> Stage:
        """The stage grown in the covered space."""
        return self.crop.stage(self.state["inside"] or None)

    @property
    def space_check(self) -> SpaceCheck:
        """Whether the logged period suited that stage, see `risk.check_space`."""
        hot = self.state["hot"]
        return check_space(self.space, self.crop, stage=self.stage_inside.name, hot_c=hot)


def _caveats(inputs: Inputs) -> dict[str, Any]:
    """Where the numbers of these years could mislead, in words."""
    today = dt.date.today()
    caveats = record_caveats(inputs.years, today, inputs.units, garden=inputs.garden)
    if climate_of(inputs.ahead) != climate_of(inputs.years):
        caveats = (*caveats, CHART_CLIMATE[leading_climate(inputs.years, "spring freeze")])
    return {"sentences": list(caveats)}


def _freeze(inputs: Inputs) -> dict[str, Any]:
    moved = in_climate(inputs.years, leading_climate(inputs.years, "spring freeze"))
    return payload.freeze_intervals(moved, inputs.state["threshold"])


def _trend(inputs: Inputs) -> dict[str, Any]:
    """Trend of the window's length, in words, by kind of window."""
    limits, killed = limits_of(inputs.crop, inputs.state), inputs.crop.killed_at_c
    length = usable_windows(inputs.years, limits, killed_at=killed)["length"]
    sentences = {
        kind: describe_trend(trend(length.sel(part=kind)), "Its length") for kind in WINDOW_PARTS
    }
    return {"sentences": sentences}


def _plans(inputs: Inputs) -> dict[str, Any]:
    plans = [plan_of(inputs.crop, inputs.state, which, inputs.spaces) for which in (0, 1)]
    return {"plans": payload.outcomes(plans, inputs.ahead)}


def _cover(inputs: Inputs) -> dict[str, Any]:
    """What the logger says of the stage grown inside, and the weather of all years, in words."""
    grown, stage, hot = inputs.crop, inputs.stage_inside, inputs.state["hot"]
    cover = fit_space(inputs.space, inputs.daily, inputs.garden)
    logged = inputs.space["time"].values[[0, -1]]
    first, last = (int(day) for day in day_of_year(logged))
    odds = space_odds(inputs.years, cover, grown, first, last, stage=stage.name, hot_c=hot)
    outdoors = inputs.daily.sel(time=slice(*(str(time)[:10] for time in logged)))
    doubts = space_caveats(cover, inputs.units)
    seen = f"{sentences_garden.inside(inputs.space_check, stage)}."
    if cover.days_in_doubt == "dates":
        plants = f"young {grown.name} plants"
        return {"sentences": [*doubts, seen, sentences_space.not_told(cover.name, plants)]}
    condition = (
        [sentences_space.only_if_clock(cover.name)] if cover.days_in_doubt == "clock" else []
    )
    of_years = (
        sentences_garden.response(cover, float(outdoors["tmin"].min()), inputs.units),
        sentences_garden.space_years(odds),
    )
    return {"sentences": [*doubts, seen, *condition, *(f"{each}." for each in of_years)]}


def _crops(inputs: Inputs) -> dict[str, Any]:
    """For each crop: years with a harvest by its best way of growing, and known years."""
    ranked = rank_crops(inputs.ahead, inputs.crops).sortby("rank", ascending=False)
    names = ("crop", "elsewhere_harvested", "elsewhere_known")
    columns = (ranked[name].values.tolist() for name in names)
    # Worst first, so that of several ways of growing a crop its best one is written last.
    rows = zip(*columns, strict=True)
    return {"best": {name: [round(harvested), round(known)] for name, harvested, known in rows}}


def fit_space(logger: xr.Dataset, daily: xr.Dataset, garden: Garden | None) -> Cover:
    """The covered space, as its logger describes it."""
    longitude = None if garden is None else garden.longitude
    return fit_cover(logger, daily, name="the covered space", longitude=longitude)


TASKS: dict[str, Callable[[Inputs], dict[str, Any]]] = {
    "caveats": _caveats,
    "freeze": _freeze,
    "trend": _trend,
    "plans": _plans,
    "cover": _cover,
    "crops": _crops,
}
"""Function of each task."""

DEPENDS_ON = {
    "record": ("years",),
    "caveats": ("years", "units"),
    "freeze": ("years", "threshold"),
    "trend": ("years", "crop", "limits", "killed"),
    "plans": ("years", "crop", "killed", "ways"),
    "cover": ("years", "crop", "killed", "inside", "hot", "units"),
    "crops": ("years",),
}
"""Values of the state that a task depends on: it runs again when one of them has changed."""

TASKS_OF_PART = {
    "freeze": ("caveats", "freeze"),
    "window": ("caveats", "plans", "trend", "crops"),  # the first plan says which window is meant
    "plans": ("caveats", "plans", "crops"),
    "cover": ("caveats", "cover"),
}
"""Tasks that each part of a panel shows the results of."""


def inputs_of(name: str, state: State) -> State:
    """Values of a state that a task depends on."""
    return {key: state[key] for key in DEPENDS_ON[name]}
