"""The figures, as `climwin.plot` offers them; each is loaded when first used."""

from .diary import past_sowings as past_sowings
from .freeze import every_day as every_day
from .freeze import freeze_curve as freeze_curve
from .freeze import freeze_years as freeze_years
from .garden import bed_plan as bed_plan
from .garden import station_map as station_map
from .garden import trial_outcome as trial_outcome
from .hindcast import reliability as reliability
from .plans import crop_ranking as crop_ranking
from .plans import plot_calendar as plot_calendar
from .plans import sensitivity_grid as sensitivity_grid
from .plans import start_dates as start_dates
from .regional import region as region
from .season import season_ahead as season_ahead
from .shelter import space_inside as space_inside
from .shelter import space_response as space_response
from .shelter import space_years as space_years
from .weather import day_spread as day_spread
from .weather import dry_years as dry_years
from .weather import heat_sums as heat_sums
from .weather import hot_hours as hot_hours
from .weather import warm_soil as warm_soil
from .weather import what_if as what_if

__all__ = [
    "bed_plan",
    "crop_ranking",
    "day_spread",
    "dry_years",
    "every_day",
    "freeze_curve",
    "freeze_years",
    "heat_sums",
    "hot_hours",
    "past_sowings",
    "plot_calendar",
    "region",
    "reliability",
    "season_ahead",
    "sensitivity_grid",
    "space_inside",
    "space_response",
    "space_years",
    "start_dates",
    "station_map",
    "trial_outcome",
    "warm_soil",
    "what_if",
]
