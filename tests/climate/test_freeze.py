"""Freeze dates and odds against official normals, xclim and plain loops."""

import csv

import numpy as np
import numpy.testing as npt
import pytest
import scipy.stats
import smoothing
import xarray as xr
from hypothesis import given, settings
from hypothesis import strategies as st
from records import (
    HALF_A_YEAR,
    SHARED,
    common_years,
    daily,
    days,
    filled,
    missing,
    moved,
    same_usual_year,
    side_by_side,
    weather,
    weathers,
)

import climwin as cw
from climwin.climate.freeze import (
    _EVENTS,
    LEVELS,
    _midsummer,
    freeze_chance,
    freeze_dates,
    freeze_odds,
    season_limits,
)
from climwin.climate.imputation import DRAWS, drawn_grids
from climwin.climate.level import todays_climate
from climwin.core.dependence import effective_years, quantile_interval
from climwin.core.errors import DataGapError
from climwin.core.seasons import (
    DAYS,
    ONE_DAY,
    by_year,
    coldest_day,
    date_of,
    day_number,
    offset,
    offset_of,
    warmest_day,
)
from climwin.report.sentences_caveats import record_caveats

LADDER_C = tuple(round((f - 32) / 1.8, 1) for f in (36, 32, 28, 24, 20, 16))
"""The usual thresholds of agricultural normals, 36 to 16 degF. [degC]"""

EVENTS = ("last_spring", "first_autumn", "freeze_free_days")

# NOAA NCEI, 1981-2010 U.S. climate normals, USC00381770 Clemson: last spring, first autumn and
# season's length at 32 degF by odds; the season's at 90 % is reached in 9 of 10 years.
CLEMSON = {
    "last_spring": {0.5: "04-03", 0.9: "03-17"},
    "first_autumn": {0.5: "11-03", 0.9: "11-21"},
    "freeze_free_days": {0.5: 214, 0.9: 190},
}


def official_figures(station):
    """The same of a station in NCEI's table."""
    path = SHARED / "ncei_1981-2010_freeze_32F_p50_p90.csv"
    if not path.exists():
        pytest.skip("the official normals are not here")
    names = {
        "last_spring_32F": EVENTS[0],
        "first_fall_32F": EVENTS[1],
        "season_days_32F": EVENTS[2],
    }
    figures = {event: {} for event in EVENTS}
    with path.open() as file:
        for row in csv.DictReader(file):
            if row["station"] == station:
                value = row["value"].replace("/", "-")
                figure = int(value) if value.isdigit() else value
                figures[names[row["quantity"]]][int(row["prob_pct"]) / 100] = figure
    return figures


def albany_figures():
    return official_figures("USW00014735")


def off_by(odds, figures):
    """Days between the odds and official figures, by event and level."""
    official = {
        (event, level): day_number(figure) if isinstance(figure, str) else figure
        for event, levels in figures.items()
        for level, figure in levels.items()
    }
    return {(e, p): abs(odds[e].sel(odds=p).item() - figure) for (e, p), figure in official.items()}


# --- official normals ---------------------------------------------------------------------


def check_ranked(record, figures):
    off = off_by(freeze_odds(record), figures)
    for event in EVENTS[:2]:
        assert off[event, 0.5] <= 5
        assert off[event, 0.9] <= 7
    assert max(off["freeze_free_days", p] for p in (0.5, 0.9)) <= 7


def test_ranked_odds_are_near_the_official_ones_at_albany(albany):
    check_ranked(albany, albany_figures())


def test_ranked_odds_are_near_the_official_ones_at_clemson(clemson):
    check_ranked(clemson, CLEMSON)


# NCEI adds moved departures to a smooth year and compares the sums, which lie between the whole
# degF of the readings, with 32 degF itself. `freeze_odds` allows them half a step more. A threshold
# that is no reading has but 0.05 degC of slack: this one takes moved readings up to 32 degF.
AS_OFFICIAL_C = -0.051


def test_resampled_odds_are_the_official_ones_at_albany_by_the_official_definition(albany):
    off = off_by(freeze_odds(albany, AS_OFFICIAL_C, method="resampled"), albany_figures())
    assert len(off) == 6
    assert max(off.values()) <= 1


def test_official_seasons_are_longer_than_those_measured_since_readings_are_rounded(albany):
    # The half step is the whole difference: the years as measured, which nobody moved, are on the
    # side of `resampled`.
    official = albany_figures()["freeze_free_days"][0.5]
    measured = freeze_dates(albany)["freeze_free_days"].median().item()
    resampled = freeze_odds(albany, method="resampled")["freeze_free_days"].sel(odds=0.5).item()
    assert official >= measured + 4
    assert abs(resampled - measured) <= 2
    by_definition = freeze_odds(albany, AS_OFFICIAL_C, method="resampled")
    assert abs(by_definition["freeze_free_days"].sel(odds=0.5).item() - official) <= 1


def places_with_official_figures():
    """Records at hand of stations in NCEI's table, with their figures."""
    table = SHARED / "ncei_1981-2010_freeze_32F_p50_p90.csv"
    if not table.exists():
        pytest.skip("the official normals are not here")
    with table.open() as file:
        stations = {row["station"] for row in csv.DictReader(file)}
    for path in sorted((SHARED / "records").glob("*.csv")):
        for station in stations & set(path.read_text("utf-8").splitlines()[0].split()):
            yield path.stem, cw.read_daily(path, units="C"), official_figures(station)


def test_resampled_odds_are_near_the_official_ones_wherever_there_are_such():
    found = {}
    for place, record, figures in places_with_official_figures():
        of_normals = record.sel(time=slice("1981", "2010"))
        odds = freeze_odds(of_normals, AS_OFFICIAL_C, levels=(0.5, 0.9), method="resampled")
        found[place] = sorted(off_by(odds, figures).values())
    assert set(found) == {"Albany_NY", "Clemson_SC"}
    assert found["Albany_NY"][-1] <= 1
    # A day is not reached at Clemson, whose official figures are not of this record alone.
    assert found["Clemson_SC"][2] <= 1
    assert found["Clemson_SC"][-1] <= 4


def test_at_clemson_the_official_figures_are_of_another_record(clemson):
    """NCEI's row is flagged R: years filled and scaled, and its monthly means are homogenised.

    The record at hand has a step in 1990 inside the 30 years, which homogenisation takes out; what
    the years before and after it say differs by more than anything in the method.
    """
    before, after = (
        clemson.sel(time=years) for years in (slice("1981", "1990"), slice("1991", "2010"))
    )
    step = after["tmin"].mean().item() - before["tmin"].mean().item()
    assert 1.0 < step < 2.0  # [degC]
    of_part = [freeze_odds(part, AS_OFFICIAL_C, method="resampled") for part in (before, after)]
    inside = []
    for event, levels in CLEMSON.items():
        for level, figure in levels.items():
            official = day_number(figure) if isinstance(figure, str) else figure
            low, high = sorted(each[event].sel(odds=level).item() for each in of_part)
            inside.append(low - 1 <= official <= high + 1)
    # The latest first freezes alone are four days later than either part of the record has them.
    assert sum(inside) >= 5
    assert (
        max(off_by(freeze_odds(clemson, AS_OFFICIAL_C, method="resampled"), CLEMSON).values()) <= 4
    )


def test_the_step_at_clemson_is_named_where_the_record_is_long_enough_to_tell(clemson):
    """In 30 years it may be chance or warming, and warming is named; in 91 years it is a step."""
    alone = cw.detect_breakpoints(clemson).sel(variable="tmin")
    assert alone["break_year"] == 1990
    assert alone["p"] > 0.02
    assert alone["kind"] == ""
    (warmer,) = (text for text in record_caveats(clemson) if "warmer" in text)
    assert warmer.startswith("It has grown warmer here")
    path = SHARED / "records" / "Clemson_SC.csv"
    if not path.exists():
        pytest.skip("the whole record is not here")
    whole = cw.read_daily(path, units="C")
    told = cw.detect_breakpoints(whole).sel(variable="tmin")
    assert told["break_year"] == 1990
    assert 1 < told["step"] < 2.5
    (step,) = (text for text in record_caveats(whole) if "changes all at once" in text)
    assert "nights from 1990 on" in step
    assert "Compare it with a neighbouring station" in step


@pytest.mark.parametrize("place", ["champion", "brussels", "clemson"])
def test_both_methods_agree_within_their_intervals(place, request):
    record = request.getfixturevalue(place)
    ranked, resampled = (freeze_odds(record, method=method) for method in ("ranked", "resampled"))
    for event in EVENTS:
        assert (ranked[f"{event}_low"] <= resampled[f"{event}_high"]).all()
        assert (resampled[f"{event}_low"] <= ranked[f"{event}_high"]).all()
        middle = resampled[event].sel(odds=0.5)
        assert (
            ranked[f"{event}_low"].sel(odds=0.5) <= middle <= ranked[f"{event}_high"].sel(odds=0.5)
        )


@pytest.mark.parametrize("method", ["ranked", "resampled"])
def test_harder_freezes_end_earlier_and_begin_later(champion, method):
    ladder = LADDER_C[1:4:2]
    odds = freeze_odds(champion, ladder, method=method)
    assert odds["threshold"].values.tolist() == sorted(ladder, reverse=True)
    assert freeze_dates(champion, ladder)["last_spring"].dims == ("threshold", "season")
    assert odds["threshold"].attrs["units"] == "degC"
    assert (odds["last_spring"].diff("threshold") <= 0).all()
    assert (odds["first_autumn"].diff("threshold") >= 0).all()
    assert (odds["freeze_free_days"].diff("threshold") >= 0).all()


@pytest.mark.parametrize("method", ["ranked", "smoothed", "resampled"])
def test_where_half_of_the_years_freeze_no_date_has_odds_of_nine_in_ten(method):
    record = weather(4, years=20, mean=14.0, swing=9.0)
    coldest = record["tmin"].groupby("time.year").min()
    odds = freeze_odds(record, float(coldest.median()), method=method)
    for event in EVENTS[:2]:
        assert np.isfinite(odds[event].sel(odds=0.1))
        assert np.isnan(odds[event].sel(odds=0.9))


@pytest.mark.parametrize("method", ["ranked", "resampled"])
def test_several_thresholds_are_answered_as_each_alone(method, monkeypatch):
    monkeypatch.setattr("climwin.climate.freeze._SIMULATED_YEARS", 400)
    monkeypatch.setattr("climwin.climate.freeze._RESAMPLES", 50)
    record = weather(4, gaps=0.01)
    ladder = (2.2, 0.0, -4.4)
    dates, odds = freeze_dates(record, ladder), freeze_odds(record, ladder, method=method)
    chance = freeze_chance(dates)
    for n, threshold in enumerate(ladder):
        alone = freeze_dates(record, threshold)
        for together, one in (
            (dates, alone),
            (odds, freeze_odds(record, threshold, method=method)),
            (chance, freeze_chance(alone)),
        ):
            xr.testing.assert_equal(together.isel(threshold=n).drop_vars("threshold"), one)


# --- xclim --------------------------------------------------------------------------------


@pytest.mark.parametrize("place", ["champion", "brussels"])
@pytest.mark.parametrize("threshold", [0.0, -2.2])
def test_dates_are_xclims_day_for_day(place, threshold, request):
    """xclim counts colder than its threshold, and here, as we do, with 0.05 degC of slack.

    It looks for the last freeze from 1 January to 1 July, 1 July with it, and for the first from 1
    July to 31 December. We look from the coldest day of the usual year to its warmest, and on to
    the next coldest, about 20 January to 20 July and on: a first freeze that comes after New Year
    is one to us and none to xclim; a last one early in January is one to xclim alone. Here neither
    place froze in July. 29 February is 28 February to us.
    """
    from xclim.indices import first_day_temperature_below, last_spring_frost

    record = request.getfixturevalue(place)
    limits = {"thresh": f"{threshold + 0.05} degC", "op": "<="}
    ours = freeze_dates(record, threshold)
    spring = last_spring_frost(record["tmin"], **limits)
    autumn = first_day_temperature_below(record["tmin"], **limits)
    compared = 0
    for name, theirs in (("last_spring", spring), ("first_autumn", autumn)):
        theirs = theirs.assign_coords(time=theirs["time"].dt.year).rename(time="season")
        for season in ours["season"].values:
            mine = ours[name].sel(season=season).values.astype("datetime64[D]")
            status = ours[f"{name}_status"].sel(season=season).item()
            doy = theirs.sel(season=season).item()
            day = 0 if np.isnan(doy) else int(doy) - 1
            date = np.datetime64(f"{season}-01-01") + day * ONE_DAY
            if name == "first_autumn" and np.isnan(doy):
                assert np.isnat(mine) or mine > np.datetime64(f"{season}-12-31")
            elif name == "last_spring" and date <= date_of(season, ours["first_day"] + 14):
                continue  # nearly in the cut
            elif str(date).endswith("02-29"):
                assert mine == date - 1
            else:
                assert status == "observed"
                assert mine == date
                compared += 1
    assert compared >= 50


@pytest.mark.parametrize("place", ["champion", "brussels"])
def test_season_is_as_long_as_between_xclims_dates(place, request):
    from xclim.indices import first_day_temperature_below, last_spring_frost

    record = request.getfixturevalue(place)
    limits = {"thresh": "0.05 degC", "op": "<="}
    last = last_spring_frost(record["tmin"], **limits)
    first = first_day_temperature_below(record["tmin"], **limits)
    theirs = (first - last - 1).assign_coords(time=last["time"].dt.year).rename(time="season")
    ours = freeze_dates(record)["freeze_free_days"]
    ours, theirs = xr.align(ours.dropna("season"), theirs.dropna("season"))
    assert ours.sizes["season"] > 20
    npt.assert_array_equal(ours, theirs)


# --- a plain loop -------------------------------------------------------------------------


def plain_dates(record, threshold):
    """Last spring and first autumn freeze, day by day: (day of the season or None, status)."""
    grid = by_year(record["tmin"])
    held, years = grid.values, grid["year"].values
    first, warmest = coldest_day(record).item(), warmest_day(record).item()
    turn = (warmest - first) % DAYS

    def value(season, day):
        flat = (season - years[0]) * DAYS + int(offset(first)) + day
        return held.ravel()[flat] if 0 <= flat < held.size else np.nan

    def could_freeze(day):
        near = (first - 1 + day + np.arange(-15, 16)) % DAYS
        return not np.all(np.isnan(held[:, near])) and np.nanmin(held[:, near]) <= threshold + 0.05

    def search(season, order):
        doubt = False
        for day in order:  # outwards from midsummer
            found = value(season, day)
            if np.isnan(found):
                doubt = doubt or could_freeze(day)
            elif found <= threshold + 0.05:
                return (None, "unknown") if doubt else (day, "observed")
        return None, "unknown" if doubt else "none"

    for season in freeze_dates(record, threshold)["season"].values:
        yield search(season, range(turn - 1, -1, -1)), search(season, range(turn, DAYS))


@given(weathers(gaps=0.05), st.sampled_from([5.0, 0.0, -2.2, -9.0]))
@settings(max_examples=15)
def test_dates_are_those_of_a_plain_loop(record, threshold):
    found = freeze_dates(record, threshold)
    first = int(offset_of(found["first_day"]))
    for season, (spring, autumn) in zip(
        found["season"].values, plain_dates(record, threshold), strict=True
    ):
        year = found.sel(season=season)
        for name, (day, status) in (("last_spring", spring), ("first_autumn", autumn)):
            assert year[f"{name}_status"] == status
            date = np.datetime64("NaT", "D") if day is None else date_of(season, first + day + 1)
            npt.assert_equal(year[name].values.astype("datetime64[D]"), date)
            npt.assert_equal(year[f"{name}_day"].item(), np.nan if day is None else first + day + 1)
        statuses = {spring[1], autumn[1]}
        between = next(s for s in ("none", "unknown", "observed") if s in statuses)
        assert year["freeze_free_days_status"] == between
        length = autumn[0] - spring[0] - 1 if between == "observed" else np.nan
        npt.assert_equal(year["freeze_free_days"].item(), length)


@pytest.mark.parametrize("coldest", [20, 202])
def test_drawn_dates_are_found_draw_by_draw(coldest):
    record = weather(6, years=4, gaps=0.2, coldest=coldest)
    thresholds = (1.0, -1.0)
    found = freeze_dates(record, thresholds)
    grids = {name: by_year(record[name]) for name in ("tmin", "tmax", "tmean")}
    held = drawn_grids({name: grid.values for name, grid in grids.items()})["tmin"]
    first, warmest = coldest_day(record).item(), warmest_day(record).item()
    turn, start = (warmest - first) % DAYS, int(offset(first))
    sides = {
        "last_spring": (range(turn - 1, -1, -1), -np.inf),
        "first_autumn": (range(turn, DAYS), np.inf),
    }
    compared, differ = 0, 0
    for season in found["season"].values:
        since = (season - 1999) * DAYS + start
        if since < 0 or since + DAYS > held[0].size:
            continue  # the record begins or ends within
        for name, (order, endless) in sides.items():
            for threshold in thresholds:
                year = found.sel(season=season, threshold=threshold)
                plain = []
                for draw in held.reshape(DRAWS, -1):
                    frozen = [d for d in order if draw[since + d] <= threshold + 0.05]
                    plain.append(start + frozen[0] + 1 if frozen else endless)
                if year[f"{name}_status"] == "unknown":
                    npt.assert_array_equal(year[f"{name}_drawn"], plain)
                    compared += 1
                    differ += len(set(plain)) > 1
            length = year["first_autumn_drawn"] - year["last_spring_drawn"] - 1
            npt.assert_array_equal(year["freeze_free_days_drawn"], length)
    assert compared >= 5
    assert differ >= 2


@pytest.mark.parametrize(("lost", "is_drawn"), [(180, True), (190, False)])
def test_a_season_is_drawn_if_half_of_it_was_measured(lost, is_drawn):
    record = weather(3, years=5)
    gone = np.append(days("2001-03-01", "2001-12-31")[:lost], days("2003-03-20", "2003-06-20"))
    dates = freeze_dates(missing(record, *gone.astype(str)))
    assert dates["last_spring_status"].sel(season=2001) == "unknown"
    spring = dates["last_spring_drawn"].notnull()
    assert spring.sel(season=2001).all() == spring.sel(season=2001).any() == is_drawn
    assert spring.sel(season=[1999, 2000, 2002, 2003]).all()
    odds = freeze_odds(missing(record, *gone.astype(str)), levels=(0.5,))
    assert odds["last_spring_known"] == 3
    assert odds["last_spring_leaning"] == 1 + int(is_drawn)


@given(weathers(gaps=0.05), st.integers(0, 2**32 - 1), st.sampled_from([0.0, -2.2]))
@settings(max_examples=15)
def test_nothing_that_has_been_seen_could_change_an_observed_date(record, seed, threshold):
    before = freeze_dates(record, threshold)
    with same_usual_year(record):
        after = freeze_dates(filled(record, seed), threshold)
    for event in ("last_spring", "first_autumn"):
        known = before[f"{event}_status"] != "unknown"
        npt.assert_array_equal(before[event].where(known), after[event].where(known))
        assert (before[f"{event}_status"] == after[f"{event}_status"]).where(known, True).all()


def test_the_warmest_day_ends_the_spring_of_the_season():
    assert [_midsummer(*pair) for pair in ((20, 202), (202, 20), (5, 6), (9, 9))] == [
        182,
        183,
        1,
        1,
    ]


def test_each_days_limit_is_that_of_its_own_year():
    # Of whole degF, 0 degC is a reading and 1 degC none; a season from July is of two years.
    degf, tenths = 5 / 9, 0.1
    july = season_limits(0.0, np.array([degf, tenths]), 200)  # begins in the year before
    before = DAYS - 200 + 1
    npt.assert_allclose(july[0, :before], 0.0)  # beyond the record the threshold itself
    npt.assert_allclose(july[0, before:], degf / 2)
    npt.assert_allclose(july[1, :before], degf / 2)
    npt.assert_allclose(july[1, before:], 0.05)
    calendar = season_limits(0.0, np.array([degf, tenths]), 1)
    npt.assert_allclose(calendar, np.repeat([[degf / 2], [0.05]], DAYS, axis=1))
    npt.assert_allclose(season_limits(1.0, np.array([degf, tenths]), 1), 1.05)


# --- gaps, leap days, years without a freeze ----------------------------------------------


def test_gap_on_20_august_leaves_a_frost_of_2_may():
    time = days("2000-01-01", "2002-12-31")
    wave = 8 - 12 * np.cos(2 * np.pi * (np.arange(len(time)) - 20) / 365.25)
    wave[time == np.datetime64("2001-05-02")] = -0.5
    record = missing(daily(time, tmin=wave), "2001-08-20")
    year = freeze_dates(record).sel(season=2001)
    assert year["last_spring"].values == np.datetime64("2001-05-02")
    assert year["last_spring_status"] == "observed"
    assert year["freeze_free_days_status"] == "observed"


@pytest.mark.parametrize(
    ("gap", "status"),
    [
        ("2001-04-30", "observed"),  # before the last freeze: what it was does not matter
        ("2001-05-04", "unknown"),  # it froze on 2 May, so it may on the 4th
        ("2001-06-20", "observed"),  # it never froze within 15 days of it
    ],
)
def test_gap_counts_only_where_it_could_change_the_date(gap, status):
    time = days("2000-01-01", "2002-12-31")
    wave = 8 - 12 * np.cos(2 * np.pi * (np.arange(len(time)) - 20) / 365.25)
    wave[time == np.datetime64("2001-05-02")] = -0.5
    year = freeze_dates(missing(daily(time, tmin=wave), gap)).sel(season=2001)
    assert year["last_spring_status"] == status
    assert year["freeze_free_days_status"] == status
    assert year["first_autumn_status"] == "observed"


def test_freeze_on_leap_day_is_that_of_28_february():
    time = days("1999-01-01", "2001-12-31")
    wave = 10 - 6 * np.cos(2 * np.pi * (np.arange(len(time)) - 20) / 365.25)
    wave[time == np.datetime64("2000-02-29")] = -1
    year = freeze_dates(daily(time, tmin=wave)).sel(season=2000)
    assert year["last_spring"].values == np.datetime64("2000-02-28")
    assert year["last_spring_day"] == 59


@pytest.mark.parametrize(
    ("night", "frozen"), [(0.0, True), (0.05, True), (0.06, False), (-2.2, True)]
)
def test_threshold_is_met_with_a_little_slack(night, frozen):
    # 28 degF is stored as -2.2, above -2.222; a threshold of 28 degF must still catch it.
    time = days("2000-01-01", "2001-12-31")
    wave = 10 - 6 * np.cos(2 * np.pi * (np.arange(len(time)) - 20) / 365.25)
    wave[time == np.datetime64("2000-04-10")] = night
    threshold = (28 - 32) / 1.8 if night == -2.2 else 0.0
    status = freeze_dates(daily(time, tmin=wave), threshold).sel(season=2000)["last_spring_status"]
    assert status == ("observed" if frozen else "none")


def test_tunis_hardly_ever_freezes(tunis):
    # The nights at or below 0 degC in the file, after the first winter: 17 Dec 1980, 8 to 10 Jan
    # 1981, 2 Dec 1983, 19 Feb 1984, 12 Jan 1985, 4 Feb 1989, 8 and 9 Jan 2002. The coldest day of
    # the usual year is 25 January, so each before that belongs to the autumn of the year before.
    dates = freeze_dates(tunis)
    spring, autumn = (dates[e].dropna("season") for e in EVENTS[:2])
    assert spring["season"].values.tolist() == [1984, 1989]
    assert spring.values.astype("datetime64[D]").astype(str).tolist() == [
        "1984-02-19",
        "1989-02-04",
    ]
    assert autumn["season"].values.tolist() == [1980, 1983, 1984, 2001]
    first = ["1980-12-17", "1983-12-02", "1985-01-12", "2002-01-08"]
    assert autumn.values.astype("datetime64[D]").astype(str).tolist() == first
    # The record ends on 31 May 2002: the spring of that year was seen, its autumn was not.
    for event, frozen, known in zip(EVENTS[:2], (2, 4), (24, 23), strict=True):
        status = dates[f"{event}_status"].values.tolist()
        assert status.count("observed") == frozen
        assert status.count("none") == known - frozen
    # Only 1984 has both a last and a first freeze.
    assert dates["freeze_free_days"].dropna("season")["season"].values.tolist() == [1984]


def test_odds_that_are_never_reached_are_missing(tunis):
    odds = freeze_odds(tunis)
    # Spring of 2002 was seen and had no freeze, so nothing bounds its days; autumn was not seen.
    for event, frozen, known in zip(EVENTS, (2, 4, 1), (24, 23, 24), strict=True):
        assert odds[f"{event}_known"] == known
        assert odds[f"{event}_frozen"] == frozen
    assert odds["last_spring"].isnull().all()  # 2 of 24 springs are less than 10 %
    assert odds["first_autumn"].notnull().values.tolist() == [True] + [False] * 8  # 4 are 17 %
    assert odds["freeze_free_days"].isnull().all()  # 9 seasons of 10 have no end


def test_length_is_none_where_either_end_is_open():
    # It never freezes in spring; a gap leaves autumn unknown. Whatever autumn was, nothing bounds
    # the days between.
    time = days("2000-01-01", "2003-12-31")
    wave = 10 - 6 * np.cos(2 * np.pi * (np.arange(len(time)) - 20) / 365.25)
    wave[time == np.datetime64("2001-11-20")] = -2
    record = missing(daily(time, tmin=wave), "2002-11-20")
    year = freeze_dates(record).sel(season=2002)
    assert year["last_spring_status"] == "none"
    assert year["first_autumn_status"] == "unknown"
    assert year["freeze_free_days_status"] == "none"


# --- odds by hand -------------------------------------------------------------------------


def plain_odds(days, event, levels):
    """Odds from the ranked years by Hazen's positions, (i - 1/2) / n of the frozen years.

    `days` are endless in years without a freeze, and missing where nothing is known.
    """
    known = int((~np.isnan(days)).sum())
    frozen = np.sort(days[np.isfinite(days)])
    if not len(frozen):
        return np.full(len(levels), np.nan)
    open_years = known - len(frozen)
    if event == "first_autumn":
        shares = (np.arange(1, len(frozen) + 1) - 0.5) / known
        return np.interp(levels, shares, frozen, right=np.nan if open_years else None)
    if event == "last_spring":
        shares = (np.arange(1, len(frozen) + 1) - 0.5) / known
        return np.interp(levels, shares, frozen[::-1], right=np.nan if open_years else None)
    shares = (np.arange(open_years + 1, known + 1) - 0.5) / known
    return np.interp(levels, shares, frozen[::-1], left=np.nan if open_years else None)


@pytest.mark.parametrize("place", ["tunis", "champion", "brussels", "clemson"])
@pytest.mark.parametrize("threshold", [4.0, 0.0, -4.4])
def test_ranked_odds_by_hand(place, threshold, request):
    record = request.getfixturevalue(place)
    levels = (0.01, *LEVELS, 0.95)
    odds, dates = freeze_odds(record, threshold, levels=levels), freeze_dates(record, threshold)
    for event in EVENTS:
        endless = -np.inf if event == "last_spring" else np.inf
        drawn = dates[f"{event}_drawn"].transpose("draw", "season").values
        of_draws = np.array([plain_odds(days, event, levels) for days in drawn])
        middle = np.median(np.where(np.isnan(of_draws), endless, of_draws), axis=0)
        npt.assert_allclose(odds[event], np.where(np.isinf(middle), np.nan, middle), atol=1e-9)


@pytest.mark.parametrize("place", ["tunis", "champion", "clemson"])
def test_known_years_are_the_same_in_every_draw(place, request):
    dates = freeze_dates(request.getfixturevalue(place))
    for event in EVENTS:
        name = event if event == "freeze_free_days" else f"{event}_day"
        status, drawn = dates[f"{event}_status"], dates[f"{event}_drawn"]
        observed, none = status == "observed", status == "none"
        assert (drawn == dates[name]).where(observed, True).all()
        endless = -np.inf if event == "last_spring" else np.inf
        assert (drawn == endless).where(none, True).all()


@pytest.mark.parametrize("threshold", [3.0, 0.0, -2.2])
def test_a_gap_that_hides_one_end_of_a_year_leaves_the_other_known(threshold):
    """In degrees that were rounded, a draw of 2009 is colder than any reading of the season."""
    dates = freeze_dates(weather(4, 30, gaps=0.02).round(), threshold)
    for event in ("last_spring", "first_autumn"):
        known = dates[f"{event}_status"] == "observed"
        same = dates[f"{event}_drawn"] == dates[f"{event}_day"]
        assert same.where(known, True).all()


def test_without_draws_dates_are_the_same_and_open_years_have_none():
    record = weather(4, 15, gaps=0.05)
    drawn, plain = (freeze_dates(record, with_draws=each) for each in (True, False))
    by_draw = [name for name in drawn if str(name).endswith("_drawn")]
    xr.testing.assert_identical(plain.drop_vars(by_draw), drawn.drop_vars(by_draw))
    for event in ("last_spring", "first_autumn"):
        is_open = plain[f"{event}_status"] == "unknown"
        assert is_open.any()
        assert plain[f"{event}_drawn"].where(is_open).isnull().all()
        known = (plain[f"{event}_drawn"] == drawn[f"{event}_drawn"]) | is_open
        assert known.all()


def test_years_that_a_gap_leaves_open_are_drawn(clemson):
    gappy = clemson.where(~clemson["time"].dt.month.isin([3, 4]) | (clemson["time"].dt.day > 6))
    dates = freeze_dates(gappy)
    open_years = dates["last_spring_status"] == "unknown"
    assert open_years.sum() > 10
    drawn = dates["last_spring_drawn"].where(open_years, drop=True)
    assert drawn.notnull().all()
    assert (drawn.std("draw") > 0).any()


def test_intervals_are_those_of_a_bootstrap(champion):
    dates, odds = freeze_dates(champion), freeze_odds(champion)
    for event in ("last_spring_day", "freeze_free_days"):
        oracle = scipy.stats.bootstrap(
            (dates[event].values,),
            lambda x, axis: np.quantile(x, 0.5, axis=axis, method="hazen"),
            confidence_level=0.9,
            n_resamples=4000,
            method="percentile",
            rng=np.random.default_rng(1),
        ).confidence_interval
        name = event.removesuffix("_day")
        found = [odds[f"{name}_{side}"].sel(odds=0.5).item() for side in ("low", "high")]
        npt.assert_allclose(found, oracle, atol=1.0)  # whole days, drawn by chance


@pytest.mark.parametrize("method", ["ranked", "resampled"])
@pytest.mark.parametrize("place", ["tunis", "brussels"])
def test_interval_holds_the_odds_and_is_open_where_freezes_may_not_come(place, method, request):
    odds = freeze_odds(request.getfixturevalue(place), method=method)
    for event in EVENTS:
        low, value, high = (odds[f"{event}{side}"] for side in ("_low", "", "_high"))
        assert not ((low > value) | (high < value)).any()
        # A spring that may be without a freeze is open towards winter, all else towards the end.
        shut, other = (high, low) if event == "last_spring" else (low, high)
        assert (value.notnull() <= shut.notnull()).all()
        assert (other.notnull() <= value.notnull()).all()


def test_odds_without_one_known_year_are_missing():
    record = weather(1).where(lambda r: ~r["time"].dt.month.isin([3, 4, 5, 6]))  # no spring, ever
    odds = freeze_odds(record)
    assert odds["last_spring_known"] == 0
    assert odds["first_autumn_known"] == 4
    assert odds["last_spring"].isnull().all()
    assert freeze_chance(freeze_dates(record))["last_spring"].isnull().all()


@pytest.mark.parametrize("method", ["ranked", "smoothed"])
def test_an_event_without_one_known_year_has_no_odds_and_leaves_the_others_theirs(method):
    record = weather(1).where(lambda r: ~r["time"].dt.month.isin([3, 4, 5, 6]))
    odds = freeze_odds(record, levels=(0.2, 0.5), method=method)
    for side in ("", "_low", "_high", "_next_low", "_next_high"):
        assert odds[f"last_spring{side}"].dims == ("odds",)
        assert np.isnan(odds[f"last_spring{side}"]).all()
    assert np.isfinite(odds["first_autumn"]).all()


def test_intervals_of_ranked_dates_are_those_of_the_sample():
    record = weather(5, years=14)
    dates, levels = freeze_dates(record), np.array([0.2, 0.5, 0.7])
    odds = freeze_odds(record, levels=levels)
    for event in EVENTS:
        values = dates[f"{event}_drawn"].isel(draw=0).dropna("season")
        worth = effective_years(values["season"].values, values.values)
        below = levels if event == "first_autumn" else 1 - levels
        low, high = quantile_interval(np.sort(values), worth, below)
        npt.assert_allclose(odds[f"{event}_low"], low, rtol=1e-9)
        npt.assert_allclose(odds[f"{event}_high"], high, rtol=1e-9)
        assert (odds[f"{event}_low"] < odds[event]).all()
        assert (odds[event] < odds[f"{event}_high"]).all()


@pytest.mark.parametrize("event", _EVENTS, ids=lambda event: event.name)
def test_years_that_are_drawn_count_less_and_unknown_ones_not_at_all(event):
    rng, shares = np.random.default_rng(3), np.array([0.1, 0.5])
    values = rng.normal(120, 12, 20).round()
    known = np.repeat(values[:, None], 5, axis=1)
    years = np.delete(np.arange(20), 7)
    of_all = event.worth(known, shares, 0.0)
    npt.assert_allclose(of_all, effective_years(np.arange(20), values))
    holed = known.copy()
    holed[7, 2] = np.nan  # one draw that cannot tell leaves the year out
    npt.assert_allclose(event.worth(holed, shares, 0.0), effective_years(years, values[years]))
    drawn = known.copy()
    drawn[[3, 12, 15], 1:] += rng.normal(0, 30, (3, 4)).round()
    counted = event.counted(drawn, np.array([np.median(values)]))
    less = counted.worth[0] / 20
    assert less < 1
    npt.assert_allclose(
        event.worth(drawn, shares, 0.0), effective_years(np.arange(20), values) * less
    )
    # a level that is known to half a degree takes more from middle shares
    blurred = of_all / event.worth(known, shares, 0.5)
    assert 1 < blurred[0] < blurred[1]


def test_odds_for_todays_climate_are_those_of_the_moved_record():
    record = weather(5, years=24)
    warming = 0.15 * (record["time"].dt.year - 1999)
    warmer = record.map(lambda v: (v + warming).assign_attrs(v.attrs))
    moved_ = todays_climate(warmer)
    now, was = freeze_odds(warmer, climate="today"), freeze_odds(warmer)
    xr.testing.assert_identical(now, freeze_odds(moved_))
    assert (now["last_spring"] < was["last_spring"]).all()
    xr.testing.assert_identical(freeze_dates(warmer, climate="today"), freeze_dates(moved_))
    # For the next ten years a freeze in autumn has a drift of 40 years today, not of 20.
    drawn = freeze_dates(moved_)["first_autumn_drawn"].transpose("season", "draw").values
    counted = _EVENTS[1].counted(drawn, now["first_autumn"].values)
    for n, level in enumerate(LEVELS):
        ahead = counted.worth[n] * 40 / (counted.worth[n] + 40)
        likely = scipy.stats.betabinom(10, level * ahead + 0.5, (1 - level) * ahead + 0.5)
        told = (now[f"first_autumn_next_{end}"].values[n] for end in ("low", "high"))
        assert tuple(told) == likely.interval(0.9)


def test_known_frozen_and_leaning_years_are_counted_one_by_one():
    both = side_by_side(weather(1, gaps=0.08), weather(2, mean=24.0, gaps=0.03))
    dates = freeze_dates(both, (2.0, -3.0))
    odds = freeze_odds(both, (2.0, -3.0), levels=(0.5,))
    assert odds["threshold"].attrs == dates["threshold"].attrs == {"units": "degC"}
    leaning = 0
    for event in EVENTS:
        for station in range(2):
            for threshold in range(2):
                here = {"station": station, "threshold": threshold}
                status = dates[f"{event}_status"].isel(here).values.tolist()
                drawn = dates[f"{event}_drawn"].isel(here).transpose("season", "draw").values
                told = [not np.isnan(row).any() for row in drawn]
                lean = sum(s == "unknown" and t for s, t in zip(status, told, strict=True))
                one = odds.isel(here)
                assert one[f"{event}_known"] == len(status) - status.count("unknown")
                assert one[f"{event}_frozen"] == status.count("observed")
                assert one[f"{event}_leaning"] == lean
                leaning += lean
    assert leaning > 3


def test_simulated_years_know_their_station_and_threshold(monkeypatch):
    monkeypatch.setattr("climwin.climate.freeze._SIMULATED_YEARS", 200)
    monkeypatch.setattr("climwin.climate.freeze._RESAMPLES", 25)
    alone = weather(1, years=3, gaps=0.02), weather(2, years=3, coldest=202)
    given = {"method": "resampled", "levels": (0.3, 0.6)}
    odds = freeze_odds(side_by_side(*alone).chunk(station=1), (1.0, -2.0), **given)
    assert odds["last_spring_low"].chunks is not None
    odds = odds.compute()
    for n, record in enumerate(alone):
        for m, threshold in enumerate((1.0, -2.0)):
            one = freeze_odds(record, threshold, **given)
            here = odds.isel(station=n, threshold=m).drop_vars(("station", "threshold"))
            for event in EVENTS:
                for side in ("", "_low", "_high"):
                    npt.assert_array_equal(here[event + side], one[event + side])


# --- odds by date -------------------------------------------------------------------------


def test_chance_at_a_smoothed_date_is_its_level(champion):
    levels = np.array([0.1, 0.3, 0.5, 0.7, 0.9])
    odds = freeze_odds(champion, method="smoothed", levels=levels)
    chance = freeze_chance(freeze_dates(champion))
    for event, half_a_day in (("last_spring", 0.5), ("first_autumn", -0.5)):
        # A chance counts the day itself, so it belongs to the edge of the day.
        edges = chance["day_of_year"] - half_a_day
        at = np.interp(odds[event], edges, chance[event])
        npt.assert_allclose(at, levels, atol=0.005)


def test_smoothed_dates_lie_near_the_ranked_ones(champion):
    ranked, smoothed = (freeze_odds(champion, method=name) for name in ("ranked", "smoothed"))
    for event in EVENTS:
        assert abs(smoothed[event] - ranked[event]).max() < 4
        assert (smoothed[f"{event}_low"] <= smoothed[event]).all()
        assert (smoothed[event] <= smoothed[f"{event}_high"]).all()


@pytest.mark.parametrize("place", ["champion", "tunis", "clemson"])
@pytest.mark.parametrize(("event", "sign"), [("last_spring", -1), ("first_autumn", 1)])
def test_chance_is_near_the_share_of_years_and_never_0_or_1(place, event, sign, request):
    dates = freeze_dates(request.getfixturevalue(place))
    start = offset_of(dates["first_day"]).item() + 1
    found = freeze_chance(dates)
    chance = np.roll(found[event], 1 - start)  # in the order of the season
    share = np.roll(found[f"{event}_share"], 1 - start)
    drawn = dates[f"{event}_drawn"]
    known = drawn.notnull().all("draw").sum().item()
    frozen = [
        (sign * drawn <= sign * (start + day)).mean("draw").sum().item() for day in range(DAYS)
    ]
    npt.assert_allclose(share, np.array(frozen) / known, atol=1e-12)
    assert abs(chance - share).max() < 0.13  # the largest jump of three or four years on one day
    assert abs(chance - share).mean() < 0.02
    assert (sign * np.diff(chance) >= 0).all()
    assert chance.min() >= 0.5 / (known + 1) - 1e-12
    assert chance.max() <= 1 - 0.5 / (known + 1) + 1e-12


def test_chance_by_a_plain_sum_over_the_years(champion):
    dates = freeze_dates(champion)
    day = dates["last_spring_day"].values
    found = freeze_chance(dates)["last_spring"]
    for asked in (110, 120, 130):
        plain = smoothing.above(day, asked - 0.5)
        assert found.sel(day_of_year=asked).item() == pytest.approx(plain)


def test_chances_of_either_side_count_the_day_itself():
    dates = freeze_dates(weather(5, years=8))
    found = freeze_chance(dates)
    for asked in (100, 110, 120, 290, 300, 310):
        spring = smoothing.above(dates["last_spring_day"].values, asked - 0.5)
        autumn = 1 - smoothing.above(dates["first_autumn_day"].dropna("season").values, asked + 0.5)
        for event, plain in (("last_spring", spring), ("first_autumn", autumn)):
            known = dates[f"{event}_status"] != "unknown"
            least = 0.5 / (int(known.sum()) + 1)
            expected = min(max(plain, least), 1 - least)
            assert found[event].sel(day_of_year=asked).item() == pytest.approx(expected)


def test_no_freeze_so_far_is_not_never():
    record = weather(4, years=30, mean=25.0, swing=5.0)
    found = freeze_chance(freeze_dates(record))
    assert (found["last_spring_share"] == 0).all()
    assert (found["last_spring"] > 0.01).all()
    assert (found["last_spring_next_high"] >= 1).all()


# --- what must not matter -----------------------------------------------------------------


@given(weathers(), st.sampled_from([0.0, -2.2]), st.floats(0, 5))
@settings(max_examples=15)
def test_warmth_never_brings_a_later_last_freeze(record, threshold, warming):
    before = freeze_dates(record, threshold)
    after = freeze_dates(record.assign(tmin=record["tmin"] + warming), threshold)
    assert not (after["last_spring_day"] > before["last_spring_day"]).any()
    assert not (after["first_autumn_day"] < before["first_autumn_day"]).any()
    assert not (after["freeze_free_days"] < before["freeze_free_days"]).any()
    thawed = (before["last_spring_status"] == "none") & (after["last_spring_status"] != "none")
    assert not thawed.any()


def same_winters(record):
    """The record with all years alike within 40 days of New Year, so that years may be swapped."""
    record = common_years(record)
    day = record["time"].dt.dayofyear.values
    deep = (day <= 40) | (day > 325)
    wave = -5 - 3 * np.cos(2 * np.pi * day / 365)
    return record.assign(tmin=record["tmin"].copy(data=np.where(deep, wave, record["tmin"])))


@given(weathers(gaps=0.0, years=4, mean=9.0), st.permutations(range(4)))
@settings(max_examples=10)
def test_order_of_years_does_not_matter(record, order):
    record = same_winters(record)
    blocks = [record.sel(time=str(1999 + n)) for n in order]
    shuffled = xr.concat(blocks, "time").assign_coords(time=record["time"])
    odds, other = freeze_odds(record), freeze_odds(shuffled)
    assert odds["first_day"] <= 40 or odds["first_day"] > 325
    for event in EVENTS:
        npt.assert_array_equal(odds[event], other[event])
        assert odds[f"{event}_frozen"] == other[f"{event}_frozen"]


@given(weathers())
@settings(max_examples=10)
def test_southern_dates_are_the_same_half_a_year_later(record):
    north, south = common_years(record), moved(record)
    mine, theirs = freeze_dates(north), freeze_dates(south)
    assert mine.sizes["season"] == theirs.sizes["season"]
    for event in EVENTS:
        npt.assert_array_equal(mine[f"{event}_status"], theirs[f"{event}_status"])
    for event in EVENTS[:2]:
        later = (theirs[f"{event}_day"].values - mine[f"{event}_day"].values) % DAYS
        assert set(later[~np.isnan(later)]) <= {HALF_A_YEAR}
    npt.assert_array_equal(mine["freeze_free_days"], theirs["freeze_free_days"])


@given(weathers(gaps=0.0))  # gaps are drawn month by month, and months differ in length
@settings(max_examples=10)
def test_southern_chances_are_the_same_half_a_year_later(record):
    chances = [freeze_chance(freeze_dates(each)) for each in (common_years(record), moved(record))]
    for event in EVENTS[:2]:
        npt.assert_allclose(np.roll(chances[0][event], HALF_A_YEAR), chances[1][event], atol=1e-12)


def test_southern_resampled_odds_are_the_same_half_a_year_later():
    # The segments are months, and months differ: so do the odds, by little.
    record = weather(7, years=12)
    north, south = (
        freeze_odds(r, method="resampled") for r in (common_years(record), moved(record))
    )
    for event in EVENTS[:2]:
        npt.assert_allclose((south[event] - north[event]) % DAYS, HALF_A_YEAR, atol=4)


# --- stations, dask, labels ---------------------------------------------------------------


@pytest.mark.parametrize("method", ["ranked", "resampled"])
def test_stations_pass_through_each_with_its_own_cut(method, monkeypatch):
    monkeypatch.setattr("climwin.climate.freeze._SIMULATED_YEARS", 400)
    monkeypatch.setattr("climwin.climate.freeze._RESAMPLES", 50)
    alone = weather(1, gaps=0.01), weather(2, gaps=0.01, coldest=202), weather(3, mean=25.0)
    both = side_by_side(*alone)
    dates, odds = freeze_dates(both), freeze_odds(both, method=method)
    chance = freeze_chance(dates)
    for n, record in enumerate(alone):
        own = freeze_dates(record)
        mine = dates.isel(station=n).drop_vars("station").sel(season=own["season"])
        xr.testing.assert_equal(mine, own)
        xr.testing.assert_allclose(
            chance.isel(station=n).drop_vars("station"),
            freeze_chance(dates.isel(station=n).drop_vars("station")),
        )
        own_odds = freeze_odds(record, method=method)
        for event in EVENTS:
            npt.assert_array_equal(odds[event][n], own_odds[event])


@pytest.mark.parametrize("method", ["ranked", "resampled"])
def test_dask_stays_lazy(method, monkeypatch):
    monkeypatch.setattr("climwin.climate.freeze._SIMULATED_YEARS", 400)
    monkeypatch.setattr("climwin.climate.freeze._RESAMPLES", 50)
    both = side_by_side(weather(1, gaps=0.01), weather(2, coldest=202))
    lazy = both.chunk(station=1, time=300)
    for work in (
        lambda record: freeze_dates(record, (0.0, -2.2)),
        lambda record: freeze_odds(record, method=method),
        lambda record: freeze_chance(freeze_dates(record)),
    ):
        result = work(lazy)
        assert all(da.chunks is not None for da in result.data_vars.values())
        xr.testing.assert_equal(result.compute(), work(both))


def units_of(name):
    """Units of a result by its name, as the docstrings give them."""
    if "next" in name:
        return "years"
    if name.endswith("status") or name in EVENTS[:2]:
        return None
    if name.endswith(("known", "frozen", "leaning")):
        return "1"
    return "days" if name.startswith("freeze_free_days") else "day of the year"


def test_dates_and_chances_have_units():
    dates = freeze_dates(weather(2, years=3))
    for name, values in dates.data_vars.items():
        assert values.attrs.get("units") == units_of(name), name
    for name, values in freeze_chance(dates).data_vars.items():
        assert values.attrs.get("units") == ("years" if "next" in name else "1"), name


@pytest.mark.parametrize("method", ["ranked", "smoothed", "resampled"])
def test_odds_have_units(method, monkeypatch):
    monkeypatch.setattr("climwin.climate.freeze._SIMULATED_YEARS", 100)
    monkeypatch.setattr("climwin.climate.freeze._RESAMPLES", 10)
    odds = freeze_odds(weather(2, years=3), method=method, levels=(0.5,))
    for name, values in odds.data_vars.items():
        dated = "day of the year" if name in EVENTS[:2] else units_of(name)
        assert values.attrs.get("units") == dated, name


@pytest.mark.parametrize("method", ["ranked", "smoothed"])
def test_odds_say_how_they_were_found(method):
    odds = freeze_odds(weather(2, years=3), method=method, levels=(0.5,))
    facts = ("threshold_c", "method", "plotting_position", "interval", "next_years")
    told = (0.0, method, "hazen", 0.9, 10)
    assert tuple(odds.attrs.get(fact) for fact in facts) == told


def test_results_say_where_they_come_from():
    record = weather().assign_attrs(title="Pellbrook", source="invented", licence="none needed")
    odds = freeze_odds(record, -2.2)
    assert odds.attrs["title"] == "Pellbrook"
    assert odds.attrs["source"] == "invented"
    assert odds.attrs["threshold_c"] == -2.2
    assert odds.attrs["method"] == "ranked"
    assert odds.attrs["plotting_position"] == "hazen"
    assert odds.attrs["interval"] == 0.9
    assert odds["last_spring"].attrs["units"] == "day of the year"
    assert odds["freeze_free_days_low"].attrs["units"] == "days"
    ladder = freeze_dates(record, LADDER_C)
    assert ladder.attrs["threshold_c"] == list(LADDER_C)


# --- errors -------------------------------------------------------------------------------


def test_unknown_method_is_refused():
    with pytest.raises(
        ValueError, match="method must be one of ranked, smoothed, resampled; got 'normal'"
    ):
        freeze_odds(weather(), method="normal")


@pytest.mark.parametrize("level", [0, 1, 90])
def test_level_must_be_odds(level):
    with pytest.raises(ValueError, match=rf"levels are odds between 0 and 1, got 0.5, {level}"):
        freeze_odds(weather(), levels=(0.5, level))


def test_thin_record_is_refused():
    with pytest.raises(DataGapError, match="too thin to have a usual year"):
        freeze_dates(weather().isel(time=slice(0, 150)))


def test_record_without_minima_is_refused():
    with pytest.raises(
        ValueError, match=r"no 'tmin' \(daily minimum air temperature\); it holds tmax"
    ):
        freeze_dates(weather().drop_vars("tmin"))


def test_record_in_fahrenheit_is_refused():
    record = weather()
    record["tmin"].attrs["units"] = "degF"
    with pytest.raises(ValueError, match=r"'tmin' must be in degC, got 'degF'\. Convert it first"):
        freeze_dates(record)


@pytest.mark.parametrize("degf", [28, 32, 36, 40])
def test_a_threshold_in_degf_is_refused_with_the_same_in_degc(degf):
    record = weather(1, years=3)
    calls = (
        lambda limit: freeze_dates(record, limit),
        lambda limit: freeze_odds(record, [0.0, limit]),
        lambda limit: cw.usable_windows(record, cw.crop("pea"), killed_at=limit),
    )
    for call in calls:
        with pytest.raises(ValueError, match=f"in degC, 20 at most, got {degf}") as caught:
            call(degf)
        degc = float(str(caught.value).rpartition("give ")[2].rstrip("."))
        assert degc == pytest.approx((degf - 32) / 1.8, abs=0.05)
        call(degc)
