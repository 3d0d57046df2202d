"""The joined answer holds what its steps give one by one; the words say its numbers."""

import numpy as np
import pytest
import records
import xarray.testing as xrt

import climwin as cw
from climwin.core.seasons import day_name, day_number
from climwin.planning.evaluate import best_dates, success_odds
from climwin.planning.suitability import rank_crops
from climwin.report import sentences
from climwin.report.garden import usual_plans


def test_each_part_is_what_the_step_gives(pellbrook):
    report, daily, crop = pellbrook, pellbrook.daily, pellbrook.crop
    windows = cw.usable_windows(daily, crop)
    xrt.assert_identical(report.windows, windows)
    shorter = cw.odds_shorter(windows, crop.need_days).sel(part=report.part)
    xrt.assert_identical(report.shorter, shorter)
    xrt.assert_identical(report.judged[1], cw.judge(report.plans[1], daily))
    xrt.assert_identical(report.odds[0], success_odds(report.judged[0]))
    xrt.assert_identical(report.comparisons[0], cw.compare(*report.plans, daily))
    xrt.assert_identical(report.bands, cw.day_bands(daily["tmean"]))


def test_a_spring_plan_is_held_against_the_spring_window(pellbrook):
    assert pellbrook.part == "rise"
    autumn = cw.Plan(pellbrook.crop, "07-10", 4, "fleece")
    report = cw.garden_report(pellbrook.garden, pellbrook.daily, plans=[autumn])
    assert report.part == "fall"


def test_without_plans_a_crop_is_tried_in_its_usual_ways_at_their_best_dates(pellbrook):
    raised, sown = usual_plans(pellbrook.crop, pellbrook.daily)
    assert (raised.weeks_under_cover, raised.cover, sown.weeks_under_cover) == (6, "cold frame", 0)
    first, last = best_dates(cw.sweep(sown, pellbrook.daily))
    assert first <= day_number(sown.start) <= last


def test_what_begins_by_itself_starts_on_the_day_it_wakes(pellbrook):
    apple, daily = cw.crop("apple"), pellbrook.daily
    row = rank_crops(daily, [apple]).isel(plan=0)
    report = cw.garden_report(pellbrook.garden, daily, crop=apple)
    [plan] = report.plans
    assert plan.name == f"wakes by itself {day_name(int(row['start_day']))}"
    odds = report.odds[0]
    assert (int(odds["succeeded"]), int(odds["known"])) == (row["succeeded"], row["known"])
    assert sentences.set_out(plan) == "stands there already"
    assert sentences.best_dates(report.swept[0]).startswith(
        f"{day_name(int(row['start_day']))} (up to"
    )
    assert not any("soil" in text for text in sentences.conditions(plan))
    assert report.swept[0]["known"].values.nonzero()[0].tolist() == [int(row["start_day"]) - 1]
    with pytest.raises(ValueError, match=r"apple begins by itself.*there is no start to choose"):
        cw.garden_report(pellbrook.garden, daily, plans=[cw.Plan(apple, "06-01")])
    same = cw.Plan(apple, "03-20")  # the day itself, however it is written
    assert cw.garden_report(pellbrook.garden, daily, plans=[same]).plans == (same,)


def test_what_a_report_needs(pellbrook):
    with pytest.raises(ValueError, match=r"Give plans=\[\.\.\.\] or crop=\.\.\., got neither"):
        cw.garden_report(pellbrook.garden, pellbrook.daily)
    others = [cw.Plan(cw.crop("potato"), "04-20"), pellbrook.plans[0]]
    with pytest.raises(ValueError, match="one crop, got cauliflower, potato"):
        cw.garden_report(pellbrook.garden, pellbrook.daily, plans=others)


# --- words --------------------------------------------------------------------------------


def test_the_finding_counts_the_years(pellbrook):
    lengths = pellbrook.window["length"].values
    short, known = int((lengths < 75).sum()), int(np.isfinite(lengths).sum())
    found = pellbrook.shorter
    # a year with a gap may still be known to be long enough, or too short
    assert short <= int(found["shorter"]) <= int(found["known"])
    assert int(found["known"]) >= known
    said = sentences.too_short(pellbrook)
    assert said.startswith("Spring window shorter than the 75 days cauliflower needs in ")
    assert said.endswith(f"{int(found['shorter'])} of {int(found['known'])} years")


def test_temperatures_are_said_in_either_unit():
    assert sentences.temperature(-2.2, "F", 1) == "28 °F"
    assert sentences.temperature(-2.2, "C", 1) == "\N{MINUS SIGN}2.2 °C"
    assert sentences.temperature(-0.04, "C", 1) == "0 °C"
    assert sentences.band(cw.crop("potato"), "F") == "45 to 70 °F"


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
    assert "in spring 2 of 23" in sentences.freeze_note(report.freeze_odds.sel(threshold=0.0))


def test_invented_data_say_so(pellbrook):
    assert "Invented data" in " ".join(sentences.sources(pellbrook))


@pytest.mark.parametrize(("count", "said"), [(1, "1 year"), (2, "2 years"), (0, "0 years")])
def test_years_agree_with_their_number(count, said):
    assert sentences.years(count) == said
