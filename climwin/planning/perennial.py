"""Plants that stand for years: winter, rest and bloom or sprouting, frost on buds, and harvest.

There is no start to choose. Each year is one life, from the rest of the winter that it begins in to
its harvest.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import partial

import numpy as np

from climwin.core.schema import TOLERANCE_C
from climwin.core.seasons import DAYS
from climwin.crops.model import (
    CHILL_BELOW_C,
    RIPENING_BASE_C,
    Bloom,
    BudStage,
    Crop,
    Sprouting,
)
from climwin.planning.growth import (
    BUDS,
    COLD_NEED,
    HARVEST,
    HOT,
    LEAST_AFTER_HEAT,
    LEAST_CUT_SHORT,
    LOSS_PER_DEGREE,
    NOT_RIPE,
    OPEN,
    WINTER,
    Life,
    heat_limits,
)
from climwin.planning.phases import NEVER, next_day
from climwin.planning.site import Site, Surroundings, running_sum

REST_BEFORE, REST_AFTER = 120, 150
"""Days before and after the coldest day of the climatology between which rest is broken."""
COLD_BEFORE_START = 60
"""Days before the start of a year from which its coldest day is looked for. [day]

In the north it may come in December, and the year is still that of the harvest.
"""
LATE_REST = 50
"""Days after the coldest day on which rest ends where the winter has brought only the least
chilling: about 1 March, from which Parker et al. (2011, from memory) count the heat of vines."""
SCARCE_WINTERS = 0.1
"""Share of the winters that may bring less chill than a tree needs: a kind is chosen by the chill
that is exceeded in nine winters of ten (safe winter chill: Luedeling and Brown 2011, Int. J.
Biometeorol. 55:411)."""
FLOWER_GROUPS = 5
"""Groups of flowers that open one after the other where a crop is long in bloom."""
LATEST_CUT = 240
"""Days after the coldest day by which a sprouting herb must have been cut."""
LATEST_RIPE = 300
"""Days after the coldest day by which fruit must be ripe: early November in the north."""
ENOUGH_BUDS = 0.1
"""Share of the flower buds below which there is no crop worth picking (common practice: a tenth of
the blossom sets a full crop of apples)."""
FULL_BUDS = 0.3
"""Share of the flower buds that carries a full crop (common practice)."""
AFTER_BLOOM_DAYS = 30
"""Days after full bloom over which the temperatures of the last bud stage hold."""
LOST_CUT_DAYS = 7
"""Days until shoots that froze have grown again (common practice)."""

UTAH = ((1.4, 0.0), (2.4, 0.5), (9.1, 1.0), (12.4, 0.5), (15.9, 0.0), (18.0, -0.5))
"""Upper end of each class of temperature and the chill units of an hour in it; -1 above the last
(Richardson et al. 1974, from memory). [degC, 1]"""
GDH_BASE_C, GDH_OPTIMUM_C, GDH_CEILING_C = 4.0, 25.0, 36.0
"""Of growing degree hours (Anderson et al. 1986, from memory). [degC]"""


def utah_units(hours: np.ndarray) -> np.ndarray:
    """Chill units of each day, shape (days, 24) to (days,)."""
    ends = np.array([end for end, _ in UTAH])
    units = np.array([*(unit for _, unit in UTAH), -1.0])
    return units[np.searchsorted(ends, hours)].sum(axis=-1)


def growing_degree_hours(hours: np.ndarray) -> np.ndarray:
    """Growing degree hours of each day, shape (days, 24) to (days,).

    Two cosines, up from the base to the optimum and down to the ceiling (Anderson et al. 1986).
    """
    span = GDH_OPTIMUM_C - GDH_BASE_C
    up = span / 2 * (1 + np.cos(np.pi + np.pi * (hours - GDH_BASE_C) / span))
    fall = GDH_CEILING_C - GDH_OPTIMUM_C
    down = span * (1 + np.cos(np.pi / 2 + np.pi / 2 * (hours - GDH_OPTIMUM_C) / fall))
    rising = (hours > GDH_BASE_C) & (hours <= GDH_OPTIMUM_C)
    falling = (hours > GDH_OPTIMUM_C) & (hours < GDH_CEILING_C)
    return np.select([rising, falling], [up, down], 0.0).sum(axis=-1)


@dataclass
class _Year:
    """One year's outcome, filled in as its rules are met; days of the record."""

    reason: int = OPEN
    stage: int = -1
    up: int = NEVER
    ripe: int = NEVER
    last: int = NEVER
    quality: float = 1.0
    ended: int = NEVER


def stand(site: Site, crop: Crop, starts: np.ndarray) -> Life:
    """Let a perennial stand through each year.

    Parameters
    ----------
    site : Site
        Weather without gaps.
    crop : Crop
        A perennial.
    starts : ndarray of int, shape (starts,)
        Day of the record on which each year begins. Its coldest day is the first from
        `COLD_BEFORE_START` days before on.

    Returns
    -------
    Life
        ``up`` is full bloom, or the first cut's first growth.
    """
    upcoming = next_day(site.day_of_year == site.coldest_day)
    coldest = upcoming[np.clip(starts - COLD_BEFORE_START, 0, len(site))]
    # Where the record begins after it, the next one is already another year's.
    coldest = np.where(coldest <= starts + DAYS - COLD_BEFORE_START, coldest, NEVER)
    need = chill_need_at(site, crop)
    years = [_year(site, crop, need, day) for day in coldest.tolist()]
    return _as_life(site, crop, starts, years)


def chill_need_at(site: Site, crop: Crop) -> float:
    """Chill units that end the rest of the kind that is grown at a place.

    The common kinds', or, where winters are too mild for these, what nine winters in ten bring, if
    there are kinds that need no more; 0 of what has no rest.
    """
    bloom = crop.perennial.bloom if crop.perennial is not None else None
    if bloom is None:
        return 0.0
    if bloom.low_chill_units is None:
        return bloom.chill_units
    around, day = site.whole.outdoors(), site.whole.day_of_year
    units = running_sum(around.of_hours("chill units", chill_units))
    coldest = np.flatnonzero(day == site.coldest_day)
    coldest = coldest[(coldest >= REST_BEFORE) & (coldest + REST_AFTER <= len(day))]
    if not len(coldest):
        return bloom.chill_units
    of_winters = units[coldest + REST_AFTER] - units[coldest - REST_BEFORE]
    safe = np.quantile(of_winters, SCARCE_WINTERS)
    return float(np.clip(safe, bloom.low_chill_units, bloom.chill_units))


def _year(site: Site, crop: Crop, chill_need: float, coldest: int) -> _Year:
    if coldest - REST_BEFORE < 0 or coldest == NEVER:
        return _Year()  # the record begins within its rest, or ends before it
    perennial = crop.perennial
    assert perennial is not None
    if perennial.bloom is not None:
        return _blooming_year(site, crop, perennial.bloom, chill_need, coldest)
    assert perennial.sprouting is not None
    return _sprouting_year(site, crop, perennial.sprouting, coldest)


def _blooming_year(site: Site, crop: Crop, bloom: Bloom, chill_need: float, coldest: int) -> _Year:
    around, perennial = site.outdoors(), crop.perennial
    assert perennial is not None
    begin, latest = coldest - REST_BEFORE, min(coldest + REST_AFTER, len(site))
    rested = _end_of_rest(around, chill_need, begin, latest)
    if rested == NEVER and coldest + REST_AFTER < len(site):
        rested = _late_end_of_rest(around, bloom, begin, latest)
    heat = around.sums(
        "growing degree hours",
        lambda each: each.of_hours("growing degree hours", growing_degree_hours),
    )
    buds = [_day_of_heat(heat, rested, stage.share * bloom.heat_to_bloom) for stage in bloom.buds]
    full = _day_of_heat(heat, rested, bloom.heat_to_bloom)
    asleep_until = min(buds[0], latest)

    if not perennial.crown_below_ground:
        killed = _first_night(around, perennial.hardy_to_c, begin, asleep_until)
        if killed < NEVER:
            return _Year(WINTER, ended=killed)
    if perennial.buds_hardy_to_c is not None:
        killed = _first_night(around, perennial.buds_hardy_to_c, begin, asleep_until)
        if killed < NEVER:
            return _Year(BUDS, ended=killed)
    if rested == NEVER:
        return _Year(COLD_NEED, ended=latest) if coldest + REST_AFTER < len(site) else _Year()
    if full == NEVER:
        return _Year()
    return _fruiting_year(site, crop, bloom, [*buds, full + AFTER_BLOOM_DAYS], full, coldest)


def _fruiting_year(
    site: Site, crop: Crop, bloom: Bloom, buds: list[int], full: int, coldest: int
) -> _Year:
    """Outcome of a year with bloom: the buds that frost leaves, and whether the fruit ripens."""
    alive, last_killing = _flowers_alive(site.outdoors(), bloom, buds)
    if alive < ENOUGH_BUDS:
        return _Year(BUDS, up=full, ended=last_killing)
    year = _Year(up=full, quality=min(alive / FULL_BUDS, 1.0))
    ripe = full + round(bloom.days_to_harvest)
    if bloom.heat_to_ripen is not None:
        latest = coldest + LATEST_RIPE
        warm = _warm_enough(site.outdoors(), bloom.heat_to_ripen, coldest)
        if warm > latest:
            late = _Year(NOT_RIPE, stage=len(crop.stages) - 1, up=full, ended=latest)
            return late if latest < len(site) else _Year()
        ripe = max(ripe, warm)
    return _ripened(site, crop, year, ripe)


def _warm_enough(around: Surroundings, heat_to_ripen: float, coldest: int) -> int:
    """Day by which the heat since the coldest day ripens the fruit, or `NEVER`."""
    heat = around.sums("heat that ripens", lambda each: np.maximum(each.tmean - RIPENING_BASE_C, 0))
    return _day_of_heat(heat, coldest, heat_to_ripen)


def _first_night(around: Surroundings, limit: float, begin: int, end: int) -> int:
    """First night at or below a limit, or `NEVER`."""
    upcoming = around.once(
        ("next night", limit), lambda: next_day(around.tmin <= limit + TOLERANCE_C)
    )
    night = int(upcoming[begin])
    return night if night < end else NEVER


def chill_units(hours: np.ndarray) -> np.ndarray:
    """Daily positive chill units, shape (days, 24) to (days,).

    A warm day undoes no chilling but its own, as suits places with mild winters.

    References
    ----------
    .. [1] G. C. Linsley-Noakes, M. Louw and P. Allan, "Estimating daily positive Utah chill units
       using daily minimum and maximum temperatures," Journal of the Southern African Society for
       Horticultural Sciences, vol. 5, pp. 19-22, 1995 (from memory).
    """
    return np.maximum(utah_units(hours), 0.0)


def _chilling(around: Surroundings, begin: int, latest: int) -> np.ndarray:
    """Chill units so far, by day of the rest."""
    return np.cumsum(around.of_hours("chill units", chill_units)[begin:latest])


def _end_of_rest(around: Surroundings, need: float, begin: int, latest: int) -> int:
    """Day on which the chill units reach the need."""
    if need <= 0:
        return begin
    enough = np.flatnonzero(_chilling(around, begin, latest) >= need)
    return begin + int(enough[0]) if len(enough) else NEVER


def _late_end_of_rest(around: Surroundings, bloom: Bloom, begin: int, latest: int) -> int:
    """Day on which rest ends after a winter that brought less than the need."""
    least = bloom.least_chill_units
    if least is None:
        return NEVER
    enough = np.flatnonzero(_chilling(around, begin, latest) >= least)
    return max(begin + int(enough[0]), begin + REST_BEFORE + LATE_REST) if len(enough) else NEVER


def _day_of_heat(heat: np.ndarray, begin: int, need: float) -> int:
    if begin == NEVER:
        return NEVER
    day = int(np.searchsorted(heat, heat[begin] + need - 1e-9))
    return day if day < len(heat) else NEVER


def _flowers_alive(around: Surroundings, bloom: Bloom, days: list[int]) -> tuple[float, int]:
    """Share of the flowers that the nights leave alive, and the last night that killed some.

    Where they open one after the other, groups of equal size follow each other in even steps.
    """
    if not bloom.flowering_days:
        return _buds_alive(around, bloom.buds, days)
    later = np.linspace(0, bloom.flowering_days, FLOWER_GROUPS).round().astype(int).tolist()
    groups = [_buds_alive(around, bloom.buds, [day + n for day in days]) for n in later]
    nights = [last for _, last in groups if last < NEVER]
    return sum(alive for alive, _ in groups) / len(groups), max(nights, default=NEVER)


def _buds_alive(
    around: Surroundings, stages: tuple[BudStage, ...], days: list[int]
) -> tuple[float, int]:
    """Share of the buds that the nights leave alive, and the last night that killed some.

    Between the temperatures that kill a tenth and nine tenths the share is taken on a straight
    line, which is carried on to none and all.
    """
    alive, last = 1.0, NEVER
    for stage, begin, end in zip(stages, days[:-1], days[1:], strict=True):
        limits = stage.tenth_killed_c, stage.most_killed_c
        each_night = around.once(("buds killed", *limits), partial(_buds_killed, around, *limits))
        killed = each_night[begin : min(end, len(each_night))]
        if len(killed) and killed.max() > 0:
            # One bud dies once: the coldest night of a stage counts, milder ones kill no more.
            alive *= 1 - float(killed.max())
            last = begin + int(killed.argmax())
    return alive, last


def _buds_killed(around: Surroundings, tenth_killed_c: float, most_killed_c: float) -> np.ndarray:
    """Share of the buds that each night would kill, shape (days,)."""
    span = max(tenth_killed_c - most_killed_c, 0.1)
    killed = np.clip(0.1 + 0.8 * (tenth_killed_c - around.tmin) / span, 0, 1)
    return np.where(around.tmin <= tenth_killed_c + TOLERANCE_C, killed, 0.0)


def _ripened(site: Site, crop: Crop, year: _Year, ripe: int) -> _Year:
    around, last_stage = site.outdoors(), len(crop.stages) - 1
    if ripe >= len(site):
        return _Year()
    killed_at = crop.stages[-1].cold.killed_at_c
    hanging = slice(year.up + AFTER_BLOOM_DAYS, ripe)
    if bool((around.tmin[hanging] <= killed_at + TOLERANCE_C).any()):
        return _Year(NOT_RIPE, stage=last_stage, up=year.up, ended=ripe)
    heat = crop.stages[-1].heat
    if heat is not None:
        for element, begins, fails in heat_limits(heat):
            mean = float(getattr(around, element)[year.up : ripe].mean())
            if fails is not None and mean > fails + TOLERANCE_C:
                return _Year(HOT, stage=last_stage, up=year.up, ended=ripe)
            kept = 1 - LOSS_PER_DEGREE * max(mean - begins, 0)
            year.quality *= float(np.clip(kept, LEAST_AFTER_HEAT, 1))
    year.reason, year.ripe, year.last, year.ended = HARVEST, ripe, ripe, ripe
    return year


def _sprouting_year(site: Site, crop: Crop, sprouting: Sprouting, coldest: int) -> _Year:
    around, perennial = site.outdoors(), crop.perennial
    assert perennial is not None
    winter = slice(coldest - REST_BEFORE, min(coldest + REST_BEFORE // 2, len(site)))
    if not perennial.crown_below_ground:
        nights = np.flatnonzero(around.tmin[winter] <= perennial.hardy_to_c + TOLERANCE_C)
        if len(nights):
            return _Year(WINTER, ended=winter.start + int(nights[0]))
    cold = int((around.tmean[winter] < CHILL_BELOW_C).sum())
    if cold < sprouting.chill_days:
        return _Year(COLD_NEED, ended=winter.stop) if winter.stop < len(site) else _Year()
    driver = around.tmean
    if sprouting.in_soil:
        driver = around.once("soil at 20 cm", lambda: site.soil_at(0.20))
    heat = around.soil_sums(
        ("sprouting", sprouting.in_soil, sprouting.base_c),
        lambda _: np.maximum(driver - sprouting.base_c, 0),
    )
    first = _day_of_heat(heat, coldest, sprouting.heat_to_first_cut)
    if first > coldest + LATEST_CUT:
        ended = coldest + LATEST_CUT
        return _Year(NOT_RIPE, ended=ended) if ended < len(site) else _Year()
    last = first + sprouting.harvest_days
    if last >= len(site):
        return _Year()
    frozen = int((around.tmin[first:last] <= sprouting.cut_killed_at_c + TOLERANCE_C).sum())
    quality = float(
        np.clip(1 - LOST_CUT_DAYS * frozen / sprouting.harvest_days, LEAST_CUT_SHORT, 1)
    )
    return _Year(HARVEST, up=first, ripe=first, last=last, quality=quality, ended=last)


def _as_life(site: Site, crop: Crop, starts: np.ndarray, years: list[_Year]) -> Life:
    def column(name: str) -> np.ndarray:
        return np.array([getattr(year, name) for year in years], dtype=np.int64)

    around, card = site.outdoors(), crop.response.temperatures
    daily = around.sums(("response", card), lambda each: each.response(card))
    lit = around.sums(("light", card), lambda each: each.response(card) * each.radiation)
    reason, up, ripe, ended = (column(name) for name in ("reason", "up", "ripe", "ended"))
    quality = np.array([year.quality for year in years])
    harvested = reason == HARVEST
    begin = np.where(harvested, up, 0)
    # What is cut as it sprouts is made of last year's stores: growth over the cutting time counts.
    end = np.where(harvested, np.maximum(column("last"), begin + 1), 1)
    growth = (daily[end] - daily[begin]) / np.maximum(end - begin, 1) * quality
    made = (lit[end] - lit[begin]) * quality
    begins = np.full((len(starts), len(crop.stages)), NEVER, dtype=np.int64)
    begins[:, 0] = up
    return Life(
        reason=reason,
        stage=column("stage"),
        up=up,
        set_out=np.full(len(starts), NEVER),
        ripe=ripe,
        last=column("last"),
        begins=begins,
        growth=np.where(harvested, growth, np.nan),
        yield_index=np.select([harvested, reason != OPEN], [made, 0.0], np.nan),
        touched_until=np.where(ended < NEVER, ended, len(site)),
    )
