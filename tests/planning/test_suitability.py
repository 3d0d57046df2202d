"""Which crops suit a place: each row is worked out again by the plan's own sweep and judgement."""

from dataclasses import replace

import numpy as np
import numpy.testing as npt
import pytest
from records import daily, days, side_by_side, weather

from climwin.climate.soil import soil_temperature
from climwin.climate.windows import running_mean_bounds
from climwin.core.seasons import DAYS, by_year, coldest_day, day_name, warmest_day
from climwin.crops.catalogue import crop, crop_names
from climwin.planning.evaluate import best_dates, judge, success_odds, sweep
from climwin.planning.schedule import best_run
from climwin.planning.plan import Conditions, Plan
from climwin.planning.suitability import rank_crops
from climwin.planning.growth import REASONS

SOME = [
    crop(name) for name in ("cauliflower", "radish", "eggplant", "garlic", "tomato", "artichoke")
]


def plan_of(row):
    weeks, start = int(row["weeks"]), day_name(float(row["start_day"]))
    return Plan(crop(str(row["crop"].item())), start, weeks, str(row["cover"].item()))


def rows(found):
    return [found.isel(plan=n) for n in range(found.sizes["plan"])]


def test_each_crop_is_grown_in_each_way_it_can_be(champion):
    found = rank_crops(champion, SOME)
    ways = list(
        zip(found["crop"].values, found["cover"].values, found["weeks"].values, strict=True)
    )
    assert ways == [
        *(("cauliflower", "none", 0), ("cauliflower", "cold frame", 6), ("radish", "none", 0)),
        *(("eggplant", "none", 0), ("eggplant", "cold frame", 7), ("garlic", "none", 0)),
        *(("tomato", "none", 0), ("tomato", "cold frame", 6)),
        *(("artichoke", "none", 0), ("artichoke", "cold frame", 8)),
    ]
    raised = rank_crops(champion, SOME, ways=("room with lights",))
    assert raised["crop"].values.tolist() == ["cauliflower", "eggplant", "tomato", "artichoke"]


@pytest.mark.parametrize("place", ["albany", "tunis"])
def test_rows_are_the_plans_own_odds_at_their_best_dates(place, request):
    record = request.getfixturevalue(place)
    limited = 0
    for row in rows(rank_crops(record, SOME)):
        plan = plan_of(row)
        swept = sweep(plan, record)
        if swept["share"].max() > 0:
            first, last = best_dates(swept)
            assert (row["first_day"], row["last_day"]) == (first, last)
            assert row["start_day"] == (first + (last - first) % DAYS // 2 - 1) % DAYS + 1
        judged = judge(plan, record)
        odds = success_odds(judged)
        for name in ("succeeded", "known", "share", "low", "high"):
            npt.assert_allclose(row[name], odds[name], rtol=1e-12)
        both = (judged["reason"] == "late freeze") & (judged["autumn_freezes"] > 0)
        reasons = judged["reason"].where(~both, "autumn freeze").values.tolist()
        counts = [reasons.count(reason) for reason in REASONS]
        assert row["reason"].item() == (REASONS[int(np.argmax(counts))] if any(counts) else "")
        limited += any(counts)
    assert limited > 2


def test_a_crop_that_never_succeeds_stands_where_fewest_days_are_bad(albany):
    (row,) = rows(rank_crops(albany, [crop("hot pepper")], ways=("none",)))
    assert row["succeeded"] == 0
    assert np.isnan(row["first_day"])
    assert np.isnan(row["last_day"])
    plan = plan_of(row)

    def bad_days(start):
        judged = judge(replace(plan, start=day_name(start)), albany)
        names = ("too_hot", "too_cold", "late_freezes", "autumn_freezes")
        return sum(judged[name].values for name in names).sum()

    here = int(row["start_day"])
    fewest = bad_days(here)
    # Of starts whose life ends within the record; from others some days are not known.
    for start in (1, 60, 90, *range(here - 6, here + 7, 3), 150, 190):
        assert bad_days(start) >= fewest
    assert bad_days(here + 1) > fewest or bad_days(here - 1) > fewest


def test_dates_that_never_succeed_are_no_part_of_the_best_run():
    share = np.zeros(DAYS)
    share[100:103] = 1 / 30  # within 5 points of any other day
    assert best_run(share) == (100, 3)


@pytest.mark.parametrize(("name", "side"), [("potato", "hot"), ("tomato", "cold")])
def test_the_stage_that_suffers_most_is_told(name, side):
    record = weather(mean=12.0, swing=11.0)
    (row,) = rows(rank_crops(record, [crop(name)], ways=("none",)))
    plan = plan_of(row)
    failed = judge(plan, record)["reason"].values == row["reason"].item()
    assert row["reason"].item() == f"too {side}"
    grid = np.vstack([by_year(record["tmean"]).values, np.full((1, DAYS), np.nan)])
    low, high = (bound.ravel() for bound in running_mean_bounds(grid))
    days = {stage.name: 0 for stage in plan.crop.stages}
    for piece in (piece for piece in plan.pieces() if piece.stage.place == "air"):
        band = piece.stage.tolerates
        for year in np.flatnonzero(failed):
            start = year * DAYS + int(row["start_day"]) - 1
            for day in range(start + piece.begin, start + piece.end):
                out = {"hot": low[day] > band.high_c + 0.05, "cold": high[day] < band.low_c - 0.05}
                days[piece.stage.name] += out[side]
    assert row["stage"].item() == max(days, key=days.get)
    assert row["limit"].item() == f"it is too {side} for its {row['stage'].item()}"


@pytest.mark.parametrize(
    ("name", "mean", "swing", "reason", "limit"),
    [
        ("potato", 15.0, 14.0, "late freeze", "late freezes kill it"),
        ("artichoke", 9.0, 13.0, "autumn freeze", "the season is too short"),
        ("eggplant", 9.0, 13.0, "soil too cold", "the soil is too cold to sow"),
        ("radish", 30.0, 1.0, "too hot", "it is too hot for its roots"),
        ("spinach", 9.0, 13.0, "", ""),
    ],
)
def test_what_limits_a_crop_is_said_in_words(name, mean, swing, reason, limit):
    record = weather(mean=mean, swing=swing)
    (row,) = rows(rank_crops(record, [crop(name)], ways=("none",)))
    assert row["reason"].item() == reason
    assert row["limit"].item().startswith(limit)
    assert bool(row["limit"].item()) == bool(reason)


def test_the_whole_catalogue_is_ranked(albany):
    found = rank_crops(albany)
    assert set(found["crop"].values) == set(crop_names())
    assert sorted(found["rank"].values) == [*range(1, found.sizes["plan"] + 1)]
    ranked = found.sortby("rank")
    assert (np.diff(ranked["share"]) <= 0).all()
    length = ((ranked["last_day"] - ranked["first_day"]) % DAYS).values
    alike = np.diff(ranked["share"]) == 0
    assert (np.diff(length)[alike] <= 0).sum() == (alike & ~np.isnan(np.diff(length))).sum()
    assert found["start_day"].attrs["units"] == "day of the year"


@pytest.mark.parametrize(("name", "limit"), [("apple", 4.4), ("asparagus", 7.0)])
def test_a_crop_that_wakes_by_itself_has_no_dates_to_choose_from(name, limit):
    record = weather(5, mean=14.0, swing=11.0, years=9)
    (row,) = rows(rank_crops(record, [crop(name)]))
    assert (row["begins"].item(), row["cover"].item()) == ("by itself", "none")
    assert row["first_day"] == row["last_day"] == row["start_day"]
    soil = by_year(soil_temperature(record, 0.05)).values
    warm = np.isin(
        np.arange(soil.size),
        [at for at in range(4, soil.size) if (soil.ravel()[at - 4 : at + 1] >= limit - 0.05).all()],
    ).reshape(soil.shape)
    rise = range(int(coldest_day(record)), int(warmest_day(record)))
    first = next(day for day in rise if warm[:, day - 1].mean() >= 0.5)
    assert row["start_day"] == first
    judged = judge(replace(plan_of(row), conditions=Conditions(warm_soil=False)), record)
    assert row["succeeded"] == success_odds(judged)["succeeded"]


def test_a_crop_wakes_half_a_year_later_in_the_south():
    north, south = weather(5), weather(5, coldest=202)
    days = [rank_crops(r, [crop("pear")])["start_day"].item() for r in (north, south)]
    assert (days[1] - days[0]) % DAYS == pytest.approx(182, abs=4)
    assert (
        rank_crops(side_by_side(north, south), [crop("pear")])["start_day"].values.ravel().tolist()
        == days
    )


def test_a_crop_that_wakes_by_itself_never_starts_better_than_where_dates_are_chosen():
    record = weather(5)
    own = rank_crops(record, [crop("strawberry")])["share"].item()
    assert (
        own
        <= sweep(Plan(crop("strawberry"), "01-01", conditions=Conditions(warm_soil=False)), record)[
            "share"
        ].max()
    )


# --- stations, dask, gaps -----------------------------------------------------------------


@pytest.mark.parametrize("chunks", [None, 1], ids=["at once", "lazily"])
def test_stations_pass_through(chunks):
    alone = weather(1, gaps=0.02), weather(2, coldest=202), weather(3, mean=19.0)
    both = side_by_side(*alone)
    both = both.chunk(station=chunks) if chunks else both
    found = rank_crops(both, SOME)
    assert (found["rank"].chunks is not None) == bool(chunks)
    for n, record in enumerate(alone):
        own = rank_crops(record, SOME)
        for name in found:
            npt.assert_array_equal(found[name].isel(station=n), own[name])


def test_nothing_is_said_where_nothing_is_known():
    # Always warm, but no night of two times of the year is ever known: any could have killed.
    time = days("1999-01-01", "2001-12-31")
    warm = np.full(len(time), 24.0) - 2 * np.cos(2 * np.pi * np.arange(len(time)) / 365)
    month = time.astype("datetime64[M]").astype(int) % 12 + 1
    hidden = (month % 6 == 3) | (month % 6 == 2)
    record = daily(time, tmin=np.where(hidden, np.nan, warm - 5), tmax=warm + 5, tmean=warm)
    (row,) = rows(rank_crops(record, [crop("grape")], ways=("none",)))
    assert row["known"] == 0
    assert np.isnan([row[name].item() for name in ("first_day", "start_day", "share", "low")]).all()
    assert (row["reason"].item(), row["limit"].item()) == ("", "")


# --- bad input ----------------------------------------------------------------------------


def test_what_cannot_be_grown_is_refused():
    record = weather(years=2)
    with pytest.raises(ValueError, match=r"ways must be one of none, fleece, .*got 'tunnel'"):
        rank_crops(record, SOME, ways=("none", "tunnel"))
    with pytest.raises(ValueError, match=r"Of 1 crops none .* ways cold frame.*add the way 'none'"):
        rank_crops(record, [crop("radish")], ways=("cold frame",))
    with pytest.raises(ValueError, match=r"Of 0 crops none"):
        rank_crops(record, [])
    with pytest.raises(ValueError, match=r"in the ways \(none\)"):
        rank_crops(record, SOME, ways=())
