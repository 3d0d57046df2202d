"""Figures of freezes: what is drawn is what was computed."""

from functools import partial

import numpy as np
import pytest
import xarray as xr
from drawn import assert_fits_a_phone, foot, keys, line, title, written
from matplotlib.colors import to_rgba
from matplotlib.text import Text
from records import missing
from refusing import refused

import climwin as cw
from climwin.climate.trends import compare_periods, describe_trend, trend
from climwin.climate.usable import usable_days
from climwin.core.provenance import warm_by
from climwin.core.seasons import day_name, day_number, day_of_year
from climwin.plot import freeze as figures
from climwin.plot import style

THRESHOLDS = [0.0, -2.2]


@pytest.fixture(scope="module")
def daily(pellbrook):
    return pellbrook.daily


@pytest.fixture(scope="module")
def dates(daily):
    return cw.freeze_dates(daily)


@pytest.fixture(scope="module")
def odds(daily):
    return cw.freeze_odds(daily)


@pytest.fixture(scope="module")
def several(daily):
    odds = compare_periods(partial(cw.freeze_odds, threshold=THRESHOLDS), daily)
    return compare_periods(
        lambda record: cw.freeze_chance(cw.freeze_dates(record, THRESHOLDS)), daily
    ), odds


# --- odds by date -------------------------------------------------------------------------


def test_the_curve_is_the_chance_on_each_day(dates, odds):
    chance = cw.freeze_chance(dates)
    figure = figures.freeze_curve(chance, odds)
    spring = line(figure.axes[0], "0 °C or colder")
    first = int(chance["first_day"])
    for day in (day_number("04-20"), day_number("05-10")):
        drawn = spring.get_ydata()[(day - first) % 365]
        assert drawn == pytest.approx(100 * float(chance["last_spring"].sel(day_of_year=day)))


def test_the_dates_of_10_50_and_90_percent_are_marked_and_named(dates, odds):
    ax = figures.freeze_curve(cw.freeze_chance(dates), odds).axes[0]
    wanted = odds.sel(odds=[0.1, 0.5, 0.9])
    named = {day_name(float(d)) for half in figures._HALVES for d in wanted[half]}
    assert named == set(written(ax)) - {""}
    dots = [each for each in ax.lines if len(each.get_xdata()) == 1]
    on_curve = {(round(float(d.get_xdata()[0]), 6), round(float(d.get_ydata()[0]))) for d in dots}
    first = int(dates["first_day"])
    assert on_curve == {
        (round((float(wanted[half].sel(odds=p)) - first) % 365, 6), round(100 * p))
        for half in figures._HALVES
        for p in (0.1, 0.5, 0.9)
    }


@pytest.mark.parametrize("narrow", [False, True])
@pytest.mark.parametrize("summer_days", [30, 60, 80, 100, 120])
def test_the_dates_of_a_short_summer_do_not_stand_on_each_other(dates, odds, summer_days, narrow):
    """Nor on those of colder nights, a month and a half on the other side."""
    both = ("last_spring", "first_autumn")
    half = (float(odds[both[1]].sel(odds=0.5)) - float(odds[both[0]].sel(odds=0.5))) / 2
    apart = xr.Dataset(dict.fromkeys(both, half - summer_days / 2))
    signs = xr.Dataset({both[0]: 1.0, both[1]: -1.0})
    nearer, further = odds[[*both]] + signs * apart, odds[[*both]] + signs * (apart - 45)
    thresholds = {"threshold": [0.0, -7.0]}
    short = xr.concat([nearer, further], "threshold").assign_coords(thresholds)
    chance = cw.freeze_chance(dates).expand_dims(threshold=[0.0, -7.0])
    figure = figures.freeze_curve(
        chance.assign(first_day=dates["first_day"]), short.assign_attrs(odds.attrs), narrow=narrow
    )
    figure.draw_without_rendering()
    named = [each for each in figure.axes[0].texts if each.get_text()]
    boxes = [Text.get_window_extent(each) for each in named]
    assert len(boxes) == 12
    assert not [1 for n, box in enumerate(boxes) for other in boxes[:n] if box.overlaps(other)]


def test_the_title_says_what_one_year_in_ten_does(dates, odds):
    risk = odds.sel(odds=0.1)
    found = title(figures.freeze_curve(cw.freeze_chance(dates), odds))
    assert found == (
        f"Nine years in ten have no night of 0 °C or colder from "
        f"{day_name(float(risk['last_spring']))} on, and nine in ten none in autumn before "
        f"{day_name(float(risk['first_autumn']))}"
    )


def test_periods_have_axes_and_thresholds_strokes_of_their_own(several):
    chance, odds = several
    figure = figures.freeze_curve(chance, odds, units="F")
    assert keys(figure.axes[0]) == ["32 °F or colder", "28 °F or colder"]
    assert len(figure.axes) == chance.sizes["period"] == 3
    for ax, period in zip(figure.axes, chance["period"].values, strict=True):
        assert str(period).replace("-", "\N{EN DASH}") in written(ax)
        colder = line(ax, "28 °F or colder")
        assert colder.get_linestyle() != line(ax, "32 °F or colder").get_linestyle()
        half = chance["last_spring"].sel(period=period, threshold=-2.2).values
        wanted = np.roll(half, 1 - int(chance["first_day"][0]))
        floor = wanted.min() + 1e-9  # what no year has come to is not drawn
        np.testing.assert_allclose(
            colder.get_ydata(), 100 * np.where(wanted > floor, wanted, np.nan)
        )


def test_a_place_that_never_freezes_so_hard_says_so(daily):
    dates, odds = cw.freeze_dates(daily, -30.0), cw.freeze_odds(daily, -30.0)
    figure = figures.freeze_curve(cw.freeze_chance(dates), odds)
    assert (
        title(figure)
        == "A night of \N{MINUS SIGN}30 °C or colder comes in fewer than one year in ten"
    )


def test_odds_without_the_marked_levels_are_refused(daily, dates):
    odds = cw.freeze_odds(daily, levels=[0.1, 0.5])
    with pytest.raises(
        ValueError, match=r"marked at the odds 0.9, 0.5, 0.1; these are of 0.1, 0.5"
    ):
        figures.freeze_curve(cw.freeze_chance(dates), odds)


def test_a_chance_and_odds_of_other_things_are_refused(dates, odds, several):
    with pytest.raises(
        ValueError, match=r"chance is of period 1985-2024, 1995-2024, 2010-2024, the odds"
    ):
        figures.freeze_curve(several[0], odds)
    with pytest.raises(
        ValueError, match=r"chance is of threshold 0.0, the odds are of threshold 0.0, -2.2"
    ):
        figures.freeze_curve(cw.freeze_chance(dates), several[1].isel(period=0, drop=True))
    refused(
        lambda: figures.freeze_curve(several[0], odds),
        "Make both from the same record, such as compare_periods(freeze_odds, daily) beside",
        "compare_periods(lambda record: freeze_chance(freeze_dates(record)), daily).",
    )


# --- year by year -------------------------------------------------------------------------


@pytest.fixture(scope="module")
def trends(dates):
    return [trend(dates[half]) for half in figures._HALVES]


def test_each_year_s_freezes_stand_in_its_row(dates, trends):
    ax = figures.freeze_years(dates, *trends).axes[0]
    first = int(dates["first_day"])
    for half, label in zip(figures._HALVES, keys(ax), strict=True):
        dots = line(ax, label)
        assert dots.get_ydata().tolist() == dates["season"].values.tolist()
        wanted = (dates[f"{half}_day"].values - first) % 365
        np.testing.assert_array_equal(dots.get_xdata(), wanted)


def test_the_bars_are_the_days_between(dates, trends):
    ax = figures.freeze_years(dates, *trends).axes[0]
    held = [bar for bar in ax.patches if np.isfinite(bar.get_width())]
    free = dates["freeze_free_days"].values
    assert sorted(bar.get_width() - 1 for bar in held) == sorted(free[~np.isnan(free)])


def test_the_trend_line_has_the_slope_and_the_words(dates, trends):
    figure = figures.freeze_years(dates, *trends)
    lines = [each for each in figure.axes[0].lines if each.get_marker() == "None"]
    for drawn, found in zip(lines, trends, strict=True):
        run, rise = np.ptp(drawn.get_ydata()) / 10, drawn.get_xdata()[-1] - drawn.get_xdata()[0]
        assert rise / run == pytest.approx(float(found["slope"]))
    told = " ".join(
        describe_trend(found, name)
        for found, name in zip(trends, ("Last spring freeze", "First autumn freeze"), strict=True)
    )
    assert told in foot(figure)


def test_years_with_a_gap_and_without_a_freeze_are_told(daily):
    gone = missing(daily, *(f"2001-0{m}-{d:02d}" for m in (4, 5) for d in range(1, 31)))
    dates = cw.freeze_dates(gone, -9.0)
    status = [dates[f"{half}_status"].values for half in figures._HALVES]
    figure = figures.freeze_years(dates, *(trend(dates[half]) for half in figures._HALVES))
    told = written(figure.axes[0])
    assert told.count("none") == sum((each == "none").sum() for each in status) > 0
    assert told.count("a gap") == sum((each == "unknown").sum() for each in status)
    cold = cw.freeze_dates(gone)
    figure = figures.freeze_years(cold, *(trend(cold[half]) for half in figures._HALVES))
    unknown = sum((cold[f"{half}_status"] == "unknown").sum().item() for half in figures._HALVES)
    assert written(figure.axes[0]).count("a gap") == unknown > 0


# --- every day of every year --------------------------------------------------------------


def _days(ax, kind):
    """Days drawn in the tracks of a kind, as (year, place) pairs."""
    paint = figures._TRACKS[kind][2]
    found = set()
    for each in ax.collections:
        if tuple(each.get_facecolor()[0]) == to_rgba(paint["facecolor"]):
            for path in each.get_paths():
                (x0, y0), (x1, _) = path.vertices.min(axis=0), path.vertices.max(axis=0)
                year = round(y0 - figures._TRACKS[kind][0])
                found |= {(year, day) for day in range(round(x0), round(x1))}
    return found


def test_every_freeze_every_suiting_and_every_missing_day_is_there(daily):
    crop = cw.crop("cauliflower")
    usable = usable_days(daily, cw.bearable_band(crop))
    ax = figures.every_day(daily, usable, crop, first_day=182).axes[1]
    tmin = daily["tmin"].sel(time="2001")
    wanted = {
        (2001, (i - 181) % 365)
        for i, value in enumerate(tmin.values)
        if value <= 0.05  # "at or below 0", with the tolerance of a threshold
    }
    assert {pair for pair in _days(ax, "freezes") if pair[0] == 2001} == wanted
    suits = usable["sure"].sel(year=2001).values
    assert {pair for pair in _days(ax, "suits") if pair[0] == 2001} == {
        (2001, (i - 181) % 365) for i in np.flatnonzero(suits)
    }
    gaps = int(
        daily["tmin"]
        .sel(time=~daily["tmin"].time.dt.strftime("%m-%d").isin(["02-29"]))
        .isnull()
        .sum()
    )
    assert len(_days(ax, "missing")) >= gaps > 0
    legend = ax.get_legend()
    painted = {
        key.get_text(): mark.get_facecolor()
        for key, mark in zip(legend.get_texts(), legend.get_patches(), strict=True)
    }
    assert painted == {
        "cauliflower: 5 to 25 \N{DEGREE SIGN}C": to_rgba(figures._TRACKS["suits"][2]["facecolor"]),
        "night of 0 \N{DEGREE SIGN}C or colder": to_rgba(style.INK),
        "not known": to_rgba("white"),  # and hatched
    }


def test_a_plan_s_dates_cross_the_years(daily):
    crop = cw.crop("cauliflower")
    plan = cw.Plan(crop, "03-05", 6, "cold frame")
    usable, dates = usable_days(daily, cw.bearable_band(crop)), cw.plan_dates(plan, daily)
    figure = figures.every_day(daily, usable, crop, plan=plan, timetable=dates)
    ax = figure.axes[1]
    crossing = [each.get_xdata()[0] for each in ax.lines if len(each.get_xdata()) == 2]
    start = day_number("03-05") - 1
    harvests = cw.evaluate_plan(plan, daily)["harvest_begin"].dropna("season")
    middle = np.median(day_of_year(harvests.values))
    assert crossing == [start, start + 42, middle - 1]
    named = ["start 5 Mar", "set out 16 Apr", f"first harvest {day_name(middle)}"]
    assert keys(ax)[:3] == named


def test_shares_of_the_years_stand_above_by_week(daily):
    crop = cw.crop("cauliflower")
    usable = usable_days(daily, cw.bearable_band(crop))
    figure = figures.every_day(daily, usable, crop)
    suits, freezes = (patch.get_data() for patch in figure.axes[0].patches)
    tmin = daily["tmin"].sel(time=daily["time"].dt.dayofyear <= 7)  # the first week of January
    wanted = 100 * (tmin.dropna("time") <= 0.05).groupby("time.dayofyear").mean().mean()
    assert freezes.values[0] == pytest.approx(float(wanted), abs=0.5)
    assert suits.values[0] < 10 < 90 < suits.values[20]  # the end of May
    assert suits.edges[-1] == 365
    assert foot(figure).startswith("Pellbrook Mill, 1985\N{EN DASH}2024.")


def test_the_title_counts_the_days_that_suit(daily):
    crop = cw.crop("cauliflower")
    usable = usable_days(daily, cw.bearable_band(crop))
    known = (usable["sure"] == usable["possible"]).all("day_of_year").values
    days = usable["sure"].sum("day_of_year").values[known]
    assert title(figures.every_day(daily, usable, crop)) == (
        f"{int(np.median(days))} days of a typical year suit cauliflower (5 to 25 °C); "
        f"the years range from {days.min()} to {days.max()}"
    )


# --- all of them --------------------------------------------------------------------------


def test_on_a_phone_all_can_be_read(daily, dates, several, trends):
    crop = cw.crop("cauliflower")
    plan = cw.Plan(crop, "03-05", 6, "cold frame")
    usable = usable_days(daily, cw.bearable_band(crop))
    for figure in (
        figures.freeze_curve(*several, narrow=True),
        figures.freeze_years(dates, *trends, narrow=True),
        figures.every_day(daily, usable, crop, plan=plan, narrow=True),
    ):
        assert_fits_a_phone(figure)


def test_a_scenario_is_told_in_every_title(daily):
    record = warm_by(daily, 1.0)
    dates = cw.freeze_dates(record)
    crop = cw.crop("cauliflower")
    for figure in (
        figures.freeze_curve(cw.freeze_chance(dates), cw.freeze_odds(record)),
        figures.freeze_years(dates, *(trend(dates[half]) for half in figures._HALVES)),
        figures.every_day(record, usable_days(record, cw.bearable_band(crop)), crop),
    ):
        assert title(figure).startswith("What if it were 1 °C warmer: ")
        assert "Weather data: " in foot(figure)


def test_the_curve_says_on_which_side_of_a_day_the_freeze_lies(dates, odds):
    """In spring it comes then or later, in autumn then or earlier."""
    assert ("Chance of a freeze on a day or later (spring), on a day or earlier (autumn).") in foot(
        figures.freeze_curve(cw.freeze_chance(dates), odds)
    )


# --- its words ----------------------------------------------------------------------------


def test_last_nights_of_spring_and_first_ones_of_autumn_have_keys_of_their_own(dates, trends):
    figure = figures.freeze_years(dates, *trends)
    ax = figure.axes[0]
    assert keys(ax) == ["last night of 0 \N{DEGREE SIGN}C or colder in spring", "first in autumn"]
    spring, autumn = (line(ax, name) for name in keys(ax))
    held = np.isfinite(spring.get_xdata()) & np.isfinite(autumn.get_xdata())
    assert (spring.get_xdata()[held] < autumn.get_xdata()[held]).all()
    assert ax.get_ylabel() == "Days free of freezes, each year"
    told = foot(figure)
    assert 0 <= told.index("Last spring freeze") < told.index("First autumn freeze")


@pytest.mark.parametrize(("p", "dashes"), [(0.001, "-"), (0.6, "--")])
def test_a_trend_that_chance_could_bring_is_broken(dates, trends, p, dashes):
    sure = [found.assign(p=found["p"] * 0 + p) for found in trends]
    ax = figures.freeze_years(dates, *sure).axes[0]
    lines = [each for each in ax.lines if each.get_marker() == "None"]
    assert [each.get_linestyle() for each in lines] == [dashes, dashes]


def test_dates_of_spring_stand_to_the_right_of_their_curve_and_those_of_autumn_to_the_left(
    dates, odds
):
    """Towards the summer between them, where nothing is drawn."""
    ax = figures.freeze_curve(cw.freeze_chance(dates), odds).axes[0]
    middle = np.mean(ax.get_xlim())
    named = [text for text in ax.texts if text.get_text() and hasattr(text, "xy")]
    assert len(named) == 6
    for text in named:
        assert (text.get_ha() == "left") == (text.xy[0] < middle)
