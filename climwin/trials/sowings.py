"""Read your own past sowings from a small table: what was sown, how, when, and the outcome."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from climwin.core.errors import (
    InputError,
    Mention,
    Parameter,
    RecordError,
    did_you_mean,
    nearest_names,
    same_name,
)
from climwin.core.formatting import as_typed, number
from climwin.crops.catalogue import crop, crop_names
from climwin.io import delimited
from climwin.io.exports import as_written
from climwin.planning.growth import BOLTED, COLD, HOT, REASONS
from climwin.planning.phases import Way
from climwin.planning.plan import MOST_WEEKS, OUTDOORS, Plan
from climwin.shelter.covers import COVERS, Cover
from climwin.trials.plausibility import SLIP_TIMES, in_another_unit, slips

if TYPE_CHECKING:
    import pandas as pd

IN_PLACE, BOUGHT = "in place", "bought"
WAYS = (IN_PLACE, BOUGHT, *(name for name in COVERS if name != OUTDOORS))
"""How a sowing was started: in place, with bought plants, or raised under one of the covers."""

_SAID_OF_IN_PLACE = {
    "outdoors",
    *(f"{verb}{where}" for verb in ("sown", "planted") for where in ("", " outdoors", " in place")),
}
"""What people write in a diary for a crop that was started where it grew."""
_SAID_OF_FAILURES = {
    **dict.fromkeys(
        (
            "cold",
            "freeze",
            "frost",
            "frosted",
            "killed by a frost",
            "killed by frost",
            "late frost",
        ),
        REASONS[COLD],
    ),
    **dict.fromkeys(("heat", "hot"), REASONS[HOT]),
    **dict.fromkeys(("bolting", "ran to seed", "went to seed"), REASONS[BOLTED]),
}
"""What people write in a diary for a reason that has another name in the model."""
OTHER_REASON = "other"
"""Reason of a failure that weather does not explain, such as slugs or voles."""
FAILED_BY = (*REASONS, OTHER_REASON)
NEEDED = ("crop", "way", "sown", "harvested", "failed")
OPTIONAL = ("set_out", "variety", "packet_days", "amount", "notes")
"""Columns of the table."""
LONGEST_DAYS = 400
"""Longest time from start to harvest of an annual crop (common practice). [day]"""

SHORTEST_SHARE = 1 / 3
"""Least share of the days of a crop's earliest variety, or of its own packet, before a harvest:
even what is cut small takes more (common practice)."""

_DAY = np.timedelta64(1, "D")
_DATES = ("sown", "set_out", "harvested")


@dataclass(frozen=True)
class DatedPlan(Plan):
    """A plan whose plants were set out after a number of days rather than whole weeks.

    Parameters
    ----------
    days_under_cover : int
        From sowing to setting out, if raised under cover.
    """

    days_under_cover: int = 0

    @property
    def way(self) -> Way:
        """The plan as phases in days."""
        way = super().way
        if not self.days_under_cover:
            return way
        phases = ((self.days_under_cover, self.covered_by), *way.phases[1:])
        return Way(phases, way.raised, way.bought, way.bed, way.earliness)


def read_sowings(path: str | Path, *, space: Cover | None = None) -> pd.DataFrame:
    """Read your own past sowings.

    Parameters
    ----------
    path : str or Path
        CSV with a row for each sowing and the columns ``crop``; ``way``: in place, bought, or the
        cover that it was raised under; ``sown``, blank for bought plants; ``set_out`` for raised or
        bought plants; then either ``harvested``, the day of the first harvest, or ``failed``, the
        reason: one of `growth.REASONS`, or ``other`` for what weather does not explain. Optional
        columns are ``variety``, ``packet_days``, ``amount`` and ``notes``.
    space : Cover, optional
        A covered space of your own, from `fit_cover`: sowings whose ``way`` is its name were raised
        in it.

    Returns
    -------
    DataFrame
        One row per sowing, with its ``line`` in the file, and the ``space`` if it was raised in
        your own.

    Raises
    ------
    RecordError
        If a crop or way is not known, the order of day and month is unclear, a harvest is before
        its sowing, a sowing is on two rows, or has both a harvest and a failure, or neither. The
        message names the line and the cell, what is allowed and what to do.

    See Also
    --------
    score_sowings : Each sowing against the odds of the other years.
    fit_earliness : How early the varieties are, judging by these harvests.

    Examples
    --------
    >>> import climwin as cw
    >>> sowings = cw.read_sowings(cw.sample("past_sowings.csv"))
    >>> sowings["way"].unique().tolist()
    ['cold frame', 'in place']
    """
    import pandas as pd

    file = Path(path)
    body = delimited.lines(file, delimited.encoding(file))
    head = _head(next(body, None), file.name)
    lines, columns, faults = delimited.columns(body, head, range(len(head.names)))
    texts = {name: columns[place] for place, name in enumerate(head.names)}
    for name in OPTIONAL:
        texts.setdefault(name, [""] * len(lines))
    cells: dict[str, np.ndarray] = {"line": lines}
    ways = WAYS if space is None else tuple(dict.fromkeys((*WAYS, space.name)))
    for name, allowed in (("crop", crop_names()), ("way", ways), ("failed", FAILED_BY)):
        cells[name], faults_here = _words(name, texts[name], allowed, lines)
        faults += faults_here
    days, faults_here = _dates(texts, lines)
    cells |= days
    faults += faults_here
    for name in ("packet_days", "amount"):
        values, is_bad = delimited.numbers(texts[name])
        what = f"cells of {name!r} are not numbers above 0"
        is_bad |= values <= 0
        faults += delimited.fault(
            what, "Correct them, or leave them empty.", is_bad, lines, texts[name]
        )
        cells[name] = values
    for name in ("variety", "notes"):
        cells[name] = np.array([as_written(" ".join(t.split())) for t in texts[name]], object)
    delimited.refuse(file.name, faults)
    cells["space"] = np.full(len(lines), None, object)
    if space is not None:
        cells["space"][cells["way"] == space.name] = space
    sowings = pd.DataFrame(cells)
    if sowings.empty:
        msg = f"{file.name} has no sowings. Write one on each row below {','.join(head.names)}."
        raise RecordError(msg)
    delimited.refuse(file.name, _contradictions(sowings))
    if space is not None and sowings["space"].isna().all():
        msg = (
            f" has no effect: no sowing in {file.name} has the way {space.name!r}. Write "
            f"{space.name} as the way of those that were raised there, or leave it out."
        )
        raise InputError(Parameter("space"), msg)
    return sowings


def _head(first: tuple[int, str] | None, file: str) -> delimited.Head:
    """Names of the columns, from the first line of the table."""
    head = delimited.head(*first) if first else delimited.Head([], None, 0)
    head = head._replace(names=[as_written(name).casefold() for name in head.names])
    known = (*NEEDED, *OPTIONAL)
    if not set(head.names) & set(NEEDED):
        msg = (
            f"{file} is no list of past sowings: it has none of the columns {', '.join(NEEDED)}; "
            f"its head is {', '.join(head.names)[:80] or 'empty'}. Give that list first, then the "
            "record."
        )
        raise RecordError(msg)
    for name in head.names:
        if name not in known:
            meant = did_you_mean(name, known) or " Leave it out."
            msg = f"{file} has a column {name!r:.60}; its columns may be {', '.join(known)}.{meant}"
            raise RecordError(msg)
    lacking = [name for name in NEEDED if name not in head.names]
    if lacking or len(set(head.names)) < len(head.names):
        what = f"lacks {', '.join(lacking)}" if lacking else "names a column twice"
        msg = (
            f"{file} {what}; its head is {', '.join(head.names)[:80] or 'empty'}. Begin it with "
            "crop,way,sown,set_out,harvested,failed."
        )
        raise RecordError(msg)
    return head


def _words(
    column: str, texts: list[str], allowed: tuple[str, ...] | list[str], lines: np.ndarray
) -> tuple[np.ndarray, list[delimited.Fault]]:
    """Known names of the cells, and a fault for the cells without one."""
    known = {text: _known(column, text, allowed) for text in set(texts)}
    words = [known[text] for text in texts]
    is_bad = np.array([word is None for word in words], bool)
    unknown = [text for text in dict.fromkeys(texts) if known[text] is None]
    near = list(dict.fromkeys(name for text in unknown for name in nearest_names(text, allowed)))
    choice: str | tuple[str | Mention, ...]
    choice = f"Nearest: {', '.join(near)}." if near else f"It may be {', '.join(allowed)}."
    if column == "way":
        choice = (
            f"{choice} Of a space of your own, add its logger: ",
            Parameter("space"),
            ".",
        )
    if column == "failed":
        choice = f"{choice} For what weather does not explain, such as slugs, write {OTHER_REASON}."
    what = f"cells of {column!r} are not known"
    faults = delimited.fault(what, choice, is_bad, lines, texts)
    return np.array([word or "" for word in words], object), faults


def _known(column: str, text: str, allowed: tuple[str, ...] | list[str]) -> str | None:
    """Name that a cell means; empty if it may be blank, None if it is not known."""
    if column == "failed" and text.strip().lower() in delimited.MISSING_WORDS:
        return ""
    if column == "crop":
        try:
            return crop(text).name
        except ValueError:
            return None
    plain = text.strip().casefold()
    if plain in _SAID_OF_IN_PLACE:
        return IN_PLACE
    if column == "failed" and plain in _SAID_OF_FAILURES:
        return _SAID_OF_FAILURES[plain]
    plain = plain.removeprefix("sown ").removeprefix("raised in a ")
    return same_name(plain, allowed)


def _dates(
    texts: dict[str, list[str]], lines: np.ndarray
) -> tuple[dict[str, np.ndarray], list[delimited.Fault]]:
    """The columns of dates; day and month have one order in a whole file."""
    every = [text for name in _DATES for text in texts[name]]
    blank = [text.strip().lower() in delimited.MISSING_WORDS for text in every]
    days, ambiguous, two_forms = delimited.dates(
        ["" if b else t for t, b in zip(every, blank, strict=True)]
    )
    what = ""
    if ambiguous is not None:
        what = f"dates such as {ambiguous!r} may be day/month or month/day"
    elif two_forms is not None:
        what = f"dates are in two forms, such as {two_forms[0]!r} and {two_forms[1]!r}"
    if what:
        advice = "Write them as 2018-04-20."
        return {}, [delimited.Fault(what, [], sum(not b for b in blank), advice)]
    is_bad = np.isnat(days) & ~np.array(blank, bool)
    cells, faults = {}, []
    for place, name in enumerate(_DATES):
        here = slice(place * len(lines), (place + 1) * len(lines))
        cells[name] = days[here].astype("datetime64[s]")
        what = f"cells of {name!r} are not dates"
        faults += delimited.fault(
            what, "Write them as 2018-04-20.", is_bad[here], lines, texts[name]
        )
    return cells, faults


class _Check(NamedTuple):
    """A check of all sowings: which fail it, the column to show, what is wrong and what to do."""

    is_bad: np.ndarray
    column: str
    what: str
    advice: str


def _contradictions(sowings: pd.DataFrame) -> list[delimited.Fault]:
    """Faults that make a sowing impossible, by line."""
    lines, found = sowings["line"].to_numpy(), []
    for check in (*_checks_of_dates(sowings), *_checks_of_outcomes(sowings)):
        texts = [_written(value) for value in sowings[check.column]]
        found += delimited.fault(check.what, check.advice, check.is_bad, lines, texts)
    return found + _packet_faults(sowings)


def _checks_of_dates(sowings: pd.DataFrame) -> list[_Check]:
    way = sowings["way"].to_numpy(str)
    is_bought, is_in_place = way == BOUGHT, way == IN_PLACE
    is_raised = ~is_bought & ~is_in_place
    sown, out, harvested = (sowings[name].to_numpy("datetime64[D]") for name in _DATES)
    start = np.where(is_bought, out, sown)
    under_cover = np.where(is_raised, (out - sown) / _DAY, np.nan)
    stood = (harvested - start) / _DAY
    too_soon = (stood <= 0) | (is_raised & (harvested <= out))
    return [
        _Check(
            np.isnat(start),
            "way",
            "sowings have no start date",
            "Fill in sown, or set_out where plants were bought.",
        ),
        _Check(
            is_raised & np.isnat(out),
            "way",
            "sowings were raised under cover but have no date of setting out",
            "Fill in set_out, or write in place.",
        ),
        _Check(
            is_in_place & ~np.isnat(out),
            "set_out",
            "sowings in place have a date of setting out",
            "Leave it empty, or write the cover that they were raised under as their way.",
        ),
        _Check(
            is_bought & ~np.isnat(sown),
            "sown",
            "bought plants have a date of sowing",
            "Leave it empty: they count from set_out.",
        ),
        _Check(
            under_cover <= 0,
            "set_out",
            "sowings were set out before they were sown",
            "Correct the dates.",
        ),
        _Check(
            under_cover > 7 * MOST_WEEKS,
            "set_out",
            f"sowings stood under cover for more than {number(MOST_WEEKS)} weeks",
            "Correct the dates.",
        ),
        _Check(
            too_soon,
            "harvested",
            "sowings were harvested before they were sown or set out",
            "Correct the dates.",
        ),
        _Check(
            stood > LONGEST_DAYS,
            "harvested",
            f"sowings stood for more than {number(LONGEST_DAYS)} days",
            "Correct the year.",
        ),
        _Check(
            ~too_soon & (stood < SHORTEST_SHARE * _fewest_days(sowings)),
            "harvested",
            "sowings were harvested in less than a third of the days that the crop takes",
            "Correct the dates.",
        ),
    ]


def _fewest_days(sowings: pd.DataFrame) -> np.ndarray:
    """Days to harvest of each sowing's earliest variety, or on its own packet if they are fewer.

    Of crops that stand for years there are none.
    """
    maturities = [crop(name).maturity for name in sowings["crop"]]
    earliest = np.array([each.early if each else np.nan for each in maturities], float)
    return np.fmin(earliest, sowings["packet_days"].to_numpy(float))


def _checks_of_outcomes(sowings: pd.DataFrame) -> list[_Check]:
    has_harvest = sowings["harvested"].notna().to_numpy()
    has_failed = (sowings["failed"] != "").to_numpy()
    packets = sowings.groupby(["crop", "variety"])["packet_days"].transform("nunique")
    same = ["crop", "variety", "way", "sown", "set_out"]
    return [
        _Check(
            np.array([crop(name).is_perennial for name in sowings["crop"]], bool),
            "crop",
            "crops stand for years and are not sown",
            "Leave them out.",
        ),
        _Check(
            has_harvest & has_failed,
            "failed",
            "sowings have both a harvest and a failure",
            "Leave one empty.",
        ),
        _Check(
            ~has_harvest & ~has_failed,
            "crop",
            "sowings have neither a harvest nor a failure",
            "Fill in one of the two; leave out a sowing that is still growing.",
        ),
        _Check(
            sowings.duplicated(same).to_numpy(),
            "crop",
            "sowings are listed twice",
            "Keep one row for each, or tell them apart by variety.",
        ),
        _Check(
            (packets > 1).to_numpy(),
            "variety",
            "sowings of one variety have two numbers of days on its packet",
            "Correct them, or give each variety a name.",
        ),
        _Check(
            _in_another_unit(sowings),
            "amount",
            "amounts are far from the others of their crop",
            "Two units in one column? Write all amounts of a crop in the same.",
        ),
        _Check(
            _slipped(sowings),
            "amount",
            f"amounts are {number(SLIP_TIMES)} times or more above all others of their crop",
            "Has a digit or a point slipped? Correct it, or leave it empty.",
        ),
    ]


def _of_amounts(sowings: pd.DataFrame, judge: Callable[[np.ndarray], np.ndarray]) -> np.ndarray:
    """Which amounts are judged wrong among those of their crop."""
    if "amount" not in sowings:
        return np.zeros(len(sowings), bool)
    by_crop = sowings.groupby("crop")["amount"]
    return by_crop.transform(lambda amounts: judge(amounts.to_numpy(float))).to_numpy(bool)


def _in_another_unit(sowings: pd.DataFrame) -> np.ndarray:
    """Amounts so far from the others of their crop that they must be in another unit."""
    return _of_amounts(sowings, in_another_unit)


def _slipped(sowings: pd.DataFrame) -> np.ndarray:
    """Amounts so far above all others of their crop that a digit or a point must have slipped."""
    return _of_amounts(sowings, slips) & ~_in_another_unit(sowings)


def _packet_faults(sowings: pd.DataFrame) -> list[delimited.Fault]:
    """Faults of days on a packet that a plan of the crop would refuse."""
    faults = []
    columns = (sowings[name] for name in ("line", "crop", "packet_days"))
    for line, name, days in zip(*columns, strict=True):
        if np.isnan(days):
            continue
        try:
            Plan(crop(name), "01-01", earliness=float(days))
        except InputError as error:
            what = "days on a packet cannot be"
            where = [f"line {line} {delimited.quoted(as_typed(days))}"]
            faults.append(delimited.Fault(what, where, 1, error.pieces))
    return faults


def _written(value: object) -> str:
    """A cell as text: a date without its time."""
    return str(value).removesuffix(" 00:00:00")


# --- a row as a plan ----------------------------------------------------------------------


def day_of(cell: pd.Timestamp) -> np.datetime64:
    """Day of a date cell; not-a-time if it is blank."""
    blank = np.datetime64("NaT", "D")
    return blank if cell != cell else np.datetime64(cell, "D")


def start_of(row: pd.Series) -> np.datetime64:
    """Day on which a sowing began: for bought plants, the day of setting out."""
    return day_of(row["set_out"] if row["way"] == BOUGHT else row["sown"])


def plan_of(row: pd.Series, earliness: str | float | None = None) -> Plan:
    """Turn a past sowing into a plan of that date.

    Parameters
    ----------
    row : Series
        A row of `read_sowings`.
    earliness : str or float, optional
        Of the variety; the default is the days on its packet, or a main variety.
    """
    if earliness is None:
        packet = float(row["packet_days"])
        earliness = "main" if np.isnan(packet) else packet
    grown = crop(row["crop"])
    start = str(start_of(row))[5:]
    start = "02-28" if start == "02-29" else start  # the model's year has 365 days
    if row["way"] == BOUGHT:
        return Plan(grown, start, plants="bought", earliness=earliness)
    if row["way"] == IN_PLACE:
        return Plan(grown, start, earliness=earliness)
    days = int((day_of(row["set_out"]) - start_of(row)) / _DAY)
    weeks = max(1, round(days / 7))
    return DatedPlan(
        grown,
        start,
        weeks,
        row["way"],
        earliness=earliness,
        space=row.get("space"),
        days_under_cover=days,
    )
