"""Dataclasses from TOML, on a small one of the tests' own; crops are read in test_crops."""

from dataclasses import dataclass
from typing import Literal

import pytest

from climwin.core.errors import RecordError
from climwin.io.structured import from_toml


@dataclass(frozen=True)
class Bed:
    crop: str
    rows: int

    def __post_init__(self) -> None:
        if self.rows < 1:
            msg = f"rows must be 1 or more, got {self.rows}."
            raise ValueError(msg)


@dataclass(frozen=True)
class Plot:
    name: str
    beds: tuple[Bed, ...]
    corner: tuple[float, float]
    shade: Literal["none", "half"] = "none"
    best: Bed | None = None
    height: float | str | None = None


GOOD = b"""
name = "south"
corner = [1, 2.5]
beds = [{ crop = "kale", rows = 3 }, { crop = "leek", rows = 2 }]
"""


def test_tables_lists_and_defaults():
    plot = from_toml(Plot, GOOD, "plot.toml")
    assert plot == Plot("south", (Bed("kale", 3), Bed("leek", 2)), (1.0, 2.5))
    assert type(plot.corner[0]) is float  # a whole number is good enough for a float

    for written, height in ((b"12", 12.0), (b'"40 ft"', "40 ft")):
        assert from_toml(Plot, GOOD + b"height = " + written, "plot.toml").height == height

    best = from_toml(Plot, GOOD + b'best = { crop = "pea", rows = 1 }\nshade = "half"', "plot.toml")
    assert (best.best, best.shade) == (Bed("pea", 1), "half")


@pytest.mark.parametrize(
    ("old", "new", "told"),
    [
        (b"rows = 2", b"rows = 0", r"plot.toml, beds 2: rows must be 1 or more, got 0"),
        (
            b"rows = 2",
            b"row = 2",
            r"plot.toml, beds 2: unknown key 'row'. Did you mean rows",
        ),
        (b"rows = 2", b"cat = 2", r"beds 2: unknown key 'cat'. Leave it out. Allowed: .*rows"),
        (b", rows = 2", b"", r"plot.toml, beds 2 lacks rows: write it in"),
        (b"rows = 2", b"rows = 2.0", r"beds 2, rows must be a whole number below 10000; got 2.0"),
        (b"[1, 2.5]", b"[1]", r"plot.toml, corner must be a list of 2; got \[1\]"),
        (b"[1, 2.5]", b"[1, inf]", r"plot.toml, corner 2 must be a number below 100000; got inf"),
        (b'"south"', b"1", r"plot.toml, name must be text, not empty; got 1"),
        (b"name", b'shade = "full"\nname', r"plot.toml, shade must be one of none, half; got 'ful"),
        (
            b"name",
            b"height = true\nname",
            r"height must be a number below 100000 or text, not empty; got True",
        ),
        (b"name", b"best = 1\nname", r"plot.toml, best must be a table of crop, rows; got 1"),
        (b"name =", b"name", r"plot.toml is not TOML: .*at line 2, column 6.* Write key = value"),
        (b"south", b"s\xfcd", r"plot.toml, line 2: not UTF-8"),
    ],
)
def test_complaint_says_where_and_what_is_allowed(old, new, told):
    with pytest.raises(RecordError, match=told):
        from_toml(Plot, GOOD.replace(old, new, 1), "plot.toml")


def test_long_values_are_told_in_short():
    with pytest.raises(RecordError) as caught:
        from_toml(Plot, GOOD.replace(b"[1, 2.5]", b'"' + b"x" * 100_000 + b'"'), "plot.toml")
    assert len(str(caught.value)) < 200
