"""Errors that each front end words for its own reader.

An error is made of pieces: plain text, and mentions of a parameter or a function of the library.
``str()`` spells a mention as it is typed in Python; the command spells the same mention as its own
option or command (`climwin.cli.wording`), and other front ends may do likewise. So no finished text
is ever rewritten.
"""

from __future__ import annotations

import difflib
from collections.abc import Callable, Iterable
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Parameter:
    """A parameter that an error mentions.

    Parameters
    ----------
    name : str
        Its name in Python.
    value : object, optional
        The value to give it, if the error advises one.
    """

    name: str
    value: object = None


@dataclass(frozen=True, slots=True)
class Call:
    """A public function that an error advises to call.

    Parameters
    ----------
    name : str
        Its name in ``climwin``.
    arguments : tuple of str or Parameter
        What to call it with.
    """

    name: str
    arguments: tuple[str | Parameter, ...] = ()


@dataclass(frozen=True, slots=True)
class Attribute:
    """An attribute of a daily record that an error advises to set.

    Parameters
    ----------
    name : str
        Its name.
    value : object, optional
        The value to set it to, if the error advises one.
    """

    name: str
    value: object = None


Mention = Parameter | Call | Attribute


def in_python(mention: Mention) -> str:
    """Spell a mention as it is typed in Python.

    Examples
    --------
    >>> in_python(Parameter("units", "F"))
    "units='F'"
    >>> in_python(Call("find_stations", ("garden", Parameter("radius_km", 100))))
    'climwin.find_stations(garden, radius_km=100)'
    """
    if isinstance(mention, Attribute):
        target = f"daily.attrs[{mention.name!r}]"
        return target if mention.value is None else f"{target} = {mention.value!r}"
    if isinstance(mention, Parameter):
        return mention.name if mention.value is None else f"{mention.name}={mention.value!r}"
    arguments = [text if isinstance(text, str) else in_python(text) for text in mention.arguments]
    return f"climwin.{mention.name}({', '.join(arguments)})"


class ClimwinError(Exception):
    """Base class of all errors of climwin.

    Parameters
    ----------
    *pieces : str, Parameter, Call or Attribute
        The text, in pieces: plain text, and mentions of the library.
    parameter : str, optional
        The parameter at fault; by default the first one that the text mentions.

    Examples
    --------
    >>> error = InputError(Parameter("every_days"), " must be 1 or more, got 0.")
    >>> str(error)
    'every_days must be 1 or more, got 0.'
    >>> error.worded(lambda mention: "--every")
    '--every must be 1 or more, got 0.'
    >>> error.parameter
    'every_days'
    """

    def __init__(self, *pieces: str | Mention, parameter: str | None = None) -> None:
        super().__init__(*pieces)
        self.pieces = pieces
        mentioned = (piece.name for piece in pieces if isinstance(piece, Parameter))
        self.parameter = parameter or next(mentioned, None)

    def __str__(self) -> str:
        return self.worded(in_python)

    def _render_traceback_(self) -> list[str]:
        """What IPython shows: the text, which says what to do, and no traceback.

        IPython calls this method if an error has it.
        """
        return [f"{type(self).__name__}: {self}"]

    def worded(self, wording: Callable[[Mention], str]) -> str:
        """The text, each mention spelled by `wording`."""
        return "".join(wording(p) if isinstance(p, Mention) else str(p) for p in self.pieces)


class InputError(ClimwinError, ValueError):
    """An argument that cannot be used."""


class RecordError(ClimwinError, ValueError):
    """A file or record that cannot be used as it is; the text says where and what to do."""


class DataGapError(ClimwinError, ValueError):
    """Too little data to answer at all."""


class StationError(ClimwinError, RuntimeError):
    """No station was found, or its history could not be fetched."""


def in_one_line(error: OSError) -> OSError:
    """Make a notebook show an operating system's error, such as a missing file, as one line."""
    # IPython shows what this method returns, if an error has it.
    error._render_traceback_ = lambda: [  # type: ignore[attr-defined]
        f"{error.filename}: {error.strerror}. Check the name, and the folder it is in."
    ]
    return error


_LIKE = 0.65
"""Least likeness of two names, of 1, to ask whether one was meant: name and warmer have 0.6."""


def nearest_names(given: object, allowed: Iterable[object]) -> list[str]:
    """Up to three allowed names that someone who typed `given` may have meant.

    Capitals, spaces, hyphens and underscores do not matter. Names that have `given`, or its
    singular, as one of their words come first.

    Examples
    --------
    >>> nearest_names("Cold-Frames", ["none", "fleece", "cold frame"])
    ['cold frame']
    >>> nearest_names("beans", ["basil", "dry bean", "snap bean"])
    ['dry bean', 'snap bean']
    """
    plain = {_plain(str(name)): str(name) for name in allowed}
    typed = _plain(str(given))
    singular = {typed, typed.removesuffix("s"), typed.removesuffix("es")}
    near = [name for name in plain if singular & {name, *name.split()}]
    near += difflib.get_close_matches(typed, plain, cutoff=_LIKE)
    return [plain[name] for name in dict.fromkeys(near)][:3]


def did_you_mean(given: object, allowed: Iterable[object]) -> str:
    """A question for the end of an error, with the nearest allowed name; empty if none is near.

    Examples
    --------
    >>> did_you_mean("cold-frame", ["fleece", "cold frame"])
    ' Did you mean cold frame?'
    """
    near = nearest_names(given, allowed)[:1]
    return f" Did you mean {near[0]}?" if near else ""


def same_name(given: object, allowed: Iterable[object]) -> str | None:
    """The allowed name that equals `given` apart from capitals, hyphens and spaces; else None.

    Examples
    --------
    >>> same_name("Cold-Frame", ["fleece", "cold frame"])
    'cold frame'
    >>> same_name("igloo", ["fleece", "cold frame"]) is None
    True
    """
    typed = _plain(str(given))
    return next((str(name) for name in allowed if _plain(str(name)) == typed), None)


def _plain(name: str) -> str:
    return " ".join(name.replace("_", " ").replace("-", " ").split()).casefold()
