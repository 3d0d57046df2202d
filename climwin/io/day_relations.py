"""Checks of a record within each day: how minimum, maximum and mean relate to each other.

The tests follow I. Durre, M. J. Menne, B. E. Gleason, T. G. Houston and R. S. Vose, "Comprehensive
automated quality assurance of daily surface observations," Journal of Applied Meteorology and
Climatology, vol. 49, pp. 1615-1633, 2010, whose thresholds are from memory, and NCEI's list of the
checks of GHCN-Daily. Other limits lie well outside what clean records showed:
``tests/quality/RESULTS.md``.
"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from climwin.core.formatting import number, percent
from climwin.core.seasons import MONTH_STARTS
from climwin.core.wording import MONTHS
from climwin.io.day_to_day import in_runs
from climwin.io.departure import Degrees, Departure, listed_years
from climwin.io.year_grid import (
    FULL_MONTH,
    MONTH_OF_DAY,
    YearGrid,
    mean,
    median,
    most_common,
    quantile,
)

OUTSIDE_C = 0.5
"""A mean this far outside its day's extremes cannot be due to rounding. [degC]"""
OUTSIDE_SHARE, OUTSIDE_REFUSED, OUTSIDE_YEAR = 0.02, 0.10, 0.20
"""Shares of days with the mean outside from which a record is doubted, or refused, and from which a
year is doubted."""
WIDE_DAY_C = 5.0
"""Least range of a day on which the position of the mean is meaningful. [degC]"""
MEAN_PLACE = (0.35, 0.62)
"""Position of the mean between minimum (0) and maximum (1), as the median of a record (common
practice)."""
MEAN_PLACE_QUARTILES = 0.28
"""Largest interquartile range of that position; a temperature at one hour varies more."""
MEAN_AT_END = 0.10
"""Largest share of wide days on which the mean may equal the minimum or the maximum."""
NO_RANGE_C = 0.05
"""A day's range below this has vanished. [degC]"""
NO_RANGE_DAYS, NO_RANGE_SHARE, NO_RANGE_REFUSED = 10, 0.05, 0.5
"""Number of days without a range in one month from which a year is doubted (Durre et al. 2010,
duplicates of minimum and maximum within a month); share of a year; share of a whole record from
which it is refused."""
SMALL_RANGE_C, STEADY_C = 3.0, 1.0
"""Median daily range below which a year is doubted if it is steady as well, that is, if its days
change by less than the second number from one to the next (root mean square). Clean records showed
a range of at least 5.0 and a change of at least 1.09; soil, ponds and heated rooms simulated from
them, with a range below 3, changed by at most 0.9. Published tests have no lower limit, because
some islands have as small a range: Macquarie Island 3.5 over the year, 3.2 in April (normals of
Australia's Bureau of Meteorology, read in a copy). [degC]"""
NO_AIR_C = 1.5
"""Median range below which a year is never air over land, however much its days change: the range
of the air over open sea (from memory). [degC]"""
WIDE_RANGE_C = 22.0
"""Median range above which a year is doubted: in dry basins and deserts it is about 20 over the
year (from memory). [degC]"""
RANGE_OF_YEAR = (0.65, 1.9)
"""A year's median range as a multiple of the median year's (clean: 0.77 to 1.61)."""
RANGE_YEARS = 3
"""Least number of full years for comparing ranges."""
NARROW_MONTH, NARROW_MONTHS = 0.57, 3
"""A month's median range as a multiple of that of the same month in the middle year, and the number
of months in a row below it, from which one column is doubted: a mean in place of the maximum makes
it 0.5. Three months in a row of clean records stayed above 0.62."""
SAME_RANGE_SHARE, SAME_RANGE_REFUSED = 0.30, 0.8
"""Share of days with exactly the same range, to a tenth: of a year (doubted), of a record
(refused)."""
CROSSED_SHARE = 0.5
"""Share of a year's days with the minimum above the maximum that means swapped columns."""
UNRELATED, UNRELATED_YEAR = 0.12, 0.05
"""Correlation between the spells of minimum and maximum (the best of lags -1 to 1 day) below which
they are not of one place; and that of a single year, if the record's is above 0.4."""
ALIKE = 0.85
"""Correlation between the spells of minimum and maximum above which one may be derived from the
other, such as a mean in place of the maximum. Clean records showed at most 0.71, single years
0.83."""
MIXED, MIXED_YEAR = 0.50, 0.75
"""How much more alike minimum and maximum may change within a day than from one day to the next:
the correlation of their changes less those with the changes of the day before and the day after,
as the median of all years, and in one year. Clean records showed at most 0.35 in ten years, and
0.48 in one year; days of two places 5 degC apart at least 0.6, means in place of a maximum more."""
SHIFT_DAYS = 15
"""Largest shift between maximum and minimum that is tried. [day]"""
SHIFT_GAIN, SHIFT_LEAST = 0.10, 0.35
"""By how much the correlation at another lag must exceed that at lags -1 to 1, and its least
value."""
NARROW_SHARE = 0.002
"""Share of days whose range counts as narrow in asking which maxima stand beside a night."""
BESIDE_LESS, BESIDE_ERRORS = 0.65, 2.8
"""Which share of another row's narrow days a row may have at most, and by how many standard errors
it must have fewer, for its maximum to stand beside the night instead. Sound records and pieces of
10 years and more showed at most 2.5 standard errors; 30 years with the maximum a day late at least
3.2."""
SHIFTED_RUN, SHIFTED_CHANGE = 5, 0.25
"""Years in a row whose lag differs from the record's usual one, and by how much: the lag is the
correlation of a night with the maximum of the row below, less that with the row above. Clean
records showed changes of at most 0.19; a maximum that is a day out changes it by 0.3 to 0.5."""


def day_relations(grids: dict[str, YearGrid]) -> Iterator[Departure]:
    """Departures in how the temperatures of a day relate to each other.

    Parameters
    ----------
    grids : dict of str to YearGrid
        ``tmin`` and ``tmax``, and ``tmean`` if the record has one of its own.
    """
    if not {"tmin", "tmax"} <= set(grids):
        return
    tmin, tmax = grids["tmin"], grids["tmax"]
    crossed = _crossed(tmin, tmax)
    yield from crossed
    if "tmean" in grids:
        yield from _mean_outside(tmin, tmax, grids["tmean"])
        yield from _no_mean(tmin, tmax, grids["tmean"])
    without_range = [*_without_range(tmin, tmax)]
    yield from without_range
    yield from _same_range(tmin, tmax)
    if not crossed and not without_range:
        yield from _unrelated(tmin, tmax)


def shared_spells(grids: dict[str, YearGrid]) -> Iterator[Departure]:
    """Departures in minimum and maximum together: spells too similar, or too little range.

    Parameters
    ----------
    grids : dict of str to YearGrid
        Without values that were set aside, because a few wild values in both would make their
        spells similar.
    """
    if not {"tmin", "tmax"} <= set(grids):
        return
    tmin, tmax = grids["tmin"], grids["tmax"]
    if [*_without_range(tmin, tmax)]:
        return
    yield from _small_range(tmin, tmax)
    yield from _wide_range(tmin, tmax)
    yield from [*_range_of_years(tmin, tmax)] or _range_of_months(tmin, tmax)
    yield from _alike(tmin, tmax)


def _crossed(tmin: YearGrid, tmax: YearGrid) -> list[Departure]:
    """Years in which minimum and maximum are swapped."""
    both = ~np.isnan(tmin.values) & ~np.isnan(tmax.values)
    above = (tmin.values > tmax.values + NO_RANGE_C).sum(axis=1)
    count = both.sum(axis=1)
    years = tmin.years[(above > CROSSED_SHARE * count) & (count >= 30)]
    if not len(years):
        return []
    what = (
        f"in {listed_years(years)} the minimum lies above the maximum on most days, which no "
        "thermometer shows.",
    )
    advice = "The two columns are swapped there: put them right."
    return [Departure("swapped", what, advice, tuple(years.tolist()), refused=True)]


def _mean_outside(tmin: YearGrid, tmax: YearGrid, tmean: YearGrid) -> Iterator[Departure]:
    """A mean above the maximum or below the minimum (internal consistency, Durre et al. 2010)."""
    lower = tmean.values < np.fmin(tmin.values, tmax.values) - OUTSIDE_C
    upper = tmean.values > np.fmax(tmin.values, tmax.values) + OUTSIDE_C
    known = ~np.isnan(tmin.values + tmax.values + tmean.values)
    outside, count = ((lower | upper) & known).sum(axis=1), known.sum(axis=1)
    share = outside.sum() / max(count.sum(), 1)
    years = tmin.years[(outside > OUTSIDE_YEAR * count) & (count >= 30)]
    if share <= OUTSIDE_SHARE and not len(years):
        return
    where = "" if share > OUTSIDE_SHARE or not len(years) else f"in {listed_years(years)} "
    what = (
        f"{where}the mean of the day lies outside its minimum and maximum on "
        f"{number(int(outside.sum()))} of {number(int(count.sum()))} days. A mean lies between "
        "them.",
    )
    advice = "Check which column is the mean, and its unit; or leave it out."
    affected = tuple(years.tolist())
    yield Departure("mean outside", what, advice, affected, refused=share > OUTSIDE_REFUSED)


def _no_mean(tmin: YearGrid, tmax: YearGrid, tmean: YearGrid) -> Iterator[Departure]:
    """A column read as the mean that is the temperature at one time of the day."""
    width = tmax.values - tmin.values
    wide = width >= WIDE_DAY_C
    place = np.full(width.shape, np.nan)
    np.divide(tmean.values - tmin.values, width, out=place, where=wide)
    known = ~np.isnan(place)
    if known.sum() < 100:
        return
    middle = median(place, axis=1)
    enough = known.sum(axis=1) >= 100
    every = place[known]
    quarters = quantile(every, 0.75) - quantile(every, 0.25)
    at_end = float(((np.abs(every) < 0.005) | (np.abs(every - 1) < 0.005)).mean())
    low, high = MEAN_PLACE
    typical = float(median(every))
    amiss = enough & ((middle < low) | (middle > high))
    whole = not low <= typical <= high or quarters > MEAN_PLACE_QUARTILES or at_end > MEAN_AT_END
    if not whole and not amiss.any():
        return
    years = () if whole else tuple(tmin.years[amiss].tolist())
    shown = typical if whole else float(median(middle[amiss]))
    where = f"in {listed_years(years)} " if years else ""
    what = (
        f"{where}the column read as the mean lies {percent(shown)} of the way from the minimum to "
        f"the maximum, and half of its days within {percent(float(quarters))} of the range. A mean "
        "of 24 hours lies about half-way, within 20 %.",
    )
    advice = (
        "It may be the temperature at the time of observation: leave that column out, and the mean "
        "is computed from minimum and maximum."
    )
    yield Departure("no mean", what, advice, years)


def _without_range(tmin: YearGrid, tmax: YearGrid) -> Iterator[Departure]:
    """Minimum and maximum the same (duplicates within a month, Durre et al. 2010)."""
    width = tmax.values - tmin.values
    vanished = np.abs(width) < NO_RANGE_C
    known = ~np.isnan(width)
    by_month = np.add.reduceat(vanished.astype(int), MONTH_STARTS, axis=1)
    count, total = vanished.sum(axis=1), known.sum(axis=1)
    amiss = (by_month.max(axis=1) >= NO_RANGE_DAYS) | (
        (count > NO_RANGE_SHARE * total) & (total >= 30)
    )
    if not amiss.any():
        return
    years = tmin.years[amiss]
    what = (
        f"in {listed_years(years)} minimum and maximum are the same on "
        f"{number(int(count[amiss].sum()))} of {number(int(total[amiss].sum()))} days. Elsewhere "
        "on land that happens on 1 day in 100 or fewer.",
    )
    advice = "One column was copied into the other, or both are the mean: find the original ones."
    refused = count.sum() > NO_RANGE_REFUSED * total.sum()
    yield Departure("no range", what, advice, tuple(years.tolist()), refused=bool(refused))


def _small_range(tmin: YearGrid, tmax: YearGrid) -> Iterator[Departure]:
    """Nights nearly as warm as days, and days all alike: soil, water, or a room.

    The air of a small island has as small a range, and changes with every front.
    """
    full = tmin.full & tmax.full
    if not full.any():
        return
    by_year = np.where(full, median(tmax.values - tmin.values, axis=1), np.nan)
    from_day_to_day = np.diff((tmin.values + tmax.values) / 2, axis=1)
    change = np.sqrt(mean(from_day_to_day**2, axis=1))
    amiss = (by_year < NO_AIR_C) | ((by_year < SMALL_RANGE_C) & (change < STEADY_C))
    if not amiss.any():
        return
    years = tuple(tmin.years[amiss].tolist())
    what = (
        f"in {listed_years(years)} the maximum lies only ",
        Degrees(float(median(by_year[amiss])), is_difference=True),
        " above the minimum on a typical day, and one day differs from the next by ",
        Degrees(float(median(change[amiss])), is_difference=True),
        " or so. Elsewhere on land the first is ",
        Degrees(6.0, is_difference=True),
        " or more; small islands have ",
        Degrees(3.5, is_difference=True),
        ", and days that differ more.",
    )
    advice = (
        "The thermometer may have stood in soil, in water or indoors, or one of the two columns is "
        "a mean: use the air temperature outdoors."
    )
    yield Departure("small range", what, advice, years)


def _wide_range(tmin: YearGrid, tmax: YearGrid) -> Iterator[Departure]:
    """Days much warmer than nights: two columns in different units."""
    full = tmin.full & tmax.full
    by_year = median(tmax.values - tmin.values, axis=1)
    amiss = full & (by_year > WIDE_RANGE_C)
    if not amiss.any():
        return
    years = tuple(tmin.years[amiss].tolist())
    what = (
        f"in {listed_years(years)} the maximum lies ",
        Degrees(float(median(by_year[amiss])), is_difference=True),
        " above the minimum on a typical day. Elsewhere on land, deserts too, it is ",
        Degrees(20.0, is_difference=True),
        " at most.",
    )
    advice = "One of the two columns may be in another unit, or of another place: check both."
    yield Departure("wide range", what, advice, years)


def _range_of_years(tmin: YearGrid, tmax: YearGrid) -> Iterator[Departure]:
    """Years with a much smaller or larger range than the others: another column or place."""
    full = tmin.full & tmax.full
    if full.sum() < RANGE_YEARS:
        return
    by_year = np.where(full, median(tmax.values - tmin.values, axis=1), np.nan)
    usual = float(median(by_year))
    if not usual > 0:
        return
    share = by_year / usual
    low, high = RANGE_OF_YEAR
    amiss = (share < low) | (share > high)
    if not amiss.any():
        return
    years = tuple(tmin.years[amiss].tolist())
    what = (
        f"in {listed_years(years)} the range from minimum to maximum is "
        f"{number(float(median(share[amiss])), 1)} times that of the other years. At one "
        "place it stays within 0.8 to 1.6.",
    )
    advice = "One of the two may be a mean there, or of another hour of the day: check both."
    yield Departure("range of years", what, advice, years)


def _range_of_months(tmin: YearGrid, tmax: YearGrid) -> Iterator[Departure]:
    """Months in a row with half the range of the same months in other years."""
    width = tmax.values - tmin.values
    months = [width[:, month == MONTH_OF_DAY] for month in range(12)]
    days = np.stack([(~np.isnan(each)).sum(axis=1) for each in months], axis=1)
    by_month = np.stack([median(each, axis=1) for each in months], axis=1)
    by_month[days < FULL_MONTH] = np.nan
    usual = median(by_month, axis=0)
    if (~np.isnan(by_month)).sum(axis=0).max() < RANGE_YEARS or not (usual > 0).all():
        return
    share = (by_month / usual).ravel()
    amiss = np.flatnonzero(in_runs(share < NARROW_MONTH, NARROW_MONTHS))
    if not len(amiss):
        return
    years = tuple(np.unique(tmin.years[amiss // 12]).tolist())
    first = int(amiss[0])
    what = (
        f"in {listed_years(years)} there are months in a row, from {MONTHS[first % 12]} "
        f"{tmin.years[first // 12]} on, in which the range from minimum to maximum is "
        f"{number(float(median(share[amiss])), 1)} times that of the same months in other years. "
        "At one place three months in a row stay above 0.6.",
    )
    advice = "One of the two may be a mean there: check both columns."
    yield Departure("range of months", what, advice, years)


def _same_range(tmin: YearGrid, tmax: YearGrid) -> Iterator[Departure]:
    """The same range day after day: one column was derived from the other."""
    width = tmax.values - tmin.values
    value, most = most_common(width)
    total = (~np.isnan(width)).sum(axis=1)
    amiss = (most > SAME_RANGE_SHARE * total) & (total >= 100) & (np.abs(value) >= NO_RANGE_C)
    if not amiss.any():
        return
    years = tmin.years[amiss]
    share = float(most[amiss].sum() / total[amiss].sum())
    what = (
        f"in {listed_years(years)} the maximum lies ",
        Degrees(float(median(value[amiss])), is_difference=True),
        f" above the minimum on {percent(share)} of the days. Elsewhere no difference occurs on "
        "more than 15 %.",
    )
    advice = "One of the two was derived from the other: find the column as it was measured."
    refused = most[amiss].sum() > SAME_RANGE_REFUSED * total.sum()
    yield Departure("same range", what, advice, tuple(years.tolist()), refused=bool(refused))


def _unrelated(tmin: YearGrid, tmax: YearGrid) -> Iterator[Departure]:
    """Spells that the two do not share, or only with a lag (WMO No. 8, consistency)."""
    if not (tmin.full & tmax.full).any():
        return
    low, high = _scaled(tmin.spells), _scaled(tmax.spells)
    shifts = np.arange(-SHIFT_DAYS, SHIFT_DAYS + 1)
    fit = _fits(low.ravel(), high.ravel(), shifts)
    near = np.abs(shifts) <= 1
    beside, best = float(fit[near].max()), int(shifts[fit.argmax()])
    if fit.max() >= SHIFT_LEAST and abs(best) > 1 and fit.max() > beside + SHIFT_GAIN:
        # `fit` is of a night with the maximum so many rows below it.
        way = "earlier" if best > 0 else "later"
        what = (
            f"the maximum matches the minimum of {abs(best)} days {way} "
            f"(correlation {number(fit.max(), 2)}, on the day itself {number(beside, 2)}). They "
            "belong to the same day, or to the next.",
        )
        advice = "The two columns are out of step: join them by date again."
        yield Departure("out of step", what, advice)
        return
    if beside < UNRELATED:
        what = (
            "warm and cold spells of the minimum and of the maximum have nothing to do with each "
            f"other (correlation {number(beside, 2)}; elsewhere 0.25 to 0.75).",
        )
        advice = "The two may come from two places or two years: check where each column is from."
        yield Departure("unrelated", what, advice)
        return
    yield from [*_a_day_out_in_years(tmin, tmax)] or _a_day_out(tmin, tmax)
    by_year = np.max([_by_year(low, high, shift) for shift in (-1, 0, 1)], axis=0)
    amiss = tmin.full & tmax.full & (by_year < UNRELATED_YEAR) & (beside > 0.4)
    if amiss.any():
        years = tmin.years[amiss]
        what = (
            f"in {listed_years(years)} warm and cold spells of the minimum and of the maximum have "
            "nothing to do with each other (correlation "
            f"{number(float(by_year[amiss].max()), 2)} or "
            f"less; in all years {number(beside, 2)}).",
        )
        advice = "One column may be of another place or year there: check it."
        yield Departure("unrelated", what, advice, tuple(years.tolist()))


def _a_day_out(tmin: YearGrid, tmax: YearGrid) -> Iterator[Departure]:
    """A maximum in the row below its own, or above it.

    A night lies between two days and is colder than either, so its range to both is rarely narrow.
    To the maximum of any other day it may be narrow, or less than nothing. The correlation does not
    tell: on the coast of California a night is most like the day two days before it.
    """
    low, high = tmin.values.ravel(), tmax.values.ravel()
    own = high - low
    known = own[~np.isnan(own)]
    if not len(known):
        return
    edge = max(float(np.quantile(known, NARROW_SHARE)), 0.0)  # below 0 lie wild values
    above, row, below = (_narrow_days(low, high, shift, edge) for shift in (-1, 0, 1))
    between = "A night is colder than the day before it and the day after it, so"
    if _clearly_fewer(below, above):
        what = (
            "the maximum seems to be a day late: a night is about as warm as the maximum of the "
            f"row above it on {number(above)} days, and as that of the row below it on "
            f"{number(below)}. {between} the row below holds the day before. Stations read in the "
            "morning write it so.",
        )
        advice = "Freezes keep their dates; sums of warmth may be a day off."
        yield Departure("a day late", what, advice)
    elif _clearly_fewer(above, row):
        what = (
            "the maximum seems to be a day early: a night is about as warm as the maximum of its "
            f"own row on {number(row)} days, and as that of the row above it on {number(above)}. "
            f"{between} the row above holds the day that follows.",
        )
        advice = "One of the two columns is a row out: join them by date again."
        yield Departure("a day early", what, advice)


def _narrow_days(low: np.ndarray, high: np.ndarray, shift: int, edge: float) -> int:
    """Nights no more than `edge` below the maximum that many rows below."""
    return int((np.roll(high, -shift) - low < edge + NO_RANGE_C).sum())


def _clearly_fewer(count: int, other: int) -> bool:
    """Whether a count is smaller than another by more than chance brings."""
    errors = (other - count) / np.sqrt(max(count + other, 1))
    return count < BESIDE_LESS * other and bool(errors > BESIDE_ERRORS)


def _a_day_out_in_years(tmin: YearGrid, tmax: YearGrid) -> Iterator[Departure]:
    """Years in which the maximum is a row further down or up than in the others."""
    full = tmin.full & tmax.full
    if full.sum() < 3 * SHIFTED_RUN:
        return
    low, high = _scaled(tmin.spells[full]), _scaled(tmax.spells[full])
    lag = _by_year(low, high, 1) - _by_year(low, high, -1)
    change = lag - median(lag)
    of_run = np.convolve(change, np.full(SHIFTED_RUN, 1 / SHIFTED_RUN), "valid")
    for way, sign in (("late", 1), ("early", -1)):
        begins = np.flatnonzero(sign * of_run > SHIFTED_CHANGE)
        in_run = np.isin(np.arange(len(lag)), begins[:, None] + np.arange(SHIFTED_RUN))
        amiss = in_run & (sign * change > SHIFTED_CHANGE / 2)
        if not amiss.any():
            continue
        years = tuple(tmin.years[full][amiss].tolist())
        other = "early" if way == "late" else "late"
        there, usual = (number(float(median(each)), 2) for each in (lag[amiss], lag))
        what = (
            f"in {listed_years(years)} the maximum seems to be a day {way}, or in the others a day "
            f"{other}: the correlation of a night with the maximum of the row below, less that "
            f"with the row above, is {there} there and {usual} in all years. Stations change so "
            "when they are read at another hour.",
        )
        advice = "Freezes keep their dates; sums of warmth may be a day off."
        yield Departure("a day out", what, advice, years)


def _alike(tmin: YearGrid, tmax: YearGrid) -> Iterator[Departure]:
    """Spells that are too similar: clouds cool the day and warm the night."""
    if not (tmin.full & tmax.full).any():
        return
    low, high = _scaled(tmin.spells), _scaled(tmax.spells)
    by_year = _by_year(low, high, 0)[tmin.full & tmax.full]
    overall = float(median(by_year))
    if overall <= ALIKE:
        return
    what = (
        "warm and cold spells of the minimum and of the maximum are nearly the same (correlation "
        f"{number(overall, 2)}; elsewhere on land 0.7 at most).",
    )
    advice = (
        "One of the two may be a mean, or derived from the other, or the thermometer stood in "
        "soil, water or a room: check both columns."
    )
    yield Departure("alike", what, advice)


def mixed_days(grids: dict[str, YearGrid]) -> Iterator[Departure]:
    """Days of two places mixed at random.

    What such a day has of its own, its minimum and maximum share, and no day beside it does.
    Weather lasts: a night shares as much with the days on either side (common practice).

    Parameters
    ----------
    grids : dict of str to YearGrid
        Without values that were set aside.
    """
    if not {"tmin", "tmax"} <= set(grids):
        return
    tmin, tmax = grids["tmin"], grids["tmax"]
    full = tmin.full & tmax.full
    if not full.any():
        return
    low, high = (np.diff(grid.spells, axis=1) for grid in (tmin, tmax))
    within = _correlation(low, high)
    across = _correlation(low[:, 1:], high[:, :-1]) + _correlation(low[:, :-1], high[:, 1:])
    excess = np.where(full, within - across, np.nan)
    overall = float(median(excess))
    amiss = excess > MIXED_YEAR
    whole = overall > MIXED
    if not whole and not amiss.any():
        return
    years = () if whole else tuple(tmin.years[amiss].tolist())
    where = f"in {listed_years(years)} " if years else ""
    shown = overall if whole else float(median(excess[amiss]))
    what = (
        f"{where}minimum and maximum of a day rise and fall together, and not with the days beside "
        f"it (correlation higher by {number(shown, 2)}; elsewhere on land by less than 0.5).",
    )
    advice = (
        "Days of two places may be mixed there, one of the two may be no extreme, or the values "
        "may be made up: get the record as it was measured."
    )
    yield Departure("mixed days", what, advice, years)


def _correlation(first: np.ndarray, second: np.ndarray) -> np.ndarray:
    """Correlation within each year of changes whose mean is 0, without missing days."""
    known = ~np.isnan(first + second)
    one, other = np.where(known, first, 0.0), np.where(known, second, 0.0)
    size = np.sqrt((one**2).sum(axis=1) * (other**2).sum(axis=1))
    return np.asarray((one * other).sum(axis=1) / np.maximum(size, 1e-9))


def _scaled(spells: np.ndarray) -> np.ndarray:
    """Spells scaled to a mean square of 1, with 0 for missing ones."""
    size = np.sqrt(float(mean(spells**2)))
    return np.nan_to_num(spells / size) if size > 0 else np.zeros(spells.shape)


def _fits(low: np.ndarray, high: np.ndarray, shifts: np.ndarray) -> np.ndarray:
    """Correlation of the minimum with the maximum that many rows below, for each shift."""
    length = len(low) + 2 * SHIFT_DAYS
    product = np.fft.irfft(np.fft.rfft(low, length).conj() * np.fft.rfft(high, length), length)
    pairs = np.count_nonzero((low != 0) & (high != 0))
    return np.asarray(product[shifts] / max(pairs, 1))


def _by_year(low: np.ndarray, high: np.ndarray, shift: int) -> np.ndarray:
    """Correlation within each year, at one shift."""
    rolled = np.roll(high, -shift, axis=1)
    size = np.sqrt((low**2).sum(axis=1) * (rolled**2).sum(axis=1))
    return np.asarray((low * rolled).sum(axis=1) / np.maximum(size, 1e-9))
