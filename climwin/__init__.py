"""Climate windows for people who grow food.

From a garden's own weather history: odds of a freeze by date, the spread of temperature on each
day of the year, the weeks a crop can use in every year, and which way of starting it does better.
"""

from __future__ import annotations

from importlib import import_module
from typing import Any

from climwin.core.schema import DataGapError, Garden, RecordError, Station, StationError  # noqa: F401
from climwin.crops.catalogue import Crop, Limits, crop, crop_names, read_crop  # noqa: F401

_FACE = {
    "climate.percentiles": ("day_bands",),
    "report.ical": ("Event", "to_ical"),
    "io.exports": ("to_csv", "to_netcdf"),
    "plot.summary": ("plot_summary",),
    "climate.freeze": ("freeze_chance", "freeze_dates", "freeze_odds"),
    "stations.gazetteer": ("locate",),
    "climate.heat": (
        "day_length",
        "degree_days",
        "heat_since",
        "hourly_temperatures",
        "hours_within",
    ),
    "climate.breakpoints": ("detect_breakpoints",),
    "planning.evaluate": ("best_dates", "compare", "judge", "success_odds", "sweep"),
    "io.loggers": ("read_logger",),
    "batch.run": ("run_stations",),
    "climate.adjust": ("adjust_to_garden", "measured_offsets"),
    "climate.comparison": ("compare_stations",),
    "climate.gaps": ("fill_gaps",),
    "stations.search": ("find_stations",),
    "page.write": ("write_page",),
    "planning.schedule": ("second_crop", "succession", "sweep_weeks"),
    "planning.plan": ("Conditions", "Plan"),
    "io.quality": ("quality_control", "coverage"),
    "climate.rain": ("dry_spell_odds", "dry_spells", "week_sums", "wet_days"),
    "stations.history": ("fetch_history",),
    "io.daily": ("read_daily",),
    "io.samples": ("sample",),
    "report.garden": ("GardenReport", "garden_report"),
    "climate.sensitivity": ("compare_criteria", "sensitivity"),
    "core.provenance": ("warm_by",),
    "shelter.covers": ("COVERS", "fit_cover", "under_cover"),
    "climate.soil": ("fit_diffusivity", "soil_temperature"),
    "shelter.risk": ("check_space", "space_odds"),
    "planning.suitability": ("rank_crops",),
    "planning.timetable": ("dated_plan", "days_by_heat", "with_heat_days"),
    "climate.trends": ("compare_periods", "compare_halves", "trend"),
    "trials.analysis": ("describe_trial", "read_trial", "trial_result"),
    "trials.design": ("lay_out_trial", "pairs_needed", "record_sheet"),
    "climate.warm_soil": ("warm_soil_dates", "warm_soil_odds"),
    "widgets.panels": ("cover_panel", "freeze_panel", "panel", "plans_panel", "window_panel"),
    "climate.windows": ("odds_shorter", "usable_days", "usable_windows"),
    "report.sentences_caveats": ("caveats", "record_caveats"),
}
_HOME = {name: module for module, names in _FACE.items() for name in names}

__all__ = [
    *("Crop", "DataGapError", "Garden", "Limits", "RecordError", "Station", "StationError"),
    *("crop", "crop_names", "read_crop"),
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
