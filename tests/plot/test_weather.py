"""Figures of the year's weather: what is drawn is what was computed."""

import numpy as np
import pytest
import xarray as xr
from drawn import assert_fits_a_phone, bars, foot, keys, line, row, title, written
from refusing import refused

import climwin as cw
from climwin.climate.heat import degree_days, heat_since, hours_within
from climwin.climate.rain import WET_MM, dry_spell_odds, dry_spells, week_sums
from climwin.climate.soil import soil_temperature, warm_soil_dates
from climwin.climate.windows import odds_shorter, usable_windows
from climwin.core.provenance import warm_by
from climwin.core.seasons import MONTH_STARTS, coldest_day, day_name
from climwin.plot import weather as figures
from climwin.report import sentences_climate


@pytest.fixture(scope="module")
def daily(pellbrook):
    return pellbrook.daily


@pytest.fixture(scope="module")
def crop():
    return cw.crop("cauliflower")


@pytest.fixture(scope="module")
def soil(daily, crop):
    tsoil = soil_temperature(daily)
    limit = crop.germination.minimum_c
    return cw.day_bands(tsoil), warm_soil_dates(tsoil, limit, coldest_day(daily))


@pytest.fixture(scope="module")
def sums(daily):
    each = degree_days(daily["tmin"], daily["tmax"], 5.0)
    return cw.day_bands(heat_since(each), half_width=0)


@pytest.fixture(scope="module")
def hours(daily):
    return cw.day_bands(hours_within(daily["tmin"], daily["tmax"], 46.1, low=30.0))


@pytest.fixture(scope="module")
def spells(daily):
    stretch = ("04-16", "06-15")
    return dry_spells(daily, *stretch), dry_spell_odds(daily, *stretch, days=10)


@pytest.fixture(scope="module")
def worlds(daily, crop):
    return [usable_windows(record, crop) for record in (daily, warm_by(daily, 2.0))]


# --- spread by day ------------------------------------------------------------------------


@pytest.mark.parametrize(("units", "factor", "zero"), [("C", 1, 0), ("F", 1.8, 32)])
def test_the_middle_line_is_the_median_of_each_day(daily, units, factor, zero):
    bands = cw.day_bands(daily["tmax"])
    ax = figures.day_spread(bands, first_day=182, units=units).axes[0]
    wanted = np.roll(bands["tmax"].sel(percentile=50).values, -181) * factor + zero
    np.testing.assert_allclose(line(ax, "a typical day").get_ydata(), wanted)
    assert ax.get_ylabel() == f"Daily maximum (°{units})"


def test_the_title_names_both_ends_of_the_year(daily):
    bands = cw.day_bands(daily["tmin"])
    middle = bands["tmin"].sel(percentile=50)
    warm, cold = int(np.argmax(middle.values)) + 1, int(np.argmin(middle.values)) + 1
    told = []
    for day in (warm, cold):
        low, high = (float(bands["tmin"].sel(day_of_year=day, percentile=p)) for p in (25, 75))
        told.append(f"{round(low)} to {round(high)} °C around {day_name(day)}")
    wanted = f"Daily minimum: half of all days lie at {told[0]}, and at {told[1]}"
    assert title(figures.day_spread(bands)) == wanted.replace("-", "\N{MINUS SIGN}")


def test_precipitation_stays_in_mm_whatever_the_unit(daily):
    bands = cw.day_bands(week_sums(daily["precip"]))
    ax = figures.day_spread(bands, units="F").axes[0]
    assert ax.get_ylabel() == "Precipitation of a week (mm)"
    wanted = bands["precip_week"].sel(percentile=50)
    np.testing.assert_allclose(line(ax, "a typical day").get_ydata(), wanted)


def test_hours_of_heat_are_told_where_they_are_most(hours):
    figure = figures.hot_hours(hours)
    most = int(np.argmax(hours["hours"].sel(percentile=[50, 75]).sum("percentile").values))
    typical, more = hours["hours"].isel(day_of_year=most).sel(percentile=[50, 75]).values
    assert title(figure).endswith(
        f"a typical day has {typical:.0f} hours at 30 °C or warmer; one day in four has {more:.0f} "
        "or more"
    )
    assert figure.axes[0].get_ylabel().replace("\n", " ") == "Hours of a day at 30 °C or more (h)"
    assert figure.axes[0].get_ylim()[0] == 0


def test_where_heat_is_rare_the_title_says_so(daily):
    rare = cw.day_bands(hours_within(daily["tmin"], daily["tmax"], 46.1, low=45.0))
    found = title(figures.hot_hours(rare, units="F"))
    assert found == "Hours at 113 °F or warmer are rare: on three days of four there are none"


# --- soil ---------------------------------------------------------------------------------


def test_the_crop_s_germination_limits_lie_over_the_soil(soil, crop):
    upper = figures.warm_soil(*soil, crop, units="F").axes[0]
    (least,) = [each for each in upper.lines if len(each.get_xdata()) == 2]
    np.testing.assert_allclose(least.get_ydata(), 4.4 * 1.8 + 32)
    (best,) = upper.patches
    assert best.get_y() == pytest.approx(7.2 * 1.8 + 32)
    assert best.get_height() == pytest.approx((29.4 - 7.2) * 1.8)
    assert upper.get_ylabel() == "Soil (°F)"
    assert written(upper) == ["best: 45 to 85 °F", "at least 40 °F"]  # never too hot for it
    heights = [text.xy[1] for text in upper.texts]
    np.testing.assert_allclose(heights, [29.4 * 1.8 + 32, 4.4 * 1.8 + 32])


def test_limits_beyond_the_soil_are_named_within_the_axes(daily):
    tomato = cw.crop("tomato")
    warm = soil_temperature(daily) * 0 + 15.0  # degC, all year
    dates = warm_soil_dates(warm, tomato.germination.minimum_c, coldest_day(daily))
    upper = figures.warm_soil(cw.day_bands(warm), dates, tomato).axes[0]
    bottom, top = upper.get_ylim()
    assert written(upper) == ["best: 16 to 29 °C", "at least 10 °C"]
    assert all(bottom < text.xy[1] <= top for text in upper.texts)
    # What is too cold lies below the middle of the year, where the soil is warm.
    assert [text.xy[0] for text in upper.texts] == [4, 182.5]


def test_a_soil_too_hot_for_seed_lies_above_both_of_its_limits(daily):
    tomato = cw.crop("tomato")
    hot = soil_temperature(daily) * 0 + 40.0  # degC, all year
    dates = warm_soil_dates(hot, tomato.germination.minimum_c, coldest_day(daily))
    upper = figures.warm_soil(cw.day_bands(hot), dates, tomato).axes[0]
    limits = {text: place.xy[1] for text, place in zip(written(upper), upper.texts, strict=True)}
    assert limits["at least 10 °C"] == pytest.approx(tomato.germination.minimum_c)
    assert limits["at most 35 °C"] == pytest.approx(tomato.germination.maximum_c)


def test_a_crop_that_is_not_sown_has_no_soil_to_draw(soil):
    refused(
        lambda: figures.warm_soil(*soil, cw.crop("strawberry")),
        "strawberry is not sown",
        "it has no soil temperatures to draw",
        "Choose another crop",
    )


def test_each_year_s_warm_soil_date_stands_in_its_row(soil, crop):
    lower = figures.warm_soil(*soil, crop).axes[1]
    dates = soil[1]
    (dots,) = lower.lines
    december = int(MONTH_STARTS[11]) + 1  # the axis begins with the month of the coldest day
    assert december <= int(dates["first_day"]) <= 365
    at = (dates["warm_soil_day"].values - december) % 365
    np.testing.assert_array_equal(dots.get_xdata(), at)
    assert lower.get_xlim() == (0, 182)  # the dates are early: it ends with May
    unknown = int((dates["warm_soil_status"] == "unknown").sum())
    assert written(lower).count("a gap in the record") == unknown > 0


def test_half_of_the_years_and_all_of_them_are_told(soil, crop):
    day = np.sort(soil[1]["warm_soil_day"].dropna("season").values)
    half, every = day_name(np.median(day)), day_name(day[-1])
    assert title(figures.warm_soil(*soil, crop)) == (
        "Soil 5 cm down is warm enough for cauliflower (4.4 °C) by "
        f"{half} in half of {len(day)} years, by {every} in every one"
    )


# --- heat ---------------------------------------------------------------------------------


def test_heat_is_summed_in_the_unit_asked_for(sums):
    ax = figures.heat_sums(sums, 5.0, need=1200, units="F").axes[0]
    wanted = 1.8 * sums["heat"].sel(percentile=50)
    np.testing.assert_allclose(line(ax, "a typical year").get_ydata(), wanted)
    asked, *dropped = ax.lines[1:]
    np.testing.assert_allclose(asked.get_ydata(), 2160)
    assert [list(each.get_ydata()) for each in dropped] == [[0, 2160]] * 2
    on = [int(np.argmax(sums["heat"].sel(percentile=p).values >= 1200)) for p in (50, 10)]
    assert [list(each.get_xdata()) for each in dropped] == [[day] * 2 for day in on]
    assert written(ax) == ["asked for: 2,160", *(day_name(day + 1) for day in on)]
    assert ax.get_ylabel() == "Degree-days above 41 °F\nsince 1 Jan (°F d)"


def test_the_day_on_which_heat_is_enough_is_told(sums):
    reached = [
        day_name(np.argmax(sums["heat"].sel(percentile=p).values >= 1200) + 1) for p in (50, 10)
    ]
    assert title(figures.heat_sums(sums, 5.0, need=1200)) == (
        f"1,200 degree-days above 5 °C are reached by {reached[0]} in half of all seasons, "
        f"by {reached[1]} in nine of ten"
    )
    never = title(figures.heat_sums(sums, 5.0, need=9000))
    assert never == "9,000 degree-days above 5 °C are not reached in half of all seasons"


def test_a_season_may_begin_in_the_middle_of_the_year(daily):
    each = degree_days(daily["tmin"], daily["tmax"], 5.0)
    season = each["time.year"] + (each["time.month"] > 6)
    bands = cw.day_bands(each.groupby(season.rename("season")).cumsum(skipna=False), half_width=0)
    ax = figures.heat_sums(bands, 5.0, first_day=182).axes[0]
    middle = line(ax, "a typical year").get_ydata()
    on_1_july = each.sel(time=each["time"].dt.strftime("%m-%d") == "07-01").values
    assert middle[0] == pytest.approx(np.nanmedian(on_1_july))
    assert "since 1 Jul" in ax.get_ylabel()


# --- dry spells ---------------------------------------------------------------------------


def test_each_year_s_longest_dry_spell_is_a_bar(spells):
    found, odds = spells
    ax = figures.dry_years(found, odds).axes[0]
    drawn = {row(b): b.get_width() for label in keys(ax)[:2] for b in bars(ax, label)}
    wanted = dict(zip(found["season"].values, found["longest_least"].values, strict=True))
    assert {round(year): width for year, width in drawn.items()} == wanted
    assert len(bars(ax, "10 dry days or more")) == int(odds["dry"])
    assert [each.get_xdata()[0] for each in ax.lines] == [10]
    assert written(ax)[-1].strip() == "10 days"
    told = " ".join(text.get_text() for text in figures.dry_years(found, odds).texts)
    assert f"A dry day has less than {WET_MM:g} mm of rain." in told


def test_what_a_gap_leaves_open_reaches_the_most_it_could_be(spells):
    found, odds = spells
    open_ended = bars(figures.dry_years(found, odds).axes[0], "a gap leaves open")
    unknown = found.where(found["status"] == "unknown", drop=True)
    assert [b.get_x() + b.get_width() for b in open_ended] == unknown[
        "longest_most"
    ].values.tolist()
    assert [b.get_x() for b in open_ended] == unknown["longest_least"].values.tolist()


def test_the_odds_of_a_dry_spell_are_the_title(spells):
    found, odds = spells
    dry, known = int(odds["dry"]), int(odds["known"])
    assert title(figures.dry_years(found, odds)) == (
        f"10 dry days or more in a row between 16 Apr and 15 Jun in {dry} of {known} years "
        f"({100 * dry / known:.0f} %)"
    )


# --- scenarios ----------------------------------------------------------------------------


def test_each_known_year_is_a_mark_in_both_worlds(worlds):
    axes = figures.what_if(*worlds, 90, part="longest").axes
    names = ("As it was", "What if it were 2 °C warmer")
    for ax, windows, name in zip(axes, worlds, names, strict=True):
        *marks, need = ax.lines
        assert set(need.get_xdata()) == {90}
        drawn = np.concatenate([each.get_xdata() for each in marks])
        found = odds_shorter(windows, 90).sel(part="longest")
        short, known = int(found["shorter"]), int(found["known"])
        assert len(drawn) == known  # "one that a gap leaves open has none"
        assert (drawn < 90).sum() == short > 0
        length = windows["length"].sel(part="longest").dropna("season").values
        # a column holds the spells of a week
        assert np.abs(np.sort(drawn)[-3:] - np.sort(length)[-3:]).max() <= 3.5
        assert ax.get_title(loc="left") == f"{name}: too short in {short} of {known} years"
    assert axes[0].get_xlim() == axes[1].get_xlim()


def test_marks_of_one_week_stand_above_each_other(worlds):
    marks = figures._marks(worlds[0].sel(part="longest"), 75)
    assert len({(place, row) for place, row in zip(*marks[:2], strict=True)}) == len(marks[0])


def test_what_a_mark_is_stands_at_the_foot_of_both_worlds(worlds):
    said = foot(figures.what_if(*worlds, 75, part="longest"))
    assert "A mark is a year; one that a gap leaves open has none. The same years at " in said
    assert "at another temperature: no forecast." in said
    for part, spell in (("longest", "the longest mild spell"), ("rise", "spring's mild spell")):
        lower = figures.what_if(*worlds, 75, part=part).axes[1]
        assert lower.get_xlabel() == f"Weeks of {spell} of each year"


def test_the_title_says_what_if_and_counts_both(worlds):
    figure = figures.what_if(*worlds, 75, part="longest")
    was, would = (odds_shorter(w, 75).sel(part="longest") for w in worlds)
    assert title(figure) == (
        "What if it were 2 °C warmer: the mild spell would be shorter than 75 days in "
        f"{int(would['shorter'])} of {int(would['known'])} years; it was in {int(was['shorter'])} "
        f"of {int(was['known'])}"
    )
    assert "The same years at another temperature: no forecast." in foot(figure)


def test_worlds_in_the_wrong_order_are_refused(worlds):
    refused(
        lambda: figures.what_if(worlds[1], worlds[0], 75),
        "The figure shows what was observed first and a scenario second, got 'what if",
        "and 'observed'. Make the second from a record that was shifted.",
    )
    with pytest.raises(ValueError, match=r"got 'observed' and 'observed'"):
        figures.what_if(worlds[0], worlds[0], 75)


# --- all of them --------------------------------------------------------------------------


def test_the_foot_names_place_and_years(daily, crop, soil, sums, hours, spells, worlds):
    attrs = daily.attrs
    for figure in (
        figures.day_spread(cw.day_bands(daily["tmin"]), attrs=attrs),
        figures.hot_hours(hours, attrs=attrs),
        figures.warm_soil(*soil, crop, attrs=attrs),
        figures.heat_sums(sums, 5.0, attrs=attrs),
        figures.dry_years(*spells),
        figures.what_if(*worlds, 75),
    ):
        assert foot(figure).startswith("Pellbrook Mill, 1985\N{EN DASH}2024. ")
    unnamed = {key: value for key, value in attrs.items() if key != "station_name"}
    bare = foot(figures.day_spread(cw.day_bands(daily["tmin"]), attrs=unnamed))
    assert bare.startswith("1985\N{EN DASH}2024. Weather data")


def test_hours_rise_without_stairs(hours):
    drawn = line(figures.hot_hours(hours).axes[0], "a typical day").get_ydata()
    middle = hours["hours"].sel(percentile=50).values
    wanted = [np.mean([middle[(day + step) % 365] for step in range(-7, 8)]) for day in range(365)]
    np.testing.assert_allclose(drawn, wanted, atol=1e-12)
    assert np.abs(np.diff(drawn)).max() < np.abs(np.diff(middle)).max()


def test_on_a_phone_all_can_be_read(daily, crop, soil, sums, hours, spells, worlds):
    attrs = daily.attrs
    for figure in (
        figures.day_spread(cw.day_bands(daily["tmin"]), attrs=attrs, units="F", narrow=True),
        figures.hot_hours(hours, attrs=attrs, narrow=True),
        figures.warm_soil(*soil, crop, attrs=attrs, narrow=True),
        figures.heat_sums(sums, 5.0, need=1200, attrs=attrs, narrow=True),
        figures.dry_years(*spells, narrow=True),
        figures.what_if(*worlds, 75, part="longest", narrow=True),
    ):
        assert_fits_a_phone(figure)
        assert "Weather data: pellbrook_valley.csv" in foot(figure)


def test_a_variable_without_a_name_of_ours_keeps_its_own(daily):
    snow = daily["tmin"].rename("snow").assign_attrs(units="cm", long_name="depth of snow")
    assert sentences_climate.quantity(snow, "F") == "Depth of snow (cm)"


@pytest.mark.parametrize(("first_day", "named"), [(1, True), (182, False)])
def test_curves_are_named_where_the_year_rises_and_by_a_key_where_it_begins_high(first_day, named):
    usual = 10 - 12 * np.cos(2 * np.pi * (np.arange(365) - 15) / 365)
    values = usual[:, None] + np.array([-4.0, -2.0, 0.0, 2.0, 4.0])
    bands = xr.Dataset(
        {"tmean": (("day_of_year", "percentile"), values, {"units": "degC"})},
        coords={"day_of_year": np.arange(1, 366), "percentile": [10, 25, 50, 75, 90]},
    )
    ax = figures.day_spread(bands, first_day=first_day).axes[0]
    names = ["8 in 10 of all days", "half of all days", "a typical day"]
    lines = {note.get_text(): note for note in ax.texts if note.get_text() in names}
    assert (list(lines), ax.get_legend() is None) == (names if named else [], named)
    for name, (low, high) in zip(lines, ((3, 4), (2, 3), (2, 2)), strict=False):
        day, level = lines[name].xy  # the line ends amid the band's upper part, as the year rises
        assert day < 197
        assert values[int(day), low] - 0.5 <= level <= values[int(day), high] + 0.5


def test_bars_of_dry_spells_are_named_by_their_length(spells):
    ax = figures.dry_years(*spells).axes[0]
    assert ax.get_ylabel() == "Longest dry spell of each year"
    assert ax.get_xlabel() == "Dry days in a row"
    long, short = bars(ax, "10 dry days or more"), bars(ax, "fewer")
    assert min(bar.get_width() for bar in long) >= 10 > max(bar.get_width() for bar in short)


def test_rows_of_warm_soil_say_from_when(soil, crop):
    lower = figures.warm_soil(*soil, crop).axes[1]
    assert lower.get_ylabel() == "Warm enough from"


def test_curves_say_over_how_long_they_are_smoothed(hours):
    assert "Curves are smoothed over two weeks." in foot(figures.hot_hours(hours))


def test_sums_of_heat_are_spread_over_all_years_with_and_without_a_need(sums):
    for need in (None, 1200.0):
        ax = figures.heat_sums(sums, 5.0, need=need).axes[0]
        legend = ax.get_legend()
        told = " ".join([*written(ax), *(keys(ax) if legend else [])])
        assert "all years" in told
        assert "all days" not in told
