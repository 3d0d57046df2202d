"""Each sentence of the shared wording says what its name says, beside its twin and its plural."""

import re

import pytest

from climwin.core import wording
from climwin.core.wording import say

NAMES = sorted(wording.TEMPLATES)


def forms(name):
    """All forms of a template, as the library has them now."""
    text = wording.TEMPLATES[name]
    return [*text.values()] if isinstance(text, dict) else [text]


# --- names --------------------------------------------------------------------------------

SAID_BY_NAME = {
    "sown": r"\bsown\b",
    "planted": r"\bplanted\b",
    "outdoors": r"\boutdoors\b",
    "bought": r"\bbought\b",
    "fleece": r"\bfleece\b",
    "raised": r"^(sown|planted) \{where\}",
    "long_enough": r"\blong enough for\b",
    "too_short": r"\btoo short\b",
    "next_years": r"\b(of the next ten years|all years alike)\b",
    "long_run": r"^From \{years\}.*\blong-run\b.*\blikely\b",
    "through_winter": r"\bstand through the winter\b",
    "in_comfort": r"\bonly days in which .*\bcomfortable\b",
    "as_recorded": r"\bas recorded\b",
    "needed": r"\bneeded\b|\{needed\}",
    "after_cover": r"^after .*\bunder cover$",
    "days": r"\bdays?\b",
    "average": r"\baverage year\b",
    "none": r"\bnever mild enough, nor in most\b",
    "window_only": r"\bno real year is known to compare it with\b",
    "average_window": r"[Tt]he average year",
    "unknown": r"\bunknown\b",
    "never_so_likely": r"^not even\b",
    "hidden_by_gaps": r"\bleft out\b.*\bgaps?\b",
    "few_years": r"^Fewer than ten years\b.*\ba hint, no more\b",
    "begins": r"^The harvest begins\b.*\beight years out of ten\b",
    "no_harvest": r"^No year so far gave a harvest",
    "compared": r"\balone in\b.*\bboth in \{both\}, neither in \{neither\}",
    "both_always": r"^Both gave a harvest in the same\b",
    "both_never": r"^Neither gave a harvest in any\b",
    "first_is": r"^The first is the better\b",
    "second_is": r"^The second is the better\b",
    "neither_is": r"\btoo close\b",
    "average_window_all_year": r"\bmild throughout, and so do most of the real years\b",
    "no_best": r"^none: no date\b",
    "any_time": r"^almost any time\b",
    "other_dates": r"^Also safe:",
    "best_dates": r"\bno part in choosing\b|^none\b",
    "odds_cover": r"\bnine times in ten\b.*\bnot for doubt\b",
}
"""What a sentence has to say if its name has these words."""


@pytest.mark.parametrize("words", SAID_BY_NAME)
def test_a_sentence_says_what_its_name_says(words):
    named = [name for name in NAMES if re.search(rf"(^|_){words}(_|$)", name)]
    assert named
    for name in named:
        for text in forms(name):
            assert re.search(SAID_BY_NAME[words], text), (name, text)


@pytest.mark.parametrize(
    ("which", "season"), [("rise", "Spring's"), ("fall", "Autumn's"), ("longest", "The longest")]
)
def test_a_mild_spell_is_named_by_its_season(which, season):
    assert wording.WINDOW_NAMES[which] == f"{season} mild spell"


# --- plurals and twins --------------------------------------------------------------------


@pytest.mark.parametrize(
    "name", [name for name in NAMES if isinstance(wording.TEMPLATES[name], dict)]
)
def test_one_and_many_are_said_alike(name):
    text = wording.TEMPLATES[name]
    one = re.sub(r"(\{count\}) (day|week|year)\b", r"\1 \2s", text["one"])
    one = one.replace(
        " is left out: a gap in its record hides ", " are left out: gaps in the record hide "
    )
    assert one == text["other"]
    assert "{count}" in text["one"]


TWINS = [
    ("sown_outdoors", "planted_outdoors", "sown", "planted"),
    ("sown_under_fleece", "planted_under_fleece", "sown", "planted"),
    ("plan_sown", "plan_planted", "sown", "planted"),
    ("plan_raised", "plan_raised_planted", "sown", "planted"),
    ("first_is_better", "second_is_better", "first", "second"),
    ("next_years_too_short", "next_years_too_short_today", "The", "In today's climate the"),
    ("next_years_by_the_record", "next_years_by_the_record_too", "{next}", "the same"),
    ("long_run_too_short", "long_run_too_short_today", "short", "short in today's climate"),
    ("spells_as_recorded", "spells_as_recorded_today", ".", ": not moved to today's climate."),
    (
        "both_always",
        "both_never",
        "Both gave a harvest in the same {both}",
        "Neither gave a harvest in any",
    ),
]


@pytest.mark.parametrize(("name", "twin", "word", "instead"), TWINS)
def test_twins_differ_in_what_sets_them_apart_alone(name, twin, word, instead):
    [one], [other] = forms(name), forms(twin)
    assert one.count(word) == 1
    assert one.replace(word, instead) == other


# --- values -------------------------------------------------------------------------------

PLACES = {
    "years": r"(\b[oO]f|\b[oO]f the same|\bany of|\bFrom) \{years\}",
    "enough": r"\bin \{enough\} of\b",
    "enough_of_easier": r"\bin \{enough_of_easier\} of\b",
    "easier": r"\{crop\} \{easier\} in \{enough_of_easier\}",
    "way": (
        r"(\{crop\} \{way\} in \{enough\}|^\{needed\} \{way\}, from \{since\}$|"
        r"^\{needed\} once up, \{way\} \{since\}$)"
    ),
    "crop": r"(\bfor \{crop\}|\bin which \{crop\} would)",
    "need": r"\bthe \{need\} days in\b",
    "next": r"(\bin \{next\} of the next|\bgives \{next\})",
    "last": r"\{first\} (to|and) \{last\}",
    "high": r"\{low\} to \{high\}",
    "median": r"\bhalf of the real years had \{median\} or fewer",
    "middle": r"\babout \{middle\}",
    "only_first": r"\{first\}” alone gave a harvest in \{only_first\}",
    "only_second": r"\{second\}” alone in \{only_second\}",
    "neither": r"\bneither in \{neither\}",
    "both": r"(\bboth in \{both\}|\bthe same \{both\} of)",
    "units": r"\{number\} °\{units\}$",
    "number": r"^\{number\} ",
    "start": r"( |, set out )\{start\}$",
    "where": r"^(sown|planted) \{where\}",
    "cover": r"\bin \{article\} \{cover\}$",
    "plan": r"^\{plan\}[:,] ",
    "spell": r"^\{spell\} was long enough",
    "best": r"\ba harvest in \{best\} of the years",
    "reason": r"^\{count\} \{reason\}$",
}
"""Where a value of each kind stands; a count elsewhere would be of something else."""


@pytest.mark.parametrize("value", PLACES)
def test_a_value_stands_where_its_kind_does(value):
    found = [text for name in NAMES for text in forms(name) if f"{{{value}}}" in text]
    assert found
    for text in found:
        assert re.search(PLACES[value], text), text


def test_a_range_of_odds_begins_with_the_lower():
    assert say("span", first="3 May", last="9 May") == "3 May to 9 May"
    text = say("long_run_too_short", years="39 years", low="5 %", high="20 %")
    assert re.search(r"From 39 years .* 5 % to 20 %", text)
