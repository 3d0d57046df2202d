"""Simulated seasons: what they are made of, and that they look like the place."""

import numpy as np
import numpy.testing as npt
import pytest
from records import weather

from climwin.core.resampling import HARMONICS, SHIFT, resampled_seasons, simulated_seasons
from climwin.core.seasons import DAYS, MONTH_STARTS, by_year, offset, smoothed

FIRST_DAYS = [1, 20, 203]
"""Cuts on 1 January, in winter, and in a southern winter."""


def grid_of(**given):
    return by_year(weather(**given)["tmin"]).values


def months(first_day):
    """Days of the season, counted from 0, that lie in one month each, in order of time."""
    days = (int(offset(first_day)) + np.arange(DAYS)) % DAYS
    month = np.searchsorted(MONTH_STARTS, days, side="right")
    return np.split(np.arange(DAYS), np.flatnonzero(np.diff(month)) + 1)


def standardised(grid):
    """Usual year, spread of each of its days, and each day's departure in such spreads."""
    usual = smoothed(grid, HARMONICS)
    spread = np.sqrt(smoothed((grid - usual) ** 2, HARMONICS))
    return usual, spread, ((grid - usual) / spread).ravel()


def origin(season, month, grid, first_day):
    """Year and shift of the observed departures that a season's month is made of."""
    usual, spread, departures = standardised(grid)
    days = int(offset(first_day)) + month
    drawn = (season[month] - usual[days % DAYS]) / spread[days % DAYS]
    for year in range(len(grid)):
        for shift in range(-SHIFT, SHIFT + 1):
            observed = departures[(year * DAYS + days + shift) % departures.size]
            if np.allclose(drawn, np.nan_to_num(observed), atol=1e-9):
                return year, shift
    return None


@pytest.mark.parametrize("first_day", FIRST_DAYS)
def test_each_month_is_a_moved_piece_of_an_observed_year(first_day):
    grid = grid_of(seed=1, years=3)
    seasons = simulated_seasons(grid, first_day, 12)
    found = [origin(s, month, grid, first_day) for s in seasons for month in months(first_day)]
    assert None not in found
    years, shifts = np.array(found).T
    assert set(years) == {0, 1, 2}
    assert shifts.min() < -7
    assert shifts.max() > 7


def test_month_that_a_year_mostly_lacks_is_not_drawn_from_it():
    grid = grid_of(seed=2, years=3)
    grid[1, 90:94] = np.nan  # 4 of 30 days of April are more than a tenth, 3 are not
    grid[2, 90:93] = np.nan
    april = months(1)[3]
    seasons = simulated_seasons(grid, 1, 60)
    assert {origin(season, april, grid, 1)[0] for season in seasons} == {0, 2}


@pytest.mark.parametrize("first_day", FIRST_DAYS)
def test_simulated_seasons_have_the_moments_of_their_source(first_day):
    # The mean and the spread that each day must have, summed over all years and shifts by a plain
    # loop. 4,000 seasons leave a standard error of spread / 63; 6 of them are not met by chance.
    grid, count = grid_of(seed=3, years=4, spells=3.0), 4_000
    seasons = simulated_seasons(grid, first_day, count)
    usual, spread, departures = standardised(grid)
    for day in range(0, DAYS, 13):
        place = int(offset(first_day)) + day
        values = [
            spread[place % DAYS] * departures[(year * DAYS + place + shift) % departures.size]
            for year in range(4)
            for shift in range(-SHIFT, SHIFT + 1)
        ]
        error = np.std(values) / np.sqrt(count)
        assert abs(seasons[:, day].mean() - usual[place % DAYS] - np.mean(values)) < 6 * error
        assert seasons[:, day].std() == pytest.approx(np.std(values), rel=0.1)


def test_place_without_weather_stays_its_usual_year():
    usual = 9 - 8 * np.cos(2 * np.pi * (np.arange(DAYS) - 20) / DAYS)
    season = np.roll(usual, -(20 - 1))
    npt.assert_allclose(simulated_seasons(np.stack([usual] * 3), 20, 5), [season] * 5, atol=1e-9)


def test_same_record_gives_the_same_seasons():
    grid = grid_of(gaps=0.05)
    npt.assert_array_equal(simulated_seasons(grid, 20, 50), simulated_seasons(grid, 20, 50))


def test_month_that_no_year_holds_leaves_nothing_to_draw():
    grid = grid_of()
    grid[:, 150:160] = np.nan  # a third of June in every year
    assert np.isnan(simulated_seasons(grid, 20, 3)).all()
    assert all(np.isnan(seasons).all() for seasons in resampled_seasons(grid, 20, 2, 3))


def test_resamples_draw_years_with_replacement():
    # Of 3 years a resample holds 1 - (2/3)^3 = 70 % on average, so 2.11 of them.
    grid = grid_of(seed=5, years=3)
    june = months(1)[5]
    held = []
    for seasons in resampled_seasons(grid, 1, 40, 12):
        assert seasons.shape == (12, DAYS)
        held.append(len({origin(season, june, grid, 1)[0] for season in seasons}))
    assert np.mean(held) == pytest.approx(3 * (1 - (2 / 3) ** 3), abs=0.3)
    assert min(held) < max(held)
