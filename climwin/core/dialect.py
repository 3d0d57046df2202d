"""How a reader's own English has it: British with degrees Celsius, American with Fahrenheit.

Sentences are written once, with "5 March" and "freeze". A British reader says frost for a night
below freezing; an American writes "March 5".
"""

from __future__ import annotations

import re

from climwin.core.schema import Units

_MONTHS = (
    "January|February|March|April|May|June|July|August|September|October|November|December|"
    "Jan|Feb|Mar|Apr|Jun|Jul|Aug|Sep|Oct|Nov|Dec"
)
_DATE = re.compile(
    rf"(?<![\w.,-])(\d{{1,2}}(?:\N{{EN DASH}}\d{{1,2}})?)(\s|&nbsp;)({_MONTHS})\b"
    r"(?:\s((?:18|19|20)\d\d)\b)?"
)
_FREEZE = re.compile(r"\b([Ff])reeze(s?)\b")


def american_dates(text: str) -> str:
    """Text whose dates have the month first.

    Examples
    --------
    >>> american_dates("Sow 5 March, or 3–13 July; lost on 9 May 1985")
    'Sow March 5, or July 3–13; lost on May 9, 1985'
    """  # noqa: RUF002 (the dash of a range)
    return _DATE.sub(_month_first, text)


def _month_first(found: re.Match[str]) -> str:
    days, blank, month, year = found.groups()
    return f"{month}{blank}{days}" + (f", {year}" if year else "")


def in_dialect(text: str, units: Units) -> str:
    """Text as a reader of these units would write it.

    Examples
    --------
    >>> in_dialect("The last freeze is on 5 May.", "C"), in_dialect("Freezes end by 5 May.", "F")
    ('The last frost is on 5 May.', 'Freezes end by May 5.')
    """
    if units == "F":
        return american_dates(text)
    return _FREEZE.sub(r"\1rost\2", text)
