"""What a machine can check of the style sheet in DEVELOPERS.md: turns of phrase, units, length."""

import re

import pytest
from reading import Reader

import climwin as cw
from climwin.cli.main import COMMANDS, EXAMPLES, GROUPS, parser
from climwin.core.wording import TEMPLATES
from climwin.page.sections import SECTIONS as PAGE
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


MONTH_NAMES = "Jan|Feb|Mar|Apr|May|Jun|Jul|Aug|Sep|Oct|Nov|Dec"


@pytest.fixture(scope="module", params=["C", "F"])
def whole(request, pellbrook):
    """Units, and all that a page of these units says, but for the sources of the crop's numbers."""
    page = Page(pellbrook, request.param, None)
    sections = [page.section(name).html for name in PAGE if name not in ("live", "sources")]
    # Each piece of text by itself: what stands in two cells of a table is no date together.
    pieces = [plain(each) for html in sections for each in re.split(r"<[^>]*>", html)]
    return request.param, "\n".join(each for each in pieces if each)


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


MEASURES = {
    "C": r"\b\d[\d.,]* ?(?:ft|feet|inch(?:es)?|mi|miles?)\b|°F|degF",
    "F": r"\b\d[\d.,]* ?(?:m|km|mm|cm|metres?|kilometres?)\b|°C|degC",
}
"""Numbers with a unit of the other system."""
OF_THE_FILE = r"(?s:Changed: .*?°C,.*?°C)|[Tt]emperatures in degC, precip in mm|taken as °C"
"""How a file was written and changed is said in its own units."""


def test_no_sentence_mixes_two_systems(whole):
    units, text = whole
    said = re.sub(OF_THE_FILE, "", text)
    assert re.findall(rf".{{0,40}}(?:{MEASURES[units]}).{{0,20}}", said) == []


def test_dates_are_in_the_order_of_the_units(whole):
    units, text = whole
    day_first = re.findall(rf"(?<![\w.,])\d{{1,2}} (?:{MONTH_NAMES})", text)
    month_first = re.findall(rf"\b(?:{MONTH_NAMES})[a-z]* \d{{1,2}}\b", text)
    many, none = (day_first, month_first) if units == "C" else (month_first, day_first)
    assert len(many) > 60
    assert none == []


def test_a_british_page_has_frost_and_an_american_one_freezes(whole):
    units, text = whole
    nouns = re.findall(r"\b[Ff]reezes?\b", text)
    assert bool(nouns) == (units == "F")
    assert re.search(r"\b[Ff]rost\b", text) or units == "F"


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


# --- the command's help ---------------------------------------------------------------------

BANNED_HELP = (
    *BANNED,
    *("set aside", "take along", "given again", "write over", "as it stands", "in place", "; else"),
)
"""Turns that told nobody what an option does, in help texts of earlier versions."""


def options_of(name):
    """Help of each option and argument of a command, by what one types."""
    found = parser()
    for word in name.split():
        among = next(a for a in found._actions if a.nargs == "A...")
        found = among.choices[word]
    said = {"/".join(a.option_strings) or a.metavar: a.help for a in found._actions}
    return {typed: text % {"default": "x"} for typed, text in said.items() if typed != "-h/--help"}


@pytest.mark.parametrize("name", [command.name for command in COMMANDS])
def test_each_option_says_what_it_is(name):
    for typed, text in options_of(name).items():
        assert re.match(r"[a-z.A-Z]", text), typed
        # It is named, not left to the flag: "first year to use", not "of the history".
        assert not re.match(r"(of|in|for|under|with|such|least|worth|or|that)\b", text), typed
        assert [turn for turn in BANNED_HELP if turn in text.lower()] == [], typed
        assert max(len(part.split()) for part in re.split(r"[.;:] ", text)) <= 22, typed
        assert not text.endswith("."), typed


def test_each_command_says_what_it_does_with_a_verb():
    verbs = (
        "try|write|open|run|see|check|list|download|find|remove|manage|plan|save|judge|work|read"
    )
    for text in [*(command.help for command in COMMANDS), *GROUPS.values()]:
        assert re.match(rf"({verbs}|lay|work)\b", text), text
        assert len(text.split()) <= 13


def test_the_examples_say_no_banned_turn():
    assert [turn for turn in BANNED_HELP if turn in EXAMPLES.lower()] == []
