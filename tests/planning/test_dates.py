"""Recommended dates: runs on hand-made years, and each row of a table worked out again."""

from dataclasses import replace

import numpy as np
import numpy.testing as npt
import pytest
import xarray as xr
from hypothesis import given
from hypothesis import strategies as st
from planning import plain_choice
from records import side_by_side, weather

from climwin.core.odds import ODDS_NAMES
from climwin.core.seasons import DAYS, day_name
from climwin.crops.catalogue import crop
from climwin.planning.dates import (
    SAFER_BY,
    _Row,
    _table,
    best_for,
    planting_calendar,
    recommended_dates,
    usual_starts,
)
from climwin.planning.evaluate import evaluate_plan
from climwin.planning.plan import Plan
from climwin.planning.selection import circular_mean, elsewhere_interval
from climwin.planning.spans import (
    BEFORE_MIDSUMMER,
    SEASONS,
    SHORTEST_SPAN,
    SOON_DAYS,
    Span,
    leading_span,
    lives_one_summer,
    recommended_spans,
    start_seasons,
    through_winter,
    weaker_in_winter,
)
from climwin.planning.sweep import sweep_plans, sweep_start_dates

COLDEST, WARMEST = 20, 202  # days of the year, counted from 0
PEA, TOMATO = crop("pea"), crop("tomato")


def at(record, latitude=44.0):
    record.attrs["latitude"] = latitude
    return record


def year(runs, otherwise=0.0):
    """Values over the days of the year: runs of first day, last day, value; they may wrap."""
    values = np.full(DAYS, otherwise)
    for first, last, value in runs:
        values[(first + np.arange((last - first) % DAYS + 1)) % DAYS] = value
    return values


def spans_of(share, worth=None, life=80, growth=None, **given):
    worth = share if worth is None else worth
    growth = np.ones(DAYS) if growth is None else growth
    lives = np.full(DAYS, float(life))
    return recommended_spans(share, growth, worth, lives, COLDEST, WARMEST, **given)


# --- pieces -------------------------------------------------------------------------------


@given(seed=st.integers(0, 2**32 - 1), width=st.sampled_from([1, 7, 15, 31]))
def test_circular_mean_is_a_plain_mean_of_days_around(seed, width):
    rng = np.random.default_rng(seed)
    values = np.where(rng.random(DAYS) < rng.random(), np.nan, rng.uniform(-1, 1, DAYS))
    found = circular_mean(values, width)
    for day in (0, 1, 7, 100, 358, 364):
        near = [values[(day + k) % DAYS] for k in range(-(width // 2), width // 2 + 1)]
        known = [value for value in near if not np.isnan(value)]
        expected = sum(known) / len(known) if known else np.nan
        npt.assert_allclose(found[day], expected, atol=1e-9)


def test_a_start_belongs_to_the_season_of_its_harvest():
    short, long = (start_seasons(np.full(DAYS, life), COLDEST, WARMEST) for life in (70.0, 250.0))
    turn = WARMEST - BEFORE_MIDSUMMER
    assert {SEASONS[n] for n in short[COLDEST:turn]} == {"spring"}
    assert {SEASONS[n] for n in short[turn:300]} == {"summer for autumn"}
    # Ripe more than 30 days after the next coldest day: 365 + 30 - 70 days after this one.
    assert short[(COLDEST + 325) % DAYS] == 1
    assert short[(COLDEST + 326) % DAYS] == 2
    assert SEASONS[long[280]] == "autumn for the next year"
    assert (start_seasons(np.full(DAYS, np.nan), COLDEST, WARMEST) < 2).all()


# --- runs ---------------------------------------------------------------------------------


def test_the_run_of_one_season():
    share = year([(90, 140, 1.0)])
    (span,) = spans_of(share)
    # Averaged over 15 days, odds of 0.8 are reached 4 days within each end.
    assert (span.season, span.first, span.last) == ("spring", 94, 136)
    assert 94 <= span.best <= 136


def test_one_run_for_each_season_of_the_year():
    share = year([(80, 120, 1.0), (200, 240, 1.0), (270, 300, 0.9)])
    lives = year([(270, 300, 240.0)], otherwise=70.0)
    spans = recommended_spans(share, np.ones(DAYS), share, lives, COLDEST, WARMEST)
    assert [span.season for span in spans] == list(SEASONS)
    for span, (first, last) in zip(spans, [(80, 120), (200, 240), (270, 300)], strict=True):
        assert first <= span.first <= span.best <= span.last <= last


def test_a_run_wraps_round_the_end_of_the_year():
    share = year([(340, 30, 1.0)])
    lives = np.full(DAYS, 120.0)
    spans = recommended_spans(share, np.ones(DAYS), share, lives, 150, 330)  # of the south
    assert [span.season for span in spans] == ["summer for autumn"]
    (span,) = spans
    assert (span.first, span.last) == (344, 26)
    assert span.days == (26 - 344) % DAYS + 1


@pytest.mark.parametrize(("grown", "seasons"), [(0.3, 1), (0.45, 1), (0.55, 2)])
def test_a_season_that_grows_less_than_half_as_well_is_not_told(grown, seasons):
    # What stands through a mild winter may be harvested, but nobody would sow it for that.
    share = year([(90, 140, 1.0), (190, 240, 1.0)])
    growth = year([(70, 160, 0.8)], otherwise=0.8 * grown)
    spans = spans_of(share, growth=growth)
    assert len(spans) == seasons
    assert spans[0].season == "spring"


@pytest.mark.parametrize(
    ("is_warm", "days", "told"),
    [(True, 230, SEASONS[:2]), (False, 230, SEASONS), (True, 175, SEASONS)],
    ids=["over winter", "a cool crop", "not twice as long"],
)
def test_a_warm_crop_that_stands_through_the_winter_is_not_told(is_warm, days, told):
    # Autumn's tomatoes that ripen in May, where spring's take 110 days and summer's 90.
    share = year([(90, 140, 1.0), (200, 240, 1.0), (280, 320, 0.9)])
    lives = year([(0, 180, 110.0), (250, 330, float(days))], otherwise=90.0)
    spans = recommended_spans(share, np.ones(DAYS), share, lives, COLDEST, WARMEST, is_warm=is_warm)
    assert tuple(span.season for span in spans) == told


def test_a_warm_crop_of_a_place_without_winter_has_all_its_seasons():
    assert len(spans_of(np.ones(DAYS), life=130, is_warm=True)) == 3
    only = year([(300, 360, 1.0)])
    assert len(spans_of(only, life=130, is_warm=True)) == 1


def test_tubers_that_wait_in_the_soil_live_more_than_one_summer():
    assert lives_one_summer(crop("tomato"))
    assert not lives_one_summer(crop("pea"))
    assert not lives_one_summer(crop("Jerusalem artichoke"))


def test_a_short_run_is_luck_and_so_are_single_days():
    assert spans_of(year([(100, 106, 1.0)])) == []
    assert spans_of(year([(100, 100, 1.0), (150, 151, 1.0)])) == []
    assert spans_of(year([(100, 116, 1.0)]))  # 17 days: 9 of them with odds of 0.8 around
    assert spans_of(np.zeros(DAYS)) == []
    assert spans_of(np.full(DAYS, np.nan)) == []


def test_the_head_of_summers_run_is_no_spring_span():
    # Carrots in a hot place: sown from March to May, or from June on, when the autumn crop begins.
    turn = WARMEST - BEFORE_MIDSUMMER
    share = year([(75, 120, 1.0), (turn - 12, 240, 1.0)])
    worth = year([(75, 120, 6.0), (turn - 12, 240, 9.0)])  # the sun makes the later crop larger
    spring, summer = spans_of(share, worth)
    assert (spring.season, summer.season) == SEASONS[:2]
    assert (spring.first, spring.last) == (79, 116)
    assert spring.first <= spring.best <= spring.last
    assert (summer.first, summer.last) == (turn, 236)
    # Worth far less than the season's best, it is none.
    poor = year([(75, 120, 0.4)], otherwise=1.0)
    (head, *_) = spans_of(share, worth, growth=poor)
    assert head.first >= turn - 12


def test_what_heat_parts_from_spring_and_summer_carries_on_belongs_to_summer():
    # Cauliflower in a hot place: sown in January and February at even odds, or from June on.
    turn = WARMEST - BEFORE_MIDSUMMER
    share = year([(20, 60, 0.6), (turn - 12, 240, 1.0)])
    (span,) = spans_of(share)
    assert (span.season, span.first, span.last) == ("summer for autumn", turn - 8, 236)
    assert turn <= span.best <= span.last
    # Beans in a cold one: what frost forbids before is no other season.
    beans = spans_of(year([(turn - 12, 240, 1.0)]))
    assert [(each.season, each.first) for each in beans] == [
        ("spring", turn - 8),
        ("summer for autumn", turn),
    ]
    # In spring it may as well be parted by heat and end before summer's begin.
    apart = spans_of(year([(20, 60, 0.6), (turn - 30, turn - 12, 1.0), (turn + 20, 240, 1.0)]))
    assert [each.season for each in apart] == ["spring", "summer for autumn"]


def leads(share, crop, growth=None, **given):
    growth = np.ones(len(crop)) if growth is None else np.array(growth)
    return leading_span(np.array(share), np.array(crop), growth, **given)


def test_the_season_that_leads():
    # Peas are sown in spring by common practice, though autumn's are safer and more.
    assert leads([0.82, 1.0], [0.7, 1.0], [0.55, 0.68]) == 0
    assert leads([0.9, 1.0], [0.45, 1.0]) == 1  # half a crop is not worth leading with
    assert leads([0.9, 1.0], [0.8, 1.0], [0.4, 0.9]) == 1  # it grows less than half as well
    assert leads([0.79, 1.0], [1.0, 1.0]) == 1  # its odds are not good
    assert leads([0.7, 0.75], [1.0, 1.0]) == 0  # neither are the other's
    assert leads([0.7, 1.0], [1.0, 0.4]) == 0  # less safe than a small crop
    assert leads([0.99, 1.0], [0.97, 1.0], needs_winter=True) == 1  # garlic
    assert leads([0.9, 0.9], [0.4, 1.0], [1.0, 0.4]) == 1  # neither is worth it: the largest


def test_the_weaker_end_of_winter_does_not_lead():
    # Broccoli in a mild place: eight days of January, at the end of a run from June on.
    first, last = np.array([12, 172, 299]), np.array([19, 298, 11])
    weaker = weaker_in_winter(np.array([0.84, 0.98, 0.96]), first, last)
    assert weaker == 0
    assert leads([0.84, 0.98, 0.96], [0.94, 0.98, 0.94], weaker=weaker) == 1
    assert weaker_in_winter(np.array([0.99, 0.9, 0.83]), first, last) == 2
    assert weaker_in_winter(np.array([0.9, 1.0, 0.99]), first, last) is None
    assert weaker_in_winter(np.array([0.8, 1.0, 1.0]), first, last - 1) is None  # they do not meet
    assert weaker_in_winter(np.array([0.8]), first[:1], last[:1]) is None


def test_dates_that_meet_in_midwinter_are_one_run():
    first, last = np.array([12, 200, 299]), np.array([80, 250, 11])
    safe = np.array([0.96, 1.0, 0.97])
    assert [through_winter(place, safe, first, last) for place in range(3)] == [
        (299, 80),
        (200, 250),
        (299, 80),
    ]
    assert through_winter(0, np.array([0.95, 1.0, 0.89]), first, last) == (12, 80)  # less safe
    assert through_winter(0, safe, first, last - 1) == (12, 79)
    assert through_winter(0, safe[:1], first[:1], last[:1]) == (12, 80)
    # Where summer's dates meet both, it is the whole year.
    year_round = np.array([12, 81, 251]), np.array([80, 250, 11])
    assert through_winter(0, safe, *year_round) == (12, 11)
    assert through_winter(1, safe, *year_round) == (81, 250)
    assert through_winter(0, np.array([0.95, 0.85, 0.96]), *year_round) == (251, 80)


def test_an_early_variety_is_measured_by_its_own_kind():
    record = at(weather(13, years=12, mean=7.5, swing=12.0))
    plan = Plan(crop("sweet corn"), "05-01")
    found = recommended_dates(plan, record, least_odds=0.6)
    for n in range(found.sizes["span"]):
        row = found.isel(span=n)
        own = replace(plan, earliness=str(row["earliness"].item()))
        worth = np.nan_to_num(sweep_start_dates(own, record)["yield_index"].values)
        here = worth[int(row["best_day"]) - 1]
        assert float(row["yield_index"]) == pytest.approx(here)
        share = min(here / circular_mean(worth).max(), 1.0)
        assert float(row["crop_of_variety"]) == pytest.approx(share)


def test_the_dates_of_a_span_that_ask_for_an_early_variety_are_counted():
    record = at(weather(13, years=12, mean=7.5, swing=12.0))
    plan = Plan(crop("sweet corn"), "05-01")
    found = recommended_dates(plan, record, least_odds=0.6)
    early, main = (
        sweep_start_dates(replace(plan, earliness=kind), record)["share"].fillna(0).values
        for kind in ("early", "main")
    )
    is_early = early > main + SAFER_BY
    assert found.sizes["span"] > 0
    for n in range(found.sizes["span"]):
        first, last = (int(found[name][n]) for name in ("first_day", "last_day"))
        days = [(first - 1 + i) % 365 for i in range((last - first) % 365 + 1)]
        assert int(found["early_days"][n]) == is_early[days].sum()


def test_odds_that_are_asked_for_bound_the_run():
    share = year([(90, 110, 0.85), (111, 140, 0.95)])
    (low,), (high,) = spans_of(share), spans_of(share, least_odds=0.9)
    assert low.first < 100
    assert high.first >= 108
    assert spans_of(share, least_odds=1.0) == []


def test_in_a_mild_place_a_season_does_not_run_into_the_next():
    spans = spans_of(np.ones(DAYS), life=60)
    numbers = start_seasons(np.full(DAYS, 60.0), COLDEST, WARMEST)
    assert [span.season for span in spans] == list(SEASONS)
    for span in spans:
        run = (span.first + np.arange(span.days)) % DAYS
        assert (numbers[run] == SEASONS.index(span.season)).all()
    assert sum(span.days for span in spans) == DAYS


def test_a_place_with_one_season_all_year_is_one_run():
    everywhere = recommended_spans(
        np.ones(DAYS), np.ones(DAYS), np.ones(DAYS), np.full(DAYS, 500.0), COLDEST, WARMEST
    )
    (span,) = everywhere
    assert (span.season, span.days) == ("autumn for the next year", DAYS)


def test_starts_of_little_worth_are_left_out_and_the_largest_are_named():
    share = year([(70, 140, 1.0)])
    growth = year([(70, 84, 0.5), (85, 140, 1.0)])
    worth = year([(70, 84, 3.0), (85, 110, 6.0), (111, 140, 10.0)])
    (span,) = spans_of(share, worth, growth=growth)
    assert 77 <= span.first <= 85  # growth of 0.6, averaged over 15 days
    assert 105 <= span.largest_from <= 115
    assert span.largest_from <= span.best <= span.last
    assert best_for(span).startswith("an early harvest if started from ")
    (even,) = spans_of(share, share)
    assert best_for(even) == "the largest harvest"
    later = Span("summer for autumn", first=1, best=2, last=9, largest_from=1, largest_to=3)
    assert best_for(later) == "a later harvest, after a first crop"
    january = later._replace(season="autumn for the next year")
    assert best_for(january) == "an early harvest next year"
    assert best_for(january, is_next_year=False) == "an early harvest"
    # Near the largest crop of all: their middle is the best date, if it is not too late in spring.
    assert span.best == (span.largest_from + span.largest_to) // 2
    crop_near = circular_mean(worth)[span.largest_from : span.largest_to + 1]
    assert (crop_near >= 0.85 * circular_mean(worth).max()).all()


def test_in_spring_the_best_date_is_an_early_one_and_in_summer_the_middle():
    # Potatoes: as large a crop from any date between the end of March and early June.
    turn = WARMEST - BEFORE_MIDSUMMER
    (spring,) = spans_of(year([(85, turn - 1, 1.0)]), life=60)
    assert abs(spring.first - 85) <= 7
    assert spring.best == spring.largest_from + SOON_DAYS == spring.largest_from + 14
    # Carrots: as good in April as in late May, and not quite between.
    worth = year([(85, 115, 9.5), (116, 130, 8.0), (131, turn - 1, 10.0)])
    (parted,) = spans_of(year([(85, turn - 1, 1.0)]), worth, life=60)
    assert abs(parted.largest_from - 85) <= 7
    assert 95 <= parted.best <= 105
    assert parted.largest_to > 131
    # The same dates a season later.
    (summer,) = spans_of(year([(turn + 7, 240, 1.0)]), life=60)
    assert summer.season == "summer for autumn"
    assert summer.best == (summer.largest_from + summer.largest_to) // 2


# --- tables -------------------------------------------------------------------------------


def test_rows_are_the_sweep_at_their_best_day():
    record = at(weather(13, years=10, mean=10.0))
    plan = Plan(PEA, "04-01")
    found = recommended_dates(plan, record)
    assert found.sizes["span"] >= 1
    sweeps = {
        kind: sweep_start_dates(replace(plan, earliness=kind), record) for kind in ("early", "main")
    }
    for n in range(found.sizes["span"]):
        row = found.isel(span=n)
        swept = sweeps[str(row["earliness"].item())].isel(start_day=int(row["best_day"]) - 1)
        for name in ("share", "low", "high", "good_share", "growth"):
            npt.assert_allclose(row[name], swept[name])
        npt.assert_allclose(row["harvest_first"], swept["harvest_day"][0])
        npt.assert_allclose(row["harvest_last"], swept["harvest_day"][-1])
        length = (row["last_day"] - row["first_day"]) % DAYS + 1
        assert length >= 7
        assert (row["best_day"] - row["first_day"]) % DAYS < length
    assert found["expected_crop"].max() == 1
    assert found.attrs["crop"] == "pea"


def test_a_best_day_is_judged_on_years_that_were_not_used_to_choose_it():
    record = at(weather(13, years=20, mean=9.0, spells=2.5))
    plan = Plan(PEA, "04-01")
    found = recommended_dates(plan, record, least_odds=0.5)
    kinds = ("early", "main")
    swept = sweep_plans([replace(plan, earliness=kind) for kind in kinds], record)
    # What a block of years holds is what the plan came to in those years.
    day = int(found["best_day"][0])
    grown = evaluate_plan(replace(plan, start=day_name(day), earliness="main"), record)
    by_block = grown["harvested"].values.reshape(5, 4)  # twenty years: five blocks of four
    here = swept.sel(plan=1, start_day=day)
    npt.assert_array_equal(here["block_harvested"], np.nansum(by_block, axis=1))
    npt.assert_array_equal(here["block_known"], np.isfinite(by_block).sum(axis=1))
    # The rule that chose the days, followed by hand without each block.
    coldest, warmest = int(swept["coldest"]), int(swept["warmest"])
    life = swept["harvest_day"].sel(quantile=0.5).values - np.arange(1, DAYS + 1)
    for n in range(found.sizes["span"]):
        season, hits, years = str(found["season"][n].item()), 0.0, 0.0
        of_best = found.isel(span=n)
        shares = []  # in all years, of the date that each year judged
        for block in range(5):
            others = swept.isel(block=[b for b in range(5) if b != block]).sum("block")
            with np.errstate(invalid="ignore"):
                share = (others["block_harvested"] / others["block_known"]).values
                growth = (others["block_growth"] / others["block_harvested"]).values
                worth = (others["block_worth"] / others["block_known"]).values
            kind = (np.nan_to_num(share[0]) <= np.nan_to_num(share[1]) + 0.05).astype(int)
            pick = kind, np.arange(DAYS)
            for least in (0.5, 0.25, 0.0):
                spans = recommended_spans(
                    share[pick],
                    growth[pick],
                    np.nan_to_num(worth)[pick],
                    life[pick],
                    coldest,
                    warmest,
                    least_odds=least,
                )
                best = [span.best for span in spans if span.season == season]
                if best:
                    own = swept.isel(plan=kind[best[0]], start_day=best[0], block=block)
                    hits += float(own["block_harvested"])
                    years += float(own["block_known"])
                    whole = swept.isel(plan=kind[best[0]], start_day=best[0]).sum("block")
                    share = float(whole["block_harvested"] / whole["block_known"])
                    shares += [share] * int(own["block_known"])
                    break
        hits = plain_choice.allowed_for(hits, years, float(of_best["share"]), shares)
        assert float(found["elsewhere_harvested"][n]) == pytest.approx(hits)
        assert float(found["elsewhere_known"][n]) == years
        assert float(found["elsewhere_share"][n]) == pytest.approx(hits / years)
        assert found["elsewhere_low"][n] < found["elsewhere_share"][n] + 1e-9


def test_the_main_variety_unless_the_early_one_is_clearly_safer():
    record = at(weather(13, years=12, mean=7.5, swing=12.0))
    plan = Plan(crop("sweet corn"), "05-01")
    found = recommended_dates(plan, record, least_odds=0.6)
    sweeps = {
        kind: sweep_start_dates(replace(plan, earliness=kind), record) for kind in ("early", "main")
    }
    assert found.sizes["span"]
    for n in range(found.sizes["span"]):
        row = found.isel(span=n)
        day = int(row["best_day"]) - 1
        early, main = (float(sweeps[kind]["share"][day]) for kind in ("early", "main"))
        assert row["earliness"] == ("early" if early > main + 0.05 else "main")


def test_a_calendar_lists_each_crop_as_its_own_recommendation():
    record = at(weather(13, years=8, mean=11.0))
    found = planting_calendar(record, [PEA, TOMATO, crop("potato"), crop("apple")])
    methods = {
        (str(name), str(method))
        for name, method in zip(found["crop"].values, found["method"].values, strict=True)
    }
    assert methods == {("pea", "sown"), ("tomato", "set out"), ("potato", "planted")}
    own = recommended_dates(Plan(TOMATO, "05-01", plants="bought"), record)
    rows = found.isel(row=(found["crop"] == "tomato").values)
    for name in ("first_day", "best_day", "last_day", "share", "expected_crop"):
        npt.assert_array_equal(rows[name], own[name])
    assert planting_calendar(record, [crop("apple")]).sizes["row"] == 0


def test_usual_starts_are_those_of_the_crop():
    def ways(name):
        return [plan.name.split(" 1 ")[0] for plan in usual_starts(crop(name))]

    assert ways("pea") == ["sown outdoors"]
    assert ways("potato") == ["planted outdoors"]
    assert ways("tomato") == ["bought plants, set out"]
    assert ways("lettuce") == ["sown outdoors", "bought plants, set out"]


def test_extreme_days_are_those_of_the_weather():
    swept = sweep_start_dates(Plan(PEA, "04-01"), at(weather(1, years=8, spells=1.0)))
    coldest, warmest = int(swept["coldest"]), int(swept["warmest"])
    assert abs(coldest - 20) < 8
    assert abs(warmest - 202) < 8


COUNTED = ("share", *ODDS_NAMES, "good_share", "growth", "yield_index", "harvest_per_degree")
HARVEST_DAYS = [(150.0, 170.0, 200.0), (300.0, 330.0, 365.0), (500.0, 520.0, 366.0)]


def rows_by_hand(rng):
    """A row of each season, with numbers of no meaning."""
    seasons = SEASONS[1], SEASONS[2], SEASONS[2]
    spans = [Span(season, *rng.integers(0, DAYS, 5).tolist()) for season in seasons]
    for span, harvest in zip(spans, HARVEST_DAYS, strict=True):
        values = dict(zip(COUNTED, rng.random(len(COUNTED)), strict=True))
        at_best = xr.Dataset({**values, "known": 40, "harvest_day": ("quantile", list(harvest))})
        largest = float(rng.choice([0.0, 0.3, 4.0]))
        hits = float(rng.integers(0, 30))
        yield _Row(span, at_best, "early", largest, int(rng.integers(0, 9)), (hits, 30.0))


@pytest.mark.parametrize("seed", range(3))
def test_a_table_has_the_numbers_of_its_rows_and_says_their_units(seed):
    rows = list(rows_by_hand(np.random.default_rng(seed)))
    record = xr.Dataset(attrs={"source": "invented", "todays_error_c": 0.2})
    found = _table(rows, 2.0, record)
    assert found.attrs["interval"] == 0.9
    assert found.attrs["source"] == "invented"
    assert found["best_for"].values[1:].tolist() == [
        "an early harvest",  # begins in the same year in nine years of ten
        "an early harvest next year",
    ]
    for n, (span, at_best, earliness, largest, early_days, (hits, years)) in enumerate(rows):
        row = found.isel(span=n)
        for name in ("first", "best", "last"):
            assert row[f"{name}_day"] == getattr(span, name) + 1
        for name in ("largest_from", "largest_to"):
            assert row[name] == getattr(span, name) + 1
        for name in COUNTED[:-1]:
            assert row[name] == at_best[name]
        made = float(at_best["yield_index"])
        assert row["expected_crop"] == made / 2.0
        assert row["crop_of_variety"] == (min(made / largest, 1.0) if largest else made)
        assert (row["season"], row["earliness"]) == (span.season, earliness)
        assert (row["known"], row["early_days"]) == (40, early_days)
        assert (row["harvest_first"], row["harvest_last"]) == (
            HARVEST_DAYS[n][0],
            HARVEST_DAYS[n][2],
        )
        assert row["elsewhere_share"] == hits / years
        error = 0.2 * float(at_best["harvest_per_degree"])
        low, high = elsewhere_interval(np.array(hits), np.array(years), error=error)
        npt.assert_allclose([row["elsewhere_low"], row["elsewhere_high"]], [low, high])
    of_year = ("first_day", "best_day", "last_day", "largest_from", "largest_to")
    units = {name: found[name].attrs.get("units") for name in found}
    assert {name for name in units if units[name] == "day of the year"} == set(of_year)
    assert units["yield_index"] == "MJ m-2"
    whole = {*of_year, "known", "early_days"}
    assert {name for name in found if found[name].dtype.kind == "i"} == whole
    assert all(found[name].dims == ("span",) for name in found)
    npt.assert_array_equal(_table([], 0.0, record)["expected_crop"], [])


def test_an_early_harvest_is_named_where_there_are_dates_enough_for_it():
    span = Span("spring", first=360, best=5, last=40, largest_from=0, largest_to=30)
    enough = (360 + SHORTEST_SPAN) % DAYS
    assert best_for(span._replace(largest_from=enough)).startswith("an early harvest if started")
    assert best_for(span._replace(largest_from=enough - 1)) == "the largest harvest"


def test_what_cannot_be_recommended_is_refused():
    record = at(weather(1))
    for odds in (0, 1.2, 80):
        with pytest.raises(ValueError, match=r"least_odds is a share above 0 and at most 1, got"):
            recommended_dates(Plan(PEA, "04-01"), record, least_odds=odds)
    with pytest.raises(ValueError, match="apple stands for years: there is no start date"):
        recommended_dates(Plan(crop("apple"), "04-01"), record)
    both = side_by_side(record, at(weather(2)))
    for ask in (
        lambda: recommended_dates(Plan(PEA, "04-01"), both),
        lambda: planting_calendar(both),
    ):
        with pytest.raises(ValueError, match=r"one place, got dimensions .*station"):
            ask()


# --- facts of the trade (common practice) -------------------------------------------------


def test_where_winters_are_cold_and_summers_warm(albany):
    record = at(albany, 42.75)  # Albany NY: last frosts about 10 May
    garlic = recommended_dates(Plan(crop("garlic"), "10-15"), record)
    autumn = garlic.isel(span=(garlic["season"] == "autumn for the next year").values)
    assert autumn.sizes["span"] == 1
    assert 260 <= autumn["first_day"].item() <= 305  # planted from mid September to October
    peas = recommended_dates(Plan(PEA, "04-15"), record)
    spring = peas.isel(span=(peas["season"] == "spring").values)
    assert spring["first_day"].item() <= 110  # sown from mid April, or before
    assert spring["last_day"].item() >= 110
    tomatoes = recommended_dates(Plan(TOMATO, "05-20", plants="bought"), record)
    first, last = int(tomatoes["first_day"][0]), int(tomatoes["last_day"][0])
    assert first <= 150 <= last + 20  # set out late in May
    assert first >= 115  # not in April
