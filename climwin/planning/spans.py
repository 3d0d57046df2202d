"""Spans of start dates worth recommending, and the one to name first.

Kernels only: of one way of growing at one place. Labelled results stand in
`climwin.planning.sweep` and `climwin.planning.dates`.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np

from climwin.core.seasons import DAYS
from climwin.crops.model import Crop
from climwin.planning.selection import (
    Blocks,
    best_run,
    best_start,
    chosen_elsewhere,
    circular_mean,
    judged_best,
    runs_of_year,
)

LEAST_ODDS = 0.8
"""Odds of a harvest from which a start date is recommended (common practice)."""
WORTH_IT = 0.5
"""Share of the value at a season's best date from which a start date is worth it.

Value is odds times growth, which the temperatures make. The expected crop, which the sun makes too,
would put every start in spring weeks late, where gardeners like an early crop and the bed it leaves
for a second one (common practice; of the shares tried on half of the places in ``tests/agreement``
the one whose spans cover most of the published windows).
"""
WORTH_A_SEASON = 0.5
"""Share of that value at the best date of any season from which a season is worth telling (common
practice): cowpeas sown in October may live through a mild winter, but nobody sows them then."""
LONGEST_WAIT = 2.0
"""Times the days of its quickest season that a warm crop may take until spring for its dates of
autumn to be worth telling (common practice): tomatoes set out in October may live through a mild
winter and ripen in May, but nobody grows them so."""
NEAR_BEST = 0.9
"""Share of a season's largest expected crop from which a start date is as good as the best.

The expected crop is flat about its top, where one day is the highest by luck: the best date is the
middle of these dates, or in spring an earlier one, see `SOON_DAYS`. In spring a dip may part them,
as between carrots of April and of late May: then the first stretch counts."""
SOON_DAYS = 14
"""Days after the first date that is as good as the best, on which a crop of spring is best started.

The sun makes the largest crop of those started late in spring, but growers plant as early as they
safely can: an early harvest is worth more, and leaves the bed for another crop. The very first date
is near the edge, though. Of 0 to 28 days tried on half of the places in ``tests/agreement``, a
fortnight puts most best dates inside the published windows.
"""
AS_GOOD = 0.75
"""Share of the best dates' expected crop, and of their growth, that a date needs to be called a
good time: garlic planted in April does make bulbs, but small ones (common practice)."""
ENOUGH_TO_LEAD = 0.5
"""Share of the best dates' expected crop, and of their growth, from which a season leads that comes
earlier in the year (common practice): half of autumn's turnips are eaten in June, when there are no
others. Below it the later season is the main one, as with garlic planted in spring."""
CLEARLY_SAFER = 0.1
"""By how much a season's odds must be higher to be clearly safer: one harvest more in ten years
(common practice)."""
AS_SAFE = 0.05
"""By how much the odds of two seasons may differ that are about as safe (common practice)."""
PARTED_BY_HEAT = 0.3
"""Fall of the odds within spring after which dates that come to a harvest again are the beginning
of summer's run (common practice): cauliflower fails from March on in a hot place, and crops again
from June on."""
SHORTEST_SPAN = 7
"""Days below which a run of start dates is luck rather than a recommendation."""
BEFORE_MIDSUMMER = 40
"""Days before the warmest of the year from which a start is made for autumn."""
INTO_NEXT_YEAR = 30
"""Days after the coldest of the year from which a harvest belongs to the next year."""

SEASONS = ("spring", "summer for autumn", "autumn for the next year")


class Span(NamedTuple):
    """A run of start dates, as days of the year counted from 0; it may wrap round its end."""

    season: str
    first: int
    best: int
    last: int
    largest_from: int
    largest_to: int

    @property
    def days(self) -> int:
        """Length of the run."""
        return (self.last - self.first) % DAYS + 1


def start_seasons(life_days: np.ndarray, coldest: int, warmest: int) -> np.ndarray:
    """Number in `SEASONS` of each start date.

    Parameters
    ----------
    life_days : ndarray, shape (365,)
        Days from the start to the first harvest in a middling year; missing where there is none.
    coldest, warmest : int
        Days of the year, counted from 0, of the smoothed climatology.
    """
    since_coldest = (np.arange(DAYS) - coldest) % DAYS
    turn = (warmest - coldest) % DAYS - BEFORE_MIDSUMMER
    harvest = since_coldest + np.nan_to_num(life_days)
    return np.select([harvest > DAYS + INTO_NEXT_YEAR, since_coldest >= turn], [2, 1], 0)


def recommended_spans(
    share: np.ndarray,
    growth: np.ndarray,
    worth: np.ndarray,
    life_days: np.ndarray,
    coldest: int,
    warmest: int,
    *,
    least_odds: float = LEAST_ODDS,
    is_warm: bool = False,
) -> list[Span]:
    """Kernel of `recommended_dates` for one way of growing.

    Parameters
    ----------
    share, growth, worth, life_days : ndarray, shape (365,)
        By start date: odds of a harvest, its growth, expected crop in any unit, and days to the
        harvest.
    coldest, warmest : int
        As for `start_seasons`.
    least_odds : float
        Odds from which a date is recommended.
    is_warm : bool
        As `lives_one_summer` says of a crop.

    Returns
    -------
    list of Span
        At most one for each season, in the order of `SEASONS`.
    """
    lives = circular_mean(life_days)
    season_of = start_seasons(lives, coldest, warmest)
    spans = _spans(_smoothed(share, growth, worth), season_of, coldest, least_odds)
    return _without_long_waits(spans, lives) if is_warm else spans


class _Smoothed(NamedTuple):
    """Running means over the year of what came of each start date, shape (365,)."""

    odds: np.ndarray
    crop: np.ndarray
    """Expected crop, in any unit."""
    value: np.ndarray
    """Odds times growth."""


def _smoothed(share: np.ndarray, growth: np.ndarray, worth: np.ndarray) -> _Smoothed:
    value = circular_mean(share * np.nan_to_num(growth))
    return _Smoothed(circular_mean(share), circular_mean(worth), value)


def _spans(
    smoothed: _Smoothed, season_of: np.ndarray, coldest: int, least_odds: float
) -> list[Span]:
    odds = np.nan_to_num(smoothed.odds)
    best_value = np.where(odds >= least_odds, smoothed.value, 0).max()
    spans = []
    for number, season in enumerate(SEASONS):
        candidates = (odds >= least_odds) & (season_of == number)
        if not candidates.any():
            continue
        most = int(np.argmax(np.where(candidates, smoothed.crop, -1)))
        if smoothed.value[most] < WORTH_A_SEASON * best_value:
            continue
        worth_it = smoothed.value >= WORTH_IT * smoothed.value[most]
        first, last = _longest_run(candidates & worth_it)
        in_run = (np.arange(DAYS) - first) % DAYS <= (last - first) % DAYS
        top = int(np.argmax(np.where(in_run, smoothed.crop, -1)))
        near_best = in_run & (smoothed.crop >= NEAR_BEST * smoothed.crop[top])
        largest_from = _run_back(near_best, top)
        largest_to = _run_on(near_best, top, before=largest_from)
        wait = (largest_to - largest_from) % DAYS // 2
        if season == "spring":
            largest_from, days = _first_stretch(near_best, first)
            wait = min((days - 1) // 2, SOON_DAYS)
        best = (largest_from + wait) % DAYS
        span = Span(season, first, best, last, largest_from, largest_to)
        if span.days >= SHORTEST_SPAN:
            spans.append(span)
    return _without_head_of_summer(spans, odds, coldest)


def _without_long_waits(spans: list[Span], life_days: np.ndarray) -> list[Span]:
    """Spans of a warm crop, without those of autumn that stand through the winter.

    Where winter is as warm as summer, autumn's take no longer than others, and stay.
    """
    life = {span.season: life_days[span.best] for span in spans}
    over_winter = life.pop(SEASONS[-1], 0.0)
    if not life or over_winter <= LONGEST_WAIT * min(life.values()):
        return spans
    return [span for span in spans if span.season != SEASONS[-1]]


def _without_head_of_summer(spans: list[Span], odds: np.ndarray, coldest: int) -> list[Span]:
    """Spans, where one of spring that runs on into summer's, after heat, is joined to it."""
    if [span.season for span in spans[:2]] != list(SEASONS[:2]):
        return spans
    head, summer, *others = spans
    before = odds[(coldest + np.arange((head.first - coldest) % DAYS + 1)) % DAYS]
    fall = (np.maximum.accumulate(before) - before).max()
    if (summer.first - head.last) % DAYS != 1 or fall < PARTED_BY_HEAT:
        return spans
    return [summer._replace(first=head.first), *others]


def weaker_in_winter(share: np.ndarray, first: np.ndarray, last: np.ndarray) -> int | None:
    """Place of the span that meets another in midwinter and is clearly less safe; None without one.

    Where winters are mild, dates run on through them and are parted on the coldest day alone. To a
    gardener they are one season, and its weaker end is not what to begin with.

    Parameters
    ----------
    share : ndarray, shape (spans,)
        Share of harvests at the best date of each span, in the order of `SEASONS`.
    first, last : ndarray, shape (spans,)
        First and last day of each.
    """
    if len(share) < 2 or (first[0] - last[-1]) % DAYS != 1:
        return None
    if share[-1] - share[0] >= CLEARLY_SAFER:
        return 0
    return len(share) - 1 if share[0] - share[-1] >= CLEARLY_SAFER else None


def through_winter(
    place: int, share: np.ndarray, first: np.ndarray, last: np.ndarray
) -> tuple[int, int]:
    """First and last day of a span, with the one that it meets in midwinter if that is as safe.

    In a mild place cool-weather crops are sown from autumn to spring: that is one run of dates, and
    where summer's dates meet both ends of it, the whole year is.

    Parameters
    ----------
    place : int
        Of the span among the others.
    share, first, last : ndarray, shape (spans,)
        As for `weaker_in_winter`.
    """
    meets = (first - np.roll(last, 1)) % DAYS == 1  # each with the one before it
    is_an_end = place in (0, len(share) - 1)
    is_one_run = len(share) > 1 and meets[0] and abs(share[0] - share[-1]) <= AS_SAFE
    if not is_an_end or not is_one_run:
        return int(first[place]), int(last[place])
    if meets.all() and np.ptp(share) <= AS_SAFE:
        return int(first[0]), int(last[-1])
    return int(first[-1]), int(last[0])


def leading_span(
    share: np.ndarray,
    crop: np.ndarray,
    growth: np.ndarray,
    *,
    weaker: int | None = None,
    needs_winter: bool = False,
) -> int:
    """Position of the span to name first if no date was asked for.

    The first season of the year whose dates are recommended, that is with odds of `LEAST_ODDS` or
    more and a crop worth having, even if a later one is safer still or has a larger crop: who asks
    about peas means those of spring. Where no season's odds are so good, the first with a crop
    worth having. The weaker end of dates that run through the winter never
    leads. Of crops that need a winter's cold, the season with the largest crop does.

    Parameters
    ----------
    share, crop, growth : ndarray, shape (spans,)
        At the best date of each span: the share of harvests in years left out of the choice, the
        expected crop as a share of the largest of its variety, and the growth.
    weaker : int, optional
        As `weaker_in_winter` finds it.
    needs_winter : bool
        As `needs_winter` says of a crop.
    """
    largest = crop >= crop.max()
    if needs_winter:
        return int(np.argmax(largest))
    safe = share >= LEAST_ODDS
    worth_it = (crop >= ENOUGH_TO_LEAD * crop.max()) & (growth >= ENOUGH_TO_LEAD * growth.max())
    stands = np.arange(len(share)) != (-1 if weaker is None else weaker)
    choices = (each for each in (safe & worth_it & stands, worth_it & stands) if each.any())
    return int(np.argmax(next(choices, largest)))


def has_full_crop(crop: np.ndarray, growth: np.ndarray) -> np.ndarray:
    """Which spans have nearly the largest crop, and grow nearly as well as any."""
    return np.asarray((crop >= AS_GOOD * crop.max()) & (growth >= AS_GOOD * growth.max()))


def needs_winter(crop: Crop) -> bool:
    """Whether a crop is planted for the next year, since it needs a winter's cold."""
    return crop.winter is not None and crop.winter.cold_days is not None


def lives_one_summer(crop: Crop) -> bool:
    """Whether a crop likes warm weather, and does not wait in the soil for it through a winter."""
    return crop.season == "warm" and not crop.waits_in_frozen_soil


def _longest_run(held: np.ndarray) -> tuple[int, int]:
    """First and last day of the longest run of true days, the earliest of those as long.

    Dates that heat parts from the rest of their season, such as the head of summer's run that falls
    into spring, are no span of their own.
    """
    first, days = max(sorted(runs_of_year(held)), key=lambda run: run[1])
    return first, (first + days - 1) % DAYS


def _first_stretch(held: np.ndarray, after: int) -> tuple[int, int]:
    """First day and length of the first run of true days after a day that is not short."""
    runs = sorted(runs_of_year(held), key=lambda run: (run[0] - after) % DAYS)
    long_enough = [run for run in runs if run[1] >= SHORTEST_SPAN]
    return long_enough[0] if long_enough else max(runs, key=lambda run: run[1])


def _run_back(held: np.ndarray, day: int) -> int:
    """First day of the run of true days that ends on `day`."""
    first = day
    while held[(first - 1) % DAYS] and (day - first) % DAYS < DAYS - 1:
        first = (first - 1) % DAYS
    return first


def _run_on(held: np.ndarray, day: int, *, before: int) -> int:
    """Last day of the run of true days that begins on `day`, short of going round the year."""
    last = day
    while held[(last + 1) % DAYS] and (last + 1) % DAYS != before:
        last = (last + 1) % DAYS
    return last


# --- the dates that lead, judged on years left out ----------------------------------------


class Choice(NamedTuple):
    """The dates to name first for one way of growing, and how they are judged.

    Days of the year count from 1; missing where no year is known.
    """

    first: float
    best: float
    last: float
    season: int
    """Number in `SEASONS`; -1 where no season is safe, and the run is that of the largest crop."""
    harvested: float
    """Harvests from the best dates that are chosen without each block of years, in that block, with
    an allowance for a choice from fewer years, see `judged_best`."""
    known: float
    """Known years of those."""
    stable: np.ndarray
    """Share of the blocks without which a date comes near the largest crop, shape (365,)."""
    others: np.ndarray
    """First and last day of other seasons' dates, missing where there are none, shape (2, 2)."""


NO_OTHERS = np.full((len(SEASONS) - 1, 2), np.nan)
"""Where only one season has dates, see `Choice`."""


def choose_dates(
    share: np.ndarray,
    growth: np.ndarray,
    worth: np.ndarray,
    life_days: np.ndarray,
    blocks: Blocks,
    coldest: int,
    warmest: int,
    *,
    needs_winter: bool = False,
    is_cool: bool = False,
    is_warm: bool = False,
) -> Choice:
    """Choose the dates that lead; where no season is safe, those near the largest crop.

    Parameters
    ----------
    share, growth, worth, life_days : ndarray, shape (365,)
        As for `recommended_spans`.
    blocks : Blocks
        What came of each start date in each block of years.
    coldest, warmest : int
        As for `start_seasons`.
    needs_winter : bool
        As for `leading_span`.
    is_cool : bool
        Whether the crop likes cool weather: its dates may run through the winter.
    is_warm : bool
        As for `recommended_spans`.
    """
    known = blocks.known.sum(axis=-1) > 0
    if not known.any():
        return Choice(np.nan, np.nan, np.nan, -1, 0.0, 0.0, np.zeros(DAYS), NO_OTHERS)
    worth = np.nan_to_num(worth)
    elsewhere, stable = chosen_elsewhere(blocks)
    lives = circular_mean(life_days)
    season_of = start_seasons(lives, coldest, warmest)
    smoothed = _smoothed(share, growth, worth)
    spans = _spans(smoothed, season_of, coldest, LEAST_ODDS)
    if is_warm:
        spans = _without_long_waits(spans, lives)
    if not spans:
        first, days = best_run(worth, known, stable=stable)
        best = best_start(worth, known, stable)
        last = (first + days - 1) % DAYS
        judged = judged_best(blocks, elsewhere, best)
        return Choice(first + 1, best + 1, last + 1, -1, *judged, stable, NO_OTHERS)
    hits, years = np.transpose(_spans_elsewhere(spans, blocks, season_of, coldest))
    at_best = [span.best for span in spans]
    crop = worth[at_best] / smoothed.crop.max()
    safe = hits / np.maximum(years, 1)
    first, last = np.transpose([(span.first, span.last) for span in spans])
    weaker = weaker_in_winter(safe, first, last)
    leading = leading_span(safe, crop, growth[at_best], weaker=weaker, needs_winter=needs_winter)
    span = spans[leading]
    run = through_winter(leading, safe, first, last) if is_cool else (span.first, span.last)
    others = NO_OTHERS.copy()
    apart = [(each.first, each.last) for each in spans if not _holds(run, each.best)]
    others[: len(apart)] = np.array(apart, dtype=float).reshape(-1, 2) + 1
    return Choice(
        run[0] + 1,
        span.best + 1,
        run[1] + 1,
        SEASONS.index(span.season),
        float(hits[leading]),
        float(years[leading]),
        stable,
        others,
    )


def _holds(run: tuple[int, int], day: int) -> bool:
    """Whether a run of dates, which may wrap round the year's end, has a day."""
    return (day - run[0]) % DAYS <= (run[1] - run[0]) % DAYS


def _spans_elsewhere(
    spans: Sequence[Span], blocks: Blocks, season_of: np.ndarray, coldest: int
) -> list[tuple[float, float]]:
    """Harvests and years of each season's best date, chosen without the years that judge it.

    By lower odds where the other years leave a season without safe dates.
    """
    others = blocks.without_each()
    growth = others.growth / np.maximum(others.harvested, 1e-9)
    smoothed = _smoothed(others.share, growth, others.mean_worth)  # each of shape (blocks, 365)
    days = np.array([[span.best] * len(others.known) for span in spans])
    for block, without in enumerate(zip(*smoothed, strict=True)):
        chosen: dict[str, int] = {}
        for least_odds in (LEAST_ODDS, LEAST_ODDS / 2, 0.0):
            for each in _spans(_Smoothed(*without), season_of, coldest, least_odds):
                chosen.setdefault(each.season, each.best)
            if all(span.season in chosen for span in spans):
                break
        for n, span in enumerate(spans):
            days[n, block] = chosen.get(span.season, span.best)
    return [
        judged_best(blocks, of_span, span.best) for span, of_span in zip(spans, days, strict=True)
    ]
