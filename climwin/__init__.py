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
    "figures": ("answer",),
    "freeze": ("freeze_chance", "freeze_dates", "freeze_odds"),
    "judging": ("best_dates", "compare", "judge", "success_odds", "sweep"),
    "page": ("share",),
    "plans": ("Conditions", "Plan"),
    "quality": ("coverage",),
    "records": ("fetch_history", "read_daily"),
    "report": ("GardenReport", "garden_report"),
    "windows": ("odds_shorter", "usable_windows"),
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
