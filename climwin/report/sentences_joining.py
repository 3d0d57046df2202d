"""Sentences on a record joined from several stations, and on neighbours whose days are shifted."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import xarray as xr

from climwin.climate.joining import LEAST_CORRELATION, day_shift, name_of
from climwin.core.errors import DataGapError
from climwin.core.formatting import counted, fixed, number, percent, signed
from climwin.core.schema import MEASURED_SOURCE
from climwin.report.sentences import years

MEASURED_SHARE = 0.9
"""Share of its days that a year must have measured to be called measured (common practice)."""

_EXTREMES = {"tmin": "minimum", "tmax": "maximum"}


def joined(daily: xr.Dataset) -> str:
    """How many years of a joined record were measured, and how many are filled and from where.

    Empty where no station was joined, or none covers a missing day.

    Parameters
    ----------
    daily : Dataset, dims (time)
        From `join_stations`, or any other record.
    """
    names = [name for name in _EXTREMES if f"{name}_source" in daily]
    if not names:
        return ""
    source: np.ndarray = np.stack([daily[f"{name}_source"].values for name in names])
    year = np.asarray(daily["time"].dt.year)
    is_filled = source.max(axis=0) > MEASURED_SOURCE
    is_measured = (source.min(axis=0) == MEASURED_SOURCE) & ~is_filled
    if not is_filled.any():
        return ""
    every = np.unique(year)
    filled_years = [
        each
        for each in every
        if is_measured[year == each].mean() < MEASURED_SHARE and is_filled[year == each].any()
    ]
    stations = str(daily.attrs.get("joined_stations", "stations nearby"))
    days = counted(int(is_filled.sum()), "day")
    measured = len(every) - len(filled_years)
    if filled_years:
        return f"{years(measured)} measured, {len(filled_years)} filled from {stations} ({days})."
    return f"{years(measured)} measured; {days} filled from {stations}."


def days_beside(daily: xr.Dataset, neighbour: xr.Dataset) -> str:
    """Whether a neighbour's days go with a record's own or are a day off, and what it means."""
    name = name_of(neighbour)
    try:
        found = day_shift(daily, neighbour)
    except DataGapError as error:
        return f"A shift by a day cannot be detected. {error}"
    shifts = {
        str(each): found["shift_days"].sel(variable=each) for each in found["variable"].values
    }
    unknown = [each for each, shift in shifts.items() if bool(shift.isnull())]
    if len(unknown) == len(shifts):
        best = float(found["correlation"].max())
        return (
            f"Against {name} a shift by a day cannot be detected: their days have too little in "
            f"common (correlation {fixed(best, 2)}, {fixed(LEAST_CORRELATION, 1)} is needed). "
            "Take a nearer station."
        )
    texts = [
        _shifted(found, each, int(shift))
        for each, shift in shifts.items()
        if shift.values in (1, -1)
    ]
    odd = _odd_years(found)
    if not texts and not odd:
        return f"Against {name} no day is shifted."
    parts = [
        f"Against {name} {'; '.join(texts)}." if texts else "",
        odd and f"Against {name} {odd}.",
    ]
    return " ".join([*filter(None, parts), _meaning(shifts)])


def _shifted(found: xr.Dataset, name: str, shift: int) -> str:
    """An extreme that fits better with the day before or after, and by how much."""
    of_lag = found["correlation"].sel(variable=name)
    side = "before" if shift < 0 else "after"
    return (
        f"the {_EXTREMES[name]} fits the day {side} better than the same day (correlation "
        f"{fixed(float(of_lag.sel(lag=shift)), 2)} against {fixed(float(of_lag.sel(lag=0)), 2)})"
    )


def _odd_years(found: xr.Dataset) -> str:
    """Years whose days fit otherwise than those of the whole record."""
    texts = []
    for each in found["variable"].values:
        of_year = found["shift_of_year"].sel(variable=each)
        usual = float(found["shift_days"].sel(variable=each))
        odd = of_year["year"].values[(of_year.notnull() & (of_year != usual)).values]
        if len(odd) and np.isfinite(usual):
            listed = ", ".join(str(int(year)) for year in odd[:5])
            more = f" and {number(len(odd) - 5)} more" if len(odd) > 5 else ""
            texts.append(f"the {_EXTREMES[str(each)]} is shifted otherwise in {listed}{more}")
    return "; ".join(texts)


def _meaning(shifts: dict[str, xr.DataArray]) -> str:
    """Possible cause of a shift, and what to do."""
    own = {name: float(shift) for name, shift in shifts.items()}
    late_alone = own.get("tmax") in (-1.0, 1.0) and own.get("tmin") == 0.0
    if late_alone:
        later = "this record" if own["tmax"] < 0 else "the neighbour"
        return (
            f"So {later} may be read in the morning, when the maximum is that of the day before. "
            "A third station shows which of the two is shifted."
        )
    return (
        "One of the two may be dated a day late, or read in the morning; over some hundred "
        "kilometres the weather itself takes a day. A third, nearer station shows which."
    )


def rated_table(rated: xr.Dataset) -> str:
    """Neighbours and how well each estimates a record's days, as lines of a table.

    Parameters
    ----------
    rated : Dataset, dims (variable, neighbour)
        From `rate_neighbours`.
    """
    rows = []
    for place, station in enumerate(rated["neighbour"].values):
        one = rated.isel(neighbour=place)
        row = {
            "": str(station),
            "name": one["name"].item(),
            "km": _or_unknown(one["distance_km"], fixed),
            "higher_m": _or_unknown(one["height_difference_m"], signed),
        }
        for name in rated["variable"].values:
            of_extreme = one.sel(variable=name)
            row[f"{name} error"] = _or_unknown(of_extreme["error"], lambda c: fixed(c, 1))
            row[f"{name} explained"] = _or_unknown(of_extreme["explained"], _explained)
            row[f"{name} shift"] = _or_unknown(of_extreme["shift_days"], signed)
            row[f"{name} weight"] = fixed(float(of_extreme["weight"]), 2)
        rows.append(row)
    return _in_columns(rows)


def _explained(share: float) -> str:
    return percent(max(share, 0.0))


def _or_unknown(value: xr.DataArray, written: Callable[[float], str]) -> str:
    return "?" if bool(value.isnull()) else written(float(value))


def _in_columns(rows: list[dict[str, str]]) -> str:
    """Rows of texts as lines, each column as wide as its longest text."""
    heads = list(rows[0])
    wide = {head: max(len(head), *(len(row[head]) for row in rows)) for head in heads}
    lines = [
        "  ".join(row[head].rjust(wide[head]) for head in heads)
        for row in ({head: head for head in heads}, *rows)
    ]
    return "\n".join(lines)
