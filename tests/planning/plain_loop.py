"""One start of an annual crop, lived day by day in plain Python: a second opinion on `grow`.

Each day is met at its beginning, when stages end and counts are full, and then through its weather.
Nothing looks ahead but the rule for what flowers again. Soil, radiation and day length come from
the rooms that make them, which have tests of their own.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field

import numpy as np

from climwin.climate.heat import day_length
from climwin.climate.radiation import solar_radiation_kernel
from climwin.climate.soil import soil_kernel
from climwin.core.seasons import day_of_year
from climwin.crops.model import FIELD_DAYS, REFERENCE_DAYS
from climwin.planning.growth import (
    COLD_NEED_RANGE_C,
    HARDENED_AT_C,
    LONGEST_LIFE,
    LONGEST_WINTER_LIFE,
    LOSS_PER_DEGREE,
    MOST_HOT_LOSS,
    PICKED_SHARE,
    POT_RATE,
    RAISED_DAYS,
    SCORCHED_AT_C,
    SLOW_START,
    STAND_LOST_PER_DAY,
    TENDER_AT_C,
    WARM_AFTERNOON_C,
    WINTER_HARDENED_AT_C,
    WORKABLE_BED_C,
)
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
    _responses: dict = field(default_factory=dict)

    def __post_init__(self):
        self.tmean = [(low + high) / 2 for low, high in zip(self.tmin, self.tmax, strict=True)]
        self.recent = [last_days(self.tmean, day, 14) for day in range(len(self.tmean))]

    def response(self, day, card):
        """Growth, and what heat takes from it, on a day."""
        key = day, card
        if key not in self._responses:
            grown = sum(share_of_growth(hour, card) for hour in self.hours[day]) / 24
            lost = sum(too_hot_share(hour, card) for hour in self.hours[day]) / 24
            self._responses[key] = grown, lost
        return self._responses[key]


class Weather:
    """A record without gaps, and the airs that its covers make."""

    def __init__(self, record, latitude):
        self.tmin, self.tmax = record["tmin"].values, record["tmax"].values
        self.latitude = latitude
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
                tmin, tmax = inside_kernel(cover, tmin, tmax)
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
    for (left, low), (right, high) in zip(points, points[1:], strict=False):
        if left <= celsius <= right:
            return low + (high - low) * (celsius - left) / (right - left)
    return 0.0


def patience(crop, points):
    """Days for which seed is waited for."""
    if crop.propagation in ("tubers", "cloves", "sets", "slips", "roots"):
        return 55
    warm = crop.season == "warm"
    at = 15.0 if warm else 10.0
    if len(points) > 3:
        at = max(at, points[1][0])
    days = 1 / max(rate_at(points, at), 1e-3)
    times, fewest, most = (1.4, 18, 28) if warm else (2.5, 21, 60)
    return math.ceil(min(max(times * days, fewest), most))


# --- one life -----------------------------------------------------------------------------


@dataclass
class Outcome:
    """What became of a start; days of the record, `None` where it does not come to it."""

    reason: str  # "harvest", "unknown", or a reason
    stage: int = -1
    day: int | None = None
    up: int | None = None
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
        return max(n for n, edge in enumerate(self.edges) if day >= edge)

    def air(self, day):
        return self.airs[self.phase(day)]

    def heat_on(self, day):
        heat = self.air(day).response(day, self.card)[0] * (self.card[1] - self.card[0])
        return heat * POT_RATE if self.way.raised and self.phase(day) == 0 else heat

    def heat_between(self, begin, end):
        return sum(self.heat_on(day) for day in range(begin, min(end, self.size)))

    def killed_at(self, stage, day, air):
        """Night minimum that kills a stage on a day."""
        limit, recent = stage.cold.killed_at_c, air.recent[day]
        if not stage.hardens:
            return limit
        hardened = (TENDER_AT_C - recent) / (TENDER_AT_C - HARDENED_AT_C)
        limit -= self.crop.hardens_by_c * min(max(hardened, 0.0), 1.0)
        winter = self.crop.winter
        if winter is not None and recent < WINTER_HARDENED_AT_C:
            limit = -99.0 if winter.below_ground else min(limit, winter.hardy_to_c)
        return limit

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
        if winter.most_heat_before is not None:
            if self.heat_between(self.start, middle) > winter.most_heat_before:
                return middle
        if winter.least_root_heat is not None and middle - self.start < 150:
            warm = sum(max(self.air(d).soil_sowing[d], 0) for d in range(self.start, middle))
            if warm < winter.least_root_heat:
                return middle
        return None

    def grow_up(self, up, no_bed_on, winter_loss):
        crop, way, stages, size = self.crop, self.way, self.crop.stages, self.size
        whole = heat_needed(crop, way)
        total = whole
        if way.raised:  # it grows on in its pot, but not past half of its life
            total += max(self.heat_between(up, min(self.set_out, size)) - whole / 2, 0)
        planted = crop.propagation in PLANTED
        if crop.season == "warm" and not planted and not way.raised and up > self.start:
            self.quality *= math.exp(
                -STAND_LOST_PER_DAY * max(up - self.start - SLOW_START, 0)
            )
        final = len(stages) - 1
        limit = self.start + (
            LONGEST_WINTER_LIFE if crop.winter or crop.bulbing else LONGEST_LIFE
        )
        never = not any(self.days_allow(day) for day in range(size))
        cold_days = sum(
            COLD_NEED_RANGE_C[0] <= self.air(day).tmean[day] <= COLD_NEED_RANGE_C[1]
            for day in range(self.start, min(up, size))
        )
        begins, stage, in_stage, since_up = [up], 0, 0.0, 0.0
        seen = _StageWeather()
        bolting = _Bolting(crop, total, up, self.weather)
        chilled_run, ripe, cut_day, picked, heat_done = 0, None, None, 0.0, False
        picking = crop.picking_share * total

        def failed(reason, number, day):
            return Outcome(reason, number, day, up=up, begins=begins)

        for day in range(up, size + 1):
            # --- at the beginning of the day: stages end, counts are full
            found = []  # (rank of the rule, reason, stage)
            if day == up and final == 0:
                self.winter_cold(cold_days, found)
            ended = []  # stages that end today, with the weather they had
            while ripe is None and in_stage >= stages[stage].share * total - ALMOST:
                heat_done = True
                if stage < final and self.waits_for_days(stage + 1):
                    if never:
                        found.append((2, "day length", -1))
                        break
                    if day == size or not self.days_allow(day):
                        break
                if crop.flowers_again and stage == final - 1 and self.frost_ahead(day, total):
                    break
                heat_done = False
                ended.append((stage, seen))
                if stage == final:
                    ripe = day
                else:
                    stage += 1
                    begins.append(day)
                    in_stage, seen = 0.0, _StageWeather()
                    if stage == final:
                        self.winter_cold(cold_days, found)
            if stage == final and cut_day is None:
                share = crop.cut_from_share * stages[final].share * total
                if ripe is not None and crop.cut_from_share >= 1:
                    if picked >= PICKED_SHARE * picking - ALMOST:
                        cut_day = day
                elif crop.cut_from_share < 1 and in_stage >= share - ALMOST:
                    cut_day = day
                if cut_day == day:
                    self.heat_of(stages[final], final, seen, found, cut=True)
            needed = ripe is not None and picked >= PICKED_SHARE * picking - ALMOST
            for number, weather_then in ended:
                if number < final:
                    self.setting_of(stages[number], number, weather_then, found)
                    self.heat_of(stages[number], number, weather_then, found, cut=False)
            if needed:
                self.setting_of(stages[final], final, seen, found)
                self.heat_over_its_last_third(up, day, found)
            if day == no_bed_on:
                found.append((0, "no bed workable", -1))
            if day == limit and day < size and not needed:
                found.append((3, "not ripe before the end", final))
            if bolting.bolts(day, cut_day):
                found.append((10, "bolted", -1))
            if winter_loss == day:
                found.append((11, "winter kill", 0))
            # --- through the day
            cut_by_frost = False
            if day < size and not needed:
                air = self.air(day)
                inside = way.raised and self.phase(day) == 0
                if self.is_killed(stages[stage], day, air):
                    falling = self.weather.falling(day)
                    spared = crop.sprouts_again and not stages[stage].harvested and not falling
                    if stage == final and cut_day is not None:
                        cut_by_frost = True
                        self.heat_over_its_last_third(up, day, found)
                    elif not spared:
                        found.append((4 + 0.01 * stage, self.word_of(inside, falling, day), stage))
                if air.covered and air.tmax[day] >= SCORCHED_AT_C:
                    found.append((5, "killed inside: scorched", -1))
                chill = crop.chilling
                if chill is not None:
                    chilled_run = chilled_run + 1 if air.tmean[day] < chill.mean_below_c else 0
                    young = max(up, self.set_out) + chill.first_days
                    if chilled_run >= chill.days and day < young and ripe is None:
                        word = "killed inside: too cold" if inside else "chilled"
                        found.append((6, word, 0))
            if found:
                _, reason, number = min(found, key=lambda each: each[0])
                return failed(reason, number, day)
            if needed or cut_by_frost:
                if cut_by_frost:
                    done = in_stage / (stages[final].share * total)
                    self.quality *= min(max(done, 0.3), 1.0) if ripe is None else 1.0
                return self.harvest(begins, day, ripe, picked, picking, cut_by_frost)
            if day == size:
                break
            # --- the day passes
            air, heat = self.air(day), self.heat_on(day)
            since_up += heat
            if not heat_done and ripe is None:
                in_stage += heat
            if ripe is not None:
                picked += heat
            seen.add(air, day)
            bolting.add(air, day, since_up - heat)
            low, high = COLD_NEED_RANGE_C
            cold_days += low <= air.tmean[day] <= high
        return Outcome("unknown", up=up, begins=begins)

    # --- rules

    def waits_for_days(self, stage):
        """Whether a stage waits for long days, as bulbs do, or for short ones."""
        crop = self.crop
        if crop.bulbing is not None:
            return stage == len(crop.stages) - 1
        return crop.short_days is not None and crop.stages[stage].name == crop.short_days.stage

    def days_allow(self, day):
        crop, hours = self.crop, self.weather.day_length[day]
        if crop.bulbing is not None:
            return hours >= crop.bulbing.day_length_at(self.weather.latitude)
        return crop.short_days is None or hours <= crop.short_days.day_length_h

    def word_of(self, inside, falling, day):
        if inside:
            return "killed inside: too cold"
        if self.crop.winter is not None and self.airs[-1].recent[day] < WINTER_HARDENED_AT_C:
            return "winter kill"
        return "not ripe before the end" if falling else "killed by cold"

    def frost_ahead(self, day, total):
        """Whether a frost comes before flowers that open today have made their crop outdoors."""
        last, air, made = self.crop.stages[-1], self.airs[-1], 0.0
        span = self.card[1] - self.card[0]
        while day < self.size and made < last.share * total - ALMOST:
            if self.is_killed(last, day, air):
                return True
            made += air.response(day, self.card)[0] * span
            day += 1
        return False

    def winter_cold(self, cold_days, found):
        winter = self.crop.winter
        if winter is None or winter.cold_days is None or cold_days >= winter.cold_days:
            return
        if winter.smaller_crop > 0:
            self.quality *= winter.smaller_crop
        else:
            found.append((12, "cold need not met", -1))

    def setting_of(self, stage, number, seen, found):
        if stage.setting is not None and seen.setting_days(stage.setting) < stage.setting.days:
            found.append((7 + 0.01 * number, "fruit did not set", number))

    def heat_of(self, stage, number, seen, found, *, cut):
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
                found.append((8 + 0.01 * number, "too hot", number))

    def heat_over_its_last_third(self, up, day, found):
        begin = (up + 2 * day) // 3
        lost = [self.air(d).response(d, self.card)[1] for d in range(begin, day)]
        share = sum(lost) / len(lost) if lost else 0.0
        self.quality *= 1 - share
        if share > MOST_HOT_LOSS and not self.crop.sprouts_again:
            found.append((9, "too hot", len(self.crop.stages) - 1))

    def harvest(self, begins, day, ripe, picked, picking, cut_by_frost):
        ripe = day if ripe is None else ripe
        last = day
        if not cut_by_frost:
            while last < self.size and picked < picking - ALMOST:
                if self.is_killed(self.crop.stages[-1], last, self.air(last)):
                    break
                picked += self.heat_on(last)
                last += 1
        first = next(n for n, stage in enumerate(self.crop.stages) if stage.harvested)
        begin = begins[first]
        end = min(max(ripe, begin + 1), self.size)
        grown = [self.air(d).response(d, self.card)[0] for d in range(begin, end)]
        made = sum(
            self.air(d).response(d, self.card)[0] * self.weather.radiation[d]
            for d in range(begins[0], day)
        )
        return Outcome(
            "harvest",
            up=begins[0],
            begins=begins,
            ripe=ripe,
            last=last,
            growth=sum(grown) / max(len(grown), 1) * self.quality,
            yield_index=made * self.quality,
        )


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
    return _Life(weather, crop, way, start).live()
