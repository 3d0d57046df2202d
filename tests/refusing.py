"""What a refusal claims: what was given, what is allowed, what to do."""

from collections.abc import Callable

import pytest


def refused(work: Callable[[], object], *claims: str, kind: type[Exception] = ValueError) -> str:
    """The text of a refusal, in which each claim stands, one after the other."""
    with pytest.raises(kind) as caught:
        work()
    said, at = str(caught.value), 0
    for claim in claims:
        assert claim in said[at:], f"{claim!r} is not there, or not in its place: {said}"
        at = said.index(claim, at) + len(claim)
    return said
