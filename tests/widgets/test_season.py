"""The panel of a season: what is chosen is what is shown, and what is wrong is said."""

import base64
import html
import re

import pytest

import climwin as cw
from climwin.core.errors import DataGapError
from climwin.report import sentences_season as said


@pytest.fixture(scope="module")
def daily():
    return cw.read_daily(cw.sample()).sel(time=slice(None, "2024-05-14"))


@pytest.fixture
def panel(daily):
    return cw.season_panel(daily, "pea", sown="04-10")


def test_it_opens_on_what_it_was_given(daily, panel):
    assert panel.state == {"crop": "pea", "sown": "04-10", "on": "2024-05-15", "units": "C"}
    ahead = cw.outlook(cw.Plan(cw.crop("pea"), "04-10"), daily, sown="04-10")
    assert set(said.outlook_lines(ahead, "C")) <= set(panel.lines)
    assert said.NOT_A_FORECAST in panel.lines
    assert "pea" in panel.crops
    assert panel.message == ""


def test_a_choice_changes_what_is_told(panel):
    before = panel.drawings
    panel.state = {**panel.state, "crop": "snap bean", "sown": ""}
    assert panel.lines[0].startswith("Snap beans, not yet sown on 15 May 2024")
    assert [*map(str.__ne__, panel.drawings, before)] == [True, True]
    assert "start" in panel.ahead.dims
    panel.state = {**panel.state, "on": "2024-05-01", "units": "F"}
    assert panel.ahead.attrs["on"] == "2024-05-01"
    assert any("°F" in line for line in panel.lines)


@pytest.mark.parametrize(
    ("wrong", "says"),
    [
        ({"sown": "31-31"}, "sown is a day such as '04-28'"),
        ({"on": "soon"}, "on is a date such as"),
        ({"on": "2024-07-30"}, "says nothing about this season"),
        ({"units": "K"}, "units must be one of C, F"),
    ],
)
def test_what_is_wrong_is_said_and_nothing_moves(panel, wrong, says):
    told = panel.lines
    panel.state = {**panel.state, **wrong}
    assert says in panel.message
    assert panel.lines == told
    panel.state = {"crop": "pea", "sown": "04-10", "on": "2024-05-15", "units": "C"}
    assert panel.message == ""


def test_a_question_that_cannot_be_is_refused_at_once(daily):
    with pytest.raises(DataGapError, match="says nothing about this season"):
        cw.season_panel(daily, "pea", on="2024-07-30")
    with pytest.raises(ValueError, match="sown is a day"):
        cw.season_panel(daily, "pea", sown="soon")


def test_where_no_script_runs_it_is_a_picture(panel):
    data, metadata = panel._repr_mimebundle_()
    assert base64.b64decode(data["image/png"]).startswith(b"\x89PNG")
    assert metadata["image/png"]["alt"] == panel.finding == data["text/plain"]
    assert "application/vnd.jupyter.widget-view+json" in data
    still = html.unescape(data["text/html"]).replace("\N{NO-BREAK SPACE}", " ")
    assert data["image/png"] in still
    assert all(line in still for line in panel.lines)


def test_its_picture_is_text_in_inks_of_its_own_wide_and_narrow(panel):
    wide, narrow = panel.drawings
    assert "First picked" in wide
    assert "First picked" in narrow
    widths = [float(re.search(r'viewBox="0 0 ([\d.]+)', each)[1]) for each in panel.drawings]
    assert widths[0] > 2 * widths[1]
    used = set(re.findall(r"var\((--c\w+)\)", wide + narrow))
    assert len(used) > 4
    assert all(f"{ink}:light-dark(" in panel._css for ink in used)


def test_the_plan_that_was_given_stays_with_its_crop(daily):
    plan = cw.Plan(cw.crop("tomato"), "04-01", 6, "room with lights")
    panel = cw.season_panel(daily, plan, sown="04-01")
    assert panel.plan == plan
    panel.state = {**panel.state, "crop": "pea"}
    assert panel.plan.weeks_under_cover == 0
