// The library's sentences, once more for the live chart, and how it writes numbers and dates.

/** Fixed number of decimals, 0 or 1, an exact half going to the even digit as in the library. */
export function fixed(value, digits = 0) {
  const scaled = Math.abs(value) * 10 ** digits;
  const tie = Number.isInteger(value * 4) && scaled % 1 === 0.5;
  const near = tie ? (2 * Math.round(scaled / 2)) / 10 ** digits : Math.abs(value);
  return (value < 0 ? "-" : "") + near.toFixed(digits);
}

export const fromCelsius = (celsius, units) => (units === "C" ? celsius : celsius * 1.8 + 32);

export function temperature(celsius, units, digits = 0) {
  const shown = `${Number(fixed(fromCelsius(celsius, units), digits))}`; // no ".0", no "-0"
  return `${shown.replace("-", "\u2212")} °${units}`;
}

export function dayName(day) {
  const number = modulo(Math.floor(day + 0.5) - 1, DAYS) + 1;
  const month = MONTH_STARTS.findLastIndex((start) => start < number);
  return `${number - MONTH_STARTS[month]} ${MONTHS[month]}`;
}

/** Day of the year of "5 Mar", "Mar 5" or "03-05"; 0 if it is none. */
export function dayNumber(text) {
  const numeric = /^(\d{1,2})-(\d{1,2})$/.exec(text.trim());
  const words = /^(?:(\d{1,2}) ([A-Za-z]{3,9})|([A-Za-z]{3,9}) (\d{1,2}))$/.exec(text.trim());
  let [month, day] = [0, 0];
  if (numeric) [month, day] = [Number(numeric[1]), Number(numeric[2])];
  else if (words) {
    const name = (words[2] ?? words[3]).slice(0, 3).toLowerCase();
    month = MONTHS.findIndex((known) => known.toLowerCase() === name) + 1;
    day = Number(words[1] ?? words[4]);
  }
  const length = (MONTH_STARTS[month] ?? DAYS) - MONTH_STARTS[month - 1];
  return day >= 1 && day <= length ? MONTH_STARTS[month - 1] + day : 0;
}

const years = (count) => `${count} year${count === 1 ? "" : "s"}`;
const percent = (share) => (Number.isNaN(share) ? "unknown" : `${fixed(100 * share)} %`);
const span = (low, high) => {
  const end = (day) => (Number.isNaN(day) || day === null ? "…" : dayName(day));
  return `${end(low)} to ${end(high)}`;
};

export const words = {
  tooShort: (part, need, name, found) =>
    `${PARTS[part]} shorter than the ${need} days ${name} needs in ${found.shorter} of ` +
    years(found.known),

  howSure(found) {
    let text =
      `From ${years(found.known)} of weather, the true odds of too short a window lie between ` +
      `${percent(found.low)} and ${percent(found.high)} (nine chances in ten).`;
    if (found.unknown) {
      const left = found.unknown === 1 ? "it is" : "they are";
      text += ` In ${years(found.unknown)} a gap in the record hides the answer; ${left} left out.`;
    }
    if (found.known < 10) text += " Fewer than ten years: take these odds as a hint, no more.";
    return text;
  },

  average(windows, part) {
    const lengths = windows.rows.map((row) => row[part].length).filter((n) => n !== undefined);
    lengths.sort((a, b) => a - b);
    const half = lengths.length / 2;
    const middle = (lengths[Math.ceil(half) - 1] + lengths[Math.floor(half)]) / 2;
    return (
      `The average curve alone promises ${lengthOf(windows.average[part])} days; of the real ` +
      `windows half were shorter than ${Number.isNaN(middle) ? "nan" : fixed(middle)}.`
    );
  },

  planName(plan) {
    const day = dayName(plan.start);
    if (plan.wakes) return `wakes by itself ${day}`;
    const fleece = plan.fleece ? `, ${plan.fleece} weeks of fleece` : "";
    if (!plan.weeks) return `sown in place ${day}${fleece}`;
    const article = "aeiou".includes(plan.cover[0]) ? "an" : "a";
    const where = plan.cover === "fleece" ? "under fleece" : `in ${article} ${plan.cover}`;
    return `raised ${where}, sown ${day}${fleece}`;
  },

  planOdds(plan, crop, odds) {
    const name = words.planName(plan);
    return (
      `${name[0].toUpperCase()}${name.slice(1)}: ${crop} succeeds in ${odds.succeeded} of ` +
      years(odds.known)
    );
  },

  failures(odds, reasons) {
    const told = reasons.map((name, code) => [name, odds.failed[code]]).filter(([, n]) => n);
    told.sort((a, b) => b[1] - a[1]);
    return told.map(([name, n]) => `${name} ${n}`).join(", ") || "none";
  },

  interval: (odds) => `${percent(odds.low)} to ${percent(odds.high)}`,

  comparison(plan, other, found) {
    const text =
      `Of the ${years(found.known)} known for both, only “${words.planName(plan)}” succeeded in ` +
      `${found.only_plan} and only “${words.planName(other)}” in ${found.only_other}; both did ` +
      `in ${found.both}, neither in ${found.neither}.`;
    if (found.low > 0) return `${text} The first is the better way here.`;
    if (found.high < 0) return `${text} The second is the better way here.`;
    return `${text} The years are too few, or the ways too alike, to say which is better.`;
  },

  bestDates(best, top) {
    if (!best || !(top > 0)) return "none: it succeeds from no start date";
    const days = [...new Set(best.map(dayName))].join(" to ");
    return `${days} (up to ${percent(top)})`;
  },

  date: (day) => (Number.isNaN(day) ? "never so likely" : dayName(day)),
  span,
  percent,
  years,
};
