"""What a machine can check of the style sheet in DEVELOPERS.md: turns of phrase, units, length."""

import re

import pytest
from reading import Reader

import climwin as cw
from climwin.core.wording import TEMPLATES
from climwin.page.sections import Page
from climwin.report import sentences_decision as words

BANNED = (
    "true odds",
    "the truth",
    "nine chances in ten",
    "middle year",
    "the middle one",
    "even odds",
    "in 8 years of 10",
    "start date",
    "bears with",
    "usable window",
    "comes to a harvest",
)
"""Turns that are correct and foreign, or that an aside of our own once was."""
MOST_WORDS = 32
"""Words of a sentence; numbers and lists of causes lengthen some. The style sheet asks for less."""
SECTIONS = (
    "decision",
    "sheet",
    "reason",
    "sure",
    "ways",
    "freezes",
    "comfort",
    "yearly",
    "cautions",
)


@pytest.fixture(scope="module", params=["C", "F"])
def told(request, pellbrook):
    """Units, and the HTML of the page's sections by name."""
    page = Page(pellbrook, request.param, None)
    return request.param, {name: page.section(name).html for name in SECTIONS}


def plain(html):
    """What a person reads."""
    return Reader(html).words.replace("\N{NO-BREAK SPACE}", " ")


def prose(html):
    """Sentences of paragraphs, lists and captions of figures."""
    parts = re.findall(r"<(p|li|figcaption)\b[^>]*>(.*?)</\1>", html, re.DOTALL)
    texts = [plain(inner) for _, inner in parts]
    return [each for text in texts for each in re.split(r"(?<=[.:;])\s+(?=[A-Z0-9])", text)]


@pytest.mark.parametrize("turn", BANNED)
def test_no_page_says_a_banned_turn(told, turn):
    assert [name for name, html in told[1].items() if turn in plain(html).lower()] == []


def test_no_template_says_a_banned_turn():
    texts = [
        text
        for each in TEMPLATES.values()
        for text in ([each] if isinstance(each, str) else each.values())
    ]
    assert [t for t in texts for turn in BANNED if turn in t.lower()] == []


def test_a_page_has_temperatures_in_one_system(told):
    units, sections = told
    other = {"C": "°F", "F": "°C"}[units]
    # How a record was changed is said in the unit it was changed in.
    said = {name: re.sub(r"Changed: .*?°C, .*?°C", "", plain(h)) for name, h in sections.items()}
    assert [name for name, text in said.items() if other in text] == []
    assert f"°{units}" in plain(sections["freezes"])


def test_a_minus_is_the_one_of_print(told):
    assert not [html for html in told[1].values() if re.search(r"(?:^|\s)-\d", plain(html))]


def test_sentences_are_short(told):
    said = [sentence for html in told[1].values() for sentence in prose(html)]
    assert len(said) > 60
    assert [each for each in said if len(each.split()) > MOST_WORDS] == []


def test_headlines_have_a_verb_and_no_full_stop(pellbrook):
    for heading in (words.verdict(pellbrook), words.reason_heading(pellbrook)):
        assert re.search(r"\b(Sow|Plant|Set|is|are|was|fails?|stands?|crops?|count)\b", heading)
        assert not heading.endswith(".")


@pytest.mark.parametrize("name", ["potato", "garlic", "shallot", "Jerusalem artichoke"])
def test_what_is_planted_is_not_said_to_be_sown(name):
    plan = cw.Plan(cw.crop(name), "04-10")
    assert words.way_title(plan) == "Planted outdoors 10 Apr"
