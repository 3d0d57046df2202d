"""The whole answer against the functions that a garden's own report calls, station by station."""

import re

import cf_xarray  # noqa: F401
import numpy as np
import numpy.testing as npt
import pytest
import xarray as xr
from records import side_by_side, weather

from climwin.batch.results import STATUSES, WAYS, station_results
from climwin.climate.freeze import freeze_odds
from climwin.climate.percentiles import day_bands
from climwin.climate.windows import odds_shorter, usable_windows
from climwin.core.seasons import day_number
from climwin.crops.catalogue import crop
from climwin.planning.evaluate import evaluate_plan, harvest_odds
from climwin.planning.plan import Plan
from climwin.planning.schedule import at_best_date, best_dates
from climwin.planning.sweep import sweep_start_dates

CROPS = [crop("cauliflower"), crop("pea")]
"""One that is usually raised under cover, and one that is not."""
LATITUDES = [46.0, -44.0, 46.0]


@pytest.fixture(scope="module")
def alone():
    # Three places: with gaps, in the south, and one where summer splits a cool crop's year.
    kinds = [{"gaps": 0.02}, {"coldest": 202}, {"mean": 15.0, "swing": 13.0}]
    records = [weather(n, years=5, **kind) for n, kind in enumerate(kinds)]
    return [
        each.assign_attrs(latitude=north) for each, north in zip(records, LATITUDES, strict=True)
    ]


@pytest.fixture(scope="module")
def found(alone):
    return station_results(together(alone), CROPS)


def together(alone):
    latitude = ("station", LATITUDES[: len(alone)])
    return side_by_side(*alone).assign_coords(latitude=latitude)


def test_freezes_and_bands_are_the_functions_own(alone, found):
    thresholds = sorted({0.0, *(c.killed_at_c for c in CROPS)}, reverse=True)
    for n, record in enumerate(alone):
        station = found.isel(station=n)
        odds = freeze_odds(record, thresholds, method="smoothed")
        for name in odds.data_vars:
            npt.assert_array_equal(station[name], odds[name])
        bands = day_bands(record["tmean"])
        npt.assert_array_equal(station["bands"], bands["tmean"])
        npt.assert_array_equal(station["sample_size"], bands["sample_size"])


def test_crops_whose_years_begin_on_different_days_are_joined_without_a_warning():
    mild = weather(3, years=5, mean=16.5, swing=9.0).assign_attrs(latitude=37.0)
    crops = [crop("tomato"), crop("lettuce")]
    own = [int(usable_windows(mild, each)["first_day"]) for each in crops]
    assert own[0] != own[1]
    both = station_results(together([mild]), crops)  # warnings of ours are errors here
    assert both["shorter_known"].sel(crop="lettuce", part="longest").item() > 0


@pytest.mark.parametrize("plant", CROPS, ids=lambda c: c.name)
def test_windows_and_shortness_are_the_functions_own(alone, found, plant):
    for n, record in enumerate(alone):
        station = found.isel(station=n).sel(crop=plant.name)
        windows = usable_windows(record, plant)
        for name in ("start", "end", "length", "usable_days", "length_least", "length_most"):
            npt.assert_array_equal(station[f"window_{name}"], windows[name])
        npt.assert_array_equal(np.array(STATUSES)[station["window_status"]], windows["status"])
        npt.assert_array_equal(station["window_median"], windows["length"].median("season"))
        for name in ("average_start_day", "average_end_day", "average_length", "has_two_windows"):
            npt.assert_array_equal(station[name], windows[name])
        odds = odds_shorter(windows, int(station["need_days"]))
        for name in odds.data_vars:
            ours = "shorter_years" if name == "shorter" else f"shorter_{name}"
            npt.assert_array_equal(station[ours], odds[name])


def ways_of(plant):
    """Each way of growing a crop, by its name."""
    ways = {WAYS[0]: Plan(plant, "06-01")}
    if plant.weeks_under_cover:
        ways[WAYS[1]] = Plan(plant, "06-01", plant.weeks_under_cover.usual, "cold frame")
    return ways


@pytest.mark.parametrize("plant", CROPS, ids=lambda c: c.name)
def test_best_dates_are_the_functions_own(alone, found, plant):
    for n, record in enumerate(alone):
        for way, plan in ways_of(plant).items():
            best = found.isel(station=n).sel(crop=plant.name, way=way)
            swept = sweep_start_dates(plan, record)
            assert (best["best_first"], best["best_last"]) == best_dates(swept)
            at_best = at_best_date(plan, record)
            assert day_number(at_best.start) == best["best_day"]
            odds = harvest_odds(evaluate_plan(at_best, record))
            assert best["best_share"] == odds["share"]
            assert best["best_good_share"] == odds["good_share"]
            assert best["best_known"] == odds["known"]


@pytest.mark.parametrize("plant", CROPS, ids=lambda c: c.name)
def test_the_need_is_what_the_better_way_stands_outdoors(alone, found, plant):
    for n, record in enumerate(alone):
        grown = [evaluate_plan(at_best_date(p, record), record) for p in ways_of(plant).values()]
        better = max(grown, key=lambda years: years["yield_index"].mean())
        outdoors = better["days_outdoors"].dropna("season")
        need = found["need_days"].isel(station=n).sel(crop=plant.name)
        assert need == int(np.median(outdoors))


def test_what_is_never_raised_or_has_no_start_has_no_dates(alone):
    asparagus = crop("asparagus")
    results = station_results(together(alone[:1]), [CROPS[1], asparagus])
    assert results["best_share"].sel(crop="pea", way=WAYS[1]).isnull().all()
    assert results["best_first"].sel(crop="asparagus").isnull().all()
    assert results["best_known"].sel(crop="asparagus", way=WAYS[0]) > 0


def test_a_crop_that_is_never_harvested_needs_the_days_of_its_packet():
    cold = weather(3, years=5, mean=-5.0, swing=6.0).assign_attrs(latitude=60.0)
    okra = crop("okra")
    results = station_results(
        side_by_side(cold).assign_coords(latitude=("station", [60.0])), [okra]
    )
    assert results["best_share"].sel(way=WAYS[0]) == 0
    assert results["best_first"].isnull().all()
    assert results["need_days"] == round(okra.maturity.main)


def test_dask_gives_the_same(alone, found):
    lazy = station_results(together(alone).chunk(station=1, time=500), CROPS)
    assert lazy["bands"].chunks is not None
    xr.testing.assert_equal(lazy.compute(), found)


# --- what a file says of itself -----------------------------------------------------------


def test_every_variable_says_what_it_is(found):
    words = {"station", "crop", "part", "way", "window_start", "window_end"}  # without a unit
    for name in set(found.variables) - {"station", "latitude"}:  # the file describes these
        assert found[name].attrs["long_name"]
        assert ("units" in found[name].attrs) == (name not in words), name
    assert found["shorter_low"].attrs["long_name"].startswith("lower end of the 90 % interval of")
    assert found["last_spring_known"].attrs["units"] == "1"


SAYS = {
    "last_spring": "day of the year with these odds of a freeze on it or later in spring",
    "first_autumn": "day of the year with these odds of a freeze on it or earlier in autumn",
    "freeze_free_days": "days between last and first freeze reached with these odds",
    "bands": "daily mean air temperature near each day of the year, all years together",
    "sample_size": "values near each day of the year",
    "window_start": "first day of the usable window",
    "window_end": "last day of the usable window",
    "window_length_least": "least that the length can be, whatever a gap hides",
    "window_length_most": "most that the length can be, whatever a gap hides",
    "window_median": "median length of the usable window, over the known years",
    "average_start_day": "day of the year on which the average curve's window begins",
    "average_end_day": "day of the year on which the average curve's window ends",
    "has_two_windows": "1 where summer or winter splits the crop's year in two",
    "shorter_years": "years whose window is shorter than the crop needs",
    "shorter_share": "share of years whose window is shorter than the crop needs",
    "shorter_known": "years of which that is known",
    "shorter_unknown": "years of which a gap hides it",
    "shorter_share_least": "that share, were no unknown year's window shorter",
    "shorter_share_most": "that share, were every unknown year's window shorter",
    "shorter_odds": "odds of a window shorter than needed, smoothed over the lengths",
    "best_first": "first start date that is recommended, day of the year",
    "best_last": "last start date that is recommended, day of the year",
    "best_day": "best of those start dates, day of the year",
    "best_share": "share of years with a harvest from the best start date, in the years that chose "
    "it",
    "best_elsewhere_share": "share of harvests in years left out when the best date was chosen",
    "best_good_share": "share of years with a good harvest from the best start date",
    "best_known": "years known of the best start date",
    "day_of_year": "day of the year of 365 days",
    "need_days": "days outdoors to the first harvest, what the crop needs of a window",
    "part": "the longest window of the crop's year, or that on its rise or on its fall",
    "season": "year that holds the season's middle",
    "threshold": "a freeze is a daily minimum at or below it",
    "shorter_low": "lower end of the 90 % interval of: share of years whose window is shorter",
    "shorter_high": "upper end of the 90 % interval of: share of years whose window is shorter",
    "shorter_next_low": "least number of the next ten years, at 90 %, with: share of years whose",
    "shorter_next_high": "greatest number of the next ten years, at 90 %, with: share of years",
    "last_spring_known": "years known: ",
    "last_spring_frozen": "years in which it froze: ",
    "last_spring_leaning": "years that a gap leaves open and that count as its draws say: ",
}
"""What the numbers of a variable are, from `freeze_odds`, `usable_windows`, `odds_shorter` and
`best_dates`, in the words that would be false if their opposites stood there."""


def test_dates_and_spells_fall_with_their_odds_as_they_are_said_to(found):
    """A late freeze in spring, an early one in autumn, and a long time without are less likely."""
    rising = found.sortby("odds")
    for name, sign in (("last_spring", -1), ("first_autumn", 1), ("freeze_free_days", -1)):
        steps = sign * rising[name].diff("odds").values
        steps = steps[np.isfinite(steps)]
        assert (steps >= 0).all(), name
        assert steps.max() > 0


def test_a_trend_is_told_in_the_years_of_its_unit():
    """Theil and Sen's slope, the median of all slopes between two years."""
    results = station_results(together([weather(4, years=14)]), CROPS[1:])
    station = results.isel(station=0, crop=0).sel(part="longest")
    length = station["window_length"].dropna("season")
    days, years = length.values.astype(float), length["season"].values
    one, two = np.triu_indices(len(years), 1)
    a_year = float(np.median((days[two] - days[one]) / (years[two] - years[one])))
    unit = re.fullmatch(r"day \((\d+) year\)-1", station["shorter_trend"].attrs["units"])
    assert a_year != 0
    assert float(station["shorter_trend"]) == pytest.approx(int(unit[1]) * a_year)


@pytest.mark.parametrize("name", SAYS)
def test_what_a_variable_is_said_to_be_is_what_it_holds(found, name):
    assert SAYS[name] in found[name].attrs["long_name"]


def test_the_ends_of_what_is_said_lie_on_their_side(found):
    """Lower and least below upper, greatest and most, wherever both are there."""
    lows = ("_low", "_least", "_first", "_start", "_start_day")
    pairs = 0
    for name in map(str, found.data_vars):
        for low, high in zip(lows, ("_high", "_most", "_last", "_end", "_end_day"), strict=True):
            other = name.removesuffix(low) + high
            if not name.endswith(low) or other not in found:
                continue
            if low in ("_low", "_least") or name == "window_start":
                one, two = found[name], found[other]
                known = one.notnull() & two.notnull()
                assert (one.where(known) <= two.where(known)).where(known, True).all()
                pairs += 1
    assert pairs >= 3


def test_flags_are_read_by_their_meaning(found):
    unknown = found["window_status"].cf == "unknown"  # cf-xarray reads CF's flags
    npt.assert_array_equal(unknown, found["window_status"] == STATUSES.index("unknown"))
    assert unknown.any()


@pytest.mark.parametrize(("crops", "told"), [([], "none"), ([CROPS[0]] * 2, "cauliflower")])
def test_crops_need_a_name_each(alone, crops, told):
    with pytest.raises(ValueError, match=f"each with a name of its own; got .*{told}"):
        station_results(together(alone[:1]), crops)
