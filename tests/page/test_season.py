"""The page of a season, and its part of the page to share."""

import datetime as dt
import html as markup
import re

import pytest
from reading import Reader

import climwin as cw
from climwin.page.html import render_notebook
from climwin.page.notebook import read_template, run_cells
from climwin.page.season import running_season
from climwin.page.season_page import season_page
from climwin.page.sections import Page
from climwin.report import sentences_season as said

PELLBROOK = cw.Garden("Pellbrook allotments", 46.1, 7.2, 640)


@pytest.fixture(scope="module")
def daily():
    """The invented sample with a running year that ends on 14 May."""
    return cw.read_daily(cw.sample()).sel(time=slice(None, "2024-05-14"))


@pytest.fixture(scope="module")
def told(daily):
    plan = cw.Plan(cw.crop("pea"), "04-10")
    return cw.season_so_far(daily), cw.outlook(plan, daily, sown="04-10")


def plain(html):
    text = markup.unescape(re.sub(r"<[^>]+>", " ", html)).replace("\N{NO-BREAK SPACE}", " ")
    return " ".join(text.split())


def test_the_page_says_what_the_sentences_say(told):
    so_far, ahead = told
    html = season_page(so_far, ahead, place="Pellbrook", notes=["Mind <this>."])
    text = plain(html)
    crop, on = ahead.attrs["crop"], said.whole_date(ahead.attrs["on"])
    assert re.search(rf"Pellbrook, {crop}\w*, {on}", text, re.IGNORECASE)
    for line in (
        *said.season_lines(so_far, "C"),
        *said.freeze_lines(so_far, "C"),
        *said.outlook_lines(ahead, "C"),
        said.outlook_heading(ahead),
        said.NOT_A_FORECAST,
    ):
        assert " ".join(line.split()) in text
    assert "Mind <this>." in text
    assert "<this>" not in html  # no text of a user becomes markup
    assert html == season_page(so_far, ahead, place="Pellbrook", notes=["Mind <this>."])


def test_the_page_asks_for_nothing_from_outside(told):
    html = season_page(*told)
    addresses = [a[k] for _, a in Reader(html).tags for k in ("src", "srcset", "href") if k in a]
    assert addresses
    assert all(address.startswith(("data:", "#")) for address in addresses)
    assert "<script" not in html
    assert '<meta name="generator" content="climwin">' in html


def test_degrees_fahrenheit_are_shown(told):
    text = plain(season_page(*told, units="F"))
    assert "Heat above 41 °F" in text
    assert "°C" not in text.replace("°C)", "")
    with pytest.raises(ValueError, match="units must be one of C, F"):
        season_page(*told, units="K")


# --- the page to share --------------------------------------------------------------------


@pytest.fixture(scope="module")
def report(daily):
    plans = [cw.Plan(cw.crop("pea"), "04-10"), cw.Plan(cw.crop("pea"), "03-20")]
    return cw.garden_report(PELLBROOK, daily, plans=plans)


def test_a_record_that_reaches_into_the_year_has_its_part(report):
    part = running_season(report, "C", None)
    plan = report.plans[report.best]
    ahead = cw.outlook(plan, report.daily, sown=plan.start)
    assert part["ahead"] == said.outlook_lines(ahead, "C")
    assert part["assumed"] == "This assumes that the crop was sown on the plan's date."
    html = Page(report, "C", None).section("season").html
    assert "This year so far" in html
    assert said.NOT_A_FORECAST in plain(html)
    nearby = running_season(report, "C", dt.date(2024, 5, 20))
    assert "5 days since then" in " ".join(nearby["gaps"])


def test_a_year_that_is_over_or_long_ago_has_none(report, pellbrook):
    assert running_season(pellbrook, "C", None) == {}
    assert running_season(report, "C", dt.date(2026, 11, 27)) == {}
    assert running_season(report, "C", dt.date(2024, 5, 1)) == {}  # made before its record ended
    assert Page(pellbrook, "C", None).section("season").html.strip() == ""


def test_a_plan_whose_start_is_still_to_come_is_not_taken_as_started(daily):
    plans = [cw.Plan(cw.crop("snap bean"), "05-25")]
    part = running_season(cw.garden_report(PELLBROOK, daily, plans=plans), "C", None)
    assert "not yet sown" in part["crop"]
    assert part["assumed"] == ""


def test_the_page_to_share_shows_it_once(report):
    page = Page(report, "C", None)
    cells = run_cells(read_template("page"), page)
    html = render_notebook(cells, title="pea")
    assert html.count("This year so far") == 1
