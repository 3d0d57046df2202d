"""Plans judged against a plain loop over years, stages and days."""

from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import numpy.testing as npt
import pytest
import scipy.stats
import xarray as xr
from hypothesis import given, settings
from hypothesis import strategies as st
from records import (
    HALF_A_YEAR,
    common_years,
    daily,
    days,
    filled,
    missing,
    moved,
    same_usual_year,
    side_by_side,
    weather,
    weathers,
)

from climwin.climate.soil import soil_temperature
from climwin.climate.windows import running_mean_bounds
from climwin.core.schema import DataGapError
from climwin.core.seasons import (
    DAYS,
    ONE_DAY,
    by_year,
    coldest_day,
    date_of,
    day_name,
    day_number,
    seen_range,
    warmest_day,
)
from climwin.core.stats import paired_difference
from climwin.crops.catalogue import Minimum, Span, crop
from climwin.crops.model import Crop, Germination, Limits, Stage
from climwin.planning.evaluate import best_dates, compare, judge, success_odds, sweep, sweep_plans
from climwin.planning.schedule import at_best_date
from climwin.planning.plan import Conditions, Plan
from climwin.planning.growth import REASONS
from climwin.shelter.covers import COVERS, under_cover


def stage(name, length, low, high, survives, place="air"):
    return Stage(
        name=name,
        days=Span(usual=length, fewest=length, most=length, source="test"),
        prefers=Limits(low_c=low + 1, high_c=high - 1, source="test"),
        tolerates=Limits(low_c=low, high_c=high, source="test"),
        survives=Minimum(low_c=survives, source="test"),
        place=place,
    )


def a_crop(*stages, sown_at=6.03):
    return Crop(
        name="testweed",
        botanical="Herba probae",
        family="test",
        season="cool",
        germination=Germination(
            minimum_c=sown_at, optimum_low_c=12, optimum_high_c=25, maximum_c=30, source="test"
        ),
        stages=stages,
        band=Limits(low_c=5, high_c=20, source="test"),
    )


CROP = a_crop(
    stage("germination", 9, 4.02, 30.0, -5.0, place="soil"),
    stage("seedling", 25, 5.03, 19.07, -1.1),
    stage("head", 30, 7.02, 17.03, -2.2),
)
"""Limits between tenths, so that rounding decides nothing."""
IN_PLACE = Plan(CROP, "04-10")
RAISED = Plan(CROP, "03-20", 5, "cold frame")
PLANS = st.builds(
    lambda plan, start, fleece, share, nights, soil: replace(
        plan,
        start=day_name(start),
        fleece_weeks=fleece,
        conditions=Conditions(share_in_band=share, killing_freezes=nights, warm_soil=soil),
    ),
    st.sampled_from([IN_PLACE, RAISED, Plan(CROP, "04-10", 3, "fleece")]),
    st.sampled_from([1, 75, 100, 130, 215, 230, 340]),
    st.sampled_from([0, 3]),
    st.sampled_from([0.0, 0.5, 0.7, 1.0]),
    st.sampled_from([0, 2]),
    st.booleans(),
)


# --- a plain loop -------------------------------------------------------------------------


def roomy(da):
    """Years of a series by days, with a year without data before and two after, as one row."""
    grid = by_year(da).values
    return np.pad(grid, ((1, 2), (0, 0)), constant_values=np.nan).ravel(), seen_range(grid)


def counts(test, value, could_be):
    """Whether a value passes a test, for sure and possibly: a missing one could be another."""
    return np.array([test(value), test(could_be if np.isnan(value) else value)], int)


def series_of(plan, record):
    """What a plan is judged by, a value a day, and of each what a missing one could have been."""
    means = roomy(record["tmean"])[0].reshape(-1, DAYS)
    covers = {"none", "fleece", plan.cover}
    return SimpleNamespace(
        coldest=coldest_day(record).item(),
        warmest=warmest_day(record).item(),
        week=[bound.ravel() for bound in running_mean_bounds(means)],
        soil=roomy(soil_temperature(record)),
        nights={c: roomy(under_cover(record, COVERS[c])["tmin"]) for c in covers},
    )


def plain_count(plan, series, start):
    """Killing nights, days of each stage and warm days of the soil, from one start, day by day."""
    frozen = {"late": np.zeros(2, int), "autumn": np.zeros(2, int)}
    stages = {
        s.name: {"days": 0, "in": np.zeros(2, int), "hot": 0, "cold": 0} for s in plan.crop.stages
    }
    above = [piece for piece in plan.pieces() if piece.stage.place == "air"]
    for piece, day in ((p, start + n) for p in above for n in range(p.begin, p.end)):
        since_coldest, rise = day % DAYS + 1 - series.coldest, series.warmest - series.coldest
        half = "late" if since_coldest % DAYS < rise % DAYS else "autumn"
        night, (lowest, _) = series.nights[piece.cover]
        kills = piece.stage.survives.low_c + 0.05
        frozen[half] += counts(lambda t, at=kills: t <= at, night[day], lowest[day % DAYS])
        if piece.cover in ("none", "fleece"):
            found, band = stages[piece.stage.name], piece.stage.tolerates
            low, high = (bound[day] for bound in series.week)
            under, over = band.low_c - 0.05, band.high_c + 0.05
            found["days"] += 1
            found["in"] += [low >= under and high <= over, high >= under and low <= over]
            found["hot"] += low > over
            found["cold"] += high < under
    warm = plan.crop.germination.minimum_c - 0.05
    values, (_, warmest) = series.soil
    soil = [
        counts(lambda t: t >= warm, values[day], warmest[day % DAYS])
        for day in range(start - 4, start + 1)
    ]
    return frozen, stages, [5, 5] if plan.weeks_under_cover else sum(soil)


def plain_verdict(plan, frozen, stages, soil):
    """Success, 1, 0 or missing, and the first reason of a failure."""
    needs = plan.conditions
    needed = {name: needs.share_in_band * found["days"] - 1e-9 for name, found in stages.items()}
    outcomes = []
    for bad, good in ((1, 0), (0, 1)):  # the worst that could have been, then the best
        outcomes.append(
            all(found["in"][good] >= needed[name] for name, found in stages.items())
            and frozen["late"][bad] + frozen["autumn"][bad] <= needs.killing_freezes
            and (soil[good] == 5 or not needs.warm_soil)
        )
    if outcomes[0] or outcomes[1]:
        return (1.0 if outcomes[0] else np.nan), ""
    if frozen["late"][0] > needs.killing_freezes:
        return 0.0, "late freeze"
    if frozen["late"][0] + frozen["autumn"][0] > needs.killing_freezes:
        return 0.0, "autumn freeze"
    if needs.warm_soil and soil[1] < 5:
        return 0.0, "soil too cold"
    hot, cold = (sum(found[side] for found in stages.values()) for side in ("hot", "cold"))
    return 0.0, "too hot" if hot >= cold else "too cold"


def settled(counted):
    sure, possible = counted
    return float(sure) if sure == possible else np.nan


@given(weathers(), PLANS)
@settings(max_examples=20)
def test_judge_is_a_plain_loop(record, plan):
    judged = judge(plan, record)
    assert judged["season"].values.tolist() == by_year(record["tmean"])["year"].values.tolist()
    got = {name: judged[name].values for name in judged}
    series = series_of(plan, record)
    for year in range(judged.sizes["season"]):
        start = (year + 1) * DAYS + day_number(plan.start) - 1
        frozen, stages, soil = plain_count(plan, series, start)
        success, reason = plain_verdict(plan, frozen, stages, soil)
        npt.assert_equal(got["success"][year], success)
        assert got["reason"][year] == reason
        assert reason in (*REASONS, "")
        npt.assert_equal(got["late_freezes"][year], settled(frozen["late"]))
        npt.assert_equal(got["autumn_freezes"][year], settled(frozen["autumn"]))
        warm = settled(soil)
        npt.assert_equal(got["warm_soil"][year], warm if np.isnan(warm) else float(warm == 5))
        outdoors = sum(found["days"] for found in stages.values())
        inside = [sum(found["in"][i] for found in stages.values()) for i in (0, 1)]
        share = settled(inside) / outdoors if outdoors else np.nan
        npt.assert_allclose(got["in_band"][year], share)
        for name, side in (("too_hot", "hot"), ("too_cold", "cold")):
            count = sum(found[side] for found in stages.values())
            npt.assert_equal(got[name][year], np.nan if np.isnan(share) else count)
        shares = [settled(f["in"]) / f["days"] if f["days"] else np.nan for f in stages.values()]
        npt.assert_allclose(got["stage_in_band"][year], shares)


def test_judge_dates_the_life_of_the_crop():
    judged = judge(IN_PLACE, weather(years=2))
    assert judged["stage"].values.tolist() == ["germination", "seedling", "head"]
    npt.assert_array_equal(judged["start"], np.array(["1999-04-10", "2000-04-10"], "datetime64[s]"))
    # 64 days, the first and the last counted.
    npt.assert_array_equal(
        judged["finish"], np.array(["1999-06-12", "2000-06-12"], "datetime64[s]")
    )


# --- what fails a year, by hand -----------------------------------------------------------


def mild_years(**changed):
    """Years without weather in which `IN_PLACE` succeeds, but for some days of 2001."""
    time = days("2000-01-01", "2002-12-31")
    tmean = 12 - 4 * np.cos(2 * np.pi * (np.arange(len(time)) - 20) / 365.25)
    record = {"tmin": tmean - 5, "tmax": tmean + 5, "tmean": tmean}
    for name, (first, last, value) in changed.items():
        within = (time >= np.datetime64(first)) & (time <= np.datetime64(last))
        record[name] = np.where(within, value, record[name])
    return daily(time, **record)


@pytest.mark.parametrize(
    ("changed", "reason"),
    [
        ({}, ""),
        ({"tmin": ("2001-05-10", "2001-05-10", -1.1)}, "late freeze"),  # at what kills it
        ({"tmin": ("2001-05-10", "2001-05-10", -1.0)}, ""),  # 0.1 degC above
        ({"tmin": ("2001-04-15", "2001-04-15", -6.0)}, ""),  # still in the soil
        ({"tmean": ("2001-04-05", "2001-04-09", -9.0)}, "soil too cold"),
        ({"tmean": ("2001-05-14", "2001-06-12", 25.0)}, "too hot"),
        ({"tmean": ("2001-05-14", "2001-06-12", 2.0)}, "too cold"),
    ],
)
def test_reason_is_what_failed_the_year(changed, reason):
    judged = judge(IN_PLACE, mild_years(**changed))
    assert judged["reason"].values.tolist() == ["", reason, ""]
    assert judged["success"].values.tolist() == [1, float(not reason), 1]


def test_freeze_after_midsummer_is_one_of_autumn():
    record = mild_years(tmin=("2001-10-20", "2001-10-20", -3.0))
    judged = judge(replace(IN_PLACE, start="09-01"), record)
    assert judged["reason"].sel(season=2001) == "autumn freeze"
    assert judged["autumn_freezes"].sel(season=2001) == 1
    assert judged["late_freezes"].sel(season=2001) == 0


def test_midsummer_parts_late_freezes_from_those_of_autumn():
    record = mild_years()
    turn = date_of(2001, warmest_day(record))
    record["tmin"].loc[{"time": [turn - ONE_DAY, turn]}] = -3.0
    assert date_of(2001, warmest_day(record)) == turn
    year = judge(replace(IN_PLACE, start="06-01"), record).sel(season=2001)
    assert year["late_freezes"] == 1
    assert year["autumn_freezes"] == 1


def test_cover_keeps_a_freeze_out():
    # A cold frame is 3 degC warmer by night, fleece 2: presets, common practice. Two frosty nights
    # while the seedlings are in the frame, then one under fleece.
    record = mild_years(tmin=("2001-04-10", "2001-04-11", -3.0))
    raised = judge(replace(RAISED, start="03-20"), record)
    assert raised["late_freezes"].sel(season=2001) == 0
    bare = judge(replace(IN_PLACE, start="03-20"), record)
    assert bare["late_freezes"].sel(season=2001) == 2
    record = mild_years(tmin=("2001-05-01", "2001-05-01", -3.0))
    fleece = judge(replace(RAISED, start="03-20", fleece_weeks=2), record)
    assert fleece["late_freezes"].sel(season=2001) == 0
    assert judge(RAISED, record)["late_freezes"].sel(season=2001) == 1


def test_each_stage_must_have_its_share():
    # 7 of 10 days are asked; the head, 30 days from 14 May, has 10 hot ones in any case, and the
    # 7-day mean spreads them by a few days.
    record = mild_years(tmean=("2001-05-20", "2001-05-30", 25.0))
    needs = {share: Conditions(share_in_band=share) for share in (0.5, 0.7)}
    lenient, strict = (judge(replace(IN_PLACE, conditions=c), record) for c in needs.values())
    head = strict["stage_in_band"].sel(season=2001, stage="head")
    assert 0.5 < head < 0.7
    assert strict["in_band"].sel(season=2001) > 0.7
    assert lenient["success"].sel(season=2001) == 1
    assert strict["success"].sel(season=2001) == 0


# --- what a gap could change --------------------------------------------------------------


def test_whole_record_leaves_no_year_open():
    record = weather(5, years=4)
    life = CROP.days + 3
    for start in ("03-01", "06-01", "10-01"):
        judged = judge(replace(IN_PLACE, start=start), record)
        ends = judged["finish"] + np.timedelta64(3, "D") <= record["time"][-1]
        assert judged["success"].where(ends, drop=True).notnull().all()
        assert ends.sum() == (3 if day_number(start) + life > DAYS else 4)


def test_record_that_ends_counts_only_where_it_could_matter():
    # Sown on 1 June, the crop ends on 3 August; at the end of July it never froze.
    record = weather(5, years=4).sel(time=slice(None, "2002-07-30"))
    judged = judge(replace(IN_PLACE, start="06-01", conditions=Conditions(share_in_band=0)), record)
    assert judged["success"].sel(season=2002).notnull()
    judged = judge(replace(IN_PLACE, start="10-01", conditions=Conditions(share_in_band=0)), record)
    assert judged["success"].sel(season=2002).isnull()


@given(weathers(gaps=0.02, years=4), PLANS, st.integers(0, 2**32 - 1))
@settings(max_examples=12)
def test_nothing_that_has_been_seen_could_change_a_known_year(record, plan, seed):
    # Without the soil, whose temperature leans on the usual year, which a fill moves a little.
    plan = replace(plan, conditions=replace(plan.conditions, warm_soil=False))
    before = judge(plan, record)
    with same_usual_year(record):
        after = judge(plan, filled(record, seed))
    known = before["success"].notnull()
    npt.assert_array_equal(after["success"].where(known), before["success"].where(known))


def test_gap_far_from_the_plan_changes_nothing():
    record = weather(5, years=3)
    whole, gap = (judge(IN_PLACE, r) for r in (record, missing(record, "2000-08-20", "2000-02-10")))
    xr.testing.assert_allclose(whole, gap)


# --- sweeps and odds ----------------------------------------------------------------------


@pytest.mark.parametrize("plan", [IN_PLACE, RAISED], ids=lambda plan: plan.name)
def test_sweep_at_a_date_is_the_judgement_of_that_date(plan):
    record = weather(6, years=5, gaps=0.01)
    swept = sweep(plan, record)
    assert swept["start_day"].values.tolist() == list(range(1, DAYS + 1))
    for day in (1, 59, 100, 101, 170, 250, 365):
        odds = success_odds(judge(replace(plan, start=day_name(day)), record))
        for name in odds:
            npt.assert_allclose(swept[name].sel(start_day=day), odds[name])


def test_plans_swept_together_are_those_swept_alone():
    record = weather(6, years=5, gaps=0.01)
    together = sweep_plans([IN_PLACE, RAISED], record)
    for n, plan in enumerate((IN_PLACE, RAISED)):
        xr.testing.assert_equal(together.isel(plan=n), sweep(plan, record))


def test_success_odds_by_hand():
    success = [1.0, 0.0, np.nan, 1.0, 0.0, 0.0]
    reason = ["", "too hot", "", "", "late freeze", "too hot"]
    judged = xr.Dataset(
        {"success": ("season", success), "reason": ("season", reason)},
        coords={"season": np.arange(2001, 2007)},
    )
    odds = success_odds(judged)
    assert (odds["succeeded"], odds["known"], odds["unknown"]) == (2, 5, 1)
    assert odds["share"] == 2 / 5
    oracle = scipy.stats.binomtest(2, 5).proportion_ci(0.9, "wilson")
    npt.assert_allclose((odds["low"], odds["high"]), oracle, atol=1e-12)
    assert odds["failed_by"].sel(reason="too hot") == 2
    assert odds["failed_by"].sel(reason="late freeze") == 1
    assert odds["failed_by"].sum() == 3


@given(weathers(), PLANS)
@settings(max_examples=6)
def test_years_add_up_and_easier_conditions_never_fail_more(record, plan):
    needs = plan.conditions
    easier = (
        replace(needs, share_in_band=needs.share_in_band / 2),
        replace(needs, killing_freezes=needs.killing_freezes + 1),
        replace(needs, warm_soil=False),
    )
    judged = judge(plan, record)
    odds = success_odds(judged)
    assert odds["succeeded"] + odds["failed_by"].sum() == odds["known"]
    assert odds["known"] + odds["unknown"] == judged.sizes["season"]
    for conditions in easier:
        again = judge(replace(plan, conditions=conditions), record)["success"]
        assert not (again < judged["success"]).any()
        assert not ((judged["success"] == 1) & again.isnull()).any()


# --- two plans ----------------------------------------------------------------------------


@given(weathers(gaps=0.01), PLANS, PLANS)
@settings(max_examples=6)
def test_compare_counts_the_same_years_by_a_plain_loop(record, plan, other):
    first, second = (judge(p, record)["success"].values for p in (plan, other))
    counts = {"both": 0, "only_plan": 0, "only_other": 0, "neither": 0}
    names = {(1, 1): "both", (1, 0): "only_plan", (0, 1): "only_other", (0, 0): "neither"}
    for pair in zip(first, second, strict=True):
        if not np.isnan(pair).any():
            counts[names[pair]] += 1
    found = compare(plan, other, record)
    assert {name: found[name].item() for name in counts} == counts
    assert found["known"] == sum(counts.values())
    interval = paired_difference(*(found[n].values for n in ("only_plan", "only_other", "known")))
    npt.assert_allclose([found[n] for n in ("difference", "low", "high")], interval)
    if found["known"]:
        held = ~np.isnan(first + second)
        npt.assert_allclose(found["difference"], first[held].mean() - second[held].mean())
    back = compare(other, plan, record)
    npt.assert_allclose(back["difference"], -found["difference"])


# --- the best dates -----------------------------------------------------------------------


def plain_best(share, within):
    """Every run of near-best days on the circle, the widest, then best, then earliest."""
    near = [s >= np.nanmax(share) - within - 1e-9 for s in share]
    runs = []
    for first in range(DAYS):
        if near[first] and not near[first - 1]:
            length = 1
            while near[(first + length) % DAYS]:
                length += 1
            mean = np.mean([share[(first + n) % DAYS] for n in range(length)])
            runs.append((-length, -mean, first))
    length, _, first = min(runs)
    return first + 1, (first - length - 1) % DAYS + 1


@given(
    st.lists(
        st.tuples(st.integers(1, 60), st.sampled_from([0, 0.5, 0.85, 0.9, 0.95, 1, np.nan])),
        min_size=2,
        max_size=20,
    ),
    st.sampled_from([0.0, 0.05, 0.1]),
)
def test_best_dates_are_those_of_a_plain_loop(pieces, within):
    share = np.resize(np.concatenate([np.full(n, value) for n, value in pieces]), DAYS)
    share[180] = 0.95 if np.isnan(share).all() else share[180]
    share[200] = 0.0  # or every day may be as good as the next
    swept = xr.Dataset({"share": ("start_day", share)})
    if np.nanmax(share) > within:
        assert best_dates(swept, within) == plain_best(share, within)


def test_all_days_alike_are_the_whole_year():
    assert best_dates(xr.Dataset({"share": ("start_day", np.full(DAYS, 0.4))})) == (1, DAYS)


def test_best_dates_run_round_the_years_end():
    share = np.zeros(DAYS)
    share[:10] = share[-20:] = 0.9
    share[100:125] = 1.0
    assert best_dates(xr.Dataset({"share": ("start_day", share)})) == (101, 125)
    share[100:125] = 0.9
    assert best_dates(xr.Dataset({"share": ("start_day", share)})) == (346, 10)


def test_plan_moves_to_the_middle_of_its_best_dates(champion):
    plan = Plan(crop("cauliflower"), "01-01", 6, "cold frame")
    first, last = best_dates(sweep(plan, champion))
    moved_plan = at_best_date(plan, champion)
    assert first <= day_number(moved_plan.start) <= last
    middle = day_number(moved_plan.start) - first
    assert abs(middle - (last - day_number(moved_plan.start))) <= 1
    assert replace(moved_plan, start="01-01") == plan


# --- stations, dask, the south ------------------------------------------------------------


def three_places():
    return weather(1, gaps=0.01), weather(2, gaps=0.01, coldest=202), weather(3, mean=16.0)


@pytest.mark.parametrize("plan", [IN_PLACE, RAISED], ids=lambda plan: plan.name)
def test_stations_pass_through(plan):
    alone = three_places()
    both = side_by_side(*alone)
    other = IN_PLACE if plan is RAISED else RAISED
    judged, swept, compared = judge(plan, both), sweep(plan, both), compare(plan, other, both)
    odds = success_odds(judged)
    for n, record in enumerate(alone):
        own_years = judge(plan, record)
        for found, own in (
            (judged, own_years),
            (odds, success_odds(own_years)),
            (swept, sweep(plan, record)),
            (compared, compare(plan, other, record)),
        ):
            xr.testing.assert_allclose(found.isel(station=n).drop_vars("station"), own)


def test_dask_stays_lazy():
    both = side_by_side(*three_places())
    lazy = both.chunk(station=1, time=300)
    for work in (
        lambda record: judge(RAISED, record),
        lambda record: sweep(RAISED, record),
        lambda record: compare(IN_PLACE, RAISED, record),
    ):
        found = work(lazy)
        assert all(da.chunks is not None for da in found.values() if da.dtype.kind != "M")
        xr.testing.assert_allclose(found.compute(), work(both))


@given(weathers(), PLANS.filter(lambda plan: day_number(plan.start) <= 130))
@settings(max_examples=6)
def test_southern_years_are_the_same_half_a_year_later(record, plan):
    # Without the soil, to which 29 February, left out here, is a gap at another time of the year.
    plan = replace(plan, conditions=replace(plan.conditions, warm_soil=False))
    later = replace(plan, start=day_name(day_number(plan.start) + HALF_A_YEAR))
    north, south = judge(plan, common_years(record)), judge(later, moved(record))
    south = south.sel(season=north["season"])
    for name in set(north) - {"start", "finish", "warm_soil"}:
        npt.assert_array_equal(north[name], south[name])


def test_results_say_what_was_judged():
    record = weather().assign_attrs(title="Pellbrook")
    judged, swept = judge(IN_PLACE, record), sweep(IN_PLACE, record)
    for found in (judged, swept):
        assert found.attrs["plan"] == "sown in place 10 Apr"
        assert found.attrs["crop"] == "testweed"
        assert found.attrs["title"] == "Pellbrook"
    assert judged["too_hot"].attrs["units"] == judged["late_freezes"].attrs["units"] == "days"
    compared = compare(IN_PLACE, RAISED, record)
    assert compared.attrs["other"] == "raised in a cold frame, sown 20 Mar"
    assert compared.attrs["interval"] == 0.9


# --- errors -------------------------------------------------------------------------------


def test_plan_without_a_known_date_has_no_best_one():
    with pytest.raises(ValueError, match=r"No start date has known odds: the record has no year"):
        best_dates(xr.Dataset({"share": ("start_day", np.full(DAYS, np.nan))}))


def test_no_plan_is_refused():
    with pytest.raises(ValueError, match=r"no plan to judge.*at least one climwin\.Plan"):
        sweep_plans([], weather())


def test_means_and_minima_are_needed():
    for name in ("tmean", "tmin"):
        with pytest.raises(ValueError, match=f"The record has no '{name}'"):
            judge(IN_PLACE, weather().drop_vars(name))


def test_thin_record_is_refused():
    with pytest.raises(DataGapError, match="too thin to have a usual year"):
        judge(IN_PLACE, weather().isel(time=slice(0, 150)))
