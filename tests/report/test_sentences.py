"""What sentences claim, and which way: a wrong word would belie the numbers that they are given."""

import re
from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest
import xarray as xr
from report.rows import report_of

import climwin as cw
from climwin.core.provenance import SCENARIO
from climwin.core.seasons import day_name, day_number
from climwin.core.status import OBSERVED, UNKNOWN
from climwin.core.wording import say
from climwin.planning.growth import COLD, GOOD_GROWTH, HOT, REASONS
from climwin.planning.spans import SEASONS
from climwin.report import sentences
from climwin.report import sentences_decision as decision
from climwin.shelter.covers import COVERS, Cover, Response


def numbers(text):
    return [int(each) for each in re.findall(r"\d+", text)]


def ds(**values):
    return xr.Dataset({name: ((), value) for name, value in values.items()})


def pairs(low, high):
    """Two ways in 39 years: no count twice."""
    counts = {"known": 39, "only_plan": 3, "only_other": 11, "both": 18, "neither": 7}
    return ds(**counts, low=low, high=high)


@pytest.fixture(scope="module")
def plans():
    crop = cw.crop("cauliflower")
    return cw.Plan(crop, "03-05", 6, "cold frame"), cw.Plan(crop, "04-20")


def evaluated(*years):
    """A plan's years: harvested, growth, reason, stage."""
    harvested, growth, reason, stage = zip(*years, strict=True)
    columns = {"harvested": harvested, "growth": growth, "reason": reason, "stage": stage}
    return xr.Dataset(
        {name: ("season", np.array(values)) for name, values in columns.items()},
        coords={"season": 2000 + np.arange(len(years))},
    )


# --- two ways -----------------------------------------------------------------------------


@pytest.mark.parametrize("compare", [sentences.comparison, decision.ways_compared])
def test_each_count_of_two_ways_stands_with_its_own(plans, compare):
    text = compare(*plans, pairs(-0.1, 0.2))
    assert re.search(r"same 39 years", text)
    alone = [int(n) for n in re.findall(r"alone (?:gave a harvest )?in (\d+)", text)]
    assert alone == [3, 11]
    assert "both in 18" in text
    assert "neither in 7" in text
    first, second = text.index("alone"), text.rindex("alone")
    assert "cold frame" in text[:first]
    assert "cold frame" not in text[first:second]


@pytest.mark.parametrize(
    ("low", "high", "better"),
    [(0.05, 0.3, 0), (-0.3, -0.05, 1), (-0.1, 0.2, None), (0.0, 0.3, None), (-0.3, 0.0, None)],
)
def test_a_way_is_called_better_only_where_all_of_its_range_is(plans, low, high, better):
    text = sentences.comparison(*plans, pairs(low, high)).split("neither in 7")[1].lower()
    assert ("better" in text) is (better is not None)
    assert ("first" in text, "second" in text) == (better == 0, better == 1)
    text = decision.ways_compared(*plans, pairs(low, high)).split("neither in 7")[1].lower()
    assert ("better" in text) is (better is not None)
    assert ("cold frame" in text, "open ground" in text) == (better == 0, better == 1)
    if better is None:
        assert "too close to call" in text


# --- what became of a year ----------------------------------------------------------------


def test_a_year_is_what_its_harvest_growth_and_gaps_make_of_it():
    hot, cold = REASONS[HOT], REASONS[COLD]
    years = evaluated(
        (1.0, GOOD_GROWTH, "", ""),
        (1.0, GOOD_GROWTH - 0.01, "", ""),
        (0.0, np.nan, hot, "curd"),
        (0.0, np.nan, cold, "seedling"),
        (np.nan, np.nan, "", ""),
    )
    said = [sentences.outcome(years, year) for year in range(2000, 2006)]
    assert said[0].startswith("good")
    assert "good" not in said[1]
    assert said[2] == f"{hot} for the curd"
    assert said[3].startswith(cold)
    assert "seedling" in said[3]
    assert said[4:] == [UNKNOWN, ""]


def test_what_failed_comes_most_frequent_first_and_the_main_cause_has_half():
    hot, cold = REASONS[HOT], REASONS[COLD]
    none = (1.0, 0.8, "", "")
    years = evaluated((0.0, 0.0, cold, "a"), *[(0.0, 0.0, hot, "b")] * 2, none, none)
    assert sentences.failures_by_stage(years) == f"2 {hot} for the b, 1 {cold} at the a stage"
    assert sentences.main_failure(years) == f"{hot} for the b"
    even = evaluated((0.0, 0.0, cold, "a"), (0.0, 0.0, hot, "b"), (0.0, 0.0, hot, "c"))
    assert sentences.main_failure(even) == ""
    assert sentences.main_failure(evaluated(none)) == ""


def test_the_growth_is_that_of_the_years_with_a_harvest():
    assert sentences.growth(ds(growth=0.734)) == "0.73"
    assert sentences.growth(ds(growth=np.nan)) == "no harvest"
    odds = ds(good=21, harvested=33, known=39)
    assert numbers(sentences.good_years(odds)) == [21, 39]
    assert numbers(sentences.harvests(odds)) == [33, 39]


# --- what fails a plan --------------------------------------------------------------------


@pytest.mark.parametrize(
    ("crop", "said", "not_said"),
    [
        ("apple", ("winter kills", "too little winter cold", "flower buds"), ("bolts", "soil")),
        ("spinach", ("bolts", "soil is too cold"), ("fruit to set", "bulbs")),
        ("tomato", ("fruit to set", "not ripe"), ("bolts", "bulbs")),
        ("garlic", ("winter kills it, or is too mild",), ("fruit to set",)),
    ],
)
def test_a_plan_fails_by_the_rules_that_its_crop_has(crop, said, not_said):
    plan = cw.Plan(cw.crop(crop), "04-20")
    text = "; ".join(sentences.conditions(plan))
    assert [each for each in said if each not in text] == []
    assert [each for each in not_said if each in text] == []


def test_only_plants_raised_under_cover_can_die_under_it(plans):
    raised, sown = ("; ".join(sentences.conditions(plan)) for plan in plans)
    assert "under cover" in raised
    assert "under cover" not in sown
    assert "to come up" in sown


# --- dates and lengths --------------------------------------------------------------------


def test_a_harvest_after_the_year_is_of_the_next_one():
    assert sentences.harvest_span(200, 200) == "19 Jul"
    assert "next year" not in sentences.harvest_span(200, 210)
    assert sentences.harvest_span(360, 380).endswith("of the next year")


def test_a_spread_names_its_middle_and_both_ends():
    row = ds(begin_day=200.0, begin_first=190.0, begin_last=215.0)
    text = sentences.spread(row)
    assert text.startswith("19 Jul")
    assert "9 Jul to 3 Aug" in text
    assert "8 years out of 10" in text
    same = ds(begin_day=200.0, begin_first=200.0, begin_last=200.0)
    assert sentences.spread(same) == "19 Jul"
    assert sentences.spread(ds(begin_day=np.nan, begin_first=1.0, begin_last=2.0)) == ""


def test_days_outdoors_are_told_with_eight_years_of_ten():
    days = xr.Dataset({"days_outdoors": ("season", np.arange(40.0, 61.0))})
    text = sentences.days_outdoors(days)
    few, many = np.quantile(np.arange(40, 61), (0.1, 0.9), method="hazen")
    assert "7 weeks" in text or "50 days" in text
    assert numbers(text)[-4:] == [round(few), round(many), 8, 10]
    assert "(" not in sentences.days_outdoors(xr.Dataset({"days_outdoors": ("season", [50.0] * 9)}))


def test_a_length_that_gaps_hide_is_from_the_least_to_the_most():
    hidden = ds(status=UNKNOWN, length=np.nan, length_least=31, length_most=74)
    assert numbers(sentences.length(hidden)) == [31, 74]
    unmeasured = hidden.assign(length_least=0.0, length_most=365.0)
    assert sentences.length(unmeasured) == "unknown"
    known = ds(status=OBSERVED, length=44.0, length_least=44, length_most=44)
    assert sentences.length(known) == "44"


@pytest.mark.parametrize(
    ("slope", "p", "way", "clear"),
    [(3.0, 0.001, "longer", True), (-3.0, 0.001, "shorter", True), (3.0, 0.6, "longer", False)],
)
def test_a_trend_is_clear_or_chance_and_longer_or_shorter(slope, p, way, clear):
    text = sentences.drift(SimpleNamespace(shorter=ds(trend=slope, trend_p=p)))
    other = {"longer": "shorter", "shorter": "longer"}[way]
    assert f"3.0 days a decade {way}" in text
    assert other not in text
    assert text.startswith("No clear trend") is not clear
    assert (", no more than chance would bring." in text) is not clear


def test_no_trend_and_too_few_years_are_neither():
    flat = sentences.drift(SimpleNamespace(shorter=ds(trend=0.01, trend_p=0.9)))
    assert "neither longer nor shorter" in flat
    few = sentences.drift(SimpleNamespace(shorter=ds(trend=np.nan, trend_p=np.nan)))
    assert "too few" in few.lower()


# --- odds ---------------------------------------------------------------------------------


def test_the_next_ten_years_have_two_ends_or_one_or_none():
    assert sentences.next_years(ds(next_low=2.0, next_high=6.0)) == "2 to 6"
    assert sentences.next_years(ds(next_low=6.0, next_high=6.0)) == "6"
    assert "unknown" in sentences.next_years(ds(next_low=np.nan, next_high=np.nan))
    assert sentences.likely_next(ds(next_low=2.0, next_high=6.0)) == "likely 2 to 6 of the next ten"


def test_todays_climate_leads_and_the_record_follows():
    record, now = ds(next_low=5.0, next_high=8.0), ds(next_low=6.0, next_high=9.0)
    plans = [cw.Plan(cw.crop("pea"), "04-10")]
    report = SimpleNamespace(plans=plans, odds=[record], today=SimpleNamespace(odds=[now]))
    text = sentences.plan_ahead(report, 0)
    today, all_years = text.split(". ")
    assert "today" in today.lower()
    assert "a harvest from this date is likely" in today
    assert numbers(today) == [6, 9]
    assert "all years" in all_years.lower()
    assert numbers(all_years) == [5, 8]
    same = SimpleNamespace(plans=plans, odds=[now], today=SimpleNamespace(odds=[now]))
    assert "the same" in sentences.plan_ahead(same, 0)
    alone = SimpleNamespace(plans=plans, odds=[record], today=None)
    text = sentences.plan_ahead(alone, 0)
    assert text.startswith("A harvest from this date is likely")
    assert "today" not in text.lower()
    assert numbers(text) == [5, 8]
    assert text.endswith(" of the next ten years.")
    assert today.endswith(" of the next ten years")
    alone.plans = [cw.Plan(cw.crop("apple"), "04-10")]
    assert sentences.plan_ahead(alone, 0).startswith("A harvest is likely in 5 to 8 of the next")


@pytest.mark.parametrize(
    ("next_low", "said"),
    [
        (5.0, "Counting all years alike gives 5 to 9."),
        (6.0, "Counting all years alike gives the same."),
    ],
)
def test_what_all_years_say_of_short_spells_is_the_same_or_has_its_own_range(next_low, said):
    counts = {"known": 39, "unknown": 0, "leaning": 0, "low": 0.6, "high": 0.8, "next_high": 9.0}
    today, record = (ds(**counts, next_low=low) for low in (6.0, next_low))
    record = record.assign(low=0.2, high=0.4)
    text = sentences.how_sure(SimpleNamespace(shorter=record, shorter_today=today))
    assert "too short in today's climate is likely 60 % to 80 %" in text
    assert "20 %" not in text
    alone = sentences.how_sure(SimpleNamespace(shorter=record, shorter_today=None))
    assert "years too short is likely 20 % to 40 %" in alone
    assert "In today's climate the mild spell is likely to be too short in 6 to 9 of the" in text
    assert said in text


@pytest.mark.parametrize(
    ("cover", "named"), [("cold frame", ["A cold frame", "Fleece"]), ("fleece", ["Fleece"])]
)
def test_fleece_after_a_cover_is_told_and_after_fleece_it_is_not_told_twice(cover, named):
    plan = cw.Plan(cw.crop("cauliflower"), "03-05", 6, cover, fleece_weeks=3)
    text = sentences.cover_lift(plan, "C")
    assert re.findall(r"(A cold frame|Fleece) is taken", text) == named


def swept(share, first=100, last=120, elsewhere=0.83):
    day = np.arange(1, 366)
    best = (day >= first) & (day <= last)
    return xr.Dataset(
        {
            "share": ("start_day", np.where(best, share, 0.0)),
            "known": ("start_day", np.full(365, 40)),
            "yield_index": ("start_day", np.where(best, share, 0.0)),
            "expected_crop": ("start_day", np.where(best, share, 0.0)),
            "elsewhere_share": ((), elsewhere),
            "best_day": ((), 110.0),
            "best_first": ((), float(first)),
            "best_last": ((), float(last)),
        },
        coords={"start_day": day},
    )


def test_best_dates_carry_the_odds_of_the_years_left_out():
    text = sentences.best_dates(swept(0.95))
    wanted = "10 Apr to 30 Apr (about 20 Apr, a harvest in 83 % of the years that had no part"
    assert text.startswith(wanted)  # the odds are those of one date, not of all of them
    assert "95 %" not in text
    assert "no part in choosing" in text
    assert "no date" in sentences.best_dates(swept(0.0))


def span_of(**given):
    values = {
        "first_day": 100.0,
        "last_day": 120.0,
        "best_day": 110.0,
        "harvest_first": 190.0,
        "harvest_last": 215.0,
        "season": "spring",
        "earliness": "early",
        "early_days": 21,
        "best_for": "a summer harvest",
        "elsewhere_share": 0.83,
        "elsewhere_low": 0.71,
        "elsewhere_high": 0.92,
        "good_share": 0.55,
    }
    return ds(**values | given)


def test_a_recommended_span_has_each_number_in_its_place():
    text = sentences.recommended_span(span_of(), "planted")
    assert text.startswith("Spring: 10 Apr to 30 Apr (early")
    assert "about 20 Apr" in text
    assert re.search(r"in 83 % of the years that had no part .*\(likely 71 % to 92 %\)", text)
    assert "From that date a good one came in 55 % of all years" in text
    assert text.endswith("Best for a summer harvest.")
    assert "begins 9 Jul to 3 Aug" in text
    never = sentences.recommended_span(span_of(harvest_first=np.nan), "sown")
    assert "begins" not in never
    mixed = sentences.recommended_span(span_of(earliness="main", early_days=5), "sown")
    assert "(main varieties; on 5 of these 21 days early ones are safer)" in mixed
    early = sentences.recommended_span(span_of(early_days=15), "sown")
    assert "(early varieties; on 6 of these 21 days main ones do as well)" in early
    main = sentences.recommended_span(span_of(earliness="main", early_days=0), "sown")
    assert "(main varieties)" in main


def test_a_harvest_within_the_year_is_before_midwinter():
    """Of dates that the last of the seasons names, which is for a harvest beyond the year."""
    named = SEASONS[-1]
    texts = [
        sentences.recommended_span(span_of(season=named, harvest_last=last), "sown")
        for last in (215.0, 390.0)
    ]
    assert [text.partition(":")[0] for text in texts] == ["Before midwinter", named.capitalize()]


@pytest.mark.parametrize(
    ("label", "units", "begins"),
    [
        ("", "F", "The mild spell"),
        ("what if it were 2 degC warmer", "C", "What if it were 2 degC warmer: the mild spell"),
        ("what if it were 2 degC warmer", "F", "What if it were 3.6 degF warmer: the mild spell"),
        ("warmer by month, in degC: Jan +0.5", "F", "Warmer by month, in degC: Jan +0.5: the mild"),
    ],
)
def test_a_finding_of_another_weather_begins_with_it(monkeypatch, label, units, begins):
    daily = xr.Dataset(coords={SCENARIO: label}, attrs={SCENARIO: label}) if label else xr.Dataset()
    monkeypatch.setattr(sentences, "long_enough", lambda _: "The mild spell was long enough")
    assert sentences.finding(SimpleNamespace(daily=daily), units).startswith(begins)


# --- freezes ------------------------------------------------------------------------------


def freezes(low=110.0, high=125.0, days=(160.0, 131.0)):
    counts = {
        "last_spring_known": 39,
        "last_spring_frozen": 37,
        "first_autumn_known": 38,
        "first_autumn_frozen": 35,
    }
    return ds(**counts).assign(
        last_spring_low=("odds", [low, 1.0]),
        last_spring_high=("odds", [high, 1.0]),
        freeze_free_days=("odds", list(days)),
        last_spring=("odds", [117.0, 1.0]),
        first_autumn=("odds", [290.0, 1.0]),
    ).assign_coords(odds=[0.5, 0.9])  # fmt: skip


def test_years_with_a_freeze_are_told_by_season():
    text = sentences.freeze_note(freezes())
    assert text.startswith("Years with such a night: in spring ")
    spring, autumn = re.search(r"spring (\d+ of \d+).*autumn (\d+ of \d+)", text).groups()
    assert (spring, autumn) == ("37 of 39", "35 of 38")
    assert "the typical last one of spring is likely between 20 apr and 5 may" in text.lower()
    assert "likely" not in sentences.freeze_note(freezes(low=np.nan))


def test_days_without_a_freeze_are_half_and_nine_in_ten():
    text = sentences.frost_free_days(freezes())
    half, most = text.split(";")
    assert "half" in half.lower()
    assert numbers(half) == [160]
    assert "nine in ten" in most
    assert most.endswith(" or more.")
    assert numbers(most) == [131]
    assert "no such night" in sentences.frost_free_days(freezes(days=(np.nan, np.nan)))


def test_the_other_climate_is_named_as_what_it_is():
    def of(first, leading="today"):
        odds = freezes().assign(last_spring=("odds", [first, 1.0])).expand_dims("threshold")
        leads = {"spring freeze": leading}  # that of spring stands for both
        return SimpleNamespace(freeze_odds=odds, leading=leads.__getitem__)

    for leading, said, day in (("today", "as they were", "27 Apr"), ("record", "today", "17 Apr")):
        report = of(117.0, leading)
        report.today = of(107.0)
        text = sentences.freezes_in_other_climate(report)
        last = text.split(". ")[1]
        assert said in last.lower()
        assert f"{day} and 17 Oct" in last
    report.today = None
    assert sentences.freezes_in_other_climate(report) == ""


# --- covers -------------------------------------------------------------------------------


def test_a_cover_is_warmer_by_night_and_by_day_as_its_lines_are():
    crop = cw.crop("cauliflower")
    for name in ("cold frame", "unheated greenhouse"):
        cover = COVERS[name]
        text = sentences.cover_lift(cw.Plan(crop, "03-05", 6, name), "C")
        night, day = re.search(r"([\d.]+) °C warmer at night and ([\d.]+) °C by day", text).groups()
        assert float(night) == pytest.approx(cover.coldest.intercept_c, abs=0.5)
        assert float(day) == pytest.approx(cover.warmest.intercept_c, abs=0.5)
        assert "colder" not in text
    heated = sentences.cover_lift(cw.Plan(crop, "03-05", 6, "frost-free greenhouse"), "C")
    house = COVERS["frost-free greenhouse"]
    night, day = house.coldest.intercept_c, house.warmest.intercept_c
    assert heated.startswith(
        f"A frost-free greenhouse is taken to be {night:.0f} °C warmer at night and {day:.0f} °C "
        f"by day, and never colder than {house.floor_c:.0f} °C, with vents open on bright days "
        f"({house.source}). A thermometer inside yours will tell you more."
    )


def test_a_short_log_says_what_it_leaves_open_about_cold_nights():
    def told(*lows, days=30):
        lines = tuple(Response(intercept_c=low, slope=1.0) for low in lows)
        night = Response(intercept_c=3.0, spread_c=1.0, drawn=lines)
        space = Cover(name="shed", coldest=night, warmest=night, source="test", days=days)
        plan = cw.Plan(cw.crop("cauliflower"), "03-05", 6, "shed", space=space)
        return sentences.cover_lift(plan, "C")

    assert told(*np.linspace(1, 5, 41)).endswith(
        "is 3 °C inside. So short a log also allows 1 °C to 5 °C, so the odds of the earliest "
        "dates are less sure than they look. Let it run on."
    )
    assert told(*np.linspace(2.2, 3.8, 41)).endswith("is 3 °C inside.")
    assert told().endswith("is 3 °C inside.")


def test_a_bend_below_freezing_is_followed_in_what_a_night_is_inside():
    night = Response(intercept_c=5.0, slope=0.0, knee_c=-2.0, slope_above=1.0)
    space = Cover(name="shed", coldest=night, warmest=night, source="test", days=90)
    plan = cw.Plan(cw.crop("cauliflower"), "03-05", 6, "shed", space=space)
    assert "a night of 0 °C outdoors is 7 °C inside" in sentences.cover_lift(plan, "C")


def test_a_harvest_that_is_good_is_said_with_its_limit():
    assert (
        f"A harvest is called good if the temperatures allowed at least {GOOD_GROWTH:g} of full "
        "growth while the harvested part was forming (common practice)."
    ) == sentences.GOOD


# --- templates ----------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("name", "must", "must_not"),
    [
        ("plan_sown", "sown outdoors", "planted"),
        ("plan_planted", "planted", "sown"),
        ("plan_bought", "bought", "raised"),
        ("sown_outdoors", "sown outdoors", "planted"),
        ("planted_outdoors", "planted outdoors", "sown"),
        ("sown_under_fleece", "sown outdoors under fleece", "planted"),
        ("planted_under_fleece", "planted outdoors under fleece", "sown"),
        ("first_is_better", "first is the better", "second"),
        ("second_is_better", "second is the better", "first"),
        ("no_best_dates", "no date gives a harvest", "best"),
        ("no_harvest", "No year", "every"),
        ("few_years", "Fewer than ten", "more than"),
        ("never_so_likely", "not even", "always"),
    ],
)
def test_a_shared_template_says_what_its_name_says(name, must, must_not):
    text = say(name, start="5 Mar") if name.startswith("plan_") else say(name)
    assert must in text
    assert must_not not in text


def test_an_average_year_is_set_against_half_of_the_real_ones():
    text = say("average_window", count=80, median=61)
    assert re.search(r"average year suggests 80 days; half of .*had 61 or fewer", text)
    assert "no real year" in say("average_window_only", count=80)


def test_a_harvest_begins_in_the_middle_of_its_range():
    text = say("harvest_begins", middle="9 Jul", first="1 Jul", last="20 Jul")
    assert re.search(r"about 9 Jul.*eight years out of ten between 1 Jul and 20 Jul", text)


# --- how a spell and a harvest are both true ----------------------------------------------


def window_and_harvest(years, growth=(0.8, 0.7), crop="cauliflower", need=60, today=None):
    """Of years as the length of the spell and whether there was a harvest."""
    season = 2000 + np.arange(len(years))
    lengths, harvested = (np.array(each, float) for each in zip(*years, strict=True))
    failed = harvested == 0
    columns = {
        "harvested": harvested,
        "growth": np.where(failed, np.nan, 0.7),
        "reason": np.where(failed, REASONS[HOT], ""),
        "stage": np.where(failed, "curd", ""),
    }
    plan = cw.Plan(cw.crop(crop), "04-20")
    report = SimpleNamespace(
        crop=plan.crop,
        plans=[plan],
        need_days=need,
        evaluated=[xr.Dataset({n: ("season", v) for n, v in columns.items()}, {"season": season})],
        window=xr.Dataset(
            {f"length_{end}": ("season", lengths) for end in ("least", "most")}, {"season": season}
        ),
        growth_by_window=growth,
        today=today,
    )
    return sentences.window_and_harvest(report)


def test_harvests_in_short_spells_are_counted_among_them():
    text = window_and_harvest([(40, 1), (50, 1), (45, 0), (70, 1)])[0]
    assert "2 of the 3 years with too short a spell" in text
    assert "gave a harvest all the same" in text
    assert "growth 0.70 in such years, otherwise 0.80" in text
    every = window_and_harvest([(40, 1), (50, 1), (70, 1)], growth=(0.7, 0.8))[0]
    assert "all 2 years with too short a spell" in every
    assert every.endswith(", and was none the worse (growth 0.80, otherwise 0.70).")
    assert every.startswith("Sown outdoors on 20 April: in all 2 years with too short a spell it ")


def test_no_harvest_in_short_spells_and_failures_in_long_ones_are_said():
    texts = window_and_harvest([(40, 0), (70, 0), (80, 1), (75, 1)])
    assert "None of the 1 year with too short a spell gave a harvest".lower() in texts[0].lower()
    assert "Of the 3 years with a long enough spell, 1 gave no harvest" in texts[1]
    assert f"{REASONS[HOT]} for the curd" in texts[1]
    assert "whatever the date you sow on" in texts[1]
    assert window_and_harvest([(70, 1), (80, 1)]) == []
    moved = window_and_harvest([(70, 0), (80, 1)], today=True)  # harvests elsewhere are of today's
    assert moved[0].startswith(
        "Sown outdoors on 20 April: of the 2 years with a long enough spell, 1 gave no harvest "
        f"({REASONS[HOT]} for the curd), counting the years as they were. A mild spell counts "
    )
    assert "as they were" not in texts[1]


# --- templates that were not read before --------------------------------------------------


def test_dates_that_do_not_exist_are_none():
    assert say("no_best_dates").startswith("none")
    assert say("never_so_likely") == "not even that often"


# --- where the need comes from, and a look back -------------------------------------------


def need_of(crop, harvested=30, given=None):
    plan = cw.Plan(cw.crop(crop), "04-20")
    return sentences.need(
        report_of(
            crop=plan.crop,
            plans=[plan],
            odds=[ds(harvested=harvested)],
            need_days=68,
            given_need_days=given,
        )
    )


def test_the_need_is_given_or_of_the_packet_or_of_a_typical_year():
    assert "68 days was given" in need_of("cauliflower", given=68)
    packet = need_of("cauliflower", harvested=0)
    assert "No year gave a harvest" in packet
    assert "on the seed packet" in packet
    typical = need_of("cauliflower")
    assert typical.startswith("Sown outdoors on 20 April, the plants stand outdoors for 68 days ")
    assert "before the first harvest of a typical year" in typical
    assert "from bloom, or first growth, to the end of the harvest" in need_of("apple")


def test_a_look_back_names_its_years_and_sets_its_ranges_against_a_plain_count(monkeypatch):
    monkeypatch.setattr(sentences, "calendar_years", lambda _: 90)
    year = np.arange(1960, 2000)
    found = xr.Dataset(
        {
            "followed": (("question", "year"), np.full((1, 40), 10)),
            "held": (("kind", "rule"), [[0.57, 0.91, 0.94]]),
        },
        {"year": year, "kind": ["all"], "rule": ["count", "record", "today"]},
    )
    report = SimpleNamespace(daily=None, hindcast=found, today=object())
    text = sentences.looked_back(report)
    assert text.startswith("Had you asked at the end of each year from 1960 to 1999, ")
    assert "the ranges given for the next ten years would have held" in text
    assert re.search(r"would have held 94 % .*plain count of 30 years, 57 %", text)
    report.today = None
    assert "would have held 91 %" in sentences.looked_back(report)
    report.hindcast = None
    assert sentences.looked_back(report) == ""


def test_harvests_in_short_spells_alone_have_one_growth():
    text = window_and_harvest([(40, 1), (50, 1)], growth=(np.nan, 0.7))[0]
    assert "(growth 0.70)" in text
    assert "otherwise" not in text


def test_years_cut_short_and_in_doubt_are_named_as_such():
    years = {"missing_years": "1999", "short_years": "2001", "doubtful_years": "2003"}
    daily = xr.Dataset(attrs={"title": "Mill"} | years)
    report = SimpleNamespace(daily=daily, coverage=cw.coverage(cw.read_daily(cw.sample())))
    text = " | ".join(sentences.sources(report))
    assert "Missing years: 1999" in text
    assert "Years cut short: 2001" in text
    assert "Years in doubt: 2003" in text


# --- cautions, and bounds that are easy to turn round -------------------------------------


@pytest.mark.parametrize(
    ("about", "claims"),
    [
        ("forecast", ("counts of past years", "not a forecast")),
        ("thermometer", ("colder or warmer than the station", "one season")),
        ("heaters", ("only as their makers", "beware of fumes", "licensed", "ventilate on sunny")),
        (
            "certified",
            (
                *("Buy certified seed and planting stock", "where", "plant-health rules"),
                "Ask your local advisory service before you rely on a date",
            ),
        ),
    ],
)
def test_cautions_warn_of_what_harms(about, claims):
    [text] = [each for each in sentences.CAUTIONS if about in each]
    assert [claim for claim in claims if claim not in text] == []


def test_comfort_is_a_narrower_range_than_what_a_crop_can_take_and_has_fewer_years():
    crop = cw.crop("cauliflower")
    report = SimpleNamespace(
        crop=crop,
        band=cw.bearable_band(crop),
        need_days=68,
        shorter=ds(shorter=20, known=40),
        shorter_in_comfort=ds(shorter=33, known=40),
        comfort_c=cw.comfortable_band(crop),
    )
    text = sentences.two_bands(report, "C")
    low, high = (f"{each:.0f}" for each in (report.band.low_c, report.band.high_c))
    start = f"Cauliflower can take days with a mean of {low} to {high} °C, and a mild spell counts"
    assert text.startswith(start)
    bears, comfort = re.findall(r"(\d+) to (\d+) °C", text)
    assert re.search(r"can take days with a mean of .*, and a mild spell counts them all\.", text)
    assert int(bears[0]) <= int(comfort[0]) < int(comfort[1]) <= int(bears[1])
    assert re.search(r"Counting only days in which .* comfortable, it lasted the 68 days", text)
    low, high = (f"{each:.0f}" for each in (report.comfort_c.low_c, report.comfort_c.high_c))
    assert text.endswith(f" in 7 of 40 years ({low} to {high} °C).")
    for fewer in (ds(shorter=20, known=40), ds(shorter=33, known=39)):
        report.shorter_in_comfort = fewer  # no fewer years, or others
        assert sentences.two_bands(report, "C") == ""
    report.shorter_in_comfort = ds(shorter=33, known=40)
    report.band = cw.comfortable_band(crop)  # chosen by hand
    assert sentences.two_bands(report, "C") == ""


@pytest.mark.parametrize(
    ("crop", "spoilt"),
    [
        ("broccoli", "its heads"),
        ("potato", "its tubers"),
        ("sweet corn", "its ears"),
        ("pea", "its flowers and pods"),
    ],
)
def test_heat_spoils_what_is_picked_and_not_what_goes_on(crop, spoilt):
    fails = sentences.conditions(cw.Plan(cw.crop(crop), "05-01"))
    assert [each for each in fails if each.startswith("heat")] == [f"heat spoils {spoilt}"]


def test_what_kills_comes_at_night_and_harder_plants_bear_more_of_it(plans):
    text = "; ".join(sentences.conditions(plans[1]))
    assert "a cold night kills it (hardened plants survive colder ones)" in text
    assert "heat spoils its curd" in text
    assert "not ripe before the season ends" in text
    apple = "; ".join(sentences.conditions(cw.Plan(cw.crop("apple"), "01-01")))
    assert "not ripe before the season ends" in apple
    asparagus = "; ".join(sentences.conditions(cw.Plan(cw.crop("asparagus"), "01-01")))
    assert ("flower buds" in apple, "flower buds" in asparagus) == (True, False)


def test_no_failure_is_none():
    odds = xr.Dataset({"failed_by": ("reason", [0, 0])}, {"reason": [REASONS[HOT], REASONS[COLD]]})
    assert sentences.failures(odds) == "none"


def test_a_cover_of_ones_own_is_as_warm_as_its_logger_found_and_others_are_taken_to_be():
    own = replace(COVERS["cold frame"], days=41)
    text = sentences._lift(own, "C")
    night = own.coldest.intercept_c  # with 0 degC outdoors
    assert (
        "is as warm as your logger found over 41 days: a night of 0 °C outdoors is "
        f"{night:g} °C inside" in text
    )
    assert "thermometer" not in text
    preset = sentences._lift(COVERS["cold frame"], "C")
    assert "A thermometer inside yours will tell you more" in preset
    assert "with vents open on bright days" in preset
    room = sentences._lift(COVERS["room with lights"], "C")
    night, day = re.search(r"have (\d+) °C at night and (\d+) °C by day", room).groups()
    assert (float(night), float(day)) == (
        COVERS["room with lights"].coldest.intercept_c,
        COVERS["room with lights"].warmest.intercept_c,
    )


# --- what a spell does not see, and what a choice does to its odds ------------------------


def test_a_mild_spell_sees_neither_the_date_nor_single_days_nor_a_perennials_winter():
    text = sentences._blind_to(SimpleNamespace(crop=cw.crop("cauliflower")))
    assert "counts whenever it comes" in text
    assert "whatever single hot days and cold nights it holds" in text
    stands = sentences._blind_to(SimpleNamespace(crop=cw.crop("apple")))
    assert "says nothing about the winter before it, nor about single frosts" in stands
    assert "sow" not in stands


@pytest.mark.parametrize(
    ("crop", "need", "how"),
    [
        ("cauliflower", 60, "grew on through weeks it does not like"),
        ("pea", 60, "grew on through weeks they do not like"),
        ("garlic", 250, "hardly grew in winter, and made up for it in spring"),
        ("garlic", 100, "grew on through weeks it does not like"),
    ],
)
def test_a_harvest_in_too_short_a_spell_is_explained_by_how_the_crop_lives(crop, need, how):
    text = window_and_harvest([(40, 1), (300, 1)], crop=crop, need=need)[0]
    they = "they" if crop == "pea" else "it"
    assert f" {they} gave a harvest all the same. {they.capitalize()} {how}" in text


def test_a_date_looks_better_in_the_years_that_chose_it(pellbrook):
    text = sentences.CHOSEN
    assert text.startswith("Best dates are chosen several times over, each time with some years")
    assert "each time with some years left out, and judged on those years alone" in text
    assert text.endswith("In the years that chose it, a date looks better than it is.")
    for swept in pellbrook.ahead.swept:
        chosen_by = float(swept["share"].sel(start_day=int(swept["best_day"])))
        assert chosen_by >= float(swept["elsewhere_share"])


def test_the_count_beside_best_dates_is_the_stricter_one(pellbrook):
    text = sentences.JUDGED
    assert text.startswith("The rows above judge each way on its own date, in every year.")
    assert "These come from fewer years, so a little is added. The long-run range of a way " in text
    assert "that starts on its best date is found likewise." in text
    assert (
        "beside the best dates is stricter: it judges each year by dates that were chosen" in text
    )
    assert "chosen without it" in text
    assert text.endswith("one way can have two counts.")
    for swept in pellbrook.ahead.swept:
        best = swept.sel(start_day=int(swept["best_day"]))
        assert float(swept["elsewhere_share"]) <= float(best["share"])


@pytest.mark.parametrize(
    ("crop", "cover", "claims"),
    [
        ("tomato", "", ("too cold or too hot for its fruit to set", "too cold to work in time")),
        ("tomato", "", ("too cold or too hot for it to come up",)),
        ("onion", "", ("the days do not get long enough for bulbs",)),
        ("cauliflower", "cold frame", ("cold or heat kills it under cover",)),
        ("apple", "", ("frost kills its flower buds, in winter or in bloom",)),
        ("apple", "", ("too little winter cold to break its rest",)),
    ],
)
def test_what_fails_a_plan_is_too_much_or_too_little_of_what_it_is(crop, cover, claims):
    crop = cw.crop(crop)
    plan = cw.Plan(crop, "04-20", 6, cover) if cover else cw.Plan(crop, "04-20")
    said = sentences.conditions(plan)
    assert [claim for claim in claims if not any(claim in each for each in said)] == []


def test_young_plants_are_killed_by_nights_as_cold_as_the_last_one():
    pea = cw.crop("pea")
    text = sentences.after_freeze(pea, "C")
    shown = sentences.temperature(pea.killed_at_c, "C", 1)
    assert text == f", after the last night of {shown} or colder, which kills young plants"
    assert sentences.after_freeze(cw.crop("apple"), "C") == ""


def test_a_freeze_comes_between_spring_and_autumn_or_in_no_year():
    none = sentences.frost_free_days(freezes(days=(np.nan, np.nan)))
    assert none == "Half of the years or more had no such night between spring and autumn."
    half = sentences.frost_free_days(freezes(days=(160.0, np.nan)))
    assert half.endswith("160 days or more without such a night.")


def test_a_harvest_that_never_came_is_in_no_year_so_far():
    row = {f"begin_{end}": ("event", [np.nan]) for end in ("day", "first", "last")}
    assert sentences.ready(xr.Dataset(row, {"event": ["harvest"]})) == "in no year so far"


@pytest.mark.parametrize(
    ("plan", "said"),
    [
        (cw.Plan(cw.crop("apple"), "01-01"), "stands there already"),
        (cw.Plan(cw.crop("tomato"), "05-20", plants="bought"), "20 May"),
        (cw.Plan(cw.crop("cauliflower"), "03-05", 6, "cold frame"), "16 Apr"),
        (cw.Plan(cw.crop("cauliflower"), "04-20"), "sown outdoors"),
        (cw.Plan(cw.crop("potato"), "04-20"), "planted outdoors"),
    ],
)
def test_plants_are_set_out_after_their_weeks_or_on_their_day_or_grow_where_they_began(plan, said):
    assert sentences.set_out(plan) == said


@pytest.mark.parametrize("units", ["C", "F"])
def test_a_value_set_aside_has_its_days_and_its_test(units):
    """Days of one reading are a run; a gap, another value or another test begins a new one."""
    days = np.datetime64("2020-01-01") + np.arange(6) * np.timedelta64(1, "D")
    nan = np.nan
    daily = xr.Dataset(
        {
            "tmin_set_aside": ("time", [10.0, 10.0, nan, 10.0, 20.0, 20.0]),
            "tmin_flag": ("time", [1, 1, 0, 1, 1, 2]),
        },
        {"time": days},
    )
    told = sentences.set_aside(daily, units)
    unit, ten, twenty = ("degC", "10.0", "20.0") if units == "C" else ("degF", "50.0", "68.0")
    first, second = (sentences.KINDS[n].replace("_", " ") for n in (0, 1))
    assert told == [
        f"2020-01-01 to 2020-01-02 tmin {ten} {unit}: {first}",
        f"2020-01-04 tmin {ten} {unit}: {first}",
        f"2020-01-05 tmin {twenty} {unit}: {first}",
        f"2020-01-06 tmin {twenty} {unit}: {second}",
    ]


# --- templates that a way is named by ------------------------------------------------------


@pytest.mark.parametrize(
    ("plan", "begun", "where"),
    [
        (cw.Plan(cw.crop("cauliflower"), "04-20"), "sown", "outdoors"),
        (cw.Plan(cw.crop("potato"), "04-20"), "planted", "outdoors"),
        (cw.Plan(cw.crop("cauliflower"), "03-05", 6, "cold frame"), "sown", "in a cold frame"),
        (cw.Plan(cw.crop("potato"), "03-05", 4, "fleece"), "planted", "under fleece"),
        (cw.Plan(cw.crop("tomato"), "05-20", plants="bought"), "set out", "bought plants"),
    ],
)
def test_a_plan_is_named_by_what_is_done_where_and_when(plan, begun, where):
    assert begun in plan.name
    assert where in plan.name
    others = {"sown", "planted", "set out"} - {begun}
    assert not any(other in plan.name for other in others)
    day, month = day_name(day_number(plan.start)).split()
    assert plan.name.endswith(f"{day} {month}")


@pytest.mark.parametrize(("count", "days", "weeks"), [(1, "1 day", "1 week"), (2, "2 days", "2 w")])
def test_days_are_needed_and_weeks_are_spent_under_cover_before(count, days, weeks):
    assert say("days_needed", count=count) == f"{days} needed"
    assert say("after_cover", count=count).startswith(f"after {weeks}")
    assert say("after_cover", count=count).endswith("under cover")
    assert say("average_window_only", count=count).startswith(f"The average year suggests {days};")
    text = say("average_window", count=count, median=0)
    assert text.startswith(f"The average year suggests {days};")
    assert say("needed_by_way", needed=days, way="sown outdoors", since="5 Mar") == (
        f"{days} sown outdoors, from 5 Mar"
    )
    assert say("needed_once_up", needed=days, way="sown outdoors", since="5 Mar") == (
        f"{days} once up, sown outdoors 5 Mar"
    )
    many = say("years_hidden_by_gaps", count=count)
    assert many.startswith("1 year is" if count == 1 else "2 years are")
    assert "left out" in many
    assert re.search(r"gap.* hides? the answer", many)


def test_ranges_hold_nine_times_in_ten_and_know_nothing_of_the_garden():
    text = say("what_odds_cover")
    assert text.startswith("Likely ranges hold nine times in ten.")
    assert "allow for the luck of the weather, not for doubt about the crop's limits" in text
    assert text.endswith("or your garden's own spot.")
    long_run = say("long_run_too_short", years="39 years", low="10 %", high="24 %")
    assert long_run == (
        "From 39 years of weather, the long-run share of years too short is likely 10 % to 24 %."
    )


def test_marks_of_past_years_stand_where_they_were():
    as_recorded, today = say("spells_as_recorded"), say("spells_as_recorded_today")
    assert as_recorded.rstrip(".") in today
    assert "a past year, as recorded" in as_recorded
    assert today.endswith("not moved to today's climate.")
    through = say("spell_through_winter", crop="garlic")
    assert through.startswith("No mild spell has to be long enough for garlic")
    assert through.endswith("the plants stand through the winter")


def test_both_and_neither_are_not_each_other():
    counts = {"years": "39 years", "first": "A", "second": "B"}
    text = say("plans_compared", **counts, only_first=3, only_second=11, both=18, neither=7)
    assert re.search(
        r"“A” alone gave a harvest in 3, “B” alone in 11, both in 18, neither in 7", text
    )
    assert say("both_always", both=39, years="39 years").startswith(
        "Both gave a harvest in the same"
    )
    assert say("both_never", years="39 years").startswith("Neither gave a harvest in any of 39")
    assert say("no_harvest") == "No year so far gave a harvest."
    assert say("few_years") == "Fewer than ten years: take these odds as a hint, no more."
    assert say("harvest_begins", middle="1 Jul", first="2 Jul", last="3 Jul").startswith(
        "The harvest begins about 1 Jul"
    )


@pytest.mark.parametrize(
    ("listed", "said", "never"),
    [
        ("no bed workable", r"too cold or too wet to work\b", r"\b(dry|warm|hot)\b"),
        ("did not come up: too cold", r"\bnot come up in cold soil\b", r"\bhot\b"),
        ("did not come up: too hot", r"\bnot come up in hot soil\b", r"\bcold\b"),
        ("chilled", r"\bchilly days\b", r"\b(hot|warm)\b"),
        ("cold need not met", r"\bwinter too mild\b", r"\b(summer|cold)\b"),
        ("day length", r"\bdays too short or too long\b", r"\bnights?\b"),
        ("not ripe before the end", r"\bnot ripe in time\b", r"\btoo ripe\b"),
        ("killed inside: too cold", r"\bkilled by cold under cover\b", r"\b(heat|outdoors)\b"),
        ("killed inside: scorched", r"\bscorched under cover\b", r"\bcold\b"),
        ("winter kill", r"\bkilled by winter\b", r"\bsummer\b"),
    ],
)
def test_a_reason_says_in_words_what_the_model_calls_it(listed, said, never):
    assert listed in REASONS
    told = sentences.reason_in_words(listed)
    assert re.search(said, told)
    assert not re.search(never, told)


@pytest.mark.parametrize(("hidden", "leaning", "told"), [(5, 2, 3), (2, 2, None), (0, 0, None)])
def test_years_that_gaps_hide_are_told_without_those_that_draws_decide(hidden, leaning, told):
    """These have a caveat of their own."""
    counts = {"known": 30, "low": 0.2, "high": 0.4, "next_low": 2.0, "next_high": 5.0}
    odds = ds(**counts, unknown=hidden, leaning=leaning)
    text = sentences.how_sure(SimpleNamespace(shorter=odds, shorter_today=None))
    assert (f" {say('years_hidden_by_gaps', count=told or 1)}" in text) is (told is not None)
    assert "Fewer than ten years" not in text
    few = SimpleNamespace(shorter=odds.assign(known=9), shorter_today=None)
    assert "Fewer than ten years" in sentences.how_sure(few)


def test_a_harvest_begins_on_its_middle_day_or_never():
    days = xr.Dataset({"harvest_day": ("share", [182.0, 190.0, 201.0])})
    assert sentences.harvest_begins(days) == say(
        "harvest_begins", middle="9 Jul", first="1 Jul", last="20 Jul"
    )
    assert sentences.harvest_begins(days * np.nan) == say("no_harvest")


@pytest.mark.parametrize(
    ("usual", "middle", "said"),
    [
        (365.0, 365.0, say("average_window_all_year")),
        (365.0, 340.0, say("average_window", count=365, median="340")),
        (340.0, 365.0, say("average_window", count=340, median="365")),
        (0.0, 0.0, say("average_window_none")),
        (80.0, 61.0, say("average_window", count=80, median="61")),
        (80.0, np.nan, say("average_window_only", count=80)),
    ],
)
def test_a_year_is_mild_throughout_only_where_the_average_and_the_real_ones_are(
    usual, middle, said
):
    report = SimpleNamespace(window=ds(average_length=usual), median_length=middle)
    assert sentences.average(report) == said


@pytest.mark.parametrize(
    ("stage", "said"),
    [
        ("seedling", "as seedlings"),
        ("young plant", "as young plants"),
        ("leaf growth", "while in leaf"),
        ("flowers", "in flower"),
        ("curd", "at the curd stage"),
    ],
)
def test_what_cold_killed_is_told_by_how_far_it_had_come(stage, said):
    year = xr.Dataset({"reason": REASONS[COLD], "stage": stage})
    assert sentences.reason(year) == f"{REASONS[COLD]} {said}"
