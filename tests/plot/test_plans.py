"""Figures of plans: what is drawn is what was computed."""

import numpy as np
import pytest
import xarray as xr
from drawn import assert_fits_a_phone, foot, keys, line, title, written
from matplotlib.patches import Rectangle

import climwin as cw
from climwin.climate import sensitivity
from climwin.core.provenance import warm_by
from climwin.core.seasons import day_name
from climwin.planning.suitability import rank_crops
from climwin.plot import plans as figures
from climwin.plot.style import DARK


@pytest.fixture(scope="module")
def swept(pellbrook):
    return dict(zip(("cold frame, 6 weeks", "sown in place"), pellbrook.swept, strict=True))


@pytest.fixture(scope="module")
def grid(pellbrook):
    return sensitivity.sensitivity(pellbrook.daily, pellbrook.crop, 75)


@pytest.fixture(scope="module")
def suited(pellbrook):
    names = ("cauliflower", "radish", "pea", "tomato", "watermelon")
    return rank_crops(pellbrook.daily, [cw.crop(name) for name in names])


# --- start dates --------------------------------------------------------------------------


def test_the_curves_are_the_odds_by_start_date(swept):
    ax = figures.start_dates(swept, first_day=182).axes[0]
    for name, found in swept.items():
        wanted = 100 * np.roll(found["share"].values, -181)
        np.testing.assert_allclose(line(ax, name).get_ydata(), wanted)
    dashes = {line(ax, name).get_linestyle() for name in swept}
    assert len(dashes) == len(keys(ax)) == 2


def test_the_ribbon_is_the_interval(swept):
    name, found = next(iter(swept.items()))
    ribbons = figures.start_dates({name: found}).axes[0].collections[:2]
    for ribbon, ends in zip(ribbons, (("band_low", "band_high"), ("low", "high")), strict=True):
        vertices = ribbon.get_paths()[0].vertices
        for day in (60, 90, 190):
            at = vertices[vertices[:, 0] == day][:, 1]
            wanted = [100 * float(found[end][day]) for end in ends]
            assert [at.min(), at.max()] == pytest.approx(wanted)


@pytest.mark.parametrize(
    ("best", "narrow", "said"),
    [
        ((12, 11), False, []),  # the title says it
        ((100, 60), False, []),  # 39 days on one side of it
        ((182, 60), False, ["best: 1 Jul to 1 Mar"]),
        ((250, 60), True, ["best: 7 Sep to 1 Mar"]),
        ((182, 60), True, []),
    ],
)
def test_the_dates_of_a_bar_are_beside_it_where_they_have_room(swept, best, narrow, said):
    name, found = next(iter(swept.items()))
    figure = figures.start_dates({name: found}, best={name: best}, narrow=narrow)
    assert written(figure.axes[0]) == said


def test_the_best_run_is_marked_and_named(swept):
    ax = figures.start_dates(swept).axes[0]
    for told, found in zip(written(ax), swept.values(), strict=True):
        first, last = cw.best_dates(found)
        assert told == f"best: {day_name(first)} to {day_name(last)}"
        run = [path for each in ax.collections for path in each.get_paths()]
        edges = {(p.vertices[:, 0].min(), p.vertices[:, 0].max()) for p in run if len(p) == 5}
        assert (first - 1, last) in edges


def test_a_plan_that_never_gives_a_harvest_has_no_best_run(swept):
    found = next(iter(swept.values())).copy(deep=True)
    found["share"][:] = 0.0
    figure = figures.start_dates({"in the snow": found})
    assert written(figure.axes[0]) == []
    assert title(figure) == ("In the snow: no date gives a harvest")


# --- crops that suit ----------------------------------------------------------------------


def test_crops_stand_in_order_each_by_its_best_way(suited):
    ax = figures.crop_ranking(suited).axes[0]
    names = [label.get_text() for label in ax.get_yticklabels()]
    shares, values = [], []
    for name in names:
        ways = suited.isel(plan=suited["crop"].values == name)
        value = (ways["elsewhere_share"] * ways["growth"]).fillna(0).values
        shares.append(float(ways["elsewhere_share"][int(np.argmax(value))]))
        values.append(float(value.max()))
    assert values == sorted(values, reverse=True)
    assert sorted(names) == sorted(set(suited["crop"].values))
    drawn = {
        round(y): x
        for name in ("outdoors", "under cover")
        for x, y in zip(*line(ax, name).get_data(), strict=True)
    }
    assert [drawn[row] for row in range(len(names))] == pytest.approx([100 * s for s in shares])


def test_what_limits_a_crop_is_told_in_words(suited):
    figure = figures.crop_ranking(suited)
    names = [label.get_text() for label in figure.axes[0].get_yticklabels()]
    told = dict(zip(names, written(figure.axes[1]), strict=True))
    ranked = suited.sortby("rank")
    for name in names:
        plan = ranked.isel(plan=int(np.argmax(ranked["crop"].values == name)))
        assert plan["limit"].item() in told[name]
        assert day_name(float(plan["first_day"])) in told[name]
        assert ("cold frame" in told[name]) == (plan["cover"].item() == "cold frame")


def test_a_crop_that_never_gives_a_harvest_says_why(pellbrook):
    polar = warm_by(pellbrook.daily, -30.0)
    found = rank_crops(polar, [cw.crop("tomato")], ways=["none"])
    told = written(figures.crop_ranking(found).axes[1])
    assert float(found["share"].max()) == 0
    assert told == [
        f"sown outdoors: in none of {int(found['known'][0])} years, {found['limit'].values[0]}"
    ]


def test_only_the_first_are_shown_if_asked(suited):
    figure = figures.crop_ranking(suited, most=2)
    assert len(figure.axes[0].get_yticklabels()) == 2
    often = int((suited["share"].groupby("crop").max() >= 0.8).sum())
    wanted = (
        f"{often} of 5 crops give a harvest here in at least 8 years of 10, at their best dates"
    )
    assert title(figure) == wanted


# --- a calendar of all crops ---------------------------------------------------------------


@pytest.fixture(scope="module")
def dates(pellbrook):
    names = ("pea", "tomato", "spinach", "asparagus")
    return cw.planting_calendar(pellbrook.daily, [cw.crop(name) for name in names])


def test_each_span_is_a_bar_in_its_crops_row(dates):
    ax = figures.plot_calendar(dates, first_day=60).axes[0]
    names = [label.get_text() for label in ax.get_yticklabels()]
    assert names == ["pea", "tomato", "spinach"]  # a perennial has no dates
    drawn = {
        (round(p.vertices[:, 1].mean()), p.vertices[:, 0].min(), np.ptp(p.vertices[:, 0]))
        for each in ax.collections
        for p in each.get_paths()
    }
    for number in range(dates.sizes["row"]):
        row = dates.isel(row=number)
        days = (int(row["last_day"]) - int(row["first_day"])) % 365 + 1
        left = (int(row["first_day"]) - 60) % 365
        assert (names.index(row["crop"].item()), left, days) in drawn


def test_plants_set_out_are_told_from_seed(dates):
    ax = figures.plot_calendar(dates).axes[0]
    open_bars = sum(tuple(each.get_facecolor()[0][:3]) == (1, 1, 1) for each in ax.collections)
    assert open_bars == int((dates["method"] == "set out").sum()) > 0


def test_a_calendar_without_a_date_is_refused(pellbrook):
    polar = warm_by(pellbrook.daily, -30.0)
    empty = cw.planting_calendar(polar, [cw.crop("tomato")])
    with pytest.raises(
        ValueError, match=r"^The calendar is empty: no crop has .* here\. Make it with lower odds: "
    ):
        figures.plot_calendar(empty)


# --- sensitivity --------------------------------------------------------------------------


def test_each_cell_tells_its_years(grid):
    ax = figures.sensitivity_grid(grid).axes[0]
    cells = {text.get_position(): text.get_text() for text in ax.texts}
    chosen = grid.sel(part="longest")
    assert len(cells) == chosen["share"].size
    assert {text.get_color() for text in ax.texts}.isdisjoint(DARK)  # the cells stay light
    for (row, column), share in np.ndenumerate(chosen["share"].values):
        cell = chosen.isel(low_shift=row, high_shift=column)
        wanted = f"{int(cell['shorter'])} of {int(cell['known'])}\n{100 * share:.0f} %"
        assert cells[column, row] == wanted


def test_the_limits_taken_are_framed_and_stand_in_the_title(grid):
    figure = figures.sensitivity_grid(grid, units="F")
    (frame,) = [p for p in figure.axes[0].patches if isinstance(p, Rectangle)]
    assert (round(frame.get_x() + 0.47), round(frame.get_y() + 0.46)) == (1, 1)
    share = grid["share"].sel(part="longest")
    own, low, high = (
        f"{100 * float(v):.0f} %"
        for v in (share.sel(low_shift=0, high_shift=0), share.min(), share.max())
    )
    assert title(figure) == (
        f"Too short in {own} of years; were the limits off by up to 3.6 °F, in {low} to {high}"
    )
    rows = [label.get_text() for label in figure.axes[0].get_yticklabels()]
    low = cw.bearable_band(cw.crop("cauliflower")).low_c
    assert rows == [f"{1.8 * (low + shift) + 32:.1f}" for shift in (-2, 0, 2)]
    assert figure.axes[0].get_xlabel() == "High limit (°F)"
    assert figure.axes[0].get_ylabel() == "Low limit (°F)"


def test_limits_that_leave_no_such_window_say_so(grid):
    none = grid.copy(deep=True)
    none["share"] = xr.full_like(grid["share"], np.nan)
    figure = figures.sensitivity_grid(none)
    assert set(written(figure.axes[0])) == {"no such window"}
    assert title(figure) == "Whatever the limits, the odds of too short a window are not known"


# --- all of them --------------------------------------------------------------------------


def test_on_a_phone_all_can_be_read(pellbrook, swept, grid, suited, dates):
    attrs = pellbrook.daily.attrs
    for figure in (
        figures.start_dates(swept, narrow=True),
        figures.crop_ranking(suited, attrs=attrs, narrow=True),
        figures.sensitivity_grid(grid, attrs=attrs, narrow=True),
        figures.plot_calendar(dates, attrs=attrs, narrow=True),
    ):
        assert_fits_a_phone(figure)
        assert "Weather data: pellbrook_valley.csv" in foot(figure)


# --- how a figure is to be read -----------------------------------------------------------


def test_each_figure_says_how_its_shades_lines_and_marks_are_to_be_read(swept, suited, dates):
    odds = foot(figures.start_dates(swept))
    assert (
        "Years with a harvest, by date. Shaded: the likely range of each date; paler: of all dates "
        "at once. Past years are not a forecast."
    ) in odds
    best = foot(figures.crop_ranking(suited))
    assert (
        "By odds times growth. Each way on its best dates, judged on years that had no part in "
        "choosing them. Line: the likely range, nine times in ten. Past years are not a forecast."
    ) in best
    calendar = foot(figures.plot_calendar(dates))
    assert (
        "Full: sow or plant outdoors. Open: set out plants. A dot: the largest expected crop of "
        "that season. No forecast."
    ) in calendar


def test_full_dots_are_outdoors_and_open_ones_under_cover(suited):
    ax = figures.crop_ranking(suited).axes[0]
    assert ax.get_xlabel() == "Years with a harvest (%)"
    faces = {name: line(ax, name).get_markerfacecolor() for name in ("outdoors", "under cover")}
    assert faces["under cover"] == "white" != faces["outdoors"]
    names = [label.get_text() for label in ax.get_yticklabels()]
    ranked = suited.sortby("rank")
    raised = [
        float(ranked["weeks"][int(np.argmax(ranked["crop"].values == name))]) > 0 for name in names
    ]
    rows = [round(row) for row in line(ax, "under cover").get_ydata()]
    assert rows == [row for row, is_raised in enumerate(raised) if is_raised]


def test_the_odds_by_start_date_are_years_with_a_harvest(swept):
    assert figures.start_dates(swept).axes[0].get_ylabel() == "Years with a harvest (%)"


def test_a_full_bar_is_sown_and_an_open_one_set_out_each_with_a_dot_that_is_seen(dates):
    ax = figures.plot_calendar(dates).axes[0]
    white = (1.0, 1.0, 1.0, 1.0)
    is_open = [tuple(bar.get_facecolor()[0]) == white for bar in ax.collections]
    methods = dates["method"].values.tolist()
    assert is_open == [method == "set out" for method in methods]
    dots = [each for each in ax.lines if each.get_marker() == "o"]
    assert [dot.get_color() != "white" for dot in dots] == is_open


def test_a_grid_says_which_years_it_counts(grid):
    told = foot(figures.sensitivity_grid(grid))
    assert (
        "years in which it is too short, and their share, in which years that hang on missing days "
        "count in part. Framed: the limits taken."
    ) in told
