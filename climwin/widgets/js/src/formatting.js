// How numbers, dates and temperatures are written in a sentence, exactly as core/formatting.py
// writes them; tests/widgets compares the two.

import { dayName } from "./calendar.js";
import { say } from "./wording.js";

/** Number with 0 or 1 decimals; an exact half goes to the even digit, zero is unsigned. */
export function fixed(value, digits = 0) {
  const magnitude = Math.abs(value);
  const scaled = magnitude * 10 ** digits;
  // Only quarters can be exact halves in binary; everything else is nearer to one side.
  const isExactHalf = Number.isInteger(magnitude * 4) && scaled % 1 === 0.5;
  const rounded = isExactHalf ? (2 * Math.round(scaled / 2)) / 10 ** digits : magnitude;
  const text = rounded.toFixed(digits);
  return value < 0 && Number(text) !== 0 ? `-${text}` : text;
}

/** Number as print has it: with its own minus sign, which no keyboard types. */
export const number = (value, digits = 0) => fixed(value, digits).replace("-", "\u2212");

export const fromCelsius = (celsius, units) => (units === "C" ? celsius : celsius * 1.8 + 32);

/** Temperature with its unit, without needless zeros. `celsius` is in degC. */
export function temperature(celsius, units, digits = 0) {
  const rounded = Number(fixed(fromCelsius(celsius, units), digits)); // drops ".0"
  const shown = `${rounded}`.replace("-", "\u2212"); // the minus sign of print
  return say("temperature", { number: shown, units });
}

/** Temperature as exact as a hand moves it: tenths of a degC, whole degF. */
export const degrees = (celsius, units) => temperature(celsius, units, units === "C" ? 1 : 0);

/** What a hand chose, as degC in tenths; in degF a hand chooses whole degrees. */
export function toCelsius(value, units) {
  const celsius = units === "C" ? value : (Math.round(value) - 32) / 1.8;
  return Math.round(celsius * 10) / 10;
}

/** Share as a whole percentage. */
export const percent = (share) =>
  Number.isNaN(share) ? say("unknown") : say("percent", { number: fixed(100 * share) });

/** Number of years, in the plural where it needs one. */
export const years = (count) => say("years", { count });

/** Day of the year in words; a missing one is a date that no odds reach. */
export const date = (day) => (Number.isNaN(day) ? say("never_so_likely") : dayName(day));

/** Two days of the year, first to last; an end that does not exist stays open. */
export function span(first, last) {
  const end = (day) => (day === null || Number.isNaN(day) ? say("open_end") : dayName(day));
  return say("span", { first: end(first), last: end(last) });
}
