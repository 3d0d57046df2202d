"""A logger's clock against the sun."""

import numpy as np
import pytest
import xarray as xr

import climwin as cw
from climwin.io.logger_clock import equation_of_time_h
from climwin.report.sentences_caveats import logger_caveats


def warm_at(solar_hour, longitude, offset_h, *, step_min=60, wrong_h=0.0, days=40, seed=1):
    """Logger whose bright days are warmest at an hour of solar time, its clock `wrong_h` ahead."""
    rng = np.random.default_rng(seed)
    minutes = np.arange(0, days * 1440, step_min)
    clock = np.datetime64("2026-05-01T00:00", "s") + minutes * np.timedelta64(60, "s")
    # Clock time less the zone's offset, plus 4 minutes a degree, is mean solar time.
    solar = minutes / 60 - wrong_h - offset_h + longitude / 15
    swing = rng.uniform(1, 8, days + 3)[(minutes // 1440)]
    heat = (
        12 + swing * np.cos(2 * np.pi * (solar - solar_hour) / 24) + rng.normal(0, 0.4, len(solar))
    )
    units = {"units": "degC"}
    logger = xr.Dataset({"temperature": ("time", heat, units)}, {"time": clock})
    return logger.assign_attrs(zone="winter time of somewhere", utc_offset_h=offset_h)


def test_the_equation_of_time():
    # 3 November: the sun is 16.4 minutes ahead; 11 February: 14.2 minutes behind (almanac, from
    # memory); FAO-56's formula is right to about half a minute.
    days = np.array([307, 42])
    np.testing.assert_allclose(equation_of_time_h(days) * 60, [16.4, -14.2], atol=0.6)


@pytest.mark.parametrize("step_min", [10, 60, 240])
@pytest.mark.parametrize(
    ("longitude", "offset_h"), [(11.35, 1), (-3.7, 1), (-123.1, -8), (151.2, 10)]
)
def test_a_right_clock_passes_and_its_lag_is_found(longitude, offset_h, step_min):
    check = cw.check_clock(warm_at(14.5, longitude, offset_h, step_min=step_min), longitude)
    assert check.lag_h == pytest.approx(2.5, abs=0.35)
    assert check.is_plausible
    assert cw.describe_clock(check) == ""


@pytest.mark.parametrize("wrong_h", [-6, 6, 12, 5, -4])
def test_a_clock_hours_off_is_told(wrong_h):
    check = cw.check_clock(warm_at(14.5, 11.35, 1, wrong_h=wrong_h), 11.35)
    # Half an hour, since a wrong midnight puts the swings of two days into one.
    assert (check.lag_h - 2.5 - wrong_h + 12) % 24 - 12 == pytest.approx(0, abs=0.5)
    said = cw.describe_clock(check)
    assert said.startswith("The logger's clock may be wrong: its ")
    # Solar noon at Bolzano in May: 12:00 + 15 min (11.35 deg E in the zone of 15) - 3 min
    assert "the sun is highest at 12:1" in said


def test_without_a_zone_a_clock_six_hours_off_is_still_told():
    for wrong_h, is_right in ((0, True), (6, False), (-6, False)):
        logger = warm_at(14.5, 11.35, 1, wrong_h=wrong_h)
        del logger.attrs["utc_offset_h"], logger.attrs["zone"]
        check = cw.check_clock(logger, 11.35)
        assert check.is_plausible == is_right


@pytest.mark.parametrize(("wrong_h", "is_right"), [(0, True), (3, True), (9, False), (12, False)])
def test_without_a_place_a_clock_half_a_day_off_is_told(wrong_h, is_right):
    check = cw.check_clock(warm_at(14.0, 11.35, 1, wrong_h=wrong_h))
    assert check.is_plausible == is_right
    said = cw.describe_clock(check)
    assert (said == "") == is_right
    assert "the sun is highest" not in said  # nothing is known of when it is


def test_warmth_at_any_hour_is_not_the_suns():
    # A heater that comes on at a random hour of each day: no clock can be told from it.
    rng = np.random.default_rng(4)
    logger = warm_at(14.5, 11.35, 1)
    hours = np.arange(logger.sizes["time"]) % 24
    starts = np.repeat(rng.uniform(0, 24, 40), 24)
    heat = 10 + 6 * np.cos(2 * np.pi * (hours - starts) / 24)
    random = logger.assign(temperature=("time", heat, {"units": "degC"}))
    assert cw.check_clock(random, 11.35) is None


def test_one_check_speaks_of_the_clock_with_the_place_and_without():
    wrong = warm_at(14.5, 11.35, 1, wrong_h=6)
    (placed,) = logger_caveats(wrong, longitude=11.35)
    assert "warmest at" in placed
    assert "the sun is highest at 12:1" in placed
    assert logger_caveats(warm_at(14.5, 11.35, 1), longitude=11.35) == ()
    (unplaced,) = logger_caveats(warm_at(14.5, 11.35, 1, wrong_h=12))
    assert "warmest at" in unplaced
    assert "the sun is highest" not in unplaced


def test_dull_or_short_logs_say_nothing():
    dull = warm_at(14.5, 11.35, 1)
    flat = dull.assign(temperature=("time", np.full(dull.sizes["time"], 5.0), {"units": "degC"}))
    assert cw.check_clock(flat, 11.35) is None
    assert cw.check_clock(warm_at(14.5, 11.35, 1, days=3), 11.35) is None
    assert cw.describe_clock(None) == ""
    with pytest.raises(ValueError, match="longitude must lie between -180 and 180, got 200"):
        cw.check_clock(dull, 200)


def test_the_samples_clock_is_right():
    logger = cw.read_logger(cw.sample("frame_logger.csv")).assign_attrs(utc_offset_h=1.0)
    check = cw.check_clock(logger, 7.2)  # Pellbrook lies in the zone of 15 degrees east
    assert 0 < check.lag_h < 4


def test_readings_hours_apart_are_said_to_miss_the_extremes():
    sample_logger = cw.read_logger(cw.sample("frame_logger.csv"))
    sixth = sample_logger.isel(time=slice(None, None, 6))
    assert float(sixth["temperature"].min()) > float(sample_logger["temperature"].min())
    (said,) = logger_caveats(sixth)
    assert "It reads every 6 hours" in said
    assert "Nights are colder and days hotter than it shows" in said
    assert logger_caveats(sample_logger) == ()
