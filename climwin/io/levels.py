"""Checks of level and season: each year against the others, and the record against its place.

A unit, a place or a calendar that changes within a record shows in the level, the amplitude or the
phase of the yearly cycle. Climatological checks follow Durre et al. 2010 (see `day_relations`);
limits lie well outside what clean records showed: ``tests/quality/RESULTS.md``.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator

import numpy as np

from climwin.core.formatting import counted, number
from climwin.core.geo import LAPSE_C_PER_KM
from climwin.core.schema import ZERO_C_IN_K
from climwin.core.seasons import DAYS, day_name
from climwin.core.wording import MONTHS
from climwin.io.departure import NAMES, Degrees, Departure, Evidence, listed_years
from climwin.io.year_grid import YearGrid, mean, median, spread

LEVEL_C, LEVEL_SPREADS = 4.0, 5.0
"""A year is doubted if it is this far from the median of all years, and this many of their spreads.
Clean records showed at most 3.1 degC and 3.9 spreads. [degC]"""
LEVEL_REFUSED_C = 7.0
"""A year this far off is refused if another unit brings it back to the others. [degC]"""
BACK_C = 3.0
"""How near another unit must bring a year or month to the others. [degC]"""
LEAST_YEARS = 3
"""Least number of full years for comparing them."""
MONTH_C, MONTH_SPREADS, MONTH_FAR_C = 8.0, 8.0, 18.0
"""The same for a month: distance and spreads together, or the last distance alone. Clean records
showed 15 degC (Prince George, January 1979) and 6.4 spreads. [degC]"""
SIZE = (0.5, 1.8)
"""Plausible size of a year's spells, as a multiple of the median year's (clean: 0.73 to 1.38)."""
SWING = (0.4, 2.0)
"""Plausible amplitude of the yearly cycle, as a multiple of the median year's (clean: 0.65 to
1.49)."""
SWING_LEAST_C = 2.5
"""Least amplitude of the yearly cycle for its phase to be judged. [degC]"""
TURN_DAYS, TURN_SPREADS, TURN_REFUSED = 25.0, 6.0, 120.0
"""Days, and spreads, by which the turn of a year may differ from the others'; weather never moves
it by more than the last. [day]"""
ROUGH, ROUGH_C2 = 3.0, 1.5
"""Roughness of the usual year from day to day relative to what weather leaves in a mean (clean: 0.7
to 1.6), and its least mean square, because monthly offsets make it rough too. [1], [degC2]"""
ZIGZAG_SE, ZIGZAG_C, ZIGZAG_YEARS = 3.7, 0.6, 10
"""Standard errors by which von Neumann's ratio of the years' levels must exceed 2, and the least
spread and number of years. J. von Neumann, "Distribution of the ratio of the mean square successive
difference to the variance," Annals of Mathematical Statistics, vol. 12, pp. 367-395, 1941; its
error from memory. [1], [degC], [year]"""
QUIET_C = 0.6
"""Least standard deviation of spells at any land station (from memory: 1 degC near the equator).
[degC]"""
COLDEST_SUMMER_C = 4.0
"""Mean of the warmest month, half-way between minimum and maximum, below which nobody grows food
outdoors (common practice; degF converted twice are always far below it). [degC]"""
TURN_OF_HEMISPHERE = {True: 205.0, False: 22.0}
"""Usual day of the warmest time in the north, and in the south (from memory)."""
OUTSIDE_TROPICS, HEMISPHERE_DAYS = 25.0, 90.0
"""Latitude from which the hemisphere decides the season, and how far the warmest day may lie off.
[degree], [day]"""
LATITUDES = (0.0, 20.0, 30.0, 40.0, 50.0, 60.0, 70.0, 90.0)
COLDEST_YEAR_C = (15.0, 10.0, 4.0, -3.0, -10.0, -18.0, -23.0, -35.0)
WARMEST_YEAR_C = (34.0, 36.0, 35.0, 28.0, 19.0, 14.0, 8.0, 2.0)
"""Coldest and warmest yearly mean of places at sea level, by latitude, with room to spare (from
memory: Verkhoyansk -15 at 68 degrees, Ürümqi 7 at 44, Dallol 34 at 14, Death Valley 25 at 36, Bodø
5 at 67). [degree], [degC]"""

_UNITS: tuple[tuple[str, Callable[[np.ndarray], np.ndarray]], ...] = (
    ("degF stand there among degC", lambda values: (values - 32) / 1.8),
    ("degC stand there among degF", lambda values: values * 1.8 + 32),
    ("they are ten times too large there", lambda values: values / 10),
    ("they are ten times too small there", lambda values: values * 10),
    ("kelvin stand there among degC", lambda values: values - ZERO_C_IN_K),
    ("the sign is lost there", lambda values: -values),
)
"""What may have happened to a year's values, and what would correct it."""


def levels_of_years(grids: dict[str, YearGrid]) -> Iterator[Departure]:
    """Departures of years and months from each other.

    Parameters
    ----------
    grids : dict of str to YearGrid
        Variables that were measured, as read.
    """
    for grid in grids.values():
        units = [*two_units(grid)]
        yield from units
        if not any(each.refused for each in units):
            yield from _months(grid)
        if not units:
            yield from _turns(grid)


def levels_of_place(
    grids: dict[str, YearGrid], latitude: float | None = None, elevation: float | None = None
) -> Iterator[Departure]:
    """Departures of a record's yearly cycle and spells: from what is normal, and from its place.

    Parameters
    ----------
    grids : dict of str to YearGrid
        Variables that were measured, without what was set aside.
    latitude, elevation : float, optional
        Latitude and height of the place. [degree], [m]
    """
    if not grids:
        return
    for grid in grids.values():
        yield from _sizes(grid)
        yield from _rough(grid)
    yield from _quiet(grids)
    yield from _no_summer(grids)
    if latitude is not None:
        yield from _place(grids, latitude, elevation or 0.0)


# --- each year against the others ---------------------------------------------------------


def two_units(grid: YearGrid) -> Iterator[Departure]:
    """Years too far from the others, and the unit that explains it.

    Parameters
    ----------
    grid : YearGrid
        One variable.
    """
    known = ~np.isnan(grid.levels)
    if known.sum() < LEAST_YEARS:
        return
    usual = _usual_of_most(grid)
    off = np.where(known, mean(grid.month_means - usual, axis=1), np.nan)
    near = np.abs(off) < LEVEL_C
    wide = float(spread(off[near])) if near.any() else 0.0
    amiss = known & (np.abs(off) > max(LEVEL_C, LEVEL_SPREADS * wide))
    if not amiss.any():
        yield from _two_stations(grid)
        return
    years = tuple(grid.years[amiss].tolist())
    explained = _explained(grid.month_means[amiss], usual)
    far = float(median(off[amiss]))
    side = "above" if far > 0 else "below"
    what = (
        f"in {listed_years(years)} {NAMES[grid.name]} lies ",
        Degrees(far, is_difference=True),
        f" {side} that of the other years. Years of one place differ by ",
        Degrees(1.0, is_difference=True),
        " or so, and by no more than ",
        Degrees(3.5, is_difference=True),
        ".",
    )
    if explained:
        advice = f"It looks as if {explained}: put all years in one unit before they are read."
    else:
        advice = "They may be of another place or thermometer: get those years again."
    refused = bool(explained) and bool((np.abs(off[amiss]) > LEVEL_REFUSED_C).any())
    yield Departure("level", what, advice, years, refused=refused, variable=grid.name)


def _usual_of_most(grid: YearGrid) -> np.ndarray:
    """Usual months of the largest group of years on one level, shape (12,).

    A median would be meaningless if half of the years are in another unit.
    """
    apart = np.abs(grid.levels[:, None] - grid.levels)
    centre = (apart < LEVEL_C).sum(axis=1).argmax()
    return median(grid.month_means[apart[centre] < LEVEL_C], axis=0)


def _explained(months: np.ndarray, usual: np.ndarray) -> str:
    """The conversion that brings the months of years back to the usual ones, in words, if any."""
    best, least = "", BACK_C
    for words, restore in _UNITS:
        off = float(mean(np.abs(restore(months) - usual)))
        if off < least:
            best, least = words, off
    return best


def _two_stations(grid: YearGrid) -> Iterator[Departure]:
    """Years that alternate between high and low more than by chance (von Neumann's ratio)."""
    known = grid.levels[~np.isnan(grid.levels)]
    count = len(known)
    if count < ZIGZAG_YEARS or float(spread(known)) < ZIGZAG_C:
        return
    ratio = float((np.diff(known) ** 2).mean() / known.var())
    error = 2 * np.sqrt((count - 2) / (count**2 - 1))
    if ratio < 2 + ZIGZAG_SE * error:
        return
    what = (
        f"the years of {NAMES[grid.name]} alternate between high and low, by about ",
        Degrees(float(median(np.abs(np.diff(known)))), is_difference=True),
        f": von Neumann's ratio is {number(ratio, 1)}, where chance gives 2.",
    )
    advice = "Two stations may alternate: keep one."
    yield Departure("stations in turns", what, advice, variable=grid.name)


def _months(grid: YearGrid) -> Iterator[Departure]:
    """Single months that lie too far from their usual level."""
    known = (~np.isnan(grid.month_means)).sum(axis=0)
    if known.max() < LEAST_YEARS:
        return
    wide = spread(grid.month_departures, axis=0)
    size = np.abs(grid.month_departures)
    amiss = (size > np.maximum(MONTH_C, MONTH_SPREADS * wide)) | (size > MONTH_FAR_C)
    amiss &= known >= LEAST_YEARS
    if not amiss.any():
        return
    rows, months = np.nonzero(amiss)
    names = [f"{MONTHS[month]} {grid.years[row]}" for row, month in zip(rows, months, strict=True)]
    more = f" and {counted(len(names) - 4, 'more month')}" if len(names) > 4 else ""
    furthest = float(grid.month_departures[amiss][np.abs(grid.month_departures[amiss]).argmax()])
    what = (
        f"{NAMES[grid.name]} of {', '.join(names[:4])}{more} lies up to ",
        Degrees(furthest, is_difference=True),
        f" {'above' if furthest > 0 else 'below'} the same month of the other years.",
    )
    advice = "The unit or the sign may be wrong there: check those months."
    yield Departure(
        "month's level",
        what,
        advice,
        tuple(np.unique(grid.years[rows]).tolist()),
        variable=grid.name,
    )


def _sizes(grid: YearGrid) -> Iterator[Departure]:
    """Years with much smaller or larger spells, or yearly swings, than the others."""
    if grid.full.sum() < LEAST_YEARS:
        return
    cycle = np.abs(_cycles(grid))
    usual_cycle = float(median(cycle))
    usual_size = float(median(grid.spell_sd))
    for size, usual, (low, high), words in (
        (grid.spell_sd, usual_size, SIZE, "its spells are"),
        (cycle, usual_cycle if usual_cycle >= SWING_LEAST_C else np.nan, SWING, "its swing is"),
    ):
        if not usual > 0:
            continue
        share = size / usual
        amiss = (share < low) | (share > high)
        if not amiss.any():
            continue
        years = tuple(grid.years[amiss].tolist())
        what = (
            f"in {listed_years(years)} {NAMES[grid.name]} varies unlike other years: {words} "
            f"{number(float(median(share[amiss])), 1)} times as large. At one place it stays "
            "within 0.7 to 1.5.",
        )
        advice = "The unit, the place or the order of days may be wrong there: check them."
        yield Departure("size", what, advice, years, variable=grid.name)


def _cycles(grid: YearGrid) -> np.ndarray:
    """First harmonic of each year's months as a complex number; NaN if there are too few months."""
    months = np.where(
        np.isnan(grid.month_means), grid.usual_months + grid.levels[:, None], grid.month_means
    )
    return np.where(np.isnan(grid.levels), np.nan, _first_harmonic(months))


def _first_harmonic(months: np.ndarray) -> np.ndarray:
    """First harmonic of monthly means, shape (..., 12): its angle is the warmest time."""
    turn = np.exp(2j * np.pi * (np.arange(12) + 0.5) / 12)
    return 2 * (months * turn).mean(axis=-1)


def _turns(grid: YearGrid) -> Iterator[Departure]:
    """Years whose warmest time lies at another date than the others'."""
    cycle = _cycles(grid)
    known = ~np.isnan(cycle) & (np.abs(cycle) >= SWING_LEAST_C)
    if known.sum() < LEAST_YEARS or known.sum() < 0.5 * (~np.isnan(cycle)).sum():
        return
    angle = np.angle(cycle[known])
    apart = np.abs(np.angle(np.exp(1j * (angle[:, None] - angle))))
    # The date that most years share; a median would be meaningless if half are turned round.
    centre = angle[(apart < np.pi / 6).sum(axis=1).argmax()]
    off = np.full(len(cycle), np.nan)
    off[known] = np.angle(np.exp(1j * (angle - centre))) * DAYS / (2 * np.pi)
    near = np.abs(off) < DAYS / 12
    off -= float(median(off[near]))
    limit = max(TURN_DAYS, TURN_SPREADS * float(spread(off[near])))
    amiss = np.abs(off) > limit
    if not amiss.any():
        return
    years = tuple(grid.years[amiss].tolist())
    days = float(median(off[amiss]))
    what = (
        f"in {listed_years(years)} the year of {NAMES[grid.name]} turns {number(abs(days))} days "
        f"{'later' if days > 0 else 'earlier'} than in the others. Weather moves it by at most "
        "two to three weeks.",
    )
    advice = "The dates may be shifted there, or the months are out of order: check them."
    refused = bool((np.abs(off[amiss]) > TURN_REFUSED).any())
    yield Departure("turn of the year", what, advice, years, refused=refused, variable=grid.name)


def _rough(grid: YearGrid) -> Iterator[Departure]:
    """A usual year that jumps from day to day: days and months are swapped."""
    count = int(grid.full.sum())
    if count < LEAST_YEARS:
        return
    every = mean(grid.values[grid.full], axis=0)
    around = np.concatenate([every[-15:], every, every[:15]])
    smooth = np.convolve(around, np.ones(31) / 31, "valid")
    rest = mean((every - smooth) ** 2)
    weather = mean(grid.departures[grid.full] ** 2) / count
    if np.isnan(rest) or not weather > 0:
        return
    rough = float(rest / weather)
    if rough > ROUGH and rest > ROUGH_C2:
        what = (
            f"the usual year of {NAMES[grid.name]} jumps from date to date, by ",
            Degrees(float(np.sqrt(rest)), is_difference=True),
            f" or so: {number(rough)} times what the weather of {count} years would leave "
            "(usual: 1).",
        )
        advice = "Day and month may be swapped in the dates: say how they are written."
        yield Departure("rough year", what, advice, variable=grid.name)


# --- against the place --------------------------------------------------------------------


def _quiet(grids: dict[str, YearGrid]) -> Iterator[Departure]:
    """Spells smaller than anywhere on land."""
    for grid in grids.values():
        size = float(median(grid.spell_sd)) if grid.full.any() else np.nan
        if size < QUIET_C:
            what = (
                f"the warm and cold spells of {NAMES[grid.name]} are smaller than anywhere on "
                "land: their standard deviation is ",
                Degrees(size, is_difference=True),
                "; near the equator it is ",
                Degrees(1.0, is_difference=True),
                ".",
            )
            advice = "The values may be ten times too small, or smoothed: check the unit."
            yield Departure("quiet", what, advice, variable=grid.name)
            return


def _no_summer(grids: dict[str, YearGrid]) -> Iterator[Departure]:
    """A record whose warmest month is too cold for any garden, usually converted twice."""
    months = _middle_months(grids)
    if np.isnan(months).any() or months.max() >= COLDEST_SUMMER_C:
        return
    what = (
        f"the warmest month, {MONTHS[int(months.argmax())]}, has a mean of ",
        Degrees(float(months.max())),
        ". Nobody grows food outdoors in such a place.",
    )
    advice = "Degrees may have been converted from Fahrenheit twice: check the unit."
    yield Departure("no summer", what, advice)


def _middle_months(grids: dict[str, YearGrid]) -> np.ndarray:
    """Usual monthly means of (tmin + tmax) / 2, or of the only variable; shape (12,)."""
    if {"tmin", "tmax"} <= set(grids):
        return np.asarray((grids["tmin"].usual_months + grids["tmax"].usual_months) / 2)
    return next(iter(grids.values())).usual_months


def _place(grids: dict[str, YearGrid], latitude: float, elevation: float) -> Iterator[Departure]:
    """A level or a season that is impossible at the record's latitude."""
    months = _middle_months(grids)
    if np.isnan(months).any():
        return
    at_sea = float(months.mean()) + LAPSE_C_PER_KM * max(elevation, 0.0) / 1000
    coldest = float(np.interp(abs(latitude), LATITUDES, COLDEST_YEAR_C))
    warmest = float(np.interp(abs(latitude), LATITUDES, WARMEST_YEAR_C))
    if not coldest <= at_sea <= warmest:
        what: Evidence = (
            "the mean of the year is ",
            Degrees(at_sea),
            f" at sea level, which no place at {number(abs(latitude))} degrees of latitude has (",
            Degrees(coldest),
            " to ",
            Degrees(warmest),
            ").",
        )
        advice = "The place, the height or the unit is wrong: check the latitude first."
        yield Departure("latitude", what, advice)
    cycle = _first_harmonic(months)
    if abs(latitude) < OUTSIDE_TROPICS or abs(cycle) < SWING_LEAST_C:
        return
    warm = float(np.angle(cycle)) * DAYS / (2 * np.pi) % DAYS
    expected = TURN_OF_HEMISPHERE[latitude > 0]
    off = abs((warm - expected + DAYS / 2) % DAYS - DAYS / 2)
    if off > HEMISPHERE_DAYS:
        side = "north" if latitude > 0 else "south"
        what = (
            f"the year is warmest about {day_name(max(warm, 1))}, but the place lies in the {side}"
            f", where that is about {day_name(expected)}.",
        )
        advice = "The latitude has lost its sign, or the dates are half a year off: check both."
        yield Departure("hemisphere", what, advice)
