"""The hindcast: against the library asked by hand at an earlier date, and against plain loops."""

import numpy as np
import numpy.testing as npt
import pytest
import records
import xarray as xr

import climwin as cw
from climwin.climate.hindcast import BINS, COUNTED, RULES, hindcast
from climwin.climate.level import todays_climate
from climwin.core.errors import DataGapError
from climwin.core.stats import kernel_share_above, next_interval, next_worth


def years_of(record: xr.Dataset, per_decade: float = 0.0) -> xr.Dataset:
    """The record with all temperatures on the rise."""
    since = record["time"].dt.year - record["time"].dt.year[0]
    for name in ("tmin", "tmax", "tmean"):
        record[name] = (record[name] + per_decade / 10 * since).assign_attrs(record[name].attrs)
    return record


@pytest.fixture(scope="module")
def record():
    return years_of(records.weather(5, years=56, spells=4.0), 0.3)


@pytest.fixture(scope="module")
def looked_back(record):
    return hindcast(record)


def until(record: xr.Dataset, year: int) -> xr.Dataset:
    return record.sel(time=slice(None, str(year)))


@pytest.mark.parametrize("which", [0, 7, 20])
def test_freezes_are_told_as_the_library_tells_them_of_the_years_before(record, looked_back, which):
    year = int(looked_back["year"][which])
    today = todays_climate(until(record, year))
    assert today.attrs["climate"] == "today"
    for daily, rule in ((until(record, year), "record"), (today, "today")):
        dates = cw.freeze_dates(daily)
        sample = dates["last_spring_day"].values
        assert np.isfinite(sample).all()
        these = (looked_back["event"] == "last freeze").values
        asked = looked_back.isel(question=these).sel(rule=rule, year=year)
        odds = kernel_share_above(sample, asked["limit"].values)
        npt.assert_allclose(asked["odds_given"], odds, atol=1e-9)
        worth = next_worth(np.array(float(len(sample))), "spring freeze", rule)
        low, high = next_interval(odds, worth, 10)
        full = (asked["followed"] == 10).values
        npt.assert_array_equal(asked["next_low"].values[full], low[full])
        npt.assert_array_equal(asked["next_high"].values[full], high[full])


def test_windows_are_told_as_the_library_tells_them(record, looked_back):
    year = int(looked_back["year"][10])
    today = todays_climate(until(record, year))
    mild = cw.Limits(low_c=7.0, high_c=21.0, source="test")
    lengths = cw.usable_windows(today, mild)["length"].sel(part="longest").values
    # The season that the end of the record cuts is known to the hindcast, not to who asked then.
    these = (looked_back["event"] == "longest window").values
    asked = looked_back.isel(question=these).sel(rule="today", year=year)
    odds = kernel_share_above(lengths[np.isfinite(lengths)], asked["limit"].values)
    npt.assert_allclose(asked["odds_given"], odds, atol=0.03)


def test_what_came_is_counted_by_a_plain_loop(record, looked_back):
    dates = cw.freeze_dates(record)
    day = dict(zip(dates["season"].values, dates["last_spring_day"].values, strict=True))
    these = (looked_back["event"] == "last freeze").values
    asked = looked_back.isel(question=these)
    for n, year in enumerate(asked["year"].values):
        ahead = [day[y] for y in range(year + 1, year + 11) if y in day]
        for m, limit in enumerate(asked["limit"].values):
            assert int(asked["came"][n, m]) == sum(each > limit for each in ahead)
            assert int(asked["followed"][n, m]) == len(ahead)
        latest = [day[y] for y in range(year - COUNTED + 1, year + 1)]
        for m, limit in enumerate(asked["limit"].values):
            share = np.mean([each > limit for each in latest])
            assert float(asked["odds_given"].sel(rule="count")[n, m]) == pytest.approx(share)


def test_scores_are_those_of_a_plain_sum(looked_back):
    miss: dict[tuple[str, str], list[float]] = {}
    for n in range(looked_back.sizes["question"]):
        one = looked_back.isel(question=n)
        for row in range(one.sizes["year"]):
            for ahead in one["above"].values[row]:
                if np.isnan(ahead):
                    continue
                for rule in RULES:
                    told = float(one["odds_given"].sel(rule=rule)[row])
                    miss.setdefault((one["kind_of"].item(), rule), []).append((told - ahead) ** 2)
    kinds = [kind for kind in looked_back["kind"].values.tolist() if kind != "all"]
    skills = []
    for kind in kinds:
        brier = {rule: np.mean(miss[kind, rule]) for rule in RULES}
        for rule in RULES:
            found = looked_back.sel(kind=kind, rule=rule)
            assert float(found["brier"]) == pytest.approx(brier[rule])
            skill = 100 * (1 - brier[rule] / brier["count"])
            assert float(found["skill"]) == pytest.approx(skill, abs=1e-6)
        skills.append(100 * (1 - brier["today"] / brier["count"]))
    every = looked_back["skill"].sel(kind="all", rule="today")
    assert float(every) == pytest.approx(np.mean(skills))


def test_reliability_holds_every_case_once(looked_back):
    cases = looked_back["cases"].sum("bin")
    total = int((looked_back["followed"] > 0).sum()) and int(looked_back["followed"].sum())
    assert (cases == total).all()
    came = (looked_back["came_in_bin"] * looked_back["cases"]).sum("bin")
    npt.assert_allclose(came, float(looked_back["came"].sum()))
    told = looked_back["odds_in_bin"].sel(rule="count").values
    number = np.arange(BINS)
    known = np.isfinite(told)
    assert (told[known] >= number[known] / BINS).all()
    assert (told[known] <= (number[known] + 1) / BINS).all()


def test_the_share_of_intervals_that_held(looked_back):
    judged = looked_back.where(looked_back["followed"] >= 8)
    for rule in RULES:
        one = judged.sel(rule=rule)
        inside = (one["next_low"] <= one["came"]) & (one["came"] <= one["next_high"])
        share = int(inside.sum()) / int(looked_back["judged"].sel(kind="all"))
        assert float(looked_back["held"].sel(kind="all", rule=rule)) == pytest.approx(share)


def test_on_a_steadily_warming_record_todays_level_does_better_and_its_ranges_hold():
    warming = years_of(records.weather(8, years=70, spells=4.0), 0.5)
    found = hindcast(warming)
    skill = found["skill"].sel(kind="all")
    assert float(skill.sel(rule="today")) > 5
    assert float(skill.sel(rule="today")) > float(skill.sel(rule="record")) + 5
    held = found["held"].sel(kind="all")
    assert float(held.sel(rule="today")) >= 0.9
    assert float(held.sel(rule="count")) < 0.8  # Wilson's interval is not made for it


def test_where_nothing_changes_nothing_is_lost_by_much():
    steady = hindcast(records.weather(9, years=70, spells=4.0))
    assert float(steady["skill"].sel(kind="all", rule="today")) > -4
    assert float(steady["held"].sel(kind="all", rule="today")) >= 0.9


def test_the_interval_of_the_skill_holds_it_and_needs_three_decades(looked_back):
    inside = looked_back["skill_low"] <= looked_back["skill"] + 1e-9
    inside &= looked_back["skill"] <= looked_back["skill_high"] + 1e-9
    assert bool(inside.sel(kind="all").all())
    short = hindcast(records.weather(5, years=42, spells=4.0))
    assert bool(short["skill_low"].isnull().all())


def test_the_same_each_time(record, looked_back):
    xr.testing.assert_identical(hindcast(record), looked_back)


def test_gaps_leave_their_years_out(record):
    gone = record["time"].dt.year == 2040
    holed = record.where(~gone).map(lambda each: each.assign_attrs(units="degC"))
    found = hindcast(holed)
    these = (found["event"] == "last freeze").values
    before = found.isel(question=these).sel(year=2039)
    assert set(np.unique(before["followed"])) <= {9.0}
    assert 2040 not in found["year"]


# --- refused ------------------------------------------------------------------------------


def test_a_record_of_39_years_is_too_short():
    with pytest.raises(DataGapError, match="39 years are known, 40 are the least"):
        hindcast(records.weather(1, years=39))


def test_several_places_are_refused(record):
    both = xr.concat([record, record], xr.DataArray(["a", "b"], dims="station", name="station"))
    with pytest.raises(ValueError, match="hindcast takes the record of one place"):
        hindcast(both)


def test_first_years_must_be_ten_or_more(record):
    with pytest.raises(ValueError, match="first_years is a number of years, 10 or more, got 9"):
        hindcast(record, first_years=9)
