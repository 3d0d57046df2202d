// What became of a plan: an outcome grid in, counts out. Python grows every year and start day and
// hands over one code for each; nothing of growing is computed here, only selected and counted.

import { DAYS, range } from "./calendar.js";
import { intervals, pairedInterval } from "./statistics.js";
import { unpackOutcomes } from "./unpack.js";

/** Row of harvestDays by which the harvest has begun in half of the harvested years. */
export const MIDDLE = 1;

/**
 * The outcomes of one way of growing, from payload.outcomes of Python.
 *
 * `on(startDay)` gives the outcome code of each year, started on that day of the year;
 * `harvestDays(startDay)` the days after 31 December before the start by which the harvest has begun
 * in 10, 50 and 90 % of the harvested years, NaN where there is none; `needDays(startDay)` the days
 * that the crop stands outdoors. `bestDates` is the first and last day of the start dates whose
 * expected crop comes near the best, null where no year is known, `bestDate` the best of them, and
 * `bestShare` the share of harvests in years that were not used to choose them.
 */
export function outcomeGrid(packed) {
  const codes = unpackOutcomes(packed.codes);
  const years = range(codes.length / DAYS);
  return {
    bestDates: packed.best_dates,
    bestDate: packed.best_date,
    bestShare: packed.best_share,
    on: (startDay) => years.map((row) => codes[row * DAYS + startDay - 1]),
    needDays: (startDay) => packed.need_days[startDay - 1],
    harvestDays: (startDay) =>
      packed.harvest_days.map((days) => days[startDay - 1]).map((day) => (day < 0 ? NaN : day)),
  };
}

/** Whether a code is that of a harvest, good or poorer. */
export const isHarvest = (code, constants) =>
  code === constants.harvest || code === constants.good_harvest;

/**
 * Years with a harvest, with a good one, that are known, and that failed by each reason. The
 * constants say which code means what.
 */
export function countOutcomes(codes, constants) {
  const count = (code) => codes.filter((each) => each === code).length;
  const good = count(constants.good_harvest);
  const harvested = good + count(constants.harvest);
  const known = codes.length - count(constants.unknown);
  return {
    harvested,
    good,
    known,
    failed: constants.failure_reasons.map((_, code) => count(code)),
  };
}

/** Intervals of the odds of a harvest, from countOutcomes. */
export function harvestIntervals({ harvested, known }, constants) {
  const worth = constants.counted_year * known;
  return intervals(harvested / known, worth, constants.drifts.harvest.record, constants);
}

/** Share of the known years with a harvest, by start day; NaN where no year is known. */
export function harvestShares(grid, constants) {
  return range(DAYS).map((i) => {
    const { harvested, known } = countOutcomes(grid.on(i + 1), constants);
    return known ? harvested / known : NaN;
  });
}

/** Two plans on the years known for both, with the interval of the difference of their shares. */
export function comparePlans(firstCodes, secondCodes, constants) {
  const pairs = firstCodes.map((code, i) => [code, secondCodes[i]]);
  const known = pairs.filter((pair) => !pair.includes(constants.unknown));
  const count = (byFirst, bySecond) =>
    known.filter(
      ([first, second]) =>
        isHarvest(first, constants) === byFirst && isHarvest(second, constants) === bySecond,
    ).length;
  const onlyFirst = count(true, false);
  const onlySecond = count(false, true);
  return {
    known: known.length,
    both: count(true, true),
    onlyFirst,
    onlySecond,
    neither: count(false, false),
    ...pairedInterval(onlyFirst, onlySecond, known.length, constants.z),
  };
}
