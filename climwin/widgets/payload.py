"""The data of the live chart, as plain dicts for JSON.

The same numbers serve the notebook's panel and the page to share. Python works out whatever takes
long; the front end draws it, and follows the library's rules for what a hand may move.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, get_args

import numpy as np
import xarray as xr

from climwin.climate.freeze import SHOWN_ODDS, freeze_odds, temperature_grids
from climwin.climate.imputation import LEAST_MEASURED, covered_days, drawn_grids
from climwin.climate.level import leading_climate, todays_climate
from climwin.climate.percentiles import day_bands
from climwin.climate.resolution import steps
from climwin.climate.usable import DECIMALS, MEAN_DAYS, running_mean
from climwin.core.errors import DataGapError, InputError
from climwin.core.provenance import climate_of, level_error_of, scenario_in, scenario_of
from climwin.core.runs import equal_runs
from climwin.core.schema import Units, variable
from climwin.core.seasons import (
    DAYS,
    by_year,
    coldest_day,
    day_number,
    keep_inside,
    offset,
    smoothed,
    usual_days,
    warmest_day,
)
from climwin.core.stats import COUNTED_YEAR, KINDS, LEAST_YEARS, LEVEL, NEXT_YEARS, z_of
from climwin.crops.bands import bearable_band, comfortable_band
from climwin.crops.model import Crop
from climwin.crops.naming import plural
from climwin.planning.grown import HARVEST_LEVELS, Calendar
from climwin.planning.growth import HARVEST, OPEN, REASONS
from climwin.planning.over_sites import Result, over_sites
from climwin.planning.plan import MOST_WEEKS, OUTDOORS, Plan
from climwin.planning.site import GROWN_DRAWS, FilledSites
from climwin.planning.spans import NO_OTHERS
from climwin.planning.sweep import SweptYears, at_day, sweep_years, with_elsewhere
from climwin.report.garden import listed_days
from climwin.report.sentences import reason_in_words
from climwin.shelter.covers import COVERS, Cover, logger_days, under_cover

GOOD_HARVEST = -3
"""Code of a harvest that is good; `growth.HARVEST` is then that of a poorer one."""
NO_HARVEST = -1
"""Day of a harvest that never comes."""
PERENNIAL_START = "04-01"
"""Start of a perennial's plan, which has no effect."""
DRAWN_DECIMALS = 2
"""Steps in a degree of the values drawn for missing days: finer than any thermometer is read
(common practice)."""
FIRST_LETTER = ord("#")
"""Letter of the number 0: that of the first after the quotation mark, which JSON would escape."""
NO_LETTERS = range(0xD800, 0xE000)
"""What is no letter in Unicode: halves of letters in UTF-16."""
_ELSEWHERE = ("elsewhere_harvested", "elsewhere_known")

# --- the place's record -------------------------------------------------------------------


def record_numbers(daily: xr.Dataset, name: str) -> dict[str, Any]:
    """A place's daily record, as far as the chart's rules need it.

    Parameters
    ----------
    daily : Dataset, dims (time)
        Needs ``tmin`` and ``tmean``. [degC]
    name : str
        What to call the place.

    Returns
    -------
    dict
        ``tmean`` and ``tmin`` have the value of every day of every year [degC], as `_readings`,
        from which the chart works out running means and their bounds; ``minimum_steps`` are the
        steps in which each year's minimum was read, with a year added at either end [degC].
        ``season_rows`` has, for each day on which a season may begin, the rows of the seasons that
        lie inside the record; row 0 is a year without values before the first one. ``drawn_tmean``
        and ``drawn_tmin`` have what is drawn on the missing days of the seasons that are drawn,
        whose rows are ``drawn_windows``, by first day, and ``drawn_freezes``. ``todays_shift`` is
        how far today's level lies above the record's, or None; ``freeze_shift``, by how much minima
        are moved before freezes are counted: by that where today's climate leads, else by 0 [degC].

    Raises
    ------
    ValueError
        If the record is of several places.
    DataGapError
        If it is too thin to have a usual year.
    """
    if daily["time"].dims != tuple(daily.sizes):
        dims = ", ".join(map(str, daily.sizes))
        msg = f"A panel shows one place, the record has the dimensions {dims}. Choose one station."
        raise InputError(msg)
    tmean = by_year(variable(daily, "tmean"))
    tmin = by_year(variable(daily, "tmin"))
    usual = smoothed(tmean.values)
    mean_of_day = usual_days(tmean.values)
    average_curve = running_mean(mean_of_day[None], mean_of_day)[0]
    if np.isnan(usual).any():
        msg = "The record is too thin to have a usual year. Give a record of some whole years."
        raise DataGapError(msg)
    coldest, warmest = int(coldest_day(daily)), int(warmest_day(daily))
    years = tmean["year"].values
    season_starts = {coldest, int(usual.argmin()) + 1, int(usual.argmax()) + 1}
    season_rows = {str(day): _season_rows(tmean, day) for day in season_starts}
    shift = _todays_shift(daily)
    is_moved = shift is not None and leading_climate(daily, "spring freeze") == "today"
    return {
        "name": name,
        "scenario": {units: scenario_in(scenario_of(daily), units) for units in get_args(Units)},
        "first_year": int(years[0]),
        "last_year": int(years[-1]),
        "first_row": int(years[0]) - 1,
        "tmean": _readings(tmean.values.ravel()),
        "tmin": _readings(tmin.values.ravel()),
        "minimum_steps": np.pad(steps(tmin).values, 1, mode="edge").tolist(),
        "usual": _to_lists(usual.round(DECIMALS)),
        "average_curve": _to_lists(average_curve.round(DECIMALS)),
        "coldest_day": coldest,
        "warmest_day": warmest,
        "season_rows": season_rows,
        **_drawn_numbers(daily, season_rows, coldest),
        "todays_shift": shift,
        "freeze_shift": shift["tmin"] if shift and is_moved else 0.0,
        "bands": _to_lists(day_bands(daily["tmean"])["tmean"].transpose("percentile", ...).values),
    }


def _todays_shift(daily: xr.Dataset) -> dict[str, float] | None:
    """Today's level less the record's mean; None if it is not known. [degC]"""
    today = todays_climate(daily)
    if climate_of(daily) == "today" or climate_of(today) != "today":
        return None
    shifts = [today.attrs.get(f"todays_{name}_shift_c", 0.0) for name in ("tmin", "tmax")]
    return {"tmin": shifts[0], "tmean": sum(shifts) / 2}


def _drawn_numbers(
    daily: xr.Dataset, season_rows: dict[str, list[int]], coldest: int
) -> dict[str, Any]:
    """Values of the draws on the missing days of the seasons that are drawn.

    ``days`` count through all rows, ``values`` come draw by draw, None where nothing can be drawn.
    """
    grids = temperature_grids(daily)
    tmean, tmin = (_with_empty_years(grids[name]) for name in ("tmean", "tmin"))
    values = {name: _with_empty_years(grid) for name, grid in grids.items()}
    covered_tmin = covered_days(values, "tmin")
    covered_both = covered_tmin & covered_days(values, "tmean")
    windows = {
        day: _drawn_rows(tmean + tmin, covered_both, int(day), rows)
        for day, rows in season_rows.items()
    }
    freezes = _drawn_rows(tmin, covered_tmin, coldest, season_rows[str(coldest)])
    needed = np.zeros(tmean.size, dtype=bool)
    for day, rows in (*windows.items(), (str(coldest), freezes)):
        for row in rows:
            start = row * DAYS + int(offset(int(day)))
            # The running mean of a season's last days reaches beyond it.
            needed[start - MEAN_DAYS : start + DAYS + MEAN_DAYS] = True
    days = {
        name: np.flatnonzero(np.isnan(grid).ravel() & needed)
        for name, grid in (("tmean", tmean), ("tmin", tmin))
    }
    drawn = drawn_grids({name: grid.values for name, grid in grids.items()}) if needed.any() else {}

    def on_missing_days(name: str) -> dict[str, Any]:
        rows = drawn.get(name, np.empty((0, *tmean[1:-1].shape)))
        padded = np.pad(rows, ((0, 0), (1, 1), (0, 0)), constant_values=np.nan)
        values = padded.reshape(len(rows), tmean.size)[:, days[name]]
        return {
            "days": days[name].tolist(),
            "values": _to_lists(values.astype(float).round(DRAWN_DECIMALS)),
        }

    return {
        "drawn_windows": windows,
        "drawn_freezes": freezes,
        "drawn_tmean": on_missing_days("tmean"),
        "drawn_tmin": on_missing_days("tmin"),
    }


def _drawn_rows(
    grid: np.ndarray, covered: np.ndarray, first_day: int, rows: Sequence[int]
) -> list[int]:
    """Rows of the seasons that have gaps, but were measured, here or nearby, on most days."""
    starts = {row: row * DAYS + int(offset(first_day)) for row in rows}

    def share(days: np.ndarray, row: int) -> float:
        return float(days.ravel()[starts[row] : starts[row] + DAYS].mean())

    has_gap = [row for row in rows if share(np.isnan(grid), row) > 0]
    return [row for row in has_gap if share(~covered, row) <= 1 - LEAST_MEASURED]


def _with_empty_years(grid: xr.DataArray) -> np.ndarray:
    """A place's years with one without values at either end."""
    return np.pad(grid.values, ((1, 1), (0, 0)), constant_values=np.nan)


def _season_rows(grid: xr.DataArray, first_day: int) -> list[int]:
    """Rows of the seasons from a day on that lie inside the record; row 0 is the empty year."""
    row = xr.DataArray(np.arange(grid.sizes["year"]) + 1, {"season": grid["year"].values})
    return [int(each) for each in keep_inside(row, grid, xr.DataArray(first_day)).values]


def _runs(values: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Values, and how often each follows itself: ``([5, 3], [90, 275])``. Apart they zip better."""
    begin, end = equal_runs(values)
    return values[begin], end - begin


def _steps(values: np.ndarray) -> str:
    """The first value and what each adds to the one before, as letters: small ones zip well."""
    return letters(_unsigned(np.diff(values, prepend=0)))


def _unsigned(values: np.ndarray) -> np.ndarray:
    """Whole numbers counted from 0: 0, -1, 1, -2, 2 and so on."""
    return np.where(values < 0, -2 * values - 1, 2 * values)


def letters(numbers: np.ndarray) -> str:
    """Whole numbers from 0 on as text, one letter each: it zips a tenth smaller than digits."""
    places = np.asarray(numbers, dtype=np.uint32) + FIRST_LETTER
    places[places >= NO_LETTERS.start] += len(NO_LETTERS)
    return places.astype("<u4").tobytes().decode("utf-32-le")


def _readings(values: np.ndarray) -> dict[str, Any]:
    """Temperatures as whole numbers, by the fewest ``decimals`` that lose nothing.

    ``steps`` are the first one and what each adds to the one before, None where it is missing.
    """
    known = np.flatnonzero(np.isfinite(values))
    read = values[known].round(DECIMALS)
    decimals = next(n for n in range(DECIMALS + 1) if (read.round(n) == read).all())
    whole = (read * 10**decimals).round().astype(int)
    steps = np.full(len(values), np.nan)
    steps[known] = np.diff(whole, prepend=0)
    return {"decimals": decimals, "steps": [None if np.isnan(s) else int(s) for s in steps]}


def _to_lists(array: np.ndarray) -> Any:
    """Nested lists, with None for what is missing."""
    values = array.astype(object)
    values[~np.isfinite(array)] = None
    return values.tolist()


# --- crops --------------------------------------------------------------------------------


def crop_numbers(crop: Crop) -> dict[str, Any]:
    """A crop's limits and stages, and how it is grown.

    Parameters
    ----------
    crop : Crop
        Of the catalogue, or one's own.

    Returns
    -------
    dict
        ``low`` and ``high`` of its bearable band, ``comfortable``, the two ends of its comfortable
        one, and the night that has ``killed`` it [degC]; ``stages``, by name the night that kills
        each [degC]; ``listed_days`` to its harvest; ``weeks`` under cover; whether it can stand
        ``through_winter``.
    """
    band, comfortable = bearable_band(crop), comfortable_band(crop)
    weeks = crop.weeks_under_cover
    return {
        "name": crop.name,
        "plural": plural(crop),
        "is_perennial": crop.is_perennial,
        "through_winter": crop.winter is not None,
        "is_planted": Plan(crop, PERENNIAL_START).is_planted,
        "weeks": weeks.usual if weeks and not crop.is_perennial else 0,
        "listed_days": listed_days(crop),
        "low": band.low_c,
        "high": band.high_c,
        "comfortable": [comfortable.low_c, comfortable.high_c],
        "killed": crop.killed_at_c,
        "stages": {stage.name: stage.cold.killed_at_c for stage in crop.stages},
    }


# --- what takes longer --------------------------------------------------------------------


def constants() -> dict[str, Any]:
    """Names and constants that the chart shares with the library."""
    return {
        "failure_reasons": [reason_in_words(reason) for reason in REASONS],
        "good_harvest": GOOD_HARVEST,
        "harvest": HARVEST,
        "unknown": OPEN,
        "covers": [cover for cover in COVERS if cover != OUTDOORS],
        "most_weeks": MOST_WEEKS,
        "z": z_of(LEVEL),
        "level": LEVEL,
        "next_years": NEXT_YEARS,
        "counted_year": COUNTED_YEAR,
        "drifts": {kind: KINDS[kind]._asdict() for kind in ("window", "harvest")},
        "least_years": LEAST_YEARS,
    }


def freeze_intervals(daily: xr.Dataset, threshold: float) -> dict[str, Any]:
    """Intervals of the dates at which a freeze has the odds `SHOWN_ODDS`."""
    odds = freeze_odds(daily, threshold, levels=SHOWN_ODDS, method="smoothed")

    def ends(half: str) -> list[Any]:
        return [_to_lists(odds[f"{half}_{end}"].values) for end in ("low", "high")]

    return {"spring": ends("last_spring"), "autumn": ends("first_autumn")}


def outcomes(plans: Sequence[Plan], daily: xr.Dataset) -> list[dict[str, Any]]:
    """Outcome of each plan in every year, for each start day.

    Parameters
    ----------
    plans : sequence of Plan
        Their own start dates play no part.
    daily : Dataset, dims (time)
        Needs ``tmin`` and ``tmax`` [degC], and its latitude.

    Returns
    -------
    list of dict
        One for each plan; whole numbers are written as `letters`:

        ``codes``, ``code_counts``
            Its outcomes from every start day of every year, in their order, as runs: each code, and
            how often it follows itself. `constants` has what codes mean.
        ``draws``, ``draw_counts``
            For each of these starts that a gap leaves open a text, ``1`` or ``0`` for a harvest or
            none in each draw; for the others an empty one. As runs too.
        ``harvest_days``
            Days after 31 December before the start by which the harvest has begun in 10, 50 and
            90 % of the harvested years (rows), rounded; `NO_HARVEST` where there is none. By start
            day, each as the difference from the day before.
        ``need_days``
            Days that the crop stands outdoors in the middling year, in the same way.
        ``level_spread``
            Standard error of the share of harvests that comes from that of the level, in
            thousandths, in the same way; None where the years are not moved.
        ``climate``
            Of the years.
        ``best_dates``, ``other_dates``
            First and last day of the start dates that lead, see `best_dates`, None where no year is
            known; and of those of the other seasons that have any.
        ``best_date``
            The best of those that lead.
        ``best_share``, ``best_interval``
            Share of harvests from dates chosen without the years that judge them, see
            `climwin.planning.selection`, and its two ends.

        A perennial has no best dates, and in each row the same in every column.
    """
    results = [
        Result("code", ("plan", "season", "start_day"), np.int8),
        Result("drawn", ("plan", "season", "start_day"), np.int16),
        Result("harvest_day", ("plan", "quantile", "start_day"), np.int16),
        Result("need_days", ("plan", "start_day"), np.int16),
        Result("per_degree", ("plan", "start_day")),
        *(Result(f"best_{name}", ("plan",)) for name in ("first", "day", "last")),
        Result("other_dates", ("plan", "other", "end")),
        *(Result(name, ("plan",)) for name in _ELSEWHERE),
    ]

    def kernel(sites: FilledSites, calendar: Calendar) -> tuple[np.ndarray, ...]:
        each = [_of_plan(plan, sites, calendar) for plan in plans]
        return tuple(np.stack([found[result.name] for found in each]) for result in results)

    grown = over_sites(
        kernel,
        daily,
        results=results,
        sizes={
            "plan": len(plans),
            "quantile": len(HARVEST_LEVELS),
            "other": NO_OTHERS.shape[0],
            "end": NO_OTHERS.shape[1],
        },
    )
    level_error = level_error_of(daily)
    grown["level_spread"] = abs(grown["per_degree"]) * level_error
    on_best_day = at_day(grown["per_degree"], grown["best_day"])
    hits, known = (grown[name] for name in _ELSEWHERE)
    grown = with_elsewhere(grown, hits, known, on_best_day * level_error)
    grown = grown.assign_attrs(climate=climate_of(daily))
    return [_packed_outcomes(plan, grown.isel(plan=i)) for i, plan in enumerate(plans)]


def _of_plan(plan: Plan, sites: FilledSites, calendar: Calendar) -> dict[str, np.ndarray]:
    """Results of one plan for `outcomes`, by name, not yet packed."""
    swept = sweep_years(plan, sites, calendar, with_band=False)
    counts, chosen = swept.counts, swept.chosen
    starts = np.arange(1, len(counts.known) + 1)
    # Whole days are counted, as in the report's need; of a perennial those to the harvest's end.
    outdoors = swept.days_to_end if plan.crop.is_perennial else counts.days_outdoors
    need = np.where(np.isnan(outdoors), listed_days(plan.crop), np.floor(outdoors))
    harvest_day = np.floor(counts.harvest_day.T + starts + 0.5)  # half days go up, as in `day_name`
    by_start = {
        "code": np.where(swept.good, GOOD_HARVEST, swept.reason).astype(np.int8),
        "drawn": _harvested_by_draw(swept),
        "harvest_day": np.where(np.isnan(harvest_day), NO_HARVEST, harvest_day).astype(np.int16),
        "need_days": need.astype(np.int16),
        "per_degree": counts.harvest_per_degree,
    }
    return {
        # A perennial has one start, which stands in every column.
        **{
            name: np.broadcast_to(values, (*values.shape[:-1], DAYS))
            for name, values in by_start.items()
        },
        "best_first": np.array(chosen.first),
        "best_day": np.array(chosen.best),
        "best_last": np.array(chosen.last),
        "other_dates": np.array(chosen.others),
        "elsewhere_harvested": np.array(chosen.harvested),
        "elsewhere_known": np.array(chosen.known),
    }


def _harvested_by_draw(swept: SweptYears) -> np.ndarray:
    """Draws with a harvest as the bits of a number, the first the highest; -1 where none is drawn.

    Shape (seasons, start_days).
    """
    if swept.drawn is None:
        return np.full(swept.reason.shape, -1, dtype=np.int16)
    harvested = swept.drawn.laid_out(swept.drawn.harvested, swept.reason.shape)
    bits = harvested @ 2.0 ** np.arange(GROWN_DRAWS)[::-1]
    return np.where(np.isnan(bits), -1, bits).astype(np.int16)


def _packed_best(plan: Plan, best: xr.Dataset) -> dict[str, Any]:
    """The dates that lead, as numbers."""
    if plan.crop.is_perennial or np.isnan(best["best_day"]):
        start = day_number(PERENNIAL_START)
        nothing = dict.fromkeys(("best_dates", "best_share", "best_interval"))
        return {**nothing, "best_date": start, "other_dates": []}
    others = best["other_dates"].dropna("other").astype(int)
    return {
        "best_dates": [int(best["best_first"]), int(best["best_last"])],
        "other_dates": others.transpose("other", "end").values.tolist(),
        "best_date": int(best["best_day"]),
        "best_share": float(best["elsewhere_share"]),
        "best_interval": [round(float(best[f"elsewhere_{end}"]), 4) for end in ("low", "high")],
    }


def _packed_outcomes(plan: Plan, grown: xr.Dataset) -> dict[str, Any]:
    """One plan's outcomes as `outcomes` describes them."""
    codes, code_counts = _runs(grown["code"].values.astype(int).ravel())
    draws, draw_counts = _runs(grown["drawn"].values.ravel())
    return {
        "codes": letters(_unsigned(codes)),
        "code_counts": letters(code_counts),
        "draws": ["" if each < 0 else f"{each:0{GROWN_DRAWS}b}" for each in draws],
        "draw_counts": letters(draw_counts),
        "harvest_days": [_steps(days) for days in grown["harvest_day"].values.astype(int)],
        "need_days": _steps(grown["need_days"].values.astype(int)),
        "climate": grown.attrs["climate"],
        "level_spread": _level_spread(grown),
        **_packed_best(plan, grown),
    }


def _level_spread(grown: xr.Dataset) -> str | None:
    """The error that comes from the level, by start day; None for years that were not moved."""
    if grown.attrs["climate"] == "record":
        return None
    return _steps((1000 * grown["level_spread"].fillna(0).values).round().astype(int))


# --- a covered space ----------------------------------------------------------------------


def cover_days(logger: xr.Dataset, daily: xr.Dataset, cover: Cover) -> dict[str, Any]:
    """A logger's days inside a covered space, the same days outdoors, and the cover's own line.

    Parameters
    ----------
    logger : Dataset, dims (time)
        From `climwin.io.loggers.read_logger`.
    daily : Dataset, dims (time)
        Outdoor record.
    cover : Cover
        Fitted to the logger, or a preset to compare with it.
    """
    inside = logger_days(logger)
    outdoors = daily[["tmin", "tmax"]].reindex(time=inside["time"])
    fitted = under_cover(outdoors, cover)

    def extremes(days: xr.Dataset) -> list[Any]:
        return [_to_lists(days[name].values) for name in ("tmin", "tmax")]

    return {
        "dates": [str(day)[:10] for day in inside["time"].values],
        "inside": extremes(inside),
        "outdoors": extremes(outdoors),
        "fitted": extremes(fitted),
    }
