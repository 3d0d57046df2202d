// climwin's rules, once more for the hand that moves a slider: the windows of every year, the odds
// of a freeze, two plans side by side. Each is the library's own rule to the last day
// (tests/test_panels_browser.py holds them together).
// Numbers come from climwin.widgets.payload. No page, no network: data in, data out.

const DAYS = 365;
const SLACK_C = 0.05;
const BRIDGED_DAYS = 3;
const TURN_DAYS = 30;
const MONTHS = ["Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec"];
const MONTH_STARTS = [0, 31, 59, 90, 120, 151, 181, 212, 243, 273, 304, 334];
const PARTS = { longest: "Usable window", rise: "Spring window", fall: "Autumn window" };

const modulo = (a, n) => ((a % n) + n) % n;
const range = (n) => Array.from({ length: n }, (_, i) => i);

// --- numbers as they come ------------------------------------------------------------------

const bytes = (text) => Uint8Array.from(atob(text), (c) => c.charCodeAt(0));
const doubles = (text) => new Float64Array(bytes(text).buffer);

/** Least and greatest that each day can be; they differ on the days that a gap touches. */
function bounds({ least, apart, greatest }) {
  const low = doubles(least);
  const high = low.slice();
  const other = doubles(greatest);
  new Int32Array(bytes(apart).buffer).forEach((day, i) => (high[day] = other[i]));
  return { low, high };
}

/** A place's numbers, unpacked. Its rows are calendar years, one without values at either end. */
export function openPlace(place) {
  return { ...place, week: bounds(place.week), night: bounds(place.night) };
}

/** Fate of each year (rows) from each start day (columns), as numbered in the rules. */
export const openFates = (text) => new Int8Array(bytes(text).buffer);

// --- the windows of every year -------------------------------------------------------------

function extreme(values, better) {
  let best = 0;
  values.forEach((value, i) => better(value, values[best]) && (best = i));
  return best;
}

function cropYear(usual, { low, high }) {
  const outside = usual.map((t) => Math.max(low - t, t - high));
  const first = extreme(outside, (a, b) => a > b);
  const cold = low - usual[first] >= usual[first] - high;
  const other = extreme(usual, cold ? (a, b) => a > b : (a, b) => a < b);
  return {
    first: first + 1,
    turn: modulo(other - first, DAYS),
    cold,
    two: outside[other] > SLACK_C,
  };
}

/** Days from 1 January of a season's own year to its first day. */
const offset = (first) => (first <= 183 ? first - 1 : first - 1 - DAYS);

/** A season's days of a mask over all days; the year of room at either end holds what it takes. */
function season(mask, row, first) {
  const at = row * DAYS + offset(first);
  return mask.slice(at, at + DAYS);
}

/** A killing night shuts all days up to it on the rise and from it on in the fall. */
function shutBy(kills, year) {
  if (!year.cold && !year.two) return kills;
  const shut = kills.slice();
  const [rise, fall] = year.cold
    ? [
        [0, year.turn],
        [year.turn, DAYS],
      ]
    : [
        [year.turn, DAYS],
        [0, year.turn],
      ];
  for (let d = rise[1] - 2; d >= rise[0]; d--) shut[d] |= shut[d + 1];
  for (let d = fall[0] + 1; d < fall[1]; d++) shut[d] |= shut[d - 1];
  return shut;
}

/** Runs of usable days, joined over breaks of at most three days of which none is shut. */
function runs(usable, shut) {
  const found = [];
  let last = null;
  let wall = -1;
  for (let d = 0; d < DAYS; d++) {
    if (shut[d]) wall = d;
    if (!usable[d] || shut[d]) continue;
    if (last && d - last.end - 1 <= BRIDGED_DAYS && wall <= last.end) {
      last.end = d;
      last.usable += 1;
    } else {
      last = { start: d, end: d, usable: 1 };
      found.push(last);
    }
  }
  return found;
}

const NO_RUN = { start: -1, end: -1, usable: 0 };
const lengthOf = (run) => (run === NO_RUN ? 0 : run.end - run.start + 1);

function longest(found, year) {
  const early = (run) => run.start < year.turn - TURN_DAYS;
  const late = (run) => run.end >= year.turn + TURN_DAYS;
  const [rise, fall] = year.cold ? [early, late] : [late, early];
  const best = (chosen) =>
    found.filter(chosen).reduce((a, b) => (lengthOf(b) > lengthOf(a) ? b : a), NO_RUN);
  return {
    longest: best(() => true),
    rise: best((run) => year.two && rise(run)),
    fall: best((run) => year.two && fall(run)),
  };
}

function measured(worst, best) {
  const [least, most] = [lengthOf(worst), lengthOf(best)];
  const same = ["start", "end", "usable"].every((key) => worst[key] === best[key]);
  const status = !same ? "unknown" : least ? "observed" : "none";
  const held = status === "observed" ? { start: worst.start, end: worst.end } : {};
  return { ...held, least, most, status, ...(same ? { length: least, usable: worst.usable } : {}) };
}

function map(n, test) {
  const out = new Uint8Array(n);
  for (let i = 0; i < n; i++) out[i] = test(i);
  return out;
}

/**
 * The usable window of every year: `usable_windows` of the library. Days count from the season's
 * first day; limits are { low, high, killed } in degC, `killed` null for none.
 */
export function usableWindows(place, limits) {
  const { week, night, usual, curve } = place;
  const [low, high] = [limits.low - SLACK_C, limits.high + SLACK_C];
  const kill = (limits.killed ?? -Infinity) + SLACK_C;
  const year = cropYear(usual, limits);
  const n = week.low.length;
  const worst = [
    map(n, (i) => week.low[i] >= low && week.high[i] <= high),
    map(n, (i) => night.low[i] <= kill),
  ];
  const best = [
    map(n, (i) => week.high[i] >= low && week.low[i] <= high),
    map(n, (i) => night.high[i] <= kill),
  ];
  const rows = place.kept[year.first].map((row) => {
    const [sure, possible] = [worst, best].map(([usable, kills]) =>
      longest(
        runs(season(usable, row, year.first), shutBy(season(kills, row, year.first), year)),
        year,
      ),
    );
    const parts = Object.keys(PARTS).map((part) => [part, measured(sure[part], possible[part])]);
    return { year: place.first_row + row, ...Object.fromEntries(parts) };
  });
  const inside = Uint8Array.from(curve, (t) => t !== null && t >= low && t <= high);
  const turned = Uint8Array.from(range(DAYS), (d) => inside[(d + year.first - 1) % DAYS]);
  return { ...year, rows, average: longest(runs(turned, new Uint8Array(DAYS)), year) };
}

/** Bounds of Wilson's interval of a share, 90 %. */
function wilson(hits, count, z) {
  const share = hits / count;
  const wide = 1 + (z * z) / count;
  const centre = (share + (z * z) / (2 * count)) / wide;
  const half = (z * Math.sqrt((share * (1 - share)) / count + (z * z) / (4 * count ** 2))) / wide;
  return [Math.max(centre - half, 0), Math.min(centre + half, 1)];
}

/** How often a window is shorter than needed: `odds_shorter` of the library. */
export function oddsShorter(windows, part, need, z) {
  const years = windows.rows.map((row) => row[part]);
  const shorter = years.filter((w) => w.most < need).length;
  const known = shorter + years.filter((w) => w.least >= need).length;
  const [low, high] = wilson(shorter, known, z);
  return { shorter, known, unknown: years.length - known, low, high };
}

// --- freezes -------------------------------------------------------------------------------

/** Last spring and first autumn freeze of every year, in days from 1 January of its own year. */
export function freezeDates(place, threshold) {
  const { night, coldest, warmest } = place;
  const limit = threshold + SLACK_C;
  const turn = modulo(warmest - coldest, DAYS);
  const masks = ["high", "low"].map((side) =>
    map(night.low.length, (i) => night[side][i] <= limit),
  );
  const start = offset(coldest) + 1;
  return place.kept[coldest].map((row) => {
    const [sure, possible] = masks.map((mask) => {
      const cold = season(mask, row, coldest);
      return [turn ? cold.lastIndexOf(1, turn - 1) : -1, cold.indexOf(1, turn)];
    });
    const [spring, autumn] = sure.map((day, half) =>
      day !== possible[half] ? null : day < 0 ? NaN : day + start,
    );
    return { year: place.first_row + row, spring, autumn };
  });
}

/** Sorted dates of the years that are known; a year without a freeze is endlessly early, or late. */
function sample(dates, half) {
  const endless = half === "spring" ? -Infinity : Infinity;
  const known = dates.map((date) => date[half]).filter((day) => day !== null);
  return Float64Array.from(known, (day) => (Number.isNaN(day) ? endless : day)).sort();
}

/** Least share of a sorted sample whose quantile (Hazen's) reaches a value. */
function shareBelow(values, at) {
  const n = values.length;
  const place = values.findIndex((value) => value >= at);
  if (place === 0) return 0;
  if (place < 0) return 1;
  const [below, above] = [values[place - 1], values[place]];
  let t = (at - below) / (above - below);
  if (Number.isFinite(below) === false) t = 1;
  else if (Number.isFinite(above) === false) t = 0;
  const [from, to] = [(place - 0.5) / n, (place + 0.5) / n];
  return from + t * (to - from);
}

/** Chance of a freeze on each day of the year or later in spring, or earlier in autumn. */
export function freezeChance(place, dates) {
  const start = offset(place.coldest) + 1;
  const halves = [
    ["spring", 1],
    ["autumn", -1],
  ].map(([half, sign]) => {
    const values = sample(dates, half)
      .map((day) => sign * day)
      .sort();
    const chance = new Array(DAYS).fill(null);
    for (let i = 0; i < DAYS && values.length; i++) {
      chance[modulo(start + i - 1, DAYS)] = 1 - shareBelow(values, sign * (start + i));
    }
    return [half, chance];
  });
  return Object.fromEntries(halves);
}

/** Date at which the chance of a freeze is `level`; NaN where it never comes to that. */
export function freezeDay(dates, half, level) {
  const values = sample(dates, half);
  const n = values.length;
  if (!n) return NaN;
  const share = half === "spring" ? 1 - level : level;
  const at = Math.min(Math.max(n * share + 0.5 - 1, 0), n - 1);
  const below = Math.floor(at);
  const [low, high] = [values[below], values[Math.min(below + 1, n - 1)]];
  const t = at - below;
  if (t === 0 || low === high) return Number.isFinite(low) ? low : NaN;
  if (!Number.isFinite(low) || !Number.isFinite(high)) return NaN;
  const step = high - low;
  return t >= 0.5 ? high - step * (1 - t) : low + step * t;
}

// --- plans ---------------------------------------------------------------------------------

/**
 * Years in which a plan begun on a day succeeded, are known, and failed by each reason. The rules
 * hold the reasons by their number, and the numbers of a year that succeeded or that a gap hides.
 */
export function planOdds(fates, start, rules) {
  const years = range(fates.length / DAYS).map((row) => fates[row * DAYS + start - 1]);
  const count = (kind) => years.filter((fate) => fate === kind).length;
  const [succeeded, known] = [count(rules.succeeded), years.length - count(rules.open)];
  const [low, high] = wilson(succeeded, known, rules.z);
  return {
    years,
    succeeded,
    known,
    failed: rules.reasons.map((_, code) => count(code)),
    low,
    high,
  };
}

/** Two plans on the years known for both, with the interval of the difference of their shares. */
export function compared(first, second, { succeeded, open, z }) {
  const pairs = first.years.map((fate, i) => [fate, second.years[i]]);
  const known = pairs.filter((pair) => !pair.includes(open));
  const count = (a, b) =>
    known.filter(([x, y]) => (x === succeeded) === a && (y === succeeded) === b).length;
  const [both, only_plan] = [count(true, true), count(true, false)];
  const [only_other, neither] = [count(false, true), count(false, false)];
  const total = known.length + 2;
  const [a, b] = [only_plan + 0.5, only_other + 0.5];
  const middle = (a - b) / total;
  const half = (z * Math.sqrt(a + b - (a - b) ** 2 / total)) / total;
  const side = (value) => (known.length ? Math.min(Math.max(value, -1), 1) : NaN);
  const interval = { low: side(middle - half), high: side(middle + half) };
  return { known: known.length, both, only_plan, only_other, neither, ...interval };
}

/** Which window a plan aims at: the one whose average begins nearest to its setting out. */
export function partOf(windows, start, weeks) {
  if (!windows.two) return "longest";
  const away = (part) => {
    const run = windows.average[part];
    if (run === NO_RUN) return DAYS;
    const begins = run.start + offset(windows.first) + 1;
    return Math.abs(modulo(start + 7 * weeks - begins + DAYS / 2, DAYS) - DAYS / 2);
  };
  return away("fall") < away("rise") ? "fall" : "rise";
}
