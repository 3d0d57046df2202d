// Days of a 365-day year, 1 to 365; 29 February takes no place of its own.

import { MONTHS } from "./wording.js";

export const DAYS = 365;

/** Days of the year that lie before each month. */
export const MONTH_STARTS = [0, 31, 59, 90, 120, 151, 181, 212, 243, 273, 304, 334];

/** Remainder that is never negative. */
export const modulo = (a, n) => ((a % n) + n) % n;

/** The whole numbers from 0 up to n, n left out. */
export const range = (n) => Array.from({ length: n }, (_, i) => i);

/** Days from 1 January of a season's own year to the season's first day. */
export const seasonOffset = (firstDay) => (firstDay <= 183 ? firstDay - 1 : firstDay - 1 - DAYS);

/** Day of the year as people write it, such as "20 Apr"; days past 365 wrap round. */
export function dayName(day) {
  const number = modulo(Math.floor(day + 0.5) - 1, DAYS) + 1;
  const month = MONTH_STARTS.findLastIndex((start) => start < number);
  return `${number - MONTH_STARTS[month]} ${MONTHS[month]}`;
}

/** Day of the year of "5 Mar", "Mar 5" or "03-05"; 0 where the text is no such date. */
export function dayNumber(text) {
  const numeric = /^(\d{1,2})-(\d{1,2})$/.exec(text.trim());
  const named = /^(?:(\d{1,2}) ([A-Za-z]{3,9})|([A-Za-z]{3,9}) (\d{1,2}))$/.exec(text.trim());
  let month = 0;
  let day = 0;
  if (numeric) {
    month = Number(numeric[1]);
    day = Number(numeric[2]);
  } else if (named) {
    const name = (named[2] ?? named[3]).slice(0, 3).toLowerCase();
    month = MONTHS.findIndex((known) => known.toLowerCase() === name) + 1;
    day = Number(named[1] ?? named[4]);
  }
  const daysInMonth = (MONTH_STARTS[month] ?? DAYS) - MONTH_STARTS[month - 1];
  return day >= 1 && day <= daysInMonth ? MONTH_STARTS[month - 1] + day : 0;
}
