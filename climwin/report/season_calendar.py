"""The rest of a crop's year as iCalendar; a file written later updates the dates."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace

import xarray as xr

from climwin.core.dialect import in_dialect
from climwin.core.formatting import counted, percent
from climwin.core.schema import Units
from climwin.core.wording import capitalized
from climwin.report.ical import Event, to_ical
from climwin.report.sentences_season import (
    NOT_A_FORECAST,
    day_of,
    event_name,
    events_to_come,
    last_worth_starting,
    prefix_of,
    season_title,
)


def season_events(ahead: xr.Dataset) -> list[Event]:
    """Events still to come of a crop, on their likeliest day; the notes say how far it may shift.

    Parameters
    ----------
    ahead : Dataset
        From `outlook`, of one place. Of a crop still to be started it is the last start worth
        advising, and the harvest from it.
    """
    crop = capitalized(ahead.attrs["crop_plural"])
    if "start" in ahead.dims:
        return _start_events(ahead, crop)
    if bool(ahead["has_failed"]):
        return []
    return [
        _event(
            f"{crop}: {_lower(event_name(row, ahead))}", row, prefix_of(row, ahead), _odds(ahead)
        )
        for row in events_to_come(ahead)
        if int(row["seen"])
    ]


def _lower(text: str) -> str:
    return f"{text[0].lower()}{text[1:]}"


def _start_events(ahead: xr.Dataset, crop: str) -> list[Event]:
    number = last_worth_starting(ahead)
    if number is None:
        return []
    last = ahead.isel(start=number)
    day = _date(last["start"])
    note = f"From a later date, a good harvest is much less likely. {_odds(last)}"
    title = f"{crop}: last day to {ahead.attrs['start_verb']}"
    from_it = f"{crop}: first {ahead.attrs['harvest_verb']}, from that day"
    return [
        Event(title=title, date_first=day, date_last=day, note=f"{note}\n{NOT_A_FORECAST}"),
        _event(from_it, last, "harvest", _odds(last)),
    ]


def _event(title: str, row: xr.Dataset, prefix: str, odds: str) -> Event:
    low, middle, high = (row[f"{prefix}_{end}"] for end in ("low", "mid", "high"))
    day = _date(middle)
    days = f"between {day_of(low)} and {day_of(high)}"
    if day_of(low) == day_of(high):
        days = f"on {day_of(low)}"
    note = f"Nine times in ten it comes {days}, if the crop gets that far. {odds}"
    return Event(title=title, date_first=day, date_last=day, note=f"{note}\n{NOT_A_FORECAST}")


def _odds(row: xr.Dataset) -> str:
    return (
        f"A harvest with the weather of {int(row['harvested'])} of "
        f"{counted(int(row['known']), 'past year')}, odds {percent(float(row['odds']))}."
    )


def _date(value: xr.DataArray) -> dt.date:
    date: dt.date = value.values.astype("datetime64[D]").item()
    return date


def season_calendar(ahead: xr.Dataset, *, units: Units = "C") -> bytes:
    """Dates still to come as an iCalendar file; the same outlook gives the same bytes.

    Parameters
    ----------
    ahead : Dataset
        From `outlook`, of one place.
    units : {"C", "F"}
        Whose English it speaks, see `climwin.core.dialect`.
    """
    on = dt.date.fromisoformat(ahead.attrs["on"])
    stamp = dt.datetime(on.year, on.month, on.day, tzinfo=dt.UTC)
    name = season_title(ahead)
    events = [replace(event, note=in_dialect(event.note, units)) for event in season_events(ahead)]
    return to_ical(events, name=name, stamp=stamp)
