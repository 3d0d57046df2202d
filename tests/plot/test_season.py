"""The figure of a season: what is drawn is what was told."""

import re

import numpy as np
import pytest
from drawn import written

import climwin as cw
from climwin.plot.season import season_ahead
from climwin.report import sentences_season as said

ON = np.datetime64("2024-05-15")


@pytest.fixture(scope="module")
def told():
    daily = cw.read_daily(cw.sample()).sel(time=slice(None, "2024-05-14"))
    pea, bean, tomato = (
        cw.Plan(cw.crop(name), "04-10", plants=plants)
        for name, plants in (("pea", "own"), ("snap bean", "own"), ("tomato", "bought"))
    )
    return (
        cw.season_so_far(daily),
        {
            "stands": cw.outlook(pea, daily, sown="04-10"),
            "to start": cw.outlook(bean, daily),
            "failed": cw.outlook(tomato, daily, sown="04-10"),
            "young": cw.outlook(tomato, daily, sown="05-12"),
            "perennial": cw.outlook(cw.Plan(cw.crop("raspberry"), "01-01"), daily),
        },
    )


def days_from_today(date):
    return float((np.asarray(date).astype("datetime64[s]") - ON) / np.timedelta64(1, "D"))


def texts(figure):
    found = [t.get_text() for t in figure.findobj(lambda each: hasattr(each, "get_text"))]
    return " ".join(" ".join(found).split())


def bars(ax):
    return sorted(ax.patches, key=lambda bar: bar.get_y())


@pytest.mark.parametrize("narrow", [False, True])
def test_this_year_runs_to_today_and_the_fan_over_what_may_come(told, narrow):
    so_far, ahead = told[0], told[1]["stands"]
    [ax] = season_ahead(so_far, ahead, narrow=narrow).axes
    [this] = [line for line in ax.get_lines() if line.get_label() == "this year"]
    begun = days_from_today("2024-04-10")
    came = ahead.sel(event=["emergence", "leaf growth"])["date_mid"].values
    expected = [begun, *map(days_from_today, came), 0.0]
    assert this.get_xdata() == pytest.approx(expected)
    today = [line.get_xdata()[0] for line in ax.get_lines() if line.get_linestyle() == "--"]
    assert 0 in today
    coming = [str(row["event"].item()) for row in said.events_to_come(ahead)]
    assert len(bars(ax)) == len(coming)
    for bar, name in zip(bars(ax), coming, strict=True):
        row = ahead.sel(event=name)
        low, high = (days_from_today(row[f"date_{end}"]) for end in ("low", "high"))
        assert (bar.get_x() + 0.5, bar.get_width() - 1) == pytest.approx((low, high - low))


def test_the_band_is_that_of_past_years_alone(told):
    so_far, ahead = told[0], told[1]["stands"]
    [ax] = season_ahead(so_far, ahead).axes
    harvest = ahead.sel(event="harvest")
    assert {"past years alone, nine times in ten", "may come, nine times in ten"} <= {*written(ax)}
    band = ax.collections[0].get_paths()[0].vertices
    assert np.isclose(band[:, 0], days_from_today(harvest["usual_low"])).any()
    assert band[:, 0].max() == pytest.approx(days_from_today(harvest["usual_high"]))


@pytest.mark.parametrize("narrow", [False, True])
def test_each_start_has_the_likely_dates_of_its_harvest_and_its_count(told, narrow):
    so_far, ahead = told[0], told[1]["to start"]
    figure = season_ahead(so_far, ahead, narrow=narrow)
    [ax] = figure.axes
    there = ahead.isel(start=(ahead["harvested"] > 0).values)
    assert len(bars(ax)) == there.sizes["start"]
    row = there.isel(start=0)
    [first, *_] = bars(ax)
    assert first.get_x() + 0.5 == pytest.approx(days_from_today(row["harvest_low"]))
    more = there.assign(known=there["known"] + 3)  # so that no two of the three are alike
    counts = zip(
        *(more[name].values.astype(int) for name in ("harvested", "known", "good")), strict=True
    )
    [ax] = season_ahead(so_far, more, narrow=narrow).axes
    shown = [text for text in written(ax) if re.fullmatch(r"\d+ of \d+ \(\d+\)", text)]
    assert shown == [f"{harvested} of {known} ({good})" for harvested, known, good in counts]
    [ax] = figure.axes
    fills = {bar.get_facecolor() for bar in bars(ax)}
    assert len(fills) == 3  # worth sowing, few good ones, too late


@pytest.mark.parametrize(
    ("which", "says"),
    [("failed", "failed"), ("young", "too early to say more"), ("perennial", "Midwinter")],
)
def test_what_is_out_of_the_ordinary_is_written_into_the_figure(told, which, says):
    so_far, ahead = told[0], told[1][which]
    figure = season_ahead(so_far, ahead)
    assert says in texts(figure)
    assert says not in texts(season_ahead(so_far, told[1]["stands"]))
    if which != "perennial":
        assert not bars(figure.axes[0])  # no fan where the season says no more


def test_the_title_is_the_finding_and_the_foot_names_place_and_years(told):
    so_far, ahead = told[0], told[1]["stands"]
    figure = season_ahead(so_far, ahead)
    assert figure.get_suptitle() == said.finding(ahead)
    foot = texts(figure)
    assert "Pellbrook Mill, 1985\N{EN DASH}2023." in foot
    assert "Not a weather forecast" in foot
    assert said.early_or_late(so_far) in foot
    assert "Lower bed, 1985" in texts(season_ahead(so_far, ahead, place="Lower bed"))


@pytest.mark.parametrize("on", ["2024-02-29", "2024-03-01"])
def test_months_are_those_of_the_calendar_also_round_a_leap_day(on):
    daily = cw.read_daily(cw.sample()).sel(time=slice("2004", None))
    plan = cw.Plan(cw.crop("broad bean"), "02-10")
    ahead = cw.outlook(plan, daily, on=on, sown="02-10")
    [ax] = season_ahead(cw.season_so_far(daily, on=on), ahead).axes
    dates = np.datetime64(on) + ax.get_xticks().round().astype("timedelta64[D]")
    assert len(dates)
    assert {str(date)[8:] for date in dates} == {"01"}


def test_an_american_reads_its_rows_with_the_month_first(told):
    figure = cw.in_dialect(season_ahead(told[0], told[1]["stands"]), "F")
    figure.draw_without_rendering()
    rows = [label.get_text() for label in figure.axes[0].get_yticklabels()]
    assert rows[0] == "Sown\nApr 10"
    assert rows[-1].startswith("First picked\nJul 3\N{EN DASH}8")


def test_words_on_past_years_stand_beside_their_band_not_on_it(told):
    so_far, ahead = told[0], told[1]["stands"]
    for narrow in (False, True):
        figure = season_ahead(so_far, ahead, narrow=narrow)
        figure.draw_without_rendering()
        [ax] = figure.axes
        [words] = [text for text in ax.texts if text.get_text().startswith("past years alone")]
        box = words.get_window_extent()
        band = ax.collections[0].get_paths()[0].transformed(ax.collections[0].get_transform())
        assert not any(box.contains(*corner) for corner in band.vertices)
        assert box.x1 <= figure.bbox.x1


# --- its words ----------------------------------------------------------------------------


def test_marks_of_starts_are_what_the_foot_says_of_them(told):
    """Squares and diamonds from eight years of ten on, of which squares have more good ones."""
    ahead = told[1]["to start"]
    figure = season_ahead(told[0], ahead)
    foot = " ".join(figure.get_supxlabel().split())
    assert (
        "Bars: likely dates of the first harvest. Squares: a harvest in at least eight years of "
        "ten, good ones frequent; diamonds: good ones rare; circles: a harvest less often."
    ) in foot
    [ax] = figure.axes
    there = ahead.isel(start=(ahead["harvested"] > 0).values)
    odds, good = there["odds"].values, (there["good"] / there["known"]).values
    marks = [line for line in ax.lines if line.get_marker() in ("s", "D", "o")]
    kinds = np.array([line.get_marker() for line in marks])
    assert len(marks) == len(odds)
    assert set(kinds) == {"s", "D", "o"}
    assert odds[kinds != "o"].min() >= 0.8 > odds[kinds == "o"].max()
    assert good[kinds == "s"].min() > good[kinds == "D"].max()
    # The counts of the worthwhile ones are bold.
    counts = [
        text for text in ax.texts if text.get_text().endswith(")") and " of " in text.get_text()
    ]
    assert [text.get_weight() == "bold" for text in counts] == (kinds == "s").tolist()


@pytest.mark.parametrize("narrow", [False, True])
def test_heads_of_a_crop_to_be_started(told, narrow):
    [ax] = season_ahead(told[0], told[1]["to start"], narrow=narrow).axes
    assert ax.get_ylabel() == "Sown"
    assert {"first picked", "harvest (good one)"} <= {*written(ax)}
    (head,) = [text.get_text() for text in ax.texts if "good one" in text.get_text()]
    assert ("\n" in head) == narrow


def test_where_no_date_leads_to_a_harvest_it_says_so(told):
    ahead = told[1]["to start"]
    hopeless = ahead.assign(harvested=ahead["harvested"] * 0)
    [ax] = season_ahead(told[0], hopeless).axes
    assert "no date leads to a harvest" in written(ax)
    assert not bars(ax)


def test_each_row_has_its_dates_and_the_harvest_its_years(told):
    ahead = told[1]["stands"]
    more = ahead.assign(known=ahead["known"] + 3)
    [ax] = season_ahead(told[0], more).axes
    rows = [label.get_text().split("\n") for label in ax.get_yticklabels()]
    harvest = ahead.sel(event="harvest")
    assert rows[-1][-1] == f"{int(harvest['seen'])} of {int(ahead['known']) + 3} years"
    assert rows[-1][0] == "First picked"
    assert rows[-1][-2] == said.span_of(harvest["date_low"], harvest["date_high"])
    # Of what no past year came to, there is no date.
    never = ahead.copy(deep=True)
    never["seen"][{"event": int(np.flatnonzero(~ahead["has_come"].values)[0])}] = 0
    texts_of = [
        label.get_text() for label in season_ahead(told[0], never).axes[0].get_yticklabels()
    ]
    assert sum(text.endswith("in no past year") for text in texts_of) == 1


def test_what_may_come_is_filled_where_ten_years_came_to_it(told):
    ahead = told[1]["stands"].copy(deep=True)
    [ax] = season_ahead(told[0], ahead).axes
    assert all(bar.get_facecolor()[3] == 1 for bar in bars(ax))
    row = int(np.flatnonzero(~ahead["has_come"].values)[0])
    ahead["seen"][{"event": row}] = 4
    [ax] = season_ahead(told[0], ahead).axes
    assert [bar.get_facecolor()[3] == 1 for bar in bars(ax)].count(False) == 1
