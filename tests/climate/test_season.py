"""The season so far against plain counts, and the freezes to come against counts of past years."""

import datetime as dt
from functools import cache
from statistics import median

import numpy as np
import pytest
import records

import climwin as cw
from climwin.climate.season import QUANTITIES, asked_on, season_place
from climwin.core.errors import DataGapError, InputError
from climwin.core.seasons import coldest_day


@cache
def pellbrook_mill():
    return cw.read_daily(cw.sample())


def sample(until="2024-05-14"):
    return pellbrook_mill().sel(time=slice(None, until))


def whole(seed=8, years=20, **options):
    """Invented years from 1999 on, no day missing."""
    return records.weather(seed, years=years, **options).assign_attrs(latitude=46.0)


def of_seasons(record, first, last):
    """Days from one date to another of each year, as plain lists by year of the last one."""
    time = record["time"].values.astype("datetime64[D]")
    found = {}
    for year in range(2001, 2019):
        begin = np.datetime64(f"{year - (first > last)}-{first}")
        end = np.datetime64(f"{year}-{last}")
        found[year] = np.flatnonzero((time >= begin) & (time <= end))
    return found


def test_each_quantity_is_a_plain_count_of_the_same_dates():
    record = whole()
    so_far = cw.season_so_far(record, on="2018-05-15", since="01-01", base=5.0)
    heat = cw.degree_days(record["tmin"], record["tmax"], base=5.0).values
    mean = ((record["tmin"] + record["tmax"]) / 2).values
    soil = cw.soil_temperature(record.sel(time=slice(None, "2018-05-14"))).values
    expected = {name: {} for name in ("heat_sum", "mean_temperature", "frost_nights")}
    for year, days in of_seasons(record, "01-01", "05-14").items():
        expected["heat_sum"][year] = heat[days].sum()
        expected["mean_temperature"][year] = mean[days].mean()
        expected["frost_nights"][year] = (record["tmin"].values[days] <= 0.05).sum()
    for name, by_year in expected.items():
        found = so_far["by_year"].sel(quantity=name)
        for year, value in by_year.items():
            # 29 February is one day with the 28th: a leap year may differ by that day.
            slack = {"heat_sum": 8.0, "mean_temperature": 0.2, "frost_nights": 1}[name]
            off = 1e-9 if year % 4 else slack
            assert found.sel(season=year).item() == pytest.approx(value, abs=off)
        past = [value for year, value in by_year.items() if year < 2018]
        own = so_far["so_far"].sel(quantity=name).item()
        assert own == found.sel(season=2018).item()
        rank = so_far["rank"].sel(quantity=name).item()
        known = found.sel(season=slice(None, 2017)).dropna("season").values
        assert rank == 1 + (known < own).sum() + ((known == own).sum() + 1) // 2
        assert so_far["ranked"].sel(quantity=name).item() == len(known) + 1 >= len(past) + 1
    now = so_far["so_far"].sel(quantity="soil_temperature").item()
    assert now == pytest.approx(soil[-5:].mean())
    assert so_far["rank"].sel(quantity="rain").isnull()  # the record has none


def test_a_season_begins_in_the_december_before_its_year():
    record = whole()
    so_far = cw.season_so_far(record, on="2018-12-31", since="12-10")
    mean = (
        ((record["tmin"] + record["tmax"]) / 2).sel(time=slice("2018-12-10", "2018-12-30")).mean()
    )
    found = so_far.sel(quantity="mean_temperature")
    assert float(found["so_far"]) == pytest.approx(float(mean), abs=1e-9)
    assert int(found["ranked"]) == 20  # the season that began in 1998 lies before the record
    began = cw.season_so_far(record, on="2018-12-10", since="12-10")
    assert np.isnan(began["ranked"].values).all()


def test_the_heat_course_ends_where_the_heat_sum_stands():
    so_far = cw.season_so_far(sample())
    day = int((np.datetime64("2024-05-14") - np.datetime64("2023-12-14")).astype(int))
    course = so_far["heat_course"].sel(season=2024, day=day - 1).item()  # less the leap day
    assert course == pytest.approx(so_far["so_far"].sel(quantity="heat_sum").item())
    assert so_far["heat_course"].sel(season=2024, day=day + 5).isnull()


def test_a_season_is_as_many_days_ahead_as_a_typical_one_takes_to_reach_its_heat():
    """Against a plain walk along the median course, day by day."""
    for until in ("2024-04-20", "2024-05-14", "2024-07-31"):
        so_far = cw.season_so_far(sample(until))
        past = so_far["heat_course"].sel(season=slice(None, 2023)).dropna("season").values
        typical = [median(day) for day in past.T.tolist()]
        own = so_far["heat_course"].sel(season=2024).dropna("day").values
        today = len(own) - 1
        reached = next(day for day, heat in enumerate(typical) if heat >= own[-1])
        assert 0 <= reached - today - so_far["days_ahead"].item() < 1
    assert cw.season_so_far(sample("2024-02-01"))["days_ahead"].isnull()  # nothing to go by yet


def test_the_same_weather_a_week_later_is_a_week_behind():
    record = whole(years=20)
    late = record.copy(deep=True)
    this = record["time"].dt.year == 2018
    for name in ("tmin", "tmax"):
        moved = record[name].where(this, drop=True).shift(time=7)
        late[name].loc[{"time": moved["time"]}] = moved.bfill("time")
    days = [cw.season_so_far(each, on="2018-06-20")["days_ahead"] for each in (record, late)]
    assert 4 < float(days[0] - days[1]) < 10


@pytest.mark.parametrize("on", ["2018-03-20", "2018-04-10", "2018-05-01"])
def test_another_freeze_is_a_count_of_past_years(on):
    record = whole(years=20)
    so_far = cw.season_so_far(record, on=on, threshold=(0.0,))
    spring = so_far.isel(threshold=0).sel(side="last spring")
    time = record["time"].values.astype("datetime64[D]")
    years = range(1999, 2018)
    came = 0
    for year in years:
        after = (time >= np.datetime64(f"{year}-{on[5:]}")) & (
            time < np.datetime64(f"{year}-07-15")
        )
        came += bool((record["tmin"].values[after] <= 0.05).any())
    known = int(spring["known"])
    assert known in (18, 19)  # the first spring may begin before the record
    assert round(float(spring["share"]) * known) in (came, came - (19 - known))
    assert float(spring["low"]) <= float(spring["odds"]) <= float(spring["high"])


def test_odds_fall_to_one_in_two_before_one_in_ten():
    so_far = cw.season_so_far(sample("2024-03-31"))
    spring = so_far.sel(side="last spring", threshold=0.0)
    even, rare = (spring["date"].sel(level=level).values for level in (0.5, 0.1))
    assert even < rare
    chance = cw.freeze_chance(cw.freeze_dates(sample("2023-12-31")))["last_spring"]
    for date, level in ((even, 0.5), (rare, 0.1)):
        day = int(date.astype("datetime64[D]").astype(dt.date).strftime("%j")) - 1  # of a leap year
        assert chance.sel(day_of_year=day).item() == pytest.approx(level, abs=0.04)
    for level in (0.5, 0.1):
        row = spring.sel(level=level)
        assert row["date_low"] <= row["date"] <= row["date_high"]


def test_the_first_freeze_of_autumn_that_has_come_is_told():
    so_far = cw.season_so_far(sample("2023-11-20"))
    autumn = so_far.sel(side="first autumn", threshold=0.0)
    freezes = cw.freeze_dates(sample("2023-12-31"))
    assert autumn["came"].values == freezes["first_autumn"].sel(season=2023).values
    assert so_far["odds"].sel(side="last spring").isnull().all()  # spring is over


def test_in_today_s_climate_freezes_end_sooner_where_it_has_grown_warmer():
    record = sample("2024-03-31")
    as_it_was, today = (cw.season_so_far(record, climate=c) for c in ("record", "today"))
    even = {"side": "last spring", "threshold": 0.0, "level": 0.5}
    assert today["date"].sel(even) < as_it_was["date"].sel(even)
    same = today["so_far"].sel(quantity="heat_sum") == as_it_was["so_far"].sel(quantity="heat_sum")
    assert same  # this year is as it was measured


def test_a_season_carries_the_year_of_its_middle():
    record = sample()
    first = coldest_day(record)
    for day, season in (("2023-12-13", 2023), ("2023-12-14", 2024), ("2024-02-29", 2024)):
        year, of_season = season_place(np.datetime64(day), first)
        assert int(year) == season
        assert 0 <= int(of_season) < 365
    leap, before = (season_place(np.datetime64(d), first)[1] for d in ("2024-02-29", "2024-02-28"))
    assert int(leap) == int(before)


def test_the_leap_day_is_a_date_like_any_other():
    so_far = cw.season_so_far(sample(), on="2024-02-29")
    assert so_far.attrs["through"] == "2024-02-28"
    assert so_far["so_far"].sel(quantity="heat_sum").notnull()


def test_rain_is_summed_where_nearly_all_days_were_read():
    record = sample()
    so_far = cw.season_so_far(record)
    time = record["time"].values.astype("datetime64[D]")
    days = (time >= np.datetime64("2023-12-14")) & (time <= np.datetime64("2024-05-14"))
    total = np.nansum(record["precip"].values[days])
    leap = np.nan_to_num(record["precip"].sel(time="2024-02-28").item())
    found = so_far["so_far"].sel(quantity="rain").item()
    assert (
        abs(found - total) <= leap + np.nan_to_num(record["precip"].sel(time="2024-02-29")).item()
    )
    dry = record.assign(precip=record["precip"].where(record["time"].dt.month != 3))
    dry["precip"].attrs = record["precip"].attrs
    assert cw.season_so_far(dry)["so_far"].sel(quantity="rain").isnull()


def test_what_is_asked_is_a_date_within_reach():
    record = sample()
    assert asked_on(record, None)[1].on == np.datetime64("2024-05-15")
    asked = asked_on(record, dt.date(2024, 6, 10))[1]
    assert (asked.behind, asked.left_out) == (26, 0)
    assert asked_on(record, "2024-05-01")[1].left_out == 14
    with pytest.raises(DataGapError, match=r"earlier: it says nothing about this season\. 31 days"):
        asked_on(record, "2024-06-16")
    with pytest.raises(InputError, match="got 'soon'"):
        asked_on(record, "soon")
    empty = record.assign(tmin=record["tmin"].where(False))
    empty["tmin"].attrs = record["tmin"].attrs
    with pytest.raises(DataGapError, match="no day with both a minimum and a maximum"):
        asked_on(empty, None)


def test_every_quantity_has_its_unit():
    so_far = cw.season_so_far(sample())
    assert so_far["quantity"].values.tolist() == list(QUANTITIES)
    assert so_far["quantity_units"].sel(quantity="rain") == "mm"
