"""The reader's own English: British with degrees Celsius, American with Fahrenheit.

Sentences are written once, with "5 March" and "freeze". A British reader says frost for a night
below freezing; an American writes "March 5". What was done with a record is written once as well,
in degC and metres.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable
from typing import TYPE_CHECKING, Any, overload

from climwin.core.formatting import FOOT_M, height, plain, signed
from climwin.core.schema import Units, check_choice, difference_from_celsius

if TYPE_CHECKING:
    import pandas as pd
    from matplotlib.figure import Figure

_MONTHS = (
    "January|February|March|April|May|June|July|August|September|October|November|December|"
    "Jan|Feb|Mar|Apr|Jun|Jul|Aug|Sep|Oct|Nov|Dec"
)
_DATE = re.compile(
    rf"(?<![\w.,-])(\d{{1,2}}(?:\N{{EN DASH}}\d{{1,2}})?)(\s|&nbsp;)({_MONTHS})\b"
    r"(?:\s((?:18|19|20)\d\d)\b)?"
)
_FREEZE = re.compile(r"(?<![\w/\\.])([Ff])reeze(s?)(?![\w/\\]|\.\w)")  # not in a file's name

_BLANK = r"(?:\s|&nbsp;)+"
_DEGREES_C = re.compile(rf"([-+\N{{MINUS SIGN}}]?\d+(?:\.\d+)?)({_BLANK})(°|deg)C")
_SHIFT = re.compile(rf"(?:what if it were|nights by|days by){_BLANK}{_DEGREES_C.pattern}")
_LAPSE = re.compile(
    rf"(?:(?:minimum |maximum |mean )?{_DEGREES_C.pattern},?{_BLANK})+"
    rf"colder{_BLANK}for{_BLANK}each{_BLANK}1000{_BLANK}m\b"
)
_HEIGHT = re.compile(
    rf"([\d,]+){_BLANK}m(?={_BLANK}(?:above|below){_BLANK}the{_BLANK}station)"
    rf"|(?<=that of the station is taken, )([\d,]+){_BLANK}m\b"
)


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


@overload
def in_dialect(shown: str, units: Units, *, verbatim: Iterable[str] = ()) -> str: ...  # type: ignore[overload-overlap]  # str is also an iterable of str
@overload
def in_dialect(
    shown: pd.DataFrame, units: Units, *, verbatim: Iterable[str] = ()
) -> pd.DataFrame: ...
@overload
def in_dialect(shown: Figure, units: Units, *, verbatim: Iterable[str] = ()) -> Figure: ...
@overload
def in_dialect(
    shown: Iterable[str], units: Units, *, verbatim: Iterable[str] = ()
) -> list[str]: ...
def in_dialect(shown: Any, units: Units, *, verbatim: Iterable[str] = ()) -> Any:
    """What is shown, in the English of a reader of these units.

    Parameters
    ----------
    shown : str, iterable of str, DataFrame or Figure
        A text, lines of text, a table or a picture, as it is written for everyone.
    units : {"C", "F"}
        The units that the reader chose.
    verbatim : iterable of str
        What the reader typed (names, files, dates), which is repeated unchanged.

    Returns
    -------
    str, list of str, DataFrame or Figure
        Of the same kind; lines come as a list. A picture is changed in place.

    Raises
    ------
    ValueError
        If the units are neither.

    Examples
    --------
    >>> import climwin as cw
    >>> cw.in_dialect("The last freeze is on 5 May.", "C")
    'The last frost is on 5 May.'
    >>> cw.in_dialect(["Freezes end by 5 May.", "Sow on 9 May."], "F")
    ['Freezes end by May 5.', 'Sow on May 9.']
    """
    check_choice("units", units, ("C", "F"))
    if isinstance(shown, str):
        return _turned_except(shown, units, verbatim)
    kept = list(verbatim)

    def turned(text: Any) -> Any:
        return _turned_except(text, units, kept) if isinstance(text, str) else text

    # Told apart by their attributes, so that a text loads neither pandas nor matplotlib.
    if hasattr(shown, "findobj"):
        return _picture(shown, turned)
    if hasattr(shown, "columns"):
        return _table(shown, turned)
    return [turned(line) for line in shown]


def _picture(figure: Figure, turned: Callable[[str], str]) -> Figure:
    """A figure whose texts are turned, in place."""
    from matplotlib.text import Text

    for text in figure.findobj(Text):
        assert isinstance(text, Text)
        text.set_text(turned(text.get_text()))
    for axis in (each for ax in figure.axes for each in (ax.xaxis, ax.yaxis)):
        for is_minor in (False, True):  # names of ticks are written anew whenever it is drawn
            names = [label.get_text() for label in axis.get_ticklabels(minor=is_minor)]
            if [turned(name) for name in names] != names:
                axis.set_ticklabels([turned(name) for name in names], minor=is_minor)
    return figure


def _table(table: pd.DataFrame, turned: Callable[[Any], Any]) -> pd.DataFrame:
    """A copy of a table: its cells, its heads and the names of its rows turned."""
    shown = table.map(turned).rename(index=turned, columns=turned)
    return shown.rename_axis(
        index=[turned(name) for name in table.index.names],
        columns=[turned(name) for name in table.columns.names],
    )


def _turned_except(text: str, units: Units, verbatim: Iterable[str]) -> str:
    """A text in the reader's English, except for the parts in `verbatim`."""
    own = sorted({each for each in verbatim if _turned(each, units) != each}, key=len, reverse=True)
    if not own:
        return _turned(text, units)
    parts = re.split(f"({'|'.join(map(re.escape, own))})", text)
    return "".join(part if n % 2 else _turned(part, units) for n, part in enumerate(parts))


def _turned(text: str, units: Units) -> str:
    if units == "C":
        return _FREEZE.sub(r"\1rost\2", text)
    return _american_units(american_dates(text))


# --- what was done with a record ----------------------------------------------------------


def _american_units(text: str) -> str:
    """Text whose sentences on how a record was moved or shifted are in degF and feet."""
    if "C" not in text and " m" not in text:
        return text
    text = _LAPSE.sub(_by_1000_ft, text)
    text = _SHIFT.sub(lambda found: _DEGREES_C.sub(_difference_f, found[0]), text)
    return _HEIGHT.sub(_in_feet, text)


def _difference_f(found: re.Match[str]) -> str:
    text, blank, sign = found.groups()
    value = difference_from_celsius(float(text.replace("\N{MINUS SIGN}", "-")), "F")
    shown = signed(value, 1) if text[0] in "+-\N{MINUS SIGN}" else plain(round(value, 1))
    return f"{shown}{blank}{sign}F"


def _by_1000_ft(found: re.Match[str]) -> str:
    """A lapse rate by 1000 m as one by 1000 ft."""

    def rate(each: re.Match[str]) -> str:
        by_feet = difference_from_celsius(float(each[1]) * FOOT_M, "F")
        return f"{plain(round(by_feet, 1))}{each[2]}{each[3]}F"

    rates, _, _ = _DEGREES_C.sub(rate, found[0]).rpartition("1000")
    return f"{rates}1,000 ft"


def _in_feet(found: re.Match[str]) -> str:
    metres = found[1] or found[2]
    return height(float(metres.replace(",", "")), "F")
