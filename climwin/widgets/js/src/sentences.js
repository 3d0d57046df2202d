// Findings in plain words: counts in, sentences out. The same sentences as in climwin.report.

import { DAYS, dayName, modulo } from "./calendar.js";
import { fixed, percent, years } from "./formatting.js";
import { median } from "./statistics.js";
import { runLength } from "./windows.js";
import { WINDOW_NAMES, article, capitalized, say } from "./wording.js";

// --- the window ----------------------------------------------------------------------------

/**
 * In how many years the mild spell was long enough, for one way of growing or for two. `needs` and
 * `spells` come from spells.js.
 */
export function spellFinding(kind, cropName, needs, { counts }) {
  const common = {
    spell: WINDOW_NAMES[kind],
    crop: cropName,
    enough: counts[2],
    years: years(counts[0] + counts[1] + counts[2]),
  };
  if (needs.length === 1 || counts[1] === 0) return say("spell_long_enough", common);
  const [shorter, longer] = needs;
  return say("spell_long_enough_ways", {
    ...common,
    way: longer.way,
    easier: shorter.way,
    enough_of_easier: counts[1] + counts[2],
  });
}

/**
 * In how many years it was long enough if only days count in which the crop is comfortable; nothing
 * where that is the same number. Both odds come from oddsShorter; `inComfort` is null for limits
 * moved by hand.
 */
export function inComfortOnly(cropName, need, odds, inComfort) {
  const isFewer = inComfort && inComfort.known === odds.known && inComfort.shorter > odds.shorter;
  if (!isFewer) return "";
  return say("spell_in_comfort", {
    crop: cropName,
    need,
    enough: odds.known - inComfort.shorter,
    years: years(odds.known),
  });
}

/** How many of the next ten years are likely, such as "2 to 6"; odds from `intervals`. */
export function nextYears({ nextLow: first, nextHigh: last }) {
  if (Number.isNaN(first)) return say("unknown_number");
  return first === last ? String(first) : say("span", { first, last });
}

/**
 * In how many of the next ten years the window is likely too short, its long-run odds, and the
 * years that a gap leaves out. `today` are the odds in today's climate, null where there are none.
 */
export function howSure(odds, today, leastYears) {
  const [leads, ofToday] = today ? [today, "_today"] : [odds, ""];
  const sentences = [say(`next_years_too_short${ofToday}`, { next: nextYears(leads) })];
  if (today) {
    const [now, before] = [nextYears(today), nextYears(odds)];
    const name = now === before ? "next_years_by_the_record_too" : "next_years_by_the_record";
    sentences.push(say(name, { next: before }));
  }
  sentences.push(
    say(`long_run_too_short${ofToday}`, {
      years: years(leads.known),
      low: percent(leads.low),
      high: percent(leads.high),
    }),
    say("what_odds_cover"),
  );
  const leftOut = odds.unknown - odds.leaning; // the others are drawn, and count
  if (leftOut) sentences.push(say("years_hidden_by_gaps", { count: leftOut }));
  if (odds.known < leastYears) sentences.push(say("few_years"));
  return sentences.join(" ");
}

/** The window of the average curve, which is not the average window. */
export function averageWindow(windows, kind) {
  const lengths = windows.rows.map((row) => row[kind].length).filter((n) => n !== undefined);
  const middle = median(lengths);
  const count = runLength(windows.average[kind]);
  if (Number.isNaN(middle)) return say("average_window_only", { count });
  if (!count && !middle) return say("average_window_none");
  if (count === DAYS && middle === DAYS) return say("average_window_all_year");
  return say("average_window", { count, median: fixed(middle) });
}

// --- plans ---------------------------------------------------------------------------------

/** What a gardener would call a plan, from plans of the panel. */
export function planName(plan) {
  if (plan.isPerennial) return say("plan_perennial");
  const start = dayName(plan.start);
  let name = say(plan.isPlanted ? "plan_planted" : "plan_sown", { start });
  if (plan.plants === "bought") name = say("plan_bought", { start });
  else if (plan.weeks) {
    const where =
      plan.cover === "fleece"
        ? say("under_fleece")
        : say("in_cover", { article: article(plan.cover), cover: plan.cover });
    name = say(plan.isPlanted ? "plan_raised_planted" : "plan_raised", { where, start });
  }
  return plan.fleece ? say("with_fleece", { plan: name, count: plan.fleece }) : name;
}

/** One plan's odds in a sentence; `crops` is the crop's name in the plural. `odds` come from
 * countOutcomes, here and below. */
export function planOdds(plan, crops, odds) {
  const harvests = `${odds.harvested} of ${years(odds.known)}, a good one in ${odds.good}`;
  return `${capitalized(planName(plan))}: ${crops} gave a harvest in ${harvests}`;
}

/** When the harvest begins, from harvestDays of an outcome grid. */
export function harvestBegins([first, middle, last]) {
  if (Number.isNaN(middle)) return say("no_harvest");
  const [from, about, to] = [first, middle, last].map(dayName);
  return say("harvest_begins", { middle: about, first: from, last: to });
}

/** What failed the years without a harvest, most frequent first; empty where there was none. */
export function failures(odds, reasons) {
  const counts = reasons.map((reason, code) => ({ reason, count: odds.failed[code] }));
  const mostFirst = counts.filter(({ count }) => count).sort((a, b) => b.count - a.count);
  if (!mostFirst.length) return "";
  const said = mostFirst.map((each) => say("years_failed_by", each)).join(", ");
  return `Why ${odds.harvested ? "the other years" : "all of them"} failed: ${said}.`;
}

/** Long-run odds of a plan, as a range. */
export const interval = (odds) =>
  say("span", { first: percent(odds.low), last: percent(odds.high) });

/** Two plans against each other on the same years. `pairs` come from comparePlans. */
export function comparison(plan, other, pairs) {
  if (pairs.known && !pairs.onlyFirst && !pairs.onlySecond) {
    if (!pairs.both) return say("both_never", { years: years(pairs.known) });
    return say("both_always", { both: pairs.both, years: years(pairs.known) });
  }
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

/** Best start dates, with their odds in years that were not used to choose them. */
export function bestDates({ bestDates: best, bestDate, bestShare, shares }) {
  if (!best || !shares.some((share) => share > 0)) return say("no_best_dates");
  const dates = runOfDates(best);
  return say("best_dates", { dates, date: dayName(bestDate), best: percent(bestShare) });
}

/** Days from which a run of dates takes up the whole year, as climwin.report.sentences has it. */
const ANY_TIME_DAYS = 330;

/** The dates from one to another; a run may take up the whole year. */
export function runOfDates([from, to]) {
  if (modulo(to - from, DAYS) >= ANY_TIME_DAYS) return say("any_time");
  const [first, last] = [from, to].map(dayName);
  return first === last ? first : say("span", { first, last });
}

/** Dates of other seasons that are recommended too; empty where there are none. */
export function otherDates(runs) {
  return runs.length ? say("other_dates", { dates: runs.map(runOfDates).join(" and ") }) : "";
}
