"""The public face: each name and its home. `climwin/__init__.py` loads them when first used."""

from . import plot as plot
from .batch.run import run_stations as run_stations
from .batch.run import station_table as station_table
from .batch.stations import read_stations as read_stations
from .climate.adjust import adjust_to_garden as adjust_to_garden
from .climate.adjust import measured_offsets as measured_offsets
from .climate.breakpoints import detect_breakpoints as detect_breakpoints
from .climate.comparison import compare_stations as compare_stations
from .climate.freeze import freeze_chance as freeze_chance
from .climate.freeze import freeze_dates as freeze_dates
from .climate.freeze import freeze_odds as freeze_odds
from .climate.heat import day_length as day_length
from .climate.heat import degree_days as degree_days
from .climate.heat import heat_since as heat_since
from .climate.heat import hourly_temperatures as hourly_temperatures
from .climate.heat import hours_within as hours_within
from .climate.hindcast import hindcast as hindcast
from .climate.homogeneity import adjust_breaks as adjust_breaks
from .climate.homogeneity import pairwise_breaks as pairwise_breaks
from .climate.imputation import draw_gaps as draw_gaps
from .climate.joining import day_shift as day_shift
from .climate.joining import join_stations as join_stations
from .climate.joining import rate_neighbours as rate_neighbours
from .climate.level import todays_climate as todays_climate
from .climate.percentiles import day_bands as day_bands
from .climate.radiation import extraterrestrial_radiation as extraterrestrial_radiation
from .climate.radiation import solar_radiation as solar_radiation
from .climate.rain import dry_spell_odds as dry_spell_odds
from .climate.rain import dry_spells as dry_spells
from .climate.rain import week_sums as week_sums
from .climate.rain import wet_days as wet_days
from .climate.resolution import resolution as resolution
from .climate.response import temperature_response as temperature_response
from .climate.response import thermal_time as thermal_time
from .climate.season import season_so_far as season_so_far
from .climate.sensitivity import compare_criteria as compare_criteria
from .climate.sensitivity import sensitivity as sensitivity
from .climate.soil import Bed as Bed
from .climate.soil import fit_soil as fit_soil
from .climate.soil import soil_temperature as soil_temperature
from .climate.soil import warm_soil_dates as warm_soil_dates
from .climate.soil import warm_soil_odds as warm_soil_odds
from .climate.trends import compare_halves as compare_halves
from .climate.trends import compare_periods as compare_periods
from .climate.trends import describe_trend as describe_trend
from .climate.trends import trend as trend
from .climate.usable import usable_days as usable_days
from .climate.windows import odds_shorter as odds_shorter
from .climate.windows import usable_windows as usable_windows
from .core.dialect import in_dialect as in_dialect
from .core.errors import DataGapError as DataGapError
from .core.errors import RecordError as RecordError
from .core.errors import StationError as StationError
from .core.provenance import warm_by as warm_by
from .core.schema import Garden as Garden
from .core.schema import Station as Station
from .core.schema import from_celsius as from_celsius
from .core.schema import to_celsius as to_celsius
from .core.seasons import coldest_day as coldest_day
from .crops.bands import bearable_band as bearable_band
from .crops.bands import comfortable_band as comfortable_band
from .crops.catalogue import crop as crop
from .crops.catalogue import crop_names as crop_names
from .crops.catalogue import read_crop as read_crop
from .crops.explain import explain_crop as explain_crop
from .crops.model import Crop as Crop
from .crops.model import Limits as Limits
from .io.daily import read_daily as read_daily
from .io.exports import to_csv as to_csv
from .io.exports import to_netcdf as to_netcdf
from .io.grids import as_daily as as_daily
from .io.grids import as_stations as as_stations
from .io.grids import open_grid as open_grid
from .io.logger_clock import check_clock as check_clock
from .io.logger_clock import describe_clock as describe_clock
from .io.loggers import read_logger as read_logger
from .io.quality import coverage as coverage
from .io.quality import quality_control as quality_control
from .io.samples import sample as sample
from .page.start import start_form as start_form
from .page.write import write_page as write_page
from .planning.chilling import chill_need as chill_need
from .planning.dates import planting_calendar as planting_calendar
from .planning.dates import recommended_dates as recommended_dates
from .planning.evaluate import compare_plans as compare_plans
from .planning.evaluate import evaluate_plan as evaluate_plan
from .planning.evaluate import harvest_odds as harvest_odds
from .planning.heat_needs import heat_to_harvest as heat_to_harvest
from .planning.plan import Plan as Plan
from .planning.schedule import at_best_date as at_best_date
from .planning.schedule import best_dates as best_dates
from .planning.schedule import second_crop as second_crop
from .planning.schedule import succession as succession
from .planning.schedule import sweep_weeks as sweep_weeks
from .planning.season import outlook as outlook
from .planning.suitability import rank_crops as rank_crops
from .planning.sweep import sweep_start_dates as sweep_start_dates
from .planning.timetable import plan_dates as plan_dates
from .planning.ways import sensible_plans as sensible_plans
from .plot.comfort import plot_comfort as plot_comfort
from .plot.plans import plot_calendar as plot_calendar
from .plot.summary import plot_summary as plot_summary
from .report.describing import describe_decision as describe_decision
from .report.describing import describe_season as describe_season
from .report.describing import describe_space as describe_space
from .report.garden import GardenReport as GardenReport
from .report.garden import garden_report as garden_report
from .report.ical import Event as Event
from .report.ical import to_ical as to_ical
from .report.sentences_caveats import caveats as caveats
from .report.sentences_caveats import record_caveats as record_caveats
from .report.sentences_caveats import space_caveats as space_caveats
from .report.sentences_homogeneity import station_changes as station_changes
from .report.tables import in_words as in_words
from .shelter.covers import COVERS as COVERS
from .shelter.covers import Cover as Cover
from .shelter.covers import fit_cover as fit_cover
from .shelter.covers import logger_days as logger_days
from .shelter.covers import under_cover as under_cover
from .shelter.risk import check_space as check_space
from .shelter.risk import space_odds as space_odds
from .shelter.verdict import space_verdict as space_verdict
from .stations.garden import garden_of as garden_of
from .stations.gazetteer import locate as locate
from .stations.history import check_store as check_store
from .stations.history import fetch_history as fetch_history
from .stations.history import fetch_neighbours as fetch_neighbours
from .stations.history import refresh_history as refresh_history
from .stations.search import find_stations as find_stations
from .trials.analysis import describe_trial as describe_trial
from .trials.analysis import read_trial as read_trial
from .trials.analysis import trial_result as trial_result
from .trials.design import lay_out_trial as lay_out_trial
from .trials.design import pairs_needed as pairs_needed
from .trials.design import record_sheet as record_sheet
from .trials.earliness import fit_earliness as fit_earliness
from .trials.scoring import describe_earliness as describe_earliness
from .trials.scoring import describe_sowings as describe_sowings
from .trials.scoring import score_sowings as score_sowings
from .trials.sowings import read_sowings as read_sowings
from .widgets.panels import cover_panel as cover_panel
from .widgets.panels import freeze_panel as freeze_panel
from .widgets.panels import panel as panel
from .widgets.panels import plans_panel as plans_panel
from .widgets.panels import window_panel as window_panel
from .widgets.season import season_panel as season_panel

__all__ = [
    "COVERS",
    "Bed",
    "Cover",
    "Crop",
    "DataGapError",
    "Event",
    "Garden",
    "GardenReport",
    "Limits",
    "Plan",
    "RecordError",
    "Station",
    "StationError",
    "adjust_breaks",
    "adjust_to_garden",
    "as_daily",
    "as_stations",
    "at_best_date",
    "bearable_band",
    "best_dates",
    "caveats",
    "check_clock",
    "check_space",
    "check_store",
    "chill_need",
    "coldest_day",
    "comfortable_band",
    "compare_criteria",
    "compare_halves",
    "compare_periods",
    "compare_plans",
    "compare_stations",
    "cover_panel",
    "coverage",
    "crop",
    "crop_names",
    "day_bands",
    "day_length",
    "day_shift",
    "degree_days",
    "describe_clock",
    "describe_decision",
    "describe_earliness",
    "describe_season",
    "describe_sowings",
    "describe_space",
    "describe_trend",
    "describe_trial",
    "detect_breakpoints",
    "draw_gaps",
    "dry_spell_odds",
    "dry_spells",
    "evaluate_plan",
    "explain_crop",
    "extraterrestrial_radiation",
    "fetch_history",
    "fetch_neighbours",
    "find_stations",
    "fit_cover",
    "fit_earliness",
    "fit_soil",
    "freeze_chance",
    "freeze_dates",
    "freeze_odds",
    "freeze_panel",
    "from_celsius",
    "garden_of",
    "garden_report",
    "harvest_odds",
    "heat_since",
    "heat_to_harvest",
    "hindcast",
    "hourly_temperatures",
    "hours_within",
    "in_dialect",
    "in_words",
    "join_stations",
    "lay_out_trial",
    "locate",
    "logger_days",
    "measured_offsets",
    "odds_shorter",
    "open_grid",
    "outlook",
    "pairs_needed",
    "pairwise_breaks",
    "panel",
    "plan_dates",
    "plans_panel",
    "planting_calendar",
    "plot",
    "plot_calendar",
    "plot_comfort",
    "plot_summary",
    "quality_control",
    "rank_crops",
    "rate_neighbours",
    "read_crop",
    "read_daily",
    "read_logger",
    "read_sowings",
    "read_stations",
    "read_trial",
    "recommended_dates",
    "record_caveats",
    "record_sheet",
    "refresh_history",
    "resolution",
    "run_stations",
    "sample",
    "score_sowings",
    "season_panel",
    "season_so_far",
    "second_crop",
    "sensible_plans",
    "sensitivity",
    "soil_temperature",
    "solar_radiation",
    "space_caveats",
    "space_odds",
    "space_verdict",
    "start_form",
    "station_changes",
    "station_table",
    "succession",
    "sweep_start_dates",
    "sweep_weeks",
    "temperature_response",
    "thermal_time",
    "to_celsius",
    "to_csv",
    "to_ical",
    "to_netcdf",
    "todays_climate",
    "trend",
    "trial_result",
    "under_cover",
    "usable_days",
    "usable_windows",
    "warm_by",
    "warm_soil_dates",
    "warm_soil_odds",
    "week_sums",
    "wet_days",
    "window_panel",
    "write_page",
]
__version__: str
