"""Sentences of whole reports, each held against numbers that are counted here.

A sentence that says a number, or which of two is more, is read and compared with the yearly results
that it is of, counted with NumPy: on several gardens and crops, so that a wrong word is wrong in
one of them.
"""

import re

import numpy as np
import pytest

import climwin as cw
from climwin.io.samples import sample
from climwin.planning.growth import GOOD_GROWTH, REASONS
from climwin.report import sentences
from climwin.report import sentences_decision as decision
from climwin.report.decision import decide
from climwin.report.spells import needs

GARDENS = ("valley cauliflower", "hill cauliflower", "hill potato", "valley pea")
PLACES = {"valley": ("pellbrook_valley.csv", 420), "hill": ("pellbrook_hill.csv", 905)}


@pytest.fixture(scope="module")
def reports():
    """Reports by their names, each made when it is first asked for."""
    made = {}

    def report(name):
        if name not in made:
            place, crop_name = name.split()
            file, height = PLACES[place]
            crop = cw.crop(crop_name)
            plans = [cw.Plan(crop, "04-20"), cw.Plan(crop, "06-10")]
            if crop.weeks_under_cover:
                plans.append(cw.Plan(crop, "03-05", 6, "cold frame"))
            garden = cw.Garden("Pellbrook", 46.1, 7.2, height)
            made[name] = cw.garden_report(garden, cw.read_daily(sample(file)), plans=plans)
        return made[name]

    return report


@pytest.fixture(params=GARDENS)
def report(request, reports):
    return reports(request.param)


def counts(text, pattern=r"(\d+) of (\d+) years"):
    return [tuple(map(int, pair)) for pair in re.findall(pattern, text)]


def known(values):
    return values[~np.isnan(values)]


def harvested(evaluated):
    return known(evaluated["harvested"].values.astype(float))


# --- the mild spell -----------------------------------------------------------------------


def test_years_with_a_long_enough_spell_are_counted(report):
    lengths = known(report.window["length"].values)
    text = sentences.long_enough(report)
    ways = needs(report)  # the one with the fewest days first
    [(easier, of)] = counts(text)
    bounded = of - len(lengths)  # such years may be long enough, though their length is not known
    assert bounded >= 0
    assert 0 <= easier - (lengths >= ways[0].days).sum() <= bounded
    if len(ways) == 1:
        return
    first, second = text.split(", and ")
    assert ways[0].way in first
    assert ways[1].way in second
    harder = int(re.search(r"in (\d+) of them", second)[1])
    assert 0 <= harder - (lengths >= ways[1].days).sum() <= bounded
    assert harder <= easier


def test_a_trend_of_the_spell_goes_the_way_of_its_lengths(report):
    window = report.window["length"].dropna("season")
    slopes = [
        (b - a) / (j - i)
        for k, (i, a) in enumerate(zip(window["season"].values, window.values, strict=True))
        for j, b in list(zip(window["season"].values, window.values, strict=True))[k + 1 :]
    ]
    middle = 10 * float(np.median(slopes))  # of Theil and Sen
    text = sentences.drift(report)
    change = re.search(r"(\d+(?:\.\d)?) days a decade (longer|shorter)", text)
    if change is None:
        assert abs(middle) < 0.5
        assert "neither longer nor shorter" in text
        return
    assert change[2] == ("longer" if middle > 0 else "shorter")
    assert float(change[1]) == pytest.approx(abs(middle), abs=0.5)
    is_clear = float(report.shorter["trend_p"]) < 0.05
    assert ("No clear trend" in text) is not is_clear
    assert ("need not go on" in text) is is_clear


def test_years_that_a_short_spell_and_a_harvest_share_are_counted(report):
    grown = report.evaluated[0]
    window = report.window.reindex(season=grown["season"])
    came = grown["harvested"].values.astype(float)
    short = ~np.isnan(came) & (window["length_most"].values < report.need_days)
    enough = ~np.isnan(came) & (window["length_least"].values >= report.need_days)
    text = " ".join(sentences.window_and_harvest(report))
    if short.any():
        in_short = int((short & (came == 1)).sum())
        if in_short == short.sum():
            assert f"all {short.sum()} years with too short a spell" in text or short.sum() == 1
        elif in_short:
            assert f"{in_short} of the {short.sum()} year" in text
        else:
            assert f"None of the {short.sum()} year" in text
    lost = int((enough & (came == 0)).sum())
    if lost:
        assert re.search(
            rf"(?i)\bof the {enough.sum()} years? with a long enough spell, {lost} gave",
            text,
        )
    else:
        assert "a long enough spell" not in text


def test_a_short_spell_costs_growth_or_is_said_to_cost_none(report):
    text = " ".join(sentences.window_and_harvest(report))
    grown = report.evaluated[0]
    length = report.window["length"].reindex(season=grown["season"]).values
    growth = grown["growth"].values.astype(float)
    ripe = ~np.isnan(growth)
    pair = re.search(r"\(growth (\d\.\d\d).*otherwise (\d\.\d\d)\)", text)
    if pair is None:
        return
    less = growth[ripe & (length < report.need_days)].mean()
    enough = growth[ripe & (length >= report.need_days)].mean()
    assert [float(pair[1]), float(pair[2])] == pytest.approx([less, enough], abs=0.0051)
    assert ("none the worse" in text) is bool(less >= enough)


# --- harvests -----------------------------------------------------------------------------


def test_each_plan_has_the_harvests_and_the_good_years_that_it_had(report):
    for odds, evaluated in zip(report.odds, report.evaluated, strict=True):
        came = harvested(evaluated)
        growth = evaluated["growth"].values.astype(float)
        good = int(((evaluated["harvested"].values == 1) & (growth >= GOOD_GROWTH)).sum())
        counts = [int(odds[name]) for name in ("harvested", "known", "good")]
        assert counts == [int(came.sum()), len(came), good]


def test_causes_of_lost_years_add_up_and_the_main_one_is_the_most_frequent(report):
    for odds, evaluated in zip(report.odds, report.evaluated, strict=True):
        lost = int((harvested(evaluated) == 0).sum())
        reasons = evaluated["reason"].values[evaluated["harvested"].values == 0].tolist()
        assert set(reasons) <= set(REASONS)
        for text in (sentences.failures(odds), sentences.failures_by_stage(evaluated)):
            told = [int(each) for each in re.findall(r"\b\d+\b", text)]
            assert sum(told) == lost
            assert told == sorted(told, reverse=True)
        for listed in set(reasons):
            count = reasons.count(listed)
            assert re.search(
                rf"\b{count}\b[^,]*{sentences.reason_in_words(listed)}"
                rf"|{sentences.reason_in_words(listed)}[^,]*\b{count}\b",
                sentences.failures(odds),
            )
        main = sentences.main_failure(evaluated)
        if main and lost:
            assert sentences.failures_by_stage(evaluated).find(main) >= 0
            most = max(reasons.count(each) for each in reasons)
            assert 2 * most >= lost or main


def test_the_verdicts_counts_are_those_of_a_plan_evaluated_afresh(report):
    lead = decide(report).lead
    text = decision.numbers_behind(report)
    first = counts(text)[0]
    assert first == (lead.harvested, lead.known)
    if not lead.is_best:  # of a date of one's own, no year had a part in choosing it
        came = harvested(cw.evaluate_plan(lead.plan, report.daily))
        assert (int(came.sum()), len(came)) == first
    for row in decide(report).rows:
        assert 0 <= row.harvested <= row.known
        assert row.low <= row.share <= row.high


def test_what_lies_ahead_is_within_ten_years_and_its_range_holds_the_share(report):
    text = decision.harvests_ahead(report)
    low, high = map(int, re.search(r"in (\d+) to (\d+) of the next ten years", text).groups())
    assert 0 <= low < high <= 10
    lead = decide(report).lead
    assert low <= 10 * lead.share <= high
    least, most = map(int, re.search(r"likely (\d+) % to (\d+) %", text).groups())
    assert least <= 100 * lead.share <= most
    assert f"From {lead.known} years" in text


def test_the_long_run_odds_of_a_short_spell_hold_their_count(report):
    text = sentences.how_sure(report)
    is_moved = report.shorter_today is not None
    found = report.shorter_today if is_moved else report.shorter
    assert ("too short in today's climate is" in text) == is_moved
    likely = re.search(r"years too short.* is likely (\d+) % to (\d+) %", text)
    least, most = map(int, likely.groups())
    # Between the share that is sure and the one that gaps allow, give or take the rounding.
    assert least <= 100 * float(found["share_most"]) + 0.5
    assert most >= 100 * float(found["share_least"]) - 0.5
    assert f"From {int(found['known'])} years" in text


def test_two_plans_are_ranked_only_where_their_difference_is_sure(report):
    plan, other = report.plans[:2]
    compared = cw.compare_plans(plan, other, report.daily)
    one, two = (e["harvested"].values.astype(float) for e in report.evaluated[:2])
    shared = ~np.isnan(one) & ~np.isnan(two)
    only = [int(((a == 1) & (b == 0) & shared).sum()) for a, b in ((one, two), (two, one))]
    both = int(((one == 1) & (two == 1) & shared).sum())
    for text in (
        sentences.comparison(plan, other, compared),
        decision.ways_compared(plan, other, compared),
    ):
        assert f"both in {both}" in text
        assert [int(n) for n in re.findall(r"alone (?:gave a harvest )?in (\d+)", text)] == only
        named = re.search(r"[Tt]he (first|second) is the better", text)
        if named:
            assert (only[0] > only[1]) is (named[1] == "first")
