"""The look that figures share: titles, credits, scenarios, axes and bands."""

import pickle

import numpy as np
import pytest
import xarray as xr
from drawn import foot, title

from climwin.core.provenance import warm_by
from climwin.plot import style


def _sheet(attrs, **given):
    with style.sheet("A finding", 3.0, attrs, **given) as figure:
        figure.subplots()
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
    by_coordinate = style.facts(record[["tmin"]].drop_attrs(deep=False), None)
    assert title(_sheet(by_coordinate)) == "What if it were 2 °C warmer: A finding"


def test_facts_are_the_result_s_own_unless_given():
    result = xr.Dataset(attrs={"source": "own"})
    assert style.facts(result, None) == {"source": "own"}
    assert style.facts(result, {"source": "given"}) == {"source": "given"}


def test_numbers_stay_with_their_units():
    text = style.wrapped("as cold as 10 °C on 20 Jul in 39 years", 12).splitlines()
    assert text == ["as cold as", "10 °C on", "20 Jul in", "39 years"]


def test_months_stand_in_their_middle_from_the_year_s_cut_on():
    from matplotlib.figure import Figure

    ax = Figure().subplots()
    style.month_axis(ax, 182)  # 1 July
    labels = {text.get_text(): tick for tick, text in zip(*_minor(ax), strict=True)}
    first = [tick for tick, text in zip(*_minor(ax), strict=True) if text.get_text() == "A"]
    assert labels["D"] == 365 - 182 - 31 + 1 + 15  # 1 December is day 335
    assert sorted(first) == [31 + 15, 274 + 15]  # August, and April of the next year


def _minor(ax):
    return ax.get_xticks(minor=True), ax.get_xticklabels(minor=True)


def test_places_on_the_axis_wrap_round_the_year():
    assert style.on_axis([350, 365, 1], 350).tolist() == [0, 15, 16]


def test_years_without_a_mark_say_why():
    from matplotlib.figure import Figure

    ax = Figure().subplots()
    status = np.array(["observed", "none", "unknown"])
    style.say_missing(ax, np.array([2001, 2002, 2003]), status, "no window")
    assert [(t.get_text(), t.get_position()[1]) for t in ax.texts] == [
        ("no window", 2002),
        ("a gap in the record", 2003),
    ]


def test_bands_lie_between_their_percentiles():
    from matplotlib.figure import Figure

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
        ax = figure.subplots()
        ax.barh([], [], label="none of these")
        ax.barh([2001], [3], label="some of these")
        ax.plot([1, 2], [2001, 2001], label="a line")
        style.legend(ax, ncols=2)
    assert [text.get_text() for text in ax.get_legend().get_texts()] == ["a line", "some of these"]
