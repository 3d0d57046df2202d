"""Tables in text files: columns, numbers and dates as people write them, with line numbers.

Anything that cannot be read is noted as a fault with line and value, and one error reports all
faults of a file.
"""

from __future__ import annotations

import csv
import datetime as dt
import math
import re
from codecs import IncrementalDecoder, getincrementaldecoder
from collections.abc import Callable, Collection, Iterator, Sequence
from functools import partial
from itertools import islice, takewhile
from pathlib import Path
from typing import NamedTuple

import numpy as np

from climwin.core.errors import InputError, Mention, Parameter, RecordError
from climwin.core.formatting import counted
from climwin.core.formatting import number as written
from climwin.io.files import file_size

MAX_BYTES = 200_000_000
"""Largest file that is read; 150 years of all elements of a station take a tenth of it."""
MAX_LINES = 2_000_000
"""Most lines that are read; 200 years of days are 73,050."""
MAX_LINE = 100_000
"""Most characters in a line."""
YEARS = (1700, 2200)
"""Range of years that a date may lie in; anything else is a slip."""

MISSING_WORDS = frozenset(
    {"", "na", "n/a", "nan", "null", "none", "m", "missing", "-", "--", "---"}
)
"""Words that stand for a missing value, in lower case."""
MISSING_NUMBERS = frozenset({-99.0, -99.9, -99.99, -999.0, -999.9, -9999.0})
"""Numbers that stand for a missing value; no air was ever that cold."""
MISSING_MEASUREMENTS = (999.0, 999.9, 9999.0, 9999.9, 99999.0, 32767.0, -32767.0, -32768.0)
"""More of them, among temperatures and rain; a weight or a count may be as large."""

_NUMBER = re.compile(r"[+-]?(\d+\.?\d*|\.\d+)(e[+-]\d{1,3})?", re.ASCII)
"""Software signs an exponent; the e1 of 12.3e1 is a footnote."""
_PLAIN_NUMBER = re.compile(r"-?\d{1,9}(\.\d{1,9})?", re.ASCII)
_YEAR_FIRST = re.compile(r"(\d{4})([-/.])(\d{1,2})\2(\d{1,2})(?:[T ].*)?", re.ASCII)
_YEAR_LAST = re.compile(r"(\d{1,2})([-/.])(\d{1,2})\2(\d{4})(?:[T ].*)?", re.ASCII)
_SHOWN = 3  # faults of each kind that an error lists with their lines
_QUOTED = 60  # characters of a cell that an error shows
_NAMED = 200  # characters of a column's name that are kept
_BLOCK = 1_000_000  # bytes looked at in one go
_COMMENTS = 50  # lines of comments above a table that are read


class Head(NamedTuple):
    """The line that names the columns: their names, what separates them, and its number."""

    names: list[str]
    delimiter: str | None
    line: int


class Fault(NamedTuple):
    """One kind of fault in a file: what, where first, how often, and what to do."""

    what: str
    where: list[str]
    times: int
    advice: str | Sequence[str | Mention]


class Dates(NamedTuple):
    """Days as ``datetime64[D]``, NaT where there is no date.

    `ambiguous` is a date that may be day/month or month/day, if no other date shows which.
    `two_forms` are a date with the year first and one with the year last, if both occur.
    """

    days: np.ndarray
    ambiguous: str | None
    two_forms: tuple[str, str] | None = None


# --- lines and columns --------------------------------------------------------------------


def encoding(path: Path) -> str:
    """Encoding of a text file: UTF-8, or Latin-1 if it is not valid UTF-8.

    Numbers and dates are the same in both; only names such as ``Tmin (°C)`` depend on it.

    Raises
    ------
    RecordError
        If it is not a file, too large, or has zero bytes.
    """
    size = file_size(path)
    if size > MAX_BYTES:
        msg = (
            f"{path.name} has {counted(size, 'byte')}, and at most {written(MAX_BYTES)} "
            "are read. Keep one station and only the columns of date, temperature and "
            "precipitation."
        )
        raise RecordError(msg)
    utf8, known, ends = getincrementaldecoder("utf-8")(), True, 0
    with path.open("rb") as file:
        while block := file.read(_BLOCK):
            if b"\0" in block:
                msg = (
                    f"{path.name} is not plain text in UTF-8: it has zero bytes, as UTF-16 "
                    "('Unicode text') and spreadsheet files do. Save it as 'CSV UTF-8' and read "
                    "that."
                )
                raise RecordError(msg)
            known = known and _fits(utf8, block)
            ends += block.count(b"\n")
    if ends > MAX_LINES:
        msg = (
            f"{path.name} has {counted(ends, 'line')}, and at most {written(MAX_LINES)} are "
            "read. Keep one station, with one line for each day."
        )
        raise RecordError(msg)
    return "utf-8-sig" if known and _fits(utf8, b"", last=True) else "latin-1"


def _fits(decoder: IncrementalDecoder, block: bytes, *, last: bool = False) -> bool:
    """Whether bytes go on as the text that a decoder has read so far."""
    try:
        decoder.decode(block, last)
    except UnicodeDecodeError:
        return False
    return True


def lines(path: Path, coding: str) -> Iterator[tuple[int, str]]:
    """Numbered lines of a text file, without blank ones and comments (#).

    Raises
    ------
    RecordError
        If there are too many, or one is too long.
    """
    with path.open(encoding=coding) as file:
        pieces = iter(partial(file.readline, MAX_LINE + 1), "")
        for number, raw in enumerate(pieces, start=1):
            if number > MAX_LINES or len(raw) > MAX_LINE:
                msg = (
                    f"{path.name}, line {number}: a daily record has fewer than "
                    f"{written(MAX_LINES)} lines, of fewer than {written(MAX_LINE)} characters. "
                    "Keep one station, with one line for each day."
                )
                raise RecordError(msg)
            text = raw.strip("\n")
            if text.strip() and not text.lstrip().startswith("#"):
                yield number, text


def comments(path: Path, coding: str) -> list[str]:
    """Comments above a table: the first lines of a file that begin with #."""
    with path.open(encoding=coding) as file:
        above = takewhile(lambda line: line.startswith("#"), file)
        return [line.strip("#").strip() for line in islice(above, _COMMENTS)]


def head(number: int, text: str) -> Head:
    """Names of the columns, and what separates them: tab, semicolon, comma, or else spaces.

    A name is cut after 200 characters.
    """
    bare = re.sub(r'"[^"]*"', "", text)
    delimiter = next((mark for mark in "\t;," if mark in bare), None)
    return Head([name[:_NAMED] for name in _split(text, delimiter)], delimiter, number)


def _split(text: str, delimiter: str | None) -> list[str]:
    """Cells of a line; with spaces between them if the delimiter is None."""
    if delimiter is None:
        return text.split()
    quoted = '"' in text
    fields = next(csv.reader([text], delimiter=delimiter)) if quoted else text.split(delimiter)
    return [field.strip() for field in fields]


def columns(
    body: Iterator[tuple[int, str]], top: Head, wanted: Collection[int]
) -> tuple[np.ndarray, dict[int, list[str]], list[Fault]]:
    """Cells of the wanted columns of a table, and the line of each row.

    Parameters
    ----------
    body : iterator of (int, str)
        Lines after the header.
    top : Head
        Names and delimiter.
    wanted : collection of int
        Positions of the columns.

    Returns
    -------
    lines : ndarray of int
        One for each row.
    texts : dict of int to list of str
        By position.
    faults : list of Fault
        Rows with too few or too many fields, which are left out.
    """
    numbers: list[int] = []
    texts: dict[int, list[str]] = {position: [] for position in wanted}
    odd: list[str] = []
    width = len(top.names)
    for number, text in body:
        fields = _split(text, top.delimiter)
        if not any(fields):
            continue
        if len(fields) < width or any(fields[width:]):
            odd.append(f"line {number} has {len(fields)}")
            continue
        numbers.append(number)
        for position, column in texts.items():
            column.append(fields[position])
    advice = "Decimal commas need semicolons between the columns; complete truncated lines."
    what = f"lines do not have the {width} fields of the header"
    faults = [Fault(what, odd[:_SHOWN], len(odd), advice)] if odd else []
    return np.array(numbers, dtype=int), texts, faults


def clean_columns(
    path: Path, coding: str, top: Head, wanted: Collection[int]
) -> tuple[np.ndarray, dict[int, list[str]]] | None:
    """The same as `lines` and `columns` for a well-formed table, else None.

    The whole text is split at once instead of line by line. A table is well formed if each line has
    as many fields as the header, the first of them is not empty, and there are no quotes or
    comments.
    """
    width, delimiter = len(top.names), top.delimiter
    if delimiter is None or width < 2:
        return None
    text = path.read_text(encoding=coding).removesuffix("\n")
    text = text.split("\n", top.line)[top.line] if text.count("\n") >= top.line else ""
    if not text or '"' in text or "#" in text:
        return None
    rows = _rows_of_equal_width(text, delimiter, width)
    if rows is None or top.line + rows > MAX_LINES:
        return None
    fields = text.replace("\n", delimiter).split(delimiter)
    if not all(map(str.strip, fields[::width])):
        return None
    texts = {position: list(map(str.strip, fields[position::width])) for position in wanted}
    return np.arange(top.line + 1, top.line + 1 + rows), texts


def _rows_of_equal_width(text: str, delimiter: str, width: int) -> int | None:
    """Number of lines if all have this many fields and none is too long, else None."""
    letters = np.frombuffer(f"{text}\n".encode(), dtype=np.uint8)  # both marks are one byte each
    ends = np.flatnonzero(letters == ord("\n"))
    marks = np.flatnonzero(letters == ord(delimiter))
    if np.diff(ends, prepend=-1).max() > MAX_LINE or len(marks) != len(ends) * (width - 1):
        return None
    of_row = marks.reshape(len(ends), width - 1)
    within = (of_row[:, -1] < ends).all() and (of_row[1:, 0] > ends[:-1]).all()
    return len(ends) if within else None


# --- numbers and dates --------------------------------------------------------------------


def numbers(texts: Sequence[str]) -> tuple[np.ndarray, np.ndarray]:
    """Values of texts, and which of these are not numbers.

    A decimal comma is read as a point. `MISSING_WORDS` and `MISSING_NUMBERS` are missing.

    Returns
    -------
    values : ndarray of float
        NaN where a cell is empty, missing or not a number.
    bad : ndarray of bool
        Where a cell is neither a number nor missing.
    """
    known = {text: _number(text) for text in set(texts)}  # most texts of a record occur many times
    odd = {text for text, value in known.items() if value is None}
    value_of = {text: math.nan if value is None else value for text, value in known.items()}
    values = np.fromiter(map(value_of.__getitem__, texts), dtype=float, count=len(texts))
    bad = np.zeros(len(texts), dtype=bool)
    if odd:
        bad[:] = [text in odd for text in texts]
    return values, bad


def _number(text: str) -> float | None:
    """Value of a cell: NaN where it stands for a missing one, None where it is no number."""
    if _PLAIN_NUMBER.fullmatch(text):  # as nearly all are
        value = float(text)
        return math.nan if value in MISSING_NUMBERS else value
    word = text.strip().lower()
    if word in MISSING_WORDS:
        return math.nan
    plain = word.replace(",", ".").replace("\N{MINUS SIGN}", "-")
    if not _NUMBER.fullmatch(plain):
        return None
    value = float(plain)
    if math.isinf(value):
        return None
    return math.nan if value in MISSING_NUMBERS else value


def dates(texts: Sequence[str], form: str | None = None) -> Dates:
    """Days as written.

    Parameters
    ----------
    texts : sequence of str
        Year first (2001-05-03, 2001/5/3, 20010503) or year last (3.5.2001, 13/5/2001); a time of
        day after it is ignored.
    form : str, optional
        Format of the dates, in the codes of `datetime.datetime.strptime`, such as ``%d/%m/%y``.

    Returns
    -------
    Dates
        With dots the day comes first. With slashes or dashes, any date in the column beyond the
        12th shows which is the day; if there is none, `ambiguous` is the first such date.
        If such dates stand among others with the year first, `two_forms` has one of each: a
        spreadsheet rewrites the dates that it can read its own way, with day and month swapped, and
        leaves the others as they are.

    Raises
    ------
    ValueError
        If `form` does not give year, month and day.
    """
    if form is not None:
        _check_form(form)
        return Dates(_within_years(_each_once(texts, partial(_by_form, form=form))), None)
    days = _iso_days(texts)
    if days is None:
        year_last = [m for m in map(_YEAR_LAST.fullmatch, set(texts)) if m and m[2] != "."]
        day_first = any(int(m[1]) > 12 for m in year_last)
        month_first = any(int(m[3]) > 12 for m in year_last)
        if year_last and not day_first and not month_first:
            doubtful = {m[0] for m in year_last}
            return Dates(np.array([], "datetime64[D]"), next(t for t in texts if t in doubtful))
        days = _each_once(texts, partial(_by_shape, day_first=day_first))
        first = next((t for t in texts if _YEAR_FIRST.fullmatch(t)), None) if year_last else None
        if first is not None:
            last = {m[0] for m in year_last}
            two_forms = first, next(text for text in texts if text in last)
            return Dates(_within_years(days), None, two_forms)
    return Dates(_within_years(days), None)


def _each_once(texts: Sequence[str], read: Callable[[str], dt.date | None]) -> np.ndarray:
    """Days of texts, each different text read once; NaT where it is no date."""
    known = {text: read(text) for text in set(texts)}
    return np.array([known[text] for text in texts], dtype="datetime64[D]")


def _within_years(days: np.ndarray) -> np.ndarray:
    """Days with NaT in place of those outside `YEARS`."""
    year = days.astype("datetime64[Y]").astype(float) + 1970
    inside = ~np.isnat(days) & (year >= YEARS[0]) & (year <= YEARS[1])
    return np.where(inside, days, np.datetime64("NaT", "D"))


_ISO_LENGTH, _ISO_DASHES, _ISO_FIGURES = 10, [4, 7], [0, 1, 2, 3, 5, 6, 8, 9]
"""Length, and positions of dashes and digits, of a date like 2001-05-03."""


def _iso_days(texts: Sequence[str]) -> np.ndarray | None:
    """Days of texts that are all dates like 2001-05-03, else None."""
    if not texts or set(map(len, texts)) != {_ISO_LENGTH}:
        return None
    joined = "".join(texts)
    if not joined.isascii():
        return None
    letters = np.frombuffer(joined.encode(), dtype=np.uint8).reshape(-1, _ISO_LENGTH)
    figures = letters - ord("0")  # characters before "0" wrap round to large numbers
    if (letters[:, _ISO_DASHES] != ord("-")).any() or (figures[:, _ISO_FIGURES] > 9).any():
        return None
    thousands, hundreds, tens, ones = figures[:, :4].T.astype(int)
    year = 1000 * thousands + 100 * hundreds + 10 * tens + ones
    month, day = (10 * figures[:, at].astype(int) + figures[:, at + 1] for at in (5, 8))
    if (month < 1).any() or (month > 12).any() or (day < 1).any():
        return None
    months = ((year - 1970) * 12 + month - 1).astype("datetime64[M]")
    days: np.ndarray = months.astype("datetime64[D]") + (day - 1) * np.timedelta64(1, "D")
    return days if (days.astype("datetime64[M]") == months).all() else None


def _check_form(form: str) -> None:
    """Refuse a format that does not give year, month and day."""
    probe = dt.datetime(2001, 11, 23)
    later = probe.replace(year=2029)  # on the same weekdays: only its year differs
    try:
        has_year = probe.strftime(form) != later.strftime(form)
        complete = has_year and dt.datetime.strptime(probe.strftime(form), form) == probe
    except ValueError:
        complete = False
    if not complete:
        msg = (
            " does not say year, month and day. Write it with %Y, %m and %d, "
            "such as '%d/%m/%Y' for 23/11/2001."
        )
        raise InputError(Parameter("dates", form), msg)


def _by_form(text: str, *, form: str) -> dt.date | None:
    """A date in a format of `strptime`; None if it is none."""
    try:
        return dt.datetime.strptime(text, form).date()
    except ValueError:
        return None


def _by_shape(text: str, *, day_first: bool) -> dt.date | None:
    """A date by its shape, year first or year last; None if it is none."""
    if len(text) == 8 and text.isascii() and text.isdigit():
        text = f"{text[:4]}-{text[4:6]}-{text[6:]}"
    if match := _YEAR_FIRST.fullmatch(text):
        year, month, day = int(match[1]), int(match[3]), int(match[4])
    elif match := _YEAR_LAST.fullmatch(text):
        year, month, day = int(match[4]), int(match[3]), int(match[1])
        if match[2] != "." and not day_first:
            month, day = day, month
    else:
        return None
    try:
        return dt.date(year, month, day)
    except ValueError:
        return None


# --- what is wrong ------------------------------------------------------------------------


def quoted(text: object) -> str:
    """A cell in quotes, for an error message; a long one is cut."""
    cell = str(text)
    return repr(cell if len(cell) <= _QUOTED else f"{cell[:_QUOTED]}...")


def fault(
    what: str,
    advice: str | Sequence[str | Mention],
    bad: np.ndarray,
    lines: np.ndarray,
    texts: Sequence[object],
) -> list[Fault]:
    """The fault of the rows where `bad` is true, or an empty list."""
    rows = np.flatnonzero(bad)
    where = [f"line {lines[row]} {quoted(texts[row])}" for row in rows[:_SHOWN]]
    return [Fault(what, where, len(rows), advice)] if len(rows) else []


def refuse(name: str, faults: Sequence[Fault]) -> None:
    """Raise one error that reports all faults of a file, if there are any.

    Raises
    ------
    RecordError
        For each kind of fault: how many, the first few with line and value, and what to do.
    """
    if not faults:
        return
    pieces: list[str | Mention] = [f"{name} cannot be used as it is:"]
    for each in faults:
        more = ", ..." if each.times > len(each.where) else ""
        where = f": {', '.join(each.where)}{more}" if each.where else ""
        pieces.append(f"\n- {each.what}, {each.times} in all{where}. ")
        pieces += [each.advice] if isinstance(each.advice, str) else each.advice
    raise RecordError(*pieces)
