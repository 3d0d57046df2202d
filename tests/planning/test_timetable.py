"""Stages by heat and a plan's dates, against sums and counts day by day."""

from dataclasses import replace

import numpy as np
import numpy.testing as npt
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from records import daily, days, missing, moved, side_by_side, weather, weathers

from climwin.climate.soil import soil_temperature
from climwin.core.seasons import DAYS, by_year, seen_range
from climwin.crops.catalogue import HeatSum, crop
from climwin.planning.evaluate import judge, success_odds
from climwin.planning.plan import Plan
from climwin.planning.timetable import dated_plan, days_by_heat, with_heat_days
from climwin.shelter.covers import COVERS, under_cover

POTATO = crop("potato")
SPROUTING, LEAVES = POTATO.stages[:2]
LEAVES_BY_HEAT = replace(LEAVES, degree_days=HeatSum(base_c=4.03, total=300.0, source="test"))
RAISED = Plan(crop("cauliflower"), "03-20", 6, "cold frame", 2)


# --- stages by heat -----------------------------------------------------------------------


def plain_days(values, start, stage):
    """Days until the heat has come together, day by day; none within a year is 366."""
    heat = 0.0
    for day in range(DAYS):
        heat += max(values[start + day] - stage.degree_days.base_c, 0)
        if heat >= stage.degree_days.total - 1e-6:
            return day + 1
    return DAYS + 1


@given(
    weathers(), st.sampled_from([SPROUTING, LEAVES_BY_HEAT]), st.sampled_from([1, 100, 130, 290])
)
@settings(max_examples=15)
def test_days_by_heat_are_a_plain_sum(record, stage, start_day):
    found = days_by_heat(stage, record, start_day)
    mean = record["tmean"]
    grid = by_year(soil_temperature(record) if stage.place == "soil" else mean).values
    grid = np.vstack([grid, np.full((1, DAYS), np.nan)])
    cold, warm = (np.where(np.isnan(grid), fill, grid).ravel() for fill in seen_range(grid))
    for year in range(found.sizes["season"]):
        start = year * DAYS + start_day - 1
        slow, fast = (plain_days(values, start, stage) for values in (cold, warm))
        row = found.isel(season=year)
        expected = "unknown" if slow != fast else "none" if slow > DAYS else "observed"
        assert row["status"].item() == expected
        npt.assert_equal(row["days"].item(), slow if expected == "observed" else np.nan)


def test_potatoes_come_up_as_published():
    # Sale 1979, Aust. J. Agric. Res. 30:667: about 450 degree-days above 2 degC, so 34.6 days in
    # soil of 15 degC.
    time = days("1999-01-01", "2001-12-31")
    mild = np.full(len(time), 15.0)
    record = daily(time, tmin=mild - 5, tmax=mild + 5, tmean=mild)
    found = days_by_heat(SPROUTING, record, 105)
    assert found["days"].values[:2].tolist() == [35, 35]
    assert found.attrs["heat_source"] == "Sale 1979, Aust. J. Agric. Res. 30:667"
    frozen = record.copy(data={name: record[name].values - 20 for name in record})
    assert days_by_heat(SPROUTING, frozen, 105)["status"].values[:2].tolist() == ["none", "none"]


def test_a_gap_counts_only_where_the_heat_is_gathered():
    record = weather(3, years=3)
    whole = days_by_heat(LEAVES_BY_HEAT, record, 100)["days"].values
    later = missing(record, "1999-12-01")
    npt.assert_array_equal(days_by_heat(LEAVES_BY_HEAT, later, 100)["days"], whole)
    gone = [str(day) for day in days("1999-04-12", "1999-05-10")]
    found = days_by_heat(LEAVES_BY_HEAT, missing(record, *gone), 100)
    assert found["status"].values.tolist() == ["unknown", "observed", "observed"]
    npt.assert_array_equal(found["days"].values[1:], whole[1:])


def test_heat_of_the_place_replaces_the_usual_days(champion):
    plan = Plan(POTATO, "04-20")
    stage = with_heat_days(plan, champion).crop.stages[0]
    found = days_by_heat(SPROUTING, champion, 110)
    taken = found["days"].values[found["status"].values == "observed"]
    low, middle, high = np.quantile(taken, (0.1, 0.5, 0.9), method="hazen")
    assert stage.days.fewest == np.floor(low)
    assert abs(stage.days.usual - middle) <= 0.5
    assert stage.days.most == np.ceil(high)
    assert stage.days.source == (
        f"Sale 1979, Aust. J. Agric. Res. 30:667; 8 of 10 of {len(taken)} years at this place"
    )
    assert ((taken >= stage.days.fewest) & (taken <= stage.days.most)).mean() >= 0.8
    assert with_heat_days(plan, champion).crop.stages[1:] == POTATO.stages[1:]


def test_a_later_stage_begins_where_the_one_before_ends(champion):
    both = replace(POTATO, stages=(SPROUTING, LEAVES_BY_HEAT, POTATO.stages[2]))
    first, second, _ = with_heat_days(Plan(both, "04-20"), champion).crop.stages
    begins = days_by_heat(LEAVES_BY_HEAT, champion, 110 + first.days.usual)["days"]
    assert second.days.usual == round(np.nanmedian(begins))


def test_days_stay_where_heat_says_nothing(champion):
    frozen = champion.assign(tmean=champion["tmean"] - 30)
    plan = Plan(POTATO, "04-20")
    assert with_heat_days(plan, frozen) == plan
    raised = Plan(POTATO, "04-20", 4, "cold frame")
    assert with_heat_days(raised, champion) == raised
    assert with_heat_days(RAISED, champion) == RAISED


# --- dates and odds -----------------------------------------------------------------------


def test_dates_are_the_stages_laid_end_to_end():
    found = dated_plan(Plan(crop("cauliflower"), "03-20", 6, "cold frame"), weather())
    # 20 March is day 79; 42 days under cover; stages of 10 (5 to 20), 25 (20 to 30), 30 (24 to
    # 40) and 20 (14 to 28) days.
    assert found["event"].values.tolist() == [
        *("start", "set out", "germination", "seedling", "leaf growth", "curd")
    ]
    expected = {
        "begin_first": [79, 121, 79, 84, 104, 128],
        "begin_day": [79, 121, 79, 89, 114, 144],
        "begin_last": [79, 121, 79, 99, 129, 169],
        "end_first": [79, 121, 83, 103, 127, 141],
        "end_day": [79, 121, 88, 113, 143, 163],
        "end_last": [79, 121, 98, 128, 168, 196],
    }
    for name, numbers in expected.items():
        assert found[name].values.tolist() == numbers
        assert found[name].attrs["units"] == "day of the year"
    assert found["source"].values.tolist()[3:] == ["common practice"] * 3
    assert "set out" not in dated_plan(Plan(POTATO, "04-20"), weather())["event"]


@given(weathers(), st.sampled_from(["01-05", "03-20", "07-10", "09-20"]))
@settings(max_examples=8)
def test_killing_nights_are_counted_by_event(record, start):
    plan = replace(RAISED, start=start)
    found = dated_plan(plan, record)
    odds = success_odds(judge(plan, record))
    assert found["succeeded"].item() == odds["succeeded"].item()
    npt.assert_equal(found["share"].item(), odds["share"].item())
    nights, lowest = {}, {}
    for name in ("none", "fleece", "cold frame"):
        grid = by_year(under_cover(record, COVERS[name])["tmin"]).values
        nights[name] = np.vstack([grid, np.full((1, DAYS), np.nan)]).ravel()
        lowest[name] = seen_range(grid)[0]
    years, first = len(grid), found["begin_day"].values[0] - 1
    for event in found["event"].values:
        own = found.sel(event=event)
        killed = known = 0
        for year in range(years):
            sure = maybe = False
            for piece in plan.pieces():
                asked = event in ("start", piece.stage.name)
                if piece.stage.place == "soil" or not (
                    asked or (event == "set out" and piece.begin >= 42)
                ):
                    continue
                for day in range(piece.begin, piece.end):
                    at = year * DAYS + first + day
                    night, limit = nights[piece.cover][at], piece.stage.survives.low_c + 0.05
                    sure |= night <= limit
                    maybe |= np.isnan(night) and lowest[piece.cover][at % DAYS] <= limit
            killed += sure
            known += sure or not maybe
        assert (own["killed"].item(), own["killed_known"].item()) == (killed, known)


# --- stations, dask, the south ------------------------------------------------------------


@pytest.mark.parametrize("chunks", [None, 1], ids=["at once", "lazily"])
def test_stations_pass_through(chunks):
    alone = weather(1, gaps=0.02), weather(2, coldest=202)
    both = side_by_side(*alone)
    both = both.chunk(station=chunks) if chunks else both
    heat, dated = days_by_heat(LEAVES_BY_HEAT, both, 100), dated_plan(RAISED, both)
    assert all(
        (each.chunks is not None) == bool(chunks) for each in (heat["days"], dated["killed"])
    )
    for n, record in enumerate(alone):
        own = days_by_heat(LEAVES_BY_HEAT, record, 100)["days"]
        npt.assert_array_equal(heat["days"].isel(station=n), own)
        own = dated_plan(RAISED, record)
        for name in ("killed", "killed_known"):
            npt.assert_array_equal(dated[name].isel(station=n), own[name])
        for name in ("begin_first", "end_last"):
            npt.assert_array_equal(dated[name], own[name])


def test_southern_half_needs_the_same_heat_half_a_year_later():
    year = weather(5, 1).isel(time=slice(0, 365))
    time = days("2001-01-01", "2003-12-31")
    north = daily(time, **{name: np.tile(year[name], 3) for name in year})
    found = days_by_heat(LEAVES_BY_HEAT, north, 100)["days"].values
    later = days_by_heat(LEAVES_BY_HEAT, moved(north), 282)["days"].values
    assert found[1] == later[1] > 0


# --- bad input ----------------------------------------------------------------------------


def test_what_has_no_heat_or_no_date_is_refused():
    record = weather()
    with pytest.raises(
        ValueError, match=r"'leaf growth' has no degree_days\. Give degree_days = {"
    ):
        days_by_heat(LEAVES, record, 100)
    with pytest.raises(ValueError, match="start_day must lie between 1 and 365, got 366"):
        days_by_heat(SPROUTING, record, 366)
    with pytest.raises(ValueError, match="The record has no 'tmean'"):
        days_by_heat(SPROUTING, record.drop_vars("tmean"), 100)
    with pytest.raises(ValueError, match="with_heat_days takes the record of one place"):
        with_heat_days(Plan(POTATO, "04-20"), side_by_side(record, weather(2)))
