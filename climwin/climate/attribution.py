"""Which station a change belongs to, from the differences of all pairs of stations.

A change at one station shows in its differences from all others, and in no difference of two
others.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import NamedTuple

import numpy as np

from climwin.climate.breakpoints import CLEARLY
from climwin.climate.differences import BREAK_P, EDGE, Dates, Fit, Pair
from climwin.core.stats import LEVEL

NEAR = 24
"""Largest distance between dates at which two differences show the same break. [month]"""
VOTE_T = 2.5
"""Least t at which a difference shows a break with a known date (common practice)."""

_MOST_ROUNDS = 40
_WIDER = 1.2
"""Factor by which the error of a size exceeds that of a step at a known date: tuned on the stations
of ``tests/quality/BREAKS.md``."""

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
