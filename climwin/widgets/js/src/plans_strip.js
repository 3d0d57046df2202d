// The strip of plans: two ways of growing on the same years, the odds of every start date, and what
// became of each year.

import { LEFT, shareAxis } from "./axes.js";
import { DAYS, modulo, range } from "./calendar.js";
import { button, choice, dateDial, wholeDial } from "./controls.js";
import { box, dot, html, label, line, pathThrough, svg } from "./elements.js";
import { comparePlans } from "./outcomes.js";
import { bestDates, comparison, failures, interval, planOdds } from "./sentences.js";
import { GRIP, emptyStrip, followPointer } from "./strip.js";
import { capitalized } from "./wording.js";

/** What the two plans are called, and their kind of mark. */
const PLANS = ["first", "second"];

const MOST_WEEKS = 16;

/** A strip makes its elements once; draw() brings them up to date and returns the finding. */
export function plansStrip(panel) {
  const sides = PLANS.map((_, i) => planControls(panel, i));
  const share = wholeDial({
    label: "Days of each stage that must be right",
    unit: "%",
    ends: () => [0, 100],
    get: () => 100 * panel.state.ways[0].share,
    set: (value) => panel.moveWays(() => ({ share: value / 100 })),
    say: (value) => `${Math.round(value)} %`,
  });
  const texts = sides.map((side) => side.text);
  const { root, chart, text, show } = emptyStrip("Two plans on the same years", {
    key: [
      ["line first", "first plan, by start date"],
      ["line second", "second plan"],
      ["enough", "succeeds"],
      ["short", "fails"],
      ["covered", "under cover"],
    ],
    controls: [...sides.map((side) => side.root), share.root],
    more: html("div", { class: "pair" }, texts),
  });
  let finding = "Judging every start date …";
  followPointer(chart, {
    grip(px) {
      if (panel.crop.starts_by_itself) return null;
      const distances = panel.plans.map((plan) => Math.abs(panel.ruler.middleOf(plan.start) - px));
      const nearest = distances[0] <= distances[1] ? 0 : 1;
      if (distances[nearest] >= GRIP) return null;
      return (to) => panel.moveStart(nearest, panel.ruler.dayAt(to));
    },
    pick: (px) => panel.move({ date: panel.ruler.dayAt(px) }),
  });

  /** Odds by start date, with the best dates below and a grip on the date that is chosen. */
  function drawOdds(i, y, bottom) {
    const { ruler } = panel;
    const grid = panel.grids[i];
    if (!grid) return null;
    const kind = PLANS[i];
    const x = ruler.middleOf(panel.plans[i].start);
    const { succeeded, known } = panel.planCounts[i];
    const gripY = known ? y(succeeded / known) : bottom;
    const points = ruler.pointsOf(grid.shares.map((each) => (Number.isNaN(each) ? null : y(each))));
    return [
      bestStretches(grid).map(([from, width]) => box(from, bottom + 3 + 5 * i, width, 4, kind)),
      svg("path", { d: pathThrough(points), class: kind }),
      line(x, y(1), x, bottom, `start ${kind}`),
      dot(x, gripY, 7, `grip ${kind}`),
      label(x, gripY + 4, i + 1, "on", "middle"),
    ];
  }

  function bestStretches({ bestDates: best }) {
    if (!best) return [];
    const [first, last] = best;
    return panel.ruler.stretches(first, modulo(last - first, DAYS) + 1);
  }

  /** A plan's life: weeks under cover, then outdoors. */
  function drawLife(i, y) {
    const { ruler, crop } = panel;
    const { start, weeks } = panel.plans[i];
    const covered = 7 * weeks;
    const bar = (from, days, kind) =>
      ruler.stretches(from, days).map(([x, width]) => box(x, y, width, 12, kind));
    return [
      label(LEFT - 7, y + 10, i + 1, "", "end"),
      bar(start + covered, Math.max(crop.days - covered, 0), PLANS[i]),
      covered ? bar(start, covered, `covered ${PLANS[i]}`) : null,
    ];
  }

  /** What became of each year: tall where the plan succeeds, lower where it fails. */
  function drawOutcomes(i, y) {
    const { ruler, record, constants } = panel;
    const count = record.last_year - record.first_year + 1;
    const width = (ruler.right - LEFT) / count;
    const gap = width > 4 ? 1.5 : 0.5;
    const cells = (panel.planCodes[i] ?? []).map((code, n) => {
      const [height, kind] = lookOfOutcome(code, constants);
      return box(LEFT + n * width, y + 20 - height, width - gap, height, kind);
    });
    return [cells, label(LEFT - 7, y + 16, i + 1, "", "end")];
  }

  function drawDecades(y) {
    const { ruler, record } = panel;
    const all = range(record.last_year - record.first_year + 1);
    const width = (ruler.right - LEFT) / all.length;
    const decades = all.filter((n) => (record.first_year + n) % 10 === 0);
    return decades.map((n) =>
      label(LEFT + (n + 0.5) * width, y, record.first_year + n, "soft", "middle"),
    );
  }

  function drawChart(shown) {
    const { ruler, state } = panel;
    const [top, bottom] = [14, 154];
    const { y, ticks } = shareAxis(top, bottom, 0.25);
    show(
      ruler.width,
      bottom + 142,
      ruler.months(top, bottom + 56),
      ticks,
      line(LEFT, bottom, ruler.right, bottom, "axis"),
      ruler.readingMark(state.date, top, bottom + 56),
      shown.map((i) => drawOdds(i, y, bottom)),
      shown.map((i) => drawLife(i, bottom + 17 + 18 * i)),
      shown.map((i) => drawOutcomes(i, bottom + 76 + 24 * i)),
      drawDecades(bottom + 136),
    );
  }

  function draw() {
    const { crop, plans, constants } = panel;
    const shown = crop.starts_by_itself ? [0] : [0, 1]; // no start to choose: one way of growing
    drawChart(shown);
    sides.forEach((side) => side.refresh());
    const isCurrent = Boolean(panel.currentResult("plans"));
    root.classList.toggle("waiting", !isCurrent);
    if (!isCurrent) return finding; // the text stays, of the plans that it was said of
    sides.forEach((side) => side.write());
    finding = shown.map((i) => `${planOdds(plans[i], crop.name, panel.planCounts[i])}.`).join(" ");
    const rest = crop.starts_by_itself
      ? "It begins where it stands: there is no start to choose."
      : comparison(...plans, comparePlans(...panel.planCodes, constants));
    text.textContent = `${finding} ${rest}`;
    return finding;
  }
  return { root, draw, controls: [...sides.flatMap((side) => side.controls), share] };
}

/** Height and kind of the box of a year. */
function lookOfOutcome(code, { succeeded, unknown }) {
  if (code === succeeded) return [20, "enough"];
  if (code === unknown) return [2, "open"];
  return [9, "short"];
}

/** Controls and text of one of the two plans. */
function planControls(panel, i) {
  const start = dateDial(panel, {
    label: "Sown on",
    get: () => panel.plans[i].start,
    set: (day) => panel.moveStart(i, day),
  });
  const weeks = wholeDial({
    label: "Weeks under cover",
    unit: "weeks",
    ends: () => [0, Math.min(Math.floor(panel.crop.days / 7), MOST_WEEKS)],
    get: () => panel.plans[i].weeks,
    set: (value) => panel.moveWeeks(i, value),
    say: (value) => (Math.round(value) ? `${Math.round(value)} weeks` : "none, sown in place"),
  });
  const cover = choice({
    label: "Raised in",
    options: () => panel.constants.covers.map((name) => [name, name]),
    get: () => panel.plans[i].cover,
    set: (chosen) => panel.moveWays((_, j) => (i === j ? { cover: chosen } : {})),
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
    toBest,
  );
  const text = html("p", { class: PLANS[i] });

  function refresh() {
    root.hidden = panel.crop.starts_by_itself;
    text.hidden = panel.crop.starts_by_itself && i > 0;
    cover.root.hidden = !panel.plans[i].weeks;
    toBest.disabled = panel.state.starts[i] === null;
  }
  function write() {
    const grid = panel.grids[i];
    const counts = panel.planCounts[i];
    const top = Math.max(...grid.shares.filter((share) => !Number.isNaN(share)));
    const sentences = [
      `True odds of its date, nine chances in ten: ${interval(counts)}.`,
      `What failed the other years: ${failures(counts, panel.constants.failure_reasons)}.`,
    ];
    if (!panel.crop.starts_by_itself) {
      sentences.unshift(`${name}: best start dates here ${bestDates(grid.bestDates, top)}.`);
    }
    text.textContent = sentences.join(" ");
  }
  return { root, text, refresh, write, controls: [start, weeks, cover] };
}
