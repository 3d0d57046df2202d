"""Text from files and providers, made safe to show: no character that steers a terminal or page."""

from __future__ import annotations

import unicodedata

_JOINERS = "\N{ZERO WIDTH NON-JOINER}\N{ZERO WIDTH JOINER}"
"""Format characters that spell words, in Persian and the scripts of India for instance."""


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
        The text without characters of the Unicode categories Cc, Cf and Cs: what moves a cursor,
        colours a terminal, reverses the direction of writing, or is half a character.

    Notes
    -----
    Direction characters can make a text read as another one: Unicode Technical Report 36, "Unicode
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
