"""The look that figures share: titles, credits, scenarios, axes and bands."""

import io
import pickle
import threading

import matplotlib as mpl
import numpy as np
import pytest
import xarray as xr
from drawn import foot, title
from matplotlib.figure import Figure
from matplotlib.text import Text

import climwin as cw
from climwin.core.provenance import warm_by
from climwin.core.wording import MONTHS
from climwin.page.sections import Page
from climwin.plot import plans, shelter, style
from climwin.plot.summary import plot_summary


def _sheet(attrs, **given):
    with style.sheet("A finding", 3.0, attrs, **given) as figure:
        style.subplots(figure)
    return figure


def test_the_credit_travels_with_the_figure():
    attrs = {"source": "the station at Pellbrook", "licence": "CC BY 4.0"}
    assert foot(_sheet(attrs)) == "Weather data: the station at Pellbrook; licence: CC BY 4.0."
    assert foot(_sheet({})) == ""


def test_a_notebook_shows_the_picture():
    figure = _sheet({})
    assert figure._repr_png_().startswith(b"\x89PNG\r\n")  # signature of PNG, ISO/IEC 15948
    assert pickle.loads(pickle.dumps(figure))._repr_png_()


def test_a_note_stands_above_the_credit():
    found = _sheet({"source": "a file"}, note="How to read it.").get_supxlabel()
    assert found.splitlines() == ["How to read it.", "Weather data: a file."]


@pytest.mark.parametrize("narrow", [False, True])
def test_a_long_credit_is_wrapped_and_never_cut(narrow):
    attrs = {"source": "a very long source of weather " * 12, "licence": "the end"}
    assert foot(_sheet(attrs, narrow=narrow)).endswith("the end.")


def test_a_scenario_leads_the_title(pellbrook):
    record = warm_by(pellbrook.daily, 2.0)
    assert title(_sheet(record.attrs)) == "What if it were 2 °C warmer: A finding"
    by_coordinate = style.record_attrs(record[["tmin"]].drop_attrs(deep=False), None)
    assert title(_sheet(by_coordinate)) == "What if it were 2 °C warmer: A finding"


def test_facts_are_the_result_s_own_unless_given():
    result = xr.Dataset(attrs={"source": "own"})
    assert style.record_attrs(result, None) == {"source": "own"}
    assert style.record_attrs(result, {"source": "given"}) == {"source": "given"}


def test_numbers_stay_with_their_units():
    text = style.wrapped("as cold as 10 °C on 20 Jul in 39 years", 12).splitlines()
    assert text == ["as cold as", "10 °C on", "20 Jul in", "39 years"]


def _months(first_day, width):
    ax = Figure(figsize=(width, 3)).subplots()
    style.month_axis(ax, first_day)
    return [(text.get_text(), tick) for tick, text in zip(*_minor(ax), strict=True)]


def test_months_stand_in_their_middle_from_the_year_s_cut_on():
    months = _months(182, style.WIDE)  # 1 July
    assert [name for name, _ in months] == [*MONTHS[6:], *MONTHS[:6]]
    places = dict(months)
    assert places["Dec"] == 365 - 182 - 31 + 1 + 15  # 1 December is day 335
    assert places["Aug"] == 31 + 15


def test_a_month_that_the_axis_begins_amid_is_named_at_its_end():
    months = _months(349, style.WIDE)  # 15 December
    assert [name for name, _ in months][::11] == ["Jan", "Dec"]
    assert 351 < months[-1][1] < 365


def test_where_it_is_narrow_every_other_month_is_named():
    assert [name for name, _ in _months(1, style.NARROW)] == list(MONTHS[::2])


def _minor(ax):
    return ax.get_xticks(minor=True), ax.get_xticklabels(minor=True)


def test_places_on_the_axis_wrap_round_the_year():
    assert style.on_axis([350, 365, 1], 350).tolist() == [0, 15, 16]


def test_years_without_a_mark_say_why():
    ax = Figure().subplots()
    status = np.array(["observed", "none", "unknown"])
    style.say_missing(ax, np.array([2001, 2002, 2003]), status, "no window")
    assert [(t.get_text(), t.get_position()[1]) for t in ax.texts] == [
        ("no window", 2002),
        ("a gap in the record", 2003),
    ]


def test_bands_lie_between_their_percentiles():
    ax = Figure().subplots()
    values = xr.DataArray(
        [[1.0, 2, 3, 4, 5]] * 3,
        dims=("day", "percentile"),
        coords={"percentile": [10, 25, 50, 75, 90]},
    )
    style.spread(ax, values)
    named = {each.get_label(): each.get_datalim(ax.transData) for each in ax.collections}
    assert [(box.y0, box.y1) for box in named.values()] == [(1, 5), (2, 4)]
    assert list(named) == ["8 in 10 of all days", "half of all days"]
    assert ax.lines[0].get_ydata().tolist() == [3, 3, 3]


def test_bars_that_are_not_there_have_no_key():
    with style.sheet("A finding", 3.0, {}) as figure:
        ax = style.subplots(figure)
        ax.barh([], [], label="none of these")
        ax.barh([2001], [3], label="some of these")
        ax.plot([1, 2], [2001, 2001], label="a line")
        style.legend(ax, ncols=2)
    assert [text.get_text() for text in ax.get_legend().get_texts()] == ["a line", "some of these"]


# --- matplotlib's settings are the user's -------------------------------------------------


@pytest.fixture
def drawing(pellbrook):
    """Makes and saves every figure of a page, and two with heads, hatches or a colours' key."""
    odds = cw.space_odds(pellbrook.daily, cw.COVERS["cold frame"], pellbrook.crop, "03-05", "04-15")
    shifts = cw.sensitivity(pellbrook.daily, pellbrook.crop, need_days=pellbrook.need_days)

    def draw():
        page = Page(pellbrook, "C", None)
        for name in ("reason", "ways", "freezes", "comfort"):
            page.section(name)
        for figure in (shelter.space_years(odds), plans.sensitivity_grid(shifts)):
            figure.savefig(io.BytesIO(), format="png")

    return draw


def test_no_setting_is_changed_even_for_a_moment(drawing, monkeypatch):
    changed = []
    for name in ("__setitem__", "_set", "update", "_update_raw"):
        if hasattr(mpl.RcParams, name):
            monkeypatch.setattr(mpl.RcParams, name, lambda *given: changed.append(given[1:]))
    drawing()
    assert changed == []


def test_another_thread_draws_with_its_own_settings(drawing):
    own, seen = {"text.color": "red", "axes.spines.top": True}, set()
    began, done = threading.Event(), threading.Event()

    def draw():
        while not done.is_set():
            ax = Figure().subplots()
            seen.add((ax.text(0, 0, "x").get_color(), ax.spines["top"].get_visible()))
            began.set()

    with mpl.rc_context(own):  # as a user sets them, once
        other = threading.Thread(target=draw)
        other.start()
        try:
            assert began.wait(60)
            drawing()
        finally:
            done.set()
        other.join()
    assert seen == {("red", True)}


def test_our_figures_look_the_same_whatever_a_user_sets(pellbrook):
    def colours():
        figure = plot_summary(pellbrook)
        figure.draw_without_rendering()
        texts = [text for text in figure.findobj(Text) if text.get_text()]
        spines = [s for ax in figure.axes for s in ax.spines.values() if s.get_visible()]
        return (
            [(t.get_text(), mpl.colors.to_hex(t.get_color()), t.get_fontsize()) for t in texts],
            [mpl.colors.to_hex(spine.get_edgecolor()) for spine in spines],
        )

    plain = colours()
    assert {colour for _, colour, _ in plain[0]} == {
        *(style.INK, style.PALE),
        *style.ZONE_WORDS.values(),
    }
    with mpl.rc_context({"text.color": "red", "xtick.color": "red", "axes.edgecolor": "red"}):
        assert colours() == plain
