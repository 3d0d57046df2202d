"""Typed options: for each command a frozen dataclass, whose fields are what one may type.

A field is made by `argument` (by its position), `option` (by its flag) or `group` (several
fields that commands share). `add_arguments` lays them on an argparse parser, `parsed` makes the
dataclass of what was typed, and `typed_names` says how each parameter is typed, for errors.
"""

from __future__ import annotations

import argparse
import math
from collections.abc import Callable, Iterator, Sequence
from dataclasses import MISSING, Field, dataclass, field, fields
from typing import Any, TypeVar, cast

from climwin.core.errors import InputError, Parameter
from climwin.core.measures import (
    celsius_difference_of,
    celsius_of,
    kilometres_of,
    metres_of,
    share_of,
)
from climwin.core.schema import Units

Options = TypeVar("Options")


@dataclass(frozen=True)
class _Argument:
    """How a field is typed: its flag, None if it is positional, and argparse's settings."""

    flag: str | None
    settings: dict[str, Any]
    parameter: str | None = None


def argument(
    metavar: str,
    help: str,  # noqa: A002 (argparse's own name)
    *,
    convert: Callable[[str], Any] = str,
    default: Any = MISSING,
    nargs: str | None = None,
) -> Any:
    """A field known by its position, needed unless it has a default."""
    settings: dict[str, Any] = {"metavar": metavar, "help": help, "type": convert}
    if default is not MISSING:
        settings |= {"nargs": "?", "default": default}
    elif nargs:
        settings["nargs"] = nargs
    return field(metadata={"argument": _Argument(None, settings)})


def option(
    flag: str,
    help: str,  # noqa: A002 (argparse's own name)
    *,
    convert: Callable[[str], Any] = str,
    metavar: str | None = None,
    default: Any = None,
    choices: Sequence[str] | None = None,
    required: bool = False,
    repeated: bool = False,
    parameter: str | None = None,
    again: str = "Give it once.",
) -> Any:
    """A field known by its flag.

    Parameters
    ----------
    flag, help, metavar, choices, required
        As argparse takes them.
    convert : callable
        Text to value; raises ``argparse.ArgumentTypeError`` with what is allowed.
    default
        Where the flag is not typed.
    repeated : bool
        Whether it may be typed several times; the field is then a tuple.
    parameter : str, optional
        The library's parameter that it gives, where the field has another name.
    again : str
        What to do instead of typing it twice.
    """
    settings: dict[str, Any] = {
        "help": help,
        "type": convert,
        "metavar": metavar or (None if choices else flag.lstrip("-").upper()),
        "default": [] if repeated else default,
        "choices": choices,
        "required": required,
        "action": "append" if repeated else _Once,
    }
    if not repeated:
        settings["again"] = again
    return field(metadata={"argument": _Argument(flag, settings, parameter)})


def switch(flag: str, help: str) -> Any:  # noqa: A002 (argparse's own name)
    """A field that is true where its flag is typed."""
    settings = {"help": help, "action": "store_true"}
    return field(metadata={"argument": _Argument(flag, settings)})


def group(kind: type[Options]) -> Any:
    """Fields of a dataclass that several commands share."""
    return field(metadata={"group": kind})


# --- between argparse and the dataclass ---------------------------------------------------


def add_arguments(parser: argparse.ArgumentParser, kind: type[Any]) -> None:
    """Lay the fields of a dataclass on a parser."""
    for each, owner in _fields(kind):
        own: _Argument = each.metadata["argument"]
        name = _destination(owner, each)
        if own.flag is None:
            parser.add_argument(name, **own.settings)
        else:
            parser.add_argument(own.flag, dest=name, **own.settings)


def parsed(kind: type[Options], namespace: argparse.Namespace) -> Options:
    """The dataclass of what was typed."""
    values: dict[str, Any] = {}
    for each in fields(kind):  # type: ignore[arg-type]
        if "group" in each.metadata:
            values[each.name] = parsed(each.metadata["group"], namespace)
        else:
            value = getattr(namespace, _destination(kind, each))
            values[each.name] = tuple(value) if isinstance(value, list) else value
    return kind(**values)


def typed_names(kind: type[Any]) -> dict[str, str]:
    """How each field, and the parameter that it gives, is typed: its flag, or its name in the help.

    Parameters
    ----------
    kind : type
        A command's options.
    """
    names: dict[str, str] = {}
    for each, _ in _fields(kind):
        own: _Argument = each.metadata["argument"]
        typed = own.flag or own.settings["metavar"]
        names |= {each.name: typed, own.parameter or each.name: typed}
    return names


def _fields(kind: type[Any]) -> Iterator[tuple[Field[Any], type[Any]]]:
    """All fields, those of groups in their place, and the dataclass that each belongs to."""
    for each in fields(kind):
        if "group" in each.metadata:
            yield from _fields(each.metadata["group"])
        else:
            yield each, kind


def _destination(owner: type[Any], each: Field[Any]) -> str:
    return f"{owner.__name__}.{each.name}"


class _Once(argparse.Action):
    """Keep a value; refuse a second one, which would silently win."""

    def __init__(self, *args: Any, again: str, **settings: Any) -> None:
        super().__init__(*args, **settings)
        self._again = again

    def __call__(
        self,
        parser: argparse.ArgumentParser,
        namespace: argparse.Namespace,
        values: Any,
        option_string: str | None = None,
    ) -> None:
        del parser, option_string
        seen = namespace.__dict__.setdefault("typed once", {})
        if self.dest in seen:
            msg = f"is given twice, {seen[self.dest]!s} and {values!s}. {self._again}"
            raise argparse.ArgumentError(self, msg)
        seen[self.dest] = values
        setattr(namespace, self.dest, values)


# --- text to value ------------------------------------------------------------------------


def whole_number(text: str) -> int:
    """A whole number."""
    try:
        return int(text)
    except ValueError:
        msg = f"takes a whole number, such as 6; got {text!r}"
        raise argparse.ArgumentTypeError(msg) from None


def year_number(text: str) -> int:
    """A calendar year."""
    try:
        return int(text)
    except ValueError:
        msg = f"takes a year, such as 1990; got {text!r}"
        raise argparse.ArgumentTypeError(msg) from None


def year_span(text: str) -> range:
    """A year, or the first and last of several with a hyphen between them."""
    first, hyphen, last = text.partition("-")
    try:
        ends = int(first), int(last) if hyphen else int(first)
    except ValueError:
        ends = 1, 0
    if not 1 <= ends[0] <= ends[1] <= 9999:
        msg = f"takes a year, or the first and last of several, such as 1990-1995; got {text!r}"
        raise argparse.ArgumentTypeError(msg)
    return range(ends[0], ends[1] + 1)


def number(text: str) -> float:
    """A finite number."""
    try:
        value = float(text)
    except ValueError:
        value = math.nan
    if not math.isfinite(value):
        msg = f"takes a number, such as 46.1; got {text!r}"
        raise argparse.ArgumentTypeError(msg)
    return value


def _measured(read: Callable[[str], float]) -> Callable[[str], float]:
    """A reader of the library's as a converter: argparse writes the option before the text."""

    def convert(text: str) -> float:
        try:
            return read(text)
        except InputError as error:
            told = [str(piece) for piece in error.pieces if not isinstance(piece, Parameter)]
            raise argparse.ArgumentTypeError("".join(told).strip().rstrip(".")) from None

    return convert


height = _measured(metres_of)
"""A height, in metres or in feet with their unit. [m]"""
distance = _measured(kilometres_of)
"""A distance, in kilometres or in miles with their unit. [km]"""
warming = _measured(celsius_difference_of)
"""A difference of temperature, in degC or in degF with its unit. [degC]"""
share = _measured(share_of)
"""Odds, from 0 to 1 or as a percentage."""
temperature = _measured(celsius_of)
"""A temperature, in degC or in degF with its unit. [degC]"""


def units(text: str) -> Units:
    """Units of temperatures, by their letter or their name."""
    letter = text.strip().lower().removeprefix("deg").removeprefix("\N{DEGREE SIGN}")
    known = {"c": "C", "celsius": "C", "metric": "C", "f": "F", "fahrenheit": "F"}
    if letter not in known:
        msg = f"takes C, or F for degrees Fahrenheit, feet and miles; got {text!r}"
        raise argparse.ArgumentTypeError(msg)
    return cast("Units", known[letter])


def shown_units_option(what: str = "units to show") -> Any:
    """The units that a person reads."""
    purpose = f"{what}: C, or F with feet, inches and miles (%(default)s)"
    return option("--units", purpose, convert=units, metavar="C|F", default="C")


def logger_units_option() -> Any:
    """The unit in which a logger's file has its temperatures."""
    purpose = "the unit of the logger's temperatures, where its file does not say: C or F"
    return option("--logger-units", purpose, convert=units, metavar="C|F")


def pair(form: str) -> Callable[[str], tuple[str, str]]:
    """Two texts with an equals sign between them; `form` shows an example."""

    def convert(text: str) -> tuple[str, str]:
        left, equals, right = text.partition("=")
        if not equals:
            msg = f"write {form}; got {text!r}"
            raise argparse.ArgumentTypeError(msg)
        return left, right

    return convert
