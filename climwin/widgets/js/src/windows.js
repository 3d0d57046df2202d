// The usable window of every year, and how often it is shorter than a crop needs. These are the
// library's own rules (climwin.climate.windows), repeated here for the hand that moves a limit;
// tests/widgets/test_browser.py holds the two together to the day.

import { DAYS, modulo, range, seasonOffset } from "./calendar.js";
import {
  countOverDraws,
  intervals,
  kernelShareAbove,
  meanOf,
  samplesByDraw,
} from "./statistics.js";
import { WINDOW_NAMES } from "./wording.js";

/** Slack of thresholds of means, since whole degF are recorded as rounded tenths of degC. [degC] */
export const SLACK_C = 0.05;

/**
 * How far beyond a threshold a reading still meets it: half a step, if the threshold is a reading
 * itself, as `slack` of climwin.climate.resolution has it. [degC]
 */
function slackOf(threshold, step) {
  const marks = threshold / step;
  const isReading = Math.abs(marks - Math.round(marks)) * step <= SLACK_C + 1e-9;
  return isReading ? Math.max(step / 2, SLACK_C) : SLACK_C;
}

/**
 * Minimum at or below which each night of a season is as cold as a threshold. `asked` is the
 * threshold before the record was moved, which is what a thermometer could show.
 */
export function nightLimits(record, row, firstDay, threshold, asked = threshold) {
  const ofYear = record.minimum_steps.map((step) => threshold + slackOf(asked, step));
  const start = row * DAYS + seasonOffset(firstDay);
  return range(DAYS).map((day) => ofYear[Math.floor((start + day) / DAYS)]);
}

const BRIDGED_DAYS = 3;
const TURN_DAYS = 30;
const KINDS = Object.keys(WINDOW_NAMES);
const NO_RUN = { start: -1, end: -1, usable: 0 };

/** Days from a run's start to its end; 0 where there is no run. */
export const runLength = (run) => (run === NO_RUN ? 0 : run.end - run.start + 1);

// --- how a crop's year is cut ----------------------------------------------------------------

/** Place of the extreme of a list, the first of several. `isBetter` compares two values. */
function indexOfExtreme(values, isBetter) {
  let best = 0;
  values.forEach((value, i) => {
    if (isBetter(value, values[best])) best = i;
  });
  return best;
}

const isGreater = (a, b) => a > b;
const isLess = (a, b) => a < b;

/**
 * Where a crop's year begins: on the day of the usual year that lies furthest outside its band, in
 * the cold or in the heat. It turns on the opposite extreme; where that lies outside the band too,
 * the year has two windows.
 */
function cropYear(usual, { low, high }) {
  const outside = usual.map((t) => Math.max(low - t, t - high));
  const first = indexOfExtreme(outside, isGreater);
  const startsInCold = low - usual[first] >= usual[first] - high;
  const opposite = indexOfExtreme(usual, startsInCold ? isGreater : isLess);
  return {
    firstDay: first + 1,
    turn: modulo(opposite - first, DAYS),
    startsInCold,
    hasTwoWindows: outside[opposite] > SLACK_C,
  };
}

/** The two halves of a crop's year, from a day up to another that is left out. */
function halvesOf(year) {
  const before = [0, year.turn];
  const after = [year.turn, DAYS];
  return year.startsInCold ? { rise: before, fall: after } : { rise: after, fall: before };
}

/** A season's days of a list over all days. */
export function seasonOf(values, row, firstDay) {
  const start = row * DAYS + seasonOffset(firstDay);
  return values.slice(start, start + DAYS);
}

// --- runs of usable days ---------------------------------------------------------------------

/**
 * Days that killing nights close: on the rise of the year all days up to such a night, on its fall
 * all days from it on. Where neither cold nor heat stops the crop, only the night itself.
 */
function closedByFreezes(kills, year) {
  if (!year.startsInCold && !year.hasTwoWindows) return kills;
  const closed = kills.slice();
  const { rise, fall } = halvesOf(year);
  for (let day = rise[1] - 2; day >= rise[0]; day--) closed[day] |= closed[day + 1];
  for (let day = fall[0] + 1; day < fall[1]; day++) closed[day] |= closed[day - 1];
  return closed;
}

/** Runs of usable days, joined over breaks of at most three days of which none is closed. */
function usableRuns(usable, closed) {
  const runs = [];
  let lastRun = null;
  let lastClosed = -1;
  for (let day = 0; day < DAYS; day++) {
    if (closed[day]) lastClosed = day;
    if (!usable[day] || closed[day]) continue;
    const isNear = lastRun && day - lastRun.end - 1 <= BRIDGED_DAYS;
    if (isNear && lastClosed <= lastRun.end) {
      lastRun.end = day;
      lastRun.usable += 1;
    } else {
      lastRun = { start: day, end: day, usable: 1 };
      runs.push(lastRun);
    }
  }
  return runs;
}

/** The longest run of a year, and of each of its halves where the year has two windows. */
function longestRuns(runs, year) {
  const beginsBeforeTurn = (run) => run.start < year.turn - TURN_DAYS;
  const endsAfterTurn = (run) => run.end >= year.turn + TURN_DAYS;
  const [onRise, onFall] = year.startsInCold
    ? [beginsBeforeTurn, endsAfterTurn]
    : [endsAfterTurn, beginsBeforeTurn];
  const longest = (chosen) =>
    chosen.reduce((best, run) => (runLength(run) > runLength(best) ? run : best), NO_RUN);
  return {
    longest: longest(runs),
    rise: year.hasTwoWindows ? longest(runs.filter(onRise)) : NO_RUN,
    fall: year.hasTwoWindows ? longest(runs.filter(onFall)) : NO_RUN,
  };
}

/** One window from the runs that the worst and the best filling of the gaps give. */
function windowBetween(worst, best) {
  const least = runLength(worst);
  const most = runLength(best);
  const isKnown = ["start", "end", "usable"].every((key) => worst[key] === best[key]);
  if (!isKnown) return { least, most, status: "unknown" };
  const { start, end, usable } = worst;
  const known = { least, most, length: least, usable };
  return least ? { ...known, status: "observed", start, end } : { ...known, status: "none" };
}

/** A list of 0 and 1 by whether each of n days passes a test. */
export function daysThat(n, passes) {
  const days = new Uint8Array(n);
  for (let i = 0; i < n; i++) days[i] = passes(i);
  return days;
}

/** The band of limits with the slack that its thresholds have. [degC] */
const bandOf = ({ low, high }) => [low - SLACK_C, high + SLACK_C];

/**
 * Windows of a season by kind: what the worst and the best filling of its gaps leave of them.
 *
 * row: that of the season; means, minima: { low, high } of each day, as unpackRecord has them.
 */
function windowsOfSeason(record, limits, year, row, means, minima) {
  const [low, high] = bandOf(limits);
  const [meanLow, meanHigh, minLow, minHigh] = [means.low, means.high, minima.low, minima.high].map(
    (values) => seasonOf(values, row, year.firstDay),
  );
  const killedAt =
    limits.killed === null
      ? new Array(DAYS).fill(-Infinity)
      : nightLimits(record, row, year.firstDay, limits.killed, limits.asked);
  const runsOf = (usable, kills) =>
    longestRuns(usableRuns(usable, closedByFreezes(kills, year)), year);
  const sure = runsOf(
    daysThat(DAYS, (i) => meanLow[i] >= low && meanHigh[i] <= high),
    daysThat(DAYS, (i) => minLow[i] <= killedAt[i]),
  );
  const possible = runsOf(
    daysThat(DAYS, (i) => meanHigh[i] >= low && meanLow[i] <= high),
    daysThat(DAYS, (i) => minHigh[i] <= killedAt[i]),
  );
  return Object.fromEntries(KINDS.map((kind) => [kind, windowBetween(sure[kind], possible[kind])]));
}

/** Kinds of the windows of a year that a gap leaves open. */
const openKinds = (windows) => KINDS.filter((kind) => windows[kind].status === "unknown");

/**
 * Say of windows that a gap leaves open what draws say of them: `drawn`, their length in each draw.
 * Of a year that is not drawn nothing is known: what others saw is no evidence of one that was
 * hardly measured.
 */
function settleOpenWindows(record, limits, year, seasons) {
  const withGaps = seasons.filter(({ windows }) => openKinds(windows).length);
  const isDrawn = ({ row }) => record.drawn_windows[year.firstDay].includes(row);
  for (const { windows } of withGaps.filter((season) => !isDrawn(season))) {
    for (const kind of openKinds(windows)) Object.assign(windows[kind], { least: 0, most: DAYS });
  }
  const open = record.draws.length ? withGaps.filter(isDrawn) : [];
  for (const { windows } of open) {
    for (const kind of openKinds(windows)) windows[kind].drawn = [];
  }
  for (const draw of open.length ? record.draws : []) {
    const [means, minima] = [draw.running_mean(), draw.minimum()];
    for (const { row, windows } of open) {
      const inDraw = windowsOfSeason(record, limits, year, row, means, minima);
      for (const kind of openKinds(windows)) {
        windows[kind].drawn.push(inDraw[kind].length ?? NaN);
      }
    }
  }
}

/** The longest runs of the average curve, which has no gaps and no killing nights. */
function averageRuns(curve, limits, year) {
  const [low, high] = bandOf(limits);
  const inBand = curve.map((t) => t !== null && t >= low && t <= high);
  const inSeason = range(DAYS).map((day) => inBand[(day + year.firstDay - 1) % DAYS]);
  return longestRuns(usableRuns(inSeason, new Uint8Array(DAYS)), year);
}

/**
 * The usable window of every year, as `usable_windows` of the library finds it.
 *
 * record: from unpackRecord; limits: { low, high, killed } in degC, `killed` null for none. Returns
 * how the crop's year is cut; `rows`, one of each season with its `year` and a window of each kind,
 * an unknown one with its length in each draw, `drawn`, where it is drawn; and `average`, the runs
 * of the average curve. Days count from the season's first day.
 */
export function usableWindows(record, limits) {
  const year = cropYear(record.usual, limits);
  const seasons = record.season_rows[year.firstDay].map((row) => ({
    row,
    windows: windowsOfSeason(record, limits, year, row, record.running_mean, record.minimum),
  }));
  settleOpenWindows(record, limits, year, seasons);
  const rows = seasons.map(({ row, windows }) => ({ year: record.first_row + row, ...windows }));
  return { ...year, rows, average: averageRuns(record.average_curve, limits, year) };
}

/** The same limits seen from the record, for windows of years moved to today's level. */
export function limitsOfToday({ low, high, killed }, { tmin, tmean }) {
  const moved = killed === null ? null : killed - tmin;
  return { low: low - tmean, high: high - tmean, killed: moved, asked: killed };
}

// --- how often, and which --------------------------------------------------------------------

/**
 * How often a window is shorter than needed, as `odds_shorter` of the library counts it. The years
 * are those of the record, or moved to today's climate. Of the `unknown` ones those that are
 * `leaning` on draws count in the odds as these say.
 */
export function oddsShorter(windows, kind, needDays, constants, climate = "record") {
  const all = windows.rows.map((row) => row[kind]);
  const isShorter = all.map((window) => {
    if (window.most < needDays) return 1;
    return window.least >= needDays ? 0 : null;
  });
  const drawn = all.map((window) => (window.drawn?.every(Number.isFinite) ? window.drawn : null));
  const { leaning, worth } = countOverDraws(
    isShorter,
    drawn.map((lengths) => lengths && lengths.map((length) => Number(length < needDays))),
  );
  const known = isShorter.filter((each) => each !== null).length;
  const smoothable = (length) => (length > 0 ? length : -Infinity); // no window: no length
  const lengths = all.map((window, i) =>
    isShorter[i] === null
      ? drawn[i] && drawn[i].map(smoothable)
      : smoothable((window.least + window.most) / 2),
  );
  // Lengths are whole days: what is shorter lies below the middle between need and the day before.
  const samples = samplesByDraw(lengths);
  const odds = 1 - meanOf(samples.map((sample) => kernelShareAbove(sample, needDays - 0.5)));
  return {
    shorter: isShorter.filter((each) => each === 1).length,
    known,
    unknown: all.length - known,
    leaning,
    odds,
    ...intervals(odds, worth, constants.drifts.window[climate], constants),
  };
}

/**
 * Which of a year's windows a plan aims at: the one whose average begins nearest to the day that
 * the plants stand outdoors.
 */
export function windowOfPlan(windows, startDay, weeksUnderCover) {
  if (!windows.hasTwoWindows) return "longest";
  const outdoors = startDay + 7 * weeksUnderCover;
  const distance = (kind) => {
    const run = windows.average[kind];
    if (run === NO_RUN) return DAYS;
    const begins = run.start + seasonOffset(windows.firstDay) + 1;
    return Math.abs(modulo(outdoors - begins + DAYS / 2, DAYS) - DAYS / 2);
  };
  return distance("fall") < distance("rise") ? "fall" : "rise";
}
