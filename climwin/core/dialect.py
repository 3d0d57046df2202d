"""The reader's own English: British with degrees Celsius, American with Fahrenheit.

Sentences are written once, with "5 March" and "freeze". A British reader says frost for a night
below freezing; an American writes "March 5".
"""

from __future__ import annotations

import re
from collections.abc import Iterable

from climwin.core.schema import Units

_MONTHS = (
    "January|February|March|April|May|June|July|August|September|October|November|December|"
    "Jan|Feb|Mar|Apr|Jun|Jul|Aug|Sep|Oct|Nov|Dec"
)
_DATE = re.compile(
    rf"(?<![\w.,-])(\d{{1,2}}(?:\N{{EN DASH}}\d{{1,2}})?)(\s|&nbsp;)({_MONTHS})\b"
    r"(?:\s((?:18|19|20)\d\d)\b)?"
)
_FREEZE = re.compile(r"(?<![\w/\\.])([Ff])reeze(s?)(?![\w/\\]|\.\w)")  # not in a file's name


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


def is_date(text: str) -> bool:
    """Whether a text is a day and its month, and nothing else."""
    return _DATE.fullmatch(text.strip()) is not None


def in_dialect(text: str, units: Units, *, verbatim: Iterable[str] = ()) -> str:
    """Text as a reader who uses these units would write it.

    Parameters
    ----------
    text : str
        As it is written for everyone.
    units : {"C", "F"}
        The units that the reader chose.
    verbatim : iterable of str
        What the reader typed (names, files, dates), which is repeated unchanged.

    Examples
    --------
    >>> in_dialect("The last freeze is on 5 May.", "C"), in_dialect("Freezes end by 5 May.", "F")
    ('The last frost is on 5 May.', 'Freezes end by May 5.')
    """
    own = sorted({each for each in verbatim if _turned(each, units) != each}, key=len, reverse=True)
    if not own:
        return _turned(text, units)
    parts = re.split(f"({'|'.join(map(re.escape, own))})", text)
    return "".join(part if n % 2 else _turned(part, units) for n, part in enumerate(parts))


def _turned(text: str, units: Units) -> str:
    return american_dates(text) if units == "F" else _FREEZE.sub(r"\1rost\2", text)
