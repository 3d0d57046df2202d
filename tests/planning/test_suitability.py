"""Which crops suit a place: each row is worked out again by the plan's own sweep."""

import numpy as np
import numpy.testing as npt
import pytest
from planning import plain_choice
from records import side_by_side, weather

from climwin.core.seasons import DAYS
from climwin.crops.catalogue import crop, crop_names
from climwin.planning.evaluate import sweep_start_dates
from climwin.planning.growth import REASONS
from climwin.planning.plan import Plan
from climwin.planning.schedule import best_dates
from climwin.planning.suitability import LIMITS, rank_crops

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


def test_rows_are_the_plans_own_sweep_at_its_best_date():
    record = at(weather(2, years=8, mean=9.0, swing=10.0))
    limited = 0
    for row in rows(rank_crops(record, SOME)):
        cover, weeks = str(row["cover"].item()), int(row["weeks"])
        swept = sweep_start_dates(
            Plan(crop(str(row["crop"].item())), "01-01", weeks, cover), record
        )
        known = swept["known"].values > 0
        worth = np.where(known, np.nan_to_num(swept["yield_index"].values), -1)
        best = int(worth.argmax())
        if worth.max() <= 0:  # where it comes up most often, since it never comes to a harvest
            early = swept["failed_by"].sel(reason=list(REASONS[:3])).values @ [2, 1, 1]
            best = int(np.where(known, early / np.maximum(swept["known"], 1), np.inf).argmin())
        else:
            best = plain_choice.best_day(worth, known, swept["stable"].values)
        here = swept.isel(start_day=best)
        for name in ("harvested", "known", "share", "low", "high", "good_share", "growth"):
            npt.assert_array_equal(row[name], here[name])
        for name in ("harvested", "known", "share", "low", "high"):
            npt.assert_array_equal(row[f"elsewhere_{name}"], swept[f"elsewhere_{name}"])
        assert row["start_day"] == best + 1
        if worth.max() > 0:
            assert (row["first_day"], row["last_day"]) == best_dates(swept)
        else:
            assert np.isnan(row["first_day"])
        failed = here["failed_by"].values
        expected = REASONS[int(failed.argmax())] if failed.max() else ""
        assert row["reason"].item() == expected
        assert row["limit"].item() == LIMITS[expected]
        limited += bool(expected)
    assert limited > 1


def test_ranks_follow_the_odds_and_then_the_growth():
    found = rank_crops(at(weather(5, years=8, mean=9.0)), [crop(n) for n in crop_names()[:30]])
    ranked = found.sortby("rank")
    assert ranked["rank"].values.tolist() == [*range(1, found.sizes["plan"] + 1)]
    pairs = list(
        zip(ranked["elsewhere_share"].values, ranked["growth"].fillna(-1).values, strict=True)
    )
    assert pairs == sorted(pairs, reverse=True)


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
