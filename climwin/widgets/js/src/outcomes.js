// What became of a plan: an outcome grid in, counts out. Python grows every year and start day and
// hands over one code for each; nothing of growing is computed here, only selected and counted.

import { DAYS, range } from "./calendar.js";
import { countOverDraws, intervals, meanOf, pairedInterval, samplesByDraw } from "./statistics.js";
import { fromLetters, fromRuns, fromSteps, signed } from "./unpack.js";

/** Row of harvestDays by which the harvest has begun in half of the harvested years. */
export const MIDDLE = 1;

/**
 * The outcomes of one way of growing, from payload.outcomes of Python.
 *
 * `on(startDay)` gives the outcome of each year, started on that day of the year: its `code`, and
 * `harvested`, 1 or 0 in each draw of the gaps, null where the year is known or is not drawn;
 * `harvestDays(startDay)` the days after 31 December before the start by which the harvest has begun
 * in 10, 50 and 90 % of the harvested years, NaN where there is none; `needDays(startDay)` the days
 * that the crop stands outdoors. `climate` is that of the years, and `levelSpread(startDay)` what the
 * doubt about today's level adds to the standard error of the share of harvests. `bestDates` is the
 * first and last day of the start dates that lead, null where no year is known, `otherDates` those of
 * other seasons, `bestDate` the best of those that lead, and `bestShare` the share of harvests in years
 * that were not used to choose them, `bestInterval` its two ends.
 */
export function outcomeGrid(packed) {
  const codes = fromRuns(signed(fromLetters(packed.codes)), packed.code_counts);
  const draws = fromRuns(packed.draws, packed.draw_counts);
  const outcomeAt = (i) => ({
    code: codes[i],
    harvested: draws[i] ? [...draws[i]].map(Number) : null,
  });
  const years = range(codes.length / DAYS);
  const harvestDays = packed.harvest_days.map(fromSteps);
  const needDays = fromSteps(packed.need_days);
  const levelSpread = fromSteps(packed.level_spread ?? "");
  return {
    bestDates: packed.best_dates,
    otherDates: packed.other_dates,
    bestDate: packed.best_date,
    bestShare: packed.best_share,
    bestInterval: packed.best_interval,
    on: (startDay) => years.map((row) => outcomeAt(row * DAYS + startDay - 1)),
    needDays: (startDay) => needDays[startDay - 1],
    climate: packed.climate,
    levelSpread: (startDay) => (levelSpread[startDay - 1] ?? 0) / 1000,
    harvestDays: (startDay) =>
      harvestDays.map((days) => days[startDay - 1]).map((day) => (day < 0 ? NaN : day)),
  };
}

/** Whether a code is that of a harvest, good or poorer. */
export const isHarvest = (code, constants) =>
  code === constants.harvest || code === constants.good_harvest;

/** Whether a year came to a harvest, 1 or 0; null where a gap leaves it open. */
const hasHarvest = (code, constants) =>
  code === constants.unknown ? null : Number(isHarvest(code, constants));

/**
 * Years with a harvest, with a good one, that are known, and that failed by each reason; and the
 * `share` of harvests over all years, the drawn ones as their draws say, with what it is `worth`.
 * The constants say which code means what.
 */
export function countOutcomes(outcomes, constants) {
  const count = (code) => outcomes.filter((each) => each.code === code).length;
  const good = count(constants.good_harvest);
  const harvested = good + count(constants.harvest);
  const known = outcomes.length - count(constants.unknown);
  const { share, leaning, worth } = countOverDraws(
    outcomes.map(({ code }) => hasHarvest(code, constants)),
    outcomes.map((each) => each.harvested),
  );
  return {
    share,
    leaning,
    worth,
    harvested,
    good,
    known,
    failed: constants.failure_reasons.map((_, code) => count(code)),
  };
}

/**
 * Intervals of the odds of a harvest from one start day of a grid, whose countOutcomes these are. The
 * long-run odds of the best date are those of years that were not used to choose it.
 */
export function harvestIntervals({ share, worth }, grid, startDay, constants) {
  const drift = constants.drifts.harvest[grid.climate];
  const spread = grid.levelSpread(startDay);
  const ahead = intervals(share, constants.counted_year * worth, drift, constants, spread);
  if (startDay !== grid.bestDate || !grid.bestInterval) return ahead;
  const [low, high] = grid.bestInterval;
  return { ...ahead, low, high };
}

/** Share of harvests over the years, by start day; NaN where no year has an answer. */
export function harvestShares(grid, constants) {
  return range(DAYS).map((i) => countOutcomes(grid.on(i + 1), constants).share);
}

/**
 * Two plans on the years known for both, with the interval of the difference of their shares, in
 * which years that are open for either count as their draws say.
 */
export function comparePlans(firstOutcomes, secondOutcomes, constants) {
  const known = [firstOutcomes, secondOutcomes].map((outcomes) =>
    outcomes.map(({ code }) => hasHarvest(code, constants)),
  );
  const count = (byFirst, bySecond) =>
    known[0].filter((first, i) => first === byFirst && known[1][i] === bySecond).length;
  const [both, neither] = [count(1, 1), count(0, 0)];
  const [onlyFirst, onlySecond] = [count(1, 0), count(0, 1)];
  const byDraw = firstOutcomes.map((first, i) => [
    known[0][i] === null ? first.harvested : known[0][i],
    known[1][i] === null ? secondOutcomes[i].harvested : known[1][i],
  ]);
  const answered = byDraw.filter((pair) => !pair.includes(null));
  /** Years, or parts of one, in which the plan at one place of a pair alone has a harvest. */
  const aloneInDraws = (place) =>
    answered.reduce(
      (sum, pair) =>
        sum + meanOf(samplesByDraw(pair).map((each) => Number(each[place] > each[1 - place]))),
      0,
    );
  return {
    known: both + neither + onlyFirst + onlySecond,
    both,
    onlyFirst,
    onlySecond,
    neither,
    ...pairedInterval(aloneInDraws(0), aloneInDraws(1), answered.length, constants.z),
  };
}
