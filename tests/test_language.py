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
MOST_WORDS = 34
"""Words of a sentence; numbers and lists of causes lengthen some. The style sheet asks for fewer."""
TOLD = ("decision", "reason", "sure", "comfort", "cautions")


@pytest.fixture(scope="module", params=["C", "F"])
def told(request, pellbrook):
    """Text of the page's sections by name, in each system of units."""
    page = Page(pellbrook, request.param, None)
    return request.param, {
        name: Reader(page.section(name).html).words.replace("\N{NO-BREAK SPACE}", " ")
        for name in (*TOLD, "ways", "freezes", "yearly", "sheet")
    }


@pytest.mark.parametrize("turn", BANNED)
def test_no_page_says_a_banned_turn(told, turn):
    assert [name for name, text in told[1].items() if turn in text.lower()] == []


def test_no_template_says_a_banned_turn():
    texts = [
        text
        for each in TEMPLATES.values()
        for text in ([each] if isinstance(each, str) else each.values())
    ]
    assert [t for t in texts for turn in BANNED if turn in t.lower()] == []


def test_a_page_has_temperatures_in_one_system(told):
    units, texts = told
    other = {"C": "°F", "F": "°C"}[units]
    for name in ("decision", "reason", "comfort", "freezes", "sheet", "ways"):
        assert f"°{units}" in texts[name] or "°" not in texts[name]
        assert other not in texts[name]


def test_a_minus_is_the_one_of_print(told):
    assert not [t for t in told[1].values() if re.search(r"(?:^|\s)-\d", t)]


def test_sentences_are_short(told):
    long = []
    for name in TOLD:
        for sentence in re.split(r"[.:;]\s+(?=[A-Z\d])", told[1][name]):
            if "svg" not in name and len(sentence.split()) > MOST_WORDS:
                long.append(sentence)
    prose = [each for each in long if not re.search(r"\d{4} \d{4}|Jan Feb|years out of 100", each)]
    assert prose == []


def test_headlines_have_a_verb_and_no_full_stop(pellbrook):
    for heading in (words.verdict(pellbrook), words.reason_heading(pellbrook)):
        assert re.search(r"\b(Sow|Plant|Set|is|are|was|fails?|stands?|crops?|count)\b", heading)
        assert not heading.endswith(".")


@pytest.mark.parametrize("name", ["potato", "garlic", "shallot", "Jerusalem artichoke"])
def test_what_is_planted_is_not_said_to_be_sown(name):
    plan = cw.Plan(cw.crop(name), "04-10")
    assert words.way_title(plan) == "Planted outdoors 10 Apr"
