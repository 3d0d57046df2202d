"""Plans in every year: counted by hand, over gaps, stations, hemispheres and the end of records."""

from functools import cache
from types import SimpleNamespace

import numpy as np
import numpy.testing as npt
import pytest
import scipy.stats
import xarray as xr
from hypothesis import given, settings
from hypothesis import strategies as st
from planning import plain_choice, plain_spans
from records import (
    HALF_A_YEAR,
    daily,
    days,
    filled,
    missing,
    moved,
    side_by_side,
    weather,
    weathers,
)

from climwin.climate.level import todays_climate
from climwin.core.seasons import DAYS, date_of, day_name, day_number
from climwin.core.stats import paired_difference
from climwin.crops.catalogue import crop
from climwin.planning.counts import (
    BLOCK_COUNTS,
    _by_year,
    _failed_share,
    _mean_of,
    _over_draws,
    _quantiles_over_draws,
)
from climwin.planning.evaluate import (
    compare_evaluated,
    compare_plans,
    evaluate_plan,
    harvest_odds,
)
from climwin.planning.grown import HARVEST_LEVELS, Calendar, Drawn, Grown, grow_plan
from climwin.planning.growth import HARVEST, NEVER, OPEN, REASONS, grow
from climwin.planning.perennial import COLD_BEFORE_START, REST_BEFORE, stand
from climwin.planning.plan import Plan
from climwin.planning.selection import simultaneous_band
from climwin.planning.site import ANNUAL_REACH, PERENNIAL_REACH, filled_sites
from climwin.planning.sweep import _chosen, at_day, sweep_plans, sweep_start_dates, sweep_years

PEA, TOMATO, LETTUCE = crop("pea"), crop("tomato"), crop("lettuce")
PLANS = [
    Plan(PEA, "04-10"),
    Plan(TOMATO, "03-25", 7, "frost-free greenhouse", fleece_weeks=2),
    Plan(TOMATO, "05-15", plants="bought"),
    Plan(crop("garlic"), "10-10"),
    Plan(crop("apple"), "01-01"),
]
NAMES = [f"{plan.crop.name}, {plan.name}" for plan in PLANS]


def at(record, latitude=44.0):
    record.attrs["latitude"] = latitude
    return record


# --- one plan -----------------------------------------------------------------------------


def test_dates_follow_each_other_and_outcomes_have_their_words():
    record = at(weather(4, years=6, mean=10.0))
    for plan in PLANS:
        found = evaluate_plan(plan, record)
        outcome = found["outcome"].values
        assert set(outcome) <= {"harvest", "failed", "unknown"}
        npt.assert_array_equal(found["harvested"] == 1, outcome == "harvest")
        npt.assert_array_equal(found["harvested"].isnull(), outcome == "unknown")
        npt.assert_array_equal(np.isin(found["reason"], REASONS), outcome == "failed")
        npt.assert_array_equal(found["growth"].notnull(), outcome == "harvest")
        assert (found["yield_index"].values[outcome == "failed"] == 0).all()
        ripe = found.isel(season=outcome == "harvest")
        begins = ripe["stage_begin"]
        npt.assert_array_equal(begins.isel(stage_name=0), ripe["emergence"])
        if not plan.crop.is_perennial:
            assert (np.diff(begins.values.astype(int), axis=-1) >= 0).all()
            assert (ripe["emergence"] >= ripe["start"]).all()
            assert (ripe["harvest_begin"] >= begins.isel(stage_name=-1)).all()
            out = np.timedelta64(7 * plan.weeks_under_cover, "D")
            npt.assert_array_equal(ripe["set_out"], ripe["start"] + out)
        assert (ripe["harvest_end"] >= ripe["harvest_begin"]).all()


def test_what_died_has_no_later_dates():
    record = at(weather(4, years=12, mean=8.0))
    dead = 0
    for start in ("03-20", "08-20", "10-01"):
        found = evaluate_plan(Plan(LETTUCE, start), record)
        for year in found.season.values:
            row = found.sel(season=year)
            if row["outcome"] != "failed" or row["stage"] == "":
                continue
            dead += 1
            struck = row["stage"].item()
            later = list(found["stage_name"].values)[
                list(found["stage_name"].values).index(struck) + 1 :
            ]
            assert row["stage_begin"].sel(stage_name=later).isnull().all()
            assert row["harvest_begin"].isnull()
            assert row["harvest_end"].isnull()
    assert dead > 3


def test_days_outdoors_are_those_of_the_plant_in_the_open():
    record = at(weather(4, years=6, mean=12.0))
    for plan in PLANS[:3]:
        found = evaluate_plan(plan, record)
        begun = np.maximum(found["emergence"].values, found["set_out"].values)
        lived = (found["harvest_begin"].values - begun) / np.timedelta64(1, "D")
        npt.assert_array_equal(found["days_outdoors"], lived)


# --- counting -----------------------------------------------------------------------------


def judged(*rows):
    """What `evaluate_plan` gives, by hand: outcome, reason and growth of each year."""
    harvested = [{"h": 1.0, "f": 0.0, "u": np.nan}[kind] for kind, _, _ in rows]
    return xr.Dataset(
        {
            "harvested": ("season", harvested),
            "reason": ("season", [reason for _, reason, _ in rows]),
            "growth": ("season", [growth for _, _, growth in rows]),
        },
        coords={"season": np.arange(2001, 2001 + len(rows))},
    )


def test_odds_are_counts_of_years():
    found = harvest_odds(
        judged(
            ("h", "", 0.8),
            ("h", "", 0.6),
            ("h", "", 0.59),
            ("f", "killed by cold", np.nan),
            ("f", "killed by cold", np.nan),
            ("f", "bolted", np.nan),
            ("u", "", np.nan),
        )
    )
    counts = {name: int(found[name]) for name in ("harvested", "known", "unknown", "good")}
    assert counts == {"harvested": 3, "known": 6, "unknown": 1, "good": 2}
    assert found["share"].item() == 0.5
    assert found["good_share"].item() == pytest.approx(1 / 3)
    assert found["growth"].item() == pytest.approx((0.8 + 0.6 + 0.59) / 3)
    failed = found["failed_by"].to_series()
    assert failed[failed > 0].to_dict() == {"killed by cold": 2, "bolted": 1}
    assert found["odds"].item() == 0.5
    assert found["good_odds"].item() == pytest.approx(2 / 6)
    # Six years that follow each other are worth 4.8, half of them with a harvest.
    beta = scipy.stats.beta(2.9, 2.9)
    assert found["low"].item() == pytest.approx(beta.ppf(0.05))
    assert found["high"].item() == pytest.approx(beta.ppf(0.95))
    assert (found.attrs["interval"], found.attrs["next_years"]) == (0.9, 10)


def test_where_no_year_is_known_there_are_no_odds():
    found = harvest_odds(judged(("u", "", np.nan), ("u", "", np.nan)))
    assert (int(found["known"]), int(found["unknown"])) == (0, 2)
    assert found[["share", "low", "high", "good_share", "growth"]].to_array().isnull().all()


@pytest.mark.parametrize("plan", PLANS[:4], ids=NAMES[:4])
def test_a_sweep_is_each_start_dates_own_evaluation(plan):
    record = at(weather(8, years=6, mean=10.0, gaps=0.004))
    swept = sweep_start_dates(plan, record)
    for day in (1, 59, 60, 101, 135, 200, 283, 365):
        own = evaluate_plan(Plan(**{**_fields(plan), "start": day_name(day)}), record)
        odds, here = harvest_odds(own), swept.sel(start_day=day)
        for name in ("harvested", "known", "unknown", "good", "failed_by"):
            npt.assert_array_equal(here[name], odds[name])
        for name in ("share", "low", "high", "good_share", "growth"):
            npt.assert_allclose(here[name], odds[name], rtol=1e-12)
        known = own["harvested"].notnull()
        worth = own["yield_index"].where(known, 0).sum() / max(int(known.sum()), 1)
        npt.assert_allclose(here["yield_index"], worth, rtol=1e-12)
        since = (own["harvest_begin"] - own["start"]) / np.timedelta64(1, "D")
        ripe = since.values[own["harvested"].values == 1] + day
        npt.assert_allclose(here["failed_share"], odds["failed_share"], rtol=1e-12)
        if int(here["leaning"]):  # the draws have harvest days too, see below
            continue
        if len(ripe):
            expected = np.quantile(ripe, (0.1, 0.5, 0.9), method="hazen")
            npt.assert_allclose(here["harvest_day"], expected)
            outdoors = own["days_outdoors"].values[own["harvested"].values == 1]
            npt.assert_allclose(here["days_outdoors"], np.quantile(outdoors, 0.5, method="hazen"))
        else:
            assert here["harvest_day"].isnull().all()
    best = swept["yield_index"].max().item()
    npt.assert_allclose(swept["expected_crop"] * best, swept["yield_index"])


@cache
def swept_with_lives(plan):
    """A sweep of a record without gaps, and the lives that it counts, shape (seasons, 365)."""
    record = at(weather(8, years=11, mean=10.0))
    first = record["time"].values[0].astype("datetime64[D]")
    size = record.sizes["time"]
    sites = filled_sites(first, record["tmin"].values, record["tmax"].values, 44.0)
    calendar = Calendar(np.arange(1999, 2010), first, size)
    return sweep_plans([plan], record).isel(plan=0), grow_plan(
        plan, sites, calendar, np.arange(1, DAYS + 1)
    )


@pytest.mark.parametrize("plan", PLANS[:2], ids=NAMES[:2])
def test_a_sweep_counts_its_lives(plan):
    swept, lives = swept_with_lives(plan)
    came, known = lives.reason == HARVEST, lives.reason != OPEN
    for name, counted in (
        ("harvested", came),
        ("known", known),
        ("unknown", ~known),
        ("good", came & (lives.growth >= 0.6)),
    ):
        npt.assert_array_equal(swept[name], counted.sum(axis=0))
    assert not swept["leaning"].any()
    for number, reason in enumerate(REASONS):
        npt.assert_array_equal(
            swept["failed_by"].sel(reason=reason), (lives.reason == number).sum(axis=0)
        )
    low, high = simultaneous_band(came, known)
    npt.assert_allclose(swept["band_low"], low)
    npt.assert_allclose(swept["band_high"], high)
    assert (swept["band_low"] <= swept["share"]).all()
    assert (swept["share"] <= swept["band_high"]).all()
    assert swept["elsewhere_low"] <= swept["elsewhere_share"] <= swept["elsewhere_high"]
    assert swept["elsewhere_share"].attrs["long_name"] == (
        "share of harvests from the best date, in years left out of the choice"
    )
    tables = {
        "block_harvested": came,
        "block_known": known,
        "block_worth": np.where(known, lives.yield_index, 0.0),
        "block_growth": np.where(came, lives.growth, 0.0),
    }
    for number, (begin, after) in enumerate(plain_choice.blocks(len(came))):
        for name, values in tables.items():
            npt.assert_allclose(
                swept[name].isel(block=number), values[begin:after].sum(axis=0), err_msg=name
            )


@pytest.mark.parametrize("plan", PLANS[:2], ids=NAMES[:2])
def test_the_dates_that_lead_in_a_sweep_are_those_of_its_curves(plan):
    swept, _ = swept_with_lives(plan)
    tables = [swept[f"block_{name}"].values for name in ("harvested", "known", "worth", "growth")]
    usual = swept["harvest_day"].sel(quantile=0.5).values - swept["start_day"].values
    expected = plain_spans.choice(
        *(swept[name].values.tolist() for name in ("share", "growth", "yield_index")),
        usual.tolist(),
        plain_spans.Tables(*(each.tolist() for each in tables)),
        (int(swept["coldest"]), int(swept["warmest"])),
        needs_winter=False,
        is_cool=plan.crop.season == "cool",
    )
    for name in ("first", "best", "last"):
        column = "best_day" if name == "best" else f"best_{name}"
        assert int(swept[column]) == expected[name]
    assert int(swept["best_season"]) == expected["season"]
    assert float(swept["elsewhere_harvested"]) == pytest.approx(expected["harvested"])
    assert float(swept["elsewhere_known"]) == expected["known"]
    npt.assert_allclose(swept["stable"], expected["stable"], atol=1e-9)


def test_many_stations_do_without_the_band():
    record = at(weather(8, years=3))
    without = sweep_plans(PLANS[:1], record, with_band=False)
    assert without["band_low"].isnull().all()
    assert without["band_high"].isnull().all()
    assert without["share"].notnull().any()


def test_a_gap_on_the_records_first_day_counts_for_what_stands_on_it():
    """A frost may have struck on it: so near to it in another year one did, and kills."""
    record = at(weather(3, years=4, mean=13.0, swing=3.0, spells=1.0))
    plan = Plan(crop("lettuce"), "01-01", plants="bought")
    assert (evaluate_plan(plan, record)["outcome"].values[:3] == "harvest").all()
    record["tmin"].values[365 + 2] = -20.0
    record["tmin"].values[0] = np.nan
    found = evaluate_plan(plan, record)["outcome"].values
    assert found[:2].tolist() == ["unknown", "failed"]


def _fields(plan):
    return {name: getattr(plan, name) for name in plan.__dataclass_fields__}


def test_several_plans_are_swept_as_each_alone():
    record = at(weather(8, years=4, mean=10.0))
    both = sweep_plans(PLANS, record)
    for n, plan in enumerate(PLANS):
        alone = sweep_start_dates(plan, record)
        for name in ("harvested", "known", "share", "growth", "yield_index", "harvest_day"):
            npt.assert_array_equal(both[name].isel(plan=n), alone[name])
    assert both["expected_crop"].max() == 1
    assert (sweep_start_dates(PLANS[4], record)["known"].values[1:] == 0).all()
    with pytest.raises(ValueError, match="There is no plan to grow"):
        sweep_plans([], record)


def difference_by_draws(plan, other, record):
    """Mean difference of the shares over the draws, of the years that each draw decides."""
    outcomes = []
    for each in (plan, other):
        years = evaluate_plan(each, record)
        harvested, drawn = years["harvested"].values, years["harvested_drawn"].values
        outcomes.append(np.where(np.isnan(harvested)[:, None], drawn, harvested[:, None]))
    differences = [
        [a - b for a, b in zip(first, second, strict=True)]
        for first, second in zip(*outcomes, strict=True)
        if not np.isnan([*first, *second]).any()
    ]
    return np.mean(differences)


def test_rivals_are_compared_on_the_years_known_for_both():
    record = at(weather(21, years=14, mean=8.0, gaps=0.01))
    plan, other = Plan(LETTUCE, "08-10"), Plan(LETTUCE, "07-15")
    words = [evaluate_plan(each, record)["outcome"].values for each in (plan, other)]
    pairs = [(a, b) for a, b in zip(*words, strict=True) if "unknown" not in (a, b)]
    found = compare_plans(plan, other, record)
    counts = {
        "both": pairs.count(("harvest", "harvest")),
        "only_plan": pairs.count(("harvest", "failed")),
        "only_other": pairs.count(("failed", "harvest")),
        "neither": pairs.count(("failed", "failed")),
        "known": len(pairs),
    }
    assert {name: int(found[name]) for name in counts} == counts
    assert counts["only_other"] != counts["only_plan"]
    assert len(pairs) < 14
    difference = difference_by_draws(plan, other, record)
    assert found["difference"].item() == pytest.approx(difference)
    assert found["low"] < found["difference"] < found["high"]
    back = compare_plans(other, plan, record)
    assert back["difference"].item() == pytest.approx(-difference)
    assert back["low"].item() == pytest.approx(-found["high"].item())


# --- the circle of the year, the south ----------------------------------------------------


def same_years(seed=5, count=7):
    """The same year again and again, so that records of different cuts hold the same weather."""
    year = weather(seed, 1, mean=11.0, swing=10.0).isel(time=slice(0, 365))
    time = days("2001-01-01", f"{2000 + count}-12-31")
    day = np.arange(len(time)) % 365
    return daily(time, **{name: year[name].values[day] for name in ("tmin", "tmax")})


def test_starts_wrap_round_the_end_of_the_year():
    # On 1 January and on 31 December before it a plan meets nearly the same life.
    record = at(weather(6, years=8, mean=13.0, swing=6.0), 36.0)
    swept = sweep_start_dates(Plan(crop("broad bean"), "12-01"), record)
    assert swept.sizes["start_day"] == DAYS
    for name in ("harvested", "growth", "harvest_day"):
        ends = swept[name].sel(start_day=[365, 1])
        shift = np.array([0, 365]) if name == "harvest_day" else 0
        step = np.diff((ends.T + shift).values, axis=-1)
        assert (np.abs(step) <= {"harvested": 2, "growth": 0.05, "harvest_day": 5}[name]).all()
    # A start late in the year is harvested in the next one.
    assert (swept["harvest_day"].sel(start_day=330, quantile=0.5) > DAYS).item()


@pytest.mark.parametrize("plan", PLANS[:4], ids=NAMES[:4])
def test_southern_half_is_half_a_year_later(plan):
    north = at(same_years(), 44.0)
    south = at(moved(same_years()), -44.0)
    n, s = sweep_start_dates(plan, north), sweep_start_dates(plan, south)
    back = (np.arange(DAYS) + HALF_A_YEAR) % DAYS
    share = {"north": n["share"].values, "south": s["share"].values[back]}
    # The earth's path is no circle: summers differ by a few days and by some of the sun.
    assert np.abs(share["north"] - share["south"]).mean() < 0.06
    both = (share["north"] == 1) & (share["south"] == 1)
    assert both.sum() > 30
    life = [
        each["harvest_day"].sel(quantile=0.5).values - each["start_day"].values for each in (n, s)
    ]
    apart = np.abs(life[0] - life[1][back])[both]
    assert np.median(apart) <= 2
    assert apart.max() <= 12


@pytest.mark.parametrize("coldest", [-8, 20])
@pytest.mark.parametrize("name", ["apple", "asparagus", "peach"])
def test_a_perennials_year_is_the_one_of_its_harvest_in_the_north(name, coldest):
    """Also where the coldest day is usually in December."""
    record = at(weather(5, years=8, mean=10.0, swing=12.0, coldest=coldest))
    grown = evaluate_plan(Plan(crop(name), "01-01"), record)
    harvest = grown["harvest_begin"].dropna("season")
    assert harvest.sizes["season"] >= 6
    npt.assert_array_equal(harvest.dt.year, harvest["season"])
    assert grown["outcome"].values[0] == "unknown"  # the winter before is not in the record
    assert grown["outcome"].values[-1] != "unknown"


# --- gaps ---------------------------------------------------------------------------------


def alike(found, expected, tolerance=1e-6):
    for name in found:
        if found[name].dtype.kind in "fi":
            npt.assert_allclose(found[name], expected[name], atol=tolerance, err_msg=str(name))
        else:
            npt.assert_array_equal(found[name], expected[name], err_msg=str(name))


def test_each_draw_is_grown_like_a_record_of_its_own():
    record = at(weather(21, years=6, mean=8.0, gaps=0.05))
    time = record["time"].values.astype("datetime64[D]")
    low, high = record["tmin"].values, record["tmax"].values
    sites = filled_sites(time[0], low, high, 44.0)
    calendar = Calendar(np.arange(1999, 2005), time[0], len(time))
    for plan in (
        Plan(LETTUCE, "05-10"),
        Plan(crop("tomato"), "04-10", 6, "cold frame"),
        Plan(crop("apple"), "01-01"),
    ):
        days, drawn_days = np.arange(60, 270, 3), sites.drawn(ANNUAL_REACH)
        if plan.crop.is_perennial:
            days, drawn_days = np.array([1]), sites.drawn(PERENNIAL_REACH)
        drawn = grow_plan(plan, sites, calendar, days).drawn
        assert drawn is not None
        for number in (0, 5):
            minima, maxima = (
                values.reshape(drawn_days.draws, -1)[number]
                for values in (drawn_days.tmin, drawn_days.tmax)
            )
            alone = grow_plan(plan, filled_sites(time[0], minima, maxima, 44.0), calendar, days)
            here = drawn.season, drawn.start
            decided = drawn.reason[:, number] != OPEN
            assert decided.any()
            npt.assert_array_equal(drawn.reason[decided, number], alone.reason[here][decided])
            for name in ("growth", "yield_index"):
                mine, theirs = getattr(drawn, name)[:, number], getattr(alone, name)[here]
                # The soil's and the place's usual year are those of the record, not of the draw.
                npt.assert_allclose(mine[decided], theirs[decided], rtol=2e-2)
            mine, theirs = drawn.harvest_begin[:, number], alone.harvest_begin[here]
            npt.assert_allclose(mine[decided], theirs[decided], atol=1)


def test_years_that_hang_on_a_gap_count_as_their_draws_say():
    record = at(weather(21, years=14, mean=8.0, gaps=0.01))
    plan = Plan(LETTUCE, "08-10")
    years = evaluate_plan(plan, record)
    odds = harvest_odds(years)
    is_open = (years["outcome"] == "unknown") & years["harvested_drawn"].notnull().all("draw")
    assert odds["leaning"] == is_open.sum() > 0
    chances = [
        year["harvested"].item()
        if year["harvested"].notnull()
        else year["harvested_drawn"].mean().item()
        for _, year in years.groupby("season")
    ]
    assert odds["share"].item() == pytest.approx(np.nanmean(chances))
    every = int(odds["known"] + odds["unknown"])
    assert odds["share_least"].item() == pytest.approx(odds["harvested"].item() / every)
    assert odds["share_least"] <= odds["share"] <= odds["share_most"]
    swept = sweep_start_dates(plan, record).sel(start_day=day_number("08-10"))
    for name in ("share", "low", "high", "leaning", "good_share", "share_least", "share_most"):
        assert swept[name].item() == pytest.approx(odds[name].item()), name


def test_reasons_of_years_that_hang_on_a_gap_count_as_their_draws_say():
    record = at(weather(21, years=14, mean=8.0, gaps=0.01))
    years = evaluate_plan(Plan(LETTUCE, "08-10"), record)
    odds = harvest_odds(years)
    assert int(odds["leaning"])
    shares = []
    for number in range(years.sizes["draw"]):
        drawn = years["reason_drawn"].values[:, number]
        told = np.where(years["outcome"].values == "unknown", drawn, years["reason"].values)
        has_answer = (years["outcome"] != "unknown") | years["harvested_drawn"].notnull().all(
            "draw"
        )
        told = told[has_answer.values]
        shares.append([np.mean(told == reason) for reason in odds["reason"].values])
    npt.assert_allclose(odds["failed_share"], np.mean(shares, axis=0))
    assert odds["failed_share"].sum() + odds["share"] == pytest.approx(1.0)
    assert float(odds["failed_share"].sum()) > 0


def test_harvest_days_are_the_mean_of_what_each_draw_makes_them():
    ripe = np.array([[60.0], [70.0], [np.nan], [np.nan]])
    draws = np.array([[80.0, np.nan, 90.0]])  # of the third year; the fourth fails for sure
    lives = np.zeros((1, 3))
    drawn = Drawn(np.array([2]), np.array([0]), lives, lives, lives, draws)
    known = np.quantile([60, 70], HARVEST_LEVELS, method="hazen")
    grown = SimpleNamespace(drawn=drawn, harvest_begin=ripe, harvest_quantiles=known[None])
    found = _quantiles_over_draws(grown)
    samples = [[60, 70, 80], [60, 70], [60, 70, 90]]
    each = [np.quantile(sample, HARVEST_LEVELS, method="hazen") for sample in samples]
    npt.assert_allclose(found, np.mean(each, axis=0)[None])


def test_a_start_that_one_draw_alone_brings_to_a_harvest_has_that_draws_days():
    ripe = np.full((3, 1), np.nan)
    draws = np.array([[np.nan, 80.0, np.nan]])
    lives = np.full((1, 3), np.nan)
    drawn = Drawn(np.array([2]), np.array([0]), lives, lives, lives, draws)
    never = np.full((1, len(HARVEST_LEVELS)), np.nan)
    grown = SimpleNamespace(drawn=drawn, harvest_begin=ripe, harvest_quantiles=never)
    npt.assert_array_equal(_quantiles_over_draws(grown), [[80.0] * len(HARVEST_LEVELS)])


def test_the_slope_of_the_harvests_is_that_of_a_straight_line():
    record = at(weather(5, years=30, mean=9.0))
    plan = Plan(crop("tomato"), "05-10")
    years = evaluate_plan(plan, record)
    known = years["harvested"].notnull().values
    harvested = years["harvested"].values[known]
    assert 0 < harvested.mean() < 1
    days = (years["harvest_begin"] - years["start"]).values / np.timedelta64(1, "D")
    life = int(np.quantile(days[years["harvested"].values == 1], 0.5, method="hazen"))
    middle = (record["tmin"] + record["tmax"]) / 2
    warmth = [
        middle.sel(time=slice(start, start + np.timedelta64(life - 1, "D"))).mean().item()
        for start in years["start"].values[known]
    ]
    slope = scipy.stats.linregress(warmth, harvested).slope
    assert slope > 0.05
    assert years["harvest_per_degree"].item() == pytest.approx(slope, rel=0.02)


def test_a_gap_outside_every_life_changes_nothing():
    record = at(weather(4, years=6, mean=10.0))
    plan = Plan(PEA, "04-01")
    whole = evaluate_plan(plan, record)
    assert np.nanmax(whole["harvest_end"].dt.dayofyear) < 213  # over by August
    gone = [str(day) for year in (2000, 2002) for day in days(f"{year}-08-01", f"{year}-08-28")]
    gone += [str(day) for day in days("2001-11-01", "2002-01-31")]
    alike(evaluate_plan(plan, at(missing(record, *gone))), whole)


def frosty_may():
    """Three mild springs, and one with a frost on 18 May."""
    time = days("2001-01-01", "2004-12-31")
    day = np.arange(len(time))
    mean = 13.0 - 10.0 * np.cos(2 * np.pi * (day - 20) / 365.25)
    tmin, tmax = mean - 6.0, mean + 6.0
    tmin[time == np.datetime64("2003-05-18")] = -2.0
    return at(daily(time, tmin=tmin, tmax=tmax))


def test_a_gap_that_could_hide_a_killing_night_leaves_the_year_open():
    plan, record = Plan(TOMATO, "05-10", plants="bought"), frosty_may()
    outcome = evaluate_plan(plan, record)["outcome"].values.tolist()
    assert outcome == ["harvest", "harvest", "failed", "harvest"]
    # One day that could be as cold as 18 May 2003, one that could not, and that night itself.
    for gone, expected in (
        ("2001-05-25", ["unknown", "harvest", "failed", "harvest"]),
        ("2001-07-01", outcome),
        ("2002-05-02", outcome),  # before they are set out
        ("2004-05-18", ["harvest", "harvest", "failed", "unknown"]),
    ):
        found = evaluate_plan(plan, at(missing(record, gone)))
        assert found["outcome"].values.tolist() == expected, gone
        assert found["growth"].isnull().values.tolist() == [word != "harvest" for word in expected]


@given(weathers(gaps=0.03, mean=9.0), st.sampled_from(PLANS[:3]), st.integers(0, 2**32 - 1))
@settings(max_examples=15)
def test_known_years_stay_as_they_are_however_the_gaps_are_filled(record, plan, seed):
    with_gaps = evaluate_plan(plan, at(record))["outcome"].values
    full = filled(record, seed)
    if any(full[name].isnull().any() for name in ("tmin", "tmax")):
        return  # nothing was ever seen near some gap
    full = full.assign(tmax=full["tmax"].clip(min=full["tmin"]))
    outcome = evaluate_plan(plan, at(full))["outcome"].values
    known = with_gaps != "unknown"
    # Fills in between may grow a little faster or slower than both ends: one year of many.
    assert (with_gaps[known] != outcome[known]).sum() <= 1


@given(
    weathers(gaps=0.03, mean=9.0),
    st.sampled_from(PLANS[:4]),
    st.sampled_from(["coldest", "warmest", "bridged"]),
)
@settings(max_examples=15)
def test_odds_of_a_record_filled_at_its_limits_lie_within_the_bounds(record, plan, how):
    bounds = harvest_odds(evaluate_plan(plan, at(record)))
    assert bounds["share_least"] <= bounds["share"] + 1e-9
    assert bounds["share"] <= bounds["share_most"] + 1e-9
    low, high = (record[name].values for name in ("tmin", "tmax"))
    sites = filled_sites(record["time"].values[0].astype("datetime64[D]"), low, high, 44.0)
    end = ["coldest", "warmest"].index(how) if how != "bridged" else None
    usual = sites.usual.tmin, sites.usual.tmax
    minima, maxima = usual if end is None else (values[end] for values in sites.limits)
    time = record["time"]
    full = at(daily(time.values, tmin=minima, tmax=np.maximum(minima, maxima)))
    harvested = evaluate_plan(plan, full)["harvested"]
    # Years that the end of the record leaves open count as either.
    ended, unknown = float(harvested.sum()), float(harvested.isnull().sum())
    years = len(harvested)
    assert ended + unknown >= float(bounds["share_least"]) * years - 1e-9
    assert ended <= float(bounds["share_most"]) * years + 1e-9


def test_a_gap_weeks_before_sowing_leaves_a_year_open_where_its_soil_decides():
    record = at(weather(2, years=12, mean=7.0))
    time, years = record["time"].values.astype("datetime64[D]"), np.arange(1999, 2011)
    gone = np.isin(time, [days(f"{year}-04-01", f"{year}-04-20") for year in years[::2]])
    low, high = (np.where(gone, np.nan, record[name].values) for name in ("tmin", "tmax"))
    sites, calendar = filled_sites(time[0], low, high, 44.0), Calendar(years, time[0], len(time))
    plan, starts = Plan(crop("runner bean"), "05-06"), np.arange(126, 166)  # 16 days later and on
    cold, warm = (
        grow_plan(plan, filled_sites(time[0], *ends, 44.0), calendar, starts).reason == HARVEST
        for ends in zip(*sites.limits, strict=True)
    )
    differs = cold != warm
    assert differs.sum() >= 2
    assert (grow_plan(plan, sites, calendar, starts).reason[differs] == OPEN).all()


def test_a_record_too_thin_for_a_usual_year_knows_nothing():
    thin = at(weather(3, years=1).isel(time=slice(0, 190)))
    for plan in (Plan(crop("radish"), "03-01"), Plan(crop("apple"), "01-01")):
        assert evaluate_plan(plan, thin)["outcome"].values.tolist() == ["unknown"]
        assert (sweep_start_dates(plan, thin)["known"] == 0).all()
    empty = at(weather(3, years=2) * np.nan)
    for name in empty:
        empty[name].attrs = thin[name].attrs
    assert (evaluate_plan(PLANS[0], empty)["outcome"] == "unknown").all()


def test_what_the_record_ends_before_is_unknown():
    record = at(weather(4, years=4, mean=12.0))
    plan = Plan(crop("leek"), "04-01")
    whole = evaluate_plan(plan, record)
    ripe = whole["harvest_begin"].sel(season=2002).values
    assert not np.isnat(ripe)
    before = record.sel(time=slice(None, ripe - np.timedelta64(3, "D")))
    found = evaluate_plan(plan, at(before))
    assert found["outcome"].sel(season=2002) == "unknown"
    assert found["harvest_begin"].sel(season=2002).isnull()
    early = whole.sel(season=slice(1999, 2001))
    alike(found.sel(season=slice(1999, 2001)), early, tolerance=1e-3)


# --- stations, dask, the cache ------------------------------------------------------------


@pytest.mark.parametrize("chunks", [None, 1], ids=["at once", "lazily"])
def test_stations_pass_through(chunks):
    alone = [at(weather(1, gaps=0.01), 44.0), at(weather(2, coldest=202), -35.0)]
    both = side_by_side(*alone).assign_coords(latitude=("station", [44.0, -35.0]))
    both = both.chunk(station=chunks) if chunks else both
    for plan in PLANS[1:]:
        found, swept = evaluate_plan(plan, both), sweep_start_dates(plan, both)
        assert (found["growth"].chunks is not None) == bool(chunks)
        assert (swept["share"].chunks is not None) == bool(chunks)
        found, swept, odds = found.compute(), swept.compute(), harvest_odds(found).compute()
        for n, record in enumerate(alone):
            own = evaluate_plan(plan, record)
            alike(found.isel(station=n).drop_vars(["station", "latitude"]), own)
            for name in ("share", "growth", "harvest_day", "failed_by"):
                npt.assert_array_equal(
                    swept[name].isel(station=n), sweep_start_dates(plan, record)[name]
                )
            npt.assert_array_equal(odds["share"].isel(station=n), harvest_odds(own)["share"])


def test_days_in_another_order_are_the_same_record():
    record = at(weather(4, years=4, mean=10.0))
    shuffled = record.isel(time=np.random.default_rng(1).permutation(record.sizes["time"]))
    alike(evaluate_plan(PLANS[0], at(shuffled)), evaluate_plan(PLANS[0], record), 0)


def test_a_value_changed_in_place_is_noticed():
    record = frosty_may()
    plan = Plan(TOMATO, "05-10", plants="bought")
    assert evaluate_plan(plan, record)["outcome"].values.tolist()[1] == "harvest"
    record["tmin"].values[record["time"].values == np.datetime64("2002-05-20")] = -4.0
    assert evaluate_plan(plan, record)["outcome"].values.tolist()[1] == "failed"
    record.attrs["latitude"] = 30.0
    low, high = record["tmin"].values, record["tmax"].values
    first = record["time"].values[0].astype("datetime64[D]")
    assert filled_sites(first, low, high, 30.0) is filled_sites(first, low.copy(), high, 30.0)
    assert filled_sites(first, low, high, 30.0) is not filled_sites(first, low, high, 31.0)
    assert filled_sites(first, low, high, 30.0) is not filled_sites(
        first + np.timedelta64(1, "D"), low, high, 30.0
    )


# --- leap years, errors -------------------------------------------------------------------


def test_starts_are_the_calendars_dates():
    record = at(weather(4, years=6, mean=10.0))
    found = evaluate_plan(Plan(PEA, "03-20"), record)
    expected = date_of(found["season"].values, np.full(6, 79)).astype("datetime64[s]")
    npt.assert_array_equal(found["start"], expected)
    assert {str(day)[5:10] for day in found["start"].values} == {"03-20"}


def test_the_latitude_is_needed_and_the_record_may_hold_it():
    record = weather(4)
    told = (
        r"for the sun and the length of the day, and the record does not hold it\. Give it, in "
        r"degrees north: daily\.attrs\['latitude'\] = 46\.1"
    )
    with pytest.raises(ValueError, match=told):
        evaluate_plan(PLANS[0], record)
    with pytest.raises(ValueError, match="needs the latitude"):
        sweep_start_dates(PLANS[0], record)
    by_attribute = evaluate_plan(PLANS[0], at(record, 50.0))
    by_coordinate = evaluate_plan(PLANS[0], weather(4).assign_coords(latitude=50.0))
    npt.assert_array_equal(by_attribute["growth"], by_coordinate["growth"])


# --- pieces by hand -----------------------------------------------------------------------


@given(st.integers(0, 2**32 - 1), st.booleans())
def test_lives_are_laid_out_by_year_and_start(seed, all_inside):
    rng = np.random.default_rng(seed)
    inside = np.ones((4, 3), bool) if all_inside else rng.random((4, 3)) < 0.6
    count = int(inside.sum())
    starts = rng.integers(0, 900, count)
    outcome = rng.choice([OPEN, HARVEST, 0, 3], count)
    later = np.where(rng.random((5, count)) < 0.2, NEVER, starts + rng.integers(0, 200, (5, count)))
    up, set_out, ripe, last = later[:4]
    life = SimpleNamespace(
        up=up,
        set_out=set_out,
        ripe=ripe,
        last=last,
        begins=later[3:].T,
        stage=rng.integers(-1, 2, count),
        growth=rng.random(count),
        yield_index=rng.random(count),
    )
    grown = Grown(life, outcome, starts, inside, None, np.zeros((4, 3), int))
    names = {"emergence": up, "set_out": set_out, "harvest_begin": ripe, "harvest_end": last}
    row = 0
    for season in range(4):
        for column in range(3):
            here = season, column
            known = bool(inside[here]) and outcome[row] != OPEN
            assert grown.reason[here] == (outcome[row] if known else OPEN)
            assert grown.stage[here] == (life.stage[row] if known else -1)
            for name, day in names.items():
                since = day[row] - starts[row] if known and day[row] < NEVER else np.nan
                npt.assert_equal(getattr(grown, name)[here], since)
            for stage in range(2):
                day = later[3 + stage, row] if known else NEVER
                since = day - starts[row] if day < NEVER else np.nan
                npt.assert_equal(grown.begins[here][stage], since)
            for name in ("growth", "yield_index"):
                npt.assert_equal(
                    getattr(grown, name)[here], getattr(life, name)[row] if known else np.nan
                )
            row += int(inside[here]) and row + 1 < count


@given(st.integers(0, 2**32 - 1))
def test_the_share_of_a_reason_counts_known_years_and_the_draws_of_open_ones(seed):
    rng = np.random.default_rng(seed)
    seasons, draws = 5, 4
    reason = rng.choice([OPEN, HARVEST, 0, 1, 7], (seasons, 3))
    drawn = {  # lives of some of the years that are open, draw by draw
        (int(season), int(start)): rng.choice([HARVEST, HARVEST, 0, 1, 7, OPEN], draws)
        for season, start in np.argwhere(reason == OPEN)
        if rng.random() < 0.7
    }
    season, start = (np.array([key[n] for key in drawn], int) for n in (0, 1))
    by_draw = np.array(list(drawn.values()), int).reshape(len(drawn), draws)
    lives = np.zeros(by_draw.shape)
    of_draws = Drawn(season, start, by_draw, lives, lives, lives) if drawn else None
    failed_by = np.array([(reason == n).sum(axis=0) for n in range(len(REASONS))]).T
    found = _failed_share(SimpleNamespace(reason=reason, drawn=of_draws), failed_by)
    for column in range(3):
        shares = []
        for year in range(seasons):
            told = drawn.get((year, column), [OPEN]) if reason[year, column] == OPEN else None
            if told is None:
                shares.append([reason[year, column] == n for n in range(len(REASONS))])
            elif OPEN not in told:
                shares.append([np.mean(told == n) for n in range(len(REASONS))])
        if shares:
            npt.assert_allclose(found[column], np.mean(shares, axis=0), atol=1e-12)
        else:
            assert np.isnan(found[column]).all()


@pytest.mark.parametrize("coldest", [20, 201])  # north and south
@pytest.mark.parametrize(
    ("name", "needs_winter", "is_cool", "lives_one_summer"),
    [
        ("garlic", True, True, False),
        ("spinach", False, True, False),
        ("tomato", False, False, True),
        ("Jerusalem artichoke", False, False, False),
    ],
)
def test_the_dates_that_lead_depend_on_the_kind_of_crop(
    coldest, name, needs_winter, is_cool, lives_one_summer
):
    """In a place where every date of the year does well, whatever the crop."""
    mean = -np.cos(2 * np.pi * (np.arange(DAYS) - coldest) / DAYS)
    sites = SimpleNamespace(usual=SimpleNamespace(usual_mean=mean))
    from_coldest = (np.arange(DAYS) - coldest) % DAYS
    # As large a crop from autumn, which takes more than twice as long.
    days = np.where(from_coldest > 230, 240.0, 90.0)
    tables = {
        "block_harvested": np.full((DAYS, 5), 4.0),
        "block_known": np.full((DAYS, 5), 4.0),
        "block_worth": np.full((DAYS, 5), 400.0),
        "block_growth": np.full((DAYS, 5), 3.2),
    }
    counts = SimpleNamespace(
        share=np.ones(DAYS),
        growth=np.full(DAYS, 0.8),
        yield_index=np.full(DAYS, 100.0),
        harvest_day=np.column_stack([days - 5, days, days + 5]),
        **tables,
    )
    kind = crop(name)
    assert kind.season == ("cool" if is_cool else "warm")
    found = _chosen(Plan(kind, "04-01"), counts, sites)
    dates = plain_spans.choice(
        *(each.tolist() for each in (counts.share, counts.growth, counts.yield_index, days)),
        plain_spans.Tables(*(each.tolist() for each in tables.values())),
        (int(mean.argmin()), int(mean.argmax())),
        needs_winter=needs_winter,
        is_cool=is_cool,
    )
    if not lives_one_summer:  # the plain loop knows no crop that dies in winter
        assert [found.first, found.best, found.last, found.season] == [
            dates[each] for each in ("first", "best", "last", "season")
        ]
    told = [found.season, *(season for season in found.others[:, 0] if not np.isnan(season))]
    assert len(told) == (2 if lives_one_summer else len(dates["others"]) + 1)


@pytest.mark.parametrize("years", [1, 12])
def test_a_perennial_has_one_start_and_its_years_are_not_chosen(years):
    record = at(weather(8, years=years, mean=9.0))
    plan = Plan(crop("apple"), "01-01")
    sites = filled_sites(
        record["time"].values[0].astype("datetime64[D]"),
        record["tmin"].values,
        record["tmax"].values,
        44.0,
    )
    calendar = Calendar(np.arange(1999, 1999 + years), sites.usual.dates[0], len(sites.usual))
    chosen, alone = sweep_years(plan, sites, calendar).chosen, evaluate_plan(plan, record)
    known = int(alone["harvested"].notnull().sum())
    assert (known > 0) == (years > 1)
    day = 1.0 if known else np.nan
    npt.assert_equal([chosen.first, chosen.best, chosen.last], [day] * 3)
    assert (chosen.season, chosen.known) == (-1, known)
    assert chosen.harvested == int(alone["harvested"].sum())
    assert chosen.stable.tolist() == [1.0] + [0.0] * (DAYS - 1)
    assert np.isnan(chosen.others).all()
    assert chosen.others.shape == (2, 2)


def outcomes_by_hand(rng, name):
    """Outcomes of two stations in eight years, some of them open, some of these drawn."""
    harvested = rng.choice([0.0, 1.0, np.nan], (2, 8), p=[0.4, 0.4, 0.2])
    drawn = np.where(rng.random((2, 8, 1)) < 0.8, rng.integers(0, 2, (2, 8, 4)), np.nan)
    drawn[~np.isnan(harvested)] = np.nan
    return xr.Dataset(
        {
            "harvested": (("station", "season"), harvested),
            "harvested_drawn": (("station", "season", "draw"), drawn),
        },
        attrs={"plan": name, "source": "invented"},
    )


@pytest.mark.parametrize("seed", range(6))
def test_rivals_are_compared_at_each_station_year_by_year(seed):
    rng = np.random.default_rng(seed)
    one, two = outcomes_by_hand(rng, "one"), outcomes_by_hand(rng, "two")
    found = compare_evaluated(one, two)
    assert (found.attrs["plan"], found.attrs["other"]) == ("one", "two")
    assert found.attrs["interval"] == 0.9
    assert found.attrs["source"] == "invented"
    for station in range(2):
        counts = dict.fromkeys(("both", "only_plan", "only_other", "neither", "known"), 0)
        better = worse = answered = 0.0
        for year in range(8):
            here = {"station": station, "season": year}
            ends = [each["harvested"].isel(here).item() for each in (one, two)]
            if not np.isnan(ends).any():
                kinds = {(1, 1): "both", (1, 0): "only_plan", (0, 1): "only_other"}
                counts[kinds.get(tuple(ends), "neither")] += 1
                counts["known"] += 1
            draws = [
                each["harvested_drawn"].isel(here).values if np.isnan(end) else np.full(4, end)
                for each, end in zip((one, two), ends, strict=True)
            ]
            if not np.isnan(draws).any():
                answered += 1
                better += np.mean(draws[0] > draws[1])
                worse += np.mean(draws[0] < draws[1])
        assert {name: int(found[name][station]) for name in counts} == counts
        names = ("difference", "low", "high")
        expected = paired_difference(np.array(better), np.array(worse), np.array(answered))
        npt.assert_allclose([float(found[name][station]) for name in names], expected)


def test_a_sweep_of_todays_climate_is_that_of_the_moved_record():
    record = at(weather(8, years=26, mean=7.0))
    record["tmin"] += 0.1 * (record["time"].dt.year - 1999)
    record["tmax"] += 0.1 * (record["time"].dt.year - 1999)
    swept = sweep_start_dates(PLANS[0], record, climate="today")
    moved_years = todays_climate(record)
    npt.assert_array_equal(swept["share"], sweep_start_dates(PLANS[0], moved_years)["share"])
    assert (swept["share"] != sweep_start_dates(PLANS[0], record)["share"]).any()
    assert (swept.attrs["plan"], swept.attrs["crop"]) == (PLANS[0].name, "pea")
    assert "plan" not in swept.coords
    assert not set(BLOCK_COUNTS) & set(swept)


@given(st.integers(0, 2**32 - 1))
def test_a_mean_over_years_leaves_out_what_is_missing(seed):
    rng = np.random.default_rng(seed)
    values = np.where(rng.random((4, 9)) < 0.6, np.nan, rng.random((4, 9)))
    for start, found in enumerate(_mean_of(values)):
        known = [each for each in values[:, start] if not np.isnan(each)]
        npt.assert_allclose(found, sum(known) / len(known) if known else np.nan)


OF_PLAN = "best_first best_day best_last best_season elsewhere_harvested elsewhere_known"
WHOLE = "harvested known good unknown leaning failed_by best_season coldest warmest"


def test_a_sweep_of_stations_and_plans_has_its_dimensions_units_and_shares_of_the_best():
    alone = [at(weather(1, years=3)), at(weather(2, years=3, mean=15.0))]
    both = side_by_side(*alone).assign_coords(latitude=("station", [44.0, 36.0]))
    swept = sweep_plans([PLANS[0], PLANS[4]], both, with_band=False)
    second = {
        "harvest_day": "quantile",
        **dict.fromkeys(("failed_by", "failed_share"), "reason"),
        **dict.fromkeys(BLOCK_COUNTS, "block"),
    }
    for name in swept:
        dims = ("station", "plan", "start_day", *([second[name]] if name in second else []))
        if name in OF_PLAN.split() or str(name).startswith("elsewhere"):
            dims = ("station", "plan")
        elif name in ("coldest", "warmest"):
            dims = ("station",)
        assert swept[name].dims == dims, name
        assert (swept[name].dtype.kind == "i") == (name in WHOLE.split()), name
    assert {*OF_PLAN.split(), *WHOLE.split(), "stable", "expected_crop"} <= set(swept)
    assert swept["start_day"].values.tolist() == list(range(1, DAYS + 1))
    assert swept["reason"].values.tolist() == list(REASONS)
    for station in range(2):
        worth = swept["yield_index"][station].values
        npt.assert_allclose(swept["expected_crop"][station], worth / np.nanmax(worth))
    on_other_days = swept.isel(plan=1, start_day=slice(1, None))
    for name in ("harvested", "known", "unknown", "failed_by"):
        assert not on_other_days[name].any()
    for name in ("share", "growth", "yield_index", "harvest_day"):
        assert on_other_days[name].isnull().all()
    assert (swept["known"][:, 1, 0] > 0).all()
    units = {
        "harvest_day": "days after 31 December before the start",
        "days_outdoors": "days",
        "yield_index": "MJ m-2",
        "harvest_per_degree": "1/degC",
    }
    assert {name: swept[name].attrs["units"] for name in units} == units
    years = evaluate_plan(PLANS[0], alone[0])
    for name in ("days_outdoors", "yield_index", "harvest_per_degree"):
        assert years[name].attrs["units"] == units[name]


def test_starts_outside_the_record_are_open_and_so_are_all_without_a_usual_year():
    record = at(weather(8, years=3))
    first = record["time"].values[0].astype("datetime64[D]")
    low, high = (record[name].values for name in ("tmin", "tmax"))
    for part, there in ((slice(None), True), (slice(0, 100), False)):
        sites = filled_sites(first, low[part], high[part], 44.0)
        size = len(sites.usual)
        calendar = Calendar(np.arange(1998, 2004), first, size)
        days = np.array([1, 2, 150, 364, 365])
        grown = grow_plan(PLANS[0], sites, calendar, days)
        dates = [[date_of(year, day) for day in days] for year in range(1998, 2004)]
        place = (np.array(dates) - first) / np.timedelta64(1, "D")
        inside = (place >= 0) & (place <= size - 1) & there
        npt.assert_array_equal(grown.inside, inside)
        assert grown.starts.tolist() == place[inside].tolist()
        assert (grown.reason[~inside] == OPEN).all()
    assert 0 in place
    assert size in place or not there


@pytest.mark.parametrize("plan", [PLANS[0], PLANS[4]], ids=["pea", "apple"])
def test_lives_near_a_gap_are_looked_at_again_and_those_far_from_it_are_not(monkeypatch, plan):
    """A life hangs on 60 days before it, of a tree on its winter, and on 60 after its last day."""
    record = at(weather(8, years=6, mean=10.0))
    low, high = (record[name].values.copy() for name in ("tmin", "tmax"))
    gaps = [0, 1000]
    low[gaps] = np.nan
    first = record["time"].values[0].astype("datetime64[D]")
    sites, asked = filled_sites(first, low, high, 44.0), {}

    def may_end_otherwise(plan, sites, starts, reason):
        asked.update(starts=starts, reason=reason)
        return np.ones(len(starts), bool)

    def can_be_drawn(sites, begin, end):
        asked.update(begin=begin, end=end)
        return np.zeros(len(begin), bool)

    monkeypatch.setattr("climwin.planning.grown._may_end_otherwise", may_end_otherwise)
    monkeypatch.setattr("climwin.planning.grown._can_be_drawn", can_be_drawn)
    days = np.array([1]) if plan.crop.is_perennial else np.arange(1, 366, 3)
    size = len(low)
    grown = grow_plan(plan, sites, Calendar(np.arange(1999, 2005), first, size), days)
    starts = grown.starts
    if plan.crop.is_perennial:
        life = stand(sites.usual, plan.crop, starts)
        before = reach = COLD_BEFORE_START + REST_BEFORE
    else:
        life, before, reach = grow(sites.usual, plan.crop, plan.way, starts), 14, 60
    ends = [min(int(until) + 60, size) for until in life.touched_until]
    touched = [
        n
        for n, (start, end) in enumerate(zip(starts, ends, strict=True))
        if any(start - reach <= gap < end for gap in gaps)
    ]
    assert 0 < len(touched) < len(starts)
    assert asked["starts"].tolist() == starts[touched].tolist()
    assert asked["reason"].tolist() == life.reason[touched].tolist()
    told = [n for n in touched if life.reason[n] != OPEN]
    assert asked["begin"].tolist() == [max(starts[n] - before, 0) for n in told]
    assert asked["end"].tolist() == [ends[n] for n in told]
    assert (grown.outcome[touched] == OPEN).all()
    far = np.delete(np.arange(len(starts)), touched)
    npt.assert_array_equal(grown.outcome[far], life.reason[far])
    assert grown.drawn is None


def draws_by_hand(rng, seasons=5, starts=3, draws=4):
    """Years that are known, and those that are drawn, some without an answer in a draw."""
    reason = rng.choice([OPEN, HARVEST, HARVEST, 0, 7], (seasons, starts))
    drawn = np.argwhere((reason == OPEN) & (rng.random(reason.shape) < 0.7))
    by_draw = rng.choice([HARVEST, HARVEST, HARVEST, 0, 7, OPEN], (len(drawn), draws))
    came = by_draw == HARVEST
    of_draws = Drawn(
        season=drawn[:, 0],
        start=drawn[:, 1],
        reason=by_draw,
        growth=np.where(came, rng.random(came.shape), np.nan),
        yield_index=np.where(came, 100 * rng.random(came.shape), 0.0),
        harvest_begin=np.where(came, 90.0, np.nan),
    )
    harvested = reason == HARVEST
    return SimpleNamespace(
        reason=reason,
        growth=np.where(harvested, rng.random(reason.shape), np.nan),
        yield_index=np.where(harvested, 100 * rng.random(reason.shape), 0.0),
        drawn=of_draws if len(drawn) else None,
    )


@given(st.integers(0, 2**32 - 1))
def test_growth_and_yield_are_means_over_years_and_their_draws(seed):
    grown = draws_by_hand(np.random.default_rng(seed))
    drawn = grown.drawn
    places = [] if drawn is None else list(zip(drawn.season, drawn.start, strict=True))
    years = _by_year(grown)
    growth, made = _over_draws(grown, years)
    for start in range(3):
        weights, grew, yields = [], [], []
        for season in range(5):
            here = season, start
            if grown.reason[here] != OPEN:
                came, lives = [grown.reason[here] == HARVEST], [grown.growth[here]]
                worth = [grown.yield_index[here]]
            elif here in places and OPEN not in drawn.reason[places.index(here)]:
                row = places.index(here)
                came, lives = drawn.reason[row] == HARVEST, drawn.growth[row]
                worth = drawn.yield_index[row]
            else:
                assert not years.answered[here]
                assert years.harvested[here] == years.growth[here] == years.made[here] == 0
                continue
            weights.append(np.mean(came))
            grew.append(np.mean(np.where(came, lives, 0.0)))
            yields.append(np.mean(worth))
            assert years.answered[here]
            assert years.harvested[here] == pytest.approx(weights[-1])
        total = sum(weights)
        npt.assert_allclose(growth[start], sum(grew) / total if total else np.nan)
        npt.assert_allclose(made[start], np.mean(yields) if yields else 0.0)


@pytest.mark.parametrize("seed", range(4))
def test_odds_of_each_station_are_counts_over_its_years_and_draws(seed):
    rng = np.random.default_rng(seed)
    told = ["", REASONS[0], REASONS[6]]
    dims = ("station", "season")
    code = rng.choice([-1, 0, 1, 2], (2, 9), p=[0.3, 0.4, 0.2, 0.1])  # -1 is open
    by_draw = rng.choice([0, 0, 1, 2], (2, 9, 4))
    is_drawn = (code < 0) & (rng.random((2, 9)) < 0.7)
    harvested = np.where(code < 0, np.nan, code == 0)
    growth = np.where(code == 0, rng.choice([0.3, 0.6, 0.9], (2, 9)), np.nan)
    good = np.where(is_drawn[..., None], (by_draw == 0) & (rng.random((2, 9, 4)) < 0.5), np.nan)
    years = xr.Dataset(
        {
            "harvested": (dims, harvested),
            "reason": (dims, np.array(told)[np.maximum(code, 0)]),
            "growth": (dims, growth),
            "harvested_drawn": (
                (*dims, "draw"),
                np.where(is_drawn[..., None], by_draw == 0, np.nan),
            ),
            "good_drawn": ((*dims, "draw"), good),
            "reason_drawn": (
                (*dims, "draw"),
                np.where(is_drawn[..., None], np.array(told)[by_draw], ""),
            ),
            "harvest_per_degree": ("station", [0.02, 0.1]),
        },
        attrs={"plan": "by hand"},
    )
    found = harvest_odds(years)
    assert found.attrs["plan"] == "by hand"
    npt.assert_array_equal(found["harvest_per_degree"], [0.02, 0.1])
    for station in range(2):
        row, ends = found.isel(station=station), code[station]
        known, open_drawn = int((ends >= 0).sum()), is_drawn[station]
        assert (row["known"], row["unknown"]) == (known, 9 - known)
        assert row["harvested"] == (ends == 0).sum()
        assert row["good"] == (growth[station] >= 0.6).sum()
        assert row["leaning"] == open_drawn.sum()
        answered = known + open_drawn.sum()
        came = (ends == 0).sum() + (by_draw[station][open_drawn] == 0).mean(axis=1).sum()
        well = (growth[station] >= 0.6).sum() + good[station][open_drawn].mean(axis=1).sum()
        npt.assert_allclose(row["share"], came / answered)
        npt.assert_allclose(row["good_share"], well / answered)
        npt.assert_allclose(row["growth"], np.nanmean(growth[station]))
        npt.assert_allclose(row["share_least"], (ends == 0).sum() / 9)
        npt.assert_allclose(row["share_most"], ((ends == 0).sum() + 9 - known) / 9)
        assert row["low"] <= row["share"] <= row["high"]
        for number, reason in ((1, REASONS[0]), (2, REASONS[6])):
            failed = row.sel(reason=reason)
            assert failed["failed_by"] == (ends == number).sum()
            drawn = (by_draw[station][open_drawn] == number).mean(axis=1).sum()
            npt.assert_allclose(failed["failed_share"], ((ends == number).sum() + drawn) / answered)
    nothing = harvest_odds(years.isel(season=slice(0, 1)).assign(harvested=(dims, [[np.nan]] * 2)))
    assert (nothing["failed_share"].isnull() == (nothing["leaning"] == 0)).all()


@pytest.mark.parametrize("plan", [PLANS[1], Plan(crop("apple"), "03-05")], ids=["tomato", "apple"])
def test_what_is_told_of_every_year_has_its_dimensions_units_and_words(plan):
    record = at(weather(21, years=8, mean=10.0, gaps=0.004)).assign_attrs(source="invented")
    years = evaluate_plan(plan, record)
    stages = [stage.name for stage in plan.crop.stages]
    of_draws = ("harvested_drawn", "good_drawn", "reason_drawn")
    for name in years:
        expected = {
            **dict.fromkeys(of_draws, ("season", "draw")),
            "stage_begin": ("season", "stage_name"),
            "harvest_per_degree": (),
        }.get(name, ("season",))
        assert years[name].dims == expected, name
    assert years["stage_name"].values.tolist() == stages
    assert set(years["stage"].values.tolist()) <= {*stages, ""}
    assert set(years["reason_drawn"].values.ravel().tolist()) <= {*REASONS, ""}
    is_drawn = years["harvested_drawn"].notnull()
    assert is_drawn.any() or plan.crop.is_perennial
    npt.assert_array_equal(is_drawn & (years["harvested_drawn"] == 0), years["reason_drawn"] != "")
    assert (years["good_drawn"] <= years["harvested_drawn"]).where(is_drawn, True).all()
    told = {"plan": plan.name, "crop": plan.crop.name, "source": "invented"}
    assert {name: years.attrs[name] for name in told} == told
    day = "01-01" if plan.crop.is_perennial else "03-25"
    starts = years["start"].values.astype("datetime64[D]").astype(str).tolist()
    assert starts == [f"{year}-{day}" for year in years["season"].values]
    if not plan.crop.is_perennial:  # each start of a sweep by itself
        swept = sweep_start_dates(plan, record).sel(start_day=day_number(day))
        middle = np.nanquantile(years["days_outdoors"], 0.5, method="hazen")
        assert swept["days_outdoors"] == middle


def test_plans_of_todays_climate_are_evaluated_and_compared_in_the_moved_record():
    record = at(weather(8, years=26, mean=7.0))
    record["tmin"] += 0.1 * (record["time"].dt.year - 1999)
    record["tmax"] += 0.1 * (record["time"].dt.year - 1999)
    moved_years = todays_climate(record)
    found = evaluate_plan(PLANS[0], record, climate="today")
    npt.assert_array_equal(found["growth"], evaluate_plan(PLANS[0], moved_years)["growth"])
    assert not found["growth"].equals(evaluate_plan(PLANS[0], record)["growth"])
    other = Plan(PEA, "06-20")
    names = ["both", "only_plan", "only_other", "neither"]
    found, expected, as_it_was = (
        compare_plans(PLANS[2], other, years, climate=climate)[names].to_array().values.tolist()
        for years, climate in ((record, "today"), (moved_years, "record"), (record, "record"))
    )
    assert found == expected != as_it_was


def test_values_on_a_day_differ_from_plan_to_plan_and_are_missing_without_one():
    values = np.arange(2 * 3 * 5.0).reshape(2, 3, 5)
    day = np.array([[1.0, 5.0, np.nan], [2.0, np.nan, 3.0]])
    dims = ("station", "plan", "start_day")
    on = xr.DataArray(day, dims=dims[:2])
    found = at_day(xr.DataArray(values, dims=dims), on)
    npt.assert_array_equal(found, [[0, 9, np.nan], [16, np.nan, 27]])
    counts = at_day(xr.DataArray(values.astype(int), dims=dims), on)
    assert counts.dtype.kind == "i"
    npt.assert_array_equal(counts, [[0, 9, 0], [16, 0, 27]])
    by_reason = xr.DataArray(np.stack([values, -values], axis=-1), dims=(*dims, "reason"))
    found = at_day(by_reason, on, "reason")
    assert found.dims == ("station", "plan", "reason")
    npt.assert_array_equal(found[0], [[0, 0], [9, -9], [np.nan, np.nan]])
