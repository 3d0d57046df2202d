"""What a live panel has worked out behind the hand: intervals, trends, start dates, the frame."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Sequence
from typing import Any, NamedTuple

import xarray as xr

from climwin.climate.trends import describe, trend
from climwin.climate.windows import WINDOW_PARTS, usable_windows
from climwin.core.schema import DataGapError, Garden, Units
from climwin.core.seasons import day_of_year
from climwin.crops.catalogue import Crop
from climwin.planning.suitability import rank_crops
from climwin.report import sentences_garden
from climwin.report.caveats import record_caveats
from climwin.shelter.covers import Cover, fit_cover, logger_days
from climwin.shelter.risk import check_space, space_odds
from climwin.widgets import payload
from climwin.widgets.state import State, limits_of, plan_of, stage_of, within


class Question(NamedTuple):
    """A state of a panel: with the record, the logger, the crop as moved, all crops, the garden."""

    state: State
    daily: xr.Dataset
    logger: xr.Dataset | None
    crop: Crop
    crops: Sequence[Crop]
    garden: Garden | None = None

    @property
    def years(self) -> xr.Dataset:
        """The record of the years that count."""
        return within(self.daily, self.state["years"])

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


def _doubts(asked: Question) -> dict[str, Any]:
    """Where the numbers of these years could mislead, in words."""
    units: Units = "F" if asked.state["units"] == "F" else "C"
    return {"told": [*record_caveats(asked.years, dt.date.today(), units, garden=asked.garden)]}


def _freeze(asked: Question) -> dict[str, Any]:
    return payload.freeze_intervals(asked.years, asked.state["threshold"])


def _drift(asked: Question) -> dict[str, Any]:
    """Trend of the window's length, in words, by part of the year."""
    limits, killed = limits_of(asked.crop, asked.state["of"])
    length = usable_windows(asked.years, limits, killed_at=killed)["length"]
    told = {part: describe(trend(length.sel(part=part)), "Its length") for part in WINDOW_PARTS}
    return {"parts": told}


def _plans(asked: Question) -> dict[str, Any]:
    plans = [plan_of(asked.crop, asked.state, which) for which in (0, 1)]
    return {"each": payload.fates(plans, asked.years)}


def _cover(asked: Question) -> dict[str, Any]:
    """What the logger says of the stage grown inside, and the weather of all years, in words."""
    stage, hot = stage_of(asked.crop, asked.state["inside"]), asked.state["hot"]
    cover = fitted(asked.space, asked.daily)
    first, last = (int(day_of_year(asked.space["time"].values[[end]])[0]) for end in (0, -1))
    odds = space_odds(asked.years, cover, stage, first, last, hot_c=hot)
    logged = asked.daily.sel(
        time=slice(*(str(t)[:10] for t in asked.space["time"].values[[0, -1]]))
    )
    said = (
        sentences_garden.inside(check_space(asked.space, stage, hot_c=hot), stage),
        sentences_garden.response(cover, float(logged["tmin"].min()), asked.state["units"]),
        sentences_garden.space_years(odds),
    )
    return {"text": [f"{sentence}." for sentence in said]}


def _crops(asked: Question) -> dict[str, Any]:
    """Of each crop the years in which the best way of growing it succeeds, and the known ones."""
    found = rank_crops(asked.years, asked.crops).sortby("rank", ascending=False)
    counts = (found[name].values.tolist() for name in ("crop", "succeeded", "known"))
    return {
        "best": {name: [int(won), int(known)] for name, won, known in zip(*counts, strict=True)}
    }


def fitted(logger: xr.Dataset, daily: xr.Dataset) -> Cover:
    """The covered space, as its logger tells."""
    return fit_cover(logger_days(logger), daily, name="the covered space")


WORK: dict[str, Callable[[Question], dict[str, Any]]] = {
    "doubts": _doubts,
    "freeze": _freeze,
    "drift": _drift,
    "plans": _plans,
    "cover": _cover,
    "crops": _crops,
}
HEEDS = {
    "place": ("years",),
    "doubts": ("years", "units"),
    "freeze": ("years", "threshold"),
    "drift": ("years", "crop", "of", "limits"),
    "plans": ("years", "crop", "limits", "ways"),
    "cover": ("years", "crop", "limits", "inside", "hot", "units"),
    "crops": ("years",),
}
"""Values of a state that a piece of work heeds: it is done anew when one of them has moved."""
OF_PART = {
    "freeze": ("doubts", "freeze"),
    "window": ("doubts", "plans", "drift", "crops"),  # the first plan says which window is meant
    "plans": ("doubts", "plans", "crops"),
    "cover": ("doubts", "cover"),
}
"""What each part of a panel has worked out."""


def heeded_by(name: str, state: State) -> State:
    """Values of a state that a piece of work heeds."""
    return {key: state[key] for key in HEEDS[name]}
