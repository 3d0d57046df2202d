"""The verdict: chosen by rule, at most eleven words, its numbers those of the odds."""

import re
from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest
import xarray as xr

import climwin as cw
from climwin.core.seasons import day_number
from climwin.crops.naming import harvest_verb, is_plural, plural
from climwin.report import decision as choosing
from climwin.report import sentences_decision as words
from climwin.report.decision import AS_GOOD, RELIABLE, Decision, Row, decide

CAULIFLOWER = "cauliflower"


def row(plan, share, *, best=False, asked=True, number=0, known=40, **given):
    """A row as it might come out, with a likely range of ten points to either side."""
    start = day_number(plan.start)
    values = {
        "first": start,
        "last": start,
        "harvest": (200.0, 210.0),
        "harvested": round(share * known),
        "low": max(share - 0.1, 0.0),
        "high": min(share + 0.1, 1.0),
        "crop": 1.0,
        "growth": 0.8,
        **given,
    }
    return Row(
        plan=plan,
        number=number,
        is_best=best,
        start=start,
        known=known,
        share=share,
        was_asked=asked,
        **values,
    )


@pytest.fixture(scope="module")
def plans():
    crop = cw.crop(CAULIFLOWER)
    return cw.Plan(crop, "03-05", 6, "cold frame"), cw.Plan(crop, "04-20")


def verdict_of(monkeypatch, report, rows):
    monkeypatch.setattr(words, "decide", lambda _: Decision(tuple(rows)))
    return words.verdict(report)


# --- which row leads ----------------------------------------------------------------------


def test_the_lead_is_as_good_as_the_best_of_all_rows(pellbrook):
    found = decide(pellbrook)
    most = max(found.rows, key=lambda each: each.share)
    assert found.lead.share >= min(most.low, most.share)
    assert len(found.asked) == len(pellbrook.plans)


def test_asked_dates_keep_the_counts_of_their_plan(pellbrook):
    for each in decide(pellbrook).asked:
        odds = pellbrook.odds[each.number]
        assert (each.harvested, each.known) == (int(odds["harvested"]), int(odds["known"]))
        assert each.low <= each.share <= each.high


def test_best_dates_are_judged_on_years_that_did_not_choose_them(pellbrook):
    best = [each for each in decide(pellbrook).rows if not each.was_asked]
    assert best
    for each in best:
        spans = pellbrook.recommended[each.number]
        shares = [float(share) for share in spans["elsewhere_share"].values]
        assert any(each.share == pytest.approx(share) for share in shares)
        assert each.harvested <= each.known


def test_a_date_among_the_best_leads_by_itself(pellbrook):
    span = pellbrook.recommended[1].isel(span=0)
    plan = cw.Plan(pellbrook.crop, cw_day(int(span["best_day"])))
    report = cw.garden_report(pellbrook.garden, pellbrook.daily, plans=[plan])
    found = decide(report)
    assert len(found.rows) == 1
    assert found.lead.was_asked


def cw_day(day):
    from climwin.core.seasons import day_name

    return day_name(day)


def test_garlic_in_april_is_not_called_a_good_time(albany):
    # A harvest in most years, but of small bulbs: growers there plant in October.
    garden = cw.Garden("Albany", 42.75, -73.8)
    plan = cw.Plan(cw.crop("garlic"), "04-10")
    report = cw.garden_report(garden, albany, plans=[plan])
    assert float(report.odds[0]["share"]) > RELIABLE
    lead = decide(report).lead
    assert not lead.was_asked
    assert words.verdict(report) == "Plant garlic in mid-October, not on 10 April"
    assert report.swept[0]["growth"].sel(start_day=100) < AS_GOOD * lead.growth


# --- the verdict's patterns ---------------------------------------------------------------


def test_a_better_date_is_named_and_so_is_the_one_that_fails(pellbrook):
    text = words.verdict(pellbrook)
    lead = decide(pellbrook).lead
    month = words.part_of_month(lead.start)
    assert text == f"Sow cauliflower outdoors in {month}, not on 20 April"


def test_few_harvests_are_a_gamble(monkeypatch, pellbrook, plans):
    text = verdict_of(monkeypatch, pellbrook, [row(plans[1], 0.3)])
    assert text == "Cauliflower is a gamble here: at best 12 of 40 years"


@pytest.mark.parametrize(
    ("share", "text"),
    [
        (0.15, "Cauliflower seldom crops here: at best 6 of 40 years"),
        (0.025, "Cauliflower almost never crops here: at best 1 of 40 years"),
    ],
)
def test_hardly_any_harvest_is_no_gamble(monkeypatch, pellbrook, plans, share, text):
    assert verdict_of(monkeypatch, pellbrook, [row(plans[1], share)]) == text


def test_where_plants_were_raised_too_it_is_the_open_ground_that_gives_nothing(
    monkeypatch, pellbrook, plans
):
    rows = [row(plans[0], 0.0), row(plans[1], 0.0)]
    assert verdict_of(monkeypatch, pellbrook, rows) == "Do not count on cauliflower outdoors here"
    assert words.numbers_behind(pellbrook) == (
        "In 40 years no date gave a harvest outdoors, not even for plants raised in a cold frame."
    )


def test_no_harvest_at_all_is_said_so(monkeypatch, pellbrook, plans):
    rows = [row(plans[1], 0.0)]
    assert verdict_of(monkeypatch, pellbrook, rows) == "Do not count on cauliflower here"
    assert words.numbers_behind(pellbrook) == "In 40 years no date gave a harvest outdoors."


@pytest.mark.parametrize(
    ("share", "loss"),
    [
        (0.75, "one year in four fails"),
        (0.67, "one year in three fails"),
        (0.6, "two years in five fail"),
        (0.52, "about half the years fail"),
    ],
)
def test_what_fails_often_says_how_often(monkeypatch, pellbrook, plans, share, loss):
    text = verdict_of(monkeypatch, pellbrook, [row(plans[1], share)])
    assert text == f"Sow cauliflower on 20 April; {loss}"


def test_few_years_say_no_more(monkeypatch, pellbrook, plans):
    text = verdict_of(monkeypatch, pellbrook, [row(plans[1], 0.9, known=7)])
    assert text == "Too little history to say: 7 years"


def test_a_cover_that_gains_nothing_is_said_to(monkeypatch, pellbrook, plans):
    rows = [row(plans[1], 0.95, number=1), row(plans[0], 0.95)]
    text = verdict_of(monkeypatch, pellbrook, rows)
    assert text == "Sow cauliflower outdoors on 20 April; a cold frame gains nothing"


def test_what_the_gardeners_own_space_does_is_always_said(monkeypatch, pellbrook, plans):
    daily = cw.read_daily(cw.sample())
    frame = cw.fit_cover(cw.read_logger(cw.sample("frame_logger.csv")), daily, name="frame")
    own = cw.Plan(plans[1].crop, "03-05", 8, "frame", space=frame)
    rows = [row(plans[1], 0.95), row(plans[0], 0.9, number=1), row(own, 0.5, number=2)]
    verdict_of(monkeypatch, pellbrook, rows)
    said = "Sown in a frame on 5 March, 8 weeks under cover, set out about 30 April: 20 of 40."
    assert words.numbers_behind(pellbrook).endswith(said)
    rows = [row(plans[1], 0.95), row(own, 0.9, number=1)]  # it is the other way already
    verdict_of(monkeypatch, pellbrook, rows)
    assert "weeks under cover" not in words.numbers_behind(pellbrook)


@pytest.mark.parametrize("name", cw.crop_names())
@pytest.mark.parametrize("share", [0.0, 0.3, 0.6, 0.9])
def test_no_verdict_has_more_than_eleven_words(monkeypatch, pellbrook, name, share):
    crop = cw.crop(name)
    if crop.is_perennial:
        ways = [cw.Plan(crop, "01-01")]
    else:
        ways = [cw.Plan(crop, "03-28", 6, "unheated greenhouse"), cw.Plan(crop, "09-28")]
    report = replace(pellbrook, plans=tuple(ways))
    rows = [row(way, share, number=number) for number, way in enumerate(ways)]
    text = verdict_of(monkeypatch, report, rows)
    assert 3 <= words.words(text) <= words.MOST_WORDS
    assert text[0].isupper()
    assert not text.endswith(".")


# --- words --------------------------------------------------------------------------------


def test_the_numbers_behind_are_those_of_the_rows(pellbrook):
    found = decide(pellbrook)
    text = words.numbers_behind(pellbrook)
    assert f"a harvest in {found.lead.harvested} of {found.lead.known} years" in text
    asked = found.same_way_asked()
    assert f"on {words.on_day(asked.start)}, in {asked.harvested} of {asked.known}" in text
    assert len(text.split()) <= 40


def test_the_reason_is_that_of_the_date_that_fails(pellbrook):
    years = pellbrook.evaluated[1]
    failed = int((years["harvested"] == 0).sum())
    hot = int(((years["reason"] == "too hot") & (years["stage"] == "curd")).sum())
    assert 2 * hot >= failed
    assert words.reason_heading(pellbrook) == "Why 20 April fails: too hot for the curd"
    assert f"it failed in {failed} of" in words.reason(pellbrook)[0]


def test_the_larger_doubt_stands_beside_the_smaller(pellbrook):
    kinder, harsher = pellbrook.shorter_if_limits_off
    assert float(kinder["share"]) < float(pellbrook.shorter["share"]) < float(harsher["share"])
    grid = cw.sensitivity(pellbrook.daily, pellbrook.crop, pellbrook.need_days)
    corner = grid.sel(part=pellbrook.part)["share"]
    assert float(kinder["share"]) == float(corner.sel(low_shift=-2, high_shift=2))
    assert float(harsher["share"]) == float(corner.sel(low_shift=2, high_shift=-2))
    said = [100 * float(each["share"]) for each in (kinder, harsher)]
    text = words.limits_doubt(pellbrook, "C")
    assert [int(n) for n in re.findall(r"(\d+) %", text)] == [round(each) for each in said]


def test_two_ways_are_compared_by_their_places(pellbrook):
    compared = pellbrook.comparisons[0]
    text = words.ways_compared(*pellbrook.plans, compared)
    assert f"the cold frame alone gave a harvest in {int(compared['only_plan'])}" in text
    assert f"the open ground alone in {int(compared['only_other'])}" in text


def test_the_worst_doubt_comes_first_and_no_forecast_last(monkeypatch, pellbrook):
    text = words.worst_doubt(pellbrook, None, "C")
    assert text.startswith("It has grown warmer here")
    assert text.endswith("Past years are not a forecast.")
    monkeypatch.setattr(words, "caveats", lambda *_: ())
    assert words.worst_doubt(pellbrook, None, "C").startswith("Past years are not a forecast.")


def test_every_crop_has_a_name_and_a_verb_that_agree():
    for name in cw.crop_names():
        crop = cw.crop(name)
        assert harvest_verb(crop) in ("cut", "lifted", "picked", "pulled", "harvested")
        assert is_plural(crop) or plural(crop) == name
    assert plural(cw.crop("tomato")) == "tomatoes"
    assert plural(replace(cw.crop("pea"), name="our pea")) == "our pea"


def spell_against_need(lengths, harvested, need=60, crop="cauliflower"):
    """What is said of years of such mild spells, with a harvest or without."""
    season = 2000 + np.arange(len(lengths))
    report = SimpleNamespace(
        crop=cw.crop(crop),
        part="rise",
        need_days=need,
        median_length=float(np.median(lengths)),
        evaluated=[xr.Dataset({"harvested": ("season", harvested)}, {"season": season})],
        window=xr.Dataset({"length": ("season", lengths)}, {"season": season}),
    )
    return words._spell_against_need(report)


def test_a_harvest_in_a_short_spell_is_explained_and_so_is_none_in_a_long_one():
    short = spell_against_need([70.0, 40.0], [1.0, 1.0])
    assert re.search(r"too cold or too hot, so a year can succeed", short[1])
    long = spell_against_need([70.0, 40.0], [0.0, 0.0])
    assert re.search(r"no promise", long[1])
    assert re.search(r"cold nights and hot days", long[1])
    assert len(spell_against_need([70.0, 40.0], [1.0, 0.0])) == 1
    assert "9 weeks" in short[0]  # the need of 60 days
    assert re.search(r"typical year lasts 8 weeks", short[0])


@pytest.mark.parametrize(
    ("shorter", "known", "said"),
    [
        (0, 40, "long enough in all 40 years"),
        (12, 40, "long enough in 28 of 40 years"),
        (20, 40, "long enough in 20 of 40 years"),
        (21, 40, "too short in 21 of 40 years"),
        (0, 0, "too many gaps"),
    ],
)
def test_the_finding_on_the_spell_takes_the_side_that_most_years_take(shorter, known, said):
    found = xr.Dataset({"shorter": shorter, "known": known})
    text = words.spell_finding(SimpleNamespace(shorter=found, part="rise"))
    assert said in text
    assert text.startswith("Spring's mild spell")


def numbers_of(monkeypatch, report, rows):
    monkeypatch.setattr(words, "decide", lambda _: Decision(tuple(rows)))
    return words.numbers_behind(report)


@pytest.mark.parametrize(("share", "smaller"), [(0.95, True), (0.4, False)])
def test_a_date_that_does_as_well_but_was_not_chosen_gives_less(
    monkeypatch, pellbrook, plans, share, smaller
):
    best = row(replace(plans[1], start="06-09"), 0.95, best=True, asked=False)
    text = numbers_of(monkeypatch, pellbrook, [best, row(plans[1], share)])
    assert "about 9 June, cauliflower gave a harvest in 38 of 40" in text
    assert f"on 20 April, in {round(40 * share)} of 40" in text
    assert ("smaller" in text) is smaller


def test_a_date_that_was_asked_and_leads_is_a_good_time(monkeypatch, pellbrook, plans):
    lead = row(plans[1], 0.95)
    texts = words._advice(Decision((lead,)), "cauliflower")
    assert "20 April is a good time to sow cauliflower" in texts
    assert "Sow cauliflower on 20 April" in texts


def test_a_perennials_row_has_no_date_of_its_own():
    apple = cw.Plan(cw.crop("apple"), "04-01")
    lead = row(apple, 0.9)
    assert words.row_name(Decision((lead,)), lead).lower() == apple.name.lower()


# --- rows that nobody asked for -----------------------------------------------------------


def test_the_other_way_is_the_best_of_another_plan(plans):
    lead, same = row(plans[0], 0.9, number=0), row(plans[0], 0.8, number=0, asked=False)
    poor, good = row(plans[1], 0.4, number=1), row(plans[1], 0.7, number=2)
    assert Decision((lead, same, poor, good)).other_way() is good
    assert Decision((lead, same)).other_way() is None


def chosen_rows(monkeypatch, plans, spans, chosen_start="06-09"):
    chosen = row(replace(plans[1], start=chosen_start), 0.9, best=True)
    monkeypatch.setattr(choosing, "_chosen", lambda *_: chosen)
    first = row(replace(plans[1], start="04-20"), 0.85, first=100, last=125)
    monkeypatch.setattr(choosing, "_row_of_span", lambda *_: first)
    report = SimpleNamespace(recommended=[spans])
    return choosing._rows_of_chosen(report, chosen, chosen), chosen


def spans_of(*crops):
    return xr.Dataset(
        {"expected_crop": ("span", list(crops)), "growth": ("span", [0.8] * len(crops))}
    )


def test_the_first_season_that_suits_leads_where_nobody_asked(monkeypatch, plans):
    rows, chosen = chosen_rows(monkeypatch, plans, spans_of(0.98, 1.0))
    assert [each.is_first_season for each in rows] == [True, False]
    assert rows[1] is chosen
    inside, chosen = chosen_rows(monkeypatch, plans, spans_of(0.98, 1.0), "04-25")
    assert inside == [chosen]
    for none in (None, spans_of()):
        rows, chosen = chosen_rows(monkeypatch, plans, none)
        assert rows == [chosen]


@pytest.mark.parametrize(
    ("part", "said"), [("rise", "spring's"), ("fall", "autumn's"), ("longest", "longest")]
)
def test_the_spell_is_that_of_its_season(part, said):
    assert said in words.spell_of(SimpleNamespace(part=part))


@pytest.mark.parametrize(
    ("cover", "said"),
    [
        ("cold frame", "a cold frame gains nothing"),
        ("room with lights", "a start indoors gains nothing"),
    ],
)
def test_a_start_under_cover_that_does_as_well_gains_nothing(plans, cover, said):
    raised = replace(plans[0], cover=cover)
    rows = (row(plans[1], 0.9, number=1), row(raised, 0.9, number=0))
    assert words._beside_it(Decision(rows)) == [f"; {said}"]
    worse = (row(plans[1], 0.9, number=1), row(raised, 0.3, number=0))
    assert words._beside_it(Decision(worse))[0].startswith(", not ")
