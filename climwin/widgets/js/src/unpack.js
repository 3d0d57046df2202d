// A place's record as climwin.widgets.payload gives it: the daily values, and what is drawn for those
// that are missing. What the days could be at least and at most is worked out here.

import { DAYS, modulo, range } from "./calendar.js";

/** Days of the running mean, and those on either side of its middle one. */
const MEAN_DAYS = 7;
const HALF = 3;
/** Days on either side within which a missing day is taken to lie among what was seen. */
const NEAR = 15;

/** First letter of numbers as letters, and what is no letter: see payload.letters of Python. */
const FIRST_LETTER = "#".codePointAt(0);
const NO_LETTERS = { first: 0xd800, count: 0x800 };

/** Numbers of a list in which null stands for what is missing. */
const numbers = (list) => Float64Array.from(list, (value) => value ?? NaN);

/** Temperatures from payload._readings of Python: whole steps of so many decimals. */
function readings({ decimals, steps }) {
  const scale = 10 ** decimals;
  let whole = 0;
  return Float64Array.from(steps, (step) => {
    if (step === null) return NaN;
    whole += step;
    return whole / scale;
  });
}

/** Years of days with one without values at either end. */
function withEmptyYears(values) {
  const padded = new Float64Array(values.length + 2 * DAYS).fill(NaN);
  padded.set(values, DAYS);
  return padded;
}

/** Lowest and highest value seen near each day of the year, as `seasons.seen_range` has them. */
function seenRange(values) {
  const low = new Float64Array(DAYS).fill(Infinity);
  const high = new Float64Array(DAYS).fill(-Infinity);
  values.forEach((value, i) => {
    if (Number.isNaN(value)) return;
    low[i % DAYS] = Math.min(low[i % DAYS], value);
    high[i % DAYS] = Math.max(high[i % DAYS], value);
  });
  const near = (day) => range(2 * NEAR + 1).map((i) => modulo(day + i - NEAR, DAYS));
  const lowest = range(DAYS).map((day) => Math.min(...near(day).map((each) => low[each])));
  const highest = range(DAYS).map((day) => Math.max(...near(day).map((each) => high[each])));
  const isSeen = (day) => lowest[day] <= highest[day];
  return {
    lowest: lowest.map((value, day) => (isSeen(day) ? value : -Infinity)),
    highest: highest.map((value, day) => (isSeen(day) ? value : Infinity)),
  };
}

/** Running mean, summed in NumPy's order; `assumed` stands for missing days, by day of the year. */
function runningMean(values, assumed) {
  const at = (i) => {
    const value = values[i] ?? NaN; // past either end
    return Number.isNaN(value) ? assumed[modulo(i, DAYS)] : value;
  };
  return values.map((_, day) => {
    let sum = 0;
    for (let i = day - HALF; i <= day + HALF; i++) sum += at(i);
    return sum / MEAN_DAYS;
  });
}

/** Least and greatest that each minimum can be; a night without a value never surely froze. */
function minimumBounds(values) {
  const { lowest } = seenRange(values);
  return {
    low: values.map((value, i) => (Number.isNaN(value) ? lowest[i % DAYS] : value)),
    high: values.map((value) => (Number.isNaN(value) ? Infinity : value)),
  };
}

/** Running mean in one draw: each drawn day takes the place of what was assumed of it before. */
function meanOfDraw({ low, high }, days, values, { lowest, highest }) {
  const drawn = { low: low.slice(), high: high.slice() };
  values.forEach((value, n) => {
    const assumed = days[n] % DAYS;
    const [moreThanLeast, moreThanGreatest] = [value - lowest[assumed], value - highest[assumed]];
    if (!Number.isFinite(moreThanLeast) || !Number.isFinite(moreThanGreatest)) return;
    for (let day = days[n] - HALF; day <= days[n] + HALF; day++) {
      drawn.low[day] += moreThanLeast / MEAN_DAYS;
      drawn.high[day] += moreThanGreatest / MEAN_DAYS;
    }
  });
  return drawn;
}

/** Minimum in one draw; where nothing is drawn its bounds stay what they are. */
function minimumOfDraw({ low, high }, days, values) {
  const drawn = { low: low.slice(), high: high.slice() };
  values.forEach((value, n) => {
    if (Number.isNaN(value)) return;
    drawn.low[days[n]] = value;
    drawn.high[days[n]] = value;
  });
  return drawn;
}

/**
 * A place's record with the bounds of its running means and its minima. Its rows are calendar years,
 * the first and the last without values, so that a season that reaches over the record's end finds a
 * gap there. `draws` has, for each draw of the gaps, functions that give the same two with the missing
 * days drawn; there are none where nothing is drawn.
 */
export function unpackRecord(record) {
  const [tmean, tmin] = [record.tmean, record.tmin].map((each) => withEmptyYears(readings(each)));
  const seen = seenRange(tmean);
  const mean = { low: runningMean(tmean, seen.lowest), high: runningMean(tmean, seen.highest) };
  const minimum = minimumBounds(tmin);
  const [means, minima] = [record.drawn_tmean, record.drawn_tmin].map(({ days, values }) => ({
    days,
    values: values.map(numbers),
  }));
  const count = Math.max(means.values.length, minima.values.length);
  const draws = range(count).map((draw) => ({
    /** Worked out when they are asked for: a long record's draws together would fill the memory. */
    running_mean: () => meanOfDraw(mean, means.days, means.values[draw] ?? [], seen),
    minimum: () => minimumOfDraw(minimum, minima.days, minima.values[draw] ?? []),
  }));
  return { ...record, running_mean: mean, minimum, draws };
}

/** Whole numbers from 0 on, of which each is a letter. */
export function fromLetters(text) {
  return Array.from(text, (letter) => {
    const place = letter.codePointAt(0);
    return place - FIRST_LETTER - (place < NO_LETTERS.first ? 0 : NO_LETTERS.count);
  });
}

/** Whole numbers that were counted from 0: 0, -1, 1, -2, 2 and so on. */
export const signed = (places) => places.map((place) => (place % 2 ? -(place + 1) / 2 : place / 2));

/** Values, each as often as it follows itself; `counts` are letters. */
export function fromRuns(values, counts) {
  return fromLetters(counts).flatMap((count, i) => new Array(count).fill(values[i]));
}

/** Values from letters: the first of them and what each adds to the one before. */
export function fromSteps(text) {
  let value = 0;
  return signed(fromLetters(text)).map((step) => {
    value += step;
    return value;
  });
}
