"""Find breaks of a station and its neighbours in the differences of all pairs.

The difference between two nearby stations cancels the weather that they share. A break at one
station shows in its differences from all neighbours and in no difference of two others, which tells
whose break it is.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from itertools import combinations
from typing import NamedTuple

import numpy as np
import xarray as xr

from climwin.climate.adjust import in_order
from climwin.climate.breakpoints import CLEARLY, KINDS
from climwin.core.errors import DataGapError, InputError, Parameter
from climwin.core.formatting import signed
from climwin.core.provenance import (
    CHANGES_LEFT,
    CHANGES_TAKEN_OFF,
    COMPARED,
    check_alike,
    provenance,
    with_note,
)
from climwin.core.schema import variable
from climwin.core.stats import LEVEL

DAYS_OF_A_MONTH = 20
"""Least number of common days for a month to count: with 11 or more missing a month has no mean
(WMO, "Guidelines on the Calculation of Climate Normals," No. 1203, 2017; from memory)."""
EDGE = 24
"""Least number of months on either side of a break (common practice). [month]"""
LEAST_MONTHS = 96
"""Least number of common months for comparing two stations (common practice). [month]"""
NEAR = 24
"""Largest distance between dates at which two differences show the same break. [month]"""
VOTE_T = 2.5
"""Least t at which a difference shows a break with a known date (common practice)."""
BREAK_P = 0.004
"""A change in a difference is examined if its p is below this. With noise that lasts for years p is
too small, and any difference may raise an alarm: see `tests/quality/BREAKS.md`."""
MOST_DATES = 200
"""Largest number of dates tried in one record: every second month of 30 years, every sixth of a
century."""

_TESTED = ("tmin", "tmax")
_TEMPERATURES = ("tmin", "tmax", "tmean")
_WORDS = {"tmin": "minimum", "tmax": "maximum"}
_MOST_ROUNDS = 40
_LEAST_SPREAD_C = 1e-6
_WIDER = 1.2
"""Factor by which the error of a size exceeds that of a step at a known date: tuned on the stations
of ``tests/quality/BREAKS.md``."""


class _Noise(NamedTuple):
    """Models of monthly noise: an autoregressive part, and a share of white noise."""

    lag_one: np.ndarray
    white: np.ndarray


_NOISE = _Noise(
    np.array([0.0, 0.3, 0.6, 0.6, 0.8, 0.9, 0.9, 0.95, 0.95, 0.95]),
    np.array([0.0, 0.0, 0.0, 0.5, 0.5, 0.5, 0.8, 0.7, 0.85, 0.93]),
)
"""Noise models with which every difference is searched; the best of them counts."""
_SLOWER = _Noise(np.array([0.95, 0.98, 0.98]), np.array([0.5, 0.5, 0.8]))
"""Noise that lasts longer, or more of it: with these the search would find fewer breaks of stations
far apart, without them sizes and dates seem too certain. They only count when a change is
measured."""
_EVERY_NOISE = _Noise(
    np.concatenate([_NOISE.lag_one, _SLOWER.lag_one]),
    np.concatenate([_NOISE.white, _SLOWER.white]),
)


# --- one difference -----------------------------------------------------------------------


class Dates(NamedTuple):
    """Changes that are tried, on one axis of months: shape (k, months) each."""

    first: np.ndarray
    """First month after each step; month at which each drift begins or ends."""
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
    """Whitened columns, for each model in `_EVERY_NOISE`."""

    columns: np.ndarray
    """Shape (noises, columns, known months)."""
    log_determinant: np.ndarray


def whitened(columns: np.ndarray, known: np.ndarray) -> Whitened:
    """Standardised one-step prediction errors of each column, for each model in `_EVERY_NOISE`.

    Parameters
    ----------
    columns : ndarray, shape (c, months)
        Values; unknown months are not read.
    known : ndarray of bool, shape (months,)
        Months that have a value.

    Notes
    -----
    These are the innovations of a Kalman filter whose state is a first-order autoregressive
    process, observed with white noise. Gaps only lengthen the time to the next observation.
    """
    lag_one, white = _EVERY_NOISE.lag_one, _EVERY_NOISE.white
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
    """The fit of every candidate change in one difference, on top of the known changes."""

    gain: np.ndarray
    """Gain in log likelihood from each, with its best noise model; minus infinity if too few months
    lie on either side. Shape (k,)."""
    t: np.ndarray
    """Size of each over its standard error, averaged over the noise models of the search by how
    well they fit, shape (k,)."""
    size: np.ndarray
    """Size of each, averaged over all noise models by their restricted likelihood, shape (k,).
    [degC]"""
    error: np.ndarray
    """Its standard error, shape (k,). [degC]"""
    restricted: np.ndarray
    """Logarithm of the restricted likelihood of each, summed over noise models, shape (k,): it
    allows for the size and for the noise, which are not known. Minus infinity as for `gain`."""
    freedom: int

    @property
    def p(self) -> float:
        """The p value of the most marked change, see `chance_of`."""
        best = float(self.gain.max())
        if not np.isfinite(best):
            return 1.0
        months = self.freedom + 2
        squared = self.freedom * np.expm1(2 * max(best, 0.0) / months)
        return chance_of(float(np.sqrt(squared)), EDGE / max(months, 2 * EDGE + 1))


def chance_of(deviation: float, edge: float) -> float:
    """Probability that the most marked step in pure noise deviates this far.

    Parameters
    ----------
    deviation : float
        Deviation of the most marked step, in standard deviations.
    edge : float
        Share of the record before the first step that is tried, and after the last.

    Notes
    -----
    Steps at every date are a standardised Brownian bridge; the probability that it reaches a level
    is Vostrikova's approximation [1]_.

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
        # Winter months scatter more than summer months, and count less.
        columns = np.vstack([difference, np.ones_like(difference), dates.shape]) / self._scale
        self._white = whitened(columns, self.known)
        before = (dates.shape[:, self.known] < 0.5).sum(-1)
        self._allowed = np.minimum(before, self.known.sum() - before) >= EDGE

    def fitted(self, given: Sequence[int]) -> Fit:
        """Fit every change, on top of the mean and the changes `given` by their positions."""
        found = self._regressed(given)
        allowed = self._allowed & found.own.all(0) & self._apart(given)
        gain, t = found.searched()
        size, error, restricted = found.measured()
        return Fit(
            gain=np.where(allowed, gain, -np.inf),
            t=t,
            size=size,
            error=error,
            restricted=np.where(allowed, restricted, -np.inf),
            freedom=found.freedom,
        )

    def _regressed(self, given: Sequence[int]) -> _Regression:
        """Regress the difference on each change, beside the mean and the changes given."""
        columns, log_determinant = self._white
        count = columns.shape[-1]
        base = columns[:, [1, *(2 + place for place in given)]].swapaxes(-1, -2)
        orthonormal, triangle = np.linalg.qr(base)
        value = columns[:, 0] - _along(orthonormal, columns[:, 0])
        changes = columns[:, 2:] - _along(orthonormal, columns[:, 2:])
        squares = np.maximum((value**2).sum(-1), 1e-12)
        lengths = (changes**2).sum(-1)
        # Changes that the mean and the known changes already explain cannot be estimated.
        own = lengths > 1e-6 * (columns[:, 2:] ** 2).sum(-1)
        lengths = np.where(own, lengths, np.inf)
        sizes = np.einsum("mkn,mn->mk", changes, value) / lengths
        taken = np.where(own, sizes**2 * np.where(own, lengths, 0.0), 0.0)
        left = np.maximum(squares[:, None] - taken, 1e-12 * squares[:, None])
        of_base = 2 * np.log(np.abs(np.diagonal(triangle, axis1=-2, axis2=-1))).sum(-1)
        freedom = max(count - base.shape[-1] - 1, 1)
        return _Regression(
            sizes, lengths, own, squares, left, log_determinant, of_base, count, freedom
        )

    def _apart(self, given: Sequence[int]) -> np.ndarray:
        """Steps far enough from the given ones to be distinguished from them."""
        apart = np.ones(len(self._dates.first), bool)
        for place in given:
            if self._dates.is_step[place]:
                near = np.abs(self._dates.first - self._dates.first[place]) < EDGE
                apart &= ~(near & self._dates.is_step)
        return apart


class _Regression(NamedTuple):
    """Regression of a difference on each of k changes, with each of m noise models."""

    sizes: np.ndarray
    """Shape (m, k). [degC]"""
    lengths: np.ndarray
    """Squared length of each whitened change, shape (m, k)."""
    own: np.ndarray
    """Whether a change is not explained by those given, shape (m, k)."""
    squares: np.ndarray
    """Residual sum of squares without any further change, shape (m,)."""
    left: np.ndarray
    """Residual sum of squares with each, shape (m, k)."""
    log_determinant: np.ndarray
    """Of the noise's correlations, shape (m,)."""
    of_base: np.ndarray
    """Log determinant of what is given, shape (m,)."""
    months: int
    """Number of known months."""
    freedom: int

    @property
    def likelihood(self) -> np.ndarray:
        """Profile log likelihood with each change, shape (m, k)."""
        return -(self.log_determinant[:, None] + self.months * np.log(self.left)) / 2

    @property
    def variances(self) -> np.ndarray:
        """Of the sizes, shape (m, k)."""
        return self.left / self.freedom / self.lengths

    def searched(self) -> tuple[np.ndarray, np.ndarray]:
        """Gain in log likelihood and t of each change, by the noise models of the search."""
        searched = slice(len(_NOISE.lag_one))
        without = -(self.log_determinant + self.months * np.log(self.squares)) / 2
        likelihood = self.likelihood[searched]
        weight = np.exp(likelihood - likelihood.max(0))
        size, error = _averaged(weight, self.sizes[searched], self.variances[searched])
        return likelihood.max(0) - without[searched].max(), size / error

    def measured(self) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
        """Size, its error and the restricted log likelihood of each change, by all noise models.

        They are weighted by the restricted likelihood, since a step that is fitted looks like
        lasting noise and hides some of it.
        """
        restricted = -(self.log_determinant + self.of_base)[:, None] / 2
        restricted = restricted - (self.freedom * np.log(self.left) + np.log(self.lengths)) / 2
        best = np.where(np.isfinite(restricted), restricted, -1e300).max(0)
        weight = np.where(self.own, np.exp(restricted - best), 1.0)
        size, error = _averaged(weight, self.sizes, self.variances)
        return size, error, np.log(weight.sum(0)) + best


def _averaged(
    weight: np.ndarray, sizes: np.ndarray, variances: np.ndarray
) -> tuple[np.ndarray, np.ndarray]:
    """Mean size over noise models and its standard error, from arrays of shape (m, k)."""
    share = weight / weight.sum(0)
    size = (share * sizes).sum(0)
    variance = (share * (variances + (sizes - size) ** 2)).sum(0)
    return size, np.where(variance > 0, np.sqrt(variance), np.inf)


def _along(orthonormal: np.ndarray, columns: np.ndarray) -> np.ndarray:
    """Projection of columns, shape (m, ..., n), on orthonormal ones, (m, n, b)."""
    if columns.ndim == 2:
        return _along(orthonormal, columns[:, None])[:, 0]
    return np.asarray((columns @ orthonormal) @ orthonormal.swapaxes(-1, -2))


def _spread_by_month(difference: np.ndarray) -> np.ndarray:
    """Relative spread, about 1, of each month's calendar month with its two neighbours."""
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


# --- attribution --------------------------------------------------------------------------

Two = tuple[int, int]
"""Two stations by their positions: the first minus the second."""


class Blamed(NamedTuple):
    """A change, and the station that it is attributed to."""

    station: int
    """Position of the station; -1 if the differences do not tell which of the two changed."""
    pair: Two
    """The two stations whose difference shows it most clearly."""
    place: int
    """Position of the change among the dates tried."""
    kind: int
    """Position in `KINDS`."""
    p: float
    shown: int
    """Number of differences from other stations, of `others`, that show it too."""
    others: int


class Search(NamedTuple):
    """Result of `find_changes`, with what is needed to measure the changes."""

    changes: list[Blamed]
    pairs: dict[Two, Pair]
    given: dict[Two, list[int]]
    """Changes allowed for in each difference, by their positions among the dates tried."""
    dates: Dates


def find_changes(differences: Mapping[Two, np.ndarray], dates: Dates) -> Search:
    """Find the changes of all stations, the most marked first.

    Parameters
    ----------
    differences : mapping
        Monthly differences of each pair of stations, shape (months,). [degC]
    dates : Dates
        From `changes_to_try`.

    Notes
    -----
    The most marked change of all differences is attributed to that of the two stations of which at
    least half of the other differences show it too. It is then allowed for in all differences of
    that station. This is repeated until no difference has a change with p below `BREAK_P`. A change
    whose station was not told is dropped when one of its two stations is given a change near it.
    """
    pairs = {two: Pair(values, dates) for two, values in differences.items()}
    given: dict[Two, list[int]] = {two: [] for two in pairs}
    fits = {two: pair.fitted(()) for two, pair in pairs.items()}
    found: list[Blamed] = []
    for _ in range(_MOST_ROUNDS if fits else 0):
        two = min(fits, key=lambda each: (fits[each].p, -float(fits[each].gain.max())))
        if fits[two].p >= BREAK_P:
            break
        change = _blame(two, fits, dates)
        found = [each for each in found if not _is_told_by(change, each, dates)] + [change]
        for each in _differences_of(change, pairs):
            given[each] = [c.place for c in found if each in _differences_of(c, pairs)]
            fits[each] = pairs[each].fitted(given[each])
    return Search(found, pairs, given, dates)


def _is_told_by(change: Blamed, earlier: Blamed, dates: Dates) -> bool:
    """Whether a change settles which station an earlier one near it belongs to."""
    places = [change.place, earlier.place]
    is_near = dates.is_step[places].all() and abs(np.diff(dates.first[places])[0]) < EDGE
    return bool(is_near and earlier.station < 0 and change.station in earlier.pair)


def _differences_of(change: Blamed, pairs: Mapping[Two, Pair]) -> list[Two]:
    """The differences that contain a change."""
    if change.station < 0:
        return [change.pair]
    return [two for two in pairs if change.station in two]


class Measured(NamedTuple):
    """Date and size of a change, see `measure`."""

    first: int
    """First month after a step; month at which a drift begins."""
    earliest: int
    latest: int
    """The first month lies between these two (90 %); for a drift, `latest` is the month at which it
    ends."""
    size: float
    error: float


def measure(search: Search, change: Blamed) -> Measured:
    """Estimate date and size of a change, given all others.

    Notes
    -----
    The size is the mean over the station's differences, weighted by their precision. Its error is
    that of one difference times the square root of (1 + 1 / k) / 2, since k differences of similar
    stations share half of their variance, and times `_WIDER`.
    """
    twos = _differences_of(change, search.pairs)
    station = change.station if change.station >= 0 else change.pair[0]
    fits, usable = _fitted_beside(search, change, twos, near=True)
    if not usable:  # the other station of every difference changed at about that time
        fits, usable = _fitted_beside(search, change, twos, near=False)
    weights = np.array([1 / fits[two].error[change.place] ** 2 for two in usable])
    sizes = np.array([_oriented(station, two) * fits[two].size[change.place] for two in usable])
    size = float((weights * sizes).sum() / weights.sum())
    count = len(usable)
    error = _WIDER * float(np.sqrt(count / weights.sum() * (1 + 1 / count) / 2))
    dates = search.dates
    if dates.is_step[change.place]:
        likelihood = _together(np.array([fits[two].restricted for two in usable]))
        first = int(dates.first[change.place])
        return Measured(first, *_likely_months(first, likelihood, dates), size, error)
    rising = np.flatnonzero(np.diff(dates.shape[change.place]) > 0)
    begin, end = int(rising[0]), int(rising[-1]) + 1
    return Measured(begin, begin, end, size, error)


def _likely_months(first: int, likelihood: np.ndarray, dates: Dates) -> tuple[int, int]:
    """Earliest and latest month at which a step put at `first` may lie (90 %).

    `likelihood` is the logarithm of that of each of the dates, shape (k,).
    """
    of_steps = np.where(dates.is_step, likelihood, -np.inf)
    weight = np.exp(of_steps - of_steps.max())
    order = np.argsort(-weight, kind="stable")
    before = np.cumsum(weight[order]) - weight[order]
    likely = dates.first[order[before < LEVEL * weight.sum()]]
    # In long records not every month is tried: the step may lie between two that are.
    steps = dates.first[dates.is_step]
    between = int(steps[1] - steps[0]) - 1 if len(steps) > 1 else 0
    return min(first, int(likely.min())) - between, max(first, int(likely.max())) + between


def _fitted_beside(
    search: Search, change: Blamed, twos: Sequence[Two], *, near: bool
) -> tuple[dict[Two, Fit], list[Two]]:
    """Fits of differences given all other changes, and the differences that show this one.

    If not `near`, steps that lie too near to be distinguished are not given.
    """
    first = search.dates.first
    fits = {}
    for two in twos:
        others = list(search.given[two])
        others.remove(change.place)
        if not near:
            others = [each for each in others if abs(first[each] - first[change.place]) >= EDGE]
        fits[two] = search.pairs[two].fitted(others)
    return fits, [two for two in twos if np.isfinite(fits[two].gain[change.place])]


class _Suspect(NamedTuple):
    """A station that may have caused a change in a difference, and the evidence for it."""

    shown: int
    others: int
    gain: float
    station: int
    place: int
    kind: int

    @property
    def share(self) -> float:
        """Share of the station's other differences that show the change."""
        return self.shown / max(self.others, 1)

    def is_likelier_than(self, other: _Suspect) -> bool:
        """Whether enough of its differences show the change, and more clearly than the other's."""
        enough = self.others > 0 and self.share >= 0.5
        more = self.share > other.share and self.gain > other.gain
        return enough and (more or self.gain > other.gain + CLEARLY)


def _blame(two: Two, fits: Mapping[Two, Fit], dates: Dates) -> Blamed:
    """Attribute the most marked change in the difference of two stations to one of them."""
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
    """1 if a difference is that station minus another, else -1."""
    return 1 if two[0] == station else -1


def profile(
    station: int, twos: Sequence[Two], fits: Mapping[Two, Fit], towards: float
) -> np.ndarray:
    """Gain in log likelihood of a station's differences from each change, shape (k,)."""
    gains = []
    for two in twos:
        gain, size = fits[two].gain, fits[two].size
        agrees = towards * _oriented(station, two) * size > 0
        gains.append(np.where(np.isfinite(gain), np.where(agrees, gain, 0.0), np.nan))
    return _together(np.array(gains))


def _together(several: np.ndarray) -> np.ndarray:
    """Log likelihood of several differences of one station, from that of each, shape (n, k).

    Differences of one station from n similar others correlate by about one half, so together they
    are worth 2 n / (n + 1) of one.
    """
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
    """The likeliest change of a station near that of a difference, with its kind and gain."""
    gains = profile(station, twos, fits, towards)
    near = ~dates.is_step | (np.abs(dates.first - dates.first[place]) <= NEAR)
    if not dates.is_step[place]:
        near[:] = True
    gains = np.where(near, gains, -np.inf)
    step = float(gains[dates.is_step].max())
    drift = float(gains[~dates.is_step].max())
    kind = 0 if step > drift + CLEARLY else 1 if drift > step + CLEARLY else 2
    # Prefer a step unless a drift fits clearly better, because most breaks are sudden.
    allowed = dates.is_step if kind != 1 else ~dates.is_step
    best = int(np.where(allowed, gains, -np.inf).argmax())
    return best, kind, float(gains[best])


# --- labelled -----------------------------------------------------------------------------

OF_RECORD = "record"
"""Value of ``whose`` for a change of the record itself."""
_ANY = "any"
UNTOLD = " or "
"""Separator between the names of two stations if it is unknown which of them changed."""


def pairwise_breaks(daily: xr.Dataset, neighbours: Mapping[str, xr.Dataset]) -> xr.Dataset:
    """Find steps and drifts of a record and its neighbours from the differences of all pairs.

    Parameters
    ----------
    daily : Dataset, dims (time)
        The record, with ``tmin``, ``tmax`` or both. [degC]
    neighbours : mapping
        Records of stations nearby, by name. With two neighbours a change can be attributed to a
        station; with three or four, with some certainty.

    Returns
    -------
    Dataset, dims (change)
        Changes, numbered from 1 by variable and date: ``variable``; ``whose``: ``"record"``, a
        neighbour's name, or ``"record or NAME"`` if the differences do not tell; ``kind``:
        ``"step"``, ``"drift"``, or ``"step or drift"`` if neither fits clearly better; ``first``,
        the first month of the new level, between ``first_low`` and ``first_high`` (90 %); for a
        drift, the month at which it begins, and ``last``, the month at which it ends; ``size``,
        later minus earlier, between ``size_low`` and ``size_high`` (90 %) [degC]; ``p``; and
        ``shown``, the number of differences from other stations, of ``others``, that show it too.

    Raises
    ------
    ValueError
        If there is no neighbour, a record has several places or no temperature, or one is a
        scenario.
    DataGapError
        If no neighbour has 96 months in common with the record.

    See Also
    --------
    adjust_breaks : Correct those changes of the record that you accept.
    detect_breakpoints : The most marked step in a record alone, or beside one neighbour.

    Notes
    -----
    This is a pairwise comparison [1]_ of monthly means of daily differences, minus the mean of each
    calendar month. Every change is tried on top of those already known, with noise that may last
    for years; each change takes the noise model that fits best. The most marked one of all
    differences is attributed to the station of which at least half of the other differences show it
    too, and is then allowed for in all of them. A drift is linear over the whole record, from its
    beginning to a date, or from a date to its end. It is called a drift if it fits clearly better
    than a step [2]_; its dates are then known to within some years.

    False alarms, detection rates and the coverage of the intervals are in
    ``tests/quality/BREAKS.md`` and ``BREAKS_DAILY.md``: with neighbours hundreds of kilometres
    away, steps of 0.5 degC are seldom found. A step that hardly shows is found where the scatter
    happens to enlarge it, so its size is too large on average: one of 0.5 degC is then put at twice
    that. A change of all stations at once, such as a new hour of observation, does not show at all.

    References
    ----------
    .. [1] M. J. Menne and C. N. Williams, "Homogenization of temperature series via pairwise
       comparisons," Journal of Climate, vol. 22, pp. 1700-1717, 2009 (from memory).
    .. [2] R. E. Kass and A. E. Raftery, "Bayes factors," Journal of the American Statistical
       Association, vol. 90, pp. 773-795, 1995 (from memory).

    Examples
    --------
    A record that reads 2 degC warmer from July 2008 on, with three neighbours:

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
    is_compared = False
    for name in [each for each in _TESTED if each in daily]:
        first_month, differences = monthly_differences([each[name] for each in records])
        if not any(0 in two for two in differences):
            continue
        is_compared = True
        months = len(next(iter(differences.values())))
        search = find_changes(differences, changes_to_try(months))
        found = [(measure(search, each), each) for each in search.changes]
        for size, change in sorted(found, key=lambda each: each[0].first):
            rows.append(_row(name, names, first_month, size, change))
    if not is_compared:
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
    """Monthly differences of each pair of stations, minus the mean of each calendar month.

    Parameters
    ----------
    values : sequence of DataArray, dims (time)
        Daily values of each station, the record's own first. [degC]

    Returns
    -------
    first_month : numpy.datetime64
        First month of the record.
    differences : dict
        By pair, for pairs with at least 96 common months, shape (months,); NaN in months with fewer
        than 20 common days. [degC]
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
    """Correct the changes of a record that you accept, and keep the values as read.

    Parameters
    ----------
    daily : Dataset, dims (time)
        The record.
    breaks : Dataset, dims (change)
        From `pairwise_breaks`.
    accept : sequence of int
        Numbers of the changes to correct, see the coordinate ``change``. None is accepted
        automatically: look for a reason first, such as a note in the station's history. An empty
        sequence corrects nothing, but notes that the record was compared.

    Returns
    -------
    Dataset, as `daily`
        Earlier days moved to the latest level; ``tmean`` moves by the mean of both extremes'
        changes. ``tmin_raw`` and so on have the values as read; ``history`` and ``changes`` say
        what was done. The attributes ``compared_stations``, ``changes_taken_off`` and
        ``changes_left_in`` are written to files, and pages and commands mention them.

    Raises
    ------
    ValueError
        If a number is not in the list, or the change is not the record's own.

    See Also
    --------
    pairwise_breaks : Find the changes.

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
    """The record with the stations it was compared with, and its corrected and other changes."""
    own = _own_changes(breaks)
    attrs = {COMPARED: str(breaks.attrs.get("neighbours", ""))}
    for key, numbers in (
        (CHANGES_TAKEN_OFF, list(accepted)),
        (CHANGES_LEFT, [number for number in own if number not in accepted]),
    ):
        # Earlier corrections remain listed.
        before = [record.attrs[key]] if key == CHANGES_TAKEN_OFF and key in record.attrs else []
        attrs[key] = "; ".join([*before, *(_in_brief(breaks.sel(change=n)) for n in numbers)])
    told = {key: text for key, text in attrs.items() if text}
    kept = {key: value for key, value in record.attrs.items() if key not in attrs}
    out = record.copy()
    out.attrs = kept | told
    return out


def _own_changes(breaks: xr.Dataset) -> list[int]:
    """Numbers of the changes that are, or may be, the record's own."""
    pairs = zip(breaks["change"].values.tolist(), breaks["whose"].values, strict=True)
    return [int(number) for number, whose in pairs if OF_RECORD in str(whose).split(UNTOLD)]


def _in_brief(change: xr.Dataset) -> str:
    """A change as stored in an attribute, such as ``tmin step 2008-01 2008-01 1.0 record``."""
    first, last = (str(change[each].values)[:7] for each in ("first", "last"))
    kind = "drift" if change["kind"].item() == "drift" else "step"
    size = round(float(change["size"]), 2)
    whose = OF_RECORD if change["whose"].item() == OF_RECORD else _ANY
    return f"{change['variable'].item()} {kind} {first} {last} {size} {whose}"


class Brief(NamedTuple):
    """A change as stored in the attributes of a record."""

    variable: str
    kind: str
    first: str
    """First month of the new level, or of the drift: year-month."""
    last: str
    size: float
    """Later minus earlier. [degC]"""
    whose: str
    """``"record"``, or ``"any"`` if it is unknown which of two stations changed."""


def changes_of(record: xr.Dataset, key: str) -> list[Brief]:
    """The changes in a record's attribute: those corrected, or those left in.

    Text that cannot be read, such as in an edited file, is ignored.
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
            there = f"1 to {len(listed)}" if listed else "none, because no change was found"
            msg = f" must be numbers of changes, {there}; got {number}."
            raise InputError(Parameter("accept"), msg)
        if number not in own:
            msg = (
                f" must be changes of the record; change {number} is that of "
                f"{breaks['whose'].sel(change=number).item()}. Leave it out."
            )
            raise InputError(Parameter("accept"), msg)


def _shift(change: xr.Dataset, month: np.ndarray) -> np.ndarray:
    """Correction of each day, given its month, to the latest level. [degC]"""
    first, last = (change[name].values.astype("datetime64[M]") for name in ("first", "last"))
    if change["kind"].item() == "drift":
        risen = np.clip((month - first).astype(float) / float((last - first).astype(int)), 0, 1)
    else:
        risen = (month >= first).astype(float)
    return np.asarray(float(change["size"]) * (1 - risen))


def _in_history(change: xr.Dataset) -> str:
    """A correction in words, for the record's history."""
    name, size = _WORDS[change["variable"].item()], signed(float(change["size"]), 2)
    first, last = (str(change[each].values)[:7] for each in ("first", "last"))
    if change["kind"].item() == "drift":
        return f"{name} adjusted for a drift of {size} degC from {first} to {last}"
    return f"{name} before {first} moved by {size} degC"
