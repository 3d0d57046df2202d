"""The decision's names, dates and reasons: each beside the case in which it would be false."""

from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest
import xarray as xr
from report.rows import report_of, row

import climwin as cw
from climwin.core.provenance import warm_by
from climwin.core.seasons import day_number
from climwin.planning.growth import COLD, HOT, NOT_RIPE, REASONS
from climwin.report import sentences
from climwin.report import sentences_decision as words
from climwin.report.decision import Decision
from climwin.shelter.covers import COVERS

POTATO, COLE, PEA = (cw.crop(name) for name in ("potato", "cauliflower", "pea"))


SOWN = cw.Plan(COLE, "04-20")
RAISED = cw.Plan(COLE, "03-05", 6, "cold frame")
PLANTED = cw.Plan(POTATO, "04-20")


# --- where and when -----------------------------------------------------------------------


@pytest.mark.parametrize(
    ("plan", "does", "place"),
    [
        (SOWN, "sow", "outdoors"),
        (PLANTED, "plant", "outdoors"),
        (RAISED, "sow", "in a cold frame"),
        (replace(RAISED, cover="unheated greenhouse"), "sow", "in an unheated greenhouse"),
        (replace(RAISED, cover="room with lights"), "sow", "indoors"),
        (replace(RAISED, cover="fleece"), "sow", "under fleece"),
        (replace(SOWN, fleece_weeks=3), "sow", "outdoors under fleece"),
        (cw.Plan(cw.crop("tomato"), "05-20", plants="bought"), "set out", "as bought plants"),
    ],
)
def test_what_is_done_and_where_are_those_of_the_plan(plan, does, place):
    assert words.start_verb(plan) == does
    assert words.place_of(plan) == place
    done = {"sow": "sown", "plant": "planted", "set out": "set out"}[does]
    assert words.begun(plan) == done
    assert words.way_title(plan).lower().startswith(f"{done} {place}".lower())


@pytest.mark.parametrize(
    ("day", "said"),
    [(1, "early January"), (10, "early January"), (11, "mid-January"), (20, "mid-January"),
     (21, "late January"), (31, "late January"), (32, "early February")],
)  # fmt: skip
def test_a_month_has_ten_early_days_ten_in_the_middle_and_the_late_ones(day, said):
    assert words.part_of_month(day) == said


@pytest.mark.parametrize(
    ("first", "last", "said", "short"),
    [(184, 194, "3-13 July", "3-13 Jul"), (129, 165, "9 May-14 June", "9 May-14 Jun"),
     (64, 64, "5 March", "5 Mar"), (340, 380, "6 December-15 January", "6 Dec-15 Jan")],
)  # fmt: skip
def test_a_range_runs_from_its_first_day_to_its_last(first, last, said, short):
    assert words.day_range(first, last) == said.replace("-", "\N{EN DASH}")
    assert words.short_range(first, last) == short.replace("-", "\N{EN DASH}")


def test_a_row_has_its_start_then_the_day_out_then_the_harvest():
    raised = row(RAISED, first=60, last=70, harvest=(200.0, 215.0))
    started, out, harvest = words.row_dates(raised)
    assert started[0] == "5 Mar"
    assert started[1].startswith("1")  # to 11 March do as well
    assert out == ("16 Apr", "")  # six weeks later
    assert harvest[0].startswith("19 Jul")
    assert harvest[1] == ""
    assert words.row_dates(row(SOWN))[1] == ("", "")
    late = words.row_dates(row(SOWN, harvest=(380.0, 400.0)))[2]
    assert "next year" in late[1]
    never = words.row_dates(row(SOWN, harvest=(np.nan, np.nan)))[2]
    assert never == ("", "")


def test_rows_are_named_by_who_chose_their_date():
    asked, best = row(SOWN), row(SOWN, is_best=True, was_asked=False)
    chosen = row(SOWN, is_best=True)
    both = Decision((asked, best))
    assert words.row_name(both, asked).endswith("your date")
    assert words.row_name(both, best).endswith("best dates")
    early = replace(best, is_early=True, is_first_season=True)
    season = Decision((early, chosen))  # the plan's own main variety, beside an early one
    assert words.row_name(season, chosen).endswith("main variety")
    assert words.row_name(season, early).endswith("early variety")
    assert words.row_name(Decision((chosen,)), chosen).endswith("best dates")
    raised = row(RAISED, number=1)
    name = words.row_name(Decision((asked, raised)), raised)
    assert name.startswith("Cold frame for 6 weeks")
    assert "for" not in words.row_name(Decision((asked, raised)), asked)


def test_rows_that_differ_in_the_variety_alone_name_it():
    early, late = (row(replace(SOWN, earliness=kind), number=n)
                   for n, kind in enumerate(("early", "late")))  # fmt: skip
    decision = Decision((early, late))
    assert "early variety" in words.row_name(decision, early)
    assert "late variety" in words.row_name(decision, late)
    same = Decision((early, replace(early, number=1)))
    assert "variety" not in words.row_name(same, early)


# --- the advice ---------------------------------------------------------------------------


def advice(*rows):
    return words._advice(Decision(rows), "cauliflower")


def test_dates_that_nobody_asked_for_are_told_roughly_and_long_spans_by_their_ends():
    best = row(SOWN, is_best=True, first=100, last=110, start=105)
    assert advice(best)[0] == "Sow cauliflower in mid-April"
    long = replace(best, first=91, last=181)
    assert advice(long)[0] == "Sow cauliflower from early April to late June"
    asked = row(SOWN)
    assert "20 April" in advice(asked)[0]


def test_a_date_that_was_asked_and_does_worse_is_advised_against():
    best = row(SOWN, is_best=True, was_asked=False, start=160, first=158, last=165)
    asked = row(SOWN, 0.3)
    assert advice(best, asked)[0].endswith(", not on 20 April")


@pytest.mark.parametrize(
    ("share", "size", "said"),
    [
        (0.9, 1000.0, "outdoors does as well"),
        (0.9, 100.0, None),  # as safe, and hardly a crop
        (0.3, 1000.0, "not outdoors"),
        (0.7, 1000.0, None),
    ],
)
def test_the_other_way_does_as_well_or_is_advised_against_or_is_left_out(share, size, said):
    lead = row(RAISED, 0.9, low=0.8)
    other = row(SOWN, share, number=1, yield_index=size)
    text = advice(lead, other)[0]
    assert text.startswith("Sow cauliflower in a cold frame")
    if said is None:
        assert "outdoors" not in text
    else:
        assert said in text


@pytest.mark.parametrize(
    ("share", "said"),
    [(0.99, "almost every year"), (0.9, "in most years"), (0.75, "but one year in four fails"),
     (0.67, "but one year in three fails")],
)  # fmt: skip
def test_a_perennial_crops_as_often_as_its_share_says(share, said):
    apple, asparagus = (cw.Plan(cw.crop(name), "04-01") for name in ("apple", "asparagus"))
    for plan, verb in ((apple, "crop"), (asparagus, "crops")):
        text = words._verdict_of_perennial(SimpleNamespace(crop=plan.crop), row(plan, share))
        assert said in text
        assert f" {verb} " in text


# --- the reason ---------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("crop", "days", "stands"),
    [("garlic", 250, True), ("garlic", 100, False), ("pea", 250, False), ("apple", 180, True)],
)
def test_only_what_lives_through_the_winter_is_said_to(crop, days, stands):
    report = SimpleNamespace(crop=cw.crop(crop), need_days=days)
    assert words.stands_through_winter(report) is stands


@pytest.mark.parametrize(
    ("plan", "share", "best", "said"),
    [
        (SOWN, 0.3, False, "20 April fails"),
        (SOWN, 0.6, False, "20 April often fails"),
        (SOWN, 0.3, True, "it fails"),
        (SOWN, 0.6, True, "some years fail"),
    ],
)
def test_what_fails_is_the_date_that_was_given_or_the_way_or_some_years(plan, share, best, said):
    failing = row(plan, share, is_best=best)
    report = SimpleNamespace(crop=plan.crop)
    assert words._what_fails(report, Decision((failing,)), failing) == said


def test_another_way_that_fails_is_named_by_what_is_done_there():
    lead, raised = row(SOWN, 0.9, is_best=True), row(RAISED, 0.3, number=1, is_best=True)
    report = SimpleNamespace(crop=COLE)
    text = words._what_fails(report, Decision((lead, raised)), raised)
    assert text == "sowing in a cold frame fails"
    worse = replace(raised, share=0.7)
    assert words._what_fails(report, Decision((lead, worse)), worse).endswith("does worse")


def failed_years(reason, stage, begins, starts="04-20"):
    """Ten years that failed by one reason, in which the stage began on such days of the year."""
    season = 2000 + np.arange(len(begins))
    jan = np.array([f"{year}-01-01" for year in season], "datetime64[s]")
    day = np.timedelta64(86400, "s")
    columns = {
        "harvested": np.zeros(len(begins)),
        "reason": np.array([reason] * len(begins)),
        "stage": np.array([stage] * len(begins)),
        "start": np.array([f"{year}-{starts}" for year in season], "datetime64[s]"),
    }
    found = xr.Dataset({n: ("season", v) for n, v in columns.items()}, {"season": season})
    stages = [each.name for each in COLE.stages]
    table = np.stack([jan + (np.array(begins) - 1) * day] * len(stages))
    return found.assign(stage_begin=(("stage_name", "season"), table)).assign_coords(
        stage_name=stages
    )


@pytest.mark.parametrize(
    ("reason", "said", "not_said"),
    [
        (REASONS[HOT], "in days with a mean of", "ripen"),
        (REASONS[NOT_RIPE], "too late to ripen", "mean"),
    ],
)
def test_the_stage_that_failed_came_in_heat_or_too_late(monkeypatch, reason, said, not_said):
    stage = COLE.stages[-1].name
    report = report_of(
        crop=COLE, evaluated=[failed_years(reason, stage, [180, 182, 184, 186, 188] * 2)]
    )
    monkeypatch.setattr(words, "_usual_mean", lambda *_: 24.0)
    monkeypatch.setattr(words, "_days_of_stage", lambda *_: (np.nan, np.nan))
    asked = row(SOWN, 0.3)
    [text] = words._when_it_comes(report, Decision((asked,)), asked, "C")
    assert "about 3 July" in text  # in the middle; leap years begin a day sooner
    assert said in text
    assert not_said not in text


def test_cooler_dates_are_told_only_where_they_are_cooler(monkeypatch):
    stage = COLE.stages[-1].name
    report = report_of(crop=COLE, evaluated=[failed_years(REASONS[HOT], stage, [184] * 10)])
    asked, lead = row(SOWN, 0.3), row(SOWN, 0.95, is_best=True, was_asked=False, start=160)
    comes = {asked.start: (184.0, 200.0), lead.start: (225.0, 245.0)}
    monkeypatch.setattr(words, "_days_of_stage", lambda _, each, __: comes[each.start])
    for later, told in ((18.0, True), (23.5, False)):
        means = {184: 24.0, 225: later}
        monkeypatch.setattr(words, "_usual_mean", lambda _, begin, __, m=means: m[round(begin)])
        texts = words._when_it_comes(report, Decision((lead, asked)), asked, "C")
        assert (len(texts) == 2) is told
        assert "24 °C" in texts[0]
        if told:
            assert "about 9 June" in texts[1]
            assert "about 13 August, at 18 °C" in texts[1]


def test_cold_has_no_date_to_tell(monkeypatch):
    report = report_of(crop=COLE, evaluated=[failed_years(REASONS[COLD], "seedling", [120] * 9)])
    asked = row(SOWN, 0.3)
    assert words._when_it_comes(report, Decision((asked,)), asked, "C") == []


@pytest.mark.parametrize(
    ("stage", "formed", "forms"),
    [("curd", "formed", "it forms"), ("roots", "formed", "they form"),
     ("flowers", "came", "they come"), ("leaf growth", "came", "it comes")],
)  # fmt: skip
def test_a_part_of_the_plant_forms_and_a_time_of_its_life_comes(stage, formed, forms):
    assert words._formed(stage) == f"the {stage} {formed}"
    assert words._forms(stage) == forms


# --- how sure -----------------------------------------------------------------------------


def comfort(good, bad):
    """Weeks of 39 years: so many comfortable in most of them, so many too cold or hot."""
    states = ["comfortable", "too cold", "too hot"]
    years = np.zeros((3, 52))
    years[0, :good] = 30
    years[1, good : good + bad // 2] = 30
    years[2, good + bad // 2 : good + bad] = 30
    found = xr.Dataset(
        {"years": (("state", "week"), years), "known": ("week", np.full(52, 39))},
        {"state": states, "week": np.arange(52)},
    )
    return SimpleNamespace(crop=PEA, comfort=found)


def test_weeks_of_comfort_and_weeks_of_cold_or_heat_keep_their_numbers():
    text = words.comfort_title(comfort(14, 25))
    assert text.startswith("In most years peas are comfortable here for 14 weeks")
    assert text.endswith("25 weeks are too cold or too hot")
    none = words.comfort_title(comfort(0, 30))
    assert none == (  # 52 - 30
        "In most years peas grow here in 22 weeks, though none is warm enough, or cool enough, for "
        "full growth"
    )
    assert "comfortable" not in none


@pytest.mark.parametrize(("days", "said"), [(20, "20 days"), (21, "3 weeks"), (68, "10 weeks")])
def test_a_length_is_days_below_three_weeks(days, said):
    assert words.weeks_long(days) == said


@pytest.mark.parametrize(("few", "many", "is_said"), [(0.2, 0.7, True), (0.4, 0.4, False)])
def test_limits_that_change_nothing_are_no_doubt(monkeypatch, few, many, is_said):
    monkeypatch.setattr(words, "shows_spells", lambda _: True)
    off = [{"share": each, "shorter": round(40 * each), "known": 40} for each in (few, many)]
    report = SimpleNamespace(crop=PEA, shorter_if_limits_off=off)
    text = words.limits_doubt(report, "C")
    assert bool(text) is is_said
    if is_said:
        assert "too short in 8 to 28 of 40 years" in text
        off[1]["known"] = 39  # of other years a count would be none
        assert "too short in 20 % to 70 % of the years" in words.limits_doubt(report, "C")
        assert "With limits off by 2 °C either way" in text
        assert "too short" in text
        assert "3.6 °F" in words.limits_doubt(report, "F")
    monkeypatch.setattr(words, "shows_spells", lambda _: False)
    assert words.limits_doubt(report, "C") == ""  # nor of a spell that the page does not show


# --- what never succeeds ------------------------------------------------------------------


@pytest.mark.parametrize(("cold", "every"), [(0, True), (3, False)])
def test_what_never_succeeds_is_explained_on_the_date_that_fails_last_of_all(cold, every):
    """Of two dates the kinder one: fewer years end it early, by cold, and most later, by heat."""
    listed = list(REASONS)
    failed = np.zeros((2, len(listed)))
    failed[0, listed.index(REASONS[COLD])] = 40  # in February, all by cold
    failed[1, listed.index(REASONS[COLD])] = cold
    failed[1, listed.index(REASONS[HOT])] = 40 - cold
    swept = xr.Dataset(
        {"failed_by": (("start_day", "reason"), failed)}, {"start_day": [40, 135], "reason": listed}
    )
    asked = row(SOWN, 0.0)
    report = report_of(swept=[swept], crop=SOWN.crop)
    text = words._why_never(report, Decision((asked,)))  # its heading names the cause
    assert text.startswith("Even sown outdoors in mid-May")
    assert "it failed in every year" in text
    assert ("in 37 of 40 years for that reason" in text) is not every
    table = words.failures_at_best(report, asked)  # of that date, and not of one that nobody chose
    assert table.startswith(f"sown in mid-May: {40 - cold} {REASONS[HOT]}")
    assert (f"{cold} {REASONS[COLD]}" in table) is not every


@pytest.mark.parametrize(
    ("reason", "words_of_it", "not_of_it"),
    [
        ("did not come up: too cold", "cold", "hot"),
        ("did not come up: too hot", "hot", "cold"),
        ("killed inside: too cold", "cold under cover", "scorched"),
        ("killed inside: scorched", "scorched under cover", "cold"),
        ("cold need not met", "winter too mild", "cold"),
        ("no bed workable", "too cold or too wet", "dry"),
        ("day length", "days too short or too long", "night"),
        ("not ripe before the end", "not ripe in time", "early"),
        ("winter kill", "killed by winter", "summer"),
        ("chilled", "chilly", "warm"),
    ],
)
def test_a_reason_in_words_is_the_one_of_the_list(reason, words_of_it, not_of_it):
    said = sentences.reason_in_words(reason)
    assert reason in REASONS
    assert words_of_it in said
    assert not_of_it not in said


# --- what is said of the whole ------------------------------------------------------------


@pytest.mark.parametrize(
    ("plan", "name"),
    [
        (SOWN, "the open ground"),
        (RAISED, "the cold frame"),
        (replace(RAISED, cover="room with lights"), "the start indoors"),
        (cw.Plan(cw.crop("tomato"), "05-20", plants="bought"), "the bought plants"),
        (replace(SOWN, fleece_weeks=3), "the bed under fleece"),
    ],
)
def test_a_way_is_named_by_its_place(plan, name):
    assert words._name_of_way(plan, [plan]) == name


@pytest.mark.parametrize(
    ("share", "said"),
    [
        (0.03, "almost never crops here: at best 1 of 40 years"),
        (0.15, "seldom crops here: at best 6 of 40 years"),
        (0.4, "is a gamble here: at best 16 of 40 years"),
    ],
)
@pytest.mark.parametrize("crop", [COLE, PEA])
def test_a_crop_that_mostly_fails_has_its_best_count(monkeypatch, crop, share, said):
    plan = cw.Plan(crop, "04-20")
    monkeypatch.setattr(words, "decide", lambda _: Decision((row(plan, share),)))
    if crop is PEA:
        said = said.replace("crops", "crop").replace("is a", "are a")
    name = "Peas" if crop is PEA else "Cauliflower"
    assert words.verdict(SimpleNamespace(crop=crop)) == f"{name} {said}"


def test_nothing_that_never_comes_to_a_harvest_is_to_be_counted_on(monkeypatch):
    for plan, outdoors in ((SOWN, ""), (RAISED, " outdoors")):
        monkeypatch.setattr(words, "decide", lambda _, p=plan: Decision((row(p, 0.0),)))
        text = words.verdict(SimpleNamespace(crop=COLE))
        assert text == f"Do not count on cauliflower{outdoors} here"


@pytest.mark.parametrize(("growth", "poor"), [(0.3, True), (0.8, False)])
@pytest.mark.parametrize("name", ["cauliflower", "pea", "globe artichoke"])
def test_what_grows_poorly_is_said_to_in_all_lengths(name, growth, poor):
    plan = cw.Plan(cw.crop(name), "04-20")
    texts = words._advice(Decision((row(plan, growth=growth),)), name)
    assert ("; expect a poor harvest" in texts[0]) is poor
    poor_ones = [text for text in texts if text.endswith("; expect a poor harvest")]
    assert poor_ones == [f"Sow {name} on 20 April; expect a poor harvest"] * 2 * poor
    assert any(text.endswith("; poor harvests") for text in texts) is poor
    grows = "grow" if words.is_plural(plan.crop) else "grows"
    assert any(text.endswith(f"{grows} poorly here") for text in texts) is poor


def test_the_open_ground_that_does_as_well_works_too():
    lead, other = row(RAISED, 0.9, low=0.8), row(SOWN, 0.9, number=1)
    assert words._beside_it(Decision((lead, other))) == [
        "; outdoors does as well",
        "; outdoors works too",
    ]


def test_gaps_leave_the_length_of_a_spell_unsaid(monkeypatch):
    monkeypatch.setattr(words, "_spells_of_lead", lambda _: (0, 0))
    text = words.spell_finding(SimpleNamespace(part="fall"))
    assert text == "Autumn's mild spell: too many gaps to say how long"


def standing_spell(crop, need, middle, share=0.9, *, failing=False):
    plan = cw.Plan(cw.crop(crop), "04-20")
    report = report_of(
        crop=plan.crop, part="longest", given_need_days=need, need_days=need, needs=[need],
        median_length=middle,
        evaluated=[xr.Dataset({"harvested": ("season", [1.0])}, {"season": [2000]})],
        window=xr.Dataset({"length": ("season", [middle])}, {"season": [2000]}),
    )  # fmt: skip
    asked = row(plan, share)
    return words._spell_against_need(report, Decision((asked,)), asked, is_failing=failing)


@pytest.mark.parametrize(
    ("middle", "link", "lasts"),
    [
        (40.0, "but", "the longest mild spell lasts 6 weeks in a typical year"),
        (90.0, "and", "the longest mild spell lasts 13 weeks in a typical year"),
        (70.0, "and", "the longest mild spell lasts about as long in a typical year"),
        (360.0, "and", "a typical year stays mild throughout"),
    ],
)
def test_a_need_is_set_against_the_spell_of_a_typical_year(middle, link, lasts):
    first = standing_spell("cauliflower", 70, middle)[0]
    assert first == f"Cauliflower wants 10 weeks outdoors, {link} {lasts}."
    peas = standing_spell("pea", 70, middle)[0]
    assert peas.startswith("Peas want 10 weeks outdoors")


def test_what_stands_through_the_winter_lives_through_it_and_needs_a_long_spring():
    want, why = standing_spell("garlic", 250, 150.0)
    assert want == "It wants 36 weeks outdoors."
    assert "In winter the plants hardly grow" in why
    assert "they live through it, and that spring is long enough" in why
    assert standing_spell("garlic", 250, 150.0, failing=True) == []
    assert standing_spell("cauliflower", 70, np.nan) == ["Cauliflower wants 10 weeks outdoors."]
    assert standing_spell("apple", 170, 150.0) == []


@pytest.mark.parametrize("name", ["garlic", "shallot", "fava bean"])
def test_a_heading_says_that_a_crop_stands_through_the_winter(monkeypatch, name):
    crop = cw.crop(name)
    monkeypatch.setattr(words, "decide", lambda _: Decision((row(cw.Plan(crop, "10-10"), 0.9),)))
    monkeypatch.setattr(words, "stands_through_winter", lambda _: True)
    stand = "stand" if words.is_plural(crop) else "stands"
    text = words.reason_heading(SimpleNamespace(crop=crop))
    assert text.endswith(f" {stand} through the winter")


@pytest.mark.parametrize(
    ("share", "cause", "said"),
    [
        (1.0, "", "No year failed"),
        (0.9, "", "Few years failed"),
        (0.9, "killed by winter", "Few years failed: killed by winter"),
    ],
)
def test_a_perennial_that_does_well_fails_in_no_year_or_in_few(monkeypatch, share, cause, said):
    apple = cw.crop("apple")
    told = Decision((row(cw.Plan(apple, "01-01"), share),))
    monkeypatch.setattr(words, "decide", lambda _: told)
    monkeypatch.setattr(words.sentences, "main_failure", lambda _: cause)
    assert words.reason_heading(report_of(crop=apple, evaluated=[None])) == said


@pytest.mark.parametrize(
    ("days", "whose"), [(54, "after 6 weeks under cover"), (75, "sown outdoors")]
)
def test_the_way_whose_spells_are_counted_is_named_where_two_differ(monkeypatch, days, whose):
    ways = [
        SimpleNamespace(way="after 6 weeks under cover", days=54),
        SimpleNamespace(way="sown outdoors", days=75),
    ]
    report = SimpleNamespace(crop=COLE, need_days=days)
    monkeypatch.setattr(words, "needs", lambda _: ways)
    assert words._whose_spell(report) == f"Mild spells are counted here for cauliflower {whose}. "
    monkeypatch.setattr(words, "needs", lambda _: ways[:1])
    assert words._whose_spell(report) == ""


def told_of(monkeypatch, *rows):
    monkeypatch.setattr(words, "decide", lambda _: Decision(rows))
    return words.numbers_behind(SimpleNamespace(crop=rows[0].plan.crop))


def test_each_count_behind_the_verdict_stands_with_its_way_its_date_and_its_variety(monkeypatch):
    lead = row(SOWN, 0.9, is_best=True, was_asked=False, start=160)
    asked, raised = row(SOWN, 0.5), row(RAISED, 0.8, number=1)
    text = told_of(monkeypatch, lead, asked, raised)
    assert text == (
        "Sown outdoors about 9 June, cauliflower gave a harvest in 36 of 40 years; on 20 April, "
        "in 20 of 40. Sown in a cold frame on 5 March: 32 of 40."
    )
    early = told_of(monkeypatch, replace(lead, is_early=True), asked, raised)
    assert words._early("summer squash") == "early varieties of summer squash"
    assert words._early("winter squash") == "early varieties of winter squash"
    assert words._early("spring onions") == "early varieties of spring onions"
    assert "about 9 June, early cauliflower gave a harvest in 36 of 40 years" in early
    assert "; a main variety on 20 April, in 20 of 40." in early
    assert "an early variety" not in early
    other = told_of(monkeypatch, lead, asked, replace(raised, is_early=True))
    assert "Sown in a cold frame on 5 March, an early variety: 32 of 40." in other
    assert "main variety" not in other


@pytest.mark.parametrize(
    ("share", "crop", "smaller"), [(0.85, 700.0, True), (0.85, 900.0, False), (0.5, 700.0, False)]
)
def test_another_way_gives_a_smaller_crop_only_where_it_is_as_safe(
    monkeypatch, share, crop, smaller
):
    lead, other = row(SOWN, 0.9), row(RAISED, share, number=1, yield_index=crop)
    text = told_of(monkeypatch, lead, other)
    assert text.endswith("but a smaller crop.") is smaller


@pytest.mark.parametrize(
    ("share", "low", "by_chance"),
    [(0.9, 0.7, True), (0.9, 0.85, False), (0.84, 0.7, False), (0.7, 0.5, False)],
)
def test_a_safer_way_that_does_not_lead_may_be_so_by_chance(monkeypatch, share, low, by_chance):
    lead, other = row(SOWN, 0.8), row(RAISED, share, number=1, low=low)
    text = told_of(monkeypatch, lead, other)
    assert text.endswith("That difference may be chance.") is by_chance


def test_ones_own_space_is_told_with_its_weeks_and_the_day_out(monkeypatch):
    space = COVERS["cold frame"]
    own = replace(RAISED, space=space, cover=space.name, start="03-12")
    rows = row(SOWN, 0.9), row(RAISED, 0.85, number=1), row(own, 0.6, number=2)
    text = told_of(monkeypatch, *rows)
    out = words.on_day(day_number("03-12") + 42)
    assert text.endswith(f"on 12 March, 6 weeks under cover, set out about {out}: 24 of 40.")
    early = replace(rows[0], is_early=True), rows[1], rows[2]
    other, mine = told_of(monkeypatch, *early).split(". ")[1:]
    assert other == "Sown in a cold frame on 5 March, a main variety: 34 of 40"
    assert mine.startswith("Sown in a cold frame on 12 March, a main variety, 6 weeks under cover,")
    mine = told_of(monkeypatch, rows[0], rows[1], replace(rows[2], is_early=True))
    assert "on 12 March, an early variety, 6 weeks under cover" in mine
    # Of the first two ways it is told already.
    assert "under cover" not in told_of(monkeypatch, rows[0], row(own, 0.6, number=1))


@pytest.mark.parametrize(
    ("crop", "be", "way"),
    [
        ("cauliflower", "cauliflower is", "Sown outdoors on 20 April, "),
        ("pea", "peas are", "Sown outdoors on 20 April, "),
        ("apple", "Apples are", ""),
    ],
)
def test_what_lies_ahead_is_a_harvest_in_so_many_of_ten_years_and_its_long_run_share(
    monkeypatch, crop, be, way
):
    lead = row(cw.Plan(cw.crop(crop), "04-20"), 0.9)
    monkeypatch.setattr(words, "decide", lambda _: Decision((lead,)))
    ahead = xr.Dataset({"next_low": 7.0, "next_high": 10.0})
    text = words.harvests_ahead(report_of(crop=lead.plan.crop, odds=[ahead]))
    assert text == (
        f"{way}{be} likely to give a harvest in 7 to 10 of the next ten years. From 40 years of "
        "weather, the long-run share of years with a harvest is likely 80 % to 100 %."
    )


@pytest.mark.parametrize("spells", [True, False])
def test_harvests_come_before_what_the_ranges_cover(monkeypatch, spells):
    monkeypatch.setattr(words, "shows_spells", lambda _: spells)
    monkeypatch.setattr(words, "harvests_ahead", lambda _: "It is likely.")
    monkeypatch.setattr(words, "few_years", lambda _: ["Few years."])
    monkeypatch.setattr(words, "_whose_spell", lambda _: "Of the bed. ")
    monkeypatch.setattr(words.sentences, "how_sure", lambda _: "The spell is likely.")
    said = words.how_sure(None)
    if spells:
        assert said == ["It is likely.", "Of the bed. The spell is likely."]
    else:
        assert said[0].startswith("It is likely. Likely ranges hold nine times in ten.")
        assert said[1:] == ["Few years."]


@pytest.mark.parametrize(
    ("share", "said"),
    [
        (0.03, "Brussels sprouts almost never crop: 1 of 40 years"),
        (0.4, "Brussels sprouts: a gamble, at best 16 of 40 years"),
    ],
)
def test_a_long_name_has_a_shorter_verdict_with_the_same_count(monkeypatch, share, said):
    plan = cw.Plan(cw.crop("Brussels sprouts"), "04-20")
    monkeypatch.setattr(words, "decide", lambda _: Decision((row(plan, share),)))
    text = words.verdict(SimpleNamespace(crop=plan.crop))
    assert text == said
    assert words.words(text) <= words.MOST_WORDS


@pytest.mark.parametrize(("share", "loss"), [(0.9, None), (0.75, "one year in four fails")])
def test_advice_without_its_place_says_what_to_do_with_what_and_when(share, loss):
    lead = row(RAISED, share, low=share - 0.1)
    texts = advice(lead, row(SOWN, 0.3, number=1))
    bare = "Sow cauliflower on 5 March"
    assert texts[-1] == bare
    core = "Sow cauliflower in a cold frame on 5 March"
    if loss:
        with_place = [
            f"{core}; {loss}",
            f"{core}; {loss}",
        ]  # a long run briefly
        assert texts == [*with_place, f"{bare}; {loss}", core, bare]
    else:
        assert texts == [f"{core}, not outdoors", core, bare]


def grown(*causes):
    """Years of a way: what failed each, as its reason and its stage, or nothing."""
    reasons, stages = zip(*(each or ("", "") for each in causes), strict=True)
    columns = {
        "harvested": [float(each is None) for each in causes],
        "reason": list(reasons),
        "stage": list(stages),
    }
    season = 2000 + np.arange(len(causes))
    return xr.Dataset({n: ("season", np.array(v)) for n, v in columns.items()}, {"season": season})


HEAT, FROST = (REASONS[HOT], "curd"), (REASONS[COLD], "seedling")


@pytest.mark.parametrize("crop", [COLE, PEA])
def test_a_date_that_was_given_has_the_counts_of_what_failed_it(crop):
    they = "they" if crop is PEA else "it"
    plan = cw.Plan(crop, "04-20")
    report = report_of(crop=crop, evaluated=[grown(HEAT, FROST, HEAT, None)])
    lead = row(plan, 0.9, is_best=True, was_asked=False, start=160)
    asked = row(plan, 0.25)
    [text] = words._why_it_fails(report, lead, asked, 4, 3)
    heat, frost = f"{REASONS[HOT]} for the curd", f"{REASONS[COLD]} as seedlings"
    start = f"Sown outdoors on 20 April, {they} failed in 3 of 4 years: "
    assert text == f"{start}2 {heat}, 1 {frost}."
    alone = report_of(crop=crop, evaluated=[grown(HEAT, HEAT, None)])
    [text] = words._why_it_fails(alone, lead, asked, 3, 2)
    assert text.endswith(f"failed in 2 of 3 years: {heat}.")  # one cause needs no second count
    early = words._why_it_fails(report, replace(lead, is_early=True), asked, 4, 3)[0]
    assert early.startswith("Sown outdoors on 20 April, a main variety failed in 3 of 4 years")


def test_a_best_date_has_what_fails_it_mostly_and_what_otherwise():
    report = report_of(crop=COLE, evaluated=[grown(HEAT, FROST, HEAT, None)])
    best = row(SOWN, 0.25, is_best=True)
    [text] = words._why_it_fails(report, best, best, 4, 3)
    assert text == (
        f"Years without a harvest: mostly {REASONS[HOT]} for the curd; otherwise "
        f"{REASONS[COLD]} as seedlings."
    )
    alone = report_of(crop=COLE, evaluated=[grown(HEAT, HEAT, None)])
    assert words._why_it_fails(alone, best, best, 3, 2) == []


@pytest.mark.parametrize(
    ("by", "units", "told"),
    [
        (2.0, "C", "What if it were 2 °C warmer"),
        (2.0, "F", "What if it were 3.6 °F warmer"),
        (-1.5, "C", "What if it were 1.5 °C colder"),
    ],
)
def test_a_scenario_is_labelled_and_the_weather_as_it_was_is_not(by, units, told):
    daily = cw.read_daily(cw.sample())
    assert words.scenario(SimpleNamespace(daily=warm_by(daily, by)), units) == told
    assert words.scenario(SimpleNamespace(daily=daily), units) == ""


@pytest.mark.parametrize("crop", [COLE, PEA])
def test_a_date_that_failed_in_all_years_did_so_in_all_of_them(crop):
    they = "they" if crop is PEA else "it"
    asked = row(cw.Plan(crop, "04-20"), 0.0)
    report = report_of(crop=crop, evaluated=[grown(HEAT, FROST, HEAT)])
    [text] = words._why_it_fails(report, asked, asked, 3, 3)
    assert f", {they} failed in all 3 years: 2 " in text


IN_A_WRONG_SEASON = (
    "no bed workable",
    "did not come up: too cold",
    "did not come up: too hot",
    "killed by cold",
    "chilled",
    "killed inside: too cold",
    "winter kill",
)


@pytest.mark.parametrize("ends", REASONS)
def test_a_date_is_kinder_the_further_a_crop_comes_by_its_season(ends):
    """What ends a seedling says the season is wrong; heat later on may come on any date."""
    listed = list(REASONS)
    failed = np.zeros((2, len(listed)))
    failed[0, listed.index(ends)] = 40
    failed[1, listed.index(REASONS[HOT])] = 30
    failed[1, listed.index(REASONS[COLD])] = 10
    swept = xr.Dataset(
        {"failed_by": (("start_day", "reason"), failed)}, {"start_day": [40, 135], "reason": listed}
    )
    is_early = ends in IN_A_WRONG_SEASON
    start, cause, count, years = words._kindest_failure(report_of(swept=[swept]), row(SOWN, 0.0))
    assert (start, cause) == ((135, REASONS[HOT]) if is_early else (40, ends))
    assert (count, years) == ((30, 40) if is_early else (40, 40))


def test_dates_on_which_it_ripens_are_told_only_where_its_stage_comes_earlier(monkeypatch):
    stage = COLE.stages[-1].name
    late = failed_years(REASONS[NOT_RIPE], stage, [300] * 10, "07-20")
    report = report_of(crop=COLE, evaluated=[late])
    asked = row(cw.Plan(COLE, "07-20"), 0.3)
    lead = row(SOWN, 0.95, is_best=True, was_asked=False, start=160)
    monkeypatch.setattr(words, "_usual_mean", lambda *_: 12.0)
    for comes, is_told in ((225.0, True), (310.0, False)):
        days = {asked.start: (300.0, 320.0), lead.start: (comes, comes + 20)}
        monkeypatch.setattr(words, "_days_of_stage", lambda _, each, __, d=days: d[each.start])
        first, *others = words._when_it_comes(report, Decision((lead, asked)), asked, "C")
        assert "too late to ripen" in first
        assert bool(others) is is_told
        if is_told:
            assert others == [f"Sown outdoors about 9 June, {words._forms(stage)} about 13 August."]


@pytest.mark.parametrize(
    ("lead_is_early", "other_is_early", "as_good"),
    [(False, False, True), (True, True, True), (True, False, True), (False, True, False)],
)
def test_another_way_does_as_well_only_with_no_earlier_a_variety(
    lead_is_early, other_is_early, as_good
):
    lead = row(RAISED, 0.9, low=0.8, is_early=lead_is_early)
    other = row(SOWN, 0.9, number=1, is_early=other_is_early)
    assert ("; outdoors does as well" in words._beside_it(Decision((lead, other)))) is as_good


@pytest.mark.parametrize(
    ("lead", "matters"),
    [
        (row(SOWN, 0.9, is_best=True, was_asked=False, start=160), "date that matters"),
        (
            row(SOWN, 0.9, is_best=True, was_asked=False, start=160, is_early=True),
            "date and the variety that matter",
        ),
        (row(RAISED, 0.9, number=1), None),
    ],
)
def test_where_it_is_mild_for_long_enough_the_date_matters_that_another_of_the_way_is(
    monkeypatch, lead, matters
):
    monkeypatch.setattr(words, "_fails_by_its_date", lambda *_: True)
    asked = row(SOWN, 0.3)
    report = report_of(
        crop=COLE, part="longest", given_need_days=70, need_days=70, needs=[70, 70],
        median_length=100.0,
    )  # fmt: skip

    def told(failing):
        decision = Decision((lead, asked))
        [text] = words._spell_against_need(report, decision, failing, is_failing=True)
        return text

    mild = (
        "It is mild for long enough here: cauliflower wants 10 weeks outdoors, and the longest "
        "mild spell lasts 14 weeks in a typical year."
    )
    assert told(asked) == (f"{mild} It is the {matters}." if matters else mild)
    assert told(lead) == mild if lead.number == 0 else told(asked) == mild
    report.median_length = 90.0  # under three weeks more than it wants
    assert told(asked).startswith("Cauliflower wants 10 weeks outdoors, and the longest")


PUTS_UP = " up with some days too cold or too hot, so a year can succeed without an unbroken spell."


@pytest.mark.parametrize(("crop", "puts"), [("cauliflower", "It puts"), ("pea", "They put")])
def test_a_harvest_without_a_long_spell_is_explained_by_what_the_crop_puts_up_with(crop, puts):
    assert standing_spell(crop, 70, 40.0)[1:] == [puts + PUTS_UP]
    assert len(standing_spell(crop, 70, 90.0)) == 1


@pytest.mark.parametrize(
    ("lead", "puts_up"),
    [
        (row(SOWN, 0.9, is_best=True, was_asked=False, start=160), True),
        (row(SOWN, 0.6, is_best=True, was_asked=False, start=160), False),
        (row(RAISED, 0.9, number=1), False),
    ],
)
def test_too_short_a_spell_is_put_up_with_where_another_date_of_the_way_succeeds(lead, puts_up):
    asked = row(SOWN, 0.3)
    report = report_of(
        crop=COLE, part="longest", given_need_days=70, need_days=70, needs=[70, 70],
        median_length=40.0,
    )  # fmt: skip
    first, *others = words._spell_against_need(
        report, Decision((lead, asked)), asked, is_failing=True
    )
    assert first == (
        "Cauliflower wants 10 weeks outdoors, but the longest mild spell lasts only 6 weeks in a "
        "typical year."
    )
    assert others == ["It puts" + PUTS_UP] * puts_up


@pytest.mark.parametrize(
    ("earliness", "variety"),
    [("main", "a main variety"), ("late", "a late variety"), ("early", "an early variety")],
)
def test_a_variety_has_its_article_where_an_early_one_leads(earliness, variety):
    lead = row(SOWN, 0.9, is_best=True, was_asked=False, start=160, is_early=True)
    asked = row(cw.Plan(COLE, "03-05", 6, "cold frame", earliness=earliness), 0.3, number=1)
    report = SimpleNamespace(crop=COLE, given_need_days=None)
    decision = Decision((lead, asked))
    assert words._who_needs(report, decision, asked) == (f"{variety} of cauliflower", False)
    assert words._main_variety(lead, asked) == variety
    assert words._main_variety(lead, replace(asked, is_early=True)) == ""
    report.given_need_days = 60
    assert words._who_needs(report, decision, asked) == ("cauliflower", False)


@pytest.mark.parametrize(
    ("begins", "ended", "until"), [(184.0, 200.0, 200.0), (np.nan, np.nan, 212.0)]
)
def test_the_heat_of_a_stage_is_that_of_its_days_or_of_four_weeks(
    monkeypatch, begins, ended, until
):
    stage = COLE.stages[-1].name
    report = report_of(crop=COLE, evaluated=[failed_years(REASONS[HOT], stage, [184] * 10)])
    asked = row(SOWN, 0.3)
    monkeypatch.setattr(words, "_days_of_stage", lambda *_: (begins, ended))
    spans = []
    monkeypatch.setattr(words, "_usual_mean", lambda _, *days: spans.append(days) or 24.0)
    words._when_it_comes(report, Decision((asked,)), asked, "C")
    assert spans == [(184.0, until)]


@pytest.mark.parametrize(
    ("lead", "given", "short"), [(0, None, 8), (1, None, 5), (0, 60, 5), (1, 60, 5)]
)
def test_a_spell_is_too_short_for_the_way_that_leads(monkeypatch, lead, given, short):
    """Three of 38 years are long enough for raised plants alone, and five for neither way."""
    needed = [SimpleNamespace(days=54), SimpleNamespace(days=75)]
    found = SimpleNamespace(counts=(5, 3, 30), needs=needed)
    monkeypatch.setattr(words, "spells", lambda _: found)
    monkeypatch.setattr(words, "decide", lambda _: Decision((row(number=lead),)))
    report = SimpleNamespace(needs=[75, 54], given_need_days=given)
    assert words._spells_of_lead(report) == (38, short)


@pytest.mark.parametrize(
    ("crop", "short", "share", "said"),
    [
        ("pea", 0, 0.9, "The longest mild spell was long enough in all 40 years"),
        ("pea", 5, 0.9, "The longest mild spell was long enough in 35 of 40 years"),
        ("pea", 25, 0.5, "The longest mild spell was too short in 25 of 40 years"),
        ("pea", 25, 0.9, "Peas do well without an unbroken mild spell"),
        ("cauliflower", 25, 0.9, "Cauliflower does well without an unbroken mild spell"),
    ],
)
def test_a_spell_was_long_enough_or_too_short_or_not_needed(monkeypatch, crop, short, share, said):
    monkeypatch.setattr(words, "_spells_of_lead", lambda _: (40, short))
    monkeypatch.setattr(words, "decide", lambda _: Decision((row(share=share),)))
    report = SimpleNamespace(part="longest", crop=cw.crop(crop))
    assert words.spell_finding(report) == said


def test_without_a_doubt_the_garden_may_still_be_colder_or_warmer(monkeypatch):
    monkeypatch.setattr(words, "few_years", lambda _: [])
    monkeypatch.setattr(words, "doubts", lambda *_: ())
    assert words.worst_doubt(None, None, "C") == (
        f"{words.NO_FORECAST} Your garden may be several degrees colder or warmer than the station."
    )


@pytest.mark.parametrize(("crop", "fails"), [(COLE, "it fails"), (PEA, "they fail")])
def test_what_mostly_fails_on_its_best_date_fails(crop, fails):
    failing = row(cw.Plan(crop, "04-20"), 0.3, is_best=True)
    assert words._what_fails(SimpleNamespace(crop=crop), Decision((failing,)), failing) == fails


@pytest.mark.parametrize(
    ("name", "said"),
    [("apple", "Apples crop here, but poorly"), ("asparagus", "Asparagus crops here, but poorly")],
)
def test_a_perennial_that_hardly_grows_crops_poorly(name, said):
    crop = cw.crop(name)
    lead = row(cw.Plan(crop, "04-01"), 0.9, growth=0.3)
    assert words._verdict_of_perennial(SimpleNamespace(crop=crop), lead) == said
    assert words.row_count(lead) == "36 of 40"


def test_a_way_without_a_date_that_gives_a_harvest_has_no_date_in_its_head(monkeypatch):
    never, sown = row(RAISED, 0.0, is_hopeless=True), row(SOWN, 0.3, number=1)
    monkeypatch.setattr(words, "decide", lambda _: Decision((sown, never)))
    report = SimpleNamespace(plans=[RAISED, SOWN])
    assert words.titles(report) == ["Sown in a cold frame", "Sown outdoors 20 Apr"]


@pytest.mark.parametrize(
    ("crop", "given", "doing"),
    [
        ("cauliflower", {}, "sowing outdoors"),
        ("potato", {}, "planting outdoors"),
        ("tomato", {"plants": "bought"}, "setting out bought plants"),
    ],
)
def test_two_ways_of_one_place_are_told_apart_by_what_is_done_and_when(crop, given, doing):
    first, second = (cw.Plan(cw.crop(crop), day, **given) for day in ("04-20", "05-20"))
    assert words._name_of_way(first, [first, second]) == f"{doing} on 20 April"
    assert words._name_of_way(second, [first, second]) == f"{doing} on 20 May"


def test_a_surer_season_has_its_date_and_then_its_count(monkeypatch):
    lead = row(
        SOWN, 0.82, is_best=True, was_asked=False, start=100, first=90, last=120,
        is_first_season=True, season="spring",
    )  # fmt: skip
    summer = row(SOWN, 0.95, is_best=True, start=210, first=200, last=240, season="summer")
    text = told_of(monkeypatch, lead, summer)
    assert text == (
        "Sown outdoors about 10 April, cauliflower gave a harvest in 33 of 40 years; about 29 "
        "July, in 38 of 40."
    )


@pytest.mark.parametrize(
    ("reason", "place"), [(REASONS[HOT], -2), (REASONS[NOT_RIPE], -1)], ids=["heat", "ripeness"]
)
def test_heat_fails_the_stage_that_it_met_and_what_is_not_ripe_fails_the_last(
    monkeypatch, reason, place
):
    met, name = COLE.stages[-2].name, COLE.stages[place].name
    report = report_of(crop=COLE, evaluated=[failed_years(reason, met, [184] * 10)])
    monkeypatch.setattr(words, "_usual_mean", lambda *_: 24.0)
    monkeypatch.setattr(words, "_days_of_stage", lambda *_: (np.nan, np.nan))
    asked = row(SOWN, 0.3)
    [text] = words._when_it_comes(report, Decision((asked,)), asked, "C")
    assert text.lower().startswith(f"{words._formed(name)} about ")


def test_why_a_date_fails_is_its_heading_and_then_its_cause(monkeypatch):
    asked = row(SOWN, 0.3)
    monkeypatch.setattr(words, "decide", lambda _: Decision((asked,)))
    monkeypatch.setattr(words.sentences, "main_failure", lambda _: "too hot for the curd")
    report = report_of(crop=COLE, evaluated=[None])
    assert words.reason_heading(report) == "Why 20 April fails: too hot for the curd"
    monkeypatch.setattr(words.sentences, "main_failure", lambda _: "")
    assert words.reason_heading(report) == "Why 20 April fails"


@pytest.mark.parametrize(("growth", "poor"), [(0.8, ""), (0.3, ", but a poor one")])
def test_a_perennial_gave_a_harvest_in_so_many_of_its_years(monkeypatch, growth, poor):
    lead = row(cw.Plan(cw.crop("apple"), "04-01"), 0.9, growth=growth)
    assert told_of(monkeypatch, lead) == f"Apples gave a harvest in 36 of 40 years{poor}."
