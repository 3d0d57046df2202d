"""Days of the year against `datetime`, grids and seasons against plain loops over dates."""

import datetime as dt

import numpy as np
import numpy.testing as npt
import pytest
import xarray as xr
from hypothesis import given, settings
from hypothesis import strategies as st
from records import daily, days, missing, moved, side_by_side, weather, weathers

from climwin.core.errors import DataGapError, InputError
from climwin.core.schema import apply
from climwin.core.seasons import (
    DAYS,
    by_year,
    checked_day,
    coldest_day,
    cut_seasons,
    date_of,
    day_name,
    day_number,
    day_of_year,
    every_day,
    keep_inside,
    offset,
    record_dates,
    season_dates,
    seen_range,
    smoothed,
    smoothed_year,
    split_dates,
    usual_days,
    warmest_day,
)

COMMON_YEAR = [dt.date(2001, 1, 1) + dt.timedelta(n) for n in range(DAYS)]


def date_in(year, day):
    """Date of a day of the 365-day year, from a list of the dates that have a place."""
    count = day - 1
    spot = COMMON_YEAR[count % DAYS]
    return dt.date(year + count // DAYS, spot.month, spot.day)


# --- days of the year ---------------------------------------------------------------------


def test_day_number_counts_a_common_year():
    for number, date in enumerate(COMMON_YEAR, start=1):
        assert day_number(f"{date:%m-%d}") == number
        assert day_number(f"{date.month}-{date.day}") == number
        assert day_number(f"{date.day} {date:%b}") == number
        assert day_number(f"{date:%B} {date.day}") == number


@pytest.mark.parametrize(
    "text", ["02-29", "04-31", "13-01", "00-10", "29 Feb", "15-04", "13/40", "soon", ""]
)
def test_day_that_does_not_exist_is_refused(text):
    with pytest.raises(ValueError, match=r"is not a day of the year\. Write month and day"):
        day_number(text)


def test_two_numbers_are_a_day_only_where_one_order_gives_one():
    for date in COMMON_YEAR:
        day, month = date.day, date.month
        for text in (f"{day}/{month}", f"{month}/{day}", f"{day}.{month}.", f"{month}.{day}"):
            if day > 12 or day == month:
                assert day_number(text) == int(f"{date:%j}")
            else:
                with pytest.raises(ValueError, match="Write the one that you mean"):
                    day_number(text)


def test_day_name_turns_day_number_round():
    assert [day_number(day_name(n)) for n in range(1, DAYS + 1)] == list(range(1, DAYS + 1))


# Half a day counts as the day that begins; days past the year's ends wrap round.
@pytest.mark.parametrize(
    ("day", "name"), [(110, "20 Apr"), (110.5, "21 Apr"), (366, "1 Jan"), (0, "31 Dec")]
)
def test_day_name_rounds_and_wraps(day, name):
    assert day_name(day) == name


@given(st.integers(1850, 2150), st.integers(-800, 1200))
def test_date_of_counts_365_days_a_year(year, day):
    assert date_of(year, day).item() == date_in(year, day)


@given(st.dates(dt.date(1850, 1, 1), dt.date(2150, 1, 1)), st.integers(0, 800))
def test_every_day_has_both_ends(first, more):
    dates = every_day(np.datetime64(first), np.datetime64(first) + np.timedelta64(more, "D"))
    assert dates.dtype == "datetime64[s]"
    assert [d.date() for d in dates.tolist()] == [
        first + dt.timedelta(days=n) for n in range(more + 1)
    ]


def test_date_of_nothing_is_no_date():
    assert np.isnat(date_of([2001, np.nan, 2001], [np.nan, 4, 4])).tolist() == [True, True, False]


def test_split_dates_agrees_with_the_calendar():
    time = days("1899-01-01", "1904-12-31")
    year, day, leap = split_dates(time)
    for n, date in enumerate(time.tolist()):
        assert year[n] == date.year
        assert leap[n] == ((date.month, date.day) == (2, 29))
        in_place = date.replace(day=28) if leap[n] else date
        assert COMMON_YEAR[day[n] - 1].timetuple()[1:3] == in_place.timetuple()[1:3]
    npt.assert_array_equal(day_of_year(time), day)


# --- from a series to a grid of years -----------------------------------------------------


def plain_grid(da, merge):
    """Values by year and day of the year, date by date; 29 February merged into the 28th."""
    rows = {}
    dates = da["time"].values.astype("datetime64[D]").tolist()
    for date, value in zip(dates, da.values, strict=True):
        leap = (date.month, date.day) == (2, 29)
        spot = COMMON_YEAR.index(date.replace(year=2001, day=28 if leap else date.day))
        held = [v for v in (rows.get((date.year, spot), np.nan), value) if not np.isnan(v)]
        rows[date.year, spot] = merge(held) if held else np.nan
    years = range(min(y for y, _ in rows), max(y for y, _ in rows) + 1)
    return np.array([[rows.get((y, spot), np.nan) for spot in range(DAYS)] for y in years])


@pytest.mark.parametrize(("name", "merge"), [("tmin", min), ("tmax", max), ("tmean", np.mean)])
def test_by_year_is_a_plain_loop_over_dates(name, merge):
    record = weather(1, years=6, gaps=0.05)
    rng = np.random.default_rng(0)
    some = rng.permutation(record.sizes["time"])[:1900]  # days left out, in no order
    grid = by_year(record[name].isel(time=some))
    npt.assert_array_equal(grid, plain_grid(record[name].isel(time=some), merge))
    assert grid["year"].values.tolist() == list(range(1999, 2005))
    assert grid.attrs["units"] == "degC"


@pytest.mark.parametrize(
    ("name", "on_28", "on_29", "kept"),
    [
        ("tmin", 3.0, -1.0, -1.0),  # the freeze on 29 February is not lost
        ("tmin", np.nan, -1.0, -1.0),
        ("tmax", 9.0, 12.0, 12.0),
        ("tmean", 4.0, 6.0, 5.0),
        ("tmean", 4.0, np.nan, 4.0),
        ("tmean", np.nan, 6.0, 6.0),
        ("tmean", np.nan, np.nan, np.nan),
    ],
)
def test_leap_day_joins_28_february(name, on_28, on_29, kept):
    record = daily(["2000-02-28", "2000-02-29"], **{name: [on_28, on_29]})
    npt.assert_equal(by_year(record[name]).sel(year=2000, day_of_year=59).item(), kept)


def test_year_without_a_day_keeps_its_row():
    record = daily(["2001-05-01", "2003-05-01"], tmin=[1, 2])
    grid = by_year(record["tmin"])
    assert grid["year"].values.tolist() == [2001, 2002, 2003]
    assert grid.isnull().all("day_of_year").values.tolist() == [False, True, False]


def test_date_twice_is_refused():
    record = daily(["2001-05-01", "2001-05-01"], tmin=[1, 2])
    with pytest.raises(ValueError, match=r"'tmin' holds the same date twice\. Read it with"):
        by_year(record["tmin"])


def test_record_without_a_day_is_refused():
    with pytest.raises(DataGapError, match="'tmin' has no days at all"):
        record_dates(daily([], tmin=[])["tmin"])


# --- the year's cut -----------------------------------------------------------------------


def test_usual_days_are_means_of_what_is_there():
    grid = np.array([[1.0, np.nan, np.nan], [4.0, 2.0, np.nan]])
    npt.assert_array_equal(usual_days(grid), [2.5, 2.0, np.nan])


@given(weathers())
@settings(max_examples=10)
def test_smoothed_year_is_the_low_end_of_the_spectrum(record):
    # Least squares on a full circle of days is the Fourier series: an oracle by NumPy's FFT.
    grid = by_year(record["tmin"]).fillna(0.0)
    spectrum = np.fft.rfft(grid.mean("year"))
    spectrum[3:] = 0
    npt.assert_allclose(smoothed_year(grid), np.fft.irfft(spectrum, DAYS), atol=1e-9)


def test_smoothed_year_bridges_a_season_without_values():
    day = np.arange(DAYS)
    wave = 9 - 8 * np.cos(2 * np.pi * (day - 20) / DAYS) + np.sin(4 * np.pi * day / DAYS)
    held = np.where((day > 150) & (day < 240), np.nan, wave)
    npt.assert_allclose(smoothed(held[None]), wave, atol=1e-9)


@pytest.mark.parametrize(("coldest", "warmest"), [(20, 203), (203, 21)])
def test_coldest_and_warmest_day_of_a_wave(coldest, warmest):
    # The wave turns after 182.5 days, so either day beside that is its warmest.
    time = days("2001-01-01", "2003-12-31")
    wave = -np.cos(2 * np.pi * (np.arange(len(time)) + 1 - coldest) / DAYS)
    record = daily(time, tmin=wave)
    assert coldest_day(record).item() == coldest
    assert abs(warmest_day(record).item() - warmest) <= 1


def test_thin_record_has_no_usual_year():
    record = weather().isel(time=slice(0, 199))
    with pytest.raises(DataGapError, match=r"fewer than 200 days .* Give a record of some whole"):
        coldest_day(record)


def test_season_is_named_after_the_year_of_its_middle():
    for first_day in range(1, DAYS + 1):
        assert date_in(2001, int(offset(first_day)) + 1 + DAYS // 2).year == 2001


def by_season(da, first_day):
    """Seasons of a daily series, as the science modules make them."""
    grid, first = by_year(da), xr.DataArray(first_day)
    out = apply(
        cut_seasons,
        grid,
        first,
        core=[["year", "day_of_year"], []],
        out=[["season", "day"]],
        sizes={"season": grid.sizes["year"], "day": DAYS},
        each=True,
    )
    out = out.assign_coords(season=grid["year"].values, day=np.arange(DAYS)).rename(da.name)
    return keep_inside(out.assign_attrs(da.attrs), grid, first)


@given(weathers(), st.integers(1, DAYS))
@settings(max_examples=20)
def test_by_season_is_a_plain_loop_over_dates(record, first_day):
    seasons = by_season(record["tmin"], first_day)
    grid = plain_grid(record["tmin"], min)
    first_year = record["time"].dt.year.values[0]
    for season, row in zip(seasons["season"].values, seasons.values, strict=True):
        for day, value in enumerate(row):
            date = date_in(season, int(offset(first_day)) + 1 + day)
            year = date.year - first_year
            spot = COMMON_YEAR.index(date.replace(year=2001))
            held = grid[year, spot] if 0 <= year < len(grid) else np.nan
            npt.assert_equal(value, held)


@given(st.integers(1, DAYS))
@settings(max_examples=40)
def test_seasons_of_which_neither_half_was_half_recorded_are_left_out(first_day):
    time = days("2001-03-10", "2003-08-20")
    seasons = by_season(daily(time, tmin=np.zeros(len(time)))["tmin"], first_day)["season"].values
    recorded = set(time.tolist())
    for season in range(2001, 2004):  # seasons go by the calendar years that the record touches
        dates = [date_in(season, int(offset(first_day)) + 1 + day) for day in range(DAYS)]
        halves = dates[:183], dates[183:]
        inside = [sum(date in recorded for date in half) - len(half) / 2 for half in halves]
        if min(map(abs, inside)) > 1:  # 29 February is a day of the record and not of the year
            assert (season in seasons) == (max(inside) > 0)


def test_what_lies_beyond_the_record_can_be_given():
    grid = np.arange(2.0 * DAYS).reshape(2, DAYS)
    beyond = -np.arange(1.0, DAYS + 1)
    later = cut_seasons(grid, 11, beyond)
    npt.assert_array_equal(later[1, -10:], beyond[:10])
    npt.assert_array_equal(later[0], np.arange(10, DAYS + 10))
    earlier = cut_seasons(grid, 361, beyond)
    npt.assert_array_equal(earlier[0, :5], beyond[-5:])


def test_season_dates_follow_the_cut():
    day = xr.DataArray([[0.0, np.nan], [364.0, 5.0]], dims=("season", "part"))
    day = day.assign_coords(season=[2000, 2001])
    dates = season_dates(day, xr.DataArray(360))
    expected = np.array([["1999-12-26", "NaT"], ["2001-12-25", "2000-12-31"]], "datetime64[s]")
    npt.assert_array_equal(dates, expected)


# --- what a missing day could have been ---------------------------------------------------


@given(weathers(), st.integers(0, 20))
@settings(max_examples=10)
def test_seen_range_is_a_plain_loop(record, half_width):
    grid = by_year(record["tmin"]).values
    grid[:, 100:145] = np.nan  # wider than any window: a part of the year never seen
    lowest, highest = seen_range(grid, half_width)
    for day in range(0, DAYS, 7):
        near = [(day + n) % DAYS for n in range(-half_width, half_width + 1)]
        held = grid[:, near][~np.isnan(grid[:, near])]
        assert lowest[day] == (held.min() if len(held) else -np.inf)
        assert highest[day] == (held.max() if len(held) else np.inf)


# --- stations, dask, the south ------------------------------------------------------------


def two_hemispheres():
    north, south = weather(1, gaps=0.02), weather(2, gaps=0.02, coldest=202)
    return north, south, side_by_side(north, south)


def test_stations_pass_through_each_with_its_own_cut():
    *alone, both = two_hemispheres()
    first = coldest_day(both)
    seasons = by_season(both["tmin"], first)
    for n, record in enumerate(alone):
        own = coldest_day(record)
        assert first[n] == own
        assert warmest_day(both)[n] == warmest_day(record)
        xr.testing.assert_equal(by_year(both["tmin"])[n].drop_vars("station"), by_year(record.tmin))
        own_seasons = by_season(record["tmin"], own)
        npt.assert_array_equal(seasons[n].sel(season=own_seasons["season"]), own_seasons)


def test_dask_stays_lazy():
    *_, both = two_hemispheres()
    lazy = both.chunk(station=1, time=300)
    first = coldest_day(lazy)
    seasons = by_season(lazy["tmin"], first)
    assert all(da.chunks is not None for da in (by_year(lazy["tmin"]), first, seasons))
    xr.testing.assert_equal(by_year(lazy["tmin"]).compute(), by_year(both["tmin"]))
    xr.testing.assert_equal(seasons.compute(), by_season(both["tmin"], coldest_day(both)))


@given(weathers())
@settings(max_examples=10)
def test_southern_record_is_cut_half_a_year_later(record):
    north, south = coldest_day(moved(record, 0)).item(), coldest_day(moved(record)).item()
    assert (south - north) % DAYS == 182


def test_gap_leaves_the_other_days_alone():
    record = weather(3)
    gone = by_year(missing(record, "2000-08-20")["tmin"])
    grid = by_year(record["tmin"])
    assert np.argwhere(~(gone == grid).values).tolist() == [[1, day_number("08-20") - 1]]


# --- edges --------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("first", "last", "kept"),
    [
        ("2001-10-01", "2003-04-02", [2001, 2002, 2003]),  # 92 days of a half of the outer two
        ("2001-10-02", "2003-04-01", [2002]),  # 91 days: no more than half
    ],
)
def test_a_season_counts_if_half_of_one_of_its_halves_lies_within_the_record(first, last, kept):
    time = days(first, last)
    found = by_season(daily(time, tmean=np.zeros(len(time)))["tmean"], 1)
    npt.assert_array_equal(found["season"], kept)


def test_a_day_of_the_year_is_a_number_or_a_date():
    assert [checked_day(day) for day in (1, 365, "01-01", "12-31")] == [1, 365, 1, 365]
    for day in (0, 366):
        with pytest.raises(ValueError, match=f"between 1 and 365, got {day}. Or write it as '05"):
            checked_day(day)


def test_endless_values_are_refused_and_counted():
    record = weather(1, years=1)
    record["tmin"].values[[3, 9]] = -np.inf
    with pytest.raises(InputError, match=r"'tmin' holds endless values, 2 in all\. Make"):
        by_year(record["tmin"])
