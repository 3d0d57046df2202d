"""Wording that Python and the front end share.

The text stands in ``wording.json``; this module and ``widgets/js/src/wording.js`` read it. A
template has named placeholders, such as ``{years}``, which `say` fills with text that
`climwin.core.formatting` has formatted. Where the wording depends on a number, the template has the
two plural forms of English, ``one`` and ``other``, and the placeholder ``count`` decides between
them. Text that only one of the two languages needs stays in that language's code.
"""

from __future__ import annotations

import json
from collections.abc import Iterable
from importlib.resources import files
from typing import Any

_WORDING: dict[str, Any] = json.loads(
    (files("climwin.core") / "wording.json").read_text("utf-8"),
)

MONTHS: tuple[str, ...] = tuple(_WORDING["months"])
"""Short names of the months, January first."""
FULL_MONTHS = (
    "January",
    "February",
    "March",
    "April",
    "May",
    "June",
    "July",
    "August",
    "September",
    "October",
    "November",
    "December",
)
"""The same in full."""

WINDOW_NAMES: dict[str, str] = dict(_WORDING["window_names"])
"""What a sentence calls the window of the whole year, on the rise and on the fall."""

TEMPLATES: dict[str, str | dict[str, str]] = dict(_WORDING["templates"])
"""Templates by name: one text, or one text for each plural form."""


def say(name: str, **values: object) -> str:
    """Fill in a template.

    Parameters
    ----------
    name : str
        Name of the template in ``wording.json``.
    **values
        Text or whole numbers for its placeholders. ``count`` also chooses the plural form.

    Returns
    -------
    str
        The template with its placeholders filled in.

    Raises
    ------
    KeyError
        If there is no such template, or a placeholder was given no value.

    Examples
    --------
    >>> say("years", count=1)
    '1 year'
    >>> say("span", first="3 May", last="9 May")
    '3 May to 9 May'
    """
    template = TEMPLATES[name]
    if not isinstance(template, str):
        template = template["one" if values["count"] == 1 else "other"]
    return template.format_map(values)


def article(noun: str) -> str:
    """The indefinite article of a noun: "an" before a vowel, else "a"."""
    return "an" if noun[0] in "aeiou" else "a"


def capitalized(text: str) -> str:
    """Text with its first letter in upper case and the others as they are."""
    return text[:1].upper() + text[1:]


def listed(items: Iterable[str]) -> str:
    """Items in a sentence, the last after "and".

    Examples
    --------
    >>> listed(["May"]), listed(["May", "June", "July"])
    ('May', 'May, June and July')
    """
    *before, last = items
    return f"{', '.join(before)} and {last}" if before else last
