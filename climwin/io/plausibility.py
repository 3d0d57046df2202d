"""Check whether a daily record is plausible: all checks of records, one after another.

A record of air temperature obeys physics and statistics that hold everywhere on land. A record
that departs from them is refused when it is read, or the departure is reported before any result.
"""

from __future__ import annotations

import datetime as dt

import numpy as np
import xarray as xr

from climwin.core.errors import RecordError
from climwin.core.formatting import counted, number
from climwin.core.provenance import SCENARIO
from climwin.core.seasons import MONTH_STARTS, split_dates
from climwin.io.day_relations import day_relations, mixed_days, shared_spells
from climwin.io.day_to_day import day_to_day
from climwin.io.departure import NAMES, Departure, listed_years, merged
from climwin.io.levels import levels_of_place, levels_of_years, two_units
from climwin.io.quality import KINDS, quality_control
from climwin.io.repeats import repeats
from climwin.io.year_grid import YearGrid, year_grids

ASIDE_SHARE = 0.02
"""Share of days set aside above which a record is doubted (clean records: 0.001)."""
WET_DAY_MM = (1.0, 40.0)
"""Least and largest mean of the days with rain: of stations on land it is about 2 to 20 mm (from
memory, of the simple daily intensity index that climatologists map). [mm]"""
WET_DAYS, WET_TIMES = 100, 5.0
"""Least number of wet days for that, a fifth of it in a year; and how many times as large, or as
small, as in the middle year the mean of one year may be (common practice)."""
FEW_DAYS, MOST_MONTHS = 20, 0.5
"""A month with fewer values than this has no mean by the rule of WMO-No. 1203 (2017) that at most
ten days may be missing; and the share of such months, of those with values, from which a record is
doubted."""
LONE_YEARS, LONE_GAP = 2, 20
"""Most years that stand alone at an end of a record, and least number of years without a value
between them and the others, for a mistyped century (common practice). [year]"""
CLUSTER_DAYS, CLUSTER_TIMES = 36, 5
"""A year is doubted if more days than this (a tenth of the year), and this many times as many as in
the median year, were set aside. A month with a stuck sensor is a gap like any other."""


def departures(daily: xr.Dataset, today: dt.date | None = None) -> tuple[Departure, ...]:
    """How a record departs from those of all land stations.

    Parameters
    ----------
    daily : Dataset, dims (time)
        Record of one place, read or checked.
    today : date, optional
        Today's date, to find dates in the future; by default they are not looked for.

    Returns
    -------
    tuple of Departure
        Years of a history that failed the store's checks come first, then what no weather could
        cause.
    """
    read = _measured(daily, as_read=True)
    if not read:
        return ()
    checked = daily if any(f"{name}_flag" in daily for name in NAMES) else quality_control(daily)
    kept = {name: _shared(grid, read[name]) for name, grid in _measured(checked).items()}
    found = [
        *future_dates(daily, today),
        *_lone_years(read),
        *levels_of_years(read),
        *day_relations(read),
        *shared_spells(kept),
        *day_to_day(kept),
        *mixed_days(kept),
        *levels_of_place(kept, _number(daily, "latitude"), _number(daily, "elevation")),
        *repeats(kept),
        *_few_days(kept),
        *_rain(daily),
        *_set_aside(checked),
    ]
    in_order = sorted(merged(found), key=lambda each: not each.refused)
    return (*_doubtful_history(daily), *in_order)


def refuse_departures(name: str, daily: xr.Dataset, today: dt.date | None = None) -> None:
    """Refuse a record that no weather could cause.

    Parameters
    ----------
    name : str
        Name of the file.
    daily, today
        As for `departures`.

    Raises
    ------
    RecordError
        With the evidence, and what to do.
    """
    _refuse(name, [each for each in departures(daily, today) if each.refused])


def refuse_two_units(name: str, daily: xr.Dataset) -> None:
    """Refuse a record whose years are in two units, each judged against the others.

    Raises
    ------
    RecordError
        With the years, how far off they are, and which units they look like.
    """
    found = [each for grid in _measured(daily, as_read=True).values() for each in two_units(grid)]
    _refuse(name, [each for each in merged(found) if each.refused])


def _refuse(name: str, refused: list[Departure]) -> None:
    """Raise one error for all departures that no weather could cause, if there are any."""
    if not refused:
        return
    if len(refused) == 1:
        msg = f"{name} cannot be right: {refused[0].text()}"
        raise RecordError(msg)
    listed = "".join(f"\n- {each.text()}" for each in refused)
    msg = f"{name} cannot be right:{listed}"
    raise RecordError(msg)


def _measured(daily: xr.Dataset, *, as_read: bool = False) -> dict[str, YearGrid]:
    """Measured temperatures on years by days, without a mean derived from the extremes."""
    if not daily.sizes.get("time") or set(daily.sizes) - {"time"}:
        return {}
    names = ["tmin", "tmax"]
    if "tmean" in daily and "derived_from" not in daily["tmean"].attrs:
        names.append("tmean")
    return year_grids(daily, names, as_read=as_read)


def _shared(kept: YearGrid, read: YearGrid) -> YearGrid:
    """The grid as read where nothing was set aside, so that its statistics are made once."""
    return read if np.array_equal(kept.values, read.values, equal_nan=True) else kept


def _number(daily: xr.Dataset, name: str) -> float | None:
    value = daily.attrs.get(name)
    return None if value is None else float(value)


def future_dates(daily: xr.Dataset, today: dt.date | None) -> list[Departure]:
    """Dates that have not come yet; a scenario may have them.

    Parameters
    ----------
    daily, today
        As for `departures`.
    """
    if today is None or SCENARIO in daily.coords:
        return []
    days = np.asarray(daily["time"]).astype("datetime64[D]")
    later = days > np.datetime64(today) + np.timedelta64(1, "D")
    if later.any():
        known = daily[[name for name in NAMES if name in daily]].to_array().notnull()
        later &= known.any("variable").values
    if not later.any():
        return []
    years = tuple(np.unique(split_dates(days[later])[0]).tolist())
    what = (
        f"{number(int(later.sum()))} days lie in the future, from {days[later].min()} to "
        f"{days[later].max()}. A record holds what was measured.",
    )
    advice = "Correct the dates, or leave out what is a forecast."
    return [Departure("future", what, advice, years, refused=True)]


def _lone_years(grids: dict[str, YearGrid]) -> list[Departure]:
    """A year or two at an end of the record, decades from all others."""
    known = np.any([~np.isnan(grid.values).all(axis=1) for grid in grids.values()], axis=0)
    years = next(iter(grids.values())).years[known]
    gaps = np.diff(years)
    ends = [(years[: n + 1], gaps[n], years[n + 1 :]) for n in range(min(LONE_YEARS, len(gaps)))]
    ends += [
        (years[-n - 1 :], gaps[-n - 1], years[: -n - 1]) for n in range(min(LONE_YEARS, len(gaps)))
    ]
    found = []
    for lone, gap, others in ends:
        if gap <= LONE_GAP or len(others) <= LONE_YEARS:
            continue
        what = (
            f"{listed_years(lone)} {'lies' if len(lone) == 1 else 'lie'} {number(gap)} years from "
            f"all others, which run from {others[0]} to {others[-1]}.",
        )
        advice = "Is the year mistyped? Correct it, or leave those days out."
        found.append(Departure("lone years", what, advice, tuple(lone.tolist())))
    return found


def _doubtful_history(daily: xr.Dataset) -> list[Departure]:
    """Years of a downloaded history that failed the checks of the store.

    They come before what the other checks find, because they say what helps: the file is not the
    reader's own, and the provider may have a better one by now.
    """
    years = tuple(int(year) for year in str(daily.attrs.get("years_in_doubt", "")).split())
    if not years:
        return []
    station = daily.attrs["station_id"]
    what = (
        f"{listed_years(years)} of the history of station {station} failed the checks when "
        f"{'it was' if len(years) == 1 else 'they were'} downloaded.",
    )
    advice = (
        f"Download {'that year' if len(years) == 1 else 'those years'} again: "
        f"`climwin store refresh {station} {' '.join(map(str, years))}`."
    )
    return [Departure("doubtful history", what, advice, years)]


def _rain(daily: xr.Dataset) -> list[Departure]:
    """Rain in another unit: all of it, or that of some years."""
    if "precip" not in daily:
        return []
    mm = np.asarray(daily["precip"], float)
    wet = mm > 0
    if wet.sum() < WET_DAYS:
        return []
    advice = "It may be in inches or in tenths of a millimetre: check the unit of the column."
    mean, (least, most) = float(mm[wet].mean()), WET_DAY_MM
    if not least <= mean <= most:
        what = (
            f"a day with rain brings {number(mean, 2)} mm, on average. Elsewhere on land it brings "
            "2 to 20 mm.",
        )
        return [Departure("rain", what, advice)]
    year = split_dates(np.asarray(daily["time"]))[0]
    days = np.bincount(year[wet])
    enough = np.flatnonzero(days >= WET_DAYS / 5)
    by_year = np.bincount(year[wet], mm[wet])[enough] / days[enough]
    if len(by_year) < 3:
        return []
    times = by_year / np.median(by_year)
    years = enough[(times > WET_TIMES) | (times < 1 / WET_TIMES)]
    if not len(years):
        return []
    off = float(times[np.abs(np.log(times)).argmax()])
    what = (
        f"a day with rain in {listed_years(years)} brings {number(off, 2)} times as much as in "
        "other years. Years of one place differ by less than half.",
    )
    return [Departure("rain", what, advice, tuple(years.tolist()))]


def _few_days(grids: dict[str, YearGrid]) -> list[Departure]:
    """A record of single days, such as one of each week."""
    found = []
    for name, grid in grids.items():
        if name not in ("tmin", "tmax"):
            continue
        count = np.add.reduceat((~np.isnan(grid.values)).astype(int), MONTH_STARTS, axis=1)
        few = (count > 0) & (count < FEW_DAYS)
        if few.sum() <= MOST_MONTHS * (count > 0).sum() or few.sum() < 12:
            continue
        typical = int(np.median(count[count > 0]))
        what = (
            f"a month has {counted(typical, 'value')} of {NAMES[name]}, at the median. In a daily "
            "record it has 28 or more, and its mean counts from 20 on.",
        )
        advice = (
            "Days between may have been colder or warmer than any that are there: get the record "
            "of every day."
        )
        found.append(Departure("few days", what, advice, variable=name))
    return found


def _set_aside(checked: xr.Dataset) -> list[Departure]:
    """Variables of which too much was set aside, in all or in one year."""
    year = split_dates(np.asarray(checked["time"]))[0]
    found = []
    for name in NAMES:
        if f"{name}_flag" not in checked:
            continue
        flags = checked[f"{name}_flag"].values
        known = int((~np.isnan(checked[name].values)).sum()) + int((flags > 0).sum())
        count = int((flags > 0).sum())
        if not count:
            continue
        by_year = np.bincount((year - year.min())[flags > 0], minlength=np.ptp(year) + 1)
        usual = max(float(np.median(by_year)), 1.0)
        years = np.flatnonzero(by_year > max(CLUSTER_DAYS, CLUSTER_TIMES * usual)) + year.min()
        if count <= ASIDE_SHARE * known and not len(years):
            continue
        kind = KINDS[int(np.bincount(flags[flags > 0]).argmax()) - 1].replace("_", " ")
        where = f", most of them in {listed_years(years)}" if len(years) else ""
        what = (
            f"{number(count)} of {number(known)} days of {NAMES[name]} cannot be right and were "
            f"set aside ({kind}){where}. In sound records it is at most 1 day in 1000.",
        )
        advice = "What was left out may be the coldest or the warmest days: check the file."
        found.append(Departure("set aside", what, advice, tuple(years.tolist())))
    return found
