"""The choice of a best date, and its judgement on years left out, by plain loops."""

import math

DAYS = 365


def near_best(worth, known):
    """Days whose worth lies at most a tenth below the best, as a set."""
    held = {day: worth[day] for day in range(DAYS) if known[day] and not math.isnan(worth[day])}
    top = max(held.values())
    if top <= 0:
        return {max(held, key=held.get)}
    return {day for day, value in held.items() if value >= 0.9 * top - 1e-9}


def best_day(worth, known, stable=None):
    """Day, from 0, with the best fortnight around it in the run that holds the best day."""
    near = near_best(worth, known)
    if stable is not None:
        most = max(stable[day] for day in near)
        near = {day for day in near if stable[day] >= most - 1e-9}
    run = [max(sorted(near), key=lambda day: worth[day])]
    for step in (-1, 1):
        day = (run[0] + step) % DAYS
        while day in near and day not in run:
            run.append(day)
            day = (day + step) % DAYS

    def around(day):
        days = [(day + shift) % DAYS for shift in range(-7, 8)]
        values = [worth[each] for each in days if known[each]]
        return sum(values) / len(values)

    # of equal ones the earliest in the run
    first = next(day for day in run if (day - 1) % DAYS not in run or len(run) == DAYS)
    ordered = sorted(run, key=lambda day: (day - first) % DAYS)
    return max(ordered, key=lambda day: round(around(day), 12))


def blocks(seasons):
    """First and last row of each block of years."""
    length = max(1, min(5, seasons // 5))
    firsts = list(range(0, seasons - length + 1, length))
    return [
        (first, (firsts[i + 1] if i + 1 < len(firsts) else seasons))
        for i, first in enumerate(firsts)
    ]


def days_that_judge(harvested, known, worth):
    """Each year with the best date of all years outside its block, of arrays (seasons, 365)."""
    out = []
    for first, after in blocks(len(harvested)):
        others = [row for row in range(len(harvested)) if not first <= row < after]
        counts = [sum(bool(known[row][day]) for row in others) for day in range(DAYS)]
        means = [
            sum(worth[row][day] for row in others if known[row][day]) / max(counts[day], 1)
            for day in range(DAYS)
        ]
        day = best_day(means, [count > 0 for count in counts])
        out += [(row, day) for row in range(first, after)]
    return out


def judged(harvested, known, worth):
    """Harvests and known years of the best date of all other years, in each block of years."""
    pairs = days_that_judge(harvested, known, worth)
    hits = sum(bool(harvested[row][day]) for row, day in pairs)
    return hits, sum(bool(known[row][day]) for row, day in pairs)


def judged_best(harvested, known, worth, best):
    """The same harvests, with the allowance for a choice from fewer years than chose `best`."""

    def in_all_years(day):
        years = [row for row in range(len(known)) if known[row][day]]
        return sum(bool(harvested[row][day]) for row in years) / len(years)

    pairs = days_that_judge(harvested, known, worth)
    shares = [in_all_years(day) for row, day in pairs if known[row][day]]
    hits, years = judged(harvested, known, worth)
    return allowed_for(hits, years, in_all_years(best), shares)


def allowed_for(hits, years, best_share, judged_shares):
    """Harvests with half of what a choice from fewer years costs, where all years judge both.

    `judged_shares` has, for each year that judged, the share of harvests of its date in all years.
    """
    cost = sum(best_share - share for share in judged_shares)
    return min(max(hits + 0.5 * cost, 0.0), max(hits, best_share * years))
