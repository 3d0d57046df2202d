"""A warmer history against the same history with its limits moved; its label through every step."""

import numpy as np
import numpy.testing as npt
import pytest
import xarray as xr
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from records import daily, days, moved, side_by_side, weather, weathers

from climwin.climate.freeze import freeze_chance, freeze_dates, freeze_odds
from climwin.climate.heat import degree_days
from climwin.climate.percentiles import day_bands
from climwin.climate.rain import dry_spell_odds, dry_spells
from climwin.climate.soil import soil_temperature
from climwin.climate.trends import compare_halves, compare_periods, trend
from climwin.climate.windows import odds_shorter, usable_windows
from climwin.core.provenance import check_alike, provenance, scenario_of, warm_by
from climwin.crops.catalogue import crop
from climwin.crops.model import Limits
from climwin.io import quality
from climwin.planning.evaluate import compare_plans, evaluate_plan, harvest_odds
from climwin.planning.plan import Plan
from climwin.planning.sweep import sweep_start_dates

TEMPERATURES = ("tmin", "tmax", "tmean")
BY_MONTH = [0.5, 0.5, 1, 1, 1.5, 1.5, 2, 2, 1.5, 1, 1, 0.5]
LABEL = "what if it were 1.5 degC warmer"
STEPS = st.integers(0, 8).map(lambda n: n / 2)


def band(low, high):
    return Limits(low_c=low, high_c=high, source="invented")


def record(seed=1, **given):
    """Invented years with rain, checked, and what a record says of itself."""
    out = weather(seed, years=4, **given)
    rain = np.random.default_rng(seed).gamma(0.3, 8, out.sizes["time"]).round(1)
    out = out.assign(precip=daily(out["time"].values, precip=rain)["precip"])
    out.attrs = {"title": "Pellbrook", "source": "invented", "licence": "CC0", "history": "read"}
    out.attrs["latitude"] = 46.1
    return quality.quality_control(out)


def plans():
    return Plan(crop("cauliflower"), "04-01", 6, "cold frame"), Plan(crop("cauliflower"), "04-20")


# --- the shift ----------------------------------------------------------------------------


@pytest.mark.parametrize("by", [1.5, -2.0, 0.0])
def test_temperatures_alone_are_shifted(by):
    observed = record(gaps=0.02)
    found = warm_by(observed, by)
    for name in TEMPERATURES:
        npt.assert_array_equal(found[name], observed[name] + by)
        assert found[name].attrs == observed[name].attrs
    kept = ("precip", "tmin_flag", "tmax_flag", "precip_flag")
    for name in kept:
        npt.assert_array_equal(found[name], observed[name])


def test_each_month_has_its_own_shift():
    observed = record()
    shift = (warm_by(observed, BY_MONTH)["tmin"] - observed["tmin"]).groupby("time.month")
    for edge in (shift.min(), shift.max()):
        npt.assert_allclose(edge, BY_MONTH, atol=1e-9)


def test_months_of_a_southern_record_are_those_of_its_calendar():
    south = moved(record())
    january = (warm_by(south, BY_MONTH) - south)["tmean"].sel(time="2001-01")
    npt.assert_allclose(january, BY_MONTH[0], atol=1e-9)


def test_twelve_equal_months_are_one_number():
    same, months = warm_by(record(), 2.0), warm_by(record(), [2.0] * 12)
    for name in TEMPERATURES:
        npt.assert_array_equal(same[name], months[name])


@given(weathers(), STEPS)
@settings(max_examples=15)
def test_warmer_by_a_step_is_a_threshold_lower_by_it(observed, by):
    found, other = freeze_dates(warm_by(observed, by), 0.0), freeze_dates(observed, -by)
    for name in found:
        npt.assert_array_equal(found[name], other[name])


@given(weathers(), STEPS)
@settings(max_examples=10)
def test_warmer_years_freeze_no_longer(observed, by):
    first, second = freeze_dates(observed), freeze_dates(warm_by(observed, by))
    held = (first["freeze_free_days_status"] == "observed") & (
        second["freeze_free_days_status"] == "observed"
    )
    assume(bool(held.any()))  # else there is nothing to compare
    longer = (second["freeze_free_days"] >= first["freeze_free_days"]) | ~held
    assert longer.all()


@given(weathers(), STEPS)
@settings(max_examples=10)
def test_windows_of_a_warmer_history_are_those_of_a_band_lower_by_it(observed, by):
    low, high = 8.003, 20.003  # no mean of seven tenths, or halves of them, lies on a limit
    found = usable_windows(warm_by(observed, by), band(low, high), killed_at=-2)
    other = usable_windows(observed, band(low - by, high - by), killed_at=-2 - by)
    for name in ("start", "end", "length_least", "length_most", "status", "average_length"):
        npt.assert_array_equal(found[name], other[name])


def test_values_set_aside_are_shifted_along_so_that_a_check_finds_the_same():
    raw = weather(3, years=4)
    raw["tmin"][500], raw["tmax"][800] = -45.0, 60.0
    before, after = (
        warm_by(quality.quality_control(raw), 1.5),
        quality.quality_control(warm_by(raw, 1.5)),
    )
    assert int((before["tmin_flag"] > 0).sum()) == 1
    for name in ("tmin", "tmin_flag", "tmin_set_aside", "tmax_flag"):
        npt.assert_array_equal(before[name], after[name])
    assert float(before["tmin_set_aside"][500]) == -43.5
    again = quality.quality_control(before)
    npt.assert_array_equal(again["tmin_set_aside"], before["tmin_set_aside"])


def test_stations_pass_through_and_dask_stays_lazy():
    both = side_by_side(weather(1), weather(2, coldest=202))
    lazy = warm_by(both.chunk(station=1), BY_MONTH)
    assert all(lazy[name].chunks is not None for name in TEMPERATURES)
    assert lazy["tmin"].dims == both["tmin"].dims
    for n in range(2):
        own = warm_by(both.isel(station=n), BY_MONTH)
        xr.testing.assert_equal(lazy.isel(station=n).compute(), own)


# --- the label ----------------------------------------------------------------------------


def test_scenario_says_what_it_is():
    found = warm_by(record(), 1.5)
    assert found.attrs["scenario"] == scenario_of(found) == LABEL
    assert found.attrs["title"] == f"Pellbrook: {LABEL}"
    assert found.attrs["history"].splitlines()[-1] == f"temperatures shifted: {LABEL}"
    assert found.attrs["changes"] == f"temperatures shifted: {LABEL}"
    assert found.attrs["warmed_by_c"] == 1.5
    assert record().attrs["title"] == "Pellbrook"


def test_record_without_a_title_gets_one():
    assert warm_by(weather(), -0.5).attrs["title"] == "what if it were 0.5 degC colder"


def test_scenario_by_month_says_every_month():
    label = warm_by(record(), BY_MONTH).attrs["scenario"]
    assert label.startswith("what if it were warmer by month, in degC: Jan +0.5, Feb +0.5, Mar +1,")
    assert label.endswith("Dec +0.5")


RESULTS = {
    "freeze_dates": freeze_dates,
    "freeze_odds": freeze_odds,
    "resampled": lambda d: freeze_odds(d, method="resampled"),
    "ladder": lambda d: freeze_odds(d, (0.0, -2.2)),
    "freeze_chance": lambda d: freeze_chance(freeze_dates(d)),
    "windows": lambda d: usable_windows(d, band(8, 20)),
    "odds_shorter": lambda d: odds_shorter(usable_windows(d, band(8, 20)), 90),
    "bands": lambda d: day_bands(d["tmean"]),
    "evaluate_plan": lambda d: evaluate_plan(plans()[0], d),
    "harvest_odds": lambda d: harvest_odds(evaluate_plan(plans()[1], d)),
    "sweep": lambda d: sweep_start_dates(plans()[1], d),
    "compare": lambda d: compare_plans(*plans(), d),
    "trend": lambda d: trend(freeze_dates(d)["last_spring"]),
    "halves": lambda d: compare_halves(freeze_dates(d)["freeze_free_days"]),
    "by_period": lambda d: compare_periods(freeze_odds, d, latest=(2,)),
    "dry_spells": lambda d: dry_spells(d, "05-01", "06-30"),
    "dry_spell_odds": lambda d: dry_spell_odds(d, "05-01", "06-30"),
}


@pytest.mark.parametrize("step", list(RESULTS))
def test_label_passes_through_every_step(step):
    result = RESULTS[step](warm_by(record(), 1.5))
    assert result.attrs["scenario"] == scenario_of(result) == LABEL
    observed = RESULTS[step](record())
    assert scenario_of(observed) == ""
    assert "scenario" not in {*observed.attrs, *observed.coords}


@pytest.mark.parametrize(
    "step", ["freeze_dates", "windows", "evaluate_plan", "compare", "dry_spells"]
)
def test_source_and_licence_stay_with_the_result(step):
    kept = RESULTS[step](record()).attrs
    assert {key: kept[key] for key in ("title", "source", "licence")} == {
        "title": "Pellbrook",
        "source": "invented",
        "licence": "CC0",
    }


def test_label_travels_with_the_numbers_alone():
    warmer = warm_by(record(), 1.5)
    heat = degree_days(warmer["tmean"] - 4, warmer["tmean"] + 4, base=5.0)
    assert scenario_of(heat) == LABEL
    assert scenario_of(soil_temperature(warmer)) == LABEL


# --- never mixed --------------------------------------------------------------------------


def test_scenario_of_a_scenario_is_refused():
    with pytest.raises(ValueError, match=r"a scenario already \(what if it were 1.5 degC warmer\)"):
        warm_by(warm_by(record(), 1.5), 0.5)


def joined(early, late):
    parts = [early.sel(time=slice("2000")), late.sel(time=slice("2001", None))]
    return xr.concat(parts, "time", coords="different", compat="equals")


@pytest.mark.parametrize(
    "step", ["freeze_dates", "windows", "evaluate_plan", "compare", "dry_spells"]
)
def test_record_joined_from_both_is_refused(step):
    words = "'observed' and 'what if it were 1.5 degC warmer'. Keep them apart"
    with pytest.raises(ValueError, match=words):
        RESULTS[step](joined(record(), warm_by(record(), 1.5)))


def test_record_that_begins_as_a_scenario_is_one_as_a_whole():
    assert scenario_of(joined(warm_by(record(), 1.5), record())) == LABEL


def test_variable_of_a_scenario_in_an_observed_record_is_refused():
    with pytest.raises(ValueError, match="are mixed here"):
        freeze_dates(record().assign(tmin=warm_by(record(), 1.5)["tmin"]))


def test_two_scenarios_in_one_record_are_refused():
    both = joined(warm_by(record(), 1), warm_by(record(), 2))
    with pytest.raises(ValueError, match=r"1 degC warmer' and 'what if it were 2 degC warmer'"):
        scenario_of(both)


def test_records_of_different_kinds_are_not_combined():
    check_alike(record(), record(2))
    check_alike(warm_by(record(), 1.5), warm_by(record(2), 1.5))
    with pytest.raises(ValueError, match=r"not combined: 'observed' and 'what if .* warmer'"):
        check_alike(record(), warm_by(record(2), 1.5))


def test_provenance_is_what_there_is():
    assert provenance(weather()) == {}
    assert provenance(warm_by(weather(), 1.5)["tmin"]) == {"scenario": LABEL}


# --- what is refused ----------------------------------------------------------------------


@pytest.mark.parametrize("by", [[1.0, 2.0], [[1.0] * 12], np.nan, [np.inf] * 12])
def test_shift_must_be_one_number_or_twelve(by):
    with pytest.raises(ValueError, match="one number of degC, or twelve from January to December"):
        warm_by(weather(), by)


def test_record_without_a_temperature_is_refused():
    rain = daily(days("2001-01-01", "2001-01-03"), precip=[0, 1, 2])
    with pytest.raises(ValueError, match="no temperature to shift: none of tmin, tmax, tmean"):
        warm_by(rain, 1.0)


def test_temperature_in_another_unit_is_refused():
    wrong = weather()
    wrong["tmin"].attrs["units"] = "degF"
    with pytest.raises(ValueError, match="'tmin' must be in degC, got 'degF'"):
        warm_by(wrong, 1.0)


@pytest.mark.parametrize("mix", ["join", "offsets", "compare"])
def test_a_scenario_is_not_combined_with_what_was_observed(mix):
    from climwin.climate.adjust import measured_offsets
    from climwin.climate.comparison import compare_stations
    from climwin.climate.joining import join_stations

    observed = record()
    other = warm_by(observed, 1)
    steps = {
        "join": lambda: join_stations(observed, other),
        "offsets": lambda: measured_offsets(observed, other),
        "compare": lambda: compare_stations([observed, other]),
    }
    with pytest.raises(ValueError, match="different kinds are not combined: 'observed' and 'what"):
        steps[mix]()
