"""A drawing in fewer bytes: the same picture to the eye, and nothing of its words lost."""

import io
import re

import numpy as np
import pytest
from matplotlib.image import imread

from climwin.page import assets, compact
from climwin.plot.comfort import plot_comfort
from climwin.plot.style import css_colours
from climwin.plot.summary import plot_summary


def drawn(report, name, monkeypatch=None):
    """A figure as a page has it; with `monkeypatch`, as it was before it was made short."""
    if monkeypatch is not None:
        monkeypatch.setattr(assets, "compact", lambda svg: svg)
    draw = {"spells": plot_summary, "comfort": plot_comfort}[name]
    return assets._picture(draw(report))


def pixels(browser, svg):
    tab = browser.new_page(viewport={"width": 800, "height": 600})
    type_ = "svg text { font-family: var(--type); } svg { width: 780px; }"
    style = f":root {{ --type: sans-serif; }} {css_colours()} {type_}"
    tab.set_content(f"<style>{style}</style><figure>{svg}</figure>")
    shot = imread(io.BytesIO(tab.screenshot()), format="png")
    tab.close()
    return shot[..., :3]


@pytest.mark.parametrize("name", ["spells", "comfort"])
def test_it_looks_as_it_did(browser, pellbrook, monkeypatch, name):
    short = drawn(pellbrook, name)
    long = drawn(pellbrook, name, monkeypatch)
    assert len(short) < 0.85 * len(long)
    before, after = (pixels(browser, svg) for svg in (long, short))
    away = np.abs(before - after).max(axis=-1)
    assert (before.min(axis=-1) < 0.9).mean() > 0.02  # there is a drawing
    assert (away > 0.3).mean() < 0.001  # a seam of a line here and there
    assert re.findall(r">([^<>\n]+)</text>", short) == re.findall(r">([^<>\n]+)</text>", long)


def test_styles_that_come_again_are_classes(browser, pellbrook):
    svg = drawn(pellbrook, "spells")
    page = f"<style>{css_colours()}</style><figure>{svg}</figure>"
    short = compact.with_classes(page)
    assert len(short) < 0.9 * len(page)
    assert not re.search(r'class="[^"]*"[^>]* class=', short)
    for text in (page, short):
        tab = browser.new_page(viewport={"width": 800, "height": 600})
        tab.set_content(text)
        sizes = tab.locator("svg text").evaluate_all(
            "all => all.map(getComputedStyle).map((look) => look.fontSize + look.fill)"
        )
        tab.close()
        if text is page:
            before = sizes
    assert sizes == before


def test_a_line_moves_by_less_than_it_is_thick():
    rng = np.random.default_rng(3)
    x = np.arange(0, 3650, 10)
    y = (2000 + 900 * np.sin(x / 300) + rng.normal(0, 8, len(x))).round().astype(int)
    points = list(zip(x.tolist(), y.tolist(), strict=True))
    kept = compact._without_unseen(points)
    assert len(kept) < len(points)
    between = np.interp(x, *np.array(kept).T)
    slope = np.abs(np.gradient(between, x))
    assert (np.abs(between - y) <= compact.UNSEEN * np.sqrt(1 + slope.max() ** 2) + 0.5).all()


def test_paths_with_curves_stay_as_they_are():
    path = "M0 4.3C1.1 4.3 2.2 3.8 3 3z"
    assert compact._in_steps(path) == path
