"""The form to begin with: what stands in it is answered, and what is wrong is said in its words."""

import datetime as dt
import html
import re
from itertools import islice

import pytest
from reading import Reader

from climwin.core.dialect import in_dialect
from climwin.io.samples import sample
from climwin.page import start
from climwin.page.start import start_form
from climwin.report import sentences_decision
from climwin.report.sentences_caveats import caveats


@pytest.fixture
def form(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    return start_form(crop_name="pea")


def dropped(name, raw):
    """A file as the upload field holds it."""
    when = dt.datetime(2026, 1, 1, tzinfo=dt.UTC)
    facts = {"name": name, "type": "text/csv", "size": len(raw), "last_modified": when}
    return ({**facts, "content": memoryview(raw)},)


class Handle:
    """What a notebook shows in one place."""

    def __init__(self):
        self.shown = []

    def update(self, what):
        self.shown.append(what)


def words(fragment):
    return Reader(fragment._repr_html_()).words


def test_an_empty_form_answers_for_the_sample(form):
    report = form.report()
    assert report.garden.name == "Pellbrook Mill"
    assert report.crop.name == "pea"


def test_a_record_dropped_in_brings_its_own_name(form):
    form.record.value = dropped("ours.csv", sample("pellbrook_hill.csv").read_bytes())
    form.elevation.value = "2900 ft"
    garden = form.report().garden
    assert garden.name == "Pellbrook Pass"
    assert garden.elevation == pytest.approx(2900 * 0.3048)
    form.place.value = "Top field"
    assert form.garden(form.daily()).name == "Top field"


def test_a_record_without_units_is_asked_for_them_in_the_form(form):
    days = [f"2020-07-{n:02},{50 + n % 9},{70 + 2 * (n % 7)}" for n in range(1, 32)]
    rows = "\n".join(days)
    form.record.value = dropped("us.csv", f"date,tmin,tmax\n{rows}".encode())
    form._show()
    assert "Say the file's units in the field “Its units”" in html.unescape(form.message.value)
    assert "units=" not in form.message.value
    form.record_units.value = "F"
    assert float(form.daily()["tmax"].max()) == pytest.approx((82 - 32) / 1.8, abs=0.1)


def test_a_logger_dropped_in_is_the_space_that_plants_are_raised_in(form):
    form.log.value = dropped("green_house.csv", sample("frame_logger.csv").read_bytes())
    report = form.report()
    assert [plan.cover for plan in report.plans if plan.weeks_under_cover] == ["green house"]
    assert report.space_verdict.attrs["cover"] == "green house"


@pytest.mark.parametrize(
    ("field", "typed", "said"),
    [
        ("crop_name", "potatoe", "Nearest: potato"),
        ("crop_name", "potatoe", "The menu of “Crop” lists all"),
        ("crop_name", "no_such_file.toml", "No such file"),
        ("elevation", "high", "Height above sea takes metres"),
        ("place", "Grennoble", "Did you mean Grenoble"),
    ],
)
def test_a_slip_is_answered_in_one_line_in_the_form(form, field, typed, said):
    getattr(form, field).value = typed
    form._show()
    assert said in form.message.value
    assert not re.search(r"climwin\.|_names|read_|read crop|crop names", form.message.value)
    assert not form.button.disabled


def test_the_button_puts_the_answer_in_the_place_of_the_old_one(form, tmp_path):
    form._handles = [Handle(), Handle(), Handle()]
    form._show()
    answer, panel, link = (handle.shown[-1] for handle in form._handles)
    report = form.report()
    said = words(answer)
    assert sentences_decision.verdict(report) in said  # what to do comes first
    assert said.index(sentences_decision.verdict(report)) < said.index("How sure is this?")
    assert sentences_decision.numbers_behind(report) in said
    assert panel.crop.name == "pea"
    assert (tmp_path / "pellbrook-mill-pea.html").exists()
    assert "pellbrook-mill-pea.html" in link._repr_html_()
    assert form.message.value.startswith("The answer is below")


def test_a_record_that_ended_years_ago_is_doubted_first(form):
    # The form asks today: Pellbrook's record ends in 2024, and the doubt depends on the day.
    answer = next(form._answer())
    doubts = in_dialect(caveats(form.report(), dt.date.today(), "C"), "C")
    assert all(text in words(answer) for text in doubts)


BRITISH_DATE = re.compile(
    r"\b\d{1,2}\s(?:January|February|March|April|May|June|July|August|September|October|November|"
    r"December|Jan|Feb|Mar|Apr|Jun|Jul|Aug|Sep|Oct|Nov|Dec)\b"
)


@pytest.mark.parametrize("units", ["C", "F"])
def test_the_answer_is_in_the_english_of_its_units(form, units):
    form.units.value = units
    answer, panel, _ = form._answer()
    said = words(answer)
    assert bool(BRITISH_DATE.search(said)) == (units == "C")
    assert not re.search(r"\b[Ff]reezes?\b", said) or units == "F"
    assert panel.units == units


def test_who_measures_in_fahrenheit_reads_it(form):
    form.record_units.value = "F"
    assert form.units.value == "F"
    form.record_units.value = ""  # as the file says: what is shown stays
    assert form.units.value == "F"


def test_an_answer_that_cannot_be_given_leaves_none_for_another_place(form):
    form._handles = [Handle(), Handle(), Handle()]
    form._show()
    assert "Pellbrook" in words(form._handles[0].shown[-1])
    form.crop_name.value = "potatoe"
    form._show()
    answer, panel, link = (handle.shown[-1] for handle in form._handles)
    assert words(answer).strip() == "There is no answer yet: the form says what is missing."
    assert words(panel) == words(link) == ""


def test_the_panel_begins_with_the_ways_of_the_answer(form):
    form.crop_name.value = "cauliflower"
    _, panel = islice(form._answer(), 2)
    raised, sown = panel.plan, panel.other
    plans = form.report().plans
    assert raised == next(plan for plan in plans if plan.weeks_under_cover)
    assert sown == next(plan for plan in plans if not plan.weeks_under_cover)


def test_a_logger_is_judged_by_where_the_garden_of_the_form_lies(form, monkeypatch):
    asked, fitted = [], start.fit_cover
    monkeypatch.setattr(
        start,
        "fit_cover",
        lambda *files, name, longitude: (
            asked.append(longitude) or fitted(*files, name=name, longitude=longitude)
        ),
    )
    form.log.value = dropped("green_house.csv", sample("frame_logger.csv").read_bytes())
    assert form.report().garden.longitude == asked[0]
    assert asked[0] is not None


def test_a_file_that_is_dropped_in_stands_on_its_button(form):
    form.log.value = dropped("green_house.csv", sample("frame_logger.csv").read_bytes())
    assert form.log.description == "green_house.csv"
    form.log.value = ()
    assert form.log.description == "Logger under cover (CSV)"


def test_the_answer_comes_before_the_page_and_nothing_stands_while_something_is_missing(form):
    form._handles = [Handle(), Handle(), Handle()]
    form.crop_name.value = "potatoe"
    form._show()
    answer, panel, link = (handle.shown[-1] for handle in form._handles)
    assert "There is no answer yet: the form says what is missing" in words(answer)
    assert "Nearest: potato" in form.message.value
    assert (words(panel), words(link)) == ("", "")
    last = "The page to share is written last, which may take half a minute."
    assert last == start._WAIT_FOR_PAGE
    assert "in every year of the record" in start._WAIT


def test_a_height_may_be_typed_as_the_field_shows_it(form):
    metres, feet = re.search(r"(\d+ m) or (\d+ ft)", form.elevation.placeholder).groups()
    heights = []
    for typed in (metres, feet):
        form.elevation.value = typed
        heights.append(form.garden(form.daily()).elevation)
    assert heights[0] == pytest.approx(heights[1], abs=1.0)
    assert form.elevation.placeholder.endswith("may be empty")
    assert "if you have no file; else may be empty" in form.place.placeholder
