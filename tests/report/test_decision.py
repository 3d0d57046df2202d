"""The verdict: chosen by rule, at most eleven words, its numbers those of the odds."""

import datetime as dt
import re
from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest
import xarray as xr
from agreement.records import RECORDS
from report.verdicts import garden_at
from scipy import stats

import climwin as cw
from climwin.core.seasons import day_name, day_number
from climwin.planning.growth import REASONS
from climwin.report import decision as choosing
from climwin.report import sentences
from climwin.report import sentences_decision as words
from climwin.report.decision import AS_GOOD, RELIABLE, Decision, Row, decide
from climwin.report.sentences_caveats import OF_TODAY, doubts
from climwin.report.spells import spells

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


def test_asked_dates_keep_the_counts_of_their_plan_in_the_climate_that_leads(pellbrook):
    moved = cw.todays_climate(pellbrook.daily)
    for each in decide(pellbrook).asked:
        odds = cw.harvest_odds(cw.evaluate_plan(pellbrook.plans[each.number], moved))
        assert (each.harvested, each.known) == (int(odds["harvested"]), int(odds["known"]))
        assert each.low <= each.share <= each.high


def test_asked_and_best_dates_are_judged_in_one_climate(pellbrook):
    # Each row's crop and odds are what a sweep of the moved years says of its own day: a date that
    # was asked and one that was found differ by the date alone.
    moved, counted = cw.todays_climate(pellbrook.daily), 0
    as_recorded = []
    for each in decide(pellbrook).rows:
        plan = replace(pellbrook.plans[each.number], earliness="early" if each.is_early else "main")
        at = cw.sweep_start_dates(plan, moved).sel(start_day=each.start)
        recorded = cw.sweep_start_dates(plan, pellbrook.daily).sel(start_day=each.start)
        assert each.growth == pytest.approx(float(at["growth"]))
        as_recorded.append(float(recorded["growth"]))
        if each.is_given:
            assert each.share == pytest.approx(float(at["share"]))
            counted += each.harvested != int(recorded["harvested"])
    assert counted  # else both climates would tell the same, and this would prove nothing
    assert as_recorded != [each.growth for each in decide(pellbrook).rows]


def test_a_way_that_was_asked_on_two_dates_has_its_best_dates_once(pellbrook):
    daily, garden = pellbrook.daily, pellbrook.garden
    plans = [cw.Plan(cw.crop(CAULIFLOWER), start) for start in ("04-20", "05-01")]
    rows = decide(cw.garden_report(garden, daily, plans=plans)).rows
    assert [row.is_best for row in rows] == [True, False, False]
    assert [day_name(row.start) for row in rows[1:]] == ["20 Apr", "1 May"]


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
    plan = cw.Plan(pellbrook.crop, day_name(int(span["best_day"])))
    report = cw.garden_report(pellbrook.garden, pellbrook.daily, plans=[plan])
    found = decide(report)
    assert len(found.rows) == 1
    assert found.lead.was_asked


def test_garlic_in_april_is_not_called_a_good_time(albany):
    # A harvest in most years, but of small bulbs: growers there plant in October.
    garden = cw.Garden("Albany", 42.75, -73.8)
    plan = cw.Plan(cw.crop("garlic"), "04-10")
    report = cw.garden_report(garden, albany, plans=[plan])
    assert float(report.ahead.odds[0]["share"]) > 0.7
    lead = decide(report).lead
    assert not lead.was_asked
    assert words.verdict(report) == "Plant garlic in mid-October, not on 10 April"
    assert report.ahead.swept[0]["growth"].sel(start_day=100) < AS_GOOD * lead.growth


IN_SEASON = [
    # Grown in spring before the heat, or again from late summer on; in July it bolts.
    ("FortDodge_IA", "lettuce", (3, 4, 5)),
    ("Clemson_SC", "lettuce", (2, 3, 8, 9)),
    # Planted in autumn: cloves that miss the winter make small bulbs.
    ("PrinceGeorge_BC", "garlic", (9, 10)),
    ("Dublin_IE", "garlic", (9, 10, 11, 12)),
    # In hot nights potatoes set no tubers.
    ("Merced_CA", "potato", (1, 2, 3)),
    ("Clemson_SC", "potato", (2, 3)),
]
"""Months in which growers of real places begin (common practice)."""


@pytest.mark.parametrize(("place", "name", "months"), IN_SEASON)
def test_the_dates_that_lead_are_those_of_the_place(place, name, months):
    if not RECORDS.is_dir():
        pytest.skip("no records beside the repository")
    daily = cw.read_daily(RECORDS / f"{place}.csv").sel(time=slice("1980", "2015"))
    report = cw.garden_report(garden_at(place), daily, crop=cw.crop(name))
    lead = decide(report).lead
    assert dt.date.fromordinal(lead.start).month in months
    assert lead.share >= RELIABLE


def test_tomatoes_of_a_cool_place_are_raised_and_safely_so():
    if not RECORDS.is_dir():
        pytest.skip("no records beside the repository")
    daily = cw.read_daily(RECORDS / "Brussels_BE.csv")
    report = cw.garden_report(garden_at("Brussels_BE"), daily, crop=cw.crop("tomato"))
    lead = decide(report).lead
    assert lead.plan.weeks_under_cover
    assert lead.share >= 0.9  # not the largest crop, which frost takes in one year of five
    assert "outdoors" not in words.verdict(report)
    # Where the open ground does as well, it is with an early variety, and that is said.
    assert "an early variety" in words.numbers_behind(report)


def test_an_early_variety_is_named(monkeypatch, pellbrook, plans):
    rows = (row(plans[1], 0.9, best=True, is_early=True), row(plans[0], 0.85, number=1))
    monkeypatch.setattr(words, "decide", lambda _: Decision(rows))
    assert ", early cauliflower gave a harvest in 36 of 40 years" in words.numbers_behind(pellbrook)


def test_a_smaller_crop_of_another_way_is_said(monkeypatch, pellbrook, plans):
    lead = row(plans[0], 0.9, yield_index=1000.0)
    for other, smaller in ((700.0, True), (800.0, False)):
        rows = (lead, row(plans[1], 0.9, number=1, yield_index=other))
        monkeypatch.setattr(words, "decide", lambda _, rows=rows: Decision(rows))
        assert ("but a smaller crop" in words.numbers_behind(pellbrook)) is smaller
        assert rows[1].does_as_well_as(lead) is not smaller


# --- the verdict's patterns ---------------------------------------------------------------


@pytest.mark.parametrize(
    ("growth", "text"),
    [(0.39, "Sow cauliflower on 20 April; expect a poor harvest"), (0.4, None)],
)
def test_a_harvest_that_hardly_grows_is_called_poor(monkeypatch, pellbrook, plans, growth, text):
    # Two thirds of what is called good: 0.6.
    rows = [row(plans[1], 0.95, growth=growth)]
    found = verdict_of(monkeypatch, pellbrook, rows)
    assert (found == text) is (text is not None)
    assert ("poor" in found) is (text is not None)
    assert ("years, but a poor one." in words.numbers_behind(pellbrook)) is (text is not None)


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
        "In 40 years no main variety gave a harvest outdoors, whatever the date, even if raised in "
        "a cold frame."
    )


def test_no_harvest_at_all_is_said_so(monkeypatch, pellbrook, plans):
    rows = [row(plans[1], 0.0)]
    assert verdict_of(monkeypatch, pellbrook, rows) == "Do not count on cauliflower here"
    said = "In 40 years no main variety gave a harvest outdoors, whatever the date."
    assert words.numbers_behind(pellbrook) == said
    early = replace(plans[1], earliness="early")
    verdict_of(monkeypatch, pellbrook, [row(early, 0.0)])
    said = "In 40 years none gave a harvest outdoors, whatever the date."
    assert words.numbers_behind(pellbrook) == said


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


def test_a_cover_that_gains_little_is_said_to(monkeypatch, pellbrook, plans):
    rows = [row(plans[1], 0.95, number=1), row(plans[0], 0.95)]
    text = verdict_of(monkeypatch, pellbrook, rows)
    assert text == "Sow cauliflower outdoors on 20 April; a cold frame gains little"


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
    years = pellbrook.ahead.evaluated[1]
    failed = int((years["harvested"] == 0).sum())
    hot = int(((years["reason"] == "too hot") & (years["stage"] == "curd")).sum())
    assert 2 * hot >= failed
    assert words.reason_heading(pellbrook) == "Why 20 April fails: too hot for the curd"
    assert f"it failed in {failed} of" in words.reason(pellbrook)[0]


def usual_mean(report, begin, end):
    """Mean from one day of the year to another, over all years, by pandas alone."""
    series = report.ahead.daily["tmean"].to_series()
    return series[series.index.day_of_year.isin(range(round(begin), round(end)))].mean()


def test_the_reason_says_when_the_heat_meets_the_crop_and_when_it_does_not(pellbrook):
    years = pellbrook.ahead.evaluated[1]
    failed = years.isel(season=((years["reason"] == "too hot") & (years["stage"] == "curd")).values)
    begins = failed["stage_begin"].sel(stage_name="curd").to_series().dropna()
    came = begins.dt.day_of_year.median()
    there = pellbrook.timetables[1].sel(event="curd")
    lasted = float(there["end_day"] - there["begin_day"])
    lead = decide(pellbrook).lead
    later = pellbrook.dates_at(lead.number, words.day_name(lead.start)).sel(event="curd")
    comes, ends = float(later["begin_day"]), float(later["end_day"])
    _, first, second, *_ = words.reason(pellbrook)
    at = re.fullmatch(r"The curd formed about (\d+ \w+), in days with a mean of (\d+) °C\.", first)
    assert abs(day_number(at[1]) - came) <= 1  # leap years
    assert abs(int(at[2]) - usual_mean(pellbrook, came, came + lasted)) < 1
    then = re.search(r"it forms about (\d+ \w+), at (\d+) °C\.", second)
    assert abs(day_number(then[1]) - comes) <= 1
    assert abs(int(then[2]) - usual_mean(pellbrook, comes, ends)) < 1
    assert int(then[2]) < int(at[2])  # else the later date would be no reason


def test_a_spell_that_is_long_enough_is_no_reason(pellbrook):
    texts = " ".join(words.reason(pellbrook))
    enough = pellbrook.median_length >= pellbrook.needs[1]
    assert enough
    assert " but " not in texts
    long = replace(pellbrook, given_need_days=round(pellbrook.median_length) + 60)
    assert "but the longest mild spell lasts only" in " ".join(words.reason(long))


def test_what_does_well_is_not_headed_by_what_it_lacks(albany):
    # Potatoes at a place whose summers are hot: no spell is long enough, nearly all years crop.
    garden = cw.Garden("Albany", 42.75, -73.8)
    report = cw.garden_report(garden, albany, crop=cw.crop("potato"), need_days=300)
    assert decide(report).lead.share > RELIABLE
    assert int(report.shorter["shorter"]) > int(report.shorter["known"]) / 2
    assert words.reason_heading(report) == "Potatoes do well without an unbroken mild spell"
    assert words.reason(report)[-1].startswith("They put up with some days too cold or too hot")


def test_of_a_crop_that_never_ripens_the_kindest_date_is_explained(pellbrook):
    cold = pellbrook.daily[["tmin", "tmax", "tmean"]] - 9.0
    cold = cold.assign_attrs(pellbrook.daily.attrs)
    report = cw.garden_report(pellbrook.garden, cold, crop=cw.crop("tomato"))
    found = decide(report)
    assert not found.most.harvested
    heading, [text] = words.reason_heading(report), words.reason(report)
    assert heading.startswith("Why they fail: ")
    assert text.startswith("Even sown ")
    assert "they failed in every year" in text
    assert heading.removeprefix("Why they fail: ") not in text  # said once
    assert not words.shows_spells(report)  # nobody knows how many days it would need


@pytest.mark.parametrize("listed", REASONS)
def test_every_reason_is_said_in_words_that_fit_a_count(listed):
    said = sentences.reason_in_words(listed)
    assert ":" not in said
    assert said[0].islower()


def test_the_larger_doubt_stands_beside_the_smaller(pellbrook):
    kinder, harsher = pellbrook.shorter_if_limits_off
    assert float(kinder["share"]) < float(pellbrook.shorter["share"]) < float(harsher["share"])
    grid = cw.sensitivity(pellbrook.daily, pellbrook.crop, pellbrook.need_days)
    corner = grid.sel(part=pellbrook.part)["share"]
    assert float(kinder["share"]) == float(corner.sel(low_shift=-2, high_shift=2))
    assert float(harsher["share"]) == float(corner.sel(low_shift=2, high_shift=-2))
    text = words.limits_doubt(pellbrook, "C")
    if int(kinder["known"]) == int(harsher["known"]):
        said = [int(kinder["shorter"]), int(harsher["shorter"]), int(kinder["known"])]
        found = re.search(r"in (\d+) to (\d+) of (\d+) years", text)
    else:
        said = [round(100 * float(each["share"])) for each in (kinder, harsher)]
        found = re.search(r"in (\d+) % to (\d+) % of the years", text)
    assert [int(n) for n in found.groups()] == said


def test_two_ways_are_compared_by_their_places(pellbrook):
    compared = pellbrook.comparisons[0]
    text = words.ways_compared(*pellbrook.plans, compared)
    assert f"the cold frame alone gave a harvest in {int(compared['only_plan'])}" in text
    assert f"the open ground alone in {int(compared['only_other'])}" in text


def test_ways_that_never_differ_are_said_to_do_alike():
    pea = cw.crop("pea")
    early, late = cw.Plan(pea, "03-20"), cw.Plan(pea, "04-10")
    frame = cw.Plan(pea, "03-01", 4, "cold frame")
    counts = {"known": 30, "only_plan": 0, "only_other": 0, "low": 0.0, "high": 0.0}

    def said(first, second, plans=(), **more):
        return words.ways_compared(first, second, xr.Dataset(counts | more), plans)

    assert said(frame, early, both=30, neither=0) == (
        "The cold frame and the open ground: both gave a harvest in the same 30 of 30 years."
    )
    assert said(early, late, both=0, neither=30) == (
        "Sowing outdoors on 20 March and sowing outdoors on 10 April: neither gave a harvest in "
        "any of 30 years."
    )
    # Beside a third way of the same place, a way is named by its date.
    assert "sowing outdoors on 10 April" in said(
        frame, late, (frame, early, late), both=9, neither=21
    )


def test_the_worst_doubt_comes_first_and_no_forecast_last(monkeypatch, pellbrook):
    text = words.worst_doubt(pellbrook, None, "C")
    assert text.startswith("It has grown warmer here")
    assert text.endswith("Past years are not a forecast.")
    monkeypatch.setattr(words, "doubts", lambda *_: ())
    assert words.worst_doubt(pellbrook, None, "C").startswith("Past years are not a forecast.")


def test_which_climate_is_told_of_is_no_doubt(pellbrook):
    told = cw.caveats(pellbrook)
    note = next(text for text in told if text.startswith(OF_TODAY))
    assert doubts(pellbrook, None, "C") == tuple(text for text in told if text != note)


def test_a_doubt_in_brief_leaves_out_brackets_and_a_third_sentence(monkeypatch, pellbrook):
    told = ("The nights are 1 °C colder (a drift would fit). Check it. Ask. ",)
    monkeypatch.setattr(words, "doubts", lambda *_: told)
    assert words.worst_doubt(pellbrook, None, "C") == (
        "The nights are 1 °C colder. Check it. Past years are not a forecast."
    )


def test_a_doubt_in_brief_does_not_end_at_a_name_with_a_point(monkeypatch, pellbrook):
    told = ("Against St. Mary and J. Hill the nights are 1 °C too cold. Check it. Ask.",)
    monkeypatch.setattr(words, "doubts", lambda *_: told)
    assert words.worst_doubt(pellbrook, None, "C") == (
        "Against St. Mary and J. Hill the nights are 1 °C too cold. Check it. Past years are not a "
        "forecast."
    )


def test_a_column_of_dates_that_no_row_has_is_left_out(pellbrook):
    rows = decide(pellbrook).rows
    heads, dates = words.columns_of_dates(pellbrook, rows)
    assert heads == ["Sown", "Set out", "Cut from"]
    outdoors = [each for each in rows if not each.plan.weeks_under_cover]
    heads, dates = words.columns_of_dates(pellbrook, outdoors)
    assert heads == ["Sown", "Cut from"]
    assert all(len(each) == 2 and all(date for date, _ in each) for each in dates)


def spell_against_need(plan, lengths, harvested, need=60, share=0.5, *, failing=False):
    """What is said of years of such mild spells, with a harvest or without."""
    season = 2000 + np.arange(len(lengths))
    report = SimpleNamespace(
        crop=plan.crop,
        part="rise",
        given_need_days=None,
        needs=[need],
        need_days=need,
        median_length=float(np.median(lengths)),
        evaluated=[xr.Dataset({"harvested": ("season", harvested)}, {"season": season})],
        window=xr.Dataset({"length": ("season", lengths)}, {"season": season}),
    )
    asked = row(plan, share)
    return words._spell_against_need(report, Decision((asked,)), asked, is_failing=failing)


def test_harvests_in_short_spells_are_explained(plans):
    short = spell_against_need(plans[1], [70.0, 40.0], [1.0, 1.0])
    assert "9 weeks" in short[0]  # the need of 60 days
    assert re.search(r"lasts 8 weeks in a typical year", short[0])
    assert re.search(r"too cold or too hot, so a year can succeed", short[1])
    # None of the short springs gave a harvest: there is nothing to explain.
    assert len(spell_against_need(plans[1], [70.0, 40.0], [1.0, 0.0])) == 1


def test_too_short_a_spell_is_a_reason_and_a_long_one_is_none(monkeypatch, plans):
    (short,) = spell_against_need(plans[1], [40.0, 40.0], [0.0, 0.0], failing=True)
    assert re.search(r"but .* lasts only 6 weeks", short)
    for by_its_date in (True, False):
        monkeypatch.setattr(words, "_fails_by_its_date", lambda *_, said=by_its_date: said)
        (long,) = spell_against_need(plans[1], [90.0, 90.0], [0.0, 0.0], failing=True)
        assert "but" not in long.split()
        assert re.search(r"and .* lasts 13 weeks", long)
        assert ("It is mild for long enough here" in long) is by_its_date


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
def test_the_finding_on_the_spell_takes_the_side_that_most_years_take(
    monkeypatch, plans, shorter, known, said
):
    report = SimpleNamespace(part="rise", crop=plans[1].crop)
    monkeypatch.setattr(words, "_spells_of_lead", lambda _: (known, shorter))
    monkeypatch.setattr(words, "decide", lambda _: Decision((row(plans[1], 0.5),)))
    text = words.spell_finding(report)
    assert said in text
    assert text.startswith("Spring's mild spell")
    # A crop that does well all the same is not said to want what it lacks.
    monkeypatch.setattr(words, "decide", lambda _: Decision((row(plans[1], 0.9),)))
    assert ("too short" in words.spell_finding(report)) is False


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


@pytest.mark.parametrize(("growth", "end"), [(0.8, "."), (0.1, ", but a poor one.")])
def test_a_perennials_numbers_are_its_harvests_of_its_known_years(monkeypatch, growth, end):
    apple = cw.crop("apple")
    lead = row(cw.Plan(apple, "04-01"), 0.9, known=30, growth=growth)
    monkeypatch.setattr(words, "decide", lambda _: Decision((lead,)))
    said = words.numbers_behind(SimpleNamespace(crop=apple))
    assert (
        said.replace("\N{NO-BREAK SPACE}", " ") == f"Apples gave a harvest in 27 of 30 years{end}"
    )


def test_a_way_is_told_by_its_date_only_where_another_is_at_the_same_place(plans):
    raised, sown = plans
    assert words.way_of(sown, plans) == "sown outdoors"
    later = replace(sown, start="05-20")
    for plan, other in ((sown, later), (later, sown)):
        named = words.way_of(plan, (*plans, later))
        assert named == plan.name
        assert named != words.way_of(other, (*plans, later))
    assert words.way_of(raised, (*plans, later)) == "sown in a cold frame"


# --- rows that nobody asked for -----------------------------------------------------------


def test_the_other_way_is_the_best_of_another_plan(plans):
    lead, same = row(plans[0], 0.9, number=0), row(plans[0], 0.8, number=0, asked=False)
    poor, good = row(plans[1], 0.4, number=1), row(plans[1], 0.7, number=2)
    assert Decision((lead, same, poor, good)).other_way() is good
    assert Decision((lead, same)).other_way() is None


def chosen_rows(monkeypatch, plans, spans, chosen_start="06-09", share=0.9):
    chosen = row(replace(plans[1], start=chosen_start), share, best=True)
    monkeypatch.setattr(choosing, "_chosen", lambda *_: chosen)
    first = row(replace(plans[1], start="04-20"), 0.85, first=100, last=125)
    monkeypatch.setattr(choosing, "_row_of_span", lambda *_: first)
    report = SimpleNamespace(recommended=[spans], crop=plans[1].crop)
    return choosing._rows_of_chosen(report, chosen, chosen), chosen


def spans_of(*crops):
    return xr.Dataset(
        {
            "crop_of_variety": ("span", list(crops)),
            "growth": ("span", [0.8] * len(crops)),
            "elsewhere_share": ("span", [0.85] * len(crops)),
            "first_day": ("span", [100 * (n + 1) for n in range(len(crops))]),
            "last_day": ("span", [100 * (n + 1) + 25 for n in range(len(crops))]),
        }
    )


def test_the_first_season_that_suits_leads_where_nobody_asked(monkeypatch, plans):
    rows, chosen = chosen_rows(monkeypatch, plans, spans_of(0.98, 1.0))
    assert [each.is_first_season for each in rows] == [True, False]
    assert rows[1] is chosen
    inside, chosen = chosen_rows(monkeypatch, plans, spans_of(0.98, 1.0), "04-25")
    assert inside == [replace(chosen, is_first_season=True)]
    safer, _ = chosen_rows(monkeypatch, plans, spans_of(0.98, 1.0), "04-25", share=0.4)
    assert len(safer) == 2
    for none in (None, spans_of()):
        rows, chosen = chosen_rows(monkeypatch, plans, none)
        assert rows == [chosen]


@pytest.mark.parametrize(
    ("part", "said"),
    [("rise", "spring's mild"), ("fall", "autumn's mild"), ("longest", "the longest mild")],
)
def test_the_spell_is_that_of_its_season(part, said):
    assert said in words.spell_of(SimpleNamespace(part=part))


@pytest.mark.parametrize(
    ("cover", "said"),
    [
        ("cold frame", "a cold frame gains little"),
        ("room with lights", "a start indoors gains little"),
    ],
)
def test_a_start_under_cover_that_does_as_well_gains_little(plans, cover, said):
    raised = replace(plans[0], cover=cover)
    rows = (row(plans[1], 0.9, number=1), row(raised, 0.9, number=0))
    assert words._beside_it(Decision(rows)) == [f"; {said}"]
    surer = (row(plans[1], 0.82, number=1), row(raised, 0.95, number=0))  # above 0.92
    said = said.replace("gains little", "is surer")
    assert words._beside_it(Decision(surer)) == [f"; {said}"]
    worse = (row(plans[1], 0.9, number=1), row(raised, 0.3, number=0))
    assert words._beside_it(Decision(worse))[0].startswith(", not ")


# --- how sure, and where no date works ----------------------------------------------------


def test_how_sure_begins_with_the_dates_that_lead(pellbrook):
    lead = decide(pellbrook).lead
    harvests, spell = words.how_sure(pellbrook)
    assert harvests.startswith(f"Sown outdoors about {words.on_day(lead.start)}, cauliflower is")
    assert f"From {lead.known} years of weather" in harvests
    assert f"{100 * lead.low:.0f} % to {100 * lead.high:.0f} %" in harvests
    assert spell == sentences.how_sure(pellbrook)  # both ways need as many days
    plans = [cw.Plan(pellbrook.crop, "05-05", 6, "cold frame"), cw.Plan(pellbrook.crop, "06-01")]
    report = cw.garden_report(pellbrook.garden, pellbrook.daily, plans=plans)
    whose = "Mild spells are counted here for cauliflower after 6 weeks under cover. "
    assert words.how_sure(report)[1] == whose + sentences.how_sure(report)


def test_the_next_ten_years_of_best_dates_are_those_of_their_own_counts(pellbrook):
    lead = decide(pellbrook).lead
    assert lead.is_best
    said = re.search(r"a harvest in (.*?) of the next ten years", words.how_sure(pellbrook)[0])[1]
    first, last = (int(each) for each in re.findall(r"\d+", f"{said} to {said}")[:2])
    # By SciPy: of ten years at the odds of these counts, which have a prior of Jeffreys.
    odds = stats.beta(lead.harvested + 0.5, lead.known - lead.harvested + 0.5)
    middle = stats.betabinom(10, *odds.args).interval(0.9)
    assert abs(first - middle[0]) <= 1
    assert abs(last - middle[1]) <= 1


def test_garlic_is_not_judged_by_a_mild_spell_that_cannot_hold_it(pellbrook):
    report = cw.garden_report(pellbrook.garden, pellbrook.daily, crop=cw.crop("garlic"))
    assert not words.shows_spells(report)
    assert "mild spell" not in " ".join(words.how_sure(report))
    assert words.limits_doubt(report, "C") == ""


@pytest.fixture(scope="module")
def too_cold(pellbrook):
    """Tomatoes in years nine degrees colder, where no date gives a harvest."""
    cold = pellbrook.daily[["tmin", "tmax", "tmean"]] - 9.0
    cold = cold.assign_attrs(pellbrook.daily.attrs)
    return cw.garden_report(pellbrook.garden, cold, crop=cw.crop("tomato"))


def test_where_no_date_works_none_is_told(too_cold):
    found = decide(too_cold)
    assert all(each.is_hopeless and not each.is_given for each in found.rows)
    _, dates = words.columns_of_dates(too_cold, found.rows)
    told = [
        *words.titles(too_cold),
        *(words.row_name(found, each) for each in found.rows),
        *words.how_sure(too_cold),
        *(text for row in dates for pair in row for text in pair),
    ]
    assert not [text for text in told if "Jan" in text or "your date" in text]
    assert [row[0] for row in dates] == [("any date", "")] * len(dates)
    assert "on any date" in words.how_sure(too_cold)[0]


def test_a_date_that_was_given_keeps_its_line_where_nothing_ripens(too_cold):
    plan = cw.Plan(cw.crop("tomato"), "05-10")
    report = cw.garden_report(too_cold.garden, too_cold.daily, plans=[plan])
    [only] = decide(report).rows
    assert only.is_given
    assert words.titles(report) == ["Sown outdoors 10 May"]


@pytest.mark.skipif(not RECORDS.is_dir(), reason="the shared records are not here")
def test_a_best_dates_reason_has_no_counts_that_its_line_has_not():
    daily = cw.read_daily(RECORDS / "SanDiego_CA.csv")
    report = cw.garden_report(cw.Garden("here", 32.734, -117.183), daily, crop=cw.crop("garlic"))
    lead = decide(report).lead
    assert lead.is_best
    assert "failed in" not in " ".join(words.reason(report))
    assert "winter too mild" in " ".join([words.reason_heading(report), *words.reason(report)])


@pytest.mark.skipif(not RECORDS.is_dir(), reason="the shared records are not here")
def test_it_has_none_where_the_lines_own_counts_are_others():
    daily = cw.read_daily(RECORDS / "Gainesville_FL.csv")
    report = cw.garden_report(cw.Garden("here", 29.7, -82.3), daily, crop=cw.crop("garlic"))
    lead = decide(report).lead
    assert lead.is_best
    assert report.odds[0]["harvested"] != lead.harvested  # the counts of the reason are others
    assert "failed in" not in " ".join(words.reason(report))


def test_the_heading_counts_the_spells_as_the_figure_does(pellbrook):
    zones = spells(pellbrook).counts
    known, short = words._spells_of_lead(pellbrook)
    assert known == sum(zones)
    assert short in (zones[0], zones[0] + zones[1])
    lead = decide(pellbrook).lead
    need = pellbrook.needs[lead.number]
    length = pellbrook.window["length_most"].values[spells(pellbrook).zone >= 0]
    assert short == int((length < need).sum())
