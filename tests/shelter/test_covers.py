"""Covered spaces: a logger's days, the fitted response, and the inside through all years."""

from dataclasses import replace
from itertools import accumulate

import numpy as np
import numpy.testing as npt
import pandas as pd
import pytest
import xarray as xr
from hypothesis import given
from hypothesis import strategies as st
from records import daily, days
from scipy import stats

from climwin.core.errors import DataGapError
from climwin.core.schema import VARIABLES
from climwin.crops.model import COMMON_PRACTICE
from climwin.report.sentences_garden import bend
from climwin.shelter import covers
from climwin.shelter.covers import (
    CAUTIONS,
    COVERS,
    Cover,
    Response,
    fit_cover,
    inside_kernel,
    logger_days,
    longest_hole_s,
    under_cover,
)

DEGC = {"units": "degC"}


def logged(time, values):
    coords = {"time": np.asarray(time, "datetime64[s]")}
    return xr.Dataset({"temperature": ("time", np.asarray(values, float), DEGC)}, coords)


def weather(n, seed=0, stations=None):
    """Invented outdoor extremes of Pellbrook."""
    rng = np.random.default_rng(seed)
    shape = (stations, n) if stations else (n,)
    tmin = rng.normal(2, 5, shape)
    tmax = tmin + rng.uniform(3, 15, shape)
    time = days("2026-02-01", "2030-12-31")[:n]
    if stations is None:
        return daily(time, tmin=tmin, tmax=tmax)
    dims = ("station", "time")
    return xr.Dataset({"tmin": (dims, tmin, DEGC), "tmax": (dims, tmax, DEGC)}, {"time": time})


def frame(outdoors, seed=1, spread=(1.0, 2.0)):
    """A frame that answers `outdoors` by 2.5 + 0.8 tmin and 4 + 1.2 tmax, with normal scatter."""
    rng = np.random.default_rng(seed)
    n = outdoors.sizes["time"]
    return daily(
        outdoors["time"],
        tmin=2.5 + 0.8 * outdoors["tmin"] + rng.normal(0, spread[0], n),
        tmax=4.0 + 1.2 * outdoors["tmax"] + rng.normal(0, spread[1], n),
    )


# --- days of a logger ---------------------------------------------------------------------


@given(
    minutes=st.lists(st.integers(0, 5 * 1440 - 1), min_size=1, max_size=80, unique=True),
    seed=st.integers(0, 99),
)
def test_days_against_a_plain_loop(minutes, seed):
    start = pd.Timestamp("2026-03-01")
    time = [start + pd.Timedelta(minutes=m) for m in sorted(minutes)]
    heat = np.random.default_rng(seed).normal(8, 4, len(time))
    out = logger_days(logged(time, heat), least_readings=8, longest_hole_h=3.0)
    assert list(out["time"].values.astype("datetime64[D]")) == list(
        days(f"{time[0]:%Y-%m-%d}", f"{time[-1]:%Y-%m-%d}")
    )
    for n, day in enumerate(pd.to_datetime(out["time"].values)):
        midnight = day + pd.Timedelta("1D")
        own = [h for t, h in zip(time, heat, strict=True) if day <= t < midnight]
        before = [t for t in time if t < day]
        after = [t for t in time if t >= midnight]
        moments = [
            before[-1] if before else day,
            *[t for t in time if day <= t < midnight],
            after[0] if after else midnight,
        ]
        known = len(own) >= 8 and max(np.diff(moments)) <= pd.Timedelta("3h")
        assert int(out["readings"][n]) == len(own)
        expected = [min(own), max(own)] if known else [np.nan, np.nan]
        npt.assert_array_equal([out["tmin"][n], out["tmax"][n]], expected)
        assert bool(np.isnan(out["tmean"][n])) == (not known)


def test_the_mean_weighs_readings_by_their_time():
    # 0 degC until noon and 12 degC from there, read every minute in the morning and every two
    # hours in the afternoon: the day's mean is 6, the readings' plain mean is near 0.
    morning = np.datetime64("2026-03-01T00:00") + np.arange(720)
    afternoon = np.datetime64("2026-03-01T12:00") + 120 * np.arange(6)
    time = [*morning, *afternoon, np.datetime64("2026-03-01T23:59")]
    out = logger_days(logged(time, np.repeat([0.0, 12.0], [720, 7])))
    npt.assert_allclose(out["tmean"], [6.0], atol=0.01)
    assert out["tmin"].attrs["units"] == "degC"


def test_a_hole_over_midnight_hides_both_days_and_options_widen_it():
    hours = pd.date_range("2026-03-01", "2026-03-04 23:00", freq="h")
    kept = hours[(hours < "2026-03-02 22:00") | (hours > "2026-03-03 02:00")]
    logger = logged(kept, np.arange(len(kept)))
    missing = np.isnan(logger_days(logger)["tmin"])
    npt.assert_array_equal(missing, [False, True, True, False])
    assert np.isfinite(logger_days(logger, longest_hole_h=6.0)["tmin"]).all()
    assert np.isnan(logger_days(logger, least_readings=25)["tmin"]).all()


def test_days_of_something_else_are_refused():
    with pytest.raises(ValueError, match=r"variable 'temperature', got tmin.*read_logger"):
        logger_days(daily(days("2026-01-01", "2026-01-02"), tmin=[0, 1]))
    logger = logged(["2026-01-01"], [40.0])
    logger["temperature"].attrs["units"] = "degF"
    with pytest.raises(
        ValueError, match=r"must be in degC, got 'degF'\. Convert it first: \(degF - 32\) / 1.8"
    ):
        logger_days(logger)


# --- the fit ------------------------------------------------------------------------------


def lasting(n, r, rng):
    """Standard normal series in which a day goes with the next by `r`."""
    new = np.sqrt(1 - r**2)
    return np.array([*accumulate(rng.normal(size=n), lambda last, here: r * last + new * here)])


def answered(n, answer, r, seed, spread=2.0, middle=12.0):
    """Outdoor record of lasting weather, and the inside whose extremes follow by `answer`."""
    rng = np.random.default_rng(seed)
    tmax = middle + 7 * lasting(n, 0.7, rng)
    tmin = tmax - 8 + 0.5 * lasting(n, 0.7, rng)
    time = days("2026-02-01", "2030-12-31")[:n]
    scatter = spread * lasting(n, r, rng)
    outdoors = daily(time, tmin=tmin, tmax=tmax)
    return daily(time, tmin=answer(tmin) + scatter, tmax=answer(tmax) + scatter), outdoors


@pytest.mark.simulated
@pytest.mark.parametrize("r", [0.0, 0.4, 0.7])
@pytest.mark.parametrize("n", [30, 90])
def test_intervals_hold_where_days_follow_each_other(n, r):
    trials, held = 150, np.zeros(2)
    for seed in range(trials):
        cover = fit_cover(*answered(n, lambda x: 4 + 1.2 * x, r, seed))
        (low, high), (least, most) = cover.warmest.intervals()
        held += [low <= 4 <= high, least <= 1.2 <= most]
    # At least 86 % for a 90 % interval, less two standard errors of a share of 150. A log cannot
    # exclude a weak bend, so that intervals of straight responses hold more often than they say.
    assert (held / trials > 0.86 - 0.05).all()
    assert 0.84 < held.mean() / trials < 0.995


@pytest.mark.parametrize(
    ("answer", "side", "bend_c", "below", "above", "words"),
    [
        # vents that open half way from 30 degC inside on: 8 + 1.3 x = 30 at 16.9 degC
        (
            lambda x: np.where(8 + 1.3 * x > 30, 30 + 0.5 * (1.3 * x - 22), 8 + 1.3 * x),
            "warmest",
            16.9,
            1.3,
            0.65,
            "vents that let part of the warmth out",
        ),
        (lambda x: np.minimum(8 + 1.3 * x, 30), "warmest", 16.9, 1.3, 0.0, "stays near 30 °C"),
        (lambda x: np.maximum(5, 2 + x), "coldest", 3.0, 0.0, 1.0, "stays near 5 °C, as a heater"),
    ],
)
def test_vents_caps_and_heaters_are_parts_of_the_response(
    answer, side, bend_c, below, above, words
):
    found = []
    for seed in range(30):
        cover = fit_cover(*answered(120, answer, 0.2, seed))
        line = getattr(cover, side)
        if line.knee_c is not None:
            found.append((line.knee_c, line.slope, line.slope_above, line.spread_c))
            name = "maximum" if side == "warmest" else "minimum"
            said = bend(line, name)
            npt.assert_allclose(line.inside(bend_c - 9), answer(bend_c - 9), atol=2.5)
    assert len(found) >= 24  # four logs of five
    npt.assert_allclose(np.mean(found, axis=0), [bend_c, below, above, 2.0], atol=(0.15 + 0.7) / 2)
    assert words in said


@pytest.mark.simulated
def test_a_straight_answer_is_plainly_told_a_bend_in_one_log_of_twenty_at_most():
    lines = [
        fit_cover(*answered(60, lambda x: 4 + 1.2 * x, 0.3, seed)).warmest for seed in range(150)
    ]
    told = [bend(line, "maximum") for line in lines]
    assert sum(bool(text) and not text.startswith("perhaps") for text in told) <= 8  # 5 %
    assert any(text.startswith("perhaps") for text in told)
    assert bend(Response(intercept_c=4.0, slope=1.2), "maximum") == ""


def test_a_bend_is_a_perhaps_until_its_odds_are_three_to_one():
    line = Response(intercept_c=8.0, slope=1.3, knee_c=16.9, slope_above=0.0)
    plain = bend(line, "maximum")
    assert plain == "above 16.9 °C outdoors it stays near 30 °C, as vents or shade do"
    assert bend(replace(line, bend_chance=0.75), "maximum") == plain
    perhaps = bend(replace(line, bend_chance=0.74), "maximum")
    assert perhaps == f"perhaps {plain}; a longer log would tell"


def test_the_chance_of_a_bend_is_that_of_the_lines_drawn(monkeypatch):
    monkeypatch.setattr(covers, "_LINES_DRAWN", 4000)
    vent = answered(60, lambda x: np.minimum(8 + 1.3 * x, 24 + 0.65 * x), 0.3, 5)
    line = fit_cover(*vent).warmest
    drawn = np.mean([each.knee_c is not None for each in line.drawn])
    assert line.bend_chance == pytest.approx(drawn, abs=0.03)
    assert (line.knee_c is not None) == (line.bend_chance > 0.5)
    short = fit_cover(*answered(14, lambda x: 4 + 1.2 * x, 0.3, 5)).warmest
    assert short.bend_chance == 0  # too few days on either side of any bend


def test_a_bend_is_followed_through_all_years():
    line = Response(intercept_c=4.0, slope=1.2, knee_c=20.0, slope_above=0.2)
    npt.assert_allclose([line.inside(x) for x in (0.0, 20.0, 30.0)], [4, 28, 30])
    cover = Cover(name="vented", coldest=Response(intercept_c=2.0), warmest=line, source="test")
    outdoors = daily(days("2026-06-01", "2026-06-02"), tmin=[10, 12], tmax=[20, 30])
    npt.assert_allclose(under_cover(outdoors, cover)["tmax"], [28, 30])


@pytest.mark.parametrize("minutes", [1, 7, 10, 60, 120, 181, 239, 240, 360])
def test_any_regular_interval_up_to_six_hours_gives_days(minutes):
    time = np.datetime64("2026-03-01T00:00") + np.arange(0, 20 * 1440, minutes)
    hours = (time - np.datetime64("2026-03-01")) / np.timedelta64(1, "h")
    heat = 10 - 6 * np.cos(2 * np.pi * (hours - 3) / 24)  # coldest at 3, warmest at 15
    out = logger_days(logged(time, heat)).dropna("time")
    assert out.sizes["time"] >= 19
    # Of a sine the reading next to the peak, at most half an interval off it.
    worst = 6 * (1 - np.cos(2 * np.pi * minutes / 60 / 2 / 24))
    assert (out["tmin"] <= 4 + worst + 1e-9).all()
    assert (out["tmax"] >= 16 - worst - 1e-9).all()
    assert ("a reading every" in out.attrs.get("history", "")) == (minutes > 120)
    # One reading lost makes a day of a sparse log unknown.
    lost = logger_days(logged(np.delete(time, 5 * 1440 // minutes + 1), np.delete(heat, 1)))
    assert np.isnan(lost["tmin"]).sum() >= (1 if minutes > 120 else 0)


def test_a_log_that_reads_too_seldom_teaches():
    time = np.datetime64("2026-03-01T00:00") + np.arange(0, 30 * 1440, 480)
    with pytest.raises(DataGapError, match=r"reads every 8\.0 hours.*every six hours or more"):
        logger_days(logged(time, np.arange(len(time))))


VENTED = ("warmest", 8.0, 1.3)


def test_the_fit_is_least_squares_and_its_errors_those_of_scatter_that_partly_lasts():
    # Every other day: no day follows another, and a twentieth of the scatter lasts for a month.
    # Fifteen days are too few to show a bend.
    outdoors = weather(30).isel(time=slice(None, None, 2))
    inside = frame(outdoors)
    cover = fit_cover(inside, outdoors, name="frame")
    day = np.arange(0, 30, 2)
    scatter = 0.95 * np.eye(15) + 0.05 * 0.97 ** np.abs(day[:, None] - day)
    for response, name in ((cover.coldest, "tmin"), (cover.warmest, "tmax")):
        x, y = outdoors[name].values, inside[name].values
        oracle = stats.linregress(x, y)
        npt.assert_allclose(response.slope, oracle.slope)
        npt.assert_allclose(response.intercept_c, oracle.intercept)
        # Expected square of the residuals of scatter with unit variance, from its own draws.
        drawn = np.linalg.cholesky(scatter) @ np.random.default_rng(1).normal(size=(15, 40_000))
        lines = np.polyfit(x, drawn, 1)
        residuals = drawn - lines[0] * x[:, None] - lines[1]
        spread = np.sqrt(
            ((y - oracle.intercept - oracle.slope * x) ** 2).sum() / (residuals**2).sum(0).mean()
        )
        npt.assert_allclose(response.spread_c, spread, rtol=0.01)
        npt.assert_allclose(response.slope_error, spread * lines[0].std(), rtol=0.02)
        npt.assert_allclose(response.intercept_error_c, spread * lines[1].std(), rtol=0.02)
    assert (cover.name, cover.days) == ("frame", 15)
    assert cover.source.startswith("own logger, 15 days from 2026-02-01 to 2026-03-01, outdoors ")


def test_a_longer_log_is_least_squares_too_and_its_errors_allow_for_a_bend():
    outdoors = weather(80).isel(time=slice(None, None, 2))
    inside = frame(outdoors)
    cover = fit_cover(inside, outdoors)
    for response, name in ((cover.coldest, "tmin"), (cover.warmest, "tmax")):
        assert response.knee_c is None
        oracle = stats.linregress(outdoors[name], inside[name])
        npt.assert_allclose(response.slope, oracle.slope)
        npt.assert_allclose(response.intercept_c, oracle.intercept)
        assert response.slope_error > oracle.stderr
        assert response.intercept_error_c > oracle.intercept_stderr


def test_how_likely_each_line_is_comes_from_integrating_over_all_its_values(monkeypatch):
    # Days apart, so that every day is evidence of its own. Given the change of slope d and the
    # scatter s, a line without d and its level have the likelihood of ordinary regression; d
    # scatters by 0.6 times s over the scatter of the best line; s is flat on a logarithmic scale.
    monkeypatch.setattr(covers, "_KNEES", 3)
    for bent, seed in ((0.0, 3), (0.6, 4)):
        outdoors = weather(64, seed).isel(time=slice(None, None, 2))
        x = outdoors["tmax"].values
        y = 4 + 1.2 * x - bent * np.maximum(x - x.mean(), 0)
        y += np.random.default_rng(seed).normal(0, 2, len(x))
        lines = covers._possible_lines(x, y, 2 * np.arange(len(x)))

        def left(column, d, x=x, y=y):
            return np.polyfit(x, y - d * column, 1, full=True)[1][0]

        squares, days_known = [], len(x)
        for knee in lines.knee_c[1:]:
            column = np.maximum(x - knee, 0)
            d = np.linspace(-4, 4, 1601)
            squares.append((d, np.array([left(column, each) for each in d])))
        best = min([left(x, 0.0), *(each.min() for _, each in squares)]) / days_known
        s = np.exp(np.linspace(np.log(0.5), np.log(10), 400))
        even = np.log(s[1] / s[0])
        straight = (s ** (2 - days_known) * np.exp(-left(x, 0.0) / 2 / s**2)).sum() * even
        weights = [straight]
        for d, each in squares:
            wide = 0.6 * s[:, None] / np.sqrt(best)
            of_both = s[:, None] ** (2 - days_known) * np.exp(-each / 2 / s[:, None] ** 2)
            weights.append((of_both * stats.norm.pdf(d, 0, wide)).sum() * even * (d[1] - d[0]) / 3)
        npt.assert_allclose(lines.chance, np.array(weights) / sum(weights), atol=0.01)


def test_the_errors_hold_nine_in_ten_of_the_lines_that_are_drawn(monkeypatch):
    monkeypatch.setattr(covers, "_LINES_DRAWN", 4000)
    vent = answered(60, lambda x: np.minimum(8 + 1.3 * x, 24 + 0.65 * x), 0.3, 5)
    line = fit_cover(*vent).warmest
    (low, high), (least, most) = line.intervals()
    drawn = np.array([(each.intercept_c, each.slope) for each in line.drawn])
    within = [
        (drawn[:, 0] > low) & (drawn[:, 0] < high),
        (drawn[:, 1] > least) & (drawn[:, 1] < most),
    ]
    npt.assert_allclose(np.mean(within, axis=1), 0.9, atol=0.015)
    assert 0 < np.mean([each.knee_c is None for each in line.drawn]) < 1


@pytest.mark.simulated
@pytest.mark.slow
@pytest.mark.parametrize(
    ("answer", "side", "intercept", "slope"),
    [
        (lambda x: np.where(8 + 1.3 * x > 30, 30 + 0.5 * (1.3 * x - 22), 8 + 1.3 * x), *VENTED),
        (lambda x: np.minimum(8 + 1.3 * x, 30), *VENTED),
        (lambda x: np.maximum(5, 2 + x), "coldest", 5.0, 0.0),
    ],
)
def test_intervals_hold_where_vents_and_heaters_bend_the_line(answer, side, intercept, slope):
    trials, held = 60, np.zeros(2)
    for seed in range(trials):
        line = getattr(fit_cover(*answered(60, answer, 0.4, seed)), side)
        (low, high), (least, most) = line.intervals()
        held += [low <= intercept <= high, least <= slope <= most]
    # Of a 90 % interval, less two standard errors of a share of 60; without resampling it is 0.6
    # to 0.8, see the methods page.
    assert (held / trials > 0.9 - 0.08).all(), held / trials


def test_a_bend_that_the_log_hardly_shows_widens_the_interval(monkeypatch):
    # Vents that open a third, in logs whose likeliest line is straight all the same.
    vents = [
        answered(60, lambda x: np.minimum(8 + 1.3 * x, 13.6 + 0.9 * x), 0.3, seed)
        for seed in range(20)
    ]
    allowed = [fit_cover(*log).warmest for log in vents]
    monkeypatch.setattr(covers, "_knees", lambda _: [])
    without = [fit_cover(*log).warmest for log in vents]
    pairs = [each for each in zip(allowed, without, strict=True) if each[0].knee_c is None]
    assert len(pairs) >= 5
    for one, other in pairs:
        npt.assert_allclose(one.slope, other.slope)
        assert one.slope_error > 1.1 * other.slope_error


@pytest.mark.simulated
def test_a_known_response_is_recovered_within_its_stated_error():
    held = dict.fromkeys(("cold slope", "cold intercept", "hot slope", "hot intercept"), 0)
    for seed in range(300):
        outdoors = weather(30, seed)
        cover = fit_cover(frame(outdoors, seed + 1000), outdoors)
        for side, slope, intercept in (("cold", 0.8, 2.5), ("hot", 1.2, 4.0)):
            fit = cover.coldest if side == "cold" else cover.warmest
            (low, high), (least, most) = fit.intervals()
            held[f"{side} slope"] += least <= slope <= most
            held[f"{side} intercept"] += low <= intercept <= high
    for hits in held.values():  # of a 90 % interval, which also allows for a bend
        assert stats.binomtest(hits, 300, 0.9, alternative="less").pvalue > 0.001
        assert hits < 300


def test_a_logger_read_from_hours_to_cover():
    # Every day a sine between the extremes of the frame, read each quarter of an hour: what goes
    # in as a response without scatter comes out of the logger's days.
    outdoors = weather(30)
    inside = frame(outdoors, spread=(0.0, 0.0))
    quarter = np.arange(96) * 15
    time = inside["time"].values[:, None] + quarter.astype("timedelta64[m]")
    low, high = (inside[name].values[:, None] for name in ("tmin", "tmax"))
    heat = (low + high) / 2 - (high - low) / 2 * np.cos(2 * np.pi * quarter / 1440)
    cover = fit_cover(logger_days(logged(time.ravel(), heat.ravel())), outdoors)
    npt.assert_allclose([cover.coldest.slope, cover.warmest.slope], [0.8, 1.2], atol=1e-9)
    npt.assert_allclose([cover.coldest.spread_c, cover.warmest.spread_c], 0, atol=1e-9)


def test_days_known_on_one_side_alone_do_not_count():
    outdoors = weather(60)
    inside = frame(outdoors)
    holed = inside.where(inside["time"].dt.day != 5)
    whole = inside.sel(time=inside["time"].dt.day != 5)
    cover = fit_cover(holed.map(lambda v: v.assign_attrs(DEGC)), outdoors)
    assert cover == fit_cover(whole, outdoors)


def test_too_few_days_teach():
    outdoors = weather(40)
    with pytest.raises(
        DataGapError,
        match=r"Only 13 days .*2026-02-01 to 2026-03-12 outdoors and 2026-02-01 to 2026-02-13 in",
    ):
        fit_cover(frame(outdoors.isel(time=slice(13))), outdoors)
    nothing = outdoors.isel(time=slice(0))
    with pytest.raises(DataGapError, match=r"Only 0 days .*no day outdoors.*Let the logger run on"):
        fit_cover(frame(outdoors), nothing)


def test_weather_that_hardly_varied_teaches():
    outdoors = weather(20)
    still = outdoors.assign(tmin=outdoors["tmin"] * 0 + 3)
    still["tmin"].attrs = DEGC
    with pytest.raises(DataGapError, match=r"hardly varied over the logger's 20 days \(3.0 to 3.0"):
        fit_cover(frame(outdoors), still)


def test_more_than_one_station_is_refused():
    many = weather(20, stations=2)
    with pytest.raises(ValueError, match=r"one place, got dimensions time, station.*\.sel\(\)"):
        fit_cover(frame(weather(20)), many)


def test_the_fit_to_a_logger_is_the_fit_to_its_days():
    hours = pd.date_range("2026-02-01", "2026-02-28 23:00", freq="h")
    heat = np.random.default_rng(5).normal(6, 4, len(hours))
    logger, outdoors = logged(hours, heat), weather(28)
    cover = fit_cover(logger, outdoors)
    of_days = fit_cover(logger_days(logger), outdoors)
    assert replace(cover, doubts=()) == replace(of_days, doubts=())
    assert cover.name == "my space"
    low, high = float(outdoors["tmin"].min()), float(outdoors["tmax"].max())
    told = f"28 days from 2026-02-01 to 2026-02-28, outdoors {low:.1f} to {high:.1f} degC"
    assert cover.source.replace("\N{MINUS SIGN}", "-") == f"own logger, {told}"


@pytest.mark.parametrize("bent", [0.0, 0.9])
def test_the_fit_follows_the_lines_as_they_are_weighed(bent):
    # x from -5 to 25; above 12 degC outdoors the slope falls
    rng = np.random.default_rng(3)
    x = rng.uniform(-5, 25, 120)
    y = 4 + 1.2 * x - bent * np.maximum(x - 12, 0) + rng.normal(0, 1.5, 120)
    dates = np.arange(120) + 20_000
    lines, fitted = covers._possible_lines(x, y, dates), covers._response(x, y, dates)
    chances = lines.chance.tolist()
    assert sum(chances) == pytest.approx(1)
    assert fitted.bend_chance == pytest.approx(sum(chances[1:]))
    best = max(range(1, len(chances)), key=chances.__getitem__) if bent else 0
    assert (fitted.knee_c is not None) == (bent > 0) == (fitted.bend_chance > 0.5)
    assert fitted.knee_c == lines.knee_c[best]
    intercept, slope, change = lines.coefficients[best]
    assert (fitted.intercept_c, fitted.slope) == (intercept, slope)
    assert fitted.slope_above == (slope + change if bent else None)
    # days less the numbers that were fitted: a bend is a third one
    assert fitted.freedom == pytest.approx(lines.independent - (3 if bent else 2))
    assert len(fitted.drawn) == 40
    # each interval holds nine tenths of all lines, by Student's t around each
    for which, (low, high) in enumerate(fitted.intervals()):
        held = 0.0
        for chance, own, spread in zip(
            chances, lines.coefficients[:, which], lines.covariance[:, which, which], strict=True
        ):
            t = stats.t(fitted.freedom, own, np.sqrt(spread))
            held += chance * (t.cdf(high) - t.cdf(low))
        assert held == pytest.approx(0.9, abs=1e-6)


def test_drawn_lines_scatter_as_the_lines_are_known(monkeypatch):
    monkeypatch.setattr(covers, "_LINES_DRAWN", 4000)
    covariance = np.array([[0.4, -0.05, 0.0], [-0.05, 0.01, 0.0], [0.0, 0.0, 0.04]])
    lines = covers._Lines(
        (None, 9.0),
        np.array([[4.0, 1.2, 0.0], [9.0, 0.7, -0.5]]),
        np.stack([np.diag([1, 1, 0]) * covariance, covariance]),
        np.array([1.5, 1.0]),
        np.array([0.25, 0.75]),
        30.0,
    )
    drawn = covers._drawn(lines, 20.0)
    straight = [each for each in drawn if each.knee_c is None]
    bent = [each for each in drawn if each.knee_c == 9.0]
    assert len(straight) + len(bent) == 4000
    assert len(bent) / 4000 == pytest.approx(0.75, abs=0.03)
    assert {each.spread_c for each in straight} == {1.5}
    found = np.array([(e.intercept_c, e.slope, e.slope_above - e.slope) for e in bent])
    npt.assert_allclose(found.mean(axis=0), [9, 0.7, -0.5], atol=0.04)
    wide = 20 / 18  # variance of Student's t with 20 degrees of freedom
    npt.assert_allclose(np.cov(found.T), wide * covariance, atol=0.04)
    npt.assert_allclose(np.corrcoef(found.T)[0, 1], -0.05 / np.sqrt(0.4 * 0.01), atol=0.03)


@pytest.mark.parametrize(
    ("days_known", "bends"), [(5, 0), (16, 0), (17, 0), (18, 60), (90, 60), (200, 60)]
)
def test_a_bend_has_eight_days_or_a_tenth_of_them_on_either_side(days_known, bends):
    x = np.random.default_rng(1).permutation(days_known).astype(float)
    knees = covers._knees(x)
    assert len(knees) == bends
    if knees:
        least = max(8, days_known // 10)
        assert (x < knees[0]).sum() == (x > knees[-1]).sum() == least
        npt.assert_allclose(np.diff(knees), (knees[-1] - knees[0]) / 59)
    # as many days at one temperature leave no room for a bend
    assert covers._knees(np.where(x < days_known - 8, 3.0, 9.0)) == []


@pytest.mark.parametrize("parameters", [1, 4])
def test_how_long_scatter_lasts_by_a_plain_loop(parameters):
    rng = np.random.default_rng(2)
    for n, r in ((12, 0.3), (40, 0.5), (90, 0.2), (90, -0.6), (60, 0.97)):
        residuals = 2 * lasting(n, r, rng)
        dates = np.cumsum(rng.choice([1, 1, 1, 2], n))
        squares = sum(e**2 for e in residuals) / n
        pairs = [
            residuals[k] * residuals[k + 1] for k in range(n - 1) if dates[k + 1] == dates[k] + 1
        ]
        lag_one = sum(pairs) / len(pairs) / squares
        # Marriott and Pope: the estimate is low by (1 + 2 p r) / n for p fitted numbers, about
        known = (n * lag_one + parameters) / (n - 2 * parameters)
        expected = min(max(known, 0.0), 0.9)
        assert covers._persistence(residuals, dates, parameters) == pytest.approx(expected)


def test_few_pairs_of_days_or_an_exact_fit_say_nothing_of_how_long_scatter_lasts():
    alike = np.array([1.0, 1.1, 1.2, 1.1, 1.0, -1.1, -1.2, -1.1])
    days_of = np.arange(8)
    assert covers._persistence(alike, days_of, 1) > 0.3
    assert covers._persistence(alike[:6], days_of[:6], 1) > 0  # five pairs
    assert covers._persistence(alike[:5], days_of[:5], 1) == 0  # four
    assert covers._persistence(alike * 1e-10, days_of, 1) == 0
    assert covers._persistence(alike * 1e-6, days_of, 1) > 0.3


def test_the_outdoors_must_vary_by_half_a_degree():
    steady = np.tile([3.0, 4.0], 10)
    with pytest.raises(DataGapError, match=r"20 days \(3\.0 to 4\.0 degC\)"):
        covers._response(steady, steady, np.arange(20))  # by half a degree, and no more
    varied = np.tile([3.0, 4.02], 10)
    assert covers._response(varied, varied, np.arange(20)).slope == pytest.approx(1)


def test_fourteen_days_are_enough():
    outdoors = weather(14)
    assert fit_cover(frame(outdoors), outdoors).days == 14


def test_three_hours_or_one_and_a_half_intervals_are_the_longest_hole():
    for every_h, longest in ((0.25, 3), (2, 3), (3, 4.5), (6, 9), (12, 9)):
        time = (np.arange(50) * every_h * 3600).astype(int)
        assert longest_hole_s(time) == longest * 3600
    assert longest_hole_s(np.array([0])) == 9 * 3600


# --- through all years --------------------------------------------------------------------


PRESETS = {  # lift of the minimum and of the maximum, and their spreads [degC]
    "none": (0, 0, 0, 0),
    "fleece": (2, 3, 1, 1.5),
    "cold frame": (3, 6, 1.5, 3),
    "unheated greenhouse": (2, 8, 1.5, 3),
    "frost-free greenhouse": (2, 8, 1.5, 3),
    "room with lights": (18, 20, 1, 1),
}


def test_the_presets_are_those_of_the_handbook():
    assert list(COVERS) == list(PRESETS)
    for name, (low, high, low_spread, high_spread) in PRESETS.items():
        cover, slope = COVERS[name], 0 if name == "room with lights" else 1
        for line, lift, spread in (
            (cover.coldest, low, low_spread),
            (cover.warmest, high, high_spread),
        ):
            assert (line.intercept_c, line.slope, line.spread_c) == (lift, slope, spread)
            assert line.intervals() == ((lift, lift), (slope, slope))
        assert cover.floor_c == (3 if name == "frost-free greenhouse" else None)


VENTED_HOUSE = Cover(
    name="house",
    coldest=Response(intercept_c=2.0, slope=0.9, spread_c=1.5),
    warmest=Response(intercept_c=8.0, slope=1.2, spread_c=3.0),
    source="test",
    floor_c=3.0,
    vented_above_c=24.0,
)


def test_the_inside_of_every_day_by_a_plain_loop():
    rng = np.random.default_rng(4)
    tmin = rng.normal(2, 6, 3000)
    tmax = tmin + rng.uniform(0, 16, 3000)
    first = np.datetime64("1990-03-01")
    even = replace(
        VENTED_HOUSE,
        coldest=Response(intercept_c=0.0, slope=0.0, spread_c=1.0),
        warmest=Response(intercept_c=30.0, slope=0.0, spread_c=1.0),
        floor_c=None,
        vented_above_c=None,
    )
    of_nights, of_days = inside_kernel(even, tmin, tmax, first)
    of_days = of_days - 30  # the scatter alone: standard normal, and two of a day independent
    for scatter in (of_nights, of_days):
        assert stats.kstest(scatter, "norm").pvalue > 0.001
        assert abs(np.corrcoef(scatter[1:], scatter[:-1])[0, 1]) < 0.06
    assert abs(np.corrcoef(of_nights, of_days)[0, 1]) < 0.06
    coldest, warmest = inside_kernel(VENTED_HOUSE, tmin, tmax, first)
    for n in range(3000):
        low = max(2 + 0.9 * tmin[n] + 1.5 * of_nights[n], 3)
        high = 8 + 1.2 * tmax[n] + 3 * of_days[n]
        high = max(min(high, max(24, tmax[n] + 2)), low)
        assert (coldest[n], warmest[n]) == pytest.approx((low, high))
    bare = replace(VENTED_HOUSE, floor_c=None, vented_above_c=None)
    coldest, warmest = inside_kernel(bare, tmin, tmax, first)
    npt.assert_allclose(coldest, 2 + 0.9 * tmin + 1.5 * of_nights)
    npt.assert_allclose(warmest, np.maximum(8 + 1.2 * tmax + 3 * of_days, coldest))


def test_a_date_scatters_alike_in_every_record():
    outdoors = np.zeros(900)
    whole = inside_kernel(VENTED_HOUSE, outdoors - 3, outdoors + 9, np.datetime64("2001-01-01"))
    part = inside_kernel(
        VENTED_HOUSE, outdoors[400:] - 3, outdoors[400:] + 9, np.datetime64("2002-02-05")
    )
    npt.assert_array_equal(np.array(whole)[:, 400:], part)
    later = inside_kernel(VENTED_HOUSE, outdoors - 3, outdoors + 9, np.datetime64("2401-01-01"))
    npt.assert_array_equal(whole, later)  # the same calendar, four centuries on
    assert len(np.unique(covers._scatter(np.datetime64("1999-12-30"), 30)[:, 0])) == 30


def test_without_a_measured_mean_the_middle_is_taken_and_the_history_goes_on():
    time = days("2026-01-01", "2026-01-03")
    outdoors = daily(time, tmin=[-4, 2, 5], tmax=[4, 12, 9])
    inside = under_cover(outdoors.assign_attrs(history="read\nchecked"), COVERS["cold frame"])
    npt.assert_allclose(inside["tmean"], [4.5, 11.5, 11.5])
    assert inside.attrs["history"].split("\n") == [
        "read",
        "checked",
        f"taken under cover: cold frame ({COMMON_PRACTICE})",
    ]
    # a mean at the maximum stays there, where a heater lifts the night
    hot = daily(time[:1], tmin=[-10], tmax=[4], tmean=[4])
    warm = under_cover(hot, COVERS["frost-free greenhouse"])
    npt.assert_allclose([warm["tmin"], warm["tmax"], warm["tmean"]], [[3], [12], [12]])


def test_no_cover_is_the_outdoors(champion):
    inside = under_cover(champion, COVERS["none"])
    for name in ("tmin", "tmax", "tmean"):
        npt.assert_allclose(inside[name], champion[name])
        assert inside[name].attrs == VARIABLES[name]._asdict()


@given(st.sampled_from(list(COVERS)), st.integers(0, 20))
def test_the_mean_lies_between_the_extremes(name, seed):
    outdoors = weather(30, seed)
    inside = under_cover(outdoors, COVERS[name])
    assert (inside["tmin"] <= inside["tmean"]).all()
    assert (inside["tmean"] <= inside["tmax"]).all()


def test_presets_order_as_growers_know_them():
    cold = daily(days("2026-01-01", "2026-01-03"), tmin=[-12, -5, 4], tmax=[-3, 2, 12])
    inside = {name: under_cover(cold, cover) for name, cover in COVERS.items()}
    for warmer, colder in (("fleece", "none"), ("cold frame", "fleece")):
        assert (inside[warmer]["tmin"] > inside[colder]["tmin"]).all()
    assert (inside["frost-free greenhouse"]["tmin"] >= 3).all()
    npt.assert_array_equal(inside["room with lights"]["tmin"], 18)
    assert all(cover.source == COMMON_PRACTICE for cover in COVERS.values())
    assert all(cover.name == name for name, cover in COVERS.items())


def test_a_fitted_line_and_a_heater():
    cover = Cover(
        name="house",
        coldest=Response(intercept_c=1.0, slope=0.5),
        warmest=Response(intercept_c=2.0, slope=0.5),
        source="test",
        floor_c=3.0,
    )
    outdoors = daily(
        days("2026-01-01", "2026-01-03"), tmin=[-10, 10, np.nan], tmax=[0, 20, 5], tmean=[-6, 14, 0]
    )
    inside = under_cover(outdoors, cover)
    npt.assert_array_equal(inside["tmin"], [3, 6, np.nan])
    npt.assert_array_equal(inside["tmax"], [3, 12, 4.5])
    # On the second day the mean stands 1 degC below the middle outdoors, half of that inside.
    npt.assert_array_equal(inside["tmean"], [3, 8.5, np.nan])
    assert "taken under cover: house (test)" in inside.attrs["history"]


def test_stations_pass_through_and_dask_stays_lazy():
    many = weather(50, stations=3)
    cover = fit_cover(frame(weather(30)), weather(30))
    eager = under_cover(many, cover)
    lazy = under_cover(many.chunk({"station": 1, "time": 20}), cover)
    assert eager["tmin"].dims == ("station", "time")
    assert lazy["tmean"].chunks is not None
    xr.testing.assert_allclose(eager, lazy.compute())
    one = under_cover(many.isel(station=1), cover)
    npt.assert_array_equal(eager["tmax"].isel(station=1), one["tmax"])


def test_a_record_without_maxima_and_a_negative_spread_teach():
    with pytest.raises(ValueError, match="no 'tmax'"):
        under_cover(daily(days("2026-01-01", "2026-01-02"), tmin=[0, 1]), COVERS["fleece"])
    with pytest.raises(ValueError, match="0 or more, got -1"):
        Response(intercept_c=0, spread_c=-1)


@pytest.mark.parametrize(
    ("hazard", "remedy"),
    [
        (
            "carbon monoxide",
            ("Never burn fuel in a closed space", "way out for its fumes", "alarm"),
        ),
        ("Electricity and water", ("made for wet places", "residual-current", "qualified")),
        ("bright days", ("Open covers", "scorches")),
        ("Local rules", ("come first",)),
    ],
)
def test_a_caution_says_beside_what_can_hurt_what_to_do(hazard, remedy):
    (text,) = [each for each in CAUTIONS if hazard in each]
    assert [words for words in remedy if words not in text] == []
