"""Where a number could mislead, in plain words: a report or a record in, sentences out.

A sentence says what is amiss, how much, to which side, and what to do. A sound record has none.
"""

from __future__ import annotations

import datetime as dt

import numpy as np
import xarray as xr

from climwin.climate.breakpoints import detect_breakpoints
from climwin.climate.freeze import freeze_dates
from climwin.climate.imputation import NEARBY
from climwin.climate.joining import LEAST_CORRELATION, day_shift
from climwin.climate.level import LEAST_LEVEL_YEARS, assumed_warming, years_with_mean
from climwin.climate.resolution import TENTHS, resolution
from climwin.core.errors import DataGapError, InputError
from climwin.core.formatting import (
    FOOT_M,
    as_typed,
    counted,
    difference,
    distance,
    fixed,
    height,
    lapse,
    percent,
)
from climwin.core.geo import LAPSE_C_PER_KM
from climwin.core.provenance import CHANGES_LEFT, climate_of
from climwin.core.runs import equal_runs
from climwin.core.schema import VARIABLES, Garden, Units
from climwin.core.stats import FEW_YEARS, LEAST_YEARS
from climwin.core.status import UNKNOWN
from climwin.core.wording import FULL_MONTHS, capitalized, listed
from climwin.crops.naming import is_plural, plural
from climwin.io.departure import CHECK_FIRST
from climwin.io.logger_plausibility import (
    UNCOVERED,
    departures_from_outdoors,
    departures_of_thermometer,
    logger_departures,
)
from climwin.io.plausibility import departures, future_dates
from climwin.io.quality import coverage
from climwin.planning.plan import Plan
from climwin.report.caveats import (
    ANOTHER_PLACE_KM,
    GREAT_HEIGHT_M,
    HEIGHT_M,
    REMOTE_KM,
    LastYear,
    MissingMonths,
    Step,
    Warming,
    clear_changes,
    clear_warming,
    distance_to_station,
    has_frozen_ground,
    height_difference,
    height_of_another_climate,
    missing_months,
    old_record,
    sudden_steps,
)
from climwin.report.garden import RECENT_YEARS, GardenReport, with_latitude
from climwin.report.sentences import years
from climwin.report.sentences_homogeneity import compared
from climwin.report.sentences_joining import joined
from climwin.report.spells import needs, stands_through_winter
from climwin.shelter.covers import Cover, logger_days

CHECK_PLACE = "Check the place first: "
"""Beginning of a sentence on why a garden may lie elsewhere."""
NEED_TIMES = 2
"""Largest ratio of a given need to the model's, or its inverse (common practice)."""
OLD_TIMES, WEEKS_OF_OTHERS = 1.5, 4
"""Weeks under cover, as a multiple of the most that are usual, above which plants are too old; and
the most of a crop that is usually sown in place (common practice)."""
CHECK_LOGGER = "Check the logger first: "
"""Beginning of a sentence on why a logger may be wrong."""

OF_TODAY = (
    "Odds and dates here are for today's climate. Charts and lists of past years show those years "
    "as they were."
)
"""Beginning of the note on which climate is shown where."""
CHART_CLIMATE = {
    "today": (
        "Harvests and chances of a freeze are what the weather of each past year would give in "
        "today's climate; mild spells are of the years as they were."
    ),
    "record": (
        "Harvests are what the weather of each past year would give in today's climate; mild "
        "spells and chances of a freeze are of the years as they were."
    ),
}
"""Note on the climate of a live chart's odds, by the climate whose odds of a freeze lead."""
HOW_FILLED = "Missing days are filled in"
"""Beginning of a sentence on how gaps are drawn."""

_TIMES = {"tmin": "nights", "tmax": "days"}


def caveats(
    report: GardenReport, made: dt.date | None = None, units: Units = "C"
) -> tuple[str, ...]:
    """Sentences on where a report's numbers could mislead.

    Parameters
    ----------
    report : GardenReport
        Of one garden.
    made : date, optional
        Today, to tell whether the record is old; without it this is not said.
    units : {"C", "F"}
        Of the temperatures said.

    Examples
    --------
    >>> import climwin as cw
    >>> daily = cw.read_daily(cw.sample())
    >>> garden = cw.Garden("Pellbrook allotments", 46.1, 7.2, 640)
    >>> report = cw.garden_report(garden, daily, crop=cw.crop("pea"))
    >>> cw.caveats(report)[0].split(". ")[0]
    'It has grown warmer here, by 0.2 °C every ten years'
    """
    return _report_caveats(report, made, units, which_climate(report))


def doubts(report: GardenReport, made: dt.date | None, units: Units) -> tuple[str, ...]:
    """The caveats of a report that are reasons to doubt it, the one that weighs most first.

    That odds are of today's climate is none: it says how to read the page. That they are not is.
    """
    not_moved = _only_as_recorded(report.daily) if report.today is None else ""
    return _report_caveats(report, made, units, not_moved)


def _report_caveats(
    report: GardenReport, made: dt.date | None, units: Units, of_climate: str
) -> tuple[str, ...]:
    """Caveats of a report in the order of their weight, with what is to be said of the climate."""
    great, small, away = _elsewhere(report.garden, report.daily, units)
    texts = (
        *report_departures(report, made, units),
        *report_space_caveats(report, units),
        report.garden.doubt,
        doubtful_need(report),
        *map(old_seedlings, report.plans),
        great,
        _old(old_record(report.daily, made)),
        joined(report.daily),
        _changes_left(report.daily, units),
        _moved(report.sudden_steps, units),
        _report_warming(report, units),
        " ".join(filter(None, (_report_missing(report), _report_leaning(report)))),
        of_climate,
        "" if report.crop.is_perennial else frozen_ground(report.daily),
        small,
        away,
        _nothing_left(report.daily, units),
    )
    return tuple(filter(None, texts))


def record_caveats(
    daily: xr.Dataset,
    made: dt.date | None = None,
    units: Units = "C",
    *,
    garden: Garden | None = None,
    climate: str | None = None,
) -> tuple[str, ...]:
    """Sentences on where a record could mislead, for any question.

    Parameters
    ----------
    daily : Dataset, dims (time)
        Of one place.
    made, units
        As for `caveats`.
    garden : Garden, optional
        Where things are grown; adds that it lies far from the record's station, if it does. It
        lends a record without a latitude its own.
    climate : {"record", "today"}, optional
        Climate of the odds that stand beside them; that of `daily` where left out.

    Raises
    ------
    ValueError
        If the record is of several places.

    Examples
    --------
    >>> import climwin as cw
    >>> import datetime as dt
    >>> daily = cw.read_daily(cw.sample())
    >>> cw.record_caveats(daily, dt.date(2026, 1, 1))[0].split(". ")[0]
    'It has grown warmer here, by 0.2 °C every ten years'
    """
    dims = {daily[name].dims for name in VARIABLES if name in daily}
    if dims - {("time",)}:
        msg = (
            "Caveats are of the record of one place, got several. Choose one station, with .sel()."
        )
        raise InputError(msg)
    known = len(np.unique(daily["time"].dt.year))
    steps = sudden_steps(daily)
    climate = climate or climate_of(daily)
    great, small, away = _elsewhere(garden, daily, units) if garden else ("", "", "")
    texts = (
        misplaced(garden, daily, units) if garden else "",
        *departure_caveats(with_latitude(daily, garden) if garden else daily, made, units),
        garden.doubt if garden else "",
        FEW_YEARS if known < LEAST_YEARS else "",
        great,
        _old(old_record(daily, made)),
        joined(daily),
        _changes_left(daily, units),
        _moved(steps, units),
        _warming(clear_warming(daily, steps), units, is_moved=climate == "today"),
        " ".join(
            filter(None, (_missing(missing_months(coverage(daily), range(1, 13))), _leaning(daily)))
        ),
        small,
        away,
        _nothing_left(daily, units),
    )
    return tuple(filter(None, texts))


def departure_caveats(
    daily: xr.Dataset, made: dt.date | None = None, units: Units = "C"
) -> tuple[str, ...]:
    """Reasons to doubt a record: how it departs from every land station's record.

    These come before all other caveats, for nothing can be read from such a record.

    Parameters
    ----------
    daily : Dataset, dims (time)
        Of one place.
    made, units
        As for `caveats`.
    """
    return tuple(CHECK_FIRST + each.text(units) for each in departures(daily, made))


def report_departures(
    report: GardenReport, made: dt.date | None = None, units: Units = "C"
) -> tuple[str, ...]:
    """Reasons to doubt a report's record, which is checked once, and the garden's position."""
    found = (*future_dates(report.daily, made), *report.departures)
    place = misplaced(report.garden, report.daily, units)
    return (*filter(None, [place]), *(CHECK_FIRST + each.text(units) for each in found))


def logger_caveats(
    logger: xr.Dataset,
    daily: xr.Dataset | None = None,
    units: Units = "C",
    longitude: float | None = None,
) -> tuple[str, ...]:
    """Reasons to doubt a logger, by itself and against the outdoors.

    Parameters
    ----------
    logger : Dataset, dims (time)
        From `read_logger`.
    daily : Dataset, dims (time), optional
        Outdoors, of one place.
    units : {"C", "F"}
        Of the temperatures said.
    longitude : float, optional
        Of the garden, for the check of the clock; else that of `daily`, where it is known.
        [degrees]
    """
    if longitude is None and daily is not None and "longitude" in daily.attrs:
        longitude = float(daily.attrs["longitude"])
    found = [*logger_departures(logger, longitude)]
    if daily is not None:
        found += departures_from_outdoors(logger_days(logger), daily)
    return tuple(f"{CHECK_LOGGER}{each.text(units)}" for each in found)


def thermometer_caveats(
    logger: xr.Dataset, daily: xr.Dataset, garden: Garden, units: Units = "C"
) -> tuple[str, ...]:
    """Reasons to doubt the logger that hangs in the air of a garden.

    Parameters
    ----------
    logger : Dataset, dims (time)
        From `read_logger`.
    daily : Dataset, dims (time)
        The station's record.
    garden : Garden
        Where it hangs.
    units : {"C", "F"}
        Of the temperatures said.
    """
    station = daily.attrs.get("elevation")
    above_m = 0.0
    if garden.elevation is not None and station is not None:
        above_m = garden.elevation - float(station)
    days = logger_days(logger)
    beside = departures_from_outdoors(days, daily)
    found = [
        *logger_departures(logger, garden.longitude),
        *departures_of_thermometer(days, daily, above_m / 1000),
        *(each for each in beside if each.test != UNCOVERED),
    ]
    return tuple(f"{CHECK_LOGGER}{each.text(units)}" for each in found)


def space_caveats(cover: Cover, units: Units = "C") -> tuple[str, ...]:
    """Reasons to doubt the logger of a covered space.

    Parameters
    ----------
    cover : Cover
        From `fit_cover`.
    units : {"C", "F"}
        Of the temperatures said.

    Examples
    --------
    >>> import climwin as cw
    >>> logger = cw.read_logger(cw.sample("frame_logger.csv"))
    >>> late = logger.assign_coords(time=logger["time"] + np.timedelta64(9, "D"))
    >>> space_caveats(cw.fit_cover(late, cw.read_daily(cw.sample())))[0].split(" (")[0]
    'Check the logger first: Its nights match those outdoors 9 days earlier'
    """
    return tuple(f"{CHECK_LOGGER}{each.text(units)}" for each in cover.doubts)


def report_space_caveats(report: GardenReport, units: Units = "C") -> tuple[str, ...]:
    """Reasons to doubt the loggers of the covered spaces that a report's plants are raised in."""
    spaces = dict.fromkeys(plan.space for plan in report.plans if plan.space is not None)
    return tuple(text for space in spaces for text in space_caveats(space, units))


def few_years(report: GardenReport) -> list[str]:
    """Caveat that the years are few; the page gives it with its odds, see `sentences.how_sure`."""
    return [FEW_YEARS] if int(report.shorter["known"]) < LEAST_YEARS else []


# --- the record ---------------------------------------------------------------------------


def _old(last: LastYear | None) -> str:
    """Caveat that a record ended long ago."""
    if last is None:
        return ""
    return (
        f"The record stops in {last.year}, {last.years_ago} years ago. If it has grown warmer "
        "since, freezes now end earlier and summers are hotter. Use a station that still reports."
    )


def frozen_ground(daily: xr.Dataset) -> str:
    """Caveat that the earliest dates of spring know neither snow nor frozen ground."""
    if not has_frozen_ground(daily):
        return ""
    return (
        "Snow and frozen ground are not counted: in spring, wait until your soil has thawed and "
        "can be worked."
    )


def _moved(steps: tuple[Step, ...], units: Units) -> str:
    """Caveat that a record has a sudden step, as when its station was moved."""
    if not steps:
        return ""
    return (
        f"The record changes all at once: {_steps(steps, units)}. Perhaps the station moved or got "
        "another instrument. Compare it with a neighbouring station before you trust the older "
        "years."
    )


def _changes_left(daily: xr.Dataset, units: Units) -> str:
    """Caveat that a record changes against its neighbours and was not corrected."""
    return compared(daily, units) if daily.attrs.get(CHANGES_LEFT) else ""


def _nothing_left(daily: xr.Dataset, units: Units) -> str:
    """Note that all changes against its neighbours were corrected; it comes last."""
    return "" if daily.attrs.get(CHANGES_LEFT) else compared(daily, units)


def beside(daily: xr.Dataset, neighbour: xr.Dataset, units: Units = "C") -> str:
    """What a neighbour's record says about sudden steps in a record.

    Raises
    ------
    DataGapError
        If the two have no day in common.
    """
    breakpoints = detect_breakpoints(daily, neighbour)
    attrs, shared = neighbour.attrs, years(int(breakpoints["known"].min()))
    name = attrs.get("station_name") or attrs.get("title") or "the neighbour"
    alike = _likeness(daily, neighbour)
    if alike < LEAST_CORRELATION:
        return (
            f"{name} says nothing of steps in this record: their days have too little in common "
            f"(correlation {fixed(alike, 2)}, {fixed(LEAST_CORRELATION, 1)} is needed). Take a "
            "nearer station."
        )
    if breakpoints["p"].isnull().all():
        return f"Against {name} no step can be told: {shared} in common, {LEAST_YEARS} are needed."
    changes = clear_changes(breakpoints)
    if not changes:
        return f"Against {name} the record holds: no sudden step or drift in {shared} in common."
    texts = []
    drifts = tuple(change for change in changes if change.kind == "drift")
    steps = tuple(change for change in changes if change.kind != "drift")
    if steps:
        texts.append(
            f"Against {name} the record changes all at once: {_steps(steps, units)} ({shared} in "
            "common). One of the two may have been moved or given another instrument; a third "
            "station tells which."
        )
    if drifts:
        texts.append(
            f"Against {name} the record drifts: {_drifts(drifts, units)} ({shared} in common). "
            "Trees or houses may have grown up around one of the two; a third station tells which."
        )
    return " ".join(texts)


def _likeness(daily: xr.Dataset, neighbour: xr.Dataset) -> float:
    """Correlation of two records' days, at the best lag; missing if few are in common."""
    try:
        return float(day_shift(daily, neighbour)["correlation"].max())
    except DataGapError:
        return float("nan")


def _steps(steps: tuple[Step, ...], units: Units) -> str:
    return ", ".join(_one_step(step, units) for step in steps)


def _one_step(step: Step, units: Units) -> str:
    """A sudden step: when, how large, how sure its year is, and whether it may be a drift."""
    text = (
        f"{_TIMES[step.variable]} from {step.first_year} on are {difference(step.size_c, units)} "
        f"{'warmer' if step.size_c > 0 else 'colder'}"
    )
    doubts = []
    if step.earliest < step.latest:
        first, last = step.earliest, step.latest
        when = f"in {first} or {last}" if last == first + 1 else f"between {first} and {last}"
        doubts.append(f"the change came {when}")
    if step.kind == "step or drift":
        doubts.append("a slow drift would fit nearly as well")
    return f"{text} ({'; '.join(doubts)})" if doubts else text


def _drifts(drifts: tuple[Step, ...], units: Units) -> str:
    return ", ".join(
        f"{_TIMES[drift.variable]} "
        f"{difference(drift.drift_c, units)} "
        f"{'warmer' if drift.drift_c > 0 else 'colder'} every ten years"
        for drift in drifts
    )


def _missing(missing: MissingMonths | None) -> str:
    """Caveat that days are missing mostly in some of the months that count."""
    if missing is None:
        return ""
    months = listed(FULL_MONTHS[month - 1] for month in missing.months)
    return (
        f"Days are missing mostly in {months}: {percent(missing.share)} of "
        f"them, against {percent(missing.usual_share)} in the usual month."
    )


def _how_drawn(daily: xr.Dataset) -> str:
    """How missing days are filled in."""
    is_joined = any(name in daily for name in NEARBY.values())
    told_by = "stations nearby and the days around them" if is_joined else "the days around them"
    return f"{HOW_FILLED} many times at random, from {told_by}, so such years count in part."


def _leaning(daily: xr.Dataset) -> str:
    """Caveat on the years in which missing days decide when it froze."""
    if "tmin" not in daily or not bool(daily["tmin"].isnull().any()):
        return ""
    try:
        dates = freeze_dates(daily)
    except DataGapError:  # too thin to have a usual year: nothing is drawn
        return ""
    seasons = [
        (dates[f"{name}_status"] == UNKNOWN) & dates[f"{name}_drawn"].notnull().all("draw")
        for name in ("last_spring", "first_autumn")
    ]
    count = int((seasons[0] | seasons[1]).sum())
    if not count:
        return ""
    every = years(dates.sizes["season"])
    text = f"In {count} of {every} a missing day may hide the last or the first freeze."
    return f"{text} {_how_drawn(daily)}"


def _warming(warming: Warming | None, units: Units, *, is_moved: bool = False) -> str:
    """Caveat that it has grown warmer or colder, and how a sudden step changes that.

    Where the odds are moved to today's climate (`is_moved`), they allow for it up to now.
    """
    if warming is None:
        return ""

    def ahead(way: str) -> str:
        if is_moved:
            return f"The odds allow for that up to today; the years to come may be {way} still."
        return f"The years to come may be {way} than those counted."

    way = "warmer" if warming.slope_c > 0 else "colder"
    change = difference(warming.slope_c, units)
    beside = warming.beside_step_c
    if beside is None:
        return f"It has grown {way} here, by {change} every ten years. {ahead(way)}"
    if not beside:
        return (
            f"If that sudden change is the climate's own, it has grown {way} here, by {change} "
            f"every ten years, and the years to come may be {way} than those counted; if it is the "
            "station's, no clear trend is left."
        )
    way = "warmer" if beside > 0 else "colder"
    return (
        f"Apart from that sudden change it has grown {way} here, by {difference(beside, units)} "
        f"every ten years. {ahead(way)}"
    )


# --- the report ---------------------------------------------------------------------------


def which_climate(report: GardenReport) -> str:
    """Note on which climate is shown where, or why today's is not shown."""
    if report.today is None:
        return _only_as_recorded(report.daily)
    text = OF_TODAY
    if report.leading("spring freeze") == "record":
        text += (
            " The odds of a freeze count the years as they were, too: in so mild a place, moving "
            "them to today's climate does not improve them."
        )
    return f"{text} {assumed_warming(report.daily)}".rstrip()


def _only_as_recorded(daily: xr.Dataset) -> str:
    """Why a record is not moved to today's climate; empty if it is of today's already."""
    if climate_of(daily) == "today":
        return ""
    count = years_with_mean(daily)
    if count < LEAST_LEVEL_YEARS:
        known = "no whole year"
        if count:
            known = f"only {count} whole year{'s' * (count > 1)}"
        why = f"With {known}, today's climate cannot be told from that of earlier years"
    else:
        why = "Too few years have passed since the sudden change to tell today's climate"
    return (
        f"{why}, so all odds count the years as they were. If it is warmer now, frost is less "
        "likely than they say, and great heat likelier."
    )


def chart_climate(report: GardenReport) -> str:
    """Climate of the live chart's odds; empty if there is only one."""
    return "" if report.today is None else CHART_CLIMATE[report.leading("spring freeze")]


def _report_missing(report: GardenReport) -> str:
    """Missing days in the months that decide, and how far they could shift the headline's odds."""
    months = report.missing_months
    if months is None:
        return ""
    short, known, unknown = (int(report.shorter[name]) for name in ("shorter", "known", "unknown"))
    decide = "This month decides" if len(months.months) == 1 else "These months decide"
    text = (
        f"{_missing(months)} {decide} for {plural(report.crop)}, "
        "and days are not lost by chance alone: cold, wet weeks may be the ones nobody read."
    )
    if not unknown:
        return text
    every = years(known + unknown)
    return (
        f"{text} Were all the years left open too short, it would be {short + unknown} of {every}; "
        f"were none, {short} of {every}."
    )


def _report_leaning(report: GardenReport) -> str:
    """Caveat on the years in which the answer depends on drawn days."""
    window = int(report.shorter["leaning"])
    harvest = int(report.ahead.odds[report.best]["leaning"])
    if stands_through_winter(report) and not report.crop.is_perennial:
        window = 0  # no mild spell could hold the crop's life
    decided = [
        (window, "whether the mild spell was long enough"),
        (harvest, "whether there was a harvest"),
    ]
    said = [f"in {years(count)} missing days decide {what}" for count, what in decided if count]
    if not said:
        return ""
    counting = (
        " Counts, dates and causes of failure are those of the other years; ranges allow for all."
    )
    text = f"{capitalized(', and '.join(said))}. {_how_drawn(report.daily)}"
    return text + counting * bool(harvest)


def _report_warming(report: GardenReport, units: Units) -> str:
    """Caveat that it has grown warmer or colder, with the recent years beside all."""
    text = _warming(report.clear_warming, units, is_moved=report.today is not None)
    if not text or report.windows.sizes["season"] <= RECENT_YEARS:
        return text
    every, recent = report.shorter, report.shorter_recently
    if not int(every["shorter"]) or stands_through_winter(report):
        return text
    ways = [need.way for need in needs(report) if need.days == report.need_days]
    spell = "The mild spell"
    if len(needs(report)) > 1:
        spell += f" for {plural(report.crop)} {ways[0]}"
    return (
        f"{text} {spell} was too short in {int(recent['shorter'])} of the latest "
        f"{years(int(recent['known']))}, and in {int(every['shorter'])} of all "
        f"{int(every['known'])}."
    )


# --- how it was read ----------------------------------------------------------------------

_STEPS = {
    1.0: "whole degrees Celsius",
    5 / 9: "whole degrees Fahrenheit",
    0.5: "half degrees Celsius",
    TENTHS: "tenths of a degree Celsius",
}


def read_in(daily: xr.Dataset) -> str:
    """The steps in which a record's minimum was read, and the years in which they changed."""
    step = resolution(daily)["tmin"]
    values, year = step.values, step["year"].values
    begins, _ = equal_runs(values)
    words = [_STEPS[min(_STEPS, key=lambda known: abs(known - values[i]))] for i in begins]
    if len(begins) == 1:
        return f"Minima were read in {words[0]}."
    later = [f"in {word} from {year[i]} on" for i, word in zip(begins, words, strict=True)]
    return f"Minima were read {', '.join(later)}. Thresholds allow for half a step."


# --- the garden ---------------------------------------------------------------------------


def _elsewhere(garden: Garden, daily: xr.Dataset, units: Units) -> tuple[str, str, str]:
    """Caveats that the garden lies much higher or lower than its station or far away, or less so.

    The first comes before other doubts; the others are of a smaller height, and of a distance.
    """
    away_km = distance_to_station(garden, daily)
    is_far = away_km is not None and away_km > ANOTHER_PLACE_KM  # said by `misplaced`, first of all
    is_high = height_of_another_climate(garden, daily) is not None  # so is its height
    above_m = None if is_high else height_difference(garden, daily)
    told = _height(above_m, units, garden.elevation)
    is_great = above_m is not None and abs(above_m) >= GREAT_HEIGHT_M
    is_remote = away_km is not None and away_km >= REMOTE_KM
    away = "" if is_far else _distance(away_km, units)
    first = (told if is_great else "", away if is_remote else "")
    return (
        " ".join(filter(None, first)),
        "" if is_great else told,
        "" if is_remote else away,
    )


def great_distance(garden: Garden, daily: xr.Dataset, units: Units = "C") -> str:
    """That the garden lies so far from its station, or above it, that no other doubt weighs more.

    Parameters
    ----------
    garden, daily, units
        As for `misplaced`, which speaks where the difference is larger still.
    """
    return _elsewhere(garden, daily, units)[0]


def misplaced(
    garden: Garden, daily: xr.Dataset, units: Units = "C", *, place: str = "the garden"
) -> str:
    """Caveat that garden and station are so far apart that one position must be wrong.

    Parameters
    ----------
    garden : Garden
        Where the record is to hold.
    daily : Dataset
        The record, with the place that its file says, if it does.
    units : {"C", "F"}
        Of the heights and distances said.
    place : str
        What the garden is called.
    """
    away_km = distance_to_station(garden, daily)
    if away_km is not None and away_km > ANOTHER_PLACE_KM:
        return (
            f"{CHECK_PLACE}the station of this record is {distance(away_km, units)} from {place}. "
            "That is another climate. Latitude and longitude may have changed places or lost a "
            "sign, or the record is of another town."
        )
    above_m = height_of_another_climate(garden, daily)
    if above_m is None:
        return ""
    side, way = ("above", "colder") if above_m > 0 else ("below", "warmer")
    by = difference(LAPSE_C_PER_KM * above_m / 1000, units)
    return (
        f"{CHECK_PLACE}{place} is {height(above_m, units)} {side} the station of this record. "
        f"That is another climate, about {by} {way}. One of the two heights may be in "
        "feet and read as metres, or the record is of another town."
    )


def other_height(listed: Garden, daily: xr.Dataset) -> str:
    """Caveat that a list of stations and the record of one say different heights; else empty.

    Parameters
    ----------
    listed : Garden
        The station, as the list has it.
    daily : Dataset
        The record, with the height that its file says, if it does.
    """
    own = daily.attrs.get("elevation")
    if own is None or listed.elevation is None or abs(listed.elevation - own) <= GREAT_HEIGHT_M:
        return ""
    mistyped = _height_mistyped(listed.elevation - own, listed.elevation)
    return (
        f"{CHECK_PLACE}the list says {as_typed(listed.elevation)} m, and the record "
        f"{as_typed(own)} m. {mistyped}It may be the record of another station."
    )


def doubtful_need(report: GardenReport) -> str:
    """Caveat that the given need is far from the days for which the crop stands outdoors.

    Parameters
    ----------
    report : GardenReport
        Of one garden.
    """
    if report.given_need_days is None or report.given_band is not None:
        return ""
    least, most = min(report.needs), max(report.needs)
    if least / NEED_TIMES <= report.given_need_days <= most * NEED_TIMES:
        return ""
    span = counted(least, "day") if least == most else f"{least} to {counted(most, 'day')}"
    return (
        f"You gave {counted(report.given_need_days, 'day')} as the need of {plural(report.crop)}. "
        f"In a typical year here the crop stands outdoors for {span} to its first harvest. A need "
        "is given in days, not in weeks."
    )


def old_seedlings(plan: Plan) -> str:
    """Caveat that a plan raises its plants for far longer than is usual.

    Parameters
    ----------
    plan : Plan
        A way of growing.

    Examples
    --------
    >>> import climwin as cw
    >>> old_seedlings(cw.Plan(cw.crop("pea"), "03-05", 6, "cold frame"))
    ''
    """
    usual = plan.crop.weeks_under_cover
    most = WEEKS_OF_OTHERS if usual is None else usual.most
    if plan.weeks_under_cover <= OLD_TIMES * most:
        return ""
    name = capitalized(plural(plan.crop))
    stands = "are" if is_plural(plan.crop) else "is"
    how = (
        "usually sown in place"
        if usual is None
        else f"usually raised for {usual.fewest} to {counted(usual.most, 'week')}"
    )
    return (
        f"You raise the plants for {counted(plan.weeks_under_cover, 'week')} under cover. {name} "
        f"{stands} {how}. Plants that wait so long grow poorly, which the model does not know."
    )


def _height(above_m: float | None, units: Units, elevation_m: float | None = None) -> str:
    """Caveat that the garden lies far above or below its station, with the effect."""
    if above_m is None:
        return ""
    side, way = ("above", "colder") if above_m > 0 else ("below", "warmer")
    return (
        f"Your garden is {height(above_m, units)} {side} the station, so expect it to be about "
        f"{difference(LAPSE_C_PER_KM * above_m / 1000, units)} {way}, by the usual "
        f"{lapse(LAPSE_C_PER_KM, units)}. {_height_mistyped(above_m, elevation_m)}The numbers can "
        "be moved to your height, but a thermometer there for a season tells you more."
    )


def _height_mistyped(above_m: float, elevation_m: float | None) -> str:
    """Ask whether a height was meant in feet, or above the sea, if that is near the station's."""
    if elevation_m is None:
        return ""
    station_m, typed = elevation_m - above_m, as_typed(elevation_m)
    if elevation_m < 0 and abs(-elevation_m - station_m) <= HEIGHT_M:
        return f"It is {typed} m, below the sea: has it a minus sign too many? "
    is_whole = elevation_m == round(elevation_m)  # feet, turned into metres, are not
    if not is_whole or abs(FOOT_M * elevation_m - station_m) > HEIGHT_M:
        return ""
    return f"If {typed} was meant in feet, write {typed}ft. "


def _distance(away_km: float | None, units: Units) -> str:
    """Caveat that the station lies far from the garden."""
    if away_km is None:
        return ""
    return (
        f"The station is {distance(away_km, units)} from your garden, so its frosts may come on "
        "other nights. Look for a nearer one, or hang a thermometer in the garden for a season."
    )
