"""The window figure by its artists: each year is one mark on the right side of each line."""

from dataclasses import replace

import matplotlib.colors as mc
import numpy as np
import pytest
from matplotlib.figure import Figure
from matplotlib.patches import Rectangle

import climwin as cw
from climwin.core.seasons import day_of_year
from climwin.core.wording import say
from climwin.plot import style, summary
from climwin.report.spells import Need, Spells, needs, spells


@pytest.fixture(scope="module")
def figure(pellbrook):
    return cw.plot_summary(pellbrook)


@pytest.fixture(scope="module")
def one_need(pellbrook):
    return cw.garden_report(
        pellbrook.garden, pellbrook.daily, plans=pellbrook.plans[1:], need_days=60
    )


def marks(ax, zone):
    """Places of the marks of one zone, filled and hollow ones."""
    lines = [line for line in ax.lines if line.get_marker() == style.ZONE_MARKS[zone]]
    return np.concatenate([line.get_xdata() for line in lines] or [np.array([])])


def zones_by_hand(report, low, high):
    """Years in each zone, counted one by one from the bounds of each window."""
    counts = [0, 0, 0]
    for season in report.window["season"].values:
        year = report.window.sel(season=season)
        zone = {
            2 if days >= high else 1 if days >= low else 0
            for days in (float(year["length_least"]), float(year["length_most"]))
        }
        if len(zone) == 1:
            counts[zone.pop()] += 1
    return tuple(counts)


def test_each_year_is_counted_in_its_zone(pellbrook):
    low, high = sorted(pellbrook.needs)
    found = spells(pellbrook)
    assert found.counts == zones_by_hand(pellbrook, low, high)
    assert min(found.counts) > 0


def test_the_title_says_the_counts(pellbrook, figure):
    few, some, many = spells(pellbrook).counts
    title = figure._suptitle.get_text().replace("\n", " ")
    years = few + some + many
    assert f"after 6 weeks under cover in {some + many} of {years} years, and" in title
    assert title.endswith(f"sown outdoors in {many} of them")


def test_the_counts_stand_in_large_type(pellbrook, figure):
    large = [text for text in figure.axes[0].texts if text.get_fontsize() >= 15]
    assert tuple(int(text.get_text()) for text in large) == spells(pellbrook).counts


def test_no_mark_stands_on_the_wrong_side_of_a_line(pellbrook, figure):
    low, high = sorted(pellbrook.needs)
    ax, counts = figure.axes[1], spells(pellbrook).counts
    few, some, many = (marks(ax, zone) for zone in (0, 1, 2))
    assert (len(few), len(some), len(many)) == counts
    assert few.max() < low < some.min()
    assert some.max() < high < many.min()


@pytest.mark.parametrize("bin_days", [2, 5, 14])
def test_marks_are_stacked_without_two_in_one_place(bin_days):
    rng = np.random.default_rng(3)
    length = rng.integers(0, 200, 120).astype(float)
    lines = [70, 74]
    zone = np.where(length >= 74, 2, np.where(length >= 70, 1, 0))
    place, row = summary.stacked(length, zone, lines, bin_days)
    assert len({(round(x, 1), y) for x, y in zip(place, row, strict=True)}) == 120
    assert (np.abs(place - length) <= bin_days).all()
    assert ((place < 70) == (length < 70)).all()
    assert ((place > 74) == (length >= 74)).all()


def test_a_year_whose_dates_are_hidden_but_not_its_answer_is_hollow(pellbrook):
    found = spells(pellbrook)
    settled = (found.zone >= 0) & np.isnan(found.start)
    hollow = [
        line
        for line in cw.plot_summary(pellbrook).axes[1].lines
        if line.get_marker() in style.ZONE_MARKS.values() and line.get_markerfacecolor() == "none"
    ]
    assert sum(len(line.get_xdata()) for line in hollow) == settled.sum() > 0


def test_below_the_same_years_lie_on_their_dates(pellbrook, figure):
    first = int(pellbrook.windows["first_day"])
    bars = {
        round(p.get_x() + p.get_width() / 2): p
        for p in figure.axes[2].patches
        if isinstance(p, Rectangle)
    }
    dated = pellbrook.window.where(pellbrook.window["status"] == "observed", drop=True)
    assert set(bars) == {int(season) for season in dated["season"].values}
    found = spells(pellbrook)
    for season, bar in bars.items():
        year = pellbrook.window.sel(season=season)
        at = (day_of_year(year["start"].values[None])[0] - first) % 365
        assert (bar.get_y(), bar.get_height()) == (at, float(year["length"]))
        zone = int(found.zone[found.years == season][0])
        assert mc.to_hex(bar.get_facecolor()) == style.ZONES[zone]


@pytest.mark.parametrize(
    ("length", "start", "hidden", "had_none"),
    [(90.0, 100.0, False, False), (np.nan, np.nan, True, False), (0.0, np.nan, True, True)],
    ids=["dated", "hidden", "none"],
)
def test_a_year_without_a_spell_is_told_apart_from_one_that_a_gap_hides(
    length, start, hidden, had_none
):
    years, many = np.arange(2001, 2004), np.array([120.0, 80.0, length])
    begins, zone = np.array([90.0, 110.0, start]), np.array([2, 2, 0])
    ax = Figure().subplots()
    summary._draw_dates(ax, Spells(years, many, begins, zone, [Need(60)]), 1, narrow=False)
    head = ax.get_title(loc="left")
    assert head.startswith("When those spells came")
    assert (", \N{MULTIPLICATION SIGN} where a gap hides it" in head) is hidden
    assert head.endswith(" or there was none") is had_none


def test_it_is_as_high_for_120_years_as_for_30(pellbrook):
    heights = set()
    for years in (30, 40):
        windows = pellbrook.windows.isel(season=slice(-years, None))
        report = replace(pellbrook)
        report.__dict__["windows"] = windows
        heights.add(cw.plot_summary(report).get_figheight())
    assert heights == {summary.HEIGHT}


def test_a_need_given_by_hand_is_one_line(one_need):
    axes = cw.plot_summary(one_need).axes
    assert needs(one_need) == [Need(60)]
    assert [text.get_text() for text in axes[1].texts] == ["60 days needed"]
    few, none, many = spells(one_need).counts
    assert none == 0
    assert (few, few + many) == (int(one_need.shorter["shorter"]), int(one_need.shorter["known"]))


def test_the_foot_says_whose_picture_it_is(figure):
    foot = figure._supxlabel.get_text().replace("\n", " ")
    assert foot.startswith("Pellbrook allotments, 1985\N{EN DASH}2024.")


@pytest.mark.parametrize("narrow", [False, True])
def test_text_is_at_least_11_px(pellbrook, narrow):
    figure = cw.plot_summary(pellbrook, narrow=narrow)
    width = 390 - 32 if narrow else 900 - 36  # of a phone's page, and of a wide one's column
    scale = width / figure.get_figwidth() / 72  # px a point
    texts = [text for ax in figure.axes for text in ax.texts]
    texts += [label for ax in figure.axes[1:] for label in ax.get_xticklabels()]
    assert min(text.get_fontsize() for text in texts) * scale >= 11


def test_why_plants_from_under_cover_need_more_days_is_said_where_they_do():
    sown, raised = Need(91, "sown outdoors", "20 Apr"), Need(99, "after", "29 Mar", is_raised=True)
    told = summary._why_longer([sown, raised])
    assert "Plants set out on 29 Mar" in told
    assert "sown outdoors on 20 Apr" in told
    shorter = raised._replace(days=60)
    assert summary._why_longer([shorter, sown]) == summary._why_longer([sown]) == ""


@pytest.mark.parametrize("days", [60, None])
def test_each_zone_is_named_by_whether_its_spells_are_long_enough(pellbrook, one_need, days):
    """No spell below the least need is enough, every one from the greatest on is."""
    report = pellbrook if days is None else one_need
    ways = needs(report)
    names = dict(summary._zone_names(ways))
    low, high = min(way.days for way in ways), max(way.days for way in ways)
    for zone, name in names.items():
        assert name.startswith("too short") == (zone == 0)
        assert name.startswith("long enough") == (zone > 0)
        assert name.endswith("either way") == (low != high and zone != 1)
    if low != high:
        shorter = min(ways, key=lambda way: way.days)
        assert names[1] == f"long enough {shorter.way}"


# --- its words ----------------------------------------------------------------------------


def test_its_foot_says_what_is_drawn_then_what_a_hollow_mark_is_then_what_a_spell_is(
    pellbrook, figure, monkeypatch
):
    foot = figure._supxlabel.get_text().replace("\n", " ")
    hollow = "A hollow mark: a gap hides when the spell came, not whether it was long enough."
    how = "A mild spell is a run of days that the crop can take, smoothed over a week."
    late = "You would have had to know when it begins: fixed dates do worse."
    which = say("spells_as_recorded_today")  # the place has grown warmer
    assert f"{which} {hollow} {how} {late}" in foot
    assert foot.index("Pellbrook allotments") < foot.index(hollow)
    monkeypatch.setattr(summary, "_why_longer", lambda _: " So they need longer.")
    longer = cw.plot_summary(pellbrook)._supxlabel.get_text().replace("\n", " ")
    assert f"{which} {hollow} {how} {late} So they need longer." in longer


def test_what_a_hollow_mark_is_is_said_only_where_one_is_drawn(pellbrook):
    dated = pellbrook.windows["status"] == "observed"
    report = replace(pellbrook)
    known = pellbrook.windows.isel(season=dated.sel(part="longest").values)
    report.__dict__["windows"] = known
    figure = cw.plot_summary(report)
    drawn = [
        line
        for line in figure.axes[1].lines
        if line.get_marker() in style.ZONE_MARKS.values() and line.get_markerfacecolor() == "none"
    ]
    assert not drawn
    assert "hollow" not in figure._supxlabel.get_text()
    assert "where a gap hides it" not in figure.axes[2].get_title(loc="left")


def test_why_plants_from_under_cover_need_more_days_names_each_date_with_its_way():
    sown, raised = Need(91, "sown outdoors", "20 Apr"), Need(99, "after", "29 Mar", is_raised=True)
    assert summary._why_longer([sown, raised]).strip() == (
        "Plants set out on 29 Mar have less suitable weather than those sown outdoors on 20 Apr "
        "once they are up. So they grow more slowly, and need more days outdoors."
    )
    bought = Need(91, say("set_out_bought"), "20 Apr", is_set_out=True)
    assert "than those set out on 20 Apr. So they grow" in summary._why_longer([bought, raised])


def test_the_axis_counts_weeks_and_names_them_at_its_beginning(figure):
    ax = figure.axes[1]
    labels = [label.get_text() for label in ax.get_xticklabels()]
    assert labels[0] == "0 weeks"
    assert [7 * int(label.split()[0]) for label in labels] == ax.get_xticks().tolist()
    assert "weeks" not in " ".join(labels[1:])


def test_below_a_cross_is_a_year_that_a_gap_hides_or_one_without_a_spell(pellbrook, figure):
    ax, found = figure.axes[2], spells(pellbrook)
    (crosses,) = [line for line in ax.lines if line.get_marker() == "x"]
    undated = found.years[np.isnan(found.start)]
    assert crosses.get_xdata().tolist() == undated.tolist()
    head = ax.get_title(loc="left").replace("\n", " ")
    assert head.startswith("When those spells came, \N{MULTIPLICATION SIGN} where a gap hides it")
    had_none = (found.length == 0) & np.isnan(found.start)
    assert head.endswith("or there was none") == bool(had_none.any())
