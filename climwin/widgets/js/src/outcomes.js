// What became of a plan: an outcome grid in, counts out. Python evaluates every year and start day
// and hands over one code for each; nothing of growing is computed here, only selected and counted.

import { DAYS, range } from "./calendar.js";
import { pairedInterval, wilsonInterval } from "./statistics.js";
import { unpackOutcomes } from "./unpack.js";

/**
 * The outcomes of one way of growing, from payload.outcomes of Python.
 *
 * `on(startDay)` gives the outcome code of each year, started on that day of the year; `bestDates`
 * is the first and last day of the best run of start dates, null where no start succeeds, and
 * `bestDate` the middle of it.
 */
export function outcomeGrid({ codes: packed, best_dates: bestDates, best_date: bestDate }) {
  const codes = unpackOutcomes(packed);
  const years = range(codes.length / DAYS);
  return {
    bestDates,
    bestDate,
    on: (startDay) => years.map((row) => codes[row * DAYS + startDay - 1]),
  };
}

/**
 * Years that succeeded, that are known, and that failed by each reason, with the interval of the
 * share that succeeded. The constants say which code means what.
 */
export function countOutcomes(codes, { succeeded, unknown, failure_reasons: reasons, z }) {
  const count = (code) => codes.filter((each) => each === code).length;
  const successes = count(succeeded);
  const known = codes.length - count(unknown);
  return {
    succeeded: successes,
    known,
    failed: reasons.map((_, code) => count(code)),
    ...wilsonInterval(successes, known, z),
  };
}

/** Share of the known years that succeed, by start day; NaN where no year is known. */
export function successShares(grid, constants) {
  return range(DAYS).map((i) => {
    const { succeeded, known } = countOutcomes(grid.on(i + 1), constants);
    return known ? succeeded / known : NaN;
  });
}

/** Two plans on the years known for both, with the interval of the difference of their shares. */
export function comparePlans(firstCodes, secondCodes, { succeeded, unknown, z }) {
  const pairs = firstCodes.map((code, i) => [code, secondCodes[i]]);
  const known = pairs.filter((pair) => !pair.includes(unknown));
  const count = (firstSucceeds, secondSucceeds) =>
    known.filter(
      ([first, second]) =>
        (first === succeeded) === firstSucceeds && (second === succeeded) === secondSucceeds,
    ).length;
  const onlyFirst = count(true, false);
  const onlySecond = count(false, true);
  return {
    known: known.length,
    both: count(true, true),
    onlyFirst,
    onlySecond,
    neither: count(false, false),
    ...pairedInterval(onlyFirst, onlySecond, known.length, z),
  };
}
