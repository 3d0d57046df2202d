"""Text that is safe to show, and text whose numbers stay on one line with their unit."""

from __future__ import annotations

import re
import unicodedata

from climwin.core.wording import MONTHS

_JOINERS = "\N{ZERO WIDTH NON-JOINER}\N{ZERO WIDTH JOINER}"
"""Format characters that spelling needs, for instance in Persian and the scripts of India."""


def plain_text(text: str, keep: str = "") -> str:
    r"""Text without control and direction characters.

    Parameters
    ----------
    text : str
        Any text.
    keep : str
        Control characters that stay, such as a newline.

    Returns
    -------
    str
        The text without characters of the Unicode categories Cc, Cf and Cs, which move the cursor,
        colour a terminal, reverse the direction of writing, or are half of a surrogate pair.

    Notes
    -----
    Direction characters can make one text look like another: Unicode Technical Report 36, "Unicode
    Security Considerations", section 2.5 (from memory).

    Examples
    --------
    >>> plain_text("Mill\x1b[31m \u202eplot")
    'Mill[31m plot'
    """
    if text.isprintable():  # printable text has none of them
        return text
    return "".join(
        letter
        for letter in text
        if letter in keep
        or letter in _JOINERS
        or unicodedata.category(letter) not in ("Cc", "Cf", "Cs")
    )


_BEFORE_UNIT = re.compile(rf"(\d) (?=(?:{'|'.join(MONTHS)})[a-z]*\b|[°%]|years?\b|days?\b)")


def unbroken(text: str) -> str:
    r"""Text whose numbers stay on one line with their month, their unit or their total.

    Examples
    --------
    >>> unbroken("12 of 39 years").split(" ")
    ['12\xa0of\xa039\xa0years']
    """
    text = re.sub(r"(\d) of (?=\d+\b)", "\\1\N{NO-BREAK SPACE}of\N{NO-BREAK SPACE}", text)
    return _BEFORE_UNIT.sub("\\1\N{NO-BREAK SPACE}", text)
