"""Figures of a covered space: what is drawn is what was computed."""

import numpy as np
import pytest
from drawn import assert_fits_a_phone, foot, keys, line, title, written

import climwin as cw
from climwin.core.schema import from_celsius
from climwin.io.loggers import read_logger
from climwin.io.samples import sample
from climwin.plot import shelter as figures
from climwin.report.sentences import limits
from climwin.report.sentences_climate import degrees
from climwin.shelter.covers import COVERS, fit_cover, logger_days
from climwin.shelter.risk import check_space, space_odds


@pytest.fixture(scope="module")
def daily(pellbrook):
    return pellbrook.daily


@pytest.fixture(scope="module")
def crop():
    return cw.crop("tomato")  # a night under cover may kill it


@pytest.fixture(scope="module")
def logger():
    return read_logger(sample("frame_logger.csv"))


@pytest.fixture(scope="module")
def inside(logger):
    return logger_days(logger)


@pytest.fixture(scope="module")
def cover(inside, daily):
    return fit_cover(inside, daily, name="the frame")


@pytest.fixture(scope="module")
def odds(daily, cover, crop):
    return space_odds(daily, cover, crop, "03-05", "04-16")


# --- its answer to the outdoors -----------------------------------------------------------


@pytest.mark.parametrize(("units", "factor", "zero"), [("C", 1, 0), ("F", 1.8, 32)])
def test_the_line_and_its_days_are_those_that_were_fitted(
    cover, inside, daily, units, factor, zero
):
    figure = figures.space_response(cover, inside, daily, units=units)
    sides = zip(figure.axes, ("tmin", "tmax"), (cover.coldest, cover.warmest), strict=True)
    for ax, name, answer in sides:
        assert len(line(ax, "a day").get_xdata()) == cover.days
        both = (daily[name] + inside[name]).dropna("time")["time"]
        np.testing.assert_allclose(
            line(ax, "a day").get_xdata(), daily[name].sel(time=both) * factor + zero
        )
        x, y = ((np.asarray(v) - zero) / factor for v in line(ax, "fitted").get_data())
        np.testing.assert_allclose(y, answer.intercept_c + answer.slope * x)
        assert ax.get_ylabel() == f"Inside (°{units})"


def test_the_band_holds_nine_days_in_ten(cover, inside, daily):
    ax = figures.space_response(cover, inside, daily).axes[0]
    heights = ax.collections[0].get_paths()[0].vertices
    at = heights[heights[:, 0] == heights[:, 0].min()][:, 1]
    # 90 % of a normal distribution lie within 1.645 standard deviations
    assert np.ptp(at) == pytest.approx(2 * 1.645 * cover.coldest.spread_c, rel=1e-3)


def test_the_title_tells_of_the_coldest_night(cover, inside, daily):
    found = title(figures.space_response(cover, inside, daily, units="F"))
    assert found.startswith("A night of 20 °F outdoors: 25 °F inside (the frame), give or take 2")


# --- a logged period ----------------------------------------------------------------------


def test_the_limits_and_the_days_at_risk_are_marked(logger, crop):
    check = check_space(logger, crop)
    ax = figures.space_inside(logger, crop, check, units="F").axes[0]
    killed = crop.stages[0].cold.killed_at_c
    assert set(keys(ax)) == {
        f"tomato: {limits(cw.bearable_band(crop), 'F')}",
        "inside",
        f"kills at {degrees(killed, 'F')}",
        "scorches from 95 °F",
    }
    np.testing.assert_allclose(
        line(ax, f"kills at {degrees(killed, 'F')}").get_ydata(), from_celsius(killed, "F")
    )
    np.testing.assert_allclose(line(ax, "scorches from 95 °F").get_ydata(), 95)
    marks = {each.get_marker(): each.get_xdata() for each in ax.lines}
    for marker, dates in (("v", check.too_cold), ("^", check.too_hot)):
        assert [str(at)[:10] for at in marks[marker]] == list(dates) != []


def test_the_title_tells_the_hours_and_the_days_at_risk(logger, crop):
    check = check_space(logger, crop)
    share = 100 * check.hours_in_band / check.hours
    assert title(figures.space_inside(logger, crop, check)) == (
        f"Inside, {share:.0f} % of the hours suited the {crop.stages[0].name} stage; "
        f"too cold on {len(check.too_cold)} days and too hot on {len(check.too_hot)} day"
    )
    calm = check._replace(too_cold=(), too_hot=())
    assert title(figures.space_inside(logger, crop, calm)).endswith("; no day too cold or too hot")


# --- its years ----------------------------------------------------------------------------


def test_each_year_s_days_at_risk_are_bars(odds):
    figure = figures.space_years(odds)
    [ax] = figure.axes
    drawn = [bar.get_width() for bar in ax.patches]
    cold, hot = (odds[f"{side}_days"].fillna(0).values.tolist() for side in ("cold", "hot"))
    assert drawn == [days for days in (*(-days for days in cold), *hot) if days]
    unknown = int(((odds["cold_status"] == "unknown") | (odds["hot_status"] == "unknown")).sum())
    assert written(ax).count("a gap") == unknown > 0
    assert (
        ax.get_xlabel() == "Days too cold \N{LEFTWARDS ARROW} 0 \N{RIGHTWARDS ARROW} days too hot"
    )
    low, high = ax.get_xlim()
    assert low < -max(cold) <= 0 <= max(hot) < high
    assert "-" not in ax.xaxis.get_major_formatter()(-2.0, 0)  # days are counted on both sides


def test_how_often_a_year_has_such_a_day_is_the_title(odds, crop):
    cold, hot = (f"{100 * float(odds[f'{side}_share']):.0f} %" for side in ("cold", "hot"))
    assert title(figures.space_years(odds)) == (
        f"The frame, 5 Mar to 16 Apr: a day too cold for the {crop.stages[0].name} stage in "
        f"{cold} of years, too hot in {hot}"
    )


def test_a_preset_that_is_never_too_cold_has_empty_rows(daily, crop):
    odds = space_odds(daily, COVERS["frost-free greenhouse"], crop, "03-05", "04-16")
    [ax] = figures.space_years(odds).axes
    assert all(bar.get_width() > 0 for bar in ax.patches)


# --- all of them --------------------------------------------------------------------------


def test_on_a_phone_all_can_be_read(cover, inside, daily, logger, crop, odds):
    check = check_space(logger, crop)
    figures_of = (
        figures.space_response(cover, inside, daily, narrow=True),
        figures.space_inside(logger, crop, check, narrow=True),
        figures.space_years(odds, attrs=daily.attrs, narrow=True),
    )
    for figure in figures_of:
        assert_fits_a_phone(figure)
        assert "Weather data: " in foot(figure)


# --- its words ----------------------------------------------------------------------------


def test_lines_dots_and_heads_are_named_by_what_they_are(cover, inside, daily):
    figure = figures.space_response(cover, inside, daily)
    assert keys(figure.axes[0]) == ["nine days in ten", "a day", "fitted", "as outdoors"]
    heads = [ax.get_title(loc="left") for ax in figure.axes]
    assert heads == ["Coldest of the day", "Hottest of the day"]
    for ax in figure.axes:
        assert ax.get_xlabel() == "Outdoors (\N{DEGREE SIGN}C)"
        level = line(ax, "as outdoors")
        np.testing.assert_array_equal(level.get_xdata(), level.get_ydata())


def test_what_kills_and_what_scorches_stand_at_their_own_temperatures(logger, crop):
    check = check_space(logger, crop)
    ax = figures.space_inside(logger, crop, check).axes[0]
    killed = crop.stages[0].cold.killed_at_c
    bears = cw.bearable_band(crop)
    assert keys(ax) == [
        f"tomato: {bears.low_c:.0f} to {bears.high_c:.0f} \N{DEGREE SIGN}C",
        "inside",
        f"kills at {killed:g} \N{DEGREE SIGN}C".replace("-", "\N{MINUS SIGN}"),
        "scorches from 35 \N{DEGREE SIGN}C",
    ]
    assert set(line(ax, keys(ax)[2]).get_ydata()) == {killed}
    assert ax.get_ylabel() == "Inside (\N{DEGREE SIGN}C)"


def test_the_years_of_a_space_say_which_side_is_which(odds):
    figure = figures.space_years(odds)
    ax = figure.axes[0]
    label = "Days too cold \N{LEFTWARDS ARROW} 0 \N{RIGHTWARDS ARROW} days too hot"
    assert ax.get_xlabel() == label
    left = -sum(bar.get_width() for bar in ax.patches if bar.get_width() < 0)
    right = sum(bar.get_width() for bar in ax.patches if bar.get_width() > 0)
    assert left == pytest.approx(float(odds["cold_days"].sum()))
    assert right == pytest.approx(float(odds["hot_days"].sum()))
    assert (
        "Days to be expected in the weather of each year. Single days scatter about the fitted "
        "line, so a year may have a part of a day."
    ) in foot(figure)
