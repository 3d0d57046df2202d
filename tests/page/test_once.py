"""One page computes each thing once; everything above the report reads it."""

from cProfile import Profile
from subprocess import Popen

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
from climwin.planning.evaluate import compare_evaluated, evaluate_plan
from climwin.planning.suitability import rank_crops
from climwin.planning.sweep import sweep_start_dates
from climwin.planning.timetable import dates_of
from climwin.report.decision import _decided

MOST = {
    by_year: 7,  # of tmin, tmax and tmean, in both climates; of tmean again for the weeks
    smoothed_year: 2,  # of tmin and tmean
    usable_windows: 5,  # of bearable days in both climates, of comfortable ones in one, and
    # with limits 2 degC kinder and harsher: the larger doubt
    detect_breakpoints: 1,  # the caveats, today's level and the live chart ask for the same record
    freeze_odds: 2,  # in both climates: the page gives the middle dates of the other one too
    freeze_dates: 3,  # within the odds of both climates, and for the chance by day
    day_bands: 2,  # the picture's and the live chart's
    coverage: 1,
    rank_crops: 1,
    recommended_dates: 2,  # one for each plan
    sweep_start_dates: 2,  # each plan in the climate that leads
    dates_of: 3,  # each plan's, and those that lead
    evaluate_plan: 5,  # each plan in both climates, and the dates that lead; all else takes these
    compare_evaluated: 1,
    _decided: 1,
}
"""How often each is computed at most while a page with two plans is made.

The page answers for two climates, that of the record and today's. Today's is another record, with
every year moved, so what both are asked is computed once for each.
"""


@pytest.fixture(scope="module")
def computed(tmp_path_factory):
    """How often each function ran for a page, and for a second page of the same report."""
    # another year's record than any other test's, so that nothing of it is remembered yet
    daily = cw.read_daily(sample()).sel(time=slice("1986", None))
    crop = cw.crop("cauliflower")
    plans = [cw.Plan(crop, "03-05", 6, "cold frame"), cw.Plan(crop, "04-20")]
    garden, folder = cw.Garden("here", 46.1, 7.2, 640), tmp_path_factory.mktemp("page")
    with Profile(subcalls=False, builtins=False) as first:
        report = cw.garden_report(garden, daily, plans=plans)
        cw.write_page(report, folder / "page.html")
    with Profile(subcalls=False, builtins=False) as second:
        cw.write_page(report, folder / "again.html", units="F")
    return calls(first), calls(second)


def calls(profile):
    """Calls of each function, found by its code: no matter under which name it was called."""
    counts = {entry.code: entry.callcount for entry in profile.getstats()}
    functions = (*MOST, Popen.__init__)
    return {f: counts.get(getattr(f, "__wrapped__", f).__code__, 0) for f in functions}


@pytest.mark.parametrize("function", MOST, ids=lambda f: f.__name__)
def test_a_page_computes_it_once(computed, function):
    first, _ = computed
    assert 0 < first[function] <= MOST[function]


def test_a_page_starts_no_process(computed):
    assert [each[Popen.__init__] for each in computed] == [0, 0]


def test_a_second_page_of_the_same_report_computes_next_to_nothing(computed):
    _, second = computed
    again = {f.__name__: count for f, count in second.items() if count}
    assert again == {"day_bands": 1}  # of the live chart
