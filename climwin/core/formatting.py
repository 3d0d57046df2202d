"""How numbers, dates and temperatures are written in a sentence.

The front end has the same functions in ``widgets/js/src/formatting.js``; ``tests/widgets`` compares
the two.
"""

from __future__ import annotations

import numpy as np

from climwin.core.schema import Units, from_celsius
from climwin.core.seasons import day_name
from climwin.core.wording import say


def fixed(value: float, digits: int = 0) -> str:
    """Number with a fixed count of decimals, exact halves to the even digit, zero without a sign.

    Examples
    --------
    >>> fixed(2.5), fixed(-0.25, 1), fixed(-0.2)
    ('2', '-0.2', '0')
    """
    return f"{value:z.{digits}f}"


def temperature(value_c: float, units: Units, digits: int = 0) -> str:
    """Temperature with its unit, without needless zeros.

    Parameters
    ----------
    value_c : float
        Temperature. [degC]
    units : {"C", "F"}
        Unit to write it in.
    digits : int
        Most decimals that are written.

    Examples
    --------
    >>> temperature(7.2, "F")
    '45 °F'
    >>> temperature(-2.2, "C", 1)
    '−2.2 °C'
    """  # noqa: RUF002 (the minus sign of print, U+2212)
    rounded = round(float(from_celsius(value_c, units)), digits) + 0.0  # no minus before a zero
    number = f"{rounded:g}".replace("-", "\N{MINUS SIGN}")
    return say("temperature", number=number, units=units)


def percent(share: float) -> str:
    """Share as a whole percentage.

    Examples
    --------
    >>> percent(0.625)
    '62 %'
    """
    return say("unknown") if np.isnan(share) else say("percent", number=fixed(100 * share))


def years(count: int) -> str:
    """Number of years, in the plural where it needs one.

    Examples
    --------
    >>> years(1), years(12)
    ('1 year', '12 years')
    """
    return say("years", count=count)


def date(day: float) -> str:
    """Day of the year in words; a missing one is a date that no odds reach.

    Examples
    --------
    >>> date(110)
    '20 Apr'
    """
    return say("never_so_likely") if np.isnan(day) else day_name(day)


def span(first: float, last: float) -> str:
    """Two days of the year, first to last; an end that does not exist stays open.

    Examples
    --------
    >>> span(110, float("nan"))
    '20 Apr to …'
    """
    ends = (say("open_end") if np.isnan(day) else day_name(day) for day in (first, last))
    return say("span", first=next(ends), last=next(ends))
