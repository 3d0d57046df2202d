"""The whole answer against the functions that a garden's own report calls, station by station."""

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
from climwin.crops.catalogue import crop
from climwin.planning.evaluate import best_dates, sweep
from climwin.planning.plan import Plan

CROPS = [crop("cauliflower"), crop("pea")]
"""One that is usually raised under cover, and one that is not."""


@pytest.fixture(scope="module")
def alone():
    # Three places: with gaps, in the south, and one where summer splits a cool crop's year.
    kinds = [{"gaps": 0.02}, {"coldest": 202}, {"mean": 15.0, "swing": 13.0}]
    return [weather(n, years=5, **kind) for n, kind in enumerate(kinds)]


@pytest.fixture(scope="module")
def found(alone):
    return station_results(side_by_side(*alone), CROPS)


def test_freezes_and_bands_are_the_functions_own(alone, found):
    thresholds = sorted({0.0, *(c.killed_at_c for c in CROPS)}, reverse=True)
    for n, record in enumerate(alone):
        station = found.isel(station=n)
        odds = freeze_odds(record, thresholds)
        for name in odds.data_vars:
            npt.assert_array_equal(station[name], odds[name])
        bands = day_bands(record["tmean"])
        npt.assert_array_equal(station["bands"], bands["tmean"])
        npt.assert_array_equal(station["sample_size"], bands["sample_size"])


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
        odds = odds_shorter(windows, plant.need_days)
        for name in odds.data_vars:
            ours = "shorter_years" if name == "shorter" else f"shorter_{name}"
            npt.assert_array_equal(station[ours], odds[name])


def test_best_dates_are_the_functions_own(alone, found):
    brassica, pea = CROPS
    weeks = brassica.weeks_under_cover.usual
    ways = [
        (brassica, Plan(brassica, "06-01"), WAYS[0]),
        (brassica, Plan(brassica, "06-01", weeks, "cold frame"), WAYS[1]),
        (pea, Plan(pea, "06-01"), WAYS[0]),
    ]
    for n, record in enumerate(alone):
        for plant, plan, way in ways:
            best = found.isel(station=n).sel(crop=plant.name, way=way)
            swept = sweep(plan, record)
            assert (best["best_first"], best["best_last"]) == best_dates(swept)
            first, last = int(best["best_first"]), int(best["best_last"])
            days = (first - 1 + np.arange((last - first) % 365 + 1)) % 365
            assert best["best_share"] == swept["share"][days].max()
            assert best["best_known"] == swept["known"][days].min()
    nobody = found["best_first"].sel(crop="pea", way=WAYS[1])
    assert nobody.isnull().all()  # peas are sown where they grow


def test_dask_gives_the_same(alone, found):
    lazy = station_results(side_by_side(*alone).chunk(station=1, time=500), CROPS)
    assert lazy["bands"].chunks is not None
    xr.testing.assert_equal(lazy.compute(), found)


# --- what a file says of itself -----------------------------------------------------------


def test_every_variable_says_what_it_is(found):
    words = {"station", "crop", "part", "way", "window_start", "window_end"}  # without a unit
    for name in set(found.variables) - {"station"}:
        assert found[name].attrs["long_name"]
        assert ("units" in found[name].attrs) == (name not in words), name
    assert found["shorter_low"].attrs["long_name"].startswith("lower end of the 90 % interval of")
    assert found["last_spring_known"].attrs["units"] == "1"


def test_flags_are_read_by_their_meaning(found):
    unknown = found["window_status"].cf == "unknown"  # cf-xarray reads CF's flags
    npt.assert_array_equal(unknown, found["window_status"] == STATUSES.index("unknown"))
    assert unknown.any()


@pytest.mark.parametrize(("crops", "told"), [([], "none"), ([CROPS[0]] * 2, "cauliflower")])
def test_crops_need_a_name_each(alone, crops, told):
    with pytest.raises(ValueError, match=f"each with a name of its own; got .*{told}"):
        station_results(side_by_side(alone[0]), crops)
