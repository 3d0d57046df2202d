"""Has the station changed, or one of its neighbours? Breaks sought in the differences of all pairs.

The difference of two stations nearby leaves out the weather that both have. A break of one station
shows in the differences from all its neighbours, and in no difference of two others: so it is known
whose it is.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from itertools import combinations
from typing import NamedTuple

import numpy as np
import xarray as xr

from climwin.climate.adjust import in_order
from climwin.climate.breakpoints import CLEARLY, KINDS
from climwin.core.errors import InputError, Parameter
from climwin.core.formatting import signed
from climwin.core.provenance import (
    CHANGES_LEFT,
    CHANGES_TAKEN_OFF,
    COMPARED,
    check_alike,
    provenance,
    with_note,
)
from climwin.core.schema import DataGapError, variable
from climwin.core.stats import LEVEL

DAYS_OF_A_MONTH = 20
"""Days that both stations need for a month to count: with 11 missing or more a month has no mean
(WMO, "Guidelines on the Calculation of Climate Normals," No. 1203, 2017; from memory)."""
EDGE = 24
"""Months that must lie on either side of a break (common practice). [month]"""
LEAST_MONTHS = 96
"""Months in common below which two stations are not compared (common practice)."""
NEAR = 24
"""Months within which two differences may show the same break. [month]"""
VOTE_T = 2.5
"""Deviations at which a difference shows a break whose date is known (common practice)."""
BREAK_P = 0.004
"""A change of a difference is looked into where its p lies below this. Where noise lasts for years
p is too small, and every difference may raise an alarm: see `tests/quality/BREAKS.md`."""
MOST_DATES = 200
"""Dates tried in one record: every second month of 30 years, every sixth month of a century."""

_TESTED = ("tmin", "tmax")
_TEMPERATURES = ("tmin", "tmax", "tmean")
_WORDS = {"tmin": "minimum", "tmax": "maximum"}
_MOST_ROUNDS = 40
_LEAST_SPREAD_C = 1e-6
_WIDER = 1.2
"""By how much the error of a size is larger than that of a step at a date known beforehand: tuned
on the stations of ``tests/quality/BREAKS.md``."""


class _Noise(NamedTuple):
    """What the months' noise may be: a share that lasts, and a share of single months."""

    lag_one: np.ndarray
    white: np.ndarray


_NOISE = _Noise(
    np.array([0.0, 0.3, 0.6, 0.6, 0.8, 0.9, 0.9, 0.95, 0.95, 0.95]),
    np.array([0.0, 0.0, 0.0, 0.5, 0.5, 0.5, 0.8, 0.7, 0.85, 0.93]),
)
"""Noise that every difference is fitted with; the best of them counts."""


# --- one difference -----------------------------------------------------------------------


class Dates(NamedTuple):
    """Changes that are tried, on one axis of months: shape (k, months) each."""

    first: np.ndarray
    """Of each step the first month after it; of each drift the month at which it begins or ends."""
    shape: np.ndarray
    """Each change: 0 before a step and 1 after it; a drift rises by 1 from its first to its last
    month."""
    is_step: np.ndarray


def changes_to_try(months: int) -> Dates:
    """Steps at each month, and drifts that begin, or end, at some month.

    Parameters
    ----------
    months : int
        Length of the record.
    """
    time = np.arange(months)
    thin = max(1, -(-months // MOST_DATES))
    steps = np.arange(EDGE, months - EDGE + 1, thin)
    bends = np.arange(EDGE, months - EDGE + 1, max(12, thin))
    rising = np.clip((time - bends[:, None]) / (months - 1 - bends[:, None]), 0, None)
    ending = np.clip(time / bends[:, None], None, 1)
    straight = time[None] / (months - 1)
    shape = np.vstack([(time >= steps[:, None]).astype(float), straight, rising, ending])
    first = np.concatenate([steps, [0], bends, bends])
    return Dates(first, shape, np.arange(len(first)) < len(steps))


class Whitened(NamedTuple):
    """Columns freed of what lasts from month to month, for each noise of `_NOISE`."""

    columns: np.ndarray
    """Shape (noises, columns, known months)."""
    log_determinant: np.ndarray


def whitened(columns: np.ndarray, known: np.ndarray) -> Whitened:
    """What each known month of each column brings that the months before it did not foretell.

    Parameters
    ----------
    columns : ndarray, shape (c, months)
        Values; those of unknown months are not read.
    known : ndarray of bool, shape (months,)
        Months that have a value.

    Notes
    -----
    The innovations of a Kalman filter whose state is the part that lasts, a first-order
    autoregressive process; single months add noise of their own. Gaps lengthen the time to the next
    month and need no filling.
    """
    lag_one, white = _NOISE.lag_one, _NOISE.white
    state = np.zeros((len(lag_one), len(columns)))
    variance = 1 - white
    log_determinant = np.zeros(len(lag_one))
    out = np.empty((known.sum(), len(lag_one), len(columns)))
    place = 0
    for month in range(len(known)):
        if month:
            state *= lag_one[:, None]
            variance = lag_one**2 * variance + (1 - lag_one**2) * (1 - white)
        if not known[month]:
            continue
        total = variance + white
        innovation = columns[:, month] - state
        out[place] = innovation / np.sqrt(total)[:, None]
        state += (variance / total)[:, None] * innovation
        variance = variance * (1 - variance / total)
        log_determinant += np.log(total)
        place += 1
    return Whitened(np.moveaxis(out, 0, -1), log_determinant)


class Fit(NamedTuple):
    """Every change to try in one difference, beside the changes known already."""

    gain: np.ndarray
    """By how much each raises the logarithm of the likelihood, each with its best noise; minus
    infinity where too few months lie on either side. Shape (k,)."""
    size: np.ndarray
    """Of each, over all noises by how well they fit, shape (k,). [degC]"""
    error: np.ndarray
    """Its standard error, shape (k,). [degC]"""
    freedom: int

    @property
    def t(self) -> np.ndarray:
        """Size over standard error."""
        return self.size / self.error

    @property
    def p(self) -> float:
        """Chance of noise with a change as marked, see `chance_of`."""
        best = float(self.gain.max())
        if not np.isfinite(best):
            return 1.0
        months = self.freedom + 2
        squared = self.freedom * np.expm1(2 * max(best, 0.0) / months)
        return chance_of(float(np.sqrt(squared)), EDGE / max(months, 2 * EDGE + 1))


def chance_of(deviation: float, edge: float) -> float:
    """Chance that the most marked step in noise deviates as far.

    Parameters
    ----------
    deviation : float
        Of the most marked step, in standard deviations.
    edge : float
        Share of the record that lies before the first step tried, and after the last.

    Notes
    -----
    Steps at every date are a Brownian bridge over its standard deviation; the chance that it
    reaches so far is Vostrikova's approximation [1]_.

    References
    ----------
    .. [1] L. Ju. Vostrikova, "Detection of a 'disorder' in a Wiener process," Theory of Probability
       and its Applications, vol. 26, pp. 356-362, 1981; as in M. Csörgő and L. Horváth, "Limit
       Theorems in Change-Point Analysis," Wiley, 1997, equation 1.3.26 (both from memory).
    """
    if deviation < 2:
        return 1.0
    spread = 2 * np.log((1 - edge) / edge)
    density = deviation * np.exp(-(deviation**2) / 2) / np.sqrt(2 * np.pi)
    return float(min(1.0, density * (spread * (1 - 1 / deviation**2) + 4 / deviation**2)))


class Pair:
    """The difference of two stations by month, ready to be fitted."""

    def __init__(self, difference: np.ndarray, dates: Dates) -> None:
        """Of monthly differences freed of their yearly course, shape (months,)."""
        self.known = np.isfinite(difference)
        self._scale = _spread_by_month(difference)
        self._dates = dates
        # A winter month scatters more than one of summer, and counts less.
        columns = np.vstack([difference, np.ones_like(difference), dates.shape]) / self._scale
        self._white = whitened(columns, self.known)
        before = (dates.shape[:, self.known] < 0.5).sum(-1)
        self._allowed = np.minimum(before, self.known.sum() - before) >= EDGE

    def fitted(self, given: Sequence[int]) -> Fit:
        """Every change beside the mean and the changes `given` by their places in the dates."""
        columns, log_determinant = self._white
        count = columns.shape[-1]
        base = columns[:, [1, *(2 + place for place in given)]].swapaxes(-1, -2)
        orthonormal, _ = np.linalg.qr(base)
        value = columns[:, 0] - _along(orthonormal, columns[:, 0])
        changes = columns[:, 2:] - _along(orthonormal, columns[:, 2:])
        squares = np.maximum((value**2).sum(-1), 1e-12)
        lengths = (changes**2).sum(-1)
        # What the mean and the known changes explain already has no size of its own.
        own = lengths > 1e-6 * (columns[:, 2:] ** 2).sum(-1)
        lengths = np.where(own, lengths, np.inf)
        sizes = np.einsum("mkn,mn->mk", changes, value) / lengths
        taken = np.where(own, sizes**2 * np.where(own, lengths, 0.0), 0.0)
        left = np.maximum(squares[:, None] - taken, 1e-12 * squares[:, None])
        without = (-(log_determinant + count * np.log(squares)) / 2).max()
        likelihood = -(log_determinant[:, None] + count * np.log(left)) / 2
        freedom = max(count - base.shape[-1] - 1, 1)
        # Size and error over all noises, weighed by how well they fit.
        weight = np.exp(likelihood - likelihood.max(0))
        weight /= weight.sum(0)
        size = (weight * sizes).sum(0)
        variance = (weight * (left / freedom / lengths + (sizes - size) ** 2)).sum(0)
        allowed = self._allowed & own.all(0) & self._apart(given)
        gain = np.where(allowed, likelihood.max(0) - without, -np.inf)
        return Fit(gain, size, np.where(variance > 0, np.sqrt(variance), np.inf), freedom)

    def _apart(self, given: Sequence[int]) -> np.ndarray:
        """Steps that lie far enough from the steps given to be told from them."""
        apart = np.ones(len(self._dates.first), bool)
        for place in given:
            if self._dates.is_step[place]:
                near = np.abs(self._dates.first - self._dates.first[place]) < EDGE
                apart &= ~(near & self._dates.is_step)
        return apart


def _along(orthonormal: np.ndarray, columns: np.ndarray) -> np.ndarray:
    """The part of columns, shape (m, ..., n), in the space of orthonormal ones, (m, n, b)."""
    if columns.ndim == 2:
        return _along(orthonormal, columns[:, None])[:, 0]
    return np.asarray((columns @ orthonormal) @ orthonormal.swapaxes(-1, -2))


def _spread_by_month(difference: np.ndarray) -> np.ndarray:
    """Spread of each calendar month and its two neighbours, about 1, on every month."""
    # From one year to the next, so that a step does not count.
    change = difference[12:] - difference[:-12]
    calendar = np.arange(len(change)) % 12
    known = np.isfinite(change)
    of_month = np.bincount(calendar[known], change[known] ** 2, minlength=12)
    in_month = np.bincount(calendar[known], minlength=12)
    # Of each month and the two beside it.
    squares, counts = (np.roll(each, 1) + each + np.roll(each, -1) for each in (of_month, in_month))
    usual = squares.sum() / max(counts.sum(), 1)
    if usual < _LEAST_SPREAD_C**2:
        return np.ones(len(difference))
    mean = np.where(counts > 0, squares / np.maximum(counts, 1), usual)
    relative = np.sqrt(np.maximum(mean / usual, 0.1))
    return np.asarray(relative[np.arange(len(difference)) % 12])


# --- whose it is --------------------------------------------------------------------------

Two = tuple[int, int]
"""Two stations by their places, the first less the second."""


class Blamed(NamedTuple):
    """A change, and the station whose it is."""

    station: int
    """Its place; -1 where the differences do not tell which of the two it is."""
    pair: Two
    """The two stations in whose difference it is most marked."""
    place: int
    """Of the change in the dates tried."""
    kind: int
    """Place in `KINDS`."""
    p: float
    shown: int
    """Differences from other stations in which it shows too, of `others`."""
    others: int


class Search(NamedTuple):
    """What `find_changes` found, and what it takes to measure it."""

    changes: list[Blamed]
    pairs: dict[Two, Pair]
    given: dict[Two, list[int]]
    """Changes allowed for in each difference, by their places in the dates tried."""
    dates: Dates


def find_changes(differences: Mapping[Two, np.ndarray], dates: Dates) -> Search:
    """Changes of all stations, the most marked first.

    Parameters
    ----------
    differences : mapping
        Of each two stations the differences by month, shape (months,). [degC]
    dates : Dates
        From `changes_to_try`.

    Notes
    -----
    The most marked change of all differences is given to that of the two stations whose differences
    from half or more of the others show it as well, and is then allowed for in all differences of
    that station; and so on, until no difference has a change left with p below `BREAK_P`.
    """
    pairs = {two: Pair(values, dates) for two, values in differences.items()}
    given: dict[Two, list[int]] = {two: [] for two in pairs}
    fits = {two: pair.fitted(()) for two, pair in pairs.items()}
    found: list[Blamed] = []
    while fits and len(found) < _MOST_ROUNDS:
        two = min(fits, key=lambda each: (fits[each].p, -float(fits[each].gain.max())))
        if fits[two].p >= BREAK_P:
            break
        change = _blame(two, fits, dates)
        found.append(change)
        for each in _differences_of(change, pairs):
            given[each].append(change.place)
            fits[each] = pairs[each].fitted(given[each])
    return Search(found, pairs, given, dates)


def _differences_of(change: Blamed, pairs: Mapping[Two, Pair]) -> list[Two]:
    """The differences that a change is in."""
    if change.station < 0:
        return [change.pair]
    return [two for two in pairs if change.station in two]


class Measured(NamedTuple):
    """When a change was, and how large it is, see `measure`."""

    first: int
    """First month after a step; month at which a drift begins."""
    earliest: int
    latest: int
    """The first month lies between these (90 %); of a drift the month at which it ends."""
    size: float
    error: float


def measure(search: Search, change: Blamed) -> Measured:
    """Date and size of a change, beside all others.

    Notes
    -----
    The size is the mean over the station's differences, weighted by how sure each is. Its error is
    that of one difference times the square root of (1 + 1 / k) / 2, since k differences of stations
    alike have one half of their variance in common, and times `_WIDER`.
    """
    twos = _differences_of(change, search.pairs)
    station = change.station if change.station >= 0 else change.pair[0]
    fits = {}
    for two in twos:
        others = list(search.given[two])
        others.remove(change.place)
        fits[two] = search.pairs[two].fitted(others)
    usable = [two for two in twos if np.isfinite(fits[two].gain[change.place])]
    weights = np.array([1 / fits[two].error[change.place] ** 2 for two in usable])
    sizes = np.array([_oriented(station, two) * fits[two].size[change.place] for two in usable])
    size = float((weights * sizes).sum() / weights.sum())
    count = len(usable)
    error = _WIDER * float(np.sqrt(count / weights.sum() * (1 + 1 / count) / 2))
    dates = search.dates
    if not dates.is_step[change.place]:
        slopes = np.diff(dates.shape[change.place])
        rising = np.flatnonzero(slopes > 0)
        begin, end = int(rising[0]), int(rising[-1]) + 1
        return Measured(begin, begin, end, size, error)
    gains = profile(station, usable, fits, float(np.sign(size)))
    gains = np.where(dates.is_step, gains, -np.inf)
    weight = np.exp(gains - gains.max())
    order = np.argsort(-weight, kind="stable")
    before = np.cumsum(weight[order]) - weight[order]
    likely = dates.first[order[before < LEVEL * weight.sum()]]
    first = int(dates.first[change.place])
    earliest, latest = min(first, int(likely.min())), max(first, int(likely.max()))
    return Measured(first, earliest, latest, size, error)


class _Suspect(NamedTuple):
    """A station that a change of a difference may be of, and what speaks for it."""

    shown: int
    others: int
    gain: float
    station: int
    place: int
    kind: int

    @property
    def share(self) -> float:
        """Share of its other differences that show the change."""
        return self.shown / max(self.others, 1)

    def is_likelier_than(self, other: _Suspect) -> bool:
        """Whether enough of its differences show it, and more clearly than the other's."""
        enough = self.others > 0 and self.share >= 0.5
        more = self.share > other.share and self.gain > other.gain
        return enough and (more or self.gain > other.gain + CLEARLY)


def _blame(two: Two, fits: Mapping[Two, Fit], dates: Dates) -> Blamed:
    """Which of two stations the most marked change of their difference is of."""
    place = int(fits[two].gain.argmax())
    sign = float(np.sign(fits[two].size[place]))
    suspects = []
    for station, towards in zip(two, (sign, -sign), strict=True):
        others = [each for each in fits if station in each and each != two]
        best, kind, gain = _likeliest(station, [two, *others], fits, dates, place, towards)
        oriented = [towards * _oriented(station, each) * fits[each].t[best] for each in others]
        shown = sum(t >= VOTE_T for t in oriented)
        suspects.append(_Suspect(shown, len(others), gain, station, best, kind))
    p = fits[two].p
    for one, other in (suspects, suspects[::-1]):
        if one.is_likelier_than(other):
            return Blamed(one.station, two, one.place, one.kind, p, one.shown, one.others)
    best, kind, _ = _likeliest(two[0], [two], fits, dates, place, sign)
    return Blamed(-1, two, best, kind, p, 0, suspects[0].others)


def _oriented(station: int, two: Two) -> int:
    """1 where a difference is that station less another, else -1."""
    return 1 if two[0] == station else -1


def profile(
    station: int, twos: Sequence[Two], fits: Mapping[Two, Fit], towards: float
) -> np.ndarray:
    """By how much each change of a station raises the likelihood of its differences.

    Differences of one station from k others correlate by about a half, as those of stations alike
    do: together they are worth 2 k / (k + 1) of one.
    """
    gains = []
    for two in twos:
        gain, size = fits[two].gain, fits[two].size
        agrees = towards * _oriented(station, two) * size > 0
        gains.append(np.where(np.isfinite(gain), np.where(agrees, gain, 0.0), np.nan))
    several = np.array(gains)
    known = np.isfinite(several)
    count = known.sum(0)
    mean = np.where(known, several, 0.0).sum(0) / np.maximum(count, 1)
    return np.where(count > 0, mean * 2 * count / (count + 1), -np.inf)


def _likeliest(
    station: int,
    twos: Sequence[Two],
    fits: Mapping[Two, Fit],
    dates: Dates,
    place: int,
    towards: float,
) -> tuple[int, int, float]:
    """The likeliest change of a station near one of a difference, its kind, and its gain."""
    gains = profile(station, twos, fits, towards)
    near = ~dates.is_step | (np.abs(dates.first - dates.first[place]) <= NEAR)
    if not dates.is_step[place]:
        near[:] = True
    gains = np.where(near, gains, -np.inf)
    step = float(gains[dates.is_step].max())
    drift = float(gains[~dates.is_step].max())
    kind = 0 if step > drift + CLEARLY else 1 if drift > step + CLEARLY else 2
    # A step, unless a drift fits clearly better: most breaks are sudden.
    allowed = dates.is_step if kind != 1 else ~dates.is_step
    best = int(np.where(allowed, gains, -np.inf).argmax())
    return best, kind, float(gains[best])


# --- labelled -----------------------------------------------------------------------------

OF_RECORD = "record"
"""Whose a change is where it is the record's own."""
_ANY = "any"
UNTOLD = " or "
"""Between the names of two stations, where it is not known which of them changed."""


def pairwise_breaks(daily: xr.Dataset, neighbours: Mapping[str, xr.Dataset]) -> xr.Dataset:
    """Steps and drifts of a record and its neighbours, from the differences of all pairs.

    Parameters
    ----------
    daily : Dataset, dims (time)
        The record, with ``tmin``, ``tmax`` or both. [degC]
    neighbours : mapping
        Records of stations nearby, by name. From two neighbours on it is known whose a change is,
        from three or four with some certainty.

    Returns
    -------
    Dataset, dims (change)
        Numbered from 1, in order of the variable and the date: ``variable``; ``whose``,
        ``"record"``, a neighbour's name, or ``"record or NAME"`` where the differences do not tell;
        ``kind``, ``"step"``, ``"drift"``, or ``"step or drift"`` where neither fits clearly better;
        ``first``, the first month of the new level, between ``first_low`` and ``first_high``
        (90 %), or of a drift the month at which it begins, with ``last``, the month at which it
        ends; ``size``, later minus earlier, between ``size_low`` and ``size_high`` (90 %) [degC];
        ``p``; and ``shown`` of ``others``, the differences from other stations that show it too.

    Raises
    ------
    ValueError
        If there is no neighbour, a record has several places or no temperature, or one is a
        scenario.
    DataGapError
        If no neighbour has 96 months in common with the record.

    See Also
    --------
    adjust_breaks : The record with changes of its own taken off, once you accept them.
    detect_breakpoints : The one most marked step, of a record alone or beside one neighbour.

    Notes
    -----
    Pairwise comparison [1]_: of each two stations the monthly means of the daily differences, less
    their mean of each calendar month. Every change is tried beside those known already, with noise
    that may last for years, each change with the noise that fits it best. The most marked one of
    all differences is given to the station whose other differences show it as well, half of them
    or more, and is from then on allowed for in all of them. A drift is a straight line over the
    whole record, or from its beginning to a date, or from a date to its end; it is called one where
    it fits clearly better than a step [2]_; when it began is then known to some years.

    False alarms, detection and how often the intervals hold stand in
    ``tests/quality/BREAKS.md``: with neighbours hundreds of kilometres away steps of 0.5 degC are
    not found. A change of all stations at once, such as another hour of observation, does not show
    at all.

    References
    ----------
    .. [1] M. J. Menne and C. N. Williams, "Homogenization of temperature series via pairwise
       comparisons," Journal of Climate, vol. 22, pp. 1700-1717, 2009 (from memory).
    .. [2] R. E. Kass and A. E. Raftery, "Bayes factors," Journal of the American Statistical
       Association, vol. 90, pp. 773-795, 1995 (from memory).

    Examples
    --------
    A record that reads 2 degC warmer from July 2008 on, beside three neighbours:

    >>> import climwin as cw
    >>> import numpy as np
    >>> daily = cw.read_daily(cw.sample()).sel(time=slice("1996", "2020"))
    >>> rng = np.random.default_rng(1)
    >>> near = {
    ...     name: daily.assign(tmin=daily["tmin"] + rng.normal(0, 2, daily.sizes["time"]))
    ...     for name in ("north", "south", "west")
    ... }
    >>> for each in near.values():
    ...     each["tmin"].attrs = daily["tmin"].attrs
    >>> moved = daily.assign(tmin=daily["tmin"] + 2.0 * (daily["time"] >= np.datetime64("2008-07")))
    >>> moved["tmin"].attrs = daily["tmin"].attrs
    >>> found = cw.pairwise_breaks(moved, near).isel(change=0)
    >>> found["whose"].item(), str(found["first"].values)[:7], found["size"].round(1).item()
    ('record', '2008-07', 2.0)
    """
    names, records = _several(daily, neighbours)
    rows: list[dict[str, object]] = []
    for name in [each for each in _TESTED if each in daily]:
        first_month, differences = monthly_differences([each[name] for each in records])
        if not any(0 in two for two in differences):
            continue
        months = len(next(iter(differences.values())))
        search = find_changes(differences, changes_to_try(months))
        found = [(measure(search, each), each) for each in search.changes]
        for size, change in sorted(found, key=lambda each: each[0].first):
            rows.append(_row(name, names, first_month, size, change))
    if not rows and not _is_compared(records, [each for each in _TESTED if each in daily]):
        msg = (
            f"No neighbour has {LEAST_MONTHS} months in common with the record. Take neighbours "
            "whose records reach further back."
        )
        raise DataGapError(msg)
    return _table(rows).assign_attrs(provenance(daily) | {"neighbours": ", ".join(names[1:])})


def _several(
    daily: xr.Dataset, neighbours: Mapping[str, xr.Dataset]
) -> tuple[list[str], list[xr.Dataset]]:
    """The record and its neighbours, checked."""
    if not neighbours:
        raise InputError(Parameter("neighbours"), " must name one record or more, got none.")
    check_alike(daily, *neighbours.values())
    names, records = [OF_RECORD, *map(str, neighbours)], [daily, *neighbours.values()]
    tested = [name for name in _TESTED if name in daily]
    if not tested:
        variable(daily, _TESTED[0])
    for label, record in zip(names, records, strict=True):
        for name in tested:
            if set(variable(record, name).dims) != {"time"}:
                msg = (
                    f"The record {label!r} has dimensions "
                    f"{', '.join(map(str, record[name].dims))}. Choose one station first, with "
                    ".sel()."
                )
                raise InputError(msg)
    return names, records


def monthly_differences(
    values: Sequence[xr.DataArray],
) -> tuple[np.datetime64, dict[Two, np.ndarray]]:
    """Differences of each two stations by month, less their mean of each calendar month.

    Parameters
    ----------
    values : sequence of DataArray, dims (time)
        Daily values of each station, the record's own first. [degC]

    Returns
    -------
    first_month : numpy.datetime64
        Of the record.
    differences : dict
        Of the pairs that have 96 months in common, shape (months,); missing in months of fewer than
        20 days in common. [degC]
    """
    own = values[0].dropna("time")["time"].values
    first = own[0].astype("datetime64[M]")
    months = int((own[-1].astype("datetime64[M]") - first).astype(int)) + 1
    series = [each.compute().dropna("time") for each in values]
    out: dict[Two, np.ndarray] = {}
    for two in combinations(range(len(series)), 2):
        one, other = (series[place] for place in two)
        difference = one - other  # on the days that both have
        month = (difference["time"].values.astype("datetime64[M]") - first).astype(int)
        within = (month >= 0) & (month < months)
        days = np.bincount(month[within], minlength=months)
        sums = np.bincount(month[within], difference.values[within], minlength=months)
        enough = days >= DAYS_OF_A_MONTH
        if enough.sum() < LEAST_MONTHS:
            continue
        mean = np.where(enough, sums / np.maximum(days, 1), np.nan)
        for calendar in range(12):
            if enough[calendar::12].any():
                mean[calendar::12] -= np.nanmean(mean[calendar::12])
        out[two] = mean
    return first, out


def _is_compared(records: Sequence[xr.Dataset], names: Sequence[str]) -> bool:
    """Whether any neighbour has months enough in common with the record."""
    return any(
        any(0 in two for two in monthly_differences([each[name] for each in records])[1])
        for name in names
    )


def _row(
    name: str, names: Sequence[str], first_month: np.datetime64, size: Measured, change: Blamed
) -> dict[str, object]:
    """One change, as `pairwise_breaks` lists it."""

    def month(place: int) -> np.datetime64:
        return (first_month + np.timedelta64(place, "M")).astype("datetime64[s]")

    from scipy.special import ndtri

    is_drift = KINDS[change.kind] == "drift"
    reach = float(ndtri(0.5 + LEVEL / 2)) * size.error
    pair = [names[place] for place in change.pair]
    return {
        "variable": name,
        "whose": names[change.station] if change.station >= 0 else UNTOLD.join(pair),
        "kind": KINDS[change.kind],
        "first": month(size.first),
        "first_low": month(size.earliest),
        "first_high": month(size.first if is_drift else size.latest),
        "last": month(size.latest if is_drift else size.first),
        "size": size.size,
        "size_low": size.size - reach,
        "size_high": size.size + reach,
        "p": change.p,
        "shown": change.shown,
        "others": change.others,
    }


_COLUMNS: dict[str, tuple[str, str]] = {
    "variable": ("U4", ""),
    "whose": ("U1", ""),
    "kind": ("U13", ""),
    **dict.fromkeys(("first", "first_low", "first_high", "last"), ("datetime64[s]", "")),
    **dict.fromkeys(("size", "size_low", "size_high"), ("float64", "degC")),
    "p": ("float64", "1"),
    **dict.fromkeys(("shown", "others"), ("int64", "1")),
}


def _table(rows: Sequence[Mapping[str, object]]) -> xr.Dataset:
    """Rows as a Dataset along ``change``, numbered from 1."""
    out = xr.Dataset(coords={"change": np.arange(1, len(rows) + 1)})
    for name, (kind, units) in _COLUMNS.items():
        column = [row[name] for row in rows]
        values = np.array(column) if rows else np.array([], kind)
        out[name] = ("change", values, {"units": units} if units else {})
    return out


def adjust_breaks(daily: xr.Dataset, breaks: xr.Dataset, accept: Sequence[int]) -> xr.Dataset:
    """The record with changes taken off that you accept, the values as read beside it.

    Parameters
    ----------
    daily : Dataset, dims (time)
        The record.
    breaks : Dataset, dims (change)
        From `pairwise_breaks`.
    accept : sequence of int
        Numbers of the changes to take off, see the coordinate ``change``. None is accepted by
        itself: look for a reason first, such as a note in the station's history. An empty one takes
        nothing off, and the record then knows that it was compared.

    Returns
    -------
    Dataset, as `daily`
        Earlier days moved to the latest level. ``tmean`` moves by half of what each extreme does.
        ``tmin_raw`` and so on hold the values as read; ``history`` and ``changes`` say what was
        done. ``compared_stations``, ``changes_taken_off`` and ``changes_left_in`` go with it into
        files, and pages and commands say them.

    Raises
    ------
    ValueError
        If a number is not in the list, or the change is not the record's own.

    See Also
    --------
    pairwise_breaks : Finds them.

    Examples
    --------
    >>> import climwin as cw
    >>> import numpy as np
    >>> daily = cw.read_daily(cw.sample()).sel(time=slice("1996", "2020"))
    >>> hill = cw.read_daily(cw.sample("pellbrook_hill.csv"))
    >>> found = cw.pairwise_breaks(daily, {"hill": hill})
    >>> adjusted = cw.adjust_breaks(daily, found, accept=[])
    >>> bool((adjusted["tmin"] == daily["tmin"]).sum() == daily["tmin"].notnull().sum())
    True
    """
    numbers = [int(each) for each in dict.fromkeys(accept)]
    _check_accepted(numbers, breaks)
    chosen = breaks.sel(change=numbers)
    month = daily["time"].values.astype("datetime64[M]")
    shifts = {name: np.zeros(len(month)) for name in _TESTED}
    notes = []
    for number in numbers:
        change = chosen.sel(change=number)
        name = change["variable"].item()
        shifts[name] = shifts[name] + _shift(change, month)
        notes.append(_in_history(change))
    shifts["tmean"] = (shifts["tmin"] + shifts["tmax"]) / 2
    out = daily.copy()
    for name in _TEMPERATURES:
        if name not in daily or not shifts[name].any():
            continue
        raw = variable(daily, name)
        out[f"{name}_raw"] = daily.get(f"{name}_raw", raw).assign_attrs(
            units="degC", long_name=f"{name} as read, before changes were taken off"
        )
        out[name] = raw + xr.DataArray(shifts[name], dims="time")
    out = in_order(out)
    for name in [each for each in _TEMPERATURES if each in daily]:
        out[name].attrs = daily[name].attrs
    if notes:
        against = breaks.attrs.get("neighbours", "neighbours")
        out = with_note(out, f"{'; '.join(notes)}; found against {against}, accepted by hand")
    return _with_comparison(out, breaks, numbers)


def _with_comparison(record: xr.Dataset, breaks: xr.Dataset, accepted: Sequence[int]) -> xr.Dataset:
    """The record with what it was compared with, and which of its own changes were taken off."""
    own = _own_changes(breaks)
    attrs = {COMPARED: str(breaks.attrs.get("neighbours", ""))}
    for key, numbers in (
        (CHANGES_TAKEN_OFF, list(accepted)),
        (CHANGES_LEFT, [number for number in own if number not in accepted]),
    ):
        # What an earlier adjustment took off stays taken off.
        before = [record.attrs[key]] if key == CHANGES_TAKEN_OFF and key in record.attrs else []
        attrs[key] = "; ".join([*before, *(_in_brief(breaks.sel(change=n)) for n in numbers)])
    told = {key: text for key, text in attrs.items() if text}
    kept = {key: value for key, value in record.attrs.items() if key not in attrs}
    out = record.copy()
    out.attrs = kept | told
    return out


def _own_changes(breaks: xr.Dataset) -> list[int]:
    """Numbers of the changes that are the record's, or may be."""
    pairs = zip(breaks["change"].values.tolist(), breaks["whose"].values, strict=True)
    return [int(number) for number, whose in pairs if OF_RECORD in str(whose).split(UNTOLD)]


def _in_brief(change: xr.Dataset) -> str:
    """A change as an attribute holds it, such as ``tmin step 2008-01 2008-01 1.0 record``."""
    first, last = (str(change[each].values)[:7] for each in ("first", "last"))
    kind = "drift" if change["kind"].item() == "drift" else "step"
    size = round(float(change["size"]), 2)
    whose = OF_RECORD if change["whose"].item() == OF_RECORD else _ANY
    return f"{change['variable'].item()} {kind} {first} {last} {size} {whose}"


class Brief(NamedTuple):
    """A change as the attributes of a record hold it."""

    variable: str
    kind: str
    first: str
    """First month of the new level, or of the drift: year-month."""
    last: str
    size: float
    """Later minus earlier. [degC]"""
    whose: str
    """``"record"``, or ``"any"`` where it is not known which of two stations changed."""


def changes_of(record: xr.Dataset, key: str) -> list[Brief]:
    """The changes that a record's attribute tells of, those taken off or those left in.

    What cannot be read, as where a file was edited, is left out.
    """
    out = []
    for text in str(record.attrs.get(key, "")).split(";"):
        words = text.split()
        try:
            name, kind, first, last, size, whose = words
            months = [np.datetime64(each, "M") for each in (first, last)]
            brief = Brief(name, kind, str(months[0]), str(months[1]), float(size), whose)
        except ValueError:
            continue
        if name in _TESTED and kind in KINDS and np.isfinite(brief.size):
            out.append(brief)
    return out


def _check_accepted(numbers: Sequence[int], breaks: xr.Dataset) -> None:
    listed = breaks["change"].values.tolist()
    own = _own_changes(breaks)
    for number in numbers:
        if number not in listed:
            there = f"1 to {len(listed)}" if listed else "none, for no change was found"
            msg = f" must be numbers of changes, {there}; got {number}."
            raise InputError(Parameter("accept"), msg)
        if number not in own:
            msg = (
                f" must be changes of the record; change {number} is that of "
                f"{breaks['whose'].sel(change=number).item()}. Leave it out."
            )
            raise InputError(Parameter("accept"), msg)


def _shift(change: xr.Dataset, month: np.ndarray) -> np.ndarray:
    """What is added to each day, given its month, to bring it to the latest level. [degC]"""
    first, last = (change[name].values.astype("datetime64[M]") for name in ("first", "last"))
    if change["kind"].item() == "drift":
        risen = np.clip((month - first).astype(float) / float((last - first).astype(int)), 0, 1)
    else:
        risen = (month >= first).astype(float)
    return np.asarray(float(change["size"]) * (1 - risen))


def _in_history(change: xr.Dataset) -> str:
    """What was taken off, for the record's history."""
    name, size = _WORDS[change["variable"].item()], signed(float(change["size"]), 2)
    first, last = (str(change[each].values)[:7] for each in ("first", "last"))
    if change["kind"].item() == "drift":
        return f"{name} adjusted for a drift of {size} degC from {first} to {last}"
    return f"{name} before {first} moved by {size} degC"
