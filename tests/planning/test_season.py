"""This year's days and the rest of each past year: a plain loop, properties, and bad questions."""

import datetime as dt
import warnings
from functools import cache
from types import SimpleNamespace

import numpy as np
import numpy.testing as npt
import pytest
import records
import xarray as xr
from planning.plain_loop import Weather, live

import climwin as cw
from climwin.core.errors import DataGapError, InputError
from climwin.core.odds import odds_of
from climwin.core.provenance import provenance
from climwin.core.seasons import ONE_DAY
from climwin.planning import season
from climwin.planning.growth import HARVEST, OPEN, REASONS
from climwin.planning.season import (
    START_EVERY,
    STARTS,
    WARM_DAYS,
    _as_dates,
    _shifts,
    _stage_now,
    _warm_soil,
    _with_odds,
    _with_usual_odds,
    event_days,
    event_names,
    spread_of,
)
from climwin.planning.site import filled_sites
from climwin.planning.traces import LEAD_DAYS, Joint, Lives, lives_in_traces, long_gaps

HERE = {"latitude": 46.1, "longitude": 7.2, "elevation": 420.0}


@cache
def pellbrook_mill():
    return cw.read_daily(cw.sample())


def running(until="2024-05-14"):
    """The invented sample with a running year."""
    return pellbrook_mill().sel(time=slice(None, until))


def invented(seed=3, years=14, **options):
    record = records.weather(seed, years=years, **options)
    # Off the tenths, so that no outcome hangs on the last bit.
    noise = np.random.default_rng(seed).uniform(0.001, 0.009, (2, record.sizes["time"]))
    tmin = record["tmin"] + noise[0]
    tmax = np.maximum(record["tmax"], record["tmin"] + 0.1) + noise[1]
    return (
        record.assign(tmin=tmin.assign_attrs(record["tmin"].attrs))
        .assign(tmax=tmax.assign_attrs(record["tmax"].attrs))
        .assign_attrs(HERE)
    )


def same_day(date, year):
    """The same month and day of another year; 28 February where there is no 29 February."""
    try:
        return date.replace(year=year)
    except ValueError:
        return date.replace(year=year, day=28)


def plain_trace(record, seam, shift, begin, end):
    """A trace day by day from dictionaries of dates; cut where the record has no such day."""
    dates = [day.astype(dt.date) for day in record["time"].values.astype("datetime64[D]")]
    low = dict(zip(dates, record["tmin"].values.tolist(), strict=True))
    high = dict(zip(dates, record["tmax"].values.tolist(), strict=True))
    rows, day = [], begin
    while day < end:
        source = day if day < seam else same_day(day, day.year + shift)
        if source not in low or (day >= seam and source >= seam):
            break
        rows.append((day, low[source], high[source]))
        day += dt.timedelta(days=1)
    days, tmin, tmax = zip(*rows, strict=True)
    return records.daily(days, tmin=tmin, tmax=tmax)


@pytest.mark.parametrize(
    ("plan", "sown", "on"),
    [
        (cw.Plan(cw.crop("pea"), "04-01"), "2012-04-10", "2012-05-20"),
        (cw.Plan(cw.crop("pea"), "04-01"), "2012-02-20", "2012-02-29"),
        (cw.Plan(cw.crop("tomato"), "04-01", 6, "room with lights"), "2011-03-20", "2011-06-01"),
        (cw.Plan(cw.crop("cauliflower"), "04-01", fleece_weeks=4), "2011-04-10", "2011-05-10"),
        (cw.Plan(cw.crop("garlic"), "04-01"), "2010-10-15", "2011-03-01"),
        (cw.Plan(cw.crop("potato"), "04-01", bed="mulched"), "2011-04-20", "2011-07-01"),
    ],
)
def test_the_traces_grow_as_in_a_plain_loop(plan, sown, on):
    whole = invented()
    seam, start = dt.date.fromisoformat(on), dt.date.fromisoformat(sown)
    record = whole.sel(time=slice(None, str(seam - dt.timedelta(days=1))))
    first = record["time"].values[0].astype("datetime64[D]")
    sites = filled_sites(first, record["tmin"].values, record["tmax"].values, HERE["latitude"])
    place = int((np.datetime64(start) - first) / ONE_DAY)
    begin, end = start - dt.timedelta(days=LEAD_DAYS), seam + dt.timedelta(days=420)
    shifts = np.array([-5, -3, -2])
    joint = Joint(first, len(record["time"]), place - LEAD_DAYS, len(record["time"]) + 420, shifts)
    found = lives_in_traces(plan, sites, sites.usual, joint, np.array([place]))
    usual = Weather(record, HERE["latitude"])
    decided = 0
    for n, shift in enumerate(shifts.tolist()):
        trace = plain_trace(record, seam, shift, begin, end)
        days = Weather(trace, HERE["latitude"])
        days.coldest, days.warmest = usual.coldest, usual.warmest
        expected = live(days, plan.crop, plan.way, LEAD_DAYS)
        reason = int(found.reason[n, 0])
        if expected.reason == "unknown":
            assert reason == OPEN
            continue
        if reason == OPEN:  # the picking, or a rule, would go on beyond the days of the trace
            assert len(trace["time"]) < (end - begin).days
            continue
        decided += 1
        assert ({HARVEST: "harvest"} | dict(enumerate(REASONS)))[reason] == expected.reason
        for name in ("up", "set_out", "ripe"):
            day = getattr(found, name)[n, 0]
            plain = getattr(expected, name)
            assert (None if np.isnan(day) else int(day) - joint.begin) == plain, (name, shift)
        there = found.begins[n, 0][np.isfinite(found.begins[n, 0])]
        assert (there.astype(int) - joint.begin).tolist() == expected.begins
        if reason == HARVEST:
            assert found.growth[n, 0] == pytest.approx(expected.growth, abs=1e-6)
    assert decided >= 2


def test_what_has_been_is_alike_in_every_trace():
    ahead = cw.outlook(cw.Plan(cw.crop("pea"), "01-01"), running(), sown="04-10")
    assert ahead.attrs["on"] == "2024-05-15"
    assert ahead.attrs["through"] == "2024-05-14"
    come = ahead.isel(event=ahead["has_come"].values)
    assert {"emergence", "seedling"} <= set(come["event"].values.tolist())
    for event in come["event"].values:
        dates = come["date"].sel(event=event).dropna("year")
        assert len(np.unique(dates.values)) == 1
        assert (dates < np.datetime64("2024-05-15")).all()
    later = ahead["date"].isel(event=~ahead["has_come"].values).values
    later = later[~np.isnat(later)]
    assert len(later) > 60
    assert (later >= np.datetime64("2024-05-15")).all()


def test_on_the_day_of_the_start_nothing_is_known_but_past_years():
    """The climatology beside the outlook is that of `evaluate_plan` for the same day."""
    plan, record = cw.Plan(cw.crop("pea"), "04-10"), running()
    ahead = cw.outlook(plan, record, sown="04-10")
    grown = cw.evaluate_plan(plan, record.sel(time=slice(None, "2023")))
    days = (grown["harvest_begin"] - grown["start"]) / np.timedelta64(1, "D")
    low, middle, high = spread_of(days.dropna("season").values)
    start = np.datetime64("2024-04-10")
    for name, expected in (("usual_low", low), ("usual_mid", middle), ("usual_high", high)):
        told = (ahead[name].sel(event="harvest").values - start) / np.timedelta64(1, "D")
        assert abs(told - expected) <= 1  # the soil of this April is that of this year


def test_the_spread_narrows_while_the_crop_grows():
    ahead = cw.outlook(cw.Plan(cw.crop("pea"), "04-10"), running("2024-06-20"), sown="04-10")
    width = ((ahead["expected_high"] - ahead["expected_low"]) / np.timedelta64(1, "D")).values
    assert width[-1] < width[0] / 2
    assert ahead["as_of"].values[0] == np.datetime64("2024-04-10")
    assert ahead["as_of"].values[-1] == np.datetime64("2024-06-21")


def test_a_record_that_goes_on_tells_the_same_as_one_that_ends():
    plan, whole = cw.Plan(cw.crop("snap bean"), "05-01"), pellbrook_mill()
    cut = cw.outlook(plan, running("2023-06-09"), sown="05-20")
    asked = cw.outlook(plan, whole, on="2023-06-10", sown="05-20")
    xr.testing.assert_equal(cut, asked)
    assert asked.attrs["days_left_out"] > 500
    assert cut.attrs["days_left_out"] == 0


def test_a_warm_rest_of_the_year_ripens_sooner_than_a_cold_one():
    """Of two traces with the same days so far the warmer is ripe first (a property)."""
    record = running()
    ahead = cw.outlook(cw.Plan(cw.crop("snap bean"), "05-10"), record, sown="05-10")
    june = record["tmean"].sel(time=record["time"].dt.month == 6)
    mean = june.groupby("time.year").mean().reindex(year=ahead["year"])
    day = ahead["date"].sel(event="harvest")
    there = day.notnull()
    ranks = [np.argsort(np.argsort(each)) for each in (mean[there].values, day[there].values)]
    assert np.corrcoef(*ranks)[0, 1] < -0.5


def test_today_s_climate_moves_the_past_years_and_not_this_one():
    plan, record = cw.Plan(cw.crop("pea"), "04-10"), running()
    as_it_was = cw.outlook(plan, record, sown="04-10")
    today = cw.outlook(plan, record, sown="04-10", climate="today")
    shift = cw.todays_climate(record).attrs["todays_tmax_shift_c"]
    assert shift > 0.1  # it has grown warmer at Pellbrook
    come = as_it_was["has_come"].values
    assert (today["date_mid"].values == as_it_was["date_mid"].values)[come].all()
    harvest = today["date"].sel(event="harvest") - as_it_was["date"].sel(event="harvest")
    moved = (harvest.dropna("year") / np.timedelta64(1, "D")).mean()
    assert moved < 0


def test_of_a_crop_not_yet_sown_each_start_is_grown_in_every_trace():
    plan, record = cw.Plan(cw.crop("pea"), "01-01"), running("2020-04-05")
    ahead = cw.outlook(plan, record)
    assert str(ahead["start"].values[0])[:10] == "2020-04-06"
    past = record.sel(time=slice(None, "2019"))
    for n in (3, 9):
        start = ahead["start"].values[n]
        day = f"{start.astype('datetime64[D]').astype(dt.date):%m-%d}"
        grown = cw.evaluate_plan(cw.Plan(plan.crop, day), past)
        # Weeks ahead, a trace is the past year itself: the same years succeed.
        expected = int((grown["outcome"] == "harvest").sum())
        assert int(ahead["harvested"].isel(start=n)) == expected
    assert (ahead["harvested"] <= ahead["known"]).all()
    assert (ahead["good"] <= ahead["harvested"]).all()


def test_warm_soil_is_the_first_five_days_that_reach_it():
    plan, record = cw.Plan(cw.crop("snap bean"), "01-01"), running("2020-04-05")
    ahead = cw.outlook(plan, record)
    limit = ahead.attrs["warm_soil_c"]
    seed = plan.crop.germination
    assert seed.minimum_c <= limit <= seed.optimum_low_c
    soil = cw.soil_temperature(record)
    for year in (2005, 2013):
        days = soil.sel(time=slice(f"{year}-03-25", f"{year}-07-30"))
        mean = days.rolling(time=5).mean()
        warm = mean["time"].values[(mean >= limit - 0.05).values]
        warm = warm[warm >= np.datetime64(f"{year}-04-05")]
        found = ahead["warm_soil"].sel(year=year).values.astype("datetime64[D]")
        expected = warm[0].astype("datetime64[D]").astype(dt.date).replace(year=2020)
        assert abs((found - np.datetime64(expected)) / ONE_DAY) <= 1  # the fit of another record


def test_a_raised_crop_asks_for_no_warm_soil():
    plan = cw.Plan(cw.crop("tomato"), "01-01", 6, "room with lights")
    ahead = cw.outlook(plan, running())
    assert np.isnan(ahead.attrs["warm_soil_c"])
    assert ahead["warm_soil"].isnull().all()
    assert int(ahead["known"].max()) > 30


def test_a_perennial_stands_without_a_start():
    ahead = cw.outlook(cw.Plan(cw.crop("apple"), "01-01"), running("2024-03-10"))
    assert ahead["event"].values.tolist() == event_names(cw.Plan(cw.crop("apple"), "01-01"))
    bloom = ahead["date"].sel(event="bloom or first growth").dropna("year").dt.month
    assert len(bloom) > 20
    assert bloom.isin([4, 5, 6]).all()


def test_in_the_south_it_is_the_same_six_months_later():
    north = running("2020-05-14").drop_vars("precip")
    time = north["time"].values.astype("datetime64[D]")
    south = north.assign_coords(time=(time + 184 * ONE_DAY).astype("datetime64[s]"))
    south = south.assign_attrs(latitude=-46.1)
    ahead = cw.outlook(cw.Plan(cw.crop("pea"), "04-10"), north, sown="04-10")
    mirrored = cw.outlook(cw.Plan(cw.crop("pea"), "04-10"), south, sown="10-11")
    assert mirrored.attrs["on"] == "2020-11-15"
    apart = mirrored["date_mid"].sel(event="harvest") - ahead["date_mid"].sel(event="harvest")
    assert abs(apart / np.timedelta64(1, "D") - 184) <= 5  # the sun stands nearer in their summer
    so_far = cw.season_so_far(south)
    assert 150 < so_far.attrs["first_day"] < 215
    assert so_far["odds"].sel(side="last spring").notnull().all()


def test_several_stations_are_told_as_each_alone():
    one = running("2020-05-14")[["tmin", "tmax"]]
    two = one + 2.0
    both = xr.concat([one, two.assign(tmin=two["tmin"], tmax=two["tmax"])], "station")
    for name in ("tmin", "tmax"):
        both[name].attrs = one[name].attrs
        two[name].attrs = one[name].attrs
    both.attrs = two.attrs = one.attrs
    plan = cw.Plan(cw.crop("pea"), "04-10")
    together = cw.outlook(plan, both, sown="04-10")
    for n, record in enumerate((one, two)):
        alone = cw.outlook(plan, record, sown="04-10")
        npt.assert_array_equal(
            together["date"].isel(station=n).transpose("event", "year"), alone["date"]
        )
        npt.assert_array_equal(together["share"].isel(station=n), alone["share"])


def test_an_interval_of_dates_holds_the_next_one_nine_times_in_ten():
    """Weibull's positions: of n + 1 exchangeable values the last lies inside as often as told."""
    rng = np.random.default_rng(5)
    values = rng.normal(size=(4000, 40))
    low, _, high = spread_of(values[:, :-1])
    held = np.mean((values[:, -1] >= low) & (values[:, -1] <= high))
    assert held == pytest.approx(0.9, abs=0.015)


# --- what is told, counted again from the traces ------------------------------------------

STANDING = (
    ("pea", "2012-05-05", "2012-06-01", 13.0),
    ("pea", "2012-05-05", "2012-05-15", 13.0),
    ("cauliflower", "2012-04-10", "2012-06-20", 13.0),
    ("tomato", "2012-05-10", "2012-06-20", 10.0),
    ("potato", "2012-03-01", "2012-07-28", 8.5),
    ("apple", None, "2012-04-20", 10.0),
)


@cache
def told(name, sown, on, mean):
    """An outlook at a place where some years fail."""
    return cw.outlook(cw.Plan(cw.crop(name), "04-01"), invented(7, mean=mean), on=on, sown=sown)


def weibull(dates, share):
    """A quantile of dates by SciPy, on Weibull's positions, to the nearest day."""
    from scipy.stats.mstats import mquantiles

    dates = dates[~np.isnat(dates)].astype("datetime64[D]")
    if not len(dates):
        return np.datetime64("NaT", "s")
    day = mquantiles((dates - dates.min()) / ONE_DAY, share, alphap=0, betap=0)[0]
    return (dates.min() + int(np.floor(day + 0.5)) * ONE_DAY).astype("datetime64[s]")


@pytest.mark.parametrize("asked", STANDING)
def test_what_is_told_of_a_standing_crop_follows_from_its_traces(asked):
    ahead, on = told(*asked), np.datetime64(asked[2])
    outcome = ahead["outcome"].values
    harvested, failed = int((outcome == "harvest").sum()), int((outcome == "failed").sum())
    assert set(outcome.tolist()) <= {"harvest", "failed", "unknown"}
    assert (int(ahead["harvested"]), int(ahead["known"])) == (harvested, harvested + failed)
    assert float(ahead["share"]) == pytest.approx(harvested / (harvested + failed))
    low, odds, high = (float(ahead[name]) for name in ("low", "odds", "high"))
    assert 0 <= low < odds < high <= 1
    assert high - low < 0.6
    growth = ahead["growth"].values
    npt.assert_array_equal(np.isfinite(growth), outcome == "harvest")
    good = int((growth[outcome == "harvest"] >= 0.6).sum())
    assert int(ahead["good"]) == good
    assert float(ahead["good_share"]) == pytest.approx(good / (harvested + failed))
    reasons = ahead["reason"].values
    assert ((reasons == "") == (outcome != "failed")).all()
    assert not ahead["stage"].values[outcome != "failed"].astype(bool).any()
    for number, word in enumerate(ahead["failure"].values.tolist()):
        assert word == list(REASONS)[number]
        assert int(ahead["failed_by"][number]) == int((reasons == word).sum())
    npt.assert_array_equal(np.isnat(ahead["failed_on"].values), outcome != "failed")
    over = (ahead["failed_on"].values < on) & (outcome == "failed")
    assert bool(ahead["has_failed"]) == (over.sum() == harvested + failed)
    _check_events(ahead, on)


def _check_events(ahead, on):
    stage = ""
    for event in ahead["event"].values.tolist():
        row = ahead.sel(event=event)
        dates = row["date"].values
        there = dates[~np.isnat(dates)]
        assert int(row["seen"]) == len(there)
        assert bool(row["has_come"]) == bool(len(there) and there.min() < on)
        stage = event if bool(row["has_come"]) else stage
        for end, share in (("low", 0.05), ("mid", 0.5), ("high", 0.95)):
            npt.assert_array_equal(row[f"date_{end}"].values, weibull(dates, share), err_msg=event)
    assert str(ahead["stage_now"].item()) == stage
    harvest = ahead.sel(event="harvest")
    start = ahead["as_of"].values[0]
    whole = harvest["usual_mid"].values - start
    assert bool(ahead["says_more"]) == (on - start >= 0.1 * whole)
    # What is expected on the date itself is what is told; before it, from two weeks to two weeks.
    for end in ("low", "mid", "high"):
        expected = ahead[f"expected_{end}"].values
        npt.assert_array_equal(expected[-1], harvest[f"date_{end}"].values)
        npt.assert_array_equal(expected[0], harvest[f"usual_{end}"].values)
    assert float(ahead["expected_share"][-1]) == pytest.approx(float(ahead["share"]))
    steps = np.diff(ahead["as_of"].values) / np.timedelta64(1, "D")
    assert (steps[:-1] == 14).all()
    assert 0 < steps[-1] <= 14
    assert ahead["as_of"].values[-1] == on


def test_these_outlooks_have_failures_and_harvests():
    words = {str(word) for asked in STANDING for word in told(*asked)["reason"].values}
    assert {"", "too hot", "not ripe before the end"} < words
    assert [bool(told(*asked)["has_failed"]) for asked in STANDING].count(True) == 1


def test_the_first_tenth_of_a_season_says_no_more_than_past_years():
    assert bool(told(*STANDING[0])["says_more"])
    assert not bool(told("pea", "2012-05-05", "2012-05-09", 13.0)["says_more"])


def test_the_usual_odds_are_of_the_years_in_which_it_still_stood():
    """Past years with their own weather, without those in which it had failed by this day."""
    grown = cw.evaluate_plan(cw.Plan(cw.crop("snap bean"), "04-25"), invented(7, mean=10.0))
    grown = grown.sel(season=slice(1999, 2011))
    harvested = int((grown["outcome"] == "harvest").sum())
    failed = grown["reason"].values[grown["outcome"].values == "failed"].tolist()
    assert set(failed) == {"did not come up: too cold"}  # which is settled by the middle of June
    early, late = (told("snap bean", "2012-04-25", on, 10.0) for on in ("2012-05-04", "2012-06-20"))
    assert int(early["harvest_usual_known"]) == harvested + len(failed)
    assert int(late["harvest_usual_known"]) == harvested
    assert float(early["harvest_usual_share"]) == pytest.approx(
        harvested / (harvested + len(failed))
    )
    assert float(late["harvest_usual_share"]) == 1
    for ahead in (early, late):
        low, odds, high = (
            float(ahead[f"harvest_usual_{name}"]) for name in ("low", "odds", "high")
        )
        assert 0 <= low < odds < high <= 1


@pytest.mark.parametrize(("on", "says_more"), [("2012-03-10", False), ("2012-05-10", True)])
def test_what_is_told_of_a_crop_to_be_started_follows_from_its_traces(on, says_more):
    ahead, date = told("snap bean", None, on, 10.0), np.datetime64(on)
    starts = ahead["start"].values.astype("datetime64[D]")
    npt.assert_array_equal(starts, date + 7 * np.arange(27) * ONE_DAY)
    assert ((ahead["harvested"] <= ahead["known"]) & (ahead["good"] <= ahead["harvested"])).all()
    npt.assert_allclose(ahead["share"], ahead["harvested"] / ahead["known"])
    failed = ahead["failed_by"].sum("failure").transpose("start")
    npt.assert_array_equal(failed, ahead["known"] - ahead["harvested"])
    assert ahead["failure"].values.tolist() == list(REASONS)
    came = (ahead["harvested"] > 0).values
    low, middle, high = (ahead[f"harvest_{end}"].values[came] for end in ("low", "mid", "high"))
    assert (ahead["start"].values[came] < low).all()
    assert (low <= middle).all()
    assert (middle <= high).all()
    for end, share in (("low", 0.05), ("mid", 0.5), ("high", 0.95)):
        assert ahead[f"warm_{end}"].values == weibull(ahead["warm_soil"].values, share)
    # In March nothing says when the soil will be warm but past years; in May this year's soil does.
    away = ahead["warm_mid"].values - date
    assert bool(ahead["soil_says_more"]) == (away <= np.timedelta64(15, "D")) == says_more
    usual = ahead["usual_warm_high"].values - ahead["usual_warm_low"].values
    now = ahead["warm_high"].values - ahead["warm_low"].values
    assert now < usual if says_more else now <= usual + np.timedelta64(3, "D")


def test_a_year_whose_soil_does_not_grow_warm_again_has_no_date():
    """In October, by the soil of each trace as a record of its own."""
    on, record = dt.date(2012, 10, 1), invented(7, mean=10.0)
    ahead = told("snap bean", None, str(on), 10.0)
    limit = ahead.attrs["warm_soil_c"]
    for year in ahead["year"].values.tolist():
        days = plain_trace(record, on, year - 2012, dt.date(2011, 9, 1), dt.date(2013, 4, 7))
        soil = cw.soil_temperature(days.assign_attrs(HERE)).sel(time=slice("2012-09-26", None))
        warmest = float(soil.rolling(time=5).mean().max())
        is_told = bool(ahead["warm_soil"].sel(year=year).notnull())
        assert is_told == (warmest >= limit) or abs(warmest - limit) < 0.5
    assert 0 < int(ahead["warm_soil"].isnull().sum()) < ahead.sizes["year"]


def test_an_outlook_says_which_record_it_is_of():
    record = invented(7).sel(time=slice(None, "2012-05-19"))
    record = record.assign_attrs(source="an invented file", station_name="Ash")
    for climate in ("record", "today"):
        plan = cw.Plan(cw.crop("pea"), "04-10")
        ahead = cw.outlook(plan, record, sown="04-10", climate=climate)
        expected = provenance(record if climate == "record" else cw.todays_climate(record))
        assert expected["source"] == "an invented file"
        assert {name: ahead.attrs[name] for name in expected} == expected
        assert (ahead.attrs["station_name"], ahead.attrs["climate"]) == ("Ash", climate)


def test_a_perennial_is_told_of_this_year_wherever_its_coldest_night_is_usual():
    """Of a record whose nights are coldest later than its days, and of one the other way round."""
    apart = set()
    for seed in (3, 5, 7, 9, 11):
        record = invented(seed, mean=8.5)
        site = filled_sites(
            record["time"].values[0].astype("datetime64[D]"),
            record["tmin"].values,
            record["tmax"].values,
            HERE["latitude"],
        ).usual
        apart.add(int(np.sign(int(cw.coldest_day(record)) - site.coldest_day)))
        for name in ("apple", "asparagus"):
            ahead = cw.outlook(cw.Plan(cw.crop(name), "01-01"), record, on="2012-04-20")
            harvest = ahead["date"].sel(event="harvest").dropna("year")
            assert int(ahead["known"]) == 13
            assert set(harvest.dt.year.values.tolist()) == {2012}
    assert apart >= {1, 0}


def test_a_parameter_that_is_refused_is_named():
    for given in ("2012-06-01", "2010-01-01", "31-31"):
        with pytest.raises(InputError) as refused:
            cw.outlook(cw.Plan(cw.crop("pea"), "04-10"), invented(7), on="2012-05-20", sown=given)
        assert str(refused.value).startswith("sown")
    early = invented(7).sel(time=slice("1999-05-01", "2000-04-01"))
    with pytest.raises(InputError, match=r"^sown, 1999-04-10, lies before the record's first day"):
        cw.outlook(
            cw.Plan(cw.crop("pea"), "04-10"),
            early,
            on="2000-04-01",
            sown="1999-04-10",
            few_years=True,
        )


# --- days that are missing ----------------------------------------------------------------


def without(record, first, last):
    gone = (record["time"] >= np.datetime64(first)) & (record["time"] <= np.datetime64(last))
    return record.where(~gone)


def test_a_few_missing_recent_days_are_bridged_and_said():
    record = without(running(), "2024-05-05", "2024-05-07")
    ahead = cw.outlook(cw.Plan(cw.crop("pea"), "04-10"), record, sown="04-10")
    so_far = cw.season_so_far(record)
    assert so_far.attrs["bridged_days"] == 3
    assert so_far["so_far"].sel(quantity="heat_sum").notnull()
    whole = cw.outlook(cw.Plan(cw.crop("pea"), "04-10"), running(), sown="04-10")
    apart = ahead["date_mid"].sel(event="harvest") - whole["date_mid"].sel(event="harvest")
    assert abs(apart) <= np.timedelta64(2, "D")


def test_a_longer_gap_of_this_year_widens_what_is_told():
    record = without(running(), "2024-04-20", "2024-05-08")
    plan = cw.Plan(cw.crop("pea"), "04-10")
    gap, whole = (cw.outlook(plan, each, sown="04-10") for each in (record, running()))

    def width(ahead):
        harvest = ahead.sel(event="harvest")
        return (harvest["date_high"] - harvest["date_low"]) / np.timedelta64(1, "D")

    assert width(gap) > width(whole)
    so_far = cw.season_so_far(record)
    assert so_far["so_far"].sel(quantity="heat_sum").isnull()  # it is not made up
    assert long_gaps(np.array([False, *[True] * 6, False, True, False])).tolist() == [
        False,
        *[True] * 6,
        False,
        False,
        False,
    ]


def test_a_record_that_ended_days_ago_is_gone_on_from_there():
    plan, record = cw.Plan(cw.crop("pea"), "04-10"), running("2024-05-04")
    late = cw.outlook(plan, record, on="2024-05-15", sown="04-10")
    assert late.attrs["through"] == "2024-05-04"
    assert late.attrs["days_behind"] == 10
    then = cw.outlook(plan, record, sown="04-10")
    xr.testing.assert_equal(late["date"], then["date"])  # nothing is known of the days between


def test_the_day_that_is_not_over_is_left_out():
    """A logger that was read at noon has a minimum of today, and no maximum yet."""
    plan, record = cw.Plan(cw.crop("pea"), "04-10"), running("2024-05-15")
    noon = record.copy(deep=True)
    noon["tmax"][-1] = noon["tmin"][-1] + 2
    for each in (record, noon):
        ahead = cw.outlook(plan, each, on="2024-05-15", sown="04-10")
        assert ahead.attrs["through"] == "2024-05-14"
        assert ahead.attrs["days_left_out"] == 1
        xr.testing.assert_equal(ahead, cw.outlook(plan, running(), sown="04-10"))
    noon["tmax"][-1] = np.nan  # without a maximum it is no day
    assert cw.outlook(plan, noon, sown="04-10").attrs["on"] == "2024-05-15"


# --- questions that cannot be -------------------------------------------------------------


@pytest.mark.parametrize(
    ("options", "match"),
    [
        ({"on": "15 May"}, "on is a date such as '2024-05-15', got '15 May'"),
        ({"on": "2023-02-29"}, "on is a date such as"),
        ({"on": 2024.5}, "on is a date such as"),
        ({"sown": "31-31"}, "sown is a day such as '04-28', or a date such as '2024-04-28'"),
        ({"sown": "2024-05-15"}, "sown, 2024-05-15, must lie before the date, 2024-05-15"),
        ({"sown": "2023-01-01"}, "sown, 2023-01-01, lies more than a year before"),
        ({"climate": "tomorrow"}, "climate must be one of record, today"),
    ],
)
def test_a_question_that_cannot_be_is_refused(options, match):
    with pytest.raises(InputError, match=match):
        cw.outlook(cw.Plan(cw.crop("pea"), "04-10"), running(), **options)


@pytest.mark.parametrize(
    ("on", "match"),
    [
        (
            "2024-06-20",
            r"last day before 2024-06-20 is 2024-05-14, 36 days earlier.*on='2024-05-15'",
        ),
        ("2030-01-01", "says nothing about this season"),
        ("1980-05-01", "The record begins on 1985-01-01: it has no day before 1980-05-01"),
        ("1991-05-01", "Too few years for odds: the record has [56] known"),
    ],
)
@pytest.mark.parametrize("ask", ["outlook", "season_so_far"])
def test_a_date_of_which_the_record_does_not_tell_is_refused(ask, on, match):
    plan = cw.Plan(cw.crop("pea"), "04-10")
    asked = {
        "outlook": lambda: cw.outlook(plan, running(), on=on, sown="04-10"),
        "season_so_far": lambda: cw.season_so_far(running(), on=on),
    }
    with pytest.raises(DataGapError, match=match):
        asked[ask]()


def test_few_years_are_told_where_they_are_asked_for():
    plan = cw.Plan(cw.crop("pea"), "04-10")
    ahead = cw.outlook(plan, running(), on="1991-05-01", sown="04-10", few_years=True)
    assert int(ahead["known"]) == 6


def test_month_and_day_mean_the_latest_before_the_date():
    garlic = cw.Plan(cw.crop("garlic"), "10-15")
    assert cw.outlook(garlic, running(), sown="10-15").attrs["sown"] == "2023-10-15"
    assert cw.outlook(garlic, running(), sown="02-20").attrs["sown"] == "2024-02-20"
    whole = cw.outlook(garlic, running(), sown=dt.date(2023, 10, 15))
    assert whole.attrs["sown"] == "2023-10-15"


def test_neither_a_record_without_rain_nor_an_outlook_warns():
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        cw.season_so_far(running().drop_vars("precip"))
        cw.outlook(cw.Plan(cw.crop("pea"), "04-10"), running(), sown="04-10")


def test_a_crop_that_has_failed_says_so_in_every_trace():
    record = running().copy(deep=True)
    night = record["time"].values == np.datetime64("2024-05-10")
    record["tmin"][night] = -15.0
    ahead = cw.outlook(cw.Plan(cw.crop("snap bean"), "04-20"), record, sown="04-20")
    assert bool(ahead["has_failed"])
    assert set(ahead["reason"].values[ahead["outcome"].values == "failed"].tolist()) <= {
        "killed by cold",
        "did not come up: too cold",
    }
    assert float(ahead["share"]) == 0
    assert event_days(cw.Plan(cw.crop("pea"), "04-10"), _lives()).shape == (5 + 1, 3)


def _lives():
    from climwin.planning.traces import Lives

    empty = np.zeros((3, 1))
    return Lives(*[empty] * 4, np.zeros((3, 1, 3)), *[empty] * 4)


# --- pieces by hand -----------------------------------------------------------------------


@pytest.mark.parametrize("seed", range(8))
def test_warm_soil_is_found_by_a_plain_search_in_every_trace(monkeypatch, seed):
    """Five days whose mean is the limit, or as much below it as a thermometer rounds."""
    rng = np.random.default_rng(seed)
    begin, on, limit = 80, 100, 10.0
    end = on + START_EVERY * STARTS + 12
    soil = rng.choice([9.0, 9.94, 9.96], (9, end - begin))
    soil[0] = 9.94
    for trace in range(1, 8):  # the last of the five days is this one
        last = (on - 2, on - 1, on, on + 1, on + 60, end - 14, end - 13)[trace - 1]
        soil[trace] = 9.0
        soil[trace, last - WARM_DAYS + 1 - begin : last + 1 - begin] = 9.96
    made = SimpleNamespace(
        traces=len(soil),
        length=soil.shape[1],
        outdoors=lambda _: SimpleNamespace(soil_sowing=soil.ravel()),
    )
    monkeypatch.setattr(season, "TraceSite", lambda *_: made)
    monkeypatch.setattr(season, "long_gaps", lambda missing: missing)
    joint = SimpleNamespace(begin=begin, end=end, sources=lambda _: ())
    sites = SimpleNamespace(
        own=SimpleNamespace(missing=None, usual=None), past=SimpleNamespace(usual=None)
    )
    found = _warm_soil(cw.Plan(cw.crop("pea"), "04-01"), sites, joint, on, limit)
    for trace, days in enumerate(soil):
        expected = next(
            (
                day
                for day in range(on - 1, on + START_EVERY * STARTS)
                if np.mean(days[day - begin - WARM_DAYS + 1 : day - begin + 1]) >= limit - 0.05
            ),
            np.nan,
        )
        npt.assert_equal(found[trace], expected)


def test_odds_of_each_station_are_counted_from_its_own_traces():
    reason = np.full((2, 12), float(HARVEST))
    reason[0, :3], reason[1, :11], reason[1, 11] = 4.0, OPEN, HARVEST
    growth = np.where(reason == HARVEST, 0.8, np.nan)
    growth[0, 5:7] = 0.6, 0.59  # the least that is good, and just below
    dims = ("station", "year")
    found = xr.Dataset({"reason_number": (dims, reason), "growth": (dims, growth)})
    told = _with_odds(xr.Dataset(), found, few_years=True)
    assert told["harvested"].values.tolist() == [9, 1]
    assert told["known"].values.tolist() == [12, 1]
    assert told["good"].values.tolist() == [8, 1]
    npt.assert_allclose(told["good_share"], [8 / 12, 1.0])
    odds = odds_of(told["harvested"], told["known"], kind="harvest", climate="record")
    for name in ("share", "odds", "low", "high"):
        npt.assert_array_equal(told[name], odds[name])
    nothing = _with_odds(xr.Dataset(), found.assign(reason_number=(dims, reason * 0 + OPEN)), True)
    assert nothing["good_share"].isnull().all()


@pytest.mark.parametrize(
    ("plan", "told"),
    [
        (cw.Plan(cw.crop("pea"), "04-01"), ("up", "begins", "ripe", "last")),
        (
            cw.Plan(cw.crop("tomato"), "04-01", 6, "cold frame"),
            ("up", "set_out", "begins", "ripe", "last"),
        ),
        (cw.Plan(cw.crop("tomato"), "05-01", plants="bought"), ("begins", "ripe", "last")),
        (cw.Plan(cw.crop("apple"), "01-01"), ("up", "ripe", "last")),
    ],
    ids=lambda each: each.name if isinstance(each, cw.Plan) else "",
)
def test_days_of_events_are_those_of_the_first_start_in_their_order(plan, told):
    stages = len(plan.crop.stages)
    values = np.arange(9 * 4 * 2.0).reshape(9, 4, 2)  # four traces, two starts
    fields = dict(zip([n for n in Lives._fields if n != "begins"], values, strict=False))
    begins = 1000 + np.arange(4 * 2 * stages * 1.0).reshape(4, 2, stages)
    lives = Lives(**fields, begins=begins)
    expected = []
    for name in told:
        of_first = getattr(lives, name)[:, 0]
        expected += of_first.T.tolist() if name == "begins" else [of_first.tolist()]
    found = event_days(plan, lives)
    assert found.tolist() == expected
    assert len(found) == len(event_names(plan))


def test_days_of_the_record_are_dates_rounded_half_up():
    days = xr.DataArray([0.0, 1.4, 1.5, 2.0, np.nan], dims="year")
    found = _as_dates(days, np.datetime64("2020-02-27"))
    expected = ["2020-02-27", "2020-02-28", "2020-02-29", "2020-02-29", "NaT"]
    npt.assert_array_equal(found.values, np.array(expected, "datetime64[s]"))


@pytest.mark.parametrize("first", ["2017-01-01", "2017-09-30"])
def test_past_years_are_those_of_the_record_before_this_one(first):
    asked = SimpleNamespace(through=np.datetime64("2020-05-03"))
    assert _shifts(np.datetime64(first), asked).tolist() == [-3, -2, -1]


def test_the_usual_odds_are_of_the_years_in_which_a_crop_still_stood():
    """Two stations: harvests, failures before the date, on it and after, and one that is open."""
    dims, frost = ("station", "year"), 4.0
    reason = [[HARVEST, HARVEST, HARVEST, frost, frost, frost, frost, OPEN], [HARVEST] + [OPEN] * 7]
    failed = [[np.nan, 90.0, np.nan, 80.0, 99.0, 100.0, 120.0, np.nan], [np.nan] * 8]
    found = xr.Dataset(
        {"usual_reason": (dims, np.array(reason, float)), "usual_failed": (dims, failed)}
    )
    told = _with_usual_odds(xr.Dataset({"as_it_is": 1}), found, seam=100)
    assert told["as_it_is"] == 1
    assert told["harvest_usual_known"].values.tolist() == [5, 1]
    odds = odds_of(
        xr.DataArray([3, 1], dims="station"),
        xr.DataArray([5, 1], dims="station"),
        kind="harvest",
        climate="record",
    )
    for name in ("share", "odds", "low", "high"):
        npt.assert_array_equal(told[f"harvest_usual_{name}"], odds[name])
    assert len(told) == 6


def test_the_stage_now_is_the_latest_that_has_come():
    has_come = [[True, True, False], [False, False, False], [True, False, True], [True, True, True]]
    out = xr.Dataset(
        {"has_come": (("station", "event"), has_come)},
        coords={"event": ["emergence", "leaves", "harvest"]},
    )
    assert _stage_now(out).values.tolist() == ["leaves", "", "harvest", "harvest"]


@pytest.mark.parametrize(
    ("name", "given", "stands"),
    [("pea", "04-10", True), ("pea", None, False), ("apple", None, True)],
)
def test_an_outlook_says_what_was_asked_and_has_the_words_of_its_crop(
    monkeypatch, name, given, stands
):
    asked = []

    def told(kind):
        def tell(question, record, past, few_years):
            asked.append((kind, question, past.attrs.get("climate"), few_years))
            return xr.Dataset({"told": 1})

        return tell

    monkeypatch.setattr(season, "_standing", told("stands"))
    monkeypatch.setattr(season, "_still_to_start", told("to start"))
    record = running("2024-05-16").assign_attrs(station_name="Pellbrook Mill")
    plan = cw.Plan(cw.crop(name), "04-01")
    ahead = cw.outlook(plan, record, on="2024-05-15", sown=given, climate="today", few_years=True)
    [(kind, question, climate, few_years)] = asked
    assert (kind == "stands", climate, few_years) == (stands, "today", True)
    start = None if given is None else np.datetime64("2024-04-10")
    assert (question.plan, question.start) == (plan, start)
    expected = {
        "station_name": "Pellbrook Mill",
        "plan": plan.name,
        "crop": name,
        "crop_plural": {"pea": "peas", "apple": "apples"}[name],
        "crop_be": "are",
        "start_verb": {"pea": "sow", "apple": ""}[name],
        "harvest_verb": plan.crop.harvest_verb,
        "on": "2024-05-15",
        "through": "2024-05-14",
        "days_behind": 0,
        "sown": "2024-04-10" if given else "",
        "interval": 0.9,
        "climate": "today",
    }
    assert {key: ahead.attrs[key] for key in expected} == expected
    assert ahead.attrs["source"] == record.attrs["source"]
