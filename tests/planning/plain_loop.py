"""One start of an annual crop, lived day by day in plain Python: a second opinion on `grow`.

Each day is met at its beginning, when stages end and counts are full, and then through its weather.
Nothing looks ahead but the rule for what flowers again. Soil, radiation and day length come from
the folders that make them, which have tests of their own.
"""

from __future__ import annotations

import math
from bisect import bisect_right
from dataclasses import dataclass, field
from itertools import pairwise

import numpy as np

from climwin.climate.heat import day_length
from climwin.climate.radiation import solar_radiation_kernel
from climwin.climate.soil import soil_kernel
from climwin.core.seasons import day_of_year
from climwin.crops.model import (
    COLD_NEED_RANGE_C,
    DAYS_TO_HEAL,
    DAYS_TO_SPROUT_AGAIN,
    FIELD_DAYS,
    LEAST_DAY_H,
    LOST_WITH_SHOOTS,
    REFERENCE_DAYS,
)
from climwin.planning.emergence import LONGEST_LIFE, LONGEST_WINTER_LIFE
from climwin.planning.growth import (
    HARDENED_AT_C,
    LEAST_COLD,
    LEAST_FROSTED,
    LEAVES_IN_HARVEST,
    LOSS_PER_DEGREE,
    MOST_FROSTED,
    MOST_HOT_LOSS,
    PICKED_SHARE,
    SLOW_START,
    STAND_LOST_PER_DAY,
    TENDER_AT_C,
    WARM_AFTERNOON_C,
    WINTER_HARDENED_AT_C,
    WORKABLE_BED_C,
)
from climwin.planning.heat_needs import POT_RATE, RAISED_DAYS
from climwin.planning.phases import SCORCHED_AT_C
from climwin.shelter.covers import inside_kernel

TOLERANCE_C, ALMOST = 0.05, 1e-9
PLANTED = ("tubers", "sets", "roots")


# --- the weather --------------------------------------------------------------------------


def plain_hours(tmin, tmax, lengths):
    """24 temperatures of each day: half a cosine up from sunrise to 15:00, and half a one down."""
    days = []
    for day in range(len(tmin)):
        sunrise = 12 - lengths[day] / 2
        yesterday = tmax[day - 1] if day > 0 else tmax[day]
        tomorrow = tmin[day + 1] if day + 1 < len(tmin) else tmin[day]
        hours = []
        for hour in range(24):
            clock = hour + 0.5
            if sunrise <= clock <= 15:
                done = (clock - sunrise) / (15 - sunrise)
                low, high = tmin[day], tmax[day]
                hours.append(low + (high - low) * 0.5 * (1 - math.cos(math.pi * done)))
                continue
            night = 24 - 15 + sunrise  # from the warmest hour to the next sunrise
            if clock < sunrise:
                low, high, passed = tmin[day], yesterday, clock + 24 - 15
            else:
                low, high, passed = tomorrow, tmax[day], clock - 15
            hours.append(low + (high - low) * 0.5 * (1 + math.cos(math.pi * passed / night)))
        days.append(hours)
    return days


def share_of_growth(celsius, card):
    base, optimum_from, optimum_to, maximum = card
    if celsius <= base or celsius >= maximum:
        return 0.0
    if celsius < optimum_from:
        return (celsius - base) / (optimum_from - base)
    return 1.0 if celsius <= optimum_to else (maximum - celsius) / (maximum - optimum_to)


def too_hot_share(celsius, card):
    _, _, optimum_to, maximum = card
    return min(max((celsius - optimum_to) / (maximum - optimum_to), 0.0), 1.0)


def last_days(values, day, count):
    """Mean of a day and those before it."""
    near = values[max(day + 1 - count, 0) : day + 1]
    return sum(near) / len(near)


@dataclass
class Air:
    """The days around a plant."""

    tmin: list
    tmax: list
    hours: list
    soil_sowing: list
    soil_bed: list
    covered: bool
    _grown: dict = field(default_factory=dict)
    _lost: dict = field(default_factory=dict)

    def __post_init__(self):
        self.tmean = [(low + high) / 2 for low, high in zip(self.tmin, self.tmax, strict=True)]
        self.recent = [last_days(self.tmean, day, 14) for day in range(len(self.tmean))]
        low, high = COLD_NEED_RANGE_C
        self.cold = [sum(low <= hour <= high for hour in hours) / 24 for hours in self.hours]

    def grown(self, day, card):
        """Growth on a day."""
        key = day, card
        if key not in self._grown:
            self._grown[key] = sum(share_of_growth(hour, card) for hour in self.hours[day]) / 24
        return self._grown[key]

    def lost(self, day, card):
        """What heat takes from growth on a day."""
        key = day, card
        if key not in self._lost:
            self._lost[key] = sum(too_hot_share(hour, card) for hour in self.hours[day]) / 24
        return self._lost[key]


class Weather:
    """A record without gaps, and the airs that its covers make."""

    def __init__(self, record, latitude):
        self.tmin, self.tmax = record["tmin"].values, record["tmax"].values
        self.latitude = latitude
        self.first_day = record["time"].values[0].astype("datetime64[D]")
        self.day_of_year = day_of_year(record["time"].values.astype("datetime64[D]"))
        self.day_length = [float(day_length(latitude, float(day))) for day in self.day_of_year]
        self.radiation = solar_radiation_kernel(self.tmin, self.tmax, latitude, self.day_of_year)
        self.coldest, self.warmest = self._turns()
        self._airs = {}

    def __len__(self):
        return len(self.tmin)

    def _turns(self):
        """Coldest and warmest day of the year of two waves fitted to the mean of each day."""
        mean = (self.tmin + self.tmax) / 2
        days = [float(np.mean(mean[self.day_of_year == day])) for day in range(1, 366)]
        curve = [sum(days) / 365] * 365
        for wave in (1, 2):
            for form in (math.cos, math.sin):
                shape = [form(2 * math.pi * wave * day / 365) for day in range(365)]
                weight = 2 / 365 * sum(a * b for a, b in zip(days, shape, strict=True))
                curve = [value + weight * part for value, part in zip(curve, shape, strict=True)]
        return curve.index(min(curve)) + 1, curve.index(max(curve)) + 1

    def falling(self, day):
        since = (int(self.day_of_year[day]) - self.warmest) % 365
        return since < (self.coldest - self.warmest) % 365

    def air(self, cover, bed):
        key = (cover and cover.name), bed
        if key not in self._airs:
            tmin, tmax = self.tmin, self.tmax
            if cover is not None:
                tmin, tmax = inside_kernel(cover, tmin, tmax, self.first_day)
            mean = (tmin + tmax) / 2
            if cover is None or cover.name == "fleece":
                shallow, deep = (
                    soil_kernel(mean, self.radiation, self.day_of_year, depth=depth, cover=bed)
                    for depth in (0.05, 0.10)
                )
            else:  # soil inside: the air of two days
                listed = mean.tolist()
                shallow = deep = np.array([last_days(listed, day, 2) for day in range(len(mean))])
            low, high = tmin.tolist(), tmax.tolist()
            hours = plain_hours(low, high, self.day_length)
            self._airs[key] = Air(
                low, high, hours, shallow.tolist(), deep.tolist(), cover is not None
            )
        return self._airs[key]


# --- what the crop asks -------------------------------------------------------------------


def reference_heat_a_day(crop):
    """Degree-days of a day of 12 hours for which the packet's days hold."""
    mean, half = REFERENCE_DAYS[crop.season]
    hours = plain_hours([mean - half] * 3, [mean + half] * 3, [12.0] * 3)[1]
    card = crop.response.temperatures
    return sum(share_of_growth(hour, card) for hour in hours) / 24 * (card[1] - card[0])


def heat_needed(crop, way):
    """Heat from emergence, or from setting out where plants are bought, to the first harvest."""
    maturity, a_day = crop.maturity, reference_heat_a_day(crop)
    listed = [maturity.early, maturity.main, maturity.late]
    if isinstance(way.earliness, str):
        days = listed[["early", "main", "late"].index(way.earliness)]
    else:
        days = way.earliness
    if maturity.heat_sums is None:
        heat = (days - maturity.emergence_days) * FIELD_DAYS * a_day
    elif days < listed[0]:
        heat = maturity.heat_sums[0] * days / listed[0]
    elif days > listed[2]:
        heat = maturity.heat_sums[2] * days / listed[2]
    else:
        heat = float(np.interp(days, listed, maturity.heat_sums))
    usual_plant = RAISED_DAYS[crop.season] * a_day
    if crop.is_set_out:
        heat += usual_plant
    return max(heat - usual_plant, heat / 2) if way.bought else heat


def emergence_points(crop):
    """Soil temperatures and the share of emergence that a day at each brings."""
    germination, base = crop.germination, crop.response.base_c
    if germination is None or len(germination.days_at_c) < 2:
        reference = REFERENCE_DAYS[crop.season][0]
        days = max(crop.maturity.emergence_days, 7.0)
        hottest = germination.maximum_c if germination else crop.response.maximum_c
        full = max(min(30.0, hottest - 3), reference)
        return [(base, 0.0), (full, (full - base) / (days * (reference - base))), (hottest, 0.0)]
    points = [(celsius, 1 / days) for celsius, days in germination.days_at_c]
    (cold, slow), (next_cold, faster) = points[0], points[1]
    rise = (faster - slow) / (next_cold - cold)
    foot = cold - slow / rise if rise > 0 else cold - 5
    foot = max(foot, cold - 5)
    if crop.season == "warm":
        foot = max(foot, min(base, cold - 1))
    head = max(points[-1][0] + 3, germination.maximum_c)
    return [(foot, 0.0), *points, (head, 0.0)]


def rate_at(points, celsius):
    for (left, low), (right, high) in pairwise(points):
        if left <= celsius <= right:
            return low + (high - low) * (celsius - left) / (right - left)
    return 0.0


def lies_in_frozen_soil(crop):
    """Whether its tuber or root waits in the ground for spring, and lives through any frost."""
    harvested = [stage for stage in crop.stages if stage.harvested]
    return crop.propagation in ("tubers", "roots") and harvested[0].cold.killed_at_c <= -18


def patience(crop, points):
    """Days for which seed is waited for."""
    if lies_in_frozen_soil(crop):
        return 400
    if crop.propagation in ("tubers", "cloves", "sets", "slips", "roots"):
        return 55
    warm = crop.season == "warm"
    at = 15.0 if warm else 10.0
    if len(points) > 3:
        at = max(at, points[1][0])
    days = 1 / max(rate_at(points, at), 1e-3)
    times, fewest, most = (1.4, 18, 28) if warm else (2.5, 21, 60)
    return math.ceil(min(max(times * days, fewest), most))


def patience_in_days(crop):
    """Four times the days of its list, with those of raising; 270 at the most."""
    days = crop.maturity.main
    if crop.is_set_out and crop.weeks_under_cover:
        days += 7 * crop.weeks_under_cover.usual
    return min(round(4 * days), LONGEST_LIFE)


# --- one life -----------------------------------------------------------------------------


@dataclass
class Outcome:
    """What became of a start; days of the record, `None` where it does not come to it."""

    reason: str  # "harvest", "unknown", or a reason
    stage: int = -1
    day: int | None = None
    up: int | None = None
    set_out: int | None = None
    begins: list = field(default_factory=list)
    ripe: int | None = None
    last: int | None = None
    growth: float = math.nan
    yield_index: float = math.nan


class _Life:
    def __init__(self, weather, crop, way, start):
        self.weather, self.crop, self.way, self.start = weather, crop, way, start
        self.size, self.card = len(weather), crop.response.temperatures
        self.airs, self.edges, at = [], [], start
        for days, cover in way.phases:
            self.airs.append(weather.air(cover, way.bed))
            self.edges.append(at)
            at += days
        self.bare = weather.air(None, way.bed)
        self.set_out = start + (way.phases[0][0] if way.raised else 0)
        self.quality = 1.0

    def phase(self, day):
        return bisect_right(self.edges, day) - 1

    def air(self, day):
        return self.airs[self.phase(day)]

    def heat_on(self, day):
        heat = self.air(day).grown(day, self.card) * (self.card[1] - self.card[0])
        if self.is_in_pots(day):
            return heat * POT_RATE
        return heat if self.weather.day_length[day] >= LEAST_DAY_H else 0.0

    def heat_between(self, begin, end):
        return sum(self.heat_on(day) for day in range(begin, min(end, self.size)))

    def killed_at(self, stage, day, air):
        """Night minimum that kills a stage on a day."""
        limit, recent = stage.cold.killed_at_c, air.recent[day]
        if not stage.hardens:
            return limit
        hardened = (TENDER_AT_C - recent) / (TENDER_AT_C - HARDENED_AT_C)
        hardened = min(max(hardened, 0.0), 1.0)
        lowest = limit - self.crop.hardens_by_c
        winter = self.crop.winter
        if winter is not None:
            covered = stage.harvested or self.crop.propagation == "cloves"
            if winter.below_ground and covered and recent < WINTER_HARDENED_AT_C:
                return -99.0
            lowest = min(lowest, winter.hardy_to_c)
        return limit + (lowest - limit) * hardened

    def is_killed(self, stage, day, air):
        return air.tmin[day] <= self.killed_at(stage, day, air) + TOLERANCE_C

    # --- up

    def come_up(self):
        """Day of emergence, or the outcome of what never came up."""
        crop, way = self.crop, self.way
        if way.bought or crop.propagation in ("slips", "cloves"):
            return self.start, None
        points = emergence_points(crop)
        latest = self.start + patience(crop, points)
        done, warmth = 0.0, 0.0
        for day in range(self.start, self.size + 1):
            if done >= 1 - ALMOST:
                return day, None
            if day == latest:
                mean = warmth / (latest - self.start)
                best = crop.germination.optimum_high_c if crop.germination else self.card[2]
                too = "hot" if mean > best else "cold"
                return None, Outcome(f"did not come up: too {too}", day=latest)
            if day == self.size:
                break
            air = self.air(day)
            soil = air.soil_bed if crop.propagation in PLANTED else air.soil_sowing
            done += rate_at(points, soil[day])
            warmth += air.soil_sowing[day]
        return None, Outcome("unknown")

    def rots(self):
        """Whether a cut tuber lies in soil that is too cold for it, for two weeks on average."""
        crop, healed = self.crop, self.start + DAYS_TO_HEAL
        if crop.propagation != "tubers" or lies_in_frozen_soil(crop) or healed > self.size:
            return False
        soil = [self.air(day).soil_bed[day] for day in range(self.start, healed)]
        return sum(soil) / DAYS_TO_HEAL < crop.germination.minimum_c - TOLERANCE_C

    def no_bed(self):
        """Whether the bed cannot be worked on the day on which it must be."""
        if self.set_out >= self.size:
            return False
        return last_days(self.bare.soil_bed, self.set_out, 5) < WORKABLE_BED_C

    # --- the whole life

    def live(self):
        up, never_up = self.come_up()
        early = [(self.set_out, 0, Outcome("no bed workable", -1, self.set_out))]
        early = early if self.no_bed() else []
        if self.rots():
            early.append((self.start, 0.5, Outcome("did not come up: too cold", -1, self.start)))
        if never_up is not None and never_up.day is not None:
            early.append((never_up.day, 1, never_up))
        lost = self.lost_before_winter()
        if lost is not None:
            early.append((lost, 11, Outcome("winter kill", 0, lost)))
        # The bed and the winter may strike before it is up; later ones are met in `grow_up`.
        early = [each for each in early if up is None or each[0] < up]
        if early:
            return min(early, key=lambda each: each[:2])[2]
        if never_up is not None:
            return never_up
        return self.grow_up(up, self.set_out if self.no_bed() else None, lost)

    def lost_before_winter(self):
        """The coldest day of the year, if its leaves are then too far on, or its roots too few."""
        winter = self.crop.winter
        if winter is None:
            return None
        middle = self.start
        while middle < self.size and self.weather.day_of_year[middle] != self.weather.coldest:
            middle += 1
        if middle == self.size:
            return None
        heat = self.heat_between(self.start, middle)
        if winter.most_heat_before is not None and heat > winter.most_heat_before:
            return middle
        soil = [self.air(d).soil_sowing[d] for d in range(self.start, middle)]
        warm, freezes = sum(max(each, 0) for each in soil), any(each <= 0 for each in soil)
        need = winter.least_root_heat
        rootless = need is not None and warm < need and freezes and middle - self.start < 150
        return middle if rootless else None

    def grow_up(self, up, no_bed_on, winter_loss):
        crop, way = self.crop, self.way
        self.up, self.no_bed_on, self.winter_loss = up, no_bed_on, winter_loss
        self.too_late = self.start + self.patience()
        self.total = whole = heat_needed(crop, way)
        if way.raised:  # it grows on in its pot, but not past half of its life
            inside = self.heat_between(up, min(self.set_out, self.size))
            self.total += max(inside - whole / 2, 0)
        sown = crop.propagation not in PLANTED and not way.raised
        if crop.season == "warm" and sown and up > self.start:
            self.quality *= math.exp(-STAND_LOST_PER_DAY * max(up - self.start - SLOW_START, 0))
        self.final = len(crop.stages) - 1
        self.picking = crop.picking_share * self.total
        self.begins, self.stage = [up], 0
        self.in_stage = self.since_up = self.picked = 0.0
        self.waiting, self.ripe, self.cut_day, self.chilled_run = False, None, None, 0
        self.unset, self.shoots_again_on = False, up
        self.seen = _StageWeather()
        self.bolting = _Bolting(crop, self.total, up, self.weather)
        self.cold_days = sum(
            self.air(day).cold[day] for day in range(self.start, min(up, self.size))
        )
        self.never = not any(self.days_allow(day) for day in range(self.size))
        for day in range(up, self.size + 1):
            outcome = self.meet(day)
            if outcome is not None:
                return outcome
            if day < self.size:
                self.let_pass(day)
        return Outcome("unknown", up=up, begins=self.begins)

    def meet(self, day):
        """The outcome, if it comes on this day."""
        self.found = []  # (rank of the rule, reason, stage)
        if day == self.up and self.final == 0:
            self.winter_cold()
        self.end_stages(day)
        done = self.is_done()
        cut_early = not done and day < self.size and self.is_lifted(day)
        self.may_be_cut(day, cut_early)
        if done or cut_early:
            self.heat_over_its_last_third(day)
        self.counts_are_full(day, done or cut_early)
        if day < self.size and not done:
            cut_early = cut_early or self.a_killing_night(day)
            self.inside_and_chilling(day)
        if self.found:
            _, reason, number = min(self.found, key=lambda each: each[0])
            return Outcome(reason, number, day, up=self.up, begins=self.begins)
        return self.harvest(day, cut_early) if done or cut_early else None

    def let_pass(self, day):
        air, heat = self.air(day), self.heat_on(day)
        self.bolting.add(air, day, self.since_up)
        self.since_up += heat
        if self.ripe is not None:
            self.picked += heat
        elif not self.waiting and day >= self.shoots_again_on:
            self.in_stage += heat
        self.seen.add(air, day)
        self.cold_days += air.cold[day]

    # --- at the beginning of a day

    def end_stages(self, day):
        """Stages whose heat has come together end, unless what follows must wait."""
        stages = self.crop.stages
        while self.ripe is None and self.in_stage >= self.need(self.stage) - ALMOST:
            self.waiting = self.must_wait(day)
            if self.waiting:
                return
            ended, seen = self.stage, self.seen
            if ended == self.final:
                self.ripe = day
                return
            self.heat_of(stages[ended], ended, seen)
            self.stage, self.in_stage, self.seen = ended + 1, 0.0, _StageWeather()
            self.begins.append(day)
            if self.stage == self.final:
                self.winter_cold()

    def need(self, stage):
        return self.crop.stages[stage].share * self.total

    def must_wait(self, day):
        """Whether the next stage cannot begin today.

        Too little fruit has set, the day is not of the right length, or a frost is to come.
        """
        rule = self.crop.stages[self.stage].setting
        self.unset = rule is not None and self.seen.setting_days(rule) < rule.days
        if self.unset:
            return True
        if self.stage == self.final:
            return False
        if self.waits_for_days(self.stage + 1):
            if self.never:
                self.found.append((2, "day length", -1))
            if self.never or day == self.size or not self.days_allow(day):
                return True
        last_but_one = self.stage == self.final - 1
        return self.crop.flowers_again and last_but_one and self.frost_ahead(day)

    def is_lifted(self, day):
        """Whether what there is of a root is lifted today, since growth has stopped."""
        rule = self.crop.lifting
        if rule is None or self.stage < self.final or day < self.start + rule.days:
            return False
        too_cold = self.weather.falling(day) and self.airs[-1].recent[day] < self.card[0]
        midwinter = self.weather.day_of_year[day] == self.weather.coldest
        return too_cold or midwinter or day >= self.too_late

    def patience(self):
        if lies_in_frozen_soil(self.crop):
            return min(self.up - self.start + patience_in_days(self.crop), 400)
        winter = self.crop.winter or self.crop.bulbing
        return LONGEST_WINTER_LIFE if winter else patience_in_days(self.crop)

    def may_be_cut(self, day, is_lifted):
        if self.stage < self.final or self.cut_day is not None:
            return
        share = self.crop.cut_from_share
        big_enough = self.is_done() if share >= 1 else False
        if share < 1:
            big_enough = self.in_stage >= share * self.need(self.final) - ALMOST
        if big_enough or is_lifted:
            self.cut_day = day
            self.heat_of(self.crop.stages[self.final], self.final, self.seen)

    def is_done(self):
        """Whether it is ripe, and enough of it is picked."""
        return self.ripe is not None and self.picked >= PICKED_SHARE * self.picking - ALMOST

    def counts_are_full(self, day, done):
        if day == self.no_bed_on:
            self.found.append((0, "no bed workable", -1))
        if day == self.too_late and day < self.size and not done:
            word, number = "not ripe before the end", self.final
            if self.unset:
                word, number = "fruit did not set", self.stage
            self.found.append((3, word, number))
        if self.bulbs_too_soon(day):
            self.found.append((1.5, "day length", -1))
        if self.bolting.bolts(day, self.cut_day):
            self.found.append((10, "bolted", -1))
        if self.bulbs_too_late(day):
            self.found.append((10.5, "day length", self.final))
        if self.winter_loss == day:
            self.found.append((11, "winter kill", 0))

    # --- through a day

    def a_killing_night(self, day):
        """Note what a killing night does; whether it only ends a crop that can be cut."""
        crop, stage = self.crop, self.crop.stages[self.stage]
        if not self.is_killed(stage, day, self.air(day)):
            self.frosted(stage, day)
            return False
        if self.cut_day is not None:
            self.heat_over_its_last_third(day)
            return True
        falling = self.weather.falling(day)
        if not crop.sprouts_again or stage.harvested or falling:
            word = "fruit did not set" if self.unset else self.word_of(day, falling)
            self.found.append((4 + 0.01 * self.stage, word, self.stage))
        elif day >= self.shoots_again_on:
            self.quality *= 1 - LOST_WITH_SHOOTS
            self.in_stage, self.shoots_again_on = 0.0, day + 1 + DAYS_TO_SPROUT_AGAIN
        return False

    def frosted(self, stage, day):
        """What a night takes that harms and does not kill."""
        cold = stage.cold
        gap = cold.damaged_at_c - cold.killed_at_c
        below = self.killed_at(stage, day, self.air(day)) + gap - self.air(day).tmin[day]
        if gap == 0 or below < -TOLERANCE_C:
            return
        share = LEAST_FROSTED + (MOST_FROSTED - LEAST_FROSTED) * max(below, 0) / gap
        eaten = stage.harvested and stage.name not in ("bulbs", "roots", "tuber set", "tubers")
        self.quality *= 1 - (share if eaten else share * LEAVES_IN_HARVEST)

    def inside_and_chilling(self, day):
        air, chill = self.air(day), self.crop.chilling
        if air.covered and air.tmax[day] >= SCORCHED_AT_C:
            self.found.append((5, "killed inside: scorched", -1))
        if chill is None:
            return
        self.chilled_run = self.chilled_run + 1 if air.tmean[day] < chill.mean_below_c else 0
        young = day < max(self.up, self.set_out) + chill.first_days and self.ripe is None
        if young and self.chilled_run >= chill.days:
            word = "killed inside: too cold" if self.is_in_pots(day) else "chilled"
            self.found.append((6, word, 0))

    def is_in_pots(self, day):
        return self.way.raised and self.phase(day) == 0

    # --- rules

    def waits_for_days(self, stage):
        """Whether a stage waits for long days, as bulbs do, or for short ones."""
        crop = self.crop
        if crop.bulbing is not None:
            return stage == len(crop.stages) - 1
        return crop.short_days is not None and crop.stages[stage].name == crop.short_days.stage

    def bulbs_too_soon(self, day):
        """Whether days are so long that a short-day kind bulbs before its leaves are made."""
        bulbing = self.crop.bulbing
        if bulbing is None or bulbing.too_long_h is None or day == self.size:
            return False
        if not bulbing.is_short_day_at(self.weather.latitude):
            return False
        leafy = self.stage == self.final or self.waiting  # before `end_stages` of this day
        return not leafy and self.weather.day_length[day] >= bulbing.too_long_h

    def bulbs_too_late(self, day):
        """Whether days grow too short for bulbs that are not yet worth cutting."""
        if self.crop.bulbing is None or self.stage < self.final or day == self.size:
            return False
        return self.cut_day is None and not self.days_allow(day)

    def days_allow(self, day):
        crop, hours = self.crop, self.weather.day_length[day]
        if crop.bulbing is not None:
            return hours >= crop.bulbing.day_length_at(self.weather.latitude)
        return crop.short_days is None or hours <= crop.short_days.day_length_h

    def word_of(self, day, falling):
        if self.is_in_pots(day):
            return "killed inside: too cold"
        if self.crop.winter is not None and self.airs[-1].recent[day] < WINTER_HARDENED_AT_C:
            return "winter kill"
        return "not ripe before the end" if falling else "killed by cold"

    def frost_ahead(self, day):
        """Whether a frost comes before flowers that open today have made their crop outdoors."""
        last, air, made = self.crop.stages[-1], self.airs[-1], 0.0
        span = self.card[1] - self.card[0]
        while day < self.size and made < last.share * self.total - ALMOST:
            if self.is_killed(last, day, air):
                return True
            if self.weather.day_length[day] >= LEAST_DAY_H:
                made += air.grown(day, self.card) * span
            day += 1
        return False

    def winter_cold(self):
        winter = self.crop.winter
        if winter is None or winter.cold_days is None or self.cold_days >= winter.cold_days:
            return
        self.quality *= winter.smaller_crop
        if self.cold_days < LEAST_COLD * winter.cold_days:
            self.found.append((12, "cold need not met", -1))

    def heat_of(self, stage, number, seen):
        heat = stage.heat
        if heat is None or not seen.tmean:
            return
        rules = []
        if heat.maximum_fails_c is not None and heat.minimum_fails_c is not None:
            first = (heat.maximum_from_c + heat.minimum_from_c) / 2
            last = (heat.maximum_fails_c + heat.minimum_fails_c) / 2
            rules.append((seen.tmean, first, last))
        else:
            rules.append((seen.tmax, heat.maximum_from_c, heat.maximum_fails_c))
            rules.append((seen.tmin, heat.minimum_from_c, heat.minimum_fails_c))
            rules.append((seen.tmean, heat.mean_from_c, heat.mean_fails_c))
        for values, first, last in rules:
            if first is None:
                continue
            mean = sum(values) / len(values)
            self.quality *= min(max(1 - LOSS_PER_DEGREE * max(mean - first, 0), 0.2), 1.0)
            if last is not None and mean > last + TOLERANCE_C:
                self.found.append((8 + 0.01 * number, "too hot", number))

    def heat_over_its_last_third(self, day):
        begin = (self.up + 2 * day) // 3
        lost = [self.air(d).lost(d, self.card) for d in range(begin, day)]
        share = sum(lost) / len(lost) if lost else 0.0
        self.quality *= 1 - share
        if share > MOST_HOT_LOSS and not self.crop.sprouts_again:
            self.found.append((9, "too hot", len(self.crop.stages) - 1))

    def harvest(self, day, cut_early):
        last = day
        if cut_early and self.ripe is None:
            self.quality *= max(self.in_stage / self.need(self.final), 0.3)
        if not cut_early:
            last = self.picked_until(day)
        ripe = day if self.ripe is None else self.ripe
        first = next(n for n, stage in enumerate(self.crop.stages) if stage.harvested)
        begin = self.begins[first]
        grown = [
            self.air(d).grown(d, self.card)
            for d in range(begin, min(max(ripe, begin + 1), self.size))
        ]
        made = sum(
            self.air(d).grown(d, self.card) * self.weather.radiation[d]
            for d in range(max(self.up, self.set_out), day)  # none in a tray
        )
        return Outcome(
            "harvest",
            up=self.up,
            begins=self.begins,
            ripe=ripe,
            last=last,
            growth=sum(grown) / len(grown) * self.quality,
            yield_index=made * self.quality,
        )

    def picked_until(self, day):
        """It is picked until its heat, the frost or the record ends."""
        stage = self.crop.stages[self.final]
        while day < self.size and self.picked < self.picking - ALMOST:
            if self.is_killed(stage, day, self.air(day)):
                break
            self.picked += self.heat_on(day)
            day += 1
        return day


class _StageWeather:
    """The days that a stage has had."""

    def __init__(self):
        self.tmin, self.tmax, self.tmean = [], [], []

    def add(self, air, day):
        self.tmin.append(air.tmin[day])
        self.tmax.append(air.tmax[day])
        self.tmean.append(air.tmean[day])

    def setting_days(self, rule):
        return sum(
            rule.night_low_c <= low <= rule.night_high_c
            and rule.day_low_c <= high <= rule.day_high_c
            for low, high in zip(self.tmin, self.tmax, strict=True)
        )


class _Bolting:
    """Cold, or long days, counted until a crop runs to flower.

    A count that is full once the crop has been cut does no harm; one that is full before waits for
    a day that is long enough.
    """

    def __init__(self, crop, total, up, weather):
        self.crop, self.total, self.up, self.weather = crop, total, up, weather
        self.counts = {"cold days": 0, "cold units": 0.0, "long days": 0}
        self.full_on = {}

    def add(self, air, day, heat_before):
        mean = air.tmean[day]
        rule = self.crop.cold_bolting
        if rule is not None and heat_before >= rule.from_share * self.total - ALMOST:
            cold = mean < rule.mean_below_c and air.tmax[day] < WARM_AFTERNOON_C
            self.counts["cold days"] += cold
        rule = self.crop.vernalization
        if rule is not None and heat_before >= rule.from_share * self.total - ALMOST:
            slope = (rule.optimum_c - rule.base_c) / (rule.maximum_c - rule.optimum_c)
            units = min(mean - rule.base_c, (rule.maximum_c - mean) * slope)
            self.counts["cold units"] += max(units, 0)
        rule = self.crop.long_day_bolting
        if rule is not None and self.weather.day_length[day] > rule.day_length_h:
            self.counts["long days"] += mean > rule.mean_above_c

    def bolts(self, day, cut_day):
        """Whether it flowers today."""
        crop = self.crop
        rules = (
            ("cold days", crop.cold_bolting, getattr(crop.cold_bolting, "days", 0)),
            ("cold units", crop.vernalization, getattr(crop.vernalization, "sum", 0)),
            ("long days", crop.long_day_bolting, getattr(crop.long_day_bolting, "days", 0)),
        )
        return any(
            self._bolts_by(name, rule, need, day, cut_day)
            for name, rule, need in rules
            if rule is not None
        )

    def _bolts_by(self, name, rule, need, day, cut_day):
        if self.counts[name] < need - ALMOST:
            return False
        full = self.full_on.setdefault(name, day)
        within = getattr(rule, "within_days", None)
        if within is not None and full > self.up + within:
            return False
        if cut_day is not None and full > cut_day:
            return False
        if name == "long days" or rule.day_length_h is None:
            return full == day
        too_late = cut_day is not None and day >= cut_day
        if too_late or day >= len(self.weather):
            return False
        return self.weather.day_length[day] >= rule.day_length_h


def live(weather, crop, way, start):
    """What becomes of one start."""
    life = _Life(weather, crop, way, start)
    outcome = life.live()
    if outcome.day is None or life.set_out <= outcome.day:
        outcome.set_out = life.set_out
    return outcome
