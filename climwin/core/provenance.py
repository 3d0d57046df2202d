"""Where a record comes from, and whether it is a scenario: a history shifted to another level.

A scenario is labelled twice. The attribute ``scenario`` is for people and files. The coordinate
``scenario`` travels with the numbers themselves, through every later step.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

import numpy as np

from climwin.core.errors import InputError, Parameter
from climwin.core.formatting import plain, signed
from climwin.core.schema import VARIABLES, Units, difference_from_celsius, variable
from climwin.core.wording import MONTHS

if TYPE_CHECKING:
    import xarray as xr

SCENARIO = "scenario"
CLIMATE = "climate"
"""Attribute of a record, and of its results, that says whether its years were moved to today's
level."""
LEVEL_ERROR = "todays_error_c"
"""Attribute of such a record: standard error of today's level. [degC]"""
COMPARED = "compared_stations"
"""Attribute of a record that was compared with its neighbours: their names, see `adjust_breaks`."""
CHANGES_TAKEN_OFF = "changes_taken_off"
"""Attribute of such a record: the changes that were accepted and corrected, see `adjust_breaks`."""
CHANGES_LEFT = "changes_left_in"
"""Attribute of such a record: the changes that were left in."""

_TEMPERATURES = tuple(name for name, kind in VARIABLES.items() if kind.units == "degC")
_CARRIED = (
    "title",
    "station_name",
    "source",
    "credit",
    "licence",
    "changes",
    "warmed_by_c",
    CLIMATE,
    "climate_note",
    "todays_tmin_shift_c",
    "todays_tmax_shift_c",
    LEVEL_ERROR,
)


def warm_by(daily: xr.Dataset, by: float | Sequence[float]) -> xr.Dataset:
    """The same history with its temperatures shifted, labelled as a scenario.

    Parameters
    ----------
    daily : Dataset, dims (..., time)
        An observed record.
    by : float or sequence of 12 float
        How much warmer (negative for colder), all year or by calendar month from January. [degC]

    Returns
    -------
    Dataset, as `daily`
        Temperatures are shifted, including those that were set aside; precipitation and quality
        flags are unchanged. The attributes and the coordinate ``scenario`` say what it is.

    Raises
    ------
    ValueError
        If `by` is neither one number nor twelve, or the record has no temperature or is a scenario
        already.

    Notes
    -----
    This is past weather at another level, not a forecast. A warmer climate may also change the
    length of spells, the difference between day and night, and rain; none of that is shown. Monthly
    shifts jump at the end of a month.

    Examples
    --------
    >>> import climwin as cw
    >>> daily = cw.read_daily(cw.sample())
    >>> warmer = cw.warm_by(daily, 2.0)
    >>> round(float((warmer["tmin"] - daily["tmin"]).mean()), 3)
    2.0
    """
    import xarray as xr

    shift = np.asarray(by, float)
    _check(daily, shift)
    label = _label(shift)
    month = np.asarray(daily["time"]).astype("datetime64[M]").astype(int) % 12
    added = xr.DataArray(np.broadcast_to(shift, 12)[month], dims="time")
    out = daily.assign_coords({SCENARIO: label})
    for name in _TEMPERATURES:
        if name not in daily:
            continue
        variable(daily, name)  # checks the unit
        for each in (name, f"{name}_set_aside"):
            if each in daily:
                out[each] = (out[each] + added).transpose(*daily[each].dims)
                out[each].attrs = daily[each].attrs
    facts = _texts_with_scenario(daily, label)
    return out.assign_attrs({**facts, SCENARIO: label, "warmed_by_c": shift.tolist()})


def _texts_with_scenario(daily: xr.Dataset, label: str) -> dict[str, str]:
    """Title, history and changes of the record, with the scenario added."""
    noted = with_note(daily, f"temperatures shifted: {label}").attrs
    title = ": ".join(filter(None, (daily.attrs.get("title"), label)))
    return {"title": title, "history": noted["history"], "changes": noted["changes"]}


def _check(daily: xr.Dataset, shift: np.ndarray) -> None:
    if shift.shape not in ((), (12,)) or not np.isfinite(shift).all():
        msg = f" is one number of degC, or twelve from January to December, got {shift.tolist()}."
        raise InputError(Parameter("by"), msg)
    if not any(name in daily for name in _TEMPERATURES):
        msg = f"The record has no temperature to shift: none of {', '.join(_TEMPERATURES)}."
        raise InputError(msg)
    if label := scenario_of(daily):
        msg = f"The record is a scenario already ({label}). Shift the observed record instead."
        raise InputError(msg)


def _label(shift: np.ndarray) -> str:
    if not shift.ndim:
        return (
            f"what if it were {plain(abs(float(shift)))} degC {'colder' if shift < 0 else 'warmer'}"
        )
    months = ", ".join(f"{name} {signed(by, None)}" for name, by in zip(MONTHS, shift, strict=True))
    return f"what if it were warmer by month, in degC: {months}"


# --- the label ----------------------------------------------------------------------------


def scenario_in(label: str, units: Units) -> str:
    """A scenario's label in the reader's units; a label by month stays in degC, and says so.

    Examples
    --------
    >>> scenario_in("what if it were 1.5 degC warmer", "F")
    'what if it were 2.7 degF warmer'
    >>> scenario_in("what if it were 1.5 degC warmer", "C")
    'what if it were 1.5 degC warmer'
    """
    one = re.fullmatch(r"(.* )(\S+) degC (colder|warmer)", label)
    if units == "C" or one is None:
        return label
    by = difference_from_celsius(float(one[2]), units)
    return f"{one[1]}{plain(round(by, 1))} degF {one[3]}"


def scenario_of(record: xr.Dataset | xr.DataArray) -> str:
    """The scenario of a record or a result, in words; empty for observations.

    Raises
    ------
    ValueError
        If its labels show a mix of scenarios, or of a scenario and observations.
    """
    import xarray as xr

    # Observations have no label; an empty one stands for them here.
    labels = np.unique(record.coords[SCENARIO]).tolist() if SCENARIO in record.coords else [""]
    attribute = record.attrs.get(SCENARIO, "") if isinstance(record, xr.Dataset) else labels[0]
    if labels != [attribute]:
        kinds = " and ".join(repr(each or "observed") for each in sorted({*labels, attribute}))
        msg = (
            f"A scenario and what was observed are mixed here: {kinds}. Keep them apart; a record "
            "put together by hand needs the attributes of the record it came from."
        )
        raise InputError(msg)
    return str(attribute)


def check_alike(*records: xr.Dataset) -> None:
    """Refuse to combine records that are not all observed, or all of the same scenario.

    Raises
    ------
    ValueError
        The message says what each of them is.
    """
    kinds = list(dict.fromkeys(scenario_of(record) or "observed" for record in records))
    if len(kinds) > 1:
        msg = f"Records of different kinds are not combined: {' and '.join(map(repr, kinds))}."
        raise InputError(msg)


def provenance(record: xr.Dataset | xr.DataArray) -> dict[str, Any]:
    """Attributes of a record that all its results carry: where it is from, and its scenario.

    Raises
    ------
    ValueError
        If its labels show a mix of a scenario and observations.
    """
    carried = {key: record.attrs[key] for key in _CARRIED if key in record.attrs}
    label = scenario_of(record)
    return carried | ({SCENARIO: label} if label else {})


def year_range(record: xr.Dataset | xr.DataArray) -> dict[str, int]:
    """First and last year of a record, as attributes of a result that has no years of its own."""
    years = record["time"].dt.year.values
    return {"first_year": int(years.min()), "last_year": int(years.max())}


def climate_of(record: xr.Dataset | xr.DataArray) -> str:
    """Climate of a record or a result: ``"today"`` if its years were moved, else ``"record"``.

    See `climwin.climate.level.todays_climate`.
    """
    return str(record.attrs.get(CLIMATE, "record"))


def level_error_of(record: xr.Dataset | xr.DataArray) -> float:
    """Standard error of the level that a record's years were moved to; 0 if they were not. [degC]

    See `climwin.climate.level.todays_climate`.
    """
    return float(record.attrs.get(LEVEL_ERROR, 0.0))


def with_note(record: xr.Dataset, text: str) -> xr.Dataset:
    """The record with a note on what was done to it, in its ``history`` and its ``changes``."""
    history = "\n".join(filter(None, (record.attrs.get("history"), text)))
    changes = "; ".join(filter(None, (record.attrs.get("changes"), text)))
    return record.assign_attrs(history=history, changes=changes)
