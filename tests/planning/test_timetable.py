"""A plan's dates: quantiles over the years by NumPy, and deaths counted by hand."""

from collections import Counter

import numpy as np
import numpy.testing as npt
import pytest
from records import side_by_side, weather

from climwin.climate.level import todays_climate
from climwin.core.seasons import day_number
from climwin.crops.catalogue import crop
from climwin.planning.evaluate import evaluate_plan, harvest_odds
from climwin.planning.plan import Plan
from climwin.planning.timetable import KILLED, plan_dates

LETTUCE, TOMATO = crop("lettuce"), crop("tomato")
PLANS = [
    Plan(LETTUCE, "04-10"),
    Plan(LETTUCE, "08-25"),
    Plan(TOMATO, "03-20", 7, "unheated greenhouse", fleece_weeks=1),
    Plan(TOMATO, "05-20", plants="bought"),
    Plan(crop("apple"), "03-05"),  # its year begins on the same day whatever its plan says
]
NAMES = [f"{plan.crop.name}, {plan.name}" for plan in PLANS]


def at(record, latitude=44.0):
    record.attrs["latitude"] = latitude
    return record


@pytest.mark.parametrize(
    ("plan", "events"),
    [
        (PLANS[0], ["start", "emergence", "seedling", "leaf growth", "heads", "harvest"]),
        (
            PLANS[2],
            ["start", "set out", "emergence", "leaf growth", "flowers", "fruit", "harvest"],
        ),
        (PLANS[3], ["start", "leaf growth", "flowers", "fruit", "harvest"]),
        (PLANS[4], ["bloom or first growth", "harvest"]),
    ],
    ids=NAMES[:1] + NAMES[2:],
)
def test_events_are_those_of_the_way(plan, events):
    found = plan_dates(plan, at(weather(3, years=5, mean=11.0)))
    assert found["event"].values.tolist() == events


@pytest.mark.parametrize("plan", PLANS, ids=NAMES)
def test_dates_are_quantiles_over_the_years_that_came_so_far(plan):
    record = at(weather(7, years=12, mean=9.0, gaps=0.002))
    found, grown = plan_dates(plan, record), evaluate_plan(plan, record)
    start, day = grown["start"].values, np.timedelta64(1, "D")
    columns = {name: grown["stage_begin"].sel(stage_name=name) for name in grown.stage_name.values}
    columns |= {"start": grown["start"], "set out": grown["set_out"]}
    columns |= {"emergence": grown["emergence"], "harvest": grown["harvest_begin"]}
    columns["bloom or first growth"] = grown["emergence"]
    for event in found["event"].values:
        dates = columns[event].values
        start_day = 1 if plan.crop.is_perennial else day_number(plan.start)
        since = ((dates - start) / day)[~np.isnat(dates)] + start_day
        row = found.sel(event=event)
        assert int(row["seen"]) == len(since)
        for name, level in (("first", 0.1), ("day", 0.5), ("last", 0.9)):
            if len(since):
                expected = np.quantile(since, level, method="hazen")
                npt.assert_allclose(row[f"begin_{name}"], expected)
            else:
                assert row[f"begin_{name}"].isnull()
        for name in ("begin_first", "begin_day", "begin_last", "end_first", "end_day", "end_last"):
            assert row[name].attrs["units"] == "days after 31 December before the start"
    odds = harvest_odds(grown)
    for name in ("harvested", "known", "share", "good"):
        npt.assert_array_equal(found[name], odds[name])
    assert (found.attrs["cover"], found.attrs["propagation"]) == (
        plan.cover,
        plan.crop.propagation,
    )


def test_a_stage_ends_the_day_before_the_next_one():
    record = at(weather(7, years=12, mean=10.0))
    found, grown = plan_dates(PLANS[0], record), evaluate_plan(PLANS[0], record)
    follows = grown["stage_begin"].sel(stage_name="heads").values
    since = (follows - grown["start"].values)[~np.isnat(follows)] / np.timedelta64(1, "D") - 1
    expected = np.quantile(since, 0.5, method="hazen") + day_number("04-10")
    npt.assert_allclose(found["end_day"].sel(event="leaf growth"), expected)
    for event in ("start", "emergence"):  # it takes no time
        assert found["end_day"].sel(event=event) == found["begin_day"].sel(event=event)
    apple = plan_dates(PLANS[4], record)
    bloom, harvest = apple.sel(event="bloom or first growth"), apple.sel(event="harvest")
    npt.assert_allclose(bloom["end_day"], harvest["begin_day"] - 1)
    raised = plan_dates(PLANS[2], at(weather(7, years=6, mean=12.0)))
    out = raised.sel(event="set out")
    assert out["end_day"] == out["begin_day"] == day_number("03-20") + 49


def test_dates_of_todays_climate_are_those_of_the_moved_record():
    record = at(weather(7, years=26, mean=8.0))
    warmer = 0.1 * (record["time"].dt.year - 1999)
    record = record.assign(tmin=record["tmin"] + warmer, tmax=record["tmax"] + warmer)
    found = plan_dates(PLANS[0], record, climate="today")
    npt.assert_array_equal(
        found["begin_day"], plan_dates(PLANS[0], todays_climate(record))["begin_day"]
    )
    assert (found["begin_day"] != plan_dates(PLANS[0], record)["begin_day"]).any()


def test_deaths_are_counted_in_the_stage_they_struck():
    record = at(weather(7, years=16, mean=8.0))
    struck = 0
    for start in ("08-25", "10-05"):
        plan = Plan(LETTUCE, start)
        found, grown = plan_dates(plan, record), evaluate_plan(plan, record)
        pairs = zip(grown["reason"].values, grown["stage"].values, strict=True)
        dead = Counter(stage for reason, stage in pairs if reason in KILLED)
        for event in found["event"].values:
            assert int(found["killed"].sel(event=event)) == dead[event]
        struck += sum(dead.values())
    assert struck > 0


def test_stations_pass_through():
    alone = [at(weather(1)), at(weather(2, mean=12.0))]
    both = side_by_side(*alone).assign_coords(latitude=("station", [44.0, 44.0]))
    for lazy in (both, both.chunk(station=1)):
        found = plan_dates(PLANS[2], lazy).compute()
        for n, record in enumerate(alone):
            own = plan_dates(PLANS[2], record)
            for name in ("begin_day", "end_last", "killed", "seen"):
                npt.assert_array_equal(found[name].isel(station=n), own[name])
