"""Figures by their artists and labels: what they show is what was computed."""

import pytest
from matplotlib.patches import Rectangle

import climwin as cw
from climwin.core.seasons import day_of_year
from climwin.plot import style
from climwin.report import sentences


@pytest.fixture(scope="module")
def axes(pellbrook):
    return cw.plot_summary(pellbrook).axes


def _bars(ax, colour):
    import matplotlib.colors as mc

    wanted = mc.to_rgba(colour)
    return [p for p in ax.patches if isinstance(p, Rectangle) and p.get_facecolor() == wanted]


def test_the_title_is_the_finding(pellbrook):
    title = cw.plot_summary(pellbrook)._suptitle.get_text()
    assert title.replace("\n", " ") == sentences.too_short(pellbrook)


def test_one_bar_for_each_known_year_as_long_as_its_window(pellbrook, axes):
    window = pellbrook.window
    length, need = window["length"].values, pellbrook.need_days
    long = _bars(axes[1], style.ENOUGH)
    short = _bars(axes[1], style.SHORT)
    assert sorted(b.get_width() for b in long) == sorted(length[length >= need])
    assert sorted(b.get_width() for b in short) == sorted(length[(length > 0) & (length < need)])


def test_what_a_short_year_lacks_reaches_the_need(pellbrook, axes):
    short = {b.get_y(): b for b in _bars(axes[1], style.SHORT)}
    for bar in _bars(axes[1], style.MISSING):
        own = short[bar.get_y()]
        assert own.get_width() + bar.get_width() == pellbrook.need_days
        assert bar.get_x() == own.get_x() + own.get_width()


def test_the_axis_starts_at_the_year_s_cut_and_the_bars_lie_on_their_dates(pellbrook, axes):
    first = int(pellbrook.windows["first_day"])
    year = pellbrook.window.isel(season=0)
    at = (day_of_year(year["start"].values[None])[0] - first) % 365
    bars = _bars(axes[1], style.ENOUGH) + _bars(axes[1], style.SHORT)
    own = [b for b in bars if abs(b.get_y() + b.get_height() / 2 - int(year["season"])) < 0.01]
    assert [b.get_x() for b in own] == [at]


@pytest.mark.parametrize(("units", "factor", "zero"), [("C", 1.0, 0.0), ("F", 1.8, 32.0)])
def test_the_crop_s_band_is_laid_over_in_the_unit_asked_for(pellbrook, units, factor, zero):
    upper = cw.plot_summary(pellbrook, units=units).axes[0]
    band = cw.bearable_band(pellbrook.crop)
    low, high = (factor * limit + zero for limit in (band.low_c, band.high_c))
    flat = [line for line in upper.lines if len(set(line.get_ydata())) == 1]
    edges = sorted({float(line.get_ydata()[0]) for line in flat})
    assert any(abs(edge - low) < 1e-9 for edge in edges)
    assert any(abs(edge - high) < 1e-9 for edge in edges)
    assert upper.get_ylabel() == f"Daily mean (°{units})"


def test_a_year_with_a_gap_is_told_on_the_chart(pellbrook, axes):
    unknown = int((pellbrook.window["status"] == "unknown").sum())
    told = [t for t in axes[1].texts if t.get_text() == "a gap in the record"]
    assert len(told) == unknown > 0


def test_text_is_at_least_11_px_on_a_phone(pellbrook):
    figure = cw.plot_summary(pellbrook, narrow=True)
    scale = (390 - 36) / figure.get_figwidth() / 72  # px a point, the page's margins taken off
    texts = [t for ax in figure.axes for t in ax.get_legend().get_texts()]
    texts += [label for ax in figure.axes for label in ax.get_xticklabels(minor=True)]
    assert min(t.get_fontsize() for t in texts) * scale >= 11
