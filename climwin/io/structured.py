"""Read a TOML file into a dataclass, by the annotations of its fields; errors name the key."""

from __future__ import annotations

import reprlib
import tomllib
from collections.abc import Callable
from dataclasses import MISSING, fields, is_dataclass
from functools import lru_cache
from pathlib import Path
from types import UnionType
from typing import Any, Literal, NoReturn, TypeVar, Union, get_args, get_origin, get_type_hints

from climwin.core.errors import ClimwinError, Parameter, RecordError, did_you_mean
from climwin.io.files import file_size, nearest_file

Kind = TypeVar("Kind")

LARGEST = 1_000_000
"""Largest file that is read. [bytes]"""

MOST_DOTS = 100
"""Largest number of dots in a line: a key of 400,000 dotted parts would keep `tomllib` busy for an
hour."""

_RULES: dict[type, tuple[str, Callable[[Any], bool]]] = {
    str: ("text, not empty", lambda value: isinstance(value, str) and bool(value.strip())),
    bool: ("true or false", lambda value: isinstance(value, bool)),
    int: ("a whole number below 10000", lambda value: type(value) is int and abs(value) < 10_000),
    float: (
        "a number below 100000",
        lambda value: type(value) in (int, float) and abs(value) < 100_000,
    ),
}


def read_toml(kind: type[Kind], path: str | Path) -> Kind:
    """Dataclass from a TOML file, see `from_toml`.

    Raises
    ------
    RecordError
        If the file cannot be opened, or its content is not allowed.
    """
    file = Path(path)
    try:
        file_size(file)
        with file.open("rb") as opened:
            raw = opened.read(LARGEST + 1)
    except OSError as error:
        near = nearest_file(file) if isinstance(error, FileNotFoundError) else None
        advice = "Give the path of a TOML file." if near is None else f"Did you mean {near}?"
        msg = f"{file} cannot be read: {error.strerror}. {advice}"
        raise RecordError(msg) from error
    return from_toml(kind, raw, str(file))


def from_toml(kind: type[Kind], raw: bytes, file: str) -> Kind:
    """Dataclass from the bytes of a TOML file.

    Parameters
    ----------
    kind : type
        A dataclass whose fields are text, numbers (or either), choices, dataclasses, or tuples of
        these.
    raw : bytes
        Content of the file: UTF-8, at most 1 MB.
    file : str
        Name of the file, for error messages.

    Raises
    ------
    RecordError
        The message names the file, the table and key, what was given and what is allowed.
    """
    if len(raw) > LARGEST:
        msg = f"{file} is larger than 1 MB. A page of text was expected: is it the right file?"
        raise RecordError(msg)
    lines = enumerate(raw.splitlines(), 1)
    if dotted := next((n for n, line in lines if line.count(b".") > MOST_DOTS), None):
        msg = f"{file}, line {dotted}: over {MOST_DOTS} dots in a line. Is it the right file?"
        raise RecordError(msg)
    try:
        table = tomllib.loads(raw.decode("utf-8-sig"))
    except UnicodeDecodeError as error:
        line = raw.count(b"\n", 0, error.start) + 1
        msg = f"{file}, line {line}: not UTF-8. Save it as plain text with the encoding UTF-8."
        raise RecordError(msg) from error
    except (ValueError, RecursionError) as error:  # also a number too long, lists too deep
        msg = (
            f"{file} is not TOML: {error}. Write key = value, with double quotes around text and "
            'around a number that has a unit, such as "850 ft".'
        )
        raise RecordError(msg) from error
    built: Kind = _build(kind, table, file)
    return built


def _build(kind: Any, value: Any, where: str) -> Any:
    """A value from a TOML file in the type of its field; errors begin with `where`."""
    origin, of = get_origin(kind), get_args(kind)
    if is_dataclass(kind):
        return _build_table(kind, value, where)
    if origin in (UnionType, Union):
        return _build_one_of(of, value, where)
    if origin is tuple:
        return _build_list(of, value, where)
    if origin is Literal:
        rule, allowed = f"one of {', '.join(of)}", value in of
    else:
        rule, check = _RULES[kind]
        allowed = check(value)
    if not allowed:
        _refuse(where, rule, value)
    return float(value) if kind is float else value


def _build_one_of(of: tuple[Any, ...], value: Any, where: str) -> Any:
    """A value of one of several types. TOML cannot write None, so it is none of them."""
    kinds = [kind for kind in of if kind is not type(None)]
    if len(kinds) == 1:
        return _build(kinds[0], value, where)
    fitting = [kind for kind in kinds if _RULES[kind][1](value)]
    if not fitting:
        _refuse(where, " or ".join(_RULES[kind][0] for kind in kinds), value)
    return _build(fitting[0], value, where)


def _build_list(of: tuple[Any, ...], value: Any, where: str) -> tuple[Any, ...]:
    """A tuple from a list, of any length or as long as the field says."""
    any_length = of[-1] is Ellipsis
    if not isinstance(value, list) or not (any_length or len(value) == len(of)):
        _refuse(where, "a list" if any_length else f"a list of {len(of)}", value)
    kinds = of[:1] * len(value) if any_length else of
    pairs = zip(kinds, value, strict=True)
    return tuple(_build(kind, item, f"{where} {n}") for n, (kind, item) in enumerate(pairs, 1))


def _build_table(kind: Any, value: Any, where: str) -> Any:
    """A dataclass from a table; unknown keys, missing ones and wrong values are refused."""
    allowed = {each.name: each.default for each in fields(kind)}
    if not isinstance(value, dict):
        _refuse(where, f"a table of {', '.join(allowed)}", value)
    for key in value:
        if key not in allowed:
            advice = did_you_mean(key[:99], allowed) or " Leave it out."
            msg = (
                f"{where}: unknown key {reprlib.repr(key)}.{advice} Allowed: {', '.join(allowed)}."
            )
            raise RecordError(msg)
    missing = [key for key, default in allowed.items() if default is MISSING and key not in value]
    if missing:
        is_sourced = any("source" in key for key in allowed)
        source = " Every number needs its source, too." if is_sourced else ""
        it = "it" if len(missing) == 1 else "them"
        msg = f"{where} lacks {', '.join(missing)}: write {it} in.{source}"
        raise RecordError(msg)
    types = _types_of_fields(kind)
    built = {key: _build(types[key], item, f"{where}, {key}") for key, item in value.items()}
    try:
        return kind(**built)
    except ClimwinError as error:
        told = [_in_toml(p) if isinstance(p, Parameter) else p for p in error.pieces]
        begin = f"{where}: "
        raise RecordError(begin, *told) from error
    except ValueError as error:
        msg = f"{where}: {error}"
        raise RecordError(msg) from error


@lru_cache
def _types_of_fields(kind: type) -> dict[str, Any]:
    """Types of a dataclass's fields by name, cached because a catalogue needs them often."""
    return get_type_hints(kind)


def _in_toml(field: Parameter) -> str:
    """A field as it is written in the file; its key is the field's name."""
    if field.value is None:
        return field.name
    value = str(field.value)
    return f"{field.name} = {value.lower() if isinstance(field.value, bool) else value}"


def _refuse(where: str, rule: str, value: Any) -> NoReturn:
    msg = f"{where} must be {rule}; got {reprlib.repr(value)}."
    raise RecordError(msg)
