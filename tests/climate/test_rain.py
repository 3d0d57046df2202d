"""Wet days, weeks and dry spells against plain loops, every filling of gaps, and xclim."""

from itertools import groupby, product

import numpy as np
import numpy.testing as npt
import pytest
import xarray as xr
from hypothesis import given, settings
from hypothesis import strategies as st
from records import HALF_A_YEAR, common_years, daily, days, missing, moved, side_by_side
from scipy import stats as scipy_stats

from climwin.climate.percentiles import day_bands
from climwin.climate.rain import dry_spell_odds, dry_spells, week_sums, wet_days
from climwin.core.errors import DataGapError
from climwin.core.seasons import DAYS, date_of, day_name

SPRING = ("05-01", "06-30")


def rainy(seed=0, years=6, *, gaps=0.0, wet=0.35):
    """Invented years from 1999 on, showers of 0.1 to some 20 mm, and gaps of single days."""
    rng = np.random.default_rng(seed)
    time = days("1999-01-01", f"{1998 + years}-12-31")
    fell = rng.random(len(time)) < wet
    precip = np.where(fell, rng.exponential(4, len(time)).round(1), 0.0)
    precip[rng.random(len(time)) < gaps] = np.nan
    return daily(time, precip=precip)


def rains(**given):
    choices = {
        "seed": st.integers(0, 2**32 - 1),
        "years": st.integers(1, 4),
        "gaps": st.sampled_from([0.0, 0.01, 0.1]),
        "wet": st.sampled_from([0.05, 0.35, 0.9]),
    }
    return st.builds(rainy, **choices | {k: st.just(v) for k, v in given.items()})


def by_date(record):
    """Millimetres of each date."""
    dates = record["time"].values.astype("datetime64[D]")
    return dict(zip(dates.tolist(), record["precip"].values, strict=True))


def longest(dry):
    return max((len([*run]) for is_dry, run in groupby(dry) if is_dry), default=0)


def plain_spells(record, first, last):
    """Least and most longest spell of each year whose stretch lies half in the record."""
    fell, out = by_date(record), {}
    one = np.timedelta64(1, "D")
    for year in range(min(fell).year - 1, max(fell).year + 1):
        start, end = date_of(
            np.array([year, year]), np.array([first, last + DAYS * (last < first)])
        )
        stretch = np.arange(start, end + one).tolist()
        values = [fell.get(date, np.nan) for date in stretch]
        if 2 * sum(min(fell) <= date <= max(fell) for date in stretch) >= len(stretch):
            out[year] = longest([v < 1 for v in values]), longest([not v >= 1 for v in values])
    return out


# --- days and weeks -----------------------------------------------------------------------


def test_wet_day_has_a_millimetre():
    record = daily(days("2001-05-01", "2001-05-05"), precip=[0.0, 0.9, 1.0, 25.0, np.nan])
    wet = wet_days(record["precip"])
    npt.assert_array_equal(wet, [0, 0, 1, 1, np.nan])
    assert wet.attrs == {"units": "1", "long_name": "1 mm of precipitation or more"}


@given(rains(years=1))
@settings(max_examples=20)
def test_week_is_the_plain_sum_of_seven_days(record):
    sums, precip = week_sums(record["precip"]), record["precip"].values
    assert sums.attrs["units"] == "mm"
    for i in (0, 2, 3, 40, 200, len(precip) - 4, len(precip) - 1):
        around = precip[i - 3 : i + 4] if 3 <= i < len(precip) - 3 else [np.nan]
        npt.assert_allclose(sums[i], np.sum(around), atol=1e-9)


def test_date_that_is_not_there_is_as_good_as_missing():
    record = rainy()
    less = record.drop_sel(time=np.datetime64("2000-03-10"))
    gap = week_sums(missing(record, "2000-03-10")["precip"])
    xr.testing.assert_identical(week_sums(less["precip"]), gap)
    assert gap.sel(time="2000-03").isnull().sum() == 7


def test_weeks_have_day_bands_like_any_variable():
    bands = day_bands(week_sums(rainy()["precip"]))
    assert bands["precip_week"].attrs["units"] == "mm"
    own = day_bands(week_sums(rainy()["precip"]).drop_attrs(), percentiles=[50])
    npt.assert_array_equal(bands["precip_week"].sel(percentile=[50]), own["precip_week"])


# --- dry spells ---------------------------------------------------------------------------


@given(rains(), st.integers(1, DAYS), st.integers(1, DAYS))
@settings(max_examples=40)
def test_longest_spell_is_that_of_a_plain_loop(record, first, last):
    found, plain = dry_spells(record, first, last), plain_spells(record, first, last)
    assert found["season"].values.tolist() == list(plain)
    bounds = [*zip(found["longest_least"].values, found["longest_most"].values, strict=True)]
    assert bounds == list(plain.values())
    for longest_, status, (least, most) in zip(
        found["longest"].values, found["status"].values, bounds, strict=True
    ):
        expected = "unknown" if least != most else "observed" if most else "none"
        assert status == expected
        npt.assert_equal(longest_, least if least == most else np.nan)


@given(
    st.lists(st.sampled_from([0.0, 0.4, 1.0, 7.0, np.nan]), min_size=12, max_size=12),
    st.integers(1, 12),
)
def test_gap_counts_only_where_its_filling_could_change_the_answer(precip, length):
    # Twelve days of May, every way to fill the missing ones wet or dry.
    record = daily(days("2001-05-01", "2001-05-12"), precip=precip)
    gap = np.isnan(precip)
    fills = list(product([0.0, 9.0], repeat=int(gap.sum())))[:4096]
    filled = [np.where(gap, 0, precip) for _ in fills]
    for values, fill in zip(filled, fills, strict=True):
        values[gap] = fill
    every = {longest(values < 1) for values in filled}
    found = dry_spells(record, "05-01", "05-12")
    assert (int(found["longest_least"][0]), int(found["longest_most"][0])) == (
        min(every),
        max(every),
    )
    assert (found["status"].item() == "unknown") == (len(every) > 1)
    odds = dry_spell_odds(record, "05-01", "05-12", days=length)
    answers = {longest_ >= length for longest_ in every}
    assert int(odds["known"]) == (len(answers) == 1)
    assert int(odds["dry"]) == (answers == {True})


@given(rains(years=4))
@settings(max_examples=5)
def test_longest_spell_of_a_year_is_xclims(record):
    """ETCCDI's CDD by xclim, spells cut at the year's end as a stretch cuts them."""
    from xclim.indices import maximum_consecutive_dry_days

    whole = record.fillna(0)
    rate = whole["precip"].assign_attrs(units="mm/d", standard_name="precipitation_flux")
    theirs = maximum_consecutive_dry_days(rate, "1 mm/d", freq="YS", resample_before_rl=True)
    npt.assert_array_equal(dry_spells(whole, "01-01", "12-31")["longest"], theirs)
    spring = rate.where(rate["time"].dt.month.isin([5, 6]), 9)  # wet on either side
    theirs = maximum_consecutive_dry_days(spring, "1 mm/d", freq="YS", resample_before_rl=True)
    npt.assert_array_equal(dry_spells(whole, *SPRING)["longest"], theirs)


def test_spell_counts_with_its_days_inside_the_stretch():
    record = daily(days("2001-04-01", "2001-07-31"), precip=np.zeros(122))
    assert dry_spells(record, "05-10", "05-19")["longest"].values.tolist() == [10]


def test_leap_day_counts_in_a_spell_that_runs_over_it():
    record = daily(days("2000-01-01", "2001-12-31"), precip=np.zeros(731))
    assert dry_spells(record, "02-27", "03-02")["longest"].values.tolist() == [5, 4]
    assert dry_spells(record, "02-20", "02-28")["longest"].values.tolist() == [9, 9]


def test_stretch_over_the_years_end_belongs_to_the_year_it_begins_in():
    record = daily(days("2000-06-01", "2003-03-31"), precip=np.ones(1034))
    record["precip"].loc["2001-12-28":"2002-01-03"] = 0
    found = dry_spells(record, "12-01", "01-31")
    assert found["season"].values.tolist() == [2000, 2001, 2002]
    assert found["longest"].values.tolist() == [0, 7, 0]
    assert found["status"].values.tolist() == ["none", "observed", "none"]


def test_year_that_lies_mostly_outside_the_record_is_left_out():
    record = rainy().sel(time=slice("1999-06-01", "2003-05-30"))
    # 30 days of 61 from 1 May 1999 on, and 30 of 61 to 30 May 2003, are too few.
    assert dry_spells(record, *SPRING)["season"].values.tolist() == [2000, 2001, 2002]
    more = rainy().sel(time=slice("1999-05-31", "2003-05-31"))
    assert dry_spells(more, *SPRING)["season"].values.tolist() == [1999, 2000, 2001, 2002, 2003]


def test_dates_and_days_of_the_year_are_the_same():
    xr.testing.assert_identical(
        dry_spells(rainy(), *SPRING), dry_spells(rainy(), 121, day_name(181))
    )


# --- odds ---------------------------------------------------------------------------------


@given(rains(years=4), st.integers(1, 30))
@settings(max_examples=20)
def test_odds_count_the_years(record, length):
    odds = dry_spell_odds(record, *SPRING, days=length)
    bounds = plain_spells(record, 121, 181).values()
    sure, ruled_out = (
        sum(least >= length for least, _ in bounds),
        sum(m < length for _, m in bounds),
    )
    assert int(odds["dry"]) == sure
    assert int(odds["known"]) == sure + ruled_out
    assert int(odds["unknown"]) == len(bounds) - sure - ruled_out
    if odds["known"]:
        ours = [float(odds[name]) for name in ("low", "high")]
        worth = 0.8 * (sure + ruled_out)  # years follow each other
        share = sure / (sure + ruled_out)
        beta = scipy_stats.beta(share * worth + 0.5, (1 - share) * worth + 0.5)
        oracle = [0 if share == 0 else beta.ppf(0.05), 1 if share == 1 else beta.ppf(0.95)]
        npt.assert_allclose(ours, oracle, atol=1e-9)
        assert float(odds["share"]) == sure / (sure + ruled_out)


def test_longer_spells_are_rarer():
    shares = [
        float(dry_spell_odds(rainy(years=20), *SPRING, days=n)["share"]) for n in range(1, 30)
    ]
    assert shares == sorted(shares, reverse=True)
    assert shares[0] == 1
    assert shares[-1] == 0


def test_odds_of_a_record_without_a_value_are_unknown():
    odds = dry_spell_odds(rainy().where(False), *SPRING)
    assert int(odds["known"]) == 0
    assert int(odds["unknown"]) == 6
    assert np.isnan([odds[name] for name in ("share", "low", "high")]).all()


@given(rains(years=4), st.randoms(use_true_random=False))
@settings(max_examples=10)
def test_order_of_years_does_not_matter(record, random):
    record = common_years(record)
    years = np.unique(record["time"].dt.year)
    blocks = [record.sel(time=str(year)) for year in random.sample(list(years), len(years))]
    shuffled = xr.concat(blocks, "time").assign_coords(time=record["time"])
    xr.testing.assert_equal(dry_spell_odds(shuffled, *SPRING), dry_spell_odds(record, *SPRING))


def test_days_may_stand_in_any_order():
    record = rainy(gaps=0.05)
    xr.testing.assert_identical(
        dry_spells(record.isel(time=slice(None, None, -1)), *SPRING), dry_spells(record, *SPRING)
    )


# --- stations, dask, the south ------------------------------------------------------------


def test_stations_pass_through():
    alone = rainy(1, gaps=0.02), rainy(2, gaps=0.1)
    both = side_by_side(*alone)
    for function in (
        lambda d: dry_spell_odds(d, *SPRING),
        lambda d: dry_spells(d, "11-15", "02-10"),
    ):
        found = function(both)
        for n, record in enumerate(alone):
            xr.testing.assert_equal(found.isel(station=n).drop_vars("station"), function(record))


def test_dask_stays_lazy():
    both = side_by_side(rainy(1), rainy(2, gaps=0.1))
    lazy = both.chunk(station=1, time=300)
    for function in (
        lambda d: dry_spell_odds(d, *SPRING),
        lambda d: dry_spells(d, *SPRING),
        lambda d: week_sums(d["precip"]).to_dataset(),
    ):
        result = function(lazy)
        assert all(da.chunks is not None for da in result.values())
        xr.testing.assert_equal(result.compute(), function(both))


def test_southern_stretch_is_the_same_half_a_year_later():
    record = common_years(rainy(4, gaps=0.05))
    north = dry_spells(record, 121, 181)
    south = dry_spells(moved(record), 121 + HALF_A_YEAR, 181 + HALF_A_YEAR)
    for name in north:
        npt.assert_array_equal(north[name], south[name])


# --- what is refused ----------------------------------------------------------------------


def test_results_say_what_they_are():
    record = rainy(1, years=3).assign_attrs(title="Pellbrook", source="invented")
    spells = dry_spells(record, "05-10", "06-30")
    for name in ("longest", "longest_least", "longest_most"):
        assert spells[name].attrs == {"units": "days"}
    assert spells["status"].attrs == {}
    facts = {"title": "Pellbrook", "source": "invented", "first_day": 130, "last_day": 181}
    assert facts.items() <= spells.attrs.items()
    odds = dry_spell_odds(record, "05-10", "06-30", days=8)
    assert (facts | {"days": 8, "interval": 0.9, "next_years": 10}).items() <= odds.attrs.items()
    for name, values in odds.data_vars.items():
        assert values.attrs["units"] == ("years" if "next" in str(name) else "1"), name
    words = {"long_name": "precipitation of the seven days around", "units": "mm"}
    assert words.items() <= week_sums(record["precip"]).attrs.items()


def test_a_spell_may_be_a_day_or_fill_its_period():
    dry = daily(days("2001-01-01", "2002-12-31"), precip=np.zeros(730))
    for length in (1, 52):
        odds = dry_spell_odds(dry, "05-10", "06-30", days=length)
        assert (odds["dry"], odds["known"], odds["unknown"]) == (2, 2, 0)
    wet = dry.assign(precip=(dry["precip"] + 9).assign_attrs(units="mm"))
    assert dry_spell_odds(wet, "05-10", "06-30", days=1)["dry"] == 0


@pytest.mark.parametrize("length", [0, 11])
def test_stretch_must_hold_the_spell(length):
    with pytest.raises(
        ValueError, match=f"between 1 and 10, the length of the period; got {length}"
    ):
        dry_spell_odds(rainy(), "05-10", "05-19", days=length)


@pytest.mark.parametrize("day", [0, 366])
def test_stretch_is_of_days_of_the_year(day):
    with pytest.raises(ValueError, match=rf"between 1 and 365, got {day}\. Or write it as '05-10'"):
        dry_spells(rainy(), day, "06-30")


def test_stretch_is_of_dates_that_exist():
    with pytest.raises(ValueError, match="'02-30' is not a day of the year"):
        dry_spells(rainy(), "02-30", "06-30")


def test_record_without_precipitation_is_refused():
    with pytest.raises(ValueError, match=r"no 'precip' \(daily precipitation\)"):
        dry_spells(daily(days("2001-01-01", "2001-01-02"), tmin=[1, 2]), *SPRING)


@pytest.mark.parametrize("function", [wet_days, week_sums])
def test_precipitation_must_be_in_millimetres(function):
    with pytest.raises(ValueError, match="'precip' must be in mm, got 'inch'"):
        function(rainy()["precip"].assign_attrs(units="inch"))


def test_date_twice_is_refused():
    with pytest.raises(ValueError, match="the same date twice"):
        dry_spells(daily(["2001-05-01", "2001-05-01"], precip=[1, 2]), *SPRING)


def test_record_without_a_day_is_refused():
    with pytest.raises(DataGapError, match="has no days at all"):
        week_sums(daily([], precip=[])["precip"])
