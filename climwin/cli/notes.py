"""Messages of all commands besides the result: progress, and where a number could mislead."""

from __future__ import annotations

import datetime as dt
import sys
from collections.abc import Iterable
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import xarray as xr

    from climwin.core.schema import Garden, Units

_RECORD_ALONE = (
    "The numbers are those of the record's own spot. Say where your garden lies, with --lat, --lon "
    "and --elevation, to hear what that may change."
)


def progress(step: str) -> None:
    """Say what is going on, to a person at a terminal alone."""
    if sys.stderr.isatty():
        print(f"  {step} ...", file=sys.stderr)


def count_progress(done: int, total: int, text: str) -> None:
    """Say how much is done, on one line of a terminal that each call writes over."""
    if sys.stderr.isatty():
        end = "\n" if done == total else ""
        print(f"\r  {done} of {total} {text}", end=end, file=sys.stderr, flush=True)


def caution(cautions: Iterable[str]) -> None:
    """Print cautions, a line each."""
    for text in cautions:
        print(f"caution: {text}")


def say_caveats(
    daily: xr.Dataset,
    garden: Garden | None,
    facts: Iterable[str] = (),
    *,
    units: Units = "C",
) -> list[str]:
    """Print where a record's numbers could mislead, and return it in the reader's own English.

    Parameters
    ----------
    daily : Dataset, dims (time)
        The record.
    garden : Garden, optional
        Where the numbers are to hold, if anything was said of it.
    facts : iterable of str
        Lines to print after what casts doubt on the record as a whole, before all else.
    units : {"C", "F"}
        Of what is printed.
    """
    from climwin.core.dialect import in_dialect
    from climwin.io.departure import CHECK_FIRST
    from climwin.report.sentences_caveats import CHECK_PLACE, record_caveats

    caveats = list(record_caveats(daily, dt.date.today(), units, garden=garden))
    first = [text for text in caveats if text.startswith((CHECK_PLACE, CHECK_FIRST))]
    caution(first)
    for line in facts:
        print(line)
    caution(caveats[len(first) :])
    return [in_dialect(text, units) for text in caveats]


def say_caveats_of_odds(
    daily: xr.Dataset,
    garden: Garden | None,
    *,
    known: int,
    few_years: bool,
    climate: str = "record",
    units: Units = "C",
) -> list[str]:
    """Print and return caveats before odds; refuse odds from fewer than ten known years.

    Parameters
    ----------
    daily : Dataset, dims (time)
        The record.
    garden : Garden, optional
        Where the odds are to hold, if anything was said of it.
    known : int
        Years that the odds are counted in.
    few_years : bool
        Whether fewer than ten will do.
    climate : {"record", "today"}
        Climate of the odds, which a record that cannot be moved keeps to its own.
    units : {"C", "F"}
        Of what is printed.

    Raises
    ------
    DataGapError
        If they are fewer, and that will not do.
    """
    from climwin.core.dialect import in_dialect
    from climwin.core.stats import FEW_YEARS, LEAST_YEARS, check_years
    from climwin.report.sentences_caveats import record_caveats

    check_years(known, few_years=few_years)
    few = [FEW_YEARS] if known < LEAST_YEARS else []
    caveats = record_caveats(daily, dt.date.today(), units, garden=garden, climate=climate)
    said = list(dict.fromkeys([*few, *caveats]))
    caution(said)
    if garden is None:
        caution([_RECORD_ALONE])
    return [in_dialect(text, units) for text in said]
