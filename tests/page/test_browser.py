"""The page in a browser, from disk: it asks for nothing, can be used by all, and counts right."""

import re
from contextlib import contextmanager
from dataclasses import replace
from pathlib import Path

import pytest
from playwright.sync_api import expect
from reading import plan_odds

import climwin as cw
from climwin.core.wording import say
from climwin.page.pdf import pdf
from climwin.report import sentences
from climwin.report import sentences_decision as decision
from climwin.report.spells import spells

PICTURES = Path(__file__).parent / "pictures"
"""Screenshots and paper, for a human eye."""
ANSWERED = [
    *("Crop", "Read a date", "Days it needs"),
    *2 * ("Sown or planted on", "Weeks under cover", "Raised in"),
]
"""Fields of the live chart that the page can answer."""
CROPS = ("pea", "potato", "tomato", "lettuce", "broccoli")
NEEDS = (40, 70, 100)


@pytest.fixture(scope="module")
def file(pellbrook_page):
    return pellbrook_page


@contextmanager
def opened(browser, file, *, width=1280, height=900, **options):
    """The page, with every address it asked for; no error may stand in its console at the end."""
    tab = browser.new_page(viewport={"width": width, "height": height}, **options)
    wrong = []
    tab.asked = []
    tab.on("request", lambda r: tab.asked.append(r.url))
    tab.on("console", lambda m: wrong.append(m.text) if m.type in ("error", "warning") else None)
    tab.on("pageerror", lambda error: wrong.append(str(error)))
    tab.goto(file.as_uri())
    yield tab
    tab.close()
    assert wrong == []


def live(tab):
    """Open the live chart; what only a notebook can answer is then gone from it."""
    tab.get_by_role("link", name="Change crop or dates").click()
    expect(tab.locator("#live-chart .finding")).not_to_be_empty()
    expect(tab.locator("#live-chart .years")).to_have_count(0)


def words_of(located):
    """Text with plain blanks, where it keeps numbers with their units on one line."""
    return located.text_content().replace("\N{NO-BREAK SPACE}", " ")


def finding(tab):
    return words_of(tab.locator("#live-chart .finding"))


# --- nothing from outside -------------------------------------------------------------------


def test_it_can_be_sent_by_mail(file):
    assert file.stat().st_size < 700_000


@pytest.mark.parametrize(("width", "tallest"), [(1280, 4500), (390, 6000)])
def test_it_is_read_in_a_few_screens(browser, file, width, tallest):
    with opened(browser, file, width=width) as tab:
        assert tab.evaluate("document.documentElement.scrollHeight") <= tallest
        words = len(tab.locator("main").inner_text().split())
        assert 400 < words <= 1500
        first = tab.locator("h1").bounding_box()
        assert first["y"] + first["height"] < 844  # the verdict is seen without scrolling


def test_dark_paper_is_dark_and_print_is_light(browser, file):
    paper = "getComputedStyle(document.body).backgroundColor"
    with opened(browser, file, color_scheme="dark") as tab:
        assert tab.evaluate(paper) == "rgb(22, 28, 32)"
        tab.emulate_media(media="print")
        assert tab.evaluate(paper) == "rgb(255, 255, 255)"
        ink = "getComputedStyle(document.querySelector('h1')).color"
        assert tab.evaluate(ink) == "rgb(31, 43, 51)"


@pytest.mark.parametrize("width", [390, 1280])
def test_it_asks_for_nothing_and_fits(browser, file, width):
    PICTURES.mkdir(exist_ok=True)
    with opened(browser, file, width=width) as tab:
        tab.wait_for_load_state("networkidle")
        tab.screenshot(path=PICTURES / f"page-{width}.png", full_page=True)
        live(tab)
        tab.locator("#live").screenshot(path=PICTURES / f"page-live-{width}.png")
        assert [url for url in tab.asked if not url.startswith("data:")] == [file.as_uri()]
        assert tab.evaluate("document.documentElement.scrollWidth") == width
        cut = "[...document.querySelectorAll('.scroll')].filter(d => d.scrollWidth > d.clientWidth)"
        assert tab.evaluate(f"{cut}.map(d => d.ariaLabel)") == []  # no table is cut at the side


def test_a_script_that_is_not_its_own_does_not_run(browser, file, tmp_path):
    planted = tmp_path / "planted.html"
    text = file.read_text("utf-8").replace("</main>", "<script>window.bad = 1</script></main>", 1)
    planted.write_text(text, "utf-8")
    tab = browser.new_page()
    tab.goto(planted.as_uri())
    assert tab.evaluate("window.bad") is None
    assert tab.locator("#live").get_attribute("hidden") is None  # its own does
    tab.close()


def test_without_scripts_the_text_is_whole(browser, file, pellbrook):
    with opened(browser, file, java_script_enabled=False) as tab:
        assert not tab.locator("#live").is_visible()
        seen = tab.locator("main").inner_text()
    seen = seen.replace("\N{NO-BREAK SPACE}", " ")
    for text in (decision.verdict(pellbrook), "When to do what", "2024"):
        assert text in seen
    for odds in pellbrook.ahead.odds:
        assert f"{int(odds['harvested'])} of {int(odds['known'])}" in seen
    with opened(browser, file) as tab:
        scripted = tab.locator("main").inner_text()
    for button in ("Change crop or dates", "Print one sheet"):
        scripted = scripted.replace(button, "")
    assert " ".join(scripted.split()) == " ".join(seen.split())


# --- for all eyes ---------------------------------------------------------------------------


@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize("width", [390, 1280])
def test_nothing_stands_in_anybodys_way(browser, file, width, scheme):
    from axe_playwright_python.sync_playwright import Axe

    with opened(browser, file, width=width, color_scheme=scheme) as tab:
        tab.evaluate("document.querySelectorAll('details').forEach(d => d.open = true)")
        expect(tab.locator("#live-chart .finding")).not_to_be_empty()
        found = Axe().run(tab).response["violations"]
    assert {v["id"]: v["impact"] for v in found if v["impact"] in ("serious", "critical")} == {}


def test_the_keyboard_reaches_the_chart_and_is_seen(browser, file):
    with opened(browser, file) as tab:
        tab.keyboard.press("Tab")
        assert tab.evaluate("document.activeElement.dataset.open") == "live"
        outline = "getComputedStyle(document.activeElement).outlineStyle"
        assert tab.evaluate(outline) == "solid"
        tab.keyboard.press("Enter")
        expect(tab.locator("#live-chart .finding")).not_to_be_empty()


# --- a little life --------------------------------------------------------------------------


def test_it_opens_on_the_report_and_keeps_what_it_can_answer(browser, file, pellbrook):
    with opened(browser, file) as tab:
        live(tab)
        assert finding(tab) == f"{sentences.finding(pellbrook)}."
        fields = tab.locator("#live-chart :is(.dial, .choice) > label")
        assert fields.all_text_contents() == ANSWERED
        assert tab.locator("#live-chart .waiting").count() == 0
        said = words_of(tab.locator("#live-chart"))
        for plan, odds in zip(pellbrook.plans, pellbrook.ahead.odds, strict=True):
            assert plan_odds(plan, odds) in said
        assert sentences.comparison(*pellbrook.plans, pellbrook.comparisons[0]) in said


def test_its_numbers_are_the_librarys(browser, file, pellbrook):
    with opened(browser, file) as tab:
        live(tab)
        for name in CROPS:
            tab.get_by_label("Crop", exact=True).select_option(name)
            for need in NEEDS:
                report = cw.garden_report(
                    pellbrook.garden, pellbrook.daily, crop=cw.crop(name), need_days=need
                )
                tab.get_by_label("Days it needs, in figures").fill(str(need))
                said = f"{sentences.finding(report)}."
                expect(tab.locator("#live-chart .finding")).to_have_text(said)
                text = words_of(tab.locator("#live-chart"))
                assert sentences.how_sure(report) in text
                assert sentences.average(report) in text


def test_so_are_the_odds_of_another_start(browser, file, pellbrook):
    daily = pellbrook.daily
    with opened(browser, file) as tab:
        live(tab)
        for name in CROPS:
            tab.get_by_label("Crop", exact=True).select_option(name)
            sown = cw.Plan(cw.crop(name), "05-10")
            tab.get_by_label("Sown or planted on, in figures").nth(1).fill("10 May")
            odds = cw.harvest_odds(cw.evaluate_plan(sown, daily, climate="today"))
            said = plan_odds(sown, odds)
            expect(tab.locator("#live-chart")).to_contain_text(said)
            assert tab.locator("#live-chart .waiting").count() == 0


def test_so_are_the_odds_of_other_weeks_and_another_cover(browser, file, pellbrook):
    plan = pellbrook.plans[0]
    with opened(browser, file) as tab:
        live(tab)
        tab.get_by_label("Weeks under cover", exact=True).first.press("ArrowLeft")
        tab.get_by_label("Raised in", exact=True).first.select_option("frost-free greenhouse")
        other = replace(
            plan, weeks_under_cover=plan.weeks_under_cover - 1, cover="frost-free greenhouse"
        )
        odds = cw.harvest_odds(cw.evaluate_plan(other, pellbrook.daily, climate="today"))
        chart = tab.locator("#live-chart")
        expect(chart).to_contain_text(plan_odds(other, odds))
        assert chart.locator(".waiting").count() == 0
        # The weeks that nobody raises it for are passed over; sown outdoors is among those offered.
        tab.get_by_label("Weeks under cover", exact=True).first.press("PageDown")
        expect(chart.get_by_label("Weeks under cover, in figures").first).to_have_value("0")
        assert chart.locator(".waiting").count() == 0
        # Another crop brings its own two ways, whatever was chosen before.
        tab.get_by_label("Crop", exact=True).select_option("tomato")
        expect(tab.get_by_label("Weeks under cover", exact=True).first).to_be_hidden()
        assert chart.locator(".waiting").count() == 0


def test_plants_are_raised_in_the_gardeners_own_space(browser, pellbrook, tmp_path):
    potato, daily = cw.crop("potato"), pellbrook.daily  # a crop that is usually started outdoors
    space = replace(cw.COVERS["cold frame"], name="our frame")
    own = cw.Plan(potato, "04-01", 4, "our frame", space=space)
    plans = [own, cw.Plan(potato, "04-20")]
    report = cw.garden_report(pellbrook.garden, daily, plans=plans)
    with opened(browser, cw.write_page(report, tmp_path / "page.html")) as tab:
        live(tab)
        chart = tab.locator("#live-chart")
        covers = chart.get_by_label("Raised in", exact=True).first
        assert covers.locator("option").all_text_contents()[0] == "our frame"
        for weeks in (4, 8):
            chart.get_by_label("Weeks under cover, in figures").first.fill(str(weeks))
            raised = replace(own, weeks_under_cover=weeks)
            odds = cw.harvest_odds(cw.evaluate_plan(raised, daily, climate="today"))
            expect(chart).to_contain_text(plan_odds(raised, odds))
            assert chart.locator(".waiting").count() == 0


def test_it_stands_in_place_of_the_still_picture_and_says_of_which_climate(browser, file):
    with opened(browser, file) as tab:
        assert tab.locator("figure.answer").is_visible()
        live(tab)
        assert not tab.locator("figure.answer").is_visible()
        # The sample can be moved to today's climate; the marks are not.
        expect(tab.locator("#live-chart")).to_contain_text(say("spells_as_recorded_today"))


def test_no_spell_is_counted_for_a_crop_that_stands_through_the_winter(browser, file):
    with opened(browser, file) as tab:
        live(tab)
        chart = tab.locator("#live-chart")
        need = chart.get_by_label("Days it needs", exact=True)
        for crop, counted in (("garlic", False), ("cauliflower", True)):
            tab.get_by_label("Crop", exact=True).select_option(crop)
            expect(need).to_be_visible(visible=counted)
            assert (chart.locator(".year").count() > 0) is counted
            said = chart.inner_text()
            assert ("The mild spell of every year" in said) is counted
            assert ("days needed" in said) is counted


def test_the_live_figure_has_the_zones_and_needs_of_the_still_one(browser, file, pellbrook):
    found = spells(pellbrook)
    with opened(browser, file) as tab:
        live(tab)
        chart = tab.locator("#live-chart .strip svg[role=img]").first
        counts = [int(text) for text in chart.locator(".count").all_text_contents()]
        assert counts == [count for count in found.counts if count]
        marks = [chart.locator(f".year.zone{zone}").count() for zone in range(3)]
        assert tuple(marks) == found.counts
        said = " ".join(chart.locator("text").all_text_contents())
        for need in found.needs:
            assert f"{need.days} days needed" in said
            assert all(word in said for word in (*need.way.split(), *need.since.split()))


def test_degrees_turn_to_fahrenheit(browser, file):
    with opened(browser, file) as tab:
        live(tab)
        tab.get_by_label("°F", exact=True).check()
        expect(tab.locator("#live-chart .read")).to_contain_text("°F")
        assert "°C" not in words_of(tab.locator("#live-chart .read"))
        assert tab.get_by_label("Read a date, in figures").input_value() == "May 1"
        shown = words_of(tab.locator("#live-chart"))
        assert not re.search(r"\d [A-Z][a-z]{2}\b", shown)  # no day stands before its month
        tab.get_by_label("°C", exact=True).check()
        expect(tab.locator("#live-chart .read")).to_contain_text("1 May: half")


def test_a_place_with_gaps_and_one_plan_has_its_chart_too(browser, pellbrook, tmp_path):
    crop = replace(cw.crop("pea"), name='<img src=x onerror="window.bad = 1">')
    report = cw.garden_report(
        pellbrook.garden, pellbrook.daily, plans=[cw.Plan(crop, "04-01")], need_days=50
    )
    with opened(browser, cw.write_page(report, tmp_path / "page.html", units="F")) as tab:
        live(tab)
        assert finding(tab) == f"{sentences.finding(report)}."
        assert tab.evaluate("window.bad") is None


# --- on paper -------------------------------------------------------------------------------


@pytest.mark.parametrize(("paper", "size"), [("A4", (595, 842)), ("Letter", (612, 792))])
def test_it_prints_with_the_dates_first(browser, file, paper, size):
    PICTURES.mkdir(exist_ok=True)
    made = pdf(file, PICTURES / f"page-{paper}.pdf", paper=paper)
    pages = pdf_texts(made)
    assert pages[0].index("Sow outdoors") < pages[0].index("Nights of 0 °C or colder")
    assert "Made on 25 November 2026" in pages[0]  # the summary fills one page, and no more
    assert "Why 20 April fails" in pages[1]
    assert "Change crop" not in "".join(pages)
    assert 2 <= len(pages) <= 4
    assert pdf_size(made) == pytest.approx(size, abs=1)


@pytest.mark.parametrize("paper", ["A4", "Letter"])
def test_many_ways_still_print_on_one_sheet(file, tmp_path, paper):
    text = file.read_text("utf-8")
    before, rows, after = re.split(
        r"(?<=<tbody>)(.*?)(?=</tbody>)", text, maxsplit=1, flags=re.DOTALL
    )
    assert before.rindex("<table") > before.rindex('class="ways"')  # the table of ways
    (own,) = re.findall(r"<tr class=.lead.*?</tr>", rows, re.DOTALL)
    page = tmp_path / "page.html"
    page.write_text(before + 8 * own + after, "utf-8")
    pages = pdf_texts(pdf(page, paper=paper))
    assert pages[0].count(" of 40") >= 8
    assert "Made on 25 November 2026" in pages[0]
    assert "Why 20 April fails" in pages[1]


def pdf_texts(path):
    pypdf = pytest.importorskip("pypdf")
    pages = pypdf.PdfReader(path).pages
    return [" ".join(page.extract_text().split()) for page in pages]


def pdf_size(path):
    pypdf = pytest.importorskip("pypdf")
    box = pypdf.PdfReader(path).pages[0].mediabox
    return float(box.width), float(box.height)
