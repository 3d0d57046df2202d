"""Heights, distances and shares as a person types them: in metres or feet, kilometres or miles."""

from __future__ import annotations

import re

from climwin.core.errors import InputError, Parameter
from climwin.core.formatting import FOOT_M, MILE_KM, as_typed
from climwin.core.schema import to_celsius

_MEASURE = re.compile(r"\s*([-+]?\d+(?:[ ,]\d{3})*(?:\.\d+)?|[-+]?\.\d+)\s*(.*?)\s*", re.DOTALL)
_HEIGHTS = {
    **dict.fromkeys(("", "m", "metre", "metres", "meter", "meters"), 1.0),
    **dict.fromkeys(("ft", "foot", "feet", "'", "\N{PRIME}"), FOOT_M),
}
_DISTANCES = {
    **dict.fromkeys(("", "km", "kilometre", "kilometres", "kilometer", "kilometers"), 1.0),
    **dict.fromkeys(("mi", "mile", "miles"), MILE_KM),
}
_DIFFERENCES = {
    **dict.fromkeys(("", "c", "degc", "\N{DEGREE SIGN}c"), 1.0),
    **dict.fromkeys(("f", "degf", "\N{DEGREE SIGN}f"), 1 / 1.8),
}


def metres_of(height: str | float) -> float:
    """Height above sea level in metres, from a number of metres or text with a unit.

    Parameters
    ----------
    height : str or float
        Such as ``260``, ``"260 m"`` or ``"850 ft"``.

    Returns
    -------
    float
        [m]

    Raises
    ------
    ValueError
        If it is not a height.

    Examples
    --------
    >>> metres_of("1000 ft"), metres_of(260)
    (304.8, 260.0)
    """
    allowed = "takes metres, or feet with their unit, such as 260 or 850ft"
    return _in(_HEIGHTS, height, "elevation", allowed)


def kilometres_of(distance: str | float) -> float:
    """Distance in kilometres, from a number of kilometres or text with a unit.

    Examples
    --------
    >>> round(kilometres_of("30 miles"), 2), kilometres_of("50km")
    (48.28, 50.0)
    """
    allowed = "takes kilometres, or miles with their unit, such as 50 or 30mi"
    return _in(_DISTANCES, distance, "radius_km", allowed)


def celsius_difference_of(size: str | float) -> float:
    """Temperature difference in degC, from a number of degC or text with a unit.

    Examples
    --------
    >>> celsius_difference_of("3.6F"), celsius_difference_of("-1.5")
    (2.0, -1.5)
    """
    allowed = "takes degrees Celsius, or Fahrenheit with their unit, such as 1.5 or 3F"
    return _in(_DIFFERENCES, size, "by", allowed)


def celsius_of(temperature: str) -> float:
    """Temperature in degC, from text with a unit: 28 may be a cool night or a hot day.

    Raises
    ------
    ValueError
        If it is no temperature, or has no unit.

    Examples
    --------
    >>> celsius_of("28F"), celsius_of("-2 \N{DEGREE SIGN}C")
    (-2.2222222222222223, -2.0)
    """
    found = _MEASURE.fullmatch(temperature)
    unit = found[2].lower().removeprefix("deg").removeprefix("\N{DEGREE SIGN}") if found else ""
    if found is None or unit not in ("c", "f"):
        msg = f" takes a temperature with its unit, such as -2C or 28F; got {temperature!r}."
        raise InputError(Parameter("threshold"), msg)
    value = float(found[1])
    return value if unit == "c" else (value - 32) / 1.8


def share_of(odds: str | float) -> float:
    """Odds from 0 to 1, from such a number or a percentage.

    Raises
    ------
    ValueError
        If it is neither, or a percentage below 1, such as ``"0.8%"``, where 80% was probably
        meant. The message asks.

    Examples
    --------
    >>> share_of("80%"), share_of("0.8")
    (0.8, 0.8)
    """
    text = str(odds).strip()
    is_percentage = text.endswith("%")
    try:
        value = float(text.removesuffix("%"))
    except ValueError:
        value = float("nan")
    share = value / 100 if is_percentage else value
    is_twice = is_percentage and 0 < value < 1
    if 0 <= share <= 1 and not is_twice:
        return share
    meant = f" Did you mean {as_typed(100 * value)}%?" if is_twice else ""
    if not is_percentage and 1 < value <= 100:
        meant = f" Did you mean {text}%, which is {as_typed(value / 100)}?"
    msg = f" takes a share from 0 to 1, or a percentage, such as 0.8 or 80%; got {text!r}.{meant}"
    raise InputError(Parameter("least_odds"), msg)


def check_most_celsius(name: str, value: float, most: float) -> None:
    """Refuse a temperature that can only be in degF.

    Parameters
    ----------
    name : str
        The parameter that gives it.
    value, most : float
        The temperature, and the highest that makes sense. [degC]

    Raises
    ------
    ValueError
        If it is no number, or higher; the message has the same temperature in degC.
    """
    if value <= most:
        return
    msg = f" is a temperature in degC, {as_typed(most)} at most, got {as_typed(value)}."
    if value > most:
        msg += f" If that is in degF, give {as_typed(round(to_celsius(value, 'F'), 1))}."
    raise InputError(Parameter(name), msg)


def _in(factors: dict[str, float], given: str | float, parameter: str, allowed: str) -> float:
    """A typed number times the factor of its unit."""
    found = _MEASURE.fullmatch(str(given))
    unit = found[2].lower().rstrip(".") if found else None
    if found is None or unit not in factors:
        raise InputError(Parameter(parameter), f" {allowed}; got {str(given)!r}.")
    return float(re.sub("[ ,]", "", found[1])) * factors[unit]
