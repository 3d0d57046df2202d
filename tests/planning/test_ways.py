"""The sensible ways of growing a crop, and what mends poor ones."""

from dataclasses import replace
from types import SimpleNamespace

import pytest
import records
import xarray as xr

import climwin as cw
from climwin.planning import ways
from climwin.planning.evaluate import evaluate_plan
from climwin.report.sentences_ways import what_would_mend


@pytest.fixture(scope="module")
def daily():
    return cw.read_daily(cw.sample())


@pytest.fixture(scope="module")
def frame(daily):
    return cw.fit_cover(cw.read_logger(cw.sample("frame_logger.csv")), daily, name="frame")


def test_each_way_is_there_at_its_best_date(daily, frame):
    raised, in_place = ways.sensible_plans(cw.crop("cauliflower"), daily, space=frame)
    assert raised.space is frame
    assert raised.weeks_under_cover > 0
    assert (in_place.weeks_under_cover, in_place.fleece_weeks) == (0, 0)
    for plan in (raised, in_place):
        assert cw.at_best_date(plan, daily, climate="today").start == plan.start


def harvests(plan, daily):
    odds = cw.harvest_odds(cw.evaluate_plan(plan, daily))
    return float(odds["share"]), float(odds["low"])


@pytest.mark.parametrize("weeks", [None, 8])
@pytest.mark.parametrize("own", [True, False])
def test_every_way_is_of_the_variety_the_bed_and_the_space_asked_for(monkeypatch, weeks, own):
    """In the climate whose odds lead; fleece always helps, and each date is the best."""
    asked = []
    monkeypatch.setattr(ways, "leading_climate", lambda daily, kind: f"{daily}, {kind}")
    monkeypatch.setattr(ways, "in_climate", lambda _, climate="record": climate)
    monkeypatch.setattr(ways, "at_best_date", lambda plan, daily: asked.append(daily) or plan)
    monkeypatch.setattr(ways, "_fleece_helps", lambda *_: True)
    monkeypatch.setattr(ways, "try_plans", lambda plans, _: plans)
    tried = []
    monkeypatch.setattr(
        ways, "best_of", lambda plans: tried.extend(plans) or SimpleNamespace(plan=plans[-1])
    )
    crop = cw.crop("cauliflower")
    space = replace(cw.COVERS["cold frame"], name="frame") if own else None
    found = ways.sensible_plans(
        crop, "record", space=space, weeks=weeks, earliness="early", bed="black film"
    )
    assert set(asked) == {"record, harvest"}
    usual = crop.weeks_under_cover
    expected = [weeks] if weeks else sorted({usual.fewest, usual.usual, usual.most})
    assert [plan.weeks_under_cover for plan in tried] == expected
    assert {plan.cover for plan in tried} == {"frame" if own else "cold frame"}
    assert all(plan.space is space for plan in tried)
    assert {(plan.earliness, plan.bed) for plan in (*tried, *found)} == {("early", "black film")}
    assert [plan.fleece_weeks for plan in found] == [0, 0, ways.FLEECE_WEEKS]
    assert found[0] is tried[-1]


def test_fleece_is_offered_where_its_odds_are_clearly_better(daily):
    [_, in_place, fleeced] = ways.sensible_plans(cw.crop("tomato"), daily)
    assert fleeced.fleece_weeks == ways.FLEECE_WEEKS
    assert harvests(fleeced, daily)[1] > harvests(in_place, daily)[0]


def test_nobody_is_told_to_lay_fleece_on_a_date_that_does_as_well_without(daily):
    # Potatoes under fleece do best about 23 May, when nights are mild and fleece changes nothing.
    potato = cw.crop("potato")
    assert all(not plan.fleece_weeks for plan in ways.sensible_plans(potato, daily))
    fleeced = cw.at_best_date(cw.Plan(potato, "04-01", fleece_weeks=4), daily)
    without = cw.Plan(potato, fleeced.start)
    assert harvests(without, daily)[0] >= harvests(fleeced, daily)[1]


@pytest.mark.parametrize(
    ("bare", "same_day", "under", "fleeced", "helps"),
    [
        # On its own date, too late to be called earlier: clearly better than without, elsewhere.
        ((0.6, 0.5), (0.9, 0.8), (0.8, 0.7), "05-14", True),
        ((0.6, 0.5), (0.1, 0.0), (0.8, 0.6), "05-14", False),
        # A week earlier, as good as in place: clearly better than on the same day without it.
        ((0.6, 0.5), (0.3, 0.2), (0.5, 0.4), "05-13", True),
        ((0.6, 0.5), (0.4, 0.2), (0.5, 0.4), "05-13", False),
        ((0.6, 0.5), (0.3, 0.2), (0.5, 0.4), "05-14", False),
        ((0.6, 0.5), (0.1, 0.0), (0.49, 0.4), "05-13", False),  # earlier, but not as good
        ((0.6, 0.5), (0.8, 0.7), (0.9, 0.7), "05-13", False),
        # Half a year before is no earlier date, but a later one; five months are earlier.
        ((0.6, 0.5), (0.3, 0.2), (0.6, 0.4), "11-19", True),
        ((0.6, 0.5), (0.3, 0.2), (0.6, 0.4), "11-18", False),
        ((0.6, 0.5), (0.3, 0.2), (0.6, 0.4), "12-21", True),
        ((0.6, 0.5), (0.3, 0.2), (0.6, 0.4), "05-21", False),  # a day later
    ],
)
def test_fleece_helps_where_it_is_clearly_better_on_its_own_date(
    monkeypatch, bare, same_day, under, fleeced, helps
):
    """Shares of harvests and the low ends of their intervals, made up; sown in place on 20 May."""
    in_place = cw.Plan(cw.crop("pea"), "05-20")
    with_fleece = cw.Plan(cw.crop("pea"), fleeced, fleece_weeks=ways.FLEECE_WEEKS)
    odds = {
        (in_place.start, 0): bare,
        (with_fleece.start, 0): same_day,
        (with_fleece.start, ways.FLEECE_WEEKS): under,
    }

    def tried(plans, _):
        found = (odds[plan.start, plan.fleece_weeks] for plan in plans)
        return [SimpleNamespace(odds={"share": share, "low": low}) for share, low in found]

    monkeypatch.setattr(ways, "try_plans", tried)
    assert ways._fleece_helps(in_place, with_fleece, None) == helps


def test_the_weeks_are_those_that_do_best(daily, frame):
    crop = cw.crop("tomato")
    [chosen, *_] = ways.sensible_plans(crop, daily, space=frame)
    usual = crop.weeks_under_cover
    good = {}
    for weeks in (usual.fewest, usual.usual, usual.most):
        plan = cw.at_best_date(cw.Plan(crop, "04-01", weeks, "frame", space=frame), daily)
        years = evaluate_plan(plan, daily)
        known = years["outcome"] != "unknown"
        good[weeks] = float(
            ((years["growth"] >= 0.6) & (years["outcome"] == "harvest")).where(known).mean()
        )
    assert good[chosen.weeks_under_cover] == pytest.approx(max(good.values()), abs=0.03)
    [given, *_] = ways.sensible_plans(crop, daily, space=frame, weeks=8)
    assert given.weeks_under_cover == 8


def test_a_perennial_has_one_way(daily):
    assert len(ways.sensible_plans(cw.crop("asparagus"), daily)) == 1


def test_what_works_needs_no_mending(daily):
    plan = cw.at_best_date(cw.Plan(cw.crop("cauliflower"), "04-10"), daily)
    tried = ways.try_plans([plan], daily)
    assert tried[0].works
    assert ways.mends(tried, daily) == []
    assert what_would_mend(tried, [], "C") == []


def test_heat_mends_a_frame_that_kills(daily, frame):
    crop = cw.crop("tomato")
    cold = replace(frame, coldest=replace(frame.coldest, intercept_c=-12.0))
    plan = cw.Plan(crop, "03-01", 6, "frame", space=cold)
    tried = ways.try_plans([plan], daily)
    assert not tried[0].works
    mended = ways.mends(tried, daily)
    heated = [each for each in mended if each.change == "heat"]
    assert heated
    assert heated[0].plan.space.floor_c > crop.stages[0].cold.killed_at_c
    # Each change that is offered adds what it must, and the best of them comes first.
    ranks = [each.rank[0] for each in mended]
    assert ranks == sorted(ranks, reverse=True)
    assert all(rank >= tried[0].rank[0] + ways.WORTH for rank in ranks)
    [said] = what_would_mend(tried, mended, "F")
    good, known = int(heated[0].odds["good"]), int(heated[0].odds["known"])
    assert f"{good} of {known} years" in said
    assert "heat the frame to " in said
    assert "°C" not in said


@pytest.mark.parametrize(
    ("cover", "changes"),
    [
        ("cold frame", {"early variety", "heat", "warm room"}),
        ("room with lights", {"early variety"}),
        ("frost-free greenhouse", {"early variety", "warm room"}),  # heated as it is
        ("none", {"early variety"}),
    ],
)
def test_changes_that_add_enough_are_offered_the_best_first(monkeypatch, cover, changes):
    """Each change adds ten points of good harvests and more, one of them a little less."""
    tomato = cw.crop("tomato")
    plan = cw.Plan(tomato, "03-01", 6, cover) if cover != "none" else cw.Plan(tomato, "05-20")
    better = iter((0.5, 0.3, 0.6) if cover == "cold frame" else (0.3, 0.4))

    def odds(good, share=0.5):
        values = {"good_share": good, "share": share, "growth": 0.4}
        return xr.Dataset({name: ((), value) for name, value in values.items()})

    monkeypatch.setattr(ways, "at_best_date", lambda plan, _: replace(plan, start="06-01"))
    monkeypatch.setattr(ways, "evaluate_plan", lambda plan, _: plan)
    monkeypatch.setattr(ways, "harvest_odds", lambda _: odds(next(better)))
    poor = [ways.Tried(replace(plan, start="01-01"), odds(0.1)), ways.Tried(plan, odds(0.2))]
    mended = ways.mends(poor, None)
    assert {each.change for each in mended} == changes
    goods = [float(each.odds["good_share"]) for each in mended]
    assert goods == sorted(goods, reverse=True)
    assert len(goods) == len(changes)
    assert {each.plan.start for each in mended} == {"06-01"}
    of = {each.change: each.plan for each in mended}
    assert of["early variety"] == replace(plan, start="06-01", earliness="early")
    if "heat" in of:
        floor = tomato.stage().cold.killed_at_c + ways.HEAT_MARGIN_C
        assert (of["heat"].space.floor_c, of["heat"].cover) == (floor, "cold frame")
    if "warm room" in of:
        assert of["warm room"] == replace(plan, start="06-01", cover="room with lights")
    assert ways.mends([*poor, ways.Tried(plan, odds(0.9, 0.95))], None) == []
    apple = ways.Tried(cw.Plan(cw.crop("apple"), "01-01"), odds(0.1))
    assert ways.mends([apple], None) == []
    monkeypatch.setattr(ways, "harvest_odds", lambda _: odds(0.29))
    assert ways.mends(poor, None) == []


def test_where_nothing_mends_it_says_so(daily):
    tried = ways.try_plans([cw.Plan(cw.crop("tomato"), "09-15")], daily)
    [said] = what_would_mend(tried, [], "C")
    assert said.endswith("Otherwise choose a crop that suits the place.")


def test_no_plan_is_refused():
    with pytest.raises(ValueError, match="no plan to choose from"):
        ways.best_of([])


def test_records_of_a_short_time_are_tried_as_they_are():
    daily = records.weather(8, years=12).assign_attrs(latitude=50.0)
    plans = ways.sensible_plans(cw.crop("lettuce"), daily)
    assert {plan.crop.name for plan in plans} == {"lettuce"}
    assert {bool(plan.weeks_under_cover) for plan in plans} == {True, False}
