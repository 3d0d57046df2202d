"""Changes of a station in words: which station's, how sure, and the effect of correcting them."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import xarray as xr

from climwin.climate.freeze import freeze_odds
from climwin.climate.homogeneity import OF_RECORD, UNTOLD, Brief, changes_of
from climwin.core.errors import DataGapError
from climwin.core.formatting import date, difference
from climwin.core.provenance import CHANGES_LEFT, CHANGES_TAKEN_OFF, COMPARED
from climwin.core.schema import Units
from climwin.core.wording import MONTHS

_TIMES = {"tmin": "nights", "tmax": "days"}
_ODDS = {0.5: "one year in two", 0.1: "one year in ten"}


def station_changes(breaks: xr.Dataset, units: Units = "C") -> list[str]:
    """The changes of a record and its neighbours, a numbered line each.

    Parameters
    ----------
    breaks : Dataset, dims (change)
        From `pairwise_breaks`.
    units : {"C", "F"}
        Of the temperatures said.

    Examples
    --------
    >>> import climwin as cw
    >>> valley = cw.read_daily(cw.sample())
    >>> hill = cw.read_daily(cw.sample("pellbrook_hill.csv"))
    >>> cw.station_changes(cw.pairwise_breaks(valley, {"the hill": hill}))
    ['All pairs of the record and its neighbours (the hill): no change of any of them shows.']
    """
    several = f"All pairs of the record and its neighbours ({breaks.attrs['neighbours']})"
    if not breaks.sizes["change"]:
        return [f"{several}: no change of any of them shows."]
    lines = [_line(breaks.sel(change=number), units) for number in breaks["change"].values]
    return [f"{several}:", *(f"  {line}" for line in lines)]


def _line(change: xr.Dataset, units: Units) -> str:
    size, low, high = (float(change[f"size{end}"]) for end in ("", "_low", "_high"))
    reach = (high - low) / 2
    warmer = "warmer" if size > 0 else "colder"
    by = f"{difference(abs(size), units)} {warmer}, give or take {difference(reach, units)}"
    first, last = _month(change["first"]), _month(change["last"])
    if change["kind"].item() == "drift":
        what = f"a drift from {first} to {last}, {by} in all"
    else:
        early, late = _month(change["first_low"]), _month(change["first_high"])
        doubts = [] if early == late else [f"the month lies between {early} and {late}"]
        if change["kind"].item() == "step or drift":
            doubts.append("a slow drift would fit nearly as well")
        what = f"{by} from {first} on" + (f" ({'; '.join(doubts)})" if doubts else "")
    return f"{int(change['change'])}: {_TIMES[change['variable'].item()]} {what}. {_whose(change)}"


def _whose(change: xr.Dataset) -> str:
    whose = str(change["whose"].item())
    if UNTOLD in whose:
        one, other = (_named(name) for name in whose.split(UNTOLD, 1))
        return f"Either {one} or {other} changed: the other pairs do not show which."
    # The difference in which it is most marked shows it too.
    shown, others = int(change["shown"]) + 1, int(change["others"]) + 1
    return f"It was {_named(whose)} that changed: {shown} of its {others} pairs show it."


def _named(name: str) -> str:
    return "the record" if name == OF_RECORD else name


def _month(when: xr.DataArray) -> str:
    """Month and year."""
    return _named_month(str(when.values)[:7])


def _named_month(text: str) -> str:
    year, month = text.split("-")
    return f"{MONTHS[int(month) - 1]} {year}"


def compared(daily: xr.Dataset, units: Units = "C") -> str:
    """Changes found by comparing a record with its neighbours, and whether they were corrected.

    Empty where the record was not compared.

    Parameters
    ----------
    daily : Dataset, dims (time)
        From `adjust_breaks`, or any other record.
    units : {"C", "F"}
        Of the temperatures said.
    """
    stations = str(daily.attrs.get(COMPARED, ""))
    if not stations:
        return ""
    taken_off, left = (changes_of(daily, key) for key in (CHANGES_TAKEN_OFF, CHANGES_LEFT))
    against = f"Compared with its neighbours ({stations}), the record"
    if not taken_off and not left:
        return f"{against} shows no change of its own."
    texts = []
    if left:
        texts.append(
            f"{against} changes: {_listed_changes(left, units)}. Its older years are as they were "
            "read. Look for a reason, such as a move of the station, before you trust them."
        )
    if taken_off:
        again = "The record" if left else against
        texts.append(
            f"{again} changed: {_listed_changes(taken_off, units)}. This was taken off by hand: "
            "the older years stand at the latest level."
        )
    return " ".join(texts)


def _listed_changes(changes: Sequence[Brief], units: Units) -> str:
    return ", ".join(_briefly(change, units) for change in changes)


def _briefly(change: Brief, units: Units) -> str:
    warmer = "warmer" if change.size > 0 else "colder"
    by = f"{_TIMES[change.variable]} {difference(abs(change.size), units)} {warmer}"
    first, last = _named_month(change.first), _named_month(change.last)
    when = f"little by little from {first} to {last}"
    if change.kind == "step":
        when = f"from {first} on"
    doubt = "" if change.whose == OF_RECORD else " (unless it was a neighbour that changed)"
    return f"{by} {when}{doubt}"


def effect_of_adjusting(daily: xr.Dataset, adjusted: xr.Dataset) -> str:
    """Effect of correcting changes on the odds of freezes.

    Parameters
    ----------
    daily, adjusted : Dataset, dims (time)
        The record as read, and from `adjust_breaks`.
    """
    try:
        before, after = (freeze_odds(record) for record in (daily, adjusted))
    except DataGapError:
        return "Whether the odds of freezes change cannot be told: too few years are known."
    pieces = []
    for name, side in (
        ("last_spring", "the last spring freeze comes on or after"),
        ("first_autumn", "the first autumn freeze comes on or before"),
    ):
        dates = []
        for odds, words in _ODDS.items():
            was, now = (
                float(each[name].sel(odds=odds, method="nearest")) for each in (before, after)
            )
            if np.isfinite(was) and np.isfinite(now):
                dates.append(f"{date(now)} in {words} (as read: {date(was)})")
        if dates:
            pieces.append(f"{side} {' and '.join(dates)}")
    if not pieces:
        return "The odds of freezes stay as they were: there are hardly any."
    return f"With these changes taken off, {'; '.join(pieces)}."
