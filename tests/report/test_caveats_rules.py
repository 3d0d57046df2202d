"""What is measured of a record before it is doubted: each rule beside the case that turns it."""

import datetime as dt
from types import SimpleNamespace

import numpy as np
import pytest
import xarray as xr
from records import weather
from refusing import refused

from climwin.climate.trends import CLEAR_P
from climwin.report import caveats
from climwin.report.caveats import LastYear, Step, Warming
from climwin.report.sentences_caveats import record_caveats

CLEAR, UNCLEAR = CLEAR_P / 10, 10 * CLEAR_P
SEVERAL = "one place, got several. Choose one station, with .sel()"
STEP = Step("tmin", 2005, 1.0, 2005, 2005, "step", 0.0)


def trends(monkeypatch, whole, beside):
    """Slopes [degC per year] and their p values: of the record, and beside a step."""
    monkeypatch.setattr(caveats, "trend_test", lambda *_: (whole[0], 0.0, 0.0, whole[1]))
    monkeypatch.setattr(caveats, "slope_beside", lambda *_: beside)


@pytest.mark.parametrize(
    ("whole", "beside", "alone", "with_step"),
    [
        ((0.03, CLEAR), (0.02, CLEAR), 0.3, (0.3, 0.2)),
        ((0.03, CLEAR), (0.02, UNCLEAR), 0.3, (0.3, 0.0)),  # the step is all there is
        ((0.03, UNCLEAR), (-0.02, CLEAR), None, (-0.2, -0.2)),  # the step hides it
        ((0.03, UNCLEAR), (0.02, UNCLEAR), None, None),
        ((0.009, CLEAR), (0.009, CLEAR), None, None),  # clear, and too small to matter
        ((-0.03, CLEAR), (0.0, UNCLEAR), -0.3, (-0.3, 0.0)),
    ],
)
def test_a_trend_is_told_with_what_is_left_of_it_beside_a_step(
    monkeypatch, whole, beside, alone, with_step
):
    daily = weather(3, years=12)
    trends(monkeypatch, whole, beside)

    def told(found):
        return found and (found.slope_c, found.beside_step_c)

    expected = None if alone is None else (pytest.approx(alone), None)
    assert told(caveats.clear_warming(daily)) == expected
    expected = None if with_step is None else tuple(pytest.approx(each) for each in with_step)
    assert told(caveats.clear_warming(daily, [STEP])) == expected
    assert caveats.clear_warming(daily.drop_vars("tmean"), [STEP]) is None
    assert Warming(0.3).beside_step_c is None


@pytest.mark.parametrize(("today", "ago"), [(2019, None), (2020, 10), (2031, 21)])
def test_a_record_is_old_ten_years_after_its_last_value(today, ago):
    daily = weather(3, years=12)  # 1999 to 2010
    found = caveats.old_record(daily, dt.date(today, 3, 1))
    assert found == (None if ago is None else LastYear(2010, ago))
    assert caveats.old_record(daily, None) is None
    assert caveats.old_record(daily.where(False), dt.date(today, 3, 1)) is None


def coverage_of(missing):
    """Coverage of two variables in ten years, with such shares of each month missing."""
    days = np.full((2, 10, 12), 30.0)
    share = np.stack([np.zeros(12), np.asarray(missing)])
    present = days * (1 - share[:, None, :])
    dims = ("variable", "year", "month")
    return xr.Dataset(
        {"days": (dims, days), "present": (dims, present)}, {"variable": ["tmin", "tmax"]}
    )


@pytest.mark.parametrize(
    ("april", "usual", "told"), [(0.3, 0.02, True), (0.3, 0.2, False), (0.04, 0.0, False)]
)
def test_months_that_lack_more_days_than_usual_are_told(april, usual, told):
    missing = np.full(12, usual)
    missing[3] = april
    found = caveats.missing_months(coverage_of(missing), range(1, 13))
    assert (found is not None) is told
    if told:
        assert found.months == (4,)
        assert found.share == pytest.approx(april)
        assert found.usual_share == pytest.approx(usual)
        assert caveats.missing_months(coverage_of(missing), (1, 2, 3)) is None


@pytest.mark.parametrize(
    ("garden", "station", "above"),
    [(600, 400, 200), (400, 600, -200), (450, 400, None), (None, 400, None), (600, None, None)],
)
def test_a_garden_far_above_or_below_its_station_is_told(garden, station, above):
    attrs = {} if station is None else {"elevation": station}
    assert caveats.height_difference(
        SimpleNamespace(elevation=garden), xr.Dataset(attrs=attrs)
    ) == (above)


@pytest.mark.parametrize(("north", "away"), [(46.5, 55.6), (46.1, None)])
def test_a_station_far_away_is_told_in_kilometres(north, away):
    daily = xr.Dataset(attrs={"latitude": north, "longitude": 7.0})
    found = caveats.distance_to_station(SimpleNamespace(latitude=46.0, longitude=7.0), daily)
    assert found == (None if away is None else pytest.approx(away, rel=0.01))  # 111.2 km a degree
    nowhere = xr.Dataset()
    here = SimpleNamespace(latitude=46.0, longitude=7.0)
    assert caveats.distance_to_station(here, nowhere) is None


def test_steps_are_looked_for_where_both_extremes_are_there_and_drifts_are_none(monkeypatch):
    changes = xr.Dataset(
        {
            "break_year": ("variable", [2005, 2003]),
            "break_low": ("variable", [2004, 2003]),
            "break_high": ("variable", [2006, 2003]),
            "step": ("variable", [1.5, 0.0]),
            "drift": ("variable", [0.0, 0.4]),
            "kind": ("variable", ["step", "drift"]),
        },
        {"variable": ["tmin", "tmax"]},
    )
    monkeypatch.setattr(caveats, "detect_breakpoints", lambda _: changes)
    daily = weather(3, years=12)
    [only] = caveats.sudden_steps(daily)
    assert (only.variable, only.first_year, only.size_c) == ("tmin", 2005, 1.5)
    assert (only.earliest, only.latest) == (2004, 2006)
    assert caveats.sudden_steps(daily.drop_vars("tmax")) == ()


def test_caveats_of_several_places_are_those_of_none_until_one_is_chosen():
    one = weather(3, years=12)
    several = xr.concat([one, one], xr.DataArray(["a", "b"], dims="station", name="station"))
    refused(lambda: record_caveats(several), SEVERAL)
    assert record_caveats(several.sel(station="a")) == record_caveats(one)
