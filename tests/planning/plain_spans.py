"""Spans of start dates and the one that leads, by plain loops over days, seasons and blocks."""

import math
from dataclasses import dataclass, replace
from itertools import pairwise

from planning.plain_choice import DAYS, best_day, near_best

NAMES = ("spring", "summer for autumn", "autumn for the next year")


@dataclass
class Run:
    """A span of dates and its best one; days of the year from 0."""

    season: int
    first: int
    best: int
    last: int
    largest_from: int
    largest_to: int

    @property
    def days(self):
        """How many days it has."""
        return len(days_between(self.first, self.last))


def days_between(first, last):
    """Days from one to another on the circle of the year, both among them."""
    days = [first]
    while days[-1] != last:
        days.append((days[-1] + 1) % DAYS)
    return days


def smooth(values):
    """Means over a fortnight around each day, of what is known."""
    out = []
    for day in range(DAYS):
        near = [values[(day + shift) % DAYS] for shift in range(-7, 8)]
        held = [value for value in near if not math.isnan(value)]
        out.append(sum(held) / len(held) if held else math.nan)
    return out


def season_of(day, life, coldest, warmest):
    """Number of the season in which a start on a day belongs, by the day of its harvest."""
    since = (day - coldest) % DAYS
    if since + (0 if math.isnan(life) else life) > 365 + 30:
        return 2
    return 1 if since >= (warmest - coldest) % DAYS - 40 else 0


def runs_of(days):
    """Runs of a set of days on the circle, each a list in order, by their first day."""
    if len(days) == DAYS:
        return [list(range(DAYS))]
    out = []
    for day in sorted(days):
        if (day - 1) % DAYS in days:
            continue
        run = [day]
        while (run[-1] + 1) % DAYS in days:
            run.append((run[-1] + 1) % DAYS)
        out.append(run)
    return out


def spans(odds, crop, value, seasons, coldest, least_odds):
    """Spans of each season from smoothed curves of plain numbers."""
    safe = [day for day in range(DAYS) if odds[day] >= least_odds]
    best_value = max((value[day] for day in safe), default=0)
    found = []
    for season in range(3):
        own = [day for day in safe if seasons[day] == season]
        if own and value[most := max(own, key=lambda day: crop[day])] >= 0.5 * best_value:
            held = {day for day in own if value[day] >= 0.5 * value[most]}
            found.append(span_of(season, max(runs_of(held), key=len), crop))
    return joined([each for each in found if each.days >= 7], odds, coldest)


def span_of(season, run, crop):
    """The span of a run of days, with its best date."""
    top = max(sorted(run), key=lambda day: crop[day])
    near = {day for day in run if crop[day] >= 0.9 * crop[top]}
    stretches = sorted(runs_of(near), key=lambda each: (each[0] - run[0]) % DAYS)
    of_top = next(each for each in stretches if top in each)
    chosen, wait = of_top, (len(of_top) - 1) // 2
    if season == 0:
        long_enough = [each for each in stretches if len(each) >= 7]
        chosen = long_enough[0] if long_enough else max(stretches, key=len)
        wait = min((len(chosen) - 1) // 2, 14)
    best = (chosen[0] + wait) % DAYS
    return Run(season, run[0], best, run[-1], chosen[0], of_top[-1])


def joined(found, odds, coldest):
    """Spans, the head of summer's run no span of its own."""
    if [each.season for each in found[:2]] != [0, 1]:
        return found
    head, summer = found[:2]
    fall = highest = 0.0
    for day in days_between(coldest, head.first):
        highest = max(highest, odds[day])
        fall = max(fall, highest - odds[day])
    if meet(head, summer) and fall >= 0.3:
        return [replace(summer, first=head.first), *found[2:]]
    return found


def meet(one, other):
    """Whether a run begins on the day after another ends."""
    return (one.last + 1) % DAYS == other.first


def lead(shares, crops, growths, weaker, needs_winter):
    """Place of the span that is named first."""
    places = range(len(shares))
    largest = max(places, key=lambda n: crops[n])
    if needs_winter:
        return largest
    stand = [
        n
        for n in places
        if n != weaker and crops[n] >= 0.5 * max(crops) and growths[n] >= 0.5 * max(growths)
    ]
    safe = [n for n in stand if shares[n] >= 0.8]
    return next(iter(safe or stand), largest)


class Tables:
    """What came of each date in each block of years: lists of 365 rows, a number for each block."""

    def __init__(self, harvested, known, worth, growth):
        self.harvested, self.known, self.worth, self.growth = harvested, known, worth, growth
        self.blocks = range(len(known[0]))
        self.share = divided(map(sum, harvested), map(sum, known), 1)

    def without(self, block):
        """Shares, mean yields and growth of all other blocks, and which dates they know."""
        hits, years, made, grown = (
            [sum(row) - row[block] for row in table]
            for table in (self.harvested, self.known, self.worth, self.growth)
        )
        shares, means = divided(hits, years, 1), divided(made, years, 1)
        return shares, means, divided(grown, hits, 1e-9), [count > 0 for count in years]

    def judge(self, days, best):
        """Harvests and years of a date for each block, judged in it, allowed for fewer years."""
        pairs = list(zip(days, self.blocks, strict=True))
        hits, years = (
            sum(table[day][block] for day, block in pairs) for table in (self.harvested, self.known)
        )
        of_best = self.share[best]
        cost = sum(self.known[day][block] * (of_best - self.share[day]) for day, block in pairs)
        return min(max(hits + 0.5 * cost, 0.0), max(hits, of_best * years)), years


def divided(one, other, least):
    """Quotients, of a divisor of at least so much."""
    return [each / max(by, least) for each, by in zip(one, other, strict=True)]


def times(one, other):
    """Products, with 0 for what is missing in the second."""
    return [a * (0 if math.isnan(b) else b) for a, b in zip(one, other, strict=True)]


def choice(share, growth, worth, life, tables, turns, *, needs_winter, is_cool):
    """The choice of dates, from curves of all years and `Tables`.

    A dictionary of the first, the best and the last day from 1, the season's number or -1, the
    harvests and the years that judge, the share of blocks by which a date is stable, and the runs
    of other seasons.
    """
    coldest, warmest = turns
    lives = smooth(life)
    seasons = [season_of(day, lives[day], coldest, warmest) for day in range(DAYS)]
    curves = [smooth(each) for each in (share, worth, times(share, growth))]
    found = spans(*curves, seasons, coldest, 0.8)
    stable, alone, of_blocks = [0.0] * DAYS, [], []
    for block in tables.blocks:
        shares, means, grown, known = tables.without(block)
        alone.append(best_day(means, known))
        for day in near_best(means, known):
            stable[day] += 1 / len(tables.blocks)
        of_blocks.append([smooth(each) for each in (shares, means, times(shares, grown))])
    if not found:
        return {"stable": stable, **hopeless(worth, tables, stable, alone)}

    def elsewhere(span, of_block):
        """The date of a season by other years: by lower odds where they leave none."""
        for least in (0.8, 0.4, 0.0):
            for each in spans(*of_block, seasons, coldest, least):
                if each.season == span.season:
                    return each.best
        return span.best

    judged = [
        tables.judge([elsewhere(span, each) for each in of_blocks], span.best) for span in found
    ]
    safe = [hits / max(years, 1) for hits, years in judged]
    crops, growths = ([of[each.best] for each in found] for of in (worth, growth))
    leading = lead(safe, crops, growths, weaker_end(found, safe), needs_winter)
    first, last = run_through(found, safe, leading, is_cool)
    held = days_between(first, last)
    return {
        "first": first + 1,
        "best": found[leading].best + 1,
        "last": last + 1,
        "season": found[leading].season,
        "harvested": judged[leading][0],
        "known": judged[leading][1],
        "stable": stable,
        "others": [(each.first + 1, each.last + 1) for each in found if each.best not in held],
    }


def weaker_end(found, safe):
    """Place of the end of a run through the winter that is clearly less safe, if any."""
    if len(found) < 2 or not meet(found[-1], found[0]) or abs(safe[0] - safe[-1]) < 0.1:
        return None
    return 0 if safe[0] < safe[-1] else len(found) - 1


def run_through(found, safe, leading, is_cool):
    """First and last day of the run that leads: through the winter, where that is as safe."""
    ends = (0, len(found) - 1)
    in_winter = len(found) > 1 and meet(found[-1], found[0]) and abs(safe[0] - safe[-1]) <= 0.05
    if not (is_cool and in_winter and leading in ends):
        return found[leading].first, found[leading].last
    if all(meet(*each) for each in pairwise(found)) and max(safe) - min(safe) <= 0.05:
        return found[0].first, found[-1].last
    return found[-1].first, found[0].last


def hopeless(worth, tables, stable, alone):
    """What is chosen where no season is safe: the run of the largest crop."""
    known = [sum(row) > 0 for row in tables.known]
    near = near_best(worth, known)
    most = max(stable[day] for day in near)
    best = best_day(worth, known, stable)
    runs = runs_of({day for day in near if stable[day] >= most - 1e-9})
    run = next(each for each in runs if best in each)
    hits, years = tables.judge(alone, best)
    return {
        "first": run[0] + 1,
        "best": best + 1,
        "last": run[-1] + 1,
        "season": -1,
        "harvested": hits,
        "known": years,
        "others": [],
    }
