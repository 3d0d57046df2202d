"""A command run: what it prints is in the reader's own English, what it cannot do is one line."""

from __future__ import annotations

import argparse
import os
import sys
import warnings
from collections.abc import Callable, Iterable, Sequence
from contextlib import redirect_stderr, redirect_stdout
from typing import Any, NamedTuple, TextIO

from climwin.cli.options import parsed, typed_names
from climwin.cli.wording import Failure, OptionError, explain
from climwin.core.dialect import in_dialect, is_date
from climwin.core.schema import Units
from climwin.core.text import plain_text


def run(
    command: Callable[[Any], int | None],
    options: type[Any],
    typed: argparse.Namespace,
    arguments: Sequence[str],
) -> int:
    """Run a command with its options as they were typed; return its exit code, see `main.main`."""
    speech = _Speech(_shown_units(typed), _repeated(arguments))
    try:
        _check_letters(vars(typed).values())
        with (
            warnings.catch_warnings(),
            redirect_stdout(_SpokenOutput(sys.stdout, speech)),
            redirect_stderr(_SpokenOutput(sys.stderr, speech)),
        ):
            warnings.showwarning = _note
            code = command(parsed(options, typed))
    except BrokenPipeError:  # such as `head`, which has read enough
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
    except (*Failure, OptionError, MemoryError) as error:
        text = speech.says(explain(error, typed_names(options)))
        print(f"climwin: {plain_text(text, keep=chr(10))}", file=sys.stderr)
        return 1
    except KeyboardInterrupt:
        print("climwin: stopped", file=sys.stderr)
        return 130
    else:
        return code or 0
    return 0  # a broken pipe


def _shown_units(typed: argparse.Namespace) -> Units:
    """The units that the person reads, whichever of a command's groups has them; C by default.

    A notebook has them among the values that are set.
    """
    for name, value in vars(typed).items():
        if name.endswith(".shown_units"):
            units: Units = value
            return units
        if name.endswith(".values") and ("units", "F") in (value or ()):
            return "F"
    return "C"


def _repeated(arguments: Sequence[str]) -> tuple[str, ...]:
    """What was typed, as output may repeat it: in quotes, and bare if it is a name or a file.

    A bare date is left out, since it may also be a result, and so is the command, such as freezes,
    which may also be a word of a sentence.
    """
    bare = (text for text in arguments[1:] if not is_date(text))
    return (*map(repr, arguments), *bare)


class _Speech(NamedTuple):
    """The reader's units, and what was typed, which is repeated unchanged."""

    units: Units
    typed: tuple[str, ...]

    def says(self, text: str) -> str:
        return in_dialect(text, self.units, verbatim=self.typed)


class _SpokenOutput:
    """A stream that writes in the reader's own English, for all commands.

    It drops control characters, since names in files and lists may come from anybody.
    """

    def __init__(self, stream: TextIO, speech: _Speech) -> None:
        self._stream, self._speech = stream, speech

    def write(self, text: str) -> int:
        return self._stream.write(self._speech.says(plain_text(text, keep="\n\r\t")))

    def __getattr__(self, name: str) -> Any:
        return getattr(self._stream, name)


def _check_letters(given: Iterable[object]) -> None:
    """Refuse arguments with letters that the locale lacks: they came as bytes, not as letters."""
    for text in map(str, given):
        try:
            text.encode()
        except UnicodeEncodeError as error:
            msg = f"{text!a} has letters that this session's locale lacks. Set PYTHONUTF8=1."
            raise ValueError(msg) from error


def _note(message: Warning | str, *_: Any, **__: Any) -> None:
    """A warning as a line for the person at the command."""
    print(f"climwin: {message}", file=sys.stderr)
