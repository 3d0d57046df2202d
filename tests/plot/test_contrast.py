"""Contrast of words and marks in figures and live charts, by the formula of WCAG 2.2."""

import itertools
import re

import pytest

from climwin.plot import style
from climwin.widgets import front_end

PAPERS = {"light": ("#fffdf9", "#ffffff"), "dark": ("#161c20", "#1d252a")}
"""The page's paper, and that of its fields (page.css)."""
WORDS = [style.INK, style.PALE, *style.ZONE_WORDS.values()]
MARKS = [*style.ZONE_WORDS.values(), style.LINE, style.ENOUGH]
"""Outlines of the marks: what is pale within has a darker edge."""


def luminance(colour):
    """Relative luminance of an sRGB colour (WCAG 2.2, from memory)."""
    parts = [int(colour[n : n + 2], 16) / 255 for n in (1, 3, 5)]
    linear = [p / 12.92 if p <= 0.04045 else ((p + 0.055) / 1.055) ** 2.4 for p in parts]
    return sum(w * part for w, part in zip((0.2126, 0.7152, 0.0722), linear, strict=True))


def contrast(one, other):
    bright, dim = sorted((luminance(one), luminance(other)), reverse=True)
    return (bright + 0.05) / (dim + 0.05)


def test_black_on_white_has_the_most_contrast():
    assert contrast("#000000", "#ffffff") == pytest.approx(21)
    assert contrast("#777777", "#ffffff") == pytest.approx(4.48, abs=0.01)  # just too little


@pytest.mark.parametrize("scheme", PAPERS)
@pytest.mark.parametrize(("inks", "least"), [(WORDS, 4.5), (MARKS, 3)])
def test_inks_of_figures_stand_out(scheme, inks, least):
    shown = inks if scheme == "light" else [style.DARK[ink] for ink in inks]
    found = {ink: round(contrast(ink, paper), 2) for ink in shown for paper in PAPERS[scheme]}
    assert {ink: ratio for ink, ratio in found.items() if ratio < least} == {}


def live_inks(scheme):
    """Values of the live chart's variables; the light ones are said twice."""
    if scheme == "dark":
        pairs = re.findall(r"--(\w+): light-dark\((#\w+), (#\w+)\)", front_end.style())
        return {name: longer(dark) for name, _, dark in pairs}
    first = front_end.style().partition("@supports")[0]
    return {name: longer(value) for name, value in re.findall(r"--(\w+): (#\w+)", first)}


def longer(colour):
    """A colour of three digits in six."""
    return "#" + "".join(2 * digit for digit in colour[1:]) if len(colour) == 4 else colour


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_inks_of_the_live_chart_stand_out(scheme):
    inks = live_inks(scheme)
    for name in ("ink", "soft", "words0", "words1", "words2", "wrong"):
        for paper in ("field", "paper"):
            assert contrast(inks[name], inks[paper]) >= 4.5, (name, paper)
    # A mark's outline is the ink of its words; lines of plans and of limits have none.
    for name in ("words0", "words1", "words2", "line", "second", "enough", "edge"):
        assert contrast(inks[name], inks["field"]) >= 3, name


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_the_live_chart_has_the_inks_of_the_still_figure(scheme):
    inks = live_inks(scheme)
    for zone, ink in style.ZONES.items():
        words = style.ZONE_WORDS[zone]
        expected = (ink, words) if scheme == "light" else (style.DARK[ink], style.DARK[words])
        assert (inks[f"zone{zone}"], inks[f"words{zone}"]) == expected


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_the_three_zones_stay_apart_in_grey(scheme):
    shown = [ink if scheme == "light" else style.DARK[ink] for ink in style.ZONES.values()]
    greys = [luminance(ink) for ink in shown]
    assert min(contrast(a, b) for a, b in itertools.pairwise(shown)) > 1.4
    assert greys in (sorted(greys), sorted(greys, reverse=True))
