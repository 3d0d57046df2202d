"""A dated plan as iCalendar, for the calendar that people already use."""

from __future__ import annotations

import datetime as dt
import re
import uuid
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache
from typing import Any

import numpy as np
import xarray as xr

from climwin.core.errors import InputError, Parameter
from climwin.core.seasons import date_of, day_name
from climwin.core.wording import capitalized
from climwin.planning.plan import OUTDOORS, PLANTED
from climwin.report.sentences import harvests, interval, years
from climwin.stations.cache import attribution

CAUTION = "Odds describe past years; they are no forecast. Watch the weather before you plant."

_PRODUCT = "-//climwin//dated plan//EN"
_NAMESPACE = uuid.UUID("0b6f2a5e-7c1d-5a43-9a57-5d1f3a0c9e21")  # drawn once, kept for good
_ESCAPES = str.maketrans({"\\": "\\\\", ";": "\\;", ",": "\\,", "\n": "\\n"})
_CONTROL = re.compile(r"[\x00-\x09\x0b-\x1f\x7f-\x9f\u2028\u2029\ud800-\udfff]")


@dataclass(frozen=True, slots=True, kw_only=True)
class Event:
    """Something to do, or to expect, on one day or over several.

    Parameters
    ----------
    title : str
        What it is, in a few words.
    date_first, date_last : date
        Its first day and its last, the same for one day.
    note : str
        What stands behind it, such as the odds; lines may be parted by newlines.
    """

    title: str
    date_first: dt.date
    date_last: dt.date
    note: str = ""

    def __post_init__(self) -> None:
        if not _clean_line(self.title):
            msg = "An event needs a title, got an empty one. Say what is to be done, such as 'Sow'."
            raise InputError(msg)
        if self.date_last < self.date_first:
            msg = (
                f"Event {self.title!r} ends on {self.date_last}, before it begins on "
                f"{self.date_first}. Swap the dates, or give the next year."
            )
            raise InputError(msg)


def plan_events(dated: xr.Dataset, year: int) -> list[Event]:
    """Events of a dated plan that starts in a given year.

    Parameters
    ----------
    dated : Dataset, dims (event)
        From `timetable.plan_dates`, one place; what is to be minded may stand in its ``comment``.
    year : int
        Year of the start.

    Returns
    -------
    list of Event
        What there is to do on its day; what the plants are likely to do in the middle year, the
        notes say how far it may shift. What no year came to is left out.

    Raises
    ------
    ValueError
        If the plan is dated for several places.
    """
    if dated["killed"].dims != ("event",):
        msg = (
            "Events are of the dated plan of one place, got dimensions "
            f"{', '.join(map(str, dated['killed'].dims))}. Choose one station first, with .sel()."
        )
        raise InputError(msg)
    actions = _actions(dated)
    events: list[Event] = []
    for name in map(str, dated["event"].values):
        row = dated.sel(event=name)
        days = np.array([row["begin_day"].item(), row["end_day"].item()])
        if np.isnan(days).any() or at_once(dated, name):
            continue
        first, last = date_of(np.array(year), np.floor(days + 0.5).astype(int)).tolist()
        title = actions.get(name, f"{capitalized(dated.attrs['crop'])}: {name}")
        note = _action_note(row) if name in actions else _stage_note(row)
        minded = dated.attrs.get("comment", "").splitlines()
        doubts = [DOUBTS_NOTED] if events and minded else [f"Caution: {text}" for text in minded]
        note = "\n".join([note, *doubts, attribution(dated)])
        events.append(Event(title=title, date_first=first, date_last=max(first, last), note=note))
    return events


DOUBTS_NOTED = "How far to trust these dates is noted on the first of them."
"""Reference to the doubts, in the notes of all dates but the first."""


def at_once(dated: xr.Dataset, event: str) -> bool:
    """Whether an event falls on the start itself, as the first stage of planted cloves does."""
    if event != "emergence":
        return False
    return bool(dated["begin_day"].sel(event=event) == dated["begin_day"].sel(event="start"))


def _actions(dated: xr.Dataset) -> dict[str, str]:
    """Titles of what the gardener does."""
    crop, cover = dated.attrs["crop"], dated.attrs["cover"]
    if dated.attrs["propagation"] == "perennial":
        return {}
    if str(dated.attrs["plan"]).startswith("bought"):
        return {"start": f"Set out {crop}"}
    where = "in place" if cover == OUTDOORS else f"in the {cover}"
    does = "Plant" if dated.attrs["propagation"] in PLANTED else "Sow"
    return {"start": f"{does} {crop} {where}", "set out": f"Set out {crop}"}


def _action_note(row: xr.Dataset) -> str:
    return (
        f"From this start: a harvest in {harvests(row)} ({interval(row)} in the long run, nine "
        f"chances in ten), a good one in {int(row['good'])}."
    )


def _stage_note(row: xr.Dataset) -> str:
    first, last = (float(row[name]) for name in ("begin_first", "begin_last"))
    return (
        f"In 8 years of 10 it begins between {day_name(first)} and {day_name(last)}; "
        f"{years(int(row['seen']))} came so far.\n"
        f"Cold ended it at this stage in {int(row['killed'])} of {years(int(row['known']))}."
    )


def to_ical(events: Sequence[Event], *, name: str, stamp: dt.datetime) -> bytes:
    """All-day events as an iCalendar file.

    Parameters
    ----------
    events : sequence of Event
        In any order.
    name : str
        What to call the calendar, such as the garden and the crop.
    stamp : datetime
        When the plan was made, with its time zone.

    Returns
    -------
    bytes
        UTF-8 text. The same events give the same bytes; an event keeps its identifier as long as
        its calendar, title and dates stay, so reading the file in again brings its note up to date.

    Raises
    ------
    ValueError
        If `stamp` has no time zone, or the same event is given twice.

    References
    ----------
    .. [1] B. Desruisseaux (ed.), "Internet Calendaring and Scheduling Core Object Specification
       (iCalendar)," RFC 5545, 2009.

    Examples
    --------
    >>> import climwin as cw
    >>> import datetime as dt
    >>> day = dt.date(2027, 4, 10)
    >>> event = cw.Event(title="Sow peas", date_first=day, date_last=day)
    >>> cw.to_ical([event], name="Peas", stamp=dt.datetime(2026, 1, 1, tzinfo=dt.UTC))[:15]
    b'BEGIN:VCALENDAR'
    """
    import icalendar

    if stamp.tzinfo is None:
        msg = f" needs a time zone, got {stamp}. Give datetime.datetime.now(datetime.UTC)."
        raise InputError(Parameter("stamp"), msg)
    text = _text_type()
    calendar = icalendar.Calendar.new(prodid=_PRODUCT, uid=_identifier(name))
    for property_name in (
        "NAME",
        "X-WR-CALNAME",
    ):  # RFC 7986's, and the one that most programs read
        calendar.add(property_name, text(_clean_line(name)))
    seen = set()
    for event in sorted(events, key=lambda each: (each.date_first, each.date_last, each.title)):
        uid = _identifier(name, event.title, str(event.date_first), str(event.date_last))
        if uid in seen:
            msg = (
                f"Event {event.title!r} of {event.date_first} is given twice. Tell them apart by "
                "their titles, such as 'Sow row 1' and 'Sow row 2'."
            )
            raise InputError(msg)
        seen.add(uid)
        component = icalendar.Event.new(
            uid=uid,
            stamp=stamp.astimezone(dt.UTC),
            start=event.date_first,
            end=event.date_last + dt.timedelta(days=1),  # the day after the last: RFC 5545, 3.6.1
            transparency=icalendar.TRANSP.TRANSPARENT,  # a day of sowing leaves the day free
        )
        component.add("SUMMARY", text(_clean_line(event.title)))
        component.add("DESCRIPTION", text("\n".join(filter(None, [_clean(event.note), CAUTION]))))
        calendar.add_component(component)
    return calendar.to_ical()


@cache
def _text_type() -> Any:
    """A TEXT value, escaped letter by letter as RFC 5545, section 3.3.11, requires.

    icalendar's own takes a typed backslash before a capital N for a line break, and does not escape
    the name of a calendar.
    """
    from icalendar import vText

    class Text(vText):
        def to_ical(self) -> bytes:
            return self.translate(_ESCAPES).encode()

    return Text


def _identifier(*parts: str) -> uuid.UUID:
    return uuid.uuid5(_NAMESPACE, "\n".join(map(_clean_line, parts)))


def _clean(text: str) -> str:
    """Text without the control characters that RFC 5545 does not allow; newlines stay."""
    return _CONTROL.sub(" ", text.replace("\r\n", "\n").replace("\r", "\n")).strip()


def _clean_line(text: str) -> str:
    return " ".join(_clean(text).split())
