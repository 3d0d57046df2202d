"""Checks of a record for repeats: copied years and months, frequent values, and cut-off ends.

Duplicates, frequent values and zeros follow Durre et al. 2010 (see `day_relations`) and NCEI's list
of the checks of GHCN-Daily: years, months of different years, months of one year. Limits lie well
outside what clean records showed: ``tests/quality/RESULTS.md``.
"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from climwin.core.formatting import counted, number, percent
from climwin.core.seasons import MONTH_STARTS
from climwin.core.wording import MONTHS, listed
from climwin.io.departure import NAMES, Degrees, Departure, listed_years
from climwin.io.year_grid import MONTH_OF_DAY, YearGrid, mean, median, most_common

SAME_YEAR = 0.9
"""Correlation between two years' two-day changes from which one is a copy of the other; real years
are uncorrelated."""
COPIES_REFUSED = 0.5
"""Share of copies among the full years above which a record is refused."""
MONTH_DAYS = 28
"""Days of a month that are compared. [day]"""
SAME_MONTH = 0.15
"""Mean difference of two months' days, as a share of the usual size of spells, below which one is a
copy of the other."""
MONTH_KNOWN, MONTH_VALUES = 20, 6
"""Least number of values, and of different values, for a month to be compared."""
FREQUENT_TIMES, FREQUENT_SHARE, FREQUENT_YEAR, FREQUENT_WINDOW_C = 4.0, 0.01, 0.05, 3.0
"""A value is too frequent if it occurs this many times as often as any other within 3 degC, and on
this share of the days of the record, or of a year."""
COARSE_C, COARSE_DAYS = 1.5, 300
"""Step between neighbouring values from which a record is too coarse, and the days with a value
from which it is told. Thermometers are read in whole degC (1.0) or whole degF (0.6) at the
coarsest. [degC], [day]"""
END_C, END_SHARE, END_YEAR_SPREAD_C = 1.0, 0.008, 3.0
"""Width of the coldest or warmest end of a record, the largest share of days in it (clean records:
0.001), and the least standard deviation of days for this check."""
NEAR_ZERO_SHARE, BELOW_SHARE, ROUNDING_C = 0.02, 0.12, 0.05
"""If this share of days lies within 2 degC above zero, the number within 2 degC below is at least
the second share of it (clean records: 0.30 to 1.13). The last is the tolerance for rounding.
[degC]"""
MONTH_NEAR_ZERO, MONTH_THINS, MONTH_LOST = 20, 0.4, 0.1
"""Least number of days within 2 degC below zero that a calendar month should have in all years, for
it to be judged; what is left of the ratio between neighbouring 2 degC from one pair to the next (a
normal curve with a standard deviation of 2.1 degC or more); and the share of such days below which
they were lost. [day]"""
COLD_C, USUAL_COLD_DAYS, LEAST_COLD_DAYS, NEAR_ZERO_DAYS = -0.5, 25, 12, 10
"""A year without any day below -0.5 degC is doubted if the median year has 25 such days and nine
years in ten have 12, and if at least 10 of its own days lie between that and 2 degC. [degC],
[day]"""
ABOVE_ZERO_MANY = 25
"""A year with so many days from 0 to 2 degC and none below is doubted wherever most years have one
below (clean: 18 at most, at William Head). [day]"""


def repeats(grids: dict[str, YearGrid]) -> Iterator[Departure]:
    """Departures in what is repeated, or too frequent.

    Parameters
    ----------
    grids : dict of str to YearGrid
        Variables that were measured.
    """
    if not grids:
        return
    extremes = [grid for name, grid in grids.items() if name != "tmean"] or [*grids.values()]
    copies = [*_copied_years(extremes)]
    yield from copies
    if not copies:
        yield from _copied_months(extremes)
    for grid in grids.values():
        coarse = _coarse(grid)
        yield from coarse or _frequent(grid)
        yield from _cut_at_zero(grid) or _cut_in_months(grid) or _cut_off(grid)
        yield from _no_cold(grid)


# --- years and months ---------------------------------------------------------------------


def _copied_years(grids: list[YearGrid]) -> Iterator[Departure]:
    """Years that are copies of each other, exactly or nearly, up to a day apart."""
    full = np.logical_or.reduce([grid.full for grid in grids])
    years = grids[0].years[full]
    if len(years) < 2:
        return
    # Over two days, so that two alternating stations do not make all years similar.
    changes = [np.nan_to_num(g.values[full][:, 2:] - g.values[full][:, :-2]) for g in grids]
    first = _unit(np.concatenate(changes, axis=1))
    moved = [
        _unit(np.concatenate([np.roll(each, shift, axis=1) for each in changes], axis=1))
        for shift in (0, 1, -1)
    ]
    like = (first @ np.concatenate(moved).T).reshape(len(years), 3, len(years)).max(axis=1)
    like = np.maximum(like, like.T)
    np.fill_diagonal(like, 0.0)
    copied = like.max(axis=1) > SAME_YEAR
    if not copied.any():
        return
    one = int(copied.argmax())
    other = int(like[one].argmax())
    what = (
        f"{int(copied.sum())} of {len(years)} years are copies of another: "
        f"{listed_years(years[copied])}. Day by day {years[one]} and {years[other]} change alike "
        f"(correlation {number(like[one, other], 2)}; two real years have none).",
    )
    advice = "Keep each year once, and leave the others empty."
    refused = bool(copied.mean() > COPIES_REFUSED)
    yield Departure("copied years", what, advice, tuple(years[copied].tolist()), refused=refused)


def _unit(rows: np.ndarray) -> np.ndarray:
    """Rows of length 1."""
    length = np.sqrt((rows**2).sum(axis=1, keepdims=True))
    return rows / np.maximum(length, 1e-9)


def _copied_months(grids: list[YearGrid]) -> Iterator[Departure]:
    """Months that occur twice in the record: in two years, or as two different months."""
    pairs = [*_same_calendar_month(grids), *_same_digits(grids)]
    if not pairs:
        return
    names = [f"{_month(one)} and {_month(other)}" for one, other in pairs[:3]]
    more = f" and {counted(len(pairs) - 3, 'more pair')}" if len(pairs) > 3 else ""
    what = (
        f"months occur twice in the record: {', '.join(names)}{more}. Day by day they are the "
        "same; two real months are not.",
    )
    years = tuple(sorted({year for pair in pairs for year, _ in pair}))
    yield Departure("copied months", what, "Keep each once, and leave the other empty.", years)


def _month(month: tuple[int, int]) -> str:
    year, place = month
    return f"{MONTHS[place]} {year}"


_Month = tuple[int, int]


def _same_calendar_month(grids: list[YearGrid]) -> Iterator[tuple[_Month, _Month]]:
    """Pairs of years in which a calendar month is nearly the same."""
    years = grids[0].years
    if not all(grid.full.any() for grid in grids):
        return
    limits = [SAME_MONTH * float(median(grid.spell_sd)) for grid in grids]
    blocks = [_months_of(grid) for grid in grids]
    enough = np.logical_and.reduce([_comparable(block) for block in blocks])
    near = enough[:, None] & enough
    for block, limit in zip(blocks, limits, strict=True):
        # Gaps aside, days cannot be closer to each other than their weekly means.
        weeks = mean(block.reshape(*block.shape[:2], 4, 7), axis=3)
        apart = np.nan_to_num(np.abs(weeks[:, None] - weeks)).mean(axis=3)
        near &= apart < 2 * limit
    one, other, month = np.nonzero(near)
    one, other, month = (each[one < other] for each in (one, other, month))
    alike = np.ones(len(one), dtype=bool)
    for block, limit in zip(blocks, limits, strict=True):
        alike &= mean(np.abs(block[one, month] - block[other, month]), axis=1) < limit
    for first, second, place in zip(one[alike], other[alike], month[alike], strict=True):
        yield (int(years[first]), int(place)), (int(years[second]), int(place))


def _months_of(grid: YearGrid) -> np.ndarray:
    """The first 28 days of each month, shape (years, 12, 28)."""
    return grid.values[:, MONTH_STARTS[:, None] + np.arange(MONTH_DAYS)]


def _comparable(months: np.ndarray) -> np.ndarray:
    """Which months have enough days and enough different values, shape (years, 12)."""
    ordered = np.sort(months, axis=-1)
    different = (np.diff(ordered, axis=-1) > 0).sum(axis=-1) + 1
    known = (~np.isnan(months)).sum(axis=-1)
    return np.asarray((known >= MONTH_KNOWN) & (different >= MONTH_VALUES))


def _same_digits(grids: list[YearGrid]) -> Iterator[tuple[_Month, _Month]]:
    """Pairs of different calendar months with the same values on all days."""
    for grid in grids:
        seen: dict[bytes, _Month] = {}
        months = np.round(_months_of(grid), 1) + 0.0
        for row, month in np.argwhere(_comparable(months)):
            here = (int(grid.years[row]), int(month))
            before = seen.setdefault(months[row, month].tobytes(), here)
            if before[1] != here[1]:
                yield before, here


# --- values -------------------------------------------------------------------------------


def _coarse(grid: YearGrid) -> list[Departure]:
    """Values in steps of several degrees, because they were rounded."""
    steps = np.diff(np.sort(np.round(grid.values, 1), axis=1), axis=1)
    step = median(np.where(steps > 0, steps, np.nan), axis=1)
    amiss = (step > COARSE_C) & ((~np.isnan(grid.values)).sum(axis=1) >= COARSE_DAYS)
    if not amiss.any():
        return []
    years = tuple(grid.years[amiss].tolist())
    what = (
        f"in {listed_years(years)} {NAMES[grid.name]} goes in steps of ",
        Degrees(float(median(step[amiss])), is_difference=True),
        ". Thermometers are read to ",
        Degrees(1.0, is_difference=True),
        " or finer.",
    )
    advice = "The values were rounded: get the original readings."
    return [Departure("coarse", what, advice, years, variable=grid.name)]


def _frequent(grid: YearGrid) -> Iterator[Departure]:
    """One value far too often, such as zero for missing days (frequent-value check)."""
    every = grid.values[~np.isnan(grid.values)]
    value, count = _most_frequent(every)
    years: tuple[int, ...] = ()
    if count <= FREQUENT_SHARE * len(every):
        total = (~np.isnan(grid.values)).sum(axis=1)
        most = most_common(grid.values)[1]
        found = {
            int(grid.years[row]): _most_frequent(grid.values[row])
            for row in np.flatnonzero((most > FREQUENT_YEAR * total) & (total >= 100))
        }
        found = {year: each for year, each in found.items() if each[1]}
        if not found:
            return
        years = tuple(found)
        value, count = max(found.values(), key=lambda each: each[1])
    where = f"in {listed_years(years)} " if years else ""
    what = (
        f"{where}{NAMES[grid.name]} is ",
        Degrees(value, is_exact=value != round(value)),
        f" on {number(count)} days, four times as often as any value near it.",
    )
    advice = (
        "It may stand for missing days, or values were rounded coarsely: leave such days empty."
    )
    yield Departure("frequent value", what, advice, years, variable=grid.name)


def _most_frequent(values: np.ndarray) -> tuple[float, int]:
    """The value that occurs four times as often as any near it, and how often; else 0 times."""
    known = values[~np.isnan(values)]
    if not len(known):
        return 0.0, 0
    kinds, counts = np.unique(np.round(known, 1) + 0.0, return_counts=True)
    for place in np.argsort(counts)[::-1][:3]:
        near = np.abs(kinds - kinds[place]) <= FREQUENT_WINDOW_C
        near[place] = False
        if counts[place] > FREQUENT_TIMES * max(counts[near], default=0):
            return float(kinds[place]), int(counts[place])
    return 0.0, 0


def _cut_at_zero(grid: YearGrid) -> list[Departure]:
    """A record with many days just above freezing and hardly any just below."""
    every = grid.values[~np.isnan(grid.values)]
    above = int(((every > -ROUNDING_C) & (every < 2 - ROUNDING_C)).sum())
    below = int(((every > -2 - ROUNDING_C) & (every < -ROUNDING_C)).sum())
    if above < NEAR_ZERO_SHARE * len(every) or below >= BELOW_SHARE * above:
        return []
    what = (
        f"{NAMES[grid.name]} lies within ",
        Degrees(2.0, is_difference=True),
        f" above freezing on {number(above)} days, and within as much below it on {number(below)}. "
        "Elsewhere the second is at least a third of the first.",
    )
    advice = "Minus signs are missing, or frost was left out: get the file again."
    return [Departure("cut at zero", what, advice, variable=grid.name)]


def _cut_in_months(grid: YearGrid) -> list[Departure]:
    """Calendar months with many days just above freezing and hardly any just below.

    Days thin out evenly towards the cold end. So the 4 degC above zero tell how many days lie
    within 2 degC below it.
    """
    months = []
    expected_in_all = found_in_all = 0.0
    for month in range(12):
        every = grid.values[:, month == MONTH_OF_DAY]
        edges = np.array([-2.0, 0.0, 2.0, 4.0]) - ROUNDING_C
        below, above, higher = np.histogram(every[~np.isnan(every)], edges)[0].astype(float)
        expected = MONTH_THINS * above**2 / max(higher, above, 1.0)
        if expected >= MONTH_NEAR_ZERO and below < MONTH_LOST * expected:
            months.append(MONTHS[month])
            expected_in_all, found_in_all = expected_in_all + expected, found_in_all + below
    if not months:
        return []
    what = (
        f"{NAMES[grid.name]} of {listed(months)} lies within ",
        Degrees(2.0, is_difference=True),
        f" below freezing on {number(found_in_all)} days of all years. Judging by the days just "
        f"above freezing it should be {number(expected_in_all)} or more.",
    )
    advice = "Minus signs are missing there, or frost was left out: get those months again."
    return [Departure("cut in months", what, advice, variable=grid.name)]


def _cut_off(grid: YearGrid) -> Iterator[Departure]:
    """A record with many days in its coldest or warmest degree: what lay beyond was lost."""
    every = grid.values[~np.isnan(grid.values)]
    if len(every) < 1000 or float(every.std()) < END_YEAR_SPREAD_C:
        return
    low, high = every.min(), every.max()
    for end, side, count in (
        (low, "coldest", int((every <= low + END_C).sum())),
        (high, "warmest", int((every >= high - END_C).sum())),
    ):
        if count > END_SHARE * len(every):
            what = (
                f"{percent(count / len(every))} of all days have {NAMES[grid.name]} within ",
                Degrees(END_C, is_difference=True),
                f" of its {side}, ",
                Degrees(float(end)),
                ". Records thin out towards their ends: 1 day in 1000 is usual there.",
            )
            advice = (
                "What lay beyond was cut off, or lost its sign: look for missing minus signs, or "
                "zeros in place of frost."
                if side == "coldest"
                else "What lay beyond was cut off: look for a limit in the file."
            )
            yield Departure("cut off", what, advice, variable=grid.name)


def _no_cold(grid: YearGrid) -> Iterator[Departure]:
    """Years without a day below zero where the others have many: their minus signs are gone."""
    known = (~np.isnan(grid.values)).sum(axis=1) >= 200
    if known.sum() < 4:
        return
    cold = (grid.values < COLD_C).sum(axis=1)
    near = ((grid.values >= COLD_C) & (grid.values < 2)).sum(axis=1)
    below = (grid.values < -ROUNDING_C).sum(axis=1)
    above = ((grid.values >= -ROUNDING_C) & (grid.values < 2)).sum(axis=1)
    without = known & (cold == 0) & (near >= NEAR_ZERO_DAYS)
    others = cold[known & ~without]
    if not len(others):
        return
    usual, few = np.quantile(others, [0.5, 0.1])
    if usual < USUAL_COLD_DAYS or few < LEAST_COLD_DAYS:
        without &= (usual >= 1) & (below == 0) & (above >= ABOVE_ZERO_MANY)
    if not without.any():
        return
    years = tuple(grid.years[without].tolist())
    what = (
        f"in {listed_years(years)} {NAMES[grid.name]} is never below freezing, though it comes "
        f"near; the other years have {number(usual)} such days.",
    )
    advice = "Minus signs are missing, or frost was cut off: get those years again."
    yield Departure("no frost", what, advice, years, variable=grid.name)
