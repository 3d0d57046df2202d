// The strip of freezes: their odds by date, at any threshold.

import { shareAxis } from "./axes.js";
import { DAYS, range } from "./calendar.js";
import { temperatureDial } from "./controls.js";
import { areaBetween, html, svg } from "./elements.js";
import { date, degrees, span } from "./formatting.js";
import { freezeDay } from "./freezes.js";
import { emptyStrip, followPointer } from "./strip.js";

const CHANCES = { "9 in 10": 0.9, even: 0.5, "1 in 10": 0.1 };
const HALVES = ["spring", "autumn"];

/** A strip makes its elements once; draw() brings them up to date and returns the finding. */
export function freezeStrip(panel) {
  const threshold = temperatureDial(panel, {
    label: "A freeze is a night at or below",
    ends: [-15, 8],
    get: () => panel.state.threshold,
    set: (celsius) => panel.move({ threshold: celsius }),
  });
  const table = html("table");
  const { root, chart, text, show } = emptyStrip("The odds of a freeze", {
    key: [
      ["spring", "in spring, on this day or later"],
      ["autumn", "in autumn, on this day or earlier"],
    ],
    controls: [threshold.root, table],
  });
  followPointer(chart, { pick: (px) => panel.move({ date: panel.ruler.dayAt(px) }) });

  /** Dates by chance, each over its interval once Python has worked that out. */
  function tabulate(dates) {
    const intervals = panel.currentResult("freeze");
    const cell = (half, row) => {
      const ends = intervals ? span(...intervals[half].map((end) => end[row])) : "…";
      return html("td", {}, date(dates[half][row]), html("small", {}, ends));
    };
    const heads = ["Chance", "In spring, or later", "In autumn, or earlier"];
    const rows = Object.keys(CHANCES).map((name, row) =>
      html(
        "tr",
        {},
        html("th", { scope: "row" }, name),
        HALVES.map((half) => cell(half, row)),
      ),
    );
    const headCells = heads.map((name) => html("th", { scope: "col" }, name));
    table.replaceChildren(
      html("caption", {}, "Dates, and between which they lie nine times in ten"),
      html("thead", {}, html("tr", {}, headCells)),
      html("tbody", {}, rows),
    );
  }

  function drawChart(chance) {
    const { state, ruler } = panel;
    const [top, bottom] = [10, 128];
    const { y, ticks } = shareAxis(top, bottom, 0.5);
    const base = range(DAYS).map((day) => [ruler.x(day + 0.5), bottom]);
    const shapes = HALVES.map((half) => {
      const heights = chance[half].map((share) => (share === null ? bottom : y(share)));
      return svg("path", { d: areaBetween(ruler.pointsOf(heights), base), class: half });
    });
    show(
      ruler.width,
      bottom + 20,
      shapes,
      ruler.months(top, bottom),
      ticks,
      ruler.readingMark(state.date, top, bottom),
    );
  }

  function draw() {
    const { dates, chance } = panel.freezes;
    drawChart(chance);
    const levels = Object.values(CHANCES);
    const datesOf = (half) => levels.map((level) => freezeDay(dates, half, level));
    const byChance = { spring: datesOf("spring"), autumn: datesOf("autumn") };
    tabulate(byChance);
    const [, even, oneInTen] = byChance.spring.map(date);
    const autumn = date(byChance.autumn[1]);
    const night = degrees(panel.state.threshold, panel.state.units);
    text.textContent =
      `A night of ${night} or colder comes in half of the years on ${even} or later, in one year ` +
      `of ten on ${oneInTen} or later; before winter in half of the years on ${autumn} or earlier.`;
    return text.textContent;
  }
  return { root, draw, controls: [threshold] };
}
