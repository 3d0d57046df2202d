// Odds and their intervals: the library's own rules (climwin.core.stats), repeated here for the hand.

/**
 * Interval of the difference of two shares on the same `count` pairs, by Agresti and Min: half a
 * pair is added to each of the four cells. The arguments are the pairs in which only the first, and
 * only the second, is a hit.
 */
export function pairedInterval(onlyFirst, onlySecond, count, z) {
  if (!count) return { low: NaN, high: NaN };
  const total = count + 2;
  const first = onlyFirst + 0.5;
  const second = onlySecond + 0.5;
  const difference = (first - second) / total;
  const variance = first + second - (first - second) ** 2 / total;
  const half = (z * Math.sqrt(variance)) / total;
  const clamped = (value) => Math.min(Math.max(value, -1), 1);
  return { low: clamped(difference - half), high: clamped(difference + half) };
}

/**
 * Years in which something happened, counted over draws, as climwin.core.draws does it.
 *
 * `happened` has 1 or 0 of each year, null where a gap leaves it open; `drawn` what each draw says
 * of an open year, 1 or 0, null where draws cannot tell. Returns the `share` over all `years` that
 * have an answer, how many of them are `leaning` on draws, and how many known years they are `worth`.
 */
export function countOverDraws(happened, drawn) {
  const chances = [];
  let [leaning, between] = [0, 0];
  happened.forEach((known, i) => {
    if (known !== null) chances.push(known);
    else if (drawn[i]) {
      const draws = drawn[i].length;
      const chance = drawn[i].reduce((sum, each) => sum + each, 0) / draws;
      chances.push(chance);
      leaning += 1;
      // Few draws scatter less than many, and their own mean is off by a part of it.
      between += (chance * (1 - chance) * (draws + 1)) / Math.max(draws - 1, 1);
    }
  });
  const years = chances.length;
  if (!years) return { share: NaN, years, leaning, worth: 0 };
  const share = chances.reduce((sum, each) => sum + each, 0) / years;
  const among = years * share * (1 - share);
  const worth = among > 0 ? (years * among) / (among + between) : years;
  return { share, years, leaning, worth };
}

/**
 * Samples of values, one for each draw: of an open year its value in the draw. `values` has of each
 * year a number, or a list by draw, or null, which is left out. One sample where no year is a list.
 */
export function samplesByDraw(values) {
  const there = values.filter((each) => each !== null);
  const drawn = there.find((each) => Array.isArray(each));
  return (drawn ?? [0]).map((_, draw) =>
    there.map((each) => (Array.isArray(each) ? each[draw] : each)),
  );
}

/** Middle value of a list of numbers; NaN where there is none. */
export function median(values) {
  const sorted = [...values].sort((a, b) => a - b);
  const middle = sorted.length / 2;
  return (sorted[Math.ceil(middle) - 1] + sorted[Math.floor(middle)]) / 2;
}

/** Mean of a list of numbers. */
export const meanOf = (values) => values.reduce((sum, each) => sum + each, 0) / values.length;

// --- distributions -------------------------------------------------------------------------

/** Chance that a standard normal value lies below z. */
export function normalBelow(z) {
  if (z === Infinity) return 1;
  if (z === -Infinity) return 0;
  const x = Math.abs(z) / Math.SQRT2;
  const tail = x < 2.5 ? (1 - errorSeries(x)) / 2 : errorFraction(x) / 2;
  return z > 0 ? 1 - tail : tail;
}

/** The error function by its series, for small x. */
function errorSeries(x) {
  let term = x;
  let sum = x;
  for (let n = 1; Math.abs(term) > 1e-17 * Math.abs(sum) && n < 200; n++) {
    term *= (-x * x) / n;
    sum += term / (2 * n + 1);
    if (term === 0) break;
  }
  return (2 / Math.sqrt(Math.PI)) * sum;
}

/** What the error function lacks to 1, by its continued fraction, for large x. */
function errorFraction(x) {
  let value = 0;
  for (let n = 60; n > 0; n--) value = n / 2 / (x + value);
  return Math.exp(-x * x) / (Math.sqrt(Math.PI) * (x + value));
}

const LANCZOS = [
  0.99999999999980993, 676.5203681218851, -1259.1392167224028, 771.32342877765313,
  -176.61502916214059, 12.507343278686905, -0.13857109526572012, 9.9843695780195716e-6,
  1.5056327351493116e-7,
];

/** Logarithm of the gamma function, by Lanczos, for x of 0.5 or more. */
function logGamma(x) {
  const shifted = x - 1;
  const t = shifted + 7.5;
  const sum = LANCZOS.reduce((total, each, i) => total + (i ? each / (shifted + i) : each), 0);
  return 0.5 * Math.log(2 * Math.PI) + (shifted + 0.5) * Math.log(t) - t + Math.log(sum);
}

const logBeta = (a, b) => logGamma(a) + logGamma(b) - logGamma(a + b);

/** Chance that a beta distribution lies below x, by its continued fraction (Lentz). */
function betaBelow(x, a, b) {
  if (x <= 0) return 0;
  if (x >= 1) return 1;
  if (x > (a + 1) / (a + b + 2)) return 1 - betaBelow(1 - x, b, a);
  const tiny = 1e-300;
  let c = 1;
  let d = 1 / (1 - ((a + b) * x) / (a + 1) || tiny);
  let fraction = d;
  for (let m = 1; m < 300; m++) {
    const even = (m * (b - m) * x) / ((a + 2 * m - 1) * (a + 2 * m));
    const odd = (-(a + m) * (a + b + m) * x) / ((a + 2 * m) * (a + 2 * m + 1));
    const before = fraction;
    for (const each of [even, odd]) {
      d = 1 / (1 + each * d || tiny);
      c = 1 + each / c || tiny;
      fraction *= c * d;
    }
    if (Math.abs(fraction - before) < 1e-16 * Math.abs(fraction)) break;
  }
  return (Math.exp(a * Math.log(x) + b * Math.log(1 - x) - logBeta(a, b)) * fraction) / a;
}

/** Value below which a beta distribution lies with the chance of `share`, by halving. */
function betaQuantile(share, a, b) {
  let [low, high] = [0, 1];
  for (let n = 0; n < 60; n++) {
    const middle = (low + high) / 2;
    if (betaBelow(middle, a, b) < share) low = middle;
    else high = middle;
  }
  return (low + high) / 2;
}

// --- odds ----------------------------------------------------------------------------------

/** Interval of odds that are as well known as by `worth` independent years. */
export function oddsInterval(odds, worth, level) {
  if (!(worth > 0) || Number.isNaN(odds)) return { low: NaN, high: NaN };
  const [a, b] = [odds * worth + 0.5, (1 - odds) * worth + 0.5];
  const tail = (1 - level) / 2;
  return {
    low: odds <= 0 ? 0 : betaQuantile(tail, a, b),
    high: odds >= 1 ? 1 : betaQuantile(1 - tail, a, b),
  };
}

/** In how many of the next years it is likely to happen: ends of the beta-binomial distribution. */
export function nextInterval(odds, worth, years, level) {
  if (!(worth > 0) || Number.isNaN(odds)) return { nextLow: NaN, nextHigh: NaN };
  const [a, b] = [odds * worth + 0.5, (1 - odds) * worth + 0.5];
  const tail = (1 - level) / 2;
  const below = [];
  let sum = 0;
  for (let k = 0; k < years; k++) {
    const ways = logGamma(years + 1) - logGamma(k + 1) - logGamma(years - k + 1);
    sum += Math.exp(ways + logBeta(k + a, years - k + b) - logBeta(a, b));
    below.push(sum);
  }
  const countBelow = (share) => below.filter((each) => each < share).length;
  return { nextLow: countBelow(tail), nextHigh: countBelow(1 - tail) };
}

/** What years are worth if the level that they were moved to adds a spread of its own to the odds. */
function worthAtLevel(worth, odds, spread) {
  const least = 0.5 / (worth + 1);
  const among = Math.min(Math.max(odds, least), 1 - least);
  return worth / (1 + (worth * spread ** 2) / (among * (1 - among)));
}

/**
 * Both intervals; `drift` is what a record without end is worth for the next years, and `spread` the
 * standard error of the odds that comes from the level of moved years.
 */
export function intervals(odds, worth, drift, { level, next_years: years }, spread = 0) {
  const ahead = (worth * drift) / (worth + drift);
  const atLevel = worthAtLevel(worth, odds, spread);
  return { ...oddsInterval(odds, atLevel, level), ...nextInterval(odds, ahead, years, level) };
}

// --- the kernel ----------------------------------------------------------------------------

const isFinite = (value) => Number.isFinite(value);

/** Quantile of a sorted sample by linear interpolation. */
function linearQuantile(sorted, share) {
  const at = share * (sorted.length - 1);
  const index = Math.floor(at);
  const high = sorted[Math.min(index + 1, sorted.length - 1)];
  return sorted[index] + (high - sorted[index]) * (at - index);
}

/**
 * The normal kernel over a sample of days: its `width`, and the sample drawn towards its mean so that
 * the kernel does not widen it. Endless days are left out of both and stay where they are.
 */
function kernelOf(values) {
  const sorted = values.filter(isFinite).sort((a, b) => a - b);
  const n = sorted.length;
  const middle = n ? meanOf(sorted) : NaN;
  const variance = sorted.reduce((sum, each) => sum + (each - middle) ** 2, 0) / (n - 1);
  if (n < 2 || !variance) return { centres: values, width: 0.5 };
  const quarters = linearQuantile(sorted, 0.75) - linearQuantile(sorted, 0.25);
  const width = 0.9 * Math.min(Math.sqrt(variance), quarters / 1.34) * n ** -0.2;
  const scale = 1 / Math.sqrt(1 + width ** 2 / variance);
  return {
    centres: values.map((each) => middle + (each - middle) * scale),
    width: Math.max(0.5, width * scale),
  };
}

/** Share of a sample above a value, each member spread out by the kernel; never 0 or 1. */
export const kernelShareAbove = (values, at) => kernelSharesAbove(values, [at])[0];

/** The same above several values. */
export function kernelSharesAbove(values, ats) {
  const n = values.length;
  if (!n) return ats.map(() => NaN);
  const { centres, width } = kernelOf(values);
  const least = 0.5 / (n + 1);
  // Most days are so far from most dates that there is nothing to work out.
  const below = (z) => (Math.abs(z) < 8 ? normalBelow(z) : Number(z > 0));
  return ats.map((at) => {
    const sum = centres.reduce((total, each) => total + below((each - at) / width), 0);
    return Math.min(Math.max(sum / n, least), 1 - least);
  });
}

/** Value that a share of the smoothed sample lies above; endless where years without it decide. */
export function kernelQuantile(values, share) {
  const n = values.length;
  const before = values.filter((each) => each === -Infinity).length / n;
  const beyond = values.filter((each) => each === Infinity).length / n;
  if (share <= beyond) return Infinity;
  if (share >= 1 - before) return -Infinity;
  const { centres, width } = kernelOf(values);
  const there = centres.filter(isFinite);
  const first = Math.min(...there) - 5 * width;
  const steps = Math.ceil((Math.max(...there) + 5 * width - first) / 0.1);
  const above = (i) => {
    const sum = there.reduce(
      (total, each) => total + normalBelow((each - (first + i * 0.1)) / width),
      0,
    );
    return (sum / there.length) * (1 - before - beyond) + beyond;
  };
  // It falls all the way: halve the steps to the two that the share lies between.
  let [low, high] = [0, steps - 1];
  if (share >= above(low)) return first;
  if (share <= above(high)) return first + high * 0.1;
  while (high - low > 1) {
    const middle = Math.floor((low + high) / 2);
    if (above(middle) > share) low = middle;
    else high = middle;
  }
  const part = (above(low) - share) / (above(low) - above(high));
  return first + (low + part) * 0.1;
}
