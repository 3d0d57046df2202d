"""Find breaks of a station and its neighbours in the differences of all pairs.

The difference between two nearby stations cancels the weather that they share. A break at one
station shows in its differences from all neighbours and in no difference of two others, which tells
whose break it is.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from itertools import combinations
from typing import NamedTuple

import numpy as np
import xarray as xr

from climwin.climate.adjust import in_order
from climwin.climate.attribution import Blamed, Measured, Two, find_changes, measure
from climwin.climate.breakpoints import KINDS
from climwin.climate.differences import changes_to_try
from climwin.core.errors import DataGapError, InputError, Parameter
from climwin.core.formatting import signed
from climwin.core.provenance import (
    CHANGES_LEFT,
    CHANGES_TAKEN_OFF,
    COMPARED,
    check_alike,
    provenance,
    with_note,
)
from climwin.core.schema import variable
from climwin.core.stats import LEVEL

DAYS_OF_A_MONTH = 20
"""Least number of common days for a month to count: with 11 or more missing a month has no mean
(WMO, "Guidelines on the Calculation of Climate Normals," No. 1203, 2017; from memory)."""
LEAST_MONTHS = 96
"""Least number of common months for comparing two stations (common practice). [month]"""

_TESTED = ("tmin", "tmax")
_TEMPERATURES = ("tmin", "tmax", "tmean")
_WORDS = {"tmin": "minimum", "tmax": "maximum"}

OF_RECORD = "record"
"""Value of ``whose`` for a change of the record itself."""
_ANY = "any"
UNTOLD = " or "
"""Separator between the names of two stations if it is unknown which of them changed."""


def pairwise_breaks(daily: xr.Dataset, neighbours: Mapping[str, xr.Dataset]) -> xr.Dataset:
    """Find steps and drifts of a record and its neighbours from the differences of all pairs.

    Parameters
    ----------
    daily : Dataset, dims (time)
        The record, with ``tmin``, ``tmax`` or both. [degC]
    neighbours : mapping
        Records of stations nearby, by name. With two neighbours a change can be attributed to a
        station; with three or four, with some certainty.

    Returns
    -------
    Dataset, dims (change)
        Changes, numbered from 1 by variable and date: ``variable``; ``whose``: ``"record"``, a
        neighbour's name, or ``"record or NAME"`` if the differences do not tell; ``kind``:
        ``"step"``, ``"drift"``, or ``"step or drift"`` if neither fits clearly better; ``first``,
        the first month of the new level, between ``first_low`` and ``first_high`` (90 %); for a
        drift, the month at which it begins, and ``last``, the month at which it ends; ``size``,
        later minus earlier, between ``size_low`` and ``size_high`` (90 %) [degC]; ``p``; and
        ``shown``, the number of differences from other stations, of ``others``, that show it too.

    Raises
    ------
    ValueError
        If there is no neighbour, a record has several places or no temperature, or one is a
        scenario.
    DataGapError
        If no neighbour has 96 months in common with the record.

    See Also
    --------
    adjust_breaks : Correct those changes of the record that you accept.
    detect_breakpoints : The most marked step in a record alone, or beside one neighbour.

    Notes
    -----
    This is a pairwise comparison [1]_ of monthly means of daily differences, minus the mean of each
    calendar month. Every change is tried on top of those already known, with noise that may last
    for years; each change takes the noise model that fits best. The most marked one of all
    differences is attributed to the station of which at least half of the other differences show it
    too, and is then allowed for in all of them. A drift is linear over the whole record, from its
    beginning to a date, or from a date to its end. It is called a drift if it fits clearly better
    than a step [2]_; its dates are then known to within some years.

    False alarms, detection rates and the coverage of the intervals are in
    ``tests/quality/BREAKS.md`` and ``BREAKS_DAILY.md``: with neighbours hundreds of kilometres
    away, steps of 0.5 degC are seldom found. A step that hardly shows is found where the scatter
    happens to enlarge it, so its size is too large on average: one of 0.5 degC is then put at twice
    that. A change of all stations at once, such as a new hour of observation, does not show at all.

    References
    ----------
    .. [1] M. J. Menne and C. N. Williams, "Homogenization of temperature series via pairwise
       comparisons," Journal of Climate, vol. 22, pp. 1700-1717, 2009 (from memory).
    .. [2] R. E. Kass and A. E. Raftery, "Bayes factors," Journal of the American Statistical
       Association, vol. 90, pp. 773-795, 1995 (from memory).

    Examples
    --------
    A record that reads 2 degC warmer from July 2008 on, with three neighbours:

    >>> import climwin as cw
    >>> import numpy as np
    >>> daily = cw.read_daily(cw.sample()).sel(time=slice("1996", "2020"))
    >>> rng = np.random.default_rng(1)
    >>> near = {
    ...     name: daily.assign(tmin=daily["tmin"] + rng.normal(0, 2, daily.sizes["time"]))
    ...     for name in ("north", "south", "west")
    ... }
    >>> for each in near.values():
    ...     each["tmin"].attrs = daily["tmin"].attrs
    >>> moved = daily.assign(tmin=daily["tmin"] + 2.0 * (daily["time"] >= np.datetime64("2008-07")))
    >>> moved["tmin"].attrs = daily["tmin"].attrs
    >>> found = cw.pairwise_breaks(moved, near).isel(change=0)
    >>> found["whose"].item(), str(found["first"].values)[:7], found["size"].round(1).item()
    ('record', '2008-07', 2.0)
    """
    names, records = _several(daily, neighbours)
    rows: list[dict[str, object]] = []
    is_compared = False
    for name in [each for each in _TESTED if each in daily]:
        first_month, differences = monthly_differences([each[name] for each in records])
        if not any(0 in two for two in differences):
            continue
        is_compared = True
        months = len(next(iter(differences.values())))
        search = find_changes(differences, changes_to_try(months))
        found = [(measure(search, each), each) for each in search.changes]
        for size, change in sorted(found, key=lambda each: each[0].first):
            rows.append(_row(name, names, first_month, size, change))
    if not is_compared:
        msg = (
            f"No neighbour has {LEAST_MONTHS} months in common with the record. Take neighbours "
            "whose records reach further back."
        )
        raise DataGapError(msg)
    return _table(rows).assign_attrs(provenance(daily) | {"neighbours": ", ".join(names[1:])})


def _several(
    daily: xr.Dataset, neighbours: Mapping[str, xr.Dataset]
) -> tuple[list[str], list[xr.Dataset]]:
    """The record and its neighbours, checked."""
    if not neighbours:
        raise InputError(Parameter("neighbours"), " must name one record or more, got none.")
    check_alike(daily, *neighbours.values())
    names, records = [OF_RECORD, *map(str, neighbours)], [daily, *neighbours.values()]
    tested = [name for name in _TESTED if name in daily]
    if not tested:
        variable(daily, _TESTED[0])
    for label, record in zip(names, records, strict=True):
        for name in tested:
            if set(variable(record, name).dims) != {"time"}:
                msg = (
                    f"The record {label!r} has dimensions "
                    f"{', '.join(map(str, record[name].dims))}. Choose one station first, with "
                    ".sel()."
                )
                raise InputError(msg)
    return names, records


def monthly_differences(
    values: Sequence[xr.DataArray],
) -> tuple[np.datetime64, dict[Two, np.ndarray]]:
    """Monthly differences of each pair of stations, minus the mean of each calendar month.

    Parameters
    ----------
    values : sequence of DataArray, dims (time)
        Daily values of each station, the record's own first. [degC]

    Returns
    -------
    first_month : numpy.datetime64
        First month of the record.
    differences : dict
        By pair, for pairs with at least 96 common months, shape (months,); NaN in months with fewer
        than 20 common days. [degC]
    """
    own = values[0].dropna("time")["time"].values
    first = own[0].astype("datetime64[M]")
    months = int((own[-1].astype("datetime64[M]") - first).astype(int)) + 1
    series = [each.compute().dropna("time") for each in values]
    out: dict[Two, np.ndarray] = {}
    for two in combinations(range(len(series)), 2):
        one, other = (series[place] for place in two)
        difference = one - other  # on the days that both have
        month = (difference["time"].values.astype("datetime64[M]") - first).astype(int)
        within = (month >= 0) & (month < months)
        days = np.bincount(month[within], minlength=months)
        sums = np.bincount(month[within], difference.values[within], minlength=months)
        enough = days >= DAYS_OF_A_MONTH
        if enough.sum() < LEAST_MONTHS:
            continue
        mean = np.where(enough, sums / np.maximum(days, 1), np.nan)
        for calendar in range(12):
            if enough[calendar::12].any():
                mean[calendar::12] -= np.nanmean(mean[calendar::12])
        out[two] = mean
    return first, out


def _row(
    name: str, names: Sequence[str], first_month: np.datetime64, size: Measured, change: Blamed
) -> dict[str, object]:
    """One change, as `pairwise_breaks` lists it."""

    def month(place: int) -> np.datetime64:
        return (first_month + np.timedelta64(place, "M")).astype("datetime64[s]")

    from scipy.special import ndtri

    is_drift = KINDS[change.kind] == "drift"
    reach = float(ndtri(0.5 + LEVEL / 2)) * size.error
    pair = [names[place] for place in change.pair]
    return {
        "variable": name,
        "whose": names[change.station] if change.station >= 0 else UNTOLD.join(pair),
        "kind": KINDS[change.kind],
        "first": month(size.first),
        "first_low": month(size.earliest),
        "first_high": month(size.first if is_drift else size.latest),
        "last": month(size.latest if is_drift else size.first),
        "size": size.size,
        "size_low": size.size - reach,
        "size_high": size.size + reach,
        "p": change.p,
        "shown": change.shown,
        "others": change.others,
    }


_COLUMNS: dict[str, tuple[str, str]] = {
    "variable": ("U4", ""),
    "whose": ("U1", ""),
    "kind": ("U13", ""),
    **dict.fromkeys(("first", "first_low", "first_high", "last"), ("datetime64[s]", "")),
    **dict.fromkeys(("size", "size_low", "size_high"), ("float64", "degC")),
    "p": ("float64", "1"),
    **dict.fromkeys(("shown", "others"), ("int64", "1")),
}


def _table(rows: Sequence[Mapping[str, object]]) -> xr.Dataset:
    """Rows as a Dataset along ``change``, numbered from 1."""
    out = xr.Dataset(coords={"change": np.arange(1, len(rows) + 1)})
    for name, (kind, units) in _COLUMNS.items():
        column = [row[name] for row in rows]
        values = np.array(column) if rows else np.array([], kind)
        out[name] = ("change", values, {"units": units} if units else {})
    return out


def adjust_breaks(daily: xr.Dataset, breaks: xr.Dataset, accept: Sequence[int]) -> xr.Dataset:
    """Correct the changes of a record that you accept, and keep the values as read.

    Parameters
    ----------
    daily : Dataset, dims (time)
        The record.
    breaks : Dataset, dims (change)
        From `pairwise_breaks`.
    accept : sequence of int
        Numbers of the changes to correct, see the coordinate ``change``. None is accepted
        automatically: look for a reason first, such as a note in the station's history. An empty
        sequence corrects nothing, but notes that the record was compared.

    Returns
    -------
    Dataset, as `daily`
        Earlier days moved to the latest level; ``tmean`` moves by the mean of both extremes'
        changes. ``tmin_raw`` and so on have the values as read; ``history`` and ``changes`` say
        what was done. The attributes ``compared_stations``, ``changes_taken_off`` and
        ``changes_left_in`` are written to files, and pages and commands mention them.

    Raises
    ------
    ValueError
        If a number is not in the list, or the change is not the record's own.

    See Also
    --------
    pairwise_breaks : Find the changes.

    Examples
    --------
    >>> import climwin as cw
    >>> import numpy as np
    >>> daily = cw.read_daily(cw.sample()).sel(time=slice("1996", "2020"))
    >>> hill = cw.read_daily(cw.sample("pellbrook_hill.csv"))
    >>> found = cw.pairwise_breaks(daily, {"hill": hill})
    >>> adjusted = cw.adjust_breaks(daily, found, accept=[])
    >>> bool((adjusted["tmin"] == daily["tmin"]).sum() == daily["tmin"].notnull().sum())
    True
    """
    numbers = [int(each) for each in dict.fromkeys(accept)]
    _check_accepted(numbers, breaks)
    chosen = breaks.sel(change=numbers)
    month = daily["time"].values.astype("datetime64[M]")
    shifts = {name: np.zeros(len(month)) for name in _TESTED}
    notes = []
    for number in numbers:
        change = chosen.sel(change=number)
        name = change["variable"].item()
        shifts[name] = shifts[name] + _shift(change, month)
        notes.append(_in_history(change))
    shifts["tmean"] = (shifts["tmin"] + shifts["tmax"]) / 2
    out = daily.copy()
    for name in _TEMPERATURES:
        if name not in daily or not shifts[name].any():
            continue
        raw = variable(daily, name)
        out[f"{name}_raw"] = daily.get(f"{name}_raw", raw).assign_attrs(
            units="degC", long_name=f"{name} as read, before changes were taken off"
        )
        out[name] = raw + xr.DataArray(shifts[name], dims="time")
    out = in_order(out)
    for name in [each for each in _TEMPERATURES if each in daily]:
        out[name].attrs = daily[name].attrs
    if notes:
        against = breaks.attrs.get("neighbours", "neighbours")
        out = with_note(out, f"{'; '.join(notes)}; found against {against}, accepted by hand")
    return _with_comparison(out, breaks, numbers)


def _with_comparison(record: xr.Dataset, breaks: xr.Dataset, accepted: Sequence[int]) -> xr.Dataset:
    """The record with the stations it was compared with, and its corrected and other changes."""
    own = _own_changes(breaks)
    attrs = {COMPARED: str(breaks.attrs.get("neighbours", ""))}
    for key, numbers in (
        (CHANGES_TAKEN_OFF, list(accepted)),
        (CHANGES_LEFT, [number for number in own if number not in accepted]),
    ):
        # Earlier corrections remain listed.
        before = [record.attrs[key]] if key == CHANGES_TAKEN_OFF and key in record.attrs else []
        attrs[key] = "; ".join([*before, *(_in_brief(breaks.sel(change=n)) for n in numbers)])
    told = {key: text for key, text in attrs.items() if text}
    kept = {key: value for key, value in record.attrs.items() if key not in attrs}
    out = record.copy()
    out.attrs = kept | told
    return out


def _own_changes(breaks: xr.Dataset) -> list[int]:
    """Numbers of the changes that are, or may be, the record's own."""
    pairs = zip(breaks["change"].values.tolist(), breaks["whose"].values, strict=True)
    return [int(number) for number, whose in pairs if OF_RECORD in str(whose).split(UNTOLD)]


def _in_brief(change: xr.Dataset) -> str:
    """A change as stored in an attribute, such as ``tmin step 2008-01 2008-01 1.0 record``."""
    first, last = (str(change[each].values)[:7] for each in ("first", "last"))
    kind = "drift" if change["kind"].item() == "drift" else "step"
    size = round(float(change["size"]), 2)
    whose = OF_RECORD if change["whose"].item() == OF_RECORD else _ANY
    return f"{change['variable'].item()} {kind} {first} {last} {size} {whose}"


class Brief(NamedTuple):
    """A change as stored in the attributes of a record."""

    variable: str
    kind: str
    first: str
    """First month of the new level, or of the drift: year-month."""
    last: str
    size: float
    """Later minus earlier. [degC]"""
    whose: str
    """``"record"``, or ``"any"`` if it is unknown which of two stations changed."""


def changes_of(record: xr.Dataset, key: str) -> list[Brief]:
    """The changes in a record's attribute: those corrected, or those left in.

    Text that cannot be read, such as in an edited file, is ignored.
    """
    out = []
    for text in str(record.attrs.get(key, "")).split(";"):
        words = text.split()
        try:
            name, kind, first, last, size, whose = words
            months = [np.datetime64(each, "M") for each in (first, last)]
            brief = Brief(name, kind, str(months[0]), str(months[1]), float(size), whose)
        except ValueError:
            continue
        if name in _TESTED and kind in KINDS and np.isfinite(brief.size):
            out.append(brief)
    return out


def _check_accepted(numbers: Sequence[int], breaks: xr.Dataset) -> None:
    listed = breaks["change"].values.tolist()
    own = _own_changes(breaks)
    for number in numbers:
        if number not in listed:
            there = f"1 to {len(listed)}" if listed else "none, because no change was found"
            msg = f" must be numbers of changes, {there}; got {number}."
            raise InputError(Parameter("accept"), msg)
        if number not in own:
            msg = (
                f" must be changes of the record; change {number} is that of "
                f"{breaks['whose'].sel(change=number).item()}. Leave it out."
            )
            raise InputError(Parameter("accept"), msg)


def _shift(change: xr.Dataset, month: np.ndarray) -> np.ndarray:
    """Correction of each day, given its month, to the latest level. [degC]"""
    first, last = (change[name].values.astype("datetime64[M]") for name in ("first", "last"))
    if change["kind"].item() == "drift":
        risen = np.clip((month - first).astype(float) / float((last - first).astype(int)), 0, 1)
    else:
        risen = (month >= first).astype(float)
    return np.asarray(float(change["size"]) * (1 - risen))


def _in_history(change: xr.Dataset) -> str:
    """A correction in words, for the record's history."""
    name, size = _WORDS[change["variable"].item()], signed(float(change["size"]), 2)
    first, last = (str(change[each].values)[:7] for each in ("first", "last"))
    if change["kind"].item() == "drift":
        return f"{name} adjusted for a drift of {size} degC from {first} to {last}"
    return f"{name} before {first} moved by {size} degC"
