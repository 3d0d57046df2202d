// The page's numbers, from climwin.page.packing: the same that a notebook's panel is given, as fewer
// bytes. What is packed there as whole numbers is taken apart here, to the last bit.

import { DAYS, modulo, range } from "./calendar.js";
import { HALF, MEAN_DAYS } from "./unpack.js";

/** Bytes of a whole number. */
const PLANES = 3;
/** The least of the outcomes' codes. */
const LEAST_CODE = -3;
const NO_HARVEST = -1;
/** Days on either side within which a missing day is taken to lie among what was seen. */
const NEAR = 15;

const base64Bytes = (packed) => Uint8Array.from(atob(packed), (letter) => letter.charCodeAt(0));

/** Reads the arrays one after the other, in the order in which they were packed. */
function readerOf(bytes, counts) {
  let at = 0;
  let number = 0;
  /** Numbers that are not negative. */
  function whole() {
    const count = counts[number++];
    const planes = range(PLANES).map((plane) =>
      bytes.subarray(at + plane * count, at + (plane + 1) * count),
    );
    at += PLANES * count;
    return Int32Array.from(planes[0], (low, i) => low + 256 * planes[1][i] + 65536 * planes[2][i]);
  }
  /** Numbers of either sign, each told as how it differs from the one before. */
  function changes() {
    let last = 0;
    return whole().map((n) => (last += n % 2 ? -(n + 1) / 2 : n / 2));
  }
  /** Numbers, `missing` in places: runs there and missing by turns tell which. */
  function withGaps(missing) {
    const runs = whole();
    const values = Array.from(changes());
    let day = 0;
    runs.forEach((length, i) => {
      if (i % 2) values.fill(missing, day, day + length);
      day += length;
    });
    return values;
  }
  return { whole, changes, withGaps };
}

/** Puts values in their places that were packed apart from the others. */
function putOthers(values, others, reader) {
  const apart = new Float64Array(base64Bytes(others).buffer);
  reader.changes().forEach((place, i) => (values[place] = apart[i]));
  return values;
}

function temperatures({ scale, others }, reader) {
  const values = Float64Array.from(reader.withGaps(NaN), (n) => n / scale);
  return putOthers(values, others, reader);
}

/** Daily minima and means of a record; means of the extremes where these tell them. */
function dailyValues({ tmin: minima, tmax: maxima, tmean: means, others }, reader) {
  const tmin = temperatures(minima, reader);
  if (means) return { tmin, tmean: temperatures(means, reader) };
  const tmax = temperatures(maxima, reader);
  const half = tmin.map((low, i) => (low + tmax[i]) / 2);
  return { tmin, tmean: putOthers(half, others, reader) };
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

/** Years of days with one without values at either end. */
function withEmptyYears(values) {
  const padded = new Float64Array(values.length + 2 * DAYS).fill(NaN);
  padded.set(values, DAYS);
  return padded;
}

/** The bounds of running means and minima, as `payload.record_numbers` has them. */
function boundsOf(daily) {
  const [tmean, tmin] = [daily.tmean, daily.tmin].map(withEmptyYears);
  const mean = seenRange(tmean);
  const { lowest } = seenRange(tmin);
  return {
    running_mean: {
      low: runningMean(tmean, mean.lowest),
      high: runningMean(tmean, mean.highest),
    },
    minimum: {
      low: tmin.map((value, i) => (Number.isNaN(value) ? lowest[i % DAYS] : value)),
      high: tmin.map((value) => (Number.isNaN(value) ? Infinity : value)),
    },
  };
}

/** The plans with their outcomes, as `payload.outcomes` has them. */
function plansOf(plans, reader) {
  const runs = reader.whole();
  const [codes, lengths] = [reader.whole(), reader.whole()];
  const harvest = reader.withGaps(NO_HARVEST);
  const needed = reader.changes();
  let first = 0;
  return plans.map((plan, i) => {
    const own = range(runs[i]).flatMap((n) => [codes[first + n] + LEAST_CODE, lengths[first + n]]);
    first += runs[i];
    const rows = range(3).map((row) =>
      harvest.slice((3 * i + row) * DAYS, (3 * i + row + 1) * DAYS),
    );
    const days = range(DAYS).map((day) => needed[i * DAYS + day] - day);
    return {
      ...plan,
      outcomes: { ...plan.outcomes, codes: own, harvest_days: rows, need_days: days },
    };
  });
}

/** All that the page brings along, from its packed bytes. */
export function unpackNumbers(bytes) {
  const size = new DataView(bytes.buffer).getUint32(0, true);
  const given = JSON.parse(new TextDecoder().decode(bytes.subarray(4, 4 + size)));
  const reader = readerOf(bytes.subarray(4 + size), given.counts);
  const { daily, ...record } = given.numbers.record;
  const bounds = boundsOf(dailyValues(daily, reader));
  return {
    ...given,
    numbers: { ...given.numbers, record: { ...record, ...bounds } },
    plans: plansOf(given.plans, reader),
  };
}
