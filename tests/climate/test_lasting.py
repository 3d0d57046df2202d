"""Effects of months, seasons and years beside neighbours: known variances, years left out."""

import numpy as np
import pytest
from records import SHARED, weather

from climwin import draw_gaps, join_stations
from climwin.climate.lasting import LEVEL_VARIANCE, Effects, draw_effects, fit_effects
from climwin.core.seasons import day_of_year
from climwin.io.daily import read_daily

MONTHS = np.repeat(np.arange(12 * 60), 30)
"""Sixty years of twelve months of thirty days."""


SEASON = (MONTHS + 1) // 3
"""Of each day, numbered from the first winter on; a December belongs to the next year."""


def made(of_year, of_month, rng, *, of_season=(0.0, 0.0, 0.0, 0.0), lasting=0.0, lag_one=0.0):
    """Differences of two variables whose effects have these variances; shape (2, days).

    Years begin in December; `of_season` is that of winter, spring, summer and autumn.
    """
    years = np.zeros((2, 61))
    for year in range(61):
        before = years[:, year - 1] if year else np.zeros(2)
        scatter = rng.normal(0, np.sqrt(of_year), 2)
        years[:, year] = lasting * before + np.sqrt(1 - lasting**2) * scatter if year else scatter
    seasons = rng.normal(0, 1, (2, 244)) * np.sqrt(np.tile(of_season, 61))
    months = rng.normal(0, np.sqrt(of_month), (2, 720))
    noise = rng.normal(0, 1, (2, len(MONTHS)))
    for day in range(1, len(MONTHS)):
        noise[:, day] = lag_one * noise[:, day - 1] + np.sqrt(1 - lag_one**2) * noise[:, day]
    return years[:, (MONTHS + 1) // 12] + seasons[:, SEASON] + months[:, MONTHS] + noise


def variances(covariances):
    """The variances of covariances, shape (..., k)."""
    return np.diagonal(covariances, axis1=-2, axis2=-1)


@pytest.mark.parametrize(("of_year", "of_month"), [(0.5, 0.3), (0.0, 0.3), (0.5, 0.0)])
def test_variances_that_were_put_in_are_estimated(of_year, of_month):
    found = [
        fit_effects(made(of_year, of_month, np.random.default_rng([seed, 1]), lag_one=0.5), MONTHS)
        for seed in range(6)
    ]
    # The standard error of six times sixty years is 5 % of the variance.
    years = np.mean([variances(each.of_year) for each in found])
    months = np.mean([variances(each.of_month) for each in found])
    assert years == pytest.approx(of_year, rel=0.25, abs=0.03)
    assert months == pytest.approx(of_month, rel=0.25, abs=0.03)
    assert np.mean([variances(each.of_season) for each in found]) < 0.05


def test_only_the_summers_that_differ_have_an_effect():
    put_in = (0.1, 0.1, 0.8, 0.1)
    found = [
        fit_effects(made(0.3, 0.2, np.random.default_rng([seed, 2]), of_season=put_in), MONTHS)
        for seed in range(6)
    ]
    # Of a season 60 years are known, so a seventh of its variance is the mean's of all (0.275).
    by_season = np.mean([variances(each.of_season) for each in found], axis=(0, 2))
    assert by_season == pytest.approx([0.125, 0.125, 0.725, 0.125], abs=0.07)
    assert np.mean([variances(each.of_year) for each in found]) == pytest.approx(0.3, abs=0.08)
    assert np.mean([variances(each.of_month) for each in found]) == pytest.approx(0.2, abs=0.04)


def test_days_that_follow_each_other_are_no_effect():
    noise = made(0.0, 0.0, np.random.default_rng(4), lag_one=0.6)
    found = fit_effects(noise, MONTHS)
    assert variances(found.of_month).max() < 0.03
    assert variances(found.of_season).max() < 0.03
    assert variances(found.of_year).max() < 0.02
    # A mean of n days of a first-order autoregression: (1 + r) / (1 - r) / n of the variance.
    assert variances(found.of_days).mean() == pytest.approx(4.0, rel=0.1)
    assert variances(found.of_days).ravel() == pytest.approx(np.full(8, 4.0), rel=0.25)


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
    assert not found.of_season.any()
    assert not found.of_month.any()


def test_a_month_that_is_known_draws_what_a_plain_normal_model_does():
    """One variable, six months, against the formula for a normal distribution given values.

    January and February of one winter, June of that year, and the same of the next year, whose
    February is not known.
    """
    rng = np.random.default_rng(2)
    of_season, of_month, of_days = ([0.2, 9, 0.4, 9], [0.3, 9, 0.1, 9], [2.0, 9, 1.0, 9])
    by_season = (np.array(each)[:, None, None] for each in (of_season, of_month, of_days))
    effects = Effects(np.array([[0.5]]), 0.6, *by_season)
    places = np.array([0, 1, 5, 12, 17, 13])
    order = np.sort(places)
    month, known = np.repeat(order, 20), np.repeat(order != 13, 20)
    values = np.where(known, rng.normal(1.0, 1.0, 120), np.nan)[None]
    expected, drawn = draw_effects(values, month, effects, 40_000, rng)
    # Covariances of the effects of the six months, and what the means of the first five say.
    year, season = places // 12, np.array([0, 0, 1, 2, 3, 2])
    kind = np.array([0, 0, 2, 0, 2, 0])  # winter or summer
    alike = season[:, None] == season
    prior = LEVEL_VARIANCE + 0.5 * 0.6 ** np.abs(year[:, None] - year)
    prior += alike * np.array(of_season)[kind] + np.diag(np.array(of_month)[kind])
    means = np.array([values[0, month == place].mean() for place in places[:5]])
    noise = np.diag(np.array(of_days)[kind[:5]] / 20)
    gain = prior[:, :5] @ np.linalg.inv(prior[:5, :5] + noise)
    assert expected[0, places] == pytest.approx(gain @ means, abs=1e-6)
    assert drawn[:, 0, places].mean(axis=0) == pytest.approx(gain @ means, abs=0.02)
    covariance = prior - gain @ prior[:5]
    assert np.cov(drawn[:, 0, places].T) == pytest.approx(covariance, abs=0.02)


def test_a_neighbour_without_lasting_differences_leaves_none():
    whole = weather(3, 20, mean=9.0, swing=12.0)
    day = day_of_year(whole["time"].values.astype("datetime64[D]"))
    month = np.cumsum(np.diff(day, prepend=day[:1]) < 0) * 12 + (day - 1) // 31
    scatter = np.random.default_rng(5).normal(0, 1.0, (1, len(day)))
    found = fit_effects(scatter, month)
    of_all = (found.of_year, found.of_season, found.of_month)
    assert max(each.max() for each in of_all) < 0.02


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
