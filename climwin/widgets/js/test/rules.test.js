import assert from "node:assert/strict";
import { test } from "node:test";
import { fromBase85 } from "../src/base85.js";
import { freezeChance, freezeDates, freezeDay } from "../src/freezes.js";
import { comparePlans, countOutcomes, harvestShares, outcomeGrid } from "../src/outcomes.js";
import {
  averageWindow,
  bestDates,
  comparison,
  failures,
  harvestBegins,
  howSure,
  nextYears,
  otherDates,
  planName,
  planOdds,
} from "../src/sentences.js";
import {
  countOverDraws,
  kernelQuantile,
  kernelShareAbove,
  nextInterval,
  normalBelow,
  oddsInterval,
  pairedInterval,
} from "../src/statistics.js";
import { fromLetters, fromSteps, signed, unpackRecord } from "../src/unpack.js";
import { oddsOfToday } from "../src/window_strip.js";
import { oddsShorter, runLength, usableWindows, windowOfPlan } from "../src/windows.js";

const Z = 1.6448536269514722; // standard normal quantile of 0.95
const CONSTANTS = {
  failure_reasons: ["frost", "heat"],
  good_harvest: -3,
  harvest: -1,
  unknown: -2,
  z: Z,
  level: 0.9,
  next_years: 10,
  counted_year: 0.8,
  drifts: { window: { record: 40, today: 100 }, harvest: { record: 20, today: 30 } },
};

/** Every day of several years, from a function of the day in its year, 0 first; `changes` by day. */
const series = (years, valueOn, changes = {}) =>
  Array.from({ length: years * 365 }, (_, i) => (i in changes ? changes[i] : valueOn(i % 365)));

/** A mean that is a cosine about 10 degC, coldest on 1 January. */
const meanOn = (day) => 10 - 12 * Math.cos((2 * Math.PI * day) / 365);

/** Temperatures as Python's payload writes them, with more decimals than a test can tell. */
function readings(values) {
  const decimals = 13;
  let last = 0;
  const steps = values.map((value) => {
    if (value === null) return null;
    const whole = Math.round(value * 10 ** decimals);
    const step = whole - last;
    last = whole;
    return step;
  });
  return { decimals, steps };
}

/**
 * A record of a place with that mean. `minima` has other minima by day, counted from the first day of
 * the first year, null for one that is missing; `drawn` is what each draw says of the missing one.
 */
function record({ years = 3, minima = {}, drawn = [], step = 0.1 } = {}) {
  const usual = series(1, meanOn);
  const coldest = usual.indexOf(Math.min(...usual)) + 1;
  const warmest = usual.indexOf(Math.max(...usual)) + 1;
  const rows = Array.from({ length: years }, (_, i) => i + 1);
  const missing = Object.keys(minima).filter((day) => minima[day] === null);
  return unpackRecord({
    name: "invented",
    first_row: 2000,
    coldest_day: coldest,
    warmest_day: warmest,
    tmean: readings(series(years, meanOn)),
    tmin: readings(series(years, (day) => meanOn(day) - 5, minima)),
    minimum_steps: new Array(years + 2).fill(step),
    usual,
    average_curve: usual,
    season_rows: { [coldest]: rows, [warmest]: rows },
    drawn_windows: { [coldest]: missing.length ? [1] : [], [warmest]: [] },
    drawn_freezes: missing.length ? [1] : [],
    drawn_tmean: { days: [], values: [] },
    // Days are counted from the empty year before the first one.
    drawn_tmin: {
      days: missing.map((day) => 365 + Number(day)),
      values: drawn.map((each) => [each]),
    },
  });
}

test("a window is the days whose mean over a week lies in the band", () => {
  const week = (day) => [-3, -2, -1, 0, 1, 2, 3].reduce((sum, i) => sum + meanOn(day + i), 0) / 7;
  const days = Array.from({ length: 365 }, (_, day) => day).filter((day) => week(day) >= 8);
  const windows = usableWindows(record(), { low: 8.05, high: 40, killed: null });
  assert.equal(windows.hasTwoWindows, false);
  for (const row of windows.rows) {
    assert.equal(row.longest.status, "observed");
    assert.equal(row.longest.start, days[0]);
    assert.equal(row.longest.end, days.at(-1));
    assert.equal(row.longest.length, days.length);
  }
  // The curve of the average year is given as it is.
  const ofCurve = series(1, meanOn).filter((mean) => mean >= 8);
  assert.equal(runLength(windows.average.longest), ofCurve.length);
});

test("a missing mean leaves open what it could change, and no more", () => {
  const given = series(3, meanOn);
  const tmean = given.map((value, day) => (day === 365 + 100 ? null : value));
  const [whole, open] = [given, tmean].map((values) =>
    unpackRecord({
      tmean: readings(values),
      tmin: readings(values),
      drawn_tmean: { days: [], values: [] },
      drawn_tmin: { days: [], values: [] },
    }),
  );
  const differ = [...open.running_mean.low.keys()].filter(
    (day) => open.running_mean.low[day] !== open.running_mean.high[day],
  );
  const inside = differ.filter((day) => day >= 365 + 10 && day < 4 * 365 - 10);
  assert.deepEqual(
    inside,
    [-3, -2, -1, 0, 1, 2, 3].map((i) => 2 * 365 + 100 + i),
  );
  // The day before lies among what was seen within 15 days of it in the other years.
  const seen = given.slice(85, 116);
  const spread = (Math.max(...seen) - Math.min(...seen)) / 7;
  const [low, high] = ["low", "high"].map((end) => open.running_mean[end][2 * 365 + 99]);
  assert.ok(Math.abs(high - low - spread) < 1e-12);
  const mean = whole.running_mean.low[2 * 365 + 99];
  assert.ok(low < mean && mean < high);
});

test("a hot summer parts the year in two windows, one on the rise and one on the fall", () => {
  const windows = usableWindows(record(), { low: 5, high: 15, killed: null });
  assert.equal(windows.hasTwoWindows, true);
  const [row] = windows.rows;
  assert.ok(row.rise.end < row.fall.start);
  assert.ok(Math.abs(row.rise.length - row.fall.length) <= 1); // the cosine is symmetrical
  assert.equal(windowOfPlan(windows, row.rise.start + 1, 0), "rise");
  assert.equal(windowOfPlan(windows, row.fall.start - 30, 4), "fall"); // set out four weeks later
});

test("a killing night on the rise shuts all days up to it", () => {
  const changed = record({ minima: { 130: -9 } });
  const windows = usableWindows(changed, { low: 8, high: 40, killed: -8 });
  assert.equal(windows.rows[0].longest.start, 131);
  assert.ok(windows.rows[1].longest.start < 131);
});

test("a threshold that is a reading lies half a step above it, any other a little", () => {
  const springOf = (minimum, threshold, step) =>
    freezeDates(record({ minima: { 150: minimum }, step }), threshold)[0].spring;
  // 28 degF on a thermometer of whole degF is -2.22 degC; -2 degC is none of its readings.
  assert.equal(springOf(-2, -2.2, 5 / 9), 151);
  assert.notEqual(springOf(-2, -2.2, 0.1), 151);
  assert.notEqual(springOf(-1.9, -2, 5 / 9), 151);
  assert.equal(springOf(-1.6, -2, 1), 151);
});

test("years shorter than needed, of those that are known", () => {
  const row = (least, most) => ({ longest: { least, most } });
  const windows = { rows: [row(50, 50), row(70, 70), row(60, 80), row(80, 90)] };
  const odds = oddsShorter(windows, "longest", 70, CONSTANTS);
  assert.deepEqual([odds.shorter, odds.known, odds.unknown, odds.leaning], [1, 3, 1, 0]);
});

test("a year that draws answer counts by its chance, and for less than a known one", () => {
  // Of a known hit, a known miss and a year with one half: the variance of the share of 3 years at
  // one half is 3/4, and that of the draws 1/4 * (4 + 1) / (4 - 1) more.
  const counted = countOverDraws([1, 0, null, null], [null, null, [1, 1, 0, 0], null]);
  assert.deepEqual([counted.share, counted.years, counted.leaning], [0.5, 3, 1]);
  assert.ok(Math.abs(counted.worth - (3 * 0.75) / (0.75 + 5 / 12)) < 1e-12);
  // Draws that agree leave no doubt, and without a year nothing is known.
  const agreed = countOverDraws([1, 0, null], [null, null, [1, 1, 1, 1]]);
  assert.ok(Math.abs(agreed.worth - 3) < 1e-12);
  const nothing = countOverDraws([null], [null]);
  assert.ok(Number.isNaN(nothing.share));
  assert.equal(nothing.worth, 0);
});

test("each draw of an open window is smoothed by itself, and the odds are their mean", () => {
  const row = (least, most, drawn) => ({ longest: { least, most, drawn } });
  const known = [row(50, 50), row(70, 70), row(80, 90)];
  const oddsOf = (...rows) => oddsShorter({ rows }, "longest", 70, CONSTANTS);
  const open = oddsOf(...known, row(40, 90, [45, 85]));
  assert.deepEqual([open.known, open.unknown, open.leaning], [3, 1, 1]);
  const [short, long] = [45, 85].map((length) => oddsOf(...known, row(length, length)));
  assert.ok(short.odds > long.odds);
  assert.ok(Math.abs(open.odds - (short.odds + long.odds) / 2) < 1e-12);
  // A draw that cannot tell leaves the year out.
  assert.equal(oddsOf(...known, row(40, 90, [45, NaN])).leaning, 0);
});

test("a missing night that may kill is drawn", () => {
  // It can be as cold as the same night two years later.
  const dates = record({ minima: { 130: null, [2 * 365 + 130]: -20 }, drawn: [-9, 5, -9.5, 4] });
  const windows = usableWindows(dates, { low: 8, high: 40, killed: -8 });
  const [open, other] = windows.rows.map((each) => each.longest);
  assert.equal(open.status, "unknown");
  // Where it kills the window begins a day after it; else it is as long as in the next year.
  assert.deepEqual(open.drawn, [open.least, other.length, open.least, other.length]);
  assert.ok(open.least < other.length);
  assert.equal(other.drawn, undefined);
});

test("a missing night that may freeze is drawn, and the chance is the mean over the draws", () => {
  const open = record({ minima: { 150: null, [2 * 365 + 150]: -20 }, drawn: [-1, 5] });
  const dates = freezeDates(open, 0);
  const usual = dates[1].spring;
  assert.equal(dates[0].spring, null);
  assert.deepEqual(dates[0].drawn_spring, [151, usual]);
  const chance = freezeChance(open, dates).spring;
  const by = [151, usual].map((spring) =>
    freezeChance(open, [{ spring, autumn: NaN }, ...dates.slice(1)]),
  );
  for (const each of [usual, usual + 1, 151, 152, 200]) {
    const mean = (by[0].spring[each - 1] + by[1].spring[each - 1]) / 2;
    assert.ok(Math.abs(chance[each - 1] - mean) < 1e-12);
  }
});

test("the normal distribution's published values", () => {
  // Abramowitz and Stegun, table 26.1 (from memory).
  assert.ok(Math.abs(normalBelow(1) - 0.8413447460685429) < 1e-14);
  assert.ok(Math.abs(normalBelow(-1.9599639845400545) - 0.025) < 1e-14);
  assert.ok(Math.abs(normalBelow(-5) / 2.866515718791939e-7 - 1) < 1e-12);
  assert.equal(normalBelow(0), 0.5);
  assert.deepEqual([normalBelow(Infinity), normalBelow(-Infinity)], [1, 0]);
});

test("the interval of odds is that of Jeffreys", () => {
  // With a worth of 1 and odds of one half the beta distribution is flat: Beta(1, 1).
  const flat = oddsInterval(0.5, 1, 0.9);
  assert.ok(Math.abs(flat.low - 0.05) < 1e-12);
  assert.ok(Math.abs(flat.high - 0.95) < 1e-12);
  assert.equal(oddsInterval(0, 30, 0.9).low, 0);
  assert.equal(oddsInterval(1, 30, 0.9).high, 1);
  assert.ok(Number.isNaN(oddsInterval(NaN, 0, 0.9).low));
});

test("of the next ten years, where every number of them is as likely", () => {
  // Beta(1, 1) makes 0 to 10 alike: each has the chance of one in eleven.
  assert.deepEqual(nextInterval(0.5, 1, 10, 0.9), { nextLow: 0, nextHigh: 10 });
  assert.deepEqual(nextInterval(0.5, 1, 10, 0.8), { nextLow: 1, nextHigh: 9 });
  const rare = nextInterval(0.01, 30, 10, 0.9);
  assert.equal(rare.nextLow, 0);
  assert.ok(rare.nextHigh >= 1);
});

test("smoothed odds are never 0 or 1, and a quantile turns them round", () => {
  const days = [100, 104, 109, 113, 121, -Infinity];
  assert.ok(kernelShareAbove(days, 300) > 0);
  assert.ok(kernelShareAbove(days, 0) < 1);
  const day = kernelQuantile(days, 0.4);
  assert.ok(Math.abs(kernelShareAbove(days, day) - 0.4) < 1e-3);
  assert.equal(kernelQuantile(days, 0.9), -Infinity);
});

test("smoothing leaves days that are normal their spread", () => {
  // Days whose shares are those of a normal distribution of mean 100 and deviation 10.
  const quantile = (share) => {
    let [low, high] = [-5, 5];
    while (high - low > 1e-9) {
      const middle = (low + high) / 2;
      if (normalBelow(middle) < share) low = middle;
      else high = middle;
    }
    return low;
  };
  const days = Array.from({ length: 199 }, (_, i) => 100 + 10 * quantile((i + 0.5) / 199));
  for (const at of [85, 100, 110, 118]) {
    const share = 1 - normalBelow((at - 100) / 10);
    assert.ok(Math.abs(kernelShareAbove(days, at) - share) < 0.003);
  }
});

test("the interval of a difference changes sign with the order of the plans", () => {
  const one = pairedInterval(7, 2, 30, Z);
  const other = pairedInterval(2, 7, 30, Z);
  assert.ok(Math.abs(one.low + other.high) < 1e-12);
  assert.ok(Math.abs(one.high + other.low) < 1e-12);
  assert.ok(Number.isNaN(pairedInterval(0, 0, 0, Z).low));
});

test("the last spring and the first autumn freeze, none, and a gap", () => {
  const dates = freezeDates(record(), 0);
  const frozen = (day) => 5 - 12 * Math.cos((2 * Math.PI * day) / 365) <= 0.05;
  const spring = Array.from({ length: 180 }, (_, day) => day).findLast(frozen) + 1;
  assert.deepEqual(
    dates.map((each) => each.spring),
    [spring, spring, spring],
  );
  assert.ok(freezeDates(record(), -30).every((each) => Number.isNaN(each.spring)));
  const chance = freezeChance(record(), dates);
  // Three years alike: the kernel is half a day wide, and no chance is 0 or 1.
  assert.ok(chance.spring[spring - 1] > 0.8);
  assert.ok(chance.spring[spring] < 0.2);
  assert.equal(chance.spring[spring + 30], 0.125);
});

test("the date of a level is a quantile of the years, those without a freeze included", () => {
  const dates = [100, 110, 120, NaN].map((spring) => ({ spring, autumn: null }));
  // The deviation of the three dates is 10, and their quarters are 10 apart. Two years of four have
  // their last freeze after this day, so the three normal curves add up to two there.
  const width = 0.9 * (10 / 1.34) * 3 ** -0.2;
  const scale = 1 / Math.hypot(1, width / 10);
  const day = freezeDay(dates, "spring", 0.5);
  const later = [-10, 0, 10].map((each) =>
    normalBelow((110 + each * scale - day) / (width * scale)),
  );
  assert.ok(Math.abs(later[0] + later[1] + later[2] - 2) < 0.001);
  assert.ok(Number.isNaN(freezeDay(dates, "spring", 0.99)));
  assert.ok(Number.isNaN(freezeDay(dates, "autumn", 0.5)));
});

const codesOf = (outcomes) => outcomes.map(({ code }) => code);

/** What each value adds to the one before. */
const steps = (values) => values.map((value, i) => value - (values[i - 1] ?? 0));

/** Whole numbers as letters, as Python's payload writes them. */
const letters = (numbers) => numbers.map((n) => String.fromCharCode(n + 35)).join("");
const unsigned = (numbers) => numbers.map((n) => (n < 0 ? -2 * n - 1 : 2 * n));
const inSteps = (values) => letters(unsigned(steps(values)));

test("bytes are those that Python writes in base85", () => {
  // base64.b85encode(bytes(range(n))), and of bytes 255.
  assert.deepEqual([...fromBase85("009C61O)~M")], [0, 1, 2, 3, 4, 5, 6, 7]);
  assert.deepEqual([...fromBase85("009C61O")], [0, 1, 2, 3, 4]);
  assert.deepEqual([...fromBase85("|NsC0|Nj")], [255, 255, 255, 255, 255, 255]);
  assert.deepEqual([...fromBase85("")], []);
});

test("letters are the whole numbers that Python writes so", () => {
  // The same pairs stand in tests/widgets/test_panels.py.
  assert.deepEqual(fromLetters("#$\\\ud7ff\ue000\u{10ffff}"), [0, 1, 57, 55260, 55261, 1112028]);
  assert.deepEqual(signed(fromLetters("#$%&'")), [0, -1, 1, -2, 2]);
  assert.deepEqual(fromSteps("'$#%"), [2, 1, 1, 2]);
});

/** An outcome grid of some years with the same code on every start day but the given ones. */
function grid(years, code, changes = {}, draws = {}) {
  const codes = new Array(years * 365).fill(code);
  for (const [place, value] of Object.entries(changes)) codes[place] = value;
  const days = Array.from({ length: 365 }, (_, i) => i);
  const once = letters(codes.map(() => 1));
  return outcomeGrid({
    codes: letters(unsigned(codes)),
    code_counts: once,
    draws: codes.map((_, place) => draws[place] ?? ""),
    draw_counts: once,
    harvest_days: [0, 5, 10]
      .map((later) => days.map((i) => (i === 10 ? -1 : 100 + i + later)))
      .map(inSteps),
    need_days: inSteps(days.map((i) => 60 + i)),
    best_dates: null,
    best_date: 1,
  });
}

test("runs of outcomes follow each other through the years", () => {
  const { on } = outcomeGrid({
    codes: letters(unsigned([5, -2, 7])),
    code_counts: letters([364, 2, 364]),
    draws: ["", "01"],
    draw_counts: letters([400, 330]),
    harvest_days: [],
    need_days: "",
  });
  assert.deepEqual([on(1), on(364), on(365)].map(codesOf), [
    [5, -2],
    [5, 7],
    [-2, 7],
  ]);
});

test("outcomes are selected by start day and counted by code", () => {
  const outcomes = grid(4, -3, { 9: 0, [365 + 9]: 1, [730 + 9]: -2, [1095 + 9]: -1 });
  assert.deepEqual(codesOf(outcomes.on(10)), [0, 1, -2, -1]);
  const odds = countOutcomes(outcomes.on(10), CONSTANTS);
  assert.deepEqual([odds.harvested, odds.good, odds.known, odds.failed], [1, 0, 3, [1, 1]]);
  const other = countOutcomes(outcomes.on(11), CONSTANTS);
  assert.deepEqual([other.harvested, other.good], [4, 4]);
  const shares = harvestShares(outcomes, CONSTANTS);
  assert.deepEqual([shares[9], shares[10]], [1 / 3, 1]);
  assert.ok(Number.isNaN(harvestShares(grid(3, -2), CONSTANTS)[0]));
});

test("a year that a gap leaves open counts as its draws say", () => {
  const outcomes = grid(3, -3, { 9: -2, [365 + 9]: 0 }, { 9: "1110" });
  const odds = countOutcomes(outcomes.on(10), CONSTANTS);
  assert.deepEqual([odds.harvested, odds.known, odds.leaning], [1, 2, 1]);
  assert.equal(odds.share, 1.75 / 3);
  assert.ok(odds.worth < 3);
  assert.equal(harvestShares(outcomes, CONSTANTS)[9], odds.share);
  // Draws meet both plans alike: of the open year only the draws in which one alone has a harvest.
  const other = grid(3, 0, { 9: -2 }, { 9: "1010" });
  const pairs = comparePlans(outcomes.on(10), other.on(10), CONSTANTS);
  assert.deepEqual([pairs.known, pairs.onlyFirst, pairs.onlySecond, pairs.neither], [2, 1, 0, 1]);
  const { low, high } = pairedInterval(1.25, 0, 3, Z);
  assert.deepEqual([pairs.low, pairs.high], [low, high]);
});

test("runs of dates are told, and one that takes up the whole year as such", () => {
  const dates = (run) => bestDates({ bestDates: run, bestDate: 40, bestShare: 0.9, shares: [0.9] });
  const rest = "(about 9 Feb, a harvest in 90 % of the years that had no part in choosing it)";
  assert.equal(dates([340, 40]).replaceAll("\u00a0", " "), `6 Dec to 9 Feb ${rest}`);
  assert.ok(dates([12, 11]).startsWith("almost any time of year (about 9 Feb"));
  assert.equal(otherDates([]), "");
  assert.equal(
    otherDates([
      [100, 120],
      [200, 200],
    ]),
    "Also safe: 10 Apr to 30 Apr and 19 Jul.",
  );
});

test("harvest days and needs are those of the start day", () => {
  const outcomes = grid(2, -1);
  assert.deepEqual(outcomes.harvestDays(10), [109, 114, 119]);
  assert.deepEqual(outcomes.harvestDays(11), [NaN, NaN, NaN]);
  assert.equal(outcomes.needDays(365), 424);
  assert.equal(
    harvestBegins(outcomes.harvestDays(10)),
    "The harvest begins about 24 Apr, and in eight years out of ten between 19 Apr and 29 Apr.",
  );
  assert.equal(harvestBegins(outcomes.harvestDays(11)), "No year so far gave a harvest.");
});

test("two plans are compared on the years known for both", () => {
  const plans = [
    [-3, -1, 0, 1, -2],
    [-1, 0, -3, 0, -3],
  ];
  const [first, second] = plans.map((codes) => codes.map((code) => ({ code, harvested: null })));
  const pairs = comparePlans(first, second, CONSTANTS);
  assert.deepEqual(
    [pairs.known, pairs.both, pairs.onlyFirst, pairs.onlySecond, pairs.neither],
    [4, 1, 1, 1, 1],
  );
});

test("a plan is named by how it starts", () => {
  const plan = { start: 110, weeks: 0, fleece: 0, cover: "cold frame", plants: "own" };
  assert.equal(planName(plan), "sown outdoors 20 Apr");
  assert.equal(planName({ ...plan, isPlanted: true }), "planted outdoors 20 Apr");
  assert.equal(planName({ ...plan, plants: "bought" }), "bought plants, set out 20 Apr");
  assert.equal(planName({ ...plan, weeks: 6 }), "sown in a cold frame 20 Apr");
  assert.equal(planName({ ...plan, isPerennial: true }), "established plants");
  assert.equal(
    planOdds(plan, "peas", { harvested: 20, good: 12, known: 30 }),
    "Sown outdoors 20 Apr: peas gave a harvest in 20 of 30 years, a good one in 12",
  );
});

test("sentences say which plan is better only where the interval leaves out no difference", () => {
  const plan = { start: 110, weeks: 0, fleece: 0, cover: "cold frame" };
  const said = (onlyFirst, onlySecond) =>
    comparison(
      plan,
      { ...plan, weeks: 6 },
      {
        known: 30,
        both: 5,
        neither: 5,
        onlyFirst,
        onlySecond,
        ...pairedInterval(onlyFirst, onlySecond, 30, Z),
      },
    );
  assert.match(said(18, 2), /The first is the better bet here\.$/);
  assert.match(said(2, 18), /The second is the better bet here\.$/);
  assert.match(said(11, 9), /That is too close to call\.$/);
});

test("plans that never differ are told so", () => {
  const plan = { start: 110, weeks: 0, fleece: 0, cover: "cold frame" };
  const said = (both, neither) =>
    comparison(plan, plan, { known: 30, both, neither, onlyFirst: 0, onlySecond: 0 });
  assert.equal(said(30, 0), "Both gave a harvest in the same 30 of 30 years.");
  assert.equal(said(0, 30), "Neither gave a harvest in any of 30 years.");
  assert.equal(said(20, 10), "Both gave a harvest in the same 20 of 30 years.");
});

test("reasons of failure come most frequent first", () => {
  const said = (failed, harvested) => failures({ failed, harvested }, ["frost", "heat"]);
  assert.equal(said([2, 5], 3), "Why the other years failed: 5 heat, 2 frost.");
  assert.equal(said([2, 5], 0), "Why all of them failed: 5 heat, 2 frost.");
  assert.equal(said([0, 0], 7), "");
});

test("a moved year of one mild spell is counted by it, whichever half was asked", () => {
  const spell = { least: 100, most: 100, length: 100, status: "observed" };
  const none = { least: 0, most: 0, length: 0, status: "none" };
  const rows = Array.from({ length: 40 }, () => ({ longest: spell, rise: none, fall: none }));
  const shorter = (hasTwoWindows) =>
    oddsOfToday(
      {
        windowsOfToday: { rows, hasTwoWindows },
        limits: { need: 80 },
        constants: CONSTANTS,
      },
      "rise",
    ).shorter;
  assert.equal(shorter(false), 0);
  assert.equal(shorter(true), 40);
});

test("best dates are a run, one day, or none", () => {
  const shares = Array.from({ length: 365 }, (_, i) => (i === 363 ? NaN : i / 730));
  const elsewhere = "a harvest in 15 % of the years that had no part in choosing it";
  const told = (dates, given = shares) =>
    bestDates({ bestDates: dates, bestDate: dates?.[1], bestShare: 0.15, shares: given });
  assert.equal(told([110, 120]), `20 Apr to 30 Apr (about 30 Apr, ${elsewhere})`);
  assert.equal(told([110, 110]), `20 Apr (about 20 Apr, ${elsewhere})`);
  assert.equal(told([365, 2]), `31 Dec to 2 Jan (about 2 Jan, ${elsewhere})`);
  const never = shares.map(() => 0);
  assert.equal(told([1, 1], never), "none: no date gives a harvest");
  assert.equal(told(null), "none: no date gives a harvest");
});

test("hints at few years and at gaps", () => {
  const odds = { known: 9, unknown: 1, leaning: 0, low: 0.1, high: 0.6, nextLow: 1, nextHigh: 6 };
  assert.match(
    howSure(odds, null, 10),
    /1 year is left out: .* hides the answer\. Fewer than ten years/,
  );
  assert.doesNotMatch(howSure({ ...odds, leaning: 1 }, null, 10), /left out/); // it is drawn
  assert.doesNotMatch(howSure({ ...odds, known: 10, unknown: 0 }, null, 10), /left out|Fewer/);
});

test("today's climate leads, and the record's years come next", () => {
  const odds = { known: 40, unknown: 0, leaning: 0, low: 0.1, high: 0.6, nextLow: 1, nextHigh: 6 };
  assert.match(howSure(odds, null, 10), /^The mild spell is likely to be too short in 1 to 6 of/);
  const today = { ...odds, low: 0.05, high: 0.4, nextLow: 0, nextHigh: 4 };
  const told = howSure(odds, today, 10);
  assert.match(told, /^In today's climate .* 0 to 4 of .* Counting all years alike gives 1 to 6\./);
  assert.match(told, /too short in today's climate is likely 5 % to 40 %\./);
  assert.match(howSure(odds, odds, 10), /Counting all years alike gives the same\./);
});

test("where no year is known nothing is said of the next ones", () => {
  assert.equal(nextYears({ nextLow: NaN, nextHigh: NaN }), "an unknown number");
  assert.equal(nextYears({ nextLow: 3, nextHigh: 3 }), "3");
});

test("the median is that of the known years", () => {
  const average = { longest: { start: 0, end: 79, usable: 80 } };
  const rows = [60, 70, 90, undefined].map((length) => ({ longest: { length } }));
  assert.match(
    averageWindow({ average, rows }, "longest"),
    /suggests 80 days; .* had 70 or fewer\.$/,
  );
  const never = { average: { longest: { start: 0, end: -1 } }, rows: [{ longest: { length: 0 } }] };
  assert.match(averageWindow(never, "longest"), /^In the average year it is never mild enough/);
  assert.match(averageWindow({ average, rows: [] }, "longest"), /no real year is known/);
});
