// The odds of a freeze by date, at any threshold: the library's own rules (climwin.climate.freeze),
// repeated here for the hand that moves the threshold.

import { DAYS, modulo, range, seasonOffset } from "./calendar.js";
import { SLACK_C, daysThat, seasonOf } from "./windows.js";

/**
 * Last spring and first autumn freeze of every year, in days from 1 January of its own year: NaN
 * where there was none, null where a gap hides it.
 */
export function freezeDates(record, thresholdC) {
  const { minimum, coldest_day: coldest, warmest_day: warmest } = record;
  const limit = thresholdC + SLACK_C;
  const midsummer = modulo(warmest - coldest, DAYS);
  const start = seasonOffset(coldest) + 1;
  const n = minimum.low.length;
  const surelyFrozen = daysThat(n, (i) => minimum.high[i] <= limit);
  const possiblyFrozen = daysThat(n, (i) => minimum.low[i] <= limit);

  /** Day of the season, -1 for none, of the last freeze before midsummer and the first after. */
  const freezesOf = (frozen, row) => {
    const nights = seasonOf(frozen, row, coldest);
    return {
      spring: midsummer ? nights.lastIndexOf(1, midsummer - 1) : -1,
      autumn: nights.indexOf(1, midsummer),
    };
  };
  return record.season_rows[coldest].map((row) => {
    const sure = freezesOf(surelyFrozen, row);
    const possible = freezesOf(possiblyFrozen, row);
    const settled = (half) => {
      if (sure[half] !== possible[half]) return null;
      return sure[half] < 0 ? NaN : sure[half] + start;
    };
    return {
      year: record.first_row + row,
      spring: settled("spring"),
      autumn: settled("autumn"),
    };
  });
}

/** Sorted dates of the known years; a year without a freeze is endlessly early, or late. */
function sortedDates(dates, half) {
  const endless = half === "spring" ? -Infinity : Infinity;
  const known = dates.map((date) => date[half]).filter((day) => day !== null);
  return Float64Array.from(known, (day) => (Number.isNaN(day) ? endless : day)).sort();
}

/** Least share of a sorted sample whose quantile, by Hazen's positions, reaches a value. */
function shareBelow(sorted, value) {
  const n = sorted.length;
  const index = sorted.findIndex((each) => each >= value);
  if (index === 0) return 0;
  if (index < 0) return 1;
  const below = sorted[index - 1];
  const above = sorted[index];
  let part = (value - below) / (above - below);
  if (!Number.isFinite(below)) part = 1;
  else if (!Number.isFinite(above)) part = 0;
  const from = (index - 0.5) / n;
  const to = (index + 0.5) / n;
  return from + part * (to - from);
}

/**
 * Chance of a freeze on each day of the year or later, in spring, and on each day or earlier,
 * in autumn; null where no year is known.
 */
export function freezeChance(record, dates) {
  const start = seasonOffset(record.coldest_day) + 1;
  const chanceOf = (half, sign) => {
    // An early autumn is a late spring seen from the other side, hence the sign.
    const sorted = sortedDates(dates, half)
      .map((day) => sign * day)
      .sort();
    const chance = new Array(DAYS).fill(null);
    if (!sorted.length) return chance;
    for (const i of range(DAYS)) {
      chance[modulo(start + i - 1, DAYS)] = 1 - shareBelow(sorted, sign * (start + i));
    }
    return chance;
  };
  return { spring: chanceOf("spring", 1), autumn: chanceOf("autumn", -1) };
}

/** Quantile of a sorted sample by Hazen's positions; NaN where it falls on a year without one. */
function quantile(sorted, share) {
  const last = sorted.length - 1;
  const position = Math.min(Math.max(sorted.length * share - 0.5, 0), last);
  const index = Math.floor(position);
  const low = sorted[index];
  const high = sorted[Math.min(index + 1, last)];
  const part = position - index;
  if (part === 0 || low === high) return Number.isFinite(low) ? low : NaN;
  if (!Number.isFinite(low) || !Number.isFinite(high)) return NaN;
  // From the nearer end, as NumPy does, so that rounding is the same.
  const step = high - low;
  return part >= 0.5 ? high - step * (1 - part) : low + step * part;
}

/** Date at which the chance of a freeze is `level`; NaN where it never comes to that. */
export function freezeDay(dates, half, level) {
  const sorted = sortedDates(dates, half);
  if (!sorted.length) return NaN;
  return quantile(sorted, half === "spring" ? 1 - level : level);
}
