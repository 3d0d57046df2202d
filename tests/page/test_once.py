"""One page computes each thing once; everything above the report reads it."""

import sys
from collections import Counter

import pytest

import climwin as cw
from climwin.climate.breakpoints import detect_breakpoints
from climwin.climate.freeze import freeze_dates, freeze_odds
from climwin.climate.percentiles import day_bands
from climwin.climate.windows import usable_windows
from climwin.core.seasons import by_year, smoothed_year
from climwin.io.quality import coverage
from climwin.io.samples import sample
from climwin.planning.dates import recommended_dates
from climwin.planning.evaluate import (
    compare_plans,
    evaluate_plan,
    sweep_start_dates,
)
from climwin.planning.suitability import rank_crops
from climwin.planning.timetable import plan_dates

MOST = {
    by_year: 5,  # of tmin, tmax and tmean
    smoothed_year: 2,  # of tmin and tmean
    usable_windows: 2,  # of the days it bears, and of those in which it is comfortable
    detect_breakpoints: 1,
    freeze_odds: 1,
    freeze_dates: 3,  # at 0 degC, at both thresholds, and within the odds
    day_bands: 2,  # the picture's and the live chart's
    coverage: 1,
    rank_crops: 1,
    recommended_dates: 2,  # one for each plan
    sweep_start_dates: 2,
    plan_dates: 2,
    evaluate_plan: 6,  # each plan's, those of its dates, and two for the comparison
    compare_plans: 1,
}
"""How often each is computed at most while a page with two plans is made."""


@pytest.fixture(scope="module")
def computed(tmp_path_factory):
    """How often each function ran, by its code: no matter under which name it was called."""
    names = {getattr(f, "__wrapped__", f).__code__: f for f in MOST}
    counts = Counter()

    def profile(frame, event, _):
        if event == "call" and frame.f_code in names:
            counts[names[frame.f_code]] += 1

    # another year's record than any other test's, so that nothing of it is remembered yet
    daily = cw.read_daily(sample()).sel(time=slice("1986", None))
    crop = cw.crop("cauliflower")
    plans = [cw.Plan(crop, "03-05", 6, "cold frame"), cw.Plan(crop, "04-20")]
    garden, folder = cw.Garden("here", 46.1, 7.2, 640), tmp_path_factory.mktemp("page")
    before = sys.getprofile()
    sys.setprofile(profile)
    try:
        report = cw.garden_report(garden, daily, plans=plans)
        cw.write_page(report, folder / "page.html")
        once = counts.copy()
        cw.write_page(report, folder / "again.html", units="F")
    finally:
        sys.setprofile(before)
    return once, counts


@pytest.mark.parametrize("function", MOST, ids=lambda f: f.__name__)
def test_a_page_computes_it_once(computed, function):
    once, _ = computed
    assert 0 < once[function] <= MOST[function]


def test_a_second_page_of_the_same_report_computes_next_to_nothing(computed):
    once, twice = computed
    again = {f.__name__: twice[f] - once[f] for f in MOST if twice[f] > once[f]}
    assert again == {"day_bands": 1}  # of the live chart
