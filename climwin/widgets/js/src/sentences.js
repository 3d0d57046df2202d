// Findings in plain words: counts in, sentences out. The same sentences as in climwin.report.

import { dayName } from "./calendar.js";
import { fixed, percent, years } from "./formatting.js";
import { runLength } from "./windows.js";
import { WINDOW_NAMES, article, capitalized, say } from "./wording.js";

// --- the window ----------------------------------------------------------------------------

/** The finding on a kind of window. `odds` come from oddsShorter. */
export function windowTooShort(kind, needDays, cropName, odds) {
  return say("window_too_short", {
    window: WINDOW_NAMES[kind],
    count: needDays,
    crop: cropName,
    shorter: odds.shorter,
    years: years(odds.known),
  });
}

/** The interval of the odds, and the years that a gap in the record leaves out. */
export function howSure(odds, leastYears) {
  const sentences = [
    say("true_odds_too_short", {
      years: years(odds.known),
      low: percent(odds.low),
      high: percent(odds.high),
    }),
  ];
  if (odds.unknown) sentences.push(say("years_hidden_by_gaps", { count: odds.unknown }));
  if (odds.known < leastYears) sentences.push(say("few_years"));
  return sentences.join(" ");
}

/** Middle value of a list of numbers; NaN where there is none. */
function median(values) {
  const sorted = [...values].sort((a, b) => a - b);
  const middle = sorted.length / 2;
  return (sorted[Math.ceil(middle) - 1] + sorted[Math.floor(middle)]) / 2;
}

/** The window of the average curve, which is not the average window. */
export function averageWindow(windows, kind) {
  const lengths = windows.rows.map((row) => row[kind].length).filter((n) => n !== undefined);
  const middle = median(lengths);
  const count = runLength(windows.average[kind]);
  if (Number.isNaN(middle)) return say("average_window_only", { count });
  return say("average_window", { count, median: fixed(middle) });
}

// --- plans ---------------------------------------------------------------------------------

/** What a gardener would call a plan. */
export function planName(plan) {
  const start = dayName(plan.start);
  if (plan.startsByItself) return say("plan_wakes", { start });
  let name = say("plan_sown", { start });
  if (plan.weeks) {
    const where =
      plan.cover === "fleece"
        ? say("under_fleece")
        : say("in_cover", { article: article(plan.cover), cover: plan.cover });
    name = say("plan_raised", { where, start });
  }
  return plan.fleece ? say("with_fleece", { plan: name, count: plan.fleece }) : name;
}

/** One plan's odds in a sentence. `odds` come from countOutcomes, here and below. */
export function planOdds(plan, cropName, odds) {
  return say("plan_succeeds", {
    plan: capitalized(planName(plan)),
    crop: cropName,
    succeeded: odds.succeeded,
    years: years(odds.known),
  });
}

/** What failed the other years, most frequent first. */
export function failures(odds, reasons) {
  const counts = reasons.map((reason, code) => ({ reason, count: odds.failed[code] }));
  const mostFirst = counts.filter(({ count }) => count).sort((a, b) => b.count - a.count);
  return mostFirst.map((each) => say("years_failed_by", each)).join(", ") || say("none_failed");
}

/** Interval of a plan's odds. */
export const interval = (odds) =>
  say("span", { first: percent(odds.low), last: percent(odds.high) });

/** Two plans against each other on the same years. `pairs` come from comparePlans. */
export function comparison(plan, other, pairs) {
  const text = say("plans_compared", {
    years: years(pairs.known),
    first: planName(plan),
    second: planName(other),
    only_first: pairs.onlyFirst,
    only_second: pairs.onlySecond,
    both: pairs.both,
    neither: pairs.neither,
  });
  let verdict = "neither_is_better";
  if (pairs.low > 0) verdict = "first_is_better";
  else if (pairs.high < 0) verdict = "second_is_better";
  return `${text} ${say(verdict)}`;
}

/** Best run of start dates, its first and last day, with the odds it reaches. */
export function bestDates(best, topShare) {
  if (!best || !(topShare > 0)) return say("no_best_dates");
  const [first, last] = best.map(dayName);
  const dates = first === last ? first : say("span", { first, last });
  return say("best_dates", { dates, best: percent(topShare) });
}
