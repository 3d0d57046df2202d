"""Join stations: choose neighbours that can fill the gaps of a record, and test how well.

Joined stations do not write values into gaps. Their estimate of each day is stored beside the
record, as a departure from the usual day, and the gaps are drawn given these estimates and the days
around (`climwin.climate.imputation`). So the odds of a joined record allow for the fact that filled
days were not measured.
"""

from __future__ import annotations

import warnings
from collections.abc import Iterable, Sequence
from typing import NamedTuple

import numpy as np
import xarray as xr

from climwin.climate.imputation import NEARBY, usual_year
from climwin.core.errors import DataGapError, InputError, Parameter
from climwin.core.formatting import counted, fixed, kilometres, metres, number, percent, years
from climwin.core.geo import distance_km
from climwin.core.provenance import check_alike, with_note
from climwin.core.schema import MEASURED_SOURCE, UNTOLD_SOURCE, variable
from climwin.core.seasons import ONE_DAY, day_of_year, every_day

LEAST_COMMON_DAYS = 365
"""Least number of days in common with a neighbour (common practice). [day]"""
LEAST_EXPLAINED = 0.5
"""Least share of the variance of the record's departures that the neighbours together must explain
on days left out: a correlation of 0.7. If they explain less, the days around a gap do about as well
(our choice)."""
LEAST_EXPLAINED_ALONE = 0.25
"""The same for a single neighbour among several (our choice)."""
MOST = 4
"""Largest number of neighbours, as Eischeid and others used for the western United States (2000,
from memory)."""
LEAST_GAIN = 0.01
"""Share by which a further neighbour must lower the error (our choice)."""
LEAST_MORE = 0.05
"""A neighbour that does not lower the error is taken if it alone covers more than this share of the
gaps (our choice)."""
FOLDS = 5
"""Number of parts for cross-validation."""
BLOCK_DAYS = 365
"""Length of the blocks left out in one piece, because successive days are similar. [day]"""
SHORT_BLOCK_DAYS = 30
"""The same if fewer than five years of days are in common. [day]"""
SHIFT_MARGIN = 0.05
"""By how much the correlation with the day before or after must exceed that of the same day for a
shift (our choice)."""
SHIFT_MARGIN_OF_YEAR = 0.1
"""The same for a single year, whose correlations are less certain (our choice)."""
LEAST_DAYS_OF_YEAR = 250
"""Least number of common days in such a year (common practice)."""
LEAST_CORRELATION = 0.4
"""Least correlation of the best lag for detecting a shift (our choice)."""
LARGEST_DIFFERENCE_C = 20.0
"""Largest difference in mean between neighbours: about 3000 m of height. [degC]"""
LAGS = (-1, 0, 1)


# --- departures -----------------------------------------------------------------------------


class _Fit(NamedTuple):
    """Regression of the record's departures on a neighbour's."""

    usual: np.ndarray
    """Usual year of the record on the days in common, shape (365,). [degC]"""
    usual_nearby: np.ndarray
    """The same of the neighbour. [degC]"""
    gain: float
    """Regression coefficient: departure of the record for each degree at the neighbour."""

    def departures(self, theirs: np.ndarray, day: np.ndarray) -> np.ndarray:
        """The record's departures, estimated from the neighbour's values. [degC]"""
        return self.gain * (theirs - self.usual_nearby[day - 1])


def _fit(own: np.ndarray, theirs: np.ndarray, day: np.ndarray) -> _Fit:
    """Fit on the days that both have, shape (days,) each."""
    both = ~np.isnan(own) & ~np.isnan(theirs)
    usual, _ = usual_year(np.where(both, own, np.nan), day)
    usual_nearby, _ = usual_year(np.where(both, theirs, np.nan), day)
    here = (own - usual[day - 1])[both]
    there = (theirs - usual_nearby[day - 1])[both]
    squares = float(there @ there)
    return _Fit(usual, usual_nearby, float(here @ there) / squares if squares > 0 else 0.0)


class _LeftOut(NamedTuple):
    """Cross-validated estimates of the days of a record, shape (days,) each. [degC]"""

    estimated: np.ndarray
    """Departures estimated from the neighbour; NaN where either has no value."""
    happened: np.ndarray
    """The actual departures, from the usual day of the same fits."""
    block_days: int
    """Length of the blocks that were left out. [day]"""


def _leave_out(own: np.ndarray, theirs: np.ndarray, day: np.ndarray) -> _LeftOut:
    """Estimate each fifth of the common days by a fit to the rest."""
    both = ~np.isnan(own) & ~np.isnan(theirs)
    block = BLOCK_DAYS if both.sum() >= FOLDS * BLOCK_DAYS else SHORT_BLOCK_DAYS
    part = _folds(len(own), block)
    estimated, happened = np.full(len(own), np.nan), np.full(len(own), np.nan)
    for number_of_part in range(FOLDS):
        out = part == number_of_part
        fit = _fit(np.where(out, np.nan, own), theirs, day)
        here = out & both
        estimated[here] = fit.departures(theirs, day)[here]
        happened[here] = (own - fit.usual[day - 1])[here]
    return _LeftOut(estimated, happened, block)


def _folds(days: int, block_days: int) -> np.ndarray:
    """The fold of each day, shape (days,)."""
    return np.arange(days) // block_days % FOLDS


def _error_and_explained(left_out: _LeftOut) -> tuple[float, float]:
    """Root mean square error on the days left out [degC], and the share of variance explained."""
    known = ~np.isnan(left_out.estimated) & ~np.isnan(left_out.happened)
    if not known.any():
        return np.nan, np.nan
    missed = left_out.estimated[known] - left_out.happened[known]
    spread = float((left_out.happened[known] ** 2).mean())
    error = float((missed**2).mean())
    return float(np.sqrt(error)), 1 - error / spread if spread > 0 else np.nan


# --- shifts by a day ------------------------------------------------------------------------


def _departures_of_both(
    own: np.ndarray, padded: np.ndarray, days: np.ndarray
) -> tuple[np.ndarray, np.ndarray]:
    """Departures of a record, and of a neighbour, from their own usual days in common. [degC]

    `padded`, the neighbour's values, and its departures have one more day at either end.
    """
    fit = _fit(own, padded[1:-1], day_of_year(days))
    here = own - fit.usual[day_of_year(days) - 1]
    return here, padded - fit.usual_nearby[_padded_days(days) - 1]


def _correlations_by_lag(own: np.ndarray, padded: np.ndarray) -> np.ndarray:
    """Correlation of departures with those of the day before, the same and the next; shape (3,).

    `padded` has one more day at either end.
    """
    out = []
    for lag in LAGS:
        other = padded[1 + lag : len(padded) - 1 + lag]
        known = ~np.isnan(own) & ~np.isnan(other)
        here, there = own[known], other[known]
        is_flat = len(here) < 3 or not here.std() or not there.std()
        out.append(np.nan if is_flat else np.corrcoef(here, there)[0, 1])
    return np.array(out)


def _shift_of(correlation: np.ndarray, margin: float) -> float:
    """The lag that fits best; 0 unless another is clearly better, NaN if none fits."""
    if np.isnan(correlation).any() or correlation.max() < LEAST_CORRELATION:
        return np.nan
    best = int(correlation.argmax())
    same_day = LAGS.index(0)
    return float(LAGS[best] if correlation[best] > correlation[same_day] + margin else 0)


def day_shift(daily: xr.Dataset, neighbour: xr.Dataset) -> xr.Dataset:
    """Detect whether a neighbour's record is shifted by a day.

    Parameters
    ----------
    daily, neighbour : Dataset, dims (time)
        Records of two stations. [degC]

    Returns
    -------
    Dataset, dims (variable, lag), (variable) and (variable, year)
        ``correlation`` of the departures from the usual day with those of the neighbour on the day
        before (lag -1), the same day and the next day (1); ``shift_days``, the lag that fits best:
        0 unless another is better by 0.05; ``shift_of_year``, the same for each year with at least
        250 common days, by 0.1. NaN if no correlation reaches 0.4, so that no shift can be
        detected. ``common_days`` by variable.

    Raises
    ------
    DataGapError
        If they have fewer than 365 days in common.

    See Also
    --------
    join_stations : Shift neighbours where needed, and use them to fill gaps.

    Notes
    -----
    If an observer reads once in the morning, the maximum is that of the day before, and the minimum
    usually that of the day itself. So if only the maximum is a day late, this record was read in
    the morning, or the neighbour's in the evening [1]_; a third station shows which. Weather also
    takes time to travel: over some hundred kilometres along the wind, both extremes may fit better
    with the day before or after.

    References
    ----------
    .. [1] T. R. Karl, C. N. Williams, P. J. Young and W. M. Wendland, "A model to estimate the time
       of observation bias associated with monthly mean maximum, minimum and mean temperatures for
       the United States," Journal of Climate and Applied Meteorology, vol. 25, pp. 145-160, 1986
       (from memory).

    Examples
    --------
    The hill's record, with its maxima written down a day late:

    >>> import climwin as cw
    >>> valley = cw.read_daily(cw.sample())
    >>> hill = cw.read_daily(cw.sample("pellbrook_hill.csv"))
    >>> late = hill.assign(tmax=hill["tmax"].shift(time=1))
    >>> cw.day_shift(valley, late)["shift_days"].values.tolist()
    [0.0, 1.0]
    """
    check_alike(daily, neighbour)
    names = [name for name in NEARBY if name in daily and name in neighbour]
    days = _days_of(daily)
    found, common = [], []
    for name in names:
        own, padded = _series(daily, name, days), _padded(neighbour, name, days)
        found.append(_shifts(own, padded, days))
        common.append(int((~np.isnan(own) & ~np.isnan(padded[1:-1])).sum()))
    if max(common, default=0) < LEAST_COMMON_DAYS:
        raise DataGapError(_too_little_in_common(neighbour, max(common, default=0)))
    years_of_record = np.unique(_year_of(days))
    out = xr.Dataset(coords={"variable": names, "lag": list(LAGS), "year": years_of_record})
    one, day_unit = {"units": "1"}, {"units": "day"}
    out["correlation"] = (("variable", "lag"), np.array([f.correlation for f in found]), one)
    out["shift_days"] = ("variable", np.array([f.overall for f in found]), day_unit)
    out["shift_of_year"] = (("variable", "year"), np.array([f.of_year for f in found]), day_unit)
    out["common_days"] = ("variable", common, one)
    return out


class _Shifts(NamedTuple):
    """By how many days a neighbour's record is shifted; NaN where that cannot be told. [day]"""

    correlation: np.ndarray
    """At each of `LAGS`, shape (3,)."""
    overall: float
    of_year: np.ndarray
    """In each year of the record, shape (years,)."""


def _shifts(own: np.ndarray, padded: np.ndarray, days: np.ndarray) -> _Shifts:
    """Shift of a neighbour whose values, `padded`, have one more day at either end."""
    here, around = _departures_of_both(own, padded, days)
    correlation, year = _correlations_by_lag(here, around), _year_of(days)
    of_year = [_shift_in(here, around, year == each) for each in np.unique(year)]
    return _Shifts(correlation, _shift_of(correlation, SHIFT_MARGIN), np.array(of_year))


def _shift_in(own: np.ndarray, padded: np.ndarray, is_year: np.ndarray) -> float:
    """The shift in one year; NaN if too few days are in common."""
    if np.count_nonzero(is_year & ~np.isnan(own) & ~np.isnan(padded[1:-1])) < LEAST_DAYS_OF_YEAR:
        return np.nan
    correlation = _correlations_by_lag(np.where(is_year, own, np.nan), padded)
    return _shift_of(correlation, SHIFT_MARGIN_OF_YEAR)


# --- cross-validation -----------------------------------------------------------------------


class _Rated(NamedTuple):
    """The rating of one neighbour for one variable."""

    departures: np.ndarray
    """Its estimate of each day, shape (days,). [degC]"""
    left_out: _LeftOut
    correlation: float
    shift: float
    error: float
    explained: float
    common_days: int
    shift_of_year: tuple[int, ...]
    """Shift of each year. [day]"""


def _rate(daily: xr.Dataset, neighbour: xr.Dataset, name: str) -> _Rated:
    """Rate a neighbour, shifted if necessary, by cross-validation."""
    days = _days_of(daily)
    day, year = day_of_year(days), _year_of(days)
    own, padded = _series(daily, name, days), _padded(neighbour, name, days)
    _, shift, of_year = _shifts(own, padded, days)
    lags = _filled_from_the_nearest(of_year, 0.0 if np.isnan(shift) else shift)
    theirs = padded[np.arange(len(own)) + 1 + lags[np.searchsorted(np.unique(year), year)]]
    fit = _fit(own, theirs, day)
    left_out = _leave_out(own, theirs, day)
    error, explained = _error_and_explained(left_out)
    known = ~np.isnan(left_out.estimated)
    pair = (left_out.estimated[known], left_out.happened[known])
    has_spread = known.sum() > 2 and all(each.std() > 0 for each in pair)
    return _Rated(
        departures=fit.departures(theirs, day),
        left_out=left_out,
        correlation=float(np.corrcoef(*pair)[0, 1]) if has_spread else np.nan,
        shift=shift,
        error=error,
        explained=explained,
        common_days=int((~np.isnan(own) & ~np.isnan(theirs)).sum()),
        shift_of_year=tuple(lags.tolist()),
    )


def _filled_from_the_nearest(values: np.ndarray, otherwise: float) -> np.ndarray:
    """Integers, with missing ones taken from the nearest known, or `otherwise` if none is known."""
    known = np.flatnonzero(~np.isnan(values))
    if not len(known):
        return np.full(len(values), int(otherwise))
    place = np.arange(len(values))
    nearest = known[np.abs(place[:, None] - known).argmin(axis=1)]
    return np.asarray(values[nearest].astype(int))


def _chosen(rated: Sequence[_Rated], gaps: np.ndarray) -> list[int]:
    """Choose neighbours, the best first: those that lower the error or cover more gaps."""
    good = [
        n
        for n, each in enumerate(rated)
        if each.explained >= LEAST_EXPLAINED_ALONE and each.common_days >= LEAST_COMMON_DAYS
    ]
    good.sort(key=lambda n: rated[n].error)
    chosen: list[int] = []
    for n in good[: 2 * MOST]:
        if len(chosen) == MOST:
            break
        if not chosen or _adds(rated, chosen, n, gaps):
            chosen.append(n)
    return chosen


def _adds(rated: Sequence[_Rated], chosen: Sequence[int], n: int, gaps: np.ndarray) -> bool:
    """Whether a further neighbour lowers the error, or covers gaps that the others do not."""
    is_silent = np.all([np.isnan(rated[k].departures) for k in chosen], axis=0)
    more = np.count_nonzero(gaps & is_silent & ~np.isnan(rated[n].departures))
    if more > LEAST_MORE * np.count_nonzero(gaps):
        return True
    before, after = (_together(rated, each) for each in (chosen, [*chosen, n]))
    both = ~np.isnan(before.estimated) & ~np.isnan(after.estimated)
    errors = [
        np.sqrt(np.mean((each.estimated - each.happened)[both] ** 2)) for each in (before, after)
    ]
    return bool(errors[1] < (1 - LEAST_GAIN) * errors[0])


def _combined(happened: np.ndarray, rows: np.ndarray, part: np.ndarray | None = None) -> np.ndarray:
    """Combined estimate of several neighbours for each day.

    Parameters
    ----------
    happened : ndarray, shape (days,)
        Departures of the record; NaN is ignored. [degC]
    rows : ndarray, shape (neighbours, days)
        Estimate of each neighbour, the best first. [degC]
    part : ndarray of int, shape (days,), optional
        Fold of each day for cross-validation: its weights come from the other folds.

    Returns
    -------
    ndarray, shape (days,)
        Weighted by least squares, separately for each set of neighbours with a value; only the best
        if a set has fewer than `LEAST_COMMON_DAYS` in common with the record.
    """
    sets = _sets_with_a_value(rows)
    out = np.full(rows.shape[1], np.nan)
    parts = np.zeros(rows.shape[1], dtype=int) if part is None else part
    for each in np.unique(sets[sets > 0]):
        members = _members(each, len(rows))
        for left_out in np.unique(parts):
            here = (sets == each) & (parts == left_out)
            seen = parts != left_out if part is not None else np.ones(len(out), dtype=bool)
            weights = _weights(np.where(seen, happened, np.nan), rows[members])
            out[here] = weights @ rows[members][:, here]
    return out


def _sets_with_a_value(rows: np.ndarray) -> np.ndarray:
    """Which neighbours have a value on each day, as the bits of a number; shape (days,)."""
    return np.asarray((~np.isnan(rows) * 2 ** np.arange(len(rows))[:, None]).sum(axis=0))


def _members(numbered: int, neighbours: int) -> np.ndarray:
    """Positions of the neighbours in a set of `_sets_with_a_value`."""
    return np.flatnonzero([numbered >> n & 1 for n in range(neighbours)])


def _weights(happened: np.ndarray, rows: np.ndarray) -> np.ndarray:
    """Weights of neighbours by least squares, shape (neighbours,)."""
    known = ~np.isnan(happened) & ~np.isnan(rows).any(axis=0)
    if len(rows) == 1 or known.sum() < LEAST_COMMON_DAYS:
        return np.eye(len(rows))[0]
    weights, *_ = np.linalg.lstsq(rows[:, known].T, happened[known], rcond=None)
    return np.asarray(weights)


def _together(rated: Sequence[_Rated], chosen: Sequence[int]) -> _LeftOut:
    """Cross-validated estimates from several neighbours."""
    rows = np.stack([rated[n].left_out.estimated for n in chosen])
    happened = _happened(rated, chosen)
    # In the same blocks: of two years in common, whole years would leave too little for weights.
    block = min(rated[n].left_out.block_days for n in chosen)
    part = _folds(len(happened), block)
    return _LeftOut(_combined(happened, rows, part), happened, block)


def _estimated_together(rated: Sequence[_Rated], chosen: Sequence[int]) -> np.ndarray:
    """Estimates from several neighbours for each day, shape (days,). [degC]"""
    return _combined(_happened(rated, chosen), np.stack([rated[n].departures for n in chosen]))


def _shares(rated: Sequence[_Rated], chosen: Sequence[int]) -> np.ndarray:
    """Weights of the neighbours, as shares of their sum, on days on which all have a value."""
    rows = np.stack([rated[n].departures for n in chosen])
    weights = _weights(_happened(rated, chosen), rows)
    return np.asarray(weights / weights.sum())


def _happened(rated: Sequence[_Rated], chosen: Sequence[int]) -> np.ndarray:
    """The record's departure on each day, by the best of some neighbours that has one. [degC]"""
    out, *others = (rated[n].left_out.happened for n in chosen)
    for row in others:
        out = np.where(np.isnan(out), row, out)
    return out


def rate_neighbours(daily: xr.Dataset, neighbours: Sequence[xr.Dataset]) -> xr.Dataset:
    """Rate how well each neighbour estimates a record's days, by cross-validation.

    Parameters
    ----------
    daily : Dataset, dims (time)
        The record. [degC]
    neighbours : sequence of Dataset, dims (time)
        Records of stations around it. [degC]

    Returns
    -------
    Dataset, dims (variable, neighbour) and (variable)
        ``error``, the root mean square error on days left out [degC]; ``explained``, the share of
        the variance of the departures from the usual day that is explained; their ``correlation``;
        ``shift_days``, see `day_shift`; ``common_days``; and the ``weight`` that the neighbour has
        in a joined record, 0 if it is not used. By `variable`, for all used neighbours together:
        ``joined_error`` and ``joined_explained``. By `neighbour`: ``name``, ``height_difference_m``
        and ``distance_km``, NaN if unknown.

    Raises
    ------
    ValueError
        If no neighbour is given.

    See Also
    --------
    join_stations : Join those that are good enough.
    compare_stations : Compare stations on their common days.

    Examples
    --------
    >>> import climwin as cw
    >>> valley = cw.read_daily(cw.sample())
    >>> rated = cw.rate_neighbours(valley, [cw.read_daily(cw.sample("pellbrook_hill.csv"))])
    >>> rated["error"].sel(variable="tmin").round(1).values.tolist()
    [0.8]
    """
    neighbours = list(neighbours)
    if not neighbours:
        msg = " are needed, one or more records of stations around; got none."
        raise InputError(Parameter("neighbours"), msg)
    check_alike(daily, *neighbours)
    by_variable = _rate_all(daily, neighbours)
    names = list(by_variable)
    keys = ("error", "explained", "correlation", "shift", "common_days")
    out = xr.Dataset(
        coords={
            "variable": names,
            "neighbour": [_id_of(each, n) for n, each in enumerate(neighbours, start=1)],
            "name": ("neighbour", [name_of(each) for each in neighbours]),
            "height_difference_m": ("neighbour", [_higher(daily, each) for each in neighbours]),
            "distance_km": ("neighbour", [_distance(daily, each) for each in neighbours]),
        }
    )
    units = {"error": "degC", "shift": "day"}
    for key in keys:
        values = [[float(getattr(each, key)) for each in by_variable[name]] for name in names]
        label = "shift_days" if key == "shift" else key
        shape = (len(names), len(neighbours))
        array = np.array(values, float).reshape(shape)
        out[label] = (("variable", "neighbour"), array, {"units": units.get(key, "1")})
    weight, error, explained = np.zeros((len(names), len(neighbours))), [], []
    for row, name in enumerate(names):
        rated = by_variable[name]
        chosen = _chosen(rated, _gaps(daily, name))
        weight[row, chosen] = _shares(rated, chosen) if chosen else 0.0
        together = _error_and_explained(_together(rated, chosen)) if chosen else (np.nan, np.nan)
        error.append(together[0])
        explained.append(together[1])
    out["weight"] = (("variable", "neighbour"), weight, {"units": "1"})
    out["joined_error"] = ("variable", error, {"units": "degC"})
    out["joined_explained"] = ("variable", explained, {"units": "1"})
    return out


def _rate_all(daily: xr.Dataset, neighbours: Sequence[xr.Dataset]) -> dict[str, list[_Rated]]:
    """Rate all neighbours for each extreme that the record has."""
    return {
        name: [_rate(daily, each, name) if name in each else _silent(daily) for each in neighbours]
        for name in NEARBY
        if name in daily
    }


def _silent(daily: xr.Dataset) -> _Rated:
    """Rating of a neighbour that lacks the variable."""
    nothing = np.full(len(_days_of(daily)), np.nan)
    return _Rated(
        departures=nothing,
        left_out=_LeftOut(nothing, nothing, BLOCK_DAYS),
        correlation=np.nan,
        shift=np.nan,
        error=np.nan,
        explained=np.nan,
        common_days=0,
        shift_of_year=(),
    )


# --- joining --------------------------------------------------------------------------------


def join_stations(daily: xr.Dataset, neighbours: xr.Dataset | Sequence[xr.Dataset]) -> xr.Dataset:
    """Join stations: let neighbours help to fill the missing days of a record.

    Parameters
    ----------
    daily : Dataset, dims (time)
        The record with gaps. [degC]
    neighbours : Dataset or sequence of Dataset, dims (time)
        Records of one or more stations around it; those that add little are not used.

    Returns
    -------
    Dataset, as `daily`
        The measured values, with gaps still missing, and in addition ``tmin_nearby`` and
        ``tmax_nearby``: the neighbours' weighted estimate of the record's departure from its usual
        day [degC]. Every function that draws missing days uses it, see `draw_gaps`. ``tmin_source``
        and ``tmax_source`` say for each day whether it was measured, and if not, which stations it
        is estimated from; ``history``, ``changes`` and ``credit`` name them too.

    Raises
    ------
    ValueError
        If the unit or hemisphere of all neighbours differs, or none is given.
    DataGapError
        If the neighbours explain less than half of the variance of the record's departures; the
        message gives the figures.

    Warns
    -----
    UserWarning
        If some of several neighbours are in another unit or hemisphere, and therefore not used.

    See Also
    --------
    rate_neighbours : The figures behind the choice.
    draw_gaps : Fill the gaps, as many times as needed.

    Notes
    -----
    A regression on a neighbour's departure from its usual day estimates the record's departure;
    usual years are those of the common days. Up to four neighbours are chosen by five-fold
    cross-validation (years are kept whole), the one with the smallest error first, and weighted by
    least squares. Completing a record from a few neighbours that estimate known days well is common
    in climatology [1]_. If a neighbour's days fit better with the day before or after, they are
    shifted, year by year (`day_shift`). Precipitation is not joined.

    Gaps filled by a best estimate would have too few freezes, and years that are too similar. So
    the gaps are drawn: extremes and autocorrelation are preserved, and intervals allow for days
    that were not measured.

    References
    ----------
    .. [1] J. K. Eischeid, P. A. Pasteris, H. F. Diaz, M. S. Plantico and N. J. Lott, "Creating a
       serially complete, national daily time series of temperature and precipitation for the
       western United States," Journal of Applied Meteorology, vol. 39, pp. 1580-1591, 2000 (from
       memory).

    Examples
    --------
    The valley's gaps, estimated from the hill's station:

    >>> import climwin as cw
    >>> valley = cw.read_daily(cw.sample())
    >>> joined = cw.join_stations(valley, cw.read_daily(cw.sample("pellbrook_hill.csv")))
    >>> int((joined["tmin_source"] > 1).sum())
    96
    """
    several = [neighbours] if isinstance(neighbours, xr.Dataset) else list(neighbours)
    if not several:
        msg = " are needed, one or more records of stations around; got none."
        raise InputError(Parameter("neighbours"), msg)
    _check_one_place(daily, *several)
    check_alike(daily, *several)
    several = _of_the_same_climate(daily, several)
    by_variable = _rate_all(daily, several)
    if not by_variable:
        variable(daily, "tmin")  # raises an error that says what the record lacks
    chosen = {name: _chosen(rated, _gaps(daily, name)) for name, rated in by_variable.items()}
    for name, rated in by_variable.items():
        _refuse_too_little_explained(daily, several, name, rated, chosen[name])
    days = _days_of(daily)
    out = daily.reindex(time=days.astype(daily["time"].dtype))
    for name, rated in by_variable.items():
        rows = [rated[n].departures for n in chosen[name]]
        nearby = _estimated_together(rated, chosen[name])
        long_name = f"departure of {name} from its usual day, estimated from stations nearby"
        out[NEARBY[name]] = ("time", nearby, {"units": "degC", "long_name": long_name})
        ids = [_id_of(several[n], n + 1) for n in chosen[name]]
        out[f"{name}_source"] = _sources(_series(daily, name, days), rows, ids, name)
    taken = sorted({n for each in chosen.values() for n in each})
    return _with_credit(
        with_note(out, _story(several, by_variable, chosen)), daily, [several[n] for n in taken]
    )


def _sources(
    own: np.ndarray, rows: Sequence[np.ndarray], ids: Sequence[str], name: str
) -> xr.DataArray:
    """Where each day's value comes from, as a CF flag."""
    sets = np.where(np.isnan(own), _sets_with_a_value(np.stack(rows)), 0)
    meanings = ["drawn_from_the_days_around", "measured"]
    code = np.where(np.isnan(own), UNTOLD_SOURCE, MEASURED_SOURCE)
    for each in np.unique(sets[sets > 0]):
        code[sets == each] = len(meanings)
        of_set = "_and_".join(ids[n] for n in _members(each, len(ids)))
        meanings.append(f"drawn_with_{of_set}")
    values = np.arange(len(meanings), dtype="int8")
    attrs = {
        "long_name": f"where {name} of each day comes from",
        "flag_values": values,
        "flag_meanings": " ".join(meanings),
    }
    return xr.DataArray(code.astype("int8"), dims="time", attrs=attrs)


def _with_credit(joined: xr.Dataset, daily: xr.Dataset, taken: Iterable[xr.Dataset]) -> xr.Dataset:
    """The record with credits for all sources, each named once."""
    credit = [record.attrs.get("credit") for record in (daily, *taken)]
    sources = dict.fromkeys(source for text in credit if text for source in text.split(", "))
    names = ", ".join(name_of(each) for each in taken)
    joined = joined.assign_attrs(joined_stations=names)
    return joined.assign_attrs(credit=", ".join(sources)) if sources else joined


# --- checks ---------------------------------------------------------------------------------


def _check_one_place(*records: xr.Dataset) -> None:
    for record in records:
        dims = {str(dim) for name in NEARBY if name in record for dim in record[name].dims}
        dims -= {"time"}
        if dims:
            msg = (
                "Stations are joined one record at a time, got several along "
                f"{', '.join(sorted(dims))}. Choose one with .sel()."
            )
            raise InputError(msg, parameter="neighbours")


def _of_the_same_climate(daily: xr.Dataset, neighbours: Sequence[xr.Dataset]) -> list[xr.Dataset]:
    """The neighbours whose unit and hemisphere match the record, with a warning about the others.

    Raises
    ------
    ValueError
        If none does.
    """
    out, refused = [], []
    for neighbour in neighbours:
        try:
            _refuse_another_climate(daily, neighbour)
        except InputError as error:
            refused.append(error)
        else:
            out.append(neighbour)
    if not out:
        raise refused[0]
    for reason in refused:
        warnings.warn(f"Left out: {reason}", stacklevel=3)
    return out


def _refuse_another_climate(daily: xr.Dataset, neighbour: xr.Dataset) -> None:
    """Refuse a neighbour whose unit or hemisphere does not match the record."""
    name = next((name for name in NEARBY if name in daily and name in neighbour), None)
    if name is None:
        msg = (
            f"{name_of(neighbour)} has no extreme in common with the record. Give a neighbour with "
            "tmin or tmax."
        )
        raise InputError(msg, parameter="neighbours")
    here, there = (
        variable(each, name).groupby("time.month").mean().reindex(month=np.arange(1, 13)).values
        for each in (daily, neighbour)
    )
    known = ~np.isnan(here) & ~np.isnan(there)
    here, there = here[known], there[known]
    if len(here) < 6:
        return  # too little in common is refused later, with its own message
    label = name_of(neighbour)
    apart = float(there.mean() - here.mean())
    if abs(apart) > LARGEST_DIFFERENCE_C:
        msg = (
            f"{label} is {fixed(abs(apart), 1)} degC {'warmer' if apart > 0 else 'colder'} than "
            f"the record in the mean of {name}; {fixed(LARGEST_DIFFERENCE_C)} is the most that is "
            "allowed. It may be in another unit, or from another climate: check its unit, or give "
            "a nearer station."
        )
        raise InputError(msg, parameter="neighbours")
    has_seasons = min(np.ptp(here), np.ptp(there)) > 5.0
    if has_seasons and np.corrcoef(here, there)[0, 1] < 0:
        msg = (
            f"{label} has its summer in the record's winter (correlation of the months "
            f"{fixed(float(np.corrcoef(here, there)[0, 1]), 2)}). It lies in the other hemisphere, "
            "or its dates are shifted by half a year. Give a station of the same region."
        )
        raise InputError(msg, parameter="neighbours")


def _refuse_too_little_explained(
    daily: xr.Dataset,
    neighbours: Sequence[xr.Dataset],
    name: str,
    rated: Sequence[_Rated],
    chosen: Sequence[int],
) -> None:
    """Refuse neighbours that together explain too little of a variable, with the figures."""
    together = _error_and_explained(_together(rated, chosen)) if chosen else (np.nan, np.nan)
    if together[1] >= LEAST_EXPLAINED:
        return
    figures = "; ".join(
        _figures(daily, neighbour, each) for neighbour, each in zip(neighbours, rated, strict=True)
    )
    whole = (
        f" All together: error {fixed(together[0], 1)} degC, {percent(together[1])} explained."
        if len(chosen) > 1
        else ""
    )
    msg = (
        f"The neighbours explain too little of the record's {name} to fill its gaps. Tested on "
        f"days left out, they must explain {percent(LEAST_EXPLAINED)} of the variance of the "
        f"departures from the usual day. {figures}.{whole} Give a nearer station, or one of the "
        "same height; without one the gaps are drawn from the days around them."
    )
    raise DataGapError(msg, parameter="neighbours")


def _figures(daily: xr.Dataset, neighbour: xr.Dataset, rated: _Rated) -> str:
    """The rating of one neighbour, in words."""
    label = name_of(neighbour)
    away, higher = _distance(daily, neighbour), _higher(daily, neighbour)
    place = [kilometres(away) + " away"] if np.isfinite(away) else []
    if np.isfinite(higher):
        place.append(f"{metres(abs(higher))} {'higher' if higher > 0 else 'lower'}")
    where = f" ({', '.join(place)})" if place else ""
    if rated.common_days < LEAST_COMMON_DAYS:
        return f"{label}{where}: {_days_in_common(rated.common_days)}"
    if np.isnan(rated.explained):
        return f"{label}{where}: too few parts of the year in common to test it"
    return (
        f"{label}{where}: error {fixed(rated.error, 1)} degC, "
        f"{percent(max(rated.explained, 0.0))} explained"
    )


def _too_little_in_common(neighbour: xr.Dataset, days: int) -> str:
    return (
        f"{name_of(neighbour)}: {_days_in_common(days)}. Give a neighbour whose record overlaps "
        "this one, or fetch more years of it."
    )


def _days_in_common(days: int) -> str:
    return f"{counted(days, 'day')} in common, {number(LEAST_COMMON_DAYS)} are needed"


# --- facts ----------------------------------------------------------------------------------


def name_of(record: xr.Dataset) -> str:
    """A station's name, or else the title or identifier of its record."""
    attrs = record.attrs
    return str(
        attrs.get("station_name")
        or attrs.get("title")
        or attrs.get("station_id")
        or "the neighbour"
    )


def _id_of(record: xr.Dataset, place: int) -> str:
    """A station's identifier without spaces, as a CF flag needs it."""
    label = (
        record.attrs.get("station_id") or record.attrs.get("station_name") or f"neighbour{place}"
    )
    return "_".join(str(label).split())


def _distance(daily: xr.Dataset, neighbour: xr.Dataset) -> float:
    """Distance between two stations; NaN if either position is unknown. [km]"""
    places = [
        [float(record.attrs.get(key, np.nan)) for key in ("latitude", "longitude")]
        for record in (daily, neighbour)
    ]
    return float(distance_km(*places[0], *places[1]))


def _higher(daily: xr.Dataset, neighbour: xr.Dataset) -> float:
    """Height of the neighbour above the record's station; NaN if unknown. [m]"""
    here, there = (float(record.attrs.get("elevation", np.nan)) for record in (daily, neighbour))
    return there - here


def _story(
    neighbours: Sequence[xr.Dataset],
    by_variable: dict[str, list[_Rated]],
    chosen: dict[str, list[int]],
) -> str:
    """The joining in one sentence, for the record's history."""
    parts = []
    for name, rated in by_variable.items():
        taken = chosen[name]
        stations = [
            f"{name_of(neighbours[n])} (weight {fixed(share, 2)}{_moved(rated[n])})"
            for n, share in zip(taken, _shares(rated, taken), strict=True)
        ]
        error, explained = _error_and_explained(_together(rated, taken))
        parts.append(
            f"{name} from {', '.join(stations)}; error on days left out {fixed(error, 1)} degC, "
            f"{percent(explained)} of the variance explained"
        )
    taken_at_all = {n for taken in chosen.values() for n in taken}
    others = [name_of(each) for n, each in enumerate(neighbours) if n not in taken_at_all]
    left_out = f"; left out, as they add too little: {', '.join(others)}" if others else ""
    return f"gaps drawn with stations nearby: {'; '.join(parts)}{left_out}"


def _moved(rated: _Rated) -> str:
    """Says if a neighbour was shifted by a day, and in how many years."""
    texts = []
    for lag, way in ((1, "earlier"), (-1, "later")):
        count = rated.shift_of_year.count(lag)
        if count == len(rated.shift_of_year):
            texts.append(f", moved a day {way}")
        elif count:
            texts.append(f", moved a day {way} in {years(count)} of {len(rated.shift_of_year)}")
    return "".join(texts)


# --- arrays ---------------------------------------------------------------------------------


def _days_of(daily: xr.Dataset) -> np.ndarray:
    """Every day from the record's first to its last."""
    dates = np.asarray(daily["time"]).astype("datetime64[D]")
    return every_day(dates.min(), dates.max())


def _year_of(days: np.ndarray) -> np.ndarray:
    return np.asarray(days.astype("datetime64[Y]").astype(int) + 1970)


def _series(record: xr.Dataset, name: str, days: np.ndarray) -> np.ndarray:
    return np.asarray(variable(record, name).reindex(time=days).values, float)


def _padded(record: xr.Dataset, name: str, days: np.ndarray) -> np.ndarray:
    """A neighbour's values on the record's days, with one more day at either end."""
    return _series(record, name, every_day(days[0] - ONE_DAY, days[-1] + ONE_DAY))


def _padded_days(days: np.ndarray) -> np.ndarray:
    return day_of_year(every_day(days[0] - ONE_DAY, days[-1] + ONE_DAY))


def _gaps(daily: xr.Dataset, name: str) -> np.ndarray:
    return np.asarray(np.isnan(_series(daily, name, _days_of(daily))))
