// The odds of a freeze by date, at any threshold: the library's own rules (climwin.climate.freeze),
// repeated here for the hand that moves the threshold.

import { DAYS, modulo, range, seasonOffset } from "./calendar.js";
import { bandwidth, kernelQuantile, kernelShareAbove } from "./statistics.js";
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

/** Dates of the known years; a year without a freeze is endlessly early, or late. */
function knownDates(dates, half) {
  const endless = half === "spring" ? -Infinity : Infinity;
  const known = dates.map((date) => date[half]).filter((day) => day !== null);
  return known.map((day) => (Number.isNaN(day) ? endless : day));
}

/**
 * Chance of a freeze on each day of the year or later, in spring, and on each day or earlier,
 * in autumn; null where no year is known.
 */
export function freezeChance(record, dates) {
  const start = seasonOffset(record.coldest_day) + 1;
  const chanceOf = (half, chanceOn) => {
    const days = knownDates(dates, half);
    const chance = new Array(DAYS).fill(null);
    if (!days.length) return chance;
    const width = bandwidth(days);
    for (const i of range(DAYS)) {
      chance[modulo(start + i - 1, DAYS)] = chanceOn(days, start + i, width);
    }
    return chance;
  };
  // The day itself counts: half a day before it in spring, after it in autumn.
  return {
    spring: chanceOf("spring", (days, day, width) => kernelShareAbove(days, day - 0.5, width)),
    autumn: chanceOf("autumn", (days, day, width) => 1 - kernelShareAbove(days, day + 0.5, width)),
  };
}

/** Date at which the chance of a freeze is `level`; NaN where it never comes to that. */
export function freezeDay(dates, half, level) {
  const days = knownDates(dates, half);
  if (!days.length) return NaN;
  const day = kernelQuantile(days, half === "spring" ? level : 1 - level);
  return Number.isFinite(day) ? day : NaN;
}
