"""The figure of comfortable weeks: its marks are the counts, its fields the crop's limits."""

import numpy as np
import pytest
import xarray as xr
from drawn import foot, keys, written

import climwin as cw
from climwin.plot import style
from climwin.plot.comfort import tiles_of
from climwin.report import sentences_decision as words


@pytest.fixture(scope="module")
def axes(pellbrook):
    return cw.plot_comfort(pellbrook).axes


def test_ten_marks_a_week_and_as_many_of_each_kind_as_counted(pellbrook, axes):
    weeks = pellbrook.comfort
    shown = {
        zone: sum(
            len(line.get_xdata())
            for line in axes[0].lines
            if line.get_marker() == style.ZONE_MARKS[zone]
        )
        for zone in (0, 1, 2)
    }
    assert sum(shown.values()) == 520
    exact = float((10 * weeks["years"].sel(state="comfortable") / weeks["known"]).sum())
    assert shown[2] == pytest.approx(exact, abs=26)  # half a mark a week at most


@pytest.mark.parametrize("seed", range(5))
def test_marks_are_rounded_to_ten_and_never_by_more_than_one(seed):
    rng = np.random.default_rng(seed)
    years = rng.multinomial(37, [0.1, 0.2, 0.4, 0.2, 0.1], size=52)
    weeks = xr.Dataset({"years": (("week", "state"), years), "known": ("week", years.sum(axis=1))})
    tiles = tiles_of(weeks)
    assert (tiles.sum(axis=1) == 10).all()
    three = [years[:, 2], years[:, 1] + years[:, 3], years[:, 0] + years[:, 4]]
    exact = 10 * np.stack(three, 1) / 37
    assert (np.abs(tiles - exact) < 1).all()


@pytest.mark.parametrize(("units", "factor", "zero"), [("C", 1.0, 0.0), ("F", 1.8, 32.0)])
def test_the_crops_limits_are_the_fields(pellbrook, units, factor, zero):
    lower = cw.plot_comfort(pellbrook, units=units).axes[1]
    for band in (cw.bearable_band(pellbrook.crop), cw.comfortable_band(pellbrook.crop)):
        low, high = (factor * limit + zero for limit in (band.low_c, band.high_c))
        assert any(np.allclose(_span(patch), (low, high)) for patch in lower.patches)
    assert lower.get_ylabel() == f"Daily mean (°{units})"


def _span(patch):
    """Lower and upper edge of a field."""
    return patch.get_y(), patch.get_y() + patch.get_height()


def test_the_title_counts_the_weeks(pellbrook):
    weeks = pellbrook.comfort
    good = sum(
        int(weeks["years"].sel(week=w, state="comfortable")) > int(weeks["known"].sel(week=w)) / 2
        for w in weeks["week"].values
    )
    assert f"comfortable here for {good} weeks" in words.comfort_title(pellbrook)


@pytest.mark.parametrize("first", [1, 91, 182, 200, 250])
def test_names_of_cold_and_warm_years_stay_within_the_axes(pellbrook, first, monkeypatch):
    monkeypatch.setattr(style, "year_start", lambda _: first)
    for narrow in (False, True):
        figure = cw.plot_comfort(pellbrook, narrow=narrow)
        figure.draw_without_rendering()
        lower = figure.axes[1]
        names = [text for text in lower.texts if text.get_text().endswith("years")]
        assert len(names) == 2
        for text in names:
            box = text.get_window_extent()
            assert box.x0 >= lower.bbox.x0 - 1
            assert box.x1 <= lower.bbox.x1 + 1


@pytest.mark.parametrize(("coldest", "start"), [(348, 1), (23, 1), (1, 1), (205, 182), (120, 182)])
def test_a_year_is_drawn_from_january_or_july(coldest, start):
    assert style.year_start(coldest) == start


def test_it_says_what_its_marks_and_its_line_are(pellbrook):
    figure = cw.plot_comfort(pellbrook)
    assert (
        "By the mean of each week. Ten marks a week, one for each year in ten. The thick line is a "
        "typical year."
    ) in foot(figure)
    told = [text.get_text() for legend in figure.legends for text in legend.get_texts()]
    told += [text for ax in figure.axes for text in (ax.get_ylabel(), *written(ax))]
    for ax in figure.axes:
        told += keys(ax) if ax.get_legend() else []
    assert any("neither: too cold or too hot" in text for text in told)
    assert "Years in ten" in told


def test_each_key_names_the_marks_of_its_own_kind(pellbrook, axes):
    names = {line.get_label(): line for line in axes[0].lines}
    assert [*names] == ["comfortable", "bearable", "neither: too cold or too hot"]
    marks = [names[name].get_marker() for name in names]
    assert marks == [style.ZONE_MARKS[zone] for zone in (2, 1, 0)]
    hollow = [names[name].get_markerfacecolor() == "none" for name in names]
    assert hollow == [False, False, True]
    # As many marks of a kind as tenths of the years, week by week: half a mark off at most.
    weeks = pellbrook.comfort
    shares = (10 * weeks["years"] / weeks["known"]).sum("week").transpose("state").values
    drawn = [len(line.get_xdata()) for line in names.values()]
    assert drawn == pytest.approx([shares[2], shares[1] + shares[3], shares[0] + shares[4]], abs=26)


def test_warm_and_cold_years_are_named_on_their_own_lines(pellbrook, axes):
    bands = pellbrook.bands["tmean"]
    first = style.year_start(int(pellbrook.windows["first_day"]))
    turned = bands.roll(day_of_year=1 - first)
    (warm,) = [text for text in axes[1].texts if text.get_text() == "warm years"]
    (cold,) = [text for text in axes[1].texts if text.get_text() == "cold years"]
    for text, percentile in ((warm, 90), (cold, 10)):
        day, value = text.xy
        assert value == pytest.approx(float(turned.sel(percentile=percentile)[int(day)]))
    middle = turned.sel(percentile=50).values
    thick = [line for line in axes[1].lines if line.get_linewidth() == 1.6]
    np.testing.assert_allclose(thick[0].get_ydata(), middle)


@pytest.mark.parametrize(("before", "side"), [(9, "left"), (180, "center"), (355, "right")])
def test_the_name_of_warm_years_turns_inwards_at_an_end_of_the_axis(
    pellbrook, monkeypatch, before, side
):
    """Above the warmest day, or beside it where the axis begins or ends there."""
    warmest = int(pellbrook.bands["tmean"].sel(percentile=50).values.argmax()) + 1
    monkeypatch.setattr(style, "year_start", lambda _: (warmest - before - 1) % 365 + 1)
    (text,) = [t for t in cw.plot_comfort(pellbrook).axes[1].texts if t.get_text() == "warm years"]
    assert text.get_ha() == side
