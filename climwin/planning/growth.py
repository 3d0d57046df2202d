"""The growing model: a crop's life from every start, day by day, and what ends it.

All starts are computed at once. Daily growth is kept as a running sum: a search in it finds the day
on which a stage ends, and a difference of two of its values is what a rule counts between two days.
Each rule gives the day on which it fails the crop, and the earliest of these days gives the reason.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from functools import cached_property, partial
from operator import attrgetter

import numpy as np

from climwin.core.schema import TOLERANCE_C
from climwin.crops.model import (
    COLD_NEED_RANGE_C,
    DAYS_TO_HEAL,
    DAYS_TO_SPROUT_AGAIN,
    LEAST_DAY_H,
    LOST_WITH_SHOOTS,
    WARM_AFTERNOON_C,
    Chilling,
    Crop,
    Heat,
    Setting,
    Stage,
    Vernalization,
)
from climwin.planning.emergence import (
    LONGEST_WAIT,
    LONGEST_WINTER_LIFE,
    emergence_rate,
    longest_emergence,
    longest_life,
)
from climwin.planning.heat_needs import POT_RATE, heat_to_harvest, raised_heat
from climwin.planning.phases import NEVER, PhasedDays, Way, next_day, next_scorching
from climwin.planning.site import Site, Surroundings, running_sum, trailing_mean

REASONS = (
    "no bed workable",
    "did not come up: too cold",
    "did not come up: too hot",
    "killed by cold",
    "chilled",
    "fruit did not set",
    "too hot",
    "bolted",
    "cold need not met",
    "day length",
    "not ripe before the end",
    "killed inside: too cold",
    "killed inside: scorched",
    "winter kill",
    "buds killed by frost",
)
"""Why a start fails: the complete list."""

NO_BED, UP_COLD, UP_HOT, COLD, CHILLED, NO_SET, HOT, BOLTED = range(8)
COLD_NEED, DAY_LENGTH, NOT_RIPE, INSIDE_COLD, INSIDE_HOT, WINTER, BUDS = range(8, 15)


WORKABLE_BED_C = 2.0
"""Five-day mean of the soil at 10 cm below which no bed can be worked (common practice)."""
HARDENED_AT_C, TENDER_AT_C = 4.0, 12.0
"""Mean of the last 14 days at which a cool crop is fully hardened, and not at all (from memory:
cabbages and spinach harden at 0 to 5 degC within two weeks)."""
WINTER_HARDENED_AT_C = 8.0
"""Mean of the last 14 days below which an overwintering crop is in its winter (from memory)."""
MOST_HOT_LOSS = 0.25
"""Share of its last third's growth that a crop may lose to hours above its optimum; fitted on half
of the places in ``tests/agreement``."""
LOSS_PER_DEGREE = 0.07
"""Share of the harvest lost for each degree beyond where heat begins to harm: 85 to 90 degF cost
peas 20 %, that is 7 % a degree (Lambert and Linck 1958, from memory)."""
SLOW_START, STAND_LOST_PER_DAY = 5.0, 0.02
"""Days of emergence that cost a warm crop nothing, and the share of its stand that each further day
in the ground takes (common practice)."""
LEAST_COLD = 1 / 4
"""Share of its cold need below which garlic makes one round instead of cloves (common practice)."""
GOOD_GROWTH = 0.6
"""Growth from which a harvest is called good (common practice)."""
POOR_GROWTH = 0.4
"""Growth below which a harvest is called poor: two thirds of what is good (common practice)."""
LEAST_FROSTED, MOST_FROSTED = 0.1, 0.9
"""Share of a stage's tissue that a night takes where damage begins, and just short of death; on a
straight line in between. Limits are published in this form for pea flowers (STICS V10: a tenth lost
at -4.5, nine tenths at -6.5 degC) and for the buds of trees."""
LEAVES_IN_HARVEST = 1 / 3
"""Share of the harvest that frosted leaves cost for each share of the leaves, since they grow again
(common practice); flowers, fruits and leaves that are harvested are lost for good."""
UNDER_SOIL = ("bulbs", "roots", "tuber set", "tubers")
"""Stages whose harvest lies under the soil, or low on it: frost takes their leaves."""
LEAST_AFTER_HEAT = 0.2
"""Least share of the harvest that heat leaves if it does not fail the crop (common practice)."""
LEAST_CUT_SHORT = 0.3
"""Share of a full crop that a crop cut before it is ripe counts at least, since it may be cut from
`Crop.cut_from_share` on (common practice)."""
PICKED_SHARE = 0.5
"""Share of its picking time that a fruiting crop must live through to count as harvested (common
practice)."""


@dataclass(frozen=True)
class Life:
    """The outcome of each start, as arrays of shape (starts,).

    Parameters
    ----------
    reason : ndarray of int
        Number of the reason in `REASONS`, -1 for a harvest, -2 where the record ends too soon.
    stage : ndarray of int
        Number of the stage in which it failed, -1 before emergence.
    up, set_out, ripe, last : ndarray of int
        Days of the record: emergence, setting out, first harvest, end of harvest. `NEVER` where it
        does not come to it.
    begins : ndarray of int, shape (starts, stages)
        Days on which stages begin.
    growth : ndarray
        Mean response over the harvested stages, less what heat and early cutting cost, 0 to 1.
    yield_index : ndarray
        Response times radiation from emergence, or from setting out where that is later, less the
        same losses. [MJ m-2]
    touched_until : ndarray of int
        Last day whose weather matters.
    """

    reason: np.ndarray
    stage: np.ndarray
    up: np.ndarray
    set_out: np.ndarray
    ripe: np.ndarray
    last: np.ndarray
    begins: np.ndarray
    growth: np.ndarray
    yield_index: np.ndarray
    touched_until: np.ndarray


HARVEST, OPEN = -1, -2
"""Outcomes beside the reasons: a harvest, and a record that ends too soon to say."""


# --- the model ----------------------------------------------------------------------------


def grow(
    site: Site, crop: Crop, way: Way, starts: np.ndarray, *, only_outcome: bool = False
) -> Life:
    """Grow a crop from every start.

    Parameters
    ----------
    site : Site
        Weather without gaps.
    crop : Crop
        Not a perennial.
    way : Way
        How it is grown.
    starts : ndarray of int, shape (starts,)
        Days of the record on which it is sown, planted, or set out where plants are bought.
    only_outcome : bool
        Whether to leave out how well the harvests grew, which is then missing.

    Returns
    -------
    Life
    """
    return _Model(site, crop, way, np.asarray(starts)).life(only_outcome)


def ripe_days(site: Site, crop: Crop, way: Way, starts: np.ndarray) -> np.ndarray:
    """Days of the record on which each start would be ripe, had nothing ended it before.

    For fitting a variety's earliness to observed harvests, which the model may call impossible.

    Parameters
    ----------
    site, crop, way, starts
        As for `grow`.

    Returns
    -------
    ndarray of int, shape (starts,)
        `NEVER` where it is not ripe within the record.
    """
    model = _Model(site, crop, way, np.asarray(starts))
    model.emergence()
    model.stages()
    return np.minimum(model.ripe, model.lifted)


class _Model:
    """One crop's life from every start; each method is a rule, in the order of the crop's life.

    A start that has failed is recorded and dropped, see `record_ended`, so that later rules have
    fewer starts to look at. The starts that are left at the end come to a harvest; how well they
    grew is computed for these alone. Every array attribute has a value for each start that is left.

    Days of the record on the way to a harvest, `NEVER` where they do not come:

    - ``starts``, ``up``, ``set_out``: the start, emergence, and leaving the first phase;
    - ``begins``: the first day of each stage;
    - ``ripe``: the first harvest of a crop that nothing cuts short;
    - ``needed``: until then it must live to count as harvested; ``last``: the end of its picking;
    - ``cut_from``: from then on it may be cut unripe; ``lifted``: then what there is is lifted;
    - ``cut_early``: the night, or the lifting, that ends it after ``cut_from``;
    - ``ended``: the earlier of ``needed`` and ``cut_early``.
    """

    def __init__(self, site: Site, crop: Crop, way: Way, starts: np.ndarray) -> None:
        self.site, self.crop, self.way, self.starts = site, crop, way, starts
        self.days = PhasedDays(site, way, starts)
        self.card = crop.response.temperatures
        self.set_out = starts + (way.phases[0][0] if way.raised else 0)
        self.begins: list[np.ndarray] = []
        """Days on which stages begin, as far as they are known yet."""
        self.failed_on = np.full(len(starts), NEVER)
        self.failed_by = np.full(len(starts), HARVEST)
        self.failed_in = np.full(len(starts), -1)
        self.quality = np.ones(len(starts))
        self.heat = self.heat_sums()
        self.outcome = _empty_lives(len(starts), len(crop.stages))
        self.place = np.arange(len(starts))
        """Position in `outcome` of each start that is left."""

    @property
    def up(self) -> np.ndarray:
        """Days of emergence."""
        return self.begins[0]

    def heat_sums(self) -> list[np.ndarray]:
        """Running sums of heat by phase: response times the span from base to optimum.

        Outdoors nothing counts while days are short. In pots it counts in part, whatever the day's
        length: some are raised under lamps, and `POT_RATE` allows for the lack of light. [degC day]
        """
        card = self.card
        span = card[1] - card[0]

        def in_pots(around: Surroundings) -> np.ndarray:
            return span * POT_RATE * self.response_sums(around)

        def in_light(around: Surroundings) -> np.ndarray:
            lit = around.each_day(
                lambda each: each.response(card) * (each.day_length >= LEAST_DAY_H)
            )
            return span * running_sum(lit)

        sums = []
        for phase, around in enumerate(self.days.around):
            raised = self.way.raised and phase == 0
            heat = partial(in_pots if raised else in_light, around)
            sums.append(around.once(("heat", card, raised), heat))
        return sums

    def response_sums(self, around: Surroundings) -> np.ndarray:
        """Running sum of the response to each day."""
        return around.sums(("response", self.card), lambda each: each.response(self.card))

    def fails(
        self, day: np.ndarray, reason: int | np.ndarray, stage: int | np.ndarray = -1
    ) -> None:
        """Note the day on which a rule fails each start, `NEVER` where it does not.

        The earliest day noted counts, of equal days the one that was noted first.
        """
        earlier = day < self.failed_on
        if earlier.any():
            np.copyto(self.failed_on, day, where=earlier)
            np.copyto(self.failed_by, reason, where=earlier)
            np.copyto(self.failed_in, stage, where=earlier)

    def fails_some(
        self, lives: np.ndarray, day: np.ndarray, reason: int | np.ndarray, stage: int = -1
    ) -> None:
        """Note the day on which a rule fails some of the starts, given by their positions."""
        earlier = day < self.failed_on[lives]
        lives = lives[earlier]
        self.failed_on[lives], self.failed_in[lives] = day[earlier], stage
        self.failed_by[lives] = reason if isinstance(reason, int) else reason[earlier]

    def life(self, only_outcome: bool = False) -> Life:
        """The outcome of every start."""
        self.bed()
        if not self.way.raised:  # without a bed it fails on its first day
            at_once = self.starts if self.has_no_emergence else np.full(len(self.starts), NEVER)
            self.begins = [at_once]
            self.record_ended(self.failed_on < NEVER)
        self.emergence()
        if self.crop.winter is None:  # no other rule fails a crop before it is up
            self.record_ended((self.failed_on < NEVER) & (self.failed_on <= self.up))
        self.stages()
        self.too_long()
        self.killing_nights()
        self.scorching()
        self.chilling()
        self.heat_by_stage()
        self.heat_over_its_last_third()
        self.bolting_after_cold_days()
        self.bolting_after_vernalization()
        self.bolting_in_long_days()
        self.bulbs_too_late()
        self.winter()
        # A failure later than the harvest is none: it was cut before.
        ended = np.minimum(self.needed, self.cut_early)
        self.failed_on[(self.failed_on > ended) & (ended < NEVER)] = NEVER
        self.record_ended((self.failed_on < NEVER) | (ended >= NEVER))
        self.harvest()
        if not only_outcome:
            self.grade()
        return self.outcome

    # --- recording outcomes

    def record_ended(self, ended: np.ndarray) -> None:
        """Record starts that come to no harvest, and keep the others.

        Parameters
        ----------
        ended : ndarray of bool, shape (starts,)
            Those that failed, and those that the record's end leaves open.
        """
        if not ended.any():
            return
        lives = np.flatnonzero(ended)
        place, died = self.place[lives], self.failed_on[lives]
        failed = died < NEVER
        self.record_days(lives, died)
        self.outcome.reason[place] = np.where(failed, self.failed_by[lives], OPEN)
        self.outcome.stage[place] = np.where(failed, self.failed_in[lives], -1)
        self.outcome.yield_index[place] = np.where(failed, 0.0, np.nan)
        self.outcome.touched_until[place] = np.minimum(died, len(self.site))
        self.keep(np.flatnonzero(~ended))

    def record_days(self, lives: np.ndarray, died: np.ndarray) -> None:
        """Record the dates of some starts, given by their positions, up to the day they died on."""
        place = self.place[lives]

        def until_death(day: np.ndarray) -> np.ndarray:
            return np.where(day[lives] > died, NEVER, day[lives])

        self.outcome.up[place] = until_death(self.up)
        self.outcome.set_out[place] = until_death(self.set_out)
        for number, begin in enumerate(self.begins):
            self.outcome.begins[place, number] = until_death(begin)

    def keep(self, lives: np.ndarray) -> None:
        """Drop all starts but some, given by their positions."""
        self.days = self.days.of(lives)
        self.begins = [begin[lives] for begin in self.begins]
        for name, values in list(vars(self).items()):
            if isinstance(values, np.ndarray):
                setattr(self, name, values[lives])

    # --- start and stages

    def bed(self) -> None:
        """Fail starts whose bed is too cold to be worked on the day it is needed."""
        around = self.site.outdoors(self.way.bed)
        soil = around.once("bed", lambda: trailing_mean(around.soil_bed, 5))
        day = np.minimum(self.set_out, len(soil) - 1)
        shut = (soil[day] < WORKABLE_BED_C) & (self.set_out < len(soil))
        self.fails(np.where(shut, self.set_out, NEVER), NO_BED)

    @property
    def has_no_emergence(self) -> bool:
        """Whether it has leaves from the start, or roots on: slips, cloves and bought plants."""
        return self.way.bought or self.crop.propagation in ("slips", "cloves")

    @property
    def is_planted_deep(self) -> bool:
        return self.crop.propagation in ("tubers", "sets", "roots")

    def emergence(self) -> None:
        """Find the day of emergence; fail seed that takes too long, and tubers that rot."""
        crop, starts, deep = self.crop, self.starts, self.is_planted_deep
        if self.has_no_emergence:
            self.begins = [starts.copy()]
            return
        soil, rate = emergence_rate(crop)

        def share_a_day(around: Surroundings) -> np.ndarray:
            return np.interp(around.soil_bed if deep else around.soil_sowing, soil, rate)

        rates = self.days.soil_sums(("emergence", deep, *soil, *rate), share_a_day)
        self.begins = [self.days.reached(rates, starts, 1.0)]
        latest = starts + int(np.ceil(longest_emergence(crop)))
        # Seed may still come up after the end of a record that stops before its time is over.
        self.rotting()
        late = np.flatnonzero((self.up > latest) & (latest <= len(self.site)))
        if len(late):
            soil_sums = self.days.soil_sums("soil", lambda around: around.soil_sowing)
            warmth = self.days.of(late).mean(soil_sums, starts[late], latest[late])
            seed = crop.germination
            best = seed.optimum_high_c if seed is not None else crop.response.optimum_to_c
            self.fails_some(late, latest[late], np.where(warmth > best, UP_HOT, UP_COLD))

    def rotting(self) -> None:
        """Fail cut tubers whose cuts heal in soil colder than they sprout in: they rot."""
        crop = self.crop
        if not crop.rots_in_cold_soil:
            return
        assert crop.germination is not None
        healed = self.starts + DAYS_TO_HEAL
        soil = self.days.soil_sums("soil at 10 cm", lambda around: around.soil_bed)
        cold = self.days.mean(soil, self.starts, healed) < crop.germination.minimum_c - TOLERANCE_C
        cold &= healed <= len(self.site)
        self.fails(np.where(cold, self.starts, NEVER), UP_COLD)

    def slow_emergence(self) -> None:
        """Loss of a warm crop's stand by days in the soil."""
        if self.has_no_emergence or self.is_planted_deep or self.way.raised:
            return
        if self.crop.season == "warm":
            waited = self.up - self.starts - SLOW_START
            self.quality *= np.exp(-STAND_LOST_PER_DAY * np.maximum(waited, 0))

    def stages(self) -> None:
        """Find the days on which stages begin, the crop is ripe, and its picking ends."""
        crop, days = self.crop, self.days
        whole = heat_to_harvest(crop, self.way.earliness)
        if self.way.bought:
            whole = max(whole - raised_heat(crop), whole / 2)
        self.total_heat = np.full(self.starts.shape, whole)
        """Heat from emergence to ripeness. [degC day]"""
        if self.way.raised:
            # A plant that waits in its pot grows on, but not past half of its life.
            out = self.starts + self.way.phases[0][0]
            inside = days.between(self.heat, self.up, out)
            self.total_heat += np.maximum(inside - whole / 2, 0)
        # Bulbs wait for long days, some flowers and tubers for short ones.
        waits = len(crop.stages) - 1 if crop.bulbing is not None else -1
        if crop.short_days is not None:
            waits = [stage.name for stage in crop.stages].index(crop.short_days.stage)
        self.fruit_set: dict[int, tuple[np.ndarray, np.ndarray]] = {}  # grown, and enough set
        begins = self.begins
        for number, stage in enumerate(crop.stages):
            end = self.end_of_growth(stage, number, begins[-1])
            if number + 1 == waits:
                self.bulbs_too_soon(end)
                end = self.when_days_allow(end)
            begins.append(end)
        self.flower_again(begins)
        self.begins, self.ripe = begins[:-1], begins[-1]
        self.needed = self.last = self.ripe
        if crop.picking_share > 0:
            picking = crop.picking_share * self.total_heat
            self.needed = days.reached(self.heat, self.ripe, PICKED_SHARE * picking)
            self.last = days.reached(self.heat, self.ripe, picking)

    def end_of_growth(self, stage: Stage, number: int, begin: np.ndarray) -> np.ndarray:
        """Day on which a stage has had its heat, and its fruit has set."""
        end = self.days.reached(self.heat, begin, stage.share * self.total_heat)
        if self.crop.sprouts_again and not stage.harvested:
            end = self.sprout_again(stage, begin, end)
        if stage.setting is not None:
            end = self.when_fruit_has_set(stage.setting, number, begin, end)
        return end

    def sprout_again(self, stage: Stage, begin: np.ndarray, end: np.ndarray) -> np.ndarray:
        """End of a stage that begins anew, from the tuber, when its shoots freeze in spring."""
        frosts = [self.next_frost(stage, around, in_spring=True) for around in self.days.around]
        lives, days = np.arange(len(self.starts)), self.days
        end = end.copy()
        while True:
            night = days.first(frosts, begin, end[lives])
            frozen = np.flatnonzero(night < NEVER)
            if not len(frozen):
                return end
            lives, days = lives[frozen], days.of(frozen)
            self.quality[lives] *= 1 - LOST_WITH_SHOOTS
            begin = night[frozen] + 1 + DAYS_TO_SPROUT_AGAIN
            end[lives] = days.reached(self.heat, begin, stage.share * self.total_heat[lives])

    def when_fruit_has_set(
        self, rule: Setting, number: int, begin: np.ndarray, end: np.ndarray
    ) -> np.ndarray:
        """Day on which enough fruit has set: blossom that drops only makes the crop later."""

        def sets(around: Surroundings) -> np.ndarray:
            night = (around.tmin >= rule.night_low_c) & (around.tmin <= rule.night_high_c)
            return night & (around.tmax >= rule.day_low_c) & (around.tmax <= rule.day_high_c)

        enough = self.days.reached(self.days.sums(rule, sets), begin, float(rule.days))
        self.fruit_set[number] = (end, enough)
        return np.maximum(end, enough)

    def waits_for_fruit(self, day: np.ndarray, number: int) -> np.ndarray:
        """Whether a stage has only fruit to set on a day, shape (starts,)."""
        grown, enough = self.fruit_set[number]
        return (grown <= day) & (day < enough)

    def bulbs_too_soon(self, leaves: np.ndarray) -> None:
        """Fail short-day kinds whose leaves are not made when the longest days begin."""
        bulbing = self.crop.bulbing
        if bulbing is None or bulbing.too_long_h is None:
            return
        if bulbing.is_short_day_at(self.site.latitude):
            too_long = self.next_day_as_long_as(bulbing.too_long_h, self.up)
            self.fails(np.where(too_long < leaves, too_long, NEVER), DAY_LENGTH)

    def when_days_allow(self, day: np.ndarray) -> np.ndarray:
        """First day from `day` on whose length lets bulbs, tubers or flowers begin.

        Where no day of the year is long, or short, enough, it fails.
        """
        crop, hours = self.crop, self.site.day_length
        if crop.bulbing is not None:
            allowed = hours >= crop.bulbing.day_length_at(self.site.latitude)
        elif crop.short_days is not None:
            allowed = hours <= crop.short_days.day_length_h
        else:
            return day
        if not allowed.any():
            self.fails(day, DAY_LENGTH)
            return np.full(len(day), NEVER)
        key = ("next day of a length", crop.bulbing, crop.short_days)
        upcoming = self.days.around[-1].once(key, lambda: next_day(allowed))
        return upcoming[self.days.clipped(day)]

    def bulbs_too_late(self) -> None:
        """Fail bulbs that are not made while the days are long: they stay thick-necked."""
        bulbing, hours = self.crop.bulbing, self.site.day_length
        if bulbing is None:
            return
        long = bulbing.day_length_at(self.site.latitude)
        upcoming = self.days.around[-1].once(
            ("next day shorter than", long), lambda: next_day(hours < long)
        )
        too_short = upcoming[self.days.clipped(self.begins[-1])]
        late = too_short < self.cut_from
        self.fails(np.where(late, too_short, NEVER), DAY_LENGTH, len(self.crop.stages) - 1)

    def flower_again(self, begins: list[np.ndarray]) -> None:
        """Let a crop that flowers again begin its last stage after the frosts that spoil it."""
        crop = self.crop
        if not crop.flowers_again:
            return
        last = crop.stages[-1]
        # It flowers long after it left any cover: the last phase's weather is all that counts.
        outdoors, heat = self.days.around[-1], self.heat[-1]
        frosty = outdoors.each_day(
            lambda around: around.tmin <= self.death_at(last, around) + TOLERANCE_C
        )
        last_frost = np.maximum.accumulate(np.where(frosty, np.arange(len(frosty)), -1))
        last_frost = np.append(-1, last_frost)  # before each day
        begin = self.days.clipped(begins[-2])
        while True:
            ripe = np.searchsorted(heat, heat[begin] + last.share * self.total_heat - 1e-9)
            frost = last_frost[np.minimum(ripe, len(self.site))]
            if not (frost >= begin).any():
                break
            begin = np.maximum(begin, frost + 1)  # flowers that open before it are lost as well
        begins[-2] = np.where((begins[-2] >= NEVER) | (begin >= len(self.site)), NEVER, begin)
        begins[-1] = self.days.reached(self.heat, begins[-2], last.share * self.total_heat)

    def too_long(self) -> None:
        """Fail crops that are not ripe by the time they are no longer waited for."""
        limit = self.waited_until
        beyond = (self.needed > limit) & (self.lifted > limit) & (limit < len(self.site))
        reason = np.full(len(limit), NOT_RIPE)
        stage = np.full(len(limit), len(self.crop.stages) - 1)
        for number in self.fruit_set:
            waits = self.waits_for_fruit(limit, number)
            reason, stage = np.where(waits, NO_SET, reason), np.where(waits, number, stage)
        self.fails(np.where(beyond, limit, NEVER), reason, stage)

    @cached_property
    def waited_until(self) -> np.ndarray:
        """Day after which it is no longer waited for."""
        crop = self.crop
        if crop.waits_in_frozen_soil:  # its time begins when it comes up
            latest = self.starts + LONGEST_WAIT
            return np.minimum(np.minimum(self.up, latest) + longest_life(crop), latest)
        winter = crop.winter is not None or crop.bulbing is not None
        return self.starts + (LONGEST_WINTER_LIFE if winter else longest_life(crop))

    @cached_property
    def lifted(self) -> np.ndarray:
        """Day on which what there is is lifted, though it has not had its heat.

        Growth has stopped: the last 14 days were colder than its base, or the coldest time of the
        year has come, or it is no longer waited for.
        """
        rule, site = self.crop.lifting, self.site
        if rule is None:
            return np.full(len(self.starts), NEVER)
        around, base_c = self.days.around[-1], self.card[0]

        def stops() -> np.ndarray:
            too_cold = around.each_day(lambda each: each.recent_mean < base_c) & site.is_falling
            return next_day(too_cold | (site.day_of_year == site.coldest_day))

        earliest = np.maximum(self.begins[-1], self.starts + int(np.ceil(rule.days)))
        day = around.once(("growth stops", base_c), stops)[self.days.clipped(earliest)]
        day = np.minimum(day, np.maximum(self.waited_until, earliest))
        return np.where((day < self.needed) & (day < len(site)), day, NEVER)

    def end_of(self, number: int) -> np.ndarray:
        """Day before which a stage ends; of the last one, the harvest that must be reached."""
        last = number == len(self.crop.stages) - 1
        return self.needed if last else self.begins[number + 1]

    @cached_property
    def cut_from(self) -> np.ndarray:
        """Day from which it can be cut, if smaller; its ripeness where it cannot."""
        crop = self.crop
        if crop.cut_from_share >= 1:
            return np.minimum(self.needed, self.lifted)
        last = crop.stages[-1].share * self.total_heat
        large_enough = self.days.reached(self.heat, self.begins[-1], crop.cut_from_share * last)
        return np.minimum(large_enough, self.lifted)

    @property
    def harvested_from(self) -> np.ndarray:
        """Day from which there is something to harvest."""
        return np.minimum(self.cut_from, self.needed)

    # --- cold

    def death_at(self, stage: Stage, around: Surroundings) -> np.ndarray:
        """Night minimum that kills a stage on each day, lower after cool weather. [degC]"""
        limit = np.full(len(around.tmin), float(stage.cold.killed_at_c))
        if not stage.hardens:
            return limit
        hardened = around.once("hardened", lambda: _hardened(around))
        winter = self.crop.winter
        if winter is None:
            return limit - self.crop.hardens_by_c * hardened
        hardy = min(winter.hardy_to_c, stage.cold.killed_at_c - self.crop.hardens_by_c)
        limit += (hardy - limit) * hardened
        if winter.below_ground and (stage.harvested or self.crop.propagation != "seed"):
            # A covered root or clove is not judged by the air, once its leaves matter no more. A
            # seedling has no root yet to sprout from.
            limit[around.recent_mean < WINTER_HARDENED_AT_C] = -99.0
        return limit

    def next_frost(
        self, stage: Stage, around: Surroundings, *, in_spring: bool = False
    ) -> np.ndarray:
        """First night from each day on that kills a stage, see `next_day`.

        For a crop that sprouts again: the nights that it does not survive, or, with `in_spring`,
        those that only cost it its shoots.
        """
        crop = self.crop
        replaced = crop.sprouts_again and not stage.harvested

        def find() -> np.ndarray:
            kills = around.each_day(
                lambda each: each.tmin <= self.death_at(stage, each) + TOLERANCE_C
            )
            # Shoots that freeze in spring are replaced; in autumn there is no time for it.
            if in_spring:
                return next_day(kills & ~self.site.is_falling)
            return next_day(kills & self.site.is_falling if replaced else kills)

        hardy = (stage.hardens, crop.hardens_by_c, crop.winter)
        key = ("frost", stage.cold.killed_at_c, stage.harvested, *hardy, replaced, in_spring)
        return around.once(key, find)

    def killing_nights(self) -> None:
        """Fail crops that a night kills, unless they can be cut on that day."""
        crop = self.crop
        for number, stage in enumerate(crop.stages):
            begin, end = self.begins[number], self.end_of(number)
            frosts = [self.next_frost(stage, around) for around in self.days.around]
            night = self.days.first(frosts, begin, end)
            if number == len(crop.stages) - 1:
                ready = self.cut_from
                cut = night >= ready
                self.cut_early = np.where(cut, night, NEVER)
                night = np.where(cut, NEVER, night)
            if number in self.fruit_set:
                waits = self.waits_for_fruit(night, number)
                self.fails(night, np.where(waits, NO_SET, COLD), number)
            else:
                self.fails(night, COLD, number)
        self.cut_early = np.minimum(self.cut_early, self.lifted)
        by_cold = np.flatnonzero(self.failed_by == COLD)
        if len(by_cold):
            self.failed_by[by_cold] = self.cold_reason(by_cold)

    def frost_damage(self) -> None:
        """Loss of harvest by nights between the onset of damage and death."""
        crop = self.crop
        for number, stage in enumerate(crop.stages):
            cold = stage.cold
            if cold.damaged_at_c <= cold.killed_at_c:
                continue

            def left(around: Surroundings, stage: Stage = stage) -> np.ndarray:
                return np.log(1 - self.lost_to_frost(stage, around))

            key = ("frosted", cold.damaged_at_c, cold.killed_at_c, stage.harvested, stage.name)
            sums = self.days.sums((*key, stage.hardens, crop.hardens_by_c, crop.winter), left)
            end = self.end_of(number)
            if number == len(crop.stages) - 1:
                end = np.minimum(end, self.cut_early)
            self.quality *= np.exp(self.days.between(sums, self.begins[number], end))

    def lost_to_frost(self, stage: Stage, around: Surroundings) -> np.ndarray:
        """Share of the harvest lost in each night that damages without killing, shape (days,)."""
        death = self.death_at(stage, around)
        gap = stage.cold.damaged_at_c - stage.cold.killed_at_c
        hurt = around.tmin <= death + gap + TOLERANCE_C
        hurt &= around.tmin > death + TOLERANCE_C
        depth = np.clip((death + gap - around.tmin) / gap, 0, 1)
        frosted = LEAST_FROSTED + (MOST_FROSTED - LEAST_FROSTED) * depth
        harvested = stage.harvested and stage.name not in UNDER_SOIL
        return np.where(hurt, frosted * (1 if harvested else LEAVES_IN_HARVEST), 0.0)

    def cold_reason(self, lives: np.ndarray) -> np.ndarray:
        """Reason for a death by cold: inside, in winter, before it was ripe, or another."""
        night = self.failed_on[lives]
        falling = np.append(self.site.is_falling, False)[np.minimum(night, len(self.site))]
        raised = self.way.raised & (self.days.of(lives).phase_of(night) == 0)
        # Winter is when cold weather has hardened it, or a leafless clove lies in the soil.
        recent = np.append(self.days.around[-1].recent_mean, np.inf)
        in_winter = recent[np.minimum(night, len(self.site))] < WINTER_HARDENED_AT_C
        wintering = in_winter & (self.crop.winter is not None)
        return np.select([raised, wintering, falling], [INSIDE_COLD, WINTER, NOT_RIPE], COLD)

    def scorching(self) -> None:
        """Fail plants that the heat under a cover kills."""
        covered = [cover is not None for _, cover in self.way.phases]
        if not any(covered):
            return
        scorches = [
            next_scorching(around) if inside else np.full(len(self.site) + 1, NEVER)
            for around, inside in zip(self.days.around, covered, strict=True)
        ]
        self.fails(self.days.first(scorches, self.up, self.needed), INSIDE_HOT)

    def chilling(self) -> None:
        """Fail young warm crops that a run of cold days stops for good."""
        chilling = self.crop.chilling
        if chilling is None:
            return
        young = np.minimum(np.maximum(self.up, self.set_out) + chilling.first_days, self.ripe)
        day = self.end_of_cold_run(chilling, self.up, young)
        raised = self.way.raised & (self.days.phase_of(day) == 0)
        self.fails(day, np.where(raised, INSIDE_COLD, CHILLED), 0)

    def end_of_cold_run(self, rule: Chilling, begin: np.ndarray, end: np.ndarray) -> np.ndarray:
        """First day before `end` that ends a run of cold days since `begin`, as the plant meets it.

        A run may go on from one phase to the next, but days outdoors before a plant is set out do
        not count against it.
        """
        days, run, found = self.days, rule.days, np.full(len(self.starts), NEVER)
        cold = days.sums(
            ("cold", rule.mean_below_c), lambda around: around.tmean < rule.mean_below_c
        )

        def next_end(running: np.ndarray) -> np.ndarray:
            after = np.arange(1, len(running))
            return next_day(running[after] - running[np.maximum(after - run, 0)] == run)

        for phase, (around, running) in enumerate(zip(days.around, cold, strict=True)):
            key = ("next end of a cold run", rule.mean_below_c, run)
            upcoming = around.once(key, partial(next_end, running))
            first = np.maximum(begin, days.edges[phase]) + run - 1
            day = upcoming[days.clipped(first)]
            found = np.minimum(found, np.where(day < days.edges[phase + 1], day, NEVER))
        for edge in days.edges[1:-1]:
            for day in (edge + later for later in range(run - 1)):
                whole = days.between(cold, day + 1 - run, day + 1) == run
                whole &= day + 1 - run >= begin
                found = np.minimum(found, np.where(whole, day, NEVER))
        return np.where(found < end, found, NEVER)

    # --- heat

    def heat_by_stage(self) -> None:
        """Fail crops with a stage that is too hot on average."""
        for number, mean, _, fails_over in self.means_of_stages():
            if fails_over is not None:
                hot = mean > fails_over + TOLERANCE_C
                self.fails(np.where(hot, self.heat_ends(number), NEVER), HOT, number)

    def heat_harm(self) -> None:
        """Loss of harvest by heat that fails no stage."""
        for _, mean, grade_from, _ in self.means_of_stages():
            excess = np.maximum(mean - grade_from, 0)
            self.quality *= np.clip(1 - LOSS_PER_DEGREE * excess, LEAST_AFTER_HEAT, 1)

    def means_of_stages(self) -> Iterator[tuple[int, np.ndarray, float, float | None]]:
        """For each heat rule: number of the stage, its mean, and the limits of harm and failure.

        A mean is -99 where the stage does not end.
        """
        for number, stage in enumerate(self.crop.stages):
            if stage.heat is None:
                continue
            begin, end = self.begins[number], self.heat_ends(number)
            for element, grade_from, fails_over in heat_limits(stage.heat):
                sums = self.days.sums(element, attrgetter(element))
                mean = np.where(end < NEVER, self.days.mean(sums, begin, end), -99.0)
                yield number, mean, grade_from, fails_over

    def heat_ends(self, number: int) -> np.ndarray:
        """Day before which a stage is judged by its heat."""
        end = self.end_of(number)
        if number == len(self.crop.stages) - 1 and self.crop.stages[number].harvested:
            return np.minimum(end, self.cut_from)
        return end

    def heat_over_its_last_third(self) -> None:
        """Fail crops that lose too much of their last third's growth to hours above the optimum."""
        end = np.minimum(self.needed, self.cut_early)
        self.hot_loss = np.zeros(len(self.starts))
        lives = np.flatnonzero(end < self.failed_on)  # others have failed before
        end = end[lives]
        begin = (self.up[lives] + 2 * end) // 3
        losses = self.days.sums(("hot loss", self.card), lambda around: around.hot_loss(self.card))
        loss = self.days.of(lives).mean(losses, begin, end)
        self.hot_loss[lives] = loss
        if not self.crop.sprouts_again:
            # Tubers lie in the soil: their own heat rule, on nights, judges them alone.
            hot = loss > MOST_HOT_LOSS
            self.fails_some(lives[hot], end[hot], HOT, len(self.crop.stages) - 1)

    # --- flowering, bulbs, winter

    def bolting_after_cold_days(self) -> None:
        """Fail young crops that flower after a number of cold days."""
        rule = self.crop.cold_bolting
        if rule is None:
            return
        harvested = self.harvested_from
        begin = self.days.reached(self.heat, self.up, rule.from_share * self.total_heat)
        end = harvested
        if rule.within_days is not None:
            end = np.minimum(end, self.up + rule.within_days)
        cold = self.days.sums(
            ("cold day", rule.mean_below_c),
            lambda around: (around.tmean < rule.mean_below_c) & (around.tmax < WARM_AFTERNOON_C),
        )
        day = self.days.reached(cold, begin, float(rule.days))
        day = np.where(day <= end, day, NEVER)
        self.fails(self.then_long(day, rule.day_length_h, harvested), BOLTED)

    def bolting_after_vernalization(self) -> None:
        """Fail crops that flower once their sum of cold is full and days are long."""
        rule = self.crop.vernalization
        if rule is None:
            return
        harvested = self.harvested_from
        begin = self.days.reached(self.heat, self.up, rule.from_share * self.total_heat)
        cold = self.days.sums(rule, lambda around: _cold_units(around.tmean, rule))
        day = self.days.reached(cold, begin, rule.sum)
        day = np.where(day <= harvested, day, NEVER)
        self.fails(self.then_long(day, rule.day_length_h, harvested), BOLTED)

    def bolting_in_long_days(self) -> None:
        """Fail crops that flower after a number of long and warm days."""
        rule = self.crop.long_day_bolting
        if rule is None:
            return
        counted = self.days.sums(
            rule,
            lambda around: (
                (around.day_length > rule.day_length_h) & (around.tmean > rule.mean_above_c)
            ),
        )
        day = self.days.reached(counted, self.up, float(rule.days))
        harvested = self.harvested_from
        self.fails(np.where(day <= harvested, day, NEVER), BOLTED)

    def then_long(self, day: np.ndarray, hours: float | None, before: np.ndarray) -> np.ndarray:
        """First day of a length from a day on, if it comes before the harvest."""
        if hours is None:
            return day
        found = self.next_day_as_long_as(hours, day)
        return np.where((day < NEVER) & (found < before), found, NEVER)

    def next_day_as_long_as(self, hours: float, day: np.ndarray) -> np.ndarray:
        """First day from a day on that has so many hours of light."""
        upcoming = self.days.around[-1].once(
            ("next day as long as", hours), lambda: next_day(self.site.day_length >= hours)
        )
        return upcoming[self.days.clipped(day)]

    def winter(self) -> None:
        """Fail crops that meet winter too large or without roots, or that get too little cold."""
        winter = self.crop.winter
        if winter is None:
            return
        coldest = next_day(self.site.day_of_year == self.site.coldest_day)
        middle = coldest[self.days.clipped(self.starts)]
        before_winter = middle - self.starts < 150
        if winter.most_heat_before is not None:
            heat = self.days.between(self.heat, self.starts, middle)
            forward = (heat > winter.most_heat_before) & (middle < NEVER)
            self.fails(np.where(forward, middle, NEVER), WINTER, 0)
        if winter.least_root_heat is not None:
            soil = self.days.soil_sums(
                "soil over 0", lambda around: np.maximum(around.soil_sowing, 0)
            )
            rooted = self.days.between(soil, self.starts, middle) >= winter.least_root_heat
            # Frost heaves a clove without roots out of the soil; where none freezes it lives.
            frozen = self.days.soil_sums("frozen soil", lambda around: around.soil_sowing <= 0)
            heaved = self.days.between(frozen, self.starts, middle) > 0
            shallow = ~rooted & heaved & before_winter & (middle < NEVER)
            self.fails(np.where(shallow, middle, NEVER), WINTER, 0)
        if winter.cold_days is not None:
            cold = self.days.sums(
                "cold need", lambda around: around.of_hours("cold need", cold_share)
            )
            end = self.begins[-1]
            days = self.days.between(cold, self.starts, end)
            known = end < NEVER
            self.lacks_cold = known & (days < winter.cold_days)
            none = known & (days < LEAST_COLD * winter.cold_days)
            self.fails(np.where(none, end, NEVER), COLD_NEED)

    # --- the harvest

    def harvest(self) -> None:
        """Record when the starts that are left are harvested."""
        self.ended = np.minimum(self.needed, self.cut_early)
        self.ripe = np.minimum(self.ripe, self.cut_early)
        frosted = self.cut_early < NEVER
        last = np.where(frosted, self.cut_early, np.maximum(self.last, self.needed))
        last = np.minimum(np.minimum(last, self.picking_frost()), len(self.site))  # or its end
        self.record_days(np.arange(len(self.place)), np.full(len(self.place), NEVER))
        for values, column in (
            (HARVEST, self.outcome.reason),
            (self.ripe, self.outcome.ripe),
            (last, self.outcome.last),
            (last, self.outcome.touched_until),
        ):
            column[self.place] = values

    def grade(self) -> None:
        """Record how well the harvests grew."""
        self.slow_emergence()
        self.frost_damage()
        self.heat_harm()
        self.quality *= 1 - self.hot_loss
        self.small_bulbs()
        self.cut_before_ripe()
        days, begin = self.days, self.begins[self.first_harvested()]
        response = [self.response_sums(around) for around in days.around]
        growth = days.mean(response, begin, np.maximum(self.ripe, begin + 1)) * self.quality
        light = days.sums(
            ("light", self.card), lambda around: around.response(self.card) * around.radiation
        )
        # A tray of seedlings takes no light off the bed: what is made counts from setting out.
        made = days.between(light, np.maximum(self.up, self.set_out), self.ended) * self.quality
        self.outcome.growth[self.place] = growth
        self.outcome.yield_index[self.place] = made

    def small_bulbs(self) -> None:
        """Loss of harvest after too short a winter."""
        winter = self.crop.winter
        if winter is not None and winter.cold_days is not None:
            self.quality *= np.where(self.lacks_cold, winter.smaller_crop, 1)

    def cut_before_ripe(self) -> None:
        """Loss of harvest where a frost, or the end of growth, cuts the last stage short."""
        frosted = np.flatnonzero(self.cut_early < NEVER)
        if len(frosted):
            whole = self.crop.stages[-1].share * self.total_heat[frosted]
            done = self.days.of(frosted).between(
                self.heat, self.begins[-1][frosted], self.cut_early[frosted]
            )
            done /= np.maximum(whole, 1e-9)
            self.quality[frosted] *= np.clip(done, LEAST_CUT_SHORT, 1)

    def picking_frost(self) -> np.ndarray:
        """Night that ends the picking, once enough was picked to count as a harvest."""
        if self.crop.picking_share <= 0:
            return np.full(len(self.starts), NEVER)
        last = self.crop.stages[-1]
        frosts = [self.next_frost(last, around) for around in self.days.around]
        return self.days.first(frosts, self.needed, self.last)

    def first_harvested(self) -> int:
        """Number of the first stage that is harvested."""
        return next(n for n, stage in enumerate(self.crop.stages) if stage.harvested)


def _empty_lives(starts: int, stages: int) -> Life:
    """Lives that are not computed yet."""

    def never() -> np.ndarray:
        return np.full(starts, NEVER)

    return Life(
        reason=np.full(starts, OPEN),
        stage=np.full(starts, -1),
        up=never(),
        set_out=never(),
        ripe=never(),
        last=never(),
        begins=np.full((stages, starts), NEVER).T,
        growth=np.full(starts, np.nan),
        yield_index=np.full(starts, np.nan),
        touched_until=never(),
    )


def heat_limits(heat: Heat) -> list[tuple[str, float, float | None]]:
    """Which daily value a heat rule averages, where harm begins, and where the stage fails."""
    if heat.maximum_fails_c is not None and heat.minimum_fails_c is not None:
        assert heat.maximum_from_c is not None
        assert heat.minimum_from_c is not None
        begins = (heat.maximum_from_c + heat.minimum_from_c) / 2
        fails = (heat.maximum_fails_c + heat.minimum_fails_c) / 2
        return [("tmean", begins, fails)]
    rules: list[tuple[str, float, float | None]] = []
    if heat.maximum_from_c is not None:
        rules.append(("tmax", heat.maximum_from_c, heat.maximum_fails_c))
    if heat.minimum_from_c is not None:
        rules.append(("tmin", heat.minimum_from_c, heat.minimum_fails_c))
    if heat.mean_from_c is not None:
        rules.append(("tmean", heat.mean_from_c, heat.mean_fails_c))
    return rules


def _hardened(around: Surroundings) -> np.ndarray:
    """How far the weather has hardened a cool crop on each day, 0 to 1."""
    return np.interp(around.recent_mean, [HARDENED_AT_C, TENDER_AT_C], [1.0, 0.0])


def cold_share(hours: np.ndarray) -> np.ndarray:
    """Share of each day's hours that count towards a need of cold, shape (days, 24) to (days,)."""
    low, high = COLD_NEED_RANGE_C
    return np.asarray(((hours >= low) & (hours <= high)).mean(axis=-1))


def _cold_units(tmean: np.ndarray, rule: Vernalization) -> np.ndarray:
    """Cold of each day in degree-days of its own response. [degC day]"""
    fall = (
        (rule.maximum_c - tmean)
        * (rule.optimum_c - rule.base_c)
        / (rule.maximum_c - rule.optimum_c)
    )
    return np.maximum(np.minimum(tmean - rule.base_c, fall), 0)
