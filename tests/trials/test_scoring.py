"""Past sowings against what would have been said of them, by a plain loop over the years."""

import itertools

import numpy as np
import pytest
from scipy import stats

from climwin.core.errors import RecordError
from climwin.crops.catalogue import crop
from climwin.io.daily import read_daily
from climwin.io.samples import sample
from climwin.planning.evaluate import evaluate_plan
from climwin.planning.plan import Plan
from climwin.trials.scoring import describe_sowings, harvests_expected, score_sowings
from climwin.trials.sowings import read_sowings


@pytest.fixture(scope="module")
def daily():
    return read_daily(sample())


@pytest.fixture(scope="module")
def sowings():
    return read_sowings(sample("past_sowings.csv"))


@pytest.fixture(scope="module")
def scored(sowings, daily):
    return score_sowings(sowings.iloc[[1, 2, 5, 11]], daily)


def test_what_is_told_comes_from_all_other_years(scored, sowings, daily):
    row = sowings.iloc[1]  # sown in place
    year, start = row["sown"].year, row["sown"]
    plan = Plan(crop("cauliflower"), f"{start:%m-%d}", earliness=50.0)
    grown = evaluate_plan(plan, daily)
    harvested, known, waits = 0, 0, []
    for season in grown["season"].values:
        one = grown.sel(season=season)
        if season == year or one["outcome"] == "unknown":
            continue
        known += 1
        if one["outcome"] == "harvest":
            harvested += 1
            waits.append((one["harvest_begin"] - one["start"]).values / np.timedelta64(1, "D"))
    told = scored.isel(sowing=0)
    assert (int(told["years_harvested"]), int(told["years_known"])) == (harvested, known)
    for name, share in (("expected_first", 0.1), ("expected_date", 0.5), ("expected_last", 0.9)):
        wait = np.quantile(waits, share, method="hazen")
        off = (told[name].values - np.datetime64(start)) / np.timedelta64(1, "D") - wait
        assert abs(off) <= 0.5  # a date is a whole day
    own = grown.sel(season=year)
    assert told["outcome"].item() == own["outcome"].item()
    assert told["model_date"].values == own["harvest_begin"].values


def test_days_off_and_verdicts_are_differences_of_the_dates(scored):
    raised = scored.isel(sowing=1)
    day = np.timedelta64(1, "D")
    assert float(raised["days_off"]) == (raised["harvest"] - raised["expected_date"]).values / day
    assert (
        float(raised["model_days_off"]) == (raised["harvest"] - raised["model_date"]).values / day
    )
    inside = raised["expected_first"] <= raised["harvest"] <= raised["expected_last"]
    assert bool(raised["within"]) is bool(inside)
    assert scored["came"].values.tolist()[:3] == [0, 1, 1]


def test_what_weather_does_not_explain_is_left_out(scored):
    slugs = scored.isel(sowing=3)
    assert slugs["failed"].item() == "other"
    assert np.isnan(slugs["came"])
    assert np.isnan(slugs["agrees"])
    lines = describe_sowings(scored)
    assert lines[0].startswith("2 harvests came of 3 sowings; by the odds ")
    assert lines[-1].startswith("One sowing failed for a reason that weather does not explain")
    assert "Fewer than ten sowings: take this as a hint, no more." in lines


def test_a_range_that_the_count_leaves_is_said(scored):
    three = scored.isel(sowing=[0, 1, 2])
    less = three.assign(odds=three["odds"] * 0 + 0.999, came=three["came"] * 0)
    assert describe_sowings(less)[0].endswith("fewer came than these odds allow.")
    more = three.assign(odds=three["odds"] * 0 + 0.001, came=three["came"] * 0 + 1)
    assert describe_sowings(more)[0].endswith("more came than these odds allow.")


@pytest.mark.parametrize("odds", [[0.5] * 7, [0.1, 0.9, 0.4], [0.99, 0.98], [0.02]])
def test_the_likely_number_of_harvests_by_every_outcome_there_is(odds):
    chance = np.zeros(len(odds) + 1)
    for outcome in itertools.product([0, 1], repeat=len(odds)):
        chance[sum(outcome)] += np.prod(
            [p if came else 1 - p for p, came in zip(odds, outcome, strict=True)]
        )
    below = np.cumsum(chance)
    assert harvests_expected(np.array(odds)) == (
        int(np.argmax(below > 0.05)),
        int(np.argmax(below >= 0.95)),
    )


def test_equal_odds_are_a_binomial_count():
    low, high = harvests_expected(np.full(20, 0.3))
    # the least number that lies below in more than one case of twenty, and above in fewer
    assert (low, high) == tuple(stats.binom.ppf([0.05, 0.95], 20, 0.3).astype(int))


def test_a_sowing_outside_the_record_is_refused_with_its_line(sowings, daily):
    short = daily.sel(time=slice("2000", "2015"))
    with pytest.raises(
        RecordError,
        match=r"Line 9: cauliflower on 2016-\d\d-\d\d lies outside the record, "
        r"which runs from 2000-01-01 to 2015-12-31. Leave the row out",
    ):
        score_sowings(sowings, short)


def test_several_places_are_refused(sowings, daily):
    with pytest.raises(ValueError, match="takes the record of one place"):
        score_sowings(sowings, daily.expand_dims(station=["a", "b"]))
