"""What a refusal claims: what was given, what is allowed, what to do."""

import re
from collections.abc import Callable

import pytest


def refused(
    work: Callable[[], object],
    *claims: str,
    kind: type[Exception] | tuple[type[Exception], ...] = ValueError,
) -> str:
    """The text of a refusal, in which each claim stands in whole words, one after the other."""
    with pytest.raises(kind) as caught:
        work()
    said, at = str(caught.value), 0
    for claim in claims:
        begins, ends = (r"\b" if re.match(r"\w", each) else "" for each in (claim[0], claim[-1]))
        found = re.compile(f"{begins}{re.escape(claim)}{ends}").search(said, at)
        assert found, f"{claim!r} is not there, or not in its place: {said}"
        at = found.end()
    return said
