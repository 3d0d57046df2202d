"""The figure of a season: what is drawn is what was told."""

import numpy as np
import pytest

import climwin as cw
from climwin.plot.season import finding, season_ahead


@pytest.fixture(scope="module")
def told():
    daily = cw.read_daily(cw.sample()).sel(time=slice(None, "2024-05-14"))
    pea, bean = (cw.Plan(cw.crop(name), "04-10") for name in ("pea", "snap bean"))
    return (
        cw.season_so_far(daily),
        {"stands": cw.outlook(pea, daily, sown="04-10"), "to start": cw.outlook(bean, daily)},
    )


@pytest.mark.parametrize("narrow", [False, True])
@pytest.mark.parametrize("which", ["stands", "to start"])
def test_this_year_ends_today_and_the_crop_comes_after_it(told, which, narrow):
    so_far, ahead = told[0], told[1][which]
    figure = season_ahead(so_far, ahead, narrow=narrow)
    upper, lower = figure.axes
    lines = {line.get_label(): line for line in upper.get_lines()}
    own = lines["this year"].get_xydata()
    assert own[-1, 1] == pytest.approx(so_far["so_far"].sel(quantity="heat_sum").item())
    today = [line.get_xdata()[0] for line in upper.get_lines() if line.get_linestyle() == "--"]
    assert len(today) == 1
    assert own[-1, 0] == today[0] - 1
    bars = [line for line in lower.get_lines() if len(line.get_xdata()) == 2 and line.get_lw() > 3]
    assert bars
    orange = [bar for bar in bars if bar.get_color() == "#b86e00"]
    if which == "stands":
        harvest = ahead.sel(event="harvest")
        days = (harvest["date_low"].values - np.datetime64("2024-05-15")) / np.timedelta64(1, "D")
        assert max(bar.get_xdata()[0] for bar in orange) == pytest.approx(today[0] + days)
    assert all(bar.get_xdata()[1] > bar.get_xdata()[0] >= today[0] - 1 for bar in bars)
    text = " ".join(t.get_text() for t in figure.findobj(lambda a: hasattr(a, "get_text")))
    assert "No weather forecast" in text.replace("\n", " ")


def test_the_title_is_the_finding(told):
    assert "first harvest likely 3 Jul to 8 Jul" in finding(told[1]["stands"])
    assert "have odds of 8 in 10 or more" in finding(told[1]["to start"])
    never = told[1]["to start"].copy()
    never["odds"] = never["odds"] * 0
    assert "no start from now on has odds of 8 in 10" in finding(never)


def test_degrees_fahrenheit_are_shown(told):
    celsius, fahrenheit = (
        season_ahead(told[0], told[1]["stands"], units=units).axes[0] for units in ("C", "F")
    )
    assert "°F days" in fahrenheit.get_ylabel()
    assert fahrenheit.get_ylim()[1] == pytest.approx(1.8 * celsius.get_ylim()[1])
