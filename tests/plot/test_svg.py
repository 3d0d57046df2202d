"""Drawings made small lose nothing that can be seen."""

import re

import pytest
from hypothesis import given
from hypothesis import strategies as st

from climwin.plot.svg import _in_steps

PLACE = st.tuples(st.floats(-900, 900), st.floats(-900, 900))
LETTERS = {"M": 1, "L": 1, "Q": 2, "C": 3}


@st.composite
def paths(draw):
    """A path as matplotlib writes one, and the points that it goes through, in tenths."""
    text, points = "", []
    for _ in range(draw(st.integers(1, 4))):
        letters = ["M", *draw(st.lists(st.sampled_from("LQC"), max_size=6))]
        for letter in letters:
            places = draw(st.lists(PLACE, min_size=LETTERS[letter], max_size=LETTERS[letter]))
            text += letter + " ".join(f"{x:f} {y:f}" for x, y in places) + " \n"
            points += [
                (round(10 * float(f"{x:f}")), round(10 * float(f"{y:f}"))) for x, y in places
            ]
        text += draw(st.sampled_from(["", "z\n"]))
    return text, points


def points_of(path):
    """Points that relative lines and curves go through, in tenths, by the rules of SVG."""
    found, start, at = [], (0, 0), (0, 0)
    for letter, numbers in re.findall(r"([a-z])([^a-z]*)", path):
        tenths = [round(10 * float(n)) for n in re.findall(r"-?[\d.]+", numbers)]
        points = [(at[0] + x, at[1] + y) for x, y in zip(tenths[::2], tenths[1::2], strict=True)]
        found += points
        at = points[-1] if points else start
        start = at if letter == "m" else start
    return found


@given(paths())
def test_a_path_in_steps_goes_through_the_same_points_to_a_tenth(drawn):
    path, points = drawn
    assert points_of(_in_steps(path)) == points


@pytest.mark.parametrize(
    ("path", "steps"),
    [
        ("M 1 2 \nL 3.04 1.96 \n", "m1 2l2 0"),
        ("M 1 1 L 2 2 z M 5 5 L 4 4", "m1 1l1 1zm4 4l-1-1"),
        ("M 0 0 C 1 0 2 1 2 2", "m0 0c1 0 2 1 2 2"),
    ],
)
def test_steps_are_written_without_needless_blanks(path, steps):
    assert _in_steps(path) == steps
