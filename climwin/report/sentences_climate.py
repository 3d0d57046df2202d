"""Titles of the figures on climate: the finding of each in a sentence."""

from __future__ import annotations

import numpy as np
import xarray as xr

from climwin.climate.soil import warm_soil_odds
from climwin.climate.trends import CLEAR_P
from climwin.core.formatting import between, counted, degree_days, depth, fixed, number, signed
from climwin.core.schema import TOLERANCE_C, Units, difference_from_celsius, from_celsius
from climwin.core.seasons import DAYS, day_name
from climwin.core.status import NONE
from climwin.crops.model import Crop
from climwin.report.sentences import band, next_years, percent, temperature, years

_NAMES = {
    "tmin": "daily minimum",
    "tmax": "daily maximum",
    "tmean": "daily mean",
    "precip": "daily precipitation",
    "precip_week": "precipitation of a week",
}
"""Growers' names of variables that have a longer long name."""

# --- freezes ------------------------------------------------------------------------------


def degrees(value_c: float, units: Units) -> str:
    """A limit with its tenths, if it has any: ``"4.4 °C"`` is ``"40 °F"``."""
    value = from_celsius(value_c, units)
    off = abs(value - round(value)) > difference_from_celsius(TOLERANCE_C, units) + 1e-9
    return temperature(value_c, units, int(off))


def colder(threshold_c: float, units: Units) -> str:
    """A freeze at or below a threshold, such as ``"28 °F or colder"``."""
    return f"{degrees(threshold_c, units)} or colder"


def freeze_dates_at(odds: xr.Dataset, threshold_c: float, units: Units) -> str:
    """The dates that one year in ten passes, from `freeze_odds` at one threshold."""
    risk = odds.sel(odds=0.1)
    spring, autumn = float(risk["last_spring"]), float(risk["first_autumn"])
    cold = colder(threshold_c, units)
    if np.isnan(spring) and np.isnan(autumn):
        return f"A night of {cold} comes in fewer than one year in ten"
    dates = []
    if not np.isnan(spring):
        dates.append(f"from {day_name(spring)} on")
    if not np.isnan(autumn):
        dates.append(f"in autumn before {day_name(autumn)}")
    return f"Nine years in ten have no night of {cold} {', and nine in ten none '.join(dates)}"


def chance_on(chance: xr.Dataset, day: int, extremes: tuple[int, int]) -> str:
    """How likely a freeze still is from a day of spring on, or is by a day of autumn.

    `chance` is from `freeze_chance`, at one threshold. `extremes` are the coldest and the warmest
    day of the year, which part spring from autumn.
    """
    there = chance.sel(day_of_year=day)
    coldest, warmest = extremes
    is_spring = (day - coldest) % DAYS < (warmest - coldest) % DAYS
    half, when = (
        ("last_spring", "or later in spring")
        if is_spring
        else ("first_autumn", "or earlier in autumn")
    )
    return (
        f"On {day_name(day)} {when}: {percent(float(there[half]))}, likely in "
        f"{next_years(there, f'{half}_')} of the next ten years."
    )


def freeze_trend(spring: xr.Dataset, autumn: xr.Dataset) -> str:
    """Both trends of the freeze dates, from `trend`, side by side."""
    halves = (("Last spring freeze", spring), ("first autumn freeze", autumn))
    return "; ".join(f"{name}: {_way(trend)}" for name, trend in halves)


def _way(trend: xr.Dataset) -> str:
    slope, p = float(trend["slope"]), float(trend["p"])
    if np.isnan(slope):
        return "too few years for a trend"
    if p >= CLEAR_P:
        return "no clear trend"
    change = fixed(abs(slope), int(abs(slope) < 10))
    return f"{change} days a decade {'later' if slope > 0 else 'earlier'}"


def days_at_a_glance(usable: xr.Dataset, crop: Crop, units: Units) -> str:
    """How many days of a typical year suit a crop, from `usable_days`."""
    days = usable["sure"].sum("day_of_year")
    known = days.where((usable["sure"] == usable["possible"]).all("day_of_year"))
    if not bool(known.notnull().any()):
        return f"Days that suit {crop.name}: every year has some that are not known"
    low, high = (int(v) for v in (known.min(), known.max()))
    return (
        f"{int(known.median())} days of a typical year suit {crop.name} "
        f"({band(crop, units)}); the years range from {low} to {high}"
    )


# --- bands --------------------------------------------------------------------------------


def quantity(values: xr.DataArray, units: Units) -> str:
    """Label of an axis: what a variable is, and its unit."""
    unit = f"°{units}" if values.attrs.get("units") == "degC" else values.attrs.get("units", "")
    return f"{_name(values)} ({unit})"


def _name(values: xr.DataArray) -> str:
    name = _NAMES.get(str(values.name)) or str(values.attrs.get("long_name", values.name))
    return f"{name[0].upper()}{name[1:]}"


def usual_range(values: xr.DataArray, units: Units) -> str:
    """Range of half of all days when a variable is highest and lowest; values as shown.

    Parameters
    ----------
    values : DataArray, dims (day_of_year, percentile)
        Bands, with the percentiles 25, 50 and 75.
    units : {"C", "F"}
        Unit of a temperature.
    """
    middle = values.sel(percentile=50)
    if bool(middle.isnull().all()):
        return f"{_name(values)}: too few days for the spread of a year"
    unit = f"°{units}" if values.attrs.get("units") == "degC" else values.attrs["units"]
    ranges = []
    for pick in (middle.idxmax, middle.idxmin):
        day = float(pick("day_of_year"))
        low, high = (float(values.sel(day_of_year=day, percentile=p)) for p in (25, 75))
        ranges.append(f"{between(low, high)} {unit} around {day_name(day)}")
    return f"{_name(values)}: half of all days lie at {ranges[0]}, and at {ranges[1]}"


def hot_hours(hours: xr.DataArray, limit_c: float, units: Units) -> str:
    """Hours above a limit when they are most; bands by percentile."""
    most = hours.sel(percentile=[50, 75]).sum("percentile")
    day = float(most.idxmax("day_of_year"))
    typical, more = (round(float(hours.sel(day_of_year=day, percentile=p))) for p in (50, 75))
    warm = temperature(limit_c, units)
    if not more:
        return f"Hours at {warm} or warmer are rare: on three days of four there are none"
    when, one_in_four = f"Around {day_name(day)}", f"one day in four has {number(more)} or more"
    if not typical:
        return f"{when} most days have no hour at {warm} or warmer; {one_in_four}"
    return f"{when} a typical day has {counted(typical, 'hour')} at {warm} or warmer; {one_in_four}"


def heat(sums: xr.DataArray, base_c: float, need: float | None, units: Units) -> str:
    """When the heat summed up is enough, or how much a season gives; dims (day_of_year, ...).

    Parameters
    ----------
    sums : DataArray, dims (day_of_year, percentile)
        Degree-days summed from the season's first day on, days in the season's order. [degC day]
    base_c : float
        Counted above it. [degC]
    need : float or None
        Degree-days that are asked for. [degC day]
    units : {"C", "F"}
        Unit to tell them in.
    """
    above = f"degree-days above {temperature(base_c, units)}"
    if need is None:
        low, high = (degree_days(float(sums.sel(percentile=p).max()), units) for p in (25, 75))
        return f"Half of all seasons gather {low} to {high} {above}"
    total = f"{degree_days(need, units)} {above}"
    when = [_reached(sums.sel(percentile=p), need) for p in (50, 10)]
    if when[0] is None:
        return f"{total} are not reached in half of all seasons"
    late = "" if when[1] is None else f", by {when[1]} in nine of ten"
    return f"{total} are reached by {when[0]} in half of all seasons{late}"


def _reached(sums: xr.DataArray, need: float) -> str | None:
    enough = np.flatnonzero(sums.values >= need)
    return day_name(float(sums["day_of_year"][enough[0]])) if len(enough) else None


# --- soil and rain ------------------------------------------------------------------------


def warm_soil(dates: xr.Dataset, crop: Crop, depth_m: float, units: Units) -> str:
    """By when the soil is warm enough to sow, from `warm_soil_dates`.

    The date of the middle year is that of `warm_soil_odds`, as in the table beside.
    """
    odds = warm_soil_odds(dates, levels=(0.5,)).isel(odds=0)
    known, middle = int(odds["known"]), float(odds["warm_soil_day"])
    warm = degrees(float(dates.attrs["limit_c"]), units)
    ground = f"Soil {depth(depth_m, units)} down is warm enough for {crop.name} ({warm})"
    if not known:
        return f"{ground} at dates that gaps in the record hide"
    if np.isnan(middle):
        return f"{ground} in fewer than half of {years(known)}"
    never = bool((dates["warm_soil_status"] == NONE).any())
    latest = float(dates["warm_soil_day"].max())
    last = "" if never else f", by {day_name(latest)} in every one"
    return f"{ground} by {day_name(middle)} in half of {years(known)}{last}"


def dry_spells(odds: xr.Dataset) -> str:
    """How often a dry spell comes in a stretch, from `dry_spell_odds`."""
    first, last = (day_name(odds.attrs[f"{end}_day"]) for end in ("first", "last"))
    return (
        f"{odds.attrs['days']} dry days or more in a row between {first} and {last} in "
        f"{int(odds['dry'])} of {years(int(odds['known']))} ({percent(float(odds['share']))})"
    )


# --- scenarios ----------------------------------------------------------------------------


def what_if(observed: xr.Dataset, scenario: xr.Dataset, need_days: int) -> str:
    """How often the mild spell is too short in a scenario, and how often it was; `odds_shorter`."""
    would, was = (int(odds["shorter"]) for odds in (scenario, observed))
    return (
        f"the mild spell would be shorter than {need_days} days in {would} of "
        f"{years(int(scenario['known']))}; it was in {was} of {int(observed['known'])}"
    )


# --- hindcast -----------------------------------------------------------------------------

RULE_NAMES = {
    "count": "count of 30 years",
    "record": "all years, smoothed",
    "today": "moved to the climate of the day",
}
"""Names of the rules of a hindcast, and of its kinds of events."""
_HINDCAST_YEARS = {"record": "years as they were", "today": "years moved to the climate of the day"}
KIND_NAMES = {
    "spring freeze": "last freeze",
    "autumn freeze": "first freeze",
    "freeze-free days": "days between",
    "window": "mild weeks",
    "heat": "heat sums",
    "hot days": "hot days",
    "all": "all together",
}


def hindcast_finding(looked_back: xr.Dataset) -> str:
    """How the odds of earlier years would have done, from `hindcast`."""
    skill = {rule: float(looked_back["skill"].sel(kind="all", rule=rule)) for rule in RULE_NAMES}
    held = float(looked_back["held"].sel(kind="all", rule="today"))
    first, last = looked_back["year"].values[[0, -1]]
    way = "less" if skill["today"] > 0 else "more"
    return (
        f"Asked from {first} to {last}, odds for the climate of the day would have missed by "
        f"{number(abs(skill['today']))} % {way} than a plain count of 30 years; {percent(held)} of "
        "their ranges for the next ten years held"
    )


def hindcast_lines(looked_back: xr.Dataset) -> list[str]:
    """How the odds of earlier years would have done, by kind of event, from `hindcast`."""
    lines = [
        f"{hindcast_finding(looked_back)}.",
        "By kind of event, how much less the odds would have missed by than that count (below 0: "
        "more), and how often their ranges held:",
    ]
    for kind in looked_back["kind"].values.tolist():
        of_kind = looked_back.sel(kind=kind)
        parts = []
        for rule in ("record", "today"):
            found = of_kind.sel(rule=rule)
            skill, low, high = (float(found[f"skill{end}"]) for end in ("", "_low", "_high"))
            sure = f" ({signed(low)} to {signed(high)})" if np.isfinite(low) else ""
            held = percent(float(found["held"]))
            parts.append(f"{_HINDCAST_YEARS[rule]} {signed(skill)} %{sure}, ranges held {held}")
        lines.append(f"  {KIND_NAMES.get(kind, kind)}: {'; '.join(parts)}")
    return lines
