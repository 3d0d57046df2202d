"""Weeks in a crop's bands, against a plain loop."""

import numpy as np
import pytest
import records
import xarray as xr

import climwin as cw
from climwin.climate.comfort import STATES, weeks_in_bands
from climwin.crops.model import Limits

LIKES = Limits(low_c=12.0, high_c=18.0, source="example")
BEARS = Limits(low_c=5.0, high_c=24.0, source="example")


@pytest.fixture(scope="module")
def daily():
    record = records.weather(4, years=6)
    gone = (record["time"].dt.month == 4) & (record["time"].dt.year == record["time"].dt.year[0])
    return record.where(~gone)


def by_hand(daily):
    """Years by week and state, one week at a time from dates of the calendar."""
    counts = {}
    frame = daily["tmean"].to_series()
    for year in sorted(set(frame.index.year)):
        by_date = {(d.month, d.day): v for d, v in frame[frame.index.year == year].items()}
        if (2, 29) in by_date:  # joins the day before
            both = [by_date[2, 28], by_date.pop((2, 29))]
            by_date[2, 28] = np.nan if np.isnan(both).all() else float(np.nanmean(both))
        values = [by_date.get((d.month, d.day), np.nan) for d in records_of_plain_year()]
        for week in range(52):
            part = values[7 * week : 365 if week == 51 else 7 * week + 7]
            known = [v for v in part if not np.isnan(v)]
            if len(known) >= 5:
                key = week + 1, state_of(sum(known) / len(known))
                counts[key] = counts.get(key, 0) + 1
    return counts


def state_of(mean):
    if mean < BEARS.low_c:
        return "too cold"
    if mean < LIKES.low_c:
        return "bearable, cool"
    if mean <= LIKES.high_c:
        return "comfortable"
    return "bearable, warm" if mean <= BEARS.high_c else "too hot"


def records_of_plain_year():
    return [day.astype(object) for day in records.days("2001-01-01", "2001-12-31")]


def test_weeks_are_those_of_a_plain_loop(daily):
    found = weeks_in_bands(daily, LIKES, BEARS)
    wanted = by_hand(daily)
    for week in range(1, 53):
        for state in STATES:
            count = int(found["years"].sel(week=week, state=state))
            assert count == wanted.get((week, state), 0)
    assert set(found["years"].sum("week").values > 0) == {True}  # each state is seen


def test_the_states_of_a_week_add_up_to_its_known_years(daily):
    found = weeks_in_bands(daily, LIKES, BEARS)
    assert (found["years"].sum("state") == found["known"]).all()
    assert int(found["known"].min()) == 5  # one April of six is missing


def test_a_station_passes_through(daily):
    other = daily + 3
    both = xr.concat([daily, other], "station")
    found = weeks_in_bands(both, LIKES, BEARS)
    assert found["years"].dims == ("station", "week", "state")
    for station, alone in enumerate((daily, other)):
        one = weeks_in_bands(alone, LIKES, BEARS)
        assert (found["years"].isel(station=station).values == one["years"].values).all()


def test_comfort_lies_within_what_is_bearable(daily):
    with pytest.raises(ValueError, match=r"must lie within the bearable band, got 5\.0 to 24\.0"):
        weeks_in_bands(daily, BEARS, LIKES)


def test_a_report_lays_its_crops_own_bands(pellbrook):
    found = pellbrook.comfort
    likes, bears = cw.comfortable_band(pellbrook.crop), cw.bearable_band(pellbrook.crop)
    wanted = weeks_in_bands(pellbrook.daily, likes, bears)
    assert (found["years"] == wanted["years"]).all()
