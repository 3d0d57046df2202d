"""The joined answer holds what its steps give one by one; the words say its numbers."""

import re
from dataclasses import replace

import numpy as np
import pytest
import records
import xarray.testing as xrt
from refusing import refused

import climwin as cw
from climwin.core.provenance import warm_by
from climwin.core.seasons import day_number
from climwin.report import sentences
from climwin.report.garden import usual_plans
from climwin.report.sentences_perennial import winter_story
from climwin.report.spells import spells


def test_each_part_is_what_the_step_gives(pellbrook):
    report, daily, crop = pellbrook, pellbrook.daily, pellbrook.crop
    band = cw.bearable_band(crop)
    windows = cw.usable_windows(daily, band, killed_at=crop.killed_at_c)
    xrt.assert_identical(report.windows, windows)
    shorter = cw.odds_shorter(windows, report.need_days).sel(part=report.part)
    xrt.assert_identical(report.shorter, shorter)
    xrt.assert_identical(report.evaluated[1], cw.evaluate_plan(report.plans[1], daily))
    xrt.assert_identical(report.odds[0], cw.harvest_odds(report.evaluated[0]))
    ahead = cw.compare_plans(*report.plans, daily, climate="today")
    xrt.assert_identical(report.comparisons[0], ahead)
    xrt.assert_identical(report.bands, cw.day_bands(daily["tmean"]))


def test_a_plan_is_held_against_the_window_that_it_aims_at(tunis):
    lettuce = cw.crop("lettuce")
    garden = cw.Garden("x", 36.8, 10.2)
    spring, autumn = (
        cw.garden_report(garden, tunis, plans=[cw.Plan(lettuce, start)])
        for start in ("02-15", "09-20")
    )
    assert bool(spring.windows["has_two_windows"]) == (spring.part != autumn.part)


def test_without_plans_a_crop_is_tried_in_its_usual_ways_at_their_best_dates(pellbrook):
    raised, sown = usual_plans(pellbrook.crop, pellbrook.daily)
    assert (raised.weeks_under_cover, raised.cover, sown.weeks_under_cover) == (6, "cold frame", 0)
    swept = cw.sweep_start_dates(sown, pellbrook.daily)
    # Not the one luckiest day, but a day of the run that stays near the best whatever the years.
    at_start = swept.sel(start_day=day_number(sown.start))
    assert bool(at_start["stable"])
    assert float(at_start["expected_crop"]) > 0.95


def test_a_perennial_has_no_start_to_choose(pellbrook):
    apple, daily = cw.crop("apple"), pellbrook.daily
    report = cw.garden_report(pellbrook.garden, daily, crop=apple)
    [plan] = report.plans
    assert plan.name == "established plants"
    assert sentences.set_out(plan) == "stands there already"
    assert sentences.recommended(report.recommended[0], "planted") == []
    assert not any("soil" in text for text in sentences.conditions(plan))


def test_what_a_report_needs(pellbrook):
    with pytest.raises(ValueError, match=r"Give plans or crop, got neither"):
        cw.garden_report(pellbrook.garden, pellbrook.daily)
    others = [cw.Plan(cw.crop("potato"), "04-20"), pellbrook.plans[0]]
    with pytest.raises(ValueError, match="one crop, got cauliflower, potato"):
        cw.garden_report(pellbrook.garden, pellbrook.daily, plans=others)


# --- words --------------------------------------------------------------------------------


def long_enough(report, band, need):
    """Years in which the mild spell is long enough for sure, and those known, one by one."""
    windows = cw.usable_windows(report.daily, band, killed_at=-7.0).sel(part="longest")
    ends = list(zip(windows["length_least"].values, windows["length_most"].values, strict=True))
    enough = sum(least >= need for least, _ in ends)
    return enough, enough + sum(most < need for _, most in ends)


def test_the_finding_counts_the_years_that_were_long_enough(pellbrook):
    band = cw.bearable_band(pellbrook.crop)
    plans = [cw.Plan(pellbrook.crop, "05-05", 6, "cold frame"), cw.Plan(pellbrook.crop, "06-01")]
    report = cw.garden_report(pellbrook.garden, pellbrook.daily, plans=plans)
    short, long = report.needs
    both, _ = long_enough(report, band, long)
    after_cover, _ = long_enough(report, band, short)
    zones = spells(report).counts
    assert zones[2] == both < after_cover == zones[1] + zones[2]
    assert sentences.finding(report) == (
        "The longest mild spell was long enough for cauliflower after 6 weeks under cover in "
        f"{after_cover} of {sum(zones)} years, and for cauliflower sown outdoors in {both} of them"
    )


def test_two_ways_that_no_year_tells_apart_are_one_finding(pellbrook):
    report = replace(pellbrook)
    report.__dict__["needs"] = (1, 2)  # no mild spell is so short
    years = sum(spells(report).counts)
    assert sentences.finding(report) == (
        f"The longest mild spell was long enough for cauliflower in {years} of {years} years"
    )


def test_what_is_left_in_comfort_is_said_apart(pellbrook):
    need = pellbrook.need_days
    enough, known = long_enough(pellbrook, cw.comfortable_band(pellbrook.crop), need)
    assert enough < long_enough(pellbrook, cw.bearable_band(pellbrook.crop), need)[0]
    said = sentences.two_bands(pellbrook, "C")
    assert f"it lasted the {need} days in {enough} of {known} years" in said
    assert sentences.temperature(cw.bearable_band(pellbrook.crop).high_c, "C") in said


def test_nothing_is_said_of_comfort_where_it_makes_no_difference(pellbrook):
    report = cw.garden_report(
        pellbrook.garden, pellbrook.daily, plans=pellbrook.plans, need_days=365
    )
    assert sentences.finding(report).endswith("in 0 of 40 years")
    assert sentences.two_bands(report, "C") == ""


def test_the_need_is_the_days_outdoors_of_the_first_plan(pellbrook):
    raised, sown = (
        cw.garden_report(pellbrook.garden, pellbrook.daily, plans=[cw.Plan(*given)])
        for given in ((pellbrook.crop, "05-05", 6, "cold frame"), (pellbrook.crop, "06-01"))
    )
    years = cw.evaluate_plan(raised.plans[0], pellbrook.daily, climate="today")
    days = (years["harvest_begin"] - years["set_out"]) / np.timedelta64(1, "D")
    assert raised.need_days == int(days.median())
    assert sown.need_days > raised.need_days  # six weeks of its life are spent outdoors
    assert sentences.need(raised).startswith(
        f"Sown in a cold frame on 5 May, the plants stand outdoors for {raised.need_days} days"
    )
    given = cw.garden_report(raised.garden, raised.daily, plans=raised.plans, need_days=50)
    assert sentences.need(given) == "The need of 50 days was given."


def test_window_and_harvest_are_one_story(pellbrook):
    plan = cw.Plan(pellbrook.crop, "05-05", 6, "cold frame")
    report = cw.garden_report(pellbrook.garden, pellbrook.daily, plans=[plan])
    least, most = (report.window[f"length_{end}"].values for end in ("least", "most"))
    harvest = report.evaluated[0]["harvested"].values
    short = np.isfinite(harvest) & (most < report.need_days)
    despite, failed = (
        int((short & (harvest == 1)).sum()),
        int(((least >= report.need_days) & (harvest == 0)).sum()),
    )
    assert despite > 0
    told = " ".join(sentences.window_and_harvest(report))
    years = f"{int(short.sum())} years with too short a spell it gave a harvest"
    assert years in told
    growth = report.evaluated[0]["growth"].values
    less = float(np.nanmean(np.where(short, growth, np.nan)))
    assert f"{less:.2f}" in told
    assert (f", {failed} gave no harvest" in told) == (failed > 0)


def test_short_windows_without_a_harvest_are_not_said_to_be_borne(pellbrook):
    warmer = warm_by(pellbrook.daily, 1.0)  # started too early: too hot for the curd
    report = cw.garden_report(pellbrook.garden, warmer, plans=pellbrook.plans[:1])
    told = sentences.window_and_harvest(report)
    assert "none of the" in told[0]
    assert not any("all the same" in text for text in told)
    assert "gave no harvest (too hot for the curd" in told[1]


def test_a_failure_is_told_with_its_stage(pellbrook):
    years = pellbrook.evaluated[1]
    hot = int(((years["reason"] == "too hot") & (years["stage"] == "curd")).sum())
    assert hot > 0
    assert f"{hot} too hot for the curd" in sentences.failures_by_stage(years)
    failed = years["season"][(years["reason"] == "too hot").values][0]
    assert sentences.outcome(years, int(failed)) == "too hot for the curd"
    won = years["season"][(years["outcome"] == "harvest").values][0]
    assert sentences.outcome(years, int(won)) == "harvest"  # its growth is below 0.6
    assert sentences.outcome(years.assign(growth=years["growth"] + 0.5), int(won)) == "good harvest"


def test_a_cover_says_what_it_is_taken_to_be(pellbrook):
    raised, sown = pellbrook.plans
    said = sentences.cover_lift(raised, "C")  # the preset: 3 degC at night, 6 by day
    assert said.startswith("A cold frame is taken to be 3 °C warmer at night and 6 °C by day")
    assert "common practice" in said
    assert "5.4 °F warmer at night and 10.8 °F by day" in sentences.cover_lift(raised, "F")
    assert sentences.cover_lift(sown, "C") == ""


def test_a_look_back_at_few_years_is_not_said(pellbrook):
    asked = (pellbrook.hindcast["followed"] >= 8).any("question")
    assert 0 < int(asked.sum()) < 10
    assert sentences.looked_back(pellbrook) == ""


def test_recommended_dates_say_odds_variety_and_harvest(pellbrook):
    spans = pellbrook.recommended[1]
    for text, number in zip(
        sentences.recommended(spans, "sown"), range(spans.sizes["span"]), strict=True
    ):
        row = spans.isel(span=number)
        assert text.lower().startswith(row["season"].item())
        assert re.search(
            rf"\({row['earliness'].item()} varieties(\)|; on \d+ of these \d+ days )", text
        )
        assert (
            f"a harvest in {100 * float(row['elsewhere_share']):.0f} % of the years that had no "
            "part in the choice"
        ) in text
        best_for = row["best_for"].item().replace("started", "sown")
        assert text.endswith(f"Best for {best_for}.")


# --- what stands for years ----------------------------------------------------------------


def test_a_cold_place_hears_of_the_winter(albany):
    peach = cw.crop("peach")
    garden = cw.Garden("Albany", 42.7, -73.8)
    report = cw.garden_report(garden, albany, crop=peach)
    told = winter_story(report, "C")
    assert told[0].startswith("Winter: the wood of a peach survives ")
    limit = max(peach.perennial.hardy_to_c, peach.perennial.buds_hardy_to_c)
    tmin = albany["tmin"].sel(time=slice("1981-07-01", "2010-06-30"))
    winters = [
        float(tmin.sel(time=slice(f"{year}-10-01", f"{year + 1}-05-31")).min())
        for year in range(1981, 2010)
    ]
    so_cold = sum(coldest <= limit + 0.05 for coldest in winters)
    assert so_cold > 0
    assert f"of 29 years; {so_cold} had a night colder" in told[0]
    mild = cw.garden_report(garden, warm_by(albany, 6), crop=peach)
    assert "; none had a night colder" in winter_story(mild, "C")[0]
    assert any("Full bloom: " in text for text in told)


def test_what_does_not_stand_for_years_has_no_winter_story(pellbrook):
    assert winter_story(pellbrook, "C") == []


# --- the rest -----------------------------------------------------------------------------


def test_temperatures_are_said_in_either_unit():
    assert sentences.temperature(-2.2, "F", 1) == "28 °F"
    assert sentences.temperature(-2.2, "C", 1) == "\N{MINUS SIGN}2.2 °C"
    assert sentences.temperature(-0.04, "C", 1) == "0 °C"
    assert sentences.band(cw.crop("potato"), "F") == "42 to 77 °F"  # 5.9 to 25.0 degC


def test_few_years_are_said_to_be_few():
    daily, plans = records.weather(years=6), [cw.Plan(cw.crop("pea"), "03-20")]
    report = cw.garden_report(cw.Garden("x", 50, 5), daily, plans=plans, few_years=True)
    assert "Fewer than ten years" in sentences.how_sure(report)


def test_a_freeze_that_never_comes_is_said(tunis):
    report = cw.garden_report(
        cw.Garden("x", 36, 10), tunis, plans=[cw.Plan(cw.crop("pea"), "11-01")]
    )
    odds = report.freeze_odds.sel(threshold=0.0, odds=0.5)
    assert sentences.date(float(odds["last_spring"])) == sentences.NEVER
    assert "in spring 2 of 24" in sentences.freeze_note(report.freeze_odds.sel(threshold=0.0))


def test_invented_data_say_so(pellbrook):
    assert "Invented data" in " ".join(sentences.sources(pellbrook))


@pytest.mark.parametrize(("count", "said"), [(1, "1 year"), (2, "2 years"), (0, "0 years")])
def test_years_agree_with_their_number(count, said):
    assert sentences.years(count) == said


@pytest.mark.parametrize(
    ("earliness", "said"),
    [("early", "an early variety"), ("main", "a main variety"), (65.0, "a variety of 65 days")],
)
def test_the_kind_of_variety_is_said(earliness, said):
    plan = cw.Plan(cw.crop("cauliflower"), "04-20", earliness=earliness)
    assert sentences.variety(plan) == said


def test_a_report_that_cannot_be_made_says_what_was_given_and_what_is_allowed(pellbrook):
    garden, daily = pellbrook.garden, pellbrook.daily
    pea, leek = (cw.Plan(cw.crop(name), "04-10") for name in ("pea", "leek"))
    refused(lambda: cw.garden_report(garden, daily), "Give plans or crop, got neither")
    refused(
        lambda: cw.garden_report(garden, daily, plans=[pea, leek]),
        "The plans of one report grow one crop, got leek, pea. Make a report each",
    )
    for days in (0, 366):
        refused(
            lambda days=days: cw.garden_report(garden, daily, plans=[pea], need_days=days),
            f"need_days must lie between 1 and 365, got {days}",
        )
