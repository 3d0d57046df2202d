"""Climate windows for people who grow food.

From a garden's own weather history: odds of a freeze by date, the spread of temperature on each
day of the year, the weeks a crop can use in every year, and which way of starting it does better.
"""

from __future__ import annotations

from importlib import import_module
from typing import Any

from climwin.crops import Crop, Limits, crop, crops, read_crop  # noqa: F401
from climwin.schema import DataGapError, Garden, RecordError, Station, StationError  # noqa: F401

_FACE = {
    "bands": ("day_bands",),
    "calendar": ("Event", "to_ical"),
    "exports": ("to_csv", "to_netcdf"),
    "figures": ("answer",),
    "freeze": ("freeze_chance", "freeze_dates", "freeze_odds"),
    "gazetteer": ("locate",),
    "heat": ("day_length", "degree_days", "heat_since", "hourly_temperatures", "hours_within"),
    "homogeneity": ("breaks",),
    "judging": ("best_dates", "compare", "judge", "success_odds", "sweep"),
    "loggers": ("read_logger",),
    "many_stations": ("many",),
    "microclimate": ("compare_stations", "fill_from", "measured_offsets", "to_garden"),
    "nearby": ("stations",),
    "page": ("share",),
    "planning": ("second_crop", "succession", "sweep_weeks"),
    "plans": ("Conditions", "Plan"),
    "quality": ("check", "coverage"),
    "rain": ("dry_spell_odds", "dry_spells", "week_sums", "wet_days"),
    "records": ("fetch_history", "read_daily", "sample"),
    "report": ("GardenReport", "garden_report"),
    "robustness": ("by_measure", "sensitivity"),
    "scenario": ("warmed",),
    "shelter": ("COVERS", "fit_cover", "under_cover"),
    "soil": ("fit_diffusivity", "soil_temperature"),
    "spaces": ("check_space", "space_odds"),
    "suiting": ("suiting_crops",),
    "timetable": ("dated_plan", "days_by_heat", "with_heat_days"),
    "trends": ("by_period", "halves", "trend"),
    "trials": (
        *("describe_trial", "lay_out_trial", "pairs_needed"),
        *("read_trial", "record_sheet", "trial_result"),
    ),
    "usable": ("usable_days",),
    "warm_soil": ("warm_soil_dates", "warm_soil_odds"),
    "widgets": ("cover_panel", "freeze_panel", "panel", "plans_panel", "window_panel"),
    "windows": ("odds_shorter", "usable_windows"),
    "words_doubts": ("doubts", "record_doubts"),
}
_HOME = {name: module for module, names in _FACE.items() for name in names}

__all__ = [
    *("Crop", "DataGapError", "Garden", "Limits", "RecordError", "Station", "StationError"),
    *("crop", "crops", "read_crop"),
    *sorted(_HOME),
]
__version__ = "0.1.0"


def __getattr__(name: str) -> Any:
    """Load a name's module when it is first asked for."""
    if name not in _HOME:
        msg = f"climwin has no {name!r}. It offers {', '.join(__all__)}."
        raise AttributeError(msg)
    value = getattr(import_module(f"climwin.{_HOME[name]}"), name)
    globals()[name] = value
    return value


def __dir__() -> list[str]:
    return sorted({*globals(), *__all__})
