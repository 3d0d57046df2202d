"""What lasts for months and years beside neighbours: known variances, and years left out whole."""

import numpy as np
import pytest
from records import SHARED, weather

from climwin import draw_gaps, join_stations
from climwin.climate.lasting import Effects, draw_effects, fit_effects
from climwin.core.seasons import day_of_year
from climwin.io.daily import read_daily

MONTHS = np.repeat(np.arange(12 * 60), 30)
"""Sixty years of twelve months of thirty days."""


def made(of_year, of_month, rng, lasting=0.0, lag_one=0.0):
    """Differences of two variables whose effects have these variances; shape (2, days)."""
    years = np.zeros((2, 60))
    for year in range(60):
        before = years[:, year - 1] if year else np.zeros(2)
        scatter = rng.normal(0, np.sqrt(of_year), 2)
        years[:, year] = lasting * before + np.sqrt(1 - lasting**2) * scatter if year else scatter
    months = rng.normal(0, np.sqrt(of_month), (2, 720))
    noise = rng.normal(0, 1, (2, len(MONTHS)))
    for day in range(1, len(MONTHS)):
        noise[:, day] = lag_one * noise[:, day - 1] + np.sqrt(1 - lag_one**2) * noise[:, day]
    return years[:, MONTHS // 12] + months[:, MONTHS] + noise


@pytest.mark.parametrize(("of_year", "of_month"), [(0.5, 0.3), (0.0, 0.3), (0.5, 0.0)])
def test_variances_that_were_put_in_are_estimated(of_year, of_month):
    found = [
        fit_effects(made(of_year, of_month, np.random.default_rng([seed, 1]), lag_one=0.5), MONTHS)
        for seed in range(6)
    ]
    # The standard error of six times sixty years is 5 % of the variance.
    years = np.mean([np.diag(each.of_year) for each in found])
    months = np.mean([np.diag(each.of_month) for each in found])
    assert years == pytest.approx(of_year, rel=0.25, abs=0.03)
    assert months == pytest.approx(of_month, rel=0.25, abs=0.03)


def test_days_that_follow_each_other_are_no_effect():
    noise = made(0.0, 0.0, np.random.default_rng(4), lag_one=0.6)
    found = fit_effects(noise, MONTHS)
    assert np.diag(found.of_month).max() < 0.02
    assert np.diag(found.of_year).max() < 0.02
    # A mean of n days of a first-order autoregression: (1 + r) / (1 - r) / n of the variance.
    assert np.diag(found.of_days) == pytest.approx([4.0, 4.0], rel=0.15)


def test_years_that_follow_each_other_are_seen_to():
    lasting = [
        fit_effects(made(1.0, 0.1, np.random.default_rng([seed, 3]), lasting=0.8), MONTHS).lasting
        for seed in range(6)
    ]
    assert np.mean(lasting) == pytest.approx(0.8, abs=0.15)


def test_fewer_than_six_years_have_no_effects():
    short = slice(0, 5 * 360)
    found = fit_effects(made(1.0, 1.0, np.random.default_rng(1))[:, short], MONTHS[short])
    assert not found.of_year.any()
    assert not found.of_month.any()


def test_a_month_that_is_known_draws_what_a_plain_normal_model_does():
    """One variable, four months, against the formula for a normal distribution given values."""
    rng = np.random.default_rng(2)
    effects = Effects(np.array([[0.5]]), 0.6, np.array([[0.3]]), np.array([[2.0]]))
    month = np.repeat([0, 1, 12, 13], 20)
    known = np.repeat([True, True, True, False], 20)
    values = np.where(known, rng.normal(1.0, 1.0, 80), np.nan)[None]
    expected, drawn = draw_effects(values, month, effects, 40_000, rng)
    # Effects of the four months, and what their means say of the first three.
    same_year = np.array([[1, 1, 0.6, 0.6], [1, 1, 0.6, 0.6], [0.6, 0.6, 1, 1], [0.6, 0.6, 1, 1]])
    prior = 0.5 * same_year + 0.3 * np.eye(4)
    means = values[0, :60].reshape(3, 20).mean(axis=1)
    gain = prior[:, :3] @ np.linalg.inv(prior[:3, :3] + 2.0 / 20 * np.eye(3))
    places = [0, 1, 12, 13]
    assert expected[0, places] == pytest.approx(gain @ means, abs=1e-6)
    assert drawn[:, 0, places].mean(axis=0) == pytest.approx(gain @ means, abs=0.02)
    covariance = prior - gain @ prior[:3]
    assert np.cov(drawn[:, 0, places].T) == pytest.approx(covariance, abs=0.02)


def test_a_neighbour_without_lasting_differences_leaves_none():
    whole = weather(3, 20, mean=9.0, swing=12.0)
    day = day_of_year(whole["time"].values.astype("datetime64[D]"))
    month = np.cumsum(np.diff(day, prepend=day[:1]) < 0) * 12 + (day - 1) // 31
    scatter = np.random.default_rng(5).normal(0, 1.0, (1, len(day)))
    found = fit_effects(scatter, month)
    assert max(found.of_year.max(), found.of_month.max()) < 0.02


@pytest.mark.skipif(not SHARED.is_dir(), reason="the real records are not here")
def test_a_year_left_out_whole_lies_within_its_draws():
    """Fort Dodge beside Indianola, every third year left out by itself.

    With the days' own noise alone, 33 to 48 % of the yearly means lie within 90 % of their draws.
    """
    own, near = (
        read_daily(SHARED / "records" / f"{name}.csv") for name in ("FortDodge_IA", "Indianola_IA")
    )
    inside, year = [], own["time"].dt.year
    for left_out in range(1987, 2014, 3):
        gappy = own.where(year != left_out)
        for name in gappy:
            gappy[name].attrs = own[name].attrs
        drawn = draw_gaps(join_stations(gappy, near), draws=40).sel(time=str(left_out))
        for name in ("tmin", "tmax"):
            true = own[name].sel(time=str(left_out))
            means = drawn[name].where(true.notnull()).mean("time").values
            low, high = means.mean() + np.array([-1.645, 1.645]) * means.std(ddof=1)
            inside.append(low <= float(true.mean()) <= high)
    assert len(inside) == 18
    # Of 18 with a chance of 0.9 fewer than 13 lie inside in one case of a hundred.
    assert sum(inside) >= 13
