"""How numbers, dates and temperatures are written in a sentence.

Every number that a person reads is written here; ``tests/test_house.py`` looks for exceptions. The
front end's counterpart is ``widgets/js/src/formatting.js``; ``tests/widgets`` compares the two.

`fixed` and `as_typed` write a negative number with a hyphen, for errors and for what commands
print, because a terminal may lack the true minus sign that all the others use.
"""

from __future__ import annotations

import math
from decimal import Decimal

from climwin.core.schema import Units, difference_from_celsius, from_celsius
from climwin.core.wording import FULL_MONTHS, MONTHS, say

FOOT_M = 0.3048
"""The international foot, exact. [m] NIST Special Publication 811, appendix B.6 (from memory)."""
INCH_MM = 25.4
"""The inch, exact. [mm] NIST Special Publication 811, appendix B.6 (from memory)."""
MILE_KM = 1.609344
"""The international mile, exact. [km] NIST Special Publication 811, appendix B.6 (from memory)."""

_MINUS = "\N{MINUS SIGN}"


def fixed(value: float, digits: int = 0) -> str:
    """Number with fixed decimals: exact halves go to the even digit, zero has no sign.

    Examples
    --------
    >>> fixed(2.5), fixed(-0.25, 1), fixed(-0.2)
    ('2', '-0.2', '0')
    """
    return f"{value:z.{digits}f}"


def number(value: float, digits: int = 0) -> str:
    """Number with fixed decimals, a thousands separator and a true minus sign.

    Examples
    --------
    >>> number(28349), number(0.5, 1), number(-0.2)
    ('28,349', '0.5', '0')
    """
    return f"{value:z,.{digits}f}".replace("-", _MINUS)


def plain(value: float) -> str:
    """Number without trailing zeros, such as one that a person typed or a source gives.

    Examples
    --------
    >>> plain(72.0), plain(0.25), plain(16.125)
    ('72', '0.25', '16.125')
    """
    return significant(value, 6).replace(",", "")


def as_typed(value: float) -> str:
    """Number as it would be typed: with a hyphen, without commas or trailing zeros.

    Examples
    --------
    >>> as_typed(-2.0), as_typed(0.5), as_typed(100_000)
    ('-2', '0.5', '100000')
    """
    return plain(value).replace(_MINUS, "-")


def significant(value: float, figures: int = 3) -> str:
    """Number with so many significant figures, never in scientific notation.

    Examples
    --------
    >>> significant(1234.5), significant(0.04567), significant(751)
    ('1,230', '0.0457', '751')
    """
    if not math.isfinite(value):
        return f"{value}"
    rounded = Decimal(f"{value:.{figures}g}")  # :g alone would write small ones as 1e-05
    return f"{rounded:z,f}".replace("-", _MINUS)


def signed(value: float, digits: int | None = 0) -> str:
    """Number with its sign, zero without one; without trailing zeros if `digits` is None.

    Examples
    --------
    >>> signed(2.25, 1), signed(0.04, 1), signed(1.50, None)
    ('+2.2', '0.0', '+1.5')
    """
    text = plain(value) if digits is None else number(value, digits)
    return f"+{text}" if value > 0 and text.strip("0.") else text


def between(low: float, high: float, digits: int = 0) -> str:
    """Both ends of a range; the unit is left to the caller.

    Examples
    --------
    >>> between(4.2, 7.8), between(0.25, 1, 1)
    ('4 to 8', '0.2 to 1.0')
    """
    return f"{number(low, digits)} to {number(high, digits)}"


def counted(count: int, noun: str) -> str:
    """A count and its noun, in the plural unless it is one.

    Examples
    --------
    >>> counted(1, "day"), counted(1200, "day"), counted(0, "pair")
    ('1 day', '1,200 days', '0 pairs')
    """
    return f"{number(count)} {noun}{'' if count == 1 else 's'}"


def ordinal(place: int) -> str:
    """Ordinal number.

    Examples
    --------
    >>> ordinal(1), ordinal(12), ordinal(23)
    ('1st', '12th', '23rd')
    """
    teens = place % 100 in (11, 12, 13)
    ending = "th" if teens else {1: "st", 2: "nd", 3: "rd"}.get(place % 10, "th")
    return f"{number(place)}{ending}"


def days_long(days: float) -> str:
    """Duration in whole days.

    Examples
    --------
    >>> days_long(63.5), days_long(1.2)
    ('64 days', '1 day')
    """
    return counted(int(fixed(days)), "day")


def weeks(count: int) -> str:
    """Number of weeks.

    Examples
    --------
    >>> weeks(1), weeks(6)
    ('1 week', '6 weeks')
    """
    return counted(count, "week")


def temperature(value_c: float, units: Units, digits: int = 0) -> str:
    """Temperature with its unit, without trailing zeros.

    Parameters
    ----------
    value_c : float
        Temperature. [degC]
    units : {"C", "F"}
        Unit to write it in.
    digits : int
        Largest number of decimals.

    Examples
    --------
    >>> temperature(7.2, "F")
    '45 °F'
    >>> temperature(-2.2, "C", 1)
    '−2.2 °C'
    """  # noqa: RUF002 (the minus sign of print, U+2212)
    rounded = round(float(from_celsius(value_c, units)), digits)
    return say("temperature", number=plain(rounded), units=units)


def difference(size_c: float, units: Units, digits: int = 1) -> str:
    """Temperature difference with its unit and without its sign; the sentence says which way.

    Parameters
    ----------
    size_c : float
        Difference. [degC]
    units : {"C", "F"}
        Unit to write it in.
    digits : int
        Number of decimals.

    Examples
    --------
    >>> difference(-1.5, "C"), difference(1.5, "F")
    ('1.5 °C', '2.7 °F')
    """
    size = number(abs(float(difference_from_celsius(size_c, units))), digits)
    return say("temperature", number=size, units=units)


def difference_as_given(size_c: float, units: Units) -> str:
    """Temperature difference with its unit, to a tenth, without trailing zeros.

    Examples
    --------
    >>> difference_as_given(2.0, "C"), difference_as_given(2.0, "F")
    ('2 °C', '3.6 °F')
    """
    size = round(abs(float(difference_from_celsius(size_c, units))), 1)
    return say("temperature", number=plain(size), units=units)


def degree_days(sum_c: float, units: Units) -> str:
    """Sum of heat or cold; the unit is left to the caller. [degC day]

    Examples
    --------
    >>> degree_days(760, "C"), degree_days(760, "F")
    ('760', '1,368')
    """
    return number(float(difference_from_celsius(sum_c, units)))


def kilometres(km: float) -> str:
    """Distance over land. [km]

    Examples
    --------
    >>> kilometres(12.4)
    '12 km'
    """
    return f"{number(km)} km"


def metres(height: float) -> str:
    """Height, or a difference in height without its sign. [m]

    Examples
    --------
    >>> metres(-340.2)
    '340 m'
    """
    return f"{fixed(abs(height))} m"


def height(height_m: float, units: Units) -> str:
    """Height, or a difference in height without its sign, in feet where units are F. [m]

    Examples
    --------
    >>> height(-220, "C"), height(220, "F"), height(1500, "F")
    ('220 m', '722 ft', '4,921 ft')
    """
    return metres(height_m) if units == "C" else f"{number(abs(height_m) / FOOT_M)} ft"


def distance(distance_km: float, units: Units) -> str:
    """Distance over land, in miles where units are F. [km]

    Examples
    --------
    >>> distance(12.4, "C"), distance(12.4, "F"), distance(1.7, "F")
    ('12 km', '8 miles', '1 mile')
    """
    if units == "C":
        return kilometres(distance_km)
    return counted(int(fixed(distance_km / MILE_KM)), "mile")


def lapse(rate_c_per_km: float, units: Units) -> str:
    """Lapse rate, such as "6.5 °C in 1000 m"; in 1000 ft where units are F. [degC/km]

    Examples
    --------
    >>> lapse(6.5, "C"), lapse(6.5, "F")
    ('6.5 °C in 1000 m', '3.6 °F in 1000 ft')
    """
    if units == "C":
        return f"{difference(rate_c_per_km, units)} in 1000 m"
    return f"{difference(rate_c_per_km * FOOT_M, units)} in 1000 ft"


def depth(depth_m: float, units: Units) -> str:
    """Depth in the soil, in inches where units are F. [m]

    Examples
    --------
    >>> depth(0.05, "C"), depth(0.05, "F")
    ('5 cm', '2 in')
    """
    return centimetres(depth_m) if units == "C" else f"{fixed(depth_m / FOOT_M * 12)} in"


def centimetres(depth: float) -> str:
    """Depth in the soil, in centimetres. [m]

    Examples
    --------
    >>> centimetres(0.05)
    '5 cm'
    """
    return f"{fixed(100 * depth)} cm"


def in_ten(share: float) -> str:
    """Odds as a number in ten.

    Examples
    --------
    >>> in_ten(0.8), in_ten(0.25)
    ('8 in 10', '2.5 in 10')
    """
    return f"{plain(10 * share)} in 10"


def percent(share: float) -> str:
    """Share as a whole percentage.

    Examples
    --------
    >>> percent(0.625)
    '62 %'
    """
    return say("unknown") if math.isnan(share) else say("percent", number=fixed(100 * share))


def years(count: int) -> str:
    """Number of years.

    Examples
    --------
    >>> years(1), years(12)
    ('1 year', '12 years')
    """
    return say("years", count=count)


def date(day: float) -> str:
    """Day of the year as a date; NaN is a date by which odds are never reached.

    Examples
    --------
    >>> date(110)
    '20 Apr'
    """
    return say("never_so_likely") if math.isnan(day) else _day_name(day)


def on_day(day: float) -> str:
    """Day of the year as prose has it.

    Examples
    --------
    >>> on_day(64)
    '5 March'
    """
    number, month = _day_name(day).split()
    return f"{number} {FULL_MONTHS[MONTHS.index(month)]}"


def span(first: float, last: float) -> str:
    """Two days of the year, first to last; a missing end stays open.

    Examples
    --------
    >>> span(110, float("nan"))
    '20 Apr to …'
    """
    ends = (say("open_end") if math.isnan(day) else _day_name(day) for day in (first, last))
    return say("span", first=next(ends), last=next(ends))


def _day_name(day: float) -> str:
    from climwin.core.seasons import day_name  # loads NumPy, which a command's help does without

    return day_name(day)
