"""Which crops suit a place: each row is worked out again by the plan's own sweep."""

import numpy as np
import numpy.testing as npt
import pytest
import xarray as xr
from hypothesis import given, settings
from hypothesis import strategies as st
from planning import plain_choice
from records import side_by_side, weather

from climwin.core.odds import ODDS_NAMES
from climwin.core.seasons import DAYS, day_name
from climwin.crops.catalogue import crop, crop_names
from climwin.io.daily import read_daily
from climwin.io.samples import sample
from climwin.planning import suitability
from climwin.planning.dates import planting_calendar
from climwin.planning.growth import REASONS
from climwin.planning.plan import Plan
from climwin.planning.schedule import best_dates
from climwin.planning.selection import circular_mean
from climwin.planning.spans import recommended_spans
from climwin.planning.suitability import (
    LIMITS,
    _at_best,
    _may_be_early,
    _ranked,
    rank_crops,
)
from climwin.planning.sweep import sweep_plans
from climwin.report.sentences_garden import suited

SOME = [crop(n) for n in ("cauliflower", "radish", "eggplant", "garlic", "tomato", "peach")]


def at(record, latitude=44.0):
    record.attrs["latitude"] = latitude
    return record


def rows(found):
    return [found.isel(plan=n) for n in range(found.sizes["plan"])]


def test_each_crop_is_grown_in_each_way_it_can_be():
    found = rank_crops(at(weather(2)), SOME)
    names = (found[name].values for name in ("crop", "cover", "weeks"))
    weeks = {kind.name: kind.weeks_under_cover for kind in SOME}
    expected = []
    for kind in SOME:
        expected.append((kind.name, "none", 0))
        if weeks[kind.name] is not None:
            cover = "room with lights" if kind.name in ("eggplant", "tomato") else "cold frame"
            expected.append((kind.name, cover, weeks[kind.name].usual))
    assert list(zip(*names, strict=True)) == expected
    raised = rank_crops(at(weather(2)), SOME, ways=("room with lights",))
    assert raised["crop"].values.tolist() == ["cauliflower", "eggplant", "tomato"]


def leading(spans, swept, judged):
    """The first season with a full crop that is nearly as safe as any, or else the largest."""
    worth = np.nan_to_num(swept["yield_index"].values)
    largest = circular_mean(worth).max()
    crop = [worth[span.best] / largest for span in spans]
    growth = [float(swept["growth"][span.best]) for span in spans]
    safe = [hits / years for hits, years in judged]
    for least in (max(safe) - 0.1, 0.0):
        for place in range(len(spans)):
            full = crop[place] >= 0.75 * max(crop) and growth[place] >= 0.75 * max(growth)
            if full and safe[place] >= least:
                return place
    return int(np.argmax(crop))


def judged_by_hand(swept, spans_of, season, best):
    """Harvests and years of a season's best date, chosen without each block and judged on it."""
    hits = years = 0.0
    whole = swept.sum("block")
    in_all_years = (whole["block_harvested"] / np.maximum(whole["block_known"], 1)).values
    shares = []  # in all years, of the date that each year judged
    for block in range(swept.sizes["block"]):
        others = swept.isel(block=[b for b in range(swept.sizes["block"]) if b != block])
        harvested, known, worth, growth = (
            others[f"block_{name}"].sum("block").values
            for name in ("harvested", "known", "worth", "growth")
        )
        years_known = np.maximum(known, 1)
        day = best
        for least in (0.8, 0.4, 0.0):
            growths = growth / np.maximum(harvested, 1e-9)
            spans = spans_of(harvested / years_known, growths, worth / years_known, least)
            found = [span.best for span in spans if span.season == season]
            if found:
                day = found[0]
                break
        own = swept.isel(block=block, start_day=day)
        hits += float(own["block_harvested"])
        years += float(own["block_known"])
        shares += [in_all_years[day]] * int(own["block_known"])
    return plain_choice.allowed_for(hits, years, in_all_years[best], shares), years


def test_rows_are_the_plans_own_sweep_at_the_dates_of_the_season_that_leads():
    record = at(weather(2, years=8, mean=9.0, swing=10.0))
    limited, seasons = 0, set()
    for row in rows(rank_crops(record, SOME)):
        cover, weeks = str(row["cover"].item()), int(row["weeks"])
        kind = crop(str(row["crop"].item()))
        plan = Plan(kind, "01-01", weeks, cover, earliness=str(row["earliness"].item()))
        swept = sweep_plans([plan], record).isel(plan=0)
        known = swept["known"].values > 0
        worth = np.where(known, np.nan_to_num(swept["yield_index"].values), -1)
        life = (swept["harvest_day"].sel(quantile=0.5) - swept["start_day"]).values
        turns = int(swept["coldest"]), int(swept["warmest"])

        def spans_of(share, growth, worth, least, life=life, turns=turns):
            return recommended_spans(share, growth, worth, life, *turns, least_odds=least)

        curves = (swept[name].values for name in ("share", "growth"))
        spans = [] if kind.is_perennial else spans_of(*curves, np.nan_to_num(worth), 0.8)
        elsewhere = float(swept["elsewhere_harvested"]), float(swept["elsewhere_known"])
        if worth.max() <= 0:  # where it comes up most often, since it never comes to a harvest
            early = swept["failed_by"].sel(reason=list(REASONS[:3])).values @ [2, 1, 1]
            best = int(np.where(known, early / np.maximum(swept["known"], 1), np.inf).argmin())
            assert np.isnan(row["first_day"])
        elif spans:
            judged = [judged_by_hand(swept, spans_of, span.season, span.best) for span in spans]
            place = leading(spans, swept, judged)
            if kind.name == "garlic":  # planted for the next year, whatever spring may bring
                place = int(np.argmax([worth[span.best] for span in spans]))
            span, elsewhere = spans[place], judged[place]
            best = span.best
            assert (row["first_day"], row["last_day"]) == (span.first + 1, span.last + 1)
            seasons.add(span.season)
        else:
            best = plain_choice.best_day(worth, known, swept["stable"].values)
            assert (row["first_day"], row["last_day"]) == best_dates(swept)
        here = swept.isel(start_day=best)
        for name in ("harvested", "known", "share", "low", "high", "good_share", "growth"):
            npt.assert_array_equal(row[name], here[name])
        found = float(row["elsewhere_harvested"]), float(row["elsewhere_known"])
        assert found == pytest.approx(elsewhere)
        assert row["start_day"] == best + 1
        failed = here["failed_by"].values
        expected = REASONS[int(failed.argmax())] if failed.max() else ""
        assert row["reason"].item() == expected
        assert row["limit"].item() == LIMITS[expected]
        limited += bool(expected)
    assert limited > 1
    assert len(seasons) > 1


def test_suits_and_the_calendar_tell_one_story():
    # Peas at Pellbrook are sown in March, although those of July would be larger.
    daily = read_daily(sample())
    kinds = [crop(name) for name in ("pea", "radish", "spinach", "carrot")]
    suits, dates = rank_crops(daily, kinds, ways=("none",)), planting_calendar(daily, kinds)
    for row in rows(suits):
        name = row["crop"].item()
        is_spring = (dates["crop"] == name) & (dates["season"] == "spring")
        spring = dates.isel(row=is_spring.values)
        assert spring["first_day"][0] - 10 <= row["start_day"] <= spring["last_day"][0] + 10
    found = {row["crop"].item(): row for row in rows(suits)}
    assert 60 <= found["pea"]["start_day"] <= 110
    # Main carrots ripen in the heat too often; main peas are good enough.
    for name, kind in (("carrot", "early"), ("pea", "main")):
        assert found[name]["earliness"] == kind
        said = suited(found[name])
        assert day_name(float(found[name]["first_day"])) in said
        assert (", early varieties; else " in said) is (kind == "early")


def test_ranks_follow_odds_times_growth():
    found = rank_crops(at(weather(5, years=8, mean=9.0)), [crop(n) for n in crop_names()[:30]])
    ranked = found.sortby("rank")
    assert ranked["rank"].values.tolist() == [*range(1, found.sizes["plan"] + 1)]
    odds, growth = ranked["elsewhere_share"].values, ranked["growth"].fillna(0).values
    values = (odds * growth).tolist()
    assert values == sorted(values, reverse=True)
    # One that always comes to a harvest, but a poor one, stands behind a good and nearly safe one.
    assert odds.tolist() != sorted(odds.tolist(), reverse=True)


def sweep_by_hand(rng):
    """Counts of two stations, five plans and six start dates; some give no harvest."""
    dims, shape = ("station", "plan", "start_day"), (2, 5, 6)
    known = rng.choice([0, 1, 9], shape)
    names = ("harvested", "share", *ODDS_NAMES, "good_share", "growth", "harvest_per_degree")
    data = {name: (dims, rng.random(shape)) for name in names}
    worth = np.where((known > 0) & (rng.random((2, 5, 1)) < 0.5), 0.0, rng.random(shape))
    failed = rng.integers(0, rng.choice([2, 9], (2, 5, 1, 1)), (*shape, len(REASONS))) * (
        rng.random((2, 5, 1, 1)) < 0.8
    )
    data |= {"known": (dims, known), "yield_index": (dims, worth)}
    data["failed_by"] = ((*dims, "reason"), failed)
    for name in ("best_day", "best_first", "best_last"):
        data[name] = (dims[:2], rng.integers(1, 7, shape[:2]).astype(float))
    data["best_season"] = (dims[:2], rng.integers(-1, 3, shape[:2]))
    data["elsewhere_harvested"] = (dims[:2], rng.integers(0, 9, shape[:2]).astype(float))
    data["elsewhere_known"] = (dims[:2], np.full(shape[:2], 9.0))
    return xr.Dataset(data)


@pytest.mark.parametrize("seed", range(3))
def test_a_plan_is_told_on_its_best_day_or_where_it_never_ripens_when_most_comes_up(seed):
    swept = sweep_by_hand(np.random.default_rng(seed))
    found = _at_best(swept)
    for station in range(2):
        for plan in range(5):
            here, row = (each.isel(station=station, plan=plan) for each in (swept, found))
            days = [day for day in range(6) if here["known"][day] > 0]
            ripens = any(here["yield_index"][day] > 0 for day in days)
            assert row["season"] == here["best_season"]
            if not days:
                assert np.isnan(row["start_day"])
                assert row["reason"] == row["limit"] == ""
                continue
            failed = here["failed_by"].values
            unborn = [
                (2 * failed[day, 0] + failed[day, 1] + failed[day, 2]) / int(here["known"][day])
                for day in days
            ]
            day = int(here["best_day"]) - 1 if ripens else days[int(np.argmin(unborn))]
            assert row["start_day"] == day + 1
            first, last = (
                float(here[name]) if ripens else np.nan for name in ("best_first", "best_last")
            )
            npt.assert_equal([float(row["first_day"]), float(row["last_day"])], [first, last])
            for name in ("harvested", "known", "share", *ODDS_NAMES, "good_share", "growth"):
                assert row[name] == here[name][day]
            most = max(failed[day])
            word = REASONS[failed[day].tolist().index(most)] if most else ""
            assert row["reason"] == word
            assert row["limit"] == LIMITS[word]
            assert row["elsewhere_share"] == here["elsewhere_harvested"] / 9


@given(st.integers(0, 2**32 - 1))
@settings(max_examples=25)
def test_ranks_of_each_station_follow_odds_times_growth_then_the_share(seed):
    rng = np.random.default_rng(seed)
    values = {
        name: (("station", "plan"), rng.choice([np.nan, 0.0, 0.5, 0.6, 1.0], (2, 7)))
        for name in ("elsewhere_share", "growth", "share")
    }
    found = _ranked(xr.Dataset(values))
    for station in range(2):
        row = found.isel(station=station)
        worth = np.nan_to_num(row["elsewhere_share"].values * row["growth"].values)
        share = np.nan_to_num(row["share"].values, nan=-1.0)
        order = sorted(range(7), key=lambda n: (-worth[n], -share[n], n))
        assert [int(row["rank"][n]) for n in order] == list(range(1, 8))


@pytest.mark.parametrize(
    ("name", "may"), [("pea", True), ("tomato", True), ("garlic", False), ("apple", False)]
)
def test_an_early_variety_brings_forward_what_is_sown_for_the_same_year(name, may):
    assert _may_be_early(crop(name)) == may


# Season that leads of a main and of an early variety; -1 where none is safe, 0 is spring.
LEADS = {
    "pea": (0, 0, "main"),
    "carrot": (-1, 0, "early"),
    "tomato": (1, 0, "early"),
    "radish": (1, 1, "main"),
    "turnip": (2, -1, "main"),
    "beet": (-1, -1, "main"),
    "garlic": (2, 0, "main"),
    "apple": (-1, 0, "main"),
}


def test_an_early_variety_stands_in_where_it_brings_a_safe_season_forward(monkeypatch):
    """What each plan comes to is made up: its place among those that are tried, and its season."""
    tried = []

    def swept(plans, daily, *, with_band):
        assert not with_band
        tried.append(plans)
        return plans

    def at_best(plans):
        at = [LEADS[plan.crop.name][plan.earliness == "early"] for plan in plans]
        number = np.arange(len(plans)) + 100.0 * (plans[0].earliness == "early")
        names = ("first_day", "last_day", "start_day", "elsewhere_share", "growth", "share")
        data = dict.fromkeys(names, ("plan", number))
        return xr.Dataset(data | {"season": ("plan", at)})

    monkeypatch.setattr(suitability, "sweep_plans", swept)
    monkeypatch.setattr(suitability, "_at_best", at_best)
    monkeypatch.setattr(
        suitability, "in_climate", lambda daily, climate: daily.assign_attrs(was=climate)
    )
    monkeypatch.setattr(suitability, "provenance", lambda daily: {"climate": daily.attrs["was"]})
    record = at(weather(2, years=3))
    found = rank_crops(record, [crop(name) for name in LEADS], ways=("none",), climate="today")
    assert found["crop"].values.tolist() == list(LEADS)
    assert found["earliness"].values.tolist() == [told for *_, told in LEADS.values()]
    main, early = tried
    assert {plan.earliness for plan in main} == {"main"}
    late = [name for name, (season, *_) in LEADS.items() if season != 0]
    asked = [name for name in late if name not in ("garlic", "apple")]
    assert [(plan.crop.name, plan.earliness) for plan in early] == [(n, "early") for n in asked]
    for n, (name, (*_, told)) in enumerate(LEADS.items()):
        expected = 100 + asked.index(name) if told == "early" else n
        assert found["start_day"][n] == expected
    for name in ("first_day", "last_day", "start_day"):
        assert found[name].attrs["units"] == "day of the year"
    assert "season" not in found
    years = record["time"].dt.year.values
    expected = {"interval": 0.9, "climate": "today", "first_year": years[0], "last_year": years[-1]}
    assert {name: found.attrs[name] for name in expected} == expected
    assert found["cover"].values.tolist() == ["none"] * len(LEADS)
    assert found["weeks"].values.tolist() == [0] * len(LEADS)
    assert found["propagation"].values.tolist() == [crop(name).propagation for name in LEADS]
    in_spring = rank_crops(record, [crop("pea")], ways=("none",))
    assert in_spring["earliness"].values.tolist() == ["main"]
    assert len(tried) == 3  # there is no early variety to try


def test_every_reason_has_its_words():
    assert set(LIMITS) == {*REASONS, ""}
    assert all(LIMITS[reason] for reason in REASONS)


@pytest.mark.parametrize(
    ("name", "mean", "swing", "latitude", "reason"),
    [
        ("okra", 5.0, 9.0, 55.0, "chilled"),
        ("okra", 0.0, 8.0, 60.0, "did not come up: too cold"),
        ("eggplant", 9.0, 9.0, 50.0, "not ripe before the end"),
        ("peach", -4.0, 22.0, 52.0, "winter kill"),
        ("apple", 25.0, 2.0, 10.0, "cold need not met"),
        ("onion", 24.0, 2.0, 0.0, ""),
        ("radish", 12.0, 9.0, 44.0, ""),
    ],
)
def test_what_limits_a_crop(name, mean, swing, latitude, reason):
    record = at(weather(6, years=6, mean=mean, swing=swing, spells=2.0), latitude)
    row = rank_crops(record, [crop(name)], ways=("none",)).isel(plan=0)
    if reason:
        assert row["reason"].item() == reason
    else:
        assert row["share"] > 0.5


def test_stations_pass_through():
    alone = [at(weather(1), 44.0), at(weather(2, mean=14.0), 30.0)]
    both = side_by_side(*alone).assign_coords(latitude=("station", [44.0, 30.0]))
    for lazy in (both, both.chunk(station=1)):
        found = rank_crops(lazy, SOME[:3]).compute()
        for n, record in enumerate(alone):
            own = rank_crops(record, SOME[:3])
            for name in ("rank", "start_day", "share", "reason", "limit", "first_day"):
                npt.assert_array_equal(found[name].isel(station=n), own[name])


def test_what_cannot_be_ranked_is_refused():
    record = at(weather(1))
    with pytest.raises(ValueError, match=r"ways must be one of none, fleece.*'igloo'"):
        rank_crops(record, SOME, ways=("igloo",))
    with pytest.raises(ValueError, match=r"Of 1 crops none can be grown in the ways cold frame"):
        rank_crops(record, [crop("radish")], ways=("cold frame",))
    assert DAYS >= rank_crops(record, SOME[:1])["start_day"].max() >= 1
