// The strip of plans: two ways of growing on the same years, the odds of every start date, and what
// became of each year.

import { LEFT, shareAxis } from "./axes.js";
import { DAYS, modulo, range } from "./calendar.js";
import { button, choice, dateDial, wholeDial } from "./controls.js";
import { box, dot, html, label, line, pathThrough, svg } from "./elements.js";
import { MIDDLE, comparePlans, harvestIntervals } from "./outcomes.js";
import {
  bestDates,
  comparison,
  failures,
  harvestBegins,
  interval,
  nextYears,
  otherDates,
  planName,
  planOdds,
} from "./sentences.js";
import { GRIP, emptyStrip, followPointer } from "./strip.js";
import { capitalized } from "./wording.js";

/** What the two plans are called, and their kind of mark. */
const PLANS = ["first", "second"];

/** Room that the name of a year takes. [px] */
const ROOM_FOR_YEAR = 36;

const TWO_PLANS = "Two plans on the same years";
/** Marks of the key that a perennial has no use for: those of its start. */
const MARKS_OF_START = [0, 1, 4];
const EARLINESS = ["early", "main", "late"];

/** A strip makes its elements once; draw() brings them up to date and returns the finding. */
export function plansStrip(panel) {
  const sides = PLANS.map((_, i) => planControls(panel, i));
  const texts = sides.map((side) => side.text);
  const { root, title, items, chart, text, show } = emptyStrip(TWO_PLANS, {
    key: [
      ["line first", "first plan, by date"],
      ["line second", "second plan"],
      ["enough", "a harvest (lower: not a good one)"],
      ["short", "none"],
      ["covered", "under cover"],
    ],
    controls: sides.map((side) => side.root),
    more: html("div", { class: "pair" }, texts),
  });
  let finding = "Growing it from every date …";
  followPointer(chart, {
    grip(px) {
      if (panel.crop.is_perennial) return null;
      const distances = panel.plans.map((plan) => Math.abs(panel.ruler.middleOf(plan.start) - px));
      const nearest = distances[0] <= distances[1] ? 0 : 1;
      if (distances[nearest] >= GRIP) return null;
      return (to) => panel.moveStart(nearest, panel.ruler.dayAt(to));
    },
    pick: (px) => {
      if (!panel.crop.is_perennial) panel.move({ date: panel.ruler.dayAt(px) });
    },
  });

  /** Odds by start date, with the best dates below and a grip on the date that is chosen. */
  function drawOdds(i, y, bottom) {
    const { ruler } = panel;
    const grid = panel.grids[i];
    if (!grid) return null;
    const kind = PLANS[i];
    const x = ruler.middleOf(panel.plans[i].start);
    const { share } = panel.planCounts[i];
    const gripY = Number.isNaN(share) ? bottom : y(share);
    const points = ruler.pointsOf(grid.shares.map((each) => (Number.isNaN(each) ? null : y(each))));
    return [
      bestStretches(grid).map(([from, width]) => box(from, bottom + 3 + 5 * i, width, 4, kind)),
      svg("path", { d: pathThrough(points), class: kind }),
      line(x, y(1), x, bottom, `start ${kind}`),
      dot(x, gripY, 7, `grip ${kind}`),
      label(x, gripY + 4, i + 1, "on", "middle"),
    ];
  }

  function bestStretches({ bestDates: best, otherDates: others }) {
    const runs = best ? [best, ...others] : [];
    return runs.flatMap(([first, last]) =>
      panel.ruler.stretches(first, modulo(last - first, DAYS) + 1),
    );
  }

  /** A plan's life to its first harvest in the middling year: weeks under cover, then outdoors. */
  function drawLife(i, y) {
    const { ruler } = panel;
    const { start, weeks } = panel.plans[i];
    const covered = 7 * weeks;
    const harvest = panel.grids[i]?.harvestDays(start)[MIDDLE] ?? NaN;
    const outdoors = Number.isNaN(harvest) ? 0 : Math.max(harvest - start - covered, 0);
    const bar = (from, days, kind) =>
      ruler.stretches(from, days).map(([x, width]) => box(x, y, width, 12, kind));
    return [
      label(LEFT - 7, y + 10, i + 1, "", "end"),
      outdoors ? bar(start + covered, outdoors, PLANS[i]) : null,
      covered ? bar(start, covered, `covered ${PLANS[i]}`) : null,
    ];
  }

  /** What became of each year: tall where the harvest was good, low where there was none. */
  function drawOutcomes(i, y) {
    const { ruler, record, constants } = panel;
    const count = record.last_year - record.first_year + 1;
    const width = (ruler.right - LEFT) / count;
    const gap = width > 4 ? 1.5 : 0.5;
    const cells = (panel.planOutcomes[i] ?? []).map(({ code }, n) => {
      const [height, kind] = lookOfOutcome(code, constants);
      return box(LEFT + n * width, y + 20 - height, width - gap, height, kind);
    });
    return [cells, label(LEFT - 7, y + 16, i + 1, "", "end")];
  }

  function drawDecades(y) {
    const { ruler, record } = panel;
    const all = range(record.last_year - record.first_year + 1);
    const width = (ruler.right - LEFT) / all.length;
    const every = all.length * ROOM_FOR_YEAR > 10 * (ruler.right - LEFT) ? 20 : 10;
    const decades = all.filter((n) => (record.first_year + n) % every === 0);
    return decades.map((n) =>
      label(LEFT + (n + 0.5) * width, y, record.first_year + n, "soft", "middle"),
    );
  }

  /** Odds by start date, and below them each plan's life. */
  function drawByStart(shown) {
    const { ruler, state } = panel;
    const [top, bottom] = [14, 154];
    const { y, ticks } = shareAxis(top, bottom, 0.25);
    return [
      ruler.months(top, bottom + 56),
      ticks,
      line(LEFT, bottom, ruler.right, bottom, "axis"),
      ruler.readingMark(state.date, top, bottom + 56),
      shown.map((i) => drawOdds(i, y, bottom)),
      shown.map((i) => drawLife(i, bottom + 17 + 18 * i)),
    ];
  }

  function drawChart(shown) {
    // A perennial has no start date: its years alone are drawn.
    const byStart = panel.crop.is_perennial ? [] : drawByStart(shown);
    const top = panel.crop.is_perennial ? 4 : 230;
    const bottom = top + 24 * shown.length;
    show(
      panel.ruler.width,
      bottom + 18,
      byStart,
      shown.map((i) => drawOutcomes(i, top + 24 * i)),
      drawDecades(bottom + 12),
    );
  }

  function draw() {
    const { crop, plans, constants } = panel;
    const shown = crop.is_perennial ? [0] : [0, 1]; // no start to choose: one way of growing
    drawChart(shown);
    title.textContent = crop.is_perennial ? "The harvest of every year" : TWO_PLANS;
    for (const mark of MARKS_OF_START) items[mark].hidden = crop.is_perennial;
    sides.forEach((side) => side.refresh());
    const isCurrent = Boolean(panel.currentResult("plans"));
    root.classList.toggle("waiting", !isCurrent);
    if (!isCurrent) return finding; // the text stays, of the plans that it was said of
    sides.forEach((side) => side.write());
    const isSame = !crop.is_perennial && planName(plans[0]) === planName(plans[1]);
    texts[1].hidden ||= isSame;
    finding = (isSame ? [0] : shown)
      .map((i) => `${planOdds(plans[i], crop.plural, panel.planCounts[i])}.`)
      .join(" ");
    const compare = () => comparison(...plans, comparePlans(...panel.planOutcomes, constants));
    let rest = "There is no date to choose.";
    if (isSame) rest = "Both plans are the same: move one of them to compare two dates.";
    else if (!crop.is_perennial) rest = compare();
    text.textContent = `${finding} ${rest}`;
    return finding;
  }
  return { root, draw, controls: sides.flatMap((side) => side.controls) };
}

/** Height and kind of the box of a year. */
function lookOfOutcome(code, { good_harvest: good, harvest, unknown }) {
  if (code === good) return [20, "enough"];
  if (code === harvest) return [13, "enough"];
  if (code === unknown) return [2, "open"];
  return [7, "short"];
}

/** Controls and text of one of the two plans. */
function planControls(panel, i) {
  const start = dateDial(panel, {
    label: "Sown or planted on",
    get: () => panel.plans[i].start,
    set: (day) => panel.moveStart(i, day),
  });
  const weeks = wholeDial({
    label: "Weeks under cover",
    unit: "weeks",
    ends: () => [0, Math.max(1, ...(panel.offeredWeeks ?? [panel.constants.most_weeks]))],
    get: () => panel.plans[i].weeks,
    set: (value) => panel.moveWeeks(i, value),
    say: (value) => (Math.round(value) ? `${Math.round(value)} weeks` : "none, sown outdoors"),
  });
  const cover = choice({
    label: "Raised in",
    options: () => panel.constants.covers.map((name) => [name, name]),
    get: () => panel.plans[i].cover,
    set: (chosen) => panel.moveWays((_, j) => (i === j ? { cover: chosen } : {})),
  });
  const earliness = choice({
    label: "Variety",
    options: () => earlinessOptions(panel.plans[i].earliness),
    get: () => String(panel.plans[i].earliness),
    set: (chosen) =>
      panel.moveWays((_, j) =>
        i === j ? { earliness: EARLINESS.includes(chosen) ? chosen : Number(chosen) } : {},
      ),
  });
  const toBest = button("Go to its best date", () => panel.moveStart(i, null));
  const name = `${capitalized(PLANS[i])} plan`;
  const root = html(
    "fieldset",
    { class: PLANS[i] },
    html("legend", {}, name),
    start.root,
    weeks.root,
    cover.root,
    earliness.root,
    toBest,
  );
  const text = html("p", { class: PLANS[i] });

  function refresh() {
    root.hidden = panel.crop.is_perennial;
    text.hidden = panel.crop.is_perennial && i > 0;
    weeks.root.hidden = panel.offeredWeeks?.length === 0;
    cover.root.hidden = weeks.root.hidden || !panel.plans[i].weeks;
    toBest.disabled = panel.state.starts[i] === null;
  }
  function write() {
    const grid = panel.grids[i];
    const counts = panel.planCounts[i];
    const startDay = panel.plans[i].start;
    const ahead = harvestIntervals(counts, grid, startDay, panel.constants);
    const sentences = [
      harvestBegins(grid.harvestDays(startDay)),
      `${WHOSE_YEARS[grid.climate]} a harvest is likely in ${nextYears(ahead)} of the ` +
        `next ten years, and in the long run in ${interval(ahead)} of years.`,
      failures(counts, panel.constants.failure_reasons),
    ];
    if (!panel.crop.is_perennial) {
      const others = otherDates(grid.otherDates);
      const dates = `best dates here ${varieties(panel.plans[i].earliness)}`;
      sentences.unshift(`${name}: ${dates} ${bestDates(grid)}.`, others);
    }
    text.textContent = sentences.filter(Boolean).join(" ");
  }
  return { root, text, refresh, write, controls: [start, weeks, cover, earliness] };
}

/** How a sentence begins that counts years of a climate. */
const WHOSE_YEARS = { record: "Counting all years alike,", today: "In today's climate" };

/** What its dates hold for: the page may take an early variety on some dates, a plan has one. */
function varieties(earliness) {
  if (EARLINESS.includes(earliness)) return `for ${earliness} varieties alone`;
  return `for a variety of ${earliness} days`;
}

/** Kinds of variety to choose from; the days on a packet too, where the plan gives them. */
function earlinessOptions(own) {
  const named = EARLINESS.map((kind) => [kind, kind]);
  return EARLINESS.includes(own) ? named : [...named, [String(own), `${own} days on the packet`]];
}
