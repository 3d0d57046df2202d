// The odds of a freeze by date, at any threshold: the library's own rules (climwin.climate.freeze),
// repeated here for the hand that moves the threshold.

import { DAYS, modulo, range, seasonOffset } from "./calendar.js";
import { kernelQuantile, kernelSharesAbove, meanOf, median, samplesByDraw } from "./statistics.js";
import { daysThat, nightLimits, seasonOf } from "./windows.js";

const HALVES = ["spring", "autumn"];

/**
 * Last spring and first autumn freeze of every year, in days from 1 January of its own year: NaN
 * where there was none, null where a gap hides it. `drawn_spring` and `drawn_autumn` are then the
 * same days in each draw, endless where there is none; null where draws cannot tell. `asked` is the
 * threshold before the record was moved, as for `nightLimits`.
 */
export function freezeDates(record, thresholdC, asked = thresholdC) {
  const { minimum, coldest_day: coldest, warmest_day: warmest } = record;
  const midsummer = modulo(warmest - coldest, DAYS);
  const start = seasonOffset(coldest) + 1;

  /** Day of the season, -1 for none, of the last freeze before midsummer and the first after. */
  const freezesOf = (minima, row) => {
    const season = seasonOf(minima, row, coldest);
    const limits = nightLimits(record, row, coldest, thresholdC, asked);
    const nights = daysThat(DAYS, (i) => season[i] <= limits[i]);
    return {
      spring: midsummer ? nights.lastIndexOf(1, midsummer - 1) : -1,
      autumn: nights.indexOf(1, midsummer),
    };
  };
  const datesOf = ({ low, high }, row) => {
    const sure = freezesOf(high, row);
    const possible = freezesOf(low, row);
    const settled = (half) => {
      if (sure[half] !== possible[half]) return null;
      return sure[half] < 0 ? NaN : sure[half] + start;
    };
    return { spring: settled("spring"), autumn: settled("autumn") };
  };
  const rows = record.season_rows[coldest];
  const dates = rows.map((row) => ({ year: record.first_row + row, ...datesOf(minimum, row) }));
  const open = rows
    .map((row, i) => ({ row, date: dates[i] }))
    .filter(({ row }) => record.drawn_freezes.includes(row))
    .filter(({ date }) => HALVES.some((half) => date[half] === null));
  if (!open.length) return dates;
  const minima = record.draws.map((draw) => draw.minimum());
  for (const { row, date } of open) {
    const byDraw = minima.map((each) => datesOf(each, row));
    for (const half of HALVES.filter((each) => date[each] === null)) {
      const days = byDraw.map((drawn) => drawn[half]);
      date[`drawn_${half}`] = days.includes(null) ? null : days.map((day) => endlessly(half, day));
    }
  }
  return dates;
}

/** A year without a freeze is endlessly early in spring, and endlessly late in autumn. */
function endlessly(half, day) {
  if (!Number.isNaN(day)) return day;
  return half === "spring" ? -Infinity : Infinity;
}

/** Dates of the years that have an answer, a sample for each draw; one where no year is drawn. */
function samplesOf(dates, half) {
  return samplesByDraw(
    dates.map((date) =>
      date[half] === null ? (date[`drawn_${half}`] ?? null) : endlessly(half, date[half]),
    ),
  );
}

/**
 * Chance of a freeze on each day of the year or later, in spring, and on each day or earlier,
 * in autumn; null where no year is known. Where years are drawn, the mean over the draws.
 */
export function freezeChance(record, dates) {
  const start = seasonOffset(record.coldest_day) + 1;
  const sharesAbove = (half, later) => {
    const samples = samplesOf(dates, half);
    const shares = new Array(DAYS).fill(null);
    if (!samples[0].length) return shares;
    const ats = range(DAYS).map((i) => start + i + later);
    const byDraw = samples.map((days) => kernelSharesAbove(days, ats));
    for (const i of range(DAYS)) {
      shares[modulo(start + i - 1, DAYS)] = meanOf(byDraw.map((each) => each[i]));
    }
    return shares;
  };
  // The day itself counts: half a day before it in spring, after it in autumn.
  return {
    spring: sharesAbove("spring", -0.5),
    autumn: sharesAbove("autumn", 0.5).map((share) => (share === null ? null : 1 - share)),
  };
}

/**
 * Date at which the chance of a freeze is `level`, the middle one of the draws; NaN where it never
 * comes to that.
 */
export function freezeDay(dates, half, level) {
  const samples = samplesOf(dates, half);
  if (!samples[0].length) return NaN;
  const share = half === "spring" ? level : 1 - level;
  const endless = half === "spring" ? -Infinity : Infinity;
  // Whichever end it runs to, a date that is never reached is that of no freeze.
  const byDraw = samples
    .map((days) => kernelQuantile(days, share))
    .map((day) => (Number.isFinite(day) ? day : endless));
  const day = median(byDraw);
  return Number.isFinite(day) ? day : NaN;
}
