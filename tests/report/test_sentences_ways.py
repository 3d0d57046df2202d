"""What would make a poor way of growing work, in words."""

import re
from types import SimpleNamespace

import pytest

import climwin as cw
from climwin.report import sentences_ways as words


def tried(works, good, plan, change=""):
    odds = {"good": good, "harvested": good + 3, "known": 40}
    return SimpleNamespace(works=works, plan=plan, odds=odds, change=change)


def test_what_would_mend_a_poor_way_counts_its_good_years(monkeypatch):
    plan = cw.Plan(cw.crop("melon"), "05-01", 4, "cold frame")
    poor = tried(False, 6, plan)
    monkeypatch.setattr(words, "best_of", lambda rows: rows[0])
    mends = [
        tried(True, 33, plan, "heat"),
        tried(True, 35, plan, "warm room"),
        tried(True, 20, plan, "early"),
    ]
    (text,) = words.what_would_mend([poor], mends, "C")
    assert "No way of growing muskmelons works well here" in text
    assert "a good harvest in 6 of 40 years, and any harvest in 9 of 40" in text
    assert "What would help, and the good harvests it would bring: " in text
    heat, room, early = text.split("it would bring: ")[1].split("; ")
    assert "heat the cold frame" in heat
    assert "33 of 40" in heat
    assert "warm room with lights from 1 May, 35 of 40" in room
    assert "an early variety from 1 May, 20 of 40" in early
    never = SimpleNamespace(
        works=False, plan=plan, odds={"good": 0, "harvested": 0, "known": 40}, change=""
    )
    (text,) = words.what_would_mend([never], [], "C")
    assert text.startswith("No way of growing muskmelons gave a harvest here in any of 40 years.")
    (text,) = words.what_would_mend([poor], [], "C")
    assert "would not change that" in text
    assert words.what_would_mend([tried(True, 33, plan)], mends, "C") == []


def test_where_nothing_mends_it_a_crop_that_suits_the_place_is_advised(monkeypatch):
    monkeypatch.setattr(words, "best_of", lambda rows: rows[0])
    plan = cw.Plan(cw.crop("melon"), "05-01", 4, "cold frame")
    (text,) = words.what_would_mend([tried(False, 6, plan)], [], "C")
    assert "works well here: the best gives a good harvest in 6 of 40 years" in text
    assert "An early variety, heat for the young plants or a warm room for them would not" in text
    assert text.endswith(
        "A greenhouse in which they stay until the harvest may do it, but is not tried here. "
        "Otherwise choose a crop that suits the place."
    )
    (text,) = words.what_would_mend([tried(False, 6, cw.Plan(cw.crop("okra"), "05-01"))], [], "C")
    assert "A greenhouse in which it stays until the harvest may do it" in text
    (text,) = words.what_would_mend([tried(False, 6, cw.Plan(cw.crop("pea"), "05-01"))], [], "C")
    assert "greenhouse" not in text
    assert text.endswith("would not change that. Choose a crop that suits the place.")


@pytest.mark.parametrize("start", ["05-01", "04-10"])
def test_a_heated_cover_has_its_warmth_and_its_start(start):
    plan = cw.Plan(cw.crop("melon"), start, 4, "frost-free greenhouse")
    text = words._change(tried(True, 33, plan, "heat"), "C")
    day = {"05-01": "1 May", "04-10": "10 Apr"}[start]
    said = rf"heat the frost-free greenhouse to (\d+) °C and start on {day}$"
    warmth = re.search(said, text)[1]
    assert float(warmth) >= plan.covered_by.floor_c
