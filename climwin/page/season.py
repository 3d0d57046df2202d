"""The season as it runs, in words and a picture, and its part of the page to share."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

import numpy as np
import xarray as xr

from climwin.climate.season import MOST_BEHIND, asked_on, season_so_far
from climwin.core.errors import ClimwinError
from climwin.core.formatting import percent
from climwin.core.schema import Units
from climwin.core.seasons import DAYS, ONE_DAY, date_of, day_number
from climwin.core.wording import capitalized
from climwin.page import assets
from climwin.planning.plan import Plan
from climwin.planning.season import outlook
from climwin.plot import season as plot_season
from climwin.report import sentences_season
from climwin.report.garden import GardenReport

if TYPE_CHECKING:
    from matplotlib.figure import Figure

Content = dict[str, Any]

_STAGES_CAPTION = (
    "Thick line: this year, by the growing model. Amber bars: the dates between which each stage "
    "comes nine times in ten, from here on. Pale band: the same from past years alone."
)
_STARTS_CAPTION = (
    "Each row is a date to begin, with the likely dates of its first harvest; the tick is a "
    "typical year. Figures: past years with a harvest, and in brackets with a good one."
)

LONGEST_STAND = 300
"""Days after its start beyond which a plan of the page counts as over, and not as standing."""


def season_content(
    so_far: xr.Dataset, ahead: xr.Dataset, units: Units, place: str = "", notes: Sequence[str] = ()
) -> Content:
    """Everything that a page says of a season, by name.

    Parameters
    ----------
    so_far, ahead : Dataset
        From `season_so_far` and `outlook`, of one place and date.
    units : {"C", "F"}
        Unit of the temperatures.
    place : str
        What the gardener calls it; may be empty.
    notes : sequence of str
        What to mind of the record.
    """

    def figure(narrow: bool) -> Figure:
        drawing = plot_season.season_ahead(so_far, ahead, place=where, narrow=narrow)
        drawing.suptitle("")  # it stands above, as the page's heading
        return drawing

    where = capitalized(place or ahead.attrs["station_name"])
    crop, on = ahead.attrs["crop_plural"], sentences_season.whole_date(ahead.attrs["on"])
    return {
        "place": ", ".join(filter(None, [where, crop, on])),
        "finding": sentences_season.finding(ahead),
        "figure": assets.drawn(figure, units),
        "alt": sentences_season.finding(ahead),
        "caption": _STARTS_CAPTION if "start" in ahead.dims else _STAGES_CAPTION,
        "heading": sentences_season.season_heading(so_far),
        "so_far": sentences_season.season_lines(so_far, units),
        "gaps": sentences_season.season_notes(so_far),
        "freezes": sentences_season.freeze_lines(so_far, units),
        "as_ever": sentences_season.FREEZES_AS_EVER,
        "crop": sentences_season.outlook_heading(ahead),
        "ahead": sentences_season.outlook_lines(ahead, units, each_start=False),
        "starts": sentences_season.starts_table(ahead) if "start" in ahead.dims else {},
        "no_forecast": sentences_season.NOT_A_FORECAST,
        "looked_back": sentences_season.LOOKED_BACK,
        "notes": list(notes),
    }


# --- on the page to share -----------------------------------------------------------------

AS_THEY_WERE = (
    "Here past years stand as they were, not moved to today's climate, because this outlook was "
    "tested on such years."
)
"""Whose climate the running season is told of, on a page that is for today's climate elsewhere."""


def running_season(report: GardenReport, units: Units, made: dt.date | None) -> Content:
    """What the page to share says of the running year: nothing where the record has none.

    A record reaches into the running year if its last year is not over, and it ended at most
    `MOST_BEHIND` days before the page was made.
    """
    daily = report.daily
    last = asked_on(daily, None)[1].through
    is_over = (last + ONE_DAY).astype("datetime64[Y]") > last.astype("datetime64[Y]")
    on = last + ONE_DAY if made is None else np.datetime64(made)
    if is_over or on <= last or int((on - last) / ONE_DAY) - 1 > MOST_BEHIND:
        return {}
    plan = report.plans[report.best]
    started = _started(plan, on)
    sown = None if started is None else str(started)
    try:
        so_far = season_so_far(daily, on=on, few_years=True)
        ahead = outlook(plan, daily, on=on, sown=sown, few_years=True)
    except ClimwinError:  # a record of few or broken years has a page, and no outlook
        return {}
    notes = () if report.today is None else (AS_THEY_WERE,)
    said = season_content(so_far, ahead, units, report.garden.name, notes)
    done = sentences_season.DONE.get(ahead.attrs["start_verb"], "")
    assumed = f"This assumes that the crop was {done} on the plan's date." if started else ""
    return {**said, "assumed": assumed, "odds": percent(float(ahead["odds"].max()))}


def _started(plan: Plan, on: np.datetime64) -> np.datetime64 | None:
    """Latest start of a plan before a date; None where its next one is nearer."""
    if plan.crop.is_perennial:
        return None
    year = on.astype("datetime64[Y]").astype(int) + 1970
    dates = date_of(np.array([year, year - 1]), np.array(day_number(plan.start)))
    latest = dates[dates < on][0]
    stood = int((on - latest) / ONE_DAY)
    return latest if stood <= min(LONGEST_STAND, DAYS // 2) else None
