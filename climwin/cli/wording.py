"""Errors in the words of someone who types commands: options and commands, no Python."""

from __future__ import annotations

import shlex
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from pathlib import Path

from climwin.core.errors import (
    Attribute,
    Call,
    ClimwinError,
    Mention,
    Parameter,
    StationError,
)
from climwin.io.files import nearest_file

_TYPED = {
    "crop_names": "climwin crops",
    "fetch_history": "climwin fetch",
    "find_stations": "climwin stations",
    "read_crop": "--crop mine.toml",
    "read_daily": "climwin page record.csv",
    "read_logger": "climwin space logger.csv record.csv",
    "record_sheet": "climwin trial plan",
    "sample": "climwin demo",
}
"""What one types for a function that the library's errors advise."""

_LINES = {
    "elevation": "a line such as '# elevation: 610'",
    "latitude": "a line such as '# latitude: 46.1'",
}
"""How a file says what is an attribute of the record that is read from it."""

_OPTIONS = {"latitude": "--lat 46.1 and --lon 7.2"}
"""Options that say the same as an attribute of the record, where a command has them."""

_ELSEWHERE = {"radius_km": "--radius"}
"""Options of the commands in `_TYPED`, which other commands' errors advise."""

Failure = (ValueError, StationError, OSError)
"""What a command answers with one line and the exit code 1."""


class OptionError(Exception):
    """An error about one option.

    Parameters
    ----------
    field : str
        Of the command's options.
    cause : Exception
        What the library said.
    renamed : mapping of str to str
        Parameters of the library, and the fields that gave them here.
    """

    def __init__(self, field: str, cause: Exception, renamed: Mapping[str, str]) -> None:
        super().__init__(field, cause)
        self.field, self.cause, self.renamed = field, cause, renamed


@contextmanager
def about(
    field: str, *kinds: type[Exception], renamed: Mapping[str, str] | None = None
) -> Iterator[None]:
    """Say of errors raised inside that they are about this field of the options.

    Parameters
    ----------
    field : str
        Its name, or that of the library's parameter.
    *kinds : type
        Of the errors; all that a command answers for, where none is given.
    renamed : mapping of str to str, optional
        Parameters of the library whose field has another name here.
    """
    caught = kinds or Failure
    try:
        yield
    except caught as error:
        raise OptionError(field, error, renamed or {}) from error


def explain(error: Exception, names: Mapping[str, str]) -> str:
    """An error as a line or more for the person at the command.

    Parameters
    ----------
    error : Exception
        What stopped the command.
    names : mapping of str to str
        How each parameter is typed, from `options.typed_names`.
    """
    field, cause = None, error
    if isinstance(error, OptionError):
        field, cause = error.field, error.cause
        own = {name: names[typed] for name, typed in error.renamed.items() if typed in names}
        names = {**names, **own}
    if isinstance(cause, ClimwinError):
        text = cause.worded(lambda mention: in_the_shell(mention, names))
        field = field or cause.parameter
    else:
        text = _plain_error(cause)
    typed = names.get(field or "", "")
    return f"{typed}: {text}" if typed.startswith("--") and typed not in text else text


def _plain_error(error: Exception) -> str:
    if isinstance(error, MemoryError):
        return "This machine has too little memory for that. Take fewer years, or fewer stations."
    if isinstance(error, OSError) and error.filename:
        return f"{error.filename}: {error.strerror}.{_file_advice(error)}"
    return str(error)


def _file_advice(error: OSError) -> str:
    """What to do about a file: one of a near name in its folder, where it is not there."""
    file = Path(str(error.filename))
    if isinstance(error, FileExistsError):
        return " It is in the way: give another name."
    if not isinstance(error, FileNotFoundError):
        return ""
    near = nearest_file(file)
    if near is not None:
        return f" Did you mean {near}?"
    return " Check its name, and the folder that you are in."


def in_the_shell(mention: Mention, names: Mapping[str, str]) -> str:
    """Spell a mention of the library as one types it at the command."""
    if isinstance(mention, Attribute):
        line = f"{_LINES[mention.name]} above the record's table"
        typed = mention.name in names and _OPTIONS.get(mention.name)
        return f"{typed}, or {line}" if typed else line
    if isinstance(mention, Call):
        given = [
            in_the_shell(each, names) for each in mention.arguments if isinstance(each, Parameter)
        ]
        return f"`{' '.join([_TYPED.get(mention.name, 'climwin --help'), *given])}`"
    name = names.get(mention.name) or _ELSEWHERE.get(mention.name)
    shown = name or mention.name.replace("_", " ")
    if mention.value is None or mention.value is True:
        return shown
    return " ".join(f"{shown} {value}" for value in _values(mention.value))


_SET = {
    "crop_names": "climwin crops",
    "find_stations": "climwin stations",
    "read_crop": "--set crop_name=mine.toml",
    "read_daily": "--set record=record.csv",
    "read_logger": "--set log=logger.csv",
    "record_sheet": "climwin trial plan",
    "sample": "--set record=",
}
"""What one types for a function that the library's errors advise, where a notebook is run."""


def in_the_notebook(mention: Mention, names: Mapping[str, str]) -> str:
    """Spell a mention of the library for someone who runs a notebook by ``climwin notebook``.

    Parameters
    ----------
    mention : Mention
        What an error mentions.
    names : mapping of str to str
        Parameters of the library, and the values of the notebook's first cell that give them.

    Examples
    --------
    >>> in_the_notebook(Parameter("units", "F"), {"units": "record_units"})
    '--set record_units=F'
    """
    if isinstance(mention, Attribute):
        line = f"{_LINES[mention.name]} above the record's table"
        return f"--set {mention.name}=, or {line}" if mention.name in names else line
    if isinstance(mention, Call):
        given = [
            in_the_notebook(each, names)
            for each in mention.arguments
            if isinstance(each, Parameter) and each.name in names
        ]
        return f"`{' '.join([_SET.get(mention.name, 'climwin lab'), *given])}`"
    if mention.name not in names:
        shown = mention.name.replace("_", " ")
        return shown if mention.value is None else f"{shown} {mention.value}"
    typed = f"--set {names[mention.name]}"
    return typed if mention.value is None else f"{typed}={_quoted(str(mention.value))}"


def _values(value: object) -> list[str]:
    """A value as one types it, in quotes unless it is one plain word."""
    if isinstance(value, Mapping):
        return [f"{key}={_quoted(str(each))}" for key, each in value.items()]
    return [_quoted(str(value))]


def _quoted(text: str) -> str:
    plain = text.replace(".", "").replace("-", "").isalnum()
    return text if plain else shlex.quote(text) if "'" in text else f"'{text}'"
