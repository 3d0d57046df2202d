"""One year of a perennial, met night by night in plain Python: a second opinion on `stand`.

Hours, soil, radiation and the response to warmth come from the folders that make them.
"""

from dataclasses import dataclass

import numpy as np

TOLERANCE_C, ALMOST = 0.05, 1e-9
CLASSES = (1.4, 2.4, 9.1, 12.4, 15.9, 18.0)
UNITS = (0.0, 0.5, 1.0, 0.5, 0.0, -0.5, -1.0)


@dataclass
class Year:
    """What becomes of a year; days of the record, None where it does not come to them."""

    reason: str
    up: int | None = None
    ripe: int | None = None
    last: int | None = None
    ended: int | None = None
    stage: int = -1
    quality: float = 1.0


UNKNOWN = Year("unknown")


class Weather:
    """The days of a site, as plain lists."""

    def __init__(self, site):
        around = site.outdoors()
        self.tmin, self.tmax = around.tmin.tolist(), around.tmax.tolist()
        self.tmean = [(low + high) / 2 for low, high in zip(self.tmin, self.tmax, strict=True)]
        self.hours = around.hours.tolist()
        self.soil = np.asarray(site.soil_at(0.20)).tolist()
        self.size = len(self.tmin)
        self.chill = [max(sum(units_of(hour) for hour in day), 0.0) for day in self.hours]
        self.warmth = [sum(warmth_of(hour) for hour in day) for day in self.hours]


def units_of(celsius):
    """Utah chill units of an hour."""
    return UNITS[sum(celsius > end for end in CLASSES)]


def warmth_of(celsius):
    """Growing degree hours of an hour (Anderson et al. 1986)."""
    if 4 < celsius <= 25:
        return 21 / 2 * (1 - np.cos(np.pi * (celsius - 4) / 21))
    if 25 < celsius < 36:
        return 21 * (1 + np.cos(np.pi / 2 + np.pi / 2 * (celsius - 25) / 11))
    return 0.0


def filled(values, begin, need):
    """The day before which the values from a day on add up to a need, or None."""
    total, day = 0.0, begin
    while total < need - ALMOST:
        if day >= len(values):
            return None
        total += values[day]
        day += 1
    return day


def live(weather, kind, need, coldest):
    """Outcome of the year of one coldest day, None beyond the record; `need` is of chill units."""
    if coldest is None or coldest < 120:
        return UNKNOWN
    if kind.perennial.bloom is not None:
        return blooming(weather, kind, need, coldest)
    return sprouting(weather, kind, coldest)


def night_at(weather, limit, begin, end):
    """The first night at or below a limit, or None."""
    nights = range(begin, min(end, weather.size))
    return next((day for day in nights if weather.tmin[day] <= limit + TOLERANCE_C), None)


def end_of_rest(weather, bloom, need, coldest):
    """Day on which the chilling is met, or on which rest ends with less; or None."""
    begin, latest = coldest - 120, min(coldest + 150, weather.size)
    if need <= 0:
        return begin

    def reached(units):
        total = 0.0
        for day in range(begin, latest):
            total += weather.chill[day]
            if total >= units:
                return day
        return None

    rested = reached(need)
    if rested is None and coldest + 150 < weather.size and bloom.least_chill_units is not None:
        enough = reached(bloom.least_chill_units)
        rested = None if enough is None else max(enough, coldest + 50)
    return rested


def blooming(weather, kind, need, coldest):
    """A tree, a vine or a bush."""
    bloom, perennial = kind.perennial.bloom, kind.perennial
    latest = min(coldest + 150, weather.size)
    rested = end_of_rest(weather, bloom, need, coldest)

    def opened(share):
        return (
            None if rested is None else filled(weather.warmth, rested, share * bloom.heat_to_bloom)
        )

    buds = [opened(stage.share) for stage in bloom.buds]
    full = opened(1.0)
    asleep_until = latest if buds[0] is None else min(buds[0], latest)
    wood = None if perennial.crown_below_ground else perennial.hardy_to_c
    for limit, reason in ((wood, "winter kill"), (perennial.buds_hardy_to_c, "buds")):
        if limit is not None:
            night = night_at(weather, limit, coldest - 120, asleep_until)
            if night is not None:
                return Year(reason, ended=night)
    if rested is None:
        return Year("cold", ended=latest) if coldest + 150 < weather.size else UNKNOWN
    if full is None:
        return UNKNOWN
    alive, last = flowers(weather, bloom, [*buds, full + 30])
    if alive < 0.1:
        return Year("buds", up=full, ended=last)
    return fruiting(weather, kind, Year("", up=full, quality=min(alive / 0.3, 1)), coldest)


def flowers(weather, bloom, days):
    """Share of the flowers left alive, in groups that open one after the other; and the last night
    that killed some."""
    later = [0]
    if bloom.flowering_days:
        later = [round(bloom.flowering_days * group / 4) for group in range(5)]
    alive, nights = 0.0, []
    for shift in later:
        left = 1.0
        ends = zip(days, days[1:], bloom.buds, strict=False)
        for begin, end, stage in ((one + shift, two + shift, stage) for one, two, stage in ends):
            span = max(stage.tenth_killed_c - stage.most_killed_c, 0.1)
            killed, coldest_night = 0.0, None
            for day in range(begin, min(end, weather.size)):
                if weather.tmin[day] > stage.tenth_killed_c + TOLERANCE_C:
                    continue
                share = 0.1 + 0.8 * (stage.tenth_killed_c - weather.tmin[day]) / span
                share = min(max(share, 0.0), 1.0)
                if share > killed:
                    killed, coldest_night = share, day
            if coldest_night is not None:
                left *= 1 - killed
                last_of_group = coldest_night
                nights.append((shift, last_of_group))
        alive += left / len(later)
    last_of = dict(nights)  # of each group the last stage that lost some
    return alive, max(last_of.values(), default=None)


def fruiting(weather, kind, year, coldest):
    """From bloom to harvest."""
    bloom, last_stage = kind.perennial.bloom, len(kind.stages) - 1
    ripe = year.up + round(bloom.days_to_harvest)
    if bloom.heat_to_ripen is not None:
        warm = filled([max(mean - 10, 0) for mean in weather.tmean], coldest, bloom.heat_to_ripen)
        if warm is None or warm > coldest + 300:
            if coldest + 300 >= weather.size:
                return UNKNOWN
            return Year("late", stage=last_stage, up=year.up, ended=coldest + 300)
        ripe = max(ripe, warm)
    if ripe >= weather.size:
        return UNKNOWN
    frozen = kind.stages[-1].cold.killed_at_c
    if night_at(weather, frozen, year.up + 30, ripe) is not None:
        return Year("late", stage=last_stage, up=year.up, ended=ripe)
    for mean, begins, fails in heats(weather, kind.stages[-1].heat, year.up, ripe):
        if fails is not None and mean > fails + TOLERANCE_C:
            return Year("hot", stage=last_stage, up=year.up, ended=ripe)
        year.quality *= min(max(1 - 0.07 * max(mean - begins, 0), 0.2), 1)
    year.reason, year.ripe, year.last, year.ended = "harvest", ripe, ripe, ripe
    return year


def heats(weather, heat, begin, end):
    """Means of what a heat rule looks at, with where harm begins and where the crop fails."""
    if heat is None:
        return []
    rules = (
        (weather.tmax, heat.maximum_from_c, heat.maximum_fails_c),
        (weather.tmin, heat.minimum_from_c, heat.minimum_fails_c),
        (weather.tmean, heat.mean_from_c, heat.mean_fails_c),
    )
    return [
        (sum(values[begin:end]) / (end - begin), begins, fails)
        for values, begins, fails in rules
        if begins is not None
    ]


def sprouting(weather, kind, coldest):
    """An herb that is cut as it sprouts."""
    rule, perennial = kind.perennial.sprouting, kind.perennial
    begin, end = coldest - 120, min(coldest + 60, weather.size)
    if not perennial.crown_below_ground:
        night = night_at(weather, perennial.hardy_to_c, begin, end)
        if night is not None:
            return Year("winter kill", ended=night)
    if sum(mean < 9.4 for mean in weather.tmean[begin:end]) < rule.chill_days:
        return Year("cold", ended=end) if end < weather.size else UNKNOWN
    driver = weather.soil if rule.in_soil else weather.tmean
    first = filled([max(t - rule.base_c, 0) for t in driver], coldest, rule.heat_to_first_cut)
    if first is None or first > coldest + 240:
        if coldest + 240 >= weather.size:
            return UNKNOWN
        return Year("late", ended=coldest + 240)
    last = first + rule.harvest_days
    if last >= weather.size:
        return UNKNOWN
    nights = weather.tmin[first:last]
    frozen = sum(night <= rule.cut_killed_at_c + TOLERANCE_C for night in nights)
    quality = min(max(1 - 7 * frozen / rule.harvest_days, 0.3), 1)
    return Year("harvest", up=first, ripe=first, last=last, ended=last, quality=quality)
