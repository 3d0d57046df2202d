"""What a report says of the next ten years: read back from its odds, in either climate."""

import re
from types import SimpleNamespace

import numpy as np
import pytest
import records
import xarray as xr

import climwin as cw
from climwin.climate.level import LEAST_LEVEL_YEARS, is_mild, leading_climate
from climwin.core.stats import KINDS
from climwin.report import sentences
from climwin.report.garden import GardenReport

GARDEN = cw.Garden("Pellbrook allotments", 46.1, 7.2, 640)


def report_on(daily, crop="pea", start="04-10", **given) -> GardenReport:
    placed = daily.assign_attrs(latitude=46.1, longitude=7.2)
    return GardenReport(GARDEN, placed, (cw.Plan(cw.crop(crop), start),), **given)


@pytest.fixture(scope="module")
def short():
    return report_on(records.weather(3, years=LEAST_LEVEL_YEARS - 1))


@pytest.fixture(scope="module")
def long():
    record = records.weather(3, years=48)
    since = record["time"].dt.year - record["time"].dt.year[0]
    for name in ("tmin", "tmax", "tmean"):
        record[name] = (record[name] + 0.06 * since).assign_attrs(record[name].attrs)
    return report_on(record)


def numbers(text: str) -> list[int]:
    return [int(each) for each in re.findall(r"\d+", text)]


def test_today_leads_and_the_record_comes_next(long):
    today, record = long.shorter_today, long.shorter
    text = sentences.how_sure(long)
    first, second, *_ = text.split(". ")
    assert first.startswith("In today's climate the mild spell is likely to be too short in")
    ends = sorted({int(today["next_low"]), int(today["next_high"])})
    assert numbers(first) == ends
    before = sorted({int(record["next_low"]), int(record["next_high"])})
    if before == ends:
        assert second.startswith("Counting all years alike gives the same")
    else:
        assert numbers(second) == before
    least = f"{100 * float(today['low']):.0f} %"
    assert f"too short in today's climate is likely {least} to" in text
    assert "garden's own spot" in text


def test_odds_of_today_are_those_of_the_moved_record(long):
    moved = report_on(cw.todays_climate(long.daily), given_need_days=long.need_days)
    for name in ("shorter", "known", "odds", "next_low", "next_high"):
        assert float(long.shorter_today[name]) == float(moved.shorter[name])
    assert moved.today is None  # it is there already
    for name in ("harvested", "known", "next_low", "next_high"):
        assert int(long.today.odds[0][name]) == int(moved.odds[0][name])


def test_a_short_record_says_nothing_of_todays_climate(short):
    assert short.today is None
    assert short.shorter_today is None
    texts = [
        sentences.how_sure(short),
        sentences.plan_ahead(short, 0),
        sentences.freezes_in_other_climate(short),
        sentences.looked_back(short),
    ]
    assert not [text for text in texts if "today" in text or "asked" in text]
    assert sentences.how_sure(short).startswith("The mild spell is likely to be too short in")
    assert short.leading("window") == "record"
    assert short.hindcast is None


def test_a_plans_next_years_are_its_odds(long):
    text = sentences.plan_ahead(long, 0)
    now, before = long.today.odds[0], long.odds[0]
    said = [sentences.next_years(now), sentences.next_years(before)]
    assert f"likely in {said[0]} of the next ten years" in text
    assert text.endswith(
        "alike gives the same." if said[0] == said[1] else f"all years alike gives {said[1]}."
    )


def test_looking_back_says_the_share_that_held(long):
    found = long.hindcast
    text = sentences.looked_back(long)
    held = [float(found["held"].sel(kind="all", rule=rule)) for rule in ("today", "count")]
    assert [f"{100 * each:.0f} %" for each in held] == re.findall(r"\d+ %", text)
    judged = found["year"].values[(found["followed"] >= 8).any("question").values]
    assert f"{judged[0]} to {judged[-1]}" in text


def test_the_other_climates_freeze_dates(long):
    text = sentences.freezes_in_other_climate(long)
    assert text.startswith("These dates are for today's climate.")
    middle = long.freeze_odds.isel(threshold=0).sel(odds=0.5)
    for name in ("last_spring", "first_autumn"):
        assert sentences.date(float(middle[name])) in text


def test_in_mild_places_the_record_leads_for_freezes_alone():
    cold, mild = records.weather(1, years=5), records.weather(1, years=5, mean=16.0, swing=7.0)
    assert (is_mild(cold), is_mild(mild)) == (False, True)
    for kind in KINDS:
        assert leading_climate(cold, kind) == "today"
        is_freeze = "freeze" in kind
        assert leading_climate(mild, kind) == ("record" if is_freeze else "today")


def test_none_so_far_is_told_with_a_range_above_none(long):
    easy = report_on(long.daily, given_need_days=1)
    assert int(easy.shorter["shorter"]) == 0
    text = sentences.how_sure(easy)
    assert "in 0 of" not in text
    assert max(numbers(text.split(". ")[0])) >= 1
    assert float(easy.shorter["odds"]) > 0


def test_nobody_is_told_true_odds(long):
    texts = [sentences.how_sure(long), sentences.plan_ahead(long, 0), sentences.looked_back(long)]
    assert not [text for text in texts if "true" in text.lower() or "truth" in text.lower()]


def test_where_no_year_is_known_nothing_is_said_of_the_next_ones(long):
    odds = cw.harvest_odds(long.evaluated[0].isel(season=slice(0, 0)))
    assert sentences.next_years(odds) == "an unknown number"


def test_what_lies_ahead_is_told_for_the_climate_that_leads_and_one_sentence_says_so(long, short):
    plan, moved = long.plans[0], cw.todays_climate(long.daily)
    assert long.leading("harvest") == "today"
    expected = cw.recommended_dates(plan, moved)
    for name in ("first_day", "best_day", "last_day", "elsewhere_share"):
        assert long.recommended[0][name].values.tolist() == expected[name].values.tolist()
    ready = cw.plan_dates(plan, moved)
    assert str(long.timetables[0]["begin_day"].values) == str(ready["begin_day"].values)
    said = [text for text in cw.caveats(long) if "are for today's climate" in text]
    assert len(said) == 1
    assert "show those years as they were" in said[0]
    # Past years are those of the record.
    past = cw.evaluate_plan(plan, long.daily)
    assert long.evaluated[0]["outcome"].values.tolist() == past["outcome"].values.tolist()
    # Twenty years are not moved: there is one climate, and nothing to say.
    assert not any("for today's climate" in text for text in cw.caveats(short))
    assert short.ahead is short


# --- the average year, and the other climate ----------------------------------------------


@pytest.mark.parametrize(("days", "unit"), [(1.2, "1 day"), (92.4, "92 days")])
def test_the_average_year_stands_beside_a_typical_one_or_alone(days, unit):
    window = xr.Dataset({"average_length": days})
    alone = sentences.average(SimpleNamespace(window=window, median_length=np.nan))
    assert f"suggests {unit};" in alone
    assert "no real year is known to compare it with" in alone
    both = sentences.average(SimpleNamespace(window=window, median_length=71.0))
    assert re.search(r"\b71\b", both)
    assert f"{unit.split()[0]} day" in both
    assert "no real year" not in both


def test_an_average_year_without_a_mild_spell_has_no_days_to_tell():
    window = xr.Dataset({"average_length": 0.0})
    said = sentences.average(SimpleNamespace(window=window, median_length=0.0))
    assert "never mild enough" in said
    assert not re.search(r"\d", said)
    some = sentences.average(SimpleNamespace(window=window, median_length=12.0))
    assert "half of the real years had 12 or fewer" in some


def freezes_on(spring, autumn):
    columns = {
        name: (("threshold", "odds"), [[day]])
        for name, day in (("last_spring", spring), ("first_autumn", autumn))
    }
    return xr.Dataset(columns, {"odds": [0.5], "threshold": [0.0]})


@pytest.mark.parametrize(
    ("leads", "own", "other", "spring", "autumn"),
    [
        ("today", "for today's climate", "all years as they were", "27 Apr", "17 Oct"),
        ("record", "count all years as they were", "today's climate", "17 Apr", "27 Oct"),
    ],
)
def test_dates_of_the_climate_that_does_not_lead_are_named_as_its(
    leads, own, other, spring, autumn
):
    today = SimpleNamespace(freeze_odds=freezes_on(107.0, 300.0))
    report = SimpleNamespace(
        today=today, leading=lambda _: leads, freeze_odds=freezes_on(117.0, 290.0)
    )
    first, second = sentences.freezes_in_other_climate(report).split(". ")
    assert own in first
    assert other in second
    assert re.search(rf"typical dates are {spring} and {autumn}\.", second)
    assert sentences.freezes_in_other_climate(SimpleNamespace(today=None)) == ""
    # A frost that fewer than half of the years have has no typical date.
    other_years = report if leads == "today" else today
    for days, told in (((np.nan, 290.0), "typical date is 17 Oct"), ((np.nan, np.nan), "")):
        other_years.freeze_odds = freezes_on(*days)
        text = sentences.freezes_in_other_climate(report)
        assert told in text
        assert "not even that often" not in text
        assert ("typical" in text) == bool(told)
