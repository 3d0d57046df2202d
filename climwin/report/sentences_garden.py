"""Titles of the figures on plans, covers, stations and beds: the finding of each."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING, Literal

import numpy as np
import xarray as xr

from climwin.core.formatting import (
    difference,
    difference_as_given,
    fixed,
    kilometres,
    metres,
)
from climwin.core.schema import Units
from climwin.core.seasons import day_name
from climwin.core.stats import LEVEL, z_of
from climwin.core.wording import capitalized, say
from climwin.crops.model import Stage
from climwin.planning.growth import POOR_GROWTH
from climwin.planning.plan import PLANTED
from climwin.report.sentences import percent, run_of_dates, temperature, years
from climwin.shelter.covers import PLAIN_BEND, Cover, Response
from climwin.shelter.risk import SpaceCheck
from climwin.trials.analysis import differs
from climwin.trials.measure import Measure, change, change_range, measure_of

if TYPE_CHECKING:
    import pandas as pd


# --- plans --------------------------------------------------------------------------------


def best_starts(best: Mapping[str, tuple[int, int] | None]) -> str:
    """Best dates of each way of growing: the first and the last of the run, or none."""
    parts = [f"{name[:1].lower()}{name[1:]}: {_best(run)}" for name, run in best.items()]
    return capitalized("; ".join(parts))


def _best(run: tuple[int, int] | None) -> str:
    """Best dates of one way, or that there are none."""
    if run is None:
        return "no date gives a harvest"
    return f"best {run_of_dates(*run)}"


def sensitive(odds: xr.Dataset, units: Units) -> str:
    """How much the odds of too short a window change with the limits, from `sensitivity`."""
    share = odds["share"]
    if not int(share.count()):
        return "Whatever the limits, the odds of too short a window are not known"
    low, high = (percent(float(v)) for v in (share.min(), share.max()))
    widest = max(float(abs(odds[axis]).max()) for axis in ("low_shift", "high_shift"))
    off_by = f"were the limits off by up to {difference_as_given(widest, units)}"
    own = odds.where((odds["low_shift"] == 0) & (odds["high_shift"] == 0))["share"].max()
    if np.isnan(own):
        return f"Too short in {low} to {high} of years, {off_by}"
    return f"Too short in {percent(float(own))} of years; {off_by}, in {low} to {high}"


# --- crops that suit ----------------------------------------------------------------------

OFTEN = 0.8
"""Share of the years from which a crop is said to suit (common practice)."""


def suiting(ranked: xr.Dataset) -> str:
    """How many crops suit a place, from `rank_crops`."""
    often = ranked["elsewhere_share"] >= OFTEN - 1e-9
    suits = often.groupby("crop").any()
    poor = suits & ~(often & (ranked["growth"] >= POOR_GROWTH)).groupby("crop").any()
    text = (
        f"{int(suits.sum())} of {suits.size} crops give a harvest here in at "
        f"least {fixed(10 * OFTEN)} years of 10, at their best dates"
    )
    return f"{text}, {int(poor.sum())} of them a poor one" if poor.any() else text


def way(row: xr.Dataset) -> str:
    """How a crop is started, one plan of `rank_crops`."""
    propagation = str(row["propagation"].item())
    if propagation == "perennial":
        return say("plan_perennial")
    weeks = int(row["weeks"])
    if weeks:
        cover = str(row["cover"].item()).replace("room with lights", "indoors")
        return f"{cover}, {weeks} weeks"
    return "planted" if propagation in PLANTED else say("sown_outdoors")


def suited(row: xr.Dataset) -> str:
    """How and when a crop is best started and what limits it, one plan of `rank_crops`."""
    limit = row["limit"].item()
    if not float(row["share"]) > 0:
        none = f"none of {years(int(row['known']))}"
        return f"{way(row)}: in {none}, {limit or 'as far as is known'}"
    rest = f"else {limit}" if limit else "every year"
    if row["propagation"].item() == "perennial":
        return f"{way(row)}; {rest}"
    days = [day_name(float(row[f"{end}_day"])) for end in ("first", "last")]
    early = ", early varieties" if row["earliness"].item() == "early" else ""
    return f"{way(row)}, start {' to '.join(dict.fromkeys(days))}{early}; {rest}"


def calendar(dates: xr.Dataset) -> str:
    """Finding of a calendar of recommended dates, from `planting_calendar`."""
    names = dict.fromkeys(map(str, dates["crop"].values))
    of = f"{len(names)} crops" if len(names) > 1 else next(iter(names))
    return f"When to start {of} here, for a harvest in at least 8 years of 10"


# --- covered spaces -----------------------------------------------------------------------


def response(cover: Cover, coldest_outdoors: float, units: Units) -> str:
    """How a covered space changes a cold night."""
    inside = temperature(float(cover.coldest.inside(coldest_outdoors)), units)
    give = difference(reach(cover.coldest), units, 0)
    return (
        f"A night of {temperature(coldest_outdoors, units)} outdoors: {inside} inside "
        f"({cover.name}), give or take {give} on nine nights of ten"
    )


def bend(line: Response, name: Literal["minimum", "maximum"], units: Units = "C") -> str:
    """Meaning of the bend of a fitted line; empty if it is straight.

    A bend that the log does not show plainly is a perhaps.

    Parameters
    ----------
    line : Response
        Of a `Cover` from `fit_cover`.
    name : {"minimum", "maximum"}
        Which extreme it is of.
    units : {"C", "F"}
        Of the temperatures said.
    """
    if line.knee_c is None or line.slope_above is None:
        return ""
    shown = _bend_shown(line, name, line.knee_c, line.slope_above, units)
    if line.bend_chance is None or line.bend_chance >= PLAIN_BEND:
        return shown
    return f"perhaps {shown}; a longer log would tell"


def _bend_shown(line: Response, name: str, knee_c: float, slope_above: float, units: Units) -> str:
    knee = temperature(knee_c, units, 1)
    stays = temperature(float(line.inside(knee_c)), units)
    if name == "minimum" and line.slope < _FLAT < slope_above:
        return f"below {knee} outdoors it stays near {stays}, as a heater does"
    if name == "maximum" and slope_above < _FLAT < line.slope:
        return f"above {knee} outdoors it stays near {stays}, as vents or shade do"
    if name == "maximum" and slope_above < line.slope:
        return (
            f"above {knee} outdoors it rises by {fixed(slope_above, 2)} for each degree "
            f"instead of {fixed(line.slope, 2)}, as with vents that let part of the warmth out"
        )
    return (
        f"from {knee} outdoors on it follows by {fixed(slope_above, 2)} for each degree, "
        f"below by {fixed(line.slope, 2)}"
    )


_FLAT = 0.25  # slope below which a space stays nearly as warm whatever the outdoors does


def reach(line: Response) -> float:
    """How far on either side of its line nine single days of ten lie. [degC]"""
    return z_of(LEVEL) * line.spread_c


def inside(check: SpaceCheck, stage: Stage) -> str:
    """Whether a logged period suited a stage, from `check_space`."""
    share = check.hours_in_band / check.hours if check.hours else np.nan
    risks = (("too cold", check.too_cold), ("too hot", check.too_hot))
    kinds = [f"{name} on {len(days)} day{'s' * (len(days) != 1)}" for name, days in risks if days]
    risk = " and ".join(kinds) or "no day too cold or too hot"
    return f"Inside, {percent(share)} of the hours suited the {stage.name} stage; {risk}"


def space_years(odds: xr.Dataset) -> str:
    """How often a covered space would fail a stage, from `space_odds`."""
    first, last = (day_name(odds.attrs[f"{end}_day"]) for end in ("first", "last"))
    cold, hot = (percent(float(odds[f"{side}_share"])) for side in ("cold", "hot"))
    space = odds.attrs["cover"]
    return (
        f"{space[0].upper()}{space[1:]}, {first} to {last}: a day too cold for the "
        f"{odds.attrs['stage']} stage in {cold} of years, too hot in {hot}"
    )


# --- stations -----------------------------------------------------------------------------


def nearest(table: pd.DataFrame, place: str) -> str:
    """Which of the stations around serves best."""
    best = table.iloc[0]
    return (
        f"Of {len(table)} stations around {place}, {best['name']} serves best: "
        f"{from_garden(best['distance_km'], best['height_difference_m'])}"
    )


def from_garden(distance_km: float, height_difference_m: float) -> str:
    """Where a station lies as seen from the garden."""
    away = "less than 1 km away" if distance_km < 0.5 else f"{kilometres(distance_km)} away"
    if np.isnan(height_difference_m):
        return f"{away}, height not known"
    if abs(height_difference_m) < 0.5:
        return f"{away}, at the same height"
    side = "higher" if height_difference_m > 0 else "lower"
    return f"{away}, {metres(height_difference_m)} {side}"


# --- bed trials ---------------------------------------------------------------------------


def bed(layout: pd.DataFrame) -> str:
    """A trial's plan in a sentence, from `lay_out_trial`."""
    names = sorted(set(layout["treatment"]))
    blocks = layout["block"].nunique()
    block = "pairs" if len(names) == 2 else f"blocks of {len(names)}"
    joined = " and ".join(names) if len(names) == 2 else ", ".join(names)
    return f"{blocks} {block} side by side, in random order: {joined}"


def trial(result: xr.Dataset) -> str:
    """What came out of a trial, a clause each treatment, from `trial_result`."""
    against = result.attrs["against"]
    name = _measure(result).name
    clauses = [_compared(result.sel(treatment=n), against) for n in result["treatment"].values]
    return f"{name[0].upper()}{name[1:]}: {'; '.join(clauses)}"


def measured(result: xr.Dataset) -> str:
    """What a trial measured, its unit in brackets, from `trial_result`."""
    return _measure(result).label


def _measure(result: xr.Dataset) -> Measure:
    return measure_of(result.attrs["response_variable"], result.attrs.get("unit"))


def _compared(row: xr.Dataset, against: str) -> str:
    name, gap, low, high = (row[key].item() for key in ("treatment", "difference", "low", "high"))
    if not differs(row):
        return f"{name} and {against} cannot be told apart"
    unit = _measure(row).unit
    return f"{name} {change(gap, unit)} than {against} ({change_range(low, high, unit)})"
