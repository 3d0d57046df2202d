// Each year's mild spell against what the crop needs of it: the rules of climwin.report.spells,
// repeated here for the hand that moves a limit or a need.

import { dayName } from "./calendar.js";
import { say } from "./wording.js";

/** Days that share a column of marks: the fewest that leave it room for a mark. */
const BINS = [2, 3, 4, 5, 7, 10, 14, 21, 28];

/** The way of growing for which a need holds, in words. */
function wayOfNeed({ plants, weeks, fleece, isPerennial, isPlanted }) {
  if (plants === "own" && weeks) return say("after_cover", { count: weeks });
  if (isPerennial) return "";
  if (plants === "bought") return say("set_out_bought");
  if (isPlanted) return say(fleece ? "planted_under_fleece" : "planted_outdoors");
  return say(fleece ? "sown_under_fleece" : "sown_outdoors");
}

/** From when the crop stands outdoors: plants set out early need more days than later ones. */
const sinceOf = ({ plants, weeks, start }) => dayName(start + 7 * (plants === "own" ? weeks : 0));

/** Whether plants are set out, raised or bought: days of what is sown count from when it is up. */
const areSetOut = ({ plants, weeks }) => plants === "bought" || (plants === "own" && weeks > 0);

/** What is needed, for the line at it. */
export function needLabel({ days, way, since, isSetOut }) {
  const needed = say("days_needed", { count: days });
  return way ? say(isSetOut ? "needed_by_way" : "needed_once_up", { needed, way, since }) : needed;
}

/**
 * Days that the crop needs of a mild spell, the way for which each holds, and from when: at most
 * two, the shorter first. `plans` have the days `needDays`; a need `given` by hand holds for every
 * way.
 */
export function needsOf(plans, given) {
  if (given !== null) return [{ days: given, way: "" }];
  const found = new Map();
  for (const plan of plans) {
    const way = wayOfNeed(plan);
    const need = { days: plan.needDays, way, since: sinceOf(plan), isSetOut: areSetOut(plan) };
    if (!found.has(way)) found.set(way, need);
  }
  const two = [...found.values()].slice(0, 2).sort((a, b) => a.days - b.days);
  if (two.length > 1 && two[0].days !== two[1].days) return two;
  return [{ days: plans[0].needDays, way: "" }];
}

/**
 * The mild spell of each year against the needs. A year's `zone` is 0 where it is too short for any
 * way, 1 where it is long enough for the way with the shorter need, 2 for both, and null where a
 * gap leaves the answer open. `length` is the least that it was where a gap hides its dates;
 * `start` is then null, as it is where there was none. Days count from the season's first day.
 */
export function spellsOf(windows, kind, needs) {
  const [first, last] = [needs[0].days, needs.at(-1).days];
  const zoneOf = (days) => Number(days >= first) + Number(days >= last);
  const years = windows.rows.map((row) => {
    const { least, most, length = least, start = null } = row[kind];
    const zone = zoneOf(least) === zoneOf(most) ? zoneOf(least) : null;
    return { year: row.year, length, start, zone };
  });
  const counts = [0, 1, 2].map((zone) => years.filter((each) => each.zone === zone).length);
  return { years, counts };
}

/**
 * Where the mark of each year stands: the middle of its column in days, and its row from the bottom.
 * Columns share the room up to each need evenly, so that no mark stands across a line.
 */
export function stackMarks(years, needs, reach, width, narrowest) {
  const daysOf = (px) => (px * reach) / width;
  const binDays = BINS.find((days) => days >= daysOf(narrowest)) ?? BINS.at(-1);
  const edges = [...new Set([0, ...needs.map(({ days }) => days)])].sort((a, b) => a - b);
  const columnOf = (length) => {
    if (length === 0) return 0;
    const part = edges.findLastIndex((edge) => edge <= length);
    const room = (edges[part + 1] ?? Infinity) - edges[part];
    const days = room === Infinity ? binDays : room / Math.max(1, Math.floor(room / binDays));
    return edges[part] + (Math.floor((length - edges[part]) / days) + 0.5) * days;
  };
  const filled = new Map();
  const ordered = [...years].sort((a, b) => a.zone - b.zone || a.length - b.length);
  const marks = ordered.map((year) => {
    const column = columnOf(year.length);
    const row = (filled.get(column) ?? 0) + 1;
    filled.set(column, row);
    return { ...year, column, row };
  });
  return { marks, binDays, rows: Math.max(5, ...filled.values()) };
}
